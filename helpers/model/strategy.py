"""Somebody's strategy for a fan loop, as a file of its own: what is measured, what was entered in the drive, how the loop acts.

A strategy may hold any mistake that a person can make on site; the review finds it. Only what cannot be read at all is refused, with the
line. The strategy is laid over the site it is for: `applied` gives that site with the instruments, rule and settings of the strategy.
"""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.site import checks as of_sites
from helpers.model.site.quantities import Choice, Quantity, Section
from helpers.model.site.reading import read_site, read_site_text
from helpers.model.site.schema import (
    AccuracyOfSpan,
    ActionName,
    ConverterBits,
    Gain,
    Level,
    LowDemand,
    Pressure,
    RuleName,
    SignalName,
    Speed,
    Step,
    Text,
    Time,
    Weights,
    WholeSite,
)

__all__ = [
    "FALLBACKS",
    "MODES",
    "Alarms",
    "BadReading",
    "Loop",
    "Strategy",
    "StrategyInput",
    "applied",
    "read_strategy",
    "read_strategy_text",
]

MODES = ("smoke control", "comfort")
FALLBACKS = ("use the good ones", "hold the last", "go to a preset speed", "nothing")


@dataclass(frozen=True)
class Reworded(Choice):
    """A choice whose words were others in files written before: old (word, what it is now) are read, and become what they are now."""

    old: tuple = ()

    def read(self, value):
        """Give the word of today, or refuse as a choice does."""
        return super().read(dict(self.old).get(value, value) if isinstance(value, str) else value)


class StrategyInput(Section):
    """One transmitter and what was entered for it: `range` and `signal` are the instrument's, `entered` what the drive believes.

    `reference_in_wind`: whether the low side's tube ends outdoors without a shield. What was entered is as the instrument, unless stated.
    """

    name: Text
    level: Level
    reference: Literal["floor", "lobby", "outdoors"] = "floor"
    reference_in_wind: bool = False
    range_low_pa: Pressure
    range_high_pa: Pressure
    signal: SignalName
    accuracy_percent_span: AccuracyOfSpan = 1.0
    converter_bits: ConverterBits = 12
    filter_s: Time = 0.0
    entered_low_pa: Pressure | None = None
    entered_high_pa: Pressure | None = None
    entered_signal: SignalName | None = None

    @property
    def entered(self):
        """(signal, low, high) as the drive has them."""
        low = self.range_low_pa if self.entered_low_pa is None else self.entered_low_pa
        high = self.range_high_pa if self.entered_high_pa is None else self.entered_high_pa
        return self.entered_signal or self.signal, low, high

    @property
    def entered_as_it_is(self):
        """Whether the drive has the instrument's own range and signal."""
        return self.entered == (self.signal, self.range_low_pa, self.range_high_pa)


class Loop(Section):
    """How the loop acts. `gain` is per cent of full speed per per cent of the entered span; `gain_found_on` the span it was found on, where
    that was another; `integral_time` left out means none. Limits and ramp are the fan's own, unless stated."""

    rule: RuleName
    weights: Weights | None = None
    set_point_pa: Pressure
    action: ActionName
    gain: Gain
    gain_found_on_pa: Annotated[float, Quantity("pressure", "125 Pa", low=0, high=40000, open_low=True)] | None = None
    integral_time_s: Step | None = None
    sample_s: Step = 0.1
    lowest_speed_hz: Speed | None = None
    highest_speed_hz: Speed | None = None
    ramp_s: Time | None = None


class BadReading(Section):
    """What the drive does when a reading has failed."""

    does: Annotated[str, Choice(FALLBACKS)] = "nothing"
    preset_speed_hz: Speed | None = None


class Alarms(Section):
    """Alarm limits on the combined reading, and for how long it must be beyond them."""

    low_pa: Pressure | None = None
    high_pa: Pressure | None = None
    after_s: Time = 0.0


