"""Whether a stair is taller than one supply point is good for, by the hand method and by the threshold of NFPA 92, and whether two of its
doors are apart in the network, which, and what of their storeys parts them: one function for record and review."""

from dataclasses import dataclass
from statistics import mode

import numpy as np

from helpers.model.air.network import elevation_m
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import cited, criteria_for
from helpers.studies.cases import Case, conditions_of, levels_text
from helpers.studies.duty.hand_method import HandStair, has_facade_leaks
from helpers.studies.report import NETWORK, Finding, apart
from helpers.studies.status import inside
from helpers.units.said import with_unit

SINGLE_SUPPLY_M = 30.48  # 100 ft: above it a stair with one supply point needs a design analysis of its own
HEIGHT_SOURCE = "ASHRAE HVAC Applications, fire and smoke chapter (from memory, not verified); Jensen, J. Fire Prot. Eng. 13(4) 2003"
_CODE = "NFPA 92: single injection above 100 ft needs a design analysis of its own (from memory, not verified)"
_OWN_RULES = {"EN 12101-6": "from 11 m on supply points no more than three storeys apart"}  # by the standard's name
TOO_TALL = "The stair is taller than one supply point is good for"
ENDS_APART = "The doors of storeys {} and {} are further apart than their window is wide, with {} supply point{}"
ONE_APART = "The door of storey {} moves between cases by more than its window is wide, with {} supply point{}"
_UNLIKE = (  # fields in which storeys differ, and what a storey of a site has, in words
    (("lobby", "lobby_door", "lobby_vent_m2"), lambda site, storey: "a lobby" if storey.lobby else "no lobby"),
    (("wall_tightness",), lambda site, storey: f"outer walls {storey.wall_tightness or site.leakage.exterior_wall}"),
    (("extra_leak_m2",), lambda site, storey: f"other openings of {with_unit(storey.extra_leak_m2, 'area')}"),
)
MOVES_PA = 1.0  # what is tried and moves a door by less is told as moving it by little; ours


@dataclass(frozen=True)
class EndsApart:
    """The stair door most below its least and the one most above its most: low, high: (level, `Case`) of each; text: in words."""

    low: tuple[int, Case]
    high: tuple[int, Case]
    text: str


def too_tall(site, window, height_m, parted):
    """The `Finding`s about a stair's height, none or one.

    height_m: between its lowest and its highest storey; window: its `SiteWindow`; parted: what `doors_are_apart` says. "wrong" where no set
    point brings both doors inside; "attention" for one supply point on more than SINGLE_SUPPLY_M, or on more than the hand method carries
    in the worst of the site's weathers: the rule is about the height on one point of injection, not about the weather of a design. With
    several points the doors that decide are named, and what of their storeys parts them, tried in the network. Limits: a supply fan; the
    hand method as `HandStair`.
    """
    supplies = len(site.supplies)
    if site.fan.effect != "supply":
        return
    weather, by_hand_m = _by_hand(site, window)
    tall = supplies == 1 and height_m > min(SINGLE_SUPPLY_M, by_hand_m)
    if not (tall or parted):
        return
    points = (supplies, "s" * (supplies > 1))
    closers = "" if window.most is None else f", {window.most.closers}"
    if not tall:
        low, high = parted.low[0], parted.high[0]
        yield Finding(
            "wrong", ONE_APART.format(low, *points) if low == high else ENDS_APART.format(low, high, *points),
            f"{parted.text}{_between(site, low, high)}",
            "no set point brings both inside: moving it moves all doors by about as much; what parts them are their storeys, stack effect "
            "and friction",
            NETWORK,
            f"{_tried(site, parted)}not tried here: a stair in sections with a supply each, tempered air{closers}; a design analysis for "
            "this building, judged by the cases of the first minute",
        )  # fmt: skip
        return
    own, code = (with_unit(height, "length", 1) for height in (height_m, SINGLE_SUPPLY_M))
    own_rule, code_said = _rules(site, f"NFPA 92's threshold {code}")
    by_hand = f"; hand calculation {with_unit(by_hand_m, 'length', 1)} ({weather})" if np.isfinite(by_hand_m) else ""
    yield Finding(
        "wrong" if parted else "attention",
        TOO_TALL,
        f"{own}, {code_said}{by_hand}{f'; {parted.text}' if parted else ''}",
        "friction and stack effect part the ends, most in the first minute with the stair as warm as the rooms, and a door open beside the "
        "supply takes the air of all others; the hand method takes each floor as leaking to the outdoors only",
        f"{own_rule}{cited(site, _CODE)}; {HEIGHT_SOURCE}{f'; {NETWORK}' if parted else ''}",
        "several supply points even out the shaft's friction, not its stack effect: against that a stair in sections with a supply each, "
        f"tempered air, lobbies{closers}, none of them tried here; a design analysis for this building, judged by the cases of the first "
        "minute",
    )


