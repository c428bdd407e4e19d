"""The change-over from the duty fan of a stair to its standby: how long doors are short of pressure, when it is back, the most that a door
bears on the way, and what both fans at once do to the doors, which no sequence may leave to one contact.

The first wheel coasts by J w dw/dt = -Q1 p / efficiency; the loss is noticed, the second fan's damper opens, then the second fan goes up
on the drive's ramp. While its damper opens and its wheel stands, air goes back through it as through one that is stuck open; a flap that
the air opens (no travel) lets only its leak back. The loop is held at its output of before the loss, or left running, and then at its
worst at full speed. See `model.air.two_fans` for the air.
Limits: friction and the motor's losses slow the first wheel as well: doors are short sooner than told; a belt that is off leaves a lighter
wheel, see the low end of its inertia; a wheel that brings nothing takes nothing here; final exits are not judged for want of pressure.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.formulas.combining import combine
from helpers.formulas.fan import angular_speed
from helpers.model.air.tower import Tower
from helpers.model.air.two_fans import SOLVED, TwoFans
from helpers.model.site.tolerances import Box, boxes, inertia_box
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.forces import with_force
from helpers.studies.doors.window import SiteWindow, handle_force_n
from helpers.studies.duty.full_speed import DrivenDoors
from helpers.studies.duty.mains_lost import REACHED
from helpers.studies.duty.relief_damper import blades, stuck_shut
from helpers.studies.report import NETWORK, Finding, Table, apart
from helpers.studies.status import SPARE_PA, status_of
from helpers.units.said import with_unit

STEP_S = 0.2  # of the reckoning in time
ADDED_PA = 1.0  # less that a change-over adds to what a door bears before it is told elsewhere
AFTER_S = 5.0  # it goes on for so long after the second fan's ramp has ended
HELD, LEFT = "loop held as it was", "loop left running, at its worst at full speed"
LATE = "loop held, the second fan started at the latest"
APART = "stop of the first proven before the second starts"
# What locks out by a damper or a proof as well leaves the stair without a fan where that damper sticks or that proof tells wrongly.
ONE_STANDS = (
    "by wire: while one fan's drive is enabled the other's cannot be; a damper not shut, or a proof alone, is told and locks nothing out"
)


@dataclass(frozen=True)
class DoorsThen:
    """The doors at the worst of one state of both fans.

    at: what is judged, in words; alike_hz: of one fan alone; dp_pa, limit_pa, room_pa: of the door that is worst off; door, case: which,
    in which weather; force_n, force_limit_n: at its handle, None where nobody pulls it; state: its status.
    """

    at: str
    alike_hz: float
    dp_pa: float
    limit_pa: float
    door: str
    case: str
    force_n: float | None
    force_limit_n: float | None
    state: str
    room_pa: float

    @property
    def dp_said(self):
        """The pressure across that door, in words."""
        return f"{self.door} {with_unit(self.dp_pa, 'pressure')}"

    @property
    def said(self):
        """Pressure and force against their limits, where, in words."""
        if not np.isfinite(self.limit_pa):
            return "no door has a limit to be judged by"
        dp, limit = apart((self.dp_pa, self.limit_pa), "pressure", "most")
        told = f"{self.door}, {self.case}: {dp}, limit {limit}"
        return with_force(told, self.force_n, self.force_limit_n)


@dataclass(frozen=True)
class Passed:
    """A change-over in time, a row for each end of what is not known and of how it is done.

    time_s [samples]; alike_hz, first_hz, second_hz [samples, rows, cases]; starts_s [rows] when the second fan starts; left, stuck [rows]:
    whether the loop is left running, and whether the first fan's damper sticks open.
    """

    time_s: np.ndarray
    alike_hz: np.ndarray
    first_hz: np.ndarray
    second_hz: np.ndarray
    starts_s: np.ndarray
    left: np.ndarray
    stuck: np.ndarray


@dataclass(frozen=True)
class ChangeOver:
    """A change-over judged.

    cases: those judged, all doors shut; boxes: of what the site file says of the second fan, and of the inertia, by field; out_s, back_s
    [rows, cases]: seconds until a shut door that was inside its limits is out of them (inf: none), and until the reading is at REACHED of
    what it was, to stay (NaN: it is not); before: `DoorsThen` of the first fan alone before the loss; peaks: of the loop held, left
    running, and held with the second fan started as late as its boxes have it; both: of both fans together at the loop's speed, the lowest
    and the highest, the relief damper late; stuck_hz: (least, most) speed that the second fan needs with the first one's damper stuck
    open, over the box; highest_hz: of the loop; jammed: as both, at the first and the last of them with the relief damper stuck shut.
    """

    cases: tuple[Case, ...]
    boxes: dict[str, Box]
    passed: Passed
    out_s: np.ndarray
    back_s: np.ndarray
    before: DoorsThen
    peaks: tuple[DoorsThen, ...]
    both: tuple[DoorsThen, ...]
    stuck_hz: tuple[float, float]
    highest_hz: float
    jammed: tuple[DoorsThen, ...] = ()

    def _ends(self, values, stuck=False):
        chosen = values[~self.passed.left & (self.passed.stuck == stuck)]
        return float(chosen.min()), float(chosen.max())

    @property
    def short_s(self):
        """Least and most seconds until a shut door is out of its limits, the loop held and the first one's damper shut."""
        return self._ends(self.out_s)

    @property
    def pressure_s(self):
        """Least and most seconds until the reading is back; NaN where it does not come back."""
        return self._ends(self.back_s)

    @property
    def short_state(self):
        """Key of the status of the time without pressure: a door that is short for a while is never PASS, one that stays so FAIL."""
        if not np.isfinite(self.short_s[0]):
            return "good"
        return "wrong" if np.isnan(self.pressure_s[1]) else "attention"

    def table(self) -> Table:
        """What happens, in its order, with the clock from the loss on, and what the doors bear at the most."""
        noticed, travel = self.boxes["noticed_s"], self.boxes["damper_travel_s"]
        starts = float(self.passed.starts_s.min()), float(self.passed.starts_s.max())
        stuck = self._ends(self.back_s, True)
        rows = [
            ("A shut door falls out of its limits", _clock(self.short_s), self._first),
            ("The loss is noticed", _span(noticed.low, noticed.high), noticed.source),
            ("The second fan's damper is open, and it starts", _span(*starts), travel.source),
            ("The stair is at pressure", _clock(self.pressure_s, "not within the time played"), self._back_said),
            ("The same with the first one's damper stuck open", _clock(stuck, "not with the loop held"),
             "what goes back through the idle fan; the loop, let go, has then to speed up: played with it, see there"),
        ]  # fmt: skip
        states = [self.short_state, "", "", *("wrong" if np.isnan(last) else "" for last in (self.pressure_s[1], stuck[1]))]
        for one in (self.before, *self.peaks):
            rows.append((f"The most at a door, {one.at}", f"as one fan at {one.alike_hz:.1f} Hz", one.said))
            states.append(one.state)
        note = (
            f"At pressure: the reading at {100 * REACHED:.0f} % of what it was, all doors shut, in {len(self.cases)} cases. The second fan "
            "goes up on the first one's ramp. Reckoned without the loop, which is slower: with it, see the change-over played. Friction "
            "and a belt that is off are in no model here: doors are short sooner than told."
        )
        return Table("change_over", "When the first fan fails", ("What", "After the loss", "By"), tuple(rows), tuple(states), note)

    def both_table(self) -> Table:
        """What both fans together do to the doors: the wrong case."""
        columns = ("Both fans", "As one fan at", "Worst door, and its limit")
        rows = tuple((one.at, f"{one.alike_hz:.1f} Hz", one.said) for one in (*self.both, *self.jammed))
        note = (
            "All doors shut. Two like fans on one duct; no case that any sequence asks for. Judged by too much pressure alone: at the "
            "lowest speed that is what the loop cannot take away, and a door may be short there, which the loop would not leave so. The "
            "speed of one fan alike is that with the damper as the row has it. One that is stuck is a second fault."
        )
        states = tuple("" if one is self.both[1] and one.state == "good" else one.state for one in (*self.both, *self.jammed))
        return Table("both_fans", "Both fans at once", columns, rows, states, note)

    @cached_property
    def _first(self):
        rows = np.where((~self.passed.left & ~self.passed.stuck)[:, None], self.out_s, np.inf)
        _, case = np.unravel_index(np.argmin(rows), rows.shape)
        return "none does" if np.isinf(rows.min()) else f"{self.cases[case].name} first; the first wheel's inertia at its low end"

    @property
    def _back_said(self):
        return f"the second fan goes up to the speed the first had; {HELD}"

    def findings(self):
        """What the change-over does to doors, what both fans together do, and a damper that sticks open."""
        (held, left, late), before = self.peaks, self.before
        if np.isfinite(self.short_s[0]):
            lasts = "does not come back" if np.isnan(self.pressure_s[1]) else f"is back after {_clock(self.pressure_s)}"
            yield _possible(
                self.short_state, "While the standby fan takes over a door is short of pressure",
                f"first after {_seconds(self.short_s[0])}; the pressure {lasts}",
                "the loss is noticed, a damper opens, a ramp is run: the first wheel alone keeps up what it can",
                "a quicker contact, a damper that the air opens, a heavier wheel; clock it at the test",
            )  # fmt: skip
        if held.state != "good" and held.room_pa < before.room_pa - ADDED_PA:
            bears = "bears more than its limit" if held.state == "wrong" else "is close to its limit"
            yield _possible(
                held.state, f"While the standby fan takes over a door {bears}", f"{held.said}; before the loss {before.dp_said}",
                "the second fan comes up while the first wheel still blows", f"{APART}: started later, {late.dp_said} at the most",
            )  # fmt: skip
        if left.state != "good" and left.room_pa < held.room_pa - ADDED_PA:
            yield _possible(
                left.state, "A loop that is left running over-drives the standby fan", left.said,
                "it sees too little pressure and winds up while nothing can follow",
                "hold its output and its integral part from the loss until the second fan is at that speed",
            )  # fmt: skip
        yield self._together()
        yield from self._together_faster()
        low, high = self.stuck_hz
        if not high <= self.highest_hz:
            yield _possible(
                "wrong" if not low <= self.highest_hz else "attention",
                "With the idle fan's damper stuck open the other one cannot hold the pressure",
                f"{low:.1f} to {high:.1f} Hz needed, {self.highest_hz:g} Hz is the highest",
                f"what goes back through the idle wheel: {self.boxes['stuck_open_leak'].source}",
                "a damper with a switch at each end, seen shut at every test, or a fan with more to spare",
            )  # fmt: skip

    def _together(self):
        """Both fans at the loop's speed: what the interlock is for."""
        worst = self.both[0]
        if worst.state == "good":
            what = "Both fans together put no door past its limit at the loop's speed"
            return _possible("good", what, worst.said, f"the interlock stands all the same: {ONE_STANDS}")
        what = f"Where both fans run together a door is {'past' if worst.state == 'wrong' else 'close to'} its limit"
        if worst.state == "open":
            what = "What both fans together do to the doors is not judged: none has a limit"
        why = "a contact that tells wrongly, or an interlock that is not there"
        return _possible(worst.state, what, worst.said, why, f"interlock: {ONE_STANDS}")

    def _together_faster(self):
        """Both fans at the highest speed, or with a relief damper stuck shut besides: told where a door has little room then, or none."""
        worst = min((*self.both[2:], *self.jammed), key=lambda one: one.room_pa, default=None)
        if worst is not None and worst.state in ("wrong", "attention"):
            ends = "past" if worst.state == "wrong" else "close to"
            yield _possible(worst.state, f"Both fans together, {worst.at}: a door is {ends} its limit", worst.said,
                            "an interlock that is not there, and what the row says besides", f"interlock: {ONE_STANDS}")  # fmt: skip


