"""The whole loop in time: the wrong way round, with faults, and many runs at once. Against independent solvers: tests/truth."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.formulas import action
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import ControllerSettings
from helpers.model.loop.events import DoorEvent, TapFault
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.model.site.file import demo_sites, read_site

LARKFIELD = read_site(demo_sites()["Larkfield House"])
TOWER = Tower(LARKFIELD)
WINTER = Conditions.of(LARKFIELD, "winter")
OWN = settings_of(LARKFIELD)
QUICK = replace(OWN, gain=0.8, integral_s=1.0)  # settles in some seconds


@pytest.fixture(scope="module")
def still():
    """The air of a run without events, and its conditions."""
    return run_loop(TOWER, WINTER, Setup(1.0)).air


@pytest.mark.parametrize(("start_hz", "stop"), [(20.0, "lowest speed"), (28.0, "full speed")])
def test_a_loop_of_the_wrong_action_runs_to_the_end_that_its_first_error_says(still, start_hz, stop):
    wrong = replace(QUICK, action="direct")
    run = run_loop(TOWER, WINTER, Setup(30.0, settings=wrong, start_hz=start_hz, events=()))
    first_error = action.error(40.0, run.reading_pa[0, 0], "direct")
    assert str(action.end_stop("direct", +1, first_error)) == stop
    end = {"lowest speed": LARKFIELD.fan.lowest_speed_hz, "full speed": LARKFIELD.fan.highest_speed_hz}[stop]
    assert run.speed_hz[-1, 0] == pytest.approx(end)


def test_a_loop_starts_settled_unless_it_is_told_otherwise():
    held = TOWER.hold(WINTER).air.speed_hz[0]
    run = run_loop(TOWER, WINTER, Setup(20.0))
    assert run.speed_hz[0, 0] == pytest.approx(held, abs=0.1)
    assert run.reading_pa == pytest.approx(40.0, abs=0.2)
    assert run_loop(TOWER, WINTER, Setup(1.0, start_hz=0.0)).speed_hz[0, 0] == 0.0


def test_from_standstill_the_fan_comes_up_to_the_set_point():
    run = run_loop(TOWER, WINTER, Setup(40.0, start_hz=0.0, settings=QUICK))
    assert run.reading_pa[-50:] == pytest.approx(40.0, abs=0.5)
    assert np.diff(run.speed_hz[:, 0]).max() <= 50.0 / 6.0 * 0.1 + 1e-9


@pytest.mark.parametrize(
    ("kind", "more", "expected"),
    [
        ("open wire", {}, "same"),  # a live zero tells: the good one runs the loop
        ("short", {}, "same"),
        ("no number", {}, "same"),
        ("stuck", {}, "same"),  # at the set point it shows what it should
        ("tube off", {}, "over"),
        ("tube swapped", {}, "over"),
        ("drift", {"amount": -60.0}, "over"),
        ("wrong range entered", {"amount": 250.0}, "under"),
        ("wrong signal type", {"signal": "0-20 mA"}, "under"),
        ("swapped inputs", {}, "same"),  # an average does not care
    ],
)
def test_what_each_fault_does_to_the_stair(kind, more, expected):
    # True mean pressure at the two tubes after a minute, where the average should hold 40 Pa.
    run = run_loop(TOWER, WINTER, Setup(60.0, 0.2, faults=(TapFault(0, kind, at_s=5.0, **more),), settings=QUICK))
    tubes = run.tubes_pa[-1, :, 0]
    if expected == "same":
        # With one transmitter left out, the other one is held at 40 Pa.
        held = tubes[1] if kind in ("open wire", "short", "no number") else tubes.mean()
        assert held == pytest.approx(40.0, abs=0.5)
    else:
        assert (tubes.mean() > 55) if expected == "over" else (tubes.mean() < 33)


def test_a_bad_reading_is_never_averaged_in():
    fault = TapFault(0, "open wire", at_s=5.0)
    run = run_loop(TOWER, WINTER, Setup(20.0, faults=(fault,), settings=QUICK))
    after = run.time_s >= 5.0
    assert not run.usable[after, 0].any()
    assert run.usable[after, 1].all()
    assert run.reading_pa[after, 0] == pytest.approx(run.readings_pa[after, 1, 0])
    assert run.remarks == ("Left out because its signal had failed: transmitter 1.",)


@pytest.mark.parametrize(("fallback", "percent"), [("hold the last", None), ("preset speed", 70.0), ("use the good ones", None)])
def test_without_a_reading_the_fan_does_what_the_fallback_says(fallback, percent):
    faults = (TapFault(0, "open wire", at_s=5.0, ends_s=15.0), TapFault(1, "open wire", at_s=5.0, ends_s=15.0))
    run = run_loop(TOWER, WINTER, Setup(40.0, faults=faults, settings=replace(QUICK, fallback=fallback, preset_percent=70.0)))
    gone = (run.time_s >= 5.0) & (run.time_s < 15.0)
    assert run.lost[gone].all()
    assert not run.lost[~gone].any()
    before = run.output_percent[run.time_s < 5.0][-1, 0]
    assert run.output_percent[gone, 0] == pytest.approx(before if percent is None else percent)
    back = np.flatnonzero(run.time_s >= 15.0)[0]
    assert abs(run.output_percent[back, 0] - run.output_percent[back - 1, 0]) < 3.0  # no bump
    assert run.reading_pa[-20:] == pytest.approx(40.0, abs=0.5)
    assert run.remarks[0].startswith("No reading to go by for 10.0 s")


def test_one_dead_transmitter_is_enough_where_all_must_be_good():
    fault = (TapFault(0, "open wire", at_s=5.0),)
    run = run_loop(TOWER, WINTER, Setup(10.0, faults=fault, settings=replace(QUICK, fallback="hold the last")))
    assert run.lost[run.time_s >= 5.0].all()


def test_by_hand_and_back_the_speed_does_not_jump():
    run = run_loop(TOWER, WINTER, Setup(60.0, hand=((10.0, 25.0, 64.0),), settings=QUICK))
    by_hand = (run.time_s >= 10.0) & (run.time_s < 25.0)
    assert run.output_percent[by_hand] == pytest.approx(64.0)
    back = np.flatnonzero(run.time_s >= 25.0)[0]
    assert abs(run.output_percent[back] - 64.0) < 5.0
    assert run.reading_pa[-20:] == pytest.approx(40.0, abs=0.5)


def test_many_runs_at_once_are_each_what_one_run_alone_is():
    conditions = Conditions.joined(Conditions.of(LARKFIELD, weather) for weather in ("winter", "summer", "mild"))
    settings = replace(
        QUICK, set_point_pa=np.array([30.0, 40.0, 45.0]), gain=np.array([0.4, 0.6, 0.8]), integral_s=np.array([0.0, 1.0, 2.0])
    )
    faults = (TapFault(1, "open wire", at_s=10.0, runs=(1,)),)
    setup = Setup(20.0, events=(DoorEvent(5, 3.0, shuts_s=12.0),), settings=settings, faults=faults, ramp_s=np.array([6.0, 3.0, 1.0]))
    many = run_loop(TOWER, conditions, setup)
    for i in range(3):
        own = {name: np.asarray(value)[i] if np.size(value) == 3 else value for name, value in vars(settings).items()}
        fault = (replace(faults[0], runs=None),) if i == 1 else ()
        lone = replace(setup, settings=ControllerSettings(**own), faults=fault, ramp_s=float(setup.ramp_s[i]))
        alone = run_loop(TOWER, conditions.rows(slice(i, i + 1)), lone)
        assert many.speed_hz[:, i] == pytest.approx(alone.speed_hz[:, 0])
        assert many.readings_pa[:, :, i] == pytest.approx(alone.readings_pa[:, :, 0], nan_ok=True)
        assert many.lost[:, i] == pytest.approx(alone.lost[:, 0])


def test_many_tunings_share_one_air(still):
    run = run_loop(TOWER, WINTER, Setup(1.0, settings=replace(OWN, gain=np.linspace(0.2, 1.0, 50)), every_reading=False), air=still)
    assert run.speed_hz.shape == (10, 50)
    assert run.readings_pa is None
    assert run.tubes_pa is None


def test_a_life_safety_loop_takes_no_low_demand_rule():
    rule = LowDemandRule(20.0, 10.0, 5.0, 3.0)
    with pytest.raises(ValueError, match="low_demand must be off in smoke control"):
        run_loop(TOWER, WINTER, Setup(1.0, low_demand=rule))
    assert run_loop(TOWER, WINTER, Setup(1.0, low_demand=rule, fire_mode=False)).running.all()


def test_an_idling_fan_stops_and_starts_in_a_run_and_the_record_shows_it():
    rule = LowDemandRule(30.0, 2.0, 10.0, 1.0)
    run = run_loop(TOWER, WINTER, Setup(40.0, low_demand=rule, fire_mode=False, settings=QUICK))
    stopped = ~run.running[:, 0]
    changes = run.time_s[1:][stopped[1:] != stopped[:-1]]
    assert not stopped[0]
    assert len(changes) >= 2
    assert changes[0] == pytest.approx(2.0, abs=0.2)  # below 30 Hz from the start: stopped when the two seconds are over
    assert changes[1] > changes[0] + 1.0  # and started when the pressure had been short for its one second
    assert run.speed_hz[stopped, 0].min() < LARKFIELD.fan.lowest_speed_hz


def test_a_loop_without_integral_action_says_so():
    run = run_loop(TOWER, WINTER, Setup(20.0, settings=replace(OWN, integral_s=0.0), start_hz=20.0))
    assert run.remarks[0].startswith("No integral action (an integral time of zero means none)")
    assert abs(run.reading_pa[-1, 0] - 40.0) > 3.0


@pytest.mark.parametrize("runs", [1, 2])
def test_air_that_gives_no_number_stops_the_run_in_a_sentence(runs):
    class Broken:
        samples = 0

        def course(self, times_s, arithmetic):
            return [None] * len(times_s)

        def read(self, entry, speed_hz, arithmetic):
            self.samples += 1
            return arithmetic.rows(np.full((2, arithmetic.runs), np.nan if self.samples > 20 else 40.0))

    settings = replace(OWN, gain=np.full(runs, 0.5))
    with pytest.raises(ValueError, match="air must give a number for every pressure, got none at 2 s"):
        run_on_air(Broken(), LARKFIELD, Setup(5.0), LARKFIELD.transmitters, settings, 1, 20.0)


def test_the_shortest_run_is_one_that_is_rounded_up_to_two_samples():
    assert len(run_loop(TOWER, WINTER, Setup(3.0, sample_s=2.0)).reading_pa) == 2
    with pytest.raises(ValueError, match=r"from twice to 1000000 times, got 2$"):
        run_loop(TOWER, WINTER, Setup(2.9, sample_s=2.0))


@pytest.mark.parametrize(
    ("setup", "sentence"),
    [
        (Setup(10.0, sample_s=0.0), "sample_s must be above 0, got 0"),
        (Setup(10.0, sample_s=-0.1), "sample_s must be above 0, got -0.1"),
        (Setup(10.0, sample_s=8.0), "sample_s must fit into the run of 10 s from twice to 1000000 times, got 8"),
        (Setup(0.0), "length_s must be above 0, got 0"),
        (Setup(float("nan")), "length_s must be a finite number, got nan"),
        (Setup(0.3), "filter_s must be shorter than the run of 0.3 s, got 0.5"),
        (Setup(10.0, hand=((5.0, 3.0, 50.0),)), "hand must be from a time to a later one, got 5 to 3"),
        (Setup(10.0, hand=((20.0, 30.0, 50.0),)), "hand must begin within the run of 10 s, got 20"),
        (Setup(10.0, hand=((2.0, 3.0, 150.0),)), "hand must be from 0 to 100, got 150"),
        (Setup(10.0, start_hz=70.0), "start_hz must be from 0 to 50, got 70"),
        (Setup(10.0, rule="loudest"), "rule must be one of average"),
        (Setup(10.0, rule="weighted"), "weights must be given for the rule weighted"),
        (Setup(10.0, rule="weighted", weights=(1.0, 2.0, 3.0)), "weights must be one for each transmitter"),
        (Setup(10.0, settings=replace(OWN, gain=np.array([1.0, 2.0])), ramp_s=np.array([1.0, 2.0, 3.0])), "one a run, got 2 and 3 of them"),
    ],
)  # fmt: skip
def test_a_run_that_cannot_be_is_refused_in_a_sentence(setup, sentence):
    with pytest.raises(ValueError, match=sentence):
        run_loop(TOWER, WINTER, setup)
