"""Review of the drive: highest and lowest speed, the motor's load, the way down, the return of the mains; and of the low-demand stop: never
in smoke control, whatever a strategy calls itself; elsewhere when nobody asks, and only then. Of any plant.
"""

from dataclasses import replace

import numpy as np

from helpers.formulas import low_demand as low_demands
from helpers.record.review.kinds import BUILDING, STRATEGY, Kind, attention, pa, ramps_too_steep, whose_later, whose_mode, wrong
from helpers.record.standing import mode_found
from helpers.studies.duty.fan_needed import slower_said
from helpers.studies.duty.full_speed import EXIT_AT_FULL_SPEED, EXIT_GOVERNS
from helpers.studies.duty.permissible_speed import speed_entered
from helpers.studies.report import NETWORK, PRACTICE
from helpers.studies.tuning.findings import ramps_offered
from helpers.units.said import with_unit

# Preferred outputs of motors, IEC 60072-1 (memory, not verified).
MOTORS_KW = (0.75, 1.1, 1.5, 2.2, 3, 4, 5.5, 7.5, 11, 15, 18.5, 22, 30, 37, 45, 55, 75, 90, 110, 132, 160)


def full_speed(bench):
    """At the highest speed, where a lost signal, a hand or the fire service may send the fan, a place has too much."""
    if bench.full_speed is not None:
        told = (one for one in bench.full_speed.findings() if one.severity in ("wrong", "attention"))
        told = (one for one in told if one.key not in (EXIT_AT_FULL_SPEED, EXIT_GOVERNS))  # the final exit door's own review tells of that
        yield from (replace(one, possible=True) for one in told)
        return
    highest = bench.speed_limits_hz[1]
    said = bench.too_much(bench.at_speed(highest), bench.settled)
    if not said:
        return
    bearable, lowest = np.floor(highest_without_harm_hz(bench)), bench.speed_limits_hz[0]
    limit = highest_said(bench, bearable) if bearable > lowest else "no highest speed helps"
    yield replace(
        wrong(
            f"At full speed a place has too much of the fan: {said}",
            f"{highest:g} Hz",
            "a lost signal, a wrong action, a hand on the drive or the fire service's panel sends the fan there",
            NETWORK,
            f"{limit}; no relief damper was tried",
        ),
        possible=True,
    )


def highest_said(bench, speed_hz):
    """A highest speed as a remedy, in words; that it is none where a case that has to be held is lost by it."""
    lost = [bench.cases[place].name for place in np.flatnonzero(bench.required & (bench.needed_hz > speed_hz))]
    if not lost:
        return f"a highest speed of {speed_hz:.0f} Hz, at which every case that has to be held stays so"
    return f"a highest speed is no remedy: at {speed_hz:.0f} Hz {len(lost)} of {len(bench.cases)} cases are not held, such as {lost[0]}"


def highest_speed_too_low(bench):
    """The highest speed that is entered holds the fan back from a set point that it would hold at the site's own."""
    if not bench.held_back.any():
        return
    required = bench.held_back & bench.required
    make, cases = (wrong, required) if required.any() else (attention, bench.held_back)
    site, out = bench.as_the_site_runs, np.flatnonzero(cases)
    worst = out[np.abs(bench.held.display_pa[out] - bench.set_point).argmax()]
    more = f", and in {out.size - 1} more case{'s' * (out.size > 2)}" if out.size > 1 else ""
    doors, full, needed = bench.worst_out([bench.held], cases), site.full_speed, float(site.held.speed_hz[out].max())
    own = site.speed_limits_hz[1]
    bears = own if full is None or not full.limited or np.isnan(full.safe_hz) else min(own, full.safe_hz)
    jams = "" if full is None or bears >= needed else f"; above {bears:.1f} Hz a door passes its limit: {full.cure()}"
    yield make(
        f"The highest speed that is entered is too low: {bench.cases[worst].name} is not held{more}",
        f"{bench.fine(bench.held.display_pa[worst])} of {bench.fine(bench.set_point)} at {bench.speed_limits_hz[1]:g} Hz, "
        f"where the site's own fan holds it{f'; {doors}' if doors else ''}",
        "the entry and not the fan leaves the doors short, and fallback and override with them",
        f"{NETWORK}; site file",
        f"a highest speed of {bears if bears >= needed else needed:.1f} Hz, {needed:.1f} Hz hold these cases{jams}",
    )


