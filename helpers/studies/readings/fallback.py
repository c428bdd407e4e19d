"""Failed, frozen and disagreeing readings: what each way of falling back does to the worst door, and which is best by its worst cell."""

from functools import cached_property

import numpy as np

from helpers.formulas import signals
from helpers.model.site.tolerances import loop_lags
from helpers.studies.cases import cases_beside, conditions_of, failure_cases, half_way
from helpers.studies.doors.exits import exit_ajar
from helpers.studies.duty.full_speed import WALLS_TRIED
from helpers.studies.duty.relief_damper import blades, is_stuck_open, is_stuck_shut, stuck_blades
from helpers.studies.duty.several_dampers import dampers_to_fit, several_dampers
from helpers.studies.readings.alarms import alarm_limits, shown_in, silence
from helpers.studies.readings.failures import FALLBACKS, KEEP, KEPT, MIDDLE, NOTHING, OWN, SPEED, Answers, blind_wires, failures_of
from helpers.studies.readings.left_readings import best_set_point, two_lost
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.readings.ways_compared import FailureAir, Way, doors_beside, ends_left, first_as_good, worst_cells, worst_ends
from helpers.studies.report import Shown, listed

OFFERED = (OWN, KEEP, SPEED, MIDDLE)  # what may be recommended
SPEED_STEP_HZ = 0.5


