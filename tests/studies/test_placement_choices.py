"""Choices of transmitters: every one once, and none that cannot be."""

import pytest

from helpers.studies.placement.study import Placing, candidate_levels, choices_of, own_choice, spread_triples


def test_every_choice_is_made_once(northgate):
    levels = candidate_levels(northgate)
    assert levels == tuple(range(40))  # the basements have no lobby, and the transmitters' reference is one
    made = choices_of(northgate, triples=spread_triples(levels))
    assert len(set(made)) == len(made) == 40 + 780 * 4 + 10 * 5 + 1
    assert own_choice(northgate) == made[-1] == Placing((3, 19, 35), "middle")


@pytest.mark.parametrize(
    ("levels", "rule", "weights", "words"),
    [
        ((), "average", None, "levels must be one or more"),
        ((3, 3), "average", None, "each once"),
        ((1, 2), "least", None, "rule must be one of"),
        ((1, 2), "weighted", None, "weights must be given"),
        ((1, 2), "weighted", (1.0,), "weights must be one for each of 2 storeys"),
        ((1, 2), "weighted", (0.0, 0.0), "not all zero"),
        ((1, 2), "weighted", (-1.0, 2.0), "weights must be 0 or more"),
        ((1, 2, 3, 4), "middle", None, "levels must be 3 at the most for the rule middle"),
    ],
)
def test_a_choice_that_is_none_is_refused(levels, rule, weights, words):
    with pytest.raises(ValueError, match=words):
        Placing(levels, rule, weights)


def test_choices_of_levels_that_are_not_there_are_refused(stair):
    with pytest.raises(ValueError, match="levels must be storeys of the site, 0 to 5, got 7"):
        choices_of(stair(), levels=(0, 7))
    with pytest.raises(ValueError, match="levels must leave something to choose"):
        choices_of(stair(), (2,), levels=(3,))


def test_a_site_that_takes_the_middle_of_five_is_compared_without_its_own(stair, a_transmitter):
    five = stair(transmitters=[a_transmitter(f"PDT-{level}", level) for level in range(5)], control={"rule": "middle"})
    assert own_choice(five) is None
    assert len(choices_of(five, (1,))) == 6


def test_a_single_transmitter_needs_no_rule(stair):
    made = choices_of(stair(), (1,), rules=("lowest", "highest"))
    assert [choice.rule for choice in made if len(choice.levels) == 1] == ["average"] * 6


def test_weights_go_by_the_number_of_transmitters(stair):
    made = choices_of(stair(), (2,), ("weighted",), triples=[(0, 2, 5)], weights={2: (5.0, 1.0)})
    assert {choice.weights for choice in made if choice.rule == "weighted"} == {(5.0, 1.0), (1.0, 2.0, 1.0)}
    assert "weighted 5:1 of storeys 0 and 1" in [choice.text() for choice in made]
