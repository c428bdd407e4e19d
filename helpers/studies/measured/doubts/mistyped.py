"""Readings of a test day in another unit than written: a whole column in inches of water column typed as pascals, or the other way; and
single cells that can hardly be: in the other unit, or with a slip of the point.

A column is what one pair read of one quantity in one round. It is held against the site file's building at the day's weather and speed,
times what the other columns come to of theirs in the middle, since a building may be looser or tighter than its file: where the column's
middle is then within TWICE of an inch of water column off, its unit is. Limits: FEW readings at least; no column of which less than
LEAST_PA is to be expected; steady rounds; of a day in one other unit throughout the looseness of the building is not taken into account.
A single cell is held against what the other readings of its kind in its round come to of theirs; it stays in the day's file, is named, and
one in the other unit is not fitted.
"""

from math import log10

import numpy as np

from helpers.formulas import air
from helpers.model.air.tower import Tower
from helpers.studies.measured.readings import FLOW, QUANTITIES, every_quantity
from helpers.units import WATER_COLUMNS_PA
from helpers.units.said import with_unit

INCH_PA = WATER_COLUMNS_PA["conventional"]
STAIR, FINAL_EXIT = QUANTITIES.index("stair over outdoors"), QUANTITIES.index("final exit")
FEW_BESIDE = 2  # other readings of a kind in a round beside which a single cell is looked at; ours
TWICE, FEW, LEAST_PA = 2.0, 3, 5.0  # ours
PLAIN = 10.0  # times its file's pressures no building has at one speed of the fan: beyond, a column is no measure of the others; ours
LEFT_OF_CURVE = 1.5  # times the most of a fan's curve: its points may begin right of its peak, and its density be another; ours
# Beyond so many errors of a gauge from what the other readings of its round let expect, and so many times it or that part of it, a reading
# can hardly be; ours. A slip of the point is ten times, or a hundred, give or take POINT of a decade; a unit is an inch's pascals likewise.
SURELY_OFF, HARDLY, POINT = 4.0, 5.0, 0.2
IN_AS_PA, PA_AS_IN = "in. w.c. typed as Pa", "Pa typed as in. w.c."


def in_pascals(readings):
    """(`DayReadings` without the columns whose unit is another, a sentence a unit about those). Nothing is left out where no reading would
    be left."""
    expected = _expected(readings)
    columns = _columns(readings, expected)
    shares = {key: float(np.median(np.abs(readings.value[of] / expected[of]))) for key, of in columns.items()}
    if len(shares) < 2:
        return readings, ()
    plain = [share for share in shares.values() if 1 / PLAIN < share < PLAIN]
    usual = float(np.median(plain)) if plain else 1.0
    gone, told = [], []
    for what, factor in ((IN_AS_PA, 1 / INCH_PA), (PA_AS_IN, INCH_PA)):
        off = [key for key, share in shares.items() if 1 / TWICE < share / usual / factor < TWICE]
        if off:
            numbers = np.concatenate([columns[key] for key in off])
            more = np.setdiff1d(_beside(readings, off, expected * usual * factor), numbers)
            gone.append(np.concatenate([numbers, more]))
            told.append(_said(readings, off, numbers, expected * usual, what, len(more)))
    numbers = np.concatenate(gone) if gone else np.array([], int)
    return (readings.but(numbers), tuple(told)) if 0 < len(numbers) < len(readings) else (readings, ())


def _beside(readings, off, in_other):
    """Numbers of the readings that are in the other unit beside such a column, in its round: what the same pair read of another quantity,
    of which there are too few for a column. in_other [readings]: what is to be expected, in the other unit. Limit: LEAST_PA, as there."""
    with np.errstate(divide="ignore", invalid="ignore"):
        times = np.abs(readings.value / in_other)
    plain = (
        (readings.quantity != FLOW) & np.isin(readings.round, [where for where, _, _ in off]) & (np.abs(_expected(readings)) >= LEAST_PA)
    )
    return np.flatnonzero(plain & (times > 1 / TWICE) & (times < TWICE))


def beyond_the_fan(readings):
    """A sentence about every pressure that no fan of the site can make: over its curve's most at the round's speed, with stack and wind."""
    site, weather = readings.site, readings.day.weather
    outdoors, *stair = air.density(np.array([weather.outdoor_c, weather.stair_bottom_c, weather.stair_top_c]))
    stack = air.GRAVITY_M_S2 * np.abs(np.array(stair) - outdoors).max() * sum(storey.height_m for storey in site.storeys)
    beside = stack + air.velocity_pressure(weather.wind_speed_m_s, outdoors)
    most = LEFT_OF_CURVE * max(site.fan.pressures_pa) * (readings.speeds_hz / site.fan.reference_speed_hz) ** 2 + beside
    for number in np.flatnonzero((readings.quantity != FLOW) & (np.abs(readings.value) > most[readings.round])).tolist():
        top = with_unit(most[readings.round[number]], "pressure")
        read = readings.value_said(number, readings.value[number])
        yield f"{readings.said(number)}: must be what the site's fan can make, up to {top} at that speed with stack and wind; got {read}"


