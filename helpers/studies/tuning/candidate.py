"""One tuning tried, what it was tried against and what it does not keep; what a filter makes of the fastest safe one; findings of it."""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from helpers.model.loop.ramps import SHORT_TIME, ramp_loads
from helpers.studies.duty.relief_damper import FixedSpeed
from helpers.studies.report import NETWORK, PRACTICE, Finding, fine, listed, time_text
from helpers.studies.status import status_of
from helpers.studies.tuning.box import ASKED, Corner, Nearness
from helpers.studies.tuning.door_tests import DoorTest, back_text, past_text, seconds_text
from helpers.units.said import with_unit

__all__ = ["BOX", "LONG_DAMPING_S", "SHORT_BORNE_S", "SIMC", "Candidate", "DampingPrice", "FilterPrice", "SlowPart", "asked_text",
           "findings_of", "helps_said", "least_bad_of", "numbers_text", "ramp_findings", "to_enter_text"]  # fmt: skip

SIMC = "SIMC, Skogestad 2003 (memory)"
LONG_DAMPING_S = 1.0  # from which on a damping is told of; ours
# Most time [s] after a door for which a slow loop may leave another door short, where the standard asks for no time; ours: a person is
# through a door in less.
SHORT_BORNE_S = 10.0
# Lines of the settings schedule that a tuning fills, and those of the drive's ramp.
TUNED = tuple(("loop", name) for name in ("gain", "or proportional band", "integral time", "or integral rate"))
RAMPS = ("fan", "ramp up"), ("fan", "ramp down")
BRAKED = RAMPS[1], ("fan", "brake")
BOX = "margins over the whole box, exact dead time"


class Helping(Protocol):
    """What is told of a thing that may help; `study.Remedy` is one."""

    @property
    def name(self) -> str: ...

    @property
    def doors(self) -> DoorTest | None: ...

    @property
    def air(self) -> FixedSpeed | None: ...

    @property
    def works(self) -> bool: ...

    @property
    def status(self) -> str: ...

    def how(self) -> str: ...

    def figure(self) -> str: ...


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

    settings: (group, name) of its lines of the settings schedule; short_s: how long after a door a shut one has less than its least then,
    None where that was not tried, as the loop leaves none short for too long as it is.
    """

    name: str
    seconds: float
    little_s: float | None
    recovers_s: float | None
    settings: tuple[tuple[str, str], ...] = ()
    short_s: float | None = None

    @property
    def mends(self):
        """Whether by itself, shortened, it leaves no door short for too long and the flow comes back."""
        return self.short_s is not None and self.short_s <= SHORT_BORNE_S and math.isfinite(self.recovers_s)

    @property
    def first(self):
        """To sort by, which to shorten first: what mends it, then the one that brings the flow back soonest, of equals the longest."""
        return not self.mends, self.recovers_s is None, self.recovers_s, -self.seconds


@dataclass(frozen=True)
class Candidate:
    """One tuning tried.

    worst: `Nearness`, the least of each over the box; corner: where it is most sensitive; back: the same over the corners in which filter,
    damping or both are turned back (None where there is none to turn); nominal: `Nearness` of the nominal loop; borne: of
    (lag more, dead time up to which it keeps what is asked, dead time from which it swings) [s]; doors, far_doors: `DoorTest` of the
    nominal loop and of the one with the most lag and dead time, `far`; ahead: whether its integral asks for more than the ramp gives;
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

    gain_margin = property(lambda self: self.worst.gain_margin, doc="Least gain margin over the box.")
    phase_margin_deg = property(lambda self: self.worst.phase_margin_deg, doc="Least phase margin over the box [degrees].")
    peak_sensitivity = property(lambda self: self.worst.peak_sensitivity, doc="Largest peak sensitivity over the box.")

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

    def borne_text(self):
        """The dead time it bears, in words."""
        return "; ".join(
            f"with {_more(lag)} it {_keeps(keeps)}" + (f", and swings from {swings:.2g} s on" if np.isfinite(swings) else "")
            for lag, keeps, swings in self.borne
        )


