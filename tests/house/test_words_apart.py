"""On no picture of a page do two words lie on each other, or does one run over the edge, in either system of units."""

import pytest
from demo_designs import record_of
from panels_made import MADE
from words_apart import LEAST_LETTERS_PX, faults, too_small

from helpers.fault_bench.case import draw_case
from helpers.fault_bench.controls import PICTURE_PX
from helpers.model.site.file import demo_sites
from helpers.plots.picture import Picture, picture_of
from helpers.plots.plot import Axes, Axis, Plot, Words
from helpers.record.page import BOARD_PICTURE, BOARD_PX
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import LEAST_PX


@pytest.fixture(autouse=True)
def pascals():
    UNITS.system = SYSTEMS[0]


@pytest.mark.parametrize("name", MADE)
def test_no_word_of_a_panels_picture_lies_on_another_or_runs_over_the_edge(name):
    panel = MADE[name]()
    tasks = [] if name == "design" else [task.so for task in panel.tasks if task.so]  # its tasks study a whole building
    found = []
    for so in ({}, *tasks[-1:]):
        if so:
            panel.put_back(**so)
        for system in SYSTEMS:
            panel.picture.show(*written_out(panel._found, system)[1:])
            wrong = (*faults(panel.picture), *too_small(panel.picture, LEAST_PX))
            found += [f"{so or 'as it opens'}, {system}: {fault}" for fault in wrong]
    if tasks:
        panel.put_back()
    assert not found, "\n".join(found)


@pytest.mark.parametrize("name", demo_sites())
@pytest.mark.parametrize("system", SYSTEMS)
def test_no_word_of_a_records_picture_lies_on_another_on_the_page_or_in_the_export(name, system):
    """As large as a page has it, as the board has it, and as it is exported."""
    found = []
    for key, data in record_of(name, system).pictures().items():
        sizes = ({}, {"width_px": BOARD_PX}) if key.startswith(BOARD_PICTURE) else ({},)
        found += [f"{key} {size}: {fault}" for size in sizes for fault in faults(picture_of(data, **size))]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("seed", range(3))
def test_no_word_of_a_fault_benchs_trend_lies_on_another(seed):
    case = draw_case(seed)
    for system in SYSTEMS:
        assert not [*faults(Picture(**PICTURE_PX).show(written_out(case.trend(), system)))]


def plot(*words):
    return Plot("try", "", (Axes(Axis(ends=(0.0, 1.0)), Axis(ends=(0.0, 1.0)), words, margins_px=(60, 20, 60, 40)),), "words")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((Words("one", 0.5, 0.5), Words("other", 0.51, 0.5)), "'one' lies on 'other'"),
        ((Words("one", 0.5, 0.5, still=True), Words("other", 0.51, 0.5)), "lies on"),
        ((Words("far too far", 0.99, 0.5),), "'far too far' runs over the edge"),
        ((Words("one", 0.2, 0.5), Words("other", 0.6, 0.5)), ""),
        ((Words("one", 0.5, 0.5, up="bottom"), Words("other", 0.5, 0.5, up="top")), ""),
        ((Words("one", 0.5, 0.5, up="bottom"), Words("other", 0.5, 0.55, still=True)), "lies on"),
        ((Words("one", 0.5, 0.5, up="top"), Words("other", 0.5, 0.55, still=True)), ""),
    ],
)
def test_words_on_each_other_and_over_the_edge_are_found(words, said):
    found = "; ".join(faults(Picture(width_px=300, height_px=200).show(plot(*words))))
    assert said in found
    assert bool(found) == bool(said)


@pytest.mark.parametrize(("size_pt", "still", "small"), [(12.0, False, False), (6.0, False, True), (6.0, True, True)])
def test_letters_too_small_to_read_are_found(size_pt, still, small):
    """7.5 pt are 10 px; a picture that is shown at half its width has letters half as large."""
    picture = Picture(width_px=300, height_px=200).show(plot(Words("one", 0.5, 0.5, size_pt=size_pt, still=still)))
    assert any("'one'" in fault for fault in too_small(picture, 300.0)) == small
    assert any("'one'" in fault for fault in too_small(picture, 150.0)) == (size_pt * 96 / 72 / 2 < LEAST_LETTERS_PX)
