"""Other plants than a stair: a building held by a relief fan, a supply duct, a garage held by its gas; their sites and their strategies.

They run through the same fan curve, network, transmitters, combining, controller and drive; a new plant is a site model, conditions and
something that reads. Strategy files are as those of `strategy`.
"""

from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.air.tower import Tower
from helpers.model.plants.building import Building, BuildingSite
from helpers.model.plants.duct import Duct, DuctSite
from helpers.model.plants.garage import Garage, GarageSite, GasLowDemand
from helpers.model.plants.gases import WHOLE, gas_read, in_shares
from helpers.model.plants.pressure_plant import (
    BuildingConditions,
    Concentration,
    DuctConditions,
    GarageConditions,
    ShareOfFull,
    Turn,
    run_plant,
    setup_of,
)
from helpers.model.site.field_types import Bearing, Level, Quantity, Rise, SiteTable, Step, Text, Time
from helpers.model.site.file import read_site, read_site_text
from helpers.model.site.schema import Site, WholeSite
from helpers.model.strategy import (
    MODES,
    SETTINGS_CHECKS,
    AlarmParts,
    FailedReading,
    LoopParts,
    Mode,
    OfPressure,
    Override,
    PressureInput,
    Restart,
    Sent,
    Strategy,
    applied,
    changed_by,
    set_point_of,
)

__all__ = ["SITE_KINDS", "SITE_OF", "STRATEGY_KINDS", "Building", "BuildingConditions", "BuildingSite", "BuildingStrategy", "Duct",
           "DuctConditions", "DuctSite", "DuctStrategy", "Garage", "GarageConditions", "GarageSite", "GarageStrategy", "Turn",
           "any_applied", "plant_of", "read_any_site", "read_any_strategy", "read_any_strategy_text", "run_plant", "setup_of"]  # fmt: skip

_MODELS = {Site: Tower, BuildingSite: Building, DuctSite: Duct, GarageSite: Garage}
SITE_KINDS = tuple(_MODELS)


def read_any_site(path):
    """Read a site file of any kind. Returns a Site, BuildingSite, DuctSite or GarageSite. Raises SiteFileError as read_site."""
    return read_site(path, SITE_KINDS)


def plant_of(site):
    """What answers for a site: a Tower, Building, Duct or Garage."""
    return _MODELS[type(site)](site)


class DuctInput(PressureInput):
    """One transmitter of a duct; `section`: where its high side stands."""

    section: Text


class BuildingInput(PressureInput):
    """One transmitter of a building; `outside_deg`: where its outdoor tube end looks to, `wind_share` of the wind gets into it."""

    level: Level
    outside_deg: Bearing
    wind_share: ShareOfFull = 1.0


class GasInput(Sent):
    """One gas transmitter; `gas`: which one it reads (left out: the site's first); `range` and `signal` are the instrument's, `entered` is
    what the drive believes, `response_s` its cell's."""

    unit: ClassVar[str] = "ppm"

    zone: Text
    gas: Text | None = None
    range_low_ppm: Concentration = 0.0
    range_high_ppm: Concentration
    response_s: Time = 0.0
    entered_low_ppm: Concentration | None = None
    entered_high_ppm: Concentration | None = None
    alarm_low_ppm: Concentration | None = None
    alarm_high_ppm: Concentration | None = None


class GasLoop(LoopParts):
    """A loop on gas; as a pressure loop, in ppm. `second_set_point_ppm`: of the second gas (left out: the site's own)."""

    set_point_ppm: Concentration | None = None
    second_set_point_ppm: Concentration | None = None
    gain_found_on_ppm: Annotated[float, Quantity("concentration", "250 ppm", low=0, high=100_000, open_low=True)] | None = None
    dead_band_ppm: Concentration = 0.0


class GasBadReading(FailedReading):
    """What is done when a gas reading has failed."""

    unit: ClassVar[str] = "ppm"

    set_points_ppm: dict[str, Concentration] | None = None


class GasAlarms(AlarmParts):
    """The same of gas. Where a garage has two, limits on the combined reading and on a difference are of the first, and as large a share of
    the set point of the second; only readings of one gas are held against each other."""

    unit: ClassVar[str] = "ppm"

    low_ppm: Concentration | None = None
    high_ppm: Concentration | None = None
    difference_ppm: Concentration | None = None


