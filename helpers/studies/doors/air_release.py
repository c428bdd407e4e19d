"""Air release of the fire floor: the speed through its open door with and without, and the free area that each speed asked for needs.

Every storey whose door a case opens is taken as the fire floor in turn: the release opens there alone. A release ties that floor to
outdoors, so before anybody opens its door the pressure across it grows: that is looked at too, on every storey.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.model.air.conditions import Conditions
from helpers.model.air.release import FOUND, NONE_NEEDED, STEP_M2, ReleaseNeeded, door_speeds, free_area_needed, release_open
from helpers.model.site.release import KINDS, Release
from helpers.studies.cases import conditions_of
from helpers.studies.doors.open import speeds_asked
from helpers.studies.report import NETWORK, Finding, Table, fine
from helpers.studies.status import inside, status_of, worst_of
from helpers.units.said import with_unit

HAND = "doorway and release in series, ASHRAE HVAC Applications, fire and smoke chapter (from memory, not verified)"
ELSEWHERE = (
    "In the rest of the record it stands open in the cases with open stair doors, on the lowest such storey that has one; with all doors "
    "shut, in door events in time and in sampled conditions it stays shut."
)
NOT_IN_IT = (
    "Not in it: smoke that pushes back, a release that opens late or not at all, an extract with a fan of its own, rain, security and heat "
    "at the opening. What opens the release, and only on the fire floor, is of the fire alarm."
)


@dataclass(frozen=True)
class Wanted:
    """A speed [m/s] that some set of criteria asks for, whose, and what for."""

    speed_m_s: float
    whose: str
    use: str

    def text(self):
        """The speed and whose it is."""
        return f"{_speed(self.speed_m_s)} ({self.whose}, {self.use})"


@dataclass(frozen=True)
class FireFloor:
    """One case with the fire on one storey; doors: its name without the stair's air.

    Mean speed [m/s] through the open door there without any release and with the stated one (None where none is stated there); held:
    whether the loop holds with it; place: its row in `AirRelease.needed`.
    """

    case: str
    doors: str
    level: int
    without_m_s: float
    with_m_s: float | None
    held: bool
    place: int


@dataclass(frozen=True)
class ShutDoor:
    """The stair door with the least room [Pa] where all doors are shut and the release of one storey (fire) is open already: pressure
    across it, its most and its least, its level; alone_pa: what it has with the release shut."""

    case: str
    fire: int
    level: int
    dp_pa: float
    least_pa: float
    most_pa: float
    alone_pa: float
    area_m2: float

    @property
    def room_pa(self):
        """Room to the nearer end of its window."""
        return min(self.dp_pa - self.least_pa, self.most_pa - self.dp_pa)

    @property
    def alone_room_pa(self):
        """The same with the release shut."""
        return min(self.alone_pa - self.least_pa, self.most_pa - self.alone_pa)


@dataclass(frozen=True)
class AirRelease:
    """The study of a site. given: its `Release`, None where the file states none; wanted: of `Wanted`; rows: of `FireFloor`; needed: of
    `ReleaseNeeded` by wanted speed, a row for each of rows; hand_m2 [wanted, rows]: the same by hand, in the network's stair pressure;
    shut: `ShutDoor`, None where no area is known; asked: whether the site's own standard asks for a speed, blank: whether that is a blank;
    told: sentences on sets of criteria that ask for no speed or whose speeds are blanks."""

    given: Release | None
    wanted: tuple[Wanted, ...]
    rows: tuple[FireFloor, ...]
    needed: tuple[ReleaseNeeded, ...]
    hand_m2: np.ndarray
    shut: ShutDoor | None
    asked: bool
    blank: bool
    told: tuple[str, ...]

    def needed_m2(self, wanted):
        """Free area [m2] that one wanted speed needs in the worst of all rows; NaN where some row has none that does."""
        found = self.needed[self.wanted.index(wanted)].area_m2
        return float(found.max()) if found.size else float("nan")

    def table(self):
        """Every set of open doors and fire floor, the worst of the stair's airs: speed without and with, free area by network and hand."""
        columns = ("Case", "Fire on storey", "Speed without air release", "Speed with the one stated",
                   *(f"Free area for {one.text()}" for one in self.wanted))  # fmt: skip
        groups = {}
        for row in self.rows:
            groups.setdefault((row.doors, row.level), []).append(row)
        rows = tuple(
            (doors, str(level), _speed(min(row.without_m_s for row in group)), self._stated(group),
             *(self._needed(number, group) for number in range(len(self.wanted))))
            for (doors, level), group in groups.items()
        )  # fmt: skip
        states = tuple(worst_of(map(self.state, group)) for group in groups.values())
        return Table("air release", "Air release of the fire floor", columns, rows, states, self.note())

    def state(self, row):
        """Key of the status of a row by its speed with the stated release: wrong below the least that the own standard asks, not yet judged
        where that is a blank, looked at below the highest wanted or where the fan does not hold its set
        point then; "" where none is stated, or nothing is asked and all is reached."""
        if row.with_m_s is None or not self.wanted:
            return ""
        speeds = sorted(one.speed_m_s for one in self.wanted)
        if status_of(row.with_m_s, speeds[0], kind="least") == "wrong":
            return "wrong" if self.asked else "attention"
        if self.blank:
            return "open"
        enough = row.held and status_of(row.with_m_s, speeds[-1], kind="least") == "good"
        return "attention" if not enough else "good" if self.asked else ""

    def note(self):
        """What the table holds, in sentences."""
        given = "The site file states no air release." if self.given is None else f"Stated: {stated(self.given)}."
        network = (
            "Free area: on the fire floor alone, by the network with the loop at its set point, to the next "
            f"{with_unit(STEP_M2, 'area', 2)} up, with the floor's leaks. In brackets the hand figure: {HAND}; there the floor's own "
            "leaks are part of the area. Not held: the fan does not hold its set point then. Worst of the stair's airs in each line."
        )
        elsewhere = "" if self.given is None else ELSEWHERE
        looks = self.given is not None and (self.given.kind == "extract" or self.given.faces_deg is not None)
        wind = "" if looks else "Nobody says where the opening looks to: the face that the wind is hardest on counts."
        half = "Whole doorways are counted; with half of each more air release is needed, and no size of it was tried."
        return " ".join(filter(None, (given, *self.told, network, wind, half, elsewhere, NOT_IN_IT)))

    def _stated(self, group):
        if group[0].with_m_s is None:
            return "none stated here"
        slow = min(group, key=lambda row: row.with_m_s)
        return f"{_speed(slow.with_m_s)}{'' if slow.held else '; not held'}"

    def _needed(self, number, group):
        found = self.needed[number]
        places = [row.place for row in group]
        missed = [place for place in places if found.state[place] not in (NONE_NEEDED, FOUND)]
        if missed:
            place = min(missed, key=lambda place: found.speed_m_s[place])
            return f"{found.state[place]}: {_speed(found.speed_m_s[place])} with the largest tried"
        place = max(places, key=lambda place: found.area_m2[place])
        if found.state[place] == NONE_NEEDED:
            return "none: fast enough without"
        hand = self.hand_m2[number, place]
        by_hand = with_unit(hand, "area", 2) if np.isfinite(hand) else "no area"
        return f"{with_unit(found.area_m2[place], 'area', 2)} ({by_hand}){'' if found.held[place] else '; not held'}"

    def shut_said(self):
        """What the open release does to shut doors, in a sentence; "" where no area is known."""
        if self.shut is None:
            return ""
        one = self.shut
        return (
            f"Before its door is opened, air release of {with_unit(one.area_m2, 'area', 2)} on storey {one.fire} leaves stair door "
            f"{one.level} at {fine(one.dp_pa)} ({fine(one.alone_pa)} with the release shut; {one.case}): the least room of all shut doors, "
            f"{fine(one.room_pa)}{'' if inside(one.room_pa) else ', past its limit'}."
        )

    def findings(self):
        """Of a stated release alone: a fire floor on which it gives too little, a shut door that it puts out of its window."""
        if self.given is None:
            return
        judged = [row for row in self.rows if row.with_m_s is not None]
        grave = [row for row in judged if self.state(row) == "wrong"] or [row for row in judged if self.state(row) == "attention"]
        if grave:
            row = min(grave, key=lambda row: row.with_m_s)
            asked = " and ".join(one.text() for one in self.wanted)
            what = "With the stated air release the air through the open door is not fast enough for all that is asked"
            yield Finding(self.state(row), what, f"{_speed(row.with_m_s)} with the fire on storey {row.level} ({row.case})", asked, NETWORK,
                          self._larger(), caused_by="air release")  # fmt: skip
        if self.shut is not None and not inside(self.shut.room_pa):
            out = "puts" if inside(self.shut.alone_room_pa) else "leaves"
            yield Finding("wrong", f"An open air release {out} a shut stair door out of its window", self.shut_said(),
                          "the floor is open to outdoors, and what it took of the stair's pressure now lies on its door", NETWORK,
                          "another set point, or relief; tried with the release open and every door shut")  # fmt: skip

    def _larger(self):
        told = []
        for one in self.wanted:
            area = self.needed_m2(one)
            told.append(f"{_speed(one.speed_m_s)} needs {with_unit(area, 'area', 2)}" if np.isfinite(area)
                        else f"no free area tried gives {_speed(one.speed_m_s)} with this fan")  # fmt: skip
        return "; ".join(told)