def asked_text(asked=ASKED):
    """What every corner must keep, in words."""
    return (
        f"a peak sensitivity of {asked.peak_sensitivity:g}, a gain margin of {asked.gain_margin:g} and a phase margin of "
        f"{asked.phase_margin_deg:g}°"
    )


def numbers_text(tried):
    """Gain and integral time of a tuning, in words."""
    return f"gain {tried.gain:.2g} %/%, integral time {time_text(tried.integral_s, 2)}"


def to_enter_text(study, tried, first=""):
    """A tuning as a remedy, in words, what speaks against it before its figures.

    tried: `Candidate` of a `TuningStudy`; first: what has to be laid down before any tuning is entered ("" for nothing). One that leaves a
    door past its limit after another has moved is not to be entered either, before that is mended.
    """
    heavy = study.against(tried)
    first = first or ("first what helps after a door" if heavy else "")
    caution, beside = f"do not enter, {first}: " if first else "", f"; with it {heavy}" if heavy else ""
    return f"{caution}{numbers_text(tried)}{beside}"


def _more(lag_s):
    return f"{lag_s:.2g} s more lag" if lag_s else "the stated lags"


def _keeps(seconds):
    if seconds == 0:
        return "does not keep what is asked, however short the dead time"
    return (
        f"keeps what is asked up to a dead time of {seconds:.2g} s"
        if np.isfinite(seconds)
        else "keeps what is asked at every dead time tried"
    )


_UNTRIED = "door contacts, a relief damper, a faster ramp or lighter closers: to be tried"


def findings_of(study, first=""):
    """What is wrong with the tuning or the drive of a `TuningStudy`, and what is in order; first: as `to_enter_text`."""
    if study.cannot:
        yield Finding("wrong", "No tuning can help", "", study.cannot, NETWORK, "mend that first; then tune")
        return
    if study.unheld:
        figure = f"set point not held in {listed(study.unheld)}"
        why = "at an end of its speed a loop does nothing, and a door test shows nothing"
        yield Finding("attention", "The tuning was tried where the fan does not hold, too", figure, why, NETWORK, "see the fan to buy")
    enter = "" if study.recommended is None else to_enter_text(study, study.recommended, first)
    yield from _own(study, enter)
    yield from _recovery(study)
    yield from _forces(study)
    yield from _slow(study)
    yield from _damping(study)
    yield from _ramps(study, enter)
    if study.recommended is None:
        helps = "a shorter filter, a quicker transmitter, a wider span"
        yield Finding("wrong", "No safe tuning was found", "", study.why_none, BOX, helps)


def _own(study, enter):
    own, best, back = study.own, study.recommended, back_text(study.own.doors.slowest_s)
    peak = f"{own.peak_sensitivity:.2f}" if own.worst.stable else "without limit"
    figure = f"least gain margin {own.gain_margin:.1f}, peak sensitivity {peak} over the box; after a door {back}"
    if not own.safe:
        what = "keeps too little margin in the box" if own.worst.stable else "is too lively"
        yield Finding(own.status, f"The site's own tuning {what}", figure, f"{listed(own.against)} ({own.corner.text()})", BOX, enter)
    elif not np.isfinite(own.doors.slowest_s) or (best and own.doors.slowest_s > 2 * best.doors.slowest_s):
        why, entered = "doors stay heavy, or smoke may pass, for longer than need be", best and numbers_text(best) == numbers_text(own)
        remedy = f"no faster tuning is safe; shorten {study.slow_remedy()}" if entered and study.slow else enter
        yield Finding("attention", "The site's own tuning is sluggish", figure, why, NETWORK, remedy)
    else:
        yield Finding("good", "The site's own tuning keeps its margins in the whole box", figure)


