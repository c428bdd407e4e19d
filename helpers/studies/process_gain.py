"""The building's own gain: how far the combined reading moves for a little more speed, searched over speed, weather, doors, stair's warmth.

All of it is one call of the air network, on a fine grid of speeds in every condition; where the gain is largest it is searched once more on
a finer one. A reading past the end of its transmitter's range does not move, and counts so.
Limits: steady air. Behind a damper just lifting the gain on the way up is not that on the way down; the larger one is taken.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.combining import combine
from helpers.studies.cases import Case, conditions_of

__all__ = ["FillingAir", "ProcessGain", "cases_searched", "process_gain"]

COARSE_PERCENT, FINE_PERCENT = 1.0, 0.1  # of full speed, steps of the grids
WINDOW_PERCENT = 1.0  # of full speed, over which the slope is taken: less is the network's own rounding, more hides a damper that lifts
LEAST_GAIN = 0.02  # %/%: below it the reading hardly answers


@dataclass(frozen=True)
class FillingAir:
    """What the looked-up air leaves out: the time in which the shaft fills [s], that in which the storeys behind its doors do [s], and by
    how much of the final change a stair-floor reading is too high before they have (0.2: a fifth)."""

    shaft_s: float
    floors_s: float
    overshoot: float


@dataclass(frozen=True)
class ProcessGain:
    """What a search found.

    largest, least [% of span by % of full speed]: over every case, the least of the cases' own largest ones; case, output_percent,
    reading_pa: where the largest is; by_case: of (Case, gain, output_percent), each case's largest; answers: whether any reading does;
    air: `FillingAir` there.
    """

    largest: float
    least: float
    case: Case
    output_percent: float
    reading_pa: float
    by_case: tuple
    air: FillingAir

    @property
    def answers(self):
        """Whether the reading answers to the fan at all."""
        return self.largest >= LEAST_GAIN


def cases_searched(site, cases):
    """Every weather of the site with every set of open doors, and every warmth of the stair, that the cases have. Returns a tuple."""
    found = {}
    for weather in site.weather:
        for case in cases:
            key = (weather, case.open_doors, case.open_exits, getattr(case, "stair", ""))
            name = case.name.replace(case.weather, weather, 1)
            found.setdefault(key, replace(case, name=name, weather=weather))
    return tuple(found.values())


def process_gain(tower, cases, settings, transmitters=None, rule=None):
    """Search the largest gain. cases: of `Case`, widened by `cases_searched`; settings: `Settings`, for span and set point; transmitters,
    rule: by default the site's own. Returns `ProcessGain`. Raises ValueError for no cases."""
    site = tower.site
    cases = cases_searched(site, cases)
    conditions = conditions_of(site, cases)
    bench = _Slopes(tower, conditions, float(np.max(settings.span_pa)), transmitters, rule)
    outputs, gains, readings = bench.over(bench.ends_percent, COARSE_PERCENT)
    best = gains.argmax(axis=1)
    places = np.arange(len(cases))
    coarse, at = gains[places, best], outputs[best]
    row = int(coarse.argmax())
    near = np.clip(at[row] + np.array([-1.0, 1.0]) * COARSE_PERCENT, *bench.ends_percent)
    fine_at, fine, fine_reading = _Slopes(tower, conditions.rows([row]), bench.span_pa, transmitters, rule).over(near, FINE_PERCENT)
    sharper = int(fine[0].argmax())
    largest, output, reading = float(coarse[row]), float(at[row]), float(readings[row, best[row]])
    if fine[0, sharper] > largest:
        largest, output, reading = float(fine[0, sharper]), float(fine_at[sharper]), float(fine_reading[0, sharper])
    by_case = tuple((case, max(float(gain), largest) if k == row else float(gain), float(percent))
                    for k, (case, gain, percent) in enumerate(zip(cases, coarse, at, strict=True)))  # fmt: skip
    air = _filling_air(tower, conditions.rows([row]), output)
    return ProcessGain(largest, float(coarse.min()), cases[row], output, reading, by_case, air)


class _Slopes:
    """Readings of some conditions at many speeds, in one call, and their slopes."""

    def __init__(self, tower, conditions, span_pa, transmitters, rule):
        self.tower, self.conditions, self.span_pa = tower, conditions, span_pa
        control, fan = tower.site.control, tower.site.fan
        self.taps = tower.site.transmitters if transmitters is None else transmitters
        self.rule, self.weights = (control.rule, control.weights) if rule in (None, control.rule) else (rule, None)
        self.full_hz = fan.highest_speed_hz
        self.ends_percent = (100 * fan.lowest_speed_hz / self.full_hz, 100.0)

    def over(self, ends_percent, step_percent):
        """(outputs [n], gains [conditions, n], readings [conditions, n]) between two outputs; slopes over WINDOW_PERCENT around each."""
        half = min(WINDOW_PERCENT, self.ends_percent[1] - self.ends_percent[0]) / 2
        low, high = max(ends_percent[0], self.ends_percent[0] + half), min(ends_percent[1], self.ends_percent[1] - half)
        outputs = np.linspace(low, high, max(int(np.ceil((high - low) / step_percent)) + 1, 2))
        asked = np.concatenate([outputs - half, outputs + half])
        count = len(self.conditions)
        rows = self.conditions.rows(np.repeat(np.arange(count), asked.size))
        found = self.tower.solve(rows, np.tile(asked, count) / 100 * self.full_hz)
        ends = np.array([(tap.range_low_pa, tap.range_high_pa) for tap in self.taps]).T
        shown = combine(np.clip(self.tower.readings(found, self.taps), *ends), self.rule, weights=self.weights, axis=-1)
        slow, fast = shown.reshape(count, 2, -1).swapaxes(0, 1)
        return outputs, np.abs(fast - slow) / self.span_pa * 100 / (2 * half), (slow + fast) / 2


def _filling_air(tower, conditions, output_percent):
    """`FillingAir` under one condition at an output; nothing where the shaft hardly moves the floors."""
    full, levels = tower.site.fan.highest_speed_hz, tower.site.storeys
    slow, fast = (tower.solve(conditions, (output_percent + way) / 100 * full) for way in (-WINDOW_PERCENT, 0.0))
    flow = abs(float((fast.fan_flow_m3_s - slow.fan_flow_m3_s)[0]))
    stair, floors = (float(np.abs(of).mean()) for of in (fast.stair_pa - slow.stair_pa, fast.floor_pa - slow.floor_pa))
    volume = sum(storey.floor_area_m2 * storey.height_m for storey in levels)
    shaft = tower.site.stair.plan_area_m2 * sum(storey.height_m for storey in levels)
    if flow <= 0 or stair <= floors:
        return FillingAir(0.0, 0.0, 0.0)
    return FillingAir(shaft * stair / (tower.pressure_pa * flow), volume * floors / (tower.pressure_pa * flow), floors / (stair - floors))
