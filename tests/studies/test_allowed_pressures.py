"""One answer to which pressures a site allows at each door, reclosing included: every page and study that judges doors asks it."""

from functools import cache

import numpy as np
import pytest
from demo_designs import design_for

from helpers.model.air.tower import Tower
from helpers.model.plants.kinds import read_any_strategy
from helpers.model.site.file import demo_sites, read_site
from helpers.record.review.stair_bench import ReviewBench
from helpers.studies.cases import STAIR_AIR
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.faults_by_rule import RuleBench
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.report import inside_text
from helpers.studies.status import word_of
from helpers.units.said import written_out

SYSTEMS = ("Pa", "in. w.c.")
STAIRS = ("Larkfield House", "Northgate Tower", "Tannery Row")
LIGHT = {"doors": {"street": {"closer_force_n": 49.0}}}  # a closer that lets the leaf stand ajar sooner
CHANGED = {
    "as it is": {},
    "a light closer": LIGHT,
    "weak fan": {"fan": {"flows_m3_s": tuple(0.3 * flow for flow in (0, 1, 1.5, 2, 2.5, 3, 3.5)), "duct_loss_flow_m3_s": 0.75}},
    "European criteria": {"standard": "en12101_6_2005", "doors": {"flat landing": {"minimum_dp_pa": 20.0}}},
}


@cache
def site_of(name, change="as it is"):
    found = read_site(demo_sites()[name])
    return found.with_changes(**CHANGED[change]) if CHANGED[change] else found


@cache
def design_of(name, change="as it is"):
    return design_for(site_of(name, change))


@cache
def bench_of(name, change="as it is"):
    """The review of a strategy that is the site file's own."""
    site, strategy = site_of(name, change), read_any_strategy(demo_sites()[name].parents[1] / "strategies" / "larkfield_sound.toml")
    made = strategy.with_changes(
        loop={"rule": site.control.rule, "set_point_pa": site.control.set_point_pa, "set_point_percent_span": None},
        inputs=[
            {
                "name": tap.name, "level": tap.level, "range_low_pa": tap.range_low_pa, "range_high_pa": tap.range_high_pa,
                "reference": tap.reference,
            }
            for tap in site.transmitters
        ],
    )  # fmt: skip
    return ReviewBench(made, site)


def recorded(design, rule):
    return next(one for one in design.set_points if one.rule == rule).works(design.shut_cases)


@pytest.mark.parametrize("change", CHANGED)
@pytest.mark.parametrize("system", SYSTEMS)
def test_record_review_and_lesson_06_give_one_range_of_set_points(change, system):
    """With all doors shut record and lesson; of these the record passes what the stated fan holds in every required case, and so does the
    review."""
    design, bench = design_of("Tannery Row", change), bench_of("Tannery Row", change)
    lesson = RuleBench(design.site, third_level=3)
    for rule in ("average", "lowest", "highest"):
        run = recorded(design, rule) if design.set_points else None
        good = bench.set_points(rule)
        assert lesson.recorded_pa(rule) == run, rule
        if run is None:
            assert not good.size, rule
            continue
        if rule == design.own.rule and (passing := design.standing.passing) is not None:
            assert written_out(inside_text(*passing), system) == written_out(inside_text(good.min(), good.max()), system)
        assert not good.size or run[0] - 0.5 <= good.min() <= good.max() <= run[1] + 0.5, rule
        for stair in STAIR_AIR:  # what the lesson shows at one temperature is never narrower, in the winter whose wind it takes
            low, high = lesson.set_points_pa(design.site.weather["winter"].outdoor_c, rule=rule, stair=stair)
            assert low <= run[0] + 0.1
            assert high >= run[1] - 0.1


@pytest.mark.parametrize("name", STAIRS)
def test_every_study_judges_every_door_by_the_same_two_ends(name):
    design = design_of(name)
    site, tower = design.site, design.tower
    allowed = {
        (door.use, door.door, level): (door.least_pa, door.most_pa) for door in allowed_pressures(site).doors for level in door.levels
    }

    def ends(column):
        return (column.use, column.window.door, column.level), (column.window.least_pa, column.window.most_pa)

    asked = {
        "standing": [
            ((door.use, door.door, level), (door.least_pa, door.most_pa)) for door in design.standing.window.doors for level in door.levels
        ],
        "placement": list(map(ends, design.placement.question.doors)),
        "year": [ends(year.door) for year in design.year.doors],
    }
    for what, found in asked.items():
        assert found, what
        for key, both in found:
            assert allowed[key] == both, (what, key)
    bench = bench_of(name) if name != "Northgate Tower" else None
    if bench is not None:
        most = bench.other_limits[1]
        exits = [door for door in allowed_pressures(site).doors if door.use == "final exit"]
        assert list(most) == [door.most_pa for door in exits]
        assert np.isfinite(most).all()
    assert tower.site is site


def test_the_year_counts_the_hours_in_which_the_street_door_would_not_close_again():
    year = design_of("Larkfield House").year
    (street,) = [one for one in year.doors if one.door.use == "final exit"]
    assert street.hours_high > 0
    assert street.highest_pa > street.door.window.most_pa
    assert street.door.means("high") == NOT_CLOSING


def test_the_placement_counts_it_and_names_the_street_door():
    found = design_of("Larkfield House").placement
    own = found.result(found.number_of(found.question.own))
    assert own.fails_most == "final exit 0"
    assert own.inside < 0.05


def test_alarms_tell_of_a_street_door_that_would_not_close_again_or_say_that_they_do_not():
    """The loop of a light closer, held at a set point that leaves the final exit door ajar, is no sound loop to take alarm limits from."""
    site = read_site(demo_sites()["Tannery Row"]).with_changes(**LIGHT)
    sites = [one.with_changes(control={"set_point_pa": 38.0}) for one in (site_of("Tannery Row"), site)]
    sound, ajar = (fallback_study(Tower(one), pressure_window(one)).alarm_limits for one in sites)
    assert sound is not None
    assert ajar is not None
    ends = [[(one.low_pa, one.high_pa) for one in limits.readings] for limits in (sound, ajar)]
    assert all(low >= least and high <= most for (low, high), (least, most) in zip(ends[1], ends[0], strict=True))
    assert ends[0] != ends[1]  # loops that leave the final exit door ajar are no sound ones: the limits lie nearer
    assert sound.silent is None or "final exit" not in sound.silent.door
    assert ajar.silent.door == "final exit 0"


def test_lesson_06_names_the_street_door_where_it_is_the_one_that_ends_the_range():
    bench = RuleBench(site_of("Larkfield House"), third_level=7)
    low, high = bench.set_points_pa(-9.0)
    (beyond,) = bench.ruled(-9.0, high + 1.0, rules=("average",))
    assert low < high
    assert word_of(beyond.status) == "FAIL"
    assert beyond.worst.column.use == "final exit"
    assert beyond.worst.column.means("high") == NOT_CLOSING


def test_a_set_point_that_leaves_the_street_door_ajar_does_not_suit_in_the_review():
    bench = bench_of("Tannery Row", "a light closer")
    points, stair_alone = bench.set_points("average"), bench.set_points_in("average", bench.settled, others=False)
    assert points.max() < stair_alone.max()
