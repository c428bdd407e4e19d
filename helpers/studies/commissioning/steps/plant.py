"""The plant tried on the day: times from alarm and mains to pressure, the fire service's panel at ON and the doors' forces then, the relief
damper that opens and seats again; each with its limit, who does it, and what to look out for.

Nothing here takes the fan above the day's ceiling: the least of the speeds that every door bears, the relief damper stuck shut too.
Limits: times are the drive's ramp, the loop of the site file's own settings and the site file's boxes; what the alarm system itself takes
is in no site file.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import air as air_formulas
from helpers.model.air.network import wind_on_faces
from helpers.model.site.criteria import AIR, cited
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.commissioning.fields import Missing, Remark, Says, above, below, present, spoken
from helpers.studies.commissioning.steps.not_run import FAST, NOT_RUN, by_the_record
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import GAUGE_N, force_where_measured, limit_where_measured
from helpers.studies.doors.window import handle_force_n
from helpers.studies.duty.fan_duty import ACTIVATION_S
from helpers.studies.duty.full_speed import SHOWN_HZ
from helpers.studies.duty.mains_lost import WATCHED_S, start_ramp_s, to_pressure_s, until_power
from helpers.studies.duty.permissible_speed import COUNTS, borne_hz, ceiling_of
from helpers.studies.duty.relief_damper import BLADE_HYSTERESIS, blades_of, relief_said
from helpers.studies.report import fine, limit_text
from helpers.studies.status import word_of, worst_of
from helpers.units.said import three, with_unit

YES_NO = ("yes", "no")
SPEEDS = 21  # at which the damper is looked for
PANEL_ON = "fire service's panel at ON"
STARTS, ALARM = "alarm to proof that the fan runs", "alarm to pressure"
STANDBY, MAINS, BACK = "mains off: fan runs on standby power", "mains off: pressure on standby power", "mains back: pressure again"
BY_ITSELF, OVERRIDE, FORCE = "mains back: the fan starts by itself", f"{PANEL_ON}: fan speed", f"{PANEL_ON}: most force at a door"
EARLIER = {OVERRIDE: "override switch: fan speed", FORCE: "override switch: most force at a door"}  # as sheets had them that are filled in
BY_THE_LOOP, AT_ON = (STARTS, ALARM, STANDBY, MAINS, BY_ITSELF, BACK), (OVERRIDE, FORCE)  # what the loop runs for, or the panel at ON
ADDED = (STARTS, STANDBY, MAINS)  # lines that earlier sheets lack, or may lack
OPENS, RESEATS, MOVES = "relief damper opens at", "relief damper shuts again at", "relief damper: blade seen to open and to seat"
BY_HAND = "nobody at belt or wheel, guards on; speed in steps, stopped at a door's force limit"
SWING = "everybody out of the swing of every door: all get heavier"
LOCKED_OUT = (
    "fan OFF, isolated, locked out and proved dead by the electrician before a hand goes near the blade: it falls shut by its weight or "
    "spring; hands out before the lock comes off; the stair is not protected meanwhile"
)
BY_A_LEAF = f"{SWING}; the pair on the side to which its leaf does not swing, the leaf shut until the lead's word"


BLADE_BY_HAND = "a pair at the damper, the electrician at the isolator", LOCKED_OUT
LEAST_ROOM_HZ = 1.0  # a step of the hand at the speed; ours
NOT_LIFTED = "nobody: no speed of the day lifts it"
# The one way in which a hand comes near the blade, and the way back from it, a step of its own.
LOCK = "Switch to OFF, the fan seen to stop; the electrician isolates, locks out and proves it dead"
UNLOCK = (
    "Hands and tools out of the blade, counted and seen by the lead; then the electrician takes the lock off and closes the isolator, the "
    "switch still at OFF; then the switch back where it was found"
)


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
    of `PlantTest`. Limits: steady air; the panel at ON is taken to go no higher than the day's ceiling.
    """
    site = tower.site
    tests = [*_times(tower, shut, held_hz), *_override(tower, window, shut)]
    return (*tests, *(_damper(tower, shut) if site.stair.relief is not None else ()))


def lifted_by_hand(tests):
    """Whether no speed of the day lifts the relief damper's blade: only a hand does, the fan locked out. tests: of `plant_tests`."""
    return any(one.field == MOVES for one in tests) and not any(one.field == OPENS and one.who != NOT_LIFTED for one in tests)


