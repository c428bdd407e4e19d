"""Pressure tubes of a transmitter: how late and how slowly a change at the open end arrives at the instrument."""

import numpy as np

from helpers.formulas import require
from helpers.formulas.air import R_DRY_AIR

__all__ = ["AIR_VISCOSITY_PA_S", "INSTRUMENT_M3", "line_resistance", "speed_of_sound", "travel_time", "tube_lag"]

AIR_VISCOSITY_PA_S = 1.82e-5  # of air at 20 °C; from memory, not verified
INSTRUMENT_M3 = 1e-5  # air inside a transmitter and its fittings; common practice, no source
GAMMA = 1.4  # ratio of the specific heats of air


def line_resistance(length_m, bore_m, viscosity_pa_s=AIR_VISCOSITY_PA_S):
    """Pressure that laminar flow through a round tube costs, per flow.

    length_m zero or more [m], bore_m inner diameter [m], viscosity_pa_s [Pa s]; broadcast. Returns [Pa s/m3].
    Equation: 128 mu L / (pi d^4), Hagen and Poiseuille. Source: any textbook of fluid mechanics; from memory, not verified.
    Limits: laminar, which the little air is that an instrument breathes; no bends, valves or snubbers, no water in the tube.
    Raises ValueError for a length below zero, a bore or viscosity that is not positive.

    >>> print(f"{line_resistance(10.0, 0.004):.3g} Pa s/m3")
    2.9e+07 Pa s/m3
    """
    length, bore = require.at_least(0, length_m=length_m), require.positive(bore_m=bore_m)
    return require.finite(resistance=128 * require.positive(viscosity_pa_s=viscosity_pa_s) * length / (np.pi * bore**4))


def tube_lag(length_m, bore_m, instrument_m3=INSTRUMENT_M3, pressure_pa=101325.0, viscosity_pa_s=AIR_VISCOSITY_PA_S):
    """Time constant with which the air of tube and instrument fills through the tube.

    length_m [m], bore_m [m], instrument_m3 air inside the instrument [m3], pressure_pa of the air [Pa absolute]; broadcast. Returns [s].
    Equation: R (V_tube / 2 + V_instrument) / p. The tube's own air lies along its resistance, so that half of it counts: this is the mean
    time of the step answer of a line whose resistance and volume are spread evenly (Elmore's delay; from memory, not verified; checked
    against the line in many pieces in the tests). Isothermal: in a thin tube the wall keeps the air's temperature.
    Limits: a lag only. Where tube_lag is well below travel_time the tube is wide and the pressure may ring in it instead of creeping;
    water, kinks, snubbers and valves make it many times longer, and no formula knows them.

    >>> print(f"{tube_lag(10.0, 0.004):.3f} s, with 30 m {tube_lag(30.0, 0.004):.2f} s, with 30 m of 3 mm {tube_lag(30.0, 0.003):.2f} s")
    0.021 s, with 30 m 0.17 s, with 30 m of 3 mm 0.31 s
    """
    resistance = line_resistance(length_m, bore_m, viscosity_pa_s)
    tube = np.pi / 4 * np.asarray(bore_m, float) ** 2 * np.asarray(length_m, float)
    volume = tube / 2 + require.at_least(0, instrument_m3=instrument_m3)
    return require.finite(tube_lag_s=resistance * volume / require.positive(pressure_pa=pressure_pa))


def speed_of_sound(temp_c=20.0):
    """Speed of sound in air [m/s] at a temperature [°C]; broadcasts. Equation: sqrt(gamma R T), gamma 1.4, dry air.

    >>> print(f"{speed_of_sound():.0f} m/s")
    343 m/s
    """
    return np.sqrt(GAMMA * R_DRY_AIR * (require.between(-100, 200, temp_c=temp_c) + 273.15))


def travel_time(length_m, temp_c=20.0):
    """Dead time of a tube [s]: no change arrives before sound does. length_m [m], temp_c [°C]; broadcast.

    >>> print(f"{travel_time(30.0):.3f} s")
    0.087 s
    """
    return require.at_least(0, length_m=length_m) / speed_of_sound(temp_c)
