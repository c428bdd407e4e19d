"""Where the transmitters go and which rule combines them: every choice judged under the same drawn conditions.

Each condition is solved once over the fan's speeds; then every choice is looked up in what was found, so that a thousand choices more cost
no solve more. Steady state: what a patient loop settles on; how it gets there is the loop's own study.
"""

from dataclasses import dataclass

import numpy as np

from helpers.model.conditions import Conditions
from helpers.model.stair_heat import stair_air, with_stair
from helpers.studies.allowed_pressures import allowed_pressures
from helpers.studies.cases import one_number
from helpers.studies.placement_choices import candidate_levels, choices_of, own_choice
from helpers.studies.placement_curves import solve_curves
from helpers.studies.placement_doors import DoorColumns
from helpers.studies.placement_lookup import Lookup, Tally, groups_of
from helpers.studies.placement_results import Placement, Question

__all__ = ["MOST_CELLS", "place_transmitters"]

CONDITIONS_AT_ONCE = 125  # of one part of the work: the same alone and on many processes, so that the results are the same to the bit
MOST_CELLS = 200_000_000  # choices times conditions: the room of each is kept, 4 bytes


def place_transmitters(tower, window, drawn, choices=None, *, set_point_pa=None, transmitter=None, executor=None, progress=None, stop=None):
    """Judge choices of transmitters under drawn conditions.

    tower: `Tower`; window: `SiteWindow` (limits of all its doors), narrowed to `allowed_pressures`; drawn: `Drawn`; choices: of `Choice`
    (default `choices_of` the site);
    set_point_pa [Pa]: of choices that state none, by default the site's; transmitter: the kind put on every level (range, accuracy,
    reference), by default the site's first. executor: any concurrent.futures.Executor, to work on several parts of the conditions at
    once; the results are those of the run without. progress: called with (conditions done, conditions in all) after each part. stop:
    called after each part; where it says True the study ends with what it has, and says so. Returns `Placement`.
    Raises ValueError for no choices, levels that are not there, a set point outside the transmitter's range, or too much at once.
    Limits: steady state; all readings end at the transmitter's range; a condition for which the network finds no answer is left out and
    counted; doors are looked up, within 0.5 Pa of held ones (a dead transmitter in an average holds the others far above the set point,
    where it is some 2 Pa).
    """
    site = tower.site
    kind = site.transmitters[0] if transmitter is None else transmitter
    target = one_number(set_point_pa=site.control.set_point_pa if set_point_pa is None else set_point_pa)
    choices = choices_of(site, levels=candidate_levels(site, kind)) if choices is None else tuple(choices)
    levels = _levels_used(site, choices, kind)
    if len(choices) * len(drawn) > MOST_CELLS:
        raise ValueError(f"choices times conditions must be {MOST_CELLS} at the most, got {len(choices)} times {len(drawn)}")
    if drawn.conditions.leak_factor.shape[1] != len(site.storeys):
        raise ValueError(f"drawn must be for {len(site.storeys)} storeys, got {drawn.conditions.leak_factor.shape[1]}")
    groups = groups_of(choices, levels, target)
    for held_at in (group.set_point_pa for group in groups):
        if not kind.range_low_pa < held_at < kind.range_high_pa:
            raise ValueError(f"set_point_pa must lie inside the range {kind.range_low_pa:g} to {kind.range_high_pa:g} Pa, got {held_at:g}")
    parts = [slice(i, i + CONDITIONS_AT_ONCE) for i in range(0, len(drawn), CONDITIONS_AT_ONCE)]
    task = _Task(tower, DoorColumns(tower, allowed_pressures(site, window)), levels, kind, groups)
    found = _work(task, [drawn.rows(part) for part in parts], executor, progress or _silent, stop or _never)
    done, unsolved = sum(part.conditions for part in found), sum(part.unsolved for part in found)
    if done == unsolved:
        raise ValueError(f"drawn must hold conditions with an answer; the network found none for any of {done}")
    merged = [Tally.joined(tallies, axis=1) for tallies in zip(*[part.tallies for part in found if part.tallies], strict=True)]
    asked = Question(site.name, choices, levels, own_choice(site), target, tuple(task.doors.columns), len(drawn), drawn.said)
    return Placement.of(asked, groups, merged, done, unsolved)


