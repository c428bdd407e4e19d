"""Each thing a review looks for: a strategy that has it, and one that does not."""

from pathlib import Path

import numpy as np
import pytest

from helpers.model.site import SiteFileError, demo_sites, read_site
from helpers.model.strategy import FALLBACKS, applied, read_strategy, read_strategy_text
from helpers.studies.cases import conditions_of
from helpers.studies.figures import SEVERITIES
from helpers.studies.review import KINDS, review
from helpers.studies.review_bench import ReviewBench, displayed

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
COMFORT = {"mode": "comfort", "site": "larkfield_for_comfort"}  # a site file that does not have the fan for smoke control
STOP = {"stop_below_hz": 26.0, "stop_after_s": 300.0, "restart_deficit_pa": 10.0, "restart_after_s": 900.0}


@pytest.fixture(scope="module")
def larkfield():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture(scope="module")
def sound():
    return read_strategy(STRATEGIES / "larkfield_sound.toml")


def both(**change):
    return {"inputs": [change, change]}


def second(**change):
    return {"inputs": [{}, change]}


def loop(**change):
    return {"loop": change}


def comfort(**stop):
    return COMFORT | {"low_demand": STOP | stop}


# key, severity, a change that brings it, a change that leaves it out ({}: the sound strategy itself)
EACH = [
    ("no fallback", "wrong", {"on_bad_reading": {"does": "nothing"}}, {}),
    ("preset speed", "wrong", {"on_bad_reading": {"does": "go to a preset speed"}}, {}),
    ("preset speed", "wrong", {"on_bad_reading": {"does": "go to a preset speed", "preset_speed_hz": 45.0}},
     {"on_bad_reading": {"does": "go to a preset speed", "preset_speed_hz": 26.0}}),
    ("full speed", "attention", {}, loop(highest_speed_hz=22.0)),
    ("alarms inside", "attention", {"alarms": {"low_pa": 40.0}}, {}),
    ("alarms inside", "attention", {"alarms": {"high_pa": 40.0}}, {}),
    ("alarms blind", "attention", {"alarms": {"low_pa": None, "high_pa": None}}, {}),
    ("alarms blind", "attention", {"alarms": {"low_pa": 5.0}}, {}),
    ("alarms blind", "attention", {"alarms": {"high_pa": 110.0}}, {}),
    ("one reading", "attention", {"inputs": [{}]}, {}),
    ("entered range", "wrong", second(entered_high_pa=250.0), {}),
    ("entered range", "wrong", second(entered_signal="0-20 mA"), second(entered_signal="4-20 mA")),
    ("two scales", "wrong", second(entered_high_pa=250.0), both(entered_high_pa=250.0)),
    ("set point near end", "attention", both(range_high_pa=42.0), {}),
    ("set point near end", "wrong", second(range_high_pa=35.0), {}),
    ("error eats window", "wrong", both(accuracy_percent_span=20.0), {}),
    ("error eats window", "attention", both(accuracy_percent_span=4.0), {}),
    ("coarse steps", "attention", both(converter_bits=6), {}),
    ("one-sided", "attention", {}, both(range_low_pa=-125.0)),
    ("one-sided", "wrong", both(range_low_pa=30.0), both(range_low_pa=-125.0)),
    ("blind at full speed", "attention", both(range_high_pa=60.0), {}),
    ("wrong reference", "wrong", both(reference="outdoors"), {}),
    ("unlike low sides", "attention", second(reference="outdoors"), {}),
    ("reference in wind", "wrong", second(reference_in_wind=True), {}),
    ("dead wire unseen", "attention", both(signal="0-10 V"), both(signal="2-10 V")),
    ("unlike instruments", "attention", second(accuracy_percent_span=2.5), second(accuracy_percent_span=1.5)),
    ("average hides", "wrong", loop(set_point_pa=30.0), {}),
    ("highest leaves", "wrong", loop(rule="highest"), loop(rule="highest", set_point_pa=52.0)),
    ("lowest leaves", "wrong", {"inputs": [{"level": 12}, {"level": 13}], "loop": {"rule": "lowest"}},
     loop(rule="lowest", set_point_pa=28.0)),
    ("door too heavy", "wrong", loop(rule="lowest"), {}),
    ("tube off", "attention", {}, loop(highest_speed_hz=22.0)),
    ("set point fails", "wrong", loop(set_point_pa=55.0), {}),
    ("saturates", "attention", {}, loop(rule="highest", set_point_pa=30.0)),
    ("saturates", "wrong", loop(highest_speed_hz=15.0), loop(rule="highest", set_point_pa=30.0)),
    ("lowest speed", "wrong", loop(lowest_speed_hz=40.0), {}),
    ("at lowest speed", "attention", loop(lowest_speed_hz=26.0), {}),
    ("wrong action", "wrong", loop(action="direct"), {}),
    ("gain of other span", "wrong", loop(gain_found_on_pa=250.0), loop(gain_found_on_pa=125.0)),
    ("unstable", "wrong", loop(gain=12.0), {}),
    ("unstable", "attention", loop(gain=4.0), {}),
    ("integral and ramp", "wrong", loop(gain=1.1, integral_time_s=0.1, ramp_s=30.0), {}),
    ("no integral", "attention", loop(integral_time_s=None), {}),
    ("recovery", "attention", {}, COMFORT),
    ("recovery", "wrong", loop(ramp_s=20.0), COMFORT),
    ("mode", "wrong", {"mode": "comfort"}, {}),
    ("mode", "attention", COMFORT | {"mode": "smoke control"}, COMFORT),
    ("slow filter", "wrong", second(filter_s=3.0), {}),
    ("slow samples", "attention", loop(sample_s=0.5), {}),
    ("stop in fire", "wrong", {"low_demand": STOP}, comfort()),
    ("never stops", "attention", comfort(stop_below_hz=15.0), comfort()),
    ("never stops", "wrong", comfort(stop_below_hz=2.0), comfort()),
    ("cycles", "wrong", comfort(stop_below_hz=45.0), comfort()),
    ("deficit too deep", "wrong", comfort(restart_deficit_pa=25.0), comfort()),
    ("too many starts", "attention", comfort(stop_after_s=10.0, restart_after_s=5.0), comfort()),
]  # fmt: skip
NOT_BY_A_STRATEGY = {"infeasible"}  # the building's own; it has a test of its own


