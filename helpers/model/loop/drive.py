"""The drive: from per cent of full speed to hertz, no faster than its ramps; and the low-demand stop, where it is allowed."""

import numpy as np

from helpers.formulas import require
from helpers.model.loop.arithmetic import OneRun

__all__ = ["Drive", "LowDemandStop"]


class LowDemandStop:
    """Stops a fan that idles and starts it again: the logic of `formulas.low_demand.low_demand_step`, sample after sample.

    rule: a `formulas.low_demand.LowDemandRule`, its numbers or arrays [runs]; restart_error in Pa.
    """

    def __init__(self, rule, sample_s, arithmetic):
        self.arithmetic, self.sample_s = arithmetic, sample_s
        below, after, restart_after = (rule.stop_below_hz, rule.stop_after_s, rule.restart_after_s)
        self.stop_below = arithmetic.value(require.at_least(0, stop_below_hz=below))
        self.restart_error = arithmetic.value(require.finite(restart_error=rule.restart_error))
        # A hair of slack, so that ten steps of a tenth are one second.
        self.stop_after = arithmetic.value(require.at_least(0, stop_after_s=after)) * (1 - 1e-9)
        self.restart_after = arithmetic.value(require.at_least(0, restart_after_s=restart_after)) * (1 - 1e-9)
        self.timer = arithmetic.value(0.0)
        self.stopped = self.timer > 0

    def step(self, speed_hz, error_pa, outranked=False):
        """Count on; outranked: flag where the fan must run whatever the demand (by hand, without a reading)."""
        choose = self.arithmetic.choose
        waiting = choose(self.stopped, error_pa > self.restart_error, speed_hz < self.stop_below)
        timer = choose(waiting, self.timer + self.sample_s, 0.0)
        over = waiting & (timer >= choose(self.stopped, self.restart_after, self.stop_after))
        self.stopped, self.timer = self.stopped ^ over, choose(over, 0.0, timer)
        if outranked is not False:
            self.stopped, self.timer = choose(outranked, False, self.stopped), choose(outranked, 0.0, self.timer)


class Drive:
    """Speed limits and ramps of a site's fan; `step` takes one sample.

    start_hz: speed at the start; rule: a `low_demand.LowDemandRule` or None; ramp_s: from standstill to the reference speed, ramp_down_s
    back (None: as a ramp_s that is given, else the fan's own). coast_s: time in which the wheel, left to the air,
    falls from the highest speed to half of it (None: a brake takes what it gives back); no ramp down is quicker, see `formulas.wheel`.
    A loop in smoke control never stops.
    """

    def __init__(self, fan, sample_s, start_hz, rule=None, fire_mode=True, ramp_s=None, arithmetic=None, ramp_down_s=None, coast_s=None):
        arithmetic = self.arithmetic = arithmetic or OneRun()
        low, high = fan.lowest_speed_hz, fan.highest_speed_hz
        if not 0 <= low < high:
            raise ValueError(f"lowest_speed_hz must be below highest_speed_hz, got {low:g} and {high:g}")
        if rule is not None and fire_mode:
            raise ValueError("low_demand must be off in the fire mode: a fan that keeps a stair free of smoke does not stop, got a rule")
        ramp = require.at_least(0, ramp_s=fan.ramp_s if ramp_s is None else ramp_s)
        down = fan.slows_s if ramp_s is None else ramp_s
        down = down if ramp_down_s is None else require.above(0, ramp_down_s=ramp_down_s)
        self.per_percent = high * 0.01
        self.up, self.down = (arithmetic.value(fan.reference_speed_hz * sample_s / np.maximum(each, 1e-9)) for each in (ramp, down))
        self.coasting = None if coast_s is None else arithmetic.value(sample_s / (high * require.positive(coast_s=coast_s)))
        self.asked_hz = None
        self.speed_hz = arithmetic.value(require.between(0, high, start_hz=start_hz))
        self.stop = None if rule is None else LowDemandStop(rule, sample_s, arithmetic)

    @property
    def stopped(self):
        """Flag where the fan stands for low demand."""
        return False if self.stop is None else self.stop.stopped

    @property
    def behind_hz(self):
        """How far the ramp holds the fan back from what was asked in the last step [Hz], above zero on the way up."""
        return self.asked_hz - self.speed_hz

    def step(self, output_percent, controller=None, outranked=False):
        """Speed [Hz] at the next sample, for an output [% of full speed] of this one.

        controller: whose error, outranked: flag where the low-demand logic has nothing to say; both for that logic only."""
        asked = output_percent * self.per_percent
        if self.stop is not None:
            asked = self.arithmetic.choose(self.stop.stopped, 0.0, asked)
        before, down = self.speed_hz, self.down
        if self.coasting is not None:
            fall = before - before / (1 + before * self.coasting)
            down = self.arithmetic.within(down, 0.0, fall)
        self.speed_hz = before + self.arithmetic.within(asked - before, -down, self.up)
        self.asked_hz = asked
        if self.stop is not None:
            self.stop.step(self.speed_hz, controller.error_pa, outranked)
        return self.speed_hz
