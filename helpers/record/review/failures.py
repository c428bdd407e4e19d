"""Review of what happens when a reading fails, or all of them; and what a hand or the fire service makes the fan do.

Of any plant. Limits: one reading fails at a time, and steady air afterwards.
"""

from dataclasses import replace
from functools import partial

import numpy as np

from helpers.formulas import signals
from helpers.record.review.alarms import PASSING_S
from helpers.record.review.kinds import BUILDING, STRATEGY, Kind, attention, never_reached, suiting_speeds, wrong
from helpers.record.settings.fallback_lines import beyond_stuck, beyond_the_doors
from helpers.studies.readings.failures import KEEP, MIDDLE, OWN, SPEED
from helpers.studies.readings.fallback import SPEED_STEP_HZ
from helpers.studies.readings.words import against_said, fallback_said
from helpers.studies.report import NETWORK, PRACTICE, inside_text

NOTHING, GOOD, STOP, OVERRIDE = "nothing", "use the good ones", "stop", "override"


def no_fallback(bench):
    """Nothing is set for a failed reading: what the dead one does."""
    inputs = bench.strategy.inputs
    if bench.strategy.on_bad_reading.does != NOTHING:
        return
    way = bench.falling_back(NOTHING)
    rests = [bench.rest(dead=number) for number in range(len(inputs))]
    said = _out(bench, rests)
    dead = [one.name for one, held in zip(inputs, rests, strict=True) if _out(bench, [held]) == said]
    worst = "; ".join(filter(None, (f"with {dead[0]} dead {said}" if said else "", _way_out(bench, way))))
    make = max(_graver(bench, way, rests), _graver(bench, None, rests), key=lambda one: one is wrong) if worst else attention
    yield make(
        "Nothing is set for a failed reading",
        worst or "all stays within its limits with one reading dead",
        f"no signal is taken for {bench.show(signals.to_units(0.0, *inputs[0].entered))}, and that runs the fan",
        NETWORK,
        _better(bench),
    )


def fallback_fails(bench):
    """After a reading has failed, the fallback leaves a place out of its limits."""
    does, inputs = bench.strategy.on_bad_reading.does, bench.strategy.inputs
    if does in (NOTHING, KEEP, SPEED, STOP) or len(inputs) < 2:
        return
    own = bench.strategy.on_bad_reading.set_points
    unstated = [one.tag for one in inputs if does == OWN and one.name not in own]
    if unstated:
        yield wrong(
            f"The fallback holds the reading that is left at its own set point, and none is stated for {' and '.join(unstated)}",
            "none",
            "the drive goes by whatever stands there",
            "settings of the strategy",
            _better(bench),
        )
        return
    way, why = _stated(bench), "a rule without one of its readings is another rule, and the same set point does not fit it"
    if way is not None:
        if said := _way_out(bench, way):
            what = f"After a failed reading the fallback leaves a place out of its limits: {does}"
            yield replace(_graver(bench, way, ())(what, said, why, NETWORK, _better(bench)), possible=True)
        return
    out = {one.tag: (_out(bench, rests), left) for one, left, rests in _left(bench)}
    every = [held for *_, rests in _left(bench) for held in rests]
    worst, make = _out(bench, every), _graver(bench, None, every)
    for name, (said, left) in out.items():
        if said and said == worst:
            what = f"With {name} failed the fallback leaves a place out of its limits: {said}"
            yield replace(make(what, _told(does, own, left, bench), why, NETWORK, _better(bench)), possible=True)
            return


def _stated(bench):
    """`Way` of what the strategy states, with its speed where it has one."""
    return bench.falling_back(bench.strategy.on_bad_reading.does, bench.strategy.on_bad_reading.preset_speed_hz)


