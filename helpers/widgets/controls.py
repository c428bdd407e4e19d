"""What a reader moves: sliders that carry their unit, choices, entries, and the one switch between Pa and in. w.c.

Every control has a `widget` for the page, in it the `inner` one that the reader moves, a `value` (SI where it is a quantity),
`on_change(callback)`, `use(system)` and `shown`. A slider remembers its value in SI: switching units there and back changes nothing.

A slider in the browser rounds to its step what it is given, and sends the rounded value back as if the reader had moved it; and it sees a
new range before the value that belongs to it. Hence values are rounded here before they are shown, an echo of the rounded value is no
move, and another range is another inner widget.

The notebook reads letters as commands wherever nothing can be written: an "a" typed to choose in a list would put in a cell, an "r" would
take the panel out of its own. A picture of one pixel, once it stands in the page, keeps keys inside its container.
"""

import math

from ipywidgets import Checkbox, Dropdown, FloatSlider, HBox, IntSlider, Label, Layout, SelectionSlider, Text, ToggleButtons

from helpers import require
from helpers.units import SYSTEMS, from_display, to_display, unit_label

__all__ = ["PIXEL", "UNITS", "Choice", "Count", "Labelled", "Slider", "Steps", "Tick", "Typed", "UnitSwitch", "keys_held", "nice_step"]

LABEL_WIDTH, WIDTH = "134px", "calc(100% - 6px)"


class UnitSwitch:
    """The system of units of all panels in a notebook; every panel shows a switch, and all of them are one.

    It lives as long as the notebook's kernel, so a panel that is made again keeps the units the reader chose.
    """

    def __init__(self):
        self._system, self._listeners, self._switches = SYSTEMS[0], [], []

    @property
    def system(self):
        """The chosen one of units.SYSTEMS."""
        return self._system

    @system.setter
    def system(self, system):
        require.one_of(SYSTEMS, system=system)
        if system == self._system:
            return
        self._system = system
        for switch in self._switches:
            switch.value = system
        faults = []
        for listener in self._listeners:
            try:
                listener()
            except Exception as fault:  # one panel's fault must not leave the others in the old units
                faults.append(fault)
        if faults:
            raise faults[0]

    def listen(self, callback):
        """Call back, without arguments, after each change."""
        self._listeners.append(callback)

    def forget(self, callback):
        """Call back no longer; nothing happens for one that was never to be called."""
        self._listeners = [listener for listener in self._listeners if listener != callback]

    def switch(self):
        """One more switch to show."""
        buttons = ToggleButtons(options=SYSTEMS, value=self._system, style={"button_width": "68px"})
        buttons.layout.flex_flow, buttons.layout.width = "row nowrap", "148px"
        buttons.observe(lambda change: setattr(self, "system", change["new"]), "value")
        self._switches.append(buttons)
        label = Label("Units", layout=Layout(width="112px", justify_content="flex-end"))
        return HBox([label, buttons], layout=Layout(width=WIDTH))


UNITS = UnitSwitch()


class Labelled:
    """What all controls share: a labelled widget, and whom to call when the reader has changed something."""

    def __init__(self, label, inner):
        self._callbacks, self._quiet = [], False
        self.widget = HBox(layout=Layout(width=WIDTH))
        self._put(label, inner)

    @property
    def value(self):
        """What the reader has chosen."""
        return self.inner.value

    @value.setter
    def value(self, value):
        self.inner.value = value

    @property
    def shown(self):
        """Whether the page shows it."""
        return self.widget.layout.display != "none"

    @shown.setter
    def shown(self, shown):
        self.widget.layout.display = None if shown else "none"

    def on_change(self, callback):
        """Call back, without arguments, after each change."""
        self._callbacks.append(callback)

    def use(self, system):
        """Take up a system of units; only quantities have something to do."""

    def _put(self, label, inner):
        """Show another inner widget instead of the one before."""
        inner.description = label
        inner.style.description_width, inner.layout.width = LABEL_WIDTH, "calc(100% - 4px)"
        inner.observe(self._changed, "value")
        self.inner = inner
        before, self.widget.children = self.widget.children, (inner,)
        for widget in before:
            widget.close()

    def _changed(self, change):
        if not self._quiet:
            self._tell()

    def _tell(self):
        for callback in self._callbacks:
            callback()


