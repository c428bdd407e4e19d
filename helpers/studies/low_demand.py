"""Low-demand stop of a fan that holds a pressure for comfort: which speed may stop it, what happens outside that, what it saves in a year.

Never in the fire mode: there the study says so and calculates nothing. Limits: steady state in every hour; the stair's air is all the
store there is, so that a stopped fan's pressure is gone in a second, whether anybody asks for air or not.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from helpers.formulas import fan as fans
from helpers.formulas import low_demand as low_demands
from helpers.formulas import require
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.conditions import Conditions
from helpers.model.fan_power import electric_power_w, inlet_density_ratio, pressure_against
from helpers.model.loop.results import energy_kwh
from helpers.model.loop.run import Setup, own_low_demand, run_loop, settings_of
from helpers.studies.low_demand_results import FireMode, LowDemandStudy, Trial
from helpers.studies.weather import conditions_of_hours

__all__ = ["Demand", "FireMode", "LowDemandStudy", "low_demand_study"]

STOP_AFTER_S, RESTART_AFTER_S = 10.0, 5.0  # where the site states no rule; common practice, no source
RESTART_SHARE, LEAST_RESTART_PA = 0.25, 5.0  # of the set point; ours
CYCLES, LEAST_RUN_S = 4, 120.0  # so many cycles of the timers a trial lasts, and no less
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


class _Hours(NamedTuple):
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
    the fire mode. Raises ValueError for another number of hours, a margin below zero, or no steady state in any hour of a kind.
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
    return _Hours(conditions, held.air.speed_hz, held.state != "not found", site.fan.reference_speed_hz * shutoff,
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
    length = max(LEAST_RUN_S, CYCLES * (rule.stop_after_s + rule.restart_after_s))
    setup = Setup(length, low_demand=rule._replace(stop_below_hz=thresholds), every_reading=False)
    run = run_loop(tower, found.conditions.rows([hour for _, _, hour, _ in tried]), setup)
    missed = run.reading_pa < settings_of(tower.site).set_point_pa - rule.restart_error
    return tuple(
        Trial(where, when, float(thresholds[k]), *_cycle(run, k), float(missed[:, k].mean()), energy_kwh(run, k) * 3600 / length)
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
