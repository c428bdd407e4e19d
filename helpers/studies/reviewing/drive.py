"""Review of the drive: full speed, lowest speed, the motor's load, the way down. Of any plant."""

from dataclasses import replace

import numpy as np

from helpers import units
from helpers.studies.figures import NETWORK, PRACTICE
from helpers.studies.full_speed import EXIT_AT_FULL_SPEED
from helpers.studies.review_kinds import BUILDING, STRATEGY, Kind
from helpers.studies.review_words import attention, wrong

__all__ = ["KINDS", "highest_without_harm_hz", "shaft_power_w"]


def full_speed(bench, system):
    """At the highest speed, where a lost signal, a hand or the fire service may send the fan, a place has too much."""
    if bench.full_speed is not None:
        told = (one for one in bench.full_speed.findings(system=system) if one.severity in ("wrong", "attention"))
        told = (one for one in told if one.key != EXIT_AT_FULL_SPEED)  # the street door's own review tells of that
        yield from (replace(one, severity=one.severity if bench.smoke_control else "attention", possible=True) for one in told)
        return
    highest = bench.speed_limits_hz[1]
    said = bench.too_much(bench.at_speed(highest), bench.settled, system)
    if not said:
        return
    bearable, lowest = np.floor(highest_without_harm_hz(bench)), bench.speed_limits_hz[0]
    short = [bench.cases[place].name for place in np.flatnonzero(bench.held_rightly.speed_hz > bearable)]
    lost = f"; {len(short)} of {len(bench.cases)} cases are then not held, such as {short[0]}" if short else "; every case stays held"
    limit = f"a highest speed of {bearable:.0f} Hz harms nothing{lost}" if bearable > lowest else "no highest speed helps"
    make = wrong if bench.smoke_control else attention
    yield replace(
        make(
            f"At full speed a place has too much of the fan: {said}",
            f"{highest:g} Hz",
            "a lost signal, a wrong action, a hand on the drive or the fire service's switch sends the fan there",
            NETWORK,
            f"{limit}; or a relief damper that holds it at full speed",
        ),
        possible=True,
    )


def highest_without_harm_hz(bench):
    """The highest speed up to which no place has too much in any settled case [Hz]; 0 where it has at the lowest already."""
    speeds = bench.curves.speed_hz
    good = np.array([bench.bears(bench.at_speed(speed), bench.settled).all() for speed in speeds])
    bad = np.flatnonzero(~good & (speeds >= bench.speed_limits_hz[0]))
    return float(speeds[-1] if not bad.size else speeds[max(int(bad[0]) - 1, 0)])


def whose_full_speed(bench):
    """A highest speed that keeps every case held is an entry; where there is none, damper, doors or fan must change."""
    if bench.full_speed is not None:
        return BUILDING if np.isnan(bench.full_speed.safe_hz) or bench.full_speed.lost() else STRATEGY
    return STRATEGY if bench.held_rightly.speed_hz.max() <= highest_without_harm_hz(bench) else BUILDING


def lowest_speed_too_high(bench, system):
    """At the lowest speed the drive allows, a place has too much that at standstill has not."""
    slowest = bench.speed_limits_hz[0]
    cases = bench.settled & bench.bears(bench.at_speed(0.0), bench.settled)
    said = bench.too_much(bench.at_speed(slowest), cases, system)
    if said:
        yield wrong(
            f"The lowest speed is above what the limits allow: {said}",
            f"{slowest:g} Hz",
            "the loop cannot slow down any further",
            NETWORK,
            "a lower lowest speed, or a relief damper",
        )


def shaft_power_w(bench, speed_hz):
    """Power at the motor's shaft by case [W] at a speed: what the mains give, less the losses of drive and motor."""
    fan = bench.site.fan
    return bench.at_speed(speed_hz).power_w * fan.drive_efficiency * fan.motor_efficiency


def motor_overloaded(bench, system):
    """At the highest speed the motor gives more than its plate says."""
    fan, highest = bench.site.fan, bench.speed_limits_hz[1]
    powers = shaft_power_w(bench, highest)
    case = int(powers.argmax())
    if powers[case] <= fan.motor_power_w:
        return
    taken, plate = (units.show(value, "power", system, 1) for value in (powers[case], fan.motor_power_w))
    speeds = np.linspace(bench.speed_limits_hz[0], highest, 100)
    bearable = max((speed for speed in speeds if shaft_power_w(bench, speed).max() <= fan.motor_power_w), default=0.0)
    running = shaft_power_w(bench, bench.held.speed_hz)
    now = bool((running > fan.motor_power_w).any())
    yield replace(
        wrong(
            "At the highest speed the motor is overloaded",
            f"{taken} of {plate} at {highest:g} Hz ({bench.cases[case].name})",
            "the drive trips or holds the speed back, just when all air is asked for; a motor's power rises with the cube of the speed",
            f"{NETWORK}; one efficiency at all loads",
            _motor_bears(bench, float(np.floor(bearable))),
        ),
        possible=not now,
    )


def _motor_bears(bench, bearable_hz):
    """A highest speed that the motor bears, and never one at which a place has too much of the fan: those decide first."""
    full = bench.full_speed
    if full is None:
        safe = highest_without_harm_hz(bench)
        return f"a highest speed of {min(bearable_hz, np.floor(safe)):.0f} Hz, or a larger motor"
    if not full.limited or bearable_hz <= full.safe_hz:
        return f"a highest speed of {bearable_hz:.0f} Hz, or a larger motor"
    return f"the doors decide first, a larger motor would only jam them: {full.cure()}"


def ramp_down_too_fast(bench, system):
    """The ramp down asks the wheel to slow faster than the air slows it, and no brake is there."""
    found = bench.ramp_down
    if found is None or found.safe is not False or not bench.smoke_control:
        return
    box = found.shortest_s
    make = wrong if found.own_s < box.low else attention
    yield replace(
        make(
            "The ramp down is faster than the air slows the wheel, and no brake is stated",
            f"{found.own_s:g} s; without a brake {box.low:.0f}, {box.likely:.0f} or {box.high:.0f} s for a light, likely or heavy wheel",
            "the wheel drives the motor: the drive stretches the ramp, and the doors stay heavy for longer, or it trips in a fire",
            box.source,
            f"a ramp down of {np.ceil(box.high / 5) * 5:.0f} s (or as the wheel's inertia asks), or a brake resistor; find it on site",
        ),
        possible=True,
    )


def ramp_down_unstated(bench, system):
    """One ramp is entered for both ways, and a wheel cannot be slowed as it is sped up."""
    if bench.smoke_control and bench.strategy.loop.ramp_down_s is None and bench.stated.fan.ramp_down_s is None:
        yield attention(
            "No ramp down is stated: the drive takes the one up",
            f"{bench.site.fan.ramp_s:g} s both ways",
            "a fan slows by its own air power, and faster only with a brake; the drive stretches the ramp or trips on its bus voltage",
            PRACTICE,
            "a ramp down that the wheel and the air can follow, found from the inertia and tried on site",
        )


KINDS = (
    Kind("full speed", "a door that cannot be opened at full speed", full_speed, whose_full_speed),
    Kind("lowest speed", "a lowest speed above what the limits allow", lowest_speed_too_high),
    Kind("motor", "a highest speed at which the motor is overloaded", motor_overloaded),
    Kind("ramp down", "a ramp down that the wheel cannot follow", ramp_down_too_fast),
    Kind("ramp down unstated", "one ramp for both ways", ramp_down_unstated),
)
