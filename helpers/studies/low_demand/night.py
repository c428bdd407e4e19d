"""A night of the offices with a low-demand stop: evening, night and morning put together from courses that the loop itself has run.

Between two switchings nothing new happens: the fan comes up, or goes down, or follows the boxes, always in the same way for the same
demand. So these courses are run once, in the real loop, for every demand; a rule only decides when one gives way to the next. That makes
hours of any rule a matter of milliseconds, and a test holds them to the loop run from end to end.
Limits: a course that is broken off half-way is taken up where its like has the same speed; the filter's second of memory is lost there.
"""

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from helpers.formulas.low_demand import LowDemandRule
from helpers.model.plants.kinds import plant_of, read_any_site
from helpers.model.plants.pressure_plant import DuctConditions, Turn, run_plant, setup_of
from helpers.model.site.file import demo_sites

EVENING, NIGHT, DAY = range(3)  # the lowest duty, nobody there, everybody comes
ENDS_S = (3600.0, 3 * 3600.0, 4 * 3600.0)  # of evening, night, day in the picture
NIGHT_OPENINGS = tuple(round(0.02 * step, 2) for step in range(16))  # share of all boxes that stand open at night
TURN_S = 20.0  # in which the boxes shut or open
RUN_S, REST_S = 180.0, 60.0  # after which a started fan runs steadily, a stopped one stands
SERVED_SHARE = 0.9  # of the set point: below it the far boxes go short; ours


class Course(NamedTuple):
    """Speed [Hz], combined reading [Pa], power from the mains [W], each [samples]; what follows is as the last sample."""

    speed_hz: np.ndarray
    reading_pa: np.ndarray
    power_w: np.ndarray

    def after_speed(self, speed_hz, rising):
        """Number of the first sample that has come as far as a speed."""
        passed = self.speed_hz >= speed_hz if rising else self.speed_hz <= speed_hz
        return int(passed.argmax()) if passed.any() else len(passed) - 1


class Courses(NamedTuple):
    """What the loop does for one opening at night: `up` from standstill and `down` to it in each part of the night, `over` from a part to
    the next while it runs; sample_s [s]; set_point_pa; steady_hz of each part."""

    up: tuple
    down: tuple
    over: tuple
    sample_s: float
    set_point_pa: float
    steady_hz: tuple


@dataclass(frozen=True)
class Night:
    """What became of it: time_s, speed_hz, reading_pa [points]; stops_s, starts_s; kwh, short_s (below SERVED_SHARE of the set point),
    running_s of each part."""

    time_s: np.ndarray
    speed_hz: np.ndarray
    reading_pa: np.ndarray
    stops_s: np.ndarray
    starts_s: np.ndarray
    kwh: tuple
    short_s: tuple
    running_s: tuple

    def starts_per_hour(self, part):
        """By the mean time between two starts of a part; fewer than two: by the part's length."""
        begin, end = part_of(part)
        starts = self.starts_s[(self.starts_s > begin) & (self.starts_s <= end)]
        if len(starts) > 1:
            return float(3600 * (len(starts) - 1) / (starts[-1] - starts[0]))
        return len(starts) * 3600 / (end - begin)

    def stopped_in(self, part):
        """Whether the fan was stopped in a part."""
        begin, end = part_of(part)
        return bool(((self.stops_s >= begin) & (self.stops_s < end)).any())


def part_of(part):
    """Begin and end of a part [s]."""
    return (0.0, *ENDS_S)[part], ENDS_S[part]


@cache
def mill_street():
    """The offices' duct, as its site file has it."""
    return plant_of(read_any_site(demo_sites("duct")["Mill Street Offices"]))


@cache
def courses_of():
    """`Courses` by share of the boxes that stand open at night, run in the loop of Mill Street Offices."""
    plant = mill_street()
    site, count = plant.site, len(NIGHT_OPENINGS)
    nights = DuctConditions.of(site, "night", opening=np.repeat(np.array(NIGHT_OPENINGS)[:, None], len(site.sections), axis=1))
    evening, day = (DuctConditions.of(site, demand) for demand in ("evening", "morning"))
    rows = DuctConditions.joined([evening, nights, day])
    steady = plant.hold(rows).air.speed_hz
    rest = _run(plant, rows, LowDemandRule(2 * site.fan.highest_speed_hz, RUN_S, 0.0, REST_S), steady, 2 * RUN_S + REST_S)
    evenings = evening.rows(np.zeros(count, int))
    shut = _run(plant, evenings, NEVER, steady[:1], RUN_S, nights.opening)
    opened = _run(plant, nights, NEVER, steady[1:-1], RUN_S, day.opening)
    dt, samples = site.control.sample_s, round(RUN_S / site.control.sample_s)
    stop = int((~rest.running[:, 0]).argmax())
    down = [_course(rest, run, slice(stop, stop + round(REST_S / dt))) for run in range(count + 2)]
    starts = [int(rest.running[stop:, run].argmax()) + stop for run in range(count + 2)]
    up = [_course(rest, run, slice(start, start + samples - round(10.0 / dt))) for run, start in enumerate(starts)]
    found = {}
    for place, opening in enumerate(NIGHT_OPENINGS):
        three = (0, 1 + place, count + 1)
        over = tuple(_course(run, place, slice(None)) for run in (shut, opened))
        parts = [tuple(courses[run] for run in three) for courses in (up, down)]
        found[opening] = Courses(*parts, over, dt, site.control.set_point_pa, tuple(float(steady[run]) for run in three))
    return found


def play(courses, rule):
    """Evening, night and day under a `LowDemandRule`, from a fan that runs in the evening. Returns `Night`."""
    player = _Player(courses, rule)
    player.to_the_end()
    return player.night()


