"""What a test day proves, in words and tables: the building as found, its doors in the design's weathers, what to measure next."""

import textwrap
from dataclasses import replace

from helpers.model.site.file import write_site
from helpers.studies.cases import AFTER_AN_HOUR, design_states_doors
from helpers.studies.doors.forces import ELSE_THAN_CLOSER, closing_said
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.measured.forecast import EVEN_SHARE, SURE_SHARE, Forecast, accuracies_pa, all_together, most_telling
from helpers.studies.measured.intervals import (
    ENDS,
    at_limit,
    beside_window,
    error_said,
    nearer_pa,
    past_limit,
    percent,
    spread_text,
    sure_said,
    window_text,
)
from helpers.studies.measured.remarks import (
    KIND_SAID,
    NOT_BELIEVED,
    above_ceiling_said,
    doubt_briefly,
    doubt_said,
    gauges_said,
    misfits_said,
    strange_table,
    unread_said,
)
from helpers.studies.measured.stops import new_ceiling_said, stops_table
from helpers.studies.report import Finding, Section, Table, apart, fine, listed
from helpers.studies.status import SPARE_PA, word_of
from helpers.units.said import shown_apart, with_unit

PULLED = 0.1  # share of the way to the truth that is left out, from which on it is told; ours
JANUARY = "winter"  # the weather that a day in May is asked about: how its cases begin
METHOD = "mean of what the day leaves possible; intervals hold nine truths of ten (tried on drawn buildings)"
# The figures of a run of it: 200 buildings of Larkfield House, each with a January; standard errors 0.4, 0.9, 6 per cent in this order.
TRIED = (
    "Tried on 200 made-up buildings: 90 % intervals hold 90 % of the truths, by kind 86 to 94 %, those of "
    "January's doors 87 %. Walls and doors of the stair come out 2 % high (storeys scatter to either side by the same factor, so that "
    "their mean lies above their middle: the fit finds the mean), a shut damper's leak 3 % low; no other figure is off by more than "
    "chance, and of the slabs chance is 6 %."
)
LIMITS = (
    "Not tried: other weathers than the site file's, gusts, a failed reading, a stuck damper, doors and closers that change. The design "
    "record of the fitted site file (page 12) tries those; only it lays a figure down.",
    "Local code, the approved design and the authority having jurisdiction decide what a test day proves.",
)


def factor_table(fitted: FittedBuilding) -> Table:
    """The factors, each with its interval and what the day says of it."""
    rows = tuple(
        (
            KIND_SAID[one.kind],
            f"{one.factor:.2f} x" if one.found else "as the file has it",
            f"{one.low:.2f} to {one.high:.2f}",
            f"{percent(1 - one.left)} narrower" if one.found else "nothing: as wide as before",
        )
        for one in fitted.factors
    )
    note = fitted.not_told_apart
    apart_said = f"{note[0].upper()}{note[1:]}. " if note else ""
    columns = "What", "Found", "90 % interval", "What the day tells of it"
    return Table("factors", "The building against its site file", columns, rows, note=f"{apart_said}{pulled_said(fitted)}".strip())


def pulled_said(fitted: FittedBuilding):
    """Which figures the day can hardly see, and what that does to them, in sentences; "" where it sees all of them well.

    left: share of the spread before the day that is left; in logs a figure is then found at 1 - left^2 of its way from the file's to the
    truth, on the mean of buildings drawn by the prior (linear, Gaussian; held on drawn buildings by tests/bench/coverage_of_fit.py).
    """
    weak = [one for one in fitted.factors if one.found and one.left**2 > PULLED]
    if not weak:
        return ""
    told = listed([f"{KIND_SAID[one.kind].lower()} {percent(1 - one.left**2)}" for one in weak])
    return (
        "What the day can hardly see is pulled to the published figure, the site file's, and stands too near to it: on the mean it is "
        f"found so much of the way from there to what the building has: {told}. Take such a figure by its interval and not by its middle; "
        "January's intervals have the pull in them."
    )


def door_table(found: Forecast, shut=True, set_point_pa=None) -> Table:
    """The doors in their worst case of the design's weathers, the least sure first."""
    doors = found.by_door(shut, set_point_pa)
    rows = tuple(
        (
            one.door,
            one.case,
            beside_window(one.pressures_pa[::2], one.window_pa),
            window_text(one.window_pa),
            _force_text(one.force_n),
            percent(one.probability),
        )
        for one in doors
    )
    what = "doors shut" if shut else "doors open"
    opened = "the doors of the design open" if design_states_doors(found.fitted.readings.site) else "two stair doors open, then an exit too"
    title = f"Doors in the design's weathers: {'all doors shut' if shut else opened}"
    columns = "Door", "Worst case", "Pressure, 90 % interval", "Window", "Force at the handle, the most of all cases", "Inside in"
    return Table(what, title, columns, rows, tuple(one.state for one in doors), _judged_said(found, shut))


