"""What a plant's record lays down beside its site file: the site's settings as a strategy, with a fallback speed and alarm limits.

All of it is then judged as somebody else's strategy would be, on the same bench. Limits: steady air; what a plant's own module leaves out.
"""

from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.model.plants.building import BuildingSite
from helpers.model.plants.duct import DuctSite
from helpers.model.plants.garage import GarageSite
from helpers.model.plants.kinds import BuildingStrategy, DuctStrategy, GarageStrategy
from helpers.record.plants.stuck import mates_of, telling_limit
from helpers.record.review.curves import widest_apart
from helpers.record.review.kinds import suiting_speeds
from helpers.record.review.loop import calm, loop_margins
from helpers.record.review.plants import ALARM_ROOM, gas_alarm_ppm
from helpers.record.review.study import bench_of

PLANTS = (DuctSite, BuildingSite, GarageSite)
FALLBACK_STEP_HZ = 0.5  # a fallback speed is laid down in steps of this, towards more air
ALARM_SHARE = 0.05  # of the set point beyond the normal readings, where `ALARM_ROOM` errors are less. Common practice, no source
NO_MOST = "no upper limit of any place is in the site file"
GAIN_SHARES = np.round(np.arange(1.0, 0.04, -0.05), 2)  # of the file's gain, tried one after the other
ALARM_AFTER_S, END_STOP_S = 60.0, 600.0  # an alarm waits; fan at an end of its speed. Common practice, no source


class PlantKind(NamedTuple):
    """How a kind of site is told of: its strategy, the file's word, the ending of its keys, fields of a transmitter's place, words."""

    strategy: type
    word: str
    unit: str
    place: tuple
    called: str


KINDS = {
    DuctSite: PlantKind(DuctStrategy, "duct strategy", "pa", ("section",), "supply duct"),
    BuildingSite: PlantKind(
        BuildingStrategy, "building strategy", "pa", ("level", "outside_deg", "wind_share"), "building with a relief fan"
    ),
    GarageSite: PlantKind(GarageStrategy, "garage strategy", "ppm", ("zone", "gas", "response_s"), "garage held by its gas"),
}


def kind_of(site):
    """The `PlantKind` of a plant's site. Raises ValueError for a stair."""
    if type(site) not in KINDS:
        raise ValueError(f"site must be a duct, a building with a relief fan or a garage; got {type(site).__name__}")
    return KINDS[type(site)]


def strategy_of(site):
    """The settings that a plant's site file states, as a strategy: no fallback, no alarms."""
    kind, control = kind_of(site), site.control
    every = ("name", "signal", "accuracy_percent_span", "converter_bits", "filter_s", *kind.place)
    ends = (f"range_low_{kind.unit}", f"range_high_{kind.unit}")
    inputs = [{name: getattr(tap, name) for name in (*every, *ends)} for tap in site.transmitters]
    point = f"set_point_{kind.unit}"
    loop = {name: getattr(control, name) for name in ("rule", "weights", "action", "gain", "integral_time_s", "sample_s", point)}
    stop = control.low_demand
    made = {"kind": kind.word, "name": site.name, "invented": site.invented, "site": site.name, "inputs": inputs, "loop": loop}
    if kind.unit == "ppm" and site.second_gas is not None:
        loop["second_set_point_ppm"] = site.second_gas.set_point_ppm
    made |= {"mode": "smoke control" if control.fire_mode else "comfort", "low_demand": None if stop is None else stop.model_dump()}
    return kind.strategy.model_validate(made)


def laid_down(site):
    """The same with what the record lays down: a gain that is calm where the file's is not, a fallback speed where one suits every case
    that some speed holds, alarm limits about the readings that are normal."""
    plain, unit = strategy_of(site), kind_of(site).unit
    bench = bench_of(plain, site)
    gain = safe_gain(bench)
    falls, speed = {"does": "nothing"}, fallback_speed_hz(bench)
    if speed is not None:
        falls = {"does": "agreed fallback speed", "preset_speed_hz": speed}
    low, high, apart = alarm_ends(bench)
    low, high = (None if ends is None else bench.as_filed(ends) for ends in (low, high))
    apart = None if apart is None else float(bench.as_filed(apart, of_first=True))
    inputs = [
        {f"alarm_low_{unit}": None if low is None else float(low[at]), f"alarm_high_{unit}": None if high is None else float(high[at])}
        for at in range(len(plain.inputs))
    ]
    alarms = {"after_s": ALARM_AFTER_S, "end_stop_after_s": END_STOP_S, f"difference_{unit}": apart}
    loop = {} if gain is None else {"gain": gain}
    return plain.with_changes(inputs=inputs, alarms=alarms, on_bad_reading=falls, loop=loop)


