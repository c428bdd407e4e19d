"""Everything one log says, put together: what it is like, its step test, the settings that follow, why it hunts; in words and tables.

Limits: a log is of one loop on one day. What the building does in another weather, with a filter turned back or a heated stair is asked of
the design record, not of a log.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.beside_limit import number_beside
from helpers.studies.duty.full_speed import SHOWN_HZ
from helpers.studies.measured.trends.description import TrendSeen, describe
from helpers.studies.measured.trends.hunting import HuntingFound, why_it_hunts
from helpers.studies.measured.trends.loop_settings import SettingsFound, settings_found
from helpers.studies.measured.trends.step_checks import amount
from helpers.studies.measured.trends.step_test import StepTestFound, step_test
from helpers.studies.measured.trends.trend import Trend
from helpers.studies.report import Table
from helpers.studies.status import MOST_TO_DO, word_of, worst_of
from helpers.studies.tuning.box import ASKED
from helpers.units.said import three, two, with_unit

KEPT = "As found it keeps its margins in this test"
HEADS = {
    "quantisation": "It hunts: a value comes in steps too coarse for it",
    "dead band": "It hunts: a dead band, or a drive that acts in steps",
    "ramp": "It hunts: the integral runs ahead of the drive's ramp",
    "gain": "It hunts: the gain is too large for this loop",
    "outside": "It follows a swing that comes from outside the loop",
    "cannot tell": "It hunts, and this log cannot tell why",
}
MOST_FIGURES = 3  # under a headline
SHOWN_SHARE = 0.005  # by which a speed that is shown may be above full speed: what slip, rounding and a drive's own display leave; ours
DRIVE_SHARE = 0.03  # by which the full speed that output and speed say may be another than the one stated; ours
FEWEST_OUTPUT = 20.0  # per cent from which on speed by output tells the full speed: below it a drive's least speed counts; ours
MARGINS = (
    "Peak sensitivity: how many times larger the loop makes a disturbance that comes at the worst rhythm. Gain margin: how many times "
    "this gain it can have before it swings; below 1 every swing is wider than the last, up to the ends of the output. Phase margin: how "
    "much later its answer may come, in degrees of a swing (all three: page 08). They count gain, delay and lag at the worst of their "
    "intervals, and with them filter and damping as they stood in the test; the drive's ramp is not in them, and is held against the "
    "integral apart."
)
NOT_TRIED = (
    "other weathers, a heated stair, a filter or damping turned back, other set points than those of the steps: pages 08 and 12 try them"
)


@dataclass(frozen=True)
class LoopStated:
    """What a log does not say of its loop. span_pa: of the controller's input; full_speed_hz; set_point_pa; ramp_s: of the drive for all of
    its speed; as_found: (gain, integral_s) that were entered, None where nobody knows (as_found_from: who says so, in words); sited:
    whether a site file or somebody says so: else no per cent and no setting is told; ceiling_hz: of speed of its building, NaN where it
    bears none (`duty.permissible_speed`), None where its site file is not at hand."""

    span_pa: float
    full_speed_hz: float
    set_point_pa: float
    ramp_s: float
    as_found: tuple[float, float] | None = None
    sited: bool = True
    as_found_from: str = ""
    ceiling_hz: float | None = None


@dataclass(frozen=True)
class TrendStudy:
    """What was found. trend: `Trend`; seen: `TrendSeen`; step: `StepTestFound`, of this log or of another of the same loop; settings: None
    where the step test is not whole, or the log is of another drive than the one stated; hunting: `HuntingFound`; stated: `LoopStated`;
    full_hz: full speed of the drive by its output and speed, None where the log does not tell; ran_hz: the fastest that the fan ran in it,
    or in the log that it was lent, None where that is not logged."""

    trend: Trend
    seen: TrendSeen
    step: StepTestFound
    settings: SettingsFound | None
    hunting: HuntingFound
    stated: LoopStated
    full_hz: float | None = None
    ran_hz: float | None = None

    @property
    def hunts(self):
        """Whether an even swing is in the log."""
        return self.hunting.cause != "none"

    @property
    def state(self):
        """Key of its status."""
        if self.other_drive:
            return worst_of(("attention", self._own_state if self.hunts else "attention"))
        return self._own_state

    @property
    def _own_state(self):
        if self.hunts:
            return "attention" if self.hunting.cause == "outside" else "wrong"
        if self._unsited:
            return "attention"
        if self.seen.unit_changed:
            return "attention"
        if self.settings is None:
            return "open"
        if self.settings.as_found is None or self.settings.as_left is None:
            return "attention"
        return self.settings.as_found.status

    @property
    def other_drive(self):
        """(what the log says, full speed stated) in words where these do not go together: then it is of another drive or site, or scaled
        otherwise, and every gain in per cent hangs on it; () where they do."""
        return _other_drive(self.trend, self.seen, self.stated.full_speed_hz, self.full_hz) if self.stated.sited else ()

    @property
    def _unsited(self):
        """Whether settings would follow, were it known of which loop."""
        return bool(self.step.whole) and not self.stated.sited

    @property
    def above_ceiling(self):
        """That the fan ran above its building's ceiling of speed, in a sentence; "" where it did not, or neither is known."""
        ceiling = self.stated.ceiling_hz
        if self.other_drive or None in (ceiling, self.ran_hz) or self.ran_hz <= ceiling + SHOWN_HZ / 2:
            return ""
        most = "no speed of this drive" if np.isnan(ceiling) else with_unit(ceiling, "frequency", 1)
        ran = with_unit(self.ran_hz, "frequency", 1)
        return f"The fan ran at up to {ran}, above this building's ceiling of speed, {most}: do not repeat it, shut doors may jam."

    @property
    def to_act(self):
        """Whether somebody has to act on it: a FAIL, a log of another drive or of two units, rows or cells that are not used."""
        return self.state == "wrong" or bool(self.other_drive or self.seen.unit_changed or self.trend.unused)

    def _drive_said(self):
        """That the log is of another full speed than the one stated, and what may be the cause, in a sentence."""
        said, full = self.other_drive
        return (
            f"{word_of('attention')}: its {said[0].lower()}{said[1:]}, the full speed stated is {full}: another drive's log, a speed "
            "scaled in per cent, or another site's file. Until that is settled no gain in per cent and no setting here holds, and none is "
            "judged."
        )

    def head(self):
        """The finding in a line."""
        if self.other_drive:
            said, full = self.other_drive
            short = said.partition(" by ")[0]
            if self.hunts:
                return f"It hunts; {short[0].lower()}{short[1:]}, stated {full}: whose?"
            return f"{short}, stated {full}: whose log is it?"
        if self.hunts:
            return HEADS[self.hunting.cause]
        if self.seen.unit_changed:
            return "Another unit from some line on: no step test, no settings"
        if self._unsited:
            return "Gain, delay and lag found; no settings without the site file"
        if self.settings is None:
            return "Gain found; no delay and no lag from this log" if self.step.gain else "No step test can be read from this log"
        found = self.settings.as_found
        if found is None:
            return "Gain, delay and lag found; no settings as found stated"
        if not found.worst.stable:
            margin = f"gain margin {two(found.worst.gain_margin)}, min. {ASKED.gain_margin:g}"
            return f"Gain {two(found.gain)} %/%, {two(found.integral_s)} s: swings grow; {margin}"
        kept = "Margins kept, but the test ran above the ceiling: no proof" if self.above_ceiling else KEPT
        return f"As found: {found.lacks[0]}" if found.lacks else kept

    def to_do(self):
        """What to do, "" where nothing is; where the log was made above its building's ceiling that, as far as the line has room."""
        do = self._to_do()
        if not self.above_ceiling:
            return do
        most = "any speed" if np.isnan(self.stated.ceiling_hz) else with_unit(self.stated.ceiling_hz, "frequency", 1)
        again = f"made above the ceiling, {most}: do not repeat"
        return f"Do: {again}" if not do else next((one for one in (f"{do}; {again}",) if len(one.split()) <= MOST_TO_DO + 1), do)

    def _to_do(self):
        left = self.settings and self.settings.as_left
        if self.other_drive:
            return "Do: settle whose drive this is and its full speed, then read it again"
        if self.hunting.cause == "cannot tell":
            return "Do: agree it, stair unprotected; manual at the record's safe speed, ten swings"
        if self.seen.unit_changed:
            return "Do: log it in one unit, then read it again"
        if self._unsited:
            return "Do: read it again with the loop's site file (--site): settings hang on its span"
        if self.settings is None:
            return "Do: change the test as the sentences below say"
        if self.settings.beside:
            return "Do: make steps around the set point first"
        if left and (self.settings.as_found is None or self.settings.as_found.lacks):
            return f"Do: try gain {two(left.gain)} %/%, integral {two(left.integral_s)} s in page 12's record first"
        if self.settings.left_alone:
            return "Do: leave the settings"
        return "Do: hold it against the record's pair, page 12" if self.settings.as_found else ""

    def tiles(self):
        """(what, figure, interval or limit): of settings as found themselves and their margin, else gain; delay and lag; as far as they are
        known."""
        found, entered = [], self.settings and self.settings.as_found
        if entered:
            found.append(("As found", f"{two(entered.gain)} %/%, {two(entered.integral_s)} s", self.stated.as_found_from))
            found.append(_margin_tile(entered.worst, self.settings.box.asked))
        elif self.step.gain and self.step.dimension == "pressure" and not (self.other_drive or self.seen.unit_changed):
            gain, what = self.step.gain, "Process gain"
            if self.stated.sited:
                low, value, high = (of * self.per_cent for of in (gain.low, gain.value, gain.high))
                found.append((what, f"{two(value)} %/%", f"{two(low)} to {two(high)}"))
            else:
                low, value, high = (with_unit(of, "pressure", (2, 4)) for of in (gain.low, gain.value, gain.high))
                found.append((what, f"{value}/{self._by}", f"{low} to {high}"))
        times = [(what, f"{two(one.value)} s", f"{two(one.low)} to {two(one.high)}")
                 for what, one in (("Delay", self.step.dead_time_s), ("Lag", self.step.lag_s)) if one]  # fmt: skip
        if len(found) + len(times) > MOST_FIGURES:
            _, figures, ends = zip(*times, strict=True)
            times = [("Delay, lag", ", ".join(figures), ", ".join(ends))]
        return (*found, *times)

    @property
    def _by(self):
        """Unit of what moves the fan."""
        return "Hz" if self.trend.dimensions[self.trend.input] == "frequency" else "%"

    @property
    def per_cent(self):
        """From reading by input to per cent of span by per cent of full speed."""
        fan = self.trend.dimensions[self.trend.input]
        return (self.stated.full_speed_hz if fan == "frequency" else 100.0) / self.stated.span_pa

    def sentences(self):
        """All that was found, a sentence each, what the file is first."""
        trend = self.trend
        yield f"{trend.name}: {trend.rows} rows over {self.seen.length_s:.0f} s, one every {three(self.seen.sample_s)} s."
        if self.other_drive:
            yield self._drive_said()
        yield from filter(None, [self.above_ceiling])
        yield from [self.seen.unit_changed] if self.seen.unit_changed else self.step.refused
        if self.settings and self.settings.as_found:  # its tile is the margin's
            low, value, high = (of * self.per_cent for of in (self.step.gain.low, self.step.gain.value, self.step.gain.high))
            yield f"Process gain {two(value)} %/%, {two(low)} to {two(high)}."
        if self.hunts:
            yield self.hunting.headline
            yield from self.hunting.evidence
            yield from [f"Next: {self.hunting.next_check}"] if self.hunting.next_check else []
        if self.settings:
            yield from self.settings.remarks
            yield from [self.settings.gained()] if self.settings.left_alone else []

    def not_used(self):
        """Sentences about what of the file was assumed or not used, and what its values are like."""
        return (*self.trend.remarks, *self.seen.remarks, *self.step.remarks)

    def columns_table(self):
        """`Table` of the columns as they are."""
        rows = []
        for one in self.seen.columns:
            kind = self.trend.dimensions[one.heading]
            shown = [amount(value, kind) if kind == "pressure" else f"{value:.4g}" for value in (one.least, one.most, one.noise)]
            swing = f"every {three(one.swing.period_s)} s" if one.swing else "no"
            rows.append((one.heading, *shown, swing, str(len(one.frozen)), str(one.missing)))
        head = (
            "Column",
            "Least value",
            "Largest value",
            "Noise from row to row",
            "It swings",
            "Stretches that stand",
            "Rows without a number",
        )
        return Table("columns", "The columns as they are", head, tuple(rows))

    def steps_table(self):
        """`Table` of the steps, each with its gain."""
        rows = tuple(
            (f"{step.at_s:.1f} s", f"{step.before:.4g} to {step.after:.4g}", f"{two(step.seconds)} s", *self._gain_said(step.gain))
            for step in self.step.steps
        )
        what = "set point" if self.step.loop == "closed" else "fan"
        return Table(
            "steps",
            f"The steps of the {what}",
            ("At", "From and to", "Takes", "Gain [%/%]" if self.stated.sited else f"Gain by {self._by}", "Nine times of ten"),
            rows,
        )

    def _gain_said(self, gain):
        """A step's gain and its interval in per cent by per cent; neither where nobody knows of which drive."""
        if self.other_drive:
            return "whose drive?", ""
        low, high = sorted((gain.low, gain.high))
        if self.seen.unit_changed or not low <= gain.value <= high:  # a figure outside its own interval is none
            return "not found", ""
        if not self.stated.sited:
            low, high = (with_unit(end, "pressure", (2, 4)) for end in sorted((abs(gain.low), abs(gain.high))))
            return with_unit(abs(gain.value), "pressure", (2, 4)), f"{low} to {high}"
        ends = sorted(abs(of) * self.per_cent for of in (gain.low, gain.high))
        return f"{abs(gain.value) * self.per_cent:.3g}", " to ".join(f"{end:.3g}" for end in ends)

    def settings_table(self):
        """`Table` of the settings as found beside as left, None where none follow."""
        if self.settings is None:
            return None
        tried = [one for one in (self.settings.as_found, self.settings.as_left, self.settings.nominal) if one is not None]
        rows = tuple(
            (
                f"{one.name}, {self.stated.as_found_from}" if one is self.settings.as_found and self.stated.as_found_from else one.name,
                f"{two(one.gain)}",
                f"{two(one.integral_s)} s",
                *_margins(one.worst),
                "; ".join(one.lacks) or "keeps all that is asked, as the loop was in the test",
            )
            for one in tried
        )
        head = ("Settings", "Gain [%/%]", "Integral time", "Peak sensitivity", "Gain margin", "Phase margin", "In the worst of the box")
        title = f"As found beside as left: the loop as it was in the test{self._where()}, no other weather, speed or door"
        return Table("settings", title, head, rows, tuple(self.states()), MARGINS)

    def _where(self):
        """Between which ends the fan was stepped."""
        ends = [end for step in self.step.steps for end in (step.before, step.after)]
        unit = {"frequency": " Hz"}.get(self.trend.dimensions.get(self.trend.input), " %")
        return f", {min(ends):.0f} to {max(ends):.0f}{unit}" if ends and self.step.loop != "closed" else ""

    def states(self):
        """Keys of the statuses of `settings_table`'s rows."""
        settings = self.settings
        return [one.status for one in (settings.as_found, settings.as_left, settings.nominal) if one is not None] if settings else []


