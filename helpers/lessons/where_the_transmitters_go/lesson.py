"""Lesson 07's page: all pairs of places under one rule as a map, and the price of the chosen pair."""

from functools import cache

from helpers.lessons.page import LessonParts
from helpers.plots.charts import SHARE_CLASSES, heat_map, share_axis
from helpers.plots.markup import Card, Verdict, paragraphs_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.studies.placement.results import LEAST_SHARE, percent
from helpers.studies.placement.table import (
    CLEAR_STOREYS,
    CONDITIONS,
    SITE_NAME,
    beside_supply,
    placement_table,
    set_points_pa,
    supply_levels,
)
from helpers.studies.report import fine, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Count, Slider

RULE_CHOICES = {"average of two": "average", "lowest of two": "lowest", "highest of two": "highest", "middle of three": "middle"}
LOSS_CHOICES = {"all of them right": "none", "one dead, counted": "dead", "one bad, left out": "left_out"}
STREET = "the final exit door not counted (taken as closed by a power operator: with its own closer most conditions fail)"
SPELLED = {2: "two", 3: "three", 4: "four"}
STUCK_HIGH = {  # no loss of the table: what one reading that sticks above the set point does, by rule
    "alone": "slows the fan and gives up the stair",
    "highest": "slows the fan and gives up the stair, whatever the other one says",
    "average": "takes its part from every door",
    "lowest": "leaves the loop to the other one alone",
    "middle": "leaves the loop to the higher of the other two",
}


