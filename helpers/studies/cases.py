"""The cases a design is asked about: a weather of the site file, the doors that stand open, how warm the stair is; each with its name.

A stair is as warm as the rooms when the fan starts, and an hour later as cold (in summer: as warm) as the air blown into it makes it: the
two ends of what every door must bear. The site file states one temperature between. All are cases of their own, and the worst decides.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from helpers import require
from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import StairAir, stair_air, with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Site
from helpers.studies.report import listed
from helpers.units.said import with_unit

AS_STATED, FIRST_MINUTE, AFTER_AN_HOUR = STAIR_AIR = ("as stated", "first minute", "after an hour")


@dataclass(frozen=True)
class Case:
    """A name for the records, one of the site's weathers, the levels whose stair doors (lobby doors too) or final exits stand open, and
    how warm the stair is, one of STAIR_AIR: as the site file states, as the rooms, or by the heat balance after an hour."""

    name: str
    weather: str = "winter"
    open_doors: tuple = ()
    open_exits: tuple = ()
    stair: str = AS_STATED

    def __post_init__(self):
        require.one_of(STAIR_AIR, stair=self.stair)

    @property
    def whatever_air(self):
        """The weather and the doors, in words that are the same whatever the stair's air."""
        return f"{self.weather}, doors {self.open_doors}, exits {self.open_exits}"

    @property
    def shut(self):
        """Whether all doors are shut."""
        return not self.open_doors and not self.open_exits


def design_states_doors(site):
    """Whether the site's design states which doors it takes as open at once."""
    return site.design is not None and bool(site.design.open_doors or site.design.open_exits)


def required_doors(site):
    """Sets (levels of stair doors, of final exits) of open doors that the site's design has to hold: those it takes as open at once, and as
    nobody opens and shuts them together, the same with the exits shut and with any one of them shut. Empty where it states none."""
    if not design_states_doors(site):
        return ()
    doors, exits = site.design.open_doors, site.design.open_exits
    fewer = [(tuple(one for one in doors if one != shut), exits) for shut in doors]
    fewer += [(doors, tuple(one for one in exits if one != shut)) for shut in exits]
    return tuple(dict.fromkeys(tuple(map(tuple, one)) for one in [(doors, exits), (doors, ()), *fewer] if any(one)))


def has_to_hold(site, case):
    """Whether the site's design has to hold a case: all doors shut, or one of `required_doors` open; every case where it states none."""
    if case.shut or not design_states_doors(site):
        return True
    return (set(case.open_doors), set(case.open_exits)) in [tuple(map(set, one)) for one in required_doors(site)]


def exits_beyond(site, cases):
    """The cases in which a final exit stands open, as people leave by it, and that the site's design does not have to hold; none where that
    design counts a final exit as open."""
    counted = site.design is not None and site.design.open_exits
    return () if counted else tuple(case for case in cases if case.open_exits and not has_to_hold(site, case))


def unasked_said(good, required, too_high):
    """Why a case that is not good and not of the design is judged as it is, in a sentence with a blank before it; "" for any other."""
    if good or required:
        return ""
    if too_high:
        return " Not a case of the design, and FAIL all the same: a door has to open and to shut whatever others stand open."
    return (
        " Not a case of the design: which doors count as open, the code and the approved design decide, and so whether this smoke counts. "
        "A door that does not open would be FAIL whatever others stand open."
    )


def with_required(site, cases):
    """Some cases, and after them those in which the site's design takes doors as open, in every weather: (all of them, whether each is
    required); where the design states none, the cases as they are, every one required."""
    sets = [(weather, *doors) for doors in required_doors(site) for weather in site.weather]
    opened = [case for one in sets for case in usual_cases(site, *one) if not case.shut]
    every = tuple(dict.fromkeys((*cases, *opened)))
    return every, np.array([has_to_hold(site, case) for case in every], bool)