class FallbackStudy(Shown):
    """What failures do to a site, by the way of falling back; see `fallback_study`."""

    def __init__(self, air, box, tolerance_pa=TOLERANCE_PA, dampers=(), year_pa=None, tuned=None):
        self.air, self.box, self.site, self.tolerance_pa, self.dampers = air, tuple(box), air.site, tolerance_pa, tuple(dampers)
        self.year_pa, self.tuned, self._answered = year_pa, tuned, {}
        self.failures = failures_of(air.taps, len(self.site.transmitters))

    def with_alarms(self, year_pa=None, tuned=None):
        """The same air, with alarm limits by a year's readings [hours, transmitters], delays by a `Candidate` (None: the site's)."""
        return FallbackStudy(self.air, self.box, self.tolerance_pa, self.dampers, year_pa, tuned)

    def _sound(self, air, target_pa):
        """Where the loop with all its readings comes to rest."""
        control = self.site.control
        return air.settle(air.shown_pa[..., : len(self.site.transmitters)], control.rule, target_pa, control.weights)

    @cached_property
    def holdable(self):
        """By case: whether some speed keeps every shut door inside. Speed and set points are chosen by these: elsewhere none is right."""
        return self.air.some_speed_holds(self.tolerance_pa)

    @cached_property
    def judged(self):
        """By case: whether it counts, see `FailureAir.judged`."""
        return self.air.judged(self.tolerance_pa)

    @property
    def several(self):
        """`Several` dampers in place of one, see `several_dampers`."""
        return self.several_beside(None)

    def several_beside(self, damper):
        """The same; where the site has none, in place of the one (`FixedSpeed`, or None) that would do in order."""
        walls = tuple(air.leak_factor for air in self.box)
        none = self.site.stair.relief is None and damper is not None
        return dampers_to_fit(self.air, walls, damper) if none else several_dampers(self.air, walls)

    @property
    def unheld(self):
        """Names of the cases judged in which no speed keeps every shut door inside."""
        return self._names(self.judged & ~self.holdable)

    @property
    def not_judged(self):
        """Names of the cases left out: they open more doors than the design states, and no speed keeps every shut door inside."""
        return self._names(~self.judged)

    def _names(self, chosen):
        return tuple(self.air.cases[place].name for place in np.flatnonzero(chosen))

    @cached_property
    def speeds_hz(self):
        """Least and most of the speeds that keep every shut door inside in all cases judged, None where no one speed does."""
        return self.speeds_in(self.judged)

    @cached_property
    def shut_ends(self):
        """What one speed leaves where none suits every shut door with all doors shut, as `Cell`s; see `ways_compared.ends_left`."""
        shut = np.array([case.shut for case in self.air.cases]) & self.judged
        if self.speed_hz is None or not shut.any() or self.speeds_in(shut) is not None:
            return ()
        chosen = int(np.abs(self._tried_hz - self.speed_hz).argmin())
        return ends_left(self.air, self._places_tried, chosen, shut, self.holdable, self.tolerance_pa)

    @cached_property
    def lightest_hz(self):
        """The speed with most of the fan at which no shut door judged has too much of it, walls and states of the relief damper tried too;
        the lowest where there is none, None where nothing can be held."""
        if self.speed_hz is None:
            return None
        much = 1 if self.air.effect > 0 else 0
        airs = (self.air, *self.box, *(air for _, air in self.dampers))
        rooms = np.min([air.rooms(self._places_tried)[much][:, self.judged].min(axis=(1, 2)) for air in airs], axis=0)
        return float(self._tried_hz[max(np.flatnonzero(rooms >= -self.tolerance_pa), default=0)])

    def speeds_in(self, chosen):
        """The same for some cases, chosen by a flag for each."""
        good = np.flatnonzero(self._room_over_speed[:, chosen].min(axis=1) >= -self.tolerance_pa) if np.any(chosen) else np.array([], int)
        return (float(self._tried_hz[good[0]]), float(self._tried_hz[good[-1]])) if good.size else None

    @property
    def speeds_by_weather_hz(self):
        """{weather: `speeds_in` its cases}: where no one speed suits all weathers, one for each may."""
        weathers = np.array([case.weather for case in self.air.cases])
        return {weather: self.speeds_in(self.judged & (weathers == weather)) for weather in dict.fromkeys(weathers.tolist())}

    @cached_property
    def speed_hz(self):
        """The fallback speed, never above that of the fan's curve; None where no case can be held at all.

        Of those that keep every shut door inside in all cases that a speed can hold, over the box of leaks, with the relief damper
        working, late, early and stuck shut, and let every final exit close again, the one with the most room to whichever of these is
        nearest. Where there is none: without the exits; then with the damper working; then as set; then without the box; then the one with
        the most room. Of those whose room no gauge tells apart: the one with most with the damper stuck shut, then the lowest. A damper
        stuck open is tried and told: against a hole of its size only a loop can help, and no speed kept.
        """
        if not self.holdable.any():
            return None

        def over_speed(air):
            return air.margin_at(self._places_tried)[:, self.holdable].min(axis=1)

        rooms = {state: over_speed(air) for state, air in self.dampers if not is_stuck_open(state)}
        shut = [rooms.pop(state) for state in [*rooms] if is_stuck_shut(state)]  # of several at different storeys one at a time
        own, stuck = self._room_over_speed[:, self.holdable].min(axis=1), np.min(shut or [np.zeros(len(self._tried_hz))], axis=0)
        box = np.min([own, *(over_speed(air) for air in self.box)], axis=0)
        working = np.min([box, *rooms.values()], axis=0)
        damped = np.minimum(working, stuck) if self.dampers else working
        exits = self.air.doors.closing(self.air.at(self.air.doors_pa, self._places_tried), self.air.standing_open)
        closing = np.minimum(damped, exits[:, self.holdable].min(axis=(1, 2)))
        held = np.where(own >= -self.tolerance_pa, box, -np.inf)  # with the leaks of the file at least
        tried = (closing, damped, working, box, held if np.isfinite(held).any() else own)
        room = next((one for one in tried if one.max() >= -self.tolerance_pa), tried[-1])
        like = np.flatnonzero(room >= room.max() - TOLERANCE_PA)
        return float(self._tried_hz[like[stuck[like].argmax()]])

    @cached_property
    def _tried_hz(self):
        low, high = self.air.limits_hz
        high = max(min(high, self.site.fan.reference_speed_hz), low) + 1e-9
        steps = np.arange(np.ceil(low / SPEED_STEP_HZ) * SPEED_STEP_HZ, high, SPEED_STEP_HZ)
        return steps if steps.size else np.array([low])  # a drive let to run at hardly more than one speed

    @cached_property
    def _room_over_speed(self):
        return self.air.margin_at(self._places_tried)  # of the worst shut door [speeds tried, cases]

    @cached_property
    def _places_tried(self):
        return self.air.place_of(self._tried_hz)[:, None] * np.ones(len(self.air.cases))

    @cached_property
    def set_points_pa(self):
        """{reading lost: set point [Pa] with the most room for what remains}; none for a single transmitter."""
        taps = self.site.transmitters
        return {} if len(taps) == 1 else {tap.name: best_set_point(self, (number,)) for number, tap in enumerate(taps)}

    @property
    def alone_pa(self):
        """The same by the reading that is left, where one of two is lost."""
        first, *second = (tap.name for tap in self.site.transmitters)
        return {second[0]: self.set_points_pa[first], first: self.set_points_pa[second[0]]} if len(second) == 1 else {}

    @cached_property
    def middle_pa(self):
        """Set point [Pa] of the middle of three readings; None where there are only two and no third is asked about."""
        return best_set_point(self, rule="middle") if len(self.air.taps) > 2 else None

    def _answers(self, air, speed_hz=None, set_points_pa=None, off_pa=0.0):
        """The ways of falling back worked out in some air; readings off by so much hold the set points less that."""
        if (key := (air, speed_hz, off_pa, set_points_pa and tuple(set_points_pa.items()))) in self._answered:
            return self._answered[key]  # the ways of falling back share their answers
        control, given = self.site.control, self.set_points_pa if set_points_pa is None else set_points_pa
        numbers = {number: given[tap.name] - off_pa for number, tap in enumerate(self.site.transmitters) if tap.name in given}
        middle, target = None if self.middle_pa is None else self.middle_pa - off_pa, control.set_point_pa - off_pa
        disagree = self.deviation_limit_pa or 0.0
        sound, speed = self._sound(air, target), self.speed_hz if speed_hz is None else speed_hz
        return self._answered.setdefault(key, Answers(air, control.rule, control.weights, target, sound, speed, numbers, disagree, middle))

    @cached_property
    def _loop(self):
        """The sound loop, without what the alarm limits decide."""
        control, target = self.site.control, self.site.control.set_point_pa
        return Answers(self.air, control.rule, control.weights, target, self._sound(self.air, target), None, {}, 0.0)

    @cached_property
    def _tried(self):
        """What the sound and the wrong loops show: (sound, others), of `alarms.ShownAtRest`."""
        return shown_in(self._loop, self.failures)

    @cached_property
    def alarm_limits(self):
        """`AlarmLimits`; None where no sound loop keeps every door inside."""
        return alarm_limits(self._loop, *self._tried, self.tolerance_pa, self.year_pa, self.tuned)

    @property
    def reached_after_s(self):
        """Longest time [s] until the fan is at the fallback speed, from either end of its speeds: ramp and delay; None without one.
        Limits: a wheel that coasts without a brake may take longer down.
        """
        if self.speed_hz is None:
            return None
        fan, (low, high) = self.site.fan, self.air.limits_hz
        ramps = fan.ramp_s * (self.speed_hz - low), fan.slows_s * (high - self.speed_hz)
        return max(ramps) / fan.reference_speed_hz + loop_lags(self.site).dead_time.high

    @cached_property
    def on_the_day_room_pa(self):
        """Room of the worst door [Pa] at a fallback speed set on a day, doors shut, in any weather judged, by `readings_at_speed_pa`: what
        the walls truly leak is in it then. Over the same box as `Way.box_room_pa`. None without such a day."""
        days = [place for place, case in enumerate(self.air.cases) if case.shut and self.judged[place]]
        if not days:
            return None
        control, taps = self.site.control, len(self.site.transmitters)
        at = self.air.at(self.air.shown_pa, np.full(len(self.air.cases), self.air.place_of(self.speed_hz)))[:, :taps]
        target, worst = self.air.combined(at, control.rule, control.weights), np.inf
        for air, off in ((air, off) for air, offs in self.walls_tried.values() for off in offs):
            set_to = self._sound(air, target - off).place[days]
            worst = min(worst, float(air.margin_at(set_to[:, None] * np.ones(len(air.cases)))[:, self.judged].min()))
        return worst

    def readings_at_speed_pa(self, case):
        """What the transmitters read [Pa] at the fallback speed in a case: what to set it by on the day."""
        at = self.air.at(self.air.readings_pa, np.full(len(self.air.cases), self.air.place_of(self.speed_hz)))
        return at[self.air.cases.index(case), : len(self.site.transmitters)]

    @property
    def deviation_limit_pa(self):
        """Most difference of two sound readings [Pa]; None for a single transmitter, or where no sound loop keeps every door inside."""
        return None if self.alarm_limits is None else self.alarm_limits.deviation_pa

    def silence_of_combined(self, low_pa, high_pa):
        """`Silence` of an alarm on the combined reading alone (None: no such limit); None where no door is out in silence."""
        ends = -np.inf if low_pa is None else low_pa, np.inf if high_pa is None else high_pa
        return self.silence_of(lambda shown: (shown.combined_pa < ends[0]) | (shown.combined_pa > ends[1]))

    def silence_of(self, rings):
        """The same of any alarms; rings: of `alarms.ShownAtRest`, where one of them does [rows]."""
        return silence(self._loop, self._tried, self.tolerance_pa, rings)

    @cached_property
    def ways(self):
        """{name: `Way`} of all that have an answer."""
        return {name: way for name in FALLBACKS if (way := self._way(name)) is not None}

    @cached_property
    def best(self):
        """The `Way` of those offered with the most room at its worst door, box included; of equals the one with the fewest doors out. None
        where no case can be held at all. Of three readings or more what still measures with one lost goes before a speed kept where it
        holds in its box (`one_lost_pa`): the speed is for when fewer are left."""
        best = first_as_good(self.offered)
        measured = [self.ways[name] for name, room in self.one_lost_pa.items() if best.name == SPEED and room >= -self.tolerance_pa]
        return first_as_good([way for way in measured if way.good >= best.good]) or best

    @property
    def offered(self):
        """The ways that may be proposed, in the order of FALLBACKS."""
        return [way for name, way in self.ways.items() if name in OFFERED and (len(self.site.transmitters) > 2 or name != MIDDLE)]

    @cached_property
    def one_lost_pa(self):
        """{way that still measures: room of the worst door [Pa] with any one of three readings or more wrong, over the box, in the cases
        that a speed can hold}; empty for fewer readings."""
        one = tuple(failure for failure in self.failures if failure.tap is not None)
        names = [name for name in (OWN, MIDDLE) if name in self.ways] if len(self.site.transmitters) > 2 else ()
        return {name: min(self._after_any(name, None, None, "", *how, one)[1] for how in self._beside_own[0].values()) for name in names}

    def at_speed(self, speed_hz):
        """`Way` of a fallback speed that somebody chose; raises ValueError for one the fan does not run."""
        if (SPEED, speed_hz) not in self._answered:
            self._answered[SPEED, speed_hz] = self._way(SPEED, self._run(speed_hz))
        return self._answered[SPEED, speed_hz]

    def _run(self, speed_hz):
        low, high = self.site.fan.lowest_speed_hz, self.site.fan.highest_speed_hz
        if speed_hz is not None and not low <= speed_hz <= high:
            raise ValueError(f"speed_hz must be from {low:g} to {high:g} Hz, the fan's; got {speed_hz!r:.60}")
        return speed_hz

    def at_set_points(self, alone_pa, speed_hz=None):
        """`Way` of set points [Pa] that somebody chose, by the name of the reading that is left alone (one that is not named: the study's
        own; of three or more none is left alone); speed_hz: where none is left or nobody knows which is wrong (None: the study's own).
        Raises ValueError for a reading that is not there or a speed the fan does not run.
        """
        names = [tap.name for tap in self.site.transmitters]
        for name in alone_pa:
            if name not in names:
                raise ValueError(f"alone_pa must name readings of this site ({listed(names)}); got {name!r:.60}")
        stated = {lost: alone_pa[left] for lost in names for left in names if len(names) == 2 and left != lost and left in alone_pa}
        return self._way(OWN, self._run(speed_hz), {**self.set_points_pa, **stated})

    def as_stated(self, does, speed_hz=None, alone_pa=None):
        """`Way` of what a strategy states on a failed reading; None where nothing can be held at all.

        does: "use the good ones" or one of `failures.FALLBACKS`, "nothing" for the first of them; speed_hz: its fallback speed; alone_pa:
        its set points by the name of the reading left. Raises ValueError for another word, a speed or a reading that is not there.
        """
        name = {"nothing": NOTHING, "use the good ones": KEPT}.get(does, does)
        if name not in FALLBACKS:
            raise ValueError(f"does must be one of use the good ones, {', '.join(FALLBACKS)}; got {does!r:.60}")
        if name == SPEED and speed_hz is not None:
            return self.at_speed(speed_hz)
        return self.at_set_points(alone_pa or {}, speed_hz) if name == OWN else self.ways.get(name)

    def _way(self, name, speed_hz=None, set_points_pa=None):
        if not self.holdable.any() or (name in (KEPT, OWN) and len(self.site.transmitters) == 1):
            return None  # nothing can be held, or nothing remains
        answers = self._answers(self.air, speed_hz, set_points_pa)
        places = [answers.place(name, failure) for failure in self.failures]
        if None in places:
            return None
        every, sides, rests = {}, [], [(failure.text, *place) for failure, place in zip(self.failures, places, strict=True)]
        for rest in rests:
            every |= {(cell.failure, cell.case): cell for cell in self._of(worst_cells, self.air, name, *rest)}
            sides.append(self._of(worst_ends, self.air, name, *rest)[0])
        ends = tuple(min(cells, key=lambda cell: cell.rooms_pa[end]) for end, cells in enumerate(zip(*sides, strict=True)))
        tried = [{key: self._after_any(name, speed_hz, set_points_pa, key, *how) for key, how in one.items()} for one in self._beside_own]
        walls, dampers = ({key: cells for key, (cells, _) in one.items()} for one in tried)
        held = min(room for _, room in tried[0].values())
        exits, blind = exit_ajar(self.air, rests, self.judged), blind_wires(self.site.transmitters)
        return Way(name, every, ends, walls, dampers, exits, blind, self.accuracy_pa, held)

    @property
    def walls_tried(self):
        """{walls that are tried: (air, by what readings are off)}."""
        return self._beside_own[0]

    @cached_property
    def two_lost(self):
        """`TwoLost` of each pair of three readings or more."""
        return two_lost(self)

    @cached_property
    def _beside_own(self):
        """{what is tried beside the leaks of the file: (air, by what readings are off)}, of walls and of states of the relief damper."""
        off = (-self.accuracy_pa, self.accuracy_pa)
        walls = {"walls as stated": (self.air, off)} | {f"walls x {air.leak_factor:.2f}": (air, off) for air in self.box}
        return walls, {f"the {state}": (air, (0.0,)) for state, air in self.dampers}

    def _of(self, worst, air, *more):
        return worst(air, *more, self.holdable, self.judged)

    def _after_any(self, name, speed_hz, set_points_pa, state, air, off_pa, failures=None):
        """`worst_ends` after any failure (None: of all) in some air, readings off by any of some."""
        answers = [self._answers(air, speed_hz, set_points_pa, off) for off in off_pa]
        found = [np.broadcast_arrays(*one.place(name, failure)) for one in answers for failure in failures or self.failures]
        return self._of(worst_ends, air, name, state, *map(np.concatenate, zip(*found, strict=True)))

    @cached_property
    def sound_rooms_pa(self):
        """{what was tried, as for a `Way`: room of the worst door [Pa] with every reading sound, in the cases judged}."""
        target, every = self.site.control.set_point_pa, self._beside_own[0] | self._beside_own[1]
        rooms = {what: [air.margin_at(self._sound(air, target - off).place) for off in offs] for what, (air, offs) in every.items()}
        return {what: float(np.min(room, axis=0)[self.judged].min()) for what, room in rooms.items()}

    @property
    def sound_room_pa(self):
        """The same over all walls."""
        return min(self.sound_rooms_pa[what] for what in self._beside_own[0])

    @property
    def accuracy_pa(self):
        """By how much the least accurate of the transmitters may be off."""
        taps = self.site.transmitters
        return max(float(signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span)) for tap in taps)

    @cached_property
    def beside(self):
        """`Beside` of every weather and transmitter: a door open next to it."""
        if not (cases := cases_beside(self.site)):
            return ()
        lost = [failure for failure in self.failures if failure.kind == "lost" and failure.known]
        way = OWN if self.best and self.best.name == OWN else KEPT  # no set point is entered for what remains unless that is the way
        return doors_beside(self._answers(FailureAir(self.air.tower, self.air.window, cases)), lost, way)


def fallback_study(tower, window, cases=None, third_level=None):
    """What failed readings do to a stair, and what to agree on for them.

    tower: `Tower`; window: `SiteWindow`; cases: of `Case`, by default `failure_cases`; third_level: of a third transmitter that is asked
    about where there are two. Returns `FallbackStudy`. Raises ValueError where no door has a limit or the air has no answer.
    """
    site = tower.site
    cases = failure_cases(site) if cases is None else tuple(cases)
    further = ()
    if len(site.transmitters) == 2:
        level = half_way(tower, cases) if third_level is None else third_level
        further = (site.transmitters[0].model_copy(update={"name": "a third", "level": level}),)
    air, *box = (FailureAir(tower, window, cases, factor, further) for factor in sorted(WALLS_TRIED, key=lambda factor: factor != 1))
    states = (*blades(tower, conditions_of(site, cases))[1:], *stuck_blades(tower))
    dampers = [(name, FailureAir(one, window, cases, further=further)) for name, one in states]
    return FallbackStudy(air, box, dampers=dampers)
