"""What a site's ramps ask of its motor and of its brake resistor, over the whole box of the wheel's inertia."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import fan as wheel
from helpers.formulas.air import STANDARD_DENSITY_KG_M3, density, pressure_at_altitude
from helpers.model.site.tolerances import PRACTICE, Box, inertia_box
from helpers.units.said import with_unit

SHORT_TIME = 1.5  # of its rated torque that a motor on a drive gives for a minute; common practice, no source
LEAST_RAMP_S = 1e-3  # a ramp of nothing asks for no end of torque


@dataclass(frozen=True)
class RampLoads:
    """What a site's ramps ask of motor and brake resistor, up to the highest speed of the loop.

    wheel_nm: box of the torque that speeds the wheel up; air_nm, rated_nm: what the air takes and the motor's plate gives, there [N m];
    least_s: box of the shortest ramp up that the motor follows at SHORT_TIME all the way; enough_s: box of the one that asks for no more
    anywhere (inf: none does); back_w, back_j: boxes of the most power and of the energy that the wheel gives back, what air, motor and
    drive waste not taken off; brake: as the file has it; of its resistor's plate: bears_w for ever, short_w for short_s, None where not
    stated; air_kg_m3, air_said: the air that air_nm is for, and which.
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
    bears_w: float | None
    short_w: float | None
    short_s: float | None
    air_kg_m3: float
    air_said: str

    @property
    def up_state(self):
        """Key of its status: wrong where even the lightest wheel of the box asks for more than SHORT_TIME of the rated torque on the way
        up, attention where only the heaviest does; as `held_state` on the way down."""
        return "wrong" if self.enough_s.low > self.up_s else "attention" if self.enough_s.high > self.up_s else "good"

    @property
    def followed_said(self):
        """How far the motor follows the ramp up, in words: "cannot follow" comes up late though the motor gives all it can."""
        if self.up_state == "attention":
            return "may not follow to the top"
        return "cannot follow" if self.least_s.low > self.up_s else "cannot follow to the top"

    @property
    def down_state(self):
        """Key of its status: wrong where even the lightest wheel of the box gives back more than the resistor's plate bears, attention
        where the heaviest does; where the plate is not known, or says nothing of so short a time, attention above what is known."""
        if self.brake != "resistor" or (self.bears_w is not None and self.back_w.high <= self.bears_w):
            return "good"
        if self.short_w is None:
            return "good" if self.bears_w is None and self.back_w.high <= self.plate_w else "attention"
        bears = ((self.back_w, self.short_w), (self.back_j, self.short_w * self.short_s))
        worst = max((box.low > limit) + (box.high > limit) for box, limit in bears)
        return ("good", "attention", "wrong")[worst]

    @property
    def held_nm(self):
        """Least and most torque over the box by which the motor holds the wheel back, ramp down [N m]; near standstill no air helps."""
        share = max(self.up_s, LEAST_RAMP_S) / max(self.down_s, LEAST_RAMP_S)
        return self.wheel_nm.low * share, self.wheel_nm.high * share

    @property
    def held_state(self):
        """Status of the motor on the way down: wrong where even the lightest wheel of the box asks for more than SHORT_TIME of its
        rated torque, attention where the heaviest does. Without a resistor no drive holds the wheel back: judged elsewhere."""
        over = sum(torque > SHORT_TIME * self.rated_nm for torque in self.held_nm) if self.brake == "resistor" else 0
        return ("good", "attention", "wrong")[over]

    @property
    def held_said(self):
        """The same in words."""
        asked, share = _ends(self.held_nm, "torque"), f"{100 * self.held_nm[1] / self.rated_nm:.0f} %"
        most = f"{SHORT_TIME * 100:.0f} % for a minute: {PRACTICE}"
        return f"{self.down_s:g} s asks for {asked} of {with_unit(self.rated_nm, 'torque')} rated, up to {share} ({most}){self._inertia}"

    @property
    def up_said(self):
        """Torque asked for and given, in words."""
        both = [self.wheel_nm.low + self.air_nm, self.wheel_nm.high + self.air_nm]
        asked = _ends(both, "torque")
        share = " to ".join(dict.fromkeys(f"{100 * torque / self.rated_nm:.0f} %" for torque in both))
        most = f"{SHORT_TIME * 100:.0f} % for a minute: {PRACTICE}"
        air = f"air of {with_unit(self.air_kg_m3, 'density', (2, 3))}, {self.air_said}"
        return f"asks for {asked} of {with_unit(self.rated_nm, 'torque')} rated, {share} ({most}; {air}){self._inertia}"

    @property
    def down_said(self):
        """What the wheel gives back, in words."""
        power, joule = (
            _ends([self.back_w.low, self.back_w.high], "power"),
            (f"{end / 1000:.1f}" for end in (self.back_j.low, self.back_j.high)),
        )
        takes = "the resistor takes at the most" if self.brake == "resistor" else "the wheel gives back at the most"
        size = f": {self.size_said}" if self.brake == "resistor" else ""
        return f"{takes} {power}, {' to '.join(dict.fromkeys(joule))} kJ in {self.down_s:g} s{size}{self._inertia}"

    @property
    def size_said(self):
        """What the resistor's plate says, in words."""
        told = [] if self.bears_w is None else [f"{with_unit(self.bears_w, 'power', 2)} for ever"]
        told += [] if self.short_w is None else [f"{with_unit(self.short_w, 'power', 1)} for {self.short_s:g} s"]
        return f"its plate says {' and '.join(told)}" if told else "its size off the drive's data sheet"

    @property
    def _inertia(self):
        return "" if self.wheel_nm.stated else f"; inertia not stated: {PRACTICE}"


