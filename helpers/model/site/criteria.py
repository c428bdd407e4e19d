"""What a standard asks of a pressurised stair, read from data/criteria: every figure with its source and how it is known.

A figure may be "none" (nothing is asked) or "blank" (something is asked, but the text is not at hand). A blank is told as a blank, and is
never judged as passed; who has the text fills it in. A site is judged by its own standard; another may be shown beside it.
"""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Annotated, ClassVar, Literal, get_args

from pydantic import Field, ValidationInfo

from helpers import require
from helpers.model.site.field_types import (
    CRITERIA_FOLDER,
    OLDER_STANDARD_NAMES,
    STANDARD_NAMES,
    AirflowClass,
    Length,
    OneOf,
    Quantity,
    SiteTable,
    Text,
)
from helpers.model.site.file import read_site
from helpers.model.site.schema import WholeSite
from helpers.units.limits import limit_text

HEIGHT_TOLERANCE_M = 0.001  # of a ceiling: feet and metres rounded
BLANK, NONE = "blank", "none"
ALL, BY_CLASS = "all", "by class"  # classes of system that a figure is for: every one, or to be filled in
CLASSES = get_args(AirflowClass)
KNOWN = {
    "seen": "checked in public text", "reviewed": "checked in public text by a reviewer in 2026", "memory": "from memory, not verified",
    "practice": "common practice, no source", BLANK: "blank",
}  # fmt: skip
STEPS = ("release the latch", "set in motion", "open to the full width", "open the door")
AT = ("latch stile", "handle")
# Steps whose force the pressure adds to: a latch is freed before the leaf moves, and with the leaf open the pressure across it has gone.
AIR = ("set in motion", "open the door")


@dataclass(frozen=True)
class AskedQuantity(Quantity):
    """A quantity that a standard asks for, or the words "none" or "blank"."""

    def allowed(self):
        """What a value must be, in words."""
        return f'{super().allowed()}, or "{NONE}" where nothing is asked, or "{BLANK}" where the text is not at hand'

    def read(self, value, info: ValidationInfo):
        """Give the float or one of the words, or refuse with a sentence."""
        return value if value in (BLANK, NONE) else super().read(value, info)


class Criterion(SiteTable):
    """One figure of a standard: `value` in SI, or one of the words; its source, and how it is known."""

    source: Text
    known: Annotated[str, OneOf(tuple(KNOWN))]

    @property
    def limit(self):
        """The figure [SI], None where none is asked or the place is blank."""
        return None if self.value in (BLANK, NONE) else self.value

    @property
    def blank(self):
        """Whether something is asked whose figure nobody has filled in."""
        return self.value == BLANK

    @property
    def said(self):
        """Source and how it is known, in words."""
        return f"{self.source} ({KNOWN[self.known]})" if self.known != BLANK else self.source

    def shown(self, end=None):
        """The figure with its unit, or the word that stands for it; end: "least" or "most", where the kind of figure does not say it."""
        said = {NONE: "nothing asked", BLANK: "blank: fill in from the text"}.get(self.value)
        return said or limit_text(self.value, self.dimension, end or self.end)


class PressureCriterion(Criterion):
    """A pressure across shut stair doors."""

    dimension: ClassVar[str] = "pressure"
    end: ClassVar[str] = "least"
    value: Annotated[float, AskedQuantity("pressure", "50 Pa", low=0, high=20000)]


class ExitCriterion(PressureCriterion):
    """The minimum pressure across shut stair doors while a final exit stands open, and the classes of system that it is asked of; those of
    them that it is asked of with every stair door shut, the others with stair doors open besides."""

    classes: Text = ALL
    doors_shut_for: Text = ALL


class CeilingCriterion(PressureCriterion):
    """The minimum pressure across shut stair doors of a building without sprinklers, for ceilings up to a height."""

    up_to_m: Length


class TimeCriterion(Criterion):
    """A time that a standard asks for."""

    dimension: ClassVar[str] = "time"
    end: ClassVar[str] = "most"
    value: Annotated[float, AskedQuantity("time", "3 s", low=0, high=1e5, open_low=True)]


