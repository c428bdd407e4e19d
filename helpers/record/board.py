"""The record in one screen: what to buy, set and check, a short line each; every one passes the judge, `Standing`.

The lines are those of the settings schedule and of the fan's duty, cut to their value; the reasons stand in the sections.
"""

import re
from dataclasses import replace

import numpy as np

from helpers.record.damper import damper_state, one_damper, stuck_findings
from helpers.record.sections.signals import transmitters_said
from helpers.record.sections.signed import design_schedule, site_hash
from helpers.record.settings.schedule import FAIL, NOT_STATED
from helpers.record.standing import CHOSEN, FAN, NOT_LAID_DOWN, SET_POINT, STANDARD
from helpers.record.summary import worst_doors
from helpers.studies.commissioning.fields import plan_said
from helpers.studies.commissioning.injection import POINT_PARTS, STEP_PARTS
from helpers.studies.duty.relief_damper import dampers_said, relief_said
from helpers.studies.report import Board, BoardLine, apart
from helpers.studies.signals import unlike_ranges
from helpers.studies.status import DESIGNER, MOST_TO_DO, SEVERITIES, TO_DO, word_of, worst_of
from helpers.units.said import in_each, with_unit

# Lines of the settings schedule that stand under SET, by (group, name), and their short names.
SHOWN = {
    ("combining", "which reading runs the loop"): "Fan follows", ("loop", "set point"): "Set point", ("loop", "action"): "Action",
    ("loop", "gain"): "Gain", ("loop", "integral time"): "Integral time", ("fan", "ramp up"): "Ramp up", ("fan", "ramp down"): "Ramp down",
    ("fan", "highest speed in smoke control"): "Highest speed", ("failure", "on a failed reading"): "Failed reading",
    ("low demand", "low-demand stop"): "Low-demand stop",
}  # fmt: skip
NOT_YET = NOT_LAID_DOWN.strip(" :")
DO, ASK, _ = TO_DO
NOT_YET_ENTERED = "Enter nothing yet. "  # before what is right, or not, at a set point that fails
# Words in view of a section: of a verdict whole clauses, the first always, a first sentence of MOST_SENTENCE whole; of what fails.
MOST_SEEN, MOST_SENTENCE, MOST_FOUND = 20, 32, 28
_ASIDE = re.compile(
    r"(?:Found at a set point that .*?: for information, do not enter\.|Not to be entered, .*? all the same:) (.*)", re.DOTALL
)
_CLAUSE = re.compile(r"(?<=[;:,]) ")
SENTENCE = re.compile(r"(?<!max\.)(?<!min\.)(?<=[.!?]) (?=[A-Z0-9])")  # after "in. w.c." a sentence goes on in small letters
DECIDE = "To decide"  # heads the list under the board
NOT_BOUGHT = "do not buy"  # under BUY, of what the file states and the record fails
_SHORTER = ((" % of full speed by % of a span of ", " %/% of "), (" between standstill and ", ", 0 to "), (" is the file's,", ":"))


def board_of(design):
    """The board of a `Design`, for any system of units."""
    standing, control = design.standing, design.site.control
    mode = "smoke control" if control.fire_mode else "comfort"
    made = f"{control.rule} reading, {with_unit(control.set_point_pa, 'pressure')}, {len(design.cases)} cases"
    suits = standing.window.feasible
    first = standing.first(SET_POINT, FAN) if suits else "no pressure suits the doors of this stair: they have to change first"
    parts = (_buy(design), _set(design), _check(design)) if suits else ((), (), ())
    return Board(design.site.title, f"{mode}; made for: {made}, site file {site_hash(design.site)[:8]}", first, *map(tuple, parts))


def _buy(design):
    duty, standing = design.duty, design.standing
    first = standing.first(STANDARD)
    yield BoardLine("open", "Fan", NOT_YET, duty.said()) if first or not duty.inside else _fan(duty)
    sets = "" if duty.inside and not duty.damper_first else f"first the {'relief damper' if duty.damper_first else 'set point'}"
    yield _motor(duty, first.removeprefix(NOT_LAID_DOWN) or sets)
    # one to be fitted may come before the fan: it stays as it is
    yield from (_with_stated_fan(design, line) if line.status == "good" else line for line in _damper(design))
    first, other = standing.first(SET_POINT), design.other_range()
    bought = "good" if design.range.chosen.good else "wrong"
    if unlike_ranges.unlike(design.site):
        bought, other = unlike_ranges.state(design.range, design.site.transmitters), unlike_ranges.EACH_SCALED
    state = "open" if first else worst_of((bought, "attention" if other else "good"))
    value, _, mends = transmitters_said(design).partition("; ")
    value = f"{value}{f': {NOT_BOUGHT}' * (state == 'wrong')}"
    yield BoardLine(state, "Transmitters", NOT_YET if first else value, "; ".join(filter(None, (other, mends))))


