"""Choices of transmitters: on which levels, which rule makes one reading of them, and at which set point it is held."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from helpers import units
from helpers.formulas import require
from helpers.formulas.combining import RULES
from helpers.studies.cases import levels_text
from helpers.studies.figures import listed

__all__ = ["Choice", "candidate_levels", "choices_of", "own_choice", "spread_triples"]

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

    def text(self, system="Pa"):
        """The choice in words.

        >>> Choice((2, 9), "lowest").text(), Choice((5,), "average", set_point_pa=45.0).text()
        ('lowest of levels 2 and 9', 'level 5 alone at 45 Pa')
        """
        held = "" if self.set_point_pa is None else f" at {units.show(self.set_point_pa, 'pressure', system)}"
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
