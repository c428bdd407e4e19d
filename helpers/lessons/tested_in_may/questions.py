"""Lesson 09b's questions: what January does to what May proved, what a leak's readings tell, what an interval says, what to measure."""

import math

from helpers import units
from helpers.formulas import air, leakage
from helpers.formulas.leakage import pressure_in_another_weather
from helpers.lessons.tested_in_may import day
from helpers.lessons.tested_in_may.forecast_says import fine, half_width, measure_next, not_recorded, told_by_share
from helpers.studies.measured.intervals import percent, spread_text, window_text
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

SAME, LOWER, TURNED = (
    "all doors stay as they were: the loop holds them", "all doors lose pressure", "the top doors gain, the bottom doors lose"
)  # fmt: skip
WEATHERS = (SAME, LOWER, TURNED)
HARDLY, HALF_MORE, TWICE = "hardly at all", "by a quarter to a half", "to twice their width or more"
WIDER = (HARDLY, HALF_MORE, TWICE)
NOT_WIDER, LESS_THAN_TWICE, FIVE_TIMES = "no wider than before", "wider, but less than twice as wide", "about five times as wide"
COARSER = (NOT_WIDER, LESS_THAN_TWICE, FIVE_TIMES)
LITTLE, QUARTER, SO_WIDE = 1.1, 1.5, 3.0  # times as wide: ends of the options


def _january():
    (low, high), (before, after) = day.ends(day.doors_at()), day.ends(day.in_may())
    fell, rose = low.pressures_pa[1] < before.pressures_pa[1], high.pressures_pa[1] > after.pressures_pa[1]
    answer = TURNED if fell and rose else LOWER if fell else SAME
    words = (
        f"storey {low.level} goes from {_pa(before.pressures_pa[1])} to {_pa(low.pressures_pa[1])}, storey {high.level} from "
        f"{_pa(after.pressures_pa[1])} to {_pa(high.pressures_pa[1])}. The loop holds the mean of two transmitters and knows of no other "
        f"door. Cold air outdoors is heavy, so the stair over outdoors grows above the middle between the two transmitters, and shrinks "
        f"below it. The window of the doors is {window_text(high.window_pa)}."
    )
    return Outcome(Chosen(answer, WEATHERS), words)


def _traverse():
    times, floors = (day.width(day.doors_at(what=what)) / day.width(day.doors_at()) for what in (day.NO_FLOW, day.NO_FLOORS))
    answer = HARDLY if times < LITTLE else HALF_MORE if times < QUARTER else TWICE
    words = (
        f"{times:.2f} times as wide. The loop holds the pressure, whatever air that takes. How the leaks compare decides how that "
        "pressure is shared out, and the pressures show it. The flow shows how large the fan's task is: without the traverse nobody knows "
        "whether the fan holds in January at all. Leave out what was read over outdoors instead, some minutes' work, and the intervals "
        f"are {floors:.2f} times as wide."
    )
    return Outcome(Chosen(answer, WIDER), words)


def _gauge():
    coarse = day.doors_at(gauge_pa=day.COARSE_PA)
    times, share = day.width(coarse) / day.width(day.doors_at()), day.doors_at().stair_share
    answer = NOT_WIDER if times < LITTLE else LESS_THAN_TWICE if times < 2 else FIVE_TIMES
    words = (
        f"{times:.2f} times as wide. Many readings of one building back each other up, and with the good gauge "
        f"{percent(share)} of what is unsure, counted in squares, was the stair's air in January, which nobody reads in May."
    )
    return Outcome(Chosen(answer, COARSER), words)


def _ask_january():
    weather, site = day.may().fitted.readings.day.weather, day.may().fitted.readings.site
    return (
        f"Larkfield House, May, {_c(weather.outdoor_c)} outdoors, the stair at {_c(weather.stair_bottom_c)}. The loop holds "
        f"{_pa(day.SET_POINT_PA)} (this lesson's; on other pages {_pa(site.control.set_point_pa)}), the mean of storeys 1 and "
        f"12, and every door is inside its window. In January, {_c(day.JANUARY_C)} outdoors and the stair still at "
        f"{_c(day.JANUARY_STAIR_C)} in the first minute ({_c(site.temperatures.floor_c)}, the rooms', in the record), the loop "
        "holds the same reading. What do the doors do?"
    )


def _ask_traverse():
    return (
        "The traverse of the fan's flow takes an hour, and that day it was made three times. Leave it out, and keep the pressures: by how "
        f"much do the intervals of January's doors widen, the loop holding {_pa(day.SET_POINT_PA)}?"
    )


def _ask_gauge():
    fine = day.may().fitted.readings.day.gauges.pressure_pa
    return (
        f"The day's gauges were good to {_fine(fine)}. Had they been good to {_fine(day.COARSE_PA)} only, five times as coarse, how wide "
        "would the intervals of January's doors be?"
    )


