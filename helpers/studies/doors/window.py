"""The pressure window: the least that keeps smoke out and the most that lets people out, door by door, and which doors govern."""

from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import Criteria, criteria_for, criteria_of
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import begun, levels_text
from helpers.studies.doors.kinds import DoorWindow, worst_of_kinds
from helpers.studies.report import Finding, Shown, limit_text
from helpers.units.said import shown_apart, with_unit

USES = {"stair_door": "stair door", "lobby_door": "lobby door", "final_exit_door": "final exit"}
_MECHANICS = "moments about the hinge, of closer and pressure (mechanics)"
_FORCE_SOURCE = "opening force as in the building code of New York City, 909.6.2 (checked in public text by a reviewer in 2026)"


@dataclass(frozen=True)
class SiteWindow(Shown):
    """Windows of all doors, and the stair doors that govern: `least` asks for the most, `most` bears the least (None: nothing asked).

    criteria: of the standard that the site is judged by.
    """

    doors: tuple[DoorWindow, ...]
    least: DoorWindow | None
    most: DoorWindow | None
    criteria: Criteria

    @property
    def least_pa(self):
        """Least pressure across the stair doors that suits all of them, None where none asks for any."""
        return None if self.least is None else self.least.least_pa

    @property
    def most_pa(self):
        """Most pressure across the stair doors that all of them bear, None where none has a limit."""
        return None if self.most is None else self.most.most_pa

    @property
    def width_pa(self):
        """Room between the two, negative where there is none; None where an end is open."""
        return None if None in (self.least_pa, self.most_pa) else self.most_pa - self.least_pa

    @property
    def feasible(self):
        """Whether one pressure could suit all stair doors, and every other door has a window of its own."""
        return (self.width_pa is None or self.width_pa > 0) and all(door.feasible for door in self.doors)

    def by_storey(self, levels, use, doors_open=False):
        """Least and most pressure [storeys] of one use of doors: -inf and inf where no door of that use is limited; doors_open: while some
        door of the stair stands open."""
        least, most = np.full(len(levels), -np.inf), np.full(len(levels), np.inf)
        for door in self.doors:
            there = np.isin(levels, door.levels) & (door.use == use)
            asked = door.open_least_pa if doors_open else door.least_pa
            least[there] = -np.inf if asked is None else asked
            most[there] = np.inf if door.most_pa is None else door.most_pa
        return least, most

    def recloses_by_storey(self, levels, use):
        """Pressure [storeys] up to which one use of doors, once opened, would close again: inf where that is no question."""
        most = np.full(len(levels), np.inf)
        for door in self.doors:
            if door.use == use and door.recloses_pa is not None:
                most[np.isin(levels, door.levels)] = door.recloses_pa
        return most

    @property
    def shown(self):
        """Most, least and what lies between them, as they are written, so that they add up; "" for an end that is open."""
        most = "" if self.most_pa is None else limit_text(self.most_pa, "pressure", "most")
        least = "" if self.least_pa is None else limit_text(self.least_pa, "pressure", "least")
        if self.width_pa is None or self.width_pa <= 0:
            return most, least, "" if self.width_pa is None else with_unit(self.width_pa, "pressure")
        return most, least, shown_apart(most, least)

    def verdict(self):
        """The window and the doors that govern it, in plain words."""
        if self.least is None and self.most is None:
            return "No stair door states a minimum pressure or a force limit: nothing bounds the pressure but the code you work to."
        if self.least is None or self.most is None:
            return f"{self._ends()} The other end is open: {self._open_end()}."
        if self.width_pa <= 0:
            return (
                f"There is no pressure that suits all stair doors. {self._ends()} The closer, the leaf or the minimum pressure must "
                "change before any fan is chosen."
            )
        return f"{self._ends()} That leaves {self.shown[2]} for stack effect, wind, open doors and errors."

    def findings(self):
        """Doors without a window, and figures of the site file that are easier than the standard's."""
        of_doors = (finding for door in self.doors for finding in (*_impossible(door), *_unlimited(door, self.criteria)))
        return (*of_doors, *_of_standard(self.criteria))

    def must_change(self):
        """What must change where no pressure suits all doors, in words: at the doors that have none, else at those that bear the least."""
        return _must_change(*([door for door in self.doors if not door.feasible] or [self.most]))

    def governing(self, end):
        """The doors that govern the "least" or the "most", in words; doors of one kind are named once."""
        levels = {}
        for door in self.doors:
            if door.use == "stair door" and getattr(door, f"{end}_pa") == getattr(self, f"{end}_pa"):
                levels.setdefault(door.door, []).extend(door.levels)
        return " and ".join(f'stair door "{name}", {levels_text(there)}' for name, there in levels.items())

    def _ends(self):
        ends = [(end, door) for end, door in (("least", self.least), ("most", self.most)) if door is not None]
        said = [f"At {end} {self.shown[end == 'least']} ({self.governing(end)}): {door.reason(end)}." for end, door in ends]
        return " ".join(said)

    def _open_end(self):
        return "no stair door states a minimum pressure" if self.least is None else "no stair door states a force limit"


