"""The pressure-loop workbook's helpers, and their front door.

    from helpers import Design, demo, formulas, read_site

Imports go one way, from each layer only to those below; the front door stands on top of all, and nothing imports it:

serving -> classroom -> pages -> fault_bench -> lessons -> widgets -> record -> plots -> teaching -> studies
-> model -> units -> formulas -> require
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from helpers.model.site.schema import Site

__version__ = "0.1.0"
__all__ = ["Design", "demo", "formulas", "read_site"]


def demo(name: str = "Larkfield House") -> "Site":
    """One of the invented stairs that come with the workbook, by its name. Raises ValueError naming those there are."""
    from helpers import require
    from helpers.model.site.file import demo_sites, read_site

    files = demo_sites()
    return read_site(files[require.one_of(files, name=name)])


def __getattr__(name):
    """What the door shows is loaded when somebody asks for it: a formula must not wait for the record."""
    if name == "Design":
        from helpers.record.design import Design as found
    elif name == "read_site":
        from helpers.model.site.file import read_site as found
    else:
        raise AttributeError(f"module 'helpers' has no attribute {name!r}")
    return found
