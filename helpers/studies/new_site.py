"""A site file of one's own from some twenty answers: the commented file of a demo site with the answers written in, every key explained.

What was not asked stays as the demo site has it, and is listed, so that nobody takes an invented figure for a measured one.
"""

import json
import re
from dataclasses import dataclass

from helpers import units
from helpers.formulas.signals import SIGNALS
from helpers.model.file_text import named_path, shown_name
from helpers.model.site import demo_sites, read_site_text
from helpers.model.site.refusals import lines_of

__all__ = ["NOT_ASKED", "QUESTIONS", "Question", "new_site_text", "refusals", "write_new_site"]

TEMPLATE = "Larkfield House"
COMMENT_AT = 38  # column at which comments stand in the file
VALUE = re.compile(r"""(\s*[\w."-]+\s*=\s*)("(?:[^"\\]|\\.)*"|\[[^\]]*\]|[^#\s]+)(\s*)(#.*)?$""")
FAN_FLOWS = (0.0, 0.29, 0.43, 0.57, 0.71, 0.86, 1.0)  # of the largest flow
FAN_PRESSURES = (1.0, 0.967, 0.925, 0.85, 0.733, 0.575, 0.375)  # of the shut-off pressure: the demo fan's shape


@dataclass(frozen=True)
class Question:
    """One thing to answer. kind: a dimension of units.DIMENSIONS, "storey", "count", "text", or a tuple of options; usual: the answer that
    stands there at first; places: where it goes in the file, by table and key."""

    key: str
    asked: str
    kind: str | tuple
    usual: str
    places: tuple = ()


NOT_ASKED = (
    "tightness of walls and slabs",
    "shaft friction and relief damper",
    "the street door",
    "walls of the ground floor",
    "temperatures indoors, the mild weather, where the wind comes from",
    "the fan's efficiencies, duct loss and speeds",
    "gain, integral time and filters",
    "altitude and surroundings",
)  # which stay as the demo site has them
# What a loop really has of its own: with the demo site's figures it would be told as stated. Left out it is a box, and told as filled in.
LEFT_OPEN = {
    "transmitters": {"response", "damping", "tube_length", "tube_bore"},
    "fan": {"ramp_down", "inertia", "brake", "smoke_lowest_speed", "smoke_highest_speed", "curve_density"},
    "doors": {"closing_share", "latch_force"},
    "control": {"input_scan", "bus_delay", "integral_stops"},
    "stair": {"heat_surface", "film", "wall_effusivity"},
}
LEFT_OPEN_TABLES = {"standby", "design"}
DOOR = ("doors", "flat landing")
QUESTIONS = (
    Question("name", "Name of the building", "text", "My building", (("name",),)),
    Question("top", "Topmost storey (ground is 0)", "storey", "13"),
    Question("height", "Floor to floor", "length", "2.9 m", (("storeys", 0, "height"),)),
    Question("ground_height", "Ground floor, floor to floor", "length", "4.2 m", (("storeys", 1, "height"),)),
    Question("floor_area", "Floor area of a storey", "area", "310 m2", (("storeys", 0, "floor_area"),)),
    Question("facade", "Outer wall of a storey", "area", "206 m2", (("storeys", 0, "facade"),)),
    Question("stair_wall", "Walls of the stair, per storey", "area", "50 m2", (("storeys", 0, "stair_wall"),)),
    Question("door_width", "Stair door, width of leaf", "length", "0.91 m", ((*DOOR, "width"),)),
    Question("closer_force", "Stair door, closer and hinges", "force", "70 N", ((*DOOR, "closer_force"),)),
    Question("force_limit", "Most force at the handle", "force", "133 N", ((*DOOR, "force_limit"),)),
    Question("minimum_dp", "Least pressure against smoke", "pressure", "25 Pa", ((*DOOR, "minimum_dp"),)),
    Question("winter", "Winter, outdoors", "temperature", "-9 °C", (("weather", "winter", "outdoor"),)),
    Question("summer", "Summer, outdoors", "temperature", "31 °C", (("weather", "summer", "outdoor"),)),
    Question("wind", "Wind in winter", "speed", "4 m/s", (("weather", "winter", "wind_speed"),)),
    Question("shut_off", "Fan, pressure without flow", "pressure", "600 Pa"),
    Question("most_flow", "Fan, largest flow of its curve", "flow", "7 m3/s"),
    Question("motor_power", "Motor, on its plate", "power", "5.5 kW", (("fan", "motor_power"),)),
    Question("ramp", "Ramp, standstill to full speed", "time", "6 s", (("fan", "ramp"),)),
    Question("low_level", "Lower transmitter on storey", "storey", "1", (("transmitters", 0, "level"),)),
    Question("high_level", "Upper transmitter on storey", "storey", "12", (("transmitters", 1, "level"),)),
    Question("range_high", "Transmitters, top of range", "pressure", "125 Pa",
             (("transmitters", 0, "range_high"), ("transmitters", 1, "range_high"))),
    Question("signal", "Transmitters, signal", tuple(SIGNALS), "4-20 mA", (("transmitters", 0, "signal"), ("transmitters", 1, "signal"))),
    Question("rule", "Which reading runs the fan", ("average", "lowest", "highest"), "average", (("control", "rule"),)),
    Question("set_point", "Set point", "pressure", "40 Pa", (("control", "set_point"),)),
)  # fmt: skip


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
    changes = {place: given[question.key] for question in QUESTIONS for place in question.places}
    changes |= _worked_out(given)
    text = _opened(_rewritten(demo_sites()[TEMPLATE].read_text(encoding="utf-8"), changes))
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
    if isinstance(kind, tuple):
        if text not in kind:
            raise ValueError(f"{question.asked}: must be one of {', '.join(kind)}; got {text!r:.60}")
        return json.dumps(text)
    if kind == "storey":
        if not re.fullmatch(r"-?\d{1,3}", text):
            raise ValueError(f"{question.asked}: must be a whole number, such as {question.usual}; got {text!r:.60}")
        return text
    if kind == "text":
        if not text:
            raise ValueError(f"{question.asked}: must not be empty")
        return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
    units.parse(text, kind, question.asked)
    return json.dumps(text, ensure_ascii=False)


