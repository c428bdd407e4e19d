"""Points list and alarm list of a stair: every signal between field, drive and panel, by the object types of ASHRAE 135, and what rings.

Names are plain words but those of transmitters, which are the site file's. Limits and waits are quoted of the record.
"""

import re
from collections import Counter
from dataclasses import astuple, dataclass

from helpers.model.files import texts
from helpers.record.board import state_of
from helpers.record.papers.beyond.stated import second_shaft_parts
from helpers.record.papers.paper import LEGEND, UNTIL, Paper, Part
from helpers.record.standing import NOT_LAID_DOWN, SET_POINT
from helpers.studies.report import Table
from helpers.studies.status import word_of, worst_of
from helpers.units.said import unit_of

LISTED = (
    "A cell that says to be agreed has what to enter in the enquiry list, after its until then, and nothing where that list has none, "
    "whatever word its row bears; a row without another word is NOT YET for it. Its other cells are written into drawing and program as "
    "they stand, so that no question holds up the list; while the head says DRAFT nothing is wired or loaded by them, and nothing is "
    "handed over before the last answer. The four words are those of every paper, each of its own row: of the point, of its alarm, of "
    "what follows of it. Where one signal bears two of them in two papers both hold, and the graver one is settled first."
)
TYPES = "Kinds are object types of ASHRAE 135, classes words of NFPA 72; both from memory, not verified."
BINARY, VALUE, FIRE, NONE, CHANGES = "binary input", "binary value", "alarm", "none", "at every change"
TO_AGREE = "to be agreed"
OF_LIST = "several alarms, each with its own wait and verdict: see the alarm list"
AGREED = "to be agreed, see the enquiry list: waits and records"
SPEED = "fan speed"  # name of a point whose alarm is one on readings
RUN, COMMAND, TELLS = "fan run command", "speed command", "trouble signal"  # of those that causes act on
WATCHED, TROUBLE = "supervisory", "trouble"  # classes of alarms on readings, and on signals that are lost
RUNNING = (  # never for a proof that may not come
    "while the state is smoke control or the self-test and the loop gives the speed, run proved or not, and proved while a contact stands, "
    "from a time after it takes over "
    "that is agreed, see the enquiry list: alarms at start"
)
DAMPERS = "dampers"
VALUE = "binary value"  # worked out, and rings as an input does
SECOND = "second fan "
SOUND_TOO = "it comes with every reading right"  # as the reason of an alarm begins to say it
FALLS_BACK, SEEN = "alarm and ", "latched until seen"
BY_PERSON = "latched until somebody resets it: a person, whatever the readings do then"
ALWAYS = (
    "always, but while its transmitter starts, its start-up time at the longest: see the enquiry list: transmitters' start-up; with the "
    "fan off as trouble alone"
)
LOSES = "signal failed"
IN_CHARGE = ", of the fan in charge alone"  # the idle one stands at nothing
DIFFERENCE, LIMITS = "difference of any two readings", "alarm limits"
IN_A_FIRE = (  # words of the file of words, filled in where it is shown
    "In a fire alarm, whoever hears a trouble: {said/in a fire}. What a person mends, looks at or resets waits for that."
)
CAUTIONS = (
    "A point is proved from its field end to the screen and to the fan, never at the terminals alone.",
    "Wires are moved with the drive isolated and locked out; tell building and alarm service before, the stair is not protected then.",
)


@dataclass(frozen=True)
class ListedPoint:
    """One point, in words: what it is called and tells, its kind, range and unit, its normal state and what a failed one shows, the class
    and the wait of its alarm, and how often it is written down."""

    name: str
    tells: str
    kind: str
    range: str
    unit: str
    normal: str
    fails: str
    alarm_class: str
    waits: str
    trend: str


HEADS = ("Name", "What it tells", "Kind", "Range", "Unit", "Normal", "When it fails", "Class", "Alarm waits", "Trend")