class DoorForce(Criterion):
    """A force that a person may be asked for, at one step of opening a door, and where on the leaf it is measured."""

    dimension: ClassVar[str] = "force"
    end: ClassVar[str] = "most"
    step: Annotated[str, OneOf(STEPS)]
    at: Annotated[str, OneOf(AT)]
    value: Annotated[float, AskedQuantity("force", "100 N", low=0, high=2000, open_low=True)]


class OpenDoorSpeed(Criterion):
    """A mean speed of the air out through the open door, by class of system, and what the class is for."""

    dimension: ClassVar[str] = "speed"
    end: ClassVar[str] = "least"
    classes: Text
    use: Text
    value: Annotated[float, AskedQuantity("speed", "0.75 m/s", low=0, high=60, open_low=True)]


def figures_are_known(draft):
    """A figure says how it is known; a blank has no figure yet."""
    parts = [((name,), part) for name, part in draft.sections.items() if isinstance(part, Criterion)]
    lists = ("forces", "open_door_speeds", "least_without_sprinklers")
    parts += [((name, number), part) for name in lists for number, part in draft.items(name)]
    for place, part in parts:
        if (part.known == BLANK) != part.blank:
            what = "blank where the value is blank" if part.blank else "seen, memory or practice where the value is no blank"
            yield (*place, "known"), f"must be {what}; got {part.known!r}"


def steps_are_single(draft):
    """Each step of opening a door has one force."""
    steps = [part.step for _, part in draft.items("forces")]
    for number, part in draft.items("forces"):
        if part.step in steps[:number]:
            yield ("forces", number, "step"), f"must be stated once; {part.step!r} is there twice"


def ceilings_rise(draft):
    """The rows of ceilings rise: a higher room pushes with more hot smoke."""
    rows = [part for _, part in draft.items("least_without_sprinklers")]
    for number, (lower, upper) in enumerate(pairwise(rows), 1):
        if not lower.up_to_m < upper.up_to_m:
            told = f"must rise from row to row; {upper.up_to_m:g} m follows {lower.up_to_m:g} m"
            yield ("least_without_sprinklers", number, "up_to"), told


def classes_are_named(draft):
    """A figure that is asked of some classes of system alone names each of them by its letter: of one that cannot be read nothing would be
    asked, and nobody told."""
    parts = [((name,), part) for name, part in draft.sections.items() if isinstance(part, ExitCriterion)]
    parts += [(("open_door_speeds", number), part) for number, part in draft.items("open_door_speeds")]
    for place, part in parts:
        for name in ("classes", "doors_shut_for"):
            stated = getattr(part, name, ALL)
            named = _classes(stated)
            if stated not in (ALL, BY_CLASS) and (not named or set(named) - set(CLASSES) or len(set(named)) < len(named)):
                letters = f"{', '.join(CLASSES[:-1])} or {CLASSES[-1]}"
                told = f'must name each class once by its letter, {letters}, with commas between, or be "{ALL}" or "{BY_CLASS}"'
                yield (*place, name), f"{told}; got {stated!r}"
        both = [part.classes, part.doors_shut_for] if isinstance(part, ExitCriterion) else [ALL]
        more = set(_classes(both[-1])) - set(_classes(both[0])) if {ALL, BY_CLASS}.isdisjoint(both) else ()
        if more:
            yield (*place, "doors_shut_for"), f"must name classes that classes names too, {both[0]!r}; got {', '.join(sorted(more))}"


