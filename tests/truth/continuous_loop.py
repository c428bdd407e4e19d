"""The loop of controller, drive, transmitter and input as differential equations, for scipy's solve_ivp. Used by tests only.

sensed' = (p - sensed) / 0.1 s          the transmitter's lag
filtered' = (sensed - filtered) / Tf    the input's filter
u = K e + i, held between its limits    e in per cent of span, none inside the dead band
i' = K e / Ti                           nothing while u is at a limit and e presses on
speed' = within the ramp towards u
"""

import numpy as np
from scipy.integrate import solve_ivp


def answer(pressures_at, settings, fan, times_s, start_hz, sample_s, filter_s=0.5, lag_s=0.1, lowest_percent=20.0):
    """Combined reading [Pa] (the average) and speed [Hz] at the times. pressures_at(time, speed): the tubes' pressures."""
    ramp, sign = fan.reference_speed_hz / fan.ramp_s, {"reverse": 1.0, "direct": -1.0}[settings.action]
    per_percent = fan.highest_speed_hz / 100

    def error(filtered):
        percent = sign * (settings.set_point_pa - filtered.mean()) / settings.span_pa * 100
        return percent if abs(percent) > settings.dead_band_percent else 0.0

    def rates(time, state):
        count = (len(state) - 2) // 2
        sensed, filtered, integral, speed = state[:count], state[count : 2 * count], state[-2], state[-1]
        e = error(filtered)
        free = settings.gain * e + integral
        asked = min(max(free, lowest_percent), 100.0)
        pressed = (free >= 100.0 and e > 0) or (free <= lowest_percent and e < 0)
        moving = min(max((asked * per_percent - speed) / sample_s, -ramp), ramp)
        pressure = np.asarray(pressures_at(time, speed))
        return [
            *(pressure - sensed) / lag_s,
            *(sensed - filtered) / filter_s,
            0.0 if pressed else settings.gain * e / settings.integral_s,
            moving,
        ]

    first = np.asarray(pressures_at(0.0, start_hz), float)
    begin = [*first, *first, start_hz / per_percent - settings.gain * error(first), start_hz]
    found = solve_ivp(rates, (0, times_s[-1]), begin, "RK23", t_eval=times_s, rtol=1e-4, atol=1e-3, max_step=0.05)
    count = len(first)
    return found.y[count : 2 * count].mean(axis=0), found.y[-1]
