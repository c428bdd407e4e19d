"""Somebody's strategy for a fan loop, as a file of its own: what is measured, what was entered in the drive, how the loop acts, what it
does when something fails; what the files of stairs, ducts, relief fans and garages share.

Settings may be entered as drives ask for them: a gain or a proportional band, an integral time or repeats a minute, a set point as a
pressure or in per cent of span. One of each two; both is refused, and what the loop then works with is converted once, here.

A strategy may hold any mistake that a person can make on site; the review finds it. Only what cannot be read at all is refused, with the
line. The strategy is laid over the site it is for: `applied` gives that site with the instruments, rule and settings of the strategy.
"""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.formulas.action import gain_from_band
from helpers.model.site import checks as of_sites
from helpers.model.site import field_types as of
from helpers.model.site.schema import LowDemand, WholeSite

MODES = ("smoke control", "comfort")
FALLBACKS = (
    "use the good ones",
    "remaining reading at its own set point",
    "keep the speed",
    "agreed fallback speed",
    "median of three",
    "stop",
    "nothing",
)
OLD_FALLBACKS = (("hold the last", "keep the speed"), ("go to a preset speed", "agreed fallback speed"))
DISPLAY_UNITS = ("Pa", "hPa", "kPa", "mm w.c.", "in. w.c.", "ppm", "% of span")
RESTARTS = ("automatic", "by hand")


@dataclass(frozen=True)
class Reworded(of.OneOf):
    """A choice whose words were others in files written before: old (word, what it is now) are read, and become what they are now."""

    old: tuple = ()

    def read(self, value):
        """Give the word of today, or refuse as a choice does."""
        return super().read(dict(self.old).get(value, value) if isinstance(value, str) else value)


Mode = Annotated[str, Reworded(MODES, (("fire", "smoke control"),))]
OfSpan = Annotated[float, of.Quantity("percent", "30 %", low=0, high=100)]
Band = Annotated[float, of.Quantity("percent", "150 %", low=0, high=1e5, open_low=True)]
Repeats = Annotated[float, of.Quantity("ratio", "15", low=0, high=1e5, open_low=True)]


class UnitTable(of.SiteTable):
    """What is stated in the unit of what a loop holds: `unit` is the ending of its keys."""

    unit: ClassVar[str] = "pa"

    def stated(self, *names):
        """Values of these keys, without their ending; each None where nothing is stated."""
        return tuple(getattr(self, f"{name}_{self.unit}") for name in names)


class Sent(UnitTable):
    """A signal and what the drive takes it for, whatever it measures; a transmitter's `damping_s` is set at the instrument (left out: the
    site's own, or unknown), its `filter_s` in the drive. `display_unit`: in which unit the drive shows it."""

    name: of.Text
    signal: of.SignalName
    accuracy_percent_span: of.AccuracyOfSpan = 1.0
    converter_bits: of.ConverterBits = 12
    filter_s: of.Time = 0.0
    damping_s: of.Time | None = None
    display_unit: Annotated[str, of.OneOf(DISPLAY_UNITS)] | None = None
    entered_signal: of.SignalName | None = None

    @property
    def tag(self):
        """Its name, with its storey where it has one: what a reader needs to find it."""
        return f"{self.name} (storey {self.level})" if "level" in type(self).model_fields else self.name

    @property
    def entered(self):
        """(signal, low, high) as the drive has them."""
        ends = zip(self.stated("entered_low", "entered_high"), self.range, strict=True)
        return self.entered_signal or self.signal, *(end if entered is None else entered for entered, end in ends)

    @property
    def range(self):
        """(low, high) of the instrument."""
        return self.stated("range_low", "range_high")

    @property
    def own_limits(self):
        """(low, high) alarm limits on this reading alone, each None where there is none."""
        return self.stated("alarm_low", "alarm_high")

    @property
    def entered_as_it_is(self):
        """Whether the drive has the instrument's own range and signal."""
        return self.entered == (self.signal, *self.range)


