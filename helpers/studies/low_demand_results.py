"""What a low-demand study found: the window of its threshold, trials in the loop, starts against their limit, energy."""

from dataclasses import dataclass

from helpers import units
from helpers.formulas.low_demand import CYCLES, NEVER_STOPS, NO_WINDOW, RIGHT, VERDICTS
from helpers.studies.figures import NETWORK, Finding, Table

__all__ = ["FireMode", "LowDemandStudy", "Trial"]

_NEMA = "NEMA MG 10-2001 table 2-3 (seen); for starts across the line: a ramped drive is gentler"
_NEVER = "A fan that keeps a stair free of smoke does not stop for low demand, whatever it would save."


@dataclass(frozen=True)
class FireMode:
    """What the study says of a loop in the fire mode: no."""

    site_name: str

    def verdict(self, system="Pa"):
        """The refusal in plain words."""
        return f"{self.site_name} is held in the fire mode: no low-demand stop. {_NEVER} Nothing was calculated."

    def findings(self, system="Pa"):
        """One: that there is none."""
        yield Finding("good", "No low-demand stop in the fire mode", "", _NEVER, "life safety; the local code decides")


@dataclass(frozen=True)
class Trial:
    """One run of the loop: threshold "below", "inside", "above" the window, "judged" (the rule's own) or "never" (no stop); "idle" (a
    usual hour without demand) or "asked" (the hour of the lowest duty).

    starts_per_hour; running: share of the time; missed: share of the time in which the reading is below the set point by more than the
    restart deficit; kwh_per_hour from the mains.
    """

    where: str
    when: str
    threshold_hz: float
    starts_per_hour: float
    running: float
    missed: float
    kwh_per_hour: float


