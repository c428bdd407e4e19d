"""What each of two fans of one stair does at a cause of cause and effect: its run command, its speed and its shut-off damper, in words and
as crosses. Which fan is in charge, which one is lost and which is to be asked stands in the sequence, as what the programmer asks.
"""

from dataclasses import dataclass

CHARGE, IDLE, ASKED, LOST = "in charge", "idle", "asked", "lost"
X, NOT, SAME, SWITCHED, WITHOUT = "X", "–", "=", "as switched", "as without it"
IF_ASKED = "if asked"
CHANGES = "change", "change on"  # keys of states in which one fan takes over from the other
AS_BEFORE = "as before"
BUT = " but in a change-over, that of the fan which is lost"  # behind: takes a command off
OPEN = "to be agreed"
RELEASE = "fan drive release"  # the point whose words stand under the table of both fans
MANUAL_DAMPER = (  # as its point tells it
    "open from the call of its fan on, before its run command, but not while the other drive tells enabled with its switch in MANUAL; open "
    "while its own drive tells enabled with its switch in MANUAL; shut else, once its drive tells not enabled"
)
HEADS = (
    "Cause", "Order", "Fan run command", "Speed command", "Fan damper command", "Second fan run command", "Second fan speed command",
    "Second fan damper command",
)  # fmt: skip
X_FANS = "First fan: run, its damper open", "First fan: stop, shut", "Second fan: run, its damper open", "Second fan: stop, shut"
X_LAMPS = "Lamp: fan runs", "Lamp: second fan runs"
X_NOTE = (
    " Of two fans: in charge, idle: X for the fan in charge, for the other one. Asked, lost: X for the fan that is asked, for the one that "
    "is lost. If asked: so in smoke control and at the panel's ON, where the other fan is to be asked, else as before; which that is "
    "stands in the sequence, as what the programmer asks. Speed: of the fan in charge; the other one has no speed command. A damper is "
    "open as long as its fan's run is commanded, and before its start; shut without it, once its drive is off; with a switch in MANUAL as "
    "the table of each fan has it."
)


@dataclass(frozen=True)
class EachFan:
    """What one of two fans does at a cause: run, stop as crosses (its shut-off damper opens with the one, shuts with the other), and in
    words its run command, its speed and that damper."""

    run: str
    stop: str
    told: str
    speed: str
    damper: str


STAYS = EachFan(SAME, SAME, AS_BEFORE, AS_BEFORE, AS_BEFORE)
STOPS = EachFan(NOT, X, "off", "none", "shut, once its drive is off")
TAKEN = EachFan(
    f"{NOT} {IF_ASKED}", f"{X} {IF_ASKED}",
    told="off where the other one is asked, else as before",
    speed="none where the other one is asked, else as before",
    damper="shut where the other one is asked, once this drive is off, else as before",
)  # fmt: skip
GIVEN = EachFan(
    f"{X} {IF_ASKED}", f"{NOT} {IF_ASKED}",
    told="run where it is asked, else as before",
    speed="where it is asked, in smoke control that of before the loss, at the panel's ON that of the override; else as before",
    damper="open where it is asked, before its start, else as before",
)  # fmt: skip
UNSETTLED = EachFan(OPEN, OPEN, f"{OPEN}, see the enquiry list: two intakes", AS_BEFORE, AS_BEFORE)
RUNS = EachFan(
    CHARGE, IDLE,
    told="run where it is in charge, else off",
    speed="where it is in charge, else none",
    damper="open before its start where it is in charge, else shut, once its drive is off",
)  # fmt: skip
CHANGED = EachFan(
    ASKED, LOST,
    told="run for the one that is asked, off for the one that is lost",
    speed="of the one that is asked; none of the lost one",
    damper="open before its start for the one that is asked; shut for the lost one, once its drive is off",
)  # fmt: skip
BY_HAND = EachFan(
    SWITCHED, SWITCHED,
    told="as in the state that would hold without this cause; its drive goes by its own switch, and a start of the other fan waits while "
    "that drive is enabled there",
    speed="of whoever is at the switch, while the other drive is not enabled",
    damper=MANUAL_DAMPER,
)  # fmt: skip
KEPT = "as in the state that would hold without this cause"
STANDS = EachFan(WITHOUT, WITHOUT, KEPT, KEPT, KEPT)


def fans_in(state) -> tuple[EachFan, EachFan]:
    """What the first and the second fan do in a `State`."""
    if state.key in CHANGES:
        return CHANGED, CHANGED
    if state.inside:
        return STAYS, STAYS
    stands = STANDS if state.commands else STOPS
    one = {"run": RUNS, "off": stands, "without power": stands}.get(state.fan, BY_HAND)
    return one, one


def fans_at(name, second, told) -> tuple[EachFan, EachFan]:
    """What both do at a contact that begins no state; name: its point; second: how a point of the second fan begins; told: its entry of the
    file of words."""
    if told.get("fan", "").startswith(OPEN):
        return UNSETTLED, UNSETTLED
    if "Change-over" not in told.get("state", ""):
        return STAYS, STAYS
    return (GIVEN, TAKEN) if name.startswith(second) else (TAKEN, GIVEN)


def crosses_of(fans) -> tuple[str, ...]:
    """Crosses of both in the columns of X_FANS: each damper opens with the run of its fan and shuts without it."""
    return tuple(mark for fan in fans for mark in (fan.run, fan.stop))


def words_of(fans) -> tuple[str, ...]:
    """Words of both in the columns of HEADS after its order: run command, speed command and shut-off damper of each."""
    return tuple(word for fan in fans for word in (fan.told, fan.speed, fan.damper))
