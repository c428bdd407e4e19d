"""The checks one can spend minutes on, and what is seen, in words. Minutes are ours: common practice, no source."""

from dataclasses import dataclass, field

from helpers import units
from helpers.studies.fault_bench.looks import PLACES, PUMPED_PA, raw_percent
from helpers.studies.fault_bench.seat import TAPS

__all__ = ["CHECKS", "MINUTES", "Check", "Seen", "check_named", "in_words"]

ELECTRICITY = (
    "Work at terminals is for qualified people, in this order: fan in manual at a safe speed; isolate, lock out, wait until discharged, "
    "move the wire; power on with the fan still in manual; read; the same way back."
)
FAN = "A fan started or slowed by hand: nobody at belt or wheel, guards stay on, and somebody stands at the controls."
STAIR = "The stair is not protected meanwhile: agree it with the building, keep watch, put it back to automatic and write that down."
ARROW = "Stay outside the guards: the fan can start at any time."
LADDER = "It may hang high: a ladder that stands firm, never over an open shaft."
TUBES = "A tube that is opened makes the loop speed up: hold the speed by hand until the tees are in and tight."
PUMP = "Pump slowly, a gauge beside it: a hand pump can burst the cell of a low range."
DOOR = (
    "A door under pressure swings and shuts hard: hold it, keep hands off the hinge side. "
    "While it is open smoke can come in, so somebody has to stay at it until it is shut again."
)


@dataclass(frozen=True)
class Check:
    """key; name; what: how it is done; minutes; places: where it can be done, () where there is no choice; caution: "" or sentences."""

    key: str
    name: str
    what: str
    minutes: float
    caution: str = ""

    @property
    def places(self):
        """Where it can be done; () where there is no choice."""
        return PLACES.get(self.key, ())


_PUMP = f"{PUMPED_PA:.0f} Pa"
CHECKS = (
    Check("display", "read the displays", "Both readings, the combined one, output and speed, watched for a while.", 1),
    Check("record", "fetch the handover sheet", "What was entered on the day the loop was handed over.", 4),
    Check("inputs page", "look at the entered ranges", "Range, signal type and filter entered for both inputs.", 2),
    Check("loop page", "look at the loop's settings", "Combining rule, both set points, sign of the error, gain, integral time.", 2),
    Check("drive page", "look at the drive's settings", "Which set point is used, which way speed goes, ramp and stop threshold.", 2),
    Check("raw", "measure the raw signal at an input", "A meter in the signal, and how much it moves.", 4, ELECTRICITY),
    Check("nameplate", "read a transmitter's plate", "Range and signal as they stand on it.", 6, LADDER),
    Check("gauge", "put a gauge on a transmitter's tubes", "A damped gauge between its two ports, on tees, everything running.", 6,
          f"{LADDER} {TUBES} {STAIR}"),
    Check("door gauge", "put a gauge across the door of a storey", "A damped gauge, stair over floor, at the transmitter's storey.", 5,
          DOOR),
    Check("inject", "inject half of the signal at an input", "A calibrator in place of the transmitter; the display of that input.", 10,
          f"{ELECTRICITY} {STAIR}"),
    Check("pump", "pump on a tube", f"The fan stopped, {_PUMP} pumped on the high tube's end; that display.", 8,
          f"{PUMP} {FAN} {STAIR}"),
    Check("hand", "force the speed by hand", "Slow, then quick: both displays at each, and how soon they rest.", 6, f"{FAN} {STAIR}"),
    Check("door", "open a door and watch", "The street door open for a minute, a stop watch on displays and speed.", 6, DOOR),
    Check("swap", "change the two wires over", "Each transmitter on the other's input for a moment: wires moved with the drive isolated, "
          "read with the fan in manual.", 12, f"{ELECTRICITY} {STAIR}"),
    Check("damper", "look at the relief damper", "The fan at 30 Hz by hand: how far its blades are open, a gauge across them.", 6,
          f"Roof or shaft: mind the edge, and keep hands out of blades that can shut by themselves. {STAIR}"),
    Check("wheel", "look at the fan's wheel", "The fan at 30 Hz by hand: which way it turns and how fast.", 6, f"{FAN} {STAIR}"),
    Check("arrow", "look for the arrow on the housing", "Which way it should turn, and how fast at full speed.", 4, ARROW),
)  # fmt: skip
MINUTES = {check.key: check.minutes for check in CHECKS}
_CHECKS = {check.key: check for check in CHECKS}
AT_START, AT_END = "at or below its range's start", "at or above its range's end"
FOUND_DIGITS = {"Pa": 0, "in. w.c.": 3}

