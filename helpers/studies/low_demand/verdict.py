"""What a low-demand rule comes to in the offices' night, in words: never stops, cycles, right, and what else can go wrong; and its price.

In smoke control there is nothing to judge: the workbook refuses the stop. A real drive may take the entry, and that is told.
"""

import math
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, combinations

import numpy as np

from helpers import units
from helpers.formulas import fan as fans
from helpers.formulas import low_demand as low_demands
from helpers.formulas import signals
from helpers.formulas.low_demand import LowDemandRule, Starts
from helpers.model.air.conditions import Conditions
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3
from helpers.model.air.tower import Tower
from helpers.model.loop.run import Setup, run_loop
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.low_demand.night import DAY, EVENING, NEVER, NIGHT, SERVED_SHARE, Night, courses_of, mill_street, part_of, play
from helpers.studies.low_demand.study import ACROSS, FireMode
from helpers.studies.report import apart, listed
from helpers.units.said import with_unit

MARGIN_HZ = 1.0  # to both ends of the window; ours
LONG_WAIT_S = 1800.0  # in the morning, at worst: longer without air brings somebody to the telephone; ours
NIGHTS, NIGHT_H = 365, 9.0  # a year's nights, and hours of one without demand

A_REAL_DRIVE = (
    "This workbook refuses the entry. A real drive may accept it: prove at handover, with the fire signal on, that it cannot stop the fan."
)
_SAID = {
    "never stops": "Never stops: no air is asked for, but the loop holds the set point and the fan idles at {idle}, not below {threshold}.",
    "cycles": "Cycles while air is asked for: the evening's duty runs at {duty}, below {threshold}, so the stop cuts it off.",
    "stays off": "Stays off: a stopped fan's reading falls to nothing and no lower, so a reading under {restart} never comes.",
    "never gets going": "Never gets going: coming up to {threshold} takes longer than the stop delay, so every start is cut off.",
    "edge of restart": "A stopped fan's reading falls to nothing, give or take {error} of the transmitters: a reading under {restart} may "
    "never come.",
    "too many starts": "The threshold is right, the waits are not: seconds after a stop the pressure is gone and calls for a start.",
    "close": "Stops at night and not in the evening, but {threshold} is nearer than {margin} to {end}. {moved}",
    "long wait": "Good for the motor, but in the morning the rooms may wait {worst} for their air at worst: the restart delay of {wait}, "
    "the fall of the pressure and the fan's run-up; more than {most} is looked at here, a limit of ours. In this night it is {short}.",
    "right": "Right: stops when nobody asks for air, runs when somebody does. In the morning the air comes {worst} late at worst, at most "
    "{most} here, a limit of ours; {short} in this night. Those who come first have to agree to it.",
}  # fmt: skip
_MOVED = {  # what brings a speed to a threshold that is near it
    "the idle speed": "A new leak brings that speed up to it, and the fan never stops.",
    "the evening's duty": "Fewer boxes open, a tighter duct or a lower set point bring that speed down to it: the stop cuts people off.",
}
# Right is no PASS: those who come first have to agree to the worst morning before it is entered.
_KINDS = {"right": "attention", "edge of restart": "attention", "close": "attention", "long wait": "attention"}


