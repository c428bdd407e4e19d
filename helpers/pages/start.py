"""The start page: how small the pressures are, one question, one door under a slider; and whether this installation is sound."""

import sys
from dataclasses import dataclass, replace
from functools import cache
from html import escape
from importlib.metadata import PackageNotFoundError, version

import numpy as np

from helpers import units
from helpers.formulas import air, doors, leakage
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import KNOWN
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import SITES_FOLDER, demo_sites, read_site
from helpers.plots.charts import figure
from helpers.plots.markup import KINDS, PAGE_STYLE, TEXT, Card, Verdict, folded, html_table, verdict_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axes, Axis, Band, Line, Plot, Words, level, round_ends
from helpers.plots.style import LIMITS, SERIES, WINDOW, Fill, limit_pen, mark_pen
from helpers.studies.beside_limit import limit_tile
from helpers.studies.doors.stair_window import larkfield_door
from helpers.studies.duty.hand_method import STANDARD_DENSITY_KG_M3
from helpers.studies.report import apart, limit_text, passed
from helpers.studies.status import SPARE_PA
from helpers.teaching.plan import lesson, terms
from helpers.units.said import drawn, with_unit
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

LIMIT_N = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]
LEAST_PA = doors.STAIR_PRESSURES_PA["ibc_least"]
MOST_PA = 120.0
GUESSES_PA = (20.0, 60.0, 200.0)
PAPER_KG_M2 = 0.080  # office paper
STOREY_M, WINTER_C, ROOM_C, WIND_M_S = 3.0, -10.0, 20.0, 10.0
CLOSE_N = 10.0  # nearer to the limit than a force gauge and a stiff hinge leave room for; common practice, no source


def pressure_card():
    """How much a pascal is: pressures of the trade beside everyday ones, in both units."""
    sheet = PAPER_KG_M2 * air.GRAVITY_M_S2
    storey = STOREY_M * float(air.stack_gradient(WINTER_C, ROOM_C))
    rows = [
        ("a sheet of paper lying on a table", sheet, 2),
        (f"warm air in one storey of {STOREY_M:g} m, {ROOM_C:g} °C inside and {WINTER_C:g} °C outside", storey, 1),
        ("least across a stair door that keeps smoke out, without sprinklers", LEAST_PA, 0),
        (f"wind of {WIND_M_S:g} m/s blowing straight at a wall", float(air.velocity_pressure(WIND_M_S)), 0),
        ("all that a stair door may see, as one US code puts it", doors.STAIR_PRESSURES_PA["ibc_most"], 0),
        ("one inch of water", units.WATER_COLUMNS_PA[units.WATER_COLUMN], 1),
    ]
    shown = [(what, units.show(dp, "pressure", "Pa", digits), units.show(dp, "pressure", "in. w.c.", 3)) for what, dp, digits in rows]
    column = f"Water column used throughout: {units.WATER_COLUMN}, 1 in. w.c. = {units.WATER_COLUMNS_PA[units.WATER_COLUMN]:g} Pa."
    others = [f"{name} {pascals:g} Pa" for name, pascals in units.WATER_COLUMNS_PA.items() if name != units.WATER_COLUMN]
    note = f"{column} Other books: {', '.join(others)}."
    table = html_table(("How much is that?", "Pascal", "Inches of water"), shown)
    return Card(f"<p>{escape(note)}</p>{table}", "\n".join([note, *(": ".join((row[0], " = ".join(row[1:]))) for row in shown)]))


def start_question():
    """The question before the panel, with the panel's own figures."""
    door, limit = larkfield_door(), units.show(LIMIT_N, "force")
    words = (
        f"Predict first, and write it down. A usual door is {units.show(door.width_m, 'length')} wide; its closer needs "
        f"{units.show(door.closer_force_n, 'force')}. US codes allow {units.show(LIMIT_N, 'force', 'in. w.c.')} ({limit}) to set a door "
        "moving; take it at the handle. How much "
        f"pressure can this door bear: {', '.join(units.show(guess, 'pressure') for guess in GUESSES_PA[:-1])} or "
        f"{units.show(GUESSES_PA[-1], 'pressure')}? "
        "And what does a heavier closer do to that?"
    )
    return Card(f'<p style="font-size:{TEXT}px">{escape(words)}</p>', words)


