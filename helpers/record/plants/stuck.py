"""A reading that sticks at the low end of its range, whose signal is sound: which alarm tells it, and in which cases nothing does.

Such a reading is no lost one: no band of a signal sees it. What sees it is its own low alarm, where it has one, and the difference to
the others, where its limit lies below what they then differ by. Limits: steady air, the cases of the site file, readings without error
but for the room that the limit keeps; a reading that sticks elsewhere in its range is not looked at.
"""

import numpy as np

from helpers.studies.report import listed

BY_CALENDAR = {True: "test gas by the calendar", False: "a gauge by the calendar"}  # of a gas, of a pressure: what tells it then


def spread_when_stuck(bench, number):
    """How far two readings differ where one of them sticks at its low end [cases], in the reading's unit; zero with one reading alone."""
    seen = bench.rest(dead=number).tubes_pa.copy()
    seen[:, number] = bench.strategy.inputs[number].range[0]
    return np.ptp(seen[:, mates_of(bench, number)], axis=1)


def mates_of(bench, number):
    """Numbers of the inputs that an input may be held against, itself among them: all of them, of two gases those of its own."""
    return np.arange(len(bench.strategy.inputs)) if bench.alike is None else next(group for group in bench.alike if number in group)


def telling_limit(bench, normal, wide):
    """Limit of the difference of any two readings: `wide` where that still rings for each of them that sticks in some case that asks; else
    half way between what two sound ones may show with all their error and what is there when one sticks, so that it can ring.

    normal: what sound readings differ by at the most; wide: with twice their errors beside it. `wide` also where there is nothing between.
    """
    compared = [number for number in range(len(bench.strategy.inputs)) if len(mates_of(bench, number)) > 1]
    sticks = min(spread_when_stuck(bench, number)[bench.settled].max() for number in compared)
    sound = normal + 2 * float(bench.errors.max())
    return wide if sticks > wide or sticks <= sound else (sound + sticks) / 2


def told_in(design, number):
    """(names of the alarms that tell it, cases in which one rings, those in which none does) of a reading that sticks at its low end."""
    bench, one = design.bench, design.strategy.inputs[number]
    low, _ = one.own_limits
    *_, apart = design.strategy.alarms.limits
    own = np.full(len(bench.cases), low is not None and one.range[0] < low)
    differs = np.zeros(len(bench.cases), bool) if apart is None else spread_when_stuck(bench, number) > apart
    names = [name for name, rings in (("its own low alarm", own), ("the alarm on the difference", differs)) if rings.any()]
    told, silent = ([case.name for case, has in zip(bench.cases, rings, strict=True) if has] for rings in (own | differs, ~(own | differs)))
    return names, told, silent


def told_by(design, number):
    """The same in words: which alarm tells it, and in which cases none does."""
    names, told, silent = told_in(design, number)
    if not told:
        return f"nothing: {BY_CALENDAR[design.gas]} alone"
    return f"{listed(names)}, " + (
        f"but not with {' or '.join(silent)}: there {BY_CALENDAR[design.gas]} alone" if silent else "in every case"
    )


def stuck_said(design):
    """Which alarm tells each reading that sticks at its low end, in words."""
    told = [told_by(design, number) for number in range(len(design.strategy.inputs))]
    if len(set(told)) == 1:
        return f"{'every reading: ' * (len(told) > 1)}{told[0]}"
    return "; ".join(f"{one.name}: {words}" for one, words in zip(design.strategy.inputs, told, strict=True))
