"""What a step of a test day is: who, how long, what to do, what is expected, the limit, what to do when it fails, the caution beside it, in
what state it leaves the fan; and whether it is run at all.

A day is of use in a building whose design fails: fan off and fixed speeds in MANUAL are always run, up to the day's ceiling. A step that
needs what the record has not laid down is printed as NOT RUN, with who may decide otherwise and what then makes it safe.
"""

from dataclasses import dataclass, replace

from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF
from helpers.studies.commissioning.hand_back import NOT_LEFT, WATCHED
from helpers.studies.commissioning.steps.not_run import (
    BY_COMMAND,
    BY_LOOP,
    COMMAND_ALONE,
    NOT_RUN,
    OTHERWISE,
    SWITCH_OFF,
    WHY_ABOVE,
    by_the_record,
    too_fast,
)

LEAD, SWITCH, LOWER, UPPER = "test lead", "person at the manual switch", "pair at the lower end", "pair at the upper end"
PANEL, ELECTRICIAN = "person at the alarm panel", "licensed electrician"
WORKS = "alarm technician at detectors and panels"  # the person at the panel watches it and nothing else
PEOPLE = {LEAD: 1, SWITCH: 1, LOWER: 2, UPPER: 2, PANEL: 1, ELECTRICIAN: 1, WORKS: 1}  # people in each part of the crew
PAIRS = (LOWER, UPPER)
# Minutes of a pair: a pressure read and written down, the forces of a leaf with the fan in one state (nine pulls, sizes, the way to the
# next storey), a flow by traverse, a grid of an open door; of a test at panel or drive; of checks, of telling everybody, of giving back.
# Common practice, no source.
READ_MIN, FORCES_MIN, TRAVERSE_MIN, GRID_MIN, TEST_MIN, CHECK_MIN, TELL_MIN, BACK_MIN = 1.5, 5.0, 10.0, 6.0, 5.0, 30.0, 10.0, 20.0
# Minutes of the weather: at the bottom, and for each storey the way up and down with a stop to read. Common practice, no source.
WEATHER_MIN, CLIMB_MIN = 15.0, 1.5
# What the weather may be off, and the wind at the most: of the step of the weather. Common practice, no source.
OFF_C, OFF_WIND_M_S, MOST_WIND_M_S = 2.0, 2.0, 8.0
# Judged beside rounds and clock.
WEATHER, PLATES, CERTIFIED, LEAVES = "weather found", "devices and their plates", "gauges in date", "doors, leaf by leaf"
AGAIN = "end doors, again"
FORCES_OFF, THROUGH, ENTERED = "forces with the fan off", "air through open doors", "ceiling in the drive"
# Beside OFF, MANUAL, AUTOMATIC: nobody has touched it; its switch untouched, its highest speed the day's ceiling; not all of it is laid
# down; a lock is on its isolator.
AS_FOUND, CAPPED, AS_DECIDED, LOCKED = "AS FOUND", "AS FOUND, BUT CAPPED", "AS DECIDED", "LOCKED OUT"
STATES = {
    AS_FOUND: "▲ After this step the fan is as it was found, untouched: until all is proved the stair is not protected.",
    CAPPED: "▲ After this step the fan is as it was found, but for its highest speed, the day's ceiling: it gives no more, in a fire too; "
    "until all is proved the stair is not protected.",
    LOCKED: "▲ After this step the fan is LOCKED OUT until the next one: nothing starts it, the stair is not protected.",
    OFF: "▲ After this step the fan is OFF: the stair is not protected.",
    MANUAL: "▲ After this step the fan is in MANUAL: no alarm starts it and no loop controls it, the stair is not protected.",
    AUTOMATIC: f"After this step the fan is in {WATCHED}.",
    AS_DECIDED: f"▲ After this step the fan is {NOT_LEFT}: the stair is not protected.",
}
IN_ORDER = ("everybody told", "pre-checks", "fan-off baseline", "automatic, doors shut", "steady speeds", "doors one by one",
            "alarms and panel", "wires off", "power", "override", "give back")  # fmt: skip
# What is stopped by a step that came out otherwise: whatever runs the fan, or all but giving back.
FAN, ALL = "what runs the fan", "all"
NONE_LAID = "none laid down: to be laid down first, then this step"
NOT_LAID = f"what the loop does without a reading is not laid down: {NOT_LEFT}"
STOP = (
    "MANUAL at once and speed down where a leaf jams, someone is hurt, the blade or a wheel does what it should not, or the radio is silent"
)


