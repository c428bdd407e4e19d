"""A supply duct as a chain of sections, from the far end of one branch past the fan to the far end of the other; and its site file.

Pressures are static, over the rooms. From section to section the duct's friction, out of every section its boxes into the rooms and what
the duct leaks by its class.

What is not modelled: velocity pressure that is regained where the flow gets less (at 8 m/s some 40 Pa, so far ends stand higher in fact),
boxes that answer to pressure: a box which holds its flow shuts a little when the pressure rises, within a minute or two, slowly beside
the loop; here a box stands where its demand has put it. The duct's own air answers within a fraction of a second.
"""

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from helpers.formulas import air, leakage
from helpers.formulas.leakage import DUCT_CLASS_COEFFICIENTS
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3
from helpers.model.air.laws import FanShare, Leak
from helpers.model.air.operating_point import Taps
from helpers.model.air.spaces import Network, Outside, Upward
from helpers.model.plants.pressure_plant import (
    PlantSite,
    PressurePlant,
    PressureTransmitter,
    ShareOfFull,
    one_share_each,
    place_is_there,
    with_effect,
)
from helpers.model.site import checks as of_stairs
from helpers.model.site.field_types import Altitude, Area, Flow, Indoor, OneOf, Quantity, Rise, SiteTable, Step, Text, Time
from helpers.model.site.schema import Control, Fan


class Duct(PressurePlant):
    """The air network of a duct site, ready to be asked about `DuctConditions`."""

    def __init__(self, site):
        super().__init__(site)
        self.places = [section.name for section in site.sections]
        self.fan_place = self.places.index(site.fan_section)
        self.taps = Taps(0, np.array([self.places.index(t.section) for t in site.transmitters]), (None,) * len(site.transmitters))
        self.density = float(air.density(site.temperature_c, self.pressure_pa))
        flows = np.array([section.boxes_flow_m3_s for section in site.sections])[:, None]
        self.boxes = self._per_root_pa(flows, site.boxes.pressure_pa)
        surface = np.array([section.surface_m2 for section in site.sections])[:, None]
        self.skin = leakage.DUCT_CLASS_COEFFICIENTS[site.duct_class] * surface * self.density
        # A piece of duct belongs to the section farther from the fan of the two that it joins.
        farther = [*site.sections[: self.fan_place], *site.sections[self.fan_place + 1 :]]
        self.ducts = np.array([[self._per_root_pa(section.loss_flow_m3_s, section.loss_pa)] for section in farther])

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        still = np.zeros((1, len(conditions)))
        wide = np.ones((len(self.places), len(conditions)))
        shut = self.site.boxes.shut_leak
        boxes = self.boxes * (shut + (1 - shut) * conditions.opening.T)
        fan = FanShare(self.curve, 1.0, self.effect, np.asarray(ratio, float)[None, :], self.density + still)
        openings = [
            Upward(0, Leak(self.ducts * wide[1:], 0.5), 0 * wide[1:]),
            Outside(0, Leak(boxes, 0.5), 0 * wide),
            Outside(0, Leak(self.skin * wide, leakage.DUCT_EXPONENT), 0 * wide),
            Outside(0, fan, still, self.fan_place, self.fan_place + 1),
        ]
        return Network(1, len(self.places), len(conditions), openings)

    def _per_root_pa(self, flow_m3_s, loss_pa):
        """Mass flow at 1 Pa [kg/(s Pa^0.5)] of what costs a loss at a flow of standard air."""
        return flow_m3_s * np.sqrt(self.density * REFERENCE_DENSITY_KG_M3 / loss_pa)


class DuctSection(SiteTable):
    """A piece of duct with the boxes on it. `loss_pa` at `loss_flow_m3_s` is what the duct costs that brings the air here from the
    neighbour nearer the fan; the fan's own section has none (its losses stand at the fan). `zones`: how many its boxes serve, all alike."""

    name: Text
    surface_m2: Area
    boxes_flow_m3_s: Flow = 0.0
    zones: Annotated[int, Field(ge=1, le=1000)] = 1
    loss_pa: Rise | None = None
    loss_flow_m3_s: Annotated[float, Quantity("flow", "4 m3/s", low=0, high=1e5, open_low=True)] | None = None


class Boxes(SiteTable):
    """What the terminal boxes are like: `boxes_flow_m3_s` of a section passes its open boxes at `pressure_pa` in the duct, and a share
    `shut_leak` of the open area stays when they are shut; `stroke_s`: time of their actuators from shut to wide open."""

    pressure_pa: Annotated[float, Quantity("pressure", "125 Pa", low=0, high=5000, open_low=True)]
    shut_leak: ShareOfFull = 0.0
    stroke_s: Step | None = None


class Reset(SiteTable):
    """The set point reset by the zones' requests, trim and respond: from `lowest_pa` to `highest_pa`, at `start_pa` (None: the loop's set
    point) for `hold_s` after a start; every `interval_s` down by `trim_pa`, or, where more than `ignored` zones ask, up by `respond_pa`
    for each one more, `respond_most_pa` at the most. A zone asks from a damper at `asks_above` on until it is back at `asks_until`."""

    lowest_pa: Rise
    highest_pa: Rise
    start_pa: Rise | None = None
    hold_s: Time
    interval_s: Step
    trim_pa: Rise
    respond_pa: Rise
    respond_most_pa: Rise
    ignored: Annotated[int, Field(ge=0, le=1000)]
    asks_above: ShareOfFull
    asks_until: ShareOfFull

    def start(self, site):
        """The set point after a start [Pa]."""
        return site.control.set_point_pa if self.start_pa is None else self.start_pa


