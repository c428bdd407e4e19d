"""Requests by damper position, and a set point that is trimmed or responds: steps worked by hand, and what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpers.formulas.trim_and_respond import least_times, requests, trim_or_respond

REST = {"lowest": 60.0, "highest": 200.0, "trim": 5.0, "respond": 4.0, "respond_most": 10.0, "ignored": 1}


def test_a_course_worked_by_hand():
    # 100 Pa; nobody asks, one asks (ignored), two (4 up), four (12, but 10 at the most), nobody twice.
    course, by_hand = [100.0], [95.0, 90.0, 94.0, 104.0, 99.0, 94.0]
    for asking in (0, 1, 2, 4, 0, 0):
        course.append(float(trim_or_respond(course[-1], asking, **REST)))
    assert course[1:] == by_hand


def test_it_goes_no_further_than_its_ends():
    assert trim_or_respond([62.0, 60.0], 0, **REST).tolist() == [60.0, 60.0]
    assert trim_or_respond([195.0, 200.0], 9, **REST).tolist() == [200.0, 200.0]


def test_a_zone_asks_until_its_damper_has_come_back():
    course, asks, told = (0.80, 0.94, 0.95, 0.91, 0.86, 0.85, 0.94), False, []
    for place in course:
        asks = requests(place, asks, 0.95, 0.85)
        told.append(bool(asks))
    assert told == [False, False, True, True, True, False, False]


def test_no_course_is_quicker_than_the_least_times():
    up, down = least_times(60.0, 200.0, 5.0, 10.0, 120.0)
    for asking, start, end, least in ((99, 60.0, 200.0, up), (0, 200.0, 60.0, down)):
        steps, now = 0, start
        while now != end:
            now, steps = float(trim_or_respond(now, asking, **REST)), steps + 1
        assert steps * 120.0 == least


@given(st.floats(60, 200), st.integers(0, 1000))
def test_more_requests_never_mean_less_pressure(set_point, asking):
    assert trim_or_respond(set_point, asking + 1, **REST) >= trim_or_respond(set_point, asking, **REST)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: requests(1.2, False, 0.95, 0.85), "position must be from 0 to 1, got 1.2"),
        (lambda: requests(0.5, False, 0.8, 0.9), "asks_until must be no more than asks_above, got 0.9 and 0.8"),
        (lambda: trim_or_respond(100.0, -1, **REST), "asking must be 0 or more, got -1"),
        (lambda: trim_or_respond(100.0, 1, **REST | {"trim": -5.0}), "trim must be 0 or more, got -5"),
        (lambda: trim_or_respond(100.0, 1, **REST | {"lowest": 300.0}), "lowest must be no more than highest, got 300.0 and 200.0"),
        (lambda: trim_or_respond(np.nan, 1, **REST), "set_point must be"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
