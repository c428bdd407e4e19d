"""The states of the sequence: every one has a way out that leads back, none stops for want of demand, what cannot be done is refused."""

from dataclasses import replace

import pytest

from helpers.record.papers.quoted import Quoted
from helpers.record.papers.states import priority, sound, states_of


@pytest.fixture
def laid_down(design_named):
    return Quoted(design_named("all laid down"))


@pytest.fixture
def states(laid_down):
    return states_of(laid_down)


def test_where_all_is_laid_down_no_state_is_refused(states):
    assert {state.title: state.refused for state in states if state.refused} == {}


def test_on_a_stair_whose_loop_holds_nothing_each_state_that_hangs_on_it_is_refused_with_the_reason(design_named):
    refused = {state.key: state.refused for state in states_of(Quoted(design_named("Larkfield House"))) if state.refused}
    assert set(refused) == {"test", "smoke", "panel on", "lost", "differ"}
    assert refused["smoke"].startswith("not laid down: first the set point")
    assert refused["panel on"].startswith("FAIL: 50 Hz")


def test_a_refusal_tells_what_speaks_against_the_line_and_not_its_value_alone(design_named):
    refused = {state.key: state.refused for state in states_of(Quoted(design_named("Tannery Row"))) if state.refused}
    assert set(refused) == {"panel on", "lost", "differ"}
    assert all("FAIL" in reason for reason in refused.values())
    assert "no way of falling back is to be entered" in refused["differ"]


def test_a_state_without_a_way_out_is_refused(states):
    with pytest.raises(ValueError, match="must each have a way out; 'Off, ready' has none"):
        sound((replace(states[0], ends=()), *states[1:]))


def test_a_way_out_to_nowhere_is_refused(states):
    with pytest.raises(ValueError, match="one of 'Off, ready' leads to 'the moon'"):
        sound((replace(states[0], ends=(("tide", "the moon"),)), *states[1:]))


def test_states_that_lead_only_to_each_other_are_refused(states):
    round_trip = [replace(state, ends=(("again", "panel off"),)) if state.key in ("panel on", "panel off") else state for state in states]
    with pytest.raises(ValueError, match="must all lead back to 'Off, ready'; no way out of 'Fire service: on' does"):
        sound(tuple(round_trip))


def test_two_states_of_one_key_are_refused(states):
    with pytest.raises(ValueError, match="'off' is the key of two"):
        sound((*states, states[0]))


def test_a_stair_that_is_out_of_smoke_control_has_no_sequence_of_it(laid_down):
    laid_down.design = type("Design", (), {"site": laid_down.site.with_changes(control={"fire_mode": False}), "out_of_mode": ""})
    with pytest.raises(ValueError, match="out of smoke control: first its mode"):
        states_of(laid_down)


def test_the_fire_services_panel_goes_before_all_but_a_locked_isolator(states):
    orders = {state.key: priority()[state.order - 1] for state in states}
    assert priority()[:2] == ("a locked isolator, or no power", "the fire service's panel")
    assert orders["panel on"] == orders["panel off"] == "the fire service's panel"
    assert orders["smoke"] == "the fire alarm"


def test_the_low_demand_stop_is_off_and_said_so_in_smoke_control(states):
    smoke = next(state for state in states if state.key == "smoke")
    assert "Low-demand stop: off. It is never active in smoke control." in smoke.does


def test_a_stair_with_one_reading_has_no_state_of_readings_that_differ_and_no_way_to_it(laid_down):
    one = laid_down.site.model_copy(update={"transmitters": laid_down.site.transmitters[:1]})
    laid_down.site = one
    keys = {state.key for state in states_of(laid_down)}
    assert "differ" not in keys
    assert {to for state in states_of(laid_down) for _, to in state.ends} <= keys
