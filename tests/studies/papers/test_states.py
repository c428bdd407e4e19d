"""The states of the sequence: every one has a way out that leads back, none stops for want of demand, what cannot be done is refused."""

from dataclasses import replace

import pytest

from helpers.model.files import texts
from helpers.record.papers.points import RUNNING, falling_back
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.states import TELL_ALONE, priority, sound, states_of, verdict_on


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
    """With no way of falling back to be entered the difference is told alone: there is no state of it to be refused."""
    refused = {state.key: state.refused for state in states_of(Quoted(design_named("Tannery Row"))) if state.refused}
    assert set(refused) == {"test", "smoke", "panel on", "lost"}
    assert all("FAIL" in reason for reason in refused.values())
    assert refused["smoke"] == refused["test"] == "highest speed in smoke control: FAIL: 46 Hz is the file's, do not enter"
    assert "none of the ways tried is to be entered" in refused["lost"]


@pytest.mark.parametrize("line", [("loop", "gain"), ("loop", "integral time"), ("fan", "highest speed in smoke control")])
def test_a_value_that_must_not_be_entered_refuses_both_states_that_the_loop_runs_in(laid_down, line):
    quoted = Quoted(laid_down.design)
    quoted._settings[line] = replace(quoted._settings[line], value="FAIL: 1 is the file's, do not enter")
    refused = {state.key: state.refused for state in states_of(quoted) if state.refused}
    assert refused["test"] == refused["smoke"] == f"{line[1]}: FAIL: 1 is the file's, do not enter"


def test_a_state_is_as_bad_as_the_worst_line_that_it_quotes(laid_down):
    quoted = Quoted(laid_down.design)
    assert verdict_on(quoted, next(state for state in states_of(quoted) if state.key == "test"))[1] == "attention"  # its gain
    line = "loop", "integral time"
    quoted._settings[line] = replace(quoted._settings[line], why="FAIL: too lively")
    told = {state.key: verdict_on(quoted, state) for state in states_of(quoted)}
    for key in ("test", "smoke"):
        assert told[key][1] == "wrong"
        assert "FAIL: integral time" in told[key][0]


DETOURS = ("panel off", "panel on", "manual", "intake", "tripped", "mains", "isolator")


def test_smoke_control_is_not_lost_in_a_detour(states):
    """Alarm reset, and the fire service has not agreed: what follows MANUAL or a trip is smoke control and no restore."""
    by_key = {state.key: state for state in states}
    for key in DETOURS:
        ways = {to: when for when, to in by_key[key].ends}
        for to in ("smoke", "lost", "by alarm", "differ"):
            assert "fire alarm there, or smoke control not yet released" in ways[to], (key, to)
    assert any("smoke control" in step and "stays latched" in step for step in by_key["mains"].does)


def test_a_fallback_that_latched_before_the_alarm_is_taken_from_smoke_control(states):
    ways = {to: when for when, to in next(state for state in states if state.key == "smoke").ends}
    assert ways["lost"].endswith("or its fallback latched")
    assert ways["differ"].endswith("or their fallback latched")


def test_a_fallback_that_an_alarm_took_is_left_by_a_person_alone(states):
    by_key = {state.key: state for state in states}
    assert by_key["differ"].latches == "until somebody resets it"
    assert ("reset, no reading lost", "smoke") in by_key["differ"].ends
    assert by_key["by alarm"].latches == "until somebody resets it"
    assert ("reset, no reading lost", "smoke") in by_key["by alarm"].ends


@pytest.mark.parametrize(("name", "falls_back"), [("all laid down", True), ("Tannery Row", False)])
def test_what_takes_the_fan_to_a_fallback_by_alarm_is_what_the_alarm_list_sends_there(design_named, name, falls_back):
    quoted = Quoted(design_named(name))
    by_key = {state.key: state for state in states_of(quoted)}
    lost = by_key["lost"]
    assert ("by alarm" in by_key) is falls_back
    counts = [step for state in by_key.values() if state.key == "by alarm" for step in state.does if step.startswith("Alarm on ")]
    assert [any(alarm.on in step and alarm.limit in step for step in counts) for alarm in falling_back(quoted)] == [True] * len(counts)
    assert bool(counts) is falls_back
    assert (TELL_ALONE in lost.does) is not falls_back
    assert not falls_back or any("frozen" in step for step in counts)


