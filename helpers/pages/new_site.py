"""A site in a quarter of an hour: questions with usual answers, a check of all of them together, and a commented site file at the end."""

from functools import cache
from pathlib import Path

from ipywidgets import HTML, Button, GridBox, Layout, VBox

from helpers.pages.printed import RECORDS, records_folder
from helpers.plots.markup import Verdict, VerdictLine, html_table
from helpers.studies.new_site import NOT_ASKED, OPEN, QUESTIONS, new_site_text, refusals, write_new_site
from helpers.widgets.controls import STYLE, Choice, Typed, keys_held
from helpers.widgets.panel import CLASS

DEFAULT_PATH = f"{RECORDS}/my_building.toml"
COLUMNS = {"grid_template_columns": "repeat(auto-fill, 300px)", "grid_gap": "4px 18px", "width": "100%"}


class NewSitePanel:
    """The questions as entries; every answer is checked with all others as it is typed."""

    def __init__(self):
        self.controls = {question.key: _control(question) for question in QUESTIONS}
        self.path = Typed("Write to", str.strip, DEFAULT_PATH, hint="path of a new .toml file")
        self.button = Button(description="Write the site file", layout=Layout(width="180px"))
        self.button.on_click(lambda _: self.write())
        self.line = VerdictLine()
        widgets = [control.widget for control in self.controls.values()]
        grid = GridBox([*widgets, self.path.widget], layout=Layout(**COLUMNS))
        looks = HTML(STYLE + keys_held(CLASS), layout=Layout(display="none"))
        self.box = VBox([looks, grid, self.button, self.line.widget], layout=Layout(width="100%"))
        self.box.add_class(CLASS)
        for control in self.controls.values():
            control.on_change(self.check)
        self.check()

    @property
    def answers(self):
        """What was typed, by question."""
        return {key: control.text if isinstance(control, Typed) else control.value for key, control in self.controls.items()}

    def check(self):
        """Say whether the answers make a site, or what is wrong and where."""
        try:
            new_site_text(self.answers)
        except ValueError as refusal:
            wrong = len(refusals(self.answers))
            others = f". The other {len(QUESTIONS) - wrong} answers can be read" if wrong else ""
            self.line.say(Verdict("entry", f"{refusal}{others}"))
            return
        kept, every = "; ".join(NOT_ASKED), len(QUESTIONS)
        demo = sum(self.answers[question.key] == question.usual != OPEN for question in QUESTIONS)
        left = [question.asked for question in QUESTIONS if self.answers[question.key] == OPEN]
        unknown = f" Not known yet, taken within limits and told in the record: {'; '.join(left)}." if left else ""
        own = f" {demo} of {every} answers are still those of the demo site: check that each is so in your building." if demo else ""
        told = f"These answers make a site.{own}{unknown} Not asked, left as the demo site has it or open: {kept}. Check these in the file."
        self.line.say(Verdict("open" if demo + len(left) == every else "attention", told))

    def write(self):
        """Write the file, never over one that is there, and say what to do with it."""
        try:
            if Path(self.path.text).parent == RECORDS:  # a desk of a class begins without it
                records_folder()
            written = write_new_site(self.answers, self.path.text)
        except ValueError as refusal:
            self.line.say(Verdict("entry", str(refusal)))
            return
        told = f"Written: {written.as_posix()}. Read it in an editor, then type its path into Own site file of the design record's panel."
        self.line.say(Verdict("done", told))

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live panel; without a kernel, the questions with their usual answers."""
        rows = [(question.asked, question.usual) for question in QUESTIONS]
        words = "\n".join(f"{asked}: {usual}" for asked, usual in rows)
        return self.box._repr_mimebundle_() | {"text/html": html_table(("Question", "Usual answer"), rows), "text/plain": words}


@cache
def new_site_panel():
    """The panel, one in a notebook."""
    return NewSitePanel()


def _control(question):
    if isinstance(question.kind, tuple):
        return Choice(question.asked, list(question.kind), question.usual)
    return Typed(question.asked, str.strip, question.usual)
