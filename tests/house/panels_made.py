"""Every live panel of the pages, by a name: what makes it."""

import re
import statistics
from dataclasses import replace

from helpers.lessons import LESSONS
from helpers.lessons.tuning_and_door_events.lesson import step_test
from helpers.pages.design import design_panel
from helpers.pages.measured.trend_files import trend_panel
from helpers.pages.start import start_panel
from helpers.plots.headline import headline_html

MADE = {one.key: one.panel for one in LESSONS} | {
    "step": step_test,
    "start": start_panel,
    "design": lambda: design_panel().panel,
    "trend": lambda: trend_panel().panel,
}


def verdict_words():
    """Words of the verdict over the picture of each panel as it opens, by name: (of the judgement: mark's word, headline and case; the same
    with what to do; the same with the tiles). Figures and units count as words."""
    found = {}
    for name, make in MADE.items():
        panel = make()
        panel.put_back()
        told = panel.verdict
        found[name] = tuple(
            len(words_in_view(headline_html(one))) for one in (replace(told, do="", tiles=()), replace(told, tiles=()), told)
        )
    return found


def verdict_length():
    """For the bench: the middle one of the judgements, the longest with what to do, and the longest with its tiles, in words."""
    judgement, with_do, whole = zip(*verdict_words().values(), strict=True)
    return {
        "verdict_words_median": statistics.median(judgement),
        "verdict_words_max": max(with_do),
        "verdict_words_with_tiles_max": max(whole),
    }


def words_in_view(html):
    """Words that are read on a piece of a page; figures and their units among them."""
    return re.sub(r"[✔▲✖○?/]", " ", re.sub(r"<[^>]+>", " ", html).replace("&ensp;", " ")).split()
