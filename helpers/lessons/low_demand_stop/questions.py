"""Lesson 09's questions: where an idle fan stays, a hasty stop's starts, side of the window, restart, saving, may it stop at all."""

import math
from functools import cache

import numpy as np

from helpers import units
from helpers.formulas import fan, low_demand
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.plants.pressure_plant import DuctConditions
from helpers.studies.low_demand import verdict as judged
from helpers.studies.low_demand.night import DAY, NIGHT, mill_street
from helpers.studies.low_demand.study import ACROSS
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

HASTY = LowDemandRule(21.0, 60.0, 60.0, 30.0)  # a threshold inside the window, with short waits

LOWEST, REACHES, STANDS = (
    "at the lowest speed of the drive",
    "at a speed that just reaches the set point",
    "it comes to a standstill by itself",
)
IDLE = (LOWEST, REACHES, STANDS)

NONE, SOME, MANY = (
    "none: it stays off until somebody asks for air",
    "a few, no more than the motor bears",
    "several times what the motor bears",
)
STARTS = (NONE, SOME, MANY)

LITTLE, HUNDREDS, THOUSANDS = "less than 50 kWh", "50 to 500 kWh", "more than 500 kWh"
SAVINGS = (LITTLE, HUNDREDS, THOUSANDS)
LEAKY = 0.1  # share of the boxes left open


@cache
def _judged(opening, rule):
    return judged.judge(opening, rule)


def _idle():
    found, fan = _judged(0.0, judged.own_rule()), mill_street().site.fan
    at = found.ends_hz[0]
    answer = LOWEST if at <= fan.lowest_speed_hz + 0.1 else REACHES
    words = (
        f"the loop holds {with_unit(found.set_point_pa, 'pressure')} whether anybody wants air or not, and pressure goes with "
        f"the square of speed. Without any flow that takes {judged.hertz(judged.shutoff_hz())}; seams and shut boxes leak a little, so it "
        f"is {judged.hertz(at)}. A stop threshold below that is never reached."
    )
    return Outcome(Chosen(answer, IDLE), words)


def _hasty():
    found = _judged(0.0, HASTY)
    starts, most = found.night.starts_per_hour(NIGHT), float(found.allowed.per_hour)
    answer = NONE if starts == 0 else SOME if starts <= most else MANY
    words = (
        f"it makes {starts:.1f} starts an hour, and the motor may make at most {most:.1f} {ACROSS}. A duct stores no "
        "pressure: as the fan runs down, it is gone within seconds, and the missing pressure calls for the next start though nobody "
        "asked for air. Only the two waits hold the fan back."
    )
    return Outcome(Chosen(answer, STARTS), words)


def _flow_said(opening):
    """What the fan of the offices blows at night with so much of every box open."""
    plant = mill_street()
    boxes = np.full((1, len(plant.site.sections)), opening)
    held = plant.hold(DuctConditions.of(plant.site, "night", opening=boxes))
    return with_unit(float(held.air.fan_flow_m3_s[0]), "flow")


def _saving():
    shut, leaky = _judged(0.0, judged.own_rule()), _judged(LEAKY, judged.own_rule())
    saved = shut.saved_kwh
    answer = LITTLE if saved < 50 else HUNDREDS if saved <= 500 else THOUSANDS
    idle_hz, full_hz = shut.ends_hz[0], mill_street().site.fan.highest_speed_hz
    words = (
        f"it saves {saved:.0f} kWh. {judged.hertz(idle_hz)} is {100 * idle_hz / full_hz:.0f} % of full speed, and hardly any air goes "
        f"through shut boxes. Air power is pressure times flow: {_flow_said(0.0)} at that pressure take {shut.night_w[1]:.0f} W from the "
        f"mains, so there was little left to save. With {100 * LEAKY:.0f} % of every box left open the same pressure passes "
        f"{_flow_said(LEAKY)} and takes {leaky.night_w[1]:.0f} W; then it would be "
        f"{leaky.saved_kwh:.0f} kWh. The other side of the bill: on this morning the rooms are short of pressure for "
        f"{judged.minutes(shut.night.short_s[DAY])}, without a stop for {judged.minutes(shut.plain.short_s[DAY])}."
    )
    return Outcome(Chosen(answer, SAVINGS), words)


