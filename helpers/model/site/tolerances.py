"""What a loop really has, and within what limits it is known: stated in the site file, or filled in and told.

A figure that nobody stated is no constant but a box: low, likely, high, with a source or "common practice, no source". The loop model plays
the likely figures; whatever is recommended is tried over the whole box.
"""

from collections import Counter
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from helpers import units
from helpers.formulas import step_response
from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.model.site.criteria import criteria_of, highest_ceiling_m
from helpers.model.site.field_types import file_key
from helpers.model.site.reserve import MEMORY, OF_SECOND_FAN, OF_STANDBY, PRACTICE, allowed_told
from helpers.model.site.second_shaft import STUCK_OPEN_LEAK
from helpers.model.site.supply import outlets_told
from helpers.units.said import with_unit

STATED = "stated in the site file"
CYCLES = 1.5  # a calculated speed stands for a cycle, half of it is dead time; and it was calculated a cycle before
NEVER_STATED_S = 0.3  # lag that stays when all of a transmitter is stated: motor slip, air of shaft and floors; common practice, no source
MOST_UNSTATED_S = 1.0  # lag that all unstated parts together are taken to add at the most; common practice, no source
INERTIA_PER_KW = (0.1, 0.27, 0.65)  # wheel, shaft and motor [kg m2 per kW of motor]; common practice, no source


@dataclass(frozen=True)
class Box:
    """A figure within limits: low, likely, high, where they are from, and whether the site file states it."""

    low: float
    likely: float
    high: float
    source: str
    stated: bool

    def __post_init__(self):
        if not self.low <= self.likely <= self.high:
            raise ValueError(f"a box must not fall from low over likely to high, got {self.low:g}, {self.likely:g}, {self.high:g}")

    @classmethod
    def of(cls, value, default, source):
        """The box of a site file's value: one figure, three, or None, for which the default's three stand."""
        if value is None:
            return cls(*default, source, False)
        low, likely, high = value if isinstance(value, tuple) else (value,) * 3
        return cls(low, likely, high, STATED, True)

    @property
    def spread(self):
        """How far the high end is above the likely figure."""
        return self.high - self.likely


class LoopLags(NamedTuple):
    """What a loop's lags may be beyond the nominal: `lag` [s] on top of what the loop model plays, `dead_time` [s] in all, the block
    cycle's own part included."""

    lag: Box
    dead_time: Box


class Played(NamedTuple):
    """What the loop model plays, the likely figures: lags_s of each transmitter one behind the other (time constant, damping, tubes),
    each [transmitters, 1] [s]; late_s how old readings arrive, the block cycle's own part left out, [transmitters, 1] [s]; told:
    sentences about what is not stated."""

    lags_s: tuple
    late_s: np.ndarray
    told: tuple


class _Toleranced(NamedTuple):
    field: str
    words: str
    dimension: str
    default: tuple = ()
    source: str = PRACTICE

    def key(self, section):
        """Its key in a site file, after that of its section."""
        return f"{section}.{file_key(self.field)}"


_OF_TRANSMITTERS = (
    _Toleranced("response_s", "time constant", "time", (0.05, 0.1, 1.0)),
    _Toleranced("damping_s", "damping", "time", (0.0, 0.0, 1.0)),
    _Toleranced("tube_lag_s", "tubes, their lag", "time", (0.0, 0.0, 0.3)),
)
_OF_CONTROL = (
    _Toleranced("input_scan_s", "input scan", "time", (0.0, 0.0, 0.25)),
    _Toleranced("bus_delay_s", "bus or radio delay", "time", (0.0, 0.0, 0.2)),
)
_INERTIA = _Toleranced("inertia_kg_m2", "inertia", "inertia")
_DENSITY = _Toleranced("curve_density_kg_m3", "density", "density")
_CLOSING = _Toleranced("closing_share", "share of its force that the closer gives back", "ratio", (0.5, 0.6, 0.67))
_OF_STANDBY = {source: tuple(_Toleranced(*one) for one in parts) for source, parts in OF_STANDBY.items()}
_STUCK_OPEN = _Toleranced(*STUCK_OPEN_LEAK)
_OF_SECOND_FAN = tuple(_Toleranced(*one) for one in OF_SECOND_FAN)
_OF_STAIR = (
    _Toleranced("film_w_m2k", "film between its air and its walls", "heat transfer", (3.0, 6.0, 12.0)),
    _Toleranced(
        "wall_effusivity", "effusivity of walls and flights (boards on studs, concrete, dense stone)", "effusivity", (400.0, 1850.0, 2500.0)
    ),
)
_FLIGHTS_PER_PLAN = (1.0, 2.0, 3.0)  # flights and landings have about the stair's plan area, air on both sides; common practice, no source
_OF_DESIGN = (
    _Toleranced("leakage_margin", "margin for leaks nobody knows", "ratio", (0.25, 0.5, 1.0), f"half as much again, EN 12101-6; {MEMORY}"),
    _Toleranced("duct_leak_margin", "margin for leaks of the duct", "ratio", (0.05, 0.15, 0.25), f"15 %, BS 5588-4 practice; {MEMORY}"),
)
_TUBE_BORES_M = (0.003, 0.004, 0.006)  # inner, low to high; common practice, no source


def boxes(site):
    """Every figure of the site that may be a box, stated or filled in, by its place: "transmitters.0.response_s", "fan.inertia_kg_m2".

    site of any kind (a garage has no tubes, a duct no doors). Returns {place: Box}. `tube_lag_s` [s] of a transmitter is worked out from
    tube_length_m and tube_bore_m (`formulas.step_response`). Defaults: beside each its source or "common practice, no source".
    """
    found = {}
    for number, transmitter in enumerate(site.transmitters):
        found |= {f"transmitters.{number}.{part}": box for part, box in _of_transmitter(transmitter).items()}
    found |= {f"control.{part.field}": _box(site.control, part) for part in _OF_CONTROL}
    found["fan.inertia_kg_m2"] = inertia_box(site.fan)
    density = (STANDARD_DENSITY_KG_M3,) * 3
    found["fan.curve_density_kg_m3"] = Box.of(site.fan.curve_density_kg_m3, density, "standard air, as catalogues have it")
    for name, door in getattr(site, "doors", {}).items():
        if door.worked_by_hand:
            found[f"doors.{name}.closing_share"] = _box(door, _CLOSING)
    standby, design = getattr(site, "standby", None), getattr(site, "design", None)
    if standby is not None and standby.source in _OF_STANDBY:
        found |= {f"standby.{part.field}": _box(standby, part) for part in _OF_STANDBY[standby.source]}
    if getattr(site, "second_fan", None) is not None:
        found |= {f"second_fan.{part.field}": _box(site.second_fan, part) for part in _OF_SECOND_FAN}
    if getattr(site, "second_shaft", None) is not None:
        found["second_shaft.fan.stuck_open_leak"] = _box(site.second_shaft.fan, _STUCK_OPEN)
    if hasattr(site, "design"):
        found |= {f"design.{part.field}": _box(design, part) for part in _OF_DESIGN}
    if hasattr(site, "stair"):
        found |= {f"stair.{part.field}": _box(site.stair, part) for part in (_heat_surface(site), *_OF_STAIR)}
    return found


def _of_transmitter(transmitter):
    """Boxes of a transmitter by field; what its kind cannot state (a gas cell has no tubes) is not there."""
    found = {part.field: _box(transmitter, part) for part in _OF_TRANSMITTERS if hasattr(transmitter, part.field)}
    return found | ({"tube_lag_s": _tube_box(transmitter, _OF_TRANSMITTERS[-1])} if hasattr(transmitter, "tube_length_m") else {})


def played_lags(transmitters, control):
    """The lags that the loop model plays for a loop's transmitters and controller, see `Played`.

    What a transmitter cannot state (those of a fault bench know their wires only) is as unstated.
    """
    nothing = {part.field: Box(*part.default, part.source, False) for part in _OF_TRANSMITTERS}
    known = [nothing | _of_transmitter(transmitter) for transmitter in transmitters]
    lags = tuple(np.array([[boxes[part.field].likely] for boxes in known]) for part in _OF_TRANSMITTERS)
    scan, bus = (_box(control, part).likely for part in _OF_CONTROL)
    travel = [[_three(getattr(transmitter, "tube_length_m", None) or 0.0)[1]] for transmitter in transmitters]
    first = _OF_TRANSMITTERS[0]
    missing = [f"Transmitter {number}" for number, boxes in enumerate(known, start=1) if not boxes[first.field].stated]
    told = (f"{_and(missing)}: no {first.words} is stated; played as {_time(nothing[first.field].likely)}.",) if missing else ()
    return Played(lags, 0.5 * scan + bus + step_response.travel_time(travel), told)


def loop_lags(site):
    """Boxes of the lag beyond what the loop model plays, and of the dead time in all; of the slowest transmitter. Returns `LoopLags`.

    Lag [s]: 0 to 1 where parts are not stated; where all are, what their own boxes leave open, and 0.3 at least for what no file states
    (motor slip, air of shaft and floors). Dead time [s]: 1.5 block cycles, input scan, bus, the tube's travel time: 0.15 to 0.6 s with a
    cycle of 0.1 s where nothing is stated.
    """
    known = boxes(site)
    lags = [_lag_beyond(known, number) for number in range(len(site.transmitters))]
    lag = max(lags, key=lambda box: box.high)
    cycle, scan, bus = CYCLES * site.control.sample_s, known["control.input_scan_s"], known["control.bus_delay_s"]
    travel = max((_three(getattr(t, "tube_length_m", None) or 0.0) for t in site.transmitters), key=lambda three: three[2])
    sums = [
        round(cycle + scanned + by_bus + float(step_response.travel_time(length)), 9)
        for scanned, by_bus, length in zip(
            (0.5 * scan.low, 0.5 * scan.likely, scan.high), (bus.low, bus.likely, bus.high), travel, strict=True
        )  # a reading is on average half a scan old
    ]
    stated = scan.stated and bus.stated
    source = "block cycle, input scan, bus and tubes, as stated" if stated else f"block cycle as stated; scan or bus {PRACTICE}"
    return LoopLags(lag, Box(*sums, source, stated))


def reading_lag_s(site):
    """Longest lag [s] of a stair's readings: filter, time constant, damping and tubes, with what their boxes leave open, of the slowest
    transmitter."""
    known = boxes(site)
    return max(
        tap.filter_s
        + sum(known[f"transmitters.{number}.{part.field}"].likely for part in _OF_TRANSMITTERS)
        + _lag_beyond(known, number).high
        for number, tap in enumerate(site.transmitters)
    )


def _lag_beyond(known, number):
    """Box of the lag of one transmitter beyond the nominal one."""
    parts = [known[key] for part in _OF_TRANSMITTERS if (key := f"transmitters.{number}.{part.field}") in known]
    stated, unstated = sum(box.spread for box in parts if box.stated), sum(box.spread for box in parts if not box.stated)
    if all(box.stated for box in parts):
        least = f"what is stated leaves open, and {NEVER_STATED_S:g} s at least for motor slip and the air of shaft and floors ({PRACTICE})"
        return Box(0.0, 0.0, max(stated, NEVER_STATED_S), least, True)
    return Box(0.0, 0.0, stated + min(unstated, MOST_UNSTATED_S), f"time constant, damping or tubes not stated: {PRACTICE}", False)


def filled_in(site):
    """Sentences about all that the site file does not state and that is taken to be something; equal ones of several parts are one."""
    return tuple(sentence for _, sentence in left_open(site))


def left_open(site):
    """(key of the file, sentence) of all of it: what could be stated there, as "transmitters.damping", and what is taken in its place."""
    return (
        *_boxes_told(site, boxes(site)),
        *_fan_told(site.fan, site.control),
        *_storeys_told(site),
        *outlets_told(site),
        *allowed_told(site),
        *_class_told(site),
        *_building_told(site),
    )


