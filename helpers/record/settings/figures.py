"""Figures and words of a setting as somebody wrote it: quantities with their units, and whether two texts say the same."""

import math
import re
from contextlib import suppress
from dataclasses import dataclass, replace

from helpers import units
from helpers.units.said import written_out

REFUSING = frozenset(["not", "no", "never", "off", "none", "disabled", "without"])
OFF = frozenset(("none", "off", "no", "0", "0 s", "disabled", "not used"))
FILLERS = frozenset(["the", "a", "an", "of", "to", "at", "is", "in", "by", "and"])
# Words that turn a text into its contrary by changing places: which side, which way, beyond which end.
PLACES = frozenset(["stair", "floor", "lobby", "outdoors", "corridor"])
POLES = PLACES | {"high", "low", "above", "below", "opens", "shuts", "rises", "falls"}
DIMENSIONS = "pressure", "time", "frequency", "percent", "flow", "area", "torque", "power"
MOST_ROUNDED = 0.05  # of our figure, by which theirs may be rounded in the digits it is written in: ours
_NUMBER = re.compile(r"(?<![\w.,])([-+−]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][-+−]?\d+)?)")
_TWO_WAYS = re.compile(r"[-+−]?[1-9]\d{0,2},\d{3}")  # a thousand, or three decimals
_BEHIND = re.compile(r"[;,]|\s(?:at|or|for|between|and|of)\s|(?<![^\W_])\d")
_PAIR = re.compile(r"(\d)(\s*(?:/|or(?: above)?|to)\s*[-+−]?\d+(?:[.,]\d+)?\s*(Pa|mA|V|Hz|in\. w\.c\.))")
_OWN_UNITS = {"mA": ("current", 1.0), "ma": ("current", 1.0), "V": ("voltage", 1.0), "v": ("voltage", 1.0), "repeats": ("repeats", 1.0)}
_IN_WORDS = {"s": ("sec", "secs", "second", "seconds"), "min": ("mins", "minute", "minutes"), "h": ("hr", "hrs", "hour", "hours"),
             "Pa": ("pascal", "pascals"), "Hz": ("hertz",), "%": ("percent", "pct")}  # fmt: skip
_AS_UNIT = {word: unit for unit, words in _IN_WORDS.items() for word in words}
_NO_UNITS = frozenset(["to", "by", "is", "the"])  # words that may stand behind a bare number
_MARKS = frozenset(":/-–().")


@dataclass(frozen=True)
class WrittenFigure:
    """A figure of a text: value in SI, its dimension ("" for a bare number), half of its last written digit in SI, as it was written, and
    the word behind a bare number, which is no unit that is known."""

    value: float
    dimension: str
    half_digit: float
    text: str
    behind: str = ""


def quantities(text: str) -> list[WrittenFigure]:
    """The figures of a text in their order, each with the unit behind it or behind its pair ("26 or 40 Pa"), else with dimension ""."""
    text, found = _PAIR.sub(_with_its_unit, written_out(text, "Pa")), []
    for number in _NUMBER.finditer(text):
        written = number[1].replace("−", "-").replace(",", ".").lower()
        digits, _, power = written.partition("e")
        half = float(f"5e{int(power or 0) - len(digits.partition('.')[2]) - 1}")
        behind = _BEHIND.split(text[number.end() :])[0].split()
        unit, dimension = _unit(behind)
        if dimension in units.DIMENSIONS:
            zero, one = (units.parse(f"{value} {unit}", dimension) for value in ("0", "1"))
            value, half = zero + float(written) * (one - zero), half * (one - zero)
        else:
            value = float(written)
        word = behind[0] if behind and not dimension and set(behind[0]) - _MARKS else ""
        found.append(WrittenFigure(value, dimension, half, f"{number[1]} {unit}".strip(), word))
    return found


def doubt(text: str, beside: str = "") -> str:
    """Why a figure of a text cannot be taken for what it seems, in words; "" where all can.

    beside: the schedule's own text, whose words may stand behind a bare number. Limits: a word that is a unit of something else passes here
    and is told by its dimension.
    """
    text, own = written_out(text, "Pa"), _NO_UNITS | words_of(beside)
    for number in _NUMBER.finditer(text):
        run = re.match(r"[\d.,]*", text[number.end() :])[0].rstrip(".,")
        if run or _TWO_WAYS.fullmatch(number[1]):
            return f"{number[1]}{run} can be read in two ways: write it with a decimal point and no comma"
    for one in quantities(text):
        if not math.isfinite(one.value):
            return f"{one.text} is beyond all numbers"
        if one.behind and not (words_of(one.behind) and words_of(one.behind) <= own):
            return f"{one.text} {one.behind}: its unit is not known"
    return ""


def differ(mine: WrittenFigure, one: WrittenFigure) -> bool:
    """Whether a figure is another than ours by more than both are rounded, theirs by `MOST_ROUNDED` of ours at the most; 0 is only 0."""
    rounded = mine.half_digit + min(one.half_digit, MOST_ROUNDED * abs(mine.value))
    return (one.value == 0 and mine.value != 0) or not abs(mine.value - one.value) <= rounded * (1 + 1e-9)


def _with_its_unit(pair):
    return f"{pair[1]} {pair[3]}{pair[2]}"


def _unit(behind):
    """(unit as written, its dimension) of the words behind a number; ("", "") where none is known."""
    if not behind:
        return "", ""
    behind = [_AS_UNIT.get(behind[0].casefold(), behind[0]), *behind[1:]]
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
        return one if one.dimension else replace(one, dimension=mine.dimension)
    unit = mine.text.split(" ", 1)[1] if " " in mine.text else "%"
    size = units.parse(f"1 {unit}", mine.dimension) - units.parse(f"0 {unit}", mine.dimension)
    taken = f"{one.text} (taken in {unit})"
    return replace(one, value=one.value * size, dimension=mine.dimension, half_digit=one.half_digit * size, text=taken)


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
