"""What the tests of several years say, in words and tables: the building, what drifts in it, and the self-tests between."""

import numpy as np

from helpers.studies.measured.fitted import NINETY
from helpers.studies.measured.intervals import at_limit, error_said
from helpers.studies.measured.remarks import KIND_SAID
from helpers.studies.measured.told import LIMITS
from helpers.studies.measured.years.building import Years
from helpers.studies.measured.years.drift import AHEAD_YEARS, LEAST_DAYS, SET, Drift, out_of_limit, past_said
from helpers.studies.measured.years.self_tests import SelfTestLog
from helpers.studies.measured.years.weekly import self_tests_said, table_of
from helpers.studies.report import Finding, Section, Table, limit_text, listed, signed
from helpers.units.said import with_unit

METHOD = "straight line through the years, 90 % interval; common practice, no source"
ERROR_DIGITS = (2, 4)  # of a device's error and its accuracy, wherever either stands
DEVICE_NOTE = (
    "An error is what is shown less what is there, as found; what was set back is put back before the line is drawn. Check next: where the "
    "90 % interval of the error reaches the accuracy. To set that date by the drift is common practice, no source. The "
    "accuracy is of any reading of its range."
)
LEAF_NOTE = (
    "Force to set the leaf in motion, fan off. Most: the limit less what the pressure adds in the worst of the design's weathers. Least, "
    "where the pressure pushes the leaf open: what the closer needs to shut it. Both for the building of the last test. Where the pressure "
    "holds the leaf shut no least is worked out, and a force alone does not prove that its closer shuts and latches it: let go with the "
    "fan off and on, seen to latch, and written down; until then such a leaf is no PASS here."
)
KNOWN_TIMES = 10.0  # a leak whose 90 % interval is wider than this, of its lower end, is not known: ours
PAST_NOW = "past it now"
BESIDE_NOTE = (
    f"Fewer than {LEAST_DAYS} dates are no trend, and none is claimed: figures side by side, and what lies between them. The building's "
    "figures are those of each day's own fit, so that days of unlike weather stand beside each other, each with its 90 % interval. Both "
    "are pulled towards the site file's figure and look more alike than the buildings are: the change is therefore worked out with that "
    "pull taken out, and need not be the share of one figure in the other. Not sure: its 90 % interval holds no change at all."
)
OUT_NOW = "now: out in its self-test"


def years_told(years: Years) -> Section:
    """What the tests of several years say, as a section."""
    log, measured = years.self_tests, [fit.site for fit in years.fits[-1:] if not fit.misfits.doubted]
    parts = [_building(years), _devices(years.devices, log), _leaves(years.leaves), beside(years), table_of(log, years.site, *measured)]
    tables = [table for table, _ in parts if table is not None]
    if years.left_out:
        states = ("attention",) * len(years.left_out)
        tables.append(Table("left out", "What could not be used", ("File", "Why"), years.left_out, states))
    notes = (*(f"{note[0].upper()}{note[1:]}." for note in years.notes), *LIMITS)
    findings = tuple(finding for _, found in parts for finding in found)
    return Section("years", "Year after year", in_short(years), (), tuple(tables), findings, (), notes)


def in_short(years: Years):
    """All of it in some sentences: the self-tests and what is out, what is due or drifts; then changes, and what they come to."""
    first = (
        f"{years.site.name}:",
        self_tests_said(years.self_tests),
        devices_said(years.devices, years.self_tests),
        leaves_said(years.leaves),
    )
    return " ".join(filter(None, (*first, changes_said(years), ahead_said(years))))


