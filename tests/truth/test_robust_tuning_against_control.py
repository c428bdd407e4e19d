"""The recommended tuning in every corner of its box, against python-control; and a loop in time with its dead time, against solve_ivp.

The box is told in numbers only (gain, lags, dead time, filling air); the loop is built anew from transfer functions, its dead time exact as
frequency data. In time the delay equations are solved by the method of steps: each stretch of one dead time with scipy's solve_ivp, its
input the dense answer of the stretch before.
"""

from functools import cache

import numpy as np
import pytest
from late_import import imported_late
from scipy.integrate import solve_ivp

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.doors.window import pressure_window
from helpers.studies.tuning.study import tuning_study

SITES = tuple(demo_sites())
control = imported_late("control")


@cache
def studied(name):
    site = read_site(demo_sites()[name])
    return tuning_study(Tower(site), pressure_window(site), what_helps=False)


def chain(box, corner):
    """Lags, lead and dead time of a corner, in plain numbers."""
    (entered, *own), (_, response, _, tubes) = box.lags_s, box.least_s
    least = (response, 0.0, tubes)  # a dial that is turned back leaves no damping; a filter leaves nothing
    lags = [entered * corner.filter_share, *(low + corner.dial_share * (lag - low) for lag, low in zip(own, least, strict=True))]
    lags, lead = [*lags, corner.lag_s], 0.0
    if corner.fills:
        lags += [box.air.shaft_s, box.air.floors_s]
        lead = box.air.floors_s * (1 + box.air.overshoot)
    return [lag for lag in lags if lag > 0], lead, corner.dead_time_s + box.ramp_delay_s


def outside_margins(box, corner, gain, integral_s):
    """Gain margin, phase margin [degrees], peak sensitivity by python-control; no margin that is negative counts as one."""
    lags, lead, dead = chain(box, corner)
    s = control.tf("s")
    loop = box.gain * gain * (1 + 1 / (integral_s * s)) * (1 + lead * s)
    for lag in lags:
        loop = loop / (1 + lag * s)
    w = np.logspace(-2.5, 1.7, 500)
    data = control.frd(np.squeeze(loop(1j * w)) * np.exp(-1j * w * dead), w)
    margin, phase, distance, *_ = control.stability_margins(data)
    return margin, phase, 1 / distance


def hardest_turned_back(box, ours):
    """Places of the four corners with filter or dial turned back that leave the least gain margin, and of the four most sensitive ones."""
    turned = [place for place, corner in enumerate(box.corners) if corner.turned_back]
    by_margin, by_peak = (sorted(turned, key=key)[:4] for key in (lambda at: ours.gain_margin[at], lambda at: -ours.peak_sensitivity[at]))
    return list(dict.fromkeys([*by_margin, *by_peak]))


def safe(margin, phase, peak):
    return margin >= 2.5 and phase >= 40.0 and peak <= 1.7


@pytest.mark.parametrize("name", SITES)
def test_in_every_corner_the_margins_are_those_of_python_control_and_all_are_kept(name):
    study = studied(name)
    best, box = study.recommended, study.box
    ours = box.margins(best.gain, best.integral_s)
    as_stated = [place for place, corner in enumerate(box.corners) if (corner.filter_share, corner.dial_share) == (1, 1)]
    assert len(as_stated) == 30  # five lags, three dead times, air at once and as it fills
    for place in (*as_stated, *hardest_turned_back(box, ours)):
        corner = box.corners[place]
        margin, phase, peak = outside_margins(box, corner, best.gain, best.integral_s)
        assert ours.gain_margin[place] == pytest.approx(margin, rel=1e-3)
        assert ours.phase_margin_deg[place] == pytest.approx(phase, abs=0.05)
        assert ours.peak_sensitivity[place] == pytest.approx(peak, rel=1e-3)
        assert safe(margin, phase, peak)


@pytest.mark.parametrize("name", SITES)
def test_between_the_corners_nothing_is_worse(name):
    """A thousand loops drawn inside the box, filter and dial anywhere between zero and as stated; the corners are shares of it, so a worse
    one could hide between them."""
    study = studied(name)
    best, box, draw = study.recommended, study.box, np.random.default_rng(7)
    drawn = [
        type(box.corners[0])(draw.uniform(*box.extra_lag_s), draw.uniform(*box.dead_time_s), bool(draw.integers(2)), *draw.uniform(0, 1, 2))
        for _ in range(1000)
    ]
    found = box.margins(best.gain, best.integral_s, tuple(drawn))
    assert found.gain_margin.min() >= 2.5
    assert found.phase_margin_deg.min() >= 40.0
    assert found.peak_sensitivity.max() <= 1.705  # the corners lie five and three to an axis


@pytest.mark.parametrize(("gain", "integral_s"), [(1.07, 0.53), (1.3, 0.55), (0.6, 4.0)])
def test_a_tuning_that_is_only_good_in_the_model_is_refused_by_the_same_check(gain, integral_s):
    box = studied("Larkfield House").box
    assert not all(safe(*outside_margins(box, corner, gain, integral_s)) for corner in box.corners)
    assert box.worst(gain, integral_s)[0].lacks(box.asked)


