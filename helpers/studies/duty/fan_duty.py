"""Fan duty: what the stated fan gives in each case, at which speed and power, what is left at full speed, and whether it is enough.

For lesson 02 Larkfield House, built tighter or looser, in still air, so that only leaks, weather and doors differ; beside the network the
hand method, which sees storeys alike and doors shut.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from helpers.formulas import air
from helpers.formulas import fan as fans
from helpers.formulas.combining import combine
from helpers.model.air.fan import electric_power_w, fan_points, inlet_density_ratio, pressure_against
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import FIRST_MINUTE, Case, conditions_of
from helpers.studies.duty.fan_needed import LOWEST, FanNeeded, fan_needed
from helpers.studies.duty.full_speed import FullSpeed, full_speed
from helpers.studies.duty.hand_method import HandStair, flow_ladder
from helpers.studies.duty.motor_feed import motor_finding, motor_said, plate_said
from helpers.studies.duty.permissible_speed import check_said
from helpers.studies.duty.relief_damper import low_damper, one_damper_alone, open_share
from helpers.studies.readings.rules import RuleComparison, allowed_pressures, compare_rules
from helpers.studies.report import NETWORK, PRACTICE, WRONG_FAN, Finding, Shown
from helpers.studies.status import word_of, worst_of
from helpers.units.said import with_unit

# From alarm to pressure of a fan, and to the end of travel of a damper: NFPA 92 and IBC, in one edition; from memory, not verified.
ACTIVATION_S, DAMPER_S = 60.0, 75.0
DURATION_S, EGRESS_TIMES = 1200.0, 1.5  # that a system has to run, the greater of both: IBC 909.4.6, from memory, not verified
ROOM_IN_SPEED = 0.05  # ours: full speed should be at least this much above the duty speed, or nothing is left for a leakier building


@dataclass(frozen=True)
class Duty(Shown):
    """Duty points by case; all arrays [cases].

    flow_m3_s at the fan's inlet; pressure_pa the fan's own, duct loss included; shaft_power_w, electric_power_w; shutoff_speed_hz: at
    which the fan only just makes the stair's pressure with no flow. full_...: at full speed in smoke control, but
    full_shaft_power_w at highest_hz, the drive's own highest speed. needed: what the stair asks for, whatever fan
    is stated; full: what full speed does to the doors; inside: whether all are in their window, doors closed; damper_first: `low_damper`.
    """

    cases: tuple[Case, ...]
    state: np.ndarray
    set_point_pa: float
    reading_pa: np.ndarray
    flow_m3_s: np.ndarray
    pressure_pa: np.ndarray
    speed_hz: np.ndarray
    shaft_power_w: np.ndarray
    electric_power_w: np.ndarray
    shutoff_speed_hz: np.ndarray
    full_speed_hz: float
    full_flow_m3_s: np.ndarray
    full_reading_pa: np.ndarray
    full_shaft_power_w: np.ndarray
    highest_hz: float
    motor_power_w: float
    needed: FanNeeded
    full: FullSpeed
    inside: bool
    damper_first: tuple[Finding, ...] = ()

    @property
    def design(self):
        """Place of the case of most flow among those that the stated fan holds, else among all; what is to be bought: `needed`."""
        held = self.state == "held"
        return int(np.argmax(np.where(held | ~held.any(), self.flow_m3_s, -np.inf)))

    @property
    def lowest_speed_hz(self):
        """The highest of the shut-off speeds of the cases that are held: no slower can the fan hold the set point in all of them."""
        held = self.state == "held"
        return float(self.shutoff_speed_hz[held | ~held.any()].max())

    @property
    def speed_margin(self):
        """Full speed over duty speed, less one."""
        return self.full_speed_hz / self.speed_hz - 1

    @property
    def motor_speed_said(self):
        """The speed that the motor is judged at, the drive's own highest, in words; beside that of smoke control where it differs."""
        if self.highest_hz == self.full_speed_hz:
            return f"full speed, {self.full_speed_hz:g} Hz,"
        return f"the drive's own highest speed of {self.highest_hz:g} Hz (full speed in smoke control is {self.full_speed_hz:g} Hz)"

    @property
    def motor_load(self):
        """Largest shaft power at the drive's own highest speed in any case, as a share of the motor's plate."""
        return float(self.full_shaft_power_w.max() / self.motor_power_w)

    motor_short = property(lambda self: self.motor_load > 1)  # the stated motor is too small for the stated fan
    motor_said = motor_said

    @property
    def holds(self):
        """Whether the stated fan holds every required case."""
        asked = self.needed.required[: len(self.cases)]
        return self.needed.enough and bool((self.state == "held")[asked].all())

    @property
    def barred(self):
        """Whether the fan stated is not kept, as no highest speed of it may be entered."""
        return self.full.limited and self.full.cap_hz is None and bool(self.full.beyond_lasting(self.full.full_hz))

    def said(self):
        """What to buy, in a sentence or two."""
        if self.damper_first:
            return f"No fan is to be chosen yet: {self.damper_first[0].remedy}; it {self.damper_first[0].figure}."
        return f"{self.needed.said(self.inside, self.barred)}{f' {self.faster}.' * bool(self.faster)}"

    @property
    def faster(self):
        """That the fan stated, where it is kept, may be run faster than its curve stands for, in words; "" where not."""
        kept = self.inside and self.holds and self.needed.large_enough and not self.barred
        return check_said(self.needed.reference_hz, self.highest_hz) if kept else ""

    @property
    def fan_open(self):
        """Whether no fan is laid down yet, neither the one stated nor one to buy: what its motor has to bear hangs on it."""
        kept = self.holds and self.needed.large_enough
        unknown = self.barred if kept else not self.needed.large_enough and not self.needed.usual
        return not self.inside or bool(self.damper_first) or not self.needed.reached[self.needed.required].all() or unknown

    another = property(lambda self: self.inside and not self.motor_short and not self.needed.large_enough)  # a fan for the motor

    def verdict(self):
        """Fan and motor in plain words."""
        required, held, spare = self.needed.required, self.needed.held, self.needed.with_margins
        cases = f"{int(held[required].sum())} of {int(required.sum())} required cases, with margins in {int(spare[required].sum())}"
        return f"{self.needed.verdict(self.said(), self.inside)} It holds the set point in {cases}. {plate_said(self)}"

    def findings(self):
        """What is wrong with fan and motor, and what only just fits."""
        yield from self.damper_first
        for one in self.needed.findings(self.inside):
            yield replace(one, caused_by="damper") if self.damper_first and one.severity == "wrong" else one
        yield from self._short_findings()
        for place, case in enumerate(self.cases):
            yield from self._case_finding(place, case)
        yield motor_finding(self)
        for finding in self.full.findings():
            yield replace(finding, caused_by="fan") if self.needed.wrong_way else finding

    def short_key(self, place):
        """Key of the one finding that this case and others like it are not held; "" where it is held."""
        if self.state[place] not in ("at full speed", "at lowest speed"):
            return ""
        return "fan" if self.needed.wrong_way else f"{self.state[place]}, {self._short(place)}"

    def _short_findings(self):
        larger = WRONG_FAN if self.set_point_pa < 0 else ("a larger fan, tighter doors, or a lower set point; the local code says which "
                                                          "doors must be taken as open in the design")  # fmt: skip
        ends = {"at full speed": ("The fan cannot hold the set point", "the leaks or open doors take more than the fan gives", larger, ()),
                "at lowest speed": ("The drive cannot go slow enough", "even the lowest speed gives more than the set point",
                                    self.needed.slower or "range, low sides, rule and set point first", LOWEST)}  # fmt: skip
        keys = [self.short_key(place) for place in range(len(self.cases))]
        for key in dict.fromkeys(key for key in keys if key not in ("", "fan")):
            alike = [place for place, other in enumerate(keys) if other == key]
            place = max(alike, key=lambda one: abs(self.reading_pa[one] - self.set_point_pa))
            what, why, remedy, settings = ends[self.state[place]]
            where = f"{self.cases[place].name}{f' and {len(alike) - 1} more' * (len(alike) > 1)}"
            shown, target = (with_unit(value, "pressure") for value in (self.reading_pa[place], self.set_point_pa))
            yield Finding(self._short(place), f"{what}: {where}", f"{shown} {self.state[place]}, set point {target}", why, NETWORK, remedy,
                          key=key, caused_by="fan", settings=settings)  # fmt: skip

    def _case_finding(self, place, case):
        if self.state[place] == "not found":
            yield Finding("wrong", f"No steady state found: {case.name}", "", "the network did not settle", NETWORK,
                          "do not rely on this case")  # fmt: skip
        elif self.state[place] == "held" and self.needed.required[place] and self.speed_margin[place] < ROOM_IN_SPEED:
            spare = f"{100 * self.speed_margin[place]:.0f} % above the duty speed; {self.needed.table().rows[place][-1]}; doors apart"
            yield Finding("attention", f"Little speed left: {case.name}", spare, "leaks are more than drawn", PRACTICE, "a larger fan")

    def _short(self, place):
        return "wrong" if self.needed.required[place] else "attention"


