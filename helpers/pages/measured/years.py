"""The tests of a stair's years beside each other: in words, tables and pictures, and as a page to print."""

import re
from datetime import date

import numpy as np

from helpers.model.site.file import demo_sites, read_site
from helpers.pages.measured.fitted import CAUTION, table_html
from helpers.plots.headline import headline_html
from helpers.plots.markup import Verdict, cautions_html, lines_html, to_decide_html
from helpers.plots.picture import picture_of
from helpers.plots.plot import ROW_PX, Axes, Axis, Entry, Line, Plot, level
from helpers.plots.style import REFERENCE, limit_pen, series
from helpers.record.page import figure_html, plain_page, signed_html
from helpers.studies.beside_limit import limit_tile
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.fitted import NINETY
from helpers.studies.measured.intervals import error_said
from helpers.studies.measured.remarks import KIND_SAID
from helpers.studies.measured.years.drift import AHEAD_YEARS
from helpers.studies.measured.years.folder import read_years
from helpers.studies.measured.years.self_tests import LOG
from helpers.studies.measured.years.told import (
    change_text,
    changes_said,
    month_said,
    reaches_said,
    trend_said,
    years_told,
)
from helpers.studies.report import limit_text
from helpers.studies.status import MOST_TO_DO, one_line, ranked, word_of
from helpers.units.said import drawn, in_each, with_unit, written_out
from helpers.widgets.panel import Reading

STEP = re.compile(r"(?:^|; )\d+\. ")  # of a remedy in steps
YEAR_AXIS, TITLE_PX = "Year of the test", 44


@drawn
def years_plot(years, *, system):
    """Each kind's factor over the years, of the changes that are sure (else of the stair side), with its 90 % interval. Returns `Plot`."""
    kinds = [one.kind for one in years.changes if one.sure] or ["stair side"]
    at, layers, told = years.at, [], []
    for number, kind in enumerate(kinds[:3]):
        values, errors = years.as_fitted(kind)
        pen, shift = series(number), 0.04 * number
        for when, value, error in zip(at + shift, values, errors, strict=True):
            ends = 100 * np.exp(value + NINETY * error * np.array([-1.0, 1.0]))
            layers.append(Line((when, when), ends, pen.but(marker=""), "", 2))
        layers.append(Line(at + shift, 100 * np.exp(values), pen.but(line=""), KIND_SAID[kind], 3))
        said = ", ".join(f"{when:.0f} {100 * np.exp(value):.0f} %" for when, value in zip(at, values, strict=True) if np.isfinite(value))
        told.append(f"{KIND_SAID[kind]}: {said}")
    legend = [Entry(KIND_SAID[kind], series(number)) for number, kind in enumerate(kinds[:3])]
    legend.append(Entry("100 %: as the site file has it", REFERENCE))
    first, last = int(at[0]), int(np.ceil(at[-1])) + 1
    x = Axis(YEAR_AXIS, ends=(first, last), ticks=(range(first, last), [str(year) for year in range(first, last)]), apart_px=46, grid=False)
    y = Axis("Of the site file's figure [%]", room=(100.0,))
    rows = (len(legend) + 1) // 2
    layers = level(100.0, "y", REFERENCE), *layers
    axes = Axes(x, y, layers, "The building, test by test", margins_px=(70, 30, 58 + rows * ROW_PX, TITLE_PX))
    return Plot("years", "", (axes,), "; ".join(told), legend=tuple(legend), columns=2, height_px=300)


