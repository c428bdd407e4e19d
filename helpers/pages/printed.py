"""Review and sheets as pages without code: to be read on a screen, printed in grey on A4 or Letter, and signed."""

from html import escape
from pathlib import Path
from urllib.parse import quote

from helpers import units
from helpers.formulas import signals
from helpers.model.files import safe_name
from helpers.model.site.criteria import AIR
from helpers.model.site.criteria import BLANK as NO_TEXT
from helpers.plots.headline import headline_html
from helpers.plots.markup import (
    Card,
    Verdict,
    cautions_html,
    findings_html,
    html_table,
    lines_html,
    paragraphs_html,
)
from helpers.plots.printer import write_page
from helpers.record.design import CAUTIONS
from helpers.record.page import plain_page, signed_html
from helpers.record.sections.signed import before_the_loop
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.crew.blanks import place_said
from helpers.studies.commissioning.crew.example import INVENTED
from helpers.studies.commissioning.crew.given_back import signatures
from helpers.studies.commissioning.crew.lines import AGREES, COLUMNS, GAUGED
from helpers.studies.commissioning.crew.procedure import fails_said, goes_out_said
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.expected_at_door import NO_FIGURE, fan_on, later_said, second_said
from helpers.studies.commissioning.fields import DEFICIENCIES, OF_THE_DAY, as_read, tested_again
from helpers.studies.commissioning.hand_back import BEFORE, CLOSING, INJECTION_CAUTION, given_back_said, stopped_before
from helpers.studies.commissioning.injection import STEP_PARTS, put_words
from helpers.studies.commissioning.proof import check_plan
from helpers.studies.commissioning.sheets import INJECTION_BEFORE, injection_about, write_injection_sheet
from helpers.studies.commissioning.steps.not_run import NOT_RUN, word_shown
from helpers.studies.commissioning.steps.two_rounds import round_lines, second_head
from helpers.studies.commissioning.workbook import ACCEPTANCE_CAUTION, write_acceptance_sheet
from helpers.studies.report import fine, listed
from helpers.studies.status import word_of
from helpers.units.said import with_unit, written_out

RECORDS = Path("records")  # below the folder that a page works in
BLANK = "\u2003" * 4
CARRY = "Carry sheet"
SIGNED = ("As found by, date", "As left by, date", "Instrument, certificate")


def review_page(review):
    """A review: cautions, verdict, findings the most serious first, what was looked for and not found, room to sign."""
    clear, unjudged = review.clear_table(), review.unjudged_table()
    parts = [
        cautions_html(CAUTIONS),
        paragraphs_html([f"Strategy: {review.strategy_name}. Site: {review.site_name}. {review.verdict()}"]),
        findings_html(review.findings),
        html_table(clear.columns, clear.rows, title=clear.title),
        *([html_table(unjudged.columns, unjudged.rows, title=unjudged.title)] if unjudged.rows else []),
        signed_html(("Reviewed by, date", "Seen by, date", "Cleared by, date")),
    ]
    return plain_page(f"Strategy review: {review.strategy_name}", parts)


def injection_page(plan, site_name, system="Pa", steps=(), filled=None, verdict="", not_proved="", fails=(), about=(), first=""):
    """The injection table of a `CheckPlan`; steps: the rows (of `InjectionRow`) with wires off and alarms that follow; filled: what was
    typed, by field, the rest are blanks; verdict: of what was typed, in words; not_proved: what must not be proved yet, "" for nothing;
    fails: what the design record fails in, a line each (`Design.fails`); about: of `injection_about`;
    first: as of `hand_back.stopped_before`."""
    filled, rows = filled or {}, []

    def read(name):
        return [_typed(filled, f"{name} {when}", "pressure", system) for when in ("as found", "as left")]

    for number, point in enumerate(plan.points, 1):
        displays = zip(plan.transmitters, point.signals, point.displays_pa, plan.tolerance_pa, strict=True)
        for place, (tap, value, shown, tolerance) in enumerate(displays, 1):
            inject = f"{value:.2f} {signals.SIGNALS[tap.signal][2]}"
            must = (fine(shown), f"± {fine(tolerance)}")
            rows.append((number, tap.name, "MANUAL", inject, *must, *read(f"point {number} display {place}")))
        together = (fine(point.combined_pa), f"± {fine(plan.combined_tolerance_pa)}")
        place = len(plan.transmitters) + 1
        rows.append((number, f"combined ({plan.rule})", "MANUAL", "", *together, *read(f"point {number} display {place}")))
    columns = ("Point", "Display", "Fan", "Inject", "Must show", "Tolerance", "As found", "As left")
    more = [
        (f"+{number}", row.fan, row.purpose, put_words(row, plan.transmitters), row.must, *read(f"step {number}"))
        for number, row in enumerate(steps, 1)
    ]
    after = html_table(("Step", "Fan", "What", "On", "Must", "As found", "As left"), more) if more else ""
    blind = [f"No point tells: {'; '.join(plan.not_told_apart)}."] if plan.not_told_apart else []
    over = paragraphs_html([not_proved] if not_proved else [])
    parts = [cautions_html([INJECTION_CAUTION]), lines_html(fails), paragraphs_html(about),
             _lines("Told before start", INJECTION_BEFORE, filled), html_table(columns, rows), over, after, paragraphs_html(blind),
             _closing(filled, first), paragraphs_html([verdict] if verdict else []), signed_html(SIGNED)]  # fmt: skip
    return written_out(plain_page(f"{site_name}: injected signals", parts), system)


