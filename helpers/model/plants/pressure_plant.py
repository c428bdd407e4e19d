"""What plants other than a stair share: parts of their site files, their conditions, the air of those whose fan holds a pressure, their
loop in time. Same fan curve, network, transmitters, combining, controller and drive as a stair's.
"""

from dataclasses import dataclass, fields, replace
from typing import Annotated, ClassVar

import numpy as np

from helpers import require
from helpers.formulas import air as air_formulas
from helpers.formulas import fan as fans
from helpers.model.air import network as nets
from helpers.model.air.conditions import Rows
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3, FanCurve
from helpers.model.air.operating_point import STATES, hold
from helpers.model.air.tower import HeldAir
from helpers.model.loop.events import Schedule
from helpers.model.loop.run import Setup, number_of_runs, own_low_demand, run_on_air, settings_of
from helpers.model.site import field_types as of
from helpers.model.site.schema import WholeSite
from helpers.model.sweep import MOST_SPEEDS, AirTable

Concentration = Annotated[float, of.Quantity("concentration", "25 ppm", low=0, high=100_000)]
Ratio = Annotated[float, of.Quantity("ratio", "1.5", low=0, high=1000)]
ShareOfFull = Annotated[float, of.Quantity("ratio", "0.6", low=0, high=1)]


class PlantSite(WholeSite):
    """What the sites of other plants share beside what every site has."""

    @property
    def title(self):
        """Its name for the head of a paper."""
        return self.name

    @property
    def file_title(self):
        """Its name for the name of a file."""
        return self.name


class PressureTransmitter(of.SiteTable):
    """A pressure transmitter and how the drive reads it; where its tubes end is said by each kind of site."""

    name: of.Text
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


def with_effect(effect, why):
    """The check that the fan has the effect that this kind of site needs."""

    def fan_has_its_effect(draft):
        fan = draft.sections.get("fan")
        if fan is not None and fan.effect != effect:
            yield ("fan", "effect"), f"must be {effect!r}: {why}; got {fan.effect!r}"

    return fan_has_its_effect


def place_is_there(section, key, places):
    """The check that each transmitter's place is one of a list's named parts (`section`: a section or zone by `key`)."""

    def transmitters_have_a_place(draft):
        names = [part.name for _, part in draft.items(places)]
        for number, transmitter in draft.items(section):
            if draft.whole(places) and getattr(transmitter, key) not in names:
                known = ", ".join(map(repr, names))
                yield (section, number, key), f"must be one of the {places} ({known}); got {getattr(transmitter, key)!r}"

    return transmitters_have_a_place


def one_share_each(table, key, places):
    """The check that every named state of a table states one figure for each of the places."""

    def states_are_complete(draft):
        count = len(draft.items(places))
        for name, state in draft.items(table) if draft.whole(places, table) else []:
            if len(getattr(state, key)) != count:
                yield (table, name, key), f"must hold one value for each of the {count} {places}; got {len(getattr(state, key))}"

    return states_are_complete


# Moments within a turn, as shares of it: closer at its start, where a pressure falls fastest when something opens.
TURN_SHARES = np.array([0.0, 0.02, 0.08, 0.25, 0.5, 0.75, 1.0])
LEAST_TURN_S = 1e-3  # a turn at once still has a before and an after


class PlantRows(Rows):
    """Fields are [conditions], those of `by_place` [conditions, places]."""

    by_place: ClassVar[frozenset] = frozenset()

    @classmethod
    def filled(cls, values, changes, places):
        """Conditions of some values with changes laid over, each brought to the rows they share."""
        unknown = set(changes) - set(values)
        if unknown:
            raise ValueError(f"changes must be among {', '.join(values)}; got {', '.join(sorted(unknown))}")
        arrays = {name: require.finite(**{name: value}) for name, value in (values | changes).items()}
        for name in cls.by_place:
            if arrays[name].ndim and arrays[name].shape[-1] not in (1, places):
                raise ValueError(f"{name} must hold one value for each of {places} places, got {arrays[name].shape[-1]}")
        leading = [a.shape[:-1] if name in cls.by_place else a.shape for name, a in arrays.items()]
        count = np.broadcast_shapes((1,), *leading)
        shapes = {name: (*count, places) if name in cls.by_place else count for name in arrays}
        return cls(**{name: np.broadcast_to(a, shapes[name]).astype(float) for name, a in arrays.items()})


