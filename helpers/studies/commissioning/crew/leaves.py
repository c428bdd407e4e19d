"""The door survey: what was measured at every leaf, and whether its two gauges agree: the force that the fan adds against the pressure
across the leaf, by the lever of handle or latch stile."""

from dataclasses import dataclass, replace
from math import sqrt
from statistics import mean, median, variance

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import AIR
from helpers.studies.commissioning.crew.blanks import leaves_of
from helpers.studies.commissioning.crew.in_rounds import held_down, no_pass
from helpers.studies.commissioning.crew.lines import AGREES, AJAR, COARSE, GAUGED, SHUTTING, Excess, ReportLine
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, OFF, SHUT
from helpers.studies.commissioning.judgement import GAUGES_SHARE, SHUTS
from helpers.studies.doors.forces import GAUGE_N, RELATCH_SHARE
from helpers.studies.measured.doubts.mistyped import as_typed, slip_of_point
from helpers.studies.measured.drawn import GAUGES
from helpers.studies.report import listed
from helpers.studies.status import status_of, word_of, worst_of
from helpers.units.said import with_unit

# Of what the fan adds, by the gauge, the widest band that still says that the two readings agree: in a wider one a gauge that shows half as
# much again, or half of it, would not be seen. Ours; the band itself stays what it is, and what lies beyond it is CHECK all the same.
MOST_BAND = 0.5
SIZE_SHARE = 0.03  # by which a leaf may differ from the site file's before it is told; ours
MOST_ALIKE = 0.5  # share of the leaves that are off the same way, from which on it is a gauge and not a door; ours
HOLD_BOTH = "hold both gauges at one door, then read the places of the one that is off again"
# Errors of a gauge by which the leaves' pressures may lie off a round's before nothing is said of it; by which a leaf's may lie off its
# door's in the round of its forces: two gauges differ by 1.4 of them on 19 of 20 days, by 2 on 199 of 200 (normal errors); ours.
APART, LEAF_APART = 3.0, 2.0
PAIRS_OFF, PAIRS_SHARE = 4.0, 0.07  # standard errors, and share, by which the two pairs' ratios may differ; ours
PAIRS_SEEN = 0.2  # share by which one pair's gauges must be seen to be off, or the two do not agree but are not told apart; ours
FEW = 3  # leaves that are compared before anything is said of all
STRONGER = (
    "the force says more than the gauge: does the leaf bind or its closer stiffen, is the gauge's tube kinked or open, was it read a "
    "minute later"
)
WEAKER = (
    "the force says less than the gauge: was the force gauge square and at its place, has the closer slackened while it was tested, was a "
    "door ajar two storeys away"
)

WITHIN = (
    f"{AGREES} is no {word_of('good')}: it says that two ways of reading one leaf tell the same, not that either is inside its limits. "
    f"{COARSE[0].upper()}{COARSE[1:]}: they may differ by more than {100 * MOST_BAND:.0f} % of what the gauge shows over the fan off, so "
    "that a gauge far off would not be seen (the share is ours): take a finer force gauge, and raise no speed for it. "
    f"May differ by: two errors of a force gauge over the leaf's lever, and {100 * GAUGES_SHARE:.0f} % of what the fan adds. Two pressure "
    "gauges at one place are held to the errors of gauges alone, which is far less."
)


@dataclass(frozen=True)
class LeafFound:
    """One leaf. key: (row's key, number of the leaf); values: what was measured, by field of the form Doors; off_pa, on_pa: pressure across
    it with the fan off and on; lever_n_pa: newtons at the force gauge for a pascal; added_n: what the fan adds; implied_pa: the pressure
    that this force says; state: "good", "attention", "" where the two are too coarse to tell, or "open" where something is
    missing; words; slips: a sentence about every force that can hardly be beside those of the other leaves."""

    key: tuple
    words: str
    values: dict
    off_pa: float | None
    on_pa: float | None
    lever_n_pa: float | None
    added_n: float | None
    implied_pa: float | None
    state: str
    said: str
    size_said: str = ""
    slips: tuple = ()

    @property
    def within_pa(self):
        """By how much the pressure by the force may differ from the gauge's [Pa], as `leaves_found` has it; None without a lever."""
        if self.lever_n_pa is None or None in (self.off_pa, self.on_pa, self.implied_pa):
            return None
        return _within_n(self.lever_n_pa * (self.on_pa - self.off_pa)) / abs(self.lever_n_pa)

    @property
    def ratio(self):
        """Pressure by the force over that by the gauge, both above the fan-off ones; None where either is missing or nearly none."""
        if self.implied_pa is None or abs(self.on_pa - self.off_pa) < 1.0:
            return None
        return (self.implied_pa - self.off_pa) / (self.on_pa - self.off_pa)


