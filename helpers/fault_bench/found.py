"""The loop as it is found on site: its air as the faulty loop feels it, the trend of the last minutes, and the state it is in now.

The wheel's speed, not the drive's, makes the pressure. A tube that ends outdoors in the wind sees the wall's suction with gusts.
Limits: a wheel that turns backward or slips is a fan at a lower speed; the air inside a tube has no weight; tubes are a share, a lag or a
trapped pressure; wind comes and goes as a first-order noise; hum on a wire is white noise.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from helpers.fault_bench.faulty_loop import WALL_CP, Rig, rig_of, site, tower
from helpers.formulas import doors as door_formulas
from helpers.formulas import signals
from helpers.formulas.air import wind_pressure
from helpers.formulas.combining import combine
from helpers.model.air.conditions import Conditions
from helpers.model.loop.controller import ControllerSettings
from helpers.model.loop.events import DoorEvent, schedule
from helpers.model.loop.run import Setup, run_on_air
from helpers.model.loop.signal_chain import Inputs, percent_line
from helpers.model.sweep import AirTable, at, meets

LENGTH_S, SAMPLE_S = 200.0, 0.25
OPENS_S, SHUTS_S = 30.0, 90.0
SPEEDS = 16  # solved
GUST_SHARE, GUST_S = 0.25, 2.0  # of the wind's speed as a standard deviation, and how long a gust lasts; ours
DUCT_SHARE = 0.8  # of the duct's loss that lies behind the fan; ours
TABLES_KEPT = 24


@lru_cache(TABLES_KEPT)
def air_table(outdoor_c, wind_m_s, relief):
    """The air while the final exit door opens and shuts: stair over floor and over outdoors at both taps, stair over outdoors at
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
        self._lags = [_PinchedTube(tube.lag_s) if tube.lag_s else None for tube in rig.tubes]
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


class _PinchedTube:
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


RECORDED_S = 2.0  # the trend recorder keeps a spot reading so often
NOW_S = 40.0  # of the run's end, over which a hand reads
STEPS = {"displays": 1.0, "combined": 1.0, "speed_hz": 0.1}  # of display and recorder
SETTLED_HZ, SMOOTHED_S = 2.5, 5.0
SEARCHED = 60  # speeds looked at for the steady one


@lru_cache(32)
def found(seat, fault):
    """A seat's loop with a fault, run once. Returns `Found`."""
    return fresh(seat, fault)


def fresh(seat, fault):
    """The same, not kept."""
    return Found(rig_of(seat, fault, *_usual(seat)))


