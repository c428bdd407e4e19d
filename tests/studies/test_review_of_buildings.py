"""What a review says that no entry in a drive mends, on Larkfield House and on sites that are wrong in other ways."""

from functools import partial
from pathlib import Path

import pytest
from demo_designs import low_rise, review_for, review_of

from helpers.model.plants.kinds import read_any_strategy
from helpers.model.site.file import demo_sites, read_site
from helpers.record.design import Design
from helpers.record.review.kinds import BUILDING, STRATEGY
from helpers.record.review.study import KINDS, bench_of
from helpers.studies.tuning.study import tuning_study
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
SITES = demo_sites()


@pytest.fixture(scope="module")
def larkfield():
    return read_site(SITES["Larkfield House"])


@pytest.fixture(scope="module")
def sound():
    return read_any_strategy(STRATEGIES / "larkfield_sound.toml")


@pytest.fixture(scope="module")
def low(sound):
    """(strategy, site) of Larkfield's lowest storeys: for what no count of storeys changes."""
    site = low_rise()
    taps = [{"level": one.level} for one in site.transmitters]
    return sound.with_changes(inputs=taps, loop={"sample_s": site.control.sample_s}), site


@pytest.fixture(scope="module")
def made():
    return review_of("larkfield_sound")


@pytest.fixture
def tuned_alone(monkeypatch):
    """The record's tuning without a try of what helps after a door, half of the work: for what does not ask what helps."""
    monkeypatch.setattr("helpers.record.design.tuning_study", partial(tuning_study, what_helps=False))


LEAF = ("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share")  # left out: driven


def looked(key, strategy, site):
    """(findings, whose) of one kind alone."""
    (kind,) = [kind for kind in KINDS if kind.key == key]
    bench = bench_of(strategy, site)
    return list(written_out(tuple(kind.look(bench)))), kind.belongs(bench)


def test_the_sound_strategy_fails_in_nothing_that_an_entry_mends(made):
    assert [finding.what for finding in made.of_strategy if finding.severity == "wrong"] == []
    assert all("this is the building's" in finding.why for finding in made.findings if made.whose(finding) == BUILDING)


def test_the_sound_strategy_has_the_tuning_that_the_study_recommends(made, sound):
    best = made.bench.tuning.recommended
    assert (sound.loop.controller_gain, sound.loop.integral_s) == pytest.approx((best.gain, best.integral_s))


def test_the_tuning_that_was_recommended_before_is_refused_and_the_reason_is_a_longer_lag(larkfield, sound):
    (told,), whose = looked("robust tuning", sound.with_changes(loop={"gain": 1.07, "integral_time_s": 0.53}), larkfield)
    assert (told.severity, whose) == ("wrong", STRATEGY)
    assert told.possible
    assert "more lag" in told.figure
    assert "swings by itself" in told.what


def test_a_first_minute_that_no_set_point_suits_is_the_buildings_and_one_that_some_suits_the_strategys(larkfield, sound):
    (told,), whose = looked("two temperatures", sound, larkfield)
    assert (told.severity, whose) == ("wrong", BUILDING)
    assert "first minute" in told.what
    lighter = {"flat landing": {"closer_force_n": 45.0}}
    below = sound.with_changes(loop={"set_point_pa": 41.0})
    (told,), whose = looked("two temperatures", below, larkfield.with_changes(doors=lighter))
    assert (told.severity, whose) == ("wrong", BUILDING)  # what would suit the landings keeps the final exit from closing
    assert "no set point with any rule suits both" in told.remedy
    exit_opens_inward = {"opens": "against pressure", "closing_share": None, "latch_force_n": None, "closer_force_n": 45.0}
    (told,), whose = looked("two temperatures", below, larkfield.with_changes(doors=lighter | {"street": exit_opens_inward}))
    assert (told.severity, whose) == ("wrong", STRATEGY)
    assert "a set point that suits both" in told.remedy


def test_a_stair_too_tall_for_one_supply_is_with_several_judged_by_its_air(larkfield, sound):
    (told,), whose = looked("height", sound, larkfield)
    assert (told.severity, whose) == ("wrong", BUILDING)  # as in the record: no set point brings both ends inside
    several = larkfield.with_changes(supplies=[{"share": 0.5}, {"level": 3, "share": 0.5}])
    assert looked("height", sound, several)[0] == []
    heavier = several.with_changes(doors={"flat landing": {"closer_force_n": 75.0}})
    (told,), whose = looked("height", sound, heavier)
    assert (told.severity, whose) == ("wrong", BUILDING)  # no set point brings both ends inside
    assert told.what.endswith("further apart than their window is wide, with 2 supply points")
    assert "the lowest door has " in told.figure


