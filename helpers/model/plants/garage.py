"""A garage whose exhaust fan follows a gas: zones of well-mixed air that fill with what cars give off and are thinned; and its site file.

    V dc/dt = E + Q (c_out - c) + sum over neighbours X (c_neighbour - c)        for every zone: gas is conserved

c gas by volume [ppm], V air of the zone, E gas given off, Q fresh air: the zone's share of the fan and its draught, X air that goes to
and fro. The state takes minutes to follow: unlike a pressure it is carried on from sample to sample. Readings are in ppm, no pressure.

A second gas (nitrogen dioxide of diesel cars) goes the same way, solved beside the first on a leading axis; the loop takes it times
`counts`, so that at its own set point it counts as much as the first at its own (`gases` says why). The places of a garage are its zones,
once for each gas.

Limits: every zone gets its make-up air from outdoors through ramps and louvres so wide that they cost the fan nothing, so the fan's flow is
in proportion to its speed; well mixed means that near a tailpipe there is more.
"""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, NamedTuple

import numpy as np
from pydantic import Field

from helpers import require
from helpers.formulas import air, combining, kernels
from helpers.formulas.low_demand import LowDemandRule
from helpers.model import sweep
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3, FanCurve
from helpers.model.air.operating_point import STATES
from helpers.model.loop.controller import ControllerSettings
from helpers.model.plants.gases import GAS_CHECKS, Cars, GasTransmitter, SecondGas, Traffic, gas_names, gas_read, set_points_ppm
from helpers.model.plants.pressure_plant import (
    Concentration,
    PlantSite,
    mains_power_w,
    one_share_each,
    place_is_there,
    turns_schedule,
    with_effect,
)
from helpers.model.site import checks as of_stairs
from helpers.model.site import field_types as of
from helpers.model.site.schema import Fan
from helpers.model.site.supply import SHARE_TOLERANCE
from helpers.model.sweep import at
from helpers.units.said import three

PPM = 1e6
LARGEST_STEP = 0.1  # of the time in which a zone's air is changed: the midpoint rule is then off by less than a thousandth
SPEEDS = 51  # of the tables of flow and power, which results look up


class _Wired(NamedTuple):
    """A gas transmitter under the names that the loop's signal chain asks for. The chain only knows numbers: here they are ppm."""

    name: str
    range_low_pa: float
    range_high_pa: float
    signal: str
    converter_bits: int
    filter_s: float


@dataclass
class HeldGas:
    """Per condition: fan speed [Hz], state (a text of STATES), the combined reading and the gas of every place [conditions, places], ppm as
    the loop counts it."""

    speed_hz: np.ndarray
    state: np.ndarray
    reading_ppm: np.ndarray
    gas_ppm: np.ndarray