def _ask_idle():
    plant = mill_street().site
    return (
        f"Mill Street Offices, at night. Every box is shut and nobody needs air. The loop stays in automatic, "
        f"its set point is {with_unit(plant.control.set_point_pa, 'pressure')}; the drive goes from "
        f"{judged.hertz(plant.fan.lowest_speed_hz)} to {judged.hertz(plant.fan.highest_speed_hz)}. Where does the fan settle?"
    )


def _ask_hasty():
    most = _judged(0.0, HASTY).allowed.per_hour
    return (
        f"The same night, now with a low-demand stop: stop below {judged.hertz(HASTY.stop_below_hz)} after {HASTY.stop_after_s:.0f} s, "
        f"start again when the reading has been under {judged.restart_said(HASTY)} for "
        f"{HASTY.restart_after_s:.0f} s. The boxes stay shut all night. The fan's motor may make at most {most:.1f} starts an hour "
        f"{ACROSS}; its plate says {with_unit(mill_street().site.fan.motor_power_w, 'power')}. How many does it get?"
    )


def _ask_saving():
    own = judged.own_rule()
    return (
        f"Now with the waits of the site's own file: {judged.minutes(own.stop_after_s)} to the stop, {judged.minutes(own.restart_after_s)} "
        f"to the next start. What does the stop save in a year of {judged.NIGHTS} nights of {judged.NIGHT_H:g} hours?"
    )


idle = Prediction("idle", _ask_idle, _idle, IDLE, earlier=(("it comes to a stand by itself", STANDS),))
hasty = Prediction("hasty", _ask_hasty, _hasty, STARTS)
saving = Prediction("saving", _ask_saving, _saving, SAVINGS)
PREDICTIONS = (idle, hasty, saving)

INCH_PA = units.WATER_COLUMNS_PA[units.WATER_COLUMN]
SPANS_PA = {"Pa": 500.0, "in. w.c.": 2 * INCH_PA}  # usual ranges of duct transmitters

IN_WINDOW, NEVER, CUTS_OFF = "it stops at night only", "it never stops", "it stops while air is asked for"
SIDES = (NEVER, IN_WINDOW, CUTS_OFF)
YES, SLOWLY, NO = "yes, with a threshold inside its window", "yes, if the stop delay is long enough", "no, refuse it"
MAY = (YES, SLOWLY, NO)

FIRE = (
    "The supply fan of a stair has been in smoke control for half an hour. All doors are shut",
    "A smoke exhaust fan runs because of a fire alarm. Its dampers are nearly shut and little air moves",
    "The fan of a fire-fighting lobby holds its pressure in smoke control. Nobody has opened a door for an hour",
)
COMFORT = (
    "The supply fan of an office duct runs on into the night. All boxes are shut, and a clock will start it in the morning",
    "The supply fan of a school's duct runs on after lessons. Nobody is there, it has no part in smoke control, and a contact can start it",
    "The fan of a shop's cool-air duct runs on after closing time. It has no part in smoke control, and a switch can start it",
)


def shutoff_speed(draw):
    """Speed of an idle fan."""
    full_hz = draw.one_of((50.0, 60.0))
    other_hz = 110.0 - full_hz
    shutoff = draw.quantity("pressure", 600.0, 1400.0, 50.0)
    target = draw.quantity("pressure", 75.0, 250.0, 25.0)
    ratio = target / shutoff
    answer = full_hz * float(fan.lowest_speed_for(target, shutoff))
    question = (
        f"At {draw.say(full_hz, 'frequency', 0)} and with no flow a fan makes {draw.say(shutoff, 'pressure')}, and the loop is to "
        f"hold {draw.say(target, 'pressure')} with it. At which drive frequency does the fan only just reach that, with no flow at all?"
    )
    slips = (
        Slip("speed as the pressure", "You took the speed down as the pressure itself. Pressure goes with a power of speed: which one?",
             full_hz * ratio),
        Slip("percent for hertz", "That is the speed in per cent of full speed. The drive frequency is asked for.", 100 * answer / full_hz),
        Slip("squared the wrong way", "You squared the ratio of the pressures. Speed squared gives pressure: go back the other way.",
             full_hz * ratio**2),
    )  # fmt: skip
    way = (
        f"Ratio of the pressures: {draw.say(target, 'pressure')} / {draw.say(shutoff, 'pressure')} = {ratio:.3f}",
        f"Its square root is the ratio of the speeds: {ratio**0.5:.3f}",
        f"Times {full_hz:.0f} Hz: {answer:.1f} Hz",
    )
    # A ratio rounded to two digits moves the root by some per cent: 0.3 Hz allow for three digits and the rounded result.
    more = (
        Slip("root turned round", "You turned the ratio of the pressures round. Less pressure than at full speed takes less speed.",
             full_hz / ratio**0.5),
        Slip("the rest of it", "That is by how much the speed comes down. Where does it end?", full_hz - answer),
        Slip("root and half", "You halved where a root is to be taken.", full_hz * ratio / 2),
        Slip("cube root", "You took the cube root: that goes with power. Pressure goes with the square of speed.",
             full_hz * ratio ** (1 / 3)),
        Slip("full speed", "That is full speed. Less pressure is wanted than the fan makes there.", full_hz),
        Slip("another full speed", f"You took full speed as {other_hz:.0f} Hz. Read once more at which frequency the fan makes that.",
             other_hz * ratio**0.5),
        Slip("ratio for hertz", "That is the ratio of the speeds. How many hertz is full speed?", ratio**0.5),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "frequency", 0.3), slips, way, more=more)


