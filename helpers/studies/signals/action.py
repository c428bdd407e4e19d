"""Reverse or direct: found from the model's own answer to a change of speed, not from a table; and what becomes of a loop let go.

Each demo site in one state of weather or traffic, all doors shut. Its air is solved once; a run then only looks it up.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from helpers import require
from helpers.formulas import action as actions
from helpers.formulas.combining import combine
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.events import TapFault, schedule
from helpers.model.loop.run import Setup, run_on_air, settings_of
from helpers.model.plants.kinds import plant_of, read_any_site
from helpers.model.plants.pressure_plant import BuildingConditions, GarageConditions
from helpers.model.site.file import demo_sites
from helpers.model.sweep import AirTable, at, meets
from helpers.studies.cases import Case, case_said, conditions_of
from helpers.studies.doors.open import AREAS_M2, with_release
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.relief_damper import lifted
from helpers.studies.report import NETWORK, PRACTICE, Finding
from helpers.studies.signals.steady_loop import Price, price_of
from helpers.units.said import with_unit

LEAST_ANSWER_PA = 0.5  # ours: a reading that moves less between the two speeds cannot run a loop
SIGN_PA = 1e-3  # below it the network's own rounding may decide whether a reading rises or falls
FOLLOW_SHARE = 0.8  # ours: low sides that take more of the stair's change along than this are what keeps the reading still
STEP_SHARE = 0.1  # of the speed range, up and down from the duty speed


@dataclass(frozen=True)
class Acting:
    """What the readings do when the fan turns faster, and what follows.

    slow_hz, fast_hz, slow_pa, fast_pa (combined reading) by case; answers: +1 up, -1 down, 0 too little to hold, by case; fan_effect: the
    common one (None where the cases disagree, or none changes at all); action: "reverse", "direct" or None; stated: the site's own.
    follows [cases]: share of the stair's change that the low sides take along; beside [cases]: whether a door beside a transmitter stands
    open; lifts [cases]: whether the relief damper has lifted. weak: whether the action is known by its sign, and the reading answers too
    little to be held: in no case enough to run a loop, or at full speed with all doors shut since the low sides follow. release_m2: the
    least air release tried on each floor with which the fan holds the set point with all doors shut (None: not needed, or none does).
    """

    cases: tuple
    slow_hz: np.ndarray
    fast_hz: np.ndarray
    slow_pa: np.ndarray
    fast_pa: np.ndarray
    answers: np.ndarray
    fan_effect: int | None
    action: str | None
    stated: str
    follows: np.ndarray
    beside: np.ndarray
    lifts: np.ndarray
    weak: bool = False
    release_m2: float | None = None

    def weak_said(self):
        """That the gain of the reading over speed is too small to hold, why, and in how much it answers, in words; "" where it is not."""
        if not self.weak:
            return ""
        place = int(np.argmax(np.abs(self.fast_pa - self.slow_pa)))
        change, slow, fast = (
            with_unit(abs(self.fast_pa[place] - self.slow_pa[place]), "pressure", (2, 4)),
            *(with_unit(array[place], "frequency") for array in (self.slow_hz, self.fast_hz)),
        )
        way = "rises" if self.fan_effect > 0 else "falls"
        return f"the gain is too small to hold: from {slow} to {fast} the reading {way} by {change} at the most; {self._why_still(place)}"

    def _why_still(self, place):
        """Why the reading of a case stays where it is."""
        if self.lifts[place]:
            return "the relief damper has lifted, and lets out what the fan brings more"
        if not self.beside[place] and self.follows[place] > FOLLOW_SHARE:
            fill = "the floors fill up" if self.fan_effect != -1 else "the floors are drawn down"
            return f"{fill} and take {100 * self.follows[place]:.0f} % of the stair's change along, and the reading is stair to floor"
        return "a door stands open beside what the transmitter reads, or the fan has nothing to push against"

    def _release_said(self):
        """What lets the floors' air out again, and what it was tried against."""
        least, most = (with_unit(area, "area", 2) for area in (AREAS_M2[0], AREAS_M2[-1]))
        if self.release_m2 is None:
            return (
                f"air release to outdoors on the floors and a fan for it: with none of {least} to {most} a floor this fan holds, doors shut"
            )
        area = with_unit(self.release_m2, "area", 2)
        return (
            f"air release to outdoors: {area} on each floor is the least tried ({least} to {most}) with which this fan holds the set point "
            "in every case with all doors shut; doors, open doors and tuning again with it"
        )

    @property
    def way_said(self):
        """Which way the reading has to move the speed, in words: what the name of the action leaves to be puzzled out."""
        return f"the fan must {'slow down' if self.action == 'reverse' else 'speed up'} when the reading is above the set point"

    @property
    def agrees(self):
        """Whether the site states the action that holds."""
        return self.action == self.stated

    def verdict(self):
        """The action and its reason, in plain words."""
        if self.action is None:
            return "No action can be named: the reading does not answer to the fan's speed in one and the same way in all cases."
        if self.weak:
            said = f"{self.action.capitalize()} acting, but {self.weak_said()}. {self._release_said().capitalize()}."
            return said if self.agrees else f"{said} The site file states {self.stated}: that loop would run away."
        place = int(np.argmax(np.abs(self.answers)))
        slow, fast = (with_unit(array[place], "pressure") for array in (self.slow_pa, self.fast_pa))
        slow_hz, fast_hz = (with_unit(array[place], "frequency") for array in (self.slow_hz, self.fast_hz))
        way = "rises" if self.fan_effect > 0 else "falls"
        said = (
            f"{self.action.capitalize()} acting. From {slow_hz} to {fast_hz} the reading {way} from {slow} to {fast} "
            f"({self.cases[place].name}), so {self.way_said}."
        )
        return said if self.agrees else f"{said} The site file states {self.stated}: that loop would run away."

    def findings(self):
        """A wrong action, and cases in which the reading does not answer."""
        return tuple(self._findings())

    def _findings(self):
        if self.action is not None and not self.agrees:
            stop = actions.end_stop(self.stated, self.fan_effect, actions.error(1.0, 0.0, self.stated))
            yield Finding("wrong", f"The action is stated as {self.stated} and must be {self.action}", f"fan effect {self.fan_effect:+d}",
                          f"with the wrong action an error drives itself on: below the set point the fan runs to {stop}",
                          f"sign once round the loop; {PRACTICE}", f"set the loop to {self.action} acting: {self.way_said}")  # fmt: skip
        if self.weak:
            yield Finding("wrong", f"{self.action.capitalize()} acting is right, but the reading's gain over speed is too small to hold",
                          self.weak_said(), "a loop that hardly sees what its fan does runs to full speed and stays there", NETWORK,
                          self._release_said())  # fmt: skip
            return
        if self.agrees:
            yield Finding("good", f"The action stated, {self.stated}, holds: {self.way_said}", f"fan effect {self.fan_effect:+d}")
        for place in np.flatnonzero(self.answers == 0):
            change = with_unit(self.fast_pa[place] - self.slow_pa[place], "pressure", 2)
            yield Finding("attention", f"The reading hardly answers to the fan: {self.cases[place].name}", change,
                          self._why_still(place), NETWORK,
                          "a relief damper that opens later, or a lower set point" if self.lifts[place] else
                          "another place for the transmitter, another rule, or air release on the floors")  # fmt: skip


