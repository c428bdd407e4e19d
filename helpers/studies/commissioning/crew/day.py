"""Filled sheets of a day become a day: the weather found, the `TestDay` file that the building is fitted to, the door survey, what is left.

In the file stand the rounds of steady speed with all doors shut: the fit was tried on those alone; and what each leaf asks for with the
fan off, for the years. All else is in the report.
"""

from dataclasses import dataclass, replace

from helpers.model.site.criteria import AIR
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import write_site
from helpers.model.test_day import READ_TWICE, DayRound, DayWeather, Gauges, LeafForce, TestDay, read_test_day_text
from helpers.studies.commissioning.crew.blanks import GAUGE_KEYS, GAUGE_LINES, GAUGE_WORDS, leaves_of, place_said
from helpers.studies.commissioning.crew.in_rounds import hardly_so
from helpers.studies.commissioning.crew.leaves import leaves_found
from helpers.studies.commissioning.crew.merged import FilledCell
from helpers.studies.commissioning.crew.procedure import Procedure, procedure
from helpers.studies.commissioning.crew.read_back import FilledSheets, read_filled
from helpers.studies.commissioning.crew.rounds import MANUAL, crew_rounds, field_of
from helpers.studies.commissioning.crew.times import to_come
from helpers.studies.commissioning.fields import OF_THE_DAY, TEMPERATURES, Day
from helpers.studies.measured.doubts.mistyped import in_pascals
from helpers.studies.measured.readings import FIELDS, FLOW, QUANTITIES, readings_of
from helpers.studies.report import listed
from helpers.units.said import with_unit, written_out

FEW_ROUNDS = 2  # steady speeds below which the file is told to carry little; ours
WHOLE = ("pressure_gauges", "upper_pair_from")  # of the gauges: chosen as words, whole numbers in the day's file
NAMED = 6  # doors that are named one by one
NOTE = "Read from filled sheets; rounds of steady speed, all doors shut."


@dataclass(frozen=True)
class DayFound:
    """What a crew brought back. procedure: for the weather found; filled: `FilledSheets`; test_day: `TestDay`, None where `no_day`
    says why; unused: what was filled in and is not used in it, unread: what nobody filled in, or what can hardly be, a sentence each;
    leaves: of `LeafFound`; hardly: whether a reading is in another unit, or can hardly be."""

    procedure: Procedure
    filled: FilledSheets
    test_day: TestDay | None
    no_day: str
    unused: tuple
    unread: tuple
    leaves: tuple
    hardly: bool = False

    @property
    def not_used(self):
        """A sentence about everything that was filled in and could not be used; conflicts beside it."""
        return (*self.filled.mistakes, *self.unused, *([f"no day's file: {self.no_day}"] if self.no_day else []))

    @property
    def left(self):
        """What is not used or not read."""
        return (*self.unused, *self.unread)

    @property
    def date(self):
        """The date that was filled in, "" for none."""
        return self.filled.value("day", "date", "found") or ""

    def day_file(self):
        """The text of the day's file. Raises ValueError where there is no day."""
        if self.test_day is None:
            raise ValueError(f"test day must be complete to be written; {self.no_day}")
        return write_site(self.test_day)


def read_day(site, paths, weather="winter", wires=(), out_of_mode="", first=None):
    """Read filled sheets of a site; arguments as `crew_rounds`, `procedure`, `read_filled`. Returns `DayFound`; raises as these.

    What is expected is worked out anew for the weather found; for what of its temperatures nobody could read stands what the sheets were
    made for, where all of them were made for one, else the site file's weather, as it says.
    """
    made = procedure(crew_rounds(site, weather, out_of_mode=out_of_mode), wires, first)
    filled = read_filled(made, paths)
    typed = {name: filled.value("day", name, "found") for name in OF_THE_DAY}
    lacking = [OF_THE_DAY[name][0] for name in TEMPERATURES if typed[name] is None]
    printed = {name: filled.printed.get(("day", name, "made for"), ()) for name in TEMPERATURES}
    assumed = {name: printed[name][0] for name in TEMPERATURES if typed[name] is None and len(printed[name]) == 1}
    if not lacking or len(assumed) == len(lacking):
        rounds = crew_rounds(site, weather, Day(**typed | assumed), out_of_mode)
        made = procedure(replace(rounds, assumed=tuple(assumed.items())), wires, first)
    test_day, no_day, unused = _test_day(made.rounds, filled, lacking)
    units, other_unit = _other_unit(made.rounds, filled, test_day) if test_day is not None else ((), ())
    leaves = leaves_found(made.rounds, filled)
    doubted = [*units, *hardly_so(made.rounds, filled, other_unit), *(f"{leaf.words}: {one}" for leaf in leaves for one in leaf.slips)]
    unread = [*doubted, *_few(test_day), *_unread(made.rounds, filled)]
    return DayFound(made, filled, test_day, no_day, tuple(unused), tuple(unread), leaves, bool(doubted))


