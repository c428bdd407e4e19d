"""A derivation as a handbook sets it: words and an example, a few equations, the result in a box, its units and its numbers.

sympy finds the result and a test holds what is written to it; the letters are those of `mathematics`.

An example worked by hand, step by step, that ends on a published figure.
"""

import re
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from inspect import signature
from itertools import groupby
from operator import attrgetter

import sympy

from helpers import formulas
from helpers.model.site.criteria import KNOWN
from helpers.teaching import mathematics
from helpers.teaching.mathematics import SYMBOLS
from helpers.units.said import with_unit

MOST_IN_VIEW = 5  # lines; what is beyond school is folded


def solved(name, line, *known):
    """What sympy finds for a name from a line, then with what lines such as "moment_nm = ..." say put in."""
    equations = [[mathematics.sympified(side) for side in equation.split("=")] for equation in (line, *known)]
    (left, right), *known = equations
    return sympy.solve(left - right, mathematics.sympified(name))[0].subs(known)


@dataclass(frozen=True)
class Step:
    """What is done and why, in words, and the line that stands there then (see `mathematics`).

    found: what sympy made of its right side, which must be the same. folded: out of sight, for whoever wants the algebra.
    """

    words: str
    line: str
    found: sympy.Expr | None = None
    folded: bool = False


