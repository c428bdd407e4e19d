"""Sections of the design record about building, window, doors, air flow and fan, and what the standards ask side by side."""

from dataclasses import replace

import numpy as np

from helpers.model.site.criteria import criteria_for, criteria_of, highest_ceiling_m
from helpers.model.site.field_types import OLDER_STANDARD_NAMES, STANDARD_NAMES
from helpers.model.site.tolerances import filled_in
from helpers.record import plot_builders
from helpers.record.sections.inputs import inputs_table
from helpers.record.sections.taken import hot_gas, leaks, stack_and_wind, supply_points
from helpers.record.standing import mode_found
from helpers.studies.cases import conditions_of, without_stair_air
from helpers.studies.doors.critical import critical_speeds
from helpers.studies.doors.forces import window_states
from helpers.studies.doors.open import MISSING_RELEASE
from helpers.studies.duty.fan_duty import ACTIVATION_S, DAMPER_S, DURATION_S, EGRESS_TIMES
from helpers.studies.duty.hand_method import AGREES_WITHIN
from helpers.studies.duty.supply.height import HEIGHT_SOURCE, doors_are_apart, too_tall
from helpers.studies.report import NETWORK, SITE_FILE, Finding, Section, Table, Value, figure, listed, range_text, signed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

_ENDS = {"least": "Minimum", "most": "Maximum"}
_ASKED = {
    "least_doors_shut": "Minimum pressure across a closed stair door",
    "most_doors_shut": "Maximum pressure across a closed stair door",
    "least_exit_open": "The least while a final exit stands open",
    "response": "Time after a door event to 90 % of the new flow",
}


def doors_section(design):
    """Force by force, fan off and fan on, and whether a door that the pressure pushes open shuts again."""
    found = design.door_forces
    tables = (
        found.table(),
        *((found.pressure_table(),) if found.pressures else ()),
        *((found.relatch_table(),) if found.relatching else ()),
    )
    notes = (
        "The window counts the stricter of site file and standard, at the handle; this table: step by step, where the standard measures.",
        "Before the gauge: fan off, stair aired, leaf free of draught. A closer is set lighter only as far as it still shuts and latches.",
    )
    return Section("doors", "Door forces and shutting again", found.verdict(), (), tuple(tables), tuple(found.findings()), notes=notes)


def open_doors_section(design):
    """Speed, flow and release path of every open door of the cases."""
    found = design.open_doors
    release = design.air_release
    figures = (Value("Open doorway in the network", None, "the whole free area", "careful for the fan, generous for smoke", SITE_FILE),
               *_release_figures(release))  # fmt: skip
    critical = critical_speeds(design.site, release)
    tables = (found.table(), *((release.table(),) if release.rows else ()), *((critical.table(),) if critical.rows else ()))
    notes = tuple(filter(None, [release.shut_said()]))
    missing = release.given is None or not release.given.free_m2
    own = tuple(one if missing or one.what != MISSING_RELEASE else replace(one, what=TOO_LITTLE) for one in found.findings())
    findings = (*own, *release.findings(), *critical.findings())
    return Section("open doors", "Air through open doors", found.verdict(), figures, tables, findings, notes=notes)


def two_sets_section(design):
    """The site by its own set of criteria and by a second one, in adjacent columns."""
    found = design.two_sets
    return Section("two sets", "By two sets of criteria", found.verdict(), (), (found.table(),), tuple(found.findings()))


def _release_figures(release):
    """Free area by speed wanted, in the worst case and fire floor."""
    for one in release.wanted if release.rows else ():
        area = release.needed_m2(one)
        label, reason = f"Air release needed for {one.text()}", "free area on the fire floor, in the worst case and floor of the table"
        found = release.needed[release.wanted.index(one)]
        if np.isfinite(area) and not found.held[int(np.argmax(found.area_m2))]:
            reason = f"{word_of('attention')}: not held, the fan falls short of its set point with that area open; {reason}"
        if np.isfinite(area):
            yield figure(label, area, "area", reason, NETWORK, 2)
        else:
            yield Value(label, None, "no area that was tried does it with this fan", reason, NETWORK, "area")


