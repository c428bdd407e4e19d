"""One table from a limit to a status, and one way to count, rank and fold findings."""

import numpy as np
import pytest

from helpers.plots.markup import KINDS
from helpers.studies.report import Finding
from helpers.studies.status import (
    SPARE_PA,
    STATUSES,
    between_limits,
    fails_said,
    folded,
    headline,
    ranked,
    room_status,
    status_of,
    word_of,
    worst_of,
)


@pytest.mark.parametrize(
    ("value", "limit", "margin", "kind", "word"),
    [
        (150.0, 133.0, 0.0, "most", "FAIL"),
        (133.1, 133.0, 5.0, "most", "FAIL"),
        (131.0, 133.0, 5.0, "most", "CHECK"),
        (100.0, 133.0, 5.0, "most", "PASS"),
        (24.0, 25.0, 0.0, "least", "FAIL"),
        (26.0, 25.0, 3.0, "least", "CHECK"),
        (40.0, 25.0, 3.0, "least", "PASS"),
        (None, 25.0, 3.0, "least", "NOT YET"),
        (40.0, None, 0.0, "most", "NOT YET"),
        (float("nan"), 25.0, 0.0, "most", "NOT YET"),
        (40.0, float("inf"), 0.0, "most", "PASS"),
    ],
)
def test_a_figure_past_its_limit_fails_and_one_without_a_limit_is_not_yet_judged(value, limit, margin, kind, word):
    assert word_of(status_of(value, limit, margin, kind)) == word


def test_a_figure_on_its_limit_is_not_past_it_whatever_rounding_left():
    assert status_of(133.0 + 1e-9, 133.0) == "good"
    assert status_of(133.0 + 1e-9, 133.0, 1.0) == "attention"


def test_whatever_the_margin_no_figure_past_its_limit_passes():
    rng = np.random.default_rng(4)
    value, limit, margin = rng.normal(50, 20, 5000), rng.normal(50, 20, 5000), rng.exponential(5, 5000)
    for kind, past in (("most", value > limit + 1e-5), ("least", value < limit - 1e-5)):
        keys = status_of(value, limit, margin, kind)
        assert set(keys[past]) == {"wrong"}
        assert "wrong" not in keys[~past]
        assert {"good", "attention"} <= set(keys[~past])


def test_a_window_without_either_end_judges_nothing():
    assert between_limits(40.0, None, None) == "open"
    assert between_limits(40.0, 25.0, None) == "good"
    assert between_limits(70.0, 25.0, 61.0) == "wrong"
    assert between_limits(None, 25.0, 61.0) == "open"


@pytest.mark.parametrize(
    ("room_pa", "word"), [(-0.2, "FAIL"), (-0.05, "CHECK"), (0.0, "CHECK"), (SPARE_PA - 0.1, "CHECK"), (SPARE_PA, "PASS"), (np.inf, "PASS")]
)
def test_a_door_with_less_room_than_it_may_be_off_by_is_check_after_a_failure_too(room_pa, word):
    """One function for ways of falling back, sequences that are played, and the doors of a review."""
    assert word_of(room_status(room_pa, 0.1)) == word


def test_wrong_arguments_are_refused_by_name():
    with pytest.raises(ValueError, match="kind must be one of most, least; got 'about'"):
        status_of(1.0, 2.0, kind="about")
    with pytest.raises(ValueError, match="margin must be at least 0"):
        status_of(1.0, 2.0, -1.0)
    with pytest.raises(ValueError, match="keys must be of"):
        worst_of(["good", "fine"])


def test_the_gravest_of_some_is_told_and_what_is_not_judged_does_not_count():
    assert worst_of(["good", "", "open", "attention"]) == "attention"
    assert worst_of(["", ""]) == ""
    assert word_of("") == ""


def test_every_status_has_a_mark_of_its_own_on_the_pages():
    assert [KINDS[key].word for key in STATUSES] == ["FAIL", "CHECK", "NOT YET", "PASS"]
    assert len({KINDS[key].mark for key in STATUSES}) == len(STATUSES)


def test_a_limit_that_is_passed_now_comes_before_one_that_might_be():
    maybe, now = Finding("wrong", "with a wire off", possible=True), Finding("wrong", "in winter")
    assert ranked([Finding("good", "motor"), maybe, now, Finding("attention", "range")])[:2] == (now, maybe)


def test_one_cause_is_one_finding_and_no_cause_is_milder_than_what_follows_from_it():
    cause = Finding("attention", "the fan is too small", key="fan", possible=True)
    effect = Finding("wrong", "doors 6 and 7 stay short", caused_by="fan")
    stray = Finding("wrong", "no such cause", caused_by="elsewhere")
    told = folded([effect, cause, stray])
    assert [finding.what for finding in told] == ["the fan is too small", "no such cause"]
    assert told[0].severity == "wrong"
    assert not told[0].possible
    assert told[0].effects == (effect,)
    assert headline(told) == "2 FAIL, 0 CHECK; 1 more follows from these"


def test_two_findings_of_one_cause_carry_what_follows_once():
    causes = [Finding("wrong", "short in winter", key="fan"), Finding("wrong", "short in summer", key="fan")]
    told = folded([*causes, Finding("attention", "the motor", caused_by="fan")])
    assert [len(finding.effects) for finding in told] == [1, 0]


def test_a_cause_that_follows_from_another_takes_its_own_effects_along():
    fan, case = Finding("wrong", "fan", key="fan"), Finding("wrong", "winter", key="winter", caused_by="fan")
    hour = Finding("attention", "winter, after an hour", caused_by="winter")
    (told,) = folded([hour, case, fan])
    assert told.what == "fan"
    assert set(told.effects) == {case, hour}
    assert folded([hour, case])[0].effects == (hour,)  # without the fan's finding the case stands for itself


def test_causes_in_a_ring_are_all_told():
    ring = [Finding("wrong", "a", key="a", caused_by="b"), Finding("wrong", "b", key="b", caused_by="a")]
    assert len(folded(ring)) == 2


def test_nothing_judged_is_no_pass():
    assert headline(()) == "Nothing was judged: NOT YET"


def test_the_worst_place_of_a_fail_never_stands_among_those_that_are_only_counted():
    low = "; ".join(f"door {at}: {by} Pa too low" for at, by in ((1, 4), (2, 5), (3, 37), (4, 6)))
    (told,) = fails_said([Finding("wrong", "Doors out", f"{low}; door 5: 78.4 Pa too high", "", "")])
    assert "at worst door 3: 37 Pa too low" in told
    assert "at worst door 5: 78.4 Pa too high" in told
    assert told.endswith("1 more in the record")
    (plain,) = fails_said([Finding("wrong", "Doors out", "door 1: 9 Pa too low; door 2: 5 Pa too low; door 3: 7 Pa too low", "", "")])
    assert "at worst" not in plain


def test_what_follows_from_a_fail_is_told_with_the_worst_of_it():
    cause = Finding("wrong", "Winter, doors shut", "stair door 0: 1.6 Pa too low", "", "", key="cold")
    worse = Finding("wrong", "First minute", "stair door 0: 4.2 Pa too low", "", "", caused_by="cold")
    less = Finding("wrong", "After an hour", "stair door 0: 0.2 Pa too low", "", "", caused_by="cold")
    (told,) = fails_said([cause, less, worse])
    assert told.endswith("2 more FAIL or CHECK follow from it, at worst first minute: stair door 0: 4.2 Pa too low")