def failure_cases(site):
    """Every weather of the site with its doors shut, two stair doors open, these and the final exit, and with every set of open doors that
    its design has to hold, of `with_required`: a tuple of `Case`, each once."""
    return with_required(site, dict.fromkeys(case for weather in site.weather for case in usual_cases(site, weather)))[0]


def asked_for(site, cases):
    """By case: whether it opens no door beyond those that the site's design states; all of them where it states none."""
    if not design_states_doors(site):
        return np.ones(len(cases), bool)
    doors, exits = set(site.design.open_doors), set(site.design.open_exits)
    return np.array([doors.issuperset(case.open_doors) and exits.issuperset(case.open_exits) for case in cases])


def cases_beside(site):
    """For every case with all doors shut and every transmitter: that case with the stair door beside the transmitter open."""
    there = {storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count}
    levels = dict.fromkeys(tap.level for tap in site.transmitters if tap.level in there)
    return tuple(
        replace(case, name=case.name.replace("doors shut", f"stair door {level} open"), open_doors=(level,))
        for case in failure_cases(site)
        if case.shut
        for level in levels
    )


def half_way(tower, cases):
    """Level for a third transmitter: as near to half way up as the doors that stand open in the cases allow."""
    used = {level for case in cases for level in case.open_doors} | {tap.level for tap in tower.site.transmitters}
    middle = (len(tower.levels) - 1) / 2
    return min(tower.levels, key=lambda level: (level in used, abs(tower.storey(level) - middle)))


def usual_cases(site, weather="winter", open_doors=None, open_exits=None):
    """Doors shut in each weather, the stated one first; then two stair doors open; then, where there is a final exit, that one as well.

    All of these with the stair as the site file states; then each in its first minute and after an hour.
    open_doors, open_exits: levels. Given (even empty), they make the one case with open doors, instead of the two usual ones.
    Returns a tuple of `Case`. Raises ValueError for a weather or a level that the site does not have, or a door that is not there.
    """
    known_weather(site, weather)
    order = [weather, *(name for name in site.weather if name != weather)]
    cases = [Case(f"{name}, doors shut", name) for name in order]
    if open_doors is not None or open_exits is not None:
        asked = Case("", weather, _with_door(site, open_doors, "stair_door"), _with_door(site, open_exits, "final_exit_door"))
        return with_stair_air((*cases, *([_named(asked)] if not asked.shut else [])))
    exits = tuple(storey.level for storey in site.storeys if storey.final_exit_door)[:1]
    pair = two_neighbours(site)
    opened = [Case("", weather, pair, open_exits) for open_exits in ((), exits) if pair or open_exits]
    return with_stair_air((*cases, *(_named(case) for case in dict.fromkeys(opened))))


def with_stair_air(cases):
    """The cases as they are, then each of them in its first minute and after an hour. Returns a tuple of `Case`."""
    ends = [replace(case, name=f"{case.name}, {stair}", stair=stair) for case in cases for stair in (FIRST_MINUTE, AFTER_AN_HOUR)]
    return (*cases, *ends)


def same_but_stair_air(cases):
    """Numbers of the cases that differ in the stair's air alone, a list for each weather and open doors, in their order."""
    groups = {}
    for place, case in enumerate(cases):
        groups.setdefault((case.weather, case.open_doors, case.open_exits), []).append(place)
    return list(groups.values())


def two_neighbours(site):
    """Levels of two stair doors that people use at once: a storey half way up and the next, away from the transmitters if possible.

    Fewer than two where the stair has fewer doors.
    """
    levels = [storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count]
    tapped = {transmitter.level for transmitter in site.transmitters}
    pairs = list(pairwise(levels)) or [tuple(levels)]
    middle = (len(pairs) - 1) / 2
    return min(pairs, key=lambda pair: (len(tapped & set(pair)), abs(pairs.index(pair) - middle)))


