"""The steps of a test day up to the last door: everybody told, papers, ceiling of speed, weather, fan off, the loop with all doors shut,
steady speeds, the design's doors one by one.

The automatic round comes before the steady speeds: the doors at the ends of the stair are read in the first minute, while its air is as
warm as it was found. Where it is NOT RUN, the forces with the fan on are measured in MANUAL, at the highest steady speed.
"""

from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF, SHUT, automatic_said, expected_said, still_said
from helpers.studies.commissioning.hand_back import BEFORE, REAL_ALARM
from helpers.studies.commissioning.steps.frame import (
    AGAIN,
    ALL,
    AS_FOUND,
    CAPPED,
    CERTIFIED,
    CHECK_MIN,
    CLIMB_MIN,
    ELECTRICIAN,
    ENTERED,
    FAN,
    FORCES_MIN,
    FORCES_OFF,
    GRID_MIN,
    LEAD,
    LEAVES,
    LOCKED,
    LOWER,
    MOST_WIND_M_S,
    OFF_WIND_M_S,
    PAIRS,
    PANEL,
    PLATES,
    READ_MIN,
    STOP,
    SWITCH,
    TELL_MIN,
    TEST_MIN,
    THROUGH,
    TRAVERSE_MIN,
    UPPER,
    WEATHER,
    WEATHER_MIN,
    WORKS,
    DayStep,
)
from helpers.studies.commissioning.steps.not_run import FAST, UNTIL_SET_BACK, entered_said, is_entered
from helpers.studies.commissioning.steps.plant import ALARM, LOCK, MOVES, STARTS, UNLOCK
from helpers.studies.commissioning.steps.two_rounds import lever_said
from helpers.studies.doors.open import speeds_asked
from helpers.studies.duty.permissible_speed import COUNTS
from helpers.studies.report import limit_text, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

GRID_HIGH, GRID_WIDE = 4, 3  # points of an open door's grid: heights, and places in each. Common practice, no source
GRID_POINTS = GRID_HIGH * GRID_WIDE


def before_steps(rounds):
    """Everybody told, papers and plates, the ceiling of speed where it is lower than the drive's own, the weather."""
    site, weather, sheet = rounds.site, rounds.sheet.day_said, rounds.sheet
    plates = [f"fan and motor ({with_unit(site.fan.motor_power_w, 'power', 1)})", *(tap.name for tap in site.transmitters)]
    several = len(site.stair.reliefs) > 1
    plates += [f"relief damper{f', storey {relief.level}' * several}" for relief in site.stair.reliefs]
    first = f"Settle first: {sheet.first}. " if sheet.first else ""
    yield DayStep(
        "everybody told", "Building, alarm service and fire service told", (LEAD, PANEL), TELL_MIN,
        f"{first}The written decision of what the fan does in a real alarm during the test, agreed with the fire service, lies at the "
        "alarm panel. "
        f"Write on the sheet Steps: {'; '.join(BEFORE)}. Notices at the stair doors. Everybody on one radio channel; say who "
        "says STOP: anybody.", "every line filled in; the decision is there", "no line empty", "do not start",
        f"from now to the last step the {PANEL} watches it and nothing else: {REAL_ALARM}", AS_FOUND, BEFORE, stops=ALL,
    )  # fmt: skip
    yield DayStep(
        "pre-checks", "Papers and plates", (LEAD, SWITCH, ELECTRICIAN), CHECK_MIN,
        "Sheet of injected signals done before this day, the result of each of its steps known; settings as left printed; read tags and "
        "nameplates of "
        f"{listed(plates)}; instrument, serial number and certificate of every gauge: sheet Devices, table Gauge, all in date; "
        "doors, closers and seals as the drawings have them.",
        "plates as in the column Design of the sheet Devices", "every difference written down",
        f"no test until one is explained; what is {word_of('wrong')} there is settled before the fan runs, in AUTOMATIC or in MANUAL",
        "no hand at belt, wheel or live terminal; a cover comes off by the electrician alone, isolated and locked out, the stair not "
        "protected meanwhile: the fan back as it was found, and seen so, before the next step", AS_FOUND, (PLATES, CERTIFIED), stops=FAN,
    )  # fmt: skip
    if site.stair.relief:
        yield from _blade(sheet)
    ceiling = rounds.ceiling
    if is_entered(ceiling):
        yield DayStep(
            "pre-checks", "Ceiling of speed, in the drive", (LEAD, SWITCH, ELECTRICIAN), TEST_MIN,
            f"{entered_said(ceiling)} The Hz that the drive then shows go into the column Note.",
            f"the drive shows {ceiling.keyed_said} as its highest speed. What it stands on: {ceiling.said}",
            f"{ceiling.both_said}; no step goes above it{f'; {COUNTS}' * bool(ceiling.as_drawn_said)}", "nobody starts the fan",
            UNTIL_SET_BACK, CAPPED, (ENTERED,),
            added=True, stops=FAN,
        )  # fmt: skip
    yield DayStep(
        "pre-checks", "Weather of the day", (LEAD, SWITCH, *PAIRS), WEATHER_MIN + CLIMB_MIN * len(site.storeys),
        f"The {LOWER}: outdoors in the shade, stair at bottom, floors; the {UPPER}: stair half way up and top, floors; nobody climbs "
        "alone. The lead: wind at the weather station; all of it on the sheet Rounds. Where they differ from those this package was made "
        "for, make it anew: its figures are another day's.",
        weather, f"by 2 °C (4 °F) or {with_unit(OFF_WIND_M_S, 'wind speed')} at the most",
        "make the package anew with the weather found",
        f"wind above {with_unit(MOST_WIND_M_S, 'wind speed')} or gusts: the readings wander, another day (common practice, no source)",
        CAPPED if is_entered(ceiling) else AS_FOUND, (WEATHER,),
    )  # fmt: skip


