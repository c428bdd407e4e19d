"""Single kinds of a review, looked at on the little they ask of a bench: what they tell to do first, and what they may not leave out."""

from types import SimpleNamespace

import numpy as np

from helpers.record.review import alarms, building, failures, loop, rule, signals
from helpers.record.review.kinds import STRATEGY
from helpers.record.review.stair_bench import ReviewBench
from helpers.studies.tuning.candidate import margin_text


def an_input(name, level=1, own=(None, None)):
    return SimpleNamespace(name=name, tag=f"{name} (storey {level})", level=level, own_limits=own)


def test_two_transmitters_that_change_places_with_the_site_file_are_a_finding_of_their_own():
    stated = SimpleNamespace(transmitters=[an_input("PDT-1", 1), an_input("PDT-2", 4)])

    def found(*levels):
        inputs = [an_input(name, level) for name, level in zip(("PDT-1", "PDT-2"), levels, strict=True)]
        return [one.severity for one in signals.other_level(SimpleNamespace(stated=stated, strategy=SimpleNamespace(inputs=inputs)))]

    assert found(1, 4) == []
    assert found(4, 1) == ["wrong", "wrong"]
    assert found(2, 4) == ["attention"]
    stated = SimpleNamespace(transmitters=[an_input("PT-1 low", 1), an_input("PT-2 high", 4)])  # a site file with the earlier tags
    assert found(4, 1) == ["wrong", "wrong"]


def test_a_low_alarm_above_the_set_point_is_told_where_no_loop_at_rest_is_sound_too():
    strategy = SimpleNamespace(inputs=[an_input("PDT-1", own=(26.0, 40.0))], alarms=SimpleNamespace(limits=(None, None, 15.0)))
    held = SimpleNamespace(state=np.array(["held"]))
    bench = SimpleNamespace(strategy=strategy, set_point=19.0, judged=np.array([True]), held=held, show=str, alarms_said=str,
                            inside=lambda _: np.array([False]), errors=np.array([0.5]))  # fmt: skip
    assert [one.what for one in alarms.inside_normal(bench)] == ["The low alarm on the PDT-1 lies above the set point"]
    strategy.inputs, strategy.alarms.limits = [], (18.0, 20.9, None)  # a pascal or two beside it: they ring at every draught
    assert [(one.severity, one.what) for one in alarms.inside_normal(bench)] == [
        ("attention", "The low alarm on the combined reading lies beside the set point"),
        ("attention", "The high alarm on the combined reading lies beside the set point"),
    ]
    strategy.alarms.limits = (17.0, 21.0, None)
    assert list(alarms.inside_normal(bench)) == []


def test_a_gain_margin_that_says_nothing_more_is_not_told_to_the_last_digit():
    assert [margin_text(SimpleNamespace(gain_margin=gain)) for gain in (2.54, 31553.3, np.inf)] == ["2.5", "more than 100", "more than 100"]


def test_a_set_point_that_suits_once_the_inputs_are_entered_rightly_is_the_strategys():
    of_record = SimpleNamespace(set_points=lambda *_: None)
    bench = SimpleNamespace(strategy=SimpleNamespace(loop=SimpleNamespace(rule="average")), set_point=35.0, rules=("average",),
                            of_record=of_record, set_points=lambda _: np.array([35.0]))  # fmt: skip
    assert rule.whose_beside_open(bench) == STRATEGY


def test_a_set_point_that_a_year_bars_is_named_after_one_that_it_leaves_or_with_the_words():
    def said(*barred):
        record = SimpleNamespace(set_points=lambda _, way, offered=True: (30.0, 31.0),
                                 year_said=lambda _, way: "; but not all year" if way in barred else "")  # fmt: skip
        bench = SimpleNamespace(strategy=SimpleNamespace(loop=SimpleNamespace(rule="average"), inputs=[]), set_point=19.0,
                                rules=("average", "highest"), of_record=record, set_points=lambda _: np.array([30.0, 31.0]))  # fmt: skip
        return rule.works(bench)

    assert "highest" not in said("highest")
    assert "average" in said("highest")
    assert said("average", "highest").count("not all year") == 2


def test_the_stop_on_a_failed_reading_is_replaced_at_once_before_anything_is_built(monkeypatch):
    study = SimpleNamespace(best=SimpleNamespace(state="wrong"))
    monkeypatch.setattr(failures, "fallback_said", lambda _: "agreed fallback speed, 43.5 Hz")
    strategy = SimpleNamespace(on_bad_reading=SimpleNamespace(does="stop"))
    bench = SimpleNamespace(strategy=strategy, smoke_control=True, speed_first="", dimension="pressure", held_words="pressure",
                            fallback=study, fallback_said=lambda: "first 3 dampers")  # fmt: skip
    (told,) = failures.stops(bench)
    assert told.remedy == "at once, instead of the stop: agreed fallback speed, 43.5 Hz; then first 3 dampers"


def test_a_lowest_speed_entered_that_keeps_the_loop_up_comes_before_tuning_and_alarms():
    fan = SimpleNamespace(speed_limits_hz=lambda _: (10.0, 46.0))
    bench = SimpleNamespace(speed_limits_hz=(28.0, 46.0), stated=SimpleNamespace(fan=fan), smoke_control=True, settled=np.array([True]),
                            held=SimpleNamespace(state=np.array(["at lowest speed"])), held_back=np.array([False]))  # fmt: skip
    first = ReviewBench.speed_first.func
    assert first(bench) == "a lower lowest speed"
    bench.speed_limits_hz = 10.0, 46.0
    assert first(bench) == ""
    bench.speed_first, bench.pair, bench.fallback, bench.set_point_suits = "a lower lowest speed", (None, False), "study", True
    assert ReviewBench.proposed(bench) == "first a lower lowest speed, then the tuning for it"
    assert ReviewBench.alarms.fget(bench) is None
    assert ReviewBench.alarms_said(bench) == "first a lower lowest speed: with it the limits are worked out anew"


def test_the_tuning_that_is_entered_is_not_offered_as_a_remedy():
    own = SimpleNamespace(gain=0.22, integral_s=0.82)
    bench = SimpleNamespace(pair=(SimpleNamespace(gain=0.2201, integral_s=0.8199), True), tuning=SimpleNamespace(own=own))
    assert building._tuning_said(bench) == "the tuning to enter is the one entered already"


def test_minutes_for_seconds_are_told_with_what_was_meant_where_there_is_nothing_to_tune(monkeypatch):
    monkeypatch.setattr(loop, "largest_gain", lambda _: (1.0, 0, 30.0))
    monkeypatch.setattr(loop, "loop_lags_s", lambda *_: ([1.0], 0.5))
    monkeypatch.setattr(loop, "settles_text", lambda _: "about 4 min")
    bench = SimpleNamespace(strategy=SimpleNamespace(loop=SimpleNamespace(integral_s=73.2)), unknown_lag_s=0.4, pair=(None, False),
                            proposed=lambda: "first a lower lowest speed, then the tuning for it")  # fmt: skip
    (told,) = loop.integral_unit(bench)
    assert told.remedy.startswith("1.22 s, if that was meant; else ")
    assert told.remedy.endswith("; first a lower lowest speed, then the tuning for it")


def test_a_fan_that_saturates_is_not_listed_as_not_found_beside_one_that_does():
    titles = [kind.title for kind in building.KINDS if kind.key.startswith("saturates")]
    assert titles == ["a fan that saturates with all doors shut", "a fan that saturates with doors open"]
