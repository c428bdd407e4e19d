"""The order of the pages: nothing builds on what comes later."""

from pathlib import Path

import pytest

from helpers.teaching.plan import LESSONS, PAGES, lesson

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
KEYS = [one.key for one in LESSONS]


def test_the_lessons_stand_in_order_and_none_has_anothers_number():
    """Nine, and one with a letter beside the ninth: the pages after it keep their numbers."""
    assert [one.numbered for one in LESSONS] == [*(f"{number:02d}" for number in range(1, 10)), "09b"]
    assert len(set(KEYS)) == len(LESSONS)
    assert len({page.numbered for page in PAGES}) == len(PAGES)


def test_no_lesson_builds_on_a_later_one():
    for place, one in enumerate(LESSONS):
        assert set(one.builds_on) <= set(KEYS[:place])


def test_every_lesson_but_the_first_builds_on_something():
    assert [one.key for one in LESSONS if not one.builds_on] == KEYS[:1]


def test_two_days_are_enough():
    assert sum(one.minutes for one in LESSONS if one.in_class[-1]) <= 2 * 6 * 60  # two days of six hours at the desk


def test_what_two_days_do_not_teach_is_an_evening_of_its_own():
    assert [(one.key, one.minutes <= 90) for one in LESSONS if not one.in_class[-1]] == [("tested_in_may", True)]


def test_alone_it_is_three_days_and_an_evening_at_the_most_and_page_and_readme_say_so():
    planned, evening = (sum(one.minutes_alone for one in LESSONS if bool(one.in_class[-1]) == whole) for whole in (True, False))
    assert planned <= 3 * 6 * 60
    assert evening <= 2 * 60
    readme = (NOTEBOOKS.parent / "README.md").read_text(encoding="utf-8")
    for one in LESSONS:
        assert f"(notebooks/{one.notebook}) | {one.minutes} | {one.minutes_alone} |" in readme
        told = f"about {one.alone} (an estimate)" if one.alone else f"**Time:** {one.minutes} minutes"
        assert told in (NOTEBOOKS / one.notebook).read_text(encoding="utf-8")


def test_a_lesson_is_found_by_its_key_and_another_key_is_refused():
    assert lesson("reverse_or_direct").notebook == "05_reverse_or_direct.ipynb"
    with pytest.raises(ValueError, match=r"key must be one of pressure_window, .*got 'sleep'"):
        lesson("sleep")