@dataclass
class BuildingConditions(PlantRows):
    """outdoor_c, indoor_c [°C]; wind_speed_m_s at the weather station, wind_from_deg; surplus_m3_s: air that the other fans bring more
    than they take, at indoor density; door_open [conditions, storeys], 0 to 1 of each storey's large door."""

    outdoor_c: np.ndarray
    indoor_c: np.ndarray
    wind_speed_m_s: np.ndarray
    wind_from_deg: np.ndarray
    surplus_m3_s: np.ndarray
    door_open: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"door_open"})

    def __post_init__(self):
        for name in ("outdoor_c", "indoor_c"):
            require.between(-90, 90, **{name: getattr(self, name)})
        require.between(0, 100, wind_speed_m_s=self.wind_speed_m_s)
        require.between(0, 1, door_open=self.door_open)

    @classmethod
    def of(cls, site, weather="mild", balance=None, open_doors=(), **changes):
        """Conditions of a building site under one of its weathers and balances (None: the first), large doors of the named levels open.

        changes: any field instead, arrays bring rows. Raises ValueError for an unknown weather, balance, level or field.
        """
        state = site.weather[require.one_of(site.weather, weather=weather)]
        first = next(iter(site.balance)) if balance is None else require.one_of(site.balance, balance=balance)
        levels = [storey.level for storey in site.storeys]
        for level in open_doors:
            if level not in levels:
                raise ValueError(f"open_doors must name storeys from {levels[0]} to {levels[-1]}, got {level!r}")
        values = {
            "outdoor_c": state.outdoor_c,
            "indoor_c": site.indoor_c,
            "wind_speed_m_s": state.wind_speed_m_s,
            "wind_from_deg": state.wind_from_deg,
            "surplus_m3_s": site.balance[first].surplus_m3_s,
            "door_open": np.isin(levels, list(open_doors)).astype(float),
        }
        return cls.filled(values, changes, len(levels))


@dataclass
class DuctConditions(PlantRows):
    """opening [conditions, sections]: how far the boxes of each section stand open, 0 to 1 of their free area."""

    opening: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"opening"})

    def __post_init__(self):
        require.between(0, 1, opening=self.opening)

    @classmethod
    def of(cls, site, demand=None, **changes):
        """Conditions of a duct site in one of its states of demand (None: the first). Raises ValueError for an unknown one."""
        first = next(iter(site.demand)) if demand is None else require.one_of(site.demand, demand=demand)
        return cls.filled({"opening": site.demand[first].opening}, changes, len(site.sections))


@dataclass
class GarageConditions(PlantRows):
    """running [conditions, zones]: cars with their engine running; [conditions]: outdoor_ppm, gas in the air that comes in; of a second gas
    engines_share, which share of the running engines gives it off, and second_outdoor_ppm (one gas alone: none of either)."""

    running: np.ndarray
    outdoor_ppm: np.ndarray
    engines_share: np.ndarray
    second_outdoor_ppm: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"running"})

    def __post_init__(self):
        for name in ("running", "outdoor_ppm", "second_outdoor_ppm"):
            require.at_least(0, **{name: getattr(self, name)})
        require.between(0, 1, engines_share=self.engines_share)

    @classmethod
    def of(cls, site, traffic=None, **changes):
        """Conditions of a garage site in one of its states of traffic (None: the first). Raises ValueError for an unknown one."""
        first = next(iter(site.traffic)) if traffic is None else require.one_of(site.traffic, traffic=traffic)
        state, second = site.traffic[first], site.second_gas
        values = {"running": state.running, "outdoor_ppm": site.outdoor_ppm, "engines_share": 0.0, "second_outdoor_ppm": 0.0}
        if second is not None:
            share = second.engines_share if state.engines_share is None else state.engines_share
            values |= {"engines_share": share, "second_outdoor_ppm": second.outdoor_ppm}
        return cls.filled(values, changes, len(site.zones))


