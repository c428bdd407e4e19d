"""A derivation step by step in sympy, in the order of the hand, that a page shows and a test turns into a function; worked examples."""

from dataclasses import dataclass

import sympy
from sympy.printing.precedence import PRECEDENCE

from helpers import units

__all__ = ["Derivation", "Less", "Line", "Root", "Step", "WorkedExample", "in_form"]


@dataclass(frozen=True)
class Step:
    """One step: what is done and why, in words, and what stands there then (a sympy expression or equation)."""

    words: str
    mathematics: sympy.Basic


@dataclass(frozen=True)
class Derivation:
    """Steps that end in `result`, an expression in `symbols` (in the order in which the formula of helpers takes its arguments).

    formula: the name of that formula, such as "helpers.formulas.doors.opening_force".
    """

    title: str
    steps: tuple
    result: sympy.Expr
    symbols: tuple
    formula: str

    def __post_init__(self):
        missing = sorted(symbol.name for symbol in self.result.free_symbols - set(self.symbols))
        if missing:
            raise ValueError(f"symbols must hold every symbol of the result; {', '.join(missing)} is missing")

    def function(self):
        """The result as a function of numbers and arrays."""
        return sympy.lambdify(self.symbols, self.result, "numpy")

    def __str__(self):
        lines = [f"{place}. {step.words} {sympy.sstr(step.mathematics)}" for place, step in enumerate(self.steps, 1)]
        return "\n".join([self.title, *lines, f"This is {self.formula}."])

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Mathematics for a page, and plain text."""
        lines = [f"{place}. {step.words}\n\n   $$ {_latex(step.mathematics)} $$\n" for place, step in enumerate(self.steps, 1)]
        page = "\n".join([f"**{self.title}**\n", *lines, f"This is `{self.formula}`; a test holds the two together."])
        return {"text/markdown": page, "text/plain": str(self)}


def _latex(mathematics):
    """LaTeX in which a name of several letters stays one word, as it stands in the code, and a product shows its dot."""
    names = {
        symbol: rf"\mathrm{{{symbol.name.replace('_', chr(92) + '_')}}}" for symbol in mathematics.free_symbols if len(symbol.name) > 1
    }
    return sympy.latex(mathematics, symbol_names=names, mul_symbol="dot")


def in_form(found, form):
    """What was found, written in a form that reads better. Raises ValueError where the two are not the same."""
    if sympy.simplify(found - form) != 0:
        raise ValueError(f"form must be what was found, {found}; got {form}")
    return form


class Less(sympy.Expr):
    """One thing less another: `width - handle`, where sympy by itself would write `-handle + width`."""

    precedence = PRECEDENCE["Add"]
    is_commutative = True  # of numbers, so that it may stand below a fraction line

    def doit(self, **hints):
        """Plain difference."""
        whole, part = (arg.doit(**hints) for arg in self.args)
        return whole - part

    def _latex(self, printer):
        whole, part = self.args
        return f"{printer._print(whole)} - {printer.parenthesize(part, PRECEDENCE['Add'])}"

    _sympystr = _latex


class Root(sympy.Expr):
    """The square root of a whole expression, which sympy would take apart into the roots of its factors."""

    precedence = PRECEDENCE["Atom"]
    is_commutative = True

    def doit(self, **hints):
        """Plain square root."""
        return sympy.sqrt(self.args[0].doit(**hints))

    def _latex(self, printer):
        return rf"\sqrt{{{printer._print(self.args[0])}}}"

    def _sympystr(self, printer):
        return f"sqrt({printer._print(self.args[0])})"


@dataclass(frozen=True)
class Line:
    """One line of the working: what, how it is worked out (in words or a formula with its numbers), the value [SI], its dimension, digits.

    dimension: one of units.DIMENSIONS, or "number".
    """

    what: str
    how: str
    value: float
    dimension: str
    digits: int | None = None

    def says(self, system):
        """The value in words."""
        if self.dimension == "number":
            return f"{self.value:.{3 if self.digits is None else self.digits}f}"
        return units.show(self.value, self.dimension, system, self.digits)


@dataclass(frozen=True)
class WorkedExample:
    """Given and working lines; the published figure [SI] that the last line is to meet, within `within` [SI], and its source.

    known: how the published figure is known: "seen in public text" or "memory". explained: why the two differ, where they do.
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

    def closing(self, system):
        """The published figure and its source in one sentence."""
        last = self.working[-1]
        shown = Line("", "", self.published, last.dimension, last.digits).says(system)
        verdict = "which is what comes out here" if self.meets else f"where {last.says(system)} comes out here"
        return " ".join(filter(None, [f"Published: {shown} ({self.source}; {self.known}), {verdict}.", self.explained]))
