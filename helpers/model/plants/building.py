"""A building on whose pressure a relief fan works: storeys joined by slabs and an open stair hall, facades in the wind; and its site file.

Space 0 is the indoor air of every storey. Each transmitter's outdoor tube is a space of its own that has one opening, its end at the
facade: no air flows in it, so it takes on the pressure there, and the reading is indoors less that.

What is not modelled: rooms within a storey (laboratories hold their own pressure against the corridor; their doors are open ends here),
wind at the relief fan's outlet, height within a storey, gusts along a tube, the air that the building stores (it fills in seconds).
"""

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field, field_validator

from helpers.formulas import air, leakage
from helpers.formulas.doors import OPEN_DOOR_DISCHARGE_COEFFICIENT
from helpers.model.air import network
from helpers.model.air.laws import FanShare, Inflow, Leak
from helpers.model.air.operating_point import Taps
from helpers.model.air.spaces import Network, Outside, Upward
from helpers.model.air.tower import DOORWAY_EXPONENT, coefficient, facade_leaks
from helpers.model.plants.pressure_plant import PlantSite, PressurePlant, PressureTransmitter, ShareOfFull, with_effect
from helpers.model.site import checks as of_stairs
from helpers.model.site import field_types as of
from helpers.model.site.schema import Control, Fan, Leakage

TUBE_M2 = 1e-4  # of a tube's end; of no consequence, since no air flows in it


class Building(PressurePlant):
    """The air network of a building site, ready to be asked about `BuildingConditions`."""

    # The pressure bends where the fan's damper opens against a building below outdoors: looked up between 20 speeds it would be 0.6 Pa off.
    least_speeds = 60

    def __init__(self, site):
        super().__init__(site)
        storeys = site.storeys
        self.places = [storey.level for storey in storeys]
        self.fan_place = self.places.index(site.fan_level)
        self.rises_m, self.elevation_m = network.rises_m(storeys), network.elevation_m(storeys)
        floors = np.array([storey.floor_area_m2 for storey in storeys])[:, None]
        self.floor_shares = floors / floors.sum()
        numbers = range(1, len(site.transmitters) + 1)
        self.tubes = list(zip(numbers, site.transmitters, strict=True))
        self.taps = Taps(0, np.array([self.places.index(t.level) for t in site.transmitters]), tuple(numbers))
        self.bearings_deg = [*(storey.door_faces_deg for storey in storeys), *(t.outside_deg for t in site.transmitters)]
        self._leaks()

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        site, c = self.site, conditions
        outdoors, indoors = air.density(c.outdoor_c, self.pressure_pa), air.density(c.indoor_c, self.pressure_pa)
        root = np.sqrt(0.5 * (outdoors + indoors))
        winds = network.wind_on_faces(site, c, [*site.faces_deg, *self.bearings_deg], outdoors)
        at_doors, at_tubes = np.split(winds[4:], [len(site.storeys)])
        openings = []
        for leak, wind in zip(self.faces, winds[:4], strict=True):
            openings.append(Outside(0, Leak(leak * root, site.leakage.wall_exponent), wind))
        if len(self.places) > 1:
            lift = air.GRAVITY_M_S2 * (outdoors - indoors) * self.rises_m[:, None]
            openings.append(Upward(0, Leak(self.upward * np.sqrt(indoors), 0.5), lift))
        for i, storey in enumerate(site.storeys):
            if storey.door_m2:
                leak = self.doors[i : i + 1] * c.door_open.T[i : i + 1] * root
                openings.append(Outside(0, Leak(leak, DOORWAY_EXPONENT), at_doors[i, i : i + 1], i, i + 1))
        still = np.zeros((1, len(c)))
        openings.append(Outside(0, Inflow(self.floor_shares * c.surplus_m3_s * indoors), still))
        fan = FanShare(self.curve, 1.0, self.effect, np.asarray(ratio, float)[None, :], indoors[None, :])
        openings.append(Outside(0, fan, still, self.fan_place, self.fan_place + 1))
        for (number, transmitter), wind in zip(self.tubes, at_tubes, strict=True):
            openings.append(Outside(number, Leak(self.tube_end * root, 0.5), transmitter.wind_share * wind))
        return Network(1 + len(self.tubes), len(self.places), len(c), openings)

    def _leaks(self):
        """Leakage coefficients [storeys, 1], before any weather."""
        site, given = self.site, self.site.leakage
        self.faces = facade_leaks(site)
        areas = [storey.floor_area_m2 for storey in site.storeys[1:]]
        slabs = given.between_storeys_factor * leakage.wall_leakage_area(areas, "floor", given.floor, given.edition) if areas else []
        halls = [storey.stair_hall_m2 for storey in site.storeys[:-1]]
        self.upward = coefficient(site, np.add(slabs, halls), 0.5) if areas else np.zeros((0, 1))
        opened = OPEN_DOOR_DISCHARGE_COEFFICIENT / given.discharge_coefficient
        self.doors = coefficient(site, [storey.door_m2 * opened for storey in site.storeys], DOORWAY_EXPONENT)
        self.tube_end = coefficient(site, [TUBE_M2] * len(site.storeys), 0.5)


