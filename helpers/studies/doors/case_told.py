"""What a panel says of a case of doors: what decides, in which case, the figures behind it, and what to do about it.

What to do is what was tried in that case and helps there, and nothing else: another set point, another reading, lighter closers on the
stair doors, a power-operated final exit.
"""

import numpy as np

from helpers.studies.cases import case_said
from helpers.studies.doors.columns import doors_head, end_tiles
from helpers.studies.readings.rules import USUAL_RULES, allowed_set_points
from helpers.studies.report import fine, inside_text
from helpers.studies.status import worst_of
from helpers.units.said import with_unit

NOTHING_HELPS = "Ask: the record, page 12, which tries fan, doors and damper"
TOO_LITTLE_ROOM = "Ask: page 15, whether this room bears what nobody knows exactly"
MORE_ROOM_PA = 1.0  # of a set point that is worth changing for
LIGHTER = 0.9, 0.7  # of a stair door's closer, as tried: each asks the air anew, while a hand is on a slider


def case_told(tower, window, comparison, place, stated, judged=None, levels=None):
    """Head, tiles, case and what to do of one case of a comparison's first rule, as `markup.Verdict` takes them.

    tower: `Tower`, its site with what sliders changed; window: `SiteWindow`; place: of the case; stated: the site as its file has it;
    judged: places of the cases that are judged and tried together, by default all; levels: those whose stair doors are looked at, by
    default all.
    """
    result, case, site = comparison.results[0], comparison.results[0].cases[place], tower.site
    shut = ~np.isin(tower.levels, case.open_doors) & np.isin(tower.levels, tower.levels if levels is None else levels)
    air = f"Air at {with_unit(result.speed_hz[place], 'frequency')}", with_unit(result.held.air.fan_flow_m3_s[place], "flow"), ""
    ends = window.by_storey(tower.levels, "stair door")
    out = next(iter(result.out_in(case)), None)
    deciding = None if out is None or out.use == "stair door" else (
        out.use, out.level, out.dp_pa, out.limit_pa, "most" if out.too == "high" else "least")  # fmt: skip
    weather = site.weather[case.weather]
    stair = site.temperatures.stair_c if weather.stair_c is None else weather.stair_c
    return {
        "head": doors_head(result, place, comparison.set_point_pa, site.doors),
        "tiles": end_tiles(tower.levels, np.where(shut, result.door_dp_pa[place], np.nan), ends, air, deciding),
        "case": case_said(case, stated, weather.outdoor_c, stair, weather.wind_speed_m_s),
        "do": _tried(tower, comparison, range(len(result.cases)) if judged is None else judged),
    }


def _tried(tower, comparison, judged):
    """What to do about some cases of a comparison under its first rule: see `to_do`."""
    result, judged, site = comparison.results[0], list(judged), tower.site
    state, cases = worst_of(map(result.status, judged)), [comparison.cases[place] for place in judged]
    if state not in ("wrong", "attention"):
        return ""
    several = len(comparison.transmitters) > 1
    rules = tuple(dict.fromkeys([result.rule, *(USUAL_RULES if several and state == "wrong" else ())]))
    found = {one.rule: one for one in allowed_set_points(tower, cases, comparison.transmitters, rules)}
    if state == "attention" and result.good[judged].all():
        return _more_room(found.get(result.rule), float(result.margin_pa[judged].min()))
    works = {rule: one.works() for rule, one in found.items()}
    driven = found[result.rule].works(closing=False) if result.rule in found else None
    told = to_do(result.rule, comparison.set_point_pa, works, driven)
    return closers_tried(tower, site, cases, comparison.transmitters, result.rule) if told == NOTHING_HELPS else told


def closers_tried(tower, site, cases, transmitters, rule):
    """What to do about some cases by the heaviest closers of the stair doors that leave a set point, then with a power-operated final
    exit as well; whom to ask where none tried does.

    tower: `Tower`; site: its own with other weather; transmitters, rule: as in `rules.compare_rules`. One force for all stair doors is
    told: where they are of several kinds none is. Limits: whether a closer that light still latches the leaf is not computed.
    """
    own = tower.site
    kinds = {storey.stair_door for storey in site.storeys if storey.stair_door}
    if len(kinds) > 1 or not all(site.doors[name].worked_by_hand for name in kinds):
        return NOTHING_HELPS
    (name,) = kinds
    try:
        for driven in (False, True):
            for share in LIGHTER:
                force_n = share * site.doors[name].closer_force_n
                tower.site = site.with_changes(doors={name: {"closer_force_n": force_n}})  # the network knows leaks, not closers
                found = allowed_set_points(tower, cases, transmitters, (rule,))
                if not found or not (good := found[0].good_in(closing=not driven)).any():
                    continue
                best = found[0].set_points_pa[int(np.argmax(np.where(good, found[0].margin_pa.min(axis=1), -np.inf)))]
                force, set_point = with_unit(force_n, "force"), with_unit(best, "pressure")
                if driven:
                    return f"Do: power-operate exit, stair closers {force} still latching, {set_point} set"
                return f"Do: stair closers {force} still latching, {set_point}, this case alone"
    finally:
        tower.site = own
    return NOTHING_HELPS


def to_do(rule, set_point_pa, works, driven):
    """What to do about a door that is out, in one line of a panel.

    rule: the reading that the fan follows; works: by rule the least and the most set point that keep every door inside, None where none
    does; driven: the same under `rule` where no final exit has to close against the pressure by its closer.
    """
    if works.get(rule):
        return f"Do: set point {inside_text(*works[rule])}, tried in this case alone"
    other = next((name for name, ends in works.items() if ends), None)
    if other:
        return f"Do: {other} reading, {inside_text(*works[other])}: tried in this case alone"
    if driven and driven[0] <= set_point_pa <= driven[1]:
        return "Do: power-operate the final exit, tried in this case alone"
    if driven:
        return f"Do: power-operate final exit, set point {inside_text(*driven)}"
    return NOTHING_HELPS


def _more_room(found, room_pa):
    """What to do where every door is inside with little room: the set point with more of it, or ask whether it is enough."""
    if found is not None and (good := found.good_in()).any():
        rooms = np.where(good, found.margin_pa.min(axis=1), -np.inf)
        best = int(np.argmax(rooms))
        if rooms[best] >= room_pa + MORE_ROOM_PA:
            return f"Do: set point {with_unit(found.set_points_pa[best], 'pressure')}, {fine(float(rooms[best]))} to spare in this case"
    return TOO_LITTLE_ROOM
