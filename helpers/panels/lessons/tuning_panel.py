"""The panel of lesson 08: one tuning of Larkfield House tried on a door that opens and shuts; recovery, door force and margins."""

from functools import cache

import numpy as np

from helpers import units
from helpers.panels.controls import Choice, Slider, Steps
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.trend import TrendDrawing
from helpers.panels.verdict import Verdict
from helpers.studies.figures import fine, listed
from helpers.studies.pictures import Curve, Event, Limit, Trend, TrendAxes
from helpers.studies.status import at_one_temperature, word_of
from helpers.studies.tried_tuning import LENGTH_S, OPENS_S, RAMPS_S, SHUTS_S, WITHIN_S, Trial, bench
from helpers.studies.tuning_candidate import asked_text

__all__ = ["GAINS", "INTEGRALS_S", "tuning_panel"]

GAINS = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 20.0)
INTEGRALS_S = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0, 30.0)
ROOM_PA = (0.0, 90.0)


@cache
def tuning_panel():
    """The panel, one in a notebook; the site's own settings to begin with."""
    place = bench()
    own = place.own_trial
    safe = place.advised(own)  # what the page tells to enter is among the figures that can be
    gains, integrals = (tuple(sorted({*offered, *more})) for offered, more in _offered(own, safe))
    controls = {
        "gain": Steps("Gain [%/%]", gains, own.gain),
        "integral_s": Steps("Integral time [s]", integrals, own.integral_s),
        "ramp_s": Slider("Drive's ramp", "time", float(RAMPS_S[0]), float(RAMPS_S[-1]), 0.5, own.ramp_s),
        "filter_s": Slider("Filter", "time", 0.0, 5.0, 0.1, own.filter_s),
        "span_pa": Slider("Span", "pressure", 75.0, 500.0, 5.0, own.span_pa),
        "door": Choice("Door", tuple(place.doors), own.door),
    }
    return Panel(controls, Picture(TrendDrawing(key_columns=3), height_px=470), _answer)


def _answer(system, **values):
    place = bench()
    found = place.attempt(Trial(**values))
    return _verdict(place, found, system), _trend(place, found, system)


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


def _offered(own, safe):
    """Gains and integral times of the sliders, each with the site's own and the one that is safe."""
    safe_gain, safe_integral = safe or (own.gain, own.integral_s)
    return (GAINS, (own.gain, safe_gain)), (INTEGRALS_S, (own.integral_s, safe_integral))


def _verdict(place, found, system):
    most = max(found.open_n, found.peak_n)
    asked = place.window.criteria.response_s
    late = asked is not None and not found.slowest_s <= asked
    past = most > found.limit_n or late or found.worst.lacks() or not found.low_is_brief
    low = found.open_low_s + found.low_s > 0
    kind = "wrong" if past else "attention" if found.lacks or low or not np.isfinite(found.slowest_s) else "good"
    words = (_flow_said(place, found), _smoke_said(place, found, system), _force_said(place, found, system), _margins_said(found),
             _advice_said(place, found))  # fmt: skip
    return Verdict(at_one_temperature(kind, place.first_minute.status(0)), "\n".join(words))


def _smoke_said(place, found, system):
    """The lightest shut door against its least, with this tuning as the file has the stair, and at rest in the first minute."""
    if np.isnan(found.low_pa):
        return "Smoke: no door states a least pressure."
    low, least = (units.show(value, "pressure", system) for value in (found.low_pa, found.least_pa))
    seconds = ((found.open_low_s, "while the door stands open"), (found.low_s, "with it shut"))
    below = [f"for {value:.1f} s {when}" for value, when in seconds if value]
    if below and low == least:
        low, least = (fine(value, system) for value in (found.low_pa, found.least_pa))
    said = f"Smoke: the lightest shut door comes down to {low}, {least} is the least"
    if below:
        brief = f"within the {WITHIN_S:g} s of EN 12101-6:2005" if found.low_is_brief else f"longer than {WITHIN_S:g} s"
        said += f"; it is below that {listed(below)}, {brief}"
    first = place.first_minute
    early = "" if first.good[0] else f" In the first minute {word_of(first.status(0))} with any tuning: {first.case_text(0, system)}."
    return f"{said}.{early}"


def _flow_said(place, found):
    """Seconds until the air is back, what the site's standard has to say to it, and what the ramp has."""
    opens, shuts = _after(found.opens_s, SHUTS_S - OPENS_S), _after(found.shuts_s, LENGTH_S - SHUTS_S)
    said = f"Flow: 90 % of the way {opens} the door begins to open, {shuts} it begins to shut. {place.study.time_asked()}."
    alone = f"The drive's ramp alone takes {found.ramp_opens_s:.1f} and {found.ramp_shuts_s:.1f} s"
    return f"{said} {alone}{f': with this ramp no tuning makes the {WITHIN_S:g} s of EN 12101-6:2005.' if found.ramp_forbids else '.'}"


def _force_said(place, found, system):
    while_open, peak, limit = (units.show(force, "force", system) for force in (found.open_n, found.peak_n, found.limit_n))
    said = (
        f"Force in {place.weather}, the stair as its file says, with these settings: the heaviest other door takes {while_open} while the "
        f"door is open, {peak} as it shuts; {limit} is allowed"
    )
    if not found.above_s and not found.open_above_s:
        return f"{said}."
    times = ((found.open_above_s, "while the door stands open"), (found.above_s, "after it has begun to shut"))
    heavy = listed(f"for {seconds:.1f} s {when}" for seconds, when in times if seconds)
    cures = " What it is while the door stands open no tuning cures: the loop at rest holds it so." if found.open_above_s else ""
    return f"{said}, and it is too heavy {heavy}.{cures}"


def _margins_said(found):
    where = "where the building's gain is largest"
    if not found.worst.stable:
        nominal = "even the nominal loop" if not found.margins.stable else "not the nominal loop, but a loop in the box"
        return f"Calm? No: {where} {nominal} swings by itself ({found.corner.text()}). Too hot."
    grows = 100 * (found.worst.peak_sensitivity - 1)
    said = f"{where} it bears {found.worst.gain_margin:.1f} times this gain at the worst of the box; a gust grows by {grows:.0f} % at worst"
    told = f"Too little room: {listed(found.lacks)}; {said}" if found.lacks else f"Yes: {said}"
    return f"Calm? {told} ({found.corner.text()})."


def _advice_said(place, found):
    if found.advised is None:
        return f"Behind this filter, span and ramp nothing keeps {asked_text()}."
    gain, integral_s = found.advised
    times = place.nominal(found.trial).gain / gain
    return (
        f"Fastest that is safe in the whole box, for this filter, span and ramp: gain {gain:.2g} %/%, integral time {integral_s:.2g} s. "
        f"Whether it may be entered on this building the card says. SIMC for the nominal loop would ask for {times:.1f} times that gain: "
        "not for a real one."
    )


def _after(seconds, looked_at_s):
    return f"not within {looked_at_s:.0f} s after" if np.isnan(seconds) else f"{seconds:.1f} s after"