def _judged_said(found, shut):
    """How the doors of a table are judged, whose open doors they are, and how often the fan does not hold the set point, in sentences."""
    told = [
        f"{word_of('good')}: inside in at least {percent(SURE_SHARE)} of the buildings that fit, over all cases, with {fine(SPARE_PA)} of "
        f"room in the middle of them in the worst case. {word_of('wrong')}: inside in {percent(EVEN_SHARE)} of them or fewer. "
        f"{word_of('attention')}: between, or doubted. The worst case is the one in which the door is inside in fewest buildings; its "
        "pressure stands beside it, the share is of all cases."
    ]
    if not shut and not design_states_doors(found.fitted.readings.site):
        told.append(
            "The site file states no doors that the design takes as open at once (open_doors and open_exits under [design]): open are "
            "those that procedure and record play. Which count, the code and the approved design decide: ask the designer."
        )
    short = [(share, case.name) for share, case in zip(found.own.held.mean(axis=0).tolist(), found.cases, strict=True) if case.shut == shut]
    if short and min(short)[0] < 1:
        share, case = min(short)
        told.append(f"The fan holds the site's set point in {percent(share)} of the buildings only in {case}.")
    return " ".join(told)


def _force_text(force_n):
    """A door's force at the handle at the upper end of all cases, with its limit."""
    return "" if force_n is None else " of ".join(at_limit(*force_n, "force", "most"))


def furthest_out(some):
    """The `DoorForecast` that a headline is of: of those that are FAIL the furthest out in its worst case, else the least sure, of several
    as sure the one with least room."""
    least = min(some, key=lambda one: (one.probability, one.room_pa))
    return max((one for one in some if one.state == "wrong"), key=lambda one: nearer_pa(one)[0], default=least)


def weather_of(one):
    """The weather of a door's worst case, as its name begins with it."""
    return one.case.partition(",")[0]


def middle_tile(one):
    """(what, value, limit) of a door in its worst case: the middle of the buildings, as its headline has it, and the interval beside its
    name."""
    _, limit, word = nearer_pa(one)
    interval = beside_window(one.pressures_pa[::2], one.window_pa)
    value, limit = at_limit(one.pressures_pa[1], limit, "pressure", ENDS[word])
    return f"{one.door.capitalize()}, {weather_of(one)}, {interval}", value, f"{word} {limit}"


def door_head(one, when=""):
    """A door in a headline: by how much it is out, or how sure it is inside; when: the weather it is out in, where there are several."""
    if one.state == "wrong":
        return past_limit(one.pressures_pa[1], nearer_pa(one)[1], "pressure", f"at {one.door}{f' in {when}' * bool(when)}")
    door, share = f"{one.use.capitalize()} {one.level}", percent(one.probability)
    if one.state == "attention" and one.probability >= SURE_SHARE:
        return f"{door}: {fine(one.room_pa)} left" if one.room_pa < SPARE_PA else f"{door}: inside in {share}, but the readings do not fit"
    return f"{door} {'may be out: inside in' if one.state == 'attention' else 'inside:'} {share} of buildings"


def fitted_told(fitted: FittedBuilding, found: Forecast) -> Section:
    """What the day says, as a section: verdict, tables, findings, limits."""
    doors = [found.by_door(shut) for shut in (True, False)]
    tables = [factor_table(fitted), *(door_table(found, shut) for shut, some in zip((True, False), doors, strict=True) if some)]
    tables += [strange_table(fitted)] if fitted.strange else []
    site = fitted.site
    findings = [_of_door(one, shut, site) for shut, some in zip((True, False), doors, strict=True) for one in _furthest_first(some)]
    if fitted.misfits.doubted:
        findings.insert(0, _of_doubt(fitted))
    if fitted.strange:
        findings.append(_of_strange(fitted))
    findings += [_of_slip(sentence) for sentence in fitted.slips] + [_of_left_out(sentence) for sentence in fitted.left_out]
    findings += [_of_ceiling(sentence) for sentence in above_ceiling_said(fitted.readings)]
    tables += [stops_table(fitted), next_table(most_telling(found))]
    notes = (
        *unread_said(fitted.readings),
        transmitters_said(fitted.readings.site),
        *gauges_said(fitted),
        *left_out_said(found),
        TRIED,
        *LIMITS,
    )
    return Section("fitted", "The building as its test day found it", verdict(found), (), tuple(tables), tuple(findings), (), notes)


