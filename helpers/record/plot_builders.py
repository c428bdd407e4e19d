"""From studies to plots, a door event, pairs of storeys and a year of weather included: what is drawn, its labels and captions."""

import math
from dataclasses import replace

import numpy as np

from helpers.formulas import fan as fans
from helpers.formulas import signals
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3, fan_points, inlet_density_ratio
from helpers.plots.charts import SHARE_CLASSES, Profile, fan_curves, figure, heat_map, profile, share_axis, trend
from helpers.plots.plot import Axes, Axis, Band, Line, Plot, Words, bar, level, round_ends
from helpers.plots.style import GRID, INK, MUTED, SERIES, WARNING, WINDOW, Fill, Pen, mark_pen
from helpers.studies.cases import conditions_of, same_but_stair_air
from helpers.studies.doors.year import MONTHS
from helpers.studies.placement.results import percent
from helpers.studies.report import limit_text, listed
from helpers.studies.signals.plates import plate_ends, plate_text
from helpers.studies.status import STATUSES
from helpers.units.said import drawn, two, with_unit

CURVE_POINTS = 41
SYSTEM_SPEEDS = 9  # of the line that stair and duct follow


def storey_profiles(tower, comparison, rule):
    """Pressures across the stair doors under one rule: every weather and open door with the stair's air as stated, the first also in its
    first minute and after an hour. A list of `Profile`."""
    result, doors, (first, *others) = comparison[rule], _with_stair_door(tower), same_but_stair_air(comparison.cases)
    found = []
    for place in sorted([*first, *(same[0] for same in others)]):
        case = comparison.cases[place]
        opened = np.isin(tower.levels, case.open_doors)
        dp = np.where(doors & ~opened, result.door_dp_pa[place], np.nan)
        out = result.low[place] & doors, result.high[place] & doors
        state, speed = str(result.state[place]), float(result.speed_hz[place])
        found.append(Profile(case.name, dp, *out, opened, state, speed, result.readings_pa[place]))
    return found


def with_stair_temperature(profiles, stair_c):
    """Some profiles for a legend, the first with the one temperature that its whole stair has; a stair's own air is another."""
    first, *others = profiles
    return [replace(first, label=f"{first.label}, all {with_unit(stair_c, 'temperature')}"), *others]


def _with_stair_door(tower):
    return np.array([bool(storey.stair_door and storey.stair_door_count) for storey in tower.site.storeys])


def pressure_profile(tower, window, comparison, profiles, title, key="profile", **looks):
    """Profiles of a building's stair doors, storey by storey, against their window; looks: as in `charts.profile`. Returns `Plot`."""
    doors = _with_stair_door(tower)
    least, most = (np.where(np.isfinite(ends) & doors, ends, np.nan) for ends in window.by_storey(tower.levels, "stair door"))
    taps = [(tap.name, tower.storey(tap.level)) for tap in comparison.transmitters]
    across = Axis("Pressure across the stair door", "pressure")
    levels = tuple(str(level) for level in tower.levels)
    point = comparison.set_point_pa
    return profile(key, title, across, levels, tower.elevation_m, (least, most), profiles, taps, point, **looks)


def final_exits(tower, window, result, places=(0,)):
    """The final exits in the worst for each of some cases of a `RuleResult`, as `charts.profile` draws them: (number of the storey,
    pressure, most pressure [Pa]), NaN for the pressure of one that stands open. places: of the cases."""
    most = window.by_storey(tower.levels, "final exit")[1]
    across = np.fmax.reduce(
        [np.where(np.isin(tower.levels, result.cases[place].open_exits), np.nan, result.held.air.exit_dp_pa[place]) for place in places]
    )
    there = [number for number, storey in enumerate(tower.site.storeys) if storey.final_exit_door and np.isfinite(most[number])]
    return tuple((number, float(across[number]), float(most[number])) for number in there)


def rule_profile(tower, window, comparison, rule):
    """What one rule does to every stair door, in the cases of `storey_profiles`. Returns `Plot`."""
    title = f"{rule.capitalize()} reading held at {with_unit(comparison.set_point_pa, 'pressure')}"
    caption, profiles = _profile_caption(comparison[rule]), storey_profiles(tower, comparison, rule)
    return pressure_profile(tower, window, comparison, profiles, title, f"profile {rule}", caption=caption, stair_alone=True)