class DuctControl(Control):
    """The loop of a duct; `reset`: how its set point follows the zones' requests, where it does."""

    reset: Reset | None = None


class BoxDemand(SiteTable):
    """A state of demand: how far the boxes of each section stand open, as a share of their free area."""

    opening: Annotated[tuple[ShareOfFull, ...], Field(strict=False, min_length=1)]


class DuctTransmitter(PressureTransmitter):
    """High side in a section of the duct, low side in the rooms."""

    section: Text


def sections_hang_on_the_fan(draft):
    """The fan blows into a section that is there, and every other section states what it costs to get there."""
    names = [section.name for _, section in draft.items("sections")]
    at = draft.sections.get("fan_section")
    if draft.whole("sections", "fan_section") and at not in names:
        yield ("fan_section",), f"must be one of the sections ({', '.join(map(repr, names))}); got {at!r}"
        return
    for number, section in draft.items("sections"):
        if names.count(section.name) > 1:
            yield ("sections", number, "name"), f"must differ from the other sections'; {section.name!r} is there more than once"
        lost = (section.loss_pa, section.loss_flow_m3_s)
        if at is not None and section.name == at and lost != (None, None):
            yield ("sections", number, "loss"), "must be left out where the fan blows in: the fan's own losses stand under [fan]"
        if at is not None and section.name != at and (None in lost or not section.loss_pa):
            yield ("sections", number, "loss"), "must be stated with loss_flow and be above 0 Pa: no duct brings air for nothing"


def boxes_take_air(draft):
    """Some section has boxes."""
    if draft.whole("sections") and not any(section.boxes_flow_m3_s for _, section in draft.items("sections")):
        yield ("sections",), "leave the air nowhere to go: boxes_flow is 0 m3/s in every section"


def reset_is_in_order(draft):
    """A reset moves between ends that every transmitter reads, its steps can move it, and it keeps out of smoke control."""
    control = draft.sections.get("control")
    reset = None if control is None else control.reset
    if reset is None:
        return
    at = ("control", "reset")
    if control.fire_mode:
        yield at, "must be left out where fire_mode is true: no request of a zone moves the set point of a fan in smoke control"
    if not 0 < reset.lowest_pa < reset.highest_pa:
        yield (*at, "highest"), f"must be above lowest, {reset.lowest_pa:g} Pa, and that above 0 Pa; got {reset.highest_pa:g} Pa"
    start = control.set_point_pa if reset.start_pa is None else reset.start_pa
    if not reset.lowest_pa <= start <= reset.highest_pa:
        whose = "start" if reset.start_pa is not None else "set_point, at which it starts,"
        yield (*at, "start"), f"must be from lowest to highest, {reset.lowest_pa:g} to {reset.highest_pa:g} Pa; got {whose} {start:g} Pa"
    for _, tap in draft.items("transmitters"):
        if not tap.range_low_pa <= reset.lowest_pa or not reset.highest_pa <= tap.range_high_pa:
            span = f"{tap.range_low_pa:g} to {tap.range_high_pa:g} Pa of {tap.name!r}"
            yield (*at, "highest"), f"must lie with lowest in the range, {span}; got {reset.lowest_pa:g} to {reset.highest_pa:g} Pa"
    if not reset.trim_pa or not reset.respond_pa or reset.respond_most_pa < reset.respond_pa:
        steps = f"trim {reset.trim_pa:g}, respond {reset.respond_pa:g}, respond_most {reset.respond_most_pa:g} Pa"
        yield (*at, "respond_most"), f"must be at least respond, and trim and respond above 0 Pa; got {steps}"
    if not 0 < reset.asks_until <= reset.asks_above:
        yield (*at, "asks_until"), f"must be above 0 and no more than asks_above, {reset.asks_above:g}; got {reset.asks_until:g}"
    zones = sum(section.zones for _, section in draft.items("sections") if section.boxes_flow_m3_s)
    if draft.whole("sections") and reset.ignored >= zones:
        yield (*at, "ignored"), f"must be below the number of zones, {zones}, or nobody is ever heard; got {reset.ignored}"


class DuctSite(PlantSite):
    """A supply duct as a chain of sections from one far end to the other, the fan at one of them."""

    checks: ClassVar[tuple] = (
        sections_hang_on_the_fan,
        boxes_take_air,
        one_share_each("demand", "opening", "sections"),
        of_stairs.fan_curve_falls,
        of_stairs.drive_can_slow_the_wheel,
        of_stairs.tubes_are_whole,
        with_effect("supply", "the fan blows into the duct"),
        place_is_there("transmitters", "section", "sections"),
        of_stairs.names_are_single,
        of_stairs.counts_have_limits,
        of_stairs.ranges_stand_upright,
        of_stairs.set_point_is_measured,
        of_stairs.rule_is_complete,
        of_stairs.low_demand_keeps_out_of_fire,
        reset_is_in_order,
    )

    kind: Literal["duct"]
    altitude_m: Altitude
    temperature_c: Indoor
    duct_class: Annotated[str, OneOf(tuple(DUCT_CLASS_COEFFICIENTS))]
    fan_section: Text
    sections: Annotated[list[DuctSection], Field(min_length=2)]
    boxes: Boxes
    demand: Annotated[dict[str, BoxDemand], Field(min_length=1)]
    fan: Fan
    transmitters: Annotated[list[DuctTransmitter], Field(min_length=1)]
    control: DuctControl
