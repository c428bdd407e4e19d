"""Sections of the design record about doors: force and relatching, air through open doors, and what the standards ask side by side."""

from helpers.model.criteria import criteria_for, criteria_of, highest_ceiling_m
from helpers.model.site.field_types import OLDER_STANDARD_NAMES, STANDARD_NAMES
from helpers.studies.figures import SITE_FILE, Figure, Section, Table

__all__ = ["criteria_table", "doors_section", "open_doors_section"]

_ASKED = {
    "least_doors_shut": "Least pressure across a shut stair door",
    "most_doors_shut": "Most pressure across a shut stair door",
    "least_exit_open": "The least while a final exit stands open",
    "response": "Time after a door event to 90 % of the new flow",
}


def doors_section(design, system):
    """Force by force, fan off and fan on, and whether a door that the pressure pushes open shuts again."""
    found = design.door_forces
    tables = (
        found.table(system),
        *((found.pressure_table(system),) if found.pressures else ()),
        *((found.relatch_table(system),) if found.relatching else ()),
    )
    notes = (
        "The window counts the stricter of site file and standard, at the handle; this table: step by step, where the standard measures.",
        "Before the gauge: fan off, stair aired, leaf free of draught. A closer is set lighter only as far as it still shuts and latches.",
    )
    return Section(
        "doors", "Door forces and shutting again", found.verdict(system), (), tuple(tables), tuple(found.findings(system)), notes=notes
    )


def open_doors_section(design, system):
    """Speed, flow and release path of every open door of the cases."""
    found = design.open_doors
    figures = (Figure("Open doorway in the network", None, "the whole free area", "careful for the fan, generous for smoke", SITE_FILE),)
    return Section(
        "open doors", "Air through open doors", found.verdict(system), figures, (found.table(system),), tuple(found.findings(system))
    )


def criteria_table(site, system):
    """What the site's own standard asks, and the others beside it: figure, source and how it is known. The site is judged by its own."""
    others = [name for name in STANDARD_NAMES if name not in OLDER_STANDARD_NAMES and criteria_of(name) != criteria_of(site.standard)]
    building = site.sprinklers, site.building_code_adopted, highest_ceiling_m(site)
    known = [criteria_for(site), *(criteria_of(name).of_building(*building) for name in others)]
    rows = [(label, *(_shown(getattr(one, key), system) for one in known)) for key, label in _ASKED.items()]
    rows.append(("Door forces", *("; ".join(_force(force, system) for force in one.forces) for one in known)))
    rows.append(("Speed through the open door", *("; ".join(_speed(speed, system) for speed in one.open_door_speeds) for one in known)))
    rows.append(("Standing", *(one.standing for one in known)))
    columns = ("What is asked", f"{known[0].title} (this site's)", *(one.title for one in known[1:]))
    note = "A site is judged by its own standard. A blank is a figure whose text was not at hand: it is never taken as passed."
    return Table("criteria", "What the standards ask", columns, tuple(rows), note=note)


def _force(force, system):
    return f"{force.step}, at the {force.at}: {_shown(force, system)}"


def _speed(speed, system):
    for_class = "" if speed.classes in ("all", "by class") else f"{speed.use} ({speed.classes}): "
    return f"{for_class}{_shown(speed, system)}"


def _shown(criterion, system):
    return criterion.shown(system) if criterion.blank else f"{criterion.shown(system)} ({criterion.said})"
