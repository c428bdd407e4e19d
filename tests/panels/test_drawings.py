"""Every drawing draws what a study hands it, whatever the building, and tells it in words."""

import io
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from drawn import drawn, layers
from PIL import Image

from helpers.plots.charts import Profile, fan_curves, figure, heat_map, profile, storey_edges, trend
from helpers.plots.layers import SHADES, decimated
from helpers.plots.picture import Picture, picture_of
from helpers.plots.plot import Axis, Line
from helpers.plots.style import REFERENCE, series
from helpers.record.plot_builders import flow_steps, range_chart, signal_ladder
from helpers.units.said import written_out


def one_profile(label="winter", storeys=14, low=(), high=(), opened=()):
    flags = [np.isin(np.arange(storeys), places) for places in (low, high, opened)]
    dp = np.where(flags[2], np.nan, np.linspace(30.0, 55.0, storeys))
    return Profile(label, dp, *flags, "held", 24.0, np.array([31.0, 54.0]))


def pressure_profile(storeys=14, profiles=None, least=25.0, most=61.0, pens=None, system="Pa", **out):
    window = [np.broadcast_to(end, storeys).astype(float) for end in (least, most)]
    taps = ("PDT-1", 0), ("PDT-2", storeys - 1)
    levels, heights, across = tuple(map(str, range(storeys))), 1.5 + 3.0 * np.arange(storeys), Axis("Pressure across", "pressure")
    profiles = profiles or [one_profile(storeys=storeys, **out)]
    plot = profile("profile", "Average reading held", across, levels, heights, window, profiles, taps, 40.0, pens=pens)
    return written_out(plot, system)


def fan_chart(points=2):
    flow = np.linspace(0, 7, 20)
    curves = [("now", flow, 600 - 7 * flow**2, True), ("duct and stair", flow, 12 * flow**2, False)]
    marks = [(f"case {place}", 2.0 + 0.1 * place, 100.0 + 10 * place, "good") for place in range(points)]
    return written_out(fan_curves("fan", "Fan curve", curves, marks))


def rung(label, flow):
    return SimpleNamespace(label=label, flow_m3_s=flow, held=True)


RUNGS = [rung("By hand", 2.5), rung("Wind", 2.6), rung("Inlet", 2.1)]
FLOW = written_out(flow_steps(SimpleNamespace(rungs=RUNGS, verdict=lambda: "")))


def ranges(window=(25.0, 61.0)):
    names = {"0 to 50 Pa": (0.0, 50.0, "wrong"), "0 to 125 Pa": (0.0, 125.0, "good"), "±500 Pa": (-500.0, 500.0, "attention")}
    choices = [SimpleNamespace(low_pa=low, high_pa=high, state=state, text=lambda name=name: name)
               for name, (low, high, state) in names.items()]  # fmt: skip
    met = {"set_point_pa": 40.0, "peak_pa": 82.0, "lowest_pa": -9.0, "window_pa": window}
    found = SimpleNamespace(choices=choices, chosen=choices[1], state=lambda choice: choice.state, verdict=lambda: "", **met)
    return written_out(range_chart(found))


TAP = SimpleNamespace(name="PDT-1", signal="4-20 mA", range_low_pa=0.0, range_high_pa=125.0, accuracy_percent_span=1.0)
LADDER = written_out(signal_ladder(TAP, SimpleNamespace(window_pa=(25.0, 61.0), set_point_pa=40.0, peak_pa=82.0)))
SECONDS = np.arange(0.0, 600.0, 0.1)
LIMITS = ("least 25 Pa", 25.0, "least"), ("most 61 Pa", 61.0, "most"), ("set point 40 Pa", 40.0, "set point")
EVENTS = ("door 1 opens", 60.0), ("door 2 opens", 120.0)


