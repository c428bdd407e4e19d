"""The summary of the design record: what to buy, set and check, and what must not be entered; every line passes the judge, `Standing`.

Beside it what has changed between two records of one site.
"""

from functools import partial

import numpy as np

from helpers.record.damper import one_damper
from helpers.record.sections.building import doors_apart
from helpers.record.sections.signals import transmitters_said
from helpers.record.standing import ACTION, FAN, NOT_ENTERED, RAMP, SET_POINT, STANDARD, TUNING
from helpers.studies.commissioning.fields import plan_said
from helpers.studies.doors.window import handle_force_n
from helpers.studies.duty.full_speed import DRAWN_OUT
from helpers.studies.readings import words
from helpers.studies.readings.rules import SET_POINT_STEP_PA
from helpers.studies.report import NO_FAN_GIVES, Table, inside_text, limit_text, listed
from helpers.studies.signals import unlike_ranges
from helpers.studies.signals.plates import plate_text
from helpers.studies.signals.range_choice import SMALL_END_PA
from helpers.studies.status import SPARE_PA, between_limits, word_of
from helpers.studies.tuning.findings import ramps_doubted
from helpers.units.said import two, with_unit

FAIL, CHECK = word_of("wrong"), word_of("attention")
_LATE = "For the time after a door drive, ramp or door contacts come first: see the section on tuning. No other set point was tried for it."


def headline(design):
    """Title of the summary: what it is a list of."""
    standing = design.standing
    if not standing.window.feasible:
        return "What must change before anything is chosen"
    stands = standing.standard_stands and standing.set_point_stands and standing.action_stands
    if design.out_of_mode or not stands or one_damper(design):
        return "What fails, and what has to be laid down first"
    return "What to buy, set and check" if standing.fan_stands else "What is not enough, and what has to be laid down first"


def lines(design):
    """The lines of the summary as functions without arguments; those that stand on studies that take time are written when looked at."""
    if not design.standing.window.feasible:
        return _no_pressure(design)
    full = design.duty.full
    jams = ((_full_speed,) if full.jams else ()) + ((_ajar,) if full.leaves_ajar(full.full_hz) else ())
    closers = (_closers,) if _heavy_closers(design) else ()
    later = (_set_point, _failure, _tuning, _check)
    mode = (_mode,) if design.out_of_mode else ()
    order = (*mode, *[one_damper] * bool(one_damper(design)), _fan, *jams, *closers, _transmitters, *later, _rule)
    return tuple(partial(one, design) if one in later else partial(str, one(design)) for one in order)


def _mode(design):
    """That the mode of the file does not go with the standard that judges the stair."""
    return f"{FAIL}: {design.standing.mode_against()} Figures are for smoke control; no low-demand stop is laid down."


def _no_pressure(design):
    """The summary of a site whose doors suit no pressure: that first, then what must change; nothing is recommended."""
    window = design.standing.window
    doors = [
        f"{door.place}: at least {limit_text(door.least_pa, 'pressure', 'least')}, at most {limit_text(door.most_pa, 'pressure', 'most')}"
        for door in window.doors
        if not door.feasible
    ]
    if not doors:
        doors = [f"at least {limit_text(window.least_pa, 'pressure', 'least')} ({window.governing('least')}), "
                 f"at most {limit_text(window.most_pa, 'pressure', 'most')} ({window.governing('most')})"]  # fmt: skip
    said = (
        f"No pressure suits the doors of this stair ({'; '.join(doors)}; judged by the site file and by {window.criteria.name}). "
        "Nothing is recommended: no fan, no set point, no tuning.",
        f"One of these must change first: {window.must_change()}, where the authority having jurisdiction allows a lower one.",
    )
    return tuple(partial(str, line) for line in said)


def _fan(design):
    """What to buy, or that no fan is to be chosen yet."""
    duty = design.duty
    said = duty.said()
    first = design.standing.first(STANDARD)
    if first:
        return f"The fan is {first}. By the site file alone: {said}"
    return said if not duty.inside else f"{duty.motor_said(FAIL)} {said}" if duty.motor_short else f"{said} {duty.motor_said()}"


