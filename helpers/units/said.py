"""Figures in sentences, written out at the edge: a text carries a figure in every system of units, and one of them is chosen at the end.

Who makes a sentence asks for no system. `with_unit` gives a mark inside a plain text; `in_each` makes marks of words that hang on the
letters of other words, or on the system itself; `written_out` turns them into what a reader sees. It is called where words leave the
workbook: widget, page, sheet, file, print. A mark is the words of each system between control characters, which no file may hold, and
which `model.files.printable` takes out of what somebody typed.
"""

import dataclasses
import re
from collections.abc import Callable, Iterator, Mapping
from functools import partial, wraps
from inspect import signature

from helpers import units

BEGIN, NEXT, END = "\x02", "\x1a", "\x03"
_ONE = f"([^{BEGIN}{NEXT}{END}]*)"
_MARK = re.compile(f"{BEGIN}{NEXT.join([_ONE] * len(units.SYSTEMS))}{END}")

MOST_DIGITS, ALIKE = 6, 1e-5  # digits after the point until a figure is what it is, to this share
FIVE_DIGITS = 9999.5  # from here on a figure is whole


@dataclasses.dataclass(frozen=True, eq=False)
class Later:
    """What is only made when it is written out; make(system=...)."""

    make: Callable


def with_unit(value_si: float, dimension: str, digits: int | tuple | None = None) -> str:
    """A quantity for the eye, rounded, in whatever system is asked for at the edge.

    value_si [SI], dimension one of units.DIMENSIONS; digits after the point, one for all or one for each of units.SYSTEMS (default by
    dimension). Raises ValueError as `units.show` for an unknown dimension or a value that is not a finite number.

    >>> written_out(f"Hold {with_unit(24.9, 'pressure')}.", "in. w.c."), with_unit(49.9, "frequency")
    ('Hold 0.10 in. w.c.', '49.9 Hz')
    """
    return _mark([units.show(value_si, dimension, system, of_system(digits, system)) for system in units.SYSTEMS])


def as_stated(value_si: float, dimension: str) -> str:
    """A quantity with as many digits after the point, 6 at the most, as make it what it is to 1e-5; whole from five before the point on.

    value_si [SI], dimension one of units.DIMENSIONS. Raises ValueError as `units.show`.

    >>> written_out(as_stated(0.0125, "length")), written_out(as_stated(7.0, "flow"), "in. w.c.")
    ('0.0125 m', '14832 cfm')
    """
    return with_unit(value_si, dimension, tuple(_digits(units.to_display(value_si, dimension, system)) for system in units.SYSTEMS))


def _digits(shown):
    if abs(shown) >= FIVE_DIGITS:
        return 0
    told = (digits for digits in range(MOST_DIGITS) if abs(round(shown, digits) - shown) <= ALIKE * max(abs(shown), ALIKE))
    return next(told, MOST_DIGITS)


def of_system(digits: int | tuple | None, system: str) -> int | None:
    """Digits in a system, of one figure for all or one for each of units.SYSTEMS."""
    return digits[units.SYSTEMS.index(system)] if isinstance(digits, tuple) else digits


def unit_of(dimension: str) -> str:
    """Label of the unit a dimension is shown in, for axes and heads of tables. Raises ValueError for an unknown dimension."""
    return _mark([units.unit_label(dimension, system) for system in units.SYSTEMS])


def in_each(write: Callable) -> Callable:
    """Decorator of a function that looks at the letters of its texts: it is called once for each system, with all of them written out.

    One with a parameter `system` is given that instead, and what it was called with as it stands. Words come back as marks, in a tuple as
    many in every system.

    >>> span = in_each(lambda low, high: low if low == high else f"{low.split()[0]} to {high}")
    >>> both = span(with_unit(24.9, "pressure"), with_unit(25.1, "pressure"))
    >>> written_out(both), written_out(both, "in. w.c.")
    ('25 Pa', '0.10 in. w.c.')
    """
    of_its_own = "system" in signature(write).parameters

    @wraps(write)
    def written(*args, **kwargs):
        args = [tuple(one) if isinstance(one, Iterator) else one for one in args]  # to be read more than once
        if not of_its_own and not has_mark((args, kwargs)):
            return write(*args, **kwargs)
        each = [
            written_out(
                write(*args, **kwargs, system=system) if of_its_own else write(*written_out(args, system), **written_out(kwargs, system)),
                system,
            )
            for system in units.SYSTEMS
        ]
        return _mark(each) if isinstance(each[0], str) else tuple(map(_mark, zip(*each, strict=True)))

    return written


