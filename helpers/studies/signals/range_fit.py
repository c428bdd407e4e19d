"""A transmitter's range laid over its job: what its errors take of the pressure window, where it is blind, what the doors get for it.

The errors at the set point are bounds: accuracy as the data sheet states it, zero drift, half a step of the converter. The job is a demo
site's in winter: the readings while the loop holds, and the highest and lowest before it has answered (doors just shut, fan at rest), of a
stair both as its file has its air and in the first minute, as warm as the rooms.
"""

import re
from dataclasses import dataclass, replace
from functools import cached_property
from types import SimpleNamespace

import numpy as np

from helpers.formulas import signals, uncertainty
from helpers.studies.beside_limit import limit_tile
from helpers.studies.cases import FIRST_MINUTE
from helpers.studies.report import apart, beside, fine, range_text
from helpers.studies.signals.plates import plate_text
from helpers.studies.signals.range_choice import MOST_ERROR_OF_WINDOW, RANGES_PA, SMALL_END_PA, RangeAdvice, judge_range
from helpers.studies.signals.steady_loop import LARKFIELD, steady_loop
from helpers.studies.status import DESIGNER, word_of
from helpers.units.limits import limit_text
from helpers.units.said import in_each, with_unit

OF_SPAN, OF_READING = "of span", "of reading"
ROOT, SUM = "root of squares", "plain sum"
ADDINGS = {ROOT: uncertainty.root_sum_square, SUM: uncertainty.worst_case}
SIGNAL = "4-20 mA"
ANY_RANGE, OWN_ERROR = "with any range", "with this range's error"  # what puts a door out in the first minute
OFF_PA = 0.5  # a loop that holds another pressure than it shows, by more than this, is told of


