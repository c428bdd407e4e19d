"""The settings schedule of a plant other than a stair: what to enter in any drive or controller, in trade terms, and why; its board.

What the review of these very settings fails is not to be entered, and what it doubts says so: `LINES` has the line that a kind of finding
speaks against.
"""

from dataclasses import replace

from helpers.formulas import action as actions
from helpers.formulas import low_demand as low_demands
from helpers.formulas import signals
from helpers.model.plants.gases import WHOLE, gas_names
from helpers.model.site.tolerances import boxes
from helpers.record.board import state_of
from helpers.record.plants.both_gases import filed_said, has_two, levels_told, of_each_said, share_lines
from helpers.record.plants.contacts import (
    EACH_PAIR,
    GAS_ENDS,
    GAS_LATCHED,
    agreed,
    apart_lines,
    proof_lines,
    signals_to_the_drive,
    start_lines,
)
from helpers.record.plants.laid import ALARM_AFTER_S, END_STOP_S, unlimited_said
from helpers.record.plants.stuck import mates_of, stuck_said
from helpers.record.review.kinds import BUILDING
from helpers.record.sections.signed import site_hash
from helpers.record.settings.loop_form import LoopForm, filter_line, form_lines, going_on_line, one_percent_off
from helpers.record.standing import NOT_ENTERED
from helpers.studies.report import PRACTICE, Board, BoardLine, Setting, listed, range_text, time_text
from helpers.studies.signals.plates import plate_ends, span_text
from helpers.studies.status import word_of, worst_of
from helpers.units.said import three, two, with_unit

FAIL, CHECK = word_of("wrong"), word_of("attention")
ALWAYS_SHORT = (
    "a stopped fan holds no pressure, so that this comes true whether anybody asks or not, and the fan starts again after every such wait: "
    "a call from the rooms or a clock tells of need, this does not"
)
RESET, LOW_DEMAND, STOP_OFF, LEAST_RUN = "reset", "low demand", "low-demand stop", "least run and least stop"
FALLS, FIRST = ("failure", "on a failed reading"), "first"
HIGH, LOWEST = ("fan", "highest speed"), ("fan", "lowest speed")
LIVE, DOES = ("failure", "gas alarms are live"), ("failure", "a gas alarm does")
SUPPLY, WAITS, LEVELS = ("failure", "supply of the gas alarm"), ("failure", "a gas alarm waits"), ("failure", "three levels of gas")
OF_GAS = "nobody reads that zone meanwhile, its gas alarm is out, and traffic is a guess: all that the fan gives"
BREATHED = "people breathe there: least flow, run in each hour and any stop are the code's, and standing air is read at one place alone"
OVER, ALARM_DEAD = ("failure", "a gas reading above its range"), ("failure", "gas alarm with a dead controller")
OVER_DOES = (
    "a gas alarm at once, with no wait, and a lost reading besides; a signal that is lost, upwards or downwards, while its time above the "
    "alarm is counted is a gas alarm at once, too"
)
HIGH_LIMIT, DEAD, WAITED = ("fan", "duct high-limit switch"), ("fan", "with a dead controller"), "waits and records"
SIDES = "place of its high side, and what it is read against"
DUCT_SMOKE, DUCT_DAMPERS = ("fan", "duct smoke detector"), ("fan", "fire and smoke dampers in the duct")
LINES = {  # kind of a review's finding: the line that it speaks against
    "wrong action": ("loop", "action"), "unstable": ("loop", "gain"), "integral unit": ("loop", "integral time"),
    "filter and integral": ("loop", "integral time"), "slow samples": ("loop", "sample time"), "place left out": ("loop", "set point"),
    "set point near end": ("loop", "set point"), "at lowest speed": ("fan", "lowest speed"), "lowest speed": ("fan", "lowest speed"),
    "highest speed": HIGH, "full speed": HIGH, "motor": HIGH, "beyond the site": HIGH, "ramp down": ("fan", "ramp down"),
    "no fallback": FALLS, "fallback": FALLS, "preset speed": FALLS, "alarms inside": ("failure", "alarm limits"),
    "alarms silent": ("failure", "alarm limits"), "alarm never": ("failure", "alarm limits"), "never stops": (LOW_DEMAND, "stop below"),
    "cycles": (LOW_DEMAND, "stop below"), "too many starts": (LOW_DEMAND, "restart"), "stop without leave": (LOW_DEMAND, STOP_OFF),
}  # fmt: skip


