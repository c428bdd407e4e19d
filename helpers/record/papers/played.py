"""Each state of a sequence played on the model of this site's loop, with the settings of its record: what was tried, and what happened.

Doors are judged by the limits that bind the record's set point. Limits: stair doors alone, in the cases with all doors shut; no model here
of power, standstill, the panel's wiring, or of alarms that move the fan: what is not played says so.
"""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from helpers.model.loop.events import DoorEvent, TapFault
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.record.papers.states import CANNOT, reason_said, states_of
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT, TUNING
from helpers.studies.cases import conditions_of
from helpers.studies.duty.change_over.in_time import CHOSEN, DEMAND, FAULTS
from helpers.studies.duty.change_over.told import KEY as IN_TIME
from helpers.studies.readings.failures import KEEP, OWN, SPEED
from helpers.studies.readings.words import moves_fan
from helpers.studies.report import Table, fine, listed
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.studies.status import room_status, word_of, worst_of
from helpers.studies.tuning.door_tests import largest_door
from helpers.studies.tuning.times_said import ASKED, misled_said, misled_state, seconds_stated
from helpers.units.said import with_unit

LENGTH_S, CHANGES_S, SHUTS_S, LAST_S = (
    180.0,
    30.0,
    90.0,
    10.0,
)  # its length, its change, doors shut again, its end
OPEN_ON_S, SHUT_FOR_S = 60.0, 60.0  # of doors in an evacuation: open beyond the wait of the alarms, and then shut
NOT_PLAYED = "not played"
SECONDS_TOLD = " (seconds as reckoned, without the loop; whether they are allowed say the rows before)"
WRONG_READINGS = {"tube off": "high tube of {} off", "stuck high": "{} stuck at the top of its range"}  # faults of the loop's model
LOOPS = "test", "smoke"  # keys of the states that the loop gives the speed in
BY_HAND = "no loop gives the speed: somebody at the drive does"
STOPPED = "the fan is stopped: no pressure is asked of it, and the model has no standstill"
WHY_NOT = {
    "off": STOPPED, "panel off": STOPPED, "intake": STOPPED, "restore": STOPPED, "isolator": STOPPED, "tripped": STOPPED,
    "manual": BY_HAND,
    "change on": "the record has the change-over from the loop's speed alone, and none at the speed of the override",
    "mains": "the model has no power that fails; from the moment it is back the fan starts as in the self-test",
}  # fmt: skip


ALONE = "Played with the alarm on the difference of two readings alone: one on a reading's own limits may fall back sooner."
PLAYED = "A reading that tells wrongly, until its alarm falls back: played with the loop"
MISLED, START = "differ", "test"  # keys of states
NOT_PLAYED_YET = f"{word_of('open')}: not played, no loop is laid down: see the self-test in the sequence of operations"


@dataclass(frozen=True)
class Play:
    """What was tried of a state, and what happened, in words; state: key of its status, "open" for what is not played."""

    tried: str
    happened: str
    state: str = "open"
    way: str = ""  # what doors do on the way, before it has fallen back, in words
    out_s: float = 0.0  # how long one of them is out then


@lru_cache(maxsize=1)
def player_of(quoted):
    """The `StatePlayer` of what is `Quoted` of a record: papers that tell of one play share it."""
    return StatePlayer(quoted)


def not_played(plays):
    """Why nothing of a state was played, in words; "" where something was, or it is refused."""
    left = all((one.tried, one.state) == (NOT_PLAYED, "open") for one in plays)
    return "; ".join(one.happened for one in plays) if left else ""


