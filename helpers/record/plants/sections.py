"""Sections of a plant's design record: what the loop holds, rule, range, scaling, tuning, low demand, failed readings, fan, schedule.

Findings are those of the review of the site's own settings; each stands in the section of its kind.
"""

from dataclasses import replace

import numpy as np

from helpers import __version__
from helpers.formulas import low_demand as low_demands
from helpers.formulas import signals
from helpers.record.plants.both_gases import filed_said, in_shares_said, of_each_said, range_said, ranges_said
from helpers.record.plants.laid import lags_tried, unlimited_said
from helpers.record.plants.rushes import stop_table, turn_tables
from helpers.record.plants.schedule import FALLS, LINES
from helpers.record.plants.stuck import told_by, told_in
from helpers.record.review.loop import LEAST_GAIN_MARGIN, MOST_SENSITIVITY, calm, largest_gain, loop_lags_s, loop_margins
from helpers.record.review.study import review_profile
from helpers.record.sections.signed import site_hash
from helpers.studies.report import NETWORK, PRACTICE, SITE_FILE, Finding, Section, Table, Value, figure, listed, time_text
from helpers.studies.status import fails_said, word_of, worst_of
from helpers.units.said import Later, three, two, with_unit

SIGNED = ("settings", "provenance")
RULES = ("average", "lowest", "highest", "middle")
READ = "Readings, every case that asks"
FINEST = (2, 4)  # digits of a converter's step: two more than a reading's
TOP_POWER = "Largest power from the mains"
PERCENTS = (0.0, 25.0, 50.0, 75.0, 100.0)  # of the signal, injected and read back
SECTION_OF = {  # kind of a review's finding: the section it stands in; every other stands under what the loop holds
    **dict.fromkeys(("no fallback", "fallback", "hold the last", "fallback late", "stop on failure", "preset speed", "blind after one",
                     "last reading", "override", "no alarms", "alarms inside", "alarms silent", "alarm never", "alarm at once",
                     "alarm late", "end stop", "one reading"), "failure"),
    **dict.fromkeys(("full speed", "highest speed", "beyond the site", "lowest speed", "motor", "ramp down", "ramp loads",
                     "ramp down unstated", "restart"), "fan"),
    **dict.fromkeys(("set point near end", "coarse steps", "one-sided", "blind at full speed"), "range"),
    **dict.fromkeys(("entered range", "two scales", "dead wire unseen", "unlike units", "unlike instruments"), "signal"),
    **dict.fromkeys(("gain of other span", "unstable", "integral unit", "filter and integral", "no integral", "derivative", "dead band",
                     "slow samples"), "tuning"),
    **dict.fromkeys(("stop without leave", "stop in fire", "mode", "never stops", "cycles", "too many starts"), "low-demand"),
    "wrong action": "action",
}  # fmt: skip


def findings_of(design, key):
    """Findings of the review that stand in a section."""
    return tuple(one.finding for one in design.review.found if SECTION_OF.get(one.key, "held") == key)


def _section(design, key, title, said, figures=(), tables=(), pictures=(), notes=()):
    return Section(key, title, said, tuple(figures), tuple(tables), findings_of(design, key), tuple(pictures), tuple(notes))


def plant_section(design):
    """What the site file states of the plant."""
    site, bench, places = design.site, design.bench, design.plant.places
    names = "; ".join(case.name for case in bench.cases)
    figures = (
        Value("Plant", None, design.called, "what the loop holds", SITE_FILE),
        Value("Cases", float(len(bench.cases)), f"{len(bench.cases)}: {names}", "the last one: nobody asks", SITE_FILE),
        Value("Places", float(len(places)), f"{len(places)}: {listed(bench.place_names)}", "where it is judged", SITE_FILE),
        Value("Transmitters", float(len(site.transmitters)), listed(tap.name for tap in site.transmitters), "of the loop", SITE_FILE),
    )
    return Section("site", "The plant", f"A {design.called}, {len(bench.cases)} cases. {site.note}".strip(), figures)


def _stays(design):
    """What a table of boxes that stand still says of the reset by requests, which plays their zones; "" without a reset."""
    return f"; {STAYS.format(design.bench.show(design.bench.set_point))}" if design.has_reset else ""


