"""Lesson 01's exercises on the stack effect: what it takes of the window, and over how many storeys one fan's window reaches."""

from helpers import units
from helpers.formulas import air
from helpers.teaching.questions import Exercise, Measured, Slip

HAND = 0.01  # share that rounding costs in a calculation by hand with three digits
FOOT_M = units.parse("1 ft", "length")
STACK_FACTOR = air.GRAVITY_M_S2 * air.STANDARD_PRESSURE_PA / air.R_DRY_AIR  # of the stack effect [Pa K/m]


def stack_over_height(draw):
    """What the stack effect takes of the window."""
    rises, rise = draw.whole(7, 18), draw.quantity("length", 2.8, 3.6, 0.1)
    outdoor, indoor = draw.quantity("temperature", -25.0, 2.0, 1.0), draw.quantity("temperature", 19.0, 23.0, 1.0)
    height = rises * rise
    stack = float(air.stack_pressure(height, outdoor, indoor))
    question = (
        f"A stair at {draw.say(indoor, 'temperature')}, the windows in the outer walls open, "
        f"{draw.say(outdoor, 'temperature')} outdoors. The highest door lies {rises} storeys of "
        f"{draw.say(rise, 'length')} above the lowest. How much more pressure is across the highest door than across the lowest?"
    )
    slips = (
        Slip("one storey", "That is the difference over one storey. How many lie between the two doors?", stack / rises),
        Slip("one storey short", "You counted one storey too few. From one door to the next it is a whole storey.",
             stack * (rises - 1) / rises),
        Slip("one storey over", "You counted the doors. There is one more of them than there are storeys in between.",
             stack * (rises + 1) / rises),
        Slip("from the middle", "You counted from half way up. Asked for is the difference between the two ends.", stack / 2),
        Slip("degrees for kelvin", "The density of air goes with the temperature above absolute zero: kelvin. You put other degrees in.",
             _without_kelvin(draw, height, outdoor, indoor)),
    )  # fmt: skip
    out_density, in_density = (float(air.density(temp)) for temp in (outdoor, indoor))
    kelvin = [temp + air.ZERO_C_K for temp in (outdoor, indoor)]
    metres, pascals = ("", "") if draw.system == "Pa" else (f", that is {height:.2f} m", f"{stack:.1f} Pa, that is ")
    way = (
        f"In kelvin: {kelvin[0]:.2f} outdoors, {kelvin[1]:.2f} in the stair. The last line of the stack effect: "
        f"{STACK_FACTOR:.1f} × (1/{kelvin[0]:.2f} - 1/{kelvin[1]:.2f}) = {stack / height:.3f} Pa for each metre.",
        f"Height: {rises} × {draw.say(rise, 'length')} = {draw.say(height, 'length', 1)}{metres}.",
        f"Times the height: {pascals}{draw.say(stack, 'pressure', fine(draw))} in all.",
        f"A check by weight: {out_density:.3f} kg/m³ outdoors and {in_density:.3f} in the stair; their difference × "
        f"{air.GRAVITY_M_S2:.2f} m/s² is the same for each metre.",
    )
    more = (
        Slip("per metre", "That is the difference over one metre of height. How many metres lie between the doors?", stack / height),
        Slip("whole weight", "That is the weight of the cold air alone. The warm air in the stair weighs something, too.",
             float(air.density(outdoor)) * air.GRAVITY_M_S2 * height),
    )  # fmt: skip
    more += tuple(_without_zero(height, outdoor, indoor))
    if draw.system != "Pa":
        shown = [float(units.to_display(temp, "temperature", draw.system)) for temp in (outdoor, indoor)]
        if all(shown):
            more += (Slip("degrees Fahrenheit as they are", "You put degrees Fahrenheit in as they are. The formula wants kelvin.",
                          STACK_FACTOR * (1 / shown[0] - 1 / shown[1]) * height),)  # fmt: skip
        more += (
            Slip("feet for metres", "You left the height in feet. The last line of the stack effect wants metres.", stack / FOOT_M),
            Slip("rankine for kelvin", "You counted from absolute zero in degrees Fahrenheit. The formula wants kelvin.", stack / 1.8),
        )
    return Exercise(question, pressure_asked(draw, stack, 0.02), slips, way, more=more)


