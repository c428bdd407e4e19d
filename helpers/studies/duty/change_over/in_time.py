"""The change-over of a stair's two fans played in time with the loop that is laid down: what its controller is told meanwhile decides how
long doors are short of pressure and what they bear when it comes back.

Each way of a sequence is played with all doors shut, and with the fan lost at the design's open doors, which shut as the second fan starts:
over both ends of the seconds, of the wheel's inertia and of the loop's lags. Then with a damper that sticks and with a proof that is late.
Limits: those of `model.loop.two_drives` and `model.air.two_fans`; the doors shut at once; a final exit is judged for too much alone; doors
that are out of their limits before the loss are not counted as short; of the plays with a fault the fault is one, beside the lost fan.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.combining import combine
from helpers.formulas.fan import angular_speed, coasting_time_constant
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.air.two_fans import SOLVED, TwoFans
from helpers.model.loop.arithmetic import ManyRuns
from helpers.model.loop.controller import ControllerSettings, Drive
from helpers.model.loop.run import LoopRun, Setup, run_on_air
from helpers.model.loop.two_drives import AT_SPEED, FROM_HELD, STARTS, Handover, SharedAir, TwoDrives
from helpers.model.site.tolerances import boxes, inertia_box, loop_lags
from helpers.studies.cases import Case, conditions_of, design_states_doors, two_neighbours
from helpers.studies.doors.window import SiteWindow
from helpers.studies.duty.full_speed import DrivenDoors
from helpers.studies.duty.mains_lost import REACHED

LOST_S = 5.0  # of the play: until then the loop is at rest
FREES_S = 10.0  # after the time-out a second damper that sticks comes free; ours
ADDED_PA = 1.0  # less than this is not worse off than at rest
REST_PA = 0.5  # a door with less to spare at rest is short at rest already: the step of an input alone takes so much
FREE_PA = 1e6  # room of a door that nothing limits: a number, so that what lies between two of them is one
AFTER_S = 30.0  # played on for so long after the last that happens


@dataclass(frozen=True)
class WhileLost:
    """What a sequence tells the loop while the fans change over: words; held: from the notice on; resumes: "before" (its output of before
    the loss), "start" (the start speed) or "" (as it stands); until: as of `Handover`."""

    words: str
    held: bool
    resumes: str = ""
    until: int = AT_SPEED


@dataclass(frozen=True)
class BesideLoss:
    """What goes wrong beside the lost fan: words; whether the first damper sticks open, the second one shut, the proof comes late; waits:
    the time-out is not counted while the second damper is not open."""

    words: str
    first_stuck: bool = False
    second_stuck: bool = False
    late: bool = False
    waits: bool = False


HELD = WhileLost("held at its output of before the loss until the second fan is proved and at that speed", True, "before")
CHOSEN = WhileLost(
    "held at its output of before the loss, let go from it as the reading passes its set point, or as above", True, "before", FROM_HELD
)
SET_BACK = WhileLost("set back to the start speed, let go as the second fan starts", True, "start", STARTS)
LEFT = WhileLost("left running", False)
WAYS = HELD, CHOSEN, SET_BACK, LEFT
SOUND = BesideLoss("all else sound")
FIRST_STUCK = BesideLoss("the first fan's damper sticks open", first_stuck=True)
LATE_PROOF = BesideLoss("the second fan's proof is late: the time-out lets the loop go", late=True)
SECOND_STUCK = BesideLoss("the second fan's damper sticks, the time-out lets the loop go, it comes free", second_stuck=True, late=True)
NO_TIME_OUT = BesideLoss("the same, and no time-out is counted while that damper is not open", second_stuck=True, late=True, waits=True)
FAULTS = FIRST_STUCK, LATE_PROOF, SECOND_STUCK, NO_TIME_OUT
SHUT, DEMAND = "all doors shut", "at the design's open doors, which shut as the second fan starts"


@dataclass(frozen=True)
class ChangePlayed:
    """A way, a fault and a demand at their worst over all corners and cases.

    short_s: seconds in all that a shut stair door inside its limits before is short of pressure, short_in: in which case; back_s: from the
    loss until the reading is at REACHED of what it has to be, to stay (NaN: it is not); past_s: seconds that a door is past what it may
    bear with all doors shut, and worse off than at rest; peak_room_pa, peak_hz: least room below that, and the speed of one fan alone that
    gives it, peak_in: in which case.
    """

    way: WhileLost
    fault: BesideLoss
    demand: str
    short_s: float
    short_in: str
    back_s: float
    past_s: float
    peak_room_pa: float
    peak_hz: float
    peak_in: str


@dataclass(frozen=True)
class Corners:
    """Ends of what is not known, by corner [corners]: seconds until the loss is noticed, travel of the dampers, inertia, lag beyond the
    likely one; leaks of a shut and of an open damper."""

    noticed_s: np.ndarray
    travel_s: np.ndarray
    inertia_kg_m2: np.ndarray
    more_lag_s: np.ndarray
    shut_leak: float
    open_leak: float

    @classmethod
    def of(cls, site, noticed=None, travel=None):
        """Of a site's boxes; noticed, travel: other `Box`es in their place."""
        known = boxes(site)
        noticed = known["second_fan.noticed_s"] if noticed is None else noticed
        travel = known["second_fan.damper_travel_s"] if travel is None else travel
        late, heavy, slow = np.array([(a, b, c) for a in (0, 1) for b in (0, 1) for c in (0, 1)], bool).T
        inertia, lag = inertia_box(site.fan), loop_lags(site).lag
        ends = [np.where(up, box.high, box.low) for up, box in ((late, noticed), (late, travel), (heavy, inertia), (slow, lag))]
        return cls(*ends, known["second_fan.damper_leak"].high, known["second_fan.stuck_open_leak"].high)


