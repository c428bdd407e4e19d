"""What rooms answer in the lessons on signals and the loop, and the moves that show it: lessons 04, 05, 08 and 09."""

from dataclasses import asdict, replace

from helpers.lessons.low_demand_stop import questions as stops
from helpers.lessons.reverse_or_direct import questions as actions
from helpers.lessons.scaling_the_signal import questions as scales
from helpers.lessons.tuning_and_door_events import questions as tunings
from helpers.studies.low_demand import judgement as judged
from helpers.studies.report import range_text
from helpers.studies.signals.action import LetGo, bench
from helpers.studies.signals.entered_scaling import BOTH, WIRE_OFF, EnteredScaling
from helpers.studies.tuning import trial as tried_tuning
from helpers.teaching.lesson import Move, Story

__all__ = ["low_demand_stop", "reverse_or_direct", "scaling_the_signal", "tuning_and_door_events"]

PLACE, OTHER_PLACE = "Larkfield House", "Quayside Lab"
TOO_HOT = 8.0  # a gain beyond what the building bears
TOO_LOW_HZ = 15.0  # a threshold under the speed at which the fan idles


def scaling_the_signal():
    """Lesson 04."""
    own, top = EnteredScaling(), EnteredScaling(entered_high_pa=scales.WRONG_TOP_PA)
    zero = EnteredScaling(entered_signal="0-20 mA")
    broken = EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)

    def figures(shown):
        named = {"own": own.high_pa, "entered": top.entered_high_pa}
        rooms = {name: range_text(0.0, high_pa, "pressure", shown.system) for name, high_pa in named.items()}
        return {
            **rooms, "point": shown.pa(own.set_point_pa), "entered_top": shown.pa(top.entered_high_pa), "own_top": shown.pa(own.high_pa),
            "none": shown.pa(0.0), "half": shown.pa(top.held.true_pa), "weakest": shown.pa(top.held.least_pa),
            "least": shown.pa(own.loop.window_pa[0]), "nothing": shown.pa(zero.offset_pa), "with_zero": shown.pa(zero.held.true_pa),
            "ends": broken.held.state, "no_voltage": shown.pa(broken.broken_pa), "force": shown.n(broken.held.force_n),
        }  # fmt: skip

    moves = _scaling_the_signal_moves(top, own, zero, broken)
    start = {
        "pressure_pa": own.set_point_pa, "instrument": (own.low_pa, own.high_pa), "signal": own.signal, "entered_high_pa": own.high_pa,
        "entered_low_pa": own.low_pa, "entered_signal": own.signal, "resistor_ohm": own.resistor_ohm, "inputs": BOTH,
    }  # fmt: skip
    tempting = "The display shows the set point, and steadily. What is steady looks right; a loop is steady about a wrong figure as well."
    opening = "{own}, 4-20 mA, entered as it is: both lines are one."
    return Story("scaling_the_signal", scales.top, own.set_point_pa, tempting, start, opening, moves, figures)


def _scaling_the_signal_moves(top, own, zero, broken):
    return (
        Move(
            {"entered_high_pa": top.entered_high_pa},
            "Entry top {entered_top}",
            "Entered {entered} instead; the loop settles at {point} on the display. What does it really hold?",
            "{half}: the display doubles, so half is enough for it. A top too high is a pressure too low: {weakest} at the weakest door, "
            "where {least} is the least.",
        ),
        Move(
            {"entered_high_pa": own.high_pa, "entered_signal": zero.entered_signal, "pressure_pa": 0.0},
            "Entry top {own_top}, entered signal 0-20 mA, true {none}",
            "The top right again, but 0-20 mA entered for 4-20 mA. No pressure at all: what does the display show?",
            "{nothing}, from nothing: 4 mA are a fifth of 0-20 mA. With the loop running, {with_zero} is held instead of {point}.",
        ),
        Move(
            {"signal": broken.signal, "entered_signal": broken.signal, "inputs": WIRE_OFF, "pressure_pa": own.set_point_pa},
            "It sends 0-10 V, entered signal 0-10 V, inputs upper wire broken, true {point}",
            "Other transmitters, 0-10 V, all entered rightly. At night the wire of the upper one comes off. And the fan?",
            "It ends {ends}: no voltage is a fair reading of {no_voltage}, and it pulls the average down. {force} at the heaviest door. A "
            "live zero would have told.",
        ),
    )


