"""Every lesson of the plan has its page, in the shape all lessons share, and asks what the learner's record counts."""

import re

import nbformat
import pytest
from store_outputs import NOTEBOOKS

from helpers.formulas import signals
from helpers.lessons import LESSONS
from helpers.teaching.plan import FURTHER_PAGES, lesson

SECTIONS = ("Exercises", "What goes wrong on site", "Summary for the reviewing engineer", "What to read")
KEYS = [one.key for one in LESSONS]


def page(of):
    return nbformat.read(NOTEBOOKS / of.notebook, as_version=4)


def words(notebook):
    return "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")


def code(notebook):
    return "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "code")


def calls(notebook, part):
    """What a part of the lesson is called with, in the order of the page; nothing where it is called without."""
    return re.findall(rf"lesson\.{part}\((?:\"(\w+)\")?\)", code(notebook))


@pytest.mark.parametrize("key", KEYS)
def test_a_page_bears_the_plans_title_and_time(key):
    of, notebook = lesson(key), page(lesson(key))
    title = notebook.cells[0].source.splitlines()[0]
    assert title.lower() == f"# {of.name}".lower()
    assert re.search(rf"\*\*Time:\*\* {of.minutes} minutes", notebook.cells[0].source)


@pytest.mark.parametrize("key", KEYS)
def test_a_page_links_what_it_builds_on(key):
    first = page(lesson(key)).cells[0].source
    named = first.split("**Builds on:**")[1]
    for before in lesson(key).builds_on:
        assert f"({lesson(before).notebook})" in named


@pytest.mark.parametrize("key", KEYS)
def test_a_page_promises_three_or_four_things_that_can_be_checked(key):
    promised = page(lesson(key)).cells[0].source.split("**You will be able to**")[1].split("**Time")[0]
    assert len(re.findall(r"^- ", promised, flags=re.MULTILINE)) in (3, 4)


@pytest.mark.parametrize("key", KEYS)
def test_a_page_has_all_the_parts_of_a_lesson_in_their_order(key):
    notebook = page(lesson(key))
    heads = re.findall(r"^## (.+)$", words(notebook), flags=re.MULTILINE)
    places = [heads.index(section) for section in SECTIONS]
    assert places == sorted(places)
    assert any(head.startswith("Cautions") for head in heads[:3])
    assert any("words" in head.lower() for head in heads)
    ran = code(notebook)
    order = [ran.find(f"lesson.{part}(") for part in ("predict", "panel", "compare", "worked_example", "exercises", "senior_card")]
    assert min(order) >= 0
    assert order == sorted(order)


@pytest.mark.parametrize("key", KEYS)
def test_the_stairs_and_their_fire_are_not_taken_lightly(key):
    text = words(page(lesson(key))).lower()
    assert "life safety" in text or "licensed" in text
    assert "authority having" in text or "local code" in text


@pytest.mark.parametrize("key", KEYS)
def test_what_goes_wrong_on_site_is_told_by_symptom_cause_and_check(key):
    section = words(page(lesson(key))).split("## What goes wrong on site")[1].split("\n## ")[0]
    rows = [line for line in section.splitlines() if line.startswith("|")]
    assert all(word in rows[0].lower() for word in ("cause", "check"))
    assert 3 <= len(rows) - 2 <= 7


@pytest.mark.parametrize("key", KEYS)
def test_a_page_asks_what_the_record_counts_and_compares_all_of_it(key):
    notebook = page(lesson(key))
    asked, compared = calls(notebook, "predict"), calls(notebook, "compare")
    assert len(asked) == len(set(asked)) == len(LESSONS.of(key).predictions)
    assert sorted(asked) == sorted(compared)
    assert calls(notebook, "exercises") == [""]


def test_every_lesson_asks_something_and_no_name_twice():
    makers = [make.__name__ for make in LESSONS.exercises.values()]
    for names in ([one.key for one in LESSONS.of(key).predictions] for key in KEYS):
        assert len(set(names)) == len(names)
    for key in KEYS:
        assert len({make.__name__ for make in LESSONS.of(key).makers}) == len(LESSONS.of(key).makers)
    assert len(makers) >= 3 * len(KEYS)


@pytest.mark.parametrize("of", FURTHER_PAGES, ids=lambda of: of.key)
def test_a_page_of_the_work_takes_the_time_the_start_page_says(of):
    first = page(of).cells[0].source
    assert re.search(rf"\*\*Time(?::)?\*\*:? [^\n]*\b{of.minutes} minutes", first)


def test_the_start_page_links_every_page():
    text = words(nbformat.read(NOTEBOOKS / "00_start_here.ipynb", as_version=4))
    for of in (LESSONS[0], *FURTHER_PAGES):
        assert f"({of.notebook})" in text


@pytest.mark.parametrize("name", ["04_scaling_the_signal", "11_commissioning_checks"])
def test_a_forgotten_live_zero_shows_the_same_share_on_every_page(name):
    shown = signals.to_units(4.0, "0-20 mA", 0.0, 1.0)
    share = {0.2: "a fifth", 0.25: "a quarter"}[round(float(shown), 9)]
    rows = [row for row in words(nbformat.read(NOTEBOOKS / f"{name}.ipynb", as_version=4)).splitlines() if row.startswith("|")]
    told = [row for row in rows if re.search(r"4(-| to )20 mA entered as 0-20 mA|0 to 20 mA set for 4 to 20 mA", row)]
    assert len(told) == 1
    assert share in told[0]
