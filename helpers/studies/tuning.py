"""Tuning of a stair's loop: step tests, the worst gain, a tuning that is safe for all of them, its recovery after a door, what helps.

Recovery: EN 12101-6:2005 asks for 90 % of the new flow within 3 s of a door event (memory). Limits: the transmitters' lag and the storeys'
air are small and simple; a real building answers with what its drawings do not show. Try it on site, with nobody at the doors.
"""

from dataclasses import replace

import numpy as np

from helpers.formulas import frequency, tuning
from helpers.formulas.controller_forms import Settings as Numbers
from helpers.model.loop.run import settings_of
from helpers.studies.cases import usual_cases
from helpers.studies.tuning_doors import DoorBench
from helpers.studies.tuning_remedies import ramp_alone, remedies
from helpers.studies.tuning_results import Candidate, TuningStudy
from helpers.studies.tuning_steps import SPEEDS_PERCENT, step_tests

__all__ = ["Candidate", "TuningStudy", "tuning_study"]

CLOSED_LOOPS = (1.0, 2.0, 3.0, 4.0, 6.0, 10.0)  # times tried, in the longest delay found; one is the fastest advised (Skogestad 2003)
QUICKEST = 3  # of the safe tunings, tried with other ramps too
NO_SLOWER_S = 0.3  # ours: the calmest tuning that recovers as quickly as any, give or take this


def tuning_study(tower, window, *, cases=None, transmitters=None, rule=None, settings=None, door=None, speeds_percent=SPEEDS_PERCENT,
                 what_helps=True):  # fmt: skip
    """Find a tuning of a tower's loop that is safe in all cases, and what it does after a door.

    window: `SiteWindow`; cases: of `Case` for the step tests (default the usual ones); transmitters, rule, settings: by default the site's
    own; door: (level, "stair" or "exit") that opens (default: a final exit, else a stair door half way up); what_helps: whether to try the
    remedies, half of the work. Returns `TuningStudy`. Limits: a derivative time in the settings is run in the door tests and left out of
    the margins.
    Raises ValueError where no step test gives an answer, and for what cannot be. Equation: SIMC for the largest gain, lag and delay of
    all step tests; closed-loop times from one to ten delays are tried, and the calmest is taken that recovers as quickly as any.
    """
    own = settings or settings_of(tower.site)
    steps = step_tests(tower, usual_cases(tower.site) if cases is None else cases, own, transmitters, rule, speeds_percent)
    fitted = [step for step in steps if not step.left_out]
    if not fitted:
        raise ValueError(f"cases must hold one in which the reading answers to the fan, got {len(steps)} step tests without an answer")
    worst, lag, delay = max(fitted, key=lambda step: step.gain), max(s.lag_s for s in fitted), max(s.delay_s for s in fitted)
    closed_loops = np.array(CLOSED_LOOPS) * delay
    numbers = tuning.simc_pi(worst.gain, lag, delay, closed_loops)
    bench = DoorBench(tower, own, transmitters, rule, door)
    tests = bench.test(replace(own, gain=numbers.gain, integral_s=numbers.integral_s, derivative_s=0.0))
    made = zip(closed_loops, numbers.gain, numbers.integral_s, tests, strict=True)
    candidates = tuple(_candidate(float(t), float(k), float(ti), fitted, doors) for t, k, ti, doors in made)
    stated = _candidate(np.nan, float(own.gain), float(own.integral_s), fitted, bench.test()[0])
    chosen = _calmest(candidates)
    safe = [tried for tried in candidates if tried.safe][:QUICKEST] or [stated]
    tuned, tried = (_as_settings(own, numbers) for numbers in ([chosen or stated], safe))
    helps = remedies(bench, tuned, tried, window) if what_helps else ()
    return TuningStudy(
        tower.site.name, steps, worst, stated, candidates, chosen, ramp_alone(bench), helps, bench.door,
        float(own.span_pa), tower.site.fan.ramp_s, bench.force_limit_n,
    )  # fmt: skip


def _as_settings(own, candidates):
    numbers = {name: np.array([getattr(tried, name) for tried in candidates]) for name in ("gain", "integral_s")}
    return replace(own, derivative_s=0.0, **numbers)


def _candidate(closed_loop_s, gain, integral_s, fitted, doors):
    """Margins over all step tests at once; delays are exact."""
    g, lag, delay = (np.array([getattr(step, name) for step in fitted]) for name in ("gain", "lag_s", "delay_s"))
    numbers = Numbers(gain, integral_s)

    def loop(w):
        return frequency.controller_response(w, numbers) * frequency.frequency_response(w, g, lag[:, None], delay)

    times = [*lag, *delay[delay > 0], *([integral_s] if integral_s else [])]
    found = frequency.margins(loop, max(times), min(times))
    return Candidate(
        closed_loop_s, gain, integral_s, float(np.min(found.gain_margin)), float(np.min(found.phase_margin_deg)),
        float(np.max(found.peak_sensitivity)), doors,
    )  # fmt: skip


def _calmest(candidates):
    """The safe candidate with the longest closed-loop time among those that recover as quickly as any; None where none is safe."""
    safe = [tried for tried in candidates if tried.safe]
    quickest = min((tried.doors.slowest_s for tried in safe), default=np.inf)
    return max(
        (tried for tried in safe if tried.doors.slowest_s <= quickest + NO_SLOWER_S), key=lambda tried: tried.closed_loop_s, default=None
    )
