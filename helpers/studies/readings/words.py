"""What the study of failed readings says to whoever enters it: the way of falling back and the alarm lines, in trade terms."""

import numpy as np

from helpers.studies.doors.exits import SHUT_EXIT
from helpers.studies.doors.stair_cooling import cooling_study
from helpers.studies.readings.alarms import late_said
from helpers.studies.readings.failures import KEEP, MIDDLE, NOTHING, OWN, SPEED
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.report import fine, finest, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit

PROVED = "the relief damper proved at every test, by hand and by pressure"
MOST_NAMED = 3  # cases named one by one
ALARM_ONLY = "alarm only"
SETTLED = "for a settled loop only"
OF_ONE = ("zero", "tube off", "stuck high")
TOLD_BY = {"limit": (*OF_ONE, "all zero"), "difference": (*OF_ONE, "disagree"), "frozen": ("frozen",)}  # kinds of failure by their alarm


def fallback_said(study):
    """What the best way is, with its figures, in a few words."""
    name, speed = study.best.name, with_unit(study.speed_hz, "frequency", 1)
    if name == OWN:
        left = "fewer are left" if len(study.site.transmitters) > 2 and not _one_left_measures(study) else "none is left"
        return f"{_set_points_said(study)}; {speed} where {left} or nobody knows which is wrong"
    if name == MIDDLE:
        left = "none is" if _one_left_measures(study) else "fewer than two are"
        return f"the middle of the readings at {_pressure(study.middle_pa)}; {speed} where {left} left"
    return f"{name}, {speed}" if name == SPEED else name


def _one_left_measures(study):
    return any(one.measures for one in study.two_lost)


def blind_said(way):
    """That a way of falling back cannot begin, and what comes first, in a sentence; "" where every dead wire is seen."""
    if not way.blind:
        return ""
    return (
        f"a dead wire of {listed(way.blind)} cannot be told from no pressure, so no fallback begins and the fan runs on by it. First a "
        "signal with a live zero: 4-20 mA, 2-10 V or 1-5 V."
    )


def against_said(study, way):
    """What speaks against a way of falling back, and what it rests on besides its doors: `out_said`, walls and a relief damper as they are
    to be, both sides of its speed, final exits that close again. In words, or ()."""
    told = [out := out_said(way)]
    sides = sides_said(study, way.worst.speed_hz if way.name == SPEED else None) if way.name in (SPEED, OWN, MIDDLE) else ""
    kept = study.at_speed(study.speed_hz).damper_rooms_pa if sides else {}
    further = any(room < kept.get(state, np.inf) - TOLERANCE_PA for state, room in way.damper_rooms_pa.items())  # than at that speed
    told += ["; ".join(_worst_said(way.dampers)) if further and way.name != SPEED else "", sides]
    if not out and way.exits is not None and way.exits.state != "good":
        told.append(way.exits.text())
    return tuple(filter(None, told))


def sides_said(study, speed_hz=None):
    """Both sides of a fallback speed (None: the study's): the speed with most of the fan that leaves no shut door too much of it, and the
    study's own, and at each by how much doors are out at the most, with what and where; "" where no door is out at the speed.

    One sentence wherever a speed is told to be entered or is refused: a slower one that jams no door may leave one short, and a faster one
    the other way round, over walls, readings and states of the relief damper. Limits: one of these at a time.
    """
    asked = study.speed_hz if speed_hz is None else speed_hz
    if asked is None or not _sides_at(study, asked):
        return ""
    speeds = sorted({study.lightest_hz, study.speed_hz, asked})
    told = [f"at {with_unit(hz, 'frequency', 1)} {_sides_at(study, hz) or 'no door is out'}" for hz in speeds]
    which = "; which one is borne the authority having jurisdiction decides" if len(speeds) > 1 else ""
    return f"{'; '.join(told)}{which}"


def stuck_said(study):
    """That none of the ways holds with a relief damper stuck, and the least bad of them, in a short sentence."""
    return f"none of the ways tried holds with the relief damper stuck; the least bad: {briefly_said(study)}"


def briefly_said(study):
    """The best way, and by how much doors are out with it at the most, in a short sentence; the whole stands once, in the record's section
    on failed readings."""
    way = study.at_speed(study.speed_hz)
    told = ", ".join(_worst_said({**way.walls, **way.dampers}, placed=False)) or "; ".join(against_said(study, study.best))
    return f"{fallback_said(study)}, with doors {told}"


