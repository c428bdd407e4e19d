"""What is tried on the day besides the two rounds of the doors, and what the doors go through that the day is not.

The stair that cools after the start, the jump when open doors shut, the worst day. What of the plant is tried stands in `steps.plant`.

Limits: steady air but for the jump, which is the moment after a door has shut.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from helpers.model.loop.events import DOORS
from helpers.studies.beside_limit import limit_tile
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.commissioning.steps.not_run import word_shown
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import Relatching
from helpers.studies.doors.kinds import DoorWindow
from helpers.studies.doors.stair_cooling import APART_HZ, SAME_PA, cooling_study
from helpers.studies.doors.window import USES, pressure_window
from helpers.studies.duty.relief_damper import blades
from helpers.studies.readings.rules import CLOSER, allowed_pressures
from helpers.studies.report import fine, limit_text, listed
from helpers.studies.status import SEVERITIES, SPARE_PA, TOUCHES, between_limits, word_of, worst_of
from helpers.units.said import with_unit

USUAL_MIN = 15.0  # after which an end door is measured again where no heat balance tells; common practice, no source


@dataclass(frozen=True)
class WorstDay:
    """A shut door where it has the least room in any of the site's weathers, from the first minute to an hour after the start.

    key: as a row's of the sheet; pressure_pa across it; window: as `allowed_pressures` has it, so that a leaf that the pressure pushes open
    bears no more than its closer shuts it against; case in words, held: whether the loop holds.
    """

    key: int | str
    pressure_pa: float
    window: DoorWindow
    case: str
    held: bool

    @property
    def state(self):
        """Key of the status that it then has by its window, with less room than SPARE_PA looked at as on the day, and by whether it shuts
        again."""
        shuts = [Relatching(self.window, self.pressure_pa, self.case).state] if self.window.relatch_pa else []
        return worst_of([between_limits(self.pressure_pa, self.window.least_pa, self.window.most_pa, SPARE_PA), *shuts])

    @property
    def room_pa(self):
        """Room to the nearer end of its window, below zero past it, infinite where nothing is asked."""
        least, most = self.window.least_pa, self.window.most_pa
        return min(np.inf if least is None else self.pressure_pa - least, np.inf if most is None else most - self.pressure_pa)

    @property
    def door(self):
        """The door in words."""
        return f"storey {self.key}" if isinstance(self.key, int) else self.key

    def tile(self, what):
        """(what, its pressure, the nearer end of its window), see `limit_tile`; "" for that end where nothing is asked."""
        least, most = self.window.least_pa, self.window.most_pa
        low = least is not None and self.room_pa == self.pressure_pa - least
        limit, word = (least, "min.") if low else (np.inf if most is None else most, "max.")
        return limit_tile(what, self.pressure_pa, limit, "pressure", word, (1, 3))

    def short(self, against=""):
        """The figure, what it would be, and when; against: why its round is NOT RUN, "" where it is run."""
        lost = "" if self.held else ", the loop not at its set point"
        case = self.case.replace(", doors shut", "")  # they all are
        close = ", too close" if self.state == "attention" and self.room_pa < SPARE_PA else ""
        return f"{fine(self.pressure_pa)} {word_shown(word_of(self.state), against)}{close} ({case}{lost})"


def worst_tiles(worst):
    """The door with the least room in any weather as a tile, none without one: the same on sheet and steps."""
    found = least_room(worst)
    return () if found is None else (found.tile(f"Any weather, worst: {found.door}"),)


def on_paper(worst, row, state, words, *later_pa):
    """(state, words) of a row of the sheet as expected, as grave as `WorstDay` has the same pressure across the same door: one status for
    one figure. later_pa: pressures that count beside its own of doors shut."""
    known = [one for one in worst if one.key == row.key and row.shut_pa is not None]
    same = [replace(one, pressure_pa=pressure) for one in known for pressure in (row.shut_pa, *later_pa)]
    same = min(same, key=lambda one: SEVERITIES.index(one.state), default=None)
    if same is None or worst_of((state, same.state)) == state:
        return state, words
    why = "past what its closer surely shuts it against" if same.window.most_because == CLOSER else "near an end of its window, or past it"
    return same.state, words or why


def least_room(worst):
    """The door with the least room of `WorstDay`s; None without any that has a limit."""
    return min((one for one in worst if np.isfinite(one.room_pa)), key=lambda one: one.room_pa, default=None)


def worst_said(worst):
    """What a verdict of one day does not tell: the door with the least room of `WorstDay`s, and which others fail. "" without any."""
    first = least_room(worst)
    if first is None:
        return ""
    ends = (("least", first.window.least_pa), ("most", first.window.most_pa))
    window = " and ".join(f"at {word} {limit_text(end, 'pressure', word)}" for word, end in ends if end is not None) + " asked for"
    window += f" ({CLOSER})" if first.window.most_because == CLOSER else ""
    lost = "" if first.held else ", the loop not at its set point"
    said = (
        f"A PASS is one for the weather of the day only. Worst day ({first.case}{lost}): {first.door}, {fine(first.pressure_pa)} "
        f"expected, {window}: {word_of(first.state)}"
    )
    if first.state != "wrong":
        return f"{said}."
    others = [one.door for one in worst if one.state == "wrong" and one is not first]
    more = f"; so on their worst days {listed(others)}" if others else ""
    return f"{said} in the record{more}. Until that is mended the sheet is {word_of('attention')} at the best."


def worst_of_doors(tower):
    """`WorstDay` of every door that has a window, all doors shut."""
    site = tower.site
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    held = tower.hold(conditions_of(site, cases))
    across, found = across_by_use(held.air), []
    for door in allowed_pressures(site).doors:
        for level in door.levels:
            dp = across[door.use][:, tower.storey(level)]
            key = level if door.use == USES["stair_door"] else f"{door.use} {level}"
            every = [
                WorstDay(key, float(one), door, case.name, bool(is_held)) for one, case, is_held in zip(dp, cases, held.held, strict=True)
            ]
            found.append(min(every, key=lambda one: one.room_pa))
    return tuple(found)


@dataclass(frozen=True)
class Twice:
    """minute: since the start from which a door is measured again, None for one that is not; first_pa, again_pa: expected across it in the
    first minute and from then on, doors shut, None where nobody knows."""

    minute: float | None = None
    first_pa: float | None = None
    again_pa: float | None = None


NEVER = Twice()


def measured_twice(tower, weather):
    """{level: `Twice`} of the lowest and highest stair door and of those that the stair's course names."""
    levels = [storey.level for storey in tower.site.storeys if storey.stair_door and storey.stair_door_count]
    if not levels:
        return {}
    named, minute, expected = _course(_SameStair(tower), weather)
    return {level: Twice(minute, *expected.get(level, ())) for level in sorted({levels[0], levels[-1], *named})}


