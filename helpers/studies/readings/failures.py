"""What may happen to the readings, what a drive then believes, and what each way of falling back makes of it."""

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Protocol

import numpy as np

from helpers.formulas import signals
from helpers.model.site.schema import Site, Transmitter
from helpers.model.sweep import Rest
from helpers.studies.cases import Case

NOTHING, KEPT = "nothing is done", "remaining reading, set point kept"
OWN, KEEP, SPEED, MIDDLE = "remaining reading at its own set point", "keep the speed", "agreed fallback speed", "median of three"
FALLBACKS = (NOTHING, KEPT, OWN, KEEP, SPEED, MIDDLE)


@dataclass(frozen=True)
class Failure:
    """What is wrong.

    kind: "lost", "frozen", "zero", "tube off", "stuck high", "all lost", "all zero" or "disagree"; tap: the number of the reading, None
    where it is all of them or nobody knows which; known: whether a drive can tell in time which one it is; live: whether its signal has a
    live zero.
    """

    kind: str
    tap: int | None
    known: bool
    text: str
    live: bool = True

    @property
    def at_once(self):
        """Whether a drive knows in the same second: the wire is open and the signal has a live zero."""
        return self.live and self.kind in ("lost", "all lost")

    def believed(self, air, sound, off_pa):
        """What the drive has for the readings while nobody knows.

        Returns ([variants, cases, speeds, taps], whether a variant counts [variants, cases]). sound: `Settled` of the loop before it
        happened; off_pa: by how much a reading may be off before two disagree.
        """
        true = air.shown_pa
        everywhere = np.ones((1, len(air.cases)), bool)
        if self.kind == "all lost":
            dead = [np.nan if self.live else tap.range_low_pa for tap in air.taps]
            return np.broadcast_to(np.array(dead), (1, *true.shape)), everywhere
        if self.kind == "all zero":
            return np.broadcast_to(np.array([tap.range_low_pa for tap in air.taps]), (1, *true.shape)), everywhere
        if self.kind == "disagree":
            several = [_with(true, number, true[..., number] + side * off_pa) for number, side in self._off(air)]
            return np.stack(several), np.ones((len(several), len(air.cases)), bool)
        if self.kind == "frozen":
            numbers, there = air.before
            last = air.at(true, sound.place)[:, self.tap][numbers]
            return np.stack([_with(true, self.tap, values[:, None]) for values in last]), there
        tap = air.taps[self.tap]
        values = {"zero": tap.range_low_pa, "tube off": 0.0, "stuck high": tap.range_high_pa}
        wrong = values.get(self.kind, np.nan if signals.live_zero(tap.signal) else tap.range_low_pa)
        return _with(true, self.tap, wrong)[None], everywhere

    @staticmethod
    def _off(air):
        return product(range(len(air.site.transmitters)), (-1.0, 1.0))


def _with(readings, tap, value):
    changed = readings.copy()
    changed[..., tap] = value
    return changed


def blind_wires(taps):
    """Tags of the transmitters whose dead wire nobody can tell from no pressure: their signal starts at zero, so no fallback begins."""
    return tuple(tap.tag for tap in taps if not signals.live_zero(tap.signal))


def failures_of(taps, count=None):
    """Every `Failure` of some transmitters: each lost, frozen, a healthy zero, its tube off, stuck high; all lost, all at zero; two that
    disagree.

    count: how many of the taps belong to the site (default: all). A reading whose signal has no live zero cannot be known to be lost.
    """
    taps = tuple(taps)[:count]
    found = [failure for number, tap in enumerate(taps) for failure in _of_one(number, tap, len(taps))]
    every = all(signals.live_zero(tap.signal) for tap in taps)
    found.append(
        Failure("all lost", None, every, {1: f"{taps[0].tag} lost", 2: "both readings lost"}.get(len(taps), "every reading lost"), every)
    )
    if len(taps) > 1:
        cause = "one cause for all: every reading at the bottom of its range, signals healthy"
        found.append(Failure("all zero", None, False, cause))
    if len(taps) == 2:
        found.append(Failure("disagree", None, False, "two readings disagree, and nobody knows which is wrong"))
    return tuple(found)


