"""Record, review and papers of a garage of two gases: shares where both are held against each other, ppm where one is entered."""

from functools import cache

import numpy as np
import pytest
from held_texts import record_numbers, strange

from helpers.formulas.combining import combine
from helpers.model.plants.garage import Garage
from helpers.model.plants.kinds import any_applied, both_in_shares, read_any_site
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import SITES_FOLDER, demo_sites
from helpers.record.papers.folder import Folder
from helpers.record.plants.design import PlantDesign
from helpers.record.review.curves import widest_apart
from helpers.record.review.study import bench_of, review
from helpers.studies.tuning.two_loops import ONE, TRACKED, UNTRACKED, two_loops

PATH = SITES_FOLDER.parent / "variants" / "orchard_garage_two_gases.toml"
SITE = read_any_site(PATH)


@cache
def design():
    return PlantDesign(SITE)


@cache
def papers():
    return {paper.key: paper for paper in Folder.of(design()).papers}


def line(group, name):
    return next(one for one in design().lines if (one.group, one.name) == (group, name))


def changed(inputs=None, **changes):
    """The settings that are laid down, with some changed; inputs: {number: changes}."""
    made = design().strategy
    if inputs:
        changes["inputs"] = [inputs.get(number, {}) for number in range(len(made.inputs))]
    return made.with_changes(**changes)


def keys(strategy):
    return review(strategy, SITE).keys


# ---------------------------------------------------------------------------------------------------------------------- the record


def test_the_bench_holds_each_gas_at_the_whole_of_its_share_and_judges_it_by_its_own_error():
    bench = design().bench
    assert (bench.set_point, bench.dimension) == (100.0, "percent")
    assert bench.errors == pytest.approx([8.0] * 3 + [10.0] * 3)  # 2 ppm of 25, 0.1 ppm of 1
    assert bench.limits[1][0] == pytest.approx([108.0] * 3 + [110.0] * 3)
    names = [case.name for case in bench.cases]
    garage = Garage(SITE)
    for name in ("rush", "deliveries"):
        held = garage.hold(GarageConditions.of(SITE, name))
        assert bench.held.speed_hz[names.index(name)] == pytest.approx(held.speed_hz[0], abs=0.15)
    assert bench.inside(bench.held)[bench.settled].all()


def test_what_a_person_enters_is_in_ppm_of_its_own_gas():
    assert line("loop", "set point").value.startswith("25 ppm of carbon monoxide and 1 ppm of nitrogen dioxide")
    assert line("loop", "share of a reading").value.endswith(
        "4 times its ppm for carbon monoxide and 100 times its ppm for nitrogen dioxide"
    )
    assert line("NO2-1", "display at the high end of the signal").value == "5 ppm at 20 mA"
    assert line("failure", "alarm on NO2-1").value == "above 1.3 ppm, for 60 s"  # 0.3 of the set point above it
    assert line("failure", "alarm on CO-1").value == "above 32.5 ppm, for 60 s"
    assert line("combining", "gas that is read").value == "carbon monoxide and nitrogen dioxide alone"
    shown = next(table for table in design().section("signal").tables if table.key == "injected").rows
    assert ("NO2-1", "50 %", "12 mA", "2.5 ppm", "") in shown
    assert ("CO-1", "50 %", "12 mA", "50 ppm", "") in shown


def test_readings_of_two_gases_are_never_held_against_each_other():
    bench = design().bench
    seen = np.array([100.0, 90.0, 80.0, 30.0, 20.0, 10.0])
    assert widest_apart(bench, seen) == 20.0
    assert "readings of one gas held against each other" in line("failure", "alarm on difference of any two readings").value


def test_a_garage_with_one_transmitter_of_each_gas_has_no_difference_to_watch():
    taps = [SITE.transmitters[0].model_dump(), SITE.transmitters[3].model_dump()]
    made = PlantDesign(type(SITE).model_validate(SITE.model_dump() | {"transmitters": taps}))
    assert made.strategy.alarms.difference_ppm is None
    assert "one reading" in made.review.keys
    assert not [one for one in made.lines if one.name in ("alarm on difference of any two readings", "two gas readings too far apart")]