@cache
def start_panel():
    """The panel, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    controls = {
        "dp_pa": Slider("Pressure", "pressure", 0.0, MOST_PA, 1.0, 25.0),
        "closer_n": Slider("Door closer", "force", 20.0, 120.0, 1.0, larkfield_door().closer_force_n),
    }
    return Panel(controls, Picture(**PANEL_PX), _answer, groups={"The door": tuple(controls)}, tasks=TASKS)


TASKS = (
    Task("Move Pressure until the verdict turns: drag the slider, use the arrow keys on it, or type over its figure.", {"dp_pa": 62.0}),
    Task(f"Door closer {with_unit(30.0, 'force')} higher. Is the window wider or narrower? Why fit a heavier closer all the same?",
         {"closer_n": 100.0}),
    Task("Switch to in. w.c. and back. Has anything changed but the words?"),
)  # fmt: skip


def _answer(dp_pa, closer_n):
    leaf = larkfield_door().model_copy(update={"closer_force_n": closer_n}).leaf
    force = float(doors.opening_force(dp_pa, *leaf))
    most = float(doors.pressure_tolerated(LIMIT_N, *leaf))
    verdict = _judged(dp_pa, force, most)
    head, tiles = _head(dp_pa, force, closer_n)
    told = replace(verdict, head=head, tiles=tiles, do=_to_do(verdict.kind, leaf, dp_pa))
    return told, _door_force(leaf, dp_pa, force, most, verdict.kind)


def _head(dp_pa, force_n, closer_n):
    """(sentence, tiles): what decides; force, pressure, and the air's part of the force. What the door bears is asked, not told."""
    (force, limit), (dp, least) = apart((force_n, LIMIT_N), "force", "most"), apart((dp_pa, LEAST_PA), "pressure", "least")
    tiles = (
        limit_tile("At the handle", force_n, LIMIT_N, "force"),
        limit_tile("Pressure", dp_pa, LEAST_PA, "pressure", "min."),
        ("Of it for the air", with_unit(force_n - closer_n, "force"), ""),
    )
    if force_n > LIMIT_N:
        return passed(force_n, LIMIT_N, "force", "at the handle"), tiles
    if dp_pa < LEAST_PA:
        return passed(dp_pa, LEAST_PA, "pressure", "against smoke"), tiles
    if dp_pa < LEAST_PA + SPARE_PA and force_n <= LIMIT_N - CLOSE_N:
        return f"Smoke just stays out: {dp}, least {least}", tiles
    return f"{'Just' if force_n > LIMIT_N - CLOSE_N else 'Opens'} with {force}, {limit} allowed; smoke stays out", tiles


def _to_do(kind, leaf, dp_pa):
    """What leaves room at both ends, in one line of a panel: another pressure, or a lighter closer and the pressure that goes with it."""
    if kind == "good":
        return ""
    target, most = LEAST_PA + SPARE_PA, float(doors.pressure_tolerated(LIMIT_N - CLOSE_N, *leaf))
    if target <= most:
        way, to = ("raise", np.ceil(target)) if dp_pa < target else ("lower", np.floor(most))
        return f"Do: {way} the pressure to {with_unit(float(to), 'pressure')}"
    target = float(np.ceil(target))
    air = float(doors.opening_force(target, *leaf)) - leaf[2]  # without the closer
    return f"Do: closer {with_unit(float(np.floor(LIMIT_N - CLOSE_N - air)), 'force')} that latches, then {with_unit(target, 'pressure')}"


