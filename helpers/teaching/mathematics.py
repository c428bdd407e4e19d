"""Equations as one writes them by hand: one line of names in, mathematics for a page, plain text, numbers or units out.

A line is Python in the names of data/texts/symbols.toml, such as "force_n = closer_force_n + push_n/2"; "≈" is never checked, ";" parts
two equations of a line. It is set in the order in which it was written, which algebra would not keep. Known are sqrt, exp, ln, least and
integral(what, x, from, to).
"""

import ast
import operator
import re
from decimal import Decimal
from functools import cache
from html import escape
from typing import NamedTuple

import sympy

from helpers import units
from helpers.model.files import texts


class Symbol(NamedTuple):
    """A letter, what it stands for, and its unit ("1" for none)."""

    letter: str
    words: str
    unit: str


SYMBOLS = {name: Symbol(*parts) for name, parts in texts("symbols").items()}
SUM, NEGATIVE, PRODUCT, QUOTIENT, POWER, ATOM = range(6)  # how tightly a part holds together
BAROMETER_PA = 8e4  # nobody reads the pressure of the air in inches of water
_DIMENSIONS = {units.unit_label(name): name for name in ("pressure", "length", "area", "force", "flow", "speed", "temperature")}
_SUPERSCRIPTS = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_NO_UNIT = ("1", "%/%")
_SIGNS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv, ast.Pow: operator.pow}
_FUNCTIONS = {"sqrt": sympy.sqrt, "exp": sympy.exp, "ln": sympy.log, "least": sympy.Min}

# Parts of a formula on a page; below a root and inside a fraction, where no font makes a tall sign or small letters; and in plain text.
_PAGE = {
    "number": "<mn>{}</mn>",
    "unit": '<mi mathvariant="normal">{}</mi>',
    "row": "<mrow>{}</mrow>",
    "minus": "<mo>−</mo>{}",
    "=": "<mo>{}</mo>",
    ";": '<mspace width="2.5em"/>',
    "fence": '<mrow><mo stretchy="{1}">(</mo>{0}<mo stretchy="{1}">)</mo></mrow>',
    "times": '<mo>&#x2062;</mo><mspace width="0.18em"/>',
    "dot": "<mo>·</mo>",
    "over": "<mfrac>{}{}</mfrac>",
    "power": "<msup>{}{}</msup>",
    "root": "<msqrt>{}</msqrt>",
    "integral": '<msubsup><mo>∫</mo>{2}{3}</msubsup>{0}<mspace width="0.18em"/><mi mathvariant="normal">d</mi>{1}',
}
_FLAT = _PAGE | {"over": "<mrow>{}<mo>/</mo>{}</mrow>"}
_TEXT = {
    "row": "{}", "minus": "−{}", "=": " {} ", ";": "; ", "fence": "({})", "times": " ", "dot": " · ", "over": "{} / {}", "power": "{}^({})",
    "root": "√({})", "integral": "∫ {} d{} from {} to {}",
}  # fmt: skip


def sides(line):
    """The sides of each equation of a line as trees, with whether they are said to be equal: [(True, [left, right]), ...]."""
    return [("≈" not in part, [_tree(side) for side in re.split("[=≈]", part)]) for part in line.split(";")]


@cache
def _tree(text):
    return ast.parse(text.strip(), mode="eval").body


def names_in(line):
    """The names of a line in their order, each once."""
    return list(dict.fromkeys(name for name in re.findall(r"[a-z]\w*", line) if name in SYMBOLS))


def mathml(line, name_as=None):
    """A line as MathML, with the plain text in it for whoever cannot see it. name_as(name): what a name is shown as, (text, kind).

    Inside mathematics "style" is only a group without looks. A page that is not trusted yet, as a notebook before it has run, loses what
    MathML it has, and with a "style" its letters, which would be a heap; the plain text stays.
    """
    text = escape(spoken(line, name_as))
    shown = f"<style>{_line(line, _PAGE, name_as or _letter)}</style>"
    shown = f'<semantics>{shown}<annotation encoding="text/plain">{text}</annotation></semantics>'
    return f'<math displaystyle="true" aria-label="{text}" style="font-size:1.2em">{shown}</math>'


def spoken(line, name_as=None):
    """A line as plain text."""
    text = re.sub(r"\^\((\d+)\)", lambda found: found[1].translate(_SUPERSCRIPTS), _line(line, _TEXT, name_as or _letter))
    return re.sub(r"([√^])\((\w+)\)", r"\1\2", text)