def _possible(severity, what, said, why, remedy=""):
    return Finding(severity, what, said, why, NETWORK, remedy, possible=True)


def change_over(tower: Tower, window: SiteWindow, cases) -> ChangeOver | None:
    """`ChangeOver` of a tower's fan to its second one, in those of its cases with all doors shut that the loop holds; None where the site
    has no second fan, or no case is held.

    window: `SiteWindow`. Source: Newton's second law and the air network; checked in the tests against scipy's solver on the network
    itself, and the coasting against its closed form. Limits: see the head of this file.
    """
    site = tower.site
    shut = tuple(case for case in cases if case.shut)
    if site.second_fan is None or not shut:
        return None
    held = tower.hold(conditions_of(site, shut))
    chosen = tuple(case for case, holds in zip(shut, held.held, strict=True) if holds)
    if not chosen:
        return None
    conditions, one_hz = conditions_of(site, chosen), held.air.speed_hz[held.held]
    two = TwoFans.of(tower, conditions)
    known = boxes(site)
    about = {field: known[f"second_fan.{field}"] for field in ("noticed_s", "damper_travel_s", "damper_leak", "stuck_open_leak")}
    about["inertia_kg_m2"] = inertia_box(site.fan)
    running_hz, highest_hz = two.needed_hz(one_hz, about["damper_leak"].high), site.fan.speed_limits_hz(site.control.fire_mode)[1]
    passed = played(two, running_hz, about, highest_hz)
    doors = DrivenDoors(tower, window)

    def then(at, alike_hz):
        return _doors_then(tower, doors, chosen, conditions, at, alike_hz)

    sound = ~passed.stuck
    rows = {HELD: ~passed.left, LEFT: passed.left, LATE: ~passed.left & (passed.starts_s == passed.starts_s.max())}
    peaks = tuple(then(at, passed.alike_hz[:, sound & of].max(axis=(0, 1))) for at, of in rows.items())
    lowest_hz = site.fan.speed_limits_hz(site.control.fire_mode)[0]
    ends = (("at the speed that the loop gave one of them", running_hz), (f"slowed by the loop to its lowest, {lowest_hz:g} Hz", lowest_hz),
            (f"at the highest speed, {highest_hz:g} Hz", highest_hz))  # fmt: skip
    both = tuple(_together(doors, chosen, conditions, at, hz, _late(tower, conditions)) for at, hz in ends)
    stuck_shut_ones = stuck_shut(tower)
    jammed = tuple(_together(doors, chosen, conditions, at, hz, stuck_shut_ones) for at, hz in ends[::2] if stuck_shut_ones)
    box = about["stuck_open_leak"]
    stuck = two.needed_hz(one_hz, np.array([[box.low], [box.high]])).max(axis=1)
    found = _short(tower, window, two, passed), _back(tower, two, passed)
    before = then("before the loss, the first fan alone", one_hz)
    return ChangeOver(chosen, about, passed, *found, before, peaks, both, (float(stuck[0]), float(stuck[1])), highest_hz, jammed)


