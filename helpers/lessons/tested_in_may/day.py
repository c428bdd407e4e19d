"""Larkfield House's test day in May as lesson 09b takes it: solved once, with what was read of it; and its doors by hand."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from helpers.formulas import air, leakage
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.measured.any_weather import AnyWeather
from helpers.studies.measured.drawn import DEMO_DAYS, drawn_day
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import FLOW, QUANTITIES, readings_of

SITE = "Larkfield House"
JANUARY_C, JANUARY_STAIR_C = -9.0, 20.0  # the site's winter; its stair in the first minute, nearly as warm as the rooms
ROUND_PA = 40.0  # what the fan in manual made of the first round, nearly
SET_POINT_PA = 35.0  # the most at which the final exit door still shuts by itself; ours
SLIDER_PA = 20.0, 60.0  # set points that the panel offers
TRIED_PA = 50.0  # set higher for the bottom doors, as a task has it
CHECK_C, CHECK_PA = 0.5, 41.5  # outdoors and set point at which one door alone is unsure, inside in 80 of 100 buildings; a test holds it
COOLED_C = 10.0  # stair air once the fan has filled it with outdoor air, as lesson 02 opens
COARSE_PA = 5.0  # a gauge five times as coarse as the day's
DOORS, OVER_OUTDOORS = QUANTITIES.index("stair door"), [QUANTITIES.index(f"{what} over outdoors") for what in ("floor", "stair")]
THREE = (0, 7, 13)  # storeys

WHOLE, NO_FLOW, NO_FLOORS, FEW_DOORS, ONE_ROUND = READ = (
    "the whole day", "without the fan's flow", "nothing over outdoors", "doors of three storeys", "one round alone"
)  # fmt: skip
REFUSED = {NO_FLOW: "it holds no flow", NO_FLOORS: "it holds nothing over outdoors"}  # of these page 18 makes no fit


@cache
def may():
    """The day, its fit and the building behind it over all weathers: the building of the day in data/days, its crew faster than the final
    exit bears, as the story has it. Returns `AnyWeather`."""
    site = read_site(demo_sites()[SITE])
    drawn = drawn_day(site, DEMO_DAYS[SITE], doors=False)
    return AnyWeather.of(fit_building(readings_of(site, drawn.day)), drawn)


def kept(what):
    """Which of the day's readings there are, of one of READ [readings], as booleans."""
    readings = may().fitted.readings
    quantity = readings.quantity
    return {
        WHOLE: np.ones(len(readings), bool),
        NO_FLOW: quantity != FLOW,
        NO_FLOORS: ~np.isin(quantity, OVER_OUTDOORS),
        FEW_DOORS: (quantity != DOORS) | np.isin(readings.storey, THREE),
        ONE_ROUND: readings.round == 0,
    }[what]


def doors_at(outdoor_c=JANUARY_C, stair_c=JANUARY_STAIR_C, set_point_pa=SET_POINT_PA, gauge_pa=None, what=WHOLE, case=""):
    """`InWeather` of the doors; what: one of READ."""
    return may().at(outdoor_c, stair_c, set_point_pa, gauge_pa, kept(what), case)


def in_may():
    """The doors in the day's own weather."""
    weather = may().fitted.readings.day.weather
    return doors_at(weather.outdoor_c, weather.stair_bottom_c)


def wind_m_s():
    """Wind [m/s] of every weather here: that of the site file's winter."""
    return read_site(demo_sites()[SITE]).weather["winter"].wind_speed_m_s


def ends(found):
    """`DoorForecast` of the lowest and of the highest stair door."""
    stairs = [one for one in found.doors if one.use == "stair door"]
    return stairs[0], stairs[-1]


def width(found):
    """Mean width of the doors' intervals [Pa]."""
    ends = np.array([one.pressures_pa for one in found.doors])
    return float((ends[:, 2] - ends[:, 0]).mean())


def read_doors():
    """Pressure [Pa] across the stair doors as it was read in the first round, by level."""
    return {int(level): value for level, value in may().fitted.readings.day.rounds[0].stair_doors_pa.items()}


def read_by_door():
    """The same and across the final exits, by a door's words."""
    first = may().fitted.readings.day.rounds[0]
    by_use = (("stair door", first.stair_doors_pa), ("final exit", first.final_exits_pa))
    return {f"{use} {level}": value for use, read in by_use for level, value in read.items()}


@dataclass(frozen=True)
class HandDoor:
    """A door by hand: its level; height_m above where the loop's reading stands; as read in May; the floor behind it over outdoors; the
    door's share of both; by hand in January; and the forecast's low, middle and high end there [Pa]."""

    level: int
    height_m: float
    read_pa: float
    floor_pa: float
    share: float
    by_hand_pa: float
    forecast_pa: tuple


def gradients():
    """Stack effect of the day and of January [Pa/m]."""
    weather = may().fitted.readings.day.weather
    temps = (weather.outdoor_c, weather.stair_bottom_c), (JANUARY_C, JANUARY_STAIR_C)
    return tuple(float(air.stack_gradient(*pair)) for pair in temps)


@cache
def by_hand():
    """`HandDoor` of each storey whose floor was read, the first round's reading held in January as well."""
    readings = may().fitted.readings
    site, first, tower = readings.site, readings.day.rounds[0], Tower(readings.site)
    taps = [tower.storey(tap.level) for tap in site.transmitters]
    held_at, read = tower.elevation_m[taps].mean(), read_doors()
    held = float(np.mean([read[tap.level] for tap in site.transmitters]))
    forecast, told = doors_at(set_point_pa=held), []
    for text, floor in first.floor_over_outdoors_pa.items():
        level = int(text)
        height, share = float(tower.elevation_m[tower.storey(level)] - held_at), read[level] / (read[level] + floor)
        january = float(leakage.pressure_in_another_weather(read[level], height, *gradients(), share))
        told.append(HandDoor(level, height, read[level], floor, share, january, forecast.of("stair door", level).pressures_pa))
    return tuple(told)
