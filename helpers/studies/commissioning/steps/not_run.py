"""What is NOT RUN at a site, and what makes it safe where those who may decide otherwise; the day's ceiling of speed in the drive.

One source for the steps of a test day and for the acceptance sheet: nobody reads on one of them what the other forbids.
"""

import numpy as np

from helpers.model.files import texts
from helpers.studies.duty.permissible_speed import LOWER_NOTE
from helpers.studies.status import word_of
from helpers.units.said import with_unit

NOT_RUN = "NOT RUN"
WHY_ABOVE = "why, and who may decide otherwise in writing, stands above the steps"  # said once there, not at every step
SWITCH_OFF = " So decided, the switch is left at OFF."  # after BY_COMMAND
COMMAND_ALONE = "at the panel the command goes as the step has it; the fan, locked off, stands: no run is proved"
UNLESS_DECIDED = texts("on_site")["given_back"]["unless"]
OTHERWISE = f" Run all the same, it is not left in AUTOMATIC {UNLESS_DECIDED}."
NO_FALLBACK = "what the loop does without a reading is not laid down"
DECIDERS = "Owner, licensed engineer and authority having jurisdiction, with the fire service,"
# What makes a step safe that somebody runs all the same: of one that runs the loop, of one that needs the command alone, of a fast one.
BY_LOOP = (
    "the day's ceiling in the drive and read back, one at the manual switch who does nothing else, nobody in the swing of a leaf, MANUAL "
    "at once where the speed hunts"
)
BY_COMMAND = (
    "the fan OFF, isolated and locked off by the electrician, the command alone seen at the panel: that proves no run; after it the lock "
    "off and the isolator closed, the switch still at OFF"
)
FAST = (
    "the day's ceiling in the drive and read back, so that no figure expected past it holds; nobody in the stair while a door shuts, one "
    "at the manual switch who does nothing else"
)
PAST = " is above the day's ceiling"
INSIDE = "inside its limits"
UNTIL_SET_BACK = (
    "until it is set back the fan gives no more than this, in a fire too: the fire service is told of it, and the day does not end while "
    f"it stands, {UNLESS_DECIDED}"
)


def by_the_record(first):
    """Why what needs the loop is NOT RUN, in words; first: what the design record has to settle before, in words, "" for nothing."""
    return f"the design record still lacks {first}" if first else ""


def word_shown(word, against):
    """The word of a status as it is shown of what is expected in a round; against: why that is NOT RUN, "" where it is run: what nobody
    runs is called no PASS."""
    return INSIDE if against and word == word_of("good") else word


def too_fast(speed_hz, ceiling, minute=None):
    """That a speed [Hz] is above the day's `Ceiling`, in words; "" where it is not. minute: since the start, of a speed that comes and
    goes."""
    if not ceiling.passed_by(speed_hz):
        return ""
    when = "" if minute is None else f" at minute {minute:.0f}"
    return f"{with_unit(speed_hz, 'frequency', 1)}{when}{PAST}"


def decided_said(against, measure):
    """That a step is NOT RUN, why, who may decide otherwise, and what makes it safe then, in words that what is done follows."""
    return f"{NOT_RUN} while {against}. {DECIDERS} may decide otherwise in writing; then, {measure}"


def ceiling_shown(ceiling):
    """The `Ceiling` as a figure, or that no speed of the drive is."""
    return "no speed of this drive" if np.isnan(ceiling.hz) else with_unit(ceiling.hz, "frequency", 1)


def is_entered(ceiling):
    """Whether a `Ceiling` is entered in the drive: one that is lower than the drive's own highest speed."""
    return bool(ceiling.lower and not np.isnan(ceiling.hz))


def entered_said(ceiling):
    """How the `Ceiling` gets into the drive, and how it comes out again."""
    note = "" if ceiling.measured else f" {LOWER_NOTE[0].upper()}{LOWER_NOTE[1:]}."
    keyed = ceiling.keyed_said
    return (
        f"{keyed[0].upper()}{keyed[1:]} entered as the drive's highest speed in MANUAL and by loop, and read back.{note} The value that "
        "stood there goes on the list of forced values, with its Hz. It is set back at the end only where nothing failed and nothing is "
        "left open."
    )
