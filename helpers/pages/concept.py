"""The concepts of a stair on a page: ranked, one of them shown against another storey by storey at both temperatures of the stair, and
under folds what decides each criterion, what fails first, what a person has to decide, and what was searched."""

from functools import cache
from html import escape

import numpy as np
from ipywidgets import HTML, HBox, Layout, VBox

from helpers.model.air.tower import Tower
from helpers.model.site.file import read_site
from helpers.pages.sites import SiteChoice
from helpers.plots.charts import Profile, profile
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import PAGE_STYLE, Card, Verdict, folded, html_table, lines_html, paragraphs_html
from helpers.plots.picture import Picture
from helpers.plots.plot import Axis
from helpers.plots.style import ROLES
from helpers.studies.cases import FIRST_MINUTE
from helpers.studies.duty.concept.concepts import TITLES
from helpers.studies.duty.concept.study import RULE, concept_study, fan_said, parts_said
from helpers.studies.report import listed
from helpers.studies.status import inside, word_of
from helpers.units.said import with_unit, written_out
from helpers.widgets.controls import STYLE, UNITS, Choice, keys_held
from helpers.widgets.panel import CLASS, hidden

TITLE_WORDS = 5  # of a concept's title that leave a headline room for its figure
LARKFIELD = "Larkfield House"
PICTURE_PX, TABLE_PX, NOTES_PX = (500, 400), 570, 300  # beside the picture at 1366 px, where the table has the whole width
CONTROLS_PX = (184, 268, 268, 372)  # building, concept, concept, and the case, which has the longest names: one row at 1280 px
READ = (
    "Blue: the concept of the first list; orange: the one it is compared with. Of the two lines of each, one has the stair as warm as "
    "the rooms (first minute), the other as the fan leaves it after an hour. A cross is a door out of its window. With a lobby the "
    "pressure is that of the stair over the lobby. The set point stands only where what is read is what a stair door sees."
)
NOT_RECOMMENDED = (
    "The rank is of the model, in the cases asked, and recommends nothing: what was not tried stands with each concept, and room, access "
    "and acceptance are for people to decide."
)
SHORT = ("Concept", "Limits broken", "Fan", "Tests")
SHOWN, COMPARED = "Concept", "Compared"
BRIEF = {"Air through open doors": "air through doors", "Exits close again": "exits close", "One part failed": "part failed"}


