"""Lesson 04, scaling the signal: the parts of its page.

The panel of lesson 04: an instrument, what was entered for it, and what the loop of a real stair then holds.
"""

from functools import cache

import numpy as np

from helpers import units
from helpers.formulas import signals
from helpers.lessons.page import LessonParts
from helpers.plots.markup import Verdict
from helpers.plots.picture import Picture
from helpers.plots.signal import ScalingChart, ScalingDrawing
from helpers.studies.report import fine, range_text
from helpers.studies.signals.entered_scaling import INPUTS, WIRE_OFF, EnteredScaling
from helpers.studies.signals.steady_loop import LIMIT_N
from helpers.widgets.controls import Choice, Slider
from helpers.widgets.panel import Panel

__all__ = [
    "back_again", "compare", "derivation", "exercises", "panel", "predict", "scaling_chart", "scaling_panel", "senior_card",
    "worked_example", "wrong_entry",
]  # fmt: skip

INSTRUMENTS = {
    "0 to 125 Pa (0.5 in. w.c.)": (0.0, 125.0),
    "0 to 250 Pa (1 in. w.c.)": (0.0, 250.0),
    "0 to 100 Pa (0.4 in. w.c.)": (0.0, 100.0),
    "±125 Pa (±0.5 in. w.c.)": (-125.0, 125.0),
}
RESISTORS = {"500 Ω": 500.0, "250 Ω": 250.0}
LOWEST_PA, HIGHEST_PA = -50.0, 150.0  # of the true pressure
# Ends of the axes [Pa]: shown pressures and errors, with an entry from zero and with one from below zero.
ROOMS_PA = {False: ((-50.0, 300.0), (-100.0, 150.0)), True: ((-150.0, 300.0), (-150.0, 150.0))}
SIGNAL_ENDS = {"V": 11.0, "mA": 22.0}
POINTS = 121


@cache
def scaling_panel():
    """The panel, one in a notebook."""
    controls = {
        "pressure_pa": Slider("True", "pressure", LOWEST_PA, HIGHEST_PA, 1.0, 40.0),
        "instrument": Choice("Instrument", INSTRUMENTS),
        "signal": Choice("It sends", tuple(signals.SIGNALS), "4-20 mA"),
        "entered_high_pa": Slider("Entry top", "pressure", 50.0, 300.0, 5.0, 250.0),
        "entered_low_pa": Slider("Entry low", "pressure", -150.0, 25.0, 5.0, 0.0),
        "entered_signal": Choice("Entered signal", tuple(signals.SIGNALS), "4-20 mA"),
        "resistor_ohm": Choice("Resistor, mA to V", RESISTORS),
        "inputs": Choice("Inputs", INPUTS),
    }
    return Panel(controls, Picture(ScalingDrawing()), _answer)


def _answer(system, pressure_pa, instrument, **chosen):
    low, high = instrument
    entry = EnteredScaling(low_pa=low, high_pa=high, **chosen)
    return Verdict(entry.state, entry.says(pressure_pa, system)), scaling_chart(entry, pressure_pa, system)


def scaling_chart(entry, pressure_pa, system="Pa"):
    """The picture's data."""
    true = np.linspace(max(entry.low_pa, LOWEST_PA), min(entry.high_pa, HIGHEST_PA), POINTS)
    unit, signal_unit = units.unit_label("pressure", system), signals.SIGNALS[entry.entered_signal][2]
    below_zero = min(entry.low_pa, entry.entered_low_pa) < 0
    pressure_room, error_room = ROOMS_PA[below_zero]
    sent = np.linspace(*_ends(entry), POINTS)

    def shown(values):
        return units.to_display(np.asarray(values, float), "pressure", system)

    def ends(values):
        return tuple(shown(values).tolist())

    held = entry.held
    error = np.nan if held.state == "no reading" else held.shown_pa - held.true_pa
    return ScalingChart(
        signal_label=f"Signal at the drive [{signal_unit}]",
        pressure_label=f"Pressure [{unit}]",
        error_label=f"Shown less true [{unit}]",
        signals=sent,
        there=shown(np.linspace(entry.low_pa, entry.high_pa, POINTS)),
        shown=shown(_entered(entry, sent)),
        pointer=(float(entry.at_input(pressure_pa)), *ends([pressure_pa, entry.shown(pressure_pa)])),
        pressures=shown(true),
        errors=shown(entry.shown(true) - true),
        held=ends([held.true_pa, error]),
        failed=_failed(entry.entered_signal),
        wire_off=_wire_off(entry, shown),
        signal_room=(0.0, SIGNAL_ENDS[signal_unit]),
        pressure_room=ends(pressure_room),
        true_room=ends([LOWEST_PA, HIGHEST_PA]),
        error_room=ends(error_room),
    )


