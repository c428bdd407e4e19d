"""Logs for tests, as if they had been read, and the invented ones of data/trends."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from helpers.studies.measured.trends.file_shape import FileShape
from helpers.studies.measured.trends.trend import Columns, Trend, read_trend

FOLDER = Path(__file__).parents[3] / "data" / "trends"
STAIR = Columns("Time", "Stair pressure", output="Output", speed="Fan speed")
READ = {
    "stair_steps_in_manual.csv": STAIR,
    "stair_set_point_steps.csv": replace(STAIR, set_point="Set point"),
    "stair_change_of_value.txt": replace(STAIR, time="Time (s)"),
    "building_every_minute.csv": STAIR,
    "stair_hunting.csv": STAIR,
    "stair_steps_door_moved.csv": replace(STAIR, time="Seconds"),
}


@cache
def own_log(name):
    """One of the invented logs."""
    return read_trend(FOLDER / name, READ[name])


def log_of(time_s, reading, speed=None, output=None, set_point=None):
    """A log of some columns, as if it had been read."""
    given = {"PDT-1": reading, "Speed": speed, "Output": output, "Set point": set_point}
    values = {heading: np.asarray(of, float) for heading, of in given.items() if of is not None}
    named = {role: heading for role, heading in (("speed", "Speed"), ("output", "Output"), ("set_point", "Set point")) if heading in values}
    dimensions = dict.fromkeys(values, "pressure") | {"Speed": "frequency", "Output": "percent"}
    shape = FileShape(("Time", *values), ("s", *[""] * len(values)), ",", ".", "ASCII", 1, 2)
    columns, lines = Columns("Time", "PDT-1", **named), np.arange(time_s.size) + 2
    return Trend("made up", columns, time_s, values, dimensions, lines, "0 s", "since start", shape)