# Cautions that many steps have: in full at the first step of a part, and in few words at the others of it.
IN_SHORT = {STOP: "MANUAL at once and speed down: a jam, somebody hurt, no answer"}


@dataclass(frozen=True)
class DayStep:
    """One step. part: one of IN_ORDER; who: of PEOPLE, with "door holders"; minutes; do, expected, limit, fails (what to do then),
    caution in words; leaves: one of STATES; judged: what of the report is its own: labels of rounds, lines of the clock, of BEFORE and
    CLOSING, WEATHER, PLATES, CERTIFIED, LEAVES, AGAIN, FORCES_OFF, THROUGH, ENTERED; loop: whether it needs what the record lays down of
    the loop; speed_hz: the fastest that it takes the fan, None for one that states none; measure: what makes it safe where somebody
    decides to run it all the same; decided: what is done then, "" for what is done anyway;
    earlier: titles that filled sheets have for it; added: whether earlier sheets lack it; stops: FAN or ALL of the later steps where it
    came out otherwise, "" for none; number: its place; against: why it is NOT RUN, in words, "" for one that is run."""

    part: str
    title: str
    who: tuple
    minutes: float
    do: str
    expected: str
    limit: str
    fails: str
    caution: str
    leaves: str
    judged: tuple = ()
    loop: bool = False
    speed_hz: float | None = None
    measure: str = BY_LOOP
    decided: str = ""
    earlier: tuple = ()
    added: bool = False
    stops: str = ""
    number: int = 0
    against: str = ""

    @property
    def label(self):
        """Number and title, by which sheets know the step."""
        return f"{self.number}. {self.title}"

    @property
    def left_said(self):
        """In what state the step leaves the fan, in a sentence."""
        if not self.against:
            return STATES[self.leaves]
        stays = STATES[self.leaves].replace("After this step the fan", "Not run, the fan")
        return f"{stays}{SWITCH_OFF * (self.measure == BY_COMMAND)}{OTHERWISE}"

    def numbered(self, number, before, against):
        """The same at its place; before: in what state the step before it leaves the fan; against: why it is not run, "" for nothing."""
        who = self.who if PANEL in self.who else (*self.who, PANEL)  # the fan is out of AUTOMATIC for hours: a real alarm must be seen
        if not against:
            return replace(self, number=number, who=who)
        who = who if self.measure != BY_COMMAND or ELECTRICIAN in who else (*who, ELECTRICIAN)
        do = f"{NOT_RUN}: {WHY_ABOVE}. So decided, {self.measure}: {self.decided or self.do}"
        locked = self.measure == BY_COMMAND
        return replace(self, number=number, who=who, minutes=self.minutes + 2 * TEST_MIN * locked, do=do, leaves=before, against=against,
                       expected=COMMAND_ALONE if locked else self.expected)  # fmt: skip

    @property
    def away(self):
        """Whether it leaves the fan where no alarm starts it as it should."""
        return self.leaves not in (AUTOMATIC, AS_FOUND, CAPPED)

    def caution_after(self, before):
        """Its caution, with what a step before it in its part has in full in few words and where; before: the `DayStep`s before it."""
        told = self.caution
        for whole, short in IN_SHORT.items():
            first = next((one for one in before if one.part == self.part and not one.against and whole in one.caution), None)
            told = told.replace(whole, f"{short} (in full: step {first.number})") if first else told
        return told

    @property
    def runs_fan(self):
        """Whether it runs the fan, or says what makes it safe to."""
        return self.loop or self.speed_hz is not None or self.leaves == MANUAL

    def stopped_by(self, before):
        """Whether it may not be done where the step `before` came out otherwise; giving back is always done."""
        return before.number < self.number and self.part != IN_ORDER[-1] and (
            before.stops == ALL or (before.stops == FAN and self.runs_fan))  # fmt: skip


def against_step(step, ceiling, first):
    """Why a step is NOT RUN, in words; "" for nothing; what stands there already counts.

    first: what the record has to settle before the loop is run, in words, "" for nothing, None where no record was asked: then only a
    steady speed is held against the `Ceiling`.
    """
    if step.against:
        return step.against
    if first and step.loop:
        return by_the_record(first)
    held = step.speed_hz is not None and (first is not None or step.leaves == MANUAL)
    above = too_fast(step.speed_hz, ceiling) if held else ""
    return f"{above} ({ceiling.said})" if above else ""
