"""What two fans do to each other's doors: states of both judged, by the network itself; the variant of a demo site with a lift shaft."""

from pathlib import Path

import numpy as np
import pytest

from helpers.model.air.second_shaft.openings import OFF, ShaftState
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site, read_site_text, write_site
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.doors.second_shaft.steady import BOTH, MOMENT, STAIR_OFF, both_shafts
from helpers.studies.doors.window import handle_force_n, pressure_window
from helpers.studies.duty.hand_method import flow_ladder
from helpers.studies.status import SPARE_PA
from helpers.units.said import written_out

VARIANT = Path(__file__).parents[2] / "data" / "variants" / "tannery_row_lift_shaft.toml"
SITE = read_site(VARIANT)
OFF_SAID, STARTED = "The fan of the lift shaft off", "The fan of the lift shaft has just started"
LOOP = {"speed_hz": None, "set_point_pa": 32.0, "set_point_level": 3, "set_point_over": "floor", "lowest_speed_hz": 10.0,
        "highest_speed_hz": 50.0}  # fmt: skip


def found_of(site):
    return both_shafts(Tower(site), pressure_window(site), usual_cases(site))


@pytest.fixture(scope="module")
def found():
    return found_of(SITE)


def test_the_variant_is_the_demo_site_but_for_its_shaft_and_its_vents():
    plain = read_site(demo_sites()["Tannery Row"])
    assert read_site_text(write_site(SITE)) == SITE
    changed = {name for name in type(SITE).model_fields if getattr(SITE, name) != getattr(plain, name)}
    assert changed == {"name", "note", "storeys", "doors", "second_shaft"}
    assert VARIANT not in demo_sites().values()


def test_a_site_without_a_second_shaft_is_told_nothing():
    assert found_of(read_site(demo_sites()["Tannery Row"])) is None


def test_every_state_is_the_networks_own(found):
    """The worst doors, the readings and the speeds of four states, solved once more without the study."""
    cases = found.cases
    conditions = conditions_of(SITE, cases)
    rest, off = Tower(SITE).hold(conditions), Tower(SITE, ShaftState(OFF)).hold(conditions)
    started = Tower(SITE).solve(conditions, off.air.speed_hz)
    alone = Tower(SITE).solve(conditions, 0.0)
    both = found.state(BOTH)
    assert both.shaft.dp_pa == pytest.approx((rest.air.shaft_pa - rest.air.floor_pa).min(), abs=1e-6)
    assert both.stair.dp_pa == pytest.approx(rest.air.door_dp_pa.min(), abs=1e-6)
    assert found.state(OFF_SAID).stair.dp_pa == pytest.approx(off.air.door_dp_pa.min(), abs=1e-6)
    assert found.state(STARTED).reading_pa == pytest.approx(Tower(SITE).readings(started).mean(axis=1), abs=1e-6)
    assert found.state(STARTED).speed_hz == pytest.approx(off.air.speed_hz)
    assert found.state(STAIR_OFF).shaft.dp_pa == pytest.approx((alone.shaft_pa - alone.floor_pa).min(), abs=1e-6)


def test_each_fan_takes_from_what_the_others_doors_stand_over(found):
    """The floors rise with either fan: the reading falls as the second starts and rises as it is lost, and so does the lift's."""
    both, off = found.state(BOTH), found.state(OFF_SAID)
    assert both.stair.room_pa < off.stair.room_pa - 3
    assert (found.state(STARTED).reading_pa < off.reading_pa - 1).all()
    assert (found.state("The fan of the lift shaft has just been lost").reading_pa > both.reading_pa + 1).all()
    assert found.state(STAIR_OFF).shaft.room_pa > both.shaft.room_pa + 1
    values = {written_out(one.label): one.value for one in found.figures()}
    assert values["Most that the second fan changes at a door of the stair"] < -3
    assert (
        values["Reading of the stair's loop as the second fan starts"] < 35 < values["Reading of the stair's loop as the second fan stops"]
    )


def test_what_is_past_a_limit_is_never_a_pass(found):
    for one in (*found.states, *found_of(SITE.with_changes(second_shaft={"fan": LOOP})).states):
        for door in (one.stair, one.shaft):
            short_for_a_while = one.when == MOMENT and door.end == "least"
            if door.state and door.room_pa < 0:
                assert door.state in (("attention", "wrong") if short_for_a_while else ("wrong",)), one.what
            if door.state and 0 <= door.room_pa < SPARE_PA - 1e-3:
                assert door.state == "attention", one.what
    # short before the loop has answered and short once it has: the worse figure has no milder word
    assert found.state(BOTH).stair.state == found.state(STARTED).stair.state == "wrong"
    judged = {one.what: (one.stair.state, one.shaft.state) for one in found.states}
    assert judged[OFF_SAID][1] == judged[STAIR_OFF][0] == ""  # the shaft whose own fan is off is told, not judged