def _margin_tile(worst, asked):
    """(what, figure, limit) of the margin in the worst of the box: the gain margin, or the peak sensitivity where that alone is lacking."""
    if worst.stable and worst.gain_margin >= asked.gain_margin and worst.peak_sensitivity > asked.peak_sensitivity:
        peak = number_beside(worst.peak_sensitivity, asked.peak_sensitivity, 2)
        return "Peak sensitivity, worst", peak, f"max. {asked.peak_sensitivity:g}"
    return "Gain margin, worst", f"{number_beside(worst.gain_margin, asked.gain_margin)} times", f"min. {asked.gain_margin:g}"


def _margins(worst):
    if not worst.stable:
        return "swings", f"{two(worst.gain_margin)}", "none"
    return f"{worst.peak_sensitivity:.2f}", f"{worst.gain_margin:.1f}", f"{worst.phase_margin_deg:.0f}°"


def full_speed_hz(trend):
    """Full speed of the drive that a log's speed [Hz] and output [%] say together, None where it has not both, or no row tells it.

    The middle of speed by output over the rows above FEWEST_OUTPUT. Limit: an output that is nothing at speed zero; one scaled from a
    drive's least speed up reads too high here, and somebody has to look either way.
    """
    columns, kinds = trend.columns, trend.dimensions
    if not (columns.output and columns.speed) or (kinds[columns.output], kinds[columns.speed]) != ("percent", "frequency"):
        return None
    output, speed = trend.values[columns.output], trend.values[columns.speed]
    runs = (output > FEWEST_OUTPUT) & np.isfinite(speed)
    return float(np.median(100 * speed[runs] / output[runs])) if runs.any() else None


