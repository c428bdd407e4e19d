"""The steps of a test day after the last door: detectors and panel, relief damper, wires off, mains, the fire service's panel at ON,
giving back.

The fire service's panel is proved at OFF and at ON, and at ON from each state that it goes before: in smoke control, with nothing in alarm,
over smoke at the intake, with a reading lost, from MANUAL. It runs at the speed agreed in writing, never above the day's ceiling.
"""

from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF, automatic_said
from helpers.studies.commissioning.hand_back import (
    BY_THE_LOOP,
    CEILING_BACK,
    CEILING_KEPT,
    ISOLATED,
    NOT_PROVED,
    RUN,
    UNLESS,
    WATCHED,
    closing_lines,
    order_said,
)
from helpers.studies.commissioning.steps.at_doors import exits_stop_said, stopping_door_said
from helpers.studies.commissioning.steps.frame import (
    AS_DECIDED,
    BACK_MIN,
    ELECTRICIAN,
    FAN,
    LEAD,
    LOWER,
    NONE_LAID,
    NOT_LAID,
    PANEL,
    STOP,
    SWITCH,
    TEST_MIN,
    UPPER,
    WORKS,
    DayStep,
)
from helpers.studies.commissioning.steps.not_run import BY_COMMAND, FAST, NO_FALLBACK, NOT_RUN, by_the_record, ceiling_shown
from helpers.studies.commissioning.steps.plant import (
    BACK,
    BY_HAND,
    BY_ITSELF,
    FORCE,
    MAINS,
    OPENS,
    OVERRIDE,
    RESEATS,
    STANDBY,
    SWING,
    lifted_by_hand,
)
from helpers.studies.commissioning.steps.two_rounds import kept_said
from helpers.studies.duty.change_over.reckoned import ONE_STANDS
from helpers.studies.report import listed
from helpers.studies.status import word_of

DAMPER = "Relief damper opens and seats"  # in every weather, or a sheet of another day's weather could not be read back
RESTORED = "Restored to AUTOMATIC, and proved"


def _test(rounds, field):
    return next((one for one in rounds.sheet.plant if one.field == field), None)


def _told(rounds, *fields):
    """What is expected of some lines of the clock, in words."""
    return "; ".join(f"{one.field}: {one.told}" for one in (_test(rounds, field) for field in fields) if one)


def _ceiling_said(rounds):
    return f"{ceiling_shown(rounds.ceiling)}{rounds.ceiling.measured_blank}"


def panel_steps(rounds):
    """Detectors, call point, smoke at the intake, the fire service's panel at OFF, the relief damper; one state a row."""
    starts = "the fan starts, the stair comes to its set point"
    run, held = "the command to run, seen at the panel", "A detector that starts the stair in alarm and held"
    off, fans = "Fire service's panel", ("Firefighter's switch: off and on",)
    for title, minutes, do, expected, earlier, decided in (
        ("Each detector that starts the stair", TEST_MIN, "The alarm of the rounds is reset. One after the other: the lead names it, the "
         "panel reads it out. Reset between them.", starts, (), f"One after the other: the lead names it, the panel reads it out; {run}. "
         "Reset."),
        ("Manual call point", TEST_MIN, "One call point in alarm. Reset.", starts, (), f"One call point in alarm: {run}. Reset."),
        ("Smoke at the fan's intake", TEST_MIN / 2, f"{held}, the fan running; then the intake's.", "the fan stops, and stays off", (),
         f"{held}: {run}. The intake's: it goes."),
        ("Smoke at the fan's intake reset, an alarm held", TEST_MIN / 2, "The intake's is reset, at the panel, and not the alarm; the fan "
         "seen; then the alarm is reset: the fan may stand.", "the fan comes back", None, "The intake's is reset: the command comes back. "
         "Then the alarm is reset."),
        (f"{off} at OFF, an alarm held", TEST_MIN / 3, f"{held}, the fan running. Panel to OFF.",
         "the fan stops, the lamp at OFF says so", (f"{off}: OFF, then AUTO", *fans), f"{held}: {run}. Panel to OFF: it goes, with its "
         "lamp."),
        (f"{off} at OFF, a second alarm", TEST_MIN / 3, "A second detector in alarm, the panel at OFF.", "no alarm starts the fan", None,
         "A second detector, the panel at OFF: the command stays away."),
        (f"{off} back at AUTO, an alarm held", TEST_MIN / 3, "Panel to AUTO, lamp and drive read. Then the alarms are reset.",
         "the fan comes back; lamp and drive agree", None, "Panel to AUTO: the command comes back, with its lamp. Reset."),
    ):  # fmt: skip
        yield DayStep(
            "alarms and panel", title, (LEAD, WORKS, SWITCH), minutes, do, expected, "as in the cause-and-effect list agreed with the "
            "authority", "wiring and list compared by their trades; this step again from its beginning",
            "alarm service told before each; nobody in a doorway", AUTOMATIC, loop=True, measure=BY_COMMAND, earlier=earlier or (),
            added=earlier is None, decided=decided,
        )  # fmt: skip
    if rounds.site.stair.relief:
        yield _damper(rounds)


