"""The fan that a stair asks for, whatever fan the site file states: flow and pressure at the set point, with margins, and how the stated
fan compares.

The air is found with an ideal source in place of the fan: whatever flow the set point takes, against any pressure, shared among the outlets
as the site file says. So neither the stated fan nor its highest speed has a say in what is to be bought.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.formulas import fan as fans
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3, branch_loss, inlet_density_ratio, pressure_against
from helpers.model.air.tower import ideal_fan
from helpers.model.site.criteria import criteria_for
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import Case, cases_text, conditions_of, design_states_doors, with_required
from helpers.studies.report import MOST_FAN_PA, NETWORK, NO_FAN_GIVES, SITE_FILE, Finding, Table
from helpers.units.said import with_unit

MARGINS_SOURCE = "BS 5588-4 / EN 12101-6 practice, from memory, not verified: leakage x 1.5, ducts 15 %"
MOST_DUCT_SHARE = 0.5  # of the fan's pressure, ours: beyond it a larger duct saves more than a larger fan brings
FAN_ALONE = "Can the fan stated hold it?"
WRONG_WAY = "a fan that moves the air the other way ([fan] effect in the site file), or a set point on the other side of zero"
BEYOND_USUAL = f"a pressure that is {NO_FAN_GIVES}: they end at {{}}, above it air's density changes in them (common practice, no source)"
LOWEST, FAN_STATED = (("fan", "lowest speed in smoke control"),), (("fan", "the fan that all of this holds for"),)  # of the schedule


@dataclass(frozen=True)
class FanNeeded:
    """What is asked of the fan; arrays [cases] unless said otherwise.

    required: whether the design has to hold the case; reached: whether any fan at all can. taken_m3_s, taken_pa: what the stair takes at
    the set point, flow at the inlet and pressure with the duct's loss; flow_m3_s, pressure_pa: the same with margins, what is to be bought.
    held_hz: the speed at which the stated fan would give taken_..., margin_hz the one for flow_...; highest_hz the most it may run at in
    smoke control; stated_pa what it gives at that speed and flow_m3_s. density_ratio: of the air at the inlet over standard air's; all
    pressures and powers are of the case's own air, a catalogue curve is of standard air. design_stated: whether the site states its open
    doors; whose_doors: which standard says which, in words; wrong_way: whether an exhaust fan is to hold more than nothing, a supply fan
    less. duct_pa: the duct's part of pressure_pa; beside: whether every transmitter reads beside a door that the case opens."""

    cases: tuple[Case, ...]
    required: np.ndarray
    reached: np.ndarray
    taken_m3_s: np.ndarray
    taken_pa: np.ndarray
    flow_m3_s: np.ndarray
    pressure_pa: np.ndarray
    held_hz: np.ndarray
    margin_hz: np.ndarray
    stated_pa: np.ndarray
    density_ratio: np.ndarray
    lowest_hz: float
    highest_hz: float
    reference_hz: float
    curve: tuple[tuple[float, ...], tuple[float, ...]]
    efficiency: float
    leakage_margin: float
    duct_leak_margin: float
    source: str
    design_stated: bool
    wrong_way: bool
    whose_doors: str
    duct_pa: np.ndarray
    beside: np.ndarray

    @property
    def held(self):
        """Whether the stated fan holds each case, without margins."""
        return self.reached & (self.held_hz <= self.highest_hz) & ~self.too_large

    @property
    def too_large(self):
        """Whether even the lowest speed of the stated fan gives more than each case takes."""
        return self.reached & (self.held_hz < self.lowest_hz)

    @property
    def only_too_large(self):
        """Whether nothing but a lowest speed too high keeps the stated fan from holding a required case."""
        return bool(not self.enough and (self.held | self.too_large)[self.required].all())

    @property
    def slower(self):
        """The lowest speed at which the stated fan holds the required cases that it gives too much in, in words; "" where there is none."""
        hertz = np.floor(self.held_hz[self.required & self.too_large].min(initial=np.inf))
        if hertz < 1:
            return "no speed of this fan helps: the air comes from elsewhere, or others draw it"
        return slower_said(hertz) if np.isfinite(hertz) else ""

    @property
    def with_margins(self):
        """Whether the stated fan holds each case and its margins."""
        return self.held & (self.margin_hz <= self.highest_hz)

    @property
    def large_enough(self):
        """Whether the stated fan brings every required case with its margins, a lowest speed too high left aside."""
        return bool(((self.held | self.too_large) & (self.margin_hz <= self.highest_hz))[self.required].all())

    @property
    def enough(self):
        """Whether the stated fan holds every required case, margins left aside."""
        return bool(self.held[self.required].all())

    @property
    def asked(self):
        """(case, speed [Hz] at which the stated fan holds it, the same with the margins; infinite where it does not) of the required."""
        rows = zip(self.cases, np.where(self.held, self.held_hz, np.inf).tolist(), self.margin_hz.tolist(), self.required, strict=True)
        return tuple(row[:3] for row in rows if row[3])

    @property
    def design(self):
        """Place of the required case that asks for most flow of those that a fan can hold at all."""
        return self._most(self.required & self.reached, self.flow_m3_s)

    @property
    def standard_pa(self):
        """pressure_pa as a catalogue curve has to give it [cases]: in standard air. Equation: p / (density / 1.2 kg/m3), fan laws."""
        return self.pressure_pa / self.density_ratio

    @property
    def steepest(self):
        """Place of the required case that asks for most pressure on a catalogue curve."""
        return self._most(self.required & self.reached, self.standard_pa)

    @property
    def worst(self):
        """Place of the required case at which the stated fan falls shortest."""
        return self._most(self.required, np.where(self.reached, self.margin_hz, np.inf))

    @property
    def shaft_power_w(self):
        """Most shaft power at the duties to be bought, at the efficiency stated."""
        chosen = self.required & self.reached
        return float(fans.shaft_power_w(self.flow_m3_s, self.pressure_pa, self.efficiency)[chosen].max()) if chosen.any() else float("nan")

    @property
    def usual(self):
        """Whether a usual fan gives the pressure that is asked for."""
        return bool(self.standard_pa[self.steepest] <= MOST_FAN_PA)

    @property
    def first(self):
        """What comes before a fan of such a duty, in words: another place for the transmitters, or another duct; "" where nothing does."""
        if not self.usual and self.beside[self.steepest]:
            return "move the transmitters: each reads beside a door that the design opens, and no such fan can hold it"
        if self.duct_pa[self.steepest] > MOST_DUCT_SHARE * self.pressure_pa[self.steepest]:
            taken = self.duct_pa[self.steepest]  # by the square law: far above what the duct is stated for a figure only misleads
            much = f"{with_unit(taken, 'pressure')} of that" if taken <= MOST_FAN_PA else NO_FAN_GIVES
            return f"a larger duct: it takes {much}"
        return "" if self.usual else "several supply points"

    @property
    def states(self):
        """Status of each case: past what the fan gives is "wrong" where required, else "attention"."""
        short = np.where(self.required, "wrong", "attention")
        return tuple(np.select([~self.held, ~self.with_margins], [short, "attention"], "good").tolist())

    def duty_text(self):
        """Flow and pressure to be bought, in words: the largest of each, at one point where one case asks for both; the pressure as a
        catalogue has it, and in the air of the case."""
        place, standard = self.steepest, REFERENCE_DENSITY_KG_M3
        flow = with_unit(self.flow_m3_s[self.design], "flow")
        catalogue, own = (with_unit(values[place], "pressure") for values in (self.standard_pa, self.pressure_pa))
        air, thin = (with_unit(value, "density") for value in (standard, standard * self.density_ratio[place]))
        said = f"{flow} against {catalogue} on its catalogue curve at the highest speed that it runs at in smoke control"
        return f"{said} (standard air, {air}; {own} in the air of {self.cases[place].name}, {thin})"

    def margins_text(self):
        """The margins in words."""
        return f"leaks x {1 + self.leakage_margin:g}, duct {100 * self.duct_leak_margin:g} %"

    def stated_text(self):
        """The fan that the site file states, in words."""
        (_, *flows), (shutoff, *pressures) = self.curve
        flow, pressure = with_unit(flows[-1], "flow"), with_unit(pressures[-1], "pressure")
        ends = f"{with_unit(shutoff, 'pressure')} without flow, {flow} at {pressure}, in standard air"
        return f"the fan stated ({ends}, at {self.reference_hz:g} Hz; up to {self.highest_hz:g} Hz)"

    def short_text(self, place):
        """By how much the stated fan falls short of a case, or what it has to spare, in words."""
        if not self.reached[place]:
            return f"no fan of any size holds the set point: {self._why_none()}"
        pairs = (self.taken_m3_s[place], self.taken_pa[place]), (self.flow_m3_s[place], self.pressure_pa[place])
        taken, asked = (f"{with_unit(flow, 'flow')} against {_told_pa(pressure)}" for flow, pressure in pairs)
        stated = float(self.stated_pa[place])
        given = f"{with_unit(stated, 'pressure') if stated > 0 else 'no pressure'} at that flow at its full {self.highest_hz:g} Hz"
        return f"the stair takes {taken}, with margins {asked}; the fan stated gives {given}: {self._spare(place)}"

    def said(self, inside=True, barred=False):
        """Enough or not, and what is to be bought, in a sentence or two.

        barred: whether the stated fan's highest speed is one that nobody may enter, and no lower one holds all.

        inside: whether every door is inside its window at this set point with all doors closed. The word buy stands only where that is so
        and every required case is held.
        """
        if not self.reached[self.required].all():
            names = self._names(self.required & ~self.reached)
            return f"Not enough: no fan of any size holds the set point in {names}: {self._why_none()}."
        if not inside:
            first = "the set point" if self.usual else self.first
            return f"No fan is to be chosen yet: first {first}. What the file's would ask for is a what-if, see fan and drive."
        asked = self._asked()
        if not self.enough:
            large, short = self.required & self.too_large, self._short
            told = [f"Too large: even at its lowest speed the fan stated gives more than is taken in {self._names(large)}. First "
                    f"{self.slower}."] * bool(large.any())  # fmt: skip
            if self.only_too_large and self.large_enough:
                return f"{told[0]} It is large enough with margins ({self._spare(self.worst)} in {self.cases[self.worst].name})."
            told += [f"Not enough: {self.not_held_said()} ({self._spare(self.worst)})."] * bool(short.any())
            every = [] if self.design_stated else ["Every case counts, as the site file states no doors that the design takes as open."]
            return " ".join((*told, f"The required cases ask for {asked}.", *every))
        spare = f"({self._spare(self.worst)} in {self.cases[self.worst].name})"
        anew = "gain, fallback and alarms hold for the fan stated, with another one they are worked out anew"
        if self.with_margins[self.required].all():
            if barred:
                return (
                    f"No fan is to be kept or bought yet: {self.stated_text()} holds every required case with its margins {spare}, "
                    f"but no highest speed of it suits doors and final exits: first what helps there. The required cases ask for {asked}."
                )
            return (
                f"Keep {self.stated_text()} or buy one of the same curve: it holds every required case with its margins {spare}. The "
                f"required cases ask for {asked}; a fan chosen for that alone is another fan: {anew}."
            )
        held = f"The fan stated holds every required case, but not with these margins {spare}"
        return f"Buy a fan for {asked}. {held}; {anew}." if self.usual else f"No fan is to be bought yet. {held}; these ask for {asked}."

    @property
    def _short(self):
        return self.required & ~self.held & ~self.too_large

    def not_held_said(self):
        """Which required cases the stated fan does not hold, in words."""
        return f"the fan stated does not hold {self._names(self._short if self._short.any() else self.required & self.too_large)}"

    def verdict(self, said, inside=True):
        """What is to be bought as said, with the fan that was computed with, and the case in which it falls shortest."""
        worst = f"{self.cases[self.worst].name}: {self.short_text(self.worst)}"
        if not inside and self.reached[self.required].all():
            return (
                f"No fan is to be chosen yet: first the set point. What if the file's stood: the required cases would ask for "
                f"{self._asked()}. Computed with {self.stated_text()}. Least to spare, {worst}."
            )
        return f"{said} Computed with {self.stated_text()}. Least to spare, {worst}."

    def _asked(self):
        if not self.usual:  # a figure would only be bought by
            return f"{BEYOND_USUAL.format(with_unit(MOST_FAN_PA, 'pressure'))}: first {self.first}; else another concept"
        said = f"{self.duty_text()} with margins ({self.margins_text()}), {with_unit(self.shaft_power_w, 'power')} at the shaft"
        return "; first ".join(filter(None, (said, self.first)))

    def _why_none(self):
        away = f"it moves the air the other way. First {WRONG_WAY}"
        return away if self.wrong_way else "the reading does not answer, or another door would have to be closed"

    def _names(self, chosen):
        return cases_text(self.cases[place] for place in np.flatnonzero(chosen))

    def _spare(self, place):
        without, margins = (_share(100 * (self.highest_hz / hz[place] - 1)) for hz in (self.held_hz, self.margin_hz))
        return f"its full speed is {without}, with margins {margins}"

    def findings(self, inside=True):
        """Whether the stated fan is enough, with margins, and whether the design has been asked which doors stand open; inside as said."""
        figure = f"{self.cases[self.worst].name}: {self.short_text(self.worst)}"
        remedy = "another place for the transmitters"
        if self.reached[self.required].all():
            remedy = f"a fan for {self._asked()}" if self.usual else self.first
        remedy = remedy if inside or not self.usual else "no fan yet: first a set point that stands; the figures are a what-if"
        remedy = WRONG_WAY if self.wrong_way else remedy
        if not self.enough:
            what = "Not enough: the fan stated does not hold every required case"
            if self.only_too_large:
                what = "Too large: even at its lowest speed the fan stated gives too much"
                remedy = self.slower if self.large_enough else f"{self.slower}; then {remedy}"
            yield Finding("wrong", what, figure,
                          "required: all doors closed in every weather, the design's open doors, and these with the exits or any one shut",
                          NETWORK, remedy, key="fan", settings=LOWEST if self.only_too_large else FAN_STATED)  # fmt: skip
        elif not self.with_margins[self.required].all():
            yield Finding("attention", "The fan stated holds every required case, but not with the margins", figure,
                          f"{self.margins_text()}: a building leaks more than its drawings say", self.source, remedy)  # fmt: skip
        elif not inside:
            yield Finding("open", "No fan is laid down: first the set point", figure,
                          "at the file's set point it would hold every required case with its margins", self.source, remedy)  # fmt: skip
        else:
            yield Finding("good", "The fan stated holds every required case with its margins", figure, self.margins_text(), self.source)
        if not self.design_stated:
            yield Finding("attention", "The site file does not state which doors the design takes as open at once", "every case counts",
                          self.whose_doors, SITE_FILE,
                          "ask the authority having jurisdiction, and state [design] open_doors and open_exits")  # fmt: skip

    def table(self, stands="at the outlet that is hardest to reach"):
        """All cases, a row each; stands: where the pressure is that the fan stands against, in words."""
        columns = ("Case", "Required", "Stair takes", "With margins", "Pressure with margins", "In standard air", FAN_ALONE)
        rows = tuple(self._row(place) for place in range(len(self.cases)))
        note = (
            f"Margins: {self.margins_text()} ({self.source}). Leaks are multiplied, air through open doors is not. Pressure: in the "
            f"air of the case, {stands}; in standard air: as a catalogue has it. The verdict is of the fan alone: no door is judged here."
        )
        return Table("fan_needed", "What is asked of the fan, whatever fan is stated", columns, rows, self.states, note)

    def _row(self, place):
        required = "yes" if self.required[place] else "no"
        if not self.reached[place]:
            return (self.cases[place].name, required, "", "", "", "", self.short_text(place))
        flows = [with_unit(flow[place], "flow") for flow in (self.taken_m3_s, self.flow_m3_s)]
        pressures = [_told_pa(pressure[place]) for pressure in (self.pressure_pa, self.standard_pa)]
        return (self.cases[place].name, required, *flows, *pressures, self._compared(place))

    def _compared(self, place):
        word = {"wrong": "not enough", "attention": "held, margins not" if self.held[place] else "not held", "good": "enough"}
        return f"{word[self.states[place]]}: {self._spare(place)}"

    @staticmethod
    def _most(chosen, values):
        chosen = chosen if chosen.any() else np.ones_like(chosen)
        return int(np.argmax(np.where(chosen, values, -np.inf)))


