"""Whose fault it may be that a day's readings do not fit one building: one reading, one door, one gauge, its scale, one round, or the whole
sheet.

Each of these is left out in turn and the building moved to what is left, by straight lines about the fitted one and with what does not fit
counting the less; of those without which the others fit the one is the suspect that leaves fewest strange, of several the smallest. Limits:
one at a time; no more than half of the day's readings; straight lines; a suspect is where to look first, and not proved.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.measured.doubts.believed import NINETY, STRANGE, misfits_of
from helpers.studies.measured.doubts.exchanged import exchanged_in_a_round
from helpers.studies.measured.doubts.exits import read_as_ajar
from helpers.studies.measured.doubts.gauges import ALL, GaugeScale, other_of, scales_of
from helpers.studies.measured.readings import FLOW, QUANTITIES
from helpers.units.said import with_unit

MOST_BESIDE = 0.25  # share of strange readings from which on a gauge is not the first to be looked at, but the sheet; ours
MOVES = 12  # until every reading counts as it lies; ours
READING, DOOR, GAUGE, ROUND, SHEET, FIGURE, SCALE, LIKE = "reading", "door", "gauge", "round", "sheet", "figure", "scale", "like another"
EXIT, EXIT_READ = "final exit", QUANTITIES.index("final exit")
WITH_ONE_FACTOR = 2  # readings that one factor of a gauge counts as, beside others that explain as much; ours
HOLD = "hold both gauges at one door, then look at tube, unit and certificate of the one, and read its places again"
WITHOUT = "without it the other readings fit one building"
LOOK = {
    READING: "a slip of the pen or the point, a tube off: read it again",
    DOOR: "a leaf ajar or wedged there, or the tube of another place: read it again at every speed",
    GAUGE: "look at its zero, its tube and its unit, and read these again",
    LIKE: "look at sheet and tubes, and read both again",
    EXIT: "look at leaf, latch and wedge, shut it, and read every round again",
    ROUND: "read in another state than written (a door open, another speed)? Do the round again",
}  # fmt: skip


@dataclass(frozen=True)
class Suspect:
    """What is to be looked at first: its kind (READING to FIGURE), and it in words, with what to do; short: its name alone."""

    kind: str
    short: str
    said: str


def suspect_of(fitted):
    """The `Suspect` of a `FittedBuilding` that is not to be believed."""
    readings, clean = fitted.readings, []
    for like in fitted.likenesses:
        if not _without(fitted, np.setdiff1d(np.arange(len(readings)), like.numbers)).doubted:
            return Suspect(LIKE, like.short, like.said)
    if exit_ajar := _ajar(fitted):
        return exit_ajar
    scale = fitted.misfits.furthest_scale
    if scale is not None:
        rest = _without(fitted, np.arange(len(readings)), scale)
        if not rest.doubted:
            clean.append((rest.strange, WITH_ONE_FACTOR, SCALE, scale_said(fitted, scale)))
    for numbers, short in exchanged_in_a_round(fitted):
        rest = _without(fitted, np.setdiff1d(np.arange(len(readings)), numbers))
        if not rest.doubted:
            return Suspect(LIKE, f"{short}?", f"{short}? Without these two the other readings fit one building; {LOOK[LIKE]}")
    for kind, tried in _groups(fitted).items():
        for short, numbers in tried.items():
            kept = np.setdiff1d(np.arange(len(readings)), numbers)
            if len(numbers) > len(readings) / 2 or FLOW not in readings.quantity[kept]:
                continue
            rest = _without(fitted, kept)
            if not rest.doubted:
                clean.append((rest.strange, len(numbers), kind, short))
    if clean:
        _, _, kind, short = min(clean)
        if kind == SCALE:
            return Suspect(kind, short, f"{short}; {HOLD}")
        return Suspect(kind, short, f"{short}: {WITHOUT}; {LOOK[kind]}")
    if scale is not None and fitted.misfits.strange < MOST_BESIDE * len(readings):  # it is told as off: looked at first, whatever else is
        short = scale_said(fitted, scale)
        return Suspect(SCALE, short, f"{short}, and that is not all; {HOLD}")
    if not fitted.misfits.too_many:
        return Suspect(FIGURE, "a figure of the site file, or the gauge it hangs on",
                       "a figure of the site file that is wrong, or the gauge that it hangs on, of the flow first")  # fmt: skip
    return Suspect(SHEET, "the whole sheet", "the whole sheet, as no one door, gauge or round alone explains it: another state of the "
                   "building than written, another site, or other units")  # fmt: skip


def _ajar(fitted):
    """The `Suspect` of a final exit that stood ajar: nearly nothing across it where the stair beside it has far more, else by what the
    readings come to with it ajar; None where neither is clear."""
    readings = fitted.readings
    places = [(storey, "across it is a small part of what the stair beside it has over outdoors, in every round; or its tube is off")
              for storey in read_as_ajar(readings)]  # fmt: skip
    places += [(one.storey, f"with some {100 * one.share:.0f} % of its doorway open in every round the readings fit one building")
               for one in (() if places else fitted.ajar)]  # fmt: skip
    for storey, why in places[:1]:
        short = f"{readings.place_said(EXIT_READ, storey)}, open or ajar"
        return Suspect(EXIT, short, f"{short}: {why}; {LOOK[EXIT]}")
    return None


def scale_said(fitted, scale):
    """What a `GaugeScale` comes to, in words; of two gauges that stand apart the one that reads low is named first."""
    if scale.what != ALL:
        return f"{scale.gauge} reads the stair doors {scale.percent}"
    both = {one.gauge: one for one in fitted.misfits.scales if one.what == ALL}
    other = both.get(other_of(scale.gauge), scale)
    low, high = sorted((scale, other), key=lambda one: one.factor)
    if scale is other or not (low.suspected and high.suspected and low.factor < 1 < high.factor):
        return f"{scale.gauge} reads {scale.percent}"
    return f"{low.gauge} reads {low.percent} against the other, or {high.gauge} {high.percent}"


def _without(fitted, kept, scale: GaugeScale | None = None):
    """`Misfits` of the building moved to some of its readings (numbers), or with a gauge's factor free."""
    own, slopes, mode = fitted.readings.uncertainty[kept], fitted.slopes[kept], fitted.mode
    read, counted, known = (fitted.readings.value - fitted.computed)[kept], fitted.counted[kept], fitted.readings.of(kept)
    if scale is not None:
        column = np.where(np.isin(kept, scale.numbers), fitted.computed[kept], 0.0)  # by a factor of e either way: as good as free
        slopes, mode = np.column_stack([slopes, column]), np.append(mode, 0.0)
    for _ in range(MOVES):
        scaled = slopes / counted[:, None]
        move = np.linalg.solve(scaled.T @ scaled + np.eye(len(mode)), scaled.T @ (read / counted) - mode)
        off = (read - slopes @ move) / own
        counted = own * np.maximum(np.abs(off) / STRANGE, 1.0) ** 2
    scales = scales_of(known, fitted.computed[kept], read - slopes @ move, slopes, counted)
    return misfits_of(off, 0, fitted.unknowns.kinds, mode + move, fitted.unknowns.deviations, scales)


def _groups(fitted):
    """{kind: {name: numbers of its readings}}, of those with readings outside their 90 % interval."""
    readings, outside = fitted.readings, np.flatnonzero(np.abs(fitted.off) > NINETY)
    groups = {READING: {}, DOOR: {}, GAUGE: {}, ROUND: {}}
    for number in outside.tolist():
        quantity, storey = readings.quantity[number], readings.storey[number]
        groups[READING][readings.said(number)] = np.array([number])
        of_kind = readings.quantity == quantity
        if quantity != FLOW:
            groups[DOOR][readings.place_said(quantity, storey)] = np.flatnonzero(of_kind & (readings.storey == storey))
        groups[GAUGE][f"every reading of {QUANTITIES[quantity]}"] = np.flatnonzero(of_kind)
        speed = with_unit(readings.speeds_hz[readings.round[number]], "frequency", 1)
        groups[ROUND][f"round {readings.round[number] + 1} ({speed})"] = np.flatnonzero(readings.round == readings.round[number])
    return groups
