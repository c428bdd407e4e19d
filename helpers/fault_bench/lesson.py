"""The fault bench: a loop with something wrong, or nothing; what is seen on arrival, checks that cost minutes, a log, and a name for it.

What is done is kept the moment it is done. A page that is opened again, or a kernel that was started again, goes on with the case where it
was left. The one thing not kept is what was chosen and ticked of an answer that was not given yet.

Beside it on notebook 10: a case worked step by step; its tables are in `tables`.
"""

from functools import cache
from html import escape
from threading import RLock

from ipywidgets import HTML, Dropdown, GridBox, Layout, VBox

from helpers.fault_bench import controls as say
from helpers.fault_bench.case import Visit, case_of, draw_case
from helpers.fault_bench.controls import CaseChooser, CheckChooser, NameIt, Replay, picture_html
from helpers.fault_bench.faults import LEVELS
from helpers.fault_bench.judge import MODE, SEED, judge
from helpers.fault_bench.record import BenchRecord, cases_solved
from helpers.plots.markup import Verdict, verdict_html
from helpers.plots.picture import Picture
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

ARRIVAL = 0  # in the choice of pictures; the others are rows of the log
JUDGED = "This case is judged. Open a new case, or begin this one again."


class FaultBench:
    """The bench. `open`, `take` and `judge` do what its controls do; `picture` and `words` show where it stands for any other page."""

    def __init__(self, record=None):
        self.kept, self._lock, self._drawn = BenchRecord(record), RLock(), None
        self._said, self.picture = {}, Picture(**say.PICTURE_PX)
        self.cases = CaseChooser(self.open, self.open_level, self.new_case, self.begin_again, self._refused)
        self.checks, self.name_it = CheckChooser(self.take), NameIt(self.judge)
        self.standing, self.arrival, self.log, self.judged = HTML(), HTML(), HTML(), HTML()
        self.shown = Dropdown(description="Picture", layout=Layout(width="auto", display="none"), style={"description_width": "70px"})
        self.shown.observe(lambda change: self._draw(), "value")
        self.way = VBox(layout=Layout(overflow="visible"))
        self.open(*(self.kept.last() or (LEVELS[0].number, self.kept.next_number(LEVELS[0].number))))
        left = VBox([self.checks.asked, self.arrival, self.shown, self.picture.image])
        frame = GridBox([left, self.checks.box]).add_class("frame")
        rows = [say.look(), self.cases.box, self.standing, frame, self.checks.told, self.name_it.box, self.log, self.judged,
                self.way]  # fmt: skip
        self.box = VBox(rows, layout=Layout(width="100%")).add_class(say.CLASS)
        UNITS.listen(self.refresh)

    # What a hand does

    def open(self, level, number):
        """Open a case: fresh, or as far as it was done. What cannot be opened is told, and the case that is open stays."""
        with self._lock:
            try:
                case, kept = draw_case(number, level), self.kept.visit(level, number)
            except ValueError as refusal:
                self._refused(refusal)
                return
            self.case, self.visit, self.again, self.judgement, self.replay = case, Visit(case), kept.again, None, None
            self.kept.opened(level, number)
            self.cases.show(level, number)
            self.checks.put_off()
            self.name_it.begin(case)
            self._told(self.cases)
            self._follow(kept)
            self.refresh()

    def open_level(self, level):
        """The case of a level that was opened last, or its first."""
        self.open(*(self.kept.last(level) or (level, self.kept.next_number(level))))

    def new_case(self):
        """Another case of the level."""
        level = self.case.level.number
        self.open(level, self.kept.next_number(level))

    def begin_again(self):
        """The same case anew, once it is judged; the first judgement is the one that counts."""
        with self._lock:
            if self.judgement is None:
                self._refused(ValueError("This case is not judged yet: name it first, as well as you can."))
                return
            level, number = self._key
            self.kept.began_again(level, number, self.kept.visit(level, number))
            self.open(level, number)

    def take(self, check, place=None):
        """Take a check, by its key; a refusal is told, and nothing is lost."""
        with self._lock:
            try:
                kept = self._caught_up()
                seen = self.visit.take(check, place)
            except ValueError as refusal:
                self._told(self.checks, refusal)
                return
            self.kept.took(*self._key, kept, seen.check.key, seen.place)
            number = len(self.visit.taken)
            self._told(self.checks, say.seen_html(number, seen))
            self.refresh(number if seen.trend() is not None else None)

    def judge(self, answer=None):
        """Judge an answer (fault, evidence, cure by their keys), by default what is chosen and ticked; a refusal is told."""
        with self._lock:
            try:
                kept = self._caught_up()
                if answer is not None:
                    self.name_it.put(*answer)
                answer = self.name_it.answer
                self.judgement = judge(self.visit, *answer)
            except ValueError as refusal:
                self._told(self.name_it, refusal)
                return
            self.kept.judged(*self._key, kept, answer, self.judgement, UNITS.system)
            self._told(self.name_it)
            self.refresh()

    # What is shown

    @property
    def words(self):
        """Where the case stands, in plain text: what is known, what was seen, the judgement where there is one."""
        lines = [self._title, *(f"{what}: {told}" for what, told in say.arrival_rows(self.case, self.visit))]
        lines += [say.seen_words(number, seen) for number, seen in enumerate(self.visit.taken, 1)]
        if self.judgement is not None:
            lines += [str(say.verdict_of(self.judgement)), *say.left_words(self.judgement)]
        return written_out("\n".join(lines), UNITS.system)

    def refresh(self, shown=None):
        """Write and draw everything anew, in the units of the moment; nothing that was done or chosen changes. shown: row of the log whose
        picture to show, where it has one."""
        with self._lock:
            level = f"{self._title} {self.case.level.words} {self._solved}"
            self.standing.value = f'<div style="{say.PLAIN}">{escape(level)}</div>'
            self.arrival.value = written_out(say.arrival_html(self.case, self.visit), UNITS.system)
            self.checks.minutes.value = say.heading_html(f"Look: {say.budget_words(self.visit)}")
            self.log.value = written_out(say.log_html(self.visit.taken), UNITS.system)
            self.name_it.offer(self.visit.taken)
            self._offer_pictures(shown)
            self._draw()
            self._show_judgement()
            self._write_said()

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live bench; without a kernel, its case on arrival and what was seen."""
        html = [f"<p><b>{escape(self._title)}</b></p>", self.arrival.value, picture_html(self.picture), self.log.value, self.judged.value]
        return self.box._repr_mimebundle_() | {"text/html": "".join(html), "text/plain": f"{self.words}\n{self.picture.words}"}

    # Parts of these

    @property
    def _key(self):
        return self.case.level.number, self.case.seed

    @property
    def _title(self):
        return f"Level {self.case.level.number}, {self.case.level.name}: case {self.case.seed}."

    @property
    def _solved(self):
        solved = cases_solved(self.kept.record.events())
        told = ", ".join(f"{number} at level {level}" for level, number in solved.items())
        return f"Solved so far: {told or 'none'}."

    def _caught_up(self):
        """What is kept of this case, after taking over what another page did with it meanwhile. Raises ValueError where it is judged."""
        kept = self.kept.visit(*self._key)
        if kept.again != self.again:
            self.open(*self._key)
            raise ValueError("Another page began this case anew; here it is as it stands there.")
        self._follow(kept)
        if self.judgement is not None:
            self.refresh()
            raise ValueError(JUDGED)
        return kept

    def _follow(self, kept):
        """Take the checks that are kept and were not taken here, and judge where it was judged."""
        try:
            for check, place in kept.checks[len(self.visit.taken) :]:
                self.visit.take(check, place)
            self.name_it.offer(self.visit.taken)
            if kept.answer and self.judgement is None:
                self.name_it.put(*kept.answer)
                self.judgement = judge(self.visit, *kept.answer)
        except (ValueError, TypeError) as refusal:
            self._told(self.cases, ValueError(f"Not all that was kept of this case can be read any more. {refusal}"))

    def _offer_pictures(self, shown):
        rows = [number for number, seen in enumerate(self.visit.taken, 1) if seen.trend() is not None]
        options = [
            ("as found on arrival", ARRIVAL),
            *((f"row {row} of the log: {self.visit.taken[row - 1].check.name}", row) for row in rows),
        ]
        before = self.shown.value if shown is None else shown
        if list(self.shown.options) != options:
            self.shown.options = options
        self.shown.value = before if before in (ARRIVAL, *rows) else ARRIVAL
        self.shown.layout.display = None if rows else "none"

    def _draw(self):
        row = self.shown.value or ARRIVAL
        wanted = self._key, self.again, row, UNITS.system, self.visit.has_sheet
        if wanted != self._drawn:
            source = self.visit.taken[row - 1] if row else self.case
            self.picture.show(written_out(source.trend(self.visit.has_sheet), UNITS.system))
            self._drawn = wanted

    def _show_judgement(self):
        if self.judgement is None:
            self.judged.value, self.way.children, self.replay = "", (), None
            return
        self.judged.value = f'<div role="status" aria-live="polite">{written_out(say.judgement_html(self.judgement), UNITS.system)}</div>'
        self.replay = self.replay or Replay(self.case, self.judgement)
        self.replay.refresh()
        self.way.children = (self.replay.box,)

    def _refused(self, refusal):
        self._told(self.cases, refusal)

    def _told(self, where, what=None):
        """Say something at the part of the bench that asked (a refusal, HTML, or nothing), and nothing elsewhere."""
        trouble = self.kept.trouble

        said = verdict_html(Verdict("entry", str(what))) if isinstance(what, ValueError) else what or ""
        said += verdict_html(Verdict("note", trouble)) if trouble else ""
        self._said = {part: "" for part in (self.cases, self.checks, self.name_it)} | {where: said}
        self._write_said()

    def _write_said(self):
        for part, said in self._said.items():
            part.told.value = f'<div role="status" aria-live="polite">{written_out(said, UNITS.system)}</div>' if said else ""


@cache
def fault_bench():
    """The bench of this machine's learner, one in a notebook."""
    return FaultBench()


