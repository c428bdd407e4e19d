"""One transmitter stuck at the top of its range, as a finding of the papers: how long a shut door is out until the fan has fallen back, and
what shortens it, with what was tried."""

from helpers.record.papers.played import PLAYED, worst_play
from helpers.studies.report import Finding
from helpers.studies.status import word_of
from helpers.units.said import with_unit

WHAT = "One transmitter that tells wrongly leaves a shut door out until the fan has fallen back"
MEDIAN, WAYS, LEAKS_OFF, CELLS = "median of three", "ways", 4, 6  # a row of the record's table of ways, and columns of it


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
