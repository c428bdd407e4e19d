"""The faults of the bench and their cures, in the words of the trade; which of them each level has."""

from dataclasses import dataclass

from helpers.studies.fault_bench import rig

__all__ = ["CURES", "FAULTS", "LEVELS", "Cure", "Fault", "Level", "cure_named", "fault_named", "faults_at"]


@dataclass(frozen=True)
class Cure:
    """What is done about a fault."""

    key: str
    name: str


@dataclass(frozen=True)
class Fault:
    """key: one of studies' faults; name and what: in words; cure: key of its `Cure`."""

    key: str
    name: str
    what: str
    cure: str


@dataclass(frozen=True)
class Level:
    """number; name; words: what it asks; budget_min: minutes to spend, None for as long as one likes; rough: noise, times the usual."""

    number: int
    name: str
    words: str
    budget_min: float | None
    rough: float


LEVELS = (
    Level(1, "plain", "One of ten plain faults, or none. Take the time you need.", None, 1.0),
    Level(2, "on call", "Any fault of the bench, or none. You have an hour.", 60.0, 1.0),
    Level(
        3,
        "late in the day",
        "Any fault, or none; rougher signals, a complaint that leads nowhere, and three quarters of an hour.",
        45.0,
        3.0,
    ),
)
PLAIN = ("none", "range_entered", "tube_off", "stuck", "offset", "rule", "action", "set_point", "noise", "ramp_slow", "fan_backward")

CURES = (
    Cure("leave", "Leave everything as it is, and write down what was found"),
    Cure("enter_range", "Enter the range that stands on the transmitter's plate, and inject a signal again"),
    Cure("enter_signal", "Set the input to the signal that the transmitter sends, and inject a signal again"),
    Cure("change_wires", "Wire each transmitter to the input of its name, and prove it from the tube"),
    Cure("cross_tubes", "Lead each tube to the transmitter of its storey, and prove it from the tube"),
    Cure("put_tube_on", "Find the open end of the tube, put it back on its tap, and secure it"),
    Cure("change_tubes", "Change high and low side at the transmitter"),
    Cure("seal_tube", "Find the leak in the tube, renew that piece, and test it for tightness"),
    Cure("free_tube", "Find where the tube is pinched or wet and clear it"),
    Cure("clear_tube", "Find where the tube is shut, clear it, and let the trapped pressure off"),
    Cure("lead_reference_inside", "Lead the reference tube to the storey's floor, out of the wind"),
    Cure("lead_reference_out_of_stair", "Lead the reference tube out of the stair, to the storey's floor"),
    Cure("lead_reference_out_of_duct", "Lead the reference tube out of the fan's duct, to the storey's floor"),
    Cure("renew_transmitter", "Put in another transmitter of the same range and check it against a gauge"),
    Cure("screen", "Lay the signal wire apart from the power cables and earth its screen at one end"),
    Cure("set_zero", "Set the transmitter's zero with both ports open to the same air, and note it"),
    Cure("renew_and_watch", "Put in another transmitter, and have the input refuse a reading that does not move with its neighbour"),
    Cure("wider_range", "Put in a transmitter whose range holds the highest pressure, enter it, and adapt the gain to its span"),
    Cure("enter_rule", "Enter the combining rule of the sheet"),
    Cure("adapt_gain", "Multiply the gain by new span over old span, so that it is the same for each pascal"),
    Cure(
        "set_action",
        "Change one of the two signs, so that more pressure means less speed; stair clear, a hand on the stop, watch the first minute",
    ),
    Cure("choose_set_point", "Choose the set point of the sheet"),
    Cure("shorten_filter", "Enter the filter of the sheet"),
    Cure("shorten_ramp", "Enter the ramp of the sheet, if the motor's current allows it"),
    Cure("free_damper", "Isolate the fan, free the damper's blades, and see that they move at their pressure"),
    Cure(
        "change_phases",
        "Lock out, let the drive discharge, have an electrician change two of the motor's leads, and look at the arrow again",
    ),
    Cure("tighten_belt", "Isolate and lock out, renew or tighten the belt, and measure the wheel's speed again"),
    Cure("lower_threshold", "Enter a stop threshold below the lowest steady speed, and watch one quiet hour"),
)

