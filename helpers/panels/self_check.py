"""Is this installation sound? What the workbook needs is here, reads its files, and gives a figure that was published long before it."""

import sys
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from helpers import units
from helpers.formulas import air, leakage
from helpers.model.conditions import Conditions
from helpers.model.site import SiteFileError, demo_sites, read_site
from helpers.model.site.reading import SITES_FOLDER
from helpers.model.tower import Tower
from helpers.panels.markup import html_table
from helpers.studies.hand import STANDARD_DENSITY_KG_M3
from helpers.studies.status import word_of

__all__ = ["Check", "SelfCheck", "known_stair", "self_check"]

LEAST_PYTHON = (3, 11)
WHERE_READ = () if sys.platform == "emscripten" else ("jupyterlab",)  # in the browser alone, the page itself shows the notebooks
NEEDED = ("numpy", "matplotlib", "ipywidgets", *WHERE_READ, "pint", "pydantic", "sympy")
AGAIN = "run the README's install line again"
KNOWN_STAIR = SITES_FOLDER.parent / "checks" / "published_stair.toml"
PUBLISHED_CFM, NEAR_PERCENT = 8200.0, 1.0  # printed as "about 8200", from rounded areas; 8258 from unrounded ones
PUBLISHED_SOURCE = "ASHRAE Handbook, HVAC Applications, fire and smoke chapter, stairwell example, 1999 to 2007 (memory)"


@dataclass(frozen=True)
class Check:
    """One thing looked at: what it is, what was found, whether it is in order, and what to do where it is not."""

    what: str
    found: str
    good: bool
    remedy: str = ""


@dataclass(frozen=True)
class SelfCheck:
    """All checks; shows itself as a table with a verdict a row."""

    checks: tuple

    @property
    def good(self):
        """Whether all is in order."""
        return all(check.good for check in self.checks)

    def __str__(self):
        return "\n".join(f"{word_of('good' if check.good else 'wrong')}: {check.what}: {check.found}" for check in self.checks)

    def _repr_mimebundle_(self, include=None, exclude=None):
        rows = [(check.what, check.found, "" if check.good else check.remedy) for check in self.checks]
        states = ["good" if check.good else "wrong" for check in self.checks]
        columns = ("What", "Found", "What to do")
        if self.good:
            columns, rows = columns[:2], [row[:2] for row in rows]
        return {"text/html": html_table(columns, rows, states), "text/plain": str(self)}


def self_check():
    """Look at Python, the packages, the site files and the known stair. Returns `SelfCheck`; raises nothing for what is missing."""
    return SelfCheck((_python(), _packages(), *_sites(), _known_stair()))


def known_stair():
    """Supply air of the published stair by the whole chain from site file to held fan speed [m3/s of standard air].

    The source gives the pressure at the foot of the lowest door, the model in the middle of the storey: half a storey's rise lies between.
    """
    site = read_site(KNOWN_STAIR)
    storey, door = site.storeys[0], site.doors["gap"]
    edition = site.leakage.edition
    inner = float(leakage.wall_leakage_area(storey.stair_wall_m2, "stair_wall", "average", edition)) + door.leak_area_m2
    outer = float(leakage.wall_leakage_area(sum(storey.facade_m2), "exterior_wall", "average", edition))
    foot, gradient = site.control.set_point_pa, air.stack_gradient(site.weather["winter"].outdoor_c, site.temperatures.floor_c)
    middle = float(leakage.stair_top_pressure(foot, storey.height_m / 2, gradient, inner, outer))
    held = Tower(site).hold(Conditions.of(site, "winter"), middle)
    return float(held.air.supply_kg_s[0]) / STANDARD_DENSITY_KG_M3


def _python():
    found = sys.version_info[:3]
    needed = ".".join(map(str, LEAST_PYTHON))
    return Check("Python", f"Python {'.'.join(map(str, found))}", found >= LEAST_PYTHON, f"install Python {needed} or later, then {AGAIN}")


def _packages():
    found, missing = [], []
    for name in NEEDED:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            missing.append(f"{name} is missing")
    return Check("Packages", ", ".join(missing + found), not missing, AGAIN)


def _sites():
    try:
        files = demo_sites()
    except SiteFileError as trouble:
        return [Check("Demo sites", str(trouble), False, "get the whole repository, not only the helpers")]
    return [_site(name, path) for name, path in files.items()]


def _site(name, path):
    try:
        site = read_site(path)
    except SiteFileError as trouble:
        return Check("Site file", str(trouble), False, "mend the file, or get it again from the repository")
    return Check("Site file", f"{name}, {len(site.storeys)} storeys, {len(site.transmitters)} transmitters", True)


def _known_stair():
    try:
        flow = known_stair()
    except SiteFileError as trouble:
        return Check("Known stair", str(trouble), False, "get the whole repository, not only the helpers")
    cfm = float(units.to_display(flow, "flow", "in. w.c."))
    off = 100 * (cfm / PUBLISHED_CFM - 1)
    found = f"{cfm:.0f} cfm by the model, about {PUBLISHED_CFM:.0f} cfm published: {off:+.1f} % ({PUBLISHED_SOURCE})"
    return Check("Known stair", found, abs(off) <= NEAR_PERCENT, "do not use any figure of this workbook; report it")