def acting(tower, comparison, rule):
    """Find the action from the combined reading at two speeds in every case.

    comparison: `RuleComparison`; rule: one of its rules, whose speeds are the middle of the step. Returns `Acting`.
    Raises ValueError for a rule that was not compared. Limits: the steady answer; a reading may first go the other way for a moment.
    """
    result, site = comparison[rule], tower.site
    lowest, highest = site.fan.lowest_speed_hz, site.fan.highest_speed_hz
    step = STEP_SHARE * (highest - lowest)
    slow, fast = np.clip(result.speed_hz - step, lowest, highest), np.clip(result.speed_hz + step, lowest, highest)
    count, weights = len(result.cases), site.control.weights if rule == "weighted" else None
    both = conditions_of(site, result.cases).rows(np.tile(np.arange(count), 2))
    air, taps = tower.solve(both, np.concatenate([slow, fast])), comparison.transmitters
    readings = tower.readings(air, taps)
    reading = combine(readings, rule, weights=weights)
    slow_pa, fast_pa = reading[:count], reading[count:]
    change = fast_pa - slow_pa
    answers = np.where(np.abs(change) >= LEAST_ANSWER_PA, np.sign(change), 0).astype(int)
    signs = answers[answers != 0] if answers.any() else np.where(np.abs(change) >= SIGN_PA, np.sign(change), 0).astype(int)
    effects = set(signs.tolist())
    effect = effects.pop() if len(effects) == 1 and 0 not in effects else None
    action = None if effect is None else actions.action_for(effect)
    stair, seen = (np.diff(one.reshape(2, count, -1).mean(axis=-1), axis=0)[0] for one in (_stair_at(tower, air, taps), readings))
    follows = 1 - np.divide(seen, stair, out=np.ones(count), where=np.abs(stair) > SIGN_PA)
    levels = {tap.level for tap in taps}
    beside = np.array([not levels.isdisjoint(case.open_doors) for case in result.cases])
    found = Acting(result.cases, slow, fast, slow_pa, fast_pa, answers, effect, action, site.control.action, follows, beside,
                   lifted(tower, both, air.stair_pa).reshape(2, count).any(axis=0))  # fmt: skip
    shut = np.array([case.shut for case in result.cases])
    filled = bool(np.all((result.state[shut] == "at full speed") & (follows[shut] > FOLLOW_SHARE)))
    if action is None or (answers.any() and not filled):
        return found
    release = _release_tried(tower, comparison, rule, weights)
    return replace(found, weak=not answers.any() or release is not None, release_m2=release)


