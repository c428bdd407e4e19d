"""The design page: sliders and picture of a design, with its record under them.

The picture on the project's first page: one building in winter, one set point, and what three rules do to its doors.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

from helpers.formulas import signals
from helpers.model.air.fan import fan_points, inlet_density_ratio
from helpers.model.air.tower import Tower
from helpers.model.files import named_path, write_whole
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.record.views import RecordBoard, RecordView
from helpers.pages.sites import SiteChoice, site_file
from helpers.plots.charts import fan_curves
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Drawing, Picture, picture_of
from helpers.plots.style import REFERENCE, series
from helpers.record.board import fails_counted, first_deed
from helpers.record.design import Design
from helpers.record.every_case import comparison_to_do
from helpers.record.plot_builders import final_exits, pressure_profile, rules_compared, speed_curve, storey_profiles, with_stair_temperature
from helpers.studies.cases import FIRST_MINUTE, Case, conditions_of, levels_text
from helpers.studies.doors.case_told import case_told
from helpers.studies.readings.rules import allowed_pressures, compare_rules
from helpers.studies.status import word_of, worst_of
from helpers.units.said import with_unit, written_out
from helpers.widgets.controls import Choice, Tick, Typed
from helpers.widgets.panel import Panel
from helpers.widgets.sliders import Count, Slider

FRONT_PICTURE = Path(__file__).resolve().parents[2] / "notebooks" / "pictures" / "pressure_profile.png"
SITE, WINTER_DOORS_SHUT = "Larkfield House", 0


def write_front_picture(path=FRONT_PICTURE):
    """Draw the picture anew, after a change of model, site or looks. Returns its path."""
    design = Design(read_site(demo_sites()[SITE]))
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, picture_of(written_out(rules_compared(design, WINTER_DOORS_SHUT))).png())


DEFAULT_SITE = "Larkfield House"
MOST_TAPS = 4  # transmitters with a slider of their own
SPLIT = 0.6  # of the picture's width: profile and fan
FILE_WEATHER = "winter"
LATER = "later"  # the stair as cold as its slider says, as lesson 02 calls it
READ = (
    "Left: every dot is a stair door; the further to the right, the harder the stair's air presses on it. The pale band is the window: "
    "to its left smoke may come through, to its right people may not get the door open. A cross marks a door that is out. A square is the "
    "final exit at the higher of its two pressures, "
    "the upright stroke the most that its closer shuts it against. The triangles at the right edge are the transmitters, the "
    "dotted line is the set point, the thin grey line is the building as its file has it. "
    "Later the stair is as cold as Stair air says; in the first minute it is still as warm as the rooms: the verdict is that of the worse "
    "of the two.\n"
    "Right: what the fan can do at full speed and what it does later."
)
BOARD = "the board below"
LEFT_OUT = "the hour after the first minute (a final exit may fail late): page 11; other weathers, full speed, a shutting door: below"
GROUPS = {"The building": ("name", "open_doors"), "The loop": ("rule", "set_point_pa"), "The weather": ("weather", "outdoor_c")}


class _SiteAtHand:
    """A site on the bench, with all that does not change while sliders move."""

    def __init__(self, site):
        self.site, self.tower, self.window = site, Tower(site), allowed_pressures(site)
        self.doors = [storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count]
        self.exits = tuple(storey.level for storey in site.storeys if storey.final_exit_door)
        self.from_file = self.compared(site, Case(f"site file, {FILE_WEATHER}", FILE_WEATHER))

    def compared(self, site, *cases):
        """The site's own rule in some cases, as `RuleComparison`; site: this one with other weather, set point, rule or transmitters."""
        self.tower.site = site  # nothing of what the network was built from differs
        return compare_rules(self.tower, self.window, cases, rules=(site.control.rule,))

    def profile(self, site, comparison):
        """The present profile with its first minute, and the site file's own behind them: the verdict is the worst of the first two."""
        rule = comparison.results[0].rule
        now, file = (storey_profiles(self.tower, one, one.results[0].rule) for one in (comparison, self.from_file))
        pens = [*(series(place) for place in range(len(now) + len(file) - 1)), REFERENCE]
        title = f"{site.name}, {rule}"  # no figures: a title that changes costs a redraw of everything
        shown = [*now, *file]
        named = with_stair_temperature(shown, site.weather[comparison.cases[0].weather].stair_c)
        said = [f"{one.label}: {f'{one.speed_hz:.1f} Hz' if one.state == 'held' else one.state}" for one in named]
        exits = final_exits(self.tower, self.window, comparison.results[0], range(len(comparison.cases)))
        return pressure_profile(self.tower, self.window, comparison, shown, title, pens=pens, columns=2, said=said, exits=exits)

    def fan(self, site, comparison):
        """The fan's curve at full speed and now, and the present duty."""
        fan, air, case = site.fan, comparison.results[0].held.air, comparison.cases[0]
        conditions = conditions_of(site, [case])
        density, speed = float(inlet_density_ratio(self.tower, conditions)[0]), float(air.speed_hz[0])
        curves = [speed_curve(fan, *one, density) for one in ((LATER, speed), ("full speed", fan.highest_speed_hz))]
        flow, pressure, _ = (float(value[0]) for value in fan_points(self.tower, air, conditions))
        return fan_curves("fan", "The fan", curves, [(with_unit(flow, "flow"), flow, pressure, "")])