def stated(release):
    """A `Release` in words."""
    if release.kind == "none":
        return KINDS["none"]
    where = f" on storeys {', '.join(map(str, release.levels))}" if release.levels else " on every storey with a stair door"
    return f"{KINDS[release.kind]}, {with_unit(release.free_m2, 'area', 2)} free{where}"


def air_release(tower, window, cases, sets):
    """The speed through the open door of the fire floor with and without air release, and the area that every speed asked for needs.

    tower: `Tower`; window: `SiteWindow`; cases: of `Case`; sets: of `Criteria`, the site's own first. Where none of them asks for a speed,
    those of the only figure in print that we know are wanted. Returns `AirRelease`. Limits: those of `model.air.release`.
    """
    site, opened = tower.site, [(case, level) for case in cases for level in case.open_doors]
    wanted, told = _wanted(sets)
    conditions = conditions_of(site, [case for case, _ in opened]) if opened else None
    storeys = np.array([tower.storey(level) for _, level in opened], int)
    needed = _needed(tower, conditions, storeys, wanted) if opened else ()
    given = site.release
    there = np.array([given is not None and given.on(level) for _, level in opened], bool)
    with_m_s, held = [None] * len(opened), np.ones(len(opened), bool)
    if there.any():
        rows = release_open(conditions.rows(np.flatnonzero(there)), storeys[there], given.free_m2)
        found = tower.hold(rows)
        speeds = door_speeds(tower, found.air, rows)[np.arange(len(rows)), storeys[there]]
        held[there] = found.held
        for place, speed in zip(np.flatnonzero(there), speeds, strict=True):
            with_m_s[place] = float(speed)
    rows = tuple(
        FireFloor(
            case.name,
            case.name.removesuffix(f", {case.stair}"),
            level,
            float(needed[0].without_m_s[place]),
            with_m_s[place],
            bool(held[place]),
            place,
        )
        for place, (case, level) in enumerate(opened)
    )
    study = AirRelease(given, wanted, rows, needed, _by_hand(tower, storeys, needed), None, bool(_own(sets[0])), _blank(sets[0]), told)
    return study if not rows else AirRelease(**(vars(study) | {"shut": _shut(tower, window, cases, study)}))


