"""What the study of a duct's reset comes to, in words, tables and findings: its section of a duct's record."""

import numpy as np

from helpers.formulas.trim_and_respond import least_times
from helpers.studies.low_demand.duct_reset import (
    LONG_SHORT_S,
    MARGIN_HZ,
    SETTLE_S,
    SHORT_SHARE,
    STROKE_S,
    SWING_SHARE,
    DuctReset,
)
from helpers.studies.report import NETWORK, PRACTICE, SITE_FILE, Finding, Section, Table, Value, figure, listed, range_text, time_text
from helpers.studies.status import status_of, word_of, worst_of
from helpers.units.said import with_unit

LOWEST, HIGHEST, START, HELD = "Lowest set point", "Highest set point", "Set point after a start", "Held after a start"
INTERVAL, TRIM, RESPONSE, MOST = "Interval", "Trim", "Response", "Most response in one step"
IGNORED, ASKS, STROKE = "Requests ignored", "A zone asks", "Stroke of the actuators"
CHECK = word_of("attention")
LEAST_MORE = 0.005  # of the power: less is written as nothing
COSTS = 1.1  # times the power of the set point that stays, from which a trouble is told for its power alone; ours
KEY, TITLE = "reset", "Set point reset by requests"
GUIDELINE = "trim and respond: the open guideline for sequences, ASHRAE Guideline 36, from memory, not verified"
PLAYED = "zones, set point and fan run through in time, the second half of each run judged"
THROTTLED = (
    "each box throttled by its zone to the air that it asks for: at the same set point that is less power than with the boxes as far open "
    "as the demand has them, see what the loop holds"
)
BY_AIR = "judged by the air of the zones, at the set point that their requests bring, and not by the pressure of a place"
NEVER_IN_FIRE = "For comfort alone: in smoke control no request of a zone moves a set point, and the site file refuses it."
ZONES_HELP = (
    "a list of the zones that ask, and for how long; whoever asks all day is mended, or left out for a time; an alarm on a set point that "
    "stays at its highest"
)
READING_HELPS = "a signal with a live zero, so that a lost reading is told, and what the drive does then laid down: see the sequence"
SETTLED_ROOM = 0.75  # of the interval, in which the fan's loop should have settled; ours
SAW_TEETH = 1.5  # of one step up and one down: a set point that moves further to and fro hunts; ours


def reset_section(study: DuctReset) -> Section:
    """The `Section` of the study."""
    findings = tuple(_findings(study))
    tables = (demand_table(study), interval_table(study), change_table(study), trouble_table(study))
    return Section(KEY, TITLE, verdict(study), tuple(_figures(study)), tables, findings, notes=(NEVER_IN_FIRE,))


def verdict(study):
    """Who is worst off, and what is saved, in two sentences."""
    at, fixed, likely = worst_said(study.sound, study), study.fixed, study.likely
    saved = _saved(study)
    most, least = int((fixed.power_w - likely.power_w).argmax()), int(saved.argmin())
    change = f"{100 * abs(saved[least]):.0f} % {'more' if saved[least] < 0 else 'less'} in {study.demands[least]}"
    taken = listed(dict.fromkeys(study.demands[k % len(study.demands)] for k in range(len(study.sound.states)) if _stop_takes(study, k)))
    stop = study.site.control.low_demand
    check = f"By demand {CHECK} is {taken}: the low-demand stop, below {stop.stop_below_hz:g} Hz, was not played. " if taken else ""
    return (
        f"{check}Worst off is {at}; fan power {change}. "
        f"Beside a set point that stays at {_pa(study.site.control.set_point_pa)} the fan takes "
        f"{100 * saved[most]:.0f} % less in {study.demands[most]} "
        f"({_watt(likely.power_w[most])} for {_watt(fixed.power_w[most])})."
    )


def _saved(study):
    """Share of the fan's power that the reset saves, by demand."""
    return 1 - study.likely.power_w / study.fixed.power_w


