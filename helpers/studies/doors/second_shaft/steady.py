"""A second pressurised shaft beside the stair: what each fan does to the other shaft's doors through the floors, and to the stair's loop.

Both fans are in one air network. States of both are solved in every case with all doors of the stair shut: both at rest, one of them off,
failed, just started or just lost. Just started or lost: the stair's fan still turns as before, so that it is the worst of the seconds until
its loop has answered; the loop's own swing on the way is not in it.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.combining import combine
from helpers.model.air.second_shaft.openings import AS_FILED, FULL_SPEED, OFF, STUCK_OPEN, ShaftState
from helpers.model.air.tower import HeldAir, Tower
from helpers.model.site.field_types import Counts
from helpers.model.site.second_shaft import OWN_LOOP
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import with_force
from helpers.studies.doors.window import SiteWindow, handle_force_n, pressure_window
from helpers.studies.report import NETWORK, SITE_FILE, Finding, Table, Value, apart, figure, listed
from helpers.studies.status import SPARE_PA, status_of, worst_of
from helpers.units.said import with_unit

ADDED_PA = 1.0  # less that a state adds to what a door bears with both at rest before it is told by itself
STEADY, MOMENT = "at rest", "until the loop answers"
BOTH = "Both fans"
JUDGED = "The verdict is of"
_TRY = "measured with each fan alone, with both, and while the second one starts and stops; no remedy was tried in the model"


@dataclass(frozen=True)
class DoorsOf:
    """Doors of one shaft that have a limit: name of each in words, its kind in the site file, least_pa, most_pa [doors] (infinite where
    nothing limits), and its place: use and number of the storey."""

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    least_pa: np.ndarray
    most_pa: np.ndarray
    places: tuple[tuple[str, int], ...]

    def across(self, by_use):
        """Pressure difference [conditions, doors] from that by use [conditions, storeys]."""
        return np.stack([by_use[use][:, storey] for use, storey in self.places], axis=-1)


@dataclass(frozen=True)
class DoorAtWorst:
    """The door of one shaft with the least room in one state: its name, the case, dp_pa and limit_pa, which end that is ("least", "most"),
    room_pa, force_n and force_limit_n at its handle (None where nobody pulls it), and the key of its status ("" where it is not judged)."""

    door: str
    case: str
    dp_pa: float
    limit_pa: float
    end: str
    room_pa: float
    force_n: float | None
    force_limit_n: float | None
    state: str

    @property
    def unprotected(self):
        """Whether its shaft is not judged, and past its limit."""
        return not self.state and self.room_pa < 0

    @property
    def said(self):
        """Pressure and force beside their limits, where, in words; of a shaft that is not judged what it is left with, and that this is
        another question."""
        if np.isinf(self.room_pa):
            return f"{self.door}, {self.case}: air not found"
        if self.unprotected:
            return f"{self.door}, {self.case}: {with_unit(self.dp_pa, 'pressure')}: not protected, and not asked in this row"
        dp, limit = apart((self.dp_pa, self.limit_pa), "pressure", self.end)
        told = f"{self.door}, {self.case}: {dp}, at {self.end} {limit}"
        return with_force(told, self.force_n, self.force_limit_n)


@dataclass(frozen=True)
class ShaftsThen:
    """One state of both shafts over the cases: what, whether at rest or a MOMENT; stair, shaft: `DoorAtWorst` (None: no door has a limit);
    stair_dp_pa, shaft_dp_pa [cases, doors]; reading_pa, speed_hz [cases] of the stair's loop; held: whether it holds ("" where it does not
    run), loop: whether the second one's own does ("" where it has none)."""

    what: str
    when: str
    stair: DoorAtWorst | None
    shaft: DoorAtWorst | None
    stair_dp_pa: np.ndarray
    shaft_dp_pa: np.ndarray
    reading_pa: np.ndarray
    speed_hz: np.ndarray
    held: str
    loop: str

    @property
    def state(self):
        """Key of the graver status of both doors; with one shaft left unprotected CHECK at the best, whatever the other one has."""
        doors = [one for one in (self.stair, self.shaft) if one is not None]
        return worst_of([*(one.state for one in doors), *["attention"] * any(one.unprotected for one in doors)])


