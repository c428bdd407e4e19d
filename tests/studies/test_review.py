"""Each thing a review looks for: a strategy that has it, and one that does not."""

import re
from pathlib import Path

import numpy as np
import pytest
from demo_designs import review_of

from helpers.model.plants.kinds import read_any_strategy, read_any_strategy_text
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site
from helpers.model.strategy import FALLBACKS, applied
from helpers.record.review.curves import displayed
from helpers.record.review.drive import shaft_power_w
from helpers.record.review.kinds import BUILDING
from helpers.record.review.stair_bench import ReviewBench
from helpers.record.review.study import CAUSES, KINDS, cause_of, review
from helpers.studies.cases import conditions_of
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.status import SEVERITIES
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
COMFORT = {"mode": "comfort", "site": "larkfield_for_comfort"}  # a site file that does not have the fan for smoke control
STOP = {"stop_below_hz": 31.0, "stop_after_s": 300.0, "restart_deficit_pa": 10.0, "restart_after_s": 900.0}
WIDE = {"range_low_pa": -25.0, "range_high_pa": 125.0}
LOW, HIGH = WIDE | {"alarm_low_pa": 23.0, "alarm_high_pa": 53.0}, WIDE | {"alarm_low_pa": 43.0, "alarm_high_pa": 73.0}


@pytest.fixture(scope="module")
def larkfield():
    """With lighter closers, so that some set point suits every door in the first minute of a winter night too."""
    lighter = {"flat landing": {"closer_force_n": 45.0}, "street": {"closer_force_n": 60.0}}
    return read_site(demo_sites()["Larkfield House"]).with_changes(doors=lighter)


@pytest.fixture(scope="module")
def sound():
    """As the strategy that comes with the workbook, for the doors with lighter closers."""
    told = read_any_strategy(STRATEGIES / "larkfield_sound.toml")
    changes = {"loop": {"set_point_pa": 48.0}, "on_bad_reading": {"preset_speed_hz": 29.0}, "alarms": {"difference_pa": 49.0}}
    return told.with_changes(inputs=[LOW, HIGH], **changes)


def both(**change):
    return {"inputs": [change, change]}


def second(**change):
    return {"inputs": [{}, change]}


def loop(**change):
    return {"loop": change}


def failed(does, **more):
    return {"on_bad_reading": {"does": does} | more}


def alarms(**change):
    return {"alarms": change}


def comfort(**stop):
    return COMFORT | {"low_demand": STOP | stop}


# A final exit door with a drive of its own, that no closer has to shut again.
DRIVEN = {"street": dict.fromkeys(("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share"))}
# Alarms on the combined reading alone, as a strategy of former days has them.
COMBINED = {
    "inputs": [{"alarm_low_pa": None, "alarm_high_pa": None}] * 2,
    "alarms": {"low_pa": 30.0, "high_pa": 70.0, "difference_pa": None},
}
NO_ALARMS = {"inputs": COMBINED["inputs"], "alarms": {"difference_pa": None, "end_stop_after_s": None}}
OWN, KEEP, SPEED = "remaining reading at its own set point", "keep the speed", "agreed fallback speed"

