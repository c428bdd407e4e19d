"""Open doors: how fast the air goes out through each, where the floor's air gets out again, and what the other doors have meanwhile.

Pressure across an open door says nothing: with no way out of the floor it is nearly zero, the floor fills up, and smoke meets no air. The
speed is told in every case with an open door, judged where the standard asks for one, stated where it asks for none.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import air as air_formulas
from helpers.formulas import doors as door_formulas
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import Criteria, criteria_of
from helpers.studies.cases import conditions_of, levels_text
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.exits import exit_open_of, exits_alone, exits_open
from helpers.studies.doors.window import USES
from helpers.studies.report import NETWORK, Finding, Table, fine
from helpers.studies.status import status_of, word_of, worst_of
from helpers.units.limits import limit_text
from helpers.units.said import with_unit, written_out

MISSING_RELEASE = "Missing air release: hardly any air goes out through an open stair door"
NEAR_SHARE = 0.1  # of what a standard asks: less room than that is looked at, no grid of an anemometer reads closer; no source
HALF_DOORWAY = 0.5  # of an open stair door's area, by which ASHRAE counts it: vortices and people in it (Cresci 1973; memory)
OUT_SHARE = 0.5  # of the air through an open door should leave the building on that floor; ours
AREAS_M2 = (0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)  # of air release tried on a floor
_LEAST_IN_PRINT = "en12101_6_2005"  # where a standard asks for no speed, one below its least is looked at: no other is in print


@dataclass(frozen=True)
class OpenDoor:
    """One open door in one case: dp_pa across it, flow_m3_s out through the doorway, velocity_m_s the mean over the leaf.

    floor_pa: of the floor over outdoors (None for a final exit), release_m3_s: what leaves that floor to outdoors; stair_pa over outdoors
    there. loop: whether the fan holds. asked: whether a speed is asked of it: where air release stands open, on that floor alone.
    """

    case: str
    use: str
    level: int
    door: str
    dp_pa: float
    flow_m3_s: float
    velocity_m_s: float
    floor_pa: float | None
    release_m3_s: float | None
    stair_pa: float
    loop: str
    asked: bool = True

    @property
    def place(self):
        """The door in words."""
        return f"{self.use} {self.level}"


@dataclass(frozen=True)
class OpenDoors:
    """All open doors of some cases under one standard.

    exits: `ExitOpen` of the cases with a final exit open, and of these with the stair doors shut; half: `OpenDoor` with the least speed
    where half of every stair doorway counts, None where none stands open; release: (levels, area [m2], speed reached [m/s], room of
    the worst shut door [Pa]) tried for the slowest door that is short of the least speed, None where none is or nothing tried does it;
    extracts: whether the fan takes air out.
    """

    criteria: Criteria
    rows: tuple
    exits: tuple
    half: OpenDoor | None
    release: tuple | None
    extracts: bool = False

    @property
    def speeds(self):
        """See `speeds_asked`."""
        return speeds_asked(self.criteria)

    @property
    def blank(self):
        """Whether the standard asks for a speed that nobody has filled in."""
        return any(speed.blank for speed in self.criteria.open_door_speeds)

    def state(self, row):
        """Key of the status of an open door by the lowest speed that counts; "attention" where some classes lack, or NEAR_SHARE does."""
        if row.dp_pa < 0:
            return "wrong"  # air, and smoke, come in
        if not row.asked:
            return ""
        (least, *more), own = self.speeds
        if status_of(row.velocity_m_s, least.limit, kind="least") == "wrong":
            return "wrong" if own else "attention"
        if self.blank:
            return "open"
        near = status_of(row.velocity_m_s, least.limit, NEAR_SHARE * least.limit, "least") if own else "good"
        return "attention" if own and any(row.velocity_m_s < speed.limit for speed in more) else near

    def case_state(self, name):
        """Key of the status of a case's open doors, "" where none stands open or none is judged."""
        exits = (self._exit_state(one) for one in self.exits if one.case == name)
        return worst_of([*(self.state(row) for row in self.rows if row.case == name), *exits])

    def against(self, held):
        """What speaks against a set point by the air through open doors, in words, the worst of each kind; empty where nothing does.

        held: names of the cases that the loop holds; in the others it is the fan that is not enough. A speed or a pressure that is a blank,
        or that only some classes ask for where nobody has stated the class, is told elsewhere and no reason.
        """
        rows = [row for row in self.rows if row.case in held and self.state(row) == "wrong"]
        inward = min((row for row in rows if row.dp_pa < 0), key=lambda row: row.dp_pa, default=None)
        slow = min((row for row in rows if row.dp_pa >= 0), key=lambda row: row.velocity_m_s, default=None)
        exits = [one for one in self.exits if one.held and self._exit_state(one) == "wrong"]
        told = []
        if inward is not None:
            told.append(f"air comes into the stair through open {inward.place} ({inward.case}), and smoke with it")
        if slow is not None:
            speed, asked = _speed(slow.velocity_m_s), _speed(self.speeds[0][0].limit)
            told.append(f"through open {slow.place} the air goes out at {speed} ({slow.case}), {self.criteria.name} asks for {asked}")
        if exits:
            said, asked = min(exits, key=lambda one: one.least_pa).said(), fine(self.criteria.least_exit_open.limit)
            told.append(f"with the final exit open it has {said}, {self.criteria.name} asks for {asked}")
        return tuple(told)

    def _exit_state(self, one):
        return one.state(self.criteria.least_exit_open)

    def verdict(self):
        """The open doors in plain words."""
        stair = [row for row in self.rows if row.asked]
        if not stair:
            return "No stair door stands open in these cases: no air through an open door was looked at."
        slow = min(stair, key=lambda row: row.velocity_m_s)
        speed, flow = _speed(slow.velocity_m_s), with_unit(slow.flow_m3_s, "flow")
        floor, asked = fine(slow.floor_pa), self._asked_said()
        return (
            f"Least speed through an open door: {speed} ({flow}) at {slow.place}, {slow.case}; that floor then stands {floor} over "
            f"outdoors and lets {with_unit(slow.release_m3_s, 'flow')} out. {asked}"
        )

    def table(self):
        """Every open door in every case."""
        rows = tuple(
            (row.case, row.place, fine(row.dp_pa), with_unit(row.flow_m3_s, "flow"), _speed(row.velocity_m_s),
             "" if row.floor_pa is None else fine(row.floor_pa),
             "" if row.release_m3_s is None else with_unit(row.release_m3_s, "flow"), fine(row.stair_pa), row.loop)
            for row in self.rows
        )  # fmt: skip
        columns = ("Case", "Open door", "Across it", "Air through it", "Speed", "Floor over outdoors", "Floor's air out",
                   "Stair over outdoors", "Loop")  # fmt: skip
        note = f"Mean over the whole leaf; the network takes the leaf's free area. {self._asked_said()} {self.half_said()}".strip()
        return Table("open doors", "Air through open doors", columns, rows, tuple(self.state(row) for row in self.rows), note)

    def half_said(self):
        """The least speed with every stair doorway counted by half, against what is asked, in a sentence; "" where none stands open."""
        if self.half is None:
            return ""
        speed = f"{_speed(self.half.velocity_m_s)} at {self.half.place}, {self.half.case}"
        held = f": {word_of(state)}" if (state := self.state(self.half)) else ""
        source = "ASHRAE does (Cresci 1973; from memory, not verified)"
        return f"With half of each stair doorway counted, as {source}, the least speed is {speed}{held}."

    def findings(self):
        """Air the wrong way, too little speed, no way out of the floor, too little pressure while an exit stands open."""
        yield from self._inward()
        yield from self._slow()
        yield from self._by_half()
        yield from self._stays_inside()
        yield from self._with_exit()
        if self.blank:
            yield Finding("open", f"{self.criteria.name}: the speed through an open door is a blank", "", "its text was not at hand", "",
                          "fill it in from the text, in data/criteria")  # fmt: skip

    def _inward(self):
        inward = sorted((row for row in self.rows if row.dp_pa < 0), key=lambda row: row.dp_pa)
        if not inward:
            return
        row, more = inward[0], f"; {len(inward)} open doors in all" if len(inward) > 1 else ""
        what, figure = f"Through open {row.place} air comes into the stair", f"{fine(row.dp_pa)} ({row.case}){more}"
        remedy = "more air, or fewer doors open at once; the design says how many"
        if self.extracts:
            remedy = "a fan that supplies: one that extracts draws smoke in through every open door"
        yield Finding("wrong", what, figure, "smoke would come with it", NETWORK, remedy)

    def _slow(self):
        stair = [row for row in self.rows if row.asked and row.dp_pa >= 0]
        short = [row for row in stair if self.state(row) in ("wrong", "attention")]
        if not short:
            if stair:
                slow = min(stair, key=lambda row: row.velocity_m_s)
                state = "open" if self.blank else "good"
                yield Finding(state, "Air goes out through every open stair door", f"at least {_speed(slow.velocity_m_s)}", "", NETWORK)
            return
        slow = min(short, key=lambda row: row.velocity_m_s)
        figure = (
            f"{_speed(slow.velocity_m_s)} at {slow.place} ({slow.case}); {self._asked_said()} The floor stands "
            f"{fine(slow.floor_pa)} over outdoors, the stair {fine(slow.stair_pa)}"
        )
        (least, *_), _own = self.speeds
        closed = status_of(slow.velocity_m_s, least.limit, kind="least") == "wrong"
        what = MISSING_RELEASE if closed else "Hardly more speed than asked, or not enough for every class"
        fills = f"the floor lets {with_unit(slow.release_m3_s, 'flow')} out again, so it fills up to nearly the stair's pressure"
        why = fills if closed else "the doorway takes what fan and release path give"
        state = worst_of(map(self.state, short))
        yield Finding(state, what, figure, why, f"{least.said}; {NETWORK}", self._release_said(), key="air release")

    def _by_half(self):
        """A speed that is too slow with half of each doorway, and slower than with the whole: past a limit, whatever the whole ones are. A
        standard's own speed that is missed so is missed."""
        state = "" if self.half is None else self.state(self.half)
        if state not in ("wrong", "attention"):
            return
        whole = min((row for row in self.rows if row.asked), key=lambda row: row.velocity_m_s, default=None)
        if whole is not None and self.half.velocity_m_s < whole.velocity_m_s:
            what = f"With half of each doorway counted the air through an open door is {'too ' * (state == 'wrong')}slow"
            least = f"{_speed(self.half.velocity_m_s)} at {self.half.place} ({self.half.case})"
            more = f"{least}. {self.half_said()} {self._whole_said(whole)}"
            helps = "more air, or more air release; no size of it was tried with half doorways"
            yield Finding(state, what, more, self._asked_said(), NETWORK, helps, possible=state != "wrong",
                          caused_by="air release")  # fmt: skip

    def _whole_said(self, whole):
        """The least speed with whole doorways, in words; where a doorway of half the size changes no figure, why not."""
        said = f"With the whole doorway: {_speed(whole.velocity_m_s)} at {whole.place}, {whole.case}"
        alike = written_out(_speed(whole.velocity_m_s)) == written_out(_speed(self.half.velocity_m_s))
        return f"{said}: the same, as the air is held back behind the doorway, on its way out of the floor" if alike else said

    def _stays_inside(self):
        """Doors whose air goes on through lift shaft and slabs to other floors, and not out of the building."""
        inside = [row for row in self.rows if row.asked and row.dp_pa > 0 and row.release_m3_s < OUT_SHARE * row.flow_m3_s]
        if inside:
            row = min(inside, key=lambda row: row.release_m3_s / row.flow_m3_s)
            through, out = (with_unit(flow, "flow") for flow in (row.flow_m3_s, row.release_m3_s))
            figure = f"{through} through {row.place}, {out} of it to outdoors there ({row.case})"
            yield Finding("attention", "Most of the air through an open door stays in the building", figure, "it goes on to lift shaft and "
                          "other floors, and would take the smoke along", NETWORK, "air release on the floor; a lobby before the lift",
                          caused_by="air release")  # fmt: skip

    def _with_exit(self):
        asked = self.criteria.least_exit_open
        by_state = {self._exit_state(one): one for one in sorted(self.exits, key=lambda one: -one.least_pa)}
        if state := next((state for state in ("wrong", "attention") if state in by_state), ""):
            figure = f"{by_state[state].said()}, {limit_text(asked.limit, 'pressure', 'least')} asked for"
            some = f", which only some classes ask (classes {asked.classes}, with every stair door shut {asked.doors_shut_for})"
            what = f"With the final exit open a shut stair door has too little{some * (state == 'attention')}"
            yield Finding(state, what, figure, "the open exit takes the air", asked.said, "more air, or a lobby before the exit")

    def _asked_said(self):
        (least, *more), own = self.speeds
        if self.blank:
            return f"{self.criteria.name} asks for a speed; its figure is blank here."
        said = ", ".join(f"{_speed(speed.limit)} for {speed.use} (classes {speed.classes})" for speed in (least, *more))
        if own:
            return f"{self.criteria.name} asks for {said}."
        return f"{self.criteria.name} asks for none; the least in print that we know is {_speed(least.limit)} ({least.said})."

    def _release_said(self):
        if self.release is None:
            return "air release on the floor (vents, an extract), sized with the fan; none that was tried does it with this fan"
        levels, area, speed, room = self.release
        size = with_unit(area, "area", 2)
        floors = f"each floor whose door is open ({levels_text(levels)})"
        said = f"air release of {size} to outdoors on {floors}: {_speed(speed)} by this fan"
        if room < 0:
            return f"{said}, but then a shut door is {fine(-room)} outside its window: a larger fan as well"
        return f"{said}, every shut door inside its window; tried in this case alone"


