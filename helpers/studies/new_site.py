"""A site file of one's own from some forty answers: the commented file of a demo site with the answers written in, every key explained.

What was not asked stays as the demo site has it, and is listed, so that nobody takes an invented figure for a measured one. What nobody
knows yet stays behind a #: the model then takes it within limits, and tells.
"""

import json
import re
from dataclasses import dataclass
from typing import get_args

from helpers import units
from helpers.formulas.signals import SIGNALS
from helpers.model.files import named_path, shown_name
from helpers.model.site.errors import lines_of
from helpers.model.site.field_types import OLDER_STANDARD_NAMES, STANDARD_NAMES, AirflowClass
from helpers.model.site.file import demo_sites, read_site_text

BOOLEAN, OPEN = ("yes", "no"), "not known"


@dataclass(frozen=True)
class Question:
    """One thing to answer. kind: a dimension of units.DIMENSIONS, "storey", "storeys" (a list of them), "count", "text", BOOLEAN or a tuple
    of options; usual: the answer that stands there at first, OPEN where it may stay unanswered; places: where it goes in the file, by
    table and key; known: places that are stated once it is answered, and behind a # until then."""

    key: str
    asked: str
    kind: str | tuple
    usual: str
    places: tuple = ()
    known: tuple = ()


NOT_ASKED = (
    "tightness of walls and slabs",
    "shaft friction and relief damper",
    "the street door's size and closer, doors that differ from storey to storey",
    "walls of the ground floor, its vents",
    "what the lift shaft and its doors leak, where there are lifts",
    "which share of the air each inlet gives: taken as equal",
    "temperatures indoors, the mild weather, where the wind comes from",
    "the fan's efficiencies, duct loss and speeds, the wheel's inertia and the brake",
    "gain, integral time and filters, input scan, bus and tubes",
    "times of the standby source, margins for leaks that nobody knows",
    "altitude and surroundings",
)  # which stay as the demo site has them, or open
DOOR, STREET = ("doors", "flat landing"), ("doors", "street")
BOTH = (0, 1)  # transmitters
STANDARDS = tuple(name for name in STANDARD_NAMES if name not in OLDER_STANDARD_NAMES)
STANDBY = ("none", "generator", "second supply", "battery")
DESIGN = (("design",), ("design", "source"))


def _both(key):
    return tuple(("transmitters", number, key) for number in BOTH)


