"""Where whoever runs a fan in manual stops: the pressure at the door that reaches its limit first, in the fitted building and the weather
of its day, and the ceiling of speed that holds for the design's weathers; beside it the alarm limits of that building, none past it.

Limits: all doors shut, steady air; the day's row is the fitted building alone, the ceiling has walls tighter and looser in it
(`studies.duty.permissible_speed`).
"""

import numpy as np

from helpers.model.air.tower import Tower
from helpers.studies.commissioning.hand_back import CEILING_STAYS
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.full_speed import DrivenDoors, highest
from helpers.studies.duty.permissible_speed import SHOWN_HZ, ceiling_of
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.words import alarm_lines, alarm_why, alarms_at_start, always_low, cooling_courses, untold_said
from helpers.studies.report import Table, limit_text, listed
from helpers.units.said import with_unit

NOTE = (
    "Stop at whichever comes first, the pressure or the speed: above it a shut door may be too heavy to open. Neither is a value to run up "
    "to. The "
    f"ceiling as found goes into the drive as its highest speed, by loop and in MANUAL, where a higher one stands there. {CEILING_STAYS}. "
    "Where the readings or the weather are other than of this day, only the design's row and the gauge at every door count."
)
TELL = (
    "owner and authority decide it in writing: into the drive tonight where the old one stands, read back; the fire service told that the "
    f"fan gives no more. {CEILING_STAYS}"
)
NONE_OF_IT = (
    "The fit is not to be believed: it gives no ceiling and no pressure to stop at. The site file's is not proved: the gauge at every door "
    "counts."
)
NO_ALARM = "none: no sound loop keeps every door inside"
ALARMS = (
    "A proposal, not to be entered: the design's weathers are in it, the hours of a year and the tuning to be entered are not. "
    "The record of the fitted site file (page 12) has both, and says what each alarm does."
)
NONE = "none below the fan's highest speed"


def new_ceiling_said(fitted: FittedBuilding):
    """The ceiling of speed by the fitted building where it is below the site file's, with the rounds that were read above it: what to do
    with it, in a sentence; "" where it is not below. A fit that is not believed gives none: a door ajar makes its ceiling too high."""
    if fitted.misfits.doubted:
        return f"Do: read again, {fitted.suspect.short} first; this fit gives no ceiling, {_so_far_said(fitted)}"
    new, old = ceiling_of(fitted.site), ceiling_of(fitted.readings.site)
    if np.isnan(old.hz) or new.hz > old.hz - SHOWN_HZ / 2:
        return ""
    if np.isnan(new.hz):
        return "Do: no run in MANUAL: as found every speed of this drive puts a door past its limit"
    above = [(number, one.speed_hz) for number, one in enumerate(fitted.readings.day.rounds, 1) if new.passed_by(one.speed_hz)]
    rounds = listed([f"{number} at {with_unit(speed, 'frequency', 1)}" for number, speed in above])
    already = f"; round{'s' * (len(above) > 1)} {rounds} {'were' if len(above) > 1 else 'was'} already above it" if above else ""
    replaced = f"{with_unit(new.hz, 'frequency', 1)} by the fitted building, replaces {with_unit(old.hz, 'frequency', 1)}"
    return f"Do: new ceiling {replaced}{_exit_watched(new, old)}{already}; {TELL}"


def new_ceiling_briefly(fitted: FittedBuilding):
    """The same of a fit that is believed, in as few words as a panel's line has room for; "" where the ceiling is not below the file's."""
    if not new_ceiling_said(fitted):
        return ""
    new, old = ceiling_of(fitted.site).hz, ceiling_of(fitted.readings.site).hz
    if np.isnan(new):
        return "no run in MANUAL"
    return f"owner and authority: ceiling {with_unit(new, 'frequency', 1)} tonight, not {with_unit(old, 'frequency', 1)}"


def as_measured_said(fitted: FittedBuilding):
    """Up to which speed the fan is run by hand in the building as measured: what lies above it, in which weather, and what the file as
    drawn has instead, in a sentence; of a fit that is not believed that it gives none."""
    what, lower = "Highest speed in MANUAL, the building as measured", "Of two figures the lower counts, on every page."
    new, old = ceiling_of(fitted.site), ceiling_of(fitted.readings.site)
    if new.doubted or np.isnan(new.hz):
        return f"{what}: {new.said}."
    drawn = "none" if np.isnan(old.hz) else with_unit(old.hz, "frequency", 1)
    under = f" ({new.brief}; {drawn} by the file as drawn)"
    most = f"never above {with_unit(new.hz, 'frequency', 1)}"
    most += f": {new.door} is past its limit{under}" if new.door else f", the highest in smoke control ({drawn} by the file as drawn)"
    if not new.exit_first:
        return f"{what}: {most}; up to it every final exit shuts again. {lower}"
    drawn = with_unit(old.closes_hz, "frequency", 1) if old.exit_first and not np.isnan(old.closes_hz) else "no such speed"
    at = "from the lowest speed on" if np.isnan(new.closes_hz) else f"above {with_unit(new.closes_hz, 'frequency', 1)}"
    ajar = f"{at} {new.closes_door} may stay ajar ({new.closes_brief}; {drawn} by the file as drawn): stop there unless it is watched"
    return f"{what}: {ajar}; {most}. {lower}"


def _exit_watched(new, old):
    """The speed up to which nobody has to watch a final exit, where it lies below a `Ceiling`, and the one that it replaces, in words."""
    if new.closes_hz >= new.hz or np.isnan(new.closes_hz):
        return ""
    replaced = f", replaces {with_unit(old.closes_hz, 'frequency', 1)}" if old.closes_hz < old.hz else ""
    return f"; {with_unit(new.closes_hz, 'frequency', 1)}{replaced}, unless {new.closes_door} is watched"


