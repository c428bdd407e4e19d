"""Every choice of transmitters looked up in air solved once over fan speed: where its reading meets the set point, the doors then.

Between solved speeds everything runs in straight lines. A looked-up door pressure depends only on how straight it runs beside the
reading that is looked up, not on how both bend with speed; so the speeds lie closest where pressures bend against each other (a relief
damper begins to lift, a leak's flow turns round): beginning with a few, an interval is halved as long as the slopes beside it say that a
straight line through it may be off by more than a stated pressure.
Places and meetings are those of `model/sweep`. A reading falls again with more speed on a storey that an open exit ties to the outdoor air.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from helpers.model.air.fan import electric_power_w
from helpers.model.sweep import at, finer, meets
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.status import inside

FIRST_SPEEDS = 7  # equal steps of the squared speed, from the lowest to the highest
MOST_PASSES = 5  # halvings of an interval at the most
STRAIGHT_WITHIN_PA = 0.2  # what the slopes beside an interval may say of its straight line; in truth it is off by a quarter to all of it
WIDEST_PA = 20.0  # of an interval in which a reading meets the set point: the slopes beside a wider one may miss what bends within it
LEAST_SLOPE = 0.05  # a reading that hardly answers to the fan is looked up as if it answered a little


@dataclass
class AirCurves:
    """Air of some conditions at rising speeds [conditions, speeds]; a condition with fewer speeds has its last one several times.

    square_hz2: squared speed; doors_pa [.., doors]; readings_pa [.., transmitters] as ideal transmitters read; power_w from the mains.
    solved [conditions]: whether the network found an answer at every speed asked.
    """

    square_hz2: np.ndarray
    doors_pa: np.ndarray
    readings_pa: np.ndarray
    power_w: np.ndarray
    solved: np.ndarray

    def rows(self, chosen):
        """Some of the conditions."""
        return AirCurves(*[value[chosen] for value in vars(self).values()])


def solve_curves(tower, conditions, transmitters, doors, looked_up_pa):
    """Solve conditions over speed.

    transmitters: those to be read; doors: `DoorColumns`; looked_up_pa: the least and the most that ideal readings may be when the loop
    holds. Returns `AirCurves`.
    """
    fan, count = tower.site.fan, len(conditions)
    ask = _Ask(tower, conditions, transmitters, doors)
    limits = fan.lowest_speed_hz**2, fan.highest_speed_hz**2
    curves = ask.at(np.tile(np.linspace(*limits, FIRST_SPEEDS), count), np.repeat(np.arange(count), FIRST_SPEEDS))
    curves = AirCurves(*[value.reshape(count, FIRST_SPEEDS, *value.shape[1:]) for value in curves])
    for _ in range(MOST_PASSES):
        row, place = np.nonzero(_crooked(tower, curves, looked_up_pa))
        if not row.size:
            break
        square = curves.square_hz2
        curves = _joined(curves, row, ask.at(0.5 * (square[row, place] + square[row, place + 1]), row))
    curves.solved = curves.solved.all(axis=1)
    return curves


class _Ask:
    """Solves one speed for each of some rows of the conditions."""

    def __init__(self, tower, conditions, transmitters, doors):
        self.tower, self.conditions, self.transmitters, self.doors = tower, conditions, transmitters, doors

    def at(self, square_hz2, row):
        rows = self.conditions.rows(row)
        air = self.tower.solve(rows, np.sqrt(square_hz2))
        power = electric_power_w(self.tower, air, rows)
        return square_hz2, self.doors.across(air), self.tower.readings(air, self.transmitters), power, air.converged


def _crooked(tower, curves, looked_up_pa):
    """Intervals [conditions, speeds - 1] that some choice may fall into and in which a straight line may be too far off.

    Slopes and widths are by the mean reading. Doors are off by what their own slopes say, and by what those of a reading that is looked up
    there say, times how much steeper the doors run than it.
    """
    readings, (least, most) = tower.effect * curves.readings_pa, sorted(tower.effect * limit for limit in looked_up_pa)
    width = np.diff(readings.mean(axis=2), axis=1)
    wide = width > 1e-6  # not the repeated last speed, nor speeds at which the fan does nothing
    doors, doors_off = _slopes(curves.doors_pa, width, wide)
    read, read_off = _slopes(readings, width, wide)
    met_here = (readings[:, :-1] <= most) & (readings[:, 1:] >= least)
    looked_up = np.where(met_here, read_off / np.maximum(read, LEAST_SLOPE), 0.0).max(axis=2)
    off = doors_off.max(axis=2) + looked_up * np.abs(doors).max(axis=2)
    too_wide = (width > WIDEST_PA) & met_here.any(axis=2)
    return wide & (too_wide | (off > STRAIGHT_WITHIN_PA)) & _within_reach(readings, least, most)


def _slopes(values, width, wide):
    """Slopes of values [conditions, speeds, ..] over intervals of some width, and how far off a straight line may be by the neighbours'."""
    slope = np.diff(values, axis=1) / np.where(wide, width, np.inf)[:, :, None]
    before = np.concatenate([slope[:, :1], slope[:, :-1]], axis=1)
    after = np.concatenate([slope[:, 1:], slope[:, -1:]], axis=1)
    after = np.where(np.concatenate([wide[:, 1:], wide[:, -1:]], axis=1)[:, :, None], after, slope)
    return slope, np.abs(after - before) * width[:, :, None] / 4


