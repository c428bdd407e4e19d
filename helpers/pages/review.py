"""The senior's five minutes: somebody's strategy goes in, its faults come out, the most serious first, with a picture of the doors."""

from functools import cache
from pathlib import Path

from ipywidgets import HTML, VBox

from helpers import units
from helpers.formulas.action import ACTIONS
from helpers.model.files import named_path
from helpers.model.plants.kinds import GarageStrategy, read_any_site, read_any_strategy
from helpers.model.site.file import SITES_FOLDER, demo_sites
from helpers.model.site.schema import Site
from helpers.model.strategy import FALLBACKS, MODES, stated_by
from helpers.pages.printed import in_records, review_page, written_card
from helpers.pages.record.views import Piece
from helpers.pages.sites import SiteChoice
from helpers.plots.markup import Verdict, counts_html, folded, html_table, to_decide_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.printer import write_page
from helpers.record.page import SectionFace, table_shown
from helpers.record.plants.design import design_of
from helpers.record.plants.laid import strategy_of
from helpers.record.review.study import review_profile, reviewed, worst_now
from helpers.studies.report import listed, range_text
from helpers.studies.signals.plates import plate_text
from helpers.studies.status import one_line, word_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, Choice, Typed, typed_gain, typed_integral_time
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

STRATEGIES_FOLDER = SITES_FOLDER.parent / "strategies"
DEFAULT_STRATEGY = "Larkfield As Found"
READ = (
    "Every dot is a shut stair door. Two lines: first the headline's case, where one is out, with the final exits as squares and their "
    "most as strokes; then the case in which a door has least room above its minimum pressure, or below its most; the first minute, "
    "when the stair is as warm as the rooms, and an hour later are cases too. The pale band is the doors' window, a cross marks a door "
    "out of it. Under the panel stand instrument and entry side by side, then the findings: what is out now, by whose it is, then what "
    "would be after a failure. Each unfolds: the figure computed on this site, why it matters, what change would clear it, and where "
    "the rule comes from (common practice means that no standard says so)."
)
TASKS = (
    Task("Set Entered top 2 (under More) to what the instrument has. Which findings go, and which did the wrong entry hide until now?",
         {"top_1": 125.0}),
    Task("Failed reading: use the good ones. Which door pays? Then agreed fallback speed: what is still missing?",
         {"fallback": "use the good ones"}),
    Task("Action direct. Where does the fan end, and what do the doors see there?", {"action": "direct"}),
    Task("Let the fan follow (under More) the lowest reading at the same set point; then look for a set point that suits it.",
         {"rule": "lowest"}),
    Task("Choose Larkfield Sound, then Northgate Handed Over. How many of the tower's mistakes would you have seen?",
         {"name": "Northgate Handed Over"}),
    Task("In Larkfield Sound enter gain 1.07, integral time 0.53 s: quick and calm in the model. What does the review say of it?",
         {"name": "Larkfield Sound", "gain": "1.07", "integral_time_s": "0.53 s"}),
    Task("Choose Orchard Sound, a garage held by its gas, and turn its action round.", {"name": "Orchard Sound"}),
)  # fmt: skip
GROUPS = {
    "Building and strategy": ("site", "name"),
    "The loop": ("set_point_pa", "set_point_ppm", "action", "gain", "integral_time_s"),
}
LEFT_OUT = "gusts, drive trips, restart, intake, standby power; wires and tubes as they really are: on site"
FAILED = {name.replace("remaining reading", "remaining one"): name for name in FALLBACKS}  # as short as a list has room for
OF_STRATEGY, OF_FILE = "as the strategy says", "the site file's own loop"
NO_STRATEGY = "no strategy is judged: the loop and the entries of the building's own file, no fallback, no alarms stated"
LEAST_RAMP_S = 0.5
MOST_INPUTS = 3  # with a control of their own for the entered top


def demo_strategies():
    """Files of the strategies that come with the workbook, by name."""
    return {file.stem.replace("_", " ").title(): file for file in sorted(STRATEGIES_FOLDER.glob("*.toml"))}


def with_choices(strategy, rule=None, set_point=None):
    """The strategy with another rule, which drops old weights, and another set point (text with its unit); None: as it has them."""
    loop = {} if rule in (None, strategy.loop.rule) else {"rule": rule, "weights": None}
    if set_point is not None:
        field, dimension = ("set_point_pa", "pressure") if hasattr(strategy.loop, "set_point_pa") else ("set_point_ppm", "concentration")
        loop |= {field: units.parse(set_point, dimension, "set_point"), "set_point_percent_span": None}
    return strategy.with_changes(loop=loop) if loop else strategy


