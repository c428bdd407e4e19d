"""What to predict before the map: what matters most of place, rule and set point, and what is left with one transmitter dead."""

from helpers import units
from helpers.lessons.exercise import Chosen, Measured
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.figures import listed
from helpers.studies.placement_results import percent
from helpers.studies.placement_table import placement_table

__all__ = ["PREDICTIONS", "costs_most", "dead_one"]

RULE, LOWER, UPPER, SET_POINT_PA = "average", 1, 12, 40.0  # the site file's own choice
OTHER_RULE, OTHER_UPPER, OTHER_SET_POINT_PA = "lowest", 8, 45.0
MOVED, RULED, HELD = (
    "the upper transmitter goes down to level 8",
    "the rule becomes lowest, with the same set point",
    "the set point goes up by an eighth",
)
CHANGES = {
    MOVED: (RULE, LOWER, OTHER_UPPER, SET_POINT_PA),
    RULED: (OTHER_RULE, LOWER, UPPER, SET_POINT_PA),
    HELD: (RULE, LOWER, UPPER, OTHER_SET_POINT_PA),
}
HELP = ("middle", "highest")  # rules that one reading of zero does not pull down
DEAD_POINTS = 5.0  # a prediction so near counts


def _own():
    return placement_table().at(RULE, LOWER, UPPER, SET_POINT_PA)


def _costs_most(system):
    shares = {words: placement_table().at(*change).share() for words, change in CHANGES.items()}
    worst = min(shares, key=shares.get)
    told = ", ".join(f"{percent(share)} if {words}" for words, share in shares.items())
    words = (
        f"{percent(_own().share())} of the drawn conditions as it stands; {told}. The average of a lower pair stands for a lower storey, "
        "and the doors at the top pay for it; but the lowest reading with the average's set point sends the fan up whenever one end is "
        "low, or a door stands open beside a transmitter. A rule and its set point belong together, and go before the place."
    )
    return Outcome(Chosen(worst, tuple(CHANGES)), words)


def _dead_one(system):
    own = _own()
    table = placement_table()
    helped = [f"the {one.text(system)} keeps {percent(one.share('dead'))}" for one in (table.best(rule, loss="dead") for rule in HELP)]
    words = (
        f"of {percent(own.share())} there remain {percent(own.share('dead'))}: one zero in an average of two sends the fan towards twice "
        f"the set point. What helps is a rule that a zero cannot pull down: {listed(helped)}. (A reading stuck high is another matter; "
        "then the highest fails and the middle holds.)"
    )
    return Outcome(Measured(100 * own.share("dead"), "percent", DEAD_POINTS), words)


costs_most = Prediction(
    "costs_most",
    lambda system: (
        f"Larkfield House holds the average of levels {LOWER} and {UPPER} at {units.show(SET_POINT_PA, 'pressure', system)} now. Its doors "
        "are judged under many drawn conditions: weather of a year, doors open here and there, walls leakier or tighter than drawn. Which "
        "change costs the most?"
    ),
    _costs_most,
    tuple(CHANGES),
)
dead_one = Prediction(
    "dead_one",
    lambda system: (
        "The same two transmitters, the same average. One of them dies and reads zero, and nothing takes it out of the average. In how "
        "many per cent of the conditions are all doors still inside their windows?"
    ),
    _dead_one,
    dimension="percent",
)
PREDICTIONS = (costs_most, dead_one)
