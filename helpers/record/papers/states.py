"""The states that the smoke-control fan of a stair may be in, with this site's figures: what begins each, what the fan does, every way out.

One list for the sequence of operations and for cause and effect. What this site's loop cannot do is refused, with the record's reason.
"""

from dataclasses import dataclass, replace

from helpers.model.files import texts
from helpers.record.board import state_of
from helpers.record.papers.points import SOUND_TOO, TO_AGREE, falling_back, quoted_alarms
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT, TUNING
from helpers.studies.duty.change_over.told import LINES as CHANGE_OVER
from helpers.studies.report import listed
from helpers.studies.status import word_of, worst_of

TELLS = "annunciates"  # the trouble signal, in most states
CANNOT = "this site's loop cannot do it"  # before the record's reason
FIRST_HOLDS = "From the top: the first that holds is taken."  # of the ways out
NOT_AS_IT_STANDS = "Settle that first, and enter nothing of this state that hangs on it before."
STOPPED = "off", "without power"
EACH = "each reading"  # in place of a point: every transmitter
NO_FIELDS = "cannot", "only", "own", "after", "back", "before", "uses", "alarms"  # of an entry of the file of words, and no part of a state
LOOP = "loop"  # what a state hangs on that needs the whole loop
NOT_JUDGED = "not judged by the record"
NOT_YET_LAID_DOWN = "Whether an alarm on a reading begins this state is not laid down yet."
BY_EVACUATION = "an alarm on a reading that comes with every reading right"
LEFT_OPEN = "what its steps leave to be laid down"
PANEL = ("panel off", "panel on")  # keys of the states with the output over MANUAL beside their run command
OVER = "panel over MANUAL"
OVER_MANUAL = f", with {OVER}: to be agreed, see the enquiry list: switch at the drive"
TELL_ALONE = "Alarms on limits and on a frozen reading tell alone on this site: none of them begins this state."