def reverse_or_direct():
    """Lesson 05."""
    stair, lab = bench(PLACE), bench(OTHER_PLACE)
    off, up = 100 * actions.BELOW_PA / stair.span, 100 * actions.ABOVE_PA / lab.span
    right, below, above = (stair.let_go(LetGo(*run)) for run in ((-off, "reverse"), (-off, "direct"), (off, "direct")))
    relief = lab.let_go(LetGo(up, "reverse"))

    def figures(shown):
        runs = {"right": right, "below": below, "above": above, "relief": relief}
        times = {f"{name}_s": f"{run.at_s:.0f} s" for name, run in runs.items()}
        return {
            **times, **{name: run.end for name, run in runs.items()}, "off": shown.fine(actions.BELOW_PA), "place": PLACE,
            "start": f"{off:.1f} %", "other_start": f"{up:.1f} %",
            "low": shown.pa(below.price.least), "high": shown.pa(below.price.most), "force": shown.n(above.price.force_n),
            "limit": shown.n(above.price.limit_n),
        }  # fmt: skip

    moves = _reverse_or_direct_moves(off, up)
    start = {
        "deviation_percent": -off, "gain_share": 1.0, "site": PLACE, "action": "reverse", "tubes": "right", "mode": "automatic",
    }  # fmt: skip
    tempting = (
        "A loop that is not right is said to hunt. That is one with too much gain; one with the wrong sign does not come back at all."
    )
    opening = "Let go {off} below: reverse acting, a supply fan. It comes back."
    return Story("reverse_or_direct", actions.below, actions.SWINGS, tempting, start, opening, moves, figures)


def _reverse_or_direct_moves(off, up):
    return (
        Move(
            {"action": "direct"},
            "Action direct",
            "The same start, but by mistake direct acting. What does the fan do?",
            "Slower and slower: after {below_s} at its {below}, and there it stays. The doors stand under {low} to {high}: smoke can pass. "
            "No swing, and nothing brings it back.",
        ),
        Move(
            {"deviation_percent": off},
            "Start off by {start}",
            "Still direct. This time it is let go {off} above the set point. Where does it end?",
            "At the other stop: {above} after {above_s}, and {force} at the heaviest handle, where {limit} is allowed. The start decides "
            "which harm is done.",
        ),
        Move(
            {"site": OTHER_PLACE, "action": "reverse", "deviation_percent": up},
            "Site and fan Quayside lab, action reverse, start off by {other_start}",
            "So reverse is always right? Here a relief fan lets air out of a building; the loop is reverse acting. What does it do?",
            "Wrong here: after {relief_s} it is at its {relief}. A faster relief fan lowers the reading, so this one must be direct. The "
            "loop of {place} was back after {right_s}, with reverse.",
        ),
    )


def tuning_and_door_events():
    """Lesson 08."""
    place = tried_tuning.bench()
    gain, integral_s = tunings.tuned()
    first = replace(place.own_trial, gain=gain, integral_s=integral_s)
    slow = replace(first, ramp_s=tunings.SLOW_RAMP_S)
    brisk, ramped, hot = (place.attempt(trial) for trial in (first, slow, replace(slow, gain=TOO_HOT)))

    def figures(shown):
        runs = {"back": brisk, "slow_back": ramped, "hot_back": hot}
        return {
            **{name: _back(run) for name, run in runs.items()}, "ramp": f"{first.ramp_s:g} s", "slow": f"{slow.ramp_s:g} s",
            "within": f"{tried_tuning.WITHIN_S:g} s", "alone": f"{ramped.ramp_opens_s:.1f} s", "gain": f"{first.gain:g}",
            "hot": f"{TOO_HOT:g} %/%", "bears": f"{hot.margins.gain_margin:.1f}", "force": shown.n(brisk.peak_n),
            "swings": "still holds" if hot.margins.stable else "swings by itself", "limit": shown.n(brisk.limit_n),
            "above": f"{brisk.above_s:.1f} s",
        }  # fmt: skip

    moves = _tuning_and_door_events_moves(slow, first)
    tempting = "Slow is what one calls a loop with little gain, and gain is the knob at hand. The ramp was set by somebody else, long ago."
    opening = "The street door opens and shuts; ramp {ramp}: flow back after {back}."
    return Story("tuning_and_door_events", tunings.ramp, tunings.YES, tempting, asdict(first), opening, moves, figures)


