"""Fan duty: what the stated fan gives in each case, at which speed and power, what is left at full speed, and whether it is enough."""

from dataclasses import dataclass, replace

import numpy as np

from helpers import units
from helpers.formulas import fan as fans
from helpers.formulas.combining import combine
from helpers.model.fan_power import fan_points, inlet_density_ratio, pressure_against
from helpers.studies.cases import conditions_of
from helpers.studies.fan_needed import FanNeeded, fan_needed
from helpers.studies.figures import NETWORK, PRACTICE, Finding
from helpers.studies.full_speed import FullSpeed, full_speed

__all__ = ["Duty", "fan_duty"]

ROOM_IN_SPEED = 0.05  # ours: full speed should be at least this much above the duty speed, or nothing is left for a leakier building


@dataclass(frozen=True)
class Duty:
    """Duty points by case; all arrays [cases].

    flow_m3_s at the fan's inlet; pressure_pa the fan's own, duct loss included; shaft_power_w, electric_power_w; shutoff_speed_hz: at
    which the fan only just makes the stair's pressure with no flow. full_...: at full speed in smoke control, but
    full_shaft_power_w at highest_hz, the drive's own highest speed. needed: what the stair asks for, whatever fan
    is stated; full: what full speed does to the doors; inside: whether every door is inside its window with all doors closed.
    """

    cases: tuple
    state: np.ndarray
    set_point_pa: float
    reading_pa: np.ndarray
    flow_m3_s: np.ndarray
    pressure_pa: np.ndarray
    speed_hz: np.ndarray
    shaft_power_w: np.ndarray
    electric_power_w: np.ndarray
    shutoff_speed_hz: np.ndarray
    full_speed_hz: float
    full_flow_m3_s: np.ndarray
    full_reading_pa: np.ndarray
    full_shaft_power_w: np.ndarray
    highest_hz: float
    motor_power_w: float
    needed: FanNeeded
    full: FullSpeed
    inside: bool

    @property
    def design(self):
        """Place of the case of most flow among those that the stated fan holds, else among all; what is to be bought: `needed`."""
        held = self.state == "held"
        return int(np.argmax(np.where(held | ~held.any(), self.flow_m3_s, -np.inf)))

    @property
    def lowest_speed_hz(self):
        """The highest of the shut-off speeds of the cases that are held: no slower can the fan hold the set point in all of them."""
        held = self.state == "held"
        return float(self.shutoff_speed_hz[held | ~held.any()].max())

    @property
    def speed_margin(self):
        """Full speed over duty speed, less one."""
        return self.full_speed_hz / self.speed_hz - 1

    @property
    def motor_speed_said(self):
        """The speed that the motor is judged at, the drive's own highest, in words; beside that of smoke control where it differs."""
        if self.highest_hz == self.full_speed_hz:
            return f"full speed, {self.full_speed_hz:g} Hz,"
        return f"the drive's own highest speed of {self.highest_hz:g} Hz (full speed in smoke control is {self.full_speed_hz:g} Hz)"

    @property
    def motor_load(self):
        """Largest shaft power at the drive's own highest speed in any case, as a share of the motor's plate."""
        return float(self.full_shaft_power_w.max() / self.motor_power_w)

    @property
    def holds(self):
        """Whether the stated fan holds every required case."""
        asked = self.needed.required[: len(self.cases)]
        return self.needed.enough and bool((self.state == "held")[asked].all())

    def verdict(self, system="Pa"):
        """Fan and motor in plain words."""
        held = int((self.state == "held").sum())
        most, plate = (units.show(power, "power", system) for power in (self.full_shaft_power_w.max(), self.motor_power_w))
        enough = "too small" if self.motor_load > 1 else "enough"
        motor = f"At {self.motor_speed_said} the shaft takes up to {most}; the motor's plate says {plate}: {enough}."
        return f"{self.needed.verdict(system, self.inside)} It holds the set point in {held} of {len(self.cases)} cases. {motor}"

    def findings(self, system="Pa"):
        """What is wrong with fan and motor, and what only just fits."""
        return tuple(self._findings(system))

    def _findings(self, system):
        yield from self.needed.findings(system, self.inside)
        told = set()
        for place, case in enumerate(self.cases):
            for finding in self._case_finding(place, case, system):
                yield replace(finding, **_follows(finding, case, told)) if finding.caused_by else finding
        yield self._motor_finding(system)
        yield from self.full.findings(self.needed.required, system)

    def _motor_finding(self, system):
        most, plate = (units.show(power, "power", system) for power in (self.full_shaft_power_w.max(), self.motor_power_w))
        figure = f"{most} at the highest speed of {self.highest_hz:g} Hz, plate {plate}"
        if self.motor_load > 1:
            return Finding("wrong", "The motor is too small for the fan at its highest speed", figure, "the loop goes to full speed where "
                           "a door takes the pressure away", "shaft power Q p / efficiency, AMCA 210 (memory)",
                           "a larger motor, or a highest speed that keeps below the plate")  # fmt: skip
        return Finding("good", "The motor carries the fan at its highest speed in every case", figure)

    def _case_finding(self, place, case, system):
        shown = units.show(self.full_reading_pa[place], "pressure", system)
        target = units.show(self.set_point_pa, "pressure", system)
        if self.state[place] == "at full speed":
            yield Finding(self._short(place), f"The fan cannot hold the set point: {case.name}",
                          f"{shown} at full speed, set point {target}", "the leaks or open doors take more than the fan gives",
                          NETWORK, "a larger fan, tighter doors, or a lower set point; the local code says which "
                          "doors must be taken as open in the design", caused_by="fan")  # fmt: skip
        elif self.state[place] == "at lowest speed":
            yield Finding(self._short(place), f"The drive cannot go slow enough: {case.name}",
                          f"{units.show(self.reading_pa[place], 'pressure', system)} at the lowest speed, set point {target}",
                          "even the lowest speed gives more than the set point", NETWORK,
                          "a lower lowest speed, a smaller fan, a relief damper", caused_by="fan")  # fmt: skip
        elif self.state[place] == "not found":
            yield Finding("wrong", f"No steady state found: {case.name}", "", "the network did not settle", NETWORK,
                          "do not rely on this case")  # fmt: skip
        elif self.needed.required[place] and self.speed_margin[place] < ROOM_IN_SPEED:
            yield Finding("attention", f"Little speed left: {case.name}", f"{100 * self.speed_margin[place]:.0f} % above the duty speed",
                          "a building leaks more than its drawings say", PRACTICE, "a larger fan")  # fmt: skip

    def _short(self, place):
        """How grave it is that a case is not held."""
        return "wrong" if self.needed.required[place] else "attention"