class StatePlayer:
    """Plays states on the loop of what is `Quoted` of a record, as it is to be built and tuned; shut doors share one solved air."""

    def __init__(self, quoted):
        design = self.design = quoted.design
        self.site, self.tower = quoted.site, design.built_tower
        self.cases = design.shut_cases
        self.conditions = conditions_of(self.site, self.cases)
        self.limits = design.standing.window.by_storey(self.tower.levels, "stair door")
        self.accuracy_pa = accuracy_pa(self.site.transmitters)
        self.ends_hz = self.site.fan.speed_limits_hz(True)
        self.stated_s = seconds_stated(quoted.answer_judged(ASKED)[0]) if quoted.has_answer(ASKED) else None
        self._done = {}  # plays by the key of their state and what it is refused for

    def plays(self, state):
        """The `Play`s of a `State`, one or several; a state that is refused or has no model says so in its only one. One that runs with a
        loop which is there and not to be entered is played for information, and is FAIL whatever came of it."""
        done = state.key, state.refused
        if done not in self._done:
            self._done[done] = self._plays(state)
        return self._done[done]

    def _plays(self, state):
        known = {"test": self._start, "smoke": self._doors, "panel on": self._override, "lost": self._wires, "by alarm": self._evacuated,
                 "differ": self._apart, "change": self._change}  # fmt: skip
        if state.refused and (state.key not in LOOPS or not self._loop_there):
            return (Play(NOT_PLAYED, f"{CANNOT}: {reason_said(state.refused)}", "wrong"),)
        if state.key in known and self.design.tuned is None:
            return (Play(NOT_PLAYED, "no tuning is laid down, and without one no loop can be played"),)
        plays = tuple(known[state.key]()) if state.key in known else (Play(NOT_PLAYED, WHY_NOT[state.key]),)
        if not state.refused:
            return plays
        fails = f"{word_of('wrong')}, do not enter: {reason_said(state.refused)}. For information, with those values on the model"
        return tuple(replace(play, happened=f"{fails}: {play.happened}", state="wrong") for play in plays)

    @property
    def _loop_there(self):
        """Whether set point, action, fan, ramps and tuning are there to be played with at all, entered or not."""
        return self.design.tuned is not None and not self.design.standing.first(SET_POINT, ACTION, FAN, RAMP, TUNING)

    @cached_property
    def settings(self):
        """The controller's, with the gain and integral time that the record lays down."""
        tuned = self.design.tuned
        return replace(settings_of(self.site), gain=tuned.gain, integral_s=tuned.integral_s)

    @cached_property
    def _at_rest(self):
        """The loop from its settled speed, all doors shut: its air serves every other play of shut doors."""
        return self._run()

    def _run(self, air=None, settings=None, length_s=LENGTH_S, **changes):
        setup = Setup(length_s, settings=settings or self.settings, fire_mode=True, **changes)
        return run_loop(self.tower, self.conditions, setup, air=air)

    def _start(self):
        found = self._run(self._at_rest.air, start_hz=self.ends_hz[0])
        tried = f"from {self._hertz(self.ends_hz[0])} (before that no model), all doors shut, {self._cases_said}"
        yield self._judged(tried, found, 0.0)

    @property
    def _design_doors(self):
        """(level, "stair" or "exit") of each door that the design counts as open; of none the largest one alone."""
        design = self.site.design
        doors = [(level, "stair") for level in (design.open_doors if design else ())]
        doors += [(level, "exit") for level in (design.open_exits if design else ())]
        return doors or [largest_door(self.site)]

    def _evacuated(self):
        """The design's doors opened for longer than the alarms wait, and shut again; the same with every final exit beside them, as people
        leave by it. A run without alarms tells when one would come, and the run is played again with the fan at the fallback speed."""
        study, doors = self.design.fallback, self._design_doors
        exits = [(storey.level, "exit") for storey in self.site.storeys if storey.final_exit_door]
        for opened in dict.fromkeys((tuple(doors), tuple(dict.fromkeys((*doors, *exits))))):
            shuts_s = CHANGES_S + study.alarm_limits.after_s + OPEN_ON_S
            events, length_s = tuple(DoorEvent(level, CHANGES_S, shuts_s, door=kind) for level, kind in opened), shuts_s + SHUT_FOR_S
            without = self._run(events=events, length_s=length_s)
            came, tried = (
                self._limits_passed_s(without),
                f"{self._doors_said(opened)} open for {self._seconds(shuts_s - CHANGES_S)}, then shut",
            )
            tried, rings = f"{tried}, {self._cases_said}", np.isfinite(came)
            if not rings.any():
                yield self._after("no alarm comes while they are open", self._judged(tried, without, None))
                continue
            percent, last = 100 * study.speed_hz / self.site.fan.highest_speed_hz, float(np.nanmax(came))
            found = self._run(events=events, length_s=length_s, hand=((last, length_s, percent),))
            ajar = (found.time_s >= last) & (found.time_s < shuts_s)
            low, high = (fine(float(end(found.reading_pa[ajar]))) for end in (np.min, np.max))
            said = (f"the alarm comes in {int(rings.sum())} of {len(came)} cases, every reading right, {self._seconds(last - CHANGES_S)} "
                    f"after they open at the latest, and the loop is out until somebody resets it; fallen back in all of them the combined "
                    f"reading is from {low} to {high} while they are open, then shut")  # fmt: skip
            play = self._after(said, self._judged(tried, found, None))
            yield replace(play, state=worst_of([play.state, "attention"]))

    def _limits_passed_s(self, found):
        """When [s, runs] the first alarm on a reading's limits comes that has waited long enough; NaN where none does."""
        limits = self.design.fallback.alarm_limits
        came = [self._since_s(found.time_s, (found.readings_pa[:, place] < one.low_pa) | (found.readings_pa[:, place] > one.high_pa),
                              limits.after_s) for place, one in enumerate(limits.readings)]  # fmt: skip
        first = np.min(np.nan_to_num(came, nan=np.inf), axis=0)
        return np.where(np.isfinite(first), first, np.nan)

    @staticmethod
    def _doors_said(doors):
        return listed(f"{'final exit' if kind == 'exit' else 'stair door'} {level}" for level, kind in doors)

    def _doors(self):
        doors = self._design_doors
        events = tuple(DoorEvent(level, CHANGES_S, SHUTS_S, door=kind) for level, kind in doors)
        found, shut_s = self._run(events=events), SHUTS_S + DoorEvent.moving_s
        tried = f"{self._doors_said(doors)} opened and after {self._seconds(SHUTS_S - CHANGES_S)} shut again, {self._cases_said}"
        play, ajar = self._judged(tried, found, shut_s), (found.time_s >= CHANGES_S) & (found.time_s < SHUTS_S)
        low, high = (fine(float(end(found.reading_pa[ajar]))) for end in (np.min, np.max))
        happened = f"until they shut the combined reading is from {low} to {high}; then {play.happened}"
        on_the_way = self.design.tuned.worst_doors  # the record's own, of its door tests
        if on_the_way.short_state == "good":
            yield replace(play, happened=happened)
            return
        way = f"{word_of(on_the_way.short_state)}: {on_the_way.short_said()}"
        told = f"{word_of(play.state)} at its end alone; on the way, by the record, {way}"
        yield replace(play, happened=f"{told}; {happened}", state=worst_of([play.state, on_the_way.short_state]))

    def _override(self):
        highest = self.ends_hz[1]
        found = self._run(self._at_rest.air, hand=((CHANGES_S, LENGTH_S, 100 * highest / self.site.fan.highest_speed_hz),))
        yield self._judged(f"to {self._hertz(highest)}, all doors shut, {self._cases_said}", found, None)

    def _wires(self):
        study, taps = self.design.fallback, self.site.transmitters
        best, speed = study.best.name, study.speed_hz
        falls = replace(self.settings, fallback="preset speed", preset_percent=100 * speed / self.site.fan.highest_speed_hz)
        for lost, tap in enumerate(taps):
            fault, tried = (TapFault(lost, "open wire", CHANGES_S),), f"open circuit at {tap.name}, all doors shut, {self._cases_said}"
            if best in (SPEED, KEEP):
                settings = falls if best == SPEED else replace(self.settings, fallback="hold the last")
                yield self._judged(tried, self._run(self._at_rest.air, settings, faults=fault), None)
            elif best == OWN:
                yield self._judged(tried, self._remaining(lost), CHANGES_S)
            else:
                yield Play(NOT_PLAYED, f"{tried}: the loop's model has no such way of falling back: {best}")
        if len(taps) > 1:
            faults = tuple(TapFault(lost, "open wire", CHANGES_S) for lost in range(len(taps)))
            tried = f"open circuit at every transmitter, all doors shut, {self._cases_said}"
            yield self._judged(tried, self._run(self._at_rest.air, falls, faults=faults), None)

    def _remaining(self, lost):
        """What is left without a reading at its own set point, from the speed of all together."""
        study, taps = self.design.fallback, self.site.transmitters
        left = [tap.name for tap in taps if tap is not taps[lost]]
        target = study.alone_pa[left[0]] if study.alone_pa else study.set_points_pa[taps[lost].name]
        settings = replace(self.settings, set_point_pa=target)
        return self._run(self._at_rest.air, settings, faults=(TapFault(lost, "open wire"),), start_hz=self._at_rest.speed_hz[-1])

    def _apart(self):
        """One tube off after the other, which sends the fan up, and one reading stuck at the top of its range, which starves it. The loop's
        model has no alarm: a run without it tells when it would come, and the run is played again with the fan at the fallback speed from
        then on."""
        study, air = self.design.fallback, self._at_rest.air
        limits = study.alarm_limits
        percent = 100 * study.speed_hz / self.site.fan.highest_speed_hz
        faults = [(off, kind) for kind in WRONG_READINGS for off in range(len(self.site.transmitters))]
        for off, kind in faults:
            fault = (TapFault(off, kind, CHANGES_S),)
            what = WRONG_READINGS[kind].format(self.site.transmitters[off].name)
            tried = f"{what}, all doors shut, {self._cases_said}"
            without = self._run(air, faults=fault)
            rings = self._rings_s(without, limits.deviation_pa, limits.deviation_after_s)
            if not np.isfinite(rings).all():
                case = self.cases[int(np.argmax(~np.isfinite(rings)))].name
                said, found = f"the difference does not ring ({case})", without
            elif not moves_fan(study):
                said, found = "the alarm tells, and moves no fan", without
            else:
                last = float(rings.max())
                found = self._run(air, faults=fault, hand=((last, LENGTH_S, percent),))
                said = f"the alarm comes {self._seconds(last - CHANGES_S)} after it at the latest, and falls back"
            way, seconds = self._out_meanwhile(found)
            play = self._after(f"{said}; {way}", self._judged(tried, found, None))
            yield replace(play, state=worst_of([play.state, misled_state(seconds, self.stated_s)]), way=f"{what}: {way}", out_s=seconds)

    def _out_meanwhile(self, found):
        """(how long a shut stair door is out between the fault and the last seconds, and the lowest pressure across one, in words; the
        same [s]: a door that is out meanwhile is no pass, wherever it ends)."""
        chosen, numbers = found.time_s >= CHANGES_S, np.arange(found.speed_hz.shape[1])
        times = found.time_s[chosen]
        dp = found.air.along(found.air.doors_pa, times, found.speed_hz[chosen][:, numbers], numbers)
        out = (np.minimum(dp - self.limits[0], self.limits[1] - dp) < 0).any(axis=-1)
        seconds = (out[:-1] * np.diff(times)[:, None]).sum(axis=0)
        if not seconds.any():
            return "no shut door is out meanwhile", 0.0
        longest = int(seconds.argmax())
        _, case, storey = np.unravel_index(np.nanargmin(dp), dp.shape)
        lowest = f"{fine(float(np.nanmin(dp)))} at stair door {self.tower.levels[storey]}, {self.cases[case].name}"
        told = f"a shut door is out for {self._seconds(seconds[longest])} ({self.cases[longest].name}), the lowest pressure {lowest}"
        longest_s = float(seconds[longest])
        said = "; ".join(filter(None, (told, misled_said(longest_s, self.stated_s))))
        return f"{word_of(misled_state(longest_s, self.stated_s))}: {said}", longest_s

    def _change(self):
        """As the record played it in time with its loop, the way that the sequence has and what goes wrong beside it; then as it reckoned
        the change-over and both fans at once."""
        tables = {table.key: table for key in ("fan", "tuning") for table in self.design.section(key).tables}
        if "change_over" not in tables:
            yield Play(NOT_PLAYED, "no case with all doors shut is held: there is no pressure to hand over")
            return
        if table := tables.get(IN_TIME):
            heads, told = table.columns[2:], {one.words.capitalize() for one in (CHOSEN, *FAULTS)}
            for (what, lost, *cells), state in zip(table.rows, table.states, strict=True):
                if what in told:
                    happened = "; ".join(f"{head[0].lower()}{head[1:]} {cell}" for head, cell in zip(heads, cells, strict=True))
                    yield Play(f"{what}; the fan lost {lost}" if lost == DEMAND else f"{what}; {lost}", happened, state)
        for table in (tables["change_over"], tables["both_fans"]):
            told = "; ".join(f"{what}: {when} ({by})" for what, when, by in table.rows)
            seconds = SECONDS_TOLD * (table.key == "change_over")
            yield Play(f"{table.title}, in the record's model of two fans{seconds}", told, worst_of(table.states) or "open")

    @staticmethod
    def _after(said, play):
        return replace(play, happened=f"{said}; {play.happened}")

    @staticmethod
    def _rings_s(found, limit_pa, wait_s):
        """When [s, runs] an alarm on the difference of any two readings comes that waits so long; NaN where it never does."""
        readings = found.readings_pa
        return StatePlayer._since_s(found.time_s, readings.max(axis=1) - readings.min(axis=1) > limit_pa, wait_s)

    @staticmethod
    def _since_s(time_s, beyond, wait_s):
        """When [s, runs] something [times, runs] has held for so long without a break; NaN where it never has."""
        sound = np.where(beyond, -np.inf, time_s[:, None])
        since = time_s[:, None] - np.maximum(np.maximum.accumulate(sound, axis=0), time_s[0])
        rung = beyond & (since >= wait_s)
        return np.where(rung.any(axis=0), time_s[np.argmax(rung, axis=0)], np.nan)

    def _judged(self, tried, found, from_s):
        """A run as a `Play`: when the reading is at its set point to stay (from a moment on; None: no loop decides), the shut doors' worst
        end in the last seconds, and the speeds it ran at."""
        told, states = [], []
        if from_s is not None:
            settled = self._settled_s(found, from_s)
            slowest = int(np.argmax(np.nan_to_num(settled, nan=np.inf)))
            band = f"within {fine(self.accuracy_pa)} of its set point"
            if np.isfinite(settled).all():
                told.append(f"the reading is {band} after {self._seconds(settled[slowest])} ({self.cases[slowest].name})")
                states.append("good")
            else:
                told.append(f"the reading does not come to rest {band} ({self.cases[slowest].name})")
                states.append("wrong")
        ending, state = self._doors_at_end(found)
        low, high = (self._hertz(end(found.speed_hz)) for end in (np.min, np.max))
        told += [ending, f"fan at {low} to {high}"]
        return Play(tried, "; ".join(told), worst_of([*states, state]))

    def _settled_s(self, found, from_s):
        """Seconds [runs] from a moment until the combined reading stays near its set point; NaN where it never does."""
        chosen = found.time_s >= from_s
        out = np.abs(found.reading_pa[chosen] - found.set_point_pa) > self.accuracy_pa
        first = np.where(out.any(axis=0), len(out) - np.argmax(out[::-1], axis=0), 0)
        return np.append(found.time_s[chosen] - from_s, np.nan)[first]

    def _doors_at_end(self, found):
        """(what the stair doors are at, key of its status) in the last seconds of a run, the worst of all cases."""
        numbers, chosen = np.arange(found.speed_hz.shape[1]), found.time_s >= found.time_s[-1] - LAST_S
        dp = found.air.along(found.air.doors_pa, found.time_s[chosen], found.speed_hz[chosen][:, numbers], numbers)
        rooms = np.minimum(dp - self.limits[0], self.limits[1] - dp)
        if not np.isfinite(rooms).any():
            return "no stair door has a limit", "open"
        _, case, storey = np.unravel_index(np.argmin(rooms), rooms.shape)
        room = float(rooms.min())
        there = f"stair door {self.tower.levels[storey]}, {self.cases[case].name}"
        margin = f"{fine(abs(room))} {'to spare' if room >= 0 else 'out'}"
        return f"at the end the worst shut door has {margin} ({there})", room_status(room, self.accuracy_pa)

    @property
    def _cases_said(self):
        return f"{len(self.cases)} cases of weather and stair temperature"

    def _hertz(self, value):
        return with_unit(float(value), "frequency", 1)

    def _seconds(self, value):
        return with_unit(float(value), "time", 0)


