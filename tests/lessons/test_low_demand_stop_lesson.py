"""The low-demand stop's lesson: a night of the offices under any rule, its cases, its mathematics, its panel, and the fire mode's no."""

import math
import re
from pathlib import Path

import nbformat
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import fan, low_demand
from helpers.formulas.low_demand import LowDemandRule
from helpers.lessons.low_demand_stop import derivations, questions
from helpers.lessons.low_demand_stop.derivations import motor_starts
from helpers.lessons.low_demand_stop.lesson import page
from helpers.lessons.low_demand_stop.lesson import panel as low_demand_panel
from helpers.lessons.low_demand_stop.questions import MAKERS, NO, YES, may_it_stop
from helpers.model.loop.results import energy_kwh
from helpers.model.plants.pressure_plant import DuctConditions, Turn, run_plant, setup_of
from helpers.studies.low_demand import verdict as judged
from helpers.studies.low_demand.night import DAY, ENDS_S, EVENING, NIGHT, NIGHT_OPENINGS, TURN_S, courses_of, mill_street, play
from helpers.teaching.questions import exercise_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = low_demand_panel  # what the fixture `panel` makes

OWN = judged.own_rule()
PAGE = Path(__file__).parents[2] / "notebooks" / "09_low_demand_stop.ipynb"


def rule(**changes):
    return OWN._replace(**{name: float(value) for name, value in changes.items()})


def judge(opening=0.0, **changes):
    return judged.judge(opening, rule(**changes))


# ------------------------------------------------------------------------------------------------------------------ the night


def whole_night(opening, a_rule):
    """The same night in the real loop, sample after sample."""
    plant = mill_street()
    turns = (
        Turn(ENDS_S[0], {"opening": np.full(10, opening)}, TURN_S),
        Turn(ENDS_S[1], {"opening": plant.site.demand["morning"].opening}, TURN_S),
    )
    start_hz = courses_of()[opening].steady_hz[EVENING]
    setup = setup_of(plant, ENDS_S[-1], low_demand=a_rule, start_hz=start_hz, events=turns, every_reading=False)
    return run_plant(plant, DuctConditions.of(plant.site, "evening"), setup)


@pytest.mark.parametrize(
    ("opening", "changes"),
    [
        (0.0, {}),
        (0.0, {"stop_below_hz": 26}),
        (0.0, {"stop_after_s": 60, "restart_after_s": 30}),
        (0.0, {"stop_after_s": 10, "restart_after_s": 30}),
        (0.3, {"stop_below_hz": 24.5, "stop_after_s": 120, "restart_error": 40, "restart_after_s": 60}),
    ],
)
def test_a_night_put_together_is_the_night_the_loop_runs_from_end_to_end(opening, changes):
    night, run = play(courses_of()[opening], rule(**changes)), whole_night(opening, rule(**changes))
    running, later = run.running[:, 0], run.time_s[1:]
    stops, starts = later[running[:-1] & ~running[1:]], later[~running[:-1] & running[1:]]
    assert (len(night.stops_s), len(night.starts_s)) == (len(stops), len(starts))
    # A course taken up at the speed of another is off by its filter's second at most, once a cycle.
    assert night.stops_s == pytest.approx(stops, abs=0.6 * max(len(stops), 3))
    assert night.starts_s == pytest.approx(starts, abs=0.6 * max(len(stops), 3))
    assert sum(night.kwh) == pytest.approx(energy_kwh(run), rel=0.01)
    short = (run.reading_pa[:, 0] < 135.0).sum() * run.sample_s
    assert sum(night.short_s) == pytest.approx(short, rel=0.01, abs=15.0)


def test_the_parts_of_a_night_add_up_and_time_runs_forward():
    night = play(courses_of()[0.0], OWN)
    assert (np.diff(night.time_s) >= 0).all()
    assert night.time_s[[0, -1]].tolist() == [0.0, ENDS_S[-1]]
    stood = (np.append(night.starts_s, ENDS_S[-1])[: len(night.stops_s)] - night.stops_s).sum()
    assert sum(night.running_s) + stood == pytest.approx(ENDS_S[-1])


# ------------------------------------------------------------------------------------------------------------------ the cases


