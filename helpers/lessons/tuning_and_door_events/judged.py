"""What a tuning tried on a door event comes to: people first, then smoke, then whether the loop is calm, then time."""

from dataclasses import replace

import numpy as np

from helpers.plots.markup import Verdict
from helpers.studies.beside_limit import limit_tile, number_beside
from helpers.studies.doors.columns import doors_head
from helpers.studies.report import apart, listed, passed
from helpers.studies.status import status_of, word_of, worst_of
from helpers.studies.tuning.box import ASKED
from helpers.studies.tuning.candidate import asked_text, margin_text
from helpers.studies.tuning.door_tests import LARGEST_SWING_PA, WITHIN_S
from helpers.studies.tuning.times_said import bare, head_said, past_text, short_limit_s, short_said, short_state
from helpers.studies.tuning.trial import LENGTH_S, OPENS_S, SHUTS_S
from helpers.units.said import in_each, two, with_unit

LOOKED_AT_S = 5.0  # before a door shuts and before the end, in which a reading at rest stays as it is; ours


def tuning_verdict(place, found):
    """`Verdict` of a trial. place: `TuningBench`; found: its `Tried`."""
    most = max(found.open_n, found.peak_n)
    asked = place.window.criteria.response_s
    late = asked is not None and not found.slowest_s <= asked
    past = max(most, found.held_open_n) > found.limit_n or late or found.worst.lacks() or short_state(found.short_s, asked) == "wrong"
    low = found.open_low_s + found.low_s > 0
    kind = "wrong" if past else "attention" if found.lacks or low or found.not_followed or not np.isfinite(found.slowest_s) else "good"
    ramp = _ramp_said(found)
    parts = (_flow_said(place, found), _smoke_said(place, found), _force_said(place, found), _margins_said(found),
             _advice_said(place, found))  # fmt: skip
    words = (ramp, *map(bare, parts))  # the first line says it of all
    status = worst_of([kind, place.first_minute.status(0)])
    moved = moved_said(found.trial.door).removeprefix("the ").replace(" and shut", ", shut")
    case = f"{_weather_said(place)}, {moved}"
    if found.not_followed:  # the graver word in place of the stair's warmth: a glance has forty
        case = f"{_weather_said(place).partition(', ')[0]}, {moved}; ramp too steep"
    head = _head(place, found, most, late)
    lacks = found.worst.lacks() and found.worst.stable and not any(name in head.lower() for name in ("margin", "peak"))
    named = _margin_named(found) if lacks else ""
    calm = (f"; {named} short" if "margin" in named else f"; too little room by {named}") if lacks else ""
    swings = "with the longest lags" if found.margins.stable else "even as stated, where the gain is largest"
    calm = calm if found.worst.stable or "swings" in head else f"; the loop swings {swings}"
    return Verdict(status, "\n".join(filter(None, words)), head, _tiles(found, most), case=f"{case}{calm}",
                   do="" if status == "good" else _to_do(place, found))  # fmt: skip


def _weather_said(place):
    """The weather, and how warm the stair is in it, from its lower end to its upper where these differ."""
    stair = np.atleast_1d(place.shut.stair_c[0])
    ends = dict.fromkeys(with_unit(float(stair[at]), "temperature") for at in (0, -1))
    return f"{place.weather[0].upper()}{place.weather[1:]}, stair {' to '.join(ends)}"


