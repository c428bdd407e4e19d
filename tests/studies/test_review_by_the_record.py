"""What a review finds on fallback, override, highest speed and alarms is what the record's own studies say, design doors included."""

import re
from pathlib import Path

import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of

from helpers.model.plants.kinds import read_any_strategy
from helpers.record.damper import sound_finding
from helpers.record.review.alarms import PASSING_S
from helpers.record.review.kinds import BUILDING, STRATEGY
from helpers.record.review.rule import offered
from helpers.record.review.study import KINDS, bench_of, review
from helpers.studies.readings.failures import KEEP, KEPT, NOTHING, OWN, SPEED
from helpers.studies.readings.words import against_said, out_said
from helpers.studies.report import inside_text
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"


@pytest.fixture(scope="module")
def site():
    return site_of("Tannery Row")


@pytest.fixture(scope="module")
def sound(site):
    """The readings and the loop of the site's file, with the speeds and the alarm limits of its record."""
    told = read_any_strategy(STRATEGIES / "larkfield_sound.toml")
    fields = set(type(told.inputs[0]).model_fields)
    none = dict.fromkeys(("entered_low_pa", "entered_high_pa", "entered_signal"))
    limits = [{"alarm_low_pa": 26.0, "alarm_high_pa": 40.0}, {"alarm_low_pa": 30.0, "alarm_high_pa": 44.0}]
    taps = [{key: value for key, value in tap.model_dump().items() if key in fields} for tap in site.transmitters]
    names = ("rule", "set_point_pa", "action", "gain", "integral_time_s", "sample_s")
    ramps = dict.fromkeys(("ramp_s", "ramp_down_s"))  # the site's own
    return told.with_changes(
        site="tannery_row", inputs=[none | tap | own for tap, own in zip(taps, limits, strict=True)],
        loop={name: getattr(site.control, name) for name in names} | ramps, alarms={"difference_pa": 15.0, "after_s": 55.0},
        on_bad_reading={"does": SPEED, "preset_speed_hz": 46.0, "after_s": 2.0}, override={"speed_hz": 46.0},
    )  # fmt: skip


def failed(does, **more):
    return {"on_bad_reading": {"does": does} | more}


COMBINED = {"inputs": [{"alarm_low_pa": None, "alarm_high_pa": None}] * 2,
            "alarms": {"difference_pa": None, "low_pa": 27.0, "high_pa": 43.0, "end_stop_after_s": None}}  # fmt: skip
NO_ALARMS = COMBINED | {"alarms": {"difference_pa": None, "end_stop_after_s": None}}
PLANTED = (
    ("preset speed", failed(SPEED, preset_speed_hz=22.0)),
    ("fallback", failed(OWN, preset_speed_hz=22.0, set_points_pa={"PDT-1": 34.0, "PDT-2": 37.0})),
    ("fallback", failed("use the good ones")),
    ("hold the last", failed(KEEP, preset_speed_hz=None)),
    ("no fallback", failed("nothing", preset_speed_hz=None)),
    ("stop on failure", failed("stop", preset_speed_hz=None)),
    ("fallback late", failed(SPEED, after_s=600.0)),
    ("override", {"override": {"speed_hz": 15.0}}),
    ("override", {"override": {"speed_hz": 10.0}}),
    ("override", {"override": {"speed_hz": 50.0}}),
    ("highest speed", {"loop": {"highest_speed_hz": 24.0}}),
    ("no alarms", NO_ALARMS),
    ("alarms silent", COMBINED),
)


def on(key, bench):
    (kind,) = [kind for kind in KINDS if kind.key == key]
    return kind, list(written_out(tuple(kind.look(bench))))


@pytest.mark.parametrize(("key", "change"), PLANTED)
def test_an_entry_that_leaves_a_door_out_fails_and_is_the_strategys(site, sound, key, change):
    bench = bench_of(sound.with_changes(**change), site)
    kind, told = on(key, bench)
    assert [one.severity for one in told[:1]] == ["wrong"]
    assert kind.belongs(bench) == STRATEGY
    assert ", ," not in told[0].figure
    assert "no entry mends it" not in told[0].remedy
    if key in {"preset speed", "fallback", "hold the last", "no fallback", "stop on failure", "override"}:
        assert re.search(
            r"first 3 dampers .*; until then the least bad is (agreed fallback speed, )?43\.5 Hz, FAIL as it is", told[0].remedy
        )


