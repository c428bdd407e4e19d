"""What was read in the rounds of a day, each judged by the limit of its own step: doors that stay shut by the windows of the acceptance
sheet, the fan by the speed that the sheet printed and by its drive, the relief damper's storey by the pressure that lifts its blade, the
weather by how far it may be from the one that the sheets were made for."""

import re
from math import copysign, isnan
from statistics import median

from helpers import units
from helpers.studies.commissioning.crew.blanks import place_said
from helpers.studies.commissioning.crew.lines import IN_ROUNDS, TUBES, ReportLine
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, DOORS, MANUAL, OFF, OVER, SHUT
from helpers.studies.commissioning.crew.times import to_come
from helpers.studies.commissioning.fields import OF_THE_DAY, Day, DoorMeasured, as_read
from helpers.studies.commissioning.judgement import in_a_round, judged
from helpers.studies.commissioning.steps.frame import MOST_WIND_M_S, OFF_C, OFF_WIND_M_S, WEATHER
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.measured.doubts.mistyped import HARDLY, PLAIN, SURELY_OFF, as_typed, slip_of_point
from helpers.studies.measured.drawn import GAUGES
from helpers.studies.report import limit_text, listed
from helpers.studies.status import SEVERITIES, word_of, worst_of
from helpers.units.said import with_unit, written_out

PRINTED_HZ = 0.05  # what a speed that is printed to a tenth leaves of rounding
SAME_C = 0.05  # the same of a temperature, and of a wind
LOW_SHARE = 0.5  # of the slowest speed printed, below which somebody is asked; ours
FLOW_SHARE = 0.15  # by which a traverse may read more than the end of the fan's curve before it is doubted; ours
FEW = 2  # other readings of a kind in a round from which on what they have in common counts
TURNED = 2.0  # errors of a gauge from zero on either side, from which on a sign is another one; ours
PLAIN_PA = 1.0  # expected of a place, from which a pressure below FINEST_PA is no small reading of a fine gauge; ours
FINEST_PA = 0.05  # a pressure is written to a tenth of a pascal, and an inch of water column to a hundredth; ours
# What a nameplate says beside what was designed: every figure on it that has the unit of one in the design must be one of these.
DIMENSIONS = ("pressure", "flow", "frequency", "power")
SAME_SHARE = 0.03  # by which a plate's figure may differ, of the design's: what rounding and another system of units leave; ours
_FIGURE = re.compile(
    r"(?<![\w.,])[-−]?\d+(?:\.\d+)?\s?(?:in\.\s?w\.c\.|in[Hh]2[Oo]|m[³3]/s|m³/h|l/s|L/s|cfm|kW|W|hp|hPa|kPa|Pa|Hz)(?![\w/])"
)
CURRENT_ON = "write it on the sheet Devices, line motor, with its unit, such as 11.2 A"
NO_PLATE = f"motor current: not judged, the site file has no place for a nameplate current: {CURRENT_ON}"
_AMPERES = re.compile(r"(?<![\w.,])(\d+(?:\.\d+)?(?:\s?/\s?\d+(?:\.\d+)?)*)\s?A(?!\w)")
NOT_ASKED = ("stair_middle_c", "wind_from_deg")  # of the weather, without which its step can be done


