"""The concepts themselves, each found by a search through the site model: set points, speeds with relief dampers, points of supply,
lobbies, heat in the supply. What was searched, and what not, is told with each.
"""

from itertools import combinations

import numpy as np

from helpers import require
from helpers.model.air.tower import Tower
from helpers.model.site.supply import IN_SHARES
from helpers.studies.cases import levels_text
from helpers.studies.duty.concept.airs import Concept, FirstLook, NotTried, best
from helpers.studies.duty.relief_damper import FULL_AT, LEAK_SHARE, OPENS_AT, one_damper_alone
from helpers.studies.report import fine, listed
from helpers.units.said import with_unit

TITLES = {
    "modulated": "Modulated supply", "fixed": "Fixed speed and relief damper", "moved": "Another supply point",
    "points": "Several supply points", "lobbies": "A lobby on every storey", "heated": "Heated supply",
}  # fmt: skip
SPEEDS = 8  # tried from the drive's lowest to its highest
BESIDE = 0.85, 1.15, 9  # of the best of them: shares tried beside it, in the air that it leaves
AREAS_M2 = (0.2, 0.5, 1.0, 2.0, 3.5)  # of relief dampers tried
LATER = 0.25  # a second setting of the damper, so much further up the doors' window
PARTS, MOST_POINTS = 4, 4  # of the height between places tried for supply points, and points tried at once
NO_BETTER_PA = 1.0  # what brings no more room than this at the worst door is not worth an opening or a kilowatt: ours
HEATS = (0.25, 0.5, 0.75, 1.0)  # of the way from outdoors to the rooms
NO_RISER = ", all of them without the file's riser, whose losses the file's own supply alone has"
LOBBY = "inner door of a lobby for"  # a stair door's kind: the name of the door that a lobby brings


def concepts_of(site):
    """All concepts of a site that supplies air: a tuple of `Concept` and `NotTried`.

    Raises ValueError for a fan that takes air out: none of them is a way to hold a stair above its floors by drawing air from it.
    """
    if site.fan.sign < 0:
        raise ValueError('site must have a fan that supplies the stair ([fan] effect = "supply") for a concept study, got "exhaust"')
    return (_modulated(site), _fixed(site), *_points(site), _lobbies(site), _heated(site))


def _modulated(site):
    return _held("modulated", FirstLook(site), "not tried: other rules, other places of the transmitters")


def _held(key, look, not_tried, parts=(), title="", heated=0.0):
    """A concept whose loop holds the best of the set points tried."""
    site, tried, (point, _) = look.tower.site, look.set_points(), look.tuned()
    ends = " to ".join(with_unit(end, "pressure") for end in dict.fromkeys((tried[0], tried[-1])))  # and those beside the best
    moved = f"{with_unit(point, 'pressure')} held, {site.control.rule} of the readings"
    built = site.with_changes(control={"set_point_pa": point})
    searched = f"{len(tried)} set points, {ends}; {not_tried}"
    return Concept(key, title or TITLES[key], built, moved, searched, tuple(part for part in parts if part[1]), heated)


def at_one_speed(site, speed_hz):
    """The site with a fan that runs at one speed [Hz], whatever is read: its loop has a thousandth of it to move in."""
    require.single_positive(speed_hz=speed_hz)
    limits = {"lowest_speed_hz": 0.999 * speed_hz, "highest_speed_hz": speed_hz}
    return site.with_changes(fan=limits | {"smoke_lowest_speed_hz": None, "smoke_highest_speed_hz": None})


