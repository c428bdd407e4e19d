"""One judge over every line of the record's summary and of the settings schedule: what stands, what must not be entered, what comes first.

A set point stands where, in every weather and at every temperature of the stair, all doors closed, it is held, every door is inside the
window of the site file and of the site's own standard, every door that the pressure pushes open closes again, all low sides end in like
spaces, no hour of a typical year and no case that the design has to hold puts a door outside, and none of these lets air in through an
open door, or gives less speed through it, less pressure with the final exit open, or a later recovery after a door than the site's own
standard asks for. What hangs on a set point, an action or a fan that does not stand is not laid down: no gain, fallback, alarm, fan.
"""

from bisect import bisect_right
from contextlib import suppress
from functools import cached_property

import numpy as np

from helpers.model.air.tower import ideal_fan
from helpers.record.damper import RESTING, damper_said
from helpers.studies.cases import conditions_of, with_required
from helpers.studies.doors.exits import exits_alone
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.doors.open import OpenDoors, air_of_cases, exits_alone_air
from helpers.studies.doors.year import inside_all_year, year_by_another_fan
from helpers.studies.duty.fan_needed import WRONG_WAY, fan_needed
from helpers.studies.duty.relief_damper import fights_said, lifted
from helpers.studies.readings.rules import CLOSER, allowed_pressures, compare_rules, set_points_that_work
from helpers.studies.report import SITE_FILE, Finding, apart, fine, listed
from helpers.studies.signals.low_sides import unlike_low_sides
from helpers.studies.status import word_of
from helpers.studies.tuning.findings import ramp_findings, ramps_borne
from helpers.studies.tuning.times_said import RAMP
from helpers.units.said import with_unit

__all__ = ["ACTION", "CHOSEN", "FAN", "NOT_ENTERED", "RAMP", "SET_POINT", "STANDARD", "TUNING", "YEAR_BARS", "Standing", "mode_found"]

MODE = "the mode of the loop"  # before all others: a stair of a smoke-control standard is in smoke control
STANDARD = "the standard's figures"  # before all others: nobody can judge by a blank
SET_POINT, ACTION, FAN, TUNING = "the set point", "the action", "a fan that is enough", "a safe tuning"
PARTS = SET_POINT, ACTION, FAN, RAMP, TUNING
CHOSEN = "the choice of a fan"  # one that stands and of which it is still open whether it is kept
MOTOR, SLOWER = "a motor that bears the fan", "a lower lowest speed"  # where nothing else of the fan is missing
NOT_ENTERED, NOT_LAID_DOWN, FOR_INFORMATION = "do not enter", "not laid down: ", "Refused: what follows is for information"
YEAR_BARS = "but a typical year brings a door out at each of them"
LESS_POWER = 0.5  # ours: a set point that asks for less than this share of the shaft power is tried before a fan is bought


