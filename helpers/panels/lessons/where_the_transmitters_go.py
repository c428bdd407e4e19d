"""Lesson 07, where the transmitters go: the parts of its page."""

from helpers.lessons.derivations.where_the_transmitters_go import interval_of_a_share, neutral_plane
from helpers.lessons.exercises.where_the_transmitters_go import MAKERS
from helpers.lessons.predictions import where_the_transmitters_go as predictions
from helpers.lessons.worked.where_the_transmitters_go import share_and_its_interval
from helpers.panels.card import Card
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.where_the_transmitters_go_panel import placement_panel
from helpers.panels.markup import paragraphs_html
from helpers.panels.reading import WorkedCard
from helpers.studies.placement_results import percent
from helpers.studies.placement_table import CONDITIONS, SITE_NAME, placement_table

__all__ = ["compare", "derivation", "drawn", "exercises", "panel", "predict", "senior_card", "worked_example"]

KEY = "where_the_transmitters_go"
DERIVATIONS = {"neutral": neutral_plane, "share": interval_of_a_share}


def panel():
    """The live panel."""
    return placement_panel()


def drawn():
    """How the conditions were drawn, in sentences."""
    said = placement_table().said
    return Card(paragraphs_html(said), "\n".join(said))


def derivation(name="neutral"):
    """Where the stack effect is nothing ("neutral"), or how sure a share is ("share")."""
    return DERIVATIONS[name]()


def worked_example():
    """Wilson's interval by hand."""
    return WorkedCard(share_and_its_interval())


def _lines(system):
    table = placement_table()
    own = [table.at(rule, 1, 12, 40.0) for rule in ("average", "highest", "lowest")]
    best, single = table.best(), table.best("alone")
    (average, *_), (low, high) = own, best.interval()
    spare = table.best("middle", loss="dead")
    rules = ", ".join(f"{one.rule} {percent(one.share())}" for one in own)
    return (
        f"Rule and set point first, places second: on levels 1 and 12 of {SITE_NAME}, all at the same set point, {rules} of {CONDITIONS} "
        "drawn conditions.",
        f"Each rule at its own set point comes much nearer to the others. Best of all that was tried: {best.text(system)}, "
        f"{percent(best.share())} (95 % interval {percent(low)} to {percent(high)}); the best single one, {single.text(system)}, "
        f"{percent(single.share())}.",
        f"A dead transmitter that is counted undoes an average of two: {percent(average.share('dead'))} remain. The {spare.text(system)} "
        f"keeps {percent(spare.share('dead'))}, at {percent(spare.share())} with all of them right.",
        "The low-side tube ends in the space that the door, or the wall, is judged against; keep both tubes away from doors that often "
        "stand open, from supply points, and from wind (common practice, no source).",
        "Limits: one invented building, steady state, chances and a year of weather that are assumed; the best of many looks a little "
        "better than it is. Draw again with your own chances before you drill.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