@dataclass(frozen=True)
class BothShafts:
    """A stair and a second shaft judged together: the cases; words for the second shaft; `DoorsOf` both; all `ShaftsThen`, BOTH first; by
    storey of the first case [storeys] what lies across stair and shaft doors with both running, with the other fan off."""

    cases: tuple[Case, ...]
    words: str
    stair_doors: DoorsOf
    shaft_doors: DoorsOf
    states: tuple[ShaftsThen, ...]
    rows: tuple[tuple[str, ...], ...]

    def state(self, what):
        """One of the states by its words."""
        return next(one for one in self.states if one.what == what)

    def table(self) -> Table:
        """Every state of both fans, with the worst door of each shaft, and the stair's loop."""
        columns = ("Both fans", "Worst door of the stair", f"Worst door of {self.words}", "Stair's loop reads", "Its fan turns at", JUDGED)
        rows, states = [], []
        for one in self.states:
            doors = ["no door has a limit" if door is None else door.said for door in (one.stair, one.shaft)]
            reads = f"{_span(one.reading_pa, 'pressure')}{f'; {one.held}' * bool(one.held)}"
            rows.append((f"{one.what}, {one.when}", *doors, reads, _span(one.speed_hz, "frequency"), self._judged_said(one)))
            states.append(one.state)
        note = (
            f"All doors of the stair shut, {len(self.cases)} cases, each row at its worst. Doors of a shaft whose own fan is off are told, "
            "not judged, and such a row is CHECK at the best: its verdict asks what the other shaft is left with. "
            f"{MOMENT.capitalize()}: the stair's fan still turns as before; short of pressure then is CHECK, FAIL where a door stays so."
        )
        return Table("both_shafts", "Stair and second shaft together", columns, tuple(rows), tuple(states), note)

    def _judged_said(self, one):
        """Of which doors the verdict on a state is, and which are past their limit and not judged, in words."""
        both = [(words, door) for words, door in (("the stair", one.stair), (self.words, one.shaft)) if door is not None]
        told = listed(f"doors of {words}" for words, door in both if door.state) or "none"
        left = [f"; {words} is not protected meanwhile: another question, and no pass of it" for words, door in both if door.unprotected]
        return "".join((told, *left))

    def door_table(self) -> Table:
        """Storey by storey what each fan does to the other shaft's doors, in the first case."""
        columns = ("Storey", "Stair door, second fan off", "Both", f"Door of {self.words}, stair's fan off", "Both")
        note = f"{self.cases[0].name}: the shaft over its floor (stair: over what lies behind its door). Both: both fans at rest."
        return Table("shaft_doors", "Across the doors of both shafts", columns, self.rows, note=note)

    def figures(self) -> tuple[Value, ...]:
        """What each fan changes at the other's doors, and what the stair's loop reads as the second fan starts and stops."""
        both, off, started = self.state(BOTH), self.state(_off(self.words)), self.state(_starts(self.words))
        changed = (
            ("the second fan", "the stair", both.stair_dp_pa - off.stair_dp_pa, self.stair_doors),
            ("the stair's fan", self.words, both.shaft_dp_pa - self.state(STAIR_OFF).shaft_dp_pa, self.shaft_doors),
        )
        told = []
        for whose, of, change, doors in changed:
            case, door = np.unravel_index(np.argmax(np.abs(change)), change.shape) if change.size else (0, 0)
            where = f"{doors.names[door]}, {self.cases[case].name}; " * bool(change.size)
            value = float(change[case, door]) if change.size else None
            reason = f"{where}both at rest, less with that fan off"
            told.append(figure(f"Most that {whose} changes at a door of {of}", value, "pressure", reason, NETWORK))
        told += [
            figure(f"Reading of the stair's loop as the second fan {does}", _farthest(one.reading_pa, both.reading_pa), "pressure",
                   f"{MOMENT}, the case that moves it most; held at {_span(both.reading_pa, 'pressure')} with both at rest", NETWORK)
            for does, one in (("starts", started), ("stops", self.state(_stops(self.words))))
        ]  # fmt: skip
        return tuple(told)

    def findings(self):
        """Whether both together suit each door, what the states do beyond that, and whether both loops hold."""
        both = self.states[0]
        if both.shaft is None:
            yield Finding("open", f"Doors of {self.words} are not judged", "none has a limit", "no minimum_dp, force_limit or most_dp",
                          SITE_FILE, "state what the code asks of them")  # fmt: skip
        else:
            suits = {"good": "suit", "attention": "are close to the limits of", "wrong": "do not suit"}[both.shaft.state]
            yield Finding(both.shaft.state, f"Both fans together {suits} the doors of {self.words}", both.shaft.said,
                          "both press on the floors, and each takes from what the other's doors stand over", NETWORK,
                          "" if both.shaft.state == "good" else f"another set point or speed of its fan; {_TRY}")  # fmt: skip
        off = self.state(_off(self.words)).stair
        if both.stair is not None and both.stair.state in ("attention", "wrong") and off.room_pa > both.stair.room_pa + ADDED_PA:
            what = f"The fan of {self.words} takes pressure from a door of the stair, or adds to it"
            told = f"both fans: {both.stair.said}; without it the worst door: {off.said}"
            helps = f"another set point or speed of either fan; {_TRY}"
            yield Finding(both.stair.state, what, told, "its air goes out through the floors as well", NETWORK, helps)
        told = [finding for one in self.states[1:] for finding in self._beyond(both, one)]
        yield from told
        if not told and both.stair is not None:
            what = "Whatever one of both fans does, no door of the other shaft is worse off than with both at rest"
            why = f"none is past its limit, or close to it, by {with_unit(ADDED_PA, 'pressure')} more"
            yield Finding("good", what, both.stair.said, why, NETWORK, possible=True)
        yield from self._loops()

    def _beyond(self, both, one):
        """A finding for each shaft whose doors are worse off in a state than with both at rest."""
        for door, rest in ((one.stair, both.stair), (one.shaft, both.shaft)):
            if door is None or door.state in ("", "good") or door.room_pa > rest.room_pa - ADDED_PA:
                continue
            does = {("most", "wrong"): "bears more than its limit", ("least", "wrong"): "is short of pressure"}
            word = does.get((door.end, door.state), f"is {'close to its limit' if door.room_pa >= 0 else 'short of pressure for a while'}")
            yield Finding(door.state, f"{one.what}: a door {word}", f"{door.said}; with both at rest {rest.said}",
                          "the floors rise and fall with both fans", NETWORK, _TRY, possible=True)  # fmt: skip

    def _loops(self):
        """Whether either loop is without its set point while both run, or the stair's with the second fan off."""
        both, off = self.states[0], self.state(_off(self.words))
        if both.loop not in ("", "held"):
            what = f"The own loop of {self.words} does not hold its set point"
            yield Finding("wrong", what, both.loop, "beside the stair's fan", NETWORK, f"another fan, or another set point; {_TRY}")
        if both.held == "held" and off.held != "held":
            yield Finding("wrong", "With the second fan off the stair's loop does not hold its set point", off.held,
                          "it holds with both", NETWORK, _TRY, possible=True)  # fmt: skip
        if both.held == "held":
            jumps = self.state(_starts(self.words)).reading_pa - both.reading_pa
            worst = float(jumps[np.argmax(np.abs(jumps))])
            told = f"the reading moves by {with_unit(worst, 'pressure')} until it has answered"
            yield Finding("good", "The stair's loop holds its set point again once the second fan has started", told,
                          "at rest; whether both loops swing against each other is in no model here", NETWORK,
                          "watch both readings while the second fan starts", possible=True)  # fmt: skip


