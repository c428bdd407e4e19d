"""Trend files: a log goes in, its columns are pointed at, and out come its step test, settings as found beside as left, why it hunts."""

import json
from functools import cache, lru_cache

import numpy as np
from ipywidgets import HTML, VBox

from helpers import units
from helpers.fault_bench.real_log import suspects_of
from helpers.model.files import FileTextError, changed_s, named_path, shown_name, text_of, write_whole
from helpers.model.loop.run import settings_of
from helpers.model.site.file import SITES_FOLDER, demo_sites, read_site
from helpers.pages.printed import RECORDS
from helpers.plots.charts import trend as chart
from helpers.plots.markup import Verdict, folded, html_table, lines_html, paragraphs_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis, Line
from helpers.plots.style import Pen
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.trends import times
from helpers.studies.measured.trends.description import beyond_the_span
from helpers.studies.measured.trends.file_shape import known_unit
from helpers.studies.measured.trends.study import NOT_TRIED, LoopStated, look_into
from helpers.studies.measured.trends.trend import Columns, read_trend, shape_of
from helpers.studies.status import word_of
from helpers.units.said import with_unit, written_out
from helpers.widgets.controls import UNITS, Choice, Typed, typed_gain, typed_integral_time, typed_quantity
from helpers.widgets.panel import Panel, Task

LOGS_FOLDER = SITES_FOLDER.parent / "trends"
ENDINGS = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm")
MOST_LETTERS = 34  # of a file's name in a list
NONE, FIND_OUT, THIS = "none", "find out", "this log"
FROM_FILE, TYPED = "by {}'s file", "as typed in"  # where the settings as found are from
UNSITED = (
    "For want of a site file (--site) nobody knows the loop's span and full speed: the gain is told in pressure by speed or output, and no "
    "setting follows."
)
DEMO_SITE, DEFAULT_LOG = "Northgate Tower", "Stair Steps In Manual"  # of which the logs that come with the workbook are computed
REMEMBERED, MOST_REMEMBERED, MOST_BYTES = "trend_columns.json", 200, 200_000
MOST_POINTS = 4000  # of a curve in the picture
HUNTED = {"gain": "2", "integral_s": "1.2 s"}  # entered in the loop that hunts, beside its site file's
ROLES = ("time", "reading", "speed", "output", "set_point")
PENS = {  # the fit lies over the reading; told apart in grey by their lines
    "reading": Pen("#0b3c6f", "-", 1.2), "fit": Pen("#c2571a", (0, (4, 1.5)), 2.4), "set point": Pen("#4f5b67", (0, (1, 2)), 1.8),
    "fan": Pen("#2f9e97", "-.", 1.8),
}  # fmt: skip
READ = (
    "Above is the reading as it was logged and, over each step, the answer of one lag and a delay that fits it best; below is the "
    "fan, as "
    "its speed was logged (or its output, where no speed is). The fit goes from the fan's speed to the reading, so that the drive's ramp "
    "is "
    "no lag. Where the fit leaves the reading, something else moved, or one lag is not enough. The intervals hold nine truths of ten.\n"
    "The process gain is per cent of the input's span for one per cent of full speed. Span, full speed, set point, ramp and settings as "
    f"found are those of {DEMO_SITE}'s file until they are typed over under More; all logs of the workbook are of that loop."
)
TASKS = (
    Task("Read delay and lag off the picture, then above. Which of the two is easier to read?"),
    Task("Choose the closed loop's log. Why are its intervals wider, at the same noise?", {"name": "Stair Set Point Steps"}),
    Task("Choose the log of every minute. What does it still tell, and what can it never?", {"name": "Building Every Minute"}),
    Task("Something moved in this one that was not the fan. At what time?", {"name": "Stair Steps Door Moved"}),
    Task("It hunts, and somebody has typed in what stood in the drive: 2 %/% and 1.2 s, not what its site file has. What can the log alone "
         "not tell?", {"name": "Stair Hunting", **HUNTED}),
    Task("Now lend it the step test of the same loop: why does it hunt?",
         {"name": "Stair Hunting", "lent": "Stair Steps In Manual", **HUNTED}),
)  # fmt: skip
GROUPS = {"The log": ("name",), "Its columns": ROLES}


