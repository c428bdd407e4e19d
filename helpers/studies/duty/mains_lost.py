"""A stair fan through a loss of the mains: how soon the shut doors are out of their limits while the wheel coasts, what has to pass until
the fan has power, how fast the wheel still turns then, and when the stair is at pressure again.

The wheel coasts by J w dw/dt = -P(w), P the shaft power that the network finds at each speed: a set of doors and a stack effect do not
follow the cube of the speed. Below the slowest speed that is solved it goes on by the cube.
Limits: friction, belts and the motor's own losses, which slow the wheel as well, are left out: doors are short sooner and the wheel turns
more slowly than told. Wind in the duct that turns a wheel backwards is in no model here.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from helpers.formulas.fan import angular_speed
from helpers.model.air.fan import fan_points
from helpers.model.air.tower import Tower
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.site.tolerances import Box, boxes, inertia_box
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.window import SiteWindow
from helpers.studies.report import Table
from helpers.units.said import with_unit

SOLVED = 13  # speeds of a coasting wheel that are solved, from the one it ran at
SLOWEST = 0.4  # of the speed it ran at: by similarity a sixth of the pressure is left there
REACHED = 0.9  # of the set point: "pressure" in what is clocked
WATCHED_S = 120.0  # for so long a start is played
_LEAST_W = 1e-9  # air that takes nothing slows nothing: the wheel then turns for ever in the model
_PARTS = (
    ("detection_s", "the loss is noticed"),
    ("start_s", "the source runs"),
    ("transfer_s", "the fan's feeder is on it"),
    ("drive_s", "the drive is charged and has caught the wheel"),
)


class PowerStep(NamedTuple):
    """What has to pass before the fan has power: what has come about when it is over, and how long it takes [s]."""

    done: str
    takes: Box


def until_power(site) -> tuple[PowerStep, ...]:
    """What passes from the loss of a stair's mains until its drive turns the wheel again; nothing where no source is stated, or none is
    there."""
    known = boxes(site)
    return tuple(PowerStep(done, known[f"standby.{field}"]) for field, done in _PARTS if f"standby.{field}" in known)


def start_ramp_s(site) -> float:
    """Seconds [s] of the drive's ramp from standstill to the lowest speed of the loop: before that no loop decides."""
    return site.fan.ramp_s * site.fan.speed_limits_hz(site.control.fire_mode)[0] / site.fan.reference_speed_hz


def to_pressure_s(tower: Tower, shut, settings=None) -> np.ndarray:
    """Seconds [conditions] from the command until the reading is at REACHED of its set point, from the lowest speed.

    tower: `Tower`; shut: `Conditions`, all doors shut; settings: the controller's, the site file's own where not given. NaN where it does
    not get there in WATCHED_S. Limits: the model has no standstill; what starts the fan comes first (`start_ramp_s`).
    """
    site = tower.site
    start_hz = site.fan.speed_limits_hz(site.control.fire_mode)[0]
    chosen = settings_of(site) if settings is None else settings
    setup = Setup(WATCHED_S, settings=chosen, fire_mode=site.control.fire_mode, start_hz=start_hz, every_reading=False)
    found = run_loop(tower, shut, setup)
    there = np.abs(found.reading_pa) >= REACHED * abs(found.set_point_pa)
    return np.where(there.any(axis=0), found.time_s[there.argmax(axis=0)], np.nan)


