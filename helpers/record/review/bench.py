"""A strategy laid over a plant of any kind: the air is solved once over speed in every case, and where the loop comes to rest is looked up.

Straight lines between the solved speeds: within a tenth of a pascal of a held solution on a stair (a test compares). Limits: steady air.
Readings bear their own unit: pascals, in a garage ppm, whatever their names say.
"""

from dataclasses import replace
from functools import cached_property

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import signals
from helpers.formulas.combining import combine
from helpers.model.air.operating_point import AT_FULL_SPEED, HELD, STATES
from helpers.model.sweep import at, meets, place_of, speed_at
from helpers.record.review.curves import Held, displayed
from helpers.studies.readings.alarms import latest_s
from helpers.studies.readings.words import event_said
from helpers.studies.report import PRACTICE, spanned
from helpers.units.said import unit_of, with_unit

DIFFERENCE = "difference"  # of two readings, as an alarm watches it
TRIED_PA = np.arange(5.0, 151.0, 1.0)
SPEEDS = 121  # solved, equal steps from standstill to full speed
TOLERANCE = 0.1  # Pa, of the straight lines between the solved speeds, measured: 0.02 Pa on Larkfield House; a garage's 0.1 ppm
MOST_ROOM = 1e6  # of a place without a limit, in the reading's unit
LARGEST_STEP = 0.02  # of full speed, either way, over which the plant's gain is read off


