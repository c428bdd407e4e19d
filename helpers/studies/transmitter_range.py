"""Which transmitter range to buy: resolution, accuracy, where the set point lies on the span, what the peaks of closing doors do to it."""

from dataclasses import dataclass

__all__ = ["RANGES_PA", "RangeAdvice", "RangeChoice", "range_advice"]

RANGES_PA = ()


@dataclass(frozen=True)
class RangeChoice:
    """One range judged: figures in Pa or per cent of span, `objections` and `remarks` in plain words (system of units: chosen at the call)."""

    low_pa: float
    high_pa: float
    accuracy_pa: float
    resolution_pa: float
    set_point_percent: float
    least_percent: float | None
    most_percent: float | None
    peak_percent: float


@dataclass(frozen=True)
class RangeAdvice:
    """All candidates, the one to buy, the peak and the lowest pressure to expect, and the error of the combined reading."""

    choices: tuple
    chosen: RangeChoice
    peak_pa: float
    lowest_pa: float


def range_advice(tower, window, cases, comparison, set_point_pa=None):
    """Judge the usual ranges for a site. Returns `RangeAdvice`."""
    raise NotImplementedError
