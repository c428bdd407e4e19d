"""Signals of transmitters: volts and milliamps to units and back, bands of failure, converter steps, accuracy, resistor, wrong entries.

`signal` and `entered_signal` are of SIGNALS, in V or mA as their names say. A range is two-sided when range_low is below zero. A right
entry has gain 1 and offset 0.
"""

import numpy as np

from helpers import require

# (low, high, unit). Currents: IEC 60381-1, voltages: IEC 60381-2 (memory); 2-10 V is a trade usage, 4-20 mA across 500 ohm.
SIGNALS = {
    "0-10 V": (0.0, 10.0, "V"),
    "2-10 V": (2.0, 10.0, "V"),
    "0-5 V": (0.0, 5.0, "V"),
    "1-5 V": (1.0, 5.0, "V"),
    "0-20 mA": (0.0, 20.0, "mA"),
    "4-20 mA": (4.0, 20.0, "mA"),
}

# NAMUR NE 43, printed for 4-20 mA as 3.6, 3.8, 20.5 and 21 mA. Here in per cent of span, so that the other signals have the same bands.
FAILED_LOW_PERCENT, MEASURES_FROM_PERCENT, MEASURES_TO_PERCENT, FAILED_HIGH_PERCENT = -2.5, -1.25, 103.125, 106.25

STATUSES = ("ok", "below range", "above range", "failed low", "failed high")
OK, BELOW_RANGE, ABOVE_RANGE, FAILED_LOW, FAILED_HIGH = range(5)
_ROUNDING_PERCENT = 1e-9  # so that 3.6 mA, which has no exact double, is on the line


def percent_of_span(signal_value, signal):
    """Signal in per cent of its span.

    signal_value [V or mA], any shape. Returns [%], below 0 and above 100 where the signal is. Equation: 100 (x - low) / (high - low).
    Raises ValueError for an unknown signal or anything not finite. Source: IEC 60381-1 (memory). Limits: ask `status` what a signal beyond
    its span stands for.

    >>> print(f"{percent_of_span(12.0, '4-20 mA'):.0f} %, {percent_of_span(3.8, '4-20 mA'):.2f} %")
    50 %, -1.25 %
    """
    low, high = _ends(signal)
    return 100 * (require.finite(signal_value=signal_value) - low) / (high - low)


def to_units(signal_value, signal, range_low, range_high):
    """Reading that a signal stands for.

    signal_value [V or mA], range_low, range_high of the transmitter in units; broadcast. Returns units, straight on beyond both ends.
    Equation: range_low + share of span x (range_high - range_low). Raises ValueError for an unknown signal, a range whose high end is not
    above its low end. Source: IEC 60381-1 (memory). Limits: a signal outside the bands of `status` stands for nothing; ask `good` first.

    >>> print(f"{to_units(0.0, '0-10 V', -1, 1):.0f}, {to_units(10.0, '0-10 V', -1, 1):.0f}")
    -1, 1
    """
    low, span = _range(range_low, range_high)
    return low + span * percent_of_span(signal_value, signal) / 100


def to_signal(value, signal, range_low, range_high, clamp=True):
    """Signal that a transmitter gives for a value.

    value, range_low, range_high in units; broadcast. clamp: hold the signal between its ends; False: straight on. Returns [V or mA].
    Equation: low + (value - range_low) / (range_high - range_low) x (high - low). Raises ValueError as to_units.
    Source: IEC 60381-1 (memory). Limits: a real transmitter may go on a little beyond its ends, to 3.8 and 20.5 mA by NAMUR NE 43.

    >>> print(f"{to_signal(25.0, '4-20 mA', 0, 100):.0f} mA")
    8 mA
    """
    low, high = _ends(signal)
    range_start, span = _range(range_low, range_high)
    share = (require.finite(value=value) - range_start) / span
    return low + (high - low) * np.where(require.flags(clamp=clamp), np.clip(share, 0, 1), share)[()]


