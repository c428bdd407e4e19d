"""The checks one can spend minutes on, and what each shows of a loop as it is found, all worked out from the rig.

Minutes are ours: common practice, no source. A hand reads a moving figure for a while, so a figure is the mean of the last seconds; a gauge
is damped. What checks, faults and cures are called stands in data/texts/fault_bench.toml.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from helpers import require
from helpers.fault_bench.faulty_loop import FITS_WRONGLY, TAPS, site
from helpers.fault_bench.found import OPENS_S, SAMPLE_S, Found, displayed
from helpers.formulas import signals
from helpers.model.files import texts
from helpers.plots.plot import Plot
from helpers.studies.commissioning.hand_back import ALARM_IN_SHORT, LAST
from helpers.studies.commissioning.steps.not_run import NOT_RUN, ceiling_shown
from helpers.studies.duty.permissible_speed import COUNTS, ceiling_of
from helpers.units.said import with_unit

PUMPED_PA = 60.0
HAND_HZ = (20.0, 40.0)
BY_HAND_HZ = 30.0
INJECTED_PERCENT = 50.0
WATCHED_S = 40.0  # after the door opens
REST_PA, REST_SEEN_S, HAND_STEP_S = 2.0, 150.0, 0.25
SMOOTHED_S, QUIET_S = 2.0, 10.0
DIP_PA = 4.0
# Beyond the highest speed at which no door of the bench's building passes its limit. The keys of what is seen at them stand
# in records, so the caution carries it.
BEYOND_SAFE = f"{BY_HAND_HZ:g} Hz, and {HAND_HZ[1]:g} Hz more so,"
READABLE_PA, READABLE_HZ = 0.6, 4.0  # from sample to sample, and over the last seconds
METERED = {signals.SIGNALS[signal][2]: signal for signal in FITS_WRONGLY}  # the bench's signals, by what a meter counts in
INPUTS = ("input 1", "input 2")
SHEET = "record"  # the check that fetches the handover sheet
PLACES = {"raw": INPUTS, "inject": INPUTS, "nameplate": TAPS, "gauge": TAPS, "door gauge": TAPS, "pump": TAPS}


@cache
def place_words(place):
    """A place in words: a transmitter with the storey of its tap; "" for none."""
    return f"{place}, storey {site().transmitters[TAPS.index(place)].level}" if place in TAPS else place or ""


def look(found: Found, check, place=None):
    """Figures of a check, one of LOOKS, at a place of PLACES (None: it has none), as a dict."""
    places = PLACES.get(check)
    return LOOKS[check](found) if places is None else LOOKS[check](found, places.index(place))


def _display(found):
    one, two = found.now("displays")
    return {"display_1_pa": _step(one), "display_2_pa": _step(two), "combined_pa": _step(found.now("combined")),
            "output_percent": float(found.now("output")), "speed_hz": float(found.now("speed_hz"))}  # fmt: skip


def _raw(found, number):
    transmitter = found.rig.transmitters[found.rig.wires[number]]
    # signals on the wires over the last seconds [samples, inputs], % of their span
    sensed = found.last("sensed")[:, list(found.rig.wires)]
    tops = np.array([found.rig.transmitters[number].top_pa for number in found.rig.wires])
    percent = np.clip(100 * sensed / tops, signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT)[:, number]
    low, high, unit = signals.SIGNALS[transmitter.signal]
    span = (high - low) / 100
    return {"signal": round(float(low + span * percent.mean()), 2), "unit": unit, "scatter": round(float(span * percent.std()), 2)}


def raw_percent(seen):
    """Where the signal of a "raw" look stands, % of its span."""
    low, high, _ = signals.SIGNALS[METERED[seen["unit"]]]
    return 100 * (seen["signal"] - low) / (high - low)


def _of_inputs(entered):
    rows = enumerate(entered.inputs, start=1)
    return {f"{name}_{number}{unit}": getattr(row, f"{name}{unit}") for number, row in rows
            for name, unit in (("top", "_pa"), ("signal", ""), ("filter", "_s"))}  # fmt: skip


def _of_loop(entered):
    return {"rule": entered.rule, "set_point_a_pa": entered.set_points_pa["A"], "set_point_b_pa": entered.set_points_pa["B"],
            "error": entered.adds_error, "gain": entered.gain, "integral_s": entered.integral_s}  # fmt: skip


def _of_drive(entered):
    return {"uses": entered.uses, "speed": "rises with the error" if entered.speed_rises else "falls with the error",
            "ramp_s": entered.ramp_s, "stop_below_hz": entered.stop and float(entered.stop.stop_below_hz)}  # fmt: skip


def _record(found):
    record, (opens, full) = found.rig.record, found.rig.seat.relief_pa
    return _of_inputs(record) | _of_loop(record) | _of_drive(record) | {"relief_opens_pa": opens, "relief_full_pa": full}


def _nameplate(found, number):
    transmitter = found.rig.transmitters[number]
    return {"top_pa": transmitter.top_pa, "signal": transmitter.signal}


def _inject(found, number):
    """Half of the signal that the transmitter's plate names, put on an input."""
    low, high, unit = signals.SIGNALS[found.rig.transmitters[number].signal]
    entered = found.rig.entered.inputs[number]
    sent = low + (high - low) * INJECTED_PERCENT / 100
    return {"sent": sent, "unit": unit, "display_pa": _step(signals.to_units(sent, entered.signal, 0.0, entered.top_pa))}