def site_of(strategy, path):
    """The site a strategy is for, of any kind: a file beside the strategy's, or a demo site. Raises ValueError naming both places."""
    name = strategy.site.removesuffix(".toml")
    every = demo_sites(None)
    beside, demo = Path(path).parent / f"{name}.toml", every.get(name.replace("_", " ").title())
    if Path(name).name != name:
        raise ValueError(
            f"site must be the name of a file beside the strategy, or of a demo site, without folders; got {strategy.site!r:.60}"
        )
    if beside.is_file():
        return read_any_site(beside)
    if demo is None:
        raise ValueError(
            f"site must be a file beside the strategy or one of the demo sites ({', '.join(every)}); got {strategy.site!r:.60}"
        )
    return read_any_site(demo)


class ReviewPanel:
    """The panel with its strategy; `review` is the last one that could be made."""

    def __init__(self, name=DEFAULT_STRATEGY):
        self.files, self.review = demo_strategies(), None
        self._load(self.files[name])
        self.beside, self.list, self.missing = HTML(), HTML(), HTML()
        picture, controls = Picture(**PANEL_PX), self._controls(name)
        self.panel = Panel(controls, picture, self._answer, self._prepare, groups=GROUPS, read=READ, left_out=LEFT_OUT,
                           tasks=TASKS, beside=self._write)  # fmt: skip
        self.box = VBox([self.panel.line.strip, self.panel.box, self.beside, self.list])

    @property
    def strategy(self):
        """The strategy as the controls have it."""
        return self._used

    def clear(self):
        """What was looked for and not found, to be the last line of a cell: it follows the chooser and the entries."""
        return ClearList(self)

    def export(self, path=None, paper="A4"):
        """Write the review as a page, HTML or PDF by the ending of the path, by default into `records`; shows a link to it."""
        return written_card(write_page(review_page(self.review), path or in_records(self.review.strategy_name, "review.html"), paper))

    def _repr_mimebundle_(self, include=None, exclude=None):
        bundle = self.panel._repr_mimebundle_(include, exclude)
        words = "\n".join([bundle["text/plain"], *map(_in_words, self.review.findings)])
        live = self.box._repr_mimebundle_()
        return live | {"text/html": f"{bundle['text/html']}{self.beside.value}{self.list.value}", "text/plain": words}

    def _load(self, path):
        self.read, self._path, self.of_file = read_any_strategy(path), path, False
        self.site = site_of(self.read, path)
        self._used = self.read

    def _load_site(self, path):
        """Another building: the strategy where it is of that building, else what the site file states, never another building's."""
        mine = read_any_strategy(self._path)
        self.site = site_of(mine, self._path) if path is None else read_any_site(path)
        self.of_file = self.site.name != site_of(mine, self._path).name
        self.read = _stated(self.site) if self.of_file else mine
        self._used = self.read

    def _controls(self, name):
        controls = {
            "set_point_pa": Slider("Set point", "pressure", 0.0, 150.0, 1.0, 40.0),
            "set_point_ppm": Slider("Set point", "concentration", 1.0, 200.0, 1.0, 25.0),
            "name": Choice("Strategy", [*self.files, OF_FILE], name),
            "rule": Choice("Fan follows", ["average"]),
            "action": Choice("Action", list(ACTIONS)),
            "gain": typed_gain("Gain"),
            "integral_time_s": typed_integral_time("Integral time"),
            "ramp_s": Slider("Ramp", "time", LEAST_RAMP_S, 60.0, 0.5, 6.0),
            "fallback": Choice("Failed reading", FAILED),
            "mode": Choice("Mode", list(MODES)),
        }
        controls |= {
            f"top_{place}": Slider(f"Entered top {place + 1}", "pressure", 5.0, 1000.0, 5.0, 125.0) for place in range(MOST_INPUTS)
        }
        controls["file"] = Typed("Your strategy file", str.strip, hint="path of a .toml file, or empty")
        controls["site"] = SiteChoice("Site", OF_STRATEGY, self.site.kind, {OF_STRATEGY: None})
        self._set(controls)
        return controls

    def _set(self, controls):
        """All controls as the strategy's file has them."""
        loop = self.read.loop
        gas, target = self._of_gas, self.read.set_point
        controls["set_point_pa"].shown, controls["set_point_ppm"].shown = not gas, gas
        if gas:
            controls["set_point_ppm"].limit(1.0, max(200.0, 2 * target), target)
        else:
            controls["set_point_pa"].limit(min(0.0, 2 * target), max(150.0, 2 * target), target)
        rules = ["average", "lowest", "highest"] + (["middle"] if len(self.read.inputs) > 2 else [])
        controls["rule"].offer(list(dict.fromkeys([*rules, loop.rule])), loop.rule)
        controls["action"].offer(list(ACTIONS), loop.action)
        controls["gain"].text = f"{loop.controller_gain:g}"
        controls["integral_time_s"].text = units.write(loop.integral_s, "time") if loop.integral_s else "none"
        self._set_ramp(controls["ramp_s"])
        controls["fallback"].offer(FAILED, self.read.on_bad_reading.does)
        controls["mode"].offer(list(MODES), self.read.mode)
        for place in range(MOST_INPUTS):
            top = controls[f"top_{place}"]
            top.shown = place < len(self.read.inputs) and not gas
            if top.shown:
                high = self.read.inputs[place].entered[2]
                top.limit(min(5.0, high), max(1000.0, high), high)

    def _set_ramp(self, slider):
        own = self.read.loop.ramp_s
        ramp = self.site.fan.ramp_s if own is None else own
        slider.limit(LEAST_RAMP_S, max(60.0, ramp), max(ramp, LEAST_RAMP_S))

    def _prepare(self, moved):
        controls = self.panel.controls
        if moved in ("name", "file"):
            path = controls["file"].value if moved == "file" else ""
            if not path and controls["name"].value == OF_FILE:
                self.of_file, self.read = True, _stated(self.site)
            else:
                self._load(named_path(path) if path else self.files[controls["name"].value])
                controls["site"].of_kind(self.site.kind)
            self._set(controls)
        elif moved == "site":
            self._load_site(controls["site"].path)
            named = {file: name for name, file in self.files.items()}.get(self._path, controls["name"].value)
            controls["name"].offer([*self.files, OF_FILE], OF_FILE if self.of_file else named)
            self._set(controls)

    @property
    def _of_gas(self):
        """Whether the strategy's readings are of gas."""
        return isinstance(self.read, GarageStrategy)

    def _answer(self, set_point_pa, set_point_ppm, rule, action, gain, integral_time_s, ramp_s, fallback, mode, name, file, site, **tops):
        gas = self._of_gas
        target = {"set_point_ppm": set_point_ppm} if gas else {"set_point_pa": set_point_pa}
        loop = target | {"rule": rule, "action": action, "gain": gain, "integral_time_s": integral_time_s}
        loop |= {"set_point_percent_span": None, "proportional_band_percent_span": None, "repeats_per_minute": None}
        own_ramp = self.read.loop.ramp_s is None and ramp_s == max(self.site.fan.ramp_s, LEAST_RAMP_S)  # the fan's, until it is moved
        loop |= {"ramp_s": None if own_ramp else ramp_s, "weights": self.read.loop.weights if rule == "weighted" else None}
        inputs = [
            {"entered_high_pa": tops[f"top_{place}"]} if not gas and place < MOST_INPUTS and tops[f"top_{place}"] != one.entered[2] else {}
            for place, one in enumerate(self.read.inputs)
        ]
        self._used = self.read.with_changes(loop=loop, inputs=inputs, mode=mode, on_bad_reading={"does": fallback})
        self._made = reviewed(self._used, self.site)
        return _verdict(self._made, NO_STRATEGY if self.of_file else ""), review_profile(self._made.bench)

    def _write(self):
        self.review = self._made.in_system(UNITS.system)
        self.beside.value = written_out(_side_by_side(self._used), UNITS.system)
        found = self.review.findings
        self.list.value = counts_html(found) + _grouped_html(self.review)
        self.missing.value = _clear_html(self.review)


