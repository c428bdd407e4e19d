"""How a garage of two gases is told of: its bench has shares of two set points, and a person enters, injects and reads ppm.

Of a garage of one gas, and of any other plant, everything here says what the bench itself shows.
"""

import numpy as np

from helpers.model.plants.gases import WHOLE, gas_names
from helpers.studies.report import Setting, listed
from helpers.units.said import three

SHARE = ("loop", "share of a reading")
ENTERED = ("set point of the first gas", "set point of the second gas", SHARE[1])  # in the loop, of two gases alone


def has_two(design):
    """Whether a plant is a garage of two gases."""
    return design.gas and design.site.second_gas is not None


def has_mates(design):
    """Whether some readings are held against each other: two of a kind are there."""
    return design.strategy.alarms.limits[2] is not None


def ppm_said(value):
    """A concentration to three digits, and no nought behind them."""
    return f"{float(value):,.0f} ppm" if abs(value) >= 100 else f"{float(value):.3g} ppm"


def filed_said(design, value):
    """A reading as the file has it, in ppm or Pa, in words."""
    return ppm_said(value) if has_two(design) else design.bench.show(value)


def of_each_said(design, share):
    """A share of a set point, as large for both gases, in ppm of each, in words; of any other plant the reading itself.

    share: in the unit of the bench."""
    if not has_two(design):
        return design.bench.show(share)
    points = np.asarray(design.bench.points_ppm) * share / WHOLE
    return listed(f"{ppm_said(point)} of {gas}" for point, gas in zip(points, gas_names(design.site), strict=True))


def range_said(design, number):
    """The range of a transmitter as its plate has it, in words."""
    low, high = design.strategy.inputs[number].range
    return f"{low:g} to {ppm_said(high)}" if has_two(design) else design.bench.between(low, high)


def ranges_said(design):
    """How many transmitters have which range, in words, of two gases each its own."""
    count = len(design.strategy.inputs)
    if not has_two(design):
        return f"{count} of {range_said(design, 0)}"
    taps = {gas: np.flatnonzero(design.bench.read == number) for number, gas in enumerate(gas_names(design.site))}
    return "; ".join(f"{len(at)} of {range_said(design, int(at[0]))}, {gas}" for gas, at in taps.items())


def in_shares_said(design):
    """What a table says of readings in per cent of a set point; "" of one gas."""
    return "; gas in per cent of its own set point" * has_two(design)


def set_points_said(design):
    """The set point of each gas, in words."""
    return f"{of_each_said(design, WHOLE)}, each the whole, 100 %, of its share"


def largest_by_gas(design, of_inputs):
    """The largest of some figures of the inputs, for each gas, in ppm of each, in words.

    of_inputs: in the unit of the bench [inputs]."""
    if not has_two(design):
        return design.bench.show(np.max(of_inputs))
    filed, read = design.bench.as_filed(np.broadcast_to(of_inputs, len(design.bench.read))), design.bench.read
    return listed(f"{ppm_said(filed[read == number].max())} of {gas}" for number, gas in enumerate(gas_names(design.site)))


def levels_told(design):
    """(set point and alarm, why) of the three levels of gas, in words: what is entered where, and what is entered nowhere."""
    bench, two = design.bench, has_two(design)
    limits = np.array([one.own_limits[1] for one in bench.strategy.inputs])
    high = largest_by_gas(design, limits) if two else listed(dict.fromkeys(map(bench.show, limits)))
    most, errors, ring = bench.limits[1].max(axis=0)[bench.input_places], bench.errors, limits if two else limits[0]
    errors = errors if two else errors.max()
    late, early = (largest_by_gas(design, ring + way * errors) for way in (1, -1))
    why = (
        f"{largest_by_gas(design, most)}, the set point and a transmitter's error, is entered nowhere: by it the record judges steady air. "
        f"A transmitter that reads low by all that error, {largest_by_gas(design, errors)}, rings at {late} of gas, one that reads high at "
        f"{early}"
    )
    points = of_each_said(design, bench.set_point)
    return f"{points} the set point, entered in the loop alone; {high} the alarm, entered in the alarm alone", why


def share_lines(design):
    """The `Setting` of how a reading becomes a share; none of one gas."""
    if not has_two(design):
        return
    told = (
        f"{three(WHOLE / point)} times its ppm for {gas}"
        for point, gas in zip(design.bench.points_ppm, gas_names(design.site), strict=True)
    )
    why = (
        "100 % is the set point of either, so that the gas which asks for more air runs the fan; fresh air thins both alike, and one gain "
        "and one integral time fit both; there is one integral part, none that waits and winds up"
    )
    for word, point, gas in zip(("first", "second"), design.bench.points_ppm, gas_names(design.site), strict=True):
        yield Setting(
            "loop", f"set point of the {word} gas", f"{ppm_said(point)} of {gas}", "as the site file has it; the local code decides"
        )
    yield Setting(*SHARE, f"each reading in per cent of its own gas's set point: {listed(told)}", why)