FAULTS = (
    Fault("none", "nothing is wrong", "The loop does what it was set up to do.", "leave"),
    Fault("range_entered", "wrong range entered", "An input is set to another range than its transmitter has.", "enter_range"),
    Fault("signal_type", "wrong signal type", "An input with a live zero is set to the same card's signal without one.", "enter_signal"),
    Fault("inputs_swapped", "two inputs changed over", "Each transmitter is wired to the other's input.", "change_wires"),
    Fault("tubes_crossed", "two tubes crossed", "Each tube goes to the transmitter of the other storey.", "cross_tubes"),
    Fault("tube_off", "tube off", "The high tube has come off its tap: the transmitter sees no difference.", "put_tube_on"),
    Fault(
        "tubes_changed",
        "high and low side changed",
        "The tubes are on each other's port: the difference has the wrong sign.",
        "change_tubes",
    ),
    Fault("tube_leaks", "leaking tube", "Part of the pressure is lost on the way to the transmitter.", "seal_tube"),
    Fault("tube_pinched", "pinched tube", "The pressure comes through the tube late.", "free_tube"),
    Fault("tube_shut", "tube shut", "A tube is shut and keeps the pressure that was in it.", "clear_tube"),
    Fault("ref_wind", "reference tube in the wind", "The low side ends outdoors at a wall in the wind.", "lead_reference_inside"),
    Fault(
        "ref_in_stair",
        "reference tube in the stair",
        "The low side ends in the stair as the high side does.",
        "lead_reference_out_of_stair",
    ),
    Fault(
        "ref_in_duct", "reference tube in the duct", "The low side ends in the fan's duct, above the stair.", "lead_reference_out_of_duct"
    ),
    Fault("stuck", "reading stuck", "A transmitter sends the same signal whatever comes.", "renew_transmitter"),
    Fault("noise", "poor screening", "A signal wire picks up what power cables give off.", "screen"),
    Fault(
        "offset",
        "zero offset of a transmitter",
        "Its zero has drifted: it reads as many pascals too much everywhere.",
        "set_zero",
    ),
    Fault(
        "dead_counted",
        "dead transmitter counted",
        "A dead transmitter sends its lowest signal, and it counts as a reading of nothing.",
        "renew_and_watch",
    ),
    Fault("short_range", "range too short", "A transmitter's range ends below what is there: it can show no more.", "wider_range"),
    Fault("rule", "wrong combining rule", "The readings are combined by another rule than the sheet's.", "enter_rule"),
    Fault("gain_kept", "gain kept after a range change", "The range is a new one and the gain is still the old one's.", "adapt_gain"),
    Fault("action", "wrong action", "More pressure asks for more speed.", "set_action"),
    Fault(
        "set_point",
        "set point outside the range",
        "The set point in use is one that came with the controller, at or beyond the range's end.",
        "choose_set_point",
    ),
    Fault("filter_long", "filter too long", "An input smooths its reading over half a minute.", "shorten_filter"),
    Fault("ramp_slow", "ramp too slow", "The drive changes its speed more slowly than doors move.", "shorten_ramp"),
    Fault("relief_stuck", "relief damper stuck", "The stair's relief damper does not move with its pressure.", "free_damper"),
    Fault(
        "fan_backward",
        "fan running backward",
        "A centrifugal wheel that turns against its arrow still blows, and much less.",
        "change_phases",
    ),
    Fault("belt_slips", "belt slipping", "The wheel turns more slowly than the drive says.", "tighten_belt"),
    Fault("stop_threshold", "stop threshold above the duty", "The fan may stop at a speed at which it is still needed.", "lower_threshold"),
)
_FAULTS, _CURES = ({one.key: one for one in several} for several in (FAULTS, CURES))


def fault_named(key):
    """The `Fault` of a key. Raises ValueError for another."""
    if key not in _FAULTS:
        raise ValueError(f"fault must be one of {', '.join(_FAULTS)}; got {key!r:.60}")
    return _FAULTS[key]


def cure_named(key):
    """The `Cure` of a key. Raises ValueError for another."""
    if key not in _CURES:
        raise ValueError(f"cure must be one of {', '.join(_CURES)}; got {key!r:.60}")
    return _CURES[key]


def faults_at(level, mode):
    """Keys of the faults that can be there at a `Level` in a mode; a stop for low demand is never there in the fire mode."""
    there = rig.faults_of(mode)
    return tuple(key for key in there if level.number > 1 or key in PLAIN)
