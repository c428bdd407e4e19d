"""What a standard asks of a pressurised stair, read from data/criteria: every figure with its source and how it is known.

A figure may be "none" (nothing is asked) or "blank" (something is asked, but the text is not at hand). A blank is told as a blank, and is
never judged as passed; who has the text fills it in. A site is judged by its own standard; another may be shown beside it.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import Field, ValidationInfo

from helpers import units
from helpers.model.site.field_types import CRITERIA_FOLDER, OLDER_STANDARD_NAMES, STANDARD_NAMES, Text
from helpers.model.site.quantities import Choice, Quantity, Section
from helpers.model.site.reading import read_site
from helpers.model.site.schema import WholeSite

__all__ = ["AIR", "AT", "BLANK", "NONE", "STEPS", "Asked", "Criteria", "Criterion", "DoorForce", "ExitCriterion", "OpenDoorSpeed",
           "criteria_of", "read_criteria"]  # fmt: skip

BLANK, NONE = "blank", "none"
ALL, BY_CLASS = "all", "by class"  # classes of system that a figure is for: every one, or to be filled in
KNOWN = {"seen": "seen in public text", "memory": "from memory, not verified", "practice": "common practice, no source", BLANK: "blank"}
STEPS = ("release the latch", "set in motion", "open to the full width", "open the door")
AT = ("latch stile", "handle")
# Steps whose force the pressure adds to: a latch is freed before the leaf moves, and with the leaf open the pressure across it has gone.
AIR = ("set in motion", "open the door")


@dataclass(frozen=True)
class Asked(Quantity):
    """A quantity that a standard asks for, or the words "none" or "blank"."""

    def allowed(self):
        """What a value must be, in words."""
        return f'{super().allowed()}, or "{NONE}" where nothing is asked, or "{BLANK}" where the text is not at hand'

    def read(self, value, info: ValidationInfo):
        """Give the float or one of the words, or refuse with a sentence."""
        return value if value in (BLANK, NONE) else super().read(value, info)


class Criterion(Section):
    """One figure of a standard: `value` in SI, or one of the words; its source, and how it is known."""

    source: Text
    known: Annotated[str, Choice(tuple(KNOWN))]

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

    def shown(self, system="Pa"):
        """The figure with its unit, or the word that stands for it."""
        return {NONE: "nothing asked", BLANK: "blank: fill in from the text"}.get(self.value) or units.show(
            self.value, self.dimension, system
        )


class PressureCriterion(Criterion):
    """A pressure across shut stair doors."""

    dimension: ClassVar[str] = "pressure"
    value: Annotated[float, Asked("pressure", "50 Pa", low=0, high=20000)]


class ExitCriterion(PressureCriterion):
    """The least pressure across shut stair doors while a final exit stands open, and the classes of system that it is asked of."""

    classes: Text = ALL


class TimeCriterion(Criterion):
    """A time."""

    dimension: ClassVar[str] = "time"
    value: Annotated[float, Asked("time", "3 s", low=0, high=1e5, open_low=True)]


class DoorForce(Criterion):
    """A force that a person may be asked for, at one step of opening a door, and where on the leaf it is measured."""

    dimension: ClassVar[str] = "force"
    step: Annotated[str, Choice(STEPS)]
    at: Annotated[str, Choice(AT)]
    value: Annotated[float, Asked("force", "100 N", low=0, high=2000, open_low=True)]


class OpenDoorSpeed(Criterion):
    """A mean speed of the air out through the open door, by class of system, and what the class is for."""

    dimension: ClassVar[str] = "speed"
    classes: Text
    use: Text
    value: Annotated[float, Asked("speed", "0.75 m/s", low=0, high=60, open_low=True)]


def figures_are_known(draft):
    """A figure says how it is known; a blank has no figure yet."""
    parts = [((name,), part) for name, part in draft.sections.items() if isinstance(part, Criterion)]
    parts += [((name, number), part) for name in ("forces", "open_door_speeds") for number, part in draft.items(name)]
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


class Criteria(WholeSite):
    """All that one standard asks; `name` as it stands in records, `standing`: whether it is in force."""

    checks: ClassVar[tuple] = (figures_are_known, steps_are_single)
    called: ClassVar[str] = "criteria file"

    kind: Literal["criteria"]
    title: Text
    edition: Text
    standing: Text
    least_doors_shut: PressureCriterion
    most_doors_shut: PressureCriterion
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
        return self.model_copy(update={"open_door_speeds": speeds, "least_exit_open": exit_open})

    @property
    def blanks(self):
        """Names of the figures nobody has filled in."""
        parts = {
            name.replace("_", " "): getattr(self, name) for name in ("least_doors_shut", "most_doors_shut", "least_exit_open", "response")
        }
        parts |= {f"force to {force.step}": force for force in self.forces}
        parts |= {f"speed through the open door, {speed.classes}": speed for speed in self.open_door_speeds}
        return tuple(name for name, part in parts.items() if part.blank)


def _asked_of(criterion, airflow_class):
    return criterion.classes in (ALL, BY_CLASS) or airflow_class in criterion.classes.replace(",", " ").split()


def read_criteria(path):
    """Read a criteria file. Returns `Criteria`; raises SiteFileError naming every mistake with its key and line."""
    return read_site(Path(path), kinds=(Criteria,))


@cache
def criteria_of(standard):
    """The `Criteria` a site's `standard` names. Raises ValueError for one that is not in the folder, SiteFileError for a wrong file."""
    if standard not in STANDARD_NAMES:
        raise ValueError(f"standard must be one of {', '.join(STANDARD_NAMES)}; got {standard!r:.60}")
    return read_criteria(CRITERIA_FOLDER / f"{OLDER_STANDARD_NAMES.get(standard, standard)}.toml")
