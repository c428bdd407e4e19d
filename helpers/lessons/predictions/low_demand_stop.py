"""What to predict before the picture: where an idle fan stays, how often a hasty stop starts it, what a year of nights saves."""

from functools import cache

from helpers import units
from helpers.formulas.low_demand import LowDemandRule
from helpers.lessons.exercise import Chosen
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies import low_demand_judged as judged
from helpers.studies.low_demand_night import DAY, NIGHT, mill_street

__all__ = ["HASTY", "PREDICTIONS", "hasty", "idle", "saving"]

HASTY = LowDemandRule(21.0, 60.0, 60.0, 30.0)  # a threshold inside the window, with short waits

LOWEST, REACHES, STANDS = "at the lowest speed of the drive", "at a speed that just reaches the set point", "it comes to a stand by itself"
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


def _idle(system):
    found, fan = _judged(0.0, judged.own_rule()), mill_street().site.fan
    at = found.ends_hz[0]
    answer = LOWEST if at <= fan.lowest_speed_hz + 0.1 else REACHES
    words = (
        f"the loop holds {units.show(found.set_point_pa, 'pressure', system)} whether anybody wants air or not, and pressure goes with "
        f"the square of speed. Without any flow that takes {judged.hertz(judged.shutoff_hz())}; seams and shut boxes leak a little, so it "
        f"is {judged.hertz(at)}. A stop threshold below that is never reached."
    )
    return Outcome(Chosen(answer, IDLE), words)


def _hasty(system):
    found = _judged(0.0, HASTY)
    starts, most = found.night.starts_per_hour(NIGHT), float(found.allowed.per_hour)
    answer = NONE if starts == 0 else SOME if starts <= most else MANY
    words = (
        f"it makes {starts:.0f} starts an hour, and the motor bears {most:.0f}. A duct stores no pressure: as the fan runs down, it is "
        "gone within seconds, and the missing pressure calls for the next start though nobody asked for air. Only the two waits hold the "
        "fan back."
    )
    return Outcome(Chosen(answer, STARTS), words)


def _saving(system):
    shut, leaky = _judged(0.0, judged.own_rule()), _judged(LEAKY, judged.own_rule())
    saved = shut.saved_kwh
    answer = LITTLE if saved < 50 else HUNDREDS if saved <= 500 else THOUSANDS
    idle_hz, full_hz = shut.ends_hz[0], mill_street().site.fan.highest_speed_hz
    words = (
        f"it saves {saved:.0f} kWh. Power goes with the cube of speed, and {judged.hertz(idle_hz)} is {100 * idle_hz / full_hz:.0f} % of "
        f"full speed: there was little left to save. With {100 * LEAKY:.0f} % of every box forgotten open it would be "
        f"{leaky.saved_kwh:.0f} kWh. The other side of the bill: on this morning the rooms are short of pressure for "
        f"{judged.minutes(shut.night.short_s[DAY])}."
    )
    return Outcome(Chosen(answer, SAVINGS), words)


def _ask_idle(system):
    plant = mill_street().site
    return (
        f"Mill Street Offices, at night. Every box is shut and nobody needs air. The loop goes on holding "
        f"{units.show(plant.control.set_point_pa, 'pressure', system)} in the duct; the drive goes from "
        f"{judged.hertz(plant.fan.lowest_speed_hz)} to {judged.hertz(plant.fan.highest_speed_hz)}. Where does the fan settle?"
    )


def _ask_hasty(system):
    most = _judged(0.0, HASTY).allowed.per_hour
    return (
        f"The same night, now with a low-demand stop: stop below {judged.hertz(HASTY.stop_below_hz)} after {HASTY.stop_after_s:.0f} s, "
        f"start again when the reading has been {units.show(HASTY.restart_error, 'pressure', system)} below the set point for "
        f"{HASTY.restart_after_s:.0f} s. The boxes stay shut all night. The motor bears {most:.0f} starts an hour. How many does it get?"
    )


def _ask_saving(system):
    own = judged.own_rule()
    return (
        f"Now with the waits of the site's own file: {judged.minutes(own.stop_after_s)} to the stop, {judged.minutes(own.restart_after_s)} "
        f"to the next start. What does the stop save in a year of {judged.NIGHTS} nights of {judged.NIGHT_H:g} hours?"
    )


idle = Prediction("idle", _ask_idle, _idle, IDLE)
hasty = Prediction("hasty", _ask_hasty, _hasty, STARTS)
saving = Prediction("saving", _ask_saving, _saving, SAVINGS)
PREDICTIONS = (idle, hasty, saving)
