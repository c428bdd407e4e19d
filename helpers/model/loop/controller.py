"""The controller (error, three parts, limits, by hand, without a reading) and the drive: ramps, low-demand stop, how quickly it may slow.

Per cent throughout: error in per cent of the reading's span, output in per cent of full speed. Standard form,

    output = gain (e + integral of e / Ti + Td de/dt)

with the derivative taken of the reading (a change of set point does not kick). Inside the dead band the error counts as none, outside it
counts in full.

A drive without a brake resistor cannot get rid of what the wheel gives back: it stretches the ramp, or trips on the voltage of its link, in
a fire. So the ramp down is judged at every speed it passes, with the air that takes least (doors shut), over the whole box of the inertia.
Limits: as in `formulas.fan` and `air.fan` (one efficiency at all flows: powers at small flow come out too low, ramps too long).
"""

import math
from dataclasses import dataclass

import numpy as np

from helpers import require, units
from helpers.formulas import fan as wheel
from helpers.formulas.action import ACTIONS
from helpers.model.air.fan import fan_points
from helpers.model.loop.arithmetic import OneRun
from helpers.model.site.tolerances import Box, inertia_box
from helpers.model.sweep import over_speeds

INTEGRAL_STOPS = ("ends", "ends and ramp")
FALLBACKS = ("use the good ones", "hold the last", "preset speed")


@dataclass(frozen=True)
class ControllerSettings:
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
            moved = 0.0 if self.last is None else reading_pa - self.last
            self.last = reading_pa
            proportional = proportional - (self.per_rate * moved)
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

    def _elsewhere(self, output, lost, hand_percent, stopped):
        """Output where the controller does not decide: by hand, without a reading, in a low-demand stop."""
        choose, within = self.arithmetic.choose, self.arithmetic.within
        if hand_percent is not None:
            self.joins = True
            return within(self.arithmetic.value(hand_percent), self.lowest, self.highest)
        self.joins = lost | stopped
        instead = self.output if self.preset is None else within(self.preset, self.lowest, self.highest)
        return choose(stopped, self.lowest, choose(lost, instead, output))


class LowDemandStop:
    """Stops a fan that idles and starts it again, sample after sample: a timer counts while it runs below stop_below_hz or stands with
    more error than restart_error, and starts anew when that ends; at stop_after_s or restart_after_s the fan changes over.

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
    falls from the highest speed to half of it (None: a brake takes what it gives back); no ramp down is quicker, see `formulas.fan`.
    A loop in smoke control never stops. holds: flag where the controller is held by what happens to the fan: never here.
    """

    holds = False

    def __init__(self, fan, sample_s, start_hz, rule=None, fire_mode=True, ramp_s=None, arithmetic=None, ramp_down_s=None, coast_s=None):
        arithmetic = self.arithmetic = arithmetic or OneRun()
        low, high = fan.lowest_speed_hz, fan.highest_speed_hz
        if not 0 <= low < high:
            raise ValueError(f"lowest_speed_hz must be below highest_speed_hz, got {low:g} and {high:g}")
        if rule is not None and fire_mode:
            raise ValueError("low_demand must be off in smoke control: a fan that keeps a stair free of smoke does not stop, got a rule")
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
    def follows_hz(self):
        """Speed [Hz] of the fan that follows the output."""
        return self.speed_hz

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


SPEEDS = 24  # at which the air's power is looked at between the two ends
# Of the most that the fan takes anywhere on its curve: what it takes at the least, also where it brings next to nothing. Real ones take two
# to five times as much at shut-off; common practice, no source.
LEAST_SHARE = 0.1


@dataclass(frozen=True)
class RampDown:
    """The ramp down of a site's fan from `from_hz` to `to_hz`, times from the reference speed to standstill as a drive is set.

    shortest_s: box of the shortest that the air alone can take, over the box of the inertia (high end: what to enter without a brake);
    own_s: the site's; decided_at_hz: the speed that decides, where the air takes `taken_w`; given_back_j: box of the energy that comes
    back over the way; most_back_w: box of the most power that comes back at the site's own ramp, what the air takes off it; brake: of the
    site, "not stated" as none; safe: whether the own ramp is long enough over the whole box, None where a resistor decides that.
    """

    from_hz: float
    to_hz: float
    shortest_s: Box
    own_s: float
    decided_at_hz: float
    taken_w: float
    given_back_j: Box
    most_back_w: Box
    brake: str
    safe: bool | None

    @property
    def too_fast(self):
        """Whether no brake is stated and the air cannot slow even the lightest wheel of the box so soon."""
        return self.safe is False and self.own_s < self.shortest_s.low

    @property
    def sentences(self):
        """What somebody who enters a ramp should know."""
        return tuple(_said(self))