def leaves_found(rounds, filled):
    """`LeafFound` of every leaf; rounds: `CrewRounds` of the weather found; filled: `FilledSheets`.

    The fan adds k (p on - p off) at the gauge, with the lever k of the leaf as measured, else as the site file has it. Off where the force
    differs from that by more than two errors of a force gauge and GAUGES_SHARE of it, as the acceptance sheet has it. p off is the reading
    of the fan-off round, else what is expected of it. Limits: even pressure on the leaf; no figure for a leaf that opens by itself.
    """
    found = [_leaf(rounds, filled, key, row, words) for key, row, words in leaves_of(rounds)]
    apart = _apart_from_the_rounds(rounds, filled, found)
    return tuple(replace(leaf, slips=(*_slips(filled, leaf, found), *apart.get(leaf.key, ()))) for leaf in found)


def _apart_from_the_rounds(rounds, filled, leaves):
    """{key of a leaf: (a sentence,)} where its pressure in the minute of its forces is not its door's in the round in which most leaves
    were tried: a door written in another's row, or a unit.

    That round is the one with all doors shut that the leaves lie nearest to, in the middle; what they all have beside it (another minute)
    is taken off. Limits: fewer than FEW leaves, or a middle more than APART errors of a gauge off, say nothing of a round.
    """
    error = filled.value("day", "pressure_pa", "found") or GAUGES["pressure_pa"]
    tried = {leaf.key: filled.readings["doors", leaf.key, "same_pa"] for leaf in leaves if leaf.values.get("same_pa") is not None}
    place = {key: (row.use, row.level) for key, row, _ in leaves_of(rounds)}
    best = None
    for one in rounds.rounds:
        read = {key: filled.value("pressures", place[key], one.label) for key in tried}
        beside = {key: tried[key].value - value for key, value in read.items() if value is not None}
        if one.mode == OFF or one.open_doors or one.open_exits or len(beside) < FEW:
            continue
        middle = median(beside.values())
        if best is None or abs(middle) < abs(best[1]):
            best = one, middle, beside
    if best is None or abs(best[1]) > APART * error:
        return {}
    one, middle, beside = best
    off = {key: value - middle for key, value in beside.items() if abs(value - middle) > LEAF_APART * error}
    words, round_pa = {leaf.key: leaf.words for leaf in leaves}, {key: tried[key].value - value for key, value in beside.items()}

    def partner(key):
        """The leaf whose pressure is this one's of the round and the other way round, in words; "" for none."""
        fits = [other for other in off if other != key and abs(tried[key].value - middle - round_pa[other]) <= LEAF_APART * error
                and abs(off[key] + off[other]) <= LEAF_APART * error]  # fmt: skip
        return words[fits[0]] if fits else ""

    return {key: (_apart_said(filled, one, place[key], tried[key], partner(key)),) for key in off}


def _apart_said(filled, one, place, tried, partner):
    """What a leaf reads beside its door in a round, with both cells, in words; partner: the leaf it may be exchanged with, "" for none."""
    other = filled.readings["pressures", place, one.label]
    exchanged = f"exchanged with {partner}?" if partner else "which of the two is another door's, or of another minute?"
    look = slip_of_point(tried.value, other.value, pressure=True) or exchanged
    read, round_read = map(as_typed, (tried.value, other.value))
    return f"{read} with its forces (cell {tried.cell}), {round_read} at {one.label} (cell {other.cell}): {look} Read both again"


def _slips(filled, leaf, every):
    """A sentence about every force of a leaf many times, or a small part of, what the other leaves ask for at the same step."""
    for column, value in leaf.values.items():
        others = [one.values[column] for one in every if one.key != leaf.key and one.values.get(column)]
        if column.startswith(("on ", "off ")) and len(others) >= FEW and (said := slip_of_point(value, median(others))):
            cell, usual = filled.readings["doors", leaf.key, column].cell, with_unit(median(others), "force", 1)
            read = f"fan {column}: {with_unit(value, 'force', 1)} (cell {cell})"
            yield f"{read} can hardly be, {said}: the other leaves ask for some {usual}; read it again"