class EnteredReset(SiteTable):
    """A set point reset by the zones' requests as somebody has entered it: as `duct.Reset`, where what is left out is not limited."""

    lowest_pa: Rise | None = None
    highest_pa: Rise | None = None
    start_pa: Rise | None = None
    hold_s: Time = 0.0
    interval_s: Step
    trim_pa: Rise
    respond_pa: Rise
    respond_most_pa: Rise | None = None
    ignored: Annotated[int, Field(ge=0, le=1000)] = 0
    asks_above: ShareOfFull
    asks_until: ShareOfFull

    def on(self, inputs):
        """The keys of `duct.Reset` that this comes to on a drive with these inputs: no lowest set point is UNLIMITED_PA, no highest the
        lowest top of their ranges, no limit of the response the whole way between."""
        low = UNLIMITED_PA if self.lowest_pa is None else self.lowest_pa
        high = min(one.range[1] for one in inputs) if self.highest_pa is None else self.highest_pa
        most = high - low if self.respond_most_pa is None else self.respond_most_pa
        return self.model_dump() | {"lowest_pa": low, "highest_pa": high, "respond_most_pa": most}


UNLIMITED_PA = 1.0  # as low as the model goes where no lowest set point is entered; ours


class DuctStrategy(OfPressure):
    """A whole strategy of a supply duct's fan; `reset`: how its set point follows the zones' requests, None: it stays."""

    kind: Literal["duct strategy"]
    inputs: Annotated[list[DuctInput], Field(min_length=1)]
    reset: EnteredReset | None = None


class BuildingStrategy(OfPressure):
    """A whole strategy of a relief fan that holds a building's pressure."""

    kind: Literal["building strategy"]
    inputs: Annotated[list[BuildingInput], Field(min_length=1)]


class GarageStrategy(WholeSite):
    """A whole strategy of a garage's exhaust fan. `stop_agreed_with`: who gave leave in writing for a low-demand stop."""

    checks: ClassVar[tuple] = SETTINGS_CHECKS

    kind: Literal["garage strategy"]
    invented: bool = False
    site: Text
    mode: Mode = "comfort"
    inputs: Annotated[list[GasInput], Field(min_length=1)]
    loop: GasLoop
    low_demand: GasLowDemand | None = None
    stop_agreed_with: Text | None = None
    on_bad_reading: GasBadReading = GasBadReading()
    alarms: GasAlarms = GasAlarms()
    override: Override | None = None
    restart: Restart | None = None

    @property
    def set_point(self):
        """The set point [ppm]."""
        return set_point_of(self.loop, self.loop.set_point_ppm, self.inputs)


SITE_OF = {Strategy: Site, DuctStrategy: DuctSite, BuildingStrategy: BuildingSite, GarageStrategy: GarageSite}
STRATEGY_KINDS = tuple(SITE_OF)
_PLACES = {
    DuctStrategy: ("section", "range_low_pa", "range_high_pa"),
    BuildingStrategy: ("level", "outside_deg", "wind_share", "range_low_pa", "range_high_pa"),
    GarageStrategy: ("zone", "gas", "range_low_ppm", "range_high_ppm", "response_s"),
}


def read_any_strategy(path):
    """Read a strategy file of any plant. Returns one of STRATEGY_KINDS; raises SiteFileError as `read_site`."""
    return read_site(Path(path), kinds=STRATEGY_KINDS)


def read_any_strategy_text(text, name="strategy text"):
    """Read a strategy of any plant from the text of a file; name is what refusals call it. Returns and raises as read_any_strategy."""
    return read_site_text(text, name, kinds=STRATEGY_KINDS)


