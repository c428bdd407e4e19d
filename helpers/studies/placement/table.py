"""Where the transmitters of Larkfield House could go: every pair under every rule at many set points, judged once and kept as a table.

Judging takes half a minute, a page must not; so the table lies beside the package, in data/tables, and is made anew by

    python -m helpers.studies.placement.table

A test makes a part of it again and compares. What the rows hold are counts of sampled conditions, see `Placed`. The final exit door is
taken as one that a power operator closes (`closing_site`): with its own closer most conditions fail, whatever the transmitters do, and
that is told beside. The model knows no jet where supply air enters the stair, so no place
near one is ever the best of anything; nor is one at the final exit, where trade practice puts no tube end.
"""

import csv
import io
import re
import sys
from dataclasses import dataclass, fields, replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np

from helpers.formulas.uncertainty import paired_chance, wilson_interval
from helpers.model.air.conditions import nearest_station
from helpers.model.air.tower import Tower
from helpers.model.files import write_whole
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.fan_duty import driven_street
from helpers.studies.placement.results import CLEAR_STOREYS, Paired, counted, percent
from helpers.studies.placement.study import Placing, candidate_levels, draw, place_transmitters
from helpers.units.said import with_unit

FILE = Path(__file__).parents[3] / "data" / "tables" / "larkfield_placement.csv"
SITE_NAME, CONDITIONS, SEED = "Larkfield House", 2000, 1
FIRST = 250  # conditions of which the table keeps a count of their own: what a test makes again
LOWEST_PA, HIGHEST_PA, STEP_PA = 25.0, 65.0, 5.0
PAIR_RULES = ("average", "lowest", "highest", "middle")  # "middle": of three, the third half-way between the two
FILE_CHOICE = ("average", 1, 12, 40.0)  # rule, levels and set point of the site file
LOSSES = ("none", "dead", "left_out")


@dataclass(frozen=True)
class Placed:
    """One choice, judged: rule ("alone" for one transmitter), lower and upper level, set point [Pa].

    Counts of conditions with all doors inside: inside, first (of the first ones), dead (though the transmitter that matters most reads
    zero and is counted), left_out (though it is left out; -1: it was the only one). fails_most: the door most often out, "" where none
    is; too: "low" or "high"; out: conditions in which it is; room_median_pa: of the worst door; power_w: mean from the mains. both,
    both_dead, both_left_out: of inside, dead and left_out those in which the best of all under that loss is inside, too.
    """

    rule: str
    lower: int
    upper: int
    set_point_pa: float
    inside: int
    first: int
    dead: int
    left_out: int
    fails_most: str
    too: str
    out: int
    room_median_pa: float
    power_w: float
    both: int = 0
    both_dead: int = 0
    both_left_out: int = 0

    @property
    def levels(self):
        """Levels of its transmitters, the lowest first."""
        third = (third_level(self.lower, self.upper),) if self.rule == "middle" else ()
        return tuple(sorted({self.lower, *third, self.upper}))

    @property
    def in_jet(self):
        """Its levels at which a tube end is too near to where supply air enters the stair."""
        return tuple(level for level in self.levels if level in beside_supply())

    @property
    def unfit(self):
        """Its levels at which nobody drills by these figures: beside a supply, or at a final exit door, where the reading drops when it
        opens."""
        return tuple(level for level in self.levels if level in beside_supply() | exit_levels())

    def count(self, loss="none"):
        """Conditions with all doors inside, for one of LOSSES; None where no transmitter would be left."""
        count = {"none": self.inside, "dead": self.dead, "left_out": self.left_out}[loss]
        return None if count < 0 else count

    def share(self, loss="none"):
        """Share of conditions, NaN where no transmitter would be left."""
        count = self.count(loss)
        return np.nan if count is None else count / CONDITIONS

    def against(self, best, loss="none"):
        """`Paired` of the best of all under one of LOSSES against this one: the judge of the placement study."""
        both = {"none": self.both, "dead": self.both_dead, "left_out": self.both_left_out}[loss]
        gained, lost = best.count(loss) - both, self.count(loss) - both
        return Paired(gained, lost, float(paired_chance(gained, lost)))

    def interval(self, loss="none"):
        """Interval of the share at 95 %, by Wilson."""
        return _interval(self.count(loss))

    def text(self, held=True):
        """The choice in words; held: with its set point."""
        name = {
            "alone": f"storey {self.lower} alone",
            "middle": f"middle of storeys {self.lower}, {third_level(self.lower, self.upper)} and {self.upper}",
        }.get(self.rule, f"{self.rule} of storeys {self.lower} and {self.upper}")
        return f"{name} at {with_unit(self.set_point_pa, 'pressure')}" if held else name

    @property
    def fails_text(self):
        """The door that fails most, in words."""
        return "none" if not self.fails_most else f"{self.fails_most}, too {self.too} in {percent(self.out / CONDITIONS)}"