STAIR_OFF, STAIR_FULL = "The stair's fan off", "The stair's fan at its highest speed"


def _off(words):
    return f"The fan of {words} off"


def _starts(words):
    return f"The fan of {words} has just started"


def _stops(words):
    return f"The fan of {words} has just been lost"


def both_shafts(tower: Tower, window: SiteWindow, cases) -> BothShafts | None:
    """`BothShafts` of a tower's stair and its second shaft, in those of its cases with all doors shut; None where the site has none.

    window: `SiteWindow` of the stair. Equation: the air network with both fans, steady (model.air.second_shaft); checked in the tests by
    hand on one storey and against scipy's solver. Limits: see the head of this file and of the model's.
    """
    site, chosen = tower.site, tuple(case for case in cases if case.shut)
    if site.second_shaft is None or not chosen:
        return None
    judged, words = _States(tower, window, chosen), site.second_shaft.words
    fan, conditions = site.second_shaft.fan, judged.conditions
    rest, off = judged.held(AS_FILED), judged.held(ShaftState(OFF))
    full_hz = site.fan.speed_limits_hz(site.control.fire_mode)[1]
    states = [judged.then(BOTH, STEADY, rest), judged.then(_off(words), STEADY, off, own_fan=False)]
    leak = boxes(site)["second_shaft.fan.stuck_open_leak"].high
    stuck = judged.held(ShaftState(STUCK_OPEN, back_leak=leak))
    states.append(judged.then(f"The fan of {words} failed, its damper stuck open", STEADY, stuck, own_fan=False))
    if fan.way == OWN_LOOP:
        states.append(judged.then(f"The fan of {words} failed at its highest speed", STEADY, judged.held(ShaftState(FULL_SPEED))))
    for what, state, before in ((_starts(words), AS_FILED, off), (_stops(words), ShaftState(OFF), rest)):
        after = rest if state is AS_FILED else off
        states.append(judged.then(what, MOMENT, judged.at(state, before.air.speed_hz), own_fan=state is AS_FILED, after=after))
    states.append(judged.then(STAIR_OFF, STEADY, judged.at(AS_FILED, 0.0), stairs_fan=False))
    states.append(judged.then(STAIR_FULL, STEADY, judged.at(AS_FILED, full_hz)))
    if site.second_shaft.open_doors:
        levels = ", ".join(map(str, site.second_shaft.open_doors))
        opened = judged.held(ShaftState(open_doors=site.second_shaft.open_doors))
        states.append(judged.then(f"{BOTH}, doors of {words} open at storey {levels}", STEADY, opened, own_doors=False))
    if site.second_shaft.exit_door:
        opened = judged.held(ShaftState(exit_open=True))
        states.append(judged.then(f"{BOTH}, the final exit of {words} open", STEADY, opened, own_doors=False))
    stair_off = judged.at(AS_FILED, np.zeros(len(conditions))).air
    return BothShafts(chosen, words, judged.stair, judged.shaft, tuple(states), _by_storey(tower, rest.air, off.air, stair_off))