@dataclass(frozen=True)
class RangeFit:
    """A range and its errors. accuracy_percent: of span or of reading, as `of` says; drift_percent: of span, from the last zero check on;
    adding: one of ADDINGS."""

    site: str = LARKFIELD
    low_pa: float = 0.0
    high_pa: float = 125.0
    accuracy_percent: float = 1.0
    of: str = OF_SPAN
    drift_percent: float = 0.5
    bits: int = 12
    adding: str = SUM  # of a limit that protects life
    set_point_pa: float = 40.0

    def __post_init__(self):
        if self.high_pa <= self.low_pa:
            raise ValueError(f"Top of range must be above its bottom: got {self.low_pa:g} to {self.high_pa:g} Pa.")

    @property
    def loop(self):
        """The site's loop in winter."""
        return steady_loop(self.site, "winter")

    @property
    def loops(self):
        """The same, and of a stair its first minute: a range has to cover the readings of both."""
        return (self.loop, steady_loop(self.site, "winter", FIRST_MINUTE)) if self.loop.stair else (self.loop,)

    def parts_pa(self, tops_pa):
        """Accuracy, zero drift and half a step of the converter at the set point, plus or minus, for tops of the range [3, tops]."""
        share = {OF_SPAN: "percent_of_span", OF_READING: "percent_of_reading"}[self.of]
        accuracy = signals.accuracy(self.low_pa, tops_pa, reading=self.set_point_pa, **{share: self.accuracy_percent})
        drift = signals.accuracy(self.low_pa, tops_pa, self.drift_percent)
        step = signals.resolution(self.low_pa, tops_pa, self.bits, SIGNAL)
        return np.array(np.broadcast_arrays(accuracy, drift, step / 2))

    def errors_pa(self, tops_pa):
        """All errors at the set point together, for tops of the range [tops]."""
        return ADDINGS[self.adding](self.parts_pa(tops_pa), axis=0)

    @cached_property
    def own_parts_pa(self):
        """Accuracy, zero drift and half a step of this range."""
        return tuple(self.parts_pa(self.high_pa).tolist())

    @cached_property
    def error_pa(self):
        """All errors of this range at the set point together, plus or minus."""
        return float(self.errors_pa(self.high_pa))

    @property
    def window_pa(self):
        """Least and most that the doors are to have."""
        return self.loop.window_pa

    @property
    def tenth_pa(self):
        """What an error may take of the window."""
        least, most = self.window_pa
        return MOST_ERROR_OF_WINDOW * (most - least)

    @property
    def peak_pa(self):
        """Highest reading before the loop has answered: a supply fan at full speed as the doors shut, a relief fan at its lowest speed."""
        return float(max(self._peak_of(loop).max() for loop in self.loops))

    @staticmethod
    def _peak_of(loop):
        return loop.full_pa if loop.effect > 0 else loop.lowest_pa

    @property
    def trough_pa(self):
        """Lowest reading before the loop has answered: a supply fan at rest, a relief fan at full speed."""
        return float(min((loop.rest_pa if loop.effect > 0 else loop.full_pa).min() for loop in self.loops))

    @property
    def peak_when(self):
        """When the highest reading comes, and where: the transmitter, the weather and how warm the stair is."""
        loop = max(self.loops, key=lambda one: self._peak_of(one).max())
        where = f"{loop.site.transmitters[int(self._peak_of(loop).argmax())].name}, {loop.air_said}"
        if loop.effect < 0:
            return f"with the relief fan at its lowest speed ({where})"
        return f"as the doors shut at full speed, {loop.speed_hz[-1]:.1f} Hz ({where})"

    @property
    def trough_when(self):
        """When the lowest reading comes, and where, as `peak_when`."""
        lowest = [(loop.rest_pa if loop.effect > 0 else loop.full_pa) for loop in self.loops]
        loop, found = min(zip(self.loops, lowest, strict=True), key=lambda one: one[1].min())
        where = f"{loop.site.transmitters[int(found.argmin())].name}, {loop.air_said}"
        fan = "the fan at rest" if loop.effect > 0 else f"the relief fan at full speed, {loop.speed_hz[-1]:.1f} Hz"
        return f"with {fan} ({where})"

    def seen(self, pressure_pa):
        """What a transmitter of this range makes of a pressure: straight on, and at its ends no further."""
        percent = 100 * (np.asarray(pressure_pa, float) - self.low_pa) / (self.high_pa - self.low_pa)
        held = np.clip(percent, signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT)
        return self.low_pa + held / 100 * (self.high_pa - self.low_pa)

    def _rests(self, off_pa):
        """Where the loops rest with transmitters of this range that are all off by so much."""
        return tuple(loop.settle(self.seen(loop.readings_pa) + off_pa, self.set_point_pa) for loop in self.loops)

    @cached_property
    def every_held(self):
        """Where the loops rest with transmitters of this range and no errors."""
        return self._rests(0.0)

    @property
    def held(self):
        """The same with the air as the site file has it."""
        return self.every_held[0]

    @property
    def held_pa(self):
        """Readings while the loops hold [pascals], all in one row."""
        return np.concatenate([found.readings_pa for found in self.every_held])

    @cached_property
    def read_low(self):
        """Where it rests when every transmitter reads low by all of the error: the doors get more."""
        return self._rests(-self.error_pa)[0]

    @cached_property
    def read_high(self):
        """Where it rests when every transmitter reads high by all of the error: the doors get less."""
        return self._rests(self.error_pa)[0]

    @cached_property
    def early(self):
        """In a stair's first minute: what puts a door out, "" for none, and where the loop rests then; the loop with no error first."""
        if not self.loop.stair:
            return "", None
        true = self.loops[1].settle(self.loops[1].readings_pa, self.set_point_pa)
        tried = ((ANY_RANGE, true), *((OWN_ERROR, self._rests(off)[1]) for off in (-self.error_pa, self.error_pa)))
        return next(((why, found) for why, found in tried if _out(found)), ("", None))

    @property
    def blind(self):
        """Whether the loop is at rest while a transmitter stands at an end of its range: it holds another pressure than it shows."""
        return self._blind is not None

    @property
    def _blind(self):
        """Where it rests then; None where it is not."""
        return next((found for found in self.every_held if abs(found.off_pa) > OFF_PA), None)

    @cached_property
    def choice(self):
        """The range judged as the design record judges it, the whole error taken for the accuracy."""
        return judge_range((self.low_pa, self.high_pa), self._transmitter(), self.set_point_pa, self.window_pa, self.peak_pa)

    @property
    def state(self):
        """One of "wrong", "attention" and "good": of the range. A door that its errors put out in the first minute is past its limit, too;
        where one is out then with any range, no other range mends it: it is told beside this, and "good" is no longer said."""
        out = any(map(_out, (self.held, self.read_low, self.read_high)))
        wrong = self.blind or out or self.choice.objections or self.early[0] == OWN_ERROR
        return "wrong" if wrong else "attention" if self.keys or self.below or self.early[0] else "good"

    def building_fails(self):
        """What no range mends, as `Verdict.also`: ("wrong", a door that is out in the first minute, in a headline's words, its case after a
        semicolon); () for none."""
        why, found = self.early
        if why != ANY_RANGE:
            return ()
        by = _unit_once(found.headline("")).replace(" short of ", " under ")  # beside another verdict each word counts
        return "wrong", f"Building: {by}, door {self._early_level}; {self.loops[1].weather}, first minute"

    def asked_of_building(self):
        """Whom to ask what about that door; "" for none."""
        why, found = self.early
        if why != ANY_RANGE:
            return ""
        door = f"stair door {self._early_level}"
        what = "opens" if found.too_high else f"gets its {limit_text(self.window_pa[0], 'pressure', 'least')}"
        return f"{DESIGNER}: how {door} {what} in the first minute"

    @property
    def _early_level(self):
        """Storey of the door that is out in the first minute."""
        found = self.early[1]
        return found.most_level if found.too_high else found.least_level

    @cached_property
    def suits(self):
        """Whether nothing speaks against the range itself: what no range mends is left out."""
        out = any(map(_out, (self.held, self.read_low, self.read_high)))
        return not (self.blind or out or self.keys or self.below or self.early[0] == OWN_ERROR)

    def to_do(self):
        """What to do, tried on this loop, in one line of a panel: the made range with the least span against which nothing speaks, else
        who has to decide; "" where nothing is to be done. A range is entered twice: one end alone is the mismatch that page 13 fails.
        Before all others the site's own top with a small negative end is tried, the one that record and review name for the same stair; a
        site's own range that only a fan at rest goes below is kept, as they keep it: page 13 has it entered as it stands on the plate."""
        if self.state == "good":
            return ""
        if self.suits:
            return self.asked_of_building()
        own = self.loop.site.transmitters[0].range_low_pa, self.loop.site.transmitters[0].range_high_pa
        named = (SMALL_END_PA, own[1])
        ranges = sorted(RANGES_PA, key=lambda ends: (ends != named, ends[1] - ends[0]))
        tried = [replace(self, low_pa=low, high_pa=high) for low, high in ranges]
        made = next((one for suits in (lambda one: one.suits, lambda one: one.state != "wrong") for one in tried if suits(one)), None)
        if made is None:
            return "Ask: the designer for another set point; no range that is made suits"
        text = range_text(made.low_pa, made.high_pa, "pressure")
        if self.below and not self.keys and self.state == "attention" and (self.low_pa, self.high_pa) == own:
            if self.building_fails():  # two deeds, each by its name: none of the range's mends the building
                return f"Do: keep range, prove tubes (page 10); new {text}, in drive too; building: designer"
            return f"Do: keep this range, prove the tubes (page 10); new: {text} in transmitter and drive"
        return f"Do: take {text}, the same in transmitter and drive"

    @property
    def below(self):
        """Whether the lowest reading before the loop has answered is below the range, and shows as its end."""
        return self.trough_pa < self.low_pa

    def _transmitter(self):
        whole = 100 * self.error_pa / (self.high_pa - self.low_pa)
        return SimpleNamespace(accuracy_percent_span=whole, converter_bits=self.bits, signal=SIGNAL)

    @property
    def keys(self):
        """Keys of what speaks against the range: what rules it out, or else what one should know."""
        below_zero = self.held_pa.min() < 0
        known = [key for key in self.choice.reservations if not (key == "two-sided" and below_zero)]
        return [*self.choice.objections] or known

    def against(self):
        """The same in the words of the design record, and what the record has against an error that alone rules a range out."""
        ends = (self.peak_pa, "", self.trough_pa, "", self.window_pa, None, float(self.held_pa.min()))
        advice = RangeAdvice((self.choice,), self.choice, self.choice, self.set_point_pa, *ends)
        mends = [advice.mends(replace(self.choice, reservations=()))] * (self.choice.objections == ("accuracy",))
        told = (*(advice.objection(key, self.choice) for key in self.keys), *mends)
        return "; ".join(one.replace("accuracy of", "an error of") for one in told)

    def budget(self):
        """The errors and what they come to, in a sentence."""
        accuracy, drift, half = self.own_parts_pa
        tiny = with_unit(half, "pressure", (3, 5))
        parts = f"accuracy {fine(accuracy)}, drift {fine(drift)}, half a step {tiny}"
        return f"Error ±{fine(self.error_pa)} at the set point ({parts}; {self.adding})."

    def says(self):
        """Verdict: what speaks against it, the price at the doors, the errors; a loop that is blind first."""
        text = plate_text(self.low_pa, self.high_pa)
        against = self.against()
        first = (
            f"{'Besides' if self.blind else text}: {against}."
            if against
            else f"{text} will do while the loop holds: set point at {self.choice.set_point_percent:.0f} % of the span, peaks inside."
        )
        if self.below:
            first += f" The lowest reading, {fine(self.trough_pa)} {self.trough_when}, is below it and shows as its end."
        said = [first, self._price()]
        said = " ".join(filter(None, [*(said[::-1] if self.blind else said), self._early_said(), self.budget()]))
        return said

    def headline(self):
        """The verdict in one sentence of a panel, what decides first."""
        if blind := self._blind:
            return f"Blind: shows {fine(blind.shown_pa)} where {fine(blind.true_pa)} is"
        early = self.early[1] if self.early[0] == OWN_ERROR else None
        tried = ((self.held, "at rest"), (self.read_low, "if it reads low"), (self.read_high, "if it reads high"),
                 (early, "in the first minute"))  # fmt: skip
        for found, where in tried:
            if found is not None and _out(found):
                return found.headline(where)
        if self.keys:
            return self._brief(self.keys[0])
        if self.below:
            fan = "fan at rest" if self.loop.effect > 0 else "relief fan at full speed"
            return f"Below the range: {fan} gives {fine(self.trough_pa)}"
        return f"Fits: set point at {self.choice.set_point_percent:.0f} % of span, error ±{fine(self.error_pa)}"

    def _brief(self, key):
        """What speaks against the range, in few words; whole in `against`."""
        choice, percent = self.choice, f"{self.choice.set_point_percent:.0f} %"
        return {
            "held": "A reading falls below the range while the loop holds",
            "set point out": "The set point is not in the range",
            "set point low": f"Set point at {percent} of the span: too low",
            "set point high": f"Set point at {percent} of the span: too high",
            "window": "The top of the pressure window lies beyond the range",
            "peak": f"Peaks up to {beside(self.peak_pa, self.high_pa, 'pressure', 'most')} lie beyond the range",
            "two-sided": f"{-100 * choice.low_pa / choice.span_pa:.0f} % of the span lies below zero, unused",
            "accuracy": f"Error ±{fine(self.error_pa)}: over a tenth of the window",
            "resolution": "The A/D converter's step is coarse beside the accuracy",
        }[key]

    def tiles(self):
        """(what, value, limit) of error, set point and highest reading, or of the lowest where that is what lies beyond the range."""
        what, error, most = limit_tile("Error: accuracy + drift + step", self.error_pa, self.tenth_pa, "pressure", digits=(1, 3))
        peak, top = apart((self.peak_pa, self.high_pa), "pressure", "most")
        low, bottom = apart((self.trough_pa, self.low_pa), "pressure", "least", (1, 3))
        return (
            (what, f"±{error}", most),
            ("Set point", f"{self.choice.set_point_percent:.0f} %", "of the span"),
            ("Lowest reading", low, f"{bottom} bottom")
            if self.below and self.peak_pa <= self.high_pa
            else ("Highest reading", peak, f"{top} top"),
        )

    def _early_said(self):
        why, found = self.early
        return f"In the first minute, the stair as warm as the rooms, {word_of('wrong')} {why}: {found.says()}" if why else ""

    def _price(self):
        blind = self._blind or self.held
        if self.blind or blind.state != "held":
            shown, true = (fine(value) for value in (blind.shown_pa, blind.true_pa))
            held = "" if blind.state == "held" else f", the fan {blind.state}"
            when = "" if blind is self.held else "in the first minute "
            return (
                f"{plate_text(self.low_pa, self.high_pa)} is blind beyond its ends: {when}the loop shows {shown} where "
                f"{true} is{held}. {blind.says()}"
            )
        if self.loop.stair:
            return self._worst_doors()
        low, high = (fine(found.true_pa) for found in (self.read_high, self.read_low))
        return f"With its error the loop holds between {low} and {high}."

    def _worst_doors(self):
        (heavy, least), (early_heavy, early_least) = map(self._off, self._rests(-self.error_pa), self._rests(self.error_pa))
        return (
            f"With the stair's air as its file has it: if the transmitter reads low, the hardest door to open needs {heavy}; if it reads "
            f"high, the door with the lowest pressure has {least}. In the first minute: {early_heavy} and {early_least}."
        )

    def _off(self, reads_low, reads_high):
        """What the hardest door to open needs when the transmitters read low, and what the lightest has when they read high, in words."""
        heavy, limit = apart((reads_low.force_n, self.loop.limit_n), "force", "most", 1)
        least, asked = apart((reads_high.least_pa, self.window_pa[0]), "pressure", "least", (1, 3))
        much, little = (", too much" if reads_low.too_high else ""), (", too little" if reads_high.too_low else "")
        return f"{heavy} ({limit} allowed{much})", f"{least} ({asked} asked{little})"


def _out(found):
    """Whether a loop at rest is out of control, or leaves a door out."""
    return found.too_high or found.too_low or found.state != "held"


@in_each
def _unit_once(passed):
    """What passes a limit, its unit beside the limit alone.

    >>> _unit_once("2.8 Pa short of 25 Pa")
    '2.8 short of 25 Pa'
    """
    return re.sub(r"^([\d.]+) (\S+) (.*) \2$", r"\1 \3 \2", passed)
