"""The papers of a plant other than a stair, each quoting its record: sequence, points, alarms, schedules, tuning, enquiry, owner's page."""

from dataclasses import astuple

from helpers.formulas.signals import live_zero
from helpers.model.files import texts
from helpers.record.board import state_of
from helpers.record.papers.enquiry import enquiry
from helpers.record.papers.paper import LEGEND, UNTIL, Paper, Part
from helpers.record.papers.points import (
    ALARM_HEADS,
    CHANGES,
    FIRE,
    HEADS,
    NONE,
    TO_AGREE,
    TROUBLE,
    TYPES,
    WATCHED,
    Alarm,
    ListedPoint,
    named_once,
    point_state,
)
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import BUY_CAUTION, COLUMNS, ROTATING
from helpers.record.papers.told import told_paper
from helpers.record.plants.both_gases import ENTERED, has_mates, has_two
from helpers.record.plants.contacts import APART, FIRE_LINE, GAS_ENDS, PROOF, PROOF_WAITS, STOPS
from helpers.record.plants.schedule import DEAD, DUCT_DAMPERS, DUCT_SMOKE, FALLS, HIGH_LIMIT, OVER, SUPPLY
from helpers.record.settings.drive_signals import BACK, COMMAND
from helpers.record.settings.loop_form import FORM, GOES_ON
from helpers.record.standing import FOR_INFORMATION
from helpers.studies.report import Setting, Table, listed
from helpers.studies.status import word_of, worst_of
from helpers.units.said import unit_of

WORDS = "plant_papers"
WIRES = "Wires are moved with the drive isolated and locked out, the fan in MANUAL: a low signal sends it to an end of its speed."
CAUTIONS = (
    "A locked isolator, no power, a tripped drive, the fire alarm and MANUAL outrank the loop; the list below decides among them.",
    "A low-demand stop is never active in smoke control, and no request moves a set point there.",
    "What was worked out was worked out on a model of steady air, and proves nothing on site.",
)
OF_GAS = (
    "Life safety: gas kills without smell. The gas alarm is live at all times, without the mains on a supply of its own alone, and while "
    "fan or alarm is worked on somebody watches a gas instrument of their own, or the garage is empty and nobody is let in.",
)
LOSES, SPEED = "signal failed", "fan speed"
OPEN_ROW = (
    "NOT YET in this list: what the row sends to the enquiry list is open, and what it states besides is entered all the same: an alarm "
    "that waits for its reset to be agreed rings for nobody."
)
NOT_RUN = (
    "Do not run this fan, in AUTO or in MANUAL, before the duct's high-limit switch is set and proved: until then nothing keeps the duct "
    "from the fan's full pressure."
)
NOBODY_PARKS = (
    "Nobody parks there, and nobody is let in, before it is answered and proved what fan and gas alarm do with the controller dead and "
    "with the mains off: dead controller and gas alarm in the enquiry list."
)
NO_DETECTOR = (
    "Do not run this fan, in AUTO or in MANUAL, before a smoke detector of the supply duct is wired into the run permit and proved, or the "
    "authority has written that none is asked for: until then nothing here keeps this fan from blowing smoke into the rooms."
)
HOLDS = ((NOT_RUN, "high limit open"), (NO_DETECTOR, "duct smoke open"), (NOBODY_PARKS, "nobody parks"))
ASKED = {"limit": HIGH_LIMIT, "dead": DEAD, "gas": SUPPLY, "smoke": DUCT_SMOKE}  # what holds something up as long as it is open
LIST, FROM_THE_TOP = "list", "the list of priorities, from the top"
RESTART = ("fan", "restart after the mains come back")
STICKS = ("failure", "a reading that sticks at its low end")
WAITS, ENDS = ("failure", "an alarm on a contact waits"), ("failure", "an alarm ends")
DIFFER, APART_BACK = "difference of any two readings", "by the reset of a lost reading, when both are proved"


