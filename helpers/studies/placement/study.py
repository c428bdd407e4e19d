"""Where the transmitters go and which rule combines them: every choice (levels, rule, set point) judged under the same sampled conditions.

All is drawn from one seed before anything is solved, so that a run on many processes is the run on one; each condition is solved once over
the fan's speeds, then every choice is looked up in that. Steady state: how a loop gets there is the loop's own study.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from helpers import require, units
from helpers.formulas.combining import RULES
from helpers.formulas.uncertainty import SHAPES
from helpers.model.air.conditions import Conditions, conditions_of_hours
from helpers.model.air.stair_heat import stair_air, with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Transmitter
from helpers.studies.cases import levels_text, one_number
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.placement.lookup import Lookup, Tally, groups_of, solve_curves
from helpers.studies.placement.results import HOURS_OF_A_YEAR, Placement, PlacementQuestion
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.report import listed
from helpers.units.said import with_unit

MOST_CONDITIONS = 100_000
# How an error within its bound is spread, as a share of the bound.
_ERRORS = {
    "rectangular": lambda rng, shape: rng.uniform(-1.0, 1.0, shape),
    "triangular": lambda rng, shape: rng.triangular(-1.0, 0.0, 1.0, shape),
    "normal 95 %": lambda rng, shape: rng.standard_normal(shape) / SHAPES["normal 95 %"],
}


@dataclass(frozen=True)
class Chances:
    """What is drawn, and how it is spread. The defaults are invented for teaching: state your own.

    stair_doors_open: chances that none, one, two ... stair doors (with their lobby doors) stand open at once, any doors alike.
    final_exit_open: chance that a final exit stands open. leak_spread: standard deviation of the logarithm of the leak factor that all
    walls of the building share; leak_spread_storey: of another one drawn for each storey; log-normal, middle 1. error: how a transmitter's
    error lies within its accuracy, one of the shapes of formulas.uncertainty. stair_share: of the way from floor to outdoor temperature at
    which the stair stands (None: each condition is judged in the stair's first minute and after an hour, the worse decides). Limits: the
    draws know nothing of each other, whereas on a windy day people shut windows and after an hour of alarm all doors have been used; doors
    themselves do not leak more or less.
    """

    stair_doors_open: tuple = (0.6, 0.25, 0.15)
    final_exit_open: float = 0.1
    leak_spread: float = 0.3
    leak_spread_storey: float = 0.2
    error: str = "rectangular"
    stair_share: float | None = None

    def __post_init__(self):
        chances = require.between(0, 1, stair_doors_open=self.stair_doors_open)
        if chances.ndim != 1 or abs(chances.sum() - 1) > 1e-9:
            raise ValueError(f"stair_doors_open must be chances of 0, 1, 2 ... open doors that sum to 1, got {self.stair_doors_open!r:.60}")
        for name in ("final_exit_open", "leak_spread", "leak_spread_storey"):
            value = require.between(0, 1 if name == "final_exit_open" else 2, **{name: getattr(self, name)})
            if value.ndim:
                raise ValueError(f"{name} must be one number, got {getattr(self, name)!r:.60}")
        require.one_of(_ERRORS, error=self.error)


@dataclass(frozen=True)
class Drawn:
    """Drawn conditions: `conditions` (a row each), `error_share` [conditions, storeys] of the accuracy that a transmitter there reads too
    much (below zero: too little), and `said`, in sentences, how they were drawn. both_airs: each condition is judged with the stair as warm
    as the rooms and as cold as an hour makes it, whatever stair_c says."""

    conditions: Conditions
    error_share: np.ndarray
    said: tuple
    both_airs: bool = False

    def __post_init__(self):
        shape = self.conditions.leak_factor.shape
        error = require.finite(error_share=self.error_share)
        if error.shape != shape:
            raise ValueError(f"error_share must be one for each condition and storey, shape {shape}, got shape {error.shape}")

    def __len__(self):
        return len(self.conditions)

    def rows(self, chosen):
        """The chosen draws (a slice or indices)."""
        return Drawn(self.conditions.rows(chosen), self.error_share[chosen], self.said, self.both_airs)


def draw(site, hours, count=1000, seed=1, chances=None):
    """Draw conditions for a site.

    hours: `Hours` to draw from, each as likely; count: how many conditions; seed: a whole number, the same seed gives the same draws;
    chances: `Chances`. Returns `Drawn`. Raises ValueError for a count or seed that is no whole number, or more open doors than there are.
    """
    chances, count = chances or Chances(), _whole("count", count, 1, MOST_CONDITIONS)
    rng = np.random.default_rng(_whole("seed", seed, 0, 2**63 - 1))
    storeys = site.storeys
    picked = rng.integers(len(hours), size=count)
    opened = _open_doors(rng, site, count, chances.stair_doors_open)
    exits = np.array([storey.final_exit_door is not None for storey in storeys])
    exits_open = (rng.random((count, len(storeys))) < chances.final_exit_open) & exits
    building = chances.leak_spread * rng.standard_normal((count, 1))
    leaks = np.exp(building + chances.leak_spread_storey * rng.standard_normal((count, len(storeys))))
    error = _ERRORS[chances.error](rng, (count, len(storeys)))
    conditions = conditions_of_hours(
        site, hours.rows(picked), chances.stair_share, stair_door_open=opened, lobby_door_open=opened, final_exit_open=exits_open,
        leak_factor=leaks,
    )  # fmt: skip
    return Drawn(conditions, error, _said(site, hours, count, seed, chances), chances.stair_share is None)


def stated_weathers(site):
    """The weathers of a site file as `Drawn`: doors shut, walls as stated, readings exact, both airs of the stair. The hours of a station
    may never be as cold, as hot or as windy as what the site is designed for."""
    conditions = Conditions.joined(Conditions.of(site, name) for name in site.weather)
    said = f"Every weather of the site file ({listed(site.weather)}), doors shut, walls as stated, readings exact."
    return Drawn(conditions, np.zeros(conditions.leak_factor.shape), (said,), both_airs=True)


def _open_doors(rng, site, count, chances):
    """Flags [conditions, storeys]: in each condition as many stair doors as drawn, any of them alike."""
    there = [i for i, storey in enumerate(site.storeys) if storey.stair_door and storey.stair_door_count]
    if len(chances) - 1 > len(there):
        raise ValueError(f"stair_doors_open must tell of no more doors than the {len(there)} there are, got chances of {len(chances) - 1}")
    number = rng.choice(len(chances), size=count, p=np.asarray(chances) / np.sum(chances))
    opened = np.zeros((count, len(site.storeys)), bool)
    opened[:, there] = rng.random((count, len(there))).argsort(axis=1) < number[:, None]
    return opened


def _said(site, hours, count, seed, chances):
    doors = ", ".join(f"{number}: {100 * share:.0f} %" for number, share in enumerate(chances.stair_doors_open))
    year = "a typical year (public hourly data)" if len(hours) == HOURS_OF_A_YEAR else hours.name
    spread = {"rectangular": "rectangular (any value within it as likely)"}.get(chances.error, chances.error)
    temperature = units.show(site.temperatures.floor_c, "temperature")
    stair = "Each condition is judged in the first minute, the stair as warm as the rooms, and after an hour of the fan; the worse decides."
    if chances.stair_share is not None:
        way = f"{100 * chances.stair_share:.0f} % of the way"
        stair = f"The stair's air stands {way} from the floors' {temperature} to the outdoor air's temperature."
    return (
        f"{count} condition{'s' * (count > 1)} drawn with seed {seed} (the same seed draws the same ones); weather: any of {len(hours)} "
        f"hours of {year}, temperature and wind together.",
        f"Stair doors open at once, with their lobby doors: {doors}; final exit open: {100 * chances.final_exit_open:.0f} %.",
        f"Walls' leaks: the site file's times a factor, above one as often as below (log-normal), spread of its logarithm "
        f"{chances.leak_spread:g} for the building and {chances.leak_spread_storey:g} for each storey besides; "
        "doors leak as the site file says.",
        f"Transmitter error: within its accuracy, {spread}, another one in each condition and on each storey.",
        stair,
    )


def _whole(name, value, least, most):
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or not least <= value <= most:
        raise ValueError(f"{name} must be a whole number from {least} to {most}, got {value!r:.60}")
    return int(value)


# Weights of the rule "weighted" by the number of transmitters, bottom up, where none are given: the lower reading counts twice, of three
# the one in the middle. Invented, to show what unequal weights do.
USUAL_WEIGHTS = {2: (2.0, 1.0), 3: (1.0, 2.0, 1.0)}
MOST_FOR_MIDDLE = 3


@dataclass(frozen=True)
class Placing:
    """Levels of the transmitters, their rule, for the rule "weighted" one weight for each level, and the set point [Pa] (None: that
    of the study)."""

    levels: tuple
    rule: str
    weights: tuple | None = None
    set_point_pa: float | None = None

    def __post_init__(self):
        require.one_of(RULES, rule=self.rule)
        count = len(self.levels)
        if not count or len(set(self.levels)) != count:
            raise ValueError(f"levels must be one or more, each once, got {self.levels!r:.60}")
        if self.rule == "middle" and count > MOST_FOR_MIDDLE:
            raise ValueError(f"levels must be {MOST_FOR_MIDDLE} at the most for the rule middle, got {count}")
        if self.rule == "weighted":
            self._check_weights()

    def _check_weights(self):
        if self.weights is None:
            raise ValueError("weights must be given for the rule weighted, one for each storey, got None")
        weights = require.at_least(0, weights=self.weights)
        if weights.shape != (len(self.levels),) or not weights.any():
            raise ValueError(f"weights must be one for each of {len(self.levels)} storeys, not all zero, got {self.weights!r:.60}")

    def text(self):
        """The choice in words.

        >>> from helpers.units.said import written_out
        >>> written_out((Placing((2, 9), "lowest").text(), Placing((5,), "average", set_point_pa=45.0).text()))
        ('lowest of storeys 2 and 9', 'storey 5 alone at 45 Pa')
        """
        held = "" if self.set_point_pa is None else f" at {with_unit(self.set_point_pa, 'pressure')}"
        if len(self.levels) == 1:
            return f"{levels_text(self.levels)} alone{held}"
        if self.rule == "weighted":
            weights = ":".join(f"{weight:g}" for weight in self.weights)
            return f"weighted {weights} of storeys {listed(map(str, self.levels))}{held}"
        return f"{self.rule} of storeys {listed(map(str, self.levels))}{held}"


def candidate_levels(site, transmitter=None):
    """Levels at which a transmitter could be put: those with a stair door, and with a lobby where its reference is one."""
    reference = (transmitter or site.transmitters[0]).reference
    return tuple(
        storey.level for storey in site.storeys
        if storey.stair_door and storey.stair_door_count and (reference != "lobby" or storey.lobby)
    )  # fmt: skip


def own_choice(site):
    """The choice the site file has made; None where it takes the middle of more transmitters than this study can."""
    levels = tuple(transmitter.level for transmitter in site.transmitters)
    rule = site.control.rule if len(levels) > 1 else "average"
    if rule == "middle" and len(levels) > MOST_FOR_MIDDLE:
        return None
    return Placing(levels, rule, site.control.weights if rule == "weighted" else None)


def spread_triples(levels, of=5):
    """Triples among a few levels, `of` of them evenly spread from the lowest to the highest.

    >>> spread_triples(range(14), of=4)
    ((0, 4, 9), (0, 4, 13), (0, 9, 13), (4, 9, 13))
    """
    levels = sorted(levels)
    picked = dict.fromkeys(levels[round(place)] for place in np.linspace(0, len(levels) - 1, min(of, len(levels))))
    return tuple(combinations(picked, 3))


def choices_of(site, counts=(1, 2), rules=None, levels=None, triples=(), weights=None, set_points_pa=None):
    """Every single, every pair and some triples of levels under each rule, and what the site file has chosen.

    counts: of transmitters, 1 and 2 or one of them; rules: by default those that differ for the number (a single needs none, "middle" of
    two is their average); levels: by default all `candidate_levels`; triples: of levels, such as `spread_triples`; weights: for the rule
    "weighted" by the number of transmitters, bottom up (default 2:1, 1:2:1); set_points_pa: each choice at each of these (default: at the
    study's). Returns a tuple of `Placing`. Raises ValueError for levels that are not there, or where nothing is left to choose.
    """
    levels = candidate_levels(site) if levels is None else tuple(levels)
    sets = [(level,) for level in levels] if 1 in counts else []
    sets += list(combinations(sorted(levels), 2)) if 2 in counts else []
    sets += [tuple(triple) for triple in triples]
    weights = USUAL_WEIGHTS | (weights or {})
    found = [
        Placing(chosen, rule, weights.get(len(chosen)) if rule == "weighted" else None, set_point)
        for chosen in sets
        for rule in _rules(len(chosen), rules)
        for set_point in ((None,) if set_points_pa is None else set_points_pa)
    ]
    if not found:
        raise ValueError(f"levels must leave something to choose, got {levels!r:.60} for {', '.join(map(str, counts))} transmitters")
    known = [storey.level for storey in site.storeys]
    if missing := [level for choice in found for level in choice.levels if level not in known]:
        raise ValueError(f"levels must be storeys of the site, {known[0]} to {known[-1]}, got {missing[0]!r:.60}")
    return tuple(dict.fromkeys(filter(None, [*found, own_choice(site)])))


def _rules(count, rules):
    if count == 1:
        return ("average",)
    if rules is not None:
        return tuple(rules)
    return tuple(rule for rule in RULES if rule != "middle" or count > 2)


CONDITIONS_AT_ONCE = 125  # of one part of the work: the same alone and on many processes, so that the results are the same to the bit
MOST_CELLS = 200_000_000  # choices times conditions: the room of each is kept, 4 bytes


def place_transmitters(tower, window, drawn, choices=None, *, set_point_pa=None, transmitter=None, executor=None, progress=None, stop=None):
    """Judge choices of transmitters under sampled conditions.

    tower: `Tower`; window: `SiteWindow` (limits of all its doors), narrowed to `allowed_pressures`; drawn: `Drawn`; choices: of `Placing`
    (default `choices_of` the site);
    set_point_pa [Pa]: of choices that state none, by default the site's; transmitter: the kind put on every level (range, accuracy,
    reference), by default the site's first. executor: any concurrent.futures.Executor, to work on several parts of the conditions at
    once; the results are those of the run without. progress: called with (conditions done, conditions in all) after each part. stop:
    called after each part; where it says True the study ends with what it has, and says so. Returns `Placement`.
    Raises ValueError for no choices, levels that are not there, a set point outside the transmitter's range, or too much at once.
    Limits: steady state; all readings end at the transmitter's range; a condition for which the network finds no answer is left out and
    counted; doors are looked up, within 0.5 Pa of held ones (a dead transmitter in an average holds the others far above the set point,
    where it is some 2 Pa).
    """
    site = tower.site
    kind = site.transmitters[0] if transmitter is None else transmitter
    target = one_number(set_point_pa=site.control.set_point_pa if set_point_pa is None else set_point_pa)
    choices = choices_of(site, levels=candidate_levels(site, kind)) if choices is None else tuple(choices)
    levels = _levels_used(site, choices, kind)
    if len(choices) * len(drawn) > MOST_CELLS:
        raise ValueError(f"choices times conditions must be {MOST_CELLS} at the most, got {len(choices)} times {len(drawn)}")
    if drawn.conditions.leak_factor.shape[1] != len(site.storeys):
        raise ValueError(f"drawn must be for {len(site.storeys)} storeys, got {drawn.conditions.leak_factor.shape[1]}")
    groups = groups_of(choices, levels, target)
    for held_at in (group.set_point_pa for group in groups):
        if not kind.range_low_pa < held_at < kind.range_high_pa:
            raise ValueError(f"set_point_pa must lie inside the range {kind.range_low_pa:g} to {kind.range_high_pa:g} Pa, got {held_at:g}")
    parts = [slice(i, i + CONDITIONS_AT_ONCE) for i in range(0, len(drawn), CONDITIONS_AT_ONCE)]
    task = _Batch(tower, DoorColumns(tower, allowed_pressures(site, window)), levels, kind, groups)
    found = _work(task, [drawn.rows(part) for part in parts], executor, progress or _silent, stop or _never)
    done, unsolved = sum(part.conditions for part in found), sum(part.unsolved for part in found)
    if done == unsolved:
        raise ValueError(f"drawn must hold conditions with an answer; the network found none for any of {done}")
    merged = [Tally.joined(tallies, axis=1) for tallies in zip(*[part.tallies for part in found if part.tallies], strict=True)]
    doors, supplies = tuple(task.doors.columns), tuple(supply.level for supply in site.supplies)
    asked = PlacementQuestion(site.name, choices, levels, own_choice(site), target, doors, len(drawn), drawn.said, supplies)
    return Placement.of(asked, groups, merged, done, unsolved)


@dataclass
class _PartTally:
    """What one part of the conditions gave: a tally of each group (none without any answer), conditions, and those without an answer."""

    tallies: list
    conditions: int
    unsolved: int


@dataclass
class _Batch:
    """One part of the conditions, from solving to the tally of every choice; it travels to other processes."""

    tower: Tower
    doors: DoorColumns
    levels: tuple
    kind: Transmitter
    groups: list

    def __call__(self, drawn):
        """The part of the work that these sampled conditions are."""
        transmitters = [self.kind.model_copy(update={"level": level}) for level in self.levels]
        error = self.kind.accuracy_percent_span / 100 * (self.kind.range_high_pa - self.kind.range_low_pa)
        storeys = [self.tower.storey(level) for level in self.levels]
        off = error * drawn.error_share[:, storeys]
        held_at, most_off = [group.set_point_pa for group in self.groups], np.abs(off).max()
        looked_up = min(held_at) - most_off, max(held_at) + most_off
        airs = self._airs(drawn)
        curves = solve_curves(self.tower, Conditions.joined(airs), transmitters, self.doors, looked_up)
        good = np.flatnonzero(curves.solved.reshape(len(airs), -1).all(axis=0))
        if not good.size:
            return _PartTally([], len(drawn), len(drawn))
        rows = (np.arange(len(airs))[:, None] * len(drawn) + good).ravel()  # one air after the other
        curves, standing_open = curves.rows(rows), self.doors.standing_open(drawn.conditions)[good]
        off, standing_open = (np.concatenate([each] * len(airs)) for each in (off[good], standing_open))
        readings = np.clip(curves.readings_pa + off[:, None, :], self.kind.range_low_pa, self.kind.range_high_pa)
        lookup = Lookup(readings, self.tower.effect, curves, self.doors, standing_open, len(airs))
        return _PartTally([lookup.tally(group) for group in self.groups], len(drawn), len(drawn) - good.size)

    def _airs(self, drawn):
        """The conditions with each of the stair's airs that they are judged in."""
        stated = drawn.conditions
        if not drawn.both_airs:
            return [stated]
        return [with_stair(stated, stair) for stair in (stated.floor_c, stair_air(self.tower, stated).stair_c)]


def _work(task, parts, executor, progress, stop):
    """Results of the parts in their order, up to the last part or the first stop."""
    asked, found = sum(len(part) for part in parts), []
    futures = [executor.submit(task, part) for part in parts] if executor else []
    calls = [future.result for future in futures] if executor else [lambda part=part: task(part) for part in parts]
    for call in calls:
        found.append(call())
        progress(sum(part.conditions for part in found), asked)
        if len(found) < len(parts) and stop():
            break
    for future in futures[len(found) :]:
        future.cancel()
    return found


def _levels_used(site, choices, kind):
    """Levels of all choices, bottom up; refuses those at which this kind of transmitter cannot be."""
    if not choices:
        raise ValueError("choices must hold at least one choice, got none")
    levels = tuple(sorted({level for choice in choices for level in choice.levels}))
    known = {storey.level: storey for storey in site.storeys}
    for level in levels:
        if level not in known:
            raise ValueError(f"choices must name storeys from {min(known)} to {max(known)}, got {level!r:.60}")
        if kind.reference == "lobby" and not known[level].lobby:
            raise ValueError(f"choices must name storeys with a lobby, the transmitter's reference; storey {level} has none")
    return levels


def _silent(done, asked):
    """No progress wanted."""


def _never():
    """Never stop."""
    return False
