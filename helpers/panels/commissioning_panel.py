"""The two sheets of the day: injected signals with what every display must show, and storey by storey what was measured at the doors."""

from functools import cache
from pathlib import Path

from helpers import units
from helpers.formulas import signals
from helpers.model.criteria import AIR
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.panels.controls import UNITS
from helpers.panels.printed import acceptance_page, in_records, injection_page, write_page, written_card
from helpers.panels.typed_sheet import TypedSheet
from helpers.panels.verdict import Verdict
from helpers.studies.acceptance import CLOSING, DIRECTIONS, SHUTS, Day, Measured, acceptance_sheet
from helpers.studies.commissioning import check_plan
from helpers.studies.fallback import fallback_study
from helpers.studies.figures import fine
from helpers.studies.injection import injection_table
from helpers.studies.sheets import SEEN, round_lines, write_acceptance_sheet, write_injection_sheet
from helpers.studies.window import pressure_window

__all__ = ["DEFAULT_SITE", "AcceptancePanel", "InjectionPanel", "acceptance_panel", "injection_panel"]

DEFAULT_SITE = "Larkfield House"
ROUNDS = ("as found", "as left")
CLOSING_LINES = tuple((line, {"field": line} if line in ("time", "name") else {"field": line, "options": ("done",)}) for line in CLOSING)
DEFICIENCIES = tuple((f"deficiency {number}: what, who, when", {"field": f"deficiency {number}"}) for number in range(1, 5))
SIGNED = tuple((label, {"field": label}) for label in ("instruments, certificates", "authority having jurisdiction: name, date"))
OF_THE_DAY = {
    "outdoor_c": ("outdoors", "temperature"), "stair_bottom_c": ("stair, bottom", "temperature"),
    "stair_middle_c": ("stair, half way up", "temperature"), "stair_top_c": ("stair, top", "temperature"),
    "floor_c": ("floors", "temperature"), "wind_speed_m_s": ("wind", "speed"), "wind_from_deg": ("wind from, degrees", "angle"),
}  # fmt: skip
WHO = ("as found by, date", "as left by, date", "calibrator, certificate")


class InjectionPanel:
    """The injection table of a site as a sheet to fill in.

    plan: its `CheckPlan`; steps: what follows its points in the design record's table, wires off and alarms beyond their limits (of
    `InjectionRow`).
    """

    def __init__(self, site, folder=None):
        self.site, self.plan = site, check_plan(site.transmitters, site.control.rule, site.control.weights)
        self.steps = _steps_after(self.plan, site)
        columns = [("Point", 60), ("Inject", 150), ("Display", 120), ("must show", 170), ("as found", 110), ("as left", 110)]
        rows = {}
        for number, point in enumerate(self.plan.points, 1):
            for place in range(len(self.plan.transmitters) + 1):
                rows[number, place] = self._row(number, place, point)
        for number, step in enumerate(self.steps, 1):
            seen = [{"field": f"step {number} {when}", "options": SEEN} for when in ROUNDS]
            rows["step", number] = [f"+{number}", _put(step, self.plan), "display, fan, alarm", f"{step.purpose}. {step.must}", *seen]
        for what in WHO:
            rows[what, 0] = ["", "", "", what, {"field": what}, ""]
        self.sheet = TypedSheet(f"injection {site.name}", columns, rows, self._judge, self._whole, folder, below=CLOSING_LINES)

    def export(self, path=None, paper="A4"):
        """Write the sheet as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a spreadsheet in `records`;
        shows a link to it."""
        target = Path(path or in_records(self.site.name, "injection.xlsx"))
        if target.suffix == ".xlsx":
            return written_card(write_injection_sheet(self.plan, self.site.name, target, UNITS.system, paper, self.steps))
        return written_card(write_page(injection_page(self.plan, self.site.name, UNITS.system, self.steps), target, paper))

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _row(self, number, place, point):
        combined = place == len(self.plan.transmitters)
        inject, display = "", f"combined ({self.plan.rule})"
        shown, tolerance = point.combined_pa, self.plan.combined_tolerance_pa
        if not combined:
            tap, unit = self.plan.transmitters[place], signals.SIGNALS[self.plan.transmitters[place].signal][2]
            inject, display = f"{point.signals[place]:.2f} {unit} on {tap.name}", tap.name
            shown, tolerance = point.displays_pa[place], self.plan.tolerance_pa[place]
        fields = [{"field": _field(number, place, when), "dimension": "pressure"} for when in ROUNDS]
        return [str(number), inject, display, lambda system: f"{fine(shown, system)} ± {fine(tolerance, system)}", *fields]

    def _read(self, values, when):
        """What was read, by point and display; None where nothing was, or what cannot be read."""
        places = range(len(self.plan.transmitters) + 1)
        rows = [[values[_field(number, place, when)] for place in places] for number in range(1, len(self.plan.points) + 1)]
        return [[None if isinstance(value, ValueError) else value for value in row] for row in rows]

    def _judge(self, system, values, row):
        number, place = row
        if number in WHO:
            return "", ""
        if number == "step":
            found = [(when, values[f"step {place} {when}"]) for when in ROUNDS]
            told = [(when, value) for when, value in found if value]
            words = ", ".join(f"{when}: {'PASS' if value == SEEN[0] else 'FAIL'}" for when, value in told)
            return (("good" if told[-1][1] == SEEN[0] else "wrong"), words) if told else ("", "")
        point = self.plan.points[number - 1]
        shown = (*point.displays_pa, point.combined_pa)[place]
        tolerance = (*self.plan.tolerance_pa, self.plan.combined_tolerance_pa)[place]
        read = [(when, values[_field(number, place, when)]) for when in ROUNDS]
        told = [(when, value - shown) for when, value in read if value is not None]
        words = [f"{when}: {'PASS' if abs(off) <= tolerance else f'off by {fine(off, system)}'}" for when, off in told]
        if not told:
            return "", ""
        return ("good" if abs(told[-1][1]) <= tolerance else "wrong"), ", ".join(words)

    def _whole(self, system, values):
        """The sheet's verdict, of what was left where anything was, else of what was found; a wrong one names its likely cause."""
        for when in reversed(ROUNDS):
            judged = self.plan.judge(self._read(values, when))
            seen = [values[f"step {number} {when}"] for number in range(1, len(self.steps) + 1)]
            if not all(value is None for row in self._read(values, when) for value in row) or any(seen):
                missing = [line for line in CLOSING if not values[line]]
                left = f" Not given back yet: {'; '.join(missing)}." if missing else ""
                done = judged.good and all(seen) and not missing
                state = "wrong" if False in judged.passes or SEEN[1] in seen else "good" if done else "open"
                return Verdict(state, f"{when.capitalize()}: {judged.words}{_steps_said(seen)}{left}")
        after = f"; {len(self.steps)} steps more prove what a lost signal does, and the alarms" if self.steps else ""
        return Verdict("open", f"Nothing has been read yet. {len(self.plan.points)} points prove what was entered{after}.")


