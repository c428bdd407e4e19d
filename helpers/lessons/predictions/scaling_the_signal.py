"""What to predict before the picture: a top entered twice too large, a live zero forgotten, a wire that breaks."""

from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen, Measured
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.entered_scaling import WIRE_OFF, EnteredScaling
from helpers.studies.figures import fine, range_text

__all__ = ["PREDICTIONS", "broken", "live_zero", "top"]

NOTHING, SOME, NEGATIVE, ALARM = (
    "nothing, as it should",
    "some pressure, where there is none",
    "a pressure below zero",
    "an alarm: the signal is too low",
)
SLOWER, FULL, SAME, KNOWS = (
    "it slows down: one reading is gone",
    "it speeds up, as far as it can",
    "it goes on as before, by the other one",
    "it stops, for the drive sees that the wire is broken",
)
WRONG_TOP_PA = 250.0
HALF_STEP_PA = 2.0


@cache
def _entry(**chosen):
    return EnteredScaling(**chosen)


def _ask_top(system):
    own, wrong = _entry(), _entry(entered_high_pa=WRONG_TOP_PA)
    return units.one_stop(
        f"Larkfield House: transmitters of {range_text(own.low_pa, own.high_pa, 'pressure', system)}, 4-20 mA, set point "
        f"{units.show(own.set_point_pa, 'pressure', system)}. In the drive somebody has entered "
        f"{range_text(wrong.entered_low_pa, wrong.entered_high_pa, 'pressure', system)}; the signal is entered as it is. The loop settles. "
        "What does it really hold, on average of the two transmitters?"
    )


def _find_top(system):
    held = _entry(entered_high_pa=WRONG_TOP_PA).held
    words = (
        f"the display doubles everything, so it shows the set point, {fine(held.shown_pa, system)}, when half of it is there. A loop holds "
        f"its display; a top too high means a pressure too low. {held.says(system)}"
    )
    return Outcome(Measured(held.true_pa, "pressure", HALF_STEP_PA, 1 if system == "Pa" else 3), units.one_stop(words))


def _ask_zero(system):
    own = _entry()
    return units.one_stop(
        f"The same transmitters, range entered rightly, {range_text(own.low_pa, own.high_pa, 'pressure', system)}. But for the signal "
        "somebody has chosen 0-20 mA instead of 4-20 mA. The fan stands still, both tubes are off: no pressure at all. What does the "
        "display show?"
    )


def _find_zero(system):
    wrong = _entry(entered_signal="0-20 mA")
    offset = wrong.offset_pa
    right = NEGATIVE if offset < -1 else SOME if offset > 1 else NOTHING
    words = (
        f"{fine(offset, system)}. At no pressure the instrument sends its live zero, 4 mA, and of 0-20 mA that is a fifth. With the loop "
        f"running, {fine(wrong.held.true_pa, system)} is held instead of {fine(wrong.set_point_pa, system)}. {wrong.held.says(system)}"
    )
    return Outcome(Chosen(right, (NOTHING, SOME, NEGATIVE, ALARM)), units.one_stop(words))


def _ask_broken(system):
    return (
        "Other transmitters, 0-10 V, everything entered as it is; the average of the two runs the fan. In the night the wire of the upper "
        "one comes off its terminal. What does the fan do?"
    )


def _find_broken(system):
    volts = _entry(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)
    held = volts.held
    right = FULL if held.state == "at full speed" else SAME if abs(held.off_pa) < 1 else SLOWER
    words = (
        f"no voltage is a fair reading of {fine(volts.broken_pa, system)} for 0-10 V: nobody can tell it from no pressure. It goes into "
        f"the average, the average is too low, and the fan ends {held.state}. {held.says(system)}"
    )
    return Outcome(Chosen(right, (SLOWER, FULL, SAME, KNOWS)), units.one_stop(words))


top = Prediction("top", _ask_top, _find_top, dimension="pressure")
live_zero = Prediction("live zero", _ask_zero, _find_zero, (NOTHING, SOME, NEGATIVE, ALARM))
broken = Prediction("broken", _ask_broken, _find_broken, (SLOWER, FULL, SAME, KNOWS))
PREDICTIONS = (top, live_zero, broken)
