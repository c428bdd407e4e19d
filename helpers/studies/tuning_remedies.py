"""What helps where a loop is not quick enough after a door, or leaves one too heavy: each tried in the same door test as the tuning itself.

Limits: a door contact tells one door from no other; a fan that always runs at one speed holds no set point, whatever the weather; a damper
that has lifted takes air from the storeys while a door is open, too.
"""

from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.model.tower import Tower
from helpers.studies.relief_damper import cases_tried, fixed_speed, smallest_damper
from helpers.studies.tuning_doors import LENGTH_S, OPENS_S, SHUTS_S, DoorBench, seconds_text

__all__ = ["RAMP_SHARES", "Remedy", "ramp_alone", "remedies"]

RAMP_SHARES = (0.8, 0.5, 0.25, 0.1)
AFTER_RAMP_S = 1.0  # so long a door contact holds the drive at its speed after the ramp has been run through; ours


@dataclass(frozen=True)
class Remedy:
    """One thing that may help: its `DoorTest` (None where it cannot be built), what it does to every door where no loop holds the pressure
    (`FixedSpeed`, None: the loop does), whether it keeps every door within its limits, and within the time that the site's standard asks
    for, if any; and the free area that has to be built, if any."""

    name: str
    what: str
    doors: object
    air: object
    works: bool
    area_m2: float | None = None

    @property
    def status(self):
        """Key of its status: what leaves a door past a limit, or misses a time that is asked for, is "wrong", however much it helps."""
        if self.works:
            return "good"
        if self.doors is None or not self.doors.light or (self.air is not None and not self.air.holds):
            return "wrong"
        return "attention" if self.doors.response_s is None else "wrong"

    def how(self, system="Pa"):
        """What is done, in words."""
        return self.what if self.area_m2 is None else f"{self.what}: {units.show(self.area_m2, 'area', system)}"

    def figure(self, system="Pa"):
        """What came out, in words."""
        if self.doors is None:
            return "none was tried"
        ways = [seconds_text(seconds) for seconds in (self.doors.opens_s, self.doors.shuts_s)]
        said = f"opens {ways[0]}, shuts {ways[1]}"
        if np.isfinite(self.doors.peak_force_n):  # of no door is it known where no closer is stated
            force = units.show(self.doors.peak_force_n, "force", system)
            blade = "" if self.air is None or self.air.area_m2 is None else " with the blade as set"
            said += f", peak {force}{blade}, above the limit for {self.doors.above_limit_s:.1f} s"
        return said if self.air is None else f"{said}; at rest {self.air.text(system)}"


def ramp_alone(bench):
    """`DoorTest` of a drive that is sent to the right speed in the instant the door moves: no controller is quicker than that."""
    before, after = bench.percent(bench.shut_hz), bench.percent(bench.open_hz)
    (found,) = bench.test(hand=((0.0, OPENS_S, before), (OPENS_S, SHUTS_S, after), (SHUTS_S, LENGTH_S, before)))
    return found


def remedies(bench, tuned, by_ramp, window):
    """All remedies. bench: `DoorBench`; tuned: the `Settings` to set; by_ramp: `Settings`, arrays, a safe tuning for each of RAMP_SHARES;
    window: `SiteWindow`. Returns a tuple of `Remedy`."""
    found = (_faster_ramp(bench, by_ramp), _contacts(bench, tuned), _fixed(bench, window))
    return (*found, _relief(bench, window)) if bench.site.fan.sign > 0 else found  # no damper lets air out of what an exhaust fan empties


def _faster_ramp(bench, by_ramp):
    """The slowest of the ramps tried that is enough, each with its own safe tuning."""
    own = bench.site.fan.ramp_s
    ramps = [own * share for share in RAMP_SHARES]
    found = bench.test(by_ramp, ramps_s=tuple(ramps))
    enough = [k for k, test in enumerate(found) if test.quick and test.light]
    best = enough[0] if enough else min(range(len(found)), key=lambda k: (found[k].above_limit_s, found[k].slowest_s))
    said = "the slowest ramp tried that is enough" if enough else "the best ramp tried, and not enough"
    numbers = f"gain {by_ramp.gain[best]:.2g} %/%, integral time {by_ramp.integral_s[best]:.2g} s"
    what = f"{ramps[best]:.1f} s instead of {own:g} s, {said}, with {numbers}"
    return Remedy("faster ramp", what, found[best], None, bool(enough))


def _contacts(bench, settings):
    after, before = float(bench.percent(bench.open_hz).mean()), bench.percent(bench.shut_hz)
    fan, far = bench.site.fan, float(np.abs(bench.open_hz.mean() - bench.shut_hz).max())
    hold = max(fan.ramp_s, fan.slows_s) * far / fan.reference_speed_hz + AFTER_RAMP_S
    (found,) = bench.test(settings, hand=((OPENS_S, OPENS_S + hold, after), (SHUTS_S, SHUTS_S + hold, before)))
    there_and_back = f"a contact sends the drive to {after:.0f} % as the door opens, and back to where it was as it shuts"
    what = f"{there_and_back}; after {hold:.1f} s the loop goes on"
    return Remedy("door contacts (feed-forward)", what, found, None, found.quick and found.light)


def _fixed(bench, window):
    speed = float(bench.open_hz.max())
    (found,) = bench.test(hand=((0.0, LENGTH_S, bench.percent(speed)),))
    air = fixed_speed(bench.tower, window, speed, cases_tried(bench.site, bench.door))
    what = f"the fan always runs at {speed:.1f} Hz, as with the door open"
    return Remedy("fixed speed, no loop", what, found, air, found.quick and air.holds and air.closes)


def _relief(bench, window):
    """The smallest damper of those tried, at the storey of the site's own (else half way up), at the foot or the head of the stair."""
    speed, levels = float(bench.open_hz.max()), bench.tower.levels
    what = f"without a loop, the fan always at {speed:.1f} Hz, and a damper in the stair lets out what is too much"
    own = bench.site.stair.relief.level if bench.site.stair.relief else levels[len(levels) // 2]
    cases = cases_tried(bench.site, bench.door)
    air = smallest_damper(bench.tower, window, speed, cases, float(np.max(bench.settings.set_point_pa)), (own, levels[0], levels[-1]))
    if air is None:
        why = "no room between set point and door limit"
        return Remedy("relief damper", f"{what}: {why}", None, None, False)
    ends = {"level": air.level, "opens_pa": air.opens_pa, "full_pa": air.full_pa, "area_m2": air.area_m2, "leak_area_m2": air.leak_area_m2}
    tower = Tower(bench.site.with_changes(stair={"relief": ends}))
    (test,) = DoorBench(tower, bench.settings, bench.transmitters, bench.rule, bench.door).test(
        hand=((0.0, LENGTH_S, bench.percent(speed)),)
    )
    beside = any(supply.level == air.level for supply in bench.site.supplies)
    what += "" if air.holds else "; none of those tried holds every door, the least bad stands"
    what += f", at level {air.level}{' (beside the outlet of the fan: air may leave before the stair has seen it)' if beside else ''}"
    return Remedy("relief damper", what, test, air, test.quick and air.holds and air.closes, air.area_m2)
