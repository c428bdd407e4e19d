"""Sound strategies, and what the review says against them: settings that our own record lays down for buildings drawn round a sound one,
entered as somebody's strategy. A FAIL of the review against an entry is a false alarm; prints JSON.

`.venv/bin/python tests/bench/sound_strategies.py [--strategies 100] [--from 0] [--out sound.jsonl]`

The buildings are Tannery Row with most of its figures drawn anew around their own, by up to a seventh: leaks, walls, storeys, closers, fan,
weather, lags. One is tried where the record lays down set point, action, fan, tuning and range; where it lays no fallback down, it
is left out and so is what the review says of that. What the review tells of the building itself is no false alarm: it is
counted, and has to be among what the record fails.
"""

import argparse
import json
import sys
import time
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), *(str(HERE.parent / name) for name in ("bench", "house", "truth"))]

import numpy as np  # noqa: E402

from helpers.model.site.file import SITES_FOLDER, read_site  # noqa: E402
from helpers.model.strategy import Strategy, stated_by  # noqa: E402
from helpers.record.design import Design  # noqa: E402
from helpers.record.review.kinds import STRATEGY  # noqa: E402
from helpers.record.review.study import reviewed  # noqa: E402
from helpers.studies.readings.failures import OWN, SPEED  # noqa: E402
from helpers.units.said import written_out  # noqa: E402

STREAM, SPREAD = 22, 1 / 7
# What is drawn: figures that lie anywhere within a share of SPREAD of their own.
OF_STOREYS = "height_m", "floor_area_m2", "stair_wall_m2", "extra_leak_m2"
OF_DOORS = "leak_area_m2", "closer_force_n"
OF_TAPS = "filter_s", "response_s", "damping_s", "accuracy_percent_span"
FAILURES = "no fallback", "fallback", "hold the last", "last reading", "blind after one"


def drawn_round(seed):
    """Tannery Row with its figures drawn anew by this seed."""
    site, draw = read_site(SITES_FOLDER / "tannery_row.toml"), np.random.default_rng((STREAM, seed))

    def near(value, spread=SPREAD):
        return None if value is None else float(f"{value * (1 + spread * (2 * draw.random() - 1)):.4g}")

    more = {name: 1 + SPREAD * (2 * draw.random() - 1) for name in OF_STOREYS}
    facade = 1 + SPREAD * (2 * draw.random() - 1)
    storeys = [
        {name: float(f"{getattr(storey, name) * share:.4g}") for name, share in more.items()}
        | {"facade_m2": tuple(float(f"{area * facade:.4g}") for area in storey.facade_m2)}
        for storey in site.storeys
    ]
    doors = {kind: {name: near(getattr(door, name)) for name in OF_DOORS} for kind, door in site.doors.items()}
    flow, pressure = near(1.0, 0.05), near(1.0, 0.05)
    fan = {
        "flows_m3_s": tuple(flow * np.array(site.fan.flows_m3_s)), "pressures_pa": tuple(pressure * np.array(site.fan.pressures_pa)),
        "inertia_kg_m2": near(site.fan.inertia_kg_m2), "duct_loss_pa": near(site.fan.duct_loss_pa),
    }  # fmt: skip
    taps = [{name: near(getattr(tap, name)) for name in OF_TAPS} for tap in site.transmitters]
    weather = {
        name: {"outdoor_c": round(one.outdoor_c + 4 * (draw.random() - 0.5), 1), "wind_speed_m_s": near(one.wind_speed_m_s)}
        for name, one in site.weather.items()
    }
    return site.with_changes(
        storeys=storeys, doors=doors, fan=fan, transmitters=taps, weather=weather, name=f"Drawn round a sound one {seed}"
    )


