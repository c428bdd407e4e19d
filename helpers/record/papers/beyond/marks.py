"""What a paper adds to the record's own words: that a case beside the design would be FAIL in it, that the set point lies close to the
end of those that work, and how long a transmitter stuck at the top of its range leaves a door out. No figure is worked out here, and no
verdict changed: a case that nobody has to hold stays CHECK, and says why."""

from dataclasses import replace

import numpy as np

from helpers.record.papers.played import PLAYED, worst_play
from helpers.studies.cases import begun, same_but_stair_air
from helpers.studies.report import Finding, fine, inside_text
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.studies.status import inside, word_of
from helpers.studies.tuning.candidate import OWN
from helpers.studies.tuning.study import PROPOSED
from helpers.units.said import with_unit

NOT_REQUIRED = f"NOT REQUIRED: would {word_of('wrong')}"
JUDGED_BY_CASE = ("wind", "fan_needed", "duty", "rules")  # keys of tables of the record with a verdict on each case
WHAT = "One transmitter that tells wrongly leaves a shut door out until the fan has fallen back"
SILENT = "No alarm limits both ring whenever a door is out"  # begins the record's finding of a door that is out untold
NOT_CHOSEN = "not chosen"
TUNINGS = "tunings"
PRESSURES, BUILDING_CODE = "door pressures", "IBC"  # a table of the record, and how the source of a limit of the building code begins
PRESUPPOSED = "it presupposes sprinklers, which the site file does not state to be there (enquiry list: sprinklers presupposed)"
MEDIAN, WAYS, LEAKS_OFF, CELLS = "median of three", "ways", 4, 6  # a row of the record's table of ways, and columns of it
CASE, SHORT = "Case", ("at full speed", "at lowest speed")  # head of their column; how the key of a finding on the fan begins


def beside_failing(design):
    """Names of the cases that the design does not have to hold and that its own rule does not hold, or holds with a door out."""
    own = design.own
    return {case.name for case, good, required in zip(own.cases, own.good, own.required, strict=True) if not (good or required)}


def marked_table(table, design, answered=False):
    """A `Table` of the record with `NOT_REQUIRED` beside each case beside the design that would be FAIL: in a row that is CHECK, or at the
    head of the column of such a case; with `NOT_CHOSEN` and `PRESUPPOSED` beside what they are of. answered: whether the last is."""
    names, cases = beside_failing(design), design.own.cases
    if table.key in (WAYS, TUNINGS):
        return _not_chosen(table, design)
    if table.key == PRESSURES and design.site.sprinklers is not True:
        return _presupposed(table, "attention" if answered else "open")
    if table.key in JUDGED_BY_CASE and CASE in table.columns:
        at = table.columns.index(CASE)
        rows = tuple(
            (*row[:at], f"{row[at]} ({NOT_REQUIRED})", *row[at + 1 :]) if state == "attention" and row[at] in names else row
            for state, row in zip(table.states, table.rows, strict=True)
        )
        return replace(table, rows=rows)
    heads = {cases[group[0]].name for group in same_but_stair_air(cases) if any(cases[place].name in names for place in group)}
    return replace(table, columns=tuple(f"{one} ({NOT_REQUIRED})" if one in heads else one for one in table.columns))


def _presupposed(table, state):
    """Pressures of the standard: what is a PASS by the building code's section alone is none where no sprinklers are stated."""
    by_code = [found == "good" and row[-1].startswith(BUILDING_CODE) for found, row in zip(table.states, table.rows, strict=True)]
    rows = tuple((*row[:-1], f"{row[-1]}; {PRESUPPOSED}") if one else row for one, row in zip(by_code, table.rows, strict=True))
    states = tuple(state if one else found for one, found in zip(by_code, table.states, strict=True))
    return replace(table, rows=rows, states=states)


def _not_chosen(table, design):
    """A table of ways of falling back, or of tunings, with `NOT_CHOSEN` beside each past a limit that the record does not propose."""
    chosen = (OWN, PROPOSED) if table.key == TUNINGS else (design.fallback.best.name,) if design.fallback.best else ()
    rows = tuple(
        (f"{row[0]} ({NOT_CHOSEN})", *row[1:]) if state == "wrong" and row[0] not in chosen else row
        for state, row in zip(table.states, table.rows, strict=True)
    )
    return replace(table, rows=rows)


