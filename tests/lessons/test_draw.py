"""Numbers of an exercise: the same for everybody with the same seed, and exactly what is written."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import units
from helpers.teaching.seeds import Draw, seed_of

SOME = settings(max_examples=50, derandomize=True, deadline=None)
SYSTEMS = st.sampled_from(units.SYSTEMS)


def numbers(draw):
    pressure, count, one = draw.quantity("pressure", 10.0, 60.0, 0.5), draw.whole(2, 9), draw.one_of("abc")
    return pressure, count, one, draw.shuffled("abcdef")


@SOME
@given(st.integers(0, 2**32), SYSTEMS)
def test_the_same_seed_draws_the_same_numbers(seed, system):
    assert numbers(Draw(seed, system)) == numbers(Draw(seed, system))


def test_another_seed_draws_other_numbers():
    assert len({numbers(Draw(seed))[0] for seed in range(50)}) > 20


@SOME
@given(st.integers(0, 2**32), SYSTEMS)
def test_a_quantity_is_exactly_what_the_question_writes(seed, system):
    draw = Draw(seed, system)
    for dimension, low, high, step in (("pressure", 5.0, 100.0, 0.7), ("force", 20.0, 120.0, 1.0), ("length", 0.8, 3.5, 0.01)):
        value = draw.quantity(dimension, low, high, step)
        assert units.parse(draw.say(value, dimension), dimension) == value


@SOME
@given(st.integers(0, 2**32))
def test_a_quantity_lies_where_it_was_asked_for_and_both_ends_come(seed):
    assert 10.0 <= Draw(seed).quantity("pressure", 10.0, 12.0, 1.0) <= 12.0


def test_both_ends_of_a_range_come():
    assert {Draw(seed).quantity("pressure", 10.0, 12.0, 1.0) for seed in range(60)} == {10.0, 11.0, 12.0}
    assert {Draw(seed).whole(1, 3) for seed in range(60)} == {1, 2, 3}


def test_all_of_several_are_there_after_shuffling():
    assert sorted(Draw(5).shuffled("abcdef")) == list("abcdef")
    assert len({"".join(Draw(seed).shuffled("abcdef")) for seed in range(30)}) > 10


@pytest.mark.parametrize("seed", [-1, 1.5, "7", None])
def test_a_seed_that_is_none_is_refused(seed):
    with pytest.raises(ValueError, match="seed must be a whole number of 0 or more"):
        Draw(seed)


def test_a_seed_of_words_is_the_same_on_every_machine():
    # Worked out once from the SHA-256 of the words; another machine, Python or year must give the same.
    assert seed_of("Ada", "door force", 1) == 963462094


def test_words_do_not_run_into_one_another():
    assert seed_of("ab", "c") != seed_of("a", "bc")
    assert seed_of("名前", 1) != seed_of("名", "前", 1)
