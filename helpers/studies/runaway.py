"""A loop let go beside its set point, with the right or the wrong action: where it ends, how soon, and what that is like for people.

Each demo site in one state of weather or traffic, all doors shut. Its air is solved once; a run then only looks it up.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas.combining import combine
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.conditions import Conditions
from helpers.model.loop.air_table import AirTable
from helpers.model.loop.events import schedule
from helpers.model.loop.faults import Fault
from helpers.model.loop.run import Setup, run_on_air, settings_of
from helpers.model.plants import BuildingConditions, GarageConditions, plant_of, read_any_site
from helpers.model.site import demo_sites
from helpers.studies.runaway_prices import price_of
from helpers.studies.window import pressure_window

__all__ = ["BENCHES", "LetGo", "Runaway", "bench"]

STEP_PERCENT = 5.0  # by hand: so much faster
HAND_SHARE = 0.25  # of the run, after which the hand moves
AT_STOP_HZ = 0.05
HELD_SHARE = 0.02  # of the span: closer than this the reading counts as held


@dataclass(frozen=True)
class LetGo:
    """How a loop is let go: beside the set point by so much [% of span, the true reading], with which gain (share of the site's own) and
    action, tubes swapped at every transmitter or not, in automatic or by hand (a little faster after a while)."""

    deviation_percent: float
    action: str
    gain_share: float = 1.0
    swapped: bool = False
    by_hand: bool = False


@dataclass(frozen=True)
class Runaway:
    """What came of it. time_s, speed_hz, read (as the controller reads it), true (the same rule on what is really there), arrays of
    samples in the reading's own unit; start_hz; end: "lowest speed", "full speed", "held" or "under way"; at_s: when it got there (NaN:
    under way); price: `Price` at the end."""

    letgo: LetGo
    time_s: np.ndarray
    speed_hz: np.ndarray
    read: np.ndarray
    true: np.ndarray
    end: str
    at_s: float
    price: object


class _Bench:
    """A site whose loop can be let go. Subclasses say which site, which conditions, and how its air is looked up."""

    kind, name, where, dimension, length_s, least_speeds = "", "", "", "pressure", 60.0, 32

    def __init__(self):
        self.site = read_any_site(demo_sites(self.kind)[self.name])
        self.plant = plant_of(self.site)
        self.fan, self.set_point = self.site.fan, self.settings().set_point_pa
        self.effect = int(self.plant.effect)
        self.right_action = actions.action_for(self.effect)
        self.setup = Setup(self.length_s, sample_s=self.site.control.sample_s)
        self._prepare()

    @property
    def span(self):
        """Span of the first transmitter, in the reading's unit."""
        return self.settings().span_pa

    def settings(self):
        """The site's own controller settings."""
        return self.plant.settings()

    def transmitters(self):
        """Transmitters as the signal chain takes them."""
        return self.plant.transmitters()

    def combined(self, values, axis=-1):
        """The site's own rule on some values."""
        return combine(values, self.site.control.rule, axis=axis)

    def start_hz(self, deviation):
        """Speed at which the true reading stands beside the set point by so much, or the drive's limit on its way."""
        speeds, readings = self.steady
        wanted = np.interp(self.effect * (self.set_point + deviation), self.effect * readings, speeds)
        return float(np.clip(wanted, self.fan.lowest_speed_hz, self.fan.highest_speed_hz))

    def process_gain(self, deviation):
        """Size of the reading's answer to speed between the set point and so far beside it [% of span by % of full speed]."""
        moved = abs(self.start_hz(deviation) - self.start_hz(0.0)) / self.fan.highest_speed_hz
        return abs(deviation) / self.span / moved

    def let_go(self, letgo):
        """Run it. Returns `Runaway`; raises ValueError for what this site cannot have."""
        deviation = letgo.deviation_percent / 100 * self.span
        start = self.start_hz(deviation)
        run = run_on_air(self.air(deviation), self.site, self._setup(letgo, start), self.transmitters(), self._settings(letgo), 1, start)
        speed, true = run.speed_hz[:, 0], self.combined(run.tubes_pa[..., 0])
        end, at_s = self._end(run.time_s, speed, run.reading_pa[:, 0])
        return Runaway(letgo, run.time_s, speed, run.reading_pa[:, 0], true, end, at_s, price_of(self, run))

    def _settings(self, letgo):
        own = self.settings()
        return replace(own, action=letgo.action, gain=own.gain * letgo.gain_share)

    def _setup(self, letgo, start_hz):
        faults = tuple(Fault(number, "tube swapped") for number in range(len(self.transmitters()))) if letgo.swapped else ()
        if not letgo.by_hand:
            return replace(self.setup, faults=faults)
        percent, turn = 100 * start_hz / self.fan.highest_speed_hz, HAND_SHARE * self.length_s
        faster = min(percent + STEP_PERCENT, 100.0)
        return replace(self.setup, faults=faults, hand=((0.0, turn, percent), (turn, self.length_s, faster)))

    def _end(self, time, speed, read):
        ends = {"lowest speed": self.fan.lowest_speed_hz, "full speed": self.fan.highest_speed_hz}
        for end, limit in ends.items():
            if abs(speed[-1] - limit) <= AT_STOP_HZ:
                return end, _since(time, np.abs(speed - limit) <= AT_STOP_HZ)
        near = np.abs(read - self.set_point) <= HELD_SHARE * self.span
        return ("held", _since(time, near)) if near[-1] else ("under way", float("nan"))


