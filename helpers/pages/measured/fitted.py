"""A test day goes in; the building as found, its doors in the design's weathers, and a site file come out."""

import re
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
from ipywidgets import HTML, VBox

from helpers.model.files import free_path, named_path, safe_name, shown_name, write_whole
from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day, site_of_day
from helpers.pages.printed import in_records, written_card
from helpers.pages.sites import SiteChoice
from helpers.plots.forecast_doors import doors_by_storey
from helpers.plots.headline import headline_html
from helpers.plots.markup import Verdict, cautions_html, folded, html_table, lines_html, paragraphs_html, to_decide_html
from helpers.plots.picture import PANEL_PX, Picture, picture_of
from helpers.plots.printer import write_page
from helpers.record.page import figure_html, plain_page, signed_html
from helpers.studies.doors.forces import closing_briefly
from helpers.studies.duty.permissible_speed import SHOWN_HZ, ceiling_of
from helpers.studies.measured.doubts.mistyped import beyond_the_fan, cells_in_inches, in_pascals
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.forecast import forecast, most_telling
from helpers.studies.measured.intervals import percent, share_tile
from helpers.studies.measured.readings import readings_of
from helpers.studies.measured.remarks import doubt_briefly
from helpers.studies.measured.stops import alarms_hold_from_min, alarms_table, as_measured_said, new_ceiling_briefly, new_ceiling_said
from helpers.studies.measured.told import (
    door_head,
    first_lines,
    fitted_file,
    fitted_told,
    furthest_out,
    middle_tile,
    pushed_open,
    set_points_said,
    state_of,
    verdict,
    weather_of,
)
from helpers.studies.status import word_of
from helpers.units.said import in_each, with_unit, written_out
from helpers.widgets.controls import UNITS, Choice, Typed
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Slider

LONG_NOTE, SENTENCE_ENDS = 240, re.compile(r"(?<=\.)(?<!w\.c\.)\s+(?=[A-Z])")  # letters of a note from which each sentence has a line
LARKFIELD = "Larkfield House"
MOST_LOOKED_AT = 200  # files beside a day's, for its site
CAUTION = (
    "A test day proves what was measured, on that day, by those gauges. What is said here of another weather is computed, and only as good "
    "as the readings: a door ajar or a tube off goes into every figure. No set point is entered from this page: make the record of the "
    "fitted site first. The local code, the approved design and the authority having jurisdiction decide."
)
SHUT, OPENED = "all doors shut", "the design's doors open"
READ = (
    "Every bar is a stair door, under them the final exits: from the minimum pressure in the case that is lowest to the most in the case "
    "that is highest, in nine of ten buildings that the test day leaves possible, over the design's weathers in the first minute and "
    "after an hour. The pale band is the stair doors' window, an upright stroke the nearer limit of a final exit. A mark stands where the "
    "door is in its worst case, as its tile says, and tells what it comes to: a dot PASS, a triangle CHECK, a cross FAIL."
)
TASKS = (
    Task("Before you look: which doors would you expect to be out in January, from the site file alone? Then compare.", {}),
    Task("Move the set point until the least sure door is as sure as it gets. What does the door at the other end say?",
         {"set_point_pa": 50.0}),
    Task("Choose Northgate Tower. Its pattern turns over as the stair cools: at which end is the least sure door now?",
         {"site": "Northgate Tower"}),
)  # fmt: skip
LEFT_OUT = "other weathers than the site file's, gusts, failed readings, a stuck damper: page 12, with the fitted site file"


def days_of(path, site):
    """Files of test days of a site by what they are called: in data/days, beside the site file, and in `days` beside it."""
    found = {}
    years = f"{Path(path).stem}_years"
    for folder in dict.fromkeys((DAYS_FOLDER, DAYS_FOLDER / years, *(Path(path).parent / part for part in ("", "days", years)))):
        for file in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            if site_of_day(file) == site.name:
                found[f"{site.name}: {file.stem.removeprefix(Path(path).stem).strip('_').replace('_', ' ')}"] = file
    return found


