"""From studies to picture data: arrays into the chosen unit, labels and captions written.

Picture data of what takes time or chance: a door event in the loop, transmitters by pairs of storeys, a year of weather.
"""

import numpy as np

from helpers import units
from helpers.formulas import fan as fans
from helpers.formulas import signals
from helpers.model.air.fan import fan_points, inlet_density_ratio
from helpers.studies.cases import conditions_of, same_but_stair_air
from helpers.studies.doors.year import MONTHS
from helpers.studies.placement.results import percent
from helpers.studies.plot_data import (
    Cell,
    Curve,
    Event,
    FanChart,
    FlowSteps,
    HeatMap,
    Limit,
    Mark,
    PressureProfile,
    Profile,
    RangeChart,
    SignalLadder,
    Trend,
    TrendAxes,
)
from helpers.studies.report import end_text, plate_text

__all__ = [
    "door_trend_picture", "fan_chart", "flow_steps", "placement_map", "pressure_profile", "range_chart", "signal_ladder", "speed_curve",
    "year_calendar",
]  # fmt: skip

CURVE_POINTS = 41
SYSTEM_SPEEDS = 9  # of the line that stair and duct follow


def pressure_profile(tower, window, comparison, rule, system="Pa"):
    """Pressure across the stair doors, storey by storey, under one rule: every weather and open door with the stair's air as stated, the
    first also in its first minute and after an hour. Returns `PressureProfile`."""
    result, storeys = comparison[rule], tower.site.storeys
    doors = np.array([bool(storey.stair_door and storey.stair_door_count) for storey in storeys])
    least, most = (np.where(np.isfinite(ends) & doors, ends, np.nan) for ends in window.by_storey(tower.levels, "stair door"))

    def shown(values):
        return units.to_display(np.asarray(values, float), "pressure", system)

    profiles, (first, *others) = [], same_but_stair_air(comparison.cases)
    for place in sorted([*first, *(same[0] for same in others)]):
        case = comparison.cases[place]
        opened = np.isin(tower.levels, case.open_doors)
        dp = np.where(doors & ~opened, result.door_dp_pa[place], np.nan)
        profiles.append(
            Profile(case.name, shown(dp), result.low[place] & doors, result.high[place] & doors, opened, str(result.state[place]),
                    float(result.speed_hz[place]), shown(result.readings_pa[place]))
        )  # fmt: skip
    return PressureProfile(
        key=f"profile {rule}",
        title=f"{rule.capitalize()} reading held at {units.show(comparison.set_point_pa, 'pressure', system)}",
        caption=_profile_caption(result, system),
        x_label=f"Pressure across the stair door [{units.unit_label('pressure', system)}]",
        y_label="Storey",
        rule=rule,
        levels=tuple(str(level) for level in tower.levels),
        heights=np.asarray(units.to_display(tower.elevation_m, "length", system)),
        least=shown(least),
        most=shown(most),
        profiles=tuple(profiles),
        transmitter_names=tuple(tap.name for tap in comparison.transmitters),
        transmitter_places=tuple(tower.storey(tap.level) for tap in comparison.transmitters),
        set_point=float(shown(comparison.set_point_pa)),
    )


def _profile_caption(result, system):
    return " ".join(f"{case.name}: {result.case_text(place, system)}." for place, case in enumerate(result.cases))


def fan_chart(tower, duty, system="Pa"):
    """The fan's curve at full speed and at the design duty, what duct and stair ask for, the duty points, and what is asked with margins.

    Of cases that differ in the stair's air alone the one of most flow stands for all, beside it the one whose speed is drawn.
    Returns `FanChart`.
    """
    place = duty.design
    case, speed = duty.cases[place], float(duty.speed_hz[place])
    flow_unit, pressure_unit = (units.unit_label(name, system) for name in ("flow", "pressure"))
    curves = [
        _fan_curve(tower, duty.full_speed_hz, case, "full speed", system),
        _fan_curve(tower, speed, case, "duty", system),
        _system_curve(tower, duty, case, system),
    ]
    most = [max(places, key=lambda place: duty.flow_m3_s[place]) for places in same_but_stair_air(duty.cases)]
    most = sorted({*most, place})  # the one whose speed is drawn is among them
    points = (*(_duty_point(duty, place, system) for place in most), *_asked_point(duty.needed, system))
    return FanChart(
        "fan", "Fan curve and duty points", duty.verdict(system), f"Flow at the inlet [{flow_unit}]", f"Fan pressure [{pressure_unit}]",
        tuple(curves), points,
    )  # fmt: skip


