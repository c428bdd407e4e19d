"""How fast a fan may turn: no faster than its site file lets it, and above the speed of its curve no faster than its maker permits.

What wheel, shaft and bearings bear no model here knows. For record, schedule, check list and review alike. Beside it the speed that the
doors bear, which a speed set by hand is held against.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from helpers.model.air.tower import Tower
from helpers.model.files import texts
from helpers.studies.cases import Same, conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.full_speed import SHOWN_HZ, WALLS_TRIED, DrivenDoors, highest
from helpers.studies.duty.relief_damper import STUCK_SHUT, blades, stuck_shut
from helpers.studies.report import PRACTICE, SITE_FILE, Finding, limit_text
from helpers.studies.status import word_of
from helpers.units.said import with_unit

NOT_OF_A_DOUBTED_FIT = (
    "none: this building is of a test day whose readings do not fit one building; read again, and until then work from the site file "
    "before it"
)
ASK = "the fan's permissible speed off its data sheet, for wheel, shaft and bearings"
STRESS = "stress in a turning wheel: by the square of its speed (mechanics)"
IN_ALL = "in every weather of the site file"
_CEILING = texts("on_site")["ceiling"]
COUNTS = _CEILING["counts"]  # beside every figure of a file as drawn
LOWER_NOTE = _CEILING["lower_note"]  # beside the blank of `Ceiling.keyed_said`
_FASTER = "The drive may run the fan faster than its curve stands for"


def faster_said(curve_hz, speed_hz):
    """By how much a speed [Hz] is above that of the fan's curve, and what it does to the wheel, in words; "" where it is not above.

    Equation: stress / stress at the curve's speed = (n / n_curve)^2. Source: mechanics of a turning ring.
    Limits: of one wheel, cold; a wheel may have been permitted less than its curve's speed, which its data sheet says too.
    """
    share = speed_hz / curve_hz
    if share <= 1:
        return ""
    return f"{100 * (share - 1):.0f} % above the {curve_hz:g} Hz of its curve, {100 * (share**2 - 1):.0f} % more stress in the wheel"


def check_said(curve_hz, speed_hz):
    """The same with its status and what to ask for, of a line that enters the speed or keeps the fan; "" where it is not above."""
    faster = faster_said(curve_hz, speed_hz)
    return f"{word_of('attention')}: {speed_hz:g} Hz is {faster}: first {ASK}" if faster else ""


def permissible_speed(fan, speed_hz=None):
    """That a `Fan` may be run faster than its curve stands for, by the speed entered [Hz] or by the file's own highest: a `Finding`, or
    none."""
    entered = fan.highest_speed_hz if speed_hz is None else speed_hz
    if faster := faster_said(fan.reference_speed_hz, entered):
        why = "no model here knows what its wheel, shaft and bearings bear, and one that bursts ends all in a fire"
        remedy = f"{ASK}: not below {entered:g} Hz, in the maker's word, before it is entered; a lower highest speed was not tried"
        yield Finding("attention", _FASTER, f"{entered:g} Hz, {faster}", why, f"{STRESS}; {PRACTICE}", remedy)


def speed_entered(fan, entered_hz, smoke_control):
    """What is found on a highest speed [Hz] entered in the drive of a site whose file states a `Fan`, in or out of smoke control: past the
    file's own one, else above the speed of the curve. Yields `Finding`s."""
    own_hz = fan.speed_limits_hz(smoke_control)[1]
    if entered_hz <= own_hz:
        yield from permissible_speed(fan, entered_hz)
        return
    stated = f"the site file states {own_hz:g} Hz{' in smoke control' * (own_hz < fan.highest_speed_hz)}"
    drive = f", {fan.highest_speed_hz:g} Hz for the drive" * (own_hz < fan.highest_speed_hz)
    faster = faster_said(fan.reference_speed_hz, entered_hz)
    burst = f"; {ASK}, is not known here" * bool(faster)
    yield Finding(
        "wrong", "The highest speed that is entered is beyond the site's own",
        f"{entered_hz:g} Hz; {'; '.join(filter(None, (stated + drive, faster)))}",
        f"fallback, alarms, doors and motor of the record hold up to the site's own{burst}", SITE_FILE,
        f"the site's own {own_hz:g} Hz, as its record judges it; a faster one first into the site file, and the record made anew",
    )  # fmt: skip


