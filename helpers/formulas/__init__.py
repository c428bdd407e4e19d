"""Pure functions on numbers and arrays, one physical idea a file. They import numpy, each other and the refusals of `require`.

>>> from helpers import formulas as f
>>> round(float(f.doors.opening_force(75, 0.91, 2.10, closer_force_n=40)))
118
"""

from helpers.formulas import action, air, combining, doors, fan, heat, leakage, low_demand, signals, step_response, tuning, uncertainty

__all__ = ["action", "air", "combining", "doors", "fan", "heat", "leakage", "low_demand", "signals", "step_response", "tuning",
           "uncertainty"]  # fmt: skip