def fastest_hz(trend, full_speed_hz):
    """The fastest that the fan ran in a log [Hz], by its speed or else its output, in per cent of full speed; None where neither tells."""
    column = trend.columns.speed or trend.columns.output
    kind, values = trend.dimensions.get(column), trend.values.get(column, np.array([]))
    scale = {"frequency": 1.0, "percent": full_speed_hz / 100}.get(kind)
    return None if scale is None or not np.isfinite(values).any() else float(np.nanmax(values)) * scale


def _other_drive(trend, seen, full_stated_hz, full_hz):
    """As `TrendStudy.other_drive`."""
    if full_hz and abs(full_hz / full_stated_hz - 1) > DRIVE_SHARE:
        return f"Full speed some {full_hz:.0f} Hz by speed and output", f"{full_stated_hz:g} Hz"
    speed = trend.columns.speed
    if speed is not None:
        full, unit = (full_stated_hz, "Hz") if trend.dimensions[speed] == "frequency" else (100.0, "%")
        most = seen.column(speed).most
        if most > full * (1 + SHOWN_SHARE):
            return f"Speed runs to {most:.1f} {unit}", f"{full:g} {unit}"
    return ()


def look_into(trend, stated, other=None):
    """Look into a log. trend: `Trend`; stated: `LoopStated`; other: `Trend` of the same loop's step test, where that is another log.
    Returns `TrendStudy`. Raises ValueError as the studies it is made of."""
    of = trend if other is None else other
    ramps = None if of.columns.speed else (stated.ramp_s, stated.ramp_s)
    step = step_test(of, ramps_s=ramps)
    ran_hz = max(filter(None, (fastest_hz(one, stated.full_speed_hz) for one in (trend, of))), default=None)
    settings, seen, full_hz = None, describe(trend), full_speed_hz(trend) or full_speed_hz(of)
    other_drive = _other_drive(trend, seen, stated.full_speed_hz, full_hz) or seen.unit_changed
    if stated.sited and step.whole and step.dimension == "pressure" and not other_drive:
        full = stated.full_speed_hz if of.dimensions[of.input] == "frequency" else None
        settings = settings_found(
            step,
            span_pa=stated.span_pa,
            full_speed_hz=full,
            set_point_pa=stated.set_point_pa,
            ramp_s=stated.ramp_s,
            as_found=stated.as_found,
        )
    return TrendStudy(trend, seen, step, settings, why_it_hunts(trend, settings=settings), stated, full_hz, ran_hz)
