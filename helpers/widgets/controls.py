"""What a reader chooses, ticks and types, and the one switch between Pa and in. w.c.

Every control has a `widget` for the page, in it the `inner` one that the reader moves, a `value` (SI where it is a quantity),
`on_change(callback)`, `use(system)`, `shown` and `said`. Sliders are in `sliders`.

The notebook reads letters as commands wherever nothing can be written: an "a" typed to choose in a list would put in a cell, an "r" would
take the panel out of its own. A picture of one pixel, once it stands in the page, keeps keys inside its container, and names sliders to
those who do not see them: the stock slider has no name of its own.
"""

from html import escape

from ipywidgets import HTML, Box, Checkbox, Dropdown, Layout, Text, ToggleButtons

from helpers import require
from helpers.plots.markup import PAGE_STYLE
from helpers.plots.style import INK, PAPER, WARNING
from helpers.units import SYSTEMS, parse

# Classes: of a control; of a slider's figures; of what stands beside a label.
CONTROL, VALUE, ENDS, NOTE = "pressure-loop-control", "pressure-loop-value", "pressure-loop-ends", "pressure-loop-note"
HAND_PX, ROW_PX = 290, 620  # width of a control; of one that has a row of its own
SEGMENTS, SEGMENT_PX, LETTER_PX = 4, 24, 7.6  # options beside each other: so many at most, if they fit into the row
# Ink and ground of what is read, and of what is moved, by what it is.
LOOKS = {
    "text": (INK, PAPER), "button": (INK, "#eef0f2"), "chosen": (PAPER, "#0b3c6f"), "link": ("#0b3c6f", PAPER),
    "track": ("#5f6b78", PAPER), "thumb": ("#0b3c6f", PAPER), "edge": ("#5f6b78", PAPER), "ends": ("#55616d", PAPER),
    "focus": ("#0b3c6f", PAPER),
}  # fmt: skip
_INKS = {name: ink for name, (ink, _) in LOOKS.items()}
# The label and a slider's figure on one line, its track, a list or an entry on the next, all as wide as a control. A track is hit anywhere
# in its line, 32 px high; a mark and a figure stand at its least and its most.
STYLE = f"""<style>
.{CONTROL} {{ position: relative; display: block; flex: none; width: {HAND_PX}px; overflow: visible; color: {INK}; }}
.{CONTROL}.own-row {{ width: min({ROW_PX}px, 100%); }} .{CONTROL} .whole {{ font-size: 13px; line-height: 1.3; }}
.{CONTROL} > :not(.{VALUE}) {{ width: 100%; flex-flow: row wrap; height: auto; margin: 0; overflow: visible; }}
.{CONTROL} label.widget-label {{ flex: 0 0 100%; width: 100%; max-width: none; text-align: left; height: 24px; line-height: 24px; margin: 0;
  font-size: 14px; color: {INK}; }} .{CONTROL} .widget-slider label.widget-label {{ height: 28px; line-height: 28px; }}
.{CONTROL} .slider-container {{ flex: 0 0 100%; width: 100%; height: 32px; margin: 0; padding: 0; position: relative; }}
.{CONTROL} .noUi-target {{ position: absolute; top: 7px; left: 9px; right: 9px; width: auto; height: 6px; margin: 0; border: 0;
  box-shadow: none; background: {_INKS["track"]}; }}
.{CONTROL} .noUi-target::before, .{CONTROL} .noUi-target::after {{ content: ""; position: absolute; top: -4px; width: 2px; height: 14px;
  background: {_INKS["track"]}; left: 0; }} .{CONTROL} .noUi-target::after {{ left: auto; right: 0; }}
.{CONTROL} .noUi-base::before {{ content: ""; position: absolute; inset: -7px -9px -19px; }}
.{CONTROL} .noUi-target .noUi-handle::after {{ display: block; background: none; width: auto; height: auto; inset: -1px -6px -13px; }}
.{CONTROL} > .{ENDS} {{ position: absolute; bottom: 0; left: 0; height: 16px; pointer-events: none; }}
.{CONTROL} > .{ENDS} .widget-html-content {{ display: flex; justify-content: space-between; padding: 0 6px; font-size: 13px;
  line-height: 16px; color: {_INKS["ends"]}; }}
.{CONTROL} > .{NOTE} {{ position: absolute; top: 0; right: 0; width: auto; height: 24px; pointer-events: none; }}
.{CONTROL}:has(> .{VALUE}) > .{NOTE} {{ right: 84px; height: 28px; }} .{CONTROL} > .{NOTE} .widget-html-content {{ font-size: 13px;
  line-height: 24px; white-space: nowrap; }} .{CONTROL}:has(> .{VALUE}) > .{NOTE} .widget-html-content {{ line-height: 28px; }}
.{CONTROL} .noUi-connects {{ background: {_INKS["track"]}; }} .{CONTROL} .noUi-connect {{ background: {_INKS["thumb"]} !important; }}
.{CONTROL} .noUi-target .noUi-handle {{ width: 18px; height: 18px; top: -6px !important; right: -9px !important; border-radius: 50%;
  background: {_INKS["thumb"]} !important; border: 0 !important; box-shadow: none; transform: none; }}
.{CONTROL} > .{VALUE} {{ position: absolute; top: 0; right: 0; width: 76px; margin: 0; }}
.{CONTROL} :is(input[type=text], select) {{ flex: 0 0 100%; width: 100%; height: 26px; border: 1px solid {_INKS["edge"]};
  border-radius: 3px; color: {INK}; background-color: {PAPER}; font-size: 14px; padding: 0 6px; }}
.{CONTROL} > .{VALUE} input {{ text-align: right; height: 28px; }} .{CONTROL} select {{ appearance: auto; padding: 0 2px; }}
.widget-checkbox label {{ display: flex; align-items: center; }}
.{CONTROL} .widget-checkbox label {{ height: 28px; font-size: 14px; }}
.{CONTROL} .widget-toggle-buttons > div {{ display: flex; gap: 2px; width: 100%; }}
:is(.{CONTROL}, .frame) .jupyter-button {{ height: 26px; line-height: 24px; font-size: 14px; color: {INK}; border-radius: 3px;
  background: {LOOKS["button"][1]}; border: 1px solid {_INKS["edge"]}; box-shadow: none; padding: 0 8px; margin: 0; }}
.{CONTROL} .widget-toggle-buttons .jupyter-button {{ flex: 1 1 auto; padding: 0 4px; }}
.{CONTROL} .jupyter-button.mod-active {{ color: {_INKS["chosen"]}; background: {LOOKS["chosen"][1]}; }}
.{CONTROL} .jupyter-button.mod-active::before {{ content: "✓ "; }}
.{CONTROL}.units {{ width: 112px; margin-left: auto; }} .{CONTROL}.units label {{ display: none; }}
.{CONTROL}.units .jupyter-button {{ height: 24px; line-height: 22px; font-size: 13px; flex: none; color: {LOOKS["link"][0]};
  background: none; border-color: transparent; text-decoration: underline; }}
.{CONTROL}.units .jupyter-button.mod-active {{ color: {INK}; font-weight: bold; text-decoration: none; }}
:is(.{CONTROL}, .frame) :is(input, button, select, .noUi-handle):focus-visible {{
  outline: 2px solid {_INKS["focus"]} !important; outline-offset: 1px; box-shadow: none; }}
</style>"""


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
        """One more switch to show, looking as all others do; with it comes the style of all controls and of the page."""
        buttons = ToggleButtons(description="Units", options=SYSTEMS, value=self._system, style={"button_width": "auto"})
        buttons.observe(lambda change: setattr(self, "system", change["new"]), "value")
        shown = Box([buttons, HTML(STYLE + PAGE_STYLE, layout=Layout(display="none"))]).add_class(CONTROL).add_class("units")
        self._switches.append(buttons)
        return shown