def highest_without_harm_hz(bench):
    """The highest speed up to which no place has too much in any settled case [Hz]; 0 where it has at the lowest already."""
    speeds = bench.curves.speed_hz
    good = bench.bears(bench.at_speed(speeds[:, None]), bench.settled).all(axis=-1)
    bad = np.flatnonzero(~good & (speeds >= bench.speed_limits_hz[0]))
    return float(speeds[-1] if not bad.size else speeds[max(int(bad[0]) - 1, 0)])


def whose_full_speed(bench):
    """A highest speed that keeps every case held is an entry; where there is none, damper, doors or fan must change."""
    if bench.full_speed is not None:
        cap_hz = bench.full_speed.cap_hz  # at the entry itself: what then fails is what the doors rest on
        return BUILDING if cap_hz is None or cap_hz >= bench.full_speed.full_hz else STRATEGY
    return BUILDING if (bench.required & (bench.needed_hz > highest_without_harm_hz(bench))).any() else STRATEGY


def lowest_speed_too_high(bench):
    """At the lowest speed the drive allows, a place has too much that at standstill has not."""
    slowest = bench.speed_limits_hz[0]
    cases = bench.settled & bench.bears(bench.at_speed(0.0), bench.settled)
    said = bench.too_much(bench.at_speed(slowest), cases)
    if said:
        yield wrong(
            f"The lowest speed is above what the limits allow: {said}",
            f"{slowest:g} Hz",
            "the loop cannot slow down any further",
            NETWORK,
            lower_lowest(bench, cases) or "no lower lowest speed helps, other places are then left short; a relief damper was not tried",
        )


def lower_lowest(bench, cases):
    """What a lower lowest speed would do, in words: the speed at which the loop holds its set point with every place of these cases inside
    its limits; where it does not, one at which those that have too much are inside; "" where there is none, or no case."""
    slower = bench.held_slower
    if cases.any() and (bench.inside(slower) & (slower.state == "held"))[cases].all():
        return slower_said(np.floor(slower.speed_hz[cases].min()))
    speeds, cases = bench.curves.speed_hz, cases & ~bench.bears(bench.at_speed(bench.speed_limits_hz[0]), cases)
    good = bench.inside(bench.at_speed(speeds[:, None]))[:, cases].all(axis=-1)
    lower = speeds[good & (speeds > 0) & (speeds < bench.speed_limits_hz[0])]
    return f"a lowest speed of {lower.max():.0f} Hz or less, if the motor's cooling allows it" if lower.size and cases.any() else ""


def shaft_power_w(bench, speed_hz):
    """Power at the motor's shaft by case [W] at a speed: what the mains give, less the losses of drive and motor."""
    fan = bench.site.fan
    return bench.at_speed(speed_hz).power_w * fan.drive_efficiency * fan.motor_efficiency


