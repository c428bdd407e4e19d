"""The workbook without a browser.

python -m helpers record SITE.toml       the design record, as HTML and PDF, and of a stair the sheets of the day
python -m helpers sheets SITE.toml       the sheets of the day alone
python -m helpers review STRATEGY.toml   what is wrong with somebody's settings
python -m helpers testday SITE.toml      the procedure of a test day and its sheets; --from DAY.toml fills them in, --filled XLSX reads them
python -m helpers fit SITE.toml DAY.toml what a test day proves, and the site file of the building as found
python -m helpers years SITE.toml FOLDER the tests of all years beside each other, from a folder of test days (or several)
python -m helpers papers SITE.toml ...   the papers of a job, a folder for each site; of a campus a folder of sites; --cluster: on Dask
python -m helpers placement SITE.toml ...   the ranked pairs of transmitters of a stair or a campus, all of them as CSV; --cluster
python -m helpers differences SITE.toml LIST   a list of settings as entered (or another site's file) against the schedule
python -m helpers concepts SITE.toml     the ways to pressurise a stair beside each other: ranked, what each takes, what fails first
python -m helpers trends LOG             what a trend file says: its columns, its step test, settings, why it hunts
python -m helpers check SITE.toml        every mistake of a site file, of a test day's file or of a file of answers, with its line
python -m helpers class run FOLDER       serves a class, see `python -m helpers class --help`

`record`, `sheets` and `review` take another `--rule` and `--set-point` ("0.16 in. w.c.") than the file states, `sheets` and `testday` the
weather found on the day (`--outdoor "12 °C"`, `--stair-bottom`, ... `--wind "2 m/s"`), as page 11 does; `--help` tells all.

Status, the same for all commands. 0: done, and in order. 1: `check` found mistakes. 2: refused. 3: done, and something is to be acted on:
a FAIL in what is judged (of a test day's filled sheets a CHECK or a NOT YET too), a reading or a fit that is not believed, a log of
another drive, something given and not used; named on stderr. What judges nothing (`sheets`, a procedure, `concepts`) ends with 0.
"""

import os
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

from helpers.model.files import named_path, printable, safe_name, shown_name, write_whole
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import read_site
from helpers.pages.record.command_options import DAY_EXAMPLES, OPTIONS, REFUSED, parser
from helpers.units import SYSTEMS
from helpers.units.said import written_out

SOUND, MISTAKEN, TO_ACT, STOPPED = 0, 1, 3, 130
STATUS = __doc__.rpartition("\n\n")[2]  # under the help of every command
SHEETS = ("injection.xlsx", "injection.html", "acceptance.xlsx", "acceptance.html")


def main(arguments=None):
    """Do what the command line says (default: this program's). Returns the exit status; what a user types ends in no traceback."""
    typed = sys.argv[1:] if arguments is None else list(arguments)
    if typed[:1] == ["class"]:
        from helpers.serving.__main__ import main as serve

        serve(typed[1:])
        return SOUND
    chosen = parser(WORKS, STATUS).parse_args(typed)
    try:
        return chosen.work(chosen)
    except KeyboardInterrupt:
        return _refused("stopped; what was being written was not begun", STOPPED)
    except SiteFileError as refusal:
        more = f" ({len(refusal.mistakes)} mistakes, this is the first; `check` tells them all)" * (len(refusal.mistakes) > 1)
        return _refused(f"{str(refusal).splitlines()[0]}{more}")
    except MemoryError:
        return _refused("this asks for more memory than there is: a shorter file, or fewer sites at a time")
    except OSError as trouble:
        return _refused(f"{shown_name(trouble.filename or '', whole=True)}: {trouble.strerror or trouble}")
    except ValueError as trouble:
        return _refused(str(written_out(str(trouble), getattr(chosen, "units", None) or SYSTEMS[0])))


def _check(chosen):
    from helpers.model.answers import AnswersFile
    from helpers.model.plants.kinds import SITE_KINDS
    from helpers.model.test_day import TestDay

    if not Path(chosen.file).is_file():
        return _refused(f"{shown_name(chosen.file, whole=True)} is no file")
    try:
        site = read_site(chosen.file, (*SITE_KINDS, TestDay, AnswersFile))
    except SiteFileError as refusal:
        _say(refusal)
        return MISTAKEN
    if isinstance(site, TestDay):
        from helpers.pages.measured.fitted import day_checked

        mistaken, told = day_checked(chosen.file, site)
        return max(_told(told, "Pa"), MISTAKEN * mistaken)
    return _told([f"{shown_name(chosen.file)} is sound: {site.counted if isinstance(site, AnswersFile) else site.name}"], "Pa")


