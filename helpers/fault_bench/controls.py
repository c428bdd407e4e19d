"""What is chosen at the fault bench: the case, the next check and its place, the fault that is named; the good hand's way step by step."""

import re
from html import escape

from ipywidgets import HTML, Button, Checkbox, Dropdown, HBox, Layout, Text, VBox

from helpers.fault_bench.checks import CHECKS
from helpers.fault_bench.faults import CURES, LEVELS
from helpers.fault_bench.record import NUMBERS
from helpers.fault_bench.words import PLAIN, check_html, check_label, heading_html, minutes_words, step_words, steps_html
from helpers.plots.picture import Picture
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

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
        # the switch of units, wide enough for larger letters
        switch = UNITS.switch()
        switch.layout.width, switch.children[0].layout.width = "auto", "60px"
        switch.children[1].layout.width, switch.children[1].style.button_width = "212px", "100px"
        self.box = VBox([row(switch, self.level, self.number, *buttons), self.told], layout=Layout(overflow="visible"))

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


NO_EVIDENCE = f'<p style="{PLAIN}">Evidence: the checks you take can be ticked here.</p>'
EVIDENCE = f'<p style="{PLAIN}">Evidence: tick the checks that prove it, and only those.</p>'


class NameIt:
    """The fields. on_done is called, without arguments, when the learner says that is it."""

    def __init__(self, on_done):
        self.fault = dropdown("The fault", (), "choose what is wrong, or that nothing is")
        self.cure = dropdown("The cure", [(cure.name, cure.key) for cure in CURES], "choose what to do about it")
        self.asked, self.evidence, self.ticks = HTML(NO_EVIDENCE), VBox(layout=Layout(overflow="visible")), {}
        self.done_button, self.told = button("That is it", on_done, "150px"), HTML()
        rows = [HTML(heading_html("Name it")), self.fault, self.asked, self.evidence, self.cure, self.done_button, self.told]
        self.box = VBox(rows, layout=Layout(overflow="visible"))

    def begin(self, case):
        """Another case, or the same anew: nothing chosen, nothing ticked."""
        self.fault.options = [self.fault.options[0], *((fault.name, fault.key) for fault in case.faults)]
        self.fault.value = self.cure.value = NOT_CHOSEN
        ticks, self.ticks = self.ticks, {}
        self.offer(())
        for tick in ticks.values():
            tick.close()

    def offer(self, taken):
        """The checks taken so far, each kind once, to be ticked; what is ticked stays."""
        rows = {}
        for number, seen in enumerate(taken, 1):
            rows.setdefault((seen.check.key, seen.check.name), []).append(str(number))
        for (key, name), numbers in rows.items():
            if key not in self.ticks:
                self.ticks[key] = Checkbox(value=False, indent=False, layout=Layout(width="auto"))
            self.ticks[key].description = f"{name} (row {', '.join(numbers)})"
        if self.evidence.children != tuple(self.ticks.values()):
            self.evidence.children = tuple(self.ticks.values())
        self.asked.value = EVIDENCE if rows else NO_EVIDENCE

    @property
    def answer(self):
        """(fault, evidence, cure) by their keys. Raises ValueError where one is not chosen."""
        for field, what in ((self.fault, "a fault"), (self.cure, "a cure")):
            if field.value == NOT_CHOSEN:
                raise ValueError(f"Choose {what} first.")
        return self.fault.value, tuple(key for key, tick in self.ticks.items() if tick.value), self.cure.value

    def put(self, fault, evidence, cure):
        """Fill in an answer, as a hand would. Raises ValueError for what is not there."""
        for field, key in ((self.fault, fault), (self.cure, cure)):
            if key not in [value for _, value in field.options]:
                raise ValueError(f"{field.description} must be one of the list; got {key!r:.60}")
            field.value = key
        if strange := set(evidence) - set(self.ticks):
            raise ValueError(f"Evidence must be checks that were taken; got {', '.join(sorted(strange)):.60}")
        for key, tick in self.ticks.items():
            tick.value = key in evidence


class Replay:
    """The way of a judgement. `next()` and `back()` are what its buttons do; `picture` and `words` show the step for any other page."""

    def __init__(self, case, judgement):
        self.case, self.steps, self.minutes, self.shown = case, judgement.replay, judgement.replay_min, 1
        self.told = HTML()
        self.back_button, self.next_button = button("◀ Back", self.back, "150px"), button("Next step ▶", self.next, "150px")
        self.box = VBox(
            [HTML(heading_html("A good hand's way")), self.told, row(self.back_button, self.next_button)], layout=Layout(overflow="visible")
        )
        self.refresh()

    @property
    def step(self):
        """The step shown last."""
        return self.steps[self.shown - 1]

    @property
    def words(self):
        """The step in plain text."""
        return written_out(step_words(self.shown, self.step), UNITS.system)

    @property
    def picture(self):
        """The trend that belongs to the step: its own, where it has one, or that of the arrival."""
        own = self.step.seen and self.step.seen.trend()
        return Picture(height_px=500).show(written_out(own or self.case.trend(), UNITS.system))

    def next(self):
        """One step more; nothing after the last."""
        self._go(self.shown + 1)

    def back(self):
        """One step less; nothing before the first."""
        self._go(self.shown - 1)

    def refresh(self):
        """Write the steps anew, in the units of the moment."""
        end = (
            f"That is all: {minutes_words(self.minutes)}." if self.shown == len(self.steps) else f"Step {self.shown} of {len(self.steps)}."
        )
        inside = f'{steps_html(self.steps, self.shown)}<p style="{PLAIN}"><b>{end}</b></p>'
        self.told.value = f'<div role="status" aria-live="polite">{written_out(inside, UNITS.system)}</div>'

    def _go(self, shown):
        if 0 < shown <= len(self.steps):
            self.shown = shown
            self.refresh()


def picture_html(picture):
    """A picture inside a page's HTML, with its words."""
    return f'<img src="{picture.source(scale=1)}" alt="{escape(picture.words)}" style="max-width:100%">'
