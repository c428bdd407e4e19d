"""Two like fans of one stair while one takes over from the other, as a loop in time has them: one wheel that coasts, dampers that move, a
drive that starts late, and a controller that is held, set back or left alone meanwhile.

The first wheel coasts by J w dw/dt = -Q1 p / efficiency, by the closed form of the cube over one sample. Its damper stands open until its
loss is noticed, then shuts in its travel, or sticks open; the second one's opens meanwhile, and its drive starts at a moment of its own. A
second damper that sticks is shut until it comes free, and then open at once. What both bring is the air at the speed of one fan alone that
brings as much, see `model.air.two_fans`.
Limits: those of that module; friction and motor losses of the coasting wheel are left out; a fan behind a shut damper brings nothing; doors
that shut on the way are shut at once; no drive catches a wheel that still turns: the second one starts from standstill.
"""

from dataclasses import dataclass, field

import numpy as np

from helpers.formulas.fan import angular_speed
from helpers.model.air.two_fans import TwoFans
from helpers.model.loop.controller import Drive

# Until when a held loop is held: the second fan starts; it is proved and at speed; or, where that is sooner, the reading is at its
# set point, and the loop goes on from the second fan's own speed, or from the output that was held.
STARTS, AT_SPEED, THERE, FROM_HELD = 0, 1, 2, 3
_SAME_HZ = 1e-6
_HAIR_S = 1e-9


@dataclass(frozen=True)
class Handover:
    """How one fan takes over from the other, by run [runs].

    lost_s, noticed_s; starts_s, proved_s of the second fan; over_s: when its time is out; frees_s: when its damper is free (-inf: never
    stuck); travel_s of both dampers (0: flaps); inertia_kg_m2 of the first wheel; shut_leak, open_leak: shares that a shut and an open
    damper let back; stuck: whether the first one's sticks open. held: whether the loop is held from the notice on; resumes_percent: the
    output that it is then set to (NaN: as it stands); until: STARTS, AT_SPEED, THERE or FROM_HELD.
    """

    lost_s: np.ndarray
    noticed_s: np.ndarray
    starts_s: np.ndarray
    proved_s: np.ndarray
    over_s: np.ndarray
    frees_s: np.ndarray
    travel_s: np.ndarray
    inertia_kg_m2: np.ndarray
    shut_leak: np.ndarray
    open_leak: np.ndarray
    stuck: np.ndarray
    held: np.ndarray
    resumes_percent: np.ndarray
    until: np.ndarray

    def moved(self, time_s):
        """Share of its travel [runs] that each damper has gone at a moment; a flap has none."""
        travels = self.travel_s > 0
        gone = np.clip((time_s - self.noticed_s) / np.where(travels, self.travel_s, 1.0), 0.0, 1.0)
        return np.where(travels, gone, 0.0)

    def back(self, time_s):
        """Shares [runs] of the full flow that the first and the second fan's dampers let back while their wheels are idle."""
        moved, more, travels = self.moved(time_s), self.open_leak - self.shut_leak, self.travel_s > 0
        first = np.where(self.stuck, self.open_leak, self.shut_leak + np.where(travels, 1 - moved, 0.0) * more)
        free = time_s >= self.frees_s - _HAIR_S
        return first, self.shut_leak + np.where(free, moved, 0.0) * more


@dataclass
class SharedAir:
    """Air of a stair on two fans, for a loop: `LoopAir` over the speed of one fan alone that brings as much.

    before, after: `TwoFans` of the runs until their doors shut at shuts_s [runs] (inf: never) and from then on; readings_pa,
    readings_after_pa [speeds, transmitters, runs].
    """

    before: TwoFans
    after: TwoFans
    shuts_s: np.ndarray
    readings_pa: np.ndarray
    readings_after_pa: np.ndarray
    _kept: dict = field(default_factory=dict, repr=False)

    def now(self, time_s):
        """(`TwoFans`, readings [speeds, transmitters, runs]) of a moment."""
        shut = time_s >= self.shuts_s - _HAIR_S
        key = shut.tobytes()
        if key not in self._kept:
            self._kept.clear()  # time goes one way
            readings = np.where(shut, self.readings_after_pa, self.readings_pa)
            self._kept[key] = self.before.where(shut, self.after), readings
        return self._kept[key]

    def course(self, times_s, arithmetic):
        """What `read` needs, sample by sample."""
        return map(self.now, times_s.tolist())

    def read(self, lines, speed_hz, arithmetic):
        """Pressures at the tubes [transmitters, runs]."""
        two, readings = lines
        return np.stack([two.at(row, speed_hz) for row in np.moveaxis(readings, 1, 0)])