def pressure_window(site):
    """Pressure window of every door of a site that a person works by hand or that has a minimum pressure: the stricter of the site file and
    of the standard it names, door by door. Every study, panel and page asks this one. Returns `SiteWindow`.

    Least: the door's `minimum_dp` of the site file, and for stair doors what the standard asks (while some door stands open:
    `DoorWindow.open_least_pa`). Most: the pressure at which the opening force reaches the force limit of file or standard, and for stair
    doors the most that the standard allows. A door that opens with the pressure is limited at both ends by other things: above, its closer
    no longer holds it shut (no upper end where a latch does that; `DoorWindow.relatch_pa` then tells up to where it shuts again); below
    (stair under less pressure than the other side), it takes more than the force limit to open. Of several kinds on a storey the worst:
    `kinds.worst_of_kinds`. What the closer gives back is a box, `boxes(site)`, and the low end of it counts. Limits: an even pressure on
    the leaf. A blank of the standard narrows nothing: it is told as a blank, and nothing is laid down before it is filled in. A step of
    opening whose force the air does not add to narrows nothing either.
    """
    criteria = criteria_for(site)
    placed, shares = [], boxes(site)
    for storey in site.storeys:
        for kind, use in USES.items():
            name = getattr(storey, kind)
            if name and (kind != "stair_door" or storey.stair_door_count) and (kind != "lobby_door" or storey.lobby):
                kinds = tuple(storey.stair_doors) if kind == "stair_door" else (name,)
                placed.append((use, kinds, _across(use, storey), storey.level))
    groups = groupby(sorted(placed), key=lambda place: place[:3])
    found = []
    for (use, names, across), group in groups:
        levels, kinds = [p[3] for p in group], [(site.doors[name], name, shares.get(f"doors.{name}.closing_share")) for name in names]
        windows = [_bound(one, _door_window(one, name, use, across, levels, share), criteria) for one, name, share in kinds]
        found.append(worst_of_kinds(windows))
    if not criteria_of(site.standard).by_building_code:  # another code's paragraph has no place among its figures
        found = [
            replace(one, **{end: getattr(one, end).replace(_FORCE_SOURCE, _MECHANICS) for end in ("least_source", "most_source")})
            for one in found
        ]
    found.sort(key=lambda door: list(USES.values()).index(door.use))
    limited = [door for door in found if (door.least_pa, door.most_pa) != (None, None)]
    stair = [door for door in limited if door.use == "stair door"]
    least = max((door for door in stair if door.least_pa is not None), key=lambda door: door.least_pa, default=None)
    most = min((door for door in stair if door.most_pa is not None), key=lambda door: door.most_pa, default=None)
    return SiteWindow(tuple(found), least, most, criteria)


def handle_force_n(door, dp_pa):
    """Force [N] that opens a `Door` of the site file under the pressure difference [Pa] that counts for its window (`DoorWindow.across`).

    Below zero: the pressure pushes the leaf open, with that force. None for a door that nobody works by hand. Source and limits: as
    formulas.doors.opening_force.
    """
    if not door.worked_by_hand:
        return None
    return float(door_formulas.opening_force(-dp_pa if door.opens == "with pressure" else dp_pa, *door.leaf))


