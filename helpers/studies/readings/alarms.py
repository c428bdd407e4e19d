"""Alarm limits on each reading, on the difference of two, and on the fan at an end stop; and what they let pass in silence.

The limits lie just outside what sound loops show through a year and while people use a door, transmitters off by up to their accuracy:
tighter ones would ring on a sound stair and be switched off. Then everything that was tried is looked through for a door that is out of its
window while all of them are silent.
Limits: hours of a typical year, without extremes; one door event, with the tuning to be entered, slowest lags, or the loop as it stands.
"""

from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from helpers.formulas import signals
from helpers.model.air.operating_point import HELD
from helpers.model.loop.controller import INTEGRAL_STOPS
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.model.site.tolerances import boxes, loop_lags, reading_lag_s
from helpers.studies.cases import conditions_of
from helpers.studies.report import fine, limit_text
from helpers.studies.status import word_of
from helpers.studies.tuning.door_tests import LENGTH_S, OPENS_S, SHUTS_S, largest_door
from helpers.studies.tuning.times_said import MARK, not_followed_said
from helpers.units.said import three, two, with_unit

MOST_HOURS = 10  # of a year in which a sound loop may lie beyond one alarm limit; ours


def year_ends(values_pa):
    """Ends [Pa] of some hours' values [hours, n] that leave MOST_HOURS of them beyond each: (low [n], high [n])."""
    ordered = np.sort(values_pa, axis=0)
    place = min(MOST_HOURS, len(ordered) - 1)
    return ordered[place], ordered[-1 - place]


def hours_beyond(readings_pa, low_pa, high_pa, deviation_pa):
    """Most hours [-] of readings [hours, taps] that lie beyond any one of the limits."""
    counts = [*(readings_pa < low_pa).sum(axis=0), *(readings_pa > high_pa).sum(axis=0)]
    if deviation_pa is not None:
        counts.append((apart_of(readings_pa) > deviation_pa).sum())
    return int(max(counts))


def apart_of(readings_pa):
    """Largest difference of any two readings [hours] of [hours, taps]."""
    pairs = combinations(range(readings_pa.shape[1]), 2)
    return np.max([np.abs(readings_pa[:, b] - readings_pa[:, a]) for a, b in pairs], axis=0)


class DoorInTheLoop:
    """The loop in all cases with doors shut, while the door that takes most stands open and shuts again.

    tuned: `Candidate` to be entered, played with the lags stated and, as the door tests do, in its far corner, with the integral stopping
    at the ends of the output or at the ramp as well, and without a brake that nobody states; None: the loop as its site has it, alone.
    time_s [samples]; readings_pa [samples, ways of playing x cases, taps].
    """

    def __init__(self, tower, cases, tuned=None):
        site = tower.site
        level, kind = largest_door(site)
        conditions = conditions_of(site, [case for case in cases if case.shut])
        start_hz, loop, settings = tower.hold(conditions).air.speed_hz, site, settings_of(site)
        setups = [Setup(LENGTH_S, events=(DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind),), settings=settings, start_hz=start_hz)]
        if tuned is not None:
            settings = replace(settings, gain=tuned.gain, integral_s=tuned.integral_s, derivative_s=0.0)
            far = {"more_lag_s": tuned.far.lag_s, "dead_time_s": tuned.far.dead_time_s}
            stops = [replace(settings, integral_stops=stops) for stops in INTEGRAL_STOPS]
            setups = [replace(setups[0], settings=settings), *(replace(setups[0], settings=one, **far) for one in stops)]
            loop = site if site.fan.brake else site.with_changes(fan={"brake": "none"})
        first = run_loop(tower, conditions, setups[0])
        runs = [first, *(run_on_air(first.air, loop, setup, loop.transmitters, setup.settings, len(conditions), start_hz)
                         for setup in setups[1:])]  # fmt: skip
        self.time_s, self.readings_pa = first.time_s, np.concatenate([run.readings_pa.swapaxes(1, 2) for run in runs], axis=1)

    def outside_s(self, beyond):
        """Longest time [s] of one stretch in which `beyond` [samples, cases] holds, over the cases in which it does not before the door
        opens; None where it still does at the end."""
        beyond = beyond[:, ~beyond[self.time_s < OPENS_S].any(axis=0)]
        if beyond[-1].any():
            return None
        longest = 0.0
        for column in beyond.T:
            edges = np.flatnonzero(np.diff(np.concatenate([[0], column.astype(int), [0]])))
            longest = max([longest, *(self.time_s[end] - self.time_s[start] for start, end in zip(edges[::2], edges[1::2], strict=True))])
        return float(longest)


