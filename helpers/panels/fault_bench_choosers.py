"""What is chosen at the fault bench: the case by level and number, and the next check with its place."""

import re

from ipywidgets import HTML, Button, Dropdown, HBox, Layout, Text, VBox

from helpers.lessons.bench_record import NUMBERS
from helpers.lessons.fault_bench import CHECKS, LEVELS
from helpers.panels.controls import UNITS
from helpers.panels.fault_bench_words import check_html, check_label, minutes_words

__all__ = ["NOT_CHOSEN", "CaseChooser", "CheckChooser", "button", "dropdown", "row"]

LABEL_WIDTH = "120px"
NOT_CHOSEN = ""  # and not None, which a list shows as an empty field


class CaseChooser:
    """Level and number of a case. Called back: on_open(level, number), on_level(level), on_new(), on_again(), on_refusal(ValueError)."""

    def __init__(self, on_open, on_level, on_new, on_again, on_refusal):
        self._on_open, self._on_level, self._on_refusal, self._quiet = on_open, on_level, on_refusal, False
        levels = [(f"{level.number}: {level.name}", level.number) for level in LEVELS]
        self.level = Dropdown(description="Level", options=levels, layout=Layout(width="380px"))
        self.number = Text(description="Case number", placeholder="such as 42", continuous_update=False, layout=Layout(width="230px"))
        for field, width in ((self.level, "60px"), (self.number, "110px")):
            field.style.description_width, field.tooltip = width, field.description
            field.observe(self._changed, "value")
        buttons = button("New case", on_new, "120px"), button("This case again", on_again, "160px")
        self.new_button, self.again_button = buttons
        self.told = HTML()
        self.box = VBox([row(_units(), self.level, self.number, *buttons), self.told], layout=Layout(overflow="visible"))

    def show(self, level, number):
        """Show which case is open, without calling anybody."""
        self._quiet = True
        self.level.value, self.number.value = level, str(number)
        self._quiet = False

    def _changed(self, change):
        if self._quiet:
            return
        if change["owner"] is self.level:
            self._on_level(self.level.value)
            return
        text = self.number.value.strip()
        if re.fullmatch(r"[0-9]{1,4}", text):
            self._on_open(self.level.value, int(text))
        else:
            self._on_refusal(ValueError(f"Case number must be a whole number from 0 to {NUMBERS - 1}; got {text!r:.60}."))


class CheckChooser:
    """The next check and its place, how it is done, and its caution before it is taken."""

    def __init__(self, on_take):
        self.check = dropdown("The check", [(check_label(check), check.key) for check in CHECKS], "choose what to look at next")
        self.place = Dropdown(description="Where", layout=Layout(width="300px"))
        self.place.style.description_width, self.place.tooltip = LABEL_WIDTH, "Where"
        self.about = HTML()
        self.take_button = button("Take it", on_take, "220px")
        self.check.observe(lambda change: self.describe(), "value")
        self.minutes, self.told = HTML(), HTML(layout=Layout(min_height="40px"))
        self.box = VBox(
            [self.check, self.place, self.about, row(self.take_button, self.minutes), self.told], layout=Layout(overflow="visible")
        )
        self.describe()

    @property
    def chosen(self):
        """(key of the check, place or None). Raises ValueError where none is chosen."""
        if self.check.value == NOT_CHOSEN:
            raise ValueError("Choose a check first.")
        return self.check.value, self.place.value

    def describe(self):
        """Say how the chosen check is done, and offer its places; one that was chosen before stays."""
        check = next((check for check in CHECKS if check.key == self.check.value), None)
        places, before = (check.places if check else ()), self.place.value
        self.place.options = places
        self.place.value = before if before in places else next(iter(places), None)
        self.place.layout.display = None if places else "none"
        self.about.value = check_html(check)
        self.take_button.description = f"Take it: {minutes_words(check.minutes)}" if check else "Take it"


def _units():
    """The switch of units, wide enough for larger letters."""
    switch = UNITS.switch()
    switch.layout.width, switch.children[0].layout.width = "auto", "60px"
    switch.children[1].layout.width, switch.children[1].style.button_width = "212px", "100px"
    return switch


def dropdown(label, options, prompt):
    """A labelled list to choose from, with nothing chosen at first."""
    field = Dropdown(description=label, options=[(f"({prompt})", NOT_CHOSEN), *options], layout=Layout(width="100%", max_width="760px"))
    field.style.description_width, field.tooltip = LABEL_WIDTH, label
    return field


def button(label, work, width):
    """A button that does some work."""
    made = Button(description=label, layout=Layout(width=width))
    made.on_click(lambda _: work())
    return made


def row(*widgets):
    """Widgets beside each other, on several lines where the page is narrow."""
    return HBox(widgets, layout=Layout(flex_flow="row wrap", align_items="center", overflow="visible"))