def _full_speed(design):
    """What full speed does to the doors."""
    full = design.duty.full
    place, first = full.worst, design.standing.first(SET_POINT)
    said = f"{FAIL} at full speed: {full.door[place]} is {full.means[place]} ({full.cases[place].name})."
    if first:
        damper = ", or a relief damper" * (full.damper is not None)
        return f"{said} A highest speed in smoke control{damper}: {first}."
    does = full.cap_hz is not None
    cure = full.cure().replace(" in smoke control", " in smoke control would do", 1) if does else full.cure()
    return f"{said} {cure[0].upper()}{cure[1:]}. {_damper_said(full, 'So would a relief damper' if does else 'A relief damper would do')}"


def _ajar(design):
    """That the highest speed leaves a final exit ajar, and what is not to be entered."""
    full, first = design.duty.full, design.standing.first(SET_POINT)
    told = f"{FAIL} at the highest speed, {NOT_ENTERED}: {full.leaves_ajar(full.full_hz)}."
    if first:
        return f"{told} A highest speed in smoke control: {first}."
    cure = full.closing_cure(full.closes_hz)
    return f"{told} {cure[0].upper()}{cure[1:]}; {full.exits.remedy}."


def _damper_said(full, would):
    """Whether a relief damper would do, in a sentence; its figures stand in the section on the fan."""
    if full.damper is not None and full.damper.holds:
        ajar, several = "" if full.damper.closes else ", but then a final exit stays ajar", full.several()
        stuck = "" if several is not None and several.holds else ", in order; of several none was found of which one may stick"
        return f"{would} with the doors closed{ajar}{stuck}, see fan and drive."
    none = "No relief damper tried holds every door and stays shut at the set point: closer, leaf or fan has to change."
    return none if full.damper is not None else f"Or {DRAWN_OUT}."


def _heavy_closers(design):
    """Steps of opening doors that fail with the fan off: no set point changes that."""
    return [row for row in design.door_forces.rows if row.states[0] == "wrong"]


def _closers(design):
    """Doors whose closers alone are over the standard's limit."""
    told = (
        f"{row.window.place} takes {with_unit(row.off_n, 'force', 1)} at the {row.criterion.at} to {row.criterion.step}, "
        f"limit {limit_text(row.limit_n, 'force', 'most')}"
        for row in _heavy_closers(design)
    )
    return f"{FAIL} with the fan off, whatever is set ({design.window.criteria.name}): {'; '.join(told)}."


def _transmitters(design):
    """Which transmitters: the range hangs on the set point."""
    name, kind = "Transmitter" if len(design.built.transmitters) == 1 else "Transmitters", transmitters_said(design)
    first, stated = design.standing.first(SET_POINT), design.other_range()
    stated = stated and f" ({stated})"
    if first:
        kept = "" if stated else " What hangs there already is kept until then."
        return f"{name}: the range is {first}; for the file's it would be {kind}{stated}.{kept}{_reversal(design)}"
    if stated or design.range.chosen.low_pa < 0:
        return f"{name}: {kind}{stated}.{_reversal(design)}"
    return f"{name}: {kind}: those that hang there already are kept.{_reversal(design)}"


def _reversal(design):
    """Which range to order new, where the one kept begins at zero and hides reversed tubes."""
    if unlike_ranges.unlike(design.site):
        hide = [tap.name for tap in design.site.transmitters if tap.range_low_pa >= 0]
        told = f" With reversed tubes {listed(hide)} will show 0, as under suction: prove the tubes with the fan in manual."
        return told if hide and design.site.control.set_point_pa > 0 else ""
    if not design.range.reversal():
        return ""
    if design.range.stated.low_pa < 0:
        return (
            " A range with a negative end, as the file's, shows reversed tubes: a more accurate one first; until then prove them in manual."
        )
    text = plate_text(SMALL_END_PA, design.range.chosen.high_pa)
    return (
        f" When ordering new ones take {text}, which shows reversed tubes and suction, state them in the site file and write the record "
        "anew: displays and gain change with the span. Until then prove the tubes with the fan in manual."
    )