def _duty_point(duty, place, system):
    label = f"{duty.cases[place].name}, {units.show(duty.speed_hz[place], 'frequency', system)}"
    flow = float(units.to_display(duty.flow_m3_s[place], "flow", system))
    pressure = float(units.to_display(duty.pressure_pa[place], "pressure", system))
    return Mark(label, flow, pressure, "good" if duty.state[place] == "held" else "attention")


def _asked_point(needed, system):
    """What the required cases ask for, with margins; none where no fan holds them."""
    if needed.reached[needed.required].all():
        asked = ((needed.flow_m3_s[needed.design], "flow"), (needed.pressure_pa[needed.steepest], "pressure"))
        place = (float(units.to_display(value, kind, system)) for value, kind in asked)
        enough = bool(needed.with_margins[needed.required].all())
        yield Mark("asked of the fan, with margins", *place, "good" if enough else "wrong" if not needed.enough else "attention")


def _fan_curve(tower, speed_hz, case, name, system):
    """The catalogue curve, duct loss not taken off, at a speed and the air of a case's weather."""
    fan, ratio = tower.site.fan, speed_hz / tower.site.fan.reference_speed_hz
    flow = tower.curve.flow
    duct = fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2
    head = inlet_density_ratio(tower, conditions_of(tower.site, [case]))[0]
    pressure = (tower.curve.pressure + duct) * ratio**2 * head
    every = np.linspace(0, flow.size - 1, CURVE_POINTS).round().astype(int)
    x, y = units.to_display(flow[every] * ratio, "flow", system), units.to_display(pressure[every], "pressure", system)
    return Curve(f"{name}, {units.show(speed_hz, 'frequency', system)}", x, y, "speed")


def _system_curve(tower, duty, case, system):
    """Flow and fan pressure as the speed rises from shut-off to full, in one case: what duct and stair ask for."""
    conditions = conditions_of(tower.site, [case]).rows(np.zeros(SYSTEM_SPEEDS, int))
    lowest = min(float(duty.shutoff_speed_hz[duty.design]), 0.9 * duty.full_speed_hz)
    air = tower.solve(conditions, np.linspace(max(0.5 * lowest, 1e-3), duty.full_speed_hz, SYSTEM_SPEEDS))
    flow, pressure, _ = fan_points(tower, air, conditions)
    x, y = units.to_display(flow, "flow", system), units.to_display(pressure, "pressure", system)
    return Curve("duct and stair", x, y, "case")


def speed_curve(fan, label, speed_hz, density_ratio, system="Pa"):
    """A fan's own curve, without its duct, at a speed, in air of so many times the density its curve was measured in. Returns `Curve`."""
    ratio = speed_hz / fan.reference_speed_hz
    flows = np.linspace(0.0, max(fan.flows_m3_s), CURVE_POINTS)
    pressures = fans.pressure_at_flow(flows, fan.flows_m3_s, fan.standard_pressures_pa) * ratio**2 * density_ratio
    return Curve(label, units.to_display(flows * ratio, "flow", system), units.to_display(pressures, "pressure", system), "speed")


def flow_steps(ladder, system="Pa"):
    """The way from hand flow to network flow; rungs at which the pressure could not be held are left out. Returns `FlowSteps`."""
    rungs = [rung for rung in ladder.rungs if rung.held]
    flows = np.array([units.to_display(rung.flow_m3_s, "flow", system) for rung in rungs])
    return FlowSteps(
        "flow", "Supply air, by hand and by the network", ladder.verdict(system), f"Supply air [{units.unit_label('flow', system)}]",
        "", tuple(rung.label for rung in rungs), flows, np.diff(flows, prepend=flows[:1]),
    )  # fmt: skip


def range_chart(advice, system="Pa"):
    """All ranges judged, over the pressure window. Returns `RangeChart`."""

    def shown(value):
        return None if value is None else float(units.to_display(value, "pressure", system))

    states = tuple(advice.state(choice) for choice in advice.choices)
    return RangeChart(
        "range", "Transmitter ranges", advice.verdict(system), f"Pressure [{units.unit_label('pressure', system)}]",
        tuple(choice.text(system) for choice in advice.choices), np.array([shown(choice.low_pa) for choice in advice.choices]),
        np.array([shown(choice.high_pa) for choice in advice.choices]), states, advice.chosen.text(system),
        tuple(shown(end) for end in advice.window_pa), shown(advice.set_point_pa), shown(advice.peak_pa), shown(advice.lowest_pa),
    )  # fmt: skip


