"""The settings schedule: what to enter in any drive or controller, in trade terms, with unit, value and reason, and room for that device's
own name of the setting.

In the order of the signal's way, from the wire to the fan; no device's menu, number or name is in it.
"""

from dataclasses import dataclass

from helpers import units
from helpers.formulas import action as actions
from helpers.formulas import signals
from helpers.studies.figures import PRACTICE, Table, fine

__all__ = ["Setting", "schedule_table", "settings_schedule"]

COLUMNS = ("What", "Setting", "Value", "Why", "This device's own name for it")


@dataclass(frozen=True)
class Setting:
    """One line: what it belongs to, the setting in trade terms, its value with unit, and why."""

    group: str
    name: str
    value: str
    why: str


def settings_schedule(site, tuned=None, strategy=None, system="Pa"):
    """Everything to enter for a stair site's loop.

    tuned: gain and integral_s to enter instead of the site's own (a `Candidate` of the tuning study), or None; strategy: a `Strategy` for
    fallback and alarms, or None; system: one of units.SYSTEMS. Returns a tuple of `Setting`.
    """
    return (
        *(line for tap in site.transmitters for line in _input(tap, system)),
        *_combining(site),
        *_loop(site, tuned, system),
        *_speed(site),
        *_failing(site, strategy, system),
        *_stopping(site, system),
    )


def schedule_table(site, tuned=None, strategy=None, system="Pa"):
    """The schedule as a table with a blank column."""
    rows = tuple((line.group, line.name, line.value, line.why, "") for line in settings_schedule(site, tuned, strategy, system))
    note = "Enter, read back, and prove with injected signals. What a device does not have is left as a line drawn through."
    return Table("settings", "Settings schedule", COLUMNS, rows, note=note)


def _input(tap, system):
    low, high, unit = signals.SIGNALS[tap.signal]
    ends = [fine(end, system) for end in (tap.range_low_pa, tap.range_high_pa)]
    yield Setting(tap.name, "signal type", tap.signal, "as the instrument sends it: read its plate")
    yield Setting(tap.name, "display at the low end of the signal", f"{ends[0]} at {low:g} {unit}", "low end of the instrument's range")
    yield Setting(tap.name, "display at the high end of the signal", f"{ends[1]} at {high:g} {unit}", "high end of the instrument's range")
    yield Setting(tap.name, "filter time", units.show(tap.filter_s, "time", system), "long enough for gusts, short beside the recovery")
    if signals.live_zero(tap.signal):
        bands = [low + (high - low) * percent / 100 for percent in (signals.FAILED_LOW_PERCENT, signals.FAILED_HIGH_PERCENT)]
        why = "NAMUR NE 43 (memory)" if tap.signal == "4-20 mA" else "the bands that NAMUR NE 43 (memory) has for 4-20 mA, by share"
        yield Setting(tap.name, "signal failed", f"below {bands[0]:.2f} or above {bands[1]:.2f} {unit}", why)
    else:
        yield Setting(tap.name, "signal failed", "cannot be seen", "a true zero: a dead wire reads as no pressure")


def _combining(site):
    if len(site.transmitters) == 1:
        return
    weights = site.control.weights
    value = f"{site.control.rule} reading" + (f", weights {', '.join(f'{weight:g}' for weight in weights)}" if weights else "")
    yield Setting("combining", "which reading runs the loop", value, "see average, lowest or highest")
    yield Setting("combining", "a failed reading", "left out, never averaged in", PRACTICE)


def _loop(site, tuned, system):
    control, first = site.control, site.transmitters[0]
    gain, integral = (control.gain, control.integral_time_s) if tuned is None else (tuned.gain, tuned.integral_s)
    span = first.range_high_pa - first.range_low_pa
    why = "as the site file has it" if tuned is None else "safe in all step tests of the tuning study"
    way, band = "slows down" if control.action == "reverse" else "speeds up", float(actions.proportional_band(gain))
    yield Setting("loop", "set point", fine(control.set_point_pa, system), "see the rule's set points")
    yield Setting("loop", "action", control.action, f"the fan {way} when the reading is too high")
    yield Setting("loop", "gain", f"{gain:.3g} % of full speed by % of a span of {fine(span, system)}", why)
    yield Setting("loop", "or proportional band", f"{band:.3g} % of that span", "100 divided by the gain")
    yield Setting("loop", "integral time", units.show(integral, "time", system, 2), why)
    yield Setting("loop", "or integral rate", f"{60 / integral:.3g} repeats a minute", "60 divided by the integral time in seconds")
    yield Setting("loop", "derivative time", "none", "a pressure with gusts on it is no reading to differentiate")
    yield Setting("loop", "sample time", units.show(control.sample_s, "time", system), "short beside filter and integral time")


def _speed(site):
    fan = site.fan
    ramp = f"{fan.ramp_s:g} s from standstill to {fan.reference_speed_hz:g} Hz"
    yield Setting("fan", "lowest speed", f"{fan.lowest_speed_hz:g} Hz", "as the site file has it; motor cooling decides")
    yield Setting("fan", "highest speed", f"{fan.highest_speed_hz:g} Hz", "as the site file has it")
    yield Setting("fan", "ramp", ramp, "up and down; see the recovery after a door")
    yield Setting("fan", "manual override, fire alarm input", "outrank the loop", "life safety")


def _failing(site, strategy, system):
    does = "use the good ones" if strategy is None else strategy.on_bad_reading.does
    preset = None if strategy is None else strategy.on_bad_reading.preset_speed_hz
    does = does if preset is None else f"{does}, {preset:g} Hz"
    yield Setting("failure", "on a failed reading", does, "the doors are held by what is left")
    alarms = None if strategy is None else strategy.alarms
    for name, limit in (("low", alarms and alarms.low_pa), ("high", alarms and alarms.high_pa)):
        value = "to be agreed" if limit is None else f"{units.show(limit, 'pressure', system)} for {alarms.after_s:g} s"
        yield Setting("failure", f"{name} alarm", value, "outside what is normal, inside what the doors bear")


def _stopping(site, system):
    stop = site.control.low_demand
    if site.control.fire_mode:
        yield Setting("low demand", "low-demand stop", "off", "never active in the fire mode")
    elif stop is None:
        yield Setting("low demand", "low-demand stop", "off", "none is asked for")
    else:
        below = f"{stop.stop_below_hz:g} Hz for {stop.stop_after_s:g} s"
        deficit = units.show(stop.restart_deficit_pa, "pressure", system)
        again = f"{deficit} below the set point for {stop.restart_after_s:g} s"
        yield Setting("low demand", "stop below", below, "above idle speed, below the lowest duty")
        yield Setting("low demand", "restart", again, "starts an hour the motor bears")
