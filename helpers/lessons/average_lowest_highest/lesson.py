"""Lesson 06's page: what each rule does to every door, with doors open, in any weather, and with one transmitter wrong."""

from functools import cache

import numpy as np

from helpers.lessons.average_lowest_highest import answers, no_set_point, questions, summary
from helpers.lessons.page import LessonParts
from helpers.plots.charts import Profile, profile
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis
from helpers.plots.style import ROLES, series
from helpers.record.every_case import DoorAsked, to_do
from helpers.studies.cases import AFTER_AN_HOUR, AS_STATED, FIRST_MINUTE, Case, case_said
from helpers.studies.doors.columns import doors_out, end_tiles, rest_head
from helpers.studies.doors.kinds import PUSHED
from helpers.studies.readings.faults_by_rule import FAULTS, NO_FAULT, RULES, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.report import fine, inside_text, listed, passed
from helpers.studies.status import deciding, word_of, worst_of
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

RULE_CHOICES = {
    "average of two": "average",
    "lowest of two": "lowest",
    "highest of two": "highest",
    "weighted, lower one twice": "weighted",
    "middle of three": "middle",
}
CASES = {
    "all shut": DoorsOpen(),
    "storeys 6 and 7 open": DoorsOpen((6, 7)),
    "storeys 1 and 2 open": DoorsOpen((1, 2)),
    "storeys 12 and 13 open": DoorsOpen((12, 13)),
    "6, 7 and the final exit door": DoorsOpen((6, 7), (0,)),
}
FAULT_CHOICES = {
    "none": NO_FAULT,
    "lower one's tube off": ReadingFault("tube off", 0),
    "upper one's tube off": ReadingFault("tube off", 1),
    "lower one stuck": ReadingFault("stuck", 0),
    "upper one stuck": ReadingFault("stuck", 1),
    "upper wire open, left out": ReadingFault("left out", 1),
    "upper wire open, counted": ReadingFault("counted", 1),
}
STAIR_CHOICES = {"as the site file has it": AS_STATED, "first minute, as the rooms": FIRST_MINUTE, "after an hour": AFTER_AN_HOUR}
MOMENTS = {AS_STATED: "now", FIRST_MINUTE: "first minute", AFTER_AN_HOUR: "after an hour"}  # of the stair's air, in a word
AND_EARLY = {
    AS_STATED: "now, first minute",
    FIRST_MINUTE: "first minute",
    AFTER_AN_HOUR: "first minute, hour",
}  # a tile has no more room
ROOM_PA = (0.0, 95.0)
NOTHING, ALL = "no other rule", "all rules"  # beside the chosen one
EARLY = ROLES["now"].but(line=(0, (2, 2)), width=1.8, face="white")  # the chosen rule in the first minute


@cache
def panel():
    """The panel, one in a notebook."""
    rule_bench().prepare(CASES.values())
    controls = {
        "outdoor_c": Slider("Outdoors", "temperature", -25.0, 35.0, 1.0, -9.0),
        "set_point_pa": Slider("Set point", "pressure", 20.0, 70.0, 1.0, 40.0),
        "rule": Choice("Fan follows", RULE_CHOICES),
        "opened": Choice("Doors", CASES),
        "stair": Choice("Stair air", STAIR_CHOICES),
        "fault": Choice("Wrong reading", FAULT_CHOICES),
        "beside": Choice("Compare with", {NOTHING: NOTHING, **RULE_CHOICES, ALL: ALL}, NOTHING),
        "stuck_pa": Slider("Stuck at", "pressure", 0.0, 100.0, 1.0, 50.0),
    }
    controls["stuck_pa"].shown = False

    def prepare(moved):
        controls["stuck_pa"].shown = controls["fault"].value.kind == "stuck"

    groups = {"The loop": ("rule", "set_point_pa"), "The doors": ("opened",), "The air": ("outdoor_c",), "A fault": ("fault", "stuck_pa")}
    return Panel(controls, Picture(**PANEL_PX), _answer, prepare, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS)


