"""Tuning of a stair's loop: the fastest PI that keeps its margins over the whole box of gains, lags and delays, its recovery after a
door, and what helps where it is not quick enough. Beside it what the nominal model would ask for, and where that breaks.

`tuning_study` is the one place the numbers to enter come from: panel, record, schedule and review take `recommended` from here.
Limits: straight-line margins, one door at a time in the time tests; a real building answers with what its drawings do not show. Try it on
site, with nobody at the doors. A door contact tells one door from no other; a fan that always runs at one speed holds no set point,
whatever the weather; a damper that has lifted takes air from the storeys while a door is open, too.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import tuning
from helpers.model.air.tower import Tower
from helpers.model.loop.ramps import ramp_loads
from helpers.model.loop.run import settings_of
from helpers.model.site.tolerances import boxes
from helpers.studies.cases import has_to_hold, usual_cases
from helpers.studies.duty.relief_damper import FixedSpeed, cases_tried, fixed_speed, one_damper_alone, smallest_damper
from helpers.studies.readings.rules import set_points_that_work
from helpers.studies.report import fine, listed
from helpers.studies.tuning.box import Corner, LoopBox
from helpers.studies.tuning.candidate import BRAKED, LONG_DAMPING_S, OWN, RAMPS, Candidate, DampingPrice, SlowPart, candidates_of
from helpers.studies.tuning.contacts import door_contacts
from helpers.studies.tuning.door_tests import LENGTH_S, OPENS_S, SHUTS_S, DoorBench, DoorTest
from helpers.studies.tuning.findings import LESS_SHORT, OTHER_SET_POINT, ramps_borne
from helpers.studies.tuning.process import SPEEDS_PERCENT, process_gain, step_tests
from helpers.studies.tuning.results import TuningStudy
from helpers.studies.tuning.times_said import past_text, seconds_text
from helpers.units.said import two, with_unit

__all__ = ["NOMINAL", "OWN", "PROPOSED", "RAMP_SHARES", "Candidate", "NoTuning", "Remedy", "TuningStudy", "as_stated", "candidates_of",
           "ramp_alone", "remedies", "tuning_study"]  # fmt: skip

RAMP_SHARES = (0.8, 0.5, 0.25, 0.1)
FARTHER_PA = (5.0, 10.0)  # from zero: further set points tried where a shut door is short after a door


@dataclass(frozen=True)
class Remedy:
    """One thing that may help: its `DoorTest` (None where it cannot be built), what it does to every door where no loop holds the pressure
    (`FixedSpeed`, None: the loop does), whether it keeps every door within its limits, and within the time that the site's standard asks
    for, if any; the free area that has to be built, if any; stuck: (what it does where it sticks itself, in words, whether the doors bear
    that), ("", True) where it has nothing that sticks or that is judged with it; fails: of one without a door test, what was looked at and
    fails, in words, "" where nothing was tried."""

    name: str
    what: str
    doors: DoorTest | None
    air: FixedSpeed | None
    works: bool
    area_m2: float | None = None
    stuck: tuple[str, bool] = ("", True)
    fails: str = ""

    @property
    def status(self):
        """Key of its status: what leaves a door past a limit, or misses a time that is asked for, is "wrong", however much it helps; what
        does so once it sticks itself is no more than "attention"; what was not tried is "open"."""
        if self.works:
            return "good" if self.stuck[1] else "attention"
        if self.doors is None:
            return "wrong" if self.fails else "open"
        if not (self.doors.light and self.doors.brief) or (self.air is not None and not self.air.holds):
            return "wrong"
        return "attention" if self.doors.response_s is None else "wrong"

    def how(self):
        """What is done, in words."""
        return self.what if self.area_m2 is None else f"{self.what}: {with_unit(self.area_m2, 'area')}"

    def figure(self):
        """What came out, in words."""
        if self.doors is None:
            return f"no door test: {self.fails}" if self.fails else "NOT RUN"
        ways = [seconds_text(seconds) for seconds in (self.doors.opens_s, self.doors.shuts_s)]
        said = f"opens {ways[0]}, shuts {ways[1]}{self.doors.mark}"
        if np.isfinite(self.doors.peak_force_n):  # of no door is it known where no closer is stated
            force = with_unit(self.doors.peak_force_n, "force")
            blade = "" if self.air is None or self.air.area_m2 is None else " with the blade as set"
            at = f" ({self.doors.peak_at})" * bool(self.doors.peak_at)
            said += f", peak {force}{blade}{at}, above the limit for {past_text(self.doors.above_limit_s)}"
        said += f", a shut door short for {past_text(self.doors.short_s)}"
        at_rest = "" if self.air is None else f"at rest {self.air.text()}"
        return "; ".join(filter(None, (said, at_rest, self.stuck[0])))


def ramp_alone(bench):
    """`DoorTest` of a drive that is sent to the right speed in the instant the door moves: no controller is quicker than that."""
    before, after = bench.percent(bench.shut_hz), bench.percent(bench.open_hz)
    (found,) = bench.test(hand=((0.0, OPENS_S, before), (OPENS_S, SHUTS_S, after), (SHUTS_S, LENGTH_S, before)))
    return found


def remedies(bench, tuned, by_ramp, window):
    """All remedies. bench: `DoorBench`; tuned: the `ControllerSettings` to set; by_ramp: `ControllerSettings`, arrays, a safe tuning for
    each of RAMP_SHARES; window: `SiteWindow`. Returns a tuple of `Remedy`."""
    found = (_faster_ramp(bench, by_ramp), _contacts(bench, tuned), _fixed(bench, window))
    return (*found, _relief(bench, window)) if bench.site.fan.sign > 0 else found  # no damper lets air out of what an exhaust fan empties


def _faster_ramp(bench, by_ramp):
    """The slowest of the ramps tried that is enough, each with its own safe tuning."""
    own = bench.site.fan.ramp_s
    borne = [k for k, share in enumerate(RAMP_SHARES) if _borne(bench, share)]
    if not borne:
        left = (
            f"none tried: the motor or brake cannot follow {own:g} s itself, see its finding"
            if not ramps_borne(bench.site, bench.ramp_down)
            else f"{own:g} s is left: motor or brake may not follow a faster one"
        )
        return Remedy("faster ramp", left, None, None, False)
    ramps, by_ramp = [own * RAMP_SHARES[k] for k in borne], replace(by_ramp, gain=by_ramp.gain[borne], integral_s=by_ramp.integral_s[borne])
    found = bench.test(by_ramp, ramps_s=tuple(ramps))
    enough = [k for k, test in enumerate(found) if test.quick and test.light and test.brief]
    best = enough[0] if enough else min(range(len(found)), key=lambda k: (found[k].above_limit_s, found[k].short_s, found[k].slowest_s))
    said = "the slowest ramp tried that is enough" if enough else "the best ramp tried, and not enough"
    numbers = f"gain {two(by_ramp.gain[best])} %/%, integral time {two(by_ramp.integral_s[best])} s"
    what = f"{ramps[best]:.1f} s instead of {own:g} s, {said}, with {numbers}"
    return Remedy("faster ramp", what, found[best], None, bool(enough))


def _borne(bench, share):
    """Whether motor and brake bear both ramps shortened to a share, over the whole box of the inertia."""
    fan, down = bench.site.fan, bench.ramp_down
    quick = fan.model_copy(update={"ramp_s": share * fan.ramp_s, "ramp_down_s": share * fan.slows_s})
    loads = ramp_loads(bench.site, quick)
    coasts = fan.brake != "resistor" and down is not None and down.shortest_s.high > quick.slows_s
    return loads.up_state == loads.down_state == loads.held_state == "good" and not coasts


def _contacts(bench, settings):
    found = door_contacts(bench, settings)
    return Remedy("door contacts (feed-forward)", found.how(), found.doors, None, found.works, stuck=(found.stuck_said(), found.bears))


def _less_short(bench, window, found, own, cases, short_s):
    """A shorter filter and a set point farther from zero, each with its own safe tuning, where a shut door is short for a while [s]."""
    site, now = bench.loop_site, float(np.max(own.set_point_pa))
    longest, rule = max(tap.filter_s for tap in site.transmitters), bench.rule or site.control.rule
    if longest:
        shorter = (site.with_changes(transmitters=[{"filter_s": min(tap.filter_s, share * longest)} for tap in site.transmitters])
                   for share in (0.5, 0.0))  # fmt: skip
        tries = ((f"{max(tap.filter_s for tap in one.transmitters):g} s instead of {longest:g} s at the input, gusts then reach the fan",
                  bench.of_loop(one), one, own) for one in shorter)  # fmt: skip
        yield _least_short("shorter filter", "none", tries, found, short_s)
    points = np.sort(now + np.sign(now) * np.array(FARTHER_PA))
    asked = (*bench.cases, *(case for case in cases if not case.shut and has_to_hold(site, case)))
    (suits,) = set_points_that_work(bench.tower, window, asked, points, bench.transmitters, (rule,))
    others = (replace(own, set_point_pa=float(point)) for point in sorted(points[suits.good.all(axis=1)], key=abs))
    tries = ((f"{fine(one.set_point_pa)} instead of {fine(now)}; in the site file, fan, year and open doors are judged at it",
              DoorBench(bench.tower, one, bench.transmitters, bench.rule, bench.door), site, one) for one in others)  # fmt: skip
    way = "higher" if now > 0 else "lower"
    none = f"none {listed(map(fine, FARTHER_PA))} {way} suits every door of the cases that the design has to hold"
    fails = "" if suits.good.all(axis=1).any() else "a door is out with the loop at rest"
    yield _least_short(OTHER_SET_POINT, none, tries, found, short_s, fails)


def _least_short(name, none, tries, found, short_s, fails=""):
    """`Remedy`: the first of the tries, of (what, `DoorBench`, loop's site, settings), that works with its own fastest safe tuning and
    leaves a door short for less; else the last; none: what is said where there is none; fails: of `Remedy`, then."""
    made = Remedy(name, none, None, None, False, fails=fails)
    for what, bench, site, own in tries:
        box = LoopBox.of(site, found, own)
        pair = box.fastest()
        if pair is None:
            continue
        numbers, far = (
            replace(own, derivative_s=0.0, gain=pair[0], integral_s=pair[1]),
            Corner(box.extra_lag_s[1], box.dead_time_s[1], False),
        )
        test = DoorTest.worse(*bench.test(numbers), *bench.test_far(numbers, far))
        works = test.quick and test.light and test.brief and test.short_s < LESS_SHORT * short_s
        made = Remedy(name, f"{what}; with gain {two(pair[0])} %/%, integral time {two(pair[1])} s", test, None, works)
        if works:
            break
    return made


def _fixed(bench, window):
    speed = float(bench.open_hz.max())
    (found,) = bench.test(hand=((0.0, LENGTH_S, bench.percent(speed)),))
    air = fixed_speed(bench.tower, window, speed, cases_tried(bench.site, bench.door))
    what = f"the fan always runs at {speed:.1f} Hz, as with the door open"
    return Remedy("fixed speed, no loop", what, found, air, found.quick and found.brief and air.holds and air.closes)


def _relief(bench, window):
    """The smallest damper of those tried, at the storey of the site's own (else half way up), at the foot or the head of the stair."""
    speed, levels = float(bench.open_hz.max()), bench.tower.levels
    what = f"without a loop, the fan always at {speed:.1f} Hz, and a damper in the stair lets out what is too much"
    own = bench.site.stair.relief.level if bench.site.stair.relief else levels[len(levels) // 2]
    cases = cases_tried(bench.site, bench.door)
    air = smallest_damper(bench.tower, window, speed, cases, float(np.max(bench.settings.set_point_pa)), (own, levels[0], levels[-1]))
    if air is None:
        why = "no room between set point and door limit"
        return Remedy("relief damper", f"{what}: {why}", None, None, False, fails=why)
    ends = {"level": air.level, "opens_pa": air.opens_pa, "full_pa": air.full_pa, "area_m2": air.area_m2, "leak_area_m2": air.leak_area_m2}
    tower = Tower(bench.site.with_changes(stair=one_damper_alone(ends)))
    (test,) = DoorBench(tower, bench.settings, bench.transmitters, bench.rule, bench.door).test(
        hand=((0.0, LENGTH_S, bench.percent(speed)),)
    )
    beside = any(supply.level == air.level for supply in bench.site.supplies)
    what += "" if air.holds else "; none of those tried holds every door, the least bad stands"
    what += f", at storey {air.level}{' (beside the outlet of the fan: air may leave before the stair has seen it)' if beside else ''}"
    return Remedy("relief damper", what, test, air, test.quick and test.brief and air.holds and air.closes, air.area_m2)


SLOW_RAMP_S = 10.0  # from which on a ramp alone makes a loop slow; ours
DAMPING, RAMP = "damping at the transmitter's dial", "ramp of the drive"
SHORTENED = {  # a slow part, as the settings schedule names it: section, field, what it is then [s] and in the site file; ours
    "lag of the transmitter": ("transmitters", "response_s", 0.1, {"response_s": 0.1}),
    DAMPING: ("transmitters", "damping_s", 0.3, {"damping_s": 0.3}),
    "lag of its tubes": ("transmitters", "tube_lag_s", 0.0, {"tube_length_m": 2.0, "tube_bore_m": 0.006}),
    "filter time": ("transmitters", "filter_s", 0.5, {"filter_s": 0.5}),
    "input scan": ("control", "input_scan_s", 0.1, {"input_scan_s": 0.1}),
    "bus or radio delay": ("control", "bus_delay_s", 0.1, {"bus_delay_s": 0.1}),
    "sample time": ("control", "sample_s", 0.1, {"sample_s": 0.1}),
}
PROPOSED, NOMINAL = "proposed", "the nominal model's (SIMC)"


class NoTuning(ValueError):
    """There is nothing to tune: the reading answers to no speed, or the fan cannot hold the set point's side; other errors are faults."""


def tuning_study(tower, window, *, cases=None, transmitters=None, rule=None, settings=None, door=None, speeds_percent=SPEEDS_PERCENT,
                 steps=step_tests, what_helps=True):  # fmt: skip
    """Find the fastest tuning of a tower's loop that is safe in all of its box, and what it does after a door.

    window: `SiteWindow`; cases: of `Case` (default the usual ones), every weather is tried with the doors and the stair's warmth of each;
    transmitters, rule, settings: by default the site's own; door: (level, "stair" or "exit") that opens (default: a final exit, else a
    stair door half way up); steps: gives the step tests, as `step_tests` or where they were kept; what_helps: whether
    `remedies` holds any. Returns `TuningStudy`, whose `recommended` is None where nothing keeps what is asked.
    Limits: a derivative time in the settings is run in the door tests and left out of the margins.
    Raises NoTuning where the reading answers to the fan in no case, or the fan cannot hold the set point's side; ValueError for what cannot
    be.
    """
    site = tower.site if transmitters is None else tower.site.model_copy(update={"transmitters": list(transmitters)})
    own, cases = settings or settings_of(site), usual_cases(tower.site) if cases is None else cases
    _side_can_be_held(site, own)
    found = process_gain(tower, cases, own, transmitters, rule)
    if not found.answers:
        raise NoTuning(f"cases must hold one in which the reading answers to the fan, got {len(found.by_case)} in which it does not")
    tests = steps(tower, as_stated(cases), own, transmitters, rule, speeds_percent)
    box = LoopBox.of(site, found, own, fitted=_fitted(tests))
    bench = DoorBench(tower, own, transmitters, rule, door)
    asked, fastest = {OWN: (float(own.gain), float(own.integral_s))}, box.fastest()
    asked |= ({PROPOSED: fastest} if fastest else {}) | _nominal(box)
    made = candidates_of(box, bench, own, asked)
    proposed, nominal, cannot = made.get(PROPOSED), made.get(NOMINAL), _cannot(bench, own)
    recommended = proposed if proposed is not None and proposed.safe and not cannot else None
    tuned, own_filter_s = recommended or made[OWN], max(tap.filter_s for tap in site.transmitters)
    slow, together = _slow_parts(box, bench, found, own, bool(cannot) or tuned.worst_doors.brief)

    def helps():
        if not what_helps:
            return ()
        tried, short_s = remedies(bench, _as_settings(own, [tuned]), _by_ramp(box, own, tuned), window), tuned.worst_doors.short_s
        return tried if cannot or not short_s > 0 else (*tried, *_less_short(bench, window, found, own, cases, short_s))

    return TuningStudy(
        site.name, window.criteria, tests, found, box, made[OWN], proposed, nominal, recommended, own_filter_s, ramp_alone(bench),
        helps, bench.door, float(own.span_pa), site.fan.ramp_s, bench.force_limit_n, bench.while_open, bench.at_rest,
        bench.ramp_down, cannot, tuple(case.name for case, held in zip(bench.cases, bench.shut_held.held, strict=True) if not held),
        _damping(box, slow, recommended), slow, bench, together,
    )  # fmt: skip


def as_stated(cases):
    """The cases with the stair as warm as the site file states: those a step test is made in."""
    return [case for case in cases if getattr(case, "stair", "as stated") == "as stated"] or list(cases)


def _fitted(steps):
    """Longest lag and delay of the step tests; None where no step test was fitted."""
    fitted = [step for step in steps if not step.left_out]
    return (max(step.lag_s for step in fitted), max(max(step.delay_s for step in fitted), 1e-3)) if fitted else None


def _nominal(box):
    """SIMC for the largest gain and the lag and delay of the step tests, as fast as it advises; nothing where no step test was fitted."""
    if box.fitted is None:
        return {}
    numbers = tuning.simc_pi(box.gain, *box.fitted)
    return {NOMINAL: (float(numbers.gain), float(numbers.integral_s))}


def _cannot(bench, settings):
    """Why no tuning at all makes this loop hold, in a sentence; empty where one can."""
    effect = int(bench.site.fan.sign)
    if actions.loop_sign(settings.action, effect) != actions.HOLDS:
        right = actions.action_for(effect)
        return f"The action is {settings.action} and must be {right}: no tuning holds a loop that runs away."
    held = bench.shut_held
    if not held.held.any():
        states = listed(dict.fromkeys(held.state.tolist()))
        return f"With all doors shut the fan stated does not hold the set point in any weather ({states}): there is nothing to tune."
    return ""


def _side_can_be_held(site, settings):
    """A supply fan holds a stair above, an exhaust fan below what lies beside it."""
    set_point, sign = float(np.max(settings.set_point_pa)), site.fan.sign
    if set_point * sign < 0:
        fan, way, side = ("a supply", "raises", "below") if sign > 0 else ("an exhaust", "lowers", "above")
        raise NoTuning(
            f"the set point, {with_unit(set_point, 'pressure')}, is not one that the fan can hold: {fan} fan {way} the pressure of the "
            f"stair, and the set point is {side} zero"
        )


def _as_settings(own, candidates):
    numbers = {name: np.array([getattr(tried, name) for tried in candidates]) for name in ("gain", "integral_s")}
    return replace(own, derivative_s=0.0, **numbers)


def _by_ramp(box, own, tuned):
    """`ControllerSettings` for each ramp that is tried, the fastest of its own box: a quicker ramp is a shorter delay."""
    pairs = [box.with_ramp(share).fastest() or (tuned.gain, tuned.integral_s) for share in RAMP_SHARES]
    return replace(own, derivative_s=0.0, gain=np.array([gain for gain, _ in pairs]), integral_s=np.array([ti for _, ti in pairs]))


def _slow_parts(box, bench, found, own, brief):
    """Of `SlowPart`, which to shorten first ahead, and all of them at once, None where one by itself mends it or is alone; (), None where
    all lags are short. Each is shortened by itself, in the same door tests as the
    tuning, the ramp as little as it takes; the wheel, where it holds the ramp down up, is named alone. brief: whether the tuning leaves no
    shut door short for too long."""
    site, known, down, fan = bench.loop_site, boxes(bench.loop_site), bench.ramp_down, bench.loop_site.fan
    own, ramp_s, long, whole = replace(own, derivative_s=0.0), max(fan.ramp_s, fan.slows_s), [], site
    for name, (section, field, little_s, change) in SHORTENED.items():
        parts = site.transmitters if section == "transmitters" else [site.control]
        keys = [f"{section}.{number}.{field}" if section == "transmitters" else f"{section}.{field}" for number in range(len(parts))]
        seconds = [known[key].high if key in known else getattr(part, field) for key, part in zip(keys, parts, strict=True)]
        if max(seconds) > LONG_DAMPING_S:
            made = {section: [change] * len(parts) if section == "transmitters" else change}
            quick, whole = site.with_changes(**made), whole.with_changes(**made)
            slow = [part for part, late in zip(parts, seconds, strict=True) if late > LONG_DAMPING_S]
            long.append(
                (quick, SlowPart(name, max(seconds), little_s, None, tuple((getattr(part, "name", "loop"), name) for part in slow)))
            )
    if not long and ramp_s <= SLOW_RAMP_S:
        return (), None

    def tried(part, box, loop_site, **ramp):
        pair = box.fastest()
        if pair is None:
            return replace(part, recovers_s=np.inf)
        numbers, of = replace(own, gain=pair[0], integral_s=pair[1]), bench.of_loop(loop_site)
        (test,) = of.test(numbers, **ramp)
        part = replace(part, recovers_s=float(test.slowest_s), mark=test.mark)
        if brief:
            return part
        worst = DoorTest.worse(test, *of.test_far(numbers, Corner(box.extra_lag_s[1], box.dead_time_s[1], False), **ramp))
        return replace(part, brief=worst.brief, short_s=worst.short_s)

    told = [tried(part, LoopBox.of(quick, found, own), quick) for quick, part in long]
    if ramp_s > LONG_DAMPING_S:
        part = SlowPart(RAMP, ramp_s, None, None, RAMPS if ramp_s > SLOW_RAMP_S else ())
        for share in (one for one in ((0.5,) if brief else RAMP_SHARES) if _borne(bench, one)):
            part = tried(replace(part, little_s=share * ramp_s), box.with_ramp(share), site, ramps_s=(share * fan.ramp_s,))
            if part.mends:
                break
        told.append(part)
    if down is not None and down.safe is False:
        told.append(SlowPart("inertia of the wheel, without a brake", down.shortest_s.high, None, None, BRAKED))
    shortened, together = {part.name: part.little_s for part in told if part.little_s is not None}, None
    if len(shortened) > 1 and not any(part.mends for part in told):
        share, part = shortened.get(RAMP, ramp_s) / ramp_s, SlowPart("all of them", 0.0, 0.0, None)
        together = tried(part, LoopBox.of(whole, found, own).with_ramp(share), whole, ramps_s=(share * fan.ramp_s,))
    return tuple(sorted(told, key=lambda part: part.first)), together


def _damping(box, slow, recommended):
    """What a long damping costs; None where there is none, or nothing to compare."""
    part = next((one for one in slow if one.name == DAMPING), None)
    if part is None or box.damping_s <= LONG_DAMPING_S or recommended is None:
        return None
    bound = replace(box, least_s=box.lags_s).fastest()
    back = box.worst(*bound, box.turned_back)[0] if bound else None
    return DampingPrice(box.damping_s, float(recommended.doors.slowest_s), part.little_s, part.recovers_s, bound, back)