def rules_compared(design, case=0):
    """All rules beside each other in one of the cases of `storey_profiles`, by its number. Returns `Plot`. Raises ValueError for a case
    that is not there."""
    tower, comparison = design.tower, design.rules
    found = {result.rule: storey_profiles(tower, comparison, result.rule) for result in comparison.results}
    cases = [one.label for one in next(iter(found.values()))]
    if case not in range(len(cases)):
        raise ValueError(f"case must be a number from 0 to {len(cases) - 1} ({', '.join(cases)}); got {case!r:.60}")
    profiles = [replace(profiles[case], label=f"{rule} reading") for rule, profiles in found.items()]
    out = listed([f"{rule} {int((one.low | one.high).sum())}" for rule, one in zip(found, profiles, strict=True)])
    title = f"{cases[case]}: doors out by {out}"
    return pressure_profile(tower, design.window, comparison, profiles, title, f"rules {case}", stair_alone=True)


def _profile_caption(result):
    return " ".join(f"{case.name}: {result.case_text(place)}." for place, case in enumerate(result.cases))


def fan_chart(tower, duty):
    """The fan's curve at full speed and at the design duty, what duct and stair ask for, the duty points, and what is asked with margins.

    Of cases that differ in the stair's air alone the one of most flow stands for all, beside it the one whose speed is drawn.
    Returns `Plot`.
    """
    place = duty.design
    case, speed = duty.cases[place], float(duty.speed_hz[place])
    # flow and fan pressure as the speed rises from shut-off to full, in one case: what duct and stair ask for
    conditions = conditions_of(tower.site, [case]).rows(np.zeros(SYSTEM_SPEEDS, int))
    lowest = min(float(duty.shutoff_speed_hz[duty.design]), 0.9 * duty.full_speed_hz)
    air = tower.solve(conditions, np.linspace(max(0.5 * lowest, 1e-3), duty.full_speed_hz, SYSTEM_SPEEDS))
    flow, pressure, _ = fan_points(tower, air, conditions)
    curves = (
        _fan_curve(tower, speed, case, "duty"),
        _fan_curve(tower, duty.full_speed_hz, case, "full speed"),
        ("duct and stair", flow, pressure, False),
    )
    most = [max(places, key=lambda place: duty.flow_m3_s[place]) for places in same_but_stair_air(duty.cases)]
    most = sorted({*most, place})  # the one whose speed is drawn is among them
    points = (*(_duty_point(duty, place) for place in most), *_asked_point(duty.needed, place))
    title, caption = "Fan curve and duty points", duty.verdict()
    return fan_curves("fan", title, curves, points, flow="Flow at the inlet", caption=caption)


def _duty_point(duty, place):
    label = f"{duty.cases[place].name}, {with_unit(duty.speed_hz[place], 'frequency')}"
    return label, float(duty.flow_m3_s[place]), float(duty.pressure_pa[place]), "good" if duty.state[place] == "held" else "attention"


def _asked_point(needed, place):
    """What the required cases ask for, with margins, in the air that the curves are drawn in, of the case `place`; none where no fan, or
    none that there is, holds them."""
    if needed.reached[needed.required].all() and needed.usual:
        asked = float(needed.flow_m3_s[needed.design]), float(needed.standard_pa[needed.steepest] * needed.density_ratio[place])
        enough = bool(needed.with_margins[needed.required].all())
        catalogue, drawn = (with_unit(pressure, "pressure") for pressure in (float(needed.standard_pa[needed.steepest]), asked[1]))
        densities = (REFERENCE_DENSITY_KG_M3, REFERENCE_DENSITY_KG_M3 * float(needed.density_ratio[place]))
        standard, own = (with_unit(density, "density") for density in densities)
        yield (
            f"asked, with margins: {catalogue} at {standard} (catalogue), drawn as {drawn} at {own}",
            *asked,
            "good" if enough else "wrong" if not needed.enough else "attention",
        )


def _fan_curve(tower, speed_hz, case, name):
    """The catalogue curve, duct loss not taken off, at a speed and the air of a case's weather."""
    fan, ratio = tower.site.fan, speed_hz / tower.site.fan.reference_speed_hz
    flow = tower.curve.flow
    duct = fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2
    head = inlet_density_ratio(tower, conditions_of(tower.site, [case]))[0]
    pressure = (tower.curve.pressure + duct) * ratio**2 * head
    every = np.linspace(0, flow.size - 1, CURVE_POINTS).round().astype(int)
    return f"{name}, {with_unit(speed_hz, 'frequency')}", flow[every] * ratio, pressure[every], True