def fan_duty(tower, window, comparison, rule):
    """Duty points of a tower's fan when one of the compared rules runs it.

    window: `SiteWindow`; comparison: `RuleComparison`; rule: one of its rules. Returns `Duty`. Raises ValueError for a rule not compared.
    Limits: one efficiency at all flows and speeds, as the site file states it, so powers at small flow come out too low; steady state.
    """
    result, site = comparison[rule], tower.site
    held, full_hz, highest_hz = result.held.air, site.fan.speed_limits_hz(site.control.fire_mode)[1], site.fan.highest_speed_hz
    conditions = conditions_of(site, comparison.cases)
    full = tower.solve(conditions, full_hz)
    weights = site.control.weights if rule == "weighted" else None
    full_reading = combine(tower.readings(full, comparison.transmitters), rule, weights=weights)
    flow, pressure, shaft = fan_points(tower, held, conditions)
    full_flow, _, full_shaft = fan_points(tower, full, conditions)
    if highest_hz > full_hz:  # the motor has to bear the drive's own highest speed, whatever smoke control is limited to
        full_shaft = fan_points(tower, tower.solve(conditions, highest_hz), conditions)[2]
    losses = site.fan.motor_efficiency * site.fan.drive_efficiency
    needed = fan_needed(tower, comparison.cases, rule, comparison.set_point_pa, comparison.transmitters)
    speeds = np.where(result.state == "held", held.speed_hz, np.inf)
    return Duty(
        comparison.cases, result.state, comparison.set_point_pa, result.reading_pa, flow, pressure, held.speed_hz, shaft, shaft / losses,
        _shutoff_speed(tower, held, conditions), full_hz, full_flow, full_reading, full_shaft, highest_hz, site.fan.motor_power_w, needed,
        full_speed(tower, window, comparison.cases, speeds, comparison.set_point_pa, asked=needed.asked),
        all(inside for inside, case in zip(result.inside, result.cases, strict=True) if case.shut),
        low_damper(site.stair.reliefs, window.least_pa) if tower.effect > 0 else (),
    )  # fmt: skip