def _blade(sheet):
    """The relief damper's blade moved, and the lock off again: the one place at which a hand goes into it."""
    moves = next(one for one in sheet.plant if one.field == MOVES)
    who = (LEAD, SWITCH, UPPER, ELECTRICIAN)
    yield DayStep(
        "pre-checks", "Relief damper's blade lifted, the fan locked out", who, 2 * TEST_MIN,
        f"{LOCK}. Then the pair lifts the blade full way and lets it seat, and looks at blade and seat. Sheet Clock.",
        moves.told, f"sheet Clock; at which pressure it opens is {word_of('open')}: a hand proves no pressure",
        "blade and seat cleaned, spring or weight set by its trade; again; in any case the next step",
        f"{moves.caution}; of what is done in a real alarm the lock off is the next step, at once, and "
        "the fire service is told that the fan is locked out", LOCKED, (MOVES,),
        added=True,
    )  # fmt: skip
    yield DayStep(
        "pre-checks", "Lock off after the blade", who, TEST_MIN, f"{UNLOCK}.",
        "isolator closed and no lock on it, nobody and no tool at the blade, the switch where it was found", "nothing left behind",
        "nobody starts the fan", "the electrician's own key; nobody touches the switch before the lead has seen the blade free", AS_FOUND,
        added=True, stops=FAN,
    )  # fmt: skip


