"""A stair's strategy laid over its site, with what the findings of a review ask for, each computed once and only when it is wanted."""

from dataclasses import replace
from functools import cached_property

import numpy as np

from helpers.formulas.action import action_for, gain_for_new_span
from helpers.model.air.conditions import nearest_station
from helpers.model.air.fan import electric_power_w
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import shortest_ramp_down
from helpers.model.loop.run import settings_of
from helpers.model.site.criteria import in_its_mode
from helpers.model.site.file import write_site
from helpers.model.site.tolerances import loop_lags
from helpers.model.strategy import applied
from helpers.model.sweep import over_speeds
from helpers.record.review.bench import DIFFERENCE, SPEEDS, LoopBench
from helpers.record.review.curves import Curves, displayed
from helpers.record.review.kinds import OfRecord, kept, other_than_the_site, too_heavy, too_low
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT, Standing
from helpers.studies.cases import AS_STATED, conditions_of, usual_cases, with_required
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.forces import door_forces
from helpers.studies.doors.window import pressure_window
from helpers.studies.doors.year import year_of_weather
from helpers.studies.duty.fan_needed import fan_needed
from helpers.studies.duty.full_speed import full_speed
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.readings.words import fallback_judged, speed_judged
from helpers.studies.status import word_of
from helpers.studies.tuning.candidate import numbers_text
from helpers.studies.tuning.findings import ramps_borne, to_enter_text
from helpers.studies.tuning.process import step_tests
from helpers.studies.tuning.study import OWN, candidates_of, tuning_study
from helpers.units.limits import limit_text

__all__ = ["SLUGGISH", "ReviewBench", "displayed"]

HALF_STEP_PA = 0.5  # of the set points tried
SLUGGISH = 3.0  # times the integral time over gain of the fastest safe tuning, from which a loop is slow; ours
PAIR = "to enter"


