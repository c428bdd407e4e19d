"""A loop as it was handed over, drawn from a seed, and each fault as the one thing in it that is changed.

The building is Larkfield House. Its pressure does not ask for two ranges and its fan serves the fire mode alone; on this bench the two
transmitters were bought years apart, and the fan may also be found in an everyday mode that only keeps the stair's air fresh.
Sizes of faults are drawn from the seat. They are ours, chosen to be found with a gauge of common accuracy.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from helpers import require
from helpers.formulas.action import ACTIONS
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site

MODES = ("fire mode", "everyday mode")
TAPS = ("PDT-1", "PDT-2")
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
class DrawnLoop:
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
    return DrawnLoop(
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


BACKWARD_SHARE = 0.5  # a centrifugal fan running backward still blows forward: here half the flow and a quarter of the pressure; ours
SLIP_SHARE = 0.6  # of its speed that the wheel keeps while the belt slips; ours
GAIN_ON_125_PA, INTEGRAL_S = 1.2, 2.5  # quicker than the site's own, so that a slow loop stands out
OLD_TOPS_PA, OLD_SPANS = (50.0, 60.0), 5.0  # ranges for which a gain was entered, and how much wider the new one is
TOO_HIGH = 1.5  # over the right threshold
LOWER, HIGHER, APART_PA = 0.35, 0.3, 8.0  # where a reading that does not move stands, from what it would be
SLOW_RAMP_S, SLOW_FILTER_S = 80.0, 25.0
QUIET_SHARE, NOISE_SHARE = 0.001, 0.05  # of the span, electrical, as a standard deviation; ours
STOP_SHARE, STOP_WAIT, RESTART_WAIT, RESTART_PA = 0.82, 20.0, 3.0, 8.0


@dataclass(frozen=True)
class Tube:
    """Both tubes of a transmitter.

    tap: storey it goes to (0 the low one, 1 the high one); share of the pressure that arrives; off, changed (high and low side); lag_s;
    trapped_pa: what it keeps when it is shut; outdoors, in_stair, in_duct: where the reference side ends instead of the floor, at a wall
    in the wind, in the stair like the high side, in the fan's duct.
    """

    tap: int
    share: float = 1.0
    off: bool = False
    changed: bool = False
    lag_s: float = 0.0
    trapped_pa: float | None = None
    outdoors: bool = False
    in_stair: bool = False
    in_duct: bool = False


@dataclass(frozen=True)
class FaultyTransmitter:
    """As its plate says, and as it is. zero_pa: error; stuck_pa: what it sends whatever comes; dead: it sends its lowest signal."""

    top_pa: float
    signal: str
    zero_pa: float = 0.0
    stuck_pa: float | None = None
    dead: bool = False
    noise_pa: float = 0.0


@dataclass(frozen=True)
class EnteredInput:
    """What is entered for an input; its range starts at 0."""

    top_pa: float
    signal: str
    filter_s: float = 0.5


@dataclass(frozen=True)
class Entered:
    """What is entered at the controller and the drive. set_points_pa: of the places "A" and "B", one of which it uses; speed_rises: whether
    the output rises with the error; stop: `LowDemandRule` or None."""

    inputs: tuple
    rule: str
    set_points_pa: dict
    uses: str
    adds_error: str
    gain: float
    integral_s: float
    speed_rises: bool
    ramp_s: float
    stop: LowDemandRule | None

    @property
    def set_point_pa(self):
        """The set point in use."""
        return self.set_points_pa[self.uses]

    @property
    def action(self):
        """Which way the loop acts by both entries."""
        return ACTIONS[0] if (self.adds_error == "set point - reading") == self.speed_rises else ACTIONS[1]


@dataclass(frozen=True)
class Rig:
    """Everything. wires: the transmitter on each input; wheel_share: of the drive's speed that the wheel is worth; slips, backward: why;
    record: what was entered at the handover; relief: pressures [Pa] at which the damper opens, and is fully open;
    usual_pa: pressures at both taps with nothing wrong."""

    seat: DrawnLoop
    tubes: tuple
    transmitters: tuple
    wires: tuple
    entered: Entered
    record: Entered
    relief: tuple = ()
    usual_pa: tuple = ()
    slips: bool = False
    backward: bool = False

    @property
    def wheel_share(self):
        """Speed at which a sound fan would do the same, over the drive's."""
        return SLIP_SHARE if self.slips else BACKWARD_SHARE if self.backward else 1.0

    @property
    def wheel_turns(self):
        """Speed of the wheel over the drive's."""
        return SLIP_SHARE if self.slips else 1.0