BUY = {("fan", "the fan that all of this holds for"): "Fan", ("fan", "motor"): "Motor"}
SET = {
    ("combining", "which reading runs the loop"): "Fan follows", ("loop", "set point"): "Set point", ("loop", "action"): "Action",
    ("loop", "gain"): "Gain", ("loop", "integral time"): "Integral time", (RESET, "set point reset by requests"): "Reset",
    (RESET, "Lowest set point"): "Reset, lowest", (RESET, "Highest set point"): "Reset, highest", (RESET, "Interval"): "Reset, interval",
    ("fan", "highest speed"): "Highest speed", FALLS: "Failed reading", (LOW_DEMAND, STOP_OFF): "Low-demand stop",
    (LOW_DEMAND, "stop below"): "Stop below",
}  # fmt: skip
LIVE_ZERO = "buy one whose zero is live, 4-20 mA or 2-10 V, on which a dead wire is seen"
MADE_FOR = "comfort; made for: {rule} reading, {point}, {cases} cases, site file {digest}"


def plant_schedule(design, digest):
    """All `Setting`s of a `PlantDesign`, each with what its record has against it; digest: hash of the site file's figures."""
    against = {}
    for one in design.review.found:
        if one.key in LINES:
            against.setdefault(LINES[one.key], []).append(_of_no_entry(one) if LINES[one.key] == LOWEST else one.finding)
    for finding in (*design.reset_findings, *design.stop_findings, *design.rush_findings):
        for place in finding.settings if not finding.possible else ():
            against.setdefault(place, []).append(finding)
    lines = (*_inputs(design), *_combining(design), *_loop(design), *_reset(design), *_fan(design), *_failing(design), *_stop(design),
             *_sheet(digest))  # fmt: skip
    judged = tuple(_judged(line, against.get((line.group, line.name), ())) for line in lines)
    return tuple(_with_its_stop(line, judged) for line in judged)


def _with_its_stop(line, lines):
    """A line of the low-demand stop; where another one of that stop fails it is not entered either: a stop is entered whole or not."""
    fails = [one.name for one in lines if one.group == LOW_DEMAND and FAIL in one.value]
    if line.group != LOW_DEMAND or not fails or FAIL in line.value:
        return line
    return replace(line, value=f"{FAIL}: {line.value}, {NOT_ENTERED}", why=f"of a stop whose {listed(fails)} fails; {line.why}")


def _of_no_entry(found):
    """A finding on the lowest speed; where no entry mends it, it fails at the head of the record, and this is what there is to enter."""
    if found.whose != BUILDING or found.finding.severity != "wrong":
        return found.finding
    return replace(found.finding, severity="attention", what=f"no lowest speed mends it, see what fails: {found.finding.what}")


def _judged(line, findings):
    """A line with the gravest that its record has against it."""
    state = worst_of(one.severity for one in findings)
    if state not in ("wrong", "attention"):
        return line
    told = "; ".join(f"{one.what}: {one.figure}" for one in findings if one.severity == state)
    if state == "wrong":
        return replace(line, value=f"{FAIL}: {line.value}, {NOT_ENTERED}", why=told)
    return replace(line, why=f"{CHECK}: {told}; {line.why}")