def any_applied(strategy, site):
    """The site of any plant as a strategy makes it; see `strategy.applied`.

    Raises ValueError where the site is of another kind than the strategy, SiteFileError for what cannot be built on it.
    """
    needed = SITE_OF[type(strategy)]
    if type(site) is not needed:
        kinds = {Site: "a stair", DuctSite: "a duct", BuildingSite: "a building with a relief fan", GarageSite: "a garage"}
        raise ValueError(f"site must be {kinds[needed]}, as the strategy is for one; got {kinds.get(type(site), 'another')}, {site.name!r}")
    if isinstance(strategy, Strategy):
        return applied(strategy, site)
    places, fits = _PLACES[type(strategy)], [one.range for one in strategy.inputs]
    if isinstance(strategy, GarageStrategy):
        return _on_garage(strategy, site, places)
    target = strategy.set_point if any(low <= strategy.set_point <= high for low, high in fits) else sum(fits[0]) / 2
    control = {"set_point_pa": target}
    if isinstance(strategy, DuctStrategy):
        resets = strategy.reset is not None and strategy.mode != MODES[0] and not site.control.fire_mode
        control["reset"] = strategy.reset.on(strategy.inputs) if resets else None
    return site.with_changes(**changed_by(strategy, site, control, places))


def _on_garage(strategy, site, places):
    """The garage as a strategy makes it: each gas's set point lies in every range of it, and above what the air brings along; another one
    is the review's to name. So is a rule that lets one of two gases pass."""
    read, second = gas_read(site, strategy.inputs), site.second_gas

    def inside(target, number, outdoor_ppm):
        fits = [one.range for one, gas in zip(strategy.inputs, read, strict=True) if gas == number]
        low, high = max([outdoor_ppm, *(low for low, _ in fits)]), min([high for _, high in fits], default=target)
        return target if low < target < high or not fits else (low + high) / 2

    changes = changed_by(strategy, site, {"set_point_ppm": inside(strategy.set_point, 0, site.outdoor_ppm)}, places)
    if second is not None:
        own = strategy.loop.second_set_point_ppm
        changes["second_gas"] = {"set_point_ppm": inside(second.set_point_ppm if own is None else own, 1, second.outdoor_ppm)}
        changes["control"] |= {"rule": "highest", "weights": None}
    elif strategy.loop.second_set_point_ppm is not None:
        raise ValueError(
            f"second_set_point must be left out on a site of one gas, {site.gas!r}; got {strategy.loop.second_set_point_ppm:g} ppm"
        )
    return site.with_changes(**changes)


def both_in_shares(strategy, site):
    """A strategy and its garage of two gases, (strategy, site), with every concentration in per cent of the set point that the strategy has
    for that gas: both gases are then held at the same 100. Those that are so already stay as they are.

    Raises as any_applied, and ValueError for a set point of nothing.
    """
    any_applied(strategy, site)  # whoever has to be refused is refused in ppm
    own = strategy.loop.second_set_point_ppm
    points = strategy.set_point, site.second_gas.set_point_ppm if own is None else own
    if min(points) <= 0:
        raise ValueError(f"set_point must be above 0 ppm where two gases are held; got {points[0]:g} and {points[1]:g} ppm")
    times = [WHOLE / point for point in points]

    def scaled(part, number):
        told = {name: value for name, value in part if name.endswith("_ppm") and value is not None}
        return {name: value * times[number] for name, value in told.items()}

    read, stop = gas_read(site, strategy.inputs), strategy.low_demand
    inputs = [scaled(one, number) for one, number in zip(strategy.inputs, read, strict=True)]
    loop = scaled(strategy.loop, 0) | {"set_point_ppm": WHOLE, "second_set_point_ppm": WHOLE, "set_point_percent_span": None}
    if strategy.loop.gain_found_on_ppm is not None:  # on the span of the first input, whichever gas that reads
        loop["gain_found_on_ppm"] = strategy.loop.gain_found_on_ppm * times[read[0]]
    by_name = {one.name: times[number] for one, number in zip(strategy.inputs, read, strict=True)}
    left = {name: point * by_name[name] for name, point in strategy.on_bad_reading.set_points.items()} or None
    changes = {"inputs": inputs, "loop": loop, "alarms": scaled(strategy.alarms, 0), "on_bad_reading": {"set_points_ppm": left}}
    changes |= {} if stop is None else {"low_demand": scaled(stop, 0)}
    return strategy.with_changes(**changes), in_shares(site, points)