def rig_of(seat, fault, duty_hz=30.0, usual_pa=(30.0, 50.0)):
    """The loop of a seat with a fault, one of FAULTS. duty_hz, usual_pa: steady speed of the sound loop, by which its stop threshold was
    set, and the pressures at both taps then."""
    return FAULTS[fault](replace(_sound(seat, duty_hz), usual_pa=usual_pa))


def faults_of(mode):
    """The faults that can be there in a mode: a stop for low demand is never active in the fire mode."""
    return tuple(key for key in FAULTS if key != "stop_threshold" or mode != "fire mode")


def _sound(seat, duty_hz):
    stop = None if seat.fire else LowDemandRule(round(STOP_SHARE * duty_hz), STOP_WAIT, RESTART_PA, RESTART_WAIT)
    inputs = tuple(EnteredInput(top, seat.signal) for top in seat.tops_pa)
    rises = seat.adds_error == "set point - reading"
    set_points = {place: seat.set_point_pa if place == seat.uses else seat.spare_pa for place in "AB"}
    entered = Entered(inputs, seat.rule, set_points, seat.uses, seat.adds_error, _gain(seat.tops_pa[0]), INTEGRAL_S, rises, 6.0, stop)
    rough_pa = QUIET_SHARE * seat.rough
    transmitters = tuple(
        FaultyTransmitter(top, seat.signal, zero, noise_pa=rough_pa * top) for top, zero in zip(seat.tops_pa, seat.zeros_pa, strict=True)
    )
    return Rig(seat, (Tube(0), Tube(1)), transmitters, (0, 1), entered, entered, seat.relief_pa)


def _gain(top_pa):
    """The gain that is right on a range: the same per pascal."""
    return round(GAIN_ON_125_PA * top_pa / 125, 2)


def _at(rows, place, **changes):
    return tuple(replace(row, **changes) if number == place else row for number, row in enumerate(rows))


def _tube(rig, **changes):
    return replace(rig, tubes=_at(rig.tubes, rig.seat.place, **changes))


def _transmitter(rig, **changes):
    return replace(rig, transmitters=_at(rig.transmitters, rig.seat.place, **changes))


def _input(rig, **changes):
    return _entered(rig, inputs=_at(rig.entered.inputs, rig.seat.place, **changes))


def _entered(rig, **changes):
    return replace(rig, entered=replace(rig.entered, **changes))


def _wrong_range(rig):
    seat = rig.seat
    share = (0.5, 2.0)[int(seat.part[0] * 2)]
    return _input(rig, top_pa=share * seat.tops_pa[seat.place])


def _kept(rig):
    """A reading that stays where it was in another weather, lower or higher than it would be now; never as low as nothing."""
    own = rig.usual_pa[rig.seat.place]
    lower = own - max(LOWER * own, APART_PA)
    return lower if rig.seat.part[1] < 0.5 and lower > APART_PA else own + max(HIGHER * own, APART_PA)


def _stuck_pa(rig):
    """Where it was, or, one time in four, at the end of its range."""
    return 1.1 * rig.seat.tops_pa[rig.seat.place] if rig.seat.part[2] < 0.25 else _kept(rig)


def _short_range(rig):
    """A transmitter of a shorter range was put in and entered rightly, and the gain with it; it cannot show what is there."""
    place, top = rig.seat.place, float(round(0.5 * rig.usual_pa[rig.seat.place]))
    changed = replace(_transmitter(rig, top_pa=top, zero_pa=0.0), entered=_input(rig, top_pa=top).entered)
    return _entered(changed, gain=_gain(top)) if place == 0 else changed