NEVER = LowDemandRule(0.0, 1.0, 0.0, 1.0)


def _run(plant, rows, rule, start_hz, length_s, opening=None):
    turns = () if opening is None else (Turn(0.0, {"opening": opening}, TURN_S),)
    return run_plant(plant, rows, setup_of(plant, length_s, events=turns, low_demand=rule, start_hz=start_hz, every_reading=False))


def _course(run, number, chosen):
    power = run.air.along(run.air.power_w, run.time_s, run.speed_hz[:, number], number)[:, 0]
    return Course(run.speed_hz[chosen, number], run.reading_pa[chosen, number], power[chosen])


class _Player:
    """Strings courses together. `since`: the moment since which what is waited for has held, None where it does not."""

    def __init__(self, courses, rule):
        self.courses, self.rule = courses, rule
        self.at_s, self.part, self.since = 0.0, EVENING, None
        self.course, self.first, self.running = courses.up[EVENING], len(courses.up[EVENING].speed_hz) - 1, True
        self.pieces, self.stops, self.starts = [], [], []
        self.kwh, self.short_s, self.running_s = np.zeros(3), np.zeros(3), np.zeros(3)
        self.known = {}
        self.counted = np.arange(max(len(course.speed_hz) for kind in courses[:3] for course in kind))

    def to_the_end(self):
        """From one switching or end of a part to the next, to the end of the day."""
        while self.part <= DAY:
            end = ENDS_S[self.part]
            switch = self._switch_s()
            self._last(min(switch, end))
            if switch < end:
                self._change_over()
            else:
                self._next_part()

    def _switch_s(self):
        """When the rule changes over on this course, were it never broken off; leaves `since` as it is at the part's end."""
        wait = self.rule.stop_after_s if self.running else self.rule.restart_after_s
        step, end = self.courses.sample_s, ENDS_S[self.part]
        since = self.since
        for begin, until, flag in self._stretches():
            if self.at_s + begin * step >= end:
                break
            if not flag:
                since = None
                continue
            since = self.at_s + begin * step if since is None else since
            if since + wait <= self.at_s + until * step and since + wait < end:
                return max(since + wait, self.at_s + step)
        self.since = since
        return np.inf

    def _stretches(self):
        """(begin, end, flag) of the course from here on [samples]: whether what the rule waits for holds; kept, as it comes again."""
        key = self.running, self.part, min(self.first, self._length() - 1), id(self.course)
        if key not in self.known:
            speed, reading, _ = (series[key[2] :] for series in self.course)
            short = self.courses.set_point_pa - reading > self.rule.restart_error
            flags = speed < self.rule.stop_below_hz if self.running else short
            edges = (np.flatnonzero(np.diff(flags)) + 1).tolist()
            begins = [0, *edges]
            self.known[key] = list(zip(begins, [*edges, np.inf], flags[begins].tolist(), strict=True))
        return self.known[key]

    def _last(self, until_s):
        """Record the course up to a moment."""
        step, first = self.courses.sample_s, self.first
        samples = max(round((until_s - self.at_s) / step), 0)
        speed, reading, kwh, short = self._moving(first, samples)
        held = samples - len(speed)
        self.pieces.append((self.at_s + step * self.counted[: len(speed)], speed, reading))
        if held:
            last_speed, last_reading, kwh_held, short_held = self._moving(self._length() - 1, 1)
            self.pieces.append(([until_s - step], last_speed, last_reading))
            kwh, short = kwh + held * kwh_held, short + held * short_held
        self.kwh[self.part] += kwh
        self.short_s[self.part] += short
        self.running_s[self.part] += until_s - self.at_s if self.running else 0.0
        self.at_s, self.first = until_s, first + samples

    def _moving(self, first, samples):
        """Speed, reading [samples], energy [kWh] and time short of pressure [s] of so much of the course; kept, as it comes again."""
        key = id(self.course), first, min(samples, self._length())
        if key not in self.known:
            speed, reading, power = (series[first : first + samples] for series in self.course)
            step, least = self.courses.sample_s, SERVED_SHARE * self.courses.set_point_pa
            self.known[key] = speed, reading, step * power.sum() / 3.6e6, step * np.count_nonzero(reading < least)
        return self.known[key]

    def _change_over(self):
        """Stop, or start: take up the other course where it has the present speed."""
        speed = self._speed()
        self.running = not self.running
        (self.starts if self.running else self.stops).append(self.at_s)
        self.course = (self.courses.up if self.running else self.courses.down)[self.part]
        self.since, key = None, (id(self.course), self.running, speed)
        if key not in self.known:
            self.known[key] = self.course.after_speed(speed, self.running)
        self.first = self.known[key]

    def _next_part(self):
        """The boxes move: a running fan follows them, a standing one does not notice."""
        part, self.part = self.part, self.part + 1
        if self.part > DAY or not self.running:
            return
        steady = self.first >= self._length() - 1
        speed = self._speed()
        self.course = self.courses.over[part] if steady else self.courses.up[self.part]
        self.first = 0 if steady else self.course.after_speed(speed, True)

    def _speed(self):
        return self.course.speed_hz[min(self.first, self._length() - 1)]

    def _length(self):
        return len(self.course.speed_hz)

    def night(self):
        """What was recorded."""
        *_, (_, speed, reading) = self.pieces
        series = zip(*self.pieces, ([ENDS_S[-1]], speed[-1:], reading[-1:]), strict=True)
        figures = [tuple(map(float, figure)) for figure in (self.kwh, self.short_s, self.running_s)]
        return Night(*map(np.concatenate, series), np.array(self.stops), np.array(self.starts), *figures)
