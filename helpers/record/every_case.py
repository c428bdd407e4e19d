"""The line of a panel that says what to set: only what the record passes in every case, by the record's own judge.

A panel shows one case. A set point that is good in it may put a door out in another weather, with other doors open, or while the stair is
as warm as the rooms; so none is named that was tried in the case shown alone.
"""

from dataclasses import dataclass, field
from functools import cached_property

from helpers.model.site.schema import Site
from helpers.record.design import Design
from helpers.record.standing import SET_POINT
from helpers.studies.readings.rules import USUAL_RULES, compare_rules
from helpers.studies.report import apart
from helpers.studies.status import DESIGNER
from helpers.units.said import with_unit

NO_SET_POINT = f"{DESIGNER}: no set point passes; {{}}"
BACK = "Do: back to {}, as approved; no set point passes all cases"
ANOTHER_BUILDING = "Ask: {}: it tries every case"
BY_FILE = "page 12, with this in a site file"  # for what another page's sliders changed
TOO_LITTLE_ROOM = "Ask: the designer, whether so little room is enough; page 15 tries it"
CODE_DECIDES = "Ask: the designer, which doors the code counts as open at once"


@dataclass(frozen=True)
class DoorAsked:
    """A shut door that is out, as a designer is asked about it: pushed: the pressure pushes its leaf open, or keeps it from closing."""

    use: str
    level: int
    too: str
    dp_pa: float
    limit_pa: float
    pushed: bool

    def question(self):
        """What has to be decided of it, in a clause."""
        at, least = apart((self.dp_pa, self.limit_pa), "pressure", "least" if self.too == "low" else "most")
        if self.too == "low":
            return f"how {self.use} {self.level} gets its {least}"
        return f"how {self.use} {self.level} {'shuts' if self.pushed else 'opens'} against {at}"


def asked_of(out):
    """`DoorAsked` of a `DoorOut`."""
    return DoorAsked(out.use, out.level, out.too, out.dp_pa, out.limit_pa, out.pushed)


@dataclass(frozen=True)
class EveryCase:
    """A site as its file has it, and by rule the set point that the record passes; each rule is tried when first asked for."""

    site: Site
    design: Design
    tried: dict = field(default_factory=dict)

    @property
    def count(self):
        """How many cases the design has to hold."""
        return len(self.design.standing.required)

    def set_point_pa(self, rule):
        """Set point [Pa] in the middle of those that hold every required case and a typical year; None where the record passes none.

        The record judges it once more, at that set point: standard, low sides, open doors, time after a door, fan and damper besides.
        """
        if rule not in self.tried:
            self.tried[rule] = self._found(rule)
        return self.tried[rule]

    def _found(self, rule):
        shut = [case for case in self.design.standing.required if not case.open_exits]
        doors = next((one for one in self.design.set_points if one.rule == rule), None)
        if doors is None or doors.works(shut) is None:  # asked first: it is known for all rules at once
            return None
        design = self.design if rule == self.site.control.rule else self.design.but(rule=rule)
        ends, year = design.standing.others, not design.standing.year_said
        if ends is None or not year:
            return None
        middle = float(sum(ends) // 2)
        return None if design.but(set_point=middle).standing.first(SET_POINT) else middle

    @cached_property
    def question(self):
        """What the designer has to decide first, in a clause: of the shut doors that are out at the file's set point one that no set point
        and no rule changes, else the one most out; with its weather: for a panel whose own case has no door out."""
        own, names = self.design.own, {case.name for case in self.design.standing.required}
        out = sorted((door for door in own.out if door.case in names), key=lambda door: (not door.pushed, -door.by_pa))
        if not out:
            return "what else has to change, page 12 has the list"
        weather = next(case.weather for case in self.design.standing.required if case.name == out[0].case)
        return f"{weather}: {asked_of(out[0]).question()}"

    def best(self, rule):
        """(rule, set point [Pa]) that the record passes: of this rule, else of the file's, else of a usual one; None for none."""
        rules = dict.fromkeys((rule, self.site.control.rule, *USUAL_RULES))
        return next(((name, self.set_point_pa(name)) for name in rules if self.set_point_pa(name) is not None), None)


_KEPT = []  # of `EveryCase`, the last few sites asked for: a page has one or two
MOST_KEPT = 4


def every_case(site):
    """`EveryCase` of a site as its file has it, made once."""
    found = next((one for one in _KEPT if one.site is site or one.site == site), None)
    if found is None:
        found = EveryCase(site, Design(site))
        _KEPT.append(found)
        del _KEPT[:-MOST_KEPT]
    return found


def to_do(stated, rule, set_point_pa, status, good, holds, other=BY_FILE, door=None):
    """What to do about a case that a panel shows, in one line; "" where it passes.

    stated: the site as its file has it; rule, set_point_pa [Pa]: as the sliders have them; status: key of the case, of studies.status;
    good: whether it is held with every shut door inside; holds: a function of rule and set point: whether the case shown is good with them
    too; other: where another building, or a rule that the record does not try, is judged; door: the headline's `DoorAsked`, None where none
    is out: the designer is asked about the door that is read of, not about another weather's. Where the record passes none, the way back to
    the approved figures stands before what the designer has to decide, whatever rule was tried.
    Limits: what the record does not try is not in it, see `Standing`.
    """
    if status not in ("wrong", "attention"):
        return ""
    other = ANOTHER_BUILDING.format(other)
    recorded = rule in (stated.control.rule, *USUAL_RULES)
    every = every_case(stated)
    best = every.best(rule if recorded else stated.control.rule)
    if best is None:
        approved = stated.control
        if (rule, set_point_pa) == (approved.rule, approved.set_point_pa):
            return NO_SET_POINT.format(door.question() if door else every.question)
        of_rule = "" if rule == approved.rule else f"{approved.rule} reading, "
        return BACK.format(f"{of_rule}{with_unit(approved.set_point_pa, 'pressure')}")
    if not recorded:
        return other
    if not good and best != (rule, set_point_pa) and holds(*best):
        name, point = best
        what = f"set {with_unit(point, 'pressure')}: it" if name == rule else f"{name} reading, {with_unit(point, 'pressure')}:"
        return f"Do: {what} passes all {every.count} cases and a year"
    if good:
        return TOO_LITTLE_ROOM
    return CODE_DECIDES if status == "attention" else other


def comparison_to_do(tower, window, comparison, stated, status, judged=None, other=BY_FILE):
    """`to_do` of some cases of a comparison's first rule together.

    tower: `Tower`, its site as the sliders have it: with other walls, doors or transmitters no file has this building yet; window:
    `SiteWindow`; judged: places of the cases, by default all.
    """
    result, judged = comparison.results[0], list(range(len(comparison.cases)) if judged is None else judged)
    cases = [comparison.cases[place] for place in judged]

    if status not in ("wrong", "attention"):
        return ""
    if tower.site.model_copy(update={"control": stated.control, "weather": stated.weather}) != stated:
        return ANOTHER_BUILDING.format(other)

    def holds(rule, set_point_pa):
        tried = compare_rules(tower, window, cases, set_point_pa, comparison.transmitters, (rule,))
        return bool(tried.results[0].good.all())

    out = [asked_of(one) for case in cases for one in result.out_in(case)[:1]]
    door = max(out, key=lambda one: abs(one.dp_pa - one.limit_pa), default=None)
    return to_do(stated, result.rule, comparison.set_point_pa, status, bool(result.good[judged].all()), holds, other, door)
