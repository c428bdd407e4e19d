"""One judge over every line of the record's summary and of the settings schedule: what stands, what must not be entered, what comes first.

A set point stands where, in every weather and at every temperature of the stair, all doors closed, it is held, every door is inside the
window of the site file and of the site's own standard, every door that the pressure pushes open closes again, all low sides end in like
spaces, and no case that the design has to hold puts a door outside. What hangs on a set point, an action or a fan that does not stand is
not laid down: no gain, no fallback, no alarm, no fan.
"""

from dataclasses import replace
from functools import cached_property

import numpy as np

from helpers import units
from helpers.formulas import doors as door_formulas
from helpers.studies.door_forces import limit_where_measured
from helpers.studies.figures import listed
from helpers.studies.low_sides import unlike_low_sides
from helpers.studies.rules import compare_rules
from helpers.studies.window import NOT_CLOSING, SiteWindow

__all__ = ["ACTION", "FAN", "NOT_ENTERED", "SET_POINT", "TUNING", "Standing", "binding_window"]

SET_POINT, ACTION, FAN, TUNING = PARTS = ("the set point", "the action", "a fan that is enough", "a safe tuning")
NOT_ENTERED = "do not enter"


class Standing:
    """What of a `Design` stands. Everything is judged in the air of its own rule at the set point of its site file."""

    def __init__(self, design):
        self.design, self.site, self.rule = design, design.site, design.site.control.rule

    @cached_property
    def window(self):
        """The pressure window that binds: the site file's, the standard's, and the closers' of doors that the pressure pushes open."""
        return binding_window(self.site, self.design.window, closing=True)

    @cached_property
    def required(self):
        """The cases that the design has to hold, all doors closed among them."""
        needed = self.design.stated_duty.needed
        asked = [case for case, required in zip(needed.cases, needed.required, strict=True) if required]
        return tuple(dict.fromkeys((*self.design.shut_cases, *asked)))

    @cached_property
    def _result(self):
        return compare_rules(self.design.tower, self.window, self.required, rules=(self.rule,)).results[0]

    @property
    def _shut(self):
        return np.array([case.shut for case in self.required])

    @cached_property
    def unlike(self):
        """Findings that the low sides end in unlike spaces."""
        design = self.design
        shut = np.array([case.shut for case in design.cases])
        return unlike_low_sides(design.tower, design.own.held.air, shut, self.rule, self.site.control.weights)

    @property
    def set_point_stands(self):
        """Whether the file's set point may be entered."""
        found, shut = self._result, self._shut
        held = found.state == "held"
        return bool(found.good[shut].all() and found.inside[held].all()) and not self.unlike

    @property
    def action_stands(self):
        """Whether the file's action is the one that holds."""
        return self.design.acting.agrees

    @property
    def fan_stands(self):
        """Whether the stated fan holds every case that the design has to hold."""
        return self.design.stated_duty.holds

    @property
    def tuning_stands(self):
        """Whether there is a tuning to enter."""
        try:
            return self.design.tuning.recommended is not None
        except ValueError:
            return False

    @property
    def stands(self):
        """Whether set point, action and fan all do."""
        return self.set_point_stands and self.action_stands and self.fan_stands

    def first(self, *parts):
        """What has to be settled before a line that hangs on these parts (of PARTS) may be entered, in words; "" where nothing has.

        >>> Standing.named([SET_POINT, ACTION])
        'not laid down: first the set point and the action'
        """
        stands = {SET_POINT: "set_point_stands", ACTION: "action_stands", FAN: "fan_stands", TUNING: "tuning_stands"}
        missing = [part for part in PARTS if part in parts and part != TUNING and not getattr(self, stands[part])]
        if not missing and TUNING in parts and not self.tuning_stands:
            missing = [TUNING]
        return self.named(missing)

    def what_if(self, verdict, *parts):
        """A verdict as it stands; where it hangs on parts that do not stand, marked as what would be."""
        first = self.first(*parts)
        return f"Not to be entered, {first}. What was found for the site file's figures all the same: {verdict}" if first else verdict

    @staticmethod
    def named(missing):
        """The same for parts that are missing."""
        return f"not laid down: first {listed(missing)}" if missing else ""

    def set_point_against(self, system="Pa"):
        """Everything that speaks against the file's set point, in words; empty where it stands."""
        return tuple(self._against(system))

    def _against(self, system):
        yield from (f"{finding.what[0].lower()}{finding.what[1:]}" for finding in self.unlike)
        found = self._result
        told = {}
        for place in np.flatnonzero(~found.good & (self._shut | (found.state == "held"))):
            case = self.required[place]
            out = found.out_in(case)
            if found.state[place] != "held":
                told.setdefault("held", f"it is not held in {case.name}: the fan is {found.state[place]}")
            for door in out:
                key = door.door, door.use, door.too
                if key not in told or told[key][0] < door.by_pa:
                    told[key] = door.by_pa, self._door_said(door, system)
        yield from (said if isinstance(said, str) else said[1] for said in told.values())

    def _door_said(self, door, system):
        """A door that is out, by what it is out, and whose limit that is."""
        dp, limit = (units.show(value, "pressure", system) for value in (door.dp_pa, door.limit_pa))
        if dp == limit:
            dp, limit = (units.show(value, "pressure", system, 1 if system == "Pa" else 3) for value in (door.dp_pa, door.limit_pa))
        window = next(one for one in self.window.doors if one.door == door.door and one.use == door.use and door.level in one.levels)
        whose = _whose(window, "least" if door.too == "low" else "most", self.design.window)
        return f"the {door.use} of level {door.level} stands at {dp} ({door.case}){whose} {limit}"

    def others(self):
        """Ends [Pa] of the set points of the same rule that would pass; None where none does, or none can stand for unlike readings."""
        if self.unlike:
            return None
        tried = next((one for one in self.design.set_points if one.rule == self.rule), None)
        return None if tried is None else tried.works(self.design.inner_cases) or tried.works(self.design.shut_cases)

    def fallback_beyond(self, study):
        """Whether a way of falling back that goes to an agreed speed goes beyond the highest at which no shut door passes its limit."""
        return self.design.duty.full.beyond(study.speed_hz) != ""

    def action_against(self):
        """What speaks against the file's action, in words; "" where it stands."""
        found = self.design.acting
        if found.action is None:
            return "no action holds: the reading does not answer to the fan in one and the same way"
        return "" if found.agrees else f"the loop would run away; {found.action} is the one that holds"