class Standing:
    """What of a `Design` stands. Everything is judged in the air of its own rule at the set point of its site file."""

    def __init__(self, design):
        self.design, self.site, self.rule, self._years = design, design.site, design.site.control.rule, {}

    @cached_property
    def window(self):
        """The pressure window that binds: the site file's, the standard's, and the closers' of doors that the pressure pushes open."""
        return allowed_pressures(self.site)

    @cached_property
    def required(self):
        """The cases that the design has to hold, all doors closed among them."""
        asked = [case for case, required in zip(*with_required(self.site, self.design.cases), strict=True) if required]
        return tuple(dict.fromkeys((*self.design.shut_cases, *asked)))

    @cached_property
    def _tower(self):
        return self.design.tower if self.fan_holds else ideal_fan(self.design.tower)  # a weak fan says nothing of a set point

    @cached_property
    def required_result(self):
        """`RuleResult` of the file's rule and set point in all of them, by `_tower`."""
        return compare_rules(self._tower, self.window, self.required, rules=(self.rule,)).results[0]

    @cached_property
    def unlike(self):
        """Findings that the low sides end in unlike spaces."""
        shut = np.array([case.shut for case in self.design.cases])
        return unlike_low_sides(self.design.tower, self.design.own.held.air, shut, self.rule, self.site.control.weights)

    @property
    def standard_stands(self):
        """Whether every figure that the site's own standard asks for is known: what hangs on a blank can be laid down by nobody."""
        return not self.window.criteria.blanks

    @cached_property
    def set_point_stands(self):
        """Whether nothing that is known speaks against the file's set point; a standard of blanks stands before it, see `first`."""
        return next(self._against(), None) is None

    def air_against(self):
        """What the air through the open doors of the cases that the design has to hold has against the set point, in words."""
        rows, exits = (tuple(one for opened in self._opened for one in getattr(opened, name)) for name in ("rows", "exits"))
        held = {case.name for case, state in zip(self.required, self.required_result.state, strict=True) if state == "held"}
        return OpenDoors(self.window.criteria, rows, exits, None, None, self.site.fan.sign < 0).against(held)

    @cached_property
    def _opened(self):
        of = self._tower, self.window.criteria, self.required
        return air_of_cases(*of, self.required_result.held) + exits_alone_air(*of)

    @cached_property
    def year_against(self):
        """That a typical year brings a door out there, by a fan that is enough, in words; "" where it does not, or no door has a limit."""
        with suppress(ValueError):
            year = self.design.year if self.fan_holds else year_by_another_fan(self.design.year, self._tower, self.window)
            return (out := year.out_said()) and f"{out}{', with a fan that is enough' * (not self.fan_holds)}, see the year of weather"
        return ""

    def late_against(self):
        """That no tuning here is back after a door in the time that the site's own standard asks for, at the worst of its lags, in words;
        "" where it asks for none (as in the US), and where action or fan have to be settled before anything is tuned."""
        asked = self.window.criteria.response_s
        if asked is None or not (self.action_stands and self.fan_stands):
            return ""
        asks = f"{self.window.criteria.name} asks for {asked:g} s"
        try:
            study = self.design.tuning
        except ValueError as reason:
            return f"no tuning was found that recovers in time after a door ({reason}), {asks}"
        best = study.recommended
        if best is None and not study.cannot:
            return f"no tuning tried is safe, so none recovers in time after a door, {asks}"
        late = not study.cannot and not best.worst_doors.quick
        return f"after a door the airflow {best.worst_doors.back_said()} with the fastest calm tuning, {asks}" if late else ""

    @property
    def action_stands(self):
        """Whether the file's action is the one that holds."""
        return self.design.acting.agrees

    @property
    def fan_holds(self):
        """Whether the stated fan holds every case that the design has to hold."""
        return self.design.stated_duty.holds

    @property
    def fan_stands(self):
        """Whether it does, and the stated motor bears it."""
        return self.fan_holds and self.design.stated_duty.motor_load <= 1

    fan_open = property(lambda self: not self.fan_holds or self.design.duty.fan_open)  # what the stated one does is then nobody's PASS

    @property
    def ramp_stands(self):
        """Whether motor, brake and air bear the ramps that a tuning is found for."""
        return ramps_borne(self.site, self.design.tuned and self.design.tuning.ramp_down)

    @property
    def stands(self):
        """Whether the standard's figures, set point, action and fan all do."""
        return not self.design.out_of_mode and self.standard_stands and self.set_point_stands and self.action_stands and self.fan_stands

    def first(self, *parts):
        """What has to be settled before a line that hangs on these parts (of PARTS, STANDARD, CHOSEN) may be entered, in words; "" where
        nothing has. Every part hangs on the mode, and on the figures of the site's own standard.

        >>> Standing.named([SET_POINT, ACTION])
        'not laid down: first the set point and the action'
        """
        if parts and self.design.out_of_mode:
            return self.named([MODE])
        if parts and not self.standard_stands:
            return self.named([STANDARD])
        stands = zip(PARTS, ("set_point", "action", "fan", "ramp"), strict=False)  # a tuning comes after all of these
        missing = [part for part, name in stands if part in parts and not getattr(self, f"{name}_stands")]
        fan = MOTOR if self.fan_holds else SLOWER if self.design.stated_duty.needed.only_too_large else FAN
        if not missing:
            return self.named([CHOSEN] * (CHOSEN in parts and self.fan_open) or [TUNING] * (TUNING in parts and self.design.tuned is None))
        return self.named([fan if part == FAN else part for part in missing])

    def what_if(self, verdict, *parts):
        """A verdict as it stands; where it hangs on parts that do not stand, marked as what would be."""
        first = self.first(*parts)
        return f"Not to be entered, {first}. What was found for the site file's figures all the same: {verdict}" if first else verdict

    @staticmethod
    def named(missing):
        """The same for parts that are missing."""
        return f"{NOT_LAID_DOWN}first {listed(missing)}" if missing else ""

    def set_point_against(self):
        """Everything that speaks against the file's set point, in words; empty where it stands."""
        return self._all_against

    @cached_property
    def _all_against(self):
        return tuple(self._against())

    def set_point_check(self):
        """What of the file's set point is CHECK beside that, in words; "" for nothing: a relief damper that lifts there."""
        return "the relief damper lifts there with all doors shut" * bool(self._lifted(self.required_result.held, self.required).any())

    def mode_against(self):
        """What speaks against the mode of the site file, in a sentence; "" for nothing."""
        return self.design.out_of_mode and f"{mode_found(self.design.out_of_mode).what}."

    def not_judged(self):
        """What the site's own standard asks of open doors and nobody could judge, in a sentence; "" for nothing."""
        criteria, told = self.window.criteria, []
        blank = {"the speed through an open door": any(one.blank for one in criteria.open_door_speeds),
                 "the pressure with the final exit open": criteria.least_exit_open.blank,
                 "the time after a door": criteria.response.blank}  # fmt: skip
        if any(blank.values()):
            told.append(f"{listed(name for name, missing in blank.items() if missing)} (blank in the file of {criteria.name})")
        if not any(case.open_doors for case in self.required) and any(one.limit is not None for one in criteria.open_door_speeds):
            told.append(f"the speed through an open door that {criteria.name} asks for (the design states no open stair door)")
        if not any(case.open_exits for case in self.required) and criteria.least_exit_open.limit is not None:
            told.append(f"the pressure with the final exit open that {criteria.name} asks for (the design states no open final exit)")
        speeds = {one.limit for one in criteria.open_door_speeds if one.limit is not None}
        if self.site.airflow_class is None and len(speeds) > 1:
            told.append(f"the speed of a more demanding class of {criteria.name} (the site file states no airflow_class)")
        return f"{word_of('open')}: {'; '.join(told)}." if told else ""

    def for_information(self, verdict):
        """A verdict found at the file's set point; marked at its head where that set point fails."""
        if self.set_point_stands and self.standard_stands:
            return verdict
        first = self.first(SET_POINT, ACTION, FAN).removeprefix(NOT_LAID_DOWN)
        fails = "nobody can judge yet" if self.set_point_stands else "fails"
        return f"Found at a set point that {fails} ({first}): for information, do not enter. {verdict}"

    def _against(self):
        yield from (f"{finding.what[0].lower()}{finding.what[1:]}" for finding in self.unlike)
        found, told = self.required_result, {}
        for place in np.flatnonzero(~found.good & ([case.shut for case in self.required] | (found.state == "held"))):
            case = self.required[place]
            if found.state[place] != "held":
                told.setdefault("held", f"it is not held in {case.name}: the fan is {found.state[place]}")
            for door in found.out_in(case):
                key = door.door, door.use, door.too
                if key not in told or told[key][0] < door.by_pa:
                    told[key] = door.by_pa, self._door_said(door)
        yield from (said if isinstance(said, str) else said[1] for said in told.values())
        yield from self.air_against()
        also = (self.design.acting.weak_said, self.damper_against, lambda: self.year_against, self.late_against, self.fan_against)
        yield from filter(None, (ask() for ask in also))

    def _door_said(self, door):
        """A door that is out, by what it is out, and whose limit that is."""
        dp, limit = apart((door.dp_pa, door.limit_pa), "pressure", "least" if door.too == "low" else "most")
        window = next(one for one in self.window.doors if one.door == door.door and one.use == door.use and door.level in one.levels)
        whose = _whose(window, "least" if door.too == "low" else "most", door.limit_pa, self.window.criteria)
        needed = self.design.stated_duty.needed
        short = door.case in {case.name for case, held in zip(needed.cases, needed.held, strict=True) if not held}
        there = f"{door.case}{', with a fan that is enough' if short else ''}"
        return f"{door.use} {door.level} stands at {dp} ({there}){whose} {limit}"

    @cached_property
    def others(self):
        """Ends [Pa] of the set points of the same rule that would pass, every required case held by the stated fan; None where none does,
        or none can stand for unlike readings. Limits: the time after a door is not tried at another set point."""
        return self._by_stated_fan[0]

    passing = property(lambda self: self._by_stated_fan[1])  # those too at which the relief damper lifts with doors shut: none is offered

    @cached_property
    def _by_stated_fan(self):
        return self._others(self.design.tower)

    @cached_property
    def others_by_another_fan(self):
        """The same with a usual fan that is enough, up to where it would take much more power than at the nearest of them to zero."""
        if self._by_any_fan[0] is None:
            return None
        near, far = sorted(self._by_any_fan[0], key=abs)
        most_w = self._power_w(near) / LESS_POWER
        if not np.isfinite(most_w):
            return None
        if self._power_w(far) > most_w:
            points = np.arange(0.0, abs(far - near)) * np.sign(far - near) + near  # in whole pascals, as they were tried
            far = points[bisect_right(points, most_w, key=self._power_w) - 1]
        return min(near, far), max(near, far)

    @cached_property
    def _by_any_fan(self):
        return self._others(ideal_fan(self.design.tower))

    def damper_said(self):
        """That the relief damper lifts with doors shut at every set point that would suit, in words; "" where another suits, or none."""
        return fights_said(self.site) if self.others is None and self._by_any_fan[0] is None and self._by_any_fan[1] else ""

    def damper_against(self):
        """The same where it lifts at the file's set point too."""
        return self.damper_said() if self.set_point_check() else ""

    @property
    def by_no_usual_fan(self):
        """Whether other set points suit the doors, and no usual fan gives what they ask for."""
        return self.others is None and self.others_by_another_fan is None and self._by_any_fan[0] is not None

    def _lifted(self, held, cases):
        """Whether the relief damper lifts in a case with all doors shut [set points], in the `HeldAir` of set points x cases."""
        count = len(held.held) // len(cases)
        conditions = conditions_of(self.site, cases).rows(np.tile(np.arange(len(cases)), count))
        shut = np.array([case.shut for case in cases])
        return lifted(self.design.tower, conditions, held.air.stair_pa).reshape(count, -1)[:, shut].any(axis=1)

    def offered(self, tried, cases, year=True):
        """Ends [Pa] of the set points tried (`SetPoints`) that suit in these cases and leave the relief damper shut while all doors are;
        None where none does; year: and that a typical year leaves good. Whoever names set points takes them from here or from `others`."""
        if not (suits := tried.good_in(cases)).any():
            return None
        shut = suits & ~self._lifted(tried.held, tried.cases)
        return tried.longest_run(self._all_year(self.design.tower, tried, shut) if year else shut)

    @property
    def year_said(self):
        """That a typical year brings a door out at every set point of `others` (or `others_by_another_fan`), in words; "" where not."""
        return f"; {YEAR_BARS}" * (not (self._by_any_fan if self.others is None else self._by_stated_fan)[2])

    def _all_year(self, tower, tried, good):
        """Of the good set points of `tried` [set points] those that a typical year leaves good; each looked at once."""
        weights = self.site.control.weights if tried.rule == "weighted" else None
        key = tower is self.design.tower, tried.rule, good.tobytes()
        if key not in self._years:
            self._years[key] = good.copy()
            self._years[key][good] = inside_all_year(tower, self.window, self.design.hours, tried.set_points_pa[good], tried.rule, weights)
        return self._years[key]

    def _power_w(self, set_point_pa):
        """Shaft power [W] of the fan that the required cases ask for at a set point; without end where no usual fan gives it."""
        needed = fan_needed(self.design.tower, self.required, self.rule, float(set_point_pa))
        return needed.shaft_power_w if needed.usual else np.inf

    def _others(self, tower):
        """Ends of the set points that pass with the relief damper shut as all doors are, and of all that pass; whether a year suits."""
        if self.unlike or not self.design.set_points:
            return None, None, False
        points, cases = self.design.set_points[0].set_points_pa, self.required + exits_alone(self.window.criteria, self.required)
        (tried,) = set_points_that_work(tower, self.window, cases, points, rules=(self.rule,))
        good, every = tried.good.all(axis=1), cases * len(points)
        places = np.flatnonzero(np.repeat(good, len(cases)))  # what a shut door speaks against already is not looked at again
        opened = air_of_cases(tower, self.window.criteria, every, tried.held, places)
        good[[place // len(cases) for place, one in zip(places, opened, strict=True) if one.against({every[place].name})]] = False
        shut = good & ~self._lifted(tried.held, cases)
        year = self._all_year(tower, tried, shut)
        return tried.longest_run(year if year.any() else shut), tried.longest_run(good), bool(year.any())

    def fan_against(self):
        """That another set point comes before another fan, in words: one that the stated fan holds, or that asks for much less of any (a
        fan fights a relief damper that lifts). "" where the stated fan holds every required case, or no such set point is known."""
        needed = self.design.stated_duty.needed
        if self.fan_holds or not needed.reached[needed.required].all():
            return ""
        if self.others is not None:
            return f"{needed.not_held_said()} there, and holds every required case at another"
        point = self.others_by_another_fan and min(self.others_by_another_fan, key=abs)
        if point is None or not (less := self._power_w(point)) < LESS_POWER * needed.shaft_power_w:
            return ""
        most, least = (with_unit(power, "power") for power in (needed.shaft_power_w, less))
        return f"it asks for a fan of {most} at the shaft, {fine(point)} for one of {least}"

    def fallback_against(self, study):
        """What speaks against the speed of a way of falling back although its own doors hold, in words; "" where nothing does. It lasts as
        full speed does, and is judged as that is. One judge for summary, section, schedule and injection."""
        full = self.design.duty.full
        return full.beyond_lasting(study.speed_hz) if full.limited and study.speed_hz is not None else ""

    def setting_against(self, group, name):
        """What the findings that fail say of a line of the settings schedule, in words; "" where they say nothing."""
        full, own = self.design.duty.full, {
            ("loop", "set point"): self.set_point_against, ("loop", "action"): lambda: (self.action_against(),),
            RESTING: lambda: damper_said(self.design, "wrong"),
            ("fan", "highest speed in smoke control"): lambda: (full.beyond_lasting(full.full_hz) if full.limited else "",),
        }  # fmt: skip
        line = group, name if self.site.control.fire_mode or name != "lowest speed" else "lowest speed in smoke control"  # the loop's own
        fails = [one for one in self._found if one.severity == "wrong" and line in one.settings]
        against, causes = own.get(line, tuple)(), {one.key for one in fails} - {""}
        told = (*against, *(f"{one.what}: {one.figure}" for one in fails if one.caused_by not in causes))
        return "; ".join(dict.fromkeys(filter(None, told)))

    @cached_property
    def _found(self):
        """Findings on fan and tuning; on the ramps where there is nothing to tune, as its section says."""
        with suppress(ValueError):
            return (*self.design.duty.findings(), *self.design.tuning.findings())
        return (*self.design.duty.findings(), *ramp_findings(self.site))

    def action_against(self):
        """What speaks against the file's action, in words; "" where it stands."""
        found = self.design.acting
        if found.action is None:
            return "no action holds: the reading does not answer to the fan in one and the same way"
        first = f"first {WRONG_WAY}; as stated " * self.design.stated_duty.needed.wrong_way
        return "" if found.agrees else f"{first}the loop would run away; {found.action} acting holds: {found.way_said}"


def mode_found(name):
    """Finding of record and review on a stair that a standard of smoke control (its name) judges and that its file has out of that mode."""
    what = f"This stair is judged by {name} and its file says that it is not in smoke control: first the mode"
    why = "a fan of life safety with a low-demand stop, or without its limits in smoke control, may fail in a fire"
    helps = "state fire_mode = true in the site file, or settle with the authority having jurisdiction what judges this stair"
    return Finding("wrong", what, "fire_mode = false", why, SITE_FILE, helps)


def _whose(bound, end, limit_pa, criteria):
    """Whose limit it is that a door passes."""
    if getattr(bound.stated, f"{end}_pa") == limit_pa:
        return f", the {end} of its window is"
    if bound.most_because == CLOSER and end == "most":
        return f" and {NOT_CLOSING}: its closer shuts it up to"
    return f", {criteria.name} {'asks for at least' if end == 'least' else 'allows at most'}"