def _inputs(design):
    known, gas = boxes(design.site), design.gas
    for number, (tap, one) in enumerate(zip(design.site.transmitters, design.strategy.inputs, strict=True)):
        low, high, unit = signals.SIGNALS[tap.signal]
        yield Setting(tap.name, "signal type", tap.signal, "as the instrument sends it: read its plate")
        ends = tuple(filed_said(design, end) for end in one.range) if gas else plate_ends(*one.range)
        for end, signal, word in zip(ends, (low, high), ("low", "high"), strict=True):
            name = f"display at the {word} end of the signal"
            yield Setting(tap.name, name, f"{end} at {signal:g} {unit}", f"{word} end of the instrument's range")
        yield Setting(tap.name, "where it reads", design.where(number), "the zone whose air it reads" if gas else SIDES)
        yield Setting(tap.name, "filter time", with_unit(tap.filter_s, "time"), "long enough for what is restless, short beside the loop")
        yield filter_line(tap.name, tap.filter_s, design.site.control.sample_s)
        if signals.live_zero(tap.signal):
            ends = [low + (high - low) * percent / 100 for percent in (signals.FAILED_LOW_PERCENT, signals.FAILED_HIGH_PERCENT)]
            why = "NAMUR NE 43 (from memory, not verified) for 4-20 mA, by share for others; prove with the wire off"
            yield Setting(tap.name, "signal failed", f"below {ends[0]:.2f} or above {ends[1]:.2f} {unit}", why)
        else:
            word = word_of(worst_of(found.finding.severity for found in design.review.found if found.key == "dead wire unseen"))
            rest, low_end = design.bench.rest(dead=number), filed_said(design, one.range[0])
            speeds = rest.speed_hz[design.bench.settled]
            there = range_text(speeds.min(), speeds.max(), "frequency")
            why = f"a true zero: a dead wire reads {low_end}, the low end of the range; {LIVE_ZERO}"
            yield Setting(tap.name, "signal failed", f"{word}: cannot be seen", why)
            yield Setting(tap.name, "a dead wire", f"{word}: not seen, no alarm and no fallback: the loop takes the fan to {there}", why)
        if gas:
            yield Setting(tap.name, "lag of the transmitter", with_unit(tap.response_s, "time"), "of its cell, off its data sheet")
        else:
            yield _lag(tap.name, "lag of the transmitter", known.get(f"transmitters.{number}.response_s"))


def _lag(group, name, box):
    if box is not None and box.stated:
        return Setting(group, name, f"{two(box.likely)} s", "off its data sheet; another transmitter: look at the tuning anew")
    return Setting(group, name, "to be read off and written here", "not stated in the site file")


def _combining(design):
    if design.gas:
        yield Setting(
            "combining",
            "gas that is read",
            f"{listed(gas_names(design.site))} alone",
            "of another gas nothing here tells: see the enquiry list: other gases",
        )
    rule, weights = design.site.control.rule, design.site.control.weights
    if len(design.site.transmitters) == 1:
        yield Setting("combining", "which reading runs the loop", "the only reading", "there is one transmitter")
        return
    value = f"{rule} reading" + (f", weights {', '.join(f'{weight:g}' for weight in weights)}" if weights else "")
    both = "; each is taken as a share of its own gas's set point first" if has_two(design) else ""
    yield Setting("combining", "which reading runs the loop", f"{value}{both}", "see average, lowest or highest")


def _loop(design):
    control, loop = design.site.control, design.strategy.loop
    _, low, high = design.bench.strategy.inputs[0].entered
    span, band = high - low, float(actions.proportional_band(loop.gain))
    shown = design.bench.show(span) if design.gas else span_text(span)
    way = "slows down" if control.action == "reverse" else "speeds up"
    own = "the file's own, see the tuning; a greater one is the designer's: it is stated in the site file, and the record is made anew"
    why = own if loop.gain == control.gain else f"{CHECK}: not the file's {control.gain:.3g}, see the tuning"
    integral = time_text(control.integral_time_s)
    yield Setting("loop", "set point", design.set_point_said, "see what the loop holds")
    yield from share_lines(design)
    yield Setting("loop", "action", control.action, f"the fan {way} when the reading is too high")
    yield Setting("loop", "gain", f"{loop.gain:.3g} % of full speed by % of a span of {shown}", why)
    yield Setting("loop", "or proportional band", f"{band:.3g} % of that span", "100 divided by the gain")
    yield Setting("loop", "integral time", integral, "as the site file has it; see the tuning")
    rate = f"{three(60 / control.integral_time_s)} repeats a minute"
    yield Setting("loop", "or integral rate", rate, "60 divided by the integral time in seconds")
    yield Setting("loop", "derivative time", "none", "a restless reading is nothing to differentiate")
    yield Setting("loop", "sample time", with_unit(control.sample_s, "time", 2), "as the site file has it")
    yield from form_lines(loop_form(design))
    yield going_on_line(loop_form(design))


