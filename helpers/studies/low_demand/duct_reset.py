"""A duct's set point reset by the zones' requests against a set point that stays: who goes short, what it saves, what breaks it.

Every demand of the site file is played for two hours (the second is judged), with the strokes that the actuators may have, with other
intervals, with zones that ask for ever, with requests that do not arrive; every change from one demand to another at once, from the lowest
set point; and a transmitter that reads zero. Judged are the zones: air they have over the air they ask for. A comfort plant: nothing
here is for smoke control, and the site file refuses it there. Limits: those of `plants.reset`.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas import low_demand as low_demands
from helpers.model.plants.duct import Duct, DuctSite
from helpers.model.plants.pressure_plant import DuctConditions, run_plant, setup_of
from helpers.model.plants.reset import STEP_S, Trouble, Zones, ZonesPlayed, may_share, play, settled
from helpers.model.site.tolerances import Box
from helpers.studies.status import status_of

LENGTH_S = 7200.0  # of a play: the second half is judged; a quarter for changes and failed readings, an eighth where no set point moves
SHORT_SHARE, SPARE_SHARE = 0.9, 0.05  # a zone with less of its air is short; with less room above that it is looked at. Ours
LONG_SHORT_S = 900.0  # short for longer after a change is looked at. Ours: rooms have felt it by then
STROKE_S = Box(60.0, 120.0, 300.0, "actuators of terminal boxes, common practice, no source", False)  # where the site file states none
INTERVALS = (0.25, 0.5, 2.0, 4.0)  # of the site's own, tried beside it
SWING_SHARE = 0.1  # of the highest speed: a fan that swings further between steps is heard. Ours
MARGIN_HZ = 1.0  # to both ends of the window of a low-demand stop, as in the offices' night
ASKED_SHARE = 0.1  # of the air asked for at the most: a demand below it is nobody asking
TIED = 6  # digits of a share: of sections that differ by less the first is named, whatever the solver's last digit
SETTLE_S, SETTLED_SHARE = 120.0, 0.1  # run of the fan's loop after a step of the set point; of the step, within which it has settled


class Ended(NamedTuple):
    """What runs came to in the time that is judged, each [runs]: mean, least and most set point [Pa]; mean, least and most speed [Hz]; mean
    power [W]; requests at the most; least share of the air asked for, and the section (number) that has it."""

    set_point_pa: np.ndarray
    lowest_pa: np.ndarray
    highest_pa: np.ndarray
    speed_hz: np.ndarray
    slowest_hz: np.ndarray
    fastest_hz: np.ndarray
    power_w: np.ndarray
    asking: np.ndarray
    share: np.ndarray
    section: np.ndarray

    @classmethod
    def of(cls, played: ZonesPlayed):
        """Of what was played, over all its time."""
        point, speed, share = played.set_point_pa, played.speed_hz, played.share.min(axis=0)
        worst = np.round(share, TIED).argmin(axis=1)
        return cls(point.mean(axis=0), point.min(axis=0), point.max(axis=0), speed.mean(axis=0), speed.min(axis=0), speed.max(axis=0),
                   played.power_w.mean(axis=0), played.asking.max(axis=0), share.min(axis=1), worst)  # fmt: skip

    def rows(self, chosen):
        """The same of some runs."""
        return Ended(*(part[chosen] for part in self))

    @property
    def swing_hz(self):
        """How far the speed goes to and fro [Hz]."""
        return self.fastest_hz - self.slowest_hz

    @property
    def swing_pa(self):
        """How far the set point does [Pa]."""
        return self.highest_pa - self.lowest_pa

    @property
    def states(self):
        """Key of the status of each run by its air."""
        return np.atleast_1d(status_of(self.share, SHORT_SHARE, SPARE_SHARE, "least"))


class Changes(NamedTuple):
    """Every change of demand at once, and every stroke: names of the demands before and after, stroke [s], time for which some zone is
    short [s], least share and the section that has it, and whether some zone is short still at the end [changes]."""

    before: tuple
    after: tuple
    stroke_s: np.ndarray
    short_s: np.ndarray
    share: np.ndarray
    section: np.ndarray
    still: np.ndarray


class Idle(NamedTuple):
    """The low-demand stop beside the reset: idle speed at the lowest set point and at the start's, lowest speed of a demand that counts
    [Hz]; verdict of `formulas.low_demand`; whether a stopped fan's missing pressure can start it."""

    idle_hz: float
    idle_at_start_hz: float
    duty_hz: float
    verdict: str
    restarts: bool