QUESTIONS = (
    Question("name", "Name of the building", "text", "My building", (("name",),)),
    Question("standard", "Standard and edition", STANDARDS, "nfpa92", (("standard",),)),
    Question("sprinklers", "Sprinklers in the building", (OPEN, *BOOLEAN), OPEN, (("sprinklers",),), (("sprinklers",),)),
    Question("building_code", "Building code (IBC) beside NFPA 92", (OPEN, *BOOLEAN), OPEN, (("building_code_adopted",),),
             (("building_code_adopted",),)),
    Question("ceiling", "Highest ceiling beside the stair", "length", OPEN, (("ceiling_height",),), (("ceiling_height",),)),
    Question("airflow_class", "Airflow class, European standards", (OPEN, *get_args(AirflowClass)), OPEN,
             (("airflow_class",),), (("airflow_class",),)),
    Question("smoke", "Fan serves smoke control", BOOLEAN, "yes", (("control", "fire_mode"),)),
    Question("top", "Topmost storey (ground is 0)", "storey", "13"),
    Question("lowest", "Lowest storey (basements below 0)", "storey", "0"),
    Question("height", "Floor to floor", "length", "2.9 m", (("storeys", 0, "height"),)),
    Question("ground_height", "Ground floor, floor to floor", "length", "4.2 m", (("storeys", 1, "height"),)),
    Question("floor_area", "Floor area of a storey", "area", "310 m2", (("storeys", 0, "floor_area"),)),
    Question("facade", "Outer wall of a storey", "area", "206 m2", (("storeys", 0, "facade"),)),
    Question("stair_wall", "Walls of the stair, per storey", "area", "50 m2", (("storeys", 0, "stair_wall"),)),
    Question("vents", "Vents of a storey to outdoors", "area", "0.02 m2", (("storeys", 0, "extra_leak"),)),
    Question("lobby", "Lobby between stair and floor", BOOLEAN, "no", (("storeys", 0, "lobby"),)),
    Question("lift_doors", "Lift doors on a storey", "count", "0", (("storeys", 0, "lift_doors"),)),
    Question("door_width", "Stair door, width of leaf", "length", "0.91 m", ((*DOOR, "width"),)),
    Question("door_height", "Stair door, height of leaf", "length", "2.10 m", ((*DOOR, "height"),)),
    Question("door_gaps", "Stair door, gaps round the leaf", "area", "0.024 m2", ((*DOOR, "leak_area"),)),
    Question("closer_force", "Stair door, closer and hinges", "force", "70 N", ((*DOOR, "closer_force"),)),
    Question("force_limit", "Most force at the handle", "force", "133 N", ((*DOOR, "force_limit"),)),
    Question("minimum_dp", "Least pressure against smoke", "pressure", "25 Pa", ((*DOOR, "minimum_dp"),)),
    Question("closing_share", "Street door, share given back", "ratio", OPEN, ((*STREET, "closing_share"),),
             ((*STREET, "closing_share"),)),
    Question("open_doors", "Stair doors the design takes as open", "storeys", OPEN, (("design", "open_doors"),),
             (*DESIGN, ("design", "open_doors"))),
    Question("open_exits", "Final exits the design takes as open", "storeys", OPEN, (("design", "open_exits"),),
             (*DESIGN, ("design", "open_exits"))),
    Question("winter", "Winter, outdoors", "temperature", "-9 °C", (("weather", "winter", "outdoor"),)),
    Question("summer", "Summer, outdoors", "temperature", "31 °C", (("weather", "summer", "outdoor"),)),
    Question("wind", "Wind in winter", "speed", "4 m/s", (("weather", "winter", "wind_speed"),)),
    Question("shut_off", "Fan, pressure without flow", "pressure", "600 Pa"),
    Question("most_flow", "Fan, largest flow of its curve", "flow", "7 m3/s"),
    Question("motor_power", "Motor, on its plate", "power", "5.5 kW", (("fan", "motor_power"),)),
    Question("ramp", "Ramp, standstill to full speed", "time", "6 s", (("fan", "ramp"),)),
    Question("air_enters", "Air enters the stair on storeys", "storeys", "top"),
    Question("standby", "Standby power of the fan", (OPEN, *STANDBY), OPEN, (("standby", "source"),),
             (("standby",), ("standby", "source"))),
    Question("low_level", "Lower transmitter on storey", "storey", "1", (("transmitters", 0, "level"),)),
    Question("high_level", "Upper transmitter on storey", "storey", "12", (("transmitters", 1, "level"),)),
    Question("low_side", "Low side of the transmitters", ("floor", "lobby", "outdoors"), "floor", _both("reference")),
    Question("range_high", "Transmitters, top of range", "pressure", "125 Pa", _both("range_high")),
    Question("signal", "Transmitters, signal", tuple(SIGNALS), "4-20 mA", _both("signal")),
    Question("accuracy", "Transmitters, accuracy of span", "percent", "1 %", _both("accuracy_of_span")),
    Question("response", "Transmitters, time constant", "time", OPEN, _both("response"), _both("response")),
    Question("damping", "Transmitters, damping at the dial", "time", OPEN, (), _both("damping")),
    Question("rule", "Which reading runs the fan", ("average", "lowest", "highest"), "average", (("control", "rule"),)),
    Question("set_point", "Set point", "pressure", "40 Pa", (("control", "set_point"),)),
)  # fmt: skip

TEMPLATE = "Larkfield House"
COMMENT_AT = 38  # column at which comments stand in the file
VALUE = re.compile(r"""(\s*[\w."-]+\s*=\s*)("(?:[^"\\]|\\.)*"|\[[^\]]*\]|[^#\s]+)(\s*)(#.*)?$""")
FAN_FLOWS = (0.0, 0.29, 0.43, 0.57, 0.71, 0.86, 1.0)  # of the largest flow
FAN_PRESSURES = (1.0, 0.967, 0.925, 0.85, 0.733, 0.575, 0.375)  # of the shut-off pressure: the demo fan's shape


# What a loop really has of its own: with the demo site's figures it would be told as stated. Left out it is a box, and told as filled in.
LEFT_OPEN = {
    "transmitters": {"response", "damping", "tube_length", "tube_bore"},
    "fan": {
        "ramp_down",
        "inertia",
        "brake",
        "brake_power",
        "brake_short_power",
        "brake_short_time",
        "smoke_lowest_speed",
        "smoke_highest_speed",
        "curve_density",
    },
    "doors": {"closing_share", "latch_force"},
    "control": {"input_scan", "bus_delay", "integral_stops"},
    "stair": {"heat_surface", "film", "wall_effusivity"},
}
LEFT_OPEN_TABLES = {"standby", "design", "sprinklers", "building_code_adopted", "ceiling_height"}  # and single keys above all tables
LIFT_DOOR = (
    "",
    '[doors."lift landing"]                # slides by itself: no force at a handle; its gaps were not asked for',
    'width = "1.07 m"',
    'height = "2.13 m"',
    'leak_area = "0.06 m2"',
)