def _recovery(study):
    """Held against the time that the site's own standard asks for. Where it asks for none there is nothing to pass: only a flow that does
    not come back at all is told."""
    best, asked = study.recommended or study.own, study.response_s
    doors = best.doors if asked is None else DoorTest.worse(best.doors, best.far_doors)  # a time asked for has to be kept at any lag
    opens, shuts, alone = map(seconds_text, (doors.opens_s, doors.shuts_s, study.ramp_alone.slowest_s))
    figure, source = f"{opens} and {shuts}, ramp alone {alone}", study.criteria.response.said
    if study.criteria.response.blank:
        yield Finding("open", "Recovery after a door has no figure to be held against", figure, study.time_asked(), source)
    elif not doors.quick:
        late = seconds_text(np.nan) if asked is None else f"not within {asked:g} s"
        why = "the drive's ramp alone forbids it" if study.ramp_forbids else "a loop that is safe in the whole box is slower than that"
        rows = (*TUNED, *RAMPS) if study.ramp_forbids else TUNED
        yield Finding("attention" if asked is None else "wrong", f"The flow is not back in time after a door: {late}", figure, why, source,
                      helps_said(study), settings=rows)  # fmt: skip
    elif asked is not None:
        yield Finding("good", f"The flow is back within {asked:g} s of a door event", figure, "", source)


def least_bad_of(remedies):
    """Of remedies of which none works the one that leaves a door too heavy for the shortest time; None where one works, or none holds."""
    if any(one.works for one in remedies):
        return None
    tried = [one for one in remedies if one.doors and (one.air is None or one.air.holds)]
    return min(tried, key=lambda one: (one.doors.above_limit_s, one.doors.slowest_s), default=None)


def helps_said(study):
    """The remedies that work; else the one that leaves a door too heavy for the shortest time, said to be the least bad."""
    works = [f"{remedy.name}: {remedy.how()}" for remedy in study.remedies if remedy.works]
    if works:
        return "; ".join(works)
    best = least_bad_of(study.remedies)
    if best is None:
        return _UNTRIED if not study.remedies else "none of those tried"
    heavy = best.doors.above_limit_s
    left = f"a door is still too heavy for {past_text(heavy)}" if heavy else back_text(best.doors.slowest_s)
    return f"nothing that was tried is enough; the least bad: {best.name} ({left})"


def _forces(study):
    if study.force_limit_n is None:
        return
    best, alone = study.recommended or study.own, study.ramp_alone
    doors = DoorTest.worse(best.doors, best.far_doors)
    peak, limit = (with_unit(force, "force") for force in (doors.peak_force_n, study.force_limit_n))
    whose = "the proposed tuning" if study.recommended else "the site's own tuning"
    figure = (
        f"{peak} at a handle, limit {limit}, {past_text(doors.above_limit_s)} above it, with {whose}, in the worst weather and warmth of "
        "the stair and the far corner of the box"
    )
    if doors.light:
        yield Finding("good", "No door is too heavy when the door shuts", figure)
    else:
        why = "the fan still runs as fast as the open door asked for"
        if not alone.light:
            still = f"a drive sent there at once, by its ramp alone, leaves one too heavy for {past_text(alone.above_limit_s)}"
            why = f"{why}; no tuning cures it: {still}"
        rows = TUNED if alone.light else (*TUNED, RAMPS[1])
        yield Finding("wrong", "When the door shuts, another one is too heavy for a while", figure, why, NETWORK, helps_said(study),
                      settings=rows)  # fmt: skip
    resting, (most, least) = study.at_rest[0], study.while_open
    if status_of(resting, study.force_limit_n) == "wrong":
        yield Finding("wrong", "With all doors shut and the loop at rest a door is too heavy",
                      f"{with_unit(resting, 'force')} at a handle, limit {limit}", "no tuning cures it", NETWORK,
                      "a rule and set point that works, where the rules name one; no other remedy tried",
                      settings=(("loop", "set point"),))  # fmt: skip
    if status_of(most, study.force_limit_n) == "wrong":
        figure = f"{with_unit(most, 'force')} at a handle, limit {limit}; the lightest shut door at {fine(least)}"
        yield Finding("wrong", "While the door stands open, another one is too heavy", figure,
                      "the loop at rest holds its reading so: no tuning cures it", NETWORK,
                      "no remedy tried: a lower set point then takes air from the lightest shut door as well",
                      settings=(("loop", "set point"),))  # fmt: skip


