"""The section of the design record about the combining rule, and the summary of the whole: what to buy, set and check."""

import numpy as np

from helpers import units
from helpers.studies import picture_data
from helpers.studies.cases import AS_STATED, same_but_stair_air
from helpers.studies.figures import NETWORK, Finding, Section, Table, figure, fine, inside_text, listed, range_text
from helpers.studies.low_sides import unlike_low_sides
from helpers.studies.status import word_of, worst_of
from helpers.studies.window import NOT_CLOSING, handle_force_n

__all__ = ["no_pressure", "rule_section", "summary"]

MOST_DOORS_LISTED = 8


def summary(design, system):
    """What to buy, set and check, and whether the rule does its job: lines before the one about tuning, and lines after it."""
    control, duty, count, tap = design.site.control, design.duty, len(design.built.transmitters), design.built.transmitters[0]
    target = units.show(control.set_point_pa, "pressure", system)
    action = f"{design.acting.action} acting" if design.acting.action else "with an action that has still to be found"
    motor = f"The motor stated is {'too small' if duty.motor_load > 1 else 'large enough'} for the fan stated."
    kind = f"{count} of {design.range.chosen.text(system)}, {tap.signal}{_other_range(design, system)}"
    return (
        f"{duty.needed.said(system, duty.inside)} {motor}",
        *_full_speed_said(duty),
        f"{'Transmitter' if count == 1 else 'Transmitters'}: {kind}.",
        _set_said(design, target, action, system),
    ), (
        f"Check the {len(design.injection.rows)} steps of the injection table, then measure on site {_worst_doors(design, system)}.",
        _rule_verdict(design, system),
    )


def no_pressure(design, system):
    """The summary of a site whose doors suit no pressure: that first, then what must change; nothing is recommended."""
    window = design.window
    doors = [
        f"{door.place}: at least {units.show(door.least_pa, 'pressure', system)}, at most {units.show(door.most_pa, 'pressure', system)}"
        for door in window.doors
        if not door.feasible
    ]
    if not doors:
        doors = [f"at least {units.show(window.least_pa, 'pressure', system)} ({window.governing('least')}), "
                 f"at most {units.show(window.most_pa, 'pressure', system)} ({window.governing('most')})"]  # fmt: skip
    return (
        f"No pressure suits the doors of this stair ({'; '.join(doors)}). Nothing is recommended: no fan, no set point, no tuning.",
        "One of these must change first: a lighter closer, a narrower leaf or another door, the least pressure where the code allows a "
        f"lower one, or the standard that is worked to ({window.criteria.name} now). The authority having jurisdiction decides.",
    )


def _damper_said(full):
    """Whether a relief damper would do, in a sentence; its figures stand in the section on the fan."""
    if full.damper is not None and full.damper.holds:
        return "A relief damper would, see fan and drive."
    return "No relief damper tried holds every door: closer, leaf or fan has to change."


def _set_said(design, target, action, system):
    """What to set; not the file's set point where that leaves a door outside with all doors closed."""
    rule, said = design.site.control.rule, _set_points_said(design, system)
    shut = np.array([case.shut for case in design.cases])
    inside, closes = bool(design.own.good[shut].all()), design.closes_again
    if (inside and closes) or not said:
        return f"Set the {rule} reading to be held at {target}, {action}. {said}".strip()
    found = any(tried.rule == rule and tried.works(design.shut_cases) is not None for tried in design.set_points)
    does = "leaves a door outside its window" if not inside else f"leaves a final exit that {NOT_CLOSING}"
    what = f"{word_of('wrong')}: the {rule} reading held at {target}, as the file has it, {does}"
    return f"{what}. {said} {f'Set one of these, {action}' if found else 'Set nothing yet: see what would help under the rule'}."


def _other_range(design, system):
    """That the site file states another range, where it does."""
    stated, chosen = design.range.stated, design.range.chosen
    return "" if stated == chosen and not design.unlike_ranges else f" (the site file states {design.stated_ranges(system)})"


