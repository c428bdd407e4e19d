"""A garage of two gases by one loop on the greater share, beside two loops of which the higher output runs the fan.

Both gases have their own error, in per cent of the first transmitter's span as a share of the set point, gain and integral time alike:

    one loop         output = gain e + I,     e the greater error,   I grows by gain e Ts / Ti
    two, tracked     output = greatest of gain e + I of each,        each I goes to the output that runs the fan, by Ts / Ti of the way
    two, untracked   the same,                                        each I grows by its own gain e Ts / Ti, and stops at the ends alone

An integral part that goes to the output that won (external reset feedback; text-book, from memory, not verified) does not wind up while its
loop waits, and with one gain and one integral time both parts are the same number: two tracked loops then are the one loop. Untracked, the
loop that waits has gone down to the lowest speed when its gas comes. Limits: as `model.plants.garage`; sound transmitters without error;
traffic that turns at once, which is quicker than cars are.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import permutations
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.model.loop.arithmetic import arithmetic_for
from helpers.model.loop.controller import Drive
from helpers.model.plants.garage import Garage, GarageSite
from helpers.model.plants.pressure_plant import GarageConditions, Turn, setup_of

SETTLED_S, AFTER_S = 5400.0, 3600.0  # in the state before, and after the turn; ours
ABOVE_PERCENT = 1.0  # of full speed above the lowest one, from which the fan counts as asked for more; ours
ONE, TRACKED, UNTRACKED = (
    "one loop on the greater share",
    "two loops, the one that waits follows the output that won",
    "two loops, the one that waits left to itself",
)
WAYS = (ONE, TRACKED, UNTRACKED)


class PlayedLoops(NamedTuple):
    """A way played over all turns: output [% of full speed] and what each gas has in its worst zone with a transmitter [per cent of its set
    point], [samples, turns] and [samples, gases, turns]."""

    output_percent: np.ndarray
    share_percent: np.ndarray


@dataclass(frozen=True)
class TwoLoops:
    """The study of one garage of two gases, each way played when first asked for; gain: of both loops [%/%]."""

    site: GarageSite
    gain: float

    @property
    def turns(self):
        """Names of the states before and after each turn."""
        return tuple(permutations(self.site.traffic, 2))

    @cached_property
    def played(self):
        """{way: `PlayedLoops`}."""
        return {way: self._play(way) for way in WAYS}

    @property
    def after(self):
        """Flags of the samples after the turn."""
        sample = self.site.control.sample_s
        return np.arange(round((SETTLED_S + AFTER_S) / sample)) * sample >= SETTLED_S

    @property
    def takes_over(self):
        """Flags of the turns after which the other gas runs the fan, which ran above its lowest speed before [turns], by the one loop."""
        before, played, fan = int(np.argmax(self.after)) - 1, self.played[ONE], self.site.fan
        lead = [played.share_percent[at].argmax(axis=0) for at in (before, -1)]
        lowest = 100 * fan.speed_limits_hz(self.site.control.fire_mode)[0] / fan.highest_speed_hz
        return (lead[0] != lead[1]) & (played.output_percent[before] > lowest + ABOVE_PERCENT)

    def peaks(self, way):
        """The most that each gas has in a zone after each turn [gases, turns], per cent of its set point."""
        return self.played[way].share_percent[self.after].max(axis=0)

    def past_s(self, way, most_percent):
        """For how long one of the gases is past its most after each turn [turns]; most_percent: of each gas [gases]."""
        past = self.played[way].share_percent[self.after] > np.reshape(most_percent, (1, -1, 1))
        return past.any(axis=1).sum(axis=0) * self.site.control.sample_s

    def _play(self, way):
        site, garage, control = self.site, Garage(self.site), self.site.control
        states = [GarageConditions.of(site, name) for name in site.traffic]
        order = list(permutations(range(len(states)), 2))
        before, after = (GarageConditions.joined([states[pair[at]] for pair in order]) for at in (0, 1))
        turn = Turn(SETTLED_S, {"running": after.running, "engines_share": after.engines_share})
        setup = setup_of(garage, SETTLED_S + AFTER_S, events=(turn,))
        air, arithmetic = garage.table(before, setup, len(order)), arithmetic_for(len(order))
        drive = Drive(site.fan, control.sample_s, site.fan.lowest_speed_hz, fire_mode=False, arithmetic=arithmetic)
        ends = [speed / drive.per_percent for speed in site.fan.speed_limits_hz(control.fire_mode)]
        lags = np.array([[tap.response_s, tap.filter_s] for tap in site.transmitters])
        goes = 1 - np.exp(-control.sample_s / np.maximum(lags, 1e-9))  # of the way, each sample: cell, then filter
        loops = _Loops(way, garage.settings(), self.gain, control.sample_s, ends, len(order))
        groups = [garage.gas_read == gas for gas in range(len(garage.gases))]
        lagged, outputs, shares = None, [], []
        for now in air.course(np.arange(round((SETTLED_S + AFTER_S) / control.sample_s)) * control.sample_s, arithmetic):
            seen = np.array(air.read(now, drive.speed_hz, arithmetic))
            lagged = [seen, seen] if lagged is None else lagged
            lagged[0] = lagged[0] + goes[:, :1] * (seen - lagged[0])
            lagged[1] = lagged[1] + goes[:, 1:] * (lagged[0] - lagged[1])
            output = loops.step(np.array([lagged[1][group].max(axis=0) for group in groups]))
            drive.step(output)
            outputs.append(output)
            shares.append([100 * seen[group].max(axis=0) / control.set_point_ppm for group in groups])
        return PlayedLoops(np.array(outputs), np.array(shares))


class _Loops:
    """The controller of a way, sample by sample; readings [gases, runs] as the loop counts them."""

    def __init__(self, way, settings, gain, sample_s, ends, runs):
        self.way, self.settings, self.gain, self.ends = way, settings, gain, ends
        self.share = sample_s / settings.integral_s
        self.bias = np.full((2, runs), ends[0])

    def step(self, readings):
        """Output [runs], per cent of full speed."""
        error = 100 * (readings - self.settings.set_point_pa) / self.settings.span_pa
        if self.way == ONE:
            error = np.broadcast_to(error.max(axis=0), error.shape)
        if self.way == TRACKED:
            output = np.clip((self.gain * error + self.bias).max(axis=0), *self.ends)
            self.bias = self.bias + self.share * (output - self.bias)
            return output
        grown = self.bias + self.gain * self.share * error
        asked = self.gain * error + grown
        output = np.clip(asked, *self.ends)
        over = (asked != output) & ((asked > output) == (error > 0))
        self.bias = np.where(over, self.bias, grown)
        return output.max(axis=0)


def two_loops(site, gain=None):
    """The `TwoLoops` of a garage of two gases; gain [%/%]: None for the site's own. Raises ValueError for another plant or one gas."""
    if require.of_kind(GarageSite, site=site).second_gas is None:
        raise ValueError(f"site must be a garage of two gases, got one of {site.gas!r} alone")
    return TwoLoops(site, require.single_positive(gain=site.control.gain if gain is None else gain))