def played(two: TwoFans, running_hz, about: dict[str, Box], highest_hz: float) -> Passed:
    """A change-over in time from a speed of the first fan [cases], over the ends of the boxes `about` the second fan and the inertia, with
    the first one's damper shut and stuck open, with the loop held and left running (its speed then highest_hz)."""
    fan = two.fan
    ends = np.array([(late, heavy, stuck, left) for late in (0, 1) for heavy in (0, 1) for stuck in (0, 1) for left in (0, 1)], bool)
    late, heavy, stuck, left = (column[:, None] for column in ends.T)

    def end(field, high):
        return np.where(high, about[field].high, about[field].low)

    noticed, travel, inertia = end("noticed_s", late), end("damper_travel_s", late), end("inertia_kg_m2", heavy)
    leak, opened = about["damper_leak"].high, about["stuck_open_leak"].high
    target = np.where(left, highest_hz, running_hz)
    rate = fan.reference_speed_hz / max(fan.ramp_s, STEP_S)
    last = float((noticed + travel).max() + target.max() / rate + AFTER_S)
    time_s = STEP_S * np.arange(int(np.ceil(last / STEP_S)) + 1)
    first = np.broadcast_to(running_hz, target.shape).astype(float)
    w_by_hz, kept = float(angular_speed(1.0, fan.motor_poles)), []
    for now in time_s:
        moved = np.where(travel > 0, np.clip((now - noticed) / np.where(travel > 0, travel, 1.0), 0.0, 1.0), 0.0)
        second = np.clip((now - noticed - travel) * rate, 0.0, target)
        shuts = np.where(stuck, 1.0, np.where(travel > 0, 1.0 - moved, 0.0))  # open until noticed; a flap shuts as soon as air comes back
        alike = two.alike_hz(first, second, leak + shuts * (opened - leak), leak + moved * (opened - leak))
        kept.append((alike, first, second))
        pressure = two.at(two.pressure_pa, alike)
        taken = np.maximum(two.brought(pressure, first, 0.0), 0.0) * np.maximum(pressure, 0.0) / fan.efficiency
        w = w_by_hz * first
        first = first / (1 + STEP_S * taken / (inertia * w**2))  # the closed form of the cube, over one step
    alike, first, second = (np.stack(part) for part in zip(*kept, strict=True))
    starts = np.broadcast_to(noticed + travel, late.shape)[:, 0]
    return Passed(time_s, alike, first, second, starts, left[:, 0], stuck[:, 0])