def criteria_table(site):
    """What the site's own standard asks, and the others beside it: figure, source and how it is known. The site is judged by its own."""
    others = [name for name in STANDARD_NAMES if name not in OLDER_STANDARD_NAMES and criteria_of(name) != criteria_of(site.standard)]
    building = site.sprinklers, site.building_code_adopted, highest_ceiling_m(site)
    known = [criteria_for(site), *(criteria_of(name).of_building(*building) for name in others)]
    ends = {key: "most" if key.startswith("most") else None for key in _ASKED}
    rows = [(label, *(_shown(getattr(one, key), ends[key]) for one in known)) for key, label in _ASKED.items()]
    rows.append(("Door forces", *("; ".join(_force(force) for force in one.forces) for one in known)))
    rows.append(("Speed through the open door", *("; ".join(_speed(speed) for speed in one.open_door_speeds) for one in known)))
    rows.append(("Standing", *(one.standing for one in known)))
    columns = ("What is asked", f"{known[0].title} (this site's)", *(one.title for one in known[1:]))
    note = "A site is judged by its own standard. A blank is a figure whose text was not at hand: it is never taken as passed."
    return Table("criteria", "What the standards ask", columns, tuple(rows), note=note)


def _force(force):
    return f"{force.step}, at the {force.at}: {_shown(force)}"


def _speed(speed):
    for_class = "" if speed.classes in ("all", "by class") else f"{speed.use} ({speed.classes}): "
    return f"{for_class}{_shown(speed)}"


def _shown(criterion, end=None):
    return criterion.shown(end) if criterion.blank else f"{criterion.shown(end)} ({criterion.said})"


TOO_LITTLE = "Too little air goes out through an open stair door, with the stated air release open"
_HAND = "closed formula, ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter (from memory, not verified)"


def _wind_stated(site):
    """`Value` of the wind of each weather of a site file, where it is measured and how it is brought to the faces."""
    winds = listed(
        f"{name} {with_unit(one.wind_speed_m_s, 'speed', (1, 0))} from {one.wind_from_deg:.0f}°" for name, one in site.weather.items()
    )
    reason = (
        f"at {with_unit(site.wind_reference_height_m, 'length', (0, 0))} over open ground; at the faces the wind of that height over the "
        f'terrain "{site.terrain}", the slower the nearer to the ground. The file\'s own weathers, no design wind'
    )
    return Value("Wind stated", None, winds, reason, f"{SITE_FILE}; profile by ASHRAE Fundamentals 2021 ch. 24 eq. 4")


def site_section(design):
    """What the record stands on: building, weather, cases."""
    site, storeys, loop = design.site, design.site.storeys, design.site.control
    height = sum(storey.height_m for storey in storeys)
    figures = (
        Value("Storeys", float(len(storeys)), f"{len(storeys)}, storey {storeys[0].level} to {storeys[-1].level}", "", SITE_FILE),
        figure("Height", height, "length", "sum of the storeys; stack effect grows with it", SITE_FILE, 1),
        figure("Altitude", site.altitude_m, "length", "thin air moves less weight at the same pressure", SITE_FILE, 0),
        _wind_stated(site),
        figure("Set point", loop.set_point_pa, "pressure", "what the combined reading is held at", f"{SITE_FILE}, control"),
        Value("Rule", None, loop.rule, "which reading runs the fan", f"{SITE_FILE}, control"),
        Value("Standard", None, _standard_said(design), "whose criteria are compared with", SITE_FILE),
        hot_gas(site),
    )
    cases = cases_table(site, design.cases, "cases", "Cases looked at")
    besides = required_besides(design)
    more = (cases_table(site, besides, "required cases", "Required besides, and judged with the set point"),) if besides else ()
    taken = tuple((sentence,) for sentence in filled_in(site))
    left = Table("not_stated", "What the site file does not state, and what was taken instead", ("Taken",), taken)
    why = "air and heat did not agree, the flow turns round in the shaft"
    tables = (cases, *more, stack_and_wind(site), leaks(site), supply_points(site), *((left,) if taken else ()), inputs_table(site))
    findings = tuple([mode_found(design.out_of_mode)] if design.out_of_mode else []) + tuple(
        Finding("attention", f"The stair's air was not found: {case.name}", "", why, NETWORK, "do not rely on this case")
        for case in without_stair_air(site, design.cases)
    )
    return Section("site", "Building and cases", site.note, figures, tables, findings)


