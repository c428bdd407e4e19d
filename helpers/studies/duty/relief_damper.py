"""A fan at one speed, with or without a relief damper: every door at both ends of the stair, in every weather, at every temperature of the
stair's air, doors closed and one open, with a blade that sticks and wind on its outlet.

A damper that only keeps doors from jamming is no cure where another door then has too little: least and most are judged alike.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from helpers.formulas import air
from helpers.model.air.network import wind_on_faces
from helpers.model.air.tower import Tower
from helpers.studies.cases import Case, conditions_of, with_stair_air
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.doors.window import handle_force_n
from helpers.studies.report import NETWORK, Finding, apart
from helpers.studies.status import inside
from helpers.units.said import with_unit

AREAS_M2 = tuple(np.geomspace(0.2, 6.0, 15).round(2).tolist())
BLADE_HYSTERESIS = 0.1  # a blade lifts so much later, and drops so much earlier, than its setting; common practice, no source
STUCK_SHUT, STUCK_OPEN = "relief damper stuck shut", "relief damper stuck open"  # of several at different storeys: with the storey
TIGHT_M2 = 1e-6  # of a blade without any leak, stuck shut: an opening of no size is none
LEAK_SHARE = 0.01  # of the free area, blade closed
OPENS_AT, FULL_AT = 0.25, 0.75  # of the way from the set point to the limit of the doors


@dataclass(frozen=True)
class FixedSpeed:
    """What a fan at one speed does to the doors, over all states tried.

    least_pa, least_at: the lowest pressure across a stair door that has a least, and where; most_pa, most_at: the highest across one that
    has a most, most_n the force at its handle there (None: nobody pulls against it); room_pa, worst_at: room of the door that is worst
    off, of any kind, below zero past its limit (infinite: none has a limit);
    level, area_m2, opens_pa, full_pa: the damper's, None without one; tried: the states, in words; closing_pa, closing_at: room below the
    pressure up to which a final exit closes again once opened, below zero where one stays ajar (infinite: no such exit), and where;
    lifts: whether the damper lifts while the loop is at rest with all doors shut, so that the fan fights it.
    """

    speed_hz: float
    level: int | None
    area_m2: float | None
    opens_pa: float | None
    full_pa: float | None
    least_pa: float
    least_at: str
    most_pa: float
    most_at: str
    room_pa: float
    worst_at: str
    tried: str
    closing_pa: float = np.inf
    closing_at: str = ""
    most_n: float | None = None
    lifts: bool = False

    @property
    def leak_area_m2(self):
        """What the closed blade leaks [m2]; None without a damper."""
        return None if self.area_m2 is None else LEAK_SHARE * self.area_m2

    @property
    def holds(self):
        """Whether every door keeps inside its window in every state tried, and the damper is shut while the loop is at rest."""
        return inside(self.room_pa) and not self.lifts

    @property
    def closes(self):
        """Whether every final exit closes again once opened, in every state tried."""
        return inside(self.closing_pa)

    def text(self):
        """The ends and where they are, in words."""
        if np.isinf(self.room_pa):
            return "no door has a limit to be judged by"
        force = "" if self.most_n is None else f", {with_unit(self.most_n, 'force')}"
        both = ((self.least_pa, "", self.least_at), (self.most_pa, force, self.most_at))  # infinite where no stair door has that limit
        ends = " to ".join(f"{with_unit(value, 'pressure')}{n} ({at})" for value, n, at in both if np.isfinite(value))
        ends = f"stair doors {ends}" if ends else "no stair door has a limit"
        past = "" if inside(self.room_pa) else f"; past its limit by {with_unit(-self.room_pa, 'pressure')}: {self.worst_at}"
        ajar = ""
        if not self.closes:
            ajar = f"; a final exit {NOT_CLOSING}, by {with_unit(-self.closing_pa, 'pressure')}: {self.closing_at}"
        fights = "; it lifts at the set point with all doors shut, and the fan fights it" * self.lifts
        return f"{ends}{past}{ajar}{fights}; {self.tried}"


def cases_tried(site, door):
    """All doors closed and one open, in every weather and with every temperature of the stair's air. door: (level, "stair" or "exit").

    Returns a tuple of `Case`.
    """
    level, kind = door
    opened = {"open_exits": (level,)} if kind == "exit" else {"open_doors": (level,)}
    name = f"{'final exit' if kind == 'exit' else 'stair door'} {level} open"
    closed = [Case(f"{weather}, doors closed", weather) for weather in site.weather]
    return with_stair_air((*closed, *(Case(f"{weather}, {name}", weather, **opened) for weather in site.weather)))


def blades(tower, conditions):
    """The tower with its relief damper as set, lifting late and dropping late: hysteresis of the blade, and wind on its outlet.

    The network gives the outlet the mean wind of the four faces; on the windward face the blade lifts later, on a leeward one earlier.
    Returns (name, `Tower`) pairs; the tower alone where it has no damper. Of several all are late, or all early, each by its own setting
    and the wind at its own storey. Limits: a frozen or jammed blade is not in it; of several, some late and others early are not tried.
    """
    reliefs = tower.site.stair.reliefs
    if not reliefs:
        return (("", tower),)
    winds = [_outlet_wind(tower, conditions, relief.level) for relief in reliefs]
    offs = [wind - wind.mean(axis=0) for wind in winds]
    late = [BLADE_HYSTERESIS * relief.opens_pa + max(float(off.max()), 0.0) for relief, off in zip(reliefs, offs, strict=True)]
    early = [-BLADE_HYSTERESIS * relief.opens_pa - max(float(-off.min()), 0.0) for relief, off in zip(reliefs, offs, strict=True)]

    def moved(by_pa):
        ends = []
        for relief, by in zip(reliefs, by_pa, strict=True):
            opens = max(relief.opens_pa + by, 0.0)
            ends.append({"opens_pa": opens, "full_pa": opens + relief.full_pa - relief.opens_pa})
        return Tower(tower.site.with_changes(stair=_changed(ends)))

    to_windward, to_leeward = "blade lifting late, outlet to windward", "blade open early, outlet to leeward"
    return (("blade as set", tower), (to_windward, moved(late)), (to_leeward, moved(early)))


def _changed(ends):
    """Changes of a stair, for each of its relief dampers."""
    return {"relief": ends[0], "more_reliefs": list(ends[1:])}


def one_damper_alone(damper):
    """Changes of a stair that gets one relief damper, of these figures, in place of all that are fitted; None: none."""
    return {"relief": damper, "more_reliefs": []}


def lifted(tower, conditions, stair_pa):
    """Whether the stair's pressure [conditions, storeys] lifts the relief damper, of several any [conditions], its blade early and its
    outlet to leeward.

    False where the site has no damper. Limits: as `blades`.
    """
    found = np.zeros(len(stair_pa), dtype=bool)
    for relief in tower.site.stair.reliefs:
        found |= _opening_pa(tower, conditions, stair_pa, relief.level) > relief.opens_pa
    return found


def open_share(tower, conditions, stair_pa):
    """Share of its area [conditions] to which the stair's pressure [conditions, storeys] lifts the relief damper's blade as it is set.

    As `model.air.laws.ReliefBlade` lifts it, against the mean of the wind on the faces; of several that of the one lifted furthest; 0 where
    the site has no damper.
    """
    found = np.zeros(len(stair_pa))
    for relief in tower.site.stair.reliefs:
        dp = stair_pa[:, tower.storey(relief.level)] - _outlet_wind(tower, conditions, relief.level).mean(axis=0)
        lift = np.clip((dp - relief.opens_pa) / (relief.full_pa - relief.opens_pa), 0.0, 1.0)
        found = np.maximum(found, lift**2 * (3 - 2 * lift))
    return found


def _opening_pa(tower, conditions, stair_pa, level):
    """The setting [conditions] of a relief damper at a level at which the stair's pressure just lifts its early blade, outlet leeward."""
    return (stair_pa[:, tower.storey(level)] - _outlet_wind(tower, conditions, level).min(axis=0)) / (1 - BLADE_HYSTERESIS)


