"""A year of weather through the held loop: each hour is the held loop's, and the sums are the hours'."""

import numpy as np
import pytest
from demo_designs import design_for, design_of, site_of

from helpers.model.air.conditions import HOURS_OF_A_YEAR, Conditions, Hours, demo_weather, read_hours, stair_after_an_hour
from helpers.model.air.fan import electric_power_w
from helpers.model.air.stair_heat import stair_air, with_stair
from helpers.model.air.tower import Tower, ideal_fan
from helpers.record.sections.rule import works_said
from helpers.record.sections.time import _year_findings
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.doors.year import extreme_hours, inside_all_year, year_by_another_fan, year_of_weather
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.status import ON_LIMIT_PA
from helpers.units.said import written_out


def constant(outdoor_c=5.0, wind_m_s=0.0, **at_hour):
    """A year of one weather; at_hour: wind [m/s] by the number of the hour."""
    wind = np.full(HOURS_OF_A_YEAR, wind_m_s)
    for name, speed in at_hour.items():
        wind[int(name.removeprefix("hour"))] = speed
    return Hours("one weather", np.full(HOURS_OF_A_YEAR, outdoor_c), wind, np.full(HOURS_OF_A_YEAR, 180.0))


def year_of(site, hours, **changes):
    return year_of_weather(Tower(site), pressure_window(site), hours, **changes)


@pytest.fixture(scope="module")
def larkfield_year(larkfield):
    return year_of(larkfield, read_hours(demo_weather()["Sandpoint"]))


def test_each_hour_is_the_worse_of_its_first_minute_and_an_hour_later(larkfield, larkfield_year):
    tower, hours, window = Tower(larkfield), larkfield_year.hours, allowed_pressures(larkfield)
    picked = np.arange(17, HOURS_OF_A_YEAR, 997)
    weather = {
        "outdoor_c": hours.outdoor_c[picked],
        "wind_speed_m_s": hours.wind_speed_m_s[picked],
        "wind_from_deg": hours.wind_from_deg[picked],
    }
    alone = Conditions.of(larkfield, **weather)
    columns, rooms = DoorColumns(tower, window), []
    for stair in (alone.floor_c, stair_air(tower, alone).stair_c):
        conditions = with_stair(alone, stair)
        across = columns.across(tower.hold(conditions).air)
        rooms.append(np.minimum(*columns.rooms(across, columns.standing_open(conditions))).min(axis=1))
    np.testing.assert_allclose(
        larkfield_year.room_pa[picked], np.min(rooms, axis=0), atol=1.2
    )  # balance at a few temperatures; final exit door
    decides = larkfield_year.air[picked]
    clear = np.abs(rooms[0] - rooms[1]) > 1.5
    assert (decides[clear] == np.argmin(rooms, axis=0)[clear]).all()
    at_stair_door = np.array([year.door.use == "stair door" for year in larkfield_year.doors])[larkfield_year.worst]
    assert at_stair_door.any()
    assert (larkfield_year.air[at_stair_door] == 0).all()  # without a lift the first minute is the worse in every such hour


@pytest.mark.parametrize(
    ("name", "rule", "points"), [("Tannery Row", "average", (31.0, 32.0, 33.0)), ("Tannery Row", "highest", (37.0, 39.0))]
)
def test_the_extreme_hours_tell_what_the_whole_year_says_of_a_set_point(name, rule, points):
    site, hours = site_of(name), read_hours(demo_weather()["Sandpoint"])
    whole = [bool(year_of(site, hours, set_point_pa=point, rule=rule).inside.all()) for point in points]
    assert set(whole) == {True, False}
    assert inside_all_year(Tower(site), pressure_window(site), hours, points, rule).tolist() == whole
    assert len(extreme_hours(hours)) < 300


def test_the_set_points_named_are_those_that_the_year_leaves_and_one_of_them_is_told():
    low = design_for(site_of("Tannery Row").with_changes(control={"set_point_pa": 31.0}))
    least, most = low.standing.others
    (own,) = (tried for tried in low.set_points if tried.rule == "average")
    assert low.standing.offered(own, low.inner_cases, year=False)[0] < least < most  # 31 Pa suits the cases, and not the year
    assert not low.year.inside.all()
    (told,) = (line for line in low.record().summary if line.startswith("FAIL: the average reading held at 31 Pa"))
    assert "do not enter: a typical year brings a door outside its window" in told
    assert f"held at {least:.0f} to {most:.0f} Pa would suit the doors" in told
    assert "highest" not in written_out(works_said(low))