def _sides_at(study, speed_hz):
    way = study.at_speed(speed_hz)
    return ", ".join((*_worst_said(way.walls), *_worst_said(way.dampers)))


def _worst_said(tried, placed=True):
    """By how much doors are out at the most, too low and too high, over what was tried ({what: two `Cell`s}), with what, and where."""
    for end, word in enumerate(("low", "high")):
        cell = min((cells[end] for cells in tried.values()), key=lambda cell: cell.rooms_pa[end], default=None)
        if cell is not None and _out(cell.rooms_pa[end]):
            where = f" ({cell.column.text}, {cell.case})" if placed else ""
            yield f"up to {fine(-cell.rooms_pa[end])} too {word} with {cell.failure}{where}"


def spare_said(study, way):
    """The room of its worst door, to spare, with what it rests on."""
    room_pa = min(way.worst.room_pa, way.box_room_pa, *(() if way.damper_out else way.damper_rooms_pa.values()))
    room, out = fine(room_pa), "that is out of its window, by less than a gauge on site tells apart" if room_pa < 0 else ""
    doubts = "; ".join(filter(None, (out, *against_said(study, way))))
    if doubts and way.damper_out and not way.rests_on_one:
        doubts += f"; no more than the readings may be off ({fine(way.accuracy_pa)}), and proved on the day"
    return f"{room} to spare at the worst door once fallen back{f'. {word_of(way.state)}: {doubts}' if doubts else ''}"


def out_said(way):
    """By how much doors are out after any failure, over every case that the design has to hold, those that no speed holds too: with the
    leaks of the file the worst door too heavy and the worst too low, each with its case; then with other leaks. "" where none is out.

    One sentence for every page, so that none leaves out what another counts.
    """
    if way.good:
        return ""
    heavy_first = dict.fromkeys(cell for cell in reversed(way.ends) if not cell.good)
    told = "; ".join(f"{cell.text()} ({cell.case_said})" for cell in heavy_first)
    box = listed(f"{fine(-room)} too {end}" for end, room in zip(("low", "high"), way.box_ends_pa, strict=True) if _out(room))
    others = f"with other leaks, and readings off, up to {box}" if box else "with other leaks, and readings off, no door is further out"
    file = f"already with the leaks of the file: {told}" if told else "with the leaks of the file every shut door is inside"
    return f"{file}; {others}"


def _out(room_pa):
    return room_pa < -TOLERANCE_PA


def left_out_said(study):
    """The cases that are not counted, in words; "" for none."""
    names = study.not_judged
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    why = "not counted, as they open more doors than the design states and no speed holds them"
    return f"{why}: {'; '.join(names[:MOST_NAMED])}{more}" if names else ""


def fallback_judged(study, beyond=""):
    """The best way with its status: one sentence for every page, so that none passes what another fails. beyond: as in `speed_judged`."""
    if study.best.blind:
        return f"{word_of(study.best.state)}: {blind_said(study.best)} With such a signal it is worked out anew"
    if study.best.good and not beyond:
        failing = _first_mend(study, study.best, fallback_said(study))
        return failing or f"{fallback_said(study)}; {spare_said(study, study.best)}"
    if study.best.good:
        return f"{word_of('wrong')}: {beyond_said(study, beyond)}"
    return f"{word_of('wrong')}: no way of falling back holds every door; {least_bad_said(study)}"


def fallback_card(study):
    """The same as short as a card has it: the status, and where no way holds how far doors are out at the least bad one, both ways."""
    if study.best.good or study.best.blind:
        return fallback_judged(study)
    which = "the authority having jurisdiction decides which end is borne"
    return f"{word_of('wrong')}: no way of falling back holds every door. Least bad: {briefly_said(study)}; {which}"


def proved(study):
    """What is done about a relief damper that sticks, as it was tried, in words."""
    none = "several small ones not tried, a door is out with it in order already"
    return f"{PROVED}; {none}" if study.several is None else f"{study.several.text()}; {PROVED}"


def rests_on(study, way, beyond=""):
    """What would help where the doors of a way hold, and yet not all is well, in words; beyond: as in `speed_judged`."""
    exits = SHUT_EXIT if beyond else "" if way.exits is None else way.exits.helps
    return "; ".join(filter(None, (exits, proved(study) if way.damper_out else "")[:: 1 if exits == SHUT_EXIT else -1]))