def _way_out(bench, way):
    """What a `Way` leaves out, as the record's table has it: how often, the worst failure, doors at both ends; where its own doors hold, a
    relief damper or a final exit past its limit; "" for nothing."""
    if way is None or way.state != "wrong":
        return ""
    said = "; ".join(against_said(bench.fallback, way)).replace("no speed holds", f"{_no_speed(bench)} holds")
    if way.good:
        return said
    if way.name == SPEED:
        cases = {cell.case for cell in way.cells.values()}
        return f"{sum(not way.worst_in(case).good for case in cases)} of {len(cases)} cases have a door out; {said}"
    return f"{way.out} of {len(way.cells)} cells of failure and case have a door out, the worst with {way.worst.failure}; {said}"


def _left(bench):
    """(input failed, tags of those left, where the loop comes to rest then, as several `Held`) of each input."""
    own, inputs = bench.strategy.on_bad_reading.set_points, bench.strategy.inputs
    by_own = bench.strategy.on_bad_reading.does == OWN
    for number, one in enumerate(inputs):
        left = [place for place in range(len(inputs)) if place != number]
        rests = [bench.alone(place, own[inputs[place].name]) for place in left] if by_own else [bench.rest(without=number)]
        yield one, [inputs[place].tag for place in left], rests


def whose_fallback(bench):
    """What no way of falling back mends, and what is out only where no speed holds every place, is nothing that another entry mends."""
    own = bench.strategy.on_bad_reading
    if own.does == OWN and any(one.name not in own.set_points for one in bench.strategy.inputs):
        return STRATEGY
    way, study = _stated(bench), bench.fallback
    if way is not None and study.best.state == "wrong" and (way.good or way.rank >= study.best.rank):
        return _unless_held_back(bench)
    return _whose(bench, way, [held for *_, rests in _left(bench) for held in rests] if way is None else ())


def whose_kept(bench):
    """The same of a speed that is kept, or of nothing that is done: a way that holds is an entry."""
    way, study = _stated(bench), bench.fallback
    return STRATEGY if way is None or study.best.good or way.rank < study.best.rank else _unless_held_back(bench)


def holds_the_last(bench):
    """The speed of the moment is kept, while doors, weather and demand go on changing."""
    if bench.strategy.on_bad_reading.does != KEEP:
        return
    way = _stated(bench)
    rests = [] if way is not None else [bench.at_speed(speed) for speed in np.unique(bench.held.speed_hz)]
    said = _out(bench, rests) if way is None else _way_out(bench, way)
    make = _graver(bench, way, rests) if said else attention
    yield replace(
        make(
            "On a failed reading the speed of the moment is kept" + (", in smoke control" if bench.smoke_control else ""),
            f"{said}, at a speed kept from another moment" if said else "no case brings a place out of its limits at another one's speed",
            "the next door that shuts meets the speed of the open one, and nobody is in control",
            NETWORK,
            _better(bench),
        ),
        possible=True,
    )


def stops(bench):
    """A failed signal stops the fan."""
    if bench.strategy.on_bad_reading.does == STOP:
        make = wrong if bench.smoke_control or bench.gas else attention
        study = bench.fallback
        least_bad = study is not None and not bench.speed_first and study.best is not None and study.best.state == "wrong"
        entry = f"at once, instead of the stop: {fallback_said(study)}; then " if least_bad else ""
        yield make(
            "A failed reading stops the fan",
            "stop",
            f"a broken wire then takes the {bench.held_words} away when it is needed",
            "life safety: the local code and the authority having jurisdiction decide" if make is wrong else PRACTICE,
            f"{entry}{_better(bench)}",
        )


def fallback_speed(bench):
    """The agreed speed is not stated, or does not suit the places."""
    bad = bench.strategy.on_bad_reading
    if bad.does == SPEED and bad.preset_speed_hz is None:
        yield wrong("The fallback goes to an agreed speed that is not stated", "none", "the drive goes to whatever stands there",
                    "settings of the strategy", good_speeds(bench))  # fmt: skip
        return
    if bad.preset_speed_hz is not None:
        goes_there = bad.does in (SPEED, OWN, MIDDLE, GOOD)
        yield from _at_one_speed(bench, "agreed fallback speed", bad.preset_speed_hz, goes_there)


