"""Lesson 04: two lines, what a wrong entry holds, and what a signal tells."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import sympy

from helpers.formulas import signals
from helpers.lessons.scaling_the_signal.derivations import broken_wire, from_signal, middle, resistor, to_signal, wrong_entry
from helpers.lessons.scaling_the_signal.lesson import INSTRUMENTS
from helpers.lessons.scaling_the_signal.lesson import panel as scaling_panel
from helpers.lessons.scaling_the_signal.questions import (
    CANNOT_TELL,
    EARLIER_WHAT,
    FULL,
    GOOD,
    PREDICTIONS,
    SOME,
    broken,
    live_zero,
    top,
    what_a_signal_tells,
)
from helpers.model.files import texts
from helpers.plots.headline import headline_html
from helpers.studies.signals.entered_scaling import UPPER, WIRE_OFF, EnteredScaling
from helpers.teaching.mathematics import sympified
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = scaling_panel  # what the fixture `panel` makes


# ------------------------------------------------------------------------------------------------------------------ the derivations


def ranges(seed):
    draw = np.random.default_rng(seed)
    low = draw.uniform(-500, 50, 200)
    return draw, low, low + draw.uniform(1, 1000, 200)


@pytest.mark.parametrize("signal", signals.SIGNALS)
def test_the_line_derived_is_the_one_of_helpers_both_ways(signal):
    draw, low, high = ranges(4)
    bottom, end, _ = signals.SIGNALS[signal]
    sent, value = draw.uniform(bottom, end, 200), draw.uniform(low, high)
    assert from_signal().function()(sent, bottom, end, low, high) == pytest.approx(signals.to_units(sent, signal, low, high))
    assert to_signal().function()(value, bottom, end, low, high) == pytest.approx(signals.to_signal(value, signal, low, high, clamp=False))
    assert from_signal().function()(sent[:, None], bottom, end, low[:5], high[:5]).shape == (200, 5)


def test_what_is_held_by_a_wrong_entry_is_derived_to_the_formula_of_helpers():
    draw = np.random.default_rng(4)
    point, gain, offset = draw.uniform(-100, 100, 200), draw.uniform(0.1, 10, 200), draw.uniform(-100, 100, 200)
    assert wrong_entry().function()(point, gain, offset) == pytest.approx(signals.held_instead(point, gain, offset))


@pytest.mark.parametrize("signal", ["4-20 mA", "0-20 mA"])
@pytest.mark.parametrize("entered", ["4-20 mA", "0-20 mA"])
def test_gain_and_offset_derived_are_those_of_helpers(signal, entered):
    _, low, high = ranges(4)
    _, entered_low, entered_high = ranges(5)
    own, theirs = (signals.SIGNALS[name][:2] for name in (signal, entered))
    names = (
        "signal_low",
        "signal_high",
        "range_low",
        "range_high",
        "entered_signal_low",
        "entered_signal_high",
        "entered_low",
        "entered_high",
    )
    derived = [sympy.lambdify(list(map(sympified, names)), wrong_entry().expression(part)) for part in ("gain__entry", "offset")]
    gain, offset = (part(*own, low, high, *theirs, entered_low, entered_high) for part in derived)
    ends = (signal, low, high, entered, entered_low, entered_high)
    assert gain == pytest.approx(signals.entry_gain(*ends))
    assert offset == pytest.approx(signals.entry_offset(*ends), abs=1e-6)


def test_the_algebra_of_a_wrong_entry_and_its_letters_are_out_of_sight_in_one_fold():
    """In view stand the display's line, its result, and the four letters of the two."""
    html = wrong_entry()._repr_mimebundle_()["text/html"]
    assert html.count("lines beyond school maths") == 1
    folded, rest = html.split("lines beyond school maths")[1].split("</details>", 1)
    assert "bottom of the signal entered" in folded
    assert "bottom of the signal entered" not in rest
    assert rest.split("</ul>")[0].count("<li") == 4


@pytest.mark.parametrize("example", [middle(), resistor(), broken_wire()], ids=["middle", "resistor", "broken wire"])
def test_the_worked_examples_meet_their_published_figures(example):
    assert example.meets


# ------------------------------------------------------------------------------------------------------------------ what is held


def test_a_right_entry_shows_and_holds_what_is_there():
    for own in ({}, {"entered_signal": "2-10 V"}, {"entered_signal": "1-5 V", "resistor_ohm": 250.0}):
        entry = EnteredScaling(**own)
        assert entry.right
        assert entry.state == "good"
        assert entry.held.true_pa == pytest.approx(entry.set_point_pa, abs=0.01)