def _pump(found, number):
    """Pressure pumped on the tube's end at a storey, the fan stopped; somebody reads the display of that name."""
    places = found.air.steady(0.0, pumped=(number, PUMPED_PA))
    return {"pumped_pa": PUMPED_PA, "display_pa": _step(displayed(found.rig, places.sensed_pa)[number])}


def _hand(found):
    """From the slow speed to the quick one: what both displays show at each, and how long after the speed stands they come to rest."""
    shown = {hz: displayed(found.rig, found.air.steady(hz).sensed_pa) for hz in HAND_HZ}
    seen = {f"display_{number}_at_{hz:.0f}_hz_pa": _step(shown[hz][number - 1]) for number in (1, 2) for hz in HAND_HZ}
    return seen | {f"rests_{number + 1}_s": _rests_s(found.rig, number, *(shown[hz][number] for hz in HAND_HZ)) for number in (0, 1)}


def _rests_s(rig, number, from_pa, to_pa):
    """Seconds from when the speed stands until a display is within a step of its end; the pressure goes up in a straight line till then."""
    lags = rig.tubes[rig.wires[number]].lag_s, rig.entered.inputs[number].filter_s
    moving = (HAND_HZ[1] - HAND_HZ[0]) / site().fan.reference_speed_hz * rig.entered.ramp_s
    time = np.arange(0.0, moving + REST_SEEN_S, HAND_STEP_S)
    course = from_pa + (to_pa - from_pa) * np.minimum(time / moving, 1.0)
    for lag in lags:
        course = _late(course, lag)
    away = time[np.abs(course - to_pa) > REST_PA]
    return round(max(float(away[-1]) - moving, 0.0)) if away.size else 0


def _late(course, lag_s):
    """A course after a first-order lag that was at rest before."""
    if lag_s == 0:
        return course
    keep, late = np.exp(-HAND_STEP_S / lag_s), [course[0]]
    for value in course[1:].tolist():
        late.append(keep * late[-1] + (1 - keep) * value)
    return np.array(late)


def _door(found):
    """The door opened once more, stop watch in hand: when each display has gone 63 % of its dip (None: it does not dip), and when the speed
    has come to rest; readable: whether the readings are quiet enough to time."""
    time, readings = found.run.time_s, found.run.readings_pa[..., 0]
    rest = readings[(time > OPENS_S - QUIET_S) & (time < OPENS_S)]
    readable = bool(np.diff(rest, axis=0).std(axis=0).max() < READABLE_PA and np.ptp(found.last("speed_hz")) < READABLE_HZ)
    falls = [_falls_s(rest[:, n].mean(), readings[(time >= OPENS_S) & (time <= OPENS_S + WATCHED_S), n]) for n in (0, 1)]
    return {"falls_1_s": falls[0], "falls_2_s": falls[1], "settles_s": found.settles_s, "readable": readable}