def demo_logs():
    """Invented logs that come with the workbook, by name."""
    return {path.stem.replace("_", " ").title(): path for path in sorted(LOGS_FOLDER.glob("*")) if path.suffix in ENDINGS}


def own_logs():
    """Logs in the folder of records, the newest first, by name."""
    found = sorted((path for path in RECORDS.glob("*") if path.suffix.lower() in ENDINGS), key=lambda path: (-changed_s(path), path.name))
    named = {}
    for path in found:
        named.setdefault(_in_a_list(f"{RECORDS.name}/{shown_name(path)}"), path)
    return named


def _in_a_list(name):
    """A name as long as a list has room for, its ends kept."""
    return name if len(name) <= MOST_LETTERS else f"{name[: MOST_LETTERS - 17]}…{name[-16:]}"


class TrendPanel:
    """The panel with its log; `study` is the last one that could be made."""

    def __init__(self, name=DEFAULT_LOG):
        self.files = demo_logs() | own_logs()
        self.study, self.suspects, self.below = None, None, HTML()
        self._load(self.files[name])
        picture = Picture(**PANEL_PX)
        self.panel = Panel(self._controls(name), picture, self._answer, self._prepare, groups=GROUPS, read=READ, left_out=NOT_TRIED,
                           tasks=TASKS, beside=self._write)  # fmt: skip
        self.box = VBox([self.panel.line.strip, self.panel.box, self.below])

    def _repr_mimebundle_(self, include=None, exclude=None):
        bundle = self.panel._repr_mimebundle_(include, exclude)
        if self.study is None:  # the log cannot be read: the panel says why
            return self.box._repr_mimebundle_() | {kind: text for kind, text in bundle.items() if kind.startswith("text/")}
        words = "\n".join([bundle["text/plain"], *written_out((*self.study.sentences(), *self.study.not_used()), UNITS.system)])
        return self.box._repr_mimebundle_() | {"text/html": bundle["text/html"] + self.below.value, "text/plain": words}

    def _load(self, path):
        shape = shape_of(path)
        self.path, self.shape = path, shape

    def _controls(self, name):
        site = read_site(demo_sites()[DEMO_SITE])
        own = settings_of(site)
        ramp = max(site.fan.ramp_s, site.fan.slows_s)
        controls = {"name": Choice("Log", list(self.files), name)}
        controls |= {role: Choice(role.replace("_", " ").capitalize(), list(self.shape.headings)) for role in ROLES}
        controls |= {
            "gain": typed_gain("Gain as found", f"{own.gain:g}", may_be_none=True),
            "integral_s": typed_integral_time("Integral time as found", f"{own.integral_s:g} s"),
            "target_pa": typed_quantity("Held at", "pressure", units.write(round(own.set_point_pa, 1), "pressure")),
            "span_pa": typed_quantity("Span of the input", "pressure", units.write(round(own.span_pa, 1), "pressure")),
            "full_hz": typed_quantity("Full speed", "frequency", f"{site.fan.highest_speed_hz:g} Hz"),
            "ramp_s": typed_quantity("Ramp, all of the speed", "time", f"{ramp:g} s"),
            "lowest_hz": typed_quantity("Lowest speed", "frequency", f"{site.fan.lowest_speed_hz:g} Hz"),
            "second": Choice("Second transmitter", [NONE, *self.shape.headings], NONE),
            "lent": Choice("Step test from", [THIS, *self.files], THIS),
            "written": Choice("Times are written", [FIND_OUT, *times.FORMATS], FIND_OUT),
            "units_of": Typed("Units the headings lack", _told_units, hint="such as PDT-1: Pa; Speed: Hz"),
            "file": Typed("Your log", str.strip, hint="path of a .csv or .xlsx file"),
        }
        self._offer(controls)
        return controls

    def _offer(self, controls):
        """Columns of the file that is loaded, as they were pointed at in a file of its shape, or as their headings say."""
        pointed = _remembered().get(self.shape.key) or pointed_at(self.shape)
        for role in ROLES:
            offered = list(self.shape.headings) if role in ("time", "reading") else [NONE, *self.shape.headings]
            controls[role].offer(offered, pointed[role] if pointed.get(role) in offered else offered[0])
        controls["second"].offer([NONE, *self.shape.headings], NONE)

    def _prepare(self, moved):
        controls = self.panel.controls
        if moved == "file" and controls["file"].value:
            self._load(named_path(controls["file"].value))
            self._offer(controls)
        elif moved == "name":
            self._load(self.files[controls["name"].value])
            self._offer(controls)
        elif moved in ROLES and self.path not in demo_logs().values():
            _remember(self.shape.key, {role: controls[role].value for role in ROLES})

    def _answer(
        self, name, file, written, units_of, lent, gain, integral_s, target_pa, span_pa, full_hz, ramp_s, lowest_hz, second, **roles
    ):
        columns = _columns(roles, second)
        entered = None if gain is None or integral_s is None else (gain, integral_s)
        demo = read_site(demo_sites()[DEMO_SITE])
        own = settings_of(demo)
        by = FROM_FILE.format(DEMO_SITE) if entered == (own.gain, own.integral_s) else TYPED
        ceiling = ceiling_of(demo).hz if self.path in demo_logs().values() else None  # of another log's building nothing is known here
        stated = LoopStated(span_pa, full_hz, target_pa, ramp_s, entered, as_found_from=by, ceiling_hz=ceiling)
        told = tuple(sorted(units_of.items()))
        trend = _read(self.path, changed_s(self.path), columns, told, None if written == FIND_OUT else written)
        other = None
        if lent != THIS:
            path = self.files[lent]
            other = _read(path, changed_s(path), _columns(pointed_at(shape_of(path))), (), None)
        self.study = look_into(trend, stated, other)
        self.suspects = None if second == NONE else suspects_of(trend, (span_pa, span_pa), (lowest_hz, full_hz))
        return _verdict(self.study), _picture(self.study)

    def _write(self):
        above = written_out([f"▲ {line}" for line in [self.study.above_ceiling] if line], UNITS.system)
        self.below.value = paragraphs_html(above) + _below(self.study) + written_out(_suspected(self.suspects), UNITS.system)