def held_section(design):
    """Where the loop comes to rest in every case, and the place that has least room there."""
    bench, held = design.bench, design.bench.held
    (least, most), inside = bench.limits, bench.inside(held)
    rows, states = [], []
    for at, case in enumerate(bench.cases):
        place = int(np.maximum(least[at] - held.places[at], held.places[at] - most[at]).argmax())
        ends = ((least[at, place], "least"), (most[at, place], "most"))
        limit = next((f"{word} {bench.show(end)}" for end, word in ends if np.isfinite(end)), "none")
        has = f"{bench.place_text(place)}: {bench.show(held.places[at, place])}"
        rows.append((case.name, str(held.state[at]), f"{held.speed_hz[at]:.1f} Hz", bench.show(held.display_pa[at]), has, limit,
                     with_unit(float(held.power_w[at]), "power", 2)))  # fmt: skip
        state = "good" if held.state[at] == "held" else "attention"
        states.append("" if not bench.settled[at] else state if inside[at] else "wrong")
    columns = ("Case", "The loop", "Speed", "Reading that runs it", "Place with least room", "Its limit", "Power")
    table = Table(
        "held",
        "What the loop holds",
        columns,
        tuple(rows),
        tuple(states),
        f"{NETWORK}; a case without a verdict: nobody asks{_stays(design)}{in_shares_said(design)}",
    )
    good, speeds = sum(state == "good" for state in states), held.speed_hz[bench.settled]
    named = (("Lowest speed of a case that asks", float(speeds.min())), ("Highest speed of a case that asks", float(speeds.max())))
    asked = int(bench.settled.sum())
    figures = [Value("Cases held", float(good), f"{good} of {asked} cases that ask", "every place inside its limit", NETWORK)]
    figures += [Value(name, speed, f"{speed:.1f} Hz", "every reading sound", NETWORK, "frequency") for name, speed in named]
    kept = f"the set point of {of_each_said(design, bench.set_point)} is held and every place keeps its limit"
    said = f"In {good} of {asked} cases that ask, {kept}."
    turns = turn_tables(design) if design.gas else ()
    made = _section(design, "held", "What the loop holds", said, figures, (table, *turns), (_profile(bench),))
    return replace(made, findings=(*made.findings, *design.rush_findings))


def _profile(bench):
    """The picture of the review, under a key that puts it on the record's first sheet."""
    made = review_profile(bench)
    return Later(lambda system: replace(made.make(system=system), key="profile held"))


def rule_section(design):
    """Each rule of combining at the same set point: in how many cases every place keeps its limit, and the worst place."""
    bench, own, count = design.bench, design.site.control.rule, len(design.site.transmitters)
    if count == 1:
        return _section(design, "rule", "Average, lowest or highest", "There is one transmitter: nothing is combined.")
    rules = [rule for rule in RULES if rule != "middle" or count > 2]
    rules += [own] if own not in rules else []
    rows, states = [], []
    for rule in rules:
        rest = bench.rest(rule=rule)
        good = bench.inside(rest)[bench.settled]
        worst = bench.worst_out([rest], bench.settled) or "none is out"
        points = bench.set_points(rule)
        works = f"{bench.between(points.min(), points.max())}" if points.size else "none"
        rows.append((f"{rule}, the site's own" if rule == own else rule, f"{good.sum()} of {good.size}", worst, works))
        states.append("good" if good.all() else "wrong" if rule == own else "")
    columns = ("Rule", "Cases that ask, every place inside", "Worst place that is out", "Set points that suit every case")
    table = Table(
        "rules", "The rules beside each other, same set point", columns, tuple(rows), tuple(states), f"{NETWORK}{in_shares_said(design)}"
    )
    return _section(design, "rule", "Average, lowest or highest", f"The fan follows the {own} reading of {count}.", (), (table,))


PAST_BAND = ": past its range, and past the band in which a signal is sound if it goes on so far: it is then told as failed"