def _to_do(place, found):
    """That a tuning without its margins is not to be entered, then whom to ask what: whether the one that is calm in every corner may be
    used hangs on more than this panel tries. The site's own is in the drive already: its margin, which is the tuning's, stands under the
    headline and not with what no tuning mends."""
    entered = replace(found.trial, door=place.own_trial.door) == place.own_trial
    hot = bool(found.lacks) and not entered
    lead = "Do: do not enter it; ask" if hot else "Ask:"
    if found.held_open_n > found.limit_n:
        force = _beside_limit(*apart((found.held_open_n, found.limit_n), "force", "most"), "max.")
        heavy = f"settled, door {found.held_open_level} takes {force}"
        if hot or np.isnan(found.held_low_pa):
            return f"{lead} the designer: {heavy}"
        least = place.window.by_storey(place.tower.levels, "stair door", doors_open=True)[0][place.tower.storey(found.held_low_level)]
        low = _beside_limit(*apart((found.held_low_pa, float(least)), "pressure", "least"), "min.")
        return f"{lead} the designer: {heavy}, door {found.held_low_level} {low}"
    if found.advised is None:
        return f"{lead} the drive's supplier for another ramp; no tuning stays calm here"
    gain, integral_s = found.advised
    if (followed := _behind_followed(place, found)) is not None:
        numbers = f"{two(followed[0])} %/%, {two(followed[1])} s, ramp {place.followed_s:g} s"
        return f"{lead} the designer{'' if hot else ', with the study below,'} about {numbers}"
    return f"{lead} the designer{'' if hot else ', with the study below,'} whether {two(gain)} %/%, {two(integral_s)} s may be entered"


def _behind_followed(place, found):
    """(gain, integral_s) that stays calm behind the ramp that is followed, where the one tried is not; else None."""
    if not found.not_followed or place.followed_s is None:
        return None
    return place.advised(replace(found.trial, ramp_s=place.followed_s))


def _margin_named(found):
    """Which margin a stable loop has too little of, in two words: the gain margin, which has a tile, where it is among them."""
    return found.worst.lacks()[0].partition(",")[0].rpartition(" ")[0]


def _ramp_said(found):
    """Whether times and forces hang on a ramp that is not followed, once over all figures; "" where it is followed."""
    if found.same_with_s is None:
        return f"Ramp: {head_said(found.not_followed)}." if found.mark else ""
    what = "times and forces" if found.margins.stable else "curves and forces"
    return (
        f"Ramp: this motor or brake cannot follow {found.trial.ramp_s:g} s, a finding of its own. This loop asks for less: with "
        f"{found.same_with_s:g} s, which is followed, {what} come out alike, margins do not."
    )


def _head(place, found, most, late):
    """What decides, in one sentence: people first, and beside them a door that is low for long, how low; then smoke, calm, time."""
    asked, heavy, low = place.window.criteria.response_s, found.heavy_level, ""
    if found.low_level_s > short_limit_s(asked):
        low = f"door {found.low_level}: {_of_least(*apart((found.low_pa, found.least_pa), 'pressure', 'least'))}"
    if most > found.limit_n:
        over = passed(most, found.limit_n, "force")
        return f"{_by(over)}, door {heavy}; {low}" if low else f"{over} at stair door {heavy}"
    if short_state(found.short_s, asked) == "wrong":
        return f"A shut door below minimum for {past_text(found.short_s)}, {short_limit_s(asked):g} s at most"
    if not found.worst.stable:
        stated = "Even as stated the loop swings where the gain is largest"
        return "In a corner of the lags the loop swings by itself" if found.margins.stable else stated
    if found.worst.lacks():
        return found.worst.lacks()[0][:1].upper() + found.worst.lacks()[0][1:].removesuffix(" for")
    if found.ahead:
        return "The integral asks for more than the drive's ramp gives"
    if not np.isfinite(found.slowest_s):
        return "Airflow has not recovered when the run ends"
    if late:
        return f"Airflow recovers after {found.slowest_s:.1f} s, {place.window.criteria.response_s:g} s asked"
    if place.first_minute.status(0) != "good":
        return doors_head(place.first_minute, 0, place.own.set_point_pa, place.site.doors, ", first minute")
    if low:
        return f"Stair {low} with any tuning"
    if found.mark:
        return f"Motor or brake cannot follow this ramp; airflow recovers in {found.slowest_s:.1f} s"
    return f"Stable: gain margin {found.worst.gain_margin:.1f} times, airflow recovers in {found.slowest_s:.1f} s"


@in_each
def _beside_limit(value, limit, word):
    """A figure with its limit behind it, the unit once.

    >>> _beside_limit("149 N", "133 N", "max.")
    '149 N (max. 133)'
    """
    return f"{value} ({word} {limit.partition(' ')[0]})"


