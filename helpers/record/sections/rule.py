"""The section of the design record about the signal selection, floor by floor, and the set points that would do."""

from dataclasses import replace
from itertools import product

import numpy as np

from helpers.model.air.tower import Tower, ideal_fan
from helpers.model.site.supply import IN_SHARES
from helpers.record import plot_builders
from helpers.record.sections.building import required_besides
from helpers.record.sections.one_open import exit_alone, one_open
from helpers.record.sections.storeys import doors_table, opened, span_text
from helpers.record.standing import YEAR_BARS
from helpers.studies.cases import same_but_stair_air
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.doors.year import inside_all_year
from helpers.studies.duty.relief_damper import fights_said
from helpers.studies.readings.rules import allowed_pressures, allowed_set_points
from helpers.studies.readings.without_wind import without_wind
from helpers.studies.report import (
    NETWORK,
    WRONG_FAN,
    Finding,
    Section,
    Table,
    figure,
    fine,
    inside_text,
    listed,
    range_text,
)  # fmt: skip
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.studies.status import worst_of
from helpers.units.said import with_unit

MOST_DOORS_LISTED = 8
LIGHTER = 0.5  # of a closer's force, tried where no set point suits; ours


def rule_section(design):
    """The usual rules floor by floor, and which set points would do."""
    comparison, own = design.rules, design.own
    figures = tuple(
        figure(f"Room left, {case.name}", _finite(own.margin_pa[place]), "pressure", own.case_text(place), NETWORK)
        for place, case in enumerate(design.cases)
    )
    doors = (doors_table(result, design, design.window) for result in comparison.results)
    wind = without_wind(design.tower, design.standing.window, own)
    opened_one = one_open(design)
    by_storey = () if opened_one is None else (opened_one.table(),)
    tables = (_rules_table(design), *doors, *_required_tables(design), *by_storey, wind.table(), *_set_points_tables(design))
    pictures = tuple(plot_builders.rule_profile(design.tower, design.window, comparison, result.rule) for result in comparison.results)
    notes = ("Steady pressures. The final exit is judged against still outdoor air: the site file does not say where it looks.",)
    verdict = " ".join((comparison.verdict(), set_points_said(design), wind.said())).strip()
    notes += tuple(filter(None, [instead_said(design)]))
    findings = (*_findings(design), *wind.findings())
    if opened_one is not None:
        findings += tuple(opened_one.findings({case.weather: one.key for case in design.shut_cases for one in findings
                                               if one.key == f"doors out {case.whatever_air}"}))  # fmt: skip
    findings += exit_alone(design)
    if any(storey.stair_door and storey.stair_door_count for storey in design.site.storeys):
        cooling = design.cooling
        verdict, tables, pictures = (
            f"{verdict} {cooling.verdict()}",
            (*tables, cooling.table()),
            (*pictures, plot_builders.cooling_trend(cooling)),
        )
        findings = (*findings, *cooling.findings())
    return Section("rule", "Average, lowest or highest", verdict, figures, tables, findings, pictures, notes)


def _finite(value):
    return float(value) if np.isfinite(value) else None


def _rules_table(design):
    rows, states = [], []
    for result in design.rules.results:
        for place, case in enumerate(design.cases):
            rows.append((result.rule, case.name, *_rule_cells(design, result, place)))
            states.append(worst_of((result.status(place), design.open_doors.case_state(case.name))))
    columns = ("Rule", "Case", "Loop", "Speed", "Reading", "Shut stair doors", "Doors too low", "Doors too high")
    return Table("rules", "Every rule in every case", columns, tuple(rows), tuple(states))


def _rule_cells(design, result, place):
    dp = result.door_dp_pa[place][~opened(design.cases, design.tower.levels)[place]]
    span = span_text(dp) if dp.size else "none"
    out = result.out_in(design.cases[place])
    low, high = (str(sum(door.too == too for door in out)) for too in ("low", "high"))
    speed, reading = (with_unit(result.speed_hz[place], "frequency"), with_unit(result.reading_pa[place], "pressure"))
    return str(result.state[place]), speed, reading, span, low, high


def _required_tables(design):
    """Pressure across every stair door in the cases that the design has to hold besides, at the file's rule and set point, as these are
    judged; nothing where there are none."""
    standing = design.standing
    besides = set(required_besides(design))
    if not besides:
        return
    result = standing.required_result
    groups = [group for group in same_but_stair_air(result.cases) if besides.issuperset(result.cases[place] for place in group)]
    table = doors_table(result, design, standing.window, groups)
    lost = [result.cases[place].name for group in groups for place in group if result.state[place] != "held"]
    fan = "the fan stated" if standing.fan_holds else "a fan that is enough, which the one stated is not"
    note = f"{table.note} By {fan}."
    note += f" Not held at the set point: {'; '.join(lost)}." if lost else ""
    states = tuple("wrong" if lost and state == "good" else state for state in table.states)
    title = "Required besides: pressure across every door"
    yield replace(table, key="required doors", title=title, states=states, note=note)


