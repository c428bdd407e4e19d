"""What the study of all weathers and the remedies say on lesson 08's page: a row for each thing found, a column for each tuning.

Figures of the tables that were found with a ramp that is not followed bear no mark here: the sentence that says so stands once, over all
of them. The findings in full, folded away, keep theirs.
"""

import math
from dataclasses import replace

import numpy as np

from helpers.plots.headline import headline_html
from helpers.plots.markup import Verdict, findings_html, folded, html_table, lines_html, paragraphs_html
from helpers.studies.report import Table, apart, listed
from helpers.studies.status import word_of, worst_of
from helpers.studies.tuning.box import ASKED
from helpers.studies.tuning.candidate import NO_TIME, keeps_text, margin_text, numbers_text, peak_text
from helpers.studies.tuning.door_tests import LENGTH_S, OPENS_S, SHUTS_S
from helpers.studies.tuning.findings import least_bad_of
from helpers.studies.tuning.ramps_offered import alike_behind, nearness_behind, pair_behind, ramps_borne_s
from helpers.studies.tuning.study import NOMINAL, PROPOSED
from helpers.studies.tuning.times_said import MARK, bare, head_said, past_text, seconds_text, short_limit_s
from helpers.units.said import two, with_unit

FOUND = ("What", "Found")
NAMES = {PROPOSED: "the calm pair", NOMINAL: "SIMC nominal"}  # of the tunings, as the page has them
TOLD_ELSEWHERE = ("Ramp", "Ramp alone")  # over the tables, and under what helps
NAMED = {"Recovery": "Recovery, slowest weather"}
MORE = "More, may be skipped: every step test, and what a filter costs"
WHERE = (
    "More, may be skipped: where the fixed speeds go wrong. The damper's blade is tried as set, open early (below its setting) and lifting "
    "late (only above it); its outlet in the wind (to windward) and in the lee (to leeward)"
)


def _ask(study):
    """Whom to ask of a `TuningStudy` that is no PASS, what stays as it is, and a ramp to report, in a sentence."""
    steep = f"; the ramp, {study.ramp_s:g} s, is too steep: report it today" if study.not_followed else ""
    return f"Ask: the designer, page 12; leave gain and integral time as entered{steep}"


def doors_verdict(study):
    """`Verdict` of another door's force and pressure after a door has moved, with the tuning that is in the building, and beside it the
    force with the fastest calm one, where there is one."""
    own, calm = study.own.worst_doors, study.recommended.worst_doors if study.recommended else None
    doors = own or calm
    kind = worst_of(("good" if doors.light else "wrong", doors.short_state))
    whose = "the site's own tuning" if own else "the fastest calm pair"
    if own and calm and not calm.light:
        whose += f" (the calm pair: {with_unit(calm.peak_force_n, 'force')} for {past_text(calm.above_limit_s)})"
    if doors.light:
        head = "No door is too heavy when the door shuts"
    else:
        peak, limit = apart((doors.peak_force_n, study.force_limit_n), "force", "most")
        head = f"{doors.peak_at.partition(', ')[0].capitalize()}: {peak}, max. {limit}, for {past_text(doors.above_limit_s)}"
    short = f"a shut door short for {past_text(doors.short_s)}, max. {short_limit_s(doors.response_s):g} s"
    when = study.bench.warmth_said(doors.peak_at.partition(", ")[2]) if doors.peak_at else "the worst weather"
    case = f"{when}, largest lags; {whose}{'' if math.isnan(doors.short_s) else f'; {short}'}"
    return Verdict(kind, f"{head}; {case}.", head, case=case, do="" if kind == "good" else _ask(study))


def remedies_verdict(study):
    """`Verdict` of what helps: whether anything of what was tried is enough by itself."""
    works = [one for one in study.remedies if one.works]
    kind = worst_of(one.status for one in works) if works else "wrong"
    head = f"Enough by itself: {listed(one.name for one in works)}" if works else "Nothing that was tried is enough by itself"
    case, best = "lighter closers were not tried here: page 06", least_bad_of(study.remedies)
    if not works and best is not None and best.doors.above_limit_s and math.isfinite(best.doors.peak_force_n):
        peak, limit = apart((best.doors.peak_force_n, study.force_limit_n), "force", "most")
        head = f"Nothing tried is enough; {best.doors.peak_at.partition(', ')[0]}: {peak}, max. {limit}"
        case = f"least bad, {best.name.partition(' (')[0]}; {case}"
    return Verdict(kind, f"{head}; {case}.", head, case=case, do="" if kind == "good" else _ask(study))


