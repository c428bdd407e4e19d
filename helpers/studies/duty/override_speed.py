"""A speed that nobody regulates, as of an override or of a hand at the drive: up to which the doors bear it, from which it keeps smoke out.

The upper ends are those of `FullSpeed`; beside them the least speed that leaves every shut door its minimum. Where no speed is both, no
fixed one protects the stair, and that is said before anybody agrees one.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.cases import conditions_of, exits_beyond
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.duty.full_speed import SHOWN_HZ
from helpers.studies.duty.relief_damper import STUCK_SHUT
from helpers.studies.report import NETWORK, Value, apart
from helpers.studies.status import word_of

_SPEEDS, _ROUNDS = 5, 5  # as the search for the highest speed has them
NONE_PROTECTS = "no fixed speed protects: agree by what ON runs (the loop, or what else) before anybody enters one"
BOUNDS, WORST = "Bounds of a fixed speed", "Worst door at the highest speed in smoke control"  # names of figures in the record


@dataclass(frozen=True)
class OverrideSpeed:
    """Bounds [Hz] of a fixed speed. doors_hz: up to which no shut door passes its limit, closes_hz: up to which every final exit closes
    again once opened, both with any walls tried and with a relief damper late or stuck shut (NaN: no speed of the drive; infinite: no
    question); keeps_hz: from which every shut door has its minimum in every required case, walls and damper as the file has them (infinite:
    no speed of the drive, 0: no door has a minimum, NaN: not asked of a fan that takes air out); keeps_door, keeps_case: which decides it;
    full_hz: the highest in smoke control; damper: whether there is one; worst: the
    door that is worst off at full_hz, all of its cases shut or open, in words ("": none has a limit); exit_hz: as keeps_hz in the cases
    with a final exit open that the design does not count, as people leave by it (NaN: there are none)."""

    doors_hz: float
    closes_hz: float
    keeps_hz: float
    keeps_door: str
    keeps_case: str
    full_hz: float
    damper: bool
    worst: str = ""
    exit_hz: float = np.nan

    @property
    def most_hz(self):
        """The lower of the two upper ends; NaN for no speed of the drive."""
        return float(np.minimum(self.doors_hz, self.closes_hz))

    @property
    def none_protects(self):
        """Whether no fixed speed does all three."""
        return not (np.isnan(self.keeps_hz) or self.keeps_hz <= np.minimum(self.full_hz, self.most_hz) + SHOWN_HZ / 2)

    @property
    def said(self):
        """All three bounds in words; of a stair that no fixed speed protects that alone: a figure reads like a speed to enter."""
        return NONE_PROTECTS if self.none_protects else self.bounds

    @property
    def bounds(self):
        """All three bounds in words, and what they come to: for the record, not for a sheet that somebody enters from."""
        closes = "no final exit is left ajar" if self.closes_hz >= self.full_hz else f"final exit closes again {_up_to(self.closes_hz)}"
        told = [f"doors open {_up_to(min(self.doors_hz, self.full_hz))}", closes, self._least_said, self._exit_said]
        return "; ".join(filter(None, (*told, NONE_PROTECTS * self.none_protects)))

    @property
    def brief(self):
        """The same on one line, without the door and the case that decide."""
        if self.none_protects:
            return NONE_PROTECTS.partition(":")[0]
        closes = f"exit closes {_up_to(self.closes_hz)}" * (not self.closes_hz >= self.full_hz)
        least = (
            ""
            if not self.keeps_hz > 0
            else "at no speed has every shut door its minimum"
            if np.isinf(self.keeps_hz)
            else f"doors have their minimum from {self.keeps_hz:.1f} Hz in the design's own cases"
        )
        told = (f"doors open {_up_to(min(self.doors_hz, self.full_hz))}", closes, least, self._exit_said)
        return "; ".join(filter(None, told))

    @property
    def _exit_said(self):
        """What a final exit that stands open makes of the least speed, where the design does not count it; "" for nothing."""
        if not self.exit_hz > 0:
            return ""
        if np.isinf(self.exit_hz):
            return "with a final exit open, as people leave by it, at no speed: the highest that they bear is the least bad"
        return f"with a final exit open, as people leave by it, from {self.exit_hz:.1f} Hz"

    @property
    def _least_said(self):
        if np.isnan(self.keeps_hz) or self.keeps_hz == 0:
            return ""
        where = f" ({self.keeps_door}, {self.keeps_case})"
        if np.isinf(self.keeps_hz):
            return f"no speed up to {self.full_hz:.1f} Hz leaves every shut door its minimum{where}"
        return f"least that leaves every shut door its minimum {self.keeps_hz:.1f} Hz{where}"

    def against(self, speed_hz):
        """What speaks against a speed [Hz] that somebody asks for, in words; "" for nothing."""
        told = []
        if not speed_hz <= min(self.doors_hz, self.full_hz) + SHOWN_HZ / 2:
            jams = f"doors jam above {self.doors_hz:.1f} Hz" if self.doors_hz < self.full_hz else ""
            none = "a door is past its limit at every speed of this drive" if np.isnan(self.doors_hz) else ""
            told.append(none or jams or f"the highest in smoke control is {self.full_hz:.1f} Hz")
        if not self.closes_hz >= self.full_hz and not speed_hz <= self.closes_hz + SHOWN_HZ / 2:
            told.append(f"a final exit may stand ajar {_above(self.closes_hz)}")
        if self.keeps_hz > speed_hz + SHOWN_HZ / 2:
            none = np.isinf(self.keeps_hz)
            told.append("no speed leaves every shut door its minimum" if none else f"smoke can pass below {self.keeps_hz:.1f} Hz")
        return "; ".join(told)

    def judged(self, speed_hz):
        """(words, key of its status) of a speed that somebody asks for."""
        against = self.against(speed_hz)
        short = self._exit_said if self.exit_hz > speed_hz + SHOWN_HZ / 2 else ""  # not the design's to hold, and smoke all the same
        state = "wrong" if against else "attention" if short else "good"
        told = against or f"every shut door has its minimum in the design's own cases; {short}" * bool(short)
        return f"{word_of(state)}: {told}" if told else word_of(state), state

    def figures(self):
        """The bounds as a figure of the record, and the door that is worst off at the highest speed."""
        damper = f", the damper late or the {STUCK_SHUT}" * self.damper
        why = (
            f"upper ends with walls tighter and looser than the file's{damper}; the least with the file's own, in every required case"
            f"{', and with a final exit open besides' * bool(self.exit_hz > 0)}"
        )
        yield Value(BOUNDS, None, self.bounds, why, NETWORK)
        if self.worst:
            yield Value(
                WORST,
                None,
                self.worst,
                "a hand at the drive may send the fan there; a by-pass runs it at the mains' frequency: not this figure where that is more",
                NETWORK,
            )


def override_speed(tower, window, full):
    """The `OverrideSpeed` of a stair. tower: `Tower`; window: `SiteWindow`; full: its `FullSpeed`, which knows the upper ends.

    Equation: the least speed is searched for from above, by every required case at once. Limits: steady air; a fan that takes air out
    has no least here.
    """
    stuck_hz = np.inf if full.stuck_hz is None else full.stuck_hz
    doors_hz, closes_hz = float(np.minimum(full.safe_hz, stuck_hz)), float(np.minimum(full.closes_hz, full.stuck_closing_hz))
    keeps = (np.nan, "", "") if tower.effect < 0 else _least(tower, window, [case for case, *_ in full.asked], full.full_hz)
    beyond = () if tower.effect < 0 else exits_beyond(tower.site, full.cases)
    exit_hz = _least(tower, window, beyond, full.full_hz)[0] if beyond else np.nan
    return OverrideSpeed(doors_hz, closes_hz, *keeps, full.full_hz, bool(full.reliefs), _worst_said(full), exit_hz)


def _worst_said(full):
    """The door that is worst off at the highest speed in smoke control, in words; "" where none has a limit."""
    if not full.limited:
        return ""
    place = full.worst
    dp, limit = apart((full.dp_pa[place], full.limit_pa[place]), "pressure", "most")
    told = f"{full.door[place]}, {full.cases[place].name}: {dp}, limit {limit}, at {full.full_hz:g} Hz"
    exits = full.box_exits or full.exits
    if exits is None:
        return told
    dp, limit = apart((exits.dp_pa, exits.limit_pa), "pressure", "most")
    walls = "" if full.box_exits is None else f", {full.box_said}"
    return f"{told}; {exits.door}, {exits.case}: {dp}, closes again up to {limit}, at the same speed{walls}"


def _least(tower, window, cases, full_hz):
    """(least speed at which no shut door is below its minimum, rounded up, the door, the case that decide it)."""
    if not cases or not np.isfinite([-np.inf if door.least_pa is None else door.least_pa for door in window.doors]).any():
        return 0.0, "", ""
    conditions, doors = conditions_of(tower.site, cases), DoorColumns(tower, window)
    asked = doors.least_pa > 0  # a least below zero is the fan's own doing, and grows with its speed
    low, high = tower.site.fan.speed_limits_hz(tower.site.control.fire_mode)[0], full_hz
    where = None
    for number in range(_ROUNDS):
        speeds = np.linspace(low, high, _SPEEDS)
        rows = conditions.rows(np.tile(np.arange(len(cases)), len(speeds)))
        air = tower.solve(rows, np.repeat(speeds, len(cases)))
        room = np.where(asked, doors.rooms(doors.across(air), doors.standing_open(rows))[0], np.inf)
        room = room.reshape(len(speeds), len(cases), -1)
        short = np.flatnonzero(room.min(axis=(1, 2)) < 0)
        if not short.size:
            break  # the least of the round will do
        last = int(short[-1])
        case, door = np.unravel_index(int(room[last].argmin()), room[last].shape)
        where = doors.columns[door].text, cases[case].name
        if last == len(speeds) - 1:
            return np.inf, *where
        low, high = speeds[last], speeds[last + 1]
        if number == _ROUNDS - 1:
            return float(np.ceil(high / SHOWN_HZ - 1e-9) * SHOWN_HZ), *where
    return (float(np.ceil(low / SHOWN_HZ - 1e-9) * SHOWN_HZ), *(where or ("", "")))


def _up_to(speed_hz):
    return "at no speed of this drive" if np.isnan(speed_hz) else f"up to {speed_hz:.1f} Hz"


def _above(speed_hz):
    return "at any speed of this drive" if np.isnan(speed_hz) else f"above {speed_hz:.1f} Hz"