def _steps_after(plan, site):
    """Rows of the injection table with wires off and alarms, of the same plan as the design record's."""
    try:
        fallback = fallback_study(Tower(site), pressure_window(site))
    except ValueError:  # no door has a limit: there are no alarms to prove
        fallback = None
    table = injection_table(plan.transmitters, plan.rule, site.control.weights, fewest=[], fallback=fallback)
    return tuple(row for row in table.rows if row.part in ("failed signals", "alarms"))


def _put(step, plan):
    """What to put on the inputs, in words."""
    several = zip(step.percents, step.signals, plan.transmitters, strict=True)
    return ", ".join(
        f"{tap.name} off" if percent is None else f"{value:.2f} {signals.SIGNALS[tap.signal][2]} on {tap.name}"
        for percent, value, tap in several
    )


def _steps_said(seen):
    failed, left = seen.count(SEEN[1]), sum(not one for one in seen)
    told = [f" {failed} of the steps with wires off and alarms fail."] if failed else []
    told += [f" {left} steps with wires off and alarms to go."] if left else []
    return "".join(told)


class AcceptancePanel:
    """The door-by-door sheet of a site as a sheet to fill in; `expected` is its `AcceptanceSheet`, for the weather typed in."""

    def __init__(self, site, weather="winter", folder=None):
        self.site, self.weather, self.day = site, weather, Day()
        self.expected, self.trouble = acceptance_sheet(site, weather), ""
        steps = [force.step for force in self.expected.criteria.forces]
        columns = [
            ("Door", 125), ("Across", 120), ("Expected, shut", 80), ("pressure", 75), ("Gauge at; fan off, on", 150), ("fan off", 65),
            *((step, 75) for step in steps), ("shuts, latches", 80), ("minutes since start", 75), ("Doors open, expected", 110),
            ("measured", 75), ("smoke or thread goes", 130),
        ]  # fmt: skip
        rows = {row.key: self._row(row) for row in self.expected.rows}
        above = tuple((label, {"field": f"day {name}", "dimension": dimension}) for name, (label, dimension) in OF_THE_DAY.items())
        self.sheet = TypedSheet(
            f"acceptance {site.name} {weather}", columns, rows, self._judge, self._whole, folder, above,
            (*self._fan(), *DEFICIENCIES, *CLOSING_LINES, *SIGNED), tuple(self._older()), self._prepare,
            lambda system: round_lines(self.expected),
        )  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write the sheet as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a spreadsheet in `records`;
        shows a link to it."""
        target = Path(path or in_records(self.site.name, "acceptance.xlsx"))
        if target.suffix == ".xlsx":
            return written_card(write_acceptance_sheet(self.expected, target, UNITS.system, paper))
        return written_card(write_page(acceptance_page(self.expected, UNITS.system), target, paper))

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _row(self, row):
        """Cells of a door: what is expected, written anew for the weather of the day, and its fields."""
        key, steps = row.key, [force.step for force in self.expected.criteria.forces]
        forces = {force.criterion.step: {"field": f"{key} {force.field}", "dimension": "force"} for force in row.forces}
        by_hand = [{"field": f"{key} off_n", "dimension": "force"}, *(forces.get(step, "") for step in steps),
                   {"field": f"{key} shuts", "options": SHUTS}]  # fmt: skip
        second = {"field": f"{key} speed_m_s", "dimension": "speed"} if row.opened else {"field": f"{key} open_pa", "dimension": "pressure"}
        return [
            f"{row.use} {row.storey}", row.across, lambda system: units.show(self.expected.row(key).shut_pa, "pressure", system),
            {"field": f"{key} shut_pa", "dimension": "pressure"}, lambda system: _force_said(self.expected.row(key), system),
            *(by_hand if row.forces else [""] * (len(steps) + 2)), {"field": f"{key} minutes"},
            lambda system: _second_said(self.expected.row(key), system), second, {"field": f"{key} direction", "options": DIRECTIONS},
        ]  # fmt: skip

    def _fan(self):
        """Lines for speed, flow and current of the fan in both rounds, each with what is expected."""
        for place, (what, _) in enumerate(self.expected.fan_lines()):
            yield lambda system, place=place: ", expected ".join(self.expected.fan_lines(system)[place]), {"field": what}

    def _older(self):
        """Fields that sheets had before: one force, at the handle; a pressure across doors that stand open."""
        for row in self.expected.rows:
            if row.use == "stair door":
                if all(force.field != "force_n" for force in row.forces):
                    yield {"field": f"{row.key} force_n", "dimension": "force"}
                if row.opened:
                    yield {"field": f"{row.key} open_pa", "dimension": "pressure"}

    def _prepare(self, values):
        """The expected figures of the day's weather; what cannot be is told, and the figures before stay."""
        typed = {name: values[f"day {name}"] for name in OF_THE_DAY}
        refused = [str(value) for value in typed.values() if isinstance(value, ValueError)]
        self.trouble = refused[0] if refused else ""
        if refused:
            return
        try:
            day = Day(**typed)
            if day != self.day:
                self.day, self.expected = day, acceptance_sheet(self.site, self.weather, day=day)
        except ValueError as refusal:
            said = str(refusal)
            self.trouble = next((said.replace(name, label) for name, (label, _) in OF_THE_DAY.items() if said.startswith(name)), said)

    def _measured(self, values, key):
        fields = {name.removeprefix(f"{key} "): value for name, value in values.items() if name.startswith(f"{key} ")}
        return Measured(**{name: value for name, value in fields.items() if name in Measured.__dataclass_fields__})

    def _judge(self, system, values, row):
        return self.expected.judge(row, self._measured(values, row), system)

    def _whole(self, system, values):
        if self.trouble:
            return Verdict("entry", f"Weather of the day: {self.trouble}")
        states = []
        for row in self.expected.rows:
            measured = self._measured(values, row.key)
            refused = any(isinstance(value, ValueError) for value in vars(measured).values())
            states.append("open" if refused else self.expected.judge(row.key, measured, system)[0])
        state, words = self.expected.totals(states, [line for line in CLOSING if values[line]])
        return Verdict(state, f"{words} {self.expected.day_said}")


def _force_said(row, system):
    """Where the gauge goes, and what it should read with the fan off and on."""
    on = next((force.expected_n for force in row.forces if force.criterion.step in AIR), None)
    if row.off_n is None or on is None:
        return "not worked by hand"
    return f"{row.gauge_at}: {units.show(row.off_n, 'force', system)}, {units.show(on, 'force', system)}"


def _second_said(row, system):
    if row.opened:
        speed = "speed" if row.speed_m_s is None else units.show(row.speed_m_s, "speed", system, 2 if system == "Pa" else 0)
        return f"{speed} (open)"
    return units.show(row.open_pa, "pressure", system)


@cache
def injection_panel(name=DEFAULT_SITE):
    """The injection sheet of a demo site, one in a notebook."""
    return InjectionPanel(read_site(demo_sites()[name]))


@cache
def acceptance_panel(name=DEFAULT_SITE, weather="winter"):
    """The acceptance sheet of a demo site, one in a notebook."""
    return AcceptancePanel(read_site(demo_sites()[name]), weather)


def _field(number, place, when):
    return f"point {number} display {place + 1} {when}"