def _first_mend(study, way, named):
    """What mends a way whose own doors hold and that fails by what it rests on, no other doing better; "" where it does not fail."""
    least = f"until then the least bad is {named}, {word_of('wrong')} as it is"
    return f"first {rests_on(study, way)}; {least}" if way.state == "wrong" else ""


def beyond_said(study, beyond):
    """The best way where its own doors hold and something else speaks against its speed (`beyond`, in words), with both sides of it."""
    return "; ".join(filter(None, (f"{fallback_said(study)}: {beyond}", sides_said(study))))


def least_bad_said(study):
    """The best way where none holds every door, with how far doors are out; of a speed also what one speed leaves at both ends."""
    ends = f"{no_speed_said(study)}; " if study.best.name == SPEED and study.shut_ends else ""
    return f"the least bad of those tried is {fallback_said(study)}: {ends}{'; '.join(against_said(study, study.best))}"


def speed_judged(study, beyond=""):
    """The fallback speed with its status and its worst doors, in words: the one speed that any page may name for this stair.

    beyond: that it lies above the highest speed at which no shut door passes its limit, in words; "" where it does not.
    """
    way, speed = study.at_speed(study.speed_hz), with_unit(study.speed_hz, "frequency", 1)
    if way.blind:
        return fallback_judged(study, beyond)
    if way.good and not beyond:
        return _first_mend(study, way, speed) or f"{speed}, {spare_said(study, way)}"
    told = "; ".join(filter(None, (no_speed_said(study), *against_said(study, way), beyond)))
    return f"{word_of('wrong')}: no one speed is to be entered; the least bad of those tried is {speed}: {told}"


def no_speed_said(study):
    """That no speed suits every shut door with all doors shut, and what one leaves at either end; "" where one does."""
    told = []
    for cell in study.shut_ends:
        end = "low" if cell.above_pa < cell.below_pa else "high"
        speed, out = with_unit(cell.speed_hz, "frequency", 1), fine(-cell.room_pa)
        told.append((f"at {speed} {cell.column.text} is {out} too {end}", cell.case))
    cases = list(dict.fromkeys(case for _, case in told))
    if len(cases) == 1:
        return f"no speed suits every shut door: {', '.join(words for words, _ in told)} ({cases[0]})"
    return f"no speed suits every shut door: {', '.join(f'{words} ({case})' for words, case in told)}" if told else ""


def _set_points_said(study):
    alone = study.alone_pa
    if alone:
        return " or ".join(f"{name} alone at {_pressure(value)}" for name, value in alone.items())
    how = left_said(study.site.control.rule, len(study.site.transmitters) - 1)
    points = ", ".join(f"what remains without {name} at {_pressure(value)}" for name, value in study.set_points_pa.items())
    return f"{points} ({how})" if how else points


def left_said(rule, left):
    """How the readings that are left are combined: by the rule, the middle of two being their average; in words, "" for one."""
    said = {"average": "averaged", "weighted": "averaged by weight"} | ({"middle": "averaged, being two"} if left == 2 else {})
    return said.get(rule, f"the {rule} of them") if left > 1 else ""


def _pressure(value):
    return with_unit(value, "pressure")


def alarm_why(study):
    """What the alarm limits leave room for, in words; "" where there are none."""
    limits = study.alarm_limits
    if limits is None:
        return ""
    accuracy = with_unit(limits.accuracy_pa, "pressure", (2, 4))
    shown = f"{accuracy} (the readings' accuracy) wider than the readings of a settled loop with every door inside"
    told = [f"{SETTLED}: {shown}"]
    if limits.year_hours is not None:
        told.append(f"{limits.year_hours} hours of a typical year beyond the tightest")
    told.append(event_said(limits))
    return "; ".join(told)


def cooling_courses(tower):
    """`CoolingStudy` of a stair in each of its weathers, all doors shut; a tuple."""
    return tuple(cooling_study(tower, weather) for weather in tower.site.weather)