class BuildingStorey(of.SiteTable):
    """One storey; no `wall_tightness` means that of the site's leakage.

    `stair_hall_m2` is the opening to the storey above, `door_m2` a large door's free area when it stands open.
    """

    level: of.Level
    height_m: of.Length
    floor_area_m2: of.OpenArea
    facade_m2: of.FourAreas
    wall_tightness: of.Tightness | None = None
    extra_leak_m2: of.Area = 0.0
    stair_hall_m2: of.Area = 0.0
    door_m2: of.Area = 0.0
    door_faces_deg: of.Bearing = 0.0

    _split = field_validator("facade_m2", mode="before")(of.split_total)


class Balance(of.SiteTable):
    """A state of the building's other fans: outdoor air they bring and indoor air they take."""

    supply_m3_s: of.Flow
    exhaust_m3_s: of.Flow

    @property
    def surplus_m3_s(self):
        """Air that leaks and relief fan have to let out [m3/s]."""
        return self.supply_m3_s - self.exhaust_m3_s


class BuildingWeather(of.SiteTable):
    """One state of the weather."""

    outdoor_c: of.Outdoor
    wind_speed_m_s: of.WindSpeed = 0.0
    wind_from_deg: of.Bearing = 0.0


class BuildingTransmitter(PressureTransmitter):
    """High side in the air of a storey, low side at an outdoor tube end that looks to `outside_deg` by compass.

    `wind_share` of the wind's pressure on that face gets into the tube end: all of it through a bare hole, less through a shielded head.
    """

    level: of.Level
    outside_deg: of.Bearing
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


class BuildingSite(PlantSite):
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
        with_effect("exhaust", "a relief fan draws air out of the building"),
        of_stairs.weather_is_there,
        of_stairs.names_are_single,
        of_stairs.counts_have_limits,
        of_stairs.ranges_stand_upright,
        of_stairs.set_point_is_measured,
        of_stairs.rule_is_complete,
        of_stairs.low_demand_keeps_out_of_fire,
    )

    kind: Literal["building"]
    altitude_m: of.Altitude
    terrain: of.TerrainName
    wind_reference_height_m: of.MastHeight = 10.0
    faces_deg: of.FourBearings = (0.0, 90.0, 180.0, 270.0)
    pressure_coefficients: of.CoefficientTable
    indoor_c: of.Indoor
    fan_level: of.Level
    storeys: Annotated[list[BuildingStorey], Field(min_length=1)]
    leakage: Leakage
    balance: Annotated[dict[str, Balance], Field(min_length=1)]
    fan: Fan
    weather: dict[str, BuildingWeather]
    transmitters: Annotated[list[BuildingTransmitter], Field(min_length=1)]
    control: Control