def left_out_said(found: Forecast):
    """How many of the drawn buildings are not in a forecast, in a sentence; nothing for none."""
    if lacking := found.drawn - len(found.kept):
        yield f"{lacking} of {found.drawn} drawn buildings gave no pressure at some speed of the fan: left out of every share."


def transmitters_said(site):
    """By how much the loop's transmitters may be off in every forecast, in a sentence."""
    errors = zip(site.transmitters, accuracies_pa(site).tolist(), strict=True)
    off = ", ".join(f"{tap.name} {error_said(0.0, error)[1]}" for tap, error in errors)
    return f"The loop holds what its transmitters show, and each may be off by its accuracy: {off}. That is in every interval and share."


def verdict(found: Forecast, set_point_pa=None):
    """What the doors come to, in two sentences; before them, where it is so, that the fit is not to be believed."""
    return " ".join(filter(None, (doubt_said(found.fitted), _doors_said(found, set_point_pa))))


def first_lines(found: Forecast):
    """What is told first: the verdict, and where the ceiling of speed came down, that one with what to do."""
    return [line for line in (verdict(found), new_ceiling_said(found.fitted)) if line]


def _doors_said(found, set_point_pa):
    now = found.own if set_point_pa is None else found.at(set_point_pa)
    goal = with_unit(found.fitted.readings.site.control.set_point_pa if set_point_pa is None else set_point_pa, "pressure")
    worst = min((*found.by_door(True, set_point_pa), *found.by_door(False, set_point_pa)), key=lambda one: one.probability)
    first = f"Of the buildings that this day leaves possible {percent(now.probability)} keep every door, and the set point of {goal}"
    if worst.probability >= 1:
        return f"{first}, in {len(found.cases)} cases of the design's weathers."
    return f"{first}. Least sure: {worst.door}, inside in {percent(worst.probability)}, {worst.case}."


def state_of(found: Forecast, set_point_pa=None):
    """Key of the status of all doors together: PASS only where every door is inside in SURE_SHARE of the buildings at once."""
    now = found.own if set_point_pa is None else found.at(set_point_pa)
    doors = (*found.by_door(True, set_point_pa), *found.by_door(False, set_point_pa))
    return all_together(doors, now.probability)


def set_points_said(found: Forecast):
    """Which set points suit the fitted building in the design's weathers; a proposal to try in the record, never one to enter."""
    if found.fitted.misfits.doubted:
        return "none is proposed: the readings do not fit one building"
    if found.suits is not None:
        low, high = found.suits
        sure = f"in {percent(SURE_SHARE)} of the buildings or more"
        return f"set points of {spread_text(low, high)} keep every door {sure}: make the record at one of them"
    best, share = found.best
    if share == 0:
        return "no set point keeps every door in any of the buildings: doors, closers or fan first (page 12)"
    return f"no set point is sure; {fine(best)} suits most, {percent(share)} of the buildings"


def next_table(telling) -> Table:
    """The readings that would narrow the forecast most."""
    rows = [(one.what, f"{percent(one.share)} of what is unsure") for one in telling]
    return Table("next", "Measure next", ("Reading, with a gauge as good as the day's", "It would take away"), tuple(rows))


def _of_doubt(fitted):
    """The finding that the fit is not to be believed, with what is to be suspected."""
    remedy = f"look at {fitted.suspect.said}; then fit again"
    return Finding(
        "attention", f"{NOT_BELIEVED}: no door is {word_of('good')}", doubt_briefly(fitted), misfits_said(fitted), METHOD, remedy
    )


def _of_strange(fitted):
    """The finding of readings that no building gives."""
    count = len(fitted.strange)
    what = "1 reading does not fit the building" if count == 1 else f"{count} readings do not fit the building"
    why = "a door ajar, a tube off, a slip of the pen: the farther off, the less the fit leans on it"
    return Finding(
        "attention", what, fitted.readings.said(fitted.strange[0]), why, METHOD, "measure again before anybody relies on that door"
    )


def _of_slip(sentence):
    """The finding of a reading without which alone the building was found."""
    what, _, why = sentence.partition(": ")
    return Finding("attention", f"{what[0].upper()}{what[1:]}", "", why, METHOD, "measure again before anybody relies on that door")


def _of_left_out(sentence):
    """The finding of a round that was not used."""
    what, _, why = sentence.partition(": ")
    return Finding("attention", f"{what[0].upper()}{what[1:]}", "", why, METHOD, "read the round again at a lower speed")


