"""A site judged by two sets of criteria in adjacent columns: each quantity with limit, value and verdict by the one and by the other.

The air is the same in both: what the loop leaves at the site's own set point. The site's own set decides; which set holds is for the
authority having jurisdiction. Where the two disagree, that is said, and nothing here chooses.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.site.criteria import AIR, STEPS, Criteria, criteria_for
from helpers.studies.doors.air_release import AirRelease
from helpers.studies.doors.exits import exits_open
from helpers.studies.doors.forces import GAUGE_N, door_forces
from helpers.studies.doors.window import pressure_window
from helpers.studies.report import Finding, Table, fine, listed
from helpers.studies.status import SEVERITIES, SPARE_PA, status_of, word_of, worst_of
from helpers.units.said import with_unit

NOT_ASKED = "nothing asked"
LEAST, MOST, EXIT, BACK = (
    "Minimum pressure across a shut stair door",
    "Maximum pressure across a shut stair door",
    "Minimum pressure across a shut stair door while a final exit stands open",
    "Time after a door until 90 % of the new flow",
)
WITHOUT, WITH = "Speed through the open door, no air release", "Speed through the open door, with the air release stated"
MOVES = "Force that moves the leaf against closer and air"


@dataclass(frozen=True)
class ByOneSet:
    """One quantity by one set: its limit and its value in words, and the key of its status, "" where nothing is asked."""

    limit: str
    value: str
    state: str


@dataclass(frozen=True)
class TwoSets:
    """sets: the two `Criteria`, the site's own first; rows: (quantity, `ByOneSet` of the first, `ByOneSet` of the second); stated: whether
    the site file names the second."""

    sets: tuple[Criteria, Criteria]
    rows: tuple[tuple[str, ByOneSet, ByOneSet], ...]
    stated: bool

    @property
    def disagreements(self):
        """Quantities that one set passes and the other does not, or that only one of them asks for."""
        return tuple(what for what, *cells in self.rows if len({cell.state for cell in cells}) > 1)

    def of(self, place, state):
        """Quantities that one of the sets (0 or 1) gives a status."""
        return tuple(row[0] for row in self.rows if row[1 + place].state == state)

    def table(self):
        """Both sets in adjacent columns, a line a quantity."""
        columns = (
            "Quantity",
            *(
                f"{one.name if len({each.name for each in self.sets}) > 1 else one.title}: {what}"
                for one in self.sets
                for what in ("limit", "value", "verdict")
            ),
        )
        rows = tuple(
            (what, *_texts(first), *_texts(replace(second, value="the same") if second.value == first.value else second))
            for what, first, second in self.rows
        )
        return Table("two sets", "By two sets of criteria", columns, rows, note=self.note())

    def note(self):
        """What the columns hold, in sentences."""
        blanks = [
            f"{one.title} has blanks: its figures are not known here, and a licensed person fills them in from the text, in data/criteria."
            for one in self.sets
            if one.blanks
        ]
        own = f"{self.sets[0].title} is the site's own and decides"
        second = "the site file names it" if self.stated else "the site file names no second set (second_standard), so it is one of ours"
        memory = (
            "Figures marked memory are not verified; those marked reviewed a reviewer read in a public text in 2026, often a reprint or an "
            "earlier edition: compare each with the adopted text."
        )
        standing = [f"{one.title}: {one.standing}." for one in self.sets]
        same = "Each set is judged by its own figures alone, in the same air, at the loop's set point; forces where the set puts the gauge."
        return " ".join((f"{own}; {self.sets[1].title} stands beside it: {second}.", *standing, same, memory, *blanks))

    def verdict(self):
        """How the site stands by both, and on what they disagree."""
        told = [f"{one.title}: {self._counts(place)}" for place, one in enumerate(self.sets)]
        apart = self.disagreements
        lines = f"{len(apart)} of {len(self.rows)} lines: {listed(_small(one) for one in apart)}"
        differ = f"They differ on {lines}." if apart else "They agree line by line."
        choose = "The site's own decides; which set holds is for the authority: choose, and name it."
        return f"By two sets. {'. '.join(told)}. {differ} {choose}"

    def _counts(self, place):
        states = [row[1 + place].state for row in self.rows]
        counts = [f"{states.count(key)} {word_of(key)}" for key in SEVERITIES if key in states]
        return ", ".join(counts) or "nothing judged"

    def findings(self):
        """Of a second set that the site file names: what is past a limit of it, and its blanks."""
        if not self.stated:
            return
        second = self.sets[1]
        if wrong := self.of(1, "wrong"):
            yield Finding("attention", f"Past limits of {second.title}, the second set of criteria", listed(_small(one) for one in wrong),
                          f"{self.sets[0].title} decides; it does not agree on these, or fails them too", second.standing,
                          "settle with the authority which set holds, and name that one in the site file")  # fmt: skip
        if second.blanks:
            yield Finding("open", f"{second.title}, the second set of criteria: {len(second.blanks)} figures are blanks",
                          ", ".join(second.blanks), "its text was not at hand, and none of it is guessed", "",
                          "a licensed person fills them in from the text, in data/criteria")  # fmt: skip


def two_sets(tower, cases, held, release, second, tuned=None):
    """A site by its own standard and by a second one.

    tower: `Tower` of the site; cases: of `Case`; held: the `HeldAir` in them, a row each; release: its `AirRelease`; second: key of the
    second set; tuned: `Candidate` of the tuning to be entered, None where none is found. Returns `TwoSets`. Raises
    ValueError where the second is the site's own, or its file lacks a figure (naming it).
    Limits: the second set is taken as it stands for this building: sprinklers, class and code of the site file.
    """
    site = tower.site
    if criteria_for(site.with_changes(standard=second, second_standard=None)).title == criteria_for(site).title:
        raise ValueError(f"second must be another set of criteria than the site's own, {site.standard!r}; got {second!r}")
    columns = [_of_set(tower, key, cases, held, release, tuned) for key in (site.standard, second)]
    (own, first), (other, beside) = columns
    quantities = [what for what in dict.fromkeys((*first, *beside))]
    order = [LEAST, MOST, EXIT, WITHOUT, WITH, BACK, MOVES]
    quantities.sort(key=lambda what: order.index(what) if what in order else len(order))
    nothing = ByOneSet(NOT_ASKED, "not worked out", "")
    rows = tuple((what, first.get(what, nothing), beside.get(what, nothing)) for what in quantities)
    return TwoSets((own, other), rows, site.second_standard is not None)


def _of_set(tower, key, cases, held, release, tuned):
    """`Criteria` and its cells by quantity."""
    site = tower.site.with_changes(standard=key, second_standard=None)
    criteria, window = criteria_for(site), pressure_window(site)
    cells = dict(_pressures(tower, criteria, cases, held.air))
    cells[EXIT] = _exit_open(criteria.least_exit_open, exits_open(tower, criteria, cases, held))
    cells |= _speeds(criteria, release)
    doors = None if tuned is None else tuned.worst_doors
    seconds, words = (None, "no tuning that is safe was found") if doors is None else (doors.slowest_s, doors.back_said())
    cells[BACK] = ByOneSet(_limit(criteria.response), words, _state(criteria.response, seconds, 0.0, "most"))
    return criteria, cells | _forces(criteria, door_forces(site, window, cases, held.air))


def _pressures(tower, criteria, cases, air):
    there = np.array([bool(one.stair_door and one.stair_door_count) for one in tower.site.storeys])
    shut = np.array([one.shut for one in cases])
    opened = np.array([[level in one.open_doors for level in tower.levels] for one in cases])
    dp = np.where(there & ~opened, air.door_dp_pa, np.nan)
    for what, criterion, rows, worst, kind in (
        (LEAST, criteria.least_doors_shut, shut, np.nanargmin, "least"),
        (MOST, criteria.most_doors_shut, shut, np.nanargmax, "most"),
    ):
        some = np.where(rows[:, None], dp, np.nan)
        if np.isnan(some).all():
            yield what, ByOneSet(_limit(criterion, kind), "no such case", _state(criterion, None, 0.0, kind))
            continue
        case, storey = np.unravel_index(worst(some), some.shape)
        value = f"{fine(some[case, storey])} at storey {tower.levels[storey]} ({cases[case].name})"
        yield what, ByOneSet(_limit(criterion, kind), value, _state(criterion, some[case, storey], SPARE_PA, kind))


def _exit_open(asked, exits):
    """The minimum with the final exit open, in the state of the stair doors that the standard asks for it in."""
    judged = [one for one in exits if one.state(asked)] or list(exits)
    if not judged:
        return ByOneSet(_limit(asked, "least"), "no such case", _state(asked, None, 0.0, "least"))
    state = worst_of(one.state(asked) for one in judged)
    worst = min((one for one in judged if one.state(asked) == state), key=lambda one: one.least_pa)
    return ByOneSet(_limit(asked, "least"), worst.said(), state)


def _speeds(criteria, release: AirRelease):
    """The least speed through the fire floor's open door against all that is asked of the class, without and with the release."""
    asked = sorted((one for one in criteria.open_door_speeds if one.limit is not None), key=lambda one: one.limit)
    blank = any(one.blank for one in criteria.open_door_speeds)
    limit = "; ".join(f"{_limit(one)} ({one.use})" for one in asked) or _limit(criteria.open_door_speeds[0] if criteria.open_door_speeds
                                                                              else criteria.least_exit_open)  # fmt: skip
    given = release.given is not None and release.given.kind != "none"
    for what, name in ((WITHOUT, "without_m_s"), (WITH, "with_m_s")):
        rows = [row for row in release.rows if getattr(row, name) is not None]
        if not rows:
            yield (
                what,
                ByOneSet(limit, "no stair door stands open" if not release.rows else "none stated", "open" if asked or blank else ""),
            )
            continue
        slow = min(rows, key=lambda row: getattr(row, name))
        value = getattr(slow, name)
        states = [status_of(value, one.limit, kind="least") for one in asked]
        # The lowest speed is every class's; past a higher one only some classes are short, where nobody has stated the class.
        state = "wrong" if states[:1] == ["wrong"] else "open" if blank else "attention" if "wrong" in states else worst_of(states)
        told = f"{with_unit(value, 'speed', (2, 0))} with the fire on storey {slow.level} ({slow.case})"
        if what == WITHOUT and given:  # for comparison: the system has one
            told, state = f"{told}; for comparison, the system has air release", ""
        yield what, ByOneSet(limit, told, state)


