"""Picture data of what takes time or chance: a door event in the loop, transmitters by pairs of storeys, a year of weather."""

import numpy as np

from helpers import units
from helpers.studies.pictures import Cell, Curve, Event, HeatMap, Limit, Trend, TrendAxes
from helpers.studies.placement_results import percent
from helpers.studies.year import MONTHS

__all__ = ["door_trend_picture", "placement_map", "year_calendar"]

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