def alarms_at_start(study):
    """What the alarm limits of a settled loop do after a start, and for how long: (minute from which on the doors of no weather change any
    more, a sentence); None where no limits are laid down.

    Limits: all doors shut, the site's own loop; whether an alarm may be held off meanwhile is not for the workbook to say.
    """
    limits = study.alarm_limits
    if limits is None or not any(storey.stair_door and storey.stair_door_count for storey in study.site.storeys):
        return None
    courses = cooling_courses(study.air.tower)
    slowest = max(courses, key=lambda one: one.again_minute)
    held = [(moment, one) for one in courses for moment in one.moments if moment.held]
    fast, course = max(held, key=lambda one: one[0].speed_hz, default=(None, None))
    rings = ""
    if fast is not None and fast.speed_hz > limits.speed_hz[1]:
        rings = f"; with every reading right the fan alone rings them, {with_unit(fast.speed_hz, 'frequency')} at {fast.minute:.0f} min"
        rings += f" ({course.weather})"
    return slowest.again_minute, (
        f"{word_of('open')}: after a start doors and fan change until minute {slowest.again_minute:.0f} ({slowest.weather}){rings}. "
        "Whether an alarm is held off so long is for the designer and the authority: a door that is out is then not told."
    )


def event_said(limits):
    """How long a door event takes a reading beyond the limits, and with which tuning."""
    if limits.event_s is not None:
        whose = "the tuning to be entered, at the worst of its lags" if limits.tuned else "the loop as stated"
        whose = "; ".join(filter(None, (whose, limits.mark)))
        door = "the largest door opened and shut again, the longest of all cases with doors shut"
        said = f"a door event takes a reading beyond them for {limits.event_s:.0f} s ({door}; {whose}), and they wait"
        return "; ".join(filter(None, (said, late_said(limits.after_s))))
    if limits.tuned:
        return f"{word_of('wrong')}: after a door the loop stays outside them longer than was tried, even with the tuning to be entered"
    return "after a door stood open the loop as stated stays outside them longer than was tried: tune first, then set the delay"


def alarm_lines(study, beyond="", ceiling_hz=None):
    """(on what, limit, for how long, what it does, why) of every alarm, as texts; none where no sound loop keeps every door inside.

    beyond: as in `speed_judged`; a fallback that fails is not entered, and no alarm leads to it. ceiling_hz: the highest speed that every
    shut door bears (NaN: none does; None: not known): a highest speed is entered no higher, so an alarm above it could never ring, and one
    below a speed that it does not let the fan reach would ring all the time.
    """
    limits = study.alarm_limits
    if limits is None:
        return ()
    after, longer = (limits.wait_text(seconds) for seconds in (limits.after_s, limits.deviation_after_s))
    still = with_unit(limits.frozen_s, "time", 0)
    does = {kind: _alarm_does(study, kind, beyond) for kind in TOLD_BY}
    first, (then, why) = limits.readings[0], does["limit"]
    rows = [
        (
            *(one.name, f"below {fine(one.low_pa)} or above {fine(one.high_pa)}", after, then),
            why if one is first else f"as for {first.name}",
        )
        for one in limits.readings
    ]
    if limits.deviation_pa is not None:
        (then, why), late = does["difference"], late_said(limits.deviation_after_s, difference=True)
        why = "; ".join(filter(None, (why, limits.event_s is not None and late)))
        rows.append(("difference of any two readings", f"above {fine(limits.deviation_pa)}", longer, then, why))
    speed, none = _speed_alarm_said(study, ceiling_hz)
    why = "it proves no reading wrong: doors open beyond what the fan holds ask for that speed, too"
    rows.append(("fan speed", speed, after, ALARM_ONLY, f"{none}{why}"))
    then, why = does["frozen"]
    band = f"moves by less than {finest(limits.frozen_band_pa)}"
    rows.append(("each reading, frozen", band, still, then, f"{why}; {limits.frozen_why()}"))
    return tuple(rows)


def untold_said(study, least_pa):
    """That some readings' low limits lie below the doors' least pressure [Pa] (None: none is asked), in a sentence; "" where none does."""
    if study.alarm_limits is None or least_pa is None:
        return ""
    low = [f"{one.name} rings only below {fine(one.low_pa)}" for one in study.alarm_limits.readings if one.low_pa < least_pa]
    return f"{listed(low)}: a door at it that is low, between that and its least of {fine(least_pa)}, is not told." if low else ""