def _answer(outdoor_c, set_point_pa, rule, opened, stair, fault, beside, stuck_pa):
    if fault.kind == "stuck":
        fault = ReadingFault("stuck", fault.number, stuck_pa)
    bench = rule_bench()
    found = dict(zip(RULES, bench.ruled(outdoor_c, set_point_pa, opened, fault, stair=stair), strict=True))
    works = bench.set_points_pa(outdoor_c, opened, rule, fault, stair)
    unclosed = None if works else bench.set_points_pa(outdoor_c, opened, rule, fault, stair, closers=False)
    early = found
    if stair != FIRST_MINUTE:
        early = dict(zip(RULES, bench.ruled(outdoor_c, set_point_pa, opened, fault, stair=FIRST_MINUTE), strict=True))
    first = "" if stair == FIRST_MINUTE else questions.early_said(bench.set_points_pa(outdoor_c, opened, rule, fault, FIRST_MINUTE), works)
    said = _works_said(works, unclosed, rule, fault, first)
    verdict = _verdict(found, rule, fault, said, early)
    one, then = found[rule], early[rule]
    ruled, warmth = ((one, stair), (then, FIRST_MINUTE))[deciding([one.status, then.status], [one.rooms_pa.min(), then.rooms_pa.min()])]
    if stair != AS_STATED:  # chosen by hand: what was asked for is judged, and the first minute told beside it
        ruled, warmth = one, stair
    shown = Case("", bench.weather(outdoor_c), opened.stair, opened.exits, warmth)
    case = case_said(shown, bench.site, outdoor_c, float(bench.stair_c(outdoor_c)), float(bench.wind(outdoor_c)[0]))
    told = {
        "head": _only_early(then, stair) if ruled.inside and not then.inside else _head(ruled, fault, set_point_pa),
        "tiles": _tiles(ruled, opened, fault, bench.suits_pa(outdoor_c, opened, rule, fault, stair), MOMENTS[warmth], stair),
        "case": "; ".join(filter(None, (case, doors_out(ruled.every_out), _early_too(ruled, then)))),
        "do": "" if verdict.kind == "good" else _to_do(verdict.kind, (one, then), ruled, fault, opened, outdoor_c, set_point_pa, stair),
    }
    return Verdict(verdict.kind, verdict.words, **told), _profile(found, early, ruled, stair, beside, opened, set_point_pa)


def _to_do(status, pair, ruled, fault, opened, outdoor_c, set_point_pa, stair):
    """What the record passes in every case; a wrong reading comes first. pair: `Ruled` now and in the first minute; ruled: the
    headline's."""
    if fault != NO_FAULT:
        which = "upper" if fault.number else "lower"
        return f"Do: put the {which} transmitter right first, then look again"
    bench, one = rule_bench(), pair[0]

    def holds(rule, point):
        return all(bench.ruled(outdoor_c, point, opened, rules=(rule,), stair=warm)[0].good for warm in (stair, FIRST_MINUTE))

    return to_do(bench.site, one.rule, set_point_pa, status, all(each.good for each in pair), holds, door=_asked(ruled, pair[1]))


def _asked(ruled, then):
    """The door that the designer is asked about: the headline's, or where that case has none out the first minute's; None for none."""
    out = next((one.worst for one in (ruled, then) if not one.inside), None)
    if out is None:
        return None
    column, low = out.column, out.too == "low"
    limit = column.window.least_pa if low else column.window.most_pa
    return DoorAsked(column.use, column.level, out.too, out.dp_pa, limit, column.means(out.too) in PUSHED)