def range_section(design):
    """The range of each transmitter beside what it has to read."""
    bench = design.bench
    full = bench.at_speed(bench.speed_limits_hz[1]).tubes_pa[bench.settled]
    settled = bench.held.tubes_pa[bench.settled]
    rows, states = [], []
    for at, one in enumerate(bench.strategy.inputs):
        low, high = one.range
        step = float(signals.resolution(low, high, one.converter_bits, one.signal))
        share = (bench.set_point - low) / (high - low)
        top = full[:, at].max()
        past = bool(100 * (top - low) / (high - low) >= signals.FAILED_HIGH_PERCENT)  # with a transmitter whose signal goes on that far
        states.append("attention" if past else "")
        rows.append((one.name, range_said(design, at), f"{100 * share:.0f} %", bench.between(settled[:, at].min(), settled[:, at].max()),
                     f"{bench.show(top)}{PAST_BAND * past}", f"±{bench.fine(bench.errors[at])}",
                     with_unit(step, bench.dimension, FINEST)))  # fmt: skip
    columns = ("Transmitter", "Range", "Set point at", READ, "Most at full speed", "Accuracy", "A/D converter step")
    table = Table("ranges", "Ranges beside what they read", columns, tuple(rows), tuple(states), f"{NETWORK}{in_shares_said(design)}")
    figures = (
        Value("Range", None, ranges_said(design), "as the site file has it", SITE_FILE),
        Value("Accuracy", float(bench.errors.max()), f"±{bench.fine(bench.errors.max())}", "of the range's span", SITE_FILE),
    )
    return _section(
        design,
        "range",
        "Transmitter range",
        f"Set point {of_each_said(design, bench.set_point)} in {range_said(design, 0)}.",
        figures,
        (table,),
    )


def signal_section(design):
    """What to inject at each input, and what the display shows then."""
    rows = []
    for one in design.strategy.inputs:
        low, high, unit = signals.SIGNALS[one.signal]
        for percent in PERCENTS:
            value = float(signals.from_percent(percent, *one.range))
            rows.append((one.name, f"{percent:g} %", f"{low + (high - low) * percent / 100:g} {unit}", filed_said(design, value), ""))
    columns = ("Input", "Of the signal", "Inject", "The display shows", "Found, date, name")
    table = Table("injected", "Points to inject", columns, tuple(rows), note="Fan in MANUAL, drive isolated while wires are moved")
    said = f"{len(rows)} points; entered as the instruments are, an input shows what its instrument sends."
    return _section(design, "signal", "Scaling of the signal", said, (), (table,))


def action_section(design):
    """Reverse or direct."""
    effect, action = design.bench.effect, design.site.control.action
    more, way = "more" if effect > 0 else "less", "slower" if action == "reverse" else "faster"
    told = f"More speed means {more} of the reading; when it is too high the fan goes {way}."
    return _section(design, "action", "Reverse or direct", f"{action[0].upper()}{action[1:]} acting. {told}")


