"""The report of a test day for the authority: device by device its tag and plate, what was designed, what was measured, the limit, PASS,
CHECK, FAIL or NOT YET, the deficiency and when it was tested again. Doors are judged as on the acceptance sheet."""

from dataclasses import dataclass, replace

from helpers.model.site.criteria import AIR as MOVED_BY_AIR
from helpers.studies.commissioning.crew.blanks import (
    FALLS,
    MOST_DEFICIENCIES,
    RECOVERS,
    REMARK,
    clocked,
    devices_of,
    grid_key,
    leaves_of,
    opened,
    place_said,
)
from helpers.studies.commissioning.crew.given_back import GAUGES, gauges_doubted, given_back_lines, recorded_lines
from helpers.studies.commissioning.crew.in_rounds import gravest_first, held_down, no_pass, round_lines, strange_on_plate, weather_line
from helpers.studies.commissioning.crew.leaves import gauge_lines, pairs_line, shutting_lines, stand_out
from helpers.studies.commissioning.crew.lines import (
    AGREES,
    AJAR,
    COARSE,
    GAUGED,
    HEAVY,
    SHORT,
    Excess,
    ReportLine,
    at_the_best,
    crossed_said,
    graver,
    head_said,
    open_said,
    to_do,
    worst_line,
    wrong_first,
    wrong_said,
)  # fmt: skip
from helpers.studies.commissioning.crew.procedure import entered, step_lines
from helpers.studies.commissioning.crew.rounds import SHUT
from helpers.studies.commissioning.fields import READ_WORDS, DoorMeasured
from helpers.studies.commissioning.further_tests import worst_said
from helpers.studies.commissioning.judgement import judged
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.at_doors import GRID_HIGH, GRID_POINTS, GRID_WIDE, speed_said
from helpers.studies.commissioning.steps.frame import AGAIN, CERTIFIED, ENTERED, FORCES_OFF, LEAVES, PLATES, THROUGH
from helpers.studies.commissioning.steps.plant import OPENS, RESEATS
from helpers.studies.commissioning.steps.two_rounds import lever_said
from helpers.studies.doors.columns import LIMITS
from helpers.studies.doors.forces import GAUGE_N
from helpers.studies.report import apart, limit_text
from helpers.studies.status import SEVERITIES, status_of, word_of, worst_of
from helpers.units.said import with_unit

AIR = "Air through open doors"
NOT_FITTED = "Not yet fitted: whether the readings are of one building, this report does not see; the command fit on the day's file does."


@dataclass(frozen=True)
class DayReport:
    """All lines of a day. verdict: (key of the status, sentence); head: the same in a few words; listed: the first that are past a limit, a
    line each with figure and limit, and how many more there are; unmeasured: what is not measured or not filled in yet, a line for each
    part; rest: what could not be used or is to be settled first; do: what to do, "" for nothing."""

    title: str
    lines: tuple
    verdict: tuple
    said: tuple
    head: str
    listed: tuple
    unmeasured: tuple
    rest: tuple
    do: str

    def parts(self):
        """{part: its lines} in order."""
        return _parts(self.lines)

    @property
    def to_act(self):
        """Whether somebody has to act on it: on anything but a PASS of the whole day, a line out of order or still to fill in too."""
        return self.verdict[0] != "good"

    def count(self, state):
        """How many lines have a status; two readings that agree are none."""
        return sum(line.word == word_of(state) for line in self.lines)


def day_report(found):
    """The `DayReport` of a `DayFound`. Where several people read one place, each of their readings is held to its limit: none passes by
    a mean with another."""
    sheet, site, lines = found.procedure.rounds.sheet, found.procedure.rounds.site, _lines(found)
    for filled in found.filled.at_ends():
        lines = [graver(*pair) for pair in zip(lines, _lines(replace(found, filled=filled)), strict=True)]
    states = [line.state for line in lines]
    named = [line.word for line in lines]
    counts = ", ".join(f"{named.count(word)} {word}" for word in (*map(word_of, SEVERITIES), AGREES))
    coarse = sum(one.part == GAUGED and COARSE in one.words for one in lines)
    counts += f"; {coarse} {COARSE}" * bool(coarse)
    unread = [*found.filled.mistakes, *found.filled.conflicts]
    left = "open" in states or unread or any(line.left for line in lines)
    state = "wrong" if "wrong" in states or sheet.first else "open" if left else (
        "attention" if "attention" in states or sheet.fails_elsewhere else "good")  # fmt: skip
    first = f" Settle first: {sheet.first}." if sheet.first else ""
    first += f" {NOT_FITTED}" * (found.test_day is not None)
    rest = f" {unused_said(len(unread))}; each is named with its cell." if unread else ""
    if state == "open" and "open" not in states and not unread:
        rest = " Something is still to be measured beside what is judged."
    wrong, judged, apart = wrong_first(lines), len([one for one in states if one]), stand_out(found.leaves)
    verdict = f"{word_of(state)}: {counts} of {judged} lines judged.{worst_line(wrong, apart)}{rest}{first}"
    return DayReport(f"{site.title}: test day{f' of {found.date}' if found.date else ''}", tuple(lines), (state, verdict),
                     tuple(filter(None, (sheet.day_said, lever_said(sheet), worst_said(sheet.worst), *found.filled.together))),
                     head_said(state, wrong, judged), tuple(wrong_said(wrong)), tuple(open_said(_parts(lines))),
                     tuple(filter(None, map(str.strip, (rest, first)))), to_do(wrong, apart))  # fmt: skip


