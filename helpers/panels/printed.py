"""Review and sheets as pages without code: to be read on a screen, printed in grey on A4 or Letter, and signed."""

from html import escape
from pathlib import Path
from urllib.parse import quote

from helpers import __version__, units
from helpers.formulas import signals
from helpers.model.criteria import BLANK as NO_TEXT
from helpers.panels.card import Card
from helpers.panels.markup import cautions_html, findings_html, html_table, paragraphs_html
from helpers.panels.pdf import write_pdf
from helpers.panels.record_page import STYLE, page_html
from helpers.studies.acceptance import CLOSING
from helpers.studies.figures import Record, fine
from helpers.studies.record import CAUTIONS
from helpers.studies.sheets import ACCEPTANCE_CAUTION, DEFICIENCIES, INJECTION_CAUTION, round_lines
from helpers.studies.status import word_of
from helpers.studies.whole_files import safe_name, write_whole

__all__ = [
    "RECORDS",
    "acceptance_page",
    "in_records",
    "injection_page",
    "plain_page",
    "records_folder",
    "review_page",
    "write_page",
    "written_card",
]

RECORDS = Path("records")  # below the folder that a page works in
BLANK = "\u2003" * 4
SIGNED = ("As found by, date", "As left by, date", "Instrument, certificate")


def plain_page(title, parts, across=False):
    """The text of an HTML page of these parts; across: printed across the paper."""
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{escape(title)}</title>'
    inside = "\n".join([f"<h1>{escape(title)}</h1>", *parts])
    inside = f'<div class="wide">{inside}</div>' if across else inside
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}<style>{STYLE}</style></head>\n<body>\n{inside}\n</body></html>\n'


def review_page(review):
    """A review: cautions, verdict, findings the gravest first, what was looked for and not found, room to sign."""
    clear = review.clear_table()
    parts = [
        cautions_html(CAUTIONS),
        paragraphs_html([f"Strategy: {review.strategy_name}. Site: {review.site_name}. {review.verdict()}"]),
        findings_html(review.findings),
        html_table(clear.columns, clear.rows, title=clear.title),
        _signed(("Reviewed by, date", "Seen by, date", "Cleared by, date")),
    ]
    return plain_page(f"Strategy review: {review.strategy_name}", parts)


def injection_page(plan, site_name, system="Pa", steps=()):
    """The injection table of a `CheckPlan`, with blanks; steps: the rows (of `InjectionRow`) with wires off and alarms that follow."""
    rows = []
    for number, point in enumerate(plan.points, 1):
        displays = zip(plan.transmitters, point.signals, point.displays_pa, plan.tolerance_pa, strict=True)
        for tap, value, shown, tolerance in displays:
            inject = f"{value:.2f} {signals.SIGNALS[tap.signal][2]}"
            rows.append((number, tap.name, inject, fine(shown, system), f"± {fine(tolerance, system)}", BLANK, BLANK))
        together = (fine(point.combined_pa, system), f"± {fine(plan.combined_tolerance_pa, system)}")
        rows.append((number, f"combined ({plan.rule})", "", *together, BLANK, BLANK))
    columns = ("Point", "Display", "Inject", "Must show", "Tolerance", "As found", "As left")
    more = [
        (f"+{number}", row.purpose, ", ".join("off" if p is None else f"{v:.2f}" for p, v in zip(row.percents, row.signals, strict=True)),
         row.must, BLANK, BLANK)
        for number, row in enumerate(steps, 1)
    ]  # fmt: skip
    names = ", ".join(tap.name for tap in plan.transmitters)
    after = html_table(("Step", "What", f"On {names}", "Must", "As found", "As left"), more) if more else ""
    blind = [f"No point tells: {'; '.join(plan.not_told_apart)}."] if plan.not_told_apart else []
    said = paragraphs_html(blind)
    parts = [cautions_html([INJECTION_CAUTION]), html_table(columns, rows), after, said, _closing(), _signed(SIGNED)]
    return plain_page(f"{site_name}: injected signals", parts)


