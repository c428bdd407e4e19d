"""A case of the fault bench: a seat and its hidden fault from a seed; a visit to it, in which each check costs minutes."""

from dataclasses import dataclass, field
from functools import lru_cache, partial

import numpy as np

from helpers.fault_bench.checks import INPUTS, MINUTES, SHEET, Seen, check_named, look, place_words
from helpers.fault_bench.diagnosis import trend_facts
from helpers.fault_bench.faults import LEVELS, Level, cheapest_looks, fault_named, faults_at, left_after, signs_of
from helpers.fault_bench.faulty_loop import MODES, TAPS, DrawnLoop, seat_of, site
from helpers.fault_bench.found import OPENS_S, SHUTS_S, found
from helpers.plots.charts import trend
from helpers.plots.plot import Axis, Line
from helpers.plots.style import REFERENCE
from helpers.teaching.seeds import seed_of
from helpers.units.said import with_unit

MOST_DRAWS = 50
NOTICED_S, WEAK_PA, LOUD_HZ, VAGUE_LEVEL = 15.0, 15.0, 30.0, 3
SPEED_WORDS = {
    "stands": "The fan is not to be heard at all.",
    "stops and starts": "The fan stops and starts again and again.",
    "at lowest speed": "The fan only hums, whatever happens.",
}
SMALL_TALK = (
    "It is a cold week, says the building manager.",
    "The building manager tells of the scaffolding that stood at the west wall.",
    "The building manager finds the air in the stair dusty.",
    "The plant room was painted in spring, says the building manager.",
)


@dataclass(frozen=True)
class FaultCase:
    """seed; level, a `Level`; seat; fault_key: the answer, hidden until it is judged."""

    seed: int
    level: Level
    seat: DrawnLoop
    fault_key: str

    @property
    def site_name(self):
        """The building."""
        return site().name

    @property
    def mode(self):
        """Either "fire mode" or "everyday mode"."""
        return self.seat.mode

    @property
    def budget_min(self):
        """Minutes to spend; None for as long as one likes."""
        return self.level.budget_min

    @property
    def faults(self):
        """The `Fault`s that can be the answer."""
        return tuple(fault_named(key) for key in faults_at(self.level, self.mode))

    @property
    def found(self):
        """The loop as it is found (studies' `Found`)."""
        return found(self.seat, self.fault_key)

    def complaint(self):
        """Why somebody called, in a few sentences."""
        if self.level.number == VAGUE_LEVEL:
            return f"{SMALL_TALK[self.seat.noise_seed % len(SMALL_TALK)]} They would like it looked at, and know no more."
        return " ".join(_trouble(self.found, self.mode))

    def trend(self, sheet=False):
        """`Plot` of the last minutes: both readings as they are displayed, and the fan's speed; sheet: with the set point of the handover
        sheet, once that was fetched: before, it would give away for nothing what a check costs minutes for."""
        return trend_of(self.found, f"{self.site_name}, {self.mode}", sheet)

    def where(self):
        """The building, and which transmitter is which, by the drawing: one name for storey and input."""
        taps = (f"{place_words(name)}, on {entry}" for name, entry in zip(TAPS, INPUTS, strict=True))
        return f"{self.site_name}, {self.mode}. By the drawing {'; '.join(taps)}. The set point stands on the handover sheet."

    def door(self):
        """What somebody found at a door, with the fan as it runs."""
        level, force, limit = self.found.heaviest
        force, limit = (with_unit(float(np.round(newton)), "force") for newton in (force, limit))
        return f"Stair door {level} takes {force} at the handle as it is now; {limit} is allowed."


def draw_case(seed, level=1):
    """The case of a seed (a whole number from 0) at a level, 1, 2 or 3: always the same one. Raises ValueError for others.

    A fair one: its proof fits the minutes, and from level 2 on the trend alone does not give it away.
    """
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise ValueError(f"seed must be a whole number of 0 or more, got {seed!r:.60}")
    level = _level(level)
    for turn in range(MOST_DRAWS):
        seat = seat_of(seed_of("fault bench seat", seed, level.number, turn), level.rough)
        draw = np.random.default_rng(seed_of("fault bench fault", seed, level.number, turn))
        case = FaultCase(seed, level, seat, str(draw.choice(faults_at(level, seat.mode))))
        if _fair(case):
            return case
    raise ValueError(f"seed {seed} gave no fair case in {MOST_DRAWS} draws; the bench must be mended")