def dampers_said(relief):
    """How many dampers of what size a `Relief` is, in words."""
    count = relief.count or 1
    each = with_unit(relief.area_m2 / count, "area")
    return f"{count} dampers of {each} each" if count > 1 else f"one of {each}"


def blades_of(*reliefs):
    """How many dampers some `Relief`s are together: each has a blade and shaft of its own."""
    return sum(relief.count or 1 for relief in reliefs)


def relief_said(*reliefs):
    """`Relief`s as they are bought and set, in words: each of several has a blade and shaft of its own, else one that sticks is all."""

    def said(relief):
        opens, full = (with_unit(value, "pressure") for value in (relief.opens_pa, relief.full_pa))
        own = ", one blade and shaft each, each tested by itself" * ((relief.count or 1) > 1)
        return f"{dampers_said(relief)} at storey {relief.level}{own}, opens from {opens}, fully open at {full}"

    return "; and ".join(map(said, reliefs))


def one_blade(*reliefs):
    """Why a `Relief` that sticks is reckoned with, in words; of several at different storeys one of all of them."""
    count = blades_of(*reliefs)
    return f"{f'one of {count} sticks' if count > 1 else 'one blade, one shaft'}, nobody looks at it for years"


def fights_said(site):
    """That the relief damper of a site lifts where the loop is to hold, in words; of several the one set lowest is told."""
    several, lowest = len(site.stair.reliefs) > 1, min(site.stair.reliefs, key=lambda relief: relief.opens_pa)
    which = f"the relief damper{f' at storey {lowest.level}, of all the lowest' * several}"
    return f"{which}, set at {with_unit(lowest.opens_pa, 'pressure')}, fights the loop: first the damper or the doors"


