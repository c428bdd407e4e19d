"""The peer of the air network: scipy.optimize.root on the mass balances of one `towers.ordinary` tower at a time.

Written as tightly as numpy allows for one case: no objects, one array of pressures (stair, then floor).
"""

import bisect
import time

import numpy as np
from scipy.optimize import root

from helpers.formulas.kernels import SMOOTHING_PA
from helpers.model.air.spaces import OnStorey, Upward

METHODS = {
    "hybr": {"method": "hybr", "options": {"xtol": 1e-11}},
    "hybr, exact Jacobian": {"method": "hybr", "jac": True, "options": {"xtol": 1e-11}},
    "lm, exact Jacobian": {"method": "lm", "jac": True, "options": {"xtol": 1e-13, "ftol": 1e-13}},
}
SQUARE = SMOOTHING_PA**2


class OneTower:
    """One condition of an ordinary tower as plain numbers."""

    def __init__(self, network, i):
        one = network.take(np.array([i]))
        beside, outside, fan = one.openings[:3]
        upward = one.openings[3]
        assert isinstance(beside, OnStorey)
        assert isinstance(upward, Upward)
        self.n = one.storeys
        self.door, self.facade = beside.law.coefficient[:, 0], outside.law.coefficient[:, 0]
        self.exponent, self.wind = outside.law.exponent, outside.outside[:, 0]
        self.shaft, self.lift = upward.law.coefficient[:, 0], upward.lift[:, 0]
        self.fan, self.top = _OneFan(fan.law), fan.first

    def balance(self, p, ratio=None):
        n, out = self.n, np.empty(2 * self.n)
        stair, floor = p[:n], p[n : 2 * n]
        d, f, s = stair - floor, floor - self.wind, stair[:-1] - stair[1:] + self.lift
        door = self.door * d / np.sqrt(np.sqrt(d * d + SQUARE))
        up = self.shaft * s / np.sqrt(np.sqrt(s * s + SQUARE))
        out[:n] = door
        out[: n - 1] += up
        out[1:n] -= up
        out[n:] = self.facade * f * (f * f + SQUARE) ** ((self.exponent - 1) / 2) - door
        out[self.top] -= self.fan.flow_and_slope(stair[self.top], ratio)[0]
        return out

    def jacobian(self, p):
        n, matrix = self.n, np.zeros((2 * self.n, 2 * self.n))
        stair, floor = p[:n], p[n:]
        d, f, s = stair - floor, floor - self.wind, stair[:-1] - stair[1:] + self.lift
        door, facade, up = self.door * _slope(d, 0.5), self.facade * _slope(f, self.exponent), self.shaft * _slope(s, 0.5)
        i, j = np.arange(n), np.arange(n - 1)
        matrix[i, i] += door
        matrix[i, i + n] = matrix[i + n, i] = -door
        matrix[i + n, i + n] = door + facade
        matrix[j, j] += up
        matrix[j + 1, j + 1] += up
        matrix[j, j + 1] = matrix[j + 1, j] = -up
        matrix[self.top, self.top] -= self.fan.flow_and_slope(stair[self.top])[1]
        return matrix


class _OneFan:
    """The same fan curve for one pressure at a time, in plain Python numbers; off the curve it asks the law itself."""

    def __init__(self, law):
        curve, self.law = law.curve, law
        self.ratio, self.density = float(law.ratio[0, 0]), float(law.density[0, 0])
        self.pressure, self.flow, self.rise = (array[::-1].tolist() for array in (curve.pressure, curve.flow, curve.rise))

    def flow_and_slope(self, pressure, ratio=None):
        ratio, head = self.ratio if ratio is None else ratio, self.density / 1.2
        part = pressure / head / ratio**2
        if not self.pressure[0] < part < self.pressure[-1]:
            flow, slope, _ = self.law.curve.flow_and_slopes(np.array([pressure]), np.array([ratio]), self.density)
            return self.density * flow[0], self.density * slope[0]
        i = bisect.bisect_left(self.pressure, part) - 1
        width = self.pressure[i + 1] - self.pressure[i]
        t, start, end = (part - self.pressure[i]) / width, self.flow[i], self.flow[i + 1]
        m0, m1 = self.rise[i] * width, self.rise[i + 1] * width
        bend, turn = 2 * (start - end) + m0 + m1, 3 * (end - start) - 2 * m0 - m1
        flow, slope = start + t * (m0 + t * (turn + t * bend)), (m0 + t * (2 * turn + 3 * t * bend)) / width
        return self.density * ratio * flow, self.density * slope / ratio / head


def solve_seconds(network, start, method, cases):
    """Seconds a case, for cases that scipy solves to the same tolerance; a case it does not solve counts all the same."""
    method = dict(method)
    exact = method.pop("jac", False)
    ones = [OneTower(network, i) for i in range(cases)]
    begun = time.perf_counter()
    for one in ones:
        root(one.balance, start, jac=one.jacobian if exact else None, **method)
    return (time.perf_counter() - begun) / cases


def hold_seconds(network, start, taps, set_point_pa, cases):
    """Seconds a case for pressures and speed together, the average reading at the set point as the last equation."""
    ones = [OneTower(network, i) for i in cases]
    begun = time.perf_counter()
    for one in ones:
        root(_with_speed(one, taps.storeys, set_point_pa), start, method="hybr", options={"xtol": 1e-11})
    return (time.perf_counter() - begun) / len(cases)


def _with_speed(one, storeys, set_point_pa):
    def balance(x):
        reading = (x[storeys] - x[one.n + storeys]).mean()
        return np.append(one.balance(x[: 2 * one.n], abs(x[-1])), reading - set_point_pa)

    return balance


def _slope(x, exponent):
    square = x * x + SQUARE
    return square ** ((exponent - 1) / 2) * (1 + (exponent - 1) * x * x / square)