def new_site_text(answers):
    """The text of a site file with some answers.

    answers: by the keys of QUESTIONS, as typed ("12 ft", "30 lbf"); those left out are the usual ones. Returns the text. Raises ValueError
    naming each question whose answer cannot be, SiteFileError with all mistakes and lines for answers that do not go together.
    """
    unknown = set(answers) - {question.key for question in QUESTIONS}
    if unknown:
        raise ValueError(f"answers must be to {', '.join(question.key for question in QUESTIONS)}; got {', '.join(sorted(unknown))}")
    refused = refusals(answers)
    if refused:
        raise ValueError("; ".join(refused.values()))
    given = {question.key: _answer(question, answers.get(question.key, question.usual)) for question in QUESTIONS}
    changes = {place: given[question.key] for question in QUESTIONS for place in question.places if given[question.key] is not None}
    changes |= _worked_out(given)
    stated = {place for question in QUESTIONS for place in question.known if given[question.key] is not None}
    text = _rewritten(demo_sites()[TEMPLATE].read_text(encoding="utf-8"), changes)
    text = _opened(_inserted(text, _insertions(given)), stated)
    read_site_text(text, "new site")  # refuses what does not go together, with the line
    return text


def refusals(answers):
    """What is wrong with answers that cannot be read by themselves, whatever the others say. Returns {key of the question: sentence}."""
    found = {}
    for question in QUESTIONS:
        try:
            _answer(question, answers.get(question.key, question.usual))
        except ValueError as refusal:
            found[question.key] = str(refusal)
    return found


def write_new_site(answers, path):
    """Write the file of new_site_text; never over a file that is there. Returns the path.

    Raises as new_site_text, and ValueError for a path that cannot be written.
    """
    text = new_site_text(answers)
    target = named_path(path)
    if target.suffix != ".toml":
        raise ValueError(f"path must end in .toml, got {target.name!r:.60}")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise ValueError(f"path must be that of a new file; {target.name} is there already and is left as it is") from None
    except OSError as trouble:
        raise ValueError(f"path must be that of a file that can be written; {shown_name(target)}: {trouble.strerror}") from None
    except ValueError:  # a null, or half a sign of two
        raise ValueError(f"path must be that of a file; no file can have the name {shown_name(target)}") from None
    return target


def _answer(question, text):
    """An answer as it will stand in the file."""
    text, kind = str(text).strip(), question.kind
    if text == OPEN and question.usual == OPEN:
        return None
    if isinstance(kind, tuple):
        if text not in kind:
            raise ValueError(f"{question.asked}: must be one of {', '.join(kind)}; got {text!r:.60}")
        return json.dumps(text == "yes" if set(BOOLEAN) <= set(kind) else text)
    if kind == "storeys":
        return _levels(question, text)
    if kind == "count":
        if not re.fullmatch(r"\d{1,2}", text):
            raise ValueError(f"{question.asked}: must be a whole number, such as {question.usual}; got {text!r:.60}")
        return str(int(text))
    if kind == "storey":
        if not re.fullmatch(r"-?\d{1,3}", text):
            raise ValueError(f"{question.asked}: must be a whole number, such as {question.usual}; got {text!r:.60}")
        return text
    if kind == "text":
        if not text:
            raise ValueError(f"{question.asked}: must not be empty")
        return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
    value = units.parse(text, kind, question.asked)
    return repr(value) if kind == "ratio" else json.dumps(text, ensure_ascii=False)


def _levels(question, text):
    """Storeys as a list in the file; "top" stays as it is, "none" is an empty list."""
    if text == question.usual:
        return text
    if text == "none" and question.usual == OPEN:
        return "[]"
    numbers = re.split(r"\s*,\s*|\s+", text)
    if not all(re.fullmatch(r"-?\d{1,3}", number) for number in numbers) or len(set(numbers)) < len(numbers):
        like = "6, 7 or none" if question.usual == OPEN else f"13, or 0, 6, 13, or {question.usual}"
        raise ValueError(f"{question.asked}: must be storeys, each once, such as {like}; got {text!r:.60}")
    return f"[{', '.join(str(int(number)) for number in numbers)}]"


