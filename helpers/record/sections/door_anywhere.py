"""One stair door open on each storey in turn, with what the fan has left then, margins included, and whether an alarm tells of it: a fire
may be on any storey, and the design names some alone. What is not of the design is not judged as required: what it would be is told."""

from dataclasses import replace

import numpy as np

from helpers.record.sections.one_open import one_open
from helpers.record.sections.storeys import room_rule_said
from helpers.studies.duty.fan_needed import fan_needed
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.report import Table, fine, listed
from helpers.studies.status import word_of, worst_of

KEY = "door anywhere"
LOOP = "Stair door open", "Case of the design", "Worst shut door", "In", "The loop then"
COLUMNS = *LOOP, "Fan, with its margins", "Alarm, every reading right"
NOT_JUDGED = "NOT JUDGED as a case of the design"
RINGS, WERE = "rings in", "Were each a required case"
NO_LIMITS = "no alarm limits are laid down"


def anywhere_table(design, limits=None) -> Table | None:
    """`Table` of a `Design`, a row a storey with a stair door; None of a stair without one.

    limits: `AlarmLimits`, or None. Weathers and warmths of the stair as with doors shut, final exits shut; rule and set point of the file.
    Limits: two doors open on storeys that the design does not name were not tried; alarms at rest, as each case settles.
    """
    opened = one_open(design)
    if opened is None:
        return None
    result, control = opened.result, design.site.control
    needed = fan_needed(design.tower, result.cases, control.rule, control.set_point_pa)
    needed = replace(needed, required=np.ones(len(needed.cases), bool))
    every = replace(result, required=(True,) * len(result.cases))
    compared, own = [row[-1] for row in needed.table().rows], np.array(result.required)
    rows, states, would = [], [], {}
    for level, place in zip(opened.levels, opened.worst, strict=True):
        places = [at for at, case in enumerate(result.cases) if case.open_doors == (level,)]
        short = max(places, key=lambda at: needed.margin_hz[at] if needed.reached[at] else np.inf)
        grave = worst_of([needed.states[short], *(every.status(at) for at in places)])
        asked = bool(own[places].all())
        if not asked:
            would.setdefault(grave, []).append(str(level))
        told = "yes" if asked else f"no: would be {word_of(grave)}"
        rows.append((str(level), told, *opened.row(place)[2:], compared[short], _alarm_said(result, places, limits)))
        states.append(grave if asked else worst_of([result.status(place), *["attention"] * (grave != "good")]))
    return Table(KEY, "One stair door open, on each storey in turn", COLUMNS, tuple(rows), tuple(states), _note(would))


def _alarm_said(result, places, limits):
    """Whether limits tell of the cases in those places, and whether a door is out in one of which they tell nothing."""
    if limits is None:
        return NO_LIMITS
    own, apart = limits.passed(result.readings_pa[places])
    rung, out = own | apart, np.asarray(result.margin_pa)[places] < -TOLERANCE_PA
    after = [limits.wait_text(limits.after_s)] * bool(own.any()) + [limits.wait_text(limits.deviation_after_s)] * bool((apart & ~own).any())
    told = f"{RINGS} {rung.sum()} of {len(places)} cases, after {listed(after)}" if rung.any() else f"silent in all {len(places)} cases"
    silent = int((out & ~rung).sum())
    return f"{told}; silent with a door out in {silent}" if silent else told


def _note(would):
    """What the table is of, and which storeys are not judged; would: {status as if required: storeys}."""
    told = "; ".join(f"storey{'s' * (len(levels) > 1)} {listed(levels)} {word_of(state)}" for state, levels in would.items())
    apart = f"{NOT_JUDGED}: the site file does not count a door there alone as open. {WERE}, with the fan's margins: {told}. "
    return (
        f"{apart * bool(told)}Every weather and warmth of the stair of the cases with doors shut, final exits shut. The case named is the "
        f"worst of its storey; the fan's and the alarm's are each the worst of all. {room_rule_said()} {word_of('attention')}, too, "
        "where a storey that is not judged would be less than a PASS. An alarm that rings with every reading right falls back, see alarm "
        f"limits; two doors open on storeys that the design does not name were not tried. {fine(TOLERANCE_PA)} out counts as inside for an "
        "alarm."
    )
