"""Door contacts: a pulse that sends the drive to where the door wants it, and what a contact does that sticks or signals by itself.

Tried at the door of the tuning's door tests, and with the same speed at the stair door beside it for shut doors left short. Limits: one
contact fails at a time; several doors that move together, and the other doors that the design counts as open, are not tried; whether a
final exit shuts again meanwhile is not judged.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.status import word_of
from helpers.studies.tuning.door_tests import LENGTH_S, OPENS_S, SHUTS_S, DoorTest
from helpers.studies.tuning.times_said import past_text
from helpers.units.said import with_unit

AFTER_RAMP_S = 1.0  # so long a door contact holds the drive at its speed after the ramp has been run through; ours
STANDS_S = 20.0  # after a door has opened: a contact signals by itself then, the loop near rest; ours
AS_IF_SHUT, AS_IF_OPEN = "as if the door were shut", "as if it were open"


@dataclass(frozen=True)
class Contacts:
    """Door contacts of a loop. door, beside: (level, "stair" or "exit") of the door tried and of the one beside (None: none); percent:
    where the drive is sent as it opens [% of full speed]; hold_s: length of the pulse, to either side; doors: `DoorTest` of a sound one;
    stuck: {which way: `DoorTest`, the worse of a contact that gives no pulse when it should and of one that gives it, no door moving}.
    """

    door: tuple[int, str]
    beside: tuple[int, str] | None
    percent: float
    hold_s: float
    doors: DoorTest
    stuck: dict[str, DoorTest]

    @property
    def works(self):
        """Whether a sound contact keeps every door within its limits, and within the time that the standard asks for, if any."""
        return self.doors.quick and self.doors.light and self.doors.brief

    @property
    def bears(self):
        """Whether one that sticks or signals by itself does, either way."""
        return all(test.light and test.brief for test in self.stuck.values())

    def how(self):
        """Where the contact sits and what it does, in words."""
        at = f"a contact at {_name(self.door)} sends the drive to {self.percent:.0f} % as it opens, and back where it was as it shuts"
        beside = "" if self.beside is None else f"; the same speed tried at {_name(self.beside)} too, for doors left short alone"
        return f"{at}; after {self.hold_s:.1f} s the loop goes on{beside}; each further door counted as open needs its own, not tried"

    def stuck_said(self):
        """What a contact does that sticks or signals by itself, both ways, in words."""
        told = "; ".join(f"{way}: {_left(test)}" for way, test in self.stuck.items())
        fails = "" if self.bears else f"{word_of('wrong')} "
        return f"{fails}where a contact sticks or signals by itself, tried with the lags stated alone, {told}"


def door_contacts(bench, settings):
    """`Contacts` at the door of a `DoorBench`; settings: the `ControllerSettings` behind them."""
    after, before = float(bench.percent(bench.open_hz).mean()), bench.percent(bench.shut_hz)
    fan, far = bench.site.fan, float(np.abs(bench.open_hz.mean() - bench.shut_hz).max())
    hold = max(fan.ramp_s, fan.slows_s) * far / fan.reference_speed_hz + AFTER_RAMP_S

    def test(*pulses):
        (found,) = bench.test(settings, hand=tuple((at, min(at + hold, ends), percent) for at, ends, percent in pulses))
        return found

    opens, shuts, stands = (OPENS_S, SHUTS_S, after), (SHUTS_S, LENGTH_S, before), OPENS_S + max(hold, STANDS_S)
    rests = SHUTS_S + stands - OPENS_S
    by_itself = {
        AS_IF_SHUT: (opens, (stands, SHUTS_S, before), shuts) if stands < SHUTS_S else (opens, shuts),
        AS_IF_OPEN: (opens, shuts, (rests, LENGTH_S, after)) if rests < LENGTH_S else (opens, shuts),
    }
    silent = {AS_IF_SHUT: (), AS_IF_OPEN: (opens,)}
    stuck = {way: DoorTest.worse(test(*silent[way]), test(*by_itself[way])) for way in silent}
    beside = None if bench.beside is None else bench.beside.door
    return Contacts(bench.door, beside, after, hold, test(opens, shuts), stuck)


def _name(door):
    level, kind = door
    return f"{'final exit' if kind == 'exit' else 'stair door'} {level}"


def _left(test):
    """What a test leaves too heavy and too light, in words."""
    told = []
    if not test.light:
        told.append(f"a door too heavy for {past_text(test.above_limit_s)}, {with_unit(test.peak_force_n, 'force')}")
    elif np.isfinite(test.peak_force_n):
        told.append(f"{with_unit(test.peak_force_n, 'force')} at the most")
    return f"{', '.join([*told, f'a shut door short for {past_text(test.short_s)}'])}{test.mark}"