class ReviewBench(LoopBench):
    """A stair's strategy, the site as it makes it (`site`), its tower, window and cases."""

    why_no_tuning, settled_words, places_words, required = "", "with doors shut", "the shut stair doors see", None  # required [cases]

    def __init__(self, strategy, site):
        self.strategy, (self.stated, self.out_of_mode) = strategy, in_its_mode(site)
        self.site = applied(strategy, self.stated)
        self.set_point = strategy.set_point
        self.tower, self.window = Tower(self.site), pressure_window(self.site)
        self.allowed = allowed_pressures(self.site)
        self.effect, self.of_record = self.tower.effect, OfRecord(site)
        self.usual = usual_cases(self.site)
        self.cases, self.required = with_required(self.site, self.usual)

    @property
    def shut(self):
        """By case: whether all doors are shut."""
        return np.array([case.shut for case in self.cases])

    @cached_property
    def shut_doors(self):
        """Which stair doors are shut [cases, storeys]."""
        return np.array([[level not in case.open_doors for level in self.tower.levels] for case in self.cases])

    @property
    def settled(self):
        """The loop answers for the doors where all are shut."""
        return self.shut

    @cached_property
    def unknown_lag_s(self):
        """What lags and delay of this loop may be beyond those that are stated, at the most."""
        return (lags := loop_lags(self.site)).lag.high + lags.dead_time.high

    @cached_property
    def limits(self):
        """Least and most pressure across each storey's stair door."""
        return self.allowed.by_storey(self.tower.levels, "stair door")

    @cached_property
    def _doors(self):
        """`DoorColumns` of all doors; None where no door has a limit."""
        return DoorColumns(self.tower, self.allowed) if self._limited else None

    @cached_property
    def _others(self):
        """Numbers of the columns that are no stair door: lobby doors and final exits."""
        return [] if self._doors is None else [k for k, column in enumerate(self._doors.columns) if column.use != "stair door"]

    @property
    def other_limits(self):
        """Least and most pressure across lobby doors and final exits."""
        return (np.empty(0), np.empty(0)) if not self._others else (self._doors.least_pa[self._others], self._doors.most_pa[self._others])

    def other_text(self, other):
        """A lobby door or final exit in words."""
        return self._doors.columns[self._others[other]].text

    def other_door(self, held, cases):
        """The worst of them out of what the site allows it, over some cases (True or False a case), in words; empty where none is."""
        out = np.where(cases[:, None], self.others_out(held), -np.inf)
        if not out.size or out.max() <= self.tolerance_pa:
            return ""
        case, other = np.unravel_index(out.argmax(), out.shape)
        dp, column = float(held.others[case, other]), self._doors.columns[self._others[other]]
        too, end = ("low", "least") if dp < self.other_limits[0][other] else ("high", "most")
        limit = limit_text(getattr(column.window, f"{end}_pa"), self.dimension, end)
        return f"{column.text} stands at {self.show(dp)}, {limit} is the {end}: {column.means(too)} ({self.cases[case].name})"

    place_label, places_label, door_word = "Storey", "Pressure across the stair door", "stair door"

    @property
    def places_there(self):
        """Storeys that have a stair door."""
        return np.array([bool(storey.stair_door and storey.stair_door_count) for storey in self.site.storeys])

    @property
    def place_names(self):
        """Levels as texts, bottom up."""
        return tuple(str(level) for level in self.tower.levels)

    def place_heights(self):
        """Heights of the storeys' floors."""
        return self.tower.elevation_m

    @property
    def input_places(self):
        """Number of each input's storey."""
        return [self.tower.storey(one.level) for one in self.strategy.inputs]

    def place_text(self, place):
        """A place in words."""
        return f"storey {self.tower.levels[place]}"

    @cached_property
    def ramp_down(self):
        """`RampDown` of the tuning study; without one between the same two speeds, None where they are one."""
        if self.tuning is not None:
            return self.tuning.ramp_down
        slow, fast = float(self.held.speed_hz[self.shut].min()), self.speed_limits_hz[1]
        shut = conditions_of(self.site, [case for case in self.cases if case.shut])
        return shortest_ramp_down(self.tower, shut, fast, slow) if slow < fast else None

    @property
    def _limited(self):
        """Whether any door of the site has a limit."""
        return any((door.least_pa, door.most_pa) != (None, None) for door in self.window.doors)

    @cached_property
    def full_speed(self):
        """`FullSpeed` with this strategy's limits of speed, all inputs entered as their instruments are, in the air of the site's own loop
        and with the record's set point, so that what the building bears is the record's figure whatever strategy is looked at; None where
        no door has a limit."""
        if not self._limited:
            return None
        record, stated = self.of_record, self.stated
        control = stated.control.model_copy(update={"fire_mode": self.site.control.fire_mode})
        site = self.site.model_copy(update={"control": control, "transmitters": stated.transmitters})

        def made():
            tower, target = Tower(site), control.set_point_pa
            asked = fan_needed(tower, self.usual, control.rule, target).asked
            return full_speed(tower, self.window, self.usual, needed_hz, target, record.tower, asked)

        needed_hz = self.needed_hz[: len(self.usual)]
        found = kept((write_site(site), "full speed", record.key, self.usual), made)
        own = [(case, hz, hz) for case, hz, asked in zip(self.usual, needed_hz, self.required, strict=False) if asked]
        further = [row for row in found.asked if row[0] not in self.usual]  # the design's own open doors
        return replace(found, held_hz=needed_hz, asked=(*own, *further)).beside_fallback(self.fallback)

    @cached_property
    def fallback(self):
        """`FallbackStudy` of this strategy's instruments and rule, entries taken as right, as the record has it: its alarm limits hang on a
        year of weather where rule and set point suit the doors. None where no door has a limit."""
        if not self._limited:
            return None
        return kept((*self._air_key, "fallback", self.set_point), self._fallback)

    def _fallback(self):
        suits = self.set_point_suits  # the year is only asked for limits to be entered
        year = year_of_weather(self.tower, self.window, nearest_station(self.site)) if suits else None
        return fallback_study(self.tower, self.window).with_alarms(year.sound_readings(self.tower) if suits else None)

    def falling_back(self, does, speed_hz=None):
        """`Way` of falling back so, by the study of failed readings, at the speed that the drive's limits leave of the one stated."""
        if self.fallback is None:
            return None
        speed = None if speed_hz is None else float(np.clip(speed_hz, *self.speed_limits_hz))
        return self.fallback.as_stated(does, speed, self.strategy.on_bad_reading.set_points_pa)

    @property
    def tuned_limits(self):
        """`AlarmLimits` with the tuning to be entered; None where no delay is laid down."""
        if (study := self.fallback) is None:
            return None
        pair, _ = self.pair
        key = (*self._air_key, "wait", self.set_point, pair and (pair.gain, pair.integral_s))
        limits = kept(key, lambda: study.with_alarms(study.year_pa, pair).alarm_limits)
        return limits if limits is not None and limits.event_s is not None else None

    def fallback_said(self):
        """What the study of failed readings proposes, in words."""
        if self.speed_first:
            return f"first {self.speed_first}: with it the fallback is worked out anew"
        if (study := self.fallback) is None or study.best is None:
            return "no way of falling back holds every door here: the doors or the fan have to change"
        return fallback_judged(study, self._beyond(study))

    def speed_said(self):
        """What the same study makes of one speed kept, in words; empty where it has none."""
        if (study := self.fallback) is None or study.best is None or self.speed_first:
            return "" if study is None else self.fallback_said()
        return speed_judged(study, self._beyond(study))

    def _beyond(self, study):
        return "" if self.full_speed is None else self.full_speed.beyond_lasting(study.speed_hz)

    @cached_property
    def set_point_suits(self):
        """Whether rule and set point suit every shut door, final exits too, with the stair as its file says and all entries right."""
        return bool(np.any(np.abs(self.set_points_as_stated(self.strategy.loop.rule) - self.set_point) <= HALF_STEP_PA))

    @property
    def alarms(self):
        """`AlarmLimits` of this loop, entries right, by the record's function, a year included; None where they suit no door or loop."""
        return None if self.fallback is None or self.speed_first or not self.set_point_suits else self.fallback.alarm_limits

    @cached_property
    def speed_first(self):
        """The limit of speed to put right first: entered beyond the site's own, it keeps the loop from its set point; "" for none."""
        entered = self.speed_limits_hz[0] > self.stated.fan.speed_limits_hz(self.smoke_control)[0]
        up = entered and (self.settled & (self.held.state == "at lowest speed")).any()
        return "a lower lowest speed" if up else "a higher highest speed" if self.held_back.any() else ""

    @property
    def alarm_bands(self):
        """{name: (low, high)} of those limits, none beyond what the door beside the reading bears."""
        limits = self.alarms
        if limits is None:
            return {}
        bands = {one.name: (one.low_pa, min(one.high_pa, self._most_read_at(one.name))) for one in limits.readings}
        return bands if limits.deviation_pa is None else bands | {DIFFERENCE: (None, limits.deviation_pa)}

    def _most_read_at(self, name):
        """The most that the door beside an instrument bears, where the instrument reads across that door; infinite elsewhere."""
        one = next(one for one in self.strategy.inputs if one.name == name)
        storey = self.site.storeys[self.tower.storey(one.level)]
        across = one.reference == ("lobby" if storey.lobby else "floor")
        return float(np.floor(self.limits[1][self.tower.storey(one.level)])) if across and storey.stair_door else np.inf

    def alarms_said(self):
        """Those limits in words; that rule and set point come first where these do not suit."""
        if self.fallback is not None and not self.set_point_suits:
            return "first a rule and a set point that suit the doors, the limits hang on them"
        if self.speed_first:
            return f"first {self.speed_first}: with it the limits are worked out anew"
        bands = [(name, self.show(high) if low is None else self.between(low, high)) for name, (low, high) in self.alarm_bands.items()]
        silent = self.alarms.silent if self.alarms is not None else None
        still = "" if silent is None else f" ({word_of(silent.state)}: silent all the same: {silent.text()})"
        first = f"do not enter, first {FAN}: " if bands and FAN in self.tuning_first else ""  # as the record lays none down before it
        return first + ", ".join(f"{name} {band}" for name, band in bands) + still

    @cached_property
    def door_forces(self):
        """`DoorForces` where the loop comes to rest."""
        air = self.tower.solve(conditions_of(self.site, self.cases), self.held.speed_hz)
        return door_forces(self.site, self.window, self.cases, air)

    def _solved(self):
        return kept((*self._air_key, "curves"), self._solve)

    def _solve(self):
        speeds = np.linspace(0.0, self.site.fan.highest_speed_hz, SPEEDS)

        def quantities(air, rows):
            found = self.tower.readings(air), air.door_dp_pa, air.fan_flow_m3_s, electric_power_w(self.tower, air, rows)
            return (*found, self._doors.across(air)[:, self._others]) if self._others else found

        return Curves(speeds, *over_speeds(self.tower.solve, quantities, conditions_of(self.site, self.cases), speeds, "strategy"))

    too_low, too_high = too_low, too_heavy  # of the shut stair doors

    @property
    def settings(self):
        """The controller's settings for the loop simulation, the action put right (its finding hides no other), the gain on the first
        input's span as entered."""
        loop = self.strategy.loop
        return replace(settings_of(self.site), span_pa=self.span, integral_s=loop.integral_s, derivative_s=loop.derivative_time_s,
                       dead_band_percent=100 * loop.dead_band_pa / self.span, action=action_for(self.effect))  # fmt: skip

    @cached_property
    def tuning(self):
        """`TuningStudy` of this loop with the strategy's own settings beside what the study proposes; None where the reading answers to no
        speed, or this fan cannot hold the set point's side. Entries are taken as right."""
        loop = self.strategy.loop
        try:
            key = (*self._air_key, "tuning", self.set_point, self.span, loop.dead_band_pa)
            study, self._tried = kept(key, self._study)
        except ValueError as refusal:  # told by the finding that the tuning was not judged
            self.why_no_tuning = str(refusal)
            return None
        return replace(study, own=self._candidate(study, OWN, loop.controller_gain, loop.integral_s))

    def _study(self):
        """What the tuning study finds whatever gain and integral time are entered, and what was tried, by settings."""
        rule, settings = self.strategy.loop.rule, self.settings
        by_hand = self._key(set_point_pa=0.0), "steps", rule, self.span  # a step test is made by hand: no set point is in it

        def steps(*asked):
            return kept(by_hand, lambda: step_tests(*asked))

        study = tuning_study(self.tower, self.window, cases=self.usual, settings=settings, rule=rule, steps=steps, what_helps=False)
        return study, {(OWN, *vars(settings).values()): study.own}

    def _candidate(self, study, name, gain, integral_s):
        """`Candidate` of a gain and an integral time with the strategy's other settings; what was tried before is not tried again."""
        key = name, *vars(replace(self.settings, gain=gain, integral_s=integral_s)).values()
        if key not in self._tried:
            self._tried[key] = candidates_of(study.box, study.bench, self.settings, {name: (gain, integral_s)})[name]
        return self._tried[key]

    @cached_property
    def _air_key(self):
        """What the air depends on: the site without what is entered for the loop alone."""
        return (self._key(),)

    def _key(self, **control):
        same = {"gain": 1.0, "integral_time_s": 1.0, "action": "reverse", **control}
        return write_site(self.site.model_copy(update={"control": self.site.control.model_copy(update=same)}))

    def tried_pair(self, gain, integral_s):
        """`Candidate` of a gain and an integral time in this loop, with the strategy's other settings; None where none can be tried."""
        return None if self.tuning is None else self._candidate(self.tuning, PAIR, gain, integral_s)

    @cached_property
    def pair(self):
        """(`Candidate` to enter, whether it is the record's): the record's pair, on the span entered here, where it is safe in this loop
        too and does not make it sluggish; else the fastest that is safe in this one. (None, False) where there is none."""
        study, record = self.tuning, self.of_record.tuning
        if study is None or study.cannot:
            return None, False
        if record is not None and record.recommended is not None:
            best = record.recommended
            gain = float(f"{float(gain_for_new_span(best.gain, record.span_pa, self.span)):.2g}")
            found, fastest = self.tried_pair(gain, best.integral_s), study.proposed
            if found.safe and (fastest is None or found.integral_s / gain <= SLUGGISH * fastest.integral_s / fastest.gain):
                return found, True
        return study.recommended, False

    @cached_property
    def tuning_first(self):
        """What has to be laid down before a tuning is entered here, in the record's words; "" for nothing."""
        fails = not np.any(np.abs(self.set_points(self.strategy.loop.rule) - self.set_point) <= HALF_STEP_PA)
        short, ramps = (self.required & (self.held_rightly.state == "at full speed")).any(), ramps_borne(self.site, self.ramp_down)
        lacks = {SET_POINT: fails, ACTION: not self.holds, FAN: short, RAMP: not ramps}
        return Standing.named([part for part in lacks if lacks[part]])

    def proposed(self):
        """The tuning to enter in words: the record's pair, or why it is another; what speaks against entering it first."""
        pair, own = self.pair
        if pair is None and self.speed_first:
            return f"first {self.speed_first}, then the tuning for it"
        if pair is None:
            return "" if self.tuning is None else self.tuning.why_none
        told = to_enter_text(self.tuning, pair, self.tuning_first)
        if own:
            return f"{told}; the record's pair, safe over the whole box of this loop too"
        record, other, why = self.of_record.tuning, other_than_the_site(self), ""
        if record is not None and record.recommended is not None:
            its = f"{numbers_text(record.recommended)} on {self.show(record.span_pa)}"
            why = f" (not the record's pair, {its}{f': {other}' if other else ''}: another loop, that pair is unsafe or sluggish in it)"
        return f"{told}; the fastest that is safe over the whole box{why}"

    @property
    def as_stated(self):
        """By case: settled, and the stair as warm as its file says."""
        return self.settled & np.array([case.stair == AS_STATED for case in self.cases])

    def _working(self, rule, only, cases=None, others=True):
        """As in `LoopBench`; of those that suit every settled case only what passes in the record, where the stated fan holds any."""
        points = super()._working(rule, only, cases, others)
        run = self.of_record.set_points(self, rule, offered=False) if points.size and only is None and cases is None else None
        return points if run is None else points[(points >= run[0] - HALF_STEP_PA) & (points <= run[1] + HALF_STEP_PA)]

    def set_points_as_stated(self, rule, others=True):
        """Set points that suit a rule with the stair as warm as its file says; others: whether lobby doors and closing exits count."""
        return self.set_points_in(rule, self.as_stated, others)

    @property
    def rules(self):
        """Rules that these inputs could run by, the strategy's own first."""
        usual = ["average", "lowest", "highest"] + (["middle"] if len(self.strategy.inputs) > 2 else [])
        return tuple(dict.fromkeys([self.strategy.loop.rule, *(usual if len(self.strategy.inputs) > 1 else [])]))