@drawn
def course_plot(course, said, *, system):
    """A figure over the years: each test with its 90 % interval, the line through them and on, and its limits. Returns `Plot`.

    All of it as the device is set today, so that the last test stands where the list has it, and against the limits that the list has.
    course: `Drift` with a line; said: when it reaches its limit, in words.
    """
    at, last = course.at, int(np.ceil(course.at[-1]))
    end = min(max(last + 2, int(np.ceil(course.passes[1] or last)) + 1), last + AHEAD_YEARS)
    when, pen, asked = np.linspace(at[0], end, 60), series(0), limit_pen("most force")
    middle, half, values = course.line.at(when) + course.shift, course.line.half(when), course.values + course.shift
    limits = [limit for limit in (course.least, course.most) if np.isfinite(limit)]
    layers = [Line((year, year), (value - NINETY * error, value + NINETY * error), pen.but(marker=""), "", 2)
              for year, value, error in zip(at, values, course.errors, strict=True)]  # fmt: skip
    layers += [Line(at, values, pen.but(line=""), "tests", 4), Line(when, middle, pen.but(marker=""), "line", 3)]
    layers += [Line(when, one, REFERENCE, "its interval", 3) for one in (middle - half, middle + half)]
    layers += [level(limit, "y", asked, label="limit") for limit in limits]
    legend = [Entry("tests and their line", pen), Entry("90 % interval of the line", REFERENCE), Entry("limit", asked)]
    step = max(1, round((end - int(at[0])) / 12))
    years = range(int(at[0]), end + 1, step)
    x = Axis(YEAR_AXIS, ends=(int(at[0]), end), ticks=(years, [str(year) for year in years]), apart_px=46, grid=False)
    y = Axis("Error, as set today" if course.dimension == "pressure" else "Force, fan off", course.dimension)
    digits = (1, 3) if course.dimension == "pressure" else None
    figures = ", ".join(f"{int(year)} {with_unit(value, course.dimension, digits)}" for year, value in zip(at, values, strict=True))
    ends = " and ".join(_limits_said(course)) or "none"
    words = written_out(f"{course.name}: {figures}. Limits: {ends}. {said}", system)
    axes = Axes(x, y, tuple(layers), f"{course.name}, test by test", margins_px=(76, 30, 58 + 2 * ROW_PX, TITLE_PX))
    return Plot("course", "", (axes,), words, legend=tuple(legend), columns=2, height_px=330)


def _limits_said(course):
    """The limits of a `Drift` in words, rounded inwards: of a device its accuracy."""
    if course.dimension == "pressure" and course.limited:
        yield error_said(course.today, course.most)[1]
        return
    for end, limit in (("least", course.least), ("most", course.most)):
        if np.isfinite(limit):
            yield limit_text(limit, course.dimension, end)


def years_plots(years):
    """(`Plot`, its caption) of a stair's years: the device that is due first, the leaf that is nearest to its limit, the building; each
    caption says what it comes to, in the words of the list."""
    name, plots = years.site.name, []
    if device := first_due(years.devices):
        said = f"{word_of(device.state)}. {name}, {device.name}, as it is set today: reaches its accuracy {reaches_said(device)}."
        plots.append((course_plot(device, reaches_said(device)), said))
    if leaf := first_due(years.leaves):
        plots.append((course_plot(leaf, trend_said(leaf)), f"{word_of(leaf.state)}. {name}, closer of {leaf.name}: {trend_said(leaf)}."))
    if years.changes:
        plots.append((years_plot(years), f"{name}, each test with its 90 % interval. {changes_said(years)}".strip()))
    return plots


def first_due(courses):
    """The `Drift` whose interval reaches its limit first, of those with a line and a limit; None for none."""
    some = [one for one in courses if not one.refused and one.limited]  # one that is past its limit by one test may have no line
    return min(some, key=lambda one: one.passes[0] or np.inf, default=None)


def changed_most(years):
    """Tiles of a stair's years: the device and the leaf that reach their limits first, and the leak that has surely changed most; each with
    how much, its limit, and when or since when."""
    tiles = []
    if device := first_due(years.devices):
        error, accuracy = error_said(device.today, device.most)
        tiles.append((f"{device.name}, error now", error, f"max. {accuracy}, accuracy of any reading; {_due_briefly(device)}"))
    if leaf := first_due(years.leaves):
        high = np.isfinite(leaf.most) and (not np.isfinite(leaf.least) or leaf.most - leaf.last < leaf.last - leaf.least)
        tile = limit_tile(f"Closer of {leaf.name}", leaf.last, leaf.most if high else leaf.least, "force", "max." if high else "min.")
        tiles.append((*tile[:2], f"{tile[2]}; {_due_briefly(leaf)}"))
    sure = [one for one in years.changes if one.sure]
    if sure:
        most = max(sure, key=lambda one: abs(np.log(one.times)))
        tiles.append((KIND_SAID[most.kind], change_text(most.times), f"since {most.since}"))
    elif years.changes:
        tiles.append(("The building", "no sure change", f"since {years.changes[0].since}"))
    return tuple(tiles)