def day_sheets(design, targets, paper="A4", day=None):
    """Write a `Design`'s sheets of the day, blank: injected signals, then the doors one by one, expected for the weather of a `Day`.

    targets: paths, XLSX and HTML of either. Yields each as it is written.
    """
    site, system, table, fails = design.site, design.units, design.injection, design.fails()
    plan, about = check_plan(table.transmitters, site.control.rule, site.control.weights), injection_about(table, site)
    steps, first = tuple(row for row in table.rows if row.part in STEP_PARTS), before_the_loop(design)
    kept = {"not_proved": table.not_proved or stopped_before(first), "first": first}
    yield write_injection_sheet(plan, site.title, targets[0], system, paper, steps, fails=(*fails, *about), **kept)
    yield write_page(injection_page(plan, site.title, system, steps, fails=fails, about=about, **kept), targets[1])
    told = {"out_of_mode": design.out_of_mode, "before_loop": first}
    sheet = acceptance_sheet(site, design.weather, day=day, **told)
    yield write_acceptance_sheet(sheet, targets[2], system, paper, fails=fails)
    yield write_page(acceptance_page(sheet, system, fails=fails), targets[3])


def acceptance_page(sheet, system="Pa", filled=None, verdict="", fails=()):
    """The door-by-door sheet; filled: what was typed, by field, the rest are blanks; verdict: in words; fails: as `injection_page`."""
    filled = filled or {}

    def shown(value, dimension, digits=None):
        return "" if value is None else units.show(value, dimension, system, digits)

    def typed(row, name, dimension=""):
        return _typed(filled, f"{row.key} {name}", dimension, system)

    def ends(row):
        least, most = (end if end == NO_TEXT else shown(end, "pressure", 2 if system == "Pa" else 4) for end in sheet.ends(row))
        return least, most or row.shuts_said

    steps = [force.step for force in sheet.criteria.forces]
    rows = []
    for row in sheet.rows:
        forces = {force.criterion.step: _force_cell(force, typed(row, force.field, "force"), shown) for force in row.forces}
        second = second_said(sheet, row)
        by_second = typed(row, "speed_m_s", "speed") if row.opened else typed(row, "open_pa", "pressure")
        worst = sheet.worst_of(row.key)
        own, whole = sheet.expected_words(row.key)[0], word_of(sheet.expected(row.key, again=False)[0])
        own = word_shown(own, sheet.against[0]) + ("" if own == whole else f", {whole} with forces and round 2")
        expected = f"{shown(row.shut_pa, 'pressure')} {own}{worst and f'; worst {worst}'}"
        rows.append((
            f"{row.use} {row.storey}, {row.door}{' (open in round 2)' if row.opened else ''}", row.across, *ends(row), expected,
            typed(row, "shut_pa", "pressure"), typed(row, "minutes"), shown(row.off_n, "force"),
            typed(row, "off_n", "force") if row.forces else "", *(forces.get(step, "") for step in steps),
            typed(row, "shuts") if row.forces else "", second, by_second, typed(row, "direction"),
        ))  # fmt: skip
        if row.later_minute is not None:
            again = f"{row.use} {row.storey}, again from minute {row.later_minute:.0f}"
            expected = NO_FIGURE if row.later_shut_pa is None else later_said(sheet, row)
            rows.append((again, row.across, *ends(row), expected, typed(row, "later_pa", "pressure"), typed(row, "later_minutes"), "", "",
                         *("" for _ in steps), "", "", "", ""))  # fmt: skip
    barred = f", {NOT_RUN}" if sheet.against[0] else ""
    columns = ("Door, kind", "Across", "Minimum", "Maximum", f"Expected{barred}; worst of all weathers", "Measured", "Minutes since start",
               *(f"Fan off: to {step}{what}" for what in (", expected with the day's stack effect", "") for step in steps if step in AIR),
               *(f"{by[0].upper()}{by[1:]}to {step}" for by in [written_out(fan_on(sheet), system)] for step in steps), "Shuts and latches",
               second_head(sheet), "Read", "Smoke or thread goes")  # fmt: skip
    names = [f"deficiency {number}" for number in range(1, DEFICIENCIES + 1)]
    deficiencies = [(name, _typed(filled, name), _typed(filled, tested_again(number))) for number, name in enumerate(names, 1)]
    found = {name: filled.get(f"day {name}") for name in OF_THE_DAY}
    read = {name: as_read(found[name], dimension) if isinstance(found[name], int | float) else _typed(found, name)
            for name, (_, dimension) in OF_THE_DAY.items()}  # fmt: skip
    day = [(label, read[name], as_read(dict(sheet.made_for)[name], dimension)) for name, (label, dimension) in OF_THE_DAY.items()]
    fan = [(what, expected, _typed(filled, what)) for what, expected in sheet.fan_lines()]
    plant = [(one.field, one.told, one.who, one.caution, _typed(filled, one.field, one.dimension, system)) for one in sheet.plant]
    told = tuple(_beside_said(sheet, system))
    parts = [
        cautions_html([ACCEPTANCE_CAUTION]),
        lines_html(fails),
        _lines("Told before start", BEFORE, filled),
        html_table(("Weather of the day", "Found", "Figures are made for"), day),
        paragraphs_html(round_lines(sheet)),
        html_table(columns, rows),
        paragraphs_html(told),
        html_table(("Fan", "Expected", "Read"), fan),
        html_table(("Beside the doors", "Expected", "Who", "▲ Caution", "Read"), plant),
        html_table((word_of("good"), word_of("attention"), word_of("wrong"), word_of("open")), [(BLANK,) * 4], title="Totals"),
        html_table(("Deficiency", "What, who mends it", "Tested again, date"), deficiencies),
        _closing(filled, sheet.before_loop or ""),
        paragraphs_html([verdict] if verdict else []),
        signed_html((*SIGNED, "Authority having jurisdiction, date")),
    ]
    return written_out(plain_page(sheet.title, parts, across=True), system)


def procedure_page(steps, system="Pa", fails=(), beside=()):
    """The steps of a test day (`Procedure`) in order, to be taken along and ticked; fails: as `injection_page`; beside: sentences about
    site files of the same building that were found on a test day."""
    sheet, first = steps.rounds.sheet, fails_said(len(fails), "listed at the end")
    parts = [
        cautions_html([*beside, ACCEPTANCE_CAUTION]),
        paragraphs_html([*([first] if fails else []), sheet.day_said, goes_out_said(steps)]),
    ]
    parts.append(lines_html(steps.crew_lines()))
    columns = ("Step", "Who, minutes", "Do", "Expected", "Limit; when it fails", "▲ Caution, fan is left", "Seen, time, initials")
    barred = tuple(step for step in steps.steps if step.against)

    def tables(of, told=""):
        for part in dict.fromkeys(step.part for step in of):
            rows = [(step.label, f"{', '.join(step.who)}, {step.minutes:.0f} min", step.do, step.expected,
                     f"{step.limit.rstrip('.')}. Fails: {step.fails}", f"▲ {step.caution}. {step.left_said}", BLANK)
                    for step in of if step.part == part]  # fmt: skip
            yield html_table(columns, rows, title=f"{told}{part.capitalize()}", units_to_head=False)

    parts.append(_carry_sheet(steps))
    parts += tables(steps.run)
    if barred:
        told = [f"{step.label}: {NOT_RUN} while {step.against}" for step in barred]
        parts += [paragraphs_html([f"{NOT_RUN} on this day; how each is made safe, where somebody decides so, stands at the end:"]),
                  lines_html(told)]  # fmt: skip
    parts.append(_door_figures(steps.rounds))
    parts += [paragraphs_html(["The design record fails in:"]), lines_html(fails)] if fails else []
    parts.append(signed_html(("Test lead, date", "Agreed with the authority having jurisdiction, date")))
    if barred:
        parts.append(f'<h2 class="annex">Annex, not to be carried: the {len(barred)} steps that are {NOT_RUN}</h2>')
    parts += tables(barred, f"{NOT_RUN}, by a written decision alone. ")
    return written_out(plain_page(f"{sheet.site_name}: procedure of the test day", parts, across=True), system)


def _carry_sheet(steps):
    """The steps that are run in their order, a line each: who, how long, the limit, in what state the fan is left, room for the time."""
    rows = [(step.label, f"{', '.join(step.who)}, {step.minutes:.0f} min", step.limit, f"▲ {step.leaves}", BLANK) for step in steps.run]
    told = f"{CARRY}: {len(rows)} steps. What to do, with every caution, stands under the same number below: work from that."
    return html_table(("Step", "Who, minutes", "Limit", "Fan is left", "Time, initials"), rows, title=told, units_to_head=False)


