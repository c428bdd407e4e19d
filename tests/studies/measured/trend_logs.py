"""Makes data/trends: six invented logs of the project's own loop, each written as another hand would, and their truth beside them.

Run it to make them anew: `.venv/bin/python tests/studies/measured/trend_logs.py`. The loop is computed; what a log adds (noise of the wind,
digits, rows that are lost) is drawn with SEED. The truth (gain, lags, delay, what was wrong) is written to data/trends/truth.toml,
which nothing that reads a log opens.
"""

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np

from helpers.model.air.tower import Tower
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.tolerances import played_lags
from helpers.studies.cases import Case, conditions_of

FOLDER = Path(__file__).parents[3] / "data" / "trends"
SEED, SAMPLE_S, DEAD_S, MORE_LAG_S = 20260514, 0.1, 0.5, 0.6
START = datetime.datetime(2026, 5, 14, 9, 30)
HEAD = ("Time", "Output (%)", "Fan speed (Hz)", "Stair pressure (Pa)")


class Bench:
    """One stair with all doors shut, run and written down."""

    def __init__(self, name="Northgate Tower"):
        self.site = read_site(demo_sites()[name])
        self.tower = Tower(self.site)
        self.conditions = conditions_of(self.site, [Case("shut", next(iter(self.site.weather)))])
        self.settings = settings_of(self.site)

    def run(self, length_s, **setup):
        """(time, output, speed, reading as the controller sees it) of one run."""
        given = {"sample_s": SAMPLE_S, "dead_time_s": DEAD_S, "more_lag_s": MORE_LAG_S, "settings": self.settings} | setup
        run = run_loop(self.tower, self.conditions, Setup(length_s, **given))
        return run.time_s, run.output_percent[:, 0], run.speed_hz[:, 0], run.reading_pa[:, 0]

    def steps(self, percents, each_s, **setup):
        """The output in manual, at each of some per cent for so long."""
        hand = tuple((k * each_s, (k + 1) * each_s, float(percent)) for k, percent in enumerate(percents))
        start = percents[0] / 100 * self.site.fan.highest_speed_hz
        return self.run(len(percents) * each_s, hand=hand, start_hz=start, **setup)

    def set_points(self, set_points, each_s, gain, integral_s):
        """The loop controls, and its set point is stepped: run by run, each begun where the one before has come to rest."""
        parts, start_hz = [], None
        for k, set_point in enumerate(set_points):
            settings = replace(self.settings, set_point_pa=float(set_point), gain=gain, integral_s=integral_s)
            part = self.run(each_s, settings=settings, start_hz=start_hz)
            start_hz = float(part[2][-1])
            parts.append((part[0] + k * each_s, *part[1:], np.full(part[0].size, float(set_point))))
        return tuple(np.concatenate(of) for of in zip(*parts, strict=True))

    @property
    def lags_s(self):
        """The chain's lags as they are played, the slowest transmitter's, without what a run adds [s]."""
        played = (float(np.max(lag)) for lag in played_lags(self.site.transmitters, self.site.control).lags_s)
        return [max(tap.filter_s for tap in self.site.transmitters), *played]

    def gain(self, percents):
        """Reading by speed [Pa/Hz] between two outputs, at rest."""
        _, _, speed, reading = self.steps(percents, 40.0)
        half = speed.size // 2
        return float((reading[-1] - reading[half - 2]) / (speed[-1] - speed[half - 2]))


def wind(rng, count, size_pa, memory=0.6):
    """Noise of a reading that remembers the sample before it [Pa]."""
    drawn, found = rng.normal(0, size_pa * np.sqrt(1 - memory**2), count), np.empty(count)
    level = 0.0
    for k, one in enumerate(drawn):
        level = memory * level + one
        found[k] = level
    return found


def written(rows, head, separator=",", decimal=".", digits=(2, 2, 1), times=None):
    """A log as text. rows: columns, the seconds first; times: how those are written."""
    seconds, *values = rows
    digits = (*digits, *[digits[-1]] * (len(values) - len(digits)))
    lines = [separator.join(head)]
    for k, second in enumerate(seconds):
        cells = [f"{column[k]:.{places}f}".replace(".", decimal) for column, places in zip(values, digits, strict=True)]
        lines.append(separator.join([times(float(second)), *cells]))
    return "\n".join(lines) + "\n"


def stamp(form):
    """Writes seconds as date and clock."""

    def write(second):
        when = START + datetime.timedelta(seconds=round(second, 3))
        return when.strftime(form.replace("%f", f"{when.microsecond // 1000:03d}"))

    return write


