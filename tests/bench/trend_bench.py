"""Trend logs: rows a second from the file to the fitted step, and how often the intervals hold the truth on known plants.

`python tests/bench/trend_bench.py` prints both; the second alone takes some minutes and is no part of run.py.
"""

import datetime
import json
import tempfile
import time
from pathlib import Path

import numpy as np

from helpers.studies.measured.trends.output_error import Windows, answers, fit
from helpers.studies.measured.trends.step_test import step_test
from helpers.studies.measured.trends.trend import Columns, read_trend

ROWS, STEP_S, LAG_S, DEAD_S, GAIN = 1_000_000, 0.1, 1.5, 0.5, 2.0
PLANTS = {  # lag, delay, noise of a row [share of the answer], memory of the noise, share of rows that is missing, quantised to
    "usual": (1.2, 0.5, 0.05, 0.0, 0.02, 0.1),
    "noisy": (1.2, 0.5, 0.15, 0.0, 0.02, 0.1),
    "coarse": (1.2, 0.5, 0.05, 0.0, 0.1, 0.5),
    "slow": (3.0, 0.6, 0.05, 0.0, 0.02, 0.1),
    "delay": (0.5, 1.5, 0.05, 0.0, 0.02, 0.1),
    "gusts": (1.2, 0.5, 0.05, 0.6, 0.02, 0.1),
    "long gusts": (1.2, 0.5, 0.05, 0.9, 0.02, 0.1),
}
DRAWS, SECONDS = 150, 80.0


def trend_speed(runs=3):
    """`trend_rows_per_s` (times as seconds) and `trend_rows_per_s_iso` (as ISO 8601): a log of a million rows with a thousand steps, from
    the CSV on the disk to gain, delay and lag, best of some runs."""
    time_s = np.arange(ROWS) * STEP_S
    speed = 40 + 5 * np.clip(np.abs(((time_s + 20) % 200) - 100) / 2 - 24.5, 0, 1)
    windows = Windows(time_s, speed, np.zeros(ROWS), np.array([0]), np.array([False]))
    reading = 50 + GAIN * (answers(windows, [LAG_S], [DEAD_S])[0] - 40) + np.random.default_rng(1).normal(0, 0.4, ROWS)
    start, found = datetime.datetime(2026, 5, 14), {}
    forms = {
        "trend_rows_per_s": ("Time (s)", lambda k: f"{k * STEP_S:.1f}"),
        "trend_rows_per_s_iso": ("Time", lambda k: (start + datetime.timedelta(milliseconds=100 * k)).isoformat(" ", "milliseconds")),
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, (head, written) in forms.items():
            path = Path(folder) / f"{name}.csv"
            rows = (f"{written(k)},{one:.2f},{other:.1f}\n" for k, (one, other) in enumerate(zip(speed, reading, strict=True)))
            with path.open("w") as file:
                file.write(f"{head},Speed (Hz),PDT-1 (Pa)\n")
                file.writelines(rows)
            seconds = min(_read_and_fitted(path, head) for _ in range(runs))
            found[name] = round(ROWS / seconds)
    return found


def _read_and_fitted(path, head):
    begun = time.perf_counter()
    step = step_test(read_trend(path, Columns(head, "PDT-1", speed="Speed")))
    spent = time.perf_counter() - begun
    assert step.whole
    assert abs(step.lag_s.value - LAG_S) < 0.1
    return spent


def coverage():
    """{plant: bias and share of intervals that hold the truth, of gain, lag and delay} over DRAWS draws each."""
    time_s, found = np.arange(0, SECONDS, STEP_S), {}
    speed = np.interp(time_s, [0, 10, 11.5, 30, 31.5, 50, 51.5, 70, 71.5, 90], [25, 25, 28, 28, 25, 25, 28, 28, 25, 25])
    starts, joined = np.array([0, 200, 400, 600]), np.array([False, True, True, True])
    for name, (lag, dead, size, memory, missing, quantum) in PLANTS.items():
        clean = 40 + 3 * (answers(Windows(time_s, speed, speed, np.array([0]), np.array([False])), [lag], [dead])[0] - 25)
        truth, held, values = {"gains": 3.0, "lag_s": lag, "delay_s": dead}, np.zeros(3), []
        for seed in range(DRAWS):
            rng = np.random.default_rng(seed)
            noise = rng.normal(0, 9 * size * np.sqrt(1 - memory**2), time_s.size)
            for k in range(1, time_s.size):
                noise[k] += memory * noise[k - 1]
            reading = np.round((clean + noise) / quantum) * quantum
            reading[rng.random(time_s.size) < missing] = np.nan
            one = fit(Windows(time_s, speed, reading, starts, joined), seed)
            values.append([float(np.mean(one.gains)), one.lag_s, one.delay_s])
            for place, (what, true) in enumerate(truth.items()):
                low, high = one.between(what)
                held[place] += np.mean((low <= true) & (true <= high))
        bias = np.mean(values, axis=0) / list(truth.values()) - 1
        found[name] = {"bias": np.round(bias, 3).tolist(), "held": np.round(held / DRAWS, 3).tolist()}
    return found


if __name__ == "__main__":
    print(json.dumps(trend_speed(), indent=1))
    for plant, figures in coverage().items():
        print(f"{plant:12} gain, lag, delay: bias {figures['bias']}, held {figures['held']}")
