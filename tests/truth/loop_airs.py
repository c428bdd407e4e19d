"""Airs that need no building, to run a loop on: only for comparison with what independent solvers say of the same air."""

import numpy as np

__all__ = ["OneLag", "Squared"]


class OneLag:
    """Air that answers like one lag with a delay."""

    def __init__(self, gain, lag_s, delay_s, sample_s, start_hz):
        self.gain, self.keep = gain, np.exp(-sample_s / lag_s)
        self.pressure, self.on_the_way = gain * start_hz, [start_hz] * round(delay_s / sample_s)

    def course(self, times_s, arithmetic):
        return [None] * len(times_s)

    def read(self, entry, speed_hz, arithmetic):
        self.on_the_way.append(speed_hz)
        self.pressure = self.keep * self.pressure + (1 - self.keep) * self.gain * self.on_the_way.pop(0)
        return [self.pressure]


class Squared:
    """Air at once at c s^2 less what leaves it through a disturbance d(t) [Pa]; c below zero for an exhaust."""

    def __init__(self, pa_per_hz2, disturbance_pa):
        self.per_square, self.disturbance = pa_per_hz2, disturbance_pa

    def at(self, time_s, speed_hz):
        return self.per_square * speed_hz**2 - self.disturbance(time_s)

    def course(self, times_s, arithmetic):
        return list(times_s)

    def read(self, time_s, speed_hz, arithmetic):
        return [self.at(time_s, speed_hz)]
