"""Every choice of transmitters looked up in solved curves: the speed at which its reading meets the set point, and how the doors are then.

Nothing is solved here. A place between two solved speeds is a number: 3.25 is a quarter of the way from the fourth speed to the fifth. A
reading that never meets the set point leaves the fan at its last place, full speed; one that is met at once leaves it at the first, lowest
speed. Where a reading falls again with more speed (a storey tied to the outdoor air by an open exit), the first meeting from below counts.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from helpers.studies.rules import TOLERANCE_PA

__all__ = ["Group", "Lookup", "Tally", "groups_of"]

FINE = 4  # steps between two solved speeds at which the doors are judged
CELLS = 4_000_000  # of the largest array at a time
NOTHING_JUDGED_PA = 1e4  # room where every door with a limit stands open


@dataclass(frozen=True)
class Group:
    """Choices of one number of transmitters under one rule: `taps` [choices, transmitters] count the candidates; `order`: their numbers in
    the list of choices; weights (transmitters,), None for a rule that picks one reading; all at one set point."""

    rule: str
    set_point_pa: float
    weights: np.ndarray | None
    taps: np.ndarray
    order: np.ndarray

    def part(self, chosen):
        return replace(self, taps=self.taps[chosen], order=self.order[chosen])

    def without(self, lost):
        """The same with one transmitter left out: its group of the remaining ones."""
        rest = np.delete(self.taps, lost, axis=1)
        weights = _equal(self.rule, rest.shape[1]) if self.rule != "weighted" else np.delete(self.weights, lost)
        return replace(self, weights=weights, taps=rest)


def groups_of(choices, levels, set_point_pa):
    """Choices sorted into groups. levels: of the candidates, in their order; set_point_pa: of choices that state none."""
    number, sorted_in = {level: place for place, level in enumerate(levels)}, {}
    for order, choice in enumerate(choices):
        held_at = set_point_pa if choice.set_point_pa is None else choice.set_point_pa
        key = (len(choice.levels), choice.rule, held_at, choice.weights if choice.rule == "weighted" else None)
        sorted_in.setdefault(key, []).append((order, [number[level] for level in choice.levels]))
    groups = []
    for (count, rule, held_at, weights), members in sorted_in.items():
        order, taps = zip(*members, strict=True)
        shares = _equal(rule, count) if weights is None else np.array(weights)
        groups.append(Group(rule, held_at, shares, np.array(taps), np.array(order)))
    return groups


@dataclass
class Tally:
    """What became of the choices of one group under some conditions.

    room_pa [choices, conditions]: of the worst door; at_lowest, at_full [choices]: conditions in which the speed meets a limit; power_w:
    sum over conditions; low, high [choices, doors]: conditions in which a door is out, judged at the nearest of the fine steps; dead,
    left_out [choices, transmitters, conditions]: whether all doors are inside although that transmitter reads zero, or is left out.
    """

    room_pa: np.ndarray
    at_lowest: np.ndarray
    at_full: np.ndarray
    power_w: np.ndarray
    low: np.ndarray
    high: np.ndarray
    dead: np.ndarray
    left_out: np.ndarray

    @classmethod
    def joined(cls, tallies, axis):
        """One tally from several: of further choices (axis 0), or of further conditions (axis 1), added in their order."""
        each = [vars(tally) for tally in tallies]
        parts = {name: [values[name] for values in each] for name in each[0]}
        if axis == 0:
            return cls(**{name: np.concatenate(values) for name, values in parts.items()})
        side_by_side = {name: np.concatenate(parts.pop(name), axis=-1) for name in ("room_pa", "dead", "left_out")}
        return cls(**side_by_side, **{name: np.sum(values, axis=0) for name, values in parts.items()})


@dataclass
class Lookup:
    """Curves of some conditions, ready to be asked about choices.

    readings_pa [conditions, speeds, candidates]: as the transmitters read, error and end of range included; effect: +1 where more speed
    raises a reading, -1 where it lowers it; curves: `Curves`; doors: `DoorColumns`; standing_open [conditions, doors]. airs: how many times
    the same conditions stand one after the other, each with another air of the stair: the worst of these is a condition's answer.
    """

    readings_pa: np.ndarray
    effect: float
    curves: object
    doors: object
    standing_open: np.ndarray
    airs: int = 1
    rising: np.ndarray = field(init=False)
    _alone: dict = field(init=False, default_factory=dict)

    def __post_init__(self):
        self.rising = np.ascontiguousarray(np.moveaxis(self.effect * self.readings_pa, 2, 0))  # [candidates, conditions, speeds]
        self.conditions, self.speeds = self.rising.shape[1:]
        self._judge_all_speeds()

    def tally(self, group):
        """`Tally` of a group, its choices in their order."""
        columns = max(self.speeds * group.taps.shape[1], self.flags.shape[1])
        size = max(CELLS // (self.conditions * columns), 1)
        return Tally.joined([self._tally(group.part(slice(i, i + size))) for i in range(0, len(group.taps), size)], axis=0)

    def _tally(self, group):
        place = self.places(group)
        room = self.room(place)
        low, high = self._doors_out(place, room)
        lost = range(group.taps.shape[1])
        return Tally(
            self._by_condition(room).min(axis=1).astype(np.float32), self._in_any(place <= 0), self._in_any(place >= self.speeds - 1),
            self._between(self.curves.power_w, place).sum(axis=1) / self.airs, low, high,
            np.stack([self._one_lost(group, which, dead=True) for which in lost], axis=1),
            np.stack([self._one_lost(group, which, dead=False) for which in lost], axis=1),
        )  # fmt: skip

    def places(self, group):
        """Where each choice meets the set point [choices, conditions]."""
        if group.weights is None:
            return self._picked(group.rule, self._each_alone(group))
        return self._weighted(group, group.weights.sum())

    def room(self, place):
        """Room of the worst door at some places [choices, conditions]."""
        place = place * FINE
        return np.minimum(self._between(self.above_least, place), self._between(self.below_most, place))

    def _each_alone(self, group):
        """Where each transmitter of a group would meet the set point alone: a list over transmitters of [choices, conditions]."""
        if group.set_point_pa not in self._alone:
            self._alone[group.set_point_pa] = _meeting(self.rising, self.effect * group.set_point_pa)
        return [self._alone[group.set_point_pa][tap] for tap in group.taps.T]

    def _weighted(self, group, divisor):
        """Where the weighted sum of a group's readings, over the divisor, meets the set point."""
        total = 0.0
        for weight, tap in zip(group.weights, group.taps.T, strict=True):
            total = total + weight * self.rising[tap]
        return _meeting(total, self.effect * group.set_point_pa * divisor)

    def _picked(self, rule, places):
        # The lowest of rising readings meets the set point where the last of them does, the highest where the first does; with a fan that
        # lowers the readings it is the other way round.
        rule = {"lowest": "highest", "highest": "lowest"}.get(rule, rule) if self.effect < 0 else rule
        return {"lowest": np.max, "highest": np.min, "middle": np.median}[rule](places, axis=0)

    def _one_lost(self, group, which, dead):
        """Whether all doors are inside with one transmitter lost [choices, conditions]; those of the same remaining ones are the same."""
        rest = group.without(which)
        if not dead and rest.weights is not None and not rest.weights.any():
            return np.zeros((len(group.taps), self.conditions // self.airs), bool)  # nothing left to run the fan by
        if not rest.taps.shape[1]:
            # The only one, dead, reads zero.
            place = np.full((1, self.conditions), self._place_of_zero(group))
            return np.repeat(self._inside(place), len(group.taps), axis=0)
        _, first, same = np.unique(rest.taps, axis=0, return_index=True, return_inverse=True)
        rest = rest.part(first)
        if not dead:
            place = self.places(rest)
        elif group.weights is None:
            zero = np.full((len(first), self.conditions), self._place_of_zero(group))
            place = self._picked(group.rule, [*self._each_alone(rest), zero])
        else:
            place = self._weighted(replace(rest, weights=np.delete(group.weights, which)), group.weights.sum())
        return self._inside(place)[same.ravel()]

    def _place_of_zero(self, group):
        """Where a transmitter that reads zero at every speed sends the fan."""
        return 0.0 if self.effect * group.set_point_pa <= 0 else self.speeds - 1.0

    def _inside(self, place):
        return self._by_condition(self.room(place) >= -TOLERANCE_PA).all(axis=1)

    def _by_condition(self, values):
        """Values [choices, airs times conditions, ..] as [choices, airs, conditions, ..]."""
        return values.reshape(len(values), self.airs, -1, *values.shape[2:])

    def _in_any(self, flags):
        """Conditions in which a flag stands in any air [choices, ..]."""
        return self._by_condition(flags).any(axis=1).sum(axis=1)

    def _judge_all_speeds(self):
        """Room of the worst door above its least and below its most, and the doors that are out, at fine steps of the curves.

        The two are kept apart: the one rises with speed, the other falls, and halfway their lesser one has a peak that no step would meet.
        """
        pressures = _finer(self.curves.doors_pa)
        above, below = self.doors.rooms(pressures, self.standing_open[:, None, :])
        self.above_least, self.below_most = (np.minimum(room.min(axis=2), NOTHING_JUDGED_PA) for room in (above, below))
        flags = np.concatenate([above < -TOLERANCE_PA, below < -TOLERANCE_PA], axis=2).reshape(-1, 2 * above.shape[2])
        self.ever_out = np.flatnonzero(flags.any(axis=0))
        # One row more, without a flag, for conditions in which all doors are inside.
        self.flags = np.concatenate([flags[:, self.ever_out], np.zeros((1, self.ever_out.size), bool)]).view(np.uint8)

    def _doors_out(self, place, room):
        """Conditions in which each door is too low, and too high [choices, doors]."""
        steps = self.above_least.shape[1]
        row = np.arange(self.conditions) * steps + np.rint(place * FINE).astype(np.intp)
        row[room >= -TOLERANCE_PA] = len(self.flags) - 1
        counts = np.zeros((len(place), 2 * len(self.doors.columns)), np.int64)
        counts[:, self.ever_out] = self._in_any(self.flags[row])
        return np.hsplit(counts, 2)

    def _between(self, table, place):
        """Table [conditions, steps] looked up at places [choices, conditions]."""
        steps = table.shape[1]
        step = np.minimum(place.astype(np.intp), steps - 2)
        part = place - step
        at = step + np.arange(len(table)) * steps
        flat = table.ravel()
        return flat[at] * (1 - part) + flat[at + 1] * part


def _equal(rule, count):
    """Weights of a rule that adds readings up; None for one that picks."""
    return np.ones(count) if rule == "average" or count == 1 or (rule == "middle" and count == 2) else None


def _meeting(rising, goal):
    """Place at which readings [.., speeds] first reach the goal; 0 if they are there at once, the last place if never."""
    reached = rising >= goal
    first = reached.argmax(axis=-1)
    met = np.take_along_axis(reached, first[..., None], -1)[..., 0]
    end = np.maximum(first, 1)[..., None]
    below, above = (np.take_along_axis(rising, at, -1)[..., 0] for at in (end - 1, end))
    # At the first speed already, or never: no chord, and the rise may be anything.
    between = met & (first > 0)
    place = first - 1 + (goal - below) / np.where(between, above - below, 1.0)
    return np.where(between, place, np.where(met, 0.0, rising.shape[-1] - 1.0))


def _finer(values):
    """Values [conditions, speeds, ..] with FINE steps from each speed to the next, in straight lines."""
    part = (np.arange(FINE) / FINE)[:, None]
    steps = values[:, :-1, None] * (1 - part) + values[:, 1:, None] * part
    return np.concatenate([steps.reshape(len(values), -1, values.shape[2]), values[:, -1:]], axis=1)
