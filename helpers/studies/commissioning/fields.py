"""What is asked of the fields of an acceptance sheet, stated once: the panel holds a condition against what was typed, the spreadsheet is
given the same condition as a formula. So neither can pass what the other does not.

A condition holds only where all its fields are there; figures are SI, limits are on the side of the door within `status.TOUCHES`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from helpers import require, units
from helpers.model.site.criteria import DoorForce
from helpers.model.site.schema import Site
from helpers.studies.commissioning.injection import PARTS
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.report import listed
from helpers.studies.status import SEVERITIES, TOUCHES, word_of
from helpers.units.said import with_unit

DAY = "day"  # field that stands while what is expected is that of the weather in which it was measured
# Of the first round, where it is NOT RUN: what ran the fan while its pressures were read. A line of the sheet, and what it may say; blank,
# as on sheets that had no such line, counts as in MANUAL.
READ_BY, READ_IN, READ_WORDS = "read_by", "round 1: pressures read", ("in MANUAL", "by the loop")
READ_LINE = (READ_IN, "in MANUAL, where no least is judged, or by the loop, where it counts")
SHUT = ("shut_pa", "later_pa")  # read with all doors shut
GRADES = {key: grade for grade, key in enumerate(reversed(SEVERITIES))}  # PASS 0, NOT YET 1, CHECK 2, FAIL 3


@dataclass(frozen=True)
class Above:
    """Whether a sum of fields, each with its factor, is above a limit. terms: (field, factor); limit [SI].

    `holds(values)` takes numbers by field, None where nothing stands; `formula(cells)` takes (cell, SI of one of its unit) by field.
    """

    terms: tuple
    limit: float

    def holds(self, values):
        """Whether it is so of these values; never while one is missing."""
        read = [values.get(name) for name, _ in self.terms]
        return None not in read and sum(factor * value for (_, factor), value in zip(self.terms, read, strict=True)) - self.limit > TOUCHES

    def formula(self, cells):
        """The same as a formula; N() takes a text for 0, so that a word in a cell for a figure is no error."""
        read = [(*cells(name), factor) for name, factor in self.terms]
        there = ",".join(f"ISNUMBER({cell})" for cell, _, _ in read)
        total = "+".join(f"({float(factor * unit)!r})*N({cell})" for cell, unit, factor in read)
        return f"AND({there},{total}-({float(self.limit)!r})>{TOUCHES!r})"


@dataclass(frozen=True)
class Says:
    """Whether a field holds one of some words."""

    name: str
    words: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return values.get(self.name) in self.words

    def formula(self, cells):
        """The same as a formula."""
        cell, _ = cells(self.name)
        return "OR(" + ",".join(f'{cell}="{word}"' for word in self.words) + ")"


@dataclass(frozen=True)
class Missing:
    """Whether nothing stands in a field that can be used; words: those it may hold, none for a number."""

    name: str
    words: tuple = ()

    def holds(self, values):
        """Whether it is so of these values."""
        return values.get(self.name) is None

    def formula(self, cells):
        """The same as a formula: a word where a number is asked counts as nothing."""
        cell, _ = cells(self.name)
        there = Says(self.name, self.words).formula(cells) if self.words else f"ISNUMBER({cell})"
        return f"NOT({there})"


@dataclass(frozen=True)
class All:
    """Whether all of some conditions hold."""

    parts: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return all(part.holds(values) for part in self.parts)

    def formula(self, cells):
        """The same as a formula."""
        return f"AND({','.join(part.formula(cells) for part in self.parts)})"


@dataclass(frozen=True)
class Either:
    """Whether one of some conditions holds."""

    parts: tuple

    def holds(self, values):
        """Whether it is so of these values."""
        return any(part.holds(values) for part in self.parts)

    def formula(self, cells):
        """The same as a formula."""
        return f"OR({','.join(part.formula(cells) for part in self.parts)})"


@dataclass(frozen=True)
class Remark:
    """One thing to say of a door: the key of its status, when, and the words, made of the values. of_loop: whether it is asked only while
    the loop holds its set point with all doors shut."""

    state: str
    when: Above | Says | Missing | All | Either
    say: Callable[[Mapping], str]
    of_loop: bool = False


def above(name, limit):
    """A field above a limit."""
    return Above(((name, 1.0),), limit)


def below(name, limit):
    """A field below a limit."""
    return Above(((name, -1.0),), -limit)


def present(name):
    """A field with a number in it, whatever it is."""
    return Above(((name, 0.0),), -1.0)


def outside(name, middle, away):
    """A field further from a figure than so much."""
    return Either((above(name, middle + away), below(name, middle - away)))


def as_run(sheet, found):
    """`chains` of what is read at a door: where the first round is NOT RUN, no loop holds in MANUAL what is asked of it, so that its least
    counts by the loop alone, and what is read is NOT YET at the best. A most stands, whatever runs the fan."""
    if sheet.hand_hz is None:
        return found
    by_loop, hand = Says(READ_BY, READ_WORDS[1:]), with_unit(sheet.hand_hz, "frequency", 1)
    looped = f"doors shut: {NOT_RUN}, read by the loop all the same: its limits count, and no PASS"
    barred = f"doors shut: {NOT_RUN}, in MANUAL at {hand} no loop holds it; read by the loop, the least counts: line {READ_IN!r}"
    read = [
        (Remark("open", All((present(name), by_loop)), lambda values: looped), Remark("open", present(name), lambda values: barred))
        for name in SHUT
    ]
    kept = (tuple(replace(one, when=All((one.when, by_loop))) if one.of_loop else one for one in chain) for chain in found)
    return (*kept, *read)


def spoken(chains, values):
    """The first check that holds, of each chain that has something to say. Yields `Remark`."""
    for chain in chains:
        found = next((check for check in chain if check.when.holds(values)), None)
        if found is not None:
            yield found


def grade_formula(chain, cells):
    """The grade of a chain as a formula: that of its first check that holds, 0 where none does."""
    formula = "0"
    for check in reversed(chain):
        formula = f"IF({check.when.formula(cells)},{GRADES[check.state]},{formula})"
    return formula


def missing_formula(missing, cells):
    """How many fields are still to be filled in, as a formula."""
    return "+".join(f"IF({one.formula(cells)},1,0)" for one in missing)


def verdict_formula(chains, left_cell, cells):
    """The word of a door's verdict as a formula: the gravest of its checks, NOT YET at the best while something is left to measure."""
    grades = ",".join([f"IF({left_cell}>0,{GRADES['open']},0)", *(grade_formula(chain, cells) for chain in chains)])
    words = ",".join(f'"{word_of(key)}"' for key in GRADES)
    return f"CHOOSE(MAX({grades})+1,{words})"