def _slow(study):
    """Parts that make the loop slow, one by one."""
    if study.slow:
        parts = listed(f"{part.name} {part.seconds:.2g} s" for part in study.slow)
        figure, at_fault = "; ".join(filter(None, (parts, study.short_said))), study.slow[:1] if study.slow_mended else study.slow
        rows = (*TUNED, *(row for part in at_fault for row in part.settings))
        yield Finding(study.slow_state, "The loop is slow", figure, study.slow_said(), NETWORK, study.slow_remedy(), settings=rows)


def _damping(study):
    """A damping long enough to cost time."""
    price = study.damping
    if price is not None:
        yield Finding("attention", "The damping at the transmitters' dial is long", f"{price.damping_s:g} s", study.damping_said(), NETWORK,
                      f"{price.little_s:g} s at the dial, and the tuning for it; gusts are the filter's work")  # fmt: skip


def _ramps(study, enter):
    """A ramp down that the wheel does not follow, and an integral that runs ahead of the ramp."""
    if study.bench is not None:
        yield from ramp_findings(study.bench.site)
    down = study.ramp_down
    if down is not None and down.safe is False:
        figure = f"{down.own_s:g} s as the site has it, {down.shortest_s.high:.0f} s needed"
        why = "without a brake the drive stretches the ramp or trips on its bus voltage, in smoke control too"
        helps = f"a brake resistor, or a ramp down of {down.shortest_s.high:.0f} s with the doors judged by it"
        yield Finding("wrong" if down.too_fast else "attention", "The ramp down is quicker than the air brakes the wheel", figure,
                      f"{why}. {' '.join(down.sentences)}", down.shortest_s.source, helps, settings=BRAKED)  # fmt: skip
    if study.own.ahead:
        ratio, bears = study.own.integral_s / study.own.gain, study.box.ramp_asks_s
        why = (
            f"while a door takes all pressure away the integral alone asks for {bears / ratio:.1f} times what the ramp gives, and comes "
            "back late where the drive does not stop it at the ramp"
        )
        yield Finding("attention", "The site's integral is faster than the drive's ramp",
                      f"integral time over gain {ratio:.2g} s, the ramp bears {bears:.2g} s", why, "arithmetic", enter)  # fmt: skip


def ramp_findings(site):
    """Of a site of any plant: a ramp up that the motor cannot follow, or may not; a ramp down that asks too much of the resistor."""
    loads = ramp_loads(site.fan, site.control.fire_mode)
    source = f"{loads.wheel_nm.source}; {SHORT_TIME * 100:.0f} % of the plate {PRACTICE}"
    if loads.up_state != "good":
        enough = loads.enough_s.high
        helps = f"a ramp up of {np.ceil(enough):.0f} s, or a larger motor" if np.isfinite(enough) else "a larger motor"
        late = "cannot follow" if loads.up_state == "wrong" else "may not follow to the top"
        yield Finding(loads.up_state, f"The ramp up is one that the motor {late}", f"{loads.up_s:g} s {loads.up_said}",
                      "the drive holds its current and comes up late, or trips; the loop is tuned for the ramp as entered", source,
                      f"{helps}, with the tuning found anew; see on site how long it takes", settings=RAMPS[:1])  # fmt: skip
    if loads.down_state != "good":
        why = f"the plate says {with_unit(loads.plate_w, 'power', 1)}; what resistor and drive bear is not stated: too much trips the drive"
        what = "The brake resistor may have to take more than the motor's rated power"
        yield Finding(loads.down_state, what, loads.down_said, why, source,
                      "drive and resistor for these figures, off their data sheets; or a longer ramp down", settings=BRAKED)  # fmt: skip
