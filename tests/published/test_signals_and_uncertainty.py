"""Signals, converters and uncertainty against published figures."""

import pytest
from published import DEFINITION, DERIVED, IEC_60381, JCGM_100, MEMORY, NAMUR_NE_43, ORDER_STATISTICS, PRACTICE, SEEN, TRADE, Figure, names

from helpers.formulas import combining, signals, uncertainty


def span(milliamps):
    return lambda: signals.percent_of_span(milliamps, "4-20 mA")


def volts(milliamps, ohm):
    return lambda: signals.volts_from_milliamps(milliamps, ohm)


def highest(count):
    return lambda: uncertainty.expected_highest(count)


FIGURES = [
    Figure("lower limit of the measuring range, 3.8 mA [% span]", span(3.8), "-1.25", NAMUR_NE_43, SEEN),
    Figure("failure low, 3.6 mA [% span]", span(3.6), "-2.5", NAMUR_NE_43, SEEN),
    Figure("failure high, 21 mA [% span]", span(21), "106.25", NAMUR_NE_43, SEEN),
    Figure("12 mA [% span]", span(12), "50", IEC_60381, MEMORY),
    Figure("4 mA through 250 ohm [V]", volts(4, 250), "1", IEC_60381, MEMORY, allowed=1e-12),
    Figure("20 mA through 250 ohm [V]", volts(20, 250), "5", IEC_60381, MEMORY, allowed=1e-12),
    Figure("4 mA through 500 ohm [V]", volts(4, 500), "2", IEC_60381, MEMORY, allowed=1e-12),
    Figure("20 mA through 500 ohm [V]", volts(20, 500), "10", IEC_60381, MEMORY, allowed=1e-12),
    Figure("12-bit step, 0-20 mA [uA]", lambda: 1000 * signals.resolution(0, 20, 12, "0-20 mA"), "4.883", DEFINITION, DERIVED),
    Figure("gauge block, first order [nm]", lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6]), "32", JCGM_100.at("H.1.4"), MEMORY),
    Figure(
        "gauge block, second-order term too [nm]",
        lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6, 11.7]),
        "34",
        JCGM_100.at("H.1.7"),
        MEMORY,
    ),
    Figure("expected highest of 2 [sigma]", highest(2), "0.5642", ORDER_STATISTICS, MEMORY),
    Figure("expected highest of 4 [sigma]", highest(4), "1.0294", ORDER_STATISTICS, MEMORY),
    Figure("expected highest of 5 [sigma]", highest(5), "1.1630", ORDER_STATISTICS, MEMORY),
    Figure("0 V of 0-10 V scaled to -1 ... +1", lambda: signals.to_units(0, "0-10 V", -1, 1), "-1", TRADE, PRACTICE, allowed=1e-12),
    Figure("10 V of 0-10 V scaled to -1 ... +1", lambda: signals.to_units(10, "0-10 V", -1, 1), "1", TRADE, PRACTICE, allowed=1e-12),
    Figure("average of 0 and 1", lambda: combining.combine([0, 1], "average"), "0.5", TRADE, PRACTICE, allowed=1e-12),
    Figure("average of 0.5 and 1", lambda: combining.combine([0.5, 1], "average"), "0.75", TRADE, PRACTICE, allowed=1e-12),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_signals_and_uncertainty_agree_with_the_published_figure(figure):
    figure.check()


@pytest.mark.parametrize(
    ("milliamps", "word"),
    [
        (3.6, "failed low"),
        (3.8, "ok"),
        (20.5, "ok"),
        (21.0, "failed high"),
        (3.7, "below range"),  # 3.7 and 20.7: between the bands, which the recommendation leaves to the maker
        (20.7, "above range"),
    ],
)
def test_a_current_means_what_ne_43_says(milliamps, word):
    """NAMUR NE 43, seen in public text: measuring 3.8 to 20.5 mA, failure at or below 3.6 mA and at or above 21 mA."""
    assert signals.STATUSES[signals.status(milliamps, "4-20 mA")] == word
