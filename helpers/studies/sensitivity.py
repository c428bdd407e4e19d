"""What would change the answer: each thing that is not known for sure is moved to either end, and the loop asked again.

One thing at a time, everything else as the site file says. Every answer is judged in the stair's first minute and after an hour, as the
record judges, and the worse of the two decides. Beside them what the network leaves out, with a figure for how large it can be.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from helpers.formulas import air
from helpers.model.air.tower import Tower
from helpers.studies.beside_limit import limit_tile
from helpers.studies.cases import AFTER_AN_HOUR, FIRST_MINUTE, Case, with_stair_air
from helpers.studies.commissioning.further_tests import measured_twice
from helpers.studies.doors.columns import across_by_use
from helpers.studies.readings.rules import RuleResult, allowed_pressures, compare_rules
from helpers.studies.report import fine
from helpers.units.said import with_unit

WEATHER = "winter"
TILE_DIGITS = None  # of the worst door and of the headline over it: those of every page, more where two would read alike
COLDER_K, WINDS_M_S, GAPS, FRICTION = 6.0, (0.0, 10.0), (0.5, 2.0), (0.5, 2.0)  # how far each is moved; ours, wide on purpose
EXPONENTS, DISCHARGE = (0.5, 0.65), (0.6, 0.7)  # of leaks: orifice and crack; the range that handbooks give (memory)
TIGHTNESS = ("tight", "loose")

# For what is left out. A gust of a few seconds against the mean wind in suburbs: common practice, no source. The lift is an invented one.
GUST, WINDWARD = 1.5, 0.8
CAR_M_S, SHAFT_M2, FREE_M2 = 1.6, 4.8, 1.5
CEILING_M, FIRE_C, ROOM_C = 2.6, 927.0, 21.0
SHARE_ABOVE_NEUTRAL = 2 / 3  # of the ceiling height; NFPA 92 annex (memory)


SHORT_USES = {"stair door": "door", "lobby door": "lobby", "final exit": "exit"}


class NearestLimit(NamedTuple):
    """The shut door with the least room to a limit: its use and level, the pressure across it, the limit, and which of its two that is."""

    use: str
    level: int
    dp_pa: float
    limit_pa: float
    end: str

    @property
    def place(self):
        """The door in words."""
        return f"{self.use} {self.level}"

    @property
    def brief(self):
        """The door in two words, for a picture."""
        return f"{SHORT_USES[self.use]} {self.level}"

    @property
    def which(self):
        """Which limit it is, in words."""
        return "min." if self.end == "least" else "max."

    def tile(self, what):
        """(what, its pressure, its limit), see `limit_tile`."""
        return limit_tile(what, self.dp_pa, self.limit_pa, "pressure", self.which, TILE_DIGITS)

    def says(self):
        """Door, pressure and limit in words."""
        _, dp, limit = self.tile("")
        return f"{self.place}: {dp}, {limit}"


@dataclass(frozen=True)
class SiteAnswer:
    """What a site answers at its set point under its own rule, doors shut: supply air, speed, how the doors fare, in the worse of the
    stair's airs that were asked for; stair: that air, of `cases.STAIR_AIR`; place: its number in `result`; nearest: the door with the least
    room, None where no shut door has a limit."""

    result: RuleResult
    place: int
    stair: str
    supply_m3_s: float
    nearest: NearestLimit | None

    @property
    def speed_hz(self):
        """Fan speed."""
        return float(self.result.speed_hz[self.place])

    @property
    def margin_pa(self):
        """Room left to the nearest limit of any shut door; below zero when a door is outside its window."""
        return float(self.result.margin_pa[self.place])

    @property
    def good(self):
        """Whether the loop holds and every shut door is inside its window, in each of the stair's airs."""
        return bool(self.result.good.all())

    def supply_says(self):
        """Supply air in words, and the loop's state where it does not hold."""
        state = next((one for one in self.result.state if one != "held"), "held")
        return with_unit(self.supply_m3_s, "flow") + ("" if state == "held" else f" ({state})")

    def says(self):
        """Supply, speed and room, in words."""
        speed = with_unit(self.speed_hz, "frequency")
        return f"{self.supply_says()} at {speed}, {fine(self.margin_pa)} to spare"