@dataclass(frozen=True)
class DuctReset:
    """The study of one duct; `reset_study` makes it. Parts are played when they are first asked for, the longest for length_s. Runs lie
    stroke by stroke, in each demand by demand."""

    site: DuctSite
    length_s: float = LENGTH_S

    @cached_property
    def duct(self):
        """The duct's air."""
        return Duct(self.site)

    @property
    def reset(self):
        """`Reset` of the site."""
        return self.site.control.reset

    @property
    def demands(self):
        """Names of the demands."""
        return tuple(self.site.demand)

    @property
    def strokes_s(self):
        """Strokes of the actuators that are tried: the site's own, or the ends and the middle of what they may be."""
        own = self.site.boxes.stroke_s
        return (STROKE_S.low, STROKE_S.likely, STROKE_S.high) if own is None else (own,)

    @property
    def stroke_s(self):
        """The likely one."""
        return self.strokes_s[len(self.strokes_s) // 2]

    @cached_property
    def asked(self):
        """Shares that the sections ask for [demands, sections]."""
        return np.array([state.opening for state in self.site.demand.values()])

    @cached_property
    def counts(self):
        """Flags of the demands that are no nobody-asking."""
        flows = self.asked @ [section.boxes_flow_m3_s for section in self.site.sections]
        return flows >= ASKED_SHARE * flows.max()

    @cached_property
    def fixed(self):
        """`Ended` with the site's set point, demand by demand."""
        count = len(self.demands)
        return Ended.of(self._turned.rows(slice(-count, None)).first(self.length_s / 8))

    @cached_property
    def _played(self):
        """All that is played with sound transmitters, in one: {name: `Ended`}."""
        parts, strokes, intervals, stuck, deaf = self._parts()
        names = [name for name, count in parts for _ in range(count)]
        played = play(self.duct, np.tile(self.asked, (len(names) // len(self.demands), 1)), self.reset, self.length_s, stroke_s=strokes,
                      interval_s=intervals, trouble=Trouble(stuck, deaf))  # fmt: skip
        ended = Ended.of(played.last(self.length_s / 2))
        return {name: ended.rows([at for at, one in enumerate(names) if one == name]) for name, _ in parts}

    def _parts(self):
        """Parts with their number of runs; stroke, interval, stuck zones and sections that are not heard of each run."""
        count, sections = self.asked.shape
        rows, none = [], (np.zeros((count, sections), int), np.zeros((count, sections), bool))
        rows += [("sound", stroke, 1.0, *none) for stroke in self.strokes_s]
        rows += [(f"interval {share:g}", self.strokes_s[-1], share, *none) for share in INTERVALS]
        stuck = {"as ignored": self.reset.ignored, "one more": self.reset.ignored + 1}
        rows += [(name, self.stroke_s, 1.0, np.tile(self._stuck(number), (count, 1)), none[1]) for name, number in stuck.items()]
        rows.append(("unheard", self.stroke_s, 1.0, none[0], np.arange(sections) == self.hungriest[:, None]))
        every = self.reset.interval_s * np.repeat([row[2] for row in rows], count)
        parts = {}
        for name, *_ in rows:
            parts[name] = parts.get(name, 0) + count
        return list(parts.items()), np.repeat([row[1] for row in rows], count), every, *(
            np.concatenate([row[at] for row in rows]) for at in (3, 4)
        )  # fmt: skip

    def _stuck(self, number):
        """So many zones that ask for ever, in the sections with the least pressure first [sections]."""
        zones = Zones(self.site).number
        left, stuck = number, np.zeros_like(zones)
        for at in np.argsort(np.where(zones > 0, self._far_pa, np.inf)):
            stuck[at] = min(left, zones[at])
            left -= stuck[at]
        return stuck

    @cached_property
    def _far_pa(self):
        """Pressure of each section in the usual demand at the site's set point."""
        return self.duct.hold(DuctConditions(self.asked[:1])).air.pressure_pa[0]

    @cached_property
    def hungriest(self):
        """Section (number) whose dampers stand widest open at the site's set point, demand by demand."""
        return settled(self.duct, self.asked, self.site.control.set_point_pa).argmax(axis=1)

    @property
    def sound(self):
        """`Ended` with nothing wrong: stroke by stroke, demand by demand."""
        return self._played["sound"]

    @property
    def likely(self):
        """The same with the likely stroke, demand by demand."""
        count, at = len(self.demands), len(self.strokes_s) // 2
        return self.sound.rows(slice(at * count, (at + 1) * count))

    @property
    def as_ignored(self):
        """With as many zones that ask for ever as are ignored, the likely stroke, demand by demand."""
        return self._played["as ignored"]

    @property
    def one_more(self):
        """The same with one zone more than are ignored."""
        return self._played["one more"]

    def by_interval(self):
        """{interval [s]: `Ended`, demand by demand}, the shortest first, with the slowest actuators; the site's own among them."""
        own = self.sound.rows(slice(-len(self.demands), None))
        tried = {share: self._played[f"interval {share:g}"] for share in INTERVALS} | {1.0: own}
        return {share * self.reset.interval_s: tried[share] for share in sorted(tried)}

    @cached_property
    def troubles(self):
        """{what is wrong: `Ended`, demand by demand}."""
        ignored, zones = self.reset.ignored, "zone never stops asking" if self.reset.ignored == 1 else "zones never stop asking"
        found = {f"{ignored} {zones}, as many as are ignored": self._played["as ignored"]} if ignored else {}
        more = f"{ignored + 1} zones never stop" if ignored else "one zone never stops"
        found[f"{more} asking, one more than ignored"] = self._played["one more"]
        found["requests of the section that needs most do not arrive"] = self._played["unheard"]
        return found | self._without()

    def _without(self):
        """With trouble of a transmitter, each in turn; the set point goes on from where it stood without."""
        several, tried = len(self.site.transmitters) > 1 and self.site.control.rule != "middle", {}
        for number, tap in enumerate(self.site.transmitters):
            tried[f"{tap.name} reads zero"] = (number, -1)
            if several:
                tried[f"{tap.name} has failed and is left out"] = (-1, number)
        if may_share(self.site):
            numbers = np.repeat(np.array(list(tried.values())), len(self.demands), axis=0)
            played = self._played_without(Trouble(dead=numbers[:, 0], left_out=numbers[:, 1]), len(tried))
            return dict(zip(tried, (Ended.of(part) for part in played), strict=True))
        single = {what: Trouble(*(None if number < 0 else number for number in pair)) for what, pair in tried.items()}
        return {what: Ended.of(self._played_without(trouble, 1)[0]) for what, trouble in single.items()}

    def _played_without(self, trouble, parts):
        """What is judged of so many times all demands, each with its part of a trouble."""
        asked, start = np.tile(self.asked, (parts, 1)), np.tile(self.likely.set_point_pa, parts)
        played = play(self.duct, asked, long_running(self.reset), self.length_s / 4, start, self.stroke_s, trouble=trouble)
        judged, count = played.last(self.length_s / 8), len(self.demands)
        return [judged.rows(slice(at * count, (at + 1) * count)) for at in range(parts)]

    @cached_property
    def changes(self):
        """`Changes` from every demand to every other, from the lowest set point, with the reset."""
        return self._changes(self._turned.rows(slice(0, len(self._pairs))))

    @cached_property
    def fixed_changes(self):
        """The same with the site's set point."""
        return self._changes(self._turned.rows(slice(len(self._pairs), 2 * len(self._pairs))))

    @cached_property
    def _pairs(self):
        """Numbers of the demands before and after, stroke by stroke [changes, 2]."""
        count = len(self.demands)
        pairs = np.array([(a, b) for a in range(count) for b in range(count) if a != b]).reshape(-1, 2)
        return np.tile(pairs, (len(self.strokes_s), 1))

    @cached_property
    def _turned(self):
        """Side by side: every change with the reset, every change with the site's set point, every demand with it and no change."""
        reset, own, (before, after), count = long_running(self.reset), self.site.control.set_point_pa, self._pairs.T, len(self.demands)
        stroke = np.repeat(self.strokes_s, len(before) // len(self.strokes_s))
        low, fixed = (settled(self.duct, self.asked, point) for point in (reset.lowest_pa, own))
        asked = np.concatenate([self.asked[after], self.asked[after], self.asked])
        opening = np.concatenate([low[before], fixed[before], fixed])
        point = np.repeat([reset.lowest_pa, own], [len(before), len(before) + count])
        strokes = np.concatenate([stroke, stroke, np.full(count, self.stroke_s)])
        return play(self.duct, asked, reset, self.length_s / 4, point, strokes, opening=opening, stays=np.arange(len(asked)) >= len(before))

    def _changes(self, played):
        short = played.share.min(axis=2) < SHORT_SHARE
        least = played.share.min(axis=0)
        names = [tuple(self.demands[at] for at in side) for side in self._pairs.T]
        stroke = np.repeat(self.strokes_s, len(self._pairs) // len(self.strokes_s))
        seconds = short.sum(axis=0) * (played.time_s[1] - played.time_s[0])
        return Changes(*names, stroke, seconds, least.min(axis=1), np.round(least, TIED).argmin(axis=1), short[-1])

    @cached_property
    def settles_s(self):
        """Time in which the fan's loop, run in time, has come to within a tenth of the largest step up of the set point, by demand; NaN
        where it has not after `SETTLE_S`. At the lowest set point, with the loop's own gain, ramp and filters."""
        low, step = self.reset.lowest_pa, self.reset.respond_most_pa
        conditions = DuctConditions(settled(self.duct, self.asked, low))
        start = self.duct.hold(conditions, low).air.speed_hz
        settings = replace(self.duct.settings(), set_point_pa=low + step)
        run = run_plant(self.duct, conditions, setup_of(self.duct, SETTLE_S, settings=settings, start_hz=start, low_demand=NEVER_STOPS))
        off = np.abs(run.reading_pa - low - step) > SETTLED_SHARE * step
        last = np.where(off.any(axis=0), len(off) - np.argmax(off[::-1], axis=0), 0)
        return np.where(last < len(off), run.time_s[np.minimum(last, len(off) - 1)], np.nan)

    @cached_property
    def idle(self):
        """`Idle`; None of a site without a low-demand stop."""
        own = self.duct.low_demand_rule()
        if own is None:
            return None
        shut = DuctConditions(np.zeros((2, len(self.duct.places))))
        start = self.reset.start(self.site)
        idles = self.duct.hold(shut, np.array([self.reset.lowest_pa, start])).air.speed_hz
        count = len(self.strokes_s)
        duty = float(self.sound.slowest_hz[np.tile(self.counts, count)].min())
        verdict = low_demands.VERDICTS[low_demands.verdict(own.stop_below_hz, idles[0], duty, MARGIN_HZ)]
        error = max(tap.accuracy_percent_span * (tap.range_high_pa - tap.range_low_pa) / 100 for tap in self.site.transmitters)
        return Idle(float(idles[0]), float(idles[1]), duty, verdict, own.restart_error < start - error)


NEVER_STOPS = low_demands.LowDemandRule(0.0, 0.0, 0.0, 0.0)  # below 0 Hz: the loop's step test is not stopped


def long_running(reset):
    """The same reset long after a start."""
    return reset.model_copy(update={"hold_s": 0.0})


def reset_study(site, length_s=LENGTH_S):
    """The study of a duct site that has a reset, its longest play of length_s. Raises ValueError for one that has none, another plant."""
    if require.of_kind(DuctSite, site=site).control.reset is None:
        raise ValueError("site must have a [control.reset]: without one its set point stays where it is; got none")
    return DuctReset(site, require.single_at_least(8 * STEP_S, length_s=length_s))
