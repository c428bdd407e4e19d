"""Lesson 04's page: an instrument, what was entered for it, and what the loop of a real stair then holds."""

from functools import cache

import numpy as np

from helpers.formulas import signals
from helpers.lessons.page import LessonParts, no_pass_over_a_fail
from helpers.plots.charts import figure
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axes, Axis, Band, Entry, Line, Plot, Words, level
from helpers.plots.style import GRID, INK, MUTED, SERIES, WARNING, Fill, Pen
from helpers.studies.report import fine
from helpers.studies.signals.entered_scaling import INPUTS, WIRE_OFF, EnteredScaling
from helpers.studies.signals.plates import plate_text
from helpers.studies.signals.range_fit import RangeFit
from helpers.units.said import unit_of, with_unit, written_out
from helpers.widgets.controls import UNITS, Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

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
def panel():
    """The panel, one in a notebook."""
    controls = {
        "pressure_pa": Slider("True", "pressure", LOWEST_PA, HIGHEST_PA, 1.0, 40.0),
        "instrument": Choice("Instrument", INSTRUMENTS),
        "signal": Choice("Transmitter signal", tuple(signals.SIGNALS), "4-20 mA"),
        "entered_high_pa": Slider("Entry top", "pressure", 50.0, 300.0, 5.0, 125.0),  # right: what a wrong one does was just asked
        "entered_low_pa": Slider("Entry low", "pressure", -150.0, 25.0, 5.0, 0.0),
        "entered_signal": Choice("Entered signal", tuple(signals.SIGNALS), "4-20 mA"),
        "resistor_ohm": Choice("Resistor, mA to V", RESISTORS),
        "inputs": Choice("Inputs", INPUTS),
    }
    groups = {"On the instrument": ("instrument", "signal"), "What is there": ("pressure_pa",),
              "Entered (beside it: instrument)": ("entered_low_pa", "entered_high_pa", "entered_signal")}  # fmt: skip
    return Panel(controls, Picture(**PANEL_PX), _answer, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS,
                 beside=lambda: _set_against_the_instrument(controls))  # fmt: skip


def _set_against_the_instrument(controls):
    """Beside each entry what the instrument has, and whether the two are equal."""
    entry = _entry(**{name: control.value for name, control in controls.items() if name != "pressure_pa"})
    for name, there in (("entered_low_pa", entry.low_pa), ("entered_high_pa", entry.high_pa)):
        controls[name].set_against(written_out(figure(there, "pressure"), UNITS.system), entry.equal[name])
    made = entry.to_enter if entry.to_enter == entry.signal else f"{entry.to_enter} at the input"
    controls["entered_signal"].set_against(made, entry.equal["entered_signal"])


def _entry(instrument, **chosen):
    low, high = instrument
    return EnteredScaling(low_pa=low, high_pa=high, **chosen)


def _answer(pressure_pa, **chosen):
    entry = _entry(**chosen)
    verdict = Verdict(entry.state, entry.says(pressure_pa), entry.headline(), entry.tiles(), entry.case, entry.to_do())
    verdict = no_pass_over_a_fail(verdict, RangeFit(set_point_pa=entry.set_point_pa), "Entry is right")
    return verdict, scaling_chart(entry, pressure_pa)