@dataclass(frozen=True)
class Ceiling:
    """The least of the speeds [Hz] that every shut door bears, in every weather of the site file, all of them tried with walls tighter and
    looser than the file's: hz (NaN: no speed of the drive); full_hz: the highest in smoke control; stuck: whether it is the one with the
    relief damper stuck shut; damper: whether there is one; door: that stops it, "" where none does; met: under which condition it does, in
    words; closes_hz, closes_door, closes_met: the same of the closing of final exits (infinite: each closes again at every speed); brief,
    closes_brief: the two conditions where a line has to do, all doors shut; at_full: (door in words, pressure [Pa], its limit [Pa],
    condition) that is furthest past its limit at full_hz, () where none is; doubted: whether there is none because the building is of a
    fit that is not believed; measured: of which test day the building is, "" for the file as drawn."""

    hz: float
    full_hz: float
    stuck: bool
    damper: bool
    door: str
    met: str = ""
    closes_hz: float = np.inf
    closes_door: str = ""
    closes_met: str = ""
    brief: str = ""
    closes_brief: str = ""
    at_full: tuple = ()
    doubted: bool = False
    measured: str = ""

    @property
    def lowest_hz(self):
        """The lower of the two: no shut door is past its limit and every final exit closes again; NaN for no speed of the drive."""
        return float(np.minimum(self.hz, self.closes_hz))

    @property
    def lower(self):
        """Whether it is lower than the highest speed in smoke control, or none."""
        return not self.hz >= self.full_hz

    def passed_by(self, speed_hz):
        """Whether a speed [Hz] is above it by more than its last figure."""
        return not speed_hz <= self.hz + SHOWN_HZ / 2

    @property
    def said(self):
        """The ceiling and what it stands on, in words."""
        if self.doubted:
            return NOT_OF_A_DOUBTED_FIT
        if np.isnan(self.hz):
            return f"none: {self.door} is past its limit at the lowest speed of this drive{f', {self.met}' * bool(self.met)}"
        with_it = f" and the {STUCK_SHUT}" * self.damper
        tried = f"tried with walls that leak {min(WALLS_TRIED):.2f} to {max(WALLS_TRIED):.2f} times the file's{with_it}"
        return f"{self.hz:.1f} Hz {IN_ALL}, {tried}; {self.stops_said(self.met, self.closes_met)}"

    @property
    def short(self):
        """The same without what was tried: never a figure without the door, the weather, the walls and the damper that make it."""
        if np.isnan(self.hz):
            return self.said if self.doubted else f"no speed of this drive, {self.said}"
        return f"{self.hz:.1f} Hz in the file's weathers; {self.stops_said(self.brief, self.closes_brief)}"

    @property
    def both_said(self):
        """Its two speeds for a hand on the switch, the lower first, each with what lies above it, in words."""
        if self.doubted:
            return self.said
        if np.isnan(self.hz):
            return f"no speed of this drive: {self.door} is past its limit at the lowest"
        top = (
            f"{self.hz:.1f} Hz: never above, {self.door} past its limit" if self.door else f"{self.hz:.1f} Hz: the highest in smoke control"
        )
        if not self.exit_first:
            return top
        from_hz = "at any speed" if np.isnan(self.closes_hz) else f"{self.closes_hz:.1f} Hz: above it"
        return f"{from_hz} {self.closes_door} may stay ajar (stop there unless it is watched); {top}"

    @property
    def by_hand_hz(self):
        """Up to where the fan is run by hand with nobody at a final exit [Hz]: where one may stay ajar at every speed, and is watched, the
        ceiling; NaN for no speed."""
        return self.hz if np.isnan(self.closes_hz) or not self.exit_first else self.closes_hz

    @property
    def by_hand_said(self):
        """Up to where the fan is run by hand, in words; "" for no speed."""
        if np.isnan(self.hz):
            return ""
        top = f"{self.hz:.1f} Hz at most"
        if not self.exit_first:
            return top
        if np.isnan(self.closes_hz):
            return f"only with {self.closes_door} watched, to {top}"
        return f"{self.closes_hz:.1f} Hz, with {self.closes_door} watched to {top}"

    @property
    def keyed_said(self):
        """The figure that a hand keys into the drive, in words: of a file as drawn the lower of its own and of the building as measured,
        with a blank for that one, since nobody keys in the higher of two."""
        if np.isnan(self.hz):
            return "no speed of this drive"
        drawn = with_unit(self.hz, "frequency", 1)
        return drawn if self.measured else _CEILING["lower"].format(drawn=drawn)

    @property
    def as_drawn_said(self):
        """That it is of the file as drawn and what counts once the building was measured, with blanks for it, in a sentence; "" where it
        was, or for none."""
        if self.measured or np.isnan(self.hz):
            return ""
        ajar = f", {self.closes_door} watched above ____ Hz" * self.exit_first
        return f"{self.hz:.1f} Hz by the file as drawn; {COUNTS}: ____ Hz{ajar}."

    @property
    def by_hand_blank(self):
        """Beside `by_hand_said` of a file as drawn: blanks for the building as measured, where that bears less; "" where it was, or for
        none."""
        if self.measured or np.isnan(self.hz):
            return ""
        return f" (page 18's where lower: ____ Hz{', watched to ____ Hz' * (self.exit_first and not np.isnan(self.closes_hz))})"

    @property
    def measured_blank(self):
        """Beside the ceiling of a file as drawn, or a manual speed below it: a blank for that of the building as measured; "" where it
        was, or for none."""
        return "" if self.measured or np.isnan(self.hz) else " (page 18's where lower: ____ Hz)"

    @property
    def full_said(self):
        """What the highest speed in smoke control does to the door that is worst off at it, in words; "" where none is past its limit."""
        if not self.at_full:
            return ""
        door, dp_pa, limit_pa, met = self.at_full
        limit = limit_text(limit_pa, "pressure", "most" if limit_pa > 0 else "least")
        return f"{door} at up to {with_unit(dp_pa, 'pressure')}, limit {limit} ({met})"

    @property
    def full_brief(self):
        """The same without the limit; "" where none is past its limit."""
        met = self.at_full[3].replace(STUCK_SHUT, "damper stuck") if self.at_full else ""
        return f"{self.at_full[0]}: {with_unit(self.at_full[1], 'pressure')}, {met}" if self.at_full else ""

    @property
    def exit_first(self):
        """Whether a final exit may stay ajar at a speed below the ceiling."""
        return not self.closes_hz >= min(self.hz, self.full_hz)

    def stops_said(self, met, closes_met):
        """What stops it under which condition, and above which speed below it a final exit may stand ajar, in words."""
        where = f" ({met})" * bool(met)
        stops = f"above it {self.door} is past its limit{where}" if self.door else "the highest in smoke control"
        return "; ".join(filter(None, (stops, self.closes_said(closes_met))))

    def closes_said(self, met):
        """Above which speed below the ceiling a final exit may stand ajar, in words; "" for none."""
        if not self.exit_first:
            return ""
        above = "at any speed of this drive" if np.isnan(self.closes_hz) else f"already above {self.closes_hz:.1f} Hz"
        until = "speed down until it shuts by itself, nobody pulls it against the air"
        return f"{above} {self.closes_door} may stay ajar ({met}): {until}"