DEFICIENCIES = 4  # lines for what is wrong, who mends it, and when it was tested again
# Fields of `Day` and what they are called; all but the stair half way up are asked for.
OF_THE_DAY = {
    "outdoor_c": ("outdoors", "temperature"), "stair_bottom_c": ("stair, bottom", "temperature"),
    "stair_middle_c": ("stair, half way up", "temperature"), "stair_top_c": ("stair, top", "temperature"),
    "floor_c": ("floors", "temperature"), "wind_speed_m_s": ("wind", "wind speed"), "wind_from_deg": ("wind from, degrees", "angle"),
}  # fmt: skip
HOTTEST_C = 50.0  # outdoors, beyond which somebody is asked for the unit; ours
ROOMS_OFF_C, STAIR_OFF_C = 8.0, 6.0  # rooms from the site file's, a stair beyond rooms and outdoors, beyond which somebody is asked; ours
TEMPERATURES = ("outdoor_c", "stair_bottom_c", "stair_top_c", "floor_c")  # without one of them the others make a weather that was nowhere


MOST_READ = 2  # digits after the point of a weather that somebody reads


def as_read(value, dimension):
    """A figure of the weather as it was read: with the digits that it has in the reader's units, MOST_READ at most; one that has more, as
    what is straight between two of them, with one.

    >>> as_read(7.6, "temperature")[1:6], as_read(8.0, "temperature")[1:5], as_read(15.34567, "temperature")[1:7]
    ('7.6 °', '8 °C', '15.3 °')
    """
    return with_unit(value, dimension, tuple(_digits_of(float(units.to_display(value, dimension, one))) for one in units.SYSTEMS))


def _digits_of(shown):
    return next((digits for digits in range(MOST_READ + 1) if abs(shown - round(shown, digits)) < 1e-6), 1)