@dataclass(frozen=True)
class Coast:
    """A coasting wheel, by case.

    slowed_hz [speeds, cases] from the one it ran at; per_inertia_s [speeds, cases] the seconds to each for one kg m2; room_pa
    [speeds, cases] least room inside its limits of a shut door that was inside at the first speed; tau_s [cases] by which it goes on, for
    one kg m2; out: number of cases with a door not inside at the first speed; inertia: its `Box` [kg m2].
    """

    slowed_hz: np.ndarray
    per_inertia_s: np.ndarray
    room_pa: np.ndarray
    tau_s: np.ndarray
    out: int
    inertia: Box

    def short_s(self, inertia_kg_m2: float) -> np.ndarray:
        """Seconds [cases] until the first shut door that was inside its limits is out of them; inf where none is at any speed solved."""
        found = np.full(self.room_pa.shape[1], np.inf)
        for case in np.flatnonzero((self.room_pa < 0).any(axis=0)):
            room, seconds = self.room_pa[:, case], self.per_inertia_s[:, case]
            first = int((room < 0).argmax())
            found[case] = np.interp(0.0, room[[first, first - 1]], seconds[[first, first - 1]])
        return found * inertia_kg_m2

    def speed_after(self, seconds: float, inertia_kg_m2: float) -> np.ndarray:
        """Speed of the wheel [cases] in Hz of the drive, so many seconds after the power went."""
        found, passed = np.empty(self.slowed_hz.shape[1]), seconds / inertia_kg_m2
        for case, (times, speeds) in enumerate(zip(self.per_inertia_s.T, self.slowed_hz.T, strict=True)):
            found[case] = 1 / np.interp(passed, times, 1 / speeds)
        beyond = np.maximum(passed - self.per_inertia_s[-1], 0.0)
        return found / (1 + beyond / self.tau_s)


def coast(tower: Tower, window: SiteWindow, conditions, speed_hz) -> Coast:
    """How a stair's fan slows when nothing drives it.

    tower: `Tower`; window: `SiteWindow`; conditions: `Conditions`, all doors shut; speed_hz [cases] it ran at. Returns `Coast`.
    Equation: t = J int w dw / P(w), w^3 / P straight between SOLVED speeds; below them w = w1 / (1 + t / tau), tau = J w1^2 / P1.
    Source: Newton's second law; the integral is checked in the tests by scipy's solve_ivp and, where the cube holds, by its closed form.
    Limits: see the head of this file; final exits are not judged.
    """
    fan = tower.site.fan
    slowed_hz = np.linspace(1.0, SLOWEST, SOLVED)[:, None] * np.asarray(speed_hz, float)
    rows = np.tile(np.arange(len(conditions)), SOLVED)
    under = conditions.rows(rows)
    air = tower.solve(under, slowed_hz.ravel())
    power = np.maximum(fan_points(tower, air, under)[2].reshape(slowed_hz.shape), _LEAST_W)
    w = angular_speed(slowed_hz, fan.motor_poles)
    by_cube = w**3 / power  # hardly changes: exact where the power goes with the cube
    steps = 0.5 * (by_cube[1:] + by_cube[:-1]) * np.diff(1 / w, axis=0)
    per_inertia = np.concatenate([np.zeros((1, w.shape[1])), np.cumsum(steps, axis=0)])
    least, most = window.by_storey(tower.levels, "stair door")
    rooms = np.minimum(air.door_dp_pa - least, most - air.door_dp_pa).reshape(*slowed_hz.shape, -1)
    inside = rooms[0] >= 0
    room = np.where(inside, rooms, np.inf).min(axis=-1)
    return Coast(slowed_hz, per_inertia, room, w[-1] ** 2 / power[-1], int((~inside).any(axis=-1).sum()), inertia_box(fan))


