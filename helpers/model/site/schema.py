"""What a site file says, as models: SI floats with the unit in the name. In the file the same keys stand without the unit."""

from itertools import zip_longest
from typing import Annotated, ClassVar, Literal

from pydantic import Field, ValidationError, field_validator, model_validator

from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.formulas.leakage import DISCHARGE_COEFFICIENT, REFERENCE_PA, WALL_LEAKAGE_RATIOS
from helpers.model.site.checks import STAIR_CHECKS, Draft, disagreements
from helpers.model.site.errors import Mistake, SiteFileError, mistakes_of
from helpers.model.site.field_types import (
    STANDARD_NAMES,
    AccuracyOfSpan,
    ActionName,
    AirflowClass,
    Altitude,
    Area,
    Bearing,
    Bore,
    CoefficientTable,
    ConverterBits,
    CurveDensity,
    Delay,
    DischargeCoefficient,
    Efficiency,
    Effusivity,
    Exponent,
    Film,
    Flow,
    Force,
    FourAreas,
    FourBearings,
    Gain,
    HeatSurface,
    Indoor,
    Inertia,
    Length,
    Level,
    Levels,
    Margin,
    MastHeight,
    OpenArea,
    Outdoor,
    Pressure,
    Rise,
    RuleName,
    Share,
    ShareOrThree,
    SignalName,
    Speed,
    Step,
    TerrainName,
    Text,
    Tightness,
    Time,
    TubeLength,
    Weights,
    WindSpeed,
    one_way,
    split_total,
)
from helpers.model.site.quantities import OneOf, Quantity, SiteTable


class Storey(SiteTable):
    """One storey; `stair_outside_wall_m2` is part of `stair_wall_m2`, and no `wall_tightness` means that of the site's leakage.
    `drawing_name` is what the drawings call it, `exit_faces_deg` where its final exit looks to."""

    level: Level
    drawing_name: Text | None = None
    height_m: Length
    floor_area_m2: OpenArea
    facade_m2: FourAreas
    wall_tightness: Tightness | None = None
    stair_wall_m2: Area
    stair_outside_wall_m2: Area = 0.0
    lift_shaft_wall_m2: Area = 0.0
    stair_door: Text | None = None
    stair_door_count: Annotated[int, Field(ge=0, le=20)] = 1
    final_exit_door: Text | None = None
    exit_faces_deg: Bearing | None = None
    lobby: bool = False
    lobby_door: Text | None = None
    lift_door: Text | None = None
    lift_doors: Annotated[int, Field(ge=0, le=20)] = 0
    extra_leak_m2: Area = 0.0

    _split = field_validator("facade_m2", mode="before")(split_total)

    @property
    def words(self):
        """The level, and beside it what the drawings call it."""
        return f"{self.level}" if self.drawing_name is None else f"{self.level} (drawings: {self.drawing_name})"


class Door(SiteTable):
    """A kind of door. Without closer, handle and force limit it is not worked by hand (a lift landing door): no force is checked.

    `opens` tells whether the pressurised side's pressure must be overcome or pushes the leaf open. `closing_share` is the part of
    `closer_force_n` that a closer gives back when it shuts the leaf; `latch_force_n` opens the latch at the handle, fan off: a door
    that states it has a latch."""

    width_m: Length
    height_m: Length
    leak_area_m2: Area
    open_area_m2: OpenArea | None = None
    opens: Literal["against pressure", "with pressure"] = "against pressure"
    closer_force_n: Force | None = None
    handle_to_edge_m: Length | None = None
    force_limit_n: Force | None = None
    minimum_dp_pa: Rise | None = None
    closing_share: ShareOrThree | None = None
    latch_force_n: Force | None = None

    _way = field_validator("opens", mode="before")(one_way)

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
    def flow_area_m2(self):
        """Free area of the open door [m2]: the leaf's, where the file states no other."""
        return self.width_m * self.height_m if self.open_area_m2 is None else self.open_area_m2


