"""The box in which a loop's lags and delay lie, and the fastest PI that keeps its margins in all of it.

Every corner is a loop that could stand behind the same site file: the building's largest gain behind the lags that are stated, a lag more
(damping, tubes, motor slip), a delay (scan, cycle, bus, tube), and the air of shaft and storeys at once or as it fills. What somebody
can turn back is turned back, too: a filter and a damping at zero, the instrument as quick as a usual one that is put in for it. The ramp
of the drive counts as a delay of half of what it takes for a step test; larger moves it holds back for longer, which the door tests in
time show.
Limits: straight-line loops; the transmitter that is slowest stands for all, turned back the one that is quickest.
"""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np

from helpers.formulas import tuning
from helpers.formulas.tuning import SWINGS, LeastMargins, fastest_pi, largest_gain
from helpers.formulas.tuning import Settings as Numbers
from helpers.model.site.tolerances import boxes, loop_lags
from helpers.studies.beside_limit import number_beside
from helpers.studies.tuning.process import STEP_PERCENT, FillingAir
from helpers.units.said import two

ASKED = LeastMargins(peak_sensitivity=1.7, gain_margin=2.5, phase_margin_deg=40.0)  # ours: what every corner must keep
LAG_SHARES, DEAD_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0), (0.0, 0.5, 1.0)  # of the boxes from low to high; the ends are among them
QUICK_S = 0.1  # lag of a usual transmitter, put in for the one that is stated; common practice, no source
LITTLE_S = 0.1  # a lag that can be no more than this shorter is no corner by itself
TIGHT, EACH_TRIED = (
    1.1,
    7,
)  # of the least gain: corners that allow more at every integral time tried decide nothing; one of so many is tried
LITTLE_LAGS_S = (0.06, 0.12)  # behind air that fills, the worst of little lags are not those at zero: these are tried, too
PER_DECADE = 90  # frequencies and, in the search, a third as many integral times
INTEGRALS = 60
DEAD_TRIED_S = np.linspace(0.02, 4.0, 200)
DIGITS = 2  # of what is entered
FOUND_KEPT = 128  # boxes whose fastest tuning is kept: of some ten sites


class Corner(NamedTuple):
    """One corner: lag beyond the stated ones [s], delay [s], whether the air fills instead of answering at once; how much is left of
    the filter that is entered and of the transmitter's own lags, its damping among them (1: as stated, 0: turned back)."""

    lag_s: float
    dead_time_s: float
    fills: bool
    filter_share: float = 1.0
    dial_share: float = 1.0

    @property
    def turned_back(self):
        """Whether filter, or damping and the rest of the transmitter, is less than stated."""
        return self.filter_share < 1 or self.dial_share < 1

    def text(self):
        """The corner in words."""
        told = (
            f"{two(self.lag_s)} s more lag, delay {two(self.dead_time_s)} s",
            "air that fills" if self.fills else "",
            "filter at zero" if self.filter_share < 1 else "",
            "transmitter at its quickest" if self.dial_share < 1 else "",
        )
        return ", ".join(filter(None, told))


class Nearness(NamedTuple):
    """How near a loop is to swinging: how many times its gain it bears, phase margin [degrees], how much a disturbance grows at worst."""

    gain_margin: float
    phase_margin_deg: float
    peak_sensitivity: float

    @property
    def stable(self):
        """Whether the loop comes to rest."""
        return bool(np.isfinite(self.peak_sensitivity))

    def lacks(self, asked=ASKED):
        """What is asked for and not kept, in words; empty where all is."""
        if not self.stable:
            return ("it swings by itself",)
        told = (
            ("gain margin", self.gain_margin, asked.gain_margin, 1, "", "least"),
            ("phase margin", self.phase_margin_deg, asked.phase_margin_deg, 0, "°", "least"),
            ("peak sensitivity", self.peak_sensitivity, asked.peak_sensitivity, 2, "", "most"),
        )
        return tuple(
            f"{what} {number_beside(value, limit, digits)}{unit}, at {end} {limit:g}{unit} is asked for"
            for what, value, limit, digits, unit, end in told
            if not (value >= limit if end == "least" else value <= limit)
        )


