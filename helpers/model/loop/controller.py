"""The controller: error, proportional, integral and derivative part, limits; hand and automatic; what it does without a reading.

Per cent throughout: error in per cent of the reading's span, output in per cent of full speed. Standard form,

    output = gain (e + integral of e / Ti + Td de/dt)

with the derivative taken of the reading (a change of set point does not kick). Arrays are [runs].
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import require
from helpers.formulas.action import ACTIONS

__all__ = ["FALLBACKS", "Controller", "Settings"]

FALLBACKS = ("use the good ones", "hold the last", "preset speed")


@dataclass(frozen=True)
class Settings:
    """What is set at the controller; numbers or arrays [runs].

    gain [%/%], integral_s [s] (zero: no integral action), derivative_s [s], dead_band_percent of the span, span_pa of the reading on which
    the gain works, action, fallback for a bad reading and its preset_percent.
    """

    set_point_pa: float
    span_pa: float
    gain: float
    integral_s: float = 0.0
    derivative_s: float = 0.0
    dead_band_percent: float = 0.0
    action: str = "reverse"
    fallback: str = "use the good ones"
    preset_percent: float = 60.0

    def __post_init__(self):
        require.finite(set_point_pa=self.set_point_pa)
        require.positive(span_pa=self.span_pa)
        require.positive(gain=self.gain)
        for name in ("integral_s", "derivative_s", "dead_band_percent"):
            require.at_least(0, **{name: getattr(self, name)})
        require.one_of(ACTIONS, action=self.action)
        require.one_of(FALLBACKS, fallback=self.fallback)


class Controller:
    """Works one sample at a time. The integral only grows while the output can follow (no wind-up), and starts where the fan is."""

    def __init__(self, settings, sample_s, runs, lowest_percent, start_percent):
        self.set, self.sample_s = settings, float(require.positive(sample_s=sample_s))
        self.lowest = lowest_percent
        self.sign = {"reverse": 1.0, "direct": -1.0}[settings.action]
        integral = np.asarray(settings.integral_s, float) * np.ones(runs)
        self.per_sample = np.where(integral > 0, self.sample_s / np.maximum(integral, 1e-9), 0.0) * settings.gain
        self.output = np.ones(runs) * start_percent
        self.bias = self.output.copy()
        self.last = None

    def step(self, reading_pa, usable, by_hand_percent=None, follow_percent=None):
        """Output [% of full speed] for a combined reading; usable: whether there is one. In hand the output is the hand's.

        follow_percent: where the fan really is asked to be (in low-demand stop); the integral follows, so that the change back is smooth.
        """
        settings = self.set
        error = (settings.set_point_pa - reading_pa) * (self.sign * 100 / settings.span_pa)
        if settings.dead_band_percent:
            error = np.where(np.abs(error) <= settings.dead_band_percent, 0.0, error)
        proportional = settings.gain * error
        if settings.derivative_s and self.last is not None:
            rate = (reading_pa - self.last) / self.sample_s
            proportional = proportional - self.sign * settings.gain * settings.derivative_s * rate * 100 / settings.span_pa
        self.last = reading_pa
        grown = self.bias + self.per_sample * error
        asked = proportional + grown
        output = np.minimum(np.maximum(asked, self.lowest), 100.0)
        # Anti-windup: past a limit the integral may only come back.
        stays = (asked != output) & ((asked > output) == (error > 0))
        bias = np.where(stays, self.bias, grown)
        if not usable.all():
            output, bias = self._without(usable, output, bias, proportional)
        if by_hand_percent is not None:
            output = by_hand_percent + 0 * output
            bias = output - proportional
        if follow_percent is not None:
            bias = np.where(np.isnan(follow_percent), bias, follow_percent - proportional)
        self.output, self.bias = output, bias
        return output

    def _without(self, usable, output, bias, proportional):
        """No usable reading: the fan holds its speed or goes to the preset one; the integral waits."""
        instead = self.set.preset_percent if self.set.fallback == "preset speed" else self.output
        proportional = np.where(usable, proportional, 0.0)
        return np.where(usable, output, instead), np.where(usable, bias, instead - proportional)