def loop_form(design):
    """The `LoopForm` of a plant."""
    control, fan, bench = design.site.control, design.site.fan, design.bench
    _, low, high = bench.strategy.inputs[0].entered
    span = bench.show(high - low) if design.gas else span_text(high - low)
    point = "set point of the moment" if design.has_reset else "set point"
    set_at, (least, full) = bench.set_point if design.gas else control.set_point_pa, (fan.lowest_speed_hz, fan.highest_speed_hz)
    read = bench.fine(one_percent_off(set_at, high - low, control.action))
    gain, integral = design.strategy.loop.gain, control.integral_time_s
    return LoopForm(control.action, span, point, bench.show(set_at), read, gain, integral, control.sample_s, full, least, full)


def _reset(design):
    if not design.has_reset:
        why = "none is stated" if hasattr(design.site.control, "reset") else "a reset by zones' requests is a duct's"
        yield Setting(RESET, "set point reset by requests", "off, the set point stays", why)
        return
    for one in design.marked(RESET).figures:
        yield Setting(RESET, one.label, one.text, "; ".join(filter(None, (one.reason, one.source))))


def _fan(design):
    site, fan = design.site, design.site.fan
    flow, pressure = (with_unit(values[-1], kind) for values, kind in ((fan.flows_m3_s, "flow"), (fan.standard_pressures_pa, "pressure")))
    shutoff = with_unit(fan.standard_pressures_pa[0], "pressure")
    curve = f"{shutoff} without flow, {flow} at {pressure}, {fan.reference_speed_hz:g} Hz"
    yield Setting("fan", "the fan that all of this holds for", curve, "as the site file has it; with another fan make the record anew")
    yield Setting(
        "fan", "motor", f"{with_unit(fan.motor_power_w, 'power', 1)}, {fan.motor_poles} poles", "as the site file has it: read its plate"
    )
    yield Setting("fan", "lowest speed", f"{fan.lowest_speed_hz:g} Hz", "as the site file has it; motor cooling decides")
    over = unlimited_said(design.bench, fan.highest_speed_hz) if design.bench.effect > 0 else ""
    beside = f"{CHECK}: {over}; " if over else ""
    yield Setting(*HIGH, f"{fan.highest_speed_hz:g} Hz", f"{beside}as the site file has it")
    up, down = (f"{seconds:g} s between standstill and {fan.reference_speed_hz:g} Hz" for seconds in (fan.ramp_s, fan.slows_s))
    yield Setting("fan", "ramp up", up, "as the site file has it")
    stated = "as the site file has it" if fan.ramp_down_s is not None else "not stated: as the ramp up; the impeller's energy decides"
    yield Setting("fan", "ramp down", down, stated)
    why = "a comfort fan has no part in smoke control until somebody says so"
    yield Setting("fan", "what the fire alarm does with the fan", agreed(site, "fire alarm"), why)
    why = "automatic or by a person; several fans one after the other"
    yield Setting("fan", "restart after the mains come back", agreed(site, "mains"), why)
    if site.kind == "duct":
        why = "no upper limit of the duct is in the site file; a switch of its own stops the fan, no reading of the loop"
        yield Setting(*HIGH_LIMIT, agreed(site, "over-pressure"), why)
        why = "a supply fan brings smoke to every room: the site file has no detector"
        yield Setting(*DUCT_SMOKE, agreed(site, "smoke in the duct"), why)
        none = "the site file says nothing of any: the input is there, and bridged where the answer is that there are none"
        why = f"{none}; one that shuts leaves the duct the fan's whole pressure, and a reading behind it runs the fan up"
        yield Setting(*DUCT_DAMPERS, agreed(site, "dampers in the duct"), why)
    yield from signals_to_the_drive(design)
    yield from proof_lines(design)
    yield Setting(*DEAD, agreed(site, "dead controller"), "what the drive does without its controller is set in the drive, and tried there")
    yield Setting("fan", "with a schedule that is not heard", agreed(site, "order to run"), "a line that is cut orders nothing by itself")