def _tuning_and_door_events_moves(slow, first):
    return (
        Move(
            {"ramp_s": slow.ramp_s},
            "Drive's ramp {slow}",
            "The drive's ramp is set to {slow}. Can a better tuning bring the flow back within {within}?",
            "No: sent to the right speed at once, this drive would still take {alone}. Flow back after {slow_back}. A ramp is a speed "
            "limit, not a tuning.",
        ),
        Move(
            {"gain": TOO_HOT},
            "Gain {hot}",
            "More gain all the same: {hot} instead of {gain}. What is gained, and what is lost?",
            "Flow back after {hot_back}. And the calm is gone: where the building's gain is largest this loop bears {bears} times its "
            "gain; it {swings}.",
        ),
        Move(
            {"gain": first.gain, "ramp_s": first.ramp_s},
            "Gain {gain}, drive's ramp {ramp}",
            "Gain and ramp as before. The street door shuts: what force does the heaviest other door take just then?",
            "{force}, and {limit} is allowed; too heavy for {above}. The fan still turns as the open door asked for, and the air has "
            "nowhere to go.",
        ),
    )


def _back(found):
    """Seconds until the flow is back after the door opens, and after it shuts."""
    ends = (tried_tuning.SHUTS_S - tried_tuning.OPENS_S, tried_tuning.LENGTH_S - tried_tuning.SHUTS_S)
    times = zip((found.opens_s, found.shuts_s), ends, strict=True)
    return " and ".join(f"{time:.1f} s" if time == time else f"more than {end:.0f} s" for time, end in times)


def low_demand_stop():
    """Lesson 09."""
    own, hasty_rule = judged.own_rule(), stops.HASTY
    low = own._replace(stop_below_hz=TOO_LOW_HZ)
    never, hasty, right = (judged.judge(0.0, rule) for rule in (low, hasty_rule, own))
    fire = judged.refused()

    def figures(shown):
        return {
            "idle": judged.hertz(never.ends_hz[0]), "low": judged.hertz(TOO_LOW_HZ), "below": judged.hertz(hasty_rule.stop_below_hz),
            "starts": f"{hasty.night.starts_per_hour(stops.NIGHT):.0f}", "bears": f"{hasty.allowed.per_hour:.0f}",
            "delay": judged.minutes(own.stop_after_s), "wait": judged.minutes(own.restart_after_s), "few": f"{right.starts_per_hour:.1f}",
            "saved": f"{right.saved_kwh:.0f} kWh", "short": judged.minutes(right.night.short_s[stops.DAY]), "stair": fire.site_name,
            "point": shown.pa(fire.set_point_pa), "speed": judged.hertz(fire.speed_hz), "own_below": judged.hertz(own.stop_below_hz),
            "hasty_delay": judged.minutes(hasty_rule.stop_after_s), "hasty_wait": judged.minutes(hasty_rule.restart_after_s),
            "deficit": shown.pa(hasty_rule.restart_error), "own_deficit": shown.pa(own.restart_error),
        }  # fmt: skip

    moves = _low_demand_stop_moves(hasty_rule, own)
    start = _controls(low) | {"opening": 0.0, "mode": "normal"}
    tempting = "No air is asked for, so nothing should call for a start. But the loop waits for pressure, and not for air to be asked for."
    opening = "Boxes shut at night: the fan idles at {idle}, and {low} never comes."
    return Story("low_demand_stop", stops.hasty, stops.NONE, tempting, start, opening, moves, figures)


def _low_demand_stop_moves(hasty_rule, own):
    return (
        Move(
            _controls(hasty_rule),
            "Stop below {below}, stop delay {hasty_delay}, restart deficit {deficit}, restart delay {hasty_wait}",
            "Stop below {below}, short waits. How many starts an hour?",
            "{starts} an hour; the motor bears {bears}. A duct stores no pressure: seconds after the stop it is gone, and that calls for "
            "the next start.",
        ),
        Move(
            _controls(own),
            "Stop below {own_below}, stop delay {delay}, restart deficit {own_deficit}, restart delay {wait}",
            "Waits of {delay} and {wait}. How many starts, and who pays for the long wait?",
            "{few} starts an hour, {saved} saved in a year. In the morning the rooms are short of pressure for {short}.",
        ),
        Move(
            {"mode": "fire"},
            "Mode fire (stair)",
            "The same saving for the fan of the stair, which is in the fire mode. May it stop?",
            "Never. {stair} holds {point} at {speed}, and the drive refuses the setting. A fan that keeps smoke out does not stop to save.",
        ),
    )


def _controls(rule):
    """A rule as the panel's controls hold it."""
    return dict(zip(("threshold_hz", "stop_after_s", "deficit_pa", "restart_after_s"), rule, strict=True))