@dataclass(frozen=True)
class MainsLost:
    """A stair's fan from the loss of its mains on. cases: those judged, all doors shut; coast: its `Coast`; parts: `until_power`; ramp_s
    from standstill to the lowest speed, loop_s [cases] from there to pressure with the tuning laid down, all NaN where there is none."""

    cases: tuple[Case, ...]
    coast: Coast
    parts: tuple[PowerStep, ...]
    ramp_s: float
    loop_s: np.ndarray

    @property
    def power_s(self):
        """Least and most seconds until the drive turns the wheel again."""
        return tuple(sum(getattr(part.takes, end) for part in self.parts) for end in ("low", "high"))

    @property
    def short_s(self):
        """Least and most seconds until a shut door is out of its limits, over the box of the inertia and all cases."""
        ends = [self.coast.short_s(inertia) for inertia in (self.coast.inertia.low, self.coast.inertia.high)]
        return float(ends[0].min()), float(ends[1].max())

    @property
    def turning_hz(self):
        """Least and most speed of the wheel when the drive has power again, over the boxes and all cases."""
        (low_s, high_s), inertia = self.power_s, self.coast.inertia
        return float(self.coast.speed_after(high_s, inertia.low).min()), float(self.coast.speed_after(low_s, inertia.high).max())

    @property
    def pressure_s(self):
        """Least and most seconds until the stair is at pressure again; the ramp counted from standstill, which no turning wheel needs all
        of. NaN where no loop is laid down, or one does not get there."""
        low_s, high_s = self.power_s
        return low_s + float(self.loop_s.min()), high_s + self.ramp_s + float(self.loop_s.max())

    def table(self) -> Table:
        """What happens, in its order, with the clock from the loss on."""
        first = self.coast.short_s(self.coast.inertia.low)
        short = "none is at any speed solved" if np.isinf(first.min()) else f"{self.cases[int(np.argmin(first))].name} first"
        short += f"; in {self.coast.out} of {len(self.cases)} cases a door is out while the fan still holds" * bool(self.coast.out)
        rows = [("A shut door falls out of its limits", "", _clock(self.short_s), short)]
        low_s = high_s = 0.0
        for part in self.parts:
            low_s, high_s = low_s + part.takes.low, high_s + part.takes.high
            rows.append((part.done.capitalize(), _span(part.takes.low, part.takes.high), _clock((low_s, high_s)), part.takes.source))
        slow, fast = self.turning_hz
        turns = f"{_hertz(slow)} to {_hertz(fast)}: the wheel that it has to catch, slower with friction"
        rows.append(("The wheel turns still", "", _clock(self.power_s), turns))
        back = "ramp and loop; from standstill at the latest, by the box"
        rows.append(("The stair is at pressure", "", _clock(self.pressure_s), back))
        note = (
            f"At pressure: the reading at {100 * REACHED:.0f} % of its set point, all doors shut, in {len(self.cases)} cases. Friction, "
            "wind that turns the wheel backwards and a drive that trips instead are in no model here: doors are short sooner than told, "
            "and the wheel turns slower."
        )
        return Table("mains_lost", "When the mains fail", ("What", "Takes", "After the loss", "By"), tuple(rows), note=note)


def mains_lost(tower: Tower, window: SiteWindow, cases, settings=None) -> MainsLost | None:
    """`MainsLost` of a tower's fan in those of its cases with all doors shut that the loop holds; None where no source of power is stated,
    or there is none, or no case is held.

    window: `SiteWindow`; settings: the controller's as laid down, None where none are: no time to pressure is told then.
    """
    parts = until_power(tower.site)
    shut = tuple(case for case in cases if case.shut)
    if not parts or not shut:
        return None
    held = tower.hold(conditions_of(tower.site, shut))
    chosen = [case for case, holds in zip(shut, held.held, strict=True) if holds]
    if not chosen:
        return None
    conditions = conditions_of(tower.site, chosen)
    loop_s = np.full(len(chosen), np.nan) if settings is None else to_pressure_s(tower, conditions, settings)
    slowing = coast(tower, window, conditions, held.air.speed_hz[held.held])
    return MainsLost(tuple(chosen), slowing, parts, start_ramp_s(tower.site), loop_s)


def _span(low, high):
    return " to ".join(dict.fromkeys(_seconds(end) for end in (low, high)))


def _clock(ends):
    low, high = ends
    if np.isnan(low + high):
        return "not told: no loop that gets there is laid down"
    return "never" if np.isinf(low) else f"{_seconds(low)} at the least" if np.isinf(high) else _span(low, high)


def _seconds(value):
    return with_unit(float(value), "time", 1 if value < 10 else 0)


def _hertz(value):
    return with_unit(float(value), "frequency", 0)