@pytest.mark.parametrize(
    ("word", "kind", "opening", "changes"),
    [
        ("never stops", "wrong", 0.0, {"stop_below_hz": 16}),
        ("cycles", "wrong", 0.0, {"stop_below_hz": 26}),
        ("right", "attention", 0.0, {}),  # somebody has to agree to the mornings
        ("too many starts", "wrong", 0.0, {"stop_after_s": 60, "restart_after_s": 30}),
        ("long wait", "attention", 0.0, {"restart_after_s": 3600}),
        ("stays off", "wrong", 0.0, {"restart_error": 160}),
        ("never gets going", "wrong", 0.0, {"stop_after_s": 10, "restart_after_s": 30}),
        ("close", "attention", 0.0, {"stop_below_hz": 18.5}),
        ("edge of restart", "attention", 0.0, {"restart_error": 149.5}),
        ("stays off", "wrong", 0.0, {"restart_error": 150}),
        ("never stops", "wrong", 0.2, {}),
    ],
)
def test_each_case_of_the_trade_is_told_from_the_others(word, kind, opening, changes):
    found = judge(opening, **changes)
    assert (found.word, found.kind) == (word, kind)


def test_a_deficit_is_right_only_where_a_stopped_fans_reading_passes_it_with_the_transmitters_error_against_it():
    error = judged.reading_error_pa()
    assert error == pytest.approx(5.0)  # 1 % of 500 Pa
    point = judge().set_point_pa
    assert [judge(restart_error=point - error + off).kind for off in (0.5, error)] == ["attention", "wrong"]
    assert judge(restart_error=point - error - 0.5).word == "right"


def test_a_threshold_near_an_end_is_told_which_end():
    assert "nearer than 1.0 Hz to the idle speed, 18.0 Hz" in judge(stop_below_hz=18.5).headline()
    assert "nearer than 1.0 Hz to the evening's duty, 24.1 Hz" in judge(stop_below_hz=23.5).headline()


def test_what_brings_a_speed_to_a_threshold_near_it_is_told_of_the_end_it_is_near():
    """A leak makes the fan run faster: it moves the idle speed to a threshold above it, and the duty away from one below it."""
    low, high = (judge(stop_below_hz=hz).says() for hz in (18.5, 23.5))
    assert "A new leak brings that speed up to it, and the fan never stops" in low
    assert "leak" not in high
    assert "Fewer boxes open, a tighter duct or a lower set point bring that speed down to it" in high


@pytest.mark.parametrize("restart_after_s", [60.0, 275.0, 600.0, 1200.0, 3600.0])
def test_no_morning_is_later_than_what_is_told_as_the_worst_and_some_nearly_are(restart_after_s):
    """Wherever the stop delay puts the morning within a cycle."""
    late, worst = [], judge(restart_after_s=restart_after_s).worst_morning_s
    for stop_after_s in np.arange(60.0, 900.0, 7.0):
        late.append(judge(stop_after_s=stop_after_s, restart_after_s=restart_after_s).night.short_s[DAY])
    assert restart_after_s < worst
    assert max(late) <= worst
    assert max(late) > 0.95 * worst - 10.0 or restart_after_s > 1800.0


def test_a_worst_time_is_never_told_shorter_than_it_is():
    assert [judged.at_worst(seconds) for seconds in (43.0, 318.0, 541.0, 1243.0)] == ["48 s", "5.3 min", "10 min", "21 min"]
    right, long = judge(), judge(restart_after_s=3600)
    assert right.headline() == f"Stops when nobody asks; mornings {judged.at_worst(right.worst_morning_s)} late at worst"
    assert long.headline() == f"In the morning air {judged.at_worst(long.worst_morning_s)} late at worst, max. 30 min"


def test_a_morning_later_than_its_limit_is_never_a_pass_and_one_within_it_never_reads_as_the_limit():
    for restart_after_s in range(1700, 1860, 10):
        found = judge(restart_after_s=restart_after_s)
        over = found.worst_morning_s > judged.LONG_WAIT_S
        assert (found.kind, found.word) == ("attention", "long wait" if over else "right")
        ((late, limit),) = ((value, limit) for what, value, limit in found.tiles() if what.startswith("Air late"))
        told, most = float(late.split()[0]), float(limit.split()[1])
        assert told > most if over else found.worst_morning_s / 60 <= told < most, (late, limit)


