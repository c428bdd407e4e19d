"""The table of published figures is whole, and says what the tests say."""

from collections import Counter

import table
from published import MEMORY
from reviewed import TEXTS


def _figures():
    return [figure for figures in table.tables().values() for figure in figures]


def test_the_readme_is_what_the_tests_say_today():
    stored = table.README.read_text(encoding="utf-8")
    assert stored == table.markdown(), "out of date: run .venv/bin/python tests/published/table.py"


def test_there_are_two_hundred_figures_from_twenty_five_publications():
    sources = {figure.source.publication for figure in _figures() if figure.source.counts}
    assert sum(figure.source.counts for figure in _figures()) >= 200
    assert len(sources) >= 25


def test_no_quantity_is_counted_twice():
    assert [quantity for quantity, times in Counter(figure.quantity for figure in _figures()).items() if times > 1] == []


def test_a_figure_allowed_more_than_half_a_unit_says_why():
    wide = [figure for figure in _figures() if figure.tolerance > figure.half_unit]
    assert wide
    assert all(len(figure.why) > 10 for figure in wide)


def test_at_most_110_figures_stay_from_memory():
    """Counted from the list itself: 168 of 228 before a review of 2026 found texts for many of them."""
    assert sum(figure.how_known == MEMORY for figure in _figures()) <= 110


def test_every_text_that_the_review_quotes_stands_behind_a_figure():
    used = {key for figure in _figures() for key in figure.seen_in}
    assert used == set(TEXTS)


def test_a_text_says_title_publisher_year_and_grade():
    for text in TEXTS.values():
        assert all((text.title, text.publisher, text.year))
        assert text.grade in "ABC"