def motor_overloaded(bench):
    """At the highest speed the motor gives more than its plate says."""
    fan, highest = bench.site.fan, bench.speed_limits_hz[1]
    powers = shaft_power_w(bench, highest)
    case = int(powers.argmax())
    if powers[case] <= fan.motor_power_w:
        return
    taken, plate = (with_unit(value, "power", 1) for value in (powers[case], fan.motor_power_w))
    speeds = np.linspace(bench.speed_limits_hz[0], highest, 100)
    bearable = speeds[shaft_power_w(bench, speeds[:, None]).max(axis=-1) <= fan.motor_power_w].max(initial=0.0)
    now = bool((shaft_power_w(bench, bench.held.speed_hz) > fan.motor_power_w).any())
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
    """What was tried for a motor: a highest speed that it bears, never one at which a place has too much; the next size; another fan."""
    full, fan, highest = bench.full_speed, bench.site.fan, bench.speed_limits_hz[1]
    size = next((kw for kw in MOTORS_KW if 1000 * kw >= shaft_power_w(bench, highest).max()), None)
    motor = "no usual motor bears it" if size is None else f"a motor of {with_unit(1000 * size, 'power', 1)} bears {highest:g} Hz"
    asked = bench.required & np.isfinite(bench.needed_hz)
    duty = shaft_power_w(bench, np.where(asked, bench.needed_hz, 0.0))[asked].max(initial=0.0)
    larger = f"a larger fan, slower, takes for the same air what this one does, {with_unit(duty, 'power', 1)}"
    larger += ", which the plate bears too" if duty <= fan.motor_power_w else ": no remedy"
    if full is None or not full.limited or bearable_hz <= full.safe_hz:
        safe = bearable_hz if full is not None else min(bearable_hz, np.floor(highest_without_harm_hz(bench)))
        return f"{highest_said(bench, safe)}; or {motor}; {larger}"
    none = "no remedy was found: " if full.cap_hz is None else ""
    return f"{none}the doors decide first: {full.cure()}; {motor}, and would only jam them; {larger}"


def ramp_down_too_fast(bench):
    """The ramp down asks the wheel to slow faster than the air slows it, and no brake is there."""
    found = bench.ramp_down
    if found is None or found.safe is not False or not bench.smoke_control:
        return
    box = found.shortest_s
    yield replace(
        (wrong if found.too_fast else attention)(
            "The ramp down is faster than the air slows the wheel, and no brake is stated",
            f"{found.own_s:g} s; without a brake {_wheels_said(box)}",
            "the wheel drives the motor: the drive stretches the ramp, and the doors stay heavy for longer, or it trips in a fire",
            box.source,
            f"{ramps_offered(bench.site, bench.tuning, found)[1]}, or a brake resistor; see on site",
        ),
        possible=True,
    )


def _wheels_said(box):
    """The shortest ramp down by the wheel's box, in words: one figure where its inertia is stated."""
    times = [f"{seconds:.0f}" for seconds in (box.low, box.likely, box.high)]
    return f"{times[0]} s" if len(set(times)) == 1 else f"{times[0]}, {times[1]} or {times[2]} s for a light, likely or heavy wheel"


def ramp_down_unstated(bench):
    """One ramp is entered for both ways, and a wheel cannot be slowed as it is sped up."""
    if bench.smoke_control and bench.strategy.loop.ramp_down_s is None and bench.stated.fan.ramp_down_s is None:
        yield attention(
            "No ramp down is stated: the drive takes the one up",
            f"{bench.site.fan.ramp_s:g} s both ways",
            "a fan slows by its own air power, and faster only with a brake; the drive stretches the ramp or trips on its bus voltage",
            PRACTICE,
            f"{ramps_offered(bench.site, bench.tuning, bench.ramp_down)[1] or 'one that wheel, motor and brake can follow'}; see on site",
        )


