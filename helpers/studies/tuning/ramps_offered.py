"""Ramps that are offered as a remedy: the shortest that motor, brake and air bear, tried with a tuning of their own and with the doors."""

from functools import lru_cache

import numpy as np

from helpers.formulas.tuning import Settings
from helpers.model.loop.ramps import SHORT_TIME, ramp_loads
from helpers.studies.report import apart
from helpers.studies.status import word_of
from helpers.studies.tuning.box import LoopBox
from helpers.studies.tuning.candidate import candidates_of, numbers_text
from helpers.studies.tuning.times_said import past_text

FAIL = word_of("wrong")
KEPT = 4  # a study asks for one pair of ramps at the most, and for each of its findings again
NOWHERE_TRIED = "the wheel's alone: no tuning study of this loop to try it in; state it in the site file, make the record anew"
LOOP = "with the site's own leaks, in the worst weather and warmth of the stair, at the long end of the range of lags"


def ramps_borne_s(site, down=None):
    """(ramp up, ramp down) [s], whole seconds and none shorter than the site's, that motor and brake bear over the whole box of the wheel's
    inertia; NaN for one that no length mends.

    down: `RampDown` of the site where it has no resistor (None: not known, the air's part is left out). Equation: torque and power go with
    one over the ramp, see `ramp_loads`. Limits: as there; the energy of one stop does not change with its ramp.
    """
    fan, loads = site.fan, ramp_loads(site)
    up_s = fan.ramp_s if loads.up_state == "good" else float(np.ceil(loads.enough_s.high))
    down_s = fan.slows_s
    if fan.brake == "resistor":
        most = loads.plate_w if loads.short_w is None else loads.short_w
        power_w = most if loads.bears_w is None or loads.short_w is not None else loads.bears_w
        shares = loads.held_nm[1] / (SHORT_TIME * loads.rated_nm), loads.back_w.high / power_w if loads.down_state != "good" else 0.0
        down_s = max(down_s, float(np.ceil(max(shares) * down_s)) if max(shares) > 1 else 0.0)
    elif down is not None and down.safe is False:
        down_s = max(down_s, float(np.ceil(down.shortest_s.high)))
    if not np.isfinite(up_s):
        return np.nan, down_s
    then = ramp_loads(site, fan.model_copy(update={"ramp_s": up_s, "ramp_down_s": down_s}))
    return up_s, down_s if then.down_state == then.held_state == "good" else np.nan


def shortest_down_s(site, down=None):
    """Shortest ramp down [s], whole seconds, that motor and brake bear over the whole box of the wheel's inertia, longer or shorter than
    the site's; NaN where none is borne, or nothing tells.

    down: `RampDown` of the site, what the air alone bears (None: not known): its longest where there is no resistor. With one: the torque
    that holds the wheel back and the power of the resistor, for a short time where its plate says one and the energy of a stop is not more
    than that, else for ever, else the motor's rated power. Limits: as `ramp_loads`; what the air takes off it is not counted there.
    """
    fan, loads = site.fan, ramp_loads(site)
    if fan.brake != "resistor":
        return np.nan if down is None else float(np.ceil(down.shortest_s.high))
    held_s = loads.held_nm[1] / (SHORT_TIME * loads.rated_nm) * fan.slows_s
    plates = [power for power in (loads.short_w, loads.bears_w) if power is not None] or [loads.plate_w]
    tried = sorted(float(np.ceil(max(held_s, loads.back_w.high / power * fan.slows_s))) for power in plates)
    found = ((one, ramp_loads(site, fan.model_copy(update={"ramp_down_s": max(one, 1.0)}))) for one in tried)
    return next((max(one, 1.0) for one, then in found if then.down_state == then.held_state == "good"), np.nan)


