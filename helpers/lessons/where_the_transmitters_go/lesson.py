"""Lesson 07's page: all pairs of places under one rule as a map, and the price of the chosen pair."""

from functools import cache

from helpers.formulas.uncertainty import paired_chance
from helpers.lessons.page import LessonParts
from helpers.lessons.where_the_transmitters_go.shares_map import FAIL_UNDER, READ, SPELLED, shares_map
from helpers.plots.headline import headed
from helpers.plots.markup import Card, Verdict, html_table, paragraphs_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.studies.placement.results import CONFIDENCE, LEAST_SHARE, counted, percent
from helpers.studies.placement.table import (
    CLEAR_STOREYS,
    CONDITIONS,
    FILE_CHOICE,
    PAIR_RULES,
    SITE_NAME,
    STEP_PA,
    placement_table,
    set_points_pa,
    supply_levels,
)
from helpers.studies.report import fine, listed, range_text
from helpers.studies.status import word_of
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Count, Slider

RULE_CHOICES = {"average of two": "average", "lowest of two": "lowest", "highest of two": "highest", "middle of three": "middle"}
LOSS_CHOICES = {"all working": "none", "one dead, read as zero": "dead", "one bad, left out by the drive": "left_out"}
STREET = "the final exit door not counted (taken as closed by a power operator: with its own closer most conditions fail)"
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
    do = "" if verdict.kind == "good" else _to_do(chosen)
    head, tiles = _head(chosen, loss)
    return Verdict(verdict.kind, verdict.words, head, tiles, _case(chosen, loss, head), do), shares_map(chosen, best, rule, loss)


CLEAR = "clear of supply air and exit door"
LOSS_SAID = {"none": "", "dead": "one dead, ", "left_out": "one left out, "}
LEFT_OUT = "the supply's jet; final exit's own closer; one stuck high under average or highest, or the only one (page 06)"
TASKS = (
    Task(f"Average, {with_unit(40.0, 'pressure')}: upper one from storey 12 to 8. How many points does it cost? Which door fails, how?",
         {"upper": 8}),
    Task(f"Back to 12. Lowest, same set point: how many points? Its best set point ({range_text(25.0, 35.0, 'pressure')})? That of highest "
         f"({range_text(45.0, 55.0, 'pressure')})?", {"rule": "lowest"}),
    Task("Set it so brings the file's choice back; All figures name the best of all. In how many conditions does only the one hold, in how "
         "many only the other?"),
    Task(f"Average of storeys 2 and 8 at {with_unit(35.0, 'pressure')}: in how many of 1000 draws (All figures)? Can you tell it from the "
         "best of all?", {"lower": 2, "upper": 8, "set_point_pa": 35.0}),
    Task(f"Both on storey 5 (the diagonal) at {with_unit(35.0, 'pressure')}: what does a single transmitter reach? Why buy two, then?",
         {"upper": 5, "lower": 5, "set_point_pa": 35.0}),
    Task(f"Both on storey 13 at {with_unit(55.0, 'pressure')}: more than any other single one. Why does nobody drill there all the same?",
         {"upper": 13, "lower": 13, "set_point_pa": 55.0}),
    Task(f"One dead, read as zero, set point {with_unit(35.0, 'pressure')}: go through the rules. Which maps are black all over, "
         "which are not?", {"loss": "dead", "set_point_pa": 35.0}),
)  # fmt: skip


def _head(chosen, loss):
    """(sentence, tiles): in how many of the sampled conditions all doors are right and what fails most; what is left if one fails; what
    is advised, and what that keeps.

    Which door fails most was counted with all transmitters working; beside a lost one stands what they keep when they work.
    """
    if chosen.count(loss) is None:
        return "The only transmitter is left out: no reading remains", ()
    share = percent(chosen.share(loss))
    head = f"All doors right in {share} of samples; {word_of('good')} needs 100 %"
    if chosen.share(loss) < LEAST_SHARE:
        head = f"All doors right in {share} of samples; {FAIL_UNDER}"
    elif _kept(chosen, loss) < LEAST_SHARE:
        head = _failed_head(chosen)
    elif chosen.in_jet:
        storeys = "Storey" if len(chosen.in_jet) == 1 else "Storeys"
        head = f"{storeys} {_short(chosen.in_jet)} too near the supply air"
    elif chosen.unfit:
        head = f"Storey {_short(chosen.unfit)}: the reading drops when its exit door opens"
    door, _, often = chosen.fails_text.partition(", ")
    way, _, often = often.partition(" in ")
    fails = f"{door.removeprefix('stair ')} {way} in {often}" if often else "no door fails"
    here = ("All working", share, fails) if loss == "none" else (
        "All doors right", share, FAIL_UNDER)  # fmt: skip
    advised = placement_table().advised
    return head, (here, _if_one_fails(chosen, loss), ("Advised", "as set", "the designer decides") if chosen == advised else (
        f"{COUNTED[len(advised.levels)].capitalize()}, if one fails", _failed(advised),
        f"{percent(advised.share())} all working"))  # fmt: skip