class Garage:
    """Zones, cars and fan of a garage site, ready to be asked about `GarageConditions`."""

    def __init__(self, site):
        self.site, self.effect, zones = site, site.fan.sign, site.zones
        self.zones, self.gases = [zone.name for zone in zones], gas_names(site)
        self.counts = set_points_ppm(site)[0] / set_points_ppm(site)
        one = len(self.gases) == 1
        self.places = self.zones if one else [f"{zone}, {gas}" for gas in self.gases for zone in self.zones]
        self.volume_m3 = np.array([zone.volume_m3 for zone in zones])
        self.shares = np.array([zone.exhaust_share for zone in zones])
        self.draught_m3_s = np.array([zone.draught_m3_s for zone in zones])
        # matrix of the exchange between each zone and the next, rows adding up to nothing
        flows = np.asarray([zone.exchange_m3_s for zone in zones[:-1]], float)
        matrix = np.diag(flows, 1) + np.diag(flows, -1)
        self.exchange = matrix - np.diag(matrix.sum(axis=1))
        self.gas_read = gas_read(site, site.transmitters)
        self.at = self.gas_read * len(zones) + np.array([self.zones.index(t.zone) for t in site.transmitters])
        density = float(air.density(site.temperature_c, air.pressure_at_altitude(site.altitude_m)))
        self.density_ratio = density / REFERENCE_DENSITY_KG_M3
        flow, _, _ = FanCurve.of(site.fan).flow_and_slopes(np.zeros(1), np.ones(1), np.array([density]))
        self.flow_at_reference_m3_s = float(flow[0])

    def fan_flow_m3_s(self, speed_hz):
        """Air that the fan draws at a speed: in proportion to it, since only its own duct stands against it."""
        return self.flow_at_reference_m3_s * require.at_least(0, speed_hz=speed_hz) / self.site.fan.reference_speed_hz

    def fresh_m3_s(self, speed_hz):
        """Fresh air of each zone, [..., zones]."""
        return self.fan_flow_m3_s(speed_hz)[..., None] * self.shares + self.draught_m3_s

    @property
    def aired(self):
        """Flags of the zones that have fresh air with the fan stopped: a draught of their own, or to and fro from zone to zone [zones]."""
        draught, linked = self.draught_m3_s > 0, np.diag(self.exchange, 1) > 0
        for _ in linked:  # from each zone to the next, as often as there are ways between them
            draught[1:] |= draught[:-1] & linked
            draught[:-1] |= draught[1:] & linked
        return draught

    def gas_ppm(self, conditions, speed_hz):
        """Each gas in each zone when nothing changes any more [gases, conditions, zones], ppm. Raises ValueError where a zone gets no fresh
        air."""
        fresh = np.broadcast_to(self.fresh_m3_s(speed_hz), (len(conditions), len(self.zones)))
        balance = fresh[:, :, None] * np.eye(len(self.zones)) - self.exchange
        if np.any(np.linalg.cond(balance) > 1e12):
            raise ValueError(f"speed_hz must bring every zone fresh air for a steady state to be there, got {np.min(speed_hz):g}")
        brought = self.emission_m3_s(conditions) * PPM + fresh * self.outdoor_ppm(conditions)[..., None]
        return np.linalg.solve(balance, brought[..., None])[..., 0]

    def steady_ppm(self, conditions, speed_hz):
        """The same of all places, as the loop counts it [conditions, places], ppm of the first gas."""
        gas = self.gas_ppm(conditions, speed_hz) * self.counts[:, None, None]
        return np.moveaxis(gas, 0, 1).reshape(len(conditions), -1)

    def hold(self, conditions, set_point_ppm=None, rule=None, weights=None):
        """The speed at which the combined steady reading meets the set point; what is not given is the site's own. Returns `HeldGas`."""
        control, fan = self.site.control, self.site.fan
        target = control.set_point_ppm if set_point_ppm is None else set_point_ppm
        rule, weights = rule or control.rule, control.weights if rule is None else weights

        def reading(speed):
            return combining.combine(self.steady_ppm(conditions, speed)[:, self.at], rule, weights=weights)

        low, high = (np.full(len(conditions), float(limit)) for limit in fan.speed_limits_hz(control.fire_mode))
        at_low, at_high = reading(low) <= target, reading(high) > target
        speed = kernels.halve(lambda middle: reading(middle) > target, low, high)
        speed = np.where(at_low, low, np.where(at_high, high, speed))
        state = np.array(STATES)[np.where(at_low, 1, np.where(at_high, 2, 0))]
        return HeldGas(speed, state, reading(speed), self.steady_ppm(conditions, speed))

    def emission_m3_s(self, conditions):
        """Each gas that the cars of each zone give off [gases, conditions, zones]."""
        given, second = [conditions.running * self.site.cars.emission_m3_s], self.site.second_gas
        if second is not None:
            given.append(conditions.running * conditions.engines_share[:, None] * second.emission_m3_s)
        return np.stack(given)

    def outdoor_ppm(self, conditions):
        """Each gas in the air that comes in [gases, conditions]."""
        return np.stack([conditions.outdoor_ppm, conditions.second_outdoor_ppm][: len(self.gases)])

    def table(self, conditions, setup, runs=1, start_ppm=None):
        """The garage as the loop sees it over one run with the turns of `setup.events`: a fresh `GarageAir`.

        start_ppm: gas at the start, one or one per place, as the loop counts it (None: as outdoors).
        """
        scheduled = turns_schedule(conditions, setup.events, setup.length_s)
        return GarageAir(self, scheduled, max(runs, scheduled.runs), setup.sample_s, start_ppm)

    def settings(self):
        """The site's own controller settings; its gain works on the span of the first transmitter. Figures in ppm of the first gas."""
        control, first = self.site.control, self.site.transmitters[0]
        span = (first.range_high_ppm - first.range_low_ppm) * float(self.counts[self.gas_read[0]])
        return ControllerSettings(control.set_point_ppm, span, control.gain, control.integral_time_s, action=control.action)

    def low_demand_rule(self):
        """The site's own low-demand rule; None where it has none."""
        own = self.site.control.low_demand
        return own and LowDemandRule(own.stop_below_hz, own.stop_after_s, own.restart_above_ppm, own.restart_after_s)

    def transmitters(self):
        """Transmitters as the loop's signal chain takes them, their ranges as the loop counts them."""
        counted = zip(self.site.transmitters, self.counts[self.gas_read].tolist(), strict=True)
        return [_Wired(t.name, t.range_low_ppm * times, t.range_high_ppm * times, t.signal, t.converter_bits, t.filter_s)
                for t, times in counted]  # fmt: skip

    def lag_s(self, setup):
        """Time constants of the gas transmitters' cells [transmitters, 1], s; the loop's usual lag is that of a pressure cell."""
        return np.array([[t.response_s] for t in self.site.transmitters])


