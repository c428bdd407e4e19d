"""The steps of a test day in order, made from one site: who, how long, what to do, what is expected in the weather of the day, the limit,
what to do when it fails, the caution beside it, and in what state the step leaves the fan.

The automatic round comes before the steady speeds: the doors at the ends of the stair are read in the first minute, while its air is as
warm as it was found.
"""

from dataclasses import dataclass

from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF, SHUT, CrewRounds, expected_said
from helpers.studies.commissioning.further_tests import ALARM, BACK, BY_ITSELF, FORCE, MAINS, MOVES, OPENS, OVERRIDE, RESEATS
from helpers.studies.commissioning.hand_back import BEFORE, ISOLATED, NOT_LEFT, RUN, UNLESS, WATCHED, order_said
from helpers.studies.doors.open import speeds_asked
from helpers.studies.report import listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

LEAD, SWITCH, LOWER, UPPER = "test lead", "person at the manual switch", "pair at the lower end", "pair at the upper end"
PANEL, ELECTRICIAN = "person at the alarm panel", "licensed electrician"
PEOPLE = {LEAD: 1, SWITCH: 1, LOWER: 2, UPPER: 2, PANEL: 1, ELECTRICIAN: 1}  # people in each part of the crew
PAIRS = (LOWER, UPPER)
# Minutes of a pair: a pressure read and written down, the forces of a leaf with the fan in one state, a flow by traverse, a grid of an open
# door; of a test at panel or drive; of checks, of telling everybody, of giving back. Common practice, no source.
READ_MIN, FORCES_MIN, TRAVERSE_MIN, GRID_MIN, TEST_MIN, CHECK_MIN, TELL_MIN, BACK_MIN = 1.5, 3.0, 10.0, 6.0, 5.0, 30.0, 10.0, 20.0
# What the weather may be off, and the wind at the most: of the step of the weather. Common practice, no source.
OFF_C, OFF_WIND_M_S, MOST_WIND_M_S = 2.0, 2.0, 8.0
# Judged beside rounds and clock.
WEATHER, PLATES, CERTIFIED, LEAVES = "weather found", "devices and their plates", "gauges in date", "doors, leaf by leaf"
AGAIN = "end doors, again"
SHIFT_MIN = 540.0  # of a crew that knows the building; common practice, no source
AS_DECIDED = "AS DECIDED"  # beside OFF, MANUAL and AUTOMATIC: how a fan is left of which not all is laid down
GRID_HIGH, GRID_WIDE = 4, 3  # points of an open door's grid: heights, and places in each. Common practice, no source
GRID_POINTS = GRID_HIGH * GRID_WIDE
STATES = {
    OFF: "▲ After this step the fan is OFF: the stair is not protected.",
    MANUAL: "▲ After this step the fan is in MANUAL: no alarm starts it and no loop controls it, the stair is not protected.",
    AUTOMATIC: "After this step the fan is in AUTOMATIC.",
    AS_DECIDED: "▲ After this step the fan is as the written decision leaves it; without one not in AUTOMATIC: the stair is not protected.",
}
IN_ORDER = ("everybody told", "pre-checks", "fan-off baseline", "automatic, doors shut", "steady speeds", "doors one by one",
            "alarms and panel", "wires off", "power", "override", "give back")  # fmt: skip
NONE_LAID = "none laid down: to be laid down first, then this step"
NOT_LAID = f"what the loop does without a reading is not laid down: {NOT_LEFT}"
MEASURED_ALL_THE_SAME = "The day is done all the same: it proves what stands there, and accepts nothing until the design is corrected."
STOP = (
    "MANUAL at once and speed down where a leaf jams, someone is hurt, the blade or a wheel does what it should not, or the radio is silent"
)


@dataclass(frozen=True)
class DayStep:
    """One step. part: one of IN_ORDER; who: of PEOPLE, with "door holders"; minutes; do, expected, limit, fails (what to do then),
    caution in words; leaves: OFF, MANUAL, AUTOMATIC or AS_DECIDED; judged: what of the report is its own: labels of rounds, lines of
    the clock, of BEFORE and CLOSING, WEATHER, PLATES, CERTIFIED, LEAVES, AGAIN."""

    number: int
    part: str
    title: str
    who: tuple
    minutes: float
    do: str
    expected: str
    limit: str
    fails: str
    caution: str
    leaves: str
    judged: tuple = ()

    @property
    def label(self):
        """Number and title, by which sheets know the step."""
        return f"{self.number}. {self.title}"

    @property
    def left_said(self):
        """In what state the step leaves the fan, in a sentence."""
        return STATES[self.leaves]