def ramp_held(study):
    """Names of the tunings whose times and forces hold behind ramps that are followed as well, where those entered are not."""
    ramps = _followed_s(study)
    return alike_behind(study, *ramps) if ramps else ()


def ramp_line(study, held):
    """That the figures below were found with a ramp that is not followed, once, and those of which tunings hold all the same, of
    `ramp_held`; "" where it is followed."""
    if not study.not_followed:
        return ""
    if not held:
        return f"{word_of('wrong')}: {head_said(study.not_followed)}."
    up_s, down_s = _followed_s(study)
    every = (study.own, *study.candidates)
    names = listed(NAMES.get(name, name) for name in held)
    others = listed(NAMES.get(one.name, one.name) for one in every if one.name not in held)
    left = f" Those of {others} are not so: believe none of them." if others else ""
    return (
        f"{word_of('wrong')}, {MARK}: the ramp entered, {study.ramp_s:g} s, is steeper than motor and brake can follow, and times and "
        f"forces after a door are worked out with it. Those of {names} are true all the same: {up_s:g} s up and {down_s:g} s down, which "
        f"are followed, give the same; only the margins change.{left}"
    )


def _followed_s(study):
    """(ramp up, ramp down) [s] that are followed, where those entered are not; None where they are, or no length is."""
    ramps = ramps_borne_s(study.bench.loop_site, study.ramp_down) if study.not_followed else (np.nan, np.nan)
    return ramps if np.isfinite(ramps).all() else None


def pair_told(study, lacks=False):
    """The calm pair behind ramps that are followed, where those entered are not, with a blank before it; lacks: with what the pair of the
    ramps entered does not keep there. "" where the ramps entered are followed, or no length is."""
    ramps = _followed_s(study)
    if ramps is None:
        return ""
    pair, left = pair_behind(study, *ramps)
    behind = (
        f" This pair is for the ramp as entered, {study.ramp_s:g} s, which motor and brake cannot follow: for {ramps[0]:g} s up and "
        f"{ramps[1]:g} s down, which are followed,"
    )
    if pair is None:
        return f"{behind} nothing stays calm."
    then = (
        f"; the one of {study.ramp_s:g} s then fails: {listed(one.removesuffix(' is asked for') for one in left)}" if lacks and left else ""
    )
    return f"{behind} it is {numbers_text(pair)}{then}."


def simc_told(study):
    """What SIMC asks for in the nominal loop, what it keeps there, and what of it is left with the lags one by one."""
    asks, box = study.nominal, study.box
    kept = f"does not keep what is asked: {listed(left)}" if (left := asks.nominal.lacks(box.asked)) else "keeps what is asked"
    (_, keeps, swings), *more = asks.borne
    later = [f"with {two(lag)} s more lag from {two(from_s)} s on" for lag, _, from_s in more if math.isfinite(from_s)]
    swing = ", ".join([f"; it swings from a delay of {two(swings)} s on", *later]) if math.isfinite(swings) else ""
    return (
        f"SIMC nominal would ask for {numbers_text(asks)}. In the nominal loop, one lag and one delay, it {kept}. With the stated lags one "
        f"by one and {two(box.ramp_delay_s)} s for the ramp it {keeps_text(keeps)}{swing}."
    )


def study_told(study, first, lead, ramp):
    """(HTML, plain text) of a `TuningStudy`. first: what comes before its tuning may be entered, "" for nothing; lead: where the page
    without a set point sends its reader; ramp: of `ramp_line`."""
    rows = [(NAMED.get(label, label), bare(words)) for label, words in study.told(first) if label not in TOLD_ELSEWHERE]
    contacts = next((one for one in study.remedies if one.name.startswith("door contacts") and one.doors), None)
    here = {"Margins": lambda _: _kept_said(study), "Tuning": lambda words: f"{words}{pair_told(study)}",
            "Door contacts": lambda _: _contacts_said(contacts)}  # fmt: skip
    rows = [(label, here[label](words) if label in here else words) for label, words in rows]
    if lead:
        rows.insert(1, ("What to do then", f"{lead} {_until_then(study)}"))
    found = Table("found", "What was found", FOUND, tuple(rows))
    loops = (_loops(study),) if study.recommended else ()
    lead, tables = filter(None, [ramp]), (found, *loops, by_tuning(study.candidate_table()))
    return _page(doors_verdict(study), lead, tables, more=(study.step_table(), study.filter_table()))


