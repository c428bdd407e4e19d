"""The most pressure one door of the published table bears, by hand."""

from helpers import units
from helpers.formulas import doors
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["door_of_the_table"]

WIDTH, HEIGHT, HANDLE = "36 in", "84 in", "3 in"
LIMIT, CLOSER = "30 lbf", "8 lbf"
PUBLISHED, HALF_DIGIT = "0.37 in. w.c.", "0.005 in. w.c."


def door_of_the_table():
    """A leaf of 36 by 84 in. with a closer of 8 lbf, limit 30 lbf."""
    width, height, handle = (units.parse(text, "length") for text in (WIDTH, HEIGHT, HANDLE))
    limit, closer = (units.parse(text, "force") for text in (LIMIT, CLOSER))
    lever, area, spare = width - handle, width * height, limit - closer
    most = float(doors.pressure_tolerated(limit, width, height, closer, handle))
    given = (
        Line("Width of the leaf", WIDTH, width, "length", 3),
        Line("Height of the leaf", HEIGHT, height, "length", 3),
        Line("Handle to the latch edge", HANDLE, handle, "length", 3),
        Line("Most force at the handle", LIMIT, limit, "force", 1),
        Line("of it for the closer", CLOSER, closer, "force", 1),
    )
    working = (
        Line("Left for the air", "limit - closer", spare, "force", 1),
        Line("Area of the leaf", "width x height", area, "area", 3),
        Line("Lever of the hand", "width - handle", lever, "length", 3),
        Line("Lever of the air", "width / 2", width / 2, "length", 3),
        Line("Push of the air on the leaf", "left x lever of the hand / lever of the air", spare * lever / (width / 2), "force", 1),
        Line("Most pressure", "push / area", most, "pressure"),
    )
    source = "NFPA 92 table 4.4.2.2; ASHRAE HVAC Applications, fire and smoke chapter"
    within = units.parse(HALF_DIGIT, "pressure")
    return WorkedExample(
        "One door of the published table", given, working, units.parse(PUBLISHED, "pressure"), within, source, "memory",
        "The table is printed to 0.01 in. w.c.; half of that, 1.2 Pa, is as close as one can meet it.",
    )  # fmt: skip