def blind_after_one(bench):
    """One lost reading of three or more sends the fan to a speed kept, although the others hold the stair."""
    best = getattr(bench.fallback, "best", None)
    room = -1.0 if best is None or bench.strategy.on_bad_reading.does != SPEED else bench.fallback.one_lost_pa.get(best.name, -1.0)
    if room >= 0:
        yield attention(f"One lost reading of {len(bench.strategy.inputs)} sends the fan to the fallback speed",
                        f"the others keep {bench.fine(room)} at the worst door, leaks as they may be",
                        "at a speed kept nobody measures the stair any more", NETWORK, bench.fallback_said())  # fmt: skip


def _at_one_speed(bench, what, speed_hz, used):
    """A speed that is kept whatever doors and weather do: places that have too little of the fan or too much, by the study of failed
    readings where there is one, so that no page passes what the record's table fails."""
    way, held, better = bench.falling_back(SPEED, speed_hz), _at(bench, speed_hz), good_speeds(bench)
    if not bench.held_back.any():
        yield from never_reached(bench, what, speed_hz, better)
    elif speed_hz > bench.speed_limits_hz[1]:
        return  # nothing to judge before the highest speed is put right
    stuck = beyond_stuck(bench.full_speed, speed_hz) if what == OVERRIDE else ""  # as the settings schedule asks
    said, rest = _way_out(bench, way), _out(bench, [held])
    beyond = tuple(_beyond(bench, f"The {what}", speed_hz, better, "" if said or rest else stuck))
    if not (said or rest) or (beyond and way is not None and way.good):
        yield from beyond
        return
    make = _graver(bench, way, [held]) if used else attention
    yield replace(
        make(
            ": ".join(filter(None, (f"At the {what} a place is out of its limits", rest))),
            ": ".join(filter(None, (f"{speed_hz:g} Hz", "; ".join(filter(None, (said, stuck)))))),
            "it does not do the loop's job, and whoever sends the fan there leaves a place short or a door jammed",
            NETWORK,
            better,
        ),
        possible=what == OVERRIDE or (way is not None and way.good),
    )


def whose_speed(bench, override=False):
    """Where no one speed holds every door, one between the two ends that the record names is nothing that another entry mends."""
    held = bench.strategy.override
    speed_hz = (held and held.speed_hz) if override else bench.strategy.on_bad_reading.preset_speed_hz
    if speed_hz is None or not bench.speed_limits_hz[0] <= speed_hz <= bench.speed_limits_hz[1]:
        return STRATEGY
    study, way = bench.fallback, bench.falling_back(SPEED, speed_hz)
    if way is not None and way.good:
        return STRATEGY if bench.full_speed.beyond_lasting(speed_hz) or study.ways[SPEED].state != "wrong" else BUILDING
    if way is None or study.ways[SPEED].state != "wrong":
        return _whose(bench, way, [_at(bench, speed_hz)])
    ends = [study.speed_hz, study.lightest_hz, np.fmin(bench.full_speed.safe_hz, study.speed_hz)]
    ends += [cell.speed_hz for cell in study.shut_ends]
    between = min(ends) - SPEED_STEP_HZ <= speed_hz <= max(ends) + SPEED_STEP_HZ
    return _unless_held_back(bench) if between else STRATEGY


def _at(bench, speed_hz):
    """Where the fan is at a speed that is asked for."""
    return bench.at_speed(min(speed_hz, bench.site.fan.highest_speed_hz))


def _unless_held_back(bench):
    """Of the building, unless a highest speed that is entered holds the fan back."""
    return STRATEGY if bench.held_back.any() else BUILDING


def _whose(bench, way, rests):
    """Of the building where places are out in those cases alone that no speed holds."""
    out = bool(bench.worst_out(rests, bench.settled)) if way is None else not way.good
    return STRATEGY if _out_where_held(bench, way, rests) or not out else _unless_held_back(bench)


