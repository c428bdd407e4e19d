"""Stair and second shaft in time: the stair's loop while the fan of the second shaft starts, is lost, or both start one before the other.

The air is solved at some speeds of both fans, straight lines between; the second fan goes up or down evenly, quickly or slowly (no file
has its starter or its inertia), and the stair's loop, with its lags likely and slowest, answers. A fan of the second shaft with a loop of
its own is not played: gain, integral time, transmitter, filter and ramp of that loop stand in no site file, and without them an answer on
two loops that swing against each other is an invention.
Limits: as of `model.air.second_shaft`; the shaft's air is as warm as with its fan on from the first turn on; doors stay shut; steady air.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas.fan import angular_speed, coasting_time_constant
from helpers.model.air.fan import fan_points
from helpers.model.air.second_shaft.openings import AS_FILED, OFF, ShaftState
from helpers.model.air.tower import Tower
from helpers.model.loop.arithmetic import ManyRuns
from helpers.model.loop.controller import ControllerSettings, Drive
from helpers.model.loop.run import Setup, run_on_air
from helpers.model.site.second_shaft import FIXED_FLOW, OWN_LOOP
from helpers.model.site.tolerances import inertia_box, loop_lags
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.second_shaft.steady import DoorsOf, doors_of_both
from helpers.studies.doors.window import SiteWindow
from helpers.studies.report import Finding, Table, signed
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.units.said import with_unit

KEY = "second_shaft_in_time"
SHAFT_SPEEDS, STAIR_SPEEDS = 9, 65
QUICK_S, SLOW_S = 1.0, 10.0  # from standstill to speed, or back: straight on the mains, by a drive; common practice, no source
CHANGES_S, LENGTH_S = 10.0, 70.0
REST_PA = 0.5  # a door with less to spare at rest is short at rest already: the step of an input alone takes so much
FAR_PA = 1e6  # room of a door that nothing limits
PLAYED = "stair's loop as it is laid down, both fans in one air, in time"
TRIED = "in each event that was played, all doors shut, walls as in the file"
NOT_PLAYED = (
    "The second shaft's own loop is not played in time: its gain, integral time, transmitter, filter and ramp stand in no site file. "
    "Both loops were solved at rest alone."
)


@dataclass(frozen=True)
class ShaftEvent:
    """What both fans do: words; begins, ends: share of its speed that the second fan goes from and to at CHANGES_S; stair_starts: whether
    the stair's fan starts from its lowest speed at that moment, else its loop is at rest."""

    words: str
    begins: float
    ends: float
    stair_starts: bool = False


EVENTS = (
    ShaftEvent("the second fan starts, the stair's loop at rest", 0.0, 1.0),
    ShaftEvent("the stair's fan starts, the second one at speed", 1.0, 1.0, stair_starts=True),
    ShaftEvent("both start at once", 0.0, 1.0, stair_starts=True),
    ShaftEvent("the second fan is lost, the stair's loop at rest", 1.0, 0.0),
)


@dataclass(frozen=True)
class ShaftPlayed:
    """An event at its worst over cases, lags, and a quick and a slow second fan: lowest_pa, highest_pa of the stair's reading after it;
    settles_s until it stays near its set point (NaN: it does not); stair_short_s, stair_past_s, shaft_past_s: seconds that a door of the
    stair is short of pressure or past what it may bear, and one of the shaft past that; stair_room_pa, shaft_room_pa: least room below."""

    event: ShaftEvent
    lowest_pa: float
    highest_pa: float
    settles_s: float
    stair_short_s: float
    stair_past_s: float
    stair_room_pa: float
    shaft_past_s: float
    shaft_room_pa: float


@dataclass
class BothAir:
    """Air over both fans' speeds, for a loop: values [shaft speeds, stair speeds, conditions]; readings_pa [.., transmitters, conditions];
    course of the second fan's share of its speed by run: begins, ends, over_s [runs], place: its condition [runs]."""

    top_hz: float
    readings_pa: np.ndarray
    begins: np.ndarray
    ends: np.ndarray
    over_s: np.ndarray
    place: np.ndarray

    def share(self, time_s):
        """Share [runs] of its speed at which the second fan turns."""
        gone = np.clip((time_s - CHANGES_S) / self.over_s, 0.0, 1.0)
        return self.begins + gone * (self.ends - self.begins)

    def course(self, times_s, arithmetic):
        """The second fan's share, sample by sample."""
        return map(self.share, times_s.tolist())

    def read(self, lines, speed_hz, arithmetic):
        """Pressures at the tubes [transmitters, runs]."""
        return np.stack([self.at(table, lines, speed_hz) for table in np.moveaxis(self.readings_pa, 2, 0)])

    def at(self, table, share, speed_hz):
        """A table [shaft speeds, stair speeds, conditions] at both speeds [.., runs], straight in each."""
        other, own = share * (SHAFT_SPEEDS - 1), np.clip(speed_hz / self.top_hz, 0.0, 1.0) * (STAIR_SPEEDS - 1)
        i, j = np.minimum(other.astype(int), SHAFT_SPEEDS - 2), np.minimum(own.astype(int), STAIR_SPEEDS - 2)
        a, b = other - i, own - j
        low, high = (table[i, k, self.place] * (1 - a) + table[i + 1, k, self.place] * a for k in (j, j + 1))
        return low * (1 - b) + high * b


