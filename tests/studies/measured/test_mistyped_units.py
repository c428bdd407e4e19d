"""A column of a day in inches of water typed as pascals is one line and left out; a pressure beyond the fan is a mistake in `check`."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.__main__ import main
from helpers.studies.measured.doubts.mistyped import INCH_PA, beyond_the_fan, cells_in_inches, in_pascals
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import FLOW
from helpers.units.said import written_out

MAY = DAYS_FOLDER / "larkfield_house_may.toml"


def in_inches(day, where, factor=1 / INCH_PA):
    return replace(day, value=np.where(where, factor, 1.0) * day.value)


def test_a_sound_day_is_in_pascals(day):
    kept, told = in_pascals(day)
    assert (len(kept), told, [*beyond_the_fan(day)]) == (len(day), (), [])


@pytest.mark.parametrize(("factor", "what"), [(1 / INCH_PA, "in. w.c. typed as Pa?"), (INCH_PA, "Pa typed as in. w.c.?")])
def test_a_rounds_stair_doors_in_the_other_unit_are_one_line_and_the_rest_is_fitted(day, factor, what):
    column = (day.quantity == 0) & (day.round == 1)
    fitted = fit_building(in_inches(day, column, factor))
    (said,) = written_out(fitted.slips)
    assert said.startswith(f"{what} 14 readings (stair doors, round 2) are left out: ")
    assert len(fitted.readings) == len(day) - 14
    assert not fitted.misfits.doubted


def test_one_pairs_gauge_in_the_other_unit_is_named(day):
    (said,) = in_pascals(in_inches(day, (day.quantity == 0) & (day.storey < day.upper_from)))[1]
    assert "stair doors of the lower pair, round 1; stair doors of the lower pair, round 2; stair doors of the lower pair, round 3" in said


def test_one_reading_alone_or_a_tenth_of_all_is_not_called_a_unit(day):
    assert in_pascals(in_inches(day, (day.quantity == 0) & (day.round == 1) & (day.storey == 5)))[1] == ()
    assert in_pascals(in_inches(day, (day.quantity == 0) & (day.round == 1), 0.1))[1] == ()


def test_check_says_of_a_day_what_no_fan_makes_and_whose_unit_is_another(tmp_path, capsys):
    text = MAY.read_text(encoding="utf-8")
    assert main(["check", str(MAY)]) == 0
    file = tmp_path / "day.toml"
    file.write_text(text.replace('5 = "34.3 Pa"', '5 = "16.4 in. w.c."'), encoding="utf-8")
    capsys.readouterr()
    assert main(["check", str(file)]) == 1
    (said,) = capsys.readouterr().out.splitlines()
    assert "stair door 5, round 1: must be what the site's fan can make" in said
    assert said.endswith("got 4085.1 Pa")
    file.write_text(text.replace('Larkfield House"\ndate', 'Another House"\ndate'), encoding="utf-8")
    assert main(["check", str(file)]) == 0
    assert "The file of Another House is not at hand" in capsys.readouterr().out


def test_all_that_one_pair_read_in_a_round_goes_by_one_cause_and_what_the_other_read_stays(day):
    """Stair doors are a column; of the stair over outdoors and the exit there are too few for one, and they go with it all the same."""
    plain = (day.quantity != FLOW) & (day.round == 1)
    lower = plain & (day.storey < day.upper_from)
    kept, (said,) = in_pascals(in_inches(day, lower))
    gone = {*zip(day.quantity.tolist(), day.round.tolist(), day.storey.tolist(), strict=True)} - {
        *zip(kept.quantity.tolist(), kept.round.tolist(), kept.storey.tolist(), strict=True)}  # fmt: skip
    assert {(4, 1, 0), (2, 1, 0)} <= gone  # the stair over outdoors at the bottom, and the final exit
    assert all(where == 1 and storey < day.upper_from for _, where, storey in gone)
    assert " beside them are left out: " in written_out(said)
    assert [*cells_in_inches(kept)] == []