class PressureInput(Sent):
    """A pressure transmitter: `range` and `signal` are the instrument's, `entered` what the drive believes; left out they are alike.

    `alarm_low_pa`, `alarm_high_pa`: limits on this reading alone."""

    range_low_pa: of.Pressure
    range_high_pa: of.Pressure
    entered_low_pa: of.Pressure | None = None
    entered_high_pa: of.Pressure | None = None
    alarm_low_pa: of.Pressure | None = None
    alarm_high_pa: of.Pressure | None = None


class LoopParts(of.SiteTable):
    """How a loop acts, whatever it measures. `gain` is per cent of full speed per per cent of the entered span, `proportional_band` its
    inverse; integral time or repeats a minute left out means none. Limits and ramps are the fan's own, unless stated."""

    rule: of.RuleName
    weights: of.Weights | None = None
    set_point_percent_span: OfSpan | None = None
    action: of.ActionName
    gain: of.Gain | None = None
    proportional_band_percent_span: Band | None = None
    integral_time_s: of.Step | None = None
    repeats_per_minute: Repeats | None = None
    derivative_time_s: of.Time = 0.0
    sample_s: of.Step = 0.1
    lowest_speed_hz: of.Speed | None = None
    highest_speed_hz: of.Speed | None = None
    ramp_s: of.Time | None = None
    ramp_down_s: of.Time | None = None

    @property
    def controller_gain(self):
        """Gain in force [% of full speed by % of span], from the gain or the proportional band."""
        band = self.proportional_band_percent_span
        return self.gain if band is None else float(gain_from_band(band))

    @property
    def integral_s(self):
        """Integral time in force [s], from the integral time or the repeats a minute; 0 for none."""
        return 60.0 / self.repeats_per_minute if self.repeats_per_minute else self.integral_time_s or 0.0


class PressureLoop(LoopParts):
    """A pressure loop. `gain_found_on_pa`: the span the gain was found on, where that was another; `dead_band_pa`: an error this small
    moves nothing."""

    set_point_pa: of.Pressure | None = None
    gain_found_on_pa: Annotated[float, of.Quantity("pressure", "125 Pa", low=0, high=40000, open_low=True)] | None = None
    dead_band_pa: of.Rise = 0.0


class FailedReading(UnitTable):
    """What the drive does when a reading has failed for `after_s`; `preset_speed_hz` is the agreed fallback speed."""

    does: Annotated[str, Reworded(FALLBACKS, OLD_FALLBACKS)] = "nothing"
    after_s: of.Time = 0.0
    preset_speed_hz: of.Speed | None = None

    @property
    def set_points(self):
        """Own set point of each reading that is left, by name."""
        return self.stated("set_points")[0] or {}


class BadReading(FailedReading):
    """The same of pressures: `set_points_pa` by the name of the reading that is left, where each is held at its own."""

    set_points_pa: dict[str, of.Pressure] | None = None


class AlarmParts(UnitTable):
    """Alarm limits on the combined reading and on the difference between any two readings, for how long they must be passed, and after
    how long at its lowest or highest speed the fan's end stop is told. Limits on one reading stand with the reading."""

    after_s: of.Time = 0.0
    end_stop_after_s: of.Time | None = None

    @property
    def limits(self):
        """(low, high, difference), each None where there is none."""
        return self.stated("low", "high", "difference")


class Alarms(AlarmParts):
    """The same of pressures."""

    low_pa: of.Pressure | None = None
    high_pa: of.Pressure | None = None
    difference_pa: of.Rise | None = None


class Override(of.SiteTable):
    """What a hand at the panel, or the fire service, makes the fan do: at which speed, and whether over the drive's own trips."""

    speed_hz: of.Speed
    over_trips: bool = False


class Restart(of.SiteTable):
    """What the drive does when the mains come back, and whether it catches a wheel that still turns."""

    after_mains: Annotated[str, of.OneOf(RESTARTS)]
    catches_turning_wheel: bool = False


def ranges_stand_upright(draft):
    """A range's top is above its bottom, the instrument's and the entered one."""
    for key, one in draft.items("inputs"):
        unit = {"pa": "Pa"}.get(one.unit, one.unit)
        for (low, high), name in ((one.range, "range"), (one.entered[1:], "entered")):
            if high <= low:
                yield ("inputs", key, f"{name}_high"), f"must be above {name}_low, {low:g} {unit}; got {high:g} {unit}"


