"""A final exit that stands open: what the stair doors keep beside it, by the set point and by what the standard asks then; and at the
speeds of a way of falling back: does it close again once opened?

Limits: steady state; a leaf that stands ajar counts as open to its whole free area, which takes more air than it would.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.site.criteria import ALL, NONE, criteria_for
from helpers.studies.cases import AS_STATED, conditions_of, doors_said
from helpers.studies.doors.forces import ELSE_THAN_CLOSER, MEASURE_SHARE, RELATCH_SHARE, closing_said, share_said
from helpers.studies.doors.kinds import NOT_CLOSING, DoorWindow
from helpers.studies.report import apart, fine
from helpers.studies.status import inside, status_of

SHUT_EXIT = "a lobby before the final exit, or a closer that shuts it at that pressure"


@dataclass(frozen=True)
class ExitOpen:
    """The minimum across the shut stair doors of a case in which a final exit stands open: name of the case, least_pa and the storey that
    has it; held: whether the loop holds there; doors_shut: whether every stair door is shut."""

    case: str
    least_pa: float
    level: int
    held: bool
    doors_shut: bool

    def state(self, asked):
        """Key of its status by an `ExitCriterion`, "" where nothing is asked of it. One that asks for it with the stair doors shut says
        nothing of a case that opens one; one that asks so of some classes alone, nobody having stated the class, makes that no pass."""
        if asked.limit is None:
            return "open" if asked.blank else ""
        if not self.doors_shut and asked.doors_shut_for == ALL:
            return ""
        state = status_of(self.least_pa, asked.limit, kind="least")
        return "attention" if state == "wrong" and not self.doors_shut and asked.doors_shut_for != NONE else state

    def said(self):
        """The door, its pressure and the state of the stair doors, in words."""
        doors = "every stair door shut" if self.doors_shut else "stair doors open besides"
        return f"{fine(self.least_pa)} across the shut stair door {self.level} ({self.case}; {doors})"


def exit_open_of(tower, held, place, case):
    """`ExitOpen` of one row of a `HeldAir`, in a tuple; none where no final exit stands open, or no stair door is shut."""
    there = (one.level for one in tower.site.storeys if one.stair_door and one.stair_door_count)
    shut = [tower.storey(level) for level in there if level not in case.open_doors]
    if not case.open_exits or not shut:
        return ()
    dp = held.air.door_dp_pa[place]
    worst = min(shut, key=lambda storey: dp[storey])
    return (ExitOpen(case.name, float(dp[worst]), tower.levels[worst], str(held.state[place]) == "held", not case.open_doors),)


def exits_alone(criteria, cases):
    """The cases with a final exit open once more with every stair door shut, those that are not among them, where the standard asks for a
    minimum then: a tuple of `Case`; none elsewhere."""
    if criteria.least_exit_open.limit is None:
        return ()
    known = {(case.weather, case.open_exits, case.stair) for case in cases if not case.open_doors}
    alone = {}
    for case in cases:
        key = case.weather, case.open_exits, case.stair
        if case.open_exits and key not in known:
            shut, air = replace(case, open_doors=()), f", {case.stair}" * (case.stair != AS_STATED)
            alone[key] = replace(shut, name=f"{case.weather}, {doors_said(shut)}{air}")
    return tuple(alone.values())


def exits_open(tower, criteria, cases, held):
    """`ExitOpen` of every case with a final exit open, and, where the standard asks for a minimum then, of these with stair doors shut.

    tower: `Tower`; criteria: `Criteria`; cases: of `Case`; held: the `HeldAir` in them, a row each. Equation: the air network, the loop at
    its set point. Limits: as of the network; the lowest of the shut doors, whatever lies behind it.
    """
    found = [one for place, case in enumerate(cases) for one in exit_open_of(tower, held, place, case)]
    alone = exits_alone(criteria, cases)
    if alone:
        shut = tower.hold(conditions_of(tower.site, alone))
        found += [one for place, case in enumerate(alone) for one in exit_open_of(tower, shut, place, case)]
    return tuple(found)


@dataclass(frozen=True)
class Left:
    """What is left across the worst stair door while final exits stand open: room above its least (below zero: too low), door, pressure,
    case, speed."""

    room_pa: float
    door: str
    dp_pa: float
    case: str
    speed_hz: float

    @property
    def good(self):
        """Whether every stair door keeps its least."""
        return inside(self.room_pa)

    def text(self):
        """The door and its pressure in words."""
        ends = "still above its least" if self.good else f"{fine(-self.room_pa)} too low"
        return f"{self.door} at {fine(self.dp_pa)}, {ends} ({self.case})"


@dataclass(frozen=True)
class ExitAjar:
    """The final exit that is hardest to close: door, pressure across it, up to where its closer surely shuts it, case, speed, after which
    failure; left: `Left` with the exits standing open, None where they close again, or no stair door has a least; remedy: what would shut
    it at that pressure, in words, "" where nobody asks; window: the door's `DoorWindow`."""

    door: str
    dp_pa: float
    limit_pa: float
    case: str
    speed_hz: float
    failure: str
    left: Left | None = None
    remedy: str = ""
    window: DoorWindow | None = None

    @property
    def instead(self):
        """What of the remedy is no closer, at whatever pressure, in words."""
        return self.remedy.rpartition("; else ")[2]

    @property
    def room_pa(self):
        """Room below the pressure up to which it closes again, below zero where it stays ajar."""
        return self.limit_pa - self.dp_pa

    @property
    def state(self):
        """Key of the status: one that stays ajar is for somebody to decide, and past a limit where a stair door then has too little; no
        PASS by what its closer gives back where that is one figure, with no range measured."""
        key = self.by_pressure
        if key == "good" and self.one_figure:
            return "attention"
        return "attention" if key == "wrong" and (self.left is None or self.left.good) else key

    @property
    def by_pressure(self):
        """The status of its pressure against up to where its closer surely shuts it."""
        return status_of(self.dp_pa, self.limit_pa, RELATCH_SHARE * self.limit_pa)

    @property
    def one_figure(self):
        """Whether what its closer gives back is stated as one figure."""
        return self.window is not None and self.window.one_share is not None

    @property
    def manner(self):
        """How it closes, in words, of one that is no PASS."""
        if self.room_pa < 0:
            return NOT_CLOSING
        return "only just closes again" if self.by_pressure != "good" else "closes again by one figure of its closer, no range measured"

    @property
    def capped_state(self):
        """Its status beside doors that are all inside: one that stays ajar has a line of its own, and is no PASS here."""
        return "good" if self.state == "good" else "attention"

    @property
    def brief(self):
        """The door, its pressure and up to where it closes, in few words."""
        dp, limit = apart((self.dp_pa, self.limit_pa), "pressure", "most")
        return f"{self.door}, {self.case}: {dp}, closes again up to {limit}"

    @property
    def helps(self):
        """What helps at the door: something that shuts it there; where its closer does, by one figure, a range measured first; "" else."""
        return SHUT_EXIT if self.by_pressure != "good" else MEASURE_SHARE * self.one_figure

    def needs(self):
        """What would shut it, in words: a share that is measured first, where it is one figure and bears it."""
        return f"{MEASURE_SHARE}; else {self.remedy}" if self.one_figure and self.room_pa >= 0 else self.remedy

    def text(self):
        """It in words; empty where it closes with room to spare."""
        if self.state == "good":
            return ""
        dp, limit = apart((self.dp_pa, self.limit_pa), "pressure", "most")
        at = f"{dp} at {self.speed_hz:.1f} Hz, {self.case}; its closer surely shuts it up to {limit}"
        if self.dp_pa <= self.limit_pa:
            told = f"; {share_said(self.window, self.dp_pa)}" if self.window is not None else ""
            return f"{self.door}, once opened, {self.manner} ({at}{told})"
        left = "" if self.left is None else f"; with it standing open and the stair doors shut, {self.left.text()}"
        return f"{self.door} {NOT_CLOSING} ({at}){left}"