class ClearList:
    """What a review looked for without a finding, of the strategy that its panel has at the moment."""

    def __init__(self, panel):
        self.panel, self.widget = panel, panel.missing

    @property
    def text(self):
        """The same in plain text, the strategy's name first."""
        made = self.panel.review
        title = [made.unjudged_table().title] if made.unjudged else []
        return "\n".join([made.strategy_name, *made.clear, *title, *(f"{what}: {why}" for what, why in made.unjudged)])

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.widget._repr_mimebundle_() | {"text/html": self.widget.value, "text/plain": self.text}


@cache
def review_panel(name=DEFAULT_STRATEGY):
    """The panel of a strategy, one in a notebook: shown again it is the same one, with the controls where they were left."""
    return ReviewPanel(name)


@cache
def plant_section(name, key):
    """A section of the record of another plant than a stair, by the demo site's name and the section's key, all its tables with it; it
    follows the unit switch."""
    design = design_of(read_any_site(demo_sites(None)[name]))

    def told():
        section = design.section(key, UNITS.system)
        bundle, more = SectionFace(section).bundle(), [table_shown(table) for table in section.tables[1:]]
        tables = "".join(folded(table.title, html, is_html=True) for table, (html, _) in zip(section.tables[1:], more, strict=True))
        return bundle["text/html"] + tables, "\n\n".join([bundle["text/plain"], *(words for _, words in more)])

    piece = Piece(told)
    UNITS.listen(piece.refresh)
    return piece


