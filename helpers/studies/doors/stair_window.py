"""A simple stair against its pressure window: one kind of door on every storey, and all of the stack effect on the doors.

The stair is as warm as the rooms, and the floors' windows stand open, so that nothing but the door parts stair and weather: the harshest
case. With the windows shut a part of the stack effect lies on the facade (`leakage.stair_top_pressure`, and the air network of a site).
"""

from dataclasses import dataclass, field, replace
from functools import cache, cached_property

import numpy as np

from helpers.formulas import air, doors, leakage
from helpers.model.site.criteria import criteria_of
from helpers.model.site.file import demo_sites, read_site
from helpers.studies import status
from helpers.studies.beside_limit import limit_tile
from helpers.studies.report import apart, inside_text, limit_text, passed, spanned
from helpers.units.said import shown_apart, unit_of, with_unit

STOREY_M, ROOM_C = 3.0, 21.0
SPARE_PA = 2 * status.SPARE_PA  # at both ends of the window together, beyond the stack effect

LIGHTEST_N = 20.0  # of the closers that are tried

CEILINGS_M = {f"none, {feet * 0.3048:.1f} m ({feet} ft)": feet * 0.3048 for feet in (9, 15, 21)}
# Least pressure across a shut stair door [Pa], with sprinklers and without by ceiling height: data/criteria, with its sources. The building
# code's own 0.10 in. w.c. is that of 9 ft.
LEAST_RULES = {
    "sprinklers": criteria_of("nfpa92").least_pa,
    **{name: criteria_of("nfpa92").of_building(False, False, ceiling).least_pa for name, ceiling in CEILINGS_M.items()},
    "EN 12101-6": criteria_of("en12101").least_pa,
}
# Most force at the handle [N], to set the leaf moving or to free the latch: doors.FORCE_LIMITS_N, with its sources.
MOVING, LATCH = "133 N (30 lbf), moving", "67 N (15 lbf), latch"  # the code's figure, and the same in the other system
FORCE_RULES = {
    MOVING: doors.FORCE_LIMITS_N["nfpa101_set_in_motion"],
    "100 N (22 lbf), EN 12101": doors.FORCE_LIMITS_N["en12101_6"],
    LATCH: doors.FORCE_LIMITS_N["nfpa101_free_latch"],
}


def stair_door(site):
    """`Door` of a stair whose doors are all of one kind."""
    (name,) = {storey.stair_door for storey in site.storeys if storey.stair_door}
    return site.doors[name]


@cache
def larkfield_door():
    """The stair door of Larkfield House as its site file has it: that of lesson 01, of the start page and of exercises."""
    return stair_door(read_site(demo_sites()["Larkfield House"]))


@dataclass(frozen=True)
class SmokePush:
    """What hot smoke under a ceiling of this height [m] pushes with [Pa], the least with its margin, and the figure of the table."""

    ceiling_m: float
    push_pa: float
    least_pa: float
    table_pa: float


def smoke_pushes():
    """For every ceiling height of the table of minimum pressures without sprinklers, where its figure comes from. Tuple of `SmokePush`."""
    return tuple(
        SmokePush(
            height, float(air.smoke_barrier_pressure(height, margin_pa=0.0)), float(air.smoke_barrier_pressure(height)), LEAST_RULES[name]
        )
        for name, height in CEILINGS_M.items()
    )