def to_numbers(values, but):
    """Shows each name as its value, for `mathml` and `spoken`; but: the name that stays a letter."""
    return lambda name: _letter(name) if name == but else (figure(values[name], 5), "number")


def to_units(line):
    """A line of the units alone; figures and what has no unit fall out, like in a sum stands once. Returns (line, name_as)."""
    equations = [" = ".join(ast.unparse(_of_units(tree) or ast.Constant(1)) for tree in trees) for _, trees in sides(line)]
    return "; ".join(equations), _unit


def figure(value, digits=4):
    """A number in so many digits, without powers of ten."""
    text = f"{value:.{digits}g}"
    return (f"{value:.0f}" if abs(value) >= 10**digits else f"{Decimal(text):f}").replace("-", "−")


def valued(name, value):
    """A value of this name with its unit, and in inches where these have another one."""
    unit = SYMBOLS[name].unit
    shown = figure(value, 5 if unit == "K" else 4) + (f" {unit}" if unit != "1" else "")
    if unit not in _DIMENSIONS or value == 0 or value > BAROMETER_PA:
        return shown
    dimension = _DIMENSIONS[unit]
    return f"{shown} ({figure(units.to_display(value, dimension, 'in. w.c.'), 3)} {units.unit_label(dimension, 'in. w.c.')})"


def sympified(side):
    """A side, text or tree, as sympy has it; every name is taken to be above zero. Raises ValueError for what is no mathematics."""
    return _sympified(side if isinstance(side, str) else ast.unparse(side))


@cache
def _sympified(text):
    return _in_sympy(ast.parse(text.strip(), mode="eval").body)


def _in_sympy(node):
    """A tree by its own signs alone: sympy's reader of text would run whatever stands there."""
    match node:
        case ast.Constant(value=int() | float() as value):
            return sympy.Integer(value) if isinstance(value, int) else sympy.Float(value)
        case ast.Name(id=name):
            return sympy.Symbol(name, positive=True)
        case ast.UnaryOp(op=ast.USub(), operand=of):
            return -_in_sympy(of)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _SIGNS:
            return _SIGNS[type(op)](_in_sympy(left), _in_sympy(right))
        case ast.Call(func=ast.Name(id="integral"), args=[what, x, *ends]):
            return sympy.integrate(_in_sympy(what), tuple(map(_in_sympy, (x, *ends))))
        case ast.Call(func=ast.Name(id=name), args=args) if name in _FUNCTIONS:
            return _FUNCTIONS[name](*map(_in_sympy, args))
    raise ValueError(f"side must be a line of names, figures, + - * / ** and {', '.join(_FUNCTIONS)}; got {ast.unparse(node)!r:.60}")


def evaluated(side, values):
    """A side in numbers, or None where a name has no value."""
    found = sympified(side).subs([(sympified(name), value) for name, value in values.items()])
    return None if found.free_symbols else float(found)


def filled(lines, values):
    """These values and all that the lines make of them, line by line, until nothing is added."""
    values, before = dict(values), -1
    while len(values) != before:
        before = len(values)
        for line in lines:
            for equal, (left, *_, right) in sides(line):
                if equal and isinstance(left, ast.Name) and left.id not in values and (found := evaluated(right, values)) is not None:
                    values[left.id] = found
    return values


def _unit(name):
    return SYMBOLS[name].unit, "unit"


def _letter(name):
    return SYMBOLS[name].letter, "letter"


def _line(line, look, name_as):
    equations = []
    for part in line.split(";"):
        sign = look["="].format("≈" if "≈" in part else "=")
        equations.append(sign.join(_set(_tree(side), look, name_as)[0] for side in re.split("[=≈]", part)))
    return look["row"].format(look[";"].join(equations))


def _leaf(text, kind, look):
    """A number, a unit or a letter with its prime and what stands below the line."""
    if look is _TEXT or kind != "letter":
        return text if look is _TEXT else look[kind].format(escape(text))
    base, _, below = text.partition("_")
    parts = re.findall(r"\d+|Δ|δ(?=.)|.", base)  # upright: what is no letter of its own
    base = "".join(f'<mi mathvariant="normal">{part}</mi>' if part[0] in "Δδ" else f"<mi>{part}</mi>" for part in parts)
    base = f"<mrow>{base}</mrow>" if len(parts) > 1 else f"<mn>{text}</mn>" if text.isdigit() else base
    # Lowered a little by hand: a font that is not made for mathematics leaves it beside the letter.
    below = f'<mpadded voffset="-0.12em" depth="+0.12em"><mi mathvariant="normal">{below}</mi></mpadded>' if below else ""
    return f"<msub>{base}{below}</msub>" if below else base