def _of_one(number, tap, count):
    """What may happen to one of `count` readings; of three or more the others outvote it, so that a drive can tell which is wrong."""
    voted = count > 2
    if count > 1:
        live = signals.live_zero(tap.signal)
        told = "" if live else ", which its signal cannot tell from no pressure"
        yield Failure("lost", number, live or voted, f"{tap.tag} lost{told}", live)
    yield Failure("frozen", number, count > 1, f"{tap.tag} frozen at its last value")
    yield Failure("zero", number, voted, f"{tap.tag} at the bottom of its range, signal healthy")
    yield Failure("tube off", number, voted, f"tube off {tap.tag}: it reads no pressure")
    yield Failure("stuck high", number, voted, f"{tap.tag} stuck at the top of its range")


class _SteadyAir(Protocol):
    """The steady air that failures are tried in; `ways_compared.FailureAir` is one and tells the shapes."""

    site: Site
    cases: tuple[Case, ...]
    taps: tuple[Transmitter, ...]

    @property
    def shown_pa(self) -> np.ndarray: ...

    @property
    def before(self) -> tuple[np.ndarray, np.ndarray]: ...

    def at(self, values: np.ndarray, place: np.ndarray) -> np.ndarray: ...

    def place_of(self, speed_hz: float) -> float: ...

    def settle(self, believed_pa: np.ndarray, rule: str, set_point_pa: float, weights: tuple | None = None) -> Rest: ...


@dataclass(frozen=True)
class Answers:
    """Where the fan comes to rest after a failure, by the way of falling back.

    air; rule, weights, set_point_pa: of the sound loop; sound: `Rest` of it; speed_hz: the agreed one, None where there is none;
    set_points_pa: {tap lost: set point of what remains}; off_pa: see `Failure.believed`; middle_pa: set point of the middle of three, None
    where no three readings are there.
    """

    air: _SteadyAir
    rule: str
    weights: tuple[float, ...] | None
    set_point_pa: float
    sound: Rest
    speed_hz: float | None
    set_points_pa: dict[int, float]
    off_pa: float
    middle_pa: float | None = None

    def place(self, way, failure):
        """Places [variants, cases] of the fan, and which variants count [variants, cases]; None where this way has no answer to it."""
        air, wrong = self.air, failure.known and failure.tap is not None
        if way == MIDDLE:
            return self._middle(failure)
        if way == KEPT and wrong and len(air.site.transmitters) > 1:
            return self._loop(self.without(failure.tap), self.set_point_pa), np.ones((1, len(air.cases)), bool)
        if way == OWN and wrong and failure.tap in self.set_points_pa:
            return self._loop(self.without(failure.tap), self.set_points_pa[failure.tap]), np.ones((1, len(air.cases)), bool)
        if way in (OWN, SPEED):
            return self._at_speed()
        if way == KEEP and failure.at_once:
            numbers, there = air.before
            return self.sound.place[numbers], there
        # Nothing is done, or the loop had driven the fan away before anybody knew: so many ways end here that it is worked out once.
        if failure not in self._driven:
            believed, valid = failure.believed(air, self.sound, self.off_pa)
            self._driven[failure] = self._loop(believed, self.set_point_pa), valid
        return self._driven[failure]

    @cached_property
    def _driven(self):
        return {}

    def _own(self, readings):
        """The readings of the site's own transmitters."""
        return readings[..., : len(self.air.site.transmitters)]

    def _loop(self, believed, set_point_pa):
        return self.air.settle(self._own(believed), self.rule, set_point_pa, self.weights).place

    def without(self, tap):
        """Readings as shown, one of them left out: [1, cases, speeds, taps]."""
        return _with(self.air.shown_pa, tap, np.nan)[None]

    def _at_speed(self):
        if self.speed_hz is None:
            return None
        shape = (1, len(self.air.cases))
        return np.full(shape, self.air.place_of(self.speed_hz)), np.ones(shape, bool)

    def _middle(self, failure):
        if self.middle_pa is None:
            return None
        if failure.kind == "all lost":
            return self._at_speed()
        believed, valid = failure.believed(self.air, self.sound, self.off_pa)
        return self.air.settle(believed, "middle", self.middle_pa).place, valid