def _shutoff_speed(tower, air, conditions):
    shutoff = tower.curve.shutoff_pa * inlet_density_ratio(tower, conditions)
    hardest = np.maximum(pressure_against(tower, air).max(axis=-1), 0.0)
    return tower.site.fan.reference_speed_hz * fans.lowest_speed_for(hardest, shutoff)


SITE, WEATHER = "Larkfield House", "winter"
FIRST_DOORS = (6, 7, 5, 8)  # the storey on fire and its neighbours, away from the transmitters
STREET = 0  # the level of the door to the street
LIFTED = 0.02  # of the relief damper's area: less than this is not worth a word
LATER, SHUT = "later", "all doors shut"
PAST = "past a limit"  # said of doors
SHUT_EARLY = f"{FIRST_MINUTE}, {SHUT}"


@dataclass(frozen=True)
class DutyAsked:
    """What is chosen besides the building: weather, set point, how many stair doors stand open, and whether the final exit door does."""

    outdoor_c: float = -9.0
    stair_c: float = 10.0
    set_point_pa: float = 40.0
    open_doors: int = 0
    street_open: bool = False

    @property
    def cases(self):
        """The doors as they stand, and all shut where they are not so already; the last of them is always all doors shut."""
        later = Case(LATER, WEATHER, tuple(sorted(FIRST_DOORS[: self.open_doors])), (STREET,) if self.street_open else ())
        return (later,) if later.shut else (later, Case(SHUT, WEATHER))

    @property
    def first_minute(self):
        """The doors as they stand, the stair as warm as the rooms, and then so all shut where they are not already."""
        names = (FIRST_MINUTE, SHUT_EARLY)
        return tuple(replace(case, name=name, stair=FIRST_MINUTE) for case, name in zip(self.cases, names, strict=False))