@dataclass(frozen=True)
class Doubt:
    """One thing that is not known for sure: what, why, its two ends in words, the answers there, and how to know better."""

    what: str
    why: str
    ends: tuple
    answers: tuple
    remedy: str

    @property
    def worse(self):
        """The answer at the end that leaves less room."""
        return min(self.answers, key=lambda answer: answer.margin_pa)

    @property
    def worst_pa(self):
        """The lesser of the two rooms."""
        return self.worse.margin_pa

    @property
    def length_pa(self):
        """By how much the room differs from one end to the other."""
        return abs(self.answers[0].margin_pa - self.answers[1].margin_pa)


@dataclass(frozen=True)
class LeftOut:
    """Something the network does not have: what, how large it can be [Pa], of what that is the figure, and what to do about it; on_top:
    whether it comes on top of the pressure that the doors have, which the room left is for. The fire's own is what the minimum pressure
    stands for, and a lift is none where the site file has no landing door."""

    what: str
    pressure_pa: float
    basis: str
    remedy: str
    on_top: bool = True


def doubts(site):
    """The answer of a site as it stands, and each doubt about it, the one that costs most room first. Returns (`SiteAnswer`, of `Doubt`).

    Limits: winter of the site file, doors shut, one thing moved at a time: two at once can be worse than either. The stair's warmth is in
    every answer, both ends of it.
    """
    return _answer(site), tuple(sorted(_each(site), key=lambda doubt: doubt.worst_pa))


def left_out(site):
    """What the network does not have, each with a figure for its size at this site. Returns a tuple of `LeftOut`."""
    mean = site.weather[WEATHER].wind_speed_m_s
    gust = air.wind_pressure(GUST * mean, WINDWARD) - air.wind_pressure(mean, WINDWARD)
    fire = air.fire_buoyancy(CEILING_M * SHARE_ABOVE_NEUTRAL, FIRE_C, ROOM_C)
    car = air.piston_pressure(CAR_M_S, SHAFT_M2, FREE_M2)
    hot, ceiling, wind, speed = (
        with_unit(value, dimension)
        for value, dimension in ((FIRE_C, "temperature"), (CEILING_M, "length"), (mean, "wind speed"), (CAR_M_S, "speed"))
    )
    lifts = any(storey.lift_door for storey in site.storeys)
    shaft, free = (with_unit(area, "area") for area in (SHAFT_M2, FREE_M2))
    return (
        LeftOut("The fire's own pressure", float(fire),
                f"smoke of {hot} right under a ceiling of {ceiling}; less at the top of a door",
                "held against the minimum pressure, which is there for it, not against the room; a higher ceiling asks for more", False),
        LeftOut("Gusts", float(gust),
                f"{GUST:g} times the mean wind of {wind} on the windward face; no fan follows that fast",
                "leave room in the window; average the readings of a test over a minute"),
        LeftOut("A lift that runs", float(car),
                f"an invented car at {speed} in a shaft of {shaft}, {free} of it free: at most",
                f"{'' if lifts else 'the site file has no lift door, so it is not counted; where there is one, '}"
                "lifts are recalled in a fire; measure with them at rest, and once with one running", lifts),
    )  # fmt: skip


def _answer(site, airs=(FIRST_MINUTE, AFTER_AN_HOUR)):
    """`SiteAnswer` in the worse of some airs of the stair."""
    cases = tuple(case for case in with_stair_air((Case(WEATHER, WEATHER),)) if case.stair in airs)
    tower, window = Tower(site), allowed_pressures(site)
    result = compare_rules(tower, window, cases, rules=(site.control.rule,)).results[0]
    density = air.density(site.weather[WEATHER].outdoor_c, air.pressure_at_altitude(site.altitude_m))
    place = int(np.argmin(result.margin_pa))
    supply_m3_s = float(result.held.air.supply_kg_s[place] / density)
    return SiteAnswer(result, place, cases[place].stair, supply_m3_s, _nearest(tower.levels, window, result.held.air, place))


