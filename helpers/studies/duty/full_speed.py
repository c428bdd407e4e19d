"""Full speed: whether any door can still be opened there, and the highest speed at which no door passes its limit.

A smoke-control fan runs there when a signal is lost, in an override, or while doors stand open: judged in every weather and stair air."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from helpers.model.site.stair import Relief
from helpers.studies.cases import Case, cases_text, conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.exits import ExitAjar, left_with_exits_open, nearer, shut_by
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.duty.relief_damper import STUCK_SHUT, FixedSpeed, blades, one_blade, relief_said, smallest_damper, stuck_shut
from helpers.studies.duty.several_dampers import damper_said, rests_on_said
from helpers.studies.placement.study import Chances
from helpers.studies.report import NETWORK, SITE_FILE, Finding, Value, apart
from helpers.studies.status import SPARE_PA, status_of, word_of, worst_of
from helpers.units.said import with_unit

# Walls as the file says, and two standard deviations tighter and looser, of the spread that the placement draws: invented for teaching.
WALLS_TRIED = tuple(float(np.exp(step * Chances().leak_spread)) for step in (0, -2, 2))
# Each round looks between two neighbours of the round before: a thousandth of the speed range at the end; to be entered it is rounded down.
_SPEEDS, _ROUNDS, SHOWN_HZ = 5, 5, 0.1
EXIT_AT_FULL_SPEED, EXIT_GOVERNS = "final exit at full speed", "final exit governs at full speed"  # keys of findings
DRAWN_OUT = "less drawn out there: a smaller fan, or outdoor air let in by an opening that gives way inwards; neither was tried"
_MOVED = "its blade moved by hand and by pressure at every test"
_LESS = "little room, or a closer of one figure", NETWORK, "at that speed a pressure gauge and a force gauge at that door"
_TABLES, _AJAR = "leaks are from tables and a blade sticks", "nobody pulls it shut, and then it takes air as an open door does"
_RESTING = (("fan", "highest speed in smoke control"), ("fan", "relief damper"))


@dataclass(frozen=True)
class FullSpeed:
    """Full speed judged, arrays [cases] of those that hold all doors closed or some open.

    full_hz: the speed judged, the highest in smoke control; room_pa: room of the door that is worst off there, below zero past its limit,
    infinite where nothing limits; dp_pa, limit_pa, door: that door's. safe_hz: the highest speed at which no door passes its limit in any
    case and with any walls of WALLS_TRIED (NaN: none); safe_door, safe_case, safe_walls: what stops it there ("" where nothing does).
    held_hz: the speed at which each case is held; asked: (case, such a speed, the same with the fan's margins) of those that every highest
    speed advised here has to leave held (infinite: it is not); damper: the best relief damper found for it, doors closed (None: none
    needed). exits: `ExitAjar` at full speed (None: no final exit is pushed open); closing_hz: the highest speed at which every final exit
    closes again once opened, with all doors closed, walls as the file has them and the damper as set; stuck_hz: safe_hz with the relief
    damper stuck shut (None: there is none). box_exits, box_closing_hz: the same two with any walls of WALLS_TRIED and the damper lifting
    late, box_walls: the walls of the worst; stuck_closing_hz: with any walls and the damper stuck shut. kept_hz: the fastest speed that the
    same page keeps: no lower highest speed is told without it; several: finds `Several` or None.
    """

    cases: tuple[Case, ...]
    full_hz: float
    highest_hz: float
    stated: bool
    room_pa: np.ndarray
    dp_pa: np.ndarray
    limit_pa: np.ndarray
    door: tuple[str, ...]
    means: tuple[str, ...]
    safe_hz: float
    safe_door: str
    safe_case: str
    safe_walls: float
    held_hz: np.ndarray
    asked: tuple[tuple[Case, float, float], ...]
    reliefs: tuple[Relief, ...]
    damper: FixedSpeed | None
    exits: ExitAjar | None = None
    closing_hz: float = np.inf
    stuck_hz: float | None = None
    box_exits: ExitAjar | None = None
    box_closing_hz: float = np.inf
    box_walls: float = 1.0
    stuck_closing_hz: float = np.inf
    kept_hz: float = 0.0
    several: Callable = field(default=type(None), repr=False, compare=False)

    def beside_fallback(self, study):
        """The same on a page that tells to keep the speed of a `FallbackStudy`, or none (None): record and review ask here alone."""
        return replace(self, kept_hz=getattr(study, "speed_hz", None) or 0.0, several=lambda: study and study.several_beside(self.damper))

    @property
    def worst(self):
        """Place of the case with the least room at full speed."""
        return int(np.argmin(self.room_pa))

    @property
    def jams(self):
        """Whether full speed puts a door past its limit in some case."""
        return bool(self.room_pa.min() < 0)

    @property
    def limited(self):
        """Whether anything limits a door at all."""
        return bool(np.isfinite(self.room_pa).any())

    def lost(self, at_hz=None):
        """Cases of those asked that are not held at a highest speed, by default the highest safe one."""
        return tuple(case for case, hz, _ in self.asked if not hz <= (self.safe_hz if at_hz is None else at_hz))

    @property
    def cap_hz(self):
        """The highest speed that is a remedy: doors within limits, final exits closing again, every case asked held; None for none."""
        most = float(np.minimum(self.safe_hz, self.closes_hz))
        return None if np.isnan(most) or self.lost(most) else most

    def _capped(self, at_hz):
        bare = ", every required case held without its margins" * any(hz > at_hz for *_, hz in self.asked)
        cap = f"a highest speed of {at_hz:.1f} Hz in smoke control{bare} (tried in the record's cases, not in the hours of a year)"
        either = f"either {cap}, fallback and override not above it, or a fallback speed of {self.kept_hz:.1f} Hz: not both"
        return either if self.kept_hz > at_hz + SHOWN_HZ / 2 else cap

    @property
    def free_hz(self):
        """The highest speed at which no door rests on the relief damper, every case asked held there; None where there is none."""
        return None if self.stuck_hz is None or np.isnan(self.stuck_hz) or self.lost(self.stuck_hz) else self.stuck_hz

    def safe_text(self):
        """The highest safe speed in words."""
        safe = f"{self.safe_hz:.1f} Hz{'' if self.safe_door else ', full speed'}"
        return "no speed of this drive is safe for every door" if np.isnan(self.safe_hz) else safe

    def beside_said(self):
        """What the highest safe speed leaves out, in words: a damper that sticks, a final exit that stays ajar. "" for nothing."""
        told = []
        if self.stuck_hz is not None and not self.stuck_hz >= self.safe_hz:
            told.append(f"with the {STUCK_SHUT} {_up_to(self.stuck_hz)}")
        if not self.closing_hz >= self.full_hz:
            told.append(f"a final exit {NOT_CLOSING} {_beyond(self.closing_hz)}")
        if not self.box_closing_hz >= min(self.full_hz, self.closing_hz):
            told.append(f"{self.box_said} it {NOT_CLOSING} {_beyond(self.box_closing_hz)}")
        return "; ".join(told)

    # What the speed was tried with at which a final exit closes again, in words.
    box_said = property(lambda self: f"with walls x {self.box_walls:.2f}{' and the relief damper lifting late' * bool(self.reliefs)}")

    def start_said(self, start_hz, ramp_s, reference_hz):
        """Why a fan is to start at a speed, and the worst case of it, in words; where that is past what a case needs, that first."""
        held = np.flatnonzero(np.isfinite(self.held_hz))
        if not held.size:
            return f"{word_of('wrong')}: no case is held at any speed: see the fan to buy"
        slow, fast = (held[pick(self.held_hz[held])] for pick in (np.argmin, np.argmax))
        least, most = float(self.held_hz[slow]), float(self.held_hz[fast])
        takes = f"ramp of {ramp_s * max(most - start_hz, 0.0) / reference_hz:.1f} s to {most:.1f} Hz ({self.cases[fast].name})"
        bad = [case.name for case, hz in zip(self.cases, self.held_hz, strict=True) if not np.isfinite(hz)]
        beside = ", none of them required" * {case.name for case, *_ in self.asked}.isdisjoint(bad)
        lost = f"; {len(bad)} cases are not held at any speed{beside}" if bad else ""
        said = f"the loop goes on from there without a jump, and cannot go below it; worst case: {takes}{lost}"
        if start_hz > least + SHOWN_HZ / 2:
            beyond = f"{start_hz:g} Hz is more than the {least:.1f} Hz of {self.cases[slow].name}: more pressure than the set point there"
            return f"{word_of('wrong')}: {beyond}; {said}"
        return f"{said}; not above {least:.1f} Hz, which holds {self.cases[slow].name}"

    @property
    def closes_hz(self):
        """The highest speed at which every final exit closes again once opened, with any walls tried and the damper lifting late (NaN: none
        does)."""
        return float(np.minimum(self.closing_hz, self.box_closing_hz))

    def leaves_ajar(self, speed_hz):
        """That a final exit would not close again at a speed that may last, in words; "" where it would, or there is none."""
        if speed_hz is None or speed_hz <= self.closes_hz + SHOWN_HZ / 2:
            return ""
        none = f"{speed_hz:g} Hz: a final exit {NOT_CLOSING} {_beyond(self.closes_hz)}"
        up_to = f"{speed_hz:g} Hz is beyond {self.closes_hz:.1f} Hz, up to which a final exit, once opened, closes again"
        return none if np.isnan(self.closes_hz) else up_to

    def beyond_lasting(self, speed_hz):
        """What speaks against a speed that may last, of smoke control or of an override: doors past their limit, exits that stay ajar."""
        return "; ".join(filter(None, (self.beyond(speed_hz), self.leaves_ajar(speed_hz))))

    def beyond(self, speed_hz):
        """That a speed to be held lies above the highest safe one, in words; "" where it does not, or nothing limits."""
        if not self.limited or speed_hz is None or speed_hz <= self.safe_hz + SHOWN_HZ / 2:
            return ""
        if np.isnan(self.safe_hz):
            return f"{speed_hz:g} Hz: {self.safe_text()}, other walls and a relief damper lifting late tried"
        where = f": {self.safe_door}, {self.safe_case}, walls x {self.safe_walls:.2f}" if self.safe_door else f", {self._how}"
        return f"{speed_hz:g} Hz is beyond {self.safe_hz:.1f} Hz{where}"

    def cure(self):
        """What a highest speed for smoke control would do, in words: a remedy only if every case asked is still held there."""
        if np.isnan(self.safe_hz):
            return "a highest speed does not help: even the lowest puts a door past its limit"
        if self.cap_hz is not None:
            return self._capped(self.cap_hz)
        beside = self._lost_said() if self.lost() else f"a final exit {NOT_CLOSING}, and {self.closing_cure(self.closes_hz)}"
        return f"a highest speed alone does not help: at {self.safe_text()}, where no door is past its limit, {beside}"

    def closing_cure(self, closes_hz):
        """The same of one up to which a final exit closes again."""
        if np.isnan(closes_hz):
            return "no speed of this drive lets it close"
        at_hz = float(np.fmin(closes_hz, self.safe_hz))  # where doors jam below it, no higher
        lost = f"{at_hz:.1f} Hz would let it close, but {self._lost_said(at_hz)}: no remedy"
        return lost if self.lost(at_hz) else self._capped(at_hz)

    def _lost_said(self, at_hz=None):
        lost = self.lost(at_hz)
        if len(lost) < len(self.asked):
            return f"then not held: {cases_text(lost)}"
        least = min(hz for _, hz, _ in self.asked)
        return f"no case is then held ({f'{least:.1f} Hz is the lowest' if np.isfinite(least) else 'at no speed of this drive'})"

    def other_cure(self):
        """What a relief damper would do at full speed with all doors closed, in words; of a fan that takes air out, what would instead."""
        if self.damper is None:
            return DRAWN_OUT
        if self.damper.holds:
            return damper_said(self.damper, bool(self.reliefs), -float(self.room_pa.min()), self.several)
        size, opens = with_unit(self.damper.area_m2, "area"), with_unit(self.damper.opens_pa, "pressure")
        best = f"of {size} at storey {self.damper.level}, opening from {opens}: {self.damper.text()}"
        return f"another closer, leaf or fan: no relief damper tried holds every door and stays shut at the set point, the best, {best}"

    def figures(self):
        """The highest safe speed with what it was tried against."""
        walls, late = ", ".join(f"{share:.2f}" for share in sorted(WALLS_TRIED)), ", the damper lifting late" * bool(self.reliefs)
        tried = f"tried in {len(self.cases)} cases, walls leaking {walls} times the file's{late}"
        stops = f"; worst, {self.safe_door}, {self.safe_case}, walls x {self.safe_walls:.2f}" if self.safe_door else ""
        reason, safe_hz = "; ".join(filter(None, (f"{tried}{stops}", self.beside_said()))), None if np.isnan(self.safe_hz) else self.safe_hz
        if self.reliefs:
            yield Value("Relief damper", None, relief_said(*self.reliefs), "full speed and fallback rest on it", SITE_FILE)
        yield Value("Highest speed at which no door passes its limit", safe_hz, self.safe_text(), reason, NETWORK, "frequency")

    def findings(self):
        """Whether full speed jams a door, at which speed none does, and which cases are not held there."""
        if not self.limited:
            return
        yield self._door_finding()
        yield from self._beside_findings()

    def _door_finding(self):
        place = self.worst
        dp, limit = apart((self.dp_pa[place], self.limit_pa[place]), "pressure", "most")
        weather, shut, stair = self.cases[place].name.partition(", doors shut")  # before the figure: a line that is cut keeps them
        late = ", damper's blade lifting late" * bool(self.reliefs)  # as tried: a cell with the blade as set has less
        figure = f"{self.door[place]}, {weather}{stair}: {dp}, limit {limit} ({self.full_hz:g} Hz{shut}{late})"
        return self._no_door(figure) if not self.jams else Finding("wrong", f"At full speed a door is {self.means[place]}", figure,
                      "a manual override, a lost signal, an open door or a reversed tube sends the fan there", NETWORK,
                      f"{self.cure()}; or {self.other_cure()}")  # fmt: skip

    _how = property(lambda self: "the highest speed stated for smoke control" if self.stated else "full speed")

    def _beside_findings(self):
        near = self.nearest_exit
        if near is not None and near.state != "good":
            closes = self.box_closing_hz if (boxed := near is not self.exits) else self.closes_hz
            most = "" if closes >= self.full_hz else f"{self.closing_cure(closes)}; "
            what, why = f"At {self._how} a final exit {near.manner}{f' {self.box_said}' * boxed}", f"{_TABLES}; " * boxed + _AJAR
            yield Finding(near.state, what, near.text(), why, NETWORK, f"{most}{near.needs()}", key=EXIT_AT_FULL_SPEED)
        if self.stuck_hz is not None and not (np.isnan(self.safe_hz) or self.stuck_hz >= min(self.full_hz, self.safe_hz)):
            cap = "" if not self.free_hz or self.kept_hz > self.free_hz + SHOWN_HZ / 2 else f"{self._capped(self.free_hz)}; "
            several = "" if (tried := self.several()) is None else f"{tried.text()}; "
            figure = f"with the {STUCK_SHUT} {_up_to(self.stuck_hz)}; with it lifting late {self.safe_text()}"
            yield Finding("wrong", f"At {self._how} the doors rest on {rests_on_said(*self.reliefs)}", figure, one_blade(*self.reliefs),
                          NETWORK, f"{cap}{several}{_MOVED}", possible=True, settings=_RESTING)  # fmt: skip
        if self.stuck_hz is not None and not self.stuck_closing_hz >= min(self.full_hz, self.box_closing_hz):
            figure = f"with the {STUCK_SHUT} it {NOT_CLOSING} {_beyond(self.stuck_closing_hz)}"
            yield Finding("attention", f"At {self._how} the closing of a final exit rests on {rests_on_said(*self.reliefs)}", figure,
                          one_blade(*self.reliefs), NETWORK, f"{_MOVED}; {self.exits.instead}", possible=True)  # fmt: skip

    nearest_exit = property(lambda self: nearer(self.exits, self.box_exits))

    def _no_door(self, figure):
        if not np.isnan(self.safe_hz) and self.full_hz <= self.safe_hz + SHOWN_HZ:
            rests, near = self.stuck_hz is not None and not self.stuck_hz >= self.full_hz, self.nearest_exit
            damper = f", relief damper {'in order' if rests else 'included'}" * bool(self.reliefs)
            states = (status_of(self.room_pa.min(), 0.0, SPARE_PA, "least"), "good" if near is None else near.capped_state)
            told, less = f"{figure}{'' if near is None else f'; {near.brief}'}", () if worst_of(states) == "good" else _LESS
            key, what = EXIT_GOVERNS * (states[0] == "good"), f"At {self._how} no door is past its limit{damper}"
            return Finding(worst_of(states), what, told, *less, key=key)
        return Finding("attention", f"At {self._how} no door is past its limit, but one would be with other walls", figure,
                       f"with walls that leak {self.safe_walls:.2f} times the file's the limit is at {self.safe_text()}: {self.safe_door}, "
                       f"{self.safe_case}", NETWORK, f"{self.cure()}; or a leak test")  # fmt: skip


def full_speed(tower, window, cases, held_hz, set_point_pa, aired=None, asked=None):
    """Judge the highest smoke-control speed of a tower's fan, and find the highest one at which no door passes its limit.

    window: `SiteWindow`; cases: of `Case`; held_hz [cases]: speed at which each is held, infinite where it is not; set_point_pa: of the
    loop [Pa], above which a relief damper would open; asked: as in `FullSpeed`, by default all of these; aired: `Tower` whose loop has
    cooled the stair after an hour, if another than this one: a limit of the building hangs on no strategy. Returns `FullSpeed`.
    A supply fan is judged by the most that doors bear, an exhaust fan by the least of doors that open against air from outside.
    Limits: steady state; doors that move are not in it; the speed is searched for in steps, from below.
    """
    site, fan, doors, count = tower.site, tower.site.fan, DrivenDoors(tower, window), len(cases)
    lowest, full = fan.speed_limits_hz(site.control.fire_mode)
    asked = tuple(zip(cases, held_hz, held_hz, strict=True)) if asked is None else asked
    conditions = conditions_of(site, cases, aired)
    # An open door takes pressure away: the highest speed is found with all doors closed, where there is such a case.
    closed = [place for place, case in enumerate(cases) if case.shut] or list(range(count))
    shut = [cases[place] for place in closed]
    walls = conditions.rows(np.tile(closed, len(WALLS_TRIED)))
    walls.leak_factor = walls.leak_factor * np.repeat(WALLS_TRIED, len(closed))[:, None]
    late = dict(enumerate(blades(tower, conditions))).get(1, ("", tower))[1]  # a relief damper is judged with a blade that sticks
    room, dp, limit, worst = doors.worst(late.solve(conditions, full), conditions)
    safe, where = highest(late, doors.worst, walls, lowest, full)
    closing, _ = highest(tower, doors.closing, conditions.rows(closed), lowest, full)
    box_closing, box_at = highest(late, doors.closing, walls, lowest, full)
    box_walls, row, damper = WALLS_TRIED[0 if box_at is None else box_at[0] // len(closed)], where and where[0], None
    stuck = [(highest(one, doors.worst, walls, lowest, full)[0], highest(one, doors.closing, walls, lowest, full)[0])
             for _, one in stuck_shut(tower)]  # one at a time; that no speed does (NaN) is the worst  # fmt: skip
    stuck_hz, stuck_closing = (float(np.min(ends)) for ends in zip(*stuck, strict=True)) if stuck else (None, np.inf)
    if tower.effect > 0 and room.min() < 0:
        levels = *([one.level for one in site.stair.reliefs] or [tower.levels[len(tower.levels) // 2]]), tower.levels[0], tower.levels[-1]
        damper = smallest_damper(tower, window, full, shut, set_point_pa, levels, aired, asked)
    return FullSpeed(
        tuple(cases), float(full), float(fan.highest_speed_hz), full < fan.highest_speed_hz, room, dp, limit,
        tuple(doors.said(number) for number in worst), tuple(doors.means(number) for number in worst), safe,
        "" if row is None else doors.said(where[1]), "" if row is None else cases[closed[row % len(closed)]].name,
        1.0 if row is None else WALLS_TRIED[row // len(closed)], np.asarray(held_hz, float), asked,
        site.stair.reliefs, damper, doors.exits(tower, cases, conditions, full), closing, stuck_hz,
        doors.exits(late, shut, conditions.rows(closed), full, box_walls), box_closing, box_walls, stuck_closing
    )  # fmt: skip


class DrivenDoors:
    """All doors with a limit on the side to which the fan drives them."""

    def __init__(self, tower, window):
        self.effect, self.columns = tower.effect, None
        if any((door.least_pa, door.most_pa) != (None, None) for door in window.doors):
            self.columns = DoorColumns(tower, window)

    def worst(self, air, conditions):
        """Room, pressure, limit and number of the door that is worst off [conditions]."""
        count = len(conditions)
        if self.columns is None:
            return np.full(count, np.inf), np.zeros(count), np.full(count, np.inf), np.zeros(count, int)
        across, shut = self.columns.across(air), ~self.columns.standing_open(conditions)
        least, most = self.columns.least_pa, self.columns.most_pa
        limit = most if self.effect > 0 else np.where(least < 0, least, -np.inf)  # a least above zero is a question of too little air
        room = np.where(shut, self.effect * (limit - across), np.inf)
        number = room.argmin(axis=1)
        rows = np.arange(count)
        return room[rows, number], across[rows, number], limit[number], number

    def closing(self, air, conditions):
        """Room below the pressure up to which the final exit that is hardest to close closes again [conditions], and that door's number."""
        if self.columns is None:
            return np.full(len(conditions), np.inf), np.zeros(len(conditions), int)
        room = self.columns.closing(self.columns.across(air), self.columns.standing_open(conditions))
        return room.min(axis=1), room.argmin(axis=1)

    def exits(self, tower, cases, conditions, speed_hz, leak_factor=1.0):
        """`ExitAjar` at one speed, with walls that leak as much more; None where no final exit is pushed open."""
        conditions = replace(conditions, leak_factor=conditions.leak_factor * leak_factor)
        room, number = self.closing(tower.solve(conditions, speed_hz), conditions)
        place = int(room.argmin())
        if not np.isfinite(room[place]):
            return None
        ajar = [case for case, left in zip(cases, room, strict=True) if case.shut and left < 0]
        left = left_with_exits_open(tower, self.columns, ajar, speed_hz, leak_factor) if ajar else None
        limit = float(self.columns.recloses_pa[number[place]])
        dp, column = limit - float(room[place]), self.columns.columns[number[place]]
        remedy = shut_by(tower.site, column, dp, limit)
        return ExitAjar(column.text, dp, limit, cases[place].name, float(speed_hz), "", left, remedy, column.window)

    def said(self, number):
        """A door in words."""
        return "" if self.columns is None else self.columns.columns[number].text

    def means(self, number):
        """What the fan does to it, in words."""
        return "" if self.columns is None else self.columns.columns[number].means("high" if self.effect > 0 else "low")


def highest(tower, worst, conditions, lowest_hz, full_hz):
    """(highest speed without a door past its limit, rounded down, or NaN; (condition, door) that stops it, or None).

    worst: called with air and conditions, gives room first and the door's number last, [conditions].
    """
    low, high, left, where = lowest_hz, full_hz, np.arange(len(conditions)), None
    for number in range(_ROUNDS):
        speeds, count = np.linspace(low, high, _SPEEDS), len(left)
        rows = conditions.rows(np.tile(left, len(speeds)))
        room, *_, doors_at = worst(tower.solve(rows, np.repeat(speeds, count)), rows)
        room, doors_at = room.reshape(-1, count), doors_at.reshape(-1, count)
        past = np.flatnonzero(room.min(axis=1) < 0)
        if not past.size:
            return (float(full_hz), None) if number == 0 else (_down(low), where)
        first = past[0]
        stop = int(room[first].argmin())
        where = int(left[stop]), int(doors_at[first, stop])
        if first == 0:
            return (float("nan"), where) if number == 0 else (_down(low), where)
        low, high = speeds[first - 1], speeds[first]
        left = left[room[first] < 0]  # a faster fan moves every door the same way: what is not past here is not past below
    return _down(low), where


def _up_to(speed_hz):
    return "no speed of this drive is safe" if np.isnan(speed_hz) else f"no door passes its limit up to {speed_hz:.1f} Hz alone"


def _beyond(speed_hz):
    return "at any speed of this drive" if np.isnan(speed_hz) else f"above {speed_hz:.1f} Hz"


def _down(speed_hz):
    return float(np.floor(speed_hz / SHOWN_HZ + 1e-9) * SHOWN_HZ)
