"""Where a loop comes to rest when its displays do not show what is there, and what that means to people: doors that jam, smoke, gas.

The air of a demo site in one weather, all doors shut, is solved once over speed; a display, right or wrong, is then looked up there.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from helpers.formulas import doors
from helpers.formulas.combining import combine
from helpers.model.air.operating_point import STATES
from helpers.model.plants.kinds import plant_of, read_any_site
from helpers.model.plants.pressure_plant import BuildingConditions
from helpers.model.site.file import demo_sites
from helpers.model.sweep import at, meets, over_speeds, place_of, speed_at
from helpers.studies.cases import AS_STATED, Case, case_said, conditions_of
from helpers.studies.doors.stair_window import stair_door
from helpers.studies.doors.window import pressure_window
from helpers.studies.report import apart, fine, passed
from helpers.units.said import with_unit

# An entrance leaf that opens outwards, as the building's pressure pushes it; ours, the site file of a building holds no leaf.
ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N = 0.91, 2.10, 30.0
LIMIT_N = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]


@dataclass(frozen=True)
class Price:
    """The state at the end. good: whether people are served; least, most: of the doors' pressures or of the zones' gas; force_n: at the
    heaviest handle (NaN where no door is asked); below zero: the leaf stands open by itself; limit_n: most that is allowed; least_level,
    force_level: storeys of the stair doors with the minimum pressure and the most force, None where there are none."""

    good: bool
    least: float
    most: float
    force_n: float
    words: Callable[["Price", str], str]
    limit_n: float = LIMIT_N
    least_level: int | None = None
    force_level: int | None = None

    def says(self):
        """The price in a sentence."""
        return self.words(self)


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
    forces = doors.opening_force(pressures, *leaves)
    force, levels = float(forces.max()), [storeys[places[int(place)]].level for place in (pressures.argmin(), forces.argmax())]
    good = window.least_pa <= pressures.min() and force <= LIMIT_N

    def words(price):
        least, most, asked = (with_unit(value, "pressure") for value in (price.least, price.most, window.least_pa))
        force, limit = (with_unit(value, "force") for value in (price.force_n, LIMIT_N))
        said = (
            f"The pressure across the stair doors is {least} to {most}; the hardest to open needs {force} at the handle, {limit} is allowed"
        )
        if price.force_n > LIMIT_N:
            return f"{said}: people may be unable to get in or out."
        if price.least < window.least_pa:
            return f"{said}. The doors open easily, but smoke can pass: {asked} is the minimum that keeps it out."
        return f"{said}, and {asked} is the minimum asked for."

    return Price(bool(good), float(pressures.min()), float(pressures.max()), force, words, LIMIT_N, *levels)


def _entrance(bench, pressure):
    force = float(doors.opening_force(-pressure, ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N))
    good = abs(pressure - bench.set_point) <= bench.set_point

    def words(price):
        inside, force = fine(price.most), with_unit(abs(price.force_n), "force")
        closer = with_unit(ENTRANCE_CLOSER_N, "force")
        said = f"The ground floor is at {inside} against outdoors"
        if price.most < 0:
            return f"{said}: below outdoors, damp and dust come in, and an entrance leaf whose closer needs {closer} now needs {force}."
        if price.force_n < 0:
            return f"{said}: the air holds an entrance leaf open, {force} more than its closer of {closer}."
        lost = "" if good else ": a gust is enough to blow it open, and the air that was heated or cooled is lost"
        return f"{said}; an entrance leaf whose closer needs {closer} opens outwards with {force} at its handle{lost}."

    return Price(bool(good), pressure, pressure, force, words)


def _gas(bench, run):
    gas = run.tubes_pa[-1, :, 0]
    good = gas.max() <= bench.set_point + 0.02 * bench.span
    name = bench.site.gas
    power = float(run.air.along(run.air.power_w, run.time_s[-1:], run.speed_hz[-1:, 0])[0, 0])

    def words(price):
        least, most, wanted = (with_unit(value, "concentration") for value in (price.least, price.most, bench.set_point))
        said = f"{name.capitalize()} in the three zones: {least} to {most}, set point {wanted}"
        if not good:
            return f"{said}: people breathe that{', and nobody smells it' if name == 'carbon monoxide' else ''}."
        return f"{said}; the fan takes {with_unit(power, 'power')}."

    return Price(bool(good), float(gas.min()), float(gas.max()), float("nan"), words)


LARKFIELD, QUAYSIDE = "Larkfield House", "Quayside Lab"
SPEEDS = 161  # solved, equal steps from rest to full speed
REST_HZ = 1e-3  # a fan at rest: the network takes no speed of zero
_BELOW = " (below zero, air flows out of the floor into the stair)"
ROUNDING_PA = 0.05  # of the straight lines between two speeds, measured: 0.03 Pa on Larkfield House at the worst


@dataclass(frozen=True)
class Settled:
    """Where the loop rests: speed_hz; state "held", "at lowest speed", "at full speed" or "no reading"; shown_pa what it believes (NaN with
    no reading); true_pa the same rule on what is there; readings_pa what is there at each transmitter; least_pa, most_pa of the doors;
    force_n at the heaviest handle; least_level, most_level: storeys of the doors with least and most, None in a building."""

    loop: "SteadyLoop"
    speed_hz: float
    state: str
    shown_pa: float
    true_pa: float
    readings_pa: np.ndarray
    least_pa: float
    most_pa: float
    force_n: float
    least_level: int | None = None
    most_level: int | None = None

    @property
    def off_pa(self):
        """How far what is there lies above what is shown, below zero where it lies below."""
        return self.true_pa - self.shown_pa

    @property
    def too_high(self):
        """Whether a stair door is too heavy, or a building stands too high above outdoors."""
        return (self.most_pa if self.loop.stair else self.true_pa) > self.loop.window_pa[1] + ROUNDING_PA

    @property
    def too_low(self):
        """Whether smoke can pass at a stair door, or a building stands below outdoors."""
        return (self.least_pa if self.loop.stair else self.true_pa) < self.loop.window_pa[0] - ROUNDING_PA

    def headline(self, where):
        """What is out in one sentence of a panel; where: in it."""
        least, most = self.loop.window_pa
        if self.loop.stair and self.too_high:
            return passed(self.force_n, self.loop.limit_n, "force", where)
        high, low = (self.most_pa, self.least_pa) if self.loop.stair else (self.true_pa, self.true_pa)
        if self.too_high or self.too_low:
            return passed(high if self.too_high else low, most if self.too_high else least, "pressure", where)
        return f"{fine(self.shown_pa)} shown, {fine(self.true_pa)} there: fan {self.state}"

    def says(self):
        """What it means at the doors, in a sentence."""
        return _stair_says(self) if self.loop.stair else _building_says(self)


def _stair_says(found):
    most, (least, low) = with_unit(found.most_pa, "pressure"), apart((found.least_pa, found.loop.window_pa[0]), "pressure", "least")
    force, limit = apart((found.force_n, found.loop.limit_n), "force", "most")
    low = f", minimum {low}: smoke can pass{_BELOW if found.least_pa < -ROUNDING_PA else ''}" if found.too_low else ""
    high = ": people may be unable to get in or out" if found.too_high else ""
    return f"The pressure across the stair doors is {least} to {most}{low}; the hardest to open needs {force}, {limit} is allowed{high}."


def _building_says(found):
    average, quay, yard = (fine(value) for value in (found.true_pa, *found.readings_pa))
    force, closer = (with_unit(value, "force") for value in (found.force_n, ENTRANCE_CLOSER_N))
    no = ["the air holds entrance doors open"] if found.too_high else ["damp and dust come in"] if found.too_low else []
    heaviest = ("On the quay", "In the yard")[int(np.argmin(found.readings_pa))]  # where the minimum pressure helps a leaf to open outwards
    there = (
        f"The building is {average} above outdoors: {quay} on the quay, {yard} in the yard. {heaviest} an entrance leaf with a closer "
        f"of {closer} needs {force}"
    )
    return f"{there}; {no[0]}." if no else f"{there}."


class SteadyLoop:
    """A demo site in one weather, a stair with one of the airs of `cases.STAIR_AIR`: `readings_pa` [speeds, transmitters], `doors_pa`
    [speeds, doors] over `speed_hz`."""

    def __init__(self, name, weather, stair_air=AS_STATED):
        self.name, self.weather, self.stair_air = name, weather, stair_air
        self.site = read_any_site(demo_sites("stair" if name == LARKFIELD else "building")[name])
        plant = plant_of(self.site)
        self.effect, self.fan, self.control = int(plant.effect), self.site.fan, self.site.control
        self.speed_hz = np.linspace(REST_HZ, self.fan.highest_speed_hz, SPEEDS)
        one = conditions_of(self.site, [Case("", weather, stair=stair_air)]) if self.stair else BuildingConditions.of(self.site, weather)

        def quantities(air, _):
            return (plant.readings(air), air.door_dp_pa) if self.stair else (air.readings_pa, air.readings_pa)

        ((self.readings_pa,), (self.doors_pa,)) = over_speeds(plant.solve, quantities, one, self.speed_hz, "weather")

    @property
    def stair(self):
        """Whether it is a stair, not a building."""
        return self.name == LARKFIELD

    @property
    def air_said(self):
        """The air that it is judged in, in few words: weather, and how warm the stair is."""
        if not self.stair:
            return self.weather
        return case_said(Case("", self.weather, stair=self.stair_air), self.site).removesuffix(", doors shut")

    @property
    def stair_said(self):
        """How warm the stair is, in the last words of `air_said`: all of it at one temperature, or its first minute, or its hour."""
        return self.air_said.rpartition(", ")[2].removeprefix("stair at ")

    @cached_property
    def window_pa(self):
        """Least and most that the doors are to have: of the stair's doors; of a building from nothing to twice its set point (ours)."""
        if self.stair:
            window = pressure_window(self.site)
            return window.least_pa, window.most_pa
        return 0.0, 2 * self.control.set_point_pa

    @cached_property
    def limit_n(self):
        """Force at the hardest stair door where its pressure is the most of the window: the limit that `Settled.too_high` judges."""
        return self._force(*self.window_pa)

    @property
    def rest_pa(self):
        """Readings with the fan at rest [transmitters]."""
        return self.readings_pa[0]

    @property
    def full_pa(self):
        """Readings at full speed [transmitters]."""
        return self.readings_pa[-1]

    @property
    def lowest_pa(self):
        """Readings at the lowest speed the drive allows [transmitters]."""
        return at(self.readings_pa, self._lowest)

    def settle(self, shown_pa, set_point_pa):
        """The first speed, from the lowest, at which the combined display meets the set point, or at which there is no display any more.
        shown_pa: a display [speeds, transmitters], NaN for one that is left out. Returns `Settled`."""
        combined = combine(shown_pa, self.control.rule)
        place, state = meets(self.effect * combined, self.effect * set_point_pa, self._lowest)
        gone = np.flatnonzero(np.isnan(combined) & (np.arange(SPEEDS) >= self._lowest))
        if gone.size and not place < gone[0]:
            return self._settled(gone[0], "no reading", combined)
        return self._settled(place, STATES[state], combined)

    @property
    def _lowest(self):
        """Place of the lowest speed the drive allows."""
        return place_of(self.speed_hz, self.fan.lowest_speed_hz)

    def _settled(self, place, state, combined):
        readings, doors_pa = at(self.readings_pa, place), at(self.doors_pa, place)
        found = speed_at(self.speed_hz, place), at(combined, place), combine(readings, self.control.rule)
        speed, shown, true = (float(value) for value in found)
        least, most = float(doors_pa.min()), float(doors_pa.max())
        ends = doors_pa.argmin(), doors_pa.argmax()
        levels = [self.site.storeys[int(place)].level for place in ends] if self.stair else (None, None)
        return Settled(self, speed, state, shown, true, readings, least, most, self._force(least, most), *levels)

    def _force(self, least, most):
        """At the heaviest stair door; in a building at an entrance leaf that opens outwards."""
        if self.stair:
            return float(doors.opening_force(most, *stair_door(self.site).leaf))
        return float(doors.opening_force(-least, ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N))


@cache
def steady_loop(name=LARKFIELD, weather="winter", stair_air=AS_STATED):
    """The loop of a demo site in one weather, made once."""
    return SteadyLoop(name, weather, stair_air)