@cache
def panel():
    """The panel, one in a notebook."""
    levels, points = placement_table().levels, set_points_pa()
    controls = {
        "lower": Count("PDT-1, storey", levels[0], levels[-1], 1),
        "upper": Count("PDT-2, storey", levels[0], levels[-1], 12),
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

    groups = {"The places": ("lower", "upper"), "The loop": ("rule", "set_point_pa"), "A fault": ("loss",)}
    return Panel(controls, Picture(**PANEL_PX), _answer, prepare, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS)


def _answer(lower, upper, set_point_pa, rule, loss):
    table = placement_table()
    if rule == "middle" and upper - lower == 1:
        raise ValueError(f"Between storeys {lower} and {upper} there is no place for a third transmitter: choose storeys further apart.")
    chosen, best = table.at(rule, lower, upper, set_point_pa), table.best(rule, set_point_pa, loss)
    best = None if table.alike(rule, set_point_pa, loss) else best  # where every pair does the same none is the best
    verdict = _verdict(chosen, best, table.best(loss=loss), loss)
    do = "" if verdict.kind == "good" else _to_do(chosen, best, table.best(loss=loss), loss)
    return Verdict(verdict.kind, verdict.words, *_head(chosen, best, loss), case=CASE, do=do), _map(chosen, best, rule, loss)


READ = (
    "The single frame is the pair you chose, the double one the best pair on this map; where all pairs do the same there is none. "
    "Shades are classes of ten points; black is under half. Hatched cells were not calculated. With middle of three the third transmitter "
    "sits half-way between the two.\n"
    f"* marks storeys nearer than {SPELLED[CLEAR_STOREYS]} storeys to where supply air enters the stair. A tube end there may read the "
    "jet of air, which the model leaves out: its share is not one to drill by, and no such pair counts as the best (common practice, no "
    "source).\n"
    f"FAIL is less than {100 * LEAST_SHARE:.0f} % of the conditions, CHECK from there on; PASS needs all of them (this workbook's own "
    "limits).\n"
    "All figures have the price of your pair: the share with its interval, the margin of the worst door (how far it is from the nearest "
    "edge of its window), the fan's power, the door that fails most often and which way, and what remains when one transmitter is lost "
    "(always the one whose loss does the most harm). Dead means zero here; what a reading that sticks high does to highest, lesson 06 "
    "shows."
)
CLEAR = "Best clear of supply"  # on this map
CASE = f"final exit not counted; under {100 * LEAST_SHARE:.0f} % is {word_of('wrong')}"
LEFT_OUT = "the jet where supply air enters, the final exit door's own closer, a reading that sticks: All figures, page 06"
TASKS = (
    Task(f"Average, {with_unit(40.0, 'pressure')}: move the upper one from storey 12 to 8. How many points does it cost? Which door fails, "
         "which way?", {"upper": 8}),
    Task("Back to 12. Now lowest, same set point: how many points? Then find the set point where lowest does best, and where highest does.",
         {"rule": "lowest"}),
    Task("Look for the best map of all: which rule, set point, storeys? In how many conditions does one hold where the other does not?"),
    Task(f"Both on storey 5 (the diagonal) at {with_unit(35.0, 'pressure')}: what does a single transmitter reach? Why buy two, then?",
         {"upper": 5, "lower": 5, "set_point_pa": 35.0}),
    Task(f"Both on storey 13 at {with_unit(55.0, 'pressure')}: more than any other single one. Why does nobody drill there all the same?",
         {"upper": 13, "lower": 13, "set_point_pa": 55.0}),
    Task("Transmitters: one dead, counted (as zero). Go through the rules at their best set points. Which map is still pale?",
         {"loss": "dead"}),
)  # fmt: skip


def _head(chosen, best, loss):
    """(sentence, tiles): in how many conditions all doors are inside; how sure, what fails most, what would be better.

    Which door fails most was counted with all transmitters right; beside a lost one stands what its loss costs instead.
    """
    if chosen.count(loss) is None:
        return "The only transmitter is left out: no reading remains", ()
    low, high = chosen.interval(loss)
    head = f"All doors inside in {percent(chosen.share(loss))} of {CONDITIONS} sampled conditions"
    if chosen.in_jet:
        storeys = "storey" if len(chosen.in_jet) == 1 else "storeys"
        head = f"All doors inside: {percent(chosen.share(loss))}; {storeys} {_short(chosen.in_jet)} too near the supply"
    door, _, often = chosen.fails_text.partition(", ")
    return head, (
        ("95 % interval", f"{percent(low)} to {percent(high)}", f"{CONDITIONS} conditions"),
        ("Fails most", door, often) if loss == "none" else ("With all of them right", percent(chosen.share()), ""),
        (CLEAR, _pair(best), percent(best.share(loss))) if best else (CLEAR, "none: all alike", ""),
    )


def _to_do(chosen, best, best_of_all, loss):
    """Where the tubes go instead, in one line, with another rule and set point where no place of this map is worth it; who decides where no
    place that was tried does better."""
    if best is None or (best.share(loss) < LEAST_SHARE and chosen != best_of_all):
        return f"Do: {best_of_all.text()}: {percent(best_of_all.share(loss))}"
    if chosen == best:
        return f"Ask: the designer: best places of this map, and {percent(1 - best.share(loss))} of the conditions still fail"
    share = percent(best.share(loss))
    clear = ", clear of the supply" if chosen.in_jet else ""
    if best.upper == best.lower:
        return f"Do: one transmitter on storey {best.lower}{clear}: {share}"
    return f"Do: PDT-1 to storey {best.lower}, PDT-2 to storey {best.upper}{clear}: {share}"


def _short(levels):
    """Storeys in few words: all of more than two that follow one another as the first and the last."""
    return f"{levels[0]}-{levels[-1]}" if len(levels) > 2 else ", ".join(map(str, levels))


def _pair(one):
    return f"storeys {one.lower} and {one.upper}" if one.upper > one.lower else f"storey {one.lower} alone"


def _map(chosen, best, rule, loss):
    table = placement_table()
    cells = [
        (f"{name}: {one.text(held=False)}", table.levels.index(one.lower), table.levels.index(one.upper), role)
        for name, one, role in (("best here", best, "best"), ("chosen", chosen, "now"))
        if one
    ]
    marked = tuple(f"{level}*" if level in beside_supply() else f"{level}" for level in table.levels)
    across, up = ((f"{tag}, storey (* near supply)", marked) for tag in ("PDT-2", "PDT-1"))
    values, axis = 100 * table.map(rule, chosen.set_point_pa, loss), share_axis("All doors inside [%]")
    return heat_map("placement", f"{SITE_NAME}: two places, one rule", across, up, values, axis, cells, classes=SHARE_CLASSES)


def _verdict(chosen, best, best_of_all, loss):
    if chosen.count(loss) is None:
        told = f"With the only transmitter left out there is no reading to run the fan by. With it: {_share(chosen, 'none')}."
        return Verdict("wrong", f"{told} {_price(chosen)}")
    one = "" if chosen.rule == "alone" else "one of them "
    lost = {"none": "", "dead": f", {one}dead and counted as zero", "left_out": f", {one}left out"}[loss]
    told = f"{chosen.text()}{lost}: all doors inside in {_share(chosen, loss)}, {STREET}."
    words = (
        f"{told[0].upper()}{told[1:]} {_jet(chosen)}{_price(chosen)} {_beside(chosen, best, best_of_all, loss)} "
        f"{placement_table().said[-1]}"
    )
    # past a limit in most conditions, or in some: the best of those tried is to be looked at, never passed
    return Verdict("wrong" if chosen.share(loss) < LEAST_SHARE else "attention" if chosen.share(loss) < 1 else "good", words)


def _jet(one):
    """What a share does not say of tube ends near where supply air enters; "" for a choice that has none there."""
    if not one.in_jet:
        return ""
    storeys = f"storey{'s' * (len(one.in_jet) > 1)} {listed(map(str, one.in_jet))}"
    return (
        f"A tube end on {storeys} is less than {SPELLED[CLEAR_STOREYS]} storeys from where supply air enters the stair and may read the "
        "jet, which the model leaves out: do not drill there by this figure. "
    )


def _share(one, loss):
    low, high = one.interval(loss)
    return f"{percent(one.share(loss))} of {CONDITIONS} sampled conditions (95 % interval {percent(low)} to {percent(high)})"


def _price(one):
    room, power = fine(one.room_median_pa), with_unit(one.power_w, "power")
    lost = f"With one dead {percent(one.share('dead'))} remain"
    lost += "" if one.count("left_out") is None else f", with one left out {percent(one.share('left_out'))}"
    return (
        f"With all of them right: in half of the conditions the worst door has a margin of {room} or more, the fan draws {power} on "
        f"average, and what fails most is {one.fails_text}. {lost}. {_stuck_high(one)}"
    )


def _stuck_high(one):
    does = f"One stuck high under {one.rule} {STUCK_HIGH[one.rule]}".replace("under alone", "alone")
    count = placement_table().stuck_high(one)
    return f"{does} (page 06): {'not counted' if count is None else f'{percent(count / CONDITIONS)} remain'}."


def _beside(chosen, best, best_of_all, loss):
    if chosen == best_of_all:
        return "The best of those tried that keep clear of the supply."
    here = "All on this map are alike. "
    if best:
        here = f"Best on this map, clear of the supply: {best.text(held=False)}, {percent(best.share(loss))}. " if chosen != best else ""
    return (
        f"{here}Best of all rules, places and set points, clear of the supply: {best_of_all.text()}, "
        f"{percent(best_of_all.share(loss))}; the one chosen is {chosen.against(best_of_all, loss).text()}."
    )


def drawn():
    """How the conditions were sampled, in sentences."""
    said = placement_table().said
    return Card(paragraphs_html(said), "\n".join(said))


def _lines():
    table = placement_table()
    own = [table.at(rule, 1, 12, 40.0) for rule in ("average", "highest", "lowest")]
    best, single, unaware = table.best(), table.best("alone"), table.best(anywhere=True)
    (average, *_), (low, high) = own, best.interval()
    spare, two = table.best("middle", loss="dead"), table.best("highest", loss="dead")
    stuck = percent(table.stuck_high(spare) / CONDITIONS)
    alike = [table.stuck_high(one) for one in table.placed
             if (one.rule, one.set_point_pa) == ("middle", spare.set_point_pa) and not one.in_jet]  # fmt: skip
    least, most = (percent(end(alike) / CONDITIONS) for end in (min, max))
    rules = ", ".join(f"{one.rule} {percent(one.share())}" for one in own)
    return (
        f"Rule and set point first, places second: on storeys 1 and 12 of {SITE_NAME}, all at the same set point, {rules} of {CONDITIONS} "
        f"sampled conditions, {STREET}.",
        f"Each rule at its own set point comes much nearer to the others. Best of all that was tried clear of the supply: {best.text()}, "
        f"{percent(best.share())} (95 % interval {percent(low)} to {percent(high)}), {percent(best.share('dead'))} with one dead; the best "
        f"single one, {single.text()}, {percent(single.share())}, and {percent(single.share('dead'))} when it is dead: no PASS. "
        f"{_stuck_high(best)}",
        f"To the electrician, with two transmitters: drill for storeys {two.lower} and {two.upper}, because the {two.text()} keeps "
        f"{percent(two.share())} with both right and {percent(two.share('dead'))} with one dead (the average of 1 and 12: "
        f"{percent(average.share('dead'))}). Neighbours, so that one can stand in for the other: two holes, two wires, two supplies. One "
        f"stuck high gives up the stair; a third transmitter prevents that: the {spare.text()} has {percent(spare.share())} with all "
        f"right, {percent(spare.share('dead'))} with one dead, {stuck} with one stuck high. Other places of three at that set point keep "
        f"{least} to {most} with one stuck high: a third transmitter helps where it is well placed.",
        f"Not in the jet: the model leaves it out, and would pick the {unaware.text()}, {percent(unaware.share())}. Supply air enters on "
        f"storey {listed(map(str, supply_levels()))}; keep both tubes at least {SPELLED[CLEAR_STOREYS]} storeys away from it. The site "
        "file's storey 12 is too near as well. Keep them away from doors that often stand open, and from wind; the low-side tube ends in "
        "the space that the door, or the wall, is judged against (common practice, no source).",
        "Limits: one invented building, steady state, chances and a year of weather that are assumed; the best of many looks a little "
        "better than it is. Sample again with your own chances before you drill.",
    )


page = LessonParts("where_the_transmitters_go", _lines, ("neutral_plane", "share_and_its_interval"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
