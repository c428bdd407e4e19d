"""Cycling, starts and intervals of counts against published figures."""

import pytest
from published import MEMORY, NEMA_MG_10, NEWCOMBE, REVIEWED, SEEN, TM_5_814, Figure, names

from helpers.formulas import low_demand, uncertainty

NEWCOMBE_3 = NEWCOMBE.at("table I, method 3")
WET_WELLS = {"seen_in": ("wet wells",)}
STARTS = NEMA_MG_10.at("table 2-3, four poles")


def wilson(successes, trials, end):
    return lambda: uncertainty.wilson_interval(successes, trials)[end]


def motor(hp, inertia_lb_ft2=0.0):
    return low_demand.starts_allowed(hp * low_demand.WATTS_PER_HORSEPOWER, inertia_lb_ft2 * low_demand.KG_M2_PER_LB_FT2)


def starts(hp):
    return lambda: motor(hp).per_hour


def inertia_starts(hp):
    """Starts an hour times inertia, where the inertia is what limits."""
    return lambda: motor(hp, 1000.0).per_hour * 1000.0


def rest(hp):
    return lambda: motor(hp).rest_s


FIGURES = [
    Figure(
        "most cycles, V 1, Q 1 [1/s]",
        lambda: low_demand.most_cycles_per_hour(1, 1) / 3600,
        "0.25",
        TM_5_814,
        REVIEWED,
        seen_in=("wet wells",),
    ),
    Figure(
        "cycles at half demand, V 1, Q 1 [1/s]",
        lambda: low_demand.cycles_per_hour(1, 0.5, 1) / 3600,
        "0.25",
        TM_5_814,
        REVIEWED,
        seen_in=("wet wells",),
    ),
    Figure("Wilson 81/263, lower", wilson(81, 263, 0), "0.2553", NEWCOMBE_3, MEMORY),
    Figure("Wilson 81/263, upper", wilson(81, 263, 1), "0.3662", NEWCOMBE_3, MEMORY),
    Figure("Wilson 15/148, lower", wilson(15, 148, 0), "0.0624", NEWCOMBE_3, MEMORY),
    Figure("Wilson 15/148, upper", wilson(15, 148, 1), "0.1605", NEWCOMBE_3, MEMORY),
    Figure("Wilson 0/20, lower", wilson(0, 20, 0), "0.0000", NEWCOMBE_3, MEMORY),
    Figure("Wilson 0/20, upper", wilson(0, 20, 1), "0.1611", NEWCOMBE_3, MEMORY),
    Figure("Wilson 1/29, lower", wilson(1, 29, 0), "0.0061", NEWCOMBE_3, MEMORY),
    Figure("starts an hour, 5 hp", starts(5), "16.3", STARTS, SEEN),
    Figure("starts x inertia, 5 hp [lb ft2/h]", inertia_starts(5), "27", STARTS, SEEN),
    Figure("rest, 5 hp [s]", rest(5), "42", STARTS, SEEN),
    Figure("starts an hour, 10 hp", starts(10), "12.5", STARTS, SEEN),
    Figure("starts x inertia, 10 hp [lb ft2/h]", inertia_starts(10), "51", STARTS, SEEN),
    Figure("rest, 10 hp [s]", rest(10), "46", STARTS, SEEN),
    Figure("starts an hour, 25 hp", starts(25), "8.8", STARTS, SEEN),
    Figure("starts x inertia, 25 hp [lb ft2/h]", inertia_starts(25), "122", STARTS, SEEN),
    Figure("rest, 25 hp [s]", rest(25), "58", STARTS, SEEN),
    Figure("starts an hour, 50 hp", starts(50), "6.8", STARTS, SEEN),
    Figure("starts x inertia, 50 hp [lb ft2/h]", inertia_starts(50), "232", STARTS, SEEN),
    Figure("rest, 50 hp [s]", rest(50), "72", STARTS, SEEN),
    Figure("starts an hour, 100 hp", starts(100), "5.2", STARTS, SEEN),
    Figure("starts x inertia, 100 hp [lb ft2/h]", inertia_starts(100), "441", STARTS, SEEN),
    Figure("rest, 100 hp [s]", rest(100), "110", STARTS, SEEN),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_cycling_and_statistics_agree_with_the_published_figure(figure):
    figure.check()
