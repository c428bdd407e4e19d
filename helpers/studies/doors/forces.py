"""Door forces as the standard asks for them, fan off and fan on, and whether a door that the pressure pushes open shuts itself again.

Every kind of door, every step of opening it (`data/criteria`), at the place where the standard puts the gauge. The formula's force is at
the handle; at the latch edge the same leaf reads less, by moments about the hinges.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import AIR, Criteria, DoorForce, PressureCriterion
from helpers.model.site.schema import Door
from helpers.studies.cases import begun, conditions_of, door_text
from helpers.studies.doors.columns import across_by_use, open_by_use
from helpers.studies.doors.kinds import DoorWindow
from helpers.studies.report import NETWORK, WRONG_FAN, Finding, Table, apart, fine, limit_text
from helpers.studies.status import SPARE_PA, inside, status_of, worst_of
from helpers.units.said import with_unit

GAUGE_N = 5.0  # what a force gauge and a stiff hinge may add; common practice, no source
RELATCH_SHARE = 0.1  # of the pressure that the closer bears: closer than this to it is looked at; common practice, no source
NO_CLOSER, ELSE_THAN_CLOSER = "no closer does both", "else a lobby before it, a power-operated leaf, or less pressure on that storey"
ONE_FIGURE = "hinges, seals and the next closing give back another share: one figure is no range"
MEASURE_SHARE = "measure the share at this door, ten times shut by its closer against a gauge; state the lowest, the middle, the highest"
_LATCH, _WIDTH = "release the latch", "open to the full width"
_MEASURE = {
    _LATCH: "what the pressure adds on the latch is not computed: measure it",
    _WIDTH: "fan on: with the pressure left across the open leaf; a leaf half open is not computed: measure it",
}


@dataclass(frozen=True)
class ForceRow:
    """One step of opening one kind of door: its limit and its force [N] where the standard puts the gauge, fan off and fan on (None: not
    known), the worst case and the pressure there. limit_n: see limit_where_measured; cause: key of the finding that this case's doors are
    out, see cases.Case.whatever_air."""

    window: DoorWindow
    criterion: DoorForce
    limit_n: float | None
    off_n: float | None
    on_n: float | None
    on_pa: float | None = None
    on_case: str = ""
    cause: str = ""
    on_level: int | None = None

    @property
    def states(self):
        """Keys of the status (fan off, fan on). A step whose force is only known from below is never better than not yet judged."""
        off, on = (status_of(force, self.limit_n, GAUGE_N) for force in (self.off_n, self.on_n))
        return off, on if on == "wrong" or self.criterion.step in AIR else "open"

    @property
    def state(self):
        """The graver of the two."""
        return worst_of(self.states)


@dataclass(frozen=True)
class Relatching:
    """A door that the pressure pushes open: its highest pressure, in which case and where; and up to where its closer shuts it again."""

    window: DoorWindow
    dp_pa: float
    case: str
    level: int | None = None

    @property
    def state(self):
        """Key of the status: no PASS by a share that is one figure, with no range measured at this door."""
        return worst_of([self.by_pressure, "good" if self.window.one_share is None else "attention"])

    @property
    def by_pressure(self):
        """The same by the share as it is: the low end of what the closer gives back decides."""
        surely = self.window.relatch_pa[0]
        dp = min(self.dp_pa, surely) if inside(surely - self.dp_pa) else self.dp_pa
        return status_of(dp, surely, RELATCH_SHARE * surely)


@dataclass(frozen=True)
class PressureRow:
    """The pressure nearest to, or farthest past, one end that the standard sets for shut stair doors: end "least" or "most", pressure,
    level and case; lobby: whether a lobby lies behind the door, so that it stands over that and not over the building."""

    end: str
    criterion: PressureCriterion
    dp_pa: float
    level: int
    case: str
    cause: str = ""
    lobby: bool = False

    @property
    def place(self):
        """The level, and what the figure is held against where that is a lobby."""
        return f"storey {self.level}{', stair over lobby, not over the floor behind it' * self.lobby}"

    @property
    def state(self):
        """Key of the status; a blank of the standard is not yet judged."""
        return "open" if self.criterion.blank else status_of(self.dp_pa, self.criterion.limit, SPARE_PA, self.end)


@dataclass(frozen=True)
class DoorForces:
    """All rows of a site under its own standard; pressures: of `PressureRow`, all doors shut; doors: of the site file, by name;
    extracts: whether the fan takes air out."""

    criteria: Criteria
    rows: tuple
    relatching: tuple
    pressures: tuple
    doors: dict
    extracts: bool = False

    def verdict(self):
        """The doors in plain words: the worst first."""
        told = [f"{finding.what}: {finding.figure}." for finding in self.findings() if finding.severity == "wrong"]
        if told:
            return " ".join(told)
        close = [row for row in self.rows if row.state == "attention"]
        said = f"No door takes more than {self.criteria.name} allows, as far as it can be computed"
        return f"{said}; {len(close)} of {len(self.rows)} forces are near their limit: measure them first." if close else f"{said}."

    def table(self):
        """Every step of every kind of door, fan off and on."""
        rows = tuple(self._row(row) for row in self.rows)
        columns = ("Door", "Step", "Gauge at", "Limit", "Fan off", "Fan on", "At the worst, with the fan on", "Note")
        note = (
            f"{self.criteria.title}. The closer's force of the site file is at the handle. At the latch edge the gauge reads (W - d) / W "
            "of it: set its tip at the very edge, square to the leaf. A limit of the "
            "site file that asks for less counts. Fan off: the closer alone, without stack effect."
        )
        return Table("door forces", "Door forces, step by step", columns, rows, tuple(row.state for row in self.rows), note)

    def pressure_table(self):
        """Shut stair doors against the pressures of the standard, whatever the site file asks."""
        rows = tuple(
            (f"{row.end} across a shut stair door", row.criterion.shown(row.end), fine(row.dp_pa), row.place, row.case,
             row.criterion.said)
            for row in self.pressures
        )  # fmt: skip
        columns = ("What is asked", "Limit", "Nearest to it, or past it", "Where", "Case", "Source")
        note = "All doors shut. The pressure window counts the stricter of this and the site file's own figures."
        return Table("door pressures", "Stair doors by the standard", columns, rows, tuple(row.state for row in self.pressures), note)

    def relatch_table(self):
        """Doors that the pressure pushes open: does the closer shut them again?"""
        rows = tuple(
            (one.window.place, one.window.across, "yes" if one.window.latched else "no",
             *(limit_text(value, "pressure", "most") for value in one.window.relatch_pa), with_unit(one.dp_pa, "pressure"),
             f"storey {one.level}, {one.case}")
            for one in self.relatching
        )  # fmt: skip
        columns = ("Door", "Pressure across it", "Latch", "Shuts surely up to", "At the best up to", "Highest pressure", "Case")
        note = "The fan holds its set point. A latch keeps a shut leaf shut; a leaf that was opened must be shut again by its closer alone."
        return Table(
            "relatching", "Doors that shut again against the pressure", columns, rows, tuple(r.state for r in self.relatching), note
        )

    def findings(self):
        """What is past a limit or near it, a finding for each door and step."""
        yield from (finding for row in self.rows for finding in self._force_findings(row))
        yield from (self._relatch_finding(one) for one in self.relatching)
        yield from (finding for row in self.pressures for finding in self._pressure_findings(row))
        if self.rows and all(row.state == "good" for row in self.rows):
            yield Finding("good", f"Every door opens with less than {self.criteria.name} allows, fan off and fan on")

    def _row(self, row):
        force = row.criterion
        off, on = ("not known" if value is None else _force(value) for value in (row.off_n, row.on_n))
        worst = "" if row.on_pa is None else f"{with_unit(row.on_pa, 'pressure')}, storey {row.on_level}, {row.on_case}"
        return row.window.place, force.step, force.at, _limit(row), off, on, worst, _MEASURE.get(force.step, "")

    def _force_findings(self, row):
        off, on = row.states
        force, limit = row.criterion, _limit(row)
        closer = f"closer {row.window.place}"
        if off in ("wrong", "attention"):
            taken, over = _force(row.off_n), off == "wrong"
            what = f"{begun(_named(row.window))}: closer alone {'over' if over else 'near'} the limit to {force.step}"
            why = "no pressure, fan or set point changes that: it is so with the fan off"
            remedy = f"{self._lighter(row, ', set by force gauge')}; or the word of the authority having jurisdiction"
            yield Finding(off, what, f"{taken}, limit {limit} (at the {force.at})", why, force.said, remedy, key=closer)
        if on in ("wrong", "attention") and (on, row.on_n) != (off, row.off_n):
            taken, pressure = _force(row.on_n), with_unit(row.on_pa, "pressure")
            what = f"With the fan on {_named(row.window)} {'takes too much' if on == 'wrong' else 'is near the limit'} to {force.step}"
            figure = f"{taken}, limit {limit} (at the {force.at}; {pressure}, storey {row.on_level}, {row.on_case})"
            more = "more" if row.window.opens_with_pressure else "less"
            why, remedy = "closer and pressure together", self._lighter(row, f", {more} pressure there")
            yield Finding(on, what, figure, why, f"{force.said}; {NETWORK}", remedy, caused_by=closer if off == "wrong" else row.cause)

    def _pressure_findings(self, row):
        if row.state == "open":
            what = f"{self.criteria.name}: the {row.end} pressure across a shut stair door is a blank"
            yield Finding("open", what, "", "its text was not at hand", "", "fill it in from the text, in data/criteria")
        elif row.state == "wrong":
            less, asks = ("less", "asks for") if row.end == "least" else ("more", "allows")
            what = f"A stair door has {less} than {self.criteria.name} {asks}"
            figure = f"{fine(row.dp_pa)} at {row.place} ({row.case}), limit {limit_text(row.criterion.limit, 'pressure', row.end)}"
            why = "the site file's own limit is easier than the standard's, or the stair's air and the weather bring it there"
            remedy = "another set point where the summary names one; other closers, or a stair divided into sections, not tried here"
            remedy = WRONG_FAN if self.extracts and row.end == "least" else remedy
            yield Finding("wrong", what, figure, why, f"{row.criterion.said}; {NETWORK}", remedy, caused_by=row.cause)

    def _relatch_finding(self, one):
        window, key = one.window, f"relatch {one.window.door}"
        dp, surely = apart((one.dp_pa, window.relatch_pa[0]), "pressure", "most")
        best = limit_text(window.relatch_pa[1], "pressure", "most")
        told = f"{best} at the best; {share_said(window, one.dp_pa)}"
        figure = f"{dp}, max. {surely}, {one.case}; by its closer, which surely shuts it against that, {told}"
        source = window.most_source
        if window.one_share is not None and one.by_pressure == "good":
            what = f"{begun(_named(window))} shuts again by one figure of its closer, which no range measured at this door bears out"
            return Finding("attention", what, figure, ONE_FIGURE, source, MEASURE_SHARE, key=key)
        if one.state == "good":
            return Finding("good", f"{begun(_named(window))} shuts again against the pressure", figure, "", source)
        if window.latched:
            manner = "may not" if one.state == "attention" else "does not surely" if one.dp_pa <= window.relatch_pa[1] else "does not"
            what = f"{begun(_named(window))}, once opened, {manner} shut and latch again"
            why = "its latch holds it only until the first person has gone through; then it stands ajar and takes air as an open door does"
        else:
            what = f"{begun(_named(window))} {'is near being' if one.state == 'attention' else 'is'} pushed open by the pressure"
            why = "it has no latch, and its closer gives back only a part of its force"
        return Finding(one.state, what, figure, why, source, self._relatch_remedy(one), key=key)

    def _relatch_remedy(self, one):
        said = closing_said(self.doors[one.window.door], self.criteria, one.dp_pa, one.window.relatch_pa[0])
        return f"{said}; {ELSE_THAN_CLOSER}. Try it on site: force gauge"

    def _lighter(self, row, way=""):
        """What would change a step of opening that takes too much: of a leaf that the pressure pushes open too hard for its closer already
        what would shut it, since a lighter one shuts it against less."""
        ajar = [one for one in self.relatching if one.window.door == row.window.door and one.by_pressure != "good"]
        return self._relatch_remedy(ajar[0]) if ajar else f"a lighter closer that still shuts the leaf{way}"


def share_said(window: DoorWindow, dp_pa: float) -> str:
    """From which share of its closer's force a door of a `DoorWindow` no more shuts against a pressure [Pa], in words."""
    stated = f"{window.one_share:.2f} stated as one figure" if window.one_share is not None else f"{window.shares[0]:.2f} its low end"
    return f"it shuts no more with a share below {np.ceil(100 * window.share_at(dp_pa) - 1e-9) / 100:.2f} ({stated})"


