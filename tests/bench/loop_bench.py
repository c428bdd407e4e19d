"""Speed of the loop in time, measured on the forty storeys of Northgate Tower: ten minutes at a tenth of a second, six door events.

    loop_ms          one run whose air is solved already, as when one tuning after another is tried on the same events
    loop_first_ms    the same with the air network solved for it
    loop_with_air_ms two minutes with one door event, the air network solved for it, as when a lesson's slider has moved
    loops_per_s      a thousand runs at once, each with a gain and an integral time of its own
    loop_vs_solve_ivp_ratio            scipy's solve_ivp, the network solved at every evaluation, over loop_first_ms
    loop_vs_solve_ivp_same_air_ratio   scipy's solve_ivp on the same looked-up air, over loop_ms

The peer integrates the same loop as differential equations in plain numbers (no samples, no converter steps), from event to event, with
its best method of those tried. How far it is from a run with samples so short that they hardly count is printed beside. Its run with the
network is not waited for: its evaluations are counted on the looked-up air, and each is charged with one solution of the network for one
condition.
"""

import json
import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.found_once import forget_airs
from helpers.model.loop.arithmetic import OneRun
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.site.file import demo_sites, read_site

__all__ = ["measure"]

LENGTH_S, RUNS, MOVING_S, LAG_S = 600.0, 1000, 1.5, 0.1
METHODS = ("RK23", "RK45", "LSODA")
EVENTS = tuple(
    DoorEvent(level, at, shuts_s=at + 30.0, moving_s=MOVING_S) for level, at in zip((2, 7, 13, 19, 26, 35), range(30, 570, 90), strict=True)
)


def measure(repeats=25):
    """All figures, as a dictionary."""
    site = read_site(demo_sites()["Northgate Tower"])
    tower, conditions, setup = Tower(site), Conditions.of(site, "winter"), Setup(LENGTH_S, events=EVENTS, lag_s=LAG_S)
    run, own = run_loop(tower, conditions, setup), settings_of(site)
    tunings = replace(own, gain=own.gain * np.linspace(0.4, 1.4, RUNS), integral_s=own.integral_s * np.linspace(1.4, 0.7, RUNS))
    many = replace(setup, settings=tunings, every_reading=False)
    loop_s = _best(lambda: run_loop(tower, conditions, setup, air=run.air), repeats)
    first_s = _best(lambda: run_loop(tower, conditions, setup), 3)
    short = Setup(120.0, events=(DoorEvent(7, 20.0, shuts_s=60.0, moving_s=MOVING_S),), lag_s=LAG_S)
    with_air_s = _best(lambda: run_loop(tower, conditions, short), 5)
    many_s = _best(lambda: run_loop(tower, conditions, many, air=run.air), 7)
    solve_s = _best(lambda: tower.solve(conditions, 35.0), 5)
    fine = run_loop(tower, conditions, replace(setup, sample_s=0.01), air=run.air)
    peers = {method: _Peer(run, site).integrate(method, fine) for method in METHODS}
    with_network = {method: peer["seconds"] + peer["evaluations"] * solve_s for method, peer in peers.items()}
    return {
        "loop_ms": round(loop_s * 1e3, 1),
        "loop_first_ms": round(first_s * 1e3, 1),
        "loop_with_air_ms": round(with_air_s * 1e3, 1),
        "loop_air_solutions": int(np.prod(run.air.readings.shape[:2])),
        "loops_per_s": round(RUNS / many_s),
        "loop_vs_solve_ivp_ratio": round(min(with_network.values()) / first_s, 1),
        "loop_vs_solve_ivp_same_air_ratio": round(min(peer["seconds"] for peer in peers.values()) / loop_s, 1),
        "loop_solve_ivp": peers,
        "network_one_condition_ms": round(solve_s * 1e3, 1),
    }


class _Peer:
    """The loop's differential equations. State: sensed and filtered pressure of each transmitter, integral part [%], speed [Hz]."""

    def __init__(self, run, site):
        self.run, self.fan, self.settings, self.count = run, site.fan, run.settings, len(site.transmitters)
        self.filter_s = site.transmitters[0].filter_s
        self.stops = [0.0, *sorted(t for e in EVENTS for at in (e.at_s, e.shuts_s) for t in (at, at + MOVING_S)), float(run.time_s[-1])]

    def integrate(self, method, fine):
        """Seconds it takes, evaluations, and the largest distance of the combined reading from that of a run of fine samples [Pa]."""
        tubes, speed = self.run.tubes_pa[0, :, 0].tolist(), float(self.run.speed_hz[0, 0])
        bias = 100 * speed / self.fan.highest_speed_hz - self.settings.gain * self._error(tubes)
        state, evaluations, apart = np.array([*tubes, *tubes, bias, speed]), 0, 0.0
        begun = time.perf_counter()
        for start, end in pairwise(self.stops):
            at = np.append(np.arange(start, end, 0.1), end)
            found = solve_ivp(self._rates(start, end), (start, end), state, method, t_eval=at, rtol=1e-3, atol=0.02)
            assert found.success, found.message
            state, evaluations = found.y[:, -1], evaluations + found.nfev
            combined = np.median(found.y[self.count : 2 * self.count], axis=0)
            apart = max(apart, float(np.abs(np.interp(at, fine.time_s, fine.reading_pa[:, 0]) - combined).max()))
        return {"seconds": round(time.perf_counter() - begun, 2), "evaluations": evaluations, "apart_pa": round(apart, 2)}

    def _rates(self, start, end):
        """Rates of change between two events; the air is the same throughout where no leaf moves."""
        air, settings, count, arithmetic = self.run.air, self.settings, self.count, OneRun()
        lowest, percent = 100 * self.fan.lowest_speed_hz / self.fan.highest_speed_hz, self.fan.highest_speed_hz / 100
        ramp = self.fan.reference_speed_hz / self.fan.ramp_s
        still = None if end - start <= 1.001 * MOVING_S else next(air.course(np.array([(start + end) / 2]), arithmetic))
        tables = None if still else _Course(air)

        def rates(moment, state):
            sensed, filtered, (integral, speed) = state[:count].tolist(), state[count:-2].tolist(), state[-2:].tolist()
            tubes = air.read(still or tables.lines(moment), min(max(speed, 0.0), air.top_hz), arithmetic)
            error = self._error(filtered)
            asked = settings.gain * error + integral
            output = min(max(asked, lowest), 100.0)
            grows = 0.0 if asked != output and (asked > output) == (error > 0) else settings.gain * error / settings.integral_s
            moves = min(max((output * percent - speed) / 0.02, -ramp), ramp)
            return [*((t - s) / LAG_S for t, s in zip(tubes, sensed, strict=True)),
                    *((s - f) / self.filter_s for s, f in zip(sensed, filtered, strict=True)), grows, moves]  # fmt: skip

        return rates

    def _error(self, readings):
        return (self.settings.set_point_pa - sorted(readings)[self.count // 2]) * 100 / self.settings.span_pa


class _Course:
    """The air at any time of a movement; what was looked up once for a time is kept."""

    def __init__(self, air):
        self.air, self.kept = air, {}

    def lines(self, moment):
        if moment not in self.kept:
            self.kept[moment] = next(self.air.course(np.array([moment]), OneRun()))
        return self.kept[moment]


def _best(call, repeats):
    seconds = []
    for _ in range(repeats):
        forget_airs()
        begun = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - begun)
    return min(seconds)


if __name__ == "__main__":
    print(json.dumps(measure(), indent=1))