def typed_day(made, typed):
    """What was typed on a page that has only part of the sheets, as a `DayFound`: the page's steps are judged by the report's own rule.

    made: the `Procedure` of the weather typed in; typed: {(table, line, column): value [SI] or word}. What its figures are made for is what
    was typed. There is no day's file.
    """
    readings = {key: FilledCell(value, "typed here", table, str(line)) for key, value in typed.items() for table, line, _ in [key]}
    printed = {("day", name, "made for"): (value,) for name, value in made.rounds.sheet.made_for}
    filled = FilledSheets(readings, (), (), printed)
    return DayFound(made, filled, None, "typed on a page", (), (), leaves_found(made.rounds, filled))


def _note(filled):
    """The note of the day's file, with the places that several people read."""
    places = [str(written_out(one)).partition(":")[0] for one in filled.together]
    return f"{NOTE} {READ_TWICE}{listed(places)}." if places else NOTE


def weather_of(day):
    """The weather of a `TestDay` as the `Day` of its sheets."""
    return Day(**{name: getattr(day.weather, name) for name in OF_THE_DAY})


def day_as_filled(rounds, day):
    """What a `TestDay` says, as it stands in filled sheets: the way back of its file, for a demonstration and for what was read elsewhere.

    rounds: `CrewRounds` of the same site, for the weather of the day; its steady speeds take the rounds of the day by their order of speed.
    Returns ({(table, line, column): value [SI] or word}, a sentence about everything that has no place in the sheets). Raises ValueError
    where the day is of another site, or no round of it was read with all doors shut.
    """
    site, left = rounds.site, []
    if day.site != site.name:
        raise ValueError(f"the day must be one of {site.name}; got one of {day.site}")
    shut = sorted((one for one in day.rounds if not one.open_doors and not one.open_exits), key=lambda one: one.speed_hz)
    if not shut:
        raise ValueError("the day must hold a round with all doors shut; got none")
    found = {("day", "date", "found"): day.date}
    found |= {("day", name, "found"): getattr(day.weather, name) for name in OF_THE_DAY}
    found |= {("day", name, "found"): getattr(day.gauges, name) for name in GAUGE_LINES}
    words = {name: getattr(day.gauges, name) for name in GAUGE_WORDS}
    found |= {("day", name, "found"): None if value is None else str(value) for name, value in words.items()}
    steady = [one for one in rounds.rounds if one.mode == MANUAL]
    left += [
        f"round at {with_unit(one.speed_hz, 'frequency', 1)}: the sheets have {len(steady)} steady speeds" for one in shut[len(steady) :]
    ]
    left += [f"round at {with_unit(one.speed_hz, 'frequency', 1)} with doors open" for one in day.rounds if one not in shut]
    for one, read in zip(steady, shut, strict=False):
        found |= {("fan", "speed", one.label): read.speed_hz, ("fan", "flow", one.label): read.flow_m3_s}
        places = {(quantity, int(level)): value for quantity, field in FIELDS.items() for level, value in getattr(read, field).items()}
        found |= {("pressures", place, one.label): value for place, value in places.items() if place in rounds.read}
        left += [f"{one.label}: {quantity} {level}" for quantity, level in places if (quantity, level) not in rounds.read]
    known = {(row.use, row.level, key[1]): (key, force.criterion.step)
             for key, row, _ in leaves_of(rounds) for force in row.forces if force.criterion.step in AIR}  # fmt: skip
    for leaf in day.leaves:
        if leaf.key in known:
            key, step = known[leaf.key]
            found["doors", key, f"off {step}"] = leaf.fan_off_n
        else:
            left.append(f"force at {leaf.door} {leaf.level}, leaf {leaf.leaf}")
    left += [f"device {one.name}: its error goes into no sheet of the day" for one in day.devices]
    return {key: value for key, value in found.items() if value is not None}, tuple(left)


