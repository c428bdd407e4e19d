"""What a site file says, as models: SI floats with the unit in the name. In the file the same keys stand without the unit."""

import re
from itertools import zip_longest
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field, ValidationError, field_validator, model_validator

from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.formulas.doors import pressure_tolerated, relatching_pressure
from helpers.formulas.leakage import DISCHARGE_COEFFICIENT, REFERENCE_PA, WALL_LEAKAGE_RATIOS
from helpers.model.site import field_types as of
from helpers.model.site.checks import STAIR_CHECKS, Draft, disagreements
from helpers.model.site.errors import Mistake, SiteFileError, mistakes_of
from helpers.model.site.release import Release
from helpers.model.site.reserve import SecondFan, Standby
from helpers.model.site.second_shaft import SecondShaft
from helpers.model.site.stair import Lift, Stair
from helpers.model.site.supply import Riser, Supply


class Storey(of.SiteTable):
    """One storey; `stair_outside_wall_m2` is part of `stair_wall_m2`, and no `wall_tightness` means that of the site's leakage.
    `drawing_name` is what the drawings call it, `exit_faces_deg` where its final exit looks to. `other_stair_doors`: stair doors of other
    kinds than `stair_door` beside it, each with its number. `lobby_vent_m2`: free area from the lobby to outdoors, always open, which looks
    to `lobby_vent_faces_deg`."""

    level: of.Level
    drawing_name: of.Text | None = None
    height_m: of.Length
    floor_area_m2: of.OpenArea
    facade_m2: of.FourAreas
    wall_tightness: of.Tightness | None = None
    stair_wall_m2: of.Area
    stair_outside_wall_m2: of.Area = 0.0
    lift_shaft_wall_m2: of.Area = 0.0
    stair_door: of.Text | None = None
    stair_door_count: Annotated[int, Field(ge=0, le=20)] = 1
    other_stair_doors: of.CountsOfDoors = of.Counts()
    final_exit_door: of.Text | None = None
    exit_faces_deg: of.Bearing | None = None
    lobby: bool = False
    lobby_door: of.Text | None = None
    lobby_vent_m2: of.Area = 0.0
    lobby_vent_faces_deg: of.Bearing | None = None
    lift_door: of.Text | None = None
    lift_doors: Annotated[int, Field(ge=0, le=20)] = 0
    extra_leak_m2: of.Area = 0.0

    _split = field_validator("facade_m2", mode="before")(of.split_total)

    @property
    def stair_doors(self):
        """{kind: how many} of its stair doors, that of `stair_door` first; {} where there is none."""
        first = {self.stair_door: self.stair_door_count} if self.stair_door and self.stair_door_count else {}
        return first | self.other_stair_doors

    @property
    def words(self):
        """The level, and beside it what the drawings call it."""
        return f"{self.level}" if self.drawing_name is None else f"{self.level} (drawings: {self.drawing_name})"


class Door(of.SiteTable):
    """A kind of door. Without closer, handle and force limit it is not worked by hand (a lift landing door): no force is checked.

    `opens` tells whether the pressurised side's pressure must be overcome or pushes the leaf open. `closing_share` is the part of
    `closer_force_n` that a closer gives back when it shuts the leaf; `latch_force_n` opens the latch at the handle, fan off: a door
    that states it has a latch."""

    width_m: of.Length
    height_m: of.Length
    leak_area_m2: of.Area
    open_area_m2: of.OpenArea | None = None
    opens: Literal["against pressure", "with pressure"] = "against pressure"
    closer_force_n: of.Force | None = None
    handle_to_edge_m: of.Length | None = None
    force_limit_n: of.Force | None = None
    minimum_dp_pa: of.Rise | None = None
    closing_share: of.ShareOrThree | None = None
    latch_force_n: of.Force | None = None

    _way = field_validator("opens", mode="before")(of.one_way)

    @property
    def has_latch(self):
        """Whether a latch holds the shut leaf; without one closer and pressure alone do."""
        return self.latch_force_n is not None

    @property
    def worked_by_hand(self):
        """Whether somebody has to push or pull it, so that a force limit holds."""
        return self.force_limit_n is not None

    @property
    def leaf(self):
        """Width, height, closer and handle, as the formulas of doors take them; of a door worked by hand."""
        return self.width_m, self.height_m, self.closer_force_n, self.handle_to_edge_m

    @property
    def bears_pa(self):
        """Pressure [Pa] at which it asks its force limit of a hand or, where it opens with the pressure, takes its closer's whole force
        away; infinite where nobody works it by hand. To tell which of several doors bears less: the limits are those of a window."""
        if not self.worked_by_hand:
            return np.inf
        if self.opens == "with pressure":
            return float(relatching_pressure(self.width_m, self.height_m, self.closer_force_n, 1.0, self.handle_to_edge_m))
        return float(pressure_tolerated(self.force_limit_n, *self.leaf))

    @property
    def flow_area_m2(self):
        """Free area of the open door [m2]: the leaf's, where the file states no other."""
        return self.width_m * self.height_m if self.open_area_m2 is None else self.open_area_m2