def _rules(site, nfpa):
    """(source, figure) of the rule on one supply point: that of the site's own standard first, NFPA 92's after it as another's."""
    criteria = criteria_for(site)
    if criteria.name.startswith("NFPA"):
        return "", nfpa
    known = _OWN_RULES.get(criteria.name)
    own = f"{criteria.title}: {f'{known} (from memory, not verified)' if known else 'its rule on supply points is not at hand'}"
    return f"{own}; ", f"{own}; beside it, of another standard: {nfpa}"


def doors_are_apart(window, cases, levels, held, door_dp_pa, limits):
    """`EndsApart` of a stair whose two worst doors no set point brings inside, see `ends_apart`; None where one does, or where the doors
    have no window. cases: with all doors shut; limits: least and most pressure by storey."""
    return ends_apart(cases, levels, held, door_dp_pa, *limits) if _wide(window) else None


def ends_apart(cases, levels, held, door_dp_pa, least_pa, most_pa):
    """`EndsApart` of the stair door most below its least and the one most above its most, where no set point brings both inside: moving it
    moves all doors by about as much. None where one would.

    held [cases]: whether the loop holds; a case in which it does not is judged by itself. door_dp_pa [cases, storeys]; levels, least_pa,
    most_pa [storeys]. Limits: steady state, the walls as the site file has them.
    """
    rooms = door_dp_pa - least_pa, most_pa - door_dp_pa
    below, above = (room.min(axis=1) for room in rooms)
    of_held = [np.where(held, room, np.inf) for room in (below, above)]
    alone, (low, high) = int(np.argmin(below + above)), map(int, map(np.argmin, of_held))
    if (below + above)[alone] < of_held[0][low] + of_held[1][high]:
        low = high = alone
    if inside(below[low] + above[high]):
        return None
    ends = tuple((case, int(np.argmin(room[case]))) for case, room in zip((low, high), rooms, strict=True))

    def said(case, storey, limit_pa, end):
        dp, limit = apart((door_dp_pa[case, storey], limit_pa[storey]), "pressure", end)
        return f"{dp} at storey {levels[storey]} ({cases[case].name}), {limit} is its {end}"

    text = f"the lowest door has {said(*ends[0], least_pa, 'least')}; the highest {said(*ends[1], most_pa, 'most')}"
    return EndsApart(*((int(levels[storey]), cases[case]) for case, storey in ends), text)


def _between(site, low, high):
    """How far apart two storeys are, in a clause."""
    levels, heights = [storey.level for storey in site.storeys], elevation_m(site.storeys)
    if low == high:
        return ""
    metres = abs(float(heights[levels.index(high)] - heights[levels.index(low)]))
    return f"; {with_unit(metres, 'length', 1)} lie between them"


def _tried(site, parted):
    """What of the two doors' storeys is unlike the others, each tried in the network as these have it, in words; "" where nothing is."""
    told, own = [], {}
    for level, case in dict.fromkeys((parted.low, parted.high)):
        own[level] = own.get(level) or _at(site, level, case)
        for like, levels, words in _unlike(site, level):
            then = _at(like, level, case)
            moved = f"{with_unit(then, 'pressure')} in place of {with_unit(own[level], 'pressure')}"
            by = "moved by little" if abs(then - own[level]) < MOVES_PA else moved
            told.append(f"on {levels_text(levels)} {words}: door {level} {by}")
    return f"tried in the network: {'; '.join(told)}; " if told else ""


def _unlike(site, level):
    """(site with that of the usual storey there, levels changed, words) for everything in which a storey is unlike most."""
    here = next(storey for storey in site.storeys if storey.level == level)
    for fields, words in _UNLIKE:
        usual = mode(tuple(getattr(storey, field) for field in fields) for storey in site.storeys)
        own = tuple(getattr(here, field) for field in fields)
        if own == usual:
            continue
        alike = [storey.level for storey in site.storeys if tuple(getattr(storey, field) for field in fields) == own]
        put = dict(zip(fields, usual, strict=True))
        if any(tap.reference == "lobby" and tap.level in alike for tap in site.transmitters) and not put.get("lobby", True):
            continue  # the reading's low side would be gone with its lobby
        storeys = [storey.model_copy(update=put) if storey.level in alike else storey for storey in site.storeys]
        most = next(storey for storey in site.storeys if tuple(getattr(storey, field) for field in fields) == usual)
        yield site.model_copy(update={"storeys": storeys}), alike, f"{words(site, most)} in place of {words(site, here)}"


def _at(site, level, case):
    """Pressure across the stair door of a storey [Pa] in a case, held by the site's own loop."""
    tower, loop = Tower(site), site.control
    held = tower.hold(conditions_of(site, [case]), loop.set_point_pa, site.transmitters, loop.rule, loop.weights)
    return float(held.air.door_dp_pa[0, tower.storey(level)])


def _wide(window):
    return window.width_pa is not None and window.width_pa > 0


def _by_hand(site, window):
    """The weather that allows the lowest stair by hand, and its height [m]; infinite where the hand method has no answer."""
    if not _wide(window) or not has_facade_leaks(site):
        return "", np.inf
    limits = {name: HandStair.of(site, name).height_limit(window.least_pa, window.most_pa) for name in site.weather}
    return min(limits.items(), key=lambda limit: limit[1])