def _leaf(rounds, filled, key, row, words):
    values = {column: reading.value for (form, line, column), reading in filled.readings.items() if form == "doors" and line == key}
    off_pa, on_pa = filled.value("pressures", (row.use, row.level), rounds.rounds[0].label), values.get("same_pa")
    off_pa = row.off_pa if off_pa is None else off_pa
    on_pa = filled.value("pressures", (row.use, row.level), SHUT) if on_pa is None else on_pa
    force = next((one.criterion for one in row.forces if one.criterion.step in AIR), None)
    if force is None:
        return LeafFound(key, words, values, off_pa, on_pa, None, None, None, "open", "the standard asks for no force that air counts in")
    lever, size_said = _lever(rounds.site.doors[row.door], force.at, values)
    lever = -lever if row.window.opens_with_pressure else lever
    off_n, on_n = values.get(f"off {force.step}"), values.get(f"on {force.step}")
    left = [what for what, value in (("force, fan off", off_n), ("force, fan on", on_n), ("pressure", on_pa)) if value is None]
    if left:
        return LeafFound(key, words, values, off_pa, on_pa, lever, None, None, "open", f"still to measure: {', '.join(left)}", size_said)
    added, should = on_n - off_n, lever * (on_pa - off_pa)
    implied = off_pa + added / lever
    told = f"{with_unit(implied, 'pressure', (1, 3))} by the force, {with_unit(on_pa, 'pressure', (1, 3))} by the gauge"
    if min(off_n, on_n) <= 0:
        by_itself = "the leaf stands open by itself: no figure"
        return LeafFound(key, words, values, off_pa, on_pa, lever, added, None, "open", by_itself, size_said)
    if abs(added - should) <= _within_n(should):
        state, said = ("good", told) if _within_n(should) <= MOST_BAND * abs(should) else ("", f"{told}; {_coarse_said(lever)}")
        return LeafFound(key, words, values, off_pa, on_pa, lever, added, implied, state, said, size_said)
    look = STRONGER if (added - should) * lever > 0 else WEAKER
    return LeafFound(key, words, values, off_pa, on_pa, lever, added, implied, "attention", f"{told}; {look}", size_said)


def _within_n(should_n):
    """By how much a force may differ from what the gauge's pressure would add [N]."""
    return 2 * GAUGE_N + GAUGES_SHARE * abs(should_n)


def _coarse_said(lever):
    """That a leaf's two readings say nothing of each other, and below which pressure of the fan, in words; what to do is said once."""
    from_pa = 2 * GAUGE_N / (abs(lever) * (MOST_BAND - GAUGES_SHARE))
    from_said = with_unit(from_pa, "pressure")
    return f"{COARSE}: the fan adds less than {from_said} here"


def _lever(door, at, values):
    """(newtons at the gauge for a pascal, what of the leaf is another size than in the site file)."""
    sizes = {name: values.get(name) or getattr(door, name) for name in ("width_m", "height_m", "handle_to_edge_m")}
    told = [f"{name.removesuffix('_m').replace('_', ' ')} {with_unit(value, 'length')}, "
            f"site file {with_unit(getattr(door, name), 'length')}"
            for name, value in sizes.items() if abs(value - getattr(door, name)) > SIZE_SHARE * door.width_m]  # fmt: skip
    if sizes["handle_to_edge_m"] >= sizes["width_m"]:
        sizes, told = {name: getattr(door, name) for name in sizes}, [*told, "a handle beyond the hinges: the site file's sizes are used"]
    width, height, handle = sizes.values()
    lever = float(door_formulas.opening_force(1.0, width, height, 0.0, handle))
    lever = lever if at == "handle" else float(door_formulas.force_at_edge(lever, width, handle))
    return lever, "; ".join(told)


