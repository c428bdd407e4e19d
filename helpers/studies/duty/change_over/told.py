"""A change-over played with the loop, judged: its table, what it says against the site, and what was tried to make it shorter."""

from dataclasses import dataclass

import numpy as np

from helpers.model.air.tower import Tower
from helpers.model.loop.controller import ControllerSettings
from helpers.model.site.tolerances import Box, boxes
from helpers.studies.cases import conditions_of
from helpers.studies.doors.window import SiteWindow
from helpers.studies.duty.change_over.in_time import (
    ADDED_PA,
    CHOSEN,
    FAULTS,
    FIRST_STUCK,
    FREES_S,
    LATE_PROOF,
    NO_TIME_OUT,
    SECOND_STUCK,
    SOUND,
    WAYS,
    ChangeOverPlayer,
    ChangePlayed,
    Corners,
)
from helpers.studies.duty.mains_lost import REACHED
from helpers.studies.report import Finding, Table, signed
from helpers.studies.status import worst_of
from helpers.studies.tuning.times_said import past_text
from helpers.units.said import with_unit

PLAYED = "two fans and the loop that is laid down, in time"
KEY = "change_over_in_time"
LINES = ("fan", "change-over"), ("fan", "loop in the change-over")  # of the settings schedule, played together as one way
WALLS = "Walls as in the file; other leakages were not played."
FLAPS = Box(0.0, 0.0, 0.0, "a flap that the air opens", True)


@dataclass(frozen=True)
class TriedRemedy:
    """A remedy of the seconds that was tried, all else sound: what; short_s: seconds that a door is short of pressure; room_pa: least room
    below what a door may bear (inf: none has a limit); back: whether the reading comes back. Each the worst over both demands."""

    what: str
    short_s: float
    room_pa: float
    back: bool

    @property
    def said(self):
        """What it is, its seconds, and what they cost."""
        costs = f", a door then past its limit: {signed(self.room_pa, 'pressure')}" * (self.room_pa < 0)
        return f"{self.what}: {past_text(self.short_s)}{costs}{'' if self.back else ', the reading does not come back'}"