def weather_line(found):
    """The weather found against the one that the sheets were made for, as printed on them."""
    told, far, left, unknown = [], [], [], []
    for name, (label, dimension) in OF_THE_DAY.items():
        value, printed = found.filled.value("day", name, "found"), found.filled.printed.get(("day", name, "made for"), ())
        if value is None:
            left += [] if name in NOT_ASKED else [label]
            continue
        told.append(f"{label} {as_read(value, dimension)}")
        may = {"temperature": OFF_C, "wind speed": OFF_WIND_M_S}.get(dimension)
        if may is None:
            continue
        unknown += [] if printed else [label]
        far += [f"{label} {as_read(value, dimension)}, the sheets were made for {as_read(one, dimension)}"
                for one in printed if abs(value - one) > may + SAME_C]  # fmt: skip
        if name == "wind_speed_m_s" and value > MOST_WIND_M_S:
            far.append(f"wind {as_read(value, dimension)}, above {with_unit(MOST_WIND_M_S, dimension)} the readings wander: another day")
    said = [
        *far,
        *(["the speeds and figures of the sheets were another weather's; this report's are worked out for the one found"] * bool(far)),
    ]
    said += [f"still to fill in: {', '.join(left)}"] if left else []
    said += [*_judged_by(found.procedure.rounds)] * bool(left)
    said += [f"not on the sheets what they were made for: {', '.join(unknown)}"] if unknown else []
    limit = f"by 2 °C (4 °F) or {with_unit(OFF_WIND_M_S, 'wind speed')}; wind {with_unit(MOST_WIND_M_S, 'wind speed')} at the most"
    doubts = [*Day(**{name: found.filled.value("day", name, "found") for name in OF_THE_DAY}).doubts(found.procedure.rounds.site)]
    said += [f"ask before anything is done with it: {one}" for one in doubts]
    coming = to_come(found.filled)
    said, doubts = ([coming, *said], [coming, *doubts]) if coming else (said, doubts)
    state = "wrong" if far else "attention" if doubts else "open" if left or unknown else "good"
    return ReportLine("Weather", WEATHER, measured="; ".join(told), limit=limit, state=state, words="; ".join(said), left=bool(left),
                      past=far[0] if far else "")  # fmt: skip


def no_pass(found):
    """{label of a round: why nothing read in it is a PASS, in words}: it is NOT RUN, or the fan was read above the ceiling."""
    rounds, why = found.procedure.rounds, {}
    for step in found.procedure.steps:
        why |= dict.fromkeys(step.judged, f"{NOT_RUN}, see its step") if step.against else {}
    for one in rounds.rounds:
        speed = found.filled.value("fan", "speed", one.label)
        if speed is not None and rounds.ceiling.passed_by(speed):
            why[one.label] = f"read at {with_unit(speed, 'frequency', 1)}, above the day's ceiling"
    return {one.label: why[one.label] for one in rounds.rounds if one.label in why}


def held_down(why, state, words):
    """(status, words) of what was read where nothing is a PASS: NOT YET at the best, past a limit still FAIL; why: of `no_pass`, None for
    what is run as it must."""
    if why is None or not state:
        return state, words
    return worst_of((state, "open")), "; ".join(filter(None, (words, f"{why}: {word_of('open')} at the best")))


def round_lines(found):
    """(lines, {label of a round: gravest status of what was read in it})."""
    rounds, by_round, lines, why = found.procedure.rounds, {}, [], no_pass(found)
    rows = {(row.use, row.level): row for row in rounds.sheet.rows}
    for place in rounds.read:
        asked = [one for one in rounds.rounds if not one.stands_open(*place)]
        told, said, states, left, past = [], [], [], [], []
        for one in asked:
            value = found.filled.value("pressures", place, one.label)
            if value is None:
                left.append(one.label)
                by_round.setdefault(one.label, []).append("open")
                continue
            told.append(f"{with_unit(value, 'pressure', (1, 3))} ({one.label})")
            state, words = _judged(rounds, one, place, rows.get(place), value, _tried(found, place, rows.get(place)))
            slip, told_of_it = slip_in_a_round(rounds, found.filled, one, place)
            past += [f"{one.label}: {of}" for key, of in ((slip, told_of_it), (state, words)) if key == "wrong"]
            state, words = held_down(why.get(one.label), worst_of((state, slip)), "; ".join(filter(None, (told_of_it, words))))
            states, said = [*states, state], [*said, *([(state, f"{one.label}: {words}")] if words else [])]
            by_round.setdefault(one.label, []).append(state)
        said += [("open", f"still to read: {listed(left)}")] if left else []
        state = worst_of([*states, *(["open"] * bool(left))])
        lines.append(ReportLine("Rounds", f"{place_said(rounds, *place)}, in the rounds", measured="; ".join(told), state=state,
                                limit=_limit(rounds, place, rows.get(place)), words=gravest_first(said), left=bool(left),
                                past=past[0] if past else ""))  # fmt: skip
    fan, states = _fan(found, why)
    for label, state in states.items():
        by_round.setdefault(label, []).append(state)
    return [*lines, fan], {label: worst_of(some) for label, some in by_round.items()}


