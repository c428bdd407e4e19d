"""Review of a stair's tuning as it stands in a building that differs from the model, and of what a door then sees. Stairs only.

The margins and the proposal are those of the tuning study: one pair of numbers everywhere.
"""

from dataclasses import replace

import numpy as np

from helpers import units
from helpers.studies.figures import NETWORK, Finding, listed, time_text
from helpers.studies.review_bench import SLUGGISH
from helpers.studies.review_kinds import BUILDING, STRATEGY, Kind
from helpers.studies.review_loop import settles_text
from helpers.studies.review_words import attention, wrong
from helpers.studies.tuning_candidate import BOX, asked_text
from helpers.studies.tuning_doors import back_text, seconds_text

__all__ = ["KINDS"]

ASLEEP = 6.0  # times the integral time over gain of the fastest safe tuning, from which a loop sleeps; ours
MOST_TIMES = 1000.0  # beyond it the figure says nothing more


def robust_tuning(bench, system):
    """The tuning swings, or nearly does, in a building whose lags are longer than the model's."""
    study = bench.tuning
    if study is None or not bench.holds:
        return
    own = study.own
    if not own.lacks:
        return
    yield replace(
        wrong(
            "The tuning is only good in the model: "
            + ("it swings by itself" if not own.worst.stable else "it comes close to swinging")
            + " where the building's lags are longer",
            f"gain {own.gain:.3g} %/%, integral time {time_text(own.integral_s)}; at the worst corner ({own.corner.text()}) "
            f"{', '.join(own.lacks)}; in the nominal loop a gain margin of {own.nominal.gain_margin:.1f}. {own.borne_text()}",
            f"asked for over the whole box: {asked_text(study.box.asked)}",
            f"{BOX}; lag: {study.box.sources[0]}; dead time: {study.box.sources[1]}",
            bench.proposed(system),
        ),
        possible=own.nominal.stable,
    )


def not_judged(bench, system):
    """The tuning could not be tried on this strategy at all."""
    if bench.tuning is None:
        yield Finding(
            "open", "The tuning was not judged", bench.why_no_tuning, "the tuning study has no answer for this strategy",
            NETWORK, "put the other findings right first",
        )  # fmt: skip


def integral_and_ramp(bench, system):
    """The integral asks for more than the drive's ramp gives: it winds up while the fan follows."""
    study = bench.tuning
    if study is None or not bench.holds or not study.own.ahead:
        return
    swing = study.own.doors.swing_pa
    make = wrong if not study.own.doors.calm else attention
    yield make(
        "The integral is faster than the ramp" + (", and the loop swings" if make is wrong else ""),
        f"integral time over gain {study.own.integral_s / study.own.gain:.2g} s, the ramp asks for {study.box.ramp_asks_s:.2g} s; half a "
        f"minute after a door the reading swings by {bench.fine(swing, system)}",
        "the output runs ahead of the fan, and the pressure overshoots to both sides, unless the integral stops while the ramp holds",
        f"{NETWORK}; arithmetic of ramp and integral",
        bench.proposed(system),
    )


def slow_parts(bench, system):
    """Lags are stated that cost time, each by its name; a damping besides that a tuning must not trust."""
    study = bench.tuning
    if study is None or not bench.holds:
        return
    if study.slow:
        parts = listed(f"{part.name} {part.seconds:.2g} s" for part in study.slow)
        yield attention("The loop is slow", parts, study.slow_said(), NETWORK, study.slow_remedy())
    if study.damping is None:
        return
    yield attention(
        "The damping at the transmitters' dial is long",
        f"{study.damping.damping_s:g} s",
        study.damping_said(),
        NETWORK,
        f"{study.damping.little_s:g} s at the dial, and the tuning for it",
    )


def sleeps(bench, system):
    """The loop makes an error good so slowly that it might as well not be there."""
    study, loop = bench.tuning, bench.strategy.loop
    if study is None or not bench.holds or not loop.integral_s or study.proposed is None:
        return
    own, fastest = loop.integral_s / loop.controller_gain, study.proposed.integral_s / study.proposed.gain
    if own <= SLUGGISH * fastest:
        return
    test, asleep = study.own.doors, own > ASLEEP * fastest
    slow = f"; after a door the flow is {back_text(test.slowest_s)}"
    heavy = f", and a handle is above its limit for {test.above_limit_s:.0f} s" if test.above_limit_s else ""
    times = f"{own / fastest:.2g} times" if own < MOST_TIMES * fastest else f"more than {MOST_TIMES:g} times"
    make = wrong if asleep else attention
    yield make(
        "The loop sleeps: gain and integral time are so weak that the pressure stays where a door has left it" if asleep
        else "The loop is sluggish: gain and integral time are weak beside what would be safe",
        f"gain {loop.controller_gain:.3g} %/%, integral time {time_text(loop.integral_s)}: an error is made good in "
        f"{settles_text(bench)}{slow}{heavy}",
        f"integral time over gain is {times} that of the fastest tuning that is safe; calm is not the same as awake",
        f"{NETWORK}; {SLUGGISH:g} and {ASLEEP:g} times: ours",
        bench.proposed(system),
    )  # fmt: skip