def _failing(design):
    found, falls = design.strategy, design.strategy.on_bad_reading
    if falls.preset_speed_hz is None:
        yield Setting(*FALLS, "not laid down: first a speed that suits all places", design.speeds_said)
    else:
        over = unlimited_said(design.bench, falls.preset_speed_hz)
        why = OF_GAS if design.gas else f"{CHECK}: {over}; {design.speeds_said}" if over else design.speeds_said
        yield Setting(*FALLS, f"fallback speed {falls.preset_speed_hz:g} Hz, held until somebody resets it", why)
    yield Setting("failure", "every reading failed", "as for one", "the drive annunciates it; while run is ordered the fan runs on")
    yield Setting("failure", "alarm limits", "on each reading and on their difference, below", f"beyond the normal readings; {PRACTICE}")
    yield from start_lines(design)
    waits = f"for {time_text(ALARM_AFTER_S)}"
    if design.gas:
        yield from _gas_alarm(design, waits)
    yield Setting(
        "failure", "an alarm on a contact waits", agreed(design.site, WAITED, "at once"), "a wait that nobody agreed hides the alarm"
    )
    latched = "latched, and taken away at the point alarm seen, by a person who has looked at its cause"
    yield Setting("failure", "an alarm ends", agreed(design.site, WAITED, latched), "one that ends by itself was perhaps seen by nobody")
    if design.gas:
        yield Setting(*GAS_ENDS, agreed(design.site, "gas alarm", GAS_LATCHED), "gas is measured before anybody is let in again")
    yield Setting("failure", "a reading that sticks at its low end", stuck_said(design), "its signal is sound: no band of it tells that")
    for one in found.inputs:
        low, high = one.own_limits
        if design.has_reset:
            below = design.bench.show(design.bench.set_point - low)
            yield Setting(
                "failure", f"alarm on {one.name}", f"more than {below} below the set point of the moment, {waits}", design.alarms_why
            )
            continue
        said = [f"{word} {filed_said(design, end)}" for word, end in (("below", low), ("above", high)) if end is not None]
        yield Setting("failure", f"alarm on {one.name}", f"{' or '.join(said)}, {waits}", design.alarms_why)
    *_, apart = found.alarms.limits
    if apart is not None:
        why = "one of them may be wrong" + EACH_PAIR * (max(len(mates_of(design.bench, number)) for number in range(len(found.inputs))) > 2)
        beyond = of_each_said(design, WHOLE * apart / design.bench.points_ppm[0]) if has_two(design) else design.bench.show(apart)
        alike = ", readings of one gas held against each other" * has_two(design)
        yield Setting("failure", "alarm on difference of any two readings", f"above {beyond}{alike}, {waits}", why)
    yield from apart_lines(design)
    yield Setting("failure", "alarm on fan speed", *_at_an_end(design))
    yield Setting(
        "failure", "wait at an end of the range", f"{time_text(END_STOP_S)} on end", "our own choice; at an end nothing is left to give"
    )


def _at_an_end(design):
    """(value, why) of the alarm on a fan at an end of its speed: of an end at which the loop rests in no case that was looked at."""
    bench, ends = design.bench, {"lowest": "at lowest speed", "highest": "at full speed"}
    rests = {end: [case.name for case, state in zip(bench.cases, bench.held.state, strict=True) if state == ends[end]] for end in ends}
    rests["highest"] = []  # at its highest it is told in every case: nothing is left to give
    if design.has_reset:
        rests["lowest"].append("the lowest set point")
    rung = [end for end in ends if not rests[end]]
    left = [f"at its {end} it may rest: {listed(cases)}" for end, cases in rests.items() if cases]
    why = "; ".join(("the loop has nothing left to give", *left))
    return f"the loop's output at its {' or '.join(rung)} for {time_text(END_STOP_S)} on end", why


def _gas_alarm(design, waits):
    """When the gas alarm is live, what it does, what it waits for, what powers it, and which of three levels is which."""
    bench, found = design.bench, design.strategy
    does = f"sounds in every zone and where somebody hears it, and orders the fan to {bench.speed_limits_hz[1]:g} Hz"
    live = "always: fan stopped, off, in MANUAL, tripped, isolated or fallen back too; without the mains on a supply of its own alone"
    yield Setting(*LIVE, live, "gas gathers while the fan is stopped; an alarm without power is none")
    why = "until it is agreed and proved with the mains off, no mains is no gas alarm: cars and people are out then"
    yield Setting(*SUPPLY, agreed(design.site, "gas alarm"), why)
    why = "the controller of the loop is what sounds it: an alarm that needs none is bought as one"
    yield Setting(*ALARM_DEAD, agreed(design.site, "gas alarm"), why)
    yield Setting(
        *OVER, OVER_DOES, "a cloud may take a signal past its band before the wait has run; so may a wire: people leave all the same"
    )
    yield Setting(*DOES, f"{does}, latched until somebody resets it", "it outranks schedule, stop, fallback and loop; people leave first")
    filters = ", ".join(dict.fromkeys(with_unit(one.filter_s, "time") for one in found.inputs))
    waited = f"{waits} on end, each reading by itself, after its filter ({filters}); no average besides"
    yield Setting(*WAITS, waited, "a limit of the code that is a mean over a time is a point of its own: see the enquiry list: leave")
    yield Setting(*LEVELS, *levels_told(design))


