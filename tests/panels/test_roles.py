"""What a curve is says how it is drawn, on every picture: now or chosen, as stated, another one, a limit, the best one."""

import numpy as np
from demo_designs import design_of
from drawn import layers

from helpers.lessons.average_lowest_highest import lesson as rules
from helpers.lessons.leakage_and_fan_duty import lesson as duty
from helpers.lessons.low_demand_stop import lesson as low_demand
from helpers.lessons.tuning_and_door_events import lesson as tuning
from helpers.lessons.where_the_transmitters_go import lesson as places
from helpers.pages.design import DesignPanel
from helpers.plots.style import LIMITS, ROLES
from helpers.record.plot_builders import fan_chart
from helpers.units.said import written_out


def plots(panel):
    """What a panel draws as it opens, whatever another test has moved."""
    panel.put_back()
    return panel.answer("Pa", **panel.values)[1:]


def role(plot, label):
    """Role of what bears a label, by its colour, dashes and width."""
    (pen,) = {line.pen for line in layers(plot, label) if line.pen.colour != "#ffffff"}
    return next(name for name, one in ROLES.items() if (one.colour, one.line) == (pen.colour, pen.line))


def test_roles_differ_in_colour_and_in_line_and_the_chosen_one_is_the_thickest():
    assert len({pen.colour for pen in ROLES.values()}) == len({pen.line for pen in ROLES.values()}) == len(ROLES)
    assert max(ROLES, key=lambda name: ROLES[name].width) == "now"
    assert LIMITS["most force"] == (ROLES["limit"].colour, ROLES["limit"].line)


def fan_charts():
    design = design_of("Larkfield House")
    yield plots(duty.panel())[1], "later", "full speed"
    yield plots(DesignPanel().panel)[1], "later", "full speed"  # one moment, one word
    yield written_out(fan_chart(design.tower, design.duty)), "duty", "full speed"


def test_the_fan_as_it_runs_now_is_blue_and_its_full_speed_orange_on_every_page():
    for plot, *starts in fan_charts():
        names = [layer.label for layer in layers(plot) if hasattr(layer, "label")]
        found = [next(name for name in names if name.startswith(words)) for words in starts]
        assert [role(plot, name) for name in found] == ["now", "alternative"]


def test_the_site_as_its_file_has_it_is_grey_behind_what_is_chosen_now():
    plot = plots(DesignPanel().panel)[0]
    *now, file = [layer.label for layer in layers(plot) if getattr(layer, "pen", None) and len(layer.x) > 4 and layer.label in plot.words]
    assert role(plot, now[0]) == "now"
    assert role(plot, file) == "before"


def test_the_rule_chosen_is_thick_and_the_one_beside_it_orange_and_no_other_is_drawn():
    panel = rules.panel()
    (plot,) = panel.answer("Pa", **panel.values | {"beside": "lowest"})[1:]
    chosen, early, other = [entry for entry in plot.legend if entry.pen]
    assert early.pen.colour == ROLES["now"].colour
    assert early.pen.width < chosen.pen.width
    assert (chosen.pen.width, chosen.pen.colour, other.pen.colour) == (3.0, ROLES["now"].colour, ROLES["alternative"].colour)
    named = {layer.text for layer in layers(plot) if hasattr(layer, "text")}
    assert {"average", "lowest"} <= named
    (everything,) = panel.answer("Pa", **panel.values | {"beside": rules.ALL})[1:]
    assert sum(entry.pen is not None for entry in everything.legend) == len(rules.RULES) + 1  # the chosen one in its first minute too


def test_on_a_map_the_chosen_pair_has_one_frame_and_the_best_two():
    (plot,) = plots(places.panel())
    frames = {label: len([one for one in layers(plot, label) if one.pen.colour == ROLES["now"].colour]) for label in
              (entry.text for entry in plot.legend if entry.sign)}  # fmt: skip
    best, chosen = sorted(frames, key=lambda words: words.startswith("chosen"))
    assert (frames[best], frames[chosen]) == (2, 1)


def test_a_fit_lies_as_open_dots_on_what_it_was_laid_through_and_the_axis_holds_the_step():
    (plot,) = plots(tuning.step_test())
    (reading,), (fit,) = (layers(plot, label) for label in ("change of reading", "one lag and a delay"))
    assert (fit.pen.line, fit.pen.face) == ("", "#ffffff")
    assert fit.order > reading.order
    assert max(np.max(layer.y) for layer in (reading, fit)) <= plot.axes[0].y.ends[1]


def test_times_of_a_stop_are_bars_on_the_axis_and_no_speed():
    (plot,) = plots(low_demand.panel())
    (stops,) = layers(plot, "stopped")
    assert stops.over == "x"
    assert np.nanmax(stops.y) < 0.1
    assert f"stopped {np.isfinite(stops.y).sum() // 2} times" in plot.words
