"""Mistakes planted in the settings of drawn buildings, one at a time, and whether the review finds them; prints JSON.

`.venv/bin/python tests/bench/planted_mistakes.py [--strategies 100] [--from 0] [--storeys 12] [--each 1]`

The mistakes are those of `mistakes_written_first.txt`, which was written before the review's kinds were opened, as far as a strategy's file
can hold them; beside each the kinds of finding that would tell it. A mistake is found where one of these kinds tells something that it did
not tell of the settings without it. Where the building itself already shows what would tell it, the mistake is not tried there and counted
as such. False alarms on sound strategies are counted by `sound_strategies.py`: hardly a drawn building has settings that are sound.
"""

import argparse
import json
import sys
import time
from collections import Counter
from copy import deepcopy
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), *(str(HERE.parent / name) for name in ("bench", "house", "truth"))]

from strange_buildings import strange_sites  # noqa: E402

from helpers.model.site.file import read_site_text  # noqa: E402
from helpers.model.strategy import Strategy, stated_by  # noqa: E402
from helpers.record.review.study import reviewed  # noqa: E402
from helpers.studies.readings.rules import allowed_pressures  # noqa: E402

OUT = "set point fails", "infeasible", "door too heavy", "average hides", "highest leaves", "lowest leaves", "saturates", "two temperatures"
HUNTS = "unstable", "robust tuning", "swings", "integral and ramp"
CANNOT_BE_ENTERED = "square root", "windup without a limit", "failed reading counts as zero", "lead and lag of two fans", "zero for 1 V"


def _inputs(told, **changes):
    for one in told["inputs"]:
        one |= {name: change(one) if callable(change) else change for name, change in changes.items()}


def _loop(told, **changes):
    told["loop"] |= changes


def mistakes(told, site):
    """{name: (what is changed in a copy of the strategy's data, kinds that would tell it)} for a strategy of a site."""
    loop, fan, target = told["loop"], site.fan, told["loop"]["set_point_pa"]
    low_hz, high_hz = fan.speed_limits_hz(site.control.fire_mode)
    other = {"4-20 mA": "0-20 mA", "0-20 mA": "4-20 mA", "0-10 V": "2-10 V", "2-10 V": "0-10 V"}
    made = {
        "range too small": (
            lambda t: _inputs(t, range_low_pa=0.0, range_high_pa=1.02 * target),
            ("set point near end", "blind at full speed"),
        ),
        "range far too wide": (
            lambda t: _inputs(t, range_high_pa=lambda one: 15 * one["range_high_pa"]),
            ("error eats window", "coarse steps", "set point near end"),
        ),
        "drive spans another range": (lambda t: _inputs(t, entered_high_pa=lambda one: 2 * one["range_high_pa"]), ("entered range",)),
        "zero entered as span": (lambda t: _inputs(t, entered_signal=lambda one: other[one["signal"]]), ("entered range",)),
        "wrong action": (lambda t: _loop(t, action="direct" if loop["action"] == "reverse" else "reverse"), ("wrong action",)),
        "set point too high": (lambda t: _loop(t, set_point_pa=2.2 * target), (*OUT, "set point near end", "blind at full speed")),
        "set point too low": (lambda t: _loop(t, set_point_pa=0.25 * target), (*OUT, "at lowest speed", "set point near end")),
        "set point in the wrong unit": (
            lambda t: _loop(t, set_point_pa=target / 249.0889),
            (*OUT, "set point near end", "at lowest speed"),
        ),
        "gain far too high": (lambda t: _loop(t, gain=40 * loop["gain"]), HUNTS),
        "integral far too short": (
            lambda t: _loop(t, integral_time_s=loop["integral_time_s"] / 60),
            (*HUNTS, "slow samples", "filter and integral"),
        ),
        "integral far too long": (
            lambda t: _loop(t, integral_time_s=60 * loop["integral_time_s"]),
            ("integral unit", "sleeps", "recovery"),
        ),
        "derivative on a noisy reading": (lambda t: _loop(t, derivative_time_s=2.0), ("derivative",)),
        "filter too long": (lambda t: _inputs(t, filter_s=15.0), ("filter and integral", "long damping", *HUNTS)),
        "failed reading stops the fan": (lambda t: t.update(on_bad_reading={"does": "stop"}), ("stop on failure",)),
        "failed reading keeps the speed": (lambda t: t.update(on_bad_reading={"does": "keep the speed"}), ("hold the last", "fallback")),
        "fallback speed too high": (lambda t: _falls(t, high_hz), ("preset speed", "fallback")),
        "fallback speed too low": (lambda t: _falls(t, low_hz), ("preset speed", "fallback")),
        "minimum speed too high": (lambda t: _loop(t, lowest_speed_hz=0.97 * high_hz), ("lowest speed", "at lowest speed")),
        "maximum speed too low": (lambda t: _loop(t, highest_speed_hz=low_hz * 1.05), ("highest speed", "saturates", "saturates open")),
        "ramp far too slow": (
            lambda t: _loop(t, ramp_s=600.0),
            ("recovery", "long damping", "integral and ramp", "short after a door", "heavy after a door"),
        ),
        "alarm too narrow": (
            lambda t: t.update(alarms={"low_pa": target - 1.0, "high_pa": target + 1.0, "after_s": 30.0}),
            ("alarms inside",),
        ),
        "alarm delay too long": (
            lambda t: t.update(alarms={"low_pa": 0.5 * target, "high_pa": 1.5 * target, "after_s": 3600.0}),
            ("alarm late",),
        ),
        "dead band as wide as the window": (lambda t: _loop(t, dead_band_pa=0.7 * target), ("dead band",)),
        "restart after a power failure is off": (lambda t: t.update(restart={"after_mains": "by hand"}), ("restart",)),
        "override speed past the limit": (lambda t: t.update(override={"speed_hz": high_hz}), ("override", "full speed")),
        "one transmitter only": (lambda t: t["inputs"].__delitem__(slice(1, None)), ("one reading",)),
    }
    if len(told["inputs"]) > 1:
        made["both transmitters on one storey"] = (lambda t: _inputs(t, level=t["inputs"][0]["level"]), ("at one end", "other level"))
    if site.control.fire_mode:
        stop = {"stop_below_hz": 12.0, "stop_after_s": 300.0, "restart_deficit_pa": 8.0, "restart_after_s": 20.0}
        made["low demand stop in smoke control"] = (lambda t: t.update(low_demand=stop), ("stop in fire",))
    return made