def side_of_window(draw):
    """Which side of the window."""
    idle = 15.0 + 0.5 * draw.whole(0, 14)
    duty = idle + 5.0 + 0.5 * draw.whole(0, 8)
    side = draw.one_of(SIDES)
    away = 1.5 + 0.5 * draw.whole(0, 3)
    threshold = {NEVER: idle - away, CUTS_OFF: duty + away, IN_WINDOW: round((idle + duty) / 2 * 2) / 2}[side]
    question = (
        f"With nobody there the loop holds its set point at {idle:.1f} Hz. The lowest duty that must be served runs at {duty:.1f} Hz. "
        f"The fan is set to stop when it has been below {threshold:.1f} Hz for five minutes. What will it do?"
    )
    hints = {
        NEVER: "A fan never stops if none of its speeds lies under the threshold. Compare the idle speed with the threshold once more.",
        IN_WINDOW: "That needs one of the two speeds under the threshold and one above it. Check each of them by itself.",
        CUTS_OFF: "That needs a duty which lies under the threshold. Compare the lowest duty with the threshold once more.",
    }
    names = {NEVER: "never stops, on the wrong side", IN_WINDOW: "only one end checked", CUTS_OFF: "cuts off, on the wrong side"}
    slips = tuple(Slip(names[wrong], hints[wrong], wrong) for wrong in SIDES if wrong != side)
    compare = {True: "below", False: "not below"}
    way = (
        f"Idle: {idle:.1f} Hz is {compare[idle < threshold]} {threshold:.1f} Hz",
        f"Lowest duty: {duty:.1f} Hz is {compare[duty < threshold]} {threshold:.1f} Hz",
        f"So {side}",
    )
    return Exercise(question, Chosen(side, SIDES), slips, way)


def restart_reading(draw):
    """The reading that starts the fan."""
    span = SPANS_PA[draw.system]
    target = draw.quantity("pressure", 150.0, 250.0, 10.0)
    percent = draw.whole(10, 22)
    deficit = percent / 100 * span
    answer = target - deficit
    question = (
        f"The transmitter's range is 0 to {draw.say(span, 'pressure')}, the set point {draw.say(target, 'pressure')}, and the restart "
        f"deficit is stated as {percent} % of span. Below which reading does the restart delay begin to count?"
    )
    of_set_point = target * (1 - percent / 100)
    slips = (
        Slip("percent of set point", "You took the per cent of the set point. Of what is the deficit a per cent here?", of_set_point),
        Slip("deficit for reading", "That is the deficit itself. Give the reading at which it is reached.", deficit),
        Slip("from the top of the range", "You went down from the top of the range. A deficit counts from another level.", span - deficit),
    )
    of_span, wanted, left = (draw.say(value, "pressure") for value in (deficit, target, answer))
    way = (
        f"Deficit: {percent} % of {draw.say(span, 'pressure')} = {of_span}",
        f"Counted down from the set point: {wanted} - {of_span} = {left}",
    )
    # Two roundings to 0.01 in. w.c. are 2.5 Pa.
    more = (
        Slip("added", "You went up from the set point. The fan starts for want of pressure.", target + deficit),
        Slip("per cent of span left", "You took the per cent of the set point and left it at that. Per cent of what, and counted down "
             "from where?",
             target * percent / 100),
        Slip("per cent as pressure", "You took the per cent off as if they were units of pressure.",
             target - float(units.from_display(percent, "pressure", draw.system))),
        Slip("set point for it", "That is the set point. The restart waits until the reading has fallen by the deficit.", target),
        Slip("half the deficit", "You went half the way down. The deficit counts whole.", target - deficit / 2),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "pressure", 3.0), slips, way, more=more)


