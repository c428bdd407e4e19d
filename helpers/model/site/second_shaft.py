"""A second pressurised shaft beside the stair, as the site file says it: another stair, or a lift shaft, with a fan of its own.

Both press on the floors, and so on each other. Its fan brings a fixed flow, turns at a fixed speed on a curve, or has a loop of its own.
"""

import itertools
from typing import Annotated, Literal

from pydantic import Field

from helpers.model.site import field_types as of

FIXED_FLOW, FIXED_SPEED, OWN_LOOP = "fixed flow", "fixed speed", "own loop"
STUCK_OPEN_LEAK = (
    "stuck_open_leak", "what goes back through it with its damper stuck open, share of its full flow", "ratio", (0.2, 0.5, 1.0),
    "common practice, no source",
)  # fmt: skip
_CURVE = ("flows", "pressures", "reference_speed")
_LOOP = ("set_point", "set_point_level", "set_point_over", "lowest_speed", "highest_speed")


class ShaftFan(of.SiteTable):
    """The fan of the second shaft, all of whose air enters at `level`: `fixed_flow_m3_s` whatever the pressure, or a curve net of its duct,
    at a fixed `speed_hz` or between two speeds by a loop that holds `set_point_pa` over floor or outdoors on `set_point_level`.

    `stuck_open_leak`: what an idle fan lets back where its damper sticks open, as of a `second_fan`."""

    level: of.Level
    fixed_flow_m3_s: of.DuctFlow | None = None
    flows_m3_s: Annotated[tuple[of.Flow, ...], Field(strict=False, min_length=2)] | None = None
    pressures_pa: Annotated[tuple[of.Rise, ...], Field(strict=False, min_length=2)] | None = None
    reference_speed_hz: of.Speed | None = None
    speed_hz: of.Speed | None = None
    set_point_pa: of.Pressure | None = None
    set_point_level: of.Level | None = None
    set_point_over: Literal["floor", "outdoors"] | None = None
    lowest_speed_hz: of.Speed | None = None
    highest_speed_hz: of.Speed | None = None
    stuck_open_leak: of.ShareOrThree | None = None

    @property
    def way(self):
        """How it is run: FIXED_FLOW, FIXED_SPEED or OWN_LOOP; None where the file states none of their figures."""
        stated = {FIXED_FLOW: self.fixed_flow_m3_s, FIXED_SPEED: self.speed_hz, OWN_LOOP: self.set_point_pa}
        return next((way for way, figure in stated.items() if figure is not None), None)

    @property
    def fastest_hz(self):
        """The speed it turns at where its loop asks for all it has; the fixed one of a fan without a loop."""
        return self.highest_speed_hz if self.way == OWN_LOOP else self.speed_hz


class SecondShaft(of.SiteTable):
    """Another stair, or a lift shaft, with air of its own. `wall_m2` between it and the floor on each storey, as tight as the stair's
    or the lift shaft's; `outside_leak_m2` its gaps to outdoors on each storey, `vent_area_m2` at its top, always open.

    `door`: a kind of [doors], `door_count` of them on each of `levels` (none named: on every storey); `open_doors`: levels where one stands
    open in one more state that is judged. `exit_door` at `exit_level`. `outdoor_share`: how near its air is to the outdoor air, from 0
    (the floors') to 1; left out: it is as warm as the stair. `most_dp_pa`: the most that its doors may bear, where the code says so (a
    lift's may jam) or nobody works them by hand.
    """

    kind: Literal["stair", "lift"]
    friction_area_m2: of.OpenArea
    wall_m2: of.Area
    outside_leak_m2: of.Area = 0.0
    vent_area_m2: of.Area = 0.0
    door: of.Text
    door_count: Annotated[int, Field(ge=1, le=20)] = 1
    levels: of.Levels = ()
    open_doors: of.Levels = ()
    exit_door: of.Text | None = None
    exit_level: of.Level | None = None
    outdoor_share: of.Share | None = None
    most_dp_pa: of.Rise | None = None
    fan: ShaftFan | None = None  # a check asks for it: what stands under an optional table is optional to the guided page

    @property
    def words(self):
        """What it is called in sentences."""
        return "the second stair" if self.kind == "stair" else "the lift shaft"

    def on(self, level):
        """Whether it has a door on a storey."""
        return not self.levels or level in self.levels