def closing_said(door: Door, criteria: Criteria, dp_pa: float, surely_pa: float) -> str:
    """The closer that would shut a `Door` against a pressure [Pa], as the same leaf does surely up to surely_pa [Pa] with its own, with
    RELATCH_SHARE to spare; or that none does both: shut the leaf, and let people open it."""
    if not surely_pa > 0:
        return f"{NO_CLOSER}: its closer may give nothing back to shut it"
    needed, over = _closer_needed(door, criteria, dp_pa, surely_pa)
    force, spare = with_unit(needed, "force"), f"with {100 * RELATCH_SHARE:.0f} % to spare"
    if not over:
        return f"a closer of {force} would do, {spare}"
    return f"{NO_CLOSER}: one that shuts it, {spare}, has {force}, and that is past what {criteria.name} allows to {' and to '.join(over)}"


def closing_briefly(door: Door, criteria: Criteria, dp_pa: float, surely_pa: float) -> str:
    """The same in three words, for a headline's line."""
    return "no closer suffices" if not surely_pa > 0 or _closer_needed(door, criteria, dp_pa, surely_pa)[1] else "a heavier closer"


def _closer_needed(door, criteria, dp_pa, surely_pa):
    """(force [N] of the closer that shuts a leaf with RELATCH_SHARE to spare, steps of opening that it makes too heavy)."""
    needed = max(np.ceil(door.closer_force_n * dp_pa / (surely_pa * (1 - RELATCH_SHARE))), door.closer_force_n)
    return needed, [
        force.step
        for force in criteria.forces
        if force.step != _LATCH and status_of(force_where_measured(needed, door, force.at), force.limit) == "wrong"
    ]


