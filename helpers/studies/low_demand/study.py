"""Low-demand stop of a fan that holds a pressure for comfort: which speed may stop it, what happens outside that, what it saves in a year.

Never in smoke control: there the study says so and calculates no stop. Limits: steady state in every hour; the stair's air is all the
store there is, so that a stopped fan's pressure is gone in a second, whether anybody asks for air or not.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas import fan as fans
from helpers.formulas import low_demand as low_demands
from helpers.formulas.low_demand import CYCLES, NEVER_STOPS, NO_WINDOW, RIGHT, VERDICTS, LowDemandRule, Starts
from helpers.model.air.conditions import Conditions, conditions_of_hours
from helpers.model.air.fan import electric_power_w, inlet_density_ratio, pressure_against
from helpers.model.loop.results import energy_kwh
from helpers.model.loop.run import Setup, own_low_demand, run_loop, settings_of
from helpers.studies.report import NETWORK, Finding, Table
from helpers.units.said import with_unit

ACROSS = "if run across the line"  # beside every figure of what a motor bears, and nowhere else: on its drive it starts softly
_NEMA = "NEMA MG 10-2001 table 2-3 (seen); for starts across the line: a ramped drive is gentler"
_NEVER = "A fan that keeps a stair free of smoke does not stop for low demand, whatever it would save."


@dataclass(frozen=True)
class FireMode:
    """What the study says of a loop in smoke control: no."""

    site_name: str

    def verdict(self):
        """The refusal in plain words."""
        return f"{self.site_name} is in smoke control: no low-demand stop. {_NEVER} No stop was calculated."

    def findings(self):
        """One: that there is none."""
        yield Finding("good", "No low-demand stop in smoke control", "", _NEVER, "life safety; the local code decides")


@dataclass(frozen=True)
class StopTrial:
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
    the same less the margins. rule: the one judged; code: a place in formulas.low_demand.VERDICTS. trials: of `StopTrial`. allowed:
    `Starts` of
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
    rule: LowDemandRule
    code: int
    trials: tuple
    allowed: Starts | None
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
        """Whether these are more than the motor may make across the line; False where the table says nothing."""
        return self.allowed is not None and self.starts_per_hour > self.allowed.per_hour

    @property
    def restart_after_s(self):
        """Restart time in whole seconds, rounded up, that keeps the idle hours within the motor's starts [s]; None where they are, or where
        the table says nothing."""
        idle = self.trial("judged", "idle").starts_per_hour
        if self.allowed is None or idle <= self.allowed.per_hour:
            return None
        return math.ceil(self.rule.restart_after_s + 3600 / float(self.allowed.per_hour) - 3600 / idle)

    def verdict(self):
        """Window, threshold, starts and energy in plain words."""
        return " ".join([self._window_said(), self._judged_said(), *self._starts_said(), self._energy_said()])

    def findings(self):
        """The threshold, the starts, and what a stopped fan cannot know."""
        threshold = f"{self.rule.stop_below_hz:.1f} Hz, window {self._window_text()}"
        source = "steady speeds of all hours, tried in the loop"
        if self.code == RIGHT:
            yield Finding("good", "The threshold is inside its window", threshold, "", source)
        else:
            yield Finding("wrong", f"The threshold is not right: {self.verdict_word}", threshold, _WHY[self.code], source, self._remedy())
        if self.too_many_starts:
            figure = f"{self.starts_per_hour:.0f} an hour, at most {self.allowed.per_hour:.1f} an hour {ACROSS}"
            why = "the stair holds no pressure without its fan, so it starts again as soon as the timer lets it"
            yield Finding("wrong", "Too many starts", figure, why, _NEMA, self._longer_said() or "a threshold inside the window")
        elif self.allowed is None:
            yield Finding("attention", "No starts an hour are known for this motor", "", "outside the table", _NEMA, "ask its maker")
        if self.trial("judged", "idle").starts_per_hour > 0:
            figure = f"{100 * self.trial('judged', 'idle').missed:.0f} % of the idle time without pressure"
            why, remedy = "its pressure is gone in a second with or without demand", "a call from the rooms or a clock to start the fan"
            yield Finding("attention", "A stopped fan cannot tell whether air is asked for", figure, why, NETWORK, remedy)
        if self.not_found:
            what = f"In {self.not_found} hours no steady state was found"
            yield Finding("attention", what, "", "the network did not settle", NETWORK, "do not rely on these hours")

    def table(self):
        """The trials, a row each."""
        columns = ("Threshold", "", "Demand", "Starts an hour", "Runs", "Without pressure", "Power")
        rows = tuple(_row(trial) for trial in self.trials)
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
            else f"; the motor may make at most {self.allowed.per_hour:.1f} an hour {ACROSS}"
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


def _row(trial):
    names = {"never": "no stop", "below": "below the window", "inside": "inside", "above": "above the window", "judged": "as judged"}
    threshold = "" if trial.where == "never" else f"{trial.threshold_hz:.1f} Hz"
    shares = (f"{100 * trial.running:.0f} %", f"{100 * trial.missed:.0f} %")
    power = with_unit(1000 * trial.kwh_per_hour, "power")
    return (names[trial.where], threshold, trial.when, f"{trial.starts_per_hour:.0f}", *shares, power)


STOP_AFTER_S, RESTART_AFTER_S = 10.0, 5.0  # where the site states no rule; common practice, no source
RESTART_SHARE, LEAST_RESTART_PA = 0.25, 5.0  # of the set point; ours
TRIAL_CYCLES, LEAST_RUN_S = 4, 120.0  # so many cycles of the timers a trial lasts, and no less
OUTSIDE_HZ = 2.0  # by so much the trials outside the window are outside


@dataclass(frozen=True)
class Demand:
    """When air is asked for: `asked` [hours] True or False; the levels whose stair doors and final exits stand open then. In the other
    hours all doors are shut and nobody misses the pressure."""

    asked: np.ndarray
    open_doors: tuple = ()
    open_exits: tuple = ()

    def __post_init__(self):
        flags = np.asarray(self.asked)
        if flags.dtype != bool or flags.ndim != 1:
            raise ValueError(f"asked must be a list of True and False, one an hour, got {self.asked!r:.60}")
        if flags.all() or not flags.any():
            raise ValueError(f"asked must have hours with and hours without demand, got {flags.sum()} of {flags.size} with")
        object.__setattr__(self, "asked", flags)

    @classmethod
    def by_clock(cls, hours, from_hour, to_hour, open_doors=(), open_exits=()):
        """Asked for every day from one whole hour of the day up to another (0 to 24; from 22 to 6 goes over midnight).

        hours: how many there are; open_doors, open_exits: levels, as the class has them. Raises ValueError for hours that no day has.
        """
        begin, end = (int(require.between(0, 24, **{name: hour})) for name, hour in (("from_hour", from_hour), ("to_hour", to_hour)))
        day = np.arange(int(hours)) % 24
        asked = (day >= begin) & (day < end) if begin <= end else (day >= begin) | (day < end)
        return cls(asked, tuple(open_doors), tuple(open_exits))


class _HourStates(NamedTuple):
    """Each hour's steady state: conditions, speed (held, or at one of the drive's limits), whether there is one, shut-off speed, power from
    the mains."""

    conditions: Conditions
    speed_hz: np.ndarray
    found: np.ndarray
    shutoff_hz: np.ndarray
    power_w: np.ndarray


def low_demand_study(tower, hours, demand, *, rule=None, margin_hz=1.0):
    """Look for the threshold of a low-demand stop over some hours of weather, a year as a rule, and try it in the loop.

    tower: `Tower`; hours: `Hours`; demand: `Demand` of as many hours; rule: `LowDemandRule` to judge (default: the site's own; where it has
    none, one in the middle of the window); margin_hz kept to both ends of the window. Returns `LowDemandStudy`, or `FireMode` for a site in
    smoke control. Raises ValueError for another number of hours, a margin below zero, or no steady state in any hour of a kind.
    """
    site = tower.site
    if site.control.fire_mode:
        return FireMode(site.name)
    if len(demand.asked) != len(hours):
        raise ValueError(f"demand must be for {len(hours)} hours, got {len(demand.asked)}")
    found = _steady(tower, hours, demand)
    asked, idle = demand.asked & found.found, ~demand.asked & found.found
    for flags, what in ((asked, "with"), (idle, "without")):
        if not flags.any():
            raise ValueError(f"hours must hold one {what} demand that has a steady state, got none")
    ends = found.speed_hz[idle].max(), found.speed_hz[asked].min()
    window = low_demands.threshold_window(*ends, margin_hz)
    judged = rule or own_low_demand(site) or _usual_rule(site, window)
    middle = sum(window) / 2 if window[0] < window[1] else None
    usual = int(np.flatnonzero(idle)[np.argsort(found.speed_hz[idle])[idle.sum() // 2]])
    least = int(np.where(asked, found.speed_hz, np.inf).argmin())
    trials = _trials(tower, found, judged, middle, usual, least)
    return LowDemandStudy(
        site.name, len(hours), int(idle.sum()), int(asked.sum()), int((~found.found).sum()), float(found.shutoff_hz[idle].max()),
        tuple(map(float, ends)), tuple(map(float, window)), judged, int(low_demands.verdict(judged.stop_below_hz, *ends, margin_hz)),
        trials, _allowed(site.fan.motor_power_w), *_in_the_year(found, idle, asked, judged, trials),
    )  # fmt: skip


def _steady(tower, hours, demand):
    site = tower.site
    opened = Conditions.of(site, next(iter(site.weather)), demand.open_doors, demand.open_exits)
    doors = {name: demand.asked[:, None] * getattr(opened, name) for name in ("stair_door_open", "lobby_door_open", "final_exit_open")}
    conditions = conditions_of_hours(site, hours, **doors)
    held = tower.hold(conditions)
    hardest = np.maximum(pressure_against(tower, held.air).max(axis=-1), 0.0)
    shutoff = fans.lowest_speed_for(hardest, tower.curve.shutoff_pa * inlet_density_ratio(tower, conditions))
    return _HourStates(conditions, held.air.speed_hz, held.state != "not found", site.fan.reference_speed_hz * shutoff,
                  electric_power_w(tower, held.air, conditions))  # fmt: skip


def _usual_rule(site, window):
    error = max(RESTART_SHARE * site.control.set_point_pa, LEAST_RESTART_PA)
    return LowDemandRule(sum(window) / 2, STOP_AFTER_S, error, RESTART_AFTER_S)


def _trials(tower, found, rule, middle, idle, asked):
    """The loop in an idle hour and in the hour of the lowest duty, with thresholds below, in and above the window, and without a stop."""
    inside = [] if middle is None else [("inside", "idle", idle, middle), ("inside", "asked", asked, middle)]
    tried = [
        ("never", "idle", idle, 0.0),
        ("never", "asked", asked, 0.0),
        ("below", "idle", idle, found.speed_hz[idle] - OUTSIDE_HZ),
        *inside,
        ("above", "asked", asked, found.speed_hz[asked] + OUTSIDE_HZ),
        ("judged", "idle", idle, rule.stop_below_hz),
        ("judged", "asked", asked, rule.stop_below_hz),
    ]
    thresholds = np.array([max(threshold, 0.0) for *_, threshold in tried])
    length = max(LEAST_RUN_S, TRIAL_CYCLES * (rule.stop_after_s + rule.restart_after_s))
    setup = Setup(length, low_demand=rule._replace(stop_below_hz=thresholds), every_reading=False)
    run = run_loop(tower, found.conditions.rows([hour for _, _, hour, _ in tried]), setup)
    missed = run.reading_pa < settings_of(tower.site).set_point_pa - rule.restart_error
    return tuple(
        StopTrial(where, when, float(thresholds[k]), *_cycle(run, k), float(missed[:, k].mean()), energy_kwh(run, k) * 3600 / length)
        for k, (where, when, *_) in enumerate(tried)
    )


def _cycle(run, number):
    """Starts an hour by the mean time between two starts (none with fewer than two), and the share of the time in which the fan runs."""
    running = run.running[:, number]
    starts = run.time_s[1:][~running[:-1] & running[1:]]
    per_hour = 3600 * (len(starts) - 1) / (starts[-1] - starts[0]) if len(starts) > 1 else 0.0
    return float(per_hour), float(running.mean())


def _allowed(power_w):
    """Starts an hour of the motor across the line; None where the table has no such motor."""
    sizes = [row[0] * low_demands.WATTS_PER_HORSEPOWER for row in low_demands.NEMA_MG10_STARTS]
    return low_demands.starts_allowed(power_w) if sizes[0] <= power_w <= sizes[-1] else None


def _in_the_year(found, idle, asked, rule, trials):
    """Hours without demand that the judged rule stops in and hours with demand that it cuts off; energy of the idle hours [kWh], and what
    it saves of it: the share that it saves in the usual idle hour, in all it stops in."""
    by_kind = {(trial.where, trial.when): trial.kwh_per_hour for trial in trials}
    share = max(0.0, 1 - by_kind["judged", "idle"] / by_kind["never", "idle"])
    below = found.speed_hz < rule.stop_below_hz
    taken = found.power_w / 1000
    return int((idle & below).sum()), int((asked & below).sum()), float(taken[idle].sum()), float(share * taken[idle & below].sum())
