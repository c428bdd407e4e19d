"""Storeys of the file, given as groups of levels with exceptions, and storeys of the model, one each: there and back."""

import re
from dataclasses import dataclass, field
from itertools import groupby

from helpers.model.site.endless import MOST_GROUPS, MOST_LAID, MOST_TOLD
from helpers.model.site.field_types import HIGHEST_LEVEL, LOWEST_LEVEL
from helpers.model.site.refusals import Mistake, unknown_key

_LEVELS = re.compile(r"\s*(-?\d{1,4})\s*(?:\.\.\s*(-?\d{1,4})\s*)?$")


@dataclass
class Groups:
    """Storeys by level as raw tables, which group each key came from, and what was wrong with the groups themselves."""

    by_level: dict = field(default_factory=dict)
    sources: dict = field(default_factory=dict)
    mistakes: list = field(default_factory=list)
    unplaced: bool = False  # a group's levels cannot be read, so what the storeys lack cannot be known
    laid: int = 0  # levels of all groups together

    def lay_over(self, number, table, levels):
        """Lay a group's keys over those of earlier groups."""
        told_by = dict.fromkeys(table, number)
        self.laid += len(levels)
        for level in levels:
            self.by_level.setdefault(level, {"level": level}).update(table)
            self.sources.setdefault(level, {None: number}).update(told_by)

    def name_each(self, number, names, levels):
        """Give each level of a group its own name on the drawings."""
        if len(names) != len(levels):
            sentence = f"must be one name, or one for each of the group's {len(levels)} levels from the lowest up; got {len(names)}"
            self.mistakes.append(Mistake(("storeys", number, "drawing_name"), sentence))
            return
        for level, name in zip(levels, names, strict=True):
            self.by_level[level]["drawing_name"] = name
            self.sources[level]["drawing_name"] = number

    def place(self, place):
        """Turn a place ("storeys", level, key) into the place of the group that said so."""
        if len(place) < 2:
            return place
        source = self.sources[place[1]]
        return ("storeys", source.get(place[2], source[None]) if len(place) > 2 else source[None], *place[2:])


def expand(tables, known_keys):
    """Lay the groups of [[storeys]] over each other, later over earlier."""
    groups = Groups()
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        groups.mistakes.append(Mistake(("storeys",), "must be tables headed [[storeys]], with two brackets on each side"))
        return groups
    if len(tables) > MOST_GROUPS:
        groups.mistakes.append(Mistake(("storeys",), f"must be {MOST_GROUPS} groups at the most; got {len(tables)}"))
        groups.unplaced = True
        return groups
    for number, table in enumerate(tables):
        if groups.laid > MOST_LAID:
            groups.mistakes.append(Mistake(("storeys", number), f"must be within {MOST_LAID} levels in all groups together"))
        if len(groups.mistakes) > MOST_TOLD or groups.laid > MOST_LAID:
            groups.unplaced = True  # what stands further down is not looked at
            break
        _lay(groups, number, table, known_keys)
    return groups


def _lay(groups, number, table, known_keys):
    """Lay one group over those before it, or note what is wrong with it."""
    for key in sorted(table.keys() - known_keys.keys() - {"levels"})[:MOST_TOLD]:
        groups.mistakes.append(Mistake(("storeys", number, key), unknown_key(key, ["levels", *known_keys])))
    try:
        levels = levels_of(table.get("levels"))
    except ValueError as refusal:
        groups.mistakes.append(Mistake(("storeys", number, "levels"), str(refusal)))
        groups.unplaced = True
    else:
        laid = {key: table[key] for key in table.keys() & known_keys.keys()}
        names = laid.pop("drawing_name") if isinstance(laid.get("drawing_name"), list) and "drawing_name" in known_keys else None
        groups.lay_over(number, laid, levels)
        if names is not None:
            groups.name_each(number, names, levels)


def levels_of(text):
    """Levels of a group.

    >>> list(levels_of("-2..1")), list(levels_of("5"))
    ([-2, -1, 0, 1], [5])
    """
    if text is None:
        raise ValueError('is missing; it must be text such as "0..13" or "5"')
    found = _LEVELS.match(text) if isinstance(text, str) else None
    if not found:
        raise ValueError(f'must be text such as "0..13" or "5"; got {text!r:.60}')
    low, high = int(found[1]), int(found[2] or found[1])
    if not LOWEST_LEVEL <= low <= high <= HIGHEST_LEVEL:
        raise ValueError(f"must rise, from {LOWEST_LEVEL} at the lowest to {HIGHEST_LEVEL} at the highest; got {text!r}")
    return range(low, high + 1)


def regroup(storeys):
    """Neighbours that are alike, but for their names on the drawings, as lists of storeys."""
    for _, alike in groupby(storeys, key=_but_for_its_name):
        yield list(alike)


def _but_for_its_name(storey):
    named = getattr(storey, "drawing_name", None) is not None
    return named, storey.model_copy(update={"level": 0} | ({"drawing_name": None} if named else {}))
