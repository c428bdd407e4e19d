"""The settings schedule: what to enter in any drive or controller, in trade terms, with unit, value and reason, and room for that device's
own name of the setting. In the order of the signal's way, from the wire to the fan; no device's menu, number or name is in it.
"""

from dataclasses import replace

from helpers.formulas import action as actions
from helpers.formulas import signals
from helpers.model.loop.ramps import ramp_loads
from helpers.model.site.second_shaft import FIXED_FLOW, FIXED_SPEED
from helpers.model.site.tolerances import boxes
from helpers.record.damper import damper_said
from helpers.record.settings.fallback_lines import beyond_stuck, beyond_the_doors, ceiling_text, failing_lines, full_said, stated_lines
from helpers.record.settings.loop_form import TAKEN_BACK, LoopForm, form_lines, one_percent_off
from helpers.record.standing import ACTION, CHOSEN, FAN, NOT_ENTERED, RAMP, SET_POINT, STANDARD, TUNING
from helpers.studies.doors.second_shaft.in_time import QUICK_S, SLOW_S
from helpers.studies.duty.change_over.reckoned import ONE_STANDS
from helpers.studies.duty.motor_feed import no_standby
from helpers.studies.duty.permissible_speed import check_said
from helpers.studies.duty.relief_damper import blades_of, relief_said
from helpers.studies.readings.alarms import PASSAGE_S
from helpers.studies.report import Setting, Table, fine
from helpers.studies.signals.low_sides import SPACES
from helpers.studies.signals.plates import plate_ends, span_text
from helpers.studies.signals.unlike_ranges import EACH_SCALED, gain_said, unlike
from helpers.studies.status import inside, word_of, worst_of
from helpers.studies.tuning.candidate import LONG_DAMPING_S, margin_text
from helpers.studies.tuning.findings import ramps_doubted
from helpers.units.said import three, two, with_unit

COLUMNS = ("What", "Setting", "Value", "Why", "This device's own name for it")

FAIL, CHECK = word_of("wrong"), word_of("attention")
NOT_STATED = "not stated"
RANGE = "the range"  # beside the parts of `standing`: holds for a transmitter of that range alone


def settings_schedule(site, tuned=None, strategy=None, fallback=None, full=None, standing=None, digest=""):
    """Everything to enter for a stair site's loop.

    tuned: gain and integral_s to enter instead of the site's own (`TuningStudy.recommended`), or None; strategy: a `Strategy` for fallback
    and alarms, or None; fallback: a `FallbackStudy` for those it does not state, or None; full: a `FullSpeed` for the speed of an override,
    or None; standing: the `Standing` that every line has to pass, None for lines that nobody has judged; digest: hash of the site file, for
    the foot of the sheet. Returns a tuple of `Setting`.
    """
    lines = (
        *(line for number, tap in enumerate(site.transmitters) for line in (*_input(tap), *_lags(tap.name, number, boxes(site), tuned))),
        *_combining(site, fallback),
        *_loop(site, tuned),
        *_scan(boxes(site)),
        *_speed(site, strategy, full),
        *(failing_lines(fallback, full) if strategy is None else stated_lines(strategy, fallback, full)),
        *_stopping(site),
        *_sheet(digest),
    )
    return lines if standing is None else tuple(_passed(line, standing) for line in lines)


def _passed(line, standing):
    """A line as the judge lets it stand: a value that fails is not to be entered, one that hangs on what fails is not laid down."""
    open_mode = standing.design.out_of_mode and (line.group, line.name) == ("fan", "highest speed")  # which of its two limits holds?
    first, tuned = standing.first(*line.rests_on, *[STANDARD] * bool(open_mode)), TUNING in line.rests_on
    other = standing.design.other_range() if RANGE in line.rests_on and not first else ""
    if other:
        line = replace(line, value=f"{line.value}, only where a {standing.design.range.chosen.text()} transmitter hangs: {other}")
    unjudged = standing.design.out_of_mode or not standing.standard_stands  # nobody can say what fails
    against = "" if first and (tuned or unjudged) else standing.setting_against(line.group, line.name)
    if against:
        whose = "" if tuned else " is the file's"
        return replace(line, value=f"{FAIL}: {line.value}{whose}, {NOT_ENTERED}", why=against)
    if first:
        return replace(line, value=first, why="it hangs on what is not settled yet: see the summary")
    if line.name == "action" and standing.first(FAN, CHOSEN):
        line = replace(line, why=f"{line.why}; holds for another fan too: its sense hangs on which way a fan blows, not on its size")
    checks = {"set point": standing.set_point_check, "relief damper": lambda: "; ".join(damper_said(standing.design, "attention"))}
    check = ramps_doubted(standing.design.tuning) if tuned else checks.get(line.name, str)()
    return replace(line, why=f"{CHECK}: {check}; {line.why}") if check else line