def day_checked(path, day):
    """What can be said of a day's file without fitting it: (whether a reading is one that no fan of its site makes, or in another unit,
    sentences). Its site is a demo site, or beside the day; where there is none that is said. Raises ValueError as `readings_of`."""
    site, name = site_beside(Path(path), day.site), shown_name(path)
    readings = None if site is None else readings_of(site, day)
    told = (
        () if site is None else tuple(f"{name}: {one}" for one in (*beyond_the_fan(readings), *in_pascals(readings)[1], *_cells(readings)))
    )
    if told:
        return True, told
    sound = f"{name} is sound as the file of a test day: {day.name}. Whether its readings fit the site says `fit SITE.toml {name}`"
    lacking = "" if site else f". The file of {day.site} is not at hand: its pressures are not held against what its fan can make"
    return False, (f"{sound}{lacking}",)


def _cells(readings):
    """Sentences about single cells in another unit, of the columns in their own and below what the fan can make."""
    plain, _ = in_pascals(readings)
    beyond = {one.partition(":")[0] for one in beyond_the_fan(readings)}
    yield from (said for _, said in cells_in_inches(plain) if said.partition(":")[0] not in beyond)


def site_beside(path, name):
    """The site of a name: a demo site, or one whose file lies beside a path; None where there is none that can be read."""
    files = demo_sites()
    if name in files:
        return read_site(files[name])
    for file in sorted(path.parent.glob("*.toml"))[:MOST_LOOKED_AT]:
        try:
            site = read_site(file)
        except ValueError:
            continue
        if site.name == name and site.leakage.factors_from is None:
            return site
    return None


def doubted_said(site):
    """That a site is of a fit that is not believed, in a sentence; nothing of any other."""
    if site.leakage.doubted:
        yield f"{site.title}: ceiling {ceiling_of(site).said}"


def fitted_beside(site, *paths):
    """That site files of the same building as a test day found it lie in the folders of some paths (None: none), with their ceiling of
    speed where it is lower than the one of this site's file, a sentence each."""
    own = ceiling_of(site)
    folders = dict.fromkeys(path if path.is_dir() else path.parent for path in (Path(one) for one in paths if one is not None))
    for file in (file for folder in folders if folder.is_dir() for file in sorted(folder.glob("*_fitted*.toml"))[:MOST_LOOKED_AT]):
        try:
            other = read_site(file)
        except ValueError:
            continue  # no site file, or of another kind: none of this building
        if other.name != site.name or other.leakage.factors_from in (None, site.leakage.factors_from):
            continue
        if other.leakage.doubted:
            yield f"{shown_name(file)} is of a test day that is not believed: it gives no ceiling; read again"
            continue
        there, said = ceiling_of(other), f"{shown_name(file)} is {site.name} as its {other.leakage.factors_from} found it"
        if there.hz < own.hz - SHOWN_HZ / 2 or np.isnan(there.hz):
            lower = "no speed of the drive" if np.isnan(there.hz) else with_unit(there.hz, "frequency", 1)
            this = with_unit(own.hz, "frequency", 1)
            yield f"{said}: its ceiling, {lower}, is lower than {this} of this file and counts; make this anew from it"
        else:
            yield f"{said}, and its ceiling is not lower; what is expected here is of the file before it: make this anew from it"


def doors_plot(found, shut, set_point_pa):
    """The stair doors of a `Forecast` by storey: where each may stand, against its window."""
    levels = [storey.level for storey in found.fitted.readings.site.storeys]
    return doors_by_storey("fitted doors", found.by_door(shut, set_point_pa), levels, set_point_pa)