def _test_day(rounds, filled, lacking):
    """(`TestDay` or None, why there is none, what of it is left out)."""
    found, left = [], []
    for one in rounds.rounds:
        if one.mode == MANUAL:
            made, said = _day_round(rounds, filled, one)
            found += [made] if made else []
            left += [said] if said else []
    missing = [*lacking, *(words for name, words in (("date", "date"), ("pressure_pa", GAUGE_LINES["pressure_pa"][0]))
                           if filled.value("day", name, "found") is None)]  # fmt: skip
    if missing:
        return None, f"still to fill in on the sheet Rounds: {', '.join(missing)}", left
    if coming := to_come(filled):
        return None, coming, left
    if not found:
        return None, "no round of steady speed has a speed and a reading", left
    site, date = rounds.site, filled.value("day", "date", "found")
    try:
        given = {name: filled.value("day", name, "found") for name in (*OF_THE_DAY, *GAUGE_KEYS)}
        given |= {name: int(given[name]) for name in WHOLE if given[name] is not None}
        weather = DayWeather(**{name: given[name] for name in OF_THE_DAY if given[name] is not None})
        gauges = Gauges(**{name: given[name] for name in GAUGE_KEYS if given[name] is not None})
        day = TestDay(name=f"{site.name}, {date}", note=_note(filled), kind="test day", invented=site.invented, site=site.name, date=date,
                      weather=weather, gauges=gauges, rounds=found, leaves=[*_leaves(rounds, filled)])  # fmt: skip
        readings_of(site, read_test_day_text(write_site(day), "the day's file"))
    except (SiteFileError, ValueError) as refusal:
        return None, str(refusal).splitlines()[0], left
    return day, "", left


def _other_unit(rounds, filled, day):
    """(a sentence about every unit in which whole columns are typed, (label of a round, place) of each reading in them)."""
    readings = readings_of(rounds.site, day)
    kept, told = in_pascals(readings)
    labels = [one.label for one in rounds.rounds if one.mode == MANUAL and _day_round(rounds, filled, one)[0]]

    def places(of):
        return {(labels[where], (QUANTITIES[what], rounds.site.storeys[storey].level))
                for what, where, storey in zip(of.quantity.tolist(), of.round.tolist(), of.storey.tolist(), strict=True)
                if what != FLOW}  # fmt: skip

    return told, places(readings) - places(kept)


def _few(day):
    """That a day carries little, in a sentence."""
    if day is not None and len(day.rounds) < FEW_ROUNDS:
        yield f"{len(day.rounds)} round of steady speed: with fewer than {FEW_ROUNDS} little can be told apart"


def _leaves(rounds, filled):
    """A `LeafForce` of every leaf whose force to set it in motion was read with the fan off."""
    for key, row, _ in leaves_of(rounds):
        step = next((force.criterion.step for force in row.forces if force.criterion.step in AIR), None)
        force = filled.value("doors", key, f"off {step}")
        if force is not None:
            yield LeafForce(door=row.use, level=row.level, leaf=key[1], fan_off_n=force)


def _day_round(rounds, filled, one):
    """(`DayRound` or None, what is said of it)."""
    fields, count = {}, 0
    for quantity, level in rounds.read:
        value = filled.value("pressures", (quantity, level), one.label)
        if value is not None:
            fields.setdefault(field_of(quantity), {})[str(level)] = value
            count += 1
    speed, flow = filled.value("fan", "speed", one.label), filled.value("fan", "flow", one.label)
    if not count and flow is None:
        return None, "" if speed is None else f"{one.label}: a speed and no reading; it is not in the day's file"
    if speed is None:
        return None, f"{one.label}: {count} pressures and no speed of the fan; it is not in the day's file"
    return DayRound(speed_hz=speed, flow_m3_s=flow, **fields), ""


def _unread(rounds, filled):
    """Of every round that was begun: which doors nobody read."""
    for one in rounds.rounds:
        asked = [place for place in rounds.read if not one.stands_open(*place)]
        left = [place for place in asked if filled.value("pressures", place, one.label) is None]
        if left and len(left) < len(asked):
            names = [place_said(rounds, *place) for place in left]
            more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
            shown = listed(names) if not more else f"{', '.join(names[:NAMED])}{more}"
            yield f"{one.label}: not read at {shown}"
        elif left:
            yield f"{one.label}: nothing read"