@dataclass(frozen=True)
class ShaftInTime:
    """All `ShaftPlayed`; cases: how many; words for the second shaft; set_point_pa; not_played: why nothing was, "" where it was;
    rest_room_pa: least room of a stair door above its minimum with both fans at rest, which is in every event before it or after it."""

    plays: tuple[ShaftPlayed, ...]
    cases: int
    words: str
    set_point_pa: float
    not_played: str = ""
    rest_room_pa: float = FAR_PA

    @property
    def short_at_rest(self):
        """Whether a stair door is short of pressure for as long as both fans are at rest: no seconds tell of it."""
        return self.rest_room_pa < 0

    def state(self, one):
        """Key of the status of one: a reading that does not come to rest, a door past its limit or short at rest is FAIL, one short for a
        while CHECK, that of a stair which starts too: nobody has said here how long that may take."""
        if self.short_at_rest or np.isnan(one.settles_s) or one.stair_room_pa < 0 or one.shaft_room_pa < 0:
            return "wrong"
        return "attention" if one.stair_short_s else "good"

    def table(self) -> Table:
        """Every event at its worst."""
        columns = ("What happens", "Stair's reading", "At rest again after", "Stair doors", f"Doors of {self.words}")
        if self.not_played:
            return Table(KEY, "Both shafts in time", columns[:2], (("Nothing was played", self.not_played),), ("open",))
        rows = []
        for one in self.plays:
            reads = f"{with_unit(one.lowest_pa, 'pressure')} to {with_unit(one.highest_pa, 'pressure')}"
            rests = "not in the time played" if np.isnan(one.settles_s) else _seconds(one.settles_s)
            short = f"short of pressure for {_seconds(one.stair_short_s)}"
            if self.short_at_rest:
                for_long = f"short for as long as both fans are at rest, by {with_unit(-self.rest_room_pa, 'pressure')}"
                short = f"{for_long}; the others {short}"
            stair = f"{short}; {_below(one.stair_room_pa, one.stair_past_s)}"
            rows.append((one.event.words.capitalize(), reads, rests, stair, _below(one.shaft_room_pa, one.shaft_past_s)))
        note = (
            f"{self.cases} cases, all doors shut, the lags likely and slowest, the second fan up or down in {_seconds(QUICK_S)} and in "
            f"{_seconds(SLOW_S)}; set point {with_unit(self.set_point_pa, 'pressure')}. A stair that starts is short of pressure until "
            "it is up: CHECK at the best, nobody has said here how long it may be. Its fan starts from its lowest speed. A stair door that "
            "is short with both at rest makes every row FAIL, its seconds are not counted. Walls as in the file; other leakages were not "
            "played."
        )
        return Table(KEY, "Both shafts in time", columns, tuple(rows), tuple(map(self.state, self.plays)), note)

    def findings(self):
        """Whether the stair's loop comes to rest through all of it, and which order of start asks less of the doors."""
        if self.not_played:
            yield Finding(
                "open", "Both shafts were not played in time", self.not_played, "", PLAYED, "state that loop, or watch both on the day"
            )
            return
        if self.short_at_rest:
            short = f"by {with_unit(-self.rest_room_pa, 'pressure')}, with both fans at rest"
            yield Finding("wrong", "In time with the loop a stair door is short of pressure before or after each event", short,
                          "the loop holds its reading, and not this door", PLAYED,
                          "another set point or speed of either fan; none was tried", possible=True)  # fmt: skip
            return
        for one in self.plays:
            if self.state(one) == "wrong":
                told = f"stair {_below(one.stair_room_pa, one.stair_past_s)}; {self.words} {_below(one.shaft_room_pa, one.shaft_past_s)}"
                rests = "the reading does not come to rest; " * bool(np.isnan(one.settles_s))
                yield Finding("wrong", f"In time with the loop, {one.event.words}: a door or the loop is past its limit", f"{rests}{told}",
                              "the floors rise and fall with both fans", PLAYED, "another set point or speed of either fan; none was tried",
                              possible=True)  # fmt: skip
        short = [one for one in self.plays if self.state(one) == "attention" and not one.event.stair_starts]
        if short:
            worst = max(short, key=lambda one: one.stair_short_s)
            told = "; ".join(f"{one.event.words}: {_seconds(one.stair_short_s)}" for one in short)
            yield Finding("attention", "In time with the loop a stair door is short of pressure meanwhile", told,
                          f"{worst.event.words}: the floors rise and fall with both fans, and the loop follows", PLAYED,
                          "a slower second fan, or a quicker loop; none was tried: watch the stair's reading", possible=True)  # fmt: skip
        if all(self.state(one) != "wrong" for one in self.plays):
            worst = max(self.plays, key=lambda one: one.settles_s)
            told = f"after {_seconds(worst.settles_s)} at the most; {TRIED}"
            yield Finding("good", "The stair's loop comes to rest in each event of the second fan that was played", told, worst.event.words,
                          PLAYED, "watch both readings while the second fan starts", possible=True)  # fmt: skip