def test_a_stop_that_is_not_right_boasts_of_no_saving_and_of_no_morning():
    for changes in ({}, {"stop_below_hz": 26}, {"restart_error": 180}, {"stop_after_s": 10, "restart_after_s": 30}):
        found = judge(**changes)
        (late,) = (value for what, value, _ in found.tiles() if what.startswith("Air late"))
        right = found.word == "right"
        assert late == (judged.at_worst(found.worst_morning_s) if right else "–")
        assert ("kWh a year" in found.says()) == right


def test_what_the_page_says_the_tasks_come_to_is_what_the_panel_says():
    (text,) = (cell.source for cell in nbformat.read(PAGE, 4).cells if "What the tasks come to" in cell.source)
    low, high, hasty, slow, below = (judge(**changes) for changes in (
        {"stop_below_hz": 16}, {"stop_below_hz": 26}, {"stop_below_hz": 21, "stop_after_s": 60, "restart_after_s": 30},
        {"stop_after_s": 300, "restart_after_s": 3600}, {"restart_error": 180}))  # fmt: skip
    assert low.word == "never stops"
    assert f"1. No bars: the fan idles at {judged.hertz(low.ends_hz[0])} all night" in text
    assert f"duty runs at {judged.hertz(high.ends_hz[1])}, below 26 Hz" in text
    assert f"short of pressure for {judged.minutes(high.night.short_s[EVENING])} of that hour" in text
    assert f"3. {hasty.starts_per_hour:.1f} starts an hour; the motor may make {float(hasty.allowed.per_hour):.1f} if run" in text
    back = ENDS_S[1] + slow.night.short_s[DAY]
    assert float(np.interp(back + 20.0, slow.night.time_s, slow.night.reading_pa)) >= 135.0 > slow.night.reading_pa[
        slow.night.time_s.searchsorted(back - 20.0)]  # fmt: skip
    assert (
        f"the reading is back after {judged.minutes(slow.night.short_s[DAY])}; at worst it takes {judged.at_worst(slow.worst_morning_s)}"
        in text
    )
    assert f"Without a stop it takes {judged.minutes(slow.plain.short_s[DAY])}" in text
    assert (below.word, below.night.short_s[DAY]) == ("stays off", pytest.approx(3600.0, abs=5.0))
    window = {opening: low_demand.threshold_window(*judged.judge(opening, OWN).ends_hz, judged.MARGIN_HZ) for opening in NIGHT_OPENINGS}
    shut = min(opening for opening, (least, most) in window.items() if least >= most)
    assert f"With {100 * shut:.0f} % of each box open the band is gone" in text
    last = judge(NIGHT_OPENINGS[-1])
    assert judged.hertz(last.ends_hz[0]) == judged.hertz(last.ends_hz[1])
    assert f"with {100 * NIGHT_OPENINGS[-1]:.0f} % the fan idles at {judged.hertz(last.ends_hz[0])}, and that is the evening's duty" in text
    assert f"idles at {judged.hertz(last.ends_hz[0])}, the evening's duty runs at {judged.hertz(last.ends_hz[1])}" in last.says()
    cut = judge(stop_after_s=10, restart_after_s=30)
    assert cut.word == "never gets going"
    assert f"{cut.starts_per_hour:.1f} starts an hour" in text


def test_a_threshold_under_the_idle_speed_never_stops_and_saves_nothing():
    found = judge(stop_below_hz=16)
    assert (found.night.stops_s.size, found.saved_kwh) == (0, 0.0)


def test_a_threshold_over_the_lowest_duty_takes_the_air_from_people():
    assert judge(stop_below_hz=26).night.short_s[EVENING] > 1800
    assert judge().night.short_s[EVENING] == 0


@settings(max_examples=40, derandomize=True, deadline=None)
@given(threshold=st.floats(12, 30), opening=st.sampled_from(NIGHT_OPENINGS))
def test_played_out_a_threshold_does_what_its_side_of_the_window_says(threshold, opening):
    found = judge(opening, stop_below_hz=threshold)
    code = low_demand.verdict(threshold, *found.ends_hz)
    if min(abs(threshold - end) for end in found.ends_hz) < 0.05 or code == low_demand.NO_WINDOW:
        return  # the controller's last steps decide there
    expected = {low_demand.NEVER_STOPS: (False, False), low_demand.RIGHT: (False, True), low_demand.CYCLES: (True, True)}[int(code)]
    assert (found.night.stopped_in(EVENING), found.night.stopped_in(NIGHT)) == expected