def slip_of_point(value, usual, pressure=False):
    """What a figure many times, or a small part of, what is usual may be, in words; "" for one that can be. pressure: whether it may be in
    the other unit of pressure.

    >>> slip_of_point(198.0, 20.1), slip_of_point(120.0, 20.0), slip_of_point(25.0, 20.0)
    ('a slip of the point', '6 times as much', '')
    >>> slip_of_point(0.14, 35.0, pressure=True), slip_of_point(8700.0, 35.0, pressure=True), slip_of_point(0.14, 35.0)
    ('in. w.c. typed as Pa?', 'Pa typed as in. w.c.?', '250 times as little')
    """
    if not value or not usual or 1 / HARDLY < (times := abs(value / usual)) < HARDLY:
        return ""
    decades = log10(times)
    point = abs(decades - round(decades)) if round(decades) else POINT
    for what, unit in ((IN_AS_PA, -log10(INCH_PA)), (PA_AS_IN, log10(INCH_PA))):
        if pressure and abs(decades - unit) < min(point, POINT):
            return f"{what}?"
    if point < POINT:
        return "a slip of the point"
    return f"{times:.0f} times as much" if times > 1 else f"{1 / times:.0f} times as little"


def cells_in_inches(readings):
    """(number, sentence) of every pressure that is in the other unit beside the others of its kind in its round; of a final exit, beside
    the stair over outdoors. Nothing else can be said before a building is fitted: a looser one has five times a door's pressure."""
    expected, error = _expected(readings), readings.day.gauges.pressure_pa
    for number in np.flatnonzero(readings.quantity != FLOW).tolist():
        kind = STAIR if readings.quantity[number] == FINAL_EXIT else readings.quantity[number]
        alike = (readings.round == readings.round[number]) & (readings.quantity == kind) & (np.abs(expected) > SURELY_OFF * error)
        alike[number] = False
        if alike.sum() < FEW_BESIDE:
            continue
        usual = float(np.median(np.abs(readings.value[alike] / expected[alike])) * expected[number])
        if abs(readings.value[number] - usual) > SURELY_OFF * error:
            said = slip_of_point(float(readings.value[number]), usual, pressure=True)
            if said.endswith("?"):
                yield (
                    number,
                    f"{readings.said(number)}: {as_typed(readings.value[number])} can hardly be, {said}; {_usual(readings, number, usual)}",
                )


def slip_said(readings, number, usual):
    """What a pressure or a flow that does not fit may be, by what its building has of it, in words; "" for nothing that can be told."""
    value, error = float(readings.value[number]), readings.uncertainty[number]
    is_flow = readings.quantity[number] == FLOW
    if not is_flow and value * usual < 0 and min(abs(value), abs(usual)) > 2 * error and abs(abs(value) - abs(usual)) < SURELY_OFF * error:
        return "the sign turned: look at the tubes"
    return slip_of_point(value, usual if is_flow else np.copysign(max(abs(usual), SURELY_OFF * error), usual), pressure=not is_flow)


def as_typed(value):
    """A pressure with figures more where it is small."""
    return with_unit(float(value), "pressure", (1 if abs(value) >= 1 else 3, 4))


def _usual(readings, number, usual):
    return f"some {readings.value_said(number, usual)} is to be expected: read it again"


def _expected(readings):
    """What the site file's building has of each reading [readings]."""
    every = every_quantity(Tower(readings.site).solve(readings.conditions, readings.speeds_hz))
    return every[readings.round, readings.quantity, readings.storey]


def _columns(readings, expected):
    """{(round, quantity, pair): numbers of its readings} of those that are told by this."""
    columns = {}
    keys = zip(readings.round.tolist(), readings.quantity.tolist(), (readings.storey >= readings.upper_from).tolist(), strict=True)
    for number, key in enumerate(keys):
        if key[1] != FLOW and abs(expected[number]) >= LEAST_PA and np.isfinite(readings.value[number]):
            columns.setdefault(key, []).append(number)
    return {key: np.array(of) for key, of in columns.items() if len(of) >= FEW}


def _said(readings, off, numbers, usual, what, more):
    """One sentence about all columns of one unit; more: how many readings beside them, in their rounds, are in it too."""
    places = {}
    for number, quantity, upper in off:
        places.setdefault((number, quantity), []).append("upper" if upper else "lower")
    named = []
    for (number, quantity), pairs in places.items():
        whose = f" of the {pairs[0]} pair" if len(pairs) == 1 and len(readings.gauges) == 2 else ""
        named.append(f"{QUANTITIES[quantity]}s{whose}, round {number + 1}")
    first = int(numbers[0])
    read, other = f"{readings.value[first]:.3g}", with_unit(float(usual[first]), "pressure", 1)
    return (
        f"{what}? {len(numbers)} readings ({'; '.join(named)}){f' and {more} beside them' * bool(more)} are left out: "
        f"{readings.said(first)} has {read} written where some {other} is to be expected, and the others likewise: "
        "read the gauge's unit and write the column anew"
    )