def shortest_ramp_down(tower, conditions, from_hz=None, to_hz=None):
    """The shortest safe ramp down of a tower's fan, see `RampDown`; conditions: those in which a door may shut, doors shut in them.

    from_hz: highest speed it comes from (None: the highest that the loop may ask for); to_hz: lowest it goes to (None: the lowest that
    holds the set point in any of the conditions; of a fan that holds it in none, the lowest that the loop may ask for). Raises ValueError
    where from_hz is not above to_hz.
    """
    fan, control = tower.site.fan, tower.site.control
    low, high = fan.speed_limits_hz(control.fire_mode)
    start = high if from_hz is None else require.single_positive(from_hz=from_hz)
    end = _lowest_held_hz(tower, conditions, low) if to_hz is None else max(float(require.single_positive(to_hz=to_hz)), low)
    if not end < start:
        raise ValueError(f"from_hz must be above to_hz, got {start:g} and {end:g}")
    speeds = np.linspace(end, start, SPEEDS)
    taken = _least_power_w(tower, conditions, speeds)
    turning, reference = (wheel.angular_speed(hz, fan.motor_poles) for hz in (speeds, fan.reference_speed_hz))
    inertia = inertia_box(fan)
    three = np.array([inertia.low, inertia.likely, inertia.high])
    shortest = wheel.shortest_ramp_down(three, turning, taken, reference)
    worst = int(np.argmax(turning / np.maximum(taken, 1e-9)))
    back = np.maximum(three[:, None] * turning * reference / max(fan.slows_s, 1e-9) - taken, 0.0).max(axis=1)
    return RampDown(
        start, end, _scaled(shortest, inertia, "largest of J w w_ref over the air's power"), fan.slows_s,
        float(speeds[worst]), float(taken[worst]),
        _scaled(wheel.kinetic_energy(three, turning[-1], turning[0]), inertia, "J (w1^2 - w2^2) / 2"),
        _scaled(back, inertia, "J w w_ref / ramp, less the air's power"),
        fan.brake or "not stated", None if fan.brake == "resistor" else bool(fan.slows_s >= shortest[-1]),
    )  # fmt: skip


def _lowest_held_hz(tower, conditions, low):
    found = tower.hold(conditions)
    return float(found.air.speed_hz[found.held].min()) if found.held.any() else low


def _least_power_w(tower, conditions, speeds):
    """Shaft power [W] that the air takes at each speed, the least over the conditions."""
    (power,) = over_speeds(tower.solve, lambda air, rows: fan_points(tower, air, rows)[2:], conditions, speeds)
    fan = tower.site.fan
    curve = np.asarray(fan.flows_m3_s) * fan.standard_pressures_pa / fan.efficiency
    floor = LEAST_SHARE * curve.max() * (speeds / fan.reference_speed_hz) ** 3
    return np.maximum(power.min(axis=0), floor)


def _scaled(three, inertia, equation):
    low, likely, high = (float(each) for each in three)
    return Box(low, likely, high, f"{equation}; inertia {inertia.source}", inertia.stated)


def _said(ramp):
    way = f"from {units.show(ramp.from_hz, 'frequency')} to {units.show(ramp.to_hz, 'frequency')}"
    energy, power = (
        f"{box.likely / 1000:.1f}" + ("" if box.low == box.high else f" ({box.low / 1000:.1f} to {box.high / 1000:.1f})")
        for box in (ramp.given_back_j, ramp.most_back_w)
    )
    yield f"Slowed {way} the wheel gives back {energy} kJ; at a ramp down of {ramp.own_s:g} s at most {power} kW more than the air takes."
    if not ramp.shortest_s.stated:
        yield f"The inertia of wheel and motor is not stated: {ramp.shortest_s.source.rpartition('; inertia ')[2]}."
    if ramp.brake == "resistor":
        yield "How short a ramp the brake resistor bears, and how often, is not known here: its rating against these figures decides."
        return
    none = "No brake is stated" if ramp.brake == "not stated" else "Without a brake"
    shortest = f"{none}: the ramp down must be {math.ceil(ramp.shortest_s.high)} s or longer"
    at = f"at {units.show(ramp.decided_at_hz, 'frequency')} the air takes only {ramp.taken_w / 1000:.2f} kW"
    yield f"{shortest} ({at}), or the drive stretches it, or trips." + ("" if ramp.safe else f" The site has {ramp.own_s:g} s.")
