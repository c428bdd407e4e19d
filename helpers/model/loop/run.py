"""One loop, run in time, in a real controller's order: read, filter, check bands, combine, compare, control, limit, ramp, low demand."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Protocol

import numpy as np

from helpers import require
from helpers.formulas import fan as wheel
from helpers.formulas.combining import RULES, combine
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.loop.arithmetic import ManyRuns, OneRun, arithmetic_for
from helpers.model.loop.controller import INTEGRAL_STOPS, Controller, ControllerSettings, Drive
from helpers.model.loop.events import schedule
from helpers.model.loop.signal_chain import Combiner, Inputs, SignalChain
from helpers.model.site.tolerances import inertia_box, played_lags
from helpers.model.sweep import SPEEDS, AirTable, at, meets

MOST_SAMPLES = 1_000_000  # ours: a day at ten a second


@dataclass(frozen=True)
class Setup:
    """What is set up for a run beside the site; where it says nothing (None) the site's own holds.

    settings: `ControllerSettings`; hand: tuple of (from_s, to_s, per cent of full speed, one or [runs]); start_hz: fan speed at the start
    (None:
    the speed that holds the set point under the first conditions); ramp_s, ramp_down_s: of the drive (a ramp_s given alone counts both
    ways); lag_s: of the transmitters with damping and tubes, as one lag; more_lag_s: one more on top of what
    there is; dead_time_s: in all, as `site.boxes.loop_lags` counts it, the block cycle's part included (None: scan, bus and tubes as
    stated, and of the cycle no more than the samples bring, which is next to nothing); low_demand: a `LowDemandRule` (one
    that stops below 0 Hz never stops); speeds: at how many the air is solved; every_reading: keep those of each transmitter in the record.
    Times and ramps are one number or one a run.
    """

    length_s: float
    sample_s: float | None = None
    events: tuple = ()
    faults: tuple = ()
    settings: ControllerSettings | None = None
    inputs: Inputs | None = None
    rule: str | None = None
    weights: tuple | None = None
    hand: tuple = ()
    start_hz: float | None = None
    ramp_s: float | None = None
    ramp_down_s: float | None = None
    lag_s: float | None = None
    more_lag_s: float = 0.0
    dead_time_s: float | None = None
    low_demand: LowDemandRule | None = None
    fire_mode: bool | None = None
    speeds: int = SPEEDS
    every_reading: bool = True


class LoopAir(Protocol):
    """The air a run is played on: `read` takes what `course` gives for a sample, as of `AirTable`; a wheel that coasts asks `power_w`,
    unless a drive is given: its `coast_s` is then set by whoever gives it."""

    def course(self, times_s: np.ndarray, arithmetic: OneRun | ManyRuns, /) -> Iterable: ...

    def read(self, lines, speed_hz: float | np.ndarray, arithmetic: OneRun | ManyRuns, /) -> list | np.ndarray: ...


@dataclass
class LoopRun:
    """What a run did, arrays [samples, runs] or [samples, transmitters, runs].

    time_s [samples]; speed_hz of the fan at that time; output_percent that the controller gives then; reading_pa (combined, as the
    controller sees it); readings_pa (NaN where one may not be used) and tubes_pa (true pressure at the tubes), None where they were not
    kept; lost: where there was no reading to go by; running: False in a low-demand stop; settings; `air` the table it ran on; rule: of
    combining, and its weights; ends_hz: lowest and highest speed of the drive, in smoke control those; assumed: sentences about what
    the site does not state and was played all the same.
    """

    time_s: np.ndarray
    speed_hz: np.ndarray
    output_percent: np.ndarray
    reading_pa: np.ndarray
    readings_pa: np.ndarray | None
    tubes_pa: np.ndarray | None
    lost: np.ndarray
    running: np.ndarray
    settings: ControllerSettings
    air: LoopAir
    rule: tuple = ("average", None)
    ends_hz: tuple = (0.0, 50.0)
    assumed: tuple = ()

    @property
    def usable(self):
        """Whether each reading may be used [samples, transmitters, runs]."""
        return np.isfinite(self.readings_pa)

    @property
    def sample_s(self):
        """Time from sample to sample [s]."""
        return float(self.time_s[1] - self.time_s[0])

    @property
    def set_point_pa(self):
        """Set point, a number or [runs]."""
        return self.settings.set_point_pa

    def of_runs(self, numbers, air):
        """`LoopRun` of some of the runs alone; numbers: a slice; air: their own table."""
        names = ("speed_hz", "output_percent", "reading_pa", "readings_pa", "tubes_pa", "lost", "running")
        series = {name: value[..., numbers] for name in names if (value := getattr(self, name)) is not None}
        runs = self.speed_hz.shape[-1]
        settings = {name: value[numbers] if np.size(value) == runs > 1 else value for name, value in vars(self.settings).items()}
        return replace(self, settings=type(self.settings)(**settings), air=air, **series)

    @property
    def remarks(self):
        """What somebody who reads the run should know, in sentences."""
        return tuple(_remarks(self))


def settings_of(site):
    """The site's own controller settings; its gain works on the span of the first transmitter."""
    control, first = site.control, site.transmitters[0]
    span, stops = first.range_high_pa - first.range_low_pa, control.integral_stops or INTEGRAL_STOPS[0]
    return ControllerSettings(
        control.set_point_pa, span, control.gain, control.integral_time_s, action=control.action, integral_stops=stops
    )


