"""What a display shows when other ends are entered for a signal than the instrument has, and set points in per cent of a display's range.

A right entry has gain 1 and offset 0. `signal` and `entered_signal` are of signals.SIGNALS.
"""

from helpers.formulas import require, signals

INPUT_RESISTOR_OHM = 500.0  # turns 4-20 mA into 2-10 V: IEC 60381 (memory)


def at_the_input(signal_value, signal, entered_signal, resistor_ohm=INPUT_RESISTOR_OHM):
    """What an input measures of a signal, in the unit it is set to.

    signal_value [V or mA] of `signal`, resistor_ohm [ohm] across the input; broadcast. Returns [V or mA] of entered_signal: as it is where
    both are volts or both milliamps, else by Ohm's law. Raises ValueError for an unknown signal, a resistor that is not above zero.
    Source: Ohm's law (text-book). Limits: an input that draws no current beside its resistor.

    >>> print(at_the_input(4.0, "4-20 mA", "0-10 V", 500.0), at_the_input(20.0, "4-20 mA", "1-5 V", 250.0))
    2.0 5.0
    """
    own, entered = (signals.SIGNALS[require.one_of(tuple(signals.SIGNALS), signal=name)][2] for name in (signal, entered_signal))
    value = require.finite(signal_value=signal_value)
    if own == entered:
        return value[()]
    change = signals.volts_from_milliamps if own == "mA" else signals.milliamps_from_volts
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
    sent = signals.to_signal(value, signal, range_low, range_high, clamp=False)
    return signals.to_units(at_the_input(sent, signal, entered_signal, resistor_ohm), entered_signal, entered_low, entered_high)


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
    return signals.percent_of_span(signals.to_signal(value, "0-10 V", range_low, range_high, clamp=False), "0-10 V")


def from_percent(percent, range_low, range_high):
    """The value that so many per cent of a range are: the inverse of percent_of_range.

    percent [%], range_low, range_high in units; broadcast. Returns units. Equation: range_low + percent / 100 x
    (range_high - range_low). Raises ValueError, source and limits as percent_of_range.

    >>> print(f"{from_percent(32.0, 0, 250):.0f}")
    80
    """
    return signals.to_units(require.finite(percent=percent) / 10, "0-10 V", range_low, range_high)