@dataclass(frozen=True)
class StairDuty:
    """What comes out: `comparison` of the cases under the site's rule, their first minutes after them; of each case but those [cases] flow,
    fan pressure and power from the mains.

    hand_m3_s: supply by the hand method, all doors shut, for the pressure hand_door_pa that the network finds across the end door that is
    worst off by hand, on hand_level.
    damper_open: share of its area to which the stair's pressure lifts the relief damper, with the doors as they stand.
    """

    asked: DutyAsked
    comparison: RuleComparison
    flow_m3_s: tuple[float, ...]
    pressure_pa: tuple[float, ...]
    power_w: tuple[float, ...]
    hand_m3_s: float
    hand_door_pa: float
    hand_level: int
    damper_open: float

    @property
    def result(self):
        """Of the site's rule, in all cases."""
        return self.comparison.results[0]

    @property
    def speed_hz(self):
        """Fan speed with the doors as they stand."""
        return float(self.result.speed_hz[0])

    @property
    def held(self):
        """Whether the set point is held with the doors as they stand."""
        return self.result.state[0] == "held"

    @property
    def state(self):
        """Key of the status of the doors as they stand and in the first minute, the worse of the two, see `RuleResult.status`."""
        return worst_of([self.result.status(0), self.result.status(self.early)])

    @property
    def early(self):
        """Place of the first minute among the cases."""
        return len(self.flow_m3_s)

    @property
    def deciding(self):
        """Place of the case that the verdict is told of, the doors as they stand or their first minute: see `RuleResult.deciding`."""
        return self.result.deciding((0, self.early))

    @property
    def exit_out(self):
        """Whether a final exit is past its limit with the doors as they stand, then or in the first minute; never one that stands open."""
        return any(door.use == "final exit" for place in (0, self.early) for door in self.result.out_in(self.result.cases[place]))

    @property
    def shut_state(self):
        """Key of the status with all doors shut, then and in the first minute: opening a door makes a stair no better than that."""
        return worst_of([self.result.status(self.early - 1), self.result.status(len(self.result.cases) - 1)])

    def worst_door(self):
        """What makes it "wrong": the door most out in the case that decides, in words."""
        return f"{'in the first minute ' if self.deciding else ''}{self._most_out(self.deciding)}"

    def _most_out(self, place):
        doors = [door.text() for door in self.result.out_in(self.result.cases[place])]
        return doors[0] if doors else self.result.case_text(place)

    def says(self):
        """Loop, doors, duty and price, and what it is compared with, in words: first with the stair's air as asked, then its first "
        "minute."""
        loop = f"Later, with the stair at {with_unit(self.asked.stair_c, 'temperature')}: {self.result.case_text(0, PAST)}."
        flow, shut, hand = (with_unit(value, "flow") for value in (self.flow_m3_s[0], self.flow_m3_s[-1], self.hand_m3_s))
        pressure, power = with_unit(self.pressure_pa[0], "pressure"), with_unit(self.power_w[0], "power")
        duty = f"The fan gives {flow} against {pressure} and takes {power} from the mains."
        if self.damper_open >= LIFTED:
            lifted = f"{100 * self.damper_open:.0f} %"
            duty += f" The stair has lifted its relief damper to {lifted}, and what that lets out the fan must bring as well."
        if self.asked.cases[0].shut:
            door = with_unit(self.hand_door_pa, "pressure")
            more = f"The hand method, all storeys alike, with the {door} that stair door {self.hand_level} has here, says {hand}."
        else:
            more = f"With all doors shut the fan gives {shut}{self._shut_said()}"
            more += "; the rest is the price of the open doors." if self.held else "."
        return f"{loop}{self.result.unasked_said(0)} {duty} {more}{self._first_minute_said()}"

    def _shut_said(self):
        """That even with all doors shut a door is out, as a clause; nothing where none is."""
        shut, early = self.early - 1, len(self.result.cases) - 1
        if not self.result.good[shut]:
            return f", and even that is no pass: {self._most_out(shut)}"
        return "" if self.result.good[early] else f", and even that is no pass: in the first minute {self._most_out(early)}"

    def _first_minute_said(self):
        """What the first minute does, where a door is then out, with its own air."""
        early = self.early
        if self.result.good[early]:
            return ""
        flow = with_unit(float(self.result.held.air.fan_flow_m3_s[early]), "flow")
        worse = f"{word_of(self.result.status(early))}: {self.result.case_text(early, PAST)}.{self.result.unasked_said(early)}"
        return f" In the first minute, the stair as warm as the rooms, {worse} The fan then gives {flow}."