def _graver(bench, way, rests):
    """Past a limit where lives hang on it; elsewhere for somebody to decide where places are out in cases alone that no speed holds."""
    return wrong if bench.smoke_control or bench.gas or _out_where_held(bench, way, rests) else attention


def _out_where_held(bench, way, rests):
    """Whether a place is out in a case that some speed holds, by a `Way` or, without one, by several `Held`."""
    if way is None:
        return bool(bench.worst_out(rests, bench.judged))
    return min(way.held_worst.room_pa, way.held_room_pa) < -bench.tolerance_pa


def waits_too_long(bench):
    """The fallback waits so long that the failed reading meanwhile drives places out of their limits: a signal that is lost or out of its
    band is known at once, and only what has to be told from a door's event needs the alarms' delay."""
    bad = bench.strategy.on_bad_reading
    if bad.does in (NOTHING, STOP) or bad.after_s <= PASSING_S:
        return
    (wait, why), (lost, there_s) = bench.fallback_wait, _lost(bench)
    late = bad.after_s > wait
    said = (late and _way_out(bench, bench.falling_back(NOTHING))) or (lost if late or bad.after_s > there_s else "")
    if not (said or late):
        return
    ramp = f"; by its ramp the fan is there within {there_s:.0f} s of a lost signal" if lost else ""
    yield (wrong if said and bench.smoke_control else attention)(
        "The fallback waits longer than the doors allow" if said else "The fallback waits long",
        f"after {bad.after_s:g} s; {f'until then: {said}{ramp}' if said else 'until then every place stays inside'}",
        "as long as it waits the failed reading runs the fan",
        NETWORK,
        f"{PASSING_S:g} s or less for a signal that is lost or out of its band, known at once; {wait:g} s or less for a drift or a "
        f"disagreement, as the alarms have it: {why}",
    )


def _lost(bench):
    """(the worst place out with one signal lost or at its top, a live zero only, before anything is done about it, in words; "" where none
    is, the longest time [s] until the fan's ramp is there)."""
    fan, held = bench.site.fan, bench.held.speed_hz

    def at_top(number, top):
        return lambda tubes: np.where(np.arange(tubes.shape[-1]) == number, top, tubes)

    known = [(number, one.range[1]) for number, one in enumerate(bench.strategy.inputs) if signals.live_zero(one.signal)]
    rests = [rest for number, top in known for rest in (bench.rest(dead=number), bench.rest(tubes=at_top(number, top)))]
    moved = np.array([rest.speed_hz - held for rest in rests])
    times_s = np.maximum(moved * fan.ramp_s, -moved * fan.slows_s) / fan.reference_speed_hz
    return (_out(bench, rests), float(times_s.max())) if rests else ("", 0.0)


def last_reading_fails(bench):
    """Nothing is said of the case that no good reading is left."""
    bad = bench.strategy.on_bad_reading
    if bad.does in ("nothing", KEEP, STOP) or bad.preset_speed_hz is not None or bad.does == SPEED:
        return
    yield attention("Nothing is stated for the case that no good reading is left", f"{bad.does}; no speed",
                    "one fuse or one bus takes all readings at once", PRACTICE, good_speeds(bench))  # fmt: skip


def override_speed(bench):
    """The speed of the override jams a door, or nobody has said what it is."""
    override = bench.strategy.override
    if override is None:
        if bench.smoke_control:
            yield attention(
                "Nothing is stated for the override",
                "none",
                "a hand at the panel or the fire service may send the fan to full speed",
                PRACTICE,
                f"an override, and a speed for it: {good_speeds(bench)}",
            )
        return
    yield from _at_one_speed(bench, OVERRIDE, override.speed_hz, True)