def test_height_on_one_supply_point_is_told_by_record_and_review_alike(larkfield, sound):
    """A mild climate: the hand method carries any height, and the standard's threshold is passed all the same."""
    mild = {name: {"outdoor_c": 20.0, "stair_c": 20.0, "wind_speed_m_s": 0.0} for name in larkfield.weather}
    site = larkfield.with_changes(weather=mild)
    (told,), _ = looked("height", sound, site)
    (recorded,) = [one for one in Design(site).section("window").findings if "taller than" in one.what]
    assert written_out(told) == written_out(recorded)
    assert told.severity == "attention"


def test_a_motor_above_a_thousand_metres_is_a_check_in_record_and_review_alike(low):
    strategy, site = low
    assert looked("thin air", strategy, site) == ([], BUILDING)
    high = site.with_changes(altitude_m=1600.0)
    (told,), _ = looked("thin air", strategy, high)
    assert told.severity == "attention"
    plate = high.fan.motor_power_w / 1000
    assert f"at 1600 m a plate of {plate:.2f} kW counts as some {0.94 * plate:.2f} kW" in told.figure  # 1 % for each of 6 x 100 m
    assert "common practice, no source" in told.source
    assert any(one.what == told.what for one in Design(high).section("fan").findings)


def test_a_street_door_that_its_closer_cannot_shut_is_told_and_a_heavier_closer_clears_it(larkfield, sound):
    (told,), whose = looked("final exit door", sound, larkfield)
    assert (told.severity, whose) == ("wrong", BUILDING)
    heavier = {"closer_force_n": 160.0, "force_limit_n": 200.0}
    (single,), _ = looked("final exit door", sound, larkfield.with_changes(doors={"street": {**heavier, "closing_share": 0.9}}))
    assert single.severity == "attention"  # one figure, no range that was measured
    ranged = larkfield.with_changes(doors={"street": {**heavier, "closing_share": (0.88, 0.9, 0.92)}})
    assert looked("final exit door", sound, ranged)[0] == []


def test_a_closer_over_the_standards_force_is_the_buildings(larkfield, sound):
    told, whose = looked("closers", sound, larkfield)
    assert whose == BUILDING
    assert told
    light = larkfield.with_changes(doors={name: {"closer_force_n": 40.0} for name in larkfield.doors})
    assert looked("closers", sound, light)[0] == []


def test_a_ramp_down_without_a_brake_is_told_unless_it_is_long_enough(larkfield, sound):
    braked = larkfield.with_changes(fan={"brake": "none"})
    (told,), whose = looked("ramp down", sound, braked)
    assert (told.severity, whose) == ("wrong", STRATEGY)
    assert looked("ramp down", sound.with_changes(loop={"ramp_down_s": 120.0}), braked)[0] == []
    assert looked("ramp down", sound, larkfield)[0] == []


def test_one_ramp_for_both_ways_is_told_where_nobody_states_the_way_down(larkfield, sound):
    silent, bare = sound.with_changes(loop={"ramp_down_s": None}), larkfield.with_changes(fan={"ramp_down_s": None})
    (told,), _ = looked("ramp down unstated", silent, bare)
    assert told.severity == "attention"
    assert looked("ramp down unstated", silent, larkfield)[0] == looked("ramp down unstated", sound, bare)[0] == []


def test_three_seconds_are_asked_for_by_the_european_standard_alone(low, tuned_alone):
    sound, site = low
    assert looked("recovery", sound, site)[0] == []
    (told,), _ = looked("recovery", sound, site.with_changes(standard="en12101"))
    assert told.severity == "wrong"
    assert "12101" in told.source


def test_a_ramp_that_alone_takes_longer_than_the_standard_allows_is_the_buildings(low):
    sound, site = low
    european = site.with_changes(standard="en12101")
    (told,), whose = looked("recovery", sound.with_changes(loop={"ramp_s": 30.0}), european)
    assert (told.severity, whose) == ("wrong", BUILDING)
    assert "ramp alone" in told.what