@cache
def trend_panel(name=DEFAULT_LOG):
    """The panel of logs, one in a notebook: shown again it is the same one."""
    return TrendPanel(name)


def pointed_at(shape):
    """{role: heading} as the headings and units of a `FileShape` say; a role without one is left out."""
    found, dimensions = {}, [known_unit(unit) for unit in shape.unit_texts]
    words = [heading.lower() for heading in shape.headings]

    def first(role, fits):
        for heading, dimension, said in zip(shape.headings, dimensions, words, strict=True):
            if heading not in found.values() and role not in found and fits(dimension, said):
                found[role] = heading

    first("time", lambda dimension, said: dimension == "time" or said.startswith(("time", "date", "second", "stamp")))
    found.setdefault("time", shape.headings[0])
    first("set_point", lambda dimension, said: "set point" in said or "setpoint" in said)
    first("output", lambda dimension, said: dimension == "percent" and "speed" not in said)
    first("speed", lambda dimension, said: dimension == "frequency" or "speed" in said)
    first("reading", lambda dimension, said: dimension == "pressure")
    return found


def log_told(path, site=None):
    """What a log says: (lines: its columns as the headings point at them, sampling, step test, settings, why it hunts, what was assumed;
    key of its status; whether something is to be acted on, as `TrendStudy.to_act`; sentences about what of the file is not used).

    site: of the loop, as it stands in its file; without one no per cent and no setting is told.
    Raises ValueError for a log that cannot be read, or whose headings name no pressure or nothing that moves the fan, whose
    reading is beyond the span of the site's transmitters, and for one of the workbook's own logs with another site than theirs.
    """
    if site is not None and site.name != DEMO_SITE and named_path(path).resolve().parent == LOGS_FOLDER.resolve():
        raise ValueError(
            f"{shown_name(path)} is a log of {DEMO_SITE}, full speed {read_site(demo_sites()[DEMO_SITE]).fan.highest_speed_hz:g} Hz, as "
            f"all in its folder are; got {site.name}, {site.fan.highest_speed_hz:g} Hz: "
            f"--site {shown_name(demo_sites()[DEMO_SITE])} is theirs"
        )
    pointed = pointed_at(shape_of(path))
    for role, lacking in (("reading", "reading" not in pointed), ("speed or output of the fan", not {"speed", "output"} & set(pointed))):
        if lacking:
            raise ValueError(f"{shown_name(path)} must have a heading of a {role} with its unit; on page 19 any column can be pointed at")
    of = read_site(demo_sites()[DEMO_SITE]) if site is None else site
    own = settings_of(of)
    entered = None if site is None else (own.gain, own.integral_s)
    stated = LoopStated(
        own.span_pa, of.fan.highest_speed_hz, own.set_point_pa, max(of.fan.ramp_s, of.fan.slows_s), entered, site is not None,
        FROM_FILE.format(of.name), None if site is None else ceiling_of(site).hz,
    )  # fmt: skip
    trend = read_trend(path, _columns(pointed))
    if site is not None and (beyond := beyond_the_span(trend, site.transmitters)):
        raise ValueError(f"{shown_name(path)}: {beyond}")
    study = look_into(trend, stated)
    return (*_lines_of(study, pointed, site),), study.state, study.to_act, study.trend.unused