def _short(tower, window, two, passed):
    """Seconds [rows, cases] until a stair door that is inside its limits at first is out of them; inf where none is."""
    least, most = window.by_storey(tower.levels, "stair door")
    rooms = np.minimum(two.air.door_dp_pa - least, most - two.air.door_dp_pa).reshape(SOLVED, len(two.dense), -1)
    each = np.stack([two.at(rooms[..., door], passed.alike_hz) for door in range(rooms.shape[-1])], axis=-1)
    inside = each[0] >= 0
    room = np.where(inside, each, np.inf).min(axis=-1)
    first = np.maximum((room < 0).argmax(axis=0), 1)[None]
    after, ahead = (np.take_along_axis(room, place, axis=0)[0] for place in (first, first - 1))
    with np.errstate(invalid="ignore"):  # where no door was inside
        crossing = passed.time_s[first[0] - 1] + STEP_S * ahead / (ahead - after)
    return np.where((room < 0).any(axis=0), crossing, np.inf)


def _back(tower, two, passed):
    """Seconds [rows, cases] from which the reading is at REACHED of what it was before, to stay; NaN where it is not at the end."""
    control = tower.site.control
    weights = control.weights if control.rule == "weighted" else None
    reading = np.abs(combine(tower.readings(two.air), control.rule, weights=weights).reshape(SOLVED, -1))
    seen = two.at(reading, passed.alike_hz)
    low = seen < REACHED * seen[0]
    last = np.where(low.any(axis=0), len(low) - low[::-1].argmax(axis=0), 0)
    return np.append(passed.time_s, np.nan)[last]