@dataclass(frozen=True)
class Alarm:
    """One alarm, in words: on what, its limit, how long it waits, when it may ring, what the drive does, its class, who resets it, and why
    it is there; inputs: names of the points it looks at."""

    on: str
    limit: str
    waits: str
    live: str
    does: str
    alarm_class: str
    reset: str
    why: str
    inputs: tuple[str, ...] = ()

    @property
    def row(self):
        """Its cells, in the order of `ALARM_HEADS`."""
        return (self.on, self.limit, self.waits, self.live, self.does, self.alarm_class, self.reset, self.why)


ALARM_HEADS = ("Alarm on", "Limit", "Waits", "Live when", "The fan then", "Class", "Return and reset", "Why")


def named_once(points):
    """The points themselves. Raises ValueError where two of them have one name, whatever the size of its letters."""
    twice = [name for name, count in Counter(point.name.casefold().strip() for point in points).items() if count > 1]
    if twice:
        raise ValueError(f"points must each have a name of their own; {twice[0]!r:.60} is the name of two: rename a transmitter")
    return points


def points_of(quoted):
    """Every `ListedPoint` of what is `Quoted` of a record. Raises ValueError as `named_once`."""
    return tuple(point for point, _ in points_judged(quoted))


def points_judged(quoted):
    """(`ListedPoint`, key of its status) of every point of what is `Quoted` of a record. Raises ValueError as `named_once`."""
    words, waits = texts("papers"), {alarm.on: alarm.waits for alarm, _ in quoted_alarms(quoted)}
    often = f"{quoted.setting('loop', 'sample time').value} while the loop is tuned, else {AGREED}"
    taps = tuple(tap.name for tap in quoted.site.transmitters)
    told = [(quoted.filled(words["reading"], tap) | {"name": tap.name}, words["reading"], tap) for tap in quoted.site.transmitters]
    told += [
        (quoted.filled(one) | {"name": name}, one, None)
        for one in entries(quoted.site.second_fan is not None)
        if quoted.has(one)
        for name in _names(quoted.site, one)
    ]
    first = quoted.design.standing.first(SET_POINT)  # a range is laid down with the set point, as the schedules have it

    def point(one, tap):
        one = one | {"range": f"{first}; the site file has {one['range']}"} if first and tap is not None else one
        rings, trend = one.get("class", NONE), often if one.get("trend") == "often" else CHANGES
        wait = one.get("waits", NONE if rings in (NONE, FIRE) else waits.get(one["name"].removeprefix("second "), AGREED))
        if one["name"] in taps:  # of a reading rings more than one alarm, each with a wait of its own
            rings, wait = f"{TROUBLE} where its signal fails; else {WATCHED}", OF_LIST
        unit = unit_of(one["unit"]) if "unit" in one else ""
        return ListedPoint(
            one["name"], one["tells"], one["kind"], one["range"], unit, one["normal"], one["fails"], rings, wait, trend
        )  # fmt: skip

    points = named_once(tuple(point(one, tap) for one, _, tap in told))
    states = [point_state(quoted, words, tap, first) for _, words, tap in told]
    rings = {
        tap: [state for alarm, state in (*lost_alarms(quoted), *quoted_alarms(quoted)) if state and tap in alarm.inputs] for tap in taps
    }
    states = [worst_of([*filter(None, [state]), *rings.get(one.name, ())] or ["good"]) for one, state in zip(points, states, strict=True)]
    return tuple((one, waiting(quoted, astuple(one), "" if state == "good" else state)) for one, state in zip(points, states, strict=True))


def waiting(quoted, cells, state=""):
    """Key of the status of a row of a list: its own, and open where a cell has something that is still to be agreed, since no question that
    it sends to is answered, or to be laid down."""
    cells = tuple(map(quoted.with_answers, cells))
    open_ = any(TO_AGREE in cell or cell.startswith(NOT_LAID_DOWN.strip(" :")) for cell in cells)
    check = not (open_ or state) and any(f"({word_of('attention')}: " in cell for cell in cells)
    marks = [*filter(None, [state]), *["open"] * open_, *["attention"] * check]
    return worst_of(marks) if marks else ""