def fan_duty(tower, window, comparison, rule):
    """Duty points of a tower's fan when one of the compared rules runs it.

    window: `SiteWindow`; comparison: `RuleComparison`; rule: one of its rules. Returns `Duty`. Raises ValueError for a rule not compared.
    Limits: one efficiency at all flows and speeds, as the site file states it, so powers at small flow come out too low; steady state.
    """
    result, site = comparison.result(rule), tower.site
    held, full_hz, highest_hz = result.held.air, site.fan.speed_limits_hz(site.control.fire_mode)[1], site.fan.highest_speed_hz
    conditions = conditions_of(site, comparison.cases)
    full = tower.solve(conditions, full_hz)
    weights = site.control.weights if rule == "weighted" else None
    full_reading = combine(tower.readings(full, comparison.transmitters), rule, weights=weights)
    flow, pressure, shaft = fan_points(tower, held, conditions)
    full_flow, _, full_shaft = fan_points(tower, full, conditions)
    if highest_hz > full_hz:  # the motor has to bear the drive's own highest speed, whatever smoke control is limited to
        full_shaft = fan_points(tower, tower.solve(conditions, highest_hz), conditions)[2]
    losses = site.fan.motor_efficiency * site.fan.drive_efficiency
    needed = fan_needed(tower, comparison.cases, rule, comparison.set_point_pa, comparison.transmitters)
    speeds = np.where(result.state == "held", held.speed_hz, np.inf)
    return Duty(
        comparison.cases, result.state, comparison.set_point_pa, result.reading_pa, flow, pressure, held.speed_hz, shaft, shaft / losses,
        _shutoff_speed(tower, held, conditions), full_hz, full_flow, full_reading, full_shaft, highest_hz, site.fan.motor_power_w, needed,
        full_speed(tower, window, comparison.cases, speeds, comparison.set_point_pa),
        all(inside for inside, case in zip(result.inside, result.cases, strict=True) if case.shut),
    )  # fmt: skip


def _shutoff_speed(tower, air, conditions):
    """Speed [cases] at which the fan, without flow, only just makes the pressure at the outlet that is hardest to reach."""
    shutoff = tower.curve.shutoff_pa * inlet_density_ratio(tower, conditions)
    hardest = np.maximum(pressure_against(tower, air).max(axis=-1), 0.0)
    return tower.site.fan.reference_speed_hz * fans.lowest_speed_for(hardest, shutoff)


def _follows(finding, case, told):
    """Key and cause of a case that is not held: with the stair's air another way it is no other finding; told: keys so far, added to."""
    key = f"short {case.whatever_air}"
    if key in told:
        return {"caused_by": key}
    told.add(key)
    return {"key": key}