class ConceptPanel:
    """The concepts of the building that is open."""

    def __init__(self, name=LARKFIELD):
        self.site, self.line = SiteChoice("Building", name), VerdictLine()
        self.picture = Picture(width_px=PICTURE_PX[0], height_px=PICTURE_PX[1])
        self._open()
        titles = self._titles()
        self.shown, self.against = Choice(f"{SHOWN} (blue)", titles, titles[0]), Choice(f"{COMPARED} with (orange)", titles, titles[-1])
        self.case = Choice("Case", self._cases(), self._cases()[0])
        self.ranked, self.more, self.notes = HTML(), HTML(), HTML(paragraphs_html([RULE, NOT_RECOMMENDED]))
        self._show()
        controls = [one.widget for one in (self.site, self.shown, self.against, self.case)]
        for one, wide in zip(controls, CONTROLS_PX, strict=True):
            one.layout.width = f"{wide}px"
        wrap = {"flex_flow": "row wrap", "align_items": "flex-start"}
        controls = HBox(controls, layout=Layout(**wrap))
        words = VBox([self.ranked], layout=Layout(flex=f"1 1 {TABLE_PX}px"))
        notes = VBox([self.notes], layout=Layout(flex=f"1 1 {NOTES_PX}px", max_width=f"{TABLE_PX}px"))
        both = HBox([words, VBox([UNITS.switch(), self.picture.image]), notes], layout=Layout(**wrap))
        head = (hidden(STYLE + PAGE_STYLE + keys_held(CLASS)), controls, self.line.widget)
        self.box = VBox([*head, both, self.more]).add_class(CLASS)
        self.site.on_change(self._other)
        for control in (self.shown, self.against, self.case):
            control.on_change(self._show)
        UNITS.listen(self._units)

    def chosen(self):
        """(`JudgedConcept` shown, `JudgedConcept` compared with it)."""
        by_title = {written_out(one.concept.title, UNITS.system): one for one in self.study.judged}
        return by_title[self.shown.value], by_title[self.against.value]

    def priced(self, unit_prices):
        """A `Card` of what each concept costs by the user's own unit prices, a dict by the names of `study.PRICED`. Raises ValueError for
        another name, or a price that is no number. A part without a price is named beside the
        sum of the others; of no price is no sum."""
        sums, left = self.study.priced(unit_prices), self.study.not_priced(unit_prices)
        rows = [(one.concept.title, _sum_said(sums[one.concept.key], left[one.concept.key])) for one in self.study.judged]
        rows = written_out(rows, UNITS.system)
        said = "\n".join(f"{title}: {value}" for title, value in rows)
        return Card(html_table(("Concept", "By your unit prices"), rows, title=self.study.site_name), said)

    def _open(self):
        site = read_site(self.site.path)
        self.study = concept_study(site)
        self.opened = site

    def _titles(self):
        return [written_out(one.concept.title, UNITS.system) for one in self.study.judged]

    def _cases(self):
        """Cases by weather and doors, without the stair's air, of which both are drawn."""
        return list(dict.fromkeys(_without_air(case) for case in self.study.judged[0].cases))

    def _other(self):
        try:
            self._open()
        except (ValueError, OSError) as refusal:
            self.line.say(Verdict("entry", f"{refusal}\nBelow are still the concepts of {self.opened.name}."))
            return
        titles, cases = self._titles(), self._cases()
        self.shown.offer(titles, titles[0])
        self.against.offer(titles, titles[-1])
        self.case.offer(cases, cases[0])
        self._show()

    def _units(self):
        self._show()

    def _show(self):
        verdict, plot = written_out((self.verdict(), self.plot()), UNITS.system)
        self.picture.show(plot)
        self.line.say(verdict, self.picture.words)
        self.ranked.value, self.more.value = self._ranked(), self._folds()

    def verdict(self):
        """Which concept ranks first, and what it passes or breaks."""
        study = self.study
        first = study.judged[0]
        judged = sum(bool(one.state) for one in first.criteria)
        title = TITLES[first.concept.key]
        head = f"First of {len(study.judged)}: {title[0].lower()}{title[1:]}"
        head = f"No concept holds; nearest: {title[0].lower()}{title[1:]}" if first.failed else head
        decides = next(one for one in first.criteria if one.state == first.status)
        figure, _, where = decides.figure.partition(": ")
        way = " short" if decides.short else " over"
        if first.failed and decides.limit and len(title.split()) <= TITLE_WORDS:
            head = f"None holds; nearest, {title[0].lower()}{title[1:]}: {figure.removesuffix(' out')}{way}"
        tiles = (
            (f"{decides.title}, {word_of(decides.state)}", figure, where.partition(";")[0]),
            ("Limits broken", f"{first.failed} of {judged}", _past(first)),
            ("Fan at the shaft", _power(first.price.shaft_w), f"{first.price.energy_kwh():.0f} kWh for a year's tests"),
        )  # fmt: skip
        door, weather, *doors = where.partition(";")[0].split(", ")  # in short: the whole stands in the tile
        opened = f"doors {'open' if any(one.endswith(' open') for one in doors) else 'shut'}"
        at = ", ".join(filter(None, (decides.limit and f"limit {decides.limit}", door, weather, doors and opened)))
        case = "; ".join(filter(None, (at, f"{study.site_name}: {study.asked_said()}")))
        do = "Ask: architect and authority the questions under the line For people to decide"
        return Verdict(first.status, study.verdict(), head, tiles, case=case, do=do)

    def plot(self):
        """The stair doors of both concepts at both temperatures. Returns a `Plot`."""
        one, other = self.chosen()
        tower, pens = Tower(one.concept.site), (ROLES["now"], ROLES["now"].but(line=(0, (2, 1.5)), marker="^"), ROLES["alternative"],
                                                ROLES["alternative"].but(line=(0, (2, 1.5)), marker="D"))  # fmt: skip
        both = ((one, SHOWN), (other, COMPARED))
        profiles = [self._profile(judged, name, place) for judged, name in both for place in self._rows(judged)]
        said = [one.label for one in profiles]
        site = one.concept.site
        apart = one.concept.fixed or any(storey.lobby for storey in site.storeys)  # what is read is not what the doors see
        least, most = one.window
        return profile(
            "concepts", f"{site.name}: {self.case.value}", Axis(f"Across the stair door, {self.case.value}", "pressure"),
            tuple(map(str, tower.levels)), tower.elevation_m, (least, most), profiles,
            [(tap.name, tower.storey(tap.level)) for tap in site.transmitters] if not one.concept.fixed else [],
            np.nan if apart else site.control.set_point_pa, pens=pens, said=said, columns=2, height_px=PICTURE_PX[1],
        )  # fmt: skip

    def _rows(self, judged):
        return [place for place, case in enumerate(judged.cases) if _without_air(case) == self.case.value]

    def _profile(self, judged, name, place):
        least, most = judged.window
        dp, opened = judged.dp_pa[place].copy(), judged.open[place]
        dp[opened | ~(np.isfinite(least) | np.isfinite(most))] = np.nan
        low, high = (~inside(np.nan_to_num(room, nan=np.inf)) for room in (dp - least, most - dp))
        air = "first minute" if judged.cases[place].stair == FIRST_MINUTE else "after an hour"
        state, speed = "at one speed" if judged.concept.fixed else str(judged.state[place]), float(judged.speed_hz[place])
        return Profile(f"{name}: {air}", dp, low, high, opened, state, speed, judged.readings_pa[place])

    def _ranked(self):
        rows = []
        for one in self.study.judged:
            energy = f"{one.price.energy_kwh():.0f} kWh"
            failed = f"{one.failed}: {_past(one)}" if one.failed else "none"
            rows.append((one.concept.title, failed, _power(one.price.shaft_w), energy))
        rows += [(f"{one.title}: not tried", "", "", "") for one in self.study.not_there]
        states = [*(one.status for one in self.study.judged), *("open" for _ in self.study.not_there)]
        return written_out(html_table(SHORT, rows, states), UNITS.system)

    def _folds(self):
        one, other = self.chosen()
        parts = []
        for name, judged in ((SHOWN, one), (COMPARED, other)):
            table = written_out(self.study.criteria_table(judged.concept.key), UNITS.system)
            inside_fold = html_table(table.columns, table.rows, table.states, units_to_head=False) + paragraphs_html([table.note])
            parts.append(folded(f"{name}: {table.title}, criterion by criterion, and what fails first", inside_fold, group="concept"))
        table = written_out(self.study.table(), UNITS.system)
        price = html_table(table.columns, table.rows, table.states, units_to_head=False) + paragraphs_html([table.note])
        parts.append(folded("What each takes in plant", price, group="concept"))
        both = dict.fromkeys((one.concept.key, other.concept.key))
        words = [f"{self.study.of(key).concept.title}. {sentence}" for key in both for sentence in self.study.decide(key)]
        parts.append(folded("For people to decide", lines_html(written_out(words, UNITS.system)), group="concept"))
        missing = [f"{gone.title}: {gone.why}" for gone in self.study.not_there]
        parts.append(folded("How to read the picture", paragraphs_html([READ, *missing]), group="concept"))
        return "".join(parts)

    def _repr_mimebundle_(self, include=None, exclude=None):
        width, height = PICTURE_PX
        size = f'width="{width}" height="{height}" style="max-width:100%;height:auto"'
        image = f'<img src="{self.picture.source(1)}" alt="{escape(self.picture.words)}" {size}>'
        words = "\n".join([str(self.line.verdict), self.picture.words, NOT_RECOMMENDED])
        html = self.line.widget.value + self.ranked.value + self.notes.value + image + self.more.value
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


