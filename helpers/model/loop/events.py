"""What happens while the loop runs: doors that open and shut, weather that turns, gusts; and what can be wrong with a transmitter.

A door leaf turns at a steady rate, so its free area grows with the angle a as min(1, 2 sin(a / 2)) of the doorway (the chord of the leaf's
edge), fully free from 60 degrees on.
"""

from dataclasses import dataclass, replace
from math import inf, nan

import numpy as np

from helpers import require
from helpers.formulas import signals
from helpers.model.air.conditions import Conditions

DOORS = {"stair": ("stair_door_open", "lobby_door_open"), "exit": ("final_exit_open",)}
# Moments at which the air is solved while a leaf turns: closer where the pressure falls fastest. Found by trial on the demo sites, so that
# what lies between, by the monotone cubic, is off by less than half a pascal.
LEAF_ANGLES_DEG = np.array([0.0, 0.4, 1.5, 3.5, 8.0, 17.0, 34.0, 60.0, 90.0])
TURN_SHARES = np.linspace(0.0, 1.0, 6)
RISE_SHARES = np.linspace(0.0, 1.0, 6)
LEAST_S = 1e-3  # a change at once still has a before and an after


@dataclass(frozen=True)
class DoorEvent:
    """A leaf on a level opens at `at_s`, over `moving_s`, stands open, and shuts again over `moving_s` from `shuts_s` on (None: stays)."""

    level: int
    at_s: float
    shuts_s: float | None = None
    moving_s: float = 1.5
    door: str = "stair"


@dataclass(frozen=True)
class WeatherTurn:
    """Conditions that change in a straight line over `over_s` from `at_s` on: fields of `Conditions` with one value each, such as
    {"outdoor_c": -15.0}."""

    at_s: float
    over_s: float
    to: dict


@dataclass(frozen=True)
class Gust:
    """Wind that rises to a speed over `rise_s`, holds for `lasts_s` and falls back over `rise_s` to what it would be without the gust."""

    at_s: float
    speed_m_s: float
    rise_s: float = 1.0
    lasts_s: float = 3.0


@dataclass
class Schedule:
    """Moments [s] in rising order, and the conditions at each: rows moment by moment, `runs` rows a moment."""

    times_s: np.ndarray
    conditions: Conditions
    runs: int


def schedule(tower, base, events, length_s):
    """Lay events over the base conditions (one row a run, or one row for all).

    Raises ValueError for a length that is not above zero, an event beyond it, a door that shuts before it has opened, a door that is not
    there. An event that begins while another of its kind still lasts takes over from where that one is; doors stand as the more open one.
    """
    length = require.single_positive(length_s=length_s)
    events = [replace(event, at_s=require.single(at_s=event.at_s)) for event in events]
    for event in events:
        if not 0 <= event.at_s <= length:
            raise ValueError(f"at_s of an event must be within the run of {length:g} s, got {event.at_s:g}")
    courses = [course for event in sorted(events, key=lambda event: event.at_s) for course in _courses(tower, base, event, length)]
    times = np.unique(np.concatenate([[0.0, length], *[moments for moments, *_ in courses]]))
    times = times[(times <= length) & (np.diff(times, prepend=-1.0) > 1e-9)]
    fields = {name: np.repeat(getattr(base, name)[None].astype(float), len(times), axis=0) for name in vars(base)}
    for _, name, storey, changed in courses:
        place = fields[name] if storey is None else fields[name][..., storey]
        place[...] = changed(times[:, None], place)
    flat = {name: value.reshape(-1, *value.shape[2:]) for name, value in fields.items()}
    return Schedule(times, Conditions(**flat), len(base))


def leaf_share(angle_deg):
    """Share of the doorway that a leaf leaves free at an angle: min(1, 2 sin(a / 2)), the chord of the leaf's edge over its width.

    angle_deg: 0 (shut) to 180. Raises ValueError for another.

    >>> print(f"{leaf_share(10.0):.2f}, {leaf_share(60.0):.2f}")
    0.17, 1.00
    """
    return np.minimum(1.0, 2 * np.sin(np.deg2rad(require.between(0.0, 180.0, angle_deg=angle_deg)) / 2))