def worst_said(ended, study):
    """The run whose zones have least of their air, in words; of several that are as badly off to a tenth of a per cent, the first."""
    at = int(ended.share.round(3).argmin())
    place, demand = study.duct.places[ended.section[at]], study.demands[at % len(study.demands)]
    return f"{place} in {demand}, with {100 * ended.share[at]:.0f} % of the air it asks for (short under {100 * SHORT_SHARE:.0f} %)"


def _figures(study):
    reset, zones = study.reset, int(sum(section.zones for section in study.site.sections if section.boxes_flow_m3_s))
    held, most = time_text(reset.hold_s), _pa(reset.respond_most_pa)
    strokes = f"{listed(f'{stroke:g}' for stroke in study.strokes_s)} s"
    stated = SITE_FILE if study.site.boxes.stroke_s is not None else f"{CHECK}: not stated, the ends and the middle of {STROKE_S.source}"
    asks = f"from {100 * reset.asks_above:.0f} % open until back at {100 * reset.asks_until:.0f} %"
    yield figure(LOWEST, reset.lowest_pa, "pressure", "the set point is trimmed no further", SITE_FILE)
    yield figure(HIGHEST, reset.highest_pa, "pressure", "it responds no further", SITE_FILE)
    yield figure(START, reset.start(study.site), "pressure", f"for {held}, and while the fan is stopped", SITE_FILE)
    yield Value(HELD, reset.hold_s, held, "until the dampers have found their places", SITE_FILE, "time")
    yield Value(INTERVAL, reset.interval_s, time_text(reset.interval_s), "from one step to the next", SITE_FILE, "time")
    yield figure(TRIM, reset.trim_pa, "pressure", "down, at every step that does not respond", GUIDELINE)
    yield figure(RESPONSE, reset.respond_pa, "pressure", "up, for each request above the ignored", GUIDELINE)
    yield Value(MOST, reset.respond_most_pa, most, "up, in one step", GUIDELINE, "pressure")
    yield Value(IGNORED, float(reset.ignored), f"{reset.ignored} of {zones} zones", "so many that ask move nothing", SITE_FILE)
    yield Value(ASKS, None, asks, "by its damper's position", GUIDELINE)
    yield Value(STROKE, study.stroke_s, strokes, "from shut to wide open", stated, "time")


def demand_table(study):
    """`Table` of the demands: set point, air, speed and power with the reset, and power with the set point that stays."""
    rows, states, count = [], [], len(study.demands)
    for at, state in enumerate(study.sound.states):
        one, fixed = (ended.rows(slice(k, k + 1)) for ended, k in ((study.sound, at), (study.fixed, at % count)))
        stroke = f", stroke {study.strokes_s[at // count]:g} s" if len(study.strokes_s) > 1 else ""
        ends = range_text(float(one.lowest_pa[0]), float(one.highest_pa[0]), "pressure")
        stopped = _stop_takes(study, at)
        rows.append((f"{study.demands[at % count]}{stroke}{f' ({CHECK}: {stopped})' * bool(stopped)}", ends, f"{one.asking[0]:.0f}",
                     f"{100 * one.share[0]:.0f} %, {study.duct.places[one.section[0]]}", f"{100 * fixed.share[0]:.0f} %",
                     f"{one.speed_hz[0]:.1f} Hz", _watt(one.power_w[0]), _watt(fixed.power_w[0])))  # fmt: skip
        states.append(worst_of([str(state), *["attention"] * bool(stopped)]))
    columns = ("Demand", "Set point", "Requests at most", "Least air of what is asked", "The same, set point that stays", "Fan speed, mean",
               "Power", "Power, set point that stays")  # fmt: skip
    return Table("demands", "By demand", columns, tuple(rows), tuple(states), f"{PLAYED}; {THROTTLED}; {NETWORK}")


def _stop_takes(study, at):
    """Words for a run (number) that the low-demand stop, which is not played, would take: slower than its threshold all the time judged."""
    stop = study.site.control.low_demand
    if stop is None or not study.sound.fastest_hz[at] < stop.stop_below_hz or study.length_s / 2 < stop.stop_after_s:
        return ""
    return f"played without the low-demand stop, which takes it: below {stop.stop_below_hz:g} Hz all the time, it stops and starts again"