def point_state(quoted, words, tap=None, first=""):
    """Key of the status of a point: of the gravest line of the schedule that its words name, and open where they leave something to be
    agreed ("" for neither). words: of the file of words; tap: transmitter of a reading; first: what its range waits for, in words."""
    told = {name: words[name] for name in ("tells", "range", "normal", "fails")}
    lines = [(tap.name if group == "tap" else group, name) for group, name in quoted.lines_named(told) if not group.startswith("=")]
    states = [quoted.row(group, name, first=first * name.startswith("display"))[1] for group, name in lines]
    states += ["open"] * any(TO_AGREE in quoted.with_answers(text) for text in told.values())
    return worst_of(filter(None, states)) if any(states) else ""


def entries(two_fans):
    """Entries of points in the file of words, in their order; on a stair of two fans with the words for them, and those of the fan once
    more for the second one: what holds of the first holds of it."""
    for one in texts("papers")["points"]:
        one = one | (one.get("two", {}) if two_fans else {})
        yield one
        if two_fans and one.get("pair"):
            yield one | {"name": of_second(one["name"])}


def of_second(name):
    """What a point of the first fan is called at the second one."""
    return name.replace("fan ", SECOND, 1) if name.startswith("fan ") or ": fan " in name else f"{SECOND}{name}"


def worded(points):
    """{name: entry} of the file of words behind points that are listed."""
    return {one["name"]: one for one in entries(any(point.name.startswith(SECOND) for point in points))}


def _names(site, one):
    """The name of a point, or of one for each of several relief dampers: a switch on one blade tells nothing of another."""
    name, reliefs = one["name"], site.stair.reliefs if one.get("of") == DAMPERS else ()
    if len(reliefs) < 2:
        return _numbered(name, reliefs[0].count if reliefs else 1)
    return [each for relief in reliefs for each in _numbered(f"{name}, storey {relief.level}", relief.count)]


def _numbered(name, count):
    return [name] if (count or 1) == 1 else [f"{name}, {number} of {count}" for number in range(1, count + 1)]


def quoted_alarms(quoted):
    """(`Alarm`, its status) of every alarm of the record, with figures where they are laid down, else with the words in their place. One
    that falls back latches: at the fallback speed the readings may be inside its limit again."""
    table, taps = quoted.table("failure", LIMITS), tuple(tap.name for tap in quoted.site.transmitters)
    laid = {} if table is None else {row[0]: row for row in table.rows}
    marked = {}
    for line in quoted.settings("failure"):
        on, state = line.name.removeprefix("alarm on "), state_of(line)
        if on == line.name != LIMITS:  # which stands where no alarm is laid down
            continue
        inputs = (on,) if on in (*taps, SPEED, DIFFERENCE) else taps
        both = on == SPEED and quoted.site.second_fan is not None
        inputs += (of_second(on),) * both
        if state == "open" or on not in laid:
            yield Alarm(on, line.value + IN_CHARGE * both, line.value, RUNNING, line.value, WATCHED, line.value, line.why, inputs), "open"
        else:
            _, limit, waits, does, why = laid[on]
            limit += IN_CHARGE * both
            state = marked.setdefault(on, marked.get(why.removeprefix("as for "), state))  # judged as the one that it names
            back = BY_PERSON if does.startswith(FALLS_BACK) else f"{AGREED}: {SEEN}"
            falls = does.startswith(FALLS_BACK)  # no better than the way of falling back itself, and an evacuation may take the loop out
            marks = [
                state,
                *["attention"] * (falls and SOUND_TOO in why),
                *[state_of(quoted.stated("failure", "on a failed reading"))] * falls,
            ]
            yield Alarm(on, limit, waits, RUNNING, does, WATCHED, back, why, inputs), _marked(marks)


def falling_back(quoted):
    """The `Alarm`s on a reading that take the fan to its fallback, those on a difference left out."""
    return tuple(alarm for alarm, _ in quoted_alarms(quoted) if alarm.does.startswith(FALLS_BACK) and alarm.on != DIFFERENCE)


