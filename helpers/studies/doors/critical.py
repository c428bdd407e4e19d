"""Critical velocity: the speed of the air through an open stair door that holds smoke back, beside the speed that is there.

While a door stands open no pressure holds smoke back there, the flow does. Two published equations ask for two unlike figures of the fire,
and give unlike speeds: by the heat release rate (Thomas), and by the temperature of the gas (NFPA 92, opposed airflow). Which holds is for
the fire engineer: the site file may choose, and where it does not both are told and the faster counts.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.studies.doors.air_release import AirRelease
from helpers.studies.report import Finding, Table, listed
from helpers.studies.status import status_of
from helpers.units.said import with_unit

MEMORY = "from memory, not verified"
HEAT_SOURCE = f"Thomas 1970: v = (g E / (W rho c T))^(1/3); {MEMORY}"
GAS_SOURCE = f"NFPA 92, opposed airflow: v = 0.64 sqrt(g H (Tf - To) / Tf); {MEMORY}"
HEATS_W = (100e3, 500e3, 2.5e6)  # round figures to read between where no fire is stated; ours
GASES_C = (50.0, 200.0, 900.0)  # the same


@dataclass(frozen=True)
class FireFigure:
    """One figure of the fire: by ("heat" or "gas"), the figure in words, the speed [m/s] that holds its smoke back, whether the site file
    states it and lets it count, whether its equation may be used at that speed."""

    by: str
    fire: str
    speed_m_s: float
    counts: bool
    usable: bool


@dataclass(frozen=True)
class Critical:
    """All of a site. least_m_s: the lowest speed through the fire floor's open door that the record has, with the stated air release where
    there is one (None: no door stands open); door: width and height [m] and the air through it, in words."""

    rows: tuple[FireFigure, ...]
    least_m_s: float | None
    door: str
    chosen: str

    @property
    def asked_m_s(self):
        """The fastest of those that count [m/s], None where the site file states no fire."""
        counted = [row.speed_m_s for row in self.rows if row.counts]
        return max(counted, default=None)

    def state(self, row):
        """Key of the status of a row that counts: never better than looked at where its equation may not be used, or is from memory."""
        if not row.counts:
            return ""
        held = status_of(self.least_m_s, row.speed_m_s, kind="least")
        return held if held == "open" else "attention"

    def table(self):
        """Every figure of the fire, the speed that it asks for, and the speed that is there."""
        there = "no stair door stands open" if self.least_m_s is None else f"{_speed(self.least_m_s)} is there"
        rows = tuple((row.fire, _speed(row.speed_m_s), self._said(row)) for row in self.rows)
        columns = ("Fire", "Speed that holds smoke back", f"Through the open door: {there}")
        return Table("critical velocity", "Air that must hold smoke back at an open door", columns, rows, tuple(map(self.state, self.rows)),
                     self.note())  # fmt: skip

    def _said(self, row):
        told = "" if row.usable else f"; above {_speed(door_formulas.MOST_OPPOSED_M_S)} NFPA 92 does not use it ({MEMORY})"
        if self.least_m_s is None:
            return f"not known{told}"
        slower = status_of(self.least_m_s, row.speed_m_s, kind="least") == "wrong"
        return f"{'too slow: smoke can come against the air' if slower else 'fast enough by this equation'}{told}"

    def note(self):
        """What the table holds, in sentences."""
        stated = (
            "The site file states no fire: round figures to read between, none of them judged."
            if self.asked_m_s is None
            else f"Judged: {self.chosen}. The equations are from memory, so that nothing here is a PASS."
        )
        return (
            f"{stated} Door: {self.door}. By heat: {HEAT_SOURCE}. By gas: {GAS_SOURCE}. The two equations ask for unlike figures of the "
            "fire and disagree; which holds is for the fire engineer (smoke_held_by in the site file). Air that meets a fire also feeds "
            "it. A mean over the doorway: its slowest part lets smoke through first."
        )

    def findings(self):
        """Air that is slower than a stated fire asks for."""
        asked = self.asked_m_s
        if asked is None:
            return
        slow = [row for row in self.rows if row.counts and self.least_m_s is not None and self.least_m_s < row.speed_m_s]
        if slow:
            yield Finding("attention", "The air through an open stair door does not hold the stated fire's smoke back",
                          f"{_speed(self.least_m_s)} is there; {_speed(asked)} asked for by {listed(row.fire for row in slow)}",
                          "flow, not pressure, keeps smoke back at an open door", f"{HEAT_SOURCE}; {GAS_SOURCE}",
                          "air release and a larger fan, a lobby, or a smaller fire at the door: the fire engineer decides",
                          caused_by="air release")  # fmt: skip


def critical_speeds(site, release: AirRelease):
    """Speeds that hold smoke back at the open stair door of a `Site`, and the least that its record has there. Returns `Critical`.

    release: its `AirRelease`, whose least speed with the stated release counts, without one where none is stated. The widest and tallest
    open door of the cases counts for the gas, the narrowest for the heat: each asks for more there. Limits: those of the two equations.
    """
    levels = {row.level for row in release.rows}
    doors = [site.doors[name] for one in site.storeys if one.level in levels or not levels for name in one.stair_doors]
    if not doors:
        return Critical((), None, "none", "")
    width, height = min(door.width_m for door in doors), max(door.height_m for door in doors)
    air_c = float(site.temperatures.stair_c)
    stated = site.design if site.design is not None and (site.design.fire_heat_w or site.design.fire_gas_c is not None) else None
    heats = HEATS_W if stated is None else [stated.fire_heat_w] * (stated.fire_heat_w is not None)
    gases = GASES_C if stated is None else [stated.fire_gas_c] * (stated.fire_gas_c is not None)
    by = "both" if stated is None else stated.smoke_held_by or "both"
    rows = [FireFigure("heat", f"{with_unit(heat, 'power', 0)} at the door", float(door_formulas.critical_velocity(heat, width, air_c)),
                 stated is not None and by in ("heat", "both"), True) for heat in heats]  # fmt: skip
    for gas in gases:
        speed = float(door_formulas.opposed_flow_velocity(height, gas, air_c))
        counts = stated is not None and by in ("gas", "both")
        rows.append(FireFigure("gas", f"gas of {with_unit(gas, 'temperature')}", speed, counts, speed <= door_formulas.MOST_OPPOSED_M_S))
    given = release.given is not None and any(row.with_m_s is not None for row in release.rows)
    speeds = [row.with_m_s if given else row.without_m_s for row in release.rows if not given or row.with_m_s is not None]
    least = float(np.min(speeds)) if speeds else None
    taken = (
        f"air through it taken at {with_unit(air_c, 'temperature')}, the stair's in the site file: by gas a colder one is asked for more"
    )
    said = f"{with_unit(width, 'length', 2)} wide, {with_unit(height, 'length', 2)} high; {taken}"
    chosen = {"heat": "by the heat, as the site file chooses", "gas": "by the gas, as the site file chooses"}
    return Critical(tuple(rows), least, said, chosen.get(by, "by both, the faster counts"))


def _speed(value_m_s):
    return with_unit(value_m_s, "speed", (2, 0))