def shut_steps(rounds, first):
    """Fan off, the loop with all doors shut, steady speeds. first: as of `procedure`."""
    sheet, off, auto = rounds.sheet, rounds.rounds[0], rounds.round(SHUT)
    loop_hz = max((auto.speed_hz, *sheet.fastest[:1]))  # while the stair's air changes the loop may take it faster than at rest
    doors, leaves = len(rounds.read), len([row for row in sheet.rows if row.forces])
    both, read_min = (LEAD, SWITCH, *PAIRS), READ_MIN * doors / 2
    forces = listed([force.step for force in sheet.criteria.forces])
    yield DayStep(
        "fan-off baseline", "Fan off, all doors shut", both, TEST_MIN + read_min,
        "Fan OFF at the switch, wait until it stands still and the gauge is steady for a minute. Read every door, floors and stair over "
        "outdoors: sheet Rounds, column fan off. A mean over a minute, not a glance.",
        still_said(sheet, off),
        "none: it shows the stack effect and the wind of the day",
        f"further off than {with_unit(5.0, 'pressure')}: look for a door ajar, another fan that runs, a gauge not zeroed",
        "the stair is not protected while the fan is off", OFF, (off.label,),
    )  # fmt: skip
    yield DayStep(
        "fan-off baseline", "Forces with the fan off", both, FORCES_MIN * leaves / 2,
        f"Sheet Doors, each leaf: width, height, handle to edge, latch; then the force to {forces}, gauge at the "
        f"{sheet.criteria.forces[0].at}, square to the leaf. Three pulls, the highest is written.",
        "door by door in the sheet Doors", " ".join(filter(None, ("the standard's forces, in the sheet Doors.", lever_said(sheet)))),
        "closer adjusted by its own trade, then all of the leaf again", "fingers off the hinge side; the leaf comes back", OFF,
        (FORCES_OFF,),
    )  # fmt: skip
    alarm = next(one for one in sheet.plant if one.field == ALARM)
    yield DayStep(
        "automatic, doors shut", "Alarm starts the fan, all doors shut", (LEAD, SWITCH, WORKS, *PAIRS), TEST_MIN + read_min + TRAVERSE_MIN,
        "Switch to AUTOMATIC, everybody clear of the doors; a detector that starts the stair is put into alarm at the lead's word: "
        "clock starts. Sheet Clock: alarm to proof that the fan runs, and to 90 % of the set point. The doors at both ends are read in the "
        f"first minute, then all others upwards and downwards: sheet Rounds, column {SHUT}, with the minute beside; speed; then the "
        f"{LOWER} takes the flow by traverse. The alarm is held: nobody resets it before the last step of the doors one by one.",
        f"{alarm.told}; {automatic_said(rounds)}; door by door in the sheet Rounds", "minimum and maximum of each door, sheet Rounds",
        f"a door past its limit: {word_of('wrong')}, write it under deficiencies; go on only where no leaf jams",
        f"{STOP}; {alarm.caution}", AUTOMATIC, (SHUT, STARTS, ALARM), True, loop_hz,
    )  # fmt: skip
    later = sorted({row.later_minute for row in sheet.rows if row.later_minute is not None and row.use == "stair door"})
    exits = [row for row in sheet.rows if row.later_minute is not None and row.use == "final exit"]
    let_go = "".join(f" Final exit {row.storey} from minute {row.later_minute:.0f}: read, then let go, it must shut." for row in exits)
    if later:
        yield DayStep(
            "automatic, doors shut", f"End doors again, from minute {later[-1]:.0f}", both,
            max(later[-1], 2 * READ_MIN, *(row.later_minute for row in exits)),
            f"The doors at the ends once more, while the fan runs on: sheet Rounds, table End doors again.{let_go}",
            rounds.course or "what the stair's air has changed by then", "minimum and maximum of each door", "as the step before",
            "nobody waits in the swing of a leaf", AUTOMATIC, (AGAIN,), True, loop_hz,
        )  # fmt: skip
    pulled = DayStep(
        "automatic, doors shut", "Forces with the fan on", both, FORCES_MIN * leaves / 2,
        f"Sheet Doors, each leaf: the force to {forces}, in the same minute the pressure across it; let go from a hand's width: does it "
        "shut and latch? Thread or smoke at the gap: which way?",
        "door by door in the sheet Doors", "the standard's forces; each leaf shuts and latches; air out of the stair",
        "the sheet's consistency figure first (force against gauge), then the closer, then the set point by its designer",
        f"{STOP}; pull, never jerk; one holds the leaf, one the gauge", AUTOMATIC, (LEAVES,), True, loop_hz,
    )  # fmt: skip
    if not first:
        yield pulled
    steady = [one for one in rounds.rounds if one.mode == MANUAL]
    yield from _steady(rounds, steady, read_min)
    if first:
        yield _pulled_by_hand(sheet, pulled, steady[-1])