def _damper(rounds):
    """At which pressure the blade opens and seats: by the fan alone, no hand in it. It goes above the steady speeds, so the final exits
    are watched at the lower end as the others are lifted."""
    top, by_hand = _ceiling_said(rounds), lifted_by_hand(rounds.sheet.plant)
    told = "none: no speed of the day lifts it" if by_hand else _told(rounds, OPENS, RESEATS)
    exits = [f"final exit {row.storey}" for row in rounds.sheet.rows if row.use == "final exit"]
    watched = (
        f"Before the fan starts the {LOWER} stands at {listed(exits)}, outside, gauge on it, until the fan is off; nobody else uses it, "
        "and they see that it shuts. "
    ) * bool(exits)
    return DayStep(
        "alarms and panel", DAMPER, (LEAD, SWITCH, *([LOWER] if exits else []), UPPER), 2 * TEST_MIN,
        f"{watched}In MANUAL raise the speed in steps of one hertz, no higher than {top} or the ceiling in the drive, "
        "whichever is lower, doors shut, until the blade lifts; lower it "
        f"until it seats.{exits_stop_said(rounds)}{stopping_door_said(rounds)} Where it has not lifted there: no higher, no hand in it; "
        f"at which pressure it opens stays {word_of('open')}. Sheet Clock.",
        told, "sheet Clock", "spring or weight set by its trade; again", f"no hand in the blade; {BY_HAND}; {SWING}; {STOP}", MANUAL,
        (OPENS, RESEATS), speed_hz=rounds.site.fan.speed_limits_hz(rounds.site.control.fire_mode)[0], measure=FAST,
        against=f"no speed up to the day's ceiling, {top}, lifts the blade today" if by_hand else "",
    )  # fmt: skip


def wire_steps(rounds, wires):
    """A wire off each, as the injection table's rows lay it down."""
    by_name = {tap.name: next((row for row in wires if _lost(row, place)), None) for place, tap in enumerate(rounds.site.transmitters)}
    for name, row in by_name.items():
        known = f"{row.purpose}. {row.must}".strip() if row else f"its alarm at the panel; {NOT_LAID}"
        automatic = row is not None and row.automatic
        yield DayStep(
            "wires off", f"Wire of {name} off", (LEAD, SWITCH, WORKS, ELECTRICIAN), TEST_MIN,
            f"{'AUTOMATIC, a detector in alarm' if automatic else 'MANUAL at the speed of steady speed 1'}, nobody in the stair. The "
            "electrician opens the loop at its test plug, outside the panel. Wait for the alarm. The loop is closed again; acknowledge, "
            "reset.",
            known if automatic else f"{known}; in MANUAL the alarm alone is seen, what the loop does is not",
            "as the design record lays down" if _laid(row) else NONE_LAID,
            f"write {word_of('wrong')}; the drive's settings against the schedule",
            "no wire is moved in a live panel; one person in front of the closed panel, manual switch in reach",
            AUTOMATIC if automatic else MANUAL, loop=automatic, against="" if _laid(row) else NO_FALLBACK,
        )  # fmt: skip


def _laid(row):
    """Whether it is laid down what the loop does with the wire of a row off; None: no row is there."""
    return row is not None and "not laid down" not in f"{row.purpose} {row.must}"


def all_laid(rounds, wires):
    """Whether it is laid down for every wire."""
    return all(_laid(next((row for row in wires if _lost(row, place)), None)) for place in range(len(rounds.site.transmitters)))


def _lost(row, place):
    return [number for number, percent in enumerate(row.percents) if percent is None] == [place]