def gravest_first(said):
    """(status, words) of one line as its words: what is past a limit before what is still to read, or nobody sees why it is FAIL."""
    return "; ".join(words for _, words in sorted(said, key=lambda one: [*SEVERITIES, ""].index(one[0])) if words)


def _judged(rounds, one, place, row, value, tried_pa):
    """(state, words) of one reading of a round; with the fan off nothing is asked."""
    quantity, level = place
    if one.mode == OFF:
        return "good", ""
    if quantity not in DOORS:
        lifts = rounds.lifts_from_pa.get(level)
        lifted = one.mode == MANUAL and lifts is not None and "stair over" in quantity and value > lifts
        words = "{} at the relief damper's storey, above {} its blade may have moved: a lower speed, and the round again"
        return ("wrong", words.format(*(with_unit(end, "pressure", (1, 3)) for end in (value, lifts)))) if lifted else ("good", "")
    if one.label == SHUT:  # what its closer does then is tried at the leaf and judged with it
        told = [(state, words) for state, words in judged(rounds.sheet, row, DoorMeasured(shut_pa=value), True) if state == "wrong"]
        return (worst_of(state for state, _ in told), "; ".join(words for _, words in told)) if told else ("good", "")
    state, words = in_a_round(rounds.sheet, row, value, one.mode == AUTOMATIC, bool(one.open_exits), tried_pa)
    if one.mode == MANUAL and quantity == "final exit" and state == "wrong" and rounds.steady.watched:
        return "attention", f"{words}; it was to be watched, as the step says"
    return state, words


def slip_in_a_round(rounds, filled, one, place):
    """(state, words) of a reading with the fan on that has the wrong sign or can hardly be, or of any that is finer than a gauge shows
    where a plain pressure is expected; ("good", "") where nothing speaks against it.

    A shut stair door that must be above zero and is below is FAIL, within a gauge's error CHECK: smoke goes into the stair, or the tubes
    are crossed. With all doors shut besides CHECK for another sign than expected, and for a size many times, or a small part of, what is
    expected of the place times what the other readings of its kind in the round come to of theirs: a tight building is no slip. Limits: a
    size is not judged where fewer than FEW others of its kind were read, nor with doors open, where leaks move a pressure most; nor the
    sign of a floor over outdoors, which the outer walls may turn round (seen on a drawn building); nor a pressure over outdoors where no
    more is expected of it than with the fan off: there the stack decides, and a slow fan that leaks into floors turns it round (seen too).
    """
    value, (quantity, _) = filled.value("pressures", place, one.label), place
    if value is not None and 0 < abs(value) < FINEST_PA and abs(one.expected_pa[place]) > PLAIN_PA:
        cell = filled.readings["pressures", place, one.label].cell
        return "attention", f"{as_typed(value)} (cell {cell}) is finer than a gauge shows: in. w.c. typed as Pa? Read it again"
    if value is None or one.mode == OFF:
        return "good", ""
    error, expected = filled.value("day", "pressure_pa", "found") or GAUGES["pressure_pa"], one.expected_pa[place]
    cell = filled.readings["pressures", place, one.label].cell
    shown = f"{as_typed(value) if abs(value) < 1 else with_unit(value, 'pressure', (1, 3))} (cell {cell})"
    if quantity == "stair door" and value < 0:
        state = "wrong" if value < -error and expected > 0 else "attention"
        return state, f"{shown} is below 0 with the fan on, smoke goes into the stair; or {TUBES}"
    if _of_another_weather(rounds):
        return "good", ""
    if one.open_doors or one.open_exits or (quantity in OVER and abs(expected) <= abs(rounds.rounds[0].expected_pa[place])):
        return "good", ""
    turned = value * expected < 0 and min(abs(value), abs(expected)) > TURNED * error
    if turned and quantity != OVER[0] and abs(value - expected) > SURELY_OFF * error:
        return "attention", f"{shown} has the other sign than {with_unit(expected, 'pressure', (1, 3))} to be expected: {TUBES}"
    usual = _usual_pa(rounds, filled, one, place, SURELY_OFF * error)
    if (
        usual is not None
        and abs(value - usual) > SURELY_OFF * error
        and (said := slip_of_point(value, copysign(max(abs(usual), SURELY_OFF * error), usual), pressure=True))
    ):
        return "attention", f"{shown} can hardly be, {said}; some {with_unit(usual, 'pressure', (1, 3))} is to be expected; read it again"
    return "good", ""


