"""The hand method on a site: storeys alike, leaks as orifices, one temperature; and from its flow to the network's, a step at a time."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air, leakage
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.field_types import Counts
from helpers.model.site.schema import Door, Site
from helpers.studies.cases import known_weather, one_number
from helpers.studies.report import fine, signed
from helpers.units.said import with_unit

STANDARD_DENSITY_KG_M3 = 1.2  # standard air of fan catalogues; ISO 5801


@dataclass(frozen=True)
class HandStair:
    """A stair as the hand method sees it: areas of one mean storey [m2], one indoor temperature, height between its end storeys [m].

    Limits: as leakage.stair_top_pressure: storeys alike, doors shut, no air from stair straight outdoors, no flow between storeys, no
    lift shaft, no wind, no shaft friction, stair air as warm as the rooms.
    """

    storeys: int
    height_m: float
    stair_area_m2: float
    facade_area_m2: float
    stack_gradient_pa_m: float
    discharge_coefficient: float

    @classmethod
    def of(cls, site, weather="winter"):
        """Hand method for a site under one of its weathers.

        Raises ValueError for a building without any leak from the floors to outdoors, where the hand method has no answer.
        """
        count, heights = len(site.storeys), [storey.height_m for storey in site.storeys]
        facade = sum(_facade(site, storey) for storey in site.storeys) / count
        if not facade:
            raise ValueError("site must leak from its floors to outdoors for the hand method, got facades without any leak")
        stair = sum(stair_wall_leak(site, storey) + _stair_doors(site, storey) for storey in site.storeys) / count
        gradient = float(air.stack_gradient(site.weather[weather].outdoor_c, site.temperatures.floor_c))
        height = sum(heights) - (heights[0] + heights[-1]) / 2
        return cls(count, height, stair, facade, gradient, site.leakage.discharge_coefficient)

    @property
    def from_bottom(self):
        """Whether the minimum pressure is at the bottom (colder outdoors) or at the top."""
        return self.stack_gradient_pa_m >= 0

    def end_pressures(self, least_pa):
        """Pressure across the bottom and the top door [Pa] when the worse of them has `least_pa`."""
        rise = self.height_m if self.from_bottom else -self.height_m
        other = leakage.stair_top_pressure(least_pa, rise, self.stack_gradient_pa_m, self.stair_area_m2, self.facade_area_m2)
        return (least_pa, float(other)) if self.from_bottom else (float(other), least_pa)

    def supply_flow(self, least_pa):
        """Supply air [m3/s of standard air] that keeps `least_pa` [Pa] across the worse of bottom and top door."""
        bottom, top = self.end_pressures(least_pa)
        return float(
            leakage.stair_supply_flow(
                self.storeys, self.stair_area_m2, bottom, top, STANDARD_DENSITY_KG_M3, self.discharge_coefficient
            )
        )  # fmt: skip

    def height_limit(self, least_pa, most_pa):
        """Tallest stair [m] that one supply keeps inside a window, by hand; infinite without stack effect."""
        if not self.stack_gradient_pa_m:
            return np.inf
        return float(
            leakage.stair_height_limit(least_pa, most_pa, self.stack_gradient_pa_m, self.stair_area_m2, self.facade_area_m2)
        )  # fmt: skip


def has_facade_leaks(site):
    """Whether the hand method has an answer at all: some leak from the floors to outdoors."""
    return any(_facade(site, storey) for storey in site.storeys)


def _facade(site, storey):
    tightness = storey.wall_tightness or site.leakage.exterior_wall
    wall = leakage.wall_leakage_area(sum(storey.facade_m2), "exterior_wall", tightness, site.leakage.edition)
    return site.leakage.facade_factor * (float(wall) + storey.extra_leak_m2)


def stair_wall_leak(site, storey):
    """Leakage area of one storey's wall between stair and floor [m2]."""
    inner = storey.stair_wall_m2 - storey.stair_outside_wall_m2
    given = site.leakage
    return given.stair_side_factor * float(leakage.wall_leakage_area(inner, "stair_wall", given.stair_wall, given.edition))


def _stair_doors(site, storey):
    gaps = sum(site.doors[name].leak_area_m2 * count for name, count in storey.stair_doors.items())
    return site.leakage.stair_side_factor * gaps


