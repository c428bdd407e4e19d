"""What stands beyond the states of these papers: a final exit that stands open, as people leave by it, said at the head of every paper; and
what was stated of a second pressurised shaft and its fan, judged by the record beside the stair's."""

from dataclasses import replace

import numpy as np

from helpers.model.files import texts
from helpers.model.site.criteria import criteria_of
from helpers.model.site.reserve import OF_STANDBY
from helpers.model.site.tolerances import Box, boxes
from helpers.record.papers.beyond.answered import ANSWERED, quote
from helpers.record.papers.paper import Part
from helpers.record.sections.one_open import EXIT_ALONE
from helpers.record.standing import CHOSEN, FAN, SET_POINT, STANDARD
from helpers.studies.cases import exits_beyond
from helpers.studies.report import Table, fine, listed
from helpers.studies.status import word_of, worst_of
from helpers.units.said import with_unit

NOT_TRIED = "Not in the design: a final exit that stands open. It was not tried either."
TOGETHER = "fan", "both_shafts"  # section and key of the table that judges both fans together
SECOND_SHAFT = ("second pressurised shaft", "second shaft's fan", "second shaft's speed command")  # of the settings schedule, judged
PROPOSED = "a proposal, to be agreed: "  # before what no line of the record speaks against
OUTSIDE = f"{word_of('wrong')} outside the stated design"
UNANSWERED = ", until somebody has answered whether it counts"  # at the end of the next, and there no more once somebody has
FAILS_OUTSIDE = f"{OUTSIDE}, counted apart; in the tables it is {word_of('attention')}, NOT REQUIRED: would {word_of('wrong')}{UNANSWERED}"
ENTERED = ("second shaft's whole output", "second shaft's ramp")  # the same, that no table of the record judges
CLASS, EVACUATION = STRATEGY = "Class of the system", "Way of evacuation"  # figures of no section: what the site file states
DRIVE_READY = "drive_s"  # of standby power
_GRAVE = ("wrong", "attention", "open")


def final_exit_open(design):
    """What the own rule leaves of the stair while a final exit stands open that the site's design does not count as open, in words, for
    any system of units; "" where the design counts one as open, or the stair has none.

    Limits: the cases of the record, with the stair doors that they open besides; the worst of them is told.
    """
    site, tried = design.site, exits_beyond(design.site, design.own.cases)
    if (site.design is not None and site.design.open_exits) or not has_exit(site):
        return ""
    if not tried:
        return NOT_TRIED
    exits = listed(str(level) for level in dict.fromkeys(level for case in tried for level in case.open_exits))
    head = f"Not in the design: final exit {exits} open, though people leave by it."
    low = _too_low(design)
    if not low:
        return f"{head} Tried all the same: every shut door has its minimum."
    _, case, door = max(low, key=lambda one: one[0])
    count = len(design.own.out_in(case))
    alone = f" With the exit open alone: {told}." if case.open_doors and (told := exit_alone_said(design)) else ""
    return f"{head} Then {door.text()} ({case.name}); {count} door{'s' * (count > 1)} out: {FAILS_OUTSIDE}.{alone}"


def exit_alone_said(design):
    """The worst shut door with the final exit open alone, every stair door shut, as the record found it, in words; "" where none is out."""
    found = (one for top in design.section("rule").findings for one in (top, *top.effects) if one.key == EXIT_ALONE)
    return next((one.figure for one in found), "")


def outside_said(design):
    """That the count of a record's findings leaves out the case beside the design that fails, behind that count; "" where none does."""
    return f", and 1 {OUTSIDE}" if _too_low(design) else ""


def file_worst_said(design):
    """Least room of any shut door in the weathers of the file, all whatever the stair's air, doors shut, with door and case, in words."""
    own = design.own
    shut = [place for place, case in enumerate(own.cases) if case.shut]
    place = min(shut, key=lambda one: own.margin_pa[one])
    if not np.isfinite(own.margin_pa[place]):
        return "no shut door has a limit to be judged by"
    out = own.out_in(own.cases[place])
    return f"{fine(float(own.margin_pa[place]))} ({own.cases[place].name}{f', {out[0].use} {out[0].level}' if out else ''})"


def fan_beside_exit(design, what, cells, state, answered=False):
    """(cells, status) of a line of the record's board: advice on a fan that leaves doors below their minimum with a final exit open, which
    the design leaves out, says so and is no PASS."""
    if what != "Fan" or state not in ("good", "attention") or not (told := exit_said(design, answered)):
        return cells, state
    return (*cells[:-1], f"{word_of('attention')}: {told} {cells[-1]}"), "attention"


