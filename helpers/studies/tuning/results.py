"""What a tuning study found: the pair of numbers to enter and what it was tried against, the site's own, what the nominal model would ask
for and where that breaks, what filter, feed-forward and drive add."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from helpers.model.loop.controller import RampDown
from helpers.model.site.criteria import Criteria
from helpers.studies.report import Shown, Table, listed, time_text
from helpers.studies.signals.plates import span_text
from helpers.studies.status import word_of, worst_of
from helpers.studies.tuning.box import LoopBox
from helpers.studies.tuning.candidate import Candidate, DampingPrice, FilterPrice, Helping, SlowPart, asked_text, margin_text, numbers_text
from helpers.studies.tuning.door_tests import DoorBench, DoorTest
from helpers.studies.tuning.findings import findings_of, least_bad_of
from helpers.studies.tuning.process import ProcessGain, StepTest
from helpers.studies.tuning.times_said import LOOKED_AT_S, back_text, head_said, not_followed_said, seconds_text, short_limit_s
from helpers.units.said import two, with_unit

HELD = "not tried: motor or brake"  # of a part that cannot be shortened
FILTERS_S = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0)  # filters tried beside the site's own


@dataclass(frozen=True)
class TuningStudy(Shown):
    """What was found.

    criteria: of the site's standard; steps: of `StepTest`; found: `ProcessGain`; box: `LoopBox`; own, proposed, nominal: `Candidate`s, the
    site's settings, the fastest of the box, and SIMC's for the nominal loop (either of the last may be None); recommended: the proposed
    one where nothing speaks against it, else None; own_filter_s: the site's longest; ramp_alone: `DoorTest` of the drive without any
    controller's delay; helps: tries `remedies`. door: (level, kind) of the door that was opened; span_pa the gains hold for; force_limit_n:
    the lowest of the stair doors (None: none has any); while_open: most force [N] and minimum pressure [Pa] at shut doors while that door
    stands open, and at_rest with all shut; ramp_down: `RampDown` from the speed with the door open to the one with it shut, else None;
    cannot: why no tuning at all makes the loop hold; unheld: cases in which the fan does not hold the set point, all doors shut;
    damping: `DampingPrice` of a long one, else None; slow: of `SlowPart`, which to shorten first ahead; bench: the `DoorBench`, to try
    further pairs on; together: all of `slow` shortened at once, None where one by itself mends it or is alone.
    """

    site_name: str
    criteria: Criteria
    steps: tuple[StepTest, ...]
    found: ProcessGain
    box: LoopBox
    own: Candidate
    proposed: Candidate | None
    nominal: Candidate | None
    recommended: Candidate | None
    own_filter_s: float
    ramp_alone: DoorTest
    helps: Callable[[], tuple[Helping, ...]] = field(repr=False, compare=False)
    door: tuple[int, str]
    span_pa: float
    ramp_s: float
    force_limit_n: float | None
    while_open: tuple[float, float]
    at_rest: tuple[float, float]
    ramp_down: RampDown | None
    cannot: str = ""
    unheld: tuple[str, ...] = ()
    damping: DampingPrice | None = None
    slow: tuple[SlowPart, ...] = ()
    bench: DoorBench | None = field(default=None, repr=False, compare=False)
    together: SlowPart | None = None

    @property
    def candidates(self):
        """Everything tried beside the site's own."""
        return tuple(filter(None, (self.proposed, self.nominal)))

    @cached_property
    def remedies(self):
        """What helps, of `Remedy`; tried when first looked at: it is half of the work."""
        return self.helps()

    @cached_property
    def filters(self):
        """What the fastest safe tuning would be behind other filters: of `FilterPrice`."""
        own = self.own_filter_s
        found = [(filter_s, self.box.with_filter(filter_s).fastest()) for filter_s in sorted({*FILTERS_S, own})]
        return tuple(FilterPrice(filter_s, *pair, filter_s == own) for filter_s, pair in found if pair)

    @property
    def response_s(self):
        """Time after a door that the site's standard asks for [s]; None where it asks for none."""
        return self.criteria.response_s

    @property
    def whose(self):
        """With which tuning the door tests are told, in words."""
        return "with the proposed tuning" if self.recommended else "with the site's own tuning"

    @property
    def ramp_forbids(self):
        """Whether the drive's ramp alone takes longer than the standard asks for."""
        return not self.ramp_alone.quick

    @property
    def mark(self):
        """What stands beside each time and force after a door that was found with the loop's own ramps, see `DoorTest.mark`."""
        return self.own.doors.mark

    @property
    def not_followed(self):
        """The same in full, as `not_followed_said`."""
        return not_followed_said(self.bench.loop_site, self.ramp_down) if self.mark and self.bench is not None else ""

    @property
    def why_none(self):
        """Why nothing is recommended, in a sentence; empty where something is."""
        if self.recommended is not None:
            return ""
        if self.cannot:
            return self.cannot
        if self.proposed is None:
            return f"No tuning tried keeps {asked_text(self.box.asked)} over the whole range of lags ({self._box_said()})."
        return f"The fastest that keeps its margins is {numbers_text(self.proposed)}, and {listed(self.proposed.against)}."

    def verdict(self, first=""):
        """The tuning, what it was tried against, and its recovery, in plain words; first: what comes before it may be entered."""
        return " ".join(words for _, words in self.told(first))

    def told(self, first=""):
        """The same sentence by sentence: (what it is about, the words) pairs, none of them empty."""
        ramps = f"{word_of('wrong')}: {told}; see the findings for one that is followed." if (told := head_said(self.not_followed)) else ""
        if self.recommended is None:
            pairs = (("Tuning", f"No tuning is recommended. {self.why_none}"), ("Ramp", ramps), ("Building's gain", self._gain_said()))
            return tuple(pair for pair in (*pairs, ("Not in the door tests", self.box.air.said())) if pair[1])
        best, span = numbers_text(self.recommended), span_text(self.span_pa)
        calm = f"The fastest tuning that stays calm in every corner is {best}, on a span of {span}."
        after, tuning = (("After a door", self._heavy_said()), ("Ramp", ramps)), (("Tuning", calm),)
        head = (("Tuning", f"{calm} Do not enter it here: {first}."), *after) if first else (*after, *tuning)
        kept = f"It keeps {asked_text(self.box.asked)} in {len(self.box.corners)} loops, {self._box_said()}."
        more = (
            ("Margins", kept), ("Worst corner", self._worst_said()), ("SIMC for the nominal loop", self._nominal_said()),
            ("Building's gain", self._gain_said()), ("Recovery", self._recovery_said()),
            ("Door contacts", self._contacts_said()), ("Ramp alone", self._ramp_said()), ("What is slow", self.slow_said()),
            ("Damping", self.damping_said()), ("Not in the door tests", self.box.air.said()),
        )  # fmt: skip
        return tuple(pair for pair in (*head, *more) if pair[1])

    def findings(self, first=""):
        """What is wrong with the tuning or the drive, and what is in order; first: what has to be laid down before a tuning is."""
        return findings_of(self, first)

    def step_table(self):
        """The step tests, a row each."""
        columns, found = ("Case", "Output", "Reading", "Gain", "Lag", "Delay"), self.found
        rows = (
            *(step.row for step in self.steps),
            (found.case.name, f"{found.output_percent:.0f} %", "the largest, found by search", f"{found.largest:.2f} %/%", "", ""),
        )
        most = max((step.gain for step in self.steps if not step.left_out), default=np.nan)
        bend = f" That is {found.slope_said()}: the tests of this table, {most:.2f} %/% at the most." if most < found.largest else ""
        note = (
            "Gain in per cent of span by per cent of full speed. A test without figures does not count: its reason stands there. "
            f"{self._gain_said()}{bend} In the least lively of {len(self.found.by_case)} cases (doors, air): {self.found.least:.2f} %/%."
        )
        return Table("step_tests", "Step tests", columns, rows, (*("attention" if s.left_out else "" for s in self.steps), ""), note)

    def candidate_table(self):
        """The tunings tried: margins of the nominal loop and the worst of the box, the door test of both."""
        columns = ("Tuning", "Gain", "Integral time", "Nominal: margins, peak", "Worst: margins, peak", "Recovery after opening",
                   "After closing", "Far corner", "Residual oscillation", "Highest opening force", "Short")  # fmt: skip
        rows = tuple(tried.row() for tried in self._all())
        fit = (one.worst_doors.fit_state for one in self._all())
        states = tuple(worst_of((one.status, doors)) for one, doors in zip(self._all(), fit, strict=True))
        told = f"Times and forces after a door: {self.not_followed}. " if self.not_followed else ""
        note = (
            f"{told}Margins: gain margin, phase margin, peak sensitivity. Recovery: until 90 % of the way to the new steady flow is there, "
            f"in the slowest weather and warmth of the stair, with the lags of the site file; far corner: both ways with "
            f"{self.own.far.text()}. Highest opening force: most force at a handle after the door has shut, how long any is above its "
            f"limit, the worst of both. Short: how long a shut door is below its minimum after another has moved, the worst of both, "
            f"{short_limit_s(self.response_s):g} s at the most. What is past a limit is {word_of('wrong')}, whatever the margins. "
            f"{self.time_asked()}."
        )
        return Table("tunings", "Tunings tried", columns, rows, states, note)

    def filter_table(self):
        """What a filter costs, a row each."""
        rows = tuple(
            (f"{one.filter_s:g} s" + (", the site's own" if one.own else ""), f"{two(one.gain)} %/%", f"{two(one.integral_s)} s",
             one.slowness_text)
            for one in self.filters
        )  # fmt: skip
        note = f"{self._filter_said()} Behind a long filter the display shows late what a door feels."
        return Table("filters", "What a filter costs", ("Filter", "Gain", "Integral time", "Integral time over gain"), rows, note=note)

    def remedy_table(self):
        """What helps, a row each, with the drive's ramp alone for comparison."""
        least_bad = least_bad_of(self.remedies)
        rows = tuple((one.name, one.how(), f"{'least bad: ' if one is least_bad else ''}{one.figure()}") for one in self.remedies)
        states = tuple(remedy.status for remedy in self.remedies)
        return Table("remedies", "What helps", ("Measure", "Setting tried", "Result"), rows, states, self._ramp_said())

    def _all(self):
        return (self.own, *self.candidates)

    def _box_said(self):
        lag, dead, box = self.box.extra_lag_s, self.box.dead_time_s, self.box
        filling = f"{two(box.air.shaft_s)} and {two(box.air.floors_s)} s, the reading {100 * box.air.overshoot:.0f} % too high until then"
        air = f", the air of shaft and storeys at once and as it fills ({filling})"
        stated = f", {box.turned_said} as stated and turned back to zero" if box.turned_said else ""
        stated += f", a transmitter of {box.lags_s[1]:g} s and one of {box.least_s[1]:g} s" if box.least_s[1] < box.lags_s[1] else ""
        return (
            f"with {lag[0]:g} to {two(lag[1])} s more lag than stated{stated}, delay {two(dead[0])} to {two(dead[1])} s and the ramp's "
            f"{two(box.ramp_delay_s)} s{air if box.air.floors_s else ''}"
        )

    def heavy_with(self, tried):
        """That a `Candidate` leaves a door past its limit after another has shut, in words; "" where it does not."""
        doors = tried.worst_doors
        if doors.light:
            return ""
        force, limit = (with_unit(value, "force") for value in (doors.peak_force_n, self.force_limit_n))
        past = doors.past_said()
        return f"another door is too heavy for {past} after the door has shut, {force} at the handle, {limit} allowed"

    def against(self, tried):
        """Everything that fails after a door with a `Candidate` of this loop, in words; "" where nothing does: the one judge of it for
        findings, summary and schedule."""
        return "; ".join(filter(None, (self.heavy_with(tried), self.short_with(tried))))

    def _heavy_said(self):
        """The same of the tuning to be set, before it is told to be set."""
        heavy = self.heavy_with(self.recommended)
        cures = "the drive's ramp alone leaves one, too" if not self.ramp_alone.light else "the drive's ramp alone would not"
        said = "; ".join(filter(None, (heavy and f"{heavy} ({cures})", self.short_said)))
        return f"With the fastest calm tuning {said}: see what helps." if said else ""

    def _worst_said(self):
        best = self.recommended
        bears = min(keeps for _, keeps, _ in best.borne)
        dead = f"stays stable up to a delay of {two(bears)} s" if np.isfinite(bears) else "stays stable with every delay tried"
        return (
            f"At the worst corner ({best.corner.text()}) its peak sensitivity is {best.worst.peak_sensitivity:.2f} and its gain margin "
            f"{margin_text(best.worst)} or more, in the nominal loop {best.nominal.peak_sensitivity:.2f} and "
            f"{margin_text(best.nominal)}; it {dead} at any of these lags, the ramp's on top."
        )

    def _gain_said(self):
        found = self.found
        lost = f"; {word_of('open')}: {found.lost_said()}" if found.lost else ""
        where = f"at {found.output_percent:.0f} % of full speed ({found.case.name}){lost}"
        return f"The building's largest gain is {found.largest:.2f} %/%, {where}."

    def _nominal_said(self):
        tried = self.nominal
        if tried is None:
            return ""
        said = f"The nominal model by itself would ask for {numbers_text(tried)} (SIMC)"
        if tried.safe:
            return f"{said}, and keeps its margins too."
        swings = min(swings for _, _, swings in tried.borne)
        where = f"with the worst of these lags it swings by itself from a delay of {two(swings)} s on, the ramp's on top"
        return f"{said}: do not enter it; {where if np.isfinite(swings) else listed(tried.against)}."

    def _recovery_said(self):
        best, tried = self.recommended, self.own.doors
        level, kind = self.door
        door = f"{'final exit' if kind == 'exit' else 'stair door'} {level}"
        opens, shuts, own_opens, own_shuts = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s, tried.opens_s, tried.shuts_s))
        far = " and ".join(map(seconds_text, (best.far_doors.opens_s, best.far_doors.shuts_s)))
        said = (
            f"When {door} opens, 90 % of the way to the new flow is there after {opens}, when it shuts after {shuts} ({far} with "
            f"{best.far.text()}); with the site's own settings it is {own_opens} and {own_shuts}{self.mark}."
        )
        return said

    @property
    def slow_state(self):
        """Key of the status of a slow loop: "wrong" where it leaves a door short for longer than may be."""
        return "wrong" if self.short_said else "attention"

    @property
    def short_said(self):
        """That the tuning to be set leaves a shut door short for too long, in words; "" where it does not, or no tuning holds."""
        return "" if self.cannot else self.short_with(self.recommended or self.own)

    @staticmethod
    def short_with(tried):
        """The same with a `Candidate` of this loop."""
        return "" if tried.worst_doors.brief else tried.worst_doors.short_said()

    def _mended_by(self, part):
        """Whether a `SlowPart`, shortened, leaves no door short for too long; where none is, whether it brings the flow back by a tenth
        sooner (ours)."""
        if part is None or self.slow_state == "wrong":
            return part is not None and part.mends
        now = np.nan_to_num((self.recommended or self.own).doors.slowest_s, nan=LOOKED_AT_S, posinf=LOOKED_AT_S)
        return part.recovers_s is not None and bool(part.recovers_s < 0.9 * now)

    @property
    def slow_mended(self):
        """Whether the first of the slow parts does so by itself."""
        return self._mended_by(next(iter(self.slow), None))

    def _together_said(self):
        """What all slow parts shortened together do, in words."""
        part = self.together
        short = "" if part.brief is None else f", a shut door short for {math.ceil(part.short_s)} s{part.mark}"
        either = "" if self._mended_by(part) else " do not mend it either"
        return f"all of them shortened together{either}: the airflow {back_text(part.recovers_s)}{part.mark}{short}"

    def slow_remedy(self):
        """Which slow part to shorten, in a few words; that none by itself mends it where that is so."""
        first = self.slow[0]
        if not self.slow_mended:
            if not self._mended_by(self.together):
                tried = listed(f"the {part.name}" for part in self.slow if part.little_s is not None)
                said = self._together_said() if self.together else f"{tried} shortened does not"
                return f"nothing tried mends it: {said}" if tried else f"nothing was shortened ({HELD})"
            return f"all of them, the {first.name} first: none by itself mends it; tried, {self._together_said()}"
        return f"the {first.name} first{f': {two(first.little_s)} s, with the tuning for it, mends it{first.mark}' if first.mends else ''}"

    def slow_said(self):
        """What makes the loop slow, part by part, and which to shorten first, in words; empty where all lags are short."""
        if not self.slow:
            return ""
        first, parts = self.slow[0], sorted(self.slow, key=lambda part: -part.seconds)
        now = (self.recommended or self.own).doors.slowest_s
        said = f"Slow: {listed(part.text for part in parts)}."
        if all(part.little_s is None for part in parts):
            return f"{said} None was shortened ({HELD})."
        if not self.slow_mended:
            still = (
                "a shut door stays short for too long" if self.short_said else f"the airflow {back_text(now)}{self.mark}, or hardly sooner"
            )
            together = f" Tried, {self._together_said()}." if self.together else ""
            return f"{said} Whichever is shortened by itself, {still}: no single one mends it.{together}"
        short = f"; a shut door is then short for {math.ceil(first.short_s)} s{first.mark}" if first.mends else ""
        return (
            f"{said} Shorten first the {first.name}: with {two(first.little_s)} s, and the tuning for it, 90 % of the way after a door "
            f"takes {seconds_text(first.recovers_s)}{first.mark}, now {seconds_text(now)}{self.mark}{short}."
        )

    def slow_table(self):
        """What makes the loop slow, a row each."""
        rows = tuple(
            (part.name, time_text(part.seconds, 2), *(HELD if part.little_s is None else f"{two(part.little_s)} s",
             "" if part.recovers_s is None else f"{seconds_text(part.recovers_s)}{part.mark}")) for part in self.slow
        )  # fmt: skip
        note = f"{self.slow_said()} Each shortened by itself, with the fastest calm tuning then; seconds at the most of their range."
        columns = ("What", "Seconds", "Shortened to", "Back after a door then")
        return Table("slow parts", "What makes the loop slow", columns, rows, note=note)

    def damping_said(self):
        """What a long damping costs, in words; empty where there is none."""
        price = self.damping
        if price is None:
            return ""
        little = f"{seconds_text(price.recovers_with_little_s)} with {price.little_s:g} s{self.mark}"
        times = f"{seconds_text(price.recovers_s)} with it, {little}"
        said = f"The damping of {price.damping_s:g} s at the dial costs time: 90 % of the way after a door takes {times}."
        if price.bound is None or (price.bound_back and not price.bound_back.lacks(self.box.asked)):
            return said
        gain, integral = price.bound
        return (
            f"{said} A tuning that trusts the dial (gain {two(gain)} %/%, integral time {two(integral)} s) is not recommended: turned back "
            f"to zero, {listed(price.bound_back.lacks(self.box.asked))}."
        )

    def _filter_said(self):
        if not self.filters:
            return ""
        quickest, slowest = (end(self.filters, key=lambda one: one.slowness_s) for end in (min, max))
        return (
            f"Filter: the quickest of those tried is {quickest.filter_s:g} s (integral time over gain {quickest.slowness_text}), the "
            f"slowest {slowest.filter_s:g} s ({slowest.slowness_text})."
        )

    def _contacts_said(self):
        if (remedy := next((one for one in self.remedies if one.name.startswith("door contacts") and one.doors), None)) is None:
            return ""
        both = f"{seconds_text(remedy.doors.opens_s)} and {seconds_text(remedy.doors.shuts_s)}{remedy.doors.mark}"
        return (
            f"A contact at that door that sends the drive there (feed-forward) makes it {both}; no margin is lost for it, and each door "
            f"counted as open needs its own; {remedy.stuck[0]}."
        )

    def _ramp_said(self):
        alone, asked = self.ramp_alone, self.response_s
        both = f"{seconds_text(alone.opens_s)} and {seconds_text(alone.shuts_s)}{alone.mark}"
        said = f"The drive's ramp of {self.ramp_s:g} s alone takes {both}"
        if asked is None:
            return f"{said}. {self.time_asked()}."
        if self.ramp_forbids:
            return f"{said}: with this ramp no controller makes the {asked:g} s of {self.criteria.title}."
        return f"{said}, which is within the {asked:g} s of {self.criteria.title}."

    def time_asked(self):
        """What the site's standard asks after a door, in words."""
        if self.criteria.response.blank:
            return f"{self.criteria.title} may ask for a time after a door: its text is not at hand, fill it in"
        if self.response_s is None:
            return f"{self.criteria.name} asks for no time of recovery after a door"
        return f"{self.criteria.title} asks for {self.response_s:g} s"