def _below(room, past_s):
    if not np.isfinite(room):
        return "no door has a limit"
    return f"least below the most {signed(room, 'pressure')}{f', past it for {_seconds(past_s)}' * bool(past_s)}"


def _seconds(value):
    return with_unit(float(value), "time", 1 if value < 10 else 0)


def shaft_in_time(tower: Tower, window: SiteWindow, cases, settings: ControllerSettings | None) -> ShaftInTime | None:
    """`ShaftInTime` of a tower's stair and second shaft in those of its cases with all doors shut that the stair's loop holds beside it;
    None where the site has no second shaft, no loop is laid down, or no case is held.

    window: `SiteWindow` of the stair; settings: the controller's as laid down. Checked in the tests against the network itself where both
    are at rest. Limits: see the head of this file.
    """
    site = tower.site
    shut = tuple(case for case in cases if case.shut)
    if site.second_shaft is None or settings is None or not shut:
        return None
    if site.second_shaft.fan.way == OWN_LOOP:
        return ShaftInTime((), len(shut), site.second_shaft.words, settings.set_point_pa, NOT_PLAYED)
    held = tower.hold(conditions_of(site, shut)).held
    chosen = tuple(case for case, holds in zip(shut, held, strict=True) if holds)
    if not chosen:
        return None
    player = ShaftPlayer(tower, window, chosen, settings)
    plays = tuple(map(player.play, EVENTS))
    return ShaftInTime(plays, len(chosen), site.second_shaft.words, settings.set_point_pa, rest_room_pa=player.rest_room_pa)