def _plays(quoted, key=MISLED):
    """The `Play`s of a state, by default of a wrong reading; none where the stair has no such state, or nothing of it was played."""
    try:
        states = states_of(quoted)
    except ValueError:  # out of smoke control: its own paper says so
        return ()
    plays = tuple(play for state in states if state.key == key for play in player_of(quoted).plays(state))
    return () if not_played(plays) or any(play.tried == NOT_PLAYED for play in plays) else plays


def start_said(quoted):
    """What a start of the fan came to as the sequence plays its self-test, in words; that it was not played, where no loop is laid down."""
    told = [f"{word_of(play.state)}: {play.tried}: {play.happened}" for play in _plays(quoted, START)]
    return "; ".join(told) or NOT_PLAYED_YET


def misled_table(quoted):
    """The `Table` of them as the sequence has it, in a tuple; none where nothing was played."""
    plays = _plays(quoted)
    rows = tuple((play.tried, play.happened) for play in plays)
    return (Table("misled", PLAYED, ("What was tried", "What happened"), rows, tuple(play.state for play in plays), ALONE),) * bool(plays)


def worst_play(quoted):
    """The `Play` of a wrong reading that leaves a shut door out the longest; None where nothing was played."""
    return max(_plays(quoted), key=lambda play: play.out_s, default=None)


def worst_said(quoted):
    """How long a shut door is out at the worst until the fan has fallen back, with its word, in a sentence; "" where none is."""
    worst = worst_play(quoted)
    if worst is None or not worst.out_s:
        return ""
    return (
        "What is told of a failed reading holds once the fan has fallen back. Until then, as the sequence of operations plays it: "
        f"{worst.way}."
    )
