"""Something to read: how the doors of demo stairs change from the fan's first minute to an hour later, and when to measure."""

from functools import cache

from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.panels.markup import html_table, paragraphs_html
from helpers.panels.reading import Reading
from helpers.studies.stair_cooling import cooling_study

__all__ = ["cooling", "cooling_of"]


@cache
def cooling_of(name="Northgate Tower", weather="winter"):
    """The `CoolingStudy` of a demo site, made once. Raises ValueError for a site or a weather that is not there."""
    sites = demo_sites()
    if name not in sites:
        raise ValueError(f"name must be one of {', '.join(sites)}; got {name!r:.60}")
    return cooling_study(Tower(read_site(sites[name])), weather)


def cooling(*names, weather="winter"):
    """The course of some demo sites one after the other, in words and as a table; by default the tower with a lift. Returns `Reading`."""
    studies = [cooling_of(name, weather) for name in names or ("Northgate Tower",)]
    return Reading(lambda system: _told(studies, system))


def _told(studies, system):
    html, words = [], []
    for study in studies:
        table, verdict = study.table(system), f"{study.site_name}. {study.verdict(system)}"
        html.append(paragraphs_html([verdict]) + html_table(table.columns, table.rows, title=table.title) + paragraphs_html([table.note]))
        words += [verdict, " | ".join(table.columns), *(" | ".join(row) for row in table.rows), table.note]
    return "".join(html), "\n".join(words)