class ShaftPlayer:
    """Plays `ShaftEvent`s on the stair's loop, the air over both speeds solved once."""

    def __init__(self, tower, window, cases, settings):
        self.tower, self.site, self.settings, self.count = tower, tower.site, settings, len(cases)
        self.conditions = conditions_of(self.site, cases)
        top = self.site.fan.highest_speed_hz
        speeds = np.linspace(0.0, top, STAIR_SPEEDS)
        rows, self.top_hz = np.tile(np.arange(self.count), STAIR_SPEEDS), top
        under, asked = self.conditions.rows(rows), np.repeat(speeds, self.count)
        stair, shaft = doors_of_both(tower, window)
        readings, power, rooms = [], [], {"stair short": [], "stair past": [], "shaft past": []}
        for share in np.linspace(0.0, 1.0, SHAFT_SPEEDS):
            turned = _turned(self.site, share)
            air = turned.solve(under, asked)
            power.append(fan_points(turned, air, under)[2].reshape(STAIR_SPEEDS, self.count)[-1])
            readings.append(np.moveaxis(tower.readings(air).reshape(STAIR_SPEEDS, self.count, -1), 2, 1))
            own = _rooms(stair, across_by_use(air))
            other = _rooms(shaft, {"stair door": air.shaft_pa - air.floor_pa, "final exit": air.shaft_pa})
            for key, room in (("stair short", own[0]), ("stair past", own[1]), ("shaft past", other[1])):
                rooms[key].append(room.reshape(STAIR_SPEEDS, self.count, -1))
        self.readings_pa = np.stack(readings)
        self.coast_s = self._coasts(np.min(power, axis=0)) if self.site.fan.brake == "none" else None
        rest_hz = tower.hold(self.conditions).air.speed_hz
        self.rest_room_pa = float(self._at_rest(np.stack(rooms["stair short"]), rest_hz).min(initial=FAR_PA))
        self.rooms_pa = {key: self._least(np.stack(each), rest_hz, key == "stair short") for key, each in rooms.items()}
        self.rest_hz = {1.0: rest_hz, 0.0: Tower(self.site, ShaftState(OFF)).hold(self.conditions).air.speed_hz}

    def _coasts(self, shaft_w):
        """Of a stair fan without a brake: time [conditions] in which its wheel, left to the air, falls from its highest speed to half of
        it, at the least shaft power that the second fan leaves it."""
        fan = self.site.fan
        turning = angular_speed(fan.highest_speed_hz, fan.motor_poles)
        return coasting_time_constant(inertia_box(fan).likely, turning, np.maximum(shaft_w, 1.0))

    def _least(self, rooms, rest_hz, counted):
        """Least over doors [shaft speeds, stair speeds, conditions]; counted: of those alone that are not short at rest with both fans."""
        if not rooms.shape[-1]:
            return np.full(rooms.shape[:-1], FAR_PA)
        if counted:
            rooms = np.where(self._at_rest(rooms, rest_hz) >= REST_PA, rooms, FAR_PA)
        return np.minimum(rooms, FAR_PA).min(axis=-1)

    def _at_rest(self, rooms, rest_hz):
        """Rooms [conditions, doors] with both fans at rest, of those over both speeds."""
        place, cases = rest_hz / self.top_hz * (STAIR_SPEEDS - 1), np.arange(self.count)
        low = np.minimum(place.astype(int), STAIR_SPEEDS - 2)
        part = (place - low)[:, None]
        return rooms[-1, low, cases] * (1 - part) + rooms[-1, low + 1, cases] * part

    def play(self, event: ShaftEvent) -> ShaftPlayed:
        """The worst of an event over cases, lags, and a quick and a slow second fan."""
        found, air = self.run(event)
        after = found.time_s >= CHANGES_S
        reading, time_s = found.reading_pa[after], found.time_s[after]
        near = np.abs(reading - found.set_point_pa) <= accuracy_pa(self.site.transmitters)
        last = np.where(near.all(axis=0), 0, len(near) - np.argmin(near[::-1], axis=0))
        settles = np.append(time_s - CHANGES_S, np.nan)[last]
        rooms = {key: np.stack([air.at(table, air.share(time), speed) for time, speed in zip(time_s, found.speed_hz[after], strict=True)])
                 for key, table in self.rooms_pa.items()}  # fmt: skip

        def seconds(key):
            return float((rooms[key] < 0).sum(axis=0).max() * found.sample_s)

        least = {key: float(room.min()) if room.min() < FAR_PA / 2 else np.inf for key, room in rooms.items()}
        return ShaftPlayed(event, float(reading.min()), float(reading.max()), float(settles.max()), seconds("stair short"),
                           seconds("stair past"), least["stair past"], seconds("shaft past"), least["shaft past"])  # fmt: skip

    def run(self, event):
        """(`LoopRun`, `BothAir`) of an event, runs [quick or slow, lags, cases] in one row."""
        runs = 4 * self.count
        place, slow = np.tile(np.arange(self.count), 4), loop_lags(self.site).lag.high
        over_s = np.repeat([QUICK_S, SLOW_S], 2 * self.count)
        lag_s = np.tile(np.repeat([0.0, slow], self.count), 2)
        begins, ends = np.full(runs, event.begins), np.full(runs, event.ends)
        lowest = self.site.fan.speed_limits_hz(self.site.control.fire_mode)[0]
        start = np.full(runs, lowest) if event.stair_starts else self.rest_hz[event.begins][place]
        air = BothAir(self.top_hz, self.readings_pa, begins, ends, over_s, place)
        hand = ((0.0, CHANGES_S, 100 * lowest / self.site.fan.highest_speed_hz),) if event.stair_starts else ()
        setup = Setup(LENGTH_S, settings=self.settings, more_lag_s=lag_s, hand=hand, every_reading=False)
        coast_s = None if self.coast_s is None else self.coast_s[place]
        drive = Drive(self.site.fan, self.site.control.sample_s, start, arithmetic=ManyRuns(runs), coast_s=coast_s)
        return run_on_air(air, self.site, setup, self.site.transmitters, self.settings, runs, start, drive), air


def _rooms(doors: DoorsOf, by_use):
    """Rooms [2 ends, conditions, doors] above the least and below the most."""
    if not doors.names:
        return np.zeros((2, len(next(iter(by_use.values()))), 0))
    across = doors.across(by_use)
    return np.stack([across - doors.least_pa, doors.most_pa - across])


def _turned(site, share):
    """The tower with the second fan at a share of its speed, or of its fixed flow."""
    if not share:
        return Tower(site, ShaftState(OFF))
    fan = site.second_shaft.fan
    key, value = ("fixed_flow_m3_s", fan.fixed_flow_m3_s) if fan.way == FIXED_FLOW else ("speed_hz", fan.speed_hz)
    slowed = fan.model_copy(update={key: share * value})
    return Tower(site.model_copy(update={"second_shaft": site.second_shaft.model_copy(update={"fan": slowed})}), AS_FILED)