def _building(years):
    columns = "What", "Since", "By the trend now", "90 % interval", "A year"
    rows = tuple(
        (KIND_SAID[one.kind], f"{one.since}", *((change_text(one.times), f"{change_text(one.low)} to {change_text(one.high)}")
         if one.high < KNOWN_TIMES * one.low else ("not known", "wider than the tests can tell")),
         change_text(one.a_year[0]) if one.sure else "no change that is sure")
        for one in years.changes
    )  # fmt: skip
    states = tuple("attention" if one.sure else "" for one in years.changes)
    why, remedy = "another gauge, a door ajar, a repair", "look at that day's sheet and gauges"
    findings = [
        Finding("attention", f"The test of {day} is off the trend: {KIND_SAID[kind].lower()}", "", why, METHOD, remedy)
        for day, kind in years.strange
    ]
    findings += [
        Finding("attention", f"{KIND_SAID[one.kind]} leak {change_text(one.times)} since {one.since}",
                f"{change_text(one.low)} to {change_text(one.high)}", "a trend that is sure, over the days' own fits", METHOD,
                "look for what was opened or has worn; the record of the fitted site (page 12)")
        for one in years.changes if one.sure
    ]  # fmt: skip
    for fit in years.fits:
        if count := len(fit.strange):
            what = f"The test of {fit.readings.day.date}: {count} {'reading does' if count == 1 else 'readings do'} not fit its building"
            findings.append(Finding("attention", what, fit.readings.said(fit.strange[0]), why, METHOD, remedy))
    if (ahead := years.ahead) is not None and ahead.out_in() == ahead.first:
        out = f"{ahead.door[0].upper()}{ahead.door[1:]} is out, or the set point is not held, in the building of the last test"
        ask = "the designer, with the record of the fitted site (page 12)"
        findings.append(Finding("wrong", out, "", "design's weathers, all doors shut", METHOD, ask))
    return Table("changes", "Year after year, each day brought to its building", columns, rows, states) if rows else None, findings


def month_said(year):
    """A date, as a year with its share, to the month.

    >>> month_said(2029.0), month_said(2028.96)
    ('2029-01', '2028-12')
    """
    return f"{int(year)}-{min(int(12 * (year % 1)) + 1, 12):02d}"


def reaches_said(course: Drift):
    """When a `Drift` reaches its limit, in words."""
    beyond = f"not before {int(course.at[-1]) + AHEAD_YEARS}"
    if course.past:
        return PAST_NOW
    first, middle, _ = course.passes
    if middle == course.at[-1]:
        return PAST_NOW
    if middle is None:
        return beyond if first is None else f"{beyond} by the line; {month_said(first)} at the earliest"
    return f"{month_said(middle)}; {month_said(first)} at the earliest"


def _a_year(course):
    """Its drift a year with the 90 % interval, in words."""
    line, digits = course.line, {"pressure": (2, 4), "force": (1, 1)}[course.dimension]
    low, high = (signed(line.slope + way * line.slope_half, course.dimension, digits) for way in (-1, 1))
    return f"{signed(line.slope, course.dimension, digits)} ({low} to {high})"


def beside(years: Years):
    """(table or None, no findings): each figure of the last test beside that of the first, where the tests are too few for a trend."""
    dates = sorted({fit.readings.day.date for fit in years.fits})
    if not 1 < len(dates) < LEAST_DAYS:
        return None, []
    rows = [
        *_factors_beside(years),
        *_courses_beside(years.leaves, ", fan off"),
        *_courses_beside(years.devices, ", error had nothing been set back"),
    ]
    columns = "What", f"First, {dates[0]}", f"Last, {dates[-1]}", "Change"
    return Table("beside", "The last test beside the first", columns, tuple(rows), note=BESIDE_NOTE), []


def _factors_beside(years):
    """Rows of the building's factors by the day alone, each with its 90 % interval."""
    for kind in years.fits[0].unknowns.kinds:
        values, errors = (some[[0, -1]] for some in years.as_fitted(kind))
        ends = np.exp(values[:, None] + NINETY * errors[:, None] * np.array([0.0, -1.0, 1.0]))
        shown = [f"{middle:.2f} x ({low:.2f} to {high:.2f})" if np.isfinite(middle) else "the day says nothing of it"
                 for middle, low, high in ends.tolist()]  # fmt: skip
        values, errors = (some[[0, -1]] for some in years.factors(kind))
        between, off = float(values[1] - values[0]), NINETY * float(np.hypot(*errors))
        sure = "" if abs(between) > off else ", not sure"
        yield KIND_SAID[kind], *shown, f"{change_text(np.exp(between))}{sure}" if np.isfinite(between) else ""


