"""The studies' times on this machine: every pair of 40 storeys under five rules in 1000 conditions, a year of 8760 hours, and every failed
reading of Larkfield House with all that is recorded of it."""

import time

from helpers.formulas.combining import RULES
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.studies.fallback import fallback_study
from helpers.studies.fallback.failures import FALLBACKS
from helpers.studies.placement import place_transmitters
from helpers.studies.placement_choices import candidate_levels, choices_of
from helpers.studies.placement_draws import draw
from helpers.studies.weather import demo_weather, read_hours
from helpers.studies.window import pressure_window
from helpers.studies.year import year_of_weather

CONDITIONS = 1000


def studies_speed(runs=2):
    """`placement_s`, `year_s` and `fallback_s`, best of some runs, each from reading the site and the weather to the answer in words."""
    return {
        "placement_s": round(min(_timed(_placement) for _ in range(runs)), 2),
        "year_s": round(min(_timed(_year) for _ in range(runs)), 2),
        "fallback_s": round(min(_timed(_fallback) for _ in range(runs)), 2),
    }


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


def _timed(call):
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun
