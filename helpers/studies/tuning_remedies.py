"""What helps where a loop is not quick enough after a door: each tried in the same door test as the tuning itself.

Limits: a door contact tells one door from no other; a fan that always runs at one speed holds no set point, whatever the weather; a damper
that has lifted takes air from the storeys while a door is open, too.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers import units
from helpers.model.tower import Tower
from helpers.studies.tuning_doors import LENGTH_S, OPENS_S, SHUTS_S, DoorBench, seconds_text

__all__ = ["Remedy", "ramp_alone", "remedies"]

RAMP_SHARES = (0.8, 0.65, 0.5, 0.35, 0.25, 0.15, 0.1)
AREAS_M2 = tuple(np.geomspace(0.2, 6.0, 15).round(2).tolist())
AFTER_RAMP_S = 1.0  # so long a door contact holds the drive at its speed after the ramp has been run through; ours


@dataclass(frozen=True)
class Remedy:
    """One thing that may help: its `DoorTest` (None where it cannot be built), the most pressure across a shut stair door afterwards
    where no loop holds it (None: the loop does), whether it makes the three seconds without a door beyond its limit for good, and the
    free area that has to be built, if any."""

    name: str
    what: str
    doors: object
    most_door_pa: float | None
    works: bool
    area_m2: float | None = None

    def how(self, system="Pa"):
        """What is done, in words."""
        return self.what if self.area_m2 is None else f"{self.what}: {units.show(self.area_m2, 'area', system)}"

    def figure(self, system="Pa"):
        """What came out, in words."""
        if self.doors is None:
            return "none of those tried is large enough"
        ways = [seconds_text(seconds) for seconds in (self.doors.opens_s, self.doors.shuts_s)]
        said = f"opens {ways[0]}, shuts {ways[1]}"
        if np.isfinite(self.doors.peak_force_n):  # of no door is it known where no closer is stated
            force = units.show(self.doors.peak_force_n, "force", system)
            said += f", peak {force}, above the limit for {self.doors.above_limit_s:.1f} s"
        if self.most_door_pa is None:
            return said
        return f"{said}; shut doors then stand under up to {units.show(self.most_door_pa, 'pressure', system)}"


def ramp_alone(bench):
    """`DoorTest` of a drive that is sent to the right speed in the instant the door moves: no controller is quicker than that."""
    before, after = bench.percent(bench.shut_hz), bench.percent(bench.open_hz)
    (found,) = bench.test(hand=((0.0, OPENS_S, before), (OPENS_S, SHUTS_S, after), (SHUTS_S, LENGTH_S, before)))
    return found


def remedies(bench, tuned, tried, window):
    """All remedies. bench: `DoorBench`; tuned: the `Settings` to set; tried: `Settings` of all safe tunings, arrays, for a drive with
    another ramp; window: `SiteWindow`. Returns a tuple of `Remedy`."""
    return (_faster_ramp(bench, tried), _contacts(bench, tuned), _fixed(bench, window), _relief(bench, window))


def _faster_ramp(bench, tried):
    own, count = bench.site.fan.ramp_s, np.size(tried.gain)
    ramps = np.repeat([own * share for share in RAMP_SHARES], count)
    several = replace(tried, gain=np.tile(tried.gain, len(RAMP_SHARES)), integral_s=np.tile(tried.integral_s, len(RAMP_SHARES)))
    found = bench.test(several, ramps_s=tuple(ramps))
    quick = [k for k, test in enumerate(found) if test.quick]
    best = quick[0] if quick else int(np.argmin([test.slowest_s for test in found]))
    said = "the slowest ramp tried that is enough" if quick else "the best ramp tried, and not enough"
    numbers = f"gain {several.gain[best]:.2g} %/%, integral time {several.integral_s[best]:.2g} s"
    what = f"{ramps[best]:.1f} s instead of {own:g} s, {said}, with {numbers}"
    return Remedy("faster ramp", what, found[best], None, bool(quick))


def _contacts(bench, settings):
    after, before = float(bench.percent(bench.open_hz).mean()), bench.percent(bench.shut_hz)
    ramp = bench.site.fan.ramp_s * bench.site.fan.highest_speed_hz / bench.site.fan.reference_speed_hz
    hold = ramp * float(np.abs(after - before).max()) / 100 + AFTER_RAMP_S
    (found,) = bench.test(settings, hand=((OPENS_S, OPENS_S + hold, after), (SHUTS_S, SHUTS_S + hold, before)))
    there_and_back = f"a contact sends the drive to {after:.0f} % as the door opens, and back to where it was as it shuts"
    what = f"{there_and_back}; after {hold:.1f} s the loop goes on"
    return Remedy("door contacts (feed-forward)", what, found, None, found.quick)


def _fixed(bench, window):
    speed = float(bench.open_hz.max())
    (found,) = bench.test(hand=((0.0, LENGTH_S, bench.percent(speed)),))
    most = _most_door(bench.tower, bench.shut, speed, window)
    works = found.quick and (window.most_pa is None or most <= window.most_pa)
    return Remedy("fixed speed, no loop", f"the fan always runs at {speed:.1f} Hz, as with the door open", found, most, works)


def _relief(bench, window):
    """The smallest damper of those tried, at the storey of the site's own (else half way up) or where the doors are heaviest."""
    speed, limit = float(bench.open_hz.max()), window.most_pa
    what = f"the fan always runs at {speed:.1f} Hz, and a damper in the stair lets out what is too much"
    if limit is None or limit <= np.max(bench.settings.set_point_pa):
        return Remedy("relief damper", f"{what}: no room between set point and door limit", None, None, False)
    site, levels = bench.site, bench.tower.levels
    own = site.stair.relief.level if site.stair.relief else levels[len(levels) // 2]
    heaviest = levels[int(bench.tower.solve(bench.shut, speed).door_dp_pa.max(axis=0).argmax())]
    found = [(area, level) for level in dict.fromkeys((own, heaviest)) if (area := _least_area(bench, level, speed, window)) is not None]
    if not found:
        return Remedy("relief damper", f"{what}: none at levels {own} and {heaviest}", None, None, False, AREAS_M2[-1])
    area, level = min(found)
    tower = _with_relief(bench, level, area, limit)
    (test,) = DoorBench(tower, bench.settings, bench.transmitters, bench.rule, bench.door).test(
        hand=((0.0, LENGTH_S, bench.percent(speed)),)
    )
    return Remedy("relief damper", f"{what}, at level {level}", test, _most_door(tower, bench.shut, speed, window), test.quick, area)


def _least_area(bench, level, speed_hz, window):
    """Least of the areas tried with which all shut doors keep within their limit at a speed; None where the largest is too small."""

    def enough(area):
        return _most_door(_with_relief(bench, level, area, window.most_pa), bench.shut, speed_hz, window) <= window.most_pa

    small, large = -1, len(AREAS_M2) - 1
    if not enough(AREAS_M2[large]):
        return None
    while large - small > 1:
        middle = (small + large) // 2
        small, large = (small, middle) if enough(AREAS_M2[middle]) else (middle, large)
    return AREAS_M2[large]


def _with_relief(bench, level, area_m2, limit_pa):
    """The tower with a relief damper that opens above the set point and is free before the doors become too heavy."""
    target = float(np.max(bench.settings.set_point_pa))
    low, high = (target + share * (limit_pa - target) for share in (0.25, 0.75))
    relief = {"level": level, "opens_pa": low, "full_pa": high, "area_m2": area_m2, "leak_area_m2": 0.01 * area_m2}
    return Tower(bench.site.with_changes(stair={"relief": relief}))


def _most_door(tower, conditions, speed_hz, window):
    """Most pressure across any shut stair door that has a limit [Pa], over all weathers."""
    limited = np.isfinite(window.by_storey(tower.levels, "stair door")[1])
    return float(tower.solve(conditions, speed_hz).door_dp_pa[:, limited].max()) if limited.any() else 0.0
