"""The loop of a plant other than a stair in one form that can be keyed in: what the controller works out at every sample, with figures.

    error = 100 (reading - set point) / span          of a direct loop; set point less reading of a reverse one
    integral part = integral part of before + gain error sample / integral time
    output = gain error + integral part               clamped to the ends; a growth that has pushed past an end is taken back

All in per cent: error of the span, output of full speed. It is what `model.loop.controller` plays, written out: a test keys it in anew
and holds the two against each other. Limits: no derivative part, no dead band, as the site file of a plant has none.
"""

from helpers.studies.report import Setting, time_text
from helpers.studies.signals.plates import span_text
from helpers.units.said import with_unit

LOOP = "loop"
ERROR, OUTPUT, GROWS = "error", "output", "integral part, each sample"
ENDS, BEGINS, PROOF = "integral at the ends of the output", "integral part at a start", "one sample, worked out"
FORM = (ERROR, OUTPUT, GROWS, ENDS, BEGINS, PROOF)  # names of the lines, in the order in which a sample is worked out
JUMPS = (
    "so that nothing jumps: at a start, after a stop, back from MANUAL (there it is the speed that the fan has), an alarm or a fallback. "
    "A fan that starts far from its set point speeds up with its reading before that is reached"
)
TRIED_PERCENT = 40.0  # integral part of the example


def lowest_percent(fan):
    """The lowest output of a fan [% of full speed]."""
    return 100 * fan.lowest_speed_hz / fan.highest_speed_hz


def form_lines(design):
    """The `Setting`s that say how a sample is worked out, for any system of units."""
    control, fan, loop = design.site.control, design.site.fan, design.strategy.loop
    _, low, high = design.strategy.inputs[0].entered
    span = design.bench.show(high - low) if design.gas else span_text(high - low)
    point = "set point of the moment" if design.has_reset else "set point"
    sides = ("reading", point) if control.action == "direct" else (point, "reading")
    top, least = fan.highest_speed_hz, lowest_percent(fan)
    each = loop.gain * control.sample_s / control.integral_time_s
    sample, integral = with_unit(control.sample_s, "time", 2), time_text(control.integral_time_s)
    error = f"100 x ({sides[0]} - {sides[1]}) / {span}, in %: a positive error asks for more speed"
    yield Setting(LOOP, ERROR, error, f"{control.action} acting; of the combined reading, after the filters")
    ends = f"{least:.3g} % ({fan.lowest_speed_hz:g} Hz) to 100 % ({top:g} Hz)"
    output = f"gain x error + integral part, in % of {top:g} Hz, kept from {ends}; no other part is added"
    yield Setting(LOOP, OUTPUT, output, "0 % is standstill: the lowest speed is a clamp and no zero; the ramps are the drive's")
    grows = f"by {each:.3g} % for an error of 1 %, before the output is worked out"
    why = "one gain for both parts; a device with a gain for each: see the enquiry list: loop form"
    yield Setting(LOOP, GROWS, f"grows by gain x error x {sample} / {integral}: {grows}", why)
    ends = (
        "where the output so worked out is past an end and the error asks for more of it, that sample's growth is taken back afterwards, "
        "and the next sample begins without it; the integral part itself has no ends and may stand below 0 % or above 100 %"
    )
    why = "else it winds up; a device that keeps the integral part itself between ends starts otherwise and is another loop"
    yield Setting(LOOP, ENDS, ends, why)
    begins = f"the output of the sample before less gain x error, then as each sample; after a standstill that output is {least:.3g} %"
    yield Setting(LOOP, BEGINS, begins, JUMPS)
    yield Setting(LOOP, PROOF, _example(design, high - low), "calculated; the device's own figure is held against it before it runs a fan")


def _example(design, span_si):
    """One sample worked out, in words: an error of one per cent with an integral part that is given."""
    control, fan, gain = design.site.control, design.site.fan, design.strategy.loop.gain
    each = gain * control.sample_s / control.integral_time_s
    way = 1 if control.action == "direct" else -1
    read = control.set_point_ppm if design.gas else control.set_point_pa
    asked = gain + TRIED_PERCENT + each
    out = min(max(asked, lowest_percent(fan)), 100.0)
    speed = out * fan.highest_speed_hz / 100
    has = f"reading {design.bench.fine(read + way * span_si / 100)}, set point {design.bench.show(read)}, integral part {TRIED_PERCENT:g} %"
    return f"{has}: error 1 %, integral part {TRIED_PERCENT + each:.4g} %, output {out:.4g} %, {speed:.4g} Hz"
