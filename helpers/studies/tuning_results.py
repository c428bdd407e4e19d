"""What a tuning study found: step tests, tunings tried, the one to set, its recovery after a door, what helps."""

from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.studies.figures import NETWORK, Finding, Table, fine
from helpers.studies.tuning_doors import WITHIN_S, seconds_text

__all__ = ["Candidate", "TuningStudy"]

LEAST_GAIN_MARGIN, MOST_SENSITIVITY = 2.5, 1.7  # ours: what every step test must keep
LARGEST_SWING_PA = 1.0  # ours: a loop that still swings more than this half a minute after the door is not calm
_SIMC = "SIMC, Skogestad 2003 (memory)"
_EN = "EN 12101-6:2005 (memory)"


@dataclass(frozen=True)
class Candidate:
    """One tuning tried: closed-loop time, gain, integral time; least gain and phase margin and largest peak sensitivity over all step
    tests; its `DoorTest`."""

    closed_loop_s: float
    gain: float
    integral_s: float
    gain_margin: float
    phase_margin_deg: float
    peak_sensitivity: float
    doors: object

    @property
    def safe(self):
        """Whether every step test keeps its margins and the loop is calm after the door."""
        margins = self.gain_margin >= LEAST_GAIN_MARGIN and self.peak_sensitivity <= MOST_SENSITIVITY
        return margins and self.doors.swing_pa <= LARGEST_SWING_PA