@dataclass(frozen=True)
class LowDemandStudy:
    """What was found over some hours.

    idle_hours, asked_hours: without and with demand; not_found: hours without a steady state. shutoff_hz: the highest speed at which the
    fan only just reaches the set point without any flow. ends_hz: the fastest it idles and the slowest it has a duty; window_hz:
    the same less the margins. rule: the one judged; code: a place in formulas.low_demand.VERDICTS. trials: of `Trial`. allowed: `Starts` of
    the motor, None where its size is not in the table. stopped_hours, cut_off_hours: idle hours that the judged rule stops in, and hours
    with demand that it does. idle_kwh, saved_kwh: of the idle hours.
    """

    site_name: str
    hours: int
    idle_hours: int
    asked_hours: int
    not_found: int
    shutoff_hz: float
    ends_hz: tuple
    window_hz: tuple
    rule: object
    code: int
    trials: tuple
    allowed: object
    stopped_hours: int
    cut_off_hours: int
    idle_kwh: float
    saved_kwh: float

    @property
    def feasible(self):
        """Whether any threshold is right."""
        return self.window_hz[0] < self.window_hz[1]

    @property
    def verdict_word(self):
        """What the judged threshold does, one of formulas.low_demand.VERDICTS."""
        return VERDICTS[self.code]

    def trial(self, where, when):
        """The trial of a kind; raises ValueError where it was not made (no threshold is inside an empty window)."""
        for found in self.trials:
            if (found.where, found.when) == (where, when):
                return found
        raise ValueError(f"trial must be one of those made, got {where!r}, {when!r}")

    @property
    def starts_per_hour(self):
        """Most starts an hour of the judged rule, with or without demand."""
        return max(self.trial("judged", when).starts_per_hour for when in ("idle", "asked"))

    @property
    def too_many_starts(self):
        """Whether these are more than the motor bears across the line; False where the table says nothing."""
        return self.allowed is not None and self.starts_per_hour > self.allowed.per_hour

    @property
    def restart_after_s(self):
        """Restart time that keeps the idle hours within the motor's starts [s]; None where they are, or where the table says nothing."""
        idle = self.trial("judged", "idle").starts_per_hour
        if self.allowed is None or idle <= self.allowed.per_hour:
            return None
        return self.rule.restart_after_s + 3600 / float(self.allowed.per_hour) - 3600 / idle

    def verdict(self, system="Pa"):
        """Window, threshold, starts and energy in plain words."""
        return " ".join([self._window_said(), self._judged_said(), *self._starts_said(), self._energy_said()])

    def findings(self, system="Pa"):
        """The threshold, the starts, and what a stopped fan cannot know."""
        threshold = f"{self.rule.stop_below_hz:.1f} Hz, window {self._window_text()}"
        source = "steady speeds of all hours, tried in the loop"
        if self.code == RIGHT:
            yield Finding("good", "The threshold is inside its window", threshold, "", source)
        else:
            yield Finding("wrong", f"The threshold is not right: {self.verdict_word}", threshold, _WHY[self.code], source, self._remedy())
        if self.too_many_starts:
            figure = f"{self.starts_per_hour:.0f} an hour, the motor bears {self.allowed.per_hour:.1f} if ever by-passed"
            why = "the stair holds no pressure without its fan, so it starts again as soon as the timer lets it"
            yield Finding("wrong", "Too many starts", figure, why, _NEMA, self._longer_said() or "a threshold inside the window")
        elif self.allowed is None:
            yield Finding("attention", "No starts an hour are known for this motor", "", "outside the table", _NEMA, "ask its maker")
        if self.trial("judged", "idle").starts_per_hour > 0:
            figure = f"{100 * self.trial('judged', 'idle').missed:.0f} % of the idle time without pressure"
            why, remedy = "its pressure is gone in a second with or without demand", "a call from the rooms or a clock to start the fan"
            yield Finding("attention", "A stopped fan cannot tell whether air is asked for", figure, why, NETWORK, remedy)

    def table(self, system="Pa"):
        """The trials, a row each."""
        columns = ("Threshold", "", "Demand", "Starts an hour", "Runs", "Without pressure", "Power")
        rows = tuple(_row(trial, system) for trial in self.trials)
        return Table("low_demand", "Low-demand stop, tried in the loop", columns, rows, note=self._window_said())

    def _window_text(self):
        return f"{self.window_hz[0]:.1f} to {self.window_hz[1]:.1f} Hz" if self.feasible else "none"

    def _window_said(self):
        idle, duty = self.ends_hz
        said = (
            f"Without demand ({self.idle_hours} hours) the fan idles at up to {idle:.1f} Hz, without any leak it would be at "
            f"{self.shutoff_hz:.1f} Hz; with demand ({self.asked_hours} hours) its lowest duty is at {duty:.1f} Hz"
        )
        if not self.feasible:
            return f"{said}: no threshold is right."
        return f"{said}: a threshold is right from {self._window_text()}."

    def _judged_said(self):
        said = f"The one of {self.rule.stop_below_hz:.1f} Hz"
        stopped = f"it stops the fan in {self.stopped_hours} of {self.idle_hours} hours without demand"
        cut_off = f"in {self.cut_off_hours} of {self.asked_hours} hours with demand"
        lost = f"in the hour of the lowest duty the pressure is lost for {100 * self.trial('judged', 'asked').missed:.0f} % of the time"
        return {
            RIGHT: f"{said} is.",
            NEVER_STOPS: f"{said} is too low: {stopped}.",
            CYCLES: f"{said} is too high: {stopped}, and {cut_off}; {lost}.",
            NO_WINDOW: f"With {self.rule.stop_below_hz:.1f} Hz {stopped}, and {cut_off}; {lost}.",
        }[self.code]

    def _starts_said(self):
        if self.starts_per_hour == 0:
            return
        limit = (
            "; no figure is known for this motor"
            if self.allowed is None
            else f", and the motor bears {self.allowed.per_hour:.1f} across the line, if ever by-passed"
        )
        yield f"It makes {self.starts_per_hour:.0f} starts an hour{limit}."
        if longer := self._longer_said():
            yield f"That would take {longer}."

    def _longer_said(self):
        return f"a restart after {self.restart_after_s:.0f} s" if self.restart_after_s is not None else ""

    def _energy_said(self):
        share = 100 * self.saved_kwh / self.idle_kwh if self.idle_kwh else 0.0
        return f"It saves {self.saved_kwh:.0f} of the {self.idle_kwh:.0f} kWh that the idle hours take ({share:.0f} %)."

    def _remedy(self):
        return (
            f"a threshold from {self._window_text()}"
            if self.feasible
            else "a call for air from the rooms or a clock instead of a threshold"
        )


_WHY = {
    NEVER_STOPS: "the loop holds the fan above it though no air is asked for",
    CYCLES: "it stops during a duty, loses the pressure and starts again",
    NO_WINDOW: "the fan idles as fast as its lowest duty asks for",
}


def _row(trial, system):
    names = {"never": "no stop", "below": "below the window", "inside": "inside", "above": "above the window", "judged": "as judged"}
    threshold = "" if trial.where == "never" else f"{trial.threshold_hz:.1f} Hz"
    shares = (f"{100 * trial.running:.0f} %", f"{100 * trial.missed:.0f} %")
    power = units.show(1000 * trial.kwh_per_hour, "power", system)
    return (names[trial.where], threshold, trial.when, f"{trial.starts_per_hour:.0f}", *shares, power)
