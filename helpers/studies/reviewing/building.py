"""Review of what a stair asks of any strategy: two temperatures, its height, the street door, instruments at both ends. Stairs only.

Much of it belongs to the building and no entry in a drive changes it; the review says so.
"""

from dataclasses import replace
from math import isfinite

import numpy as np

from helpers import units
from helpers.studies.figures import NETWORK, WRONG_FAN, inside_text, listed
from helpers.studies.full_speed import EXIT_AT_FULL_SPEED
from helpers.studies.hand import HandStair
from helpers.studies.review_kinds import BUILDING, STRATEGY, Kind
from helpers.studies.review_words import attention, wrong
from helpers.studies.rules import ENDS_APART, ends_apart
from helpers.studies.window import NOT_CLOSING

__all__ = ["KINDS"]

SINGLE_SUPPLY_M = 30.48  # 100 ft: above it a stair with one supply point needs a design analysis of its own
NFPA_HEIGHT = "NFPA 92: single injection above 100 ft needs an analysis of its own (from memory, not verified)"
THIRD = 1 / 3  # of the stair's height, within which all instruments stand at one end; common practice, no source


def two_temperatures(bench, system):
    """The doors are inside their window with the stair as warm as the file says, and not in its first minute or after an hour.

    A fan at an end of its speed counts as one that holds: what its doors see is judged alike.
    """
    held, stated = bench.held, bench.as_stated
    others = bench.settled & ~stated

    def out(cases):
        return bench.too_low(held, cases, system) or bench.too_high(held, cases, system)

    if not others.any() or out(stated):
        return
    said = out(others)
    if not said:
        return
    works = bench.set_points(bench.strategy.loop.rule)
    alone, but = bench.set_points_as_stated(bench.strategy.loop.rule), ""
    if not alone.size:
        alone, but = bench.set_points_as_stated(bench.strategy.loop.rule, others=False), f", where a final exit {NOT_CLOSING}"
    if works.size:
        remedy = f"a set point that suits both: {inside_text(works.min(), works.max(), system)} with the same rule"
    elif bench.site.fan.sign < 0 and bench.too_low(held, others, system):
        remedy = WRONG_FAN
    else:
        suits = f" ({inside_text(alone.min(), alone.max(), system)} suits the stated temperature alone{but})" if alone.size else ""
        remedy = f"no set point with this rule suits both{suits}: tempered supply air, another rule, lighter closers, lobbies, or sections"
    yield wrong(
        f"A door is out of its window when the stair is not as warm as the file says: {said}",
        f"set point {bench.show(bench.set_point, system)}; {_stated_said(bench, stated)}",
        "in its first minute the stair is as warm as the rooms, after an hour as cold as the supply makes it: both in one fire",
        f"{NETWORK}, stair's heat balance",
        remedy,
    )


def _stated_said(bench, stated):
    """What there is with the stair as its file says: never that all is inside where the fan is at an end of its speed."""
    ends = [f"{bench.cases[place].name} {bench.held.state[place]}" for place in np.flatnonzero(stated & (bench.held.state != "held"))]
    return (
        f"as stated no shut door is out, but the set point is not held: {listed(ends)}" if ends else "as stated every shut door is inside"
    )


def whose_temperatures(bench):
    """Two temperatures that some set point would suit are the strategy's, others the building's."""
    return STRATEGY if bench.set_points(bench.strategy.loop.rule).size else BUILDING


def too_tall(bench, system):
    """The stair is taller than one supply point is good for; with several, or lower, by the air: its ends are too far apart."""
    supplies, window = len(bench.site.supplies), bench.window
    height = float(bench.tower.elevation_m[-1] - bench.tower.elevation_m[0])
    if bench.site.fan.effect != "supply":
        return
    by_hand = np.inf
    if None not in (window.least_pa, window.most_pa) and window.width_pa > 0:
        by_hand = min(HandStair.of(bench.site, name).height_limit(window.least_pa, window.most_pa) for name in bench.site.weather)
    cases, air, apart = tuple(case for case in bench.cases if case.shut), bench.held_rightly, ""
    if isfinite(by_hand):
        held, doors = air.state[bench.shut] == "held", air.doors_pa[bench.shut]
        apart = ends_apart(cases, bench.tower.levels, held, doors, *bench.limits, system)
    tall = supplies == 1 and height > min(SINGLE_SUPPLY_M, by_hand)
    if not (tall or apart):
        return
    what = "The stair is taller than one supply point is good for" if tall else ENDS_APART.format(supplies, "s" * (supplies > 1))
    hand = f"{units.show(by_hand, 'length', system, 1)} by the hand method, " if isfinite(by_hand) else ""
    yield attention(
        what,
        f"{f'{apart}; ' * bool(apart)}{units.show(height, 'length', system, 1)} from the lowest to the highest floor; {hand}"
        f"{units.show(SINGLE_SUPPLY_M, 'length', system, 1)} by the standard's threshold",
        "friction and stack effect part the ends, and a door open beside the supply takes the air of all others",
        f"{NFPA_HEIGHT}; hand method, stair as warm as the rooms",
        "supply points even out friction, not stack effect: sections, tempered air or lobbies against that; the analysis for this building",
    )