def test_inside_the_window_short_waits_still_start_the_motor_too_often_and_long_ones_do_not():
    hasty, own = judge(stop_after_s=60, restart_after_s=30), judge()
    assert hasty.night.starts_per_hour(NIGHT) > 3 * hasty.allowed.per_hour
    assert own.night.starts_per_hour(NIGHT) < own.allowed.per_hour
    for found in (hasty, own):
        most = low_demand.fastest_cycles_per_hour(found.rule.stop_after_s, found.rule.restart_after_s)
        assert 0.9 * most < found.night.starts_per_hour(NIGHT) <= most


def test_the_longer_the_restart_delay_the_fewer_the_starts_and_the_less_the_power():
    found = [judge(restart_after_s=wait) for wait in (60, 300, 1200, 3600)]
    assert (np.diff([one.night.starts_per_hour(NIGHT) for one in found]) < 0).all()
    assert (np.diff([one.night.kwh[NIGHT] for one in found]) < 0).all()


@pytest.mark.parametrize("stop_after_s", [30, 60, 120, 300])
def test_a_wait_found_from_the_waits_alone_never_lets_the_motor_start_too_often_and_a_way_up_that_is_assumed_does(stop_after_s):
    most = float(judge().allowed.per_hour)
    wait = math.ceil(3600 / most - stop_after_s)
    assert 0.97 * most < judge(stop_after_s=stop_after_s, restart_after_s=wait).starts_per_hour <= most
    assert judge(stop_after_s=stop_after_s, restart_after_s=wait - 10).word == "too many starts"


def test_the_pages_cycle_is_the_panels():
    (text,) = (cell.source for cell in nbformat.read(PAGE, 4).cells if "Why the waits, and not the threshold" in cell.source)
    hasty, courses = judge(stop_after_s=60, restart_after_s=30), courses_of()[0.0]
    fall = np.argmax(courses.down[NIGHT].reading_pa < 90.0) * courses.sample_s
    assert courses.up[NIGHT].speed_hz.max() < OWN.stop_below_hz  # no time past the threshold
    cycle = 3600 / hasty.starts_per_hour
    assert cycle == pytest.approx(60 + 30 + fall, abs=1.0)
    assert f"0 + 60 + 3 + 30 = {cycle:.0f} s, and that makes {hasty.starts_per_hour:.1f} starts an hour" in text
    most = float(hasty.allowed.per_hour)
    wait = math.ceil(3600 / most - 60)
    assert f"({most:.3f} before rounding, which is the figure to divide by) a cycle takes {3600 / most:.1f} s or more" in text
    counted = judge(stop_after_s=60, restart_after_s=wait).starts_per_hour
    assert f"the restart delay is {wait} s, rounded up. The panel then counts {counted:.1f}" in text


def test_what_the_exercise_asks_to_enter_keeps_within_the_starts_of_its_motor():
    for seed in range(20):
        exercise = exercise_of(questions.longer_wait, seed)
        most, stop_after, run_up = (float(found) for found in re.search(
            r"may make ([\d.]+) starts.* stop delay is (\d+) s\..* it takes (\d+) s at least", exercise.question).groups())  # fmt: skip
        for off, within in ((0, True), (-1, False)):
            assert (low_demand.fastest_cycles_per_hour(stop_after, exercise.answer.value + off, run_up) <= most) == within


def test_starts_that_would_read_as_their_limit_get_a_digit_more():
    assert judge(restart_after_s=30).starts_beside_limit() == ("10.81", "10.77")
    assert judge(stop_after_s=60, restart_after_s=30).starts_beside_limit() == ("38.7", "10.8")


def test_forgotten_boxes_close_the_window():
    widths = [np.diff(judged.judge(opening, OWN).ends_hz)[0] for opening in (0.0, 0.1, 0.2, 0.3)]
    assert (np.diff(widths) < 0).all()
    assert widths[-1] == pytest.approx(0.0, abs=0.01)
    assert "No threshold is right" in judge(0.3, stop_below_hz=24.5).says()


