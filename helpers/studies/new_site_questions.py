"""The questions of the guided page, in the order of the building, the doors, the weather, the fan and the loop; and what is not asked."""

from dataclasses import dataclass
from typing import get_args

from helpers.formulas.signals import SIGNALS
from helpers.model.site.field_types import OLDER_STANDARD_NAMES, STANDARD_NAMES, AirflowClass

__all__ = ["BOOLEAN", "NOT_ASKED", "OPEN", "QUESTIONS", "Question"]

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
    Question("building_code", "Building code (IBC) adopted beside NFPA 92", (OPEN, *BOOLEAN), OPEN, (("building_code_adopted",),),
             (("building_code_adopted",),)),
    Question("ceiling", "Highest ceiling of the rooms beside the stair", "length", OPEN, (("ceiling_height",),), (("ceiling_height",),)),
    Question("airflow_class", "Airflow class, where a European standard judges", (OPEN, *get_args(AirflowClass)), OPEN,
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
    Question("closing_share", "Street door, share the closer gives back", "ratio", OPEN, ((*STREET, "closing_share"),),
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