def _record(chosen):
    from helpers.model.plants.kinds import read_any_site
    from helpers.pages.printed import day_sheets
    from helpers.record.page import page_html
    from helpers.record.plants.design import design_of

    design = design_of(read_any_site(chosen.file), rule=chosen.rule, set_point=chosen.set_point, units=chosen.units)
    html, pdf, *sheets = _targets(chosen, design.site.file_title, "record.html", "record.pdf", *SHEETS * (design.site.kind == "stair"))
    for number, section in enumerate((record := design.record()).sections, 1):
        _progress(f"{number} of {len(record.sections)}: {section.title}")
    _progress("pictures and page")
    _write_pages(page_html(record), (html, pdf), chosen.paper, lambda: sheets and _written(*day_sheets(design, sheets, chosen.paper)))
    _say(f"{record.site_title}: {record.state_line}")
    return _ended((), chosen.units, record.findings)


def _design(chosen):
    from helpers.record.design import Design

    return Design(read_site(chosen.file), rule=chosen.rule, set_point=chosen.set_point, units=chosen.units)


def _sheets(chosen):
    from helpers.pages.printed import day_sheets

    day, design = _day_of(chosen), _design(chosen)
    return _written(*day_sheets(design, _targets(chosen, design.site.name, *SHEETS), chosen.paper, day)) or SOUND


def _day_of(chosen):
    """The weather of the day as it was typed; which options are missing is told by their names."""
    from helpers.studies.commissioning.fields import TEMPERATURES, Day

    typed = {name: getattr(chosen, name) for name in DAY_EXAMPLES}
    missing = [OPTIONS[name] for name in TEMPERATURES if typed[name] is None]
    if missing and any(value is not None for value in typed.values()):
        Day.of_texts({name: DAY_EXAMPLES[name] if text is None else text for name, text in typed.items()})  # what is typed wrongly first
        raise ValueError(f"the weather of the day must be stated with all its temperatures; still to state: {', '.join(missing)}")
    return Day.of_texts(typed)


def _testday(chosen):
    from helpers.record.sections.signed import before_the_loop
    from helpers.studies.commissioning.injection import STEP_PARTS

    design = _design(chosen)
    wires = [row for row in design.injection.rows if row.part == STEP_PARTS[0]]
    if (chosen.filled or chosen.day) and any(getattr(chosen, name) is not None for name in DAY_EXAMPLES):
        raise ValueError("the weather of the day must stand in the filled file, not on the command line, where --filled or --from is given")
    return (_brought_back if chosen.filled else _taken_along)(chosen, design, {"wires": wires, "first": before_the_loop(design)})


def _taken_along(chosen, design, laid):
    """Procedure and sheets of a day, expected for the weather found; with --from filled in from its file."""
    from helpers.model.test_day import read_test_day
    from helpers.pages.measured.fitted import doubted_said, fitted_beside
    from helpers.pages.printed import procedure_page
    from helpers.studies.commissioning.crew.book import write_book
    from helpers.studies.commissioning.crew.day import day_as_filled, weather_of
    from helpers.studies.commissioning.crew.procedure import fails_said, procedure
    from helpers.studies.commissioning.crew.rounds import crew_rounds

    read = None if chosen.day is None else read_test_day(named_path(chosen.day), date.today())
    day, name = (_day_of(chosen), design.site.name) if read is None else (weather_of(read), f"{design.site.name} {read.date}")
    steps = procedure(crew_rounds(design.site, design.weather, day, design.out_of_mode), **laid)
    filled, left = ({}, ()) if read is None else day_as_filled(steps.rounds, read)
    *pages, sheets = _targets(chosen, name, "procedure.html", "procedure.pdf", "test_day.xlsx")
    beside = (*doubted_said(design.site), *fitted_beside(design.site, chosen.file, chosen.out, chosen.day))
    first = [*beside, *([fails_said(len(fails), "listed at the end of the procedure")] if (fails := design.fails()) else [])]
    _written(write_book(steps, sheets, chosen.units, chosen.paper, filled, first))
    _write_pages(procedure_page(steps, chosen.units, fails, beside), pages, chosen.paper)
    _each((*beside, *(f"ask before anything is done with it: {one}" for one in day.doubts(design.site))), chosen.units)
    _say(written_out(steps.crew_lines()[-1], chosen.units))
    return max(_ended([f"no place in the sheets: {one}" for one in left], chosen.units), TO_ACT * bool(beside))


