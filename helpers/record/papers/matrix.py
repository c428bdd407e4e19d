"""Cause and effect: every cause with its input of the points list, what the outputs do, what latches, who resets it, what goes first."""

from helpers.record.papers import points as named
from helpers.record.papers.beyond import both_fans
from helpers.record.papers.beyond.second_shaft import shaft_matrix
from helpers.record.papers.beyond.site_has import INTAKE
from helpers.record.papers.paper import LEGEND, UNTIL, Paper, Part
from helpers.record.papers.states import NOT_JUDGED, OVER_MANUAL, PANEL, TELLS, order_said, priority, states_of, verdict_on
from helpers.studies.report import Table, listed

COMMANDED = (named.RUN, named.COMMAND, named.TELLS)
DAMPER = "intake damper command"  # of a fan that has one at its intake
WITHOUT_POWER = f"{both_fans.KEPT}; which way it goes without power: to be agreed, see the enquiry list: intake damper"
BY_FAN = {"run": "open", "off": "shut, once the fan has stopped; open in MANUAL"}
BY_HAND = "open as long as a switch at a drive stands in MANUAL"
HEADS = (
    "Cause",
    "Input",
    "Order",
    "State then",
    "Response",
    *map(str.capitalize, COMMANDED),
    DAMPER.capitalize(),
    "Latches",
    "Reset by",
    "As the record has it",
)
CALLED = {"Fan run command": "Run of the fan in charge", "Speed command": "Speed of the fan in charge"}
OF_TWO = tuple(CALLED.get(one, one) for one in HEADS)
X, SAME, NOT, SWITCHED, WITHOUT = (
    both_fans.X,
    both_fans.SAME,
    both_fans.NOT,
    both_fans.SWITCHED,
    both_fans.WITHOUT,
)  # an empty cell would be one to fill in
BY_PROOF = "proof"
X_HEADS = (
    "Cause", "Order", "Fan: run", "Fan: stop", "Speed: by the loop", "Speed: fixed, as agreed", "Speed: in MANUAL", "Intake damper: open",
    "Intake damper: shut", "Lamp: fan runs", "Lamp: trouble", "Lamp: switch not in AUTO", "Record",
)  # fmt: skip
X_NOTE = (
    "X: commanded, lit or written down, with date and time. =: as before. –: not. proof: lit by the proof of run and never by the "
    "command, dark while run proof without run stands. as without it: as in the state that would hold without this cause; as switched: "
    "the same, the drive going by its own switch. Fan and speed of a cause act while no cause of a smaller number stands, but for "
    "isolator, power, trip and MANUAL: they keep no later cause from commanding run. A lamp of one that is overridden stays lit. "
    "Whether a value is to be entered says the table behind this one. An alarm's X for a fixed speed acts in smoke control alone. At "
    "the panel's ON and OFF the output panel over MANUAL is on besides, and smoke control or ON as the points list has it."
)
X_DAMPER = " The intake damper is open as long as a switch stands in MANUAL, whatever the state."
OPEN = both_fans.OPEN  # by what the panel's ON runs, where no fixed speed protects
BY_LOOP, IN_MANUAL = ("smoke", "test"), ("manual",)  # keys of states by what gives the speed; all others that run have a fixed one
HELD = both_fans.CHANGES  # the loop is held where it was
LIGHT_NOT_IN_AUTO = (  # contacts
    "fire service's panel not in AUTO",
    "drive in manual",
    "fan of the second shaft: in manual",
    "fan of the second shaft: switch of the fire service not in AUTO",
)
NEITHER = both_fans.STAYS, both_fans.STAYS
NOT_IN_AUTO = ("panel off", "panel on", "manual")
BESIDE = ("second fan run command", "second fan speed command", "fan damper command", "second fan damper command")
TWO_X_HEADS = (*X_HEADS[:2], *both_fans.X_FANS, *X_HEADS[4:7], *X_HEADS[7:9], *both_fans.X_LAMPS, *X_HEADS[10:])
IN_CHARGE = (
    "Each of the two fans has a run command, a speed command and a command of its shut-off damper of its own: what a cause does to each "
    "stands in the crosses and in the table of each fan; the one between tells of the fan in charge. The second fan's points and both "
    "dampers': {}."
)
ITS_OWN_TABLE = (
    "Of these causes the fire alarm and the self-test alone command the second shaft's fan too, and the stair's panel where that fan has "
    "no switch of its own; what begins, stops and outranks it stands in its own table, below."
)
CAUTIONS = (
    "Prove every line with the fan: a contact or signal at its field end, and air in the stair. Tell building and alarm service before.",
    "No line stops the fan for low demand in smoke control.",
)
AS_BEFORE, AS_STATE, ORDERS_NOTHING = both_fans.AS_BEFORE, "as the state", "no command to run or stop"