UNITS = UnitSwitch()


class Labelled:
    """What all controls share: a labelled widget, and whom to call when the reader has changed something."""

    def __init__(self, label, inner, *beside):
        self._callbacks, self.widget, self._note, self.against = [], Box().add_class(CONTROL), None, ""
        self._put(label, inner, *beside)

    @property
    def value(self):
        """What the reader has chosen."""
        return self.inner.value

    @value.setter
    def value(self, value):
        self.inner.value = value

    @property
    def figure(self):
        """What it stands at, as the page shows it."""
        return str(self.value)

    @property
    def said(self):
        """Its name and what it stands at, with its unit."""
        name, _, unit = self.inner.description.removesuffix("]").partition(" [")
        return f"{name} {self.figure} {unit}".rstrip()

    @property
    def shown(self):
        """Whether the page shows it."""
        return self.widget.layout.display != "none"

    @shown.setter
    def shown(self, shown):
        self.widget.layout.display = None if shown else "none"

    def set_against(self, other, equal):
        """Show beside its label what it is to be held against, in words, with a mark for equal or unequal: `against` says so."""
        if self._note is None:
            self._note = HTML().add_class(NOTE)
            self.widget.children = (*self.widget.children, self._note)
        ink, mark = (LOOKS["ends"][0], "=") if equal else (WARNING, "≠")
        self.against = f"{mark} {other}"
        self._note.value = f'<span style="color:{ink};font-weight:{400 if equal else 700}">{escape(self.against)}</span>'

    def on_change(self, callback):
        """Call back, without arguments, after each change."""
        self._callbacks.append(callback)

    def use(self, system):
        """Take up a system of units; only quantities have something to do."""

    def _put(self, label, inner, *beside):
        """Show another inner widget instead of the one before; beside: what stays."""
        inner.description = label
        inner.observe(self._changed, "value")
        self.inner = inner
        kept = (*beside, *([self._note] if self._note else []))
        before, self.widget.children = self.widget.children, (inner, *kept)
        for widget in before:
            if widget not in kept:
                widget.close()

    def _changed(self, change):
        self._tell()

    def _tell(self):
        for callback in self._callbacks:
            callback()