def exit_said(design, answered=False):
    """That an advice on the fan is good with the final exit shut alone, in a sentence; "" where it is so with it open, too, and where there
    is no such advice: no fan is laid down, or one that does not hold all else. answered: whether the enquiry list has an answer to whether
    that exit counts as open."""
    low = _too_low(design)
    if not low or design.standing.first(STANDARD, SET_POINT, FAN, CHOSEN):
        return ""
    _, case, door = max(low, key=lambda one: one[0])
    head = f"Good with the final exit shut alone: open, as people leave by it, {word_of('wrong')}: {door.text()} ({case.name})"
    if answered:
        return f"{head}. Whether it counts, and on what condition: see the head of this paper. Where it does, no fan is ordered by this."
    return f"{head}; order by it when it is answered whether the exit counts as open (enquiry list: final exit open), not before."


def _too_low(design):
    """(by how much [Pa], case, door) of every door below its minimum while a final exit is open that the design leaves out."""
    return [
        (door.by_pa, case, door)
        for case in exits_beyond(design.site, design.own.cases)
        for door in design.own.out_in(case)
        if door.too == "low"
    ]


def has_exit(site):
    """Whether the stair of a site has a final exit."""
    return any(storey.final_exit_door for storey in site.storeys)


def counts_as_answered(answer):
    """Whether an exit that is left out counts, as a `GivenAnswer` has it, word for word, and that no paper proves what it asks."""
    told = quote("final exit open", answer, answer.answer)
    return f"Whether it counts: {ANSWERED}, {told}. What that asks is not proved yet."


def exit_undecided(design, answered):
    """Why the papers of a stair that fails in nothing are NOT YET, in a sentence: an exit left out with which doors are out, and nobody has
    said that it may be; "" where it is not so. answered: whether the enquiry list has an answer to it."""
    if answered or not _too_low(design):
        return ""
    return (
        f"{word_of('open')}: nobody has answered whether the final exit that people leave by counts as open (enquiry list: final exit "
        "open), and with it open doors are out: see what is not in the design. Where it counts, this stair fails."
    )


def strategy_there(site):
    """{what an entry of the file of words may be `only` for: whether it is so}, of class and way of evacuation of a site."""
    kind, way = site.airflow_class is not None, site.evacuation is not None
    there = {"class stated": kind, "no class stated": not kind, "evacuation stated": way, "no evacuation stated": not way}
    called = site.evacuation in ("phased", "defend in place")  # some stay, and one door stands open because they do
    there |= {"some stay": called, "none stays": not called}
    return there | {"no classes in the standard": not criteria_of(site.standard).by_class}


def strategy_stated(site, label):
    """(cells, status) of CLASS or of EVACUATION, as the site file has it: open where it has none, and where the standard asks by class."""
    value = site.airflow_class if label == CLASS else site.evacuation
    if value is not None:
        return (label, value, "stated in the site file; no figure hangs on it" if label == EVACUATION else "stated in the site file"), ""
    by_class = criteria_of(site.standard).by_class
    if label == CLASS and not by_class:
        return (label, "not stated", "the standard that judges this site asks nothing by class; a European one does"), "open"
    return (label, "not stated", "the site file leaves it out"), "open"


def second_shaft_parts(quoted, paper, judged=True):
    """The `Part` of a paper of a site with a second shaft, in a tuple; of any other site none. paper: key of the paper, whose own steps
    stand in the file of words where it has some; judged: whether it has no table of its own of what was stated."""
    if quoted.site.second_shaft is None:
        return ()
    words = quoted.filled(texts("papers")["second_shaft"])
    rows = ((words["what"], words["said"], words["whose"]),)
    told = Table("second_shaft", "To be agreed", ("What", "As this paper has it", "Who decides it"), rows, ("open",))
    return (Part(words["title"], words["lines"], words.get(paper, ()), (told, *[_judged_table(quoted)] * judged)),)


def judged_line(quoted, line):
    """A line of the schedule that states the second shaft or its fan, judged by the record's table on both fans together: whether the
    doors bear what was stated stands there."""
    table = quoted.table(*TOGETHER)
    grave = () if table is None else tuple(state for state in table.states if state in _GRAVE)
    if not grave:
        return line
    worst = worst_of(grave)
    word, told = word_of(worst), listed(row[0] for row, state in zip(table.rows, table.states, strict=True) if state == worst)
    return replace(line, value=f"{word}: {line.value}", why=f"{word} in the record's table on both shafts: {told}; {line.why}")


def drive_ready(site):
    """How long a drive needs to be ready again after its power is back, at the longest: charged, and its wheel caught; in words. Where the
    site file states no standby power it is what is common practice with a generator."""
    taken = next(Box.of(None, default, source) for field, _, _, default, source in OF_STANDBY["generator"] if field == DRIVE_READY)
    box = boxes(site).get(f"standby.{DRIVE_READY}", taken)
    return f"{with_unit(box.high, 'time', 2)} at the longest, charged and its wheel caught ({box.source})"


def _judged_table(quoted):
    table = quoted.rows("second_shaft_stated", "As stated, and what is entered", "fan", (*SECOND_SHAFT, *ENTERED))
    rows = tuple((what, value if state else f"{PROPOSED}{value}", why)
                 for (what, value, why), state in zip(table.rows, table.states, strict=True))  # fmt: skip
    return replace(table, rows=rows, states=tuple(state or "open" for state in table.states))
