"""Settings from what a step test found, by the same search as the record's tuning, and as found beside as left.

The box holds every lag and delay of the found intervals behind the largest gain that any step could have. What the log cannot know
is not in it: a filter or damping that somebody turns back later, another weather, a stair that has been heated. So these settings hold for
the loop as it was in the test; the record's own tuning tries the building's whole range. Tried on the project's own loops of three
buildings with other lags, delays, ramps and noise: each comes to rest after a door, with twice the gain as well
(test_loop_settings_found)."""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.formulas.tuning import simc_pi
from helpers.model.loop.controller import ControllerSettings
from helpers.studies.tuning.box import LoopBox, Nearness
from helpers.studies.tuning.candidate import SIMC
from helpers.units.said import two, with_unit


@dataclass(frozen=True)
class TuningSeen:
    """One tuning in the box found: name, gain [% of full speed by % of span], integral_s, nominal and worst `Nearness`, lacks: what it does
    not keep, in words."""

    name: str
    gain: float
    integral_s: float
    nominal: Nearness
    worst: Nearness
    lacks: tuple[str, ...]

    @property
    def status(self):
        """Key of its status: never "good", since a log knows one state of the building, and only the record tries the others: NOT YET where
        it keeps all that is asked in this one."""
        return "wrong" if self.lacks else "open"

    @property
    def quickness_s(self):
        """Integral time over gain [s]: the smaller, the quicker an error that stays is taken away."""
        return self.integral_s / self.gain

    def roomier(self, other):
        """Whether it has more of every margin than another in the worst of the box, figure by figure."""
        own, its = self.worst, other.worst
        return own.gain_margin > its.gain_margin and own.phase_margin_deg > its.phase_margin_deg and (
            own.peak_sensitivity < its.peak_sensitivity)  # fmt: skip


@dataclass(frozen=True)
class SettingsFound:
    """What follows for the settings. box: `LoopBox`; as_found, as_left, nominal: `TuningSeen` (None: not known; none keeps what is asked);
    remarks: sentences; beside: whether the set point is beside the steps."""

    box: LoopBox
    as_found: TuningSeen | None
    as_left: TuningSeen | None
    nominal: TuningSeen
    remarks: tuple[str, ...]
    beside: bool = False

    @property
    def left_alone(self):
        """Whether the settings as found keep what is asked with more of every margin than those as left, which are quicker alone."""
        found, left = self.as_found, self.as_left
        return bool(found and left and not found.lacks and found.roomier(left))

    def gained(self):
        """What the settings as left gain and what they cost beside those as found, in a sentence."""
        found, left = self.as_found, self.as_left
        return (
            f"As left takes an error that stays away {found.quickness_s / left.quickness_s:.1f} times as quickly (integral time over gain "
            f"{two(left.quickness_s)} s instead of {two(found.quickness_s)} s) and has less of every margin: gain margin "
            f"{left.worst.gain_margin:.1f} instead of {found.worst.gain_margin:.1f}, phase margin {left.worst.phase_margin_deg:.0f}° "
            f"instead of {found.worst.phase_margin_deg:.0f}°, peak sensitivity {left.worst.peak_sensitivity:.2f} instead of "
            f"{found.worst.peak_sensitivity:.2f}. Leave the settings as found unless the record's door tests ask for a quicker loop."
        )


def settings_found(step, *, span_pa, full_speed_hz=None, set_point_pa=25.0, ramp_s=0.0, as_found=None):
    """Settings for the loop that a step test has found.

    step: `StepTestFound`, whole, of a reading in Pa; span_pa: of the controller's input; full_speed_hz: where the input was logged in Hz,
    None for per cent of full speed; set_point_pa: that the loop holds; ramp_s: of the drive, for all of its speed, the slower way;
    as_found: (gain, integral_s) that were entered, None where nobody knows. Returns `SettingsFound`.
    Raises ValueError for a step test that is not whole, and numbers that cannot be.
    """
    if not step.whole:
        raise ValueError(f"step must have gain, lag and delay; got none: {' '.join(step.refused)}")
    span = require.single_positive(span_pa=span_pa)
    full = 100.0 if full_speed_hz is None else require.single_positive(full_speed_hz=full_speed_hz)
    whole = require.single_at_least(0, ramp_s=ramp_s)
    per_cent = full / span  # of reading by input to % of span by % of full speed
    beside = []
    own = ControllerSettings(require.single(set_point_pa=set_point_pa), span, 1.0, 1.0)
    box = LoopBox.measured(
        step.gain.high * per_cent, (step.lag_s.low, step.lag_s.high), (step.dead_time_s.low, step.dead_time_s.high), whole, own,
        (step.lag_s.value, max(step.dead_time_s.value, 1e-3)),
    )  # fmt: skip
    low, high = float(np.min(step.fitted)), float(np.max(step.fitted))
    if not low <= set_point_pa <= high:
        beside.append(
            f"The steps went from {with_unit(low, 'pressure')} to {with_unit(high, 'pressure')}, and the set point of "
            f"{with_unit(set_point_pa, 'pressure')} is not among them: the gain there may be several times another (a relief damper that "
            f"has "
            "lifted hides it). Make steps around the set point before these settings are entered."
        )
    fastest = box.fastest()
    simc = simc_pi(box.gain, *box.fitted)
    remarks = [
        *beside,
        "These settings are for the loop as it was in the test. A filter or damping turned back later, a heated stair, another weather "
        "are not "
        "in them: try the record's own tuning over the building's whole range before the loop is relied on.",
    ]
    if fastest is not None:
        worst = box.worst(*fastest)[0]
        remarks.insert(
            len(beside),
            f"As left was tried in {len(box.corners)} loops, every lag and delay of the intervals behind the steepest step: at the "
            f"worst "
            f"peak sensitivity {worst.peak_sensitivity:.2f}, gain margin {worst.gain_margin:.1f}, phase margin "
            f"{worst.phase_margin_deg:.0f}°. No door was opened in them: open one and shut it before you leave, and read the forces.",
        )
    if fastest is None:
        remarks.append(
            "No PI keeps what is asked in all of the box found: shorten what is slow, or repeat the step test with a faster log."
        )
    found = None if as_found is None else _seen(box, "as found", *(require.single_positive(as_found=one) for one in as_found))
    if found and fastest and not found.lacks and found.integral_s / found.gain <= 1.25 * fastest[1] / fastest[0]:
        remarks.append("The settings as found keep what is asked and are as fast: leave them.")
    return SettingsFound(
        box,
        found,
        _seen(box, "as left", *fastest) if fastest else None,
        _seen(box, SIMC, float(simc.gain), float(simc.integral_s)),
        tuple(remarks),
        bool(beside),
    )


def _seen(box, name, gain, integral_s):
    worst, _ = box.worst(gain, integral_s)
    lacks = worst.lacks(box.asked)
    if box.ramp_asks_s and integral_s / gain < box.ramp_asks_s:
        lacks = (*lacks, "its integral asks for more than the drive's ramp gives")
    return TuningSeen(name, float(gain), float(integral_s), box.nominal(gain, integral_s), worst, lacks)