class PlantQuoted(Quoted):
    """The lines and sections of a `PlantDesign`'s record; answers: `AnswersFile` of its enquiry list, or None."""

    enquiry_words = "plant_enquiry"

    def __init__(self, design, answers=None):
        self.design, self.site, self.answers = design, design.site, answers

    @property
    def _all_lines(self):
        return self.design.lines

    def stated(self, group, name):
        """A line of the settings schedule; one that says "not stated" where it has none."""
        return self._settings.get((group, name)) or Setting(group, name, *self.no_line)

    def has(self, words):
        """Whether this plant has what an entry of its file of words is `only` for."""
        design, site = self.design, self.site
        stops, falls = site.control.low_demand is not None, state_of(self.stated(*FALLS)) not in ("wrong", "open")
        held = site.kind == "duct" and state_of(self.setting(*RESTART)) == "open"  # an answer may have it start by itself
        unseen = not all(map(live_zero, (tap.signal for tap in site.transmitters)))
        asked = {name: state_of(self.setting(*place)) == "open" for name, place in ASKED.items()}
        proved = state_of(self.setting(*PROOF)) != "open"  # by a wire, as somebody has answered
        there = {"high limit open": site.kind == "duct" and asked["limit"], "nobody parks": design.gas and (asked["dead"] or asked["gas"]),
                 "reset": design.has_reset, "no reset": not design.has_reset, "gas": design.gas, "pressure": not design.gas,
                 "duct": site.kind == "duct", "no duct": site.kind != "duct", "building": site.kind == "building",
                 "several readings": len(site.transmitters) > 1, "wire not seen": unseen,
                 "two gases": has_two(design), "one scale": not has_two(design), "one gas": design.gas and not has_two(design),
                 "one set point": not design.has_reset and not has_two(design), "restart held": held, "restart free": not held,
                 "gas apart": design.gas and has_mates(design), "duct smoke open": site.kind == "duct" and asked["smoke"],
                 "stop": stops, "no stop": not stops, "proof by a wire": proved, "proof worked out": not proved,
                 "a way of falling back": falls, "no way of falling back": not falls}  # fmt: skip
        return "only" not in words or there[words["only"]]

    def lines_rested_on(self, places):
        """(group, name) of the lines that "group/name" stand for; of "each/name" those of every transmitter."""
        return self.lines_named([f"{{{place}}}" for place in places])

    def left_open(self):
        """(key, sentence) of what the site file leaves out, and what is taken in its place."""
        words = {one["key"]: one["leaves"] for one in texts(self.enquiry_words)["questions"] if "leaves" in one}
        site = self.site
        out = {
            "boxes.stroke": site.kind == "duct" and self.design.has_reset and site.boxes.stroke_s is None,
            "transmitters.response": any(getattr(tap, "response_s", None) is None for tap in site.transmitters),
            "fan.ramp_down": site.fan.ramp_down_s is None,
            "fan.brake": site.fan.brake is None,
        }
        return tuple((key, words[key]) for key, missing in out.items() if missing)

    def figure(self, key, label, first=""):
        """(cells, status) of a figure of a section, of one that says "not stated" where the section has none; first: as of a stair."""
        value = next((one for one in self.design.section(key).figures if one.label == label), None)
        if value is None:
            return (label, *self.no_line), "open"
        return (label, first or value.text, "; ".join(filter(None, (value.reason, value.source)))), "open" if first else ""

    def answer_judged(self, key):
        """An answer as it was told, judged by nobody: a plant's fallback is judged on its bench, from the site file."""
        return self._given[key].answer, ""

    def would_be(self, key, label=""):
        """Nothing of a plant hangs on what is not settled: its lines say what fails by themselves."""
        return ""


def sequence(quoted):
    """The `Paper` of the sequence of operations: every state, what it rests on, and what the record found of it."""
    words = texts(WORDS)
    states = [one for one in words["states"] if quoted.has(one)]
    rows, marks, known = [], [], {one["key"]: one["title"] for one in states}
    for one in states:
        told = quoted.filled({name: one[name] for name in ("title", "begins", "fan", "speed")})
        said, mark = verdict_on(quoted, one["rests"])
        rows.append((told["title"], told["begins"], told["fan"], told["speed"], said))
        marks.append(mark)
    table = Table("states", "All states", ("State", "Begins with", "Fan", "Speed", "As the record has it"), tuple(rows), tuple(marks))
    lines = (LEGEND, UNTIL, "From the top: the first that holds is taken.", *quoted.lines_for(words["priority"]["why"]))
    cautions = (*OF_GAS * quoted.design.gas, *not_run(quoted), *CAUTIONS)
    first = Part(
        "Priorities", lines, quoted.lines_for(words["priority"]["list"]), (table, _ways_out(quoted, states, known)), cautions=cautions
    )
    left = Part("Papers that a stair has and this plant has not", quoted.filled(words["not_written"]))
    return Paper("sequence", 1, "Sequence of operations", FOR_WHOM, (first, *(_state(quoted, one) for one in states), left))


def not_run(quoted):
    """What keeps people out, or the fan from being run, as long as something is open, in sentences."""
    return tuple(told for told, words in HOLDS if quoted.has({"only": words}))


