"""A pressure gauge that reads all its places too low is named and no door is PASS; of one gauge it is said that nothing tells."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.test_day import Gauges
from helpers.studies.measured.doubts.suspects import SCALE
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import FLOW, QUANTITIES, readings_of
from helpers.studies.measured.remarks import doubt_briefly, doubt_said, gauges_said
from helpers.studies.measured.told import fitted_file
from helpers.units.said import written_out

LOW = 0.85  # of what is there


def of_one_gauge(day, **given):
    gauges = Gauges(pressure_pa=1.0, pressure_gauges=1, **given)
    return replace(day, day=day.day.model_copy(update={"gauges": gauges}))


def read_low(day, where):
    return fit_building(replace(day, value=np.where(where, LOW, 1.0) * day.value))


@pytest.mark.parametrize(
    ("upper", "doors", "said"),
    [
        (False, True, "gauge of the lower pair reads the stair doors about 20 % low"),
        (False, False, "gauge of the lower pair reads about 14 % low against the other, or gauge of the upper pair about 12 % high"),
        (True, False, "gauge of the upper pair reads about 18 % low against the other, or gauge of the lower pair about 18 % high"),
        (True, True, "gauge of the upper pair reads the stair doors about 14 % low"),
    ],
)
def test_a_gauge_that_reads_low_is_named(day, upper, doors, said):
    of_it = (day.storey >= day.upper_from) == upper
    fitted = read_low(day, of_it & (day.quantity == QUANTITIES.index("stair door") if doors else day.quantity != FLOW))
    assert (fitted.suspect.kind, fitted.suspect.short) == (SCALE, said)
    assert fitted.misfits.doubted
    told = written_out(doubt_said(fitted))
    assert told.endswith("No door is PASS by it.")
    assert "standard deviations beyond its stated uncertainty, 2 %" in told
    assert doubt_briefly(fitted).startswith("One pair's gauge is off: about")


def test_sound_gauges_are_not_suspected_and_what_is_not_seen_is_said(sound):
    assert not sound.misfits.gauges
    (said,) = gauges_said(sound)
    assert "the lower pair reads up to storey 6, the upper pair from 7 on" in said
    assert "A gauge that reads 7 % or more beside the other is seen; less is not, nor what both have in common" in said
    assert said in " ".join(line.removeprefix("# ") for line in fitted_file(sound).splitlines())


def test_what_both_gauges_have_in_common_is_not_seen(day):
    """The limit that is stated: else the sentence about it is wrong."""
    assert not read_low(day, day.quantity != FLOW).misfits.doubted


def test_of_one_gauge_it_is_said_that_nothing_tells_and_its_uncertainty_is_in_the_intervals(day):
    fine, coarse = (fit_building(of_one_gauge(day, scale_percent=percent, certificate="K-7 of 2026-01-09")) for percent in (0.1, 20.0))
    assert "An error of the only gauge is not seen by this fit: certificate K-7 of 2026-01-09." in next(gauges_said(fine))
    assert "An error of the only gauge is not seen by this fit" in fitted_file(fine)
    assert fine.site.title.endswith("as fitted to the test day (an error of its only gauge is not seen) of 2026-05-12")
    assert fine.site.file_title == "Larkfield House fitted 2026-05-12"
    widths = [{one.kind: float(np.log(one.high / one.low)) for one in fitted.factors} for fitted in (fine, coarse)]
    assert widths[1]["stair side"] > 1.05 * widths[0]["stair side"]


def test_a_storey_that_is_not_there_is_refused(day):
    gauges = day.day.gauges.model_copy(update={"upper_pair_from": 99})
    with pytest.raises(ValueError, match=r"upper_pair_from under \[gauges\] must be a storey of Larkfield House; got 99"):
        readings_of(day.site, day.day.model_copy(update={"gauges": gauges}))
