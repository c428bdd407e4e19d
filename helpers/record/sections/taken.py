"""What the record takes of weather, fire and building before any fan runs: stack effect and wind, hot gas, leaks with their range."""

import numpy as np

from helpers.formulas import air
from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.model.air.conditions import Conditions
from helpers.model.air.network import elevation_m, wind_on_faces
from helpers.model.site.criteria import criteria_for, highest_ceiling_m
from helpers.studies.duty.full_speed import WALLS_TRIED
from helpers.studies.report import SITE_FILE, Table, figure, listed, range_text, signed
from helpers.studies.status import SPARE_PA, status_of, word_of
from helpers.units.said import with_unit

GAS_C, NEUTRAL_SHARE = 926.667, 2 / 3  # 1700 °F, and how far the neutral plane lies below the ceiling, in parts of its height
HOT_GAS_SOURCE = "buoyancy by the NFPA 92 annex, smoke taken as air (from memory, not verified)"
EDITIONS = {
    "ashrae_1999": "ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter (a reprint was checked by a reviewer in 2026, all but "
    "tight walls of a stair and very loose outer walls: those from memory, not verified)",
    "nfpa92_2012": "NFPA 92 from 2012, annex (from memory, not verified)",
}
ELEMENTS = {
    "exterior_wall": "outer walls", "stair_wall": "walls of the stair", "lift_shaft_wall": "walls of the lift shaft", "floor": "slabs",
}  # fmt: skip
NO_RANGE = "no range stated"
NEAR_STOREYS = 3  # of several points of supply; handbooks, from memory, not verified
SMALL_PA = 1.0  # a stack effect smaller than this over all of the height is of neither kind; ours


def stack_and_wind(site):
    """`Table` of the stack effect over the height of the storeys [Pa] and the wind at its top in each weather of the site file.

    Stack effect: g (rho_out - rho_in) H, indoors one temperature (`formulas.air.stack_pressure`); wind: `network.wind_on_faces`.
    Limits: no floors between, so that it is an upper end; mean wind, no gusts, no neighbours.
    """
    height, pressure = sum(storey.height_m for storey in site.storeys), air.pressure_at_altitude(site.altitude_m)
    top, rows = float(np.max(elevation_m(site.storeys))), []
    for name, state in site.weather.items():
        row = Conditions.of(site, name)
        outdoor, floor, stair = (float(value) for value in (state.outdoor_c, row.floor_c[0], np.mean(row.stair_c[0])))
        floors, shaft = (float(air.stack_pressure(height, outdoor, inside, pressure)) for inside in (floor, stair))
        kind = "little" if abs(floors) < SMALL_PA else "normal: up in the building" if floors > 0 else "reverse: down in the building"
        faces = wind_on_faces(site, row, site.faces_deg, air.density(np.array([outdoor]), pressure))[:, -1, 0]
        speed = air.wind_speed_at_height(state.wind_speed_m_s, top, site.terrain, height_met_m=site.wind_reference_height_m)
        rows.append((
            name, with_unit(outdoor, "temperature"), with_unit(floor, "temperature"), with_unit(stair, "temperature"),
            signed(floors, "pressure"), kind, signed(shaft, "pressure"), with_unit(float(speed), "wind speed"),
            range_text(float(faces.min()), float(faces.max()), "pressure"),
        ))  # fmt: skip
    columns = (
        "Weather", "Outdoors", "Floors", "Stair, as stated", "Stack effect, floors over outdoors", "Which way",
        "The same of the stair's air", "Wind at the top", "Wind on the faces there",
    )  # fmt: skip
    note = (
        f"Stack effect from bottom to top of {with_unit(height, 'length', 1)}, were there no floors between. In the first minute the stair "
        "is as warm as the floors, so that its own is theirs. Wind is its mean; gusts are in no figure."
    )
    return Table("stack_and_wind", "Stack effect and wind by weather", columns, tuple(rows), note=note)


def supply_points(site):
    """`Table` of the points where the fan's air enters (or leaves) the stair: share, height [m], the farthest storey that is nearest to it.

    CHECK where a storey is more than NEAR_STOREYS from the nearest of several points: handbooks' spacing. One point alone is judged by the
    stair's height, see `studies.duty.height`. Limits: storeys counted in the order of the file.
    """
    heights, levels = elevation_m(site.storeys), [storey.level for storey in site.storeys]
    points = sorted((levels.index(one.level), one.share) for one in site.supplies)
    places = np.array([place for place, _ in points])
    away = np.abs(np.arange(len(levels))[:, None] - places)
    nearest, rows, states = np.argmin(away, axis=1), [], []
    for number, (place, share) in enumerate(points):
        own = np.flatnonzero(nearest == number)
        far = int(own[np.argmax(away[own, number])])
        off = int(away[far, number])
        metres = with_unit(abs(float(heights[far] - heights[place])), "length", 1)
        above = "–" if number == 0 else f"{place - places[number - 1]} storeys, {_between(heights, places[number - 1], place)}"
        several = len(points) > 1
        rows.append((f"storey {levels[place]}", f"{100 * share:.0f} %", above, f"storey {levels[far]}: {off} storeys, {metres}"))
        states.append("attention" if several and off > NEAR_STOREYS else "")
    last = "point" if len(points) == 1 else "points"
    note = (
        f"{len(points)} {last} on {len(levels)} storeys. Handbooks put several points no farther apart than about {NEAR_STOREYS} storeys "
        f"(from memory, not verified): {word_of('attention')} where a door is farther than that from the nearest. What air then does at "
        "each door is in the pressures of every case; one point alone is judged by the stair's height, under the pressure window."
    )
    columns = ("Air at", "Share", "From the point below", "Farthest storey that is nearest to it")
    return Table("supply points", "Supply points: number and spacing", columns, tuple(rows), tuple(states), note)