def names_are_single(draft):
    """No two inputs share a name."""
    counts = Counter(one.name for _, one in draft.items("inputs"))
    for key, one in draft.items("inputs"):
        if counts[one.name] > 1:
            yield ("inputs", key, "name"), f"must differ from the other inputs'; {one.name!r} is there more than once"


def ranges_stand_upright(draft):
    """A range's top is above its bottom, the instrument's and the entered one."""
    for key, one in draft.items("inputs"):
        for (low, high), name in (((one.range_low_pa, one.range_high_pa), "range"), (one.entered[1:], "entered")):
            if high <= low:
                yield ("inputs", key, f"{name}_high"), f"must be above {name}_low, {low:g} Pa; got {high:g} Pa"


def rule_is_complete(draft):
    """The rule has its weights, and enough readings."""
    as_site = of_sites.Draft(
        {"control": draft.sections.get("loop"), "transmitters": draft.sections.get("inputs", {})}, set(draft.whole_sections)
    )
    if "inputs" in draft.whole_sections:
        as_site.whole_sections.add("transmitters")
    for place, sentence in of_sites.rule_is_complete(as_site):
        yield ("loop", *place[1:]), sentence


class Strategy(WholeSite):
    """A whole strategy; `site` is the site file it is for, by its name beside this file or among the demo sites."""

    checks: ClassVar[tuple] = (names_are_single, ranges_stand_upright, rule_is_complete)

    kind: Literal["strategy"]
    invented: bool = False
    site: Text
    mode: Annotated[str, Reworded(MODES, (("fire", "smoke control"),))]
    inputs: Annotated[list[StrategyInput], Field(min_length=1)]
    loop: Loop
    low_demand: LowDemand | None = None
    on_bad_reading: BadReading = BadReading()
    alarms: Alarms = Alarms()


def read_strategy(path):
    """Read a strategy file. Returns `Strategy`; raises SiteFileError naming every mistake with its table, key and line."""
    return read_site(Path(path), kinds=(Strategy,))


def read_strategy_text(text, name="strategy text"):
    """Read a strategy from the text of a file; name is what refusals call it. Returns and raises as read_strategy."""
    return read_site_text(text, name, kinds=(Strategy,))


def applied(strategy, site):
    """The stair site as the strategy makes it: its instruments with their true ranges, rule, set point, action, limits and ramp.

    Whether it serves smoke control is the site's to say: a strategy cannot take it away, only add it to a comfort site.
    Left out is what no site may have and the review names: a low-demand stop in smoke control, and a set point that no instrument measures
    (the middle of the first range stands for it). Raises SiteFileError for what cannot be built at all on this site, such as a
    transmitter on a storey that is not there.
    """
    loop, fire = strategy.loop, site.control.fire_mode or strategy.mode == MODES[0]
    fan = {
        name: value
        for name, value in (("lowest_speed_hz", loop.lowest_speed_hz), ("highest_speed_hz", loop.highest_speed_hz), ("ramp_s", loop.ramp_s))
        if value is not None
    }
    measured = any(one.range_low_pa <= loop.set_point_pa <= one.range_high_pa for one in strategy.inputs)
    middle = (strategy.inputs[0].range_low_pa + strategy.inputs[0].range_high_pa) / 2
    control = {
        "rule": loop.rule, "weights": loop.weights, "set_point_pa": loop.set_point_pa if measured else middle,
        "action": loop.action, "gain": loop.gain,
        "integral_time_s": loop.integral_time_s or site.control.integral_time_s, "sample_s": loop.sample_s, "fire_mode": fire,
        "low_demand": None if fire else strategy.low_demand,
    }  # fmt: skip
    own = ("name", "level", "reference", "range_low_pa", "range_high_pa", "signal", "accuracy_percent_span", "converter_bits", "filter_s")
    transmitters = [{name: getattr(one, name) for name in own} for one in strategy.inputs]
    return site.with_changes(control=control, transmitters=transmitters, fan=fan)