def schedule_table(lines):
    """The schedule of `Setting`s as a table with a blank column."""
    rows = tuple((line.group, line.name, line.value, line.why, "") for line in lines)
    note = "Enter, read back, and prove with injected signals. What a device does not have is left as a line drawn through."
    return Table("settings", "Settings schedule", COLUMNS, rows, note=note)


def _input(tap):
    low, high, unit = signals.SIGNALS[tap.signal]
    yield Setting(tap.name, "signal type", tap.signal, "as the instrument sends it: read its plate")
    for end, signal, word in zip(plate_ends(tap.range_low_pa, tap.range_high_pa), (low, high), ("low", "high"), strict=True):
        name = f"display at the {word} end of the signal"
        yield Setting(tap.name, name, f"{end} at {signal:g} {unit}", f"{word} end of the instrument's range", (RANGE,))
    level = f"storey {tap.level}: high side the stair, low side {SPACES[tap.reference]}"
    yield Setting(tap.name, "where it reads", level, "storey of its tubes; all low sides end in like spaces")
    yield Setting(tap.name, "filter time", with_unit(tap.filter_s, "time"), "long enough for gusts, short beside the recovery")
    if signals.live_zero(tap.signal):
        bands = [low + (high - low) * percent / 100 for percent in (signals.FAILED_LOW_PERCENT, signals.FAILED_HIGH_PERCENT)]
        source = (
            "NAMUR NE 43 (from memory, not verified)"
            if tap.signal == "4-20 mA"
            else "the bands that NAMUR NE 43 (from memory, not verified) has for 4-20 mA, by share"
        )
        why = f"enter if the input can, many watch one lower figure only; prove with the wire off; {source}"
        yield Setting(tap.name, "signal failed", f"below {bands[0]:.2f} or above {bands[1]:.2f} {unit}", why)
    else:
        yield Setting(tap.name, "signal failed", "cannot be seen", "a true zero: a dead wire reads as no pressure")


def _lags(name, number, known, tuned):
    """What is late before the input sees it: the transmitter's own lag, its damping dial, its tubes."""
    response, damping, tubes = (known[f"transmitters.{number}.{part}"] for part in ("response_s", "damping_s", "tube_lag_s"))
    why = "off its data sheet; another transmitter: tune anew"
    if response.stated and response.likely > LONG_DAMPING_S:
        why = f"CHECK: slow, see the tuning; with a quicker one it is safe, too, and slower than need be; {why}"
    yield _lag(name, "lag of the transmitter", response, why)
    why = "as the site file has it" if tuned is None else "as the site file has it; turned back to zero the tuning is safe, too"
    if tuned is not None and tuned.back is not None:
        why += f" (gain margin {margin_text(tuned.back)})"
    if damping.stated and damping.likely > LONG_DAMPING_S:
        why = f"CHECK: long, it costs time after a door, see the tuning; {why}"
    yield _lag(name, "damping at the transmitter's dial", damping, why)
    yield _lag(name, "lag of its tubes", tubes, "length and bore as stated")


def _scan(known):
    yield _lag("loop", "input scan", known["control.input_scan_s"], "how often the input is read")
    yield _lag("loop", "bus or radio delay", known["control.bus_delay_s"], "how old a reading is that does not come by wire")


def _lag(group, name, box, why):
    if box.stated:
        return Setting(group, name, f"{two(box.likely)} s", why)
    return Setting(group, name, "to be read off and written here", f"not stated: the tuning was tried with {box.low:g} to {box.high:g} s")


def _combining(site, fallback):
    if len(site.transmitters) == 1:
        return
    weights = site.control.weights
    value = f"{site.control.rule} reading" + (f", weights {', '.join(f'{weight:g}' for weight in weights)}" if weights else "")
    why = f"see average, lowest or highest{f'; unlike ranges: {EACH_SCALED}' * unlike(site)}"
    yield Setting("combining", "which reading runs the loop", value, why, (SET_POINT,))
    if fallback is not None and fallback.alarm_limits is not None:
        value, why = _beside_said(fallback)
        yield Setting("combining", "a reading that falls beside an open door", value, why, (SET_POINT, ACTION, FAN))