def _ends(ends, dimension):
    return " to ".join(dict.fromkeys(with_unit(end, dimension, 1) for end in ends))


def densest_air(site):
    """(density [kg/m3], which air, in words) of the densest that a site's fan moves, at its altitude.

    A supply fan takes the coldest outdoor air of the site's weather, an exhaust fan of a stair the coldest air of the stair; where a plant
    states one temperature of its air or its rooms, that. Limits: a colder hour than the weather of the file is not in it.
    """
    if hasattr(site, "temperatures") and site.fan.sign < 0:
        stair_c = {name: state.stair_c for name, state in site.weather.items()}
        own = site.temperatures.stair_c
        temp_c, which = min((own if warm is None else warm, f"of the stair in {name}") for name, warm in stair_c.items())
    elif hasattr(site, "weather") and site.fan.sign > 0:
        temp_c, which = min((state.outdoor_c, f"outdoors in {name}") for name, state in site.weather.items())
    else:
        temp_c, which = getattr(site, "temperature_c", None), "as the file has it"
        temp_c = site.indoor_c if temp_c is None else temp_c
    return float(density(temp_c, pressure_at_altitude(site.altitude_m))), which


def ramp_loads(site, fan=None):
    """`RampLoads` of a site of any plant and its `Fan` (or another) with its ramps, up to the highest speed that the loop may ask for.

    Equations: M = J w_ref / ramp, with what the curve takes at its most, Q dp / efficiency / w_ref by the square of the speed and in the
    densest air, beside P / w of the plate; back J w w_ref / ramp [W] and J w^2 / 2 [J]. Source: Newton's second law; similarity laws.
    Limits: the plate is taken at the reference speed, above it the motor gives its power, not its torque; thin air cools it less, which is
    not counted; whether the drive bears as much as the motor is not known here; one ramp down at a time, the resistor cold before it.
    """
    fan, (air_kg_m3, which) = site.fan if fan is None else fan, densest_air(site)
    box, high_hz = inertia_box(fan), fan.speed_limits_hz(site.control.fire_mode)[1]
    three = np.array([box.low, box.likely, box.high])
    full, high = (wheel.angular_speed(hz, fan.motor_poles) for hz in (fan.reference_speed_hz, high_hz))
    up_s, down_s = max(fan.ramp_s, LEAST_RAMP_S), max(fan.slows_s, LEAST_RAMP_S)
    air = float(np.max(np.asarray(fan.flows_m3_s) * fan.standard_pressures_pa) / fan.efficiency / full * (high / full) ** 2)
    air *= air_kg_m3 / STANDARD_DENSITY_KG_M3
    rated = float(fan.motor_power_w / max(full, high))
    least = wheel.shortest_run_up(three, high, air, SHORT_TIME * rated) * full / high
    spare = SHORT_TIME * rated - air
    enough = three * full / spare if spare > 0 else np.full(3, np.inf)
    boxes = (
        Box(*each.tolist(), f"inertia times change of speed a second (J dw/dt); inertia {box.source}", box.stated)
        for each in (three * full / up_s, least, enough, three * high * full / down_s, three * high**2 / 2)
    )
    torque, least, enough, power, energy = boxes
    plate = fan.brake_power_w, fan.brake_short_power_w, fan.brake_short_time_s
    return RampLoads(
        fan.ramp_s, fan.slows_s, torque, air, rated, least, enough, power, energy, fan.motor_power_w, fan.brake, *plate, air_kg_m3, which
    )