def _brought_back(chosen, design, laid):
    """Filled sheets as the day's file, the report, and all of them in one book."""
    from helpers.pages.printed import day_report_page
    from helpers.studies.commissioning.crew.book import write_book, write_report
    from helpers.studies.commissioning.crew.day import read_day
    from helpers.studies.commissioning.crew.report import day_report

    found = read_day(design.site, chosen.filled, design.weather, out_of_mode=design.out_of_mode, **laid)
    if not found.filled.readings:
        _each(found.filled.mistakes, chosen.units)
        raise ValueError("nothing could be read of the filled sheets; nothing is written")
    name = f"{design.site.name} {found.date}".strip()
    day, *pages, sheet, together = _targets(chosen, name, "day.toml", "report.html", "report.pdf", "report.xlsx", "filled.xlsx")
    if found.test_day is not None:
        _written(write_whole(day, found.day_file()))
    _written(write_book(found.procedure, together, chosen.units, chosen.paper, found.filled.values()))
    _write_pages(day_report_page(found, chosen.units), pages, chosen.paper)
    _written(write_report(found, sheet, chosen.units, chosen.paper))
    _each((*found.filled.together, *found.unread, *(f"conflict: {one}" for one in found.filled.conflicts)), chosen.units)
    _say(written_out((said := day_report(found)).verdict[1], chosen.units))
    act = said.to_act or found.filled.conflicts or found.hardly or design.site.leakage.doubted
    return max(_ended(found.not_used, chosen.units), TO_ACT * bool(act))


def _fit(chosen):
    from helpers.model.test_day import read_test_day
    from helpers.pages.measured.fitted import proved_page
    from helpers.studies.measured.fitted import fit_building
    from helpers.studies.measured.forecast import forecast
    from helpers.studies.measured.readings import readings_of
    from helpers.studies.measured.remarks import fit_remarks
    from helpers.studies.measured.told import first_lines, fitted_file, state_of

    site, day = read_site(chosen.file), read_test_day(chosen.day, date.today())
    fitted = fit_building(readings_of(site, day))
    *pages, file = _targets(chosen, f"{site.name} {day.date}", "proved.html", "proved.pdf", "fitted.toml")
    _each(fit_remarks(fitted), chosen.units)
    _progress("the design's weathers")
    found = forecast(fitted)
    _write_pages(proved_page(fitted, found, chosen.units), pages, chosen.paper)
    _written(write_whole(file, fitted_file(fitted)))
    _told(first_lines(found), chosen.units)
    return max(_ended(fitted.not_used, chosen.units), TO_ACT * (not fitted.believed or state_of(found) == "wrong"))


def _years(chosen):
    from helpers.pages.measured.years import years_page
    from helpers.studies.measured.years.folder import read_years
    from helpers.studies.measured.years.told import in_short, years_told

    years = read_years(read_site(chosen.file), *map(named_path, chosen.folders), today=date.today())
    _write_pages(years_page(years, chosen.units), _targets(chosen, years.site.name, "years.html", "years.pdf"), chosen.paper)
    _each(years.notes, chosen.units)
    _say(written_out(in_short(years), chosen.units))
    return _ended([f"left out: {shown_name(file)}: {why}" for file, why in years.left_out], chosen.units, years_told(years).findings)


def _papers(chosen):
    from helpers.record.papers.job import write_papers

    how = {"force": chosen.force, "resume": chosen.resume, "answers": chosen.answers, "cluster": chosen.cluster}
    choices = {"rule": chosen.rule, "set_point": chosen.set_point, "units": chosen.units, "paper_size": chosen.paper}
    written, drafts, refused = write_papers([chosen.file, *chosen.others], named_path(chosen.out), _say, _progress, **how, **choices)
    return REFUSED if not written else TO_ACT if refused or drafts else SOUND


def _placement(chosen):
    from helpers.model.plants.kinds import read_any_site
    from helpers.record.placed import placements

    choices = {"rule": chosen.rule, "set_point": chosen.set_point, "units": chosen.units}
    done = list(placements([chosen.file, *chosen.others], read_any_site, chosen.cluster, _progress, **choices))
    for file, found, why in done:
        if found is None:
            _progress(written_out(f"not ranked: {shown_name(file)}: {why}", chosen.units))
            continue
        _say("\n".join(found.lines))
        _written(write_whole(*_targets(chosen, found.name, "placement.csv"), found.csv()))
    ranked = [found for _, found, _ in done if found is not None]
    return REFUSED if not ranked else TO_ACT if len(ranked) < len(done) or any(found.fails for found in ranked) else SOUND