class _States:
    """The cases solved in one state of both fans after the other, and judged."""

    def __init__(self, tower, window, cases):
        self.tower, self.cases, self.conditions = tower, cases, conditions_of(tower.site, cases)
        self.stair, self.shaft = doors_of_both(tower, window)

    def held(self, state):
        """`HeldAir` with the stair's loop at rest."""
        return Tower(self.tower.site, state).hold(self.conditions)

    def at(self, state, speed_hz):
        """The same of the stair's fan at a speed."""
        air = Tower(self.tower.site, state).solve(self.conditions, speed_hz)
        return HeldAir(air, np.full(len(self.conditions), ""), np.full(len(self.conditions), np.nan))

    def then(self, what, when, held, own_fan=True, own_doors=True, stairs_fan=True, after=None):
        """`ShaftsThen` of a state; own_fan, own_doors: whether the second shaft's fan runs and its doors are shut, so that its doors are
        judged; stairs_fan: the same of the stair; after: `HeldAir` once the loop has answered a MOMENT: a shaft that is short of pressure
        then is no better off before."""
        air, limited = held.air, held.state != ""
        stair, shaft = self._across(air)
        passes = [after is not None and not (across < doors.least_pa).any()
                  for across, doors in zip(self._across((after or held).air), (self.stair, self.shaft), strict=True)]  # fmt: skip
        found = air.converged
        reading = held.reading_pa if limited.all() else self._reading(air)
        loop = "" if air.shaft_loop is None else next((one for one in air.shaft_loop if one != "held"), "held")
        holds = next((one for one in held.state if one != "held"), "held") if limited.all() else ""
        worst = (
            self._worst(self.stair, stair, found, passes[0], stairs_fan),
            self._worst(self.shaft, shaft, found, passes[1], own_fan and own_doors),
        )
        return ShaftsThen(what, when, *worst, stair, shaft, reading, air.speed_hz, str(holds), str(loop))

    def _across(self, air):
        """Pressure differences [conditions, doors] of stair and second shaft."""
        by_use = across_by_use(air), {"stair door": air.shaft_pa - air.floor_pa, "final exit": air.shaft_pa}
        return [doors.across(one) if doors.names else np.zeros((len(self.cases), 0))
                for doors, one in zip((self.stair, self.shaft), by_use, strict=True)]  # fmt: skip

    def _reading(self, air):
        control = self.tower.site.control
        return combine(self.tower.readings(air), control.rule, weights=control.weights if control.rule == "weighted" else None)

    def _worst(self, doors, across, found, passes, judged):
        """`DoorAtWorst` of one shaft; passes: whether it is a moment after which none of its doors is short of pressure."""
        if not doors.names:
            return None
        rooms = np.stack([across - doors.least_pa, doors.most_pa - across])
        rooms = np.where(found[:, None], rooms, -np.inf)
        end, case, door = np.unravel_index(np.argmin(rooms), rooms.shape)
        room, dp, limit = float(rooms[end, case, door]), float(across[case, door]), (doors.least_pa, doors.most_pa)[end][door]
        state = "" if not judged else "open" if not np.isfinite(room) else str(status_of(room, 0.0, SPARE_PA, "least"))
        state = "attention" if state == "wrong" and end == 0 and passes else state
        leaf, force = self.tower.site.doors[doors.kinds[door]], (None, None)
        if end and leaf.worked_by_hand and leaf.opens != "with pressure" and np.isfinite(limit):
            force = tuple(handle_force_n(leaf, float(one)) for one in (dp, limit))
        return DoorAtWorst(doors.names[door], self.cases[case].name, dp, float(limit), ("least", "most")[end], room, *force, state)