def _ways_out(quoted, states, known):
    """The table of what ends each state of itself, and what follows. Raises ValueError for a state without a way out, and for one that
    leads where there is none; known: {key of a state: title}."""
    rows, marks, refused = [], [], {one["key"] for one in states if _refused(quoted, one)}
    for one in states:
        ends = quoted.lines_for(one["ends"])
        if not ends or any(then not in (LIST, *known) for _, then in ends):
            raise ValueError(f"state must have a way out that leads to a state of this plant; got {one['key']!r} with {ends}")
        rows += [(one["title"], when, FROM_THE_TOP if then == LIST else known[then]) for when, then in ends]
        marks += [_way_state(quoted, when, refused & {one["key"], then}) for when, then in _raw(quoted, one["ends"])]
    states = tuple(marks)
    return Table("ways", "Ways out of each state", ("State", "Ends when", "Then"), tuple(rows), states,
                 "Besides, whatever stands higher in the list of priorities ends any state at once")  # fmt: skip


def _raw(quoted, entries):
    """Lines of the file of words that hold for this plant, their places of the schedule not yet filled in."""
    return [one["line"] if isinstance(one, dict) else one for one in entries if not isinstance(one, dict) or quoted.has(one)]


def _way_state(quoted, when, refused):
    """Status of a way out: FAIL where it leaves or leads to a state that is not to be entered, or quotes a line that fails; else what is
    still to be agreed. refused: keys of such states."""
    lines = [state_of(quoted.setting(*place)) for place in quoted.lines_named(when)]
    if refused or "wrong" in lines:
        return "wrong"
    return "open" if TO_AGREE in quoted.filled(when) else "attention" if "attention" in lines else ""


def _refused(quoted, one):
    """What fails of a state that may be left out whole, in words; "" where nothing does, and of one that the plant is not run without."""
    said, mark = verdict_on(quoted, one["rests"])
    return said if one.get("optional") and mark == "wrong" else ""


FOR_WHOM = "For the programmer, and for whoever proves the sequence on site."


def _state(quoted, one):
    """A state, step by step, with the table of the record that says what it comes to."""
    told = quoted.filled({name: one[name] for name in ("title", "begins", "fan", "speed")})
    tables = [quoted.table(*play.split("/", 1)) for play in one.get("plays", ())]
    refused = _refused(quoted, one)
    head = (f"{refused}. {FOR_INFORMATION}, do not enter it.",) if refused else ()
    lines = (*head, f"Begins with: {told['begins']}. Fan: {told['fan']}. Speed: {told['speed']}.")
    return Part(told["title"], lines, quoted.lines_for(one["does"]), tuple(filter(None, tables)))


def verdict_on(quoted, places):
    """(words, status) of the worst of the lines that a state rests on."""
    found = {}
    for line in (quoted.setting(*place) for place in quoted.lines_rested_on(places)):
        found.setdefault(state_of(line), []).append(line.name)
    grave = [key for key in ("wrong", "attention", "open") if key in found]
    if not grave:
        return (f"nothing against it; looked at: {listed(dict.fromkeys(found['good']))}" if found else "not judged by the record"), ""
    return "; ".join(f"{word_of(key)}: {listed(dict.fromkeys(found[key]))}" for key in grave), worst_of(grave)


def points_of(quoted):
    """Every `ListedPoint` of a plant. Raises ValueError where two have one name."""
    return tuple(point for point, _ in points_judged(quoted))


def points_judged(quoted):
    """(`ListedPoint`, key of its status) of every point of a plant. Raises ValueError where two have one name."""
    words, unit = texts(WORDS), "concentration" if quoted.design.gas else "pressure"
    sample = f"{quoted.setting('loop', 'sample time').value} while the loop is tuned, else every minute or at a change: to be agreed"
    taps = quoted.site.transmitters
    told = [(quoted.filled(words["reading"], tap) | {"name": tap.name, "unit": "reading"}, words["reading"], tap) for tap in taps]
    told += [
        (_named(quoted.filled(one, tap), tap), one, tap)
        for one in words["points"]
        if quoted.has(one)
        for tap in (taps if "each" in one else [None])
    ]

    def point(one):
        rings = one.get("class_gas", one.get("class", NONE)) if quoted.design.gas else one.get("class", NONE)
        wait = one.get("waits", NONE if rings in (NONE, FIRE) else "see the alarm list")
        named = unit_of(unit if one["unit"] == "reading" else one["unit"]) if "unit" in one else ""
        trend = sample if one.get("trend") == "often" else CHANGES
        return ListedPoint(one["name"], one["tells"], one["kind"], one["range"], named, one["normal"], one["fails"], rings, wait, trend)

    points = named_once(tuple(point(one) for one, *_ in told))
    return tuple((point, point_state(quoted, words, tap)) for point, (_, words, tap) in zip(points, told, strict=True))


