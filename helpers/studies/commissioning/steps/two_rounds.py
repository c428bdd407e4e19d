"""What stands over the doors of an acceptance sheet: the day's ceiling of speed, its two rounds and which of them is NOT RUN, the crew, the
time it takes. For page, print and spreadsheet alike."""

import numpy as np

from helpers.model.site.criteria import AIR, AT
from helpers.studies.commissioning.expected_at_door import later_said
from helpers.studies.commissioning.further_tests import worst_said
from helpers.studies.commissioning.steps.not_run import (
    INSIDE,
    NOT_RUN,
    PAST,
    UNTIL_SET_BACK,
    by_the_record,
    ceiling_shown,
    decided_said,
    entered_said,
)
from helpers.studies.duty.relief_damper import STUCK_SHUT
from helpers.studies.report import limit_text, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

# Minutes at a door, fan off and both rounds together; and for telling everybody, starting, stopping, giving back.
DOOR_MIN, ROUND_MIN = 8.0, 30.0  # common practice, no source
LOOP_WORDS = {"held": "set point held", "not found": "no steady state found"}
CEILING = "Ceiling of the day"


def round_lines(sheet):
    """What the sheet holds for, and how it is worked: the two rounds, the weather of the day, where gauge and hoses go; a line each."""
    at = {place: listed(force.step for force in sheet.criteria.forces if force.at == place) for place in AT}
    places = "; ".join(f"at the {place} ({steps})" for place, steps in at.items() if steps)
    twice = twice_said(sheet)
    if any(row.later_minute is not None and row.later_shut_pa is None for row in sheet.rows):
        why = "the site file states no walls of the stair"
        why = "how the stair's air changes is worked out for the weather of the site file alone" if sheet.day.typed else why
        twice += f"No figure is expected of that second reading, its limits hold: {why}. "
    lines = [
        *([sheet.expected_said] if sheet.first else []),
        *ceiling_lines(sheet),
        *rounds_said(sheet),
        sheet.day_said,
        f"Speed and flow of the fan, and what is expected of doors that are measured once, are those {sheet.stair_said}: in the first "
        "minute, as warm as the rooms, and an hour later they are others.",
        f"Judged by {sheet.criteria.title} ({sheet.criteria.edition}). Gauge square to the leaf, {places}. Fan off first, then fan on.",
        f"Pressure is measured between what stands under Across. Across an open door none is measured: the air's speed is, on a grid of "
        f"points. {twice}Write the minutes since the start beside every door.",
        *filter(None, [lever_said(sheet)]),
        f"{_crew_said(sheet)}{_jump_said(sheet)}",
        _time_said(sheet),
        *([] if sheet.first else [sheet.expected_said]),
        *filter(None, [worst_said(sheet.worst)]),
    ]
    if any(row.least_pa is not None and row.least_pa < 0 for row in sheet.rows):
        lines.append("A least below 0 at a final exit: pushed harder than that by air from outside, the leaf is too heavy to open.")
    return tuple(lines)


def twice_said(sheet):
    """Which doors are measured twice and from which minute on, a sentence each with a blank behind it; "" for none."""
    twice = [row for row in sheet.rows if row.later_minute is not None]
    stairs, exits = ([row for row in twice if (row.use == "final exit") == out] for out in (False, True))
    told = "".join(
        f"Final exit {row.storey} twice: in the first minute, and again from minute {row.later_minute:.0f}{_then(sheet, row)}. "
        for row in exits
    )
    if not stairs:
        return told
    return (
        f"Storeys {listed([str(row.key) for row in stairs])} twice: in the first minute the pressure alone, their forces after that, and "
        f"the pressure again from minute {max(row.later_minute for row in stairs):.0f} after the start. {told}"
    )


def _then(sheet, row):
    return ": let the leaf go, ajar is a deficiency" if row.later_shut_pa is None else f": {later_said(sheet, row)}"


def ceiling_lines(sheet):
    """The day's ceiling of speed, and how it gets into the drive before the fan starts; nothing where nobody worked it out."""
    if sheet.ceiling is None:
        return
    drawn = f" {sheet.ceiling.as_drawn_said}".rstrip()
    yield f"{CEILING}: {sheet.ceiling.said}. Nothing on this sheet takes the fan above it.{drawn}"
    if sheet.enters_ceiling:
        yield f"Before the fan starts: {entered_said(sheet.ceiling)} {UNTIL_SET_BACK[0].upper()}{UNTIL_SET_BACK[1:]}."
        yield kept_said(sheet)


