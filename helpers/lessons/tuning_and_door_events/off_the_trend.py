"""Lesson 08's exercises off a trend and at the door: time constant, dead time, integral time, what a ramp takes, force at a handle."""

import math

from helpers import units
from helpers.formulas import doors, tuning
from helpers.studies.status import status_of, word_of
from helpers.teaching.questions import Exercise, Measured, Slip, before_rounding
from helpers.units.said import two

LIMIT_N = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]

ROW = 5  # readings of a trend in a row
HAND = 0.02  # share that rounding costs in a calculation by hand


def dead_time_from_a_trend(draw):
    """The dead time off a trend."""
    told, row_s, dead, lag, *_ = _trend(draw)
    answer = dead * row_s
    question = f"{told} How long is the dead time (the delay), counted to the last reading that has not moved?"
    slips = (
        Slip("first that moved", "By then the reading has moved. Which is the last one that has not?", answer + row_s),
        Slip("to 63 %", "That is where 63 % of the rise is reached. The dead time ends where the reading begins to move.",
             (dead + lag) * row_s),
    )  # fmt: skip
    more = (
        Slip("between two readings", "Between two readings the trend tells nothing. Take the last one that has not moved.",
             answer + row_s / 2),
        Slip("time constant", "That is the time constant. It begins where the dead time ends.", lag * row_s),
        Slip("one too early", "One reading too early: there it stood still for a while longer.", answer - row_s),
        Slip("counted the readings", "You counted the readings, and they are not a second apart.", float(dead)),
        Slip("counted the first one", "You counted the reading at the step itself as well.", float(dead + 1)),
        Slip("half-way", "You took half of the way up. The dead time ends before anything rises.",
             (dead + lag * math.log(2)) * row_s),
    )  # fmt: skip
    way = (
        f"Look for the last reading that still stands as before the step: they lie {row_s:g} s apart.",
        f"It stands {dead} readings after the step: {dead} x {row_s:g} s = {two(answer)} s.",
    )
    return Exercise(question, Measured(answer, "time", 0.3 * row_s, 2), slips, way, more=more)


def time_constant_from_a_trend(draw):
    """The time constant off a trend."""
    told, row_s, dead, lag, before, rise = _trend(draw)
    answer = lag * row_s
    question = f"{told} How long is the time constant (the lag)? It is the time from the end of the dead time to 63 % of the rise."
    slips = (
        Slip("dead time counted in", "You counted from the step. The dead time is not part of it: begin where the reading begins to move.",
             (dead + lag) * row_s),
        Slip("dead time for lag", "That is how long nothing moved. The time constant begins there.", dead * row_s),
    )  # fmt: skip
    reading, way_up = (float(units.to_display(pa, "pressure", draw.system)) for pa in (before + 0.63 * rise, 0.63 * rise))
    more = (
        *(Slip("pressure for time", "That is a pressure. At which time does it stand there?", pressure) for pressure in (reading, way_up)),
        *(Slip("a reading beside it", "Close, and not the reading nearest to 63 % of the rise. How much is that, and where does it stand?",
               answer + readings * row_s) for readings in (-1.0, -0.5, 0.5, 1.0)),
        Slip("half-way", "You took half of the rise. How much is 63 % of it?", lag * math.log(2) * row_s),
        Slip("half-way from the step", "You took half of the rise, and counted from the step.", (dead + lag * math.log(2)) * row_s),
        Slip("to the end", "That is where the reading has all but come to its end. How much is 63 % of the rise?", 3 * lag * row_s),
        Slip("counted the readings", "You counted the readings, and they are not a second apart.", float(lag)),
        Slip("counted from the step", "You counted the readings from the step, and they are not a second apart.", float(dead + lag)),
        Slip("37 %", "You took 37 % of the rise. That is what is left at the time constant.", -lag * math.log(1 - 0.37) * row_s),
    )  # fmt: skip
    way = (
        "63 % of the way from the first reading to the one in the end: find the reading there.",
        f"It stands {dead + lag} readings after the step, {dead} of them dead time.",
        f"{lag} x {row_s:g} s = {two(answer)} s.",
    )
    return Exercise(question, Measured(answer, "time", 0.45 * row_s, 2), slips, way, more=more)