def _set_points_tables(design):
    if not design.set_points:
        return ()
    rows = tuple(
        (tried.rule, *(_works_text(design.standing.offered(tried, cases)) for cases in (design.shut_cases, design.inner_cases)))
        for tried in design.set_points
    )
    columns = ("Rule", "Good with doors shut", "Good with stair doors open too")
    points = design.set_points[0].set_points_pa
    note = f"{len(points)} set points tried, {range_text(points[0], points[-1], 'pressure')}."
    if any(np.isfinite(tried.closing_pa).any() for tried in design.set_points):
        note += " Good: every shut door inside its window, and every final exit, once opened, closes again."
    if design.site.stair.relief is not None:
        note += " At those named the relief damper stays shut while all doors are."
    note += " At those named a typical year brings no door out."
    return (Table("set points", "Which set points work", columns, rows, note=note),)


def _works_text(run):
    return "none" if run is None else inside_text(*run)


def set_points_said(design):
    """What the site's own rule could be set to, in a sentence; nothing where nothing was tried."""
    own = next((tried for tried in design.set_points if tried.rule == design.site.control.rule), None)
    if own is None:
        return ""
    more = [case for case in design.inner_cases if case not in design.standing.required]
    beyond = f", those too that the design need not hold open, as in {more[0].name}" if more else ""
    several = _shut_or_open(design, beyond)
    exits = any(np.isfinite(tried.closing_pa).any() for tried in design.set_points)
    if offered := _first_offered(design, [own], several, (True, False)):
        words, year, ((_, run),) = offered
        also = ", and every final exit closes again" if exits else ""
        what = f"With the {own.rule} reading every shut door stays inside its window{also} ({words})"
        return f"{what} at {_works_text(run)}{'' if year else f'; {YEAR_BARS}'}."
    if design.duty.needed.only_too_large:
        return f"No set point is held in every case: first {design.duty.needed.slower}."
    if any(own.works(cases) for cases, _ in several):
        return f"No set point is to be entered with the {own.rule} reading: {fights_said(design.site)}."
    if any(own.works(cases, closing=False) for cases, _ in several):
        return f"No set point is to be entered with the {own.rule} reading: where shut doors stay inside, a final exit {NOT_CLOSING}."
    return f"No set point keeps every door inside its window with the {own.rule} reading."


NOT_TRIED = "not tried here: lobbies, a stair divided into sections with a supply each, other leaves or closers of the final exits"


def instead_said(design, between=" "):
    """Where no set point suits: what was tried in the model in this building besides, with figures, and what was not; "" elsewhere.
    between: what stands between one thing tried and the next."""
    if works_said(design) or not design.set_points or design.site.fan.sign < 0 or design.duty.needed.only_too_large:
        return ""
    tried = (f"{what}: {_tried_said(found, year)}" for what, found, year in tried_instead(design))
    told = f"No rule and set point found. Tried in this model, the {design.own.rule} reading and a fan that is enough"
    return f"{told}:{between}{f';{between}'.join((*tried, NOT_TRIED))}."