def _beyond(bench, what, speed_hz, better, stuck):
    """A speed to be held above the highest at which no door passes its limit and every final exit closes again, other walls and a damper
    that sticks tried too."""
    beyond = beyond_the_doors(bench.full_speed, speed_hz) or stuck
    if beyond:
        yield replace(
            wrong(
                f"{what} is a speed that may not last",
                beyond,
                "walls that leak less than the file says, or a relief damper that lifts late, jam a door or keep a final exit open there; "
                "beyond the highest speed nothing was tried",
                NETWORK,
                better,
            ),
            possible=True,
        )


def good_speeds(bench):
    """What one speed does to all places, in words: what the study of failed readings proposes where there is one, so that no page names
    another; else the `suiting_speeds`."""
    if studied := bench.speed_said():
        return studied
    speeds = suiting_speeds(bench)
    if not speeds.size:
        return "no one speed suits all places in all cases: hold the reading that is left at a set point of its own"
    no_speed = bench.settled & ~bench.judged
    where = "in every case that some speed holds" if no_speed.any() else bench.settled_words
    doubt = (
        f"; none does in {np.count_nonzero(no_speed)} more, such as {bench.cases[int(no_speed.argmax())].name}" if no_speed.any() else ""
    )
    return f"a speed of {inside_text(speeds.min(), speeds.max(), dimension='frequency')} suits all places {where}{doubt}"


def _out(bench, rests):
    """The worst place out of its limits over several `Held`, in every settled case, those that no speed holds named; "" where none is."""
    said = bench.worst_out(rests, bench.settled)
    return said if said == bench.worst_out(rests, bench.judged) else f"{said}: {_no_speed(bench)} holds that case"


def _no_speed(bench):
    """No speed at all, or none up to the highest that is entered, where that one holds the fan back."""
    return f"no speed up to {bench.speed_limits_hz[1]:g} Hz" if bench.held_back.any() else "no speed"


def _told(does, own, left, bench):
    """What the fallback does, with the set points of the readings that are left."""
    points = " and ".join(f"{name} at {bench.show(own[name])}" for name in left) if does == OWN else ""
    return f"{does}{': ' if points else ''}{points}"


def _better(bench):
    """What the study of failed readings proposes; else own set points of single readings that keep every place in, else speeds that do."""
    if studied := bench.fallback_said():
        return studied
    inputs, said = bench.strategy.inputs, []
    if len(inputs) > 1:
        found = [bench.own_set_points(number) for number in range(len(inputs))]
        if all(points.size for points in found):
            said = [f"{one.name} alone at {bench.show(np.median(points))}" for one, points in zip(inputs, found, strict=True)]
    return " and ".join(said) or good_speeds(bench)


def _no_fallback_set(bench):
    return "nothing is set for a failed reading" if bench.strategy.on_bad_reading.does == "nothing" else ""


def _no_speed_set(bench):
    bad = bench.strategy.on_bad_reading
    return "no fallback speed" if bad.preset_speed_hz is None and bad.does != SPEED else ""


KINDS = (
    Kind("no fallback", "no fallback for a failed reading", no_fallback, whose_kept),
    Kind("fallback", "a fallback that leaves a place out of its limits when a reading has failed", fallback_fails, whose_fallback,
         absent=_no_fallback_set),
    Kind("hold the last", "a fallback that keeps the speed of the moment", holds_the_last, whose_kept, absent=_no_fallback_set),
    Kind("fallback late", "a fallback that waits longer than the doors allow", waits_too_long, absent=_no_fallback_set),
    Kind("stop on failure", "a failed reading that stops the fan", stops, absent=_no_fallback_set),
    Kind("preset speed", "an agreed fallback speed that does not suit the doors", fallback_speed, whose_speed, absent=_no_speed_set),
    Kind("blind after one", "a lost reading of three that sends the fan to a speed kept", blind_after_one),
    Kind("last reading", "no word of the case that no good reading is left", last_reading_fails, absent=_no_fallback_set),
    Kind("override", "an override that jams a door or leaves one short, or of which nothing is said", override_speed,
         partial(whose_speed, override=True)),
)  # fmt: skip