def _alarm_does(study, kind, beyond):
    """(what the drive does when an alarm of a kind comes, why), as the study of failed readings counts on it."""
    best = study.best
    if best is None or best.state == "wrong" or beyond:
        return ALARM_ONLY, f"{word_of('wrong')}: no way of falling back is to be entered; whoever hears it has to act"
    if kind != "frozen" and study.alarm_limits.event_s is None:
        return f"{ALARM_ONLY}, as long as no delay is laid down", "without one every door would send the fan to its fallback"
    if best.name == KEEP:
        return ALARM_ONLY, "before it comes the loop has driven the fan away: there is no speed left to keep"
    if best.name == MIDDLE:
        return ALARM_ONLY, "the middle of the readings outvotes one that is wrong"
    told = [failure for failure in study.failures if failure.kind in TOLD_BY[kind]]
    speed = f"fallback to {with_unit(study.speed_hz, 'frequency', 1)}"
    known = best.name == OWN and any(failure.known and failure.tap is not None for failure in told)
    ways = ["that reading left out, what remains at its own set point"] if known else []
    ways += [speed] if not known or kind == "limit" else []
    alone, fallen = (
        min((way.worst_of(failure.text) for failure in told), key=lambda cell: cell.room_pa) for way in (study.ways[NOTHING], best)
    )
    why = f"left alone, {alone.failure}: {alone.text()}; fallen back: {fallen.text()}"
    return f"alarm and {', or where all are beyond it '.join(ways)}", why + (_rung_sound_said(study) if kind == "limit" else "")


def frozen_counts_as_lost(study):
    """Whether the alarm on a frozen reading is followed as a lost reading is, and does not tell alone."""
    return not _alarm_does(study, "frozen", "")[0].startswith(ALARM_ONLY)


def moves_fan(study):
    """Whether the alarm on the difference sends the fan to the fallback speed."""
    return "fallback to " in _alarm_does(study, "difference", "")[0]


def _rung_sound_said(study):
    """That such an alarm comes with every reading right, too, and what falling back does there; "" where it does not."""
    (cases, held), air = study.alarm_limits.rung, study.air
    if not cases:
        return ""
    fallen = air.margin_at(np.full(len(air.cases), air.place_of(study.speed_hz)))[list(cases)]
    if not np.isfinite([held, fallen.min()]).all():
        return "; it comes with every reading right, too, where no door with a limit stands shut"
    worst, then = (air.cases[cases[place]].name for place in (0, int(fallen.argmin())))
    where = f"{len(cases)} of {len(air.cases)} cases, too, at worst in {worst}"
    back = f"{fine(fallen.min())} fallen back{'' if then == worst else f', in {then}'}"
    return f"; it comes with every reading right in {where}: room at the worst shut door {fine(held)} by the loop, {back}"


def always_low(study, ceiling_hz):
    """Whether the slowest sound loop runs no slower than the highest speed allowed [Hz] (NaN: none is; None: not known): an alarm on a
    speed below that of sound loops would ring as long as the fan runs."""
    low, lowest = study.alarm_limits.speed_hz[0], study.air.limits_hz[0]
    return low > lowest and ceiling_hz is not None and not low < ceiling_hz


def _speed_alarm_said(study, ceiling_hz=None):
    """(speeds [Hz] that sound loops do not run at, in words; why there is no lower or upper one where the ceiling forbids it, else "")."""
    (low, high), (lowest, highest), always = study.alarm_limits.speed_hz, study.air.limits_hz, always_low(study, ceiling_hz)
    never = high < highest and ceiling_hz is not None and not high < ceiling_hz
    slow, fast = (with_unit(speed, "frequency", 0) for speed in (low, high))
    beyond = [f"below {slow}"] * (low > lowest and not always) + [f"above {fast}"] * (high < highest and not never)
    none = ceiling_hz is None or ceiling_hz != ceiling_hz
    ceiling = "" if none else with_unit(ceiling_hz, "frequency", 1)
    most, where = ("none is", "at any speed of this drive") if none else (f"no more than {ceiling} is", f"above {ceiling}")
    why = f"no lower limit: sound loops run at {slow} or more, and {most} allowed: it would ring all the time; " * always
    heavy = f"{where} a shut door is too heavy to open: it could never ring, and the upper end stop does"
    why += f"no upper limit: sound loops run up to {fast}, and {heavy}; " * never
    return ", ".join([*beyond, "or at either end stop"]) if beyond else "at either end stop", why
