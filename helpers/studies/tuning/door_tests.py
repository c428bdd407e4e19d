"""Door tests of a tuning: the largest door opens and shuts again in the loop, in every weather, at both ends of the stair's warmth."""

from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property, reduce

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.model.air.conditions import Conditions
from helpers.model.loop.controller import INTEGRAL_STOPS, shortest_ramp_down
from helpers.model.loop.events import DOORS, DoorEvent, schedule
from helpers.model.loop.results import door_course, recovery, swing_pa
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.model.site.criteria import criteria_for
from helpers.model.sweep import AirTable
from helpers.studies.cases import Case, conditions_of, two_neighbours, with_stair_air
from helpers.studies.doors.window import handle_limit_n, pressure_window
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.tuning.times_said import LOOKED_AT_S, back_text, mark_of, past_text, short_said, short_state
from helpers.units.said import with_unit

OPENS_S, SHUTS_S, LENGTH_S = 10.0, 60.0, 110.0
LARGEST_SWING_PA = 1.0  # ours: a loop that still swings more than this half a minute after the door is not calm
SWINGS_FROM_S = LENGTH_S - 20.0  # half a minute after the door has shut
WITHIN_S = 3.0  # 90 % of the new flow within 3 s of a door event; EN 12101-6:2005, superseded in 2022 (memory). No US standard asks for it


@dataclass(frozen=True)
class DoorTest:
    """Seconds until 90 % of the way to the new steady flow is there and stays, after the door has begun to open and to shut, in the slowest
    weather (NaN: not reached in LOOKED_AT_S); the most force at a handle after the door has shut [N] and for how long any is above its
    limit [s], in the worst weather; how much the reading still swings to and fro half a minute after the door [Pa]: drift is no swing;
    response_s: time that the site's standard asks for, None where it asks for none (as in the US); short_s: longest time after either move
    for which a shut stair door has less than its minimum, of those doors and cases in which the loop at rest gives it enough (NaN: it
    gives it to none); mark: that the ramps it was tried with are not followed, see `mark_of`; peak_at: door
    and case of the most force."""

    opens_s: float
    shuts_s: float
    peak_force_n: float
    above_limit_s: float
    swing_pa: float
    response_s: float | None = None
    short_s: float = np.nan
    mark: str = ""
    peak_at: str = ""

    @classmethod
    def worse(cls, *tests):
        """The worst of each figure of some tests."""
        columns = [np.array([getattr(test, name) for test in tests]) for name in ("opens_s", "shuts_s")]
        times = [float(np.nan if np.isnan(column).any() else column.max()) for column in columns]
        rest = [
            float(np.fmax.reduce([getattr(test, name) for test in tests]))
            for name in ("peak_force_n", "above_limit_s", "swing_pa", "short_s")
        ]
        return cls(*times, *rest[:3], tests[0].response_s, rest[3], max(test.mark for test in tests),
                   max(tests, key=lambda test: np.nan_to_num(test.peak_force_n, nan=-np.inf)).peak_at)  # fmt: skip

    @property
    def slowest_s(self):
        """The slower of both ways; infinite where one does not recover."""
        return max(np.nan_to_num(seconds, nan=np.inf) for seconds in (self.opens_s, self.shuts_s))

    @property
    def quick(self):
        """Whether both ways are within what the site's standard asks; where it asks for no time, whether the flow comes back at all."""
        return bool(np.isfinite(self.slowest_s) if self.response_s is None else self.slowest_s <= self.response_s)

    @property
    def light(self):
        """Whether no door is beyond its force limit after the door has begun to shut."""
        return self.above_limit_s == 0

    @property
    def short_state(self):
        """Key of the status of `short_s`, see the function of this name."""
        return short_state(self.short_s, self.response_s)

    @property
    def brief(self):
        """Whether no shut door is short for longer than may be."""
        return self.short_state != "wrong"

    @property
    def fit_state(self):
        """Key of the status of what a door event does to the other doors: force at a handle, and how long one is short."""
        return "wrong" if not (self.light and self.brief) else "attention" if self.short_state == "attention" else "good"

    def short_said(self):
        """For how long a shut door is short, and what that is held against, in words."""
        return short_said(self.short_s, self.response_s, self.mark)

    def back_said(self):
        """Whether and when the airflow recovers, in words."""
        return f"{back_text(self.slowest_s)}{self.mark}"

    def past_said(self):
        """How long a door is above its force limit, in words."""
        return f"{past_text(self.above_limit_s)}{self.mark}"

    @property
    def calm(self):
        """Whether the reading comes to rest."""
        return self.swing_pa <= LARGEST_SWING_PA