january = Prediction("january", _ask_january, _january, WEATHERS)
traverse = Prediction("traverse", _ask_traverse, _traverse, WIDER)
gauge = Prediction("gauge", _ask_gauge, _gauge, COARSER)
PREDICTIONS = (january, traverse, gauge)


def _pa(value):
    return with_unit(value, "pressure")


def _fine(value):
    return with_unit(value, "pressure", (0, 3))


def _c(value):
    return with_unit(value, "temperature")


HAND = 0.01  # share that rounding costs in a calculation by hand with three digits
STACK_FACTOR = air.GRAVITY_M_S2 * air.STANDARD_PRESSURE_PA / air.R_DRY_AIR  # of the stack effect [Pa K/m]
FOOT_M = units.parse("1 ft", "length")


def january_pressure(draw):
    """A building and its day: from May to January."""
    storeys, rise, above = draw.whole(4, 7), draw.quantity("length", 2.8, 3.4, 0.1), draw.one_of((True, False))
    door, floor = draw.quantity("pressure", 42.0, 50.0, 1.0, fine(draw)), draw.quantity("pressure", 8.0, 16.0, 1.0, fine(draw))
    may, winter = draw.quantity("temperature", 6.0, 11.0, 1.0), draw.quantity("temperature", -18.0, -4.0, 1.0)
    then_c, now_c = draw.quantity("temperature", 18.0, 21.0, 1.0), draw.quantity("temperature", 16.0, 21.0, 1.0)
    height, share, finer = (1 if above else -1) * storeys * rise, door / (door + floor), 1 if draw.system == "Pa" else 3
    then, now = (float(air.stack_gradient(*pair)) for pair in ((may, then_c), (winter, now_c)))
    answer = float(pressure_in_another_weather(door, height, then, now, share))
    change = share * height * (now - then)
    say, where = draw.say, "above" if above else "below"
    question = (
        f"A test day: {say(may, 'temperature')} outdoors, the stair at {say(then_c, 'temperature')}. A shut stair door, {storeys} storeys "
        f"of {say(rise, 'length')} {where} the height that the loop's reading stands for, has {say(door, 'pressure', fine(draw))} across "
        f"it; the floor behind it has {say(floor, 'pressure', fine(draw))} over outdoors. In January it is {say(winter, 'temperature')} "
        f"outdoors, the stair is at {say(now_c, 'temperature')}, and the loop holds the same reading. What does the hand method say of "
        "this door?"
    )
    slips = (
        Slip("all on the door", "You put all of the change on the door. The outer wall behind it takes its share.",
             door + height * (now - then)),
        Slip("May left in", "You took all of January's stack effect. May had one, too, and it is in the reading already.",
             door + share * height * now),
        Slip("other way round", "You moved it the wrong way. Does a door so placed gain or lose in the cold?", door - change),
        Slip("storeys for metres", "You left the height in storeys. How high is one?", door + change / rise),
        Slip("wall's share", "You gave the door the share of the wall. Which of the two takes more?",
             door + (1 - share) * height * (now - then)),
    )  # fmt: skip
    kelvin = [temp + air.ZERO_C_K for temp in (may, then_c, winter, now_c)]
    sign, metres = "" if above else "−", "" if draw.system == "Pa" else f", that is {abs(height):.2f} m"
    shown = "" if draw.system == "Pa" else f", that is {say(change, 'pressure', finer)}"
    way = (
        f"Share of the door: {say(door, 'pressure', fine(draw))} of both together: {share:.3f}.",
        f"Stack effect: {STACK_FACTOR:.1f} × (1/{kelvin[0]:.2f} - 1/{kelvin[1]:.2f}) = {then:.3f} Pa for each metre in May, "
        f"{STACK_FACTOR:.1f} × (1/{kelvin[2]:.2f} - 1/{kelvin[3]:.2f}) = {now:.3f} in January.",
        f"Height {where}: {say(abs(height), 'length', 1)}{metres}. Share × height × change: {sign}{share:.3f} × {abs(height):.2f} × "
        f"{now - then:.3f} = {change:.1f} Pa{shown}.",
        f"With May's reading: {say(answer, 'pressure', finer)}.",
    )
    more = (
        Slip("one storey", "You took one storey of height. How many lie between the two?", door + change / storeys),
        Slip("nothing changes", "That is May's reading. The loop holds its own place and no other door.", door),
        Slip("change alone", "That is by how much it moves. From where?", abs(change)),
        Slip("floor carried", "You carried the floor's pressure. Asked for is the door's.", floor + change),
        Slip("door by floor", "You divided the door by the floor. A share is of both together.",
             door + door / floor * height * (now - then)),
        Slip("floor by door", "You gave the door the share of the wall. Which of the two takes more?",
             door + floor / door * height * (now - then)),
        Slip("gradients added", "You added the two stack effects. What counts is by how much it changes.",
             door + share * height * (now + then)),
        Slip("January alone, whole", "All of January's stack effect is on the door. May's is in the reading, and the wall has a share.",
             door + height * now),
        Slip("whole to the outdoors", "That is the stair over outdoors. Asked for is the door alone.", answer + floor),
        Slip("share of the share", "You took the door's share of its own reading, too. The share belongs to the change.",
             share * door + change),
    )  # fmt: skip
    if draw.system == "Pa":
        more += (Slip("kilopascals", "The figure is right, and the unit is a thousand times too large: Pa, not kPa.", 1000 * answer),)
    else:
        more += (Slip("feet for metres", "You left the height in feet. The stack effect is for each metre.", door + change / FOOT_M),)
    return Exercise(question, _pressure(draw, answer, finer), slips, way, more=more)