def _stair_at(tower, air, taps):
    return air.stair_pa[:, [tower.storey(tap.level) for tap in taps]]


def _release_tried(tower, comparison, rule, weights):
    """The least of AREAS_M2 on each floor with which the stated fan holds the set point in every case with all doors shut, or None."""
    shut, levels = [case for case in comparison.cases if case.shut], tower.levels
    for area in AREAS_M2:
        tried = Tower(with_release(tower.site, levels, area))
        held = tried.hold(conditions_of(tried.site, shut), comparison.set_point_pa, comparison.transmitters, rule, weights)
        if held.held.all():
            return area
    return None


STEP_PERCENT = 5.0  # by hand: so much faster
HAND_SHARE = 0.25  # of the run, after which the hand moves
AT_STOP_HZ = 0.05
HELD_SHARE = 0.02  # of the span: closer than this the reading counts as held


@dataclass(frozen=True)
class LetGo:
    """How a loop is let go: beside the set point by so much [% of span, the true reading], with which gain (share of the site's own) and
    action, tubes reversed at every transmitter or not, in automatic or by hand (a little faster after a while)."""

    deviation_percent: float
    action: str
    gain_share: float = 1.0
    swapped: bool = False
    by_hand: bool = False


@dataclass(frozen=True)
class Runaway:
    """What came of it. deviation: what it started beside the set point by, as near as the fan can bring it. time_s, speed_hz, read (as the
    controller reads it), true (the same rule on what is really there), arrays of samples; all of these in the reading's own unit.

    end: "lowest speed", "full speed", "held", "under way", or of a loop that feeds its errors "balanced", where so far it stands near the
    set point; at_s: when it got there (NaN: under way or balanced); heads: the one of END_STOPS where it is or to which it runs, "held"
    where it comes back; price: `Price` at the end."""

    letgo: LetGo
    deviation: float
    time_s: np.ndarray
    speed_hz: np.ndarray
    read: np.ndarray
    true: np.ndarray
    end: str
    at_s: float
    heads: str
    price: Price