def _kept(chosen, loss):
    """The least of the shares that its tiles tell: the verdict takes the gravest. Under a loss that one alone is asked for."""
    return chosen.share(loss) if loss != "none" else min(chosen.share(), placement_table().with_one_failed(chosen) / CONDITIONS)


def _failed_head(chosen):
    """What would be left of a choice that fails once one transmitter does, with the limit; all are working as the panel stands."""
    if chosen.rule == "highest":
        return "If one sticks high the stair is given up"
    if chosen.share("dead") < LEAST_SHARE:
        which = "it" if chosen.rule == "alone" else "one"
        return f"If {which} dies: {percent(chosen.share('dead'))} of samples right; {FAIL_UNDER}"
    return f"If one fails: {_failed(chosen)} of samples right; {FAIL_UNDER}"


def _case(chosen, loss, head):
    """What the figures leave out, with what is left once it is counted, and where nobody drills by them, unless the headline says so.

    With the final exit's own closer the table keeps two shares: of the file's choice, and of the best of all, which no choice is over.
    """
    near = ""
    if chosen.in_jet and "supply air" not in head:
        near = f", {_short(chosen.in_jet)} near supply air"
    elif chosen.unfit and "exit door" not in head:
        near = f"; storey {_short(chosen.unfit)} beside the exit door"
    file, most = placement_table().with_own_closer
    own = file if chosen == placement_table().at(*FILE_CHOICE) else f"at most {most}"
    at = f"storey{'s' * (len(chosen.levels) > 1)} {'/'.join(map(str, chosen.levels))}"
    return f"{at}{near}; {LOSS_SAID[loss]}final exit uncounted, with it {own}"


def _if_one_fails(chosen, loss):
    """Tile of what is left of a choice when a transmitter fails in the worst way; under a loss, what it keeps with all working."""
    if loss != "none":
        return "All working", percent(chosen.share()), ""
    if chosen.rule == "highest":
        return "If one sticks high", "stair given up", f"if one dies: {percent(chosen.share('dead'))}"
    if chosen.share("dead") < LEAST_SHARE:
        return "One dead, reading zero", percent(chosen.share("dead")), FAIL_UNDER
    return "If one fails", _failed(chosen), FAIL_UNDER


def _failed(one):
    return percent(placement_table().with_one_failed(one) / CONDITIONS)


NO_PASS = f", no {word_of('good')}"  # of whatever was tried: none holds in all of the conditions


def _to_do(chosen):
    """Who decides, and the best that was tried, in one line; what is left there when one fails stands on the tile beside. It fails in some
    conditions, so it is nothing to drill by.

    One answer wherever the controls stand: what keeps most with one transmitter failed in the worst way. A pair of the map with a higher
    figure keeps it only as long as all work, or as no jet blows on its tube: it is no answer.
    """
    table = placement_table()
    advised, two = table.advised, table.best("highest", loss="dead")
    if chosen == advised:
        return f"Ask: the designer: most of all tried, {_failed(advised)} if one fails{NO_PASS}"
    if chosen == two:
        return f"Ask: the designer: best tried pair if one dies; stuck high, it gives the stair up{NO_PASS}"
    return f"Ask: the designer, drill nothing; advised: {_in_full(advised)}"


COUNTED = {2: "two", 3: "three"}


def _in_full(one):
    """Rule, storeys and set point in few words."""
    at = with_unit(one.set_point_pa, "pressure")
    return f"{one.rule}, storeys {'/'.join(map(str, one.levels))}, {at}"


def _short(levels):
    """Storeys in few words: all of more than two that follow one another as the first and the last."""
    return f"{levels[0]}-{levels[-1]}" if len(levels) > 2 else ", ".join(map(str, levels))


def _verdict(chosen, best, best_of_all, loss):
    if chosen.count(loss) is None:
        told = f"With the only transmitter left out there is no reading to run the fan by. With it: {_share(chosen, 'none')}."
        return Verdict("wrong", f"{told} {_price(chosen)}")
    one = "" if chosen.rule == "alone" else "one of them "
    lost = {"none": "", "dead": f", {one}dead and counted as zero", "left_out": f", {one}left out"}[loss]
    told = f"{chosen.text()}{lost}: all doors inside in {_share(chosen, loss)}, {STREET}."
    words = (
        f"{told[0].upper()}{told[1:]} {_unfit(chosen)}{_price(chosen)} {_beside(chosen, best, best_of_all, loss)} {_advised_said()} "
        f"{placement_table().said[-1]}"
    )
    # past a limit in most conditions, or in some: the best of those tried is to be looked at, never passed
    kept = _kept(chosen, loss)
    return Verdict("wrong" if kept < LEAST_SHARE else "attention" if kept < 1 else "good", words)