class GarageAir:
    """A garage with the interface of the loop's air table. It remembers: each `read` carries the gas on by one sample.

    times_s [moments]; flow_m3_s and power_w [speeds, 1] at equal steps of speed, for results. One of these serves one run at a time:
    `course` begins it anew. Readings, and what a run calls tubes_pa, are ppm as the loop counts them.
    """

    def __init__(self, garage, scheduled, runs, sample_s, start_ppm=None):
        self.garage, self.times_s, self.top_hz = garage, scheduled.times_s, garage.site.fan.highest_speed_hz
        volume, counts = garage.volume_m3, garage.counts[:, None, None]
        # [moments, gases, runs, zones] and [moments, gases, runs, 1], as the loop counts them
        self.given_ppm_s = self._by_moment(counts * (PPM * garage.emission_m3_s(scheduled.conditions) / volume), scheduled)
        self.outdoor_ppm = self._by_moment(counts * garage.outdoor_ppm(scheduled.conditions)[..., None], scheduled)
        # Changes of a zone's air per second: by the fan for each Hz, by the draught, and to and fro.
        self.per_hz, self.draught, self.exchange = garage.fresh_m3_s(1.0), garage.draught_m3_s / volume, garage.exchange / volume
        self.per_hz = self.per_hz / volume - self.draught
        self.runs, self.step_s = runs, require.single_positive(sample_s=sample_s)
        fastest = garage.fresh_m3_s(self.top_hz) - np.diag(garage.exchange)
        longest = LARGEST_STEP * float((volume / np.maximum(fastest, 1e-12)).min())
        if self.step_s > longest:
            raise ValueError(
                f"sample_s must be at most {three(longest)} s, a tenth of the quickest zone's change of air; got {self.step_s:g}"
            )
        shape = (len(garage.gases), runs, len(garage.zones))
        if start_ppm is None:
            start = self.outdoor_ppm[0]
        else:
            by_place = np.broadcast_to(require.at_least(0, start_ppm=start_ppm), (runs, len(garage.places)))
            start = np.moveaxis(by_place.reshape(runs, *shape[::2]), 0, 1)
        self.start_ppm = np.broadcast_to(start, shape).astype(float)
        speeds = np.linspace(0.0, self.top_hz, SPEEDS)
        flow = self.garage.fan_flow_m3_s(speeds)
        power = mains_power_w(self.garage.site.fan, flow, 0.0, self.garage.density_ratio)
        self.flow_m3_s, self.power_w = flow[:, None], power[:, None]

    @staticmethod
    def _by_moment(values, scheduled):
        """Values [gases, moments and runs, ..] as [moments, gases, runs, ..]."""
        return np.moveaxis(values.reshape(len(values), len(scheduled.times_s), scheduled.runs, -1), 0, 1)

    def course(self, times_s, arithmetic):
        """For each sample the moment before, and how far on the way to the next. The gas is set back to the start."""
        self.gas_ppm, self.begun = self.start_ppm.copy(), False
        before, share, _ = sweep.pieces(self.times_s, times_s)
        return zip(before.tolist(), share.tolist(), strict=True)

    def read(self, at, speed_hz, arithmetic):
        """Gas at the transmitters, rows, at one sample, after a step at the fan speed of the last one."""
        before, share = at
        if self.begun:
            given, outdoors = (now[before] + share * (now[before + 1] - now[before]) for now in (self.given_ppm_s, self.outdoor_ppm))
            changes = np.reshape(speed_hz, (-1, 1)) * self.per_hz + self.draught
            brought = given + changes * outdoors
            half = self.gas_ppm + 0.5 * self.step_s * (brought - changes * self.gas_ppm + self.gas_ppm @ self.exchange)
            self.gas_ppm = self.gas_ppm + self.step_s * (brought - changes * half + half @ self.exchange)
        self.begun = True
        return arithmetic.rows(np.moveaxis(self.gas_ppm, 1, 2).reshape(-1, self.runs)[self.garage.at])

    def along(self, table, times_s, speed_hz, number=0):
        """A quantity over a whole run: table [speeds, places], speed_hz [samples] -> [samples, places]."""
        place = np.clip(speed_hz / self.top_hz, 0.0, 1.0) * (len(table) - 1)
        return at(table, place)


