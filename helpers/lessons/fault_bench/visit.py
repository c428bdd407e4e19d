"""A visit to a case: checks are taken one by one, and each costs minutes."""

from dataclasses import dataclass, field
from functools import partial

from helpers.lessons.fault_bench.case import Case, trend_of
from helpers.lessons.fault_bench.checks import Seen, check_named
from helpers.studies.fault_bench.looks import look

__all__ = ["Visit", "seen_at"]


@dataclass
class Visit:
    """taken: list of `Seen`, in their order."""

    case: Case
    taken: list = field(default_factory=list)

    @property
    def spent_min(self):
        """Minutes spent so far."""
        return sum(seen.minutes for seen in self.taken)

    @property
    def left_min(self):
        """Minutes left; None for as long as one likes."""
        return None if self.case.budget_min is None else self.case.budget_min - self.spent_min

    @property
    def looks(self):
        """The looks taken, as a set of (check, place)."""
        return {seen.look for seen in self.taken}

    def take(self, check_key, place=None):
        """Take a check. Returns `Seen`; raises ValueError for an unknown check or place, and where the minutes do not reach."""
        check = check_named(check_key)
        if place not in (check.places or (None,)):
            where = f"one of {', '.join(check.places)}" if check.places else "None"
            raise ValueError(f"place must be {where} for {check.key!r}, got {place!r:.60}")
        if self.left_min is not None and check.minutes > self.left_min:
            raise ValueError(f"To {check.name} takes {check.minutes:g} min and {self.left_min:g} min are left: name the fault now.")
        self.taken.append(seen_at(self.case, check, place))
        return self.taken[-1]


def seen_at(case, check, place):
    """What a check shows of a case's loop."""
    picture = partial(trend_of, case.found, f"{case.site_name}: the street door again") if check.key == "door" else None
    return Seen(check, place, look(case.found, check.key, place), picture)