def matrix(quoted):
    """The `Paper` of causes and effects; of a stair out of smoke control it says that none is written. Raises ValueError for a cause or an
    effect that is no point of the points list."""
    points = named.points_of(quoted)
    try:
        states = states_of(quoted)
    except ValueError as reason:
        return _paper(Part("Not written", (f"Not written: {reason}.",), cautions=CAUTIONS))
    titles = {state.key: state.title for state in states}
    two_fans = quoted.site.second_fan is not None
    rows = (*(_of_state(quoted, state) for state in states), *_of_alarms(quoted, titles), *_of_contacts(quoted, points, states))
    names = {point.name for point in points}
    several = [state.inputs for state in states] + [alarm.inputs for alarm, _ in named.quoted_alarms(quoted)]
    several.append(tuple(tap.name for tap in quoted.site.transmitters))
    spoken = names | {listed(inputs) for inputs in several if set(inputs) <= names}
    damper = quoted.has({"only": INTAKE})
    effects = (*COMMANDED, *((DAMPER,) if damper else ()), *(BESIDE if two_fans else ()))
    if unknown := [used for used in (*(cells[1] for cells, *_ in rows), *effects) if used not in spoken]:
        raise ValueError(f"causes and effects must be points of the points list, got {unknown[0]!r:.60}")
    cells, marks, crosses, fans = zip(*sorted(rows, key=_place), strict=True)
    if two_fans:
        crosses = tuple(map(_crosses_of_both, crosses, fans))
    marks = tuple(named.waiting(quoted, row, mark) for row, mark in zip(cells, marks, strict=True))
    order = "; ".join(f"{place}: {who}" for place, who in enumerate(priority(two_fans), 1))
    lines = (
        LEGEND,
        UNTIL,
        named.LISTED,
        f"A cause with a smaller number decides on run or stop, whichever came first. The order: {order}. Isolator, power, trip and MANUAL "
        "decide so by the drive itself: none of their contacts takes a command off"
        f"{both_fans.BUT * two_fans}, nor keeps a later cause from commanding.",
        "An alarm on a reading is no command to run or stop, and the fan command stays: in smoke control it may take the speed from the "
        "loop, else it is trouble alone.",
        *((IN_CHARGE.format(listed(BESIDE)),) if two_fans else ()),
        *((ITS_OWN_TABLE,) if quoted.site.second_shaft is not None else ()),
    )
    x_heads, note = (TWO_X_HEADS, X_NOTE + both_fans.X_NOTE) if two_fans else (X_HEADS, X_NOTE)
    by_order = tuple((one[0], one[2].partition(":")[0].partition(";")[0], *cross) for one, cross in zip(cells, crosses, strict=True))
    note += X_DAMPER * damper
    heads = OF_TWO if two_fans else HEADS
    shown, x_shown = (_built(of, damper) for of in (heads, x_heads))
    short = Table(
        "crosses", "Causes and effects at a glance", _of(x_heads, x_shown), tuple(_of(one, x_shown) for one in by_order), note=note
    )
    tables = short, Table("matrix", "Cause and effect", _of(heads, shown), tuple(_of(one, shown) for one in cells), marks)
    if two_fans:  # in a table of its own: one with all of it is wider than a sheet
        each = tuple((*by_order[at][:2], *both_fans.words_of(one)) for at, one in enumerate(fans))
        release = next(point.tells for point in points if point.name == both_fans.RELEASE)
        tables += (Table("fans", "What each fan does", both_fans.HEADS, each, note=f"Drive release of each fan: {release}."),)
    causes = Part("All causes", lines, tables=tables, cautions=(quoted.filled(named.IN_A_FIRE), *CAUTIONS))
    return _paper(causes, *shaft_matrix(quoted, names))


def _built(heads, damper):
    """Places of the columns that a site has: without those of the intake damper where none is built."""
    return [place for place, head in enumerate(heads) if damper or not head.startswith("Intake damper")]


def _of(row, places):
    return tuple(row[place] for place in places)


def _crosses_of_both(cross, fans):
    """The same of crosses, in the columns of `TWO_X_HEADS` after its order: each fan's lamp as that of one."""
    marks = both_fans.crosses_of(fans)
    return (*marks, *cross[2:7], cross[7], *cross[7:])


def _place(row):
    """Where a cause stands: by its place in the list of orders, those that order nothing last."""
    place, numbered, _ = row[0][2].partition(":")
    return int(place) if numbered else len(priority()) + 1


def _paper(*parts):
    return Paper("cause_and_effect", 4, "Cause and effect", "For whoever programs and proves the controls, and for the authority.", parts)


def _of_state(quoted, state):
    """(cells, status, crosses, what each of two fans does) of a state."""
    told, mark = verdict_on(quoted, state)
    kept = bool(state.commands)  # the fan stands, or is run, by something else than its commands
    fan = AS_BEFORE if state.inside else both_fans.KEPT if kept else f"{state.fan}{quoted.filled(OVER_MANUAL) * (state.key in PANEL)}"
    cells = (
        state.begins,
        state.point,
        order_said(state),
        state.title,
        AS_STATE,
        fan,
        f"{both_fans.KEPT}; the fan's own: {state.speed}" if kept else state.speed,
        state.tells,
        _damper(state),
        state.latches,
        state.reset,
        told,
    )
    return cells, mark, _crosses(state, quoted.fixed_speed.none_protects), both_fans.fans_in(state)