def _trend(draw):
    """A step test as a row of readings: (the words, seconds between readings, dead time and time constant in readings, first reading
    and rise [Pa])."""
    row_s, dead, lag = draw.one_of((0.1, 0.2, 0.5)), draw.whole(3, 5), draw.whole(5, 8)
    digits = 1 if draw.system == "Pa" else 3
    before, rise = draw.quantity("pressure", 28.0, 40.0, 1.0, digits), draw.quantity("pressure", 8.0, 14.0, 1.0, digits)
    speed, step = draw.whole(35, 60), draw.one_of((4, 5, 6))
    shape = [1 - math.exp(-max(place - dead, 0) / lag) for place in range(dead + 2 * lag + 1)]
    told = [draw.say(before + rise * share, "pressure", digits).partition(" ")[0] for share in shape]
    rows = "; ".join(f"from {place * row_s:g} s {', '.join(told[place : place + ROW])}" for place in range(0, len(told), ROW))
    words = (
        f"Step test in manual, another building's loop: at the step the speed goes from {speed} % to {speed + step} %. From then on the "
        f"trend has a reading every {row_s:g} s ({units.unit_label('pressure', draw.system)}), {ROW} in a row: {rows}; in the end it "
        f"stands at {draw.say(before + rise, 'pressure', digits)}."
    )
    return words, row_s, dead, lag, before, rise


def integral_time(draw):
    """The integral time by SIMC."""
    lag, delay = draw.whole(6, 60) / 10, draw.whole(1, 5) / 10
    closed = round(delay * draw.one_of((1.0, 1.5, 2.0, 3.0)), 2)
    gain = draw.whole(6, 18) / 10
    long, found = 4 * (closed + delay), float(tuning.simc_pi(gain, lag, delay, closed).integral_s)
    question = (
        f"A step test gave a gain of {gain:.1f} %/%, a time constant of {lag:.1f} s and a dead time of {delay:.1f} s. The closed loop is "
        f"to follow with a time constant of {closed:g} s. SIMC takes the building's time constant for the integral time, but no more than "
        "four times closed loop and dead time together. What integral time do you enter?"
    )
    slips = (
        Slip("the longer one", "Two times compete, and you took the longer one. Which of them counts?", max(lag, long)),
        Slip("without the four", "That is closed loop and dead time together. How many times that is the limit?", closed + delay),
    )  # fmt: skip
    more = (
        Slip("dead time forgotten", "You left the dead time out. The limit has both, closed loop and dead time.", 4 * closed),
        Slip("closed loop forgotten", "You left the closed loop out. The limit has both, closed loop and dead time.", 4 * delay),
        Slip("dead time for it", "That is the dead time. What is four times closed loop and dead time together?", delay),
        Slip("closed loop for it", "That is the closed loop's time. The limit is four times closed loop and dead time together.", closed),
        Slip("four lags", "You took the time constant four times. The four belongs to closed loop and dead time.", 4 * lag),
        Slip("gain mixed in", "The gain has no part in the integral time.", found * gain),
        Slip("gain divided", "You divided by the gain. It has no part in the integral time.", found / gain),
        Slip("dead time added", "You added the dead time to the time constant. They are two figures of the same test.", lag + delay),
        Slip("repeats", "That is repeats per minute. The integral time was asked for, in seconds.", 60 / found),
        Slip("half", "You took half. Write both times down, and take the shorter one as it is.", found / 2),
    )  # fmt: skip
    way = (
        "Two times: the time constant, and four times closed loop and dead time together.",
        f"4 x ({closed:g} + {delay:.1f}) = {long:.2f} s; the time constant is {lag:.1f} s.",
        f"The shorter one counts: {found:.2f} s.",
    )
    return Exercise(question, Measured(found, "time", max(HAND * found, 0.02), 2), slips, way, more=more)


def ramp_alone(draw):
    """What the ramp alone takes."""
    full = draw.one_of((50.0, 60.0))
    ramp, start = float(draw.whole(4, 30)), 20.0 + 0.5 * draw.whole(0, 20)
    end = start + 10.0 + 0.5 * draw.whole(0, 15)
    found = ramp * (end - start) / full
    question = (
        f"A drive's ramp is {ramp:.0f} s from standstill to {full:.0f} Hz. A door opens, and the fan must go from {start:.1f} Hz to "
        f"{end:.1f} Hz. How long does that take at the least, with the best controller there is?"
    )
    slips = (
        Slip("whole ramp", "That is the time from standstill to full speed. How much of that way has this fan to go?", ramp),
        Slip("from standstill", "That is the time from standstill. The fan turns already.", ramp * end / full),
        Slip("the way before", "That is the time to where it stands now. How long from there?", ramp * start / full),
    )
    more = (
        Slip("hertz for seconds", "That is how many hertz it has to go. How many of them does the ramp give it in a second?", end - start),
        Slip("ratio of the speeds", "You took the ratio of the two speeds. A ramp gives so many hertz in each second.", ramp * start / end),
        Slip("of the end", "You took the share of the speed it goes to. The ramp is stated up to full speed.", ramp * (end - start) / end),
        Slip("another full speed", "You took another full speed than the one stated. Up to how many hertz is this ramp stated?",
             ramp * (end - start) / (110.0 - full)),
        Slip("multiplied", "You multiplied. The ramp gives so many hertz in a second: how many seconds for the hertz to go?",
             (end - start) * full / ramp),
        Slip("both turned over", "You turned all of it over. A longer ramp takes longer.", full / (end - start) / ramp),
        Slip("upside down", "You divided by the ramp. A longer ramp takes longer.", (end - start) / ramp),
        Slip("by the square", "Pressure goes with the square of speed, a ramp does not: so many hertz a second.",
             ramp * (end**2 - start**2) / full**2),
        Slip("hertz a second", "That is how many hertz the ramp gives in a second.", full / ramp),
        Slip("what is left", "That is the time from there to full speed.", ramp * (full - end) / full),
    )  # fmt: skip
    way = (
        f"The ramp gives {full:.0f} / {ramp:.0f} = {full / ramp:.2f} Hz in each second.",
        f"There are {end - start:.1f} Hz to go: {end - start:.1f} / {full / ramp:.2f} = {draw.say(found, 'time', 2)}. No tuning is faster.",
    )
    return Exercise(question, Measured(found, "time", max(HAND * found, 0.05), 2), slips, way, more=more)


