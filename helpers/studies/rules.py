"""Average, lowest or highest: what each rule does to every door, case by case and floor by floor."""

from dataclasses import dataclass

import numpy as np

__all__ = ["DoorOut", "RuleComparison", "RuleResult", "compare_rules", "set_points_that_work"]


@dataclass(frozen=True)
class DoorOut:
    """A door outside its window: where, which, the pressure across it, the limit it breaks, by how much, too low or too high."""

    rule: str
    case: str
    level: int
    door: str
    use: str
    dp_pa: float
    limit_pa: float
    side: str

    @property
    def by_pa(self):
        return abs(self.dp_pa - self.limit_pa)


@dataclass(frozen=True)
class RuleResult:
    """One rule in all cases. Arrays [cases] or [cases, storeys]; `out` every door outside its window, worst first."""

    rule: str
    state: np.ndarray
    speed_hz: np.ndarray
    reading_pa: np.ndarray
    readings_pa: np.ndarray
    door_dp_pa: np.ndarray
    low: np.ndarray
    high: np.ndarray
    out: tuple
    held: object


@dataclass(frozen=True)
class RuleComparison:
    """All rules beside each other; `best` the rule with the least to object to."""

    cases: tuple
    set_point_pa: float
    results: tuple
    best: str


def compare_rules(tower, window, cases, set_point_pa=None, transmitters=None, rules=None):
    """Hold the set point with each rule in all cases and look at every door. Returns `RuleComparison`."""
    raise NotImplementedError


def set_points_that_work(tower, window, cases, set_points_pa, transmitters=None, rules=None):
    """Which set points keep every door inside its window in every case, rule by rule."""
    raise NotImplementedError
