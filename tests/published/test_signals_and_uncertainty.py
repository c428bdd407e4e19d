"""Signals, converters and uncertainty against published figures.

Each row: quantity, our call, published figure, tolerance, source, how known. Tolerance: half a unit of the last printed digit.
"""

import numpy as np
import pytest

from helpers.formulas import combining, signals, statistics, uncertainty

MEMORY, SEEN, PRACTICE = "memory", "seen in public text", "common practice, no source"
NE43, IEC = "NAMUR NE 43", "IEC 60381-1/-2"
H1, ORDER, CHARTS = "JCGM 100:2008 H.1", "Harter tables; David, Order Statistics", "ASTM manual on control charts"

# JCGM 100:2008 table H.2: five readings of voltage [V] and current [mA] taken at the same time.
VOLTAGE_V = [5.007, 4.994, 5.005, 4.990, 4.999]
CURRENT_MA = [19.663, 19.639, 19.640, 19.685, 19.678]


def span(milliamps):
    return lambda: signals.percent_of_span(milliamps, "4-20 mA")


def volts(milliamps, ohm):
    return lambda: signals.volts_from_milliamps(milliamps, ohm)


def student(degrees, confidence=0.95):
    return lambda: statistics.student_factor(confidence, degrees)


def highest(count):
    return lambda: uncertainty.expected_highest(count)


def mean_range(count):
    return lambda: uncertainty.expected_range(count)


def ideal_signal_to_noise_db(bits):
    """A sine over the whole range against what our rounding adds."""
    sine = 10 / 2 / np.sqrt(2)
    return 20 * np.log10(sine / signals.quantisation_sigma(signals.resolution(0, 10, bits, "0-10 V")))


def impedance_uncertainty_ohm():
    """Z = V / I from means of five readings whose errors go together."""
    v, i = np.mean(VOLTAGE_V), np.mean(CURRENT_MA) / 1000
    spread = [np.std(VOLTAGE_V, ddof=1) / np.sqrt(5), np.std(CURRENT_MA, ddof=1) / 1000 / np.sqrt(5)]
    return uncertainty.correlated([1 / i, -v / i**2], spread, np.corrcoef(VOLTAGE_V, CURRENT_MA))


ROWS = [
    ("lower limit of the measuring range, 3.8 mA [% span]", span(3.8), -1.25, 0.005, NE43, SEEN),
    ("failure low, 3.6 mA [% span]", span(3.6), -2.5, 0.05, NE43, SEEN),
    ("failure high, 21 mA [% span]", span(21), 106.25, 0.005, NE43, SEEN),
    ("12 mA [% span]", span(12), 50, 0.5, "IEC 60381-1", MEMORY),
    ("square root of 8 mA [% flow]", lambda: signals.root_extracted(signals.percent_of_span(8, "4-20 mA")), 50, 0.5, "text-book", MEMORY),
    ("4 mA through 250 ohm [V]", volts(4, 250), 1, 1e-12, IEC, MEMORY),
    ("20 mA through 250 ohm [V]", volts(20, 250), 5, 1e-12, IEC, MEMORY),
    ("4 mA through 500 ohm [V]", volts(4, 500), 2, 1e-12, IEC, MEMORY),
    ("20 mA through 500 ohm [V]", volts(20, 500), 10, 1e-12, IEC, MEMORY),
    ("ideal signal to noise, 12 bits [dB]", lambda: ideal_signal_to_noise_db(12), 74, 0.5, "IEEE 1241", MEMORY),
    ("12-bit step, 0-20 mA [uA]", lambda: 1000 * signals.resolution(0, 20, 12, "0-20 mA"), 4.883, 0.0005, "definition", MEMORY),
    ("gauge block, first order [nm]", lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6]), 32, 0.5, f"{H1}.4", MEMORY),
    (
        "gauge block, second-order term too [nm]",
        lambda: uncertainty.root_sum_square([25, 9.7, 2.9, 16.6, 11.7]),
        34,
        0.5,
        f"{H1}.7",
        MEMORY,
    ),
    # The guide cuts to the whole number below, as our Student factor does; uncut we get 16.8 from the unrounded 31.67 nm.
    (
        "gauge block, effective degrees of freedom, cut",
        lambda: np.floor(uncertainty.effective_degrees([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])),
        16,
        0,
        f"{H1}.6",
        MEMORY,
    ),
    ("t99(16)", student(16, 0.99), 2.92, 0.005, "JCGM 100:2008 table G.2", MEMORY),
    # The guide multiplies the rounded 2.92 and 32 nm to 93.4; unrounded it is 92.5.
    (
        "gauge block, expanded [nm]",
        lambda: uncertainty.expanded(uncertainty.root_sum_square([25, 9.7, 2.9, 16.6]), 16, 0.99),
        93,
        0.5,
        f"{H1}.6",
        MEMORY,
    ),
    ("t95(5)", student(5), 2.57, 0.005, "JCGM 100:2008 table G.2", MEMORY),
    ("t95(10)", student(10), 2.23, 0.005, "JCGM 100:2008 table G.2", MEMORY),
    ("t95(20)", student(20), 2.09, 0.005, "JCGM 100:2008 table G.2", MEMORY),
    ("uncertainty of Z from readings that go together [ohm]", impedance_uncertainty_ohm, 0.236, 0.0005, "JCGM 100:2008 H.2", MEMORY),
    ("expected highest of 2 [sigma]", highest(2), 0.5642, 0.00005, ORDER, MEMORY),
    ("expected highest of 4 [sigma]", highest(4), 1.0294, 0.00005, ORDER, MEMORY),
    ("expected highest of 5 [sigma]", highest(5), 1.1630, 0.00005, ORDER, MEMORY),
    ("d2(2) [sigma]", mean_range(2), 1.128, 0.0005, CHARTS, MEMORY),
    ("d2(3) [sigma]", mean_range(3), 1.693, 0.0005, CHARTS, MEMORY),
    ("d2(4) [sigma]", mean_range(4), 2.059, 0.0005, CHARTS, MEMORY),
    ("d2(5) [sigma]", mean_range(5), 2.326, 0.0005, CHARTS, MEMORY),
    ("0 V of 0-10 V scaled to -1 ... +1", lambda: signals.to_units(0, "0-10 V", -1, 1), -1, 1e-12, PRACTICE, "-"),
    ("10 V of 0-10 V scaled to -1 ... +1", lambda: signals.to_units(10, "0-10 V", -1, 1), 1, 1e-12, PRACTICE, "-"),
    ("average of 0 and 1", lambda: combining.combine([0, 1], "average"), 0.5, 1e-12, PRACTICE, "-"),
    ("average of 0.5 and 1", lambda: combining.combine([0.5, 1], "average"), 0.75, 1e-12, PRACTICE, "-"),
]


@pytest.mark.parametrize(("quantity", "call", "published", "tolerance", "source", "how_known"), ROWS, ids=[row[0] for row in ROWS])
def test_signals_and_uncertainty_agree_with_the_published_figure(quantity, call, published, tolerance, source, how_known):
    assert call() == pytest.approx(published, abs=tolerance, rel=0), f"{quantity}: {source} ({how_known})"


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