def _stated(site):
    """What a site file states of its loop, as a strategy of its own name."""
    made = stated_by(site) if isinstance(site, Site) else strategy_of(site)
    return made.model_copy(update={"name": f"{site.name}, loop of its site file"})


def _verdict(made, told=""):
    """The verdict of a `Review`; told: what has to be known before its case."""
    found = made.findings
    first = f" Most serious: {found[0].what}." if found else ""
    counts = {word: sum(finding.severity == word for finding in found) for word in ("wrong", "attention")}
    wrong, attention = (f"{count} {word_of(word)}" for word, count in counts.items())
    head, case = worst_now(made.bench)
    head = head or f"Every place inside its limits now; {wrong if counts['wrong'] else attention if found else 'nothing'} found"
    case = case or (one_line(found[0]) if found else "")
    unlike = [one.name for one in made.bench.strategy.inputs if not one.entered_as_it_is]
    entry = f"it hides {made.hidden} more {word_of('wrong')}" * bool(unlike and made.hidden)
    case = ", ".join(filter(None, (f"wrong entry of {listed(unlike)}" * bool(unlike), case)))  # other pages have it with sound readings
    tiles = tuple((what, f"{len(some)}", f"of {wrong}") for what, some in made.wrong_parts() if some) or (("Found", attention, wrong),)
    return Verdict(found[0].severity if found else "good", f"{made.verdict()}{first}", head, tiles,
                   "; ".join(filter(None, (told, case, entry))), made.to_do())  # fmt: skip


def _grouped_html(made):
    """The findings as a list to work through, group by group."""
    head = '<div style="font-weight:bold;padding:6px 0 0">{}</div>'
    return "".join(head.format(title) + to_decide_html(findings) for title, findings in made.groups())


def _side_by_side(strategy):
    """Each instrument beside what the drive has for it, folded under how many pairs are unequal: those are marked."""

    def told(signal, low, high):
        if isinstance(strategy, GarageStrategy):
            return range_text(low, high, "concentration"), signal
        return plate_text(low, high), signal

    rows = []
    for one in strategy.inputs:
        pairs = zip(("range", "signal"), told(one.signal, *one.range), told(*one.entered), strict=True)
        rows += [(f"{one.name}, {what}", plate, "=" if plate == entry else "≠", entry) for what, plate, entry in pairs]
    states = ["" if mark == "=" else "wrong" for *_, mark, _ in rows]
    unlike = sum(state == "wrong" for state in states)
    line = f"The instruments beside what is entered in the drive: {f'{unlike} of {len(rows)} unequal' if unlike else 'all equal'}"
    return folded(line, html_table(("", "On the instrument", "", "Entered in the drive"), rows, states, units_to_head=False))


def _clear_html(made):
    """What was looked for and not found; below it what could not be judged, and why."""
    clear, unjudged = made.clear_table(), made.unjudged_table()
    tables = [(f"{clear.title}: {made.strategy_name}", clear), *([(unjudged.title, unjudged)] if unjudged.rows else [])]
    return "".join(folded(f"{title} ({len(one.rows)})", html_table(one.columns, one.rows)) for title, one in tables)


def _in_words(finding):
    return f"{word_of(finding.severity)}: {finding.what}: {finding.figure}. What would change it: {finding.remedy}."