def _set_point(design):
    """What to set; a set point or an action of the file that does not stand is told as such, never to be entered."""
    standing, control = design.standing, design.site.control
    rule, target = control.rule, with_unit(control.set_point_pa, "pressure")
    against, action = standing.set_point_against(), standing.action_against()
    fails = f" {FAIL}: {control.action} acting is the file's, {NOT_ENTERED}: {action}." if action else ""
    if against:
        said = f"{FAIL}: the {rule} reading held at {target} is the file's, {NOT_ENTERED}: {'; '.join(against)}."
        return f"{said} {_others_said(design)}{fails}"
    if action:
        return (
            f"{fails.strip()} The {rule} reading to be held, {target}, would suit: state the action in the file and write the record anew."
        )
    first = standing.first(STANDARD)
    if first and not design.out_of_mode:
        criteria = design.window.criteria
        return (
            f"The set point is {first}. {criteria.title} has blanks, and nobody can judge by them: {', '.join(criteria.blanks)}. By the "
            f"site file alone the {rule} reading held at {target}, {control.action} acting, would suit the doors."
        )
    first = standing.first(FAN)
    if first:
        return (
            f"The set point is {first}. That settled, the {rule} reading held at {target}, {control.action} acting, would suit the doors "
            "with it."
        )
    check = f"{CHECK}: {standing.set_point_check()}." if standing.set_point_check() else ""
    said = " ".join(filter(None, (_range_said(design), check, standing.not_judged())))
    return f"Set the {rule} reading to be held at {target}, {control.action} acting ({design.acting.way_said}). {said}".strip()


def _range_said(design):
    """The set points around the file's that suit every case that the design has to hold, in a sentence; "" where none were tried."""
    run, target = design.standing.others, design.site.control.set_point_pa
    if run is None:
        return ""
    exits = any(np.isfinite(tried.closing_pa).any() for tried in design.set_points)
    also = ", every final exit closes again" if exits else ""
    said = f"Every case that the design has to hold is held, every shut door inside its window{also}, at {inside_text(*run)}"
    near = run[0] - SET_POINT_STEP_PA < target < run[1] + SET_POINT_STEP_PA
    return f"{said}." if near else f"{said}; {with_unit(target, 'pressure')} lies outside that."


def _others_said(design):
    """Other set points that would pass, and what then is not valid."""
    if design.standing.unlike:
        return "Lay down no set point before all low sides end in like spaces."
    late = _LATE if design.standing.late_against() else ""
    if late and len(design.standing.set_point_against()) == 1:
        return late
    return f"{_another_said(design)} {late}".strip()


def _another_said(design):
    """Another set point that would suit the doors and the air through open ones, or that none was found."""
    standing, rule = design.standing, design.site.control.rule
    if damper := standing.damper_said():
        said = "" if damper in standing.set_point_against() else f"{damper[0].upper()}{damper[1:]}. "
        return f"{said}Every other set point tried that would suit the doors lifts it with the doors shut."
    if standing.by_no_usual_fan:
        return f"Another set point would ask for {NO_FAN_GIVES}: a wider duct, several supply points or the doors first."
    run, fan = (standing.others, "") if standing.others is not None else (standing.others_by_another_fan, ", with another fan than stated")
    if run is None and standing.air_against():
        if design.site.fan.sign < 0:
            return "No set point mends it: a fan that extracts draws smoke in through every open door, one that supplies comes first."
        first = "sections with a supply each, or lobbies," if doors_apart(design) else "air release or more air"
        return f"No set point tried mends it: {first} first, see pressure window and air through open doors."
    if run is None:
        return f"No set point keeps every door inside with the {rule} reading: lay down nothing yet, see what would help under the rule."
    span, middle = inside_text(*run), np.floor(sum(run) / 2)
    holds = f"{fan or ', and the fan stated holds every required case there'}{standing.year_said}"
    put = f"put {inside_text(middle, middle)} into the site file and write the record anew"
    put = "lay down none of them, see what would help under the rule" if standing.year_said else put
    return (
        f"The {rule} reading held at {span} would suit the doors{holds}: {put}. Fan, range, fallback, alarms and tuning of this record are "
        "worked out for the file's set point and not valid for another."
    )


