"""Review of what happens when something fails: a reading, all readings, the mains; and what a hand or the fire service makes the fan do.

Of any plant. Limits: one reading fails at a time, and steady air afterwards.
"""

from dataclasses import replace

import numpy as np

from helpers.formulas import signals
from helpers.record.review.kinds import BUILDING, STRATEGY, Kind, attention, wrong
from helpers.studies.report import NETWORK, PRACTICE, inside_text

__all__ = ["KINDS", "good_speeds"]

OWN, KEEP, SPEED, STOP = "remaining reading at its own set point", "keep the speed", "agreed fallback speed", "stop"


def no_fallback(bench, system):
    """Nothing is set for a failed reading: what the dead one does."""
    inputs = bench.strategy.inputs
    if bench.strategy.on_bad_reading.does != "nothing":
        return
    rests = [bench.rest(dead=number) for number in range(len(inputs))]
    said = _out(bench, rests, system)
    dead = [one.name for one, held in zip(inputs, rests, strict=True) if _out(bench, [held], system) == said]
    worst = f"with {dead[0]} dead {said}" if said else ""
    make = _graver(bench, rests) if worst else attention
    yield make(
        "Nothing is set for a failed reading",
        worst or "all stays within its limits with one reading dead",
        f"no signal is taken for {bench.show(signals.to_units(0.0, *inputs[0].entered), system)}, and that runs the fan",
        NETWORK,
        _better(bench, system),
    )


def fallback_fails(bench, system):
    """After one reading has failed, the fallback leaves a place out of its limits."""
    does, inputs = bench.strategy.on_bad_reading.does, bench.strategy.inputs
    if does in ("nothing", KEEP, SPEED, STOP) or len(inputs) < 2:
        return
    own = bench.strategy.on_bad_reading.set_points
    unstated = [one.name for one in inputs if does == OWN and one.name not in own]
    if unstated:
        yield wrong(
            f"The fallback holds the reading that is left at its own set point, and none is stated for {' and '.join(unstated)}",
            "none",
            "the drive goes by whatever stands there",
            "settings of the strategy",
            _better(bench, system),
        )
        return
    out = {one.name: (_out(bench, rests, system), left) for one, left, rests in _left(bench)}
    every = [held for *_, rests in _left(bench) for held in rests]
    worst, make = _out(bench, every, system), _graver(bench, every)
    for name, (said, left) in out.items():
        if said and said == worst:
            yield replace(
                make(
                    f"With {name} failed the fallback leaves a place out of its limits: {said}",
                    _told(does, own, left, bench, system),
                    "a rule without one of its readings is another rule, and the same set point does not fit it",
                    NETWORK,
                    _better(bench, system),
                ),
                possible=True,
            )
            return


def _left(bench):
    """(input failed, names of those left, where the loop comes to rest then, as several `Held`) of each input."""
    own, inputs = bench.strategy.on_bad_reading.set_points, bench.strategy.inputs
    by_own = bench.strategy.on_bad_reading.does == OWN
    for number, one in enumerate(inputs):
        left = [place for place in range(len(inputs)) if place != number]
        rests = [bench.alone(place, own[inputs[place].name]) for place in left] if by_own else [bench.rest(without=number)]
        yield one, [inputs[place].name for place in left], rests


def whose_fallback(bench):
    """What is out only where no speed holds every place is nothing that another fallback mends."""
    own = bench.strategy.on_bad_reading
    if own.does == OWN and any(one.name not in own.set_points for one in bench.strategy.inputs):
        return STRATEGY
    return _whose(bench, [held for *_, rests in _left(bench) for held in rests])


def holds_the_last(bench, system):
    """The speed of the moment is kept, while doors, weather and demand go on changing."""
    if bench.strategy.on_bad_reading.does != KEEP:
        return
    rests = [bench.at_speed(speed) for speed in np.unique(bench.held.speed_hz)]
    said = _out(bench, rests, system)
    make = _graver(bench, rests) if said else attention
    yield replace(
        make(
            "On a failed reading the speed of the moment is kept" + (", in smoke control" if bench.smoke_control else ""),
            f"{said}, at a speed kept from another moment" if said else "no case brings a place out of its limits at another one's speed",
            "the next door that shuts meets the speed of the open one, and nobody is in control",
            NETWORK,
            _better(bench, system),
        ),
        possible=True,
    )


def stops(bench, system):
    """A failed signal stops the fan."""
    if bench.strategy.on_bad_reading.does == STOP:
        make = wrong if bench.smoke_control or bench.dimension == "concentration" else attention
        yield make(
            "A failed reading stops the fan",
            "stop",
            f"a broken wire then takes the {bench.held_words} away when it is needed",
            "life safety: the local code and the authority having jurisdiction decide" if make is wrong else PRACTICE,
            _better(bench, system),
        )