def signal_ladder(transmitter, advice, place=0, system="Pa"):
    """A transmitter's signal against its pressure with set point, window and peak on it. place: its number. Returns `SignalLadder`."""
    low, high, unit = signals.SIGNALS[transmitter.signal]
    percent = np.array([0.0, 25.0, 50.0, 75.0, 100.0])
    sent = low + (high - low) * percent / 100
    ends = transmitter.range_low_pa, transmitter.range_high_pa
    named = {
        "least of the window": advice.window_pa[0],
        "set point": advice.set_point_pa,
        "most of the window": advice.window_pa[1],
        "peak": advice.peak_pa,
    }

    def shown(value):
        return units.to_display(value, "pressure", system)

    marks = tuple(_ladder_mark(name, value, transmitter, system) for name, value in named.items() if value is not None)
    accuracy = float(signals.accuracy(*ends, transmitter.accuracy_percent_span))
    return SignalLadder(
        key=f"signal {place}",
        title=f"{transmitter.name}: {transmitter.signal} for {plate_text(*ends, system)}",
        caption=_ladder_caption(transmitter, advice, system),
        x_label=f"Signal [{unit}]",
        y_label=f"Pressure [{units.unit_label('pressure', system)}]",
        percent=percent,
        signals=sent,
        pressures=shown(signals.to_units(sent, transmitter.signal, *ends)),
        marks=marks,
        accuracy=float(shown(accuracy)),
    )


def _ladder_mark(name, value_pa, transmitter, system):
    """A pressure on the ladder, held at the end of the range where it lies beyond."""
    low, high, unit = transmitter.range_low_pa, transmitter.range_high_pa, signals.SIGNALS[transmitter.signal][2]
    sent, seen = _signal(value_pa, transmitter), min(max(value_pa, low), high)
    label = f"{name}: {units.show(value_pa, 'pressure', system)}, {sent:.2f} {unit}"
    return Mark(label, sent, float(units.to_display(seen, "pressure", system)), "good" if seen == value_pa else "attention")


def _signal(value_pa, transmitter):
    """Signal for a pressure, held at the ends of the range as a transmitter does."""
    return float(signals.to_signal(value_pa, transmitter.signal, transmitter.range_low_pa, transmitter.range_high_pa))


def _ladder_caption(transmitter, advice, system):
    low, high, unit = signals.SIGNALS[transmitter.signal]
    span = transmitter.range_high_pa - transmitter.range_low_pa
    step = units.show(span / (high - low), "pressure", system, 1 if system == "Pa" else 3)
    ends = [end_text(end, system) for end in (transmitter.range_low_pa, transmitter.range_high_pa)]
    return (
        f"{low:g} {unit} is {ends[0]}, {high:g} {unit} is {ends[1]}: {step} for each {unit}. The set point lies at "
        f"{_signal(advice.set_point_pa, transmitter):.2f} {unit}."
    )


HOUR_LABELS = 3  # every so many hours bear their number
MAPPED_RULE = "average"


def door_trend_picture(trend, study, window, system="Pa"):
    """Pressure across the worst shut door, and the fan's speed, with both tunings. Returns `Trend`."""
    pressure, speed = (units.unit_label(name, system) for name in ("pressure", "frequency"))
    names = [f"the site's own: gain {study.own.gain:.2g} %/%, integral time {study.own.integral_s:.2g} s"]
    if study.recommended:
        names.append(f"proposed: gain {study.recommended.gain:.2g} %/%, integral time {study.recommended.integral_s:.2g} s")
    upper = _curves(names, trend.time_s, trend.door_pa, "pressure", system)
    lower = _curves(names, trend.time_s, trend.speed_hz, "frequency", system)
    limits = [
        _limit(kind, pa[0], kind, system) for kind, pa in zip(("least", "most"), window.by_storey([trend.level], "stair door"), strict=True)
    ]
    what = f"{'final exit' if trend.door[1] == 'exit' else 'stair door'} {trend.door[0]}"
    events = (Event(f"{what} opens", trend.opens_s), Event(f"{what} shuts", trend.shuts_s))
    return Trend(
        "door event", f"{study.site_name}, {trend.weather}: {what} opens and shuts", _caption(trend, study, system), "Time [s]",
        (TrendAxes(f"Door of storey {trend.level} [{pressure}]", upper, tuple(filter(None, limits))),
         TrendAxes(f"Fan speed [{speed}]", lower)), events,
    )  # fmt: skip