class _LoopLetGo:
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
        wanted = at(speeds, meets(self.effect * readings, self.effect * (self.set_point + deviation)).place)
        return float(np.clip(wanted, self.fan.lowest_speed_hz, self.fan.highest_speed_hz))

    def process_gain(self, deviation):
        """Size of the reading's answer to speed between the set point and so far beside it [% of span by % of full speed]."""
        moved = abs(self.start_hz(deviation) - self.start_hz(0.0)) / self.fan.highest_speed_hz
        return abs(deviation) / self.span / moved

    def let_go(self, letgo):
        """Run it. Returns `Runaway`; raises ValueError for what this site cannot have."""
        deviation = self._reachable(letgo.deviation_percent / 100 * self.span)
        start = self.start_hz(deviation)
        run = run_on_air(self.air(deviation), self.site, self._setup(letgo, start), self.transmitters(), self._settings(letgo), 1, start)
        speed, true = run.speed_hz[:, 0], self.combined(run.tubes_pa[..., 0])
        feeds = self.feeds(letgo)
        end, at_s = self._end(run.time_s, speed, run.reading_pa[:, 0], feeds)
        ran = actions.END_STOPS[0 if speed[-1] < speed[0] else 2]
        heads = end if end in actions.END_STOPS else ran if feeds or letgo.swapped else "held"
        return Runaway(letgo, deviation, run.time_s, speed, run.reading_pa[:, 0], true, end, at_s, heads, price_of(self, run))

    def _reachable(self, deviation):
        """A distance from the set point, no farther than the fan can bring the reading between its lowest and its full speed."""
        speeds, readings = self.steady
        ends = np.interp((self.fan.lowest_speed_hz, self.fan.highest_speed_hz), speeds, readings) - self.set_point
        return float(np.clip(deviation, ends.min(), ends.max()))

    def feeds(self, letgo):
        """Whether the sign once round the loop, the tubes' counted in, lets an error feed itself."""
        return (actions.loop_sign(letgo.action, self.effect) == actions.RUNS_AWAY) != letgo.swapped

    def _settings(self, letgo):
        own = self.settings()
        return replace(own, action=letgo.action, gain=own.gain * letgo.gain_share)

    def _setup(self, letgo, start_hz):
        faults = tuple(TapFault(number, "tube swapped") for number in range(len(self.transmitters()))) if letgo.swapped else ()
        if not letgo.by_hand:
            return replace(self.setup, faults=faults)
        percent, turn = 100 * start_hz / self.fan.highest_speed_hz, HAND_SHARE * self.length_s
        faster = min(percent + STEP_PERCENT, 100.0)
        return replace(self.setup, faults=faults, hand=((0.0, turn, percent), (turn, self.length_s, faster)))

    def _end(self, time, speed, read, feeds):
        ends = {"lowest speed": self.fan.lowest_speed_hz, "full speed": self.fan.highest_speed_hz}
        for end, limit in ends.items():
            if abs(speed[-1] - limit) <= AT_STOP_HZ:
                return end, _since(time, np.abs(speed - limit) <= AT_STOP_HZ)
        near = np.abs(read - self.set_point) <= HELD_SHARE * self.span
        if near[-1] and not feeds:
            return "held", _since(time, near)
        return "balanced" if near.all() else "under way", float("nan")


class _StairLetGo(_LoopLetGo):
    kind, name, where, weather = "stair", "Larkfield House", "winter, all doors shut", "winter"
    air_said = property(lambda self: case_said(Case("", self.weather), self.site).removesuffix(", doors shut"))

    def settings(self):
        return settings_of(self.site)

    def transmitters(self):
        return self.site.transmitters

    def _prepare(self):
        self.window = pressure_window(self.site)
        table = AirTable.of(self.plant, schedule(self.plant, Conditions.of(self.site, self.weather), (), self.length_s))
        _look_up(self, table)

    def air(self, deviation):
        return self.table


class _BuildingLetGo(_LoopLetGo):
    kind, name, where, length_s = "building", "Quayside Lab", "mild weather", 90.0

    def _prepare(self):
        _look_up(self, self.plant.table(BuildingConditions.of(self.site, "mild"), self.setup))

    def air(self, deviation):
        return self.table


class _GarageLetGo(_LoopLetGo):
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
            raise ValueError(f"tubes must be correct at {self.name}: a gas transmitter has no tubes to reverse.")
        return super()._setup(letgo, start_hz)


BENCHES = {made.name: made for made in (_StairLetGo, _BuildingLetGo, _GarageLetGo)}


@cache
def bench(name):
    """The bench of a site, made once. Raises ValueError for a site that has none."""
    require.one_of(BENCHES, name=name)
    return BENCHES[name]()


def _look_up(bench, table):
    speeds, readings = table.at_start()
    bench.table, bench.steady = table, (speeds, bench.combined(readings[..., 0]))


def _since(time, good):
    """The time from which something stays so to the end."""
    bad = np.flatnonzero(~good)
    return float(time[0] if bad.size == 0 else time[min(bad[-1] + 1, len(time) - 1)])