def own_low_demand(site):
    """The site's own low-demand rule; None where it has none."""
    own = site.control.low_demand
    return own and LowDemandRule(own.stop_below_hz, own.stop_after_s, own.restart_deficit_pa, own.restart_after_s)


def run_loop(tower, conditions, setup, transmitters=None, air=None):
    """Run a site's loop. conditions: one row, or one a run; air: the table of an earlier run with the same conditions, events and
    transmitters, which then is not solved again. Returns `LoopRun`.

    Raises ValueError for times, faults, events, settings, a table that cannot be.
    """
    site = tower.site
    transmitters = site.transmitters if transmitters is None else transmitters
    settings = setup.settings or settings_of(site)
    scheduled = schedule(tower, conditions, setup.events, setup.length_s)
    if air is None:
        air = AirTable.of(tower, scheduled, transmitters, setup.speeds)
    else:
        air.check_fits(scheduled, len(transmitters))
    start_hz = _settled_hz(air, site, setup, settings, tower.effect) if setup.start_hz is None else setup.start_hz
    return run_on_air(air, site, setup, transmitters, settings, len(conditions), start_hz)


def run_on_air(air, site, setup, transmitters, settings, rows, start_hz, drive=None):
    """Run a loop of a site's transmitters, controller, drive and fan on any air that has a `course` and can be `read` as `AirTable`.

    rows: of conditions, one or one a run; start_hz, a number or [runs]; drive: in the place of the site's own, as `TwoDrives`.
    Returns `LoopRun`; raises ValueError as `run_loop`.
    """
    control, runs = site.control, number_of_runs(rows, settings, setup)
    sample = require.single_positive(sample_s=control.sample_s if setup.sample_s is None else setup.sample_s)
    length = require.single_positive(length_s=setup.length_s)
    if not 1.5 <= length / sample <= MOST_SAMPLES:  # before anything of that length is made
        raise ValueError(f"sample_s must fit into the run of {length:g} s from twice to {MOST_SAMPLES} times, got {sample:g}")
    arithmetic, fan, count = arithmetic_for(runs), site.fan, len(transmitters)
    fire = control.fire_mode if setup.fire_mode is None else require.of_kind(bool, fire_mode=setup.fire_mode)
    demand = own_low_demand(site) if setup.low_demand is None else setup.low_demand
    any_will_do = settings.fallback == "use the good ones"
    per_percent = fan.highest_speed_hz / 100
    lowest, highest = (speed / per_percent for speed in fan.speed_limits_hz(fire))
    if drive is None:
        coast_s = _coast_s(air, fan) if fan.brake == "none" else None
        drive = Drive(fan, sample, start_hz, demand, fire, setup.ramp_s, arithmetic, setup.ramp_down_s, coast_s)
    lags, late_s, assumed = _lags(transmitters, control, setup, sample)
    parts = _Parts(
        air,
        SignalChain(transmitters, setup.inputs, setup.faults, sample, lags[0], length, arithmetic, lags[1:], late_s),
        Combiner(*_rule_of(setup, control), count, any_will_do, arithmetic),
        Controller(settings, sample, lowest, drive.follows_hz / per_percent, arithmetic, highest),
        drive,
    )
    times = np.arange(round(length / sample)) * sample
    record = _Recorder.empty(arithmetic, len(times), count, demand is not None, setup.every_reading)
    _run(parts, times, _by_hand(times, setup.hand, length), record, arithmetic)
    if fan.brake is None and fan.inertia_kg_m2 is not None:
        assumed = (*assumed, "No brake is stated: the fan was played as slowing on its ramp, whatever the wheel gives back.")
    told = {"rule": _rule_of(setup, control), "ends_hz": fan.speed_limits_hz(fire), "assumed": assumed}
    return record.finished(times, settings, air, arithmetic, **told)