def _lines_of(study, pointed, site):
    stated = study.stated
    yield f"Columns: {'; '.join(f'{role.replace(chr(95), chr(32))} {heading!r:.60}' for role, heading in pointed.items())}."
    if site is None:
        ramp = "" if "speed" in pointed else f" The drive's ramp is taken as {stated.ramp_s:g} s for all of its speed."
        yield f"{UNSITED}{ramp}"
    else:
        yield f"The loop's span, full speed, set point, ramp and settings as found: those of {site.name}'s file."
    yield f"{word_of(study.state)}: {study.head()}."
    yield from (f"{what}: {figure}{f' ({ends})' if ends else ''}" for what, figure, ends in study.tiles())
    yield from study.sentences()
    for table in (study.settings_table(), study.steps_table(), study.columns_table()):
        if table is not None and table.rows:
            yield f"{table.title}: {' | '.join(table.columns)}"
            yield from (f"  {' | '.join(row)}" for row in table.rows)
            yield from [table.note] if table.note else []
    yield from (f"Assumed or not used: {remark}" for remark in study.not_used())
    yield study.to_do() or "Do: nothing that follows from this log"


def _columns(roles, second=NONE):
    """`Columns` of what was pointed at; second: another reading. Raises ValueError where one column has two jobs."""
    chosen = {role: heading for role, heading in roles.items() if heading not in (None, NONE)}
    readings = (chosen["reading"],) if second == NONE else (chosen["reading"], second)
    return Columns(chosen["time"], readings, *(chosen.get(role) for role in ("output", "speed", "set_point")))


@lru_cache(maxsize=6)
def _read(path, changed, columns, units_of, written):
    """A log, read once as long as its file does not change."""
    return read_trend(path, columns, units_of=dict(units_of), time_format=written)


def _verdict(study):
    return Verdict(study.state, " ".join(study.sentences()), study.head(), study.tiles(), _case(study), study.to_do())


def _case(study):
    return f"{study.trend.name}{', loop closed' if study.step.steps and not study.hunts and study.step.loop == 'closed' else ''}"


