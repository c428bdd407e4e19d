"""Review of what happens when something fails: fallback, preset speed, alarms, one reading only."""

import numpy as np

from helpers.formulas import signals
from helpers.studies.figures import NETWORK, PRACTICE, fine
from helpers.studies.review_kinds import Kind
from helpers.studies.review_words import attention, pa, too_heavy, too_low, wrong

__all__ = ["KINDS"]

LOW_SHARE, HIGH_SHARE = 0.5, 1.5  # of the doors' least and most, beyond which an alarm comes too late; common practice, no source


def no_fallback(bench, system):
    """Nothing is set for a failed reading: what the dead one does to the doors."""
    inputs, bad = bench.strategy.inputs, bench.strategy.on_bad_reading
    if bad.does != "nothing":
        return
    worst = ""
    for number, one in enumerate(inputs):
        held = bench.rest(dead=number)
        said = too_heavy(bench, held, bench.shut, system) or too_low(bench, held, bench.shut, system)
        worst = worst or (f"with {one.name} dead {said}" if said else "")
    make = wrong if worst else attention
    yield make(
        "Nothing is set for a failed reading",
        worst or "the doors stay in their window with one reading dead",
        f"no signal is taken for {pa(signals.to_units(0.0, *inputs[0].entered), system)}, and that runs the fan",
        NETWORK,
        "leave a failed reading out, and go to a preset speed when none is left",
    )


def preset_speed(bench, system):
    """The preset speed of the fallback is not stated, or does not suit the doors."""
    bad, fan = bench.strategy.on_bad_reading, bench.site.fan
    if bad.does != "agreed fallback speed":
        return
    if bad.preset_speed_hz is None:
        yield wrong(
            "The fallback goes to a preset speed that is not stated",
            "none",
            "the drive goes to whatever stands there",
            "settings of the strategy",
            _good_speeds(bench),
        )
        return
    held = bench.at_speed(min(bad.preset_speed_hz, fan.highest_speed_hz))
    said = too_heavy(bench, held, bench.shut, system) or too_low(bench, held, bench.shut, system)
    if said:
        yield wrong(
            f"At the preset speed a shut door is out of its window: {said}",
            f"{bad.preset_speed_hz:g} Hz",
            "the fallback does not do the loop's job",
            NETWORK,
            _good_speeds(bench),
        )


def _good_speeds(bench):
    """Speeds at which every shut door is in its window in every weather, in words."""
    least, most = bench.limits
    doors = bench.curves.doors_pa[bench.shut]
    good = ((doors >= least) & (doors <= most)).all(axis=(0, 2))
    speeds = bench.curves.speed_hz[good]
    if not speeds.size:
        return "no one speed suits all doors in all weathers: fall back on the good reading instead"
    return f"a preset of {speeds.min():.0f} to {speeds.max():.0f} Hz"


def full_speed_force(bench, system):
    """At full speed, where a lost signal or a hand may send the fan, a shut door is too heavy."""
    said = too_heavy(bench, bench.at_speed(bench.site.fan.highest_speed_hz), bench.shut, system)
    if said:
        yield attention(
            f"At full speed a shut door cannot be opened: {said}",
            f"{bench.site.fan.highest_speed_hz:g} Hz",
            "a lost signal, a wrong action or a hand on the drive sends the fan there",
            NETWORK,
            "a lower highest speed if the open doors allow it, or a relief damper",
        )


def alarms_inside(bench, system):
    """An alarm limit lies inside what is normal."""
    alarms, held = bench.strategy.alarms, bench.held
    normal = held.display_pa[bench.shut & (held.state == "held")]
    if not normal.size:
        return
    error = max(float(signals.accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span)) for t in bench.strategy.inputs)
    low, high = normal.min() - error, normal.max() + error
    for limit, name, inside in ((alarms.low_pa, "low", lambda x: x >= low), (alarms.high_pa, "high", lambda x: x <= high)):
        if limit is not None and inside(limit):
            yield attention(
                f"The {name} alarm lies inside the normal band",
                f"{pa(limit, system)}, normal {fine(low, system)} to {fine(high, system)}",
                "an alarm that comes every day is switched off",
                NETWORK,
                f"an alarm {'below' if name == 'low' else 'above'} {pa(low if name == 'low' else high, system)}",
            )


def alarms_blind(bench, system):
    """No alarm, or one that a door out of its window does not raise."""
    alarms, least, most = bench.strategy.alarms, bench.window.least_pa, bench.window.most_pa
    if alarms.low_pa is None and alarms.high_pa is None:
        yield attention(
            "There is no alarm on the pressure",
            "none",
            "nobody learns that the stair has lost its pressure",
            PRACTICE,
            "a low and a high alarm with a delay longer than a door event",
        )
        return
    low_blind = None not in (least, alarms.low_pa) and alarms.low_pa < LOW_SHARE * least
    high_blind = None not in (most, alarms.high_pa) and alarms.high_pa > HIGH_SHARE * most
    for blind, name, end, limit in (
        (low_blind, "low", "least", alarms.low_pa),
        (high_blind, "high", "most", alarms.high_pa),
    ):
        if blind:
            edge = pa(least if name == "low" else most, system)
            yield attention(
                f"The {name} alarm comes too late",
                f"{pa(limit, system)}, the doors' {end} is {edge}",
                "a door is out of its window long before",
                "the doors' window",
                f"an alarm nearer to {edge}",
            )


def one_reading(bench, system):
    """A smoke control loop that hangs on one reading."""
    if len(bench.strategy.inputs) == 1 and bench.smoke_control:
        spread = float(np.ptp(bench.held.doors_pa[bench.shut], axis=1).max())
        yield attention(
            "The loop hangs on one reading",
            f"the shut doors lie up to {pa(spread, system)} apart",
            "one tube, one wire, one place: what it does not see nobody sees",
            NETWORK,
            "a second transmitter",
        )


KINDS = (
    Kind("no fallback", "no fallback for a failed reading", no_fallback),
    Kind("preset speed", "a preset speed that does not suit the doors", preset_speed),
    Kind("full speed", "a door that cannot be opened at full speed", full_speed_force),
    Kind("alarms inside", "alarm limits inside the normal band", alarms_inside),
    Kind("alarms blind", "alarms that come too late, or none", alarms_blind),
    Kind("one reading", "a smoke control loop on one reading", one_reading),
)
