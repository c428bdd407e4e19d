"""The part of the fault bench where a case is named: fault, evidence out of the log, cure."""

from ipywidgets import HTML, Checkbox, Layout, VBox

from helpers.lessons.fault_bench import CURES
from helpers.panels.fault_bench_choosers import NOT_CHOSEN, button, dropdown
from helpers.panels.fault_bench_words import PLAIN, heading_html

__all__ = ["NameIt"]

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