def test_a_stop_starts_again_by_the_same_share_of_either_gas_and_fails_without_leave():
    stop = {"stop_below_hz": 10.0, "stop_after_s": 600.0, "restart_above_ppm": 5.0, "restart_after_s": 60.0}
    made = PlantDesign(SITE.with_changes(control={"low_demand": stop}))
    restart = next(one for one in made.lines if (one.group, one.name) == ("low demand", "restart"))
    assert "5 ppm of carbon monoxide and 0.2 ppm of nitrogen dioxide above the set point for 60 s" in restart.value
    assert restart.value.startswith("FAIL")
    assert made.bench.strategy.low_demand.restart_above_ppm == pytest.approx(20.0)  # per cent of either set point


# ---------------------------------------------------------------------------------------------------- one loop, and two loops in time


def test_one_loop_on_the_greater_share_is_two_loops_that_track_and_better_than_two_that_wind_up():
    loops = two_loops(SITE)
    one, tracked, untracked = (loops.played[way].output_percent for way in (ONE, TRACKED, UNTRACKED))
    low, high = (100 * speed / SITE.fan.highest_speed_hz for speed in (SITE.fan.lowest_speed_hz, SITE.fan.highest_speed_hz))
    at = loops.turns.index(("rush", "deliveries"))
    inside = (one[:, at] > low) & (one[:, at] < high)
    assert inside[loops.after].all()
    assert np.abs(one - tracked)[loops.after, at].max() < 0.25  # ends of the speed, long before, are taken otherwise
    no2 = {way: loops.peaks(way)[1, at] for way in (ONE, TRACKED, UNTRACKED)}
    assert no2[ONE] == pytest.approx(no2[TRACKED], abs=0.3)
    assert no2[UNTRACKED] > no2[ONE] + 5.0  # the loop of the gas that comes had gone down to the lowest speed
    assert no2[ONE] < 110.0 < no2[UNTRACKED]
    assert np.abs(one - untracked)[loops.after, at].max() > 5.0


def test_the_one_loop_of_the_comparison_is_the_loop_of_the_model():
    loops, garage = two_loops(SITE), Garage(SITE)
    after = GarageConditions.of(SITE, "deliveries")
    turn = Turn(5400.0, {"running": after.running[0], "engines_share": after.engines_share})
    run = run_plant(garage, GarageConditions.of(SITE, "rush"), setup_of(garage, 9000.0, events=(turn,)))
    own = 4.0 * run.tubes_pa[:, :, 0]
    at = loops.turns.index(("rush", "deliveries"))
    for gas, taps in enumerate((slice(0, 3), slice(3, 6))):
        peak = own[run.time_s >= 5400.0, taps].max()
        assert loops.peaks(ONE)[gas, at] == pytest.approx(peak, abs=0.5)


def test_two_loops_are_asked_of_two_gases_alone():
    with pytest.raises(ValueError, match="site must be a garage of two gases, got one of 'carbon monoxide' alone"):
        two_loops(read_any_site(demo_sites("garage")["Orchard Garage"]))


def test_the_record_has_the_comparison_with_the_worst_turn_of_each_way():
    table = next(table for table in design().section("held").tables if table.key == "loops")
    assert [row[0] for row in table.rows] == [ONE, TRACKED, UNTRACKED]
    assert "nitrogen dioxide" in table.rows[0][1]
    loops, most = design().loops, [108.0, 110.0]
    kept = loops.past_s(ONE, most).max() == 0
    assert table.states[0] == ("good" if kept else "attention")


# ----------------------------------------------------------------------------------------------------------------------- the review


def test_shares_of_shares_are_themselves_and_the_first_gas_keeps_its_figures():
    strategy, site = both_in_shares(design().strategy, SITE)
    again, same = both_in_shares(strategy, site)
    assert (again, same) == (strategy, site)
    assert strategy.inputs[3].range == pytest.approx((0.0, 500.0))
    assert site.second_gas.emission_m3_s == pytest.approx(100 * SITE.second_gas.emission_m3_s)
    display = combine(np.array([25.0 * 4, 0.5 * 100]), "highest")
    assert display == 100.0


