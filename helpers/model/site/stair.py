"""The stair's shaft, its relief dampers, and a lift's shaft: what a site file says of them, and where that disagrees with itself."""

from typing import Annotated

from pydantic import Field

from helpers.model.site import field_types as of

MOST_RELIEFS = 8  # storeys with a relief damper: each is tried stuck shut and stuck open


class Relief(of.SiteTable):
    """A relief damper from the stair to outdoors: shut up to `opens_pa`, fully open from `full_pa`; areas of all `count` at this storey."""

    level: of.Level
    opens_pa: of.Rise
    full_pa: of.Rise
    area_m2: of.OpenArea
    leak_area_m2: of.Area = 0.0
    count: Annotated[int, Field(ge=1, le=50)] | None = None


class Stair(of.SiteTable):
    """The pressurised shaft; `friction_area_m2` is the opening that would cost as much pressure as one storey of shaft.
    `heat_surface_m2`: walls, flights and landings of a mean storey, with the film to the air and their effusivity. `more_reliefs`: relief
    dampers at further storeys, beside `relief`."""

    plan_area_m2: of.OpenArea
    friction_area_m2: of.OpenArea
    heat_surface_m2: of.HeatSurface | None = None
    film_w_m2k: of.Film | None = None
    wall_effusivity: of.Effusivity | None = None
    relief: Relief | None = None
    more_reliefs: Annotated[tuple[Relief, ...], Field(strict=False)] = ()

    @property
    def reliefs(self):
        """All relief dampers, that of `relief` first; none: ()."""
        return (*(() if self.relief is None else (self.relief,)), *self.more_reliefs)


class Lift(of.SiteTable):
    """The lift shaft, with the vent at its top."""

    plan_area_m2: of.OpenArea
    friction_area_m2: of.OpenArea
    vent_area_m2: of.Area = 0.0


def relief_gives_way_gradually(draft):
    """Each damper is fully open at a higher pressure than it starts to open at; those beside the first stand on storeys of their own."""
    levels = []
    for place, relief in reliefs_told(draft):
        if relief.full_pa <= relief.opens_pa:
            yield (*place, "full"), f"must be above opens, {relief.opens_pa:g} Pa; got {relief.full_pa:g} Pa"
        if relief.level in levels:
            yield (
                (*place, "level"),
                f"must be a storey without another relief damper (count: so many alike there); got {relief.level}",
            )
        levels.append(relief.level)
    stair = draft.sections.get("stair")
    if stair is None or not stair.more_reliefs:
        return
    if stair.relief is None:
        yield ("stair", "more_reliefs"), "belong beside a [stair.relief], which is missing: the first damper stands there"
    if len(stair.more_reliefs) > MOST_RELIEFS - 1:
        yield ("stair", "more_reliefs"), f"must be {MOST_RELIEFS - 1} at the most; got {len(stair.more_reliefs)}"


def reliefs_told(draft):
    """(place, relief damper) of all of them."""
    stair = draft.sections.get("stair")
    if stair is None:
        return []
    first = [] if stair.relief is None else [(("stair", "relief"), stair.relief)]
    return first + [(("stair", "more_reliefs", number), relief) for number, relief in enumerate(stair.more_reliefs)]


def other_stair_doors_are_there(draft):
    """Further kinds of stair doors stand beside a first, are described, and open as it does."""
    known, doors = ", ".join(map(repr, sorted(draft.door_names))), dict(draft.items("doors"))
    for key, storey in draft.items("storeys"):
        place, first = ("storeys", key, "other_stair_doors"), storey.stair_door
        if storey.other_stair_doors and not (first and storey.stair_door_count):
            yield place, f"belong beside a stair_door; storey {storey.level} has none: name one of the kinds there"
        for name in storey.other_stair_doors:
            if draft.door_names and name not in draft.door_names:
                yield place, f"must be doors described under [doors] ({known}); got {name!r}"
            elif name == first:
                yield place, f"must be other kinds than stair_door, of which stair_door_count says how many; got {name!r}"
            elif doors.keys() >= {name, first} and _way(doors[name]) != _way(doors[first]):
                ways = " and ".join(f"{door!r} {_way(doors[door])}" for door in (first, name))
                yield place, f"must open and latch as the storey's stair_door: they are judged as one at the worst of them; got {ways}"


def _way(door):
    return f"{door.opens}, {'with' if door.has_latch else 'without'} a latch"