def _fan(duty):
    """The fan as `Duty.said` has it: kept, another, or none yet."""
    needed = duty.needed
    if duty.holds and needed.large_enough:
        kept = ("attention", "Fan", "the one stated: its permissible speed first") if duty.faster else ("good", "Fan", "the one stated")
        return BoardLine(*(("wrong", "Fan", "none to keep or buy yet") if duty.barred else kept), duty.said())
    if not needed.reached[needed.required].all():
        return BoardLine("wrong", "Fan", "no fan of any size", duty.said())
    first = "first the relief damper" if duty.damper_first else f"first {needed.first.partition(':')[0]}" * bool(needed.first)
    asked = (with_unit(needed.flow_m3_s[needed.design], "flow"), with_unit(needed.standard_pa[needed.steepest], "pressure"))
    value = "none yet" if duty.damper_first else " at ".join(asked) if needed.usual else "no usual fan"
    return BoardLine("attention" if duty.holds else "wrong", "Fan", ": ".join(filter(None, (value, first))), duty.said())


def _motor(duty, first=""):
    """The motor as `Duty.motor_said` has it, for the fan stated or for the one to buy; first: what comes before any fan is chosen, so that
    no motor is passed for one that may not be kept ("" for nothing)."""
    if (first or duty.fan_open) and not duty.motor_short:
        return BoardLine("open", "Motor stated", NOT_YET, f"{f'No fan is chosen yet, {first}. ' * bool(first)}{duty.motor_said()}")
    needed, other = duty.needed, duty.another
    plate, asked = duty.motor_power_w, needed.shaft_power_w if other else duty.full_shaft_power_w.max()
    state = "wrong" if asked > plate else "attention" if other else "good"
    takes = f"; the fan {'to buy' if other else 'stated'} takes {with_unit(asked, 'power')}" * bool(
        np.isfinite(asked) and (needed.usual or not other)
    )
    small = f": {NOT_BOUGHT}" * (state == "wrong")
    return BoardLine(state, "Motor stated", f"{with_unit(plate, 'power')}{small}{takes}", duty.motor_said())


def _with_stated_fan(design, line):
    """A line that holds for the fan stated alone: its FAIL stands, and before a fan is chosen nothing better is laid down."""
    if line.status == "wrong" or not (first := design.standing.first(STANDARD, SET_POINT, FAN, CHOSEN)):
        return line
    return BoardLine("open", line.what, NOT_YET, f"{first}; with the fan stated {'; '.join(filter(None, (line.value, line.why)))}")


def _damper(design):
    """The relief damper stated, or what is to be fitted: several in place of one that may stick, or one where none is."""
    reliefs, full, missing = design.site.stair.reliefs, design.duty.full, one_damper(design)
    if missing:
        several = design.failing.several
        holds = several is not None and several.holds
        value = f"{_dampers(several.relief)}, in place of the one stated" if holds else f"the one stated is not enough: {NOT_BOUGHT}"
        yield BoardLine("wrong", "Relief damper", value, missing)
    elif reliefs:
        low, stuck = (one.figure for one in design.duty.damper_first), stuck_findings(design)
        why = (relief_said(*reliefs), *low, full.beside_said(), *(f"{one.figure}, every reading sound" for one in stuck))
        state = damper_state(design)
        stated = f"{_dampers(*reliefs)}{f': {NOT_BOUGHT}' * (state == 'wrong')}"
        yield BoardLine(state, "Relief damper", stated, "; ".join(filter(None, why)))
    elif full.damper is not None and full.damper.holds:
        several = full.several()
        value = _dampers(several.relief) if several is not None and several.holds else "none found of which one may stick"
        yield BoardLine("attention", "Relief damper", f"none fitted; {value}", full.other_cure())


def _dampers(*reliefs):
    """In short; of several storeys each with its storey."""
    where = [f" at storey {relief.level}" * (len(reliefs) > 1) for relief in reliefs]
    opens = [with_unit(relief.opens_pa, "pressure") for relief in reliefs]
    return "; and ".join(f"{dampers_said(one)}{at}, opens at {pressure}" for one, at, pressure in zip(reliefs, where, opens, strict=True))


def _set(design):
    lines = {(line.group, line.name): line for line in design_schedule(design)}
    for key, name in SHOWN.items():
        if key in lines:
            line = lines[key]
            value = NOT_YET if line.value.startswith(NOT_LAID_DOWN) else line.value.removeprefix(f"{FAIL}: ")
            for long, short in _SHORTER:
                value = value.replace(long, short)
            yield BoardLine(state_of(line), name, value.partition("; ")[0], line.why)