def live_zero(signal):
    """Whether a signal's zero is above no signal at all, so that a dead wire can be told from a reading of zero.

    signal: one of SIGNALS. Returns True or False. Raises ValueError for another. Source: IEC 60381-1 (memory). Limits: what the
    input is set to must be the same signal.

    >>> live_zero("4-20 mA"), live_zero("0-10 V")
    (True, False)
    """
    return _ends(signal)[0] > 0


def status(signal_value, signal):
    """What the band of a signal says of it.

    signal_value [V or mA], any shape. Returns small whole numbers of that shape, places in STATUSES: OK, BELOW_RANGE, ABOVE_RANGE,
    FAILED_LOW, FAILED_HIGH. Bands, for 4-20 mA: measuring from 3.8 to 20.5 mA, failed at or below 3.6 and at or above 21 mA, out of range
    in between. Raises ValueError for an unknown signal or anything not finite. Source: NAMUR NE 43; for the other signals its bands in
    per cent of span are carried over by us. Limits: with a true zero (0-10 V, 0-5 V, 0-20 mA; see live_zero) a dead wire reads 0 and is
    OK here: it cannot be told from a pressure of zero. A stuck or drifting transmitter is OK too.

    >>> [STATUSES[code] for code in status([12.0, 3.7, 0.0], "4-20 mA")], STATUSES[status(0.0, "0-10 V")]
    (['ok', 'below range', 'failed low'], 'ok')
    """
    p = percent_of_span(signal_value, signal)
    bands = [
        p <= FAILED_LOW_PERCENT + _ROUNDING_PERCENT,
        p < MEASURES_FROM_PERCENT - _ROUNDING_PERCENT,
        p >= FAILED_HIGH_PERCENT - _ROUNDING_PERCENT,
        p > MEASURES_TO_PERCENT + _ROUNDING_PERCENT,
    ]
    return np.select(bands, [FAILED_LOW, BELOW_RANGE, FAILED_HIGH, ABOVE_RANGE], OK)[()]


def good(signal_value, signal):
    """Whether a signal may be used: not failed low or high.

    Arguments, errors, source and limits as status. Returns True or False. A signal just out of range counts as good: it still tells which
    way the reading lies, and leaving out a gas reading because it is high would be the wrong way round.

    >>> print(good(20.8, "4-20 mA"), good(3.5, "4-20 mA"))
    True False
    """
    return status(signal_value, signal) < FAILED_LOW


def resolution(range_low, range_high, bits, signal):
    """Step of a converter, in units of the reading.

    range_low, range_high in units, bits of the converter; broadcast. Returns units. Equation: (high end of the signal / its span) x
    (range_high - range_low) / 2^bits: the converter measures from no signal to the high end, so 4-20 mA uses 16/20 of its steps and 2-10 V
    8/10. Raises ValueError for bits that are not whole, from 1 to 32. Source: definition.
    Limits: an ideal converter; noise usually hides some bits.

    >>> print(f"{1000 * resolution(0, 20, 12, '0-20 mA'):.3f} µA")
    4.883 µA
    """
    low, high = _ends(signal)
    whole = require.between(1, 32, bits=bits)
    if np.any(whole % 1):
        raise ValueError(f"bits must be a whole number, got {whole[whole % 1 > 0].flat[0]:g}")
    return _range(range_low, range_high)[1] * high / (high - low) / 2**whole