def lost_alarms(quoted):
    """(`Alarm`, its status) of every signal that can be lost, and of all at once; what follows is the record's line on failed readings."""
    back, taps = quoted.setting("failure", "return from the fallback"), quoted.site.transmitters
    for tap in taps:
        line, does = quoted.setting(tap.name, LOSES), quoted.setting("failure", "on a failed reading")
        yield _lost(f"{tap.name}, {LOSES}", line.value, does, back, line.why, (tap.name,))
    if len(taps) > 1:
        does, why = quoted.setting("failure", "every reading failed"), "the controller tells it, and the fan runs on"
        yield _lost(f"every reading, {LOSES}", "every signal failed at once", does, back, why, tuple(tap.name for tap in taps))


def _lost(on, limit, does, back, why, inputs):
    marks = [state_of(does), state_of(back)]  # who resets it is to be settled, too
    waits = "at once, or after a wait to be agreed, see the enquiry list: failed delay"
    return Alarm(on, limit, waits, ALWAYS, does.value, TROUBLE, back.value, why, inputs), _marked(marks)


def _marked(marks):
    state = worst_of(marks)
    return "" if state == "good" else state


def named_in_words(name):
    """What the file of words calls a point: one of several has its storey behind it, its number, or both."""
    return re.sub(r"(, storey -?\d+)?(, \d+ of \d+)?$", "", name)


def contacts(points):
    """An `Alarm` for each point of two states that rings when it leaves its normal one."""
    told = worded(points)
    for point in points:
        if point.kind in (BINARY, VALUE) and point.alarm_class != NONE:
            words = told.get(named_in_words(point.name), {})
            reset = words.get("reset", "with the fire alarm system" if point.alarm_class == FIRE else f"{AGREED}: {SEEN}")
            rings, live = words.get("rings", f"not {point.normal}"), words.get("live", "always")
            does, inputs = "see cause and effect", (point.name,)
            yield Alarm(point.name, rings, point.waits, live, does, point.alarm_class, reset, point.tells, inputs)


def points_list(quoted):
    """The `Paper` of all points."""
    points, states = zip(*points_judged(quoted), strict=True)
    table = Table("points", "Points", HEADS, tuple(map(astuple, points)), states)
    lines = (
        LEGEND,
        UNTIL,
        LISTED,
        TYPES,
        "Life-safety points are written down by the system that acts on them. A building system reads them and commands none.",
        "The loop and the sequence are the controller's: the drive takes the run and the speed command, and sees no reading.",
        "Lines of panel, fire alarm and intake are supervised and share one point; those between controller and drive have another, where "
        "the devices can supervise them. Cut or shorted, a line is annunciated, and the fan does as its state says.",
    )
    part = Part("All points", lines, tables=(table,), cautions=CAUTIONS)
    return Paper(
        "points",
        2,
        "Points list",
        "For whoever programs, wires and proves the controls, point by point.",
        (part, *second_shaft_parts(quoted, "points")),
    )


def alarm_list(quoted):
    """The `Paper` of all alarms."""
    alarms = (*lost_alarms(quoted), *quoted_alarms(quoted), *((one, "") for one in contacts(points_of(quoted))))
    states = tuple(waiting(quoted, one.row, state) for one, state in alarms)
    table = Table("alarms", "Alarms", ALARM_HEADS, tuple(one.row for one, _ in alarms), states)
    rests = quoted.rows("alarm rests", "What the limits rest on", "failure", ("alarms leave room for", "what no alarm tells"))
    lines = (
        LEGEND,
        UNTIL,
        LISTED,
        TYPES,
        "How a reading beyond its range, a difference, a wait and a frozen one are worked out stands in the sequence, as what the "
        "programmer asks.",
        "Live when: outside it the alarm does not ring, so that a stair with the fan off is quiet; a lost signal is told at any time.",
        "Limits are set on each reading and on their difference: the combined reading hides a door that is far out.",
        "An alarm is proved at its limit with an injected signal, and its wait by a clock.",
    )
    cautions = (
        quoted.filled(IN_A_FIRE),
        "An alarm that is switched off, or that rings in a sound stair, protects nobody: find its cause.",
        *CAUTIONS,
    )
    part = Part("All alarms", lines, tables=(table, rests), cautions=cautions)
    return Paper(
        "alarms", 3, "Alarm list", "For whoever sets alarms, and for whoever hears them.", (part, *second_shaft_parts(quoted, "alarms"))
    )
