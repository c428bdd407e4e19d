"""The panel of lesson 01: one door, one code, one weather, and as many storeys as you like."""

from functools import cache

import numpy as np

from helpers import units
from helpers.panels.controls import Choice, Count, Slider
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.verdict import Verdict
from helpers.panels.window_chart import WindowChart, WindowDrawing
from helpers.studies.stair_window import FORCE_RULES, LEAST_RULES, SimpleStair

__all__ = ["window_panel"]

# What the axes hold anyway, so that they stand still while a slider moves [Pa, N, m].
ROOM_PA, ROOM_N, ROOM_M = 100.0, 180.0, 45.0
MOST_STOREYS = 40


@cache
def window_panel():
    """The panel, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    stair = SimpleStair()
    controls = {
        "closer_n": Slider("Door closer", "force", 20.0, 120.0, 1.0, stair.closer_n),
        "width_m": Slider("Width of leaf", "length", 0.70, 1.30, 0.01, stair.width_m),
        "handle_m": Slider("Handle to edge", "length", 0.0, 0.20, 0.01, stair.handle_m),
        "force_limit_n": Choice("Force allowed", FORCE_RULES, stair.force_limit_n),
        "least_pa": Choice("Sprinklers, code", LEAST_RULES, stair.least_pa),
        "outdoor_c": Slider("Outdoors", "temperature", -30.0, 40.0, 1.0, stair.outdoor_c),
        "storeys": Count("Storeys", 2, MOST_STOREYS, stair.storeys),
    }
    return Panel(controls, Picture(WindowDrawing()), _answer)


def _answer(system, **chosen):
    stair = SimpleStair(**chosen)
    return Verdict(stair.state, stair.says(system)), chart(stair, system)


def chart(stair, system="Pa"):
    """The picture's data."""

    def shown(value, dimension="pressure"):
        return units.to_display(np.asarray(value, float), dimension, system)

    pressure, force, height = (
        f"{what} [{units.unit_label(dimension, system)}]"
        for what, dimension in (("Across the stair door", "pressure"), ("Force", "force"), ("Height above the lowest door", "length"))
    )
    room = tuple((float(shown(*end)),) for end in ((ROOM_PA, "pressure"), (ROOM_N, "force"), (ROOM_M, "length")))
    return WindowChart(
        "The window and the stair", pressure, force, height, shown(stair.heights_m, "length"), shown(stair.door_pa),
        shown(stair.force_n, "force"), float(shown(stair.least_pa)), float(shown(stair.most_pa)), float(shown(stair.closer_n, "force")),
        float(shown(stair.force_limit_n, "force")), room,
    )  # fmt: skip