def _unfit(one):
    """What a share does not say of tube ends near where supply air enters, or at a final exit; "" for a choice that has none there."""
    if not one.unfit:
        return ""
    if not one.in_jet:
        at = listed(map(str, one.unfit))
        return f"Storey {at} has the final exit door: beside it a tube end reads almost nothing while the door stands open. "
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
    dead, left_out = one.count("dead"), one.count("left_out")
    lost = f"With one dead and read as zero {counted(dead, CONDITIONS)} remain"
    lost += "" if left_out is None else f", with one left out, so that the rule follows the rest, {counted(left_out, CONDITIONS)}"
    return (
        f"With all of them right: in half of the conditions the worst door has a margin of {room} or more, the fan draws {power} on "
        f"average, and what fails most is {one.fails_text}. {lost}. {_stuck_high(one)}"
    )


def _stuck_high(one):
    does = f"One stuck high under {one.rule} {STUCK_HIGH[one.rule]}".replace("under alone", "alone")
    count = placement_table().stuck_high(one)
    return f"{does} (page 06): {'not counted' if count is None else f'{counted(count, CONDITIONS)} remain'}."


def _beside(chosen, best, best_of_all, loss):
    if chosen == best_of_all:
        return f"The best tried {CLEAR}."
    here = "All on this map are alike. "
    more = " It keeps more, but is no place to drill." if chosen.share(loss) > best_of_all.share(loss) else ""
    if best:
        here = f"Best tried on this map {CLEAR}: {best.text(held=False)}, {percent(best.share(loss))}. " if chosen != best else ""
    return (
        f"{here}Best tried of all rules, places and set points {CLEAR}: {best_of_all.text()}, "
        f"{percent(best_of_all.share(loss))}; the one chosen is {chosen.against(best_of_all, loss).text()}.{more}"
    )


def _advised_said():
    """What is advised and why, though others show more, in a sentence."""
    advised = placement_table().advised
    return (
        f"Advised: {advised.text()}: of all that was tried {CLEAR} it keeps most with one transmitter failed in the worst way (dead at "
        f"zero, left out, stuck high): {_failed(advised)}, and {percent(advised.share())} with all working. What shows more keeps it only "
        "as long as all work, or as no jet blows on its tube."
    )


def drawn():
    """How the conditions were sampled, in sentences."""
    said = placement_table().said
    return Card(paragraphs_html(said), "\n".join(said))


def lost():
    """What is left of the layouts when a reading is lost, a row each: three transmitters, two, one, under what the panel says of the
    site's own. Returns `Reading`."""
    columns = "Layout", "All right", "One dead, read as zero", "One stuck high"

    def told():
        own = _own()
        (head, tiles), judged = _head(own, "none"), _verdict(own, None, own, "none")
        first = Verdict(judged.kind, head, head, tiles, f"the file's two: {_in_full(own)}", "" if judged.kind == "good" else _to_do(own))
        table = html_table(columns, _lost(), title=LOST)
        return headed(first, table), "\n".join([str(first), *map(" | ".join, (columns, *_lost()))])

    return Reading(told)


def _own():
    """The two transmitters as the site file has them."""
    return placement_table().at("average", 1, 12, 40.0)


LOST = f"Share of {CONDITIONS} sampled conditions with all doors inside, final exit door not counted; in brackets the 95 % interval"


def _lost():
    table = placement_table()
    for name, one in (
        ("three, best tried with one dead", table.best("middle", loss="dead")),
        ("three, best tried with all right", table.best("middle")),
        ("two, best tried with one dead", table.best("highest", loss="dead")),
        ("two, the site file's choice", _own()),
        ("one, best tried", table.best("alone")),
    ):
        count = table.stuck_high(one)
        stuck = f"not counted: {STUCK_HIGH[one.rule]}" if count is None else counted(count, CONDITIONS)
        yield f"{name}: {one.text()}", counted(one.inside, CONDITIONS), counted(one.dead, CONDITIONS), stuck


