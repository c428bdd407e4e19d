"""A seat of the fault bench: the loop as it was handed over, with its own weather, ranges, set point and errors; drawn from a seed.

The building is Larkfield House. Its pressure does not ask for two ranges and its fan serves the fire mode alone; on this bench the two
transmitters were bought years apart, and the fan may also be found in an everyday mode that only keeps the stair's air fresh.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from helpers.formulas import require
from helpers.model.conditions import Conditions
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower

__all__ = ["FITS_WRONGLY", "MODES", "RELIEFS_PA", "STUCK_OPEN_PA", "STUCK_SHUT_PA", "TAPS", "WALL_CP", "Seat", "seat_of", "site", "tower"]

MODES = ("fire mode", "everyday mode")
TAPS = ("PT-1", "PT-2")
SET_POINTS_PA = {  # lowest and highest drawn, by rule; the stack effect gives the upper storeys more than the lower
    MODES[0]: {"average": (36, 42), "lowest": (27, 30), "highest": (48, 56)},
    MODES[1]: {"average": (24, 29), "lowest": (15, 18), "highest": (34, 40)},
}
SPARE_SET_POINTS_PA = (0.0, 250.0, 500.0)  # in the set point that is not used: as it came
RELIEFS_PA, RELIEF_M2 = ((55.0, 75.0), (10.0, 20.0)), 0.3
STUCK_OPEN_PA, STUCK_SHUT_PA = (0.01, 0.02), (1000.0, 1001.0)
TOPS_PA = (100.0, 125.0, 150.0, 200.0)  # of the transmitters' ranges, all from 0
FITS_WRONGLY = {"4-20 mA": "0-20 mA", "2-10 V": "0-10 V"}  # the same card, without the live zero
WALL_CP = -0.65  # wall along the wind: ASHRAE Fundamentals 2021 ch. 16, low-rise


@dataclass(frozen=True)
class Seat:
    """What is drawn for one seat.

    mode: one of MODES; outdoor_c, wind_m_s; set_point_pa, and spare_pa in the place that is not used; uses: the place, "A" or "B";
    relief_pa: at which its relief damper opens, and is fully open (one kind keeps shut, the other spills all the time); rule;
    tops_pa of both ranges; signal of both; adds_error: "set point - reading"
    or its opposite; turns: of the fan wheel; rpm at full speed; place: 0 or 1, the transmitter a fault sits at; zeros_pa: error of each
    transmitter, within its accuracy; part [0..1): draws for the size of a fault; rough: how much more noise than usual; noise_seed.
    """

    mode: str
    outdoor_c: float
    wind_m_s: float
    set_point_pa: float
    spare_pa: float
    uses: str
    relief_pa: tuple
    rule: str
    tops_pa: tuple
    signal: str
    adds_error: str
    turns: str
    rpm: float
    place: int
    zeros_pa: tuple
    part: tuple
    rough: float
    noise_seed: int

    @property
    def fire(self):
        """Whether it is in the fire mode."""
        return self.mode == MODES[0]

    @property
    def conditions(self):
        """One row of `Conditions`, all doors shut."""
        return Conditions.of(site(), "winter", outdoor_c=self.outdoor_c, wind_speed_m_s=self.wind_m_s)

    def between(self, number, low, high, step=1.0):
        """The seat's own figure of this number, from low to high by step."""
        return low + step * int(self.part[number] * (round((high - low) / step) + 1))


def seat_of(seed, rough=1.0, mode=None):
    """The seat of a seed. rough: how much more noise than usual; mode: one of MODES, or drawn. Raises ValueError for no such number."""
    rough = require.single_at_least(0.0, rough=rough)
    draw = np.random.default_rng(seed)
    drawn = MODES[int(draw.integers(2))]
    mode = mode or drawn
    tops = draw.choice(TOPS_PA, 2, replace=False)
    rule = tuple(SET_POINTS_PA[mode])[int(draw.integers(3))]
    low, high = SET_POINTS_PA[mode][rule]
    return Seat(
        mode, float(draw.integers(-12, -5)), float(draw.integers(5, 8)), float(draw.integers(low, high + 1)),
        float(draw.choice(SPARE_SET_POINTS_PA)), "AB"[int(draw.integers(2))],
        RELIEFS_PA[int(draw.integers(2))], rule, tuple(map(float, tops)), tuple(FITS_WRONGLY)[int(draw.integers(2))],
        ("set point - reading", "reading - set point")[int(draw.integers(2))], ("clockwise", "anticlockwise")[int(draw.integers(2))],
        float(draw.integers(88, 120) * 10), int(draw.integers(2)), tuple((draw.uniform(-0.5, 0.5, 2) * tops / 100).tolist()),
        tuple(draw.random(4).tolist()), rough, int(draw.integers(2**31)),
    )  # fmt: skip


@cache
def site(relief_pa=None):
    """Larkfield House, its relief damper set as on this bench. relief_pa: pressures at which it opens, and is fully open."""
    found = read_site(demo_sites()["Larkfield House"])
    opens, full = relief_pa or RELIEFS_PA[0]
    relief = found.stair.relief.model_copy(update={"opens_pa": opens, "full_pa": full, "area_m2": RELIEF_M2})
    return found.model_copy(update={"stair": found.stair.model_copy(update={"relief": relief})})


@cache
def tower(relief_pa):
    """Its air network."""
    return Tower(site(relief_pa))