@dataclass(frozen=True)
class ChangeOverInTime:
    """A change-over of a stair's two fans in time with its loop.

    cases: number of cases; plays: every `ChangePlayed`, of all ways with all else sound, of the chosen one with each fault; without: least
    room (all doors shut at rest; while the design's open doors shut) where no fan is lost [Pa]; allowed_s: seconds that the site allows a
    door to be short of pressure, None where nobody has said; tried: `TriedRemedy` of each that was tried.
    """

    cases: int
    plays: tuple[ChangePlayed, ...]
    without: tuple[float, float]
    allowed_s: float | None
    tried: tuple["TriedRemedy", ...]

    def of(self, way, fault=SOUND):
        """Both `ChangePlayed` of a way and a fault: all doors shut, and at the design's open doors."""
        return tuple(one for one in self.plays if (one.way, one.fault) == (way, fault))

    def short_state(self, one):
        """Key of the status of the seconds that a play leaves a door short: past what is allowed FAIL, a fault beside the lost fan or
        none; where nobody allowed any, or a fault comes on top, CHECK at the best."""
        if not one.short_s:
            return "good"
        if self.allowed_s is not None and one.short_s > self.allowed_s:
            return "wrong"
        return "good" if one.fault == SOUND and self.allowed_s is not None else "attention"

    def past_state(self, one):
        """The same of what a door bears: past its limit is FAIL, whatever it was at rest."""
        return "wrong" if one.peak_room_pa < 0 else "good"

    def state(self, one):
        """Key of the graver status of both, and of a reading that does not come back."""
        return worst_of([self.short_state(one), self.past_state(one), *["wrong"] * bool(np.isnan(one.back_s))])

    def table(self) -> Table:
        """Every play at its worst."""
        columns = (
            "The loop, and what else",
            "Fan lost",
            "A door is short of pressure for",
            "Reading back after",
            "Least room to the maximum",
        )
        rows, states = [], []
        for one in self.plays:
            what = one.way.words if one.fault == SOUND else one.fault.words
            back = "not in the time played" if np.isnan(one.back_s) else _seconds(one.back_s)
            past = f", {past_text(one.past_s)} past it and worse than at rest" * bool(one.past_s)
            bears = "no door has a limit" if np.isinf(one.peak_room_pa) else f"{signed(one.peak_room_pa, 'pressure')} ({one.peak_in}){past}"
            rows.append((what.capitalize(), one.demand, f"{past_text(one.short_s)} ({one.short_in})", back, bears))
            states.append(self.state(one))
        rest, shuts = (signed(room, "pressure") for room in self.without)
        allowed = "nobody has said how long is allowed" if self.allowed_s is None else f"the site allows {_as_given(self.allowed_s)}"
        note = (
            f"{self.cases} cases of weather and stair temperature, each at both ends of the seconds, of the inertia and of the lags; "
            f"{allowed}. Without a lost fan the least below the most is {rest} at rest, and {shuts} as the design's open doors shut. "
            f"Rows with a fault: as the second way; a damper that sticks comes free {_seconds(FREES_S)} after the time-out. Back: at "
            f"{100 * REACHED:.0f} % of what it is with the doors shut. {WALLS}"
        )
        return Table(KEY, "When the first fan fails, played with the loop", columns, tuple(rows), tuple(states), note)

    def findings(self):
        """Whether the seconds are allowed, what comes back at the doors, and what the other ways and the faults do."""
        yield from self._short()
        yield from self._short_with_a_fault()
        yield from self._bears()
        yield from self._stuck()
        yield from self._not_back()

    def _short(self):
        if self.allowed_s is None:
            return
        worst = max(self.of(CHOSEN), key=lambda one: one.short_s)
        told = f"{past_text(worst.short_s)}, {_as_given(self.allowed_s)} allowed ({worst.short_in}, {worst.demand}){self._faults_said}"
        state = self.short_state(worst)
        if state != "wrong":
            yield _possible("good", "The change-over leaves no door short of pressure for longer than the site allows", told)
            return
        helps = "; ".join(one.said for one in self.tried)
        said = f"tried on the model with all else sound, {helps}; {self._enough()}. {WALLS}"
        yield _possible(state, "The change-over leaves a door short of pressure for longer than the site allows", told,
                        "the loss is noticed, a damper opens, a ramp is run", said, LINES)  # fmt: skip

    @property
    def _faults_said(self):
        """How long a door is short with each fault beside the lost fan that makes it longer than is allowed, behind what it is without."""
        worst = [max(self.of(CHOSEN, fault), key=lambda one: one.short_s) for fault in FAULTS if fault != NO_TIME_OUT]
        least = max(one.short_s for one in self.of(CHOSEN))
        late = [one for one in worst if self.short_state(one) == "wrong" and one.short_s > least]
        return "; with one fault beside it: " * bool(late) + ", ".join(f"{one.fault.words} {past_text(one.short_s)}" for one in late)

    def _short_with_a_fault(self):
        """A fault beside the lost fan that leaves a door short for longer than is allowed, where the lost fan alone does not."""
        if self.allowed_s is None or any(self.short_state(one) == "wrong" for one in self.of(CHOSEN)):
            return
        late = [one for fault in FAULTS for one in self.of(CHOSEN, fault) if self.short_state(one) == "wrong"]
        if late:
            worst = max(late, key=lambda one: one.short_s)
            told = f"{past_text(worst.short_s)}, {_as_given(self.allowed_s)} allowed ({worst.fault.words}, {worst.demand})"
            what = "With one fault beside the lost fan a door is short of pressure for longer than the site allows"
            yield _possible("wrong", what, told,
                            "the seconds that are allowed make no exception of a second fault",
                            "a damper that the air opens, clocked at every test; or other seconds for a second fault, which authority and "
                            "licensed designer agree in writing: no site file has a place for them; none was tried", LINES)  # fmt: skip

    def _enough(self):
        """The first remedy that keeps to the seconds and puts no door past its limit, else the first that keeps to them, in words."""
        quick = [one for one in self.tried if one.short_s <= self.allowed_s]
        sound = [one for one in quick if one.back and one.room_pa >= 0]
        if sound:
            first = "on the model alone; what notices a loss or moves a damper that soon is named, bought and clocked first"
            return f"enough: {sound[0].what}, with no door past its limit, {first}"
        return f"enough for these seconds alone: {quick[0].what}" if quick else "none of them is enough"

    def _bears(self):
        """What a door bears as the pressure comes back: past its limit is FAIL, whether or not it is so without a lost fan."""
        chosen = self.of(CHOSEN)
        past = [(one, without) for one, without in zip(chosen, self.without, strict=True) if self.past_state(one) == "wrong"]
        worse = [one for one, without in past if one.peak_room_pa < without - ADDED_PA]
        said = "; ".join(f"{one.demand}: {signed(one.peak_room_pa, 'pressure')} below the most" for one in chosen)
        if worse:
            yield _possible("wrong", "As the pressure comes back after a change-over a door bears more than its limit", said,
                            "the second fan is at the speed of before while the first wheel still blows, or doors have shut meanwhile",
                            self._best(min(worse, key=lambda one: one.peak_room_pa)), LINES)  # fmt: skip
            return
        if past:
            rest = "; ".join(f"{one.demand}: {signed(without, 'pressure')} without a lost fan" for one, without in past)
            yield _possible("wrong", "As the pressure comes back a door is past its limit, after a change-over and without one",
                            f"{said}; {rest}", "it is the loop that puts it there, and the change-over adds nothing to it",
                            "a door that bears more, a relief damper, another set point or tuning; none was tried", LINES)  # fmt: skip
            return
        if not np.isfinite(self.without[0]):
            return
        held = "with the loop as laid down here no door is past its limit"
        others = [one for one in self.plays if one.fault == SOUND and one.way != CHOSEN]
        bad = [one for one in others if self.past_state(one) == "wrong"]
        if bad:
            worst = min(bad, key=lambda one: one.peak_room_pa)
            told = f"the loop {worst.way.words}: {signed(worst.peak_room_pa, 'pressure')} below the most, {worst.demand}"
            yield _possible("attention", "What the loop is told in a change-over decides whether a door bears more than its limit", told,
                            f"it winds up while nothing can follow; {held}. {WALLS}",
                            f"the loop {CHOSEN.words}; clock and gauge at the test")  # fmt: skip
            return
        yield _possible("good", "As the pressure comes back after a change-over no door is past its limit", said, f"{held}. {WALLS}")

    def _best(self, chosen):
        """What the ways that were tried give in place of one that is past a limit, with what they cost."""
        alike = [one for one in self.plays if one.fault == SOUND and one.demand == chosen.demand]
        best = max(alike, key=lambda one: one.peak_room_pa)
        if best.peak_room_pa < chosen.peak_room_pa + ADDED_PA:
            return "of the ways tried none is better; a door that bears more, or a relief damper"
        still = ", past its limit all the same" * (best.peak_room_pa < 0)
        return (
            f"the loop {best.way.words}: {signed(best.peak_room_pa, 'pressure')}{still}, and a door is short for {past_text(best.short_s)} "
            f"in place of {past_text(chosen.short_s)}"
        )

    def _stuck(self):
        """A damper that sticks, or a proof that is late, with the loop as chosen: past a limit is FAIL, a fault or none."""
        for fault in (FIRST_STUCK, LATE_PROOF):
            worst = min(self.of(CHOSEN, fault), key=lambda one: one.peak_room_pa)
            if self.past_state(worst) == "wrong":
                told = f"{signed(worst.peak_room_pa, 'pressure')} below the most, {worst.demand}"
                yield _possible("wrong", f"Where {fault.words}, a door is past its limit as the pressure comes back", told,
                                "one fault beside the lost fan", "seen and clocked at every test; no remedy was tried", LINES)  # fmt: skip
        let = min(self.of(CHOSEN, SECOND_STUCK), key=lambda one: one.peak_room_pa)
        if self.past_state(let) == "wrong":
            told = f"{signed(let.peak_room_pa, 'pressure')} below the most as it comes free, for {past_text(let.past_s)}"
            alike = [one for one in self.of(CHOSEN, NO_TIME_OUT) if one.demand == let.demand]
            yield _possible("wrong", "A second damper that comes free after the time-out lets the pressure jump", told,
                            "let go, the loop has gone to full speed behind a shut damper",
                            f"no time-out while that damper is not open: {signed(alike[0].peak_room_pa, 'pressure')}; to be agreed, for "
                            "then an end switch that tells wrongly holds the loop until the reading is there", LINES)  # fmt: skip

    def _not_back(self):
        """A reading that does not come back in the time played, with all else sound or with a fault."""
        lost = [one for one in self.plays if one.way == CHOSEN and np.isnan(one.back_s)]
        if lost:
            what = "; ".join(f"{one.fault.words}, {one.demand}" for one in lost)
            yield _possible("wrong", "After a change-over the reading does not come back in the time played", what,
                            f"it stays below {100 * REACHED:.0f} % of what it is with the doors shut",
                            "what stands in the way of it first: the damper, the proof, the fan's highest speed", LINES)  # fmt: skip