def _fixed(site):
    """The speed, and the damper with its place, size and setting, that leave fewest cases with a door out, then most room."""
    look, (low, high) = FirstLook(site), site.fan.speed_limits_hz(site.control.fire_mode)
    speeds = np.unique(np.round(np.linspace(low, high, SPEEDS), 1))
    levels = [storey.level for storey in site.storeys]
    places = tuple(dict.fromkeys((levels[len(levels) // 2], levels[0], levels[-1])))

    def found(dampers):
        scores = [look.run(Tower(site.with_changes(stair=one_damper_alone(damper))), speeds) for damper in dampers]
        number, speed = divmod(best(np.concatenate(scores)), len(speeds))
        return dampers[number], float(speeds[speed])

    dampers = [None, *_dampers(look.window, places[0])]
    damper, speed = found(dampers)
    if damper is not None:
        damper, speed = found([damper | {"level": place} for place in places])
    damped = site.with_changes(stair=one_damper_alone(damper))
    beside = speed * np.linspace(*BESIDE)
    beside = np.unique(np.round(beside[(beside >= low) & (beside <= high)], 1))
    look = FirstLook(at_one_speed(damped, speed))  # in the air that this fan leaves
    speed = float(beside[best(look.run(look.tower, beside))])
    said = (
        f"{len(speeds)} speeds from {speeds[0]:g} to {speeds[-1]:g} Hz with {len(dampers) - 1} single dampers of "
        f"{with_unit(AREAS_M2[0], 'area')} to {with_unit(AREAS_M2[-1], 'area')} half way up in two settings, and with none; the best also "
        f"on {levels_text(places)}, then speeds beside the best; not tried: several dampers, of which one may stick (page 12 does)"
    )
    moved = f"{speed:g} Hz always, no reading used; "
    if damper is None:
        moved += "no relief damper of those tried is better than none"
    else:
        opens, area = with_unit(damper["opens_pa"], "pressure"), with_unit(damper["area_m2"], "area")
        moved += f"relief damper of {area} on storey {damper['level']}, opens from {opens}"
    parts = (("relief dampers", (damper is not None) - len(site.stair.reliefs)), ("transmitters", -len(site.transmitters)))
    return Concept("fixed", TITLES["fixed"], at_one_speed(damped, speed), moved, said, tuple(part for part in parts if part[1]))


def _dampers(window, level):
    """Relief dampers to try on a level, as changes of a stair; none where the doors have no most or no room below it."""
    least, most = window.least_pa or 0.0, window.most_pa
    if most is None or most <= least:
        return []
    ends = [[least + (share + more) * (most - least) for share in (OPENS_AT, FULL_AT)] for more in (0.0, LATER)]
    return [
        {"level": level, "opens_pa": opens, "full_pa": full, "area_m2": area, "leak_area_m2": LEAK_SHARE * area, "count": None}
        for opens, full in ends for area in AREAS_M2
    ]  # fmt: skip


def supply_places(levels):
    """Levels on which a supply point is tried: the lowest, the highest, and those a quarter, half and three quarters up; each once."""
    last = len(levels) - 1
    return tuple(dict.fromkeys(levels[round(last * part / PARTS)] for part in range(PARTS + 1)))


def with_points(site, levels):
    """The site with its fan's air in equal shares on some levels, without a riser: what one to other levels costs nobody has said."""
    return site.with_changes(riser=None, supplies=[{"level": level, "share": 1 / len(levels)} | IN_SHARES for level in levels])


def _points(site):
    """One point in another place, where that brings more than NO_BETTER_PA of room; and the fewest points, two or more, that bring within
    NO_BETTER_PA as much as any such layout tried."""
    places = supply_places([storey.level for storey in site.storeys])
    if len(places) < 2:
        return (NotTried("points", TITLES["points"], "one storey has one place for a supply"),)

    def room(layout):
        return FirstLook(with_points(site, layout), opened=False).quick_room_pa()

    own = FirstLook(site, opened=False).quick_room_pa()
    found = {layout: room(layout) for count in (1, 2) for layout in combinations(places, count)}
    for count in range(3, min(MOST_POINTS, len(places)) + 1):
        fewer = _most_room(found, count - 1)
        found |= {layout: room(layout) for place in places if (layout := tuple(sorted({*fewer, place}))) not in found}
        if found[_most_room(found, count)] <= found[fewer] + NO_BETTER_PA:
            break
    most = max(left for layout, left in found.items() if len(layout) > 1)
    counts = sorted({len(layout) for layout in found} - {1})
    chosen = next(best_of for count in counts if found[best_of := _most_room(found, count)] >= most - NO_BETTER_PA)
    single, had = _most_room(found, 1), {supply.level for supply in site.supplies}
    told = (
        f"{len(found)} layouts in equal shares: every one and two of storeys {listed(map(str, places))}, and up to {MOST_POINTS} by adding "
        f"one to the best as long as that brings more than {fine(NO_BETTER_PA)}; of two and more the fewest within {fine(NO_BETTER_PA)} of "
        f"the most room{NO_RISER if site.riser else ''}. Worst shut door at a first look: {levels_text(chosen)} {_room(found[chosen])}, "
        f"{levels_text(single)} alone "
        f"{_room(found[single])}, the file's own {_room(own)}; not tried: storeys between, unequal shares, leaks and losses of the duct "
        "between the points, a door open beside each"
    )
    moved = [("moved", single)] * (found[single] > own + NO_BETTER_PA)
    return tuple(_with_points(key, site, layout, had, told) for key, layout in (*moved, ("points", chosen)))


def _with_points(key, site, layout, had, told):
    parts = (("supply outlets", len({*layout} - had)), ("supply outlets no longer used", len(had - {*layout})))
    return _held(key, FirstLook(with_points(site, layout)), told, parts, f"{TITLES[key]}, {levels_text(layout)}")


def _most_room(found, count):
    """The layout of so many points with the most room, the first of equals."""
    return max((layout for layout in found if len(layout) == count), key=found.get)


def _room(room_pa):
    return f"{fine(room_pa)} inside" if room_pa >= 0 else f"{fine(-room_pa)} out"


def with_lobbies(site):
    """The site with a lobby behind every stair door that has none, its inner door of the stair door's own kind, without a least pressure of
    its own, and a relief damper that opens at twice the pressure; None where every stair door has one."""
    bare = [bool(storey.stair_door and storey.stair_door_count and not storey.lobby) for storey in site.storeys]
    if not any(bare):
        return None
    kinds = {storey.stair_door: f"{LOBBY} {storey.stair_door}" for storey, one in zip(site.storeys, bare, strict=True) if one}
    doors = {name: dict(site.doors[kind]) | {"minimum_dp_pa": None} for kind, name in kinds.items()}
    storeys = [
        {"lobby": True, "lobby_door": kinds[storey.stair_door]} if one else {} for storey, one in zip(site.storeys, bare, strict=True)
    ]
    # two doors share the pressure: what opened at the doors' limit opens at twice that
    twice = [{"opens_pa": 2 * relief.opens_pa, "full_pa": 2 * relief.full_pa} for relief in site.stair.reliefs]
    stair = {"relief": twice[0], "more_reliefs": twice[1:]} if twice else {}
    return site.with_changes(doors=doors, storeys=storeys, stair=stair)


def _lobbies(site):
    built = with_lobbies(site)
    if built is None:
        return NotTried("lobbies", TITLES["lobbies"], "every stair door of this site has a lobby already: see the modulated supply")
    count = sum(storey.lobby for storey in built.storeys) - sum(storey.lobby for storey in site.storeys)
    not_tried = (
        "plain lobbies with a door like the stair's, a relief damper set at twice its pressure; not tried: a lobby with a supply or "
        "an exhaust of its own, which the site file has no words for, one with a vent, and transmitters tapped to the lobby"
    )
    return _held("lobbies", FirstLook(built), not_tried, (("lobbies", count), ("lobby doors", count)))


def _heated(site):
    """The least heat of those tried with which the worst shut door is within NO_BETTER_PA of what any of it brings, all doors shut."""
    look = FirstLook(site)
    without, found = look.quick_room_pa(), {share: look.heated(share).quick_room_pa() for share in HEATS}
    share = next(share for share, room in found.items() if room >= max(found.values()) - NO_BETTER_PA)
    told = listed(f"{100 * one:.0f} %" for one in HEATS)
    not_tried = (
        f"heat of {told} of the way from outdoors to the rooms, the least within {fine(NO_BETTER_PA)} of the most room (worst shut door at "
        f"a first look: {_room(found[share])}, without heat {_room(without)}; in the first minute no heater helps); not tried: cooling in "
        "summer"
    )
    title = f"{TITLES['heated']}, {100 * share:.0f} % of the way"
    return _held("heated", look.heated(share), not_tried, (("heaters", 1),), title, share)