def conditions_of(site: Site, cases, tower: Tower | None = None) -> Conditions:
    """Conditions of the cases, a row each; of those after an hour the stair's air by storey, as the site's own loop leaves it.

    tower: whose air is taken for that, where it is another than the site's own (a fan that is still to be bought). Raises ValueError where
    there is no case at all, or a heat balance is asked of a stair without walls.
    """
    if not cases:
        raise ValueError("cases must hold at least one case, got none")
    aired = _after_an_hour(site, cases, tower)
    rows = _known((Same(site),), "as stated")
    return Conditions.joined(_row(site, case, aired, rows) for case in cases)


def without_stair_air(site: Site, cases) -> tuple:
    """Of the cases after an hour those for which air and heat of the stair did not agree, so that they are not to be relied on."""
    aired = _after_an_hour(site, cases, None)
    return tuple(case for case in dict.fromkeys(cases) if case.stair == AFTER_AN_HOUR and not aired[_doors_of(case)].settled[0])


def _row(site, case, aired, rows):
    doors = _doors_of(case)
    if doors not in rows:
        rows[doors] = Conditions.of(site, *doors)
    row = rows[doors]
    if case.stair == FIRST_MINUTE:
        return with_stair(row, row.floor_c)
    return with_stair(row, aired[doors].stair_c) if case.stair == AFTER_AN_HOUR else row


def _doors_of(case):
    return case.weather, case.open_doors, case.open_exits


def _after_an_hour(site, cases, tower):
    """`StairAir`, a row each, by weather and open doors of the cases after an hour."""
    known = _known((Same(site), Same(site if tower is None else tower.site)), "after an hour")
    new = list(dict.fromkeys(_doors_of(case) for case in cases if case.stair == AFTER_AN_HOUR and _doors_of(case) not in known))
    if new:
        found = stair_air(tower or Tower(site), Conditions.joined(Conditions.of(site, *doors) for doors in new))
        known |= {doors: StairAir(found.stair_c[[row]], found.moved_k[[row]]) for row, doors in enumerate(new)}
    return known


# What moves no air while a loop holds: with another gain, ramp or dial the stair is as warm.
OF_THE_LOOP = {
    "control": ("gain", "integral_time_s", "sample_s", "low_demand", "input_scan_s", "bus_delay_s", "integral_stops"),
    "fan": ("ramp_s", "ramp_down_s", "inertia_kg_m2", "brake", "brake_power_w", "brake_short_power_w", "brake_short_time_s"),
}


class Same:
    """A site that equals every other of the same air, whoever has read or changed it: sites hold tables and have no hash.

    whole: whether the loop has to be the same as well. given: the site to compute with; `site` is what is compared, and no whole one.
    """

    def __init__(self, site, whole=False):
        if whole:
            self.given = self.site = site
            return
        airs = {part: getattr(site, part).model_copy(update=dict.fromkeys(names)) for part, names in OF_THE_LOOP.items()}
        airs["transmitters"] = [(tap.level, tap.reference) for tap in site.transmitters]
        self.given, self.site = site, site.model_copy(update=airs)

    def __eq__(self, other):
        return self.given is other.given or self.site == other.site

    def __hash__(self):
        site = self.site  # what tells most sites apart, those of a moved slider too; the rest is compared, which takes far longer
        weather = tuple(site.weather.items())
        return hash((site.name, site.control, site.fan, site.leakage, site.stair, site.temperatures, site.design, weather))


@lru_cache(maxsize=32)
def _known(sites, what):
    """What was found of a site (in the air of another) by weather and open doors, kept for the last few: one record asks thirty times."""
    return {}


def doors_said(case):
    """Which doors of a case stand open, in words.

    >>> doors_said(Case("", open_doors=(6, 7), open_exits=(0,))), doors_said(Case(""))
    ('stair doors 6 and 7 open, final exit 0 open', 'doors shut')
    """
    opened = (("stair door", case.open_doors), ("final exit", case.open_exits))
    told = [f"{name}{'s' if len(levels) > 1 else ''} {listed(map(str, levels))} open" for name, levels in opened if levels]
    return ", ".join(told) or "doors shut"