DELAY_OPEN = "a delay that is not laid down: first a loop that comes back after a door"
LATE_S = 60.0  # an alarm that waits longer comes late; common practice, no source
PASSAGE_S = 30.0  # a door that people go through stands open so long; common practice, no source
STEADY_SHARE = 4.0  # lags until a step is over: 98 %
LEFT_STILL = 0.68  # chance that a sound sample lies within a step, where the noise has a standard deviation of one step: normal law
STILL_BY_CHANCE = 1e-6  # of a sound reading being called frozen; ours
STILL_LOOKS = int(np.ceil(np.log(STILL_BY_CHANCE) / np.log(LEFT_STILL)))  # so many still samples in a row, each apart from the last
ROUND_PA = 1.0
BIAS_STEPS = 81  # of a reading that is off by anything from minus to plus its span
SLACK_PA = 1e-9
# Of a door's limit: more than so much short of its least, or past the pressure at its force limit or up to which it closes again, and no
# alarm rings: FAIL; less: CHECK. Our own choice; common practice, no source.
OF_HARM = ("harm_pa", "limit_pa", "upper")  # of the door that is out by the largest share of its limit
SILENT_SHARE = 0.2


def silence_state(out_pa, limit_pa):
    """Key of the status of alarms that are silent while a place is out by so much of a limit: graded by the harm done."""
    return "wrong" if out_pa > SILENT_SHARE * abs(limit_pa) else "attention"


def late_said(seconds, difference=False):
    """That an alarm on a reading, or on the difference of two, waits [s] longer than `latest_s`, in words; "" where it does not."""
    latest = latest_s(difference)
    return f"{word_of('attention')}: later than {latest:g} s, a quicker loop first" if seconds > latest else ""


def latest_s(difference=False):
    """Longest [s] that an alarm on a reading may wait; that on the difference of two has to outlast a person in a door beside one of them,
    too. For record and review alike."""
    return LATE_S + PASSAGE_S * difference


@dataclass(frozen=True)
class ReadingLimits:
    """Alarm limits of one reading [Pa]; step_pa: what its input can tell."""

    name: str
    low_pa: float
    high_pa: float
    step_pa: float


@dataclass(frozen=True)
class Silence:
    """A door that is out of its window while every alarm is silent: by how much of which limit [Pa], its "least" or "most", the door in
    words, the case; reading, off_pa: which reading is off by how much (None: the readings are sound, or `what` says what is wrong)."""

    out_pa: float
    limit_pa: float
    end: str
    door: str
    case: str
    what: str = ""
    reading: str | None = None
    off_pa: float | None = None

    def text(self):
        """It in words."""
        cause = (
            self.what
            if self.reading is None
            else f"{self.reading} reads {with_unit(abs(self.off_pa), 'pressure')} too {'high' if self.off_pa > 0 else 'low'}"
        )
        return f"{cause}, {self.case}: {self.door} is {fine(self.out_pa)} out"

    @property
    def state(self):
        """Key of its status, by harm."""
        return silence_state(self.out_pa, self.limit_pa)

    def judged(self):
        """It in words, with what it is held against."""
        fails = f"more than {100 * SILENT_SHARE:.0f} % of it fails: our own choice; common practice, no source"
        return f"{self.text()}, its limit is {limit_text(self.limit_pa, 'pressure', self.end)} ({fails})"


