"""What every panel says first: one short sentence with the limit that decides, few figures; its tasks, and figures that are typed over."""

import re
import statistics
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from panels_made import MADE, verdict_length, verdict_words

from helpers.plots.headline import headline_html
from helpers.plots.markup import MOST_TILES, MOST_WORDS, Verdict
from helpers.studies.status import MOST_TO_DO
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, Choice, Tick
from helpers.widgets.panel import MOST_IN_VIEW
from helpers.widgets.sliders import Count, Sliding, Steps

DRAWS = 8  # settings drawn at random, besides each control at its ends
TASKS_SAY_FAIL = ("pressure_window", "leakage_and_fan_duty", "scaling_the_signal", "average_lowest_highest")
TASK_LETTERS = 150  # two lines of a narrow panel


@pytest.fixture(scope="module", params=MADE)
def panel(request):
    """Each panel as it opens, in Pa."""
    UNITS.system = "Pa"
    panel = MADE[request.param]()
    panel.put_back()
    yield panel
    panel.put_back()


def ends(control):
    """Values that a control can take, its ends among them."""
    if isinstance(control, Choice):
        return [one[1] for one in control.inner._options_full]
    if isinstance(control, Tick):
        return [False, True]
    if isinstance(control, Steps):
        return [control._numbers[0], control._numbers[-1]]
    return list(control._range[:2]) if isinstance(control, Sliding) else [control.value]


def settings(panel):
    """Each control at each of its ends, all else as it opens; then all of them drawn at random."""
    opened = panel.values
    every = {name: ends(control) for name, control in panel.controls.items() if name not in ("name", "file", "weather")}
    for name, values in every.items():
        for value in values:
            yield opened | {name: value}
    draw = np.random.default_rng(1)
    for _ in range(DRAWS):
        yield opened | {name: values[draw.integers(len(values))] for name, values in every.items()}


def test_a_headline_is_one_short_sentence_with_few_figures_in_both_systems_wherever_the_controls_stand(panel):
    judged = 0
    for chosen in settings(panel):
        try:
            verdict, *_ = panel._answers(**chosen)
        except ValueError:
            continue  # told as an entry that cannot be used
        judged += 1
        for system in SYSTEMS:
            told = written_out(verdict, system)
            assert 3 <= len(told.head.split()) <= MOST_WORDS, told.head
            assert not told.head.endswith(".") or told.head.endswith("in. w.c."), told.head
            assert len(told.tiles) <= MOST_TILES
            assert len(told.do.partition(": ")[2].split()) <= MOST_TO_DO, told.do
            assert not told.do.endswith(".") or told.do.endswith("in. w.c."), told.do
            assert all(what and figure and len(f"{figure} / {limit}") <= 44 for what, figure, limit in told.tiles), told.tiles
            assert system == "Pa" or " Pa" not in f"{told.head} {told.case} {told.do} {told.tiles}", told
    assert judged > DRAWS


FIGURE = re.compile(r"([±-]?)(\d+(?:\.\d+)?)(?: (.+))?")  # and its unit
ON_PURPOSE = ("Really held", "Really there", "Fan at the end")  # beside what is set, and beside full speed: no limits
WITHOUT = ("step",)  # fits: no single figure beside its limit


def test_no_tile_prints_a_figure_as_the_limit_beside_it(panel, request):
    """In both systems, wherever the controls stand: what breaks a limit is never printed equal to it, nor is what keeps it."""
    compared = 0
    for chosen in settings(panel):
        try:
            verdict, *_ = panel._answers(**chosen)
        except ValueError:
            continue
        for system in SYSTEMS:
            for what, figure, limit in written_out(verdict, system).tiles:
                found = FIGURE.fullmatch(figure)
                if (
                    what.startswith(ON_PURPOSE)
                    or " to " in figure
                    or not found
                    or not (limit.startswith(("max.", "min.")) or f" {found[3]}" in limit)
                ):
                    continue
                compared += 1
                assert float(found[2]) not in [float(number) for number in re.findall(r"\d+(?:\.\d+)?", limit)], (what, figure, limit)
    assert bool(compared) == (request.node.callspec.params["panel"] not in WITHOUT), "which panels have limits on their tiles"