READ = (
    "Left: the signal at the drive's terminals goes to the right. The solid line and the dot are what is really there; the dashed line "
    "and the square are what the drive makes of the same signal. The red piece between them is the error. Where it is hatched, the "
    "drive takes the signal for a failed one. Right: the same error over the true pressure.\n"
    "The black diamond is where the loop comes to rest: it turns the fan until the display shows the set point, and knows nothing else. "
    "The doors are those of Larkfield House in winter, the average of two transmitters. A cross at no signal is a broken wire."
)
LEFT_OUT = "the final exit, doors open, other weathers: pages 06 and 12"
TASKS = (
    Task(f"Entry top {with_unit(250.0, 'pressure')}: FAIL. Move True: where is the error greatest, where none? Seen with the fan off?",
         {"entered_high_pa": 250.0, "pressure_pa": 0.0}),
    Task(f"Move Entry top down to {with_unit(125.0, 'pressure')}, and on to {with_unit(100.0, 'pressure')}. Too high FAIL, too low FAIL: "
         "who is in danger at which?", {"entered_high_pa": 100.0}),
    Task("The top is right again. Now Entered signal 0-20 mA: FAIL. Move True to 0: what does the display show, and why?",
         {"entered_signal": "0-20 mA", "pressure_pa": 0.0}),
    Task("Turn it round: Transmitter signal 0-20 mA, Entered signal 4-20 mA. FAIL: when is no reading left? And if the fan runs already?",
         {"signal": "0-20 mA"}),
    Task("Transmitter signal 4-20 mA, entered 0-10 V, resistor 500 Ω (volts = current x ohms): why FAIL? Then take 250 Ω.",
         {"entered_signal": "0-10 V"}),
    Task("Instrument ±125 Pa, Entry low 0: FAIL. What must Entry low be? Put 0 back. Is it better if Inputs has only the upper so?",
         {"instrument": (-125.0, 125.0), "pressure_pa": 0.0}),
    Task("Both signals 0-10 V, all entered rightly, upper wire broken: FAIL. Then both 4-20 mA. What is better then, what is not?",
         {"signal": "0-10 V", "entered_signal": "0-10 V", "inputs": WIRE_OFF}),
)  # fmt: skip


SPLIT = 0.54  # of the picture's width: lines, then error
THERE, SHOWN, ERROR = SERIES[0].but(marker="", width=2.4), SERIES[1].but(marker="", width=2.4), Pen(WARNING, width=2.4)
POINT = {"line": "", "size": 11.0}
LEGEND = (
    Entry("what is there", sign="●", colour=THERE.colour, still=True, at_px=0),
    Entry("what the drive shows", sign="■", colour=SHOWN.colour, still=True, at_px=166),
    Entry("error", sign="▇", colour=WARNING, still=True, at_px=392),
    Entry("counts as failed", sign="▨", colour=MUTED, still=True, at_px=494),
)