class Leakage(SiteTable):
    """How tight the building is, in the words of the edition's table, and how its leaks obey the pressure. `door_exponent`
    is that of the gaps of shut doors; an open doorway is an orifice, 0.5, whatever stands here."""

    edition: Annotated[str, OneOf(tuple(WALL_LEAKAGE_RATIOS))]
    exterior_wall: Tightness = "average"
    stair_wall: Tightness = "average"
    lift_shaft_wall: Tightness = "average"
    floor: Tightness = "average"
    discharge_coefficient: DischargeCoefficient = DISCHARGE_COEFFICIENT
    wall_exponent: Exponent = 0.5
    door_exponent: Exponent = 0.5
    reference_pa: Annotated[float, Quantity("pressure", "75 Pa", low=0, high=1000, open_low=True)] = REFERENCE_PA


class Relief(SiteTable):
    """A relief damper from the stair to outdoors: shut up to `opens_pa`, fully open from `full_pa`."""

    level: Level
    opens_pa: Rise
    full_pa: Rise
    area_m2: OpenArea
    leak_area_m2: Area = 0.0


class Stair(SiteTable):
    """The pressurised shaft; `friction_area_m2` is the opening that would cost as much pressure as one storey of shaft.
    `heat_surface_m2`: walls, flights and landings of a mean storey, with the film to the air and their effusivity."""

    plan_area_m2: OpenArea
    friction_area_m2: OpenArea
    heat_surface_m2: HeatSurface | None = None
    film_w_m2k: Film | None = None
    wall_effusivity: Effusivity | None = None
    relief: Relief | None = None


class Lift(SiteTable):
    """The lift shaft, with the vent at its top."""

    plan_area_m2: OpenArea
    friction_area_m2: OpenArea
    vent_area_m2: Area = 0.0


class Supply(SiteTable):
    """Where the fan's air enters the stair, and which share of it."""

    level: Level
    share: Share


class Fan(SiteTable):
    """The fan at its reference speed, its duct, motor and drive.

    `ramp_s` from standstill to the reference speed, `ramp_down_s` back. `inertia_kg_m2` of wheel, shaft and motor, at the motor's speed.
    `smoke_lowest_speed_hz` and `smoke_highest_speed_hz` stand for the drive's own limits in smoke control.
    """

    effect: Literal["supply", "exhaust"] = "supply"
    flows_m3_s: Annotated[tuple[Flow, ...], Field(strict=False, min_length=2)]
    pressures_pa: Annotated[tuple[Rise, ...], Field(strict=False, min_length=2)]
    reference_speed_hz: Speed
    lowest_speed_hz: Speed
    highest_speed_hz: Speed
    duct_loss_pa: Rise
    duct_loss_flow_m3_s: Annotated[float, Quantity("flow", "4 m3/s", low=0, high=1e5, open_low=True)]
    efficiency: Efficiency
    motor_efficiency: Efficiency
    drive_efficiency: Efficiency
    motor_poles: Annotated[int, Field(ge=2, le=24, multiple_of=2)]
    motor_power_w: Annotated[float, Quantity("power", "5.5 kW", low=0, high=1e8, open_low=True)]
    ramp_s: Time
    ramp_down_s: Step | None = None
    inertia_kg_m2: Inertia | None = None
    brake: Literal["none", "resistor"] | None = None
    smoke_lowest_speed_hz: Speed | None = None
    smoke_highest_speed_hz: Speed | None = None
    curve_density_kg_m3: CurveDensity | None = None

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


class Temperatures(SiteTable):
    """Air temperatures indoors; a space that is not named is as warm as the floors."""

    floor_c: Indoor
    stair_c: Indoor = Field(default_factory=lambda known: known["floor_c"])
    lift_c: Indoor = Field(default_factory=lambda known: known["floor_c"])
    lobby_c: Indoor = Field(default_factory=lambda known: known["floor_c"])


class Weather(SiteTable):
    """One state of the weather; `stair_c` replaces the stair's temperature in it."""

    outdoor_c: Outdoor
    wind_speed_m_s: WindSpeed = 0.0
    wind_from_deg: Bearing = 0.0
    stair_c: Indoor | None = None


