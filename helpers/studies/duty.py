"""Fan duty: what the fan must give in each case, at which speed and power, what is left at full speed, and whether the motor is enough."""

from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.formulas import fan as fans
from helpers.formulas.combining import combine
from helpers.model.fan_power import fan_points, inlet_density_ratio, pressure_against
from helpers.studies.cases import conditions_of
from helpers.studies.figures import NETWORK, PRACTICE, Finding

__all__ = ["Duty", "fan_duty"]

ROOM_IN_SPEED = 0.05  # ours: full speed should be at least this much above the duty speed, or nothing is left for a leakier building


@dataclass(frozen=True)
class Duty:
    """Duty points by case; all arrays [cases].

    flow_m3_s at the fan's inlet; pressure_pa the fan's own, duct loss included; shaft_power_w, electric_power_w; shutoff_speed_hz: at
    which the fan only just makes the stair's pressure with no flow. full_...: at full speed; full_door_pa across the shut stair door that
    is then worst off, full_limit_pa what that door bears (infinite where none has a limit), full_means what it does to the door.
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
    full_door_pa: np.ndarray
    full_limit_pa: np.ndarray
    full_means: str
    motor_power_w: float

    @property
    def design(self):
        """Place of the case that asks for most: the largest flow among those that are held, else among all."""
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
    def motor_load(self):
        """Largest shaft power at full speed in any case, as a share of the motor's plate."""
        return float(self.full_shaft_power_w.max() / self.motor_power_w)

    def verdict(self, system="Pa"):
        """Fan and motor in plain words."""
        place, held = self.design, int((self.state == "held").sum())
        flow, speed, pressure, power = self._shown(place, system)
        most = units.show(self.full_shaft_power_w.max(), "power", system)
        plate = units.show(self.motor_power_w, "power", system)
        enough = "too small" if self.motor_load > 1 else "enough"
        motor = f"At full speed the shaft takes up to {most}; the motor's plate says {plate}: {enough}."
        return (
            f"The set point is held in {held} of {len(self.cases)} cases. The most is asked in {self.cases[place].name}: {flow} against "
            f"{pressure} at {speed}, {power} at the shaft. {motor}"
        )

    def findings(self, system="Pa"):
        """What is wrong with fan and motor, and what only just fits."""
        return tuple(self._findings(system))

    def _findings(self, system):
        for place, case in enumerate(self.cases):
            yield from self._case_finding(place, case, system)
        most = units.show(self.full_shaft_power_w.max(), "power", system)
        figure = f"{most} at full speed, plate {units.show(self.motor_power_w, 'power', system)}"
        if self.motor_load > 1:
            yield Finding("wrong", "The motor is too small for the fan at full speed", figure, "the loop goes to full speed whenever a "
                          "door takes the pressure away", "shaft power Q p / efficiency, AMCA 210 (memory)",
                          "a larger motor, or a highest speed that keeps below the plate")  # fmt: skip
        else:
            yield Finding("good", "The motor carries the fan at full speed in every case", figure)
        yield from self._full_speed_finding(system)

    def _full_speed_finding(self, system):
        """Whether the doors could still be opened if the fan ran at full speed: manual override, lost signal, a low reading."""
        shut = [place for place, case in enumerate(self.cases) if case.shut and np.isfinite(self.full_limit_pa[place])]
        if not shut:
            return
        place = max(shut, key=lambda place: self.full_door_pa[place] - self.full_limit_pa[place])
        most, limit = (units.show(array[place], "pressure", system) for array in (self.full_door_pa, self.full_limit_pa))
        figure = f"{most} across a stair door, limit {limit} ({self.cases[place].name})"
        if self.full_door_pa[place] > self.full_limit_pa[place]:
            yield Finding("attention", f"At full speed stair doors are {self.full_means}", figure,
                          "a manual override, a lost signal or a crossed tube can send the fan there", NETWORK,
                          "a lower highest speed, a larger relief damper, lighter closers")  # fmt: skip
        else:
            yield Finding("good", "Even at full speed no stair door is beyond the top of its window", figure)

    def _case_finding(self, place, case, system):
        shown = units.show(self.full_reading_pa[place], "pressure", system)
        target = units.show(self.set_point_pa, "pressure", system)
        if self.state[place] == "at full speed":
            yield Finding("wrong" if case.shut else "attention", f"The fan cannot hold the set point: {case.name}",
                          f"{shown} at full speed, set point {target}", "the leaks or open doors take more than the fan gives",
                          NETWORK, "a larger fan, tighter doors, or a lower set point; the local code says which "
                          "doors must be taken as open in the design")  # fmt: skip
        elif self.state[place] == "at lowest speed":
            yield Finding("wrong" if case.shut else "attention", f"The drive cannot go slow enough: {case.name}",
                          f"{units.show(self.reading_pa[place], 'pressure', system)} at the lowest speed, set point {target}",
                          "even the lowest speed gives more than the set point", NETWORK,
                          "a lower lowest speed, a smaller fan, a relief damper")  # fmt: skip
        elif self.state[place] == "not found":
            yield Finding("wrong", f"No steady state found: {case.name}", "", "the network did not settle", NETWORK,
                          "do not rely on this case")  # fmt: skip
        elif case.shut and self.speed_margin[place] < ROOM_IN_SPEED:
            yield Finding("attention", f"Little speed left: {case.name}", f"{100 * self.speed_margin[place]:.0f} % above the duty speed",
                          "a building leaks more than its drawings say", PRACTICE, "a larger fan")  # fmt: skip

    def _shown(self, place, system):
        values = (self.flow_m3_s, "flow"), (self.speed_hz, "frequency"), (self.pressure_pa, "pressure"), (self.shaft_power_w, "power")
        return [units.show(array[place], dimension, system) for array, dimension in values]