def speed_curve(fan, label, speed_hz, density_ratio):
    """A fan's own curve, without its duct, at a speed, in air of so many times the density its curve was measured in: (label, flows,
    pressures, True), as `charts.fan_curves` takes it."""
    ratio = speed_hz / fan.reference_speed_hz
    flows = np.linspace(0.0, max(fan.flows_m3_s), CURVE_POINTS)
    pressures = fans.pressure_at_flow(flows, fan.flows_m3_s, fan.standard_pressures_pa) * ratio**2 * density_ratio
    return label, flows * ratio, pressures, True


FLOW_BAR, WHOLE_FLOW, DOWNWARD, UPWARD = 0.62, *(Fill(pen.colour, width=1.0) for pen in SERIES[:3])


@drawn
def flow_steps(ladder, *, system):
    """The way from hand flow to network flow: first and last bar whole flows, between them what each step adds or takes; rungs at which the
    pressure could not be held are left out. Returns `Plot`."""
    rungs = [rung for rung in ladder.rungs if rung.held]
    flows, last = np.array([rung.flow_m3_s for rung in rungs]), len(rungs) - 1
    across = Axis("Supply air", "flow", round_ends(flows, "flow", system))
    shown, air = across.shown(flows, system), 0.012 * across.ends[1]
    changes, digits = np.diff(shown, prepend=shown[:1]), max(0, 2 - math.floor(math.log10(max(shown))))
    bars, words = [], []
    for row, (flow, change) in enumerate(zip(flows, changes, strict=True)):
        whole = row in (0, last)
        begin = 0.0 if whole else flows[row - 1]
        bars.append(
            bar(row, begin, flow, FLOW_BAR, WHOLE_FLOW if whole else UPWARD if change >= 0 else DOWNWARD, 3, label=rungs[row].label)
        )
        said = f"{change:+.{digits}f}".replace("-", "−")
        said = said if not whole else f"{shown[row]:.{digits}f}" + (f" ({said})" if row else "")
        words.append(Words(said, max(begin, flow) + air, row))
    links = [Line((flow, flow), (row, row + 1), Pen(MUTED, width=1.0), order=2) for row, flow in enumerate(flows[:-1])]
    labels = [rung.label for rung in rungs]
    up = Axis(ends=(last + 0.6, -0.6), ticks=(np.arange(last + 1), labels), pad=3.5, grid=False)
    title, told = (
        "Supply air, hand calculation and network",
        "; ".join(f"{one}: {flow:.3g}" for one, flow in zip(labels, shown, strict=True)),
    )
    told = f"{title} ({across.text(system)}): {told}."
    axes = Axes(across, up, (*bars, *links, *words), title, (250, 110, 62, 56))
    return Plot("flow", title, (axes,), told, ladder.verdict(), height_px=400, system=system)


RANGE_BAR, REACH = 0.5, 2.0  # of a row; of the axis, over the largest pressure measured
STATE_WORDS = {key: status.word for key, status in STATUSES.items()} | {"": ""}
CHOSEN = "chosen"
# What a transmitter meets: pen, word, and the side of its line where the word stands.
MET = ((Pen(INK, width=1.8), "set point", "center"), (Pen(WARNING, (0, (5, 2)), 1.8), "peak", "left"),
       (Pen(MUTED, (0, (1, 1.5)), 1.8), "lowest", "right"))  # fmt: skip