def _named(told, tap):
    """Words of a point, filled in, with the name of its transmitter before its own, where it has one."""
    return told if tap is None else told | {"name": f"{tap.name}, {told['name']}"}


def points_list(quoted):
    """The `Paper` of all points."""
    points, states = zip(*points_judged(quoted), strict=True)
    table = Table("points", "Points", HEADS, tuple(map(astuple, points)), states)
    part = Part("All points", (LEGEND, UNTIL, TYPES), tables=(table,), cautions=(WIRES,))
    return Paper("points", 2, "Points list", "For whoever programs, wires and proves the controls, point by point.", (part,))


def alarms_of(quoted):
    """(`Alarm`, its status) of every alarm: readings, their difference, the fan's speed, lost signals, then contacts."""
    limits, does = state_of(quoted.setting("failure", "alarm limits")), quoted.setting(*FALLS)
    mark, told = "" if limits == "good" else limits, {one["name"]: one for one in texts(WORDS)["points"] if quoted.has(one)}
    words, gas = quoted.filled(texts(WORDS)["alarms"]), quoted.design.gas
    waited, ends = (quoted.setting(*place).value for place in (WAITS, ENDS))
    gas_ends = quoted.setting(*GAS_ENDS).value if gas else ""
    taps = {tap.name for tap in quoted.site.transmitters}
    for line in quoted.settings("failure"):
        on = line.name.removeprefix("alarm on ")
        if on != line.name:
            limit, _, waits = line.value.rpartition(", ")
            limit, waits = (limit, waits) if on != SPEED else (line.value, "as in its limit")
            of_gas = gas and on in taps  # of people, whatever loop and fan do; a difference and the fan's speed wait for the loop
            live, does_it = (words["live_gas"], words["does_gas"]) if of_gas else (words["live"], words["does"])
            kind, does_it = (TROUBLE, quoted.setting(*APART).value) if gas and on == DIFFER else (FIRE if of_gas else WATCHED, does_it)
            back = gas_ends if of_gas else APART_BACK if gas and on == DIFFER else ends
            state = worst_of(filter(None, (mark, "open" * (TO_AGREE in back)))) if mark or TO_AGREE in back else ""
            yield Alarm(on, limit, waits, live, does_it, kind, back, line.why), state
    for tap in quoted.site.transmitters:
        line, state = quoted.setting(tap.name, LOSES), state_of(does)
        worst = worst_of(one for one in (state, state_of(line)) if one != "good")
        seen, on = live_zero(tap.signal), f"{tap.name}, {LOSES}"
        if seen:
            live = words["lost_gas" if gas else "lost"]
            yield Alarm(on, line.value, "at once", live, quoted.marked(*FALLS), TROUBLE, "by a person, when it is proved", line.why), worst
            if gas:  # a cloud past the range is a gas alarm, and no lost signal alone
                over, back = quoted.setting(*OVER), gas_ends
                above = line.value.rpartition(" or ")[2]
                yield (
                    Alarm(
                        f"{tap.name}, signal above its range", above, "at once", words["live_gas"], words["does_gas"], FIRE, back, over.why
                    ),
                    "open" * (TO_AGREE in back),
                )
        else:
            then = quoted.setting(tap.name, "a dead wire").value
            yield Alarm(on, line.value, "it never comes", "never", then, TROUBLE, "none", line.why), worst
    for point, state in points_judged(quoted):
        words = quoted.filled(told.get(point.name, {}))
        if point.alarm_class != NONE and (point.kind == "binary input" or "live" in words):
            rings = words.get("rings", f"not {point.normal}")
            does, back, waits = words.get("does", "see the sequence"), words.get("reset", ends), words.get("waits", waited)
            state = worst_of(filter(None, (state, "open" * any(TO_AGREE in word for word in (does, back, waits, point.tells)))))
            yield Alarm(point.name, rings, waits, words.get("live", "always"), does, point.alarm_class, back, point.tells), state or ""


def alarm_list(quoted):
    """The `Paper` of all alarms."""
    alarms = tuple(alarms_of(quoted))
    table = Table("alarms", "Alarms", ALARM_HEADS, tuple(one.row for one, _ in alarms), tuple(state for _, state in alarms))
    lines = (LEGEND, TYPES, OPEN_ROW,
             f"A reading that sticks at the low end of its range, and what tells it: {quoted.setting(*STICKS).value}.",
             "Limits stand on each reading and on their difference: the combined reading hides one place that is far out.",
             "An alarm is proved at its limit with an injected signal, and its wait by a clock.")  # fmt: skip
    cautions = (*OF_GAS * quoted.design.gas, *not_run(quoted), "An alarm that rings all day tells nobody anything: find its cause.", WIRES)
    part = Part("All alarms", lines, tables=(table,), cautions=cautions)
    return Paper("alarms", 3, "Alarm list", "For whoever sets alarms, and for whoever hears them.", (part,))