def _within_reach(readings, least, most):
    """Intervals from the one in which some transmitter may first meet the set point to that in which the last one may, with neighbours."""
    some = (readings.max(axis=2) >= least)[:, 1:]  # by the interval's end
    every = (readings.min(axis=2) >= most)[:, :-1]  # before the interval
    some = some | np.concatenate([some[:, 1:], some[:, -1:]], axis=1)
    return some & ~np.concatenate([every[:, :1], every[:, :-1]], axis=1)


def _joined(curves, row, found):
    """Curves with one more speed for each of the rows (a row may come several times), in rising order."""
    count = len(curves.square_hz2)
    more = np.bincount(row, minlength=count)
    column = np.arange(row.size) - np.repeat(np.cumsum(more) - more, more)
    joined = []
    for old, new in zip(vars(curves).values(), found, strict=True):
        extra = np.repeat(old[:, -1:], more.max(), axis=1)
        extra[row, column] = new
        joined.append(np.concatenate([old, extra], axis=1))
    order = joined[0].argsort(axis=1, kind="stable")
    return AirCurves(*[np.take_along_axis(value, order.reshape(order.shape + (1,) * (value.ndim - 2)), axis=1) for value in joined])


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
        """Some of the choices."""
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
    raises a reading, -1 where it lowers it; curves: `AirCurves`; doors: `DoorColumns`; standing_open [conditions, doors]. airs: how many
    times
    the same conditions stand one after the other, each with another air of the stair: the worst of these is a condition's answer.
    """

    readings_pa: np.ndarray
    effect: float
    curves: AirCurves
    doors: DoorColumns
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
            self._at(self.curves.power_w, place).sum(axis=1) / self.airs, low, high,
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
        return np.minimum(self._at(self.above_least, place), self._at(self.below_most, place))

    def _each_alone(self, group):
        """Where each transmitter of a group would meet the set point alone: a list over transmitters of [choices, conditions]."""
        if group.set_point_pa not in self._alone:
            self._alone[group.set_point_pa] = meets(self.rising, self.effect * group.set_point_pa).place
        return [self._alone[group.set_point_pa][tap] for tap in group.taps.T]

    def _weighted(self, group, divisor):
        """Where the weighted sum of a group's readings, over the divisor, meets the set point."""
        total = 0.0
        for weight, tap in zip(group.weights, group.taps.T, strict=True):
            total = total + weight * self.rising[tap]
        return meets(total, self.effect * group.set_point_pa * divisor).place

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
        return self._by_condition(inside(self.room(place))).all(axis=1)

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
        pressures = finer(self.curves.doors_pa, FINE)
        above, below = self.doors.rooms(pressures, self.standing_open[:, None, :])
        self.above_least, self.below_most = (np.minimum(room.min(axis=2), NOTHING_JUDGED_PA) for room in (above, below))
        flags = np.concatenate([~inside(above), ~inside(below)], axis=2).reshape(-1, 2 * above.shape[2])
        self.ever_out = np.flatnonzero(flags.any(axis=0))
        # One row more, without a flag, for conditions in which all doors are inside.
        self.flags = np.concatenate([flags[:, self.ever_out], np.zeros((1, self.ever_out.size), bool)]).view(np.uint8)

    def _doors_out(self, place, room):
        """Conditions in which each door is too low, and too high [choices, doors]."""
        steps = self.above_least.shape[1]
        row = np.arange(self.conditions) * steps + np.rint(place * FINE).astype(np.intp)
        row[inside(room)] = len(self.flags) - 1
        counts = np.zeros((len(place), 2 * len(self.doors.columns)), np.int64)
        counts[:, self.ever_out] = self._in_any(self.flags[row])
        return np.hsplit(counts, 2)

    def _at(self, table, place):
        """Table [conditions, steps] looked up at places [choices, conditions]."""
        return at(table, place, np.arange(self.conditions))


def _equal(rule, count):
    """Weights of a rule that adds readings up; None for one that picks."""
    return np.ones(count) if rule == "average" or count == 1 or (rule == "middle" and count == 2) else None
