"""Larkfield House, built tighter or looser: what the fan gives and takes at a set point, with the doors as they stand and with all shut.

Still air, so that only leaks, weather and doors differ; beside the network the hand method, which sees storeys alike and doors shut.
"""

from dataclasses import dataclass, replace
from functools import cache

from helpers import units
from helpers.formulas import air
from helpers.model.fan_power import electric_power_w, fan_points
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.studies.allowed_pressures import allowed_pressures
from helpers.studies.cases import FIRST_MINUTE, Case, conditions_of
from helpers.studies.flow_ladder import flow_ladder
from helpers.studies.hand import HandStair
from helpers.studies.rules import RuleComparison, compare_rules
from helpers.studies.status import at_one_temperature, word_of

__all__ = ["FIRST_DOORS", "STREET", "Asked", "LeakyStair", "StairDuty", "driven_street", "hand_ladder", "leaky_stair"]

SITE, WEATHER = "Larkfield House", "winter"
FIRST_DOORS = (6, 7, 5, 8)  # the storey on fire and its neighbours, away from the transmitters
STREET = 0  # the level of the door to the street
LIFTED = 0.02  # of the relief damper's area: less than this is not worth a word
NOW, SHUT = "now", "all doors shut"


@dataclass(frozen=True)
class Asked:
    """What is chosen besides the building: weather, set point, how many stair doors stand open, and whether the street door does."""

    outdoor_c: float = -9.0
    stair_c: float = 10.0
    set_point_pa: float = 40.0
    open_doors: int = 0
    street_open: bool = False

    @property
    def cases(self):
        """The doors as they stand, and all shut where they are not so already; the last of them is always all doors shut."""
        now = Case(NOW, WEATHER, tuple(sorted(FIRST_DOORS[: self.open_doors])), (STREET,) if self.street_open else ())
        return (now,) if now.shut else (now, Case(SHUT, WEATHER))

    @property
    def first_minute(self):
        """The doors as they stand, the stair as warm as the rooms."""
        return replace(self.cases[0], name=FIRST_MINUTE, stair=FIRST_MINUTE)


@dataclass(frozen=True)
class StairDuty:
    """What comes out: `comparison` of the cases under the site's rule, the first minute after them; of each case but that [cases] flow, fan
    pressure and power from the mains.

    hand_m3_s: supply by the hand method, all doors shut, for the pressure that the network finds across the end door that is worst off.
    damper_open: share of its area to which the stair's pressure lifts the relief damper, with the doors as they stand.
    """

    asked: Asked
    comparison: RuleComparison
    flow_m3_s: tuple
    pressure_pa: tuple
    power_w: tuple
    hand_m3_s: float
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
        """Key of the status of the doors as they stand, see `RuleResult.status`; the first minute counts as `at_one_temperature` has it."""
        return at_one_temperature(self.result.status(0), self.result.status(len(self.flow_m3_s)))

    def says(self, system="Pa"):
        """Loop, doors, duty and price, and what it is compared with, in words."""
        loop = self.result.case_text(0, system)
        flow, shut, hand = (units.show(value, "flow", system) for value in (self.flow_m3_s[0], self.flow_m3_s[-1], self.hand_m3_s))
        pressure, power = units.show(self.pressure_pa[0], "pressure", system), units.show(self.power_w[0], "power", system)
        duty = f"The fan gives {flow} against {pressure} and takes {power} from the mains."
        if self.damper_open >= LIFTED:
            lifted = f"{100 * self.damper_open:.0f} %"
            duty += f" The stair has lifted its relief damper to {lifted}, and what that lets out the fan must bring as well."
        if self.asked.cases[0].shut:
            more = f"The hand method, with the same pressure at the worst door, says {hand}."
        elif not self.held:
            more = f"With all doors shut {shut} was enough."
        else:
            more = f"With all doors shut {shut} was enough; the rest is the price of the open doors."
        return f"{loop[0].upper()}{loop[1:]}. Still air: no wind is counted. {duty} {more}{self._first_minute_said(system)}"

    def _first_minute_said(self, system):
        """That the picture has one temperature, and what the other does, where that is worse."""
        early = len(self.flow_m3_s)
        if self.result.good[early] or not self.result.good[0]:
            return ""
        return (
            " That is with the stair at one temperature: in the first minute, as warm as the rooms, "
            f"{word_of(self.result.status(early))}: "
            f"{self.result.case_text(early, system)}."
        )


class LeakyStair:
    """The building with walls of two tightness classes, and all that does not change while weather, set point and doors do."""

    def __init__(self, exterior_wall="average", stair_wall="average", relief=True, driven=False):
        site = read_site(demo_sites()[SITE]).with_changes(
            leakage={"exterior_wall": exterior_wall, "stair_wall": stair_wall}, weather={WEATHER: {"wind_speed_m_s": 0.0}}
        )
        site = driven_street(site) if driven else site
        self.site = site if relief else site.with_changes(stair={"relief": None})
        self.tower, self.window, self.hand = Tower(self.site), allowed_pressures(self.site), HandStair.of(self.site, WEATHER)

    def duty(self, asked):
        """Loop and fan under what is asked. Returns `StairDuty`."""
        site = self.site.with_changes(
            weather={WEATHER: {"outdoor_c": asked.outdoor_c, "stair_c": asked.stair_c}}, control={"set_point_pa": asked.set_point_pa}
        )
        self.tower.site = site  # nothing of what the network was built from differs
        cases, count = (*asked.cases, asked.first_minute), len(asked.cases)
        comparison = compare_rules(self.tower, self.window, cases, rules=(site.control.rule,))
        held, conditions = comparison.results[0].held.air, conditions_of(site, cases)
        flow, pressure, _ = fan_points(self.tower, held, conditions)
        power = electric_power_w(self.tower, held, conditions)
        hand = replace(self.hand, stack_gradient_pa_m=float(air.stack_gradient(asked.outdoor_c, site.temperatures.floor_c)))
        by_hand = hand.supply_flow(float(held.door_dp_pa[count - 1, 0 if hand.from_bottom else -1]))
        fan = (tuple(map(float, values[:count])) for values in (flow, pressure, power))
        return StairDuty(asked, comparison, *fan, by_hand, self._damper_open(held))

    def _damper_open(self, held):
        """As model.laws.Relief lifts it; still air, so nothing but the stair's own pressure bears on it."""
        damper = self.site.stair.relief
        if damper is None:
            return 0.0
        pressure = float(held.stair_pa[0, self.tower.storey(damper.level)])
        lift = min(max((pressure - damper.opens_pa) / (damper.full_pa - damper.opens_pa), 0.0), 1.0)
        return lift**2 * (3 - 2 * lift)


@cache
def leaky_stair(exterior_wall="average", stair_wall="average", relief=True, driven=False):
    """The building of these tightness classes, built once; driven: its street door is closed by a drive of its own."""
    return LeakyStair(exterior_wall, stair_wall, relief, driven)


def driven_street(site):
    """The site with its street door closed by a drive of its own, whatever the pressure: nobody's hand and no closer limits it."""
    stated = ("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share")
    return site.with_changes(doors={"street": dict.fromkeys(stated)})


@cache
def hand_ladder():
    """From the hand method's air to the network's for the site as its file has it, at the pressure its worst door has in winter."""
    site = read_site(demo_sites()[SITE])
    duty = leaky_stair().duty(Asked(site.weather[WEATHER].outdoor_c, site.weather[WEATHER].stair_c, site.control.set_point_pa))
    return flow_ladder(site, WEATHER, float(duty.result.door_dp_pa[0, 0]))
