"""Every limit of the doors, wherever record, papers and panels print one: never further out than the limit itself, in either system."""

import re
from dataclasses import replace

import numpy as np
import pytest
from demo_designs import record_of
from held_texts import texts_in

from helpers.record.page import page_html
from helpers.studies.doors.case_told import hardest_tile
from helpers.studies.doors.columns import end_tiles
from helpers.units import SYSTEMS, to_display, unit_label
from helpers.units.said import written_out

NAMES = ("Larkfield House", "Northgate Tower", "Tannery Row")
_FIGURE = r"(-?\d+(?:\.\d+)?) ?(Pa|N|in\. w\.c\.|lbf)(?![\w/])"
PRINTED = {
    "most": re.compile(rf"(?:max\.|at most|allows(?: at most)?|bears|maximum|shuts (?:it|again surely) up to|surely up to) {_FIGURE}"),
    "least": re.compile(rf"(?:min\.|at least|minimum|asks for(?: at least)?) {_FIGURE}"),
}
LIMIT = re.compile(rf"limit(?: is)? {_FIGURE}")  # of either end
WINDOW = re.compile(rf"(-?\d+(?:\.\d+)?) to {_FIGURE}")


def limits_of(design, units):
    """{(end, unit): unrounded limits in that unit} of the doors of a site, by its file and by its standard."""
    found, window, criteria = {}, design.window, design.window.criteria

    def add(end, dimension, *values):
        unit = unit_label(dimension, units)
        found.setdefault((end, unit), []).extend(float(to_display(value, dimension, units)) for value in values if value is not None)

    for door in (one for window_of in window.doors for one in (window_of, window_of.stated)):
        add("least", "pressure", door.least_pa)
        add("most", "pressure", door.most_pa, *(door.relatch_pa or ()))
        add("most", "force", door.force_n)
    add("least", "pressure", criteria.least_doors_shut.limit, criteria.least_exit_open.limit)
    add("most", "pressure", criteria.most_doors_shut.limit)
    add("most", "force", *(force.limit for force in criteria.forces), *(row.limit_n for row in design.door_forces.rows))
    return found


def outside(texts, limits):
    """(texts with a limit that is printed further out than any limit it can stand for, how many limits were looked at)."""
    wrong, looked_at = [], 0

    def judge(text, number, unit, ends):
        nonlocal looked_at
        step = {"Pa": 1.0, "N": 1.0, "lbf": 1.0}.get(unit, 0.01)  # as far as rounding to nearest, at the digits of a figure, may take it
        near = [(end, limit) for end in ends for limit in limits.get((end, unit), ()) if abs(limit - float(number)) < step]
        looked_at += bool(near)
        if near and not any((limit - float(number)) * (1 if end == "most" else -1) >= -1e-6 for end, limit in near):
            wrong.append((f"{number} {unit}", text[:160]))

    for text in texts:
        for end, pattern in PRINTED.items():
            for number, unit in pattern.findall(text):
                judge(text, number, unit, (end,))
        for number, unit in LIMIT.findall(text):
            judge(text, number, unit, ("least", "most"))
    return wrong, looked_at


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", NAMES)
def test_no_limit_is_printed_further_out_than_it_is(folder_of, design_named, name, units):
    design = design_named(name, units)
    limits, record = limits_of(design, units), record_of(name, units)
    papers = list(texts_in(list(folder_of(name, units).papers)))
    written = list(
        texts_in(
            written_out([[replace(one, pictures=()) for one in record.sections], record.board, list(record.summary), record.fails], units)
        )
    )
    for texts, least in ((written, 10), (papers, 5), ([page_html(record)], 5)):
        wrong, looked_at = outside(texts, limits)
        assert wrong == []
        assert looked_at >= least


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", NAMES)
def test_no_tile_of_a_panel_has_a_limit_further_out_than_it_is(design_named, name, units):
    """The tiles that panels of a stair are made of, in each of the record's cases."""
    design = design_named(name, units)
    limits, levels = limits_of(design, units), design.tower.levels
    ends, across = design.window.by_storey(levels, "stair door"), design.own.held.air.door_dp_pa
    for case, dp in zip(design.cases, across, strict=True):
        opened = np.isin(levels, case.open_doors)
        tiles = [*end_tiles(levels, np.where(opened, np.nan, dp), ends, ("", "", ""), judged=True)[:-1],
                 *hardest_tile(design.tower, design.window, dp, opened)]  # fmt: skip
        texts = [" ".join(tile) for tile in written_out(tuple(tiles), units)]
        assert outside(texts, limits)[0] == []


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", NAMES)
def test_a_door_has_its_window_written_inside_its_limits(design_named, name, units):
    for door in design_named(name, units).window.doors:
        if None in (door.least_pa, door.most_pa):
            continue
        low, high, _ = WINDOW.search(written_out(door.text(), units)).groups()
        least, most = (float(to_display(limit, "pressure", units)) for limit in (door.least_pa, door.most_pa))
        assert least - 1e-6 <= float(low) < float(high) <= most + 1e-6


def test_a_limit_that_is_rounded_to_the_nearest_is_found():
    limits = {("most", "Pa"): [87.7], ("least", "Pa"): [24.91]}
    assert outside(["41 Pa (max. 88 Pa)"], limits)[0] == [("88 Pa", "41 Pa (max. 88 Pa)")]
    assert outside(["41 Pa (max. 87.7 Pa), min. 25 Pa"], limits) == ([], 2)
    assert outside(["24 Pa, minimum 24.9 Pa"], limits)[0]