def tuning_section(design):
    """The gain that is laid down, where the plant answers most, with lags and delay as stated and otherwise; the file's beside it."""
    bench, control, laid = design.bench, design.site.control, design.strategy.loop.gain
    gain, case, speed = largest_gain(bench)
    lags, delay = loop_lags_s(bench, case, speed)
    where = f"{bench.cases[case].name}, {speed:.0f} Hz"
    rows, states, same = [], [], laid == control.gain
    for what, other in lags_tried(bench).items():
        for value, whose in ((laid, "laid down"), *([] if same else [(control.gain, "the file's")])):
            found = loop_margins(other, value)
            rows.append((what, f"{two(value)} %/%, {whose}", f"{two(float(found.gain_margin))}", f"{float(found.peak_sensitivity):.2f}"))
            states.append(("good" if calm(found) else "attention" if found.stable else "wrong") if whose == "laid down" else "")
    note = (
        f"asked for: margin {LEAST_GAIN_MARGIN:g} or more, sensitivity {MOST_SENSITIVITY:g} or less (text-book, from memory, not verified)"
    )
    table = Table("margins", "Margins of the loop", ("With", "Gain", "Gain margin", "Peak sensitivity"), tuple(rows), tuple(states), note)
    own = loop_margins(bench, control.gain)
    changed = "the file's" if same else f"in place of the file's {three(control.gain)} %/%, whose margin is {two(float(own.gain_margin))}"
    loops = f"{listed(f'{lag:.4g}' for lag in lags)} s, delay {two(delay)} s"
    least = min(float(row[2]) for row, state in zip(rows, states, strict=True) if state)
    figures = (
        Value(
            "Minimum gain margin tried", least, f"gain margin {two(least)}", f"{len(lags_tried(bench))} sets of lags and delays", NETWORK
        ),
        Value("Gain", laid, f"{three(laid)} %/%", changed, f"{NETWORK}, exact delay"),
        Value("Integral time", control.integral_time_s, time_text(control.integral_time_s), "as the site file has it", SITE_FILE, "time"),
        Value("Largest gain of the plant", gain, f"{gain:.2f} %/%", where, NETWORK),
        Value("Lags and delay", sum(lags) + delay, loops, "filter, transmitter, plant; one and a half samples", SITE_FILE),
    )
    state = worst_of(states)
    kept = "keeps" if state == "good" else "does not keep"
    said = f"A gain of {three(laid)} %/% {kept} its margins where the plant answers most ({where}), {changed}."
    more = [] if same else [_file_gain(control.gain, own, laid)]
    more += [] if state == "good" else [_no_gain(rows[states.index(state)], state)]
    made = _section(design, "tuning", "Tuning", said, figures, (table,))
    return replace(made, findings=(*made.findings, *more))


def _file_gain(gain, found, laid):
    what = "The site file's gain is not the one that is laid down"
    told = f"{three(gain)} %/%: gain margin {two(float(found.gain_margin))}, peak sensitivity {float(found.peak_sensitivity):.2f}"
    why = "it swings, or nearly does, where the plant answers most, with lags that are as stated, or half or twice as long"
    return Finding("attention", what, told, why, f"{NETWORK}, exact delay", f"enter {three(laid)} %/%, or state it in the site file")


def _no_gain(row, state):
    what, why = "No share of the file's gain keeps its margins", f"{row[0]}: gain margin {row[2]}, peak sensitivity {row[3]}"
    return Finding(
        state, what, row[1], why, f"{NETWORK}, exact delay", "a longer integral time, a shorter sample time; then the record anew"
    )


def low_demand_section(design):
    """The stop's threshold beside the idle speed and the lowest duty, at the set point that stays."""
    bench, title = design.bench, "Low-demand stop"
    stop = bench.strategy.low_demand
    if stop is None:
        return _section(design, "low-demand", title, "None is asked for: the fan runs all the time that it is scheduled.")
    idle, duty = float(bench.held.speed_hz[bench.idle].max()), float(bench.held.speed_hz[~bench.idle].min())
    word = low_demands.VERDICTS[low_demands.verdict(stop.stop_below_hz, idle, duty)]
    moved = " The reset lowers both speeds: its own section judges the stop at its lowest set point." if design.has_reset else ""
    told, between = f"{stop.stop_below_hz:g} Hz for {time_text(stop.stop_after_s)}", f"between {idle:.1f} and {duty:.1f} Hz it is right"
    figures = (
        Value("Speed with nobody asking", idle, f"{idle:.1f} Hz", "holds the set point, or the lowest speed", NETWORK, "frequency"),
        Value("Lowest duty", duty, f"{duty:.1f} Hz", "of the cases that ask", NETWORK, "frequency"),
        Value("Threshold", stop.stop_below_hz, told, between, SITE_FILE, "frequency"),
    )
    said = f"Threshold {stop.stop_below_hz:g} Hz: {word} at a set point that stays.{moved}"
    made = _section(design, "low-demand", title, said, figures, (stop_table(design),) if design.gas else ())
    return replace(made, findings=(*made.findings, *design.stop_findings))