def _differences(chosen):
    from helpers.record.settings.differences import DANGEROUS, differences, held_list
    from helpers.record.settings.pages import differences_page, write_blank_list, write_differences_sheet

    design = _design(chosen)
    if chosen.list is None:
        return _written(write_blank_list(design, *_targets(chosen, design.site.file_title, "as_entered.xlsx"), chosen.paper)) or SOUND
    entered = held_list(named_path(chosen.list))
    targets = _targets(chosen, design.site.file_title, "differences.html", "differences.pdf", "differences.xlsx")
    _progress(f"{entered.name} against the record of {design.site.name}")
    found = written_out(differences(design, entered), chosen.units)
    _written(write_differences_sheet(found, targets[2], chosen.paper))
    _write_pages(differences_page(found), targets[:2], chosen.paper)
    _say(found.verdict())
    return max(_ended(found.not_read, chosen.units), TO_ACT * bool(found.count(DANGEROUS)))


def _trends(chosen):
    from helpers.pages.measured.trend_files import log_told

    lines, _, act, unused = log_told(named_path(chosen.file), None if chosen.site is None else read_site(chosen.site))
    return max(_told(lines, chosen.units), _ended(unused, chosen.units), TO_ACT * act)


def _concepts(chosen):
    from helpers.pages.concept import concepts_told

    return _told(concepts_told(read_site(chosen.file)), chosen.units)


def _told(lines, system):
    _say("\n".join(map(str, written_out(list(lines), system))))
    return SOUND


def _ended(not_used, system, findings=()):
    """The status of what was done; what of the given was not used is named, a line each; findings: of which a FAIL is to be acted on."""
    _each([f"not used: {sentence}" for sentence in not_used], system)
    return TO_ACT if not_used or any(one.severity == "wrong" for one in findings) else SOUND


def _review(chosen):
    from helpers.model.plants.kinds import read_any_strategy
    from helpers.pages.printed import review_page
    from helpers.pages.review import site_of, with_choices
    from helpers.record.review.study import review

    strategy = with_choices(read_any_strategy(chosen.file), chosen.rule, chosen.set_point)
    site = site_of(strategy, chosen.file)
    targets = _targets(chosen, strategy.name, "review.html", "review.pdf")
    _progress(f"{strategy.name}, on {site.name}")
    _write_pages(review_page(found := review(strategy, site, chosen.units)), targets, chosen.paper)
    _say(found.verdict())
    return _ended((), chosen.units, found.findings)


def _targets(chosen, name, *endings):
    """Paths of what will be written, in the folder asked for. Raises ValueError where one is there already and may not be written over."""
    folder = named_path(chosen.out)
    paths = [folder / f"{safe_name(name).lower()}_{ending}" for ending in endings]
    there = [path for path in paths if os.path.lexists(path)]
    if there and not chosen.force:
        raise ValueError(f"{shown_name(there[0], whole=True)} is there already; --force writes over it, --out names another folder")
    folder.mkdir(parents=True, exist_ok=True)
    return paths


def _write_pages(page, targets, paper, meanwhile=lambda: None):
    """A page as HTML and as PDF, to print by hand where nothing can; meanwhile: what is done while a browser, its own process, prints."""
    from helpers.plots.printer import PrintingError, write_page

    html, pdf = targets
    _written(write_page(page, html))
    _progress("printing")
    with ThreadPoolExecutor(1) as beside:
        printed = beside.submit(write_page, page, pdf, paper)
        meanwhile()
    try:
        _written(printed.result())
    except PrintingError as trouble:
        _progress(str(trouble))


def _written(*paths):
    _say("\n".join(shown_name(path, whole=True) for path in paths))


def _say(words, file=None):
    """Print words, line by line without signs that would move a terminal; file: None for stdout."""
    print("\n".join(map(printable, str(words).split("\n"))), file=file, flush=True)


def _progress(words):
    _say(words, sys.stderr)


def _each(sentences, system):
    for sentence in sentences:
        _progress(written_out(sentence, system))


def _refused(sentence, status=REFUSED):
    _progress(sentence if sentence.endswith(".") else f"{sentence}.")
    return status


WORKS = {
    "record": _record, "sheets": _sheets, "review": _review, "testday": _testday, "fit": _fit, "years": _years,
    "papers": _papers, "placement": _placement, "differences": _differences, "concepts": _concepts, "trends": _trends, "check": _check,
}  # fmt: skip

if __name__ == "__main__":
    sys.exit(main())