def low_damper(reliefs, least_pa):
    """Whether one of some `Relief`s opens below the least of the stair doors [Pa] (or None): (`Finding`,), before any fan, else (). Of
    several the one set lowest is told.

    Limits: its own pressure is stair over outdoors, the doors' stair over floor.
    """
    relief = min(reliefs, key=lambda one: one.opens_pa, default=None)
    if relief is None or least_pa is None or relief.opens_pa >= least_pa:
        return ()
    opens, held = apart((relief.opens_pa, least_pa), "pressure", "least")
    which = f" at storey {relief.level}" * (len(reliefs) > 1)
    what, figure = f"The relief damper{which} opens below the least that the doors ask for", f"opens from {opens}, least {held}"
    why = "the fan blows through it before the doors have their pressure, and a larger fan blows more through it"
    remedy = f"first the damper: one that opens well above {held} and the set point, and is fully open below the most that the doors bear"
    return (Finding("wrong", what, figure, why, NETWORK, remedy, key="damper", settings=(("fan", "relief damper"),)),)


def _outlet_wind(tower, conditions, level):
    """Wind on the four faces at a relief damper's level [Pa], [faces, conditions]."""
    density = air.density(conditions.outdoor_c, tower.pressure_pa)
    wind = wind_on_faces(tower.site, conditions, tower.site.faces_deg, density)
    return wind[:, tower.storey(level)]