def _kept_said(study):
    loops = f"all {len(study.box.corners)} loops made from the ranges of the next table"
    asked = study.box.asked
    return (
        f"The calm pair keeps a peak sensitivity of at most {asked.peak_sensitivity:g}, a gain margin of at least {asked.gain_margin:g} "
        f"and a phase margin of at least {asked.phase_margin_deg:g}° in {loops}: limits of ours."
    )


def _until_then(study):
    """What is done with the site's own tuning and ramp before others may be entered, and why they stay."""
    own, ramps = study.own, _followed_s(study)
    ramp = ""
    if ramps:
        then = nearness_behind(study, own, *ramps)
        peak = f"peak sensitivity {peak_text(then)}" if then.stable else "no rest: it swings"
        ramp = (
            f" The ramp, {study.ramp_s:g} s, is too steep: report it today. "
            f"Behind {ramps[0]:g} s up and {ramps[1]:g} s down the site's own keeps gain margin {margin_text(then)} at "
            f"worst, {peak} ({peak_text(own.worst)} behind {study.ramp_s:g} s)."
        )
    margins = f"gain margin {margin_text(own.nominal)} in the nominal loop, {margin_text(own)} at worst, {ASKED.gain_margin:g} asked"
    return (
        f"Until then leave the tuning that the site file has for the drive, {numbers_text(own)} ({margins}), and write it down: any "
        "change of an approved system needs the authority's approval first and a test afterwards, and one made now would have to be made "
        f"again.{ramp} If it swings, see Cautions."
    )


def _contacts_said(contacts):
    ways = " and ".join(map(seconds_text, (contacts.doors.opens_s, contacts.doors.shuts_s)))
    return (
        f"A contact at that door that sends the drive there (feed-forward) makes it {ways}; no margin is lost for it. "
        f"{word_of(contacts.status)}: see What helps, also for one that sticks."
    )


def _loops(study):
    """What the loops of the box differ in, a row each."""
    box, own = study.box, f"{study.own_filter_s:g} s, as stated"
    (lag, more), (dead, most), air = box.extra_lag_s, box.dead_time_s, box.air
    rows = (
        ("lag beside the stated one", f"{lag:g} s", f"{two(more)} s"),
        ("delay", f"{two(dead)} s", f"{two(most)} s"),
        ("delay by the drive's ramp, on top", f"{two(box.ramp_delay_s)} s", "always the same"),
        ("filter", own, "turned back to zero"),
        ("damping at the dial", f"{box.damping_s:g} s, as stated", "turned back to zero"),
        ("air of shaft and storeys", "at once", f"fills in {two(air.shaft_s)} s and {two(air.floors_s)} s; until then the reading is "
         f"{100 * air.overshoot:.0f} % too high"),
    )  # fmt: skip
    there = (True, True, True, study.own_filter_s > 0, box.damping_s > 0, bool(air.floors_s))
    shown = tuple(row for row, kept in zip(rows, there, strict=True) if kept)
    return Table("loops", "What the loops differ in", ("What", "From", "To"), shown)


def by_tuning(table):
    """The table of the tunings tried turned round: a column for each, its state in the first row."""
    names, *columns = zip(*table.rows, strict=True)
    names = tuple(NAMES.get(name, name) for name in names)
    verdicts = ("Verdict", *map(word_of, table.states))
    rows = (verdicts, *((head, *map(bare, cells)) for head, cells in zip(table.columns[1:], columns, strict=True)))
    told = table.note[table.note.index("Margins:") :]  # before it stands the ramp, which the page has told over all tables
    held = f"The door stands open for {SHUTS_S - OPENS_S:g} s, and is then shut for {LENGTH_S - SHUTS_S:g} s."
    creeps = "In the far corner a calm loop may recover a little sooner: it creeps, and more lag brings it nearer to swinging."
    swings = f'A loop that still swings has no time of recovery: "{NO_TIME}".'
    return Table(table.key, table.title, ("", *names), rows, note=f"{held} {creeps} {swings}\n{told}")


