"""What of a test day does not fit, is not in it, or should not have been done: a sentence each, for command line, page and file."""

import numpy as np

from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.report import Table, listed
from helpers.units.said import with_unit

MOST_NAMED = 6  # places that are named one by one


def strange_said(fitted: FittedBuilding, number):
    """A reading that the fitted building does not give, in words."""
    readings = fitted.readings
    read, computed = (readings.value_said(number, of[number]) for of in (readings.value, fitted.computed))
    return f"{readings.said(number)}: {read} read, {computed} in the fitted building"


def unread_said(readings):
    """What was read in one round and not in another, a sentence a round; nothing where every round has all of it."""
    places = np.stack([readings.quantity, readings.storey], axis=1)
    every = {tuple(place) for place in places.tolist()}
    for one in np.unique(readings.round).tolist():
        lacking = sorted(every - {tuple(place) for place in places[readings.round == one].tolist()})
        names = [readings.place_said(*place) for place in lacking]
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        if names:
            shown = f"{', '.join(names[:MOST_NAMED])}{more}" if more else listed(names)
            yield f"Round {one + 1} is used without what was not read in it: {shown}."


def fit_remarks(fitted: FittedBuilding):
    """What stands in the day and does not fit, or is not in it, a sentence each."""
    for number in fitted.strange:
        yield f"does not fit, and counts little: {strange_said(fitted, number)}"
    yield from unread_said(fitted.readings)
    yield from above_ceiling_said(fitted.readings)


def above_ceiling_said(readings):
    """That rounds of a day were read above the ceiling of speed of its site, in a sentence; nothing where none was."""
    ceiling = ceiling_of(readings.site)
    above = [(number, one.speed_hz) for number, one in enumerate(readings.day.rounds, 1) if ceiling.passed_by(one.speed_hz)]
    if above:
        rounds = listed([f"{number} ({with_unit(speed, 'frequency', 1)})" for number, speed in above])
        which = f"Round {rounds} was" if len(above) == 1 else f"Rounds {rounds} were"
        yield f"{which} read above the day's ceiling of speed: {ceiling.said}. The readings count all the same; no test goes there again."


def strange_table(fitted: FittedBuilding) -> Table:
    """Readings that the fitted building does not give."""
    readings = fitted.readings
    rows = tuple(
        (readings.said(number), *(readings.value_said(number, of[number]) for of in (readings.value, fitted.computed)))
        for number in fitted.strange
    )
    columns = "Reading", "Read", "Fitted building"
    return Table("strange", "Readings that do not fit: look again", columns, rows, ("attention",) * len(rows))
