"""One tuning tried, what it was tried against and what it does not keep; what a filter makes of the fastest safe one; slow parts."""

import math
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from helpers.studies.beside_limit import number_beside
from helpers.studies.duty.relief_damper import FixedSpeed
from helpers.studies.report import fine, time_text
from helpers.studies.tuning.box import ASKED, Corner, Nearness
from helpers.studies.tuning.door_tests import DoorTest
from helpers.studies.tuning.times_said import past_text, seconds_text
from helpers.units.said import three, two, with_unit

NO_TIME = "swings"  # in place of a time: what swings on settles nowhere
OWN = "the site's own"  # the tuning that a site file states
SIMC = "SIMC, Skogestad 2003 (from memory, not verified)"
MOST_MARGIN = 100.0  # a gain margin beyond it says nothing more; ours
LONG_DAMPING_S = 1.0  # from which on a damping is told of; ours
# Lines of the settings schedule that a tuning fills, and those of the drive's ramp.
TUNED = tuple(("loop", name) for name in ("gain", "or proportional band", "integral time", "or integral rate"))
RAMPS = ("fan", "ramp up"), ("fan", "ramp down")
BRAKED = RAMPS[1], ("fan", "brake")
BOX = "margins over the whole range of lags, exact delay"


class Helping(Protocol):
    """What is told of a thing that may help; `study.Remedy` is one."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def doors(self) -> DoorTest | None:
        """The worst door test with it, None where none was made."""

    @property
    def air(self) -> FixedSpeed | None:
        """The fixed speed it rests on, None for a loop."""

    @property
    def works(self) -> bool:
        """Whether it is enough."""

    @property
    def stuck(self) -> tuple[str, bool]:
        """What it does where it sticks itself, in words, and whether the doors bear that."""

    @property
    def status(self) -> str:
        """Key of its status."""

    def how(self) -> str:
        """How it is done, in words."""

    def figure(self) -> str:
        """What came of it, in words."""


@dataclass(frozen=True)
class FilterPrice:
    """The fastest safe tuning behind a filter; own: whether it is the site's own filter."""

    filter_s: float
    gain: float
    integral_s: float
    own: bool

    @property
    def slowness_s(self):
        """Integral time over gain [s]: the lower, the sooner an error is made good."""
        return self.integral_s / self.gain

    @property
    def slowness_text(self):
        """The same with its unit, to two digits or, from a hundred seconds on, to one second."""
        return f"{two(self.slowness_s)} s" if self.slowness_s < 99.5 else f"{self.slowness_s:.0f} s"


@dataclass(frozen=True)
class DampingPrice:
    """What a long damping costs: the recovery after a door [s] with damping_s as stated and with little_s, each with the fastest tuning
    that is safe in the box of its own; bound: (gain, integral_s) of the fastest that would be safe if nobody ever turned the dial back,
    and the `Nearness` it has when somebody does (None each where there is none)."""

    damping_s: float
    recovers_s: float
    little_s: float
    recovers_with_little_s: float
    bound: tuple[float, float] | None
    bound_back: Nearness | None


@dataclass(frozen=True)
class SlowPart:
    """One thing that makes a loop slow: its name, its seconds at most, what it is shortened to, and the recovery after a door [s]
    then, with the fastest tuning that is safe (infinite: none is, or the flow is not back; both None: named, and not tried).

    settings: (group, name) of its lines of the settings schedule; brief: whether no shut door is then short for too long after a door,
    with the lags stated and in the far corner of its box, the loop as it is leaving one so (None: it does not, or that was not tried);
    short_s: for how long one is; mark: as `DoorTest.mark`.
    """

    name: str
    seconds: float
    little_s: float | None
    recovers_s: float | None
    settings: tuple[tuple[str, str], ...] = ()
    brief: bool | None = None
    short_s: float = 0.0
    mark: str = ""

    @property
    def text(self):
        """Its name and its time."""
        return f"{self.name} {time_text(self.seconds, 2)}"

    @property
    def mends(self):
        """Whether by itself, shortened, it leaves no door short for too long and the flow comes back."""
        return bool(self.brief) and math.isfinite(self.recovers_s)

    @property
    def first(self):
        """To sort by, which to shorten first: what mends it, then the one that brings the flow back soonest, of equals the longest."""
        return not self.mends, self.recovers_s is None, self.recovers_s, -self.seconds