def steps_judged(found):
    """The `ReportLine` of every step of a `DayFound`, by its number: what is ticked is no PASS while what it asks for is not measured."""
    steps = (line for line in _lines(found) if line.part == "Steps")
    return {step.number: line for step, line in zip(found.procedure.steps, steps, strict=True)}


def _parts(lines):
    """{part: its lines} in order."""
    return {part: [line for line in lines if line.part == part] for part in dict.fromkeys(line.part for line in lines)}


def _lines(found):
    """All lines of a day, in order."""
    weather, devices, doors, clock = weather_line(found), [*_devices(found)], [*_doors(found)], [*_clock(found)]
    shuts = [*shutting_lines(found)]
    (read, by_round), recorded, gauged = (
        round_lines(found),
        [*recorded_lines(found)],
        [*gauge_lines(found.leaves), *pairs_line(found.procedure.rounds, found.filled, found.leaves), *_speeds(found)],
    )
    told = [*given_back_lines(found, (*doors, *shuts, *read, *clock, *(line for line in gauged if line.part == AIR)))]
    rounds = found.procedure.rounds
    levels = {words: row.level for _, row, words in leaves_of(rounds)} | {place_said(rounds, *place): place[1] for place in rounds.read}
    late = gauges_doubted(found, levels)
    weather, (doors, shuts, read, clock) = late.doubted(weather), (
        [late.doubted(one) for one in some] for some in (doors, shuts, read, clock))  # fmt: skip
    by_round = {label: worst_of((state, *(["attention"] * late.doubts_round(label)))) for label, state in by_round.items()}
    known = by_round | {line.device: line.state for line in (weather, *clock, *told) if line.state}
    gauges = _worst(line for line in recorded if line.device in GAUGES)
    known |= {PLATES: _worst(devices), CERTIFIED: gauges, LEAVES: _worst([*doors, *shuts])}
    known |= {AGAIN: worst_of([_again(found), *(["attention"] * late.doubts_round(AGAIN))])}
    known |= {FORCES_OFF: _forces_off(found), ENTERED: entered(found), THROUGH: _worst(line for line in gauged if line.part == AIR)}
    gauged = [late.doubted(line) for line in gauged]
    lines = [
        weather,
        *devices,
        *recorded,
        *doors,
        *shuts,
        *(line for line in gauged if line.part != AIR),
        *read,
        *(line for line in gauged if line.part == AIR),
        *clock,
        *step_lines(found, known),
        *told,
    ]
    return [*_with_deficiencies(found, _with_remarks(found, lines))]


def unused_said(count):
    """How many cells or lines could not be used, in words."""
    return "1 cell or line could not be used" if count == 1 else f"{count} cells or lines could not be used"


def _devices(found):
    for key, words, design in devices_of(found.procedure.rounds):
        tag, plate, measured, seen = (found.filled.value("devices", key, column) for column in ("tag", "plate", "measured", "seen"))
        left = [name for name, value in (("tag", tag), ("nameplate", plate), ("seen", seen)) if value is None]
        state = "wrong" if seen == SEEN[1] else "open" if left else "good"
        past = told = "found otherwise than designed" if state == "wrong" else ""
        strange = next(filter(None, (strange_on_plate(text or "", design) for text in (plate, measured))), "")
        state = worst_of([state, "attention"]) if strange else state
        told = "; ".join(filter(None, (told, strange, f"still to fill in: {', '.join(left)}" if left else "")))
        yield ReportLine("Devices", words, tag or "", plate or "", design, measured or "", "as designed", state, told, past=past)