def test_a_door_that_is_too_heavy_for_a_while_is_told_with_what_the_drive_alone_does(larkfield, sound):
    (told,), _ = looked("heavy after a door", sound, larkfield)
    assert told.severity == "wrong"
    assert "by its ramp alone, leaves one too heavy" in told.why


def test_a_tuning_that_cannot_be_tried_is_said_to_be_not_judged_and_not_passed(larkfield, sound):
    (told,), _ = looked("tuning not judged", sound, larkfield.with_changes(fan={"effect": "exhaust"}))
    assert told.severity == "open"
    assert told.figure
    assert looked("tuning not judged", sound, larkfield)[0] == []


def test_readings_that_do_not_follow_the_doors_are_the_strategys():
    handed_over = read_any_strategy(STRATEGIES / "northgate_handed_over.toml")
    (told,), whose = looked("infeasible", handed_over, read_site(SITES["Northgate Tower"]))
    assert whose == STRATEGY
    assert "places or low sides" in told.why


def test_a_fan_that_takes_air_out_of_the_stair_is_told_to_supply_and_nothing_about_lobbies_or_a_larger_one(larkfield, sound):
    ends = [{"range_low_pa": -125.0, "range_high_pa": 125.0}] * 2
    drawn = larkfield.with_changes(fan={"effect": "exhaust"}, control={"set_point_pa": -20.0, "action": "direct"}, transmitters=ends)
    wide = [{"range_low_pa": -125.0, "range_high_pa": 125.0}] * 2
    extracts = sound.with_changes(loop={"set_point_pa": -20.0, "action": "direct"}, inputs=wide)
    told = [one for key in ("infeasible", "saturates", "saturates open") for one in looked(key, extracts, drawn)[0]]
    assert told
    for one in told:
        assert "a fan that supplies" in one.remedy
        assert "lobbies" not in one.remedy + one.why
        assert "larger" not in one.remedy


def test_doors_without_any_limit_are_not_yet_judged_and_never_passed(larkfield, sound):
    nothing = {"closer_force_n": None, "handle_to_edge_m": None, "force_limit_n": None, "minimum_dp_pa": None, "latch_force_n": None,
               "closing_share": None}  # fmt: skip
    by_standard = larkfield.with_changes(doors=dict.fromkeys(larkfield.doors, nothing))
    assert looked("no limits", sound, by_standard)[0] == []  # NFPA 92 has limits of its own, and they are held against the doors
    assert bench_of(sound, by_standard).window.least_pa == pytest.approx(24.9, abs=0.05)
    bare = by_standard.with_changes(standard="en12101_13_2022")  # whose figures are blanks
    (told,), whose = looked("no limits", sound, bare)
    assert (told.severity, whose) == ("open", BUILDING)
    assert "2 NOT YET" in review_for(sound.with_changes(on_bad_reading={"does": "nothing"}), bare).verdict()
    assert looked("no limits", sound, larkfield)[0] == []


def with_one_limit(low, end):
    """The review of one transmitter where no force is limited, of three where no minimum pressure is."""
    sound, site = low
    change = {end: None} if end == "minimum_dp_pa" else {"force_limit_n": None, "closer_force_n": None, "handle_to_edge_m": None}
    third = {**sound.inputs[0].model_dump(), "name": "PDT-3", "level": 3}
    three = {"inputs": [{}, {}, third], "loop": {"rule": "middle"}, "on_bad_reading": {"does": "median of three"}}
    one = {"inputs": [{}], "on_bad_reading": {"does": "use the good ones"}}
    strategy = sound.with_changes(**(three if end == "minimum_dp_pa" else one))
    return review_for(strategy, site.with_changes(doors={"flat landing": change}))


@pytest.mark.parametrize("end", ["minimum_dp_pa", "force_limit_n"])
def test_doors_with_one_limit_alone_are_reviewed_to_the_end(low, tuned_alone, end):
    made = with_one_limit(low, end)
    assert "no limits" not in made.keys
    assert made.findings


WRONG = ("a fan a fifth as strong", "judged by EN 12101", "an exhaust fan", "three transmitters", "no relief damper",
         "a winter of the far north")  # fmt: skip


