"""A building on whose pressure a relief fan works: direct acting, a range on both sides of zero, wind on two faces, stack effect."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import action, air, combining, leakage
from helpers.model.loop.events import TapFault
from helpers.model.plants.building import Building
from helpers.model.plants.kinds import SITE_KINDS, plant_of, read_any_site
from helpers.model.plants.pressure_plant import BuildingConditions, Turn, run_plant, setup_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site, read_site_text, write_site

PATH = demo_sites("building")["Quayside Lab"]
TEXT = PATH.read_text(encoding="utf-8")
SITE = read_any_site(PATH)
LAB = plant_of(SITE)


def conditions(*words, **changes):
    return BuildingConditions.of(SITE, *words, **changes)


# ------------------------------------------------------------------------------------------------------------------ the site file


def test_the_lab_reads_and_writes_and_reads_equal():
    assert (SITE.name, SITE.invented) == ("Quayside Lab", True)
    assert read_site_text(write_site(SITE), kinds=SITE_KINDS) == SITE


def test_pickers_of_stairs_do_not_offer_the_lab():
    assert "Quayside Lab" not in demo_sites()
    assert set(demo_sites(None)) >= {"Quayside Lab", "Mill Street Offices", "Orchard Garage", "Larkfield House"}
    assert list(demo_sites()) == list(demo_sites("stair"))


def test_a_building_read_as_a_stair_is_refused_in_one_sentence():
    with pytest.raises(SiteFileError) as told:
        read_site(PATH)
    assert str(told.value).endswith("kind: must be 'stair'; got 'building'")
    assert str(told.value).count("\n") == 0


@pytest.mark.parametrize(
    ("right", "wrong", "place", "sentence"),
    [
        ('effect = "exhaust"', 'effect = "supply"', "[fan] effect", "must be 'exhaust': a relief fan draws air out of the building"),
        ("fan_level = 3", "fan_level = 9", "fan_level", "must be a storey of this site, from 0 to 3; got 9"),
        ("level = 2\n", "level = 7\n", "[[transmitters]] number 2, level", "from 0 to 3; got 7"),
        ('outside = "0 deg"', 'outside = "400 deg"', "[[transmitters]] number 1, outside", "from 0 ° to 360 °"),
        ('set_point = "5 Pa"', 'set_point = "40 Pa"', "[control] set_point", "must lie in the range of a transmitter (-25 to 25 Pa)"),
        (
            'range_low = "-25 Pa"',
            'range_low = "25 Pa"',
            "[[transmitters]] number 1, range_high",
            "must be above range_low, 25 Pa; got 25 Pa",
        ),
        ('door = "9 m2"', 'door = "900 m2"', "[[storeys]] number 2, door", "must be no more than the facade"),
        ("[weather.mild]", "[weather.misty]", "[weather.mild]", "is missing"),
    ],
)
def test_a_slip_in_the_file_is_told_in_one_sentence(right, wrong, place, sentence):
    assert right in TEXT
    with pytest.raises(SiteFileError) as told:
        read_site_text(TEXT.replace(right, wrong, 1), "lab.toml", SITE_KINDS)
    (only,) = str(told.value).splitlines()
    assert place in only
    assert sentence in only


def test_a_building_without_any_leak_is_refused():
    tight = [{"facade_m2": (0.0,) * 4, "extra_leak_m2": 0.0, "door_m2": 0.0}] * 4
    with pytest.raises(SiteFileError, match="leave the air nowhere to go"):
        SITE.with_changes(storeys=tight)


# ------------------------------------------------------------------------------------------------------------------ air at rest


@pytest.mark.parametrize("rule", ["average", "lowest", "highest", "middle"])
def test_the_relief_fan_holds_the_combined_reading_at_the_set_point(rule):
    wind = np.linspace(0, 330, 12)
    many = conditions("mild", wind_from_deg=wind, surplus_m3_s=np.linspace(3.5, 5.0, 12))
    held = LAB.hold(many, rule=rule)
    assert held.held.all()
    again = LAB.solve(many, held.air.speed_hz)
    assert combining.combine(again.readings_pa, rule) == pytest.approx(5.0, abs=1e-3)


def test_the_highest_reading_runs_a_relief_fan_faster_than_the_lowest():
    lowest, average, highest = (LAB.hold(conditions("winter"), rule=rule).air.speed_hz for rule in ("lowest", "average", "highest"))
    assert lowest < average < highest


def test_more_relief_lowers_the_building_everywhere():
    slow, fast = LAB.solve(conditions("mild"), 15.0), LAB.solve(conditions("mild"), 30.0)
    assert (fast.pressure_pa < slow.pressure_pa).all()
    assert LAB.effect == -1


def test_with_the_hoods_open_there_is_nothing_left_to_relieve():
    held = LAB.hold(conditions("mild", "hoods"))
    assert held.state == "at lowest speed"
    assert held.reading_pa < 5.0


def test_the_average_of_two_faces_hides_a_ground_floor_below_outdoors_in_winter():
    held = LAB.hold(conditions("winter"))
    assert held.reading_pa == pytest.approx(5.0, abs=1e-3)
    quay, yard = held.air.readings_pa[0]
    assert quay < 0 < yard


def test_stack_effect_raises_the_upper_storeys_in_winter_and_lowers_them_in_summer():
    winter, summer = (LAB.hold(conditions(w, wind_speed_m_s=0.0)).air.pressure_pa[0] for w in ("winter", "summer"))
    assert (np.diff(winter) > 0).all()
    assert (np.diff(summer) < 0).all()
    stack = air.stack_pressure(LAB.elevation_m[3] - LAB.elevation_m[0], -7.0, 21.0, LAB.pressure_pa)
    wide = Building(SITE.with_changes(storeys=[{"stair_hall_m2": 1000.0}] * 3 + [{}]))
    without_friction = wide.hold(conditions("winter", wind_speed_m_s=0.0)).air.pressure_pa[0]
    assert without_friction[3] - without_friction[0] == pytest.approx(stack, rel=1e-3)
    assert 0.95 * stack < winter[3] - winter[0] < 0.97 * stack  # the rising air's friction in the stair hall takes 4 %


def test_a_tube_end_in_the_wind_reads_less_and_one_in_the_lee_more():
    still, windy = (LAB.solve(conditions("mild", wind_speed_m_s=v, wind_from_deg=0.0), 20.0) for v in (0.0, 10.0))
    (quay_still, yard_still), (quay, yard) = still.readings_pa[0], windy.readings_pa[0]
    assert quay - windy.pressure_pa[0, 0] < quay_still - still.pressure_pa[0, 0]
    assert yard - windy.pressure_pa[0, 2] > yard_still - still.pressure_pa[0, 2]


def test_what_comes_in_goes_out_by_fan_and_leaks():
    calm = conditions("mild", wind_speed_m_s=0.0, outdoor_c=21.0)
    found = LAB.solve(calm, 20.0)
    given, walls = SITE.leakage, 0.0
    for storey, dp in zip(SITE.storeys, found.pressure_pa[0], strict=True):
        area = leakage.wall_leakage_area(sum(storey.facade_m2), "exterior_wall", given.exterior_wall, given.edition) + storey.extra_leak_m2
        density = air.density(21.0, LAB.pressure_pa)
        walls += leakage.flow(dp, area, density, given.discharge_coefficient, given.wall_exponent, given.reference_pa)
    assert found.fan_flow_m3_s[0] + walls == pytest.approx(4.0, abs=1e-5)


def test_air_finds_its_way_through_a_standing_relief_fan_without_power():
    standing = LAB.solve(conditions("mild"), 0.0)
    assert standing.fan_flow_m3_s[0] > 0.5
    assert standing.power_w[0] == 0.0
    assert LAB.solve(conditions("mild"), 30.0).power_w[0] > 100.0


@settings(max_examples=15, derandomize=True, deadline=None)
@given(st.floats(-25, 40), st.floats(0, 20), st.floats(0, 360), st.floats(-3, 8), st.floats(0, 1))
def test_every_weather_and_balance_finds_its_pressures(outdoor, wind, bearing, surplus, door):
    odd = conditions(
        "mild", outdoor_c=outdoor, wind_speed_m_s=wind, wind_from_deg=bearing, surplus_m3_s=surplus, door_open=(door, 0.0, 0.0, 0.0)
    )
    held = LAB.hold(odd)
    assert held.air.converged.all()
    assert held.state[0] in ("held", "at lowest speed", "at full speed")


# ------------------------------------------------------------------------------------------------------------------ the loop in time


def test_the_loop_settles_at_its_set_point_where_the_patient_search_says():
    run = run_plant(LAB, conditions("mild"), setup_of(LAB, 120.0))
    assert run.reading_pa[-1, 0] == pytest.approx(5.0, abs=0.1)
    assert run.speed_hz[-1, 0] == pytest.approx(LAB.hold(conditions("mild")).air.speed_hz[0], abs=0.15)


def test_fewer_hoods_and_the_loading_door_are_met_within_a_minute():
    turns = (Turn(60.0, {"surplus_m3_s": 2.8}, 4.0), Turn(120.0, {"door_open": (1, 0, 0, 0)}, 6.0), Turn(180.0, {"door_open": 0.0}, 6.0))
    run = run_plant(LAB, conditions("mild"), setup_of(LAB, 240.0, events=turns, start_hz=24.0))
    for at in (118.0, 238.0):
        assert run.reading_pa[np.searchsorted(run.time_s, at), 0] == pytest.approx(5.0, abs=0.3)
    assert run.reading_pa[:, 0].min() < 4.0


@pytest.mark.parametrize(("start_hz", "end_hz"), [(12.0, 8.0), (45.0, 50.0)])
def test_the_wrong_action_runs_to_the_end_stop_that_the_first_error_says(start_hz, end_hz):
    wrong = Building(SITE.with_changes(control={"action": "reverse"}))
    run = run_plant(wrong, conditions("mild"), setup_of(wrong, 90.0, start_hz=start_hz))
    first = action.error(5.0, run.reading_pa[0, 0], "reverse")
    says = action.end_stop("reverse", -1, first)
    assert says == {8.0: "lowest speed", 50.0: "full speed"}[end_hz]
    assert run.speed_hz[-1, 0] == pytest.approx(end_hz, abs=1e-6)
    assert abs(run.tubes_pa[-1, :, 0].mean() - 5.0) > 5.0


def test_looked_up_and_solved_pressures_agree_within_half_a_pascal():
    turns = (Turn(20.0, {"surplus_m3_s": 1.9}, 5.0), Turn(50.0, {"door_open": (1, 0, 0, 0)}, 6.0))
    run = run_plant(LAB, conditions("winter"), setup_of(LAB, 80.0, events=turns))
    at = np.arange(1, len(run.time_s), 7)
    time, door = run.time_s[at], np.zeros((len(at), 4))
    surplus = np.interp(time, [20, 25], [4.0, 1.9])
    door[:, 0] = np.interp(time, [50, 56], [0, 1])
    solved = LAB.solve(conditions("winter", surplus_m3_s=surplus, door_open=door), run.speed_hz[at - 1, 0])
    assert np.abs(run.tubes_pa[at, :, 0] - solved.readings_pa).max() < 0.5


def test_a_range_from_minus_to_plus_shows_a_building_below_outdoors_and_one_from_zero_does_not():
    from_zero = Building(SITE.with_changes(transmitters=[{"range_low_pa": 0.0}, {"range_low_pa": 0.0}]))
    turns = (Turn(10.0, {"surplus_m3_s": -1.0}, 2.0),)
    both, half = (run_plant(lab, conditions("mild"), setup_of(lab, 60.0, events=turns)) for lab in (LAB, from_zero))
    assert both.tubes_pa[-1, 0, 0] < -5
    assert both.readings_pa[-1, 0, 0] == pytest.approx(both.tubes_pa[-1, 0, 0], abs=0.1)
    assert half.readings_pa[-1, 0, 0] == pytest.approx(0.0, abs=0.5)


def test_a_swapped_tube_makes_the_relief_fan_lose_the_building():
    fault = TapFault(1, "tube swapped", at_s=60.0)
    run = run_plant(LAB, conditions("mild"), setup_of(LAB, 150.0, faults=(fault,)))
    assert run.tubes_pa[np.searchsorted(run.time_s, 59.0), :, 0].mean() == pytest.approx(5.0, abs=0.1)
    assert run.tubes_pa[-1, :, 0].mean() > 10.0


# ------------------------------------------------------------------------------------------------------------------ wrong input


def nine_seconds(*turns):
    return run_plant(LAB, conditions("mild"), setup_of(LAB, 9.0, events=turns))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: conditions("foggy"), "weather must be one of winter"),
        (lambda: conditions("mild", "lunch"), "balance must be one of day, hoods, night"),
        (lambda: conditions("mild", open_doors=(4,)), "open_doors must name storeys from 0 to 3, got 4"),
        (lambda: conditions("mild", floor_c=20.0), "changes must be among outdoor_c"),
        (lambda: conditions("mild", door_open=(1, 0)), "door_open must hold one value for each of 4 places, got 2"),
        (lambda: conditions("mild", door_open=2.0), "door_open must be from 0 to 1, got 2"),
        (lambda: conditions("mild", surplus_m3_s=np.nan), "surplus_m3_s must be a finite number"),
        (lambda: LAB.solve(conditions("mild"), -5.0), "speed_hz must be 0 or more, got -5"),
        (lambda: run_plant(LAB, conditions("mild"), setup_of(LAB, 0.0)), "length_s must be above 0"),
        (lambda: run_plant(LAB, conditions("mild"), setup_of(LAB, 9.0, sample_s=0.0)), "sample_s must be above 0"),
        (lambda: nine_seconds(Turn(10.0, {"surplus_m3_s": 1})), "at_s must be from 0 to 9"),
        (lambda: nine_seconds(Turn(1.0, {"rain": 1})), "to must be one of outdoor_c"),
        (lambda: nine_seconds(Turn(1, {"surplus_m3_s": 1}, 4), Turn(2, {"surplus_m3_s": 2})), "at_s must be 5 s or later"),
        (lambda: nine_seconds(Turn(1, {"door_open": 3.0})), "door_open must be from 0 to 1"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_weighted_reading_is_held_by_the_sites_own_weights_or_by_those_asked_for():
    weighted = plant_of(SITE.with_changes(control={"rule": "weighted", "weights": (0.9, 0.1)}))
    at, target = BuildingConditions.of(weighted.site), SITE.control.set_point_pa
    own, asked = weighted.hold(at), LAB.hold(at, rule="weighted", weights=(0.1, 0.9))
    mean = weighted.hold(at, rule="average")  # a rule that is asked for comes without the site's weights
    for held, weights in ((own, (0.9, 0.1)), (asked, (0.1, 0.9)), (mean, (0.5, 0.5))):
        assert held.state[0] == "held"
        assert held.air.readings_pa[0] @ weights == pytest.approx(target, abs=1e-3)
    assert np.ptp([held.air.speed_hz[0] for held in (own, asked, mean)]) > 0.1