class Transmitter(SiteTable):
    """A pressure transmitter between the stair and its reference, and how the drive reads it.

    `response_s` is its own time constant, `damping_s` the one set at it, `filter_s` that of the input. Tubes: the longer of the two."""

    name: Text
    level: Level
    reference: Literal["floor", "lobby", "outdoors"] = "floor"
    range_low_pa: Pressure
    range_high_pa: Pressure
    signal: SignalName
    accuracy_percent_span: AccuracyOfSpan
    converter_bits: ConverterBits = 12
    filter_s: Time = 0.0
    response_s: Delay | None = None
    damping_s: Delay | None = None
    tube_length_m: TubeLength | None = None
    tube_bore_m: Bore | None = None


class LowDemand(SiteTable):
    """Stop below a speed for a time, restart on a pressure deficit for a time; never in the fire mode."""

    stop_below_hz: Speed
    stop_after_s: Time
    restart_deficit_pa: Rise
    restart_after_s: Time


class Control(SiteTable):
    """The loop: which reading runs the fan, to which set point, and how hard.

    `gain` is per cent of full fan speed per per cent of the transmitter span. `sample_s` is the cycle of the block that calculates,
    `input_scan_s` how often the inputs are read where that is another one, `bus_delay_s` how old a reading is that comes by bus or radio.
    `integral_stops`: whether the integral stops growing only at the ends of the output, or also while the drive's ramp holds the fan back.
    """

    rule: RuleName
    weights: Weights | None = None
    set_point_pa: Pressure
    action: ActionName = "reverse"
    gain: Gain
    integral_time_s: Step
    sample_s: Step
    fire_mode: bool
    low_demand: LowDemand | None = None
    input_scan_s: Delay | None = None
    bus_delay_s: Delay | None = None
    integral_stops: Literal["ends", "ends and ramp"] | None = None


class Standby(SiteTable):
    """Where the fan's power comes from when the mains fail: until that is noticed, the source runs, and the load is on it."""

    source: Literal["none", "generator", "second supply", "battery"]
    detection_s: Delay | None = None
    start_s: Delay | None = None
    transfer_s: Delay | None = None


class DesignBasis(SiteTable):
    """What the design takes as open at once (levels), and what it adds to the calculated flow for leaks that nobody knows.

    `leakage_margin` is added to the leaks of the building, `duct_leak_margin` to the fan's flow for its duct: 0.5 is half as much again.
    """

    open_doors: Levels = ()
    open_exits: Levels = ()
    leakage_margin: Margin | None = None
    duct_leak_margin: Margin | None = None
    source: str = ""


class WholeSite(SiteTable):
    """What a whole site of any kind begins with, and what it does: it agrees with itself, and gives copies with changes that do too."""

    checks: ClassVar[tuple] = ()  # of `checks`: where parts of this kind of site may disagree
    called: ClassVar[str] = "site"  # in refusals

    name: Text
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
    standard: Annotated[str, OneOf(STANDARD_NAMES)]
    airflow_class: AirflowClass | None = None
    sprinklers: bool | None = None
    building_code_adopted: bool | None = None
    ceiling_height_m: Length | None = None
    altitude_m: Altitude
    terrain: TerrainName
    wind_reference_height_m: MastHeight = 10.0
    faces_deg: FourBearings = (0.0, 90.0, 180.0, 270.0)
    pressure_coefficients: CoefficientTable
    storeys: Annotated[list[Storey], Field(min_length=1)]
    doors: Annotated[dict[str, Door], Field(min_length=1)]
    leakage: Leakage
    stair: Stair
    lift: Lift | None = None
    supplies: Annotated[list[Supply], Field(min_length=1)]
    fan: Fan
    temperatures: Temperatures
    weather: dict[str, Weather]
    transmitters: Annotated[list[Transmitter], Field(min_length=1)]
    control: Control
    standby: Standby | None = None
    design: DesignBasis | None = None


def _changed(old, change):
    """The old value with a change laid over it."""
    if isinstance(change, dict) and isinstance(old, SiteTable):
        return _changed({name: getattr(old, name) for name in type(old).model_fields}, change)
    if isinstance(change, dict) and isinstance(old, dict):
        return old | {key: _changed(old.get(key), value) for key, value in change.items()}
    if isinstance(change, list) and isinstance(old, list):
        return [_changed(before, after) for before, after in zip_longest(old[: len(change)], change)]
    return change