@dataclass(frozen=True)
class Candidate:
    """One tuning tried.

    worst: `Nearness`, the least of each over the box; corner: where it is most sensitive; back: the same over the corners in which filter,
    damping or both are turned back (None where there is none to turn); nominal: `Nearness` of the nominal loop; borne: of
    (lag more, delay up to which it keeps what is asked, delay from which it swings) [s]; doors, far_doors: `DoorTest` of the
    nominal loop and of the one with the most lag and delay, `far`; ahead: whether its integral asks for more than the ramp gives;
    lacks: what it does not keep, in words.
    """

    name: str
    gain: float
    integral_s: float
    worst: Nearness
    corner: Corner
    back: Nearness | None
    nominal: Nearness
    borne: tuple[tuple[float, float, float], ...]
    doors: DoorTest
    far: Corner
    far_doors: DoorTest
    ahead: bool
    lacks: tuple[str, ...]

    gain_margin = property(lambda self: self.worst.gain_margin, doc="Minimum gain margin over the box.")
    phase_margin_deg = property(lambda self: self.worst.phase_margin_deg, doc="Minimum phase margin over the box [degrees].")
    peak_sensitivity = property(lambda self: self.worst.peak_sensitivity, doc="Largest peak sensitivity over the box.")

    @property
    def worst_doors(self):
        """`DoorTest`, the worse of the nominal loop and the far corner."""
        return DoorTest.worse(self.doors, self.far_doors)

    @property
    def safe(self):
        """Whether it keeps what is asked in every corner, comes to rest after a door, and does not run ahead of the ramp."""
        return not self.against

    @property
    def against(self):
        """Everything that speaks against it, in words."""
        told = [*self.lacks]
        told += ["its integral asks for more than the drive's ramp gives"] if self.ahead else []
        told += [] if self.doors.calm and self.far_doors.calm else ["half a minute after a door the reading still swings"]
        return tuple(told)

    @property
    def status(self):
        """Key of its status: "wrong" where a margin that is asked for is not kept or the reading swings, "attention" where only its
        integral asks for more than the ramp gives. What doors bear is no matter of the margins: see `doors`."""
        if self.safe:
            return "good"
        return "attention" if len(self.against) == 1 and self.ahead else "wrong"

    def row(self):
        """What came of it, a cell each: margins of the nominal loop and of the worst, seconds after a door, force, shortness."""
        doors, far, worst = self.doors, self.far_doors, self.worst_doors
        heavy = "no limit stated"
        if np.isfinite(worst.peak_force_n):
            heavy = f"{with_unit(worst.peak_force_n, 'force')}, {past_text(worst.above_limit_s)} above"
        times = [NO_TIME if not test.calm else seconds_text(seconds) for test in (doors, far) for seconds in (test.opens_s, test.shuts_s)]
        return (self.name, _gain_text(self.gain), time_text(self.integral_s, 2), _margins_text(self.nominal), _margins_text(self.worst),
                *times[:2], ", ".join(dict.fromkeys(times[2:]) if not far.calm else times[2:]),
                fine(worst.swing_pa), heavy, past_text(worst.short_s))  # fmt: skip

    def borne_text(self):
        """The delay it bears, in words."""
        return "; ".join(
            f"with {_more(lag)} it {keeps_text(keeps)}" + (f", and swings from {two(swings)} s on" if np.isfinite(swings) else "")
            for lag, keeps, swings in self.borne
        )


def asked_text(asked=ASKED):
    """What every corner must keep, in words."""
    return (
        f"a peak sensitivity of {asked.peak_sensitivity:g}, a gain margin of {asked.gain_margin:g} and a phase margin of "
        f"{asked.phase_margin_deg:g}°"
    )


def margin_text(margins):
    """A gain margin in words."""
    times = margins.gain_margin
    return f"more than {MOST_MARGIN:g}" if times > MOST_MARGIN else _of_margin(times, ASKED.gain_margin, 1, times < ASKED.gain_margin)


def peak_text(margins):
    """A peak sensitivity in words."""
    peak = margins.peak_sensitivity
    return _of_margin(peak, ASKED.peak_sensitivity, 2, peak > ASKED.peak_sensitivity)


def _of_margin(value, limit, digits, past):
    """A margin to so many digits; past its limit with as many as it takes not to be printed as that."""
    return number_beside(value, limit, digits) if past else f"{value:.{digits}f}"


def _margins_text(margins):
    if not margins.stable:
        return f"{NO_TIME} by itself"
    phase = _of_margin(margins.phase_margin_deg, ASKED.phase_margin_deg, 0, margins.phase_margin_deg < ASKED.phase_margin_deg)
    peak = peak_text(margins)
    return f"{margin_text(margins)}, {f'{phase}°' if np.isfinite(margins.phase_margin_deg) else 'no crossover'}, {peak}"


def numbers_text(tried):
    """Gain and integral time of a tuning, in words."""
    return f"gain {_gain_text(tried.gain)}, integral time {time_text(tried.integral_s, 2)}"


def _gain_text(gain):
    return f"{three(gain)} %/%" if gain < 1000 else f"{gain:.0f} %/%"


def _more(lag_s):
    return f"{two(lag_s)} s more lag" if lag_s else "the stated lags"


def keeps_text(seconds):
    """Up to which delay a tuning keeps what is asked, in words."""
    if seconds == 0:
        return "does not keep what is asked, however short the delay"
    return f"keeps what is asked up to a delay of {two(seconds)} s" if np.isfinite(seconds) else "keeps what is asked at every delay tried"


def candidates_of(box, bench, own, asked):
    """Try tunings. asked: {name: (gain, integral_s)}; own: `ControllerSettings` with all the rest. Returns {name: `Candidate`}."""
    numbers = [np.array(column) for column in zip(*asked.values(), strict=True)]
    settings = replace(own, gain=numbers[0], integral_s=numbers[1], derivative_s=0.0)
    if OWN in asked and np.any(own.derivative_s):
        settings = replace(settings, derivative_s=np.array([own.derivative_s if name == OWN else 0.0 for name in asked]))
    far = Corner(box.extra_lag_s[1], box.dead_time_s[1], False)
    tests, far_tests = bench.test(settings), bench.test_far(settings, far)
    return {
        name: _candidate(box, name, *pair, far, doors, far_doors)
        for (name, pair), doors, far_doors in zip(asked.items(), tests, far_tests, strict=True)
    }


def _candidate(box, name, gain, integral_s, far, doors, far_doors):
    worst, corner = box.worst(gain, integral_s)
    back = box.worst(gain, integral_s, box.turned_back)[0] if box.turned_back else None
    borne = tuple((lag, *box.dead_time_borne_s(gain, integral_s, lag)) for lag in dict.fromkeys(box.extra_lag_s))
    ahead = integral_s and integral_s / gain < box.ramp_asks_s
    return Candidate(name, gain, integral_s, worst, corner, back, box.nominal(gain, integral_s), borne, doors, far, far_doors, bool(ahead),
                     worst.lacks(box.asked))  # fmt: skip
