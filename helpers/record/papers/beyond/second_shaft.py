"""The states of a second pressurised shaft's fan, beside those of the stair's: what begins each, what it does, every way out, what the
stair's fan does meanwhile, what the record tried of both; for the sequence of operations and for cause and effect.

A proposal: who starts and stops that fan is for the fire engineer to agree. Each cause is a point of the points list.
"""

from helpers.model.files import texts
from helpers.record.papers.beyond.both_fans import KEPT
from helpers.record.papers.beyond.stated import TOGETHER, second_shaft_parts
from helpers.record.papers.paper import Part
from helpers.record.papers.states import (
    FIRST_HOLDS,
    NO_FIELDS,
    NOT_AS_IT_STANDS,
    NOT_JUDGED,
    State,
    ends_of,
    order_said,
    said_here,
    sound,
    verdict_on,
)
from helpers.studies.doors.second_shaft.in_time import KEY as IN_TIME
from helpers.studies.report import Table, listed
from helpers.studies.status import word_of, worst_of

WORDS = "shaft_papers"
ALL = ("State", "Begins with", "Order", "Its fan", "Its speed", "The stair's fan", "Latches", "Reset by", "As the record has it")
CAUSES = ("Cause", "Input", "Order", "State then", "Its fan", "Its speed", "The stair's fan", "Latches", "Reset by", "As the record has it")
BESIDE_STATE = "stair", "played", "not_played"  # of an entry of the file of words, and no part of a state
TABLES = (TOGETHER, ("tuning", IN_TIME))
GRAVE = "wrong", "attention", "open"
PROPOSAL = f"{word_of('open')}: a proposal, to be agreed before it is entered"  # of every row: none of them is settled
NOT_TRIED = "the record has no such row: no loop is laid down, or no case is held"


def shaft_states(quoted) -> tuple[State, ...]:
    """The `State`s of the second shaft's fan of what is `Quoted` of a record, in the order of the paper; none without a second shaft.

    Raises ValueError as `states.sound`.
    """
    if quoted.site.second_shaft is None:
        return ()
    words = texts(WORDS)
    told = _entries(quoted)
    return sound(tuple(_state(quoted, one, told, words["priority"]) for one in told), tuple(words["orders_run"]))


def _entries(quoted):
    return [one for one in texts(WORDS)["states"] if quoted.has(one)]


def _state(quoted, one, told, ranks):
    plain = {name: value for name, value in one.items() if name not in (*NO_FIELDS, *BESIDE_STATE)}
    plain |= {"does": said_here(quoted, one["does"]), "whose": ranks[one["order"] - 1]}
    lines = tuple(dict.fromkeys(quoted.lines_named(plain)))
    inputs = (one["point"],) if isinstance(one["point"], str) else tuple(one["point"])
    plain |= {"point": listed(inputs)}
    return State(**quoted.filled(plain), ends=tuple(ends_of(one, told)), lines=lines, inputs=inputs)


def shaft_sequence(quoted) -> tuple[Part, ...]:
    """`Part`s of the sequence: what holds for both, then each state with its ways out and what the record tried of it."""
    states = shaft_states(quoted)
    if not states:
        return ()
    words, titles, told = texts(WORDS), {state.key: state.title for state in states}, {one["key"]: one for one in _entries(quoted)}
    judged = {state.key: _judged(quoted, state, told[state.key]) for state in states}
    rows = tuple((state.title, state.begins, order_said(state), state.fan, state.speed, told[state.key]["stair"], state.latches,
                  state.reset, judged[state.key][0]) for state in states)  # fmt: skip
    every = Table("shaft_states", "All states of the second shaft's fan", ALL, rows, tuple(judged[state.key][1] for state in states))
    left = [f"Not played: {state.title}: {why}." for state in states if (why := _played(quoted, told[state.key])[1])]
    (stated,) = second_shaft_parts(quoted, "sequence")
    head = Part(
        stated.title,
        (*stated.lines, *quoted.filled(words["lines"]), *left),
        tuple(words["priority"]),
        (every, *stated.tables),
        stated.cautions,
    )
    return head, *(_part(quoted, state, told[state.key], titles) for state in states)