def _told_pa(pressure_pa):
    """A fan's pressure in words; above what a usual one gives a figure only misleads."""
    return with_unit(pressure_pa, "pressure") if pressure_pa <= MOST_FAN_PA else NO_FAN_GIVES


def slower_said(hertz):
    """A lower lowest speed as a remedy, in words."""
    return f"a lowest speed of {hertz:.0f} Hz or less, if the motor's cooling allows it: the loop holds its set point there"


def _share(percent):
    return f"{abs(percent):.0f} % {'to spare' if percent >= 0 else 'short'}"


def fan_needed(tower, cases, rule, set_point_pa, transmitters=None, leakage_margin=None, duct_leak_margin=None):
    """What the stair of a tower asks of a fan that holds a set point by a rule.

    cases: of `Case`; those that the site's design states and that are not among them are added. leakage_margin: what is added to the leaks,
    as a share of them; duct_leak_margin: to the flow; by default the site's own (of a box the high end), else the usual ones. Returns
    `FanNeeded`. Raises ValueError for a margin that is not from 0 to 10. Equations: flow = (taken + margin x leaks) x (1 + duct), leaks
    being what the same weather takes with all doors closed; pressure = that of the stair at the outlet that is hardest to reach (of
    the riser, outlets shared alike), and the losses of duct and branches, by the square law, at the flow with margins.
    Limits: the stair at the set point; system effect and a dirty intake are not in it.
    """
    site = tower.site
    asked, required = with_required(site, cases)
    leak, duct, source = _margins(site, leakage_margin, duct_leak_margin)
    closed = tuple(_closed(case) for case in asked)
    ideal = ideal_fan(tower)
    conditions = conditions_of(site, asked + closed, ideal)  # the stair cools by the air that it is given, not by the stated fan's
    held = ideal.hold(conditions, set_point_pa, transmitters, rule, site.control.weights if rule == "weighted" else None)
    count, density = len(asked), inlet_density_ratio(tower, conditions)
    flow = held.air.fan_flows_m3_s.sum(axis=-1)
    stands = np.maximum(pressure_against(tower, held.air).max(axis=-1), 0.0)[:count]
    taken, leaks = flow[:count], np.where(held.held[count:], np.minimum(flow[count:], flow[:count]), flow[:count])
    bought = (taken + leak * leaks) * (1 + duct)
    own, density, branches = site.fan, density[:count], branch_loss(tower, held.air)[:count]
    curve = own.flows_m3_s, own.standard_pressures_pa

    def duct_pa(through):
        return own.duct_loss_pa * (through / own.duct_loss_flow_m3_s) ** 2 * density

    def pressure(through):
        return stands + duct_pa(through) + branches * ((through / np.where(taken > 0, taken, 1.0)) ** 2 - 1)

    def speed(through):
        return own.reference_speed_hz * fans.speed_for_duty(through, pressure(through) / density, *curve)

    lowest, highest = own.speed_limits_hz(site.control.fire_mode)
    given = fans.pressure_at_flow(bought, *curve, highest / own.reference_speed_hz, beyond="extend") * density
    levels = {tap.level for tap in (site.transmitters if transmitters is None else transmitters)}
    beside = np.array([levels <= {*case.open_doors} for case in asked])
    return FanNeeded(
        asked, required, held.held[:count], taken, pressure(taken), bought, pressure(bought), speed(taken), speed(bought), given,
        density, lowest, highest, own.reference_speed_hz, (tuple(own.flows_m3_s), own.standard_pressures_pa), own.efficiency, leak, duct,
        source, design_states_doors(site), tower.effect * float(set_point_pa) < 0, _whose_doors(site),
        duct_pa(bought), beside,
    )  # fmt: skip


def _whose_doors(site):
    """Which standard says which doors are taken as open at once, in words: the site's own."""
    name, said = criteria_for(site).name, "the number of doors that are open at once is an input of the design"
    return f"{said}, NFPA 92 4.4.2.1.5 (from memory, not verified)" if name.startswith("NFPA") else f"{said}: see what {name} takes as open"


def _closed(case):
    return type(case)(**(vars(case) | {"open_doors": (), "open_exits": ()}))


def _margins(site, leakage_margin, duct_leak_margin):
    """(leaks nobody knows, as a share of those that are known; the duct's share; source) of the arguments, else of the site, else usual."""
    known, given, told, margins = boxes(site), (leakage_margin, duct_leak_margin), [], []
    for name, value in zip(("leakage_margin", "duct_leak_margin"), given, strict=True):
        box = known[f"design.{name}"]
        if value is None:
            value = box.high if box.stated else box.likely
            told.append((site.design.source or box.source) if box.stated else MARGINS_SOURCE)
        margins.append(float(require.between(0, 10, **{name: value})))
    return *margins, "; ".join(dict.fromkeys(told)) or "as asked"