class DesignPanel:
    """The panel with its site; `site` is the site as the sliders have it now."""

    def __init__(self, name=DEFAULT_SITE):
        self.view, self.board, self._used, self._made_of = None, None, None, None
        self.bench = _SiteAtHand(read_site(site_file(name)))
        drawings = Drawing((0.0, 0.0, SPLIT, 1.0)), Drawing((SPLIT, 0.0, 1.0 - SPLIT, 1.0))
        picture, controls = Picture(*drawings, **PANEL_PX), self._controls(name)
        self.panel = Panel(controls, picture, self._answer, self._prepare, groups=GROUPS, read=READ, left_out=LEFT_OUT, beside=self._moved)

    @property
    def site(self):
        """The site with the set point, rule, transmitters and weather of the picture: of the last entries that could be used."""
        return self._used[0]

    def record_view(self):
        """The design record of what the picture shows. A view made before no longer follows the unit switch.

        Its studies are taken over where nothing has been moved since: they take seconds.
        """
        site, case = self._used
        opened = {} if case.shut else {"open_doors": case.open_doors, "open_exits": case.open_exits}
        design = Design(site, weather=case.weather, **opened)
        if self.view:
            self.view.close()
            design = self.view.design if self.view.design == design else design
        self.view, self._made_of = RecordView(design), self._used
        return self.view

    def record_board(self):
        """The record of what the picture shows in one screen; it says when the panel has been moved since."""
        self.board = RecordBoard(self.record_view, lambda: self._used == self._made_of, self.panel.refresh)
        self.panel.refresh()  # it says what the board counts in all cases
        return self.board

    def _moved(self):
        if self.board:
            self.board.tell()

    def _failed(self):
        """How many FAIL the board counts in all cases, where it is of just what the panel shows: the headline is of one case."""
        if self.board is None or self._used != self._made_of:
            return 0
        return fails_counted(self.view.record)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.panel._repr_mimebundle_(include, exclude)

    def _controls(self, name):
        controls = {
            "name": SiteChoice("Site", name),
            "weather": Choice("Weather", [FILE_WEATHER]),
            "outdoor_c": Slider("Outdoors", "temperature", -40.0, 45.0, 1.0, 0.0),
            "wind_speed_m_s": Slider("Wind", "wind speed", 0.0, 20.0, 0.5, 0.0),
            "stair_c": Slider("Stair air", "temperature", -20.0, 40.0, 1.0, 15.0),
            "set_point_pa": Slider("Set point", "pressure", 0.0, 100.0, 1.0, 40.0),
            "rule": Choice("Fan follows", ["lowest"]),
        }
        controls |= {f"tap_{place}": Count("", 0, 1, 0) for place in range(MOST_TAPS)}
        controls |= {
            "open_doors": Typed("Open stair doors", levels_typed, hint="storeys, such as 6, 7"),
            "open_exit": Tick("Final exit open"),
            "file": Typed("Your site file", str.strip, hint="path of a .toml file, or empty"),
        }
        self._set_for_site(controls)
        return controls

    def _prepare(self, moved):
        controls = self.panel.controls
        if moved in ("name", "file"):
            path = controls["file"].value if moved == "file" else ""  # the last of the two that was touched counts
            self.bench = _SiteAtHand(read_site(named_path(path) if path else controls["name"].path))
            self._set_for_site(controls)
        elif moved == "weather":
            self._set_for_weather(controls)

    def _set_for_site(self, controls):
        """All controls but the picker as the site file has them."""
        site, control = self.bench.site, self.bench.site.control
        controls["weather"].offer(list(site.weather), FILE_WEATHER)
        self._set_for_weather(controls)
        controls["set_point_pa"].limit(min(0.0, 2 * control.set_point_pa), max(100.0, 2 * control.set_point_pa), control.set_point_pa)
        rules = ["average", "lowest", "highest"] + (["middle"] if len(site.transmitters) > 2 else [])
        controls["rule"].offer([f"{rule} reading" for rule in dict.fromkeys([*rules, control.rule])], f"{control.rule} reading")
        for place in range(MOST_TAPS):
            tap = controls[f"tap_{place}"]
            tap.shown = place < len(site.transmitters)
            if tap.shown:
                transmitter = site.transmitters[place]
                tap.limit(f"{transmitter.name}, storey", site.storeys[0].level, site.storeys[-1].level, transmitter.level)
        controls["open_exit"].shown = bool(self.bench.exits)

    def _set_for_weather(self, controls):
        site, state = self.bench.site, self.bench.site.weather[controls["weather"].value]
        stair_c = site.temperatures.stair_c if state.stair_c is None else state.stair_c
        for name, value in (("outdoor_c", state.outdoor_c), ("wind_speed_m_s", state.wind_speed_m_s), ("stair_c", stair_c)):
            low, high, _ = controls[name].range
            controls[name].limit(min(low, value), max(high, value), value)

    def _changed(self, weather, outdoor_c, wind_speed_m_s, stair_c, set_point_pa, rule, open_doors, open_exit, name, file, **taps):
        site, rule = self.bench.site, rule.removesuffix(" reading")
        weights = site.control.weights if rule == "weighted" else None
        return site.with_changes(
            weather={weather: {"outdoor_c": outdoor_c, "wind_speed_m_s": wind_speed_m_s, "stair_c": stair_c}},
            control={"set_point_pa": set_point_pa, "rule": rule, "weights": weights},
            transmitters=[{"level": taps[f"tap_{place}"]} if place < MOST_TAPS else {} for place in range(len(site.transmitters))],
        )

    def _answer(self, weather, open_doors, open_exit, **values):
        site, bench = self._changed(weather=weather, open_doors=open_doors, open_exit=open_exit, **values), self.bench
        missing = [level for level in open_doors if level not in bench.doors]
        if missing:
            raise ValueError(f"Open stair doors: storey {missing[0]} has none; stair doors are on {levels_text(bench.doors)}.")
        case = Case(LATER, weather, open_doors, bench.exits[:1] if open_exit else ())
        comparison = bench.compared(site, case, replace(case, name=FIRST_MINUTE, stair=FIRST_MINUTE))
        self._used = site, case
        result = comparison.results[0]
        verdict, fan = judged(site, result), bench.fan(site, comparison)
        told = case_told(bench.tower, bench.window, comparison, result.deciding(), bench.site, levels=bench.doors, force=True)
        do = comparison_to_do(bench.tower, bench.window, comparison, bench.site, verdict.kind, other=BOARD)
        if failed := self._failed():
            told |= {"case": f"{told['case']}; record: {failed} {word_of('wrong')}"}
            do = first_deed(self.view.record.findings)  # as the board under it: two first deeds on one page would be one too many
        return replace(verdict, **told, do=do), bench.profile(site, comparison), fan


