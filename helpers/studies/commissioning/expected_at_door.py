"""One door of the acceptance sheet: what is expected of it in the sheet's weather, and what that would be: shut, fan off, in the second
round, and later."""

from dataclasses import dataclass, replace

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import AIR
from helpers.studies.commissioning.fields import DoorMeasured, ExpectedForce
from helpers.studies.commissioning.further_tests import on_paper
from helpers.studies.commissioning.judgement import judged
from helpers.studies.commissioning.steps.not_run import INSIDE, NOT_RUN, word_shown
from helpers.studies.doors.columns import LIMITS
from helpers.studies.doors.forces import force_where_measured, limit_where_measured
from helpers.studies.doors.kinds import DoorWindow
from helpers.studies.doors.open import speeds_asked
from helpers.studies.doors.window import handle_force_n
from helpers.studies.report import fine, limit_text, passed
from helpers.studies.status import TOUCHES, word_of, worst_of
from helpers.units.said import with_unit

FAN_ON = "fan on: "
NO_FIGURE = "no figure, its limits hold"  # of a second reading in a weather for which nobody worked out how the stair's air changes


@dataclass(frozen=True)
class AcceptanceRow:
    """What is expected at one door.

    key: its level for a stair door, else use and level; across: between what its pressure is measured; shut_pa, open_pa: with all doors
    shut and with the sheet's doors open; off_pa with the fan stopped; off_n: what the gauge reads then, at the place of `forces`; force_n
    at the handle with doors shut (zero where the pressure pushes the leaf open) and its limit (None: not worked by hand); opened: whether
    it stands open in the second round, and speed_m_s: the air's speed through it then; arm_n_pa: newtons at the gauge for a pascal;
    closer_n: the closer alone, there, as the site file has it; storey: the level, and what drawings call it; later_minute: of a
    stair door that is lightest or heaviest at some time, or a final exit that changes, the minute since the start from which it is measured
    again, and later_shut_pa expected then: its shut_pa and its forces are those of the first minute, by the study of the stair's cooling.
    Where the day's temperatures are typed in, shut_pa is for those and later_shut_pa None. settled_pa: of another stair door, expected from
    settled_minute on, when the stair's air has settled; None where nobody knows it. hand_pa: in MANUAL at the sheet's `hand_hz`, at which
    the forces with the fan on are expected then; None where these are those of shut_pa.
    """

    key: int | str
    level: int
    use: str
    door: str
    shut_pa: float
    open_pa: float
    off_pa: float
    force_n: float | None
    limit_n: float | None
    off_n: float | None
    forces: tuple
    window: DoorWindow
    opened: bool
    speed_m_s: float | None
    arm_n_pa: float | None
    closer_n: float | None
    storey: str
    later_minute: float | None = None
    later_shut_pa: float | None = None
    settled_minute: float | None = None
    settled_pa: float | None = None
    hand_pa: float | None = None

    @property
    def least_pa(self):
        """Least pressure of the door's window, None where nothing asks for one."""
        return self.window.least_pa

    @property
    def most_pa(self):
        """Most pressure of the door's window, None where nothing limits it."""
        return self.window.most_pa

    @property
    def across(self):
        """Between what the pressure is measured, in words."""
        return self.window.across

    @property
    def shuts_to_pa(self):
        """Up to which pressure its closer surely shuts a leaf that opens with the pressure; None for another."""
        return self.window.relatch_pa[0] if self.window.relatch_pa else None

    @property
    def shuts_said(self):
        """The same in words, in place of a most where its window has none; "" for another."""
        return "" if self.shuts_to_pa is None else f"shuts again surely up to {limit_text(self.shuts_to_pa, 'pressure', 'most')}"

    @property
    def as_expected(self):
        """Fields of `DoorMeasured` as expected: its pressure, its forces, the second round."""
        forces = {"off_n": self.off_n} | {force.field: force.expected_n for force in self.forces}
        return {"shut_pa": self.shut_pa}, forces, {"speed_m_s": self.speed_m_s} if self.opened else {"open_pa": self.open_pa}

    @property
    def later_as_expected(self):
        """Fields of `DoorMeasured` for an end door's second reading as expected; nothing where nobody knows it."""
        return {} if self.later_shut_pa is None else {"later_pa": self.later_shut_pa, "later_minutes": self.later_minute}

    @property
    def gauge_at(self):
        """Where on the leaf the force gauge goes."""
        return next((force.criterion.at for force in self.forces), "")

    @property
    def asked(self):
        """Fields of `DoorMeasured` that must be there before the door can be passed."""
        forces = ("off_n", *(force.field for force in self.forces), "shuts") if self.forces else ()
        again = () if self.later_minute is None else ("later_pa", "later_minutes")
        return ("shut_pa", "minutes", *again, *forces, *(("speed_m_s",) if self.opened else ("open_pa",)), "direction")


