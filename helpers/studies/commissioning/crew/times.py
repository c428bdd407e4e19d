"""The times of a test day against each other: steps in their order, what was told before and given back beside the steps, the fire watch
over all the time in which no alarm starts the fan as it should.

A sheet asks for times of day without their date, and a test goes past midnight: of two times the nearer way round the clock counts; of two
steps that follow each other the later one is taken to be earlier by SLIP at the most, else of the next day. Whether a step's time is of its
beginning or of its end is not asked: what is held here holds for both.
"""

import re
from datetime import date, timedelta
from itertools import pairwise

from helpers.studies.commissioning.hand_back import BEFORE, DECIDED, FIRE_WATCH, closing_lines
from helpers.studies.commissioning.steps.frame import NONE_LAID
from helpers.studies.status import worst_of

FIRST_PART, LAST_PART = "everybody told", "give back"  # of the steps
DAY, HALF_DAY = 1440, 720  # minutes
SLIP = 360  # minutes by which a step may be written as earlier than the one before it, and not be of the next day; ours
LONG_MIN, QUICK = 15.0, 0.5  # planned minutes from which on a step counts as long; share of them in which it is hardly done; ours
WATCH_TIMES = 2  # of a fire watch: from and to
SLIP_OF_TWO = 30  # the same where two watches are written; ours
BOTH_KEPT = " / "  # between what two books say of one line, as `merged` keeps it
_CLOCK = re.compile(r"(?<!\d)(\d{1,2}):(\d{2})(?!\d)")


def clocks_in(text):
    """Minutes since midnight of every time of day in a text, in order; what no clock shows is none.

    >>> clocks_in("AB, 20:30 to 01:55"), clocks_in("25:10"), clocks_in(None)
    ((1230, 115), (), ())
    """
    found = ((int(hours), int(minutes)) for hours, minutes in _CLOCK.findall(text or ""))
    return tuple(60 * hours + minutes for hours, minutes in found if hours < 24 and minutes < 60)


def minutes_of(text):
    """Minutes since midnight of the first time of day in a text; None where there is none.

    >>> minutes_of("yes, 16:40, AB"), minutes_of("AB"), minutes_of(None)
    (1000, None, None)
    """
    return next(iter(clocks_in(text)), None)


def later_by(minutes, than, back=HALF_DAY):
    """By how many minutes one time of day is later than another; below zero where it is earlier, by less than `back` minutes: by default
    the nearer way round the clock.

    >>> later_by(15, 1430), later_by(1430, 15), later_by(1000, 90), later_by(1000, 90, SLIP)
    (25, -25, -530, 910)
    """
    return (minutes - than + back - 1) % DAY - back + 1


def earlier(minutes, than):
    """Whether one time of day lies before another, past midnight too."""
    return later_by(minutes, than) < 0


def clock_said(minutes):
    """Minutes since midnight as a time of day."""
    return f"{minutes % DAY // 60:02d}:{minutes % 60:02d}"


def told_lines(found):
    """The lines of a day that tell what was said before and how it was given back, in order."""
    return (*BEFORE, *closing_lines(found.procedure.rounds.ceiling))


def _watches(found):
    """(from, to) of every fire watch that is written; before them may stand when it was agreed."""
    told = (found.filled.value("told", FIRE_WATCH, "given") or "").split(BOTH_KEPT)
    return [clocks_in(one)[-WATCH_TIMES:] for one in told if len(clocks_in(one)) >= WATCH_TIMES]


def _back(found):
    """By how many minutes a step may be written as earlier than the one before it, and not be of the next day: where two watches are
    written, of two evenings, hardly any."""
    return SLIP if len(_watches(found)) < WATCH_TIMES else SLIP_OF_TWO


def step_clocks(found):
    """(`DayStep`, minutes since midnight) of every step that has a time, in order; of one done on two evenings the time that follows the
    step before it."""
    chosen, back = [], _back(found)
    for step in found.procedure.steps:
        text = found.filled.value("steps", step.number, "time")
        several = clocks_in(text) if BOTH_KEPT in (text or "") else clocks_in(text)[:1]
        if several:
            later = {at: later_by(at, chosen[-1][1], back) if chosen else 0 for at in several}
            chosen.append((step, min(several, key=lambda at, of=later: (not 0 <= of[at] < HALF_DAY, abs(of[at])))))
    return chosen