LABELS = {
    "hand": "By hand",
    "network": "The same, by the network",
    "storeys": "Storeys as they are",
    "exponents": "Cracks by their own law",
    "outside": "Straight to outdoors",
    "slabs": "Through the slabs",
    "lobbies": "Lobbies",
    "lift": "Lift shaft",
    "friction": "Friction in the shaft",
    "stair_c": "Stair as warm as it is",
    "altitude": "Altitude",
    "wind": "Wind",
    "relief": "Relief damper",
    "second": "Second pressurised shaft",
    "inlet": "Outdoor air at the inlet",
}
WIDE_OPEN_M2 = 1000.0  # a shaft so wide that a storey of it costs some hundred-thousandths of a pascal
NO_SLAB_M2 = 1e-9  # a floor that leaks nothing worth counting; a site asks for an area above zero
MEAN_DOOR, DOOR_SIZE_M = "mean door", 10.0  # a leaf large enough for any leak
AGREES_WITHIN = 0.02  # hand formula and network under the hand method's assumptions; ours
FAN_PRESSURE_PA = 1e6  # a fan so strong that it brings a flow whatever the pressure
FAN_SIZES = (2.0, 30.0)  # its full flow over that of the rung before: half speed is then the first guess; the second if the first is small


@dataclass(frozen=True)
class Rung:
    """One rung: what was let in (a key of LABELS), the flow [m3/s]; NaN and not held where no fan speed gives the pressure."""

    key: str
    flow_m3_s: float
    held: bool = True

    @property
    def label(self):
        """What was let in, in a few words."""
        return LABELS[self.key]


@dataclass(frozen=True)
class FlowLadder:
    """Rungs from the hand formula to the network at the same pressure across one door: `level`, the worse end of the hand method."""

    rungs: tuple[Rung, ...]
    site: Site
    weather: str
    door_dp_pa: float
    level: int
    hand: HandStair

    @property
    def flow_m3_s(self):
        """Flow of each rung."""
        return np.array([rung.flow_m3_s for rung in self.rungs])

    @property
    def changes_m3_s(self):
        """Change from the rung before; zero for the first."""
        return np.diff(self.flow_m3_s, prepend=self.flow_m3_s[:1])

    @property
    def agreement(self):
        """Network with the hand method's assumptions less hand method, as a share of the latter."""
        return self.rungs[1].flow_m3_s / self.rungs[0].flow_m3_s - 1

    def largest(self, count=2):
        """The rungs that change the flow most, the largest first."""
        sizes = np.abs(np.nan_to_num(self.changes_m3_s))
        return tuple(self.rungs[place] for place in np.argsort(-sizes, kind="stable")[:count])

    def reasons(self):
        """Why each rung differs from the one before, in words."""
        return tuple(_reason(rung.key, self) for rung in self.rungs)

    def held_said(self):
        """What is held in every step, in a sentence: the pressure across one door, and by hand what that is at the other end."""
        ends = self.hand.end_pressures(self.door_dp_pa)
        other, mean = (with_unit(value, "pressure") for value in (ends[1 if self.hand.from_bottom else 0], sum(ends) / 2))
        door, far = with_unit(self.door_dp_pa, "pressure"), "top" if self.hand.from_bottom else "bottom"
        return (
            f"Held in every step: {door} across stair door {self.level}, the worse end, and no set point: by the hand calculation the "
            f"{far} door has {other}, and both have {mean} on average."
        )

    def verdict(self):
        """Hand and network side by side and what makes the difference, in plain words."""
        hand, network = self.rungs[0], self.rungs[-1]
        alike = f"Hand and network, same assumptions: {round(100 * self.agreement, 1) + 0.0:+.1f} %, {100 * AGREES_WITHIN:.0f} % allowed."
        door = with_unit(self.door_dp_pa, "pressure")
        asked = (
            f"{alike} With {door} across stair door {self.level} in {self.weather}, the hand method asks for "
            f"{with_unit(hand.flow_m3_s, 'flow')} of standard air"
        )
        if not network.held:
            return f"{asked}; in the network no fan speed gives just that, because the weather alone gives more."
        told = " and ".join(f"{rung.label.lower()} ({change})" for rung, change in self._told())
        flow = with_unit(network.flow_m3_s, "flow")
        return f"{asked} and the network for {flow} at the fan's inlet. What counts most: {told}."

    def _told(self):
        changes = dict(zip(self.rungs, self.changes_m3_s, strict=True))
        for rung in self.largest():
            yield rung, signed(changes[rung], "flow")


