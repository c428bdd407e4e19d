"""What has to hold of the workbook's answers on any honest building, however strange: for the runner over drawn sites and for the tests of
the sites that once failed. Each is a function of what was made of a site and yields what does not hold, in words."""

import re

import numpy as np
from held_texts import record_numbers, strange
from limits_read import ODD, SEVERAL_WAYS, past, said_in, says_fail

from helpers.model.air.tower import Tower
from helpers.record.sections.signed import design_schedule
from helpers.studies.cases import with_required
from helpers.studies.duty.fan_needed import fan_needed
from helpers.studies.readings.rules import compare_rules
from helpers.studies.status import ON_LIMIT_PA, STATUSES
from helpers.studies.tuning.study import tuning_study
from helpers.units import SYSTEMS
from helpers.units.said import has_mark, written_out

ROUNDING = 2e-3  # of a flow or pressure that a search has found: less is no difference
TWO_DIGITS = 0.1  # of a gain and an integral time that are entered with two
MUCH_TOO_HIGH = 0.05  # of a reading, before the storeys have filled
BOUGHT = re.compile(r"\b(Buy a fan for|Keep the fan stated|or buy one of the same curve)")
HOLDS_ALL = re.compile(r"\b(?:it|The fan stated) holds every required case")


def no_pass_past_a_limit(design, record):
    """No finding or row that is passed says or holds a figure past its limit, and no rule passes a case that it does not keep."""
    for section in record.sections:
        for finding in section.findings:
            if finding.severity not in STATUSES or (finding.severity == "good" and past(finding.figure)):
                yield f"{section.key}: {finding.severity} {finding.what}: {finding.figure}"
        for table in section.tables:
            for row, state in zip(table.rows, table.states, strict=bool(table.states)):
                if state == "good" and table.key not in SEVERAL_WAYS and says_fail(row):
                    yield f"{section.key}, {table.key}: passed row {row}"
    if not design.standing.window.feasible:
        return
    for result in design.rules.results:
        for place, case in enumerate(design.cases):
            out = result.margin_pa[place] < -ON_LIMIT_PA or result.state[place] != "held" or np.isinf(result.margin_pa[place])
            if out and result.status(place) == "good":
                yield f"rule {result.rule} passes {case.name} with {result.margin_pa[place]:.3f} Pa of room, {result.state[place]}"
    board = record.board
    if board.first and any(line.status == "good" for line in board.buy):
        yield f"the board passes what is to be bought before {board.first}"


def no_sentence_put_together_wrongly(record):
    """No two stops, no number that is none, no figure that waits for a system of units."""
    yield from (_about(text) for text in said_in(record) if isinstance(text, str) and ODD.search(text))
    if has_mark((tuple(record.summary), tuple(record.sections), record.fails)):
        yield "a figure waits for a system of units"


def nothing_bought_with_an_unheld_case(design, record):
    """Where a fan is to be bought or kept, each case of the design can be held; where the stated one holds them all, it does when asked."""
    if not design.standing.window.feasible:
        return
    needed, said = design.duty.needed, " ".join(record.summary)
    if BOUGHT.search(said) and not needed.reached[needed.required].all():
        yield f"a fan is bought although no fan holds {[case.name for case in needed.cases]}"
    if "Buy a fan for" in said and not needed.usual:
        yield "a fan is bought that no usual fan is"
    if BOUGHT.search(said) and not design.standing.set_point_stands:
        yield "a fan is bought for a set point that does not stand"
    if HOLDS_ALL.search(design.duty.said()):
        cases, required = with_required(design.site, design.cases)
        asked = [case for case, one in zip(cases, required, strict=True) if one]
        result = compare_rules(design.tower, design.window, asked, rules=(design.site.control.rule,)).results[0]
        for case, state in zip(asked, result.state, strict=True):
            if state != "held":
                yield f"the fan stated is said to hold every required case, and {case.name} is {state}"


def one_number_everywhere(design, record, papers):
    """Range, set point, gain, integral time and fallback speed are the same in summary, board, schedule, injection and papers, and no
    paper has a number that the record has not."""
    if not design.standing.window.feasible:
        return
    lines = {(line.group, line.name): line.value for line in written_out(design_schedule(design), design.units)}
    said, board = " ".join(record.summary), {line.what: line.value for line in record.board.set}
    built = design.built.transmitters
    ranges = {(tap.range_low_pa, tap.range_high_pa) for tap in built}
    if ranges != {(design.range.chosen.low_pa, design.range.chosen.high_pa)} and design.other_range():
        yield f"ranges {ranges} are built where one is chosen"
    if {(tap.range_low_pa, tap.range_high_pa) for tap in design.injection.transmitters} != ranges:
        yield "the injection table is for other ranges than those built"
    bought = written_out(design.range.chosen.text(), design.units)
    if bought not in said and len(ranges) == 1:
        yield f"the summary does not name the range {bought}"
    for line in record.board.buy:
        if (
            line.what == "Transmitters"
            and line.value != "NOT YET"
            and bought not in line.value
            and line.value != "not laid down"
            and len(ranges) == 1
        ):
            yield f"the board has the range {line.value}, the record {bought}"
    for (group, name), what in (
        (("loop", "gain"), "Gain"),
        (("loop", "integral time"), "Integral time"),
        (("loop", "set point"), "Set point"),
    ):
        value = lines[group, name].removeprefix("FAIL: ").partition(" ")[0]
        if not lines[group, name].startswith("not laid down") and value not in board.get(what, value):
            yield f"{what}: schedule {lines[group, name]}, board {board[what]}"
    told = re.search(r"a gain of ([\d.e-]+) %/% and an integral time of ([\d.]+) s", said)
    if told:
        gain, integral = (float(lines["loop", name].removeprefix("FAIL: ").split()[0]) for name in ("gain", "integral time"))
        for mine, theirs, what in ((float(told[1]), gain, "gain"), (float(told[2]), integral, "integral time")):
            if abs(mine - theirs) > 0.06 * max(abs(theirs), 0.1):
                yield f"{what}: summary {mine}, schedule {theirs}"
    fallback = re.search(r"([\d.]+) Hz", lines.get(("failure", "fallback speed"), ""))
    told = re.search(r"On a failed reading: agreed fallback speed, ([\d.]+) Hz", said)
    if fallback and told and fallback[1] != told[1]:
        yield f"fallback speed: schedule {fallback[1]}, summary {told[1]}"
    known = record_numbers(design)
    for paper in papers:
        for number, text in strange(paper, known).items():
            yield f"{paper.title}: {number} is of no record: {str(text)[:200]}"