def _held(look, part, least):
    """A part, in brackets where it would fall apart; they are as high as a fraction in them, and else no higher than a letter."""
    return part[0] if part[1] >= least else look["fence"].format(part[0], str("<mfrac" in part[0]).lower())


def _set(tree, look, name_as):
    """A tree set: (what stands there, how tightly it holds, whether it begins with a figure)."""
    flat = _FLAT if look is _PAGE else look
    match tree:
        case ast.Constant(value):
            return _leaf(f"{value}", "number", look), ATOM, True
        case ast.Name(name):
            text, kind = name_as(name)
            of_unit = (QUOTIENT if "/" in text else POWER) if set(text) & set("/²³") else ATOM
            return _leaf(text, kind, look), NEGATIVE if text[0] == "−" else of_unit, text[0].isdigit()
        case ast.UnaryOp():
            return look["minus"].format(_held(look, _set(tree.operand, look, name_as), PRODUCT)), NEGATIVE, False
        case ast.Call():
            return _call(tree.func.id, [_set(each, flat, name_as) for each in tree.args], look)
    left = _set(tree.left, flat if isinstance(tree.op, ast.Div) else look, name_as)
    right = _set(tree.right, flat if isinstance(tree.op, ast.Div | ast.Pow) else look, name_as)
    match tree.op:
        case ast.Mult():
            first = _held(look, left, POWER if left[1] == QUOTIENT else NEGATIVE)
            between = look["dot" if right[2] and right[1] >= PRODUCT else "times"]
            row = look["row"].format(first + between + _held(look, right, PRODUCT))
            return row, min(left[1] or PRODUCT, PRODUCT), left[2] and left[1] >= NEGATIVE
        case ast.Div():
            if look is _PAGE:  # a fraction line holds like brackets, but for a power
                return look["over"].format(left[0], right[0]), PRODUCT, left[2]
            return look["over"].format(_held(look, left, PRODUCT), _held(look, right, POWER)), QUOTIENT, left[2]
        case ast.Pow():
            return look["power"].format(_held(look, left, ATOM), right[0]), POWER, left[2]
    minus = isinstance(tree.op, ast.Sub)
    after = _held(look, right, PRODUCT if minus or right[1] == NEGATIVE else SUM)
    return look["row"].format(left[0] + look["="].format("−" if minus else "+") + after), SUM, left[2]


def _call(name, args, look):
    inside = [arg[0] for arg in args]
    if name == "sqrt":
        return look["root"].format(inside[0]), ATOM, False
    if name == "exp":
        return look["power"].format(_leaf("e", "letter", look), inside[0]), POWER, False
    if name == "ln":
        return look["row"].format(_leaf("ln", "unit", look) + look["times"] + look["fence"].format(inside[0], "false")), PRODUCT, False
    if name == "integral":
        return look["row"].format(look["integral"].format(_held(look, args[0], PRODUCT), *inside[1:])), SUM, False
    comma = ", " if look is _TEXT else "<mo>,</mo>"
    return _leaf("min", "unit", look) + look["fence"].format(comma.join(inside), "false"), ATOM, False


def _of_units(tree):
    """What is left of a tree in units; None for a figure."""
    match tree:
        case ast.Constant() | ast.Call(func=ast.Name("exp" | "ln")):
            return None
        case ast.Name(name):
            return None if SYMBOLS[name].unit in _NO_UNIT else tree
        case ast.UnaryOp(operand=inside) | ast.Call(func=ast.Name("least"), args=[inside, *_]):
            return _of_units(inside)
        case ast.Call(func=function, args=[argument, *_]):
            inside = _of_units(argument)
            return inside and ast.Call(function, [inside], [])
    left, right = _of_units(tree.left), _of_units(tree.right)
    match tree.op:
        case ast.Pow():
            return left and ast.BinOp(left, tree.op, tree.right)
        case ast.Div():
            return ast.BinOp(left or ast.Constant(1), tree.op, right) if right else left
        case ast.Mult():
            return ast.BinOp(left, tree.op, right) if left and right else left or right
    alike = left and right and _set(left, _TEXT, _unit) == _set(right, _TEXT, _unit)
    return ast.BinOp(left, ast.Add(), right) if left and right and not alike else left or right