def _courses_beside(courses, what):
    """Rows of devices or leaves that both tests tell of."""
    for one in courses:
        if len(one.at) > 1:
            digits = (2, 4) if one.dimension == "pressure" else (0, 1)
            first, last = one.values[0], one.values[-1]
            shown = (with_unit(value, one.dimension, digits) for value in (first, last))
            yield f"{one.name}{what}", *shown, signed(last - first, one.dimension, digits)


def _devices(courses, log):
    """(table or None, findings) of the devices' errors."""
    if not courses:
        return None, []
    rows, findings = [], []
    for one in courses:
        accuracy = error_said(one.today, one.most)[1] if one.limited else "not stated"
        if one.refused:
            at = with_unit(one.last, "pressure", ERROR_DIGITS)
            rows.append((one.name, one.refused, at, accuracy, *((PAST_NOW, "now") if one.past else ("", ""))))
            findings += [_of_device(one, log)] if one.past else []
            continue
        due, reaches = (due_said(one, log), reaches_said(one)) if one.limited else ("", "")
        rows.append((one.name, _a_year(one), with_unit(one.today, "pressure", ERROR_DIGITS), accuracy, reaches, due))
        findings += [_of_device(one, log)] if one.state in ("wrong", "attention") else []
    columns = "Device", "Drift a year, 90 % interval", "Error left now, by the line", "Accuracy", "Reaches it", "Check next"
    return Table("devices", "Transmitters and gauges: errors as found", columns, tuple(rows), _states(courses), DEVICE_NOTE), findings


def due_said(course: Drift, log: SelfTestLog | None = None):
    """When a device is to be checked next, in words: now where the log of the self-tests has it out, whatever its drift."""
    if log is not None and log.names_out(course.name):
        return OUT_NOW
    first = course.at[-1] if course.past else course.passes[0]
    if first is None:
        return f"at its usual date: no drift reaches it before {int(course.at[-1]) + AHEAD_YEARS}"
    return "now" if first <= course.at[-1] else f"by {month_said(first)}"


def _of_device(one, log):
    if one.state == "wrong":
        what, why = f"{one.name} is past its accuracy", "set it back, and look at what it has read since its last check"
    elif one.strange:
        what = f"{one.name}: the test of {listed(map(month_said, one.strange))} is off the line"
        why = "another reference, a knock, a repair"
    else:
        what, why = f"{one.name} may drift beyond its accuracy before the next test", "its drift so far, with its interval"
    figure = "error {} now, accuracy {}".format(*error_said(one.today, one.most)) if one.limited else ""
    return Finding(one.state, what, figure, why, METHOD, f"check it {due_said(one, log)}")


def devices_said(courses, log: SelfTestLog | None = None):
    """Which devices are due before the next test, in a sentence; "" for none."""
    due = [f"{one.name} {due_said(one, log)}" for one in courses if one.state in ("wrong", "attention")]
    return f"Check before the next test: {listed(due)}." if due else ""


def trend_said(course: Drift):
    """What a leaf's closer does, in words: past which limit it is, when it fails it, as `reaches_said`, or that there is no trend."""
    if course.past:
        return past_said(course)
    if course.refused:
        return course.refused
    middle = course.passes[1]
    if middle == course.at[-1]:
        return past_said(course)
    if not course.line.sure:
        return "no trend"
    grows = "stiffens" if course.line.slope > 0 else "slackens"
    if middle is None:
        return f"{grows}, its limit {reaches_said(course)}" if course.limited else grows
    return f"{grows}, fails its limit {reaches_said(course)}"


