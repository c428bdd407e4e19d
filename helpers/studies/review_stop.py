"""Review of the low-demand stop: never in smoke control, whatever a strategy calls itself; elsewhere when nobody asks, and only then."""

import numpy as np

from helpers import units
from helpers.formulas import low_demand as low_demands
from helpers.studies.figures import NETWORK
from helpers.studies.review_kinds import Kind
from helpers.studies.review_words import attention, pa, wrong

__all__ = ["KINDS"]

MOST_HZ = 400.0  # of any drive here, where no duty is known
MARGIN_HZ = 1.0  # kept to both ends of the window, as in the study of the low-demand stop


def in_fire(bench, system):
    """A low-demand stop in smoke control."""
    stop = bench.strategy.low_demand
    if stop and bench.smoke_control:
        yield wrong(
            "A low-demand stop is set on a fan that serves smoke control",
            f"below {stop.stop_below_hz:g} Hz for {stop.stop_after_s:g} s the fan stops",
            "a stair fan that stops in a fire lets the smoke in",
            "life safety: no energy function stops it; only a smoke detector in its supply (NFPA 92, memory), the drive's own protection "
            "and the fire service may; the local code and the authority having jurisdiction decide",
            "take the low-demand stop out",
        )


def mode_of_site(bench, system):
    """The strategy takes the fan for one of comfort where the site has it for smoke control, or the other way round."""
    own, site = bench.strategy.mode == "smoke control", bench.stated.control.fire_mode
    if own == site:
        return
    make, words = (wrong, ("comfort", "smoke control")) if site else (attention, ("smoke control", "comfort"))
    yield make(
        f"The strategy is for {words[0]}, and the site's fan serves {words[1]}",
        f"{words[0]} in the strategy, {words[1]} in the site file",
        "the site decides: what smoke control forbids stays forbidden, whatever a strategy calls itself",
        "site file",
        f"mode = {words[1]!r} in the strategy, or a site file that says what the fan is for".replace("'", '"'),
    )


def never_stops(bench, system):
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


def cycles(bench, system):
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


def deficit_too_deep(bench, system):
    """The restart waits until the pressure is below what the doors need."""
    stop, *_ = _asked(bench)
    least = bench.window.least_pa
    if not stop or least is None:
        return
    left = bench.set_point - stop.restart_deficit_pa
    if left < least:
        yield wrong(
            "The restart waits until the pressure is below the least that the doors need",
            f"starts at {pa(left, system)}, least {pa(least, system)}",
            f"for {stop.restart_after_s:g} s and the run-up more there is too little",
            "settings of the strategy",
            f"a deficit of {pa(max(bench.set_point - least, 0.0), system)} or less",
        )


def too_many_starts(bench, system):
    """The timers let through more starts than the motor bears."""
    stop, *_ = _asked(bench)
    power = bench.site.fan.motor_power_w
    sizes = [row[0] * low_demands.WATTS_PER_HORSEPOWER for row in low_demands.NEMA_MG10_STARTS]
    if not stop or not sizes[0] <= power <= sizes[-1] or stop.stop_after_s + stop.restart_after_s == 0:
        return
    fastest = float(low_demands.fastest_cycles_per_hour(stop.stop_after_s, stop.restart_after_s, bench.site.fan.ramp_s))
    allowed = float(low_demands.starts_allowed(power).per_hour)
    if fastest > allowed:
        rest = 3600 / allowed - stop.stop_after_s - bench.site.fan.ramp_s
        yield attention(
            "The timers let through more starts than the motor bears across the line",
            f"{fastest:.0f} an hour, {allowed:.0f} an hour for {units.show(power, 'power', system)}",
            "a drive starts gently, but the figure is one to stay under",
            "NEMA MG 10-2001 table 2-3",
            f"a restart only after {max(rest, 0.0):.0f} s, or a call from a clock or a contact",
        )


def without_leave(bench, system):
    """A fan that takes gas away stops for low demand, and nobody has given leave."""
    stop = bench.strategy.low_demand
    if stop and bench.dimension == "concentration" and not bench.strategy.stop_agreed_with:
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


KINDS = (
    Kind("stop without leave", "a stop of a fan that takes gas away, without the code's leave", without_leave, absent=_no_stop_set),
    Kind("stop in fire", "a low-demand stop in smoke control", in_fire, absent=_no_stop_set),
    Kind("mode", "a strategy for comfort on a fan that serves smoke control", mode_of_site),
    Kind("never stops", "a stop threshold that is never reached", never_stops, absent=_no_stop_set),
    Kind("cycles", "a stop threshold above the lowest steady duty", cycles, absent=_no_stop_set),
    Kind("deficit too deep", "a restart that waits below the least pressure", deficit_too_deep, stairs_only=True, absent=_no_stop_set),
    Kind("too many starts", "timers that let through too many starts", too_many_starts, absent=_no_stop_set),
)