def _worked_out(given):
    """What follows from several answers: the storeys, the fan's curve, where the air enters, where the damper sits."""
    top, lowest = int(given["top"]), int(given["lowest"])
    if top < 1:
        raise ValueError(f"Topmost storey: must be 1 or more, got {top}")
    if lowest > 0:
        raise ValueError(f"Lowest storey: must be 0 or below, got {lowest}")
    flow, pressure = (units.parse(json.loads(given[key]), kind) for key, kind in (("most_flow", "flow"), ("shut_off", "pressure")))
    if flow <= 0 or pressure <= 0:
        raise ValueError(f"Fan: pressure and flow must be above zero, got {given['shut_off']} and {given['most_flow']}")
    return {
        ("storeys", 0, "levels"): json.dumps(f"{lowest}..{top}"),
        ("fan", "flows"): json.dumps([units.write(round(flow * share, 4), "flow") for share in FAN_FLOWS]),
        ("fan", "pressures"): json.dumps([units.write(round(pressure * share, 2), "pressure") for share in FAN_PRESSURES]),
        ("supplies", 0, "level"): str(_inlets(given)[0]),
        ("supplies", 0, "share"): repr(1 / len(_inlets(given))),
        ("design", "source"): json.dumps("answered on the guided page"),
        ("stair", "relief", "level"): str(top // 2),
        ("invented",): "false",
        ("note",): json.dumps(
            "Written by the guided page; figures that were not asked for are those of a demo site: check them. "
            "Keys behind a # are not known yet: state them."
        ),
    }


def _inlets(given):
    """Storeys at which the air enters the stair."""
    return [int(given["top"])] if given["air_enters"] == "top" else json.loads(given["air_enters"])


def _insertions(given):
    """Lines that the demo file does not have: {place of the line after which they stand: lines}."""
    found, inlets, lowest, lifts = {}, _inlets(given), int(given["lowest"]), int(given["lift_doors"])
    if len(inlets) > 1:
        more = [("", "[[supplies]]", f"level = {level}", f"share = {1 / len(inlets)!r}") for level in inlets[1:]]
        found["supplies", 0, "share"] = [line for block in more for line in block]
    if lowest < 0:
        levels = json.dumps(f"{lowest}..-1")
        earth = "# behind earth"
        found["storeys", 1, "extra_leak"] = [
            "", "[[storeys]]", f"levels = {levels}", f'facade = "0 m2"                       {earth}', 'stair_outside_wall = "0 m2"',
        ]  # fmt: skip
    if given["lobby"] == "true":
        found["storeys", 0, "lobby"] = ['lobby_door = "flat landing"           # taken to be a door like that of the stair']
    if lifts:
        note = "# not asked for: common practice for so many lifts, no source"
        found["storeys", 0, "lift_doors"] = ['lift_door = "lift landing"', f'lift_shaft_wall = "{27 * lifts} m2"  {note}']
        found["doors", "street", "closing_share"] = LIFT_DOOR
        sizes = (f'plan_area = "{8 * lifts} m2"  {note}', f'friction_area = "{6 * lifts} m2"', f'vent_area = "{0.1 * lifts:.1f} m2"')
        found["stair", "relief", "leak_area"] = ["", "[lift]", *sizes]
    if given["damping"] is not None:
        for number in (0, 1):
            found["transmitters", number, "filter"] = [f"damping = {given['damping']}"]
    return found


def _inserted(text, insertions):
    lines, numbers = text.splitlines(), lines_of(text)
    for place in sorted(insertions, key=lambda place: -numbers[place]):
        lines[numbers[place] : numbers[place]] = insertions[place]
    return "\n".join(lines) + "\n"


def _rewritten(text, changes):
    """The text with other values at some places; comments stay where they are."""
    lines, numbers = text.splitlines(), lines_of(text)
    for place, value in changes.items():
        if place not in numbers:  # a key above all tables that the demo site has behind a #
            numbers[place] = next(number for number, line in enumerate(lines, 1) if line.startswith(f"# {place[-1]} = "))
            lines[numbers[place] - 1] = lines[numbers[place] - 1].removeprefix("# ")
        at = numbers[place] - 1
        found = VALUE.match(lines[at])
        kept = f"{found[1]}{value}"
        lines[at] = f"{kept:<{COMMENT_AT}}{found[4]}" if found[4] else kept
        if found[4] and len(kept) >= COMMENT_AT:
            lines[at] = f"{kept}  {found[4]}"
    return "\n".join(lines) + "\n"


def _opened(text, stated):
    """The text with the keys of LEFT_OPEN behind a #, but for those stated: there to be filled in."""
    lines = text.splitlines()
    for place, number in lines_of(text).items():
        table, key = place[0], place[-1]
        if place in stated:
            continue
        if table in LEFT_OPEN_TABLES or (len(place) > 1 and key in LEFT_OPEN.get(table, ())):
            lines[number - 1] = f"# {lines[number - 1]}"
    return "\n".join(lines) + "\n"