def _failure(design):
    """What to agree on for a failed reading."""
    first = design.standing.first(SET_POINT, ACTION, FAN)
    if first:
        return f"On a failed reading: {first}."
    try:
        study = design.fallback
    except ValueError:
        return f"On a failed reading: {design.fallback_first or 'to be agreed; no door states a limit to judge it by'}."
    if study.best is None:
        return f"{FAIL} on a failed reading: no speed keeps every shut door inside, so there is nothing to fall back on."
    if study.best.blind:
        return f"{FAIL} on a failed reading: {words.blind_said(study.best)}"
    best, beyond = study.best, design.standing.fallback_against(study)
    if best.good and best.rests_on_one and not beyond:
        return f"{FAIL} on a failed reading, {NOT_ENTERED}: {words.stuck_said(study)}."
    if best.state != "wrong" and not beyond:
        return f"On a failed reading: {words.fallback_said(study)}, {words.spare_said(study, best)}. {_alarms(study)}"
    worst = "; ".join(words.against_said(study, best)) if best.good else words.least_bad_said(study)
    if beyond and best.good:
        worst = words.beyond_said(study, beyond)
    return f"{FAIL} on a failed reading: none of the ways tried is to be entered; {worst}. See failed readings for what would help."


def _alarms(study):
    """Where the alarms stand; that none of their delays is laid down, where the loop does not come back after a door."""
    limits = study.alarm_limits
    if limits is None:
        return f"{FAIL}: no alarm limits are laid down, no sound loop keeps every door inside."
    if limits.event_s is None:
        return f"{FAIL}: alarms stand on each reading, and their delays are not laid down: first a loop that comes back after a door."
    return "Alarms are set on each reading."


def _tuning(design):
    """What to set on the controller."""
    first = design.standing.first(SET_POINT, ACTION, FAN, RAMP)
    if first:
        return f"Tuning: {first}."
    try:
        study = design.tuning
    except ValueError as reason:
        return f"Tuning: not laid down: tune on site, no tuning was found here ({reason})."
    best = study.recommended
    if best is None:
        return f"Tuning: {design.standing.first(TUNING)}. {study.why_none}"
    back = f"after a door event the airflow {best.worst_doors.back_said()}"
    if not best.doors.quick:
        late = "" if study.response_s is None else f", later than asked for ({study.time_asked()})"
        back += f"{late}; the section on tuning says what helps"
    numbers = f"a gain of {two(best.gain)} %/% and an integral time of {two(best.integral_s)} s"
    numbers += ", the fastest that is safe in the whole box of lags and delays"
    held = "Found for the fan stated: with another one tune again."
    against = study.against(best)
    if against:
        return (
            f"{FAIL}: {against}; mend that first, the section on tuning says what was tried. Until then {NOT_ENTERED} {numbers}; {back}. "
            f"{held}"
        )
    doubted = f"{CHECK}: {doubted}. " if (doubted := ramps_doubted(study)) else ""
    return f"Tune the controller to {numbers}; {back}. {doubted}{held}"


def _check(design):
    """What to prove and where to measure first."""
    steps = f"Check the {len(design.injection.rows)} steps of the injection table ({plan_said(design.injection)})"
    if not design.standing.stands:
        steps += f" (scaling and combining alone: fallback and alarms are {design.standing.first(SET_POINT, ACTION, FAN)})"
    return f"{steps}, then measure on site {_worst_doors(design)}."


