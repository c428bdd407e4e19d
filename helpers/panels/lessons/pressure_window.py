"""Lesson 01, the pressure window: the parts of its page."""

from helpers import units
from helpers.lessons.derivations import pressure_window as derivations
from helpers.lessons.exercises.pressure_window import MAKERS
from helpers.lessons.predictions import pressure_window as predictions
from helpers.lessons.worked.pressure_window import door_of_the_table
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.pressure_window_panel import window_panel
from helpers.panels.markup import html_table
from helpers.panels.reading import Reading, WorkedCard
from helpers.panels.stair_cooling import cooling_of
from helpers.studies.stair_window import SPARE_PA, SimpleStair, smoke_pushes

__all__ = ["compare", "derivation", "exercises", "inverse", "least_pressures", "panel", "predict", "senior_card", "stack", "worked_example"]

KEY = "pressure_window"
HEAVIER_N, SUMMER_C = 10.0, 35.0  # for the card


def least_pressures():
    """Where the lower end of the window comes from."""
    return Reading(_least)


def panel():
    """The live panel."""
    return window_panel()


def derivation():
    """The force at the handle."""
    return derivations.door_force()


def inverse():
    """The most pressure a door bears."""
    return derivations.door_pressure()


def stack():
    """The stack effect."""
    return derivations.stack()


def worked_example():
    """A door of the published table."""
    return WorkedCard(door_of_the_table())


def _least(system):
    head = ("Ceiling", "The smoke pushes with", "With the margin", "The table says")
    rows = [
        (
            units.show(push.ceiling_m, "length", system, 1),
            *(units.show(value, "pressure", system, 1 if system == "Pa" else 3) for value in (push.push_pa, push.least_pa)),
            units.show(push.table_pa, "pressure", system),
        )
        for push in smoke_pushes()
    ]
    return html_table(head, rows), "\n".join(", ".join(f"{name} {value}" for name, value in zip(head, row, strict=True)) for row in rows)


def _lines(system):
    stair = SimpleStair()
    least, most, less = (
        units.show(value, "pressure", system)
        for value in (stair.least_pa, stair.most_pa, stair.most_pa - stair.but(closer_n=stair.closer_n + HEAVIER_N).most_pa)
    )
    closer, limit, heavier = (units.show(value, "force", system) for value in (stair.closer_n, stair.force_limit_n, HEAVIER_N))
    width, out = units.show(stair.width_m, "length", system), units.show(stair.outdoor_c, "temperature", system)
    hot, summer = units.show(SUMMER_C, "temperature", system), stair.but(outdoor_c=SUMMER_C).most_storeys
    spare = units.show(SPARE_PA, "pressure", system)
    return (
        f"Leaf {width} wide, closer {closer}, limit {limit}, no sprinklers, ceiling 9 ft: {least} to {most} is the window.",
        f"The upper end is bought with the closer: {heavier} more take {less} off it. A wider leaf costs more than its longer lever gives.",
        f"Stack effect at {out}, all of it on the doors: one supply reaches over {stair.most_storeys} storeys, at {hot} over {summer}.",
        f"Keep {spare} or more for wind and errors. Shut windows and cool stair air ease this stair's winter; where lifts tie the floors "
        f"to each other cooling turns it over instead. {cooling_of().ends(system)}.",
        "Even pressure on the leaf; seals, latch and inertia come on top. Closers differ: every door is measured, fan off and fan on.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