class LeakyStair:
    """The building with walls of two tightness classes, and all that does not change while weather, set point and doors do."""

    def __init__(self, exterior_wall="average", stair_wall="average", relief=True, driven=False):
        self.stated, self.driven = read_site(demo_sites()[SITE]), driven
        walls = {"exterior_wall": exterior_wall, "stair_wall": stair_wall}
        site = self.stated.with_changes(leakage=walls)
        site = driven_street(site) if driven else site
        self.site = site if relief else site.with_changes(stair=one_damper_alone(None))
        self.tower, self.window, self.hand = Tower(self.site), allowed_pressures(self.site), HandStair.of(self.site, WEATHER)

    def duty(self, asked):
        """Loop and fan under what is asked. Returns `StairDuty`."""
        site = self.site.with_changes(
            weather={WEATHER: {"outdoor_c": asked.outdoor_c, "stair_c": asked.stair_c}}, control={"set_point_pa": asked.set_point_pa}
        )
        self.tower.site = site  # nothing of what the network was built from differs
        cases, count = (*asked.cases, *asked.first_minute), len(asked.cases)
        comparison = compare_rules(self.tower, self.window, cases, rules=(site.control.rule,))
        held, conditions = comparison.results[0].held.air, conditions_of(site, cases)
        flow, pressure, _ = fan_points(self.tower, held, conditions)
        power = electric_power_w(self.tower, held, conditions)
        hand = replace(self.hand, stack_gradient_pa_m=float(air.stack_gradient(asked.outdoor_c, site.temperatures.floor_c)))
        end = 0 if hand.from_bottom else -1
        lift = float(open_share(self.tower, conditions, held.stair_pa)[0])
        door_pa, level = float(held.door_dp_pa[count - 1, end]), site.storeys[end].level
        fan = (tuple(map(float, values[:count])) for values in (flow, pressure, power))
        return StairDuty(asked, comparison, *fan, hand.supply_flow(door_pa), door_pa, level, lift)


@cache
def leaky_stair(exterior_wall="average", stair_wall="average", relief=True, driven=False):
    """The building of these tightness classes, built once; driven: its final exit door is closed by a power operator."""
    return LeakyStair(exterior_wall, stair_wall, relief, driven)


def driven_street(site):
    """The site with its final exit door closed by a power operator, whatever the pressure: nobody's hand and no closer limits it."""
    stated = ("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share")
    return site.with_changes(doors={"street": dict.fromkeys(stated)})


@cache
def hand_ladder():
    """From the hand method's air to the network's for the site as its file has it in winter, wind too: at the pressure that the site's own
    rule leaves across the door of the lowest storey, as the record has it."""
    site = read_site(demo_sites()[SITE])
    held = compare_rules(Tower(site), allowed_pressures(site), [Case(LATER, WEATHER)], rules=(site.control.rule,)).results[0]
    return flow_ladder(site, WEATHER, float(held.door_dp_pa[0, 0]))