def _wire_off(entry, shown):
    """What the drive shows for the broken wire, at no signal: nothing (the axis) where it can tell; NaN with no wire broken."""
    if entry.inputs != WIRE_OFF:
        return np.nan
    return 0.0 if np.isnan(entry.broken_pa) else float(shown(entry.broken_pa))


def _ends(entry):
    """Signal at the input for the ends of the instrument's range."""
    return [float(entry.at_input(end)) for end in (entry.low_pa, entry.high_pa)]


def _entered(entry, sent):
    """What the drive shows for signals; NaN where it takes them for failed ones."""
    value = signals.to_units(sent, entry.entered_signal, entry.entered_low_pa, entry.entered_high_pa)
    return np.where(signals.good(sent, entry.entered_signal), value, np.nan)


def _failed(signal):
    """Signals at or beyond which the drive counts them as failed; NaN where it cannot tell."""
    low, high, _ = signals.SIGNALS[signal]
    below, above = (low + (high - low) * percent / 100 for percent in (signals.FAILED_LOW_PERCENT, signals.FAILED_HIGH_PERCENT))
    return (below if below > 0 else np.nan), above


WRONG_TOP_PA = 250.0  # for the card


def panel():
    """The live panel."""
    return scaling_panel()


def derivation():
    """From signal to pressure."""
    return page.derived("from_signal")


def back_again():
    """From pressure to signal."""
    return page.derived("to_signal")


def wrong_entry():
    """What a wrong entry holds."""
    return page.derived("wrong_entry")


def worked_example(name="middle"):
    """By hand: "middle", "resistor" or "broken_wire"."""
    return page.worked(name)


def _lines(system):
    own, top = EnteredScaling(), EnteredScaling(entered_high_pa=WRONG_TOP_PA)
    zero, volts = EnteredScaling(entered_signal="0-20 mA"), EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)
    point, half, less, offset = (fine(value, system) for value in (own.set_point_pa, top.held.true_pa, zero.held.true_pa, zero.offset_pa))
    ranges = [range_text(0.0, high, "pressure", system) for high in (own.high_pa, WRONG_TOP_PA)]
    force, limit = (units.show(value, "force", system) for value in (volts.held.force_n, LIMIT_N))
    percent = float(signals.percent_of_range(own.set_point_pa, own.low_pa, own.high_pa))
    again = fine(float(signals.from_percent(percent, 0.0, WRONG_TOP_PA)), system)
    broken = signals.FAILED_LOW_PERCENT
    return (
        f"A wrong entry is a straight line: gain and offset. {ranges[1]} entered for {ranges[0]}: set to {point}, the loop holds {half}.",
        f"4-20 mA taken for 0-20 mA: {offset} shown where nothing is, and {less} held for {point}. Check zero and one point above.",
        f"Live zero tells a broken wire: {broken:g} % of span and below counts as failed (NAMUR NE 43 for 4-20 mA; others carried over).",
        f"With a true zero the broken wire is a reading: averaged in, the fan ends {volts.held.state}, {force} at a door, {limit} allowed.",
        f"Set points in per cent move with the range: {percent:.0f} % of {ranges[0]} is {point}, of {ranges[1]} {again}. (Steady air.)",
    )


page = LessonParts("scaling_the_signal", _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