def exits_twice(tower, weather):
    """{level: `Twice`} of the final exits whose pressure changes, as the stair's air does, by more than two gauges tell apart: again from
    the minute at which the first of them is past its limit, where it was inside before, else from that of the stair doors on. again_pa: the
    one with the least room from then on. {} where nobody knows how that air changes.
    """
    found = _studied(_SameStair(tower), weather)
    if found is None:
        return {}
    doors = [door for door in allowed_pressures(tower.site).doors if door.use == USES["final_exit_door"]]
    twice = {level: _exit_twice(found, door, found.exit_dp_pa[level]) for door in doors for level in door.levels}
    return {level: one for level, one in twice.items() if one is not NEVER}


def _exit_twice(found, door, dp_pa):
    if np.abs(dp_pa - dp_pa[0]).max() <= SAME_PA:
        return NEVER
    least, most = (-np.inf if door.least_pa is None else door.least_pa), (np.inf if door.most_pa is None else door.most_pa)
    room = np.minimum(dp_pa - least, most - dp_pa)
    minutes = np.array([moment.minute for moment in found.moments])
    late = minutes[room < -TOUCHES][:1] if room[0] >= -TOUCHES else []
    minute = float(max([found.again_minute] if not len(late) else late))
    later = minutes >= minute
    return Twice(minute, float(dp_pa[0]), float(dp_pa[later][int(np.argmin(room[later]))]))


def twice_of(tower, weather):
    """{(use, level): `Twice`} of `measured_twice` and `exits_twice`."""
    found = {"stair door": measured_twice(tower, weather), "final exit": exits_twice(tower, weather)}
    return {(use, level): one for use, some in found.items() for level, one in some.items()}


def heaviest_after(tower, window, shut, speed_hz):
    """(pressure [Pa], level) at the stair door with the most across it when open doors have just shut and the fan has not slowed down."""
    across, found = across_by_use(tower.solve(shut, float(speed_hz))), []
    for door in window.doors:
        if door.use == "stair door":
            found += [(float(across[door.use][0, tower.storey(level)]), level) for level in door.levels]
    return max(found, default=())


def worst_jump(tower, open_doors, open_exits):
    """(pressure [Pa], level, case in words) at the heaviest stair door when these open doors have just shut and the fan has not slowed
    down: of all weathers, of the stair's air from the first minute to an hour after the start, and of a relief damper that lifts late; the
    fan at the highest speed that it takes in any of them while the doors stand open.

    () where no stair door has a limit, or none is open. Limits: leaks as in the site file; the air of an hour with the doors shut.
    """
    return _jump(_SameStair(tower), open_doors, open_exits)