def _judged_by(rounds):
    """Of which weather the limits and figures are, where not all of the day's was read, a sentence each."""
    made = [f"{OF_THE_DAY[name][0]} {as_read(value, OF_THE_DAY[name][1])}" for name, value in rounds.assumed]
    if made:
        yield f"for want of it the report judges by what the sheets were made for: {', '.join(made)}"
    elif not rounds.sheet.day.typed:
        yield f"for want of it the report judges by {rounds.sheet.weather} of the site file"
    if _of_another_weather(rounds):
        yield "until the weather is all there no reading is asked for its sign or size"


def _of_another_weather(rounds):
    """Whether what is expected is of another weather than the one found, or of another wind: then no reading is held to it."""
    return bool(rounds.assumed) or not rounds.sheet.day.typed or rounds.sheet.day.wind_speed_m_s is None


def _usual_pa(rounds, filled, one, place, least_pa):
    """What is to be expected at a place [Pa], by the sheet and by what the rest of its kind (of a final exit, the stair over outdoors) come
    to of theirs in the round; None where fewer than FEW were read of which so much was expected, or these are as far off themselves."""
    kind = OVER[1] if place[0] == "final exit" else place[0]  # both are over outdoors: no looser floor parts them
    alike = [other for other in rounds.read if other != place and other[0] == kind and abs(one.expected_pa.get(other, 0.0)) > least_pa]
    read = {other: filled.value("pressures", other, one.label) for other in alike}
    ratios = [abs(value / one.expected_pa[other]) for other, value in read.items() if value]
    ratios = [ratio for ratio in ratios if 1 / PLAIN < ratio < PLAIN]  # what is in another unit is no measure of the others
    if len(ratios) < FEW or not 1 / HARDLY < (share := median(ratios)) < HARDLY:
        return None
    return one.expected_pa[place] * share


def hardly_so(rounds, filled, told_already=()):
    """A sentence about every round of steady speed, or with the fan off, with a reading of the wrong sign, or that can hardly be: all are
    in the day's file as they were read. told_already: (label of a round, place) of readings whose column is named as in another unit."""
    for one in rounds.rounds:
        told = []
        for place in rounds.read if one.mode in (OFF, MANUAL) else ():
            if (one.label, place) not in told_already and (words := slip_in_a_round(rounds, filled, one, place)[1]):
                reading = filled.readings["pressures", place, one.label]
                told.append(f"{one.label}, {place_said(rounds, *place)}: {words}, in {reading.file}")
        if told:
            more = f"; and {len(told) - 1} more readings of this round, in the report" if len(told) > 1 else ""
            yield f"in the day's file as it was read: {told[0]}{more}"


def _tried(found, place, row):
    """Pressure at which the leaf of a place was seen to shut and latch, None where it was not, or where it has several leaves."""
    if row is None or found.filled.value("doors", (row.key, 1), "shuts") != "yes" or found.filled.value("doors", (row.key, 2), "shuts"):
        return None
    same = found.filled.value("doors", (row.key, 1), "same_pa")
    return found.filled.value("pressures", place, SHUT) if same is None else same


