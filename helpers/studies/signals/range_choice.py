"""Which transmitter range to buy: resolution, accuracy, where the set point lies on the span, what the peaks of closing doors do to it."""

from dataclasses import dataclass, replace

import numpy as np

from helpers import units
from helpers.formulas import signals, uncertainty
from helpers.studies.cases import AS_STATED, conditions_of
from helpers.studies.report import Shown, fine, finest
from helpers.studies.signals.plates import plate_text
from helpers.studies.status import worst_of
from helpers.units.said import with_unit

# Ranges in which pressure transmitters for buildings are sold or can be set [Pa]: from zero, both ways alike, and with a small negative
# end; 25, 125, 250 and 500 Pa are also sold as 0.1, 0.5, 1 and 2 in. w.c. Common practice, no source.
SMALL_END_PA = -25.0
QUARTER_INCH_PA = 0.25 * units.WATER_COLUMNS_PA[units.WATER_COLUMN]  # sold in in. w.c. alone
RANGES_PA = (
    *((low, top) for top in (25.0, 50.0, 100.0, 125.0, 250.0, 500.0) for low in (0.0, -top)),
    (0.0, QUARTER_INCH_PA),
    *((SMALL_END_PA, top) for top in (100.0, 125.0, 250.0, 500.0)),
)
SMALL_END_OF_SPAN = 0.25  # a negative end that takes no more of the span is a small one: it costs little accuracy. Ours
SAME_SHARE = 0.01  # two ranges this close are one, written in other units

# What makes a range a good one. Common practice, no source.
LEAST_SET_POINT_PERCENT, MOST_SET_POINT_PERCENT = 25.0, 80.0
MOST_ERROR_OF_WINDOW = 0.1
MOST_STEP_OF_ACCURACY = 0.25
FINEST_ACCURACY, ACCURACY_STEP = 0.1, 0.05  # per cent of span: better is hardly sold; to which an advice is rounded down
WIDER_THAN_BEST = 1.5  # a stated range that suits is kept unless the best one is this much narrower
STOPPED_HZ = 1e-3  # a fan at rest: the network takes no speed of zero


@dataclass(frozen=True)
class CombinedError:
    """Error of the combined reading: `bias_pa` on the average (a lowest reading reads low), `standard_pa` one standard uncertainty."""

    rule: str
    count: int
    bias_pa: float
    standard_pa: float
    single_pa: float


@dataclass(frozen=True)
class RangeChoice:
    """One range judged. Percentages are of the span.

    objections: keys of what rules it out, reservations: of what one can live with but should know; in words: `RangeAdvice.objection`.
    """

    low_pa: float
    high_pa: float
    accuracy_pa: float
    resolution_pa: float
    set_point_percent: float
    least_percent: float | None
    most_percent: float | None
    peak_percent: float
    objections: tuple
    reservations: tuple

    @property
    def span_pa(self):
        """Top less bottom [Pa]."""
        return self.high_pa - self.low_pa

    @property
    def shows_reversal(self):
        """Whether it begins far enough below zero to show reversed tubes and a stair that stands under suction."""
        return self.low_pa <= 0.5 * SMALL_END_PA

    @property
    def good(self):
        """Whether nothing rules it out."""
        return not self.objections

    @property
    def state(self):
        """In one word: "good", "attention" with a reservation, "wrong" with an objection."""
        return "wrong" if self.objections else "attention" if self.reservations else "good"

    def text(self):
        """The range in words: "0 to 125 Pa"."""
        return plate_text(self.low_pa, self.high_pa)


