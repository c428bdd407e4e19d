"""What a site's ramps ask of its motor and of its brake resistor, over the whole box of the wheel's inertia."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import fan as wheel
from helpers.model.site.tolerances import PRACTICE, Box, inertia_box
from helpers.units.said import with_unit

SHORT_TIME = 1.5  # of its rated torque that a motor on a drive gives for a minute; common practice, no source


@dataclass(frozen=True)
class RampLoads:
    """What a site's ramps ask of motor and brake resistor, up to the highest speed of the loop.

    wheel_nm: box of the torque that speeds the wheel up; air_nm, rated_nm: what the air takes and the motor's plate gives, there [N m];
    least_s: box of the shortest ramp up that the motor follows at SHORT_TIME all the way; enough_s: box of the one that asks for no more
    anywhere (inf: none does); back_w, back_j: boxes of the most power and of the energy that the wheel gives back, what air, motor and
    drive waste not taken off; brake: as the file has it.
    """

    up_s: float
    down_s: float
    wheel_nm: Box
    air_nm: float
    rated_nm: float
    least_s: Box
    enough_s: Box
    back_w: Box
    back_j: Box
    plate_w: float
    brake: str | None

    @property
    def up_state(self):
        """Key of its status: wrong where even the lightest wheel of the box comes up late, attention where the heaviest asks too much."""
        return "wrong" if self.least_s.low > self.up_s else "attention" if self.enough_s.high > self.up_s else "good"

    @property
    def down_state(self):
        """Key of its status: attention where the resistor may have to take more than the rated power: its size, unknown, decides."""
        return "attention" if self.brake == "resistor" and self.back_w.high > self.plate_w else "good"

    @property
    def up_said(self):
        """Torque asked for and given, in words."""
        asked = _ends([self.wheel_nm.low + self.air_nm, self.wheel_nm.high + self.air_nm], "torque")
        most = f"{SHORT_TIME * 100:.0f} % for a minute: {PRACTICE}"
        return f"asks for {asked} of {with_unit(self.rated_nm, 'torque')} rated ({most}){self._inertia}"

    @property
    def down_said(self):
        """What the wheel gives back, in words."""
        power, joule = (
            _ends([self.back_w.low, self.back_w.high], "power"),
            (f"{end / 1000:.1f}" for end in (self.back_j.low, self.back_j.high)),
        )
        takes = "the resistor takes at the most" if self.brake == "resistor" else "the wheel gives back at the most"
        size = ": its size off the drive's data sheet" if self.brake == "resistor" else ""
        return f"{takes} {power}, {' to '.join(dict.fromkeys(joule))} kJ in {self.down_s:g} s{size}{self._inertia}"

    @property
    def _inertia(self):
        return "" if self.wheel_nm.stated else f"; inertia not stated: {PRACTICE}"


def _ends(ends, dimension):
    return " to ".join(dict.fromkeys(with_unit(end, dimension, 1) for end in ends))


def ramp_loads(fan, smoke_control):
    """`RampLoads` of a site's `Fan` with its ramps, up to the highest speed that the loop may ask for.

    Equations: M = J w_ref / ramp, with what the curve takes at its most, Q dp / efficiency / w_ref by the square of the speed, beside
    P / w of the plate; back J w w_ref / ramp [W] and J w^2 / 2 [J]. Source: Newton's second law.
    Limits: standard air; the plate is taken at the reference speed, above it the motor gives its power, not its torque; whether drive and
    resistor bear as much as the motor is not known here.
    """
    box, high_hz = inertia_box(fan), fan.speed_limits_hz(smoke_control)[1]
    three = np.array([box.low, box.likely, box.high])
    full, high = (wheel.angular_speed(hz, fan.motor_poles) for hz in (fan.reference_speed_hz, high_hz))
    up_s, down_s = max(fan.ramp_s, 1e-3), max(fan.slows_s, 1e-3)
    air = float(np.max(np.asarray(fan.flows_m3_s) * fan.standard_pressures_pa) / fan.efficiency / full * (high / full) ** 2)
    rated = float(fan.motor_power_w / max(full, high))
    least = wheel.shortest_run_up(three, high, air, SHORT_TIME * rated) * full / high
    spare = SHORT_TIME * rated - air
    enough = three * full / spare if spare > 0 else np.full(3, np.inf)
    boxes = (
        Box(*each.tolist(), f"J dw/dt; inertia {box.source}", box.stated)
        for each in (three * full / up_s, least, enough, three * high * full / down_s, three * high**2 / 2)
    )
    torque, least, enough, power, energy = boxes
    return RampLoads(fan.ramp_s, fan.slows_s, torque, air, rated, least, enough, power, energy, fan.motor_power_w, fan.brake)
