"""The section of the design record about failed, frozen and disagreeing readings: what to fall back on, and which alarms tell of it."""

import numpy as np

from helpers.record.damper import sound_finding
from helpers.record.sections.door_anywhere import anywhere_table
from helpers.record.settings.fallback_lines import ceiling_hz
from helpers.record.standing import ACTION, FAN, SET_POINT
from helpers.studies.doors.kinds import NOT_CLOSING
from helpers.studies.duty.several_dampers import rests_on_said
from helpers.studies.readings import words
from helpers.studies.readings.failures import KEPT, MIDDLE
from helpers.studies.readings.words import alarm_lines, alarm_why, beyond_said, blind_said, fallback_said, least_bad_said, left_said
from helpers.studies.report import NETWORK, PRACTICE, Finding, Section, Table, Value, figure, fine, finest, listed, range_text
from helpers.studies.status import room_status, word_of, worst_of
from helpers.units.said import with_unit

TITLE = "Failed readings"
LIVE = "a signal with a live zero: 4-20 mA, 2-10 V or 1-5 V"
LEAKS = "walls' leaks by the spread of the placement study, readings by their accuracy"
BEFORE_THAT = "The time until then is no part of this: a wrong reading is played in the sequence of operations."
NOT_KNOWN = "with two readings that differ nobody can know which is right: neither is believed"


def failure_section(design):
    """What a failed reading does, the best of the ways to fall back with its worst door, and the alarm limits."""
    try:
        study = design.fallback
    except ValueError as reason:
        told = Finding("open", "No failed reading was tried on this site", str(reason), "there is nothing to judge it by")
        missing = f"{word_of('open')}: fallback and alarms are {design.fallback_first}" if design.fallback_first else "Not for this site"
        return Section("failure", TITLE, f"{missing}: {reason}.", findings=(told,))
    if study.best is None:
        said = "In none of the cases does any speed keep every shut door inside its window: there is nothing to fall back on."
        told = Finding("wrong", said, "", "", NETWORK, "see the pressure window and the fan")
        return Section("failure", TITLE, said, tables=_anywhere(design), findings=(told,))
    tables = [_ways_table(study), _failures_table(study), _cells_table(study), _readings_table(study)]
    beyond = design.standing.fallback_against(study)
    tables += [_tried_table(study)] + ([_alarms_table(study, beyond, ceiling_hz(design.duty.full))] if study.alarm_limits else [])
    tables += [_beside_table(study)] if study.beside else []
    tables += [_two_lost_table(study)] if study.two_lost else []
    tables += _anywhere(design, study.alarm_limits)
    said = design.standing.what_if(_verdict(study, beyond), SET_POINT, ACTION, FAN)
    missing = design.standing.first(SET_POINT, ACTION, FAN) or design.fallback_first
    return Section(
        "failure", TITLE, said, tuple(_figures(study)), tuple(tables), tuple(_findings(study, beyond)),
        notes=tuple(_notes(study, missing)),
    )  # fmt: skip


def _anywhere(design, limits=None):
    return tuple(filter(None, [anywhere_table(design, limits)]))


def _verdict(study, beyond):
    best = study.best
    if best.blind:
        return f"{word_of(best.state)}: {blind_said(best)} Were every dead wire seen: {_held_said(study, beyond)}"
    return _held_said(study, beyond)


def _held_said(study, beyond):
    """What the best way does once it has begun; beyond: what speaks against its speed all the same, see `Standing.fallback_against`."""
    best = study.best
    if best.good and beyond:
        return f"{word_of('wrong')}: none of the ways tried is to be entered; {beyond_said(study, beyond)}."
    if best.good:
        said, spare = fallback_said(study), words.spare_said(study, best)
        fails = f"{word_of('wrong')}, do not enter: {words.stuck_said(study)}. " * (best.state == "wrong")
        inside = "Fallen back, with a sound damper no shut door" if fails else f"On a failed reading: {said}. Fallen back, no shut door"
        return f"{fails}{inside} is out of its window after any failure tried, {spare}{_left_out_cases(study)}. {BEFORE_THAT}"
    what = "No way of falling back keeps every shut door inside after every failure"
    return f"{what}; {least_bad_said(study)}{_left_out_cases(study)}."


def _left_out_cases(study):
    """The cases that are not counted, as the end of a sentence; "" for none."""
    told = words.left_out_said(study)
    return f"; {told}" if told else ""


OTHER_DAMPER = "Relief damper at its worst: early, late or stuck"