def speeds_asked(criteria):
    """The speeds asked for through an open stair door, lowest first, and whether they are the standard's own: where it asks for none, those
    of the only figure in print that we know."""
    own = [speed for speed in criteria.open_door_speeds if speed.limit is not None]
    asked = own or [speed for speed in criteria_of(_LEAST_IN_PRINT).open_door_speeds if speed.limit is not None]
    return sorted(asked, key=lambda speed: speed.limit), bool(own)


def open_doors(tower, window, cases, held):
    """Speed, flow and release path of every open door in some cases.

    tower: `Tower`; window: `SiteWindow`; cases: of `Case`; held: the `HeldAir` in these cases, a row each. Returns `OpenDoors`.
    Equations: the doorway as orifice, v = Q / (W H) (formulas.doors). Limits: a mean over the doorway, one leaf, one temperature a side; no
    smoke pushing back; release by the leaks the site file states.
    """
    conditions = conditions_of(tower.site, cases)
    out = _release_flow(tower, conditions, held.air)
    found = [_of_case(tower, held, place, case, conditions, out) for place, case in enumerate(cases)]
    rows, exits = tuple(row for rows, _ in found for row in rows), exits_open(tower, window.criteria, cases, held)
    told = OpenDoors(window.criteria, rows, exits, _slowest_by_half(tower, window, cases), None, tower.site.fan.sign < 0)
    return replace(told, release=_release_tried(tower, window, cases, told))


