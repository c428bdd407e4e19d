"""Sliders with units, the one switch for all of them, and entries that are never lost."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ipywidgets import Dropdown, ToggleButtons
from panels_made import MADE

from helpers.pages.review import review_panel
from helpers.units import SYSTEMS
from helpers.widgets.controls import STYLE, UNITS, Choice, Typed, UnitSwitch
from helpers.widgets.sliders import MOST_STEPS, STEP_PX, TRACK_PX, Count, Slider, Steps, nice_step


@pytest.fixture(autouse=True)
def pascals():
    UNITS.system = "Pa"
    yield
    UNITS.system = "Pa"


def set_point(value=40.0):
    return Slider("Set point", "pressure", 0.0, 100.0, 1.0, value)


def typed(control, text):
    """Type over the value of a slider, as the reader does."""
    control.widget.children[1].value = text


@pytest.mark.parametrize(("text", "value"), [("43.7", 43.7), ("0.10 in. w.c.", 24.90889), ("0", 0.0), ("100", 100.0)])
def test_a_figure_typed_over_a_slider_is_taken_exactly_and_heard_once(text, value):
    slider, heard = set_point(), []
    slider.on_change(lambda: heard.append(slider.value))
    typed(slider, text)
    slider.inner.value = float(round(value))  # the browser's echo
    assert heard == [pytest.approx(value)]
    assert slider.inner.value == round(value)


@pytest.mark.parametrize("text", ["", "much", "101", "-1", "nan", "4 N", "0.5 in. w.c."])
@pytest.mark.parametrize("system", SYSTEMS)
def test_what_cannot_be_typed_over_a_slider_stays_and_is_refused_with_its_name(text, system):
    slider, heard = set_point(), []
    slider.use(system)
    slider.on_change(lambda: heard.append(1))
    typed(slider, text)
    with pytest.raises(ValueError, match="Set point"):
        _ = slider.value
    assert (slider.figure, heard) == (text, [1])
    slider.inner.value = slider.inner.max
    assert slider.value == 100.0


@pytest.mark.parametrize("text", ["", "2.5", "14", "-1", "nan"])
def test_only_whole_numbers_of_its_range_are_typed_over_a_storey(text):
    storey = Count("Storey", 0, 13, 12)
    typed(storey, text)
    with pytest.raises(ValueError, match="Storey"):
        _ = storey.value
    typed(storey, "3")
    assert (storey.value, storey.inner.value, storey.said) == (3, 3, "Storey 3")


def test_a_few_short_options_stand_beside_each_other_and_many_or_long_ones_in_a_list():
    assert isinstance(Choice("Action", ("reverse", "direct")).inner, ToggleButtons)
    assert isinstance(Choice("Site", ["Larkfield House", "Northgate Tower", "Tannery Row"]).inner, Dropdown)
    rule = Choice("Fan follows", ["average"])
    rule.offer(["average reading", "lowest reading", "highest reading"], "lowest reading")
    assert (type(rule.inner), rule.value, rule.said) == (Dropdown, "lowest reading", "Fan follows lowest reading")


def test_a_slider_names_its_unit_and_follows_the_switch():
    slider = set_point()
    assert slider.inner.description == "Set point [Pa]"
    slider.use("in. w.c.")
    assert slider.inner.description == "Set point [in. w.c.]"
    assert (slider.inner.min, slider.inner.max, slider.inner.step) == (0.0, 0.405, 0.005)


@settings(max_examples=50, derandomize=True, deadline=None)
@given(st.floats(0.0, 100.0))
def test_switching_the_units_there_and_back_changes_nothing(value):
    slider = set_point(value)
    for system in (*SYSTEMS, *SYSTEMS):
        slider.use(system)
    assert slider.value == value


def test_a_slider_moved_in_inches_of_water_gives_pascals():
    slider = set_point()
    slider.use("in. w.c.")
    slider.inner.value = 0.1
    assert slider.value == pytest.approx(24.909, abs=0.001)


def test_a_value_from_other_units_has_no_more_digits_than_is_usual_and_a_typed_one_its_own():
    slider = set_point()
    slider.use("in. w.c.")
    assert slider.said == "Set point 0.161 in. w.c."  # 40 Pa are 0.16059
    typed(slider, "0.1234")
    assert slider.said == "Set point 0.1234 in. w.c."
    slider.use("Pa")
    assert slider.said == "Set point 30.7 Pa"
    typed(slider, "0.14 in. w.c.")
    assert slider.said == "Set point 34.9 Pa"


def test_a_slider_tells_only_of_moves_the_reader_made():
    slider, heard = set_point(), []
    slider.on_change(lambda: heard.append(slider.value))
    slider.use("in. w.c.")
    slider.limit(0.0, 50.0, 20.0)
    assert heard == []
    slider.inner.value = 0.2
    assert heard == [pytest.approx(49.82, abs=0.01)]


def test_the_browsers_echo_of_a_rounded_value_is_no_move():
    """A set point of 0.14 in. w.c. in the site file is 34.87 Pa, the slider in Pa stands at 35, and the browser says 35 at once."""
    slider, heard = set_point(34.872446), []
    slider.on_change(lambda: heard.append(slider.value))
    assert slider.inner.value == 35.0
    slider.inner.value = 35.00000001
    assert (slider.value, heard) == (34.872446, [])
    slider.inner.value = 36.0
    slider.inner.value = 35.0
    assert heard == [36.0, 35.0]


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_a_slider_shows_always_lies_on_its_steps(system):
    for value in (0.0, 12.44, 34.872446, 99.9, 100.0):
        slider = set_point(value)
        slider.use(system)
        steps = (slider.inner.value - slider.inner.min) / slider.inner.step
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert slider.inner.min <= slider.inner.value <= slider.inner.max


def test_another_range_is_another_slider_and_the_old_one_is_closed():
    slider = set_point()
    old = slider.inner
    slider.use("in. w.c.")
    assert slider.inner is not old
    assert (old.comm, slider.widget.children[0]) == (None, slider.inner)


def test_a_slider_at_its_end_in_inches_does_not_leave_its_range_in_pascals():
    slider = set_point()
    slider.use("in. w.c.")
    slider.inner.value = slider.inner.max
    assert slider.value == 100.0


def test_a_value_off_the_slider_is_refused_with_the_range():
    slider = set_point()
    with pytest.raises(ValueError, match="Set point must be from 0 to 100 Pa, got 250"):
        slider.value = 250.0
    assert slider.value == 40.0


@pytest.mark.parametrize(
    ("dimension", "low", "high", "step"),
    [("temperature", -40.0, 45.0, 1.0), ("speed", 0.0, 20.0, 0.5), ("force", 20.0, 120.0, 1.0), ("flow", 0.0, 8.0, 0.05)],
)
@pytest.mark.parametrize("system", SYSTEMS)
def test_a_slider_reaches_its_whole_range_in_every_unit(dimension, low, high, step, system):
    slider = Slider("Something", dimension, low, high, step, low)
    slider.use(system)
    reached = []
    slider.on_change(lambda: reached.append(slider.value))
    slider.inner.value = slider.inner.max
    slider.inner.value = slider.inner.min
    assert reached == [high, low]
    assert 20 <= (slider.inner.max - slider.inner.min) / slider.inner.step <= MOST_STEPS + 2  # each end on a round number


def test_a_track_with_no_room_for_its_steps_takes_coarser_ones_and_its_figure_keeps_the_finer():
    """At 2 px a step a hand can still stop at each of them."""
    slider = Slider("Entered top", "pressure", 5.0, 1000.0, 5.0, 125.0)
    assert (slider.inner.step, slider.figure, slider.value) == (10.0, "125", 125.0)
    slider.inner.value = 300.0
    assert (slider.figure, slider.value) == ("300", 300.0)
    slider.value = 62.5
    assert slider.figure == "62.5"


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_step_of_every_slider_of_the_pages_is_wide_enough_for_a_hand(system):
    UNITS.system = system
    sliders = [
        control for make in (*MADE.values(), lambda: review_panel().panel) for control in make().controls.values()
        if isinstance(control, Slider | Count)
    ]  # fmt: skip
    assert len(sliders) > 30
    for slider in sliders:
        steps = (slider.inner.max - slider.inner.min) / getattr(slider.inner, "step", 1)
        assert TRACK_PX / steps > STEP_PX - 0.05, slider.said
    UNITS.system = SYSTEMS[0]


@settings(max_examples=50, derandomize=True, deadline=None)
@given(st.floats(1e-6, 1e6))
def test_a_slider_step_is_a_round_number_near_the_one_asked_for(step):
    nice = nice_step(step)
    assert f"{nice:e}".split("e")[0].rstrip("0") in ("1.", "2.", "5.")
    assert 0.6 < nice / step < 1.7


def test_all_switches_are_one():
    units, heard = UnitSwitch(), []
    first, second = units.switch().children[0], units.switch().children[0]
    units.listen(lambda: heard.append(units.system))
    first.value = "in. w.c."
    assert (second.value, units.system, heard) == ("in. w.c.", "in. w.c.", ["in. w.c."])
    assert units.switch().children[0].value == "in. w.c."


def test_all_switches_of_a_page_look_alike():
    units = UnitSwitch()
    first, *others = (units.switch() for _ in range(3))
    for other in others:
        assert other._dom_classes == first._dom_classes
        assert other.children[0].style.button_width == first.children[0].style.button_width
        assert other.layout.width == first.layout.width
    for rule in STYLE.split("}"):  # one look: no rule for some of them alone
        assert "units" not in rule or re.fullmatch(r"\s*\.[\w-]+\.units( (label|\.jupyter-button(\.mod-active)?))? \{[^{]*", rule), rule


def test_a_system_that_is_none_is_refused_and_what_was_forgotten_hears_nothing():
    units, heard = UnitSwitch(), []
    listener = lambda: heard.append(1)  # noqa: E731
    units.listen(listener)
    with pytest.raises(ValueError, match=r"one of Pa, in\. w\.c\."):
        units.system = "psi"
    units.forget(listener)
    units.system = "in. w.c."
    assert heard == []


def test_a_storey_slider_takes_another_building_without_calling():
    storey, heard = Count("PDT-1, storey", 0, 13, 12), []
    storey.on_change(lambda: heard.append(1))
    storey.limit("PDT-1, storey", -2, 39, 3)
    assert (storey.inner.min, storey.inner.max, storey.value, heard) == (-2, 39, 3, [])
    storey.limit("PDT-1, storey", 0, 5, 1)
    assert (storey.inner.min, storey.inner.max, storey.value, heard) == (0, 5, 1, [])


def test_other_choices_are_offered_without_calling():
    rule, heard = Choice("Fan follows", ["average", "lowest"]), []
    rule.on_change(lambda: heard.append(rule.value))
    rule.offer(["average", "lowest", "middle"], "middle")
    assert (rule.value, heard) == ("middle", [])
    rule.value = "lowest"
    assert heard == ["lowest"]


def test_a_wrong_entry_stays_as_it_was_typed():
    entry = Typed("Storeys", lambda text: [int(part) for part in text.split(",")], "1, 2")
    assert entry.value == [1, 2]
    entry.text = "one, two"
    with pytest.raises(ValueError, match="invalid literal"):
        _ = entry.value
    assert entry.text == "one, two"


def test_every_control_can_be_hidden_and_shown():
    tap = Count("PDT-3, storey", 0, 5, 1)
    tap.shown = False
    assert (tap.shown, tap.widget.layout.display) == (False, "none")
    tap.shown = True
    assert tap.shown


def test_steps_go_through_a_row_of_numbers_as_they_are_written():
    steps, moves = Steps("Gain [%/%]", (0.1, 0.6, 1.0, 20.0), 0.6), []
    steps.on_change(lambda: moves.append(steps.value))
    assert [label for label, _ in steps.inner.options] == ["0.1", "0.6", "1", "20"]
    assert steps.said == "Gain 0.6 %/%"
    steps.inner.index = 3
    steps.value = 1.0
    steps.use("in. w.c.")  # a bare number has no unit to take up
    assert moves == [20.0, 1.0]
    assert steps.value == 1.0
    typed(steps, "1.07")  # between two of them
    assert (steps.value, steps.inner.value, moves[-1]) == (1.07, 1.0, 1.07)