def _standard_said(design):
    """The standard that judges the site, with its class of system where the file states one."""
    kind = design.site.airflow_class
    return f"{design.window.criteria.name}{f', class {kind}' if kind else ''}"


def required_besides(design):
    """Cases that a `Design` has to hold and that are not among those looked at: its open doors in other weathers, or with one shut."""
    return tuple(case for case in design.standing.required if case not in design.cases)


def cases_table(site, cases, key, title):
    """`Table` of cases, a row each: weather, temperatures, wind, what stands open."""
    stairs = conditions_of(site, cases).stair_c
    rows = tuple(_case_row(site, case, np.atleast_1d(stair)) for case, stair in zip(cases, stairs, strict=True))
    columns = ("Case", "Outdoors", "Stair", "Floors", "Wind", "Stair doors open", "Final exits open")
    note = "Wind at the reference height of the site file. Stair as stated there, as warm as the rooms, or by its heat balance."
    return Table(key, title, columns, rows, note=note)


def _case_row(site, case, stair_c):
    state = site.weather[case.weather]
    outdoor, floor = (with_unit(value, "temperature") for value in (state.outdoor_c, site.temperatures.floor_c))
    stair = range_text(stair_c.min(), stair_c.max(), "temperature")
    speed = with_unit(state.wind_speed_m_s, "wind speed")
    wind = f"{speed} from {with_unit(state.wind_from_deg, 'angle')}"
    opened = [listed(map(str, levels)) or "none" for levels in (case.open_doors, case.open_exits)]
    return (case.name, outdoor, stair, floor, wind, *opened)


def window_section(design):
    """The pressure window door by door, and how tall a stair it would carry by hand."""
    window = design.window
    figures = [_window_end(window, "least"), _window_end(window, "most")]
    if window.width_pa is not None:
        reason = "all that stack effect, wind, open doors and errors may use up"
        room = figure("Room between them", window.width_pa, "pressure", reason, "most less least")
        figures.append(replace(room, text=window.shown[2] or room.text))
    if window.width_pa is not None and window.width_pa > 0 and design.ladder is not None:
        figures.append(_height_limit(design))
    figures += _times_of_standards() if criteria_of(design.site.standard).by_building_code else ()
    rows = tuple(
        (door.place, door.across, door.text(), door.reason("least"), door.reason("most"), door.least_source, door.most_source)
        for door in window.doors
    )
    columns = ("Door", "Pressure across it", "Window", "Why not less", "Why not more", "Source of the least", "Source of the most")
    states = window_states(window, design.door_forces if design.standing.window.feasible else None)
    table = Table("window", "Pressure window of every door", columns, rows, states)
    tables = (table, criteria_table(design.site))
    findings = (*window.findings(), *too_tall(design.site, window, float(np.ptp(design.tower.elevation_m)), doors_apart(design)))
    return Section("window", "Pressure window", window.verdict(), tuple(figures), tables, findings)


def _times_of_standards():
    """What one edition prints of times, to be compared with the adopted one: no model here judges by them."""
    fan, damper, runs = (with_unit(seconds, "time", 0) for seconds in (ACTIVATION_S, DAMPER_S, DURATION_S))
    compare, code = "judged nowhere here: compare the adopted edition", "IBC 909.4.6 (from memory, not verified)"
    yield Value("Times of activation", None, f"{fan} for a fan, {damper} for a damper", compare,
                "NFPA 92 and IBC, in one edition (from memory, not verified)")  # fmt: skip
    least = f"{runs} or {EGRESS_TIMES:g} times the time of egress, the greater"
    yield Value("Least duration of operation", None, least, f"{compare}; older ones have the less of both", code)


