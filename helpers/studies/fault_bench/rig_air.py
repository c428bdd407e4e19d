"""The air of the bench as the faulty loop feels it: looked up as `AirTable` does, then through wind, tubes and transmitters' own errors.

The wheel's speed, not the drive's, makes the pressure. A tube that ends outdoors in the wind sees the wall's suction with gusts.
Limits: a wheel that turns backward or slips is a fan at a lower speed; the air inside a tube has no weight; tubes are a share, a lag or a
trapped pressure; wind comes and goes as a first-order noise; hum on a wire is white noise.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from helpers.formulas.air import wind_pressure
from helpers.model.conditions import Conditions
from helpers.model.loop.air_table import AirTable
from helpers.model.loop.events import DoorEvent, schedule
from helpers.studies.fault_bench.seat import WALL_CP, site, tower

__all__ = ["LENGTH_S", "OPENS_S", "SAMPLE_S", "SHUTS_S", "Places", "RigAir", "air_table"]

LENGTH_S, SAMPLE_S = 200.0, 0.25
OPENS_S, SHUTS_S = 30.0, 90.0
SPEEDS = 16  # solved
GUST_SHARE, GUST_S = 0.25, 2.0  # of the wind's speed as a standard deviation, and how long a gust lasts; ours
DUCT_SHARE = 0.8  # of the duct's loss that lies behind the fan; ours
TABLES_KEPT = 24


@lru_cache(TABLES_KEPT)
def air_table(outdoor_c, wind_m_s, relief):
    """The air while the street door opens and shuts: stair over floor and over outdoors at both taps, stair over outdoors at
    the damper, the fan's duct over outdoors; doors. relief: (opens at, fully open at) [Pa] of its damper."""
    building = tower(relief)
    conditions = Conditions.of(site(), "winter", outdoor_c=outdoor_c, wind_speed_m_s=wind_m_s)
    events = (DoorEvent(0, OPENS_S, shuts_s=SHUTS_S, door="exit"),)
    low, high = site().transmitters
    taps = [low, high, *(t.model_copy(update={"reference": "outdoors"}) for t in (low, high))]
    taps.append(low.model_copy(update={"reference": "outdoors", "level": site().stair.relief.level}))

    def quantities(found, rows):
        readings = np.column_stack([building.readings(found, taps), _duct_pa(building, found)])
        return readings, found.door_dp_pa, found.fan_flow_m3_s, 0.0 * found.fan_flow_m3_s

    scheduled = schedule(building, conditions, events, LENGTH_S)
    return AirTable.solved(building.solve, quantities, scheduled, site().fan.highest_speed_hz, SPEEDS)


def _duct_pa(building, found):
    """Static pressure in the duct behind the fan, over outdoors: above the stair by what the run to the stair and the grille still cost."""
    fan, stair = building.site.fan, found.stair_pa[:, building.storey(building.site.supplies[0].level)]
    return stair + DUCT_SHARE * fan.duct_loss_pa * (found.fan_flow_m3_s / fan.duct_loss_flow_m3_s) ** 2


@dataclass(frozen=True)
class Places:
    """Pressures at rest: taps_pa stair over floor at both taps, ports_pa at the transmitters' ports, sensed_pa with their errors (each a
    pair), damper_pa stair over outdoors at the damper."""

    taps_pa: tuple
    ports_pa: tuple
    sensed_pa: tuple
    damper_pa: float


class RigAir:
    """The air of a rig: what `run_on_air` asks for. kept: (rows of the table, ports, sensed) of every sample."""

    def __init__(self, rig):
        seat = rig.seat
        self.rig, self.table, self.kept = rig, air_table(seat.outdoor_c, seat.wind_m_s, rig.relief), []
        self.speeds_hz, shut = self.table.at_start()
        self.shut = shut[..., 0].T
        draw = np.random.default_rng(seat.noise_seed)
        samples = round(LENGTH_S / SAMPLE_S) + 2
        self._noise = draw.standard_normal((samples, 2)).tolist()
        self._gusts = _gusts(draw.standard_normal(samples), seat.wind_m_s).tolist()
        self._ports = [_port(tube) for tube in rig.tubes]
        self._lags = [_Lag(tube.lag_s) if tube.lag_s else None for tube in rig.tubes]
        self._sensors = [_sensor(transmitter) for transmitter in rig.transmitters]

    def course(self, times_s, arithmetic):
        """As `AirTable.course`."""
        return self.table.course(times_s, arithmetic)

    def read(self, lines, speed_hz, arithmetic):
        """Pressures that the transmitters on both inputs sense."""
        rows = self.table.read(lines, speed_hz * self.rig.wheel_share, arithmetic)
        sample = len(self.kept)
        gust = self._gusts[sample]
        ports = [port(rows, gust) for port in self._ports]
        for number, lag in enumerate(self._lags):
            if lag is not None:
                ports[number] = lag.step(ports[number])
        sensed = [sensor(*one) for sensor, *one in zip(self._sensors, ports, self._noise[sample], strict=True)]
        self.kept.append((rows, ports, sensed))
        return [sensed[number] for number in self.rig.wires]

    def steady(self, speed_hz, pumped=None):
        """`Places` at rest at a drive's speed, all doors shut. pumped: (storey, Pa) put on the high tube's end there by hand pump."""
        rows = [float(np.interp(speed_hz * self.rig.wheel_share, self.speeds_hz, column)) for column in self.shut]
        gust = float(np.mean(self._gusts))
        ports = [port(rows, gust, pumped) for port in self._ports]
        sensed = [sensor(port, 0.0) for sensor, port in zip(self._sensors, ports, strict=True)]
        return Places(tuple(rows[:2]), tuple(ports), tuple(sensed), rows[4])


def _port(tube):
    """Pressure at a transmitter's ports, high side less low side, for a row of the table and the pressure of the wind at a wall."""
    sign, share, tap = -1.0 if tube.changed else 1.0, 0.0 if tube.off else tube.share, tube.tap

    def port(rows, gust_pa, pumped=None):
        if tube.trapped_pa is not None:
            return tube.trapped_pa
        high = rows[tap] if pumped is None or pumped[0] != tap else pumped[1]
        if tube.outdoors:
            high += rows[2 + tap] - rows[tap] - gust_pa
        if tube.in_stair:
            high -= rows[tap]
        if tube.in_duct:
            high += rows[2 + tap] - rows[tap] - rows[5]
        return sign * share * high

    return port


def _sensor(transmitter):
    """What a transmitter makes of the pressure at its ports, with one draw of its noise."""
    zero, noise_pa, stuck = transmitter.zero_pa, transmitter.noise_pa, 0.0 if transmitter.dead else transmitter.stuck_pa
    if stuck is not None:
        return lambda port_pa, noise: stuck + noise_pa * noise
    return lambda port_pa, noise: port_pa + zero + noise_pa * noise


class _Lag:
    """A pinched tube: pressure comes through late."""

    def __init__(self, lag_s):
        self.follow, self.value = float(-np.expm1(-SAMPLE_S / lag_s)), None

    def step(self, pressure):
        self.value = pressure if self.value is None else self.value + self.follow * (pressure - self.value)
        return self.value


def _gusts(white, wind_m_s):
    """Pressure at a wall in a gusty wind [samples], Pa."""
    keep = np.exp(-SAMPLE_S / GUST_S)
    course = [white[0]]
    for step in white[1:]:
        course.append(keep * course[-1] + np.sqrt(1 - keep**2) * step)
    return wind_pressure(np.maximum(wind_m_s * (1 + GUST_SHARE * np.array(course)), 0.0), WALL_CP)
