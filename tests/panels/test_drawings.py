"""Every drawing draws what a study hands it, whatever the building, and tells it in words."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from helpers.panels.drawn import DRAWINGS, picture_of
from helpers.panels.fan_chart import FanDrawing
from helpers.panels.picture import Picture
from helpers.panels.profile import ProfileDrawing, storey_edges
from helpers.studies import pictures
from helpers.studies.pictures import Curve, FanChart, FlowSteps, Mark, PressureProfile, Profile, RangeChart, SignalLadder


def profile(label="winter", storeys=14, low=(), high=(), opened=()):
    flags = [np.isin(np.arange(storeys), places) for places in (low, high, opened)]
    dp = np.where(flags[2], np.nan, np.linspace(30.0, 55.0, storeys))
    return Profile(label, dp, *flags, "held", 24.0, np.array([31.0, 54.0]))


def pressure_profile(storeys=14, **out):
    return PressureProfile(
        "profile average", "Average reading held at 40 Pa", "", "Pressure across the stair door [Pa]", "Storey", "average",
        tuple(map(str, range(storeys))), 1.5 + 3.0 * np.arange(storeys), np.full(storeys, 25.0), np.full(storeys, 61.0),
        (profile(storeys=storeys, **out),), ("PT-1 low", "PT-2 high"), (0, storeys - 1), 40.0,
    )  # fmt: skip


def fan_chart(points=2):
    flow = np.linspace(0, 7, 20)
    curves = (Curve("full speed", flow, 600 - 7 * flow**2, "speed"), Curve("duct and stair", flow, 12 * flow**2, "case"))
    marks = tuple(Mark(f"case {place}", 2.0 + 0.1 * place, 100.0 + 10 * place, "good") for place in range(points))
    return FanChart("fan", "Fan curve", "", "Flow [m³/s]", "Fan pressure [Pa]", curves, marks)


FLOW = FlowSteps(
    "flow", "Supply air", "", "Supply air [m³/s]", "", ("By hand", "Wind", "Inlet"), np.array([2.5, 2.6, 2.1]), np.array([0, 0.1, -0.5])
)
RANGE = RangeChart(
    "range", "Transmitter ranges", "", "Pressure [Pa]", ("0 to 50 Pa", "0 to 125 Pa", "±500 Pa"), np.array([0, 0, -500.0]),
    np.array([50.0, 125.0, 500.0]), ("wrong", "good", "attention"), "0 to 125 Pa", (25.0, 61.0), 40.0, 82.0, -9.0,
)  # fmt: skip
PERCENT = np.array([0.0, 25.0, 50.0, 75.0, 100.0])
LADDER = SignalLadder(
    "signal 0",
    "PT-1 low",
    "",
    "Signal [mA]",
    "Pressure [Pa]",
    PERCENT,
    4 + 0.16 * PERCENT,
    1.25 * PERCENT,
    (Mark("set point", 9.12, 40.0),),
    1.25,
)
EVERY = [pressure_profile(), fan_chart(), FLOW, RANGE, LADDER]


def test_there_is_a_drawing_for_every_kind_of_picture_of_the_studies():
    parts = (Curve, Mark, Profile)
    assert set(DRAWINGS) == {getattr(pictures, name) for name in pictures.__all__} - set(parts)


@pytest.mark.parametrize("data", EVERY, ids=lambda data: type(data).__name__)
def test_a_picture_shows_its_title_units_and_figures_in_words_too(data):
    words = picture_of(data).words
    assert words.startswith(data.title)
    assert "[" in words or "Pa" in words
    assert "nan" not in words


@pytest.mark.parametrize("data", EVERY, ids=lambda data: type(data).__name__)
def test_no_letter_of_a_picture_is_cut_off_at_its_edge(data):
    picture = picture_of(data)
    pixels = np.asarray(Image.open(io.BytesIO(picture.png(scale=1))).convert("L"))
    edge = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])
    assert edge.min() > 200


def test_a_door_out_of_its_window_is_crossed_and_named():
    inside, out = picture_of(pressure_profile()), picture_of(pressure_profile(high=(12, 13), low=(0,)))
    assert "every shut door inside its window" in inside.words
    assert "too low on storey 0 and too high on storey 12, 13" in out.words
    assert list(out.drawings[0].out.get_ydata()) == [1.5, 37.5, 40.5]
    assert len(inside.drawings[0].out.get_ydata()) == 0


def test_an_open_door_is_marked_and_leaves_a_gap_in_the_line():
    drawing = picture_of(pressure_profile(opened=(6, 7))).drawings[0]
    assert list(drawing.opened[0].get_ydata()) == [19.5, 22.5]
    assert np.isnan(drawing.lines[0].get_xdata()).sum() == 2


def test_a_building_with_every_door_open_is_told_so():
    assert "no door is shut" in picture_of(pressure_profile(storeys=2, opened=(0, 1))).words


@pytest.mark.parametrize("storeys", [1, 2, 42, 160])
def test_a_profile_is_drawn_for_one_storey_and_for_a_tower(storeys):
    picture = picture_of(pressure_profile(storeys=storeys))
    assert len(picture.drawings[0].axes.get_yticks()) <= 16


def test_the_window_is_drawn_storey_by_storey_and_open_where_nothing_is_asked():
    data = pressure_profile()
    data = replace(data, least=np.where(np.arange(14) < 7, np.nan, 25.0), most=np.full(14, np.inf))
    assert "held at 24.0 Hz" in picture_of(data).words


def test_a_profile_beyond_the_axis_widens_it():
    picture = Picture(ProfileDrawing()).show(pressure_profile())
    wide = replace(pressure_profile(), profiles=(replace(profile(), dp=np.linspace(30, 140, 14)),))
    assert picture.show(wide).drawings[0].axes.get_xlim()[1] > 140


def test_storey_edges_lie_between_storeys_of_different_height():
    assert list(storey_edges(np.array([2.0, 5.0, 8.0]))) == [0.5, 3.5, 6.5, 9.5]
    assert list(storey_edges(np.array([2.0]))) == [1.0, 3.0]


def test_two_profiles_and_a_reference_are_told_apart_by_their_lines():
    data = replace(pressure_profile(), profiles=(profile("now"), profile("site file")))
    lines = Picture(ProfileDrawing(reference=True)).show(data).drawings[0].lines
    assert (lines[0].get_marker(), lines[1].get_marker()) == ("o", "")


def test_duty_points_too_many_for_names_get_letters_and_a_key():
    few, many = (Picture(FanDrawing()).show(fan_chart(points)).drawings[0] for points in (2, 5))
    assert [words.text for words in few.words] == ["case 0", "case 1"]
    assert [words.text for words in many.words] == list("ABCDE")
    assert [words.text for words in many.key] == [f"{letter}   case {place}" for place, letter in enumerate("ABCDE")]


def test_the_range_to_buy_says_so_and_one_that_does_not_do_says_so():
    words = picture_of(RANGE).words
    assert "buy this one: 0 to 125 Pa" in words
    assert "0 to 50 Pa: not this one" in words


def test_a_site_without_a_window_still_gets_its_ranges_drawn():
    assert "highest peak 82" in picture_of(replace(RANGE, window=(None, None))).words


def test_flow_steps_show_whole_flows_at_the_ends_and_changes_between():
    assert [words.text for words in picture_of(FLOW).drawings[0].words] == ["2.50", "+0.10", "2.10 (−0.50)"]