def row_of(site, criteria, window, use, level, pressures, opened, speed, later):
    """The row of one door: window: its `DoorWindow`; pressures: (shut, open, fan off) [Pa] across it; opened: whether it stands open in the
    second round, speed [m/s] through it then; later: when it is measured again, and what is expected at both times."""
    door, (shut_pa, open_pa, off_pa) = site.doors[window.door], pressures
    shut_pa = shut_pa if later.first_pa is None else later.first_pa
    key = level if use == "stair door" else f"{use} {level}"
    force, forces, off, arm, closer = handle_force_n(door, shut_pa), (), None, None, None
    if force is not None:
        forces = tuple(_expected(door, criterion, force) for criterion in criteria.forces)
        at = forces[0].criterion.at
        off = max(force_where_measured(handle_force_n(door, off_pa), door, at), 0.0)
        arm = force_where_measured(door_formulas.opening_force(1.0, *door.leaf) - door.closer_force_n, door, at)
        closer = force_where_measured(door.closer_force_n, door, at)
        force = max(force, 0.0)
    return AcceptanceRow(key, level, use, window.door, shut_pa, open_pa, off_pa, force, window.force_n, off, forces, window, opened,
                         speed, arm, closer, next(storey.words for storey in site.storeys if storey.level == level), later.minute,
                         later.again_pa)  # fmt: skip


def by_hand(site, row, pressure_pa):
    """A row whose forces with the fan on are expected at a pressure across its door [Pa] that the fan gives in MANUAL."""
    force = handle_force_n(site.doors[row.door], pressure_pa)
    forces = tuple(_expected(site.doors[row.door], one.criterion, force) for one in row.forces)
    return replace(row, hand_pa=pressure_pa, forces=forces)


def fan_on(sheet):
    """With which fan the forces with the fan on are expected, in words: by hand at its speed where the loop is NOT RUN."""
    if not sheet.against[0]:
        return FAN_ON
    return f"fan on, {NOT_RUN}: " if sheet.hand_hz is None else f"MANUAL {with_unit(sheet.hand_hz, 'frequency', 1)}: "


def _expected(door, criterion, handle_n):
    expected = None
    if criterion.step in AIR:
        expected = max(force_where_measured(handle_n, door, criterion.at), 0.0)
    elif criterion.step == "release the latch":
        expected = None if door.latch_force_n is None else float(door.latch_force_n)
    else:
        expected = force_where_measured(door.closer_force_n, door, criterion.at)
    return ExpectedForce(criterion, limit_where_measured(door, criterion), expected)


def expected_forces(sheet, row):
    """(what is done, expected [N], its limit [N] or None, state, words) of each force at a door as expected, fan off first: each judged
    alone, so that no force bears the verdict of another. Each says with which fan the leaf is moved, and how far."""
    found = [(f"fan off: {one.criterion.step}", "off_n", row.off_n, one.limit_n) for one in row.forces if one.criterion.step in AIR]
    on = [one for one in row.forces if one.expected_n is not None]
    found += [(f"{fan_on(sheet)}{one.criterion.step}", one.field, one.expected_n, one.limit_n) for one in on]
    others = {one.field: 0.0 for one in row.forces if one.criterion.step not in AIR}  # measured: nothing of them is inferred from the first
    for what, name, expected_n, limit_n in found:
        told = tuple(judged(sheet, row, DoorMeasured(**({name: expected_n} if name != "off_n" else others | {name: expected_n})), True))
        yield what, expected_n, limit_n, worst_of(state for state, _ in told) or "good", "; ".join(words for _, words in told)


