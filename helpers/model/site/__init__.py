"""The site file: a building, its fan, its transmitters and its loop, written by hand in TOML with a unit on every quantity.

schema says what a site is, reading turns a file into one or refuses it with every mistake at once, writing turns it back into text.
"""

from helpers.model.site.reading import demo_sites, read_site, read_site_text
from helpers.model.site.refusals import Mistake, SiteFileError
from helpers.model.site.schema import (
    Control,
    Design,
    Door,
    Fan,
    Leakage,
    Lift,
    LowDemand,
    Relief,
    Site,
    Stair,
    Standby,
    Storey,
    Supply,
    Temperatures,
    Transmitter,
    Weather,
)
from helpers.model.site.writing import write_site

__all__ = [
    "Control",
    "Design",
    "Door",
    "Fan",
    "Leakage",
    "Lift",
    "LowDemand",
    "Mistake",
    "Relief",
    "Site",
    "SiteFileError",
    "Stair",
    "Standby",
    "Storey",
    "Supply",
    "Temperatures",
    "Transmitter",
    "Weather",
    "demo_sites",
    "read_site",
    "read_site_text",
    "write_site",
]
