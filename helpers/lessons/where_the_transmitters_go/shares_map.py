"""Lesson 07's picture: all pairs of places under one rule as a map, what is greyed and framed on it, and how it is read."""

import numpy as np

from helpers.plots.charts import SHARE_CLASSES, heat_map, share_axis
from helpers.studies.placement.results import LEAST_SHARE, percent
from helpers.studies.placement.table import CLEAR_STOREYS, SITE_NAME, beside_supply, exit_levels, placement_table
from helpers.studies.status import word_of

SPELLED = {2: "two", 3: "three", 4: "four"}
FAIL_UNDER = f"{word_of('wrong')} under {100 * LEAST_SHARE:.0f} %"
GREY = "grey, *: do not drill (supply air, exit)"
READ = (
    "Asked: in how many of the hours a building meets are all doors right, held against smoke and not too heavy to open? Higher is better. "
    "The single frame is the pair you chose, the double one the best on this map of those you may drill, without a *; where all pairs do "
    "the same there is none. "
    "Shades are classes of ten points, the darker the fewer; black is under half; on grey nobody drills (*). The hatched "
    "half is the mirror image: storeys 3 and 8 "
    "are the same pair as 8 and 3. With middle of three the third transmitter sits half-way between the two, rounded down "
    "to a storey; neighbours have no room for it and are hatched, too.\n"
    "What is advised is the same wherever the controls stand: of all that was tried, clear of *, what keeps most with one transmitter "
    "failed in the worst way: dead at zero, left out, stuck high. A pair may show more, and does so only as long as none of them fails, or "
    "as long as no jet blows on its tube.\n"
    f"* marks storeys nearer than {SPELLED[CLEAR_STOREYS]} storeys to where supply air enters the stair. A tube end there may read the "
    "jet of air, which the model leaves out: its share is not one to drill by. * also marks the storey of the final exit door: beside it "
    "the reading drops whenever the door opens. No pair with a * counts as the best (common practice, no source).\n"
    f"FAIL is less than {100 * LEAST_SHARE:.0f} % of the conditions, with all working or with one transmitter failed in the worst way; "
    "CHECK from there on; PASS needs all of them (this workbook's own limits).\n"
    "All figures have the price of your pair: the share with its interval, the margin of the worst door (how far it is from the nearest "
    "edge of its window), the fan's power, the door that fails most often and which way, and what remains when one transmitter is lost "
    "(always the one whose loss does the most harm). Dead means zero here; what a reading that sticks high does to highest, page 06 "
    "shows."
)


def shares_map(chosen, best, rule, loss):
    """Share of the sampled conditions with all doors right for every pair under a rule; the chosen one and the best that may be drilled
    framed, those that may not on grey, and in words the door that fails most with the chosen one, how often (counted with all transmitters
    working).

    chosen, best: `Placed`, best None where all do the same; loss: one of the table's LOSSES. Returns `Plot`.
    """
    table = placement_table()
    star = np.isin(table.levels, list(beside_supply() | exit_levels()))
    marked = tuple(f"{level}*" if starred else f"{level}" for level, starred in zip(table.levels, star, strict=True))
    values, axis = 100 * table.map(rule, chosen.set_point_pa, loss), share_axis("All doors inside [%]")
    door, _, often = chosen.fails_text.removeprefix("stair ").partition(", ")
    noted = ()
    if loss == "none" and often:
        noted = f"chosen, all working: {door}", f"{often} of samples", f"one dead: all right in {percent(chosen.share('dead'))}"
    title, across, up = f"{SITE_NAME}: two places, one rule", ("PDT-2, storey", marked), ("PDT-1, storey", marked)
    greyed = GREY, star[:, None] | star
    return heat_map(
        "placement", title, across, up, values, axis, _framed(chosen, best, rule, loss), classes=SHARE_CLASSES, greyed=greyed, noted=noted
    )


STATE = {"none": "all working", "dead": "one dead", "left_out": "one left out"}


def _framed(chosen, best, rule, loss):
    """(words, row, column, role) of the cells with a frame; of the best what it is the best with: another is where one may fail."""
    levels = placement_table().levels
    roles = (f"best tried, {STATE[loss]}", best, "best", f"{rule} of "), ("chosen", chosen, "now", "")
    return [
        (f"{name}: {one.text(held=False).removeprefix(short)}", levels.index(one.lower), levels.index(one.upper), role)
        for name, one, role, short in roles
        if one
    ]
