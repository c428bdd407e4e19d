"""The states that the smoke-control fan of a stair may be in, with this site's figures: what begins each, what the fan does, every way out.

One list for the sequence of operations and for cause and effect. What this site's loop cannot do is refused, with the record's reason.
"""

from dataclasses import dataclass

from helpers.model.files import texts
from helpers.record.board import state_of
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT, TUNING
from helpers.studies.status import word_of

TELLS = "tells"  # the trouble signal, in most states
CANNOT = "this site's loop cannot do it"  # before the record's reason
LOOP = "loop"  # what a state hangs on that needs the whole loop


@dataclass(frozen=True)
class State:
    """One state of the sequence, in words, each figure the record's.

    key; title; point: name of the input that begins it; begins: how; order: its place in `priority`, from 1; fan: what is asked of it
    ("run", "off", "without power"); speed; ends: (what ends it, key of the state that follows) of every way out; latches: whether it stays
    when its cause goes; reset: by whom; does: what happens, step by step; tells: what the trouble signal does; refused: why this site's
    loop cannot do it, in the record's words, "" where it can.
    """

    key: str
    title: str
    point: str
    begins: str
    order: int
    fan: str
    speed: str
    ends: tuple[tuple[str, str], ...]
    latches: str
    reset: str
    does: tuple[str, ...]
    tells: str = TELLS
    refused: str = ""


def sound(states):
    """The states themselves. Raises ValueError for two of one key, a way out to a state that is not there, a state without a way out, and
    one from which no way leads back to the first."""
    keys = [state.key for state in states]
    for state in states:
        if keys.count(state.key) > 1:
            raise ValueError(f"states must each have a key of their own; {state.key!r:.60} is the key of two")
        if not state.ends:
            raise ValueError(f"states must each have a way out; {state.title!r:.60} has none")
        if missing := [to for _, to in state.ends if to not in keys]:
            raise ValueError(f"ways out must lead to one of {', '.join(keys)}; one of {state.title!r:.60} leads to {missing[0]!r:.60}")
    ready, before = {keys[0]}, set()
    while ready != before:
        before, ready = ready, ready | {state.key for state in states if any(to in ready for _, to in state.ends)}
    if left := [state.title for state in states if state.key not in ready]:
        raise ValueError(f"states must all lead back to {states[0].title!r:.60}; no way out of {left[0]!r:.60} does")
    return states


def states_of(quoted):
    """The `State`s of what is `Quoted` of a record, in the order of the paper. Raises ValueError for a stair whose file has it out of smoke
    control, a low-demand stop, and as `sound`."""
    control = quoted.design.site.control
    if not control.fire_mode or quoted.design.out_of_mode:
        raise ValueError("the site file has this loop out of smoke control: first its mode, then a sequence of smoke control")
    if quoted.setting("low demand", "low-demand stop").value != "off":
        raise ValueError("a low-demand stop must be off in smoke control; none is ever active there")
    told = [one for one in texts("papers")["states"] if quoted.has(one)]
    there = {one["key"] for one in told}
    return sound(tuple(_state(quoted, one, there) for one in told))


def priority():
    """Who goes before whom, the first first."""
    return tuple(texts("papers")["sequence"]["priority"])


def _state(quoted, one, there):
    """A state of the file of words; a way out to one that this site does not have is left out."""
    filled = quoted.filled({name: value for name, value in one.items() if name not in ("ends", "cannot", "only")})
    ends = tuple((what, to) for what, to in one["ends"] if to in there)
    return State(**filled, ends=ends, refused=_cannot(quoted, one.get("cannot", "")))


def _cannot(quoted, hangs_on):
    """Why this site's loop cannot do what hangs on a line of the schedule ("group/name"), or on all of the loop; "" where it can."""
    if hangs_on in ("", LOOP):
        return quoted.design.standing.first(SET_POINT, ACTION, FAN, RAMP, TUNING) if hangs_on else ""
    line = quoted.setting(*hangs_on.split("/", 1))
    state = state_of(line)
    if state == "wrong" and word_of(state) not in line.value:  # what speaks against it stands in its reason
        return f"{line.value}; {line.why}"
    return line.value if state in ("wrong", "open") else ""
