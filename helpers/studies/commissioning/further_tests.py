"""What is tried on the day besides the two rounds of the doors, and what the doors go through that the day is not.

Of the doors: the stair that cools after the start, the jump when open doors shut, the worst day. Of the plant: the time from alarm to
pressure, the mains off and back, the override switch and the doors' forces then, the relief damper that opens and seats again; each with
its
limit, who does it, and what to look out for.

Limits: times are the drive's ramp and the site file's boxes; what the alarm system itself takes is in no site file.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import air as air_formulas
from helpers.model.air.network import wind_on_faces
from helpers.model.loop.events import DOORS
from helpers.model.site.criteria import AIR, cited
from helpers.model.site.tolerances import boxes
from helpers.studies.beside_limit import limit_tile
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.commissioning.fields import Missing, Remark, Says, above, below, present, spoken
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import GAUGE_N, Relatching, force_where_measured, limit_where_measured
from helpers.studies.doors.stair_cooling import cooling_study
from helpers.studies.doors.window import USES, DoorWindow, handle_force_n, pressure_window
from helpers.studies.duty.fan_duty import ACTIVATION_S
from helpers.studies.duty.full_speed import SHOWN_HZ
from helpers.studies.duty.permissible_speed import borne_hz
from helpers.studies.duty.relief_damper import BLADE_HYSTERESIS, blades, relief_said
from helpers.studies.readings.rules import CLOSER, allowed_pressures
from helpers.studies.report import fine, listed
from helpers.studies.status import between_limits, word_of, worst_of
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
        """Key of the status that it then has by its window, and by whether it shuts again."""
        shuts = [Relatching(self.window, self.pressure_pa, self.case).state] if self.window.relatch_pa else []
        return worst_of([between_limits(self.pressure_pa, self.window.least_pa, self.window.most_pa), *shuts])

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

    def short(self):
        """The figure, what it would be, and when."""
        lost = "" if self.held else ", the loop not at its set point"
        case = self.case.replace(", doors shut", "")  # they all are
        return f"{fine(self.pressure_pa)} {word_of(self.state)} ({case}{lost})"


def least_room(worst):
    """The door with the least room of `WorstDay`s; None without any that has a limit."""
    return min((one for one in worst if np.isfinite(one.room_pa)), key=lambda one: one.room_pa, default=None)


def worst_said(worst):
    """What a verdict of one day does not tell: the door with the least room of `WorstDay`s, and which others fail. "" without any."""
    first = least_room(worst)
    if first is None:
        return ""
    ends = (("at least", first.window.least_pa), ("at most", first.window.most_pa))
    window = " and ".join(f"{word} {fine(end)}" for word, end in ends if end is not None) + " asked for"
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
    first minute and then, doors shut, None where nobody knows."""

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


@lru_cache(maxsize=16)
def _course(same, weather):
    """(levels that are lightest or heaviest in the first minute or at the end, minute of the second reading, {level: pressures across its
    door in the first minute and then [Pa]})."""
    try:
        found = cooling_study(same.tower, weather)
    except ValueError:  # a stair without walls has no heat balance
        return (), USUAL_MIN, {}
    minutes = [moment.minute for moment in found.moments]
    pairs = ((float(dp[0]), float(np.interp(found.again_minute, minutes, dp))) for dp in found.door_dp_pa.T)
    return found.measured_levels, found.again_minute, dict(zip(found.levels, pairs, strict=True))


YES_NO = ("yes", "no")
SPEEDS = 21  # at which the damper is looked for
ALARM, MAINS, BACK = "alarm to pressure", "mains off: pressure on standby power", "mains back: pressure again"
BY_ITSELF, OVERRIDE, FORCE = "mains back: the fan starts by itself", "override switch: fan speed", "override switch: most force at a door"
OPENS, RESEATS, MOVES = "relief damper opens at", "relief damper shuts again at", "relief damper: blade seen to open and to seat"
BY_HAND = "nobody at belt or wheel, guards on; speed in steps, stopped at a door's force limit"
SWING = "everybody out of the swing of every door: all get heavier"


@dataclass(frozen=True)
class PlantTest:
    """One line: field: what it is, also its name; dimension of what is read, "" for yes or no; figure expected [SI], None for a word; told:
    what is expected, in words; chain: of `Remark`; who does it; caution."""

    field: str
    dimension: str
    figure: float | None
    told: str
    chain: tuple
    who: str
    caution: str

    @property
    def words(self):
        """Words that it is answered by, none for a figure."""
        return () if self.dimension else YES_NO

    @property
    def missing(self):
        """The condition under which it is still to be filled in."""
        return Missing(self.field, self.words)

    def judge(self, read):
        """(key of the status, words) of what was read: SI, a word, None or a ValueError for nothing that can be used."""
        values = {self.field: read if isinstance(read, int | float) or read in self.words else None}
        if self.missing.holds(values):
            return "open", ""
        found = [(check.state, f"{self.field}: {check.say(values)}") for check in spoken((self.chain,), values)]
        return (worst_of(state for state, _ in found), "; ".join(words for _, words in found)) if found else ("good", "")