class LoopBench:
    """Base of the benches. A subclass sets `strategy`, `stated` (the site as its file has it), `site` (as the strategy makes it), `effect`,
    `cases`, `set_point`, and gives `_solved()`: the `Curves`; `limits`: least and most of the places [places] or [cases, places];
    `place_text(place)`; `too_low`, `too_high`: the worst place out of its limits over some cases, in words, empty where none is."""

    dimension, held_words, settled_words, places_words, tolerance_pa = "pressure", "pressure", "in every case", "the places see", TOLERANCE
    # Lag and delay that nobody states, as they may be at the most; standard of smoke control whose mode a stair's file does not state.
    # gas: of what kills, not of comfort; alike: numbers of the inputs that read the same, group by group (None: all do).
    unknown_lag_s, out_of_mode, door_word, gas, alike = 0.0, "", "", False, None

    @property
    def smoke_control(self):
        """Whether the fan serves smoke control: the site decides, and a strategy that says so of a comfort site is taken at its word."""
        return self.site.control.fire_mode

    @cached_property
    def speed_limits_hz(self):
        """Lowest and highest speed that the loop may ask for, in smoke control those of smoke control."""
        return self.site.fan.speed_limits_hz(self.smoke_control)

    @property
    def settled(self):
        """By case: whether the loop has to keep every place inside its limits there."""
        return np.ones(len(self.cases), bool)

    @property
    def required(self):
        """By case: whether the plant has to hold its set point there."""
        return self.settled

    @property
    def idle(self):
        """By case: whether nobody asks anything of the fan; the others are duties that count."""
        return self.settled

    @cached_property
    def curves(self):
        """The air over speed in all cases, one solution for all findings."""
        return self._solved()

    def door_text(self, place):
        """A place as the headlines of all pages name it."""
        return f"{self.door_word} {self.place_names[place]}" if self.door_word else self.place_text(place)

    @property
    def alarm_limits(self):
        """Least and most of the places, of which an alarm has to tell."""
        return self.limits

    @property
    def other_limits(self):
        """Least and most of `Curves.others` [others]."""
        return np.empty(0), np.empty(0)

    def other_text(self, other):
        """One of them in words."""
        raise IndexError(f"other must be one of those that this plant has, and it has none; got {other!r:.60}")

    def others_out(self, held):
        """By how much each of them is out of its limits [.., others], below zero inside; nothing in it where a plant has none."""
        least, most = self.other_limits
        return np.empty((*held.places.shape[:-1], 0)) if held.others is None else np.maximum(held.others - most, least - held.others)

    def worst_out(self, rests, cases, sides=("low", "high")):
        """The worst place out of its limits over several `Held` and some cases, in words; "" where none is. sides: what counts."""
        looks = {"low": self.too_low, "high": self.too_high}
        found = [(self._out_by(held, cases)[side], number, side) for number, held in enumerate(rests) for side in sides]
        out, number, side = max(found, default=(0.0, 0, "low"), key=lambda one: one[0])
        return looks[side](rests[number], cases) if out > self.tolerance_pa else ""

    def _out_by(self, held, cases):
        """By how much the worst place is below its least and above its most over some cases."""
        least, most = (np.broadcast_to(ends, held.places.shape) for ends in self.limits)
        over = {"low": least - held.places, "high": held.places - most}
        return {side: float(np.max(out[cases], initial=-np.inf)) for side, out in over.items()}

    def too_much(self, held, cases):
        """The worst place that has too much of the fan over some cases, in words; empty where none has."""
        return (self.too_high if self.effect > 0 else self.too_low)(held, cases)

    def bears(self, held, cases):
        """By case: whether no place has too much of the fan (cases that are not among those asked about bear all)."""
        least, most = (np.broadcast_to(ends, held.places.shape) for ends in self.limits)
        over = held.places - most if self.effect > 0 else least - held.places
        return (over <= self.tolerance_pa).all(axis=-1) | ~cases

    def inside(self, held):
        """By case: whether every place is within its limits."""
        least, most = (np.broadcast_to(ends, held.places.shape) for ends in self.limits)
        return ((held.places >= least - self.tolerance_pa) & (held.places <= most + self.tolerance_pa)).all(axis=-1)

    @property
    def gain_found_on(self):
        """Span on which the gain was found, None where it was this one."""
        return self.strategy.loop.gain_found_on_pa

    @property
    def dead_band(self):
        """Error that moves nothing, in the reading's unit."""
        return self.strategy.loop.dead_band_pa

    # `RampDown`, `FullSpeed`, `FallbackStudy`, `TuningStudy`, and its `AlarmLimits` with the tuning to be entered, where a plant has these
    ramp_down = full_speed = fallback = tuning = tuned_limits = None

    def falling_back(self, does, speed_hz=None):
        """`Way` of falling back so, by that study; None where this plant has none, or nothing can be held at all."""
        return None

    @property
    def fallback_wait(self):
        """(how long an alarm may wait before it leads to the fallback [s], why, in words)."""
        if self.tuned_limits is not None:
            return self.tuned_limits.after_s, event_said(self.tuned_limits)
        return latest_s(), f"an alarm that waits longer comes late: {PRACTICE}"

    @cached_property
    def as_the_site_runs(self):
        """The same bench with the site's own highest speed; None where the strategy enters no lower one."""
        if self.speed_limits_hz[1] >= self.stated.fan.speed_limits_hz(self.smoke_control)[1]:
            return None
        return type(self)(self.strategy.with_changes(loop={"highest_speed_hz": None}), self.stated)

    @cached_property
    def held_back(self):
        """By case: whether the highest speed that is entered keeps the fan from a set point that it would hold at the site's own."""
        short, other = self.held.state == "at full speed", self.as_the_site_runs
        return short & False if other is None or not short.any() else short & (other.held.state != "at full speed")

    def fallback_said(self):
        """What a study of failed readings proposes, in words; empty where this plant has none. entry: whether what is entered is worse."""
        return ""

    def speed_said(self):
        """What a study of failed readings makes of one speed kept, in words; empty where this plant has none. entry: as fallback_said."""
        return ""

    def waits_said(self):
        """How long alarms may wait, in words: as the record lays it down, where it does."""
        if self.tuned_limits is not None:
            return self.tuned_limits.waits_said()
        return f"{latest_s():g} s or less on a reading, {latest_s(difference=True):g} s or less on the difference of two"

    @property
    def alarm_bands(self):
        """{name of a reading, or DIFFERENCE: (low, high) of its alarm} by a study of the alarms; empty where this plant has none."""
        return {}

    def tried_pair(self, gain, integral_s):
        """What a tuning study finds of a gain and an integral time; None where this plant has none."""
        return None

    pair, speed_first = (None, False), ""  # a tuning to enter, and whether it is the record's; the limit of speed that comes first

    def proposed(self):
        """The tuning to enter, in words; empty where this plant has no tuning study."""
        return ""

    def alarms_said(self):
        """What a study of the alarms proposes, in words; empty where this plant has none."""
        return ""

    def plant_lag_s(self, case, speed_hz):
        """Lag of the plant itself [s]; a pressure follows its fan at once."""
        return 0.0

    def show(self, value, digits=None):
        """A reading in words."""
        return with_unit(float(value), self.dimension, digits)

    def fine(self, value):
        """A small reading, such as an accuracy, with one digit more than usual."""
        extra = (1, 3) if self.dimension == "pressure" else 1
        return with_unit(float(value), self.dimension, extra)

    def between(self, low, high, digits=None):
        """Two readings in words, with the unit once."""
        return spanned(self.show(low, digits), self.show(high, digits), unit_of(self.dimension))

    @property
    def span(self):
        """Span entered for the first input, on which the gain works."""
        _, low, high = self.strategy.inputs[0].entered
        return high - low

    @cached_property
    def errors(self):
        """What each input may be off by [inputs], in the reading's unit."""
        inputs = self.strategy.inputs
        return np.array([float(signals.accuracy(*one.range, one.accuracy_percent_span)) for one in inputs])

    @cached_property
    def least_room_pa(self):
        """Room that the worst settled place has to the nearer of its limits, with all entries right; below zero where one is out,
        infinite without limits."""
        held = self.rest(inputs=self.entered_rightly)
        least, most = (np.broadcast_to(ends, held.places.shape)[self.settled] for ends in self.limits)
        places = held.places[self.settled]
        return float(np.minimum(places - least, most - places).min())

    def set_points(self, rule, only=None):
        """Of the set points tried, those at which this rule keeps every settled place within its limits, with all entries right and no
        higher lowest speed than the site's own; only: the number of the one reading that is used."""
        if (rule, only) not in self._set_points:
            self._set_points[rule, only] = self._working(rule, only)
        return self._set_points[rule, only]

    def own_set_points(self, number):
        """Set points at which one reading alone keeps every settled place within its limits."""
        return self.set_points("average", number)

    @cached_property
    def _set_points(self):
        return {}

    @property
    def tried(self):
        """Set points tried for one that works, in the reading's unit."""
        return TRIED_PA

    def set_points_in(self, rule, cases, others=True):
        """The same in some cases only (True or False a case); others: whether what has limits beside the places counts."""
        return self._working(rule, None, cases, others)

    @cached_property
    def suited(self):
        """By case: settled, and some speed keeps every place and all the others within their limits: what a set point can be asked for."""
        return self._by_some_speed(self.others_out(self.curves).max(axis=-1, initial=-np.inf))

    @cached_property
    def judged(self):
        """By case: settled, and some speed keeps every place within its limits, so that a fallback or an override can be asked to."""
        return self._by_some_speed(-np.inf)

    def _by_some_speed(self, out):
        """By case: settled, and some speed keeps every place within its limits where out [cases, speeds] does not pass the tolerance."""
        least, most = (np.broadcast_to(ends, self.curves.places[:, 0].shape)[:, None] for ends in self.limits)
        out = np.maximum(np.maximum(self.curves.places - most, least - self.curves.places).max(axis=-1), out)
        (slow, fast), speeds = self.speed_limits_hz, self.curves.speed_hz
        return self.settled & ((out <= self.tolerance_pa) & (speeds >= slow) & (speeds <= fast)).any(axis=1)

    def _working(self, rule, only, cases=None, others=True):
        display = displayed(self.entered_rightly, self.curves.tubes_pa)
        combined = self._combined(display, rule) if only is None else display[..., only]
        cases, tried = np.flatnonzero(self.settled if cases is None else cases), self.tried
        rows, targets = np.tile(cases, len(tried)), np.repeat(tried, len(cases))
        rest = self._rest(combined, targets, rows, min(self.speed_limits_hz[0], self.stated.fan.speed_limits_hz(self.smoke_control)[0]))
        least, most = (np.broadcast_to(ends, self.curves.places[:, 0].shape)[rows] for ends in self.limits)
        inside = (rest.places >= least - self.tolerance_pa) & (rest.places <= most + self.tolerance_pa)
        good = inside.all(axis=1) & (rest.state == "held")
        if others:
            good &= (self.others_out(rest) <= self.tolerance_pa).all(axis=1)
        return tried[good.reshape(len(tried), -1).all(axis=1)]

    @property
    def entered_rightly(self):
        """The inputs, were each entered as its instrument is."""
        fields = type(self.strategy.inputs[0]).model_fields
        right = {name: None for name in fields if name.startswith("entered_")}
        return [one.model_copy(update=right) for one in self.strategy.inputs]

    @cached_property
    def held(self):
        """Where the loop comes to rest with the strategy as it is, were its action right."""
        return self.rest()

    @cached_property
    def held_slower(self):
        """The same, were there no lowest speed."""
        return self._rest(self.display, self.set_point, np.arange(len(self.cases)), 0.0)

    @cached_property
    def held_rightly(self):
        """The same, were every input entered as its instrument is as well: what a remedy is judged by, once the entries are put right."""
        return self.rest(inputs=self.entered_rightly)

    @cached_property
    def needed_hz(self):
        """By case: the speed below which no highest speed may lie [Hz], infinite where none will do: where the loop comes to rest with all
        entries right, and in a settled case at least where no place is left short. A loop that rests lower leaves the places short."""
        held, rows = self.held_rightly, np.arange(len(self.cases))
        least, most = (np.broadcast_to(ends, held.places.shape)[:, None] for ends in self.limits)
        room = (self.curves.places - least if self.effect > 0 else most - self.curves.places).min(axis=-1, initial=MOST_ROOM)
        rest = self._rest(self.effect * room, -self.effect * self.tolerance_pa / 2, rows)
        suits = np.where((rest.state != "at full speed") & self.inside(rest), rest.speed_hz, np.inf)
        return np.maximum(np.where(held.state == "at full speed", np.inf, held.speed_hz), np.where(self.settled, suits, 0.0))

    @cached_property
    def run_away(self):
        """Where the fan ends with a wrong action: (from which side of the set point, end of its speed, `Held` there), the worse first."""
        loop, effect, found = self.strategy.loop, int(self.effect), []
        for side, off in (("below", -1.0), ("above", 1.0)):
            end = str(actions.end_stop(loop.action, effect, actions.error(self.set_point, self.set_point + off, loop.action)))
            there = self.at_speed(self.speed_limits_hz[1 if end == "full speed" else 0])
            found.append((side, end, replace(there, state=np.full(len(self.cases), f"at {end}"))))
        return sorted(found, key=lambda one: -max(self._out_by(one[2], self.settled).values()))

    @property
    def resting(self):
        """Where the fan ends with the strategy as it is, its action included: with a wrong one at the worse of the two ends."""
        return self.held if self.holds else self.run_away[0][2]

    @property
    def holds(self):
        """Whether the action lets the loop hold at all."""
        return actions.loop_sign(self.strategy.loop.action, int(self.effect)) == actions.HOLDS

    def rest(self, *, rule=None, set_point_pa=None, tubes=None, inputs=None, dead=None, without=None):
        """Where the loop comes to rest, were its action right: with another rule, set point, inputs, instruments that see something else
        (tubes: a function of tubes_pa), no signal on one of the inputs (dead: its number), or one left out (without). Returns `Held`."""
        seen = self.curves.tubes_pa if tubes is None else tubes(self.curves.tubes_pa.copy())
        display = displayed(self.strategy.inputs if inputs is None else inputs, seen)
        if dead is not None:
            display[..., dead] = float(signals.to_units(0.0, *self.strategy.inputs[dead].entered))
        target = self.set_point if set_point_pa is None else set_point_pa
        return self._rest(self._combined(display, rule or self.strategy.loop.rule, without), target, np.arange(len(self.cases)))

    def alone(self, number, set_point):
        """Where the loop comes to rest by one reading alone at a set point of its own. Returns `Held`."""
        display = displayed(self.strategy.inputs, self.curves.tubes_pa)[..., number]
        return self._rest(display, set_point, np.arange(len(self.cases)))

    def at_speed(self, speed_hz):
        """What there is at a speed, one a case, or several [speeds, 1], whatever the loop says. Returns `Held`, its arrays [.., cases]."""
        place = place_of(self.curves.speed_hz, speed_hz) + np.zeros(len(self.cases))
        return self._found(self.display, place, np.full(place.shape, "by hand"), np.arange(len(self.cases)))

    @cached_property
    def display(self):
        """The combined display over speed [cases, speeds], with the strategy as it is."""
        return self._combined(displayed(self.strategy.inputs, self.curves.tubes_pa), self.strategy.loop.rule)

    @cached_property
    def plant_gains(self):
        """How the combined display answers to the speed [cases, speeds], in % of span by % of full speed, whichever way the fan works.

        Read off over a fiftieth of full speed either way; zero where the loop cannot ask for the speed.
        """
        speeds, top = self.curves.speed_hz, self.site.fan.highest_speed_hz
        low, high = self.speed_limits_hz
        step = LARGEST_STEP * top
        up, down = np.clip(speeds + step, low, high), np.clip(speeds - step, low, high)
        rows = np.arange(len(self.cases))[:, None]
        values = [at(self.display, place_of(speeds, ends), rows) for ends in (up, down)]
        change = self.effect * (values[0] - values[1]) / self.span
        within = (speeds >= low) & (speeds <= high)
        return np.where(within, change / np.maximum((up - down) / top, 1e-9), 0.0)

    def _combined(self, display, rule, without=None):
        loop = self.strategy.loop
        left = [number for number in range(display.shape[-1]) if number != without]
        weights = np.asarray(loop.weights)[left] if rule == "weighted" and loop.weights is not None else None
        if without is not None and rule == "weighted" and not np.any(weights):
            rule, weights = "average", None
        return combine(display[..., left], rule, weights=weights)

    def _rest(self, combined, set_point_pa, rows, slowest=None):
        """The first speed from the lowest (or another) at which the combined display reaches the set point; rows: the case of each."""
        lowest, fastest = self.speed_limits_hz
        low, high = place_of(self.curves.speed_hz, (lowest if slowest is None else slowest, fastest))
        target = np.broadcast_to(np.asarray(set_point_pa, float), rows.shape)
        place, state = meets(self.effect * combined[rows], self.effect * target, low, high)
        close = self.effect * (at(combined, place, rows) - target) >= -self.tolerance_pa
        return self._found(combined, place, np.array(STATES)[np.where(close & (state == AT_FULL_SPEED), HELD, state)], rows)

    def _found(self, combined, place, state, rows):
        curves = self.curves
        values = (combined, curves.tubes_pa, curves.places, curves.flow_m3_s, curves.power_w)
        others = None if curves.others is None else at(curves.others, place, rows)
        return Held(speed_at(curves.speed_hz, place), state, *(at(value, place, rows) for value in values), others)