def _without_air(case):
    return case.name.removesuffix(f", {case.stair}")


def _past(judged):
    """The limits that a concept passes, in few letters."""
    told = ", ".join(BRIEF.get(one.title, one.title.lower()) for one in judged.past) or "none"
    return told.replace("doors shut, doors open", "doors shut/open")


def _sum_said(total, left):
    """A sum by unit prices, with what of it has no price; left: of `ConceptStudy.not_priced`."""
    names, none = left
    if none:
        return "not priced"
    return f"{total:,.0f}{f', {listed(names)} not priced' * bool(names)}"


def _power(power_w):
    return with_unit(power_w, "power") if np.isfinite(power_w) else "no fan"


@cache
def concept_panel(name=LARKFIELD):
    """The concepts of a site, one panel in a notebook; over it a list of other sites."""
    return ConceptPanel(name)


def concepts_told(site):
    """The concepts of a site in lines for a terminal: the ranking, each concept with its criteria, what fails first, what to decide."""
    study = concept_study(site)
    yield study.verdict()
    for number, one in enumerate(study.judged, 1):
        yield ""
        plant = f"fan {fan_said(one.price)}; parts beside the file's: {parts_said(one.price.parts)}"
        yield f"{number}. {one.concept.title}: {word_of(one.status)}; {plant}"
        yield f"   {one.concept.moved}"
        for criterion in one.criteria:
            yield f"   {word_of(criterion.state) or 'not judged'}: {criterion.title}: {criterion.figure}"
        for load in one.loads:
            yield f"   {load.text()}"
        for sentence in study.decide(one.concept.key):
            yield f"   to decide: {sentence}"
    yield study.table().note
