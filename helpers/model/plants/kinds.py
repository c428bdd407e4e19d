"""Other plants than a stair: a building held by a relief fan, a supply duct, a garage held by its gas. They run through the same fan
curve, network, transmitters, combining, controller and drive; a new plant is a site model, conditions and something that reads."""

from helpers.model.air.tower import Tower
from helpers.model.plants.building import Building, BuildingSite
from helpers.model.plants.duct import Duct, DuctSite
from helpers.model.plants.garage import Garage, GarageSite
from helpers.model.plants.pressure_plant import BuildingConditions, DuctConditions, GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.file import read_site
from helpers.model.site.schema import Site

__all__ = ["SITE_KINDS", "Building", "BuildingConditions", "BuildingSite", "Duct", "DuctConditions", "DuctSite", "Garage",
           "GarageConditions", "GarageSite", "Turn", "plant_of", "read_any_site", "run_plant", "setup_of"]  # fmt: skip

_MODELS = {Site: Tower, BuildingSite: Building, DuctSite: Duct, GarageSite: Garage}
SITE_KINDS = tuple(_MODELS)


def read_any_site(path):
    """Read a site file of any kind. Returns a Site, BuildingSite, DuctSite or GarageSite. Raises SiteFileError as read_site."""
    return read_site(path, SITE_KINDS)


def plant_of(site):
    """What answers for a site: a Tower, Building, Duct or Garage."""
    return _MODELS[type(site)](site)