def _gain_kept(rig):
    """A transmitter of a short range clipped; one of a wider range was put in on the first input and entered, the gain left as it was."""
    old = OLD_TOPS_PA[int(rig.seat.part[0] * 2)]
    new = OLD_SPANS * old
    transmitters, inputs = (_at(rows, 0, top_pa=new) for rows in (rig.transmitters, rig.entered.inputs))
    gain = _gain(old)
    record = replace(rig.record, inputs=_at(rig.record.inputs, 0, top_pa=old), gain=gain)
    return replace(_entered(rig, gain=gain, inputs=inputs), transmitters=transmitters, record=record)


def _stuck(relief_pa):
    """A damper that should keep shut stands open, one that should spill keeps shut."""
    return STUCK_OPEN_PA if relief_pa == RELIEFS_PA[0] else STUCK_SHUT_PA


def _other_rule(rig):
    others = [rule for rule in ("average", "lowest", "highest") if rule != rig.record.rule]
    return _entered(rig, rule=others[int(rig.seat.part[0] * 2)])


def _stop_too_high(rig):
    rule = rig.entered.stop
    return _entered(rig, stop=rule._replace(stop_below_hz=round(TOO_HIGH * rule.stop_below_hz)))


FAULTS = {
    "none": lambda rig: rig,
    "range_entered": _wrong_range,
    "signal_type": lambda rig: _input(rig, signal=FITS_WRONGLY[rig.seat.signal]),
    "inputs_swapped": lambda rig: replace(rig, wires=(1, 0)),
    "tubes_crossed": lambda rig: replace(rig, tubes=(Tube(1), Tube(0))),
    "tube_off": lambda rig: _tube(rig, off=True),
    "tubes_changed": lambda rig: _tube(rig, changed=True),
    "tube_leaks": lambda rig: _tube(rig, share=rig.seat.between(0, 0.5, 0.65, 0.05)),
    "tube_pinched": lambda rig: _tube(rig, lag_s=SLOW_FILTER_S),
    "tube_shut": lambda rig: _tube(rig, trapped_pa=_kept(rig)),
    "ref_in_stair": lambda rig: _tube(rig, in_stair=True),
    "ref_in_duct": lambda rig: _tube(rig, in_duct=True),
    "ref_wind": lambda rig: _tube(rig, outdoors=True),
    "stuck": lambda rig: _transmitter(rig, stuck_pa=_stuck_pa(rig)),
    "noise": lambda rig: _transmitter(rig, noise_pa=NOISE_SHARE * rig.seat.tops_pa[rig.seat.place]),
    "offset": lambda rig: _transmitter(rig, zero_pa=rig.seat.between(0, 12, 16)),
    "dead_counted": lambda rig: _transmitter(rig, dead=True),
    "short_range": _short_range,
    "rule": _other_rule,
    "gain_kept": _gain_kept,
    "action": lambda rig: _entered(rig, speed_rises=not rig.entered.speed_rises),
    "set_point": lambda rig: _entered(rig, uses="BA"["AB".index(rig.seat.uses)]),
    "filter_long": lambda rig: _input(rig, filter_s=SLOW_FILTER_S),
    "ramp_slow": lambda rig: _entered(rig, ramp_s=SLOW_RAMP_S),
    "relief_stuck": lambda rig: replace(rig, relief=_stuck(rig.relief)),
    "fan_backward": lambda rig: replace(rig, backward=True),
    "belt_slips": lambda rig: replace(rig, slips=True),
    "stop_threshold": _stop_too_high,
}
# Those that sit at one of the two transmitters, its tubes or its input.
PLACED = (
    "range_entered", "signal_type", "tube_off", "tubes_changed", "tube_leaks", "tube_pinched", "tube_shut", "ref_in_stair", "ref_in_duct",
    "ref_wind", "stuck", "noise", "offset", "dead_counted", "short_range", "filter_long",
)  # fmt: skip