@dataclass(frozen=True)
class Judged:
    """word: which of the cases it is; kind: "good", "attention" or "wrong"; ends_hz: the speed the fan idles at and its lowest duty;
    night, plain: `Night` with the stop and without; allowed: `Starts` of the motor across the line; opening: of the boxes at night."""

    word: str
    kind: str
    rule: LowDemandRule
    ends_hz: tuple
    set_point_pa: float
    night: Night
    plain: Night
    allowed: Starts
    opening: float

    @property
    def starts_per_hour(self):
        """Most starts an hour of evening and night, or of the morning where the fan never gets going."""
        parts = (EVENING, NIGHT, DAY) if self.word == "never gets going" else (EVENING, NIGHT)
        return max(self.night.starts_per_hour(part) for part in parts)

    @property
    def saved_kwh(self):
        """In a year of nights [kWh]."""
        hours = NIGHTS * NIGHT_H
        return (_kwh_an_hour(self.plain) - _kwh_an_hour(self.night)) * hours

    @property
    def worst_morning_s(self):
        """For how long the rooms may be short of pressure in the morning at worst [s]: the fan stops just as the first come, its reading
        falls, the restart delay runs, and the fan comes up against open boxes."""
        courses = courses_of()[self.opening]
        under = self.set_point_pa - self.rule.restart_error
        falls = max(np.count_nonzero(courses.down[part].reading_pa >= under) for part in (NIGHT, DAY))
        rises = np.count_nonzero(courses.up[DAY].reading_pa < SERVED_SHARE * self.set_point_pa)
        return self.rule.restart_after_s + (falls + rises) * courses.sample_s

    @property
    def night_w(self):
        """Mean power of the night with the stop and without [W]."""
        return tuple(1000 * _kwh_an_hour(night) for night in (self.night, self.plain))

    def starts_beside_limit(self):
        """Starts an hour and what the motor may make, in words; with more digits where they would read alike."""
        figures = self.starts_per_hour, float(self.allowed.per_hour)
        texts = [tuple(f"{figure:.{digits}f}" for figure in figures) for digits in (1, 2, 3)]
        return next((text for text in texts if text[0] != text[1]), texts[0])

    def says(self):
        """The case, then the price, in plain words."""
        rule = self.rule
        figures = {
            "idle": hertz(self.ends_hz[0]),
            "duty": hertz(self.ends_hz[1]),
            "threshold": hertz(rule.stop_below_hz),
            "restart": restart_said(rule),
            "margin": hertz(MARGIN_HZ),
            "wait": minutes(rule.restart_after_s),
            "worst": self._late_said(),
            "most": minutes(LONG_WAIT_S),
            "short": minutes(self.night.short_s[DAY]),
            "error": with_unit(reading_error_pa(), "pressure"),
            "end": self._end_nearby(),
            "moved": _MOVED[self._end_nearby().partition(",")[0]],
        }
        case = " ".join([_SAID[self.word].format(**figures), *self._window()])
        return "\n".join([case, " ".join([self._starts(), self._short()]), self._energy()])

    def headline(self):
        """The verdict in one sentence of a panel, what decides first."""
        rule, idle, duty = self.rule, *map(hertz, self.ends_hz)
        late = self._late_said()
        return {
            "never stops": f"Never stops: the fan idles at {idle}, not below {hertz(rule.stop_below_hz)}",
            "cycles": f"Cycles with people there: duty {duty} lies below {hertz(rule.stop_below_hz)}",
            "stays off": f"Stays off: a reading under {restart_said(rule)} never comes",
            "edge of restart": f"May stay off: the transmitters' error alone reaches {restart_said(rule)}",
            "never gets going": "Never gets going: every start is cut off again",
            "too many starts": "{} starts an hour, at most {} {}".format(*self.starts_beside_limit(), ACROSS),
            "close": f"{hertz(rule.stop_below_hz)} is nearer than {hertz(MARGIN_HZ)} to {self._end_nearby()}",
            "long wait": f"In the morning air {late} late at worst, max. {minutes(LONG_WAIT_S)}",
            "right": f"Stops when nobody asks; mornings {late} late at worst",
        }[self.word]

    def to_do(self):
        """The fewest settings that make the night right, played through it; where it is right, and where none do, whom to ask."""
        if self.word == "right":
            return f"Ask: those who come first; enter this only once {self._late_said()} late is agreed"
        own, rule = own_rule(), self.rule
        middle = round(sum(low_demands.threshold_window(*self.ends_hz, MARGIN_HZ)), 0) / 2
        tried = (
            ("stop_below_hz", middle, "stop below", hertz(middle)),
            ("restart_error", own.restart_error, "restart under", restart_said(own)),
            ("stop_after_s", own.stop_after_s, "stop delay", minutes(own.stop_after_s)),
            ("restart_after_s", own.restart_after_s, "restart delay", minutes(own.restart_after_s)),
        )
        other = [one for one in tried if one[1] != getattr(rule, one[0])]
        for some in chain(combinations(other, 1), combinations(other, 2)):
            if judge(self.opening, rule._replace(**{name: value for name, value, *_ in some})).word == "right":
                together = "" if len(some) == 1 else ", together"
                return f"Do: {listed([f'{what} {said}' for *_, what, said in some])}{together}, tried in this night"
        if judge(self.opening, own).word == "right":
            return "Do: the site file's own settings, all of them, tried in this night"
        return "Ask: who shuts the boxes at night; no two settings of the stop mend this"

    def tiles(self):
        """(what, value, limit) of threshold, starts and the worst morning: a dash where the fan would not come back in its time."""
        low, high = low_demands.threshold_window(*self.ends_hz, MARGIN_HZ)
        stop, ends = self.rule.stop_below_hz, {one: with_unit(one, "frequency") for one in (low, high)}
        near = min(ends, key=lambda one: abs(one - stop))
        stop, ends[near] = apart((stop, near), "frequency", "least" if near == low else "most")
        window = f"{ends[low].removesuffix(' Hz')} to {ends[high]}" if low < high else "none is right"
        starts, most = self.starts_beside_limit()
        comes = self.word in ("right", "close", "long wait")
        return (
            ("Stop below", stop, window),
            ("Starts an hour", starts, f"max. {most} {ACROSS}"),
            (
                f"Air late, worst morning; picture {minutes(self.night.short_s[DAY])}",
                self._late_said() if comes else "–",
                f"max. {minutes(LONG_WAIT_S)}",
            ),
        )

    def _late_said(self):
        """The worst morning, never shorter than it is, and to a tenth where it would read as the limit it keeps."""
        late = self.worst_morning_s
        if late <= LONG_WAIT_S and at_worst(late) == minutes(LONG_WAIT_S):
            return f"{math.ceil(late / 6) / 10:.1f} min"
        return at_worst(late)

    def _end_nearby(self):
        """The speed that the threshold is nearer to, in words."""
        idle, duty = self.ends_hz
        near_idle = abs(self.rule.stop_below_hz - idle) < abs(self.rule.stop_below_hz - duty)
        return f"the idle speed, {hertz(idle)}" if near_idle else f"the evening's duty, {hertz(duty)}"

    def _window(self):
        low, high = low_demands.threshold_window(*self.ends_hz, MARGIN_HZ)
        if low >= high:
            yield f"No threshold is right here: {self._no_room()}."
        elif self.word in ("never stops", "cycles", "close"):
            yield f"The window goes from {hertz(low)} to {hertz(high)}, {hertz(MARGIN_HZ)} kept to both ends."

    def _no_room(self):
        idle, duty = map(hertz, self.ends_hz)
        return f"with so many boxes open the fan idles at {idle}, the evening's duty runs at {duty}, and {hertz(MARGIN_HZ)} is kept to both"

    def _starts(self):
        starts, most = self.starts_beside_limit()
        return f"Starts: {starts} an hour; this motor may make at most {most} {ACROSS}."

    def _short(self):
        short = [minutes(self.night.short_s[part]) for part in (EVENING, DAY)]
        return (
            f"Short of pressure while air is asked for: {short[0]} in the hour of the evening, {short[1]} in the hour of the morning "
            f"(without a stop {minutes(self.plain.short_s[DAY])}, until the fan has followed the boxes)."
        )

    def _energy(self):
        kept, plain = self.night_w
        power = f"Power at night: {kept:.0f} W instead of {plain:.0f} W, the mean of the two hours shown"
        if self.kind == "wrong":
            return f"{power}. That is no saving: the stop is not right."
        return f"{power}; at that {NIGHTS} nights of {NIGHT_H:g} h save {self.saved_kwh:.0f} kWh a year."