def both_systems_say_the_same(design):
    """Statuses of findings, rows and board are the same in either system of units."""
    states = []
    for system in SYSTEMS:
        record = design.record(system)
        board = record.board
        sections = [
            (one.key, [found.severity for found in one.findings], [table.states for table in one.tables]) for one in record.sections
        ]
        lines = [[line.status for line in part] for part in (board.buy, board.set, board.check)]
        states.append((sections, lines, len(record.summary)))
    if states[0] != states[1]:
        yield "the statuses differ between the systems of units"


def review_passes_nothing_past(made):
    """No finding of a review is passed with a figure past its limit, no sentence put together wrongly."""
    for finding in made.findings:
        if finding.severity == "good" and past(finding.figure):
            yield f"passed {finding.what}: {finding.figure}"
        for one in (finding, *finding.effects):
            for text in (one.what, one.figure, one.why, one.remedy):
                if ODD.search(text):
                    yield _about(text)


def _about(text):
    """What is odd in a text, with what stands about it."""
    found = ODD.search(text)
    return f"{found[0]!r} in ...{text[max(found.start() - 90, 0) : found.end() + 90]}"


def asked_of_the_fan(site, cases=None):
    """(flow, pressure) [required cases that any fan can hold, NaN else] asked of the fan at the set point of a site."""
    from helpers.studies.cases import usual_cases

    found = fan_needed(Tower(site), usual_cases(site) if cases is None else cases, site.control.rule, site.control.set_point_pa)
    there = found.required & found.reached
    return np.where(there, found.flow_m3_s, np.nan), np.where(there, found.standard_pa, np.nan)


def weaker_fan_lowers_nothing(site):
    """A fan of four fifths of the pressure and nine tenths of the flow: what is to be bought stays what it was."""
    fan = site.fan
    weak = {"flows_m3_s": tuple(0.9 * np.array(fan.flows_m3_s)), "pressures_pa": tuple(0.8 * np.array(fan.pressures_pa))}
    before, after = asked_of_the_fan(site), asked_of_the_fan(site.with_changes(fan=weak))
    for old, new, what in zip(before, after, ("flow", "pressure"), strict=True):
        if (np.isnan(new) & ~np.isnan(old)).any() or (new < old * (1 - ROUNDING)).any():
            yield f"a weaker fan lowers the {what} to be bought: {old} to {new}"


def more_leakage_lowers_no_duty(site):
    """Three tenths more leaks of the stair's side: the flow that is asked for does not fall in any case that both hold."""
    leaky = site.with_changes(leakage={"stair_side_factor": 1.3 * site.leakage.stair_side_factor})
    before, after = asked_of_the_fan(site)[0], asked_of_the_fan(leaky)[0]
    if (after < before * (1 - ROUNDING)).any():
        place = int(np.nanargmax(np.nan_to_num(1 - after / before, nan=-1)))
        yield f"more leakage lowers the flow of case {place}: {before[place]:.4f} to {after[place]:.4f} m3/s"


def slower_sensor_quickens_nothing(design):
    """With a second more of filter the fastest safe tuning is no faster: its integral time over its gain is no shorter, by more than two
    digits of both tell. Not held where storeys that fill behind their doors show a reading well too high until then: a filter takes off
    what limits the loop there, and the study's own table of filters says so."""
    try:
        before = design.tuning.proposed
        slow = design.built.with_changes(transmitters=[{"filter_s": tap.filter_s + 1.0} for tap in design.built.transmitters])
        after = tuning_study(Tower(slow), design.window, cases=design.cases, what_helps=False).proposed
    except ValueError:
        return
    if before is None or after is None:
        return
    old, new = (one.integral_s / one.gain for one in (before, after))
    if design.tuning.box.air.overshoot < MUCH_TOO_HIGH and new < old * (1 - TWO_DIGITS):
        yield f"a slower sensor quickens the tuning: integral time over gain {old:.3f} to {new:.3f} s"


def whole_text(record):
    """All that a record says, as one text: of two runs it is the same."""
    board = record.board
    lines = (
        [f"{line.status} {line.what} {line.value} {line.why}" for part in (board.buy, board.set, board.check) for line in part]
        if board
        else []
    )
    figures = [figure.text for section in record.sections for figure in section.figures]
    said = "\n".join(map(str, [*said_in(record), *lines, *figures, record.state_line]))
    return re.sub(r"\b[0-9a-f]{8,64}\b", "HASH", said)