def _due_briefly(course):
    """When a figure may reach its limit, in three words."""
    first = course.passes[0] if not course.past else course.at[-1]
    if first is None:
        return f"not before {int(course.at[-1]) + AHEAD_YEARS}"
    return "now" if first <= course.at[-1] else f"perhaps in {month_said(first)}"


def band_html(section, site_name, tiles=()):
    """The gravest finding of the years over all of them, what has changed (tiles, of `changed_most`), and what to do about it."""
    findings = ranked(section.findings)
    if not findings:
        open_rows = sum(state == "open" for table in section.tables for state in table.states)
        lines = "1 line is" if open_rows == 1 else f"{open_rows} lines are"
        if open_rows or not any(table.states for table in section.tables):
            head = f"Nothing past a limit; {lines} not judged yet" if open_rows else "No closer, device or self-test is in these tests"
            return headline_html(Verdict("open", "all of it", head, tiles, f"{site_name}; the doors: by each test day's own page"))
        head = "No closer, device or self-test is out, and none drifts to its limit"
        return headline_html(Verdict("good", "all of it", head, tiles, f"{site_name}; the doors: by each test day's own page"))
    first, others = findings[0], len(findings) - 1
    own = "; the limit is the self-test's own, not the accuracy" if first.source == LOG else ""
    case = f"{site_name}{own}{f'; {others} more to look at below' if others else ''}"
    steps = [step for step in STEP.split(first.remedy) if step]  # in a list where their order matters
    do = f"Do: {first.remedy}" if len(steps) == 1 else _first_step(steps)
    listed = lines_html(steps, numbered=True) if len(steps) > 1 else ""
    return headline_html(Verdict(first.severity, "all of it", one_line(first), tiles, case, do)) + listed


def _first_step(steps):
    """What to do where several steps have an order: the first of them, a long one to its first comma, which stays in view, and that the
    others follow; in one line."""
    first, then = steps[0].rstrip(" .;"), f"; then 2 to {len(steps)}, the list under the band"
    whole = f"Do: 1. {first}{then}"
    return whole if len(whole.split()) <= MOST_TO_DO + 1 else f"Do: 1. {first.partition(',')[0]} …{then}"


def years_page(years, system="Pa"):
    """The tests of all years beside each other, as a page to print."""
    section = written_out(years_told(years), system)
    band = band_html(section, years.site.name, written_out(changed_most(years), system))
    parts = [cautions_html([CAUTION]), band, to_decide_html(ranked(section.findings))]
    plots = written_out(tuple(years_plots(years)), system)
    parts += [figure_html(picture_of(plot), caption) for plot, caption in plots]
    parts += [
        lines_html([section.verdict]),
        *(table_html(table, table.title) for table in section.tables),
        lines_html(section.notes),
        signed_html(("Tested by, date", "Seen by, date")),
    ]
    return plain_page(f"{years.site.name}: year after year", parts)


def years_card(name="Tannery Row", *folders):
    """The tests of a stair's years in words, table and picture; folders: of test days, by default the demo's. Returns `Reading`."""
    path = demo_sites()[name]
    years = read_years(read_site(path), *(folders or (DAYS_FOLDER / f"{path.stem}_years",)), today=date.today() if folders else None)
    section, plots = years_told(years), years_plots(years)

    @in_each
    def shown(*, system):
        told = written_out(section, system)
        pictures = "".join(figure_html(picture_of(plot), caption, scale=1) for plot, caption in written_out(tuple(plots), system))
        tables = "".join(table_html(table, table.title) for table in told.tables)
        first = band_html(told, years.site.name, written_out(changed_most(years), system)) + to_decide_html(ranked(told.findings))
        return first + pictures + lines_html([told.verdict]) + tables + lines_html(told.notes)

    words = [section.verdict, *(f"{table.title}: {' | '.join(row)}" for table in section.tables for row in table.rows)]
    return Reading(lambda: (shown(), "\n".join(map(str, words))))