def _falls_s(rest_pa, course):
    width = round(SMOOTHED_S / SAMPLE_S)
    dip = rest_pa - np.convolve(course, np.ones(width) / width, "valid")
    return None if dip.max() < DIP_PA else round(float(np.argmax(dip >= 0.63 * dip.max()) * SAMPLE_S + SMOOTHED_S / 2), 1)


def _swap(found):
    """Both wires changed over at the inputs, the speed held by hand as it was."""
    speed = float(found.now("speed_hz"))
    before, after = (displayed(found.rig, found.air.steady(speed).sensed_pa, wires) for wires in (found.rig.wires, found.rig.wires[::-1]))
    names = ("before_1_pa", "before_2_pa", "after_1_pa", "after_2_pa")
    return dict(zip(names, map(_step, (*before, *after)), strict=True))


def _damper(found):
    """Blades and a gauge across them, at a speed by hand."""
    pressure, (opens, full) = found.air.steady(BY_HAND_HZ).damper_pa, found.rig.relief
    share = np.clip((pressure - opens) / (full - opens), 0, 1)
    return {"open_percent": float(np.round(100 * share, -1)), "pressure_pa": _step(pressure)}


def _wheel(found):
    """The wheel at a speed by hand."""
    rig, share = found.rig, BY_HAND_HZ / site().fan.reference_speed_hz
    other = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}
    turns = other[rig.seat.turns] if rig.backward else rig.seat.turns
    return {"turns": turns, "rpm": round(rig.seat.rpm * share * rig.wheel_turns, -1), "at_hz": BY_HAND_HZ}


def _step(pressure_pa):
    """As a display or a gauge shows it."""
    return float(np.round(pressure_pa)) + 0.0


LOOKS = {
    "display": _display, "raw": _raw, "record": _record, "nameplate": _nameplate, "inject": _inject, "pump": _pump, "hand": _hand,
    "door": _door, "swap": _swap, "damper": _damper, "wheel": _wheel,
    "inputs page": lambda found: _of_inputs(found.rig.entered),
    "loop page": lambda found: _of_loop(found.rig.entered),
    "drive page": lambda found: _of_drive(found.rig.entered),
    "gauge": lambda found, number: {"gauge_pa": _step(found.now("ports")[number])},
    "door gauge": lambda found, number: {"door_pa": _step(found.now("taps")[number])},
    "arrow": lambda found: {"turns": found.rig.seat.turns, "rpm": found.rig.seat.rpm, "at_hz": site().fan.reference_speed_hz},
}  # fmt: skip

TEXTS = texts("fault_bench")


@dataclass(frozen=True)
class Check:
    """key; name; how: it is done, before the building is asked for its speed; minutes;
    places: where it can be done, () where there is none; cautioned: keys of its cautions."""

    key: str
    name: str
    how: str
    minutes: float
    cautioned: tuple[str, ...] = ()

    @property
    def what(self):
        """How it is done, with the highest manual speed of this building beside a speed that the bench shows, and whether its loop may
        be let run at all."""
        how = self.how.replace("{safe}", highest_safe_speed()) if "{safe}" in self.how else self.how
        return how.replace("{by_loop}", by_the_loop()) if "{by_loop}" in how else how

    @property
    def cautions(self):
        """A text each."""
        return tuple(cautions()[name] for name in self.cautioned)

    @property
    def caution(self):
        """Its cautions in one text, "" for none."""
        return " ".join(self.cautions)

    @property
    def places(self):
        """Where it can be done; () where there is no choice."""
        return PLACES.get(self.key, ())


def highest_safe_speed():
    """The speeds of the bench's building above which a final exit may stay ajar and a door passes its limit, in words."""
    return f"{ceiling_of(site()).both_said}; {COUNTS}"


def lowest_safe_speed():
    """The lower of the two alone, in words."""
    return f"{_lowest_said()} ({COUNTS})"


def _lowest_said():
    ceiling = ceiling_of(site())
    return "no speed of this drive" if np.isnan(ceiling.lowest_hz) else f"{ceiling.lowest_hz:.1f} Hz in any weather"


def highest_safe_said():
    """The same with the doors, the weathers and the damper that stop it there."""
    ceiling = ceiling_of(site())
    jams = f"above {ceiling.hz:.1f} Hz {ceiling.door} is past its limit, {ceiling.met}" if ceiling.door else ""
    return "; ".join(filter(None, (_lowest_said(), ceiling.closes_said(ceiling.closes_met), jams, COUNTS)))