def _worked_out(given):
    """What follows from several answers: the storeys, the fan's curve, where the air enters, where the damper sits."""
    top = int(given["top"])
    if top < 1:
        raise ValueError(f"Topmost storey: must be 1 or more, got {top}")
    flow, pressure = (units.parse(json.loads(given[key]), kind) for key, kind in (("most_flow", "flow"), ("shut_off", "pressure")))
    if flow <= 0 or pressure <= 0:
        raise ValueError(f"Fan: pressure and flow must be above zero, got {given['shut_off']} and {given['most_flow']}")
    return {
        ("storeys", 0, "levels"): json.dumps(f"0..{top}"),
        ("fan", "flows"): json.dumps([units.write(round(flow * share, 4), "flow") for share in FAN_FLOWS]),
        ("fan", "pressures"): json.dumps([units.write(round(pressure * share, 2), "pressure") for share in FAN_PRESSURES]),
        ("supplies", 0, "level"): str(top),
        ("stair", "relief", "level"): str(top // 2),
        ("invented",): "false",
        ("note",): json.dumps(
            "Written by the guided page; figures that were not asked for are those of a demo site: check them. "
            "Keys behind a # are not known yet: state them."
        ),
    }


def _rewritten(text, changes):
    """The text with other values at some places; comments stay where they are."""
    lines, numbers = text.splitlines(), lines_of(text)
    for place, value in changes.items():
        at = numbers[place] - 1
        found = VALUE.match(lines[at])
        kept = f"{found[1]}{value}"
        lines[at] = f"{kept:<{COMMENT_AT}}{found[4]}" if found[4] else kept
        if found[4] and len(kept) >= COMMENT_AT:
            lines[at] = f"{kept}  {found[4]}"
    return "\n".join(lines) + "\n"


def _opened(text):
    """The text with the keys of LEFT_OPEN behind a #: there to be filled in, not stated."""
    lines = text.splitlines()
    for place, number in lines_of(text).items():
        table, key = place[0], place[-1]
        if table in LEFT_OPEN_TABLES or (len(place) > 1 and key in LEFT_OPEN.get(table, ())):
            lines[number - 1] = f"# {lines[number - 1]}"
    return "\n".join(lines) + "\n"