def _full_speed_said(duty):
    """What full speed does to the doors, where it is too much: a line, or none."""
    full = duty.full
    if full.jams:
        place, cure = full.worst, full.cure(duty.needed.required)
        yield (
            f"{word_of('wrong')} at full speed: {full.door[place]} is {full.means[place]} ({full.cases[place].name}). "
            f"{cure[0].upper()}{cure[1:]}. {_damper_said(full)}"
        )


def rule_section(design, system):
    """The usual rules floor by floor, and which set points would do."""
    comparison, own = design.comparison, design.own
    figures = tuple(
        figure(f"Room left, {case.name}", _finite(own.margin_pa[place]), "pressure", own.case_text(place, system), NETWORK, system)
        for place, case in enumerate(design.cases)
    )
    doors = (_doors_table(design, result, system) for result in comparison.results)
    tables = (_rules_table(design, system), *doors, *_set_points_tables(design, system))
    pictures = tuple(
        picture_data.pressure_profile(design.tower, design.window, comparison, result.rule, system) for result in comparison.results
    )
    notes = ("Steady pressures. The final exit is judged against still outdoor air: the site file does not say where it looks.",)
    verdict = " ".join((comparison.verdict(system), _set_points_said(design, system))).strip()
    findings = tuple(_findings(design, system))
    if any(storey.stair_door and storey.stair_door_count for storey in design.site.storeys):
        cooling = design.cooling
        verdict, tables, pictures = (
            f"{verdict} {cooling.verdict(system)}",
            (*tables, cooling.table(system)),
            (*pictures, cooling.picture(system)),
        )
        findings = (*findings, *cooling.findings(system))
    return Section("rule", "Average, lowest or highest", verdict, figures, tables, findings, pictures, notes)


def _finite(value):
    return float(value) if np.isfinite(value) else None


def _open(design):
    """Whether a stair door stands open [cases, storeys]."""
    return np.array([np.isin(design.tower.levels, case.open_doors) for case in design.cases])


def _worst_doors(design, system):
    """Where to measure first: the lowest and the highest pressure to expect with doors shut, and the force there."""
    shut = [place for place, case in enumerate(design.cases) if case.shut]
    dp = design.own.door_dp_pa[shut]
    least, most = design.window.by_storey(design.tower.levels, "stair door")
    told = []
    for room, word in ((dp - least, "lowest"), (most - dp, "highest")):
        if np.isfinite(room).any():
            case, storey = np.unravel_index(np.argmin(room), room.shape)
            there = f"{word} to expect, {units.show(dp[case, storey], 'pressure', system)} in {design.cases[shut[case]].name}"
            told.append(
                f"the pressure at level {design.tower.levels[storey]} ({there}{_force(design, storey, dp[case, storey], word, system)})"
            )
    return " and ".join(told) or "the pressure and the door force on every storey"


def _force(design, storey, dp_pa, word, system):
    """Force at the handle of a storey's stair door, in words; nothing for a door that nobody pulls."""
    name = design.site.storeys[storey].stair_door
    door = design.site.doors[name] if name else None
    if word == "lowest" or door is None or not door.worked_by_hand:
        return ""
    return f", {units.show(handle_force_n(door, dp_pa), 'force', system)} at the handle"


def _rule_verdict(design, system):
    """Whether the site's own rule does its job, doors shut first."""
    own, shut = design.own, np.array([case.shut for case in design.cases])
    bad_shut, bad_open = np.flatnonzero(shut & ~own.good), np.flatnonzero(~shut & ~own.good)
    told = "; ".join(
        f"in {design.cases[place].name}: {own.case_text(place, system)}" for place in (bad_shut if bad_shut.size else bad_open)
    )
    if bad_shut.size:
        return f"With doors shut the {own.rule} reading does not keep every door inside its window; {told}."
    said = f"With doors shut the {own.rule} reading keeps every door inside its window"
    return f"{said}; not so {told}." if bad_open.size else f"{said}, and so it does in the other cases."


