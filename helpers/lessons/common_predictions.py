"""What a room tends to answer in each lesson, and how to use it: one `Story` a lesson, in the order of the plan."""

from functools import cache

from helpers.lessons import common_predictions_air as air
from helpers.lessons import common_predictions_loop as loop
from helpers.lessons import common_predictions_rules as rules
from helpers.lessons.common_predictions_story import SOURCE, Move, Story
from helpers.lessons.plan import lesson

__all__ = ["SOURCE", "STORIES", "Move", "Story", "story"]

STORIES = {
    "pressure_window": air.pressure_window,
    "leakage_and_fan_duty": air.leakage_and_fan_duty,
    "transmitter_range": air.transmitter_range,
    "scaling_the_signal": loop.scaling_the_signal,
    "reverse_or_direct": loop.reverse_or_direct,
    "average_lowest_highest": rules.average_lowest_highest,
    "where_the_transmitters_go": rules.where_the_transmitters_go,
    "tuning_and_door_events": loop.tuning_and_door_events,
    "low_demand_stop": loop.low_demand_stop,
}


@cache
def story(key):
    """The story of a lesson, computed when it is first asked for. Raises ValueError for a key that is not in the plan."""
    return STORIES[lesson(key).key]()