def _times(tower, shut, held_hz):
    site = tower.site
    standby = site.standby
    start_s = start_ramp_s(site)
    loop_s = start_s + float(to_pressure_s(tower, shut)[0])
    way = f"{loop_s:.0f} s of ramp and loop with the site file's settings, to {held_hz:.1f} Hz"
    if np.isnan(loop_s):
        loop_s, way = ACTIVATION_S, f"not in {WATCHED_S:.0f} s with the site file's settings"
    late = cited(site, f"more than {ACTIVATION_S:g} s, which NFPA 92 and IBC print for a fan in one edition (from memory, not verified)")
    asks = f"above {ACTIVATION_S:g} s {word_of('attention')}"

    def slow(field, limit_s, said):
        never = Remark("open", below(field, 0.0), lambda values: f"{three(values[field])} s: no time is below 0, clock it again")
        return never, Remark("attention", above(field, limit_s), lambda values: f"{three(values[field])} s, {said}")

    by, caution = "one at the alarm panel, a pair at the gauge", "alarm service told first; doors shut, nobody in them"
    system = "and what the alarm system takes"
    yield PlantTest(STARTS, "time", start_s, f"{start_s:.1f} s of ramp to the lowest speed, {system}; {asks}",
                    slow(STARTS, ACTIVATION_S, late), "one at the alarm panel, one at the drive's display", caution)  # fmt: skip
    yield PlantTest(ALARM, "time", loop_s, f"{way}, {system}; {asks}", slow(ALARM, ACTIVATION_S, late), by, caution)
    parts = [part.takes for part in until_power(site)]
    who = "licensed electrician, a pair at the gauge"
    caution = "the fan starts by itself: nobody at belt, wheel or in a doorway; lifts empty, other loads told; no door left without light"
    refused = Remark("wrong", Says(BY_ITSELF, YES_NO[1:]), lambda values: "no: a stair fan has to come back without a hand")
    source = "there is no standby power" if standby is not None and standby.source == "none" else "no standby power is stated"
    if parts:
        for field, more_s, and_what in ((STANDBY, start_s, "ramp to the lowest speed"), (MAINS, loop_s, "ramp and loop")):
            low, high = (sum(getattr(part, end) for part in parts) + min(more_s, ACTIVATION_S) for end in ("low", "high"))
            said = f"more than the {high:.0f} s that {standby.source}, {and_what} take at the most"
            told = f"{low:.0f} to {high:.0f} s, {standby.source}, {and_what}; above {high:.0f} s {word_of('attention')}"
            yield PlantTest(field, "time", low, told, slow(field, high, said), who, caution)
    alone = "" if parts else f"; {source}: until then the stair has no pressure"
    again = f"yes, each time: the drive catches the fan while its wheel still turns{alone}"
    yield PlantTest(BY_ITSELF, "", None, again, (refused,), who, caution)
    yield PlantTest(BACK, "time", loop_s, f"{way}; {asks}", slow(BACK, ACTIVATION_S, late), who, caution)


def comes_first(site, out_of_mode):
    """What has to be settled before anybody goes out to test a stair, in words; "" for nothing. out_of_mode: as of a `Design`."""
    if out_of_mode:
        return f"it is judged by {out_of_mode} and its file says that it is not in smoke control: first the mode"
    right = actions.action_for(int(site.fan.sign))
    runs_away = f"its action is {site.control.action} and must be {right}: the loop runs away"
    return "" if site.control.action == right else runs_away