def _rules_table(design, system):
    rows, states, required = [], [], design.duty.needed.required
    for result in design.comparison.results:
        for place, case in enumerate(design.cases):
            rows.append((result.rule, case.name, *_rule_cells(design, result, place, system)))
            shut_doors = result.status(place, bool(required[place]))
            states.append(worst_of((shut_doors, design.open_doors.case_state(case.name))))
    columns = ("Rule", "Case", "Loop", "Speed", "Reading", "Shut stair doors", "Doors too low", "Doors too high")
    return Table("rules", "Every rule in every case", columns, tuple(rows), tuple(states))


def _rule_cells(design, result, place, system):
    dp = result.door_dp_pa[place][~_open(design)[place]]
    span = range_text(dp.min(), dp.max(), "pressure", system) if dp.size else "none"
    out = result.out_in(design.cases[place])
    low, high = (str(sum(door.too == too for door in out)) for too in ("low", "high"))
    speed, reading = (
        units.show(result.speed_hz[place], "frequency", system),
        units.show(result.reading_pa[place], "pressure", system),
    )
    return str(result.state[place]), speed, reading, span, low, high


def _doors_table(design, result, system):
    """Pressure across every stair door under one rule, top storey first; from the least to the most over the stair's air."""
    opened, levels, groups = _open(design), design.tower.levels, same_but_stair_air(design.cases)
    rows = tuple(
        (str(levels[storey]), *(_door_cell(result, group, storey, opened, system) for group in groups))
        for storey in reversed(range(len(levels)))
    )
    columns = ("Level", *(design.cases[group[0]].name for group in groups))
    airs = listed(dict.fromkeys(case.stair for case in design.cases))
    note = f"In {units.unit_label('pressure', system)}; from the least to the most with the stair's air {airs}."
    states = tuple(_row_state(design, result, storey) for storey in reversed(range(len(levels))))
    title = f"Pressure across every stair door, {result.rule} reading"
    return Table(f"doors {result.rule}", title, columns, rows, states, note)


def _row_state(design, result, storey):
    """Wrong where a storey's door is out in a case that the design has to hold, attention where it is in another."""
    out, required = result.low[:, storey] | result.high[:, storey], design.duty.needed.required[: len(design.cases)]
    return "wrong" if (out & required).any() else "attention" if out.any() else "good"


def _door_cell(result, places, storey, opened, system):
    if opened[places[0], storey]:
        return "open"
    dp = result.door_dp_pa[places, storey]
    low, high = (units.show(value, "pressure", system) for value in (dp.min(), dp.max()))
    text = low if low == high else range_text(dp.min(), dp.max(), "pressure", system)
    text = text.removesuffix(units.unit_label("pressure", system)).strip()
    out = [word for word, flags in (("too low", result.low), ("too high", result.high)) if flags[places, storey].any()]
    return " ".join([text, " and ".join(out)]).strip()


def _set_points_tables(design, system):
    if not design.set_points:
        return ()
    rows = tuple(
        (tried.rule, _works_text(tried.works(design.shut_cases), system), _works_text(tried.works(design.inner_cases), system))
        for tried in design.set_points
    )
    columns = ("Rule", "Good with doors shut", "Good with stair doors open too")
    points = design.set_points[0].set_points_pa
    note = f"{len(points)} set points tried, {range_text(points[0], points[-1], 'pressure', system)}."
    if any(np.isfinite(tried.closing_pa).any() for tried in design.set_points):
        note += " Good: every shut door inside its window, and every final exit, once opened, closes again."
    return (Table("set points", "Which set points work", columns, rows, note=note),)


def _works_text(run, system):
    return "none" if run is None else inside_text(*run, system)


def _set_points_said(design, system):
    """What the site's own rule could be set to, in a sentence; nothing where nothing was tried."""
    own = next((tried for tried in design.set_points if tried.rule == design.site.control.rule), None)
    if own is None:
        return ""
    several = ((design.inner_cases, "stair doors shut or open"), (design.shut_cases, "doors shut"))
    exits = any(np.isfinite(tried.closing_pa).any() for tried in design.set_points)
    for cases, words in several:
        run = own.works(cases)
        if run is not None:
            also = ", and every final exit closes again" if exits else ""
            what = f"With the {own.rule} reading every shut door stays inside its window{also} ({words})"
            return f"{what} at {_works_text(run, system)}."
    for cases, words in several:
        run = own.works(cases, closing=False)
        if run is not None:
            what = f"With the {own.rule} reading every shut door stays inside its window ({words}) at {_works_text(run, system)}"
            return f"{what}, but a final exit {NOT_CLOSING} at any of them."
    return f"No set point keeps every door inside its window with the {own.rule} reading."