def _room_said(room_pa):
    return f"{fine(abs(room_pa))} {'out' if room_pa < 0 else 'to spare'}" if np.isfinite(room_pa) else "no limit"


def _figures(study):
    why = f"found by the {int(study.holdable.sum())} cases of {len(study.holdable)} that a speed can hold, where it has the most room"
    yield figure("Agreed fallback speed", study.speed_hz, "frequency", why, NETWORK, 1)
    yield Value(
        "Speeds that keep every shut door inside",
        None,
        _speeds_said(study.speeds_hz),
        "all weathers, doors and stair temperatures that count",
        NETWORK,
    )
    if study.unheld:
        only = _speeds_said(study.speeds_in(study.holdable))
        yield Value("The same where a speed can", None, only, f"left out: {len(study.unheld)} cases that no speed holds", NETWORK)
    for weather, ends in study.speeds_by_weather_hz.items():
        yield Value(f"The same, {weather}", None, _speeds_said(ends), "where one speed does not suit all", NETWORK)
    for name, value in (study.alone_pa or study.set_points_pa).items():
        words = f"Set point of {name} alone" if study.alone_pa else f"Set point of what remains without {name}"
        how = "" if study.alone_pa else left_said(study.site.control.rule, len(study.site.transmitters) - 1)
        why = "; ".join(filter(None, (how, "found as the speed is, readings off as well; not that of all together")))
        yield figure(words, value, "pressure", why, NETWORK)
    if study.middle_pa is not None:
        three = "of three" if len(study.site.transmitters) > 2 else f"with {study.air.taps[-1].name} at storey {study.air.taps[-1].level}"
        yield figure(f"Set point of the middle {three}", study.middle_pa, "pressure", "most room at the worst door", NETWORK)
    for name, room in study.one_lost_pa.items():
        why = "leaks as they may be, readings off; below zero: out; where it holds the fallback speed is for when fewer are left"
        yield figure(
            f"Room at the worst door with one reading of {len(study.site.transmitters)} lost: {name}",
            room,
            "pressure",
            why,
            NETWORK,
        )
    if study.on_the_day_room_pa is not None:
        why = "below zero: out; in another weather or with doors open, leaks as they may be"
        label = "Room at the worst door, were it set on one day by the combined reading instead"
        yield figure(label, study.on_the_day_room_pa, "pressure", why, NETWORK)
    why = "below zero: out; what falling back is to be measured by"
    yield figure("Room at the worst door with every reading sound, the same leaks", study.sound_room_pa, "pressure", why, NETWORK)
    reached = "ramp from either end of the speeds, and delay; a wheel that coasts without a brake may take longer"
    yield figure("Fallback speed reached within", study.reached_after_s, "time", reached, "arithmetic of the ramp")
    limits = study.alarm_limits
    if limits is not None and limits.deviation_pa is not None:
        least, most = (fine(value) for value in limits.difference_pa)
        why = f"sound readings differ by {least} to {most}, last less first: weather, doors, stair temperature, accuracy and A/D converter"
        yield figure("Difference of two readings, alarm", limits.deviation_pa, "pressure", why, NETWORK)
        yield figure(
            "Time for the difference",
            None if limits.event_s is None else limits.deviation_after_s,
            "time",
            "ramp and lag, and a person in a door beside a transmitter",
            PRACTICE,
        )


def _speeds_said(ends):
    return "none" if ends is None else range_text(*ends, "frequency")


