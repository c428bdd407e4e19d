"""What a fan at its end stop means to people: doors that jam, smoke that passes, doors that stand open, gas."""

from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.formulas import doors

__all__ = ["Price", "price_of"]

# An entrance leaf that opens outwards, as the building's pressure pushes it; ours, the site file of a building holds no leaf.
ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N = 0.91, 2.10, 30.0
LIMIT_N = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]


@dataclass(frozen=True)
class Price:
    """The state at the end. good: whether people are served; least, most: of the doors' pressures or of the zones' gas; force_n: at the
    heaviest handle (NaN where no door is asked); below zero: the leaf stands open by itself; limit_n: most that is allowed."""

    good: bool
    least: float
    most: float
    force_n: float
    words: object
    limit_n: float = LIMIT_N

    def says(self, system="Pa"):
        """The price in a sentence."""
        return self.words(self, system)


def price_of(bench, run):
    """`Price` at the end of a run on a bench of `runaway`."""
    if bench.dimension == "concentration":
        return _gas(bench, run)
    pressures = run.air.along(run.air.doors_pa, run.time_s[-2:], run.speed_hz[-2:, 0])[-1]
    return _stair(bench, pressures) if bench.kind == "stair" else _entrance(bench, float(pressures[0]))


def _stair(bench, pressures):
    window, storeys = bench.window, bench.site.storeys
    places = [place for place, storey in enumerate(storeys) if storey.stair_door]
    leaves, pressures = np.array([bench.site.doors[storeys[place].stair_door].leaf for place in places]).T, pressures[places]
    force = float(doors.opening_force(pressures, *leaves).max())
    good = window.least_pa <= pressures.min() and force <= LIMIT_N

    def words(price, system):
        least, most, asked = (units.show(value, "pressure", system) for value in (price.least, price.most, window.least_pa))
        force, limit = (units.show(value, "force", system) for value in (price.force_n, LIMIT_N))
        said = f"The stair doors stand under {least} to {most}; the heaviest takes {force} at the handle, {limit} is allowed"
        if price.force_n > LIMIT_N:
            return f"{said}: people may not get into the stair."
        if price.least < window.least_pa:
            return f"{said}. That is light, but {asked} is the least that keeps smoke out: smoke can pass."
        return f"{said}, and {asked} is the least asked for."

    return Price(bool(good), float(pressures.min()), float(pressures.max()), force, words)


def _entrance(bench, pressure):
    force = float(doors.opening_force(-pressure, ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N))
    good = abs(pressure - bench.set_point) <= bench.set_point

    def words(price, system):
        inside, force = units.show(price.most, "pressure", system), units.show(abs(price.force_n), "force", system)
        closer = units.show(ENTRANCE_CLOSER_N, "force", system)
        said = f"The ground floor stands at {inside} against outdoors"
        if price.most < 0:
            return f"{said}: below outdoors, damp and dust come in, and an entrance leaf whose closer takes {closer} now takes {force}."
        if price.force_n < 0:
            return f"{said}: the air holds an entrance leaf open, {force} more than its closer of {closer}."
        return f"{said}; an entrance leaf whose closer takes {closer} opens outwards with {force}."

    return Price(bool(good), pressure, pressure, force, words)


def _gas(bench, run):
    gas = run.tubes_pa[-1, :, 0]
    good = gas.max() <= bench.set_point + 0.02 * bench.span
    name = bench.site.gas
    power = float(run.air.along(run.air.power_w, run.time_s[-1:], run.speed_hz[-1:, 0])[0, 0])

    def words(price, system):
        least, most, wanted = (units.show(value, "concentration", system) for value in (price.least, price.most, bench.set_point))
        said = f"{name.capitalize()} in the three zones: {least} to {most}, set point {wanted}"
        if not good:
            return f"{said}: people breathe that{', and nobody smells it' if name == 'carbon monoxide' else ''}."
        return f"{said}; the fan takes {units.show(power, 'power', system)}."

    return Price(bool(good), float(gas.min()), float(gas.max()), float("nan"), words)