def _falls(told, speed_hz):
    told["on_bad_reading"] = {"does": "agreed fallback speed", "after_s": 2.0, "preset_speed_hz": speed_hz}


def _told_by(review):
    return {(one.key, one.finding.severity, one.finding.what, one.finding.figure) for one in review.found if one.finding.severity != "good"}


def planted(seeds, most_storeys, count, each=1):
    """(seed, mistake, "found", "missed", "there already" or the refusal) of so many planted mistakes, so many (each) in turn on a site;
    seeds: a range, whose start says which mistake is the first."""
    at, done = seeds.start, 0  # another part of the list for another first seed
    for seed, text in strange_sites(seeds, most_storeys):
        site = read_site_text(text)
        told = stated_by(site).model_dump(exclude_none=True)
        choices = mistakes(told, site)
        if not allowed_pressures(site).feasible or told["loop"]["set_point_pa"] <= 0:
            continue
        names = [list(choices)[(at + place) % len(choices)] for place in range(min(each, len(choices)))]
        at += len(names)
        before = None
        for name in names:
            try:
                before = before or _told_by(reviewed(Strategy.model_validate(told), site))
                yield seed, name, _came(told, site, before, *choices[name])
            except ValueError as refusal:
                yield seed, name, f"refused: {str(refusal).splitlines()[-1][:120]}"
            done += 1
            if done >= count:
                return


def _came(told, site, before, plant, kinds):
    """What came of one mistake: plant changes a copy of the strategy's data, kinds would tell it, before was told without it."""
    wrong = deepcopy(told)
    plant(wrong)
    if len(wrong["inputs"]) == 1 and wrong["loop"]["rule"] in ("middle", "weighted"):
        wrong["loop"] |= {"rule": "average", "weights": None}
    after = _told_by(reviewed(Strategy.model_validate(wrong), site))
    new, was = ({one for one in found if one[0] in kinds} for found in (after - before, before))
    return "found" if new else "there already" if was else "missed"


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--strategies", type=int, default=100)
    asked.add_argument("--from", dest="first", type=int, default=0)
    asked.add_argument("--storeys", type=int, default=12)
    asked.add_argument("--each", type=int, default=1, help="mistakes on a site")
    asked.add_argument("--seconds", type=float, default=1e9, help="stop after so many seconds of the clock")
    chosen = asked.parse_args()
    began, lines = time.monotonic(), []
    for line in planted(range(chosen.first, chosen.first + 20 * chosen.strategies), chosen.storeys, chosen.strategies, chosen.each):
        lines.append(line)
        print(*line, file=sys.stderr, flush=True)
        if time.monotonic() - began > chosen.seconds:
            break
    print(
        json.dumps(
            {
                "planted": len(lines),
                "came of them": dict(Counter(what for *_, what in lines)),
                "cannot be entered": CANNOT_BE_ENTERED,
                "missed": [line for line in lines if line[2] == "missed"],
            },
            indent=1,
        )
    )