DOUBTED = "doubted "  # how `factors_from` begins where the fit is not to be believed


class Leakage(of.SiteTable):
    """How tight the building is, in the words of the edition's table, and how its leaks obey the pressure. `door_exponent`
    is that of the gaps of shut doors; an open doorway is an orifice, 0.5, whatever stands here. The three factors: by which there is more
    of these leaks than tables and doors say, as a test day found (`factors_from`)."""

    edition: Annotated[str, of.OneOf(tuple(WALL_LEAKAGE_RATIOS))]
    exterior_wall: of.Tightness = "average"
    stair_wall: of.Tightness = "average"
    lift_shaft_wall: of.Tightness = "average"
    floor: of.Tightness = "average"
    discharge_coefficient: of.DischargeCoefficient = DISCHARGE_COEFFICIENT
    wall_exponent: of.Exponent = 0.5
    door_exponent: of.Exponent = 0.5
    reference_pa: Annotated[float, of.Quantity("pressure", "75 Pa", low=0, high=1000, open_low=True)] = REFERENCE_PA
    stair_side_factor: of.LeakFactor = 1.0
    facade_factor: of.LeakFactor = 1.0
    between_storeys_factor: of.LeakFactor = 1.0
    factors_from: of.Text | None = None

    @property
    def doubted(self):
        """Whether the fit to the day that these factors are of is not to be believed."""
        return (self.factors_from or "").startswith(DOUBTED)


class Fan(of.SiteTable):
    """The fan at its reference speed, its duct, motor and drive.

    `ramp_s` from standstill to the reference speed, `ramp_down_s` back. `inertia_kg_m2` of wheel, shaft and motor, at the motor's speed.
    `smoke_lowest_speed_hz` and `smoke_highest_speed_hz` stand for the drive's own limits in smoke control. The brake resistor's
    plate: `brake_power_w` for ever, `brake_short_power_w` for `brake_short_time_s`.
    """

    effect: Literal["supply", "exhaust"] = "supply"
    flows_m3_s: Annotated[tuple[of.Flow, ...], Field(strict=False, min_length=2)]
    pressures_pa: Annotated[tuple[of.Rise, ...], Field(strict=False, min_length=2)]
    reference_speed_hz: of.Speed
    lowest_speed_hz: of.Speed
    highest_speed_hz: of.Speed
    duct_loss_pa: of.Rise
    duct_loss_flow_m3_s: of.DuctFlow
    efficiency: of.Efficiency
    motor_efficiency: of.Efficiency
    drive_efficiency: of.Efficiency
    motor_poles: Annotated[int, Field(ge=2, le=24, multiple_of=2)]
    motor_power_w: of.PlatePower
    ramp_s: of.Time
    ramp_down_s: of.Step | None = None
    inertia_kg_m2: of.Inertia | None = None
    brake: Literal["none", "resistor"] | None = None
    brake_power_w: of.PlatePower | None = None
    brake_short_power_w: of.PlatePower | None = None
    brake_short_time_s: of.Step | None = None
    smoke_lowest_speed_hz: of.Speed | None = None
    smoke_highest_speed_hz: of.Speed | None = None
    curve_density_kg_m3: of.CurveDensity | None = None

    @property
    def slows_s(self):
        """Ramp from the reference speed to standstill [s]: `ramp_down_s`, or as `ramp_s` where the file says nothing."""
        return self.ramp_s if self.ramp_down_s is None else self.ramp_down_s

    @property
    def standard_pressures_pa(self):
        """The curve's pressures [Pa] with standard air: those of the file, brought from the density that the curve stands for."""
        density = STANDARD_DENSITY_KG_M3 if self.curve_density_kg_m3 is None else self.curve_density_kg_m3
        return tuple(pressure * (STANDARD_DENSITY_KG_M3 / density) for pressure in self.pressures_pa)

    def speed_limits_hz(self, smoke_control):
        """Lowest and highest speed [Hz] that the loop may ask for: the drive's own, in smoke control those of smoke control if stated."""
        low, high = (self.smoke_lowest_speed_hz, self.smoke_highest_speed_hz) if smoke_control else (None, None)
        return self.lowest_speed_hz if low is None else low, self.highest_speed_hz if high is None else high

    @property
    def sign(self):
        """+1 where more speed raises the pressure indoors, -1 where it lowers it."""
        return 1.0 if self.effect == "supply" else -1.0


