"""The controller: error, proportional, integral and derivative part, limits; hand and automatic; what it does without a reading.

Per cent throughout: error in per cent of the reading's span, output in per cent of full speed. Standard form,

    output = gain (e + integral of e / Ti + Td de/dt)

with the derivative taken of the reading (a change of set point does not kick). Inside the dead band the error counts as none, outside it
counts in full.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import require
from helpers.formulas.action import ACTIONS
from helpers.model.loop.arithmetic import OneRun

__all__ = ["FALLBACKS", "INTEGRAL_STOPS", "Controller", "Settings"]

INTEGRAL_STOPS = ("ends", "ends and ramp")
FALLBACKS = ("use the good ones", "hold the last", "preset speed")


@dataclass(frozen=True)
class Settings:
    """What is set at the controller; numbers or arrays [runs].

    gain [%/%], integral_s [s] (zero: no integral action), derivative_s [s], dead_band_percent of the span, span_pa of the reading on which
    the gain works, action, fallback for a bad reading (the last two when one reading is bad, "use the good ones" holds the last when none
    is good) and its preset_percent; integral_stops: where the integral stops growing, at the ends of the output only, or also while the
    drive's ramp holds the fan back (drives differ: at the ends only is the cautious case).
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
    integral_stops: str = "ends"

    def __post_init__(self):
        require.finite(set_point_pa=self.set_point_pa)
        require.positive(span_pa=self.span_pa)
        require.positive(gain=self.gain)
        for name in ("integral_s", "derivative_s", "dead_band_percent"):
            require.at_least(0, **{name: getattr(self, name)})
        require.between(0, 100, preset_percent=self.preset_percent)
        require.one_of(ACTIONS, action=self.action)
        require.one_of(FALLBACKS, fallback=self.fallback)
        for stops in np.atleast_1d(self.integral_stops).tolist():
            require.one_of(INTEGRAL_STOPS, integral_stops=stops)


class Controller:
    """Works one sample at a time.

    The integral only grows while the output can follow (no wind-up). At the first sample in automatic, be it the start, back from hand or
    from a fallback, the integral is set so that the output stays where it is (bumpless). Without integral action there is nothing to set:
    the output then is `start_percent` and what the error adds to it. The output stays from `lowest_percent` to `highest_percent`.
    """

    def __init__(self, settings, sample_s, lowest_percent, start_percent, arithmetic=None, highest_percent=100.0):
        self.arithmetic = arithmetic or OneRun()
        self.sample_s, self.lowest = require.single_positive(sample_s=sample_s), lowest_percent
        self.highest = highest_percent
        value, sign = self.arithmetic.value, {"reverse": 1.0, "direct": -1.0}[settings.action]
        self.set_point, self.gain, self.span_pa = (value(getattr(settings, name)) for name in ("set_point_pa", "gain", "span_pa"))
        self.per_pa = sign * 100 / self.span_pa
        integral, derivative, self.band = (value(n) for n in (settings.integral_s, settings.derivative_s, settings.dead_band_percent))
        self.integrates = integral > 0
        self.per_sample = self.arithmetic.choose(self.integrates, self.gain * self.sample_s / (integral + (integral == 0)), 0.0)
        self.per_rate = self.gain * derivative * self.per_pa / self.sample_s
        self.derives, self.banded = self.arithmetic.any(derivative > 0), self.arithmetic.any(self.band > 0)
        self.preset = value(settings.preset_percent) if settings.fallback == "preset speed" else None
        self.output = self.bias = value(start_percent)
        minds = np.equal(settings.integral_stops, "ends and ramp")
        self.minds_ramp, self.all_mind = bool(minds.any()), True if minds.all() else minds
        self.behind_hz = 0.0  # how far the ramp holds the fan back from what the last output asked, above zero on the way up
        self.joins, self.last = True, None

    @property
    def error_pa(self):
        """Error of this sample, above zero where more speed is asked for."""
        return self.error * self.span_pa * 0.01

    def step(self, reading_pa, lost=False, hand_percent=None, stopped=False):
        """Output [% of full speed] for a combined reading.

        lost: flag where there is no reading; hand_percent: the output by hand (None: automatic); stopped: flag where the fan stands for
        low demand, and the output waits at its lowest.
        """
        arithmetic = self.arithmetic
        error = self.error = (self.set_point - reading_pa) * self.per_pa
        if self.banded:
            error = arithmetic.choose(abs(error) <= self.band, 0.0, error)
        proportional = self.gain * error
        if self.derives:
            proportional = proportional - self._rate(reading_pa)
        if self.joins is not False:
            self.bias = arithmetic.choose(self.joins & self.integrates, self.output - proportional, self.bias)
            self.joins = False
        grown = self.bias + self.per_sample * error
        asked = proportional + grown
        output = arithmetic.within(asked, self.lowest, self.highest)
        past = asked != output
        if arithmetic.any(past):  # the integral may only come back
            grown = arithmetic.choose(past & ((asked > output) == (error > 0)), self.bias, grown)
        if self.minds_ramp:
            behind = self.behind_hz
            held = ((behind > 0) & (error > 0)) | ((behind < 0) & (error < 0))
            grown = arithmetic.choose(held & self.all_mind, self.bias, grown)
        self.bias = grown
        if hand_percent is not None or lost is not False or stopped is not False:
            output = self._elsewhere(output, lost, hand_percent, stopped)
        self.output = output
        return output

    def _rate(self, reading_pa):
        moved = 0.0 if self.last is None else reading_pa - self.last
        self.last = reading_pa
        return self.per_rate * moved

    def _elsewhere(self, output, lost, hand_percent, stopped):
        """Output where the controller does not decide: by hand, without a reading, in a low-demand stop."""
        choose, within = self.arithmetic.choose, self.arithmetic.within
        if hand_percent is not None:
            self.joins = True
            return within(self.arithmetic.value(hand_percent), self.lowest, self.highest)
        self.joins = lost | stopped
        instead = self.output if self.preset is None else within(self.preset, self.lowest, self.highest)
        return choose(stopped, self.lowest, choose(lost, instead, output))
