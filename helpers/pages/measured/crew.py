"""What a crew takes along on a test day and brings back: the steps as a sheet that keeps every entry, filled books read, the report."""

import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from helpers.model.files import free_path, named_path, safe_name, shown_name, write_whole
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.acceptance import SHORT_CAUTION
from helpers.pages.injection import design_of
from helpers.pages.printed import day_band, day_report_page, example_html, in_records, procedure_page, records_folder, written_card
from helpers.pages.sites import OnSite, Together
from helpers.plots.markup import Card, Verdict, cautions_html, html_table, lines_html
from helpers.plots.printer import write_page
from helpers.record.sections.signed import before_the_loop
from helpers.studies.cases import Same
from helpers.studies.commissioning.crew.book import write_book, write_report
from helpers.studies.commissioning.crew.day import read_day, typed_day
from helpers.studies.commissioning.crew.example import INVENTED, SLIPS, example_books
from helpers.studies.commissioning.crew.given_back import proof_said
from helpers.studies.commissioning.crew.leaves import WITHIN, together_said
from helpers.studies.commissioning.crew.lines import AGREES, COARSE, GAUGED
from helpers.studies.commissioning.crew.merged import SAME
from helpers.studies.commissioning.crew.procedure import goes_out_said, procedure, stopped_by, stopped_said
from helpers.studies.commissioning.crew.read_back import read_filled
from helpers.studies.commissioning.crew.report import day_report, steps_judged
from helpers.studies.commissioning.crew.rounds import crew_rounds
from helpers.studies.commissioning.fields import OF_THE_DAY, Day, in_the_sheets_words
from helpers.studies.commissioning.further_tests import worst_tiles
from helpers.studies.commissioning.hand_back import BEFORE, BRIEFLY, CEILING_BACK, DECIDED, FIRE_WATCH, LAST, closing_lines
from helpers.studies.commissioning.injection import STEP_PARTS
from helpers.studies.commissioning.sheets import SEEN, by_hand_line
from helpers.studies.commissioning.steps.frame import MOST_WIND_M_S, STOP, WEATHER
from helpers.studies.commissioning.steps.not_run import NOT_RUN, WHY_ABOVE
from helpers.studies.commissioning.steps.two_rounds import ask_first, design_tile
from helpers.studies.commissioning.workbook import ACCEPTANCE_CAUTION
from helpers.studies.status import word_of
from helpers.units.said import in_each, with_unit, written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import Reading
from helpers.widgets.typed_sheet import TypedSheet

LARKFIELD = "Larkfield House"
PICKERS = Together()  # of the page: that of the steps is the first
IF_DECIDED = "Only by that written decision: what is done, the limit, the cautions"
IN_FULL = "Step {}, read before it is begun: all that is expected, every caution, when it fails"
NOBODY = "nobody named yet"
ANOTHER_DAY = "Do: read no door in this wind; what is begun is given back by the last steps"
MEASURED_IN_BOOK = "what is measured stands in the book: read it back below"
FAN_AFTER = "▲ fan after it: "
STILL_LATCHES = "After work at a closer or leaf let it go, fan off and on: it must still shut and latch by itself, whatever its force."
# Words of what a step expects in view, as far as whole clauses go: the rest is folded away under it. Ours.
MOST_WORDS, LONG_CLAUSE = 24, 20
STATES = ("good", "attention", "wrong", "open")  # of the report's lines, in the order of the table
# Of the lines of a step; with the two columns before them they fit in a window that is 1280 px wide.
NOTE = "note"
FIELDS = (("done", "Seen", SEEN, 104), ("time", "Time", (), 64), ("initials", "Initials", (), 64), (NOTE, "Note", (), 140))


@in_each
def in_brief(text, most_words):
    """The beginning of a text by whole sentences and clauses, its first in any case; what goes on is marked.

    >>> written_out(in_brief("Expected: One thing first. Then another; and more.", 6))
    'Expected: One thing first. Then another …'
    """
    pieces, taken = _pieces(text), 1
    while taken < len(pieces) and len(" ".join(pieces[: taken + 1]).split()) <= most_words:
        taken += 1
    said = " ".join(pieces[:taken])
    return f"{said.rstrip('.,:;')} …" if taken < len(pieces) else said