def _measured(found, key, row):
    """`DoorMeasured` of a leaf, forces of another leaf never mixed in."""
    filled, place = found.filled, (row.use, row.level)
    forces = {force.field: filled.value("doors", key, f"on {force.criterion.step}") for force in row.forces}
    air = next((force.criterion.step for force in row.forces if force.field in ("motion_n", "force_n")), None)
    last = found.procedure.rounds.rounds[-1]
    second = {"speed_m_s": _mean(found, row.use, row.level)[0]} if row.opened else {"open_pa": filled.value("pressures", place, last.label)}
    again = {name: filled.value("again", row.key, name) for name in ("later_pa", "later_minutes")} if row.later_minute is not None else {}
    return DoorMeasured(
        read_by=READ_WORDS[1],  # the round of that name is the loop's own
        shut_pa=filled.value("pressures", place, SHUT), minutes=filled.value("pressures", place, "minutes"),
        off_n=None if air is None else filled.value("doors", key, f"off {air}"), shuts=filled.value("doors", key, "shuts"),
        direction=filled.value("doors", key, "direction"), **forces, **second, **again
    )  # fmt: skip


def _doors(found):
    rounds, sheet = found.procedure.rounds, found.procedure.rounds.sheet
    why, last = no_pass(found), rounds.rounds[-1].label
    worked = {row.key for _, row, _ in leaves_of(rounds)}
    others = [((row.key, 0), row, f"{row.use} {row.storey}") for row in sheet.rows if row.key not in worked]
    for key, row, words in (*leaves_of(rounds), *others):
        measured = _measured(found, key, row)
        state, told = sheet.judge(row.key, measured)
        slips = next((leaf.slips for leaf in found.leaves if leaf.key == key), ())
        more = [*(("attention", said) for said in slips), *_fan_off(found, key, row)]
        more += [held_down(reason, "open", "") for label, reason in why.items()
                 if label in (SHUT, last) and ("pressures", (row.use, row.level), label) in found.filled.readings]  # fmt: skip
        excess = _excess(sheet, row, measured, _off(found, key, row))
        past = [said for one, said in (*judged(sheet, row, measured), *more) if one == "wrong"]
        past = next((said for said in past if excess and excess.figure in said), past[0] if past else "")
        parts = [(state or "open", told or "not measured"), *more]
        state, told = worst_of(one for one, _ in parts), gravest_first(parts)
        yield ReportLine("Doors", words, "", "", f"{row.door}; expected {with_unit(row.shut_pa, 'pressure', (1, 3))}",
                         _shown(row, measured), _limits(sheet, row), state, told, left=sheet.left(row.key, measured),
                         excess=excess, past=past)  # fmt: skip


def _excess(sheet, row, measured, off):
    """The worst `Excess` of a door, None where no figure is past its end; off: (step, force with the fan off, its limit), of `_off`."""
    least, most = (end if isinstance(end, int | float) else None for end in sheet.ends(row))
    short = row.window.open_least_pa if sheet.designed else None
    found = [(HEAVY, measured.shut_pa, most, 1), (AJAR, measured.shut_pa, row.shuts_to_pa if most is None else None, 1),
             (SHORT, measured.shut_pa, least, -1), (SHORT, measured.open_pa, short, -1)]  # fmt: skip
    found += [(HEAVY, getattr(measured, force.field), force.limit_n, 1) for force in row.forces]
    found += [(HEAVY, value, limit, 1) for _, value, limit in off]
    past = [Excess.of(kind, value, limit, "pressure" if at < 4 else "force") for at, (kind, value, limit, way) in enumerate(found)
            if None not in (value, limit) and status_of(way * value, way * limit) == "wrong"]  # fmt: skip
    return min(past, key=lambda one: one.rank, default=None)


def _again(found):
    """The gravest status of the end doors' second readings, NOT YET while one is missing."""
    states = []
    for row in found.procedure.rounds.sheet.rows:
        if row.later_minute is not None:
            read = {name: found.filled.value("again", row.key, name) for name in ("later_pa", "later_minutes")}
            states += [state for state, _ in judged(found.procedure.rounds.sheet, row, DoorMeasured(**read), True)]
            states += ["open"] * (None in read.values())
    return worst_of(states) or "good"


