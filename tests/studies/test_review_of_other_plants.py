"""Strategies of a supply duct, a relief fan and a garage: each thing that is looked for, on one that has it and one that has not."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.plants.kinds import plant_of, read_any_site, read_any_strategy
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites
from helpers.record.review import drive
from helpers.record.review.study import KINDS, bench_of, kinds_for, review
from helpers.units.said import written_out

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"
DUCT, RELIEF, GARAGE = "mill_street", "quayside", "orchard"
GAS_STOP = {"stop_below_hz": 10.0, "stop_after_s": 600.0, "restart_above_ppm": 5.0, "restart_after_s": 60.0}
STOP = {"stop_below_hz": 21.0, "stop_after_s": 300.0, "restart_deficit_pa": 60.0, "restart_after_s": 1200.0}


@pytest.fixture(scope="module")
def plants():
    """Strategy and site by plant."""
    found = {}
    for name in (DUCT, RELIEF, GARAGE):
        strategy = read_any_strategy(STRATEGIES / f"{name}_sound.toml")
        found[name] = strategy, read_any_site(demo_sites(None)[strategy.site.replace("_", " ").title()])
    return found


def loop(**change):
    return {"loop": change}


def failed(does, **more):
    return {"on_bad_reading": {"does": does} | more}


EACH = [
    (DUCT, "wrong action", "wrong", loop(action="direct")),
    (DUCT, "entered range", "wrong", {"inputs": [{}, {"entered_high_pa": 250.0}]}),
    (DUCT, "two scales", "wrong", {"inputs": [{}, {"entered_high_pa": 250.0}]}),
    (DUCT, "place left out", "wrong", loop(rule="highest")),
    (DUCT, "place left out", "wrong", loop(set_point_pa=120.0)),
    (DUCT, "highest speed", "wrong", loop(highest_speed_hz=35.0)),
    (DUCT, "unstable", "wrong", loop(gain=40.0)),
    (DUCT, "integral unit", "wrong", loop(integral_time_s=300.0)),
    (DUCT, "no integral", "wrong", loop(integral_time_s=None)),
    (DUCT, "no fallback", "attention", failed("nothing")),
    (DUCT, "fallback", "wrong", failed("use the good ones")),
    (DUCT, "hold the last", "wrong", failed("keep the speed")),
    (DUCT, "stop on failure", "attention", failed("stop")),
    (DUCT, "preset speed", "wrong", failed("agreed fallback speed", preset_speed_hz=25.0)),
    (DUCT, "cycles", "wrong", {"low_demand": {"stop_below_hz": 30.0}}),
    (DUCT, "never stops", "attention", {"low_demand": {"stop_below_hz": 15.0}}),
    (DUCT, "stop in fire", "wrong", {"mode": "smoke control"}),
    (DUCT, "mode", "attention", {"mode": "smoke control"}),
    (DUCT, "motor", "wrong", loop(highest_speed_hz=65.0)),
    (DUCT, "alarm never", "wrong", {"alarms": {"high_pa": 2000.0}}),
    (DUCT, "dead wire unseen", "wrong", {"inputs": [{"signal": "0-10 V"}] * 2}),
    (RELIEF, "wrong action", "wrong", loop(action="reverse")),
    (RELIEF, "place left out", "wrong", loop(set_point_pa=-4.0)),
    (RELIEF, "set point near end", "wrong", loop(set_point_pa=60.0)),
    (RELIEF, "alarms silent", "wrong", {"alarms": {"low_pa": -30.0}}),
    (RELIEF, "preset speed", "wrong", failed("agreed fallback speed", preset_speed_hz=40.0)),
    (RELIEF, "gain of other span", "wrong", loop(gain_found_on_pa=50.0)),
    (RELIEF, "unlike units", "attention", {"inputs": [{"display_unit": "Pa"}, {"display_unit": "in. w.c."}]}),
    (GARAGE, "wrong action", "wrong", loop(action="reverse")),
    (GARAGE, "place left out", "wrong", loop(rule="lowest")),
    (GARAGE, "entered range", "wrong", {"inputs": [{"entered_high_ppm": 50.0}, {}, {}]}),
    (GARAGE, "stop without leave", "wrong", {"low_demand": GAS_STOP}),
    (GARAGE, "stop on failure", "wrong", failed("stop")),
    (GARAGE, "no fallback", "wrong", failed("nothing") | {"inputs": [{"signal": "0-20 mA"}] * 3}),
    (GARAGE, "one reading", "attention", {"inputs": [{}]}),
    (GARAGE, "no alarms", "attention", {"inputs": [{"alarm_high_ppm": None}] * 3, "alarms": {"difference_ppm": None}}),
    (GARAGE, "alarms silent", "wrong", {"inputs": [{"alarm_high_ppm": 90.0}] * 3}),
    (GARAGE, "alarm late", "attention", {"alarms": {"after_s": 900.0}}),
    (GARAGE, "highest speed", "wrong", loop(highest_speed_hz=30.0)),
    (GARAGE, "gain of other span", "wrong", loop(gain_found_on_ppm=250.0)),
    (GARAGE, "filter and integral", "wrong", {"inputs": [{"filter_s": 1000.0}, {}, {}]}),
    (GARAGE, "dead band", "wrong", loop(dead_band_ppm=20.0)),
]


@pytest.mark.parametrize(("plant", "key", "severity", "bad"), EACH)
def test_a_strategy_of_another_plant_that_has_it_is_told_and_the_sound_one_is_let_through(plants, plant, key, severity, bad):
    strategy, site = plants[plant]
    (kind,) = [kind for kind in kinds_for(strategy) if kind.key == key]
    told = list(written_out(kind.look(bench_of(strategy.with_changes(**bad), site))))
    assert [finding.severity for finding in told[:1]] == [severity]
    assert all(finding.what and finding.figure and finding.why and finding.source and finding.remedy for finding in told)
    left = list(written_out(tuple(kind.look(bench_of(strategy, site)))))  # what no speed holds is told as such, and is no entry's
    assert all(finding.severity == "attention" and "no speed holds that case" in finding.what for finding in left)
    assert not left or (plant, key) == (RELIEF, "preset speed")


@pytest.mark.parametrize(
    ("plant", "action", "first"), [(GARAGE, "reverse", "above"), (DUCT, "direct", "below"), (RELIEF, "reverse", "below")]
)
def test_a_wrong_action_tells_both_ends_and_the_worse_first(plants, plant, action, first):
    strategy, site = plants[plant]
    bench = bench_of(strategy.with_changes(loop={"action": action}), site)
    (told,) = written_out(next(kind for kind in KINDS if kind.key == "wrong action").look(bench))
    assert told.figure.startswith(f"from {first} the set point the fan runs to ")
    assert all(words in told.figure for words in ("from above", "from below", "full speed", "lowest speed"))
    assert not bench.inside(bench.resting)[bench.settled].all()  # what the picture shows


def test_a_stop_with_leave_in_writing_is_let_through(plants):
    strategy, site = plants[GARAGE]
    keys = review(strategy.with_changes(low_demand=GAS_STOP, stop_agreed_with="the authority, in writing"), site).keys
    assert "stop without leave" not in keys


@pytest.mark.parametrize("plant", [DUCT, RELIEF, GARAGE])
def test_nothing_of_a_sound_strategy_fails_and_no_door_is_spoken_of(plants, plant):
    strategy, site = plants[plant]
    made = review(strategy, site)
    assert [finding.what for finding in made.of_strategy if finding.severity == "wrong"] == []
    # In a gale the hoods draw the lab below its least with the relief fan at its lowest: the building's, and past a limit all the same.
    wrong = {finding.key for finding in made.findings if finding.severity == "wrong"}
    assert wrong == ({"at lowest speed", "full speed"} if plant == RELIEF else set())
    assert not any("shut door" in finding.what for finding in made.findings)
    assert {kind.key for kind in kinds_for(strategy)} > {kind.key for kind in KINDS if not kind.stairs_only}


def test_a_speed_that_cannot_suit_a_case_that_no_speed_holds_is_not_said_to_suit_every_case(plants):
    (told,) = [one for one in review(*plants[RELIEF]).findings if one.key == "preset speed"]
    assert "suits all places in every case that some speed holds; none does in 4 more" in told.remedy


@pytest.mark.parametrize("plant", [DUCT, RELIEF, GARAGE])
def test_speeds_looked_up_are_those_the_plant_is_held_at(plants, plant):
    strategy, site = plants[plant]
    bench = bench_of(strategy, site)
    real = [plant_of(bench.site).hold(conditions) for conditions in bench.conditions]
    assert list(bench.held.state) == [str(one.state[0]) for one in real]
    speeds = [float(one.speed_hz[0] if plant == GARAGE else one.air.speed_hz[0]) for one in real]
    assert np.abs(bench.held.speed_hz - speeds).max() < 0.2  # straight lines between 61 speeds
    places = np.array([(one.gas_ppm if plant == GARAGE else one.air.pressure_pa)[0] for one in real])
    held = bench.held.state == "held"
    assert np.abs(bench.held.places - places)[held].max() < 0.02 * abs(bench.set_point) + 0.3


def test_a_duct_strategy_on_a_stair_is_refused_by_name(plants):
    strategy, _ = plants[DUCT]
    with pytest.raises(ValueError, match="site must be a duct, as the strategy is for one; got a stair, 'Larkfield House'"):
        review(strategy, read_any_site(demo_sites()["Larkfield House"]))


def test_a_transmitter_in_a_section_that_is_not_there_is_refused(plants):
    strategy, site = plants[DUCT]
    with pytest.raises(SiteFileError, match="section: must be one of the sections"):
        review(strategy.with_changes(inputs=[{"section": "attic"}, {}]), site)


@pytest.mark.parametrize("plant", [DUCT, RELIEF, GARAGE])
def test_other_plants_speak_inches_or_ppm(plants, plant):
    strategy, site = plants[plant]
    change = {"loop": {"action": "reverse" if strategy.loop.action == "direct" else "direct"}, "on_bad_reading": {"does": "nothing"}}
    made = review(strategy.with_changes(**change), site, "in. w.c.")
    words = " ".join(f"{one.what} {one.figure} {one.why} {one.remedy}" for one in made.findings)
    assert " Pa" not in words
    assert ("ppm" if plant == GARAGE else "in. w.c.") in words


@pytest.mark.parametrize("plant", [DUCT, RELIEF, GARAGE])
def test_one_input_and_an_old_word_for_a_fallback_are_reviewed(plants, plant):
    strategy, site = plants[plant]
    made = review(strategy.with_changes(inputs=[{}], **failed("go to a preset speed")), site)
    assert made.found is not None
    assert made.bench.strategy.on_bad_reading.does == "agreed fallback speed"


def test_a_highest_speed_that_is_advised_is_never_rounded_up_past_what_harms(monkeypatch):
    monkeypatch.setattr(drive, "highest_without_harm_hz", lambda bench: 24.6)
    bench = SimpleNamespace(
        full_speed=None, speed_limits_hz=(10.0, 50.0), at_speed=lambda speed: None, settled=None, too_much=lambda *_: "too much",
        needed_hz=np.array([20.0]), required=np.array([True]), cases=(), smoke_control=True,
    )  # fmt: skip
    (told,) = written_out(drive.full_speed(bench))
    assert told.remedy.startswith("a highest speed of 24 Hz")
    bench.needed_hz, bench.cases = np.array([24.5]), (SimpleNamespace(name="winter"),)
    assert next(written_out(drive.full_speed(bench))).remedy.startswith("a highest speed is no remedy: at 24 Hz 1 of 1")
