"""A transmitter and what was entered for it in the drive: what the display shows, and what a loop then holds at a real stair."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.formulas import signals
from helpers.studies.beside_limit import limit_tile
from helpers.studies.report import fine, range_text
from helpers.studies.signals.steady_loop import steady_loop
from helpers.units.said import with_unit

BOTH, UPPER, WIRE_OFF = "both alike", "only the upper", "upper wire broken"
INPUTS = (BOTH, UPPER, WIRE_OFF)
VOLTS_ON_CURRENT = "A voltage output does not belong on a current input"
SAME_GAIN = 0.005  # a gain nearer to one than this is written as one
SAME_PA = 0.5  # a display nearer to the truth than this at the set point counts as right
UPPER_NUMBER = 1  # of the site's transmitters
STATUS_WORDS = {
    "ok": "a sound signal",
    "below range": "a little below the signal's range",
    "above range": "a little above the signal's range",
    "failed low": "taken for a failed signal, low side, so that the reading is left out",
    "failed high": "taken for a failed signal, high side, so that the reading is left out",
}
CAUSES = {  # of a failed signal; common practice, no source
    "failed low": "Low side: a broken or shorted wire, a lost supply, a dead instrument, or one that says so of itself.",
    "failed high": "High side: an instrument that says so of itself, or a two-wire transmitter that is bridged.",
}


@dataclass(frozen=True)
class EnteredScaling:
    """The instrument (range and signal) and what the drive believes (entered_*). resistor_ohm: across the input where mA meets V.
    inputs: one of INPUTS; where only the upper one is entered so, or its wire is broken, the lower one is entered as it is."""

    low_pa: float = 0.0
    high_pa: float = 125.0
    signal: str = "4-20 mA"
    entered_low_pa: float = 0.0
    entered_high_pa: float = 125.0
    entered_signal: str = "4-20 mA"
    resistor_ohm: float = signals.INPUT_RESISTOR_OHM
    inputs: str = BOTH

    def __post_init__(self):
        if self.entered_high_pa <= self.entered_low_pa:
            ends = f"{self.entered_low_pa:g} to {self.entered_high_pa:g} Pa"
            raise ValueError(f"Entered top must be above the entered bottom, got {ends}.")

    @property
    def loop(self):
        """The stair's loop in winter."""
        return steady_loop()

    @property
    def case(self):
        """The case that the loop is judged in, in words: see `cases.case_said`; no other case is judged."""
        return f"{self.loop.name}, {self.loop.air_said}; scaling only"

    @property
    def set_point_pa(self):
        """Of that loop."""
        return self.loop.control.set_point_pa

    @property
    def ends(self):
        """Both lines, as the formulas of scaling take them."""
        return (
            self.signal, self.low_pa, self.high_pa, self.entered_signal, self.entered_low_pa, self.entered_high_pa, self.resistor_ohm,
        )  # fmt: skip

    @cached_property
    def gain(self):
        """By how much the display moves for one pascal."""
        return float(signals.entry_gain(*self.ends))

    @cached_property
    def offset_pa(self):
        """What the display shows where nothing is."""
        return float(signals.entry_offset(*self.ends))

    @property
    def right(self):
        """Whether the display shows what is there at the set point."""
        return abs(self.offset_pa + (self.gain - 1) * self.set_point_pa) < SAME_PA and abs(self.gain - 1) < 0.02

    @property
    def to_enter(self):
        """The signal that the drive's input gets, one of signals.SIGNALS: the transmitter's own, or what a resistor makes of a current."""
        if not self._across_resistor:
            return self.signal
        ends = [float(signals.volts_from_milliamps(end, self.resistor_ohm)) for end in signals.SIGNALS[self.signal][:2]]
        return next(name for name, (low, high, unit) in signals.SIGNALS.items() if unit == "V" and np.allclose((low, high), ends))

    @property
    def equal(self):
        """Whether each entry is what the instrument has, a range's end as near as a round inch is to it: by entry."""
        near_pa = SAME_GAIN * (self.high_pa - self.low_pa)
        return {
            "entered_low_pa": abs(self.entered_low_pa - self.low_pa) <= near_pa,
            "entered_high_pa": abs(self.entered_high_pa - self.high_pa) <= near_pa,
            "entered_signal": self.entered_signal == self.to_enter,
        }

    @property
    def most_volts(self):
        """(volts that the top of the signal puts on a voltage input, volts of the entered signal) where the first are more; None else."""
        _, entered, unit = signals.SIGNALS[self.entered_signal]
        volts = float(signals.at_the_input(signals.SIGNALS[self.signal][1], self.signal, self.entered_signal, self.resistor_ohm))
        return (volts, entered) if unit == "V" and volts > entered * (1 + SAME_GAIN) else None

    @property
    def _across_resistor(self):
        return (signals.SIGNALS[self.signal][2], signals.SIGNALS[self.entered_signal][2]) == ("mA", "V")

    @property
    def volts_on_current(self):
        """Whether a voltage output is wired to a current input, which no entry puts right."""
        return (signals.SIGNALS[self.signal][2], signals.SIGNALS[self.entered_signal][2]) == ("V", "mA")

    def sent(self, pressure_pa):
        """Signal of the instrument [V or mA]; at its ends it goes on a little with a live zero, else it stops."""
        sent = signals.to_signal(pressure_pa, self.signal, self.low_pa, self.high_pa, clamp=False)
        low, high, _ = signals.SIGNALS[self.signal]
        least, most = (signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT) if signals.live_zero(self.signal) else (0.0, 100.0)
        return np.clip(sent, low + (high - low) * least / 100, low + (high - low) * most / 100)

    def at_input(self, pressure_pa):
        """What the drive measures [V or mA of the entered signal]."""
        return signals.at_the_input(self.sent(pressure_pa), self.signal, self.entered_signal, self.resistor_ohm)

    def status(self, pressure_pa):
        """One of signals.STATUSES for a pressure."""
        return signals.STATUSES[int(signals.status(self.at_input(pressure_pa), self.entered_signal))]

    def shown(self, pressure_pa):
        """What the display shows; NaN where the drive takes the signal for a failed one."""
        measured = self.at_input(pressure_pa)
        value = signals.to_units(measured, self.entered_signal, self.entered_low_pa, self.entered_high_pa)
        return np.where(signals.good(measured, self.entered_signal), value, np.nan)[()]

    @property
    def broken_pa(self):
        """What the display shows with a broken wire; NaN where the drive can tell."""
        good = signals.good(0.0, self.entered_signal)
        return float(signals.to_units(0.0, self.entered_signal, self.entered_low_pa, self.entered_high_pa)) if good else float("nan")

    @cached_property
    def held(self):
        """Where the loop rests by its displays."""
        return self.loop.settle(self._display(self.shown), self.set_point_pa)

    @cached_property
    def held_running(self):
        """Where the loop rests if it is switched to automatic while the fan runs fast enough for a sound signal; None where it cannot."""

        def line(pressure_pa):
            return signals.to_units(self.at_input(pressure_pa), self.entered_signal, self.entered_low_pa, self.entered_high_pa)

        found = self.loop.settle(self._display(line), self.set_point_pa)
        return found if found.state == "held" and np.isfinite(self.shown(found.readings_pa)).all() else None

    def _display(self, shown):
        """Both displays [speeds, transmitters]; shown(pressure_pa): of an input that is entered so."""
        readings = self.loop.readings_pa
        display = shown(readings)
        if self.inputs != BOTH:
            right = EnteredScaling(self.low_pa, self.high_pa, self.signal, self.low_pa, self.high_pa, self.signal)
            display[:, 0] = right.shown(readings[:, 0])
        if self.inputs == WIRE_OFF:
            display[:, UPPER_NUMBER] = self.broken_pa
        return display

    @property
    def state(self):
        """One of "wrong", "attention" and "good"."""
        held = self.held
        if held.state != "held" or held.too_low or held.too_high or self.most_volts or self.volts_on_current:
            return "wrong"
        return "good" if self.right and self.inputs != WIRE_OFF else "attention"

    def says(self, pressure_pa):
        """Verdict: the entry, what the drive makes of this pressure, what the loop holds and the doors get."""
        if self.volts_on_current:
            return (
                f"{VOLTS_ON_CURRENT}. The low resistance of that input overloads the output: no reading is to be relied on, and either may "
                "be damaged (common practice, no source). The picture has the current that the volts would drive through "
                f"{self.resistor_ohm:g} Ω alone; what really comes nobody can say."
            )
        return f"{self._entry()} {self._pointer(pressure_pa)}\n{self._volts()}{self._holds()}"

    def headline(self):
        """The verdict in one sentence of a panel, what decides first."""
        held, wire = self.held, self.inputs == WIRE_OFF
        if self.volts_on_current:
            return VOLTS_ON_CURRENT
        if self.most_volts:
            volts, entered = self.most_volts
            return f"Up to {volts:g} V on an input entered for {entered:g} V"
        if held.state == "no reading":
            return "No reading is left to run the fan by"
        if self.state == "wrong":
            level = held.most_level if held.too_high else held.least_level
            return held.headline(f"at door {level}, {'wire broken' if wire else 'wrong entry'}")
        if wire:
            return "The upper wire is broken; the loop still holds"
        if not self.right:
            return f"Set to {fine(self.set_point_pa)}, the loop holds {fine(held.true_pa)}"
        return "Entry agrees with the instrument"  # and with that alone: LEFT_OUT says where the doors are judged

    def to_do(self):
        """What puts the reading right, tried on the same loop, in one line of a panel; "" where nothing is wrong with it."""
        if self.state == "good":
            return ""
        if self.volts_on_current:
            return "Do: announce it, fan in manual, wires to a voltage input"
        wire = self.inputs == WIRE_OFF
        entry = replace(
            self,
            entered_low_pa=self.low_pa,
            entered_high_pa=self.high_pa,
            entered_signal=self.to_enter,
            inputs=BOTH if wire else self.inputs,
        )
        if entry.state != "good":
            return "Ask: page 12, which judges the doors with a sound reading"
        if wire:  # the entry comes after it: then the line tells that
            first = "drive in manual at a safe speed" if self.right and not self.most_volts else "first drive in manual, safe speed"
            return f"Do: {first}, announce it, mend the wire"
        plate = range_text(self.low_pa, self.high_pa, "pressure")
        if not self._across_resistor:
            return f"Do: enter {plate}, {self.signal}, as on the plate"
        if (self.entered_low_pa, self.entered_high_pa) == (self.low_pa, self.high_pa):
            return f"Do: enter {self.to_enter}: {self.signal} across {self.resistor_ohm:g} Ω"
        return f"Do: enter {plate}, {self.to_enter} by the resistor"

    def tiles(self):
        """(what, value, limit) of what the loop really holds and what the doors get; nothing where it has no reading."""
        held, asked = self.held, self.loop.window_pa[0]
        if held.state == "no reading" or self.volts_on_current:
            return ()
        return (
            ("Really held", fine(held.true_pa), f"{fine(self.set_point_pa)} set"),
            limit_tile(f"Door {held.least_level}, settled, {self.loop.stair_said}", held.least_pa, asked, "pressure", "min."),
            limit_tile(f"Hand, door {held.most_level}, settled", held.force_n, self.loop.limit_n, "force"),
        )

    def _entry(self):
        entered = range_text(self.entered_low_pa, self.entered_high_pa, "pressure")
        if self.right:
            return "The entry agrees with the instrument."
        return f"Entered {entered}, {self.entered_signal}: the display shows {self._line()}."

    def _line(self):
        """The display's line; a gain of one and an offset of nothing are left out."""
        times = "the pressure" if abs(self.gain - 1) < SAME_GAIN else f"{self.gain:.2f} times the pressure"
        if abs(self.offset_pa) < SAME_PA / 10:
            return times
        return f"{times}, {'plus' if self.offset_pa > 0 else 'less'} {fine(abs(self.offset_pa))}"

    def _pointer(self, pressure_pa):
        measured, status = float(self.at_input(pressure_pa)), self.status(pressure_pa)
        unit, shown = signals.SIGNALS[self.entered_signal][2], float(self.shown(pressure_pa))
        there = f"At {fine(pressure_pa)} the drive receives {measured:.2f} {unit}"
        if np.isnan(shown):
            return f"{there}: {STATUS_WORDS[status]}."
        note = "" if status == "ok" else f" ({STATUS_WORDS[status]})"
        return f"{there}{note} and shows {fine(shown)}."

    def _volts(self):
        """What may become of the input, where it gets more volts than it is entered for."""
        if not self.most_volts:
            return ""
        volts, entered = self.most_volts
        return f"At the top of its range {volts:g} V come to an input entered for {entered:g} V: one made for no more may be destroyed. "

    def _holds(self):
        held, point = self.held, fine(self.set_point_pa)
        wire = self._wire() if self.inputs == WIRE_OFF else ""
        if held.state == "no reading":
            return f"{wire}{self._no_reading()}"
        true, where = (
            fine(held.true_pa),
            "" if held.state == "held" else f", the fan {held.state}, where the display has {fine(held.shown_pa)}",
        )
        return f"{wire}Set to {point}, the loop really holds {true} on average{where}. {held.says()}"

    def _no_reading(self):
        """Why the loop is left without any reading on its way up."""
        speed = f"with the fan at {with_unit(self.held.speed_hz, 'frequency')}"
        status = signals.STATUSES[int(signals.status(self.at_input(self.held.readings_pa.max()), self.entered_signal))]
        much = "little" if status == "failed low" else "much"
        return (
            f"No reading is left to run the fan by: started from rest, {speed}, there is so {much} signal that the drive takes it for a "
            "failure. What the fan does then (stay, stop, full speed) is another entry, and another argument; a stair whose fan is "
            f"stopped every day fails at every start.{self._running()}"
        )

    def _running(self):
        """What is held by a loop that is switched over while the fan runs, where that is possible."""
        if self.held_running is None:
            return ""
        true = fine(self.held_running.true_pa)
        return f" Switched to automatic while the fan runs with a sound signal, the loop would hold {true}. {self.held_running.says()}"

    def _wire(self):
        if np.isnan(self.broken_pa):
            return "The drive sees that the upper wire is broken and goes by the lower reading alone. "
        return f"The broken wire shows {fine(self.broken_pa)} and is averaged in as if it were a pressure. "