def _limit(rounds, place, row):
    if row is not None:
        least, most = rounds.sheet.ends(row)
        surely = row.shuts_to_pa
        ends = (("loop holds: min.", least, "least"), ("max.", most, "most"), ("its closer surely shuts it up to", surely, "most"))
        return "; ".join(f"{word} {limit if isinstance(limit, str) else limit_text(limit, 'pressure', end)}" for word, limit, end in ends
                         if limit is not None)  # fmt: skip
    quantity, level = place
    if quantity != "stair over outdoors" or level not in rounds.lifts_from_pa:
        return ""
    return f"steady speeds: {with_unit(rounds.lifts_from_pa[level], 'pressure')} at the most, blade shut"


def _end_m3_s(fan, speed_hz):
    """The flow [m3/s] at which the fan's curve ends at a speed [Hz]: by the fan laws in proportion to the speed, both of its data."""
    return fan.flows_m3_s[-1] * speed_hz / fan.reference_speed_hz


def amperes(text):
    """Every current of a text, such as '4.1/4.0/4.2 A', in amperes.

    >>> amperes("maker, 5.5 kW, 19.1/11.0 A"), amperes("11,0 A"), amperes(None)
    ((19.1, 11.0), (), ())
    """
    return tuple(float(one) for match in _AMPERES.finditer(text or "") for one in match[1].split("/"))


def current_judged(text, plate):
    """(status, words) of a motor current as written, against the one on the motor's nameplate; both texts, None where nothing stands.

    The largest of the phases counts. A plate with two currents is of two connections of the winding: beyond the larger is wrong, between
    them somebody has to ask. Limits: a service factor on the plate gives nothing.
    """
    if text is None:
        return "good", ""
    measured, bears = amperes(text), amperes(plate)
    if not measured:
        return "attention", f"motor current {text!r:.40} has no figure with the unit A, and a point for a comma: not judged"
    if not bears:
        return "open", NO_PLATE
    most, said = max(measured), " or ".join(f"{one:g} A" for one in bears)
    if most > max(bears):
        return "wrong", f"motor current {most:g} A, its nameplate says {said}: the motor is overloaded, speed down; fan, belt, flow first"
    if most > min(bears):
        return "attention", f"motor current {most:g} A, its nameplate says {said}: which of them is for the winding as it is connected?"
    return "good", ""