def kept_said(sheet):
    """Which highest speed stays in the drive when the crew leaves is decided in writing; what either choice does, with its figures."""
    shut, second = _wanted_hz(sheet)
    above = [
        f"{with_unit(speed, 'frequency', 1)} with {what}"
        for speed, what in zip((shut, second), _opened(sheet), strict=True)
        if sheet.ceiling.passed_by(speed)
    ]
    short = f"this day's loop wants up to {listed(above)}, and every door then reads less" if above else "this day's loop wants no more"
    full = f": {sheet.ceiling.full_said}" if sheet.ceiling.at_full else ""
    stood = with_unit(sheet.ceiling.full_hz, "frequency", 1)
    return (
        "Where the record fails in anything, or a line of the day is past a limit or left open, owner and authority having jurisdiction "
        "decide in writing, with the fire service, which highest speed stays in the drive when the crew leaves. "
        f"Left at the ceiling the fan gives no more, in a fire too: {short}. Set back, {stood} by the "
        f"site file, it can run above the ceiling, by its loop, in MANUAL or by override{full}."
    )


def _wanted_hz(sheet):
    """The fastest that the loop takes the fan to, by round [Hz]."""
    shut, second = sheet.speed_hz
    return max(shut, sheet.fastest[0]) if sheet.fastest else shut, second


def short_lines(sheet):
    """Ceiling and rounds in two lines, for a screen on which the whole of `round_lines` is folded away; the second is as long as it is
    where a round is NOT RUN."""
    if sheet.ceiling is not None:
        told = f"{CEILING}: {sheet.ceiling.short}.".replace(STUCK_SHUT, "damper stuck").replace("shuts by itself", "shuts")
        if sheet.ceiling.as_drawn_said:  # in a line's room, so that the first door stands in the first screen
            told = told.replace("in the file's weathers", "as drawn")
        if sheet.enters_ceiling:
            most, stays = max(_wanted_hz(sheet)), ceiling_shown(sheet.ceiling)
            caps = (
                f"{stays} caps a fire's {with_unit(most, 'frequency', 1)}" if sheet.ceiling.passed_by(most) else f"{stays} is enough today"
            )
            jams = f", above it doors jam ({sheet.ceiling.full_brief})" if sheet.ceiling.at_full else ""
            told += f" Before the start enter {_keyed(sheet.ceiling)} as highest, read it back; "
            told += "" if sheet.before_loop else "the old one back where nothing fails, else "
            told += f"it stays in unless owner and authority write otherwise: {caps}{jams}."
        yield told
    if not any(sheet.against):
        yield from rounds_said(sheet)
        return
    by_hand = "" if np.isnan(sheet.ceiling.hz) else f"; MANUAL, doors shut, to {sheet.ceiling.by_hand_said.removesuffix(' at most')}"
    by_hand += sheet.ceiling.by_hand_blank
    yield f"{_short_rounds(sheet)}. Run: fan off{by_hand}."


def _keyed(ceiling):
    """What is keyed in, in few words beside its own figure."""
    return "it" if ceiling.measured else ceiling.keyed_said


def _short_rounds(sheet):
    """Both rounds where one of them is NOT RUN, each reason once."""
    what, fast = _opened(sheet), sheet.too_fast
    if sheet.before_loop:
        record = by_the_record(sheet.before_loop).removeprefix("the ")
        too = [f"round {number}'s {told.replace(PAST, '')}" for number, told in enumerate(fast, 1) if told]
        besides = f"; above the ceiling {listed(too)}" if too else ""
        return f"Round 1, {what[0]}, and round 2, {what[1]}: {NOT_RUN}: {record}{besides}"
    runs = (f"about {speed:.0f} Hz, {LOOP_WORDS.get(state, state)}" for speed, state in zip(sheet.speed_hz, sheet.state, strict=True))
    told = (f"{NOT_RUN}, {why}" if why else does for why, does in zip(fast, runs, strict=True))
    return ". ".join(f"Round {number}, {one}: {does}" for number, (one, does) in enumerate(zip(what, told, strict=True), 1))


def _opened(sheet):
    """What stands open in the two rounds, in words."""
    opened = f"door{'s' * (len(sheet.open_doors) != 1)} {', '.join(map(str, sheet.open_doors)) or 'none'}"
    opened += f" and final exit {', '.join(map(str, sheet.open_exits))}" * bool(sheet.open_exits)
    return "doors shut", f"{opened} open"


def rounds_said(sheet):
    """What the two rounds are, and what the fan does in them; of one that is NOT RUN why, who may decide otherwise, and what makes it safe
    then: no speed past the ceiling is expected. One line where both are run."""
    then, told = "once that is settled, " if sheet.first else "", []
    for number, (doors, speed, state, against) in enumerate(
        zip(_opened(sheet), sheet.speed_hz, sheet.state, sheet.against, strict=True), 1
    ):
        does = f"about {speed:.0f} Hz, {then}{LOOP_WORDS.get(state, state)}"
        told.append(f"Round {number}: {doors}, {decided_said(against, sheet.measure(number)) if against else does}.")
    if not any(sheet.against):
        return (" ".join(told),)
    left = f"Without it {word_of('open')}, never {word_of('good')}. Run in any case, by the steps of a test day: fan off"
    by_hand = "" if np.isnan(sheet.ceiling.hz) else f"; doors shut in MANUAL, to {sheet.ceiling.by_hand_said}{sheet.ceiling.by_hand_blank}"
    return (*told, f"Rounds that are {NOT_RUN}: {left[0].lower()}{left[1:]}{by_hand}.", *_forces_by_hand(sheet))