# key, severity, a change that brings it, a change that leaves it out ({}: the sound strategy itself)
EACH = [
    ("no fallback", "wrong", failed("nothing"), {}),
    ("fallback", "wrong", failed("use the good ones"), {}),
    ("fallback", "wrong", failed(OWN), failed(SPEED)),
    ("fallback", "wrong", failed(OWN, set_points_pa={"PDT-1": 60.0, "PDT-2": 60.0}), {}),
    ("hold the last", "wrong", failed(KEEP), {}),
    ("stop on failure", "wrong", failed("stop"), {}),
    ("fallback late", "wrong", failed(SPEED, after_s=600.0), {}),
    ("preset speed", "wrong", failed(SPEED, preset_speed_hz=None), failed(KEEP, preset_speed_hz=None)),
    ("preset speed", "wrong", failed(SPEED, preset_speed_hz=48.0), failed(KEEP, preset_speed_hz=None)),
    ("last reading", "attention", failed("use the good ones", preset_speed_hz=None), {}),
    ("restart", "attention", {"restart": None}, {}),
    ("restart", "wrong", {"restart": {"after_mains": "by hand"}}, {}),
    ("restart", "attention", {"restart": {"catches_turning_wheel": False}}, {}),
    ("one reading", "attention", {"inputs": [{}]} | failed(SPEED), {}),
    ("no alarms", "wrong", NO_ALARMS, {}),
    ("alarms inside", "attention", COMBINED | alarms(low_pa=46.0, difference_pa=None), {}),
    ("alarms inside", "wrong", {"inputs": [{"alarm_low_pa": 40.0}, {}]}, {}),
    ("alarms inside", "wrong", alarms(difference_pa=20.0), {}),
    ("alarms silent", "wrong", COMBINED, NO_ALARMS),
    ("exit silent", "wrong", COMBINED | loop(set_point_pa=20.0), {}),
    ("alarm never", "wrong", alarms(high_pa=150.0), {}),
    ("alarm never", "wrong", {"inputs": [{}, {"alarm_low_pa": -20.0}]}, {}),
    ("alarm at once", "attention", alarms(after_s=0.0), {}),
    ("alarm late", "attention", alarms(after_s=90.0), {}),
    ("alarm late", "wrong", alarms(after_s=600.0), {}),
    ("end stop", "attention", alarms(end_stop_after_s=None), {}),
    ("full speed", "wrong", {}, loop(highest_speed_hz=24.0)),
    ("lowest speed", "wrong", loop(lowest_speed_hz=46.0), {}),
    ("motor", "wrong", loop(highest_speed_hz=60.0), {}),
    ("entered range", "wrong", second(entered_high_pa=250.0), {}),
    ("entered range", "wrong", second(entered_signal="0-20 mA"), second(entered_signal="4-20 mA")),
    ("two scales", "wrong", second(entered_high_pa=250.0), both(entered_high_pa=250.0)),
    ("set point near end", "attention", both(range_high_pa=52.0), {}),
    ("set point near end", "wrong", second(range_high_pa=35.0), {}),
    ("error eats window", "wrong", both(accuracy_percent_span=25.0), {}),
    ("error eats window", "attention", both(accuracy_percent_span=4.0), {}),
    ("coarse steps", "attention", both(converter_bits=6), {}),
    ("one-sided", "attention", both(range_low_pa=0.0), {}),
    ("one-sided", "wrong", both(range_low_pa=40.0), {}),
    ("blind at full speed", "attention", both(range_high_pa=60.0), {}),
    ("wrong reference", "wrong", both(reference="outdoors"), {}),
    ("other level", "attention", second(level=11), {}),
    ("unlike low sides", "wrong", second(reference="outdoors"), {}),
    ("reference in wind", "wrong", second(reference_in_wind=True), {}),
    ("dead wire unseen", "wrong", {"inputs": [{"signal": "0-10 V"}] * 2, "loop": {"rule": "lowest", "set_point_pa": 28.0}},
     both(signal="2-10 V")),
    ("unlike units", "attention", second(display_unit="in. w.c."), {}),
    ("unlike instruments", "attention", second(accuracy_percent_span=2.5), second(accuracy_percent_span=1.5)),
    ("average hides", "wrong", loop(set_point_pa=36.0), {}),
    ("highest leaves", "wrong", loop(rule="highest"), {}),
    ("lowest leaves", "wrong", {"inputs": [{"level": 12}, {"level": 13}], "loop": {"rule": "lowest"}},
     loop(rule="lowest", set_point_pa=28.0)),
    ("door too heavy", "wrong", loop(rule="lowest"), {}),
    ("tube off", "wrong", {}, loop(highest_speed_hz=40.0)),
    ("set point fails", "wrong", loop(set_point_pa=62.0), {}),
    ("at lowest speed", "attention", loop(lowest_speed_hz=36.0), {}),
    ("two temperatures", "wrong", loop(set_point_pa=42.0), {}),
    ("at one end", "attention", {"inputs": [{"level": 7}, {"level": 9}]}, {}),
    ("at one end", "wrong", {"inputs": [{"level": 12}, {"level": 13}]}, {}),
    ("saturates open", "wrong", {}, loop(rule="highest", set_point_pa=20.0)),
    ("highest speed", "wrong", loop(highest_speed_hz=15.0), {}),
    ("beyond the site", "wrong", loop(highest_speed_hz=60.0), {}),
    ("saturates", "wrong", loop(set_point_pa=110.0), loop(rule="highest", set_point_pa=20.0)),
    ("wrong action", "wrong", loop(action="direct"), {}),
    ("gain of other span", "wrong", loop(gain_found_on_pa=250.0), loop(gain_found_on_pa=150.0)),
    ("unstable", "wrong", loop(gain=20.0), {}),
    ("unstable", "attention", loop(gain=3.0), {}),
    ("integral unit", "wrong", loop(integral_time_s=240.0), {}),
    ("integral unit", "wrong", loop(integral_time_s=3600.0), {}),
    ("filter and integral", "wrong", second(filter_s=3.0), {}),
    ("filter and integral", "wrong", second(damping_s=3.0), {}),
    ("no integral", "wrong", loop(integral_time_s=None), {}),
    ("derivative", "attention", loop(derivative_time_s=0.2), {}),
    ("dead band", "wrong", loop(dead_band_pa=10.0), loop(dead_band_pa=0.5)),
    ("slow samples", "attention", loop(sample_s=0.5), {}),
    ("robust tuning", "wrong", loop(gain=1.07, integral_time_s=0.53), {}),
    ("robust tuning", "wrong", loop(gain=0.6, integral_time_s=4.0), {}),
    ("integral and ramp", "attention", loop(gain=0.5, integral_time_s=0.4), {}),
    ("sleeps", "wrong", loop(gain=0.02, integral_time_s=4.0), {}),
    ("sleeps", "wrong", loop(gain=0.02, integral_time_s=0.66), {}),
    ("sleeps", "attention", loop(gain=0.05, integral_time_s=0.66), loop(gain=0.08, integral_time_s=0.66)),
    ("long damping", "wrong", both(damping_s=4.0), both(damping_s=1.0)),
    ("long damping", "attention", both(filter_s=2.5), {}),
    ("swings", "wrong", loop(gain=1.0, integral_time_s=0.05), {}),
    ("integral and ramp", "wrong", loop(gain=1.0, integral_time_s=0.05), {}),
    ("stop in fire", "wrong", {"low_demand": STOP}, comfort()),
    ("mode", "wrong", {"mode": "comfort"}, {}),
    ("mode", "attention", COMFORT | {"mode": "smoke control"}, COMFORT),
    ("never stops", "attention", comfort(stop_below_hz=15.0), comfort(stop_below_hz=38.5)),
    ("never stops", "wrong", comfort(stop_below_hz=2.0), comfort(stop_below_hz=38.5)),
    ("cycles", "wrong", comfort(stop_below_hz=45.0), comfort()),
    ("deficit too deep", "wrong", comfort(restart_deficit_pa=25.0), comfort()),
    ("too many starts", "attention", comfort(stop_after_s=10.0, restart_after_s=5.0), comfort()),
]  # fmt: skip
# The building's own, the drive's, of another plant or site: each has a test of its own.
NOT_BY_A_STRATEGY = {"blanks", "no limits", "infeasible", "height", "final exit door", "closers", "ramp down", "ramp down unstated",
                     "thin air", "damper stuck", "little room",
                     "ramp loads", "recovery", "heavy after a door", "short after a door", "tuning not judged",
                     "stop without leave", "override", "beside open doors", "blind after one"}  # fmt: skip


