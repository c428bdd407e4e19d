"""The two sheets of the day: injected signals with what every display must show, and storey by storey what was measured at the doors."""

from functools import cache
from pathlib import Path

from helpers import units
from helpers.formulas import signals
from helpers.model.site import demo_sites, read_site
from helpers.panels.controls import UNITS
from helpers.panels.printed import acceptance_page, in_records, injection_page, write_page, written_card
from helpers.panels.typed_sheet import TypedSheet
from helpers.panels.verdict import Verdict
from helpers.studies.acceptance import DIRECTIONS, Measured, acceptance_sheet
from helpers.studies.commissioning import check_plan
from helpers.studies.figures import fine
from helpers.studies.sheets import write_acceptance_sheet, write_injection_sheet

__all__ = ["DEFAULT_SITE", "AcceptancePanel", "InjectionPanel", "acceptance_panel", "injection_panel"]

DEFAULT_SITE = "Larkfield House"
ROUNDS = ("as found", "as left")
WHO = ("as found by, date", "as left by, date", "calibrator, certificate")


class InjectionPanel:
    """The injection table of a site as a sheet to fill in; `plan` is its `CheckPlan`."""

    def __init__(self, site, folder=None):
        self.site, self.plan = site, check_plan(site.transmitters, site.control.rule, site.control.weights)
        columns = [("Point", 60), ("Inject", 150), ("Display", 120), ("must show", 170), ("as found", 110), ("as left", 110)]
        rows = {}
        for number, point in enumerate(self.plan.points, 1):
            for place in range(len(self.plan.transmitters) + 1):
                rows[number, place] = self._row(number, place, point)
        for what in WHO:
            rows[what, 0] = ["", "", "", what, {"field": what}, ""]
        self.sheet = TypedSheet(f"injection {site.name}", columns, rows, self._judge, self._whole, folder)

    def export(self, path=None, paper="A4"):
        """Write the sheet as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a spreadsheet in `records`;
        shows a link to it."""
        target = Path(path or in_records(self.site.name, "injection.xlsx"))
        if target.suffix == ".xlsx":
            return written_card(write_injection_sheet(self.plan, self.site.name, target, UNITS.system, paper))
        return written_card(write_page(injection_page(self.plan, self.site.name, UNITS.system), target, paper))

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
            if not all(value is None for row in self._read(values, when) for value in row):
                state = "wrong" if False in judged.passes else "good" if judged.good else "attention"
                return Verdict(state, f"{when.capitalize()}: {judged.words}")
        return Verdict("open", f"Nothing has been read yet. {len(self.plan.points)} points prove all of it.")


class AcceptancePanel:
    """The floor-by-floor sheet of a site as a sheet to fill in."""

    def __init__(self, site, weather="winter", folder=None):
        self.site, self.expected = site, acceptance_sheet(site, weather)
        columns = [("Storey", 60), ("Expected, doors shut", 190), ("pressure", 90), ("force", 90), ("Expected, doors open", 120),
                   ("pressure", 90), ("smoke or thread goes", 150)]  # fmt: skip
        rows = {row.level: self._row(row) for row in self.expected.rows}
        self.sheet = TypedSheet(f"acceptance {site.name} {weather}", columns, rows, self._judge, self._whole, folder)

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
        def shut(system):
            force = "" if row.force_n is None else f", {units.show(row.force_n, 'force', system)}"
            return f"{units.show(row.shut_pa, 'pressure', system)}{force}"

        def opened(system):
            return f"{units.show(row.open_pa, 'pressure', system)}{' (open)' if row.opened else ''}"

        fields = {"shut_pa": "pressure", "force_n": "force", "open_pa": "pressure"}
        cells = {name: {"field": f"{row.level} {name}", "dimension": dimension} for name, dimension in fields.items()}
        way = {"field": f"{row.level} direction", "options": DIRECTIONS}
        return [str(row.level), shut, cells["shut_pa"], cells["force_n"], opened, cells["open_pa"], way]

    def _measured(self, values, level):
        return Measured(**{name: values[f"{level} {name}"] for name in ("shut_pa", "force_n", "open_pa", "direction")})

    def _judge(self, system, values, row):
        return self.expected.judge(row, self._measured(values, row), system)

    def _whole(self, system, values):
        states = []
        for row in self.expected.rows:
            measured = self._measured(values, row.level)
            if not any(isinstance(value, ValueError) for value in vars(measured).values()):
                states.append(self.expected.judge(row.level, measured, system)[0])
        judged, wrong = [state for state in states if state], states.count("wrong")
        if wrong:
            return Verdict("wrong", f"{wrong} of {len(judged)} storeys measured are not in order.")
        if len(judged) < len(states) or "attention" in judged:
            return Verdict("attention", f"{len(judged)} of {len(states)} storeys measured, {judged.count('attention')} to look at.")
        return Verdict("good", f"All {len(states)} storeys are in order, as far as figures tell.")


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
