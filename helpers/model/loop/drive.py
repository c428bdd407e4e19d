"""The drive: from per cent of full speed to hertz, never faster than its ramp; and the low-demand stop, where it is allowed."""

import numpy as np

from helpers.formulas import low_demand, require

__all__ = ["Drive"]


class Drive:
    """Speed limits and ramp of a site's fan; `step` takes one sample. Arrays are [runs].

    ramp_s: from standstill to the reference speed. rule: a `low_demand.LowDemandRule` or None. A loop in the fire mode never stops.
    """

    def __init__(self, fan, sample_s, runs, start_hz, rule=None, fire_mode=True, ramp_s=None):
        self.lowest, self.highest = fan.lowest_speed_hz, fan.highest_speed_hz
        if not 0 <= self.lowest < self.highest:
            raise ValueError(f"lowest_speed_hz must be below highest_speed_hz, got {self.lowest:g} and {self.highest:g}")
        ramp_s = fan.ramp_s if ramp_s is None else ramp_s
        self.most = fan.reference_speed_hz * sample_s / np.maximum(require.at_least(0, ramp_s=ramp_s), 1e-9) * np.ones(runs)
        self.speed_hz = np.ones(runs) * start_hz
        if rule is not None and fire_mode:
            raise ValueError("low_demand must be off in the fire mode: a fan that keeps a stair free of smoke does not stop, got a rule")
        self.rule, self.sample_s = rule, sample_s
        self.running, self.timer = np.ones(runs, bool), np.zeros(runs)

    def step(self, output_percent, error_pa):
        """Speed [Hz] after this sample, for an output [% of full speed] and the controller's error [Pa, above zero: more is wanted]."""
        asked = np.maximum(output_percent * (self.highest * 0.01), self.lowest)
        if self.rule is not None:
            self.running, self.timer = low_demand.low_demand_step(
                self.rule, self.running, self.timer, np.maximum(self.speed_hz, 0.0), error_pa, self.sample_s
            )
            asked = np.where(self.running, asked, 0.0)
        move = np.minimum(np.maximum(asked - self.speed_hz, -self.most), self.most)
        self.speed_hz = self.speed_hz + move
        return self.speed_hz

    @property
    def stopped_percent(self):
        """Output that the controller shall follow while the fan stands for low demand (NaN while it runs), or None without a rule."""
        return None if self.rule is None else np.where(self.running, np.nan, self.lowest / self.highest * 100)
