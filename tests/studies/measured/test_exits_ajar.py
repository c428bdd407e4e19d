"""A final exit that stood ajar is named, a sound day's is not; two doors exchanged in one round are asked after."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.studies.measured.doubts.exits import read_as_ajar
from helpers.studies.measured.doubts.suspects import EXIT, LIKE, SCALE
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import FLOW, QUANTITIES, every_quantity
from helpers.studies.measured.remarks import doubt_said
from helpers.units.said import written_out

AJAR = 0.2  # of its doorway


@pytest.fixture(scope="module")
def ajar(day, sound):
    """What the day would have read with the exit ajar: the model's change laid on the readings."""
    tower, opened = Tower(sound.site), day.conditions.rows(np.arange(len(day.conditions)))
    opened.final_exit_open = opened.final_exit_open + 0.0
    opened.final_exit_open[:, 0] = AJAR
    shut, wide = (every_quantity(tower.solve(one, day.speeds_hz))[day.round, day.quantity, day.storey] for one in (day.conditions, opened))
    return fit_building(replace(day, value=day.value * wide / shut))


def test_an_exit_ajar_in_every_round_is_the_suspect_and_no_gauge(ajar):
    assert ajar.misfits.doubted
    assert not ajar.misfits.too_many  # a looser building explains most of it: what did not fit would not tell
    assert (ajar.suspect.kind, ajar.suspect.short) == (EXIT, "final exit 0, open or ajar")
    (found,) = ajar.ajar
    assert found.share == pytest.approx(AJAR, rel=0.2)
    told = written_out(doubt_said(ajar))
    assert "of its doorway open in every round the readings fit one building; look at leaf, latch and wedge" in told
    assert "gauge of the lower pair" not in told


def test_of_a_sound_day_and_of_a_gauge_that_reads_low_no_exit_is_accused(day, sound):
    assert sound.ajar == ()
    lower = (day.storey < day.upper_from) & (day.quantity != FLOW)
    low = fit_building(replace(day, value=np.where(lower, 0.85, 1.0) * day.value))
    assert (low.suspect.kind, low.ajar) == (SCALE, ())


def test_nearly_nothing_across_an_exit_under_a_stair_that_has_more_is_told_without_a_fit(day):
    at_exit = day.quantity == QUANTITIES.index("final exit")
    assert read_as_ajar(day) == []
    assert read_as_ajar(replace(day, value=np.where(at_exit, 0.05, 1.0) * day.value)) == [0]
    assert read_as_ajar(replace(day, value=np.where(at_exit & (day.round == 0), 0.05, 1.0) * day.value)) == []


def test_two_doors_exchanged_in_one_round_are_asked_after_and_not_the_whole_round(day, sound):
    doors = np.flatnonzero((day.quantity == QUANTITIES.index("stair door")) & (day.round == 0))
    a, b = (next(one for one in doors if day.storey[one] == storey) for storey in (4, 13))
    value = day.value.copy()
    value[[a, b]] = value[[b, a]]
    off = int(np.flatnonzero((day.quantity == QUANTITIES.index("stair door")) & (day.round == 1) & (day.storey == 8))[0])
    value[off] -= 6.0  # a third reading that does not fit: then the day is doubted
    suspect = fit_building(replace(day, value=value)).suspect
    assert (suspect.kind, suspect.short) == (LIKE, "stair door 4 and stair door 13, exchanged in round 1?")