def test_none_of_it_fails_in_a_strategy_entered_as_the_record_says(site, sound):
    made = review(sound, site)
    # The record says the same of its own speed, whatever sends the fan there: it rests on one damper, which no entry mends.
    assert not [one.what for one in made.of_strategy if one.severity == "wrong"]
    wrong = {one.key: one.finding.figure for one in made.found if one.finding.severity == "wrong"}
    assert set(wrong) == {"preset speed", "override", "full speed", "damper stuck"}
    del wrong["full speed"], wrong["damper stuck"]
    study = made.bench.fallback
    assert all("; ".join(written_out(against_said(study, study.at_speed(46.0)))) in figure for figure in wrong.values())
    (silent,) = on("alarms silent", made.bench)[1]  # the record tells of it as well: no limits do better
    assert silent.severity == "attention"
    assert silent.figure == written_out(design_of("Tannery Row").fallback.alarm_limits.silent.judged())


def test_a_filter_longer_than_the_integral_time_is_judged_by_the_records_own_box(site, sound):
    """The record lays down such pairs behind a long filter: what it lays down no review fails, and what it fails the review fails."""
    long = site.with_changes(transmitters=[{"filter_s": 2.0, "damping_s": 0.3}] * 2)
    record = design_for(long).tuning
    pair = record.recommended
    assert pair.integral_s < 2.0  # shorter than the filter, and safe over the whole box: what a rule of thumb would have refused
    entered = {"inputs": [{"filter_s": 2.0, "damping_s": 0.3}] * 2, "loop": {"gain": pair.gain, "integral_time_s": pair.integral_s}}
    made = review(sound.with_changes(**entered), long)
    assert not {"filter and integral", "robust tuning", "unstable"} & set(made.keys)
    weaker = record.box.with_filter(0.5).fastest()  # of a short filter, entered behind the long one
    lively = sound.with_changes(**entered | {"loop": {"gain": weaker[0], "integral_time_s": weaker[1]}})
    lacks = record.box.worst(*weaker)[0].lacks(record.box.asked)
    bench = bench_of(lively, long)
    _, told = on("filter and integral", bench)
    assert bool(told) == bool(lacks)
    (one,) = told
    assert "PDT-1 (storey 1) and PDT-2 (storey 4)" in one.what
    assert all(words in one.figure for words in lacks)
    shorter = float(re.match(r"a filter of ([\d.]+) s: tried", one.remedy)[1])
    mended = bench_of(lively.with_changes(inputs=[{"filter_s": shorter}] * 2), long)
    assert not mended.tuning.own.lacks  # the remedy, entered
    assert {one.caused_by for one in review(lively, long).findings if one.key == "robust tuning"} <= {"filter and integral"}


def test_a_tuning_that_no_shorter_filter_mends_is_not_put_down_to_its_filter(site, sound):
    bench = bench_of(sound.with_changes(inputs=[{"filter_s": 2.0}] * 2, loop={"gain": 3.0, "integral_time_s": 1.0}), site)
    assert on("robust tuning", bench)[1]
    assert on("filter and integral", bench)[1] == []


def test_a_damper_that_sticks_while_every_reading_is_sound_is_told_as_the_record_tells_it(site, sound):
    """No way of falling back comes into it: the loop itself leaves a door out, and no entry mends that."""
    bench = bench_of(sound, site)
    kind, told = on("damper stuck", bench)
    assert told == list(written_out(tuple(sound_finding(design_of("Tannery Row").failing_judged))))
    assert [(one.severity, one.possible) for one in told] == [("wrong", True)]
    assert "with the relief damper stuck open a door is 30.8 Pa out" in told[0].figure
    assert kind.belongs(bench) == BUILDING
    several = site.with_changes(**SEVERAL_DAMPERS)
    assert on("damper stuck", bench_of(sound, several))[1] == []
    assert on("damper stuck", bench_of(sound, site.with_changes(stair={"relief": None})))[1] == []


@pytest.mark.parametrize(
    ("key", "change", "way"),
    [
        ("fallback", failed("use the good ones"), KEPT),
        ("hold the last", failed(KEEP, preset_speed_hz=None), KEEP),
        ("no fallback", failed("nothing", preset_speed_hz=None), NOTHING),
    ],
)
def test_the_figures_are_those_of_the_records_table(site, sound, key, change, way):
    record = design_of("Tannery Row").fallback.ways[way]
    _, (told,) = on(key, bench_of(sound.with_changes(**change), site))
    assert f"{record.out} of {len(record.cells)} cells" in told.figure
    assert record.worst.failure in told.figure
    assert written_out(out_said(record)) in told.figure


