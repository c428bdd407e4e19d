"""The design record of a site: every choice with its figures, reasons and sources, ready to be shown, printed and signed."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.model.site import Site
from helpers.model.tower import Tower
from helpers.studies import sections_air, sections_loop, sections_rule
from helpers.studies.acting import acting
from helpers.studies.cases import one_number, usual_cases
from helpers.studies.duty import fan_duty
from helpers.studies.figures import Record
from helpers.studies.flow_ladder import flow_ladder
from helpers.studies.hand import HandStair
from helpers.studies.injection import injection_table
from helpers.studies.rules import compare_rules, set_points_that_work
from helpers.studies.transmitter_range import range_advice
from helpers.studies.window import pressure_window

__all__ = ["CAUTIONS", "Design", "design_record"]

CAUTIONS = (
    "Stair pressurisation is life safety. The figures here teach and pre-check; the local code, the approved design, the authority having "
    "jurisdiction and licensed practice decide.",
    "A low-demand stop is never active in the fire mode. The manual override and the fire alarm's inputs outrank the pressure loop.",
    "Electrical work, injected signals included, is for qualified people, with the drive isolated and locked out. Keep the fan in manual "
    "while a signal is injected: a low signal sends it to full speed.",
    "Computed pressures are steady ones of leaks taken from tables. Measure the pressure and the door force on every storey before anyone "
    "relies on them.",
)
MOST_SET_POINTS = 40  # tried between the window's ends
SET_POINT_STEP_PA = 1.0


@dataclass
class Design:
    """A site as it would be built, and the studies of it, each made when first asked for. Figures are SI; `record` writes them.

    cases: what is asked of it (of `Case`); weather: the one of the flow ladder.
    """

    site: Site
    cases: tuple
    weather: str = "winter"

    @classmethod
    def of(cls, site, set_point_pa=None, rule=None, transmitters=None, weights=None, weather="winter", open_doors=None, open_exits=None):
        """A design with some choices changed.

        set_point_pa [Pa], rule, weights (for "weighted"), transmitters (of `Transmitter`): by default the site's own. weather: of the
        cases with open doors; open_doors, open_exits: levels, see `usual_cases`. Raises ValueError, in a sentence, for what cannot be.
        """
        control = {} if set_point_pa is None else {"set_point_pa": one_number(set_point_pa=set_point_pa)}
        if rule is not None:
            control |= {"rule": rule, "weights": None if weights is None else tuple(weights)}
        changes = {"control": control} if control else {}
        if transmitters is not None:
            changes["transmitters"] = list(transmitters)
        changed = site.with_changes(**changes) if changes else site
        return cls(changed, usual_cases(changed, weather, open_doors, open_exits), weather)

    @cached_property
    def tower(self):
        """The air network."""
        return Tower(self.site)

    @cached_property
    def window(self):
        """The pressure window of every door."""
        return pressure_window(self.site)

    @cached_property
    def comparison(self):
        """The rules beside each other."""
        return compare_rules(self.tower, self.window, self.cases)

    @cached_property
    def own(self):
        """The result of the site's own rule."""
        return self.comparison.result(self.site.control.rule)

    @cached_property
    def set_points(self):
        """Which set points work under each rule, with doors shut and with stair doors open; none tried where the window is no window."""
        window = self.window
        if window.width_pa is None or window.width_pa <= 0:
            return ()
        step = max(SET_POINT_STEP_PA, np.ceil(window.width_pa / MOST_SET_POINTS))
        tried = np.arange(np.ceil(window.least_pa), np.floor(window.most_pa) + 0.5, step)
        return set_points_that_work(self.tower, window, self.inner_cases, tried) if tried.size else ()

    @property
    def shut_cases(self):
        """Cases with all doors shut."""
        return tuple(case for case in self.cases if case.shut)

    @property
    def inner_cases(self):
        """Cases without an open final exit, through which the stair breathes to the street."""
        return tuple(case for case in self.cases if not case.open_exits)

    @cached_property
    def ladder(self):
        """From hand flow to network flow, doors shut; None where the hand method does not apply (an exhaust fan, nothing to hold).

        At the pressure that the loop leaves across the worse end's door, so that the last rung is the fan's duty; at the set point where
        the loop does not hold.
        """
        if self.site.fan.effect != "supply":
            return None
        end = 0 if HandStair.of(self.site, self.weather).from_bottom else -1
        left = float(self.own.door_dp_pa[0, end]) if self.own.state[0] == "held" else 0.0  # the first case is doors shut in this weather
        dp = left if left > 0 else self.site.control.set_point_pa
        return flow_ladder(self.site, self.weather, dp) if dp > 0 else None

    @cached_property
    def duty(self):
        """Fan duty under the site's rule."""
        return fan_duty(self.tower, self.window, self.comparison, self.site.control.rule)

    @cached_property
    def range(self):
        """Which transmitter range to buy."""
        return range_advice(self.tower, self.window, self.comparison, self.site.control.rule)

    @cached_property
    def acting(self):
        """Reverse or direct."""
        return acting(self.tower, self.comparison, self.site.control.rule)

    @cached_property
    def injection(self):
        """Injection table for the site's transmitters and rule."""
        control = self.site.control
        return injection_table(self.site.transmitters, control.rule, control.weights)

    def record(self, system="Pa"):
        """Everything written down in a system of units. Returns `Record`."""
        writers = (
            sections_air.site_section,
            sections_air.window_section,
            sections_rule.rule_section,
            sections_air.flow_section,
            sections_air.fan_section,
            sections_loop.range_section,
            sections_loop.action_section,
            sections_loop.signal_section,
            sections_loop.injection_section,
        )
        sections = tuple(writer(self, system) for writer in writers)
        title = f"Design record: {self.site.name}"
        return Record(title, self.site.name, system, sections_rule.summary(self, system), sections, CAUTIONS)


def design_record(
    site, set_point_pa=None, rule=None, transmitters=None, weights=None, weather="winter", open_doors=None, open_exits=None, system="Pa"
):
    """The design record of a site under some choices; see `Design.of`. system: of units, "Pa" or "in. w.c.". Returns `Record`."""
    return Design.of(site, set_point_pa, rule, transmitters, weights, weather, open_doors, open_exits).record(system)
