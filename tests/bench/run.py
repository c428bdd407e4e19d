"""Measures the project's speed on this machine and prints one JSON object: `python tests/bench/run.py --json`.

Every ratio has its peer in the same run. Peers are general libraries, on the same towers, with their best method of those tried and a
good start (the mean solution of all cases). Times are the best of some runs, so that another program's work does not count.
"""

import argparse
import functools
import json
import multiprocessing
import sys
import time
from pathlib import Path

import attacked_bench
import class_bench
import loop_bench
import network_peer
import numpy as np
import slider_bench
import studies_bench
import towers
import trend_bench

sys.path.append(str(Path(__file__).parents[1] / "house"))  # called without pytest, which knows the folder by itself
from panels_made import verdict_length

from helpers.model.air.conditions import Conditions
from helpers.model.air.network import solve
from helpers.model.air.operating_point import HELD, Taps, hold
from helpers.model.air.tower import Tower
from helpers.model.found_once import forget_airs
from helpers.model.site.file import demo_sites, read_site

CASES, STOREYS = 2000, 40
TAPS = Taps(towers.STAIR, np.array([3, 36]), (towers.FLOOR, towers.FLOOR))


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print JSON (the only form there is)")
    parser.add_argument("--wild", type=int, default=100_000, help="how many wild towers")
    chosen = parser.parse_args()
    results = {}
    for part in (
        network_speed,
        growth,
        hold_speed,
        one_condition,
        loop_bench.measure,
        studies_bench.studies_speed,
        studies_bench.stair_heat_speed,
        trend_bench.trend_speed,
        slider_bench.slider_speed,
        slider_bench.slider_beside_bare,
        verdict_length,
        class_bench.class_speed,
        attacked_bench.attacked_speed,
    ):
        results |= part()
    results |= wild_towers(chosen.wild)
    print(json.dumps(results, indent=1))


def network_speed():
    """Microseconds a case for 2000 towers of 40 storeys (80 unknowns), and how many times that scipy takes."""
    network = towers.ordinary(STOREYS, CASES)
    ours = _best(lambda: solve(network), 7) / CASES
    found = solve(network)
    assert found.converged.all()
    start = np.concatenate([space.mean(axis=1) for space in found.pressure])
    peers = {name: network_peer.solve_seconds(network, start, method, 40) for name, method in network_peer.METHODS.items()}
    best = min(peers, key=peers.get)
    return {
        "network_us_per_case": round(ours * 1e6, 2),
        "network_vs_scipy_ratio": round(peers[best] / ours, 1),
        "network_scipy_method": best,
        "network_scipy_ms_per_case": {name: round(seconds * 1e3, 3) for name, seconds in peers.items()},
    }


def growth():
    """Slopes of time over storeys and over cases on doubly logarithmic paper, and the largest memory of the largest run."""
    storeys = np.array([10, 20, 40, 80, 160])
    by_storeys = [_best(functools.partial(solve, towers.ordinary(n, 1000)), 3) for n in storeys]
    with multiprocessing.get_context("spawn").Pool(1) as pool:  # a process of its own, so that its memory is only this run's
        cases, by_cases, peak = pool.apply(_growth_by_cases)
    return {
        "network_growth_storeys": _slope(storeys, by_storeys),
        "network_growth_cases": _slope(cases, by_cases),
        "network_peak_mb": round(peak, 1),
    }


def _growth_by_cases():
    cases = np.array([100, 1000, 10_000, 100_000])
    seconds = []
    for count in cases:
        spent, pressures = 0.0, []
        for i in range(0, count, CASES):
            network = towers.ordinary(STOREYS, min(CASES, count - i), seed=i)
            begun = time.perf_counter()
            pressures.append(solve(network).pressure)
            spent += time.perf_counter() - begun
        seconds.append(spent)
    return cases, seconds, _peak_mb()


def hold_speed():
    """Finding the fan speed with the pressures, against scipy's root on pressures and speed together."""
    network = towers.ordinary(STOREYS, CASES, seed=2)
    ours = _best(lambda: hold(network, TAPS, "average", 40.0, 0.1, 1.0), 5) / CASES
    found = hold(network, TAPS, "average", 40.0, 0.1, 1.0)
    held = np.flatnonzero(found.state == HELD)
    start = np.concatenate([*[space[:, held].mean(axis=1) for space in found.solution.pressure], [found.ratio[held].mean()]])
    peer = network_peer.hold_seconds(network, start, TAPS, 40.0, held[:20])
    return {"hold_us_per_case": round(ours * 1e6, 2), "hold_vs_scipy_ratio": round(peer / ours, 1), "hold_held_share": held.size / CASES}


def one_condition():
    """Milliseconds to hold one condition, as when a slider has moved: winter on two demo sites."""
    milliseconds = {}
    for key, name in (("hold_one_ms", "Larkfield House"), ("hold_one_northgate_ms", "Northgate Tower")):
        site = read_site(demo_sites()[name])
        tower, winter = Tower(site), Conditions.of(site, "winter")
        assert tower.hold(winter).held.all()
        milliseconds[key] = round(_best(functools.partial(tower.hold, winter), 25) * 1e3, 2)
    return milliseconds


def wild_towers(count, batch=250):
    """Share of wild towers, 1 to 160 storeys, that converge to the stated tolerance."""
    converged, steps, seconds = 0, 0, 0.0
    for seed in range(count // batch):
        network = towers.wild(int(np.random.default_rng(seed).integers(1, 161)), batch, seed)
        begun = time.perf_counter()
        found = solve(network)
        seconds += time.perf_counter() - begun
        converged += int(found.converged.sum())
        steps = max(steps, int(found.steps.max()))
    total = count // batch * batch
    return {
        "network_converged_share": converged / total,
        "network_wild_towers": total,
        "network_wild_most_steps": steps,
        "network_wild_s": round(seconds, 1),
    }


def _best(call, runs):
    times = []
    for _ in range(runs):
        forget_airs()
        begun = time.perf_counter()
        call()
        times.append(time.perf_counter() - begun)
    return min(times)


def _slope(sizes, seconds):
    return round(float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0]), 3)


def _peak_mb():
    try:
        import resource  # not on Windows
    except ImportError:
        return float("nan")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
