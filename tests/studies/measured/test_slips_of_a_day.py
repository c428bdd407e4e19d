"""A reading with a wrong sign or a slip of the point does not stop the fit of a day: it is named, left out, and the rest is used."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.studies.measured.fitted import MOST_SLIPS, NotSettledError, fit_building
from helpers.studies.measured.forecast import forecast
from helpers.studies.measured.readings import FLOW, QUANTITIES
from helpers.studies.measured.told import fitted_told, furthest_out, unread_said
from helpers.units.said import written_out


def with_factor(day, numbers, factor):
    value = day.value.copy()
    value[numbers] *= factor
    return replace(day, value=value)


def number_of(day, quantity, place, round_):
    found = np.flatnonzero((day.quantity == QUANTITIES.index(quantity)) & (day.storey == place) & (day.round == round_))
    assert len(found) == 1
    return int(found[0])


def test_a_sound_day_has_no_slips(sound):
    assert sound.slips == ()
    assert sound.not_used == sound.left_out


@pytest.mark.parametrize(("factor", "look"), [(-1.0, "which side is high?"), (10.0, "a slip of the point")])
@pytest.mark.parametrize("place", [3, 8])
def test_one_slip_is_named_and_the_rest_is_used(day, sound, factor, look, place):
    last = int(day.round.max())
    number = number_of(day, "stair door", place, last)
    found = fit_building(with_factor(day, number, factor))
    named = [*found.slips, *(found.readings.said(one) for one in found.strange)]
    assert any(written_out(one).startswith(day.said(number)) for one in named)
    if found.slips:
        (said,) = map(written_out, found.slips)
        assert f"{day.value[number] * factor:.1f} Pa read" in said
        assert look in said
        assert len(found.readings) == len(sound.readings) - 1
    for one, other in zip(found.factors, sound.factors, strict=True):
        assert abs(np.log(one.factor / other.factor)) < 0.1


def test_a_round_with_every_sign_turned_is_left_out_whole_and_the_others_are_used(day, sound):
    last = int(day.round.max())
    turned = np.flatnonzero((day.round == last) & (day.quantity != FLOW))
    found = fit_building(with_factor(day, turned, -1.0))
    assert not np.isin(last, found.readings.round)
    assert len(found.readings) == (sound.readings.round != last).sum()
    assert any(f"round {last + 1} is left out with its other" in one for one in found.slips)
    assert found.left_out == sound.left_out
    assert len({*found.not_used}) == len(found.not_used)


def test_a_day_of_which_nothing_settles_names_the_readings_farthest_off(day):
    rng = np.random.default_rng(1)
    with pytest.raises(NotSettledError, match=r"no answer has settled, nor without .*: look at these first") as refused:
        fit_building(replace(day, value=day.value * np.where(rng.random(len(day)) < 0.5, -10.0, 10.0)))
    assert 1 <= str(written_out(str(refused.value))).count(" Hz)") <= MOST_SLIPS


def test_what_was_not_read_in_a_round_is_said(day):
    assert not [*unread_said(day)]
    number = number_of(day, "stair door", 3, 1)
    less = day.but([number])
    (said,) = unread_said(less)
    assert said == f"Round 2 is used without what was not read in it: {day.place_said(day.quantity[number], 3)}."
    assert said in fitted_told(fit_building(less), forecast(fit_building(less), draws=20)).notes


def test_the_headlines_door_is_named_first_then_januarys_before_summers_of_the_same_status(sound):
    found, several = forecast(sound, draws=20), set()
    every = [one for one in fitted_told(sound, found).findings if one.what.startswith(("stair door", "final exit"))]
    for shut in (True, False):
        first, *doors = [one for one in every if ("others open" in one.what) != shut]
        assert first.what.startswith(furthest_out(found.by_door(shut)).door)
        wrong = [one.why.startswith("winter") for one in doors if one.severity == "wrong"]
        several |= {*wrong}
        assert wrong == sorted(wrong, reverse=True)
    assert several == {True, False}  # else nothing is sorted here