def _leaves(courses):
    """(table or None, findings) of the leaves' forces."""
    if not courses:
        return None, []
    rows, findings = [], []
    for one in courses:
        ends = zip(("least", "most"), (one.least, one.most), strict=True)
        limit = ", ".join(f"{word} {limit_text(end, 'force', word)}" for word, end in ends if np.isfinite(end)) or "none asked"
        limit += "" if one.latches else "; latching not proved"
        last = with_unit(one.values[-1], "force")
        rows.append((one.name, last, "" if one.refused else _a_year(one), limit, trend_said(one)))
        findings += [_of_leaf(one)] if one.state in ("wrong", "attention") else []
    columns = "Leaf", "Fan off, last test", "A year, 90 % interval", "Its limits", "Trend"
    return Table("leaves", "Closers: force with the fan off", columns, tuple(rows), _states(courses), LEAF_NOTE), findings


def _of_leaf(one):
    end = "most" if np.isfinite(one.most) and one.today - one.least > one.most - one.today else "least"
    figure = " of ".join(at_limit(one.today, one.most if end == "most" else one.least, "force", end))
    if one.state == "wrong":
        what, why, remedy = out_of_limit(one)
        return Finding("wrong", f"The closer of {one.name} is {what}", past_said(one, named=False), why, METHOD, remedy)
    what = f"The closer of {one.name}: {trend_said(one)}"
    if one.state == "attention" and not one.strange and not one.line.sure:
        what = f"The closer of {one.name} is near its limit"
    elif one.state == "attention" and one.strange:
        what = f"The closer of {one.name}: the test of {listed(map(month_said, one.strange))} is off the line"
    return Finding(one.state, what, figure, "its forces over the years, fan off", METHOD, SET)


def leaves_said(courses):
    """Which closers drift, in a sentence; "" for none."""
    told = [f"{one.name} {trend_said(one)}" for one in courses if one.state == "wrong" or (not one.refused and one.line.sure)]
    return f"Closers: {'; '.join(told)}." if told else ""


def _states(courses):
    return tuple(one.state for one in courses)


def change_text(times):
    """A factor as a change in whole per cent.

    >>> change_text(1.184), change_text(0.95), change_text(1.001)
    ('+18 %', '-5 %', '0 %')
    """
    share = round(100 * (times - 1))
    return f"{share:+d} %" if share else "0 %"


def changes_said(years: Years):
    """The sure changes in a sentence each."""
    if not years.changes:
        count = len(years.fits)
        return f"{count} {'test' if count == 1 else 'tests'}: for a trend there must be three that tell something of the same leak."
    told = [f"{KIND_SAID[one.kind]} {change_text(one.times)} ({change_text(one.low)} to {change_text(one.high)}) since {one.since}."
            for one in years.changes if one.sure]  # fmt: skip
    return " ".join(told) or f"No change that is sure over {len(years.fits)} tests since {years.changes[0].since}."


def ahead_said(years: Years):
    """When a shut door would be out if the sure changes go on, in a sentence; "" where nothing is sure."""
    ahead = years.ahead
    if ahead is None:
        return ""
    middle, slow, fast = (ahead.out_in(which) for which in range(3))
    goal = with_unit(years.site.control.set_point_pa, "pressure")
    if middle == ahead.first:
        return f"As it is now, {ahead.door} is out in the design's weathers or the set point is not held: see the test day."
    if middle is None and fast is None:
        room = with_unit(float(ahead.rooms_pa[:, -1].min()), "pressure", (1, 3))
        return (
            f"If it goes on like this, all doors shut and {goal} truly held, every door here stays inside in the design's weathers "
            f"until {ahead.first + AHEAD_YEARS} at least; "
            f"the worst door, today {ahead.door}, then has {room} of room by the fastest of these changes."
        )
    last = f"{slow}" if slow else f"after {ahead.first + AHEAD_YEARS}"
    return f"If it goes on like this, the first shut door is out in {middle or last} ({fast} to {last}), all doors shut, design's weathers."