@dataclass(frozen=True)
class TuningStudy:
    """What was found.

    steps: of `StepTest`; worst: the one of the largest gain; own: the site's settings as a `Candidate`; candidates: those tried; chosen:
    the one to set (None where none is safe); ramp_alone: `DoorTest` of the drive without any controller's delay; remedies: of `Remedy`.
    door: (level, kind) of the door that was opened; span_pa the gains hold for; force_limit_n: the lowest of the stair doors (None: none
    has any).
    """

    site_name: str
    steps: tuple
    worst: object
    own: Candidate
    candidates: tuple
    chosen: Candidate | None
    ramp_alone: object
    remedies: tuple
    door: tuple
    span_pa: float
    ramp_s: float
    force_limit_n: float | None

    @property
    def ramp_forbids(self):
        """Whether the drive's ramp alone takes longer than the three seconds."""
        return not self.ramp_alone.quick

    def verdict(self, system="Pa"):
        """The tuning and its recovery in plain words."""
        if self.chosen is None:
            none = f"None of {len(self.candidates)} tunings tried keeps its margins in all step tests and is calm after a door."
            return f"{none} {self._gain_said()}"
        best = self.chosen
        return (
            f"Set a gain of {best.gain:.2g} %/% (of a span of {units.show(self.span_pa, 'pressure', system)}) and an integral time of "
            f"{best.integral_s:.2g} s. {self._gain_said()} {self._recovery_said()}"
        )

    def findings(self, system="Pa"):
        """What is wrong with the tuning or the drive, and what is in order."""
        yield from self._own_finding()
        yield self._recovery_finding(system)
        yield from self._force_finding(system)
        if self.chosen is None:
            yield Finding(
                "wrong", "No safe tuning was found", "", "every one tried swings or has too little margin", _SIMC, "a shorter filter"
            )

    def step_table(self, system="Pa"):
        """The step tests, a row each."""
        columns = ("Case", "Output", "Reading", "Gain", "Lag", "Delay")
        rows = tuple(_step_row(step, system) for step in self.steps)
        note = "Gain in per cent of span by per cent of full speed; tests without figures do not count, for the reason given."
        return Table("step_tests", "Step tests", columns, rows, tuple("attention" if s.left_out else "" for s in self.steps), note)

    def candidate_table(self, system="Pa"):
        """The tunings tried, the site's own first."""
        columns = ("Closed loop", "Gain", "Integral time", "Gain margin", "Phase margin", "Peak sensitivity", "Opens", "Shuts", "Swing")
        rows = tuple(_candidate_row(tried, "own" if tried is self.own else f"{tried.closed_loop_s:.2f} s", system) for tried in self._all())
        states = tuple(("good" if tried.safe else "attention") if tried is not self.chosen else "good" for tried in self._all())
        note = f"Opens, shuts: until 90 % of the new flow is there, in the slowest weather; {_EN} asks for {WITHIN_S:g} s."
        return Table("tunings", "Tunings tried", columns, rows, states, note)

    def remedy_table(self, system="Pa"):
        """What helps, a row each, with the drive's ramp alone for comparison."""
        rows = tuple((remedy.name, remedy.how(system), remedy.figure(system)) for remedy in self.remedies)
        states = tuple("good" if remedy.works else "attention" for remedy in self.remedies)
        return Table("remedies", "What helps", ("What", "How", "Then"), rows, states, self._ramp_said())

    def _all(self):
        return (self.own, *self.candidates)

    def _gain_said(self):
        gains = [step.gain for step in self.steps if not step.left_out]
        worst = self.worst
        return (
            f"The building's gain lies between {min(gains):.2g} and {max(gains):.2g} %/%, the most at {worst.output_percent:.0f} % "
            f"({worst.case.name}); behind filter and ramp the reading lags by {worst.lag_s:.2g} s after a delay of {worst.delay_s:.2g} s."
        )

    def _recovery_said(self):
        best, tried = self.chosen, self.own.doors
        level, kind = self.door
        door = f"the {'final exit' if kind == 'exit' else 'stair door'} of level {level}"
        opens, shuts, own_opens, own_shuts = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s, tried.opens_s, tried.shuts_s))
        said = (
            f"When {door} opens, 90 % of the new flow is there after {opens}, when it shuts after {shuts}; with the site's own settings it "
            f"is {own_opens} and {own_shuts}."
        )
        return f"{said} {self._ramp_said()}"

    def _ramp_said(self):
        alone = self.ramp_alone
        said = f"The drive's ramp of {self.ramp_s:g} s alone takes {seconds_text(alone.opens_s)} and {seconds_text(alone.shuts_s)}"
        if self.ramp_forbids:
            return f"{said}: with this ramp no controller makes the {WITHIN_S:g} s of {_EN}."
        return f"{said}, which leaves room within the {WITHIN_S:g} s of {_EN}."

    def _own_finding(self):
        own, back = self.own, seconds_text(self.own.doors.slowest_s)
        figure = f"gain margin {own.gain_margin:.1f}, peak sensitivity {own.peak_sensitivity:.2f}, back in {back}"
        if not own.safe:
            why = "it swings or nearly does where the gain is largest"
            yield Finding("wrong", "The site's own tuning is too lively", figure, why, NETWORK, self._set())
        elif not np.isfinite(own.doors.slowest_s) or (self.chosen and own.doors.slowest_s > 2 * self.chosen.doors.slowest_s):
            why = "doors stay heavy, or smoke may pass, for longer than need be"
            yield Finding("attention", "The site's own tuning is sluggish", figure, why, NETWORK, self._set())
        else:
            yield Finding("good", "The site's own tuning is calm and quick", figure)

    def _recovery_finding(self, system):
        best = self.chosen or self.own
        opens, shuts, alone = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s, self.ramp_alone.slowest_s))
        figure = f"{opens} and {shuts}, ramp alone {alone}"
        if best.doors.quick:
            return Finding("good", f"The flow is back within {WITHIN_S:g} s of a door event", figure, "", _EN)
        helps = [f"{remedy.name}: {remedy.how(system)}" for remedy in self.remedies if remedy.works]
        why = "the drive's ramp alone forbids it" if self.ramp_forbids else "ramp, lags and controller together take longer"
        return Finding(
            "attention",
            f"The flow is not back within {WITHIN_S:g} s of a door event",
            figure,
            why,
            _EN,
            "; ".join(helps) or ("none of those tried" if self.remedies else ""),
        )

    def _force_finding(self, system):
        doors = (self.chosen or self.own).doors
        if self.force_limit_n is None:
            return
        peak, limit = (units.show(force, "force", system) for force in (doors.peak_force_n, self.force_limit_n))
        figure = f"{peak} at a handle, limit {limit}, {doors.above_limit_s:.1f} s above it"
        if doors.above_limit_s > 0:
            yield Finding("attention", "When the door shuts, another one is too heavy for a moment", figure,
                          "the fan still runs as fast as the open door asked for", NETWORK,
                          "a faster ramp, a relief damper, door contacts, lighter closers; see what helps")  # fmt: skip
        else:
            yield Finding("good", "No door is too heavy when the door shuts", figure)

    def _set(self):
        return f"gain {self.chosen.gain:.2g} %/%, integral time {self.chosen.integral_s:.2g} s" if self.chosen else ""


def _step_row(step, system):
    figures = ("", step.left_out, "") if step.left_out else (f"{step.gain:.2f} %/%", f"{step.lag_s:.2f} s", f"{step.delay_s:.2f} s")
    return (step.case.name, f"{step.output_percent:.0f} %", units.show(step.reading_pa, "pressure", system), *figures)


def _candidate_row(tried, name, system):
    margins = (f"{tried.gain_margin:.1f}", f"{tried.phase_margin_deg:.0f}°", f"{tried.peak_sensitivity:.2f}")
    doors = (seconds_text(tried.doors.opens_s), seconds_text(tried.doors.shuts_s), fine(tried.doors.swing_pa, system))
    return (name, f"{tried.gain:.2f} %/%", f"{tried.integral_s:.2f} s", *margins, *doors)
