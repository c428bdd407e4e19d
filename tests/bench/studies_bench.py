"""The studies' times on this machine: every pair of 40 storeys under five rules in 1000 conditions, a year of 8760 hours, every failed
reading of Larkfield House with all that is recorded of it, and its tuning over the whole box."""

import functools
import subprocess
import sys
import time

import numpy as np

from helpers.formulas.combining import RULES
from helpers.formulas.heat import shaft_temperatures
from helpers.model.air.conditions import Conditions, demo_weather, read_hours
from helpers.model.air.stair_heat import stair_air
from helpers.model.air.tower import Tower
from helpers.model.found_once import forget_airs
from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day
from helpers.studies.doors.window import pressure_window
from helpers.studies.doors.year import year_of_weather
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import readings_of
from helpers.studies.placement.study import candidate_levels, choices_of, draw, place_transmitters
from helpers.studies.readings.failures import FALLBACKS
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.tuning.study import tuning_study

CONDITIONS = 1000


def studies_speed(runs=2):
    """`placement_s`, `year_s`, `fallback_s`, `tuning_robust_s` (gain searched, whole box, door tests of near and far corner, what helps)
    `record_s` (Larkfield House, all sections, in a process of its own from its start), `fit_s` and `fit_tower_s` (a test day of Larkfield
    House and of Northgate Tower, from the files to the factors with their intervals), best of some runs, each from reading the site and
    the weather to the answer in words."""
    return {
        "placement_s": round(min(_timed(_placement) for _ in range(runs)), 2),
        "year_s": round(min(_timed(_year) for _ in range(runs)), 2),
        "fallback_s": round(min(_timed(_fallback) for _ in range(runs)), 2),
        "tuning_robust_s": round(min(_timed(_tuning) for _ in range(runs)), 2),
        "record_s": round(min(_timed(_record_cold) for _ in range(runs)), 2),
        "fit_s": round(min(_timed(functools.partial(_fit, "Larkfield House")) for _ in range(runs)), 2),
        "fit_tower_s": round(min(_timed(functools.partial(_fit, "Northgate Tower")) for _ in range(runs)), 2),
    }


def stair_heat_speed(runs=5):
    """Microseconds a case of the stair's heat balance, steady, 40 storeys, 1000 cases, and its slope over storeys on doubly logarithmic
    paper; and of balance and network in turn, until they agree, with the loop held, on Northgate Tower in so many winters."""
    storeys = np.array([10, 20, 40, 80, 160])
    seconds = [min(_timed(functools.partial(shaft_temperatures, *_shaft(count))) for _ in range(runs)) for count in storeys]
    site = read_site(demo_sites()["Northgate Tower"])
    winters = Conditions.of(site, outdoor_c=np.linspace(-25.0, 5.0, CONDITIONS))
    tower = Tower(site)
    coupled = min(_timed(lambda: stair_air(tower, winters)) for _ in range(2))
    return {
        "stair_heat_us_per_case": round(seconds[2] / CONDITIONS * 1e6, 2),
        "stair_heat_growth_storeys": round(float(np.polyfit(np.log(storeys), np.log(seconds), 1)[0]), 3),
        "stair_heat_with_network_us_per_case": round(coupled / CONDITIONS * 1e6, 1),
    }


def _shaft(storeys):
    """Flows, temperatures and walls of a stair with an outlet in the middle, that leaks on each storey."""
    rng = np.random.default_rng(1)
    leaks = rng.uniform(0.02, 0.1, (storeys, CONDITIONS))
    middle = storeys // 2
    passing = np.cumsum(leaks, axis=0)[:-1]  # what the storeys up to there let out comes down to them
    up = -passing
    up[middle:] = (leaks.sum(axis=0) - passing)[middle:]
    enters = np.zeros((storeys, CONDITIONS))
    enters[middle] = leaks.sum(axis=0)
    outdoor = rng.uniform(-30, 40, (1, CONDITIONS))
    return enters, outdoor, up, np.full((storeys, 1), 400.0), np.full((1, CONDITIONS), 21.0)


RECORD = """
from helpers.model.site.file import demo_sites, read_site
from helpers.record.design import Design
record = Design(read_site(demo_sites()["Larkfield House"])).record()
assert list(record.summary) and all(section.verdict for section in record.sections)
"""


def _record_cold():
    subprocess.run([sys.executable, "-c", RECORD], check=True)


def _placement():
    site = read_site(demo_sites()["Northgate Tower"])
    levels = candidate_levels(site)
    pairs = [choice for choice in choices_of(site, (2,), RULES, levels) if len(choice.levels) == 2]
    assert (len(levels), len(pairs)) == (40, 780 * len(RULES))
    drawn = draw(site, read_hours(demo_weather()["Greensboro"]), CONDITIONS)
    found = place_transmitters(Tower(site), pressure_window(site), drawn, pairs)
    assert (found.judged, found.unsolved) == (CONDITIONS, 0)
    return found.verdict()


def _year():
    site = read_site(demo_sites()["Larkfield House"])
    year = year_of_weather(Tower(site), pressure_window(site), read_hours(demo_weather()["Greensboro"]))
    assert year.counts["not found"] == 0
    return year.verdict()


def _fallback():
    site = read_site(demo_sites()["Larkfield House"])
    study = fallback_study(Tower(site), pressure_window(site))
    assert len(study.ways) == len(FALLBACKS)
    return study.best.worst.text(), study.alarm_limits.silent, [one.believed.text() for one in study.beside]


def _tuning():
    site = read_site(demo_sites()["Larkfield House"])
    found = tuning_study(Tower(site), pressure_window(site))
    assert found.recommended.safe
    return found.verdict()


def _fit(name):
    path = demo_sites()[name]
    return fit_building(readings_of(read_site(path), read_test_day(DAYS_FOLDER / f"{path.stem}_may.toml"))).factors


def _timed(call):
    forget_airs()
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun
