"""A duct's set point reset by requests: the zones' dampers follow the air they ask for, their positions are counted, the set point is
trimmed or responds; and its section of the site file.

What a zone asks for: its demand's `opening` times its share of `boxes_flow`, the air that its box passes at that opening at the boxes' own
pressure. Its damper moves at its actuator's speed towards the opening that passes this air at the pressure that is there now.

Limits: the fan's loop is taken as settled at every step (it takes seconds, an interval minutes: the study holds one against the other); the
zones of a section are alike but for those that are in trouble; a box knows its flow exactly; air as in `duct`.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas.trim_and_respond import requests, trim_or_respond
from helpers.model.air import network as nets
from helpers.model.air.operating_point import STATES, Taps, hold
from helpers.model.plants.pressure_plant import DuctConditions

STEP_S = 15.0  # of the dampers; an interval is taken as a whole number of them, one at the least
LEAST_PA = 1e-3  # a section without pressure passes no air however wide a box opens
MOST_STEPS = 20_000  # ours: some three days
SETTLING_TRIES = 12  # the pressure answers little to one damper: the opening settles in a few


class Trouble(NamedTuple):
    """What is wrong with zones or transmitters in a play.

    stuck: zones of each section that stand wide open and ask for ever, [sections] or [runs, sections]; unheard: flags of sections whose
    requests do not arrive, likewise; dead: number of a transmitter whose signal reads 0 Pa (None: none), or one a run [runs], -1 for none;
    left_out: number of one whose failure is told, so that the others run the fan, likewise.
    """

    stuck: np.ndarray | tuple = ()
    unheard: np.ndarray | tuple = ()
    dead: int | np.ndarray | None = None
    left_out: int | np.ndarray | None = None


NO_TROUBLE = Trouble()


@dataclass(frozen=True)
class RunTaps:
    """Taps of which a transmitter reads 0 Pa, or reads what another one reads, in some of the runs: zero, source [transmitters, runs].

    One that is left out reads as another: lowest and highest are then those of the others, to the last digit.
    """

    taps: Taps
    zero: np.ndarray
    source: np.ndarray

    @property
    def storeys(self):
        """Of the taps themselves."""
        return self.taps.storeys

    def take(self, rows):
        """Those of some runs."""
        return replace(self, zero=self.zero[:, rows], source=self.source[:, rows])

    def read(self, pressure):
        """As of `Taps`."""
        return np.take_along_axis(np.where(self.zero, 0.0, self.taps.read(pressure)), self.source, axis=0)


class ZonesPlayed(NamedTuple):
    """What zones, set point and fan did: time_s [steps]; set_point_pa, speed_hz, power_w, asking [steps, runs] (requests at that time);
    share: air of each section's sound zones over what they ask for, at most 1 [steps, runs, sections], 1 where nothing is asked;
    state: index into STATES; pressure_pa [steps, runs, sections]."""

    time_s: np.ndarray
    set_point_pa: np.ndarray
    speed_hz: np.ndarray
    power_w: np.ndarray
    asking: np.ndarray
    share: np.ndarray
    state: np.ndarray
    pressure_pa: np.ndarray

    def last(self, length_s):
        """The same of the last seconds alone."""
        return self._chosen(self.time_s > self.time_s[-1] - length_s)

    def first(self, length_s):
        """The same of the first seconds alone."""
        return self._chosen(self.time_s < length_s)

    def _chosen(self, moments):
        return ZonesPlayed(*(part[moments] for part in self))

    def rows(self, chosen):
        """The same of some runs: a slice."""
        return ZonesPlayed(self.time_s, *(part[:, chosen] for part in self[1:]))


class Zones:
    """The zones of a duct's sections: how many, what they ask for, how far their dampers stand."""

    def __init__(self, site):
        self.site = site
        self.number = np.array([section.zones if section.boxes_flow_m3_s else 0 for section in site.sections])
        self.has = self.number > 0

    def needed(self, asked, pressure_pa):
        """Opening that passes a share of the boxes' free flow at a pressure in the duct, at most 1; arrays broadcast."""
        return np.minimum(asked * np.sqrt(self.site.boxes.pressure_pa / np.maximum(pressure_pa, LEAST_PA)), 1.0)

    def share(self, asked, opening, pressure_pa):
        """Air of zones over what they ask for, at most 1; 1 where nothing is asked."""
        passed = opening * np.sqrt(np.maximum(pressure_pa, 0.0) / self.site.boxes.pressure_pa)
        return np.where(asked > 0, np.minimum(passed / np.maximum(asked, 1e-12), 1.0), 1.0)


def play(
    duct, asked, reset=None, length_s=7200.0, start_pa=None, stroke_s=120.0, interval_s=None, trouble=NO_TROUBLE, opening=None, stays=False
):
    """Play zones and set point over a time. Returns `ZonesPlayed`.

    duct: `Duct`; asked: share of its boxes' free flow that each section asks for [runs, sections]; reset: `Reset` (None: the set point
    stays at start_pa); start_pa: the set point at the start, one or one a run (None: as the reset starts, or the site's); stroke_s: of a
    damper from shut to wide open, one or [runs]; interval_s: one or [runs] in place of the reset's; trouble: `Trouble`; opening: of the
    dampers at the start [runs, sections] (None: `settled` at the start); stays: flag, or [runs], of runs whose set point stays and whose
    requests nobody counts.
    Raises ValueError for shares outside 0 to 1, times that do not fit, a trouble that the site cannot have.
    """
    zones, now = Zones(duct.site), require.between(0, 1, asked=asked)
    if now.ndim != 2 or now.shape[-1] != len(duct.places):
        raise ValueError(f"asked must hold one share for each of {len(duct.places)} sections in every run, got {now.shape}")
    count = int(np.ceil(require.single_positive(length_s=length_s) / STEP_S))
    if count > MOST_STEPS:
        raise ValueError(f"length_s must be at most {MOST_STEPS * STEP_S:g} s, got {length_s:g}")
    runs, (stuck, unheard) = len(now), _of_zones(duct, zones, trouble)
    moves_not = np.broadcast_to(np.asarray(stays, bool), runs)
    every = 1.0 if reset is None else reset.interval_s if interval_s is None else interval_s
    every = np.maximum(np.round(np.broadcast_to(require.positive(interval_s=every), runs) / STEP_S), 1).astype(int)
    stroke = np.broadcast_to(require.positive(stroke_s=stroke_s), runs)[:, None]
    begins = (duct.site.control.set_point_pa if reset is None else reset.start(duct.site)) if start_pa is None else start_pa
    set_point = np.broadcast_to(require.positive(start_pa=begins), runs).astype(float)
    sound, wild = (zones.number - stuck) * ~unheard, (stuck * ~unheard).sum(axis=-1)
    place = settled(duct, now, set_point, trouble) if opening is None else np.array(opening, float)
    asks, asking, found = np.zeros(now.shape, bool), np.zeros(runs), []
    for step in range(count):
        if reset is not None:
            asks = requests(place, asks, reset.asks_above, reset.asks_until) & (now > 0) & ~moves_not[:, None]
            asking = (sound * asks).sum(axis=-1) + wild * ~moves_not
            due = (step % every == 0) & (step * STEP_S >= reset.hold_s) & (step > 0) & ~moves_not
            after = trim_or_respond(set_point, asking, reset.lowest_pa, reset.highest_pa, reset.trim_pa, reset.respond_pa,
                                    reset.respond_most_pa, reset.ignored)  # fmt: skip
            set_point = np.where(due, after, set_point)
        pressure, speed, power, state = _air(duct, zones, place, set_point, trouble)
        found.append((set_point, speed, power, asking, zones.share(now, place, pressure), state, pressure))
        most = STEP_S / stroke
        place = place + np.clip(zones.needed(now, pressure) - place, -most, most)
    return ZonesPlayed(np.arange(count) * STEP_S, *(np.array(part) for part in zip(*found, strict=True)))


def settled(duct, asked, set_point_pa, trouble=NO_TROUBLE):
    """Openings [runs, sections] of dampers that have had their time under a set point, one or one a run; arguments as `play`."""
    zones, place = Zones(duct.site), np.array(asked, float)
    for _ in range(SETTLING_TRIES):
        place = zones.needed(asked, _air(duct, zones, place, np.broadcast_to(set_point_pa, len(place)), trouble)[0])
    return place


def _of_zones(duct, zones, trouble):
    """(zones that are stuck, flags of those that are not heard) of each section, checked."""
    stuck = np.asarray(trouble.stuck if np.size(trouble.stuck) else np.zeros(len(duct.places)), int)
    unheard = np.asarray(trouble.unheard if np.size(trouble.unheard) else np.zeros(len(duct.places)), bool)
    if stuck.shape[-1] != len(duct.places) or np.any(stuck > zones.number) or np.any(stuck < 0):
        raise ValueError(f"stuck must be from 0 to the zones of each section, {zones.number.tolist()}; got {stuck.tolist()}")
    return stuck, unheard


def _taps(duct, trouble):
    """Where the transmitters read, with one that reads 0 Pa (both its tubes in the same air) or without one; and their weights."""
    taps, weights, count = duct.taps, duct.site.control.weights, len(duct.site.transmitters)
    if np.ndim(trouble.dead) or np.ndim(trouble.left_out):
        return _run_taps(duct, trouble, count), weights
    for number in (trouble.dead, trouble.left_out):
        if number is not None:
            require.whole(0, count - 1, transmitter=number)
    if trouble.dead is not None:
        references = tuple(taps.space if at == trouble.dead else other for at, other in enumerate(taps.references))
        taps = replace(taps, references=references)
    if trouble.left_out is not None:
        if count < 2:
            raise ValueError("left_out must leave a transmitter, got the only one")
        kept = [at for at in range(count) if at != trouble.left_out]
        taps = replace(taps, storeys=taps.storeys[kept], references=tuple(taps.references[at] for at in kept))
        weights = None if weights is None else tuple(weights[at] for at in kept)
    return taps, weights


def may_share(site):
    """Whether runs in which different transmitters are left out may be played side by side: where the combined reading of the others is
    that of all with one read twice."""
    return site.control.rule in ("lowest", "highest") or (site.control.rule == "average" and len(site.transmitters) <= 2)


def _run_taps(duct, trouble, count):
    """The `RunTaps` of a trouble of single runs. Raises ValueError where the rule does not bear it."""
    dead, left = (np.asarray(-1 if number is None else number, int) for number in (trouble.dead, trouble.left_out))
    if np.any(left >= 0) and (count < 2 or not may_share(duct.site)):
        raise ValueError(f"left_out must be one for all runs with the rule {duct.site.control.rule!r} and {count} transmitters")
    require.whole(-1, count - 1, transmitter=int(max(dead.max(), left.max())))
    dead, left = np.broadcast_arrays(dead, left)
    rows = np.arange(count)[:, None]
    return RunTaps(duct.taps, rows == dead, np.where(rows == left, (left + 1) % count, rows))


def _air(duct, zones, place, set_point, trouble):
    """(pressure, speed, power, state) with dampers and set point as they stand."""
    (stuck, _), (taps, weights) = _of_zones(duct, zones, trouble), _taps(duct, trouble)
    opening = np.where(zones.has, (place * (zones.number - stuck) + stuck) / np.maximum(zones.number, 1), 0.0)
    control, fan = duct.site.control, duct.site.fan
    limits = [speed / fan.reference_speed_hz for speed in fan.speed_limits_hz(control.fire_mode)]
    network = duct.network(DuctConditions(opening), np.full(len(opening), limits[0]))
    found = hold(network, taps, control.rule, set_point, *limits, weights=weights)
    speed = found.ratio * fan.reference_speed_hz
    if not found.solution.converged.all() or np.any(found.state == STATES.index("not found")):
        raise ValueError("asked must be a demand under which the duct's air has an answer; it has none")
    air = duct.air_of(nets.at_ratio(network, found.ratio), found.solution, speed)
    return air.pressure_pa, speed, air.power_w, found.state
