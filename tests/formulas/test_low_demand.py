"""Low-demand stop: the window of the threshold, the timers at work, cycling against a simulated store, and starts a motor bears."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import fan, low_demand
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.loop.arithmetic import OneRun
from helpers.model.loop.controller import LowDemandStop

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
RULE = LowDemandRule(stop_below_hz=20.0, stop_after_s=10.0, restart_error=5.0, restart_after_s=3.0)
STEP_S = 0.5


def run(speeds, errors, rule=RULE, running=True):
    """Running or not after each step."""
    stop, history = LowDemandStop(rule, STEP_S, OneRun()), []
    stop.stopped = not running
    for speed, error in zip(speeds, errors, strict=True):
        stop.step(speed, error)
        history.append(not stop.stopped)
    return np.array(history)


def test_a_fan_idling_below_20_hz_stops_after_10_s_and_not_before():
    history = run([15.0] * 30, [0.0] * 30)
    assert history[:19].all()
    assert not history[19:].any()


def test_a_moment_of_demand_starts_the_wait_anew():
    history = run([15.0] * 15 + [25.0] + [15.0] * 15, [0.0] * 31)
    assert history.all()


def test_a_stopped_fan_starts_when_the_pressure_has_been_short_long_enough():
    history = run([0.0] * 10, [4.0] * 3 + [6.0] * 7, running=False)
    assert history.tolist() == [False] * 8 + [True] * 2


def test_just_short_of_the_restart_error_it_rests():
    assert not run([0.0] * 100, [5.0] * 100, running=False).any()


@settings(EXAMPLES, max_examples=20)
@given(step=st.sampled_from([0.1, 0.3, 0.7]), stop_after=st.floats(0.5, 10))
def test_the_wait_is_as_long_as_asked_to_within_a_step(step, stop_after):
    stop, waited = LowDemandStop(RULE._replace(stop_after_s=stop_after), step, OneRun()), 0
    while not stop.stopped:
        stop.step(10.0, 0.0)
        waited += 1
    assert stop_after * (1 - 1e-6) <= waited * step < stop_after + step


def test_outside_the_window_a_fan_either_never_stops_or_cycles():
    """A steady fan: idle it turns at the shut-off speed, at its lowest duty at another; both held as the loop would."""
    shutoff = float(60 * fan.lowest_speed_for(50.0, 500.0))
    duty = 30.0
    low, high = low_demand.threshold_window(shutoff, duty)
    assert low < high
    for threshold in (low - 1, (low + high) / 2, high + 1):
        rule = RULE._replace(stop_below_hz=threshold)
        stops_idle = not run([shutoff] * 40, [0.0] * 40, rule)[-1]
        stops_on_duty = not run([duty] * 40, [0.0] * 40, rule)[-1]
        told = low_demand.VERDICTS[low_demand.verdict(threshold, shutoff, duty)]
        assert told == {(True, False): "right", (False, False): "never stops", (True, True): "cycles"}[stops_idle, stops_on_duty]


@EXAMPLES
@given(shutoff=st.floats(0, 60), duty=st.floats(0, 60), margin=st.floats(0, 10), share=st.floats(-0.5, 1.5))
def test_the_verdict_follows_the_window(shutoff, duty, margin, share):
    low, high = low_demand.threshold_window(shutoff, duty, margin)
    threshold = max(low + share * (high - low), 0.0)
    told = low_demand.VERDICTS[low_demand.verdict(threshold, shutoff, duty, margin)]
    if low >= high:
        assert told == "no threshold is right"
    else:
        assert told == ("never stops" if threshold <= low else "cycles" if threshold >= high else "right")


def test_a_wider_margin_narrows_the_window_from_both_sides():
    assert low_demand.threshold_window(18.0, 26.0, [0.0, 1.0, 4.0])[0].tolist() == [18.0, 19.0, 22.0]
    assert low_demand.threshold_window(18.0, 26.0, [0.0, 1.0, 4.0])[1].tolist() == [26.0, 25.0, 22.0]
    assert low_demand.verdict(22.0, 18.0, 26.0, [0.0, 1.0, 4.0]).tolist() == [0, 0, low_demand.NO_WINDOW]


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_cycles_are_those_of_a_simulated_store(share):
    source, store, step = 0.2, 1.0, 0.01
    level, filling, starts, last, whole = 0.0, True, 0, 0.0, 0.0
    for i in range(100_000):
        level += ((source if filling else 0.0) - share * source) * step
        if filling and level >= store:
            filling = False
        elif not filling and level <= 0:
            filling, starts = True, starts + 1
            last = last or i * step
            whole = i * step
    per_hour = 3600 * (starts - 1) / (whole - last)
    assert per_hour == pytest.approx(low_demand.cycles_per_hour(store, share * source, source), rel=2e-3)


@EXAMPLES
@given(store=st.floats(0.1, 100), source=st.floats(0.01, 10))
def test_half_demand_is_the_worst(store, source):
    demands = np.linspace(0, source, 201)
    cycles = low_demand.cycles_per_hour(store, demands, source)
    assert cycles.argmax() == 100
    assert cycles.max() == pytest.approx(low_demand.most_cycles_per_hour(store, source))
    assert cycles[[0, -1]] == pytest.approx(0.0)


def test_the_timers_bound_what_a_fan_can_do_at_worst():
    """The pressure is lost the moment the fan stops and held the moment it starts."""
    stop, starts, steps = LowDemandStop(RULE, STEP_S, OneRun()), 0, 2600
    for _ in range(steps):
        stood = stop.stopped
        stop.step(0.0 if stood else 15.0, 50.0 if stood else 0.0)
        starts += stood and not stop.stopped
    bound = low_demand.fastest_cycles_per_hour(RULE.stop_after_s, RULE.restart_after_s)
    assert starts * 3600 / (steps * STEP_S) == pytest.approx(bound, rel=0.02)


@pytest.mark.parametrize(("hp", "a", "b", "c"), low_demand.NEMA_MG10_STARTS)
def test_a_motor_of_the_table_bears_what_the_table_says(hp, a, b, c):
    power = hp * low_demand.WATTS_PER_HORSEPOWER
    assert low_demand.starts_allowed(power) == pytest.approx((a, c))
    inertia = 2 * b / a  # lb ft2: twice as much as the start rate bears
    assert low_demand.starts_allowed(power, inertia * low_demand.KG_M2_PER_LB_FT2) == pytest.approx((a / 2, c))


@EXAMPLES
@given(powers=st.tuples(st.floats(3729, 74500), st.floats(3729, 74500)), inertia=st.floats(0, 100))
def test_between_the_tables_motors_a_larger_one_bears_fewer_starts_and_rests_longer(powers, inertia):
    small, large = sorted(powers)
    both = low_demand.starts_allowed([small, large])
    assert both.per_hour[0] >= both.per_hour[1]
    assert both.rest_s[0] <= both.rest_s[1]
    assert low_demand.starts_allowed(small, inertia).per_hour <= both.per_hour[0]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: low_demand.threshold_window(-1.0, 20.0), "shutoff_speed_hz must be 0 or more, got -1"),
        (lambda: low_demand.threshold_window(1.0, 20.0, -1.0), "margin_hz must be 0 or more, got -1"),
        (lambda: low_demand.verdict(-1.0, 10.0, 20.0), "threshold_hz must be 0 or more, got -1"),
        (lambda: low_demand.cycles_per_hour(1.0, 2.0, 1.0), "demand_m3_s must be no more than source_m3_s, got 2.0 and 1.0"),
        (lambda: low_demand.cycles_per_hour(0.0, 1.0, 1.0), "store_m3 must be above 0"),
        (lambda: low_demand.most_cycles_per_hour(1.0, 0.0), "source_m3_s must be above 0"),
        (lambda: low_demand.fastest_cycles_per_hour(0.0, 0.0), "stop_after_s, restart_after_s and run_up_s must not all be zero"),
        (lambda: low_demand.starts_allowed(1000.0), "power_w must be from 3728.5 to 74570, got 1000"),
        (lambda: low_demand.starts_allowed(5000.0, -1.0), "load_inertia_kg_m2 must be 0 or more"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