class Temperatures(of.SiteTable):
    """Air temperatures indoors; a space that is not named is as warm as the floors."""

    floor_c: of.Indoor
    stair_c: of.Indoor = Field(default_factory=lambda known: known["floor_c"])
    lift_c: of.Indoor = Field(default_factory=lambda known: known["floor_c"])
    lobby_c: of.Indoor = Field(default_factory=lambda known: known["floor_c"])


class Weather(of.SiteTable):
    """One state of the weather; `stair_c` replaces the stair's temperature in it."""

    outdoor_c: of.Outdoor
    wind_speed_m_s: of.WindSpeed = 0.0
    wind_from_deg: of.Bearing = 0.0
    stair_c: of.Indoor | None = None


def tag_as_now(words):
    """Words of an earlier file or record with the tags as they are now: PT-1, or PT-1 low, is PDT-1.

    >>> tag_as_now("display of PT-2 high against PT-1")
    'display of PDT-2 against PDT-1'
    """
    return re.sub(r"\bPT-(\d+)\b(?: (?:low|middle|high)\b)?", r"PDT-\1", words)


class Transmitter(of.SiteTable):
    """A pressure transmitter between the stair and its reference, and how the drive reads it.

    `response_s` is its own time constant, `damping_s` the one set at it, `filter_s` that of the input. Tubes: the longer of the two."""

    name: of.Text
    level: of.Level
    reference: Literal["floor", "lobby", "outdoors"] = "floor"
    range_low_pa: of.Pressure
    range_high_pa: of.Pressure
    signal: of.SignalName
    accuracy_percent_span: of.AccuracyOfSpan
    converter_bits: of.ConverterBits = 12
    filter_s: of.Time = 0.0
    response_s: of.Delay | None = None
    damping_s: of.Delay | None = None
    tube_length_m: of.TubeLength | None = None
    tube_bore_m: of.Bore | None = None

    @property
    def tag(self):
        """Its name with the storey of its tubes: what a reader needs to find it."""
        return f"{self.name} (storey {self.level})"


class LowDemand(of.SiteTable):
    """Stop below a speed for a time, restart on a pressure deficit for a time; never in smoke control."""

    stop_below_hz: of.Speed
    stop_after_s: of.Time
    restart_deficit_pa: of.Rise
    restart_after_s: of.Time


class Control(of.SiteTable):
    """The loop: which reading runs the fan, to which set point, and how hard.

    `gain` is per cent of full fan speed per per cent of the transmitter span. `sample_s` is the cycle of the block that calculates,
    `input_scan_s` how often the inputs are read where that is another one, `bus_delay_s` how old a reading is that comes by bus or radio.
    `integral_stops`: whether the integral stops growing only at the ends of the output, or also while the drive's ramp holds the fan back.
    """

    rule: of.RuleName
    weights: of.Weights | None = None
    set_point_pa: of.Pressure
    action: of.ActionName = "reverse"
    gain: of.Gain
    integral_time_s: of.Step
    sample_s: of.Step
    fire_mode: bool
    low_demand: LowDemand | None = None
    input_scan_s: of.Delay | None = None
    bus_delay_s: of.Delay | None = None
    integral_stops: Literal["ends", "ends and ramp"] | None = None


class DesignBasis(of.SiteTable):
    """What the design takes as open at once (levels), and what it adds to the calculated flow for leaks that nobody knows.

    `leakage_margin` is added to the leaks of the building, `duct_leak_margin` to the fan's flow for its duct: 0.5 is half as much again.
    `fire_heat_w`, `fire_gas_c`: heat that a fire sends to the open door, and its gas there; `smoke_held_by`: which of them counts."""

    open_doors: of.Levels = ()
    open_exits: of.Levels = ()
    leakage_margin: of.Margin | None = None
    duct_leak_margin: of.Margin | None = None
    fire_heat_w: of.FireHeat | None = None
    fire_gas_c: of.FireGas | None = None
    smoke_held_by: Literal["heat", "gas", "both"] | None = None
    source: str = ""