def stuck_blades(tower):
    """The tower with its relief damper stuck shut and stuck open: one blade, one shaft, one fuse link, and nobody looks at it.

    Returns (name, `Tower`) pairs, none where it has no damper. Of several dampers one sticks, of those at different storeys each in turn,
    its storey in the name. Limits: the blade does not move at all; two that stick at once are not tried.
    """
    reliefs, found = tower.site.stair.reliefs, []
    for number, relief in enumerate(reliefs):
        one, rest = relief.area_m2 / (relief.count or 1), 1 - 1 / (relief.count or 1)
        shut = max(rest * relief.area_m2, relief.leak_area_m2, TIGHT_M2)
        ends = {STUCK_SHUT: {"area_m2": shut}, STUCK_OPEN: {"leak_area_m2": one + rest * relief.leak_area_m2}}
        for name, changed in ends.items():
            where = name if len(reliefs) == 1 else name.replace("damper", f"damper at storey {relief.level}")
            changes = _changed([changed if place == number else {} for place in range(len(reliefs))])
            found.append((where, Tower(tower.site.with_changes(stair=changes))))
    return tuple(found)


def stuck_shut(tower):
    """The (name, `Tower`) pairs of `stuck_blades` in which a damper is stuck shut; of several each in turn."""
    return tuple(pair for pair in stuck_blades(tower) if is_stuck_shut(pair[0]))


def is_stuck_shut(name):
    """Whether a name of `stuck_blades` is of a damper stuck shut."""
    return name.startswith("relief damper") and name.endswith("stuck shut")


def is_stuck_open(name):
    """Whether a name of `stuck_blades` is of a damper stuck open."""
    return name.startswith("relief damper") and name.endswith("stuck open")


def fixed_speed(tower, window, speed_hz, cases):
    """A fan that always runs at one speed, judged at every door in all cases, and with every blade of `blades`.

    window: `SiteWindow`; speed_hz [Hz]; cases: of `Case`. Returns `FixedSpeed`. Limits: steady state; doors that move are not in it.
    """
    return _judged(tower, window, speed_hz, cases, conditions_of(tower.site, cases))


def _judged(tower, window, speed_hz, cases, conditions):
    relief, judge = tower.site.stair.relief, _LimitedDoors(tower, window, conditions)
    found = [(name, *judge.of(one.solve(conditions, speed_hz))) for name, one in blades(tower, conditions)]
    tried = f"tried in {len(cases)} cases{f' and with {len(found)} states of the blade' if relief else ''}, not in the hours of a year"
    (least, least_at, _), (most, most_at, door), (room, worst_at, _), (closing, closing_at, _) = (
        judge.said(found, number, pick, cases) for number, pick in ((1, np.argmin), (2, np.argmax), (3, np.argmin), (4, np.argmin))
    )
    damper = (None,) * 4 if relief is None else (relief.level, relief.area_m2, relief.opens_pa, relief.full_pa)
    return FixedSpeed(float(speed_hz), *damper, least, least_at, most, most_at, room, worst_at, tried, closing, closing_at,
                      judge.force_n(door, most))  # fmt: skip