def nearer(own, box):
    """Of two `ExitAjar` (None: none) the one that governs: the own where it stays ajar so already, else the one with less room."""
    return own if own is None or box is None or own.room_pa < 0 or box.room_pa >= own.room_pa else box


def exit_ajar(air, rests, judged):
    """`ExitAjar` of a way of falling back; None where no final exit is pushed open.

    air: `FailureAir`; rests: of (failure, place, valid), arrays [variants, cases] as `worst_cells` takes them; judged [cases].
    """
    if not np.isfinite(air.doors.recloses_pa).any():
        return None
    found, ajar_hz = None, np.full(len(air.cases), np.inf)
    for failure, place, valid in rests:
        place = np.broadcast_to(place, valid.shape)
        room = np.where((valid & judged)[..., None], air.doors.closing(air.at(air.doors_pa, place), air.standing_open), np.inf)
        speeds = air.speed_at(place)
        ajar_hz = np.minimum(ajar_hz, np.where(~inside(room.min(axis=-1)), speeds, np.inf).min(axis=0))
        variant, case, door = np.unravel_index(room.argmin(), room.shape)
        if np.isfinite(room.min()) and (found is None or room.min() < found[0]):
            found = float(room.min()), door, case, float(speeds[variant, case]), failure
    if found is None:
        return None
    room, door, case, speed, failure = found
    limit = float(air.doors.recloses_pa[door])
    shut = np.array([one.shut for one in air.cases])
    asked = np.flatnonzero(np.isfinite(ajar_hz) & shut)
    left = left_with_exits_open(air.tower, air.doors, [air.cases[place] for place in asked], ajar_hz[asked]) if asked.size else None
    column = air.doors.columns[door]
    return ExitAjar(column.text, limit - room, limit, air.cases[case].name, speed, failure, left, window=column.window)


def left_with_exits_open(tower, doors, cases, speed_hz, leak_factor=1.0):
    """`Left` at a speed with the final exits open that would not close; None where no stair door has a least.

    doors: `DoorColumns`; cases: of `Case`, all doors shut; speed_hz: a number, or one a case; leak_factor: by which walls leak more than
    the site file says.
    """
    levels = tuple(dict.fromkeys(column.level for column in doors.columns if column.window.recloses_pa is not None))
    opened = [replace(case, open_exits=levels) for case in cases]
    conditions = conditions_of(tower.site, opened)
    conditions = replace(conditions, leak_factor=conditions.leak_factor * leak_factor)
    speeds = np.broadcast_to(np.asarray(speed_hz, float), (len(opened),))
    dp = doors.across(tower.solve(conditions, speeds))
    room = doors.rooms(dp, doors.standing_open(conditions))[0]
    room = np.where([column.use == "stair door" for column in doors.columns], room, np.inf)
    case, door = np.unravel_index(room.argmin(), room.shape)
    if not np.isfinite(room[case, door]):
        return None
    return Left(float(room[case, door]), doors.columns[door].text, float(dp[case, door]), cases[case].name, float(speeds[case]))


def shut_by(site, column, dp_pa, limit_pa):
    """What would shut the final exit of a `DoorColumn` against a pressure, in words: another closer where one may be fitted, or none."""
    closer = closing_said(site.doors[column.window.door], criteria_for(site), dp_pa, limit_pa)
    return f"{closer}; {ELSE_THAN_CLOSER}"