def trended(axes=2, events=EVENTS, limits=LIMITS, lower_by=0.0):
    pressure = 40 + 15 * np.exp(-(SECONDS % 300) / 20) * np.sin(SECONDS / 3)
    curves = [Line(SECONDS, pressure - lower_by, label="own tuning"), Line(SECONDS, 0.5 * pressure + 20 - lower_by, label="proposed")]
    speeds = [Line(SECONDS, 30 + SECONDS / 100, label=label) for label in ("own tuning", "proposed")]
    both = (Axis("Pressure", "pressure"), curves, limits), (Axis("Speed", "frequency"), speeds, [("full speed 50 Hz", 50.0, "")])
    return written_out(trend("trend", "A door opens", "Time [s]", both[:axes], events))


def mapped(side=14, cells=None):
    values = np.triu(np.linspace(30.0, 95.0, side * side).reshape(side, side))
    values[np.tril_indices(side, -1)] = np.nan
    labels = tuple(map(str, range(side)))
    cells = cells or [("best: average of storeys 2 and 12", min(2, side - 1), min(12, side - 1), "best")]
    axis = Axis("All doors inside [%]", ends=(0.0, 100.0))
    return written_out(heat_map("map", "Two transmitters", ("Upper, level", labels), ("Lower, level", labels), values, axis, cells))


EVERY = [pressure_profile(), fan_chart(), FLOW, ranges(), LADDER, trended(), mapped()]


@pytest.mark.parametrize("plot", EVERY, ids=lambda plot: plot.key)
def test_a_picture_shows_its_title_units_and_figures_in_words_too(plot):
    words = picture_of(plot).words
    assert words.startswith(plot.title)
    assert "[" in words or "Pa" in words
    assert "nan" not in words


@pytest.mark.parametrize("plot", EVERY, ids=lambda plot: plot.key)
def test_no_letter_of_a_picture_is_cut_off_at_its_edge(plot):
    picture = picture_of(plot)
    pixels = np.asarray(Image.open(io.BytesIO(picture.png(scale=1))).convert("L"))
    edge = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])
    assert edge.min() > 200


def test_a_plot_is_written_out_in_the_readers_units_at_the_drawing_alone():
    pascals, inches = (pressure_profile(system=system) for system in ("Pa", "in. w.c."))
    assert layers(pascals, "winter")[0].x.tolist() == layers(inches, "winter")[0].x.tolist()
    lines = [drawn(picture_of(plot), "winter")[0].get_xdata() for plot in (pascals, inches)]
    assert lines[0] == pytest.approx(249.0889 * lines[1])
    assert [picture_of(plot).figure.axes[0].get_xlabel() for plot in (pascals, inches)] == [
        "Pressure across [Pa]", "Pressure across [in. w.c.]"]  # fmt: skip


def test_a_door_out_of_its_window_is_crossed_and_named():
    inside, out = picture_of(pressure_profile()), picture_of(pressure_profile(high=(12, 13), low=(0,)))
    assert "every shut door inside its window" in inside.words
    assert "too low on storey 0 and too high on storey 12, 13" in out.words
    assert list(drawn(out, "out")[0].get_ydata()) == [1.5, 37.5, 40.5]
    assert len(drawn(inside, "out")[0].get_ydata()) == 0


def test_an_open_door_is_marked_and_leaves_a_gap_in_the_line():
    picture = picture_of(pressure_profile(opened=(6, 7)))
    assert list(drawn(picture, "open")[0].get_ydata()) == [19.5, 22.5]
    assert np.isnan(drawn(picture, "winter")[0].get_xdata()).sum() == 2


def test_a_building_with_every_door_open_is_told_so():
    assert "no door is shut" in picture_of(pressure_profile(storeys=2, opened=(0, 1))).words


@pytest.mark.parametrize("storeys", [1, 2, 42, 160])
def test_a_profile_is_drawn_for_one_storey_and_for_a_tower(storeys):
    picture = picture_of(pressure_profile(storeys=storeys))
    assert len(picture.figure.axes[0].get_yticks()) <= 18