def _worst_doors(design):
    """Where to measure first, in words."""
    told = []
    for word, level, dp_pa, _, force_n, _, case in worst_doors(design):
        force = "" if force_n is None else f", {with_unit(force_n, 'force')} at the handle"
        told.append(f"the pressure at storey {level} ({word} to expect, {with_unit(dp_pa, 'pressure')} in {case}{force})")
    return " and ".join(told) or "the pressure and the door force on every storey"


def worst_doors(design):
    """The stair doors with the least room below and above, all doors shut, as the own rule leaves them: (lowest or highest, level, pressure
    [Pa], its limit [Pa], force at the handle [N] or None for the lowest and for a door that nobody pulls, status, case)."""
    shut = [place for place, case in enumerate(design.cases) if case.shut]
    dp = design.own.door_dp_pa[shut]
    least, most = design.window.by_storey(design.tower.levels, "stair door")
    for room, word in ((dp - least, "lowest"), (most - dp, "highest")):
        if np.isfinite(room).any():
            case, storey = np.unravel_index(np.argmin(room), room.shape)
            there = float(dp[case, storey])
            ends = tuple(float(np.broadcast_to(limit, room.shape)[case, storey]) for limit in (least, most))
            state = between_limits(there, *ends, SPARE_PA)
            force = None if word == "lowest" else _force_n(design, storey, there)
            yield word, design.tower.levels[storey], there, ends[word == "highest"], force, state, design.cases[shut[case]].name


def _force_n(design, storey, dp_pa):
    """Force [N] at the handle of a storey's stair door; None for a door that nobody pulls."""
    name = design.site.hardest_stair_door(design.site.storeys[storey])
    door = design.site.doors[name] if name else None
    return float(handle_force_n(door, dp_pa)) if door is not None and door.worked_by_hand else None


def _rule(design):
    """Whether the site's own rule does its job, doors shut first."""
    own, shut = design.own, np.array([case.shut for case in design.cases])
    bad_shut, bad_open = np.flatnonzero(shut & ~own.good), np.flatnonzero(~shut & ~own.good)
    told = "; ".join(f"in {design.cases[place].name}: {own.case_text(place)}" for place in (bad_shut if bad_shut.size else bad_open))
    if bad_shut.size:
        return f"With doors shut the {own.rule} reading does not keep every door inside its window; {told}."
    against = design.standing.set_point_against()
    if against:
        return f"With doors shut the {own.rule} reading keeps the site file's window, and does not suit all the same: {'; '.join(against)}."
    said = f"With doors shut the {own.rule} reading keeps every door inside its window"
    return f"{said}; not so {told}." if bad_open.size else f"{said}, and so it does in the other cases."


COLUMNS = ("Section", "What", "Before", "Now")
NONE = "not there"


def record_changes(before, now):
    """Change list of two records. before, now: `Record`s of one site in one system of units. Returns a `Table`, a row for each change.

    Raises ValueError for records of different sites or units. Compared are the summary, the verdict, the figures and the findings of every
    section; pictures and long tables follow from these.
    """
    for name, what in (("site_name", "of one site"), ("system", "in one system of units")):
        if getattr(before, name) != getattr(now, name):
            raise ValueError(f"before and now must be {what}, got {getattr(before, name)!r:.60} and {getattr(now, name)!r:.60}")
    old, new = _said(before), _said(now)
    rows = tuple((*key, old.get(key, NONE), new.get(key, NONE)) for key in dict.fromkeys([*old, *new]) if old.get(key) != new.get(key))
    note = "Nothing has changed." if not rows else ""
    return Table("changes", f"Changes: {now.site_name}", COLUMNS, rows, note=note)


def _said(record):
    """Everything a record says, by (section, what)."""
    said = {("Summary", f"line {number}"): line for number, line in enumerate(record.summary, 1)}
    for section in record.sections:
        said[section.title, "verdict"] = section.verdict
        said |= {(section.title, figure.label): figure.text for figure in section.figures}
        said |= {
            (section.title, f"finding: {finding.what}"): f"{word_of(finding.severity)}, {finding.figure}" for finding in section.findings
        }
    return said