def test_a_year_at_no_limit_is_that_of_any_fan_with_one_outlet(larkfield, larkfield_year):
    """Whatever its curve, a fan that is held at one reading brings one flow."""
    by_ideal_fan = year_of_weather(ideal_fan(Tower(larkfield)), pressure_window(larkfield), larkfield_year.hours)
    np.testing.assert_allclose(by_ideal_fan.room_pa, larkfield_year.room_pa, atol=1e-3)
    assert by_ideal_fan.counts == larkfield_year.counts
    assert year_by_another_fan(larkfield_year, ideal_fan(Tower(larkfield)), pressure_window(larkfield)) is larkfield_year


def test_a_year_at_a_limit_or_with_several_outlets_is_found_again_for_another_fan(stair):
    weak = stair(fan={"flows_m3_s": (0.0, 0.2, 0.4), "duct_loss_pa": 0.0})
    two = stair(supplies=[{"level": 0, "share": 0.5}, {"level": 5, "share": 0.5}])
    for site in (weak, two):
        own, ideal = year_of(site, constant()), ideal_fan(Tower(site))
        other = year_by_another_fan(own, ideal, pressure_window(site))
        assert other.held.held.all()
        np.testing.assert_array_equal(other.room_pa, year_of_weather(ideal, pressure_window(site), constant()).room_pa)
        assert not np.allclose(other.room_pa, own.room_pa, atol=1e-3)


def test_in_a_tower_with_a_lift_a_frost_is_worse_after_an_hour_than_in_the_first_minute(northgate):
    year = year_of(northgate, constant(-15.0))
    assert (year.air == 1).all()
    assert year.counts["high"] == year.counts["low"] == HOURS_OF_A_YEAR  # heavy after an hour, weak in the first minute


def test_the_stair_after_an_hour_of_any_weather_is_near_the_balance_of_that_hour(larkfield, northgate):
    rng = np.random.default_rng(1)
    for site in (larkfield, northgate):
        outdoor = np.append(rng.uniform(-30, 40, 30), site.temperatures.floor_c)
        conditions, tower = Conditions.of(site, outdoor_c=outdoor), Tower(site)
        found, alone = stair_after_an_hour(tower, conditions), stair_air(tower, conditions).stair_c
        assert np.abs(found - alone).max() < 0.5


def test_hours_outside_are_counted_door_by_door_and_in_all(larkfield, larkfield_year):
    larkfield_year = year_of(larkfield, larkfield_year.hours, share=0.4)  # one air of the stair, so that one pressure is each door's
    dp = larkfield_year.held.air.door_dp_pa
    least, most = pressure_window(larkfield).by_storey(Tower(larkfield).levels, "stair door")
    stair_doors = [year for year in larkfield_year.doors if year.door.use == "stair door"]
    assert [year.hours_low for year in stair_doors] == (dp < least - ON_LIMIT_PA).sum(axis=0).tolist()
    assert [year.hours_high for year in stair_doors] == (dp > most + ON_LIMIT_PA).sum(axis=0).tolist()
    assert [year.lowest_pa for year in stair_doors] == dp.min(axis=0).tolist()
    assert larkfield_year.counts["low"] == (dp < least - ON_LIMIT_PA).any(axis=1).sum() > 0
    assert larkfield_year.counts["inside"] == larkfield_year.inside.sum()
    assert larkfield_year.counts["inside"] < HOURS_OF_A_YEAR


def test_the_calendar_has_a_row_an_hour_and_a_column_a_day(stair):
    year = year_of(stair(), constant(hour50=20.0))  # two in the morning of 3 January
    room = year.calendar().room_pa
    assert room.shape == (24, 365)
    calm = room[0, 0]
    assert room[2, 2] < calm
    room[2, 2] = calm
    np.testing.assert_allclose(room, calm, atol=1e-6)


def test_the_worst_hour_is_named_with_its_date_and_weather(stair):
    said = written_out(year_of(stair(), constant(hour50=20.0)).verdict())
    assert "The worst hour is 3 January, 02 to 03 h (5 °C, wind 20.0 m/s from 180°)" in said
    last = written_out(year_of(stair(), constant(hour8759=20.0)).verdict(), "in. w.c.")
    assert "31 December, 23 to 24 h (41 °F" in last
    assert " Pa" not in last


def test_a_year_of_one_weather_takes_one_power_all_year(stair):
    site = stair()
    year = year_of(site, constant())
    conditions, tower = Conditions.of(site, outdoor_c=[5.0]), Tower(site)
    conditions = with_stair(conditions, stair_air(tower, conditions).stair_c)  # running on, the stair is the cold one
    power = electric_power_w(tower, tower.hold(conditions).air, conditions)[0]
    assert year.energy_kwh == pytest.approx(power * 8.76, rel=1e-3)
    assert f"{year.energy_kwh:.0f} kWh" in year.verdict()
    assert year.counts["inside"] == HOURS_OF_A_YEAR
    assert "every door is inside its window in 8760 of 8760 hours." in year.verdict()