def test_the_idle_speed_is_the_shut_off_speed_and_a_little_for_the_leaks():
    assert 0 < courses_of()[0.0].steady_hz[NIGHT] - judged.shutoff_hz() < 0.3


def test_the_stair_in_the_fire_mode_is_refused_by_study_and_drive_and_its_fan_runs_on():
    refused = judged.refused()
    assert "smoke control: no low-demand stop" in refused.says
    assert "This workbook refuses the entry. A real drive may accept it" in refused.says
    assert "low_demand must" not in refused.says  # the reader is told what to do, not the program's own words
    assert refused.speed_hz > refused.idle_hz
    assert refused.reading_pa == pytest.approx(refused.set_point_pa, abs=0.5)


# ------------------------------------------------------------------------------------------------------------------ the page's parts


@pytest.mark.parametrize(
    ("derivation", "formula", "draw"),
    [
        (derivations.shutoff_speed, fan.lowest_speed_for, lambda rng: (rng.uniform(0, 900, 200), rng.uniform(1, 1500, (3, 200)))),
        (derivations.cycles, low_demand.cycles_per_hour, lambda rng: (rng.uniform(0.1, 50, 200), rng.uniform(0, 1, (3, 200)), 1.0)),
        (derivations.most_cycles, low_demand.most_cycles_per_hour, lambda rng: (rng.uniform(0.1, 50, 200), rng.uniform(0.1, 5, (3, 200)))),
    ],
)
def test_a_derivation_ends_in_the_formula_of_the_workbook(derivation, formula, draw):
    numbers = draw(np.random.default_rng(9))
    assert derivation().formula == f"{formula.__module__}.{formula.__name__}"
    np.testing.assert_allclose(derivation().function()(*numbers), formula(*numbers), rtol=1e-12, atol=1e-12)


def test_the_motor_by_hand_meets_the_published_table():
    example = motor_starts()
    assert example.meets
    assert example.working[1].value > example.working[-1].value  # the wheel is light: column A holds


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
@pytest.mark.parametrize(
    ("prediction", "answer"),
    [(questions.idle, questions.REACHES), (questions.hasty, questions.MANY), (questions.saving, questions.HUNDREDS)],
)
def test_the_model_answers_each_question_with_its_own_figures(prediction, answer, system):
    outcome = written_out(prediction.find(), system)
    assert outcome.answer.value == answer
    assert prediction.compare(answer, system).agree
    assert not prediction.compare(next(other for other in prediction.options if other != answer), system).agree
    assert "?" in written_out(prediction.ask(), system)


def test_the_words_of_the_answers_hold():
    idle = written_out(questions.idle.find()).words
    assert judged.hertz(judged.shutoff_hz()) in idle
    assert judged.hertz(courses_of()[0.0].steady_hz[NIGHT]) in idle
    leaky = judge(questions.LEAKY)
    assert f"{leaky.saved_kwh:.0f} kWh" in written_out(questions.saving.find()).words
    assert leaky.saved_kwh > 2 * judge().saved_kwh


@pytest.mark.parametrize("make", MAKERS)
@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_an_exercise_takes_the_right_answer_and_names_each_slip(make, system):
    for seed in range(20):
        exercise = exercise_of(make, seed, system)
        assert exercise.grade(written_out(exercise.answer.says(exercise.answer.value), system)).right
        for slip in exercise.slips:
            told = exercise.grade(written_out(exercise.answer.says(slip.gives), system))
            assert (told.right, told.slip, told.words) == (False, slip.name, slip.hint)


def test_the_fire_mode_is_refused_in_every_variant_of_its_exercise():
    made = [exercise_of(may_it_stop, seed) for seed in range(40)]
    answers = {(any(scene in one.question for scene in questions.FIRE), one.answer.value) for one in made}
    assert answers == {(True, NO), (False, YES)}


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_wherever_a_motors_starts_are_told_their_condition_stands_beside_the_figure():
    found = judge(stop_after_s=60, restart_after_s=30)
    tile = dict((what, limit) for what, _, limit in found.tiles())["Starts an hour"]
    said = [tile, found.headline(), found.says(), questions.hasty.ask(), questions.hasty.find().words, *page.lines()]
    bears = [one for one in said if re.search(r"motor (bears|may make)\b|\b(max\.|at most)", one)]
    assert len(bears) >= 6
    assert all("if run across the line" in one for one in bears)
    assert "across the line" in exercise_of(questions.longer_wait, 1).question


