"""What was measured at a door of the acceptance sheet, judged: by window, by the standard's forces and speeds, by what was to be expected.

Past a limit is wrong; near it, strange or two gauges that disagree, for somebody to look at. No pressure is judged across an open door: it
is too small to be measured, the speed is what counts there.
"""

from helpers import units
from helpers.model.criteria import AIR
from helpers.studies.door_forces import GAUGE_N
from helpers.studies.figures import fine
from helpers.studies.status import status_of

__all__ = ["FIELD_WORDS", "judged"]

STRANGE_SHARE = 0.5  # a reading this far from the expected one is looked at, though its door is in its window; common practice, no source
GAUGES_SHARE = 0.3  # force added and pressure measured may differ by so much and two gauges' errors before one is doubted; ours
FIELD_WORDS = {
    "shut_pa": "pressure", "off_n": "force with the fan off", "latch_n": "latch", "motion_n": "in motion", "width_n": "full width",
    "force_n": "force", "shuts": "shuts again", "open_pa": "pressure with doors open", "speed_m_s": "speed", "direction": "smoke or thread",
}  # fmt: skip


def judged(sheet, row, measured, system):
    """Each thing there is to say about a row, as (key of the status, words); nothing where all that was measured is good.

    sheet: `AcceptanceSheet`; row: one of its rows; measured: `Measured`; system: one of units.SYSTEMS.
    """
    yield from _pressure(row, measured, system)
    yield from _by_standard(sheet.criteria, row, measured, system)
    yield from _forces(row, measured, system)
    yield from _second_round(sheet, row, measured, system)


def _pressure(row, measured, system):
    dp = measured.shut_pa
    if dp is None:
        return
    said = fine(dp, system)  # coarser, a reading just outside would be written like the limit it misses
    if row.least_pa is not None and dp < row.least_pa:
        yield "wrong", f"{said}, at least {fine(row.least_pa, system)} asked for: {row.window.means('low')}"
    elif row.most_pa is not None and dp > row.most_pa:
        yield "wrong", f"{said}, the door bears {fine(row.most_pa, system)}: {row.window.means('high')}"
    elif abs(dp - row.shut_pa) > STRANGE_SHARE * abs(row.shut_pa):
        expected = fine(row.shut_pa, system)
        yield "attention", f"{said} where {expected} was expected: look for a door ajar, a leak, another reference"
    if row.window.relatch_pa and dp > row.window.relatch_pa[0] and measured.shuts is None:
        yield "attention", f"{said} is more than its closer surely shuts against ({fine(row.window.relatch_pa[0], system)}): try it"


def _by_standard(criteria, row, measured, system):
    """The standard's own pressures across a shut stair door, whatever the site file asks."""
    dp, least, most = measured.shut_pa, criteria.least_doors_shut, criteria.most_doors_shut
    if dp is None or row.use != "stair door":
        return
    if (row.least_pa is None or dp >= row.least_pa) and status_of(dp, least.limit, kind="least") == "wrong":
        yield "wrong", f"{fine(dp, system)}, {criteria.name} asks for {fine(least.limit, system)} at least"
    if (row.most_pa is None or dp <= row.most_pa) and status_of(dp, most.limit) == "wrong":
        yield "wrong", f"{fine(dp, system)}, {criteria.name} allows {fine(most.limit, system)}"
    if least.blank:
        yield "open", "the least pressure asked for is blank in the standard's file"


def _forces(row, measured, system):
    for force in row.forces:
        yield from _force(row, force, getattr(measured, force.field), system)
    if measured.force_n is not None and all(force.field != "force_n" for force in row.forces):
        yield from _older(row, measured.force_n, system)
    if measured.off_n is not None and row.off_n is not None:  # a door that nobody works by hand has no force to expect
        yield from _fan_off(row, measured.off_n, system)
    yield from _together(row, measured, system)
    if measured.shuts == "no":
        yield "wrong", "it does not shut and latch by itself against the pressure: it will stand ajar"


def _fan_off(row, off_n, system):
    """With the fan off the gauge reads the closer and the stack effect of the day: the closer's part is what is left of it."""
    alone = off_n - (row.off_n - row.closer_n)
    said, part, expected = (units.show(value, "force", system, 1) for value in (off_n, alone, row.off_n))
    for force in row.forces:
        if force.criterion.step == "release the latch":
            continue
        in_motion = force.criterion.step in AIR
        if status_of(off_n if in_motion else alone, force.limit_n) == "wrong":
            limit = units.show(force.limit_n, "force", system, 1)
            what = f"{said} with the fan off" if in_motion else f"{said} with the fan off, {part} of it the closer's"
            yield "wrong", f"{what}: past {limit} to {force.criterion.step} without any fan"
    if abs(off_n - row.off_n) > max(STRANGE_SHARE * row.off_n, GAUGE_N):
        yield "attention", f"{said} with the fan off where {expected} was expected: look at the closer"


