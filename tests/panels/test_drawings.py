"""Every drawing draws what a study hands it, whatever the building, and tells it in words."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from helpers.plots.drawings import DRAWINGS, picture_of
from helpers.plots.fan import FanDrawing
from helpers.plots.heat_map import SHADES, HeatMapDrawing
from helpers.plots.picture import Picture
from helpers.plots.profile import ProfileDrawing, storey_edges
from helpers.plots.trend import TrendDrawing, decimated
from helpers.studies import plot_data
from helpers.studies.plot_data import (
    Cell,
    Curve,
    Event,
    FanChart,
    FlowSteps,
    HeatMap,
    Limit,
    Mark,
    PressureProfile,
    Profile,
    RangeChart,
    SignalLadder,
    Trend,
    TrendAxes,
)


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
SECONDS = np.arange(0.0, 600.0, 0.1)


def trend(axes=2, events=None):
    pressure = 40 + 15 * np.exp(-(SECONDS % 300) / 20) * np.sin(SECONDS / 3)
    curves = (Curve("own tuning", SECONDS, pressure), Curve("proposed", SECONDS, 0.5 * pressure + 20))
    limits = (Limit("least 25 Pa", 25.0, "least"), Limit("most 61 Pa", 61.0, "most"), Limit("set point 40 Pa", 40.0, "set point"))
    upper = TrendAxes("Pressure [Pa]", curves, limits)
    speeds = tuple(Curve(label, SECONDS, 30 + SECONDS / 100) for label in ("own tuning", "proposed"))
    lower = TrendAxes("Speed [Hz]", speeds, (Limit("full speed 50 Hz", 50.0),))
    happens = (Event("door 1 opens", 60.0), Event("door 2 opens", 120.0)) if events is None else events
    return Trend("trend", "A door opens", "", "Time [s]", (upper, lower)[:axes], happens)


def heat_map(side=14, **changes):
    values = np.triu(np.linspace(30.0, 95.0, side * side).reshape(side, side))
    values[np.tril_indices(side, -1)] = np.nan
    labels = tuple(map(str, range(side)))
    cells = (Cell("best: average of levels 2 and 12", min(2, side - 1), min(12, side - 1)),)
    data = HeatMap(
        "map", "Two transmitters", "", "Upper, level", "Lower, level", "All doors inside [%]", labels, labels, values, (0, 100), cells
    )
    return replace(data, **changes)


EVERY = [pressure_profile(), fan_chart(), FLOW, RANGE, LADDER, trend(), heat_map()]


def test_there_is_a_drawing_for_every_kind_of_picture_of_the_studies():
    parts = (Cell, Curve, Event, Limit, Mark, Profile, TrendAxes)
    assert set(DRAWINGS) == {getattr(plot_data, name) for name in plot_data.__all__} - set(parts)


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
    assert "chosen: 0 to 125 Pa" in words
    assert "0 to 50 Pa: FAIL" in words


def test_a_site_without_a_window_still_gets_its_ranges_drawn():
    assert "highest peak 82" in picture_of(replace(RANGE, window=(None, None))).words


def test_flow_steps_show_whole_flows_at_the_ends_and_changes_between():
    assert [words.text for words in picture_of(FLOW).drawings[0].words] == ["2.50", "+0.10", "2.10 (−0.50)"]


def test_a_spike_of_one_sample_in_an_hour_is_still_on_the_trend():
    seconds = np.arange(0.0, 3600.0, 0.1)
    pressure = np.full(seconds.size, 40.0)
    pressure[17001] = 93.0
    x, y = decimated(seconds, pressure, 0.0, 3600.0, 700)
    assert len(x) <= 2 * 700
    assert y.max() == 93.0
    assert abs(x[y.argmax()] - seconds[17001]) <= 3600 / 700
    assert np.all(np.diff(x) >= 0)


def test_a_thinned_curve_keeps_the_least_and_the_most_of_every_column_of_pixels():
    rng = np.random.default_rng(3)
    seconds, values = np.arange(1000.0) + 0.5, rng.normal(size=1000)
    _, y = decimated(seconds, values, 0.0, 1000.0, 100)
    by_column = values.reshape(100, 10)
    assert np.array_equal(np.sort(y.reshape(100, 2), axis=1), np.stack([by_column.min(axis=1), by_column.max(axis=1)], axis=1))


def test_a_falling_curve_is_not_drawn_backwards():
    _, y = decimated(np.arange(1000.0), -np.arange(1000.0), 0.0, 1000.0, 100)
    assert np.all(np.diff(y) < 0)


def test_a_dead_transmitter_leaves_a_gap_in_the_trend():
    values = np.ones(1000)
    values[300:500] = np.nan
    x, y = decimated(np.arange(1000.0), values, 0.0, 1000.0, 100)
    assert np.all(np.isnan(y[(x >= 300) & (x < 500)]))
    assert np.isfinite(y).sum() == 160


def test_a_slider_that_moves_a_trend_moves_curves_limits_and_events_and_redraws_nothing():
    picture = Picture(TrendDrawing()).show(trend())
    frame, drawing = picture.drawings[0].frame(trend()), picture.drawings[0]
    axes, lines = drawing.axes, drawing.lines
    moved = trend()
    upper = moved.axes[0]
    limits = (Limit("least 25 Pa", 25.0, "least"), Limit("most 58 Pa", 58.0, "most"), Limit("set point 35 Pa", 35.0, "set point"))
    curves = tuple(replace(curve, y=curve.y - 2) for curve in upper.curves)
    events = (Event("door 1 opens", 90.0), Event("door 2 opens", 200.0))
    moved = replace(moved, axes=(replace(upper, curves=curves, limits=limits), moved.axes[1]), events=events)
    assert drawing.frame(moved) == frame
    picture.show(moved)
    assert drawing.axes is axes
    assert drawing.lines is lines
    assert [line.get_ydata()[0] for line, _ in drawing.limits[0]] == [25.0, 58.0, 35.0]
    assert [marks[0].get_xdata()[0] for marks in drawing.marks] == [90.0, 200.0]
    assert drawing.bands[0].get_height() == 33.0
    assert drawing.lines[0][0].get_ydata().max() == pytest.approx(upper.curves[0].y.max() - 2)


def test_two_curves_of_a_trend_differ_in_line_and_the_same_name_means_the_same_line_on_both_axes():
    drawing = picture_of(trend()).drawings[0]
    looks = [[(line.get_color(), str(line._dash_pattern)) for line in lines] for lines in drawing.lines]
    assert looks[0] == looks[1]
    assert len(set(looks[0])) == 2
    assert [words.text for words in drawing.key] == ["own tuning", "proposed"]


def test_words_of_limits_that_lie_close_do_not_cover_each_other():
    limits = (Limit("set point", 40.0, "set point"), Limit("least", 40.5, "least"), Limit("most", 61.0, "most"))
    data = trend(axes=1)
    drawing = picture_of(replace(data, axes=(replace(data.axes[0], limits=limits),))).drawings[0]
    low, high = drawing.axes[0].get_ylim()
    tall = drawing.axes[0].get_window_extent().height
    places = sorted(words.at[1] / (high - low) * tall for _, words in drawing.limits[0])
    assert min(np.diff(places)) >= 16.9


def test_a_door_without_a_most_pressure_has_its_window_open_to_above():
    data = trend(axes=1)
    limits = (Limit("least 25 Pa", 25.0, "least"), Limit("", np.inf, "most"))
    drawing = picture_of(replace(data, axes=(replace(data.axes[0], limits=limits),))).drawings[0]
    assert drawing.bands[0].get_y() + drawing.bands[0].get_height() == drawing.axes[0].get_ylim()[1]


def test_words_of_events_close_together_stand_in_rows_and_none_leaves_the_picture():
    events = tuple(Event("the door on level 7 opens", at) for at in (100.0, 110.0, 120.0, 595.0))
    picture = picture_of(trend(events=events))
    drawing = picture.drawings[0]
    assert [row for row, _ in drawing._rows(trend(events=events))] == [0, 1, 2, 0]
    assert drawing.event_words[-1].across == "right"


def test_a_pair_nobody_asked_for_is_blank_and_not_a_low_share():
    picture = picture_of(heat_map())
    assert picture.drawings[0].image.get_array().mask.sum() == 91
    assert "91 of 196 cells not asked" in picture.words
    assert "best: average of levels 2 and 12: 43.3" in picture.words


def test_shades_rise_evenly_from_dark_to_pale_so_that_a_grey_print_keeps_their_order():
    grey = SHADES(np.linspace(0, 1, 101))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(grey) > 0)
    assert grey[-1] - grey[0] > 0.6


def test_a_marked_cell_moves_and_the_map_is_not_drawn_anew():
    picture = Picture(HeatMapDrawing()).show(heat_map())
    drawing = picture.drawings[0]
    image = drawing.image
    picture.show(heat_map(cells=(Cell("second", 4, 7),)))
    assert drawing.image is image
    assert list(drawing.frames[0][0].get_xdata()) == [6.5, 7.5, 7.5, 6.5, 6.5]
    assert list(drawing.frames[0][0].get_ydata()) == [3.5, 3.5, 4.5, 4.5, 3.5]
    assert drawing.names[0].text == "second"


@pytest.mark.parametrize(("side", "figures"), [(14, True), (40, False)])
def test_cells_hold_their_figure_where_it_fits(side, figures):
    drawing = picture_of(heat_map(side)).drawings[0]
    assert (drawing.figures is not None) == figures
    assert len(drawing.axes.get_xticks()) <= side