def force_where_measured(force_at_handle_n, door, at):
    """Force [N] at the place of the gauge ("handle" or "latch stile") for one at the handle of a `Door` of the site file."""
    if at == "handle":
        return float(force_at_handle_n)
    return float(door_formulas.force_at_edge(force_at_handle_n, door.width_m, door.handle_to_edge_m))


def limit_where_measured(door, criterion):
    """Most force [N] at the place of the gauge for a step: the standard's, or the site file's own limit (stated at the handle) where that
    asks for less in the step that air and closer both count in. None where neither is known, or the standard's place is blank."""
    own = force_where_measured(door.force_limit_n, door, criterion.at) if criterion.step in AIR else None
    if criterion.blank or own is None:
        return criterion.limit
    return own if criterion.limit is None else min(own, criterion.limit)


def door_forces(site, window, cases, air):
    """Forces and relatching of every door that is worked by hand.

    window: `SiteWindow`; cases: of `Case`; air: the `Air` in these cases, a row each. Returns `DoorForces`.
    Limits: even pressure on the leaf, steady state; the final exit against still outdoor air; what the latch adds under pressure, and a
    leaf half open, are not computed.
    """
    conditions = conditions_of(site, cases)
    across, opened, levels = across_by_use(air), open_by_use(conditions), [storey.level for storey in site.storeys]
    rows, relatching = [], []
    for one in window.doors:
        door = site.doors[one.door]
        if not door.worked_by_hand:
            continue
        there = np.isin(levels, one.levels)
        shut, ajar = (np.where(there & mask, across[one.use], np.nan) for mask in (~opened[one.use], opened[one.use]))
        rows += [_force_row(door, one, criterion, (cases, levels), shut, ajar) for criterion in window.criteria.forces]
        if one.relatch_pa is not None and (found := _worst(shut)):
            dp, case, storey = found
            relatching.append(Relatching(one, dp, cases[case].name, levels[storey]))
    lobbies = [storey.lobby for storey in site.storeys]
    pressures = tuple(_pressures(window.criteria, cases, levels, lobbies, np.where(_stair_doors(site), across["stair door"], np.nan)))
    return DoorForces(window.criteria, tuple(rows), tuple(relatching), pressures, dict(site.doors), site.fan.sign < 0)