class Zone(of.SiteTable):
    """A part of the garage whose air is well mixed. `draught_m3_s` comes in from outdoors whether the fan runs or not, `exchange_m3_s`
    goes to and fro between this zone and the next one of the list."""

    name: of.Text
    floor_area_m2: of.OpenArea
    height_m: of.Length
    exhaust_share: of.Share
    draught_m3_s: of.Flow = 0.0
    exchange_m3_s: of.Flow = 0.0

    @property
    def volume_m3(self):
        """Air in the zone [m3]."""
        return self.floor_area_m2 * self.height_m


class GasLowDemand(of.SiteTable):
    """Stop below a speed for a time, start again on a reading above the set point by `restart_above_ppm` for a time."""

    stop_below_hz: of.Speed
    stop_after_s: of.Time
    restart_above_ppm: Concentration
    restart_after_s: of.Time


class GasControl(of.SiteTable):
    """The loop: which reading runs the fan, to which set point, and how hard (per cent of full speed per per cent of span)."""

    rule: of.RuleName
    weights: of.Weights | None = None
    set_point_ppm: Concentration
    action: of.ActionName = "direct"
    gain: Annotated[float, of.Quantity("ratio", "8", low=0, high=1000, open_low=True)]
    integral_time_s: of.Step
    sample_s: of.Step
    fire_mode: bool
    low_demand: GasLowDemand | None = None


def zones_share_the_fan(draft):
    """Zones have names of their own, and their shares of the exhaust sum to one."""
    zones = draft.items("zones")
    names = [zone.name for _, zone in zones]
    for number, zone in zones:
        if names.count(zone.name) > 1:
            yield ("zones", number, "name"), f"must differ from the other zones'; {zone.name!r} is there more than once"
    total = sum(zone.exhaust_share for _, zone in zones)
    if draft.whole("zones") and abs(total - 1) > SHARE_TOLERANCE:
        yield ("zones",), f"must have exhaust_shares that sum to 1; they sum to {total:g}"
    if draft.whole("zones") and zones and zones[-1][1].exchange_m3_s:
        yield ("zones", zones[-1][0], "exchange"), "must be left out at the last zone: there is no next one"


class GarageSite(PlantSite):
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
        *GAS_CHECKS,
        of_stairs.rule_is_complete,
        of_stairs.low_demand_keeps_out_of_fire,
    )

    kind: Literal["garage"]
    altitude_m: of.Altitude
    temperature_c: of.Indoor
    gas: of.Text
    outdoor_ppm: Concentration
    second_gas: SecondGas | None = None
    zones: Annotated[list[Zone], Field(min_length=1)]
    cars: Cars
    traffic: Annotated[dict[str, Traffic], Field(min_length=1)]
    fan: Fan
    transmitters: Annotated[list[GasTransmitter], Field(min_length=1)]
    control: GasControl