READ = (
    "Across: pressure over each stair door. Up: storeys. The thick line is the rule you chose, the dotted one the same in the first "
    "minute, the stair as warm as the rooms; the headline is of the worse of the two. The orange one is the rule to compare with (under "
    "More). A red cross is a door of the chosen rule outside its window, a diamond on the line of zero stands for an open door. A square "
    "is the final exit at the higher of its pressures now and in the first minute, "
    "the upright stroke the most that its closer shuts it against. The tile Set point, both times, has what keeps every door inside at "
    "both times that stand below it; none: each may have one of its own. The small "
    "triangles at the right are the transmitters: PDT-1 the lower "
    "one on storey 1, PDT-2 the upper one on storey 12; a third between them is tried "
    "with middle of three alone: the building has two. "
    "In the key, held means that the loop has found "
    "a speed at which its reading is the set point; at full speed that the fan can do no more.\n"
    "Where a line bends on storey 7, the relief damper there (a flap that the pressure opens) lets air out: "
    "that is the help the building has against heavy doors, and it is not enough."
)
LEFT_OUT = "other weathers, full speed by override, a door as it shuts: page 12"
TASKS = (
    Task("It opened with winter, average: which door was FAIL, and when? Now lowest, same set point, as in the log book: which now?",
         {"rule": "lowest", "beside": "average"}),
    Task("Still lowest, lower set point: FAIL, but when? Find one for highest (All figures: every shut door is inside). How far apart are "
         "those of the three?",
         {"rule": "lowest", "set_point_pa": 28.0}),
    Task(f"Back to average, and Outdoors to {with_unit(questions.SUMMER_C, 'temperature')}, the design's summer: FAIL at the exit. "
         "Compare with all rules: where do the lines go, and why do they meet?",
         {"outdoor_c": questions.SUMMER_C, "beside": ALL}),
    Task("Winter. Wrong reading: lower one's tube off: FAIL. What does the display show, now and in the first minute? Then "
         "lowest, then highest.",
         {"fault": FAULT_CHOICES["lower one's tube off"]}),
    Task("All shut, no fault: note each rule's set point (All figures). Then doors 1 and 2 open, beside PDT-1: FAIL with the average. "
         "Which rules pass it over?",
         {"opened": CASES["storeys 1 and 2 open"]}),
    Task("All shut, average. Stair air, under More: first minute, FAIL, then after an hour. Which door is worst off in each? One set "
         "point for both?",
         {"stair": FIRST_MINUTE}),
)  # fmt: skip


def _head(ruled, fault, set_point_pa):
    """What decides, in one sentence: a door that is out, or else the loop. ruled: of the case that decides."""
    if not ruled.inside:
        door = ruled.worst
        where, window = f"at {door.column.use} {door.column.level}", door.column.window
        if door.too == "high" and door.force_n is not None and door.force_n > door.limit_n:
            return passed(door.force_n, door.limit_n, "force", where)
        return passed(door.dp_pa, window.least_pa if door.too == "low" else window.most_pa, "pressure", where)
    rest = rest_head(ruled.state, ruled.reading_pa, set_point_pa, ruled.rooms_pa.min())
    return f"One reading is wrong: {rest[0].lower()}{rest[1:]}" if fault != NO_FAULT and ruled.state == "held" else rest


def _only_early(early, stair):
    """That the chosen air is inside and the first minute is not, in one sentence."""
    door = early.worst.column
    return f"Inside {MOMENTS[stair]}; {word_of(early.status)} in the first minute, {door.use} {door.level}"


def _early_too(ruled, early):
    """Beside a case that was chosen by hand: that the first minute is out as well; "" elsewhere."""
    return "" if ruled.inside or ruled is early or early.inside else f"{word_of(early.status)} in the first minute, too"


def _tiles(one, opened, fault, suits, moment, stair):
    """The end doors, and the set points that suit the chosen air and the first minute; with a fault, what the display shows, and when:
    moment."""
    bench = rule_bench()
    levels = bench.tower.levels
    shown = f"Display, {moment}", with_unit(one.reading_pa, "pressure"), f"fan {with_unit(one.speed_hz, 'frequency')}"
    both = "Set point, both times", "none" if suits is None else inside_text(*suits), AND_EARLY[stair]
    shown = shown if fault != NO_FAULT else both
    shut = np.where(np.isin(levels, opened.stair), np.nan, one.storeys_pa)
    worst, deciding = one.worst, None
    forces = (worst.force_n, worst.limit_n)
    pulled = (worst.column.level, forces) if worst.out and worst.too == "high" and worst.force_n else None  # the headline has it
    if worst.out and worst.column.use != "stair door":
        low = worst.too == "low"
        window = worst.column.window
        deciding = (worst.column.use, worst.column.level, worst.dp_pa, *((window.least_pa, "least") if low else (window.most_pa, "most")))
    return end_tiles(levels, shut, bench.window.by_storey(levels, "stair door"), shown, deciding, pulled=pulled)