def air_of_cases(tower, criteria, cases, held, places=None):
    """The same of each case by itself, without remedies and halves: an `OpenDoors` for each row of `held`, or for those in these places."""
    conditions = conditions_of(tower.site, cases)
    out, extracts = _release_flow(tower, conditions, held.air), tower.site.fan.sign < 0
    places = range(len(cases)) if places is None else places
    found = [_of_case(tower, held, place, cases[place], conditions, out) for place in places]
    return tuple(OpenDoors(criteria, rows, exits, None, None, extracts) for rows, exits in found)


def exits_alone_air(tower, criteria, cases):
    """The same as `air_of_cases`, of what `exits_alone` adds to the cases."""
    alone = exits_alone(criteria, cases)
    return air_of_cases(tower, criteria, alone, tower.hold(conditions_of(tower.site, alone))) if alone else ()


def _of_case(tower, held, place, case, conditions, out):
    """(of `OpenDoor`, of `OpenDoors.exits`) of one row."""
    asked = (("stair door", case.open_doors), ("final exit", case.open_exits))
    rows = [_row(tower, held, place, case, use, level, conditions, out) for use, levels in asked for level in levels]
    return tuple(rows), exit_open_of(tower, held, place, case)


def _row(tower, held, place, case, use, level, conditions, out):
    storey, air = tower.storey(level), held.air
    released = tower.site.release if conditions.release_m2[place].any() else None
    exit_ = use == "final exit"
    dp = float(air.stair_pa[place, storey] if exit_ else air.door_dp_pa[place, storey])
    door = tower.site.storeys[storey].final_exit_door if exit_ else tower.site.opening_stair_door(tower.site.storeys[storey])
    speed = door_speed(tower, air, conditions, place, level, use)
    leaf = tower.site.doors[door].width_m * tower.site.doors[door].height_m
    floor, release = (None, None) if exit_ else (float(air.floor_pa[place, storey]), float(out[storey, place]))
    asked = not exit_ and (released is None or bool(conditions.release_m2[place, storey]))
    told = speed * leaf, speed, floor, release, float(air.stair_pa[place, storey]), str(held.state[place]), asked
    return OpenDoor(case.name, use, level, door, dp, *told)