def _force(row, force, value, system):
    if value is None:
        return
    said, step, at = units.show(value, "force", system, 1), force.criterion.step, force.criterion.at
    limit = "" if force.limit_n is None else units.show(force.limit_n, "force", system, 1)
    state = status_of(value, force.limit_n, GAUGE_N)
    if state == "open":
        yield "open", f"{said} to {step}: its limit is blank in the standard's file"
    elif state == "wrong":
        yield state, f"{said} at the {at} to {step}, limit {limit}"
    elif state == "attention":
        yield state, f"{said} at the {at} to {step}, just under the limit of {limit}"
    elif force.criterion.step in AIR and abs(value - force.expected_n) > max(STRANGE_SHARE * force.expected_n, GAUGE_N):
        expected = units.show(force.expected_n, "force", system)
        yield "attention", f"{said} to {step} where {expected} was expected: look at the closer"


def _older(row, value, system):
    """A force at the handle, as older sheets asked for it."""
    said, limit = units.show(value, "force", system), "" if row.limit_n is None else units.show(row.limit_n, "force", system)
    state = "good" if row.limit_n is None else status_of(value, row.limit_n, GAUGE_N)
    if state != "good":
        yield state, f"{said} at the handle, {'limit' if state == 'wrong' else 'just under the limit of'} {limit}"
    elif row.force_n is not None and abs(value - row.force_n) > STRANGE_SHARE * row.force_n:
        yield "attention", f"{said} at the handle where {units.show(row.force_n, 'force', system)} was expected: look at the closer"


def _together(row, measured, system):
    """Whether the force that the fan adds and the pressure measured go together: one of the two gauges may be wrong."""
    on = next((getattr(measured, force.field) for force in row.forces if force.criterion.step in AIR), None)
    if None in (on, measured.off_n, measured.shut_pa, row.arm_n_pa):
        return
    way = -1.0 if row.window.opens_with_pressure else 1.0
    by_pressure, by_gauge = way * row.arm_n_pa * (measured.shut_pa - row.off_pa), on - measured.off_n
    if abs(by_pressure - by_gauge) > 2 * GAUGE_N + GAUGES_SHARE * abs(by_pressure) and measured.off_n > 0 and on > 0:
        adds, should = (units.show(value, "force", system) for value in (by_gauge, by_pressure))
        yield "attention", f"the fan adds {adds} at the gauge, by the pressure measured {should}: one of the two gauges is off"


def _second_round(sheet, row, measured, system):
    if measured.direction == "into the stair":
        yield "wrong", "the air goes into the stair: smoke would, too"
    elif measured.direction == "none":
        yield "attention", "no air moves at the gap"
    if row.opened:
        yield from _speed(sheet.criteria, row.use, measured.speed_m_s, system)
        return  # the pressure across an open door is too small to be measured: nothing is judged by it
    dp = measured.open_pa
    if dp is None:
        return
    asked = sheet.criteria.least_exit_open.limit if sheet.open_exits else None
    if dp < 0 and row.use != "final exit":
        yield "wrong", "with the doors open the pressure here turns round"
    elif row.use == "stair door" and asked is not None and status_of(dp, asked, kind="least") == "wrong":
        yield "wrong", f"{fine(dp, system)} with the final exit open, {fine(asked, system)} asked for"
    elif row.most_pa is not None and dp > row.most_pa:
        yield "wrong", f"{fine(dp, system)} with the doors open, the door bears {fine(row.most_pa, system)}: {row.window.means('high')}"
    elif row.least_pa is not None and dp < row.least_pa:
        least = fine(row.least_pa, system)
        if sheet.designed:
            yield "wrong", f"{fine(dp, system)} with the design's doors open, at least {least} asked for: {row.window.means('low')}"
        else:
            yield "attention", f"{fine(dp, system)} with the doors open, {least} with all shut: does the design ask for it then?"


def _speed(criteria, use, speed_m_s, system):
    if speed_m_s is None:
        return
    said = units.show(speed_m_s, "speed", system, 2 if system == "Pa" else 0)
    if speed_m_s <= 0:
        yield "wrong", f"{said} through the open door: the air does not go out"
        return
    if use == "final exit":
        return  # the standards' speeds are those through the door to the fire floor
    asked = [one for one in criteria.open_door_speeds if one.limit is not None]
    if any(one.blank for one in criteria.open_door_speeds):
        yield "open", f"{said} through the open door: the speed asked for is blank in the standard's file"
    for one in asked:
        if status_of(speed_m_s, one.limit, kind="least") == "wrong":
            limit = units.show(one.limit, "speed", system, 2 if system == "Pa" else 0)
            least = one.limit == min(other.limit for other in asked)
            asked_for = f"{limit} asked for in classes {one.classes} ({one.use})"
            yield ("wrong" if least else "attention"), f"{said} through the open door, {asked_for}"