@in_each
def _by(over):
    """By how much alone: the limit stands on the tile of that door.

    >>> _by("18 N over 133 N")
    '18 N over'
    """
    return f"{over.partition(' over ')[0]} over"


@in_each
def _of_least(low, least):
    """What a door gets of its least, the unit once.

    >>> _of_least("1 Pa", "25 Pa")
    '1 of 25 Pa'
    """
    return f"{low.partition(' ')[0]} of {least}"


def moved_said(door):
    """What moves in a trial, in words: it is not the door that is judged."""
    return f"the {door} {'open and shut' if ' and ' in door else 'opens and shuts'}"


def _tiles(found, most):
    """The hardest other door at its peak, the lowest one at its lowest and for how long, each named, and how many times the gain the loop
    stays stable. What stays of both once the loop is steady is told with whom to ask."""
    margin = number_beside(found.worst.gain_margin, ASKED.gain_margin)
    bears = f"{margin} times" if found.worst.stable else "none: it oscillates"
    lowest = ("Lowest shut door", "no minimum stated", "")
    if np.isfinite(found.low_pa):
        below = f", low for {past_text(found.low_level_s)}" if found.low_level_s else ""
        lowest = limit_tile(f"Stair door {found.low_level}, lowest{below}{found.mark}", found.low_pa, found.least_pa, "pressure", "min.")
    return (
        limit_tile(f"Hand, door {found.heavy_level}, peak{found.mark}", most, found.limit_n, "force"),
        lowest,
        ("Gain margin", bears, f"min. {ASKED.gain_margin:g}"),
    )


def _smoke_said(place, found):
    """The lightest shut door against its least, with this tuning as the file has the stair, and at rest in the first minute."""
    if np.isnan(found.low_pa):
        return "Smoke: no door states a minimum pressure."
    low, least = apart((found.low_pa, found.least_pa), "pressure", "least")
    seconds = ((found.open_low_s, "while the door stands open"), (found.low_s, "with it shut"))
    below = [f"for {value:.1f} s {when}" for value, when in seconds if value]
    said = f"Smoke: the lowest pressure at a shut door is {low}, minimum {least}, at stair door {found.low_level}"
    said += f"; a shut door is below its minimum {listed(below)}{found.mark}" if below else ""
    return f"{said}. {_held_low_said(found)}{_short_told(place, found)}{_first_minute_said(place)}"


def _held_low_said(found):
    """The shut door that gets least while the loop is at rest with the door open, and too little, with a blank behind; "" for none."""
    if np.isnan(found.held_low_pa):
        return ""
    held = f"{with_unit(found.held_low_pa, 'pressure')} at rest while the {found.trial.door} stands open"
    return f"Stair door {found.held_low_level} gets {held}: no tuning mends that. "


def _short_told(place, found):
    """How long a door is short though the loop at rest gives it enough, which of them, and what that is held against."""
    asked = place.window.criteria.response_s
    state = word_of(short_state(found.short_s, asked))
    if np.isnan(found.short_s):
        return f"{state}: {short_said(found.short_s, asked)}."
    if not found.short_s:
        return f"{state}: no door that the loop at rest gives enough is short after a move."
    whose = "common practice, no source" if asked is None else "asked of the flow by the standard, ours for a pressure"
    return (
        f"{state}: of the doors that the loop at rest gives enough, stair door {found.short_level} is the longest short, "
        f"{past_text(found.short_s)}{found.mark}; {short_limit_s(asked):g} s at the most ({whose})."
    )


def _first_minute_said(place):
    """What no tuning changes: the doors before the stair has its own warmth; "" where they hold."""
    first = place.first_minute
    if first.good[0]:
        return ""
    out = first.out_in(first.cases[0])
    told = out[0].text() if out else first.case_text(0)
    return f" In the first minute, the stair as warm as the rooms, {word_of(first.status(0))} with any tuning: {told}."


