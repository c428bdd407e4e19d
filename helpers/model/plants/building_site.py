"""The site file of a building whose pressure a relief fan holds."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, field_validator

from helpers.model.plants.site_parts import PressureTransmitter, ShareOfFull, with_effect
from helpers.model.site import checks as of_stairs
from helpers.model.site.quantities import Section
from helpers.model.site.schema import (
    Altitude,
    Area,
    Bearing,
    CoefficientTable,
    Control,
    Fan,
    Flow,
    FourAreas,
    FourBearings,
    Indoor,
    Leakage,
    Length,
    Level,
    MastHeight,
    OpenArea,
    Outdoor,
    TerrainName,
    Tightness,
    WholeSite,
    WindSpeed,
    split_total,
)

__all__ = ["Balance", "BuildingSite", "BuildingStorey", "BuildingTransmitter", "BuildingWeather"]


class BuildingStorey(Section):
    """One storey; no `wall_tightness` means that of the site's leakage.

    `stair_hall_m2` is the opening to the storey above, `door_m2` a large door's free area when it stands open.
    """

    level: Level
    height_m: Length
    floor_area_m2: OpenArea
    facade_m2: FourAreas
    wall_tightness: Tightness | None = None
    extra_leak_m2: Area = 0.0
    stair_hall_m2: Area = 0.0
    door_m2: Area = 0.0
    door_faces_deg: Bearing = 0.0

    _split = field_validator("facade_m2", mode="before")(split_total)


class Balance(Section):
    """A state of the building's other fans: outdoor air they bring and indoor air they take."""

    supply_m3_s: Flow
    exhaust_m3_s: Flow

    @property
    def surplus_m3_s(self):
        """Air that leaks and relief fan have to let out [m3/s]."""
        return self.supply_m3_s - self.exhaust_m3_s


class BuildingWeather(Section):
    """One state of the weather."""

    outdoor_c: Outdoor
    wind_speed_m_s: WindSpeed = 0.0
    wind_from_deg: Bearing = 0.0


class BuildingTransmitter(PressureTransmitter):
    """High side in the air of a storey, low side at an outdoor tube end that looks to `outside_deg` by compass.

    `wind_share` of the wind's pressure on that face gets into the tube end: all of it through a bare hole, less through a shielded head.
    """

    level: Level
    outside_deg: Bearing
    wind_share: ShareOfFull = 1.0


def doors_fit_the_facade(draft):
    """A large door is no larger than the wall it stands in."""
    for key, storey in draft.items("storeys"):
        if storey.door_m2 > sum(storey.facade_m2):
            yield ("storeys", key, "door"), f"must be no more than the facade, {sum(storey.facade_m2):g} m2; got {storey.door_m2:g} m2"


def air_has_a_way_out(draft):
    """The facade leaks: without any leak the surplus of a stopped relief fan would have nowhere to go."""
    walls = [sum(storey.facade_m2) + storey.extra_leak_m2 for _, storey in draft.items("storeys")]
    if draft.whole("storeys") and not sum(walls):
        yield ("storeys",), "leave the air nowhere to go: no facade and no extra_leak on any storey"


def fan_is_on_a_storey(draft):
    """The relief fan draws from a storey that exists."""
    level = draft.sections.get("fan_level")
    if level is not None and draft.levels and level not in draft.levels:
        yield ("fan_level",), f"must be a storey of this site, from {min(draft.levels)} to {max(draft.levels)}; got {level}"


class BuildingSite(WholeSite):
    """A building whose supply fans bring more than its other exhausts take; a relief fan lets the rest out and holds the pressure."""

    checks: ClassVar[tuple] = (
        of_stairs.storeys_in_order,
        of_stairs.places_on_storeys,
        fan_is_on_a_storey,
        doors_fit_the_facade,
        air_has_a_way_out,
        of_stairs.tightness_is_in_the_edition,
        of_stairs.fan_curve_falls,
        of_stairs.drive_can_slow_the_wheel,
        of_stairs.tubes_are_whole,
        with_effect("exhaust", "a relief fan lets air out of the building"),
        of_stairs.weather_is_there,
        of_stairs.names_are_single,
        of_stairs.counts_have_limits,
        of_stairs.ranges_stand_upright,
        of_stairs.set_point_is_measured,
        of_stairs.rule_is_complete,
        of_stairs.low_demand_keeps_out_of_fire,
    )

    kind: Literal["building"]
    altitude_m: Altitude
    terrain: TerrainName
    wind_reference_height_m: MastHeight = 10.0
    faces_deg: FourBearings = (0.0, 90.0, 180.0, 270.0)
    pressure_coefficients: CoefficientTable
    indoor_c: Indoor
    fan_level: Level
    storeys: Annotated[list[BuildingStorey], Field(min_length=1)]
    leakage: Leakage
    balance: Annotated[dict[str, Balance], Field(min_length=1)]
    fan: Fan
    weather: dict[str, BuildingWeather]
    transmitters: Annotated[list[BuildingTransmitter], Field(min_length=1)]
    control: Control
