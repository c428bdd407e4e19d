"""Review of what happens when something fails: a reading, all readings, the mains; and what a hand or the fire service makes the fan do.

Of any plant. Limits: one reading fails at a time, and steady air afterwards.
"""

from dataclasses import replace

import numpy as np

from helpers.formulas import signals
from helpers.studies.figures import NETWORK, PRACTICE, inside_text
from helpers.studies.review_kinds import BUILDING, STRATEGY, Kind
from helpers.studies.review_words import attention, wrong

__all__ = ["KINDS", "good_speeds"]

OWN, KEEP, SPEED, STOP = "remaining reading at its own set point", "keep the speed", "agreed fallback speed", "stop"


def no_fallback(bench, system):
    """Nothing is set for a failed reading: what the dead one does."""
    inputs = bench.strategy.inputs
    if bench.strategy.on_bad_reading.does != "nothing":
        return
    worst = ""
    for number, one in enumerate(inputs):
        said = _out(bench, bench.rest(dead=number), system)
        worst = worst or (f"with {one.name} dead {said}" if said else "")
    make = wrong if worst else attention
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
    for number, one in enumerate(inputs):
        left = [place for place in range(len(inputs)) if place != number]
        rests = [bench.rest(without=number)] if does != OWN else [bench.alone(place, own[inputs[place].name]) for place in left]
        said = next(filter(None, (_out(bench, held, system) for held in rests)), "")
        if said:
            yield replace(
                wrong(
                    f"With {one.name} failed the fallback leaves a place out of its limits: {said}",
                    _told(does, own, [inputs[place].name for place in left], bench, system),
                    "a rule without one of its readings is another rule, and the same set point does not fit it",
                    NETWORK,
                    _better(bench, system),
                ),
                possible=True,
            )
            return


def holds_the_last(bench, system):
    """The speed of the moment is kept, while doors, weather and demand go on changing."""
    if bench.strategy.on_bad_reading.does != KEEP:
        return
    speeds = bench.held.speed_hz
    said = next(filter(None, (_out(bench, bench.at_speed(speed), system) for speed in speeds[np.argsort(-speeds)])), "")
    make = wrong if said else attention
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
            good_speeds(bench),
        )
        return
    if bad.preset_speed_hz is None:
        return
    said = _out(bench, bench.at_speed(min(bad.preset_speed_hz, bench.speed_limits_hz[1])), system)
    if not said:
        yield from _beyond(bench, "The agreed fallback speed", bad.preset_speed_hz)
    else:
        make = wrong if bad.does == SPEED else attention
        yield make(
            f"At the agreed fallback speed a place is out of its limits: {said}",
            f"{bad.preset_speed_hz:g} Hz",
            "the fallback does not do the loop's job",
            NETWORK,
            good_speeds(bench),
        )


def whose_preset(bench):
    """A speed that is the best of those tried, where none holds every door, is nothing that another entry mends."""
    study, preset = bench.fallback, bench.strategy.on_bad_reading.preset_speed_hz
    best = study is not None and study.best is not None and not study.best.good and preset == study.speed_hz
    return BUILDING if best else STRATEGY


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
        good_speeds(bench),
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
                f"an override at a speed that suits the doors: {good_speeds(bench)}",
            )
        return
    said = bench.too_high(bench.at_speed(min(override.speed_hz, bench.site.fan.highest_speed_hz)), bench.judged, system)
    if not said:
        yield from _beyond(bench, "The override", override.speed_hz)
    else:
        yield replace(
            wrong(
                f"The override jams a door: {said}",
                f"{override.speed_hz:g} Hz",
                "whoever turns the switch locks people out",
                NETWORK,
                good_speeds(bench),
            ),
            possible=True,
        )


def _beyond(bench, what, speed_hz):
    """A speed to be held that is above the highest at which no door passes its limit, other walls and a damper that sticks tried too."""
    beyond = "" if bench.full_speed is None else bench.full_speed.beyond(speed_hz)
    if beyond:
        yield replace(
            wrong(
                f"{what} is beyond the highest speed at which no door passes its limit",
                beyond,
                "walls that leak less than the file says, or a relief damper that lifts late, jam a door there",
                NETWORK,
                good_speeds(bench),
            ),
            possible=True,
        )


def good_speeds(bench):
    """Speeds at which every place is within its limits in every case in which any speed keeps it there, in words."""
    least, most = (np.broadcast_to(ends, bench.curves.places[:, 0].shape)[bench.judged][:, None] for ends in bench.limits)
    places = bench.curves.places[bench.judged]
    good = ((places >= least) & (places <= most)).all(axis=(0, 2))
    speeds = bench.curves.speed_hz[good]
    if not speeds.size:
        return "no one speed suits all places in all cases: hold the reading that is left at a set point of its own"
    full = bench.full_speed
    safe = np.inf if full is None or not full.limited else full.safe_hz
    if not speeds.min() <= safe:
        ends = inside_text(speeds.min(), speeds.max(), dimension="frequency")
        return f"no one speed suits all places and is safe for every door: {ends} would, and {full.safe_text()} is the highest safe speed"
    speeds = speeds[speeds <= safe]
    doubt = "" if bench.one_speed_for_all else ", with the leaks of the file alone: not borne out with leaks as they may be"
    return f"a speed of {inside_text(speeds.min(), speeds.max(), dimension='frequency')} suits all places {bench.settled_words}{doubt}"


def _out(bench, held, system):
    return bench.too_high(held, bench.judged, system) or bench.too_low(held, bench.judged, system)


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
    return " and ".join(said) or good_speeds(bench)


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


KINDS = (
    Kind("one reading", "a loop for smoke control or gas on one reading", one_reading),
    Kind("no fallback", "no fallback for a failed reading", no_fallback),
    Kind("fallback", "a fallback that leaves a place out of its limits when one reading has failed", fallback_fails),
    Kind("hold the last", "a fallback that keeps the speed of the moment", holds_the_last),
    Kind("stop on failure", "a failed reading that stops the fan", stops),
    Kind("preset speed", "an agreed fallback speed that does not suit the doors", fallback_speed, whose_preset),
    Kind("last reading", "no word of the case that no good reading is left", last_reading_fails),
    Kind("restart", "a fan that does not come back when the mains do", restart_by_hand),
    Kind("override", "an override that jams a door, or of which nothing is said", override_speed),
)