def _of_ceiling(sentence):
    """The finding of rounds that were read above the ceiling."""
    what, _, why = sentence.partition(": ")
    return Finding("attention", what, "", why, METHOD, "make the sheets of the next day anew (page 17): they name the ceiling")


def _furthest_first(some):
    """The doors that are not surely inside: first the one that a headline is of, in whatever weather it is out; then those that fail, of
    these those of January (what the page asks), each the furthest out first."""
    first = furthest_out(some) if some else None
    left = [one for one in some if one.state != "good" and not _doubted_alone(one, some)]
    return sorted(left, key=lambda one: (one is not first, one.state != "wrong", not one.case.startswith(JANUARY), -nearer_pa(one)[0]))


def _doubted_alone(one, some):
    """Whether a door is no PASS for nothing but that no door is: that is told once, of all of them."""
    return all(other.doubted for other in some) and replace(one, doubted=False).state == "good"


def _of_door(one, shut, site):
    """The finding of a door that is not surely inside."""
    (least, most), (low, _, high) = one.window_pa, one.pressures_pa
    past, limit = (low, least) if least - low >= high - most else (high, most)
    when = f"in {weather_of(one)}"
    middle = past_limit(one.pressures_pa[1], limit, "pressure") if one.state == "wrong" and nearer_pa(one)[0] > 0 else ""
    furthest = (
        f"up to {shown_apart(*at_limit(past, limit, 'pressure', 'least' if past < limit else 'most'))} out"  # of the interval as shown
    )
    out = f"{middle}, {when}, {furthest}" if middle else f"{furthest}, {when}"  # a list in one line drops the last first
    if one.state == "attention" and one.probability >= SURE_SHARE and one.room_pa >= SPARE_PA:
        out = "a reading of this door does not fit the building"
    elif one.state == "attention" and one.probability >= SURE_SHARE:
        out = f"{' of '.join(apart((one.room_pa, SPARE_PA), 'pressure', 'least', (1, 3)))} of room left, {when}"
    sure = sure_said(one.probability).removesuffix(" the readings")  # with its figure it stands in one line
    what = f"{one.door}{'' if shut else ', others open'}: {sure}"
    mends = "another supply point near its storey" if past < limit else "a lighter closer that still latches"
    mends = f"{mends}, or another set point"
    if pushed := pushed_open(one, site):
        mends = f"{closing_said(*pushed)}; {ELSE_THAN_CLOSER}"
    decide = f"the designer, with the record of the fitted site (page 12), none tried here: for {one.door} {mends}"
    measure = "measure what tells most (the table Measure next), then make the record of the fitted site (page 12)"
    remedy = decide if one.state == "wrong" else measure
    return Finding(one.state, what, out, one.case, METHOD, remedy, possible=AFTER_AN_HOUR in one.case)


def pushed_open(one, site):
    """What `doors.forces.closing_said` asks of a `DoorForecast` that is past the pressure up to which its closer shuts it (the high end of
    its interval counts); None for every other door."""
    dp, surely = one.pressures_pa[-1], one.window_pa[1]
    window = pressure_window(site)
    kind = next((kind for kind in window.doors if (kind.use, one.level in kind.levels) == (one.use, True)), None)
    if kind is None or kind.relatch_pa is None or dp <= surely:
        return None
    return site.doors[kind.door], window.criteria, dp, surely


def fitted_file(fitted: FittedBuilding) -> str:
    """The fitted site as the text of a site file of its own, with what was fitted, from which day, and how sure."""
    day = fitted.readings.day
    told = [
        f"# {fitted.readings.site.name}, fitted to its test day of {day.date} ({day.name}).",
        *textwrap.wrap(doubt_said(fitted), 136, initial_indent="# CAUTION. ", subsequent_indent="# "),
        *(f"# {said}" for said in (new_ceiling_said(fitted),) if said),
        *(line for said in gauges_said(fitted) for line in textwrap.wrap(said, 136, initial_indent="# ", subsequent_indent="# ")),
        "# Changed against the file it was made from, with the 90 % interval:",
    ]
    for one in fitted.factors:
        found = f"{one.factor:.2f} times" if one.found else "as it was, the day says nothing of it"
        told.append(f"#   {KIND_SAID[one.kind].lower()}: {found} ({one.low:.2f} to {one.high:.2f})")
    told += [
        "# Leaks stand under [leakage] as factors; damper, shaft and fan as figures. Make the record of this file before anything is",
        "# entered. Local code, the approved design and the authority having jurisdiction decide.",
        "",
    ]
    return "\n".join(told) + write_site(fitted.site)