class FittedPanel:
    """The panel of one site and test day; `fitted` and `found` are the last that could be made."""

    def __init__(self, name=LARKFIELD):
        self.site_choice = SiteChoice("Site", name)
        self._read(self.site_choice.path)
        controls = {
            "site": self.site_choice,
            "day": Choice("Test day", list(self.days), next(iter(self.days), None)),
            "set_point_pa": Slider("Set point", "pressure", 5.0, 120.0, 0.5, self.site.control.set_point_pa),
            "doors": Choice("Doors", [SHUT, OPENED], SHUT),
            "file": Typed("Your test day", str.strip, hint="path of a .toml file, or empty"),
        }
        self.beside = HTML()
        groups = {"The day": ("site", "day", "file"), "Asked of it": ("set_point_pa", "doors")}
        self.panel = Panel(controls, Picture(**PANEL_PX), self._answer, self._prepare, groups=groups, read=READ, left_out=LEFT_OUT,
                           tasks=TASKS, beside=self._write, slow=("site", "day", "file"))  # fmt: skip
        self.box = VBox([self.panel.line.strip, self.panel.box, self.beside])

    def _read(self, path):
        self.path, self.site = path, read_site(path)
        self.days = days_of(path, self.site)
        if not self.days:
            raise ValueError(self._no_day())
        self._fit(next(iter(self.days.values())))

    def _no_day(self):
        return f"Test day: there must be one of {self.site.name}; got none in data/days, nor beside its file. Type the path of one"

    def _fit(self, file):
        self.file = shown_name(Path(file))
        today = None if Path(file).parent == DAYS_FOLDER else date.today()  # an invented day may be ahead of a clock
        self.fitted = fit_building(readings_of(self.site, read_test_day(file, today)))
        self.found = forecast(self.fitted)
        self.telling = most_telling(self.found)

    def _prepare(self, moved):
        controls = self.panel.controls
        if moved == "site":
            self._read(controls["site"].path)
            controls["day"].offer(list(self.days), next(iter(self.days)))
            controls["set_point_pa"].value = self.site.control.set_point_pa
        elif moved in ("day", "file"):
            path = controls["file"].value
            self._fit(named_path(path) if path else self.days[controls["day"].value])

    def _answer(self, site, day, set_point_pa, doors, file):
        if self.fitted.readings.site != self.site:
            raise ValueError(self._no_day())
        shut = doors == SHUT
        some = self.found.by_door(shut, set_point_pa)
        if not some:
            raise ValueError("Doors: the design of this site states none that stand open; choose all doors shut")
        return self._verdict(some, shut, set_point_pa), doors_plot(self.found, shut, set_point_pa)

    def _verdict(self, some, shut, set_point_pa):
        worst, state = furthest_out(some), state_of(self.found, set_point_pa)
        now = self.found.at(set_point_pa)
        tiles = (
            middle_tile(worst),
            share_tile("Doors and final exits hold in", now.probability),
            ("Set point", with_unit(set_point_pa, "pressure"), "not to be entered from here"),
        )
        do = f"Do: {'' if state == 'good' else f'measure {self.telling[0].what}; then '}make the record of the fitted file, page 12"
        if worst.state == "wrong" and worst.probability == 0:
            pushed = pushed_open(worst, self.fitted.site)
            do = f"Ask: the designer, {worst.door}{f': {closing_briefly(*pushed)}' if pushed else ''}"
        head, fitted = door_head(worst, weather_of(worst)), self.fitted
        if ceiling := new_ceiling_briefly(fitted):
            do = f"{do}; {ceiling}" if do.startswith("Ask: ") else f"Do: {ceiling}"
        if fitted.misfits.doubted:
            do = f"Do: look at {fitted.suspect.short} again, then fit anew; no door is {word_of('good')} by this day"
            head = head if worst.state == "wrong" else doubt_briefly(fitted)
        wrong = sum(one.state == "wrong" for one in some)
        site = f"{self.site.name} fitted to its test day{', NOT BELIEVED' * fitted.misfits.doubted}; {worst.case}"
        case = f"{site}; {wrong} of {len(some)} doors {word_of('wrong')}" if wrong > 1 else site
        whole = f" By {self.file}: {new_ceiling_said(fitted)}." if ceiling else ""
        words = f"{verdict(self.found, set_point_pa)} Over all set points: {set_points_said(self.found)}.{whole}"
        return Verdict(state, words, head, tiles, case, do)

    def _write(self):
        section = written_out(fitted_told(self.fitted, self.found), UNITS.system)
        self.section = section
        tables = "".join(folded(table.title, table_html(table)) for table in section.tables)
        self.beside.value = (
            paragraphs_html([f"▲ {self.speed_said()}"]) + to_decide_html(section.findings) + tables + lines_html(section.notes)
        )

    def speed_said(self):
        """Up to which speed the fan is run by hand in the building as measured, in the units of the moment."""
        return written_out(as_measured_said(self.fitted), UNITS.system)

    def export(self, path=None, paper="A4"):
        """Write what the day proves as a page, HTML or PDF by the ending of the path, by default into `records`; shows a link to it."""
        target = path or in_records(f"{self.site.name} {self.fitted.readings.day.date}", "proved.html")
        return written_card(write_page(proved_page(self.fitted, self.found, UNITS.system), target, paper))

    def write_site_file(self, folder="records"):
        """Write the fitted site as a site file of its own; nothing is written over. Returns its path."""
        return write_fitted(self.fitted, Path(folder))

    def _repr_mimebundle_(self, include=None, exclude=None):
        bundle = self.panel._repr_mimebundle_(include, exclude)
        words = "\n".join(
            [bundle["text/plain"], self.speed_said(), *(f"{table.title}: {row}" for table in self.section.tables for row in table.rows)]
        )
        return self.box._repr_mimebundle_() | {"text/html": f"{bundle['text/html']}{self.beside.value}", "text/plain": words}