def second_shaft_is_whole(draft):
    """Its fan is run in one way and states all of it; its doors are described, and all stands on storeys that are there."""
    given = draft.sections.get("second_shaft")
    if given is None:
        return
    place, known = "second_shaft", ", ".join(map(repr, sorted(draft.door_names)))
    for key in ("door", "exit_door"):
        name = getattr(given, key)
        if name is not None and draft.door_names and name not in draft.door_names:
            yield (place, key), f"must be a door described under [doors] ({known}); got {name!r}"
    if (given.exit_door is None) != (given.exit_level is None):
        missing = "exit_door" if given.exit_door is None else "exit_level"
        yield (place, missing), "is missing; a final exit is a kind of door on a level"
    for key in ("levels", "open_doors"):
        if len(set(getattr(given, key))) < len(getattr(given, key)):
            yield (place, key), "must name each storey once"
    without = [str(level) for level in given.open_doors if not given.on(level)]
    if without:
        yield (place, "open_doors"), f"must be storeys on which it has a door, see levels; got {', '.join(without[:5])}"
    named = [((place, key), getattr(given, key)) for key in ("levels", "open_doors")]
    named += [((place, "exit_level"), (given.exit_level,))]
    if given.fan is None:
        yield (place, "fan"), "is missing; a shaft that is pressurised has a fan of its own, [second_shaft.fan]"
    else:
        named += [((place, "fan", key), (getattr(given.fan, key),)) for key in ("level", "set_point_level")]
    for where, levels in named:
        wrong = [str(level) for level in levels if level is not None and draft.levels and level not in draft.levels]
        if wrong:
            yield where, f"must be storeys from {min(draft.levels)} to {max(draft.levels)}; got {', '.join(wrong[:5])}"
    if given.fan is not None:
        yield from _fan_is_whole(given.fan)


def _fan_is_whole(fan):
    place, way = ("second_shaft", "fan"), fan.way
    own = {of.file_key(name): getattr(fan, name) for name in type(fan).model_fields if name not in ("level", "stuck_open_leak")}
    if way is None:
        yield (*place, "speed"), "is missing; state fixed_flow, a curve with its speed, or a curve with a set_point"
        return
    needed = {FIXED_FLOW: ("fixed_flow",), FIXED_SPEED: (*_CURVE, "speed"), OWN_LOOP: (*_CURVE, *_LOOP)}[way]
    for key, value in own.items():
        if key in needed and value is None:
            yield (*place, key), f"is missing; a fan with {_a(way)} needs it"
        if key not in needed and value is not None:
            yield (*place, key), f"must be left out for a fan with {_a(way)}: it is run in one way"
    if fan.flows_m3_s is not None and fan.pressures_pa is not None:
        yield from _curve_falls(fan, place)
    if way == OWN_LOOP and None not in (fan.lowest_speed_hz, fan.highest_speed_hz) and fan.lowest_speed_hz >= fan.highest_speed_hz:
        wanted = f"must be above the lowest speed of {fan.lowest_speed_hz:g} Hz"
        yield (*place, "highest_speed"), f"{wanted}; got {fan.highest_speed_hz:g} Hz"
    if way == OWN_LOOP and fan.set_point_pa <= 0:
        yield (*place, "set_point"), f"must be above 0 Pa, since this fan blows in; got {fan.set_point_pa:g} Pa"


def _curve_falls(fan, place):
    flows, pressures = fan.flows_m3_s, fan.pressures_pa
    if len(flows) != len(pressures):
        yield (*place, "pressures"), f"must hold as many values as flows, {len(flows)}; got {len(pressures)}"
    if flows[0]:
        yield (*place, "flows"), f"must begin with 0 m3/s, the shut-off point; got {flows[0]:g} m3/s"
    if any(a >= b for a, b in itertools.pairwise(flows)):
        yield (*place, "flows"), f"must rise from value to value; got {', '.join(f'{flow:g} m3/s' for flow in flows)}"
    if any(a <= b for a, b in itertools.pairwise(pressures)):
        told = ", ".join(f"{pressure:g} Pa" for pressure in pressures)
        yield (*place, "pressures"), f"must fall from value to value as the flow rises; got {told}"


def _a(way):
    return f"a {way}" if way != OWN_LOOP else "a loop of its own"