def site_for(strategy, larkfield):
    """The site a strategy of these tests is for."""
    return larkfield.with_changes(control={"fire_mode": strategy.site != COMFORT["site"]})


def found(strategy, site, key):
    """Findings of one kind alone."""
    (kind,) = [kind for kind in KINDS if kind.key == key]
    return list(kind.look(ReviewBench(strategy, site), "Pa"))


@pytest.mark.parametrize(("key", "severity", "bad", "well"), EACH)
def test_a_strategy_that_has_it_is_told_and_one_that_has_not_is_let_through(larkfield, sound, key, severity, bad, well):
    bad, well = sound.with_changes(**bad), sound.with_changes(**well)
    told = found(bad, site_for(bad, larkfield), key)
    assert [finding.severity for finding in told[:1]] == [severity]
    assert all(finding.what and finding.figure and finding.why and finding.source and finding.remedy for finding in told)
    assert found(well, site_for(well, larkfield), key) == []


def test_every_kind_is_tried_here():
    assert {kind.key for kind in KINDS} == {key for key, *_ in EACH} | NOT_BY_A_STRATEGY
    assert len({kind.key for kind in KINDS}) == len(KINDS) >= 25


def test_a_colder_winter_leaves_no_set_point_and_the_review_says_what_would(larkfield, sound):
    assert found(sound, larkfield, "infeasible") == []
    (finding,) = found(sound, larkfield.with_changes(weather={"winter": {"outdoor_c": -40.0}}), "infeasible")
    assert finding.severity == "wrong"
    assert "supply points" in finding.remedy


def test_doors_that_no_pressure_suits_are_told_before_all_set_points(larkfield, sound):
    heavy = larkfield.with_changes(doors={"flat landing": {"closer_force_n": 120.0}})
    (finding,) = found(sound, heavy, "infeasible")
    assert "No pressure at all" in finding.what


def test_the_gravest_comes_first_and_what_is_clear_is_named(larkfield, sound):
    told = review(sound.with_changes(**loop(action="direct")), larkfield)
    order = [SEVERITIES.index(finding.severity) for finding in told.findings]
    assert order == sorted(order)
    assert "wrong action" in told.keys
    assert len(told.clear) + len(told.keys) == len(KINDS)
    assert told.verdict().startswith("1 FAIL")


def test_the_sound_strategy_has_nothing_wrong(larkfield, sound):
    assert [finding for finding in review(sound, larkfield).findings if finding.severity == "wrong"] == []


def test_speeds_looked_up_are_those_the_network_is_held_at(larkfield, sound):
    bench = ReviewBench(sound, larkfield)
    real = bench.tower.hold(conditions_of(bench.site, bench.cases))
    assert list(bench.held.state) == list(real.state)
    assert np.abs(bench.held.doors_pa - real.air.door_dp_pa).max() < bench.tolerance_pa


def test_a_set_point_said_to_work_works_and_the_next_one_does_not(larkfield, sound):
    bench = ReviewBench(sound, larkfield)
    works, (least, most) = bench.set_points("average"), bench.limits
    for target, good in ((works.min(), True), (works.max(), True), (works.min() - 1, False), (works.max() + 1, False)):
        doors = bench.rest(set_point_pa=target).doors_pa[bench.shut]
        inside = (doors >= least - bench.tolerance_pa) & (doors <= most + bench.tolerance_pa)
        assert inside.all() == good, target