@pytest.fixture(autouse=True)
def no_standard_of_smoke_control(request, monkeypatch):
    """Where a site is for comfort here no standard judges its stair; all of ours would."""
    if "comfort" in f"{request.node.name} {getattr(request.node, 'callspec', '')}":
        monkeypatch.setattr("helpers.model.site.criteria.smoke_control_standard", lambda site: "")


def site_for(strategy, larkfield):
    """The site a strategy of these tests is for."""
    return larkfield.with_changes(control={"fire_mode": strategy.site != COMFORT["site"]})


def found(strategy, site, key):
    """Findings of one kind alone."""
    (kind,) = [kind for kind in KINDS if kind.key == key]
    return list(written_out(tuple(kind.look(ReviewBench(strategy, site)))))


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
    driven = larkfield.with_changes(doors=DRIVEN)
    assert found(sound, driven, "infeasible") == []
    (street,) = found(sound, larkfield, "infeasible")  # with its own closer the final exit door would not close again at any
    assert "final exit 0" in street.figure
    assert NOT_CLOSING in street.figure
    (finding,) = found(sound, driven.with_changes(weather={"winter": {"outdoor_c": -40.0}}), "infeasible")
    assert finding.severity == "wrong"
    assert "supply points" in finding.remedy


def test_a_door_inside_with_less_room_than_it_may_be_off_by_is_check_and_one_with_more_is_not(larkfield, sound):
    """As on every other page; 42 Pa leaves a door out, which other findings tell of."""
    driven = larkfield.with_changes(doors=DRIVEN)
    (near,) = found(sound, driven, "little room")
    assert near.severity == "attention"
    assert near.figure == "stair door 0, winter, doors shut, first minute: 27.9 Pa, 2.9 Pa to spare, less than 5.0 Pa"
    assert found(sound.with_changes(**loop(set_point_pa=42.0)), driven, "little room") == []
    lighter = driven.with_changes(doors={"flat landing": {"closer_force_n": 40.0}})
    assert found(sound.with_changes(**loop(set_point_pa=53.0)), lighter, "little room") == []