def flow_ladder(site, weather="winter", door_dp_pa=None):
    """Hand flow and network flow at the same pressure across the worse end's door, and what lies between them.

    door_dp_pa [Pa], by default the set point. The first rung is the closed formula, the second the network with the formula's own
    assumptions; each further one lets in something that is really there. All doors shut; the fan is taken as large enough, so the flow
    is what the stair takes and not what a fan can give. What a rung adds depends on the order: it is what it adds to those before it.
    Raises ValueError for an exhaust fan, a pressure not above zero, a weather that is not there, a building without facade leaks.
    """
    if site.fan.effect != "supply":
        raise ValueError(f"site must have a supply fan for the hand method, got a fan whose effect is {site.fan.effect!r}")
    known_weather(site, weather)
    dp = one_number(door_dp_pa=site.control.set_point_pa if door_dp_pa is None else door_dp_pa)
    if dp <= 0:
        raise ValueError(f"door_dp_pa must be above 0 Pa for the hand method, got {dp:g}")
    hand = HandStair.of(site, weather)
    end = site.storeys[0 if hand.from_bottom else -1]
    rungs, let_in, held = [Rung("hand", hand.supply_flow(dp))], set(), None
    for key in _there(site, weather):
        let_in.add(key)
        before = next(rung.flow_m3_s for rung in reversed(rungs) if rung.held)
        held = held if key == "inlet" else _held(site, weather, let_in, hand, end, dp, before)
        rungs.append(_rung(key, held))
    return FlowLadder(tuple(rungs), site, weather, dp, end.level, hand)


def _there(site, weather):
    """What can be let in, in order; what the site does not have is left out."""
    state, given, several = site.weather[weather], site.leakage, len(site.storeys) > 1
    present = {
        "exponents": (given.wall_exponent, given.door_exponent) != (0.5, 0.5),
        "outside": any(storey.stair_outside_wall_m2 or storey.final_exit_door for storey in site.storeys),
        "slabs": several,
        "lobbies": any(storey.lobby for storey in site.storeys),
        "lift": site.lift,
        "friction": several,
        "stair_c": _stair_c(site, weather) != site.temperatures.floor_c,
        "altitude": site.altitude_m,
        "wind": state.wind_speed_m_s,
        "relief": site.stair.relief,
        "second": site.second_shaft,
    }
    return [key for key in LABELS if key != "hand" and present.get(key, True)]


def _stair_c(site, weather):
    stated = site.weather[weather].stair_c
    return site.temperatures.stair_c if stated is None else stated


def _reason(key, ladder):
    site, weather, hand = ladder.site, ladder.weather, ladder.hand

    def show(value, dimension, digits=None):
        return with_unit(value, dimension, digits)

    state, given = site.weather[weather], site.leakage
    stack, ends = hand.stack_gradient_pa_m * hand.height_m, hand.end_pressures(ladder.door_dp_pa)
    return {
        "hand": f"closed formula: {hand.storeys} storeys alike, each with {show(hand.stair_area_m2, 'area')} of gaps from stair to floor "
        f"and {show(hand.facade_area_m2, 'area')} from floor to outdoors; air of {show(STANDARD_DENSITY_KG_M3, 'density')}; outdoors "
        f"{show(state.outdoor_c, 'temperature')}, stair and rooms {show(site.temperatures.floor_c, 'temperature')}; H = "
        f"{show(hand.height_m, 'length', 1)} from the middle of the lowest storey to the middle of the highest, γ H = {fine(stack)}; "
        f"Δp_b = {fine(ends[0])}, Δp_t = {fine(ends[1])}",
        "network": "nothing new: formula and network agree where they should",
        "storeys": "heights, walls and doors storey by storey, not the mean of all",
        "exponents": f"walls leak by the power {given.wall_exponent:g} of the pressure, doors by {given.door_exponent:g}; "
        "in the hand calculation both 0.5",
        "outside": "outer walls of the stair and the gaps of the final exit: no floor in between to hold the air back",
        "relief": "it leaks when shut, and lifts where the stair passes its setting",
        "slabs": "air also passes from storey to storey outside the stair",
        "lobbies": "two doors one behind the other pass less than one",
        "lift": "the floors breathe through the lift shaft and its vent",
        "second": "its fan presses on the same floors: what it brings goes out through them as well",
        "friction": "the air loses pressure on its way along the stair",
        "stair_c": f"{show(_stair_c(site, weather), 'temperature')} and not the rooms' {show(site.temperatures.floor_c, 'temperature')}: "
        "another stack effect in the stair",
        "altitude": f"{show(site.altitude_m, 'length', 0)} above sea level the air is thinner",
        "wind": f"{show(state.wind_speed_m_s, 'wind speed')} on the facades",
        "inlet": f"the fan draws outdoor air of {show(state.outdoor_c, 'temperature')}: the same mass in another volume",
    }[key]


