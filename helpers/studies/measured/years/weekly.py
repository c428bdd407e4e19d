"""What the self-tests between the test days say, in words and tables: what is out since when, what to do about it, the weeks missed."""

import numpy as np

from helpers.studies.commissioning.hand_back import LAST
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.years.self_tests import LOG, WEEK, SelfTestLog, TestedThing, names
from helpers.studies.report import Finding, Table, listed
from helpers.studies.status import ONE_LINE

SELF_TEST_NOTE = (
    "A self-test every week is asked by NFPA 92 (from memory, not verified). A week counts as tested where a line of it can be read. A "
    "year is 52 weeks back from the last test day, or from the last line where that is later."
)
OWN_LIMIT = "a self-test's limit is the log's own, of what it tests alone (a zero at rest); the accuracy is of any reading of the range"
MOST_NAMED = 6  # weeks missed that are named one by one
LOWER_COUNTS = "where page 18 has a lower ceiling by a later test, that counts"  # beside every manual speed


def table_of(log: SelfTestLog | None, site, *measured):
    """(table or None, findings) of the log of the self-tests; measured: the site as its last test found it, whose ceiling counts beside."""
    if log is None:
        return None, []
    rows = tuple(
        (one.what, "" if one.now is None else f"since {week_said(one.now[0])}{f': {one.now[2]}' if one.now[2] else ''}",
         f"{one.out} of {one.tested}", f"{one.out_before} of {one.tested_before}" if one.tested_before else "not tested")
        for one in log.beside
    )  # fmt: skip
    findings = [
        Finding("wrong", f"Self-test failed: {one.what}", f"since {week_said(one.now[0])}{f': {one.now[2]}' if one.now[2] else ''}",
                f"{one.now[1]} {'test' if one.now[1] == 1 else 'tests'} of it, none good since; {OWN_LIMIT}", LOG,
                _mending(one, site, *measured))
        for one in log.beside if one.now is not None
    ]  # fmt: skip
    if log.missed:
        what = "1 week without a self-test" if len(log.missed) == 1 else f"{len(log.missed)} weeks without a self-test"
        weeks, why = _missed_briefly(log, ONE_LINE - len(what) - 2), "nobody logged one, or its line cannot be read"
        findings.append(Finding("attention", what, weeks, why, LOG, "ask who tests"))
    columns = "Self-test", "Out now", "Out in the last year", "Out in the year before"
    missed = f"Weeks missed: {log.missed_within(0)} in the last year, {log.missed_within(1)} in the year before. {missed_said(log)} "
    states, note = tuple(one.state for one in log.beside), missed + SELF_TEST_NOTE
    return Table("self-tests", "Self-tests of every week", columns, rows, states, note), findings


def week_said(day):
    """The week of a date, as calendars number it (ISO 8601).

    >>> from datetime import date
    >>> week_said(date(2026, 4, 30))
    'week 18 of 2026'
    """
    about = day.isocalendar()
    return f"week {about.week} of {about.year}"


def missed_said(log: SelfTestLog):
    """The weeks missed, the latest first, so many at most; "" for none."""
    runs = [_run_said(*run) for run in reversed(log.missed_runs)]
    more = f", and {len(runs) - MOST_NAMED} times before" if len(runs) > MOST_NAMED else ""
    return f"Missed: {', '.join(runs[:MOST_NAMED])}{more}." if runs else ""


def _run_said(first, weeks):
    """Weeks missed on end, from the first Monday on, so that a reader can count them.

    >>> from datetime import date
    >>> _run_said(date(2025, 12, 15), 1), _run_said(date(2025, 12, 15), 2), _run_said(date(2025, 12, 15), 3)
    ('week 51 of 2025', 'weeks 51 and 52 of 2025', 'week 51 of 2025 to week 1 of 2026')
    """
    last = first + (weeks - 1) * WEEK
    (year, week, _), (last_year, last_week, _) = first.isocalendar(), last.isocalendar()
    if weeks == 1:
        return week_said(first)
    if year != last_year:
        return f"{week_said(first)} to {week_said(last)}"
    return f"weeks {week} {'and' if weeks == 2 else 'to'} {last_week} of {year}"


def _missed_briefly(log, letters):
    """The latest weeks missed in so many letters, and how many weeks are not named; nothing is cut off that a reader would count."""
    runs = log.missed_runs[::-1]
    for named in range(len(runs), 0, -1):
        left = sum(weeks for _, weeks in runs[named:])
        text = ", ".join(_run_said(*run) for run in runs[:named]) + (f", {left} before" if left else "")
        if len(text) <= letters:
            return text
    return f"the latest {week_said(log.missed[-1])}"


def _mending(one: TestedThing, site, *measured):
    """What is to be done about a thing that is out in its self-test, in steps: who approves and is told, who may open the panel, up to
    which speed the fan runs by hand, what is taken out, and how the stair is given back."""
    taps = [tap.name for tap in site.transmitters if names(one.what, tap.name)]
    steps = [
        "the owner approves the mending in writing, and the authority where an entry of the drive changes",
        "owner, alarm service and fire service are told that the stair is impaired",
        "only who is qualified opens the panel, for work at terminals isolated, locked out, left until discharged, proved dead",
    ]
    if taps:
        zero = "its zero" if len(taps) == 1 else "their zeros"
        steps.append(f"one person stays at the drive, fan in MANUAL, {_by_hand(site, *measured)}")
        steps.append(f"at {listed(taps)}: {zero} against a gauge, written down as found, then set")
        steps.append(f"still out: take {listed(taps)} out of the combined reading as page 12's record has it on a failed reading")
    steps += [
        "mend it",
        "test again",
        f"where the test passes, seen to answer in AUTOMATIC. {LAST}",
        "all three are told again, with the time",
    ]
    return "; ".join(f"{number}. {step}" for number, step in enumerate(steps, 1))


def _by_hand(*sites):
    """Up to which speed the fan is run by hand with nobody at a final exit, by that of some sites which bears least, in words."""
    slowest = min((ceiling_of(site) for site in sites), key=lambda one: -np.inf if np.isnan(one.by_hand_hz) else one.by_hand_hz)
    return f"to {slowest.by_hand_said} ({LOWER_COUNTS})" if slowest.by_hand_said else "at no speed: each puts a door past its limit"


def self_tests_said(log: SelfTestLog | None):
    """What is out and how many weeks were missed, in a sentence; "" where there is no log, or nothing to say."""
    if log is None:
        return ""
    out = [one.what for one in log.beside if one.now is not None]
    told = [f"out now: {listed(out)}"] if out else []
    told += [f"{log.missed_within(0)} weeks missed in the last year, {log.missed_within(1)} in the year before"] if log.missed else []
    return f"Self-tests: {'; '.join(told)}." if told else ""