def failure_section(design):
    """What the loop makes of one reading that is lost: read as the low end of its range, or told and answered with the fallback speed."""
    bench, speed = design.bench, design.strategy.on_bad_reading.preset_speed_hz
    limited = np.isfinite(bench.limits[1]).any()
    none_out = "none is out" if limited else "none has too little; no upper limit is stated"
    tried, told = {}, {}
    for number, one in enumerate(bench.strategy.inputs):
        told_apart = design.gas and "the alarm on the difference" in told_in(design, number)[0]
        then = "the alarm on the difference makes it a lost one" if told_apart else "which begins no fallback"
        stuck = f"{one.name} sticks at the low end of its range{', until ' if told_apart else ', '}{then}"
        tried[stuck] = bench.rest(dead=number)
        told[stuck] = told_by(design, number)
        if len(bench.strategy.inputs) > 1:
            tried[f"{one.name} is left out, the others run the fan"] = bench.rest(without=number)
    if speed is not None:
        tried[f"fallback speed, {speed:g} Hz"] = bench.at_speed(speed)
    over = "" if speed is None else unlimited_said(bench, speed)
    why, helps = "a place may have too much there, with nobody at the fan", "state the limit, or a high limit of its own that stops the fan"
    more = (Finding("attention", "The fallback speed is judged for too little alone", over, why, NETWORK, helps),) * bool(over)
    made = _section(design, "failure", "Failed readings and alarms", "")
    judged = worst_of(one.severity for one in (*_of_fallback(design), *more)) or "good"
    rows, states = [], []
    for what, rest in tried.items():
        laid = what.startswith("fallback speed")
        worst, speeds = bench.worst_out([rest], bench.settled), np.broadcast_to(rest.speed_hz, len(bench.cases))[bench.settled]
        nowhere = worst and not bench.worst_out([rest], bench.judged)  # out in those cases alone that no speed holds
        ends = (speeds.min(), speeds.max())
        has = f"{worst}: no speed holds that case" if nowhere else worst or (_room(bench, rest) if limited and laid else none_out)
        speed_said = f"{ends[0]:.1f} to {ends[1]:.1f} Hz" if np.ptp(ends) > 0.05 else f"{ends[0]:.1f} Hz"
        rows.append((what, told.get(what, "its signal"), speed_said, f"{has}; {over}" if laid and over else has))
        states.append(judged if laid else "attention" if worst else "")
    columns = ("What happens", "Told by", "Fan speed in the cases that ask", "Worst place that is out")
    word = word_of("attention")
    laid = f"the last line alone is laid down: {word} in another one is a place that is out, and nothing to enter"
    note = f"{NETWORK}; {laid}{_stays(design)}{in_shares_said(design)}"
    table = Table("lost", "One reading lost", columns, tuple(rows), tuple(states), note)
    laid = f"fallback speed {speed:g} Hz" if speed is not None else "no fallback speed is laid down"
    figures = (Value("Fallback", speed, laid, design.speeds_said, NETWORK, "frequency"),)
    said = f"{laid[0].upper()}{laid[1:]}; {design.speeds_said}."
    return replace(made, verdict=said, figures=figures, tables=(table,), findings=(*made.findings, *more))


def _of_fallback(design):
    """Findings of the review that speak against the line of the fallback: its row says the same."""
    return tuple(one.finding for one in design.review.found if LINES.get(one.key) == FALLS)


def _room(bench, rest):
    """The place nearest to its most, in words, where none is out."""
    (_, most), asks = bench.limits, bench.settled
    room = np.where(asks[:, None], most - rest.places, np.inf)
    case, place = np.unravel_index(room.argmin(), room.shape)
    has, limit = bench.fine(rest.places[case, place]), bench.show(most[case, place])
    return f"none is out; nearest: {bench.place_text(place)} {has} of {limit} ({bench.cases[case].name})"


STAYS = (
    "all at the set point that stays, {}, the boxes as far open as the demand has them, whatever air they then pass. Under the reset by "
    "requests zones throttle their boxes to the air they ask for, so that the same set point takes less power there, and a place is judged "
    "by that air and not by its pressure"
)
SMOKE_ABOVE_M3_S = 0.944  # 2000 cfm of supply air
SMOKE_SOURCE = "IMC 606 and NFPA 90A, from memory, not verified"