def proved_page(fitted, found, system="Pa"):
    """What a test day proves as a page to print and sign."""
    section = written_out(fitted_told(fitted, found), system)
    site = fitted.readings.site
    parts = [cautions_html([CAUTION]), lines_html(written_out([*first_lines(found), as_measured_said(fitted)], system))]
    for shut in (True, False):
        if found.by_door(shut):
            plot = written_out(doors_plot(found, shut, site.control.set_point_pa), system)
            parts.append(figure_html(picture_of(plot), SHUT if shut else OPENED))
    tables = *section.tables, written_out(alarms_table(fitted), system)
    parts += [to_decide_html(section.findings), *(table_html(table, table.title) for table in tables)]
    parts += [lines_html(section.notes), signed_html(("Measured by, date", "Seen by, date", "Authority, date"))]
    return plain_page(f"{site.name}: what the test day of {fitted.readings.day.date} proves", parts)


def table_html(table, title=""):
    """A `Table` with its note as HTML, in the units it is written in; a long note a line a sentence."""
    long = len(table.note) > LONG_NOTE
    note = SENTENCE_ENDS.split(table.note) if long else [table.note] if table.note else []
    return html_table(table.columns, table.rows, table.states, title) + lines_html(note)


def write_fitted(fitted, folder):
    """The fitted site as a file in a folder, under a name that is free: what lies there stays. Returns its path."""
    day, name = fitted.readings.day.date, safe_name(fitted.readings.site.name).lower()
    folder.mkdir(parents=True, exist_ok=True)
    return write_whole(free_path(folder / f"{name}_fitted_{day}.toml"), fitted_file(fitted))


def alarms_card(panel):
    """The alarm limits that suit the building of a `FittedPanel`, as it stands, beside those of its site file. Returns `Reading`."""
    table, minute = alarms_table(panel.fitted), alarms_hold_from_min(panel.fitted)
    head = f"Limits of a settled loop: held off {minute:.0f} minutes after a start"
    steps = (
        "do not enter this table, leave the limits that stand",
        "ask the designer for the record of the fitted file, page 12: it lays limits and delays down",
        f"designer and authority agree how they are held off, {minute:.0f} min after a start",
        "then each is proved",
    )
    do = f"Do: 1. {steps[0]}; then 2 to {len(steps)}, the list under the band"
    sure = panel.found.own.probability
    failing = "" if sure >= 1 else f"every door and final exit inside in {percent(sure)} of the buildings that fit the day; "
    case = f"{failing}{panel.fitted.site.name}; all doors shut; figures to compare"
    band = headline_html(Verdict("open", table.note, head, case=case, do=do)) + lines_html(steps, numbered=True)

    @in_each
    def shown(*, system):
        return band + table_html(written_out(table, system), table.title)

    told = "; ".join(f"{number}. {step}" for number, step in enumerate(steps, 1))
    words = [f"{word_of('open')} {head}", f"Do: {told}", table.title, *(" | ".join(row) for row in table.rows), table.note]
    return Reading(lambda: (shown(), "\n".join(words)))


@cache
def fitted_panel(name=LARKFIELD):
    """The panel of a site and its test day, one in a notebook."""
    return FittedPanel(name)