def smallest_damper(tower, window, speed_hz, cases, set_point_pa, levels, aired=None, asked=()):
    """The smallest damper of those tried with which no door is too heavy at a speed, with a blade that lifts late; else the largest.

    levels: storeys tried; aired: `Tower` whose loop has cooled the stair after an hour, if not this one; asked: rows of a case, the speed
    at which the site's own loop is at rest (infinite: nowhere), ...; none without a loop: the damper is set above what lifts it then,
    where that leaves it below the limit. Returns `FixedSpeed`, of the level with most room; None where there is no room between set
    point and limit. It holds only if no door has too little either: a larger damper would take more from that door, a smaller one
    leave another too heavy.
    """
    limit = window.most_pa
    if limit is None or limit <= set_point_pa:
        return None
    usual = [set_point_pa + share * (limit - set_point_pa) for share in (OPENS_AT, FULL_AT)]
    conditions = conditions_of(tower.site, cases, aired)
    held_hz = np.array([{case: hz for case, hz, *_ in asked}.get(case, np.inf) for case in cases])
    rests = np.flatnonzero(np.isfinite(held_hz))
    at_rest = tower.solve(conditions.rows(rests), held_hz[rests]).stair_pa if rests.size else None

    @cache
    def ends(level):
        """Where it opens and is fully open, and whether it lifts at rest all the same."""
        least = -np.inf if at_rest is None else np.ceil(_opening_pa(tower, conditions.rows(rests), at_rest, level).max())
        return (*usual, least > usual[0]) if least <= usual[0] or least >= limit else (least, max(usual[1], (least + limit) / 2), False)

    def with_damper(level, area_m2):
        opens, full, _ = ends(level)
        relief = {"level": level, "opens_pa": opens, "full_pa": full, "area_m2": area_m2, "leak_area_m2": LEAK_SHARE * area_m2}
        return Tower(tower.site.with_changes(stair=one_damper_alone(relief)))

    def enough(level, area_m2):
        found = with_damper(level, area_m2)
        judge = _LimitedDoors(found, window, conditions)
        late = blades(found, conditions)[1][1]
        return inside(judge.above(late.solve(conditions, speed_hz)))

    found = []
    for level in dict.fromkeys(levels):
        area = least_area(lambda area, level=level: enough(level, area))
        found.append(replace(_judged(with_damper(level, area), window, speed_hz, cases, conditions), lifts=bool(ends(level)[2])))
    return max(found, key=lambda one: (not one.lifts, one.room_pa))


def least_area(enough):
    """Least of AREAS_M2 that is enough; the largest where that is not."""
    small, large = -1, len(AREAS_M2) - 1
    if not enough(AREAS_M2[large]):
        return AREAS_M2[large]
    while large - small > 1:
        middle = (small + large) // 2
        small, large = (small, middle) if enough(AREAS_M2[middle]) else (middle, large)
    return AREAS_M2[large]


class _LimitedDoors:
    """Every door with a limit, in some conditions."""

    def __init__(self, tower, window, conditions):
        limited = any((door.least_pa, door.most_pa) != (None, None) for door in window.doors)
        self.site, self.columns = tower.site, DoorColumns(tower, window) if limited else None
        if limited:
            self.open = self.columns.standing_open(conditions)
            self.stair = np.array([column.use == "stair door" for column in self.columns.columns])

    def of(self, found):
        """Pressure across stair doors with a least (others +inf), with a most (others -inf), room of any door, room in which a final exit
        closes again; [conditions, doors]."""
        if self.columns is None:
            return None, None, None, None
        across, columns = self.columns.across(found), self.columns
        above, below = columns.rooms(across, self.open)
        least = np.where(self.open | ~(self.stair & np.isfinite(columns.least_pa)), np.inf, across)
        most = np.where(self.open | ~(self.stair & np.isfinite(columns.most_pa)), -np.inf, across)
        return least, most, np.minimum(above, below), columns.closing(across, self.open)

    def above(self, found):
        """Least room below the top of any door's window."""
        if self.columns is None:
            return np.inf
        return float(self.columns.rooms(self.columns.across(found), self.open)[1].min())

    def said(self, found, number, pick, cases):
        """(value, where, number of the door) of the extreme of one array of all blades."""
        if self.columns is None:
            return np.inf if number != 2 else -np.inf, "", None
        arrays = np.stack([one[number] for one in found])
        blade, case, door = np.unravel_index(pick(arrays), arrays.shape)
        where = ", ".join(filter(None, (self.columns.columns[door].text, cases[case].name, found[blade][0])))
        return float(arrays[blade, case, door]), where, int(door)

    def force_n(self, number, dp_pa):
        """Force at the handle of a door at a pressure [N]; None where nobody pulls against it, or no door has a most."""
        window = None if number is None or not np.isfinite(dp_pa) else self.columns.columns[number].window
        door = None if window is None else self.site.doors[window.door]
        return None if door is None or window.opens_with_pressure or not door.worked_by_hand else float(handle_force_n(door, dp_pa))
