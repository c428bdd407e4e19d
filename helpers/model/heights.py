"""How high storeys lie, and the wind that meets them there. Storeys of a site run bottom up; level 0 stands on the ground."""

import numpy as np

from helpers.formulas import air

__all__ = ["elevation_m", "rises_m", "wind_on_exits", "wind_on_faces"]


def rises_m(storeys):
    """Height from the middle of each storey to the middle of the next [storeys - 1], m."""
    heights = np.array([storey.height_m for storey in storeys])
    return (heights[1:] + heights[:-1]) / 2


def elevation_m(storeys):
    """Middle of each storey above the ground [storeys], m; below zero in a basement."""
    heights = np.array([storey.height_m for storey in storeys])
    return np.cumsum(heights) - heights / 2 - sum(storey.height_m for storey in storeys if storey.level < 0)


def wind_on_faces(site, conditions, bearings_deg, density_kg_m3):
    """Wind pressure on faces that look to some bearings [faces, storeys, conditions], Pa; none below ground.

    conditions: with wind_speed_m_s and wind_from_deg [conditions]; density_kg_m3 of the outdoor air [conditions].
    """
    height = np.maximum(elevation_m(site.storeys), 0.0)[:, None]
    speed = air.wind_speed_at_height(conditions.wind_speed_m_s, height, site.terrain, height_met_m=site.wind_reference_height_m)
    cp = air.face_pressure_coefficients(conditions.wind_from_deg, np.reshape(bearings_deg, (-1, 1)), site.pressure_coefficients)
    return cp[:, None, :] * air.velocity_pressure(speed, density_kg_m3)


def wind_on_exits(site, conditions, density_kg_m3):
    """Wind pressure on each storey's final exit [storeys, conditions], Pa; NaN where the site does not say where it looks to."""
    blows = np.full((len(site.storeys), len(conditions)), np.nan)
    for bearing in {storey.exit_faces_deg for storey in site.storeys} - {None}:
        places = [place for place, storey in enumerate(site.storeys) if storey.exit_faces_deg == bearing]
        blows[places] = wind_on_faces(site, conditions, [bearing], density_kg_m3)[0, places]
    return blows