def interval_table(study):
    """`Table` of other intervals: how far set point and speed go to and fro, and the least air, in the demand that is worst."""
    rows, states = [], []
    for interval, ended in study.by_interval().items():
        at, worst = int(ended.swing_pa.argmax()), int(ended.share.argmin())
        own = ", the site's own" if interval == study.reset.interval_s else ""
        rows.append((f"{time_text(interval)}{own}", f"{_pa(ended.swing_pa[at])} in {study.demands[at]}", f"{ended.swing_hz.max():.1f} Hz",
                     worst_said(ended, study), time_text(_climbs_s(study, interval))))  # fmt: skip
        states.append(worst_of([str(ended.states[worst]), *(["attention"] * hunts(study, ended))]))
    columns = ("Interval", "Set point to and fro, most", "Speed to and fro, most", "Least air", "From lowest to highest, at the least")
    note = f"actuators with {study.strokes_s[-1]:g} s of stroke, the slowest tried; {PLAYED}"
    return Table("intervals", "By interval", columns, tuple(rows), tuple(states), note)


def _climbs_s(study, interval):
    reset = study.reset
    return float(least_times(reset.lowest_pa, reset.highest_pa, reset.trim_pa, reset.respond_most_pa, interval)[0])


def hunts(study, ended):
    """Whether a set point goes further to and fro than one step up and one down, or the fan is heard to swing."""
    reset, top = study.reset, study.site.fan.highest_speed_hz
    far = ended.swing_pa.max() > SAW_TEETH * (reset.respond_most_pa + max(reset.trim_pa, reset.respond_pa))
    return bool(far or ended.swing_hz.max() > SWING_SHARE * top)


def change_table(study, shown=6):
    """`Table` of the changes of demand that leave zones short for longest, beside the set point that stays."""
    found, fixed = study.changes, study.fixed_changes
    order = np.lexsort((found.share, -found.short_s, ~found.still))[:shown]
    rows = tuple(
        (f"{found.before[at]} to {found.after[at]}" + (f", stroke {found.stroke_s[at]:g} s" if len(study.strokes_s) > 1 else ""),
         time_text(found.short_s[at]), f"{100 * found.share[at]:.0f} %, {study.duct.places[found.section[at]]}",
         time_text(fixed.short_s[at]))
        for at in order
    )  # fmt: skip
    states = tuple(_change_state(study, at) for at in order)
    columns = ("Change at once", "Some zone is short for", "Least air of what is asked", "Short with the set point that stays")
    note = (
        f"from the lowest set point; short: less than {100 * SHORT_SHARE:.0f} % of the air asked for. Judged by how long that lasts, "
        f"{time_text(LONG_SHORT_S)} at the most, ours, and not by the least air, which is that of one moment and may be none at all"
    )
    return Table("changes", "Changes of demand, the worst first", columns, rows, states, note)


def _change_state(study, at):
    still, fixed = study.changes.still[at], study.fixed_changes.still[at]
    late = status_of(study.changes.short_s[at], LONG_SHORT_S)
    return "wrong" if still and not fixed else "attention" if still or late == "wrong" else "good"


def trouble_table(study):
    """`Table` of what can be wrong: the least air, the set point and the power in the demand that is worst."""
    rows, states = [], []
    for what, ended in study.troubles.items():
        state, at = _trouble_state(study, ended)
        rows.append((what, worst_said(ended, study), f"{_pa(ended.set_point_pa.max())}",
                     f"{_watt(ended.power_w[at])} in {study.demands[at]}, {_watt(study.likely.power_w[at])} without"))  # fmt: skip
        states.append(state)
    columns = ("What is wrong", "Least air", "Highest mean set point", "Power, where it is most beyond the sound one")
    return Table(
        "troubles",
        "What breaks it",
        columns,
        tuple(rows),
        tuple(states),
        f"each alone, in every demand; {word_of('attention')}, too, where the set point is kept at its highest; {BY_AIR}; {NETWORK}",
    )