@pytest.mark.parametrize(
    ("change", "true_pa", "shown_pa"),
    [
        ({}, 50.0, 50.0),
        ({"entered_high_pa": 250.0}, 50.0, 100.0),
        ({"entered_signal": "0-20 mA"}, 0.0, 25.0),  # 4 mA of 20 mA
        ({"signal": "0-20 mA", "entered_signal": "4-20 mA"}, 25.0, 0.0),  # 4 mA: the live zero
        ({}, 200.0, 125.0 * 1.03125),  # 20.5 mA, where a transmitter stops
    ],
)
def test_a_display_shows_what_was_entered_makes_of_the_signal(sound, change, true_pa, shown_pa):
    one = sound.with_changes(inputs=[change, {}]).inputs[0]
    assert displayed([one], np.array([true_pa]))[0] == pytest.approx(shown_pa)


def test_in_inches_the_findings_speak_inches(larkfield, sound):
    words = " ".join(
        f"{f.what} {f.figure} {f.why} {f.remedy}" for f in review(sound.with_changes(**loop(rule="lowest")), larkfield, "in. w.c.").findings
    )
    assert " Pa" not in words
    assert "in. w.c." in words
    assert " N " not in words


def test_a_transmitter_on_a_storey_that_is_not_there_is_refused_with_its_place(larkfield, sound):
    with pytest.raises(SiteFileError, match=r"\[\[transmitters\]\] number 2, level: must be a storey of this site.*got 40"):
        applied(sound.with_changes(**second(level=40)), larkfield)


@pytest.mark.parametrize(
    ("before", "after", "sentence"),
    [
        ('rule = "average"', 'rule = "middle"', r"line \d+, \[loop\] rule: must be another"),
        ('set_point = "40 Pa"', 'set_point = "40"', r"line \d+, \[loop\] set_point: must be a pressure"),
        ('does = "use the good ones"', 'does = "pray"', r"line \d+, \[on_bad_reading\] does: must be one of"),
        ('level = 12', 'level = 12\nentered_high = "-5 Pa"', r"\[\[inputs\]\] number 2, entered_high: must be above entered_low"),
        ('name = "PT-2 high"', 'name = "PT-1 low"', r"\[\[inputs\]\] number 1, name: must differ"),
        ('mode = "smoke control"', "", "mode: is missing"),
        ('kind = "strategy"', 'kind = "stair"', "kind: must be 'strategy'"),
    ],
)  # fmt: skip
def test_a_strategy_file_that_cannot_be_read_is_refused_with_the_line(before, after, sentence):
    text = (STRATEGIES / "larkfield_sound.toml").read_text(encoding="utf-8")
    assert before in text
    with pytest.raises(SiteFileError, match=sentence):
        read_strategy_text(text.replace(before, after))


def test_every_fallback_has_its_words():
    assert "nothing" in FALLBACKS
    assert len(set(FALLBACKS)) == len(FALLBACKS)


# Five strategies with mistakes that were written down before the review saw them: what a review must find on each, whatever else it says.
TWIN = {"range_high_pa": 250.0, "accuracy_percent_span": 2.0}
FIVE = {
    "a quick fix on true-zero signals": (
        {"loop": {"rule": "highest", "gain": 0.5, "integral_time_s": 10.0}, "on_bad_reading": {"does": "nothing"}}
        | both(signal="0-10 V", filter_s=4.0),
        {"highest leaves", "set point fails", "dead wire unseen", "no fallback", "slow filter", "recovery"},
    ),
    "a gain for nobody and no integral": (
        {"loop": {"gain": 30.0, "integral_time_s": None}, "alarms": {"low_pa": 39.0, "high_pa": 200.0}},
        {"no integral", "unstable", "alarms inside", "alarms blind"},
    ),
    "new instruments, half of the entries": (
        {"inputs": [TWIN, TWIN | {"entered_high_pa": 125.0}], "loop": {"gain_found_on_pa": 125.0}, "low_demand": STOP},
        {"entered range", "two scales", "gain of other span", "stop in fire", "error eats window"},
    ),
    "a comfort fan that may never rest": (
        {"loop": {"sample_s": 2.0, "integral_time_s": 4.0}, "on_bad_reading": {"does": "go to a preset speed"}}
        | comfort(stop_below_hz=18.0, stop_after_s=10.0, restart_deficit_pa=20.0, restart_after_s=2.0),
        {"never stops", "deficit too deep", "too many starts", "preset speed", "slow samples"},
    ),
    "one instrument, the other way round": (
        {
            "inputs": [{"level": 0, "range_high_pa": 50.0}],
            "loop": {"action": "direct", "set_point_pa": 45.0, "ramp_s": 30.0},
            "alarms": {"low_pa": None, "high_pa": None},
        },
        {"wrong action", "one reading", "set point near end", "blind at full speed", "recovery", "alarms blind"},
    ),
}


@pytest.mark.parametrize("name", FIVE)
def test_mistakes_written_down_beforehand_are_all_found(larkfield, sound, name):
    change, mistakes = FIVE[name]
    strategy = sound.with_changes(**change)
    assert mistakes <= set(review(strategy, site_for(strategy, larkfield)).keys)