def _findings(study, beyond):
    yield _way_finding(study, beyond)
    yield from sound_finding(study)
    if not beyond and study.best.state != "wrong" and (study.alarm_limits is None or study.alarm_limits.event_s is None):
        what = "No alarm limits are laid down" if study.alarm_limits is None else "No delay of the alarms is laid down"
        why = "a sound loop that keeps every door inside, and comes back after a door, comes first"
        yield Finding("wrong", what, alarm_why(study), why, NETWORK, "see tuning, set point and fan")
    silent = None if study.alarm_limits is None else study.alarm_limits.silent
    if silent is not None:
        yield Finding(
            silent.state, "No alarm limits both ring whenever a door is out and stay silent on every sound loop", silent.judged(),
            "so far a reading may be off before it differs from a sound one", NETWORK,
            "readings against a gauge at every test; better transmitters, or one more", possible=True,
        )  # fmt: skip
    worst = min((one for one in study.beside), key=lambda one: one.believed.room_pa, default=None)
    if worst is not None and not worst.believed.good:
        apart = fine(worst.apart_pa)
        remedy = "no remedy tried helps: with that reading left out for a time a door is out as well"
        if all(one.left_out is not None and one.left_out.good for one in study.beside if not one.believed.good):
            remedy = "leave a reading beside an open door out for a time"
        yield Finding(
            "wrong", "A stair door open beside a transmitter puts another door out", f"{worst.case}: {worst.believed.text()}",
            f"the readings are {apart} apart then; that one left out for a time: {_left_out(worst)}", NETWORK,
            remedy,
        )  # fmt: skip
    two = min(study.two_lost, key=lambda one: one.chosen.room_pa, default=None)
    if two is not None and (two.state == "wrong" or two.measures):
        what, why = _two_lost_said(study, two)
        figure = f"{listed(two.lost)} lost, {two.does(study.speed_hz)}: {two.worst_said()}"
        yield Finding(two.state, what, figure, why, NETWORK, "repair the first at once; see the fallback", possible=True)
    if len(study.site.transmitters) == 1:
        what = "One reading alone: with it lost nothing measures the stair"
        yield Finding("attention", what, "", "nothing remains to be held", NETWORK, "a second transmitter, better a third", possible=True)


def _two_lost_said(study, two):
    """What a pair of readings lost leaves, and why; a door that its own worst case leaves room is not said to be out."""
    if not two.chosen.good:
        return "With two readings lost a door is out", "neither what is left nor the fallback speed holds every door"
    if two.state == "wrong":
        return "With two readings lost the fallback speed fails", "; ".join(words.against_said(study, two.at_speed))
    why = "the fallback speed puts a door out; nobody can know whether the one left is right"
    return "With two readings lost one reading alone holds the stair", why


def _way_finding(study, beyond):
    best, cell = study.best, study.best.worst
    if best.blind:
        what = "No fallback begins: a dead wire cannot be told from no pressure"
        return Finding(best.state, what, _verdict(study, beyond), LEAKS, NETWORK, LIVE, possible=True)
    if best.good:
        what = (
            f"Once begun, {best.name} keeps every shut door inside after every failure tried"
            f"{', in the cases that count' if study.not_judged else ''}"
        )
        if best.exits is not None and best.exits.state == "wrong":
            what = f"After a failed reading a final exit {NOT_CLOSING}, and the stair then has too little"
        elif beyond:
            what = "After a failed reading the fan goes to a speed that may not last"
        elif best.state == "wrong":
            what = f"After a failed reading the doors rest on {rests_on_said(*study.site.stair.reliefs)}"
        severity = worst_of((best.state, "attention" if study.not_judged else "good", "wrong" if beyond else "good"))
        remedy = "" if severity == "good" else words.rests_on(study, best, beyond)
        brief = best.state == "wrong" and not beyond
        figure = f"{words.stuck_said(study)}; the whole stands in the section" if brief else _verdict(study, beyond)
        return Finding(severity, what, figure, LEAKS, NETWORK, remedy, possible=severity == "wrong")
    what = "After a failed reading no way of falling back keeps every shut door inside in all cases"
    if cell.good:
        what = f"After a failed reading {best.name} holds every shut door with the leaks of the file, and not with others"
    return Finding("wrong", what, least_bad_said(study), LEAKS, NETWORK, _remedy(study), possible=True)


def _remedy(study):
    suited = {weather: ends for weather, ends in study.speeds_by_weather_hz.items() if ends is not None}
    if study.speeds_hz is None and len(suited) > 1:
        each = "; ".join(f"{weather} {_speeds_said(ends)}" for weather, ends in suited.items())
        return f"a fallback speed for each weather ({each}); no other remedy tried"
    no_speed = f"; in {len(study.unheld)} cases no speed helps: first doors, fan or sections" if study.unheld else ""
    return f"leaks measured on a test day put into the site file; no other remedy tried{no_speed}"