def _picture(study):
    trend, step = study.trend, study.step
    every = slice(None, None, max(1, trend.rows // MOST_POINTS))
    time_s = trend.time_s[every]
    reading = trend.values[trend.controlled][every]
    curves = [Line(time_s, reading, PENS["reading"], "reading")]
    if _same(study):
        apart = np.diff(step.time_s, prepend=step.time_s[0]) > 5 * step.sample_s
        curves.append(Line(step.time_s, np.where(apart, np.nan, step.fitted), PENS["fit"], "one lag and a delay", 5))
    if trend.columns.set_point:
        curves.append(Line(time_s, trend.values[trend.columns.set_point][every], PENS["set point"], "set point"))
    held_pa = study.stated.set_point_pa
    limits = () if trend.columns.set_point else ((f"held {with_unit(held_pa, 'pressure')}", held_pa, "set point"),)
    dimension, fan = trend.dimensions[trend.controlled], trend.dimensions[trend.input]
    around = [value for value in (np.nanmin(reading), np.nanmax(reading)) if np.isfinite(value)]
    axes = (
        (Axis("Reading", dimension, ends=_ends(around)), tuple(curves), limits if dimension == "pressure" else ()),
        (Axis("Fan", fan, ends=_ends(trend.values[trend.input][np.isfinite(trend.values[trend.input])])),
         (Line(time_s, trend.values[trend.input][every], PENS["fan"], "speed of the fan" if trend.columns.speed else "output"),), ()),
    )  # fmt: skip
    return chart("trend file", f"{trend.name}", "Time after the first row [s]", axes)


def _same(study):
    """Whether the fit is of the log that is shown."""
    return study.step.time_s.size > 0 and np.isin(np.round(study.step.time_s, 6), np.round(study.trend.time_s, 6)).mean() > 0.8


def _ends(values):
    """Ends of an axis that shows a swing of values about their middle, and not down to zero."""
    low, high = float(np.min(values)), float(np.max(values))
    room = 0.15 * (high - low) or 1.0
    return low - room, high + room


def _below(study):
    """Tables and sentences under the panel, as HTML in the units of the moment."""
    tables = [table for table in (study.settings_table(), study.steps_table(), study.columns_table()) if table is not None and table.rows]
    parts = [
        folded(
            table.title,
            html_table(table.columns, table.rows, table.states) + lines_html([table.note] if table.note else []),
        )
        for table in tables
    ]
    for title, lines in (
        ("What was found, in sentences", tuple(study.sentences())),
        ("What of the file was assumed or not used", study.not_used()),
    ):
        parts.append(
            folded(f"{title} ({len(lines)})", lines_html(lines), unfolded=bool(study.step.refused) and title.startswith("What was found"))
        )
    return written_out("".join(parts), UNITS.system)


def _suspected(suspects):
    """Which of the fault bench's faults fit the log and what to check next, as HTML; "" where no second transmitter is named."""
    if suspects is None:
        return ""
    if suspects.refused:
        return folded("The fault bench's faults", lines_html([suspects.refused]))
    shown = "; ".join(f"{what}: {outcome}" for what, outcome in suspects.facts.items())
    lines = [f"The log shows: {shown}.", f"Fits: {', '.join(fault.name for fault in suspects.left) or 'none of the bench'}.",
             f"Does not fit, as far as the bench's table goes: {', '.join(fault.name for fault in suspects.out) or 'none'}."]  # fmt: skip
    rows = [(" and ".join(one.names), f"{one.minutes:g}", f"{one.left:.1f}") for one in suspects.checks]
    table = html_table(("Check next", "Minutes", f"Faults left of {len(suspects.left)}, on average"), rows) if rows else ""
    return folded("Which of the fault bench's faults fit, and what to check next", lines_html(lines) + table, unfolded=True)


def _remembered():
    """{key of a shape: {role: heading}} of the reader's own files; empty where nothing was kept, or what was kept is damaged."""
    try:
        kept = json.loads(text_of(RECORDS / REMEMBERED, MOST_BYTES))
    except (FileTextError, json.JSONDecodeError, RecursionError):
        return {}
    good = isinstance(kept, dict) and all(isinstance(of, dict) and all(isinstance(one, str) for one in of.values()) for of in kept.values())
    return kept if good else {}


def _remember(key, pointed):
    """Keep what was pointed at in files of a shape, the newest MOST_REMEMBERED of them. Raises ValueError where it cannot be written."""
    kept = {other: of for other, of in _remembered().items() if other != key} | {key: pointed}
    if RECORDS.is_dir():
        write_whole(RECORDS / REMEMBERED, json.dumps(dict(list(kept.items())[-MOST_REMEMBERED:]), indent=1, ensure_ascii=False))


def _told_units(text):
    """{heading: unit} of "heading: unit; heading: unit"."""
    pairs = [part.rpartition(":") for part in text.split(";") if part.strip()]
    if not all(heading.strip() and known_unit(unit) for heading, _, unit in pairs):
        raise ValueError(f"Units the headings lack: write heading: unit, and ; between two, such as PDT-1: Pa; got {text!r:.60}.")
    return {heading.strip(): unit.strip() for heading, _, unit in pairs}