def _beside_said(fallback):
    """What to do with a reading that falls beside an open door, believed or left out, whichever leaves the worst other door more room."""
    why = "a door open beside a transmitter tells of that door, not of the stair"
    believed = min((one.believed for one in fallback.beside), key=lambda cell: cell.room_pa, default=None)
    left = min((one.left_out for one in fallback.beside if one.left_out), key=lambda cell: cell.room_pa, default=None)
    later = ", until the alarm on the difference takes over" if fallback.alarm_limits.deviation_pa is not None else ""
    value = f"left out for {PASSAGE_S:g} s at the most, where the device can; then believed again{later}"
    if believed is None or left is None:
        return value, why
    if believed.room_pa >= left.room_pa:
        value = f"believed as ever{later}"
    told = "; ".join(f"{how}: {cell.text()} ({cell.case})" for how, cell in (("believed", believed), ("left out", left)))
    out = not inside(max(believed.room_pa, left.room_pa))
    return f"{FAIL}: neither holds every door; {value}" if out else value, f"{why}; {told}"


def _loop(site, tuned):
    control, first = site.control, site.transmitters[0]
    gain, integral = (control.gain, control.integral_time_s) if tuned is None else (tuned.gain, tuned.integral_s)
    span = first.range_high_pa - first.range_low_pa
    whole = (SET_POINT, ACTION, FAN, RAMP, TUNING)
    why = "as the site file has it" if tuned is None else "keeps its margins in the whole box of lags and delays; see the tuning"
    if tuned is not None and tuned.worst_doors.short_state != "good":
        why += f"; {word_of(tuned.worst_doors.short_state)}: {tuned.worst_doors.short_said()}"
    way, band = "slows down" if control.action == "reverse" else "speeds up", float(actions.proportional_band(gain))
    yield Setting("loop", "set point", fine(control.set_point_pa), "see the rule's set points", (FAN,))
    yield Setting("loop", "action", control.action, f"the fan {way} when the reading is too high")
    yield Setting(
        "loop", "gain", f"{gain:.3g} % of full speed by % of a span of {span_text(span)}", f"{why}{gain_said(site)}", (*whole, RANGE)
    )
    yield Setting("loop", "or proportional band", f"{band:.3g} % of that span", "100 divided by the gain", (*whole, RANGE))
    yield Setting("loop", "integral time", with_unit(integral, "time", 2), why, whole)
    yield Setting(
        "loop", "or integral rate", f"{three(60 / integral)} repeats a minute", "60 divided by the integral time in seconds", whole
    )
    yield Setting("loop", "derivative time", "none", "a pressure with gusts on it is no reading to differentiate")
    late = control.sample_s > min(*(tap.filter_s for tap in site.transmitters), integral)
    why = f"{CHECK}: longer than filter or integral time" if late else "no longer than filter and integral time"
    yield Setting("loop", "sample time", with_unit(control.sample_s, "time"), why)
    form = _loop_form(site, gain, integral)
    besides = ", or the ramp holds the fan back from it" if control.integral_stops == "ends and ramp" else ""
    for line in form_lines(form, TAKEN_BACK, besides, "at a start"):
        yield replace(line, rests_on=(*whole, RANGE))
    stops = {"ends": "stops growing there", "ends and ramp": "stops there, and while the ramp holds the fan back"}
    ends = stops.get(control.integral_stops, f"{NOT_STATED}: it has to stop growing there")
    yield Setting("loop", "integral at the ends of the output", ends, "else it winds up behind an open door and lets go late")


def _loop_form(site, gain, integral_s):
    """The `LoopForm` of a stair: its output counts by the drive's highest speed, and ends at the speeds that its mode has."""
    control, first = site.control, site.transmitters[0]
    span = first.range_high_pa - first.range_low_pa
    read = with_unit(one_percent_off(control.set_point_pa, span, control.action), "pressure", (2, 4))
    return LoopForm(control.action, span_text(span), "set point", fine(control.set_point_pa), read, gain, integral_s, control.sample_s,
                    site.fan.highest_speed_hz, *site.fan.speed_limits_hz(control.fire_mode))  # fmt: skip