def test_the_window_is_drawn_storey_by_storey_and_open_where_nothing_is_asked():
    plot = pressure_profile(least=np.where(np.arange(14) < 7, np.nan, 25.0), most=np.inf)
    picture = picture_of(plot)
    assert "set point controlled, fan at 24.0 Hz" in picture.words
    (band,) = drawn(picture, "window")
    across, edge = band.get_xy()[:56, 0], picture.figure.axes[0].get_xlim()[1]
    low, high = across[:28], across[28:][::-1]
    assert (high - low).tolist() == [0.0] * 14 + [edge - 25.0] * 14


def test_a_profile_beyond_the_axis_widens_it():
    picture = Picture(height_px=580).show(pressure_profile())
    assert picture.figure.axes[0].get_xlim()[1] < 140
    wide = pressure_profile(profiles=[replace(one_profile(), dp=np.linspace(30, 140, 14))])
    assert picture.show(wide).figure.axes[0].get_xlim()[1] > 140


def test_storey_edges_lie_between_storeys_of_different_height():
    assert list(storey_edges(np.array([2.0, 5.0, 8.0]))) == [0.5, 3.5, 6.5, 9.5]
    assert list(storey_edges(np.array([2.0]))) == [1.0, 3.0]


def test_two_profiles_and_a_reference_are_told_apart_by_their_lines():
    picture = picture_of(pressure_profile(profiles=[one_profile("now"), one_profile("site file")], pens=[series(0), REFERENCE]))
    assert [drawn(picture, label)[0].get_marker() for label in ("now", "site file")] == ["o", ""]


def test_duty_points_too_many_for_names_get_letters_and_a_legend():
    few, many = fan_chart(2), fan_chart(5)
    words = [[layer.text for layer in layers(plot) if getattr(layer, "order", 0) == 6] for plot in (few, many)]
    assert words == [["case 0", "case 1"], list("ABCDE")]
    assert not few.legend
    assert [entry.text for entry in many.legend] == [f"{letter}   case {place}" for place, letter in enumerate("ABCDE")]


def test_the_range_to_buy_says_so_and_one_that_does_not_do_says_so():
    words = picture_of(ranges()).words
    assert "chosen: 0 to 125 Pa" in words
    assert "0 to 50 Pa: FAIL" in words


def test_a_site_without_a_window_still_gets_its_ranges_drawn():
    assert "highest peak 82" in picture_of(ranges((None, None))).words


def test_flow_steps_show_whole_flows_at_the_ends_and_changes_between():
    assert [layer.text for layer in layers(FLOW) if hasattr(layer, "text")] == ["2.50", "+0.10", "2.10 (−0.50)"]


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
    picture = Picture(height_px=500).show(trended())
    axes, frame = picture.figure.axes, picture.drawings[0].frame(trended())
    limits = ("least 25 Pa", 25.0, "least"), ("most 58 Pa", 58.0, "most"), ("set point 35 Pa", 35.0, "set point")
    moved = trended(events=(("door 1 opens", 90.0), ("door 2 opens", 200.0)), limits=limits, lower_by=2.0)
    top = drawn(picture, "own tuning")[0].get_ydata().max()
    assert picture.drawings[0].frame(moved) == frame
    picture.show(moved)
    assert picture.figure.axes == axes
    assert [drawn(picture, label)[0].get_ydata()[0] for label, *_ in LIMITS] == [25.0, 58.0, 35.0]
    assert [drawn(picture, label)[0].get_xdata()[0] for label, _ in EVENTS] == [90.0, 200.0]
    assert np.ptp(drawn(picture, "window")[0].get_xy()[:, 1]) == 33.0
    assert drawn(picture, "own tuning")[0].get_ydata().max() == pytest.approx(top - 2)


def test_two_curves_of_a_trend_differ_in_line_and_the_same_name_means_the_same_line_on_both_axes():
    picture = picture_of(trended())
    own, proposed = ([(line.get_color(), str(line._dash_pattern)) for line in drawn(picture, name)] for name in ("own tuning", "proposed"))
    assert own[0] == own[1] != proposed[0] == proposed[1]
    assert [entry.text for entry in trended().legend] == ["own tuning", "proposed"]