class Criteria(WholeSite):
    """All that one standard asks; `name` as it stands in records, `standing`: whether it is in force.

    What hangs on the building, its sprinklers and the code adopted there, stands apart in the file: `of_building` brings it together.
    """

    checks: ClassVar[tuple] = (figures_are_known, steps_are_single, ceilings_rise, classes_are_named)
    called: ClassVar[str] = "criteria file"

    kind: Literal["criteria"]
    title: Text
    edition: Text
    standing: Text
    least_doors_shut: PressureCriterion
    most_doors_shut: PressureCriterion
    least_without_sprinklers: list[CeilingCriterion] = Field(default=[])
    building_code_least: PressureCriterion | None = None
    building_code_most: PressureCriterion | None = None
    least_exit_open: ExitCriterion
    response: TimeCriterion
    forces: Annotated[list[DoorForce], Field(min_length=1)]
    open_door_speeds: Annotated[list[OpenDoorSpeed], Field(min_length=1)]

    @property
    def least_pa(self):
        """Least pressure [Pa] across a shut stair door, None where none is asked or the place is blank."""
        return self.least_doors_shut.limit

    @property
    def response_s(self):
        """Time [s] from a door event to 90 % of the new flow; None where none is asked (as in the US) or the place is blank."""
        return self.response.limit

    @property
    def motion_force(self):
        """The force that sets a leaf in motion against closer and air: the `DoorForce` that the pressure counts in, None where none is."""
        return next((force for force in self.forces if force.step in AIR), None)

    @property
    def open_doors_apart(self):
        """Whether it asks for something of its own while doors stand open, so that the least of shut doors is one of all doors shut."""
        return any(one.value != NONE for one in (self.least_exit_open, *self.open_door_speeds))

    @property
    def by_class(self):
        """Whether it asks unlike things of unlike classes of system."""
        return any(one.classes != ALL for one in (self.least_exit_open, *self.open_door_speeds))

    def of_class(self, airflow_class):
        """The same, asking only what it asks of one class of system ("A" to "F"); None: of any, as nobody has stated which."""
        if airflow_class is None:
            return self
        speeds = [one for one in self.open_door_speeds if _asked_of(one, airflow_class)]
        exit_open = self.least_exit_open
        if not _asked_of(exit_open, airflow_class):
            exit_open = exit_open.model_copy(update={"value": NONE})
        shut = exit_open.doors_shut_for in (ALL, BY_CLASS) or airflow_class in _classes(exit_open.doors_shut_for)
        exit_open = exit_open.model_copy(update={"doors_shut_for": ALL if shut else NONE})
        return self.model_copy(update={"open_door_speeds": speeds, "least_exit_open": exit_open})

    @property
    def by_building_code(self):
        """Whether it asks for more where the building code is adopted."""
        return self.building_code_least is not None or self.building_code_most is not None

    def of_building(self, sprinklers, building_code_adopted, ceiling_m):
        """The same, its least and most pressure of shut stair doors those of one building: the stricter of the standard and the code.

        sprinklers, building_code_adopted: True, False, or None where nobody has stated it, judged by the stricter; ceiling_m: the highest
        ceiling of the rooms beside the stair [m]. Limits: a ceiling between two rows counts as the upper one, one beyond the table as its
        last two rows drawn on in a straight line (ours; the table prints neither).
        """
        leasts, mosts = [self.least_doors_shut if sprinklers else self._without_sprinklers(ceiling_m)], [self.most_doors_shut]
        if building_code_adopted is not False:
            leasts += [self.building_code_least] if self.building_code_least else []
            mosts += [self.building_code_most] if self.building_code_most else []
        ends = {"least_doors_shut": _strictest(leasts, max), "most_doors_shut": _strictest(mosts, min)}
        apart = {"least_without_sprinklers": [], "building_code_least": None, "building_code_most": None}
        return self.model_copy(update=ends | apart)

    def _without_sprinklers(self, ceiling_m):
        rows = self.least_without_sprinklers
        if not rows:
            return self.least_doors_shut
        found = next((row for row in rows if ceiling_m <= row.up_to_m + HEIGHT_TOLERANCE_M), None)
        if found is not None or len(rows) < 2 or None in (rows[-2].limit, rows[-1].limit):
            return found or rows[-1]
        below, last = rows[-2:]
        slope = (last.limit - below.limit) / (last.up_to_m - below.up_to_m)
        source = f"{last.source}, drawn on in a straight line to {ceiling_m:.1f} m"
        return last.model_copy(update={"value": last.limit + slope * (ceiling_m - last.up_to_m), "source": source})

    @property
    def blanks(self):
        """Names of the figures nobody has filled in."""
        names = ("least_doors_shut", "most_doors_shut", "building_code_least", "building_code_most", "least_exit_open", "response")
        parts = {name.replace("_", " "): getattr(self, name) for name in names if getattr(self, name) is not None}
        parts |= {f"least without sprinklers up to {row.up_to_m:g} m": row for row in self.least_without_sprinklers}
        parts |= {f"force to {force.step}": force for force in self.forces}
        parts |= {f"speed through the open door, {speed.classes}": speed for speed in self.open_door_speeds}
        return tuple(name for name, part in parts.items() if part.blank)