@dataclass(frozen=True)
class AlarmLimits:
    """Limits for one site.

    readings: of `ReadingLimits`; deviation_pa: most difference of two sound readings (None for one); difference_pa: (least, most) of the
    last less the first; after_s, deviation_after_s: how long a limit must be passed; frozen_band_pa: a reading that moves by less for
    `frozen_s` is frozen; lag_s, renewed_s: of the slowest reading, and how seldom a new one comes; speed_hz: least and most of sound
    loops; silent: the worst `Silence` these limits leave, None for none; accuracy_pa: by which they are wider than what sound loops show;
    year_hours: most hours of the year tried beyond any one of them, None without a year; event_s: how long a reading is beyond them in
    the door event, None where it does not come back; tuned: whether that is with the tuning to be entered, at its worst lags, and not
    with the loop as stated; rung: (numbers of the cases, the worst first, in which a limit is passed though every reading is right, room
    of the worst shut door [Pa] in that one with the loop); mark: MARK beside event_s, or "".
    """

    readings: tuple[ReadingLimits, ...]
    deviation_pa: float | None
    difference_pa: tuple[float, float] | None
    after_s: float
    deviation_after_s: float
    frozen_band_pa: float
    lag_s: float
    renewed_s: float
    speed_hz: tuple[float, float]
    silent: Silence | None = None
    accuracy_pa: float = 0.0
    year_hours: int | None = None
    event_s: float | None = None
    tuned: bool = False
    rung: tuple[()] | tuple[tuple[int, ...], float] = ()
    mark: str = ""

    @property
    def apart_s(self):
        """From sample to sample that hardly hang together [s]: two lags, and one renewal."""
        return 2 * self.lag_s + self.renewed_s

    @property
    def frozen_s(self):
        """How long a reading must stand still [s] before it counts as frozen: a slow one that lives stands still for longer."""
        return float(_up(STILL_LOOKS * self.apart_s / 5) * 5)

    def frozen_why(self):
        """How that time was found, in words."""
        late = (
            f"; {word_of('attention')}: later than {LATE_S:g} s, until then it shows by its limits alone" if self.frozen_s > LATE_S else ""
        )
        return (
            f"time: {STILL_LOOKS} still samples in a row, each {three(self.apart_s)} s after the last, rounded up to 5 s: twice the lag of "
            f"the slowest reading ({two(self.lag_s)} s of transmitter, damping, tubes and filter, at most) and {two(self.renewed_s)} s to "
            f"a new one{late}"
        )

    def passed(self, readings_pa):
        """Whether readings [rows, taps] pass a limit of their own, and whether they pass that of their difference: two arrays [rows]."""
        low, high = (np.array([getattr(one, name) for one in self.readings]) for name in ("low_pa", "high_pa"))
        most = np.inf if self.deviation_pa is None else self.deviation_pa + SLACK_PA
        return ((readings_pa < low - SLACK_PA) | (readings_pa > high + SLACK_PA)).any(axis=1), np.ptp(readings_pa, axis=1) > most

    def waits_said(self):
        """How long the alarms wait, in words."""
        both = "" if self.deviation_pa is None else f", {with_unit(self.deviation_after_s, 'time', 0)} on their difference"
        return f"{with_unit(self.after_s, 'time', 0)} on each reading{both}"

    def wait_text(self, seconds):
        """A delay in words; where a door event lasts longer than was tried none is laid down."""
        return DELAY_OPEN if self.event_s is None else with_unit(seconds, "time", 0)


@dataclass(frozen=True)
class ShownAtRest:
    """Many loops at rest [rows]: what is wrong, the case, readings shown [rows, taps], the combined one, whether the fan is at an end stop,
    its speed, by how much the worst shut door is out of what the site allows it, closing again included (below zero: inside); and the
    door that is out by the largest share of its limit: that share, its number, by how much it is out, that limit, and whether it is an
    upper one."""

    what: tuple[str | tuple[int, float], ...]
    case: np.ndarray
    readings_pa: np.ndarray
    combined_pa: np.ndarray
    at_end: np.ndarray
    speed_hz: np.ndarray
    out_pa: np.ndarray
    share: np.ndarray
    door: np.ndarray
    harm_pa: np.ndarray
    limit_pa: np.ndarray
    upper: np.ndarray