COLUMNS = tuple(field.name for field in fields(Placed))  # of the file


class PlacementTable:
    """All choices that were judged, by rule, levels and set point."""

    def __init__(self, placed, said):
        self.placed, self.said = tuple(placed), said
        self._by_key = {(one.rule, one.lower, one.upper, one.set_point_pa): one for one in self.placed}
        self.levels = tuple(sorted({one.lower for one in self.placed}))
        self._maps, self._best = {}, {}

    def at(self, rule, lower, upper, set_point_pa):
        """`Placed` of a pair, or of one transmitter where both levels are the same. Raises ValueError for what was not judged."""
        key = ("alone" if lower == upper else rule, lower, upper, nearest_set_point(set_point_pa))
        if key not in self._by_key:
            raise ValueError(f"levels must be a pair that was judged under the rule {rule}, the lower one first; got {lower} and {upper}")
        return self._by_key[key]

    def map(self, rule, set_point_pa, loss="none"):
        """Share [lower, upper] of all pairs under a rule, one transmitter alone on the diagonal; NaN for what was not asked."""
        key = rule, nearest_set_point(set_point_pa), loss
        if key not in self._maps:
            share = np.full((len(self.levels),) * 2, np.nan)
            for one in self.placed:
                if one.rule in (rule, "alone") and one.set_point_pa == key[1]:
                    share[self.levels.index(one.lower), self.levels.index(one.upper)] = one.share(loss)
            self._maps[key] = share
        return self._maps[key]

    def stuck_high(self, one):
        """Conditions with all doors inside though one reading, the one that matters most, sticks at the top of its range; None where that
        reading alone decides and was not counted (alone, highest, average).

        The middle of three is then the highest of the other two, the lowest of two the other one alone: both are rows of this table.
        """
        if one.rule == "lowest":
            return min(self.at("alone", level, level, one.set_point_pa).inside for level in (one.lower, one.upper))
        if one.rule != "middle":
            return None
        levels = one.lower, third_level(one.lower, one.upper), one.upper
        return min(self.at("highest", *pair, one.set_point_pa).inside for pair in combinations(levels, 2))

    def with_one_failed(self, one):
        """Conditions with all doors inside though the transmitter that matters most fails, in the worst way that was counted: dead at zero,
        left out, stuck high; 0 where no reading is left, or where one stuck high was not counted."""
        stuck = self.stuck_high(one)
        return 0 if stuck is None or one.left_out < 0 else min(one.dead, one.left_out, stuck)

    @property
    def advised(self):
        """The `Placed` that keeps most with one transmitter failed in the worst way, clear of supply and final exit: what a page advises
        whatever is looked at; of equals the one that keeps more with all working."""
        if "advised" not in self._best:
            clear = (one for one in self.placed if not one.unfit)
            self._best["advised"] = max(clear, key=lambda one: (self.with_one_failed(one), one.inside))
        return self._best["advised"]

    @property
    def with_own_closer(self):
        """(Of the site file's choice, of the best of all): share of the first conditions kept where the final exit's own closer has to shut
        it, in words, as `street_said` wrote them."""
        return re.search(r"choice keeps (\S+ %) .* the best of all (\S+ %)", self.said[-1]).groups()

    def each_at_its_own(self, rule):
        """Of all places of a rule, clear of supply and final exit, the `Placed` at its own best set point, the largest share last."""
        own = {}
        for one in sorted(self.placed, key=lambda one: one.inside):
            if one.rule == rule and not one.unfit:
                own[one.levels] = one
        return sorted(own.values(), key=lambda one: one.inside)

    def alike(self, rule, set_point_pa, loss="none"):
        """Whether every pair, and every one alone, of a map does the same: then none of them is the best."""
        share = self.map(rule, set_point_pa, loss)
        return bool(np.nanmin(share) == np.nanmax(share))

    def best(self, rule=None, set_point_pa=None, loss="none", *, anywhere=False):
        """`Placed` with the largest share, of a rule (one transmitter alone may win it, too), at a set point, or of all.

        loss: it must do well without that loss as well as with it; the lesser of the two counts. anywhere: beside a supply or at a final
        exit, too, where the share is the model's alone and nobody drills.
        """
        key = rule, None if set_point_pa is None else nearest_set_point(set_point_pa), loss, anywhere
        if key not in self._best:
            self._best[key] = self._found_best(*key)
        return self._best[key]

    def _found_best(self, rule, held_at, loss, anywhere):
        among = (one for one in self.placed if (rule is None or one.rule in (rule, "alone")) and held_at in (None, one.set_point_pa)
                 and (anywhere or not one.unfit))  # fmt: skip
        return max(among, key=lambda one: (min(one.count() or 0, one.count(loss) or 0), one.room_median_pa))


