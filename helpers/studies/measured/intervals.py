"""How shares of buildings and intervals of a door's pressure are written beside their limits, in words and tiles."""

import numpy as np

from helpers import units
from helpers.studies.measured.forecast import EVEN_SHARE, SURE_SHARE
from helpers.studies.report import limit_text
from helpers.studies.status import inside
from helpers.units.said import in_each, shown_apart, with_unit, written_out

ENDS = {"min.": "least", "max.": "most"}
GAUGE_DIGITS = {"Pa": 1, "in. w.c.": 3}  # of an interval, as `limit_text` has them of its limits
FORCE_DIGITS = 1  # likewise, in both units


def percent(share):
    """A share in whole per cent; never 100 where one building is out, nor 0 where one is inside, nor over a share that a door is judged by.

    >>> percent(0.997), percent(1.0), percent(0.004), percent(0.504), percent(0.946)
    ('over 99 %', '100 %', 'under 1 %', '51 %', '94 %')
    """
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    whole = round(100 * share)
    if whole == round(100 * EVEN_SHARE) and share > EVEN_SHARE:
        whole += 1
    if whole == round(100 * SURE_SHARE) and share < SURE_SHARE:
        whole -= 1
    return f"{whole} %"


def sure_said(share):
    """How sure a door is inside, in plain words. share: of the buildings that fit the day's readings in which it is.

    >>> sure_said(0.0), sure_said(0.42), sure_said(1.0)
    ('out in every building that fits the readings', 'inside in 42 % of the buildings that fit the readings', \
'inside in every building that fits the readings')
    """
    if share in (0, 1):
        return f"{'inside' if share else 'out'} in every building that fits the readings"
    return f"inside in {percent(share)} of the buildings that fit the readings"


def spread_text(low, high, digits=(1, 3)):
    """Two pressures [Pa] with the unit once; digits: as `with_unit` takes them."""
    return _joined(with_unit(low, "pressure", digits), with_unit(high, "pressure", digits))


@in_each
def _joined(low, high):
    return f"{low.split(' ')[0]} to {high}"


def window_text(window_pa):
    """A door's window in words, both ends rounded inwards."""
    return ", ".join(_limit_said(word, limit) for word, limit in zip(ENDS, window_pa, strict=True) if np.isfinite(limit))


def nearer_text(one):
    """The limit of a door that its pressure is nearer to, rounded inwards; without its unit, to stand behind the pressure that has it."""
    _, limit, word = nearer_pa(one)
    return _figure_alone(_limit_said(word, limit))


def interval_tile(what, one, word):
    """(what, value, limit) of a door's interval beside one of its limits, "min." or "max.", the unit once, behind the limit."""
    limit = dict(zip(ENDS, one.window_pa, strict=True))[word]
    return what, _without_unit(beside_window(one.reach_pa, one.window_pa)), _limit_said(word, limit)


def share_tile(what, share):
    """(what, value, limit) of the share of the buildings in which all is inside, beside the least that is PASS.

    >>> share_tile("Every door", 0.96), share_tile("Every door", 0.954), share_tile("Every door", 0.946)
    (('Every door', '96 %', 'min. 95 %'), ('Every door', '95.4 %', 'min. 95 %'), ('Every door', '94 %', 'min. 95 %'))
    """
    least, told = percent(SURE_SHARE), percent(share)
    return what, f"{100 * share:.1f} %" if told == least and share > SURE_SHARE else told, f"min. {least}"


def least_left(one):
    """What a door has left to its nearer limit at that end of its interval, of the figures shown: 0.2 Pa of 30.6 to 35.2 beside 35.4 Pa."""
    word = nearer_pa(one)[2]
    _, ends, limit = interval_tile("", one, word)
    return _least_left(ends, limit, word)


@in_each
def _least_left(ends, limit, word):
    end = ends.split(" to ")[0 if word == "min." else 1]
    return shown_apart(f"{end} {limit.split(' ', 2)[2]}", limit.split(" ", 1)[1])


@in_each
def _without_unit(text):
    return " ".join(text.split(" ")[:3])


@in_each
def _figure_alone(text):
    return " ".join(text.split(" ")[:2])


def _limit_said(word, limit_pa):
    return f"{word} {limit_text(limit_pa, 'pressure', ENDS[word])}"