def longer_wait(draw):
    """The wait a motor needs."""
    hp, most, *_ = draw.one_of(low_demand.NEMA_MG10_STARTS[:4])
    stop_after, run_up = 60.0 + 10 * draw.whole(0, 6), float(draw.whole(15, 30))
    cycle = 3600 / most
    answer = cycle - stop_after - run_up
    question = (
        f"A motor of {hp} hp may make {most:g} starts an hour across the line (NEMA MG 10-2001 table 2-3). The stop delay is "
        f"{stop_after:.0f} s. At every start this fan runs past the stop threshold, and it takes {run_up:.0f} s at least, as measured, "
        "until it is back below it. Nobody asks for air, so the fan starts as soon as it may. Count no time for the fall of the pressure. "
        "Which restart delay keeps it just within the starts it may make? "
        "A wait is entered in whole seconds, rounded up, never down."
    )
    slips = (
        Slip("whole cycle", "That is the time from one start to the next. The restart delay is only one part of it.", cycle),
        Slip("added instead of taken away", "You added the other times. They are parts of the cycle: what do they leave?",
             cycle + stop_after + run_up),
        Slip("minutes for seconds", "That is a figure in minutes. The answer is asked for in seconds.", answer / 60),
        Slip("way up forgotten", "Safe, but longer than asked for: this fan's stop delay counts once it is back below the threshold.",
             cycle - stop_after),
    )  # fmt: skip
    check = float(low_demand.fastest_cycles_per_hour(stop_after, math.ceil(answer), run_up))
    way = (
        f"From start to start: 3600 s / {most:g} = {cycle:.0f} s",
        f"Less the way past the threshold, {run_up:.0f} s, and the stop delay, {stop_after:.0f} s: {answer:.1f} s; "
        f"entered as {math.ceil(answer)} s, rounded up",
        f"Check: 3600 / ({stop_after:.0f} + {math.ceil(answer)} + {run_up:.0f}) = {check:.2f} an hour, no more than {most:g}",
        f"A fan that never passes the threshold, as the one of Mill Street at night, has no such {run_up:.0f} s: it needs "
        f"{math.ceil(cycle - stop_after)} s",
    )
    # Two per cent of a hand calculation's cycle.
    more = (
        Slip("stop delay forgotten", "The cycle has one more part: the fan waits before it stops.", cycle - run_up),
        Slip("way up added", "You added the way past the threshold. A part of the cycle: what does it leave?", cycle - stop_after + run_up),
        Slip("stop delay added", "You added the stop delay. It is a part of the cycle: what does it leave?", cycle + stop_after - run_up),
        Slip("half a cycle", "You halved the cycle. Its parts are not alike: take off those that are given.", cycle / 2),
        Slip("the other parts", "That is what the other parts take. What do they leave of the cycle?", stop_after + run_up),
        Slip("minute for hour", "You shared out a minute. The starts are counted in an hour.", 60 / most),
    )  # fmt: skip
    if draw.edition < 4:  # took every wait to within some seconds: to mark what was answered to it
        return Exercise(question, Measured(answer, "time", 5.0, 1), slips, way, more=more)
    whole = float(math.ceil(answer))
    rounded = (
        Slip("rounded down", "A shorter wait lets the motor start too often: round up, never down.", whole - 1),
        *[Slip("not rounded", "That is the wait before rounding. It is entered in whole seconds: round up.", answer)] * (answer != whole),
        Slip("rounded up twice", "That is safe, but a second more than it takes. Round once, at the end.", whole + 1),
    )
    return Exercise(question, Measured(whole, "time", 0.04, 0), slips, way, more=(*more, *rounded))


