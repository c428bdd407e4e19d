"""The sections one signs for: what was chosen against what, at which price; what to enter; where the figures come from."""

import hashlib
from dataclasses import replace

import numpy as np

from helpers import __version__, units
from helpers.formulas.action import gain_for_new_span
from helpers.model.site.criteria import criteria_for
from helpers.model.site.file import write_site
from helpers.record.sections.time import station_said
from helpers.record.settings.schedule import FAIL, schedule_table, settings_schedule
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT, TUNING
from helpers.studies.duty.change_over.told import LINES as CHANGE_OVER
from helpers.studies.placement.results import percent
from helpers.studies.report import SITE_FILE, Section, Table, Value, apart, fine, listed
from helpers.studies.tuning.candidate import numbers_text
from helpers.units.said import three, with_unit

FIRST = "first"  # group of the lines of the schedule that say what fails
MOST_PLACES = 4  # rejected pairs of storeys named
PRICE = "Price of the rejected one"


def site_hash(site):
    """SHA-256 of a site written out: two sites with the same hash have the same figures, whatever their files' notes say."""
    return hashlib.sha256(write_site(site).encode("utf-8")).hexdigest()


def choices_section(design):
    """Every choice with the alternatives that were rejected, and what each would have cost."""
    rows = (*_rules(design), *_ranges(design), *_places(design), *_actions(design), *_tunings(design))
    table = Table("choices", "Choices and what was rejected", ("Choice", "Chosen", "Rejected", PRICE), rows)
    kept = len({row[0] for row in rows})
    verdict = f"{kept} choices; {len(rows)} alternatives were computed and rejected, each with its price beside it."
    return Section("choices", "Choices, and what was rejected", verdict, tables=(table,))


def settings_section(design):
    """What to enter, in trade terms."""
    tuned, table = _study(lambda: design.tuning.recommended), schedule_table(design_schedule(design))
    verdict = f"{len(table.rows)} lines to enter, read back and prove. The last column is blank for the name that the device gives each."
    first = design.standing.first(SET_POINT, ACTION, FAN)
    if first:
        verdict = f"Nothing to enter yet: {first}. What hangs on it is blank; the rest may be read off and prepared."
    table = replace(table, rows=(*((FIRST, "what fails", fail, "see its finding", "") for fail in design.fails()), *table.rows))
    notes = (table.note, *_untuned(design), *_other_range(design, tuned, design.standing.first(SET_POINT, ACTION, FAN, RAMP)))
    return Section("settings", "Settings schedule", verdict, tables=(table,), notes=notes)


def design_schedule(design):
    """The `Setting`s of a design, each as the judge lets it stand."""
    tuned, fallback, full = (_study(ask) for ask in (lambda: design.tuning.recommended, lambda: design.fallback, lambda: design.duty.full))
    digest = site_hash(design.site)[:16]
    lines = settings_schedule(design.built, tuned, fallback=fallback, full=full, standing=design.standing, digest=digest)
    return lines if design.built.second_fan is None else _change_over_judged(lines, design.section("tuning").findings)


def _change_over_judged(lines, findings):
    """The lines with FAIL on those of a change-over that was played with the loop and is past a limit. Left out, a lost fan would be no air
    at all: such a line is mended, and what follows from it is still worked out."""
    fails = [one for one in findings if one.severity == "wrong" and any(place in CHANGE_OVER for place in one.settings)]
    told = {place: "; ".join(f"{one.what}: {one.figure}" for one in fails if place in one.settings) for place in CHANGE_OVER}
    return tuple(
        replace(line, value=f"{FAIL}: {line.value}", why=f"{against}; {line.why}")
        if (against := told.get((line.group, line.name), "")) and FAIL not in line.value
        else line
        for line in lines
    )


def before_the_loop(design):
    """What has to be settled before a loop is run on a test day, in words; "" for nothing: what of set point, action, fan, ramps and tuning
    is not laid down. The highest speed is no part of it: the day has a ceiling of its own. Of a fit that is not believed there is no loop
    to run."""
    if design.site.leakage.doubted:
        return "a fit of its building that can be believed"
    if not design.standing.window.feasible:
        return "doors that some pressure suits"
    return design.standing.first(SET_POINT, ACTION, FAN, RAMP, TUNING).partition("first ")[2]


def _untuned(design):
    """That gain and integral time are the site file's, and not recommended."""
    study = _study(lambda: design.tuning)
    if study is None or study.recommended is None:
        why = "the tuning study has no answer here" if study is None else study.why_none
        yield f"Gain and integral time are not laid down, those of the site file are not recommended: {why}"


