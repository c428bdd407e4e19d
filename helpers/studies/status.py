"""From a limit to a status: one table for every page, record, review, study and sheet. PASS, CHECK, FAIL or NOT YET.

What is past a limit is never PASS. What was not measured, not answered or has no figure to be held against is NOT YET, never PASS.
A computed figure that keeps its limit, or lies on it, is CHECK with less room than it may be off by: SPARE_PA for a door's pressure,
GAUGE_N for a force, RELATCH_SHARE for what a closer shuts against, NEAR_SHARE for a speed that a standard asks of an open door. So has a
pressure or a force read on a sheet, by the same figures; so have ways of falling back and the doors of a review, by `room_status`. Of a
door with an interval the graver of both counts. Not so yet, by the limit alone: speeds read on a sheet.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from helpers import require
from helpers.units.said import written_out

# A figure that is computed to lie on its limit is not past it: what the network and the inverse of a formula leave of rounding.
TOUCHES = 1e-6
# The same for the pressure across a door [Pa]: ten times what the search for the held reading leaves (model.air.operating_point).
ON_LIMIT_PA = 1e-3
# Less room [Pa] than this between a door's pressure and its limit is looked at: wind, leaks and a transmitter's error take as much. Common
# practice, no source.
SPARE_PA = 5.0


@dataclass(frozen=True)
class Status:
    """One status: its key in studies and tables, the word shown to a reader, what the word says."""

    key: str
    word: str
    meaning: str


# Gravest first.
# A remedy that was tried and helps; whom or what to ask where none was; what comes before either, since somebody is in danger; words after
# the first two: ours.
TO_DO, MOST_TO_DO = ("Do: ", "Ask: ", "Now: "), 17
# Whom every page asks about a building that fails, and where what comes first stands: one list, so one order.
DESIGNER = "Ask: the designer, page 12"
STATUSES = {
    "wrong": Status("wrong", "FAIL", "past a limit, or the design does not do its job"),
    "attention": Status("attention", "CHECK", "inside the limits, but close, uncertain, or for somebody to decide"),
    "open": Status("open", "NOT YET", "not measured, not answered, or no figure to hold it against"),
    "good": Status("good", "PASS", "looked at, and inside its limits with room to spare"),
}
SEVERITIES = tuple(STATUSES)
_KINDS = ("most", "least")


def status_of(value, limit, margin=0.0, kind="most"):
    """Key of the status of a figure against its limit.

    value, limit, margin: numbers in one unit, or arrays that broadcast; kind: "most" (the value must not be above the limit) or "least"
    (not below). "wrong" past the limit, "attention" within `margin` of it, "open" where value or limit is None or NaN, else "good".
    An infinite limit limits nothing. Returns a str, or an array of them for arrays.
    Raises ValueError for another kind, and a margin below zero.
    Limits: a value that is past its limit by no more than TOUCHES counts as on it.
    """
    require.one_of(_KINDS, kind=kind)
    value, limit, margin = (np.asarray(np.nan if given is None else given, float) for given in (value, limit, margin))
    if not np.all(margin >= 0):
        raise ValueError(f"margin must be at least 0, got {margin!r:.60}")
    room = limit - value if kind == "most" else value - limit
    keys = np.select([np.isnan(room), room < -TOUCHES, room < margin - TOUCHES], ["open", "wrong", "attention"], "good")
    return str(keys) if keys.ndim == 0 else keys


def between_limits(value, least, most, margin=0.0):
    """Key of the status of one figure that has a least and a most, either of them None where nothing is asked; arguments as status_of.

    "open" only where neither is stated, or nothing was measured.
    """
    ends = [status_of(value, limit, margin, kind) for limit, kind in ((least, "least"), (most, "most")) if limit is not None]
    return worst_of(ends) if ends else "open"


def inside(room_pa):
    """Whether a door with this room to its limit [Pa] is inside it, by the computed figure alone: a number, or arrays of any shape.

    Limits: what is past by no more than ON_LIMIT_PA lies on the limit. No gauge on site tells so little; what is past is past all the same.
    """
    return room_pa >= -ON_LIMIT_PA


def room_status(room_pa, doubt_pa):
    """Key of the status of a door by its room (below zero when out): with less than SPARE_PA, or out by no more than a doubt (what a gauge
    or the readings may be off by), it is for somebody to prove, and never a pass."""
    return "wrong" if not inside(room_pa) and room_pa < -doubt_pa else status_of(max(room_pa, 0.0), 0.0, SPARE_PA, "least")


def worst_of(keys: Iterable[str]) -> str:
    """The gravest of some keys, "" where there is none; rows that are not judged ("") do not count.

    Raises ValueError for what is no key of ours.
    """
    keys = [key for key in keys if key]
    for key in keys:
        if key not in STATUSES:
            raise ValueError(f"keys must be of {', '.join(STATUSES)}; got {key!r:.60}")
    return min(keys, key=SEVERITIES.index, default="")


def deciding(states, rooms):
    """Place of the case that a headline is of and its picture shows: of the gravest the one with the least room, by their keys and
    the room to the nearest limit."""
    grave = np.array(states) == worst_of(states)
    return int(np.argmin(np.where(grave, rooms, np.inf)))


def word_of(key: str) -> str:
    """The word shown for a key, "" for what is not judged. Raises ValueError for no key of ours."""
    return STATUSES[worst_of([key])].word if key else ""


def ranked(findings):
    """Findings, the most serious first; of equals a limit that is passed now before one that might be (`Finding.possible`)."""
    return tuple(sorted(findings, key=lambda finding: (SEVERITIES.index(finding.severity), finding.possible)))


def folded(findings):
    """One cause, one finding: those that name another's `key` in `caused_by` go under it as its `effects`, the rest stay as they are.

    A cause becomes as grave as its gravest effect, and present where one of them is, so that nothing grave is hidden under it. What names a
    cause that is not there, or itself, stays a finding of its own. A cause may itself follow from another. Returns a tuple in the order of
    the causes.
    """
    findings = list(findings)
    named = {finding.key: finding for finding in reversed(findings) if finding.key}
    roots = [_root(finding, named) for finding in findings]
    told, done = [], set()
    for finding, root in zip(findings, roots, strict=True):
        if root is not finding:
            continue
        first = finding.key and finding.key not in done
        effects = [one for one, cause in zip(findings, roots, strict=True) if one is not cause and cause is finding] if first else ()
        done.add(finding.key)
        told.append(_with_effects(finding, ranked(effects)) if effects else finding)
    return tuple(told)


def _root(finding, named):
    """The finding that all of this follows from: itself where its cause is not among them, or where causes go round in a ring."""
    seen, cause = {id(finding)}, finding
    while cause.caused_by in named:
        cause = named[cause.caused_by]
        if id(cause) in seen:
            return finding
        seen.add(id(cause))
    return cause


def headline(findings):
    """How many of each status, in one line, the most serious first: the state line of a page or record. Folded effects are counted as such.

    >>> headline(())
    'Nothing was judged: NOT YET'
    """
    counts = {key: sum(finding.severity == key for finding in findings) for key in SEVERITIES}
    effects = sum(len(finding.effects) for finding in findings)
    if not any(counts.values()):
        return f"Nothing was judged: {STATUSES['open'].word}"
    told = ", ".join(f"{counts[key]} {STATUSES[key].word}" for key in SEVERITIES if counts[key] or key in ("wrong", "attention"))
    return f"{told}; {effects} more follow{'' if effects > 1 else 's'} from these" if effects else told


ONE_LINE = 132  # letters of what and figure that have room in one line of a page
MOST_PLACES_SAID = 2  # doors or figures of a finding in one line; the finding itself has them all


def fails_said(findings):
    """What fails, a line each, the most serious first: its value, its limit and its place, and how many others follow from it.

    The one list that heads page, sheet, schedule and file; empty where nothing fails.
    """
    return tuple(_fail_said(finding) for finding in ranked(folded(findings)) if finding.severity == "wrong")


def one_line(finding):
    """What a finding says in one line: what, and as much of the beginning of its figure as has room, its limit before its case.

    >>> from helpers.studies.report import Finding
    >>> long = "with PDT-2 dead storey 13 has 96 Pa, 169 N at the handle, maximum 61 Pa (winter, doors shut, first minute): no speed"
    >>> one_line(Finding("wrong", "Nothing is set for a failed reading", long, "", ""))[-36:]
    'maximum 61 Pa (winter, first minute)'
    """
    what, figure = finding.what.rstrip("."), finding.figure.partition("; ")[0]
    whole = figure
    if len(f"{what}: {figure}") > ONE_LINE:
        head, closed, _ = figure.partition("): ")  # what is said behind the case, and the doors' usual state, go before weather and minute
        figure = f"{head}{closed[:1]}".replace("doors shut, ", "")
    for stop in (" (", ", ", ": "):
        while len(f"{what}: {figure}") > ONE_LINE and stop in figure:
            figure = figure.rpartition(stop)[0]
    says = figure == whole or any(letter.isdigit() for letter in figure)  # what is left of it
    return f"{what}: {figure}" if figure and says and len(f"{what}: {figure}") <= ONE_LINE else what


def fails_in_lines(findings):
    """What fails, in one line each, the most serious first: for a page on which each finding stands in full further down."""
    return tuple(
        f"{word_of('wrong')}{', possible' if one.possible else ''}: {one_line(one)}"
        for one in ranked(folded(findings))
        if one.severity == "wrong"
    )


_BEYOND = re.compile(r"(\d+(?:\.\d+)?) (?:Pa|in\. w\.c\.) (?:too )?(low|high|out)\b")


def _beyond(clause):
    """{way: how far} a clause says that something is out."""
    found = {}
    for amount, way in _BEYOND.findall(written_out(clause)):
        found[way] = max(found.get(way, 0.0), float(amount))
    return found


def _worse(clauses, than):
    """Of some clauses those that say more, either way, than all of `than` do: the worst of each way, in their order."""
    said = {}
    for clause in than:
        said = {way: max(said.get(way, 0.0), _beyond(clause).get(way, 0.0)) for way in {*said, *_beyond(clause)}}
    worst = {}
    for clause in clauses:
        for way, amount in _beyond(clause).items():
            if amount > max(said.get(way, 0.0), worst.get(way, (0.0,))[0]):
                worst[way] = (amount, clause)
    return [clause for clause in dict.fromkeys(clauses) if clause in [one for _, one in worst.values()]]


def _fail_said(finding):
    places, count = finding.figure.split("; "), len(finding.effects)
    first, others = places[:MOST_PLACES_SAID], places[MOST_PLACES_SAID:]
    worst = _worse(others, first)  # the worst never stands among those that are only counted
    more = len(others) - len(worst)
    told = [*first, *(f"at worst {clause}" for clause in worst), *([f"{more} more in the record"] if more > 0 else [])]
    follow = f"{count} more {word_of('wrong')} or {word_of('attention')} follow{'' if count > 1 else 's'} from it" if count else ""
    behind = [f"{one.what[:1].lower()}{one.what[1:]}: {clause}" for one in finding.effects for clause in one.figure.split("; ")]
    follow += "".join(f", at worst {clause}" for clause in _worse(behind, [*first, *worst]))
    kind = f"{word_of('wrong')}{', possible' if finding.possible else ''}"
    return "; ".join(filter(None, (": ".join(filter(None, (kind, finding.what.rstrip("."), "; ".join(told)))), follow)))


def _with_effects(cause, effects):
    severity = worst_of([cause.severity, *(effect.severity for effect in effects)])
    possible = all(one.possible for one in (cause, *effects) if one.severity == severity)
    return replace(cause, severity=severity, possible=possible, effects=(*cause.effects, *effects))