@pytest.mark.parametrize(
    "own", [{"entered_high_pa": 250.0}, {"entered_high_pa": 100.0}, {"entered_signal": "0-20 mA"}, {"entered_signal": "0-10 V"}]
)
def test_the_loop_of_the_stair_rests_where_the_formula_says(own):
    entry = EnteredScaling(**own)
    expected = signals.held_instead(entry.set_point_pa, entry.gain, entry.offset_pa)
    assert entry.held.true_pa == pytest.approx(expected, abs=0.05)
    assert entry.held.shown_pa == pytest.approx(entry.set_point_pa)


def test_a_top_too_high_lets_smoke_pass_and_one_too_low_jams_the_doors():
    high, low = (EnteredScaling(entered_high_pa=top_pa) for top_pa in (250.0, 75.0))
    assert high.held.too_low
    assert "smoke can pass" in high.says(40.0)
    assert low.held.too_high
    assert "people may be unable to get in or out" in low.says(40.0)


def test_a_live_zero_forgotten_shows_a_fifth_of_the_top_where_nothing_is():
    assert EnteredScaling(entered_signal="0-20 mA").offset_pa == pytest.approx(125.0 / 5)


def test_a_live_zero_that_nobody_sends_leaves_the_loop_without_a_reading():
    entry = EnteredScaling(signal="0-20 mA")
    assert entry.status(0.0) == "failed low"
    assert entry.held.state == "no reading"
    assert entry.state == "wrong"
    assert "No reading is left to run the fan by" in entry.says(0.0)
    assert "so little signal" in entry.says(0.0)


def test_a_loop_without_a_reading_from_rest_is_told_with_what_it_holds_when_it_is_switched_over_while_it_runs():
    """The formula of the page and the panel are both right, of two starts."""
    entry = EnteredScaling(signal="0-20 mA")
    by_formula = signals.held_instead(entry.set_point_pa, entry.gain, entry.offset_pa)
    assert entry.held_running.true_pa == pytest.approx(by_formula, abs=0.05)
    words = written_out(entry.says(40.0), "Pa")
    assert "started from rest" in words
    assert f"Switched to automatic while the fan runs with a sound signal, the loop would hold {by_formula:.1f} Pa." in words
    assert "people may be unable to get in or out" in words


def test_no_running_start_is_told_where_the_signal_would_be_a_failure_there_too():
    assert EnteredScaling(high_pa=250.0, signal="0-20 mA").held_running is None


@pytest.mark.parametrize("entered", ["4-20 mA", "0-20 mA"])
def test_a_voltage_output_on_a_current_input_is_said_not_to_belong_there(entered):
    entry = EnteredScaling(signal="0-10 V", entered_signal=entered)
    assert entry.state == "wrong"
    assert entry.headline() == "A voltage output does not belong on a current input"
    assert "may be damaged" in entry.says(40.0)
    assert "mA and shows" not in entry.says(40.0)
    assert entry.to_do() == "Do: announce it, fan in manual, wires to a voltage input"
    assert entry.tiles() == ()
    text = Path("notebooks/04_scaling_the_signal.ipynb").read_text(encoding="utf-8")
    assert "A voltage output never goes on a current input" in text.partition("The words, said out loud")[0]


def test_one_letter_stands_for_one_thing_on_the_page():
    table = texts("symbols")
    flat = {name: row[0] for name, row in table.items() if isinstance(row, list)} or {
        name: row[0] for group in table.values() for name, row in group.items()
    }
    used = ("slope", "start", "slope__signal", "gain__entry", "offset", "span_share", "signal_value")
    assert len({flat[name] for name in used}) == len(used)


def test_a_broken_wire_is_seen_with_a_live_zero_and_averaged_in_without():
    live, true = (EnteredScaling(signal=name, entered_signal=name, inputs=WIRE_OFF) for name in ("2-10 V", "0-10 V"))
    assert np.isnan(live.broken_pa)
    assert true.broken_pa == 0.0
    assert "sees that the upper wire is broken" in live.says(40.0)
    assert "as if it were a pressure" in true.says(40.0)
    assert true.held.state == "at full speed"


def test_one_wrong_input_of_two_does_less_harm_than_both():
    both, one = (EnteredScaling(entered_high_pa=250.0, **own) for own in ({}, {"inputs": UPPER}))
    assert both.held.true_pa < one.held.true_pa < 40.0