def power_steps(rounds, laid):
    """The mains, then the panel at ON. laid: whether all is laid down that the loop does without a reading."""
    watched = "" if laid else f"; {WATCHED}: {NOT_LAID}"
    itself = _test(rounds, BY_ITSELF)
    yield DayStep(
        "power", "Mains off and back", (LEAD, ELECTRICIAN, SWITCH, WORKS, LOWER), 3 * TEST_MIN,
        "Switch to AUTOMATIC, a detector in alarm and held, the fan running. Mains off at the switch named by the electrician: clock until "
        "the fan runs on standby power, and to pressure; mains back: does the fan start by itself, clock to pressure. Sheet Clock.",
        _told(rounds, STANDBY, MAINS, BY_ITSELF, BACK), "sheet Clock",
        "the fan that does not come back is started from the switch, then everything stops until it is mended",
        f"{itself.caution}{watched}", AUTOMATIC, (STANDBY, MAINS, BY_ITSELF, BACK), True,
    )  # fmt: skip
    yield from second_fan_steps(rounds, watched)
    yield from _panel_at_on(rounds, laid, watched)


def second_fan_steps(rounds, watched):
    """Of a stair with a second fan: the interlock, then the running fan lost and the other one taking over; none elsewhere."""
    if rounds.site.second_fan is None:
        return
    both = "both fans at once press the doors harder than either: where both run, both to OFF at once, nobody pulls at a leaf"
    yield DayStep(
        "power", "Interlock of the two fans", (LEAD, SWITCH, WORKS, UPPER), TEST_MIN,
        "In MANUAL the first fan at its lowest speed. A person at each switch: the second one is asked to run, five seconds long; "
        "then the same the other way round. Both to OFF.",
        f"the second one does not start: {ONE_STANDS}", "the fan that is asked second stands still, both ways round",
        "nothing more is run with two fans; the interlock mended by its trade; this step again", f"{both}; {STOP}", MANUAL, added=True,
        speed_hz=rounds.site.fan.speed_limits_hz(rounds.site.control.fire_mode)[0], measure=FAST, stops=FAN,
    )  # fmt: skip
    yield DayStep(
        "power", "Change-over to the other fan", (LEAD, ELECTRICIAN, SWITCH, WORKS, LOWER), 3 * TEST_MIN,
        "In this order: switch to AUTOMATIC, a detector in alarm and held, the first fan proved to run. The electrician takes the power of "
        "its drive away at its isolator, no cover open: clock until the second fan is proved to run, and until the set point stands again. "
        "The pair reads the end door before, meanwhile and after. Power back to the first: it stands still until somebody changes back. "
        "Then the same from the second to the first. Reset. Times and readings into the remark of this step.",
        "trouble is told; the other fan takes over, never both at once; the set point stands again; the record has the time and what the "
        "doors have meanwhile, under fan and drive", "as in the sequence agreed: one fan runs, and never two",
        "the fan that ran before back on by the electrician; everything stops until it is mended",
        f"{both}; meanwhile the stair loses its pressure: nobody in it{watched}", AUTOMATIC, loop=True, added=True,
    )  # fmt: skip


def _panel_at_on(rounds, laid, watched):
    """Each state that the panel at ON goes before, with its own way back. A loop of which it is not laid down what it does without a
    reading is opened only while the panel is at ON."""
    top, force = _ceiling_said(rounds), _test(rounds, FORCE)
    agreed = f"Only where its speed is agreed in writing with the fire service, at most {top}: else {NOT_RUN}, and {word_of('open')}. "
    at = "" if force is None else " The pair measures at the door named in the sheet Clock."
    opens = "The electrician opens one loop at its test plug, outside the panel"
    lost = f"{opens}. Panel to ON; speed, lamp and drive read" if laid else f"Panel to ON. {opens}; speed, lamp and drive read"
    back = "Panel to AUTO. The loop is closed" if laid else "The loop is closed; panel to AUTO"
    runs, held = "the fan runs at the speed agreed, lamp and drive agree", "AUTOMATIC, a detector in alarm and held"
    third, half, pair = TEST_MIN / 3, TEST_MIN / 2, (LEAD, SWITCH, UPPER)
    for title, who, minutes, do, expected, judged, earlier in (
        ("ON, in smoke control", pair, half, f"{held}. Panel to ON, read the speed.{at}", _told(rounds, OVERRIDE, FORCE),
         (OVERRIDE, FORCE), ("Override switch",)),
        ("AUTO again, in smoke control", pair, half, "Panel to AUTO. Then reset.", "the loop has the fan again", (), ()),
        ("ON, nothing in alarm", pair, third, "AUTOMATIC, no alarm, the fan off. Panel to ON.", runs, (), ()),
        ("OFF, nothing in alarm", pair, third, "Panel from ON to OFF.", "the fan stops", (), ()),
        ("AUTO again, nothing in alarm", pair, third, "Panel to ON once more, then to AUTO.", "the fan stops at AUTO", (), ()),
        ("ON, over smoke at the intake", (LEAD, SWITCH), half, f"{held}, then the intake's: the fan stops. Panel to ON.",
         f"{runs} over the intake's", (), ()),
        ("AUTO again, over smoke at the intake", (LEAD, SWITCH), half, "Panel to AUTO; then the intake is reset, then the alarm.",
         "at AUTO the fan stops again, until the intake is reset", (), ()),
        ("ON, with a reading lost", (LEAD, SWITCH, ELECTRICIAN), TEST_MIN, f"{held}. {lost}. {back}; acknowledge, reset.",
         f"{runs}, whatever the reading says", (), ()),
        ("ON, from MANUAL", (LEAD, SWITCH), TEST_MIN, "Switch to MANUAL at the lowest speed. Panel to ON, then OFF, then AUTO. Switch to "
         "AUTOMATIC.", "which of the two goes first, as agreed in writing: panel before MANUAL, or MANUAL before panel. Neither in "
         f"writing: {word_of('open')}", (), ()),
    ):  # fmt: skip
        yield DayStep(
            "override", f"Fire service's panel at {title}", (*who, WORKS), minutes, f"{agreed}{do}", expected,
            f"sheet Clock, where the highest speed of all the steps at ON is written; {top}" if judged else
            f"the speed agreed, {top} at the most",
            "the speed at ON is lowered with the fire service's consent, in writing; again",
            f"{force.caution if judged and force else SWING}; {STOP}: panel to OFF{watched}", AUTOMATIC, judged, True,
            earlier=earlier, added=not earlier,
        )  # fmt: skip