@dataclass(frozen=True)
class Procedure:
    """The steps of a day at one site; rounds: `CrewRounds`."""

    rounds: CrewRounds
    steps: tuple

    @property
    def holders(self):
        """People who hold doors, one for each."""
        return len(self.rounds.rounds[-1].speeds_m_s)

    @property
    def minutes(self):
        """Minutes of the whole day, its steps one after the other."""
        return sum(step.minutes for step in self.steps)

    def by_crew(self):
        """{part of the crew: (people, minutes in which they are needed)}, those who are needed longest first."""
        parts = {name: sum(step.minutes for step in self.steps if name in step.who) for step in self.steps for name in step.who}
        people = {name: PEOPLE.get(name, self.holders) for name in parts}
        return {name: (people[name], parts[name]) for name in sorted(parts, key=parts.get, reverse=True)}

    def crew_lines(self):
        """Who is needed how long, a line each, then the whole day."""
        lines = [f"{name}: {people} {'person' if people == 1 else 'people'}, {_hours(minutes)}"
                 for name, (people, minutes) in self.by_crew().items()]  # fmt: skip
        total = sum(people for people, _ in self.by_crew().values())
        long = (
            "Longer than a shift: stop only after a step that leaves the fan in AUTOMATIC, do the two last steps, and begin the next day "
            "with the first three."
        )
        day = f"The day: {len(self.steps)} steps, {_hours(self.minutes)}, {total} people. Times are common practice, no source."
        few = (
            f"The acceptance sheet alone names {max(self.rounds.sheet.crew)} people for its two rounds: here two pairs, door holders, "
            f"{PANEL} and {ELECTRICIAN} are needed besides, for the other steps."
        )
        return (*lines, few, day, *([long] if self.minutes > SHIFT_MIN else []))