def _speed(site, strategy, full):
    fan = site.fan
    yield from _hardware(site)
    yield Setting("fan", "lowest speed", f"{fan.lowest_speed_hz:g} Hz", "as the site file has it; motor cooling decides")
    full_why = "as the site file has it"
    if fan.speed_limits_hz(site.control.fire_mode)[1] < fan.highest_speed_hz:
        full_why += "; what full output and ramp stand for, and no limit: that is the highest in smoke control, a second entry"
    yield Setting("fan", "highest speed", f"{fan.highest_speed_hz:g} Hz", _checked(fan, fan.highest_speed_hz, full_why))
    if site.control.fire_mode:
        low, high = fan.speed_limits_hz(True)
        ends = (fan.smoke_lowest_speed_hz, fan.smoke_highest_speed_hz)
        least, why = ("not stated: the drive's own" if end is None else "as the site file has it" for end in ends)
        yield Setting("fan", "lowest speed in smoke control", f"{low:g} Hz", least)
        yield Setting("fan", "highest speed in smoke control", f"{high:g} Hz", _checked(fan, high, full_said(full, high, why)),
                      (STANDARD, SET_POINT, FAN, CHOSEN))  # fmt: skip
    start = fan.speed_limits_hz(site.control.fire_mode)[0]
    why = "the loop goes on from there without a jump" if full is None else full.start_said(start, fan.ramp_s, fan.reference_speed_hz)
    yield Setting("fan", "start speed, and least speed of the loop", f"{start:g} Hz", why, (SET_POINT, ACTION, FAN))
    up, down = (f"{seconds:g} s between standstill and {fan.reference_speed_hz:g} Hz" for seconds in (fan.ramp_s, fan.slows_s))
    loads = ramp_loads(site)
    hangs = (STANDARD, FAN, CHOSEN)  # motor and inertia are the fan's
    yield Setting("fan", "ramp up", up, f"see the recovery after a door; {_marked(loads.up_state)}{loads.up_said}", hangs)
    why = "as the site file has it" if fan.ramp_down_s is not None else "not stated: as the ramp up; the wheel's energy decides"
    held = "" if loads.held_state == "good" else f"{loads.held_said}; "
    yield Setting(
        "fan", "ramp down", down, f"{why}; {_marked(worst_of((loads.down_state, loads.held_state)))}{held}{loads.down_said}", hangs
    )
    yield Setting("fan", "manual override, fire alarm input", "outrank the loop", "life safety")
    override = None if strategy is None else strategy.override
    yield _override_speed(fan, full, override)
    over = "to be agreed" if override is None else "yes" if override.over_trips else "no"
    yield Setting("fan", "override of the drive's own trips", over, "the authority having jurisdiction says; a tripped drive stops")
    restart = None if strategy is None else strategy.restart
    value = "to be agreed: automatic, catching a wheel that turns" if restart is None else restart.after_mains
    if restart is not None and restart.after_mains == "automatic":
        value += ", catching a wheel that turns" if restart.catches_turning_wheel else ", without catching a wheel that turns"
    why = "a stair fan comes back by itself, without a count that locks it out; prove with the mains off"
    yield Setting("fan", "restart after the mains come back", value, why)


def _override_speed(fan, full, override):
    """The line of the override's speed: whose it is, and the ceiling that the test day runs it up to as well."""
    if override is None:
        agreed = f"to be agreed with the fire service{ceiling_text(full)}"
        return Setting("fan", "speed of the override", agreed, full_said(full, None, "life safety"))
    speed, hertz = f"{override.speed_hz:g} Hz", override.speed_hz
    if beyond := beyond_the_doors(full, hertz) or beyond_stuck(full, hertz):
        speed = f"{FAIL}: {speed} is the strategy's, {NOT_ENTERED}"
    why = full_said(full, hertz, "the strategy's; as agreed in writing with the fire service, life safety")
    why += f". {FAIL}: {beyond}" if beyond and beyond not in why else ""
    return Setting("fan", "speed of the override", speed, _checked(fan, hertz, why))


def _checked(fan, speed_hz, why):
    """The reason of a speed; before it that the fan's curve stands for a slower one, where it does."""
    return "; ".join(filter(None, (check_said(fan.reference_speed_hz, speed_hz), why)))


def _marked(state):
    """The mark that a ramp's finding has, before what the ramp asks for; "" for a good one."""
    return "" if state == "good" else f"{word_of(state)}: "