# What figures are called, by the start of their names; the first that fits.
_LABELS = {
    "display_1_at_20": "display PT-1 at 20 Hz", "display_1_at_40": "display PT-1 at 40 Hz", "display_2_at_20": "display PT-2 at 20 Hz",
    "display_2_at_40": "display PT-2 at 40 Hz", "rests_1": "PT-1 at rest after", "rests_2": "PT-2 at rest after",
    "display_1": "display PT-1", "display_2": "display PT-2", "combined": "combined reading",
    "output": "output", "speed_hz": "speed", "signal_1": "signal of input 1", "signal_2": "signal of input 2", "signal": "signal",
    "scatter": "moves by about ±", "top_1": "range of input 1 ends at", "top_2": "range of input 2 ends at",
    "filter_1": "filter of input 1", "filter_2": "filter of input 2", "top": "range ends at", "rule": "combining rule",
    "set_point_a": "set point A", "set_point_b": "set point B", "error": "error is counted as", "gain": "gain [%/%]",
    "integral": "integral time", "uses": "set point in use", "speed": "speed", "ramp": "ramp to full speed",
    "stop_below": "stops for low demand below",
    "relief_opens": "relief damper opens at", "relief_full": "relief damper fully open at", "sent": "signal put on", "display": "display",
    "pumped": "pressure pumped", "gauge": "gauge", "door": "across the door", "falls_1": "PT-1 has gone 63 % of its dip after",
    "falls_2": "PT-2 has gone 63 % of its dip after", "settles": "speed at rest after the door is shut", "before_1": "display PT-1 before",
    "before_2": "display PT-2 before", "after_1": "display PT-1 changed over", "after_2": "display PT-2 changed over",
    "open": "blades open", "pressure": "across the damper", "turns": "turns", "rpm": "rpm", "at_hz": "with the drive at",
}  # fmt: skip
_ENDS = {"_pa": "pressure", "_hz": "frequency", "_s": "time"}


def check_named(key):
    """The `Check` of a key. Raises ValueError for another."""
    if key not in _CHECKS:
        raise ValueError(f"check must be one of {', '.join(_CHECKS)}; got {key!r:.60}")
    return _CHECKS[key]


@dataclass(frozen=True)
class Seen:
    """What one check showed. numbers: {name: figure [SI] or word}; picture: makes its trend in a system of units, or None."""

    check: Check
    place: str | None
    numbers: dict
    picture: object = field(default=None, compare=False, repr=False)

    @property
    def minutes(self):
        """What it cost."""
        return self.check.minutes

    @property
    def title(self):
        """The check and its place."""
        return f"{self.check.name}, {self.place}" if self.place else self.check.name

    @property
    def look(self):
        """The look of the studies it is: (check, place)."""
        return self.check.key, self.place

    def lines(self, system="Pa"):
        """Table of what was seen: (label, value) in words, in a system of units."""
        unit = self.numbers.get("unit", "")
        shown = [_line(name, value, unit, system) for name, value in self.numbers.items() if name not in ("unit", "readable")]
        return (*shown, *_at_an_end(self.numbers))

    def words(self, system="Pa"):
        """What was seen, in one sentence."""
        said = "; ".join(f"{label} {value}" for label, value in self.lines(system))
        if not self.numbers.get("readable", True):
            said += "; the readings jump about too much to time them"
        return f"{self.title[0].upper()}{self.title[1:]}: {said}".rstrip(".") + "."

    def trend(self, system="Pa"):
        """`Trend` of what happened while the door stood open; None for any other check."""
        return self.picture and self.picture(system)


def in_words(outcome):
    """Outcome of a conclusion, with the names of entries in words.

    >>> in_words("differs: filter_1_s"), in_words("agrees")
    ('differs: filter of input 1', 'agrees')
    """
    start, _, names = outcome.partition("differs: ")
    return outcome if start else f"differs: {', '.join(_label(name).removesuffix(' ends at') for name in names.split(', '))}"


def _at_an_end(numbers):
    """(what, where it stands) of each figure that a transmitter's signal may have cut off, so that nobody takes it for the pressure itself.
    Of a display only the start shows, at 0: its range's end nobody knows who has not looked at it."""
    for number, name in enumerate(TAPS, start=1):
        if numbers.get(f"display_{number}_pa", 1.0) <= 0:
            yield f"{name} stands", AT_START
    if "scatter" in numbers and not 0 < (percent := raw_percent(numbers)) < 100:
        yield "it stands", AT_START if percent <= 0 else AT_END


def _label(name):
    return next(words for start, words in _LABELS.items() if name.startswith(start))


def _line(name, value, unit, system):
    return _label(name), _value(name, value, unit, system)


def _value(name, value, unit, system):
    if value is None:
        return "never: it does not dip" if name.startswith("falls") else "never"
    if isinstance(value, str):
        return value.replace(" - ", " − ")
    if name in ("signal", "scatter", "sent"):
        return f"{value:.2f} {unit}"
    if name.endswith("_percent"):
        return f"{value:.0f} %"
    dimension = next((dimension for end, dimension in _ENDS.items() if name.endswith(end)), None)
    if dimension is None:
        return f"{value:g}"
    return units.show(value, dimension, system, FOUND_DIGITS[system] if dimension == "pressure" else None)