def _given(found):
    """{line: minutes since midnight} of every line of `told_lines` with a time; a decision's may be of any hour."""
    steps, given = step_clocks(found), {}
    for line in told_lines(found):
        text = found.filled.value("told", line, "given")
        clocks = clocks_in(text)
        if clocks and line != DECIDED:
            twice = steps and line not in BEFORE and BOTH_KEPT in text  # given back on two evenings: the later one is of the last step
            given[line] = min(clocks, key=lambda at: abs(later_by(at, steps[-1][1]))) if twice else clocks[0]
    return given


def late_steps(found):
    """{number of a step: that its time lies before that of the step before it, in words}; steps without a time are passed over."""
    told = {}
    for (before, was), (step, at) in pairwise(step_clocks(found)):
        if later_by(at, was, _back(found)) < 0:
            told[step.number] = (
                f"{clock_said(at)} is before step {before.number}, {clock_said(was)}, which comes first: in which order was it done?"
            )
    return told


def quick_steps(found):
    """{number of a step: that it can hardly have been done in the time since the step before it, in words}: a question and no fault, for
    the minutes of a step are a plan. Only where both are planned long, since a time may be of a step's beginning or of its end."""
    told = {}
    for (before, was), (step, at) in pairwise(step_clocks(found)):
        planned, apart = min(before.minutes, step.minutes), later_by(at, was, _back(found))
        if planned >= LONG_MIN and 0 <= apart < QUICK * planned:
            told[step.number] = f"{apart} min after step {before.number}, {planned:.0f} min planned: are both times right?"
    return told


def out_of_order(found):
    """{line of BEFORE or CLOSING: that its time does not fit in with the steps or with the lines before it, in words}. A line of a step
    lies between the times of the steps before and after it."""
    timed, given, told, latest = step_clocks(found), _given(found), {}, None
    tests = [(step, at) for step, at in timed if step.part not in (FIRST_PART, LAST_PART)]
    own = {line: step.number for step in found.procedure.steps if step.part == LAST_PART for line in step.judged}
    for line, at in given.items():
        if line in BEFORE:
            if tests and line != FIRE_WATCH and earlier(tests[0][1], at):
                told[line] = f"{clock_said(at)} is after step {tests[0][0].number}, {clock_said(tests[0][1])}: told before anything starts"
            continue
        before = [one for one in timed if one[0].number < own.get(line, 0)]
        after = [one for one in timed if one[0].number > own.get(line, len(found.procedure.steps))]
        if before and earlier(at, before[-1][1]):
            step, was = before[-1]
            told[line] = f"{clock_said(at)} is before step {step.number}, {clock_said(was)}: given back before it was done?"
        elif after and earlier(after[0][1], at):
            step, then = after[0]
            told[line] = f"{clock_said(at)} is after step {step.number}, {clock_said(then)}, which comes after it"
        elif latest is not None and earlier(at, given[latest]):
            told[line] = f"{clock_said(at)} is before {latest!r}, {clock_said(given[latest])}, which comes first"
        else:
            latest = line
    return told