def _door_figures(rounds):
    """Pressures expected at every place in every round."""
    rows = []
    for quantity, level in rounds.read:
        cells = ["stands open" if one.stands_open(quantity, level) else with_unit(one.expected_pa[quantity, level], "pressure", (1, 3))
                 for one in rounds.rounds]  # fmt: skip
        rows.append((place_said(rounds, quantity, level), *cells))
    return html_table(("Expected across", *(one.label for one in rounds.rounds)), rows, title="Door by door")


def day_band(report, example=""):
    """The verdict of a `DayReport`: a headline with its counts, what to do, and what it is made of as lists: FAIL, then what is not
    measured; example: as of `day_report_page`, its first words stay with the headline."""
    state, words = report.verdict
    head = f"{made_up}: {report.head}" if (made_up := example.partition(":")[0]) else report.head
    tiles = tuple((word_of(key), str(report.count(key)), "") for key in ("wrong", "attention", "open"))
    band = headline_html(Verdict(state, words.partition(": ")[2], head, tiles, do=report.do))  # the bar has the word already
    groups = ((f"{word_of('wrong')}, the worst of each kind first, each with its limit", report.listed),
              (f"{word_of('open')}: not measured or not filled in", report.unmeasured), ("", report.rest))  # fmt: skip
    return band + "".join(f"{f'<b>{escape(title)}</b>' if title else ''}{lines_html(lines)}" for title, lines in groups if lines)


def example_html():
    """That what follows is an invented example, in a band of its own."""
    return f'<p style="border:2px dashed #1b2733;padding:4px 14px;margin:4px 0;font-weight:bold;font-size:15px">{escape(INVENTED)}</p>'


def day_report_page(found, system="Pa", example=""):
    """The report of a test day (`DayFound`) for the authority: verdict, every device and door, what could not be used, signatures;
    example: that nobody measured it, "" for a day that was."""
    report = day_report(found)
    parts = [
        *([example_html()] if example else []),
        cautions_html([ACCEPTANCE_CAUTION]),
        day_band(report, example),
        paragraphs_html(report.said),
    ]
    for title, lines in report.parts().items():
        kept = [place for place in range(len(COLUMNS)) if any(line.cells[place] for line in lines)]
        rows = [[line.cells[place] for place in kept] for line in lines]
        states, good = [line.state for line in lines], AGREES if title == GAUGED else ""
        parts.append(html_table([COLUMNS[place] for place in kept], rows, states, title, units_to_head=False, good=good))
    unread = [*found.filled.conflicts, *found.filled.mistakes, *found.left]
    unread += [f"No day's file: {found.no_day}"] if found.no_day else []
    parts += [paragraphs_html(["Not read or not used:"]), lines_html(unread)] if unread else []
    parts.append(signed_html((*signatures(found), "Test lead, date")))
    return written_out(plain_page(report.title, parts, across=True), system)


def _beside_said(sheet, system):
    """What the table has no room for: why a door would be no PASS by its forces."""
    by_reason = {}
    for row in sheet.rows:
        state, why = written_out(sheet.expected_parts(row.key), system)[1]
        if state in ("wrong", "attention"):
            by_reason.setdefault((state, why.partition("; ")[0]), []).append(f"{row.use} {row.storey}")
    for (state, why), doors in by_reason.items():
        yield f"Expected to be {word_of(state)} by {'its' if len(doors) == 1 else 'their'} forces: {listed(doors)}, {why}."


def _force_cell(force, typed, shown):
    """What was measured, its limit and, where one is, what is expected with the fan on."""
    limit = shown(force.limit_n, "force", 1) or NO_TEXT
    expected = f", expected {shown(force.expected_n, 'force')}" if force.criterion.step in AIR and force.expected_n is not None else ""
    return f"{typed} limit {limit}{expected}"


def _typed(filled, name, dimension="", system="Pa"):
    """What was typed into a field, in the units shown, or room to write."""
    value = filled.get(name)
    if value is None:
        return BLANK
    return str(value) if isinstance(value, str) or not dimension else units.show(value, dimension, system, _digits(dimension, system))


def _digits(dimension, system):
    return (
        {"pressure": 2, "force": 1, "speed": 2, "wind speed": 1}.get(dimension)
        if system == "Pa"
        else {"pressure": 4, "force": 1, "speed": 0, "wind speed": 0}.get(dimension)
    )


def _lines(title, lines, filled):
    return html_table(("What", "Given"), [(line, _typed(filled, line)) for line in lines], title=title)


def _closing(filled, first):
    lines = _lines(f"Given back; without every line the verdict is {word_of('open')}", CLOSING, filled)
    return f"{lines}{paragraphs_html([given_back_said(first)])}"


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