def swings(bench, system):
    """After a door the pressure goes on swinging."""
    study = bench.tuning
    if study is None or not bench.holds or study.own.doors.calm:
        return
    yield wrong(
        "After a door the pressure goes on swinging",
        f"half a minute after the door has shut the reading swings by {bench.fine(study.own.doors.swing_pa, system)}",
        "the doors are too heavy and too light in turn, and the drive never rests",
        f"{NETWORK}, the loop in time with the lags of the site file",
        bench.proposed(system),
    )


def recovery(bench, system):
    """The flow is not back within the time that the site's standard asks for, and whether the ramp alone forbids it."""
    study = bench.tuning
    if study is None or study.response_s is None or not bench.smoke_control:
        return
    asked, source = study.response_s, study.criteria.response.said
    if study.ramp_forbids:
        yield wrong(
            f"The drive's ramp alone forbids {asked:g} s",
            f"{bench.site.fan.ramp_s:g} s of ramp, {seconds_text(study.ramp_alone.slowest_s)} after a door",
            "no controller is quicker than its drive",
            source,
            bench.of_record.after_a_door_said(system),
        )
    elif bench.holds and not study.own.doors.quick:
        yield wrong(
            f"After a door the flow is not back within {asked:g} s, as {study.criteria.name} asks",
            f"{seconds_text(study.own.doors.slowest_s)}, the ramp alone would take {seconds_text(study.ramp_alone.slowest_s)}",
            "smoke may pass, or a door stays heavy, for so long",
            source,
            f"{bench.proposed(system)}; feedback alone may not reach it: {bench.of_record.after_a_door_said(system)}",
        )


def heavy_after_a_door(bench, system):
    """After a door has shut another one stays too heavy for a while: past a limit, as in the tuning study, however short it is."""
    study = bench.tuning
    if study is None or not bench.holds or not study.own.doors.above_limit_s:
        return
    test, alone = study.own.doors, study.ramp_alone
    force, limit = (units.show(value, "force", system) for value in (test.peak_force_n, study.force_limit_n))
    yield wrong(
        "After a door has shut, another one is too heavy for a while",
        f"up to {force} at the handle where {limit} is the most, above it for {test.above_limit_s:.0f} s, with this tuning in the worst "
        f"weather and warmth of the stair; the drive alone, without any controller, {alone.above_limit_s:.0f} s",
        "the fan still blows as for the open door",
        f"{NETWORK}, the loop in time",
        f"{bench.of_record.after_a_door_said(system)}; the tuning: {bench.proposed(system)}",
    )


def whose_ramp(bench):
    """What the drive alone does not bring back in time no tuning brings back."""
    study = bench.tuning
    return BUILDING if study is not None and study.ramp_forbids else STRATEGY


def whose_weight(bench):
    """A door that is too heavy with the drive alone as well is no matter of the tuning."""
    study = bench.tuning
    return BUILDING if study is not None and np.any(study.ramp_alone.above_limit_s) else STRATEGY


KINDS = (
    Kind("tuning not judged", "a tuning that could not be tried", not_judged, stairs_only=True),
    Kind("robust tuning", "a tuning that is only good in the model", robust_tuning, stairs_only=True),
    Kind("integral and ramp", "an integral faster than the ramp", integral_and_ramp, stairs_only=True),
    Kind("long damping", "a damping or another lag so long that it costs time", slow_parts, stairs_only=True),
    Kind("sleeps", "a loop that sleeps", sleeps, stairs_only=True),
    Kind("swings", "a loop that goes on swinging after a door", swings, stairs_only=True),
    Kind("recovery", "a recovery after a door slower than the standard asks", recovery, whose_ramp, stairs_only=True),
    Kind("heavy after a door", "a door too heavy for a while after another has shut", heavy_after_a_door, whose_weight, stairs_only=True),
)