def _fair(case):
    keys = tuple(fault.key for fault in case.faults)
    if case.level.number > 1 and len(left_after((), case.fault_key, trend_facts(case.found), case.mode, keys)) == 1:
        return False
    try:
        minutes, _ = proof(case)
    except ValueError:  # in a rare seat something can not be ruled out
        return False
    return case.budget_min is None or minutes <= case.budget_min


@lru_cache(64)
def signs(case):
    """What the case's loop shows, of studies' conclusions and the trend."""
    return signs_of(case.found)


@lru_cache(64)
def proof(case):
    """(minutes, looks) of the cheapest checks that, with the trend, leave only the case's fault. Raises ValueError where none do."""
    return cheapest_looks(case.fault_key, signs(case), case.mode, tuple(fault.key for fault in case.faults), MINUTES)


def case_of(fault_key, seed, level=2, mode=None):
    """The case of a seed with a fault that is chosen, for a demonstration. Raises ValueError where the fault can not be there."""
    level = _level(level)
    seat = seat_of(seed_of("fault bench seat", seed, level.number), level.rough, mode)
    if fault_key not in faults_at(level, seat.mode):
        raise ValueError(f"fault_key must be one of {', '.join(faults_at(level, seat.mode))} in the {seat.mode}, got {fault_key!r:.60}")
    return FaultCase(seed, level, seat, fault_key)


def _level(number):
    for level in LEVELS:
        if number == level.number and not isinstance(number, bool):
            return level
    raise ValueError(f"level must be 1, 2 or 3, got {number!r:.60}")


def _trouble(loop, mode):
    """What people notice, from what the loop does."""
    level, force, limit = loop.heaviest
    said = [SPEED_WORDS[speed]] if (speed := trend_facts(loop)["speed"]) in SPEED_WORDS else []
    if not said and loop.now("speed_hz") > LOUD_HZ:
        said = ["The fan can be heard on every floor."]
    if force > limit:
        said.insert(0, f"A tenant can hardly open the door to the stair on storey {level}.")
    elif loop.heavy_for_s > NOTICED_S:
        said.insert(0, "For a while after somebody has used the final exit door, the doors upstairs are hard to open.")
    weakest, pressure = loop.weakest
    if mode == MODES[0] and pressure < WEAK_PA:
        said.append(f"In the smoke test a wisp came into the stair on storey {weakest}.")
    quiet = "Nobody complains; it is the yearly visit." if mode == MODES[1] else "Nobody complains; it is the test before the inspection."
    return said or [quiet]


def trend_of(loop, title, sheet=False):
    """`Plot` of a loop as it is found, as the recorder keeps it; sheet: with the set point of the handover sheet."""
    time, displays = loop.recorded_s, loop.recorded("displays")
    readings = [Line(time, displays[:, number], label=f"display {name}") for number, name in enumerate(TAPS)]
    speed = [Line(time, loop.recorded("speed_hz"), REFERENCE)]
    door = "The final exit door was opened and shut meanwhile."
    caption = f"Displays of {' and '.join(TAPS)}, and the speed of the drive, a value every {time[1] - time[0]:.0f} s. {door}"
    agreed_pa = loop.rig.seat.set_point_pa
    limits = [(f"sheet {with_unit(agreed_pa, 'pressure')}", agreed_pa, "set point")] if sheet else []
    axes = (Axis("Reading", "pressure"), readings, limits), (Axis("Speed", "frequency", room=(0.0, 50.0)), speed, ())
    events = ("final exit door opens", OPENS_S), ("final exit door shuts", SHUTS_S)
    return trend("fault bench", title, "Time [s]", axes, events, caption=caption, headed=False)  # the page says where


@dataclass
class Visit:
    """taken: list of `Seen`, in their order."""

    case: FaultCase
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
    def has_sheet(self):
        """Whether the handover sheet was fetched."""
        return any(seen.check.key == SHEET for seen in self.taken)

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
    picture = partial(trend_of, case.found, f"{case.site_name}: the final exit door again") if check.key == "door" else None
    return Seen(check, place, look(case.found, check.key, place), picture)