def _override(tower, window, shut):
    site, ceiling = tower.site, ceiling_of(tower.site)
    most_hz = site.fan.speed_limits_hz(site.control.fire_mode)[1]
    safe_hz, closes_hz = (0.0 if np.isnan(one) else one for one in (borne_hz(site), min(ceiling.closes_hz, most_hz)))
    top_hz = 0.0 if np.isnan(ceiling.hz) else ceiling.hz
    limits = [("wrong", most_hz, f"the doors are judged up to {most_hz:g} Hz"),
              ("wrong", safe_hz, f"no shut door passes its limit up to {safe_hz:.1f} Hz, above it one does")]  # fmt: skip
    if ceiling.stuck and top_hz < min(safe_hz, most_hz):
        limits.append(
            ("wrong", top_hz, f"no shut door passes its limit up to {top_hz:.1f} Hz with the relief damper stuck shut, above it one does")
        )
    limits.append(("attention", closes_hz, f"above {closes_hz:.1f} Hz a final exit, once opened, may stay ajar"))
    chain = tuple(Remark(state, above(OVERRIDE, limit + SHOWN_HZ / 2), lambda values, words=words:
        f"{values[OVERRIDE]:.1f} Hz, {words}") for state, limit, words in limits)  # fmt: skip
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    air = next((force for force in window.criteria.forces if force.step in AIR), None)
    tried_hz = max(top_hz, site.fan.speed_limits_hz(site.control.fire_mode)[0])
    today, year = ([] if air is None else _forces(tower, window, air, where, tried_hz) for where in (shut, conditions_of(site, cases)))
    bears = f"; past it {word_of('wrong')}" * ceiling.lower
    bears += f"; above {closes_hz:.1f} Hz a final exit may stay ajar" * (top_hz <= closes_hz < most_hz)
    drawn = f"; {COUNTS}" * bool(ceiling.as_drawn_said)
    agreed = (
        f"as agreed in writing with the fire service, at most {ceiling.said}{drawn}{bears}; without that agreement in writing: {NOT_RUN}"
    )
    who = "one at the panel, one at the drive's display"
    borne = min([one for one in (most_hz, safe_hz, top_hz, closes_hz) if one > 0])
    yield PlantTest(OVERRIDE, "frequency", borne, agreed, chain, who, SWING)
    if not today:
        return
    (force_n, door, limit_n, _), (worst_n, worst_door, _, row) = (max(one, key=lambda at: at[0] / (at[2] or 1.0)) for one in (today, year))
    at = f"at the {air.at} to {air.step}"

    figures = [with_unit(one, "force") for one in (force_n, worst_n)]
    limit = "limit blank" if limit_n is None else f"limit {limit_text(limit_n, 'force', 'most')}"
    told = (
        f"at {tried_hz:.1f} Hz {figures[0]} {at} of {door}, {limit}; of all weathers up to {figures[1]} "
        f"({worst_door}, {cases[row].name}), walls{' and damper' * (site.stair.relief is not None)} as the file has them"
    )

    def said(values, words):
        return f"{with_unit(values[FORCE], 'force', 1)}, {words} {limit_text(limit_n, 'force', 'most')}"

    chain = (Remark("open", present(FORCE), lambda values: "its limit is blank in the standard's file"),) if limit_n is None else (
        Remark("wrong", above(FORCE, limit_n), lambda values: said(values, "limit")),
        Remark("attention", above(FORCE, limit_n - GAUGE_N), lambda values: said(values, "just under the limit of")),
    )  # fmt: skip
    yield PlantTest(FORCE, "force", force_n, told, chain, "a pair with a gauge, one at the panel", BY_A_LEAF)


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
    """Its blade was tried at its setting and so much later and earlier: beyond that nobody has looked at the doors.

    Of dampers at several storeys the pressures asked for and judged are those of [stair.relief]; the line says so, and that every blade is
    lifted.
    """
    relief, site = tower.site.stair.relief, tower.site
    late, early = ((1 + way * BLADE_HYSTERESIS) * relief.opens_pa for way in (1, -1))
    low_hz, high_hz = site.fan.speed_limits_hz(site.control.fire_mode)
    ceiling = ceiling_of(site)
    place, speeds = tower.storey(relief.level), np.linspace(low_hz, high_hz, SPEEDS)
    rows = shut.rows(np.zeros(SPEEDS, int))
    wind = wind_on_faces(site, rows, site.faces_deg, air_formulas.density(rows.outdoor_c, tower.pressure_pa))[:, place].mean(axis=0)
    dp = tower.solve(rows, speeds).stair_pa[:, place] - wind
    lifts = np.flatnonzero(dp >= relief.opens_pa)
    where = f"stair over outdoors at storey {relief.level}"
    opens, tried = (with_unit(value, "pressure") for value in (relief.opens_pa, late))
    lifts_hz = float(speeds[lifts[0]]) if lifts.size else float("nan")
    over = ceiling.passed_by(lifts_hz)
    who = NOT_LIFTED if over else "a pair at the damper, one at the manual switch"
    caution = f"no hand in the blade; {BY_HAND}; {SWING}"
    top = "no speed of this drive" if np.isnan(ceiling.hz) else f"{ceiling.hz:.1f} Hz"
    reached = "" if np.isnan(lifts_hz) else f"from about {lifts_hz:.0f} Hz; " + (
        f"that is above the day's ceiling of {top}: not measured, and only a hand lifts the blade" if over else
        f"no higher than {top}{_room_said(ceiling, lifts_hz)}")  # fmt: skip
    many = f"{relief_said(relief)}: the one furthest off is written here; " * ((relief.count or 1) > 1)
    others = site.stair.more_reliefs
    many += f"of storey {relief.level} alone: {relief_said(*others)}, is tried likewise and judged by its own setting; " if others else ""
    told = f"{many}{opens}, at most {tried}, {where}; doors shut, fan in manual, today {reached}"

    past = Remark("wrong", above(OPENS, late), lambda values:
        f"{fine(values[OPENS])}, later than any blade that the doors were tried with ({fine(late)})")  # fmt: skip
    soon = Remark("attention", below(OPENS, early), lambda values:
        f"{fine(values[OPENS])}, sooner than any blade that the doors were tried with ({fine(early)})")  # fmt: skip
    stays = Remark("attention", below(RESEATS, early), lambda values:
        f"{fine(values[RESEATS])}, lower than {fine(early)}: the stair loses air while the loop holds")  # fmt: skip
    shuts = f"{where}, fan slowed in manual"
    unproved = tuple(
        Remark("open", present(field), lambda values, field=field: f"{fine(values[field])}, and no speed up to {top} lifts the blade: what "
               "a hand lifts proves no pressure")
        for field in (OPENS, RESEATS) if over
    )  # fmt: skip
    if reached:  # what no speed of the day opens is not asked for
        yield PlantTest(OPENS, "pressure", relief.opens_pa, told, (past, soon, *unproved[:1]), who, caution)
        yield PlantTest(RESEATS, "pressure", early, f"at least {fine(early)}, {shuts}", (stays, *unproved[1:]), who, caution)
    tried_to = f"{high_hz:g} Hz" if np.isnan(lifts_hz) else top
    by_hand = f"; no speed up to {tried_to} opens it today: its {opens} are not proved" * over
    stuck = "no: stuck shut, by ice or rust, it jams the doors, stuck open it takes the pressure"
    still = Remark("wrong", Says(MOVES, YES_NO[1:]), lambda values: stuck)
    each = f" for all {blades_of(*site.stair.reliefs)}" if many else ""
    yield PlantTest(MOVES, "", None, f"yes{each}, lifted full way and back, blade and seat clean{by_hand}", (still,), *BLADE_BY_HAND)


