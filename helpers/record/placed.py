"""Where the transmitters of stairs go: the ranked pairs of one site or of a campus, worked out here or on a cluster, the same numbers."""

import csv
import io
from dataclasses import dataclass

from helpers.model.site.schema import Site, WholeSite
from helpers.record.design import Design
from helpers.record.papers.cluster import on_cluster, side_by_side
from helpers.record.papers.job import site_files, storeys_of
from helpers.studies.status import word_of
from helpers.units.said import written_out

PAIR = 2  # transmitters
TOLD = 10  # pairs in the table that is printed
HEADS = (
    "place", "storey", "storey", "rule", "set point [Pa]", "all doors inside", "from (95 %)", "to (95 %)", "median margin [Pa]",
    "worst margin [Pa]", "one reads zero", "one left out", "mean power [W]", "conditions",
)  # fmt: skip


@dataclass(frozen=True)
class PlacementJob:
    """One site whose pairs are to be ranked: the site, the choices of `Design`."""

    site: WholeSite
    rule: str | None = None
    set_point: str | None = None
    units: str = "Pa"

    def ranked(self):
        """`Ranked` of all pairs that were tried. Raises ValueError for no stair, doors that suit no pressure, nowhere to put one."""
        if not isinstance(self.site, Site):
            raise ValueError(f"placement must be asked of a stair; {self.site.name} is a {self.site.kind}")
        design = Design(self.site, rule=self.rule, set_point=self.set_point, units=self.units)
        if not design.standing.window.feasible:
            raise ValueError("no pressure suits the doors of this stair; they must change first, see the pressure window of its record")
        study, section = design.placement, design.section("placement")
        numbers = [number for number in study.ranked if len(study.choices[number].levels) == PAIR]
        if not numbers:
            raise ValueError(f"no pair was tried on {self.site.name}: it takes two storeys with a stair door")
        rows = tuple(_row(study, place, int(number)) for place, number in enumerate(numbers, 1))
        fails = tuple(f"{word_of(one.severity)}: {one.what}: {one.figure}" for one in section.findings if one.severity == "wrong")
        told = tuple(_told(study, place, int(number)) for place, number in enumerate(numbers[:TOLD], 1))
        return Ranked(self.site.file_title, self.units, rows, *written_out((told, (section.verdict, study.note), fails), self.units))


@dataclass(frozen=True)
class Ranked:
    """All pairs of one site, the best first: rows of `HEADS` in SI; told: the best of them in words; said: verdict, how the conditions were
    drawn; fails: what the record fails there, in words."""

    name: str
    units: str
    rows: tuple[tuple, ...]
    told: tuple[str, ...]
    said: tuple[str, ...]
    fails: tuple[str, ...]

    def csv(self):
        """All rows as the text of a CSV file, with every digit."""
        lines = io.StringIO()
        csv.writer(lines, lineterminator="\n").writerows((HEADS, *self.rows))
        return lines.getvalue()

    @property
    def lines(self):
        """What is printed of them."""
        return (self.name, *self.fails, *self.said[:1], *self.told, *self.said[1:])


def _row(study, place, number):
    found, taps = study.result(number), study.choices[number]
    set_point = study.question.set_point_pa if taps.set_point_pa is None else taps.set_point_pa
    return (
        place, *taps.levels, taps.rule, set_point, found.inside, *found.interval, found.margin_median_pa, found.margin_worst_pa, found.dead,
        found.left_out, found.power_w, study.judged,
    )  # fmt: skip


def _told(study, place, number):
    text, inside, interval, median, worst, fails, *_ = study.cells(study.result(number))
    return f"{place}. {text}: {inside} of the conditions with all doors inside ({interval}); median margin {median}, worst {worst}; {fails}"


def placements(named, read, cluster=None, remark=print, **choices):
    """Rank the pairs of sites and of folders of them. named: paths; read: gives the site of a path; cluster: address of a Dask scheduler,
    None for processes here; choices: of `PlacementJob`. Yields (path, `Ranked`, "") of each, (path, None, why not) for one that has none: a
    broken site is named, and the rest is done. Raises ValueError as `site_files` and `on_cluster`."""
    asked = {}
    for file in site_files(named, remark):
        try:
            asked[file] = PlacementJob(read(file), **choices)
        except (OSError, ValueError) as trouble:
            yield file, None, str(trouble).splitlines()[0]
    order = sorted(asked, key=lambda file: -storeys_of(asked[file].site))
    if asked:
        yield from (
            on_cluster(PlacementJob.ranked, {file: asked[file] for file in order}, cluster, remark)
            if cluster
            else side_by_side(PlacementJob.ranked, asked, order)
        )