def judged(site, result):
    """The verdict on one rule in its cases, the worst decides; the first is told, and before it another where that is worse.

    Too little with doors open is for the local code to judge, unless the design takes just those as open at once; too much never is.
    """
    words = result.case_text(0)
    flow = f"The fan moves {with_unit(result.held.air.fan_flow_m3_s[0], 'flow')} of air."
    words, state = f"{words[0].upper()}{words[1:]}. {flow}{result.unasked_said(0)}", result.status(0)
    for place, case in enumerate(result.cases[1:], 1):
        if (worse := worst_of([state, result.status(place)])) != state:
            state = worse
            words = (
                f"In the {case.name}, the stair as warm as the rooms: {result.case_text(place)}.{result.unasked_said(place)} "
                f"As the sliders have it: {words}"
            )
    if state != "good":
        return Verdict(state, words)
    error = max(signals.accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span) for t in site.transmitters)
    if result.margin_pa.min() < error:
        more = f"A transmitter may be off by {with_unit(error, 'pressure')}: more than there is to spare."
        return Verdict("attention", f"{words} {more}")
    return Verdict("good", words)


@cache
def design_panel(name=DEFAULT_SITE):
    """The panel of a site of the list, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    return DesignPanel(name)


def levels_typed(text):
    """Storeys from a typed list: "6, 7" or nothing. Raises ValueError with a sentence for the reader."""
    parts = [part for part in text.replace(";", ",").replace(",", " ").split() if part]
    try:
        return tuple(dict.fromkeys(int(part) for part in parts))
    except ValueError:
        raise ValueError(f"Open stair doors: write storeys as whole numbers with commas between, such as 6, 7; got {text!r:.60}.") from None