def _without_zero(height_m, outdoor_c, indoor_c):
    """Slips with the temperatures in °C: no 273 added, or the minus of the outdoor air lost."""
    if outdoor_c and indoor_c:
        each = STACK_FACTOR * (1 / outdoor_c - 1 / indoor_c)
        for name, value in (("per metre", each), ("turned round", -each), ("turned round, whole height", -each * height_m)):
            yield Slip(f"degrees Celsius as they are, {name}", "You put degrees Celsius in as they are. The formula counts from absolute "
                       "zero: kelvin. And it is outdoors less stair, times the height.", value)  # fmt: skip
        yield Slip("degrees Celsius as they are", "You put degrees Celsius in as they are. The formula counts from absolute zero: kelvin.",
                   STACK_FACTOR * (1 / outdoor_c - 1 / indoor_c) * height_m)  # fmt: skip
    if outdoor_c < 0:
        lost = [1 / (temp + air.ZERO_C_K) for temp in (-outdoor_c, indoor_c)]
        yield Slip("minus lost", "The outdoor air is below zero in degrees Celsius. What becomes of its minus in kelvin?",
                   STACK_FACTOR * (lost[0] - lost[1]) * height_m)  # fmt: skip


def fine(draw):
    """Digits of a pressure that is given, not read off a door."""
    return 0 if draw.system == "Pa" else 3


def pressure_asked(draw, value, share=HAND):
    """Rounding of a calculation by hand, and no less than half of the last digit that is shown."""
    half = units.from_display(0.5 if draw.system == "Pa" else 0.005, "pressure", draw.system)
    return Measured(value, "pressure", max(share * value, half), fine(draw))


def _without_kelvin(draw, height_m, outdoor_c, indoor_c):
    """Stack effect with what the thermometer shows in place of kelvin: °C as they are, or 273 added to °F."""
    shown = [float(units.to_display(temp, "temperature", draw.system)) for temp in (outdoor_c, indoor_c)]
    outside, inside = (temp + (0.0 if draw.system == "Pa" else air.ZERO_C_K) for temp in shown)
    if not outside or not inside:
        return float("inf")  # nobody divides by nothing: other numbers are drawn
    return STACK_FACTOR * (1 / outside - 1 / inside) * height_m


def storeys_served(draw):
    """How many storeys one fan can serve."""
    if draw.edition > 4:  # a whole number of steps just fits: who only rounds up does not come out right
        digits = shown = 1 if draw.system == "Pa" else 3
        each = draw.quantity("pressure", 2.0, 5.0, 0.5, digits)
        least, between = draw.quantity("pressure", 20.0, 30.0, 1.0, fine(draw)), draw.whole(6, 16)
        most, answer = draw.as_written(least + between * each, "pressure", shown), between + 1.0
        too_many = Slip("one over", "You counted one too many. Count the lowest door, and one more for each step.", answer + 1)
    else:
        digits, shown = (1, 0) if draw.system == "Pa" else (4, 3)
        each = draw.quantity("pressure", 2.0, 5.0, 0.1, digits)
        least, between = draw.quantity("pressure", 20.0, 30.0, 1.0, fine(draw)), draw.whole(6, 16)
        most = draw.as_written(least + (between + 0.5) * each, "pressure", fine(draw))
        answer = float(int((most - least) / each) + 1)
        too_many = Slip("rounded up", "You rounded up. The door that does not fit any more is over the maximum.", answer + 1)
    question = (
        f"The doors of a stair must have at least {draw.say(least, 'pressure', fine(draw))} and at the most "
        f"{draw.say(most, 'pressure', shown)} across them. On the coldest day the stack effect adds "
        f"{draw.say(each, 'pressure', digits)} from each storey's door to the next one above. One fan holds the lowest "
        "door just at the minimum. How many storeys, with a door "
        "each, can it serve?"
    )
    slips = (
        Slip("steps for doors", "You counted the steps between the doors. How many doors have so many steps between them?", answer - 1),
        too_many,
    )
    more = (
        Slip("from zero", "You gave the stack effect all of the maximum. The lowest door has the minimum already.", most / each),
        Slip("from zero, whole steps", "You gave the stack effect all of the maximum. The lowest door has the minimum already.",
             float(int(most / each))),
        Slip("the minimum's part", "You shared out the minimum. What is left of the window above it?", least / each),
        Slip("half a storey", "Half a storey has no door. Which whole number still fits?", (most - least) / each),
        Slip("window alone", "That is the width of the window, as a pressure. How many steps fit into it?",
             float(units.to_display(most - least, "pressure", draw.system))),
        Slip("both ends added", "You added the two ends. The window lies between them.", (most + least) / each),
        Slip("twice", "You counted up and down. The lowest door is held at the minimum; all others lie above it.", 2 * answer),
    )  # fmt: skip
    way = (
        "Take the minimum off the maximum: that is what the stack effect may add from the lowest door to the highest.",
        f"{draw.say(most - least, 'pressure', shown)} / {draw.say(each, 'pressure', digits)} = {(most - least) / each:.1f} steps.",
        f"So {answer - 1:.0f} whole steps, and one door more than steps: {answer:.0f} storeys.",
        "That uses the whole window. What is kept of it for wind and a transmitter's error comes off first, and fewer storeys are left.",
    )
    return Exercise(question, Measured(answer, "number", 0.3, 0, "storeys"), slips, way, more=more)