@dataclass(frozen=True)
class Turn:
    """Conditions that change in a straight line over `over_s` from `at_s` on, in all runs: fields with a value, or one for each place,
    such as {"surplus_m3_s": 2.0} or {"opening": (0.1, 0.1, 0.0)}."""

    at_s: float
    to: dict
    over_s: float = 0.0


def turns_schedule(base, turns, length_s):
    """Lay turns over the base conditions (one row a run, or one row for all). Returns the loop's `Schedule`.

    Raises ValueError for a turn outside the run, of an unknown field, or of a field that another turn is still changing.
    """
    length = require.single_positive(length_s=length_s)
    turns = [replace(turn, at_s=require.single(at_s=turn.at_s)) for turn in turns]
    courses = [course for turn in sorted(turns, key=lambda turn: turn.at_s) for course in _courses(base, turn, length)]
    times = np.unique(np.concatenate([[0.0, length], *[at + over * TURN_SHARES for _, at, over, _ in courses]]))
    times = times[times <= length]
    changed = {field.name: np.repeat(getattr(base, field.name)[None].astype(float), len(times), axis=0) for field in fields(base)}
    now, until = {name: course[0].copy() for name, course in changed.items()}, dict.fromkeys(changed, 0.0)
    for name, at, over, value in courses:
        if at < until[name]:
            raise ValueError(f"at_s must be {until[name]:g} s or later, where the turn of {name} before it ends; got {at:g}")
        target = np.broadcast_to(value, now[name].shape)
        share = np.clip((times - at) / over, 0.0, 1.0).reshape(-1, *[1] * target.ndim)
        # what has ended is what was asked for to the last digit: cars that have left are none, not a rounding error fewer
        changed[name] = np.where(share < 1, changed[name] + share * (target - now[name]), target)
        now[name], until[name] = target, at + over
    flat = {name: course.reshape(-1, *course.shape[2:]) for name, course in changed.items()}
    return Schedule(times, type(base)(**flat), len(base))


def _courses(base, turn, length):
    """(field, start, duration, value) of one turn's fields."""
    at = float(require.between(0, length, at_s=turn.at_s))
    over = max(require.single_at_least(0, over_s=turn.over_s), LEAST_TURN_S)
    for name, value in turn.to.items():
        require.one_of([field.name for field in fields(base)], to=name)
        yield name, at, over, require.finite(**{name: value})


@dataclass
class PlantAir:
    """Air in a plant: pressure_pa [conditions, places] over the still outdoor air at the same height (a duct: over the rooms);
    readings_pa [conditions, transmitters] of ideal transmitters; fan_flow_m3_s at inlet density, power_w from the mains, speed_hz,
    converged, residual_kg_s, supply_kg_s [conditions]."""

    pressure_pa: np.ndarray
    readings_pa: np.ndarray
    fan_flow_m3_s: np.ndarray
    power_w: np.ndarray
    speed_hz: np.ndarray
    converged: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray


class PressurePlant:
    """Base of `Building` and `Duct`, which say where their fan, openings and tubes are.

    A subclass sets `places` (names), `fan_place` (number) and `taps`, and gives `network(conditions, ratio)`.
    """

    least_speeds = 20  # of the table that the loop looks up

    def __init__(self, site):
        self.site, self.curve, self.effect = site, FanCurve.of(site.fan), site.fan.sign
        self.pressure_pa = float(air_formulas.pressure_at_altitude(site.altitude_m))

    def solve(self, conditions, speed_hz):
        """Air under some conditions at given fan speeds [Hz], one for all or one per condition. Returns `PlantAir`."""
        speed = np.broadcast_to(require.at_least(0, speed_hz=speed_hz), len(conditions))
        network = self.network(conditions, speed / self.site.fan.reference_speed_hz)
        return self.air_of(network, nets.solve(network), speed)

    def hold(self, conditions, set_point_pa=None, rule=None, weights=None):
        """Air at the fan speed at which the combined reading meets the set point; what is not given is the site's own. `HeldAir`."""
        control, fan = self.site.control, self.site.fan
        target = np.broadcast_to(np.asarray(control.set_point_pa if set_point_pa is None else set_point_pa, float), len(conditions))
        rule, weights = rule or control.rule, control.weights if rule is None else weights
        limits = [speed / fan.reference_speed_hz for speed in fan.speed_limits_hz(control.fire_mode)]
        network = self.network(conditions, np.full(len(conditions), limits[0]))
        found = hold(network, self.taps, rule, target, *limits, weights=weights)
        air = self.air_of(nets.at_ratio(network, found.ratio), found.solution, found.ratio * fan.reference_speed_hz)
        return HeldAir(air, np.array(STATES)[found.state], found.reading_pa)

    def table(self, conditions, setup, runs=1):
        """The air as the loop sees it over a run with the turns of `setup.events`: an `AirTable`, solved at some speeds of every moment.

        Its doors_pa are the pressures of all places. Raises ValueError where the network finds no answer.
        """
        scheduled = turns_schedule(conditions, setup.events, setup.length_s)

        def quantities(found, rows):
            return found.readings_pa, found.pressure_pa, found.fan_flow_m3_s, found.power_w

        speeds = max(require.whole(2, MOST_SPEEDS, speeds=setup.speeds), self.least_speeds)
        return AirTable.solved(self.solve, quantities, scheduled, self.site.fan.highest_speed_hz, speeds)

    def settings(self):
        """The site's own controller settings."""
        return settings_of(self.site)

    def low_demand_rule(self):
        """The site's own low-demand rule; None where it has none."""
        return own_low_demand(self.site)

    def transmitters(self):
        """Transmitters as the loop's signal chain takes them."""
        return self.site.transmitters

    def lag_s(self, setup):
        """Time constant of the transmitters [s]."""
        return setup.lag_s

    def air_of(self, network, solution, speed_hz):
        """What a solution of the plant's network says of its air, as `PlantAir`."""
        (fan,) = [opening for opening in network.openings if opening.law.fan]
        difference = fan.difference(solution.pressure)
        flow = fan.law.volume_flow(difference)[0]
        power = mains_power_w(self.site.fan, flow, self.effect * difference[0], fan.law.density[0] / REFERENCE_DENSITY_KG_M3)
        readings = self.taps.read(solution.pressure).T
        return PlantAir(solution.pressure[0].T, readings, flow, power, speed_hz, solution.converged, solution.residual_kg_s,
                        solution.supply_kg_s)  # fmt: skip


def mains_power_w(fan, flow_m3_s, against_pa, density_ratio):
    """Power from the mains [W] of a fan that moves a flow [m3/s] against a pressure beyond its duct [Pa]; broadcasts.

    Air pushed through a standing fan takes none. Limits: one efficiency of fan, motor and drive at all loads, as the site file states it,
    so that powers at small flow come out too low.
    """
    flow = np.maximum(flow_m3_s, 0.0)
    pressure = against_pa + fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2 * density_ratio
    return fans.shaft_power_w(flow, np.maximum(pressure, 0.0), fan.efficiency) / (fan.motor_efficiency * fan.drive_efficiency)


def setup_of(plant, length_s, **more):
    """A `Setup` for a run of some length with the site's own sample time; more: its other fields, events as `Turn`s."""
    return Setup(length_s, **{"sample_s": plant.site.control.sample_s} | more)


def run_plant(plant, conditions, setup, **start):
    """Run a plant's loop. conditions: one row, or one a run; setup: events are `Turn`s, and where it says nothing the site's own settings,
    rule and low-demand stop hold; start: further words to the plant's table, such as a garage's start_ppm. Returns `LoopRun`.

    A run's readings, set point and tubes bear the reading's own unit, ppm in a garage, whatever their names say.
    Raises ValueError for times, faults, events, settings that cannot be.
    """
    settings, rows = setup.settings or plant.settings(), len(conditions)
    demand = plant.low_demand_rule() if setup.low_demand is None else setup.low_demand
    sample_s = plant.site.control.sample_s if setup.sample_s is None else setup.sample_s
    setup = replace(setup, lag_s=plant.lag_s(setup), low_demand=demand, sample_s=sample_s)
    start_hz = plant.site.fan.lowest_speed_hz if setup.start_hz is None else setup.start_hz
    air = plant.table(conditions, setup, number_of_runs(rows, settings, setup), **start)
    return run_on_air(air, plant.site, setup, plant.transmitters(), settings, rows, start_hz)