def doors_of_both(tower, window) -> tuple[DoorsOf, DoorsOf]:
    """`DoorsOf` a tower's stair, whose `SiteWindow` is given, and of its second shaft."""
    given = tower.site.second_shaft
    called = {"stair door": "landing door" if given.kind == "lift" else "door"}
    shaft = _doors_of(tower, _shaft_windows(tower.site), f"{{use}} {{level}} of {given.words}", called)
    return _doors_of(tower, window.doors, "{use} {level}"), shaft


def _shaft_windows(site):
    """Windows of the second shaft's doors: those of stair doors by file and standard; of a lift by the file alone, which knows its code."""
    given = site.second_shaft
    storeys = [
        storey.model_copy(update={
            "stair_door": given.door if given.on(storey.level) else None, "stair_door_count": given.door_count, "lobby": False,
            "other_stair_doors": Counts(), "final_exit_door": given.exit_door if storey.level == given.exit_level else None,
        })
        for storey in site.storeys
    ]  # fmt: skip
    found = pressure_window(site.model_copy(update={"storeys": storeys})).doors
    found = [door.stated for door in found] if given.kind == "lift" else found
    if given.most_dp_pa is None:
        return found
    mosts = [given.most_dp_pa if door.most_pa is None else min(door.most_pa, given.most_dp_pa) for door in found]
    return [replace(door, most_pa=most) if door.use == "stair door" else door for door, most in zip(found, mosts, strict=True)]


def _doors_of(tower, windows, name, called=None):
    """`DoorsOf` all windows that limit a door."""
    limited = [(door, level) for door in windows if (door.least_pa, door.most_pa) != (None, None) for level in door.levels]
    limited.sort(key=lambda one: (one[0].use != "stair door", one[0].use, one[1]))
    least = [-np.inf if door.least_pa is None else door.least_pa for door, _ in limited]
    most = [np.inf if door.most_pa is None else door.most_pa for door, _ in limited]
    names = tuple(name.format(use=(called or {}).get(door.use, door.use), level=level) for door, level in limited)
    places = tuple((door.use, tower.storey(level)) for door, level in limited)
    return DoorsOf(names, tuple(door.door for door, _ in limited), np.array(least), np.array(most), places)


def _by_storey(tower, both, off, stair_off):
    """Rows of the table of doors, from the top storey down: of the first case."""
    given, rows = tower.site.second_shaft, []
    for place in reversed(range(len(tower.levels))):
        storey = tower.site.storeys[place]
        stair = [with_unit(air.door_dp_pa[0, place], "pressure") for air in (off, both)] if storey.stair_doors else ["no door"] * 2
        shaft = [with_unit((air.shaft_pa - air.floor_pa)[0, place], "pressure") for air in (stair_off, both)]
        rows.append((storey.words, *stair, *(shaft if given.on(storey.level) else ["no door"] * 2)))
    return tuple(rows)


def _farthest(values, rest):
    return float(values[np.argmax(np.abs(values - rest))])


def _span(values, dimension):
    ends = dict.fromkeys(with_unit(float(end), dimension) for end in (values.min(), values.max()))
    return " to ".join(ends)