@dataclass(frozen=True)
class State:
    """One state of the sequence, in words, each figure the record's.

    key; title; point: names of the points in `inputs` that begin it, in words; begins: how; order: place in `priority` of the cause that
    orders run or stop, from 1; whose: that cause, in words; fan: what is asked of it ("run", "off", "without power", "as the switch at the
    drive"); speed; ends: (what ends it, key of the state that follows) of every way out, in the order in which they are looked up; latches:
    whether it stays when its cause goes; reset: by whom; does: what happens, step by step; tells: what the trouble signal does; refused:
    why this site's loop cannot do it, in the record's words, "" where it can; comes, there, gone: how its cause begins, stands and ends, in
    words; inside: key of the state within which alone it gives the speed, "" for one that orders run or stop; lines: (group, name) of the
    lines of the schedule that it uses; commands: what run and speed commands do where the fan stands by something else than them, "" else.
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
    comes: str = ""
    there: str = ""
    gone: str = ""
    inside: str = ""
    lines: tuple[tuple[str, str], ...] = ()
    inputs: tuple[str, ...] = ()
    whose: str = ""
    commands: str = ""


def sound(states, orders_run):
    """The states themselves; orders_run: keys of those whose cause orders the fan to run.

    Raises ValueError for two of one key, a way out to a state that is not there, a state without a way out, one from which no way leads
    back to the first; one whose cause a lower one undoes, one that a higher cause does not end, one that starts the fan without an order.
    """
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
    for state in states:
        _ranked(state, {one.key: one for one in states}, orders_run)
    return states


def _ranked(state, by_key, orders_run):
    """Raises ValueError where a way out of a state breaks the ranks, see `sound`."""
    gone = by_key[state.inside or state.key].gone
    for when, to in state.ends:
        then = by_key[to]
        if then.order > state.order and not (gone and when.startswith(gone)):
            raise ValueError(f"a lower cause must not undo a higher one; {when!r:.60} leads from {state.title!r:.60} to {then.title!r:.60}")
        orders = by_key[then.inside or to]
        begun = orders.key in (state.key, state.inside)  # by the same order
        comes, stands = not then.inside and when == then.comes, then.there.startswith(orders.there) and when.endswith(f", {then.there}")
        if then.fan not in STOPPED and not begun and not (orders.key in orders_run and (comes or stands)):
            raise ValueError(f"the fan must start by an order to run alone; {when!r:.60} of {state.title!r:.60} is none")
    after = {to for _, to in state.ends}
    higher = [one for one in by_key.values() if one.order < state.order and one.comes and not one.inside and one.there]
    if missing := [one.title for one in higher if one.key not in after]:
        raise ValueError(f"every higher cause must end a state; none of the ways out of {state.title!r:.60} leads to {missing[0]!r:.60}")


def states_of(quoted):
    """The `State`s of what is `Quoted` of a record, in the order of the paper. Raises ValueError for a stair whose file has it out of smoke
    control, a low-demand stop, and as `sound`."""
    control = quoted.design.site.control
    if not control.fire_mode or quoted.design.out_of_mode:
        raise ValueError("the site file has this loop out of smoke control: first its mode, then a sequence of smoke control")
    if quoted.setting("low demand", "low-demand stop").value != "off":
        raise ValueError("a low-demand stop must be off in smoke control; none is ever active there")
    words = texts("papers")
    told = [one | {"gone": gone_of(quoted, one)} if "gone" in one else one for one in words["states"] if quoted.has(one)]
    return sound(tuple(_state(quoted, one, told) for one in told), tuple(words["sequence"]["orders_run"]))


def priority(two_fans=False):
    """Whose order to run or stop goes before whose, the first first; two_fans: where one fan that cannot run ends nothing."""
    return tuple(texts("papers")["sequence"]["priority_of_two" if two_fans else "priority"])


def speeds(quoted):
    """Who gives the speed of a fan that has an order to run, the first first, of the states that this site has."""
    return tuple(said_here(quoted, texts("papers")["sequence"]["speeds"]))


def said_here(quoted, told):
    """Sentences of the file of words, those left out that are `only` for what this site has not."""
    return [one if isinstance(one, str) else one["says"] for one in told if isinstance(one, str) or quoted.has(one)]


def gone_of(quoted, one):
    """How the cause of a state of the file of words ends, of parts that hold for some sites only."""
    return one["gone"] if isinstance(one["gone"], str) else "".join(said_here(quoted, one["gone"]))


def _state(quoted, one, told):
    """A state of the file of words, its ways out worked out of how the causes of all others begin, stand and end."""
    plain = {name: value for name, value in one.items() if name not in NO_FIELDS} | {"does": said_here(quoted, one["does"])}
    lines = tuple(dict.fromkeys(quoted.lines_named({**plain, "uses": one.get("uses", [])})))
    inputs = [tap.name for tap in quoted.site.transmitters] if one["point"] == EACH else one["point"]
    inputs = (inputs,) if isinstance(inputs, str) else tuple(inputs)
    plain |= {"point": listed(inputs), "whose": priority(quoted.site.second_fan is not None)[one["order"] - 1]}
    refused = _cannot(quoted, one.get("cannot", ""), lines)
    state = State(**quoted.filled(plain), ends=tuple(ends_of(one, told)), refused=refused, lines=lines, inputs=inputs)
    if one["key"] == "lost" and not falling_back(quoted):
        laid_down = "open" not in [state for _, state in quoted_alarms(quoted)]
        return replace(state, does=(*state.does, TELL_ALONE if laid_down else NOT_YET_LAID_DOWN))
    return replace(state, does=(*state.does, *_alarms_said(quoted))) if one.get("alarms") else state


def _alarms_said(quoted):
    """Each alarm on a reading that begins its state, with its limit, and that it comes with every reading right where it does."""
    for one in falling_back(quoted):
        yield f"Alarm on {one.on}: {one.limit}, for {one.waits}: {one.does}. Reset: {one.reset}."
        _, marked, told = one.why.partition(f"; {SOUND_TOO}")
        if marked:
            yield f"{word_of('attention')}: an ordinary evacuation may bring the alarm on {one.on}: {SOUND_TOO}{told.partition('; ')[0]}."


def order_said(state):
    """The place of a state's cause in the list of orders, in words."""
    return f"{state.order}: {state.whose}{'; gives the speed alone' * bool(state.inside)}"