def _own(criteria):
    return [speed for speed in criteria.open_door_speeds if speed.limit is not None]


def _blank(criteria):
    return any(speed.blank for speed in criteria.open_door_speeds)


def _wanted(sets):
    """Tuples of `Wanted` and of sentences."""
    told, found = [], {}
    for one in sets:
        if _blank(one):
            told.append(f"{one.name}: its speeds are blanks to be filled in; no area is worked out for them.")
        elif not _own(one):
            told.append(f"{one.name} asks for no speed through an open door.")
        for speed in _own(one):
            found.setdefault(speed.limit, Wanted(speed.limit, one.name, speed.use))
    if not found:
        found = {speed.limit: Wanted(speed.limit, "least in print that we know", speed.use) for speed in speeds_asked(sets[0])[0]}
    return tuple(found[speed] for speed in sorted(found)), tuple(told)


def _needed(tower, conditions, storeys, wanted):
    """Of `ReleaseNeeded` by wanted speed, all of them searched at once."""
    count, many = len(conditions), len(wanted)
    found = free_area_needed(
        tower, conditions.rows(np.tile(np.arange(count), many)), np.tile(storeys, many), np.repeat([one.speed_m_s for one in wanted], count)
    )
    parts = [slice(number * count, (number + 1) * count) for number in range(many)]
    return tuple(ReleaseNeeded(**{name: value[part] for name, value in vars(found).items()}) for part in parts)