@lru_cache(maxsize=KEPT)
def _tried(bench, found, fitted, up_s, down_s):
    """The `Candidate` that is the fastest safe tuning behind these ramps, in the door tests of every tuning; None where none is safe."""
    site, box = _behind(bench, found, fitted, up_s, down_s)
    pair = box.fastest()
    return None if pair is None else candidates_of(box, bench.of_loop(site), bench.settings, {"ramps": pair})["ramps"]


def _behind(bench, found, fitted, up_s, down_s):
    """(site, `LoopBox`) of a loop behind other ramps."""
    site = bench.loop_site.with_changes(fan={"ramp_s": float(up_s), "ramp_down_s": float(down_s)})
    return site, LoopBox.of(site, found, bench.settings, fitted=fitted)


def pair_behind(study, up_s, down_s):
    """(`Settings` of the fastest tuning that is safe behind other ramps, None where none is; what the one that a `TuningStudy` recommends
    does not keep there, in words). Margins alone: what doors bear behind them is told by `ramps_tried_said`."""
    _, box = _behind(study.bench, study.found, study.box.fitted, up_s, down_s)
    pair, best = box.fastest(), study.recommended
    return None if pair is None else Settings(*pair), box.worst(best.gain, best.integral_s)[0].lacks(box.asked)


def nearness_behind(study, one, up_s, down_s):
    """The worst `Nearness` of a `Candidate` of a `TuningStudy` behind other ramps."""
    return _behind(study.bench, study.found, study.box.fitted, up_s, down_s)[1].worst(one.gain, one.integral_s)[0]


def ramps_tried_said(study, up_s, down_s):
    """What a loop does after a door behind other ramps, with its own fastest safe tuning, in words.

    study: `TuningStudy` of the loop behind its own ramps (None: this plant has none, or nothing answers). Limits: one door, steady weather,
    as all door tests; relief damper in order.
    """
    if study is None or study.bench is None:
        return NOWHERE_TRIED
    if study.cannot:
        return f"no loop to try it with: {study.cannot.rstrip('.')}"
    tried = _tried(study.bench, study.found, study.box.fitted, float(up_s), float(down_s))
    if tried is None:
        return f"{FAIL}: tried with ramps of {up_s:g} s up and {down_s:g} s down, and no tuning stays calm with them"
    doors, limit_n = tried.worst_doors, study.force_limit_n
    told = []
    if limit_n is not None:
        peak, limit = apart((doors.peak_force_n, limit_n), "force", "most")
        told.append(f"{peak} at a handle, limit {limit}, {doors.past_said()} above it")
    told += [f"a shut door short for {past_text(doors.short_s)}{doors.mark}"] * bool(np.isfinite(doors.short_s))
    told.append(f"the airflow {doors.back_said()}")
    fails = not (doors.light and doors.brief and doors.quick) or not tried.safe
    own = f"its own {numbers_text(tried)}, not to be entered"
    how = f"{f'{FAIL} all the same, ' * fails}tried with {up_s:g} s up and {down_s:g} s down, {own}, and a door"
    return f"{how}: {', '.join(told)}, {LOOP}"


def alike_behind(study, up_s, down_s):
    """Names of the `Candidate`s of a `TuningStudy` whose times, forces and shortness after a door come out alike behind other ramps: those
    that never ask for more than these give. Alike: to a sample of time, and half a newton."""
    bench, tried = study.bench, (study.own, *study.candidates)
    site, _ = _behind(bench, study.found, study.box.fitted, up_s, down_s)
    pairs = {one.name: (one.gain, one.integral_s) for one in tried}
    then = candidates_of(study.box, bench.of_loop(site), bench.settings, pairs)
    return tuple(one.name for one in tried if _alike(one.doors, then[one.name].doors) and _alike(one.far_doors, then[one.name].far_doors))


def _alike(one, other):
    steps = {"opens_s": 0.11, "shuts_s": 0.11, "above_limit_s": 0.11, "short_s": 0.11, "peak_force_n": 0.5}
    return all(np.isclose(getattr(one, name), getattr(other, name), rtol=0, atol=step, equal_nan=True) for name, step in steps.items())