class ChangeOverPlayer:
    """Plays change-overs of a stair's two fans on its loop, the air of both demands solved once.

    tower, window: `Tower`, `SiteWindow`; cases: with all doors shut, those that the loop holds; settings: `ControllerSettings`.
    """

    def __init__(self, tower: Tower, window: SiteWindow, cases: tuple[Case, ...], settings: ControllerSettings):
        self.tower, self.site, self.cases, self.settings = tower, tower.site, cases, settings
        self.ends_hz = self.site.fan.speed_limits_hz(self.site.control.fire_mode)
        shut = conditions_of(self.site, cases)
        self.conditions = Conditions.joined([shut, self._opened(shut)])  # shut ones, and the same with the design's doors open
        held = tower.hold(self.conditions)
        self.one_hz = held.air.speed_hz
        self.two = TwoFans.of(tower, self.conditions)
        count = len(self.conditions)
        under = self.conditions.rows(np.tile(np.arange(count), SOLVED))
        self.readings_pa = np.moveaxis(tower.readings(self.two.air).reshape(SOLVED, count, -1), 2, 1)  # [speeds, transmitters, conditions]
        self.past_pa = np.minimum(DrivenDoors(tower, window).worst(self.two.air, under)[0].reshape(SOLVED, count), FREE_PA)
        self.short_pa = np.minimum(self._short_pa(window, count), FREE_PA)
        self.rest_pa = self.two.at(self.past_pa, self.one_hz)[: len(cases)]  # doors shut

    def _opened(self, shut):
        """The same conditions with the doors open that the design takes as open, else two stair doors."""
        design, levels = self.site.design, self.tower.levels
        opened = (design.open_doors, design.open_exits) if design_states_doors(self.site) else (two_neighbours(self.site), ())
        doors, exits = (np.isin(levels, one) for one in opened)
        return replace(shut, stair_door_open=np.maximum(shut.stair_door_open, doors),
                       lobby_door_open=np.maximum(shut.lobby_door_open, doors),
                       final_exit_open=np.maximum(shut.final_exit_open, exits))  # fmt: skip

    def _short_pa(self, window, count):
        """Room [speeds, conditions] of the stair door that is shortest of pressure, of those that are shut and not short at rest."""
        least, most = window.by_storey(self.tower.levels, "stair door")
        across = self.two.air.door_dp_pa.reshape(SOLVED, count, -1)
        rooms = across - least if self.tower.effect > 0 else most - across
        at_rest = np.stack([self.two.at(rooms[..., door], self.one_hz) for door in range(rooms.shape[-1])], axis=-1)
        counts = (at_rest >= REST_PA) & (self.conditions.stair_door_open == 0)
        return np.where(counts, rooms, np.inf).min(axis=-1)

    def without_loss(self) -> tuple[float, float]:
        """Least room [Pa] below what a door may bear where no fan is lost: all doors shut at rest, and the loop as it is while the design's
        open doors shut, the worst of the likely and the slowest lags."""
        count, slow = len(self.cases), loop_lags(self.site).lag.high
        places, case = np.tile(np.arange(count, 2 * count), 2), np.tile(np.arange(count), 2)
        shared = SharedAir(self.two.rows(places), self.two.rows(case), np.full(2 * count, LOST_S), self.readings_pa[..., places],
                           self.readings_pa[..., case])  # fmt: skip
        setup = Setup(LOST_S + AFTER_S, settings=self.settings, more_lag_s=np.repeat([0.0, slow], count), every_reading=False)
        start = self.one_hz[places].clip(*self.ends_hz)
        drive = Drive(self.site.fan, self.site.control.sample_s, start, arithmetic=ManyRuns(2 * count), coast_s=self._coast_s(places))
        found = run_on_air(shared, self.site, setup, self.site.transmitters, self.settings, 2 * count, start, drive)
        shuts = found.speed_hz[found.time_s >= LOST_S]
        return _room(self.rest_pa), _room(self.two.rows(case).at(self.past_pa[:, case], shuts))

    def play(self, plays, corners: Corners | None = None) -> tuple[ChangePlayed, ...]:
        """The worst of each of some plays, (`WhileLost`, `BesideLoss`), all doors shut and at the design's open
        doors: two `ChangePlayed` a play."""
        found, handover, _ = self.run(plays, corners)
        several = [(way, fault, demand) for way, fault in plays for demand in (SHUT, DEMAND)]
        by_play = np.arange(found.speed_hz.shape[1]).reshape(len(plays), -1, 2, len(self.cases)).transpose(0, 2, 1, 3)
        each = by_play.reshape(len(several), -1)
        return tuple(self._worst(*one, found, handover, runs) for one, runs in zip(several, each, strict=True))

    def run(self, plays, corners=None):
        """(`LoopRun`, `Handover`, `TwoDrives`) of some plays, (`WhileLost`, `BesideLoss`): runs [plays, corners, both demands, cases], in
        one row."""
        corners = Corners.of(self.site) if corners is None else corners
        fan, count, sample_s = self.site.fan, len(self.cases), self.site.control.sample_s
        shape = len(plays), len(corners.noticed_s), 2, count

        def laid(values, axis):
            return np.broadcast_to(np.reshape(values, [-1 if place == axis else 1 for place in range(4)]), shape).ravel()

        keys = (
            *((0, key) for key in ("held", "until", "resumes")),
            *((1, key) for key in ("first_stuck", "second_stuck", "late", "waits")),
        )
        of_play = {key: laid([getattr(one[place], key) for one in plays], 0) for place, key in keys}
        of_corner = {key: laid(getattr(corners, key), 1) for key in ("noticed_s", "travel_s", "inertia_kg_m2", "more_lag_s")}
        demand, case = laid([0, 1], 2), laid(np.arange(count), 3)
        places, runs = demand * count + case, int(np.prod(shape))
        noticed = LOST_S + of_corner["noticed_s"]
        starts = noticed + of_corner["travel_s"]
        over = starts + self.ends_hz[1] * max(fan.ramp_s, sample_s) / fan.reference_speed_hz + of_corner["noticed_s"]
        lets_go = over + FREES_S * of_play["waits"]
        running = self.two.needed_hz(self.one_hz, corners.shut_leak).clip(*self.ends_hz)[places]
        per_percent = fan.highest_speed_hz / 100
        resumes = np.select([of_play["resumes"] == "before", of_play["resumes"] == "start"],
                            [running / per_percent, np.full(runs, self.ends_hz[0] / per_percent)], np.nan)  # fmt: skip
        handover = Handover(
            np.full(runs, LOST_S), noticed, starts, np.where(of_play["late"], lets_go, starts), lets_go,
            np.where(of_play["second_stuck"], over + FREES_S, -np.inf), of_corner["travel_s"], of_corner["inertia_kg_m2"],
            np.full(runs, corners.shut_leak), np.full(runs, corners.open_leak), of_play["first_stuck"], of_play["held"], resumes,
            of_play["until"],
        )  # fmt: skip
        shared = SharedAir(self.two.rows(places), self.two.rows(case), np.where(demand == 1, starts, np.inf),
                           self.readings_pa[..., places], self.readings_pa[..., case])  # fmt: skip
        drive = TwoDrives(shared, fan, sample_s, running, handover, ManyRuns(runs), coast_s=self._coast_s(places))
        length = float(over.max()) + FREES_S * bool(of_play["second_stuck"].any()) + AFTER_S
        setup = Setup(length, settings=self.settings, more_lag_s=of_corner["more_lag_s"], every_reading=False)
        return run_on_air(shared, self.site, setup, self.site.transmitters, self.settings, runs, running, drive), handover, drive

    def _coast_s(self, places):
        """Of a drive without a brake: time [runs] in which the wheel, left to the air, falls from its highest speed to half of it."""
        fan = self.site.fan
        if fan.brake != "none":
            return None
        highest = np.full(len(self.one_hz), fan.highest_speed_hz)
        flow, pressure = (self.two.at(values, highest) for values in (self.two.flow_m3_s, self.two.pressure_pa))
        shaft_w = np.maximum(flow * pressure / fan.efficiency, 1.0)
        return coasting_time_constant(inertia_box(fan).likely, angular_speed(fan.highest_speed_hz, fan.motor_poles), shaft_w)[places]

    def _worst(self, way, fault, demand, found: LoopRun, handover, chosen):
        """`ChangePlayed` of one play and one demand; chosen: its runs."""
        count, place = len(self.cases), (SHUT, DEMAND).index(demand)
        alike, time_s, reading = found.speed_hz[:, chosen], found.time_s, found.reading_pa[:, chosen]
        started = time_s[:, None] >= handover.starts_s[chosen]
        shut, case = started | (place == 0), chosen % count
        own = place * count + case
        short, past = (np.where(shut, *(self.two.rows(rows).at(table[:, rows], alike) for rows in (case, own)))
                       for table in (self.short_pa, self.past_pa))  # fmt: skip
        after = time_s >= LOST_S
        short_s = (short[after] < 0).sum(axis=0) * found.sample_s
        past = np.where(after[:, None] & (shut | (place == 0)), past, np.inf)  # with the doors open it is no matter of the change-over
        peak, bears = past.min(axis=0), np.minimum(0.0, self.rest_pa[case] - ADDED_PA)
        worst, shortest = int(peak.argmin()), int(short_s.argmax())
        peak_at = int(past[:, worst].argmin())
        low = (np.abs(reading) < np.abs(self._rests(case)) * REACHED) & after[:, None]
        last = np.where(low.any(axis=0), len(low) - low[::-1].argmax(axis=0), int(after.argmax()))
        back = np.append(time_s - LOST_S, np.nan)[last]
        return ChangePlayed(
            way, fault, demand, float(short_s.max()), self.cases[case[shortest]].name, float(back.max()),
            float((past < bears).sum(axis=0).max() * found.sample_s), _room(peak), float(alike[peak_at, worst]),
            self.cases[case[worst]].name,
        )  # fmt: skip

    def _rests(self, case):
        """What the combined reading is with all doors shut at rest, by run."""
        control = self.site.control
        weights = control.weights if control.rule == "weighted" else None
        combined = combine(np.moveaxis(self.readings_pa, 1, 2), control.rule, weights=weights)
        return self.two.at(combined, self.one_hz)[case]


def _room(rooms_pa):
    """The least of rooms; inf where nothing limits a door."""
    least = float(np.min(rooms_pa))
    return least if least < FREE_PA / 2 else np.inf
