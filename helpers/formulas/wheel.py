"""A turning fan wheel: the energy in it, how it coasts when the air alone brakes it, and how quickly a drive without brake may slow it.

The air takes power as the cube of the speed (similarity laws), so that a coasting wheel slows as 1 / (1 + t / tau).
"""

import numpy as np

from helpers.formulas import require

__all__ = [
    "SLIP",
    "angular_speed",
    "coasting_speed",
    "coasting_time",
    "coasting_time_constant",
    "kinetic_energy",
    "shortest_ramp_down",
]

SLIP = 1 / 30  # of a loaded induction motor: 1450 rpm of 1500; common practice, no source


def angular_speed(frequency_hz, motor_poles, slip=SLIP):
    """Speed of an induction motor's shaft.

    frequency_hz of the drive [Hz], motor_poles (2, 4, 6 ...), slip [-]; broadcast. Returns [rad/s].
    Equation: 4 pi f (1 - slip) / poles. Source: any textbook of electrical machines; from memory, not verified.
    Limits: slip taken as the same part at every speed.
    Raises ValueError for a frequency below zero, fewer than two poles, slip beyond 0 to 1.

    >>> print(f"{angular_speed(50.0, 4) * 60 / (2 * 3.14159265):.0f} rpm")
    1450 rpm
    """
    frequency, poles = require.at_least(0, frequency_hz=frequency_hz), require.at_least(2, motor_poles=motor_poles)
    return 4 * np.pi * frequency * (1 - require.between(0, 1, slip=slip)) / poles


def kinetic_energy(inertia_kg_m2, speed_rad_s, to_speed_rad_s=0.0):
    """Energy that a wheel gives back when it slows from one speed to another.

    inertia_kg_m2 at the motor's speed (through belts: inertia times the square of the ratio) [kg m2], speeds [rad/s]; broadcast.
    Returns [J], below zero where it speeds up. Equation: J (w1^2 - w2^2) / 2. Raises ValueError for an inertia that is not positive.

    >>> fast, slow = angular_speed(50.0, 4), angular_speed(24.0, 4)
    >>> print(f"{kinetic_energy(1.5, fast, slow) / 1000:.1f} kJ")
    13.3 kJ
    """
    inertia = require.positive(inertia_kg_m2=inertia_kg_m2)
    speed, to_speed = require.at_least(0, speed_rad_s=speed_rad_s), require.at_least(0, to_speed_rad_s=to_speed_rad_s)
    return require.finite(energy_j=inertia / 2 * (speed**2 - to_speed**2))


def coasting_time_constant(inertia_kg_m2, speed_rad_s, shaft_power_w):
    """Time in which a coasting wheel falls to half of its speed.

    inertia_kg_m2 [kg m2], speed_rad_s at the start [rad/s], shaft_power_w that the air takes at that speed [W]; broadcast. Returns [s].
    Equation: tau = J w0^2 / P0, from J w dw/dt = -P0 (w/w0)^3. Raises ValueError for what is not positive.
    Limits: a power that goes with the cube of the speed (dampers and set pressures change that); friction and the motor's losses, which
    slow the wheel as well, left out: a real wheel stops sooner.

    >>> print(f"{coasting_time_constant(1.5, angular_speed(50.0, 4), 3700.0):.1f} s")
    9.3 s
    """
    inertia, speed = require.positive(inertia_kg_m2=inertia_kg_m2), require.positive(speed_rad_s=speed_rad_s)
    return require.finite(tau_s=inertia * speed**2 / require.positive(shaft_power_w=shaft_power_w))


def coasting_speed(time_s, speed, tau_s):
    """Speed of a coasting wheel after a time: speed / (1 + t / tau), in the unit of the speed at the start; broadcasts.

    time_s zero or more [s], tau_s of `coasting_time_constant` at that speed [s]. Limits as there.

    >>> print(f"{coasting_speed(9.4, 50.0, 9.4):.0f} Hz")
    25 Hz
    """
    return require.at_least(0, speed=speed) / (1 + require.at_least(0, time_s=time_s) / require.positive(tau_s=tau_s))


def coasting_time(speed, to_speed, tau_s):
    """Time in which a coasting wheel falls from one speed to a lower one: tau (speed / to_speed - 1) [s]; broadcasts.

    speed, to_speed in the same unit, tau_s at `speed` [s]. Raises ValueError where the lower one is not positive or is the higher.

    >>> print(f"{coasting_time(50.0, 24.0, 9.4):.1f} s")
    10.2 s
    """
    fast, slow = require.positive(speed=speed), require.positive(to_speed=to_speed)
    require.at_least(0, **{"speed less to_speed": fast - slow})
    return require.finite(time_s=require.positive(tau_s=tau_s) * (fast / slow - 1))


def shortest_ramp_down(inertia_kg_m2, speeds_rad_s, taken_w, reference_rad_s):
    """Shortest straight ramp from the reference speed to standstill at which the wheel gives nothing back that has to go anywhere.

    inertia_kg_m2 [kg m2], one or [...]; speeds_rad_s (n,) that the ramp passes [rad/s]; taken_w (n,) or (..., n): what air and losses
    take at each of them [W]; reference_rad_s [rad/s]. Returns [s], one or [...]; inf where nothing is taken.
    Equation: the largest of J w w_ref / P(w). At the slow end the air takes least, and the ramp is decided there.
    Raises ValueError for an inertia, speed or reference that is not positive, a power below zero.
    Limits: what a brake resistor, or the motor made to waste it, could take is not in it.

    >>> import numpy as np
    >>> speeds = angular_speed(np.array([50.0, 40.0, 24.0]), 4)
    >>> print(f"{float(shortest_ramp_down(1.5, speeds, 3700.0 * (speeds / speeds[0]) ** 3, speeds[0])):.0f} s")
    41 s
    """
    inertia, speeds = require.positive(inertia_kg_m2=inertia_kg_m2), require.positive(speeds_rad_s=speeds_rad_s)
    taken, reference = require.at_least(0, taken_w=taken_w), require.positive(reference_rad_s=reference_rad_s)
    with np.errstate(divide="ignore"):
        return (inertia[..., None] * speeds * reference / taken).max(axis=-1)