def _trouble_state(study, ended):
    """(status, demand that costs most) of a trouble: past the air's limit, or at more power than the set point that stays."""
    extra = ended.power_w - study.likely.power_w
    costs = bool(np.any(ended.power_w > np.maximum(study.fixed.power_w, study.likely.power_w) * COSTS))
    air = worst_of(str(state) for state in ended.states)
    return worst_of([air, *["attention"] * (costs or bool(_pegged(study, ended)))]), int(extra.argmax())


def _pegged(study, ended):
    """The demands in which a trouble holds the set point at its highest, in words, where sound zones and readings do not; "" for none."""
    top = study.reset.highest_pa - study.reset.trim_pa
    held = (ended.set_point_pa >= top) & (study.likely.set_point_pa < top)
    return listed(study.demands[at % len(study.demands)] for at in np.flatnonzero(held))


def _findings(study):
    yield from _air_findings(study)
    yield from _course_findings(study)
    yield from _trouble_findings(study)
    yield from _idle_findings(study)


def _air_findings(study):
    ended, saved = study.sound, _saved(study)
    helps = "a higher highest set point, fewer requests ignored, or a larger response"
    short = f"less than {100 * SHORT_SHARE:.0f} % is short, ours"
    state = worst_of(str(one) for one in ended.states)
    yield Finding(state, "Air of the zones with the reset", worst_said(ended, study), short, PLAYED, helps, settings=((KEY, HIGHEST),))
    top = study.site.fan.highest_speed_hz - 1e-6
    full = listed(dict.fromkeys(study.demands[at % len(study.demands)] for at in np.flatnonzero(ended.fastest_hz >= top)))
    if full:
        why = "a set point that the fan cannot hold rises to the highest and stays there"
        remedy = "a lower highest set point, a stronger fan"
        yield Finding("wrong", "The fan is at full speed under the reset", f"in {full}", why, NETWORK, remedy, settings=((KEY, HIGHEST),))
    left = listed(name for name, out in zip(study.demands, study.fixed.states == "wrong", strict=True) if out)
    if left:
        why = "it is what the reset is held against"
        yield Finding("attention", "The set point that stays leaves zones short", f"in {left}", why, PLAYED, "a higher set point")
    worse = listed(f"{name} {100 * -share:.0f} %" for name, share in zip(study.demands, saved, strict=True) if share < -LEAST_MORE)
    if worse:
        why = "dampers that are nearly wide open ask, though their zones have their air"
        remedy = "it is the price of zones that are not throttled; a lower highest set point bounds it"
        yield Finding("attention", "The reset takes more power than the set point that stays", f"in {worse} more", why, PLAYED, remedy)


def _course_findings(study):
    reset, found, own = study.reset, study.changes, study.by_interval()[study.reset.interval_s]
    interval = time_text(reset.interval_s)
    swing = f"{_pa(own.swing_pa.max())} to and fro in the last {time_text(study.length_s / 2)}, fan {own.swing_hz.max():.1f} Hz"
    why = "trim and respond never rests while some zone needs it: steps up, several down"
    remedy = "asks_until nearer to asks_above, a smaller response, a longer interval, quicker actuators"
    state = "attention" if hunts(study, own) else "good"
    yield Finding(state, "The set point goes to and fro", swing, why, PLAYED, remedy, settings=((KEY, RESPONSE),))
    states = [_change_state(study, at) for at in range(len(found.short_s))]
    if states:
        at = int(np.lexsort((found.share, -found.short_s, ~found.still))[0])
        lasts = f"still after {time_text(study.length_s / 4)}" if found.still[at] else f"for {time_text(found.short_s[at])}"
        why = f"it climbs by {_pa(reset.respond_most_pa)} in {interval} at the most; looked at beyond {time_text(LONG_SHORT_S)}, ours"
        remedy = "a larger response in one step, a shorter interval, a higher lowest set point"
        told = f"{found.before[at]} to {found.after[at]}: {lasts}"
        yield Finding(worst_of(states), "Zones short after a change of demand", told, why, PLAYED, remedy, settings=((KEY, MOST),))
    yield _settling(study, interval)
    slow, stated = study.strokes_s[-1], study.site.boxes.stroke_s is not None
    said = f"stroke {slow:g} s{'' if stated else ', not stated'}; interval {interval}"
    why, remedy = "dampers that are still on their way go on asking", "a longer interval, quicker actuators, their stroke in the site file"
    state = "good" if slow <= reset.interval_s and stated else "attention"
    yield Finding(state, "An actuator's stroke is shorter than the interval", said, why, PRACTICE, remedy, settings=((KEY, INTERVAL),))