def watch_held(found):
    """(status, words) of the fire watch against the clock: it stands from before the first step that leaves the fan where no alarm starts
    it as it should, until the stair is given back; ("good", "") where it does, or where its line has no two times.

    Times run on from step to step, so that a test may last longer than half a day. CHECK where the steps' times are not in order, or where
    none is written. Steps more than SLIP apart are of two evenings: each needs a watch of its own, in their order, or the same hours on
    each, which somebody has to be asked about. Limits: a watch of a day or more counts as what is over whole days of it, on the safe side;
    of what was given back on the first of two evenings the time is not held against its watch.
    """
    watches = _watches(found)
    if not watches:
        return "good", ""
    clocks = watches[-1]
    run, away = [], None
    for step, at in step_clocks(found):
        run.append(at if not run else run[-1] + later_by(at, run[-1], _back(found)))
        if away is None and step.away and not step.against and step.limit != NONE_LAID:
            away = len(run) - 1
    lines = [at for line, at in _given(found).items() if line not in BEFORE]
    evenings = _evenings(run, away or 0)
    if len(evenings) > 1 and (len(watches) > 1 or _short(evenings[0][0], max(run), clocks)):
        return _each_evening(evenings, watches, [run[-1] + later_by(at, run[-1]) for at in lines])
    if not run and not lines:
        return "attention", "no step and no line given back has a time: does the watch stand until then?"
    anchor = run[-1] if run else lines[-1]
    ends = [*run, *(anchor + later_by(at, anchor) for at in lines)]
    start = run[away or 0] if run else None
    begins = clocks[0] if start is None else start + later_by(clocks[0], start)
    if start is None:
        begins = anchor - (anchor - clocks[0]) % DAY
    until = begins + (clocks[1] - clocks[0]) % DAY
    said = []
    if start is not None and begins > start:
        said.append(f"watch begins {clock_said(clocks[0])}, the fan is out of readiness from {clock_said(start)}")
    if until < max(ends):
        said.append(f"watch ends {clock_said(clocks[1])}, the stair is not given back until {clock_said(max(ends))}")
    if said:
        return "wrong", "; ".join(said)
    return ("attention", "the times of the steps are not in order: does the watch stand over all of them?") if late_steps(found) else (
        "good", "")  # fmt: skip


def _evenings(run, away):
    """Times of steps that run on, from the first of them that leaves the fan out of readiness, as a list for each evening."""
    found = []
    for at in run[away:]:
        if not found or at - found[-1][-1] > SLIP:
            found.append([])
        found[-1].append(at)
    return found


def _short(start, end, clocks):
    """How a watch (from, to) falls short of times that run on, in words; "" where it does not."""
    begins = start + later_by(clocks[0], start)
    until = begins + (clocks[1] - clocks[0]) % DAY
    late = f"watch begins {clock_said(clocks[0])}, the fan is out of readiness from {clock_said(start)}" if begins > start else ""
    early = f"watch ends {clock_said(clocks[1])}, the stair is not given back until {clock_said(end)}" if until < end else ""
    return "; ".join(filter(None, (late, early)))


def _each_evening(evenings, watches, given):
    """(status, words) of the watches of several evenings; given: times of what was given back, running on, of the last evening."""
    ends = [*(max(one) for one in evenings[:-1]), max(*evenings[-1], *given)]
    own = watches if len(watches) == len(evenings) else [watches[-1]] * len(evenings)
    short = [_short(min(one), end, clocks) for one, end, clocks in zip(evenings, ends, own, strict=True)]
    said = [f"evening {number}: {words}" for number, words in enumerate(short, 1) if words]
    if said and (len(watches) == len(evenings) or len(watches) == 1):
        return "wrong", "; ".join(said)
    if len(watches) == len(evenings):
        return "good", ""
    return "attention", f"the steps are of {len(evenings)} evenings, the watch is written for {len(watches)}: did it stand on each of them?"


def timed(state, words, seen, at):
    """(status, words) of a step as they stand with its time: ticked without one it is no PASS; at: what is written as its time."""
    if seen is None or minutes_of(at) is not None:
        return state, words
    told = f"no time of day in it: {at!r}" if at else "no time of it is written"
    return worst_of((state, "open")), "; ".join(filter(None, (words, told)))


def to_come(found):
    """That the date of `FilledSheets` is still to come by this machine's clock, in words with its cell; "" where it is not,
    or none is written. A day is left for the time zones."""
    written = found.readings.get(("day", "date", "found"))
    day = None if written is None else written.value
    if day is None or day <= (date.today() + timedelta(days=1)).isoformat():  # dates as year-month-day sort as they follow
        return ""
    return f"dated {day} ({written.where}), which is still to come: read the date again"