def _late(tower, conditions):
    """The (name, `Tower`) pairs that a fan at a high speed is judged with: the relief damper lifting late; the tower alone without one."""
    ends = tuple(blades(tower, conditions))
    return ends[1:2] or ends


def _together(doors, cases, conditions, at, hz, towers):
    """`DoorsThen` of both fans at one speed, the worst of some (name of a blade, `Tower`) pairs, each with what two fans bring into it."""
    told = (
        _doors_then(one, doors, cases, conditions, ", ".join(filter(None, (at, name))), TwoFans.of(one, conditions).alike_hz(hz, hz))
        for name, one in towers
    )
    return min(told, key=lambda then: then.room_pa)


def _doors_then(tower, doors, cases, conditions, at, alike_hz):
    """`DoorsThen` of the worst case at speeds [cases] of one fan alone, each solved anew."""
    room, dp, limit, number = doors.worst(tower.solve(conditions, alike_hz), conditions)
    place = int(np.argmin(room))
    state = str(status_of(-room[place], 0.0, SPARE_PA)) if np.isfinite(room[place]) else "open"
    force = force_limit = None
    if doors.columns is not None and tower.effect > 0:
        column = doors.columns.columns[number[place]]
        door = tower.site.doors[column.window.door]
        if door.worked_by_hand and door.opens != "with pressure" and np.isfinite(limit[place]):
            force, force_limit = (handle_force_n(door, float(one[place])) for one in (dp, limit))
    return DoorsThen(at, float(alike_hz[place]), float(dp[place]), float(limit[place]), doors.said(number[place]), cases[place].name,
                     force, force_limit, state, float(room[place]))  # fmt: skip


def _span(low, high):
    return " to ".join(dict.fromkeys(_seconds(end) for end in (low, high)))


def _clock(ends, never="never"):
    low, high = ends
    if np.isnan(low + high) or np.isinf(low):
        return "never" if np.isinf(low) else never
    return f"{_seconds(low)} at the least" if np.isinf(high) else _span(low, high)


def _seconds(value):
    return with_unit(float(value), "time", 1 if value < 10 else 0)