def _forces(criteria, found):
    """Steps of opening a door; the two that air and closer both count in are one line."""
    cells = {}
    for step in STEPS:
        rows = [row for row in found.rows if row.criterion.step == step]
        if not rows:
            continue
        criterion = rows[0].criterion
        what = MOVES if step in AIR else f"Force to {step}"
        states, values = [], []
        for name in ("off_n", "on_n"):
            known = [row for row in rows if getattr(row, name) is not None]
            worst = max(known, key=lambda row: getattr(row, name), default=None)
            state = _state(criterion, None if worst is None else getattr(worst, name), GAUGE_N, "most")
            # With the air only the step that air and closer both count in is known; of the others more may come on top.
            states.append(state if name == "off_n" or step in AIR or state in ("wrong", "") else "open")
            fan = "fan off" if name == "off_n" else "fan on"
            values.append(f"{fan} {'not known' if worst is None else f'{_force(getattr(worst, name))} at {worst.window.place}'}")
        cells[what] = ByOneSet(f"{_limit(criterion)}, at the {criterion.at}", "; ".join(values), worst_of(states))
    return cells


def _texts(cell):
    return cell.limit, cell.value, word_of(cell.state) or "not judged"


def _limit(criterion, end=None):
    known = "" if criterion.blank or criterion.limit is None else f" ({criterion.known})"
    return f"{criterion.shown(end)}{known}"


def _state(criterion, value, margin, kind):
    if criterion.blank:
        return "open"
    return "" if criterion.limit is None else status_of(value, criterion.limit, margin, kind)


def _force(force_n):
    return with_unit(force_n, "force", 1)


def _small(text):
    return f"{text[0].lower()}{text[1:]}"
