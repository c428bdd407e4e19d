"""Everything a learner is asked, by the lesson's key: the predictions of each page and the makers of its exercises."""

from helpers.lessons.exercises import average_lowest_highest as rule_exercises
from helpers.lessons.exercises import leakage_and_fan_duty as duty_exercises
from helpers.lessons.exercises import low_demand_stop as stop_exercises
from helpers.lessons.exercises import pressure_window as window_exercises
from helpers.lessons.exercises import reverse_or_direct as action_exercises
from helpers.lessons.exercises import scaling_the_signal as scaling_exercises
from helpers.lessons.exercises import transmitter_range as range_exercises
from helpers.lessons.exercises import tuning_and_door_events as tuning_exercises
from helpers.lessons.exercises import where_the_transmitters_go as place_exercises
from helpers.lessons.predictions import average_lowest_highest as rule_predictions
from helpers.lessons.predictions import leakage_and_fan_duty as duty_predictions
from helpers.lessons.predictions import low_demand_stop as stop_predictions
from helpers.lessons.predictions import pressure_window as window_predictions
from helpers.lessons.predictions import reverse_or_direct as action_predictions
from helpers.lessons.predictions import scaling_the_signal as scaling_predictions
from helpers.lessons.predictions import transmitter_range as range_predictions
from helpers.lessons.predictions import tuning_and_door_events as tuning_predictions
from helpers.lessons.predictions import where_the_transmitters_go as place_predictions

__all__ = ["EXERCISES", "PREDICTIONS", "asked"]

EXERCISES = {
    "pressure_window": window_exercises.MAKERS,
    "leakage_and_fan_duty": duty_exercises.MAKERS,
    "transmitter_range": range_exercises.MAKERS,
    "scaling_the_signal": scaling_exercises.MAKERS,
    "reverse_or_direct": action_exercises.MAKERS,
    "average_lowest_highest": rule_exercises.MAKERS,
    "where_the_transmitters_go": place_exercises.MAKERS,
    "tuning_and_door_events": tuning_exercises.MAKERS,
    "low_demand_stop": stop_exercises.MAKERS,
}

PREDICTIONS = {
    "pressure_window": window_predictions.PREDICTIONS,
    "leakage_and_fan_duty": duty_predictions.PREDICTIONS,
    "transmitter_range": range_predictions.PREDICTIONS,
    "scaling_the_signal": scaling_predictions.PREDICTIONS,
    "reverse_or_direct": action_predictions.PREDICTIONS,
    "average_lowest_highest": rule_predictions.PREDICTIONS,
    "where_the_transmitters_go": place_predictions.PREDICTIONS,
    "tuning_and_door_events": tuning_predictions.PREDICTIONS,
    "low_demand_stop": stop_predictions.PREDICTIONS,
}


def asked():
    """(keys of the predictions, names of the exercises) by key of the lesson, as `LearnerRecord.standing` takes it."""
    return {
        key: (tuple(prediction.key for prediction in PREDICTIONS[key]), tuple(make.__name__ for make in makers))
        for key, makers in EXERCISES.items()
    }