def _notes(study, missing):
    """missing: why no way of falling back is laid down, in words; "" where one is."""
    leads = f"what follows from them is {missing}" if missing else "lead to the fallback speed"
    lost = f"what the fan then does is {missing}" if missing else "the fan goes to the fallback speed"
    spread, off = " and ".join(f"{air.leak_factor:.2f}" for air in study.box), fine(study.accuracy_pa)
    yield (
        f"Tried: {len(study.failures)} failures in {int(study.judged.sum())} cases of weather, doors and stair temperature; besides, walls "
        f"that leak {spread} times as much as their table says, and readings off by {off} either way. Steady states; one failure at a time."
    )
    if study.unheld:
        yield f"In these cases no speed keeps every shut door inside, and each counts as out: {'; '.join(study.unheld)}."
    if study.not_judged:
        yield f"Not counted, as they open more doors than the design states and no speed holds them: {'; '.join(study.not_judged)}."
    if len(study.site.transmitters) == 2:
        yield (
            f"{NOT_KNOWN.capitalize()}. A lost one (wire off, signal with a live zero) and one that stands still are known; zero, tube off "
            f"and stuck high show only as a difference or a limit passed{'; ' if missing else ', and '}{leads}."
        )
    if study.alarm_limits is not None:
        band, time = finest(study.alarm_limits.frozen_band_pa), f"{study.alarm_limits.frozen_s:g} s"
        counts = "counts as failed" if not missing and words.frozen_counts_as_lost(study) else "is told as frozen, an alarm alone"
        yield (
            f"Frozen: a live reading is never quite still. One that moves by less than {band} (two steps of the A/D converter) for {time} "
            f"{counts}: a sound one does that less than once in a million times if its noise is one step or more. Look at the "
            "noise on site; where a reading is calmer, only a change of speed shows it frozen."
        )
    yield (
        f"All lost: {lost}; the controller tells it, and the fan does not stop. A fan that starts with a reading already lost has no last "
        f"speed to keep. Prove {'the alarm of ' * bool(missing)}each with the wire off."
    )


def _ways_table(study):
    damped = any(way.dampers for way in study.ways.values())
    stuck = [OTHER_DAMPER] * damped
    columns = (
        "On a failed reading",
        "Worst door, leaks of the file, damper in order",
        "After",
        "In",
        "Leaks and readings off",
        *stuck,
        "Cells with a door out",
    )
    rows, states = [], []
    for way in study.ways.values():
        worst, rooms = way.worst, (_room_said(way.box_room_pa), *[_damper_said(way)] * damped)
        rows.append((_way_name(study, way.name), worst.text(), worst.failure, worst.case, *rooms, f"{way.out} of {len(way.cells)}"))
        states.append(way.state)
    note = f"A cell is a failure in a case. {KEPT.capitalize()} is what leaving a failed reading out does when nothing else is set."
    alike = [way.name for way in study.offered if way is not study.best and way.as_good_as(study.best)]
    if alike:
        note += f" No gauge tells {listed(alike)} from {study.best.name}: of equals the first of this table is taken."
    return Table("ways", "Ways of falling back", columns, tuple(rows), tuple(states), note)


def _damper_said(way):
    """The room of a way's worst door with the relief damper in the worst of its other states, and which state that is."""
    if not way.dampers:
        return "not tried"
    state, room = min(way.damper_rooms_pa.items(), key=lambda one: one[1])
    return f"{_room_said(room)}, {state}"


def _way_name(study, name):
    if name == MIDDLE and len(study.site.transmitters) == 2:
        third = study.air.taps[-1]
        return f"{name}, were there {third.name} at storey {third.level}"
    return name


def _failures_table(study):
    columns = ("Failure", *(_way_name(study, name) for name in study.ways))
    rows, states = [], []
    for failure in study.failures:
        cells = [way.worst_of(failure.text) for way in study.ways.values()]
        rows.append((failure.text, *(_short(cell) for cell in cells)))
        best = study.best.worst_of(failure.text)
        states.append(study.best.cell_state(best))
    return Table("failures", "The worst door of each failure", columns, tuple(rows), tuple(states), f"Judged by {study.best.name}.")


def _short(cell):
    force = "" if cell.force_n is None else f", {with_unit(cell.force_n, 'force')}"
    end = "" if cell.good else f", {fine(-cell.room_pa)} {'too low' if cell.above_pa < cell.below_pa else 'too high'}"
    return f"{cell.column.text.removeprefix('stair door ')}: {fine(cell.dp_pa)}{force}{end}"


def _cells_table(study):
    """Every case of the best way: its worst failure."""
    best = study.best
    columns = ("Case", "Worst failure", "Worst door", "Pressure", "At the handle", "Above its least", "Below its most", "Speed")
    rows, states = [], []
    for case in dict.fromkeys(case for _, case in best.every):
        cell = best.worst_in(case)
        force = "" if cell.force_n is None else with_unit(cell.force_n, "force")
        ends = [fine(room) if np.isfinite(room) else "no limit" for room in (cell.above_pa, cell.below_pa)]
        speed = with_unit(cell.speed_hz, "frequency", 1)
        name = case if cell.holdable else f"{case} ({'no speed holds it' if cell.judged else 'no speed holds it; not counted'})"
        rows.append((name, cell.failure, cell.column.text, fine(cell.dp_pa), force, *ends, speed))
        states.append(best.cell_state(cell))
    return Table("cells", f"Case by case: {best.name}", columns, tuple(rows), tuple(states))