def test_the_settings_that_are_laid_down_fail_in_nothing_and_a_mean_of_two_gases_does():
    assert not [one for one in design().review.found if one.finding.severity == "wrong"]
    found = review(changed(loop={"rule": "average"}), SITE)
    out = [one.finding for one in found.found if one.finding.severity == "wrong"]
    assert out
    assert any("level -1, nitrogen dioxide has 167 % where 110 % is the most" in one.what for one in out)


def test_a_nitrogen_dioxide_range_entered_as_that_of_the_other_gas_is_found():
    found = review(changed(inputs={3: {"entered_low_ppm": 0.0, "entered_high_ppm": 100.0}}), SITE)
    entry = next(one.finding for one in found.found if one.key == "entered range")
    assert entry.figure.startswith("entered 0 to 100 ppm at 4-20 mA, plate 0 to 5 ppm at 4-20 mA")
    scales = next(one.finding for one in found.found if one.key == "two scales")
    assert scales.what == "NO2-1 and NO2-2 are scaled differently"


def test_an_alarm_above_the_range_or_none_at_all_is_found():
    assert "alarm never" in keys(changed(inputs={3: {"alarm_high_ppm": 90.0}}))
    none = {number: {"alarm_high_ppm": None} for number in range(6)}
    assert "no alarms" in keys(changed(inputs=none, alarms={"difference_ppm": None}))


def test_a_strategy_of_a_gas_that_is_not_there_or_with_a_set_point_too_many_is_refused():
    with pytest.raises(SiteFileError, match="must be one of the gases"):
        any_applied(changed(inputs={3: {"gas": "methane"}}), SITE)
    one = read_any_site(demo_sites("garage")["Orchard Garage"])
    strategy = PlantDesign(one).strategy.with_changes(loop={"second_set_point_ppm": 1.0})
    with pytest.raises(ValueError, match="second_set_point must be left out on a site of one gas"):
        any_applied(strategy, one)
    with pytest.raises(ValueError, match="set_point must be above 0 ppm where two gases are held; got 25 and 0 ppm"):
        bench_of(changed(loop={"second_set_point_ppm": 0.0}), SITE)


# ----------------------------------------------------------------------------------------------------------------------- the papers


def test_every_number_of_every_paper_stands_in_the_record():
    known = record_numbers(design())
    assert {key: strange(paper, known) for key, paper in papers().items()} == {key: {} for key in papers()}


def test_points_alarms_and_sequence_have_both_gases():
    points = {row[0]: row for row in papers()["points"].parts[0].tables[0].rows}
    assert {"NO2-1", "CO-1", "NO2-1, share of its set point", "reading that runs the fan", "NO2-3, gas alarm of its zone"} < set(points)
    assert "set point" not in points
    assert points["combined reading"][4] == "%"
    assert "zone level -1, nitrogen dioxide" in points["NO2-1, gas alarm of its zone"][1]
    alarms = {row[0]: row for row in papers()["alarms"].parts[0].tables[0].rows}
    assert alarms["NO2-2"][1] == "above 1.3 ppm"
    assert "NO2-2, signal above its range" in alarms
    states = {part.title: " ".join(part.steps) for part in papers()["sequence"].parts}
    assert "100 times its ppm for nitrogen dioxide" in states["Run, the loop holds its reading"]
    assert "the two are never added up" in states["Gas alarm"]
    assert "a lost reading of either gas" in states["A reading lost"]
    run = next(part for part in papers()["sequence"].parts if part.title == "Run, the loop holds its reading")
    assert [table.key for table in run.tables] == ["held", "rushes", "loops"]
    asked = [row for part in papers()["enquiry"].parts for table in part.tables for row in table.rows if "other gases" in row]
    assert len(asked) == 1
    assert "25 ppm of carbon monoxide and 1 ppm of nitrogen dioxide" in repr(papers()["owner"])