def _flow_said(place, found):
    """Seconds until the air is back, what the site's standard has to say to it, and what the ramp has."""
    opens, shuts = _after(found.opens_s, SHUTS_S - OPENS_S), _after(found.shuts_s, LENGTH_S - SHUTS_S)
    if not found.margins.stable:
        if not _rests(found):
            return "Flow: no time of recovery: the loop swings, and settles nowhere."
        at = place.found
        where = f"where the building's gain is largest ({at.output_percent:.0f} % of full speed, {at.case.name})"
        return f"Flow: no time of recovery is given: the curves come to rest here, but {where} this loop swings by itself, even as stated."
    said = f"Flow: 90 % of the way takes {opens} from when the door begins to open, {shuts} from when it begins to shut{found.mark}. "
    said += f"{place.study.time_asked()}."
    alone = f"The drive's ramp alone takes {found.ramp_opens_s:.1f} and {found.ramp_shuts_s:.1f} s{found.mark}"
    return f"{said} {alone}{f': with this ramp no tuning makes the {WITHIN_S:g} s of EN 12101-6:2005.' if found.ramp_forbids else '.'}"


def _rests(found):
    """Whether the reading has come to rest before the door shuts, and at the end."""
    last = ((found.time_s >= end - LOOKED_AT_S) & (found.time_s < end) for end in (SHUTS_S, LENGTH_S))
    return all(np.ptp(found.reading_pa[some]) <= LARGEST_SWING_PA for some in last)


def _force_said(place, found):
    while_open, peak, limit = apart((found.open_n, found.peak_n, found.limit_n), "force", "most")
    said = f"Force: the hardest other door needs {while_open} while the door is open, {peak} as it shuts{found.mark}; {limit} is allowed"
    held = f"{with_unit(found.held_open_n, 'force')} at rest" if found.held_open_n > found.limit_n else ""
    if not found.open_above_s and not found.above_s:
        if held:
            return f"{said}: {word_of('wrong')}, within it only till the loop has come to rest with the door open: {held}."
        return f"{said}: {word_of(status_of(max(found.open_n, found.peak_n), found.limit_n))}."
    times = ((found.open_above_s, "while the door stands open"), (found.above_s, "after it has begun to shut"))
    heavy = listed(f"for {seconds:.1f} s {when}" for seconds, when in times if seconds)
    cures = f" No tuning cures what it takes while the door stands open: {held}." if held else ""
    return f"{said}: {word_of('wrong')}, and it is too heavy {heavy}.{cures}"


def _margins_said(found):
    where = "where the building's gain is largest"
    if not found.worst.stable:
        bad, loop = word_of("wrong"), "the loop as stated is calm; with more lag it swings by itself"
        if not found.margins.stable:
            worst = f"worst of all with {found.corner.text()}"
            return f"Calm? {bad}: {where} even the loop as stated swings by itself, and {worst}. Too lively."
        return f"Calm? {bad}: {where} {loop} ({found.corner.text()}). Too lively."
    grows = 100 * (found.worst.peak_sensitivity - 1)
    bears = f"at {margin_text(found.worst)} times this gain it oscillates, at the worst of the range of lags"
    said = f"{where} {bears}; a gust grows by {grows:.0f} %"
    told = f"{word_of('wrong')}, too little room: {listed(found.lacks)}; {said}" if found.lacks else f"{word_of('good')}: {said}"
    return f"Calm? {told} ({found.corner.text()})."


def _advice_said(place, found):
    if found.advised is None:
        return f"Behind this filter, span and ramp nothing keeps {asked_text()}."
    gain, integral_s = found.advised
    times = place.nominal(found.trial).gain / gain
    return (
        f"The calm pair, the fastest that stays calm in every corner, for this filter, span and ramp: gain {two(gain)} %/%, integral "
        f"time {two(integral_s)} s{_followed_said(place, found)}. SIMC nominal would ask for {times:.1f} times that gain: not for a real "
        "building."
    )


def _followed_said(place, found):
    pair = _behind_followed(place, found)
    return "" if pair is None else f"; with {place.followed_s:g} s, which is followed, {two(pair[0])} %/%, {two(pair[1])} s"


def _after(seconds, looked_at_s):
    return f"more than {looked_at_s:.0f} s" if np.isnan(seconds) else f"{seconds:.1f} s"
