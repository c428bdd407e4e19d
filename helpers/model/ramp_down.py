"""How quickly a fan may be slowed: the wheel gives its energy back, and without a brake only the air takes it.

A drive without a brake resistor cannot get rid of what comes back: it stretches the ramp, or trips on the voltage of its link, in a fire.
So the ramp down is judged at every speed it passes, with the air that takes least (doors shut), over the whole box of the inertia.
Limits: as in `formulas.wheel` and `fan_power` (one efficiency at all flows: powers at small flow come out too low, ramps too long).
"""

import math
from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.formulas import require, wheel
from helpers.model.fan_power import fan_points
from helpers.model.site.boxes import Box, inertia_box

__all__ = ["RampDown", "shortest_ramp_down"]

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
    rows = conditions.rows(np.repeat(np.arange(len(conditions)), len(speeds)))
    air = tower.solve(rows, np.tile(speeds, len(conditions)))
    if not air.converged.all():
        raise ValueError(f"conditions must have an answer: {np.count_nonzero(~air.converged)} of {len(rows)} did not converge")
    fan = tower.site.fan
    curve = np.asarray(fan.flows_m3_s) * fan.standard_pressures_pa / fan.efficiency
    floor = LEAST_SHARE * curve.max() * (speeds / fan.reference_speed_hz) ** 3
    return np.maximum(fan_points(tower, air, rows)[2].reshape(len(conditions), -1).min(axis=0), floor)


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