def _hardware(site):
    """The fan that all figures hold for, its damper, brake, power and proofs."""
    fan, reliefs, standby = site.fan, site.stair.reliefs, site.standby
    flow, pressure = (with_unit(values[-1], kind) for values, kind in ((fan.flows_m3_s, "flow"), (fan.standard_pressures_pa, "pressure")))
    shutoff = with_unit(fan.standard_pressures_pa[0], "pressure")
    curve = f"{shutoff} without flow, {flow} at {pressure}, {fan.reference_speed_hz:g} Hz"
    why = "as the site file has it; with another fan work out gain, fallback and alarms anew"
    yield Setting("fan", "the fan that all of this holds for", curve, why)
    if reliefs:
        yield Setting("fan", "relief damper", relief_said(*reliefs), "full speed and fallback rest on it")
        moved = f"{'each ' * (blades_of(*reliefs) > 1)}seen open and shut at every test, blade and seat"
        stuck = "stuck shut (ice, rust) it jams the doors, open it takes the pressure"
        yield Setting("fan", "proof that the relief damper moves", moved, stuck)
    brake = {"none": "none", "resistor": f"brake resistor, {ramp_loads(site).size_said}"}.get(fan.brake, NOT_STATED)
    why = "takes the energy of the turning wheel; without one a short ramp down trips the drive"
    alone = f"{CHECK}: nothing takes that energy; "  # a short ramp down trips a drive without one, a long one leaves doors heavy
    mark = alone if fan.brake == "none" and site.control.fire_mode else _marked(ramp_loads(site).down_state)
    yield Setting("fan", "brake", brake, f"{mark}{why}")
    power = NOT_STATED if standby is None else f"{standby.source}, as stated"
    off = "the fan is off while the supply is lost" if power.startswith("none") else "take the mains away and clock the time to pressure"
    open_parts = f"{CHECK}: its power, fuel and time on load stand in no file; {off}"
    proof = open_parts if site.control.fire_mode and standby is not None and standby.source == "generator" else off
    proof = next((f"{word_of(one.severity)}: {one.why}; {one.remedy}" for one in no_standby(site)), proof)
    yield Setting("fan", "standby power", power, proof)
    if site.second_fan is not None:
        yield from _second_fan(site)
    if site.second_shaft is not None:
        yield from _second_shaft(site)
    detector = "stops the fan, with an override at the fire service's panel"
    yield Setting("fan", "smoke detector in the supply", f"to be agreed: {detector}", "a fan must not fill the stair with smoke")
    yield Setting("fan", "proof that the fan runs", "to be agreed: by flow or current", "a command given is no proof")


def _second_fan(site):
    """How two fans of one stair take turns: what each line is worth stands in the record's tables on both."""
    why = "both into one duct, each with a drive and a shut-off damper of its own; two that share one of them fail together"
    yield Setting("fan", "second fan", "stands by: one runs, the other stands still", why)
    steps = (
        "at the notice the lost fan's command off, the other's damper opened; once that drive is proved off and that damper open, the "
        "other's start, to the speed of before"
    )
    yield Setting(
        "fan", "change-over", steps, "started before its damper is open it has the air against it; see the record: when the first fan fails"
    )
    loop = (
        "its output set back to that of before the loss and held from the loss until the reading passes its set point or the second fan "
        "is at that speed, whichever is first; it goes on from that output"
    )
    why = "left running, or held as it stands at the notice, it winds up while nothing can follow; played under tuning and door events"
    yield Setting("fan", "loop in the change-over", loop, why)
    known = boxes(site)
    noticed, travel = known["second_fan.noticed_s"], known["second_fan.damper_travel_s"]
    kept = f"that of {with_unit(noticed.high, 'time', 0)} before the notice, the longest that a loss takes to be noticed"
    yield Setting("fan", "output of before the loss", kept, f"after the loss the loop has run on without a fan; notice: {noticed.source}")
    highest, fan = site.fan.speed_limits_hz(site.control.fire_mode)[1], site.fan
    parts = (travel.high, fan.ramp_s * highest / fan.reference_speed_hz, noticed.high)
    whole, *each = (with_unit(seconds, "time", 1) for seconds in (sum(parts), *parts))
    over = f"{whole} from the notice on: the damper's travel {each[0]}, the ramp up to {highest:g} Hz {each[1]}, a loss's notice {each[2]}"
    yield Setting("fan", "time-out of the change-over", over, "as it was played, each at its longest")
    longest = f"{with_unit(travel.high, 'time', 0)} at the longest"
    yield Setting("fan", "travel of the shut-off dampers", longest, f"a start waits for no damper longer; travel: {travel.source}")
    yield Setting("fan", "interlock of the two fans", ONE_STANDS, "both at once: see the record: both fans at once")


