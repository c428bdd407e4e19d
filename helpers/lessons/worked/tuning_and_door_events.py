"""SIMC by hand on a published process of two lags."""

from helpers.formulas import tuning
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["simc"]

LONG_S, SHORT_S, PROCESS_GAIN = 1.0, 0.2, 1.0


def simc():
    """Two lags shortened to one and a delay by the half rule, then the SIMC controller as fast as advised."""
    short = tuning.half_rule([LONG_S, SHORT_S])
    found = tuning.simc_pi(PROCESS_GAIN, short.lag_s, short.delay_s)
    given = (
        Line("Gain of the process", "given, % of span by % of output", PROCESS_GAIN, "number", 0),
        Line("Longer lag", "given", LONG_S, "time"),
        Line("Shorter lag", "given", SHORT_S, "time"),
    )
    working = (
        Line("Lag to tune for", "longer lag + half of the shorter", short.lag_s, "time", 2),
        Line("Delay to tune for", "the other half of the shorter", short.delay_s, "time", 2),
        Line("Closed loop", "as fast as the delay, the fastest advised", short.delay_s, "time", 2),
        Line("Integral time", "the shorter of the lag and 4 x (closed loop + delay)", float(found.integral_s), "time", 2),
        Line("Gain", "lag / (process gain x (closed loop + delay))", float(found.gain), "number", 1),
    )
    source = "Skogestad, J. Process Control 13 (2003) 291-309, worked example E1"
    return WorkedExample("Two lags, one tuning", given, working, 5.5, 0.05, source, "memory")