def test_the_panel_opens_on_the_sites_own_rule_and_finds_it_right(panel):
    assert panel.verdict.kind == "attention"  # right, and for somebody to agree to
    assert "Right: " in panel.verdict.words
    late = next(what for what, _, _ in written_out(panel.verdict).tiles if what.startswith("Air late"))
    assert late.endswith(f"picture {judged.minutes(judge().night.short_s[DAY])}")
    assert f"stop below {judged.hertz(OWN.stop_below_hz)}" in panel.picture.words
    assert panel.values["threshold_hz"] == OWN.stop_below_hz
    assert "stopped nowhere" not in panel.picture.words


@pytest.mark.parametrize(
    ("moved", "kind", "says"),
    [
        ({"threshold_hz": 12.0}, "wrong", "Never stops"),
        ({"threshold_hz": 30.0}, "wrong", "Cycles while air is asked for"),
        ({"stop_after_s": 60.0, "restart_after_s": 30.0}, "wrong", "the waits are not"),
        ({"restart_after_s": 3600.0}, "attention", "60 min"),
        ({"restart_pa": -30.0}, "wrong", "a reading under -30 Pa never comes"),
        ({"opening": 0.3}, "wrong", "No threshold is right here"),
        ({"mode": "fire"}, "entry", "no low-demand stop"),
    ],
)
def test_the_panel_shows_each_case(panel, moved, kind, says):
    for name, value in moved.items():
        panel.controls[name].value = value
    assert panel.verdict.kind == kind
    assert says in panel.verdict.words


def test_a_fan_that_never_stops_shows_no_bar(panel):
    panel.controls["threshold_hz"].value = 14.0
    assert "stopped 0 times" in panel.picture.words


def test_the_fire_modes_picture_is_a_fan_that_runs_on(panel):
    panel.controls["mode"].value = "fire"
    assert "Larkfield House in smoke control" in panel.picture.words
    assert "fan runs on from 40 to 40" in panel.picture.words


def test_the_panel_speaks_inches_after_the_switch(panel):
    panel.controls["restart_pa"].value = -30.0
    UNITS.system = "in. w.c."
    assert "a reading under -0.12 in. w.c. never comes" in panel.verdict.words
    assert "Duct [in. w.c.]" in panel.picture.words


def test_a_rule_is_never_played_with_other_numbers_than_the_sliders_say(panel):
    panel.controls["stop_after_s"].value = 120.0
    own = judged.judge(0.0, LowDemandRule(OWN.stop_below_hz, 120.0, OWN.restart_error, OWN.restart_after_s))
    assert panel.verdict.words == written_out(own.says())
    assert own.night.short_s[DAY] > 0


def test_what_a_wrong_rule_is_told_to_do_makes_the_night_right_and_where_nothing_does_somebody_is_asked():
    for opening, changes in ((0.0, {"stop_below_hz": 16}), (0.0, {"stop_below_hz": 26}), (0.0, {"restart_error": 160}),
                             (0.0, {"stop_after_s": 60, "restart_after_s": 30}), (0.0, {"restart_after_s": 3600})):  # fmt: skip
        told = written_out(judge(opening, **changes).to_do())
        what, number = re.fullmatch(r"Do: (.+?) ([\d.]+) (?:Hz|Pa|s|min), tried in this night", told).groups()
        name = {"stop below": "stop_below_hz", "restart under": "restart_error", "stop delay": "stop_after_s",
                "restart delay": "restart_after_s"}[what]  # fmt: skip
        mended = float(number) * (60 if " min" in told else 1)
        mended = judged.from_set_point_pa(mended) if name == "restart_error" else mended
        assert judge(opening, **(changes | {name: mended})).word == "right", told
    assert judge(0.3).to_do().startswith("Ask: ")
    both = written_out(judge(stop_after_s=10, restart_after_s=30).to_do())
    every = judge(stop_below_hz=12, restart_error=180, stop_after_s=10, restart_after_s=30).to_do()
    assert written_out(every) == "Do: the site file's own settings, all of them, tried in this night"
    assert both == "Do: stop delay 5 min and restart delay 20 min, together, tried in this night"
    assert judge().to_do() == "Ask: those who come first; enter this only once 21 min late is agreed"
