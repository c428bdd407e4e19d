"""Everything a learner is asked, by the lesson's key: the predictions of each page and the makers of its exercises."""

from helpers.lessons.average_lowest_highest import questions as rule_questions
from helpers.lessons.leakage_and_fan_duty import questions as duty_questions
from helpers.lessons.low_demand_stop import questions as stop_questions
from helpers.lessons.pressure_window import questions as window_questions
from helpers.lessons.reverse_or_direct import questions as action_questions
from helpers.lessons.scaling_the_signal import questions as scaling_questions
from helpers.lessons.transmitter_range import questions as range_questions
from helpers.lessons.tuning_and_door_events import questions as tuning_questions
from helpers.lessons.where_the_transmitters_go import questions as place_questions

__all__ = ["EXERCISES", "PREDICTIONS", "asked"]

EXERCISES = {
    "pressure_window": window_questions.MAKERS,
    "leakage_and_fan_duty": duty_questions.MAKERS,
    "transmitter_range": range_questions.MAKERS,
    "scaling_the_signal": scaling_questions.MAKERS,
    "reverse_or_direct": action_questions.MAKERS,
    "average_lowest_highest": rule_questions.MAKERS,
    "where_the_transmitters_go": place_questions.MAKERS,
    "tuning_and_door_events": tuning_questions.MAKERS,
    "low_demand_stop": stop_questions.MAKERS,
}

PREDICTIONS = {
    "pressure_window": window_questions.PREDICTIONS,
    "leakage_and_fan_duty": duty_questions.PREDICTIONS,
    "transmitter_range": range_questions.PREDICTIONS,
    "scaling_the_signal": scaling_questions.PREDICTIONS,
    "reverse_or_direct": action_questions.PREDICTIONS,
    "average_lowest_highest": rule_questions.PREDICTIONS,
    "where_the_transmitters_go": place_questions.PREDICTIONS,
    "tuning_and_door_events": tuning_questions.PREDICTIONS,
    "low_demand_stop": stop_questions.PREDICTIONS,
}


def asked():
    """(keys of the predictions, names of the exercises) by key of the lesson, as `LearnerRecord.standing` takes it."""
    return {
        key: (tuple(prediction.key for prediction in PREDICTIONS[key]), tuple(make.__name__ for make in makers))
        for key, makers in EXERCISES.items()
    }