@cache
def supply_levels():
    """Levels at which supply air enters the stair."""
    return tuple(supply.level for supply in read_site(demo_sites()[SITE_NAME]).supplies)


@cache
def beside_supply():
    """Levels nearer than CLEAR_STOREYS to one at which supply air enters the stair."""
    return frozenset(level for at in supply_levels() for level in range(at - CLEAR_STOREYS + 1, at + CLEAR_STOREYS))


@cache
def exit_levels():
    """Levels with a final exit door."""
    return frozenset(level for level, storey in enumerate(read_site(demo_sites()[SITE_NAME]).storeys) if storey.final_exit_door is not None)


def _interval(count):
    return tuple(float(end) for end in wilson_interval(count, CONDITIONS))


def third_level(lower, upper):
    """Level of the third transmitter of "middle", half-way between the two."""
    return (lower + upper) // 2


def set_points_pa():
    """Set points that were judged [Pa]."""
    return np.arange(LOWEST_PA, HIGHEST_PA + STEP_PA / 2, STEP_PA)


def nearest_set_point(set_point_pa):
    """The judged set point [Pa] nearest to one. Raises ValueError for one beyond them."""
    if not LOWEST_PA - STEP_PA / 2 <= set_point_pa <= HIGHEST_PA + STEP_PA / 2:
        raise ValueError(f"set_point_pa must be from {LOWEST_PA:g} to {HIGHEST_PA:g} Pa, got {set_point_pa:g}")
    points = set_points_pa()
    return float(points[np.argmin(np.abs(points - set_point_pa))])


def choices_at(levels, set_point_pa):
    """(rule, lower, upper, `Placing`) of everything that is judged at a set point."""
    found = [("alone", level, level, Placing((level,), "average", None, set_point_pa)) for level in levels]
    for rule in PAIR_RULES:
        for lower in levels:
            for upper in levels:
                third = third_level(lower, upper)
                if rule == "middle" and lower < third < upper:
                    found.append((rule, lower, upper, Placing((lower, third, upper), rule, None, set_point_pa)))
                elif rule != "middle" and lower < upper:
                    found.append((rule, lower, upper, Placing((lower, upper), rule, None, set_point_pa)))
    return found


def closing_site():
    """The site with its final exit door closed by a power operator."""
    return driven_street(read_site(demo_sites()[SITE_NAME]))