def _profile(found, early, ruled, stair, beside, opened, set_point_pa):
    """The chosen rule now and in its first minute, and beside it others; only the chosen one has crosses. ruled: the headline's."""
    bench = rule_bench()
    tower = bench.tower
    standing_open = np.isin(tower.levels, opened.stair)

    def line(one, label):
        dp = np.where(standing_open, np.nan, one.storeys_pa)
        return Profile(label, dp, *one.out, standing_open, one.state, one.speed_hz, one.true_pa)

    shown = {name: line(one, _labelled(one)) for name, one in found.items()}
    chosen, others = [shown.pop(ruled.rule)], [shown[name] for name in (shown if beside == ALL else [beside]) if name in shown]
    if stair != FIRST_MINUTE:
        chosen.append(line(early[ruled.rule], _labelled(early[ruled.rule], "first minute")))
    profiles = [*chosen, *others]
    pens = [ROLES["now"].but(width=3.0), EARLY][: len(chosen)] + [series(place).but(marker="") for place in range(1, len(others) + 1)]
    named = [(one, one.label.partition(":")[0]) for one in (chosen[0], *others)] if len(others) == 1 else ()
    taps = bench.transmitters if "middle" in (ruled.rule, beside) or beside == ALL else bench.transmitters[:2]  # the building has two
    said = [f"{one.label}; {one.state}" for one in profiles]  # no figures: words that change at every move take long to draw
    return profile(
        "rules", f"{bench.site.name}: every shut stair door, rule by rule",
        Axis("Pressure across the stair door", "pressure", room=ROOM_PA),
        tuple(map(str, tower.levels)), tower.elevation_m, bench.window.by_storey(tower.levels, "stair door"), profiles,
        [(tap.name, tower.storey(tap.level)) for tap in taps], set_point_pa, pens=pens, crossed=chosen, said=said,
        columns=2, named=named, exits=max(found[ruled.rule].exits, early[ruled.rule].exits),
    )  # fmt: skip


def _labelled(one, name=""):
    """A line in the key: the rule, or another name, and what is out."""
    name = name or {"weighted": "weighted 2:1", "middle": "middle of three"}.get(one.rule, one.rule)
    if one.inside:
        return f"{name}: all doors inside"
    drawn = [too for too, out in zip(("low", "high"), one.out, strict=True) if out.any()]
    worst = "a door" if one.out.any() else "an exit"
    return f"{name}: a door too {drawn[0]}" if len(drawn) == 1 else f"{name}: {worst} too {one.worst.too}"


def _verdict(found, rule, fault, works, early):
    """works: which set points do, in a sentence; early: `Ruled` of each rule in the first minute, shown only where it is asked for."""
    one, then = found[rule], early[rule]
    told = f"{_loop_said(one, fault)} {_doors_said(one)} {works}"
    others = [name for name in RULES if name != rule and found[name].inside]
    also = _also_early(others, early)
    beside = f"At this set point {listed(others)} would keep every door inside as well{also}." if others else ""
    instead = (
        f"At this set point {listed(others)} would keep every door inside{also}." if others else "At this set point no other rule does."
    )
    words = " ".join(filter(None, (told, beside if one.inside else instead, _first_minute_said(one, then, fault))))
    if not one.inside:
        return Verdict(worst_of([one.status, then.status]), f"{words}{one.unasked_said() or then.unasked_said()}")
    words, kept = f"{words}{then.unasked_said()}", worst_of([one.status, then.status])
    return Verdict(kept if fault == NO_FAULT else worst_of([kept, "attention"]), words)