def exponent_of_two_rounds(draw):
    """The exponent of a leak."""
    factor, true = draw.whole(15, 30) / 100, draw.whole(54, 68) / 100
    high, low = draw.quantity("pressure", 38.0, 52.0, 1.0, fine(draw)), draw.quantity("pressure", 10.0, 18.0, 1.0, fine(draw))
    much, little = (draw.as_written(factor * dp**true, "flow") for dp in (high, low))
    answer = float(leakage.leak_exponent(much, high, little, low))
    flows, pressures = much / little, high / low
    question = (
        f"All doors of a stair are shut. At one speed the fan gives {draw.say(much, 'flow')}, and the mean across the doors is "
        f"{draw.say(high, 'pressure', fine(draw))}; at a slower one {draw.say(little, 'flow')} at {draw.say(low, 'pressure', fine(draw))}. "
        "Which exponent has the leak?"
    )
    slips = (
        Slip("turned round", "You turned the quotient round. The air rises less than the pressure does: which logarithm is the smaller?",
             1 / answer),
        Slip("no logarithm", "You divided the ratios themselves. A power is brought down by logarithms.", flows / pressures),
        Slip("square root taken for granted", "One half is that of a sharp gap. Asked for is what these two rounds tell.", 0.5),
        Slip("flows alone", "That is the logarithm of the flows. By what is it divided?", math.log(flows)),
    )  # fmt: skip
    way = (
        f"Ratios of first to second round: {flows:.3f} of the flows, {pressures:.3f} of the pressures.",
        f"Logarithms: {math.log(flows):.4f} and {math.log(pressures):.4f}.",
        f"Their quotient: {answer:.3f}.",
    )
    more = (
        Slip("pressures alone", "That is the logarithm of the pressures. What is divided by it?", math.log(pressures)),
        Slip("ratio of flows", "That is how many times the air. Which power of the pressures' ratio is it?", flows),
        Slip("ratio of pressures", "That is how many times the pressure. Which power of it gives the air?", pressures),
        Slip("two logarithms mixed", "You took a natural logarithm above and a decimal one below. One kind for both.",
             answer * math.log(10)),
        Slip("two logarithms mixed, other way", "You took a decimal logarithm above and a natural one below. One kind for both.",
             answer / math.log(10)),
        Slip("what is missing to one", "That is what is missing to one.", 1 - answer),
        Slip("sign", "An exponent of a leak is above zero. Divide the same round by the same round in both ratios.", -answer),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "number", 0.012, 3), slips, way, more=more)


