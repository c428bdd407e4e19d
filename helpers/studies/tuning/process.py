"""The building's own gain: how far the combined reading moves for a little more speed, searched over speed, weather, doors, stair's warmth.

All of it is one call of the air network, on a fine grid of speeds in every condition; where the gain is largest it is searched once more on
a finer one. A reading past the end of its transmitter's range does not move, and counts so. Step tests read it as a technician would: the
combined reading behind the transmitters' lag and the inputs' filter, the drive on its ramp.
Where the network found no answer nothing is counted, and the result says where: the largest gain may lie there.
Limits: steady air. Behind a damper just lifting the gain on the way up is not that on the way down; the larger one is taken.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.combining import combine
from helpers.formulas.step_response import fit_first_order_delay
from helpers.model.loop.run import Setup, run_loop
from helpers.studies.cases import Case, conditions_of
from helpers.units.said import two, with_unit

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

    def said(self):
        """What that means for the door tests, in words: the one sentence of record, its walk and lesson."""
        times = f"the shaft takes {two(self.shaft_s)} s to fill and the storeys behind its doors {two(self.floors_s)} s"
        return (
            f"Door tests use a table of steady airflow; here {times}, which the margins alone count: "
            "before a tuning is relied on, make a step test and a door test on site, a pair with a force gauge at the hardest door, "
            "on the side it does not swing to, nobody else at a door; no faster than the day's ceiling (page 17 or 18 of "
            "the workbook, the lower), the drive's highest speed; else NOT RUN."
        )


@dataclass(frozen=True)
class ProcessGain:
    """What a search found.

    largest, least [% of span by % of full speed]: over every case, the least of the cases' own largest ones; case, output_percent,
    reading_pa: where the largest is; by_case: of (Case, gain, output_percent), each case's largest; answers: whether any reading does;
    air: `FillingAir` there; lost: of (Case, at how many of the speeds tried the network found no answer).
    """

    largest: float
    least: float
    case: Case
    output_percent: float
    reading_pa: float
    by_case: tuple[tuple[Case, float, float], ...]
    air: FillingAir
    lost: tuple[tuple[Case, int], ...] = ()

    def lost_said(self):
        """Where the air has no answer, in words; "" where it has one everywhere."""
        if not self.lost:
            return ""
        worst, count = max(self.lost, key=lambda one: one[1])
        return f"no answer of the air at some speeds in {len(self.lost)} of {len(self.by_case)} cases, most in {worst.name} ({count})"

    def slope_said(self):
        """Over how small a step the largest gain is, in words: a step test shows less where the curve bends within its step."""
        return (
            f"a slope over {WINDOW_PERCENT:g} % of speed; a step of {STEP_PERCENT:g} % averages over a bend of the curve, such as where a "
            "relief damper lifts, and shows less"
        )

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
    """Search the largest gain. cases: of `Case`, widened by `cases_searched`; settings: `ControllerSettings`, for span and set point;
    transmitters, rule: by default the site's own. Returns `ProcessGain`. Raises ValueError for no cases, and where the air has an answer at
    no speed of any."""
    site = tower.site
    cases = cases_searched(site, cases)
    conditions = conditions_of(site, cases)
    bench = _Slopes(tower, conditions, float(np.max(settings.span_pa)), transmitters, rule)
    outputs, gains, readings = bench.over(bench.ends_percent, COARSE_PERCENT)
    lost, gains = np.isnan(gains), np.where(np.isnan(gains), -1.0, gains)
    if lost.all():
        raise ValueError(f"cases must hold one in which the air has an answer, got {len(cases)} in which it has none at any speed")
    best = gains.argmax(axis=1)
    places = np.arange(len(cases))
    coarse, at = gains[places, best], outputs[best]
    row = int(coarse.argmax())
    near = np.clip(at[row] + np.array([-1.0, 1.0]) * COARSE_PERCENT, *bench.ends_percent)
    fine_at, fine, fine_reading = _Slopes(tower, conditions.rows([row]), bench.span_pa, transmitters, rule).over(near, FINE_PERCENT)
    sharper = int(np.where(np.isnan(fine[0]), -1.0, fine[0]).argmax())
    largest, output, reading = float(coarse[row]), float(at[row]), float(readings[row, best[row]])
    if fine[0, sharper] > largest:
        largest, output, reading = float(fine[0, sharper]), float(fine_at[sharper]), float(fine_reading[0, sharper])
    known = ~lost.all(axis=1)
    by_case = tuple((case, max(float(gain), largest) if k == row else float(gain) if known[k] else np.nan, float(percent))
                    for k, (case, gain, percent) in enumerate(zip(cases, coarse, at, strict=True)))  # fmt: skip
    air = _filling_air(tower, conditions.rows([row]), output)
    missing = lost.sum(axis=1)
    missing[row] += np.isnan(fine[0]).sum() + (air is None)
    return ProcessGain(
        largest, float(coarse[known].min()), cases[row], output, reading, by_case, air or FillingAir(0.0, 0.0, 0.0),
        tuple((case, int(count)) for case, count in zip(cases, missing, strict=True) if count),
    )  # fmt: skip


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
        """(outputs [n], gains [conditions, n], readings [conditions, n]) between two outputs; slopes over WINDOW_PERCENT around each, NaN
        where the network found no answer at one of its ends."""
        half = min(WINDOW_PERCENT, self.ends_percent[1] - self.ends_percent[0]) / 2
        low, high = max(ends_percent[0], self.ends_percent[0] + half), min(ends_percent[1], self.ends_percent[1] - half)
        outputs = np.linspace(low, high, max(int(np.ceil((high - low) / step_percent)) + 1, 2))
        asked = np.concatenate([outputs - half, outputs + half])
        count = len(self.conditions)
        rows = self.conditions.rows(np.repeat(np.arange(count), asked.size))
        found = self.tower.solve(rows, np.tile(asked, count) / 100 * self.full_hz)
        ends = np.array([(tap.range_low_pa, tap.range_high_pa) for tap in self.taps]).T
        shown = combine(np.clip(self.tower.readings(found, self.taps), *ends), self.rule, weights=self.weights, axis=-1)
        slow, fast = np.where(found.converged, shown, np.nan).reshape(count, 2, -1).swapaxes(0, 1)
        return outputs, np.abs(fast - slow) / self.span_pa * 100 / (2 * half), (slow + fast) / 2


def _filling_air(tower, conditions, output_percent):
    """`FillingAir` under one condition at an output; zeros where the shaft hardly moves the floors, None where the air has no answer."""
    full, levels = tower.site.fan.highest_speed_hz, tower.site.storeys
    slow, fast = (tower.solve(conditions, (output_percent + way) / 100 * full) for way in (-WINDOW_PERCENT, 0.0))
    if not (slow.converged.all() and fast.converged.all()):
        return None
    flow = abs(float((fast.fan_flow_m3_s - slow.fan_flow_m3_s)[0]))
    stair, floors = (float(np.abs(of).mean()) for of in (fast.stair_pa - slow.stair_pa, fast.floor_pa - slow.floor_pa))
    volume = sum(storey.floor_area_m2 * storey.height_m for storey in levels)
    shaft = tower.site.stair.plan_area_m2 * sum(storey.height_m for storey in levels)
    if flow <= 0 or stair <= floors:
        return FillingAir(0.0, 0.0, 0.0)
    return FillingAir(shaft * stair / (tower.pressure_pa * flow), volume * floors / (tower.pressure_pa * flow), floors / (stair - floors))


SPEEDS_PERCENT = (35.0, 50.0, 65.0, 80.0)
STEP_PERCENT, REST_S = 5.0, 5.0
LAGS_WAITED, LEAST_WAIT_S = 12, 8.0  # so many times the lags set, and no less, the reading is given to settle


@dataclass(frozen=True)
class StepTest:
    """One step test: case, output before the step [% of full speed], reading then [Pa], what was fitted; and why it does not count, if so.

    gain [% of span by % of full speed], above zero whichever way the fan acts, lag_s, delay_s; NaN where nothing was fitted.
    """

    case: Case
    output_percent: float
    reading_pa: float
    gain: float
    lag_s: float
    delay_s: float
    left_out: str = ""

    @property
    def row(self):
        """The test as a row of a table."""
        figures = ("", self.left_out, "") if self.left_out else (f"{self.gain:.2f} %/%", f"{self.lag_s:.2f} s", f"{self.delay_s:.2f} s")
        return (self.case.name, f"{self.output_percent:.0f} %", with_unit(self.reading_pa, "pressure"), *figures)


def step_tests(tower, cases, settings, transmitters=None, rule=None, speeds_percent=SPEEDS_PERCENT):
    """Make the step tests of all cases at all speeds that the drive can go. Returns a tuple of `StepTest`.

    Limits: the model's own small noise only; at one storey's readings beyond their range nothing can be told, and the test is left out.
    """
    fan, conditions = tower.site.fan, conditions_of(tower.site, cases)
    lowest = 100 * fan.lowest_speed_hz / fan.highest_speed_hz
    taps = tower.site.transmitters if transmitters is None else transmitters
    wait = max(LEAST_WAIT_S, LAGS_WAITED * max(tap.filter_s for tap in taps))
    air, found = None, []
    for percent in sorted({max(speed, lowest) for speed in speeds_percent if speed + STEP_PERCENT <= 100}):
        up, down, end = REST_S, REST_S + wait, REST_S + 2 * wait
        hand = ((0.0, up, percent), (up, down, percent + STEP_PERCENT), (down, end, percent))
        setup = Setup(end, settings=settings, rule=rule, hand=hand, start_hz=percent * fan.highest_speed_hz / 100)
        run = run_loop(tower, conditions, setup, taps, air)
        air = run.air
        found += [_read(run, number, case, taps) for number, case in enumerate(cases)]
    return tuple(found)


def _read(run, number, case, transmitters):
    output, reading = run.output_percent[:, number], run.reading_pa[:, number]
    test = StepTest(case, float(output[0]), float(reading[0]), np.nan, np.nan, np.nan)
    tubes = run.tubes_pa[:, :, number]
    ends = np.array([(t.range_low_pa, t.range_high_pa) for t in transmitters]).T
    if (tubes <= ends[0]).any() or (tubes >= ends[1]).any():
        return replace(test, left_out="a transmitter is at the end of its range")
    span = float(np.broadcast_to(run.settings.span_pa, run.reading_pa.shape[1])[number])
    if abs(np.ptp(reading)) < LEAST_GAIN * STEP_PERCENT / 100 * span:
        return replace(test, left_out="the reading does not answer")
    try:
        fit = fit_first_order_delay(run.time_s, output, reading / span * 100)
    except ValueError as refusal:
        return replace(test, left_out=f"no fit: {refusal}")
    return replace(test, gain=abs(fit.gain), lag_s=fit.lag_s, delay_s=fit.delay_s)