def ceiling_of(site):
    """The `Ceiling` of a site: all doors shut, in every weather and at every stair temperature of its usual cases, so whatever the day's
    weather is. For sheets, procedure, fault bench and fitted day alike; of one closing function with the record's `FullSpeed`. A building
    of a fit that is not believed has none (hz NaN): a door ajar makes it higher than it is. Limits: steady air."""
    ceiling = replace(_borne(Same(site))[1], measured=site.leakage.factors_from or "")
    if site.leakage.doubted:
        return replace(ceiling, hz=np.nan, door="", met="", closes_hz=np.inf, closes_door="", closes_met="", doubted=True)
    return ceiling


def borne_hz(site):
    """Highest speed [Hz] of smoke control at which no shut door passes its limit, NaN where no speed is. All doors shut, as `full_speed`
    has it, with walls tighter and looser than the file's and a relief damper's blade that lifts late.
    """
    return _borne(Same(site))[0]


@lru_cache(maxsize=16)
def _borne(same):
    site = same.given
    tower, window = Tower(site), pressure_window(site)
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    shut = conditions_of(site, cases)
    walls = shut.rows(np.tile(np.arange(len(shut)), len(WALLS_TRIED)))
    walls.leak_factor = walls.leak_factor * np.repeat(WALLS_TRIED, len(shut))[:, None]
    late = dict(enumerate(blades(tower, shut))).get(1, ("", tower))[1]
    doors, ends = DrivenDoors(tower, window), site.fan.speed_limits_hz(site.control.fire_mode)
    safe = highest(late, doors.worst, walls, *ends)
    stuck = stuck_shut(tower)  # of several dampers each in turn
    tried = [
        *((highest(one, doors.worst, walls, *ends), name) for name, one in stuck),
        (safe, ""),
    ]  # of two alike the stuck one
    (least, where), name = min(tried, key=lambda one: -np.inf if np.isnan(one[0][0]) else one[0][0])
    name = "" if np.isnan(least) else name

    def met(where, name):
        """(door, condition, the same in brief) that stop a speed, in words."""
        if where is None:
            return "", "", ""
        leak, case = WALLS_TRIED[where[0] // len(cases)], cases[where[0] % len(cases)]
        stuck = f"the {name}, " * bool(name)
        return (doors.said(where[1]), f"{stuck}walls that leak {leak:.2f} times the file's, {case.name}",
                f"{f'{name}, ' * bool(name)}{case.weather}{', leaky walls' * (leak > 1)}{', tight walls' * (leak < 1)}")  # fmt: skip

    ajar = [(*highest(one, doors.closing, walls, *ends), name) for name, one in (("", late), *stuck)]
    closes, at, with_it = min(ajar, key=lambda one: np.inf if one[1] is None else -np.inf if np.isnan(one[0]) else one[0])
    closes = np.inf if at is None else closes
    at_full = min((_furthest(one, doors, walls, ends[1], name) for name, one in (("", late), *stuck)), key=lambda one: one[0])
    at_full = () if at_full[0] >= 0 else (*at_full[1:4], met(at_full[4], at_full[5])[2])
    (door, under, brief), (exit_door, exit_under, exit_brief) = met(where, name), met(at, with_it)
    return safe[0], Ceiling(
        least, float(ends[1]), bool(name), bool(stuck), door, under, closes, exit_door, exit_under, brief, exit_brief, at_full
    )


def _furthest(tower, doors, walls, speed_hz, name):
    """(room [Pa], door in words, pressure, limit [Pa], (condition, number of the door), name) that is worst off at a speed [Hz]."""
    room, dp_pa, limit_pa, number = doors.worst(tower.solve(walls, speed_hz), walls)
    place = int(np.argmin(room))
    where = place, int(number[place])
    return float(room[place]), doors.said(where[1]), float(dp_pa[place]), float(limit_pa[place]), where, name