@dataclass(frozen=True)
class RefusedStop:
    """A loop in smoke control to which somebody would give a low-demand stop: why not, and what its fan goes on doing."""

    says: str
    site_name: str
    speed_hz: float
    reading_pa: float
    set_point_pa: float
    idle_hz: float


def judge(opening, rule):
    """Play a rule through the night of the offices with so much of the boxes open at night (one of NIGHT_OPENINGS). Returns `Judged`."""
    courses, site = courses_of()[opening], mill_street().site
    night, plain = play(courses, rule), without_stop(opening)
    ends = courses.steady_hz[NIGHT], courses.steady_hz[EVENING]
    allowed = low_demands.starts_allowed(site.fan.motor_power_w)
    found = Judged("right", "good", rule, ends, courses.set_point_pa, night, plain, allowed, opening)
    word = _word(found)
    return replace(found, word=word, kind=_KINDS.get(word, "wrong"))


@cache
def without_stop(opening):
    """The same night with a fan that never stops."""
    return play(courses_of()[opening], NEVER)


def own_rule():
    """The rule in the offices' site file."""
    return mill_street().low_demand_rule()


@cache
def reading_error_pa():
    """By how much a reading of the offices may be off, by the accuracy of the transmitters [Pa]: the largest of them."""
    return max(float(signals.accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span)) for t in mill_street().site.transmitters)