@dataclass
class Found:
    """A rig and its run."""

    rig: Rig

    @cached_property
    def air(self):
        """Its `RigAir`."""
        return RigAir(self.rig)

    @cached_property
    def run(self):
        """`LoopRun` of the rig, with the door that opens and shuts."""
        rig, entered = self.rig, self.rig.entered
        settings = ControllerSettings(
            entered.set_point_pa, entered.inputs[0].top_pa, entered.gain, entered.integral_s, action=entered.action
        )
        setup = Setup(
            LENGTH_S, SAMPLE_S, settings=settings, rule=entered.rule, inputs=_inputs(entered), ramp_s=entered.ramp_s,
            low_demand=entered.stop, fire_mode=rig.seat.fire,
        )  # fmt: skip
        wired = [rig.transmitters[number] for number in rig.wires]
        transmitters = [
            t.model_copy(update={"signal": one.signal, "range_high_pa": one.top_pa})
            for t, one in zip(site().transmitters, wired, strict=True)
        ]
        return run_on_air(self.air, site(), setup, transmitters, settings, 1, self.start_hz)

    @cached_property
    def start_hz(self):
        """Where the loop has come to rest before the trend begins; with the wrong action it has never got away from its
        lowest speed."""
        rest = self.rest_hz(self.rig.entered.set_point_pa)
        return site().fan.lowest_speed_hz if self.rig.entered.action == "direct" else rest

    def rest_hz(self, set_point_pa):
        """The first speed at which the combined display meets a set point."""
        fan = site().fan
        speeds = np.linspace(fan.lowest_speed_hz, fan.highest_speed_hz, SEARCHED)
        met = combine(np.array([displayed(self.rig, self.air.steady(speed).sensed_pa) for speed in speeds]), self.rig.entered.rule)
        return float(at(speeds, meets(met, set_point_pa).place))

    @cached_property
    def _now(self):
        return self.run.time_s >= LENGTH_S - NOW_S

    def now(self, name):
        """Mean of the last seconds: "displays", "combined", "speed_hz", "output", "taps", "ports", "sensed"."""
        return self._series(name)[self._now].mean(axis=0)

    def last(self, name):
        """The series of the last seconds."""
        return self._series(name)[self._now]

    @cached_property
    def settles_s(self):
        """From when the door shuts until the speed, smoothed, stays near where it ends."""
        time, width = self.run.time_s, round(SMOOTHED_S / SAMPLE_S)
        speed = np.convolve(self.run.speed_hz[:, 0], np.ones(width) / width, "valid")
        time = time[width // 2 :][: len(speed)]
        late = time[np.abs(speed - speed[time >= LENGTH_S - NOW_S].mean()) > SETTLED_HZ]
        return max(float(late[-1]) - SHUTS_S, 0.0) if late.size else 0.0

    def _series(self, name):
        """Values by name [samples, ...]."""
        return self._all[name]

    @cached_property
    def _all(self):
        run, air = self.run, self.air
        rows, ports, sensed = (np.array(part) for part in zip(*air.kept, strict=True))
        return {"displays": run.readings_pa[..., 0], "combined": run.reading_pa[:, 0], "speed_hz": run.speed_hz[:, 0],
                "output": run.output_percent[:, 0], "taps": rows[:, :2], "ports": ports, "sensed": sensed}  # fmt: skip

    def recorded(self, name):
        """As the trend recorder keeps it, in its steps."""
        return np.round(self._series(name)[:: round(RECORDED_S / SAMPLE_S)] / STEPS[name]) * STEPS[name] + 0.0

    @property
    def recorded_s(self):
        """Times of the recorder."""
        return self.run.time_s[:: round(RECORDED_S / SAMPLE_S)]

    @cached_property
    def _doors_pa(self):
        """Pressure across every storey's stair door [samples, storeys]."""
        return self.air.table.along(self.air.table.doors_pa, self.run.time_s, self.run.speed_hz[:, 0] * self.rig.wheel_share)

    @cached_property
    def heaviest(self):
        """(level, force in N, allowed N) at the heaviest shut stair door, at the end of the trend."""
        pressure = self._doors_pa[self._now].mean(axis=0)
        number = int(pressure.argmax())
        force, limit = _force(number, pressure[number])
        return site().storeys[number].level, float(force), limit

    @cached_property
    def heavy_for_s(self):
        """How long the heaviest stair door is above what is allowed, after the final exit door has shut."""
        after = self._doors_pa[self.run.time_s >= SHUTS_S].max(axis=1)
        force, limit = _force(len(site().storeys) - 1, after)
        return float(np.count_nonzero(force > limit) * SAMPLE_S)

    @cached_property
    def weakest(self):
        """(level, Pa) of the stair door with the minimum pressure, at the end of the trend."""
        pressure = self._doors_pa[self._now].mean(axis=0)
        number = int(pressure.argmin())
        return site().storeys[number].level, float(pressure[number])


def _force(number, pressure_pa):
    """Force at the handle of a storey's stair door, and what is allowed there [N]; all doors of this stair are of one kind."""
    door = site().doors[site().storeys[number].stair_door]
    leaf = door.width_m, door.height_m, door.closer_force_n, door.handle_to_edge_m
    return door_formulas.opening_force(pressure_pa, *leaf), door.force_limit_n


def displayed(rig, sensed_pa, wires=None):
    """What the displays of both inputs show, at rest, for what both transmitters sense. wires: of the rig, or others."""
    wires = rig.wires if wires is None else wires
    pairs = zip(wires, rig.entered.inputs, strict=True)
    return [_display(rig.transmitters[number], entered, sensed_pa[number]) for number, entered in pairs]


def _display(transmitter, entered, sensed_pa):
    percent = min(max(100 * sensed_pa / transmitter.top_pa, signals.MEASURES_FROM_PERCENT), signals.MEASURES_TO_PERCENT)
    offset, slope = percent_line(transmitter.signal, entered.signal)
    return entered.top_pa * (offset + slope * percent) / 100


def _inputs(entered):
    rows = entered.inputs
    return Inputs(
        tuple(one.signal for one in rows), np.zeros(2), np.array([one.top_pa for one in rows]), np.full(2, 12.0),
        np.array([one.filter_s for one in rows]),
    )  # fmt: skip


@lru_cache(64)
def _usual(seat):
    """Steady speed of the sound loop, and the pressures at both taps then."""
    sound = Found(rig_of(seat, "none"))
    duty = sound.rest_hz(seat.set_point_pa)
    return duty, sound.air.steady(duty).taps_pa
