"""Algebra in the order in which one writes it by hand, for the steps of a derivation; `.doit()` turns it into plain sympy again."""

import sympy
from sympy.printing.precedence import PRECEDENCE

__all__ = ["Less", "Root", "in_form"]


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

    def _sympystr(self, printer):
        whole, part = self.args
        return f"{printer._print(whole)} - {printer.parenthesize(part, PRECEDENCE['Add'])}"


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