def plant_tests(tower, window, shut, held_hz):
    """Lines of a stair in one weather.

    tower: `Tower`; window: `SiteWindow`; shut: `Conditions` of the day, doors shut, one row; held_hz: the fan's speed then. Returns a tuple
    of `PlantTest`. Limits: steady air; the override is taken to go to the highest speed of smoke control.
    """
    site = tower.site
    tests = [*_times(site, held_hz), *_override(tower, window, shut)]
    return (*tests, *(_damper(tower, shut) if site.stair.relief is not None else ()))


def _times(site, held_hz):
    fan, standby = site.fan, site.standby
    ramp_s = fan.ramp_s * held_hz / fan.reference_speed_hz
    known, way = boxes(site), f"{ramp_s:.1f} s of ramp to {held_hz:.1f} Hz and a few seconds of the loop"
    late = cited(site, f"more than {ACTIVATION_S:g} s, which NFPA 92 and IBC print for a fan in one edition (from memory, not verified)")

    def slow(field, limit_s, said):
        never = Remark("open", below(field, 0.0), lambda values: f"{values[field]:.3g} s: no time is below 0, clock it again")
        return never, Remark("attention", above(field, limit_s), lambda values: f"{values[field]:.3g} s, {said}")

    yield PlantTest(ALARM, "time", ramp_s, f"{way}, and what the alarm system takes", slow(ALARM, ACTIVATION_S, late),
                    "one at the alarm panel, a pair at the gauge", "alarm service told first; doors shut, nobody in them")  # fmt: skip
    parts = [known[key] for key in ("standby.detection_s", "standby.start_s", "standby.transfer_s") if key in known]
    who = "licensed electrician, a pair at the gauge"
    caution = "the fan starts by itself: nobody at belt, wheel or in a doorway; lifts empty, other loads told; no door left without light"
    if parts:
        low, high = (sum(getattr(part, end) for part in parts) + ramp_s for end in ("low", "high"))
        said = f"more than the {high:.0f} s that {standby.source} and ramp take at the most"
        yield PlantTest(MAINS, "time", low, f"{low:.0f} to {high:.0f} s, {standby.source} and ramp", slow(MAINS, high, said),
                        who, caution)  # fmt: skip
    refused = Remark("wrong", Says(BY_ITSELF, YES_NO[1:]), lambda values: "no: a stair fan has to come back without a hand")
    source = "there is no standby power" if standby is not None and standby.source == "none" else "no standby power is stated"
    alone = "" if parts else f"; {source}: until then the stair has no pressure"
    again = f"yes, each time, caught while its wheel still turns{alone}"
    yield PlantTest(BY_ITSELF, "", None, again, (refused,), who, caution)
    yield PlantTest(BACK, "time", ramp_s, way, slow(BACK, ACTIVATION_S, late), who, caution)


def comes_first(site, out_of_mode):
    """What has to be settled before anybody goes out to test a stair, in words; "" for nothing. out_of_mode: as of a `Design`."""
    if out_of_mode:
        return f"it is judged by {out_of_mode} and its file says that it is not in smoke control: first the mode"
    right = actions.action_for(int(site.fan.sign))
    runs_away = f"its action is {site.control.action} and must be {right}: the loop runs away"
    return "" if site.control.action == right else runs_away


def _override(tower, window, shut):
    site = tower.site
    most_hz = site.fan.speed_limits_hz(site.control.fire_mode)[1]
    safe_hz, closes_hz = (0.0 if np.isnan(one) else one for one in borne_hz(site))
    chain = tuple(Remark(state, above(OVERRIDE, limit + SHOWN_HZ / 2), lambda values, words=words:
        f"{values[OVERRIDE]:.1f} Hz, {words}") for state, limit, words in (
            ("wrong", most_hz, f"the doors are judged up to {most_hz:g} Hz"),
            ("wrong", safe_hz, f"no shut door passes its limit up to {safe_hz:.1f} Hz, above it one does"),
            ("attention", closes_hz, f"above {closes_hz:.1f} Hz a final exit, once opened, does not close again")))  # fmt: skip
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    air = next((force for force in window.criteria.forces if force.step in AIR), None)
    today, year = ([] if air is None else _forces(tower, window, air, where, most_hz) for where in (shut, conditions_of(site, cases)))
    bears = f"; a door bears {safe_hz:.1f} Hz and no more: past it {word_of('wrong')}" * (safe_hz < most_hz)
    bears += f"; above {closes_hz:.1f} Hz a final exit does not close again" * (closes_hz < most_hz)
    agreed = f"as agreed with the fire service, at most {most_hz:g} Hz{bears}"
    who = "one at the switch, one at the drive's display"
    borne = min(one for one in (most_hz, safe_hz, closes_hz) if one > 0)
    yield PlantTest(OVERRIDE, "frequency", borne, agreed, chain, who, SWING)
    if not today:
        return
    (force_n, door, limit_n, _), (worst_n, worst_door, _, row) = (max(one, key=lambda at: at[0] / (at[2] or 1.0)) for one in (today, year))
    at = f"at the {air.at} to {air.step}"

    figures = [with_unit(one, "force") for one in (force_n, worst_n)]
    limit = "limit blank" if limit_n is None else f"limit {with_unit(limit_n, 'force')}"
    told = f"{figures[0]} {at} of {door}, {limit}; of all weathers up to {figures[1]} ({worst_door}, {cases[row].name})"

    def said(values, words):
        return f"{with_unit(values[FORCE], 'force', 1)}, {words} {with_unit(limit_n, 'force', 1)}"

    chain = (Remark("open", present(FORCE), lambda values: "its limit is blank in the standard's file"),) if limit_n is None else (
        Remark("wrong", above(FORCE, limit_n), lambda values: said(values, "limit")),
        Remark("attention", above(FORCE, limit_n - GAUGE_N), lambda values: said(values, "just under the limit of")),
    )  # fmt: skip
    yield PlantTest(FORCE, "force", force_n, told, chain, "a pair with a gauge, one at the switch", SWING)