@pytest.mark.parametrize(("ohm", "volts"), [(500.0, "2-10 V"), (250.0, "1-5 V")])
def test_a_current_across_a_resistor_is_to_be_entered_as_the_volts_it_makes(ohm, volts):
    entry = EnteredScaling(entered_signal="0-10 V", resistor_ohm=ohm)
    assert entry.to_do() == f"Do: enter {volts}: 4-20 mA across {ohm:g} Ω"
    assert replace(entry, entered_signal=entry.to_enter).state == "good"


@pytest.mark.parametrize("own", [{"entered_signal": "0-5 V"}, {"entered_signal": "1-5 V"}, {"signal": "0-10 V", "entered_signal": "0-5 V"}])
def test_ten_volts_on_an_input_made_for_five_fail_and_are_told_first(own):
    for high_pa, entered_pa in ((125.0, 125.0), (250.0, 125.0)):  # with the second the display may even be right
        entry = EnteredScaling(high_pa=high_pa, entered_high_pa=entered_pa, **own)
        assert entry.state == "wrong"
        assert entry.headline() == "Up to 10 V on an input entered for 5 V"
        assert "may be destroyed" in entry.says(40.0)
    assert EnteredScaling(entered_signal="0-5 V", resistor_ohm=250.0).most_volts is None


def test_a_wire_is_mended_with_the_drive_in_manual_and_announced():
    for own in ({}, {"entered_high_pa": 250.0}):
        told = EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF, **own).to_do()
        assert "in manual" in told
        assert told.endswith("announce it, mend the wire")


def test_a_wrong_resistor_is_a_wrong_gain_and_offset():
    entry = EnteredScaling(entered_signal="1-5 V")
    assert entry.gain == pytest.approx(2.0)
    assert entry.status(125.0) == "failed high"


def test_an_entry_upside_down_is_refused_in_words():
    with pytest.raises(ValueError, match="Entered top must be above the entered bottom"):
        EnteredScaling(entered_low_pa=50.0, entered_high_pa=50.0)


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_predictions_come_out_as_the_words_say(system):
    assert written_out(top.find(), system).answer.value == pytest.approx(20.0, abs=0.1)
    assert written_out(live_zero.find(), system).answer.value == SOME
    assert written_out(broken.find(), system).answer.value == FULL
    assert ("39.7 Pa of 40.0 Pa" if system == "Pa" else "in. w.c. of ") in written_out(broken.find(), system).words  # as the page says
    for prediction in PREDICTIONS:
        assert "w.c.." not in written_out(prediction.ask(), system) + written_out(prediction.find(), system).words


def test_a_predicted_pressure_is_compared_in_the_readers_unit():
    assert top.compare("20", "Pa").agree
    assert top.compare("0.08", "in. w.c.").agree
    comparison = written_out(top.compare("80", "Pa"))
    assert not comparison.agree
    assert "the model says 20.0 Pa" in comparison.words


# ------------------------------------------------------------------------------------------------------------------ the exercises


def test_a_failed_signal_tells_its_side_and_no_single_cause_and_earlier_answers_are_read_as_they_were():
    sides = dict(EARLIER_WHAT)
    seen = set()
    for seed in range(60):
        exercise = exercise_of(what_a_signal_tells, seed)
        if (right := exercise.answer.value) in sides.values():
            (earlier,) = (words for words, option in sides.items() if option == right)
            assert exercise.grade(earlier).right
            (other,) = set(sides) - {earlier}
            assert exercise.grade(other).slip == f"says: {other}"  # as records name it
            seen.add(right)
    assert seen == set(sides.values())


def test_zero_of_a_true_zero_is_not_confirmed_as_a_pressure_by_its_hint():
    made = (exercise_of(what_a_signal_tells, seed) for seed in range(60))
    (words,) = {one.grade(GOOD).words for one in made if one.answer.value == CANNOT_TELL}
    assert "broken wire" in words


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_begins_right_and_shows_what_the_contractors_entry_does(panel):
    assert panel.verdict.head == "Entry is right"
    assert "2.00 times the pressure" in panel.put(entered_high_pa=250.0).words
    assert panel.verdict.kind == "wrong"
    assert panel.put(entered_high_pa=125.0).kind == "attention"  # of the building: the entry is right
    assert len(panel.controls) <= 8