def binding_window(site, window, closing=False):
    """The `SiteWindow` of a site narrowed to what its standard asks of shut stair doors, pressures and opening force; with `closing`
    also to the pressure against which the closer of a leaf that opens with the pressure surely shuts it again.

    Limits: a blank of the standard narrows nothing; it is told as a blank elsewhere. A step whose force the air does not add to neither.
    """
    criteria = window.criteria
    doors = tuple(_bound(site.doors[door.door], door, criteria, closing) for door in window.doors)
    stair = [door for door in doors if door.use == "stair door"]
    least = max((door for door in stair if door.least_pa is not None), key=lambda door: door.least_pa, default=None)
    most = min((door for door in stair if door.most_pa is not None), key=lambda door: door.most_pa, default=None)
    return SiteWindow(doors, least, most, criteria)


def _bound(door, window, criteria, closing):
    name, ends = criteria.name, {}
    least, most = criteria.least_doors_shut, criteria.most_doors_shut
    if window.use == "stair door":
        if least.limit is not None and not (window.least_pa is not None and window.least_pa >= least.limit):
            ends |= {"least_pa": least.limit, "least_because": f"{name} asks for it", "least_source": least.said}
        if most.limit is not None and not (window.most_pa is not None and window.most_pa <= most.limit):
            ends |= {"most_pa": most.limit, "most_because": f"{name} allows no more", "most_source": most.said}
    force = _tolerated(door, window, criteria)
    known = ends.get("most_pa", window.most_pa)
    if force is not None and not (known is not None and known <= force[0]):
        ends |= {"most_pa": force[0], "most_because": f"{name} allows no more force to open it", "most_source": force[1]}
    if closing and window.relatch_pa is not None:
        surely, known = window.relatch_pa[0], ends.get("most_pa", window.most_pa)
        if not (known is not None and known <= surely):
            ends |= {"most_pa": surely, "most_because": "its closer shuts it again up to here"}
    return replace(window, **ends) if ends else window


def _tolerated(door, window, criteria):
    """(pressure at which the standard's opening force is reached, its source), None where there is none or the pressure helps to open."""
    criterion = criteria.motion_force
    if criterion is None or not door.worked_by_hand or window.opens_with_pressure:
        return None
    limit = limit_where_measured(door, criterion)
    if limit is None:
        return None
    at_handle = limit if criterion.at == "handle" else limit * door.width_m / (door.width_m - door.handle_to_edge_m)
    return float(door_formulas.pressure_tolerated(at_handle, *door.leaf)), criterion.said


def _whose(bound, end, own):
    """Whose limit it is that a door passes."""
    stated = next(one for one in own.doors if (one.door, one.use, one.across) == (bound.door, bound.use, bound.across))
    if getattr(stated, f"{end}_pa") == getattr(bound, f"{end}_pa"):
        return f", the {end} of its window is"
    if "closer" in bound.most_because and end == "most":
        return f" and {NOT_CLOSING}: its closer shuts it up to"
    return f", {own.criteria.name} {'asks for at least' if end == 'least' else 'allows at most'}"
