"""The steady air of a plant over speed as a strategy sees it, where its loop comes to rest, and what its inputs display."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import signals
from helpers.model.loop.signal_chain import percent_line


@dataclass(frozen=True)
class Curves:
    """Steady air over speed: speed_hz [speeds]; tubes_pa [cases, speeds, inputs] what lies across each instrument; places [cases, speeds,
    places] what is to be held there (pressure across a stair's doors, in a duct's sections, in a building's storeys, gas in a garage's
    zones); flow_m3_s, power_w from the mains [cases, speeds]; others [cases, speeds, others] what else has limits that a set point has to
    respect, such as a stair's final exit (None: nothing)."""

    speed_hz: np.ndarray
    tubes_pa: np.ndarray
    places: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray
    others: np.ndarray | None = None


@dataclass(frozen=True)
class Held:
    """Where the loop comes to rest, by case: speed, "held", "at lowest speed" or "at full speed", the combined display, what is across the
    instruments [cases, inputs] and at the places [cases, places], flow and power; others [cases, others] as `Curves` has them."""

    speed_hz: np.ndarray
    state: np.ndarray
    display_pa: np.ndarray
    tubes_pa: np.ndarray
    places: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray
    others: np.ndarray | None = None

    @property
    def doors_pa(self):
        """A stair's places: pressure across its doors [cases, storeys]."""
        return self.places


def displayed(inputs, tubes_pa):
    """What the drive shows for what lies across the instruments [..., inputs]: by the instrument's range and signal, then as entered."""
    shown = np.empty(np.shape(tubes_pa))
    for number, one in enumerate(inputs):
        bottom, top = one.range
        percent = 100 * (tubes_pa[..., number] - bottom) / (top - bottom)
        live = signals.live_zero(one.signal)
        percent = np.clip(percent, signals.MEASURES_FROM_PERCENT if live else 0.0, signals.MEASURES_TO_PERCENT if live else 100.0)
        signal, low, high = one.entered
        offset, slope = percent_line(one.signal, signal)
        shown[..., number] = low + (high - low) / 100 * (offset + slope * percent)
    return shown


def widest_apart(bench, readings):
    """How far any two readings of the same thing differ [..], readings [.., inputs]; those of two gases are not held against each other."""
    if bench.alike is None:
        return np.ptp(readings, axis=-1)
    return np.max([np.ptp(readings[..., group], axis=-1) for group in bench.alike], axis=0)