def _nearest(levels, window, air_found, place):
    """`NearestLimit` of one case of some air, all of its doors shut; None where nothing is limited."""
    found = []
    for use, dp in across_by_use(air_found).items():
        for end, limits, way in zip(("least", "most"), window.by_storey(levels, use), (1, -1), strict=True):
            rooms = way * (dp[place] - limits)
            storey = int(np.argmin(rooms))
            found.append((rooms[storey], NearestLimit(use, int(levels[storey]), float(dp[place, storey]), float(limits[storey]), end)))
    room, nearest = min(found, key=lambda one: one[0])
    return nearest if np.isfinite(room) else None


def _again(site):
    """When the doors are measured: at once and from the minute that the acceptance sheet has, by the same function."""
    minutes = {round(twice.minute) for twice in measured_twice(Tower(site), WEATHER).values()}
    return f"test at once, and again from minute {max(minutes)}" if minutes else "test at once"


def _each(site):
    yield Doubt("Air in the stair", "as warm as the rooms when the fan starts, colder the longer it blows", (FIRST_MINUTE, AFTER_AN_HOUR),
                tuple(_answer(site, (one,)) for one in (FIRST_MINUTE, AFTER_AN_HOUR)), _again(site))  # fmt: skip
    for what, why, ends, changes, remedy in (*_building(site), *_weather(site), _transmitters(site)):
        yield Doubt(what, why, tuple(ends), tuple(_answer(site.with_changes(**change)) for change in changes), remedy)


def _building(site):
    leaks, friction_m2 = site.leakage, site.stair.friction_area_m2
    gaps = [{name: {"leak_area_m2": factor * door.leak_area_m2} for name, door in site.doors.items()} for factor in GAPS]
    yield ("Gaps round the doors", "carpets, settling, seals that wear: leaks grow with the years", ("half as large", "twice as large"),
           [{"doors": doors} for doors in gaps],
           "measure the gaps; a blower door closes a way out while it is there")  # fmt: skip
    for wall, name in (("stair_wall", "Walls of the stair"), ("exterior_wall", "Outer walls")):
        yield (name, f'"{getattr(leaks, wall)}" is a class of a table, for walls that nobody has measured', TIGHTNESS,
               [{"leakage": {wall: word}} for word in TIGHTNESS], "pressure test of one storey before the fan is bought")  # fmt: skip
    yield ("Friction of the stair", "treads, rails and people in the way; hardly ever measured", ("half the opening", "twice the opening"),
           [{"stair": {"friction_area_m2": factor * friction_m2}} for factor in FRICTION],
           "measure the pressure at both ends of the stair, stair cleared, speed raised in steps, stopped at the force limit")  # fmt: skip
    yield ("Discharge coefficient of leaks", "nobody has seen their edges", [f"{value:g}" for value in DISCHARGE],
           [{"leakage": {"discharge_coefficient": value}} for value in DISCHARGE],
           "it moves the fan, hardly the doors: leave the fan some air")  # fmt: skip
    yield ("Exponent of leaks in walls", "an orifice has 0.5, a long crack more", [f"{value:g}" for value in EXPONENTS],
           [{"leakage": {"wall_exponent": value}} for value in EXPONENTS], "a pressure test at several pressures tells it")  # fmt: skip


def _weather(site):
    state = site.weather[WEATHER]
    outdoors = [state.outdoor_c - COLDER_K, state.outdoor_c + COLDER_K]
    yield ("Outdoor air", "the design day is a statistic; some hours are colder",
           [with_unit(value, "temperature") for value in outdoors],
           [{"weather": {WEATHER: {"outdoor_c": value}}} for value in outdoors],
           "take the climate figure that your code names")  # fmt: skip
    yield ("Wind", "it turns; the pressure coefficients are those of plain boxes",
           [with_unit(value, "wind speed", 0) for value in WINDS_M_S],
           [{"weather": {WEATHER: {"wind_speed_m_s": value}}} for value in WINDS_M_S],
           "put the reference of a transmitter where the wind does not reach it")  # fmt: skip


def _transmitters(site):
    error_pa = max(tap.accuracy_percent_span / 100 * (tap.range_high_pa - tap.range_low_pa) for tap in site.transmitters)
    held = [site.control.set_point_pa - error_pa, site.control.set_point_pa + error_pa]
    return ("The transmitters", "all of them wrong by their accuracy, with the same sign: what is held in truth",
            [fine(value) for value in held], [{"control": {"set_point_pa": value}} for value in held],
            "zero and span against a calibrated gauge, every year")  # fmt: skip