def acceptance_page(sheet, system="Pa"):
    """The door-by-door sheet, with blanks."""

    def shown(value, dimension, digits=None):
        return "" if value is None else units.show(value, dimension, system, digits)

    steps = [force.step for force in sheet.criteria.forces]
    rows = []
    for row in sheet.rows:
        limits = {force.criterion.step: shown(force.limit_n, "force", 1) for force in row.forces}
        forces = [f"{BLANK} limit {limits[step] or NO_TEXT}" if step in limits else "" for step in steps]
        second = shown(row.speed_m_s, "speed", 2 if system == "Pa" else 0) if row.opened else shown(row.open_pa, "pressure")
        rows.append((
            f"{row.use} {row.storey}", f"{row.door}{' (open in round 2)' if row.opened else ''}", row.across,
            *(end if end == NO_TEXT else shown(end, "pressure") for end in sheet.ends(row)), shown(row.shut_pa, "pressure"), BLANK,
            shown(row.off_n, "force"), BLANK, *forces, BLANK, BLANK, second, BLANK, BLANK,
        ))  # fmt: skip
    columns = ("Door", "Kind", "Across", "Least", "Most", "Expected", "Measured", "Fan off, expected", "Fan off",
               *(f"To {step}" for step in steps), "Shuts and latches", "Minutes since start",
               "Doors open, expected", "Measured", "Smoke or thread goes")  # fmt: skip
    deficiencies = [(str(number), BLANK, BLANK, BLANK) for number in range(1, DEFICIENCIES + 1)]
    parts = [
        cautions_html([ACCEPTANCE_CAUTION]),
        paragraphs_html(round_lines(sheet)),
        html_table(columns, rows),
        html_table(("Fan", "Expected", "Read"), [(what, expected, BLANK) for what, expected in sheet.fan_lines(system)]),
        html_table((word_of("good"), word_of("attention"), word_of("wrong"), word_of("open")), [(BLANK,) * 4], title="Totals"),
        html_table(("Deficiency", "What", "Who mends it", "Tested again, date"), deficiencies),
        _closing(),
        _signed((*SIGNED, "Authority having jurisdiction, date")),
    ]
    return plain_page(f"{sheet.site_name}: door by door, {sheet.weather}", parts, across=True)


def _closing():
    title = f"Given back; without every line the verdict is {word_of('open')}"
    return html_table(("What", "Done"), [(line, BLANK) for line in CLOSING], title=title)


def write_page(page, path, paper="A4"):
    """Write a page as HTML or PDF, by the ending of the path. page: text of a page, or a `Record`. Returns the path.

    Raises ValueError for another ending or a path that cannot be written, PrintingError, a ValueError, where nothing can print.
    """
    text, target = page_html(page) if isinstance(page, Record) else page, Path(path)
    if target.suffix == ".pdf":
        return write_pdf(text, target, paper)
    if target.suffix != ".html":
        raise ValueError(f"path must end in .html or .pdf, got {target.name!r:.60}")
    return write_whole(target, text)


def in_records(name, ending):
    """Path of a file in the folder `records`, named after a site or strategy; the folder is made where it is not there."""
    return records_folder() / f"{safe_name(name).lower()}_{ending}"


def records_folder():
    """The folder `records`, made where it is not there. Raises ValueError where it cannot be."""
    try:
        RECORDS.mkdir(exist_ok=True)
    except OSError as trouble:
        raise ValueError(f"folder {RECORDS.name} cannot be made: {trouble.strerror}") from None
    return RECORDS


def written_card(path):
    """A link to a file that was written, as the last line of a cell."""
    name = Path(path).as_posix()
    link = f'<a style="color:#0b3c6f;text-decoration:underline" href="{escape(quote(name))}" target="_blank">{escape(name)}</a>'
    return Card(f'<p style="font-size:16px">Written: {link}</p>', f"Written: {name}")


def _signed(labels):
    cells = "".join(f"<td>{escape(label)}</td>" for label in labels)
    made = f"Made with the pressure-loop workbook {__version__}"
    return f'<table class="signed"><tr>{cells}</tr></table>{paragraphs_html([made])}'