def gauge_lines(leaves):
    """A `ReportLine` of every leaf's force against its pressure; what all say together is a line that is not judged: each leaf it counts
    is, above it."""
    for leaf in leaves:
        lever = "" if leaf.lever_n_pa is None else f"lever {abs(leaf.lever_n_pa):.2f} N/Pa"
        added = "" if leaf.added_n is None else f"fan on less fan off {with_unit(leaf.added_n, 'force')}"
        state = worst_of([leaf.state, "attention"]) if leaf.size_said else leaf.state
        finer = "take a finer force gauge, raise no speed for it" * (COARSE in leaf.said)
        yield ReportLine(GAUGED, f"{leaf.words}, its two gauges", "", "", lever, added, f"within {100 * GAUGES_SHARE:.0f} % and two "
                         "errors of a force gauge", state, "; ".join(filter(None, (leaf.said, finer, leaf.size_said))))  # fmt: skip
    if said := together_said(leaves):
        yield ReportLine(GAUGED, "all leaves together", words=said)


def shutting_lines(found):
    """A `ReportLine` of every leaf that opens with the pressure (`DayFound`): did it shut and latch by itself against it?

    FAIL where it did not; NOT YET where nobody tried, or not at the most that was read while the loop held, or where it did at more than
    its closer surely shuts against: one trial is no proof there. Limits: that pressure is by the closer of the site file; steady speeds in
    MANUAL count where the leaf was tried at them and nowhere else, nobody goes through the door then.
    """
    rounds, filled, why = found.procedure.rounds, found.filled, no_pass(found)
    for key, row, words in leaves_of(rounds):
        if row.shuts_to_pa is None:
            continue
        place = (row.use, row.level)
        held = {one.label: filled.value("pressures", place, one.label)
                for one in rounds.rounds if one.mode == AUTOMATIC and not one.stands_open(*place)}  # fmt: skip
        tried_pa, shuts = filled.value("doors", key, "same_pa"), filled.value("doors", key, "shuts")
        tried_pa = held.get(SHUT) if tried_pa is None else tried_pa
        most_pa = max((pa for pa in (tried_pa, *held.values()) if pa is not None), default=None)
        state, past, told = _shut_again(row.shuts_to_pa, tried_pa, most_pa, shuts)
        state, told = held_down(next((why[label] for label, pa in held.items() if pa is not None and label in why), None), state, told)
        measured = "" if most_pa is None else with_unit(most_pa, "pressure", (1, 3))
        measured = "; ".join(filter(None, (measured, f"shuts: {shuts}" if shuts else "")))
        limit = f"surely up to {with_unit(row.shuts_to_pa, 'pressure', (1, 3))}"
        excess = _ajar(tried_pa, row.shuts_to_pa) if state == "wrong" else None
        yield ReportLine(SHUTTING, f"{words}, shuts and latches", "", "", row.door, measured, limit, state, told, excess=excess, past=past)


def _shut_again(surely_pa, tried_pa, most_pa, shuts):
    """(state, what is past what its closer surely shuts against, words) of one leaf; most_pa: the most it was read at."""
    surely = with_unit(surely_pa, "pressure", (1, 3))
    tried, most = ("" if one is None else with_unit(one, "pressure", (1, 3)) for one in (tried_pa, most_pa))
    if shuts == SHUTS[1]:
        past = f"{f'at {tried} ' * bool(tried)}it does not shut and latch by itself, its closer surely shuts it up to {surely}"
        return "wrong", past, past
    over = most_pa is not None and status_of(most_pa, surely_pa) == "wrong"
    if shuts is None or tried_pa is None:
        asked = "did it shut and latch by itself?" if shuts is None else "at which pressure did it shut?"
        said = f"{most}, its closer surely shuts it up to {surely}: {asked}" if most else asked
        return "open", said if over else "", said
    if not over:
        near = status_of(most_pa, surely_pa, RELATCH_SHARE * surely_pa)
        return near, "", f"{most} is near what its closer surely shuts against ({surely})" if near == "attention" else ""
    untried = most_pa > tried_pa
    proof = f"tried at {tried} alone" if untried else "it shut and latched in one trial, which is no proof: several, from every opening"
    said = f"{most}, its closer surely shuts it up to {surely}: {proof}"
    return "open", said, said


def _ajar(tried_pa, surely_pa):
    """The `Excess` of a leaf that was seen to stay ajar: with or below what its closer surely shuts against it is none the less."""
    if tried_pa is not None and status_of(tried_pa, surely_pa) == "wrong":
        return Excess.of(AJAR, tried_pa, surely_pa, "pressure")
    return Excess(AJAR, 1.0, "does not shut and latch")