def _lags(transmitters, control, setup, sample):
    """Lags one behind the other, the transmitters' own first, how late readings arrive, and sentences about what is not stated."""
    played = played_lags(transmitters, control)
    lags, assumed = (played.lags_s, played.told) if setup.lag_s is None else ((setup.lag_s,), ())
    late = played.late_s
    if setup.dead_time_s is not None:
        # An output waits half a sample and takes half of one to act; either lag below runs half a sample ahead of its equation.
        filters = (setup.inputs or Inputs.matching(transmitters)).filter_s
        own = sample * (1 - 0.5 * (np.asarray(lags[0]) > 0) - 0.5 * (np.reshape(filters, (-1, 1)) > 0))
        late = require.at_least(sample * (1 - 1e-9), dead_time_s=setup.dead_time_s) - own
    return [*lags, setup.more_lag_s], late, assumed


def _coast_s(air, fan):
    """Time [runs] in which the wheel without a brake falls from the highest speed to half of it, the air as at the first moment."""
    electric = air.power_w[air.state[0], -1, 0] if hasattr(air, "state") else air.power_w[-1]
    shaft = np.maximum(electric * fan.motor_efficiency * fan.drive_efficiency, 1.0)  # never none: bearings take a watt
    turning = wheel.angular_speed(fan.highest_speed_hz, fan.motor_poles)
    return wheel.coasting_time_constant(inertia_box(fan).likely, turning, shaft)


@dataclass
class _Parts:
    air: LoopAir
    chain: SignalChain
    combiner: Combiner
    controller: Controller
    drive: Drive


def _run(parts, times, by_hand, record, arithmetic):
    """All samples of a run, into its record."""
    air, chain, combiner, controller, drive = (getattr(parts, field.name) for field in fields(parts))
    speed, speeds, outputs, reads = drive.speed_hz, record.speed, record.output, record.reading
    for k, (time, lines, hand) in enumerate(zip(times.tolist(), air.course(times, arithmetic), by_hand, strict=True)):
        tubes = air.read(lines, speed, arithmetic)
        rows = chain.read(tubes, time)
        reading, lost = combiner.combine(rows, chain.doubtful)
        out = lost if drive.holds is False else lost | drive.holds  # held by what happens to the fan
        output = controller.step(reading, out, hand, drive.stopped)
        speeds[k], outputs[k], reads[k] = speed, output, reading
        if record.tubes is not None:
            record.tubes[k], record.readings[k] = tubes, rows
        if lost is not False:
            record.lost[k] = lost
        if drive.stop is not None:
            record.stopped[k] = drive.stopped
        speed = drive.step(output, controller, lost if hand is None else True)
        if controller.minds_ramp:
            controller.behind_hz = drive.behind_hz


