"""Several relief dampers, of which one may stick: in place of the one that is fitted, or where none is."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from helpers.formulas.signals import accuracy
from helpers.model.air.tower import Tower
from helpers.model.site.stair import Relief
from helpers.model.sweep import NoAnswerError
from helpers.studies.cases import conditions_of
from helpers.studies.duty.relief_damper import blades, blades_of, dampers_said, least_area, one_damper_alone, stuck_blades
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.readings.ways_compared import FailureAir
from helpers.studies.report import fine, listed
from helpers.studies.status import inside
from helpers.units.said import with_unit

COUNTS = range(2, 9)  # dampers tried in place of one


def rests_on_said(*reliefs):
    """What doors rest on that a stuck damper of `Relief`s puts out, in words: of several alike each, since it takes no more than one."""
    count = blades_of(*reliefs)
    return "one relief damper" if count == 1 else f"{'each' if len(reliefs) == 1 else 'one'} of {count} relief dampers"


@dataclass(frozen=True)
class Several:
    """The fewest dampers in place of a site's own, of which one may stick: `Relief`, the room they leave at the worst door, the speed kept
    that leaves it (below zero: none tried holds, and these are the best), what was tried, and whether the site has one fitted."""

    relief: Relief
    room_pa: float
    speed_hz: float
    tried: str
    fitted: bool = True

    @property
    def holds(self):
        """Whether every door keeps inside its window with any one of them stuck."""
        return inside(self.room_pa)

    def text(self):
        """What to put in place of the damper, or that nothing tried holds, with what it was tried against."""
        each = dampers_said(self.relief)
        if not np.isfinite(self.room_pa):
            return f"nothing tried is known to hold with one stuck ({self.tried})"
        if not self.holds:
            return f"nothing tried holds with one stuck, the best, {each}, leaves a door {fine(-self.room_pa)} out ({self.tried})"
        ends = " to ".join(with_unit(end, "pressure") for end in (self.relief.opens_pa, self.relief.full_pa))
        kept = f"{fine(self.room_pa)} to spare at the worst door, under the loop and at a speed kept of {self.speed_hz:.1f} Hz"
        own = f"at storey {self.relief.level}, opening from {ends}, each with a blade and shaft of its own"
        return f"{each}{' in its place' * self.fitted}, {own}: {kept} ({self.tried})"


@lru_cache(maxsize=8)
def several_dampers(own, walls):
    """The fewest dampers that open as the site's one does and of which one may stick, shut or open, without a door out.

    own: `FailureAir` of the site; walls: how much the walls leak, a tuple of factors. Judged are every shut door and every final exit that
    has to close again: in every case judged at some one speed kept and under the loop, readings off, and with all doors closed at the
    highest speed. Of dampers at several storeys those of [stair.relief] are replaced, the others stay and may stick too. Returns `Several`;
    None without a damper, or where a door is out with it in order. Limits: one damper stuck, in steady states; leaks as in the file with
    one stuck; that further storeys' dampers are replaced too is not tried.
    """
    site, relief = own.site, own.site.stair.relief
    judged, off = own.judged(TOLERANCE_PA), max(float(accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span)) for t in own.taps)

    def room(tower, factor=1.0, off_pa=0.0):
        """(room at each solved speed, under the loop, at the highest speed) of the worst door."""
        try:
            found = FailureAir(tower, own.window, own.cases, factor)
        except NoAnswerError:  # told in `tried`; what cannot be worked out is not offered
            return np.full(len(own.speeds_hz), -np.inf), -np.inf, -np.inf
        count, control = len(found.speeds_hz), site.control

        def at(place):
            across = found.at(found.doors_pa, place)
            return np.minimum(found.doors.closing(across, found.standing_open), np.minimum(*found.doors.rooms(across, found.standing_open)))

        kept = at(np.arange(count)[:, None] * np.ones(len(own.cases)))[:, judged].min(axis=(1, 2))
        shown, targets = found.shown_pa[..., : len(site.transmitters)], np.array([[-off_pa], [off_pa]]) + control.set_point_pa
        sound = at(found.settle(shown, control.rule, targets * np.ones(len(own.cases)), control.weights).place)
        shut = [place for place, case in enumerate(own.cases) if case.shut and judged[place]]
        full = at(np.full(len(own.cases), count - 1.0))[shut]
        return kept, float(sound[:, judged].min()), float(full.min(initial=np.inf))

    def with_area(area_m2, count=None):
        return Tower(site.with_changes(stair={"relief": {"area_m2": area_m2, "count": count}}))

    if relief is None or not judged.any() or not inside(room(own.tower)[1]):
        return None
    closed = [case for case in own.cases if case.shut]
    tight = conditions_of(site, closed)
    tight = replace(tight, leak_factor=tight.leak_factor * min(walls))
    standing_open = own.doors.standing_open(tight)

    def enough(area_m2):
        across = own.doors.across(blades(with_area(area_m2), tight)[1][1].solve(tight, own.limits_hz[1]))
        return np.minimum(own.doors.closing(across, standing_open), own.doors.rooms(across, standing_open)[1]).min() >= 0

    rest, found, unknown = least_area(enough), [], []
    kept_levels = ", ".join(str(one.level) for one in site.stair.more_reliefs)
    others = f"; those at storey {kept_levels} stay, and one of them may be the one that sticks" * bool(kept_levels)
    tried = (
        f"tried: {COUNTS[0]} to {COUNTS[-1]} of them, any one stuck shut or open, all late or early, in {int(judged.sum())} cases, walls x "
        f"{' and '.join(f'{factor:.2f}' for factor in walls)}, readings off{others}; not tried: two stuck at once, the hours of a year"
    )
    for count in COUNTS:
        area = np.ceil(100 * rest / (count - 1)) / 100
        tower = with_area(float(count * area), count)
        states = [one for _, one in (*stuck_blades(tower)[::-1], *blades(tower, conditions_of(site, own.cases)))]
        rooms = [room(states[0])]
        if inside(min(rooms[0][0].max(), rooms[0][1])):  # a hole of one: the first to fail
            rooms += [room(one) for one in states[1:]] + [room(tower, factor, off) for factor in walls]
        kept = np.min([one[0] for one in rooms], axis=0)
        least = float(min(kept.max(), *(min(one[1:]) for one in rooms)))
        unknown += [str(count)] * any(np.isneginf(one[1]) for one in rooms)
        found.append(Several(tower.site.stair.relief, least, float(own.speeds_hz[kept.argmax()]), tried))
        if found[-1].holds:
            break
    without = f"; the air with {listed(unknown)} of them has no answer at some speed" if unknown else ""
    best, alike = fewest_alike(found)
    tied = f"; no gauge tells {listed(map(str, alike))} of them from these: the fewest are taken" * bool(alike)
    return replace(best, tried=tried + without + tied)


def fewest_alike(found):
    """(the one to tell of some `Several`, fewest dampers first: the one that holds, else the first that no gauge tells from the one with
    the most room; counts of the others that none tells from it)."""
    if found[-1].holds:
        return found[-1], ()
    most = max(one.room_pa for one in found)
    first, *others = [one for one in found if one.room_pa >= most - TOLERANCE_PA]
    return first, tuple(one.relief.count for one in others) if np.isfinite(most) else ()


@lru_cache(maxsize=8)
def dampers_to_fit(own, walls, damper):
    """The same of a stair that has no damper: own: its `FailureAir`; damper: `FixedSpeed` of the one that would do in order.

    Returns `Several`; None where a door is out under the loop with that one in order. One alone is none of them: stuck shut it leaves the
    stair as it is without.
    """
    ends = {"level": damper.level, "opens_pa": damper.opens_pa, "full_pa": damper.full_pa, "area_m2": damper.area_m2}
    tower = Tower(own.site.with_changes(stair=one_damper_alone(ends | {"leak_area_m2": damper.leak_area_m2})))
    try:
        air = FailureAir(tower, own.window, own.cases)
    except NoAnswerError:  # told in `tried`
        return Several(tower.site.stair.relief, -np.inf, np.nan, "the air with one of them has no answer at some speed", False)
    found = several_dampers(air, walls)
    return None if found is None else replace(found, fitted=False)


def damper_said(damper, fitted, out_pa, several):
    """A damper (`FixedSpeed`) that would do in order, and several of which one may stick, in words.

    fitted: whether the site has one already; out_pa: by how much a door is past its limit without any; several(): see
    `Several`, None where none was tried.
    """
    size, *ends = (with_unit(damper.area_m2, "area"), with_unit(damper.opens_pa, "pressure"), with_unit(damper.full_pa, "pressure"))
    doors = "with all doors closed, under the loop, which still has to hold them with one open"
    place = f"at storey {damper.level}{' in place of all that is fitted' * fitted}"
    one = f"a relief damper of {size} {place}, opening from {' to '.join(ends)}, {doors} ({damper.text()}"
    if fitted:
        return f"{one}; not tried: one that sticks, and several in its place, until it stands in the site file)"
    tried = several()
    more = "several of which one may stick were not tried: a door is out with one in order" if tried is None else tried.text()
    return f"{one}; stuck shut it leaves a door {with_unit(out_pa, 'pressure')} out); {more}"