def shown_in(answers, failures):
    """Every loop that was tried: sound ones with every transmitter off by its accuracy either way, one reading off by anything, and each
    `Failure` while nobody knows. Returns (sound `ShownAtRest`, all others as `ShownAtRest`)."""
    air = answers.air
    own = air.shown_pa[..., : len(air.site.transmitters)]
    taps, count = air.site.transmitters, len(air.cases)
    errors = np.array([signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span) for tap in taps])
    corners = (
        np.array(list(product((-1.0, 0.0, 1.0), repeat=len(taps)))) if len(taps) < 4 else np.vstack([np.eye(len(taps)), -np.eye(len(taps))])
    )
    sound = _shown(
        answers,
        own + (corners * errors)[:, None, None],
        np.ones((len(corners), count), bool),
        ("transmitters off by no more than their accuracy",) * len(corners),
    )
    found = []
    for number, tap in enumerate(taps):
        shares = np.linspace(-1.0, 1.0, BIAS_STEPS)
        off = shares * (tap.range_high_pa - tap.range_low_pa)
        wrong = np.broadcast_to(own, (BIAS_STEPS, *own.shape)).copy()
        wrong[..., number] = np.clip(wrong[..., number] + off[:, None, None], tap.range_low_pa, tap.range_high_pa)
        words = tuple((number, float(value)) for value in off)
        found.append(_shown(answers, wrong, np.ones((BIAS_STEPS, count), bool), words))
    for failure in failures:
        if not failure.at_once and failure.kind not in ("frozen", "disagree"):  # a frozen one shows by standing still
            believed, valid = failure.believed(air, answers.sound, 0.0)
            found.append(_shown(answers, believed[..., : len(taps)], valid, (failure.text,) * len(believed)))
    return sound, _joined(found)


def _shown(answers, believed, valid, what):
    air = answers.air
    settled = air.settle(believed, answers.rule, answers.set_point_pa, answers.weights)
    flat = believed.reshape(-1, *believed.shape[-3:])
    readings = np.stack([air.at(one, place) for one, place in zip(flat, settled.place, strict=True)])
    out_pa, *most = (of[valid] for of in air.out_most(settled.place))
    variant, case = np.nonzero(valid)
    combined = air.combined(readings, answers.rule, answers.weights)
    return ShownAtRest(
        tuple(what[k] for k in variant), case, readings[valid], combined[valid], (settled.state != HELD)[valid],
        air.speed_at(settled.place)[valid], out_pa, *most
    )  # fmt: skip


def _joined(several):
    return ShownAtRest(
        tuple(word for one in several for word in one.what),
        *(
            np.concatenate([getattr(one, name) for one in several])
            for name in ("case", "readings_pa", "combined_pa", "at_end", "speed_hz", "out_pa", "share", "door", *OF_HARM)
        ),
    )