@dataclass(frozen=True)
class Derivation:
    """Steps that end in `result`, in the names of `arguments` (in the order in which `formula` of helpers takes its arguments).

    intro: a sentence with the figures of the example put in by name, such as "At {dp_pa} ...". example: values by name [units of SYMBOLS];
    the rest follows from the lines. more: what follows from the result, after it. end: a last sentence. constants: as example, of what
    never changes.
    """

    title: str
    intro: str
    steps: tuple[Step, ...]
    result: Step
    arguments: tuple[str, ...]
    formula: str
    example: dict[str, float] = field(default_factory=dict)
    more: tuple[Step, ...] = ()
    end: str = ""
    constants: dict[str, float] = field(default_factory=dict)

    def __post_init__(self):
        missing = sorted(symbol.name for symbol in sympy.Tuple(*self._results).free_symbols if symbol.name not in self.arguments)
        if missing:
            raise ValueError(f"arguments must hold every name of the result; {', '.join(missing)} is missing")

    @property
    def lines(self):
        """All its steps in the order of the page."""
        return (*self.steps, self.result, *self.more)

    @cached_property
    def values(self):
        """The numbers of the example by name, with what the lines make of them."""
        return mathematics.filled([step.line for step in (self.result, *self.lines)], self.constants | self.example)

    def expression(self, name):
        """What stands for a name in the end, in `arguments` and what no line explains, as sympy has it."""
        told = {}
        for step in (self.result, *self.lines):
            for equal, (left, *rest) in mathematics.sides(step.line):
                symbol = mathematics.sympified(left)
                if equal and symbol.is_Symbol:
                    told.setdefault(symbol, mathematics.sympified(rest[-1]))
        found = mathematics.sympified(name)
        found = told.pop(found, found)
        while inside := [symbol for symbol in found.free_symbols if symbol in told and symbol.name not in self.arguments]:
            found = found.subs({symbol: told[symbol] for symbol in inside})
        return found

    @property
    def _results(self):
        constants = [(mathematics.sympified(name), value) for name, value in self.constants.items()]
        return [self.expression(trees[0].id).subs(constants) for _, trees in mathematics.sides(self.result.line)]

    def function(self):
        """The result as a function of numbers and arrays; of several results, a tuple."""
        results = self._results
        return sympy.lambdify(sympy.symbols(self.arguments, positive=True), results[0] if len(results) == 1 else tuple(results), "numpy")

    def _where(self):
        """Each name of the page in its order: its letter, words, and the value of the example or its unit."""
        names = dict.fromkeys(name for step in (self.result, *self.lines) for name in mathematics.names_in(step.line))
        unit = {name: "" if SYMBOLS[name].unit == "1" else SYMBOLS[name].unit for name in names}
        shown = {name: mathematics.valued(name, self.values[name]) if name in self.values else unit[name] for name in names}
        return [(name, SYMBOLS[name].words, shown[name]) for name in names]

    def _checks(self):
        """The result in units and in the numbers of the example: (lead, line, what its names are shown as, what comes out)."""
        for result in self.result.line.split(";"):
            name = mathematics.names_in(result)[0]
            if SYMBOLS[name].unit != "1":
                yield "Units", *mathematics.to_units(result), ""
            yield "Numbers", result, mathematics.to_numbers(self.values, but=name), f" = {mathematics.valued(name, self.values[name])}"

    def _told(self):
        """What frames the steps: the sentence before, the one after, the names in the program."""
        shown = {name: mathematics.valued(name, value) for name, value in self.values.items()}
        takes = signature(attrgetter(self.formula.split()[0].removeprefix("helpers.formulas."))(formulas)).parameters
        names = [(name.partition("__")[0], SYMBOLS[name].letter) for name in self.arguments]
        letters = "".join(f", {name} = {letter}" for name, letter in names if name in takes)
        program = f"{self.formula}{letters}. A test holds the two together."
        return self.intro.format(**shown), self.end.format(**shown), program

    def __str__(self):
        intro, end, program = self._told()
        steps = [f"{step.words}\n    {mathematics.spoken(step.line)}" for step in self.lines]
        where = [f"    {SYMBOLS[name].letter}: {', '.join(filter(None, said))}" for name, *said in self._where()]
        checks = [f"{lead}: {mathematics.spoken(line, name_as)}{comes}" for lead, line, name_as, comes in self._checks()]
        return "\n".join(filter(None, [self.title, intro, *steps, "Where", *where, *checks, end, f"In the program: {program}"]))

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Mathematics for a page, and plain text."""
        return {"text/html": self._html(), "text/plain": str(self)}

    def _html(self):
        intro, end, program = self._told()
        in_view = {name for step in self.lines if not step.folded for name in mathematics.names_in(step.line)}
        where, folded_where = (_where_html([row for row in self._where() if (row[0] in in_view) == shown]) for shown in (True, False))
        checks = "".join(
            f'<div style="margin:6px 0 6px 24px">{lead}:&ensp;{mathematics.mathml(line, name_as)}{escape(comes)}</div>'
            for lead, line, name_as, comes in self._checks()
        )
        parts = [f"<b>{escape(self.title)}</b>{_paragraph(intro)}"]
        for folded, group in groupby(self.lines, key=lambda step: step.folded):
            lines = [_step_html(step, step is self.result) + checks * (step is self.result) for step in group]
            more = f"{len(lines)} lines beyond school maths; skip them" if len(lines) > 1 else "One line beyond school maths; skip it"
            if folded:
                parts.append(_fold(f"{more} if you like", "".join(lines) + folded_where))
                folded_where = ""  # once, and out of sight what only the lines there need
            else:
                parts.append(lines[0] + where + "".join(lines[1:]))
                where = ""  # once, under the first line in view
        parts.append(_paragraph(end) + _fold("In the program", f"<code>{escape(program)}</code>"))
        label = f"Derivation: {escape(self.title)}"
        return f'<section aria-label="{label}" style="max-width:800px;font-size:15px;line-height:1.4">{"".join(parts)}</section>'


def _where_html(rows):
    """The names of some lines, each with its words and its value; "" for none."""
    listed = "".join(
        f'<li style="break-inside:avoid">{mathematics.mathml(name)}&ensp;{escape(words)}{value and ", "}'
        f'<span style="white-space:nowrap">{escape(value)}</span></li>'
        for name, words, value in rows
    )
    return listed and f'<ul style="list-style:none;columns:2;margin:6px 0;padding-left:24px" aria-label="Where">{listed}</ul>'


def _paragraph(text):
    lettered = re.sub(r"\b([^\W_]+)_([^\W_]+)\b", r"<i>\1</i><sub>\2</sub>", escape(text))  # C_d in a sentence
    return f'<p style="margin:6px 0">{lettered}</p>' if text else ""


def _fold(summary, inside):
    return f'<details style="margin:6px 0"><summary>{summary}</summary>{inside}</details>'


def _step_html(step, boxed):
    looks = (
        "border:2px solid #1b2733;padding:6px 14px;" if boxed else "padding:7px 2px 3px;"
    ) + "margin:0 0 8px 24px;width:fit-content;max-width:100%;overflow-x:auto"
    return f'{_paragraph(step.words)}<div style="{looks}">{mathematics.mathml(step.line)}</div>'


class PageText(str):
    """Plain text that a page shows as `html`."""

    def __new__(cls, text, html):
        """The text, with its html."""
        self = super().__new__(cls, text)
        self.html = html
        return self


@dataclass(frozen=True)
class Row:
    """One line of the working: what, how it is worked out, the value [SI], its dimension, digits, and its name in `SYMBOLS`.

    how: in words, or after "= " the right side of an equation in names of `SYMBOLS`. dimension: one of units.DIMENSIONS, or "number".
    """

    what: str
    how: str
    value: float
    dimension: str
    digits: int | tuple | None = None
    name: str = ""

    def says(self):
        """The value in words."""
        if self.dimension == "number":
            return f"{self.value:.{3 if self.digits is None else self.digits}f}"
        return with_unit(self.value, self.dimension, self.digits)

    def row(self):
        """What, how and value, with letters as mathematics."""
        what, how = self.what, self.how
        if self.name:
            what = PageText(f"{what} {SYMBOLS[self.name].letter}", f"{escape(what)}&ensp;{mathematics.mathml(self.name)}")
        if how.startswith("= "):
            how = PageText(mathematics.spoken(how[2:]), mathematics.mathml(how[2:]))
        return what, how, self.says()


@dataclass(frozen=True)
class WorkedExample:
    """Given and working lines; the published figure [SI] that the last line is to meet, within `within` [SI], and its source.

    known: how the published figure is known: one of the words of KNOWN. explained: why the two
    differ, where they do.
    """

    title: str
    given: tuple
    working: tuple
    published: float
    within: float
    source: str
    known: str
    explained: str = ""

    @property
    def meets(self):
        """Whether the last line meets the published figure."""
        return abs(self.working[-1].value - self.published) <= self.within

    @property
    def kind(self):
        """What a card says of it: "agrees in print" where the figure is met and its source was looked up, "agrees by review" where a
        reviewer did, "agrees" where it is met from memory: that a book has the same says nothing of a building, and is no PASS."""
        words = {KNOWN["seen"]: "agrees in print", KNOWN["reviewed"]: "agrees by review"}
        return words.get(self.known, "agrees") if self.meets else "attention"

    def closing(self):
        """The published figure and its source in one sentence."""
        last = self.working[-1]
        shown = Row("", "", self.published, last.dimension, last.digits).says()
        verdict = f"where {last.says()} comes out here"
        if self.meets:  # its last line may still be printed with another last digit
            verdict = "which is what comes out here" if shown == last.says() else f"{verdict}, within its rounding"
        return " ".join(filter(None, [f"Published: {shown} ({self.source}; {self.known}), {verdict}.", self.explained]))