@drawn
def _door_force(leaf, dp_pa, force_n, most_pa, state, *, system):
    """Force at the handle by pressure: the line moves with the closer, the mark with the pressure, the band ends where the line passes the
    limit."""
    pressures = np.linspace(0.0, MOST_PA, 25)
    across, up = (
        Axis(label, label.lower(), round_ends([most], label.lower(), system)) for label, most in (("Pressure", MOST_PA), ("Force", 250.0))
    )
    title, says = "Force at the door handle", f"{units.show(dp_pa, 'pressure', system)}, {units.show(force_n, 'force', system)}"
    layers = (
        Band((LEAST_PA, max(most_pa, LEAST_PA)), 0.0, 1.0, Fill(WINDOW, WINDOW, width=1.0), over="x"),
        Line(pressures, doors.opening_force(pressures, *leaf), SERIES[0].but(marker="", width=2.4), order=3),
        level(LIMIT_N, "y", limit_pen("most force", 1.8), "most force", 2, still=True),
        Words("most force allowed", 1.01, LIMIT_N, colour=LIMITS["most force"][0], over="y"),
        level(LEAST_PA, "x", limit_pen("least", 1.4), "least", 2, still=True),
        Words("least against smoke", LEAST_PA, 1.01, "center", "bottom", over="x"),
        Line((dp_pa,), (force_n,), mark_pen(state, 13.0), "now", 5),
        Words(says, dp_pa, force_n, backed=True, order=4, shift=(0.02, 0.0), turn=0.6),
    )
    limit = figure(LIMIT_N, "force")
    told = f"{title} ({up.text(system)}) by {across.text(system)}: {says}; most force allowed {limit}."
    return Plot("door force", title, (Axes(across, up, layers, title, (80, 180, 62, 56)),), told, height_px=360, system=system)


def _judged(dp_pa, force_n, most_pa):
    force, limit = (with_unit(value, "force") for value in (force_n, LIMIT_N))
    least, most = (limit_text(value, "pressure", end) for value, end in ((LEAST_PA, "least"), (most_pa, "most")))
    if force_n > LIMIT_N:
        told = (
            f"It takes {force} to open this door, and {limit} is allowed: people may not get out. With this closer {most} is its maximum."
        )
        return Verdict("wrong", told)
    if dp_pa < LEAST_PA:
        return Verdict("wrong", f"The door opens with {force}, but smoke may come through its gaps: {least} is the minimum.")
    if force_n > LIMIT_N - CLOSE_N:
        told = (
            f"It takes {force}, just under the {limit} allowed: a stiff hinge is enough to be over. Its limit is {most} with this closer."
        )
        return Verdict("attention", told)
    if dp_pa < LEAST_PA + SPARE_PA:
        now, asked = apart((dp_pa, LEAST_PA), "pressure", "least")
        told = f"Smoke just stays out: {now} is there, {asked} is the minimum. Wind or a transmitter's error is enough to be under it."
        return Verdict("attention", f"{told} The door opens with {force}, where {limit} is allowed. Its limits: {least} to {most}.")
    return Verdict(
        "good",
        f"Smoke stays out and the door opens with {force}, where {limit} is allowed. Its limits: {least} to {most} with this closer.",
    )


LEAST_PYTHON = (3, 11)
WHERE_READ = () if sys.platform == "emscripten" else ("jupyterlab",)  # in the browser alone, the page itself shows the notebooks
NEEDED = ("numpy", "matplotlib", "ipywidgets", *WHERE_READ, "pydantic", "sympy")
AGAIN = "run the README's install line again"
KNOWN_STAIR = SITES_FOLDER.parent / "checks" / "published_stair.toml"
PUBLISHED_CFM, NEAR_PERCENT = 8200.0, 1.0  # printed as "about 8200", from rounded areas; 8258 from unrounded ones
PUBLISHED_SOURCE = "ASHRAE Handbook, HVAC Applications, fire and smoke chapter, stairwell example, 1999 to 2007 (from memory, not verified)"


@dataclass(frozen=True)
class Inspected:
    """One thing looked at: what it is, what was found, whether it is in order, and what to do where it is not."""

    what: str
    found: str
    good: bool
    remedy: str = ""

    @property
    def kind(self):
        """Its word: what agrees with a figure that is known from memory alone is no PASS."""
        return ("agrees" if KNOWN["memory"] in self.found else "good") if self.good else "wrong"


@dataclass(frozen=True)
class SelfCheck:
    """All checks; shows itself in one line, each of them folded away as long as all are in order."""

    checks: tuple

    @property
    def good(self):
        """Whether all is in order."""
        return all(check.good for check in self.checks)

    def __str__(self):
        return "\n".join(f"{KINDS[check.kind].word}: {check.what}: {check.found}" for check in self.checks)

    def _repr_mimebundle_(self, include=None, exclude=None):
        if self.good:
            stair = self.checks[-1].found.partition(" (")[0]
            sound = Verdict("good", f"The calculation works on this computer; of no building is anything said. A published stair: {stair}.")
            rows, kinds = [(check.what, check.found) for check in self.checks], [check.kind for check in self.checks]
            table = html_table(("What", "Found"), rows, kinds)
            html = verdict_html(sound) + folded(f"All {len(self.checks)} checks", table)
        else:
            rows = [(check.what, check.found, "" if check.good else check.remedy) for check in self.checks]
            states = [check.kind for check in self.checks]
            told = Verdict("wrong", "Trust no figure of this workbook before what fails here is mended.")
            html = verdict_html(told) + html_table(("What", "Found", "What to do"), rows, states)
        return {"text/html": html, "text/plain": str(self)}