def accuracy(range_low, range_high, percent_of_span=0, reading=None, percent_of_reading=0):
    """Accuracy of a transmitter, plus or minus, in units.

    range_low, range_high, reading in units, percent_of_span, percent_of_reading [%]; broadcast. Returns units. Equation: span share plus
    reading share, added without squaring, as data sheets print "± (a % of span + b % of reading)". Raises ValueError for a percentage
    below zero, or for one of reading without a reading. Source: common practice, no source. Limits: a bound, as printed; drift, zero
    shift by mounting and temperature come on top. To combine with others: `uncertainty`.

    >>> print(f"± {accuracy(-125, 125, percent_of_span=1):.1f} Pa at 50 Pa")
    ± 2.5 Pa at 50 Pa
    """
    of_span = require.at_least(0, percent_of_span=percent_of_span) * _range(range_low, range_high)[1] / 100
    share = require.at_least(0, percent_of_reading=percent_of_reading) / 100
    if reading is None:
        if np.any(share > 0):
            raise ValueError("reading must be given where percent_of_reading is above 0, got None")
        return of_span
    return of_span + share * np.abs(require.finite(reading=reading))


def volts_from_milliamps(current_ma, resistor_ohm):
    """Voltage of a current across a resistor.

    current_ma [mA], resistor_ohm [ohm]; broadcast. Returns [V]. Equation: I R / 1000. Raises ValueError for a resistor that is not above
    zero. Source: Ohm's law; IEC 60381 (memory). Limits: an input that draws no current; the resistor's tolerance is a gain error.

    >>> print(f"{volts_from_milliamps(4.0, 500.0):.0f} V to {volts_from_milliamps(20.0, 500.0):.0f} V")
    2 V to 10 V
    """
    return require.finite(current_ma=current_ma) * require.positive(resistor_ohm=resistor_ohm) / 1000


def milliamps_from_volts(voltage_v, resistor_ohm):
    """Current that makes a voltage across a resistor: 1000 U / R, the inverse of volts_from_milliamps.

    voltage_v [V], resistor_ohm [ohm]; broadcast. Returns [mA]. Raises ValueError, source and limits as volts_from_milliamps.
    """
    return 1000 * require.finite(voltage_v=voltage_v) / require.positive(resistor_ohm=resistor_ohm)


def _ends(signal):
    return SIGNALS[require.one_of(tuple(SIGNALS), signal=signal)][:2]


def _range(range_low, range_high):
    """Low end and span of a range."""
    low, high = require.finite(range_low=range_low), require.finite(range_high=range_high)
    if np.any(high - low < require.LEAST):
        wrong = np.broadcast_arrays(low, high)
        at = np.flatnonzero(wrong[1] - wrong[0] < require.LEAST)[0]
        raise ValueError(f"range_high must be above range_low, got {wrong[0].flat[at]:g} to {wrong[1].flat[at]:g}")
    return low, high - low


INPUT_RESISTOR_OHM = 500.0  # turns 4-20 mA into 2-10 V: IEC 60381 (memory)


def at_the_input(signal_value, signal, entered_signal, resistor_ohm=INPUT_RESISTOR_OHM):
    """What an input measures of a signal, in the unit it is set to.

    signal_value [V or mA] of `signal`, resistor_ohm [ohm] across the input; broadcast. Returns [V or mA] of entered_signal: as it is where
    both are volts or both milliamps, else by Ohm's law. Raises ValueError for an unknown signal, a resistor that is not above zero.
    Source: Ohm's law (text-book). Limits: an input that draws no current beside its resistor.

    >>> print(at_the_input(4.0, "4-20 mA", "0-10 V", 500.0), at_the_input(20.0, "4-20 mA", "1-5 V", 250.0))
    2.0 5.0
    """
    own, entered = (SIGNALS[require.one_of(tuple(SIGNALS), signal=name)][2] for name in (signal, entered_signal))
    value = require.finite(signal_value=signal_value)
    if own == entered:
        return value[()]
    change = volts_from_milliamps if own == "mA" else milliamps_from_volts
    return change(value, resistor_ohm)