class TwoDrives:
    """Both fans as a loop drives them: in the place of its `Drive`, with the same `step`.

    shared: `SharedAir`; running_hz [runs]: of the first fan at the start; handover: `Handover`; coast_s [runs]: as of `Drive`, of the
    second fan while it slows, set by whoever plays; None where a brake takes what it gives back, or none is stated. The first one is at
    rest until it is lost, and coasts by its own law then. kept: (first, second) speeds [runs] of each sample so far.
    """

    stop, stopped = None, False

    def __init__(self, shared, fan, sample_s, running_hz, handover, arithmetic, coast_s=None):
        self.shared, self.fan, self.sample_s, self.course, self.arithmetic = shared, fan, sample_s, handover, arithmetic
        self.first_hz, self.second_hz, self.samples = np.array(running_hz, float), np.zeros(np.shape(running_hz)), 0
        self.follows_hz = self.first_hz
        self.drive = Drive(fan, sample_s, self.second_hz, arithmetic=arithmetic, coast_s=coast_s)
        runs = np.zeros(self.first_hz.shape, bool)
        self.noticed, self.released, self.holds = runs, runs, False
        self.speed_hz, self.behind_hz, self.kept = self.first_hz, 0.0, [(self.first_hz, self.second_hz)]
        self.speed_hz = self._alike(0.0)
        self._by_hz = float(angular_speed(1.0, fan.motor_poles))

    def _alike(self, time_s):
        two, _ = self.shared.now(time_s)
        through = np.where(time_s >= self.course.frees_s - _HAIR_S, self.second_hz, 0.0)
        return two.alike_hz(self.first_hz, through, *self.course.back(time_s), near_hz=self.speed_hz)

    def step(self, output_percent, controller, outranked=False):
        """Speed [Hz, runs] of one fan alone that brings at the next sample what both then bring, for an output of this one."""
        course, before_s = self.course, self.samples * self.sample_s
        asked = output_percent * self.drive.per_percent
        driven = self.first_hz + np.clip(asked - self.first_hz, -self.drive.down, self.drive.up)
        self.first_hz = np.where(before_s < course.lost_s - _HAIR_S, driven, self._coasted(before_s))
        self.samples += 1
        now = self.samples * self.sample_s
        started = now > course.starts_s + _HAIR_S
        stepped = self.drive.step(output_percent)
        self.second_hz = self.drive.speed_hz = np.where(started, stepped, 0.0)
        turning = np.where(started, self.second_hz, self.first_hz)
        self.behind_hz = np.where(now >= course.lost_s, asked - turning, asked - self.first_hz)
        self._hold(controller, now, started, asked)
        self.kept.append((self.first_hz, self.second_hz))
        self.speed_hz = self._alike(now)
        return self.speed_hz

    def _coasted(self, time_s):
        """Speed of the first wheel [runs] one sample after a moment, with nothing that drives it."""
        two, _ = self.shared.now(time_s)
        pressure = two.at(two.pressure_pa, self.speed_hz)
        taken_w = np.maximum(two.brought(pressure, self.first_hz, 0.0), 0.0) * np.maximum(pressure, 0.0) / self.fan.efficiency
        w = np.maximum(self._by_hz * self.first_hz, 1e-9)
        return self.first_hz / (1 + self.sample_s * taken_w / (self.course.inertia_kg_m2 * w**2))

    def _hold(self, controller, now, started, asked):
        """Take the loop out at the notice, and let it go on again."""
        course = self.course
        noticed = now >= course.noticed_s - _HAIR_S
        newly = noticed & ~self.noticed & course.held
        controller.output = np.where(newly & ~np.isnan(course.resumes_percent), course.resumes_percent, controller.output)
        done = started & (asked <= self.second_hz + _SAME_HZ) & (now >= course.proved_s - _HAIR_S)
        early = started & (course.until >= THERE) & (controller.error <= 0)
        done |= (now >= course.over_s - _HAIR_S) | (started & (course.until == STARTS)) | early
        goes = noticed & done & ~self.released
        controller.output = np.where(
            goes & early & course.held & (course.until == THERE), self.second_hz / self.drive.per_percent, controller.output
        )
        self.noticed, self.released = noticed, self.released | goes
        holds = noticed & ~self.released & course.held
        self.holds = holds if holds.any() else False