def in_the_sheets_words(refusal):
    """A refusal of a `Day`, with the sheet's label for the name of a field."""
    said = str(refusal)
    return next((said.replace(name, label, 1) for name, (label, _) in OF_THE_DAY.items() if said.startswith(name)), said)


def tested_again(number):
    """Field of the date on which a deficiency was tested again."""
    return f"deficiency {number} tested again, date"


def is_filled(value):
    """Whether a line holds something: blanks alone are nothing, nor is what could not be read."""
    return not isinstance(value, ValueError) and value is not None and bool(str(value).strip())


@dataclass(frozen=True)
class DoorMeasured:
    """What somebody measured at a door; None where nothing was.

    shut_pa, open_pa; off_n: force with the fan off, latch_n, motion_n, width_n: the three US forces, force_n: the one at the handle (also
    of older sheets), all with the fan on; shuts: whether it shuts and latches by itself; speed_m_s through the open door; direction: of
    smoke or thread at the gap, one of DIRECTIONS; minutes since the fan started; later_pa, later_minutes: an end door's second reading;
    read_by: one of READ_WORDS, of the sheet and not of the door.
    """

    shut_pa: float | None = None
    force_n: float | None = None
    open_pa: float | None = None
    direction: str | None = None
    off_n: float | None = None
    latch_n: float | None = None
    motion_n: float | None = None
    width_n: float | None = None
    shuts: str | None = None
    speed_m_s: float | None = None
    minutes: float | None = None
    later_pa: float | None = None
    later_minutes: float | None = None
    read_by: str | None = None