def self_check():
    """Look at Python, the packages, the site files and the known stair. Returns `SelfCheck`; raises nothing for what is missing."""
    return SelfCheck((_python(), _packages(), *_sites(), _known_stair()))


class _ShownAs(str):
    """Words of a table's cell that a page shows as `html`."""

    html = ""

    @classmethod
    def of(cls, text, html):
        """The words and their HTML."""
        cell = cls(text)
        cell.html = html
        return cell


def glossary():
    """The words of the trade in the order of the alphabet, as a table whose last column links to the lessons' pages."""
    rows, lines = [], []
    for term in terms():
        page = lesson(term.lesson)
        linked = _ShownAs.of(page.name, f'<a href="{page.notebook}">{escape(page.name)}</a>')
        rows.append((_ShownAs.of(term.word, f"<b>{escape(term.word)}</b>"), term.says, linked))
        lines.append(f"{term.word}: {term.says} (lesson {page.numbered})")
    return Card(PAGE_STYLE + html_table(("Word", "What it means here", "Lesson"), rows), "\n".join(lines))


def known_stair():
    """Supply air of the published stair by the whole chain from site file to held fan speed [m3/s of standard air].

    The source gives the pressure at the foot of the lowest door, the model in the middle of the storey: half a storey's rise lies between.
    """
    site = read_site(KNOWN_STAIR)
    storey, door = site.storeys[0], site.doors["gap"]
    edition = site.leakage.edition
    inner = float(leakage.wall_leakage_area(storey.stair_wall_m2, "stair_wall", "average", edition)) + door.leak_area_m2
    outer = float(leakage.wall_leakage_area(sum(storey.facade_m2), "exterior_wall", "average", edition))
    foot, gradient = site.control.set_point_pa, air.stack_gradient(site.weather["winter"].outdoor_c, site.temperatures.floor_c)
    middle = float(leakage.stair_top_pressure(foot, storey.height_m / 2, gradient, inner, outer))
    held = Tower(site).hold(Conditions.of(site, "winter"), middle)
    return float(held.air.supply_kg_s[0]) / STANDARD_DENSITY_KG_M3


def _python():
    found = sys.version_info[:3]
    needed = ".".join(map(str, LEAST_PYTHON))
    return Inspected(
        "Python", f"Python {'.'.join(map(str, found))}", found >= LEAST_PYTHON, f"install Python {needed} or later, then {AGAIN}"
    )


def _packages():
    found, missing = [], []
    for name in NEEDED:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            missing.append(f"{name} is missing")
    return Inspected("Packages", ", ".join(missing + found), not missing, AGAIN)


def _sites():
    try:
        files = demo_sites()
    except SiteFileError as trouble:
        return [Inspected("Demo sites", str(trouble), False, "get the whole repository, not only the helpers")]
    return [_site(name, path) for name, path in files.items()]


def _site(name, path):
    try:
        site = read_site(path)
    except SiteFileError as trouble:
        return Inspected("Site file", str(trouble), False, "mend the file, or get it again from the repository")
    return Inspected("Site file", f"{name}, {len(site.storeys)} storeys, {len(site.transmitters)} transmitters", True)


def _known_stair():
    try:
        flow = known_stair()
    except SiteFileError as trouble:
        return Inspected("Known stair", str(trouble), False, "get the whole repository, not only the helpers")
    cfm = float(units.to_display(flow, "flow", "in. w.c."))
    off = 100 * (cfm / PUBLISHED_CFM - 1)
    near = f"{off:+.1f} %, {NEAR_PERCENT:g} % allowed"
    found = f"{cfm:.0f} cfm by the model, about {PUBLISHED_CFM:.0f} cfm published: {near} ({PUBLISHED_SOURCE})"
    return Inspected("Known stair", found, abs(off) <= NEAR_PERCENT, "do not use any figure of this workbook; report it")