def short_seconds(run, least_pa, rest_pa, shut, from_s, until_s, numbers):
    """Time [s] between two moments for which each shut stair door has less than its minimum though the loop at rest gives it enough.

    least_pa [storeys] (-inf: none); rest_pa, shut [runs or 1, storeys]: pressure across each door with the loop at rest, whether it is
    shut; numbers: of the runs. Returns [runs, storeys], NaN for a door to which it does not give it.
    """
    chosen = (run.time_s >= from_s) & (run.time_s < until_s)
    dp = run.air.along(run.air.doors_pa, run.time_s[chosen], run.speed_hz[chosen][:, numbers], numbers)
    short = (dp < least_pa - TOLERANCE_PA).sum(axis=0) * run.sample_s
    asked = shut & (rest_pa >= least_pa) & np.isfinite(least_pa)
    return np.where(asked, short, np.nan)


def largest_door(site):
    """The door whose opening takes most: the first final exit, else a stair door half way up. Returns (level, kind)."""
    exits = [storey.level for storey in site.storeys if storey.final_exit_door]
    return (exits[0], "exit") if exits else (two_neighbours(site)[0], "stair")


class DoorBench:
    """One door opening and shutting in all weathers of a site, with the stair as the file states it, in its first minute and after an hour;
    what is tried on it shares one solved air. weathers: names; cases: of `Case`, a row each of `shut` and `ajar`."""

    def __init__(self, tower, settings, transmitters=None, rule=None, door=None):
        site = self.site = tower.site
        self.tower, self.settings, self.transmitters, self.rule = tower, settings, transmitters, rule
        self.weathers = tuple(site.weather)
        self.cases = with_stair_air([Case(f"{name}, doors shut", name) for name in self.weathers])  # those as stated first
        self.shut, self.response_s = conditions_of(site, self.cases, tower), criteria_for(site).response_s
        self.loop_site = site if transmitters is None else site.model_copy(update={"transmitters": list(transmitters)})
        self.shut_held = self._held(self.shut)
        self.shut_hz = self.shut_held.air.speed_hz
        self._opens(*(largest_door(site) if door is None else door))
        self._limits_n = np.array([_limit(site, storey) for storey in site.storeys])  # the stricter of site file and standard

    def _held(self, where):
        site, rule = self.site, self.rule
        weights = site.control.weights if rule in (None, site.control.rule) else None  # as in a run: they go with the site's rule only
        return self.tower.hold(where, self.settings.set_point_pa, self.transmitters, rule, weights)

    def _opens(self, level, kind):
        """Take a door as the one that opens."""
        self.door, self._air, self.event = (level, kind), {}, DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind)
        self.ajar = self.shut.rows(slice(None))
        for field in DOORS[kind]:
            opened = getattr(self.ajar, field).copy()
            opened[:, self.tower.storey(level)] = 1.0
            setattr(self.ajar, field, opened)
        self.open_air = self._held(self.ajar).air
        self.open_hz = self.open_air.speed_hz

    @property
    def force_limit_n(self):
        """Lowest force limit of the stair doors; None where none has any."""
        return float(self._limits_n.min()) if np.isfinite(self._limits_n).any() else None

    @property
    def while_open(self):
        """What no tuning changes: (most force at a shut stair door [N], least pressure across one [Pa]) with the loop at rest and the door
        open, in the worst case; NaN where no door is worked by hand, or none is shut."""
        return self._at_rest(self.open_air, self.ajar)

    @property
    def at_rest(self):
        """The same with all doors shut: what rule and set point leave."""
        return self._at_rest(self.shut_held.air, self.shut)

    @property
    def while_open_at(self):
        """Where the two of `while_open` are, in words: door, weather, how warm the stair is; "" for none."""
        return tuple(
            f"{door}, {self.warmth_said(case)}" if np.isfinite(of).any() else ""
            for of, end in zip(self._each(self.open_air, self.ajar), (np.nanargmax, np.nanargmin), strict=True)
            for door, _, case in [self._place_said(int(end(of)) if np.isfinite(of).any() else 0).partition(", ")]
        )

    def warmth_said(self, case):
        """The weather of one of the cases, by its name, with the stair's temperature beside it, in words."""
        place = next(place for place, one in enumerate(self.cases) if one.name == case)
        stair = np.atleast_1d(self.shut.stair_c[place])
        ends = dict.fromkeys(with_unit(float(stair[at]), "temperature") for at in (0, -1))
        return f"{case.replace(', doors shut', '')}, stair at {' to '.join(ends)}"

    def _at_rest(self, air, conditions):
        ends = zip((np.nanmax, np.nanmin), self._each(air, conditions), strict=True)
        return tuple(float(end(of)) if np.isfinite(of).any() else np.nan for end, of in ends)

    def _each(self, air, conditions):
        """(force at each shut door [N], pressure across it [Pa]) by case and storey, NaN where there is none."""
        forces, shut = np.full(air.door_dp_pa.shape, np.nan), conditions.stair_door_open == 0
        for place, storey in enumerate(self.site.storeys):
            door = self.site.doors[self.site.hardest_stair_door(storey)] if storey.stair_doors else None
            shut[:, place] &= door is not None
            if door and door.worked_by_hand:
                sign = -1.0 if door.opens == "with pressure" else 1.0
                forces[:, place] = door_formulas.opening_force(sign * air.door_dp_pa[:, place], *door.leaf)
        pressure = np.where(shut, air.door_dp_pa * self.tower.effect, np.nan)
        return np.where(shut, forces, np.nan), pressure

    @cached_property
    def beside(self):
        """The same loop's bench for a stair door, that the design takes as open if it states one: what opens there is short elsewhere. None
        where this bench has that door, or no such door is there."""
        design = self.site.design
        level = next(iter((design and design.open_doors) or two_neighbours(self.site)), None)
        if level is None or self.door == (level, "stair"):
            return None
        bench = copy(self)
        bench._opens(level, "stair")
        return bench

    @cached_property
    def ramp_down(self):
        """`RampDown` from the highest speed that the loop may ask for, the worst that it can come from, to the lowest with all doors shut;
        None where the fan need not slow down."""
        fast, slow = self.site.fan.speed_limits_hz(self.site.control.fire_mode)[1], float(np.min(self.shut_hz))
        return shortest_ramp_down(self.tower, self.shut, fast, slow) if fast > slow > 0 else None

    def of_loop(self, loop_site):
        """The same bench and air, with the lags of another loop's site."""
        other = copy(self)
        other.loop_site = loop_site
        if vars(other).get("beside"):
            other.beside = other.beside.of_loop(loop_site)
        return other

    def percent(self, speed_hz):
        """Speed in per cent of full speed; a speed found by search is full speed but for rounding dust, which is no more than full."""
        percent = 100 * speed_hz / self.site.fan.highest_speed_hz
        return np.where(np.isclose(percent, 100.0, rtol=1e-6), 100.0, percent)

    def test_far(self, settings, corner, ramps_s=(None,)):
        """The same tries in a corner of the box (`box.Corner`), with an integral that stops at the ends of the output and one that
        stops at the ramp as well, and without a brake where none is stated: the worse of both. Returns a `DoorTest` for each try."""
        given = {name: np.asarray(value) for name, value in vars(settings).items()}
        tries, both = max(value.size for value in given.values()), len(INTEGRAL_STOPS)
        spread = {name: np.tile(value, both) if value.size > 1 else value.item() for name, value in given.items()}
        tests = self.test(type(settings)(**spread | {"integral_stops": np.repeat(INTEGRAL_STOPS, tries)}), ramps_s, corner=corner)
        return [DoorTest.worse(*tests[k::tries]) for k in range(tries)]

    def test(self, settings=None, ramps_s=(None,), hand=(), corner=None):
        """Try settings (numbers, or arrays of as many as there are tries), ramps, or outputs by hand (per cent: one, or one a case).

        corner: with its lag and delay instead of the site's; that its air fills is in the margins alone. In a corner, and with another
        ramp than the site's, the wheel coasts where no brake is stated. Returns a `DoorTest` for each try.
        """
        runs, tries = self._runs(settings, ramps_s, hand, corner)
        found = self._judged(runs[0], tries, [self._by_hand_hz(hand, moment) for moment in (OPENS_S + LOOKED_AT_S, SHUTS_S + LOOKED_AT_S)])
        short_s = np.fmax.reduce([bench._short_s(run, tries) for bench, run in zip((self, self.beside), runs, strict=False)])
        marks = self._marks(ramps_s, hand, corner, tries)
        return [replace(test, short_s=float(short), mark=mark) for test, short, mark in zip(found, short_s, marks, strict=True)]

    def _marks(self, ramps_s, hand, corner, tries):
        """`DoorTest.mark` of each try; one output all along leaves the ramp no part in it."""
        site, fan = self.loop_site, self.loop_site.fan
        coasts = fan.brake or corner is not None or ramps_s != (None,)
        if len(hand) == 1:
            return [""] * tries
        ramps = [None if up is None else (up, up * fan.slows_s / fan.ramp_s if fan.ramp_s else fan.slows_s) for up in ramps_s]
        marks = [mark_of(site, None if coasts else self.ramp_down, ramp) for ramp in ramps]
        return marks if len(marks) == tries else marks * tries

    def _short_s(self, run, tries):
        """`DoorTest.short_s` of each try [s]; after the second move the time counts from when the door has shut."""
        window, numbers, found = pressure_window(self.site), np.arange(tries * len(self.cases)), []
        moves = ((OPENS_S, self.open_air, self.ajar, True), (SHUTS_S + self.event.moving_s, self.shut_held.air, self.shut, False))
        for at, air, conditions, opened in moves:
            least = window.by_storey(self.tower.levels, "stair door", doors_open=opened)[0]
            rest, shut = (np.tile(of, (tries, 1)) for of in (air.door_dp_pa, conditions.stair_door_open == 0))
            by_storey = short_seconds(run, least, rest, shut, at, at + LOOKED_AT_S, numbers)
            found.append(np.fmax.reduce(by_storey, axis=1).reshape(tries, -1))
        return np.fmax.reduce(np.concatenate(found, axis=1), axis=1)

    def _runs(self, settings, ramps_s, hand, corner):
        """Run all tries side by side, on `beside` too. Returns the `LoopRun` of each bench, and how many the tries are."""
        given = {name: np.asarray(value) for name, value in vars(settings or self.settings).items()}
        tries = max(len(ramps_s), *(value.size for value in given.values()))
        count, benches = len(self.cases), (self, self.beside) if self.beside else (self,)

        def spread(value):  # one a try -> one a run: cases side by side for each try, bench after bench
            return np.tile(np.repeat(value, count), len(benches)) if np.size(value) > 1 else value

        several = type(self.settings)(**{name: spread(v) if v.size > 1 else v.item() for name, v in given.items()})
        ramp = None if ramps_s == (None,) else spread(np.broadcast_to(np.asarray(ramps_s, float), tries))
        all_tries = tries * len(benches)
        by_hand = tuple((a, b, np.tile(np.broadcast_to(percent, count), all_tries)) for a, b, percent in hand)
        down = None if ramp is None or not self.site.fan.ramp_s else ramp * self.site.fan.slows_s / self.site.fan.ramp_s
        setup = Setup(LENGTH_S, settings=several, rule=self.rule, ramp_s=ramp, ramp_down_s=down, hand=by_hand,
                      start_hz=np.tile(self.shut_hz, all_tries), every_reading=False)  # fmt: skip
        loop, airs = self.loop_site, [bench._air_for(tries) for bench in benches]
        if corner is not None:
            setup = replace(setup, more_lag_s=corner.lag_s, dead_time_s=corner.dead_time_s)
        if not loop.fan.brake and (corner is not None or ramp is not None):  # nobody said that a brake bears more than the stated ramp
            loop = loop.with_changes(fan={"brake": "none"})
        run = run_on_air(reduce(AirTable.beside, airs), loop, setup, loop.transmitters, several, all_tries * count, setup.start_hz)
        return [run.of_runs(slice(i * tries * count, (i + 1) * tries * count), air) for i, air in enumerate(airs)], tries

    def _by_hand_hz(self, hand, moment_s):
        """Speed by hand at a moment, one a case; None where the loop decides."""
        percent = next((percent for begins, ends, percent in hand if begins <= moment_s < ends), None)
        return None if percent is None else np.broadcast_to(percent, len(self.cases)) / 100 * self.site.fan.highest_speed_hz

    def _air_for(self, tries):
        """The air of so many tries side by side; solved for the first, and the same in each."""
        if tries not in self._air:
            rows = self.shut.rows(np.tile(np.arange(len(self.cases)), tries))
            scheduled = schedule(self.tower, rows, (self.event,), LENGTH_S)
            if self._air:
                solved = next(iter(self._air.values()))
                state = np.tile(solved.state[:, : len(self.cases)], tries)
                self._air[tries] = replace(solved, state=state, scheduled=scheduled)
            else:
                self._air[tries] = AirTable.of(self.tower, scheduled, self.transmitters)
        return self._air[tries]

    def _judged(self, run, tries, ends_hz):
        """A `DoorTest` for each try; ends_hz: speeds [cases] at the end of each of both ways, None where the loop decides."""
        numbers, found = np.arange(tries * len(self.cases)), []
        for at, hz in zip((OPENS_S, SHUTS_S), ends_hz, strict=True):
            settles = None if hz is None else np.tile(hz, tries)
            found.append(recovery(run, at, LOOKED_AT_S, number=numbers, settles_hz=settles).flow_s)
        forces = [door_course(run, self.tower, number=n, from_s=SHUTS_S).force_n for n in numbers]
        known = [np.nan_to_num(force, nan=-np.inf) for force in forces]
        above = [(force > self._limits_n).any(axis=1).sum() * run.sample_s for force in known]
        by_door = np.stack([force.max(axis=0) for force in known]).reshape(tries, -1)  # [tries, cases x storeys]
        most, where = by_door.max(axis=1), [self._place_said(int(place)) for place in by_door.argmax(axis=1)]
        opened, shut, above, swing = (
            np.reshape(each, (tries, -1)).max(axis=1) for each in (*found, above, swing_pa(run, SWINGS_FROM_S, LENGTH_S))
        )
        most = np.where(np.isinf(most), np.nan, most)
        rows = np.stack([opened, shut, most, above, swing], axis=1).tolist()
        return [DoorTest(*row, self.response_s, peak_at="" if np.isnan(row[2]) else at) for row, at in zip(rows, where, strict=True)]

    def _place_said(self, place):
        """Door and case of a place in [cases x storeys], in words."""
        case, storey = divmod(place, len(self.tower.levels))
        return f"stair door {self.tower.levels[storey]}, {self.cases[case].name}"