def _boxes_told(site, known):
    for part in _OF_TRANSMITTERS:
        keys = [f"transmitters.{number}.{part.field}" for number in range(len(site.transmitters))]
        names = [repr(t.name) for t, key in zip(site.transmitters, keys, strict=True) if key in known and not known[key].stated]
        if names:
            box = next(known[key] for key in keys if key in known and not known[key].stated)
            what = f"Transmitter{'s' if len(names) > 1 else ''} {_and(names)}, {part.words}"
            yield _taken(part.key("transmitters"), what, box, part.dimension)
    for part in _OF_CONTROL:
        yield from _told("control", part, f"Controller, {part.words}", known)
    yield from _told("fan", _INERTIA, "Inertia of wheel and motor", known)
    yield from _told("fan", _DENSITY, "Density of the air that the fan curve stands for", known)
    pushed = [name for name, door in getattr(site, "doors", {}).items() if door.opens == "with pressure"]  # any other the pressure shuts
    doors = [repr(name) for name in pushed if not known.get(f"doors.{name}.closing_share", _NOTHING).stated]
    if doors:
        box = next(box for key, box in known.items() if key.endswith(".closing_share") and not box.stated)
        yield _taken(_CLOSING.key("doors"), f"Door{'s' if len(doors) > 1 else ''} {_and(doors)}, {_CLOSING.words}", box, _CLOSING.dimension)
    if hasattr(site, "standby") and site.standby is None:
        yield "standby.source", "Standby power: not stated; nothing is known of the time without a fan after the mains fail."
    for part in _OF_STANDBY.get(getattr(getattr(site, "standby", None), "source", None), ()):
        yield from _told("standby", part, f"Standby power, {part.words}", known)
    for part in _OF_SECOND_FAN if getattr(site, "second_fan", None) else ():
        yield from _told("second_fan", part, f"Second fan, {part.words}", known)
    if getattr(site, "second_shaft", None) is not None:
        yield from _told("second_shaft.fan", _STUCK_OPEN, f"Fan of {site.second_shaft.words}, {_STUCK_OPEN.words}", known)
        if site.second_shaft.outdoor_share is None:
            yield (
                "second_shaft.outdoor_share",
                f"Air of {site.second_shaft.words}: not stated how warm; taken to be as warm as the stair's.",
            )
    if hasattr(site, "stair"):
        for part in (_heat_surface(site), *_OF_STAIR):
            yield from _told("stair", part, f"Stair, {part.words}", known)
    if hasattr(site, "design"):
        for part in _OF_DESIGN:
            yield from _told("design", part, f"Design, {part.words}", known)
        if site.design is None or not (site.design.open_doors or site.design.open_exits):
            yield "design.open_doors", "Doors that the design takes as open at once: not stated."


def _storeys_told(site):
    """What storeys of a stair leave to others: a door as their neighbours have it, where the exit looks to, what warms the air."""
    storeys = getattr(site, "storeys", ())
    if not hasattr(site, "stair"):
        return
    usual, count = Counter(map(_alike, storeys)).most_common(1)[0]
    door = next(storey.stair_door for storey in storeys if _alike(storey) == usual)
    odd = [str(s.level) for s in storeys if _alike(s) != usual and s.stair_door == door and s.stair_door_count and door is not None]
    if odd and count > 1:
        levels = f"Storey{'s' if len(odd) > 1 else ''} {_and(odd)}"
        said = f"{levels}, unlike the others, taken to have the stair door {door!r} as they do: else write stair_door_count = 0."
        yield "storeys.stair_door", said
    if still := [str(storey.level) for storey in storeys if storey.final_exit_door is not None and storey.exit_faces_deg is None]:
        said = f"Final exit {_and(still)}: its bearing is not stated; judged without wind, leaking with the mean of the faces."
        yield "storeys.exit_faces", said
    vents = [str(storey.level) for storey in storeys if storey.lobby_vent_m2 and storey.lobby_vent_faces_deg is None]
    if vents:
        said = f"Lobby vent {_and(vents)}: its bearing is not stated; taken to look to the face that the wind is hardest on."
        yield "storeys.lobby_vent_faces", said
    if not (any(storey.stair_wall_m2 for storey in storeys) or site.stair.heat_surface_m2):
        said = "Walls of the stair: none on any storey, and no heat_surface is stated; no heat balance of the stair is possible."
        yield "storeys.stair_wall", said


def _class_told(site):
    """That a standard asks unlike things of unlike classes of system, and the file does not say which this one is."""
    if hasattr(site, "airflow_class") and site.airflow_class is None and (criteria := criteria_of(site.standard)).by_class:
        yield (
            "site.airflow_class",
            f"Airflow class of the system ({criteria.name}): not stated; judged by the least speed through an open door that any class "
            "asks for, and by the pressure with the final exit open as those that ask for one.",
        )