def remedies_told(study, enough, first, held):
    """(HTML, plain text) of what helps where a tuning alone does not. enough: what of it is, in words; first: as in `study_told`;
    held: of `ramp_held`. A ramp that is not followed is told in full over the study's tables, and here referred to."""
    least_bad = least_bad_of(study.remedies)
    rows = tuple(_remedy_row(one, " (least bad)" if one is least_bad else "") for one in study.remedies)
    columns = ("Measure", "Tried", "Recovers, opening and closing", "Highest force in the door test, and time past the limit",
               "A shut door short", "At rest without a loop, or where it sticks")  # fmt: skip
    table = Table("remedies", "What helps", columns, rows, tuple(one.status for one in study.remedies), bare(study.remedy_table().note))
    where = [f"{one.name}: {one.air.text()}" for one in study.remedies if one.air is not None]
    findings = tuple(_tags_off(one, study, held) for one in study.findings(first))
    rows = tuple((one.what, bare(one.figure)) for one in findings)
    states = tuple(one.severity for one in findings)
    brief = Table("findings", "What is wrong, and what is not", ("Finding", "What was found"), rows, states)
    ramp = f'{word_of("wrong")}: {MARK}, here too: see the line over "What was found".' if study.not_followed else ""
    return _page(
        remedies_verdict(study),
        filter(None, [f"Of all that was tried, enough by itself: {enough}.", ramp]),
        (table, brief),
        findings,
        where,
    )


def _tags_off(finding, study, held):
    """A finding whose figures are those of tunings that hold behind a ramp that is followed, without the mark; what the ramp alone or a
    remedy comes to keeps it."""
    if not study.recommended or not {study.own.name, study.recommended.name} <= set(held) or "ramp alone" in finding.figure:
        return finding
    remedy = bare(finding.remedy) if numbers_text(study.recommended) in finding.remedy else finding.remedy
    return replace(finding, figure=bare(finding.figure), remedy=remedy)


def _remedy_row(one, beside):
    """A remedy's cells; beside: what is said beside its name."""
    if one.doors is None:
        return (one.name, one.how(), one.figure(), "", "", "")
    doors, air = one.doors, one.air
    heavy = (
        ""
        if math.isnan(doors.peak_force_n)
        else f"{with_unit(doors.peak_force_n, 'force')} ({doors.peak_at}), {past_text(doors.above_limit_s)}"
    )
    rest = ""
    if air is not None and math.isfinite(air.room_pa):
        past = "" if air.holds else f"; past a limit by {with_unit(-air.room_pa, 'pressure')}"
        force = "" if air.most_n is None else f", {with_unit(air.most_n, 'force')}"
        rest = (
            f"{with_unit(air.least_pa, 'pressure')} ({air.least_at}) to {with_unit(air.most_pa, 'pressure')}{force} ({air.most_at}){past}"
        )
    rest = "; ".join(filter(None, (rest, bare(one.stuck[0]))))
    return (
        f"{one.name}{beside}",
        one.how(),
        f"{seconds_text(doors.opens_s)}, {seconds_text(doors.shuts_s)}",
        heavy,
        past_text(doors.short_s),
        rest,
    )


def _page(verdict, lines, tables, findings=(), where=(), more=()):
    """(HTML, plain text), the verdict first. more: tables to look things up in, folded away."""
    lines = list(lines)
    parts, texts = (
        [headline_html(verdict), paragraphs_html(lines), *map(_table_html, tables)],
        [f"{word_of(verdict.kind)}: {verdict.words} {verdict.do}".strip(), *lines],
    )
    if more:
        parts.append(folded(MORE, "".join(map(_table_html, more))))
    for table in (*tables, *more):
        texts += [table.title, *(" | ".join(row) for row in table.rows), table.note]
    if where:
        parts.append(folded(WHERE, lines_html(where)))
        texts += [WHERE, *where]
    if findings:
        parts.append(folded("Why, what would change it, and the source of each", findings_html(findings)))
    return "".join(parts), "\n".join(filter(None, texts))


def _table_html(table):
    return html_table(table.columns, table.rows, table.states, table.title) + paragraphs_html(table.note.splitlines())
