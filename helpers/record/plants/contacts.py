"""Lines of a plant's settings schedule on what a contact tells and a restart leaves: proof of run, resets, latches, the controller's start.

No site file states any of it. Each is the safe side of what is open, ours, and holds until somebody who is asked has answered. Limits:
nothing here is played: the model has neither contacts that tell wrongly nor a controller that starts anew.
"""

from helpers.model.files import texts
from helpers.record.settings.drive_signals import signal_lines
from helpers.studies.report import Setting

ENQUIRY_WORDS = "plant_enquiry"
KIND_WORDS = {"garage": ("gas", "garage"), "duct": ("pressure", "duct"), "building": ("pressure", "building")}
PROOF_SHARE = 0.8  # of the lowest speed, from which a fan counts as running. Ours, no source: the loop asks for no less than that speed
RESET_HELD_S = 5.0  # a reset that is given for longer is told: its contact sticks. Ours, no source
START_S = 10.0  # no signal is counted as lost for so long after the controller's own start. Ours, no source: the maker's time decides
PROOF, PROOF_WAITS = ("fan", "proof that the fan runs"), ("fan", "wait for the proof of run")
FIRE_LINE = ("fan", "the fire alarm's line open or shorted")
LINE_DOES = (
    "it begins no fire alarm, and ends none that stands: that is kept, without power too, until the line is healthy and the input quiet"
)
STOPS = ("fan", "how the fan stops")
RUNS_ON = "runs at its highest speed while its run command stands, and tells it as drive fault"  # what the drive does without its command
STOPS_THEN = "takes it as off, stops the fan by the ramp, and tells it as drive fault"
GAS_ENDS = ("failure", "a gas alarm ends")
GAS_LATCHED = (
    "latched, and reset at the point reset of a gas alarm alone, by a person who has measured from outside, every reading below its limit "
    "and none latched as lost or too far apart; the point alarm seen takes none away"
)
STUCK = ("failure", "a reset is stuck")
RESETS, KEPT = ("failure", "a reset"), ("failure", "what is kept without power")
OWN_START, APART = ("failure", "after the controller's own start"), ("failure", "two gas readings too far apart")
EACH_PAIR = "; each two of them have a timer of their own, which begins anew once those two are back within the limit"
KEPT_OF = {
    True: "every latch is kept, of fire and gas alarms, lost readings and readings too far apart, each by its name; a reading that is "
    "above its alarm limit at the first sample after a restart is a gas alarm at once, since its time was perhaps counted before",
    False: "every latch is kept, of a fire alarm, of lost readings and of a fan that is held off, each by its name",
}


def agreed(site, key, until=""):
    """The value of a line that somebody has still to agree: where it is asked, and what holds until then; key: of the enquiry list; until:
    in words, where the list's own say more than this line."""
    asked = (one for one in texts(ENQUIRY_WORDS)["questions"] if one["key"] == key)
    own = next(one for one in asked if one.get("only") in (None, *KIND_WORDS[site.kind]))
    return f"to be agreed, see the enquiry list: {key}; until then: {until or own['taken']}"


def signals_to_the_drive(design):
    """The `Setting`s of the fire alarm's line, and of the two signals between controller and drive."""
    site, fan = design.site, design.site.fan
    why = "our own choice; a cable that burns in the fire would else start the fan in it"
    yield Setting(*FIRE_LINE, agreed(site, "fire alarm", LINE_DOES), why)
    asked = agreed(site, "drive signals").partition(";")[0]
    yield from signal_lines(fan.highest_speed_hz, fan.lowest_speed_hz, asked, RUNS_ON if design.gas else STOPS_THEN)
    cut = "a trip, mains or the isolator" + ", or the run permit that is gone," * (site.kind == "duct")
    until = (
        f"whatever takes the run command away, the fire alarm too, by the ramp down; {cut} takes the power away, and the impeller runs out"
    )
    yield Setting(*STOPS, agreed(site, "drive signals", until), "our own choice; an impeller that runs out may take longer than the ramp")


def proof_lines(design):
    """The `Setting`s of the proof that the fan runs, and of how long it is waited for."""
    site, fan = design.site, design.site.fan
    least = f"{100 * PROOF_SHARE:.0f} % of the lowest speed, {PROOF_SHARE * fan.lowest_speed_hz:g} Hz, or more"
    until = f"worked out from the point fan speed, no wire of its own: {least}; it proves no belt and no air"
    yield Setting(*PROOF, agreed(site, "proof of run", until), "by flow or current: a command given is no proof")
    waits = f"{fan.ramp_s:g} s, one whole ramp up, from the order to run on, and as long for a proof that is gone"
    why = "our own choice; it tells, and stops no fan; a speed that the drive gives no number of proves nothing"
    yield Setting(*PROOF_WAITS, waits, why)


def start_lines(design):
    """The `Setting`s of resets, of what is kept without power, and of the controller's own start."""
    held = f"acts once, as it is given; held or stuck it acts no more, and for longer than {RESET_HELD_S:g} s it is told as trouble"
    why = "our own choice; a contact that sticks closed would else take away what latches after it"
    given = "one that is given too soon is not kept, and one that is given at the controller's own start counts as given before"
    yield Setting(*RESETS, f"{held}; {given}", why)
    yield Setting(*STUCK, f"given for longer than {RESET_HELD_S:g} s on end", "our own choice, as for a reset")
    why = "our own choice; a dip of the mains would else silence what nobody has looked at"
    yield Setting(*KEPT, agreed(design.site, "own start", KEPT_OF[design.gas]), why)
    if design.gas:
        until = "no wait: a signal outside its band counts from the first sample on, and a transmitter that warms up high rings"
        why = "our own choice; an alarm too many is the safe side, and a controller that starts anew has seen nobody leave"
    else:
        until = f"for {START_S:g} s no signal is counted as lost, and the fan is off meanwhile"
        why = "our own choice; a loop's supply that comes late would else latch every reading; nothing runs on a reading not yet there"
    yield Setting(*OWN_START, agreed(design.site, "own start", until), why)


def apart_lines(design):
    """The `Setting` of two readings of a gas that are too far apart; none of a pressure, where that alarm tells and gives no speed."""
    if not design.gas or design.strategy.alarms.limits[2] is None:
        return
    does = (
        "counts as a reading lost, latched for each of the two by its name: the fan goes to its fallback, and both zones are cleared "
        "of people until each has been measured with an instrument of its own"
    )
    does += EACH_PAIR * (len(design.site.transmitters) > 2)
    why = "our own choice; which of the two is wrong nobody knows, and the lower one may be a gas alarm that does not come"
    yield Setting(*APART, does, why)