def door_speed(tower, air, conditions, place, level, use="stair door"):
    """Mean speed [m/s] over the leaf of an open door of one use (of several kinds the widest), out of the stair, in one row (`place`)."""
    storey, behind = tower.storey(level), {"final exit": "outdoor", "lobby door": "lobby"}.get(use, "floor")
    there, field = tower.site.storeys[storey], next(field for field, one in USES.items() if one == use)
    door = tower.site.doors[tower.site.opening_stair_door(there) if field == "stair_door" else getattr(there, field)]
    dp = air.stair_pa[place, storey] if behind == "outdoor" else across_by_use(air)[use][place, storey]
    whole = door_formulas.open_door_flow(dp, door.width_m, door.height_m, _densities(tower, conditions, place)[behind][storey])
    flow = whole * door.flow_area_m2 / (door.width_m * door.height_m)
    return float(door_formulas.open_door_velocity(flow, door.width_m, door.height_m))


def _densities(tower, conditions, place):
    """Density [storeys] of the air in a doorway: the mean of both sides, as the network takes it."""
    of = {name: np.broadcast_to(air_formulas.density(getattr(conditions, f"{name}_c")[place], tower.pressure_pa), len(tower.levels))
          for name in ("outdoor", "stair", "floor", "lobby")}  # fmt: skip
    return {"outdoor": (of["stair"] + of["outdoor"]) / 2, "lobby": (of["lobby"] + of["floor"]) / 2,
            "floor": (of["stair"] + np.where(tower.lobby, of["lobby"], of["floor"])) / 2}  # fmt: skip