def _building_told(site):
    """What a standard asks by sprinklers, ceiling and adopted code, where the file does not state them: the higher counts."""
    if not hasattr(site, "sprinklers"):
        return
    criteria = criteria_of(site.standard)
    if criteria.least_without_sprinklers and site.sprinklers is None:
        yield "site.sprinklers", f"Sprinklers: not stated; judged as without them, the higher minimum pressure of {criteria.name}."
    if criteria.least_without_sprinklers and site.ceiling_height_m is None:  # with sprinklers too: the hot gas hangs on it
        height = with_unit(highest_ceiling_m(site), "length")
        said = f"Highest ceiling of the rooms beside the stair: not stated; taken as the tallest storey, {height} from floor to floor."
        yield "site.ceiling_height", said
    if criteria.by_building_code and site.building_code_adopted is None:
        ends = (("at least", criteria.building_code_least), ("at most", criteria.building_code_most))
        told = _and([f"{words} {one.shown(words.removeprefix('at '))}" for words, one in ends if one is not None])
        said = (
            f"Building code beside {criteria.name}: not stated whether it is adopted; judged as adopted, {told} across a shut stair door."
        )
        yield "site.building_code_adopted", said


def _alike(storey):
    return storey.model_copy(update={"level": 0, "drawing_name": None, "stair_door": None, "stair_door_count": 0})


def _fan_told(fan, control):
    if fan.ramp_down_s is None:
        yield "fan.ramp_down", f"Ramp down: not stated; taken as the ramp up, {units.show(fan.ramp_s, 'time')}."
    if fan.brake is None:
        yield "fan.brake", "Brake of the drive: not stated; ramps are judged as without one, the loop in time slows the fan on its ramp."
    if fan.brake == "resistor" and fan.brake_power_w is None and fan.brake_short_power_w is None:
        rated = with_unit(fan.motor_power_w, "power")
        yield "fan.brake_power", f"Size of the brake resistor: not stated; held against the motor's rated power, {rated}."
    if control.fire_mode and None in (fan.smoke_lowest_speed_hz, fan.smoke_highest_speed_hz):
        ends = " to ".join(units.show(speed, "frequency") for speed in fan.speed_limits_hz(control.fire_mode))
        yield "fan.smoke_highest_speed", f"Speed limits in smoke control: not both stated; taken as {ends}."
    if getattr(control, "integral_stops", None) is None:
        said = "Where the integral stops: not stated; taken as at the ends of the output only, the cautious case."
        yield "control.integral_stops", said


def _box(section, part):
    return Box.of(getattr(section, part.field, None), part.default, part.source)


def inertia_box(fan):
    """Box of the inertia of wheel, shaft and motor [kg m2], from the motor's power where the file says nothing."""
    return Box.of(fan.inertia_kg_m2, tuple(round(each * fan.motor_power_w / 1000, 6) for each in INERTIA_PER_KW), PRACTICE)


def _heat_surface(site):
    """Walls of a mean storey as stated, flights and landings by the plan area."""
    walls = sum(storey.stair_wall_m2 for storey in site.storeys) / len(site.storeys)
    default = tuple(round(walls + share * site.stair.plan_area_m2, 6) for share in _FLIGHTS_PER_PLAN)
    return _Toleranced(
        "heat_surface_m2", "surface that its air meets on a storey", "area", default, f"stair walls as stated; flights {PRACTICE}"
    )


def _tube_box(transmitter, part):
    """Box of the lag of a transmitter's tubes, worked out where the length is stated; a bore that is not stated is three."""
    if transmitter.tube_length_m is None:
        return Box(*part.default, part.source, False)
    bores = _TUBE_BORES_M if transmitter.tube_bore_m is None else (transmitter.tube_bore_m,) * 3
    lags = [
        float(step_response.tube_lag(length, bore)) for length, bore in zip(_three(transmitter.tube_length_m), bores[::-1], strict=True)
    ]
    source = STATED if transmitter.tube_bore_m else f"length as stated; bore {PRACTICE}"
    return Box(*lags, f"Hagen and Poiseuille, with the air of tube and instrument; {source}", transmitter.tube_bore_m is not None)


_NOTHING = Box(0.0, 0.0, 0.0, "", True)


def _three(value):
    return value if isinstance(value, tuple) else (value,) * 3


def _told(section, part, what, known):
    if not (box := known[f"{section}.{part.field}"]).stated:
        yield _taken(part.key(section), what, box, part.dimension)


def _taken(key, what, box, dimension):
    show = _time if dimension == "time" else lambda value: with_unit(value, dimension)
    likely, *ends = map(show, (box.likely, box.low, box.high))
    within = "" if box.low == box.high else f", within {ends[0]} to {ends[1]}"
    return key, f"{what}: not stated; taken as {likely}{within} ({box.source})."


def _time(seconds):
    return units.show(seconds, "time", digits=2)


def _and(names):
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