def _stop(design):
    stop, bench = design.strategy.low_demand, design.bench
    if stop is None:
        yield Setting(LOW_DEMAND, STOP_OFF, "off", "none is asked for")
        return
    leave = f"{CHECK}: the code's leave in writing first; {BREATHED}" if design.gas else "comfort alone; never in smoke control"
    yield Setting(LOW_DEMAND, STOP_OFF, "on", leave)
    below = f"{stop.stop_below_hz:g} Hz for {time_text(stop.stop_after_s)}"
    error = stop.restart_above_ppm if design.gas else stop.restart_deficit_pa
    side = "above" if bench.effect < 0 else "below"
    why = "above the idle speed, below the lowest duty; by the speed that the fan has, and counted anew when it is faster"
    yield Setting(LOW_DEMAND, "stop below", below, why)
    beyond = of_each_said(design, WHOLE * error / bench.points_ppm[0]) if has_two(design) else bench.show(error)
    again = f"{beyond} {side} the set point for {time_text(stop.restart_after_s)}"
    why = "keeps starts an hour within what the motor bears if run across the line"
    if not design.gas and bench.effect > 0:
        why = f"{CHECK}: {ALWAYS_SHORT}; {why}"
    yield Setting(LOW_DEMAND, "restart", again, why)
    ran, stood = time_text(stop.stop_after_s), time_text(stop.restart_after_s)
    least = f"{ran} of each run, {stood} of each stop, but for a call and for what outranks the stop"
    most = float(low_demands.fastest_cycles_per_hour(stop.stop_after_s, stop.restart_after_s))
    by = "it stops by the speed and starts by the reading; a call starts it at once, on the drive's ramp"
    why = f"by the two waits, no other timer, {two(most)} starts an hour at the most without a call: {by}"
    yield Setting(LOW_DEMAND, LEAST_RUN, least, why)


def _sheet(digest):
    yield Setting("sheet", "hash of the site file's figures", digest, "another hash is another plant: the sheet is then void")
    for what in ("entered", "read back and proved", "witnessed"):
        yield Setting("sheet", f"{what} by", "name, date, signature: to be filled in", "a sheet without names is a draft")


def plant_board(design):
    """The `Board` of a `PlantDesign`, for any system of units."""
    control, bench = design.site.control, design.bench
    said = MADE_FOR.format(
        rule=control.rule, point=of_each_said(design, bench.set_point), cases=len(bench.cases), digest=site_hash(design.site)[:8]
    )
    lines = {(line.group, line.name): line for line in design.lines}

    def told(names):
        return tuple(BoardLine(state_of(lines[key]), name, lines[key].value, lines[key].why) for key, name in names.items() if key in lines)

    ranges = design.marked("range")
    state = worst_of(one.severity for one in ranges.findings) or "good"
    buy = (*told(BUY), BoardLine(state, "Transmitters", "; ".join(one.text for one in ranges.figures[:1]), ranges.verdict))
    return Board(design.site.title, f"{design.called}; {said}", "", buy, told(SET), tuple(_checks(design)))


def _checks(design):
    """The worst place in any case that is asked for, the margins, and what a lost reading comes to."""
    for key, name in (("held", "What the loop holds"), ("tuning", "Margins"), ("failure", "One reading lost")):
        section = design.marked(key)
        marks = (*(one.severity for one in section.findings), *(state for table in section.tables for state in table.states))
        state = worst_of(marks) or "good"
        # what is out: a case of a table, of a table of ways the turn of traffic that is worst
        out = next((row[table.key == "rushes"] for table in section.tables for row, mark in zip(table.rows, table.states, strict=True)
                    if mark == "wrong"), "")  # fmt: skip
        value = f"{word_of('wrong')}: {out}" if out else section.figures[0].text
        yield BoardLine(state, name, value, section.verdict)
