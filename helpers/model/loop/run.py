"""One loop, run in time, in a real controller's order: read, filter, check bands, combine, compare, control, limit, ramp."""

from dataclasses import dataclass, field

import numpy as np

from helpers.formulas import require
from helpers.formulas.combining import RULES, combine
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.loop.air_table import AirTable
from helpers.model.loop.controller import Controller, Settings
from helpers.model.loop.drive import Drive
from helpers.model.loop.events import schedule
from helpers.model.loop.signal_chain import SignalChain

__all__ = ["LoopRun", "Setup", "run_loop", "settings_of"]


@dataclass(frozen=True)
class Setup:
    """What is set up for a run beside the site: events, faults, hand times, and what of the site's control to change.

    settings: `Settings` (None: the site's own). hand: tuple of (from_s, to_s, per cent of full speed). start_hz: fan speed at the start.
    """

    length_s: float
    sample_s: float = 0.1
    events: tuple = ()
    faults: tuple = ()
    settings: Settings | None = None
    inputs: object = None
    rule: str | None = None
    weights: tuple | None = None
    hand: tuple = ()
    start_hz: float | None = None
    ramp_s: float | None = None
    lag_s: float = 0.1
    low_demand: LowDemandRule | None = None
    fire_mode: bool | None = None
    speeds: int = field(default=20)


@dataclass
class LoopRun:
    """What a run did, arrays [samples, runs] or [samples, transmitters, runs].

    time_s [samples]; speed_hz, output_percent, reading_pa (combined, as the controller sees it); readings_pa, usable, tubes_pa (true
    pressure at the tubes); set_point_pa; `air` the table it ran on.
    """

    time_s: np.ndarray
    speed_hz: np.ndarray
    output_percent: np.ndarray
    reading_pa: np.ndarray
    readings_pa: np.ndarray
    usable: np.ndarray
    tubes_pa: np.ndarray
    set_point_pa: float
    running: np.ndarray
    air: AirTable


def settings_of(site):
    """The site's own controller settings; its gain works on the span of the first transmitter."""
    control, first = site.control, site.transmitters[0]
    return Settings(
        control.set_point_pa, first.range_high_pa - first.range_low_pa, control.gain, control.integral_time_s, action=control.action
    )


def run_loop(tower, conditions, setup, transmitters=None):
    """Run a site's loop. conditions: one row, or one a run. Returns `LoopRun`.

    Raises ValueError for times, faults, events, settings that cannot be.
    """
    site = tower.site
    transmitters = site.transmitters if transmitters is None else transmitters
    settings = setup.settings or settings_of(site)
    runs = max(len(conditions), *[np.size(v) for v in vars(settings).values()], np.size(setup.ramp_s if setup.ramp_s is not None else 1))
    steps = round(float(require.positive(length_s=setup.length_s)) / float(require.positive(sample_s=setup.sample_s)))
    air = AirTable.of(tower, schedule(tower, conditions, setup.events, setup.length_s), transmitters, setup.speeds)
    fan, control = site.fan, site.control
    start = fan.lowest_speed_hz if setup.start_hz is None else setup.start_hz
    fire = control.fire_mode if setup.fire_mode is None else setup.fire_mode
    chain = SignalChain(transmitters, setup.inputs, setup.faults, runs, setup.sample_s, setup.lag_s, setup.length_s)
    lowest = fan.lowest_speed_hz / fan.highest_speed_hz * 100
    controller = Controller(settings, setup.sample_s, runs, lowest, 100 * start / fan.highest_speed_hz)
    drive = Drive(fan, setup.sample_s, runs, start, setup.low_demand, fire, setup.ramp_s)
    parts = _Parts(air, chain, controller, drive, _Combiner(setup.rule or control.rule, setup.weights or control.weights))
    return _run(parts, np.arange(steps) * setup.sample_s, len(transmitters), runs, setup.hand)


@dataclass
class _Parts:
    air: AirTable
    chain: SignalChain
    controller: Controller
    drive: Drive
    combiner: object


def _run(parts, times, count, runs, hand):
    air, settings = parts.air, parts.controller.set
    speed, output, combined = (np.empty((len(times), runs)) for _ in range(3))
    readings, tubes = np.empty((len(times), count, runs)), np.empty((len(times), count, runs))
    usable, running = np.empty((len(times), count, runs), bool), np.empty((len(times), runs), bool)
    before, share = air.moments(times)
    by_hand = _by_hand(times, hand)
    sign = parts.controller.sign
    now = parts.drive.speed_hz
    for k, (moment, part) in enumerate(zip(before.tolist(), share.tolist(), strict=True)):
        tubes[k] = air.read(moment, part, now)
        readings[k], usable[k] = parts.chain.read(tubes[k], times[k])
        combined[k], any_good = parts.combiner.combine(readings[k], usable[k], settings.fallback)
        output[k] = parts.controller.step(combined[k], any_good, by_hand[k], parts.drive.stopped_percent)
        now = speed[k] = parts.drive.step(output[k], sign * (settings.set_point_pa - combined[k]))
        running[k] = parts.drive.running
    return LoopRun(times, speed, output, combined, readings, usable, tubes, settings.set_point_pa, running, air)


def _by_hand(times, hand):
    """Per cent by hand at every sample, None in automatic."""
    asked = [None] * len(times)
    for from_s, to_s, percent in hand:
        if not 0 <= from_s < to_s:
            raise ValueError(f"hand must be from a time to a later one, got {from_s:g} to {to_s:g}")
        for k in np.flatnonzero((times >= from_s) & (times < to_s)):
            asked[k] = float(require.between(0, 100, hand=percent))
    return asked


class _Combiner:
    """Combines the readings of one sample. With every reading good the rules are one numpy call; bad ones go the careful way."""

    def __init__(self, rule, weights):
        self.rule, self.weights = require.one_of(RULES, rule=rule), weights
        self.last = None
        total = None if weights is None else np.asarray(weights, float)[:, None] / np.sum(weights)
        self.quick = {
            "average": lambda r: r.mean(axis=0),
            "lowest": lambda r: r.min(axis=0),
            "highest": lambda r: r.max(axis=0),
            "middle": lambda r: np.median(r, axis=0),
            "weighted": lambda r: (r * total).sum(axis=0),
        }[rule]

    def combine(self, readings, usable, fallback):
        if usable.all():
            self.last = self.quick(readings)
            return self.last, usable[0]
        value = combine(readings, self.rule, good=usable, weights=self.weights, axis=0)
        there = usable.any(axis=0) if fallback == "use the good ones" else usable.all(axis=0)
        held = value if self.last is None else np.where(there, value, self.last)
        self.last = np.nan_to_num(held)
        return self.last, there