@lru_cache(maxsize=16)
def _jump(same, open_doors, open_exits):
    tower, site = same.tower, same.tower.site
    doors = [door for door in pressure_window(site).doors if door.use == "stair door"]
    if not doors or not (open_doors or open_exits):
        return ()
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    shut = conditions_of(site, cases)
    ajar = shut.rows(slice(None))
    for kind, levels in (("stair", open_doors), ("exit", open_exits)):
        for field in DOORS[kind]:
            changed = getattr(ajar, field).copy()
            changed[:, np.isin(tower.levels, levels)] = 1.0
            setattr(ajar, field, changed)
    speed_hz, found = float(tower.hold(ajar).air.speed_hz.max()), []
    for blade, one in blades(tower, shut):
        across = across_by_use(one.solve(shut, speed_hz))
        for door in doors:
            storeys = [tower.storey(level) for level in door.levels]
            dp = across[door.use][:, storeys]
            case, place = np.unravel_index(int(dp.argmax()), dp.shape)
            said = ", ".join(filter(None, (cases[case].name, blade)))
            found.append((float(dp[case, place]), door.levels[place], said))
    return max(found)


class _SameStair:
    """A stair that equals only that of the same site."""

    def __init__(self, tower):
        self.tower = tower

    def __eq__(self, other):
        return self.tower.site is other.tower.site

    def __hash__(self):
        return id(self.tower.site)


def course_said(tower, weather, ceiling):
    """What the loop holds in a weather of the site file with all doors shut, in the first minute and from the second reading on, each with
    the fan's speed and its status, in words; "" for a stair of which nobody knows how its air changes. ceiling: `Ceiling` of speed.

    The figures are those of `cooling_study`, which the page of the acceptance sheet shows hour by hour. Limits: as that study; with the
    ceiling in the drive the fan goes no faster, and every door reads less than the study has it.
    """
    found = _studied(_SameStair(tower), weather)
    if found is None:
        return ""
    first, again = found.first, next(one for one in found.moments if one.minute >= found.again_minute)
    fastest = max(found.moments, key=lambda one: one.speed_hz)
    told = [f"in the first minute {_moment_said(first)}", f"from minute {again.minute:.0f} {_moment_said(again)}"]
    if fastest.speed_hz > max(first.speed_hz, again.speed_hz) + APART_HZ:
        told.append(f"fastest {with_unit(fastest.speed_hz, 'frequency')} at minute {fastest.minute:.0f}")
    if ceiling.passed_by(fastest.speed_hz) and not np.isnan(ceiling.hz):
        held = with_unit(ceiling.hz, "frequency", 1)
        told.append(f"the day's ceiling in the drive holds the fan at {held}: where more is said every door reads less, and a loop that is "
                    "capped is not accepted")  # fmt: skip
    return "; ".join(told)


def first_minute_hz(tower, weather):
    """The fan's speed [Hz] with which the loop holds in the first minute in a weather of the site file; None where nobody knows it."""
    found = _studied(_SameStair(tower), weather)
    return None if found is None else float(found.first.speed_hz)


def fastest_of(tower, weather):
    """(speed [Hz], minute since the start) at which the loop takes the fan fastest in a weather of the site file, all doors shut; () where
    nobody knows how the stair's air changes."""
    found = _studied(_SameStair(tower), weather)
    if found is None:
        return ()
    fastest = max(found.moments, key=lambda one: one.speed_hz)
    return float(fastest.speed_hz), float(fastest.minute)


def settled_of(tower, weather):
    """{level: (minute since the start, pressure [Pa])} of every stair door from which on its air has settled; {} where nobody knows it."""
    _, minute, expected = _course(_SameStair(tower), weather)
    return {level: (minute, again) for level, (_, again) in expected.items()}


def _moment_said(one):
    ends = " to ".join(with_unit(pa, "pressure", (1, 3)) for pa in (one.least_pa, one.most_pa))
    lost = "" if one.held else ", the set point not reached"
    return f"stair doors {ends}, fan {with_unit(one.speed_hz, 'frequency')}{lost}: {word_of(one.state)}"


@lru_cache(maxsize=16)
def _studied(same, weather):
    try:
        return cooling_study(same.tower, weather)
    except ValueError:  # a stair without walls has no heat balance
        return None


@lru_cache(maxsize=16)
def _course(same, weather):
    """(levels that are lightest or heaviest in the first minute or at the end, minute of the second reading, {level: pressures across its
    door in the first minute and then [Pa]})."""
    found = _studied(same, weather)
    if found is None:
        return (), USUAL_MIN, {}
    minutes = [moment.minute for moment in found.moments]
    pairs = ((float(dp[0]), float(np.interp(found.again_minute, minutes, dp))) for dp in found.door_dp_pa.T)
    return found.measured_levels, found.again_minute, dict(zip(found.levels, pairs, strict=True))
