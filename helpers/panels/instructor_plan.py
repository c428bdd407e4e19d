"""The plan of a class as a page: choose its length, its beginning and its breaks; the table follows."""

from functools import cache

from ipywidgets import HTML, HBox, VBox

from helpers.lessons.class_day import LENGTHS, asked, clock_time, left_out, taught, timetable
from helpers.panels.controls import UNITS, Choice, Entry
from helpers.panels.markup import html_table
from helpers.panels.verdict import Verdict, verdict_html

__all__ = ["ClassPlan", "class_plan", "plan_table"]

HEAD = ("When", "Min", "What", "Show", "Ask", "Leave out", "Hand out")
START, BREAK_MIN, LUNCH_MIN = "08:30", 15, 45
BREAKS_MIN, LUNCHES_MIN = (5, 10, 15, 20, 30), (30, 45, 60, 75, 90)


def plan_table(length, start=START, break_min=BREAK_MIN, lunch_min=LUNCH_MIN, system="Pa"):
    """(HTML, plain text) of a plan by the clock."""
    timed = timetable(length, start, break_min, lunch_min)
    html, lines = [], []
    for day in sorted({one.day for one in timed}):
        of_day = [one for one in timed if one.day == day]
        title = f"{length[0].upper()}{length[1:]}{f', day {day}' if timed[-1].day > 1 else ''}: {of_day[0].begin} to {of_day[-1].end}"
        rows = [_row(length, one, system) for one in of_day]
        html.append(html_table(HEAD, rows, title=title))
        lines += [title, *("; ".join(filter(None, row)) for row in rows)]
    call = f"The class sheet for it: make_class(code, 30, lessons={taught(length)}, each=1)"
    return "".join([*html, f'<p style="font-size:15px"><code>{call}</code></p>']), "\n".join([*lines, call])


class ClassPlan:
    """A plan to look at; without a kernel, as it opens."""

    def __init__(self, length="a day"):
        self.length = Choice("Length", tuple(LENGTHS), length)
        self.start = Entry("Begins at", clock_time, START, "such as 08:30")
        self.break_min, self.lunch_min = Choice("Break, min", BREAKS_MIN, BREAK_MIN), Choice("Lunch, min", LUNCHES_MIN, LUNCH_MIN)
        self.controls = (self.length, self.start, self.break_min, self.lunch_min)
        self.table = HTML()
        for control in self.controls:
            control.on_change(self.refresh)
        UNITS.listen(self.refresh)
        self.refresh()
        chosen = [HBox([self.length.widget, self.start.widget]), HBox([self.break_min.widget, self.lunch_min.widget, UNITS.switch()])]
        self.box = VBox([*chosen, self.table])

    def refresh(self):
        """Write the plan anew; what cannot be is told in a sentence."""
        try:
            self.table.value = self._told()[0]
        except ValueError as refusal:
            self.table.value = verdict_html(Verdict("entry", str(refusal)))

    def _told(self):
        return plan_table(self.length.value, self.start.text, self.break_min.value, self.lunch_min.value, UNITS.system)

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self._told()
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


@cache
def class_plan():
    """The plan, one in a notebook."""
    return ClassPlan()


def _row(length, timed, system):
    block = timed.block
    minutes = clock_time(timed.end) - clock_time(timed.begin)
    what = f"{block.title} ({block.portion})" if block.portion else block.title
    leave = left_out(length, block.key) if block.kind == "lesson" else block.leave_out
    return f"{timed.begin} to {timed.end}", str(minutes), what, block.show, asked(block, system), leave, block.hand_out