def _release_flow(tower, conditions, air):
    """What every floor lets out to outdoors through facade and vents [storeys, conditions], m3/s at the floor's density."""
    network = tower.network(conditions, air.speed_hz / tower.site.fan.reference_speed_hz)
    pressure = np.stack([getattr(air, f"{space}_pa").T for space in tower.spaces])
    floor, out = tower.spaces.index("floor"), np.zeros(pressure.shape[1:])
    for opening in network.openings:
        if getattr(opening, "outside", None) is not None and opening.a == floor:
            out[opening.first : opening.last] += opening.law.at(opening.difference(pressure))[0]
    return out / np.broadcast_to(air_formulas.density(conditions.floor_c, tower.pressure_pa), out.shape)


def _slowest_by_half(tower, window, cases):
    """`OpenDoor` with the least speed where half of every stair doorway counts; None where no stair door stands open."""
    site, open_cases = tower.site, [case for case in cases if case.open_doors]
    names = {name for storey in site.storeys for name in storey.stair_doors}
    if not open_cases or not names:
        return None
    halved = Tower(site.with_changes(doors={name: {"open_area_m2": HALF_DOORWAY * site.doors[name].flow_area_m2} for name in names}))
    held = halved.hold(conditions_of(halved.site, open_cases))
    rows = [row for one in air_of_cases(halved, window.criteria, open_cases, held) for row in one.rows if row.asked]
    return min(rows, key=lambda row: row.velocity_m_s, default=None)


def _release_tried(tower, window, cases, found):
    """A release on the open doors' floors in the slowest case, with the site's own fan: the least of AREAS_M2 that does."""
    (least, *_), _own = found.speeds
    short = [row for row in found.rows if row.asked and row.velocity_m_s < least.limit]
    if not short:
        return None
    slow = min(short, key=lambda row: row.velocity_m_s)
    case = next(case for case in cases if case.name == slow.case)
    lows, tops = window.by_storey(tower.levels, "stair door")
    shut = ~np.isin(tower.levels, case.open_doors)
    for area in AREAS_M2:
        tried = Tower(with_release(tower.site, case.open_doors, area))
        held = tried.hold(conditions_of(tried.site, [case]))
        dp = held.air.door_dp_pa[0]
        speed = door_speed(tried, held.air, conditions_of(tried.site, [case]), 0, slow.level)
        if speed >= least.limit:
            room = float(np.min(np.where(shut, np.minimum(dp - lows, tops - dp), np.inf)))
            return case.open_doors, area, speed, room
    return None


def with_release(site, levels, area_m2):
    """The site with so much more free area from some floors to outdoors."""
    return site.with_changes(
        storeys=[{"extra_leak_m2": one.extra_leak_m2 + area_m2} if one.level in levels else {} for one in site.storeys]
    )


def _speed(value_m_s):
    return with_unit(value_m_s, "speed", (2, 0))