def in_time(box, corner, gain, integral_s, length_s):
    """Reading [% of span] and integral part after a push of the output by 1 % at time 0, by the method of steps; at rest before."""
    lags, lead, dead = chain(box, corner)
    assert lead == 0
    order, past, state = len(lags), [], np.zeros(len(lags) + 1)
    times, readings, parts = [np.zeros(1)], [np.zeros(1)], [np.zeros(1)]
    for stretch in range(int(np.ceil(length_s / dead))):
        start, end = stretch * dead, (stretch + 1) * dead

        def late(t, past=past):
            """Controller's answer a dead time ago; none before the push."""
            if not past or t - dead <= 0:
                return 0.0
            before = past[-1](t - dead)
            return -gain * before[order - 1] + before[order]

        def rates(t, x):
            # The push is a load at the output; so is what the controller gave a dead time ago.
            fed = [box.gain * (1.0 + late(t)), *x[: order - 1]]
            moves = [(value - own) / lag for value, own, lag in zip(fed, x, lags, strict=False)]
            return [*moves, -gain / integral_s * x[order - 1]]

        found = solve_ivp(rates, (start, end), state, dense_output=True, rtol=1e-5, atol=1e-7)
        assert found.success
        past, state = [found.sol], found.y[:, -1]
        times.append(found.t[1:])
        readings.append(found.y[order - 1, 1:])
        parts.append(found.y[order, 1:])
    return tuple(np.concatenate(column) for column in (times, readings, parts))


def five(box):
    """The four ends of the box with air that answers at once, and its middle."""
    (low_lag, high_lag), (low, high) = box.extra_lag_s, box.dead_time_s
    kind = type(box.corners[0])
    ends = [kind(lag, dead, False) for lag in (low_lag, high_lag) for dead in (low, high)]
    return [*ends, kind((low_lag + high_lag) / 2, (low + high) / 2, False)]


@pytest.mark.parametrize("number", range(5))
def test_in_time_the_recommended_tuning_comes_to_rest_and_makes_the_error_good_as_soon_as_it_says(number):
    study = studied("Larkfield House")
    best, box = study.recommended, study.box
    time, reading, part = in_time(box, five(box)[number], best.gain, best.integral_s, 30.0)
    assert np.abs(reading[time > 22]).max() < 0.01 * np.abs(reading).max()
    assert part[-1] == pytest.approx(-1.0, abs=0.01)  # the integral has taken the push over
    # "Fastest" is the area under the error: integral time over gain for each per cent of output.
    area = np.sum((reading[1:] + reading[:-1]) / 2 * np.diff(time))
    assert area == pytest.approx(best.integral_s / best.gain, rel=0.01)
    swings = reading[time > time[reading.argmax()]]
    assert -swings.min() < 0.25 * reading.max()  # one undershoot, no more than a quarter


@pytest.mark.parametrize("number", range(5))
def test_in_time_a_loop_swings_at_the_gain_that_its_margin_says(number):
    study = studied("Larkfield House")
    best, box, corner = study.recommended, study.box, five(study.box)[number]
    margin = float(box.margins(best.gain, best.integral_s, (corner,)).gain_margin[0])

    def late_over_early(times):
        time, reading, _ = in_time(box, corner, times * margin * best.gain, best.integral_s, 28.0)
        return np.ptp(reading[time > 20]) / np.ptp(reading[(time > 6) & (time < 14)])

    assert late_over_early(0.93) < 0.9
    assert late_over_early(1.07) > 1.1


def test_in_time_the_old_advice_swings_ever_wider_in_the_far_corner():
    box = studied("Larkfield House").box
    time, reading, _ = in_time(box, five(box)[3], 1.07, 0.53, 30.0)
    assert np.ptp(reading[time > 20]) > 3 * np.ptp(reading[(time > 5) & (time < 15)])


@pytest.mark.parametrize("damping_s", [1.0, 4.0])
def test_with_dial_and_filter_turned_back_the_margins_are_those_of_python_control_and_all_are_kept(damping_s):
    """Whatever damping a site states, the tuning found behind it is safe when somebody turns the dial to zero and takes the filter out."""
    site = read_site(demo_sites()["Tannery Row"]).with_changes(transmitters=[{"damping_s": damping_s}] * 2)
    study = tuning_study(Tower(site), pressure_window(site), what_helps=False)
    best, box = study.recommended, study.box
    places = hardest_turned_back(box, box.margins(best.gain, best.integral_s))
    margins = [outside_margins(box, box.corners[place], best.gain, best.integral_s) for place in places]
    assert all(safe(*found) for found in margins)
    assert all(corner.filter_share * corner.dial_share < 1 for corner in box.turned_back)
    assert best.back.gain_margin == pytest.approx(min(margin for margin, _, _ in margins), rel=1e-3)
    assert best.back.peak_sensitivity == pytest.approx(max(peak for _, _, peak in margins), rel=1e-3)
    if damping_s == 4.0:  # what would be quickest behind a dial that nobody ever turns
        assert not any(safe(*outside_margins(box, box.corners[place], 0.89, 2.6)) for place in places)


def test_in_time_the_recommended_tuning_comes_to_rest_with_the_dial_turned_back():
    """No filter, no damping, the longest dead time."""
    study = studied("Tannery Row")
    best, box = study.recommended, study.box
    corner = type(box.corners[0])(0.0, box.dead_time_s[1], False, 0.0, 0.0)
    time, reading, part = in_time(box, corner, best.gain, best.integral_s, 30.0)
    assert np.abs(reading[time > 22]).max() < 0.01 * np.abs(reading).max()
    assert part[-1] == pytest.approx(-1.0, abs=0.01)
