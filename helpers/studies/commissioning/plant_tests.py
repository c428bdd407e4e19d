"""What is proved of the plant on the day besides the doors: the time from alarm to pressure, the mains off and back, the override switch
and the doors' forces then, the relief damper that opens and seats again. Each with its limit, who does it, and what to look out for.

Limits: times are the drive's ramp and the site file's boxes; what the alarm system itself takes is in no site file.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import air as air_formulas
from helpers.model.air.network import wind_on_faces
from helpers.model.site.criteria import AIR, cited
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.commissioning.fields import Check, Missing, Said, above, below, present, spoken
from helpers.studies.doors.columns import across_by_use
from helpers.studies.doors.forces import GAUGE_N, force_where_measured, limit_where_measured
from helpers.studies.doors.window import handle_force_n
from helpers.studies.duty.fan_duty import ACTIVATION_S
from helpers.studies.duty.relief_damper import BLADE_HYSTERESIS
from helpers.studies.report import fine
from helpers.studies.status import worst_of
from helpers.units.said import with_unit

__all__ = ["PlantTest", "comes_first", "plant_tests"]

YES_NO = ("yes", "no")
SPEEDS = 21  # at which the damper is looked for
ALARM, MAINS, BACK = "alarm to pressure", "mains off: pressure on standby power", "mains back: pressure again"
BY_ITSELF, OVERRIDE, FORCE = "mains back: the fan starts by itself", "override switch: fan speed", "override switch: most force at a door"
OPENS, RESEATS, MOVES = "relief damper opens at", "relief damper shuts again at", "relief damper: blade seen to open and to seat"
SWING = "everybody out of the swing of every door: all get heavier"


@dataclass(frozen=True)
class PlantTest:
    """One line: field: what it is, also its name; dimension of what is read, "" for yes or no; figure expected [SI], None for a word; told:
    what is expected, in words; chain: of `Check`; who does it; caution."""

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
        never = Check("open", below(field, 0.0), lambda values: f"{values[field]:.3g} s: no time is below 0, clock it again")
        return never, Check("attention", above(field, limit_s), lambda values: f"{values[field]:.3g} s, {said}")

    yield PlantTest(ALARM, "time", ramp_s, f"{way}, and what the alarm system takes", slow(ALARM, ACTIVATION_S, late),
                    "one at the alarm panel, one at the gauge", "alarm service told first; doors shut, nobody in them")  # fmt: skip
    parts = [known[key] for key in ("standby.detection_s", "standby.start_s", "standby.transfer_s") if key in known]
    who, caution = "licensed electrician, one at the gauge", "lifts empty, other loads told; no lock or door left without light"
    if parts:
        low, high = (sum(getattr(part, end) for part in parts) + ramp_s for end in ("low", "high"))
        said = f"more than the {high:.0f} s that {standby.source} and ramp take at the most"
        yield PlantTest(MAINS, "time", low, f"{low:.0f} to {high:.0f} s, {standby.source} and ramp", slow(MAINS, high, said),
                        who, caution)  # fmt: skip
    refused = Check("wrong", Said(BY_ITSELF, YES_NO[1:]), lambda values: "no: a stair fan has to come back without a hand")
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
    past = Check("wrong", above(OVERRIDE, most_hz + 0.05), lambda values:
        f"{values[OVERRIDE]:.1f} Hz, the doors are judged up to {most_hz:g} Hz")  # fmt: skip
    cases = [case for case in usual_cases(site, next(iter(site.weather))) if case.shut]
    air = next((force for force in window.criteria.forces if force.step in AIR), None)
    today, year = ([] if air is None else _forces(tower, window, air, where, most_hz) for where in (shut, conditions_of(site, cases)))
    heavy = any(limit is not None and force > limit for force, _, limit, _ in year)
    agreed = f"as agreed with the fire service, at most {most_hz:g} Hz{', which a door does not bear: a lower one first' * heavy}"
    who = "one at the switch, one at the drive's display"
    yield PlantTest(OVERRIDE, "frequency", most_hz, agreed, (past,), who, SWING)
    if not today:
        return
    (force_n, door, limit_n, _), (worst_n, worst_door, _, row) = (max(one, key=lambda at: at[0] / (at[2] or 1.0)) for one in (today, year))
    at = f"at the {air.at} to {air.step}"

    figures = [with_unit(one, "force") for one in (force_n, worst_n)]
    limit = "limit blank" if limit_n is None else f"limit {with_unit(limit_n, 'force')}"
    told = f"{figures[0]} {at} of {door}, {limit}; of all weathers up to {figures[1]} ({worst_door}, {cases[row].name})"

    def said(values, words):
        return f"{with_unit(values[FORCE], 'force', 1)}, {words} {with_unit(limit_n, 'force', 1)}"

    chain = (Check("open", present(FORCE), lambda values: "its limit is blank in the standard's file"),) if limit_n is None else (
        Check("wrong", above(FORCE, limit_n), lambda values: said(values, "limit")),
        Check("attention", above(FORCE, limit_n - GAUGE_N), lambda values: said(values, "just under the limit of")),
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
    reached = (
        f"from about {speeds[lifts[0]]:.0f} Hz" if lifts.size else f"not reached up to {high_hz:g} Hz: lift the blade by hand, and say so"
    )
    where = f"stair over outdoors at level {relief.level}"
    opens, tried = (with_unit(value, "pressure") for value in (relief.opens_pa, late))
    told = f"{opens}, at most {tried}, {where}; doors shut, fan by hand, today {reached}"
    told += "; then at the fallback speed, where the record lays one down"

    past = Check("wrong", above(OPENS, late), lambda values:
        f"{fine(values[OPENS])}, later than any blade that the doors were tried with ({fine(late)})")  # fmt: skip
    soon = Check("attention", below(OPENS, early), lambda values:
        f"{fine(values[OPENS])}, sooner than any blade that the doors were tried with ({fine(early)})")  # fmt: skip
    who, caution = "one at the damper, one at the manual switch", f"no hand in the blade; {SWING}"
    yield PlantTest(OPENS, "pressure", relief.opens_pa, told, (past, soon), who, caution)
    stays = Check("attention", below(RESEATS, early), lambda values:
        f"{fine(values[RESEATS])}, lower than {fine(early)}: the stair loses air while the loop holds")  # fmt: skip
    shuts = f"{where}, fan slowed by hand"
    yield PlantTest(RESEATS, "pressure", early, f"at least {fine(early)}, {shuts}", (stays,), who, caution)
    stuck = "no: stuck shut it jams the doors, stuck open it takes the pressure"
    still = Check("wrong", Said(MOVES, YES_NO[1:]), lambda values: stuck)
    yield PlantTest(MOVES, "", None, "yes, full way and back, blade and seat clean", (still,), who, caution)