def _lines_said(lines):
    """Lines of a sheet in a row, none of them in two pieces."""
    return "; ".join(line.replace("; ", ", ") for line in lines)


def back_steps(rounds, laid, first):
    """The two last steps. laid: as of `power_steps`; first: as of `procedure`."""
    watch = "fire watch stands, by the names written at step 1"
    unlaid = "" if laid else f"; {WATCHED}: {NOT_LAID}"
    isolated = tuple(line for line in closing_lines(rounds.ceiling) if line in (*ISOLATED, CEILING_BACK))
    ceiling = (
        (
            f"The day's ceiling, {_ceiling_said(rounds)}: {CEILING_KEPT}. {kept_said(rounds.sheet)} "
            "The list of forced values has what stood there; what is in the drive now is written with its Hz. "
        )
        if CEILING_BACK in isolated
        else ""
    )
    yield DayStep(
        "give back", "Wires, tubes, covers, settings", (LEAD, SWITCH, ELECTRICIAN), BACK_MIN,
        "Switch to OFF, the fan seen to stop. While the drive has power: settings compared with those left printed before the first test, "
        f"line by line, and set back. {ceiling}Then the electrician isolates, locks out and proves it dead; {order_said(ISOLATED[1:])}. "
        f"Sheet Steps, in order: {_lines_said(isolated)}.", "no difference; as many out as in", "none",
        "every difference set back or signed for; what is missing is looked for before power comes on",
        f"{watch}; electrical work by the electrician alone; lock out before a cover comes off{unlaid}", OFF, isolated,
    )  # fmt: skip
    told = f"{watch}, until this step is signed; told only when it is proved: building, alarm service, fire service{unlaid}"
    stays = "nobody leaves: fire watch stands, building, alarm service and fire service know, until it is mended or decided in writing"
    if first:
        yield DayStep(
            "give back", "Given back as decided in writing", (LEAD, SWITCH, PANEL, LOWER), BACK_MIN,
            f"In this order: {order_said(tuple(line for line in RUN if line not in BY_THE_LOOP))}. The proof in AUTOMATIC is {NOT_RUN} "
            f"while {by_the_record(first)}: its lines, {listed(BY_THE_LOOP)}, are answered no, {NOT_RUN}. {UNLESS}. "
            f"{NOT_PROVED}. Sheet Steps, in order: {_lines_said(RUN)}.",
            "a written decision of how the fan is left, signed", "every line filled in", stays,
            f"{watch}, until this step is signed, then as the decision has it; building, alarm service and fire service are told that the "
            f"stair is not proved{unlaid}", AS_DECIDED, RUN, earlier=(RESTORED,),
        )  # fmt: skip
        return
    yield DayStep(
        "give back", RESTORED, (LEAD, SWITCH, PANEL, WORKS, LOWER), BACK_MIN,
        f"In this order: {order_said(RUN)}. Prove it: the signal is a detector in alarm, nobody touches the switch. {UNLESS}. "
        f"{NOT_PROVED}. Sheet Steps, in order: {_lines_said(RUN)}.",
        automatic_said(rounds), "the set point stands; every line filled in", stays, told,
        AUTOMATIC if laid else AS_DECIDED, RUN,
    )  # fmt: skip