def _strictest(criteria, stricter):
    """The strictest of several criteria; a blank before all, since nobody knows it."""
    limited = [one for one in criteria if one.limit is not None]
    blank = next((one for one in criteria if one.blank), None)
    return blank or (stricter(limited, key=lambda one: one.limit) if limited else criteria[0])


def _asked_of(criterion, airflow_class):
    return criterion.classes in (ALL, BY_CLASS) or airflow_class in _classes(criterion.classes)


def _classes(stated):
    """Classes of system that a text names, in its order."""
    return stated.replace(",", " ").split()


def read_criteria(path):
    """Read a criteria file. Returns `Criteria`; raises SiteFileError naming every mistake with its key and line."""
    return read_site(Path(path), kinds=(Criteria,))


@cache
def criteria_of(standard):
    """The `Criteria` a site's `standard` names. Raises ValueError for one that is not in the folder, SiteFileError for a wrong file."""
    require.one_of(STANDARD_NAMES, standard=standard)
    return read_criteria(CRITERIA_FOLDER / f"{OLDER_STANDARD_NAMES.get(standard, standard)}.toml")


@cache
def standard_said(standard):
    """Title of the standard of a key with its edition, or its name and editions where the title has none; another key as it is."""
    try:
        found = criteria_of(standard)
    except ValueError:
        return standard
    edition = found.edition.partition(";")[0].removeprefix("figures of ")
    return found.title if edition in found.title else f"{found.name}, {edition}"


def criteria_for(site):
    """The `Criteria` that a `Site` is judged by: those its file names, as they hold for its building and for its class of system.

    What the file leaves open is judged by the stricter, and told by `helpers.model.site.tolerances.filled_in`. Raises as `criteria_of`.
    """
    named = criteria_of(site.standard).of_class(site.airflow_class)
    return named.of_building(site.sprinklers, site.building_code_adopted, highest_ceiling_m(site))


SECOND_LEFT_OUT = {"NFPA 92": "en12101_6_2005"}  # by name of the first; for every other the US set


def second_standard(site):
    """Key of the set of criteria that a `Site` is judged by in the adjacent column: `second_standard` of its file, or where that is left
    out one of another country whose figures we have. It decides nothing: the site's own does."""
    return site.second_standard or SECOND_LEFT_OUT.get(criteria_of(site.standard).name, "nfpa92")


def highest_ceiling_m(site):
    """Highest ceiling [m] of the rooms beside the stair of a `Site`; where it is not stated the tallest storey with a stair door."""
    if site.ceiling_height_m is not None:
        return site.ceiling_height_m
    with_door = [storey.height_m for storey in site.storeys if storey.stair_door_count]
    return max(with_door or [storey.height_m for storey in site.storeys])


def smoke_control_standard(site):
    """Name of the standard that judges the stair doors of a `Site` by a minimum pressure, known or still a blank; "" where none does."""
    criteria = criteria_for(site)
    doors = any(storey.stair_door and storey.stair_door_count for storey in site.storeys)
    return criteria.name if doors and (criteria.least_pa is not None or criteria.least_doors_shut.blank) else ""


def in_its_mode(site):
    """A `Site` as it is judged, and the name of the standard of smoke control whose mode its file does not state, "" for none: there its
    smoke limits hold, and nothing stops it."""
    name = "" if site.control.fire_mode else smoke_control_standard(site)
    return (site.with_changes(control={"fire_mode": True, "low_demand": None}) if name else site), name


def cited(site, source):
    """A source as it is cited for a `Site`: what is of NFPA 92 or IBC is told as another country's where another standard judges the
    stair."""
    name, foreign = criteria_for(site).name, "NFPA" in source or "IBC" in source
    return f"{source}; US practice, {name} decides here" if foreign and not name.startswith("NFPA") else source