def fan_duty(tower, window, comparison, rule):
    """Duty points of a tower's fan when one of the compared rules runs it.

    window: `SiteWindow`; comparison: `RuleComparison`; rule: one of its rules. Returns `Duty`. Raises ValueError for a rule not compared.
    Limits: one efficiency at all flows and speeds, as the site file states it, so powers at small flow come out too low; steady state.
    """
    result, site = comparison.result(rule), tower.site
    held, full_hz = result.held.air, site.fan.highest_speed_hz
    conditions = conditions_of(site, comparison.cases)
    full = tower.solve(conditions, full_hz)
    weights = site.control.weights if rule == "weighted" else None
    full_reading = combine(tower.readings(full, comparison.transmitters), rule, weights=weights)
    flow, pressure, shaft = fan_points(tower, held, conditions)
    full_flow, _, full_shaft = fan_points(tower, full, conditions)
    losses = site.fan.motor_efficiency * site.fan.drive_efficiency
    return Duty(
        comparison.cases, result.state, comparison.set_point_pa, result.reading_pa, flow, pressure, held.speed_hz, shaft, shaft / losses,
        _shutoff_speed(tower, held, conditions), full_hz, full_flow, full_reading, full_shaft,
        *_worst_door(tower, window, comparison.cases, full), site.fan.motor_power_w,
    )  # fmt: skip


def _worst_door(tower, window, cases, air):
    """Pressure across the shut stair door nearest to or farthest beyond the top of its window, that top [cases], and what it means."""
    limits = window.by_storey(tower.levels, "stair door")[1]
    most = np.array([np.where(np.isin(tower.levels, case.open_doors), np.inf, limits) for case in cases])
    worst = np.argmin(most - air.door_dp_pa, axis=1)[:, None]
    dp, limit = (np.take_along_axis(array, worst, axis=1)[:, 0] for array in (air.door_dp_pa, most))
    return dp, limit, "" if window.most is None else window.most.means("high")


def _shutoff_speed(tower, air, conditions):
    """Speed [cases] at which the fan, without flow, only just makes the pressure at the outlet that is hardest to reach."""
    shutoff = tower.curve.shutoff_pa * inlet_density_ratio(tower, conditions)
    hardest = np.maximum(pressure_against(tower, air).max(axis=-1), 0.0)
    return tower.site.fan.reference_speed_hz * fans.lowest_speed_for(hardest, shutoff)