def street_door(bench, system):
    """The pressure pushes a final exit open, or keeps it from shutting again: at the set point, else at full speed."""
    told = tuple(_of_doors(bench, "relatch ", system))
    full = () if bench.full_speed is None else bench.full_speed.findings(system=system)
    at_full = [one for one in full if one.key == EXIT_AT_FULL_SPEED and one.severity in ("wrong", "attention")]
    yield from told or (replace(one, possible=True) for one in at_full)


def closers(bench, system):
    """A closer alone takes more than the standard allows: no pressure, set point or tuning changes that."""
    yield from _of_doors(bench, "closer ", system)


def _of_doors(bench, key, system):
    """What the study of the doors finds past a limit or near it, of one sort."""
    found = (one for one in bench.door_forces.findings(system) if one.key.startswith(key))
    yield from (one for one in found if one.severity in ("wrong", "attention"))


def at_one_end(bench, system):
    """All instruments stand at one end of the stair, and the other end is read by nobody."""
    inputs, tower = bench.strategy.inputs, bench.tower
    if len(inputs) < 2:
        return
    heights = tower.elevation_m[[tower.storey(one.level) for one in inputs]]
    whole = float(tower.elevation_m[-1] - tower.elevation_m[0])
    doors = bench.held.doors_pa[bench.settled]
    spread = float(np.ptp(doors, axis=1).max())
    error = float(bench.errors.max())
    if whole <= 0 or float(np.ptp(heights)) >= THIRD * whole or spread <= max(error, bench.tolerance_pa):
        return
    far = 0 if heights.mean() - tower.elevation_m[0] > whole / 2 else -1
    middle = doors[:, [tower.storey(one.level) for one in inputs]].mean(axis=1)
    off = doors[:, far] - middle
    worst = float(off[np.abs(off).argmax()])
    beyond = bench.too_low(bench.held, bench.settled, system) or bench.too_high(bench.held, bench.settled, system)
    make = wrong if beyond else attention
    yield make(
        f"{listed(one.name for one in inputs)} stand at one end of the stair",
        f"levels {listed(str(one.level) for one in inputs)}; the door of level {tower.levels[far]} differs from them by up to "
        f"{bench.fine(abs(worst), system)}{f'; {beyond}' if beyond else ''}",
        "two instruments side by side are one instrument twice: what happens at the other end nobody sees",
        NETWORK,
        "one near the lower end and one near the upper end; see the placement study",
    )


def saturates(bench, system):
    """The fan gives all it has and the set point is not reached."""
    yield from _saturated(bench, np.flatnonzero((bench.held.state == "at full speed") & bench.settled), system)


def saturates_open(bench, system):
    """The same with doors open: past a limit where the design has to hold the case."""
    yield from _saturated(bench, np.flatnonzero((bench.held.state == "at full speed") & ~bench.settled), system)


def _saturated(bench, cases, system):
    if not cases.size:
        return
    held, required = bench.held, bench.required[cases]
    make, told = (wrong, cases[required]) if required.any() else (attention, cases)
    worst = told[np.abs(held.display_pa[told] - bench.set_point).argmax()]
    more = f", and in {cases.size - 1} more case{'s' * (cases.size > 2)}" if cases.size > 1 else ""
    found = make(
        f"The fan saturates: {bench.cases[worst].name}{more}",
        f"{bench.fine(held.display_pa[worst], system)} of {bench.fine(bench.set_point, system)} at {bench.speed_limits_hz[1]:g} Hz",
        "the loop is not in control; what the doors then see depends on the fan alone",
        NETWORK,
        "a larger fan or duct, tighter doors, or agree with the authority which doors count as open",
    )
    yield replace(found, possible=False)


KINDS = (
    Kind(
        "two temperatures",
        "a set point that suits the stair at one temperature and not at another",
        two_temperatures,
        whose_temperatures,
        stairs_only=True,
    ),
    Kind("height", "a stair taller than one supply point is good for", too_tall, BUILDING, stairs_only=True),
    Kind("street door", "a final exit that the pressure pushes open or keeps from shutting", street_door, BUILDING, stairs_only=True),
    Kind("closers", "a closer that is too heavy by itself", closers, BUILDING, stairs_only=True),
    Kind("at one end", "instruments that all stand at one end", at_one_end, stairs_only=True),
    Kind("saturates", "a fan that saturates", saturates, BUILDING),
    Kind("saturates open", "a fan that saturates with doors open", saturates_open, BUILDING, stairs_only=True),
)