def test_a_difference_that_is_told_alone_is_said_to_take_nothing_over(design_named):
    """The schedule's line speaks of that alarm taking over; on this site it tells alone."""
    (step,) = (step for state in states_of(Quoted(design_named("Tannery Row"))) if state.key == "smoke" for step in state.does
               if step.startswith("A reading that falls beside an open door"))  # fmt: skip
    assert "Where the alarm on the difference tells alone, nothing takes over" in step


def test_a_proof_of_run_that_fails_takes_no_air(states):
    """A cut wire, or a flow switch that does not make at the start speed, must neither hold the fan there nor slow it."""
    smoke = next(state for state in states if state.key == "smoke")
    start, lost = (step for step in smoke.does if "roof of run" in step or "proof that is lost" in step)
    assert "the loop takes over without proof, or the fallback speed" in start
    assert "never lowers the speed" in lost
    proof = next(one for one in texts("papers")["points"] if one["name"] == "fan run proof")
    assert proof["speed"].startswith("as before and never less for it")
    assert "run is proved," not in RUNNING  # alarms do not wait for a proof that may not come
    words = str(texts("papers")["states"]) + str(proof)
    assert not [bad for bad in ("loop is not released", "counts as no run", "until it is proved") if bad in words]


def test_a_state_without_a_way_out_is_refused(states):
    with pytest.raises(ValueError, match="must each have a way out; 'Off, ready' has none"):
        sound((replace(states[0], ends=()), *states[1:]), ORDERS)


def test_a_way_out_to_nowhere_is_refused(states):
    with pytest.raises(ValueError, match="one of 'Off, ready' leads to 'the moon'"):
        sound((replace(states[0], ends=(("tide", "the moon"),)), *states[1:]), ORDERS)


def test_states_that_lead_only_to_each_other_are_refused(states):
    round_trip = [replace(state, ends=(("again", "panel off"),)) if state.key in ("panel on", "panel off") else state for state in states]
    with pytest.raises(ValueError, match="must all lead back to 'Off, ready'; no way out of 'Fire service: off' does"):
        sound(tuple(round_trip), ORDERS)


NAMES = ["Larkfield House", "Northgate Tower", "Tannery Row", "all laid down"]
ORDERS = ("panel on", "manual", "smoke", "test")  # who may order the fan to run; everything else may not


@pytest.mark.parametrize("name", NAMES)
def test_no_cause_of_a_lower_rank_undoes_a_higher(design_named, name):
    """A way out to a state of a lower rank is there only when the own cause is gone."""
    by_key = {state.key: state for state in states_of(Quoted(design_named(name)))}
    for state in by_key.values():
        own = by_key[state.inside or state.key].gone
        lower = [when for when, to in state.ends if by_key[to].order > state.order]
        assert all(own and when.startswith(own) for when in lower), state.title


@pytest.mark.parametrize("name", NAMES)
def test_every_state_ends_when_the_mains_are_lost_and_when_the_panel_is_turned_off_or_on(design_named, name):
    states = states_of(Quoted(design_named(name)))
    assert len(states) >= 12
    for state in states:
        assert {"isolator", "mains", "tripped", "panel off", "panel on"} <= {to for _, to in state.ends} | {state.key}, state.title


@pytest.mark.parametrize("name", NAMES)
def test_no_state_starts_the_fan_without_an_order_to_run(design_named, name):
    """Whatever leads from a fan at rest to one that runs names the order: panel, switch at the drive, fire alarm, a test asked for."""
    by_key = {state.key: state for state in states_of(Quoted(design_named(name)))}
    words = ("panel to ON", "panel at ON", "to MANUAL", "in MANUAL", "fire alarm", "self-test asked for")
    starts = [(when, to) for state in by_key.values() for when, to in state.ends
              if state.fan in ("off", "without power") and by_key[to].fan not in ("off", "without power")]  # fmt: skip
    assert len(starts) > 20
    assert [when for when, _ in starts if not any(word in when for word in words) or "fire alarm reset" in when] == []
    assert {to for to in by_key if by_key[to].fan not in ("off", "without power")} - {*ORDERS, "lost", "by alarm", "differ"} == set()


