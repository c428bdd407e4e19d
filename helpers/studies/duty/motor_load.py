"""What the motor of a stair's fan bears in every state of the record: torque against its rated one, current as a share of its plate's, and
what the drive draws; which state asks the most.

The plate is taken at the reference speed, as ramps are judged: up to it the motor gives its torque, above it its power with a weaker
field. No plate current stands in a site file, so currents are shares of it.
Limits: one efficiency of the fan at all flows, as the site file states it: at small flow it takes more; the motor's own fan cools less at
low speed, where a fan asks for little torque; belts and bearings left out.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas.fan import angular_speed, motor_current_share, shaft_torque
from helpers.model.air.fan import fan_points
from helpers.model.air.tower import Tower
from helpers.model.loop.ramps import SHORT_TIME, ramp_loads
from helpers.model.site.tolerances import PRACTICE, Box
from helpers.studies.cases import conditions_of
from helpers.studies.duty.fan_duty import Duty
from helpers.studies.report import NETWORK, Table, figure
from helpers.studies.status import status_of, word_of
from helpers.units.said import with_unit

MAGNETISING = Box(0.3, 0.4, 0.6, PRACTICE, False)  # of the plate's current without load, large motors to small ones
ROOM = 0.05  # ours: of the rated torque or current, less than which is looked at
START = "Ramp up"
MOST_ASKED = ("Most torque asked of the motor, running", "Most torque asked of the motor, on the ramp up")


@dataclass(frozen=True)
class MotorLoad:
    """What a motor bears, by state.

    names; speed_hz, power_w [states] at the shaft; torque_nm, torque_share [states] of the rated one (of the ramp up: air and heaviest
    wheel); current_share [2, states] of the plate's, least and most over MAGNETISING; drawn_share [states]: what the drive takes from its
    supply, of what it takes at the plate; most_share [states]: how much of the rated torque it may be, SHORT_TIME on the
    ramp; rated_nm; ramp_state.
    """

    names: tuple[str, ...]
    speed_hz: np.ndarray
    power_w: np.ndarray
    torque_nm: np.ndarray
    torque_share: np.ndarray
    current_share: np.ndarray
    drawn_share: np.ndarray
    most_share: np.ndarray
    rated_nm: float
    ramp_state: str

    @property
    def used(self):
        """Share of what the motor may bear, torque or current at most, whichever is more [states]."""
        return np.maximum(self.torque_share, self.current_share[1]) / self.most_share

    @property
    def worst(self):
        """Places of the state that asks the most of it while it runs, and of the ramp up, which is the last."""
        return int(np.argmax(self.used[:-1])), len(self.names) - 1

    @property
    def states(self):
        """Key of the status of each state; of the ramp as ramps are judged, over the box of the wheel's inertia."""
        return (*status_of(self.used[:-1], 1.0, ROOM).tolist(), self.ramp_state)

    def table(self) -> Table:
        """Every state, with torque, current and what the drive draws."""
        columns = ("State", "Speed", "Shaft power", "Torque", "Of the rated torque", "Motor current, of the plate's", "Drawn by the drive")
        rows = zip(self.names, self.speed_hz, self.power_w, self.torque_nm, self.torque_share, self.current_share.T, self.drawn_share,
                   strict=True)  # fmt: skip
        told = tuple(
            (name, with_unit(hz, "frequency"), with_unit(power, "power"), with_unit(torque, "torque", 1), _percent(share), _span(current),
             _percent(drawn)) for name, hz, power, torque, share, current, drawn in rows
        )  # fmt: skip
        field = f"{100 * MAGNETISING.low:.0f} to {100 * MAGNETISING.high:.0f} % of the plate's without load ({MAGNETISING.source})"
        note = (
            f"Rated torque {with_unit(self.rated_nm, 'torque', 1)}, of the plate at the reference speed. Torque: P / w. Current: root of "
            f"the field's part squared and the torque's part squared; {field}: hold a clamp meter beside the plate. Drawn by the drive: by "
            "the power, of what it draws at the plate; below the reference speed less than the motor's current. The ramp may ask for "
            f"{100 * SHORT_TIME:.0f} % for a minute ({PRACTICE}); told for the heaviest wheel, judged over the box of its inertia."
        )
        return Table("motor_load", "What the motor bears in each state", columns, told, self.states, note)

    def figures(self):
        """The states that ask the most, running and on the ramp up, with what is left."""
        for label, place in zip(MOST_ASKED, self.worst, strict=True):
            left = 100 * (1 - self.used[place])
            spare = f"{left:.0f} % to spare" if left >= 0 else f"{-left:.0f} % too much"
            allowed = f", for a minute {100 * SHORT_TIME:.0f} % may be" if self.most_share[place] > 1 else ""
            word = word_of(self.states[place]) if self.states[place] in ("wrong", "attention") else ""
            share = f"{_percent(self.torque_share[place])} of {with_unit(self.rated_nm, 'torque', 1)} rated{allowed}"
            where = f"{self.names[place]}, {with_unit(self.speed_hz[place], 'frequency')}"
            told = f"{where}: {share}, current {_span(self.current_share[:, place])} of the plate's; {spare}"
            yield figure(label, self.torque_nm[place], "torque", f"{word}: {told}" if word else told, NETWORK, 1)