def laid_down(design):
    """What the record of a design lays down, as a `Strategy`: all but what it leaves to others; None where set point, action, fan, ramp,
    tuning or range does not stand."""
    standing = design.standing
    if not (standing.window.feasible and standing.stands and standing.ramp_stands) or design.tuned is None or standing.fan_open:
        return None
    told = stated_by(design.built).model_dump(exclude_none=True)
    told["loop"] |= {"gain": float(f"{design.tuned.gain:.3g}"), "integral_time_s": round(design.tuned.integral_s, 2)}
    told["restart"] = {"after_mains": "automatic", "catches_turning_wheel": True}
    for tap, one in zip(design.built.transmitters, told["inputs"], strict=True):
        one["damping_s"] = tap.damping_s or 0.0
    if design.fallback_first == "":
        found = design.fallback
        does = {"does": found.best.name, "after_s": 2.0, "preset_speed_hz": round(found.speed_hz, 1)}
        if found.best.name == OWN:
            does["set_points_pa"] = found.alone_pa
        told["on_bad_reading"] = {name: value for name, value in does.items() if name != "preset_speed_hz" or found.best.name == SPEED}
    if design.failing_judged is not None and (limits := design.fallback.alarm_limits) is not None:
        told["alarms"] = {"difference_pa": limits.deviation_pa, "after_s": limits.after_s, "end_stop_after_s": 120.0}
        for one, limit in zip(told["inputs"], limits.readings, strict=True):
            one |= {"alarm_low_pa": limit.low_pa, "alarm_high_pa": limit.high_pa}
    return Strategy.model_validate(told)


def _suited(design):
    """The design at a set point in the middle of those that suit, where its own does not."""
    if not design.standing.window.feasible or design.standing.set_point_stands:
        return design
    own = next(one for one in design.set_points if one.rule == design.site.control.rule)
    suits = design.standing.offered(own, design.inner_cases)
    return design if suits is None else design.but(set_point=float(round(sum(suits) / 2)))


def tried(seed):
    """{what came of it: data} of one building."""
    began = time.process_time()
    design = _suited(Design(drawn_round(seed), drawn=40))
    strategy = laid_down(design)
    line = {"seed": seed, "sound": strategy is not None}
    if strategy is not None:
        made = reviewed(strategy, design.built)
        grave = [one for one in made.found if one.finding.severity == "wrong"]
        without = () if strategy.on_bad_reading.does != "nothing" else FAILURES
        told = [(one.key, *written_out((one.finding.what, one.finding.figure))) for one in grave if one.whose == STRATEGY]
        line |= {
            "fallback laid down": not without,
            "alarms laid down": strategy.alarms.limits[2] is not None,
            "false alarms": [one for one in told if one[0] not in without],
            "of the building": sorted({one.key for one in grave if one.whose != STRATEGY}),
        }
    return line | {"seconds": round(time.process_time() - began, 1)}


def bench(first, count, out=None):
    """So many sound strategies from this seed on; out: path of a file of lines, whose seeds are not done again."""
    lines = list(map(json.loads, out.read_text().splitlines())) if out is not None and out.exists() else []
    done, seed = {line["seed"] for line in lines}, first
    while sum(line["sound"] for line in lines) < count and seed < first + 20 * count:
        if seed not in done:
            lines.append(tried(seed))
            print(lines[-1], file=sys.stderr, flush=True)
            if out is not None:
                with out.open("a") as kept:
                    kept.write(json.dumps(lines[-1]) + "\n")
        seed += 1
    sound = [line for line in lines if line["sound"]]
    return {
        "buildings": len(lines), "sound strategies": len(sound), "with a fallback": sum(line["fallback laid down"] for line in sound),
        "with alarms": sum(line["alarms laid down"] for line in sound),
        "strategies with a false alarm": sum(bool(line["false alarms"]) for line in sound),
        "false alarms": dict(Counter(key for line in sound for key, *_ in line["false alarms"])),
        "of the building": dict(Counter(key for line in sound for key in line["of the building"])),
    }  # fmt: skip


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--strategies", type=int, default=100)
    asked.add_argument("--from", dest="first", type=int, default=0)
    asked.add_argument("--out", type=Path)
    chosen = asked.parse_args()
    print(json.dumps(bench(chosen.first, chosen.strategies, chosen.out), indent=1))
