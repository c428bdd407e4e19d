"""What to predict before the picture: a range four times as wide, one that ends just above the set point, one that ends at zero."""

from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.figures import fine, range_text
from helpers.studies.range_fit import RangeFit
from helpers.studies.steady_loop import QUAYSIDE

__all__ = ["PREDICTIONS", "narrow", "one_sided", "wide"]

SAME, FOUR, HALF, UNCLEAR = (
    "the same: it is the same accuracy",
    "four times as large",
    "smaller: it has more room",
    "that depends on the pressure",
)
AS_SHOWN, A_LITTLE, HEAVY, LESS = (
    "every door is as it should be, the display says so",
    "the doors get a little more, but people can open them",
    "so much more that people cannot open them",
    "the doors get less, and smoke can pass",
)
ALL_WELL, MORE, BARELY, BELOW = (
    "what the display shows",
    "more than the display shows",
    "less than the display shows, on average still above outdoors",
    "less, on average below outdoors",
)
NARROW_PA, HIGH_SET_POINT_PA, WIDE_PA, ONE_SIDED_PA = 50.0, 45.0, 500.0, 25.0


@cache
def _fit(**chosen):
    return RangeFit(drift_percent=0.0, **chosen)


def _range(high_pa, system, low_pa=0.0):
    return range_text(low_pa, high_pa, "pressure", system)


def _ask_wide(system):
    own = _fit()
    return units.one_stop(
        f"Two transmitters, both with an accuracy of {own.accuracy_percent:g} % of span: one reads {_range(own.high_pa, system)}, the "
        f"other {_range(WIDE_PA, system)}. The stair is held at {units.show(own.set_point_pa, 'pressure', system)}. What is the error of "
        "the wide one beside that of the other?"
    )


def _find_wide(system):
    own, wide = _fit(), _fit(high_pa=WIDE_PA)
    ratio = wide.own_parts_pa[0] / own.own_parts_pa[0]
    one, other = (units.show(fit.own_parts_pa[0], "pressure", system, 2 if system == "Pa" else 3) for fit in (own, wide))
    right = SAME if ratio < 1.1 else FOUR if abs(ratio - 4) < 0.1 else UNCLEAR
    words = (
        f"±{one} for the one and ±{other} for the other, {ratio:.0f} times as much. A per cent of span is a per cent of the whole range, "
        "whatever the pressure is; the room that is never used is paid for as well."
    )
    return Outcome(Chosen(right, (SAME, FOUR, HALF, UNCLEAR)), units.one_stop(words))


def _ask_narrow(system):
    point = units.show(HIGH_SET_POINT_PA, "pressure", system)
    return units.one_stop(
        f"Larkfield House, winter. Somebody buys {_range(NARROW_PA, system)} for both transmitters, because it is the most accurate, and "
        f"sets the average of the two to {point}. The stack effect makes the upper doors heavier than the lower ones. The display shows "
        f"{point}. What do people find at the doors?"
    )


def _find_narrow(system):
    held = _fit(high_pa=NARROW_PA, set_point_pa=HIGH_SET_POINT_PA).held
    right = HEAVY if held.too_high else LESS if held.too_low else A_LITTLE if held.off_pa > 0.5 else AS_SHOWN
    upper, end, true = (units.show(value, "pressure", system) for value in (held.readings_pa.max(), NARROW_PA, held.true_pa))
    words = (
        f"the upper transmitter stands at the end of its range and sends {end} and hardly more, whatever is there. The loop speeds up "
        f"until the lower one makes the average right. Really there are {upper} at the upper one, and {true} on average. "
        f"{held.says(system)}"
    )
    return Outcome(Chosen(right, (AS_SHOWN, A_LITTLE, HEAVY, LESS)), units.one_stop(words))


def _ask_one_sided(system):
    own = _fit(site=QUAYSIDE, low_pa=-ONE_SIDED_PA, high_pa=ONE_SIDED_PA, set_point_pa=5.0)
    point = units.show(own.set_point_pa, "pressure", system)
    return units.one_stop(
        f"Quayside Lab, winter, a wind from the water. A relief fan holds the building {point} above outdoors, by the average of two "
        f"transmitters, one on the quay and one in the yard. The range {_range(ONE_SIDED_PA, system, -ONE_SIDED_PA)} is replaced by "
        f"{_range(ONE_SIDED_PA, system)}. The display shows {point}. What is the true average?"
    )


def _find_one_sided(system):
    held = _fit(site=QUAYSIDE, low_pa=0.0, high_pa=ONE_SIDED_PA, set_point_pa=5.0).held
    right = ALL_WELL if abs(held.off_pa) < 0.5 else MORE if held.off_pa > 0 else BARELY if held.true_pa > 0 else BELOW
    quay, true = (fine(value, system) for value in (held.readings_pa.min(), held.true_pa))
    words = (
        f"{true}. On the quay the building stands at {quay} against the wind, and a range that begins at zero sends its bottom for it. "
        "The average comes out too high, and the relief fan lets out more air than it should."
    )
    return Outcome(Chosen(right, (ALL_WELL, MORE, BARELY, BELOW)), units.one_stop(words))


wide = Prediction("wide", _ask_wide, _find_wide, (SAME, FOUR, HALF, UNCLEAR))
narrow = Prediction("narrow", _ask_narrow, _find_narrow, (AS_SHOWN, A_LITTLE, HEAVY, LESS))
one_sided = Prediction("one sided", _ask_one_sided, _find_one_sided, (ALL_WELL, MORE, BARELY, BELOW))
PREDICTIONS = (wide, narrow, one_sided)
