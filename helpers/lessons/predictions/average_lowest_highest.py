"""What to predict before the picture: a rule changed and its set point kept, a tube off in an average, a stuck reading under "highest"."""

from helpers import units
from helpers.lessons.exercise import Chosen, Measured
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.figures import inside_text
from helpers.studies.rule_faults import NO_FAULT, DoorsOpen, ReadingFault, rule_bench

__all__ = ["PREDICTIONS", "kept_set_point", "stuck", "tube_off"]

WINTER_C = -9.0  # of the site file
SET_POINT_PA, HIGHEST_SET_POINT_PA, STUCK_PA = 40.0, 51.0, 60.0
LOWER, UPPER = 0, 1
INSIDE, HEAVY, SMOKE = (
    "every door stays inside its window",
    "doors high in the stair become too heavy",
    "doors low in the stair let smoke pass",
)
FULL, LOWEST, HOLDS = "it runs to full speed", "it runs to its lowest speed", "it hardly changes"


def _one(rule, set_point_pa, fault=NO_FAULT):
    (found,) = rule_bench().ruled(WINTER_C, set_point_pa, DoorsOpen(), fault, (rule,))
    return found


def _pa(value, system):
    return units.show(value, "pressure", system)


def _kept_set_point(system):
    before, after = _one("average", SET_POINT_PA), _one("lowest", SET_POINT_PA)
    answer = INSIDE if after.inside else HEAVY if after.worst.too == "high" else SMOKE
    low, high = rule_bench().set_points_pa(WINTER_C, rule="lowest")
    words = (
        f"the lower transmitter read {_pa(before.true_pa[LOWER], system)} under the average. Now it is to read "
        f"{_pa(SET_POINT_PA, system)}, so the fan speeds up to {units.show(after.speed_hz, 'frequency', system)}, and the stack effect "
        f"puts the rest on top: {after.worst.text(system)}. The lowest reading wants a set point of its own, "
        f"{inside_text(low, high, system)} here."
    )
    return Outcome(Chosen(answer, (INSIDE, HEAVY, SMOKE)), words)


def _tube_off(system):
    before, after = _one("average", SET_POINT_PA), _one("average", SET_POINT_PA, ReadingFault("tube off", LOWER))
    words = (
        f"half of the average is lost, so the loop turns the fan up until the upper one, which read {_pa(before.true_pa[UPPER], system)} "
        f"before, makes twice the set point by itself. The display shows {_pa(after.reading_pa, system)} all the time, so an alarm on it "
        "never comes; one on each reading would, and one on their difference. "
        f"Meanwhile: {after.worst.text(system)}."
    )
    # A tenth of the answer: the question is whether it rises, and by about how much.
    return Outcome(Measured(float(after.true_pa[UPPER]), "pressure", 0.1 * float(after.true_pa[UPPER])), words)


def _stuck(system):
    after = _one("highest", HIGHEST_SET_POINT_PA, ReadingFault("stuck", UPPER, STUCK_PA))
    dead = _one("highest", HIGHEST_SET_POINT_PA, ReadingFault("tube off", UPPER))
    answer = {"at full speed": FULL, "at lowest speed": LOWEST, "held": HOLDS}[after.state]
    words = (
        "the highest reading is now the stuck one, and it lies above the set point however slowly the fan turns. So the loop slows down to "
        f"{units.show(after.speed_hz, 'frequency', system)} and the stair is given up, with the {after.worst.text(system)}. Had the same "
        f"transmitter gone to zero instead, the lower one alone would have been the highest: it is to be held at "
        f"{_pa(HIGHEST_SET_POINT_PA, system)}, the fan brings it to {_pa(dead.true_pa[LOWER], system)}, and runs {dead.state}."
    )
    return Outcome(Chosen(answer, (FULL, LOWEST, HOLDS)), words)


kept_set_point = Prediction(
    "kept_set_point",
    lambda system: (
        f"Larkfield House, winter, doors shut. The average of two transmitters, on levels 1 and 12, is held at "
        f"{_pa(SET_POINT_PA, system)}; with the stair as warm as its file says every door is inside its window. "
        "Somebody sets the rule to lowest, to be on the safe side, and leaves the set point as it is. What happens?"
    ),
    _kept_set_point,
    (INSIDE, HEAVY, SMOKE),
)
tube_off = Prediction(
    "tube_off",
    lambda system: (
        f"The average again, at {_pa(SET_POINT_PA, system)}, in winter. The tube of the lower transmitter slips off: it reads zero and its "
        "signal looks healthy. What does the upper one read, once the loop has settled?"
    ),
    _tube_off,
    dimension="pressure",
)
stuck = Prediction(
    "stuck",
    lambda system: (
        f"Now the highest reading runs the fan, and a set point of {_pa(HIGHEST_SET_POINT_PA, system)} suits it. Water freezes in the tube "
        f"of the upper transmitter, which goes on saying {_pa(STUCK_PA, system)} for ever. What does the fan do?"
    ),
    _stuck,
    (FULL, LOWEST, HOLDS),
)
PREDICTIONS = (kept_set_point, tube_off, stuck)