@drawn
def range_chart(advice, *, system):
    """All ranges judged, a bar a range, over the pressure window and what is met; the one chosen is full and says so. An end far beyond is
    cut off at the edge. Returns `Plot`."""
    met = advice.set_point_pa, advice.peak_pa, advice.lowest_pa
    reach = REACH * max(abs(value) for value in (*met, *advice.window_pa) if value is not None)
    lows, highs = ([getattr(choice, end) for choice in advice.choices] for end in ("low_pa", "high_pa"))
    across = Axis("Pressure", "pressure", round_ends([max(min(lows), -reach), min(max(highs), reach)], "pressure", system))
    labels, states = [choice.text() for choice in advice.choices], [advice.state(choice) for choice in advice.choices]
    chosen = advice.chosen.text()
    layers = [Band(np.array(advice.window_pa, float), 0.0, 1.0, Fill(WINDOW), "window", 0, "x", still=True)]
    for row, (label, state, *ends) in enumerate(zip(labels, states, lows, highs, strict=True)):
        fill = Fill(SERIES[0].colour) if label == chosen else Fill(GRID, MUTED, "//" if state == "wrong" else "", 1.0)
        layers.append(bar(row, *ends, RANGE_BAR, fill, still=True, label=label))
        for end, edge, arrow in zip(ends, across.ends, "<>", strict=True):
            if abs(end) > abs(edge):  # it goes on
                layers.append(Line((edge,), (row,), Pen(MUTED, "", marker=arrow, size=9.0), order=3, clip=False, still=True))
        layers.append(Line((1.025,), (row,), mark_pen(state, 9.0, None), order=2, over="y", clip=False, still=True))
        words = CHOSEN if label == chosen else STATE_WORDS[state]
        layers.append(Words(words, 1.05, row, bold=label == chosen, order=3, over="y", still=True))
    for value, (pen, word, side) in zip(met, MET, strict=True):
        layers += [level(value, "x", pen, word, 4), Words(word, value, 1.0, side, "bottom", pen.colour, over="x", lane="rows")]
    up = Axis(ends=(len(labels) - 0.4, -0.6), ticks=(np.arange(len(labels)), labels), pad=10.0, grid=False)
    shown = [figure(value, "pressure") for value in met]
    judged = [f"{label}: {STATE_WORDS[state]}" for label, state in zip(labels, states, strict=True) if STATE_WORDS[state]]
    told = (
        f"Transmitter ranges ({across.text(system)}): {CHOSEN}: {chosen}; set point {shown[0]}, lowest {shown[2]}, highest peak "
        f"{shown[1]}. {'; '.join(judged)}."
    )
    axes = Axes(across, up, tuple(layers), "Transmitter ranges", (300, 150, 62, 76))
    return Plot("range", axes.title, (axes,), told, advice.verdict(), height_px=450, system=system)


LADDER_PX = 290  # of the names beside it


@drawn
def signal_ladder(transmitter, advice, place=0, *, system):
    """A transmitter's signal against its pressure, its accuracy as a band, with five rungs and with set point, window and peak on it.
    place: its number. Returns `Plot`."""
    low, high, unit = signals.SIGNALS[transmitter.signal]
    percent = np.array([0.0, 25.0, 50.0, 75.0, 100.0])
    sent = low + (high - low) * percent / 100
    ends = transmitter.range_low_pa, transmitter.range_high_pa
    pressures = signals.to_units(sent, transmitter.signal, *ends)
    up = Axis("Pressure", "pressure", round_ends(pressures, "pressure", system), grid=False)
    shown = [f"{pressure:.3g}" for pressure in up.shown(pressures, system)]
    up = replace(up, ticks=(pressures, shown))
    across = Axis(f"Signal [{unit}]", ends=round_ends(sent, "", system), ticks=(sent, [f"{one:g}" for one in sent]), grid=False)
    dashed, layers = Pen(MUTED, (0, (2, 2)), 1.0), []
    for per_cent, signal, pressure in zip(percent, sent, pressures, strict=True):
        layers.append(Line((signal, signal, across.ends[0]), (up.ends[0], pressure, pressure), dashed, order=1, still=True))
        layers.append(Words(f"{per_cent:g} %", signal, 1.01, "center", "baseline", order=3, over="x", still=True))
    accuracy = float(signals.accuracy(*ends, transmitter.accuracy_percent_span))
    layers.append(Band(sent, pressures - accuracy, pressures + accuracy, Fill(WINDOW, WINDOW, width=1.0), still=True))
    layers.append(Line(sent, pressures, SERIES[0], "signal", 2, still=True))
    least, most = advice.window_pa
    named = {"least": least, "set point": advice.set_point_pa, "most": most, "peak": advice.peak_pa}
    marks = [_ladder_mark(name, value, transmitter) for name, value in named.items() if value is not None]
    for words, signal, pressure, state in marks:
        layers.append(Line((signal,), (pressure,), mark_pen(state), words, 4))
        layers.append(Words(words, 1.0, pressure, order=3, over="y", lane="right"))
    title = _ladder_title(transmitter)
    rungs = ", ".join(f"{p:g} % is {one:g} and {said}" for p, one, said in zip(percent, sent, shown, strict=True))
    told = "; ".join(f"{words} at {signal:.3g}" for words, signal, *_ in marks)
    told = f"{title} ({across.label}; {up.text(system)}): {rungs}. {told}."
    axes = Axes(across, up, tuple(layers), title, (96, LADDER_PX, 62, 72))
    return Plot(f"signal {place}", title, (axes,), told, _ladder_caption(transmitter, advice), height_px=430, system=system)