def stops_table(fitted: FittedBuilding) -> Table:
    """At which pressure of which door, and at which speed, to stop, by the fitted building and by the site file."""
    doubted = fitted.misfits.doubted
    rows = [] if doubted else [row for row in (_of_day(fitted),) if row is not None]
    rows += [] if doubted else [_of_design(fitted.site, "Design's weathers, as found: the new ceiling")]
    rows.append(_of_design(fitted.readings.site, "Design's weathers, by the site file: counts where lower"))
    columns = "Weather and building", "Stop at", "Speed there", "Decided by"
    return Table("stops", "Where to stop with the fan in manual", columns, tuple(rows), note=NONE_OF_IT if doubted else NOTE)


def _so_far_said(fitted):
    """The ceiling of the site file, as the one that nothing has proved, in words."""
    old = ceiling_of(fitted.readings.site)
    if np.isnan(old.hz):
        return "and the site file has none either: no run in MANUAL"
    return f"and the site file's {with_unit(old.hz, 'frequency', 1)} is not proved: no run in MANUAL but at a gauge at every door"


def _of_day(fitted):
    """The row of the day's weather, from the first of its rounds with all doors shut; None where there is none."""
    shut = [number for number, one in enumerate(fitted.readings.day.rounds) if not (one.open_doors or one.open_exits)]
    if not shut:
        return None
    site = fitted.site
    doors, air = DrivenDoors(Tower(site), pressure_window(site)), fitted.readings.conditions.rows(np.array(shut[:1]))
    speed, where = highest(Tower(site), doors.worst, air, *site.fan.speed_limits_hz(site.control.fire_mode))
    what = "The day's weather, as found, that day alone"
    if where is None:
        return what, NONE, with_unit(speed, "frequency", 1), ""
    at = "below the fan's lowest speed" if np.isnan(speed) else with_unit(speed, "frequency", 1)
    return what, _stop(site, doors.said(where[1])), at, f"walls as found{', the relief damper working' * (site.stair.relief is not None)}"


def _of_design(site, what):
    ceiling = ceiling_of(site)
    at = "below the fan's lowest speed" if np.isnan(ceiling.hz) else with_unit(ceiling.hz, "frequency", 1)
    met = ceiling.met.replace("the file's", "this building's") if site.leakage.factors_from else ceiling.met
    return what, _stop(site, ceiling.door) if ceiling.door else NONE, at, met


def _stop(site, name):
    """A door with the pressure to stop at, rounded inwards."""
    columns = DoorColumns(Tower(site), pressure_window(site))
    place = next(place for place, column in enumerate(columns.columns) if column.text == name)
    least, most = float(columns.least_pa[place]), float(columns.most_pa[place])
    if np.isfinite(most) and Tower(site).effect > 0:
        return f"{name}: max. {limit_text(most, 'pressure', 'most')}"
    return f"{name}: min. {limit_text(least, 'pressure', 'least')}"


def alarms_table(fitted: FittedBuilding) -> Table:
    """Alarm limits that suit the fitted building, beside those of its site file; as the record's, but for a year of weather and the tuning.

    Limits: those of the study of failed readings; one building, without its interval; the loop as the site file states it.
    """
    before, now = (fallback_study(Tower(site), pressure_window(site)) for site in (fitted.readings.site, fitted.site))
    ceilings = [None if site.leakage.doubted else ceiling_of(site).hz for site in (fitted.readings.site, fitted.site)]
    old, new = (
        {line[0]: line for line in alarm_lines(study, ceiling_hz=most)} for study, most in zip((before, now), ceilings, strict=True)
    )
    rows = tuple((on, old[on][1] if on in old else NO_ALARM, new[on][1] if on in new else NO_ALARM, new[on][2] if on in new else "")
                 for on in dict.fromkeys((*new, *old)))  # fmt: skip
    why = alarm_why(now) or NO_ALARM
    start = alarms_at_start(now)
    note = " ".join(
        filter(
            None,
            (
                untold_said(now, pressure_window(fitted.site).least_pa),
                f"{why[0].upper()}{why[1:]}.",
                _above_ceiling(now, ceilings[1]),
                start and start[1],
                ALARMS,
            ),
        )
    )
    return Table("alarms", "Alarm limits that suit the building as found", ("On", "By the site file", "As found", "For"), rows, note=note)


def _above_ceiling(study, ceiling_hz):
    """That sound loops run faster than the ceiling as found lets them, in a sentence; "" where they do not, or no ceiling is known."""
    if study.alarm_limits is None or ceiling_hz is None or study.alarm_limits.speed_hz[1] < ceiling_hz:
        return ""
    low, high = (with_unit(speed, "frequency", 0) for speed in study.alarm_limits.speed_hz)
    most = "no speed of this drive" if ceiling_hz != ceiling_hz else f"no more than {with_unit(ceiling_hz, 'frequency', 1)}"
    never = always_low(study, ceiling_hz)
    none = "No alarm on a low speed then, neither on the file's: it would ring all the time, as the upper end stop does. " * never
    return (
        f"The fan's speed as found is that of loops that hold the set point in every weather, {low} to {high}; the ceiling as found lets "
        f"it run at {most}. While that ceiling stands in the drive the set point is not held in {'any' if never else 'some'} of them and "
        f"low readings ring: a true alarm and no fault of the loop. {none}Closers, leaves or set point come first, by the designer, then "
        "these limits."
    )


def alarms_hold_from_min(fitted: FittedBuilding):
    """Minute after a start from which on the fitted building's loop is settled, as its alarm limits take it, in the slowest weather."""
    return max(course.again_minute for course in cooling_courses(Tower(fitted.site)))