def _between(heights, low, high):
    return with_unit(float(heights[high] - heights[low]), "length", 1)


def hot_gas(site):
    """`Value` of what hot gas under the ceiling pushes with [Pa]: what the minimum of a standard without sprinklers has to hold.

    g (rho_room - rho_gas) 2/3 h, h the highest ceiling, where none is stated the tallest storey. CHECK where the standard's minimum is
    below it, or little above it. Limits: gas taken as air of one temperature, no expansion, no sprinklers.
    """
    ceiling, room = highest_ceiling_m(site), site.temperatures.floor_c
    pressure = air.pressure_at_altitude(site.altitude_m)
    hot = float(air.fire_buoyancy(NEUTRAL_SHARE * ceiling, GAS_C, room, pressure))
    stated = site.ceiling_height_m is not None
    under = "a ceiling of" if stated else "a ceiling that is not stated, taken as the tallest storey,"
    reason = (
        f"gas of {with_unit(GAS_C, 'temperature')} under {under} {with_unit(ceiling, 'length')}, two thirds of it above the neutral plane; "
        f"{_held_by(criteria_for(site), hot, stated)}. No design fire was computed"
    )
    return figure("Hot gas under the ceiling", hot, "pressure", reason, HOT_GAS_SOURCE)


def _held_by(criteria, hot_pa, ceiling_stated):
    """Whether the minimum of a site's own standard holds the hot gas, in words: with less to spare than SPARE_PA, or under a ceiling that
    nobody has stated, that is looked at."""
    least = criteria.least_pa
    if least is None:
        return "what the standard's minimum holds is not known here"
    figures = tuple(with_unit(value, "pressure", (1, 3)) for value in (least, hot_pa))
    if least >= hot_pa and not (ceiling_stated and status_of(hot_pa, least, SPARE_PA) == "good"):
        said = f"{figures[0]} against {figures[1]}{'' if ceiling_stated else ', a ceiling that is taken'}"
        return f"{word_of('attention')}: the standard's minimum holds this gas with little to spare, {said}"
    if least >= hot_pa:
        return f"the standard's minimum, {figures[0]}, is no less than this gas, {figures[1]}"
    return (
        f"{word_of('attention')}: the standard's minimum, {figures[0]}, does not hold this gas, {figures[1]}; it is allowed where "
        "sprinklers keep the gas cooler (from memory, not verified): without them, or while they fail, smoke goes through the gaps"
    )


def leaks(site):
    """`Table` of the leaks as taken: class, leak area by area of the wall, tightest and loosest of the edition, source; doors as stated."""
    given, edition = site.leakage, WALL_LEAKAGE_RATIOS[site.leakage.edition]
    factors = {
        "exterior_wall": given.facade_factor, "stair_wall": given.stair_side_factor,
        "lift_shaft_wall": given.between_storeys_factor, "floor": given.between_storeys_factor,
    }  # fmt: skip
    rows = []
    for element, called in ELEMENTS.items():
        if element == "lift_shaft_wall" and site.lift is None:
            continue
        classes, tightness = edition[element], getattr(given, element)
        found = "" if factors[element] == 1 else f", times {factors[element]:g} as found by a test day"
        own = {one.wall_tightness for one in site.storeys} - {None, tightness} if element == "exterior_wall" else set()
        unlike = f"; on some storeys {listed(sorted(own))}" if own else ""
        least, most = (_ratio(end(classes.values())) for end in (min, max))
        taken = f"{tightness}{unlike}{found}"
        rows.append((called, taken, _ratio(classes[tightness]), f"{least} to {most}", EDITIONS[given.edition]))
    for name, door in site.doors.items():
        rows.append((f'door "{name}", shut', "as stated", with_unit(door.leak_area_m2, "area", 3), NO_RANGE, SITE_FILE))
    vents = sum(storey.extra_leak_m2 for storey in site.storeys)
    rows.append(("vents and other openings of all storeys", "as stated", with_unit(vents, "area", 3), NO_RANGE, SITE_FILE))
    tried = ", ".join(f"{share:.2f}" for share in sorted(WALLS_TRIED) if share != 1)
    note = (
        f"Walls: leak area over area of the wall, at {with_unit(given.reference_pa, 'pressure')}. Classes are guesses before a building is "
        f"tested: full speed, failed readings and alarms are tried with walls leaking {tried} times as much, too."
    )
    columns = ("Of what", "Taken as", "Leak", "From tightest to loosest", "Source")
    return Table("leaks", "Leaks as taken, with their range", columns, tuple(rows), note=note)


def _ratio(value):
    """Leak area over area of a wall, with two figures and no power of ten.

    >>> _ratio(5.2e-05), _ratio(0.00017)
    ('0.000052', '0.00017')
    """
    return f"{value:.7f}".rstrip("0")