class Slider(Labelled):
    """A quantity of one of units.DIMENSIONS, from `low` to `high` by `step`, all SI; `value` is SI too."""

    def __init__(self, label, dimension, low, high, step, value):
        self._label, self._dimension, self._range, self._value = label, dimension, (low, high, step), value
        self._system = UNITS.system
        super().__init__(*self._inner())

    @property
    def value(self):
        """The quantity [SI], exactly as it was given until the reader moves the slider."""
        return self._value

    @value.setter
    def value(self, value):
        low, high, _ = self._range
        if not low <= value <= high:
            raise ValueError(f"{self._label} must be from {low:g} to {high:g} {unit_label(self._dimension)}, got {value:g}")
        self._value = value
        self._put(*self._inner())
        self._tell()

    @property
    def range(self):
        """Lowest, highest and step [SI]."""
        return self._range

    def limit(self, low, high, value):
        """Another range and value [SI], without calling anybody."""
        self._range, self._value = (low, high, self._range[2]), value
        self._put(*self._inner())

    def use(self, system):
        """Show label, range, step and value in a system of units; the value itself stays."""
        self._system = system
        self._put(*self._inner())

    def _inner(self):
        """(label, slider) in the present system, the value rounded to its step."""
        low, high, step = self._range
        shown_low, shown_high, shown = (float(to_display(number, self._dimension, self._system)) for number in (low, high, self._value))
        step = nice_step((shown_high - shown_low) / (high - low) * step)
        decimals = max(0, -math.floor(math.log10(step) + 1e-6))
        low, high = math.floor(shown_low / step + 1e-6) * step, math.ceil(shown_high / step - 1e-6) * step
        low, high, self._shown = (round(number, decimals) for number in (low, high, round(shown / step) * step))
        slider = FloatSlider(min=low, max=high, step=step, value=self._shown, readout_format=f".{decimals}f")
        return f"{self._label} [{unit_label(self._dimension, self._system)}]", slider

    def _changed(self, change):
        if abs(change["new"] - self._shown) < 1e-6 * self.inner.step:
            return  # the browser's echo of what it was given
        low, high, _ = self._range
        value = round(float(from_display(change["new"], self._dimension, self._system)), 9)  # without the conversion's dust
        self._value, self._shown = min(max(value, low), high), change["new"]
        self._tell()


class Count(Labelled):
    """A whole number, such as a storey."""

    def __init__(self, label, low, high, value):
        super().__init__(label, IntSlider(min=low, max=high, value=value))

    def limit(self, label, low, high, value):
        """Another label, range and value, without calling anybody."""
        self._put(label, IntSlider(min=low, max=high, value=value))


class Steps(Labelled):
    """One of a row of numbers without unit, such as a gain, whose neighbours differ by a share and not by a step; `say` writes a number."""

    def __init__(self, label, numbers, value, say="{:g}".format):
        super().__init__(label, SelectionSlider(options=[(say(number), number) for number in numbers], value=value))


class Choice(Labelled):
    """One of several: texts, or a mapping from text to what is meant."""

    def __init__(self, label, options, value=None):
        super().__init__(label, Dropdown(options=_pairs(options), **({} if value is None else {"value": value})))

    def offer(self, options, value):
        """Other options, without calling anybody."""
        self._quiet = True
        self.inner.options = _pairs(options)
        self.inner.value = value
        self._quiet = False


class Tick(Labelled):
    """Yes or no."""

    def __init__(self, label, value=False):
        super().__init__(label, Checkbox(value=value))


class Typed(Labelled):
    """Something typed, read by `parse(text)` when Enter is pressed or the field is left; `value` raises what parse raises.

    What was typed stays as it was typed, right or wrong.
    """

    def __init__(self, label, parse, text="", hint=""):
        self._parse = parse
        super().__init__(label, Text(value=text, placeholder=hint, continuous_update=False))

    @property
    def value(self):
        """What the text means; it is set by typing text. Raises ValueError with the sentence for the reader."""
        return self._parse(self.inner.value)

    @value.setter
    def value(self, text):
        self.inner.value = text

    @property
    def text(self):
        """What stands in the field."""
        return self.inner.value

    @text.setter
    def text(self, text):
        self.inner.value = text


def nice_step(step):
    """The nearest of 1, 2, 5, 10, ... to a step, so that a slider stops at round numbers in every unit.

    >>> nice_step(0.00401), nice_step(1.8), nice_step(98)
    (0.005, 2.0, 100.0)
    """
    size = 10.0 ** math.floor(math.log10(step))
    nearest = min((1, 2, 5, 10), key=lambda number: abs(math.log(step / size / number)))
    return float(f"{nearest * size:.6g}")


def _pairs(options):
    return list(options.items()) if isinstance(options, dict) else list(options)


PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="
# The widget may be loaded a little before it stands in the page: it looks again until it does, for a minute. Keys with Ctrl, Alt or the
# command key, and Shift-Enter, which runs the cell, go on to the notebook.
_HOLD = """const spark = this; let looks = 600; const begin = () => { const held = spark.closest('.CONTAINER');
if (!held) { if (looks--) setTimeout(begin, 100); return; }
held.addEventListener('keydown', event => { if (!event.ctrlKey && !event.altKey && !event.metaKey
&& !(event.shiftKey && event.key === 'Enter')) event.stopPropagation(); }); }; begin();"""


def keys_held(css_class):
    """HTML that keeps what is typed inside the container of this class; to be put into it once."""
    script = " ".join(_HOLD.replace("CONTAINER", css_class).split())
    return f'<img src="{PIXEL}" alt="" style="display:none" onload="{script}">'