class _Stair(_Bench):
    kind, name, where = "stair", "Larkfield House", "winter, all doors shut"

    def settings(self):
        return settings_of(self.site)

    def transmitters(self):
        return self.site.transmitters

    def _prepare(self):
        self.window = pressure_window(self.site)
        table = AirTable.of(self.plant, schedule(self.plant, Conditions.of(self.site, "winter"), (), self.length_s))
        _look_up(self, table)

    def air(self, deviation):
        return self.table


class _Building(_Bench):
    kind, name, where, length_s = "building", "Quayside Lab", "mild weather", 90.0

    def _prepare(self):
        _look_up(self, self.plant.table(BuildingConditions.of(self.site, "mild"), self.setup))

    def air(self, deviation):
        return self.table


class _Garage(_Bench):
    kind, name, where, dimension, length_s = "garage", "Orchard Garage", "busy", "concentration", 1500.0

    def _prepare(self):
        day, rush = (np.array(self.site.traffic[traffic].running) for traffic in ("day", "rush"))
        self.conditions = GarageConditions.of(self.site, running=(day + rush) / 2)
        speeds = np.linspace(self.fan.lowest_speed_hz, self.fan.highest_speed_hz, self.least_speeds)
        gas = self.plant.steady_ppm(self.conditions.rows(np.zeros(len(speeds), int)), speeds)
        self.steady, self.steady_gas = (speeds, self.combined(gas[:, self.plant.at])), gas
        never = LowDemandRule(0.0, 0.0, 0.0, 0.0)  # its low-demand stop would hide what the action does
        self.setup = replace(self.setup, lag_s=self.plant.lag_s(self.setup), low_demand=never)

    def air(self, deviation):
        """Gas at the start: as it stands when the set point is held, thinned or thickened to the deviation."""
        held = np.array([np.interp(self.start_hz(0.0), self.steady[0], zone) for zone in self.steady_gas.T])
        target = self.set_point + deviation
        return self.plant.table(self.conditions, self.setup, start_ppm=held * target / self.combined(held[self.plant.at]))

    def _setup(self, letgo, start_hz):
        if letgo.swapped:
            raise ValueError(f"tubes must be as they are at {self.name}: a gas transmitter has none that could be swapped.")
        return super()._setup(letgo, start_hz)


BENCHES = {made.name: made for made in (_Stair, _Building, _Garage)}


@cache
def bench(name):
    """The bench of a site, made once. Raises ValueError for a site that has none."""
    if name not in BENCHES:
        raise ValueError(f"name must be one of {', '.join(BENCHES)}; got {name!r:.60}")
    return BENCHES[name]()


def _look_up(bench, table):
    speeds, readings = table.at_start()
    bench.table, bench.steady = table, (speeds, bench.combined(readings[..., 0]))


def _since(time, good):
    """The time from which something stays so to the end."""
    bad = np.flatnonzero(~good)
    return float(time[0] if bad.size == 0 else time[min(bad[-1] + 1, len(time) - 1)])