def exits_stop_said(rounds):
    """Up to which pressure a final exit surely shuts, as the end of a speed that is raised by hand, a sentence each after a space; "" where
    none has such an end that is lower than its own maximum's."""
    exits = {row.storey: row.shuts_to_pa for row in rounds.sheet.rows
             if row.use == "final exit" and row.shuts_to_pa is not None and rounds.sheet.ends(row)[1] is None}  # fmt: skip
    return "".join(
        f" Lower where final exit {storey} is above {with_unit(most, 'pressure', (1, 3))}: past that its closer does not surely shut it."
        for storey, most in exits.items())  # fmt: skip


def stopping_door_said(rounds):
    """Above which speed the door that stops the fastest steady round may be past its maximum, after a space; "" where none stops it, or it
    is past it at every speed that tells anything (`SteadySpeeds.watched`)."""
    if rounds.steady.watched or not rounds.steady.door:
        return ""
    top_hz = max(one.speed_hz for one in rounds.rounds if one.mode == MANUAL)
    return f" Above {with_unit(top_hz, 'frequency')} {rounds.steady.door} may be past its maximum in this weather."


def _steady(rounds, steady, read_min):
    lifts = "".join(
        f" Lower where stair over outdoors at the relief damper's storey {level} is above {with_unit(pressure, 'pressure')}, or the blade "
        "moves." for level, pressure in rounds.lifts_from_pa.items())  # fmt: skip
    exits = exits_stop_said(rounds)
    lifts += exits
    if rounds.steady.watched:
        lifts += (
            " The final exit is past its maximum already at speeds that tell too little, so it is watched: before the fan starts two "
            "people stand at it, outside, until the fan is off; nobody else uses it, and they see that it shuts."
        )
    lifts += stopping_door_said(rounds)
    lower = rounds.ceiling.measured_blank if rounds.ceiling else ""
    for place, one in enumerate(steady):
        start = "Switch to MANUAL at the lowest speed. " if place == 0 else ""
        yield DayStep(
            "steady speeds", f"All doors shut, {one.label}", (LEAD, SWITCH, *PAIRS), 2.0 + read_min + TRAVERSE_MIN,
            f"{start}Go up in steps of one hertz to {with_unit(one.speed_hz, 'frequency')}{lower}, no higher.{lifts} Wait two minutes. "
            f"Read every door, floors and stair over outdoors, then the {LOWER} takes the flow by traverse; write the speed that the drive "
            f"shows: sheet Rounds, column {one.label}.",
            f"{expected_said(one)}; door by door in the sheet Rounds",
            f"{'relief damper shut; ' * bool(rounds.lifts_from_pa)}no shut door above its maximum on the sheet Rounds, its force limit"
            f"{'; a final exit no higher than its closer shuts it' * bool(exits)}",
            "a speed lower by a tenth; what was read is written with the speed at which it was read",
            f"{STOP}; nobody walks through a door while it is read", MANUAL, (one.label,), speed_hz=one.speed_hz,
        )  # fmt: skip


def _pulled_by_hand(sheet, pulled, one):
    """The step of the forces with the fan on, in MANUAL at a steady speed."""
    shown, lower = with_unit(one.speed_hz, "frequency"), sheet.ceiling.measured_blank if sheet.ceiling else ""
    exits = any(row.use == "final exit" and row.shuts_to_pa is not None for row in sheet.rows)
    ajar = " A final exit that stays ajar is not pulled shut against the air: speed down until it shuts by itself." if exits else ""
    return DayStep(
        "steady speeds", pulled.title, pulled.who, pulled.minutes, f"In MANUAL at {shown}{lower}, {one.label}. {pulled.do}{ajar}",
        f"force against gauge; the figures of the sheet Doors are those of AUTOMATIC, page 11's those of its own speed in MANUAL, and not "
        f"of {shown}: write the speed beside the force", pulled.limit, pulled.fails,
        pulled.caution, MANUAL, pulled.judged, speed_hz=one.speed_hz,
    )  # fmt: skip


def speed_said(criteria):
    """The speed that is asked for through an open stair door, in words."""
    least, own = speeds_asked(criteria)
    if any(one.blank for one in criteria.open_door_speeds):
        return "blank in the standard's file: to be filled in from the text"
    return f"{with_unit(least[0].limit, 'speed', (2, 0))} out of the stair{'' if own else ', the least in print that we know'}"