def tried_instead(design):
    """What else is tried in this building where no set point suits: yields (what, its `SetPoints`, ends [Pa] of those of them that a
    typical year leaves good, None for none).

    Held is the file's rule by a fan that is enough, in the cases without an open exit. Limits: one change at a time, steady air; a leaf
    that the pressure pushes open keeps its closer; the year by its extreme hours, all doors shut.
    """
    site, levels, changed = design.site, design.tower.levels, {}
    kinds = {name for storey in site.storeys for name in storey.stair_doors} - {storey.final_exit_door for storey in site.storeys}
    forces = {
        name: site.doors[name].closer_force_n
        for name in kinds
        if site.doors[name].worked_by_hand and site.doors[name].opens == "against pressure"
    }
    if forces:
        light = site.with_changes(doors={name: {"closer_force_n": LIGHTER * force} for name, force in forces.items()})
        changed[f"closers of the stair doors at {100 * LIGHTER:.0f} % of their force"] = light
    ends = sorted({levels[0], levels[len(levels) // 2], levels[-1]})
    if len(site.supplies) < len(ends):
        points = [site.supplies[0].model_copy(update={"level": level, "share": 1 / len(ends)} | IN_SHARES) for level in ends]
        anew = site.model_copy(update={"supplies": points, "riser": None})
        changed[f"air supplied in equal shares at storeys {listed(map(str, ends))}"] = anew
    for what, one in changed.items():
        tower = ideal_fan(Tower(one))
        for tried in allowed_set_points(tower, design.inner_cases, rules=(site.control.rule,)):
            good = tried.good_in()
            points, weights = tried.set_points_pa[good], site.control.weights if tried.rule == "weighted" else None
            good[good] = inside_all_year(tower, allowed_pressures(one), design.hours, points, tried.rule, weights)
            yield what, tried, tried.longest_run(good)


def _tried_said(found, year):
    """What some set points tried gave, in words; year: ends of those that a year leaves good."""
    suits, shut = found.works(), found.works(closing=False)
    if suits:
        return f"{inside_text(*(year or suits))} suits{', in a typical year too' if year else f'; {YEAR_BARS}'}"
    ajar = f" (at {inside_text(*shut)} every shut door is inside, but a final exit {NOT_CLOSING}; no year tried)" if shut else ""
    return f"no set point suits{ajar}"


def _findings(design):
    told = set()
    own, bad = design.own, np.flatnonzero(~design.own.good)
    for place in bad:
        case, state = design.cases[place], "" if own.state[place] == "held" else f" ({own.state[place]})"
        doors = "; ".join(door.text() for door in own.out_in(case)[:MOST_DOORS_LISTED]) or own.case_text(place)
        count = len(own.out_in(case))
        out = f"{count} door{'s' * (count > 1)} out" if count else "the set point is not held"
        what = f"{case.name[0].upper()}{case.name[1:]}{state}: {out}"  # of the one rule that the record is made for
        why = "stack effect, wind and open doors spread the pressure over the storeys"
        severity, cause = own.status(place), _cause(design, place)
        same = f"doors out {case.whatever_air}"  # the same at another stair temperature is no other finding
        first, told = same not in told, {*told, same}
        key, caused_by = (same, cause) if first else ("", same)
        yield Finding(severity, what, doors, why, NETWORK, _remedy(design, place), key=key, caused_by=caused_by)
    if not bad.size:
        yield Finding("good", f"With the {own.rule} reading every shut door stays inside its window in all cases")
    yield from _error_finding(design)
    if said := design.standing.set_point_check():
        everywhere = bool(design.standing.damper_said())
        others = "so it does at every other that would suit" if everywhere else "at another it does not, or none suits for other reasons"
        yield Finding(
            "wrong" if everywhere else "attention",
            f"At the file's set point {said}",
            f"{with_unit(design.site.control.set_point_pa, 'pressure')}; {others}",
            "it lets out air that the fan has to bring, and fights the loop",
            NETWORK,
            works_said(design, (True,)) or fights_said(design.site),
        )
    yield from design.standing.unlike


def _cause(design, place):
    """Key of the finding that this one follows from: a fan that does not hold, a door that the pressure pushes open; "" for none."""
    out = design.own.out_in(design.cases[place])
    if key := design.stated_duty.short_key(place):
        return key
    return f"relatch {out[0].door}" if out and all(door.pushed for door in out) else ""


def _error_finding(design):
    """Whether the room left with doors shut is more than what a transmitter may be off."""
    rooms = [design.own.margin_pa[place] for place, case in enumerate(design.cases) if case.shut and design.own.good[place]]
    room, off = min(rooms, default=np.inf), accuracy_pa(design.built.transmitters)
    if room < off:
        yield Finding(
            "attention", "Less room is left than a transmitter may be off", f"room {fine(room)}, accuracy ±{fine(off)}",
            "a reading that is off moves every door's pressure with it", "accuracy of span, site file",
            "a set point in the middle of those that work, or a better transmitter",
        )  # fmt: skip


def works_said(design, years=(True, False)):
    """Set points that suit every case tried, rule by rule, in words; "" where none does; years: as `Standing.offered`, in their order."""
    offered = _first_offered(design, design.set_points, _shut_or_open(design), years)
    if offered is None:
        return ""
    words, year, runs = offered
    found = " or ".join(f"{rule} at {_works_text(run)}" for rule, run in runs)
    return f"works with {words}: {found}{'' if year else f'; {YEAR_BARS}'}"


def _shut_or_open(design, beyond=""):
    """Cases that set points are asked to suit, the wider first, each with its words; beyond: what the wider ask that nobody need hold."""
    return (design.inner_cases, f"stair doors shut or open{beyond}"), (design.shut_cases, "doors shut")


def _first_offered(design, set_points, several, years):
    """The first of years and cases for which the standing offers any of these: (words, year, [(rule, its ends [Pa])]); None for none."""
    for year, (cases, words) in product(years, several):
        runs = [(tried.rule, design.standing.offered(tried, cases, year)) for tried in set_points]
        if found := [(rule, run) for rule, run in runs if run is not None]:
            return words, year, found
    return None


def _remedy(design, place):
    """A rule and a set point that would do, if any was found; an open final exit is a question of flow, not of the rule, and a lowest speed
    too high comes first."""
    case = design.cases[place]
    if design.own.state[place] == "at lowest speed" and design.duty.needed.slower:
        return design.duty.needed.slower
    if case.open_exits:
        return "more air or a lobby at the final exit; the local code says whether the design must hold with it open"
    if all(door.pushed for door in design.own.out_in(case)) and design.own.out_in(case):
        key = f"relatch {design.own.out_in(case)[0].door}"  # the one remedy for that door: what its closer may be
        shut = (one.remedy for one in design.door_forces.findings() if one.key == key and one.remedy)
        return f"{next(shut, 'a lobby before that door')}; no rule of combining changes that"
    works = works_said(design)
    if works:
        return works
    if design.site.fan.sign < 0 and any(door.too == "low" for door in design.own.out_in(case)):
        return WRONG_FAN
    if design.site.fan.sign < 0:
        return "no rule and set point found: another fan or other supply points first"
    return f"no rule and set point found{': what was tried in the model stands under the rule' if design.set_points else ''}; {NOT_TRIED}"