def _forces_off(found):
    """The gravest status of the forces with the fan off, NOT YET while one of a leaf is missing."""
    leaves = [(key, row) for key, row, _ in leaves_of(found.procedure.rounds)]
    missing = any(found.filled.value("doors", key, f"off {force.criterion.step}") is None for key, row in leaves for force in row.forces)
    return worst_of([*(state for key, row in leaves for state, _ in _fan_off(found, key, row)), *(["open"] * missing)]) or "good"


def _fan_off(found, key, row):
    """What the closer alone asks for at latch and full width, against the same limits."""
    for step, value, limit_n in _off(found, key, row):
        state = status_of(value, limit_n, GAUGE_N)
        if state != "good":
            shown, limit = apart((value, limit_n), "force", "most", 1)
            yield state, f"fan off {shown} to {step}, {'limit' if state == 'wrong' else 'just under the limit of'} {limit}"


def _off(found, key, row):
    """(step, force with the fan off [N], its limit [N]) at latch and full width of a leaf, where both are known."""
    for force in row.forces:
        value = found.filled.value("doors", key, f"off {force.criterion.step}")
        if force.field not in ("motion_n", "force_n") and value is not None and force.limit_n is not None:
            yield force.criterion.step, value, force.limit_n


def _shown(row, measured):
    """What was measured at a door, in the order of the survey."""
    parts = [] if measured.shut_pa is None else [with_unit(measured.shut_pa, "pressure", (1, 3))]
    forces = [(f"fan off: {force.criterion.step}", measured.off_n) for force in row.forces if force.criterion.step in MOVED_BY_AIR]
    forces += [(f"fan on: {force.criterion.step}", getattr(measured, force.field)) for force in row.forces]
    parts += [f"{what} {with_unit(value, 'force')}" for what, value in forces if value is not None]
    parts += [f"open {with_unit(measured.speed_m_s, 'speed', (2, 0))}"] if measured.speed_m_s is not None else []
    parts += [f"shuts: {measured.shuts}"] if measured.shuts else []
    if measured.later_pa is not None:
        minute = "" if measured.later_minutes is None else f" (minute {measured.later_minutes:g})"
        parts.append(f"again {with_unit(measured.later_pa, 'pressure', (1, 3))}{minute}")
    return "; ".join(parts)


def _limits(sheet, row):
    ends = zip(("least", "most"), sheet.ends(row), strict=True)
    told = ((end, limit if isinstance(limit, str) else limit_text(limit, "pressure", end)) for end, limit in ends if limit is not None)
    parts = [f"{LIMITS[end]} {limit}" for end, limit in told]
    parts += [] if row.shuts_to_pa is None else [f"its closer surely shuts it up to {limit_text(row.shuts_to_pa, 'pressure', 'most')}"]
    for force in row.forces:
        limit = "blank" if force.limit_n is None else limit_text(force.limit_n, "force", "most")
        moved = None not in (force.limit_n, row.limit_n) and force.criterion.step in MOVED_BY_AIR and abs(force.limit_n - row.limit_n) > 1
        lever = f" at the {force.criterion.at}, which is {limit_text(row.limit_n, 'force', 'most')} at the handle" if moved else ""
        parts.append(f"{force.criterion.step} {limit}{lever}")
    return "; ".join(parts)


def _mean(found, use, level):
    """(mean speed over the whole grid of an open door, None while a point is missing; points read; points at which the air comes in)."""
    key = grid_key(use, level)
    points = [found.filled.value(key, row, place) for row in range(1, GRID_HIGH + 1) for place in range(1, GRID_WIDE + 1)]
    read = [one for one in points if one is not None]
    mean = sum(read) / len(read) if len(read) == GRID_POINTS else None
    return mean, len(read), sum(one < 0 for one in read)


def _speeds(found):
    rounds = found.procedure.rounds
    for use, level in opened(rounds):
        mean, read, inwards = _mean(found, use, level)
        row = next(row for row in rounds.sheet.rows if (row.use, row.level) == (use, level))
        expected = f"expected {with_unit(rounds.rounds[-1].speeds_m_s[use, level], 'speed', (2, 0))}"
        if mean is None:
            state, words = "open", f"{read} of {GRID_POINTS} points read"
        else:
            told = rounds.sheet.judge(row.key, DoorMeasured(speed_m_s=mean))
            state = "good" if told[1].startswith("inside its limits") else told[0]
            words = told[1].partition("; still to measure")[0].partition(" so far")[0]
            state, words = held_down(no_pass(found).get(rounds.rounds[-1].label), state, words)
        if inwards:
            state, words = worst_of([state, "attention"]), f"{words}; at {inwards} of {GRID_POINTS} points the air comes into the stair"
        asked = "none through an exit" if use == "final exit" else speed_said(rounds.sheet.criteria)
        measured = "" if mean is None else f"mean {with_unit(mean, 'speed', (2, 0))}"
        yield ReportLine(AIR, place_said(rounds, use, level), "", "", f"{row.door}; {expected}", measured,
                         asked, state, words)  # fmt: skip


