"""A table of a page: figures to the right, their unit once in the head where all of them have it."""

import re
from pathlib import Path

import helpers
from helpers.plots.markup import PAGE_STYLE, html_table


def test_no_letters_of_a_page_are_smaller_than_thirteen_pixels():
    texts = {path.name: path.read_text(encoding="utf-8") for path in Path(helpers.__file__).parent.rglob("*.py")}
    sizes = {(name, int(size)) for name, text in texts.items() for size in re.findall(r"font(?:-size)?: ?(?:max\()?(\d+)px", text)}
    assert len(sizes) >= 5
    assert [found for found in sizes if found[1] < 13] == []


def test_a_column_of_figures_stands_to_the_right_with_its_unit_in_the_head():
    html = html_table(("Door", "Pressure", "Force"), [("low", "28.5 Pa", "149 N"), ("high", "-2.0 Pa", "–")])
    assert '<th scope="col" style="padding:5px 8px;text-align:left;vertical-align:top;text-align:right">Pressure, Pa</th>' in html
    assert ">28.5</td>" in html
    assert ">-2.0</td>" in html
    assert html.count("text-align:right") == 3
    assert ">149 N</td>" in html  # alone in its column


def test_what_is_no_figure_or_has_another_unit_or_is_blank_leaves_a_column_as_it_was():
    for cells in (("28 Pa", "0.5 in. w.c."), ("28 Pa", "none"), ("28 Pa", ""), ("4 of 5", "5 of 5"), ("0 to 125 Pa", "0 to 50 Pa")):
        html = html_table(("Reading",), [(cell,) for cell in cells])
        assert ">Reading</th>" in html
        assert all(f">{cell}</td>" in html for cell in cells)
        assert "text-align:right" not in html


def test_the_rows_of_whoever_asked_for_the_table_are_left_alone():
    rows = [["28 Pa"], ["30 Pa"]]
    html_table(("Reading",), rows)
    assert rows == [["28 Pa"], ["30 Pa"]]


def test_a_table_of_many_columns_has_less_room_round_its_words_on_a_page_alone_so_that_its_last_column_is_not_cut():
    few, many = (html_table([f"Column {place}" for place in range(count)], [("17.8 or more",) * count]) for count in (6, 7))
    assert 'class="pressure-loop-close"' not in few
    assert 'class="pressure-loop-close"' in many
    assert ".pressure-loop-close :is(td, th) { padding: 4px 5px" in PAGE_STYLE
    assert many.count("padding:5px 8px") == few.count("padding:5px 8px") + 2  # as ever where it is printed