def test_a_speed_that_is_too_low_with_the_designs_door_open_is_told_with_the_records_doors(site, sound):
    record = design_of("Tannery Row").fallback.at_speed(22.0)
    for key, change in (("preset speed", failed(SPEED, preset_speed_hz=22.0)), ("override", {"override": {"speed_hz": 22.0}})):
        _, (told,) = on(key, bench_of(sound.with_changes(**change), site))
        assert written_out(out_said(record)) in told.figure
    assert not any(cell.good for cell in record.every.values() if cell.case == "summer, stair door 2 open, first minute")


def test_a_highest_speed_that_is_too_low_is_the_entrys_and_no_larger_fan_is_asked_for(site, sound):
    made = review(sound.with_changes(loop={"highest_speed_hz": 24.0}), site)
    told = {one.key: one for one in made.found}
    assert told["highest speed"].whose == STRATEGY
    assert "stair door 2 open" in told["highest speed"].finding.what
    assert "storey 3 has 22 Pa where 25 Pa is asked for" in told["highest speed"].finding.figure
    assert told["highest speed"].finding.remedy.startswith("a highest speed of 46.0 Hz")
    assert not any(one.finding.severity == "wrong" and (one.whose == BUILDING or "larger fan" in one.finding.remedy) for one in made.found)


def test_a_delay_is_judged_by_the_kind_of_failure(site, sound):
    """A lost wire is known at once: 54 s, right for a drift, leave the stair to it for as long. Signals that are not seen to be lost have
    the alarms' delay alone."""
    limits = design_of("Tannery Row").fallback.alarm_limits
    for after_s, late in ((PASSING_S, False), (54.0, True), (limits.after_s + 1, True)):
        told = on("fallback late", bench_of(sound.with_changes(**failed(SPEED, after_s=after_s)), site))[1]
        assert [one.severity for one in told] == ["wrong"] * late
    bench = bench_of(sound.with_changes(**failed(SPEED, after_s=54.0)), site)
    (told,) = on("fallback late", bench)[1]
    out = written_out(bench.worst_out([bench.rest(dead=0), bench.rest(dead=1)], bench.settled))
    assert told.figure.startswith("after 54 s; until then: storey ")
    assert out in told.figure
    assert told.remedy.startswith("5 s or less for a signal that is lost")
    assert f"{limits.after_s:g} s or less for a drift" in told.remedy
    blind = sound.with_changes(inputs=[{"signal": "0-10 V"}] * 2)
    for after_s, late in ((limits.after_s - 1, False), (limits.after_s + 1, True)):
        assert bool(on("fallback late", bench_of(blind.with_changes(**failed(SPEED, after_s=after_s)), site))[1]) == late


def test_of_three_readings_one_that_is_lost_need_not_send_the_fan_to_a_speed(site, sound):
    three = sound.model_copy(update={"inputs": [*sound.inputs, sound.inputs[0].model_copy(update={"name": "PDT-3", "level": 4})]})
    bench = bench_of(three, site)
    kind, (told,) = on("blind after one", bench)
    assert (told.severity, kind.belongs(bench)) == ("attention", STRATEGY)
    assert "what remains without PDT-3 at " in told.remedy
    assert "where fewer are left" in told.remedy
    assert on("blind after one", bench_of(sound, site))[1] == []


def test_an_override_of_which_nothing_is_said_is_for_somebody_to_look_at(site, sound):
    _, (told,) = on("override", bench_of(sound.with_changes(override=None), site))
    assert told.severity == "attention"
    kind, (told,) = on("override", bench_of(sound, site))
    assert "relief damper stuck shut" in told.figure
    assert "relief damper stuck open" in told.figure
    assert kind.belongs(bench_of(sound, site)) == BUILDING  # no other speed does better: the damper first


def test_every_finding_that_names_set_points_of_a_rule_names_the_records(site, sound):
    """A reading with a wrong range leaves a door out in the first minute alone: what suits both is no wider than what is offered."""
    spans = [{}, {"entered_low_pa": 0.0, "entered_high_pa": 100.0}]
    bench = bench_of(sound.with_changes(inputs=spans), site)
    points, run = offered(bench, "average"), design_of("Tannery Row").standing.others
    assert (points.min(), points.max()) == pytest.approx(run)
    assert points.size < bench.set_points("average").size  # at others the relief damper lifts with doors shut, or a year puts a door out
    _, (found,) = on("two temperatures", bench)
    assert f"a set point that suits both: {written_out(inside_text(*run))} with the same rule" in found.remedy
