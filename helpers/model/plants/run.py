"""A plant's loop in time, through the same transmitters, combining, controller, drive and samples as a stair's."""

import numpy as np

from helpers.formulas import require
from helpers.model.loop.controller import Controller
from helpers.model.loop.drive import Drive
from helpers.model.loop.run import Setup, _Combiner, _Parts, _run
from helpers.model.loop.signal_chain import SignalChain

__all__ = ["run_plant", "setup_of"]


def setup_of(plant, length_s, **more):
    """A `Setup` for a run of some length with the site's own sample time; more: its other fields, events as `Turn`s."""
    return Setup(length_s, **{"sample_s": plant.site.control.sample_s} | more)


def run_plant(plant, conditions, setup, **start):
    """Run a plant's loop. conditions: one row, or one a run; setup: events are `Turn`s, and where it says nothing the site's own settings,
    rule and low-demand stop hold; start: further words to the plant's table, such as a garage's start_ppm. Returns `LoopRun`.

    A run's readings, set point and tubes bear the reading's own unit, ppm in a garage, whatever their names say.
    Raises ValueError for times, faults, events, settings that cannot be.
    """
    site, settings = plant.site, setup.settings or plant.settings()
    runs = max(len(conditions), *[np.size(v) for v in vars(settings).values()], np.size(setup.ramp_s))
    steps = round(float(require.positive(length_s=setup.length_s)) / float(require.positive(sample_s=setup.sample_s)))
    fan, control, transmitters = site.fan, site.control, plant.transmitters()
    start_hz = fan.lowest_speed_hz if setup.start_hz is None else setup.start_hz
    fire = control.fire_mode if setup.fire_mode is None else setup.fire_mode
    rule = plant.low_demand_rule() if setup.low_demand is None else setup.low_demand
    air = plant.table(conditions, setup, runs, **start)
    chain = SignalChain(transmitters, setup.inputs, setup.faults, runs, setup.sample_s, plant.lag_s(setup), setup.length_s)
    lowest = fan.lowest_speed_hz / fan.highest_speed_hz * 100
    controller = Controller(settings, setup.sample_s, runs, lowest, 100 * start_hz / fan.highest_speed_hz)
    drive = Drive(fan, setup.sample_s, runs, start_hz, rule, fire, setup.ramp_s)
    combiner = _Combiner(setup.rule or control.rule, setup.weights or control.weights)
    return _run(_Parts(air, chain, controller, drive, combiner), np.arange(steps) * setup.sample_s, len(transmitters), runs, setup.hand)