def may_it_stop(draw):
    """Whether it may stop at all."""
    fire = draw.one_of((True, False))
    scene = draw.one_of(FIRE if fire else COMFORT)
    speed = 10.0 + 0.5 * draw.whole(0, 16)
    answer = NO if fire else YES
    question = (
        f'{scene}. The drive has run at {speed:.1f} Hz for ten minutes, and somebody asks for a low-demand stop "to save the motor". '
        "May it have one?"
    )
    slips = {
        YES: Slip(
            "fire mode overlooked", "You looked at the speed. Look first at what depends on this fan: smoke control, or comfort?", YES
        ),
        SLOWLY: Slip("delay as a remedy", "A delay says when a fan stops, not whether it may. Decide that first.", SLOWLY),
        NO: Slip("comfort taken for life safety", "Read again what the fan is for: who would be in danger if it stood still?", NO),
    }
    way = (
        "First question: is anybody's way out kept free of smoke by this fan? " + ("Yes." if fire else "No."),
        "In smoke control a low-demand stop is never active, at any threshold and any delay."
        if fire
        else "So it is a question of figures: a threshold between idle speed and lowest duty, waits that the motor may make.",
    )
    return Exercise(question, Chosen(answer, MAY), tuple(slip for choice, slip in slips.items() if choice != answer), way)


MAKERS = (shutoff_speed, side_of_window, restart_reading, longer_wait, may_it_stop)


TOO_LOW_HZ = 15.0  # a threshold under the speed at which the fan idles


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    own = judged.own_rule()
    low = own._replace(stop_below_hz=TOO_LOW_HZ)
    never, hurried, right = (judged.judge(0.0, rule) for rule in (low, HASTY, own))
    fire = judged.refused()

    def figures(shown):
        return {
            "idle": judged.hertz(never.ends_hz[0]), "low": judged.hertz(TOO_LOW_HZ), "below": judged.hertz(HASTY.stop_below_hz),
            "starts": f"{hurried.night.starts_per_hour(NIGHT):.1f}", "bears": f"{hurried.allowed.per_hour:.1f}",
            "delay": judged.minutes(own.stop_after_s), "wait": judged.minutes(own.restart_after_s), "few": f"{right.starts_per_hour:.1f}",
            "saved": f"{right.saved_kwh:.0f} kWh", "short": judged.minutes(right.night.short_s[DAY]), "stair": fire.site_name,
            "point": shown.pa(fire.set_point_pa), "speed": judged.hertz(fire.speed_hz), "own_below": judged.hertz(own.stop_below_hz),
            "hasty_delay": judged.minutes(HASTY.stop_after_s), "hasty_wait": judged.minutes(HASTY.restart_after_s),
            "restart": judged.restart_said(HASTY), "own_restart": judged.restart_said(own),
        }  # fmt: skip

    moves = _moves(own)
    start = _controls(low) | {"opening": 0.0, "mode": "normal"}
    tempting = "No air is asked for, so nothing should call for a start. But the loop waits for pressure, and not for air to be asked for."
    opening = "Boxes shut at night: the fan idles at {idle}, and {low} never comes."
    return Story("low_demand_stop", hasty, NONE, tempting, start, opening, moves, figures)


def _moves(own):
    return (
        Move(
            _controls(HASTY),
            "Stop below {below}, stop delay {hasty_delay}, restart under {restart}, restart delay {hasty_wait}",
            "Stop below {below}, short waits. How many starts an hour?",
            "{starts} an hour; the motor may make at most {bears} " + ACROSS + ". A duct stores no pressure: seconds after the "
            "stop it is gone, and that calls for the next start.",
        ),
        Move(
            _controls(own),
            "Stop below {own_below}, stop delay {delay}, restart under {own_restart}, restart delay {wait}",
            "Waits of {delay} and {wait}. How many starts, and who pays for the long wait?",
            "{few} starts an hour, {saved} saved in a year. In the morning the rooms are short of pressure for {short}.",
        ),
        Move(
            {"mode": "fire"},
            "Mode smoke control",
            "The same saving for the fan of the stair, which is in smoke control. May it stop?",
            "Never. {stair} holds {point} at {speed}; the workbook refuses the entry, a real drive may not. A fan that keeps smoke "
            "out does not stop to save.",
        ),
    )


def _controls(rule):
    """A rule as the panel's controls hold it."""
    return {
        "threshold_hz": rule.stop_below_hz,
        "stop_after_s": rule.stop_after_s,
        "restart_pa": judged.from_set_point_pa(rule.restart_error),
        "restart_after_s": rule.restart_after_s,
    }