def _forces(tower, window, air, conditions, speed_hz):
    """(force [N], door in words, limit [N] or None, row of the conditions) of every door that is worked by hand, where it is heaviest."""
    across, found = across_by_use(tower.solve(conditions, float(speed_hz))), []
    for one in window.doors:
        door = tower.site.doors[one.door]
        for level in one.levels if door.worked_by_hand else ():
            dp = across[one.use][:, tower.storey(level)]
            forces = [force_where_measured(handle_force_n(door, float(value)), door, air.at) for value in dp]
            row = int(np.argmax(forces))
            found.append((max(float(forces[row]), 0.0), f"{one.use} {level}", limit_where_measured(door, air), row))
    return found


def _damper(tower, shut):
    """Its blade was tried at its setting and so much later and earlier: beyond that nobody has looked at the doors."""
    relief, site = tower.site.stair.relief, tower.site
    late, early = ((1 + way * BLADE_HYSTERESIS) * relief.opens_pa for way in (1, -1))
    low_hz, high_hz = site.fan.speed_limits_hz(site.control.fire_mode)
    place, speeds = tower.storey(relief.level), np.linspace(low_hz, high_hz, SPEEDS)
    rows = shut.rows(np.zeros(SPEEDS, int))
    wind = wind_on_faces(site, rows, site.faces_deg, air_formulas.density(rows.outdoor_c, tower.pressure_pa))[:, place].mean(axis=0)
    dp = tower.solve(rows, speeds).stair_pa[:, place] - wind
    lifts = np.flatnonzero(dp >= relief.opens_pa)
    where = f"stair over outdoors at storey {relief.level}"
    opens, tried = (with_unit(value, "pressure") for value in (relief.opens_pa, late))
    reached = f"from about {speeds[lifts[0]]:.0f} Hz; then at the fallback speed, where the record lays one down" if lifts.size else ""
    many = f"{relief_said(relief)}: the one furthest off is written here; " * ((relief.count or 1) > 1)
    told = f"{many}{opens}, at most {tried}, {where}; doors shut, fan in manual, today {reached}"

    past = Remark("wrong", above(OPENS, late), lambda values:
        f"{fine(values[OPENS])}, later than any blade that the doors were tried with ({fine(late)})")  # fmt: skip
    soon = Remark("attention", below(OPENS, early), lambda values:
        f"{fine(values[OPENS])}, sooner than any blade that the doors were tried with ({fine(early)})")  # fmt: skip
    who, caution = "a pair at the damper, one at the manual switch", f"no hand in the blade; {BY_HAND}; {SWING}"
    stays = Remark("attention", below(RESEATS, early), lambda values:
        f"{fine(values[RESEATS])}, lower than {fine(early)}: the stair loses air while the loop holds")  # fmt: skip
    shuts = f"{where}, fan slowed in manual"
    if reached:  # what no speed of the day opens is not asked for
        yield PlantTest(OPENS, "pressure", relief.opens_pa, told, (past, soon), who, caution)
        yield PlantTest(RESEATS, "pressure", early, f"at least {fine(early)}, {shuts}", (stays,), who, caution)
    by_hand = f"; lifted by hand, as no speed up to {high_hz:g} Hz opens it today: its {opens} are not proved" * (not reached)
    stuck = "no: stuck shut, by ice or rust, it jams the doors, stuck open it takes the pressure"
    still = Remark("wrong", Says(MOVES, YES_NO[1:]), lambda values: stuck)
    each = f" for all {relief.count}" if many else ""
    yield PlantTest(MOVES, "", None, f"yes{each}, full way and back, blade and seat clean{by_hand}", (still,), who, caution)