def _first_minute_said(one, early, fault):
    """What the first minute does to a door that is inside, or less far out, now; nothing where all is as well there."""
    if early.inside or (not one.inside and early.rooms_pa.min() >= one.rooms_pa.min()):
        return ""
    means = early.worst.column.means(early.worst.too)
    shows = f" The display then shows {with_unit(early.reading_pa, 'pressure')}." if fault != NO_FAULT else ""
    return (
        f"That is with the stair at one temperature: in the first minute, as warm as the rooms, {word_of(early.status)}: "
        f"{early.worst.text()}, {means}.{shows}"
    )


def _loop_said(one, fault):
    """What the loop does and what its display says; with a fault, what is there in truth."""
    speed = with_unit(one.speed_hz, "frequency")
    reading = with_unit(one.reading_pa, "pressure") if one.state == "held" else fine(one.reading_pa)
    runs = {
        "at full speed": f"at full speed, {speed}, and can do no more",
        "at lowest speed": f"at its lowest speed, {speed}, and can do no less",
    }.get(one.state, f"at {speed}")
    said = f"The fan runs {runs}; the display shows {reading}"
    if fault == NO_FAULT:
        return f"{said} now."
    true = [with_unit(value, "pressure") for value in one.true_pa[:2]]
    left = ""
    if fault.kind == "left out":
        left = " This is the rule without that reading; what else the fan could do: point 4 of the summary, and page 12."
    third = f", and {with_unit(one.true_pa[2], 'pressure')} at the third" if one.rule == "middle" else ""
    there = f"{true[0]} at the lower transmitter and {true[1]} at the upper one{third}"
    return f"Fault: {FAULTS[fault.kind]}. {said}, while there are {there}.{left}"


def _doors_said(one):
    """The price: of the worst door where one is out, else of the heaviest and the weakest."""
    if one.inside:
        return f"Every shut door is inside. Highest pressure: {one.heaviest.text()}. Lowest pressure: {one.weakest.text()}."
    means = one.worst.column.means(one.worst.too)
    other = one.weakest if one.worst.too == "high" else one.heaviest
    too = f": {other.column.means(other.too)}" if other.out else ""
    return f"Worst: {one.worst.text()}: {means}. At the other end: {other.text()}{too}."


def _also_early(others, early):
    """Which of the rules that keep every door inside do so in the first minute, too, as a clause; nothing where all do."""
    kept = [name for name in others if early[name].inside]
    if len(kept) == len(others):
        return ""
    return (
        f", but in the first minute only {listed(kept)}"
        if kept
        else f", but {'not' if len(others) == 1 else 'neither of them' if len(others) == 2 else 'none of them'} in the first minute"
    )


def _works_said(works, unclosed, rule, fault, first):
    """What keeps every door inside as shown, and what does in every weather as the record asks for it: one figure with the record's.

    unclosed: what would if no door had to close against the pressure; first: which set points do in the first minute, as a clause.
    """
    if works is None and unclosed is not None:
        return (
            "No set point keeps every door inside with this rule: what stops it is the final exit door's closer alone. Were that door "
            f"closed by a power operator, {inside_text(*unclosed)} would{first}."
        )
    if works is None:
        return f"No set point keeps every door inside with this rule now{first}."
    if fault != NO_FAULT:
        only = f"with this fault only {inside_text(*works)} would keep every door inside with this stair air{first}"
        return f"Mend the transmitter, and leave the set point: {only}."
    recorded = rule_bench().recorded_pa(rule)
    always = (
        ""
        if rule == "weighted"
        else f"; {'none' if recorded is None else inside_text(*recorded)} does in every weather and at every warmth of the stair"
    )
    return f"With this rule a set point of {inside_text(*works)} keeps every door inside with this stair air{first}{always}."


page = LessonParts("average_lowest_highest", summary.lines, ("storey_of_the_average", "tallest_stair"))
way_out, task_answers = no_set_point.way_out, answers.task_answers
left_out_told, too_tall_told = answers.left_out_told, answers.too_tall_told
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