def test_words_of_limits_that_lie_close_do_not_cover_each_other():
    limits = ("set point", 40.0, "set point"), ("least", 40.5, "least"), ("most", 61.0, "most")
    picture = picture_of(trended(axes=1, limits=limits))
    (axes,) = picture.figure.axes
    tall = axes.get_window_extent().height / np.ptp(axes.get_ylim())
    assert min(np.diff(sorted(drawn(picture, name)[1].at[1] * tall for name, *_ in limits))) >= 16.9


def test_a_door_without_a_most_pressure_has_its_window_open_to_above():
    picture = picture_of(trended(axes=1, limits=(("least 25 Pa", 25.0, "least"), ("", np.inf, "most"))))
    assert drawn(picture, "window")[0].get_xy()[:, 1].max() == picture.figure.axes[0].get_ylim()[1]


def test_words_of_events_close_together_stand_in_rows_and_none_leaves_the_picture():
    events = tuple((f"the door on storey {place} opens", at) for place, at in enumerate((100.0, 110.0, 120.0, 595.0)))
    picture = picture_of(trended(events=events))
    words = [drawn(picture, name)[1] for name, _ in events]
    ups = [one.at[1] for one in words]
    assert ups[0] < ups[1] < ups[2]
    assert ups[3] == ups[0]
    assert [one.across for one in words] == ["left", "left", "left", "right"]


def test_a_pair_nobody_asked_for_is_blank_and_not_a_low_share():
    picture = picture_of(mapped())
    assert picture.figure.axes[0].images[0].get_array().mask.sum() == 91
    assert "91 of 196 cells not calculated" in picture.words
    assert "best: average of storeys 2 and 12: 43.3" in picture.words


def test_shades_rise_evenly_from_dark_to_pale_so_that_a_grey_print_keeps_their_order():
    grey = SHADES(np.linspace(0, 1, 101))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(grey) > 0)
    assert grey[-1] - grey[0] > 0.6


def test_a_marked_cell_moves_and_the_map_is_not_drawn_anew():
    picture = Picture(height_px=500).show(mapped(cells=[("first", 2, 12, "now")]))
    image = picture.figure.axes[0].images[0]
    picture.show(mapped(cells=[("second", 4, 7, "now")]))
    assert picture.figure.axes[0].images[0] is image
    frame = drawn(picture, "first")[0]  # as it was called when it was drawn
    assert list(frame.get_xdata()) == [6.5, 7.5, 7.5, 6.5, 6.5]
    assert list(frame.get_ydata()) == [3.5, 3.5, 4.5, 4.5, 3.5]
    assert picture.drawings[0].entries[0].text == "second"


@pytest.mark.parametrize(("side", "figures"), [(14, True), (40, False)])
def test_cells_hold_their_figure_where_it_fits(side, figures):
    picture = picture_of(mapped(side))
    assert (picture.drawings[0].places[0].drawn[0].figures is not None) == figures
    assert len(picture.figure.axes[0].get_xticks()) <= side


def test_what_stands_still_is_drawn_anew_when_it_changes_after_all():
    picture = Picture(height_px=580).show(pressure_profile())
    picture.show(pressure_profile(most=58.0))
    assert drawn(picture, "most")[0].get_xdata().max() == 58.0


def test_shades_without_given_ends_follow_their_values():
    values, labels = np.array([[1.0, 9.0]]), ("a", "b")
    picture = Picture(height_px=500)
    for scale, top in ((1.0, 10.0), (10.0, 100.0)):
        picture.show(written_out(heat_map("map", "Room", ("x", labels), ("y", ("",)), scale * values, Axis("Room", "pressure"), [])))
        assert picture.figure.axes[0].images[0].get_clim()[1] == top


def test_a_large_figure_of_a_picture_has_its_noughts_and_no_power_of_ten():
    assert written_out((figure(1367.8, "pressure"), figure(999.4, "pressure"), figure(27345.0, "pressure"))) == ("1370", "999", "27300")
