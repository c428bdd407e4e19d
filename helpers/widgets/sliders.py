"""Sliders that carry their unit; the figure of each stands in a field over it, to be typed over, with or without unit.

A value is remembered in SI and exactly: switching units there and back changes nothing. What cannot be used stays as it was typed, and
`value` raises the sentence.

A slider in the browser rounds to its step what it is given, and sends the rounded value back as if the reader had moved it; and it sees a
new range before the value that belongs to it. Hence values are rounded here before they are shown, an echo of the rounded value is no
move, and another range is another inner widget.
"""

import math

from ipywidgets import HTML, FloatSlider, IntSlider, SelectionSlider, Text

from helpers.units import fine_digits, from_display, parse, to_display, unit_label
from helpers.widgets.controls import ENDS, HAND_PX, UNITS, VALUE, Labelled

TRACK_PX, STEP_PX = HAND_PX - 18, 2  # of a slider's track between the ends of its thumb's way; of one step, for a steady hand
MOST_STEPS = TRACK_PX // STEP_PX


class Sliding(Labelled):
    """A slider and over it a field with its value, to be typed over. Its value is kept exactly; the slider stands at the nearest step."""

    def __init__(self, label, value):
        self._label, self._value, self._refused, self._text = label, value, None, ""
        self._field = Text(continuous_update=False).add_class(VALUE)
        self._field.observe(self._typed, "value")
        self._ends = HTML().add_class(ENDS)
        super().__init__(*self._inner(), self._field, self._ends)
        self._stand()

    @property
    def value(self):
        """Exactly what it was given until the reader moves it. Raises ValueError for what was typed and cannot be used."""
        if self._refused:
            raise self._refused
        return self._value

    @value.setter
    def value(self, value):
        self._value = self._within(value)
        self._stand()
        self._tell()

    @property
    def figure(self):
        """What stands in its field."""
        return self._field.value

    def _renew(self):
        """Another slider, without calling anybody."""
        self._put(*self._inner(), self._field, self._ends)
        self._stand()

    def _stand(self):
        """Slider and field where the value is, without calling anybody."""
        self._shown = self._place()
        self.inner.value = self._shown
        self._write()

    def _write(self):
        self._refused, self._text = None, self._lettered()
        self._ends.value = "".join(f'<span aria-hidden="true">{end}</span>' for end in self._least_and_most())
        self._field.value, self._field.tooltip = self._text, f"{self.inner.description}, to be typed"

    def _changed(self, change):
        if self._same(change["new"], self._shown):
            return  # the browser's echo of what it was given
        self._shown = change["new"]
        self._value = self._meant(change["new"])
        self._write()
        self._tell()

    def _typed(self, change):
        if change["new"] == self._text and not self._refused:
            return
        try:
            self._value = self._within(self._read(change["new"]))
            self._stand()
        except ValueError as refusal:
            self._refused, self._text = refusal, change["new"]
        self._tell()

    def _least_and_most(self):
        """The figures at the ends of the track."""
        return self._range

    def _same(self, one, other):
        return one == other

    def _meant(self, shown):
        return shown


