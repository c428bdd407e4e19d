"""What a panel says of a case of doors: what decides, in which case, the figures behind it. What to do about it is another question, asked
of every case: `record.every_case`."""

import numpy as np

from helpers.studies.beside_limit import limit_tile
from helpers.studies.cases import case_said
from helpers.studies.doors.columns import doors_head, doors_out, end_tiles, judged_name, pulled_n
from helpers.studies.doors.window import handle_force_n, handle_limit_n
from helpers.units.said import with_unit


def case_told(tower, window, comparison, place, stated, levels=None, force=False):
    """Head, tiles and case of one case of a comparison's first rule, as `markup.Verdict` takes them.

    tower: `Tower`, its site with what sliders changed; window: `SiteWindow`; place: of the case; stated: the site as its file has it;
    levels: those whose stair doors are looked at, by default all; force: whether the third tile has the force at the hardest door, else the
    air that the fan moves; the tiles say their status. The head names the worst door, the case all that are out.
    """
    result, case, site = comparison.results[0], comparison.results[0].cases[place], tower.site
    shut = ~np.isin(tower.levels, case.open_doors) & np.isin(tower.levels, tower.levels if levels is None else levels)
    air = f"Air at {with_unit(result.speed_hz[place], 'frequency')}", with_unit(result.held.air.fan_flow_m3_s[place], "flow"), ""
    third = (hardest_tile(tower, window, result.door_dp_pa[place], shut) if force else ()) or air
    ends = window.by_storey(tower.levels, "stair door")
    every = result.out_in(case)
    out = next(iter(every), None)
    forces = () if out is None or out.use != "stair door" else pulled_n(out, site.doors)
    pulled = (out.level, forces) if forces and not force else None
    deciding = None if out is None or out.use == "stair door" else (
        out.use, out.level, out.dp_pa, out.limit_pa, "most" if out.too == "high" else "least")  # fmt: skip
    weather = site.weather[case.weather]
    stair = site.temperatures.stair_c if weather.stair_c is None else weather.stair_c
    return {
        "head": doors_head(result, place, comparison.set_point_pa, site.doors),
        "tiles": end_tiles(tower.levels, np.where(shut, result.door_dp_pa[place], np.nan), ends, third, deciding, force, pulled),
        "case": "; ".join(
            filter(
                None,
                (
                    case_said(case, stated, weather.outdoor_c, stair, weather.wind_speed_m_s),
                    doors_out([(one.use, one.level, one.too) for one in every]),
                ),
            )
        ),
    }


def hardest_tile(tower, window, dp_pa, shut):
    """(what, value, limit) of the force [N] at the shut stair door with the least room below what may be asked of a hand; () without one.

    dp_pa: pressure across the stair doors [storeys]; shut: whether each is looked at [storeys]. Limits: the force that sets a leaf moving.
    """
    found, limit_pa = [], window.by_storey(tower.levels, "stair door")[1]
    for place, storey in enumerate(tower.site.storeys):
        door = tower.site.doors[tower.site.hardest_stair_door(storey)] if storey.stair_doors else None
        if shut[place] and door is not None and door.worked_by_hand:
            force, limit = handle_force_n(door, float(dp_pa[place])), handle_limit_n(door, window.criteria)
            room = limit_pa[place] - float(dp_pa[place])
            found += [(limit - force, storey.level, force, limit, room)]
    if not found:
        return ()
    _, level, force, limit, room = min(found)
    return limit_tile(judged_name(f"Hand, door {level}", room), force, limit, "force")
