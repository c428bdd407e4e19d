"""Figures and words of a setting as somebody wrote it: quantities with their units, and whether two texts say the same."""

import re
from contextlib import suppress
from dataclasses import dataclass

from helpers import units
from helpers.units.said import written_out

REFUSING = frozenset(["not", "no", "never", "off", "none", "disabled", "without"])
OFF = frozenset(("none", "off", "no", "0", "0 s", "disabled", "not used"))
FILLERS = frozenset(["the", "a", "an", "of", "to", "at", "is", "in", "by", "and"])
# Words that turn a text into its contrary by changing places: which side, which way, beyond which end.
PLACES = frozenset(["stair", "floor", "lobby", "outdoors", "corridor"])
POLES = PLACES | {"high", "low", "above", "below", "opens", "shuts", "rises", "falls"}
DIMENSIONS = "pressure", "time", "frequency", "percent", "flow", "area", "torque", "power"
_NUMBER = re.compile(r"(?<![\w.,])([-+−]?\d+(?:[.,]\d+)?)")
_PAIR = re.compile(r"(\d)(\s*(?:/|or(?: above)?|to)\s*[-+−]?\d+(?:[.,]\d+)?\s*(Pa|mA|V|Hz|in\. w\.c\.))")
_OWN_UNITS = {"mA": ("current", 1.0), "V": ("voltage", 1.0), "repeats": ("repeats", 1.0)}


@dataclass(frozen=True)
class WrittenFigure:
    """A figure of a text: value in SI, its dimension ("" for a bare number), half of its last written digit in SI, as it was written."""

    value: float
    dimension: str
    half_digit: float
    text: str


def quantities(text: str) -> list[WrittenFigure]:
    """The figures of a text in their order, each with the unit behind it or behind its pair ("26 or 40 Pa"), else with dimension ""."""
    text, found = _PAIR.sub(_with_its_unit, written_out(text, "Pa")), []
    for number in _NUMBER.finditer(text):
        written = number[1].replace("−", "-").replace(",", ".")
        half = 0.5 * 10.0 ** -len(written.partition(".")[2])
        behind = re.split(r"[;,]|\s(?:at|or|for|between|and|of)\s|\d", text[number.end() :])[0].split()
        unit, dimension = _unit(behind)
        if dimension in units.DIMENSIONS:
            zero, one = (units.parse(f"{value} {unit}", dimension) for value in ("0", "1"))
            value, half = zero + float(written) * (one - zero), half * (one - zero)
        else:
            value = float(written)
        found.append(WrittenFigure(value, dimension, half, f"{number[1]} {unit}".strip()))
    return found


def _with_its_unit(pair):
    return f"{pair[1]} {pair[3]}{pair[2]}"


def _unit(behind):
    """(unit as written, its dimension) of the words behind a number; ("", "") where none is known."""
    if not behind:
        return "", ""
    if behind[0] in _OWN_UNITS:
        return behind[0], _OWN_UNITS[behind[0]][0]
    if behind[0].startswith("%"):
        return "%", "percent"
    for count in (2, 1):
        unit = " ".join(behind[:count])
        for dimension in DIMENSIONS:
            with suppress(ValueError):
                units.parse(f"1 {unit}", dimension)
                return unit, dimension
    return "", ""


def in_unit_of(mine: WrittenFigure, one: WrittenFigure) -> WrittenFigure:
    """A bare number is taken in the unit that the schedule's figure is written in."""
    if one.dimension or mine.dimension not in units.DIMENSIONS:
        return one if one.dimension else WrittenFigure(one.value, mine.dimension, one.half_digit, one.text)
    unit = mine.text.split(" ", 1)[1] if " " in mine.text else "%"
    size = units.parse(f"1 {unit}", mine.dimension) - units.parse(f"0 {unit}", mine.dimension)
    return WrittenFigure(one.value * size, mine.dimension, one.half_digit * size, f"{one.text} (taken in {unit})")


def plain(text: str) -> str:
    """A text in small letters with single spaces."""
    return " ".join(text.casefold().split())


def words_of(text: str) -> set[str]:
    """The words of a text that say something, as a set."""
    return set(re.findall(r"[\w%]+", plain(written_out(text, "Pa")))) - FILLERS


def refusals(text: str) -> set[str]:
    """The words of a text that take back what stands beside them: a value that is "not" entered, or switched "off"."""
    return words_of(text) & REFUSING


def other_way_round(ours: str, theirs: str) -> bool:
    """Whether words of `POLES` stand otherwise than in ours: the high side at a place where ours has the low one, another order of ends.

    A clause (between commas) that names a place has to stand beside the same poles in one clause of ours; all others in the same order.
    """
    mine = [_poles(clause) for clause in re.split("[,;]", plain(written_out(ours, "Pa")))]
    known, every = {word for clause in mine for word in clause}, [word for clause in mine for word in clause]
    for clause in re.split("[,;]", plain(theirs)):
        poles = [word for word in _poles(clause) if word in known]
        if PLACES & set(poles):
            if not any(set(poles) <= set(one) for one in mine):
                return True
        elif not _in_order(poles, every):
            return True
    return False


def _poles(clause):
    return [word for word in re.findall(r"\w+", clause) if word in POLES]


def _in_order(words, among):
    left = iter(among)
    return all(word in left for word in words)


def same_words(ours: str, theirs: str) -> bool:
    """Whether two texts without figures say the same: off in any word, or words of ours alone with the first, which acts, among them."""
    if plain(theirs) in OFF or plain(ours) in OFF:
        return plain(theirs) in OFF and plain(ours) in OFF
    words = words_of(theirs)
    return words <= words_of(ours) and bool(words & words_of(ours.split()[0]))
