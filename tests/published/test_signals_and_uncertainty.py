"""Signals, converters and uncertainty against published figures."""

import pytest
from published import (
    DEFINITION,
    DERIVED,
    IEC_60381,
    JCGM_100,
    MEMORY,
    NAMUR_NE_43,
    ORDER_STATISTICS,
    PRACTICE,
    REVIEWED,
    SEEN,
    STUDENT,
    TRADE,
    Figure,
    names,
)

from helpers.formulas import combining, signals, uncertainty

GAUGE_BLOCK_MM = 50.000623  # of the standard block, JCGM 100 H.1 (from memory; the two parts below agree with it to all digits)


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
    Figure(
        "gauge block, first order [nm]",
        lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6]),
        "32",
        JCGM_100.at("H.1.4"),
        REVIEWED,
        seen_in=("h1",),
    ),
    Figure(
        "gauge block, part of unlike expansion, bound 1e-6 a degree at -0.1 degrees [nm]",
        lambda: uncertainty.standard_from_bound(GAUGE_BLOCK_MM * 0.1),
        "2.88679",
        JCGM_100.at("H.1.3"),
        REVIEWED,
        seen_in=("h1",),
    ),
    Figure(
        "gauge block, part of unlike temperature, bound 0.05 degrees at 11.5e-6 a degree [nm]",
        lambda: uncertainty.standard_from_bound(GAUGE_BLOCK_MM * 11.5 * 0.05),
        "16.599",
        JCGM_100.at("H.1.3"),
        REVIEWED,
        seen_in=("h1",),
    ),
    Figure(
        "gauge block, second-order term too [nm]",
        lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6, 11.7]),
        "34",
        JCGM_100.at("H.1.7"),
        REVIEWED,
        seen_in=("h1",),
    ),
    *(
        Figure(
            f"relative range of {count}, twice the highest [sigma]",
            lambda count=count: 2 * uncertainty.expected_highest(count),
            printed,
            ORDER_STATISTICS.at("d2"),
            REVIEWED,
            seen_in=("d2",),
        )
        for count, printed in ((2, "1.128"), (3, "1.693"), (4, "2.059"), (5, "2.326"))
    ),
    # To one digit more than half of d2: exact, 1/sqrt(pi), 6 atan(sqrt 2)/(pi sqrt pi), 5/(4 sqrt pi) + 15 asin(1/3)/(2 pi sqrt pi).
    *(
        Figure(f"expected highest of {count} [sigma]", highest(count), printed, ORDER_STATISTICS.at("closed form"), DERIVED)
        for count, printed in ((2, "0.5642"), (4, "1.0294"), (5, "1.1630"))
    ),
    *(
        Figure(
            f"Student's t, {freedom} degrees of freedom, {share} % in the middle [-]",
            lambda share=share, freedom=freedom: uncertainty.student_quantile(0.5 + share / 200, freedom),
            printed,
            STUDENT,
            REVIEWED,
            seen_in=("t",),
        )
        for share, freedom, printed in ((95, 5, "2.571"), (95, 10, "2.228"), (95, 20, "2.086"), (99, 16, "2.921"))
    ),
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
