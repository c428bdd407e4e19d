"""Tuning rules, margins, step answers and proportional band against published figures."""

import numpy as np
import pytest
from published import (
    ASTROM_HAGGLUND,
    DEFINITION,
    DERIVED,
    EN_12101_6,
    ISA,
    MEMORY,
    OGATA,
    SEBORG,
    SKOGESTAD,
    TEXT_BOOKS,
    ZIEGLER_NICHOLS,
    Figure,
    names,
)

from helpers.formulas import action, signals, step_response, tuning
from helpers.formulas.frequency import Asked, controller_response, frequency_response, largest_gain, margins, ultimate

SIMC_TABLE_1, SIMC_TABLE_4 = (SKOGESTAD.at(f"table {n}") for n in (1, 4))
SIMC = SKOGESTAD.at("worked examples")
QUARTER_DECAY = SEBORG.at("quarter decay", also="Ziegler and Nichols")
TUNING_EXAMPLE = SEBORG.at("tuning example")
SECOND_ORDER = OGATA.at("second-order step answer")

# The worked examples of SIMC: lags, leads (below zero: inverse response), and what the half rule is fed.
CHAINS = {
    "E1": ([1, 0.2], [0], dict(lags_s=[1, 0.2])),
    # Skogestad first takes the small lead 0.08 off the next longer lag, 0.2.
    "E2": ([2, 1, 0.4, 0.2, 0.05, 0.05, 0.05], [-0.3, 0.08], dict(lags_s=[2, 1, 0.4, 0.2 - 0.08, 0.05, 0.05, 0.05], inverse_s=0.3)),
    "1/(s+1)^4": ([1, 1, 1, 1], [0], dict(lags_s=[1, 1, 1, 1])),
    "E4": ([1, 0.2, 0.04, 0.008], [0], dict(lags_s=[1, 0.2, 0.04, 0.008])),
}


def simc(name, kind):
    """SIMC settings from the half rule, the closed loop as fast as the delay."""
    short = tuning.half_rule(**CHAINS[name][2], keep={"PI": 1, "PID": 2}[kind])
    if kind == "PI":
        return tuning.simc_pi(1, short.lag_s, short.delay_s)
    return tuning.simc_pid(1, *short)


def simc_gain(name, kind):
    return lambda: simc(name, kind).gain


def simc_peak(name, kind, printed_gain=None):
    lags, leads, _ = CHAINS[name]
    settings = simc(name, kind) if printed_gain is None else simc(name, kind)._replace(gain=printed_gain)

    def loop(w):
        return controller_response(w, settings) * frequency_response(w, 1, lags, leads_s=leads)

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
    return lambda: largest_gain(w, frequency_response(w, 1, 5, 1), [5.0], Asked(peak_sensitivity, 1.01, 0.0))[0]


def swinging(lags, delay=0.0):
    return ultimate(lambda w: frequency_response(w, 1, lags, delay), 1.0, 1.0)


def overshoot(damping):
    return lambda: step_response.overshoot_percent(damping)


def risen_percent(times_tau):
    return lambda: 100 * signals.first_order_filter(0, 1, 1, times_tau)


