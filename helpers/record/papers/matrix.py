"""Cause and effect: every cause with its input of the points list, what the outputs do, what latches, who resets it, what goes first."""

from helpers.model.files import texts
from helpers.record.papers import points as named
from helpers.record.papers.paper import Paper, Part
from helpers.record.papers.states import CANNOT, TELLS, priority, states_of
from helpers.studies.report import Table
from helpers.studies.status import word_of

COMMANDED = (named.RUN, named.COMMAND, named.TELLS)
HEADS = ("Cause", "Input", "Goes first", "State then", *map(str.capitalize, COMMANDED), "Latches", "Reset by", "As the record has it")
CAUTIONS = (
    "Prove every line with the fan: a contact or signal at its field end, and air in the stair. Tell building and alarm service before.",
    "No line stops the fan for want of demand in smoke control.",
)
AS_BEFORE = "as before"


def matrix(quoted):
    """The `Paper` of causes and effects; of a stair out of smoke control it says that none is written. Raises ValueError for a cause or an
    effect that is no point of the points list."""
    points = named.points_of(quoted)
    try:
        states = states_of(quoted)
    except ValueError as reason:
        return _paper(Part("Not written", (f"Not written: {reason}.",), cautions=CAUTIONS))
    titles, used = {state.key: state.title for state in states}, {state.point for state in states}
    rows = (*map(_of_state, states), *_of_alarms(quoted, titles), *_of_contacts(points, used))
    names = {point.name for point in points}
    if unknown := [used for used in (*(cells[1] for cells, _ in rows), *COMMANDED) if used not in names]:
        raise ValueError(f"causes and effects must be points of the points list, got {unknown[0]!r:.60}")
    cells, marks = zip(*rows, strict=True)
    order = "; ".join(f"{place}: {who}" for place, who in enumerate(priority(), 1))
    lines = (f"A cause with a smaller number goes before one with a larger, whichever came first. The order: {order}.",)
    return _paper(Part("All causes", lines, tables=(Table("matrix", "Cause and effect", HEADS, cells, marks),), cautions=CAUTIONS))


def _paper(part):
    return Paper("cause_and_effect", 4, "Cause and effect", "For whoever programs and proves the controls, and for the authority.", (part,))


def _of_state(state):
    """(cells, status) of a state."""
    told = f"{word_of('wrong')}: {CANNOT}: {state.refused}" if state.refused else "the record has nothing against it"
    fan = "as the state that follows" if state.fan == "without power" else state.fan
    cells = (state.begins, state.point, str(state.order), state.title, fan, state.speed, state.tells, state.latches, state.reset, told)
    return cells, "wrong" if state.refused else ""


def _of_alarms(quoted, titles):
    """The same of alarms on readings and on the fan's speed; titles: of the states, by key."""
    inputs = {tap.name: tap.name for tap in quoted.site.transmitters} | {named.SPEED: named.SPEED}
    order = str(priority().index("a fallback") + 1)
    for alarm, state in named.quoted_alarms(quoted):
        begins, point = f"alarm on {alarm.on}: {alarm.limit}", inputs.get(alarm.on, named.COMBINED)
        falls_back = alarm.does.startswith("alarm and ")
        then = titles["differ" if alarm.on == named.DIFFERENCE else "lost"] if falls_back else AS_BEFORE
        fan = "run" if falls_back else AS_BEFORE
        yield (begins, point, order, then, fan, alarm.does, TELLS, alarm.reset, "whoever mended it", alarm.waits), state


def _of_contacts(points, used):
    """The same of contacts that begin no state."""
    acting = {one["name"]: one for one in texts("papers")["points"]}
    for alarm in named.contacts(points):
        if alarm.on not in used:
            acts = acting[alarm.on]
            order, fan, speed = (acts.get(key, other) for key, other in (("order", ""), ("run", AS_BEFORE), ("command", AS_BEFORE)))
            cells = (f"{alarm.on}: {alarm.limit}", alarm.on, order or str(len(priority())), AS_BEFORE, fan, speed, TELLS)
            yield (*cells, alarm.reset, "whoever mended it", alarm.why), ""