def rule_is_complete(draft):
    """The rule has its weights, and enough readings."""
    as_site = of_sites.Draft(
        {"control": draft.sections.get("loop"), "transmitters": draft.sections.get("inputs", {})}, set(draft.whole_sections)
    )
    if "inputs" in draft.whole_sections:
        as_site.whole_sections.add("transmitters")
    for place, sentence in of_sites.rule_is_complete(as_site):
        yield ("loop", *place[1:]), sentence


def each_setting_once(draft):
    """A setting is entered in one of its two forms."""
    loop = draft.sections.get("loop")
    if loop is None:
        return
    pressure = "set_point_pa" if hasattr(loop, "set_point_pa") else "set_point_ppm"
    pairs = (
        ("set_point", "set_point_of_span", getattr(loop, pressure), loop.set_point_percent_span, True),
        ("gain", "proportional_band_of_span", loop.gain, loop.proportional_band_percent_span, True),
        ("integral_time", "repeats_per_minute", loop.integral_time_s, loop.repeats_per_minute, False),
    )
    for key, other, first, second, needed in pairs:
        if first is not None and second is not None:
            yield ("loop", other), f"must be left out where {key} is stated: they are two forms of one setting, and the loop has one"
        if needed and first is None and second is None:
            yield ("loop", key), f"is missing; state it, or {other} in its place"


def fallback_can_be(draft):
    """A fallback names readings that are there, and the middle of three needs three."""
    bad, names = draft.sections.get("on_bad_reading"), [one.name for _, one in draft.items("inputs")]
    if bad is None or not draft.whole("inputs"):
        return
    known = ", ".join(map(repr, names))
    for name in bad.set_points:
        if name not in names:
            yield ("on_bad_reading", "set_points", name), f"must be the name of one of the inputs ({known}); got {name!r:.60}"
    if bad.does == "median of three" and len(names) < 3:
        yield ("on_bad_reading", "does"), f"must be another where fewer than three inputs are there: {len(names)} have no median"


SETTINGS_CHECKS = (
    of_sites.names_are_single,
    of_sites.counts_have_limits,
    ranges_stand_upright,
    rule_is_complete,
    each_setting_once,
    fallback_can_be,
)


class StrategyInput(PressureInput):
    """One transmitter of a stair and what was entered for it.

    `reference_in_wind`: whether the low side's tube ends outdoors without a shield.
    """

    level: of.Level
    reference: Literal["floor", "lobby", "outdoors"] = "floor"
    reference_in_wind: bool = False


class OfPressure(WholeSite):
    """What the strategies of stairs, ducts and buildings share; `site` is the site file it is for, by its name beside this file or among
    the demo sites."""

    checks: ClassVar[tuple] = SETTINGS_CHECKS

    invented: bool = False
    site: of.Text
    mode: Mode = "comfort"
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


class Strategy(OfPressure):
    """A whole strategy of a stair."""

    kind: Literal["strategy"]
    mode: Mode
    inputs: Annotated[list[StrategyInput], Field(min_length=1)]


def stated_by(site):
    """The settings that a stair's site file states, as a `Strategy`: entered as its instruments are, no fallback, no alarms."""
    control, every = site.control, ("name", "level", "reference", "range_low_pa", "range_high_pa", "signal", "accuracy_percent_span",
                                    "converter_bits", "filter_s")  # fmt: skip
    loop = {name: getattr(control, name) for name in ("rule", "weights", "set_point_pa", "action", "gain", "integral_time_s", "sample_s")}
    stop = control.low_demand
    return Strategy.model_validate({
        "kind": "strategy", "name": site.name, "invented": site.invented, "site": site.name, "loop": loop,
        "inputs": [{name: getattr(tap, name) for name in every} for tap in site.transmitters],
        "mode": "smoke control" if control.fire_mode else "comfort", "low_demand": None if stop is None else stop.model_dump(),
    })  # fmt: skip


def set_point_of(loop, stated, inputs):
    """The set point in the reading's unit: as stated, or from per cent of the span entered for the first of the inputs."""
    if loop.set_point_percent_span is None:
        return stated
    _, low, high = inputs[0].entered
    return low + loop.set_point_percent_span / 100 * (high - low)


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