def _clock(found):
    rounds = found.procedure.rounds
    barred = {name: step.against for step in found.procedure.steps if step.against for name in step.judged}
    for one in rounds.sheet.plant:
        read = found.filled.value("clock", one.field, "read")
        state, words = one.judge(read)
        measured = "" if read is None else with_unit(read, one.dimension, (1, 3)) if one.dimension else read
        words = words or ("not measured" if read is None else "")
        if one.field in (OPENS, RESEATS) and (crossed := crossed_said(found)):
            state, words = worst_of([state, "open"]), "; ".join(filter(None, (words, crossed)))
        state, words = at_the_best(barred.get(one.field), read, state, words)
        yield ReportLine("Clock and plant", one.field, "", "", one.told, measured, "", state, words)
    response = rounds.sheet.criteria.response
    for use, level in clocked(rounds):
        for name in (RECOVERS, FALLS):
            read = found.filled.value("clock", (use, level, name), "read")
            limit = response.limit if name == RECOVERS else 0.0
            asked = "blank" if name == RECOVERS and response.blank else "none asked" if limit is None else with_unit(limit, "time")
            state = "open" if read is None or asked == "blank" else "" if limit is None else status_of(read, limit)
            words = "not measured" if read is None else "for the record" if asked == "none asked" else ""
            state, words = held_down(None if read is None else no_pass(found).get(rounds.rounds[-1].label), state, words)
            if name == FALLS and read is not None and state == "wrong":
                words = f"a handle past its limit for {with_unit(read, 'time')} after the doors have shut: as in the record, past is past"
            yield ReportLine("Clock and plant", f"{place_said(rounds, use, level)} {name}", "", "", "", "" if read is None else
                             with_unit(read, "time"), asked, state, words)  # fmt: skip


def _worst(lines):
    return worst_of(line.state for line in lines)


def _with_remarks(found, lines):
    """Lines with what was written into the remark of their row."""
    rounds, told = found.procedure.rounds, {}
    leaves = {key: words for key, _, words in leaves_of(rounds)}
    grids = {grid_key(*place): place_said(rounds, *place) for place in opened(rounds)}
    for (form, line, column), reading in found.filled.readings.items():
        if column == REMARK:
            of = {"pressures": lambda line=line: ("Rounds", f"{place_said(rounds, *line)}, in the rounds"),
                  "doors": lambda line=line: ("Doors", leaves[line]),
                  "clock": lambda line=line: ("Clock and plant", line if isinstance(line, str) else
                                              f"{place_said(rounds, *line[:2])} {line[2]}")}  # fmt: skip
            told.setdefault(of[form]() if form in of else (AIR, grids[form]), []).append(str(reading.value))
    for line in lines:
        remarks = told.get((line.part, line.device), ())
        yield replace(line, words="; ".join(filter(None, (line.words, *(f"remark: {one}" for one in remarks))))) if remarks else line


def _with_deficiencies(found, lines):
    """Lines with the deficiencies that name them; those that name none follow by themselves. One that was not tested again is open."""
    named, others, lines = {}, [], [*lines]
    known = {line.device.casefold(): line.device for line in lines}
    for number in range(1, MOST_DEFICIENCIES + 1):
        where, what, who, retest = (found.filled.value("deficiencies", number, column) for column in ("where", "what", "who", "retest"))
        if where or what:
            one = (f"{number}: {what or 'not described'}{f' ({who})' if who else ''}", retest or "")
            device = known.get((where or "").casefold())
            (named.setdefault(device, []) if device else others).append((where, one) if device is None else one)
    for line in lines:
        mine = named.pop(line.device, ())
        if not mine:
            yield line
            continue
        state = line.state if all(retest for _, retest in mine) else worst_of([line.state, "open"])
        told, again = "; ".join(what for what, _ in mine), "; ".join(retest or "open" for _, retest in mine)
        yield replace(line, state=state, deficiency=told, retest=again)
    for where, (what, retest) in others:
        state = "good" if retest else "open"
        yield ReportLine("Deficiencies", where or "not said where", state=state, deficiency=what, retest=retest or "open")