def handle_limit_n(door, criteria):
    """Most force [N] at the handle that may be asked to set a `Door` in motion: the stricter of the site file's and the standard's.

    None for a door that nobody works by hand. A standard that measures at the latch edge is brought to the handle by moments about the
    hinges; a blank of it narrows nothing.
    """
    if not door.worked_by_hand:
        return None
    force = criteria.motion_force
    if force is None or force.limit is None:
        return door.force_limit_n
    there = force.limit if force.at == "handle" else force.limit * door.width_m / (door.width_m - door.handle_to_edge_m)
    return min(door.force_limit_n, there)


def _bound(door, window, criteria):
    """The window of a door by the site file, narrowed to what the standard asks."""
    name, force, ends = criteria.name, handle_limit_n(door, criteria), {}
    least, most = criteria.least_doors_shut, criteria.most_doors_shut
    if window.use == "stair door":
        if least.limit is not None and not (window.least_pa is not None and window.least_pa >= least.limit):
            ends |= {"least_pa": least.limit, "least_because": f"{name} asks for it", "least_source": least.said}
            ends |= {"shut_alone": criteria.open_doors_apart}
        if most.limit is not None and not (window.most_pa is not None and window.most_pa <= most.limit):
            ends |= {"most_pa": most.limit, "most_because": f"{name} allows no more", "most_source": most.said, "capped": True}
    if force is not None and force < door.force_limit_n:
        tolerated, said = _tolerated(door, force), criteria.motion_force.said
        if window.opens_with_pressure:
            if door.minimum_dp_pa is None:  # its least is the air from outside that it opens against
                ends |= {"least_pa": max(-tolerated, ends.get("least_pa", -np.inf)), "least_source": said}
                ends |= {"least_because": f"{name} allows no more force to open it against air from the other side"}
        elif tolerated < ends.get("most_pa", window.most_pa):
            ends |= {"most_pa": tolerated, "most_because": f"{name} allows no more force to open it"}
            ends |= {"most_source": said, "capped": False}
    bound = replace(window, force_n=force)
    return replace(bound, of_file=bound, **ends) if ends else bound


def _across(use, storey):
    if use == "lobby door":
        return "lobby over floor"
    return "stair over outdoors" if use == "final exit" else f"stair over {'lobby' if storey.lobby else 'floor'}"


def _door_window(door, name, use, across, levels, share):
    with_pressure = door.opens == "with pressure"
    relatch = _relatch(door, share) if with_pressure and door.worked_by_hand else None
    least, least_reason, least_source = _least(door, name, with_pressure)
    most, most_reason, most_source = _most(door, name, relatch, share)
    return DoorWindow(
        name, use, across, tuple(levels), least, most, least_reason, most_reason, least_source, most_source, with_pressure,
        door.has_latch, relatch, _named(door, relatch), (share.low, share.high) if relatch else None,
    )  # fmt: skip


def _named(door, relatch):
    """Figures that the reasons name."""
    forces = (("limit", door.force_limit_n, "force"), ("closer", door.closer_force_n, "force")) if door.worked_by_hand else ()
    return (*forces, *((("surely", relatch[0], "pressure"), ("best", relatch[1], "pressure")) if relatch else ()))


def _relatch(door, share):
    """Pressures up to which the closer surely, and at the best, shuts the leaf again."""
    width, height, closer, handle = door.leaf
    return tuple(float(door_formulas.relatching_pressure(width, height, closer, end, handle)) for end in (share.low, share.high))


def _least(door, name, with_pressure):
    if door.minimum_dp_pa is not None:
        return door.minimum_dp_pa, "less would let smoke through the gaps", f'site file, doors "{name}", minimum_dp'
    if with_pressure and door.worked_by_hand:
        reason = "less would take over {limit} to open it against air from the other side"
        return -_tolerated(door, door.force_limit_n), reason, f'{_FORCE_SOURCE}; site file, doors "{name}"'
    return None, "no minimum pressure is stated for this door", f'site file, doors "{name}": no minimum_dp'


