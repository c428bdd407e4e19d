"""The sequence of operations of a stair's fan: its states one by one, who goes before whom, each state played on the model of its loop."""

from helpers.model.files import texts
from helpers.record.papers.beyond import both_fans
from helpers.record.papers.beyond.second_shaft import shaft_sequence
from helpers.record.papers.paper import LEGEND, UNTIL, Paper, Part
from helpers.record.papers.played import not_played, player_of
from helpers.record.papers.points import IN_A_FIRE
from helpers.record.papers.states import (
    CANNOT,
    FIRST_HOLDS,
    NOT_AS_IT_STANDS,
    order_said,
    priority,
    reason_said,
    speeds,
    states_of,
    verdict_on,
)
from helpers.studies.report import Table, listed
from helpers.studies.status import word_of

FOR_WHOM = "For the programmer, for whoever proves the sequence on the day, and for the authority."
ALL = ("State", "Begins with", "Order", "Fan", "Speed", "Latches", "Reset by", "As the record has it")
CAUTIONS = (
    "A locked isolator, no power, a tripped drive, the fire service's panel, MANUAL at the drive, smoke at the intake and the fire alarm: "
    "all of them outrank the loop; among themselves the list decides.",
    "A low-demand stop is never active in smoke control.",
    "A state is proved on site with the fan: building and alarm service told, nobody in the swing of a door, one person at the switch.",
    "What was played was played on a model, judged by shut stair doors where it ends, and proves nothing on site. Forces and times on "
    "the way stand in the record, under tuning and door events.",
)


def sequence(quoted):
    """The `Paper` of the sequence; of a stair out of smoke control it says that none is written."""
    try:
        states = states_of(quoted)
    except ValueError as reason:
        return _paper(Part("Not written", (f"Not written: {reason}.",), cautions=CAUTIONS))
    player, titles = player_of(quoted), {state.key: state.title for state in states}
    plays = {state.key: player.plays(state) for state in states}
    return _paper(
        _before(quoted, states, plays),
        *(_part(state, plays[state.key], titles, verdict_on(quoted, state)) for state in states),
        *shaft_sequence(quoted),
    )


def _paper(*parts):
    return Paper("sequence", 1, "Sequence of operations", FOR_WHOM, parts)


def _left_out(states, plays):
    """Which states were not played on the model, a sentence for each reason."""
    reasons = {state.title: not_played(plays[state.key]) for state in states}
    for reason in dict.fromkeys(filter(None, reasons.values())):
        yield f"Not played on the model: {listed(title for title, why in reasons.items() if why == reason)}: {reason}."


def _before(quoted, states, plays):
    """What holds for all states."""
    lines = (
        LEGEND,
        UNTIL,
        "The fan is in one state at a time. Who may order it to run or to stop is one list, who gives its speed is another.",
        "Orders: the cause that is first in the list below decides, whichever came first, and no lower one undoes it. Isolator, power, "
        "trip and MANUAL decide so by the drive itself: none of their contacts takes a command off"
        f"{both_fans.BUT * (quoted.site.second_fan is not None)}.",
        "Speed: a reading that is lost or far from another is no command. In smoke control alone it takes the speed from the loop.",
        *(f"{state.title}: {word_of('wrong')}, refused: {CANNOT}: {reason_said(state.refused)}." for state in states if state.refused),
        *_left_out(states, plays),
    )
    told = {state.key: verdict_on(quoted, state) for state in states}
    rows = tuple((state.title, state.begins, order_said(state), state.fan, state.speed, state.latches, state.reset, told[state.key][0])
                 for state in states)  # fmt: skip
    marks = tuple(told[state.key][1] for state in states)
    whose = Table("speeds", "Who gives the speed", ("Place", "In which state, and whose speed"),
                  tuple((str(place), said) for place, said in enumerate(speeds(quoted), 1)))  # fmt: skip
    orders = priority(quoted.site.second_fan is not None)
    return Part("Priorities", lines, orders, (Table("states", "All states", ALL, rows, marks), whose, _loop(quoted), _rules(quoted)),
                cautions=(quoted.filled(IN_A_FIRE), *CAUTIONS))  # fmt: skip


def _loop(quoted):
    """What the loop is set to, a line each with its verdict: what is CHECK is signed for by its own name, and not by that of a state."""
    return quoted.rows("loop", "What the loop is set to", "loop", [line.name for line in quoted.settings("loop")])


def _rules(quoted):
    """What whoever programs it asks besides, with the answer of the model or whose it is."""
    told = [one for one in texts("papers")["rules"] if quoted.has(one)]
    rows = tuple(tuple(quoted.filled(one[key]) for key in ("asks", "how", "whose")) for one in told)
    return Table("rules", "What the programmer asks", ("What", "How", "Who decides it"), rows)


def _part(state, plays, titles, verdict):
    """A state: what begins it, what the fan does, every way out, and what the model made of it; verdict: of `verdict_on`."""
    fails = () if state.refused or verdict[1] != "wrong" else (f"{verdict[0]}. {NOT_AS_IT_STANDS}",)
    lines = (
        [f"{word_of('wrong')}, refused: {reason_said(state.refused)}. What follows is for information, do not enter."]
        if state.refused
        else [*fails]
    )
    lines += [
        f"Begins with: {state.begins}. Input: {state.point}.",
        f"Fan: {state.fan}. Speed: {state.speed}.",
        *[f"Commands: {state.commands}."] * bool(state.commands),
        f"Latches: {state.latches}. Reset by: {state.reset}. Trouble signal: {state.tells}.",
    ]
    ways = Table(
        f"ways {state.key}", "Transitions", ("When", "Next state"), tuple((when, titles[to]) for when, to in state.ends), note=FIRST_HOLDS
    )
    if not_played(plays):
        return Part(state.title, tuple(lines), state.does, (ways,))
    rows, marks = tuple((play.tried, play.happened) for play in plays), tuple(play.state for play in plays)
    played = Table(f"played {state.key}", "Played on the model", ("What was tried", "What happened"), rows, marks)
    return Part(state.title, tuple(lines), state.does, (ways, played))