def pairs_line(rounds, filled, leaves):
    """A `ReportLine` of the two pairs' mean ratio of force to gauge: each pair has gauges of its own, and leaf by leaf the forces are too
    coarse to see that one reads low. Nothing where a pair has fewer than FEW leaves, or one gauge read all.

        off = (mean upper / mean lower - 1) / ((v_upper / n_upper + v_lower / n_lower)^0.5 / mean lower)        v: variances of the ratios

    A leaf that stands out is left out of its pair's mean, unless half of the pair's do: then it is a gauge and not a leaf. CHECK beyond
    PAIRS_OFF standard errors of the difference and PAIRS_SHARE of it; not judged where the two are further apart than that share, or the
    forces too coarse for PAIRS_SEEN: that is no agreement. Source: text-book comparison of two means (from memory, not verified). Limits:
    stair doors alone; what the four gauges have in common is not seen, nor which of the two pairs is off.
    """
    levels = [storey.level for storey in rounds.site.storeys]
    given = filled.value("day", "upper_pair_from", "found")
    upper_from = levels[len(levels) // 2] if given is None else int(given)
    if str(filled.value("day", "pressure_gauges", "found") or "2") == "1":
        return
    rows = {row.key: row for row in rounds.sheet.rows}
    pairs = ([], [])
    for leaf in leaves:
        row = rows[leaf.key[0]]
        if row.use == "stair door" and leaf.ratio is not None and not leaf.slips:
            pairs[row.level >= upper_from].append(leaf)
    if min(map(len, pairs)) < FEW:
        return
    gone, kept = [], []
    for pair in pairs:
        out = [leaf for leaf in pair if leaf.state == "attention"]
        out = out if len(out) < MOST_ALIKE * len(pair) and len(pair) - len(out) >= FEW else []
        gone, kept = [*gone, *(leaf.words for leaf in out)], [*kept, [leaf.ratio for leaf in pair if leaf not in out]]
    pairs = kept
    (lower, upper), error = map(mean, pairs), sqrt(sum(variance(one) / len(one) for one in pairs))
    apart, seen = abs(upper - lower), PAIRS_OFF * error
    state, words = "good", ""
    if apart > PAIRS_SHARE * lower:
        state, words = "attention", f"one pair's pressure gauge, or its force gauge, reads other than the other's: {HOLD_BOTH}"
    if apart <= seen and max(apart / PAIRS_SHARE, seen / PAIRS_SEEN) > lower:
        words = f"{100 * apart / lower:.0f} % apart, and these forces show no less than {100 * seen / lower:.0f} %: not judged; {HOLD_BOTH}"
        state = ""
    measured = f"pressure by the force over that by the gauge, mean: lower pair {lower:.2f}, upper pair {upper:.2f}"
    measured += f"; without {listed(gone)}, which stand{'s' * (len(gone) == 1)} out" if gone else ""
    limit = f"within {100 * PAIRS_SHARE:.0f} %"
    yield ReportLine(GAUGED, "the two pairs' gauges", measured=measured, limit=limit, state=state, words=words)


def stand_out(leaves):
    """Words of the leaves whose force and pressure do not agree."""
    return tuple(leaf.words for leaf in leaves if leaf.state == "attention")


def together_said(leaves):
    """What the leaves say together, in a sentence; "" where too few were compared or they do not lean one way."""
    compared = [leaf for leaf in leaves if leaf.ratio is not None]
    off = [leaf for leaf in compared if leaf.state == "attention"]
    if len(compared) < FEW or not off:
        return ""
    more = sum(leaf.ratio > 1 for leaf in off)
    if max(more, len(off) - more) > MOST_ALIKE * len(compared):
        ratios = sorted(leaf.ratio for leaf in compared)
        return (
            f"{max(more, len(off) - more)} of {len(compared)} leaves are off the same way, {ratios[len(ratios) // 2]:.2f} times in the "
            "middle: compare the two gauges with others first, then the doors."
        )
    names, again = ", ".join(leaf.words for leaf in off), "Measure it" if len(off) == 1 else "Measure these"
    return f"{len(off)} of {len(compared)} leaves stand out from the others: {names}. {again} again before anything is adjusted."