@in_each
def beside_window(ends_pa, window_pa, *, system):
    """An interval [Pa] as it stands beside its window: an end that keeps its limit is never written beyond that limit as it is written, one
    that is past it never as that limit, but rounded on by a digit.

    >>> written_out(beside_window((30.65, 35.42), (-46.94, 35.43))), written_out(beside_window((30.65, 35.46), (-46.94, 35.43)))
    ('30.6 to 35.4 Pa', '30.6 to 35.5 Pa')
    >>> written_out(beside_window((30.65, 35.44), (-46.94, 35.43)))
    '30.6 to 35.5 Pa'
    """
    shown, digits = [], GAUGE_DIGITS[system]
    for end, value, limit, tighter, sign in zip(ENDS.values(), ends_pa, window_pa, (max, min), (1, -1), strict=True):
        figure = round(float(units.to_display(value, "pressure", system)), digits)
        if np.isfinite(limit):
            written = float(written_out(limit_text(limit, "pressure", end), system).split()[0])
            if inside(sign * (value - limit)):
                figure = tighter(figure, written)
            elif sign * (figure - written) >= 0:
                figure = written - sign * 10.0**-digits
        shown.append(f"{figure:.{digits}f}")
    return f"{' to '.join(shown)} {units.unit_label('pressure', system)}"


def error_said(error_pa, accuracy_pa):
    """(error, accuracy) of a device, the same figures in tile, list, table and picture: the accuracy as it is stated, and no error written
    as the accuracy that is not.

    >>> written_out(error_said(1.04, 1.25)), written_out(error_said(-1.2499, 1.25))
    (('1.04 Pa', '±1.25 Pa'), ('-1.2499 Pa', '±1.2500 Pa'))
    """
    tried = [[with_unit(value, "pressure", (2 + more, 4 + more)) for value in (error_pa, accuracy_pa)] for more in range(4)]
    return tuple(_apart_in_each(place, *(one for pair in tried for one in pair)) for place in (0, 1))


@in_each
def _apart_in_each(place, *texts):
    """Of pairs of an error and an accuracy, one after the other, with more digits each: the error (place 0) or the accuracy (1) of the
    first pair that does not read alike."""
    pairs = list(zip(texts[::2], texts[1::2], strict=True))
    found = next((pair for pair in pairs if pair[0].lstrip("-−") != pair[1]), pairs[-1])[place]
    return f"±{found}" if place else found


@in_each
def at_limit(value_si, limit_si, dimension, end, *, system):
    """(value, limit) of one figure beside its limit, which is rounded inwards; the value as `beside_window` has it of an end.

    >>> written_out(at_limit(87.74, 87.72, "pressure", "most")), written_out(at_limit(87.71, 87.72, "pressure", "most"))
    (('87.8 Pa', '87.7 Pa'), ('87.7 Pa', '87.7 Pa'))
    """
    limit = written_out(limit_text(limit_si, dimension, end), system)
    digits, sign = GAUGE_DIGITS[system] if dimension == "pressure" else FORCE_DIGITS, 1 if end == "most" else -1
    figure, written = round(float(units.to_display(value_si, dimension, system)), digits), float(limit.split()[0])
    if inside(sign * (limit_si - value_si)):
        figure = sign * min(sign * figure, sign * written)
    elif sign * (figure - written) <= 0:
        figure = written + sign * 10.0**-digits
    return f"{figure:.{digits}f} {units.unit_label(dimension, system)}", limit


def past_limit(value_si, limit_si, dimension, where=""):
    """A limit that is not kept, in few words, the limit rounded inwards: `report.passed` for what is read against a gauge.

    >>> written_out(past_limit(92.1, 87.72, "pressure", "at stair door 3"))
    '4.4 Pa over 87.7 Pa at stair door 3'
    """
    end = "most" if value_si > limit_si else "least"
    return _past(*at_limit(value_si, limit_si, dimension, end), "over" if end == "most" else "short of", where)


@in_each
def _past(value, limit, how, where):
    number, unit = value.split(" ", 1)
    by = abs(float(number) - float(limit.split(" ")[0]))
    by = f"{by:.{len(number.partition('.')[2])}f}"
    return f"{by}{'' if ' ' in unit else f' {unit}'} {how} {limit}{f' {where}' if where else ''}"


def nearer_pa(one):
    """(by how much the middle of the buildings is beyond the nearer limit, below zero inside; that limit; "min." or "max.") [Pa]."""
    (least, most), middle = one.window_pa, one.pressures_pa[1]
    return max((least - middle, least, "min."), (middle - most, most, "max."))