def _forces_by_hand(sheet):
    """At which speed the forces with the fan on are expected where the loop is NOT RUN, and that the pressure stays blank then."""
    if sheet.hand_hz is not None:
        yield (
            f"Forces with the fan on are expected, and measured, in MANUAL at {with_unit(sheet.hand_hz, 'frequency', 1)}, doors shut, "
            f"{sheet.stair_said}. Pressures with doors shut or open are those of the loop: their blanks stay empty. What is "
            f"{INSIDE} by the design and {NOT_RUN} is called so, and not {word_of('good')}."
        )


def design_tile(sheet):
    """(what, how many, what that is) of the doors that the design lets fail: the same on sheet and steps."""
    states = list(sheet.expected_states.values())
    return f"Doors the design lets {word_of('wrong')}", f"{states.count('wrong')} of {len(states)}", "worked out, not measured"


def ask_first(then):
    """Who comes first where the design fails and nothing is measured yet: the same on sheet, steps and the stair's first hour."""
    return f"Ask: the designer first, page 12; then {then}"


def second_head(sheet):
    """Head of what is expected in the second round, which says where that is NOT RUN, with the fan's speed and the air of the stair."""
    at = f"at {with_unit(sheet.speed_hz[1], 'frequency', 1)}, {sheet.stair_said}"
    return f"Doors open{f', {NOT_RUN}' if sheet.against[1] else ''}, expected {at}"


def lever_said(sheet):
    """Why a limit at the latch stile is another figure than at the handle; "" where all is measured at the handle."""
    told = lever_shown(sheet)
    return (
        f"{told[:-1]}: one limit, two gauge places, the stile farther from the hinge, so less. Pull where the sheet says." if told else ""
    )


def lever_shown(sheet):
    """The limit at both gauge places alone, for a line's room; "" where all is measured at the handle."""
    pairs = {(row.limit_n, force.limit_n) for row in sheet.rows for force in row.forces if force.criterion.step in AIR}
    pairs = sorted(pair for pair in pairs if None not in pair and abs(pair[0] - pair[1]) > 1)
    if not pairs:
        return ""
    handle, stile = (limit_text(one, "force", "most") for one in pairs[0])
    return f"Force limit: {handle} at the handle is {stile} at the latch stile."


def gauge_said(sheet):
    """Where the gauge pulls, said once for all forces; "" where they differ in it, or there is none."""
    places = {force.at for force in sheet.criteria.forces}
    return f"Pull at the {places.pop()}." if len(places) == 1 else ""


def pull_said(sheet):
    """The limit at both gauge places and where the gauge pulls, in one line; "" for neither."""
    return " ".join(filter(None, (lever_shown(sheet), gauge_said(sheet))))


def _crew_said(sheet):
    """How many people it takes, and who stands where."""
    first, second = sheet.crew
    held = len(sheet.open_doors) + len(sheet.open_exits)
    pairs = (first - 1) // 2
    ends = "two pairs who measure, one at each end" if pairs == 2 else "a pair who measures"
    held_said = f"{held} who hold{'s' if held == 1 else ''} {held} door{'' if held == 1 else 's'} by hand, " if held else ""
    again = f"takes {second}: {held_said}a pair who measures, one at the manual switch"
    if sheet.against[1]:
        posts = ends.replace(" who measure,", ",")  # one line of a small screen
        return (
            f"Crew: {first} people, radios on one channel; nobody measures alone: {posts}, one at the manual switch. Round 2, if somebody "
            f"decides in writing to run it, {again}."
        )
    return (
        f"Crew: {max(first, second)} people, radios on one channel; nobody measures alone. Round 1 takes {first}: {ends}, one at the "
        f"manual switch. Round 2 {again}."
    )


def _jump_said(sheet):
    if not sheet.jump or not (sheet.open_doors or sheet.open_exits):
        return ""
    pressure, level = sheet.jump
    day = "today" if sheet.day.typed else f"in {sheet.weather}"
    told = f"{with_unit(pressure, 'pressure')} is expected {day} across stair door {level}"
    if sheet.worst_jump and sheet.worst_jump[0] > pressure:
        worst, at, _ = sheet.worst_jump
        told += f", up to {with_unit(worst, 'pressure')} at door {at} on another day"
    swing = "Before doors are let go, everybody out of the swing of all others"
    return f" {swing}: {told}, until the fan has slowed."


def _time_said(sheet):
    """How long the doors take."""
    later = max((row.later_minute for row in sheet.rows if row.later_minute is not None), default=0.0)
    whole = 5 * -(-(DOOR_MIN * len(sheet.rows) + later + ROUND_MIN) // 5)
    return (
        f"Time at the doors: about {whole // 60:.0f} h {whole % 60:02.0f} min. {len(sheet.rows)} doors of some {DOOR_MIN:.0f} min each, "
        f"fan off and both rounds together, {ROUND_MIN:.0f} min to tell everybody, start, stop and give back, and the wait for the second "
        "readings. Common practice, no source."
    )