def fallback_speed(bench, system):
    """The agreed speed is not stated, or does not suit the places."""
    bad = bench.strategy.on_bad_reading
    if bad.does == SPEED and bad.preset_speed_hz is None:
        yield wrong(
            "The fallback goes to an agreed speed that is not stated",
            "none",
            "the drive goes to whatever stands there",
            "settings of the strategy",
            good_speeds(bench, system),
        )
        return
    if bad.preset_speed_hz is None:
        return
    said = _out(bench, [_at_preset(bench)], system)
    if not said:
        yield from _beyond(bench, "The agreed fallback speed", bad.preset_speed_hz, system)
    else:
        make = _graver(bench, [_at_preset(bench)]) if bad.does == SPEED else attention
        yield make(
            f"At the agreed fallback speed a place is out of its limits: {said}",
            f"{bad.preset_speed_hz:g} Hz",
            "the fallback does not do the loop's job",
            NETWORK,
            good_speeds(bench, system),
        )


def whose_preset(bench):
    """A speed that is the best of those tried, where none holds every door, is nothing that another entry mends."""
    study, preset = bench.fallback, bench.strategy.on_bad_reading.preset_speed_hz
    if preset is None:
        return STRATEGY
    best = study is not None and study.best is not None and not study.best.good and preset == study.speed_hz
    return BUILDING if best else _whose(bench, [_at_preset(bench)])


def _at_preset(bench):
    """Where the fan is at the agreed fallback speed."""
    return bench.at_speed(min(bench.strategy.on_bad_reading.preset_speed_hz, bench.speed_limits_hz[1]))


def _whose(bench, rests):
    """Of the building where places are out in those cases alone that no speed holds."""
    return STRATEGY if _out_where_held(bench, rests) or not bench.worst_out(rests, bench.settled, "Pa") else BUILDING


def _graver(bench, rests):
    """Past a limit where lives hang on it; elsewhere for somebody to decide where places are out in cases alone that no speed holds."""
    lives = bench.smoke_control or bench.dimension == "concentration"
    return wrong if lives or _out_where_held(bench, rests) else attention


def _out_where_held(bench, rests):
    """Whether a place is out in a case that some speed holds."""
    return bool(bench.worst_out(rests, bench.judged, "Pa"))


def last_reading_fails(bench, system):
    """Nothing is said of the case that no good reading is left."""
    bad = bench.strategy.on_bad_reading
    if bad.does in ("nothing", KEEP, STOP) or bad.preset_speed_hz is not None or bad.does == SPEED:
        return
    yield attention(
        "Nothing is stated for the case that no good reading is left",
        f"{bad.does}; no speed",
        "one fuse or one bus takes all readings at once",
        PRACTICE,
        good_speeds(bench, system),
    )


def restart_by_hand(bench, system):
    """After a loss of mains the fan waits for a hand, or runs into a wheel that still turns."""
    restart = bench.strategy.restart
    if not bench.smoke_control:
        return
    if restart is None:
        yield attention(
            "Nothing is stated for the return of the mains",
            "none",
            "with a standby source the fan stands until somebody starts it",
            PRACTICE,
            "an automatic restart that catches a wheel that still turns, as far as the fire alarm still asks",
        )
    elif restart.after_mains == "by hand":
        yield wrong(
            "After a loss of mains the fan waits for a hand",
            restart.after_mains,
            "the standby source comes in seconds, the hand may not come",
            PRACTICE,
            "an automatic restart, as far as the fire alarm still asks; the authority having jurisdiction decides",
        )
    elif not restart.catches_turning_wheel:
        yield attention(
            "The drive restarts without catching a wheel that still turns",
            restart.after_mains,
            "it may trip on overcurrent or on the bus voltage, just when it is needed",
            PRACTICE,
            "a restart on the turning wheel",
        )


def override_speed(bench, system):
    """The speed of the override jams a door, or nobody has said what it is."""
    override = bench.strategy.override
    if override is None:
        if bench.smoke_control:
            yield attention(
                "Nothing is stated for the override",
                "none",
                "a hand at the panel or the fire service may send the fan to full speed",
                PRACTICE,
                f"an override, and a speed for it: {good_speeds(bench, system)}",
            )
        return
    said = bench.too_high(bench.at_speed(min(override.speed_hz, bench.site.fan.highest_speed_hz)), bench.settled, system)
    if not said:
        yield from _beyond(bench, "The override", override.speed_hz, system)
    else:
        yield replace(
            wrong(
                f"The override jams a door: {said}",
                f"{override.speed_hz:g} Hz",
                "whoever turns the switch locks people out",
                NETWORK,
                good_speeds(bench, system),
            ),
            possible=True,
        )