def _findings(design, system):
    told = set()
    own, bad, required = design.own, np.flatnonzero(~design.own.good), design.duty.needed.required
    for place in bad:
        case, state = design.cases[place], "" if own.state[place] == "held" else f" ({own.state[place]})"
        doors = "; ".join(door.text(system) for door in own.out_in(case)[:MOST_DOORS_LISTED]) or own.case_text(place, system)
        out = "a door is out" if own.out_in(case) else "the set point is not held"
        what = f"{own.rule.capitalize()} reading, {case.name}{state}: {out}"
        why = "stack effect, wind and open doors spread the pressure over the storeys"
        severity, cause = "wrong" if required[place] else "attention", _cause(design, place)
        same = f"doors out {case.whatever_air}"  # the same at another stair temperature is no other finding
        first, told = same not in told, {*told, same}
        key, caused_by = (same, cause) if first else ("", same)
        yield Finding(severity, what, doors, why, NETWORK, _remedy(design, case, system), key=key, caused_by=caused_by)
    if not bad.size:
        yield Finding("good", f"With the {own.rule} reading every shut door stays inside its window in all cases")
    yield from _error_finding(design, system)
    shut = np.array([case.shut for case in design.cases])
    yield from unlike_low_sides(design.tower, own.held.air, shut, own.rule, design.site.control.weights, system)


def _cause(design, place):
    """Key of the finding that this one follows from: a fan that is not enough, a door that the pressure pushes open; "" for none."""
    own, out = design.own, design.own.out_in(design.cases[place])
    if own.state[place] == "at full speed":
        return f"short {design.cases[place].whatever_air}"
    return f"relatch {out[0].door}" if out and all(door.means == "pushed open" for door in out) else ""


def _error_finding(design, system):
    """Whether the room left with doors shut is more than what a transmitter may be off."""
    rooms = [design.own.margin_pa[place] for place, case in enumerate(design.cases) if case.shut and design.own.good[place]]
    room, off = min(rooms, default=np.inf), design.range.chosen.accuracy_pa
    if room < off:
        yield Finding(
            "attention", "Less room is left than a transmitter may be off", f"room {fine(room, system)}, accuracy ±{fine(off, system)}",
            "a reading that is off moves every door's pressure with it", "accuracy of span, site file",
            "a set point in the middle of those that work, or a better transmitter",
        )  # fmt: skip


def _remedy(design, case, system):
    """A rule and a set point that would do, if any was found; an open final exit is a question of flow, not of the rule."""
    if case.open_exits:
        return "more air or a lobby at the final exit; the local code says whether the design must hold with it open"
    if all(door.means == "pushed open" for door in design.own.out_in(case)) and design.own.out_in(case):
        return "a heavier closer on that door or a lobby before it: no rule of combining changes that"
    for cases, words in ((design.inner_cases, "stair doors shut or open"), (design.shut_cases, "doors shut")):
        for closing, but in ((True, ""), (False, f"; but there a final exit {NOT_CLOSING}")):
            runs = [(tried.rule, tried.works(cases, closing)) for tried in design.set_points]
            found = [f"{rule} at {_works_text(run, system)}" for rule, run in runs if run is not None]
            if found:
                return f"works with {words}: {' or '.join(found)}{but}"
    stated = tuple(case for case in design.shut_cases if case.stair == AS_STATED)
    runs = [(tried.rule, tried.works(stated)) for tried in design.set_points]
    alone = " or ".join(f"{rule} at {_works_text(run, system)}" for rule, run in runs if run is not None)
    found = f" that suits the first minute and the hour after it too (as the site file states the stair: {alone})" if alone else ""
    return f"no rule and set point found{found}: lighter closers, lobbies, or a stair divided into sections, each with a supply of its own"
