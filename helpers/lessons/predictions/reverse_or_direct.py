"""What to predict before the picture: where a loop of the wrong action ends, and what swapped tubes do instead."""

from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.runaway import LetGo, bench

__all__ = ["PREDICTIONS", "below", "relief", "swapped"]

FULL, LOWEST = "it runs to full speed and stays there", "it runs to its lowest speed and stays there"
SETTLES, SWINGS = "it settles at the set point", "it swings to and fro"
OPTIONS = (FULL, LOWEST, SETTLES, SWINGS)
ENDS = {"full speed": FULL, "lowest speed": LOWEST, "held": SETTLES, "under way": SWINGS}
BELOW_PA, ABOVE_PA = 5.0, 2.0


@cache
def _ended(site, deviation_pa, action, swapped=False):
    place = bench(site)
    return place.let_go(LetGo(100 * deviation_pa / place.span, action, swapped=swapped))


def _outcome(found, because, system):
    stop = "at full speed" if found.end == "full speed" else f"at its {found.end}"
    words = f"{because}; after {found.at_s:.0f} s the fan is {stop}. {found.price.says(system)}"
    return Outcome(Chosen(ENDS[found.end], OPTIONS), words)


def _below(system):
    because = (
        "a direct acting controller takes reading less set point. Below the set point that is less than nothing, so it slows the fan, "
        "the reading falls further, and so on"
    )
    return _outcome(_ended("Larkfield House", -BELOW_PA, "direct"), because, system)


def _relief(system):
    because = (
        "a reverse acting controller slows the fan when the reading is too high. This fan lets air out, so slower means more pressure: "
        "the error feeds itself"
    )
    return _outcome(_ended("Quayside Lab", ABOVE_PA, "reverse"), because, system)


def _swapped(system):
    because = (
        "swapped tubes turn the sign of the reading, which then lies at the bottom of a range that begins at zero. The controller sees "
        "far too little pressure from whichever side it starts, and speeds up for good"
    )
    return _outcome(_ended("Larkfield House", BELOW_PA, "reverse", True), because, system)


def _ask(words, size):
    return lambda system: words.format(units.show(size, "pressure", system, 2 if system == "in. w.c." else 0))


below = Prediction(
    "below",
    _ask(
        "Larkfield House: a supply fan blows into a stair. By mistake the loop is set to direct acting, and it is switched to "
        "automatic while the reading is {} below the set point. What does the fan do?",
        BELOW_PA,
    ),
    _below,
    OPTIONS,
)
relief = Prediction(
    "relief",
    _ask(
        "Quayside Lab: a relief fan lets air out of a building. By mistake the loop is set to reverse acting, and it is switched to "
        "automatic while the building stands {} above its set point. What does the fan do?",
        ABOVE_PA,
    ),
    _relief,
    OPTIONS,
)
swapped = Prediction(
    "swapped",
    _ask(
        "Larkfield House again, now with the right action, reverse. But somebody has changed over the two tubes of both transmitters. "
        "The true pressure is {} above the set point. What does the fan do?",
        BELOW_PA,
    ),
    _swapped,
    OPTIONS,
)
PREDICTIONS = (below, relief, swapped)