def force_word(state):
    """The word of the status of one of `expected_forces`: what is worked out beside an empty box is no PASS, run or NOT RUN."""
    return f"expected {INSIDE}" if state == "good" else word_of(state)


def _by_the_loop(sheet, row):
    """What `expected_forces` calls those of a door that hang on the pressure, and so on a loop that is NOT RUN: the others are the
    closer's, or of a fan by hand."""
    barred = sheet.against[0] and sheet.hand_hz is None
    return [f"{fan_on(sheet)}{one.criterion.step}" for one in row.forces if barred and one.criterion.step in AIR]


def run_states(sheet, row):
    """Keys of the status of what is expected of a door in what is run: rounds that are, and the closer's forces, which need none."""
    first, second = sheet.against
    shut, _, opened = (state for state, _ in sheet.expected_parts(row.key))
    forces = [state for name, *_, state, _ in expected_forces(sheet, row) if name not in _by_the_loop(sheet, row)]
    return [*forces, *([] if first else [shut, sheet.expected_states[row.key]]), *([] if second else [opened])]


def shut_said(sheet, row):
    """Of which air of the stair a door's expected pressure with all doors shut is, in words."""
    return "in the first minute" if row.later_shut_pa is not None else sheet.stair_said.removeprefix("with the ")


def settled_word(sheet, row):
    """What a door's pressure would be once the stair's air has settled, as `word_shown`; "" where nobody knows it."""
    if row.settled_pa is None:
        return ""
    told = judged(sheet, row, DoorMeasured(shut_pa=row.settled_pa), True)
    return word_shown(word_of(worst_of(state for state, _ in told) or "good"), sheet.against[0])


def later_word(sheet, row):
    """What a door's second reading as expected would be, as `word_shown`."""
    told = judged(sheet, row, DoorMeasured(**row.later_as_expected), True)
    own = replace(row, shut_pa=row.later_shut_pa)
    return word_shown(word_of(on_paper(sheet.worst, own, worst_of(state for state, _ in told) or "good", "")[0]), sheet.against[0])


def later_said(sheet, row):
    """What is expected of a door's second reading, by how much it is past which limit, its status, and what is done then, in words."""
    dp_pa, figure = row.later_shut_pa, with_unit(row.later_shut_pa, "pressure")
    for window in (one.window for one in sheet.worst if one.key == row.key):
        for limit, out in ((window.least_pa, -1), (window.most_pa, 1)):
            if limit is not None and out * (dp_pa - limit) > TOUCHES:
                figure = f"{fine(dp_pa)}, {passed(dp_pa, limit, 'pressure')}"
    do = "note the minute" if row.shuts_to_pa is None else "note the minute, let the leaf go: ajar is a deficiency"
    return f"{figure}: {sheet.later_words[row.key]}. Do: {do}"


def second_said(sheet, row):
    """What is expected of a door in the second round against its limit, with the fan's speed and the air of the stair, and what that would
    be, in words."""
    word = word_shown(sheet.expected_words(row.key)[2], sheet.against[1])
    if row.opened:
        figure, digits = f"{with_unit(row.speed_m_s, 'speed', (2, 0))} (open)", (2, 0)
        (least, *_), own = speeds_asked(sheet.criteria)
        print_only = "" if own else f" of {least.source.partition(',')[0]}, for comparison: this site's standard asks for no speed"
        limit = "" if row.use == "final exit" else f", min. {with_unit(least.limit, 'speed', digits)}{print_only}"
    else:
        figure = with_unit(row.open_pa, "pressure")
        least, most = row.window.open_least_pa, row.most_pa
        ends = [(abs(row.open_pa - end), which, end) for which, end in (("least", least), ("most", most)) if end is not None]
        limit = "".join(f", {LIMITS[which]} {limit_text(end, 'pressure', which)}" for _, which, end in sorted(ends)[:1])
    return f"{figure}{limit}: {word}"


def counted_over(sheet):
    """Over which doors' positions a sheet counts the doors that are expected to fail, in words: a door that is out in either round counts
    once, so it is more than those of one round."""
    return "doors shut or open" if sheet.open_doors or sheet.open_exits else "doors shut"