def changed(site):
    """Sites that are wrong in ways a strategy does not know of, by a word for each."""
    flows = tuple(flow * 0.2 for flow in site.fan.flows_m3_s)
    third = {**site.transmitters[0].model_dump(), "name": "PDT-3", "level": 3}
    return {
        "a fan a fifth as strong": site.with_changes(fan={"flows_m3_s": flows, "duct_loss_flow_m3_s": site.fan.duct_loss_flow_m3_s / 5}),
        "judged by EN 12101": site.with_changes(standard="en12101"),
        "an exhaust fan": site.with_changes(fan={"effect": "exhaust"}),
        "three transmitters": site.with_changes(transmitters=[{}, {}, third]),
        "no relief damper": site.with_changes(stair={"relief": None}),
        "a winter of the far north": site.with_changes(weather={"winter": {"outdoor_c": -35.0}}),
    }


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
@pytest.mark.parametrize("word", WRONG)
def test_a_wrong_site_is_reviewed_to_the_end(low, word, system):
    sound, site = low
    made = review_for(sound, changed(site)[word], system)
    words = " ".join(f"{one.what} {one.figure} {one.why} {one.remedy}" for one in made.findings)
    assert " nan " not in words
    if system != "Pa":
        assert " Pa" not in words
    assert any(finding.severity == "wrong" for finding in made.findings)


@pytest.mark.parametrize(("inputs", "end"), [(1, "force_limit_n"), (3, "minimum_dp_pa")])
def test_one_transmitter_and_three_are_reviewed(low, tuned_alone, inputs, end):
    made = with_one_limit(low, end)
    assert len(made.bench.strategy.inputs) == inputs
    assert ("one reading" in made.keys) == (inputs == 1)


def test_every_demo_strategy_is_reviewed_in_inches_without_a_pascal():
    for file in sorted(STRATEGIES.glob("*gate*.toml")):
        made = review_of(file.stem, "in. w.c.")
        assert " Pa" not in " ".join(f"{one.what} {one.figure} {one.why} {one.remedy}" for one in made.findings)


def as_a_strategy(site, sound):
    """What a site file itself says of its loop, as a strategy for it."""
    fields = type(sound.inputs[0]).model_fields
    inputs = [
        {name: value for name, value in one.model_dump().items() if name in fields and name != "damping_s"} for one in site.transmitters
    ]
    blank = {"alarm_low_pa": None, "alarm_high_pa": None, "entered_low_pa": None, "entered_high_pa": None, "entered_signal": None}
    control, fan = site.control, site.fan
    loop = {name: getattr(control, name) for name in ("rule", "weights", "set_point_pa", "action", "gain", "integral_time_s", "sample_s")}
    return sound.with_changes(inputs=[blank | one for one in inputs], loop=loop | {"ramp_s": fan.ramp_s, "ramp_down_s": fan.ramp_down_s})


@pytest.mark.parametrize("name", SITES)
def test_every_demo_stair_with_its_own_settings_is_reviewed_in_both_systems(sound, name):
    site = read_site(SITES[name])
    strategy = as_a_strategy(site, sound)
    for system in ("Pa", "in. w.c."):
        made = review_for(strategy, site, system)
        assert "wrong action" not in made.keys
        assert not {"entered range", "two scales", "gain of other span", "stop in fire"} & set(made.keys)
        words = " ".join(f"{one.what} {one.figure} {one.why} {one.remedy}" for one in made.findings)
        assert system == "Pa" or " Pa" not in words


def test_ramps_beyond_motor_and_resistor_are_told_of_a_strategy(larkfield, sound):
    told, whose = looked("ramp loads", sound.with_changes(loop={"ramp_s": 0.6, "ramp_down_s": 0.6}), larkfield)
    assert [one.severity for one in told] == ["wrong", "wrong", "attention"]
    assert whose == BUILDING  # no set point suits its doors: left as entered, and reported, as lesson 08 has it
    assert all(
        one.remedy.startswith("it is too steep: report it to the designer today; none is entered alone before a set point") for one in told
    )
    lighter = {"flat landing": {"closer_force_n": 45.0}, "street": dict.fromkeys(LEAF)}
    suited = sound.with_changes(inputs=[{"range_low_pa": -25.0}] * 2, loop={"ramp_s": 0.6, "ramp_down_s": 0.6})
    again, whose = looked("ramp loads", suited, larkfield.with_changes(doors=lighter))
    assert whose == STRATEGY
    assert again[0].remedy.startswith("a ramp up of ")
    assert "the motor cannot follow" in told[0].what
    assert "the motor cannot hold the wheel to" in told[1].what
    assert looked("ramp loads", sound.with_changes(loop={"ramp_s": 9.0, "ramp_down_s": 9.0}), larkfield)[0] == []
