"""The design record of a site: every choice with its figures, reasons and sources, ready to be shown, printed and signed."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property, partial, wraps
from pathlib import Path

from helpers import require
from helpers.formulas.action import gain_for_new_span
from helpers.model.air.conditions import HOURS_OF_A_YEAR, nearest_station
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import criteria_of, in_its_mode, second_standard
from helpers.model.site.schema import Site, Transmitter
from helpers.record import summary
from helpers.record.board import board_of
from helpers.record.sections import building, failed_readings, fan, signals, signed, time
from helpers.record.sections import rule as sections_rule
from helpers.record.standing import ACTION, FAN, SET_POINT, Standing
from helpers.studies.cases import Case, usual_cases
from helpers.studies.commissioning.injection import injection_table
from helpers.studies.commissioning.proof import check_plan
from helpers.studies.doors.air_release import air_release
from helpers.studies.doors.forces import door_forces
from helpers.studies.doors.open import open_doors
from helpers.studies.doors.stair_cooling import cooling_study
from helpers.studies.doors.two_sets import two_sets
from helpers.studies.doors.window import SiteWindow, pressure_window
from helpers.studies.doors.year import Year, year_of_weather
from helpers.studies.duty.fan_duty import Duty, fan_duty
from helpers.studies.duty.hand_method import HandStair, flow_ladder
from helpers.studies.low_demand.study import Demand, low_demand_study
from helpers.studies.placement.results import Placement
from helpers.studies.placement.study import draw, place_transmitters, stated_weathers
from helpers.studies.readings.fallback import FallbackStudy, fallback_study
from helpers.studies.readings.rules import RuleComparison, allowed_set_points, compare_rules
from helpers.studies.report import Face, Record, Section, Written
from helpers.studies.signals.action import acting
from helpers.studies.signals.range_choice import RangeAdvice, range_advice
from helpers.studies.signals.unlike_ranges import as_the_widest, unlike
from helpers.studies.status import fails_said
from helpers.studies.tuning.door_tests import door_trend
from helpers.studies.tuning.results import TuningStudy
from helpers.studies.tuning.study import tuning_study
from helpers.units import SYSTEMS, parse, show
from helpers.units.said import written_out

CAUTIONS = (
    "Stair pressurisation is life safety. The figures here teach and pre-check; the local code, the approved design, the authority having "
    "jurisdiction and a licensed (UK: competent) engineer decide.",
    "A low-demand stop is never active in smoke control. The manual override and the fire alarm's inputs outrank the pressure loop.",
    "Electrical work, injected signals included, is for qualified people, with the drive isolated and locked out while wires are moved. "
    "While one is injected the fan stays in MANUAL: a low signal sends it to full speed. In AUTO are the steps alone that say so, since "
    "the fan is looked at: a wire off, all wires off, an alarm that falls back. For them building and alarm service told, nobody in the "
    "stair, all doors shut, one at the manual switch and nobody else at the fan, clear of wheel and belt; see the injection table.",
    "What may stop a smoke-control fan is a smoke detector in its supply, the drive's own protection and the fire service, and no energy "
    "function. Drive trips, restart, a wheel that turns already, the intake and standby power are in no model here: see the check list of "
    "fan and drive.",
    "On an approved smoke-control system every change, a set point and a closer included, needs the approval of the authority having "
    "jurisdiction before it is made and a new acceptance test after it. Until both are there, leave the system as it was approved.",
    "Computed pressures are steady ones of leaks taken from tables. Measure the pressure and the door force on every storey before anyone "
    "relies on them.",
)
SECTIONS = {
    "doors": "Door forces and shutting again", "rule": "Average, lowest or highest", "failure": "Failed readings",
    "open doors": "Air through open doors", "two sets": "By two sets of criteria",
    "flow": "Supply air, hand calculation and network", "fan": "Fan and drive",
    "range": "Transmitter range", "action": "Reverse or direct", "signal": "Scaling of the signal", "injection": "Injection table",
    "tuning": "Tuning and door events", "low-demand": "Low-demand stop", "placement": "Where the transmitters go",
    "year": "A year of weather", "choices": "Choices, and what was rejected", "settings": "Settings schedule",
}  # fmt: skip
FOUND_AT_SET_POINT = (  # sections whose figures hang on the file's set point and that do not say so themselves
    "doors", "rule", "open doors", "two sets", "flow", "action", "signal", "injection", "low-demand", "placement", "year", "choices",
)  # fmt: skip
SIGNED = ("choices", "settings", "provenance")  # sections that judge nothing of their own
DRAWN_CONDITIONS, DRAWN_SEED = 250, 1  # for the placement; the interval says what so few can tell


def _shown_as(key):
    """A study made when first asked for and kept, whose result shows itself as the section of this key does."""
    return lambda study: cached_property(wraps(study)(lambda design: study(design).shown_by(partial(design.face, key))))


@dataclass(init=False, repr=False)
class Design:
    """A site as it would be built, and the studies of it, each made when first asked for and kept. Figures are SI; `record` writes them.

    site: with the choices made; cases: what is asked of it; weather: the one of the flow ladder and of the door event; drawn: conditions
    for the placement; units: the system in which results show themselves, one of `units.SYSTEMS`; out_of_mode: standard of a stair
    whose file says that it is not in smoke control and that is taken as in it, "" for any other.
    """

    site: Site
    cases: tuple[Case, ...]
    weather: str
    drawn: int
    units: str
    out_of_mode: str

    def __init__(self, site: Site, *, rule: str | None = None, set_point: str | float | None = None,
                 transmitters: Sequence[Transmitter] | None = None, weights: Sequence[float] | None = None, weather: str = "winter",
                 open_doors: Sequence[int] | None = None, open_exits: Sequence[int] | None = None, drawn: int = DRAWN_CONDITIONS,
                 units: str = "Pa"):  # fmt: skip
        """A design of a site, by default with the site's own choices.

        set_point: text with its unit, such as "0.16 in. w.c.", or a number [Pa]; weights: for the rule "weighted"; weather: of the cases
        with open doors; open_doors, open_exits: levels, see `usual_cases`. Raises ValueError, in a sentence, for what cannot be.
        """
        self._given = require.of_kind(Site, site=site)
        self._choices = {"rule": rule, "set_point": set_point, "transmitters": transmitters, "weights": weights, "weather": weather,
                         "open_doors": open_doors, "open_exits": open_exits, "drawn": drawn, "units": units}  # fmt: skip
        if isinstance(set_point, str):
            set_point = parse(set_point, "pressure", "set_point")
        control = {} if set_point is None else {"set_point_pa": require.single(set_point=set_point)}
        if rule is not None:
            control |= {"rule": rule, "weights": None if weights is None else tuple(weights)}
        site, self.out_of_mode = in_its_mode(site)
        changes = ({"control": control} if control else {}) | ({} if transmitters is None else {"transmitters": list(transmitters)})
        self.site = site.with_changes(**changes) if changes else site
        self.cases, self.weather = usual_cases(self.site, weather, open_doors, open_exits), weather
        self.drawn, self.units, self._sections = drawn, require.one_of(SYSTEMS, units=units), {}

    def but(self, **changes: object) -> "Design":
        """The same with some choices changed, named as when it was made; every study of it is made anew. A new rule drops old weights."""
        return Design(self._given, **(self._choices | ({"weights": None} if "rule" in changes else {}) | changes))

    def __repr__(self):
        loop, set_point = self.site.control, show(self.site.control.set_point_pa, "pressure", self.units)
        return f"Design of {self.site.title}: rule {loop.rule}, set point {set_point}, {len(self.cases)} cases"

    @cached_property
    def tower(self):
        """The air network."""
        return Tower(self.site)

    @_shown_as("window")
    def window(self) -> SiteWindow:
        """The pressure window of every door."""
        return pressure_window(self.site)

    @_shown_as("rule")
    def rules(self) -> RuleComparison:
        """The rules beside each other, by rule."""
        return compare_rules(self.tower, self.standing.window, self.cases)

    @cached_property
    def own(self):
        """The result of the site's own rule."""
        return self.rules[self.site.control.rule]

    @cached_property
    def cooling(self):
        """How the doors change from the first minute to an hour later. Raises ValueError for a stair without doors."""
        return cooling_study(self.tower, self.weather)

    @cached_property
    def door_forces(self):
        """Every force the standard limits, fan off and on, and doors that must shut against the pressure; in the air of the own rule."""
        return door_forces(self.site, self.window, self.cases, self.own.held.air)

    @cached_property
    def open_doors(self):
        """Speed, flow and release path of every open door of the cases."""
        return open_doors(self.tower, self.window, self.cases, self.own.held)

    @cached_property
    def air_release(self):
        """The open door of the fire floor with and without air release, and the free area that the speeds of all sets of criteria need."""
        sets = self.window.criteria, criteria_of(second_standard(self.site)).of_class(self.site.airflow_class)
        return air_release(self.tower, self.window, self.cases, sets)

    @cached_property
    def two_sets(self):
        """The site by its own set of criteria and by a second one."""
        return two_sets(self.tower, self.cases, self.own.held, self.air_release, second_standard(self.site), self.tuned)

    @_shown_as("failure")
    def fallback(self) -> FallbackStudy:
        """What failed readings do. Raises ValueError where no door has a limit, or the air no answer."""
        readings = self.year.sound_readings(self.built_tower, self.built.transmitters)
        return self.failing.with_alarms(readings, self.tuned)

    @cached_property
    def failing(self):
        """`fallback` without alarm limits, which hang on a year and on the tuning. Raises ValueError as that does."""
        return fallback_study(self.built_tower, self.window)

    @cached_property
    def failing_judged(self):
        """The same; None where it has no answer, as its section says: what hangs on it is not laid down."""
        with suppress(ValueError):
            return self.failing

    @cached_property
    def set_points(self):
        """Which set points work under each rule, doors shut and stair doors open; none tried where the window is no window."""
        return allowed_set_points(self.tower, self.inner_cases)

    @property
    def shut_cases(self):
        """Cases with all doors shut."""
        return tuple(case for case in self.cases if case.shut)

    @property
    def inner_cases(self):
        """Cases without an open final exit, through which the stair breathes to the street; those that the design has to hold too."""
        return tuple(dict.fromkeys(case for case in (*self.cases, *self.standing.required) if not case.open_exits))

    @cached_property
    def ladder(self):
        """From hand flow to network flow, doors shut; None where the hand method does not apply (an exhaust fan, nothing to hold).

        At the pressure that the loop leaves across the worse end's door: the last rung is the fan's duty; else at the set point.
        """
        if self.site.fan.effect != "supply":
            return None
        end = 0 if HandStair.of(self.site, self.weather).from_bottom else -1
        left = float(self.own.door_dp_pa[0, end]) if self.own.state[0] == "held" else 0.0  # the first case is doors shut in this weather
        dp = left if left > 0 else self.site.control.set_point_pa
        return flow_ladder(self.site, self.weather, dp) if dp > 0 else None

    @cached_property
    def standing(self):
        """What of set point, action, fan and tuning stands; every line of summary and schedule passes it."""
        return Standing(self)

    @cached_property
    def stated_duty(self):
        """Fan duty under the site's rule at the site's set point, whether that may be entered or not."""
        return fan_duty(self.tower, self.window, self.rules, self.site.control.rule)

    @_shown_as("fan")
    def duty(self) -> Duty:
        """Fan duty under the site's rule, full speed beside the fallback; nothing is bought where the set point does not stand."""
        full = self.stated_duty.full
        beside = full.beside_fallback(self.failing_judged) if full.limited and self.standing.window.feasible else full
        return replace(self.stated_duty, inside=self.standing.set_point_stands, full=beside)

    @_shown_as("range")
    def range(self) -> RangeAdvice:
        """Which transmitter range to buy."""
        advice = range_advice(self.tower, self.window, self.rules, self.site.control.rule)
        return as_the_widest(advice, self.site) if unlike(self.site) else advice

    def other_range(self):
        """That the site file states another range than the one that all is laid down for, in words; "" where it does not, and where it
        states several: then each transmitter keeps its own."""
        kept = unlike(self.site) or self.range.stated == self.range.chosen
        return "" if kept else f"the site file states {self.range.stated.text()}"

    @cached_property
    def built(self):
        """The site as it is to be built: every transmitter of the range to buy, and the gain that makes the same loop of it; of unlike
        ranges each its own. What is entered, injected and displayed is for this one, whatever one range the site file states."""
        chosen, stated = self.range.chosen, self.range.stated
        if not self.other_range():
            return self.site
        gain = float(gain_for_new_span(self.site.control.gain, stated.span_pa, chosen.span_pa))
        ends = {"range_low_pa": chosen.low_pa, "range_high_pa": chosen.high_pa}
        return self.site.with_changes(transmitters=[ends] * len(self.site.transmitters), control={"gain": gain})

    @cached_property
    def built_tower(self):
        """The air network of the site as it is to be built: the same air."""
        return self.tower if self.built is self.site else Tower(self.built)

    @cached_property
    def acting(self):
        """Reverse or direct."""
        return acting(self.tower, self.rules, self.site.control.rule)

    @cached_property
    def injection(self):
        """Injection table for the site's transmitters and rule: the fewest points, ranges, failed signals, alarms. The one list of steps,
        of the record and of the sheet of the day. What is not laid down is not proved either."""
        feasible = self.standing.window.feasible
        control, taps = self.site.control, (self.built if feasible else self.site).transmitters
        first = self.standing.first(SET_POINT, ACTION, FAN) if feasible else self.standing.named(["doors that some pressure suits"])
        fallback = None if first or self.failing_judged is None else self.fallback
        first = first or self.fallback_first
        fewest = [point.percents for point in check_plan(taps, control.rule, control.weights).points]
        return injection_table(taps, control.rule, control.weights, fewest=fewest, fallback=fallback, not_laid_down=first)

    @property
    def fallback_first(self):
        """Why no fallback speed is laid down although all else is, in words; "" where one is, or no door has a limit to judge one by."""
        if self.failing_judged is None:
            return self.standing.named(["an answer on failed readings"]) if self.stated_duty.full.limited else ""
        best = self.fallback.best
        holds = best is not None and best.state != "wrong" and not self.standing.fallback_against(self.fallback)
        return "" if holds else self.standing.named(["a way of falling back that holds"])

    @_shown_as("tuning")
    def tuning(self) -> TuningStudy:
        """A tuning safe in the step tests of all cases. Raises ValueError where the reading answers to no step."""
        return tuning_study(self.built_tower, self.window, cases=self.cases)

    @cached_property
    def tuned(self):
        """The `Candidate` to be entered; None where no tuning passes or the reading answers to no step."""
        with suppress(ValueError):  # the section on tuning says why
            return self.tuning.recommended

    @cached_property
    def door_trend(self):
        """The door event of the tuning, in the design's weather."""
        return door_trend(self.built_tower, self.tuning, self.weather)

    @cached_property
    def hours(self):
        """A year of hourly weather, of the station whose cold comes nearest to the site's winter."""
        return nearest_station(self.site)

    @property
    def demand_case(self):
        """The first case with open doors, which stand for demand; the last one where there is none."""
        return next((case for case in self.cases if not case.shut), self.cases[-1])

    @cached_property
    def low_demand(self):
        """The low-demand stop; in smoke control the refusal."""
        case = self.demand_case
        demand = Demand.by_clock(HOURS_OF_A_YEAR, time.ASKED_FROM_H, time.ASKED_TO_H, case.open_doors, case.open_exits)
        return low_demand_study(self.tower, self.hours, demand)

    @_shown_as("placement")
    def placement(self) -> Placement:
        """Every single and pair of transmitters under sampled conditions. Raises ValueError where no transmitter can be put anywhere."""
        return place_transmitters(self.built_tower, self.window, draw(self.built, self.hours, self.drawn, DRAWN_SEED))

    @cached_property
    def placement_as_stated(self):
        """The same choices in the weathers that the site is designed for."""
        return place_transmitters(self.built_tower, self.window, stated_weathers(self.built), self.placement.choices)

    @_shown_as("year")
    def year(self) -> Year:
        """A year of weather, all doors shut. Raises ValueError where no door has a limit."""
        return year_of_weather(self.tower, self.window, self.hours)

    def record(self, system: str | None = None) -> Record:
        """Everything written down in a system of units (default: its own), each section when first asked for."""
        system = require.one_of(SYSTEMS, system=self.units if system is None else system)
        title, sections = f"Design record: {self.site.title}", Written((partial(self.section, key, system) for key in WRITERS), WRITERS)
        lines, headline = Written(summary.lines(self)).in_system(system), summary.headline(self)
        boards = Written((partial(board_of, self),)).in_system(system)
        return Record(title, self.site.name, system, lines, sections, CAUTIONS, headline, boards, self.site.title)

    def section(self, key: str, system: str | None = None) -> Section:
        """A section of the record by its key, kept; one that shows figures found at a set point that fails says so at its head. Of a site
        whose doors suit no pressure, building, window and sources are written."""
        wanted = require.one_of(WRITERS, key=key), self.units if system is None else system
        if wanted not in self._sections:
            self._sections[wanted] = written_out(self._marked(key), wanted[1])
        return self._sections[wanted]

    def _marked(self, key):  # the section for any system of units, kept
        self._sections[key] = self._sections.get(key) or self._written(key)
        return self._sections[key]

    def fails(self) -> tuple[str, ...]:
        """What fails, a line each, for any system of units: `Record.fails`, for the schedule in the record and the sheets beside it."""
        return fails_said(finding for key in WRITERS if key not in SIGNED for finding in self._marked(key).findings)

    def _written(self, key):
        if key in SECTIONS and not self.standing.window.feasible:
            said = "Not written: no pressure suits the doors of this stair. Its doors must change first, see the pressure window."
            return Section(key, SECTIONS[key], said)
        section = WRITERS[key](self)
        if key in ("failure", "open doors", "placement", "year") and self.stated_duty.needed.wrong_way:  # all of it follows from that
            section = replace(section, findings=tuple(replace(one, caused_by="fan") for one in section.findings))
        figures = section.figures or section.tables  # a study that was not made for this site has none
        found_there = key in FOUND_AT_SET_POINT and figures and not (key == "low-demand" and self.site.control.fire_mode)
        return replace(section, verdict=self.standing.for_information(section.verdict)) if found_there else section

    def face(self, key: str) -> Face:
        """What shows a result in a notebook, as the section of this key does."""
        from helpers.record.page import SectionFace  # draws, and what draws takes its time to load

        return SectionFace(self.section(key))

    def write(self, path: str | Path, units: str | None = None, paper: str = "A4") -> Path:
        """Write the record as one page without code, HTML or PDF by the ending of the path, in a system of units (default: its own).
        Returns the path. Raises ValueError for another ending, paper or system, a file that cannot be written, a PDF nothing can print."""
        from helpers.plots.printer import page_path, write_page
        from helpers.record.page import page_html

        target = page_path(path)  # refused before the seconds of work
        return write_page(page_html(self.record(units)), target, paper)


WRITERS = {
    "site": building.site_section, "window": building.window_section, "doors": building.doors_section, "rule": sections_rule.rule_section,
    "failure": failed_readings.failure_section, "open doors": building.open_doors_section,
    "two sets": building.two_sets_section, "flow": building.flow_section,
    "fan": fan.fan_section, "range": signals.range_section, "action": signals.action_section, "signal": signals.signal_section,
    "injection": signals.injection_section, "tuning": time.tuning_section, "low-demand": time.low_demand_section,
    "placement": time.placement_section, "year": time.year_section, "choices": signed.choices_section,
    "settings": signed.settings_section, "provenance": signed.provenance_section,
}  # fmt: skip