def reason_said(refused):
    """Why a state is refused, in words to stand behind one verdict: the record's lines, without the word again before each."""
    return refused.replace(f"{word_of('wrong')}: ", "")


def verdict_on(quoted, state):
    """(words, status) of the worst of all that a state uses of the record: what it is refused for, then each line of the schedule that
    fails, is to be checked or is open, and what its commands leave to be agreed; said to be judged by nobody where it uses none."""
    found = {}
    for group, name in state.lines:
        if group.startswith("="):  # a figure of a section, and no line of the schedule
            found.setdefault(quoted.figure(group[1:], name)[1] or "good", []).append(name)
        else:
            found.setdefault(state_of(line := quoted.setting(group, name)), []).append(line.name)
    if any(step.startswith(f"{word_of('attention')}: ") for step in state.does):
        found.setdefault("attention", []).append(BY_EVACUATION)
    if "open" not in found and any(word_of("open") in step for step in state.does):
        found["open"] = [LEFT_OPEN]
    if state.key in (*PANEL, "manual") and TO_AGREE in quoted.with_answers(OVER_MANUAL):
        found.setdefault("open", []).append(OVER)
    told = [f"{word_of('wrong')}: {CANNOT}: {reason_said(state.refused)}"] * bool(state.refused)
    told += [f"{word_of(key)}: {listed(dict.fromkeys(found[key]))}" for key in ("wrong", "attention", "open") if key in found]
    mark = worst_of([*found, *["wrong"] * bool(state.refused)]) if found or state.refused else ""
    if not told:
        return (f"nothing against {listed(dict.fromkeys(found['good']))}", "") if found else (NOT_JUDGED, "")
    return "; ".join(told), mark


def ends_of(one, told):
    """(what ends a state, key of the next) of the file of words: higher causes that begin, what changes inside, then what stands when its
    own cause is gone; each in the order of the ranks."""
    ranked = sorted(told, key=lambda other: (other["order"], other.get("before", len(told))))
    owner = next(other for other in told if other["key"] == one.get("inside", one["key"]))  # whose order it is
    for other in ranked:
        switched = other["order"] == owner["order"] and other["point"] == owner["point"] and other is not owner  # the other end of a switch
        begins = other["order"] < one["order"] and "inside" not in other and one["key"] in other.get("after", (one["key"],))
        if other.get("comes") and (begins or (switched and "inside" not in other)):
            yield other["comes"], other["key"]
    for other in ranked:
        if other.get("inside", LOOP) in (one["key"], one.get("inside")) and other["before"] < one.get("before", len(told)):
            yield other["comes"], other["key"]
    if "inside" in one:
        yield one["back"], one["inside"]
    lower = [other for other in ranked if other["order"] > owner["order"] and other.get("there")] if owner.get("gone") else []
    for other in lower:
        yield f"{owner['gone']}, {other['there']}" if len(lower) > 1 else owner["gone"], other["key"]
    yield from map(tuple, one.get("own", ()))


def _cannot(quoted, hangs_on, lines):
    """Why this site's loop cannot do what hangs on a line of the schedule ("group/name"), or on all of the loop, which runs with every one
    of the lines: none of them may be one that is not to be entered; "" where it can."""
    if hangs_on == LOOP:
        own = (
            place for place in lines if place not in CHANGE_OVER and not place[0].startswith("=")
        )  # one that is late fails, and is there all the same
        bad = [line for line in (quoted.stated(*place) for place in own) if word_of("wrong") in line.value]
        told = "; ".join(dict.fromkeys(f"{line.name}: {line.value}" for line in bad))
        return quoted.design.standing.first(SET_POINT, ACTION, FAN, RAMP, TUNING) or told
    if not hangs_on:
        return ""
    line = quoted.stated(*hangs_on.split("/", 1))
    state = state_of(line)
    if state == "wrong" and word_of(state) not in line.value:  # what speaks against it stands in its reason
        return f"{line.value}; {line.why}"
    return line.value if state in ("wrong", "open") else ""