@dataclass(frozen=True)
class LoopBox:
    """The box of one loop.

    gain: the building's largest [% of span by % of full speed]; lags_s: those that are stated (or taken as likely), of the slowest
    transmitter: filter, response, damping, tubes; least_s: the same with filter and damping at zero, the rest at its low end;
    ramp_delay_s; extra_lag_s, dead_time_s: (low, high); air: `FillingAir`; fitted: (lag, delay) of the
    nominal loop as step tests show it, None where none was fitted; asked: `LeastMargins`; ramp_asks_s: integral time over
    gain below which the integral alone asks for more than the ramp gives; sources: of lag and delay.
    """

    gain: float
    lags_s: tuple[float, ...]
    ramp_delay_s: float
    extra_lag_s: tuple[float, float]
    dead_time_s: tuple[float, float]
    air: FillingAir
    fitted: tuple[float, float] | None = None
    asked: LeastMargins = ASKED
    ramp_asks_s: float = 0.0
    sources: tuple[str, str] = ("", "")
    least_s: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0)

    @classmethod
    def of(cls, site, found, settings, filter_s=None, ramp_s=None, fitted=None):
        """The box of a site. found: `ProcessGain` in per cent of the settings' span; filter_s, ramp_s: instead of the site's own."""
        known, lags, fan = boxes(site), loop_lags(site), site.fan
        ramp = max(fan.ramp_s, fan.slows_s) if ramp_s is None else ramp_s
        chains = [
            (tap.filter_s if filter_s is None else filter_s,
             *(known[f"transmitters.{number}.{part}"].likely for part in ("response_s", "damping_s", "tube_lag_s")))
            for number, tap in enumerate(site.transmitters)
        ]  # fmt: skip
        chain = tuple(float(lag) for lag in max(chains, key=sum))
        response, tubes = (
            min(known[f"transmitters.{number}.{part}"].low for number in range(len(chains))) for part in ("response_s", "tube_lag_s")
        )
        least = (0.0, min(response, chain[1], QUICK_S), 0.0, min(tubes, chain[3]))
        whole = ramp * fan.highest_speed_hz / fan.reference_speed_hz  # for all of the output's hundred per cent
        return cls(
            found.largest, chain, whole * STEP_PERCENT / 100 / 2, (lags.lag.low, lags.lag.high), (lags.dead_time.low, lags.dead_time.high),
            found.air, fitted, ramp_asks_s=ramp_asks_s(settings, whole), sources=(lags.lag.source, lags.dead_time.source),
            least_s=tuple(float(lag) for lag in least),
        )  # fmt: skip

    @classmethod
    def measured(cls, gain, lag_s, dead_time_s, ramp_s, settings, fitted):
        """The box of a loop that was measured and not calculated. gain: the largest it could have; lag_s, dead_time_s: (low, high) as a
        step test gives them on the measured speed, with everything that was in the chain then; ramp_s: of the drive, for all of its speed;
        fitted: (lag, delay). Nothing can be turned back in it: what was in the chain is not known piece by piece."""
        return cls(
            float(gain), (0.0, 0.0, 0.0, 0.0), ramp_s * STEP_PERCENT / 100 / 2, tuple(map(float, lag_s)), tuple(map(float, dead_time_s)),
            FillingAir(0.0, 0.0, 0.0), fitted, ramp_asks_s=ramp_asks_s(settings, ramp_s), sources=("step test", "step test"),
        )  # fmt: skip

    @property
    def damping_s(self):
        """Damping of the slowest transmitter, as stated or taken [s]."""
        return self.lags_s[2]

    @property
    def turned_said(self):
        """What can be turned back to zero, in words; empty where nothing can."""
        named = (("filter", self.lags_s[0]), ("damping", self.damping_s))
        return " and ".join(name for name, stated in named if stated > 0)

    @cached_property
    def turned_back(self):
        """The corners with filter, damping or both turned back."""
        return tuple(corner for corner in self.corners if corner.turned_back)

    @cached_property
    def corners(self):
        """All corners, those with filter and damping as stated first, of them the one of the least lag and delay."""
        lags, dead = (low + np.array(shares) * (high - low) for (low, high), shares in
                      ((self.extra_lag_s, LAG_SHARES), (self.dead_time_s, DEAD_SHARES)))  # fmt: skip
        fills = (False, True) if self.air.floors_s or self.air.shaft_s else (False,)
        little = sorted({*lags[::2], *(lag for lag in LITTLE_LAGS_S if lag < self.extra_lag_s[1])})
        as_stated = product([(1.0, 1.0)], fills, dict.fromkeys(lags), dict.fromkeys(dead))
        turned = product(self._turned(), fills, little, dict.fromkeys(self.dead_time_s))
        return tuple(Corner(float(lag), float(time), air, *shares) for shares, air, lag, time in (*as_stated, *turned))

    def _turned(self):
        """Shares of filter and dial that may be left, not both whole: none, a little, or one of them all; what is zero stays as it is."""
        filter_s, dial_s = self.lags_s[0], sum(self.lags_s[1:]) - sum(self.least_s[1:])
        filters, dials = ((0.0, min(LITTLE_LAGS_S[1] / whole, 1.0)) if whole > LITTLE_S else (0.0 if whole else 1.0,)
                          for whole in (filter_s, dial_s))  # fmt: skip
        one = ((1.0, 0.0), (0.0, 1.0)) if len(filters) == len(dials) == 2 else ()
        return tuple(dict.fromkeys(pair for pair in (*product(filters, dials), *one) if pair != (1.0, 1.0)))

    def process(self, frequency_rad_s, corners=None):
        """Response of the process, controller left out, at frequencies (n, 1 for each axis of the settings) -> (n, ..., corners)."""
        lag, dead, fills, by_filter, by_dial = np.array(self.corners if corners is None else corners, dtype=float).T
        shaft, floors, lead = fills * self.air.shaft_s, fills * self.air.floors_s, fills * self.air.floors_s * (1 + self.air.overshoot)
        shares = (by_filter, by_dial, by_dial, by_dial)
        stated = [least + share * (time - least) for share, time, least in zip(shares, self.lags_s, self.least_s, strict=True)]
        chain = np.stack([*stated, lag, shaft, floors], axis=-1)
        return tuning.frequency_response(frequency_rad_s, self.gain, chain, dead + self.ramp_delay_s, lead[:, None])

    def margins(self, gain, integral_s, corners=None):
        """`Nearness` of a PI, its fields arrays [corners]; delays are exact. An integral time of zero means none."""
        numbers = Numbers(float(gain), float(integral_s))
        asked = self.corners if corners is None else corners
        most_lag, most_dead = max(corner.lag_s for corner in asked), max(corner.dead_time_s for corner in asked)
        times = [*self.lags_s, most_lag, most_dead + self.ramp_delay_s, self.air.floors_s, self.air.shaft_s, float(integral_s)]
        found = tuning.margins(
            lambda w: tuning.controller_response(w, numbers) * self.process(w, asked), max(times), min(t for t in times if t > 0.02)
        )
        return Nearness(*(np.atleast_1d(of) for of in (found.gain_margin, found.phase_margin_deg, found.peak_sensitivity)))

    def _every(self, gain, integral_s, corners):
        """`Nearness` of all those corners; of those of the box each tuning is worked out once."""
        if corners is not self.corners and corners is not self.turned_back:
            return self.margins(gain, integral_s, corners)
        if (gain, integral_s) not in self._worked_out:
            self._worked_out[gain, integral_s] = self.margins(gain, integral_s)
        every, stated = self._worked_out[gain, integral_s], len(self.corners) - len(self.turned_back)
        return every if corners is self.corners else Nearness(*(of[stated:] for of in every))

    @cached_property
    def _worked_out(self):
        return {}

    def worst(self, gain, integral_s, corners=None):
        """(`Nearness` with the worst of each over all corners, or those given, the corner of the largest peak sensitivity)."""
        corners = self.corners if corners is None else corners
        every = self._every(gain, integral_s, corners)
        place = int(np.argmax(np.where(np.isinf(every.peak_sensitivity), 1e6 - every.gain_margin, every.peak_sensitivity)))
        least, phase, peak = every.gain_margin.min(), every.phase_margin_deg.min(), every.peak_sensitivity.max()
        return Nearness(float(least), float(phase), float(peak)), corners[place]

    def nominal(self, gain, integral_s):
        """`Nearness` of the nominal loop: one lag and a delay as step tests in the model show them, else the least corner of the box."""
        if self.fitted is None:
            return Nearness(*(float(of[0]) for of in self.margins(gain, integral_s, self.corners[:1])))
        (lag, delay), numbers = self.fitted, Numbers(float(gain), float(integral_s))
        times = [time for time in (lag, delay, float(integral_s)) if time > 0]
        found = tuning.margins(
            lambda w: tuning.controller_response(w, numbers) * tuning.frequency_response(w, self.gain, [lag], delay),
            max(times), max(min(times), 0.02),
        )  # fmt: skip
        return Nearness(float(found.gain_margin), float(found.phase_margin_deg), float(found.peak_sensitivity))

    def fastest(self):
        """(gain, integral_s) of the fastest PI that keeps what is asked in every corner, as it is entered; None where there is none."""
        return _fastest(self)

    def _searched(self):
        slowest = sum(self.lags_s) + self.extra_lag_s[1] + self.dead_time_s[1] + self.ramp_delay_s
        integrals = np.geomspace(0.05, 6.0, INTEGRALS) * slowest
        tight = self._tight(integrals[::EACH_TRIED])
        found = fastest_pi(integrals, self._largest_gains(integrals, tight), self.ramp_asks_s)
        if found is None:
            return None
        near = found[1] * np.geomspace(0.92, 1.09, 15)
        gain, integral = fastest_pi(near, self._largest_gains(near, tight), self.ramp_asks_s)
        integral = _rounded(integral, np.ceil)
        gain = min(float(self._largest_gains(np.array([integral]))[0]), integral / self.ramp_asks_s if self.ramp_asks_s else np.inf)
        for _ in range(3):  # a grid of frequencies is not exact: what is entered is
            gain = _rounded(gain, np.floor)
            if not self.worst(gain, integral)[0].lacks(self.asked):
                return gain, integral
            gain *= 1 - 1e-3
        return None

    def _tight(self, integrals_s):
        """The corners that may decide: the search need not look at the others, what it finds is tried in all."""
        w = self._frequencies(float(np.max(integrals_s)))
        each = largest_gain(w, self.process(w[:, None]), integrals_s, self.asked, each=True)
        return tuple(corner for corner, near in zip(self.corners, (each <= TIGHT * each.min(0)).any(1), strict=True) if near)

    def _largest_gains(self, integrals_s, corners=None):
        w = self._frequencies(float(np.max(integrals_s)))
        return largest_gain(w, self.process(w[:, None], corners), integrals_s, self.asked)

    def _frequencies(self, longest_s):
        times = [*self.lags_s, self.extra_lag_s[1], self.dead_time_s[1], self.air.floors_s, longest_s]
        ends = np.log10([0.05 / max(times), 30 / (min(self.dead_time_s[0], 0.15) + self.ramp_delay_s + 0.1)])
        return np.logspace(*ends, int(PER_DECADE * (ends[1] - ends[0])))

    def dead_time_borne_s(self, gain, integral_s, lag_s=0.0):
        """(delay up to which a tuning keeps what is asked, delay from which it swings by itself) with so much lag more [s]; 0 where
        it does not at the least tried, infinite where it still does at the longest. Without integral action: (NaN, NaN)."""
        if not integral_s:
            return np.nan, np.nan
        w = self._frequencies(integral_s)
        process = self.process(w[:, None], tuple(Corner(lag_s, float(dead), False) for dead in DEAD_TRIED_S))
        allowed = [largest_gain(w, process, [integral_s], asked, each=True)[:, 0] >= gain for asked in (self.asked, SWINGS)]
        return tuple(_last(good, DEAD_TRIED_S) for good in allowed)

    def with_ramp(self, share):
        """The same box behind a drive whose ramp takes that share of the time."""
        return replace(self, ramp_delay_s=share * self.ramp_delay_s, ramp_asks_s=share * self.ramp_asks_s)

    def with_filter(self, filter_s):
        """The same box behind another filter."""
        return replace(self, lags_s=(float(filter_s), *self.lags_s[1:]))


@lru_cache(maxsize=FOUND_KEPT)
def _fastest(box):
    """What the search finds in a box: sites that differ in a door or a signal have the same box, and one study asks for some twice."""
    return box._searched()


def ramp_asks_s(settings, ramp_s):
    """Integral time over gain [s] below which the integral alone asks for more than the ramp gives, when a door takes all pressure away.

    Equation: the error is the set point, E per cent of the span; the integral moves K E / Ti per cent a second, the ramp 100 / ramp_s.
    settings: `ControllerSettings`; ramp_s: for all of the output. Source: arithmetic.
    """
    error = 100 * float(np.max(np.abs(settings.set_point_pa))) / float(np.max(settings.span_pa))
    return error * ramp_s / 100


def _last(good, values):
    """The last value up to which all are good: 0 where the first is not, infinite where all are."""
    bad = np.flatnonzero(~good)
    return float("inf") if not bad.size else float(values[bad[0] - 1]) if bad[0] else 0.0


def _rounded(value, way):
    """To the digits that are entered, up or down."""
    scale = 10.0 ** (DIGITS - 1 - np.floor(np.log10(value)))
    return float(f"{way(value * scale + (1e-9 if way is np.floor else -1e-9)) / scale:.{DIGITS}g}")