def _most(door, name, relatch, share):
    if not door.worked_by_hand:
        return None, "nobody works this door by hand: no force limit is stated", f'site file, doors "{name}": no force_limit'
    source = f'{_FORCE_SOURCE}; site file, doors "{name}"'
    if relatch is None:
        reason = "more would take over {limit} to open, {closer} of it for the closer"
        return _tolerated(door, door.force_limit_n), reason, source
    given = f"{share.low:.2f}" if share.low == share.high else f"{share.low:.2f} to {share.high:.2f}"
    closer = f"its closer, which pulls shut with {given} of its {{closer}}: surely up to {{surely}}, at the best up to {{best}}"
    source = f"{source}; what the closer gives back: {share.source}"
    if door.has_latch:
        return None, f"its latch holds it shut until somebody opens it; then it shuts again by {closer}", source
    return relatch[0], f"more would push it open against {closer}", source


def _tolerated(door, force_limit_n):
    return float(door_formulas.pressure_tolerated(force_limit_n, *door.leaf))


def _impossible(door):
    if not door.feasible:
        least, most = limit_text(door.least_pa, "pressure", "least"), limit_text(door.most_pa, "pressure", "most")
        why = f"{door.reason('least')}; {door.reason('most')}"
        figure = f"at least {least}, at most {most}"
        yield Finding("wrong", f"No pressure suits {door.place}", figure, why, door.most_source, _must_change(door))


def _must_change(*doors):
    return ", or ".join((*filter(None, dict.fromkeys(door.bears_more for door in doors)), "another minimum pressure by the code"))


def _unlimited(door, criteria):
    """Stair doors whose file states less than the standard asks; the code adopted on site decides."""
    if door.use != "stair door":
        return
    door = door.stated
    if door.opens_with_pressure:
        yield Finding("attention", f"{begun(door.place)} opens into the storey, so the pressure pushes it open", door.text(),
                      door.reason("most"), door.most_source,
                      "hang the leaf so that it opens into the stair, or see that its closer holds it shut")  # fmt: skip
    elif door.least_pa is None:
        yield Finding("attention", f"{begun(door.place)} states no minimum pressure", door.text(), door.reason("least"),
                      door.least_source, f"state what the code asks; {criteria.least_doors_shut.said}")  # fmt: skip
    elif criteria.least_pa is not None and door.least_pa < criteria.least_pa - 0.1:
        least, asked = (limit_text(value, "pressure", "least") for value in (door.least_pa, criteria.least_pa))
        yield Finding("attention", f"{begun(door.place)} asks for less than {criteria.name}", least,
                      f"the standard asks for {asked}, and that counts", criteria.least_doors_shut.said,
                      "raise minimum_dp, or state the code that allows it")  # fmt: skip
    if door.most_pa is None and not door.latched:
        yield Finding("attention", f"{begun(door.place)} states no force limit", "no upper end", door.reason("most"),
                      door.most_source,
                      f"state closer_force, handle_to_edge and force_limit; {_motion_said(criteria)}")  # fmt: skip


def _motion_said(criteria):
    """The force limit that the standard would set, in words."""
    force = criteria.motion_force
    return f"{criteria.name}: {force.shown()} to {force.step}, at the {force.at}, {force.said}" if force else criteria.name


def _of_standard(criteria):
    """A standard that is no longer in force, and figures of it that nobody has filled in."""
    if "superseded" in criteria.standing:
        yield Finding("attention", f"{criteria.title} is superseded", criteria.standing, "the site file names it", "catalogue entries",
                      "ask the authority having jurisdiction which edition holds, and name that one in the site file")  # fmt: skip
    if criteria.blanks:
        what, why = f"{criteria.title}: {len(criteria.blanks)} figures are blanks", "its text was not at hand, and none of it is guessed"
        yield Finding("open", what, ", ".join(criteria.blanks), why, "", "fill them in from the text, in data/criteria")
