"""Times of a test day against each other: the fire watch over all of it, past midnight too; no step without its time is a PASS; what a step
waits for binds it."""

from dataclasses import replace

import pytest

from helpers.studies.commissioning.crew.example import STARTS_MIN, _words
from helpers.studies.commissioning.crew.procedure import SHIFT_MIN
from helpers.studies.commissioning.crew.times import minutes_of
from helpers.studies.commissioning.hand_back import CLOSING, FIRE_WATCH, IN_AUTOMATIC, ISOLATED
from helpers.studies.commissioning.steps.frame import AS_FOUND, CAPPED
from tests.studies.test_crew import larkfield, northgate, proved  # noqa: F401
from tests.studies.test_crew_limits import line, report  # noqa: F401

WATCH = ("told", FIRE_WATCH, "given")
TOLD = "Told and given back"


def at(minutes):
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def evening(steps, start, apart=10):
    """Times of all steps from `start` [minutes], and of what is given back, in their order."""
    times = {("steps", step.number, "time"): at(start + apart * place) for place, step in enumerate(steps.steps)}
    last = start + apart * (len(steps.steps) - 1)
    closing = {("told", one, "given"): f"yes, {at(last - apart + (apart // 2 if one in ISOLATED else apart))}, AB" for one in CLOSING}
    before = {key: f"{at(start - 30)}, AB" for key in proved() if key[1] not in CLOSING}
    keep = {key: text for key, text in closing.items() if key[1] in (*ISOLATED, "time")}
    return times | {key: text for key, text in before.items() if "ceiling" not in key[1]} | keep, last


@pytest.mark.parametrize(("start", "early", "late", "state", "words"), [
    (540, -30, 0, "good", ""),
    (1230, -30, 0, "good", ""),  # 20:30 to past midnight
    (1230, -30, -1, "wrong", "watch ends"),
    (540, -30, -120, "wrong", "the stair is not given back until"),
    (540, 120, 60, "wrong", "watch begins"),
    (1380, 120, 60, "wrong", "the fan is out of readiness from"),
])  # fmt: skip
def test_the_fire_watch_stands_from_before_the_fan_is_out_until_the_stair_is_given_back(
    report, larkfield, start, early, late, state, words  # noqa: F811
):  # fmt: skip
    times, last = evening(larkfield, start)
    found = report(filled=times | {WATCH: f"AB, {at(start + early)} to {at(last + late)}"})
    one = line(found, TOLD, "fire watch")
    assert (one.state, words in one.words) == (state, True), one.words
    assert (line(found, "Steps", "1. ").state == "wrong") == (state == "wrong")


def test_a_watch_of_the_day_is_none_of_a_night(report, larkfield):  # noqa: F811
    times, _ = evening(larkfield, 1230)
    assert line(report(filled=times | {WATCH: "AB, 08:30 to 17:30"}), TOLD, "fire watch").state == "wrong"


def test_a_watch_over_steps_whose_times_run_back_is_asked_about(report, larkfield):  # noqa: F811
    times, last = evening(larkfield, 540)
    found = report(filled=times | {("steps", 9, "time"): "09:05", WATCH: f"AB, 08:30 to {at(last)}"})
    assert line(found, TOLD, "fire watch").state == "attention"
    assert "which comes first" in line(found, "Steps", "9. ").words


@pytest.mark.parametrize("start", [540, 1320])
def test_what_is_given_back_lies_between_the_steps_around_it(report, larkfield, start):  # noqa: F811
    times, last = evening(larkfield, start)
    in_order = report(filled=times)
    assert not [one.words for one in in_order.lines if one.part == TOLD and ("given back before" in one.words or "after it" in one.words)]
    late = report(filled=times | {("told", ISOLATED[1], "given"): f"yes, {at(last + 30)}, AB"})
    assert f"is after step {len(larkfield.steps)}" in line(late, TOLD, ISOLATED[1]).words
    soon = report(filled=times | {("told", IN_AUTOMATIC, "given"): f"yes, {at(last - 30)}, AB"})
    assert f"is before step {len(larkfield.steps) - 1}" in line(soon, TOLD, IN_AUTOMATIC).words


def test_a_step_without_its_time_is_no_pass(report, larkfield):  # noqa: F811
    assert line(report(), "Steps", "All doors shut, steady speed 3").state == "good"
    for text, words in ((None, "no time of it is written"), ("noon", "no time of day in it: 'noon'")):
        step = next(step for step in larkfield.steps if "steady speed 3" in step.judged)
        found = line(report(filled={("steps", step.number, "time"): text}), "Steps", "All doors shut, steady speed 3")
        assert found.state == "open"
        assert words in found.words


@pytest.mark.parametrize(("text", "state"), [(None, "open"), ("none", "wrong"), ("AB, 08:30 to 10:30", "wrong")])
def test_no_step_that_waits_for_the_fire_watch_is_a_pass_without_it(report, larkfield, text, state):  # noqa: F811
    assert line(report(), "Steps", "1. ").state == "good"
    found = report(filled={WATCH: text})
    assert line(found, "Steps", "1. ").state == state
    after = [line(found, "Steps", f"{step.number}. ") for step in larkfield.steps[1:] if step.part != "give back"]
    assert not [one.device for one in after if one.state == "good"]
    assert "run while step 1, " in line(found, "Steps", "steady speed 3").words
    assert found.verdict[0] != "good"