@dataclass(frozen=True)
class RangeAdvice(Shown):
    """All candidates; `chosen` the one to buy, `stated` the site's own range (of its first transmitter), and what they are judged by.

    peak_pa, lowest_pa: the highest and the lowest reading to expect; lowest_held_pa: the lowest of any transmitter while the loop holds.
    """

    choices: tuple[RangeChoice, ...]
    chosen: RangeChoice
    stated: RangeChoice
    set_point_pa: float
    peak_pa: float
    peak_case: str
    lowest_pa: float
    lowest_case: str
    window_pa: tuple
    error: CombinedError
    lowest_held_pa: float = np.inf

    def state(self, choice):
        """Status of a range here: one that the lowest reading to expect leaves is no pass."""
        return worst_of([choice.state, "attention" if self.below(choice) else "good"])

    def below(self, choice):
        """That the lowest reading to expect is below a range, in words; "" where it is not."""
        if self.lowest_pa >= choice.low_pa:
            return ""
        lowest = fine(self.lowest_pa)
        return f"the lowest reading to expect, {lowest} with the fan at rest ({self.lowest_case}), is below the range and shows as its end"

    def objection(self, key, choice):
        """One objection in words."""

        def show(value):
            return with_unit(value, "pressure")

        if key == "held":  # infinite where the loop holds in no case
            lowest = fine(self.lowest_held_pa)
            return f"a reading falls to {lowest} while the loop holds, below the range: the loop would hold another pressure"
        return {
            "set point out": f"the set point of {show(self.set_point_pa)} is not in the range",
            "set point low": f"the set point lies at {choice.set_point_percent:.0f} % of the span, so most of the span is never used",
            "set point high": f"the set point lies at {choice.set_point_percent:.0f} % of the span, so there is little room above it",
            "window": f"the top of the pressure window, {show(self.window_pa[1] or 0)}, is beyond the range: too much could not be told",
            "peak": f"peaks up to {show(self.peak_pa)} are beyond the range: the loop does not see then how far off it is",
            "two-sided": f"{-100 * choice.low_pa / choice.span_pa:.0f} % of the span lies below zero, where this loop never works",
            "accuracy": f"accuracy of ±{fine(choice.accuracy_pa)} takes more than a tenth of the window",
            "resolution": f"an A/D converter step of {finest(choice.resolution_pa)} is coarse beside the accuracy",
        }[key]

    def verdict(self):
        """What to buy and why, in plain words."""
        choice = self.chosen
        accuracy, text = fine(choice.accuracy_pa), choice.text()
        place = f"the set point at {choice.set_point_percent:.0f} % of the span, accuracy ±{accuracy}"
        if not choice.good:
            mends = self.mends(choice)
            first = f" What would help: {mends}." if mends else ""
            return f"{self.none_said}. The least bad is {text}: {place}; but {self.against(choice)}.{first}"
        wider = any(_worth(one) < _worth(choice) for one in self.choices)
        usual = "range sold by the pascal and by the inch alike" if wider else "usual range"
        why = "the range stated" if choice == self.stated else f"the smallest {usual}"
        if self.against(choice):
            said = f"Take {text}: {why} that nothing rules out; {place}; know that {self.against(choice)}."
        else:
            peak = with_unit(self.peak_pa, "pressure")
            said = f"Take {text}: {why} and nothing speaks against it; {place}; peaks up to {peak} stay inside."
        return f"{said} {self.reversal()}".strip()

    @property
    def none_said(self):
        """Why a range that fails is the chosen one, in words."""
        hide = any(choice.good for choice in self.choices)
        return "The ranges that are accurate enough hide reversed tubes" if hide else "No usual range suits"

    def mends(self, choice):
        """What would mend a range, each thing that speaks against it in its own direction, in words; "" where no more is known."""
        told, (least, most) = [], self.window_pa
        if choice.objections == ("accuracy",):
            percent = ACCURACY_STEP * np.floor(100 * MOST_ERROR_OF_WINDOW * (most - least) / choice.span_pa / ACCURACY_STEP)
            better = f"the same range, accuracy of {round(percent, 2):g} % of span or better"
            told.append(better if percent >= FINEST_ACCURACY else "no accuracy sold is enough: the doors' window first")
        if "peak" in choice.reservations:
            peak = with_unit(self.peak_pa, "pressure")
            told.append(f"a range that ends above {peak}, or the overpressure stopped first (highest speed, relief damper)")
        if "two-sided" in choice.reservations:
            told.append("a range with a smaller negative end")
        if self.below(choice) and not told:
            told.append("a range that begins lower, where that is to be read")
        return "; ".join(told)

    def reversal(self):
        """What a range that begins at zero hides where the loop holds more than zero, in a sentence; nothing for one that does not."""
        if self.set_point_pa <= 0 or self.chosen.low_pa < 0:
            return ""
        return f"It shows 0 with reversed tubes and under suction alike: {small_negative_end(self.chosen.high_pa)}."

    def against(self, choice):
        """All that speaks against a range, in words."""
        told = [self.objection(key, choice) for key in (*choice.objections, *choice.reservations)]
        return "; ".join(filter(None, (*told, self.below(choice))))


