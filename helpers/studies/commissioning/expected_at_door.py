"""One door of the acceptance sheet: what is expected of it in the sheet's weather: shut, fan off, in the second round, and later."""

from dataclasses import dataclass

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import AIR
from helpers.studies.commissioning.fields import ExpectedForce
from helpers.studies.doors.forces import force_where_measured, limit_where_measured
from helpers.studies.doors.kinds import DoorWindow
from helpers.studies.doors.window import handle_force_n
from helpers.studies.report import limit_text

NO_FIGURE = "no figure, its limits hold"  # of a second reading in a weather for which nobody worked out how the stair's air changes


@dataclass(frozen=True)
class AcceptanceRow:
    """What is expected at one door.

    key: its level for a stair door, else use and level; across: between what its pressure is measured; shut_pa, open_pa: with all doors
    shut and with the sheet's doors open; off_pa with the fan stopped; off_n: what the gauge reads then, at the place of `forces`; force_n
    at the handle with doors shut (zero where the pressure pushes the leaf open) and its limit (None: not worked by hand); opened: whether
    it stands open in the second round, and speed_m_s: the air's speed through it then; arm_n_pa: newtons at the gauge for a pascal;
    closer_n: the closer alone, there, as the site file has it; storey: the level, and what drawings call it; later_minute: of a
    door that is lightest or heaviest at some time, the minute since the start from which it is measured again, and later_shut_pa expected
    then: its shut_pa and its forces are those of the first minute, by the study of the stair's cooling. Where the day's temperatures are
    typed in, shut_pa is for those and later_shut_pa None.
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


def _expected(door, criterion, handle_n):
    expected = None
    if criterion.step in AIR:
        expected = max(force_where_measured(handle_n, door, criterion.at), 0.0)
    elif criterion.step == "release the latch":
        expected = None if door.latch_force_n is None else float(door.latch_force_n)
    else:
        expected = force_where_measured(door.closer_force_n, door, criterion.at)
    return ExpectedForce(criterion, limit_where_measured(door, criterion), expected)
