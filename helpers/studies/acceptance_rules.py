"""What is asked of the fields of a door, stated once: the panel holds a condition against what was typed, the spreadsheet is given the same
condition as a formula. So neither can pass what the other does not.

A condition holds only where all its fields are there; figures are SI, limits are on the side of the door within `status.TOUCHES`.
"""

from dataclasses import dataclass

from helpers.studies.status import SEVERITIES, TOUCHES, word_of

__all__ = [
    "DAY",
    "Above",
    "All",
    "Check",
    "Either",
    "Missing",
    "Said",
    "above",
    "below",
    "grade_formula",
    "missing_formula",
    "outside",
    "present",
    "spoken",
    "verdict_formula",
]

DAY = "day"  # field that stands while what is expected is that of the weather in which it was measured
GRADES = {key: grade for grade, key in enumerate(reversed(SEVERITIES))}  # PASS 0, NOT YET 1, CHECK 2, FAIL 3


@dataclass(frozen=True)
class Above:
    """Whether a sum of fields, each with its factor, is above a limit. terms: (field, factor); limit [SI].

    `holds(values)` takes numbers by field, None where nothing stands; `formula(cells)` takes (cell, SI of one of its unit) by field.
    """

    terms: tuple
    limit: float

    def holds(self, values):
        """Whether it is so of these values; never while one is missing."""
        read = [values.get(name) for name, _ in self.terms]
        return None not in read and sum(factor * value for (_, factor), value in zip(self.terms, read, strict=True)) - self.limit > TOUCHES

    def formula(self, cells):
        """The same as a formula; N() takes a text for 0, so that a word in a cell for a figure is no error."""
        read = [(*cells(name), factor) for name, factor in self.terms]
        there = ",".join(f"ISNUMBER({cell})" for cell, _, _ in read)
        total = "+".join(f"({float(factor * unit)!r})*N({cell})" for cell, unit, factor in read)
        return f"AND({there},{total}-({float(self.limit)!r})>{TOUCHES!r})"


@dataclass(frozen=True)
class Said:
    """Whether a field holds one of some words."""

    name: str
    words: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return values.get(self.name) in self.words

    def formula(self, cells):
        """The same as a formula."""
        cell, _ = cells(self.name)
        return "OR(" + ",".join(f'{cell}="{word}"' for word in self.words) + ")"


@dataclass(frozen=True)
class Missing:
    """Whether nothing stands in a field that can be used; words: those it may hold, none for a number."""

    name: str
    words: tuple = ()

    def holds(self, values):
        """Whether it is so of these values."""
        return values.get(self.name) is None

    def formula(self, cells):
        """The same as a formula: a word where a number is asked counts as nothing."""
        cell, _ = cells(self.name)
        there = Said(self.name, self.words).formula(cells) if self.words else f"ISNUMBER({cell})"
        return f"NOT({there})"


@dataclass(frozen=True)
class All:
    """Whether all of some conditions hold."""

    parts: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return all(part.holds(values) for part in self.parts)

    def formula(self, cells):
        """The same as a formula."""
        return f"AND({','.join(part.formula(cells) for part in self.parts)})"


@dataclass(frozen=True)
class Either:
    """Whether one of some conditions holds."""

    parts: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return any(part.holds(values) for part in self.parts)

    def formula(self, cells):
        """The same as a formula."""
        return f"OR({','.join(part.formula(cells) for part in self.parts)})"


@dataclass(frozen=True)
class Check:
    """One thing to say of a door: the key of its status, when, and the words, made of (values, system of units)."""

    state: str
    when: object
    say: object


def above(name, limit):
    """A field above a limit."""
    return Above(((name, 1.0),), limit)


def below(name, limit):
    """A field below a limit."""
    return Above(((name, -1.0),), -limit)


def present(name):
    """A field with a number in it, whatever it is."""
    return Above(((name, 0.0),), -1.0)


def outside(name, middle, away):
    """A field further from a figure than so much."""
    return Either((above(name, middle + away), below(name, middle - away)))


def spoken(chains, values):
    """The first check that holds, of each chain that has something to say. Yields `Check`."""
    for chain in chains:
        found = next((check for check in chain if check.when.holds(values)), None)
        if found is not None:
            yield found


def grade_formula(chain, cells):
    """The grade of a chain as a formula: that of its first check that holds, 0 where none does."""
    formula = "0"
    for check in reversed(chain):
        formula = f"IF({check.when.formula(cells)},{GRADES[check.state]},{formula})"
    return formula


def missing_formula(missing, cells):
    """How many fields are still to be filled in, as a formula."""
    return "+".join(f"IF({one.formula(cells)},1,0)" for one in missing)


def verdict_formula(chains, left_cell, cells):
    """The word of a door's verdict as a formula: the gravest of its checks, NOT YET at the best while something is left to measure."""
    grades = ",".join([f"IF({left_cell}>0,{GRADES['open']},0)", *(grade_formula(chain, cells) for chain in chains)])
    words = ",".join(f'"{word_of(key)}"' for key in GRADES)
    return f"CHOOSE(MAX({grades})+1,{words})"