def marked_finding(found, design):
    """What a `Finding` says, with the same beside one that is CHECK for such a case alone: doors that are out, a set point not held."""
    begins = f"{found.what[:1].lower()}{found.what[1:]}"
    of_case = found.key.startswith(SHORT) or any(begins.startswith(name) for name in beside_failing(design))
    return f"{found.what} ({NOT_REQUIRED})" if found.severity == "attention" and of_case else found.what


def edge_said(design):
    """That the set point lies closer to an end of those that work than a transmitter may be off, and what is wrong beyond that end, in a
    sentence; "" where it does not, or nothing was tried."""
    return "".join(f"{word_of(one.severity)}: {one.what}: {one.figure}. {begun(one.remedy)}." for one in edge_found(design))


def edge_found(design):
    """The same as a `Finding` in a tuple. Limits: set points as they were tried, and the first of them beyond that end."""
    tried = next((one for one in design.set_points if one.rule == design.site.control.rule), None)
    run = None if tried is None else design.standing.offered(tried, design.inner_cases)
    if run is None:
        return ()
    stated, off = design.site.control.set_point_pa, accuracy_pa(design.built.transmitters)
    rooms = {"upper": run[1] - stated, "lower": stated - run[0]}
    near = min(rooms, key=rooms.get)
    if not -1e-6 <= rooms[near] < off:
        return ()
    points = np.asarray(tried.set_points_pa)
    beyond = np.flatnonzero(points > run[1] + 1e-6)[:1] if near == "upper" else np.flatnonzero(points < run[0] - 1e-6)[-1:]
    beyond_said = _wrong_at(design, tried, beyond)
    what = f"The set point lies less than a transmitter may be off from the {near} end of those that work"
    figure = f"{with_unit(stated, 'pressure')}, off by ±{fine(off)}, {inside_text(*run)} work; beyond that end {beyond_said}"
    inner = "a set point further inside, where there is room for it, or better transmitters; and a calibrated gauge on the test day"
    return (Finding("attention", what, figure, "a reading that is off moves every door with it", "", inner),)


def _wrong_at(design, tried, beyond):
    """What speaks against a set point that was tried (its place in an array of one, or of none), in words."""
    if not beyond.size:
        return "none was tried"
    held, closes = tried.good[beyond[0]], inside(tried.closing_pa[beyond[0]])
    chosen = [case in design.inner_cases for case in tried.cases]
    for fine_there, words in ((held, "a door is out of its limits"), (closes, "a final exit, once opened, does not shut again")):
        bad = [case.name for case, good, counts in zip(tried.cases, fine_there, chosen, strict=True) if counts and not good]
        if bad:
            return f"{words} ({bad[0]})"
    return "the doors hold; the relief damper lifts there with all doors shut, or a typical year brings a door out"


def stuck_reading(quoted):
    """The `Finding` of the worst wrong reading that was played, in a tuple; () where none was, or none puts a door out. Its status is that
    of the play: seconds that nobody has stated are never a pass."""
    worst = worst_play(quoted)
    if worst is None or not worst.out_s:
        return ()
    limits = quoted.design.fallback.alarm_limits
    waits = f"a shorter wait: the difference of two readings waits {with_unit(limits.deviation_after_s, 'time', 0)}"
    waits += f", the limits of each reading {with_unit(limits.after_s, 'time', 0)}, not played here"
    if limits.event_s is not None:
        waits += f"; either has to outlast the {with_unit(limits.event_s, 'time', 0)} for which a door event takes a reading beyond them"
    return (Finding(worst.state, WHAT, worst.way, f"see {PLAYED}", "", f"{waits}; {third_said(quoted)}"),)


def third_said(quoted):
    """What a third transmitter and the middle of three came to where the record tried it, at rest, in words."""
    table = quoted.table("failure", WAYS)
    rows = () if table is None else zip(table.rows, table.states, strict=True)
    found = next(((row, state) for row, state in rows if str(row[0]).startswith(MEDIAN)), None)
    if found is None:
        return "a third transmitter and the middle of three: not tried here"
    row, state = found
    return (
        f"a third transmitter, {row[0]}, tried at rest and not in time: {word_of(state)}, {row[CELLS]} cells with a door out, with leaks "
        f"and readings off {row[LEAKS_OFF]}"
    )