def _damper(state):
    """What the intake damper does in a state, in words."""
    if state.inside:
        return AS_BEFORE
    if state.key in IN_MANUAL:
        return BY_HAND
    return WITHOUT_POWER if state.fan == "without power" else both_fans.KEPT if state.commands else BY_FAN[state.fan]


def _crosses(state, none_protects):
    """What a state does to fan, speed, damper, lamps and record, in the columns of `X_HEADS` after its order; none_protects: whether no
    fixed speed protects this stair, so that the panel's ON has none to agree."""
    runs, stops, hand = state.fan == "run", state.fan == "off", state.key in IN_MANUAL
    if state.commands and not hand:
        return (*(WITHOUT,) * 7, BY_PROOF, X, SAME, X)
    speed = (
        (SAME,) * 3
        if state.key in HELD
        else (WITHOUT, WITHOUT, X)
        if hand
        else (_x(state.key in BY_LOOP), _x(runs and state.key not in BY_LOOP), NOT)
    )
    speed = (OPEN,) * 2 + speed[2:] if state.key == "panel on" and none_protects else speed
    fan = (SWITCHED, SWITCHED) if hand else (SAME, SAME) if state.inside else (_x(runs), _x(stops))
    damper = (SAME, SAME) if state.inside else (X, NOT) if hand else (_x(runs), _x(stops))
    return (*fan, *speed, *damper, BY_PROOF, X if state.tells == TELLS else SAME, X if state.key in NOT_IN_AUTO else SAME, X)


def _x(holds):
    return X if holds else NOT


def _told_alone(fixed=False):
    """The same of a cause that orders nothing: it lights the trouble lamp; fixed: and takes the speed from the loop in smoke control."""
    speed = (NOT, X, NOT) if fixed else (SAME,) * 3
    return (SAME, SAME, *speed, SAME, SAME, BY_PROOF, X, SAME, X)


def _of_alarms(quoted, titles):
    """The same of alarms on readings and on the fan's speed, and of signals that are lost; titles: of the states, by key."""
    for alarm, state in (*named.lost_alarms(quoted), *named.quoted_alarms(quoted)):
        lost, falls_back = named.LOSES in alarm.on, alarm.does.startswith(named.FALLS_BACK)
        key = "differ" if alarm.on == named.DIFFERENCE else "lost" if lost else "by alarm"
        then = f"in smoke control: {titles[key]}" if lost or falls_back else AS_BEFORE
        speed = alarm.does if lost or falls_back or state == "open" else "the loop's, where it gives the speed"
        order = ORDERS_NOTHING + "; in smoke control it gives the speed" * (lost or falls_back)
        cells = (
            f"alarm on {alarm.on}: {alarm.limit}",
            listed(alarm.inputs),
            order,
            then,
            alarm.does,
            AS_BEFORE,
            speed,
            TELLS,
            AS_BEFORE,
            alarm.reset,
        )
        yield (*cells, "whoever mended it", f"waits: {alarm.waits}; {alarm.why}"), state, _told_alone(fixed=lost or falls_back), NEITHER


def _of_contacts(quoted, points, states):
    """The same of contacts that begin no state; one that leads to a state which fails is no better than that state."""
    acting, used = quoted.filled(named.worded(points)), {state.point for state in states}
    failing = {state.title: told for state in states for told, mark in (verdict_on(quoted, state),) if mark == "wrong"}
    for alarm in named.contacts(points):
        if alarm.on not in used:
            told = acting[named.named_in_words(alarm.on)]
            fan, speed, state, then = (
                told.get(key, other)
                for key, other in (("fan", AS_BEFORE), ("speed", AS_BEFORE), ("state", AS_BEFORE), ("then", "alarm only"))
            )
            cells = (f"{alarm.on}: {alarm.limit}", alarm.on, ORDERS_NOTHING, state, then, fan, speed, TELLS, AS_BEFORE)
            crosses = (OPEN, OPEN, *_told_alone()[2:]) if fan.startswith(OPEN) else _told_alone()
            if named.named_in_words(alarm.on).removeprefix(named.SECOND) in LIGHT_NOT_IN_AUTO:
                crosses = (*crosses[:-2], X, X)
            by = told.get("by", "whoever mended it")  # nobody mends a switch, nor takes another one's lock off
            fails = next((told for title, told in failing.items() if title in state), "")
            yield (
                (*cells, alarm.reset, by, f"{fails or NOT_JUDGED}; {alarm.why}"),
                "wrong" if fails else "",
                crosses,
                both_fans.fans_at(alarm.on, named.SECOND, told),
            )