def outer_wall(draw):
    """The outer wall from two pressures."""
    area = draw.quantity("area", 0.020, 0.036, 0.001)
    door, floor = draw.quantity("pressure", 36.0, 50.0, 1.0, fine(draw)), draw.quantity("pressure", 6.0, 16.0, 1.0, fine(draw))
    answer, root = float(leakage.area_behind(area, door, floor)), math.sqrt(door / floor)
    large, small, times = ("m²", "cm²", 1e4) if draw.system == "Pa" else ("ft²", "in²", 144.0)
    question = (
        f"Across a shut stair door {draw.say(door, 'pressure', fine(draw))} are read, and the floor behind it has "
        f"{draw.say(floor, 'pressure', fine(draw))} over outdoors. Door and stair wall leak through {draw.say(area, 'area')} there. "
        "Through how much does the floor leak to outdoors, all of it through sharp gaps?"
    )
    slips = (
        Slip("turned round", "You turned the pressures round. Of two gaps in a row, which one needs less pressure?", area / root),
        Slip("no root", "You took the pressures themselves. The same air goes through both, and air goes with a root.", area * root**2),
        Slip("whole for the door", "You took the stair over outdoors for the door. Each gap has its own pressure.",
             area * math.sqrt((door + floor) / floor)),
        Slip("same as the door", "That is the door. With the same gaps both would have the same pressure.", area),
    )  # fmt: skip
    way = (
        f"Root of the ratio of the pressures, the door's by the wall's: {root:.3f}.",
        f"Times the door's gaps: {draw.say(answer, 'area')}.",
    )
    more = (
        Slip("turned round, no root", "You turned the pressures round and took no root.", area / root**2),
        Slip("squared", "You squared where a root is to be taken.", area * root**4),
        Slip("both in a row", "That is what door and wall let through together, as one gap.", float(leakage.in_series([area, answer]))),
        Slip("difference of pressures", "You took one pressure off the other. The ratio counts.", area * math.sqrt((door - floor) / floor)),
        Slip("both side by side", "You added the door. Asked for is the wall alone.", area + answer),
        Slip("root alone", "That is the root alone. Times which area?", _as_area(draw, root)),
        Slip("ratio alone", "That is the ratio of the pressures. What does one do with it?", _as_area(draw, root**2)),
        Slip("small unit, no label", f"The figure is in {small}. The unit asked for is {large}.", answer * times),
        Slip("small unit, wrong label", f"The figure is right, and the unit is not {small}.", answer / times),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "area", HAND * answer), slips, way, more=more)


def _as_area(draw, figure):
    """What a bare figure is taken for where an area is asked for [m²]."""
    return float(units.from_display(figure, "area", draw.system))


def _pressure(draw, value, digits):
    """Rounding of a calculation by hand, and no less than half of the last digit of a gauge."""
    half = float(units.from_display(0.5 if draw.system == "Pa" else 0.002, "pressure", draw.system))
    return Measured(value, "pressure", max(HAND * abs(value), half), digits)


MAKERS = (january_pressure, exponent_of_two_rounds, outer_wall, half_width, told_by_share, measure_next, not_recorded)


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    weather = day.may().fitted.readings.day.weather
    start = {"outdoor_c": weather.outdoor_c, "stair_c": weather.stair_bottom_c, "set_point_pa": day.SET_POINT_PA, "what": day.WHOLE,
             "gauge_pa": day.may().fitted.readings.day.gauges.pressure_pa, "truth": "hidden"}  # fmt: skip
    cold, raised = day.doors_at(), day.doors_at(set_point_pa=RAISED_PA)
    (low, high), (mild_low, mild_high) = day.ends(cold), day.ends(day.in_may())

    def figures(shown):
        coarse = day.doors_at(set_point_pa=RAISED_PA, gauge_pa=day.COARSE_PA)
        return {
            "cold": shown.c(day.JANUARY_C), "stair": shown.c(day.JANUARY_STAIR_C), "point": shown.pa(day.SET_POINT_PA),
            "low": shown.pa(low.pressures_pa[1]), "high": shown.pa(high.pressures_pa[1]), "least": shown.pa(low.window_pa[0]),
            "most": shown.pa(high.window_pa[1]), "mild_low": shown.pa(mild_low.pressures_pa[1]),
            "mild_high": shown.pa(mild_high.pressures_pa[1]), "raised": shown.pa(RAISED_PA),
            "raised_low": shown.pa(day.ends(raised)[0].pressures_pa[1]), "raised_high": shown.pa(day.ends(raised)[1].pressures_pa[1]),
            "coarse": shown.fine(day.COARSE_PA, 0), "before": spread_text(*day.ends(raised)[1].reach_pa),
            "after": spread_text(*day.ends(coarse)[1].reach_pa),
        }  # fmt: skip

    tempting = "The display shows the same figure in January as in May, and the certificate says that every door passed at that figure."
    opening = "May: {mild_low} at the bottom, {mild_high} at the top, all doors inside."
    return Story("tested_in_may", january, SAME, tempting, start, opening, _moves(), figures)


RAISED_PA = 45.0


def _moves():
    return (
        Move(
            {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C},
            "Outdoors {cold}, stair air {stair}",
            "January. The loop holds the same {point}. What do the bottom door and the top door read?",
            "{low} at the bottom, {high} at the top. The loop holds the mean of two places; every other door goes its own way with the "
            "cold.",
        ),
        Move(
            {"set_point_pa": RAISED_PA},
            "Set point {raised}",
            "Then set it higher, in May already. Is there one set point for both ends?",
            "No: {raised_low} at the bottom where {least} are asked for, {raised_high} at the top where {most} are the most.",
        ),
        Move(
            {"gauge_pa": day.COARSE_PA},
            "Gauges within {coarse}",
            "Gauges five times as coarse. How wide is the top door's interval now?",
            "{after}; it was {before}. Many readings back each other up, and the stair's air in January was never read.",
        ),
    )