def judged(choices, drawn, progress=None, site=None):
    """`Placed` of (rule, lower, upper, `Placing`) under sampled conditions, in their order; site: by default `closing_site`."""
    site = closing_site() if site is None else site
    found = place_transmitters(Tower(site), pressure_window(site), drawn, [choice for *_, choice in choices], progress=progress)
    placed = [_placed(found, number, *choice) for number, choice in enumerate(choices)]
    table, both = PlacementTable(placed, ()), []
    anywhere = all(one.unfit for one in placed)  # of a few that all lie where nobody drills
    for loss, inside in zip(LOSSES, (found.inside, found.tally.dead, found.tally.left_out), strict=True):
        both.append((inside & inside[placed.index(table.best(loss=loss, anywhere=anywhere))]).sum(axis=1).tolist())
    return [replace(one, both=a, both_dead=b, both_left_out=c) for one, a, b, c in zip(placed, *both, strict=True)]


def drawn_conditions():
    """The sampled conditions that the table is made of."""
    site = read_site(demo_sites()[SITE_NAME])
    return draw(site, nearest_station(site), CONDITIONS, SEED)


def _placed(found, number, rule, lower, upper, choice):
    result = found.result(number)
    alone, dead, left_out = result.left_out is None, int(found.tally.dead[number].sum()), int(found.tally.left_out[number].sum())
    out = round(result.out_share * found.judged)
    return Placed(
        rule, lower, upper, choice.set_point_pa, int(found.inside[number].sum()), int(found.inside[number, :FIRST].sum()),
        dead, -1 if alone else left_out, result.fails_most or "", result.too if out else "", out,
        round(result.margin_median_pa, 1), round(result.power_w),
    )  # fmt: skip


def write(path=FILE, progress=None):
    """Judge everything and write the table. Returns its path."""
    site, drawn = read_site(demo_sites()[SITE_NAME]), drawn_conditions()
    choices = [choice for held_at in set_points_pa() for choice in choices_at(candidate_levels(site), float(held_at))]
    return write_whole(path, _csv(judged(choices, drawn, progress), (*drawn.said, street_said(choices, drawn))))


def street_said(choices, drawn):
    """What the final exit door's own closer leaves of the choices, in a sentence."""
    own = judged(choices, drawn.rows(slice(FIRST)), site=read_site(demo_sites()[SITE_NAME]))
    (file,) = (one for one in own if (one.rule, one.lower, one.upper, one.set_point_pa) == FILE_CHOICE)
    best = max(own, key=lambda one: one.inside)
    kept, most = (counted(one.inside, FIRST) for one in (file, best))
    return (
        "The final exit door is taken as one that a power operator closes: no place, rule or set point mends a closer. With its own "
        f"closer, which has to shut it again in every condition, the file's choice keeps {kept} of {FIRST} conditions, "
        f"the best of all {most}; in brackets the 95 % intervals."
    )


def _csv(placed, said):
    file = io.StringIO(newline="")
    lines = csv.writer(file, lineterminator="\n")
    file.writelines(f"# {line}\n" for line in (f"{SITE_NAME}, made by python -m helpers.studies.placement.table", *said))
    lines.writerow(COLUMNS)
    lines.writerows([getattr(one, name) for name in COLUMNS] for one in placed)
    return file.getvalue()


def read(path=FILE):
    """The table as it was written. Raises ValueError for a file that is none."""
    with open(path, encoding="utf-8", newline="") as file:
        lines = file.readlines()
    said = tuple(line.removeprefix("# ").rstrip() for line in lines if line.startswith("#"))
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    if rows.fieldnames != list(COLUMNS):
        raise ValueError(f"{path.name} must have the columns {', '.join(COLUMNS)}, got {rows.fieldnames!r:.60}")
    return PlacementTable([Placed(**{field.name: field.type(row[field.name]) for field in fields(Placed)}) for row in rows], said[1:])


@cache
def placement_table():
    """The table beside the package, read once."""
    return read()


if __name__ == "__main__":
    write(progress=lambda done, asked: print(f"{done} of {asked} conditions", file=sys.stderr))
