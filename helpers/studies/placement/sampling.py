"""Conditions drawn by chance: an hour of weather, doors that stand open, how leaky the walls came out, how far each transmitter is off.

All is drawn from one seed before anything is solved, so that every choice is judged under the same conditions and a run on many
processes is the run on one.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require, units
from helpers.formulas.uncertainty import SHAPES
from helpers.model.air.conditions import Conditions, conditions_of_hours
from helpers.studies.report import listed

__all__ = ["MOST_CONDITIONS", "Chances", "Drawn", "draw", "stated_weathers"]

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
    doors = ", ".join(f"{number}: {share:.0%}" for number, share in enumerate(chances.stair_doors_open))
    temperature = units.show(site.temperatures.floor_c, "temperature")
    stair = "Each condition is judged in the stair's first minute, as warm as the rooms, and after an hour of the fan; the worse decides."
    if chances.stair_share is not None:
        stair = (
            f"The stair's air stands {chances.stair_share:.0%} of the way from the floors' {temperature} to the outdoor air's temperature."
        )
    return (
        f"{count} condition{'s' * (count > 1)} drawn with seed {seed}; weather: any of {len(hours)} hours of {hours.name}, temperature and "
        "wind together.",
        f"Stair doors open at once, with their lobby doors: {doors}; final exit open: {chances.final_exit_open:.0%}.",
        f"Walls' leaks: log-normal about the site file's, spread (of the logarithm) {chances.leak_spread:g} for the building and "
        f"{chances.leak_spread_storey:g} for each storey besides; doors leak as the site file says.",
        f"Transmitter error: within its accuracy, {chances.error}, another one in each condition and on each storey.",
        stair,
    )


def _whole(name, value, least, most):
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or not least <= value <= most:
        raise ValueError(f"{name} must be a whole number from {least} to {most}, got {value!r:.60}")
    return int(value)