@dataclass(frozen=True)
class Day:
    """The weather of the day, None where the site file's stands: outdoor air, stair at bottom, middle and top, floors [degC], wind."""

    outdoor_c: float | None = None
    stair_bottom_c: float | None = None
    stair_middle_c: float | None = None
    stair_top_c: float | None = None
    floor_c: float | None = None
    wind_speed_m_s: float | None = None
    wind_from_deg: float | None = None

    def __post_init__(self):
        for one in fields(self):
            value = getattr(self, one.name)
            if value is not None:
                low, high = (-60, 60) if one.name.endswith("_c") else (0, 60) if one.name == "wind_speed_m_s" else (0, 360)
                require.between(low, high, **{one.name: value})

    @classmethod
    def of_texts(cls, typed):
        """The day from texts with their units, by field name (None: not stated). Raises ValueError, in the words of the sheet, for what no
        text of its kind is, for what no weather has, and where a temperature is missing beside others."""
        made = {}
        for name, text in typed.items():
            label, dimension = OF_THE_DAY[name]
            made[name] = None if text is None else units.parse(text, dimension, label)
        try:
            day = cls(**made)
        except ValueError as refusal:
            raise ValueError(in_the_sheets_words(refusal)) from None
        if day.typed and day.lacking:
            raise ValueError(f"the weather of the day must be stated with all its temperatures; still to state: {', '.join(day.lacking)}")
        return day

    @property
    def lacking(self):
        """Temperatures without which the others make a weather that was nowhere, by name."""
        return tuple(OF_THE_DAY[name][0] for name in TEMPERATURES if getattr(self, name) is None)

    @property
    def typed(self):
        """Whether anything of it was stated."""
        return any(getattr(self, one.name) is not None for one in fields(self))

    def said(self, site: Site, weather: str):
        """What the expected figures hold for, in a sentence."""
        if not self.typed:
            return f"Expected figures are those of the site file's {weather}: state the temperatures of the day, or they teach little."
        changes = self.changes(site, weather)
        stair = " / ".join(as_read(float(value), "temperature") for value in changes["stair_c"][0][[0, len(site.storeys) // 2, -1]])
        outdoor, floor = (as_read(changes[name], "temperature") for name in ("outdoor_c", "floor_c"))
        wind = as_read(changes["wind_speed_m_s"], "wind speed")
        bearing = as_read(changes["wind_from_deg"], "angle")
        own = {"outdoor_c": "outdoors", "floor_c": "floors", "wind_speed_m_s": "wind"}
        taken = [words for name, words in own.items() if getattr(self, name) is None]
        if (self.stair_bottom_c, self.stair_middle_c, self.stair_top_c) == (None, None, None):
            taken.append("stair")
        left = f" Not stated, so the site file's {weather}: {', '.join(taken)}." if taken else ""
        left += "".join(f" Ask before anything is done with it: {one}" for one in self.doubts(site))
        return f"Expected for outdoors {outdoor}, stair {stair} (bottom, middle, top), floors {floor}, wind {wind} from {bearing}.{left}"

    def doubts(self, site: Site):
        """Temperatures that can hardly be, in words: outdoors hotter than weather is, rooms far from the site file's, a stair far
        warmer or colder than rooms and outdoors, between which its air lies. They are used as they stand: only who read them knows."""
        usual, doubted = site.temperatures.floor_c, False
        if self.floor_c is not None and abs(self.floor_c - usual) > ROOMS_OFF_C:
            doubted = True
            yield f"floors {as_read(self.floor_c, 'temperature')}, the site file has {as_read(usual, 'temperature')}: a slip of the point?"
        if self.outdoor_c is not None and self.outdoor_c > HOTTEST_C:
            celsius = as_read(round((self.outdoor_c - 32) / 1.8, 1), "temperature")
            yield f"outdoors {as_read(self.outdoor_c, 'temperature')}, hotter than weather is: degF? That would be {celsius}"
        around = [one for one in (self.outdoor_c, usual if doubted else self.floor_c) if one is not None]
        for name in ("stair_bottom_c", "stair_middle_c", "stair_top_c"):
            value = getattr(self, name)
            if value is not None and len(around) > 1 and not min(around) - STAIR_OFF_C <= value <= max(around) + STAIR_OFF_C:
                ends = " and ".join(as_read(one, "temperature") for one in sorted(around))
                yield f"{OF_THE_DAY[name][0]} {as_read(value, 'temperature')}, outdoors and floors have {ends}: a slip of the point?"

    def changes(self, site: Site, weather: str):
        """Fields of `Conditions`: what was stated, else the site file's; the stair by storey, straight between the stated heights."""
        state, inside = site.weather[weather], site.temperatures
        stair = inside.stair_c if state.stair_c is None else state.stair_c
        known = {place: value for place, value in zip((0.0, 0.5, 1.0), (self.stair_bottom_c, self.stair_middle_c, self.stair_top_c),
                                                      strict=True) if value is not None}  # fmt: skip
        along = np.linspace(0.0, 1.0, len(site.storeys))
        by_storey = np.interp(along, list(known), list(known.values())) if known else np.full(len(site.storeys), stair)
        floor = inside.floor_c if self.floor_c is None else self.floor_c
        rooms = {} if self.floor_c is None else {"lobby_c": floor, "lift_c": floor}
        return rooms | {
            "outdoor_c": state.outdoor_c if self.outdoor_c is None else self.outdoor_c, "stair_c": by_storey[None, :], "floor_c": floor,
            "wind_speed_m_s": state.wind_speed_m_s if self.wind_speed_m_s is None else self.wind_speed_m_s,
            "wind_from_deg": state.wind_from_deg if self.wind_from_deg is None else self.wind_from_deg,
        }  # fmt: skip


def made_for(changes):
    """(field of `Day`, value) of the weather that figures are made for."""
    stair = changes["stair_c"][0]
    values = {"stair_bottom_c": stair[0], "stair_middle_c": stair[len(stair) // 2], "stair_top_c": stair[-1]} | changes
    return tuple((name, float(values[name])) for name in OF_THE_DAY)


FORCE_FIELDS = {
    "release the latch": "latch_n", "set in motion": "motion_n", "open to the full width": "width_n", "open the door": "force_n",
}  # fmt: skip


@dataclass(frozen=True)
class ExpectedForce:
    """One step of opening a door: the standard's step and gauge place, its limit there, and what is expected, None where nothing is."""

    criterion: DoorForce
    limit_n: float | None
    expected_n: float | None

    @property
    def field(self):
        """Field of `DoorMeasured` that holds it."""
        return FORCE_FIELDS[self.criterion.step]


def plan_said(table):
    """What the steps of an `InjectionTable` are for, in a sentence that record and sheet share."""
    points, lines, lost, alarms = (sum(row.part == part for row in table.rows) for part in PARTS)
    proved = f"{points} point{'s prove' if points > 1 else ' proves'} the settings"
    told = [f"{proved}; {lines} more steps show that each input reads in a straight line"]
    return listed([*told, *([f"{lost} what a lost wire does"] if lost else []), *([f"{alarms} that the alarms come"] if alarms else [])])
