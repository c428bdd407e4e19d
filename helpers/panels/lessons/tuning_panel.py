"""The panel of lesson 08: one tuning of Larkfield House tried on a door that opens and shuts; recovery, door force and margins."""

from functools import cache

import numpy as np

from helpers import units
from helpers.panels.controls import Choice, Slider, Steps
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.trend import TrendDrawing
from helpers.panels.verdict import Verdict
from helpers.studies.pictures import Curve, Event, Limit, Trend, TrendAxes
from helpers.studies.tried_tuning import LENGTH_S, OPENS_S, RAMPS_S, SHUTS_S, WITHIN_S, Trial, bench
from helpers.studies.tuning_results import LEAST_GAIN_MARGIN, MOST_SENSITIVITY

__all__ = ["GAINS", "INTEGRALS_S", "tuning_panel"]

GAINS = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 20.0)
INTEGRALS_S = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0, 30.0)
ROOM_PA = (0.0, 90.0)


@cache
def tuning_panel():
    """The panel, one in a notebook; the site's own settings to begin with."""
    place = bench()
    own = place.own_trial
    controls = {
        "gain": Steps("Gain [%/%]", GAINS, own.gain),
        "integral_s": Steps("Integral time [s]", INTEGRALS_S, own.integral_s),
        "ramp_s": Slider("Drive's ramp", "time", float(RAMPS_S[0]), float(RAMPS_S[-1]), 0.5, own.ramp_s),
        "filter_s": Slider("Filter", "time", 0.0, 5.0, 0.1, own.filter_s),
        "span_pa": Slider("Span", "pressure", 75.0, 500.0, 5.0, own.span_pa),
        "door": Choice("Door", tuple(place.doors), own.door),
    }
    return Panel(controls, Picture(TrendDrawing(key_columns=3), height_px=470), _answer)


def _answer(system, **values):
    place = bench()
    found = place.attempt(Trial(**values))
    return _verdict(found, system), _trend(place, found, system)


def _trend(place, found, system):
    """Reading and shut doors above, speed below."""

    def shown(values):
        return units.to_display(values, "pressure", system)

    window = place.window
    levels = (("most", window.most_pa), ("set point", place.own.set_point_pa), ("least", window.least_pa))
    limits = [Limit(f"{kind} {units.show(pa, 'pressure', system)}", float(shown(pa)), kind) for kind, pa in levels]
    named = {
        "the reading, average of two": found.reading_pa,
        "heaviest shut door": found.heaviest_pa,
        "lightest shut door": found.lightest_pa,
    }
    curves = tuple(Curve(label, found.time_s, shown(values)) for label, values in named.items())
    room = tuple(float(shown(end)) for end in ROOM_PA)
    upper = TrendAxes(f"Pressure [{units.unit_label('pressure', system)}]", curves, tuple(limits), room)
    full = place.site.fan.highest_speed_hz
    speed = Limit(f"full speed {units.show(full, 'frequency', system, 0)}", full)
    lower = TrendAxes("Fan speed [Hz]", (Curve("", found.time_s, found.speed_hz),), (speed,), (0.0, 55.0))
    many = " and " in found.trial.door
    events = (Event("doors open" if many else "door opens", OPENS_S), Event("doors shut" if many else "door shuts", SHUTS_S))
    return Trend("tried", f"{place.site.name}, {place.weather}", "", "Time [s]", (upper, lower), events)


def _verdict(found, system):
    margins = found.margins
    calm = margins.stable and margins.gain_margin >= LEAST_GAIN_MARGIN and margins.peak_sensitivity <= MOST_SENSITIVITY
    good = calm and found.slowest_s <= WITHIN_S and max(found.open_n, found.peak_n) <= found.limit_n
    kind = "wrong" if not margins.stable else "good" if good else "attention"
    words = (_flow_said(found), _force_said(found, system), _margins_said(margins, calm), _advice_said(found.advised))
    return Verdict(kind, "\n".join(words))


def _flow_said(found):
    """Seconds until the air is back, and what the ramp has to say to it."""
    opens, shuts = _after(found.opens_s, SHUTS_S - OPENS_S), _after(found.shuts_s, LENGTH_S - SHUTS_S)
    said = f"Flow: 90 % of the way {opens} the door begins to open, {shuts} it begins to shut; {WITHIN_S:g} s are asked for."
    alone = f"The drive's ramp alone takes {found.ramp_opens_s:.1f} and {found.ramp_shuts_s:.1f} s"
    return f"{said} {alone}{': with this ramp no tuning can do it.' if found.ramp_forbids else '.'}"


def _force_said(found, system):
    while_open, peak, limit = (units.show(force, "force", system) for force in (found.open_n, found.peak_n, found.limit_n))
    said = f"Force: the heaviest other door takes {while_open} while the door is open, {peak} as it shuts; {limit} is allowed"
    return f"{said}, and it is too heavy for {found.above_s:.1f} s after that." if found.above_s else f"{said}."


def _margins_said(margins, calm):
    where = "where the building's gain is largest"
    if not margins.stable:
        return f"Calm? No: {where} this loop swings by itself, even if it does not swing here. Too hot."
    grows = 100 * (margins.peak_sensitivity - 1)
    said = f"{where} it bears {margins.gain_margin:.1f} times this gain, and a gust grows by {grows:.0f} % at worst"
    return f"Calm? {'Yes' if calm else 'Too little room'}: {said}."


def _advice_said(advised):
    return f"SIMC, for this filter and span: gain {advised.gain:.2f} %/%, integral time {advised.integral_s:.2f} s."


def _after(seconds, looked_at_s):
    return f"not within {looked_at_s:.0f} s after" if np.isnan(seconds) else f"{seconds:.1f} s after"
