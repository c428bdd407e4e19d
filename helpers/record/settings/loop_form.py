"""The loop of a stair or of another plant in one form that can be keyed in: what the controller works out at every sample, with figures.

    error = 100 (reading - set point) / span          of a direct loop; set point less reading of a reverse one
    integral part = integral part of before + gain error sample / integral time
    output = gain error + integral part               clamped to the ends; a growth that has pushed past an end is taken back

All in per cent: error of the span, output of full speed. It is what `model.loop.controller` plays, written out: a test keys it in anew
and holds the two against each other. Limits: no derivative part, no dead band, as no site file has any.
"""

import math
from typing import NamedTuple

from helpers.studies.report import Setting, time_text
from helpers.units.said import with_unit

LOOP = "loop"
ERROR, OUTPUT, GROWS = "error", "output", "integral part, each sample"
ENDS, BEGINS, PROOF = "integral at the ends of the output", "integral part at a start", "one sample, worked out"
FILTER, GOES_ON = "filter, each sample", "output to go on from"  # of a transmitter; of a plant's loop back from MANUAL
TAKEN_BACK = "growth past an end"  # of a stair, whose line of the ends says in one word whether it stops there
FORM = (ERROR, OUTPUT, GROWS, ENDS, BEGINS, PROOF)  # names of the lines, in the order in which a sample is worked out
JUMPS = (
    "so that nothing jumps: at a start, after a stop, back from MANUAL (there it is the speed that the fan has), an alarm or a fallback. "
    "A fan that starts far from its set point speeds up with its reading before that is reached"
)
TRIED_PERCENT = 40.0  # integral part of the example


class LoopForm(NamedTuple):
    """What a loop is set to, for its lines: action; span and set point in words, the set point's and the example's figures too, whose error
    is one per cent; gain [%/%], integral time and sample [s]; full speed, by which the output counts, and its two ends [Hz]."""

    action: str
    span: str
    point: str
    set_at: str
    read_at: str
    gain: float
    integral_s: float
    sample_s: float
    full_hz: float
    lowest_hz: float
    highest_hz: float

    @property
    def ends_percent(self):
        """Lowest and highest output [% of full speed]."""
        return tuple(100 * end / self.full_hz for end in (self.lowest_hz, self.highest_hz))

    @property
    def each_percent(self):
        """What the integral part grows by at a sample, for an error of one per cent."""
        return self.gain * self.sample_s / self.integral_s


def one_percent_off(set_point, span, action):
    """The reading whose error is one per cent of the span, in their unit: the one that asks for more speed."""
    return set_point + (1 if action == "direct" else -1) * span / 100


def filter_line(group, filter_s, sample_s):
    """The `Setting` of how far a first-order filter goes in one sample, 1 - exp(-sample / time constant); filter_s, sample_s [s]."""
    share = -math.expm1(-sample_s / filter_s) if filter_s > 0 else 1.0
    value = f"1 - exp(-{sample_s:g} s / {filter_s:g} s) = {share:.3f}" if filter_s > 0 else "the whole way: it has no filter"
    return Setting(group, FILTER, value, "exact for a reading that stands still between samples; sample / (time constant + sample) is less")


def going_on_line(form: LoopForm):
    """The `Setting` of the output that a plant's loop goes on from where the fan may turn already."""
    least, _ = form.ends_percent
    on = f"the speed that the fan has then, as its point tells, in % of {form.full_hz:g} Hz, never below {least:.3g} %"
    alone = "of a speed without a number the loop's own last output, after the controller's own start the lowest one"
    return Setting(LOOP, GOES_ON, f"{on}; {alone}", "our own choice; a fan at rest so begins at its lowest speed")


def form_lines(form: LoopForm, ends=ENDS, stops="", at_start="after a standstill"):
    """The `Setting`s that say how a sample is worked out, for any system of units; ends: name of the line of the ends; stops: where the
    integral part stops besides; at_start: when the output of before is the lowest one."""
    sides = ("reading", form.point) if form.action == "direct" else (form.point, "reading")
    (least, most), full = form.ends_percent, form.full_hz
    error = f"100 x ({sides[0]} - {sides[1]}) / {form.span}, in %: a positive error asks for more speed"
    yield Setting(LOOP, ERROR, error, f"{form.action} acting; of the combined reading, after the filters")
    kept = f"{least:.3g} % ({form.lowest_hz:g} Hz) to {most:.3g} % ({form.highest_hz:g} Hz)"
    output = f"gain x error + integral part, in % of {full:g} Hz, kept from {kept}; no other part is added"
    yield Setting(LOOP, OUTPUT, output, "0 % is standstill: the lowest speed is a clamp and no zero; the ramps are the drive's")
    sample, integral = with_unit(form.sample_s, "time", 2), time_text(form.integral_s, 4)
    grows = f"by {form.each_percent:.3g} % for an error of 1 %, before the output is worked out"
    why = "one gain for both parts; a device with a gain for each: see the enquiry list: loop form"
    yield Setting(LOOP, GROWS, f"grows by gain x error x {sample} / {integral}: {grows}", why)
    back = (
        f"where the output so worked out is past an end and the error asks for more of it{stops}, that sample's growth is taken back "
        "afterwards, and the next sample begins without it; the integral part itself has no ends and may stand below 0 % or above 100 %"
    )
    why = "else it winds up; a device that keeps the integral part itself between ends starts otherwise and is another loop"
    yield Setting(LOOP, ends, back, why)
    begins = f"the output of the sample before less gain x error, then as each sample; {at_start} that output is {least:.3g} %"
    yield Setting(LOOP, BEGINS, begins, JUMPS)
    yield Setting(LOOP, PROOF, _example(form), "calculated; the device's own figure is held against it before it runs a fan")


def _example(form):
    """One sample worked out, in words: an error of one per cent with an integral part that is given."""
    least, most = form.ends_percent
    out = min(max(form.gain + TRIED_PERCENT + form.each_percent, least), most)
    has = f"reading {form.read_at}, set point {form.set_at}, integral part {TRIED_PERCENT:g} %"
    grown = f"integral part {TRIED_PERCENT + form.each_percent:.4g} %"
    return f"{has}: error 1 %, {grown}, output {out:.4g} %, {out * form.full_hz / 100:.4g} Hz"
