"""A fan is run no faster than its file lets it, and above the speed of its curve only by its maker's word: record, schedule, review."""

from pathlib import Path

import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, review_for, site_of

from helpers.model.plants.kinds import read_any_strategy
from helpers.record.board import board_of
from helpers.record.settings.schedule import settings_schedule
from helpers.studies.duty.permissible_speed import ASK, faster_said, permissible_speed, speed_entered
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
SIXTY = {"fan": {"highest_speed_hz": 60.0, "smoke_highest_speed_hz": 60.0, "ramp_s": 12.0, "ramp_down_s": 12.0}}
TANNERY = site_of("Tannery Row")


def test_stress_grows_with_the_square_of_the_speed():
    """By hand: 60 over 50 Hz is 1.2, its square 1.44."""
    assert faster_said(50.0, 60.0) == "20 % above the 50 Hz of its curve, 44 % more stress in the wheel"
    assert faster_said(50.0, 50.0) == ""


def test_a_record_of_a_fan_run_above_its_curve_asks_for_its_permissible_speed_on_every_page():
    design = design_for(TANNERY.with_changes(**SIXTY).with_changes(**SEVERAL_DAMPERS))
    (told,) = [one for one in design.section("fan").findings if one.what == "The drive may run the fan faster than its curve stands for"]
    assert told.severity == "attention"
    assert told.figure.startswith("60 Hz, 20 % above the 50 Hz")
    (asked,) = [
        row
        for table in design.section("fan").tables
        if table.key == "drive_checks"
        for row in table.rows
        if row[0] == "Permissible speed of the fan"
    ]
    assert "60 Hz" in asked[1]
    rows = {line.name: line for line in written_out(settings_schedule(design.built, full=design.duty.full, standing=design.standing))}
    for name in ("highest speed", "highest speed in smoke control"):
        assert rows[name].value == "60 Hz"
        assert rows[name].why.startswith("CHECK: 60 Hz is 20 % above the 50 Hz of its curve")
        assert ASK in rows[name].why
    board = board_of(design)
    shown = {line.what: line for line in (*board.buy, *board.set)}
    assert shown["Highest speed"].status == shown["Fan"].status == "attention"
    assert ASK in written_out(shown["Fan"].why)


@pytest.mark.parametrize("name", ["Tannery Row", "Northgate Tower"])
def test_a_fan_that_is_run_up_to_its_curve_alone_is_asked_nothing(name):
    site = site_of(name)
    assert list(permissible_speed(site.fan)) == []
    table = next(table for table in design_for(site).section("fan").tables if table.key == "drive_checks")
    assert "Permissible speed of the fan" not in [row[0] for row in table.rows]


@pytest.mark.parametrize(("entered_hz", "found"), [(60.0, "wrong"), (47.0, "wrong"), (46.0, None), (30.0, None)])
def test_a_highest_speed_beyond_the_sites_own_in_smoke_control_is_fail(entered_hz, found):
    told = list(speed_entered(TANNERY.fan, entered_hz, True))
    assert [one.severity for one in told] == [found] * bool(found)
    if found:
        assert f"{entered_hz:g} Hz; the site file states 46 Hz in smoke control, 50 Hz for the drive" in told[0].figure
        assert ("44 % more stress" in told[0].figure) == (entered_hz == 60.0)
    assert [one.severity for one in speed_entered(TANNERY.fan, entered_hz, False)] == ["wrong"] * (entered_hz > 50)


def test_the_review_fails_a_strategy_beyond_its_sites_highest_speed():
    strategy, site = read_any_strategy(STRATEGIES / "quayside_sound.toml"), site_of_plant("quayside_lab")
    faster = strategy.with_changes(loop={"highest_speed_hz": site.fan.highest_speed_hz + 10})
    (told,) = [one for one in review_for(faster, site).of_strategy if one.key == "beyond the site"]
    assert told.severity == "wrong"
    assert "beyond the site" not in review_for(strategy, site).keys
    allowed = site.with_changes(fan={"highest_speed_hz": site.fan.highest_speed_hz + 10})
    (told,) = [one for one in review_for(faster, allowed).of_strategy if one.key == "beyond the site"]
    assert told.severity == "attention"


def site_of_plant(name):
    from helpers.model.plants.kinds import read_any_site

    return read_any_site(STRATEGIES.parent / "sites" / f"{name}.toml")