FIGURES = [
    Figure("overshoot, damping 0.2 [%]", overshoot(0.2), "52.7", SECOND_ORDER, MEMORY),
    Figure("overshoot, damping 0.4 [%]", overshoot(0.4), "25.4", SECOND_ORDER, MEMORY),
    Figure("overshoot, damping 0.5 [%]", overshoot(0.5), "16.3", SECOND_ORDER, MEMORY),
    Figure("overshoot, damping 0.6 [%]", overshoot(0.6), "9.5", SECOND_ORDER, MEMORY),
    Figure("overshoot, damping 0.707 [%]", overshoot(0.707), "4.3", SECOND_ORDER, MEMORY),
    # Printed 0.22 by Seborg, 0.215 by others.
    Figure(
        "damping of a quarter decay",
        lambda: step_response.damping_of_decay(0.25),
        "0.215",
        QUARTER_DECAY,
        MEMORY,
    ),
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
    Figure("SIMC PI gain, E1", simc_gain("E1", "PI"), "5.5", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, E1", simc_peak("E1", "PI"), "1.56", SIMC_TABLE_4, MEMORY),
    Figure("half-rule delay, E2", lambda: tuning.half_rule(**CHAINS["E2"][2]).delay_s, "1.47", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, E2", simc_peak("E2", "PI"), "1.66", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PID gain, E2", simc_gain("E2", "PID"), "1.30", SIMC, MEMORY),
    Figure("SIMC PID peak sensitivity, E2, gain as printed", simc_peak("E2", "PID", 1.30), "1.73", SIMC_TABLE_4, MEMORY),
    Figure(
        "SIMC PID peak sensitivity, E2",
        simc_peak("E2", "PID"),
        "1.73",
        SIMC_TABLE_4,
        MEMORY,
        allowed=0.0065,
        why="the source rounds the gain 1.2987 to 1.30 first; unrounded the peak is 1.7240, a thousandth outside half a unit",
    ),
    Figure("SIMC PI gain, 1/(s+1)^4", simc_gain("1/(s+1)^4", "PI"), "0.30", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, 1/(s+1)^4", simc_peak("1/(s+1)^4", "PI"), "1.46", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PID gain, 1/(s+1)^4", simc_gain("1/(s+1)^4", "PID"), "0.50", SIMC, MEMORY),
    Figure("SIMC PID peak sensitivity, 1/(s+1)^4", simc_peak("1/(s+1)^4", "PID"), "1.43", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PI gain, four spread lags", simc_gain("E4", "PI"), "3.72", SIMC, MEMORY),
    Figure("SIMC PI peak sensitivity, four spread lags", simc_peak("E4", "PI"), "1.59", SIMC_TABLE_4, MEMORY),
    Figure("SIMC PID gain, four spread lags", simc_gain("E4", "PID"), "17.9", SIMC, MEMORY),
    Figure("AMIGO PI gain, L 1.42, T 2.9", lambda: tuning.amigo_pi(1, 2.9, 1.42).gain, "0.414", ASTROM_HAGGLUND, MEMORY),
    Figure("AMIGO PI gain, L 0.075, T 1.04", lambda: tuning.amigo_pi(1, 1.04, 0.075).gain, "4.13", ASTROM_HAGGLUND, MEMORY),
    Figure(
        "AMIGO PI integral time, L 0.075, T 1.04 [s]", lambda: tuning.amigo_pi(1, 1.04, 0.075).integral_s, "0.539", ASTROM_HAGGLUND, MEMORY
    ),
    Figure("AMIGO PI gain, L 1.01, T 0.0932", lambda: tuning.amigo_pi(1, 0.0932, 1.01).gain, "0.175", ASTROM_HAGGLUND, MEMORY),
    Figure("ultimate gain, 1/(s+1)^4", lambda: swinging([1] * 4)[0], "4", DEFINITION, DERIVED, allowed=1e-6),
    Figure("ultimate period, 1/(s+1)^4 [s]", lambda: swinging([1] * 4)[1], "6.283", DEFINITION, DERIVED),
    Figure("ultimate gain, 1/(s+1)^3", lambda: swinging([1] * 3)[0], "8", TEXT_BOOKS, MEMORY, allowed=1e-6),
    Figure("ultimate period, 1/(s+1)^3 [s]", lambda: swinging([1] * 3)[1], "3.63", TEXT_BOOKS, MEMORY),
    Figure("PI gain for it", lambda: tuning.ziegler_nichols_ultimate(*swinging([1] * 3)).gain, "3.6", ZIEGLER_NICHOLS, MEMORY),
    Figure(
        "PI integral time for it [s]",
        lambda: tuning.ziegler_nichols_ultimate(*swinging([1] * 3)).integral_s,
        "3.02",
        ZIEGLER_NICHOLS,
        MEMORY,
    ),
    Figure(
        "ultimate frequency, exp(-s)/(s+1) [rad/s]",
        lambda: margins(lambda w: frequency_response(w, 1, 1, 1), 1, 1).phase_crossover_rad_s,
        "2.03",
        TEXT_BOOKS,
        MEMORY,
    ),
    Figure("ultimate gain, exp(-s)/(s+1)", lambda: swinging([1], 1)[0], "2.26", TEXT_BOOKS, MEMORY),
    Figure("PI gain, 2 exp(-s)/(5s+1), closed loop 1 s", lambda: tuning.lambda_pi(2, 5, 1, 1).gain, "1.25", TUNING_EXAMPLE, MEMORY),
    Figure("PI gain, 2 exp(-s)/(5s+1), closed loop 3 s", lambda: tuning.lambda_pi(2, 5, 1, 3).gain, "0.63", TUNING_EXAMPLE, MEMORY),
    Figure("proportional band of gain 2 [%]", lambda: action.proportional_band(2), "50", ISA, MEMORY, allowed=1e-9),
    Figure(
        "sampled 1/(s+1), 0.1 s: what a sample takes in",
        lambda: signals.first_order_filter(0, 1, 1, 0.1),
        "0.0952",
        TEXT_BOOKS,
        MEMORY,
    ),
    Figure("sampled 1/(s+1), 0.1 s: what a sample keeps", lambda: signals.first_order_filter(1, 0, 1, 0.1), "0.9048", TEXT_BOOKS, MEMORY),
    Figure("first order after 1 time constant [%]", risen_percent(1), "63.2", TEXT_BOOKS, MEMORY),
    Figure("first order after 2 time constants [%]", risen_percent(2), "86.5", TEXT_BOOKS, MEMORY),
    Figure("first order after 3 time constants [%]", risen_percent(3), "95.0", TEXT_BOOKS, MEMORY),
    Figure("first order after 4 time constants [%]", risen_percent(4), "98.2", TEXT_BOOKS, MEMORY),
    Figure(
        "slowest lag for 90 % in 3 s [s]",
        lambda: step_response.slowest_lag(0.9, 3),
        "1.303",
        EN_12101_6.at("90 % of the new flow within 3 s; the lag is derived"),
        DERIVED,
    ),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_control_agrees_with_the_published_figure(figure):
    figure.check()


def test_a_drive_ramp_of_seconds_alone_forbids_nine_tenths_in_three_seconds():
    """Common practice, no source: a fan drive's ramp takes seconds. A ramp of 10 s moves a fan by 3/10 of its range in 3 s."""
    ramp_s, lag_s = 10.0, step_response.slowest_lag(0.9, 3.0)
    changes = [i * 0.01 for i in range(int(ramp_s / 0.01) + 1)]
    shown = step_response.step_answer(3.0, changes, [c / ramp_s for c in changes], lag_s)
    assert shown < 0.3