def lags_tried(bench):
    """{what is tried: the bench with it}: as stated, filters and cells half and twice as slow, samples twice as far apart."""

    def slower(times):
        parts = [name for name in ("filter_s", "response_s") if hasattr(bench.strategy.inputs[0], name)]
        return {"inputs": [{name: getattr(one, name) * times for name in parts} for one in bench.strategy.inputs]}

    changes = {"lags and delay as stated": {}, "half these lags": slower(0.5), "twice these lags": slower(2.0),
               "twice the delay": {"loop": {"sample_s": 2 * bench.strategy.loop.sample_s}}}  # fmt: skip
    return {what: type(bench)(bench.strategy.with_changes(**change), bench.stated) for what, change in changes.items()}


def safe_gain(bench):
    """The largest share of the file's gain, to two figures, that is calm with all `lags_tried`; None where none is."""
    tried = tuple(lags_tried(bench).values())
    for share in GAIN_SHARES:
        gain = float(f"{share * bench.strategy.loop.controller_gain:.2g}")
        if all(calm(loop_margins(one, gain)) for one in tried):
            return gain
    return None


def fallback_speed_hz(bench):
    """The slowest speed, in steps of `FALLBACK_STEP_HZ`, that suits every place in every case that some speed holds; None for none. Of a
    gas the highest speed of all: traffic is a guess, and nobody reads the zone meanwhile."""
    if bench.gas:
        return float(bench.speed_limits_hz[1])
    speeds = suiting_speeds(bench)
    if not speeds.size:
        return None
    slowest = float(np.ceil(speeds.min() / FALLBACK_STEP_HZ - 1e-9) * FALLBACK_STEP_HZ)
    return slowest if slowest <= speeds.max() else float(speeds.min())


def unlimited_said(bench, speed_hz):
    """That no place has an upper limit to be judged by at a speed that is kept, and the most that one has there in any case, one in which
    nobody asks too, in words; "" where every place has one, as of a gas."""
    if np.isfinite(bench.limits[1]).any():
        return ""
    places = bench.at_speed(speed_hz).places
    case, place = np.unravel_index(places.argmax(), places.shape)
    has = f"{bench.place_text(place)} has {bench.show(places[case, place])} ({bench.cases[case].name})"
    return f"{NO_MOST}, and at {speed_hz:g} Hz {has}"


def alarm_ends(bench):
    """(low, high, difference) of the alarms on each reading [inputs] and on any two: beyond the normal readings of all cases that ask
    by `ALARM_ROOM` errors or `ALARM_SHARE` of the set point; of gas the high one alone, by `gas_alarm_ppm`: a reading there is beyond the
    most that a zone may have even where it reads high by all its error. The difference rings where one sticks at its low end, see
    `stuck.telling_limit`. None for none."""
    settled = bench.settled & (bench.held.state == "held")
    settled = settled if settled.any() else bench.settled
    seen, ranges = bench.held.tubes_pa[settled], np.array([one.range for one in bench.strategy.inputs])
    room = np.maximum(ALARM_ROOM * bench.errors, ALARM_SHARE * abs(bench.set_point))
    normal = float(widest_apart(bench, seen).max())
    spread = normal + 2 * room.max() if max(len(mates_of(bench, number)) for number in range(len(ranges))) > 1 else None
    if spread is not None:
        spread = telling_limit(bench, normal, float(spread))
    apart = None if spread is None else float(_rounded(spread))
    if bench.gas:
        high = gas_alarm_ppm(bench.set_point, bench.errors, seen.max(axis=0))
        return None, np.minimum(_rounded(high), ranges[:, 1]), apart
    low, high = _rounded(seen.min(axis=0) - room), _rounded(seen.max(axis=0) + room)
    return np.maximum(low, ranges[:, 0]), np.minimum(high, ranges[:, 1]), apart


def _rounded(value):
    """To whole units of the reading where it is large, to tenths where it is small."""
    value = np.asarray(value, float)
    return np.where(np.abs(value) >= 20, np.round(value), np.round(value, 1))


def with_choices(site, rule=None, set_point=None):
    """A plant's site with another rule and set point [Pa or ppm]; None: as it has them."""
    control = {} if rule is None else {"rule": rule, "weights": None}
    if set_point is not None:
        control[f"set_point_{kind_of(site).unit}"] = require.single(set_point=set_point)
    return site.with_changes(control=control) if control else site