class WholeSite(of.SiteTable):
    """What a whole site of any kind begins with, and what it does: it agrees with itself, and gives copies with changes that do too."""

    checks: ClassVar[tuple] = ()  # of `checks`: where parts of this kind of site may disagree
    called: ClassVar[str] = "site"  # in refusals

    name: of.Text
    note: str = ""
    invented: bool

    @model_validator(mode="after")
    def _agrees_with_itself(self):
        told = disagreements(Draft.of(self), self.checks)
        if told:
            raise SiteFileError(self.name, [Mistake(place, sentence) for place, sentence in told])
        return self

    def with_changes(self, **changes):
        """A copy with some figures changed; a table is changed key by key, a list item by item, all else is replaced.

        Raises SiteFileError, as a file with these figures would. Fields go by their Python names:
        `site.with_changes(control={"set_point_pa": 30.0}, transmitters=[{"level": 2}, {"level": 11}])`.
        """
        try:
            return type(self).model_validate(_changed(self, changes))
        except ValidationError as refusal:
            raise SiteFileError(self.name, mistakes_of(refusal.errors(), type(self))) from None


class Site(WholeSite):
    """A whole stair site. Storeys run bottom up; the four faces look to `faces_deg` (0 north, 90 east)."""

    checks: ClassVar[tuple] = STAIR_CHECKS

    kind: Literal["stair"] = "stair"
    standard: Annotated[str, of.OneOf(of.STANDARD_NAMES)]
    second_standard: Annotated[str, of.OneOf(of.STANDARD_NAMES)] | None = None
    airflow_class: of.AirflowClass | None = None
    evacuation: of.Evacuation | None = None
    sprinklers: bool | None = None
    building_code_adopted: bool | None = None
    ceiling_height_m: of.Length | None = None
    altitude_m: of.Altitude
    terrain: of.TerrainName
    wind_reference_height_m: of.MastHeight = 10.0
    faces_deg: of.FourBearings = (0.0, 90.0, 180.0, 270.0)
    pressure_coefficients: of.CoefficientTable
    storeys: Annotated[list[Storey], Field(min_length=1)]
    doors: Annotated[dict[str, Door], Field(min_length=1)]
    leakage: Leakage
    stair: Stair
    lift: Lift | None = None
    release: Release | None = None
    supplies: Annotated[list[Supply], Field(min_length=1)]
    riser: Riser | None = None
    fan: Fan
    temperatures: Temperatures
    weather: dict[str, Weather]
    transmitters: Annotated[list[Transmitter], Field(min_length=1)]
    control: Control
    standby: Standby | None = None
    second_fan: SecondFan | None = None
    second_shaft: SecondShaft | None = None
    design: DesignBasis | None = None

    def opening_stair_door(self, storey):
        """Name of the kind of stair door that stands open on a `Storey` where one does: of several the one with the larger free area, which
        takes most of the air; of equals the first. None where it has none."""
        return max(storey.stair_doors, key=lambda name: self.doors[name].flow_area_m2, default=None)

    def hardest_stair_door(self, storey):
        """Name of the kind of stair door of a `Storey` that bears the least pressure by its own limit in the file, of equals the first;
        None where it has none. All of a storey's kinds open one way (a check holds that), so that one of them is the hardest for all."""
        return min(storey.stair_doors, key=lambda name: self.doors[name].bears_pa, default=None)

    @property
    def title(self):
        """Its name for the head of a paper; of a site as a test day found it, that it is, and which day: it is not the design."""
        found = self.leakage.factors_from
        return self.name if found is None else f"{self.name}, as fitted to the {found}"

    @property
    def file_title(self):
        """The same, short enough for the name of a file: two days' buildings have two names."""
        found = self.leakage.factors_from
        return self.name if found is None else f"{self.name} fitted {found.rpartition(' ')[2]}"


def _changed(old, change):
    """The old value with a change laid over it."""
    if isinstance(change, dict) and isinstance(old, of.SiteTable):
        return _changed({name: getattr(old, name) for name in type(old).model_fields}, change)
    if isinstance(change, dict) and isinstance(old, dict):
        return old | {key: _changed(old.get(key), value) for key, value in change.items()}
    if isinstance(change, list) and isinstance(old, (list, tuple)):
        return [_changed(before, after) for before, after in zip_longest(old[: len(change)], change)]
    return change