def _room_said(ceiling, lifts_hz):
    """How little room lies under the ceiling where the blade lifts, and that a lower ceiling of page 18 bars the test, in words."""
    close = f", only {ceiling.hz - lifts_hz:.1f} Hz of room: the blade may not lift under it" * (ceiling.hz - lifts_hz < LEAST_ROOM_HZ)
    lower = "" if ceiling.measured else f"; {NOT_RUN} where page 18 has a ceiling below {lifts_hz:.0f} Hz"
    return f"{close}{lower}"


DECIDED_ABOVE = "; who may decide otherwise, and how: above the doors, or the steps"  # after why a line is NOT RUN


def barred_test(test, sheet):
    """A line of the plant, which says that it is NOT RUN where what it needs is not: the loop with all doors shut, or the panel at ON. What
    is expected past the ceiling is not told."""
    against = sheet.against[0] if test.field in BY_THE_LOOP else by_the_record(sheet.before_loop) if test.field in AT_ON else ""
    if not against:
        return test
    past = test.field in BY_THE_LOOP and bool(test.dimension) and sheet.measure(1) == FAST
    return replace(test, told=f"{NOT_RUN} while {against}{DECIDED_ABOVE}{'' if past else f'. {test.told}'}")


def told_once(tests, place):
    """One of the plant's tests in words: what is expected, who does it, the caution; why it is NOT RUN in full at the first of those with
    the same reason."""
    one = tests[place]
    why, decided, rest = one.told.partition(DECIDED_ABOVE)
    first = next(other for other in tests if other.told.partition(DECIDED_ABOVE)[0] == why)
    told = f"{NOT_RUN}, why: as {first.field}{rest}" if decided and first is not one else one.told
    return f"{one.field}: {told}.\nWho: {one.who}.\n▲ {one.caution}"