def test_doors_that_no_pressure_suits_are_told_before_all_set_points(larkfield, sound):
    heavy = larkfield.with_changes(doors={"flat landing": {"closer_force_n": 120.0}})
    (finding,) = found(sound, heavy, "infeasible")
    assert "No pressure at all" in finding.what


def test_the_gravest_comes_first_and_what_is_clear_is_named(larkfield, sound):
    told = review(sound.with_changes(**loop(action="direct")), larkfield)
    order = [SEVERITIES.index(finding.severity) for finding in told.findings]
    assert order == sorted(order)
    assert "wrong action" in told.keys
    assert len(told.clear) + len(told.unjudged) + len(told.keys) == len(KINDS)
    assert told.findings[0].key == "wrong action"
    assert told.verdict().startswith(f"{sum(finding.severity == 'wrong' for finding in told.findings)} FAIL")


def test_what_is_so_now_comes_before_what_might_be(larkfield, sound):
    told = review(sound.with_changes(**loop(gain=12.0)), larkfield).findings
    for severity in ("wrong", "attention"):
        possible = [finding.possible for finding in told if finding.severity == severity]
        assert possible == sorted(possible)
    assert {True, False} == {finding.possible for finding in told}


def test_nothing_that_fails_in_the_sound_strategy_is_an_entry_of_its():
    made = review_of("larkfield_sound")
    assert [finding.what for finding in made.of_strategy if finding.severity == "wrong"] == []
    assert {made.whose(finding) for finding in made.findings if finding.severity == "wrong"} == {BUILDING}
    assert "which no entry in the drive mends" in made.verdict()


def test_one_cause_is_one_finding_with_what_follows_under_it(larkfield, sound):
    made = review(sound.with_changes(**loop(set_point_pa=36.0)), larkfield)
    (cause,) = [finding for finding in made.findings if any(effect.key == "average hides" for effect in finding.effects)]
    assert cause.key == "set point fails"
    assert "average hides" not in [finding.key for finding in made.findings]
    assert "follow" in made.verdict()
    wrongly = review(sound.with_changes(**second(entered_high_pa=250.0)), larkfield)
    (cause,) = [finding for finding in wrongly.findings if finding.key == "entered range"]
    assert {"two scales", "average hides"} <= {effect.key for effect in cause.effects}