def small_negative_end(top_pa):
    """The one advice about ranges from zero, in words, for a range up to a top [Pa].

    >>> from helpers.units.said import written_out
    >>> written_out(small_negative_end(125.0))
    'a range with a small negative end, such as -25 to 125 Pa, tells them; until then prove the tubes with the fan in manual'
    """
    text = plate_text(SMALL_END_PA, top_pa)
    return f"a range with a small negative end, such as {text}, tells them; until then prove the tubes with the fan in manual"


def range_advice(tower, window, comparison, rule, transmitter=None, ranges_pa=None):
    """Judge the usual ranges for a site's transmitters.

    tower: `Tower`; window: `SiteWindow`; comparison: `RuleComparison`; rule: the one that runs the fan; transmitter: the one whose
    signal, accuracy in per cent of span and converter are taken (default: the site's first); ranges_pa: (low, high) pairs [Pa], by default
    RANGES_PA and the stated range. Returns `RangeAdvice`. Raises ValueError for no range at all or one that is upside down.

    Peak: the highest reading of any transmitter when the open doors of a case shut and the fan still runs at the speed they asked for,
    before the loop has answered; full speed where no case has open doors. Lowest: with the fan at rest. Limits: steady pressures, no bang
    of a slammed door on top.
    """
    taps = comparison.transmitters
    transmitter = taps[0] if transmitter is None else transmitter
    stated = (transmitter.range_low_pa, transmitter.range_high_pa)
    pairs = [*(RANGES_PA if ranges_pa is None else ranges_pa)]
    if not pairs:
        raise ValueError("ranges_pa must hold at least one pair of low and high, got none")
    (peak, peak_case), (lowest, lowest_case) = _peaks(tower, comparison, rule)
    ends, result = (window.least_pa, window.most_pa), comparison[rule]
    lowest_held = float(result.readings_pa[result.held.held].min(initial=np.inf))

    def judged(pair):
        return judge_range(pair, transmitter, comparison.set_point_pa, ends, peak, lowest_held)

    offered = [pair for pair in pairs if ranges_pa is not None or not _same(pair, stated)] + ([stated] if ranges_pa is None else [])
    choices = tuple(judged(pair) for pair in sorted(set(offered), key=_order))
    best, own = _sold_everywhere(choices, min(choices, key=_worth)), judged(stated)
    as_good = own.good and len(own.reservations) <= len(best.reservations) and own.span_pa <= WIDER_THAN_BEST * best.span_pa
    # Another range that fails, or that hides reversed tubes, is no cure for a stated one that lacks nothing but accuracy.
    lacks = own.objections == ("accuracy",) and not (best.good and best.shows_reversal >= own.shows_reversal)
    chosen = own if (as_good or lacks) and own in choices else best
    error = combined_error(chosen.accuracy_pa, rule, len(taps), tower.site.control.weights)
    return RangeAdvice(
        choices, chosen, own, comparison.set_point_pa, peak, peak_case, lowest, lowest_case, ends, error, lowest_held
    )  # fmt: skip


def combined_error(accuracy_pa, rule, count, weights=None):
    """Error of the combined reading of several like transmitters about one true pressure.

    accuracy_pa a bound, taken as rectangular [Pa]; rule; count of transmitters; weights for "weighted". Returns `CombinedError`.
    Source: JCGM 100:2008 (memory), order statistics of `uncertainty.expected_highest`. Limits: independent errors; the bias is that of
    normal errors, which for two or three rectangular ones is some 2 % more; transmitters that see different pressures, as here, hide most
    of it; the spread of lowest and highest is given as that of one transmitter, which is no less than the true one.
    """
    single = float(uncertainty.standard_from_bound(accuracy_pa))
    highest = float(uncertainty.expected_highest(count)) * single
    bias = {"lowest": -highest, "highest": highest}.get(rule, 0.0)
    if rule == "average":
        spread = float(uncertainty.average_of(count, single))
    elif rule == "weighted":
        shares = np.asarray(weights, float) / np.sum(weights)
        spread = float(uncertainty.root_sum_square(shares * single))
    else:
        spread = single
    return CombinedError(rule, count, bias, spread, single)


