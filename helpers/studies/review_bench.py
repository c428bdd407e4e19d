"""A strategy laid over its site, with what the findings of a review ask for, each computed once and only when it is wanted.

The air is solved once over speed in every case; what the loop then does with any reading, right or wrong, is looked up there. Straight
lines between the solved speeds: within a tenth of a pascal of a held solution (a test compares).
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import signals
from helpers.formulas.combining import combine
from helpers.model.fan_power import electric_power_w
from helpers.model.loop.run import settings_of
from helpers.model.loop.signal_chain import percent_line
from helpers.model.strategy import applied
from helpers.model.tower import Tower
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.tuning_doors import DoorBench
from helpers.studies.window import pressure_window

__all__ = ["Curves", "Held", "ReviewBench", "displayed"]

SPEEDS = 61  # solved, equal steps from standstill to full speed
TRIED_PA = np.arange(5.0, 151.0, 1.0)  # set points tried for one that works
TOLERANCE_PA = 0.1  # of the straight lines between the solved speeds, measured: 0.02 Pa on Larkfield House


@dataclass(frozen=True)
class Curves:
    """Steady air over speed: speed_hz [speeds]; tubes_pa [cases, speeds, inputs] what lies across each instrument; doors_pa [cases, speeds,
    storeys] across the stair doors; flow_m3_s, power_w [cases, speeds]."""

    speed_hz: np.ndarray
    tubes_pa: np.ndarray
    doors_pa: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray


@dataclass(frozen=True)
class Held:
    """Where the loop comes to rest, by case: speed, "held", "at lowest speed" or "at full speed", the combined display, the pressures
    across instruments [cases, inputs] and stair doors [cases, storeys], flow and power."""

    speed_hz: np.ndarray
    state: np.ndarray
    display_pa: np.ndarray
    tubes_pa: np.ndarray
    doors_pa: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray


class ReviewBench:
    """A strategy, the site as it makes it (`site`), its tower, window and cases."""

    def __init__(self, strategy, site):
        self.strategy, self.stated = strategy, site
        self.site = applied(strategy, site)
        self.tower, self.window = Tower(self.site), pressure_window(self.site)
        self.cases, self.tolerance_pa, self._set_points = usual_cases(self.site), TOLERANCE_PA, {}

    @property
    def smoke_control(self):
        """Whether the fan serves smoke control: the site decides, and a strategy that says so of a comfort site is taken at its word."""
        return self.site.control.fire_mode

    @property
    def shut(self):
        """By case: whether all doors are shut."""
        return np.array([case.shut for case in self.cases])

    @cached_property
    def limits(self):
        """Least and most pressure across each storey's stair door."""
        return self.window.by_storey(self.tower.levels, "stair door")

    @cached_property
    def curves(self):
        """The air over speed in all cases, one solution for all findings."""
        conditions, count = conditions_of(self.site, self.cases), len(self.cases)
        speeds = np.linspace(0.0, self.site.fan.highest_speed_hz, SPEEDS)
        rows = conditions.rows(np.repeat(np.arange(count), SPEEDS))
        air = self.tower.solve(rows, np.tile(speeds, count))
        if not air.converged.all():
            raise ValueError(f"strategy must be for a site whose air has an answer; {np.count_nonzero(~air.converged)} did not converge")

        def by_case(values):
            return values.reshape(count, SPEEDS, *values.shape[1:])

        found = (self.tower.readings(air), air.door_dp_pa, air.fan_flow_m3_s, electric_power_w(self.tower, air, rows))
        return Curves(speeds, *map(by_case, found))

    @property
    def settings(self):
        """The controller's settings as the loop simulation takes them; the gain works on the span entered for the first input."""
        _, low, high = self.strategy.inputs[0].entered
        return replace(settings_of(self.site), span_pa=high - low, integral_s=self.strategy.loop.integral_s)

    @cached_property
    def doors(self):
        """The door tests of the tuning study, with this strategy's loop."""
        return DoorBench(self.tower, self.settings, self.site.transmitters, self.strategy.loop.rule)

    @cached_property
    def door_test(self):
        """`DoorTest` of the strategy's own settings. Entries are taken as right."""
        return self.doors.test(self.settings)[0]

    @property
    def rules(self):
        """Rules that these inputs could run by, the strategy's own first."""
        usual = ["average", "lowest", "highest"] + (["middle"] if len(self.strategy.inputs) > 2 else [])
        return tuple(dict.fromkeys([self.strategy.loop.rule, *(usual if len(self.strategy.inputs) > 1 else [])]))

    @cached_property
    def least_room_pa(self):
        """Room that the worst shut stair door has to the nearer end of its window, with all entries right; below zero where one is out,
        infinite without limits."""
        least, most = self.limits
        doors = self.rest(inputs=self.entered_rightly).doors_pa[self.shut]
        return float(np.minimum(doors - least, most - doors).min())

    def set_points(self, rule):
        """Of the set points tried, those at which this rule keeps every shut stair door in its window in every weather, with all entries
        right."""
        if rule not in self._set_points:
            self._set_points[rule] = self._working(rule)
        return self._set_points[rule]

    def _working(self, rule):
        combined = self._combined(displayed(self.entered_rightly, self.curves.tubes_pa), rule)
        cases = np.flatnonzero(self.shut)
        rows, targets = np.tile(cases, len(TRIED_PA)), np.repeat(TRIED_PA, len(cases))
        rest, (least, most) = self._rest(combined, targets, rows), self.limits
        inside = (rest.doors_pa >= least - self.tolerance_pa) & (rest.doors_pa <= most + self.tolerance_pa)
        good = inside.all(axis=1) & (rest.state == "held")
        return TRIED_PA[good.reshape(len(TRIED_PA), -1).all(axis=1)]

    @property
    def entered_rightly(self):
        """The inputs, were each entered as its instrument is."""
        right = {"entered_low_pa": None, "entered_high_pa": None, "entered_signal": None}
        return [one.model_copy(update=right) for one in self.strategy.inputs]

    @cached_property
    def held(self):
        """Where the loop comes to rest with the strategy as it is, were its action right."""
        return self.rest()

    @cached_property
    def resting(self):
        """Where the fan ends with the strategy as it is, its action included: a wrong one runs from below the set point to an end."""
        loop, fan = self.strategy.loop, self.site.fan
        if actions.loop_sign(loop.action, int(self.tower.effect)) == actions.HOLDS:
            return self.held
        error = actions.error(self.strategy.set_point_pa, self.strategy.set_point_pa - self.tower.effect, loop.action)
        end = str(actions.end_stop(loop.action, int(self.tower.effect), error))
        found = self.at_speed(fan.highest_speed_hz if end == "full speed" else fan.lowest_speed_hz)
        return replace(found, state=np.full(len(self.cases), f"at {end}"))

    def rest(self, *, rule=None, set_point_pa=None, tubes=None, inputs=None, dead=None):
        """Where the loop comes to rest, were its action right: with another rule, set point, inputs, instruments that see something else
        (tubes: a function of tubes_pa), or no signal on one of the inputs (dead: its number). Returns `Held`."""
        loop, curves = self.strategy.loop, self.curves
        seen = curves.tubes_pa if tubes is None else tubes(curves.tubes_pa.copy())
        display = displayed(self.strategy.inputs if inputs is None else inputs, seen)
        if dead is not None:
            display[..., dead] = float(signals.to_units(0.0, *self.strategy.inputs[dead].entered))
        target = self.strategy.set_point_pa if set_point_pa is None else set_point_pa
        return self._rest(self._combined(display, rule or loop.rule), target, np.arange(len(self.cases)))

    def at_speed(self, speed_hz):
        """What there is at a speed, whatever the loop says. Returns `Held`."""
        rows = np.arange(len(self.cases))
        speed = np.broadcast_to(np.asarray(speed_hz, float), rows.shape)
        combined = self._combined(displayed(self.strategy.inputs, self.curves.tubes_pa), self.strategy.loop.rule)
        return self._found(combined, speed, np.full(rows.shape, "by hand"), rows)

    def _combined(self, display, rule):
        weights = self.strategy.loop.weights if rule == "weighted" else None
        return combine(display, rule, weights=weights)

    def _rest(self, combined, set_point_pa, rows):
        """The first speed from the lowest at which the combined display reaches the set point; rows: the case of each."""
        speeds, fan = self.curves.speed_hz, self.site.fan
        target = np.broadcast_to(np.asarray(set_point_pa, float), rows.shape)
        over = self.tower.effect * (combined[rows] - target[:, None])
        enough = (over >= -self.tolerance_pa * (speeds == speeds[-1])) & (speeds >= fan.lowest_speed_hz)
        reached, first = enough.any(axis=1), np.maximum(enough.argmax(axis=1), 1)
        each = np.arange(len(rows))
        low, high = over[each, first - 1], over[each, first]
        part = np.clip(-low / np.where(high == low, 1.0, high - low), 0.0, 1.0)
        speed = speeds[first - 1] + part * (speeds[first] - speeds[first - 1])
        lowest = np.full(len(rows), fan.lowest_speed_hz)
        idle = self.tower.effect * (self._at(combined, lowest, rows) - target) >= 0
        speed = np.where(idle, lowest, np.where(reached, np.maximum(speed, lowest), fan.highest_speed_hz))
        state = np.where(idle, "at lowest speed", np.where(reached, "held", "at full speed"))
        return self._found(combined, speed, state, rows)

    def _found(self, combined, speed, state, rows):
        curves = self.curves
        values = (combined, curves.tubes_pa, curves.doors_pa, curves.flow_m3_s, curves.power_w)
        return Held(speed, state, *(self._at(value, speed, rows) for value in values))

    def _at(self, values, speed_hz, rows):
        """Values [cases, speeds, ...] of the rows' cases at a speed in each."""
        place = np.clip(speed_hz / self.curves.speed_hz[1], 0, len(self.curves.speed_hz) - 1)
        low = np.minimum(place.astype(int), len(self.curves.speed_hz) - 2)
        part = (place - low).reshape(-1, *[1] * (values.ndim - 2))
        return (1 - part) * values[rows, low] + part * values[rows, low + 1]


def displayed(inputs, tubes_pa):
    """What the drive shows for pressures across the instruments [..., inputs]: by the instrument's range and signal, then as entered."""
    shown = np.empty(np.shape(tubes_pa))
    for number, one in enumerate(inputs):
        span = one.range_high_pa - one.range_low_pa
        percent = 100 * (tubes_pa[..., number] - one.range_low_pa) / span
        live = signals.live_zero(one.signal)
        percent = np.clip(percent, signals.MEASURES_FROM_PERCENT if live else 0.0, signals.MEASURES_TO_PERCENT if live else 100.0)
        signal, low, high = one.entered
        offset, slope = percent_line(one.signal, signal)
        shown[..., number] = low + (high - low) / 100 * (offset + slope * percent)
    return shown
