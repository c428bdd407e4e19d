"""A derivation step by step in sympy, which a page shows as mathematics and a test turns into a function."""

from dataclasses import dataclass

import sympy

__all__ = ["Derivation", "Step"]


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