def _limit(site, storey):
    door = site.doors[site.hardest_stair_door(storey)] if storey.stair_doors else None
    limit = None if door is None else handle_limit_n(door, criteria_for(site))
    return np.inf if limit is None else limit


@dataclass(frozen=True)
class DoorTrend:
    """Both tunings through one door event, arrays [samples, tunings], the site's own first, the proposed one second where there is one.

    door: (level, kind) of the door that opens at opens_s and shuts from shuts_s on; level: whose shut stair door sees the most pressure
    after that, with its pressure door_pa.
    """

    weather: str
    door: tuple[int, str]
    opens_s: float
    shuts_s: float
    time_s: np.ndarray
    level: int
    door_pa: np.ndarray
    reading_pa: np.ndarray
    speed_hz: np.ndarray


def door_trend(tower, study, weather):
    """Run the door event of a tuning study again in one weather. study: `TuningStudy`. Returns `DoorTrend`.

    Raises ValueError for a weather that is not there, or where every stair door stands open.
    """
    site, tried = tower.site, [study.own] + ([study.recommended] if study.recommended else [])
    settings = replace(settings_of(site), **{name: np.array([getattr(one, name) for one in tried]) for name in ("gain", "integral_s")})
    level, kind = study.door
    event = DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind)
    rows = Conditions.of(site, weather).rows(np.zeros(len(tried), int))
    held = tower.hold(rows).air.speed_hz
    run = run_loop(tower, rows, Setup(LENGTH_S, events=(event,), settings=settings, start_hz=held, every_reading=False))
    doors = np.stack([door_course(run, tower, number=n).pressure_pa for n in range(len(tried))], axis=1)
    doors_at = [i for i, storey in enumerate(site.storeys) if storey.stair_door and storey.stair_door_count]
    shut = [i for i in doors_at if (kind, site.storeys[i].level) != ("stair", level)]
    if not shut:
        raise ValueError("door must leave another stair door shut, got the only one there is")
    sign = 1.0 if site.fan.effect == "supply" else -1.0
    peaks = (sign * doors[run.time_s >= SHUTS_S][:, :, shut]).max(axis=(0, 1))
    worst = shut[int(peaks.argmax())]
    return DoorTrend(
        weather, study.door, OPENS_S, SHUTS_S, run.time_s, int(tower.levels[worst]), doors[:, :, worst], run.reading_pa, run.speed_hz
    )