def _same(pair, other):
    span = other[1] - other[0]
    return all(abs(a - b) <= SAME_SHARE * span for a, b in zip(pair, other, strict=True))


def _worth(choice):
    """The less, the better: a set point that no loop can hold by it, then how much rules it out, what one should know, blind below zero,
    the span that costs accuracy."""
    useless, against = "set point out" in choice.objections, (len(choice.objections), len(choice.reservations))
    return useless, *against, choice.good and not choice.shows_reversal, choice.span_pa


def _sold_everywhere(choices, best):
    """In place of the best range one that is as good, not much wider and sold in Pa and in in. w.c. alike, where there is one: what is
    advised can then be bought wherever it is read."""
    alike = [
        one for one in choices
        if all(units.as_sold(end, system) is not None for end in (one.low_pa, one.high_pa) for system in units.SYSTEMS)
        and _worth(one)[:-1] <= _worth(best)[:-1] and one.span_pa <= WIDER_THAN_BEST * best.span_pa
    ]  # fmt: skip
    return min(alike, key=_worth, default=best)


def _order(pair):
    return pair[1] - pair[0], -pair[0]


def _peaks(tower, comparison, rule):
    """(highest reading, case) as open doors shut and (lowest reading, case) at rest."""
    site, result = tower.site, comparison[rule]
    opened = [(case, speed) for case, speed in zip(result.cases, result.speed_hz, strict=True) if not case.shut]
    still = list({(case.weather, case.stair): case for case in comparison.cases}.values())
    closing = opened or [(replace(case, name=f"{case.weather}, full speed"), site.fan.highest_speed_hz) for case in still]
    closing = [(replace(case, name=f"{case.name}, {units.show(speed, 'frequency')}"), speed) for case, speed in closing]
    tried = [*closing, *((replace(case, name=_doors_shut(case)), STOPPED_HZ) for case in still)]
    conditions = conditions_of(site, [replace(case, open_doors=(), open_exits=()) for case, _ in tried])
    readings = tower.readings(tower.solve(conditions, [speed for _, speed in tried]), comparison.transmitters)
    most, least = readings[: len(closing)].max(axis=-1), readings[len(closing) :].min(axis=-1)
    high, low = int(most.argmax()), int(least.argmin())
    return (float(most[high]), tried[high][0].name), (float(least[low]), tried[len(closing) + low][0].name)


def _doors_shut(case):
    return f"{case.weather}, doors shut" if case.stair == AS_STATED else f"{case.weather}, doors shut, {case.stair}"


def judge_range(pair, transmitter, set_point_pa, ends, peak_pa, lowest_held_pa=np.inf):
    """One range judged: (low, high) [Pa], by a transmitter's signal, accuracy and converter, the set point, the window's ends, the highest
    peak and the lowest reading while the loop holds [Pa]. Returns `RangeChoice`."""
    low, high = pair
    accuracy = float(signals.accuracy(low, high, transmitter.accuracy_percent_span))
    step = float(signals.resolution(low, high, transmitter.converter_bits, transmitter.signal))

    def percent(value):
        return None if value is None else 100 * (value - low) / (high - low)

    set_point, (least, most) = percent(set_point_pa), ends
    against = {
        "set point out": not 0 <= set_point <= 100,
        "set point low": 0 <= set_point < LEAST_SET_POINT_PERCENT,
        "set point high": MOST_SET_POINT_PERCENT < set_point <= 100,
        "held": lowest_held_pa < low,
        "window": most is not None and most > high,
        "accuracy": None not in ends and accuracy > MOST_ERROR_OF_WINDOW * max(most - least, 0.0),
        "resolution": step > MOST_STEP_OF_ACCURACY * accuracy > 0,
    }
    known = {"peak": peak_pa > high, "two-sided": low < 0 < set_point_pa and -low > SMALL_END_OF_SPAN * (high - low)}
    objections, reservations = (tuple(key for key, wrong in keys.items() if wrong) for keys in (against, known))
    return RangeChoice(low, high, accuracy, step, set_point, percent(least), percent(most), percent(peak_pa), objections, reservations)