class Slider(Sliding):
    """A quantity of one of units.DIMENSIONS, from `low` to `high` by `step`, all SI; `value` is SI too."""

    def __init__(self, label, dimension, low, high, step, value):
        self._dimension, self._range, self._system = dimension, (low, high, step), UNITS.system
        super().__init__(label, value)

    @property
    def range(self):
        """Lowest, highest and step [SI]."""
        return self._range

    def limit(self, low, high, value):
        """Another range and value [SI], without calling anybody."""
        self._range, self._value = (low, high, self._range[2]), value
        self._renew()

    def use(self, system):
        """Show label, range, step and value in a system of units; the value itself stays."""
        self._system = system
        self._renew()

    def _inner(self):
        """(label, slider) in the present system, the value rounded to its step: a coarser one where the track has no room for them all."""
        low, high, step = self._range
        shown_low, shown_high = map(self._display, (low, high))
        self._fine = step = nice_step((shown_high - shown_low) / (high - low) * step)
        self._decimals = decimals = max(0, -math.floor(math.log10(step) + 1e-6))
        while (shown_high - shown_low) / step > MOST_STEPS:
            step = nice_step(2 * step)
        self._step = step
        low, high = math.floor(shown_low / step + 1e-6) * step, math.ceil(shown_high / step - 1e-6) * step
        low, high = (round(number, decimals) for number in (low, high))
        slider = FloatSlider(min=low, max=high, step=step, value=self._place(), readout=False)
        return f"{self._label} [{unit_label(self._dimension, self._system)}]", slider

    def _display(self, value):
        return float(to_display(value, self._dimension, self._system))

    def _least_and_most(self):
        return (self._figure_of(end) for end in self._range[:2])

    def _place(self):
        return round(round(self._display(self._value) / self._step) * self._step, self._decimals)

    def _lettered(self):
        """A step's figure, or one digit more where the value lies between two and was typed so; one that comes from other units, such as
        40 Pa in inches, has no more digits than `units.fine_digits`."""
        return self._figure_of(self._value)

    def _figure_of(self, value):
        """The figure of a value [SI], by the steps that were asked for."""
        shown, digits = self._display(value), self._decimals
        if abs(shown - round(shown / self._fine) * self._fine) > 0.05 * self._fine:
            digits += 1
            if not self._same(shown, round(shown, digits)):
                digits = min(digits, max(self._decimals, fine_digits(self._dimension, self._system)))
        return f"{shown:.{digits}f}"

    def _same(self, one, other):
        return abs(one - other) < 1e-6 * self._step

    def _meant(self, shown):
        low, high, _ = self._range
        value = round(float(from_display(shown, self._dimension, self._system)), 9)  # without the conversion's dust
        return min(max(value, low), high)

    def _read(self, text):
        value = quantity_typed(text, self._dimension, self._system, self._label)
        if value is None:
            raise ValueError(f"{self._label}: write a number, such as {self._lettered()}.")
        return value

    def _within(self, value):
        low, high, _ = self._range
        if not low - 1e-9 <= value <= high + 1e-9:
            low, high, value = (f"{self._display(number):.4g}" for number in (low, high, value))
            raise ValueError(f"{self._label} must be from {low} to {high} {unit_label(self._dimension, self._system)}, got {value}")
        return min(max(value, low), high)


class Count(Sliding):
    """A whole number, such as a storey."""

    def __init__(self, label, low, high, value):
        self._range = low, high
        super().__init__(label, value)

    def limit(self, label, low, high, value):
        """Another label, range and value, without calling anybody."""
        self._label, self._range, self._value = label, (low, high), value
        self._renew()

    def _inner(self):
        return self._label, IntSlider(min=self._range[0], max=self._range[1], value=self._value, readout=False)

    def _place(self):
        return self._value

    def _lettered(self):
        return f"{self._value}"

    def _read(self, text):
        try:
            return int(text.strip().replace("−", "-"))
        except ValueError:
            raise ValueError(f"{self._label}: write a whole number, such as {self._value}; got {text!r:.40}.") from None

    def _within(self, value):
        if not self._range[0] <= value <= self._range[1]:
            raise ValueError(f"{self._label} must be from {self._range[0]} to {self._range[1]}, got {value}")
        return value


class Steps(Sliding):
    """A number without unit, such as a gain: its slider goes through a row of numbers whose neighbours differ by a share and not by a step;
    what lies between them can be typed."""

    def __init__(self, label, numbers, value):
        self._numbers = numbers
        super().__init__(label, value)

    def _inner(self):
        return self._label, SelectionSlider(options=[(f"{one:g}", one) for one in self._numbers], value=self._place(), readout=False)

    def _least_and_most(self):
        return (f"{end:g}" for end in (self._numbers[0], self._numbers[-1]))

    def _place(self):
        return min(self._numbers, key=lambda one: abs(math.log(one / self._value)))

    def _lettered(self):
        return f"{self._value:.4g}"

    def _read(self, text):
        try:
            return float(text.replace("−", "-"))
        except ValueError:
            raise ValueError(f"{self._label}: write a number, such as {self._lettered()}; got {text!r:.40}.") from None

    def _within(self, value):
        low, high = self._numbers[0], self._numbers[-1]
        if not low <= value <= high:
            raise ValueError(f"{self._label} must be from {low:g} to {high:g}, got {value:g}")
        return value


def quantity_typed(text, dimension, system, name):
    """What was typed [SI]: a bare number is in the unit shown; None for an empty field. Raises ValueError with a sentence, also for what
    Python would take for a number and no instrument shows."""
    if not text.strip():
        return None
    try:
        number = float(text.strip().replace("−", "-"))
    except ValueError:
        return parse(text, dimension, name)
    if not math.isfinite(value := float(from_display(number, dimension, system))):
        raise ValueError(f"{name} must be a number that an instrument can show, got {text.strip()!r:.40}")
    return value


def nice_step(step):
    """The nearest of 1, 2, 5, 10, ... to a step, so that a slider stops at round numbers in every unit.

    >>> nice_step(0.00401), nice_step(1.8), nice_step(98)
    (0.005, 2.0, 100.0)
    """
    size = 10.0 ** math.floor(math.log10(step))
    nearest = min((1, 2, 5, 10), key=lambda number: abs(math.log(step / size / number)))
    return float(f"{nearest * size:.6g}")