def _by_hand(tower, storeys, needed):
    """The areas [wanted, rows] by hand for the speeds that the network reached, NaN where it found none."""
    site, by_hand = tower.site, np.full((len(needed), len(storeys)), np.nan)
    coefficient = site.leakage.discharge_coefficient if site.release is None else site.release.coefficient(site.leakage)
    for number, one in enumerate(needed):
        for place in np.flatnonzero((one.state == FOUND) & (one.stair_pa > 0)):
            door = site.doors[site.opening_stair_door(site.storeys[storeys[place]])]
            by_hand[number, place] = door_formulas.release_area(
                one.speed_m_s[place], one.stair_pa[place], door.width_m, door.height_m, door.flow_area_m2, coefficient
            )
    return by_hand


def _shut(tower, window, cases, study):
    """The `ShutDoor` with the least room, over all shut cases and fire floors, with the stated area or that of the least wanted speed."""
    area = study.given.free_m2 if study.given is not None else study.needed_m2(study.wanted[0])
    shut = [case for case in cases if case.shut]
    fires = [place for place, one in enumerate(tower.site.storeys) if one.stair_door and one.stair_door_count
             and (study.given is None or study.given.on(one.level))]  # fmt: skip
    if not (shut and fires and np.isfinite(area) and area > 0):
        return None
    alone = conditions_of(tower.site, shut)
    rows = Conditions.joined(release_open(alone, [fire] * len(shut), area) for fire in fires)
    dp, before = tower.hold(rows).air.door_dp_pa, tower.hold(alone).air.door_dp_pa
    least, most = window.by_storey(tower.levels, "stair door")
    room = np.minimum(dp - least, most - dp)
    there = np.array([bool(one.stair_door and one.stair_door_count) for one in tower.site.storeys])
    room = np.where(there, room, np.inf)
    if not np.isfinite(room).any():
        return None
    row, storey = np.unravel_index(np.nanargmin(room), room.shape)
    case = row % len(shut)
    fire, level = tower.levels[fires[row // len(shut)]], tower.levels[storey]
    ends = float(least[storey]), float(most[storey])
    return ShutDoor(shut[case].name, fire, level, float(dp[row, storey]), *ends, float(before[case, storey]), area)


def _speed(value_m_s):
    return with_unit(value_m_s, "speed", (2, 0))