def _barred():
    """That the loop is not let run free with a door open, in a sentence; "" where every shut door bears its highest speed."""
    ceiling = ceiling_of(site())
    return f"{NOT_RUN} without {ceiling.keyed_said} in the drive as its highest speed." * bool(ceiling.lower)


def by_the_loop():
    """Whether a round in automatic with a door open may be run on the bench's building, whose loop then takes the fan to its highest speed:
    as the acceptance sheet has it, in a sentence."""
    ceiling = ceiling_of(site())
    if not ceiling.lower:
        return f"up to {ceiling.full_hz:g} Hz, at which every shut door opens."
    top = ceiling_shown(ceiling)
    return (
        f"{NOT_RUN} on this building: the fan goes towards {ceiling.full_hz:g} Hz, above the ceiling, {top}. The bench shows what would be "
        f"seen. On site only with {ceiling.keyed_said} in the drive as its highest speed."
    )


@cache
def cautions():
    """{key: text} of the bench's cautions, worked out when first read: one needs the building's air."""
    return {
        name: text.replace("{beyond}", BEYOND_SAFE)
        .replace("{safe}", highest_safe_said() if "{safe}" in text else "")
        .replace("{lowest}", lowest_safe_speed() if "{lowest}" in text else "")
        .replace("{barred}", f"{_barred()} " * bool(_barred()) if "{barred}" in text else "")
        .replace("{left}", LAST)
        .replace("{alarm}", f"{ALARM_IN_SHORT[0].upper()}{ALARM_IN_SHORT[1:]}")
        .replace("{heaviest}", (ceiling_of(site()).door or "the hardest door") if "{heaviest}" in text else "")
        for name, text in TEXTS["cautions"].items()
    }


def _shown_speeds(text):
    """A text with the speeds at which the bench shows something."""
    return text.replace("{hands}", " and ".join(f"{hz:g} Hz" for hz in HAND_HZ)).replace("{hand}", f"{BY_HAND_HZ:g} Hz")


CHECKS = tuple(
    Check(
        key,
        text["name"],
        _shown_speeds(text["what"].replace("{pumped}", f"{PUMPED_PA:.0f} Pa")),
        text["minutes"],
        tuple(text.get("cautions", ())),
    )
    for key, text in TEXTS["checks"].items()
)
MINUTES = {check.key: check.minutes for check in CHECKS}
_CHECKS = {check.key: check for check in CHECKS}
AT_START, AT_END = "at or below its range's start", "at or above its range's end"
FOUND_DIGITS = (0, 3)

_ENDS = {"_pa": "pressure", "_hz": "frequency", "_s": "time"}


def check_named(key):
    """The `Check` of a key. Raises ValueError for another."""
    return _CHECKS[require.one_of(_CHECKS, check=key)]


@dataclass(frozen=True)
class Seen:
    """What one check showed. numbers: {name: figure [SI] or word}; picture(sheet): makes its trend, or None."""

    check: Check
    place: str | None
    numbers: dict
    picture: Callable[[bool], Plot] | None = field(default=None, compare=False, repr=False)

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

    def lines(self):
        """Table of what was seen: (label, value) in words, in a system of units."""
        unit = self.numbers.get("unit", "")
        shown = [(_label(name), _value(name, value, unit)) for name, value in self.numbers.items() if name not in ("unit", "readable")]
        return (*shown, *_at_an_end(self.numbers))

    def words(self):
        """What was seen, in one sentence."""
        said = "; ".join(f"{label} {value}" for label, value in self.lines())
        if not self.numbers.get("readable", True):
            said += "; the readings jump about too much to time them"
        return f"{self.title[0].upper()}{self.title[1:]}: {said}".rstrip(".") + "."

    def trend(self, sheet=False):
        """`Plot` of what happened while the door stood open; None for any other check. sheet: as `FaultCase.trend`."""
        return self.picture and self.picture(sheet)


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
    return next(words for start, words in TEXTS["labels"].items() if name.startswith(start))


def _value(name, value, unit):
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
    return with_unit(value, dimension, FOUND_DIGITS if dimension == "pressure" else None)
