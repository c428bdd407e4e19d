"""The acceptance sheet: storey by storey what pressure, force and direction are to be expected, and what was measured, judged at once.

Expected figures come from leaks out of tables: they show whether a reading is strange, the window says whether it is good. Doors open are
for the local code to judge; here the flow must go out of the stair, and that is all that is judged.
"""

from dataclasses import dataclass

from helpers import units
from helpers.model.tower import Tower
from helpers.studies.cases import Case, conditions_of, known_weather, two_neighbours
from helpers.studies.figures import fine
from helpers.studies.window import DoorWindow, handle_force_n, pressure_window

__all__ = ["DIRECTIONS", "AcceptanceRow", "AcceptanceSheet", "Measured", "acceptance_sheet"]

DIRECTIONS = ("out of the stair", "into the stair", "none")
STRANGE_SHARE = 0.5  # a reading this far from the expected one is looked at, though its door is in its window; common practice, no source
GAUGE_N = 5.0  # what a force gauge and a stiff hinge may add; common practice, no source


@dataclass(frozen=True)
class AcceptanceRow:
    """What is expected at one storey's stair door.

    shut_pa, open_pa: across it with all doors shut and with the sheet's doors open; force_n at the handle with doors shut (zero where the
    pressure pushes the leaf open) and its limit (None: not worked by hand); opened: whether it is one of those that stand open.
    """

    level: int
    door: str
    shut_pa: float
    open_pa: float
    force_n: float | None
    limit_n: float | None
    window: DoorWindow
    opened: bool

    @property
    def least_pa(self):
        """Least pressure of the door's window, None where nothing asks for one."""
        return self.window.least_pa

    @property
    def most_pa(self):
        """Most pressure of the door's window, None where nothing limits it."""
        return self.window.most_pa


@dataclass(frozen=True)
class Measured:
    """What somebody measured at a storey; None where nothing was. direction: of smoke or thread at the gap, one of DIRECTIONS."""

    shut_pa: float | None = None
    force_n: float | None = None
    open_pa: float | None = None
    direction: str | None = None


@dataclass(frozen=True)
class AcceptanceSheet:
    """All storeys with a stair door, bottom up, in one weather. open_doors, open_exits: levels whose doors stand open in the second round;
    state: whether the fan holds its set point, by round; speed_hz by round."""

    site_name: str
    weather: str
    rows: tuple
    open_doors: tuple
    open_exits: tuple
    state: tuple
    speed_hz: tuple

    def judge(self, level, measured, system="Pa"):
        """(state, words) of what was measured at a storey: "good", "attention", "wrong", or "" where nothing was.

        Raises ValueError for a storey that is not on the sheet, or a direction that is none of DIRECTIONS.
        """
        row = next((row for row in self.rows if row.level == level), None)
        if row is None:
            raise ValueError(f"level must be one on the sheet ({', '.join(str(row.level) for row in self.rows)}); got {level!r:.60}")
        if measured.direction is not None and measured.direction not in DIRECTIONS:
            raise ValueError(f"direction must be one of {', '.join(DIRECTIONS)}; got {measured.direction!r:.60}")
        told = [*_pressure(row, measured, system), *_force(row, measured, system), *_direction(row, measured)]
        if not told:
            return ("good", "inside its limits") if any(value is not None for value in vars(measured).values()) else ("", "")
        states = [state for state, _ in told]
        return "wrong" if "wrong" in states else "attention", "; ".join(words for _, words in told)


def acceptance_sheet(site, weather="winter", open_doors=None, open_exits=()):
    """The sheet of a stair site in one of its weathers.

    open_doors: levels for the second round (default: two neighbours half way up); open_exits: levels of final exits open with them. For the
    weather of the day: `site.with_changes(weather=...)`. Returns `AcceptanceSheet`. Raises ValueError for a weather that is not there.
    """
    known_weather(site, weather)
    opened = two_neighbours(site) if open_doors is None else tuple(open_doors)
    tower, window = Tower(site), pressure_window(site)
    held = tower.hold(conditions_of(site, [Case("shut", weather), Case("open", weather, tuple(opened), tuple(open_exits))]))
    windows = {level: door for door in window.doors if door.use == "stair door" for level in door.levels}
    rows = tuple(
        _row(site, storey, *(float(held.air.door_dp_pa[round_, place]) for round_ in (0, 1)), windows[storey.level], opened)
        for place, storey in enumerate(site.storeys)
        if storey.stair_door and storey.stair_door_count
    )
    return AcceptanceSheet(
        site.name, weather, rows, tuple(opened), tuple(open_exits), tuple(map(str, held.state)), tuple(map(float, held.air.speed_hz))
    )


def _row(site, storey, shut_pa, open_pa, window, opened):
    door = site.doors[storey.stair_door]
    force = handle_force_n(door, shut_pa)
    force = force if force is None else max(force, 0.0)
    return AcceptanceRow(storey.level, storey.stair_door, shut_pa, open_pa, force, door.force_limit_n, window, storey.level in opened)


def _pressure(row, measured, system):
    dp = measured.shut_pa
    if dp is None:
        return
    said = fine(dp, system)  # coarser, a reading just outside would be written like the limit it misses
    if row.least_pa is not None and dp < row.least_pa:
        yield "wrong", f"{said}, at least {fine(row.least_pa, system)} asked for: {row.window.means('low')}"
    elif row.most_pa is not None and dp > row.most_pa:
        yield "wrong", f"{said}, the door bears {fine(row.most_pa, system)}: {row.window.means('high')}"
    elif abs(dp - row.shut_pa) > STRANGE_SHARE * abs(row.shut_pa):
        expected = fine(row.shut_pa, system)
        yield "attention", f"{said} where {expected} was expected: look for a door ajar, a leak, another reference"


def _force(row, measured, system):
    force = measured.force_n
    if force is None:
        return
    said = units.show(force, "force", system)
    if row.limit_n is not None and force > row.limit_n:
        yield "wrong", f"{said} at the handle, limit {units.show(row.limit_n, 'force', system)}"
    elif row.limit_n is not None and force > row.limit_n - GAUGE_N:
        yield "attention", f"{said} at the handle, just under the limit of {units.show(row.limit_n, 'force', system)}"
    elif row.force_n is not None and abs(force - row.force_n) > STRANGE_SHARE * row.force_n:
        yield "attention", f"{said} at the handle where {units.show(row.force_n, 'force', system)} was expected: look at the closer"


def _direction(row, measured):
    if measured.direction == "into the stair":
        yield "wrong", "the air goes into the stair: smoke would, too"
    elif measured.direction == "none":
        yield "attention", "no air moves at the gap"
    if measured.open_pa is not None and measured.open_pa < 0:
        yield "wrong", "with the doors open the pressure here turns round"