def hard_to_open(rounds):
    """(the stair door that jumps most as doors shut, in words with its pair's place, the pressure [Pa] that is its limit or None); () for
    none.

    The pair stands where its leaf does not swing and reads the pressure across it: nobody opens or pulls it."""
    sheet = rounds.sheet
    if not sheet.jump:
        return ()
    level = sheet.jump[1]
    row = next((row for row in sheet.rows if (row.use, row.level) == ("stair door", level)), None)
    into = row is None or not row.window.opens_with_pressure  # what pressure in the stair pushes shut swings into the stair
    most = None if row is None else sheet.ends(row)[1]
    most = most if isinstance(most, int | float) else None
    past = "" if most is None else f" above {limit_text(most, 'pressure', 'most')}, its force limit"
    side = "floor's" if into else "stair's"
    return f"one pair on the {side} side of stair door {level}, its leaf shut, pressure gauge through the gap", past


def open_steps(rounds):
    """The design's doors opened one by one, the loop running."""
    sheet, auto = rounds.sheet, [one for one in rounds.rounds if one.mode == AUTOMATIC and (one.open_doors or one.open_exits)]
    asked, swing, clock = speed_said(sheet.criteria), "", "one pair: clock how long it is past its limit"
    if where := hard_to_open(rounds):
        pressure, level, case = max((*sheet.jump, "today"), sheet.worst_jump or (0.0, 0, ""))
        clock = f"{where[0]}: clock how long it is{where[1] or ' past its limit'}; no leaf is opened or pulled meanwhile"
        swing = (f"; before the doors are let go, everybody out of the swing of all others: up to {with_unit(pressure, 'pressure')} across "
                 f"the stair door of storey {level} until the fan has slowed down ({case})")  # fmt: skip
    for place, one in enumerate(auto):
        use, level = [*one.speeds_m_s][-1] if one.open_exits else ("stair door", one.open_doors[-1])
        first = "Switch to AUTOMATIC and wait until the set point stands. " if place == 0 else ""
        again = "Shut all at the lead's word" if one is auto[-1] else "Shut it at the lead's word"
        after = "Then the alarm is reset." if one is auto[-1] else "Then open it again for the next step."
        shut = f"{again}, {clock}. {_pulled(sheet, one)}{after}"
        speeds = "; ".join(f"{what} {at}: {with_unit(speed, 'speed', (2, 0))}" for (what, at), speed in one.speeds_m_s.items())
        lobby = f" and the lobby door of storey {level}" if ("lobby door", level) in one.speeds_m_s else ""
        yield DayStep(
            "doors one by one", f"Open besides: {use} {level}{lobby}", (LEAD, SWITCH, *PAIRS, "door holders"),
            TEST_MIN + READ_MIN * len(rounds.read) / 2 + GRID_MIN * len(one.speeds_m_s),
            f"{first}Open wide at the lead's word and hold: clock to 90 % of the set point. Then sheet Rounds, column "
            f"{one.label}, the shut doors only; sheet Air speed, {GRID_POINTS} points in each opening. {shut}",
            f"{expected_said(one)}; air through the open doors: {speeds}", f"{asked}; the sheet's limits for doors that stay shut",
            "is there a way out for the air of that floor? Write it under deficiencies; the loop is not touched on the day",
            f"{STOP}; doors held by hand, no wedge{swing}", AUTOMATIC,
            (one.label, *([THROUGH] if one is auto[-1] else [])), True, one.speed_hz, FAST,
        )  # fmt: skip


def _pulled(sheet, one):
    """What is done with a final exit that the pressure pushes open, before its door is shut; "" where none stands open."""
    rows = [row for row in sheet.rows if row.use == "final exit" and row.level in one.open_exits and row.shuts_to_pa is not None]
    if not rows:
        return ""
    return (
        f"The final exit {rows[0].storey} last: its closer surely shuts it up to {limit_text(rows[0].shuts_to_pa, 'pressure', 'most')} "
        "and no more. Where it stays ajar nobody pulls it against the air: MANUAL, speed down until it shuts by itself, AUTOMATIC "
        "again; no clock "
        "for it, and a deficiency. "
    )