def _other_range(design, tuned, first):
    """That all of the schedule is for the range chosen, and which gain the file's own range would need."""
    stated, chosen = design.range.stated, design.range.chosen
    other = design.other_range()
    if other:
        gain = (design.built.control if tuned is None else tuned).gain
        own = float(gain_for_new_span(gain, chosen.span_pa, stated.span_pa))
        gains = "" if first or tuned is None else f", and the gain {three(own)} %/% in place of {three(gain)} %/%"
        yield (
            f"All lines are for the range chosen, {chosen.text()}. {other[0].upper()}{other[1:]}: with "
            f"transmitters of {stated.text()} the displays' ends would be others{gains}. Read the plate first."
        )


def provenance_section(design):
    """Where the figures come from: the site file, its hash, the software, the editions of tables."""
    site = design.site
    digest = site_hash(site)
    # the standard by its title, and whether it is in force
    criteria = criteria_for(site)
    figures = (
        _word("Site", site.title, "invented, for teaching" if site.invented else "stated by its file", SITE_FILE),
        _word("Hash of the site's figures", digest[:16], "SHA-256 of the site written out; the same figures give the same hash", SITE_FILE),
        _word("Workbook", __version__, "version of the helpers package", "this workbook"),
        _word("Criteria", f"{criteria.title}; {criteria.standing}", "what the site is judged by", SITE_FILE),
        _word("Leakage table", site.leakage.edition, "edition of the wall leakage ratios", SITE_FILE),
        _word("Water column", units.WATER_COLUMN, "on which in. w.c. stands", "NIST SP 811 (2008)"),
    )
    verdict = f"Figures of {site.title}, hash {digest[:16]}, computed by version {__version__}. Another hash is another building."
    return Section("provenance", "Where the figures come from", verdict, figures, notes=(station_said(design),))


def _word(label, text, reason, source):
    """A figure that is a word."""
    return Value(label, None, text, reason, source)


def _rules(design):
    """Other rules at the same set point."""
    own = design.own
    chosen = f"{own.rule} reading at {with_unit(design.site.control.set_point_pa, 'pressure')}"
    for result in design.rules.results:
        if result.rule != own.rule:
            yield "rule", chosen, f"{result.rule} reading, same set point", _rule_price(result, own)


def _rule_price(result, own):
    bad = [place for place, good in enumerate(result.good) if not good and result.cases[place].shut]
    if bad:
        return f"{result.cases[bad[0]].name}: {result.case_text(bad[0])}"
    room, own_room = (fine(_room(one)) for one in (result, own))
    return f"works too; {room} of room against {own_room}"


def _room(result):
    shut = [place for place, case in enumerate(result.cases) if case.shut]
    return float(np.min(result.margin_pa[shut]))


def _ranges(design):
    """Other transmitter ranges."""
    advice = design.range
    for choice in advice.choices:
        if choice != advice.chosen:
            against = advice.against(choice)
            one, other = apart((choice.accuracy_pa, advice.chosen.accuracy_pa), "pressure", "most", (1, 3))
            price = against or (f"accuracy ±{one} against ±{other}" if one != other else f"suits as well; accuracy ±{one}, too")
            yield "range", advice.chosen.text(), choice.text(), price


def _places(design):
    """The best places and rules that were not taken, and the site's own share."""
    placement = _study(lambda: design.placement)
    if placement is None or placement.question.own not in placement.choices:
        return
    own, share = placement.number_of(placement.question.own), placement.share
    order = [place for place in np.argsort(-share, kind="stable") if place != own][:MOST_PLACES]
    for place in order:
        gained, lost = placement.against(placement.choices[place], placement.choices[own])
        shares = f"{percent(share[place])} against {percent(share[own])} of {placement.judged} sampled conditions"
        price = f"{shares}: in where the chosen one is out in {gained}, out where it is in in {lost}"
        yield "places", placement.choices[own].text(), placement.choices[place].text(), price


def _actions(design):
    if design.acting.action is not None:
        other = {"reverse": "direct", "direct": "reverse"}[design.acting.action]
        yield "action", design.acting.action, other, "the loop runs away to an end stop"


def _tunings(design):
    tuning = _study(lambda: design.tuning)
    if tuning is None or tuning.recommended is None:
        return
    first = design.standing.first(SET_POINT, ACTION, FAN, RAMP)
    chosen = f"{numbers_text(tuning.recommended)}{f' (not to be entered, {first})' if first else ''}"
    for tried in (tuning.own, *tuning.candidates):
        if tried is not tuning.recommended:
            back = f"{tried.doors.back_said()} after a door"
            safe = "" if tried.safe else f"; not safe over the box: {listed(tried.against)}"
            yield "tuning", chosen, f"{tried.name}: {numbers_text(tried)}", f"{back}{safe}"


def _study(ask):
    """What a study gives, None where it cannot be made for this site; its own section says why."""
    try:
        return ask()
    except ValueError:
        return None