def test_a_fan_too_small_is_at_full_speed_all_year_and_doors_are_low(stair):
    year = year_of(stair(fan={"flows_m3_s": (0.0, 0.2, 0.4), "duct_loss_pa": 0.0}), constant())
    assert year.counts["at full speed"] == year.counts["low"] == HOURS_OF_A_YEAR
    assert year.counts["high"] == year.counts["inside"] == 0
    assert "8760 hours have a door with too little pressure" in year.verdict()


def test_too_high_a_set_point_makes_doors_heavy(stair):
    year = year_of(stair(), constant(), set_point_pa=100.0)
    assert year.counts["high"] == HOURS_OF_A_YEAR
    assert "too much" in year.verdict()
    assert all(row[2] == str(HOURS_OF_A_YEAR) for row in year.table().rows)


def test_a_door_that_stands_open_all_year_is_not_judged(stair):
    year = year_of(stair(), constant(), open_doors=(3,))
    opened = next(door for door in year.doors if door.door.level == 3)
    assert (opened.hours_low, opened.hours_high) == (0, 0)
    assert opened.highest_pa < 25
    assert "stair doors of storey 3 open" in year.verdict()


def test_the_lowest_reading_makes_more_hours_heavy_and_takes_more_energy_than_the_average(larkfield, larkfield_year):
    lowest = year_of(larkfield, larkfield_year.hours, rule="lowest")
    assert lowest.counts["high"] > larkfield_year.counts["high"]
    assert lowest.energy_kwh > 2 * larkfield_year.energy_kwh


def test_hours_without_an_answer_are_counted_by_themselves_and_are_no_pass(stair, monkeypatch):
    hold = Tower.hold

    def unsure(*asked):
        held = hold(*asked)
        if len(asked[1]) >= HOURS_OF_A_YEAR:  # the hours as they are asked for, not those of which none is another one's like
            held.state[:3] = "not found"
        return held

    monkeypatch.setattr(Tower, "hold", unsure)
    year = year_of(stair(), constant())
    assert year.counts["not found"] == 3
    assert year.counts["inside"] == HOURS_OF_A_YEAR - 3
    assert np.isnan(year.calendar().room_pa).sum() == 3
    assert "3 hours had no answer, no pass" in year.verdict()
    assert year.out == 0
    assert year.out_said() == "3 hours of a typical year without an answer, no pass"
    assert sum(door.hours_low + door.hours_high for door in year.doors) == 0


def test_the_assumption_on_the_stairs_temperature_is_said(stair):
    year = year_of(stair(), constant(), share=0.3)
    assert "30 % of the way from the floors' to the outdoor air's temperature" in year.verdict()
    assert "30 % of the way" in year.table().note


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"set_point_pa": np.nan}, "set_point_pa must be a finite number"),
        ({"set_point_pa": [30.0, 40.0]}, "set_point_pa must be one number"),
        ({"rule": "least"}, "rule must be one of"),
        ({"share": 2.0}, "stair_share must be from 0 to 1"),
        ({"open_doors": (99,)}, "open_doors must name storeys from 0 to 5, got 99"),
        ({"transmitters": []}, "transmitters must be one or more"),
    ],
)
def test_nonsense_gets_one_sentence(stair, changes, words):
    with pytest.raises(ValueError, match=words):
        year_of(stair(), constant(), **changes)


def test_a_transmitter_on_a_level_that_is_not_there_is_refused(stair, a_transmitter):
    with pytest.raises(ValueError, match="transmitters must be on storeys from 0 to 5, got 9"):
        year_of(stair(), constant(), transmitters=[a_transmitter(level=9)])


def test_half_a_year_is_no_year(stair):
    with pytest.raises(ValueError, match="hours must be a year of 8760, got 4380 hours of one weather"):
        year_of(stair(), constant().rows(slice(0, 4380)))


def test_an_exit_that_would_not_close_again_in_the_year_is_told_so_and_not_as_too_high_alone():
    study = design_for(site_of("Larkfield House")).year
    (exit_,) = (one for one in study.doors if one.door.use == "final exit")
    assert exit_.hours_high > 8000
    told = f"final exit 0 once opened would not close again in {exit_.hours_high}"
    assert told in written_out(study.verdict())
    assert told in written_out(tuple(_year_findings(design_of("Larkfield House"), study)))[0].why
    row = next(row for row in written_out(study.table()).rows if row[0] == "final exit 0")
    assert row[2] == f"{exit_.hours_high}, once opened would not close again"
    assert not any(one.pushed for one in study.doors if one.door.use == "stair door")
    assert study.pushed_said()
