"""The panel of lesson 07: all pairs of places under one rule as a map, and the price of the chosen pair."""

from functools import cache

from helpers import units
from helpers.panels.controls import Choice, Count, Slider
from helpers.panels.heat_map import HeatMapDrawing
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.verdict import Verdict
from helpers.studies.figures import fine
from helpers.studies.pictures import Cell, HeatMap
from helpers.studies.placement_results import LEAST_SHARE, percent
from helpers.studies.placement_table import CONDITIONS, SITE_NAME, placement_table, set_points_pa

__all__ = ["LOSS_CHOICES", "RULE_CHOICES", "placement_panel"]

RULE_CHOICES = {
    "average of two": "average",
    "lowest of two": "lowest",
    "highest of two": "highest",
    "middle of three": "middle",
}
LOSS_CHOICES = {"all of them right": "none", "one dead, counted": "dead", "one bad, left out": "left_out"}
PICTURE_PX = 450  # leaves room for the verdict on a small projector, and for a figure in each cell


@cache
def placement_panel():
    """The panel, one in a notebook."""
    levels, points = placement_table().levels, set_points_pa()
    controls = {
        "lower": Count("Lower one, level", levels[0], levels[-1], 1),
        "upper": Count("Upper one, level", levels[0], levels[-1], 12),
        "set_point_pa": Slider("Set point", "pressure", points[0], points[-1], points[1] - points[0], 40.0),
        "rule": Choice("Fan follows", RULE_CHOICES),
        "loss": Choice("Transmitters", LOSS_CHOICES),
    }

    def prepare(moved):
        """The one that is moved pushes the other before it: a lower one above the upper one is no pair."""
        lower, upper = controls["lower"], controls["upper"]
        if lower.value > upper.value:
            pushed, by = (upper, lower) if moved == "lower" else (lower, upper)
            pushed.value = by.value

    return Panel(controls, Picture(HeatMapDrawing(), height_px=PICTURE_PX), _answer, prepare)


def _answer(system, lower, upper, set_point_pa, rule, loss):
    table = placement_table()
    if rule == "middle" and upper - lower == 1:
        raise ValueError(f"Between level {lower} and level {upper} there is no place for a third transmitter: choose levels further apart.")
    chosen, best = table.at(rule, lower, upper, set_point_pa), table.best(rule, set_point_pa, loss)
    return _verdict(chosen, best, table.best(loss=loss), loss, system), _map(chosen, best, rule, loss, system)


def _map(chosen, best, rule, loss, system):
    table = placement_table()
    levels = tuple(map(str, table.levels))
    cells = tuple(
        Cell(f"{name}: {one.text(system, held=False)}", table.levels.index(one.lower), table.levels.index(one.upper))
        for name, one in (("chosen", chosen), ("best on this map", best))
    )
    return HeatMap(
        "placement", f"{SITE_NAME}: two places, one rule", "", "Upper transmitter, level", "Lower transmitter, level",
        "All doors inside [%]", levels, levels, 100 * table.map(rule, chosen.set_point_pa, loss), (0.0, 100.0), cells,
    )  # fmt: skip


def _verdict(chosen, best, best_of_all, loss, system):
    if chosen.count(loss) is None:
        told = f"With the only transmitter left out there is no reading to run the fan by. With it: {_share(chosen, 'none')}."
        return Verdict("wrong", f"{told} {_price(chosen, system)}")
    one = "" if chosen.rule == "alone" else "one of them "
    lost = {"none": "", "dead": f", {one}dead and counted as zero", "left_out": f", {one}left out"}[loss]
    told = f"{chosen.text(system)}{lost}: all doors inside in {_share(chosen, loss)}."
    words = f"{told[0].upper()}{told[1:]} {_price(chosen, system)} {_beside(chosen, best, best_of_all, loss, system)}"
    return Verdict(_kind(chosen, best_of_all, loss), words)


def _kind(chosen, best_of_all, loss):
    """Good: not told apart from the best of all, pair by pair on the same conditions, and inside in most of them."""
    if chosen.share(loss) < LEAST_SHARE:
        return "wrong"
    return "attention" if chosen.against(best_of_all, loss).told_apart else "good"


def _share(one, loss):
    low, high = one.interval(loss)
    return f"{percent(one.share(loss))} of {CONDITIONS} drawn conditions (95 % interval {percent(low)} to {percent(high)})"


def _price(one, system):
    room, power = fine(one.room_median_pa, system), units.show(one.power_w, "power", system)
    lost = [f"one dead {percent(one.share('dead'))}"]
    lost += [] if one.count("left_out") is None else [f"one left out {percent(one.share('left_out'))}"]
    return (
        f"With all of them right: the worst door has {room} of room in half of the conditions, the fan takes {power} on average, and what "
        f"fails most is {one.fails_text}. {' and '.join(lost).capitalize()} remain."
    )


def _beside(chosen, best, best_of_all, loss, system):
    if chosen == best_of_all:
        return "No other choice that was tried does better."
    here = f"Best on this map: {best.text(system, held=False)}, {percent(best.share(loss))}. " if chosen != best else ""
    return (
        f"{here}Best of all rules, places and set points: {best_of_all.text(system)}, {percent(best_of_all.share(loss))}; the one chosen "
        f"is {chosen.against(best_of_all, loss).text()}."
    )