@pytest.mark.parametrize(("top_pa", "words"), [(300.0, "smoke can pass"), (50.0, "people may be unable to get in or out")])
def test_the_panel_says_what_the_extremes_mean_at_the_doors(panel, top_pa, words):
    verdict = panel.put(entered_high_pa=top_pa)
    assert verdict.kind == "wrong"
    assert words in verdict.words


@pytest.mark.parametrize("signal", signals.SIGNALS)
def test_every_instrument_the_panel_offers_can_be_made_right(signal):
    for low, high in INSTRUMENTS.values():
        entry = EnteredScaling(low, high, signal, low, high, signal)
        assert entry.state == "good"
        assert entry.says(40.0).startswith("The entry agrees with the instrument.")


def test_beside_each_entry_stands_what_the_instrument_has_and_unequal_pairs_are_marked(panel):
    def beside():
        return [panel.controls[name].against for name in ("entered_low_pa", "entered_high_pa", "entered_signal")]

    panel.put_back()
    assert beside() == ["= 0", "= 125", "= 4-20 mA"]
    panel.put(entered_high_pa=250.0, entered_signal="0-20 mA")
    assert beside() == ["= 0", "≠ 125", "≠ 4-20 mA"]
    panel.put_back(entered_signal="0-10 V")  # 500 ohm make volts of the current: those are what the entry has to be
    assert beside()[2] == "≠ 2-10 V at the input"
    panel.put(entered_signal="2-10 V")
    assert beside()[2] == "= 2-10 V at the input"
    panel.put_back(entered_high_pa=124.54)  # half an inch of water, as a plate of 125 Pa is sold
    assert beside()[1] == "= 125"
    UNITS.system = "in. w.c."
    assert beside()[1] == "= 0.502"
    UNITS.system = "Pa"
    panel.put_back(instrument=(-125.0, 125.0))
    assert beside() == ["≠ -125", "= 125", "= 4-20 mA"]
    note = panel.controls["entered_low_pa"].widget.children[-1]
    panel.controls["entered_low_pa"].use("in. w.c.")  # another inner slider: what stands beside it stays
    assert panel.controls["entered_low_pa"].widget.children[-1] is note
    panel.controls["entered_low_pa"].use("Pa")
    panel.put_back()


def test_the_pointer_follows_and_the_picture_tells(panel):
    panel.put(entered_high_pa=250.0, pressure_pa=100.0)
    assert "at a true 100 Pa the drive gets 16.8 mA and shows 200 Pa" in panel.picture.words
    panel.put(signal="0-20 mA", pressure_pa=0.0)
    assert "takes the signal for a failed one" in panel.picture.words
    assert "no reading to rest at" in panel.picture.words


def test_a_bad_entry_says_so_and_keeps_the_picture(panel):
    before = panel.picture.words
    panel.controls["entered_low_pa"].limit(-150.0, 300.0, 300.0)
    panel.refresh()
    assert panel.verdict.kind == "entry"
    assert panel.picture.words == before
    panel.controls["entered_low_pa"].limit(-150.0, 25.0, 0.0)


def test_a_broken_wire_is_marked_in_the_picture_and_told(panel):
    assert "broken" not in panel.picture.words
    panel.put(inputs=WIRE_OFF)
    assert "The upper wire is broken" in panel.picture.words


def test_the_panel_speaks_both_systems(panel):
    UNITS.system = "in. w.c."
    panel.refresh()
    assert "in. w.c." in panel.verdict.words
    assert " Pa" not in panel.verdict.words
    assert "w.c.." not in panel.verdict.words


def test_the_headline_says_that_the_scaling_alone_is_judged(panel):
    """Page 06 opens the same stair with FAIL, for its first minute: no PASS of the entry stands over it."""
    assert panel.verdict.kind == "attention"
    assert (panel.verdict.head, panel.verdict.case) == ("Entry is right", "")
    fails = ("wrong", "Building: 2.8 under 25 Pa, door 0; winter, first minute")
    assert written_out(panel.verdict.also, "Pa") == fails
    assert "✖ FAIL" in headline_html(written_out(panel.verdict, "Pa"))  # amber alone would calm
    assert written_out(panel.put(entered_high_pa=250.0).case, "Pa").endswith("; scaling only")


def test_no_question_is_answered_by_a_task_before_it_is_asked():
    text = Path("notebooks/04_scaling_the_signal.ipynb").read_text(encoding="utf-8")
    assert text.index('lesson.predict(\\"broken\\")') < text.index('"lesson.panel()"')
