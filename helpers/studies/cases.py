"""The cases a design is asked about: a weather of the site file and the doors that stand open, each with its name."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from helpers.formulas import require
from helpers.model.conditions import Conditions
from helpers.studies.figures import listed

__all__ = ["Case", "conditions_of", "known_weather", "levels_text", "one_number", "two_neighbours", "usual_cases"]


@dataclass(frozen=True)
class Case:
    """A name for the records, one of the site's weathers, and the levels whose stair doors (lobby doors too) or final exits stand open."""

    name: str
    weather: str = "winter"
    open_doors: tuple = ()
    open_exits: tuple = ()

    @property
    def shut(self):
        """Whether all doors are shut."""
        return not self.open_doors and not self.open_exits


def usual_cases(site, weather="winter", open_doors=None, open_exits=None):
    """Doors shut in each weather, the stated one first; then two stair doors open; then, where there is a final exit, that one as well.

    open_doors, open_exits: levels. Given (even empty), they make the one case with open doors, instead of the two usual ones.
    Returns a tuple of `Case`. Raises ValueError for a weather or a level that the site does not have, or a door that is not there.
    """
    known_weather(site, weather)
    order = [weather, *(name for name in site.weather if name != weather)]
    cases = [Case(f"{name}, doors shut", name) for name in order]
    if open_doors is not None or open_exits is not None:
        asked = Case("", weather, _with_door(site, open_doors, "stair_door"), _with_door(site, open_exits, "final_exit_door"))
        return (*cases, *([_named(asked)] if not asked.shut else []))
    exits = tuple(storey.level for storey in site.storeys if storey.final_exit_door)[:1]
    pair = two_neighbours(site)
    opened = [Case("", weather, pair, open_exits) for open_exits in ((), exits) if pair or open_exits]
    return (*cases, *(_named(case) for case in dict.fromkeys(opened)))


def two_neighbours(site):
    """Levels of two stair doors that people use at once: a storey half way up and the next, away from the transmitters if possible.

    Fewer than two where the stair has fewer doors.
    """
    levels = [storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count]
    tapped = {transmitter.level for transmitter in site.transmitters}
    pairs = list(pairwise(levels)) or [tuple(levels)]
    middle = (len(pairs) - 1) / 2
    return min(pairs, key=lambda pair: (len(tapped & set(pair)), abs(pairs.index(pair) - middle)))


def conditions_of(site, cases):
    """Conditions of the cases, a row each. Raises ValueError where there is no case at all."""
    if not cases:
        raise ValueError("cases must hold at least one case, got none")
    return Conditions.joined(Conditions.of(site, case.weather, case.open_doors, case.open_exits) for case in cases)


def levels_text(levels):
    """Levels in words.

    >>> levels_text((0, 1, 2, 3)), levels_text((1, 12)), levels_text((5,))
    ('levels 0 to 3', 'levels 1 and 12', 'level 5')
    """
    levels = sorted(levels)
    if not levels:
        return "no level"
    if len(levels) == 1:
        return f"level {levels[0]}"
    if len(levels) > 2 and levels[-1] - levels[0] == len(levels) - 1:
        return f"levels {levels[0]} to {levels[-1]}"
    return f"levels {listed(map(str, levels))}"


def known_weather(site, weather):
    """Refuse a weather that the site file does not have."""
    require.one_of(site.weather, weather=weather)


def one_number(**named):
    """Give the named argument back as one float; refuse text, NaN and arrays."""
    ((name, value),) = named.items()
    number = require.finite(**named)
    if number.ndim:
        raise ValueError(f"{name} must be one number, got {value!r:.80}")
    return float(number)


def _with_door(site, levels, kind):
    """The levels asked for, once each; a level without such a door has nothing to open."""
    if isinstance(levels, str) or not (levels is None or isinstance(levels, Iterable)):
        name = "open_doors" if kind == "stair_door" else "open_exits"
        raise ValueError(f"{name} must be a list of levels, got {levels!r:.60}")
    there = [storey.level for storey in site.storeys if getattr(storey, kind) and (kind != "stair_door" or storey.stair_door_count)]
    name = "open_doors" if kind == "stair_door" else "open_exits"
    for level in levels or ():
        if level not in there:
            raise ValueError(f"{name} must be levels with a {kind.replace('_', ' ')} ({levels_text(there)}); got {level!r:.60}")
    return tuple(dict.fromkeys(levels or ()))


def _named(case):
    doors = [f"stair door{'s' if len(case.open_doors) > 1 else ''} {listed(map(str, case.open_doors))} open"] if case.open_doors else []
    exits = [f"final exit{'s' if len(case.open_exits) > 1 else ''} {listed(map(str, case.open_exits))} open"] if case.open_exits else []
    return Case(", ".join([case.weather, *doors, *exits]), case.weather, case.open_doors, case.open_exits)
