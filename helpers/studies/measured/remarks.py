"""What of a test day does not fit, is not in it, or should not have been done: a sentence each, for command line, page and file."""

import numpy as np

from helpers.model.test_day import READ_TWICE
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.doubts.gauges import ALL, ONE_GAUGE
from helpers.studies.measured.doubts.mistyped import as_typed, slip_said
from helpers.studies.measured.doubts.suspects import EXIT, EXIT_READ, SCALE, SHEET, scale_said
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.measured.readings import FLOW, ONLY
from helpers.studies.report import Table, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

MOST_NAMED = 6  # places that are named one by one
KIND_SAID = {
    "stair side": "Walls and shut doors of the stair", "facade": "Outer walls of the floors", "between storeys": "Slabs and lift shaft",
    "relief damper": "Relief damper, shut", "stair shaft": "Free area of the stair's shaft", "fan": "Flow of the fan at its speed",
}  # fmt: skip
NOT_BELIEVED = "The fit is not to be believed"


def misfits_said(fitted: FittedBuilding):
    """How many readings do not fit, against how many chance brings, and which figures no published class allows, in words; "" where the
    fit is to be believed."""
    found, told = fitted.misfits, []
    if found.too_many:  # what speaks against the fit, and nothing that chance may bring
        counts = ((found.strange, found.most_strange, "beyond three standard uncertainties"),
                  (found.outside, found.most_outside, "outside their 90 % interval"))  # fmt: skip
        out = [
            f"{count} of {found.count} readings lie {where}, where chance brings {most} at the most"
            for count, most, where in counts
            if count > most
        ]
        told.append(f"{', and '.join(out)} (binomial, 999 sound days of 1000)")
    for kind, factor, off in found.beyond:
        what = f"{KIND_SAID[kind].lower()} came out at {factor:.2f} times the site file's, {off:.1f} standard deviations from it"
        told.append(f"{what}, farther than 999 buildings of 1000 of the published classes")
    if found.gauges and fitted.suspect.kind not in (EXIT, SHEET):  # an exit that stands ajar makes a pair's readings low
        furthest = max(abs(one.off) for one in found.gauges)
        told.append(
            f"{scale_said(fitted, fitted.misfits.furthest_scale)}: {furthest:.1f} standard deviations beyond its stated uncertainty, "
            f"{fitted.readings.scale_percent:g} %"
        )
    for one in fitted.ajar:
        name = fitted.readings.place_said(EXIT_READ, one.storey)
        told.append(f"with {name} ajar the readings fit far better, {one.drop:.0f} in their sum of squares (more than 30 counts as clear)")
    return "; ".join(told)


def doubt_briefly(fitted: FittedBuilding):
    """The same in a headline's few words."""
    found = fitted.misfits
    if found.gauges and fitted.suspect.kind == SCALE:
        return f"One pair's gauge is off: {fitted.misfits.furthest_scale.percent}"
    if found.strange > found.most_strange:
        return f"{found.strange} of {found.count} readings do not fit, by chance max. {found.most_strange}"
    if found.too_many:
        return f"{found.outside} of {found.count} readings outside 90 %, by chance max. {found.most_outside}"
    if found.ajar:
        return f"{fitted.suspect.short[0].upper()}{fitted.suspect.short[1:]}?"
    kind, factor, _ = found.beyond[0]
    return f"{KIND_SAID[kind]}: {factor:.2f} x, no published class has that"


def doubt_said(fitted: FittedBuilding):
    """That the fit is not to be believed, why, and what is to be suspected, in sentences; "" where it is to be believed."""
    if not fitted.misfits.doubted:
        return ""
    return f"{NOT_BELIEVED}: {misfits_said(fitted)}. Suspect: {fitted.suspect.said}. No door is {word_of('good')} by it."


def strange_said(fitted: FittedBuilding, number):
    """A reading that the fitted building does not give, in words."""
    readings = fitted.readings
    computed = readings.value_said(number, fitted.computed[number])
    read = readings.value_said(number, readings.value[number]) if readings.quantity[number] == FLOW else as_typed(readings.value[number])
    like = next((one.short for one in fitted.likenesses if number in one.numbers), "") or slip_said(
        readings, number, fitted.computed[number]
    )
    return f"{readings.said(number)}: {read} read, {computed} in the fitted building{f'; {like}' if like else ''}"


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


def misfits_named(fitted: FittedBuilding):
    """Every door that is clearly another's, then every reading that does not fit the building, a sentence each."""
    yield from (one.said for one in fitted.likenesses)
    for number in fitted.strange:
        yield f"does not fit, and counts little: {strange_said(fitted, number)}"


def twice_said(day):
    """What of a `TestDay` several people read of one place, in a sentence; nothing where nobody did."""
    if day.read_twice:
        yield f"{READ_TWICE}{day.read_twice}"


def fit_remarks(fitted: FittedBuilding):
    """What stands in the day and does not fit, or is not in it, a sentence each."""
    if doubt := doubt_said(fitted):
        yield doubt
    yield from misfits_named(fitted)
    yield from unread_said(fitted.readings)
    yield from gauges_said(fitted)
    yield from twice_said(fitted.readings.day)
    yield from above_ceiling_said(fitted.readings)


def gauges_said(fitted: FittedBuilding):
    """How far an error of a pressure gauge's scale is seen by the fit, in sentences."""
    readings, stated = fitted.readings, f"{fitted.readings.scale_percent:g} %"
    stated += " (none is stated: common practice, no source)" * (readings.day.gauges.scale_percent is None)
    if ONLY in readings.gauges:
        certificate = readings.day.gauges.certificate or "No ........ of ........"
        yield f"{ONE_GAUGE}: certificate {certificate}. Every interval has its stated uncertainty in it, {stated}."
        return
    storeys, upper = readings.site.storeys, readings.upper_from
    where = f"the lower pair reads up to storey {storeys[upper - 1].level}, the upper pair from {storeys[upper].level} on"
    if readings.day.gauges.upper_pair_from is None:
        where = f"which pair read what is not in the day's file, so as the sheets share a stair: {where}"
    seen = max((one.sees for one in fitted.misfits.scales if one.what == ALL), default=0.0)
    yield (
        f"Pressure gauges: {where}. A gauge that reads {100 * seen:.0f} % or more beside the other is seen; less is not, nor what both "
        f"have in common: their certificates alone tell. Every interval has their stated uncertainty in it, {stated}."
    )


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