def fan_section(design):
    """What is asked of the fan at most, and what is left of it."""
    bench, fan = design.bench, design.site.fan
    flow, power = (np.where(bench.settled, getattr(bench.held, name), -np.inf) for name in ("flow_m3_s", "power_w"))
    at, hot, top = int(flow.argmax()), int(power.argmax()), bench.speed_limits_hz[1]
    speed, source = float(bench.held.speed_hz[at]), f"{NETWORK}; one efficiency at all loads"
    left, full = top - speed, bench.at_speed(top).power_w
    most = int(full.argmax())
    losses = f"{top:g} Hz, wherever a hand, a wire or an alarm sends it: {bench.cases[most].name}; losses of motor and drive in"
    shaft = float(full[most]) * fan.motor_efficiency * fan.drive_efficiency
    figures = (
        figure("Largest flow asked", float(flow[at]), "flow", f"{bench.cases[at].name}, at {speed:.1f} Hz", NETWORK, 2),
        Value("Speed left", left, f"{left:.1f} Hz up to {top:g} Hz", "of that case", NETWORK, "frequency"),
        figure("Largest power that the loop asks", float(power[hot]), "power", bench.cases[hot].name, source, 1),
        figure(TOP_POWER, float(full[most]), "power", f"{losses}; feeder and fuses by the plates of motor and drive", source, 1),
        figure(
            "Motor",
            fan.motor_power_w,
            "power",
            f"{fan.motor_poles} poles; at {top:g} Hz {with_unit(shaft, 'power', 1)} at its shaft",
            SITE_FILE,
            1,
        ),
        *_smoke_above(design, float(flow[at])),
    )
    said = f"At most {with_unit(float(flow[at]), 'flow', 2)} in {bench.cases[at].name}, at {speed:.1f} Hz of {top:g} Hz."
    return _section(design, "fan", "Fan and drive", said, figures)


def _smoke_above(design, flow_m3_s):
    """The `Value` of the flow above which codes ask for a smoke detector in a supply duct, for a duct alone."""
    if design.site.kind == "duct":
        told = "more is asked of this fan" if flow_m3_s > SMOKE_ABOVE_M3_S else "less is asked of this fan; the local code decides"
        yield figure("A duct smoke detector is asked for above", SMOKE_ABOVE_M3_S, "flow", told, SMOKE_SOURCE, 2)


def settings_section(design):
    """What to enter, in trade terms."""
    columns = ("What", "Setting", "Value", "Why", "This device's own name for it")
    fails = fails_said(one for key in design.writers if key not in SIGNED for one in design.marked(key).findings)
    rows = [("first", "what fails", fail, "see its finding", "") for fail in fails]
    rows += [(line.group, line.name, line.value, line.why, "") for line in design.lines]
    note = "Enter, read back, and prove with injected signals. What a device does not have is left as a line drawn through."
    table = Table("settings", "Settings schedule", columns, tuple(rows), note=note)
    said = f"{len(design.lines)} lines to enter, read back and prove. The last column is blank for the name that the device gives each."
    return Section("settings", "Settings schedule", said, tables=(table,), notes=(note,))


def provenance_section(design):
    """Where the figures come from."""
    digest, site = site_hash(design.site)[:16], design.site
    invented = "invented, for teaching" if site.invented else "stated by its file"
    figures = (
        Value("Site", None, site.title, invented, SITE_FILE),
        Value(
            "Hash of the site's figures", None, digest, "SHA-256 of the site written out; the same figures give the same hash", SITE_FILE
        ),
        Value("Workbook", None, __version__, "version of the helpers package", "this workbook"),
        Value("Criteria", None, "none", "no standard judges a comfort plant here: each place by what the site file asks for", PRACTICE),
    )
    return Section("provenance", "Where the figures come from", f"Figures of {site.title}, hash {digest}, version {__version__}.", figures)


WRITERS = {
    "site": plant_section, "held": held_section, "rule": rule_section, "range": range_section, "signal": signal_section,
    "action": action_section, "tuning": tuning_section, "low-demand": low_demand_section, "failure": failure_section, "fan": fan_section,
    "settings": settings_section, "provenance": provenance_section,
}  # fmt: skip