def _courses(tower, base, event, length):
    """What an event changes: (moments, field, storey, changed(times [moments, 1], values so far [moments, rows]))."""
    if isinstance(event, DoorEvent):
        return _door(tower, event, length)
    if isinstance(event, Gust):
        return [_gust(event)]
    return [_turn(base, event, name, value) for name, value in event.to.items()]


def _door(tower, event, length):
    moving = require.single_positive(moving_s=event.moving_s)
    storey = tower.site.storeys[tower.storey(_level_with_door(tower.site, event))]
    turning = LEAF_ANGLES_DEG / 90 * moving
    moments, shuts = event.at_s + turning, np.inf if event.shuts_s is None else require.single(shuts_s=event.shuts_s)
    if event.shuts_s is not None:
        if not event.at_s + moving <= shuts <= length:
            raise ValueError(
                f"shuts_s must be from {event.at_s + moving:g} s, when the door stands open, to {length:g} s, the end; got {shuts:g}"
            )
        moments = np.append(moments, shuts + moving - turning)

    def changed(times, before):
        opened, shut = (np.clip((times - start) / moving, 0.0, 1.0) for start in (event.at_s, shuts))
        return np.maximum(before, leaf_share(90 * np.clip(opened - shut, 0.0, 1.0)))

    return [(moments, name, tower.storey(storey.level), changed) for name in DOORS[event.door]]


def _level_with_door(site, event):
    require.one_of(DOORS, door=event.door)
    there = {
        "stair": [s.level for s in site.storeys if s.stair_door and s.stair_door_count],
        "exit": [s.level for s in site.storeys if s.final_exit_door],
    }[event.door]
    if require.single(level=event.level) not in there:
        raise ValueError(f"level must be one with such a door ({', '.join(map(str, there))}), got {event.level!r}")
    return event.level


def _gust(event):
    rise, lasts = require.single_positive(rise_s=event.rise_s), require.single_at_least(0, lasts_s=event.lasts_s)
    speed, over = require.single_at_least(0, speed_m_s=event.speed_m_s), event.at_s + rise + lasts

    def changed(times, before):
        share = np.clip((times - event.at_s) / rise, 0.0, 1.0) - np.clip((times - over) / rise, 0.0, 1.0)
        return before + share * (speed - before)

    return np.append(event.at_s + rise * RISE_SHARES, over + rise * RISE_SHARES), "wind_speed_m_s", None, changed


def _turn(base, event, name, value):
    require.one_of([field for field in vars(base) if getattr(base, field).ndim == 1], to=name)
    value, over = require.single(**{name: value}), max(require.single_at_least(0, over_s=event.over_s), LEAST_S)

    def changed(times, before):
        start = before[np.flatnonzero(times[:, 0] <= event.at_s + 1e-9)[-1]]
        return np.where(times < event.at_s, before, start + np.clip((times - event.at_s) / over, 0.0, 1.0) * (value - start))

    return event.at_s + over * TURN_SHARES, name, None, changed


FAULTS = {
    "open wire": "the signal falls to nothing: failed low with a live zero, a reading of zero without",
    "short": "a current loop runs above its range, a voltage falls to nothing",
    "stuck high": "the signal stands at the top of its range, whatever the pressure",
    "no number": "the transmitter sends no number at all (NaN), as a digital one may",
    "stuck": "the reading stays where it was",
    "drift": "the reading creeps away by `amount` Pa a minute",
    "tube off": "the high side hangs in the reference room: the transmitter sees no difference",
    "tube swapped": "high and low ports reversed: the reading has the wrong sign",
    "wrong range entered": "the input believes the range to end at `amount` Pa",
    "wrong signal type": "the input is set to another signal, named by `signal`",
    "swapped inputs": "this transmitter and the next one are wired to each other's input",
}
MOST_TRANSMITTERS = 1000  # ours, beyond any site; what this one has is checked when the run begins
SHORT_PERCENT = 110.0  # a shorted two-wire loop: above the failure band of NAMUR NE 43


