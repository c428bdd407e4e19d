"""Where the transmitters go and which rule combines them: every choice (levels, rule, set point) judged under the same drawn conditions.

Each condition is solved once over the fan's speeds; then every choice is looked up in what was found, so that a thousand choices more cost
no solve more. Steady state: what a patient loop settles on; how it gets there is the loop's own study.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from helpers import require
from helpers.formulas.combining import RULES
from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import stair_air, with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Transmitter
from helpers.studies.cases import levels_text, one_number
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.placement.lookup import Lookup, Tally, groups_of, solve_curves
from helpers.studies.placement.results import Placement, Question
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.report import listed
from helpers.units.said import with_unit

__all__ = ["MOST_CELLS", "Choice", "candidate_levels", "choices_of", "own_choice", "place_transmitters", "spread_triples"]

# Weights of the rule "weighted" by the number of transmitters, bottom up, where none are given: the lower reading counts twice, of three
# the one in the middle. Invented, to show what unequal weights do.
USUAL_WEIGHTS = {2: (2.0, 1.0), 3: (1.0, 2.0, 1.0)}
MOST_FOR_MIDDLE = 3


@dataclass(frozen=True)
class Choice:
    """Levels of the transmitters, the combining rule, for the rule "weighted" one weight for each level, and the set point [Pa] (None: that
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
            raise ValueError("weights must be given for the rule weighted, one for each level, got None")
        weights = require.at_least(0, weights=self.weights)
        if weights.shape != (len(self.levels),) or not weights.any():
            raise ValueError(f"weights must be one for each of {len(self.levels)} levels, not all zero, got {self.weights!r:.60}")

    def text(self):
        """The choice in words.

        >>> Choice((2, 9), "lowest").text(), Choice((5,), "average", set_point_pa=45.0).text()
        ('lowest of levels 2 and 9', 'level 5 alone at 45 Pa')
        """
        held = "" if self.set_point_pa is None else f" at {with_unit(self.set_point_pa, 'pressure')}"
        if len(self.levels) == 1:
            return f"{levels_text(self.levels)} alone{held}"
        if self.rule == "weighted":
            weights = ":".join(f"{weight:g}" for weight in self.weights)
            return f"weighted {weights} of levels {listed(map(str, self.levels))}{held}"
        return f"{self.rule} of levels {listed(map(str, self.levels))}{held}"


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
    return Choice(levels, rule, site.control.weights if rule == "weighted" else None)


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
    study's). Returns a tuple of `Choice`. Raises ValueError for levels that are not there, or where nothing is left to choose.
    """
    levels = candidate_levels(site) if levels is None else tuple(levels)
    sets = [(level,) for level in levels] if 1 in counts else []
    sets += list(combinations(sorted(levels), 2)) if 2 in counts else []
    sets += [tuple(triple) for triple in triples]
    weights = USUAL_WEIGHTS | (weights or {})
    found = [
        Choice(chosen, rule, weights.get(len(chosen)) if rule == "weighted" else None, set_point)
        for chosen in sets
        for rule in _rules(len(chosen), rules)
        for set_point in ((None,) if set_points_pa is None else set_points_pa)
    ]
    if not found:
        raise ValueError(f"levels must leave something to choose, got {levels!r:.60} for {', '.join(map(str, counts))} transmitters")
    known = [storey.level for storey in site.storeys]
    missing = [level for choice in found for level in choice.levels if level not in known]
    if missing:
        raise ValueError(f"levels must be levels of the site, {known[0]} to {known[-1]}, got {missing[0]!r:.60}")
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
    """Judge choices of transmitters under drawn conditions.

    tower: `Tower`; window: `SiteWindow` (limits of all its doors), narrowed to `allowed_pressures`; drawn: `Drawn`; choices: of `Choice`
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
    task = _Task(tower, DoorColumns(tower, allowed_pressures(site, window)), levels, kind, groups)
    found = _work(task, [drawn.rows(part) for part in parts], executor, progress or _silent, stop or _never)
    done, unsolved = sum(part.conditions for part in found), sum(part.unsolved for part in found)
    if done == unsolved:
        raise ValueError(f"drawn must hold conditions with an answer; the network found none for any of {done}")
    merged = [Tally.joined(tallies, axis=1) for tallies in zip(*[part.tallies for part in found if part.tallies], strict=True)]
    asked = Question(site.name, choices, levels, own_choice(site), target, tuple(task.doors.columns), len(drawn), drawn.said)
    return Placement.of(asked, groups, merged, done, unsolved)


@dataclass
class _Part:
    """What one part of the conditions gave: a tally of each group (none without any answer), conditions, and those without an answer."""

    tallies: list
    conditions: int
    unsolved: int


@dataclass
class _Task:
    """One part of the conditions, from solving to the tally of every choice; it travels to other processes."""

    tower: Tower
    doors: DoorColumns
    levels: tuple
    kind: Transmitter
    groups: list

    def __call__(self, drawn):
        """The part of the work that these drawn conditions are."""
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
            return _Part([], len(drawn), len(drawn))
        rows = (np.arange(len(airs))[:, None] * len(drawn) + good).ravel()  # one air after the other
        curves, standing_open = curves.rows(rows), self.doors.standing_open(drawn.conditions)[good]
        off, standing_open = (np.concatenate([each] * len(airs)) for each in (off[good], standing_open))
        readings = np.clip(curves.readings_pa + off[:, None, :], self.kind.range_low_pa, self.kind.range_high_pa)
        lookup = Lookup(readings, self.tower.effect, curves, self.doors, standing_open, len(airs))
        return _Part([lookup.tally(group) for group in self.groups], len(drawn), len(drawn) - good.size)

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
            raise ValueError(f"choices must name levels from {min(known)} to {max(known)}, got {level!r:.60}")
        if kind.reference == "lobby" and not known[level].lobby:
            raise ValueError(f"choices must name levels with a lobby, the transmitter's reference; level {level} has none")
    return levels


def _silent(done, asked):
    """No progress wanted."""


def _never():
    """Never stop."""
    return False