@pytest.mark.parametrize("name", NAMES)
def test_in_off_ready_a_lost_reading_is_trouble_alone_and_in_smoke_control_it_takes_the_speed(design_named, name):
    by_key = {state.key: state for state in states_of(Quoted(design_named(name)))}
    assert {"lost", "by alarm", "differ"} & {to for key in ("off", "restore", "test") for _, to in by_key[key].ends} == set()
    assert any("no command, and the fan stays off" in step for step in by_key["off"].does)
    assert "lost" in {to for _, to in by_key["smoke"].ends}
    assert by_key["lost"].order == by_key["smoke"].order


def test_what_follows_the_return_of_the_mains_is_looked_up_in_the_order_of_the_ranks(states):
    mains = next(state for state in states if state.key == "mains")
    order = ["tripped", "panel off", "panel on", "manual", "intake", "lost", "by alarm", "differ", "smoke", "restore"]
    assert [to for when, to in mains.ends if when.startswith("power back")] == order
    assert dict((to, when) for when, to in mains.ends)["restore"] == "power back, nothing else there"


def changed(states, key, *ends):
    return tuple(replace(state, ends=(*state.ends, *ends)) if state.key == key else state for state in states)


@pytest.mark.parametrize(
    ("key", "end", "said"),
    [
        ("intake", ("fire alarm", "smoke"), "a lower cause must not undo a higher one; 'fire alarm' leads from 'Smoke at the intake'"),
        ("panel off", ("fire alarm there", "smoke"), "a lower cause must not undo a higher one"),
        ("off", ("a reading lost", "lost"), "the fan must start by an order to run alone; 'a reading lost' of 'Off, ready' is none"),
        ("restore", ("fire alarm reset", "smoke"), "the fan must start by an order to run alone"),
        ("test", ("a reading lost", "lost"), "the fan must start by an order to run alone"),
    ],
)
def test_a_way_out_that_breaks_the_ranks_is_refused(states, key, end, said):
    with pytest.raises(ValueError, match=said):
        sound(changed(states, key, end), ORDERS)


@pytest.mark.parametrize("to", ["mains", "panel off", "isolator"])
def test_a_state_that_a_higher_cause_does_not_end_is_refused(states, to):
    smoke = next(state for state in states if state.key == "smoke")
    without = replace(smoke, ends=tuple(end for end in smoke.ends if end[1] != to))
    with pytest.raises(ValueError, match="every higher cause must end a state; none of the ways out of 'Smoke control' leads to"):
        sound(tuple(without if state is smoke else state for state in states), ORDERS)


def test_two_states_of_one_key_are_refused(states):
    with pytest.raises(ValueError, match="'off' is the key of two"):
        sound((*states, states[0]), ORDERS)


def test_a_stair_that_is_out_of_smoke_control_has_no_sequence_of_it(laid_down):
    laid_down.design = type("Design", (), {"site": laid_down.site.with_changes(control={"fire_mode": False}), "out_of_mode": ""})
    with pytest.raises(ValueError, match="out of smoke control: first its mode"):
        states_of(laid_down)


def test_the_fire_services_panel_goes_before_all_but_what_the_fan_cannot_run_with(states):
    orders = {state.key: priority()[state.order - 1] for state in states}
    assert priority()[:4] == ("a locked isolator", "no power at the drive", "a drive that has tripped", "the fire service's panel")
    assert orders["panel on"] == orders["panel off"] == "the fire service's panel"
    assert orders["smoke"] == orders["lost"] == "the fire alarm"
    assert orders["manual"] == "the switch at the drive, in MANUAL"


def test_the_low_demand_stop_is_off_and_said_so_in_smoke_control(states):
    smoke = next(state for state in states if state.key == "smoke")
    assert "Low-demand stop: off. It is never active in smoke control." in smoke.does


def test_a_stair_with_one_reading_has_no_state_of_readings_that_differ_and_no_way_to_it(laid_down):
    one = laid_down.site.model_copy(update={"transmitters": laid_down.site.transmitters[:1]})
    laid_down.site = one
    keys = {state.key for state in states_of(laid_down)}
    assert "differ" not in keys
    assert {to for state in states_of(laid_down) for _, to in state.ends} <= keys