def _pieces(part):
    """Sentences and clauses of a text with its head; one that is long by itself at its colons. None is cut at a comma: half a caution is
    none."""
    head, _, text = part.partition(" ")
    found = []
    for piece in re.split(r"(?<=;)\s+|(?<=\.)\s+(?=[A-Z])", text):
        found += [piece] if len(piece.split()) <= LONG_CLAUSE else re.split(r"(?<=:)\s+", piece)
    return [f"{head} {found[0]}", *found[1:]]


class StepsPanel:
    """The steps of a day at a site as a sheet to fill in; `procedure` is for the weather typed in."""

    def __init__(self, site, weather="winter", folder=None):
        self.site, self.weather, self.day, self.trouble, self._report = site, weather, Day(), "", {}
        self.wires = tuple(row for row in design_of(Same(site, whole=True)).injection.rows if row.part == STEP_PARTS[0])
        self.first = before_the_loop(design_of(Same(site, whole=True)))
        self.procedure = self._made()
        self.titles = {step.number: step.title for step in self.procedure.steps}
        columns = [("Step", 170), ("Minutes, fan after it", 170), *((head, width) for _, head, _, width in FIELDS)]
        rows = {getattr(one, "number", one): self._row(one) for one in self.procedure.in_the_list}
        day = tuple(
            (label, {"field": f"day {name}", "dimension": dimension, "label": label, "short": True})
            for name, (label, dimension) in OF_THE_DAY.items()
        )
        self.lines = (*BEFORE, *closing_lines(self.procedure.rounds.ceiling))
        told, given = (tuple((BRIEFLY.get(line, line), {"field": line}) for line in lines) for lines in (BEFORE, self.lines[len(BEFORE) :]))
        self.sheet = TypedSheet(f"test day {site.name}", columns, rows, self._judge, self._whole, folder, (*day, *told), given, (),
                                self._prepare, self._intro, self._under, self._more)  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write what a crew takes along, by the path's ending: the sheets to fill in (.xlsx, with what was typed here) or the procedure
        (.html, .pdf); by default the sheets, in `records`. Shows a link to it."""
        target = Path(path) if path else self._not_over_a_filled_one(in_records(self.site.name, "test_day.xlsx"))
        if target.suffix == ".xlsx":
            return written_card(write_book(self.procedure, target, UNITS.system, paper, self.filled()))
        return written_card(
            write_page(procedure_page(self.procedure, UNITS.system, design_of(Same(self.site, whole=True)).fails()), target, paper)
        )

    def _not_over_a_filled_one(self, path):
        """The path, or a free one beside it where a book stands there in which somebody has filled in what was not typed here."""
        return path if not path.exists() or _says_no_more(self.procedure, path, self.filled()) else free_path(path)

    def filled(self):
        """What was typed, by the blank of the book in which it stands."""
        return self._typed(self.sheet.values())

    def _typed(self, values):
        found, typed = {}, {name: value for name, value in values.items() if not isinstance(value, ValueError)}
        for step in self.procedure.steps:
            found |= {("steps", step.number, name): typed.get(self.field(step.number, name)) for name, *_ in FIELDS}
        found |= {("day", name, "found"): typed.get(f"day {name}") for name in OF_THE_DAY}
        found |= {("told", line, "given"): typed.get(line) for line in self.lines}
        return {key: value for key, value in found.items() if value is not None}

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _made(self):
        return procedure(crew_rounds(self.site, self.weather, self.day), self.wires, self.first)

    def field(self, number, name):
        """What a step's entry is kept under: its title, since a number is another step's once the procedure has one more."""
        return f"step {self.titles[number]!r} {name}"

    def _row(self, step):
        if isinstance(step, tuple):
            return lambda: self.procedure.left_out_said(step)
        cells = [{"field": self.field(step.number, name), "label": f"{step.label}, {head}"} | ({"options": words} if words else {})
                 | self._if_decided(step.number, name) for name, head, words, _ in FIELDS]  # fmt: skip
        return [step.label, lambda number=step.number: self._after(number), *cells]

    def _if_decided(self, number, name):
        """Of a step that is NOT RUN only the note can be typed into, until it says who decided otherwise in writing."""
        barred, note = (lambda: bool(self.procedure.steps[number - 1].against)), self.field(number, NOTE)
        if name == NOTE:
            return {"hint": lambda: "decided by" * barred()}
        return {"open": lambda values: not barred() or bool(values.get(note))}

    def _after(self, number):
        """How long a step takes, and in what state it leaves the fan: who does it stands under it, where it has the width."""
        step = self.procedure.steps[number - 1]
        barred = f"{NOT_RUN}; " if step.against else ""
        return f"{barred}{step.minutes:.0f} min; {FAN_AFTER}{step.leaves}"

    def _under(self, number):
        """What stands in view under a step: of one that is run all that is to do, with the whole caution and the whole limit beside it:
        these are never cut, and how what is expected begins; of one that is not, that it is not."""
        step = self.procedure.steps[number - 1]
        if step.against:
            return f"{NOT_RUN}: {WHY_ABOVE}."
        caution = step.caution_after(self.procedure.steps[: number - 1])
        if f"; {STOP}" in caution:  # when everybody stops is never folded away
            caution = f"{STOP}; {caution.replace(f'; {STOP}', '')}"
        expected = in_brief(f"Expected: {step.expected}", MOST_WORDS)
        return "\n".join([f"Who: {', '.join(step.who)}", f"Do: {step.do}", expected, f"▲ {caution}", f"Limit: {step.limit}"])

    def _more(self, number):
        """(words of the fold, what it holds): of a step that is run what else is to be read before it is begun; of one that is not what to
        do and its cautions together."""
        step = self.procedure.steps[number - 1]
        told = (("Who", ", ".join(step.who)), ("Do", step.do)) * bool(step.against) + (
            ("Expected", step.expected),
            ("Limit", step.limit),
            ("When it fails", step.fails),
        )
        lines = [*(f"{head}: {words}" for head, words in told), f"▲ {step.caution}", step.left_said]
        return (IF_DECIDED if step.against else IN_FULL.format(number)), "\n".join(lines)

    def _intro(self):
        sheet = self.procedure.rounds.sheet
        seen = [
            f"▲ {SHORT_CAUTION} {LAST}.",
            f"▲ {self.procedure.ceiling_said()}",
            *([self.trouble] if self.trouble else []),
            sheet.day_said,
        ]
        return seen, [f"▲ {ACCEPTANCE_CAUTION}", goes_out_said(self.procedure), *self.procedure.crew_lines()]

    def _prepare(self, values):
        """The steps for the weather typed in, once all its temperatures are there; what cannot be is told, and the figures before stay."""
        typed = {name: values[f"day {name}"] for name in OF_THE_DAY}
        refused = [str(value) for value in typed.values() if isinstance(value, ValueError)]
        self.trouble = refused[0] if refused else ""
        if refused:
            return
        try:
            day = Day(**typed)
        except ValueError as refusal:
            self.trouble = in_the_sheets_words(refusal)
            return
        if day.typed and day.lacking:
            self.trouble = f"The weather of the day counts once all of it is stated; still to state: {', '.join(day.lacking)}."
            day = Day()
        if day != self.day:
            if (sheet := getattr(self, "sheet", None)) is not None:  # not while it is being made
                sheet.line.say(Verdict("working", "Working the steps out for this weather. Below stand those for the weather before."))
            self.day = day
            self.procedure = self._made()

    def _judge(self, values, number):
        """(state, words) of a step by what was typed here, as the report and the command line have it of books."""
        typed = self._typed(values)
        if typed != self._report.get("typed"):
            self._report = {"typed": typed} | steps_judged(typed_day(self.procedure, typed))
        done, step, line = values[self.field(number, "done")], self.procedure.steps[number - 1], self._report[number]
        if WEATHER in step.judged and (windy := _windy(values)):  # typed, whether the step is ticked or not
            return "wrong", windy
        if done is None:
            stopped = stopped_by(self.procedure.steps, self._ticked(values)).get(number)
            return ("open", stopped_said(stopped)) if stopped else ("", "")
        if done == SEEN[1]:
            return "wrong", "otherwise than it must be: write it under deficiencies"
        book = f"; {MEASURED_IN_BOOK}" if line.state == "open" and step.judged and not step.against else ""
        return line.state, f"{line.words}{book}"

    def _ticked(self, values):
        return {step.number: values[self.field(step.number, "done")] for step in self.procedure.steps}

    def _whole(self, values):
        numbers = [step.number for step in self.procedure.steps]
        states = [self._judge(values, number)[0] for number in numbers]
        left = [line for line in self.lines if not values[line]]
        undone = [
            line for line in self.lines if line not in (CEILING_BACK, DECIDED) and proof_said(line, values[line] or None)[0] == "wrong"
        ]
        ticked = [number for number in numbers if values[self.field(number, "done")] is not None]
        last = self.procedure.steps[ticked[-1] - 1] if ticked else None
        left_said = last.left_said if last is not None else "Nothing begun."
        state = "wrong" if "wrong" in states or undone else "open" if left or {"open", ""} & set(states) else "good"
        done, barred, sheet = len(ticked), len(states) - len(self.procedure.run), self.procedure.rounds.sheet
        tiles = (("Steps done", f"{done} of {len(states)}", f"{barred} of them {NOT_RUN}" if barred else ""),
                 *(worst_tiles(sheet.worst) or [design_tile(sheet)]),
                 ("Fan is left", last.leaves if last else "as found", f"fire watch: {values[FIRE_WATCH] or NOBODY}"))  # fmt: skip
        words = (
            f"{done} of {len(states)} steps done, {states.count('wrong')} {word_of('wrong')}; {len(left)} of {len(self.lines)} lines "
            f"told and given back to fill in{_undone_said(undone)}. {left_said}"
        )
        rest = f", {barred} more {NOT_RUN}" if barred else ""
        head = f"{done} of {len(states)} steps done" if done else f"Nothing measured yet: {len(states) - barred} steps to do{rest}"
        if fails := sheet.design_fails_said:  # as the acceptance sheet has it: no grey word over doors that fail by the design
            state, head = "wrong", f"{head}. {fails}" if done else fails
        if windy := _windy(values):
            return Verdict("wrong", words, f"{windy[0].upper()}{windy[1:]}", tiles, do=ANOTHER_DAY)
        return Verdict(state, words, head, tiles, do=self._do(states))

    def _do(self, states):
        """The first step that is not done, by its number and title; a deficiency comes before it. Of a day not begun with a design that is
        expected to fail: who is told of that, since the day is done all the same."""
        if "wrong" in states:
            return f"Do: write step {states.index('wrong') + 1} under deficiencies, mend it, test it again"
        following = next(
            (step for step, state in zip(self.procedure.steps, states, strict=True) if state != "good" and not step.against), None
        )
        sheet = self.procedure.rounds.sheet
        if following is not None and not any(states) and sheet.design_fails_said:
            return ask_first(f"step {following.number}: it measures what is built")
        return "" if following is None else f"Do: step {following.label}"


def _windy(values):
    """That the wind that was typed is above what the readings bear, in words; "" where it is not, or none was typed."""
    wind = values["day wind_speed_m_s"]
    if wind is None or isinstance(wind, ValueError) or wind <= MOST_WIND_M_S:
        return ""
    wind, most = (with_unit(one, "wind speed") for one in (wind, MOST_WIND_M_S))
    return f"wind {wind}, above {most}: another day"


def _undone_said(lines):
    """Lines that are answered with a no, in words; "" for none."""
    return f"; not done: {'; '.join(lines)}" if lines else ""


@cache
def steps_panel(name=LARKFIELD):
    """The steps of a site, one in a notebook; over it a list of other sites."""
    return OnSite(lambda path: StepsPanel(read_site(path)), name, PICKERS)


def brought_back(*files, name=LARKFIELD):
    """What filled books say, in words and tables; files: by default those of an example made up for the demo site. Returns `Reading`."""
    found, paths = _found(files, name)
    if not found.filled.readings:
        raise ValueError(f"Filled books: nothing could be read of {', '.join(paths)}: {' '.join(map(str, found.not_used))}".rstrip(". "))
    report = day_report(found)
    made_up = f"{INVENTED} Made up, with {len(SLIPS)} slips: {'; '.join(SLIPS)}. " if not files else ""
    head = f"{made_up}Read: {', '.join(paths)}."
    leaves = [(leaf.words, *("" if one is None else with_unit(one, "pressure", (1, 3)) for one in (leaf.implied_pa, leaf.on_pa)),
               "" if leaf.within_pa is None else f"± {with_unit(leaf.within_pa, 'pressure', (1, 3))}", leaf.said.partition("; ")[2])
              for leaf in found.leaves]  # fmt: skip
    words = (*map(word_of, STATES), AGREES)
    parts = [(part, *([line.word for line in lines].count(word) for word in words), sum(COARSE in line.words for line in lines))
             for part, lines in report.parts().items()]  # fmt: skip
    unread = [*found.filled.conflicts, *found.filled.mistakes, *found.left]
    unread += [f"no day's file: {found.no_day}"] if found.no_day else []

    said, cautions = together_said(found.leaves), [ACCEPTANCE_CAUTION, f"{by_hand_line(found.procedure.rounds.site)} {STILL_LATCHES}"]

    @in_each
    def shown(*, system):
        told, rows = written_out((report, head, unread, said), system), written_out(leaves, system)
        html = (
            example_html() * (not files) + day_band(told[0], INVENTED * (not files)) + lines_html([told[1]]) + cautions_html(cautions)
        )  # the answer first: nobody measures here
        html += html_table(("Part", *words, COARSE), parts, title="The report in figures")
        html += lines_html([f"Not read or not used: {one}" for one in told[2]])
        columns = "Leaf", "By the force", "By the gauge", "May differ by", "Look at"
        html += html_table(columns, rows, [leaf.state for leaf in found.leaves], GAUGED, units_to_head=False, good=AGREES)
        return html + lines_html([*filter(None, [told[3]]), WITHIN])

    text = "\n".join([head, report.verdict[1], *unread, *(" | ".join(row) for row in leaves), said, WITHIN])
    return Reading(lambda: (shown(), text))


def write_back(*files, name=LARKFIELD, paper="A4"):
    """Write what filled books come to into `records`: the day's file, the report (HTML, XLSX), all of it in one book. Returns their links.

    What stands there and says something else is not written over; the made-up example has names of its own, and is written anew.
    """
    found, _ = _found(files, name)
    start = f"{safe_name(found.procedure.rounds.site.name).lower()}_{safe_name(found.date)}"
    start, folder, written = start if files else f"{start}_example", records_folder(), []
    texts = {"day.toml": found.day_file()} if found.test_day is not None else {}
    texts["report.html"] = day_report_page(found, UNITS.system, INVENTED * (not files))
    for ending, text in texts.items():
        path = folder / f"{start}_{ending}"
        same = not files or (path.is_file() and path.read_text(encoding="utf-8") == text)
        written.append(write_whole(path if same else free_path(path), text))
    sheet = written[-1].with_suffix(".xlsx")  # of the report that was just written, beside it: it says the same
    written.append(
        write_report(found, sheet if same or not sheet.exists() else free_path(sheet), UNITS.system, paper, INVENTED * (not files))
    )
    book = folder / f"{start}_filled.xlsx"
    book = book if not files or not book.exists() or _says_no_more(found.procedure, book, found.filled.values()) else free_path(book)
    written.append(write_book(found.procedure, book, UNITS.system, paper, found.filled.values()))
    cards = [written_card(path) for path in written]
    return Card("".join(card.html for card in cards), "\n".join(card.text for card in cards))


def _says_no_more(steps, path, filled):
    """Whether all that stands in a book is known: then it may be written anew."""
    there = read_filled(steps, [path])
    return not there.mistakes and all(value == filled.get(key) or _near(value, filled.get(key)) for key, value in there.values().items())


def _near(value, other):
    return isinstance(value, float) and isinstance(other, int | float) and abs(value - other) <= SAME * max(abs(value), 1.0)


def _found(files, name):
    """(`DayFound`, names of the files)."""
    site = read_site(demo_sites().get(name, name))
    design = design_of(Same(site, whole=True))
    wires, first = tuple(row for row in design.injection.rows if row.part == STEP_PARTS[0]), before_the_loop(design)
    if files:
        paths = [named_path(file) for file in files]
        return read_day(site, paths, wires=wires, first=first), [shown_name(path) for path in paths]
    with TemporaryDirectory() as folder:
        paths, _, _ = example_books(site, Path(folder), first=first)
        return read_day(site, paths, wires=wires, first=first), [path.name for path in paths]