def _ladder_mark(name, value_pa, transmitter):
    """A pressure on the ladder, held at the end of the range where it lies beyond: (words, signal, pressure, state)."""
    low, high, unit = transmitter.range_low_pa, transmitter.range_high_pa, signals.SIGNALS[transmitter.signal][2]
    sent, seen = _signal(value_pa, transmitter), min(max(value_pa, low), high)
    label = f"{name}: {with_unit(value_pa, 'pressure')}, {sent:.2f} {unit}"
    return label, sent, float(seen), "good" if seen == value_pa else "attention"


def _signal(value_pa, transmitter):
    """Signal for a pressure, held at the ends of the range as a transmitter does."""
    return float(signals.to_signal(value_pa, transmitter.signal, transmitter.range_low_pa, transmitter.range_high_pa))


def ladder_said(transmitter, advice):
    """A transmitter's signal and range, and where the set point lies on it, in words."""
    return f"{_ladder_title(transmitter)}. {_ladder_caption(transmitter, advice)}"


def _ladder_title(transmitter):
    return f"{transmitter.name}: {transmitter.signal} for {plate_text(transmitter.range_low_pa, transmitter.range_high_pa)}"


def _ladder_caption(transmitter, advice):
    low, high, unit = signals.SIGNALS[transmitter.signal]
    span = transmitter.range_high_pa - transmitter.range_low_pa
    step = with_unit(span / (high - low), "pressure", (1, 3))
    ends = plate_ends(transmitter.range_low_pa, transmitter.range_high_pa)
    return (
        f"{low:g} {unit} is {ends[0]}, {high:g} {unit} is {ends[1]}: {step} for each {unit}. The set point lies at "
        f"{_signal(advice.set_point_pa, transmitter):.2f} {unit}."
    )


HOUR_LABELS = 3  # every so many hours bear their number
MAPPED_RULE = "average"


def door_trend_picture(trend_of, study, window, first=""):
    """Pressure across the worst shut door, and the fan's speed, with both tunings; first: why the proposed one is not laid down yet, in
    words, "" where it is. Returns `Plot`."""
    names = [f"the site's own: gain {two(study.own.gain)} %/%, integral time {two(study.own.integral_s)} s"]
    if study.recommended:
        told = "found, not to be entered" if first else "proposed"
        names.append(f"{told}: gain {two(study.recommended.gain)} %/%, integral time {two(study.recommended.integral_s)} s")
    upper, lower = (
        [Line(trend_of.time_s, values[:, number], label=name) for number, name in enumerate(names)]
        for values in (trend_of.door_pa, trend_of.speed_hz)
    )
    ends = zip(("least", "most"), window.by_storey([trend_of.level], "stair door"), strict=True)
    limits = [(f"{kind} {limit_text(pa[0], 'pressure', kind)}", pa[0], kind) for kind, pa in ends if np.isfinite(pa[0])]
    what = f"{'final exit' if trend_of.door[1] == 'exit' else 'stair door'} {trend_of.door[0]}"
    events = (f"{what} opens", trend_of.opens_s), (f"{what} shuts", trend_of.shuts_s)
    axes = (Axis(f"Door {trend_of.level}", "pressure"), upper, limits), (Axis("Fan speed", "frequency"), lower, ())
    title, caption = f"{study.site_name}, {trend_of.weather}: {what} opens and shuts", _caption(trend_of, study)
    return trend("door event", title, "Time [s]", axes, events, columns=1, caption=caption)  # names as long as half the picture