def _told_apart(spare, two):
    """Whether the three transmitters and the pair that keep most with one dead are told apart, in a sentence.

    With one dead the pair is the best of all, which the table has pairs of; with all right only the difference is known, and no pairs
    with that difference have a smaller chance than those in which one choice alone ever holds.
    """
    few = paired_chance(abs(two.inside - spare.inside), 0) >= 1 - CONFIDENCE
    well = "the two layouts are not told apart" if few else "they were not tested as pairs"
    pair = spare.against(placement_table().best(loss="dead"), "dead")
    apart = "they are" if pair.told_apart else "they are not"
    return f"With all right {well}; with one dead {apart} (only the two hold in {pair.gained} conditions, only the three in {pair.lost})."


def _to_the_electrician():
    """What to tell who asks for the places: three, or if it must be two; what each keeps, and what was kept elsewhere."""
    table = placement_table()
    spare, two = table.best("middle", loss="dead"), table.best("highest", loss="dead")
    alike = [one for one in table.placed if (one.rule, one.set_point_pa) == ("middle", spare.set_point_pa) and not one.unfit]
    other = max(alike, key=table.stuck_high)
    at, at_two, at_other = (listed(map(str, one.levels)) for one in (spare, two, other))
    held, held_two = (with_unit(one.set_point_pa, "pressure") for one in (spare, two))
    stuck, most = (percent(table.stuck_high(one) / CONDITIONS) for one in (spare, other))
    elsewhere = f" (Storeys {at_other} keep {most} with one stuck high, but {percent(other.share('dead'))} with one dead.)"
    return (
        "To the electrician: rather three than two: two give the stair up when one sticks high. Of those tried, storeys "
        f"{at} (middle, {held}): they keep {percent(spare.share())} with all right, {percent(spare.share('dead'))} with one dead, {stuck} "
        "with one stuck high. If there can be only two: storeys "
        f"{at_two} (highest, {held_two}): {percent(two.share())} with both right, {percent(two.share('dead'))} with one dead, but none "
        f"with one stuck high.{'' if other == spare else elsewhere} {_told_apart(spare, two)} Each with its own hole, tubes, "
        f"wires and power supply. Before anybody drills, the designer decides: neither is a {word_of('good')}."
    )


def _lines():
    table = placement_table()
    best, unaware, own = table.best(), table.best(anywhere=True), table.at("average", 1, 12, 40.0)
    beside = [table.at(best.rule, best.lower, best.upper, best.set_point_pa + step).share() for step in (-STEP_PA, STEP_PA)]
    loses = listed(f"{100 * (best.share() - share):.0f}" for share in sorted(beside, reverse=True))
    fixed = [max(table.at(rule, 1, 12, point).share() for point in set_points_pa()) for rule in PAIR_RULES]
    of_rules = {rule: table.each_at_its_own(rule) for rule in PAIR_RULES}
    places, tops = of_rules["average"], [found[-1].share() for found in of_rules.values()]
    dead = ", ".join(f"{rule} {percent(table.best(rule, loss='dead').share('dead'))}" for rule in PAIR_RULES)
    wide = max(50 * (high - low) for low, high in (one.interval() for one in (own, *places, *(found[-1] for found in of_rules.values()))))
    return (
        f"{SITE_NAME}, {STREET}. After every change look for the set point again: {with_unit(STEP_PA, 'pressure')} off it, to either side, "
        f"the best of all loses {loses} points. Each at its own set point: under average the places {CLEAR} make "
        f"{percent(places[0].share())} to {percent(places[-1].share())}; on storeys 1 and 12 (12 too near the supply air) the rules make "
        f"{percent(min(fixed))} to {percent(max(fixed))}; the best two or three places {CLEAR} of each rule, {percent(min(tops))} to "
        f"{percent(max(tops))}. The lost transmitter decides which rule; the best of each, with one dead: {dead}. Shares here are sure to "
        f"about {wide:.0f} points either side, at {100 * CONFIDENCE:.0f} %.",
        f"Best of all that was tried clear of supply and final exit, with every reading right: {best.text()}, {_share(best, 'none')}. "
        f"{_stuck_high(best)} No choice holds in all conditions{NO_PASS}.",
        _to_the_electrician(),
        f"Not in the jet: the model leaves it out, and would pick the {unaware.text()}, {percent(unaware.share())}. Supply air enters on "
        f"storey {listed(map(str, supply_levels()))}; keep every high-side tube end at least {SPELLED[CLEAR_STOREYS]} storeys away "
        "from it. The site file's storey 12 is too near as well. Keep them away from doors that often stand open, and from wind; the "
        "low-side tube ends in the space that the door, or the wall, is judged against (common practice, no source).",
        "Limits: one invented building, steady state, chances and a year of weather that are assumed; the best of many looks a little "
        "better than it is. Sample again with your own chances before you drill.",
    )


page = LessonParts("where_the_transmitters_go", _lines, ("neutral_plane", "share_and_its_interval"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