def drawn(chart: Callable) -> Callable:
    """Decorator of a function with a parameter `system` that makes a chart, whose axes end at round numbers of the reader's units: called
    without it, the chart is made when it is written out."""

    @wraps(chart)
    def later(*args, **kwargs):
        return Later(partial(chart, *args, **kwargs))

    return later


def written_out(thing, system: str = "Pa"):
    """A text, or what holds texts and `drawn` charts (tuples, lists, mappings, dataclasses), in one of units.SYSTEMS; all else itself. What
    has a field `system` that is still empty gets it.

    A sentence that ends in a unit with a full stop of its own has one. Raises ValueError for an unknown system.
    """
    if system not in units.SYSTEMS:
        raise ValueError(f"system must be one of {', '.join(units.SYSTEMS)}; got {system!r:.60}")
    return _out(thing, system, units.SYSTEMS.index(system))


def has_mark(thing) -> bool:
    """Whether a text, or anything in what holds texts, still waits for its system of units."""
    return written_out(thing) is not thing


def _mark(texts):
    """Words of each system as one text: plain where they are all the same."""
    return texts[0] if len(set(texts)) == 1 else f"{BEGIN}{NEXT.join(texts)}{END}"


def _out(thing, system, place):
    if isinstance(thing, str):
        return units.one_stop(_MARK.sub(rf"\{place + 1}", thing)) if BEGIN in thing else thing
    if isinstance(thing, Later):
        return _out(thing.make(system=system), system, place)
    if isinstance(thing, (tuple, list)):
        out = [_out(one, system, place) for one in thing]
        return thing if all(after is before for after, before in zip(out, thing, strict=True)) else type(thing)(out)
    if isinstance(thing, Mapping):
        keys, values = (_out(list(side), system, place) for side in (thing, thing.values()))
        out = dict(zip(keys, values, strict=True))
        return thing if all(a is b and out[a] is thing[b] for a, b in zip(out, thing, strict=True)) else out
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        before = {field.name: getattr(thing, field.name) for field in dataclasses.fields(thing) if field.init}
        changed = {name: after for name, value in before.items() if (after := _out(value, system, place)) is not value}
        changed |= {"system": system} if before.get("system") == "" else {}
        return dataclasses.replace(thing, **changed) if changed else thing
    return thing


def two(value, digits=2):
    """A figure with two digits that count, or so many, and never as a power of ten: of 120 s the format .2g makes 1.2e+02.

    >>> two(0.0334), two(99.6), two(-104.0)
    ('0.033', '100', '-100')
    """
    return f"{float(f'{value:.{digits}g}'):.12g}"


def three(value):
    """A figure with three digits that count, as `two`.

    >>> three(0.25), three(1234.0)
    ('0.25', '1230')
    """
    return two(value, 3)


@in_each
def shown_apart(value, limit):
    """What a figure and its limit, both as they are shown, differ by: of 34.3 and 35.4 Pa 1.1, whatever was rounded away.

    >>> shown_apart("34.3 Pa", "35.4 Pa"), shown_apart("22.2 Pa", "25.0 Pa")
    ('1.1 Pa', '2.8 Pa')
    """
    (value, unit), number = value.split(" ", 1), limit.split(" ")[0]
    return f"{abs(float(value) - float(number)):.{max(len(one.partition('.')[2]) for one in (value, number))}f} {unit}"


@in_each
def adding_up(*tried):
    """Of some ways of writing two figures and what they differ by, with more digits each, the first in which the third is what the first
    two differ by as they are shown, and they differ; else the last, with the difference of what is shown.

    >>> adding_up(("124 Pa", "35 Pa", "88 Pa"), ("123.6 Pa", "35.4 Pa", "88.2 Pa"))
    ('123.6 Pa', '35.4 Pa', '88.2 Pa')
    """
    for one, other, by in tried:
        if one != other and shown_apart(one, other) == by:
            return one, other, by
    one, other, _ = tried[-1]
    return one, other, shown_apart(one, other)
