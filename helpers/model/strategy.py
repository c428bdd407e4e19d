"""Somebody's strategy for a stair's fan loop, as a file of its own: what is measured, what was entered in the drive, how the loop acts.

A strategy may hold any mistake that a person can make on site; the review finds it. Only what cannot be read at all is refused, with the
line. The strategy is laid over the site it is for: `applied` gives that site with the instruments, rule and settings of the strategy.
Strategies of other plants stand in `plant_strategies`.
"""

from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.site.reading import read_site, read_site_text
from helpers.model.site.schema import Level, LowDemand, Text, WholeSite
from helpers.model.strategy_parts import (
    FALLBACKS,
    MODES,
    SETTINGS_CHECKS,
    Alarms,
    BadReading,
    Mode,
    Override,
    PressureInput,
    PressureLoop,
    Restart,
)

__all__ = ["FALLBACKS", "MODES", "Alarms", "BadReading", "Strategy", "StrategyInput", "applied", "changed_by", "read_strategy",
           "read_strategy_text", "set_point_of"]  # fmt: skip


class StrategyInput(PressureInput):
    """One transmitter of a stair and what was entered for it.

    `reference_in_wind`: whether the low side's tube ends outdoors without a shield.
    """

    level: Level
    reference: Literal["floor", "lobby", "outdoors"] = "floor"
    reference_in_wind: bool = False


class Strategy(WholeSite):
    """A whole strategy of a stair; `site` is the site file it is for, by its name beside this file or among the demo sites."""

    checks: ClassVar[tuple] = SETTINGS_CHECKS

    kind: Literal["strategy"]
    invented: bool = False
    site: Text
    mode: Mode
    inputs: Annotated[list[StrategyInput], Field(min_length=1)]
    loop: PressureLoop
    low_demand: LowDemand | None = None
    on_bad_reading: BadReading = BadReading()
    alarms: Alarms = Alarms()
    override: Override | None = None
    restart: Restart | None = None

    @property
    def set_point(self):
        """The set point [Pa], entered as a pressure or in per cent of the first input's entered span."""
        return set_point_of(self.loop, self.loop.set_point_pa, self.inputs)


def set_point_of(loop, stated, inputs):
    """The set point in the reading's unit: as stated, or from per cent of the span entered for the first of the inputs."""
    if loop.set_point_percent_span is None:
        return stated
    _, low, high = inputs[0].entered
    return low + loop.set_point_percent_span / 100 * (high - low)


def read_strategy(path):
    """Read a stair's strategy file. Returns `Strategy`; raises SiteFileError naming every mistake with its table, key and line."""
    return read_site(Path(path), kinds=(Strategy,))


def read_strategy_text(text, name="strategy text"):
    """Read a stair's strategy from the text of a file; name is what refusals call it. Returns and raises as read_strategy."""
    return read_site_text(text, name, kinds=(Strategy,))


def applied(strategy, site):
    """The stair site as the strategy makes it: its instruments with their true ranges, rule, set point, action, limits and ramps.

    Whether it serves smoke control is the site's to say: a strategy cannot take it away, only add it to a comfort site.
    Left out is what no site may have and the review names: a low-demand stop in smoke control, and a set point that no instrument measures
    (the middle of the first range stands for it). Raises SiteFileError for what cannot be built at all on this site, such as a
    transmitter on a storey that is not there.
    """
    target = strategy.set_point
    if not any(one.range_low_pa <= target <= one.range_high_pa for one in strategy.inputs):
        target = sum(strategy.inputs[0].range) / 2
    own = ("level", "reference", "range_low_pa", "range_high_pa")
    return site.with_changes(**changed_by(strategy, site, {"set_point_pa": target}, own))


def changed_by(strategy, site, set_point, own):
    """What a strategy changes of its site: control, transmitters and fan, for `with_changes`.

    set_point: the control's field of it with its value; own: fields of an input that its plant's transmitters have besides those of all.
    """
    loop, smoke_control = strategy.loop, site.control.fire_mode or strategy.mode == MODES[0]
    limits = ("lowest_speed_hz", "highest_speed_hz", "ramp_s", "ramp_down_s")
    control = set_point | {
        "rule": loop.rule, "weights": loop.weights, "action": loop.action, "gain": loop.controller_gain,
        "integral_time_s": loop.integral_s or site.control.integral_time_s, "sample_s": loop.sample_s, "fire_mode": smoke_control,
        "low_demand": None if smoke_control else strategy.low_demand,
    }  # fmt: skip
    every = ("name", "signal", "accuracy_percent_span", "converter_bits", "filter_s", *own)
    fan = {name: getattr(loop, name) for name in limits if getattr(loop, name) is not None}
    # What is entered in the drive stands for the loop in smoke control too.
    fan |= {f"smoke_{name}": None for name in fan if name in limits[:2]}
    return {"control": control, "transmitters": [_transmitter(one, every, site) for one in strategy.inputs], "fan": fan}


def _transmitter(one, every, site):
    """An input as the plant's transmitter; its damping where the strategy states one (a gas transmitter has its cell's response)."""
    damped = one.damping_s is not None and "damping_s" in type(site.transmitters[0]).model_fields
    return {name: getattr(one, name) for name in every} | ({"damping_s": one.damping_s} if damped else {})
