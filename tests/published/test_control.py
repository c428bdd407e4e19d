"""Tuning rules, margins, step answers and proportional band against published figures."""

import numpy as np
import pytest
from published import DEFINITION, DERIVED, ISA, MEMORY, SKOGESTAD, TEXT_BOOKS, Figure, names

from helpers.formulas import action, step_response, tuning
from helpers.formulas.tuning import LeastMargins, controller_response, frequency_response, largest_gain, margins

SIMC_TABLE_1, SIMC_TABLE_4 = (SKOGESTAD.at(f"table {n}") for n in (1, 4))
SIMC = SKOGESTAD.at("worked examples")

# The worked examples of SIMC: lags, leads (below zero: inverse response), and what the half rule is fed.
CHAINS = {
    "E1": ([1, 0.2], [0], dict(lags_s=[1, 0.2])),
    # Skogestad first takes the small lead 0.08 off the next longer lag, 0.2.
    "E2": ([2, 1, 0.4, 0.2, 0.05, 0.05, 0.05], [-0.3, 0.08], dict(lags_s=[2, 1, 0.4, 0.2 - 0.08, 0.05, 0.05, 0.05], inverse_s=0.3)),
    "1/(s+1)^4": ([1, 1, 1, 1], [0], dict(lags_s=[1, 1, 1, 1])),
    "E4": ([1, 0.2, 0.04, 0.008], [0], dict(lags_s=[1, 0.2, 0.04, 0.008])),
}


def simc(name):
    """SIMC's PI from the half rule, the closed loop as fast as the delay."""
    short = tuning.half_rule(**CHAINS[name][2])
    return tuning.simc_pi(1, short.lag_s, short.delay_s)


def simc_gain(name):
    return lambda: simc(name).gain


def simc_peak(name):
    lags, leads, _ = CHAINS[name]

    def loop(w):
        return controller_response(w, simc(name)) * frequency_response(w, 1, lags, leads_s=leads)

    return lambda: margins(loop, 10.0, min(lags)).peak_sensitivity


def first_order(figure):
    """SIMC on a lag of 5 s and a delay of 1 s, the integral time not yet cut short: the same margins for every such lag."""
    pi = tuning.simc_pi(1, 5, 1)
    return lambda: getattr(margins(lambda w: controller_response(w, pi) * frequency_response(w, 1, 5, 1), 5, 1), figure)


def integrating(figure):
    """SIMC on exp(-s)/s. The rule reads an integrator as a lag without end, of a gain as large."""
    pi = tuning.simc_pi(1e6, 1e6, 1)
    return lambda: getattr(margins(lambda w: controller_response(w, pi) * frequency_response(w, 1, 0, 1, integrators=1), 8, 1), figure)


def strongest(peak_sensitivity):
    """Largest gain of a PI on a lag of 5 s and a delay of 1 s, the integral time the lag: SIMC's table of its own gain, read backwards."""
    w = np.logspace(-3, 2, 2000)
    return lambda: largest_gain(w, frequency_response(w, 1, 5, 1), [5.0], LeastMargins(peak_sensitivity, 1.01, 0.0))[0]


def swinging(lags, delay=0.0):
    """Margins of a proportional loop of gain one: its gain margin is the gain at which it swings for ever."""
    return margins(lambda w: frequency_response(w, 1, lags, delay), 1.0, 1.0)


def risen_percent(times_tau):
    return lambda: 100 * step_response.step_answer(times_tau, [-1.0, 0.0], [0.0, 1.0], 1.0)


FIGURES = [
    Figure("SIMC, first order: gain margin", first_order("gain_margin"), "3.14", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, first order: phase margin [degrees]", first_order("phase_margin_deg"), "61.4", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, first order: peak sensitivity", first_order("peak_sensitivity"), "1.59", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, first order: crossover x delay", first_order("crossover_rad_s"), "0.50", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, first order: phase crossover x delay", first_order("phase_crossover_rad_s"), "1.57", SIMC_TABLE_1, MEMORY),
    Figure("strongest PI of sensitivity 1.59, first order: gain", strongest(1.59), "2.5", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, integrating: phase margin [degrees]", integrating("phase_margin_deg"), "46.9", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, integrating: peak sensitivity", integrating("peak_sensitivity"), "1.70", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, integrating: crossover x delay", integrating("crossover_rad_s"), "0.51", SIMC_TABLE_1, MEMORY),
    Figure("SIMC, integrating: phase crossover x delay", integrating("phase_crossover_rad_s"), "1.49", SIMC_TABLE_1, MEMORY),
    Figure("SIMC PI gain, E1", simc_gain("E1"), "5.5", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, E1", simc_peak("E1"), "1.56", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PI peak sensitivity, E2", simc_peak("E2"), "1.66", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PI gain, 1/(s+1)^4", simc_gain("1/(s+1)^4"), "0.30", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, 1/(s+1)^4", simc_peak("1/(s+1)^4"), "1.46", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PI gain, four spread lags", simc_gain("E4"), "3.72", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, four spread lags", simc_peak("E4"), "1.59", SIMC_TABLE_4, MEMORY),
    Figure("half-rule delay, E2", lambda: tuning.half_rule(**CHAINS["E2"][2]).delay_s, "1.47", SIMC, MEMORY),
    Figure(
        "ultimate frequency, exp(-s)/(s+1) [rad/s]",
        lambda: margins(lambda w: frequency_response(w, 1, 1, 1), 1, 1).phase_crossover_rad_s,
        "2.03",
        TEXT_BOOKS,
        MEMORY,
    ),
    Figure("ultimate gain, 1/(s+1)^4", lambda: swinging([1] * 4).gain_margin, "4", DEFINITION, DERIVED, allowed=1e-6),
    Figure("ultimate period, 1/(s+1)^4 [s]", lambda: 2 * np.pi / swinging([1] * 4).phase_crossover_rad_s, "6.283", DEFINITION, DERIVED),
    Figure("ultimate gain, 1/(s+1)^3", lambda: swinging([1] * 3).gain_margin, "8", TEXT_BOOKS, MEMORY, allowed=1e-6),
    Figure("ultimate period, 1/(s+1)^3 [s]", lambda: 2 * np.pi / swinging([1] * 3).phase_crossover_rad_s, "3.63", TEXT_BOOKS, MEMORY),
    Figure("ultimate gain, exp(-s)/(s+1)", lambda: swinging([1], 1).gain_margin, "2.26", TEXT_BOOKS, MEMORY),
    Figure("first order after 1 time constant [%]", risen_percent(1), "63.2", TEXT_BOOKS, MEMORY),
    Figure("first order after 2 time constants [%]", risen_percent(2), "86.5", TEXT_BOOKS, MEMORY),
    Figure("first order after 3 time constants [%]", risen_percent(3), "95.0", TEXT_BOOKS, MEMORY),
    Figure("first order after 4 time constants [%]", risen_percent(4), "98.2", TEXT_BOOKS, MEMORY),
    Figure("proportional band of gain 2 [%]", lambda: action.proportional_band(2), "50", ISA, MEMORY, allowed=1e-9),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_control_agrees_with_the_published_figure(figure):
    figure.check()