def test_a_row_with_one_shaft_unprotected_is_no_pass_and_says_that_it_asks_something_else(found):
    table = found.table()
    rows = dict(zip((row[0] for row in table.rows), zip(table.rows, table.states, strict=True), strict=True))
    for what in (OFF_SAID, STAIR_OFF):
        row, state = rows[f"{what}, at rest"]
        (low,) = [cell for cell in written_out(list(row)) if "-9 Pa" in cell]
        assert "not protected, and not asked in this row" in low
        assert "at least" not in low
        assert "another question" in written_out(row[-1])
        assert state in ("attention", "wrong")
    for row, state in zip(table.rows, table.states, strict=True):
        assert "not protected" not in str(row) or state != "good"


def test_short_for_a_moment_before_a_loop_that_puts_it_right_is_check():
    sound = found_of(SITE.with_changes(second_shaft={"fan": {"speed_hz": 20.0}}))
    both, started = sound.state(BOTH).stair, sound.state(STARTED).stair
    assert both.room_pa >= 0
    assert started.room_pa < 0
    assert started.state == "attention"


def test_the_door_that_fails_is_named_with_its_figure_and_limit(found):
    findings = [(one.severity, written_out(one.what), written_out(one.figure)) for one in found.findings()]
    opened = next(one for one in findings if "doors of the lift shaft open at storey 0" in one[1])
    assert opened[0] == "wrong"
    assert opened[2].startswith("stair door 0, winter, doors shut, first minute: 5 Pa, at least 25 Pa")
    takes = next(one for one in findings if one[1].startswith("The fan of the lift shaft takes pressure"))
    assert "both fans: stair door 0" in takes[2]
    assert takes[0] == found.state(BOTH).stair.state == "wrong"
    assert any("holds its set point again" in what for _, what, _ in findings)
    assert not any(one.possible for one in found.findings() if written_out(one.what).startswith("Both fans together"))


def test_a_lifts_doors_are_judged_by_the_file_and_a_second_stairs_by_the_standard_too(found):
    assert set(found.shaft_doors.least_pa) == {25.0}
    assert set(found.shaft_doors.most_pa) == {62.0}
    stair = {"kind": "stair", "door": "flat landing", "exit_door": "street", "exit_level": 0, "most_dp_pa": None, "open_doors": ()}
    second = found_of(SITE.with_changes(second_shaft=stair))
    window = pressure_window(SITE)
    by_storey = window.by_storey(Tower(SITE).levels, "stair door")
    assert [name for name in second.shaft_doors.names if "exit" in name] == ["final exit 0 of the second stair"]
    assert second.shaft_doors.least_pa[:6] == pytest.approx(by_storey[0])
    assert second.shaft_doors.most_pa[:6] == pytest.approx(by_storey[1])
    assert second.state("Both fans, the final exit of the second stair open").shaft.state == ""
    worst = max((one.shaft for one in second.states), key=lambda door: door.dp_pa)
    assert worst.force_n is None or worst.force_n == pytest.approx(handle_force_n(SITE.doors["flat landing"], worst.dp_pa))


def test_a_loop_of_its_own_is_told_where_it_does_not_hold():
    sound, weak = (found_of(SITE.with_changes(second_shaft={"fan": LOOP | changes})) for changes in ({}, {"highest_speed_hz": 30.0}))
    assert sound.state(BOTH).loop == "held"
    assert weak.state(BOTH).loop == "at full speed"
    told = [one for one in weak.findings() if written_out(one.what).startswith("The own loop of the lift shaft")]
    assert [one.severity for one in told] == ["wrong"]
    assert not [one for one in sound.findings() if written_out(one.what).startswith("The own loop of the lift shaft")]
    assert any("failed at its highest speed" in one.what for one in sound.states)


def test_the_hand_ladder_lets_the_second_shaft_in_by_itself():
    ladder = flow_ladder(SITE, "winter", 30.0)
    keys = [rung.key for rung in ladder.rungs]
    assert keys.index("second") == keys.index("inlet") - 1
    plain = flow_ladder(SITE.with_changes(second_shaft=None), "winter", 30.0)
    before = keys.index("second")
    assert ladder.flow_m3_s[:before] == pytest.approx(plain.flow_m3_s[:before])
    assert abs(ladder.changes_m3_s[before]) > 0.02
    assert np.isfinite(ladder.flow_m3_s).all()