_INPUT = ("where it reads", "signal type", "display at the low end of the signal", "display at the high end of the signal", "signal failed",
          "filter time", "lag of the transmitter")  # fmt: skip
_FAN = ("the fan that all of this holds for", "proof that the fan runs", PROOF_WAITS[1])
_DRIVE = ("lowest speed", "highest speed", COMMAND[1], BACK[1], "ramp up", "ramp down", RESTART[1],
          STOPS[1], "what the fire alarm does with the fan", FIRE_LINE[1])  # fmt: skip
_LIMIT = tuple(name for _, name in (HIGH_LIMIT, DUCT_SMOKE, DUCT_DAMPERS))


def _schedule(key, title, rows):
    cells, states = zip(*rows, strict=True)
    return Table(key, title, COLUMNS, tuple((*row, "") for row in cells), states)


def schedules(quoted):
    """The `Paper` of the schedules of fan, drive and transmitters."""
    asked = [quoted.figure("fan", one.label) for one in quoted.design.section("fan").figures]
    rows = [*asked, *(quoted.row("fan", name) for name in _FAN)]
    fan = Part("Fan and motor", (LEGEND, UNTIL), tables=(_schedule("fan", "Fan and motor", rows),), cautions=(BUY_CAUTION, ROTATING))
    asked = (*_DRIVE, *_LIMIT * quoted.has({"only": "duct"}))
    drive = Part("Drive", tables=(_schedule("drive", "What is asked of the drive", [quoted.row("fan", name) for name in asked]),),
                 cautions=(ROTATING,))  # fmt: skip
    tables = [quoted.table("range", "ranges")]
    tables += [_schedule(f"transmitter {tap.name}", tap.name, [quoted.row(tap.name, name) for name in _INPUT])
               for tap in quoted.site.transmitters]  # fmt: skip
    blanks = tuple(f"{tap.name}: serial number, certificate, damping found on the dial" for tap in quoted.site.transmitters)
    taps = Part("Transmitters", tables=tuple(filter(None, tables)), blanks=blanks, cautions=(BUY_CAUTION, WIRES))
    return Paper(
        "schedules", 4, "Schedules", "For whoever offers, buys and checks deliveries: fan, drive, instruments.", (fan, drive, taps)
    )


_TUNED = ("set point", "action", "gain", "or proportional band", "integral time", "or integral rate", "derivative time", "sample time",
          *FORM, GOES_ON)  # fmt: skip


def tuning(quoted):
    """The `Paper` of what is entered in the loop, with the margins it has, and of the reset where there is one."""
    names = (_TUNED[0], *ENTERED * has_two(quoted.design), *_TUNED[1:])
    lines = (
        LEGEND,
        "Enter, read back, and prove with a step of the set point, the fan watched: in AUTO it follows a new entry at once.",
    )
    loop = Part("The loop", lines, tables=(quoted.rows("loop", "What is entered", "loop", names), quoted.table("tuning", "margins")),
                cautions=(*not_run(quoted), WIRES), blanks=("As left, by whom, date",))  # fmt: skip
    if not quoted.design.has_reset:
        reset = Part(
            "The reset by requests", (f"Set point reset by requests: {quoted.setting('reset', 'set point reset by requests').value}.",)
        )
    else:
        names = tuple(line.name for line in quoted.settings("reset"))
        tables = (quoted.rows("reset", "What is entered of the reset", "reset", names), quoted.table("reset", "intervals"),
                  quoted.table("reset", "changes"), quoted.table("reset", "troubles"))  # fmt: skip
        section = quoted.design.section("reset")
        told = f"{word_of(worst_of(one.severity for one in section.findings))}: {section.verdict}"
        reset = Part("The reset by requests", (told,), tables=tables, blanks=("As left, by whom, date",))
    return Paper("tuning", 5, "Tuning", "For whoever enters the loop's settings, and leaves them.", (loop, reset))


def enquiry_list(quoted):
    """The `Paper` of what is still to be asked."""
    return enquiry(quoted, 6)


def owner(quoted):
    """The `Paper` of one sheet for the owner."""
    return told_paper(quoted, "plant_owner", 7, "owner")


PLANT_WRITERS = (sequence, points_list, alarm_list, schedules, tuning, enquiry_list, owner)  # in the order of the papers' numbers
