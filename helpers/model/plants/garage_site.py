"""The site file of a garage whose exhaust fan follows the gas of the cars: readings in ppm, no pressure anywhere."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.plants.site_parts import Concentration, Ratio, one_share_each, place_is_there, with_effect
from helpers.model.site import checks as of_stairs
from helpers.model.site.quantities import Quantity, Section
from helpers.model.site.schema import (
    ActionName,
    Altitude,
    ConverterBits,
    Fan,
    Flow,
    Indoor,
    Length,
    OpenArea,
    RuleName,
    Share,
    SignalName,
    Speed,
    Step,
    Text,
    Time,
    Weights,
    WholeSite,
)

__all__ = ["Cars", "GarageSite", "GasControl", "GasLowDemand", "GasTransmitter", "Traffic", "Zone"]


class Zone(Section):
    """A part of the garage whose air is well mixed. `draught_m3_s` comes in from outdoors whether the fan runs or not, `exchange_m3_s`
    goes to and fro between this zone and the next one of the list."""

    name: Text
    floor_area_m2: OpenArea
    height_m: Length
    exhaust_share: Share
    draught_m3_s: Flow = 0.0
    exchange_m3_s: Flow = 0.0

    @property
    def volume_m3(self):
        """Air in the zone [m3]."""
        return self.floor_area_m2 * self.height_m


class Cars(Section):
    """What one car with its engine running gives off: gas by volume."""

    emission_m3_s: Annotated[float, Quantity("flow", "0.05 l/s", low=0, high=1, open_low=True)]


class Traffic(Section):
    """A state of traffic: how many cars have their engine running in each zone, on average."""

    running: Annotated[tuple[Ratio, ...], Field(strict=False, min_length=1)]


class GasTransmitter(Section):
    """A gas transmitter of a zone; `response_s` is the time constant of its cell (0.43 of the time to 90 % of a step)."""

    name: Text
    zone: Text
    range_low_ppm: Concentration = 0.0
    range_high_ppm: Concentration
    signal: SignalName
    accuracy_percent_span: Annotated[float, Quantity("percent", "3 %", low=0, high=100)]
    converter_bits: ConverterBits = 12
    filter_s: Time = 0.0
    response_s: Time = 0.0


class GasLowDemand(Section):
    """Stop below a speed for a time, start again on a reading above the set point by `restart_above_ppm` for a time."""

    stop_below_hz: Speed
    stop_after_s: Time
    restart_above_ppm: Concentration
    restart_after_s: Time


class GasControl(Section):
    """The loop: which reading runs the fan, to which set point, and how hard (per cent of full speed per per cent of span)."""

    rule: RuleName
    weights: Weights | None = None
    set_point_ppm: Concentration
    action: ActionName = "direct"
    gain: Annotated[float, Quantity("ratio", "8", low=0, high=1000, open_low=True)]
    integral_time_s: Step
    sample_s: Step
    fire_mode: bool
    low_demand: GasLowDemand | None = None


def gas_ranges_stand_upright(draft):
    """A range's top is above its bottom."""
    for key, each in draft.items("transmitters"):
        if each.range_high_ppm <= each.range_low_ppm:
            yield (
                ("transmitters", key, "range_high"),
                f"must be above range_low, {each.range_low_ppm:g} ppm; got {each.range_high_ppm:g} ppm",
            )


def set_point_can_be_met(draft):
    """The set point lies in the range of every transmitter (any of them may run the fan) and above what the air brings along."""
    control, outdoors = draft.sections.get("control"), draft.sections.get("outdoor_ppm")
    if control is None:
        return
    for _, each in draft.items("transmitters"):
        if not each.range_low_ppm < control.set_point_ppm < each.range_high_ppm:
            within = f"{each.range_low_ppm:g} to {each.range_high_ppm:g} ppm of {each.name!r}"
            yield ("control", "set_point"), f"must lie inside the range, {within}; got {control.set_point_ppm:g} ppm"
    if outdoors is not None and control.set_point_ppm <= outdoors:
        yield ("control", "set_point"), f"must be above outdoor, {outdoors:g} ppm: no fan gets below it; got {control.set_point_ppm:g} ppm"


def zones_share_the_fan(draft):
    """Zones have names of their own, and their shares of the exhaust sum to one."""
    zones = draft.items("zones")
    names = [zone.name for _, zone in zones]
    for number, zone in zones:
        if names.count(zone.name) > 1:
            yield ("zones", number, "name"), f"must differ from the other zones'; {zone.name!r} is there more than once"
    total = sum(zone.exhaust_share for _, zone in zones)
    if draft.whole("zones") and abs(total - 1) > of_stairs.SHARE_TOLERANCE:
        yield ("zones",), f"must have exhaust_shares that sum to 1; they sum to {total:g}"
    if draft.whole("zones") and zones and zones[-1][1].exchange_m3_s:
        yield ("zones", zones[-1][0], "exchange"), "must be left out at the last zone: there is no next one"


class GarageSite(WholeSite):
    """A garage: zones of well-mixed air, cars that give off gas, one exhaust fan that draws from all zones."""

    checks: ClassVar[tuple] = (
        zones_share_the_fan,
        one_share_each("traffic", "running", "zones"),
        of_stairs.fan_curve_falls,
        of_stairs.drive_can_slow_the_wheel,
        with_effect("exhaust", "the fan draws the cars' gas out"),
        place_is_there("transmitters", "zone", "zones"),
        of_stairs.names_are_single,
        of_stairs.counts_have_limits,
        gas_ranges_stand_upright,
        set_point_can_be_met,
        of_stairs.rule_is_complete,
        of_stairs.low_demand_keeps_out_of_fire,
    )

    kind: Literal["garage"]
    altitude_m: Altitude
    temperature_c: Indoor
    gas: Text
    outdoor_ppm: Concentration
    zones: Annotated[list[Zone], Field(min_length=1)]
    cars: Cars
    traffic: Annotated[dict[str, Traffic], Field(min_length=1)]
    fan: Fan
    transmitters: Annotated[list[GasTransmitter], Field(min_length=1)]
    control: GasControl