@dataclass(frozen=True)
class SimpleStair:
    """What is chosen: the door, what code and smoke ask for, the weather, and how many storeys (doors) stand one above the other.

    Heights count from the lowest door. The fan gives the door that is worst off just the minimum: the lowest door when it is colder
    outdoors, the highest when it is warmer.
    """

    closer_n: float = field(default_factory=lambda: larkfield_door().closer_force_n)
    width_m: float = field(default_factory=lambda: larkfield_door().width_m)
    handle_m: float = field(default_factory=lambda: larkfield_door().handle_to_edge_m)
    force_limit_n: float = FORCE_RULES[MOVING]
    least_pa: float = LEAST_RULES["none, 2.7 m (9 ft)"]
    outdoor_c: float = -9.0
    storeys: int = 14

    @property
    def leaf(self):
        """Width, height, closer and handle, as the formulas of doors take them."""
        return self.width_m, larkfield_door().height_m, self.closer_n, self.handle_m

    @cached_property
    def most_pa(self):
        """Upper end of the window; below zero where the closer alone is over the limit."""
        return float(doors.pressure_tolerated(self.force_limit_n, *self.leaf))

    @property
    def width_pa(self):
        """From the least to the most; negative where no pressure suits."""
        return self.most_pa - self.least_pa

    @cached_property
    def heights_m(self):
        """Of the doors, above the lowest one."""
        return STOREY_M * np.arange(self.storeys)

    @cached_property
    def gradient_pa_m(self):
        """Stack effect."""
        return float(air.stack_gradient(self.outdoor_c, ROOM_C))

    @property
    def stack_pa(self):
        """What the stack effect takes of the window between the lowest and the highest door."""
        return abs(self.gradient_pa_m) * float(self.heights_m[-1])

    @cached_property
    def door_pa(self):
        """Pressure across each door, from the lowest to the highest."""
        along = air.stack_pressure(self.heights_m, self.outdoor_c, ROOM_C)
        return self.least_pa + along - along.min()

    @cached_property
    def force_n(self):
        """Force at each handle."""
        return doors.opening_force(self.door_pa, *self.leaf)

    @property
    def left_pa(self):
        """What is left of the window for all else; negative where the doors at one end are over the limit."""
        return self.width_pa - self.stack_pa

    @property
    def too_heavy(self):
        """How many doors take more than the limit."""
        return int((self.force_n > self.force_limit_n).sum())

    @property
    def worst_place(self):
        """The end where the doors are heaviest: "highest" or "lowest"."""
        return "highest" if self.gradient_pa_m >= 0 else "lowest"

    @property
    def lightest(self):
        """The end whose door lies on the least."""
        return "all" if not self.gradient_pa_m else "lowest" if self.gradient_pa_m > 0 else "highest"

    @property
    def most_storeys(self):
        """How many storeys one supply keeps inside this window in this weather; None without stack effect, 0 without a window."""
        return self._storeys(0.0)

    @property
    def kept_storeys(self):
        """The same with SPARE_PA of the window kept for wind and errors."""
        return self._storeys(SPARE_PA)

    def _storeys(self, kept_pa):
        if self.width_pa <= kept_pa:
            return 0
        if not self.gradient_pa_m:
            return None
        return int(float(leakage.stair_height_limit(self.least_pa, self.most_pa - kept_pa, self.gradient_pa_m)) // STOREY_M) + 1

    def but(self, **changes):
        """The same stair with something else."""
        return replace(self, **changes)

    @property
    def state(self):
        """Key of the status: of what is left of the window beside the stack effect."""
        return "wrong" if self.width_pa <= 0 else status.status_of(self.left_pa, 0.0, SPARE_PA, "least")

    @property
    def status(self):
        """Key of the status of the doors as they are, of the graver of both ends: the fan gives the lowest just the least, by which nothing
        is to spare for wind and errors: no PASS, as nowhere else."""
        return status.worst_of([self.state, status.status_of(float(self.door_pa.min()), self.least_pa, SPARE_PA, "least")])

    def says(self):
        """The window, what the stack effect takes of it, and what is left, in words."""
        if self.most_pa <= 0:
            closer, limit = apart((self.closer_n, self.force_limit_n), "force", "most")
            return f"The closer alone takes {closer}, and {limit} is allowed: there is no window, even without a fan."
        if self.width_pa <= 0:
            least, most = limit_text(self.least_pa, "pressure", "least"), limit_text(self.most_pa, "pressure", "most")
            return f"No pressure suits this door: against smoke it needs {least}, and against more than {most} people cannot open it."
        low, high = limit_text(self.least_pa, "pressure", "least"), limit_text(self.most_pa, "pressure", "most")
        stack, width = with_unit(self.stack_pa, "pressure", (1, 3)), shown_apart(high, low)
        left = shown_apart(stack, width)
        window = (
            f"The window is {spanned(low, high, unit_of('pressure'))}, {width} wide. The stack effect takes {stack} between the end doors"
        )
        if self.left_pa < 0:
            return f"{window}, {left} too much. {self._heavy()} {self._reach()}"
        if self.left_pa < SPARE_PA:
            return f"{window}; {left} is left, which wind and a transmitter's error can take too. {self._reach()}"
        return f"{window}; {left} is left for wind and errors. {self._reach()}"

    @property
    def case(self):
        """What is judged, all doors shut: the weather, and how warm the stair is."""
        outdoors, stair = (with_unit(value, "temperature") for value in (self.outdoor_c, ROOM_C))
        return f"outdoors, stair: {stair}" if self.outdoor_c == ROOM_C else f"outdoors {outdoors}, stair {stair}"

    def headline(self):
        """The verdict in one sentence, the limit that decides first."""
        if self.most_pa <= 0:
            return passed(self.closer_n, self.force_limit_n, "force", "by the closer alone")
        if self.width_pa <= 0:
            least, most = limit_text(self.least_pa, "pressure", "least"), limit_text(self.most_pa, "pressure", "most")
            return f"No window: least {least}, most {most}"
        if self.too_heavy:
            more = f"; {self.too_heavy} doors out" if self.too_heavy > 1 else ""
            return f"{passed(float(self.force_n.max()), self.force_limit_n, 'force', f'at the {self.worst_place} door')}{more}"
        just = "just " * (self.left_pa < SPARE_PA)  # the lowest lies on the least, by which the fan is set: both ends are told
        return f"{self.storeys} doors {just}within {inside_text(self.least_pa, self.most_pa)}; {self.lightest}: 0 downwards"

    def to_do(self):
        """What helps, tried on this stair, in one line of a panel: the heaviest closer that does, or fewer storeys; the other figure of the
        code where that for the latch is chosen; where all is well, who decides what is added to the least, where by definition nothing
        is to spare; whom to ask where no closer tried helps. Either leaves SPARE_PA
        of the window free, so that it is less than the bare sum of the figures shown; the line says so. Limits: whether such a closer still
        latches the leaf is not computed; of this stair alone, a building has final exits and open doors as well."""
        if self.state == "good":
            spare = with_unit(float(self.door_pa.min()) - self.least_pa, "pressure")
            return f"Ask: the designer what to add for wind and errors: {spare} spare at the least"
        if self.force_limit_n == FORCE_RULES[LATCH]:
            return f"Do: choose {MOVING}: that is the step air works against"
        tried = np.arange(np.ceil(self.closer_n) - 1, LIGHTEST_N - 0.5, -1.0)
        lighter = next((closer for closer in tried if self.but(closer_n=float(closer)).state == "good"), None)
        reach = f"{self.kept_storeys} storeys" if self.state == "wrong" and self.kept_storeys else ""
        if lighter is None:
            return f"Do: {reach} per supply; no closer tried helps" if reach else "Ask: what the code allows; no closer tried helps"
        closer = f"Do: closer {with_unit(lighter, 'force')} that latches"
        return f"{closer}{f', or {reach}' if reach else ''}: {with_unit(status.SPARE_PA, 'pressure')} kept at each end"

    def tiles(self):
        """(what, value, limit) of the heaviest door, the window and the height that it reaches over."""
        stack, width = apart((self.stack_pa, max(self.width_pa, 0.0)), "pressure", "most")
        most = self.most_storeys
        return (
            limit_tile(f"{self.worst_place.capitalize()} door", float(self.force_n.max()), self.force_limit_n, "force"),
            ("Stack effect", stack, f"{width} window" if self.width_pa > 0 else "no window"),
            ("Storeys, by stack effect", "no limit", f"{self.storeys} here")
            if most is None
            else ("Reaches over", f"{most} storeys", f"{self.storeys} here"),
        )

    def _heavy(self):
        force, limit = apart((float(self.force_n.max()), self.force_limit_n), "force", "most")
        count = f"{self.too_heavy} door{'s take' if self.too_heavy > 1 else ' takes'}"
        return f"{count} more than the {limit} allowed; the {self.worst_place} one takes {force}."

    def _reach(self):
        most = self.most_storeys
        if most is None:
            return "Without stack effect the height does not matter."
        return f"In this weather the window reaches over {most} storey{'s' if most != 1 else ''}."