def test_every_cause_that_is_named_is_a_kind_and_none_goes_round_in_a_ring():
    keys = {kind.key for kind in KINDS}
    assert set(CAUSES) <= keys
    assert {cause for causes in CAUSES.values() for cause in causes} <= keys
    for key in CAUSES:
        assert cause_of(key, keys) not in ("", key)
        assert cause_of(key, {key}) == ""


def test_speeds_looked_up_are_those_the_network_is_held_at(larkfield, sound):
    bench = ReviewBench(sound, larkfield)
    real = bench.tower.hold(conditions_of(bench.site, bench.cases))
    assert list(bench.held.state) == list(real.state)
    assert np.abs(bench.held.doors_pa - real.air.door_dp_pa).max() < bench.tolerance_pa


def test_a_set_point_said_to_work_works_and_the_next_one_does_not(larkfield, sound):
    bench = ReviewBench(sound, larkfield.with_changes(doors=DRIVEN))
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
    one = sound.with_changes(inputs=[{"range_low_pa": 0.0} | change, {}]).inputs[0]
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
        ('does = "agreed fallback speed"', 'does = "pray"', r"line \d+, \[on_bad_reading\] does: must be one of"),
        ('level = 12', 'level = 12\nentered_high = "-50 Pa"', r"\[\[inputs\]\] number 2, entered_high: must be above entered_low"),
        ('name = "PDT-2"', 'name = "PDT-1"', r"\[\[inputs\]\] number 1, name: must differ"),
        ('mode = "smoke control"', "", "mode: is missing"),
        ('kind = "strategy"', 'kind = "stair"', "kind: must be 'strategy'"),
    ],
)  # fmt: skip
def test_a_strategy_file_that_cannot_be_read_is_refused_with_the_line(before, after, sentence):
    text = (STRATEGIES / "larkfield_sound.toml").read_text(encoding="utf-8")
    assert before in text
    with pytest.raises(SiteFileError, match=sentence):
        read_any_strategy_text(text.replace(before, after))


def test_every_fallback_has_its_words():
    assert "nothing" in FALLBACKS
    assert len(set(FALLBACKS)) == len(FALLBACKS)


# Five strategies with mistakes that were written down before the review saw them: what a review must find on each, whatever else it says.
TWIN = {"range_high_pa": 250.0, "accuracy_percent_span": 2.0}
FIVE = {
    "a quick fix on true-zero signals": (
        {"loop": {"rule": "highest", "gain": 0.5, "integral_time_s": 10.0, "highest_speed_hz": 30.0}, "on_bad_reading": {"does": "nothing"}}
        | NO_ALARMS
        | both(signal="0-10 V", filter_s=4.0, alarm_low_pa=None, alarm_high_pa=None),
        {"highest leaves", "set point fails", "dead wire unseen", "no fallback", "no alarms", "highest speed"},
    ),
    "a gain for nobody and no integral": (
        {"loop": {"gain": 30.0, "integral_time_s": None}, "alarms": {"low_pa": 45.0, "high_pa": 200.0}}
        | {"override": {"speed_hz": 10.0}}
        | failed(KEEP, after_s=600.0),
        {"no integral", "unstable", "alarms inside", "alarm never", "override", "hold the last", "fallback late"},
    ),
    "new instruments, half of the entries": (
        {"inputs": [TWIN, TWIN | {"entered_high_pa": 125.0}], "loop": {"gain_found_on_pa": 125.0}, "low_demand": STOP},
        {"entered range", "two scales", "gain of other span", "stop in fire", "error eats window"},
    ),
    "a comfort fan that may never rest": (
        {"loop": {"sample_s": 2.0, "integral_time_s": 4.0}, "on_bad_reading": {"does": "go to a preset speed", "preset_speed_hz": None}}
        | comfort(stop_below_hz=18.0, stop_after_s=10.0, restart_deficit_pa=25.0, restart_after_s=2.0),
        {"never stops", "deficit too deep", "too many starts", "preset speed", "slow samples"},
    ),
    "one instrument, the other way round": (
        {
            "inputs": [{"level": 0, "range_high_pa": 50.0, "alarm_low_pa": None, "alarm_high_pa": None}],
            "loop": {"action": "direct", "set_point_pa": 45.0, "ramp_s": 30.0},
            "alarms": {"low_pa": 5.0},
        },
        {"wrong action", "one reading", "set point near end", "blind at full speed", "alarms silent"},
    ),
}