def alarm_limits(answers, sound, others, tolerance_pa, year_pa=None, tuned=None):
    """`AlarmLimits` from what sound loops show whose doors are all inside; None where there is no such loop.

    year_pa: readings [hours, taps] of sound loops through a year, all doors shut, or None. Limits are wider than all that by the accuracy
    of the readings, and wait at least as long as a reading is beyond them in the door event, with the tuning `tuned` (see `DoorInTheLoop`).
    """
    site, taps = answers.air.site, answers.air.site.transmitters
    # A door open beside a transmitter is no case of alarm, but none for its limits either: the time of the difference covers it.
    levels = {tap.level for tap in taps}
    beside = np.array([not levels.isdisjoint(case.open_doors) for case in answers.air.cases])
    normal = (sound.out_pa <= tolerance_pa) & ~sound.at_end & ~beside[sound.case]
    if not normal.any():
        return None
    seen = sound.readings_pa[normal]
    steps = [float(signals.resolution(tap.range_low_pa, tap.range_high_pa, tap.converter_bits, tap.signal)) for tap in taps]
    off = np.array([float(signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span)) for tap in taps])
    lows, highs = seen.min(axis=0) - steps, seen.max(axis=0) + steps
    if year_pa is not None and len(year_pa):
        cold, warm = year_ends(year_pa)
        lows, highs = np.minimum(lows, cold - off), np.maximum(highs, warm + off)
    limits = tuple(
        ReadingLimits(tap.name, _down(low - error), _up(high + error), step)
        for tap, low, high, error, step in zip(taps, lows, highs, off, steps, strict=True)
    )
    deviation = difference = None
    if len(taps) > 1:
        most = apart_of(seen).max() + 2 * max(steps)
        if year_pa is not None and len(year_pa):
            most = max(most, year_ends(apart_of(year_pa)[:, None])[1][0] + 2 * off.max())
        deviation = _up(most + off.max())
        last = seen[:, -1] - seen[:, 0]
        difference = (_down(last.min() - 2 * max(steps)), _up(last.max() + 2 * max(steps)))
    more, (low, high) = loop_lags(site), answers.air.limits_hz
    lag, known = reading_lag_s(site), boxes(site)
    renewed = max(site.control.sample_s, known["control.input_scan_s"].high, known["control.bus_delay_s"].high)
    travel = max(site.fan.ramp_s, site.fan.slows_s) * (high - low) / site.fan.reference_speed_hz
    after = _up((travel + STEADY_SHARE * lag + more.dead_time.high) / 5) * 5
    speeds = float(np.floor(sound.speed_hz[normal].min())), float(np.ceil(sound.speed_hz[normal].max()))
    ends = np.array([one.low_pa for one in limits]), np.array([one.high_pa for one in limits])
    event = DoorInTheLoop(answers.air.tower, answers.air.cases, tuned)
    outside = event.outside_s(((event.readings_pa < ends[0]) | (event.readings_pa > ends[1])).any(axis=-1))
    longer = 0.0 if deviation is None else event.outside_s(np.ptp(event.readings_pa, axis=-1) > deviation)
    outside, after = None if longer is None else outside, max(after, _fives(outside))
    found = AlarmLimits(
        limits, deviation, difference, after, max(after + PASSAGE_S, _fives(longer)), 2 * max(steps), lag, renewed, speeds,
        accuracy_pa=float(off.max()), event_s=outside, tuned=tuned is not None, mark=MARK if not_followed_said(site) else "",
        year_hours=None if year_pa is None or not len(year_pa) else hours_beyond(year_pa, *ends, deviation)
    )  # fmt: skip
    loops = np.flatnonzero(np.logical_or(*found.passed(sound.readings_pa)))
    loops = loops[np.argsort(-sound.out_pa[loops], kind="stable")]
    rung = tuple(dict.fromkeys(sound.case[loops].tolist())), float(-sound.out_pa[loops].max(initial=-np.inf))
    return AlarmLimits(**vars(found) | {"silent": silence(answers, (sound, others), tolerance_pa, _rings(found)), "rung": rung})


def _rings(limits):
    def rings(shown):
        beyond = np.logical_or(*limits.passed(shown.readings_pa))
        beyond |= (shown.speed_hz < limits.speed_hz[0] - SLACK_PA) | (shown.speed_hz > limits.speed_hz[1] + SLACK_PA)
        return beyond | shown.at_end

    return rings


def silence(answers, several, tolerance_pa, rings):
    """`Silence` of the door that is out by the largest share of its limit in the loops tried (of `ShownAtRest`) whose `rings` is false;
    None where none is out."""
    air, worst, most = answers.air, None, -np.inf
    for shown in several:
        share = np.where(rings(shown) | (shown.out_pa <= tolerance_pa), -np.inf, shown.share)
        place = int(share.argmax()) if share.size else 0
        if share.size and share[place] > most:
            most, end = share[place], "most" if shown.upper[place] else "least"
            figures = float(shown.harm_pa[place]), float(shown.limit_pa[place]), end
            what = shown.what[place]
            cause = {"what": what} if isinstance(what, str) else {"reading": air.site.transmitters[what[0]].name, "off_pa": what[1]}
            door, case = air.doors.columns[shown.door[place]].text, air.cases[shown.case[place]].name
            worst = Silence(*figures, door, case, **cause)
    return worst


def _fives(seconds):
    """Seconds rounded up to five beyond them; 0 for none."""
    return 0.0 if not seconds else float(np.floor(seconds / 5 + 1) * 5)


def _down(value):
    return float(np.floor(value / ROUND_PA) * ROUND_PA)


def _up(value):
    return float(np.ceil(value / ROUND_PA) * ROUND_PA)