def force_after_the_door(draw):
    """The force at the handle after a door event."""
    width, height = draw.quantity("length", 0.85, 1.05, 0.05), draw.quantity("length", 2.0, 2.1, 0.05)
    handle = draw.quantity("length", 0.07, 0.10, 0.01)
    pounds = draw.system != "Pa"
    closer = draw.quantity("force", 45.0, 70.0, 5.0, 1 if pounds else 0)
    dp = draw.quantity("pressure", 60.0, 95.0, 1.0, 3 if pounds else 0)
    force, push = float(doors.opening_force(dp, width, height, closer, handle)), dp * width * height
    lever = width - handle
    question = (
        f"The final exit door shuts while the fan still turns as the open door asked for. For a moment the trend shows "
        f"{draw.say(dp, 'pressure', 3 if pounds else 0)} across another stair door, {draw.say(width, 'length')} wide and "
        f"{draw.say(height, 'length')} high, with its handle {draw.say(handle, 'length')} from the edge; the closer needs "
        f"{draw.say(closer, 'force', 1 if pounds else 0)} at the handle. The air pushes in the middle of the leaf. What force opens it "
        f"at the handle just then?{draw.on_a_foot}"
    )
    slips = (
        Slip("closer forgotten", "That is the air alone. What else pulls the door shut?", force - closer),
        Slip("air at the edge", "You let the air push at the edge. It pushes in the middle: W/2.", closer + push * width / lever),
        Slip("handle at the edge", "You let the hand pull at the very edge. The handle sits a little nearer to the hinges.",
             closer + push / 2),
    )  # fmt: skip
    more = (
        Slip("no lever", "That is all of the air's push. The hand has a longer lever than the air.", closer + push),
        Slip("push alone", "That is all of the air's push, without lever and closer.", push),
        Slip("half the door", "You let the air press on half of the leaf. It presses on all of it; the half belongs to the lever.",
             closer + (force - closer) / 2),
        Slip("closer taken off", "You took the closer off. It pulls the door shut, as the air does.", force - 2 * closer),
        Slip("pressure for force", "That is the pressure as it stands. What force does it make on the leaf?",
             float(units.from_display(units.to_display(dp, "pressure", draw.system), "force", draw.system))),
        Slip("closer twice", "You counted the closer twice. It is given at the handle already.", force + closer),
    )  # fmt: skip
    tolerance = max(0.01 * force, float(units.from_display(0.5, "force", draw.system)))
    # The numbers of a seed stay what a sheet on paper has: where a wrong way comes out as the answer, the right one says so.
    area, ratio = width * height, width / 2 / lever
    alike = abs(push * ratio - float(units.from_display(units.to_display(dp, "pressure", draw.system), "force", draw.system))) <= tolerance
    chance = (
        f"Area times lever comes to {area * ratio:.2f} here: the pressure's own figure gives nearly the same by chance. Did you take both?",
    ) * (alike and not pounds)
    way = (
        f"The air presses with {draw.say(dp, 'pressure', 3 if pounds else 0)} on {draw.say(width * height, 'area')}.",
        f"That is {draw.say(push, 'force', 1)}. Its lever is {draw.say(width / 2, 'length', 3)}, the hand's "
        f"{draw.say(lever, 'length', 3)}: {draw.say(force - closer, 'force', 1)} at the handle.",
        *chance,
        f"With the closer: {draw.say(force, 'force', 1)}. NFPA 101 allows {draw.say(LIMIT_N, 'force', 1)}: "
        f"{word_of(status_of(force, LIMIT_N))}{before_rounding(force, tolerance, LIMIT_N)}. It measures at the latch edge, where the same "
        "leaf needs a little less: judging at the handle is stricter.",
    )
    return Exercise(question, Measured(force, "force", tolerance, 1), slips, way, more=more)