def _settling(study, interval):
    """The `Finding` on the fan's loop beside the interval."""
    times, names, most = study.settles_s, study.demands, study.reset.interval_s
    lost = np.isnan(times)
    if lost.any():
        state, said = "wrong", f"not within {time_text(SETTLE_S)} in {names[int(lost.argmax())]}"
    else:
        longest = float(times.max())
        state = "wrong" if longest > most else "good" if longest <= SETTLED_ROOM * most else "attention"
        said = f"after {time_text(longest)} in {names[int(times.argmax())]}"
    why = "a request that is counted while the fan is still on its way asks for what is coming already"
    source, remedy = "the loop in time, one step up of the set point from the lowest", "a longer interval, or the loop tuned quicker"
    said = f"{said}; interval {interval}"
    return Finding(state, "The fan's loop settles within an interval", said, why, source, remedy, settings=((KEY, INTERVAL),))


def _trouble_findings(study):
    for what, ended in study.troubles.items():
        state, at = _trouble_state(study, ended)
        if state == "good":
            continue
        power = f"{_watt(ended.power_w[at])} in {study.demands[at]}, {_watt(study.likely.power_w[at])} without"
        helps = READING_HELPS if what.endswith(("reads zero", "left out")) else ZONES_HELP
        why = "a reset believes every zone and every reading"
        held = _pegged(study, ended)
        kept = f"; the set point stays at its highest in {held}" * bool(held)
        yield Finding(state, f"If {what}", f"{worst_said(ended, study)}; {power}{kept}", why, PLAYED, helps, possible=True)


def _idle_findings(study):
    idle = study.idle
    if idle is None:
        return
    own, reset, start = study.duct.low_demand_rule(), study.reset, study.reset.start(study.site)
    low, high = idle.idle_hz + MARGIN_HZ, idle.duty_hz - MARGIN_HZ
    said = f"idle {idle.idle_hz:.1f} Hz, lowest duty {idle.duty_hz:.1f} Hz, stop below {own.stop_below_hz:g} Hz, margin {MARGIN_HZ:g} Hz"
    why = "with a lower set point fan and duties run more slowly: a threshold found at a set point that stays is another one"
    remedy = f"a threshold between {low:.1f} and {high:.1f} Hz" if low < high else "no threshold is right: leave the stop out"
    state = "good" if idle.verdict == "right" else "wrong"
    what = f"Low-demand stop with the reset: {idle.verdict}"
    yield Finding(state, what, said, why, PLAYED, remedy, settings=(("low demand", "stop below"),))
    if not idle.restarts:
        said = f"restart at {_pa(own.restart_error)} below the set point, which waits at {_pa(start)}"
        why = "a stopped fan's reading falls to nothing and no lower, give or take the transmitter's error"
        remedy = f"a restart deficit well below {_pa(start)}"
        yield Finding("wrong", "A stopped fan stays off", said, why, NETWORK, remedy, settings=(("low demand", "restart"),))
    if idle.idle_at_start_hz >= own.stop_below_hz:
        late = reset.hold_s + float(least_times(reset.lowest_pa, start, reset.trim_pa, reset.respond_most_pa, reset.interval_s)[1])
        why = f"at the start's set point it idles at {idle.idle_at_start_hz:.1f} Hz, not below {own.stop_below_hz:g} Hz"
        what = "After a start the fan does not stop before the set point is trimmed down"
        yield Finding("attention", what, f"up to {time_text(late)}", why, NETWORK, "a lower set point after a start")


def _pa(value):
    return with_unit(float(value), "pressure")


def _watt(value):
    return f"{value / 1000:.2f} kW" if value >= 1000 else f"{value:.0f} W"
