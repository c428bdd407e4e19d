"""Error, action and proportional band by hand."""

from helpers.formulas import action
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["proportional_band"]

SPAN_PA, SET_POINT_PA, READING_PA, GAIN = 100.0, 50.0, 45.0, 2.0


def proportional_band():
    """A reading 5 Pa low, seen by a reverse and by a direct acting controller; then the band in which the output is neither end."""
    seen = {name: float(action.error(SET_POINT_PA, READING_PA, name)) for name in action.ACTIONS}
    percent = {name: 100 * error / SPAN_PA for name, error in seen.items()}
    band = float(action.proportional_band(GAIN))
    given = (
        Line("Span of the transmitter", "0 to 100 Pa", SPAN_PA, "pressure"),
        Line("Set point", "given", SET_POINT_PA, "pressure"),
        Line("Reading", "given", READING_PA, "pressure"),
        Line("Gain, % of output for each % of span", "given", GAIN, "number", 0),
    )
    working = (
        Line("Error, reverse acting", "set point - reading", seen["reverse"], "pressure"),
        Line("the same in per cent of span", "error / span x 100", percent["reverse"], "percent"),
        Line("Output moves at once by", "gain x error: faster", GAIN * percent["reverse"], "percent"),
        Line("Error, direct acting", "reading - set point", seen["direct"], "pressure"),
        Line("Output moves at once by", "gain x error in per cent: slower", GAIN * percent["direct"], "percent"),
        Line("Proportional band: the error that moves the output from end to end", "100 / gain", band, "percent", 0),
    )
    source = "ISA usage of gain and proportional band"
    return WorkedExample("One error, two actions, and the proportional band", given, working, 50.0, 0.5, source, "memory")