WORKED = "tube_leaks"  # the fault of the worked case


class WorkedCase:
    """A case shown from the complaint to the cure: `replay.next()` goes on by a step, `picture` is the trend on arrival."""

    def __init__(self, fault_key=WORKED, number=SEED, mode=MODE):
        self.case = case_of(fault_key, number, mode=mode)
        self.visit = Visit(self.case)
        cure = next(fault.cure for fault in self.case.faults if fault.key == fault_key)
        self.judgement = judge(self.visit, fault_key, (), cure)
        self.replay, self.picture, self.arrival = Replay(self.case, self.judgement), Picture(**say.PICTURE_PX), HTML()
        self.box = VBox([say.look(), UNITS.switch(), self.arrival, self.picture.image, self.replay.box]).add_class(say.CLASS)
        UNITS.listen(self.refresh)
        self.refresh()

    @property
    def words(self):
        """All of it in plain text."""
        rows = [f"{what}: {told}" for what, told in say.arrival_rows(self.case, self.visit)]
        steps = [say.step_words(number, step) for number, step in enumerate(self.replay.steps, 1)]
        return written_out("\n".join([*rows, *steps]), UNITS.system)

    def refresh(self):
        """Write and draw it anew, in the units of the moment."""
        self.arrival.value = written_out(say.arrival_html(self.case, self.visit), UNITS.system)
        self.picture.show(written_out(self.case.trend(), UNITS.system))
        self.replay.refresh()

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live case; without a kernel, all its steps."""
        steps = written_out(say.steps_html(self.replay.steps, len(self.replay.steps)), UNITS.system)
        html = f"{self.arrival.value}{picture_html(self.picture)}{say.heading_html('The good way')}{steps}"
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": self.words}


@cache
def worked_case():
    """The worked case, one in a notebook."""
    return WorkedCase()