def _window_end(window, end):
    label, door = f"{_ENDS[end]} pressure across a stair door", getattr(window, end)
    if door is None:
        return Value(label, None, "none", "no stair door states one", SITE_FILE, "pressure")
    found = figure(label, getattr(door, f"{end}_pa"), "pressure", door.reason(end), getattr(door, f"{end}_source"))
    return replace(found, text=window.shown[end == "least"])


def _height_limit(design):
    """Tallest stair by hand; the stack effect alone, with the stair as warm as the rooms."""
    hand, window, label = design.ladder.hand, design.window, "Tallest stair for one supply, hand calculation"
    limit = hand.height_limit(window.least_pa, window.most_pa)
    if np.isinf(limit):
        return Value(label, None, "no limit", "no stack effect in this weather", HEIGHT_SOURCE)
    own = with_unit(hand.height_m, "length", 1)
    reason = f"stack effect in {design.weather}, stair as warm as the rooms; this one has {own} between the middles of its end storeys"
    return figure(label, limit, "length", reason, HEIGHT_SOURCE, 0)


def doors_apart(design):
    """`EndsApart` of two doors that no set point brings inside with all doors shut; None where one does."""
    limits = design.standing.window.by_storey(design.tower.levels, "stair door")
    shut, own = np.array([case.shut for case in design.cases]), design.own
    held, doors = own.held.held[shut], own.door_dp_pa[shut]
    return doors_are_apart(design.window, design.shut_cases, design.tower.levels, held, doors, limits)


def flow_section(design):
    """Hand method beside network, and what lies between them."""
    ladder, title = design.ladder, "Supply air, hand calculation and network"
    if ladder is None:
        return Section("flow", title, "The hand method is for a stair that a fan blows into and holds above the floors; not for this one.")
    network = ladder.rungs[-1]
    bottom, top = ladder.hand.end_pressures(ladder.door_dp_pa)
    flow = network.flow_m3_s if network.held else None
    end = f"what the loop leaves across stair door {ladder.level} in {ladder.weather}, doors shut"
    figures = (
        figure("Pressure compared at", ladder.door_dp_pa, "pressure", end, NETWORK),
        figure("Supply air, hand calculation", ladder.rungs[0].flow_m3_s, "flow", "standard air, doors shut", _HAND),
        figure("Bottom door, hand calculation", bottom, "pressure", "pressure difference stair over floor", _HAND),
        figure("Top door, hand calculation", top, "pressure", "the same with the stack effect of the height between them", _HAND),
        figure("Supply air by the network", flow, "flow", "at the fan's inlet, doors shut", NETWORK),
    )
    places = zip(ladder.rungs, ladder.changes_m3_s, ladder.reasons(), strict=True)
    rows = tuple((rung.label, *_rung_cells(rung, change), reason) for rung, change, reason in places)
    note = f"{ladder.held_said()} What a step adds depends on the order: it is what it adds to all steps before it."
    table = Table("flow", "From hand to network", ("Step", "Supply air", "Change", "Why"), rows, note=note)
    pictures = (plot_builders.flow_steps(ladder),)
    return Section("flow", title, ladder.verdict(), figures, (table,), (_agreement(ladder),), pictures)


def _rung_cells(rung, change):
    if not rung.held:
        return "not held", ""
    first = rung.key == "hand" or not np.isfinite(change)
    return with_unit(rung.flow_m3_s, "flow"), "" if first else signed(change, "flow")


def _agreement(ladder):
    text = f"{100 * ladder.agreement:+.1f} %, {100 * AGREES_WITHIN:.0f} % allowed"
    if abs(ladder.agreement) <= AGREES_WITHIN:
        return Finding("good", "Network and hand formula agree under the same assumptions", text)
    why = "the formula takes a pressure that changes evenly over many storeys"
    return Finding("attention", "Network and hand formula differ under the same assumptions", text, why, _HAND, "rely on the network here")