SECOND_SHAFT_WHY = (
    "every figure here was computed with its fan running; whether the doors bear both fans, and each alone, stands in the record's "
    "table on stair and second shaft together"
)


def _second_shaft(site):
    """The shaft beside the stair whose fan presses on the same floors."""
    given, fan = site.second_shaft, site.second_shaft.fan
    enters = f"its air enters at storey {fan.level}"
    yield Setting("fan", "second pressurised shaft", f"{given.words}, {enters}", SECOND_SHAFT_WHY)
    if fan.way == FIXED_FLOW:
        run = f"a fixed flow, {with_unit(fan.fixed_flow_m3_s, 'flow')}"
    elif fan.way == FIXED_SPEED:
        run = f"a fixed speed, {fan.speed_hz:g} Hz"
    else:
        held, over = with_unit(fan.set_point_pa, "pressure"), f"over {fan.set_point_over} at storey {fan.set_point_level}"
        run = f"a loop of its own that holds {held} {over}, {fan.lowest_speed_hz:g} to {fan.highest_speed_hz:g} Hz"
    yield Setting("fan", "second shaft's fan", run, "each takes from what the other's doors stand over: set with both running")
    yield from _second_shaft_entered(fan)


def _second_shaft_entered(fan):
    """What is entered for that fan: its speed command, what the whole output stands for, its ramp."""
    quick, slow = with_unit(QUICK_S, "time", 1), with_unit(SLOW_S, "time", 0)
    ramp = f"{slow} from standstill to its speed, and back"
    why = f"our own choice, the slower of the two ({quick} and {slow}) with which the record plays it beside the stair's loop"
    if fan.way == FIXED_SPEED:
        top = max(fan.reference_speed_hz, fan.speed_hz)
        speed, whole = f"{fan.speed_hz:g} Hz in every state that runs it", f"standstill to {top:g} Hz for the whole output"
        if top > fan.speed_hz:  # a drive counts its ramp over the whole of its output
            ramp += f": {with_unit(SLOW_S * top / fan.speed_hz, 'time', 1)} between standstill and {top:g} Hz, as a drive is entered"
        whole_why = "the speed that its curve stands for: our own choice, for the site file states no other of its drive"
    elif fan.way == FIXED_FLOW:
        speed = f"to be agreed: the one speed at which it brings {with_unit(fan.fixed_flow_m3_s, 'flow')}, found and marked at the test"
        whole, whole_why = "to be agreed: none where it has a starter, else as its drive is scaled", "a fixed flow has no speed in the file"
    else:
        speed = (
            f"to be agreed: by a loop whose gain, integral time, filter and ramp stand in no site file, {fan.lowest_speed_hz:g} to "
            f"{fan.highest_speed_hz:g} Hz; nothing of it is entered before, or the file states a fixed speed in its place"
        )
        whole, whole_why = f"standstill to {fan.highest_speed_hz:g} Hz for the whole output", "its highest speed, as the site file has it"
        ramp, why = "to be agreed: with the rest of its loop", "a loop of its own is not played in time, see the enquiry list: two loops"
    yield Setting("fan", "second shaft's speed command", speed, "as the site file has it: every figure here was computed with it")
    yield Setting("fan", "second shaft's whole output", whole, whole_why)
    yield Setting("fan", "second shaft's ramp", ramp, why)


def _sheet(digest):
    """The foot of the sheet: which site file it is of, and who signs."""
    if digest:
        yield Setting("sheet", "hash of the site file's figures", digest, "another hash is another building: the sheet is then void")
    for what in ("entered", "read back and proved", "witnessed"):
        yield Setting("sheet", f"{what} by", "name, date, signature: to be filled in", "a sheet without names is a draft")


def _stopping(site):
    control, stop = site.control, site.control.low_demand
    if control.fire_mode:
        yield Setting("low demand", "low-demand stop", "off", "never active in smoke control")
    elif stop is None:
        yield Setting("low demand", "low-demand stop", "off", "none is asked for")
    else:
        below = f"{stop.stop_below_hz:g} Hz for {stop.stop_after_s:g} s"
        under, deficit = (with_unit(pa, "pressure") for pa in (control.set_point_pa - stop.restart_deficit_pa, stop.restart_deficit_pa))
        again = f"reading under {under} ({deficit} below the set point) for {stop.restart_after_s:g} s"
        yield Setting("low demand", "stop below", below, "above idle speed, below the lowest duty")
        yield Setting("low demand", "restart", again, "keeps starts an hour within what the motor bears if run across the line")