@pytest.mark.parametrize("name", FIVE)
def test_mistakes_written_down_beforehand_are_all_found(larkfield, sound, name):
    change, mistakes = FIVE[name]
    strategy = sound.with_changes(**change)
    bench, kinds = ReviewBench(strategy, site_for(strategy, larkfield)), {kind.key: kind for kind in KINDS}
    assert [key for key in mistakes if not any(kinds[key].look(bench))] == []


def test_a_loop_that_sleeps_has_more_against_it_than_a_sound_one_not_less(larkfield, sound):
    """Where a set point suits the doors: as long as none does, no other tuning is entered, and it is the building's."""
    driven = larkfield.with_changes(doors=DRIVEN)
    asleep, awake = (
        {finding.what for finding in review(sound.with_changes(loop=change), driven).of_strategy if finding.severity == "wrong"}
        for change in ({"gain": 0.02, "integral_time_s": 4.0}, {})
    )
    assert awake < asleep


def test_at_sixty_hertz_the_motor_takes_what_its_plate_does_not_allow(larkfield, sound):
    bench = ReviewBench(sound.with_changes(**loop(highest_speed_hz=60.0)), larkfield)
    at_fifty, at_sixty = (shaft_power_w(bench, speed).max() for speed in (50.0, 60.0))
    assert at_fifty < bench.site.fan.motor_power_w < at_sixty
    assert at_sixty / at_fifty == pytest.approx(1.2**3, rel=0.05)  # similarity: the cube of the speed, where the damper is open


def test_a_moved_gain_is_judged_anew_though_the_studies_are_kept(larkfield, sound):
    strong = sound.with_changes(**loop(gain=1.07, integral_time_s=0.53))
    first, second_time = (review(strategy, larkfield) for strategy in (sound, strong))
    assert first.bench.tuning.recommended == second_time.bench.tuning.recommended
    assert first.bench.tuning.own.gain == sound.loop.controller_gain
    assert second_time.bench.tuning.own.gain == 1.07
    assert "robust tuning" in second_time.keys
    assert "robust tuning" not in first.keys


@pytest.mark.parametrize(("integral_s", "lasts"), [(240.0, "days|h"), (3600.0, "days"), (1e5, "years")])
def test_what_takes_days_or_years_is_told_in_words_and_no_remedy_is_worse_than_sense(larkfield, sound, integral_s, lasts):
    """An integral time of an hour, entered as minutes for seconds, would be a minute: no loop of a stair wants that either."""
    weak = {"gain": 0.001 if integral_s == 1e5 else 0.02, "integral_time_s": integral_s}
    made = review(sound.with_changes(loop=weak), larkfield)
    told = [one for finding in made.findings for one in (finding, *finding.effects)]
    unit = next(one for one in told if one.what == "The integral time looks like minutes for seconds")
    asleep = next(one for one in told if one.what.startswith("The loop sleeps"))
    assert re.search(rf"made good in (about \d+ )?({lasts})", unit.why)
    assert "back in not" not in asleep.figure
    assert not any(re.search(r"\d{4,}\.\d", f"{one.figure} {one.why} {one.remedy}") for one in (unit, asleep))
    pair, _ = made.bench.pair  # tried in this loop: no entry read in another unit is told in its stead
    assert f": gain {pair.gain:.2g} %/%, integral time {pair.integral_s:.2g} s" in unit.remedy  # after what speaks against entering it