def placement_map(placement, system="Pa", rule=MAPPED_RULE):
    """Share of conditions with all doors inside, by the levels of two transmitters under a rule, the best one and the site's own marked.

    One transmitter alone stands on the diagonal. Returns `HeatMap`; raises ValueError where no pair was tried under the rule.
    """
    found = placement.heat_map(rule)
    levels = [str(level) for level in found.levels]
    row, column = np.unravel_index(np.nanargmax(found.share), found.share.shape)
    best, own = (found.levels[row], found.levels[column]), placement.question.own
    cells = [Cell(_place_text("best", best, found.share[row, column]), int(row), int(column))]
    if own is not None and own in placement.choices and own.rule == rule and len(own.levels) == 2 and own.levels != best:
        row, column = (found.levels.index(level) for level in own.levels)
        cells.append(Cell(_place_text("the site's own", own.levels, found.share[row, column]), row, column))
    result = placement.best
    caption = (
        f"Rule: {rule}; one transmitter alone on the diagonal. {placement.judged} drawn conditions: a share of "
        f"{percent(result.inside)} stands for {percent(result.interval[0])} to {percent(result.interval[1])} (95 % interval)."
    )
    return HeatMap(
        f"placement {rule}", f"{placement.question.site_name}: two transmitters, {rule} reading", caption, "Upper transmitter, level",
        "Lower transmitter, level", "All doors inside [% of conditions]", tuple(levels), tuple(levels), 100 * found.share, (0.0, 100.0),
        tuple(cells),
    )  # fmt: skip


def year_calendar(year, system="Pa"):
    """Room of the worst door in every hour of the year, day by hour, the worst hour marked. Returns `HeatMap`."""
    room = np.asarray(units.to_display(year.calendar().room_pa, "pressure", system))
    worst = year.worst_hour()
    day, hour = divmod(worst, 24)
    begins = np.cumsum([0, *(days for _, days in MONTHS[:-1])])
    names = dict(zip(begins.tolist(), (month for month, _ in MONTHS), strict=True))
    columns = tuple(names.get(place, "")[:3] for place in range(room.shape[1]))
    rows = tuple(f"{place:02d}" if place % HOUR_LABELS == 0 else "" for place in range(24))
    unit = units.unit_label("pressure", system)
    title = f"{year.site_name}: room of the worst door, hour by hour"
    said = f"the worst hour, {units.show(year.room_pa[worst], 'pressure', system)} of room at the {year.doors[year.worst[worst]].door.text}"
    return HeatMap(
        "calendar", title, year.verdict(system), "Day of the year", "Hour of the day",
        f"Room of the worst door [{unit}]", columns, rows, room, None, (Cell(said, hour, day),),
    )  # fmt: skip


def _curves(names, time_s, values, dimension, system):
    shown = np.asarray(units.to_display(values, dimension, system))
    return tuple(Curve(name, time_s, shown[:, number]) for number, name in enumerate(names))


def _limit(word, value_pa, kind, system):
    return (
        Limit(f"{word} {units.show(value_pa, 'pressure', system)}", float(units.to_display(value_pa, "pressure", system)), kind)
        if np.isfinite(value_pa)
        else None
    )


def _place_text(which, levels, share):
    where = f"levels {levels[0]} and {levels[1]}" if levels[0] != levels[-1] else f"level {levels[0]} alone"
    return f"{which}: {where}, {percent(share)}"


def _caption(trend, study, system):
    after = trend.door_pa[trend.time_s >= trend.shuts_s]
    peaks = [units.show(after[:, n].max(), "pressure", system) for n in range(after.shape[1])]
    told = f"The stair door of level {trend.level} has the most pressure after the door shuts: up to {peaks[0]} with the site's own tuning"
    return f"{told}, {peaks[1]} with the proposed one." if study.recommended else f"{told}; no safe tuning was found to compare it with."