def _check(design):
    """The worst doors, both with their figures or neither, and what is to be proved; one that fails does so with the fan stated."""
    doors = list(_worst_lines(design))
    fails = any(line.status == "wrong" for line in doors)
    shown = (replace(line, status="open") if line.status == "good" else line for line in doors)
    yield from shown if fails else (_with_stated_fan(design, line) for line in doors)
    steps = design.injection.rows
    on_page = sum(row.part in (*POINT_PARTS, *STEP_PARTS) for row in steps)
    yield BoardLine("open", "Injected signals", f"{len(steps)} steps, {on_page} on page 11", plan_said(design.injection))
    yield BoardLine("open", "Every storey", "measured, page 11", "computed figures prove nothing on site")


def _worst_lines(design):
    for word, level, dp_pa, limit_pa, force_n, status, case in worst_doors(design):
        force = "" if force_n is None else f", {with_unit(force_n, 'force')}"
        dp, limit = apart((dp_pa, limit_pa), "pressure", "least" if word == "lowest" else "most")
        value = f"{dp} ({'min.' if word == 'lowest' else 'max.'} {limit}){force}, doors shut"
        yield BoardLine(status, f"{word.capitalize()}, door {level}", value, f"in {case}")


def state_of(line):
    """Status of a line of the settings schedule, which says it in words."""
    said = f"{line.value} {line.why}"
    if line.value.startswith((NOT_LAID_DOWN, NOT_STATED, "to be")):
        return "open"
    return next((key for key in ("wrong", "attention") if word_of(key) in said), "good")


def fails_counted(record):
    """How many FAIL a record has, those that are possible with them: one count for every page."""
    return sum(finding.severity == "wrong" for finding in record.findings)


def first_deed(findings):
    """What is done first about a record, as every page tells it: the designer is asked about the first thing to decide where that is past
    a limit; else it is looked at. "" where nothing is to be decided."""
    first = next(iter(to_decide(findings)), None)
    if first is None or first.severity == "good":
        return ""
    if first.severity != "wrong":
        return f"{DO}what stands under the first line of {DECIDE}"
    what = first.what.rstrip(".")
    asked = f"{ASK}the designer first: {what[0].lower()}{what[1:]}"
    return asked if len(asked.split()) <= MOST_TO_DO + 1 else f"{ASK}the designer first, by the first line of {DECIDE}"


@in_each
def section_deed(section):
    """What is done about a section: the designer is asked about its gravest finding's remedy where that has room; "" for nothing."""
    worst = _gravest(section)
    if worst is None or worst.severity == "good":
        return ""
    told = f"{ASK}the designer: {SENTENCE.split(worst.remedy)[0]}".rstrip(" ,;:.")
    return told if worst.remedy and len(told.split()) <= MOST_TO_DO + 1 else DESIGNER  # half a remedy is none


def to_decide(findings):
    """The findings of a record in the order of the list under its board: a fan that is not enough stands right after the first, in view,
    since nothing is entered before there is one."""
    fan = [one for one in findings[1:] if (one.key, one.severity) == ("fan", "wrong")]
    return (*findings[:1], *fan, *(one for one in findings[1:] if one not in fan))


def in_view(verdict, most=MOST_SEEN):
    """The beginning of a verdict, so long that it is seen at a glance; what is not to be entered says so in three words; a sentence that is
    cut in its midst, and no other, ends in dots.

    >>> in_view("Reverse acting. From 20.0 Hz to 28.0 Hz the reading rises.")
    'Reverse acting. From 20.0 Hz to 28.0 Hz the reading rises.'
    """
    aside = _ASIDE.fullmatch(verdict)
    told = aside[1] if aside else verdict
    first, *others = SENTENCE.split(told)
    long = len(first.split()) > MOST_SENTENCE
    parts = _CLAUSE.split(first) if long else [first, *others]
    seen = parts[0]
    for part in parts[1:]:
        if len(f"{seen} {part}".split()) > most:
            break
        seen = f"{seen} {part}"
    seen = f"{seen.rstrip(' ,;:.')} …" if long and seen not in (first, told) else seen
    return f"{NOT_YET_ENTERED}{seen}" if aside else seen


@in_each
def first_seen(section):
    """What is seen of a section at first: where it is past a limit the gravest finding with its figure, which has door, limit and how much;
    else the beginning of its verdict."""
    worst = _gravest(section)
    if worst is None or worst.severity != "wrong":
        return in_view(section.verdict)
    told = in_view(f"{worst.what}: {worst.figure}" if worst.figure else worst.what, MOST_FOUND)
    return f"{NOT_YET_ENTERED}{told}" if _ASIDE.fullmatch(section.verdict) else told


def _gravest(section):
    return min(section.findings, key=lambda one: SEVERITIES.index(one.severity), default=None)