def _fan(found, why):
    """(the line of the fan's speeds and flows, {label of a round: status}); why: of `no_pass`."""
    rounds, told, said, states, past, unread = found.procedure.rounds, [], [], {}, [], False
    low_hz, high_hz = rounds.site.fan.speed_limits_hz(rounds.site.control.fire_mode)
    ceiling = rounds.ceiling
    ceiling_said = "the day's ceiling: no speed of this drive" if isnan(ceiling.hz) else (
        f"the day's ceiling of {with_unit(ceiling.hz, 'frequency', 1)}")  # fmt: skip
    for one in rounds.rounds:
        if one.mode == OFF:
            continue
        speed, flow = (found.filled.value("fan", what, one.label) for what in ("speed", "flow"))
        lack = [what for what, value in (("speed", speed), ("flow", flow)) if value is None]
        current, doubts = found.filled.value("fan", "current", one.label), []
        bears, told_of_it = current_judged(current, found.filled.value("devices", "motor", "plate"))
        shown = [with_unit(value, kind, digits) for value, kind, digits in ((speed, "frequency", 1), (flow, "flow", (2, 0)))
                 if value is not None]  # fmt: skip
        shown += [f"motor current {current}"] if current else []
        told += [f"{', '.join(shown)} ({one.label})"] if shown else []
        words, most_hz = [], high_hz
        if one.mode == MANUAL:
            most_hz = min(found.filled.printed.get(("fan", "speed", f"{one.label} expected"), (one.speed_hz,)))
        notes = []
        if speed is not None and ceiling.passed_by(speed):
            words.append(f"{with_unit(speed, 'frequency', 1)} is above {ceiling_said}: a shut door may be too heavy to open there")
        if speed is not None and speed > most_hz + PRINTED_HZ:
            words.append(f"{with_unit(speed, 'frequency', 1)}, no higher than {with_unit(most_hz, 'frequency', 1)}")
        if speed is not None and one.mode == MANUAL and speed < most_hz - PRINTED_HZ:
            slower = [other.speed_hz for other in rounds.rounds if other.mode == MANUAL and other.speed_hz < one.speed_hz]
            said_so = f"read at {with_unit(speed, 'frequency', 1)}; {with_unit(most_hz, 'frequency', 1)} on the sheet is an upper end"
            if speed <= max(slower, default=LOW_SHARE * most_hz) + PRINTED_HZ:  # of the round below it, or far below all of them
                doubts.append(f"{said_so}, but as slow as the round below it: is it of another round?")
            else:
                notes.append(said_so)
        if None not in (speed, flow) and flow > (1 + FLOW_SHARE) * (end := _end_m3_s(rounds.site.fan, speed)):
            doubts.append(f"{with_unit(flow, 'flow', (2, 0))} is unlikely: there its curve ends at {with_unit(end, 'flow', (2, 0))}")
        if flow is not None and (slip := slip_of_point(flow, one.flow_m3_s)):
            read, usual = (with_unit(value, "flow", (2, 0)) for value in (flow, one.flow_m3_s))
            doubts.append(f"{read} can hardly be, {slip}: {usual} is to be expected")
        if speed is not None and (speed > high_hz + PRINTED_HZ or speed < low_hz - PRINTED_HZ):
            ends = " to ".join(with_unit(end, "frequency", 1) for end in (low_hz, high_hz))
            words.append(f"{with_unit(speed, 'frequency', 1)} is no speed of this drive ({ends})")
        past += [f"{one.label}: {of}" for of in (*words, *([told_of_it] if bears == "wrong" else []))]
        own = "wrong" if words else "attention" if doubts else "open" if lack else "good"
        if shown and one.label in why and not words:
            own, held = held_down(why[one.label], own, "")
            notes.append(held)
        states[one.label] = worst_of((own, bears))
        words += [*doubts, *([told_of_it] if told_of_it and told_of_it != NO_PLATE else []), *notes]
        words += [f"still to read: {listed(lack)}"] if lack else []
        unread = unread or bool(lack)
        said += [(states[one.label], f"{one.label}: {'; '.join(words)}")] if words else []
    no_plate = not amperes(found.filled.value("devices", "motor", "plate"))
    said += [("open", NO_PLATE)] if no_plate and any("motor current" in one for one in told) else []
    limit = f"{ceiling_said}; " * ceiling.lower + " to ".join(with_unit(end, "frequency", 1) for end in (low_hz, high_hz))
    limit = f"{limit} of the drive; steady speeds: at most as the sheet Rounds prints them"
    said = gravest_first(said)
    line = ReportLine("Rounds", IN_ROUNDS, measured="; ".join(told), limit=limit, state=worst_of(states.values()),
                      words=said, left=unread, past=past[0] if past else "")  # fmt: skip
    return line, states


def strange_on_plate(text, design):
    """What stands on a plate that the design has otherwise, in a sentence; "" for nothing.

    text: nameplate, or what was found; design: in words. A figure counts only with its unit beside it; a plate without any is for the eye
    alone. Limits: the dimensions of DIMENSIONS.
    """
    designed = _figures(str(written_out(design, "Pa")))
    for dimension, value in _figures(text):
        known = [one for what, one in designed if what == dimension]
        if known and not any(abs(value - one) <= SAME_SHARE * max(abs(one), abs(value)) for one in known):
            shown = " or ".join(with_unit(one, dimension) for one in dict.fromkeys(known))
            return f"{with_unit(value, dimension)} on its plate or as found, designed {shown}: no test until it is explained"
    return ""


def _figures(text):
    """(dimension, value [SI]) of every figure of a text that has a unit."""
    found = []
    for match in _FIGURE.finditer(text):
        for dimension in DIMENSIONS:
            try:
                found.append((dimension, units.parse(match.group().replace("−", "-"), dimension)))
            except units.UnitError:
                continue  # a unit of another dimension
    return found