def scaling_chart(entry, pressure_pa):
    """Two lines from signal to pressure, the instrument's and the one entered in the drive, an arrow from what is there to what is shown,
    and beside them the display's error. Returns `Plot`."""
    true = np.linspace(max(entry.low_pa, LOWEST_PA), min(entry.high_pa, HIGHEST_PA), POINTS)
    signal_unit = signals.SIGNALS[entry.entered_signal][2]
    pressure_room, error_room = ROOMS_PA[min(entry.low_pa, entry.entered_low_pa) < 0]
    signal_room, true_room = (0.0, SIGNAL_ENDS[signal_unit]), (LOWEST_PA, HIGHEST_PA)
    sent, errors, held = np.linspace(*_ends(entry), POINTS), entry.shown(true) - true, entry.held
    signal, shown = float(entry.at_input(pressure_pa)), float(entry.shown(pressure_pa))
    wire, off, error = _wire_off(entry), entry.inputs == WIRE_OFF, np.nan if held.state == "no reading" else held.shown_pa - held.true_pa
    lines = (
        *(Band((failed, end), 0.0, 1.0, Fill(GRID, MUTED, "//"), "failed", 0, "x", still=True)
          for failed, end in zip(_failed(entry.entered_signal), signal_room, strict=True) if np.isfinite(failed)),
        level(0.0, "y", Pen(MUTED, width=1.0), order=1, still=True),
        Line(sent, np.linspace(entry.low_pa, entry.high_pa, POINTS), THERE, "there", 3),
        Line(sent, _entered(entry, sent), SHOWN, "shown", 3),
        level(signal, "x", Pen(MUTED, (0, (1, 1.5)), 1.2), "signal", 2),
        Line((signal, signal), (pressure_pa, shown), Pen(WARNING, width=3.5), "gap"),
        Line((signal,), (pressure_pa,), THERE.but(marker="o", **POINT), "there", 5),
        Line((signal,), (shown,), SHOWN.but(marker="s", **POINT), "shown", 5),
        Line((0.0,), (wire,), Pen(WARNING, "", marker="X", size=13.0), "upper wire", 6, clip=False),
        Words("upper wire: no signal", 0.0, wire, shift=(0.035, -0.06), backed=True),
    )  # fmt: skip
    rising = np.nanmax(errors[len(errors) // 2 :], initial=error_room[0]) > error
    beside = (
        level(0.0, "y", Pen(INK, width=1.2), order=1, still=True),
        Line(true, errors, ERROR, "error", 3),
        Line((pressure_pa,), (shown - pressure_pa,), ERROR.but(marker="o", **POINT), "now"),
        Line((held.true_pa,), (error,), Pen(INK, marker="D", **POINT), "loop rests here", 5),
        Words("loop rests here", held.true_pa, error, shift=(0.03, -0.05 if rising else 0.05), backed=True),  # where the line is not
    )
    across, up = Axis(f"Signal at the drive [{signal_unit}]", ends=signal_room), Axis("Pressure", "pressure", pressure_room)
    aside, less = Axis("True pressure", "pressure", true_room), Axis("Shown less true", "pressure", error_room)
    axes = (
        Axes(across, up, lines, "Signal and pressure", (76, 28, 88, 50), (0.0, 0.0, SPLIT, 1.0)),
        Axes(aside, less, beside, "Error of the display", (72, 16, 88, 50), (SPLIT, 0.0, 1 - SPLIT, 1.0)),
    )
    unit = unit_of("pressure")
    there, seen, rests, least, most = (
        figure(value, "pressure") for value in (pressure_pa, shown, held.true_pa, np.nanmin(errors), np.nanmax(errors))
    )
    said = f"shows {seen} {unit}" if np.isfinite(shown) else "takes the signal for a failed one"
    resting = f"the loop rests at {rests} {unit}" if np.isfinite(error) else "the loop has no reading to rest at"
    told = (
        f"Signal and pressure, two lines: at a true {there} {unit} the drive gets {signal:.3g} {signal_unit} and {said}; {resting}. The "
        f"display's error runs from {least} to {most} {unit}.{' The upper wire is broken: no signal comes.' if off else ''}"
    )
    return Plot("scaling", "Signal and pressure", axes, told, legend=LEGEND, sample_px=16, height_px=405, system="")


def _wire_off(entry):
    """What the drive shows for the broken wire, at no signal [Pa]: nothing (the axis) where it can tell; NaN with no wire broken."""
    if entry.inputs != WIRE_OFF:
        return np.nan
    return 0.0 if np.isnan(entry.broken_pa) else entry.broken_pa


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


def _lines():
    own, top = EnteredScaling(), EnteredScaling(entered_high_pa=WRONG_TOP_PA)
    zero, volts = EnteredScaling(entered_signal="0-20 mA"), EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)
    point, half, less, offset = (fine(value) for value in (own.set_point_pa, top.held.true_pa, zero.held.true_pa, zero.offset_pa))
    ranges = [plate_text(0.0, high) for high in (own.high_pa, WRONG_TOP_PA)]
    force, limit = (with_unit(value, "force") for value in (volts.held.force_n, volts.loop.limit_n))
    percent = float(signals.percent_of_range(own.set_point_pa, own.low_pa, own.high_pa))
    again = fine(float(signals.from_percent(percent, 0.0, WRONG_TOP_PA)))
    broken = signals.FAILED_LOW_PERCENT
    return (
        f"A wrong entry is a straight line: gain and offset. {ranges[1]} entered for {ranges[0]}: set to {point}, the loop holds {half}.",
        f"4-20 mA taken for 0-20 mA: {offset} shown where nothing is, and {less} held for {point}. Check zero and one point above.",
        f"Live zero tells a broken wire: {broken:g} % of span and below counts as failed (NAMUR NE 43 for 4-20 mA; others carried over).",
        f"With a true zero the broken wire is a reading: averaged in, the fan ends {volts.held.state}, {force} at stair door "
        f"{volts.held.most_level} ({volts.loop.air_said}), {limit} allowed.",
        f"Set points in per cent move with the range: {percent:.0f} % of {ranges[0]} is {point}, of {ranges[1]} {again}. (Steady air.)",
    )


page = LessonParts("scaling_the_signal", _lines, ("from_signal", "middle"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