@dataclass
class _Part:
    """What one part of the conditions gave: a tally of each group (none without any answer), conditions, and those without an answer."""

    tallies: list
    conditions: int
    unsolved: int


@dataclass
class _Task:
    """One part of the conditions, from solving to the tally of every choice; it travels to other processes."""

    tower: object
    doors: DoorColumns
    levels: tuple
    kind: object
    groups: list

    def __call__(self, drawn):
        """The part of the work that these drawn conditions are."""
        transmitters = [self.kind.model_copy(update={"level": level}) for level in self.levels]
        error = self.kind.accuracy_percent_span / 100 * (self.kind.range_high_pa - self.kind.range_low_pa)
        storeys = [self.tower.storey(level) for level in self.levels]
        off = error * drawn.error_share[:, storeys]
        held_at, most_off = [group.set_point_pa for group in self.groups], np.abs(off).max()
        looked_up = min(held_at) - most_off, max(held_at) + most_off
        airs = self._airs(drawn)
        curves = solve_curves(self.tower, Conditions.joined(airs), transmitters, self.doors, looked_up)
        good = np.flatnonzero(curves.solved.reshape(len(airs), -1).all(axis=0))
        if not good.size:
            return _Part([], len(drawn), len(drawn))
        rows = (np.arange(len(airs))[:, None] * len(drawn) + good).ravel()  # one air after the other
        curves, standing_open = curves.rows(rows), self.doors.standing_open(drawn.conditions)[good]
        off, standing_open = (np.concatenate([each] * len(airs)) for each in (off[good], standing_open))
        readings = np.clip(curves.readings_pa + off[:, None, :], self.kind.range_low_pa, self.kind.range_high_pa)
        lookup = Lookup(readings, self.tower.effect, curves, self.doors, standing_open, len(airs))
        return _Part([lookup.tally(group) for group in self.groups], len(drawn), len(drawn) - good.size)

    def _airs(self, drawn):
        """The conditions with each of the stair's airs that they are judged in."""
        stated = drawn.conditions
        if not drawn.both_airs:
            return [stated]
        return [with_stair(stated, stair) for stair in (stated.floor_c, stair_air(self.tower, stated).stair_c)]


def _work(task, parts, executor, progress, stop):
    """Results of the parts in their order, up to the last part or the first stop."""
    asked, found = sum(len(part) for part in parts), []
    futures = [executor.submit(task, part) for part in parts] if executor else []
    calls = [future.result for future in futures] if executor else [lambda part=part: task(part) for part in parts]
    for call in calls:
        found.append(call())
        progress(sum(part.conditions for part in found), asked)
        if len(found) < len(parts) and stop():
            break
    for future in futures[len(found) :]:
        future.cancel()
    return found


def _levels_used(site, choices, kind):
    """Levels of all choices, bottom up; refuses those at which this kind of transmitter cannot be."""
    if not choices:
        raise ValueError("choices must hold at least one choice, got none")
    levels = tuple(sorted({level for choice in choices for level in choice.levels}))
    known = {storey.level: storey for storey in site.storeys}
    for level in levels:
        if level not in known:
            raise ValueError(f"choices must name levels from {min(known)} to {max(known)}, got {level!r:.60}")
        if kind.reference == "lobby" and not known[level].lobby:
            raise ValueError(f"choices must name levels with a lobby, the transmitter's reference; level {level} has none")
    return levels


def _silent(done, asked):
    """No progress wanted."""


def _never():
    """Never stop."""
    return False