def window_states(window, found):
    """Keys of the status of each `DoorWindow` of a `SiteWindow`: that there is one, and that a leaf which its latch holds shuts again once
    opened. found: its `DoorForces`; None for a stair whose doors suit no pressure, of whose air nothing is computed."""
    again = {} if found is None else {one.window.door: one.state for one in found.relatching if one.window.latched}
    return tuple(worst_of(("good" if door.feasible else "wrong", again.get(door.door, "good"))) for door in window.doors)


def _named(window):
    return door_text(window.use, window.levels, window.door)


def _stair_doors(site):
    """Whether each storey has a stair door."""
    return np.array([bool(storey.stair_door and storey.stair_door_count) for storey in site.storeys])


def _pressures(criteria, cases, levels, lobbies, dp_pa):
    """Rows of both ends, over the cases with all doors shut."""
    shut = np.array([case.shut for case in cases])
    dp_pa = np.where(shut[:, None], dp_pa, np.nan)
    if np.isnan(dp_pa).all():
        return
    for end, criterion, worst in (("least", criteria.least_doors_shut, np.nanargmin), ("most", criteria.most_doors_shut, np.nanargmax)):
        if criterion.limit is None and not criterion.blank:
            continue
        case, storey = np.unravel_index(worst(dp_pa), dp_pa.shape)
        dp, name = float(dp_pa[case, storey]), cases[case].name
        yield PressureRow(end, criterion, dp, levels[storey], name, _cause(cases[case]), lobbies[storey])