def from_set_point_pa(pressure_pa):
    """The offices' set point less a pressure [Pa]: of a restart deficit the reading under which the fan starts again, and back."""
    return mill_street().site.control.set_point_pa - pressure_pa


def restart_said(rule):
    """The reading under which a stopped fan starts again, in words; every page writes a restart so."""
    return with_unit(from_set_point_pa(rule.restart_error), "pressure")


def shutoff_hz():
    """Speed at which the offices' fan only just reaches the set point with no flow at all, not even through leaks [Hz]."""
    plant = mill_street()
    shutoff_pa = plant.curve.shutoff_pa * plant.density / REFERENCE_DENSITY_KG_M3
    return float(plant.site.fan.reference_speed_hz * fans.lowest_speed_for(plant.site.control.set_point_pa, shutoff_pa))


@cache
def refused():
    """Larkfield House, in smoke control, offered the offices' rule: the refusal. Returns `RefusedStop`. Speed and reading are those that
    the loop holds in winter, doors shut."""
    tower = Tower(read_site(demo_sites()["Larkfield House"]))
    site, conditions = tower.site, Conditions.of(tower.site, "winter")
    try:
        run_loop(tower, conditions, Setup(60.0, low_demand=own_rule()))
    except ValueError:
        said = f"{FireMode(site.name).verdict()} {A_REAL_DRIVE}"
    else:
        raise RuntimeError(f"{site.name} must refuse a low-demand stop in smoke control, and took one")
    held = tower.hold(conditions)
    return RefusedStop(said, site.name, float(held.air.speed_hz[0]), float(held.reading_pa[0]), site.control.set_point_pa,
                   site.fan.lowest_speed_hz)  # fmt: skip


def hertz(value):
    """A speed in words."""
    return units.show(value, "frequency")


def at_worst(seconds):
    """A time in words that is never shorter than it."""
    step = 60 if seconds >= 540 else 6
    return minutes(step * math.ceil(seconds / step))


def minutes(seconds):
    """A time in words."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.1f}".removesuffix(".0") + " min" if seconds < 600 else f"{seconds / 60:.0f} min"


def _word(found):
    """Which of the cases a rule played through is, the gravest first; found: `Judged`, whose own word is not looked at."""
    night, rule = found.night, found.rule
    if night.stopped_in(EVENING):
        return "cycles"
    if not night.stopped_in(NIGHT):
        return "never stops"
    if len(night.starts_s) == 0:
        return "stays off"
    begin, _ = part_of(DAY)
    if (night.starts_s >= begin).any() and night.stops_s[-1] > night.starts_s[night.starts_s >= begin][0]:
        return "never gets going"
    if night.starts_per_hour(NIGHT) > found.allowed.per_hour:
        return "too many starts"
    if rule.restart_error > found.set_point_pa - reading_error_pa():
        return "edge of restart"
    low, high = low_demands.threshold_window(*found.ends_hz, MARGIN_HZ)
    if not low < rule.stop_below_hz < high:
        return "close"
    return "long wait" if found.worst_morning_s > LONG_WAIT_S else "right"


def _kwh_an_hour(night):
    begin, end = part_of(NIGHT)
    return night.kwh[NIGHT] * 3600 / (end - begin)