def cooling_trend(study):
    """Lowest and highest door of a stair and its mean temperature over time; study: a `CoolingStudy`. Returns `Plot`."""
    minutes = np.array([moment.minute for moment in study.moments])
    ends = [(f"storey {study.levels[place]}", study.door_dp_pa[:, place]) for place in sorted({0, len(study.levels) - 1})]
    bounds = [("least of all doors", [m.least_pa for m in study.moments]), ("most of all doors", [m.most_pa for m in study.moments])]
    doors = [Line(minutes, np.asarray(dp), label=label) for label, dp in (*ends, *bounds)]
    air = [Line(minutes, np.array([moment.mean_c for moment in study.moments]), label="stair air")]
    axes = (
        (Axis("Stair doors", "pressure"), doors, [("set point", study.set_point_pa, "set point")]),
        (Axis("Stair, mean", "temperature"), air, ()),
    )
    title = f"{study.site_name}, {study.weather}: from the first minute on"
    return trend("stair cooling", title, "Time after the start [min]", axes, caption=study.verdict())


def placement_map(placement, rule=MAPPED_RULE):
    """Share of conditions with all doors inside, by the levels of two transmitters under a rule, the best one and the site's own marked.

    One transmitter alone stands on the diagonal. Returns `Plot`; raises ValueError where no pair was tried under the rule.
    """
    found = placement.heat_map(rule)
    levels = [str(level) for level in found.levels]
    row, column = np.unravel_index(np.nanargmax(found.share), found.share.shape)
    best, own = (found.levels[row], found.levels[column]), placement.question.own
    cells = [(_place_text("best", best, found.share[row, column]), int(row), int(column), "best")]
    if own is not None and own in placement.choices and own.rule == rule and len(own.levels) == 2 and own.levels != best:
        row, column = (found.levels.index(level) for level in own.levels)
        cells.append((_place_text("the site's own", own.levels, found.share[row, column]), row, column, "now"))
    result = placement.best
    caption = (
        f"Rule: {rule}; one transmitter alone on the diagonal. {placement.judged} sampled conditions: a share of "
        f"{percent(result.inside)} stands for {percent(result.interval[0])} to {percent(result.interval[1])} (95 % interval)."
    )
    axis = share_axis("All doors inside [% of conditions]")
    title = f"{placement.question.site_name}: two transmitters, {rule} reading"
    across, up = ("Upper transmitter, storey", levels), ("Lower transmitter, storey", levels)
    return heat_map(f"placement {rule}", title, across, up, 100 * found.share, axis, cells, classes=SHARE_CLASSES, caption=caption)


def year_calendar(year):
    """Room of the worst door in every hour of the year, day by hour, the worst hour marked. Returns `Plot`."""
    room, worst = year.calendar().room_pa, year.worst_hour()
    day, hour = divmod(worst, 24)
    begins = np.cumsum([0, *(days for _, days in MONTHS[:-1])])
    names = dict(zip(begins.tolist(), (month for month, _ in MONTHS), strict=True))
    columns = [names.get(place, "")[:3] for place in range(room.shape[1])]
    rows = [f"{place:02d}" if place % HOUR_LABELS == 0 else "" for place in range(24)]
    least = f"least {with_unit(year.room_pa[worst], 'pressure')}, {year.doors[year.worst[worst]].door.text}"
    title = f"{year.site_name}: room of the worst door, {least}"
    said = f"the worst hour, {with_unit(year.room_pa[worst], 'pressure')} of room at {year.doors[year.worst[worst]].door.text}"
    across, up, axis = ("Day of the year", columns), ("Hour of the day", rows), Axis("Room of the worst door", "pressure")
    return heat_map("calendar", title, across, up, room, axis, [(said, hour, day, "now")], caption=year.verdict())


def _place_text(which, levels, share):
    where = f"storeys {levels[0]} and {levels[1]}" if levels[0] != levels[-1] else f"storey {levels[0]} alone"
    return f"{which}: {where}, {percent(share)}"


def _caption(trend, study):
    after = trend.door_pa[trend.time_s >= trend.shuts_s]
    peaks = [with_unit(after[:, n].max(), "pressure") for n in range(after.shape[1])]
    told = f"Stair door {trend.level} has the most pressure after the door shuts: up to {peaks[0]} with the site's own tuning"
    return (
        f"{told}, {peaks[1]} with the proposed one{study.mark}."
        if study.recommended
        else f"{told}{study.mark}; no safe tuning was found to compare it with."
    )