def _force_row(door, window, criterion, judged, shut_pa, ajar_pa):
    cases, levels = judged
    limit = limit_where_measured(door, criterion)
    if criterion.step == _LATCH:
        return ForceRow(window, criterion, limit, None if door.latch_force_n is None else float(door.latch_force_n), None)
    off = force_where_measured(door.closer_force_n, door, criterion.at)
    way = -1.0 if door.opens == "with pressure" else 1.0
    found = _worst(way * (ajar_pa if criterion.step == _WIDTH else shut_pa))
    if found is None:
        return ForceRow(window, criterion, limit, off, None)
    against, number, storey = found
    case = cases[number]
    handle = float(door_formulas.opening_force(against, *door.leaf))
    return ForceRow(
        window,
        criterion,
        limit,
        off,
        max(force_where_measured(handle, door, criterion.at), 0.0),
        way * against,
        case.name,
        _cause(case),
        levels[storey],
    )


def _worst(dp_pa):
    """The largest pressure [cases, storeys], the numbers of its case and storey; None where all is NaN."""
    if np.isnan(dp_pa).all():
        return None
    case, storey = np.unravel_index(np.nanargmax(dp_pa), dp_pa.shape)
    return float(dp_pa[case, storey]), int(case), int(storey)


def with_force(told, force_n, limit_n):
    """Words on a pressure across a shut door with the force [N] at its handle, and what that is at the pressure's limit; the words alone
    where nobody pulls it (None)."""
    if force_n is None:
        return told
    force, most = apart((force_n, limit_n), "force", "most")
    return f"{told}; {force} at its handle, {most} there at that limit"


def _cause(case):
    """Key of the finding of sections_rule that doors are out in a case."""
    return f"doors out {case.whatever_air}"


def _force(force_n):
    """A force with one digit more than usual: coarser, one just past its limit would be written like the limit."""
    return with_unit(force_n, "force", 1)


def _limit(row):
    return row.criterion.shown() if row.limit_n is None else limit_text(row.limit_n, "force", "most")