@dataclass(frozen=True)
class TapFault:
    """One fault of one transmitter (its number, from 0), from `at_s` to `ends_s`, in all runs or in those whose numbers `runs` lists."""

    transmitter: int
    kind: str
    at_s: float = 0.0
    amount: float = 0.0
    signal: str = "0-10 V"
    runs: tuple | None = None
    ends_s: float = inf

    def __post_init__(self):
        require.one_of(FAULTS, kind=self.kind)
        require.one_of(tuple(signals.SIGNALS), signal=self.signal)
        ends = require.number(ends_s=self.ends_s)  # inf: for good
        number = require.whole(0, MOST_TRANSMITTERS, transmitter=self.transmitter)
        plain = {"transmitter": number, "at_s": require.single_at_least(0, at_s=self.at_s), "amount": require.single(amount=self.amount)}
        if ends.ndim or not ends > plain["at_s"]:
            raise ValueError(f"ends_s must be one time after the fault begins at {plain['at_s']:g} s, got {self.ends_s!r:.60}")
        for name, value in (plain | {"ends_s": float(ends)}).items():
            object.__setattr__(self, name, value)  # plain ones, whatever kind of number was given

    def active(self, time_s):
        """Whether it is there at a time."""
        return self.at_s <= time_s < self.ends_s

    def check(self, transmitters, runs, length_s):
        """Refuse a fault that these transmitters, runs or this length cannot have."""
        require.whole(0, len(transmitters) - 1, transmitter=self.transmitter)
        if self.kind == "swapped inputs" and len(transmitters) < 2:
            raise ValueError("swapped inputs must have two transmitters, got one")
        if self.at_s > length_s:
            raise ValueError(f"at_s of a fault must be within the run of {length_s:g} s, got {self.at_s:g}")
        if self.kind == "wrong range entered" and self.amount <= transmitters[self.transmitter].range_low_pa:
            low = transmitters[self.transmitter].range_low_pa
            raise ValueError(f"amount must be the end of a range that begins at {low:g} Pa, above it; got {self.amount:g}")
        for number in () if self.runs is None else self.runs:
            require.whole(0, runs - 1, runs=number)


def at_tube(fault, flag, arithmetic):
    """What a fault does to the pressures at the tubes: a function of rows and time that changes the rows; None where it does nothing."""
    number, kept = fault.transmitter, []

    def stuck(own, time_s):
        kept.extend([] if kept else [own + 0.0])  # a copy, since an array goes on changing
        return kept[0]

    change = {
        "tube off": lambda own, time_s: 0.0 * own,
        "tube swapped": lambda own, time_s: -own,
        "drift": lambda own, time_s: own + fault.amount * (time_s - fault.at_s) / 60,
        "stuck": stuck,
    }.get(fault.kind)

    def act(rows, time_s):
        rows[number] = arithmetic.choose(flag, change(rows[number], time_s), rows[number])

    return change and act


def on_wire(fault, flag, arithmetic, transmitters):
    """What a fault does to the signals in per cent of their span: a function that changes the rows; None where it does nothing."""
    number, own = fault.transmitter, transmitters[fault.transmitter].signal
    nothing = float(signals.percent_of_span(0.0, own))
    percent = {"open wire": nothing, "short": nothing if own.endswith("V") else SHORT_PERCENT, "stuck high": 100.0, "no number": nan}.get(
        fault.kind
    )

    def cut(rows):
        rows[number] = arithmetic.choose(flag, percent, rows[number])

    def swap(rows):
        other = (number + 1) % len(transmitters)
        mine, theirs = rows[number] + 0.0, rows[other] + 0.0
        rows[number], rows[other] = arithmetic.choose(flag, theirs, mine), arithmetic.choose(flag, mine, theirs)

    return swap if fault.kind == "swapped inputs" else cut if percent is not None else None