def test_a_headline_of_a_limit_that_is_passed_has_limit_and_excess_of_the_figures_shown(panel):
    verdict = written_out(panel.verdict)
    told = re.match(r"([\d.]+)(?: \S+)? (?:over|short of) ([\d.]+) ", verdict.head)
    if told:
        by, limit = map(float, told.groups())
        assert verdict.kind == "wrong"
        assert by > 0
        assert limit > by / 10


def test_a_verdict_is_taken_in_at_a_glance():
    """Words in view over the picture, as every panel opens: most of them short, none a paragraph."""
    UNITS.system = "Pa"
    length = verdict_length()
    assert length["verdict_words_median"] <= 15, verdict_words()
    assert length["verdict_words_max"] <= 40, verdict_words()
    tiles = {name: whole - with_do for name, (_, with_do, whole) in verdict_words().items()}
    assert statistics.median(tiles.values()) <= 24, tiles  # three of them: a place, a value, its limit, and where it is so their status
    assert max(tiles.values()) <= 32, tiles


def test_no_more_controls_stand_in_view_than_the_eye_takes_in_and_none_twice(panel):
    rows = [[row] if isinstance(row, str) else row for several in panel.groups.values() for row in several]
    rows = [[name for name in row if panel.controls[name].shown] for row in rows]
    shown = [name for row in rows for name in row]
    assert 0 < sum(map(bool, rows)) <= MOST_IN_VIEW
    assert all(len(row) <= 2 for row in rows)
    assert len(set(shown)) == len(shown)
    assert set(shown) <= set(panel.controls)


def test_every_task_is_short_and_is_set_by_its_button_and_says_where_it_fails(panel, request):
    opened = panel.values
    for number, task in enumerate(panel.tasks):
        panel.turn_to(number)
        verdict = panel.set_it_so()
        assert verdict.kind != "entry" or panel.values.get("mode") == "fire", verdict
        so = {name: (panel.values[name], getattr(panel.controls[name], "text", None)) for name in task.so}
        assert all(value in so[name] for name, value in task.so.items()), "as it is read, or as it was typed"
        assert all(len(written_out(task.words, system)) <= TASK_LETTERS for system in SYSTEMS), task.words
        if request.node.callspec.params["panel"] in TASKS_SAY_FAIL:  # nobody who is set there has to wonder whether that is meant
            assert ("FAIL" in written_out(task.words)) == (verdict.kind == "wrong"), f"{verdict.head}: {task.words}"
    panel.put_back()
    assert panel.values == opened


def test_every_figure_can_be_typed_over_and_what_cannot_be_used_is_named(panel):
    panel.refresh, refresh = (lambda moved=None: None), panel.refresh  # only the controls are asked
    try:
        for control in panel.controls.values():
            if not isinstance(control, Sliding) or not control.shown:
                continue
            field, before = control.widget.children[1], control.value
            field.value = "much"
            with pytest.raises(ValueError, match=r"\w"):
                _ = control.value
            high = ends(control)[1]
            field.value = f"{high if isinstance(control, Count | Steps) else float(control.inner.max)!r}"
            assert control.value == pytest.approx(high)
            control.value = before
    finally:
        panel.refresh = refresh


def test_tiles_and_sentence_stand_over_all_figures_on_a_page_without_a_kernel(panel):
    html = panel.still()
    told = written_out(panel.verdict)
    order = [html.find(part) for part in (told.head[:12], "<img src", "Set: ", "All figures")]
    assert order == sorted(order)
    assert order[0] >= 0


def test_a_short_case_stands_beside_the_figure_of_a_headline_and_what_to_do_under_it_before_the_tiles():
    verdict = Verdict("wrong", "all of it", "17 N over 133 N", (("Heaviest", "150 N", "133 N"),), "winter, doors shut", "Do: close < it")
    order = [headline_html(verdict).find(part) for part in ("17 N over", "winter, doors shut", "Do:", "close &lt; it", "Heaviest")]
    assert order == sorted(order)
    assert order[0] >= 0
    assert "Do: close < it" in str(verdict)
    assert 'class="do"' not in headline_html(replace(verdict, do=""))
    with pytest.raises(ValueError, match="do must begin with Do: or Ask:"):
        replace(verdict, do="Close it")


@pytest.mark.parametrize(("kind", "system"), list(product(("wrong", "good"), SYSTEMS)))
def test_a_verdict_without_a_headline_is_told_whole(kind, system):
    assert written_out(Verdict(kind, "all of it"), system).head == ""
