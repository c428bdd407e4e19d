"""Review of rule and set point of other plants than stairs: which place pays for the way the readings are combined?"""

import numpy as np

from helpers.studies.figures import NETWORK
from helpers.studies.review_kinds import BUILDING, STRATEGY, Kind
from helpers.studies.review_words import wrong

__all__ = ["KINDS"]


def place_left_out(bench, system):
    """A place is out of its limits while the loop is content."""
    held, cases = bench.held, bench.settled & (bench.held.state == "held")
    said = bench.too_low(held, cases, system) or bench.too_high(held, cases, system)
    if said:
        yield wrong(
            f"The {bench.strategy.loop.rule} reading leaves a place out of its limits: {said}",
            f"set point {bench.show(bench.set_point, system)}",
            "the loop is content with its reading, and the place that pays is another",
            NETWORK,
            _works(bench, system),
        )


def _rules(bench):
    return (
        tuple(dict.fromkeys([bench.strategy.loop.rule, "average", "lowest", "highest"])) if len(bench.strategy.inputs) > 1 else ("average",)
    )


def _works(bench, system):
    """Set points that keep every place within its limits, rule by rule, in words."""
    said = []
    for rule in _rules(bench):
        good = bench.set_points(rule)
        said += [f"{rule} reading at {bench.between(good.min(), good.max(), system)}"] if good.size else []
    return " or ".join(said) or "no set point under any rule does: the plant has to change, or what is asked of it"


def whose_place(bench):
    """An entry mends it where some rule has a set point that suits every place."""
    return STRATEGY if any(np.size(bench.set_points(rule)) for rule in _rules(bench)) else BUILDING


KINDS = (Kind("place left out", "a place out of its limits while the loop is content", place_left_out, whose_place),)
