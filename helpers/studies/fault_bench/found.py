"""The loop as it is found on site: the trend of the last minutes, and the state it is in now."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.formulas import signals
from helpers.formulas.combining import combine
from helpers.model.loop.controller import Settings
from helpers.model.loop.run import Setup, run_on_air
from helpers.model.loop.signal_chain import Inputs, percent_line
from helpers.studies.fault_bench.rig import rig_of
from helpers.studies.fault_bench.rig_air import LENGTH_S, SAMPLE_S, SHUTS_S, RigAir
from helpers.studies.fault_bench.seat import site

__all__ = ["NOW_S", "RECORDED_S", "Found", "displayed", "found", "fresh"]

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

    rig: object

    @cached_property
    def air(self):
        """Its `RigAir`."""
        return RigAir(self.rig)

    @cached_property
    def run(self):
        """`LoopRun` of the rig, with the door that opens and shuts."""
        rig, entered = self.rig, self.rig.entered
        settings = Settings(entered.set_point_pa, entered.inputs[0].top_pa, entered.gain, entered.integral_s, action=entered.action)
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
        enough = met >= set_point_pa
        if enough[0] or not enough.any():
            return float(speeds[0] if enough[0] else speeds[-1])
        end = int(enough.argmax())
        return float(np.interp(set_point_pa, met[end - 1 : end + 1], speeds[end - 1 : end + 1]))

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
        """[samples, ...]"""
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
        """How long the heaviest stair door is above what is allowed, after the street door has shut."""
        after = self._doors_pa[self.run.time_s >= SHUTS_S].max(axis=1)
        force, limit = _force(len(site().storeys) - 1, after)
        return float(np.count_nonzero(force > limit) * SAMPLE_S)

    @cached_property
    def weakest(self):
        """(level, Pa) of the stair door with the least pressure, at the end of the trend."""
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