def made():
    """({file name: bytes}, truth as TOML)."""
    rng, bench, files, truth = np.random.default_rng(SEED), Bench(), {}, {}
    lags = [*bench.lags_s, MORE_LAG_S]
    common = {"dead_time_s": DEAD_S, "lags_s": [round(float(lag), 3) for lag in lags if lag > 0]}

    def noisy(columns, size_pa=0.4):
        return (*columns[:3], columns[3] + wind(rng, columns[3].size, size_pa), *columns[4:])

    steps = noisy(bench.steps((52, 60, 52, 60, 52), 15.0))
    kept = rng.random(steps[0].size) > 0.02
    files["stair_steps_in_manual.csv"] = written([of[kept] for of in steps], HEAD, times=stamp("%Y-%m-%d %H:%M:%S.%f")).encode()
    truth["stair_steps_in_manual"] = {"gain_pa_hz": bench.gain((52, 60)), **common, "wrong": "nothing; 2 % of the rows are lost"}

    closed = bench.set_points((33, 38, 33, 38, 33), 40.0, 0.8, 2.0)
    closed = (closed[0], closed[4], *noisy(closed[:4])[1:])
    head = ("Time", "Set point (Pa)", "Output (%)", "Fan speed (Hz)", "Stair pressure (Pa)")
    files["stair_set_point_steps.csv"] = written(closed, head, ";", ",", (1, 2, 2, 1), stamp("%d.%m.%Y %H:%M:%S.%f")).encode("utf-8-sig")
    truth["stair_set_point_steps"] = {"gain_pa_hz": bench.gain((55, 59.5)), **common, "wrong": "nothing; the loop is closed"}

    t, output, speed, reading = noisy(bench.steps((52, 60, 52, 60, 52), 30.0), 0.1)
    rows, last = [], None
    for k in range(t.size):
        now = np.array([round(output[k], 1), round(speed[k], 2), round(reading[k], 1)])
        if last is None or np.any(np.abs(now - last) >= (0.1, 0.05, 0.5)):
            rows.append(k)
            last = now
    kept = np.array([*rows, t.size - 1])
    files["stair_change_of_value.txt"] = written(
        [of[kept] for of in (t, output, speed, reading)], ("Time (s)", *HEAD[1:]), "\t", times=lambda second: f"{second:.1f}"
    ).encode()
    truth["stair_change_of_value"] = {"gain_pa_hz": bench.gain((52, 60)), **common, "wrong": "rows only where the reading moved by 0.5 Pa"}

    minutes = noisy(bench.steps((50, 58, 50, 58, 50, 58), 20 * 60.0 + 17, sample_s=0.5, dead_time_s=1.0), 1.0)
    each = int(60 / 0.5)
    means = [of[: of.size // each * each].reshape(-1, each).mean(axis=1) for of in minutes]
    means = [np.arange(means[0].size) * 60.0, *means[1:3], means[3] / 249.0889]
    head = ("Time", "Output (%)", "Fan speed (Hz)", "Stair pressure (in. w.c.)")
    files["building_every_minute.csv"] = written(means, head, digits=(1, 1, 3), times=stamp("%m/%d/%Y %I:%M:%S %p")).encode()
    truth["building_every_minute"] = {
        "gain_pa_hz": bench.gain((50, 58)),
        **common,
        "wrong": "means over each minute: no delay can be told",
    }

    settings = replace(bench.settings, gain=2.0, integral_s=1.2)
    hunting = noisy(bench.run(120.0, settings=settings, events=(DoorEvent(6, 5.0, shuts_s=12.0),)), 0.2)
    files["stair_hunting.csv"] = written(hunting, HEAD, times=stamp("%Y-%m-%dT%H:%M:%S.%f")).encode()
    truth["stair_hunting"] = {
        "gain_pa_hz": bench.gain((52, 60)),
        **common,
        "wrong": "gain 2.0 %/% and integral time 1.2 s: small moves come to rest, a door sets it swinging on its ramp",
    }

    door = noisy(bench.steps((52, 60, 52, 60, 52), 15.0, events=(DoorEvent(5, 36.0),)))
    files["stair_steps_door_moved.csv"] = written(door, ("Seconds (s)", *HEAD[1:]), "|", times=lambda second: f"{second:.1f}").encode()
    truth["stair_steps_door_moved"] = {"gain_pa_hz": bench.gain((52, 60)), **common, "wrong": "the stair door of storey 5 opens at 36 s"}
    lines = ["# What lies behind the invented logs in this folder; computed with tests/studies/measured/trend_logs.py.", f"seed = {SEED}"]
    for name, its in truth.items():
        lines += ["", f"[{name}]"]
        lines += [
            f"{key} = {value!r}".replace("'", '"') if not isinstance(value, float) else f"{key} = {value:.4f}" for key, value in its.items()
        ]
    return files, "\n".join(lines) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    logs, told = made()
    for file, content in logs.items():
        (FOLDER / file).write_bytes(content)
    (FOLDER / "truth.toml").write_text(told, encoding="utf-8")
    print(f"{len(logs)} logs, {sum(map(len, logs.values()))} bytes, in {FOLDER}")