def restart_by_hand(bench):
    """After a loss of mains the fan waits for a hand, or runs into a wheel that still turns."""
    restart = bench.strategy.restart
    if not bench.smoke_control:
        return
    if restart is None:
        yield attention(
            "Nothing is stated for the return of the mains",
            "none",
            "with a standby source the fan stays off until somebody starts it",
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


KINDS = (
    Kind("full speed", "a door that cannot be opened at full speed", full_speed, whose_full_speed),
    Kind("highest speed", "a highest speed too low for what the fan could hold", highest_speed_too_low),
    Kind("beyond the site", "a highest speed beyond the site's own, or above the fan's curve",
         lambda bench: speed_entered(bench.stated.fan, bench.speed_limits_hz[1], bench.smoke_control)),
    Kind("lowest speed", "a lowest speed above what the limits allow", lowest_speed_too_high),
    Kind("motor", "a highest speed at which the motor is overloaded", motor_overloaded),
    Kind("ramp down", "a ramp down that the wheel cannot follow", ramp_down_too_fast),
    Kind("ramp loads", "ramps that ask too much of motor or brake", ramps_too_steep, whose_later),
    Kind("ramp down unstated", "one ramp for both ways", ramp_down_unstated),
    Kind("restart", "a fan that does not come back when the mains do", restart_by_hand),
)  # fmt: skip

MOST_HZ = 400.0  # of any drive here, where no duty is known
MARGIN_HZ = 1.0  # kept to both ends of the window, as in the study of the low-demand stop


def in_fire(bench):
    """A low-demand stop in smoke control."""
    stop = bench.strategy.low_demand
    if stop and bench.smoke_control:
        yield wrong(
            "A low-demand stop is set on a fan that serves smoke control",
            f"below {stop.stop_below_hz:g} Hz for {stop.stop_after_s:g} s the fan stops",
            "a stair fan that stops in a fire lets the smoke in",
            "life safety: no energy function stops it; only what the code names, such as a smoke detector in its supply, the drive's own "
            "protection and the fire service may; the local code and the authority having jurisdiction decide",
            "take the low-demand stop out",
        )


def mode_of_site(bench):
    """The strategy takes the fan for one of comfort where the site has it for smoke control, or the other way round."""
    own, site = bench.strategy.mode == "smoke control", bench.stated.control.fire_mode
    if own == site or bench.out_of_mode:
        yield from (mode_found(name) for name in filter(None, [bench.out_of_mode]))
        return
    make, words = (wrong, ("comfort", "smoke control")) if site else (attention, ("smoke control", "comfort"))
    yield make(
        f"The strategy is for {words[0]}, and the site's fan serves {words[1]}", f"{words[0]} in the strategy, {words[1]} in the site file",
        "the site decides: what smoke control forbids stays forbidden, whatever a strategy calls itself", "site file",
        f"mode = {words[1]!r} in the strategy, or a site file that says what the fan is for".replace("'", '"'),
    )  # fmt: skip


def never_stops(bench):
    """The threshold lies below the speed of the idle loop."""
    stop, idle, duty = _asked(bench)
    if not stop:
        return
    lowest = bench.speed_limits_hz[0]
    if stop.stop_below_hz <= lowest:
        yield wrong(
            "The stop threshold is never reached: it is not above the lowest speed of the drive",
            f"{stop.stop_below_hz:g} Hz, lowest {lowest:g} Hz",
            "the drive goes no slower",
            "settings of the strategy",
            _threshold(idle, duty),
        )
    elif stop.stop_below_hz <= idle:
        yield attention(
            "The fan never stops: the threshold is below the speed that just holds the set point with nobody asking",
            f"{stop.stop_below_hz:g} Hz, {idle:.1f} Hz with nobody asking",
            "nothing is saved",
            NETWORK,
            _threshold(idle, duty),
        )


def cycles(bench):
    """The threshold lies above the lowest steady duty."""
    stop, idle, duty = _asked(bench)
    if stop and stop.stop_below_hz >= duty:
        yield wrong(
            "The fan stops while it is needed, and cycles",
            f"{stop.stop_below_hz:g} Hz, the lowest steady duty runs at {duty:.1f} Hz",
            f"it stops, the {bench.held_words} is lost, and it starts again",
            NETWORK,
            _threshold(idle, duty),
        )


def deficit_too_deep(bench):
    """The restart waits until the pressure is below what the doors need."""
    stop, *_ = _asked(bench)
    least = bench.window.least_pa
    if not stop or least is None:
        return
    left = bench.set_point - stop.restart_deficit_pa
    if left < least:
        yield wrong(
            "The restart waits until the pressure is below the least that the doors need",
            f"starts at {pa(left)}, least {pa(least)}",
            f"for {stop.restart_after_s:g} s and the run-up more there is too little",
            "settings of the strategy",
            f"a deficit of {pa(max(bench.set_point - least, 0.0))} or less",
        )


def too_many_starts(bench):
    """The timers let through more starts than the motor bears; a way up counts for nothing, as a fan need not pass its threshold on it."""
    stop, *_ = _asked(bench)
    power = bench.site.fan.motor_power_w
    sizes = [row[0] * low_demands.WATTS_PER_HORSEPOWER for row in low_demands.NEMA_MG10_STARTS]
    if not stop or not sizes[0] <= power <= sizes[-1] or stop.stop_after_s + stop.restart_after_s == 0:
        return
    fastest = float(low_demands.fastest_cycles_per_hour(stop.stop_after_s, stop.restart_after_s))
    allowed = float(low_demands.starts_allowed(power).per_hour)
    if fastest > allowed:
        rest = int(np.ceil(3600 / allowed - stop.stop_after_s))
        yield attention(
            "The timers let through more starts than the motor bears across the line",
            f"{fastest:.1f} an hour, at most {allowed:.1f} an hour for {with_unit(power, 'power')}",
            "a drive starts gently, but the figure is one to stay under",
            "NEMA MG 10-2001 table 2-3",
            f"a restart only after {max(rest, 0)} s, or a call from a clock or a contact",
        )


def without_leave(bench):
    """A fan that takes gas away stops for low demand, and nobody has given leave."""
    stop = bench.strategy.low_demand
    if stop and bench.gas and not bench.strategy.stop_agreed_with:
        yield wrong(
            "A fan that takes gas away stops for low demand, and no leave is stated",
            f"below {stop.stop_below_hz:g} Hz for {stop.stop_after_s:g} s the fan stops",
            "many codes ask for a least flow at all times, whatever the readings say; a dead cell reads clean air",
            "life safety: the local code and the authority having jurisdiction decide",
            "take the stop out, or state in stop_agreed_with who gave leave in writing",
        )


def _asked(bench):
    """(the stop, highest speed with nobody asking, lowest with somebody asking [Hz]); no stop in smoke control, which has its own
    finding."""
    stop = bench.strategy.low_demand
    if not stop or bench.smoke_control:
        return None, 0.0, np.inf
    idle, speed = bench.idle, bench.held.speed_hz
    return (
        stop, float(speed[idle].max()) if idle.any() else bench.speed_limits_hz[0],
        float(speed[~idle].min()) if (~idle).any() else np.inf,
    )  # fmt: skip


def _threshold(idle_hz, duty_hz):
    low, high = low_demands.threshold_window(idle_hz, min(duty_hz, MOST_HZ), MARGIN_HZ)
    if low < high:
        return f"a threshold between {low:.1f} and {high:.1f} Hz"
    if idle_hz < duty_hz:
        return f"a threshold just between {idle_hz:.1f} and {duty_hz:.1f} Hz; better a clock or a contact, since they lie so near"
    return "no threshold is right here, since idle and lowest duty overlap: stop by a clock or a contact"


def _no_stop_set(bench):
    return "" if bench.strategy.low_demand else "no low-demand stop"


STOP_KINDS = (
    Kind("stop without leave", "a stop of a fan that takes gas away, unless the code allows it", without_leave, absent=_no_stop_set),
    Kind("stop in fire", "a low-demand stop in smoke control", in_fire, absent=_no_stop_set),
    Kind("mode", "a strategy for comfort on a fan that serves smoke control", mode_of_site, whose_mode),
    Kind("never stops", "a stop threshold that is never reached", never_stops, absent=_no_stop_set),
    Kind("cycles", "a stop threshold above the lowest steady duty", cycles, absent=_no_stop_set),
    Kind("deficit too deep", "a restart that waits below the minimum pressure", deficit_too_deep, stairs_only=True, absent=_no_stop_set),
    Kind("too many starts", "timers that let through too many starts", too_many_starts, absent=_no_stop_set),
)