def _part(quoted, state, one, titles):
    said, mark = _judged(quoted, state, one)
    lines = (
        *[f"{said}. {NOT_AS_IT_STANDS}"] * (mark in ("wrong", "open")),
        f"Begins with: {state.begins}. Input: {listed(state.inputs)}.",
        f"Its fan: {state.fan}. Its speed: {state.speed}. The stair's fan: {one['stair']}.",
        *[f"Commands: {state.commands}."] * bool(state.commands),
        f"Latches: {state.latches}. Reset by: {state.reset}. Trouble signal: {state.tells}.",
    )
    ways = tuple((when, titles[to]) for when, to in state.ends)
    tables = [Table(f"shaft ways {state.key}", "Transitions", ("When", "Next state"), ways, note=FIRST_HOLDS)]
    (rows, states), why = _played(quoted, one)
    if not why:
        tables.append(Table(f"shaft played {state.key}", "Played on the model", ("What was tried", "What happened"), rows, states))
    return Part(state.title, lines, state.does, tuple(tables))


def _judged(quoted, state, one):
    """(words, status) of the worst of what a state uses of the record, and of what the record tried of it."""
    said, mark = verdict_on(quoted, state)
    (rows, states), _ = _played(quoted, one)
    worst = worst_of(found) if (found := [one for one in states if one in GRAVE]) else ""
    tried = listed(dict.fromkeys(row[0] for row, key in zip(rows, states, strict=True) if key == worst))
    told = [said] * (said != NOT_JUDGED) + [f"{word_of(worst)}, as tried: {tried}"] * bool(worst) + [PROPOSAL]
    return "; ".join(told), worst_of(filter(None, (mark, worst, "open")))


def _played(quoted, one):
    """((rows, states) of the record's tables that tell of a state, why there is none in words)."""
    rows, states = [], []
    for place in TABLES:
        table = quoted.table(*place)
        for row, state in () if table is None else zip(table.rows, table.states, strict=True):
            if any(part.casefold() in str(row[0]).casefold() for part in one.get("played", ())):
                rows.append((row[0], "; ".join(f"{head}: {cell}" for head, cell in zip(table.columns[1:], row[1:], strict=True))))
                states.append(state)
    why = one.get("not_played", "") or NOT_TRIED * (not rows)
    return (tuple(rows), tuple(states)), why


def shaft_matrix(quoted, points) -> tuple[Part, ...]:
    """The `Part` of cause and effect; points: names of the points list. Raises ValueError for a cause that is none of them."""
    states = shaft_states(quoted)
    if not states:
        return ()
    told = {one["key"]: one for one in _entries(quoted)}
    if unknown := [name for state in states for name in state.inputs if name not in points]:
        raise ValueError(f"causes of the second shaft must be points of the points list, got {unknown[0]!r:.60}")
    rows, marks = [], []
    for state in sorted(states, key=lambda one: one.order):
        said, mark = _judged(quoted, state, told[state.key])
        fan = "as before" if state.inside else KEPT if state.commands else state.fan
        speed = f"{KEPT}; the fan's own: {state.speed}" if state.commands else state.speed
        rows.append((state.begins, listed(state.inputs), order_said(state), state.title, fan, speed, told[state.key]["stair"],
                     state.latches, state.reset, said))  # fmt: skip
        marks.append(mark)
    table = Table("shaft_matrix", "Cause and effect, fan of the second shaft", CAUSES, tuple(rows), tuple(marks))
    (stated,) = second_shaft_parts(quoted, "cause_and_effect")
    return (Part(stated.title, stated.lines, stated.steps, (table, *stated.tables)),)
