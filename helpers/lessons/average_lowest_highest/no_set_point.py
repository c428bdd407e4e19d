"""What to do in a building whose record passes no set point: what to leave alone, what to write down, whom to tell, what comes first.

What fails and what was tried instead are the record's own words, by its own judge; nothing is tried here a second time.
"""

from functools import cache

from helpers.model.air.tower import ideal_fan
from helpers.plots.markup import lines_html
from helpers.record.design import Design
from helpers.record.sections.rule import instead_said
from helpers.record.standing import ACTION, FAN, SET_POINT
from helpers.studies.doors.year import year_by_another_fan
from helpers.studies.readings.faults_by_rule import rule_bench
from helpers.units.said import with_unit
from helpers.widgets.panel import Reading

NEXT = "\n– "  # between what is listed within a step
SECTION = "Where no set point passes"  # its head on the page, by which other pages name it
ORDER = "first the doors and their closers, the final exit's included; then a set point; then fan and ramps; the tuning last"


@cache
def _design():
    return Design(rule_bench().site)


def none_passes():
    """Whether the record passes no set point of this lesson's building."""
    standing = _design().standing
    return not standing.set_point_stands and standing.others is None


def pointed_at():
    """Where a page without a set point sends its reader, in a sentence; "" where the record passes one."""
    return f'No set point passes at {_design().site.name}: page 06, "{SECTION}", says what to do then.' if none_passes() else ""


def fallback_first():
    """What has to be settled before what the fan does on a failed reading is laid down here, in words; "" where nothing has."""
    return _design().standing.first(SET_POINT, ACTION, FAN)


@cache
def year_a_larger_fan():
    """`Year` of the building as it is, with a fan that is enough."""
    design = _design()
    return year_by_another_fan(design.year, ideal_fan(design.tower), design.standing.window)


def _year_said():
    """Which door the hours of a typical year are of, a line of its own; "" where the year brings none out."""
    if not _design().standing.year_against:
        return ""
    year = year_a_larger_fan()
    most = max(year.doors, key=lambda one: one.hours_low + one.hours_high)
    way, hours = ("too much", most.hours_high) if most.hours_high > most.hours_low else ("too little", most.hours_low)
    fan = " A larger fan alone is no help." * (not _design().standing.fan_holds)
    return (
        f"Each of the year's {len(year.hours)} hours is tried as if the alarm came in it, in its first minute and after an hour. It is "
        f"above all one door: {most.door.text} has {way} pressure in {hours} of them.{fan}\n"
    )


def way_out_lines():
    """What to do, in order, one step a line; () where the record passes a set point."""
    if not none_passes():
        return ()
    site, against = _design().site, _design().standing.set_point_against()
    runs = f"{with_unit(site.control.set_point_pa, 'pressure')}, {site.control.rule} reading, gain {site.control.gain:g} %/%, " + (
        f"integral time {site.control.integral_time_s:g} s"
    )
    larger = ' (a line "with a fan that is enough" is of a larger one than is there)' * (not _design().standing.fan_holds)
    return (
        f"An existing {site.name}: leave it as it was approved, {runs}. A new one: do not enter them, as page 12 says.\n"
        "Change no rule, set point or tuning on your own, this page's figures included.\n"
        "Every change of an approved smoke-control system needs the approval of the authority having jurisdiction first, and a new "
        "acceptance test afterwards.",
        f"Write down what fails, with date and name. By the model{larger}:\n– {f';{NEXT}'.join(against)}.\n{_year_said()}Measure pressure "
        "and force at those doors before anyone relies on it.",
        "Tell the building's owner, the designer and the authority having jurisdiction, in writing and the same day: a door that people "
        "cannot open, a storey that smoke may enter.\nThey and the local code decide whether the building stays in use until it is "
        "mended, and with which precautions.",
        f"The building comes before the set point. {instead_said(_design(), NEXT)}",
        f"So the order of the work is: {ORDER}.\nThe designer chooses the measures and tries them together, with the exit open and over a "
        "year: page 12 does so for a changed site file.",
    )


def way_out():
    """The same to read, numbered. Returns `Reading`."""

    def told():
        lines = way_out_lines() or (f"At {_design().site.name} the record passes a set point.",)
        return lines_html(lines, numbered=True), "\n".join(f"{number}. {line}" for number, line in enumerate(lines, 1))

    return Reading(told)