def test_plates_that_differ_bind_what_runs_the_fan_and_nothing_else(report, larkfield):  # noqa: F811
    found = report(filled={("devices", "fan", "seen"): "otherwise"} | {("devices", "motor", "seen"): None})
    papers = line(found, "Steps", "Papers and plates")
    assert papers.state in ("open", "wrong")
    assert line(found, "Steps", "steady speed 3").state == "attention"
    assert "run while step 2" in line(found, "Steps", "steady speed 3").words
    still = next(step for step in larkfield.steps if "fan off" in step.judged and step.leaves not in (AS_FOUND, CAPPED))
    assert "run while step" not in line(found, "Steps", f"{still.number}. ").words


@pytest.mark.parametrize(("day", "state"), [("2026-05-12", "good"), ("2162-05-12", "attention")])
def test_a_date_that_is_still_to_come_is_asked_about(report, larkfield, day, state):  # noqa: F811
    one = line(report(filled={("day", "date", "found"): day}), "Weather", "weather found")
    assert (one.state, "still to come" in one.words) == (state, state != "good")


def test_a_day_is_acted_on_unless_all_of_it_passes(report, larkfield):  # noqa: F811
    """Nothing past a limit and hundreds of lines still to fill in is no end in order."""
    found = report(filled={WATCH: None})
    for state, acts in (("wrong", True), ("attention", True), ("open", True), ("good", False)):
        assert replace(found, verdict=(state, "")).to_act == acts


def test_no_evening_is_longer_than_a_shift_and_what_is_of_one_weather_stays_together(northgate):  # noqa: F811
    """All steps of the tallest demo site: each of them on an evening, told and given back on every one."""
    evenings = northgate.evenings()
    assert northgate.minutes > SHIFT_MIN
    assert len(evenings) > 1
    for steps in evenings:
        assert sum(step.minutes for step in steps) <= SHIFT_MIN
        assert steps[0].number == 1
        assert steps[-1] is northgate.steps[-1]
    assert {step.number for steps in evenings for step in steps} == {step.number for step in northgate.run}
    read = [number for number, steps in enumerate(evenings) for step in steps
            if {*step.judged} & {"fan off", "steady speed 1", "steady speed 2", "steady speed 3"}]  # fmt: skip
    assert len(read) == 4
    assert len(set(read)) == 1
    told = [*northgate.evenings_said()]
    assert [one.partition(":")[0] for one in told if one.startswith("Evening")] == [f"Evening {n}" for n in range(1, len(evenings) + 1)]
    assert any("a second of each" in one for one in told)


def test_the_steps_of_the_example_take_their_minutes_one_after_the_other(larkfield):  # noqa: F811
    filled, before = _words(larkfield, "2026-05-12"), STARTS_MIN
    for step in larkfield.run:
        ends = minutes_of(filled["steps", step.number, "time"])
        assert ends - before >= step.minutes - 1, step.label
        before = ends


def test_a_book_of_two_evenings_is_held_to_the_watch_of_each(report, larkfield):  # noqa: F811
    """The first evening up to the steady speeds, the second one from there; two books, each with its own watch."""
    cut = next(place for place, step in enumerate(larkfield.steps) if "steady speed 3" in step.judged)
    times, _ = evening(larkfield, 1230, apart=8)
    later = {("steps", step.number, "time"): at(1230 + 8 * place) for place, step in enumerate(larkfield.steps[cut:])}
    last = 1230 + 8 * (len(larkfield.steps) - cut - 1)
    times |= later | {key: f"yes, {at(last)}, AB" for key, text in times.items() if text.startswith("yes")}
    first = f"AB, 20:00 to {at(1230 + 8 * cut)}"
    for second, state in ((f"CD, 20:15 to {at(last)}", "good"), (f"CD, 20:15 to {at(last - 30)}", "wrong")):
        one = line(report(filled=times | {WATCH: f"{first} / {second}"}), TOLD, "fire watch")
        assert (one.state, "evening 2: watch ends" in one.words) == (state, state == "wrong"), one.words
    short = line(report(filled=times | {WATCH: f"AB, 20:00 to 20:45 / CD, 20:15 to {at(last)}"}), TOLD, "fire watch")
    assert (short.state, "evening 1: watch ends" in short.words) == ("wrong", True), short.words
    same = line(report(filled=times | {WATCH: f"AB, 20:00 to {at(last + 60)}"}), TOLD, "fire watch")
    assert same.state == "attention", same.words


def test_long_steps_that_follow_each_other_at_once_are_asked_about_and_no_fault(report, larkfield):  # noqa: F811
    step = next(step for step in larkfield.steps if "steady speed 3" in step.judged)
    for apart, asked in ((40, False), (5, True)):
        times, _ = evening(larkfield, 540, apart=apart)
        one = line(report(filled=times), "Steps", step.label)
        assert (one.state, "are both times right?" in one.words) == ("good", asked), one.words
