"""A plant's loop in time, through the same transmitters, combining, controller, drive and samples as a stair's."""

from dataclasses import replace

from helpers.model.loop.run import Setup, number_of_runs, run_on_air

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
    settings, rows = setup.settings or plant.settings(), len(conditions)
    demand = plant.low_demand_rule() if setup.low_demand is None else setup.low_demand
    sample_s = plant.site.control.sample_s if setup.sample_s is None else setup.sample_s
    setup = replace(setup, lag_s=plant.lag_s(setup), low_demand=demand, sample_s=sample_s)
    start_hz = plant.site.fan.lowest_speed_hz if setup.start_hz is None else setup.start_hz
    air = plant.table(conditions, setup, number_of_runs(rows, settings, setup), **start)
    return run_on_air(air, plant.site, setup, plant.transmitters(), settings, rows, start_hz)