def case_said(case, site, outdoor_c=None, stair_c=None, wind_speed_m_s=None):
    """What a headline is of, in the same few words on every page: weather, how warm the stair is, doors.

    case: `Case`; site: as its file has it; outdoor_c, stair_c [degC], wind_speed_m_s [m/s]: where a slider has them, by default the file's
    for the weather of the case. Only an outdoor temperature of the file has the weather's name, and only another wind is told.
    """
    known = known_weather(site, case.weather)
    outdoor, wind = (
        file if given is None else given for given, file in ((outdoor_c, known.outdoor_c), (wind_speed_m_s, known.wind_speed_m_s))
    )
    stated = site.temperatures.stair_c if known.stair_c is None else known.stair_c
    told = [case.weather if outdoor == known.outdoor_c else f"outdoors {with_unit(outdoor, 'temperature')}{_beyond(outdoor, site)}"]
    if wind != known.wind_speed_m_s:
        told.append(f"wind {with_unit(wind, 'wind speed')}" if wind else "no wind")
    stair = f"stair at {with_unit(stated if stair_c is None else stair_c, 'temperature')}"
    return ", ".join([*told, stair if case.stair == AS_STATED else case.stair, doors_said(case)])


def _beyond(outdoor_c, site):
    """That no weather of the site's file is so hot, or so cold, in a clause; its figures are of no case of the design."""
    known = [weather.outdoor_c for weather in site.weather.values()]
    return ", hotter than the design's weathers" * (outdoor_c > max(known)) + ", colder than the design's weathers" * (
        outdoor_c < min(known)
    )


def cases_text(cases, most=3):
    """Cases in words: those that differ only in the stair's air once, `most` of them, then how many more."""
    names = list(dict.fromkeys(case.name.removesuffix(f", {case.stair}") for case in cases))
    return "; ".join(names[:most]) + (f"; and {len(names) - most} more" if len(names) > most else "")


def door_text(use, levels, kind, whole=False):
    """A door as panels and sheets name it; doors alike on several levels by their kind. whole: the kind of a single one behind it.

    >>> door_text("final exit", (0,), "street"), door_text("final exit", (0,), "street", whole=True)
    ('final exit 0', 'final exit 0 ("street")')
    >>> door_text("stair door", (0, 1), "flat")
    'stair door "flat", storeys 0 and 1'
    """
    if len(levels) == 1:
        return f"{use} {levels[0]}" + f' ("{kind}")' * whole
    return f'{use} "{kind}", {levels_text(levels)}'


def begun(words):
    """Words as a sentence begins with them.

    >>> begun("final exit 0")
    'Final exit 0'
    """
    return f"{words[0].upper()}{words[1:]}"


def levels_text(levels):
    """Levels in words.

    >>> levels_text((0, 1, 2, 3)), levels_text((1, 12)), levels_text((5,))
    ('storeys 0 to 3', 'storeys 1 and 12', 'storey 5')
    """
    levels = sorted(levels)
    if not levels:
        return "no storey"
    if len(levels) == 1:
        return f"storey {levels[0]}"
    if len(levels) > 2 and levels[-1] - levels[0] == len(levels) - 1:
        return f"storeys {levels[0]} to {levels[-1]}"
    return f"storeys {listed(map(str, levels))}"


def known_weather(site, weather):
    """The weather of this name; refuses one that the site file does not have."""
    return site.weather[require.one_of(site.weather, weather=weather)]


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
        raise ValueError(f"{name} must be a list of storeys, got {levels!r:.60}")
    there = [storey.level for storey in site.storeys if getattr(storey, kind) and (kind != "stair_door" or storey.stair_door_count)]
    name = "open_doors" if kind == "stair_door" else "open_exits"
    for level in levels or ():
        if level not in there:
            raise ValueError(f"{name} must be storeys with a {kind.replace('_', ' ')} ({levels_text(there)}); got {level!r:.60}")
    return tuple(dict.fromkeys(levels or ()))


def _named(case):
    return replace(case, name=f"{case.weather}, {doors_said(case)}")