def motor_load(tower: Tower, duty: Duty) -> MotorLoad:
    """`MotorLoad` of a tower's motor in the cases of a `Duty`, each at the speed that it ends at; at the lowest and highest speed of the
    loop and the drive's own highest, the worst case of each; and on the ramp up in the densest air.

    Equations: P / w; `formulas.fan.motor_current_share`; the ramp as `ramp_loads`. Source: as there. Limits: see the head of this file.
    """
    site, fan, loads = tower.site, tower.site.fan, ramp_loads(tower.site)
    lowest_hz, full_hz = fan.speed_limits_hz(site.control.fire_mode)
    names = [f"{case.name}{'' if state == 'held' else f' ({state})'}" for case, state in zip(duty.cases, duty.state, strict=True)]
    speeds, powers = list(duty.speed_hz), list(duty.shaft_power_w)
    ends = {"Lowest speed": lowest_hz, "Full speed": full_hz, "The drive's own highest speed": duty.highest_hz}
    conditions = conditions_of(site, duty.cases)
    for name, hz in ends.items():
        if name != "The drive's own highest speed" or hz > full_hz:
            power = fan_points(tower, tower.solve(conditions, hz), conditions)[2]
            names.append(f"{name}: {duty.cases[int(power.argmax())].name}")
            speeds.append(hz)
            powers.append(power.max())
    w_high = float(angular_speed(full_hz, fan.motor_poles))
    names.append(f"{START} in the densest air, {loads.air_said}, heaviest wheel")
    speeds.append(full_hz)
    powers.append((loads.air_nm + loads.wheel_nm.high) * w_high)
    speed_hz, power_w = np.array(speeds, float), np.array(powers, float)
    torque = shaft_torque(power_w, angular_speed(speed_hz, fan.motor_poles))
    rated = float(shaft_torque(fan.motor_power_w, angular_speed(fan.reference_speed_hz, fan.motor_poles)))
    field = np.minimum(1.0, fan.reference_speed_hz / speed_hz)
    ends = np.array([[MAGNETISING.low], [MAGNETISING.high]])
    current = np.sort(motor_current_share(torque / rated, ends, field), axis=0)
    most = np.where([name.startswith(START) for name in names], SHORT_TIME, 1.0)
    return MotorLoad(
        tuple(names), speed_hz, power_w, torque, torque / rated, current, power_w / fan.motor_power_w, most, rated, loads.up_state
    )


def _percent(share):
    return f"{100 * share:.0f} %"


def _span(ends):
    return f"{' to '.join(dict.fromkeys(f'{100 * end:.0f}' for end in ends))} %"