def _rung(key, held):
    """The next rung: mass flow of the held building as standard air, or in the end as the fan counts it."""
    flow = held.air.fan_flow_m3_s if key == "inlet" else held.air.supply_kg_s / STANDARD_DENSITY_KG_M3
    there = bool(held.held[0] and held.air.converged[0])
    return Rung(key, float(flow[0]) if there else np.nan, there)


def _held(site, weather, let_in, hand, end, dp, before):
    """Air in the building with what is let in, at the pressure asked for across the end's door."""
    building, floor_c, changes = _building(site, let_in, hand), site.temperatures.floor_c, {}
    if "stair_c" not in let_in:
        changes |= {"stair_c": floor_c, "lobby_c": floor_c, "lift_c": floor_c}
    if "wind" not in let_in:
        changes["wind_speed_m_s"] = 0.0
    reference = "lobby" if end.lobby and "lobbies" in let_in else "floor"
    tap = site.transmitters[0].model_copy(update={"level": end.level, "reference": reference})
    conditions = Conditions.of(building, weather, **changes)
    for size in FAN_SIZES:
        tower = Tower(building.model_copy(update={"fan": _any_fan(site, size * before)}))
        held = tower.hold(conditions, dp, [tap], "lowest")
        if held.held[0]:
            break
    return held


def _building(site, let_in, hand):
    """The site with all that is not let in taken out."""
    doors = dict(site.doors)
    storeys = [_storey(storey, let_in) for storey in site.storeys]
    if "storeys" not in let_in:
        storeys, doors[MEAN_DOOR] = _alike(site, storeys, hand)
    stair = {} if "relief" in let_in else {"relief": None, "more_reliefs": []}
    stair |= {} if "friction" in let_in else {"friction_area_m2": WIDE_OPEN_M2}
    leakage = {} if "exponents" in let_in else {"wall_exponent": 0.5, "door_exponent": 0.5}
    changes = {
        "storeys": storeys,
        "doors": doors,
        "stair": site.stair.model_copy(update=stair),
        "leakage": site.leakage.model_copy(update=leakage),
        "lift": site.lift if "lift" in let_in else None,
        "second_shaft": site.second_shaft if "second" in let_in else None,
        "altitude_m": site.altitude_m if "altitude" in let_in else 0.0,
    }
    return site.model_copy(update=changes)


def _storey(storey, let_in):
    changes = {}
    if "outside" not in let_in:
        inner = storey.stair_wall_m2 - storey.stair_outside_wall_m2
        changes |= {"stair_wall_m2": inner, "stair_outside_wall_m2": 0.0, "final_exit_door": None}
    if "slabs" not in let_in:
        changes["floor_area_m2"] = NO_SLAB_M2
    if "lobbies" not in let_in:
        changes |= {"lobby": False, "lobby_door": None}
    if "lift" not in let_in:
        changes |= {"lift_doors": 0, "lift_shaft_wall_m2": 0.0}
    return storey.model_copy(update=changes)


def _alike(site, storeys, hand):
    """The hand method's storeys: every one the mean of all, and the door that leaks as the mean does."""
    count = len(storeys)
    wall = sum(storey.stair_wall_m2 for storey in storeys) / count
    wall_leak = sum(stair_wall_leak(site, storey) for storey in site.storeys) / count
    door = Door(width_m=DOOR_SIZE_M, height_m=DOOR_SIZE_M, leak_area_m2=(hand.stair_area_m2 - wall_leak) / site.leakage.stair_side_factor)
    mean = {
        "height_m": hand.height_m / (count - 1) if count > 1 else storeys[0].height_m,
        "stair_wall_m2": wall,
        "stair_door": MEAN_DOOR,
        "stair_door_count": 1,
        "other_stair_doors": Counts(),
        "facade_m2": (0.0, 0.0, 0.0, 0.0),
        "extra_leak_m2": hand.facade_area_m2 / site.leakage.facade_factor,  # the facade's leaks too: with one exponent it is all the same
    }
    return [storey.model_copy(update=mean) for storey in storeys], door


def _any_fan(site, full_flow_m3_s):
    """A fan so steep that it brings what its speed says, against any pressure: the flow is then what the stair takes."""
    curve = {"flows_m3_s": (0.0, full_flow_m3_s), "pressures_pa": (FAN_PRESSURE_PA, FAN_PRESSURE_PA / 1000)}
    speeds = {"reference_speed_hz": 50.0, "lowest_speed_hz": 0.05, "highest_speed_hz": 50.0}
    return site.fan.model_copy(update={**curve, **speeds, "duct_loss_pa": 0.0})