def _beyond(bench, what, speed_hz, system):
    """A speed to be held that is above the highest at which no door passes its limit, other walls and a damper that sticks tried too."""
    beyond = "" if bench.full_speed is None else bench.full_speed.beyond(speed_hz)
    if beyond:
        yield replace(
            wrong(
                f"{what} is beyond the highest speed at which no door passes its limit",
                beyond,
                "walls that leak less than the file says, or a relief damper that lifts late, jam a door there",
                NETWORK,
                good_speeds(bench, system),
            ),
            possible=True,
        )


def good_speeds(bench, system):
    """What one speed does to all places, in words: what the study of failed readings proposes where there is one, so that no page names
    another; else speeds at which every place is within its limits in every case in which any speed keeps it there."""
    if studied := bench.speed_said(system):
        return studied
    least, most = (np.broadcast_to(ends, bench.curves.places[:, 0].shape)[bench.judged][:, None] for ends in bench.limits)
    places = bench.curves.places[bench.judged]
    (slowest, fastest), tried = bench.speed_limits_hz, bench.curves.speed_hz
    speeds = tried[((places >= least) & (places <= most)).all(axis=(0, 2)) & (tried >= slowest) & (tried <= fastest)]
    if not speeds.size:
        return "no one speed suits all places in all cases: hold the reading that is left at a set point of its own"
    no_speed = bench.settled & ~bench.judged
    where = "in every case that some speed holds" if no_speed.any() else bench.settled_words
    doubt = (
        f"; none does in {np.count_nonzero(no_speed)} more, such as {bench.cases[int(no_speed.argmax())].name}" if no_speed.any() else ""
    )
    return f"a speed of {inside_text(speeds.min(), speeds.max(), dimension='frequency')} suits all places {where}{doubt}"


def _out(bench, rests, system):
    """The worst place out of its limits over several `Held`, in every settled case, those that no speed holds named; "" where none is."""
    said = bench.worst_out(rests, bench.settled, system)
    return said if said == bench.worst_out(rests, bench.judged, system) else f"{said}: no speed holds that case"


def _told(does, own, left, bench, system):
    """What the fallback does, with the set points of the readings that are left."""
    points = " and ".join(f"{name} at {bench.show(own[name], system)}" for name in left) if does == OWN else ""
    return f"{does}{': ' if points else ''}{points}"


def _better(bench, system):
    """What the study of failed readings proposes; else own set points of single readings that keep every place in, else speeds that do."""
    if studied := bench.fallback_said(system):
        return studied
    inputs, said = bench.strategy.inputs, []
    if len(inputs) > 1:
        found = [bench.own_set_points(number) for number in range(len(inputs))]
        if all(points.size for points in found):
            said = [f"{one.name} alone at {bench.show(np.median(points), system)}" for one, points in zip(inputs, found, strict=True)]
    return " and ".join(said) or good_speeds(bench, system)


def one_reading(bench, system):
    """A loop for smoke control, or for gas, that hangs on one reading."""
    if len(bench.strategy.inputs) == 1 and (bench.smoke_control or bench.dimension == "concentration"):
        spread = float(np.ptp(bench.held.places[bench.settled], axis=1).max())
        yield attention(
            "The loop hangs on one reading",
            f"the places lie up to {bench.show(spread, system)} apart",
            "one tube, one wire, one place: what it does not see nobody sees",
            NETWORK,
            "a second transmitter",
        )


def _no_fallback_set(bench):
    return "nothing is set for a failed reading" if bench.strategy.on_bad_reading.does == "nothing" else ""


def _no_speed_set(bench):
    bad = bench.strategy.on_bad_reading
    return "no fallback speed" if bad.preset_speed_hz is None and bad.does != SPEED else ""


KINDS = (
    Kind("one reading", "a loop for smoke control or gas on one reading", one_reading),
    Kind("no fallback", "no fallback for a failed reading", no_fallback),
    Kind(
        "fallback",
        "a fallback that leaves a place out of its limits when one reading has failed",
        fallback_fails,
        whose_fallback,
        absent=_no_fallback_set,
    ),
    Kind("hold the last", "a fallback that keeps the speed of the moment", holds_the_last, absent=_no_fallback_set),
    Kind("stop on failure", "a failed reading that stops the fan", stops, absent=_no_fallback_set),
    Kind("preset speed", "an agreed fallback speed that does not suit the doors", fallback_speed, whose_preset, absent=_no_speed_set),
    Kind("last reading", "no word of the case that no good reading is left", last_reading_fails, absent=_no_fallback_set),
    Kind("restart", "a fan that does not come back when the mains do", restart_by_hand),
    Kind("override", "an override that jams a door, or of which nothing is said", override_speed),
)