def _tried_table(study):
    """What the best way leaves with other walls, readings off and every state of the relief damper, and the sound loop beside it."""
    columns = ("Tried with", "Door nearest to too low", "Door nearest to too high", "The worst with every reading sound")
    rows, states = [], []
    for what, ends in (study.best.walls | study.best.dampers).items():
        rooms = [cell.rooms_pa[end] for end, cell in enumerate(ends)]
        told = (f"{fine(one.dp_pa)}, {_room_said(room)}: {one.column.text}, {one.case}" for one, room in zip(ends, rooms, strict=True))
        rows.append((what, *told, _room_said(study.sound_rooms_pa[what])))
        doubt = study.best.accuracy_pa if what in study.best.dampers else study.tolerance_pa  # as the way itself is judged
        states.append(room_status(min(rooms), doubt))
    note = "Over every failure and case that counts. What is out with every reading sound as well no way of falling back mends."
    return Table("tried with", f"What it rests on: {study.best.name}", columns, tuple(rows), tuple(states), note)


def _readings_table(study):
    """What the transmitters read at the fallback speed, to set it by on the day."""
    names = [tap.name for tap in study.site.transmitters]
    rows = [
        (case.name, *(fine(value) for value in study.readings_at_speed_pa(case)))
        for case, judged in zip(study.air.cases, study.judged, strict=True)
        if case.shut and judged
    ]
    speed = with_unit(study.speed_hz, "frequency", 1)
    note = "Read them on the day of the test. Where they differ by more than the accuracy the building leaks otherwise: work it out anew."
    return Table("fallback readings", f"Readings to expect at {speed}, doors shut", ("Case", *names), tuple(rows), note=note)


def _alarms_table(study, beyond, ceiling):
    silent = study.alarm_limits.silent
    told = (
        "no door tried is out while all of them are silent"
        if silent is None
        else f"{word_of(silent.state)}: silent all the same: {silent.judged()}"
    )
    why, start = alarm_why(study), words.alarms_at_start(study)
    note = " ".join(filter(None, (f"{why[0].upper()}{why[1:]}.", start and start[1], f"{told[0].upper()}{told[1:]}.")))
    ends = study.air.window.least_pa, study.air.window.most_pa
    combined = study.silence_of_combined(*ends)
    if combined is not None:
        note += f" An alarm on the combined reading alone, at the doors' own limits, would be silent with {combined.text()}."
    return Table("alarm limits", "Alarm limits", ("On", "Limit", "For", "Response", "Why"), alarm_lines(study, beyond, ceiling), note=note)


def _two_lost_table(study):
    """What is left where two of three readings or more are lost."""
    columns = ("Lost", "Left", "Alone at", "Worst door with what is left", "Worst door at the fallback speed", "The drive")
    rows = [
        (listed(one.lost), listed(one.left), with_unit(one.set_point_pa, "pressure"), one.worst.text(), one.worst_at_speed.text(),
         one.does(study.speed_hz))
        for one in study.two_lost
    ]  # fmt: skip
    note = (
        "Over walls that leak more and less and readings off by their accuracy, in every case that counts. The speed goes first where it "
        "holds: one reading that is left has no other to be held against. Two that are wrong alike outvote the third: no drive can know it."
    )
    return Table("two lost", "Two readings lost", columns, tuple(rows), tuple(one.state for one in study.two_lost), note)


def _beside_table(study):
    columns = ("Case", "Beside", "Readings apart", "Believed: worst other door", "Left out for a time: worst other door")
    rows = [(one.case, one.tap, fine(one.apart_pa), _short(one.believed), _left_out(one)) for one in study.beside]
    states = tuple("good" if all(cell.good for cell in (one.believed, one.left_out) if cell) else "wrong" for one in study.beside)
    note = "A reading beside an open door tells of that door, not of the stair; under the lowest or the average it runs the fan up."
    return Table("beside", "A stair door open beside a transmitter", columns, tuple(rows), states, note)


def _left_out(one):
    return "no other reading" if one.left_out is None else _short(one.left_out)