def _possible(severity, what, said, why="", remedy="", settings=()):
    return Finding(severity, what, said, why, PLAYED, remedy, possible=True, settings=settings)


def _as_given(value):
    """Seconds that a site allows, no digit of them dropped: what is past them must read as past them."""
    return with_unit(float(value), "time", next(digits for digits in range(4) if digits == 3 or round(value, digits) == value))


def _seconds(value):
    return with_unit(float(value), "time", 1 if value < 10 else 0)


def change_over_in_time(tower: Tower, window: SiteWindow, cases, settings: ControllerSettings | None) -> ChangeOverInTime | None:
    """`ChangeOverInTime` of a tower's two fans in those of its cases with all doors shut that the loop holds; None where the site has no
    second fan, no loop is laid down, or no case is held.

    settings: the controller's as laid down. Source: Newton's second law for the wheel, the air network for the rest; the wheel is checked
    in the tests against its closed form, the whole against scipy's solve_ivp. Limits: see `in_time`.
    """
    site = tower.site
    shut = tuple(case for case in cases if case.shut)
    if site.second_fan is None or settings is None or not shut:
        return None
    held = tower.hold(conditions_of(site, shut)).held
    chosen = tuple(case for case, holds in zip(shut, held, strict=True) if holds)
    if not chosen:
        return None
    player = ChangeOverPlayer(tower, window, chosen, settings)
    plays = player.play([*((way, SOUND) for way in WAYS), *((CHOSEN, fault) for fault in FAULTS)])
    allowed_s = site.second_fan.allowed_short_s
    worst_s = max(one.short_s for one in plays if (one.way, one.fault) == (CHOSEN, SOUND))
    tried = () if allowed_s is None or worst_s <= allowed_s else tuple(_remedies(player))
    return ChangeOverInTime(len(chosen), plays, player.without_loss(), allowed_s, tried)


def _remedies(player):
    """`TriedRemedy` of a quicker notice, of flaps in place of driven dampers, and of both."""
    known = boxes(player.site)
    soon, travel = known["second_fan.noticed_s"], known["second_fan.damper_travel_s"]
    quick = Box(soon.low, soon.low, soon.low, "its quickest", soon.stated)
    noticed = f"the loss noticed in {_seconds(soon.low)}"
    for what, notice, moves in (
        (noticed, quick, travel),
        ("dampers that the air opens and shuts", soon, FLAPS),
        (f"both, {noticed}", quick, FLAPS),
    ):
        plays = player.play([(CHOSEN, SOUND)], Corners.of(player.site, notice, moves))
        back = not any(np.isnan(one.back_s) for one in plays)
        yield TriedRemedy(what, max(one.short_s for one in plays), min(one.peak_room_pa for one in plays), back)
