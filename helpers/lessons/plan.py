"""The pages of the workbook in the order one learns them: number, key, title, minutes, what each builds on."""

from dataclasses import dataclass

__all__ = ["LESSONS", "Lesson", "lesson"]


@dataclass(frozen=True)
class Lesson:
    """One page: `key` names it in files and records; builds_on holds keys of other lessons."""

    number: int
    key: str
    title: str
    minutes: int
    builds_on: tuple = ()

    @property
    def notebook(self):
        """File name of its notebook."""
        return f"{self.number:02d}_{self.key}.ipynb"


LESSONS = (
    Lesson(1, "pressure_window", "The pressure window", 75),
    Lesson(2, "leakage_and_fan_duty", "Leakage, stack effect and fan duty", 100, ("pressure_window",)),
    Lesson(3, "transmitter_range", "The transmitter's range", 60, ("pressure_window",)),
    Lesson(4, "scaling_the_signal", "Scaling the signal", 75, ("transmitter_range",)),
    Lesson(5, "reverse_or_direct", "Reverse or direct", 60, ("scaling_the_signal",)),
    Lesson(6, "average_lowest_highest", "Average, lowest or highest", 75, ("leakage_and_fan_duty", "scaling_the_signal")),
    Lesson(7, "where_the_transmitters_go", "Where the transmitters go", 60, ("average_lowest_highest",)),
    Lesson(8, "tuning_and_door_events", "Tuning and door events", 100, ("reverse_or_direct", "average_lowest_highest")),
    Lesson(9, "low_demand_stop", "Low-demand stop and sleep thresholds", 75, ("tuning_and_door_events",)),
)


def lesson(key):
    """The lesson of a key; raises ValueError for a key that is not there, naming those that are."""
    found = {one.key: one for one in LESSONS}
    if key not in found:
        raise ValueError(f"key must be one of {', '.join(found)}; got {key!r:.60}")
    return found[key]