def _hours(minutes):
    whole = int(-(-minutes // 5)) * 5
    return f"{whole // 60} h {whole % 60:02d} min"


def goes_out_said(sheet):
    """What is known of the doors before a crew goes out, in sentences: a day that is to be done is done, and proves what stands there;
    only what would endanger somebody comes first (`AcceptanceSheet.first`)."""
    if sheet.first:
        return sheet.expected_said
    fails = "wrong" in sheet.expected_states.values()
    return f"{sheet.expected_counts}{f' {MEASURED_ALL_THE_SAME}' if fails else ''}"


def fails_said(count, where):
    """That the design record fails in some points, and what that is to a crew; where: they are listed, in words."""
    return f"The design record fails in {count} points, {where}: the designer has them before the day. {MEASURED_ALL_THE_SAME}"


def procedure(rounds, wires=()):
    """The `Procedure` of `CrewRounds`; wires: rows of the injection table (`InjectionRow`) with one wire off, which say what the drive must
    make of it; none: what the design lays down is asked for in words."""
    return Procedure(rounds, tuple(DayStep(number, *_watched(*one)) for number, one in enumerate(_steps(rounds, tuple(wires)), 1)))


def _watched(part, title, who, *rest):
    """A step with somebody at the alarm panel: the fan is OFF or in MANUAL for hours, and a real alarm must be seen."""
    return part, title, (*who, *([] if PANEL in who else [PANEL])), *rest


def _steps(rounds, wires):
    yield from _before(rounds)
    yield from _shut(rounds)
    yield from _open(rounds)
    yield from _panel(rounds)
    yield from _wires(rounds, wires)
    laid = _all_laid(rounds, wires)
    yield from _power(rounds, "" if laid else f"; {WATCHED}: {NOT_LAID}")
    yield from _give_back(rounds, laid)


def _test(rounds, field):
    return next((one for one in rounds.sheet.plant if one.field == field), None)


def _before(rounds):
    sheet = rounds.sheet
    site, weather = rounds.site, sheet.day_said
    plates = [f"fan and motor ({with_unit(site.fan.motor_power_w, 'power', 1)})", *(tap.name for tap in site.transmitters)]
    plates += ["relief damper"] if site.stair.relief else []
    first = f"Settle first: {sheet.first}. " if sheet.first else ""
    yield ("everybody told", "Building, alarm service and fire service told", (LEAD, PANEL), TELL_MIN,
           f"{first}Write on the sheet Steps: {'; '.join(BEFORE)}. Notices at the stair doors. Everybody on one radio channel; say who "
           "says STOP: anybody.", "every line filled in", "no line empty", "do not start",
           f"from now to the last step the {PANEL} watches it and nothing else: a real alarm ends the test, the fan to AUTOMATIC, "
           "everybody out",
           AUTOMATIC, BEFORE)  # fmt: skip
    yield ("pre-checks", "Papers and plates", (LEAD, SWITCH, ELECTRICIAN), CHECK_MIN,
           f"Sheet of injected signals passed; settings as left printed; read tags and nameplates of {listed(plates)}; "
           "instrument, serial number and certificate of every gauge: sheet Devices, table Gauge, all in date; doors, closers and seals "
           "as the drawings have them.",
           "plates as in the column Design of the sheet Devices", "every difference written down", "no test until one is explained",
           "no hand at belt, wheel or live terminal; a cover comes off by the electrician alone, isolated and locked out, the stair not "
           "protected meanwhile: the fan back in AUTOMATIC, and seen so, before the next step", AUTOMATIC, (PLATES, CERTIFIED))  # fmt: skip
    yield ("pre-checks", "Weather of the day", (LEAD,), 15.0,
           "Outdoors in the shade, stair at bottom, half way up and top, floors, wind at the weather station; write them on the sheet "
           "Rounds. Where they differ from those this package was made for, make it anew: its figures are another day's.",
           weather, f"by 2 °C (4 °F) or {with_unit(OFF_WIND_M_S, 'wind speed')} at the most",
           "make the package anew with the weather found",
           f"wind above {with_unit(MOST_WIND_M_S, 'wind speed')} or gusts: the readings wander, another day (common practice, no source)",
           AUTOMATIC, (WEATHER,))  # fmt: skip


def _shut(rounds):
    sheet, off, auto = rounds.sheet, rounds.rounds[0], rounds.round(SHUT)
    doors, leaves = len(rounds.read), len([row for row in sheet.rows if row.forces])
    both, read_min = (LEAD, SWITCH, *PAIRS), READ_MIN * doors / 2
    forces = listed([force.step for force in sheet.criteria.forces])
    yield ("fan-off baseline", "Fan off, all doors shut", both, TEST_MIN + read_min,
           "Fan OFF at the switch, wait until it stands still and the gauge is steady for a minute. Read every door, floors and stair over "
           "outdoors: sheet Rounds, column fan off. A mean over a minute, not a glance.",
           expected_said(off), "none: it shows the stack effect and the wind of the day",
           f"further off than {with_unit(5.0, 'pressure')}: look for a door ajar, another fan that runs, a gauge not zeroed",
           "the stair is not protected while the fan is off", OFF)  # fmt: skip
    yield ("fan-off baseline", "Forces with the fan off", both, FORCES_MIN * leaves / 2,
           f"Sheet Doors, each leaf: width, height, handle to edge, latch; then the force to {forces}, gauge at the "
           f"{sheet.criteria.forces[0].at}, square to the leaf. Three pulls, the highest is written.",
           "door by door in the sheet Doors", "the standard's forces, in the sheet Doors",
           "closer adjusted by its own trade, then all of the leaf again", "fingers off the hinge side; the leaf comes back",
           OFF)  # fmt: skip
    alarm = _test(rounds, ALARM)
    yield ("automatic, doors shut", "Alarm starts the fan, all doors shut", (LEAD, SWITCH, PANEL, *PAIRS),
           TEST_MIN + read_min + TRAVERSE_MIN,
           "Switch to AUTOMATIC, everybody clear of the doors; a detector that starts the stair is put into alarm at the lead's word: "
           "clock starts. Sheet Clock: alarm to 90 % of the set point. The doors at both ends are read in the first minute, then all "
           f"others upwards and downwards: sheet Rounds, column {SHUT}, with the minute beside; speed; then the {LOWER} takes the flow by "
           "traverse. The alarm is held: nobody resets it before the last step of the doors one by one.",
           f"{alarm.told}; {expected_said(auto)}; door by door in the sheet Rounds", "minimum and maximum of each door, sheet Rounds",
           f"a door past its limit: {word_of('wrong')}, write it under deficiencies; go on only where no leaf jams",
           f"{STOP}; {alarm.caution}", AUTOMATIC, (SHUT, ALARM))  # fmt: skip
    later = sorted({row.later_minute for row in sheet.rows if row.later_minute is not None})
    if later:
        yield ("automatic, doors shut", f"End doors again, from minute {later[-1]:.0f}", both, max(later[-1], 2 * READ_MIN),
               "The doors at the ends once more, while the fan runs on: sheet Rounds, table End doors again.",
               "what the stair's air has changed by then", "minimum and maximum of each door", "as the step before",
               "nobody waits in the swing of a leaf", AUTOMATIC, (AGAIN,))  # fmt: skip
    yield ("automatic, doors shut", "Forces with the fan on", both, FORCES_MIN * leaves / 2,
           f"Sheet Doors, each leaf: the force to {forces}, in the same minute the pressure across it; let go from a hand's width: does it "
           "shut and latch? Thread or smoke at the gap: which way?",
           "door by door in the sheet Doors", "the standard's forces; each leaf shuts and latches; air out of the stair",
           "the sheet's consistency figure first (force against gauge), then the closer, then the set point by its designer",
           f"{STOP}; pull, never jerk; one holds the leaf, one the gauge", AUTOMATIC, (LEAVES,))  # fmt: skip
    yield from _steady(rounds, read_min)


def _steady(rounds, read_min):
    lifts = "" if rounds.lifts_from_pa is None else (
        f" Lower where stair over outdoors at the relief damper's storey {rounds.site.stair.relief.level} is above "
        f"{with_unit(rounds.lifts_from_pa, 'pressure')}, or the blade moves.")  # fmt: skip
    for place, one in enumerate(one for one in rounds.rounds if one.mode == MANUAL):
        first = "Switch to MANUAL at the lowest speed. " if place == 0 else ""
        yield ("steady speeds", f"All doors shut, {one.label}", (LEAD, SWITCH, *PAIRS), 2.0 + read_min + TRAVERSE_MIN,
               f"{first}Go up to {with_unit(one.speed_hz, 'frequency')}, no higher.{lifts} Wait two minutes. Read every door, floors and "
               f"stair over outdoors, then the {LOWER} takes the flow by traverse; write the speed that the drive shows: sheet Rounds, "
               f"column {one.label}.",
               f"{expected_said(one)}; door by door in the sheet Rounds", "relief damper shut, no leaf past its force",
               "a speed lower by a tenth; what was read is written with the speed at which it was read",
               f"{STOP}; nobody walks through a door while it is read", MANUAL, (one.label,))  # fmt: skip


def speed_said(criteria):
    """The speed that is asked for through an open stair door, in words."""
    least, own = speeds_asked(criteria)
    if any(one.blank for one in criteria.open_door_speeds):
        return "blank in the standard's file: to be filled in from the text"
    return f"{with_unit(least[0].limit, 'speed', (2, 0))} out of the stair{'' if own else ', the least in print that we know'}"


def _open(rounds):
    sheet, auto = rounds.sheet, [one for one in rounds.rounds if one.mode == AUTOMATIC and (one.open_doors or one.open_exits)]
    asked = speed_said(sheet.criteria)
    swing = ""
    if sheet.jump:
        pressure, level, case = max((*sheet.jump, "today"), sheet.worst_jump or (0.0, 0, ""))
        swing = (f"; before the doors are let go, everybody out of the swing of all others: up to {with_unit(pressure, 'pressure')} across "
                 f"the stair door of storey {level} until the fan has slowed down ({case})")  # fmt: skip
    for place, one in enumerate(auto):
        use, level = [*one.speeds_m_s][-1] if one.open_exits else ("stair door", one.open_doors[-1])
        first = "Switch to AUTOMATIC and wait until the set point stands. " if place == 0 else ""
        heavy = f"one pair at stair door {sheet.jump[1]}, force gauge at its {sheet.criteria.forces[0].at}" if sheet.jump else "one pair"
        clock = f"{heavy}: clock how long it is past its limit"
        again = "Shut all at the lead's word" if one is auto[-1] else "Shut it at the lead's word"
        after = "Then the alarm is reset." if one is auto[-1] else "Then open it again for the next step."
        shut = f"{again}, {clock}. {_pulled(sheet, one)}{after}"
        speeds = "; ".join(f"{what} {at}: {with_unit(speed, 'speed', (2, 0))}" for (what, at), speed in one.speeds_m_s.items())
        lobby = f" and the lobby door of storey {level}" if ("lobby door", level) in one.speeds_m_s else ""
        yield ("doors one by one", f"Open besides: {use} {level}{lobby}", (LEAD, SWITCH, *PAIRS, "door holders"),
               TEST_MIN + READ_MIN * len(rounds.read) / 2 + GRID_MIN * len(one.speeds_m_s),
               f"{first}Open wide at the lead's word and hold: clock to 90 % of the set point. Then sheet Rounds, column "
               f"{one.label}, the shut doors only; sheet Air speed, {GRID_POINTS} points in each opening. {shut}",
               f"{expected_said(one)}; air through the open doors: {speeds}", f"{asked}; the sheet's limits for doors that stay shut",
               "is there a way out for the air of that floor? Write it under deficiencies; the loop is not touched on the day",
               f"{STOP}; doors held by hand, no wedge{swing}", AUTOMATIC, (one.label,))  # fmt: skip


def _pulled(sheet, one):
    """What is done with a final exit that the pressure pushes open, before its door is shut; "" where none stands open."""
    rows = [row for row in sheet.rows if row.use == "final exit" and row.level in one.open_exits and row.shuts_to_pa is not None]
    if not rows:
        return ""
    return (
        f"The final exit {rows[0].storey} last: its closer surely shuts it up to {with_unit(rows[0].shuts_to_pa, 'pressure', (1, 3))} "
        "and no more. Where it stays ajar nobody pulls it against the air: MANUAL, speed down until it shuts by itself, AUTOMATIC "
        "again; no clock "
        "for it, and a deficiency. "
    )


def _panel(rounds):
    site = rounds.site
    starts = "the fan starts, the stair comes to its set point"
    for title, do, expected in (
        ("Each detector that starts the stair", "The alarm of the rounds is reset. One after the other: the lead names it, the panel "
         "reads it out. Reset between them.", starts),
        ("Manual call point", "One call point in alarm. Reset.", starts),
        ("Smoke at the fan's intake", "A detector that starts the stair in alarm, the fan running; then the intake's. Reset both: the fan "
         "may stand.", "as the cause-and-effect list lays down: fan stopped, or the other intake"),
        ("Firefighter's switch: off and on", "A detector in alarm starts the fan. Switch OFF, then AUTOMATIC; each with its lamp at the "
         "panel. Reset.", "the fan stops and comes back; lamp and drive agree"),
    ):  # fmt: skip
        yield ("alarms and panel", title, (LEAD, PANEL, SWITCH), TEST_MIN, do, expected, "as in the cause-and-effect list agreed with the "
               "authority", "wiring and list compared by their trades; this step again from its beginning",
               "alarm service told before each; nobody in a doorway", AUTOMATIC)  # fmt: skip
    if site.stair.relief:
        moves, opens, again = (_test(rounds, field) for field in (MOVES, OPENS, RESEATS))
        told = "; ".join(f"{one.field}: {one.told}" for one in (opens, again, moves) if one)
        yield ("alarms and panel", "Relief damper opens and seats", (LEAD, SWITCH, UPPER), 2 * TEST_MIN,
               "In MANUAL raise the speed in steps of one hertz, doors shut, until the blade lifts; lower it until it seats. Sheet Clock.",
               told, "sheet Clock", "blade and seat cleaned, spring or weight set by its trade; again", f"{moves.caution}; {STOP}",
               MANUAL, (OPENS, RESEATS, MOVES))  # fmt: skip


def _wires(rounds, wires):
    by_name = {tap.name: next((row for row in wires if _lost(row, place)), None) for place, tap in enumerate(rounds.site.transmitters)}
    for name, row in by_name.items():
        unknown = f"its alarm at the panel; {NOT_LAID}"
        known = f"{row.purpose}. {row.must}".strip() if row else unknown
        automatic = row is not None and row.automatic
        limit = "as the design record lays down" if _laid(row) else NONE_LAID
        state = AUTOMATIC if automatic else MANUAL
        yield ("wires off", f"Wire of {name} off", (LEAD, SWITCH, PANEL, ELECTRICIAN), TEST_MIN,
               f"{'AUTOMATIC, a detector in alarm' if automatic else 'MANUAL at the speed of steady speed 1'}, nobody in the stair. The "
               "electrician opens the loop at its test plug, outside the panel. Wait for the alarm. The loop is closed again; acknowledge, "
               "reset.",
               known, limit,
               f"write {word_of('wrong')}; the drive's settings against the schedule",
               "no wire is moved in a live panel; one person in front of the closed panel, manual switch in reach", state)  # fmt: skip


def _laid(row):
    """Whether it is laid down what the loop does with the wire of a row off; None: no row is there."""
    return row is not None and "not laid down" not in f"{row.purpose} {row.must}"


def _all_laid(rounds, wires):
    return all(_laid(next((row for row in wires if _lost(row, place)), None)) for place in range(len(rounds.site.transmitters)))


def _lost(row, place):
    return [number for number, percent in enumerate(row.percents) if percent is None] == [place]


def _power(rounds, watched):
    mains, itself, back = (_test(rounds, field) for field in (MAINS, BY_ITSELF, BACK))
    told = "; ".join(f"{one.field}: {one.told}" for one in (mains, itself, back) if one)
    yield ("power", "Mains off and back", (LEAD, ELECTRICIAN, SWITCH, LOWER), 3 * TEST_MIN,
           "Switch to AUTOMATIC, a detector in alarm and held, the fan running. Mains off at the switch named by the electrician: clock "
           "to pressure on standby power; "
           "mains back: does the fan start by itself, clock to pressure. Sheet Clock.",
           told, "sheet Clock", "the fan that does not come back is started from the switch, then everything stops until it is mended",
           f"{itself.caution}{watched}", AUTOMATIC, (MAINS, BY_ITSELF, BACK))  # fmt: skip
    over, force = _test(rounds, OVERRIDE), _test(rounds, FORCE)
    told = "; ".join(f"{one.field}: {one.told}" for one in (over, force) if one)
    yield ("override", "Override switch", (LEAD, SWITCH, UPPER), TEST_MIN,
           "In AUTOMATIC: override on, read the speed; the pair measures at the door named here, in the sheet Clock; override off. "
           "Reset the alarm.",
           told, "sheet Clock", "the override's speed is lowered with the fire service's consent; again",
           f"{over.caution}; {STOP}: override off, MANUAL{watched}",
           AUTOMATIC, (OVERRIDE, FORCE))  # fmt: skip


def _give_back(rounds, laid):
    """The two last steps; laid: whether all is laid down that the loop does without a reading."""
    unlaid = "" if laid else f"; {WATCHED}: {NOT_LAID}"
    yield ("give back", "Wires, tubes, covers, settings", (LEAD, SWITCH, ELECTRICIAN), BACK_MIN,
           f"The electrician isolates, locks out and proves it dead; {order_said(ISOLATED)}. Covers on and lock off before the power; "
           "settings compared with those left printed before the first test, line by line. Sheet Steps, in order: "
           f"{'; '.join(ISOLATED)}.", "no difference; as many out as in", "none",
           "every difference set back or signed for; what is missing is looked for before power comes on",
           f"electrical work by the electrician alone; lock out before a cover comes off{unlaid}", OFF, ISOLATED)  # fmt: skip
    yield ("give back", "Restored to AUTOMATIC, and proved", (LEAD, SWITCH, PANEL, LOWER), BACK_MIN,
           f"In this order: {order_said(RUN)}. Prove it: the signal is a detector in alarm, nobody touches the switch. {UNLESS}. Sheet "
           f"Steps, in order: {'; '.join(RUN)}.",
           expected_said(rounds.round(SHUT)), "the set point stands; every line filled in", "nobody leaves: the stair is watched, "
           "building, alarm service and fire service know, until it is mended or decided in writing",
           f"told only when it is proved: building, alarm service, fire service{unlaid}",
           AUTOMATIC if laid else AS_DECIDED, RUN)  # fmt: skip