class Choice(Labelled):
    """One of several: texts, or a mapping from text to what is meant. A few short ones stand beside each other, more of them in a list."""

    def __init__(self, label, options, value=None):
        super().__init__(label, self._of(_pairs(options), value))

    @property
    def figure(self):
        """The words of what is chosen."""
        return self.inner.label

    def offer(self, options, value):
        """Other options, without calling anybody."""
        self._put(self.inner.description, self._of(_pairs(options), value))

    @staticmethod
    def _of(options, value):
        words = [str(one[0] if isinstance(one, tuple) else one) for one in options]
        beside = len(words) <= SEGMENTS and sum(SEGMENT_PX + LETTER_PX * len(one) for one in words) <= HAND_PX
        given = {"options": options} | ({} if value is None else {"value": value})
        return ToggleButtons(**given, style={"button_width": "auto"}) if beside else Dropdown(**given)


class Tick(Labelled):
    """Yes or no."""

    def __init__(self, label, value=False):
        super().__init__(label, Checkbox(value=value, indent=False))

    @property
    def figure(self):
        """In a word."""
        return "yes" if self.value else "no"


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

    @property
    def figure(self):
        """The same, or that nothing does."""
        return self.text or "none"

    @text.setter
    def text(self, text):
        self.inner.value = text


MOST_GAIN = 1000.0


def typed_gain(label, text="", may_be_none=False):
    """A controller's gain [% of output by % of span]; may_be_none: whether an empty field, or "none", says that it is not known."""

    def read(typed):
        if may_be_none and _none(typed):
            return None
        try:
            value = float(typed)
        except ValueError:
            raise ValueError(f"{label}: write a number, such as 0.8{', or none' if may_be_none else ''}; got {typed!r:.60}.") from None
        if not 0 < value <= MOST_GAIN:
            raise ValueError(f"{label}: must be above 0 and {MOST_GAIN:g} at the most; got {typed!r:.60}.")
        return value

    return Typed(f"{label} [%/%]", read, text, "a number, or none" if may_be_none else "")


def typed_integral_time(label, text=""):
    """A controller's integral time [s], with its unit; None for "none" or an empty field, which say that there is no integral action."""

    def read(typed):
        if _none(typed):
            return None
        value = parse(typed, "time", label)
        if value <= 0:
            raise ValueError(f"{label}: must be above zero, or none for no integral action; got {typed!r:.60}.")
        return value

    return Typed(label, read, text, "such as 4 s, or none")


def typed_quantity(label, kind, text):
    """A quantity of a kind that `units.parse` knows, with its unit, in SI."""
    return Typed(label, lambda typed: parse(typed, kind, label), text)


def _none(typed):
    return typed.strip().lower() in ("", "none")


def _pairs(options):
    return list(options.items()) if isinstance(options, dict) else list(options)


PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="
# The widget may be loaded a little before it stands in the page: it looks again until it does, for a minute. Keys with Ctrl, Alt or the
# command key, and Shift-Enter, which runs the cell, go on to the notebook.
_HOLD = """const spark = this; let looks = 600; const begin = () => { const held = spark.closest('.CONTAINER');
if (!held) { if (looks--) setTimeout(begin, 100); return; }
const name = () => { for (const handle of held.querySelectorAll('.noUi-handle:not([aria-label])'))
{ handle.setAttribute('aria-label', handle.closest('.widget-slider').querySelector('.widget-label').textContent); }
for (const one of held.querySelectorAll('.widget-toggle-button')) { const on = one.classList.contains('mod-active');
if (one.getAttribute('aria-pressed') !== String(on)) one.setAttribute('aria-pressed', on); } };
name(); new MutationObserver(name).observe(held, {childList: true, subtree: true, attributeFilter: ['class']});
held.addEventListener('keydown', event => { if (!event.ctrlKey && !event.altKey && !event.metaKey
&& !(event.shiftKey && event.key === 'Enter')) event.stopPropagation(); }); }; begin();"""


def keys_held(css_class):
    """HTML that keeps what is typed inside the container of this class; to be put into it once."""
    script = " ".join(_HOLD.replace("CONTAINER", css_class).split())
    return f'<img src="{PIXEL}" alt="" style="display:none" onload="{script}">'
