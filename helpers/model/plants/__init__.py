"""Other plants than a stair: a building held by a relief fan, a supply duct, a garage held by its gas. They run through the same fan
curve, network, transmitters, combining, controller and drive; a new plant is a site model, conditions and something that reads."""

from helpers.model.plants.building import Building
from helpers.model.plants.building_site import BuildingSite
from helpers.model.plants.conditions import BuildingConditions, DuctConditions, GarageConditions, Turn
from helpers.model.plants.duct import Duct
from helpers.model.plants.duct_site import DuctSite
from helpers.model.plants.garage import Garage
from helpers.model.plants.garage_site import GarageSite
from helpers.model.plants.run import run_plant, setup_of
from helpers.model.site import read_site
from helpers.model.site.schema import Site
from helpers.model.tower import Tower

__all__ = [
    "SITE_KINDS",
    "Building",
    "BuildingConditions",
    "BuildingSite",
    "Duct",
    "DuctConditions",
    "DuctSite",
    "Garage",
    "GarageConditions",
    "GarageSite",
    "Turn",
    "plant_of",
    "read_any_site",
    "run_plant",
    "setup_of",
]

_MODELS = {Site: Tower, BuildingSite: Building, DuctSite: Duct, GarageSite: Garage}
SITE_KINDS = tuple(_MODELS)


def read_any_site(path):
    """Read a site file of any kind. Returns a Site, BuildingSite, DuctSite or GarageSite. Raises SiteFileError as read_site."""
    return read_site(path, SITE_KINDS)


def plant_of(site):
    """What answers for a site: a Tower, Building, Duct or Garage."""
    return _MODELS[type(site)](site)