def entry_gain(signal, range_low, range_high, entered_signal, entered_low, entered_high, resistor_ohm=INPUT_RESISTOR_OHM):
    """By how much the display moves when the true value moves by one.

    range_low, range_high of the instrument, entered_low, entered_high of the display, in units; resistor_ohm [ohm]. Returns [-].
    Equation: (entered span / span) x (the signal's span at the input / the entered signal's span). Raises ValueError for an unknown
    signal, a range whose high end is not above its low end. Source: two straight lines, text-book. Limits: where neither end clamps.

    >>> print(f"{entry_gain('4-20 mA', 0, 125, '4-20 mA', 0, 250):.2f}, {entry_gain('4-20 mA', 0, 125, '0-20 mA', 0, 125):.2f}")
    2.00, 0.80
    """
    ends = (range_high, range_low)
    shown = [shown_value(end, signal, range_low, range_high, entered_signal, entered_low, entered_high, resistor_ohm) for end in ends]
    return (shown[0] - shown[1]) / (require.finite(range_high=range_high) - range_low)


def entry_offset(signal, range_low, range_high, entered_signal, entered_low, entered_high, resistor_ohm=INPUT_RESISTOR_OHM):
    """What the display shows when the true value is zero.

    Arguments, errors, source and limits as entry_gain. Returns units. Equation: shown_value at zero; the display shows
    offset + gain x true value, so its error is offset + (gain - 1) x true value.

    >>> print(f"{entry_offset('4-20 mA', 0, 125, '0-20 mA', 0, 125):.1f}")
    25.0
    """
    return shown_value(0.0, signal, range_low, range_high, entered_signal, entered_low, entered_high, resistor_ohm)


def shown_value(value, signal, range_low, range_high, entered_signal, entered_low, entered_high, resistor_ohm=INPUT_RESISTOR_OHM):
    """What the display shows for a true value: to the signal by the instrument's ends, and back by the entered ones.

    value and others as entry_gain; broadcast. Returns units, straight on beyond all ends. Raises, source and limits as entry_gain.

    >>> print(f"{shown_value(40.0, '4-20 mA', 0, 125, '4-20 mA', 0, 250):.0f}")
    80
    """
    sent = to_signal(value, signal, range_low, range_high, clamp=False)
    return to_units(at_the_input(sent, signal, entered_signal, resistor_ohm), entered_signal, entered_low, entered_high)


def held_instead(set_point, gain, offset):
    """The true value at which a display of that gain and offset shows the set point: what the loop then holds.

    set_point, offset in units, gain [-] above zero; broadcast. Returns units. Equation: (set_point - offset) / gain. Raises ValueError for
    a gain that is not above zero. Source: the line of entry_gain and entry_offset, solved for the true value. Limits: as entry_gain, and a
    fan that can reach it.

    >>> print(f"{held_instead(40.0, 2.0, 0.0):.0f}, {held_instead(40.0, 0.8, 25.0):.2f}")
    20, 18.75
    """
    return (require.finite(set_point=set_point) - require.finite(offset=offset)) / require.positive(gain=gain)


def percent_of_range(value, range_low, range_high):
    """A value in per cent of a range: how a set point is written in a display that shows per cent.

    value, range_low, range_high in units; broadcast. Returns [%]. Equation: 100 (value - range_low) / (range_high - range_low).
    Raises ValueError for a range whose high end is not above its low end. Source: definition. Limits: none.

    >>> print(f"{percent_of_range(40.0, 0, 125):.0f} %, {percent_of_range(5.0, -25, 25):.0f} %")
    32 %, 60 %
    """
    return percent_of_span(to_signal(value, "0-10 V", range_low, range_high, clamp=False), "0-10 V")


def from_percent(percent, range_low, range_high):
    """The value that so many per cent of a range are: the inverse of percent_of_range.

    percent [%], range_low, range_high in units; broadcast. Returns units. Equation: range_low + percent / 100 x
    (range_high - range_low). Raises ValueError, source and limits as percent_of_range.

    >>> print(f"{from_percent(32.0, 0, 250):.0f}")
    80
    """
    return to_units(require.finite(percent=percent) / 10, "0-10 V", range_low, range_high)