@dataclass
class _Recorder:
    speed: list | np.ndarray
    output: list | np.ndarray
    reading: list | np.ndarray
    readings: list | np.ndarray | None
    tubes: list | np.ndarray | None
    lost: np.ndarray
    stopped: np.ndarray | None

    @classmethod
    def empty(cls, arithmetic, samples, count, may_stop, every_reading):
        series = [arithmetic.record(samples) for _ in range(3)]
        rows = [arithmetic.record(samples, count) if every_reading else None for _ in range(2)]
        flags = [np.zeros((samples, arithmetic.runs), bool) if there else None for there in (True, may_stop)]
        return cls(*series, *rows, *flags)

    def finished(self, times, settings, air, arithmetic, **told):
        names = ("speed", "output", "reading", "readings", "tubes")
        series = [None if getattr(self, name) is None else arithmetic.recorded(getattr(self, name)) for name in names]
        lost = ~np.isfinite(series[2]).all(axis=-1)
        if lost.any():
            raise ValueError(f"air must give a number for every pressure, got none at {times[lost.argmax()]:g} s")
        running = np.broadcast_to(True, self.lost.shape) if self.stopped is None else ~self.stopped
        return LoopRun(times, *series, self.lost, running, settings, air, **told)


def _rule_of(setup, control):
    """Signal selection and weights: the site's weights go with the site's rule only."""
    rule = control.rule if setup.rule is None else require.one_of(RULES, rule=setup.rule)
    own = control.weights if rule == control.rule else None
    return rule, own if setup.weights is None else setup.weights


def number_of_runs(rows, settings, setup):
    """How many runs there are: conditions, settings, ramps, starts and low-demand rules are one for all or one a run."""
    numbers = {name: getattr(setup, name) for name in ("ramp_s", "ramp_down_s", "start_hz", "more_lag_s", "dead_time_s")}
    numbers |= {"lag_s": setup.lag_s} if np.ndim(setup.lag_s) < 2 else {}  # a garage gives one for each transmitter
    numbers |= setup.low_demand._asdict() if setup.low_demand else {}
    given = [require.finite(**{name: value}) for name, value in numbers.items() if value is not None]
    given += [*vars(settings).values(), *(require.finite(hand=percent) for *_, percent in setup.hand)]
    sizes = {rows, *map(np.size, given)} - {1}
    if len(sizes) > 1:
        raise ValueError(
            f"conditions and settings must be one for all runs or one a run, got {' and '.join(map(str, sorted(sizes)))} of them"
        )
    return sizes.pop() if sizes else 1


def _settled_hz(air, site, setup, settings, effect):
    """The speed [runs] at which the combined reading meets the set point under the first conditions, or the drive's limit on its way."""
    speeds, readings = air.at_start()
    rule, weights = _rule_of(setup, site.control)
    combined = effect * combine(readings, rule, weights=weights, axis=1).T
    met = at(speeds, meets(combined, effect * np.ravel(settings.set_point_pa)).place)
    fire = site.control.fire_mode if setup.fire_mode is None else setup.fire_mode
    return np.clip(met, *site.fan.speed_limits_hz(fire))


def _by_hand(times, hand, length):
    """Per cent by hand at every sample, None in automatic."""
    asked = [None] * len(times)
    for from_s, to_s, percent in hand:
        from_s, to_s = require.single(hand=from_s), require.single(hand=to_s)
        if not 0 <= from_s < to_s:
            raise ValueError(f"hand must be from a time to a later one, got {from_s:g} to {to_s:g}")
        if from_s > length:
            raise ValueError(f"hand must begin within the run of {length:g} s, got {from_s:g}")
        percent = require.between(0, 100, hand=percent)
        for k in np.flatnonzero((times >= from_s) & (times < to_s)):
            asked[k] = percent
    return asked


def _remarks(run):
    settings, sample = run.settings, run.sample_s
    if np.any(np.asarray(settings.integral_s) == 0):
        yield "No integral action (an integral time of zero means none): the reading may come to rest beside the set point."
    if run.lost.any():
        did = "went to its preset speed" if settings.fallback == "preset speed" else "held its last value"
        yield f"No reading to go by for {run.lost.sum(axis=0).max() * sample:.1f} s: the output {did}."
    elif run.readings_pa is not None and not run.usable.all():
        bad = np.flatnonzero(~run.usable.all(axis=(0, 2))) + 1
        yield f"Left out because its signal had failed: transmitter {' and '.join(map(str, bad))}."
    yield from run.assumed
