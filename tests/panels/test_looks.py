"""The pictures' looks: apart for colour-blind eyes and in grey, readable from the back of the room."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from helpers.plots import style
from helpers.plots.headline import headline_html
from helpers.plots.markup import KINDS, Verdict
from helpers.plots.plot import room_for
from helpers.widgets import controls, panel

# Colour vision without one kind of cone: Machado, Oliveira, Fernandes 2009, table 1, severity 1.0, on linear RGB (memory).
SIGHT = {
    "all three": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "no blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
# Linear sRGB to XYZ over the white point D65: IEC 61966-2-1 (memory).
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) / [[0.9505], [1.0], [1.089]]
JUST_NOTICED = 2.3  # of colour difference in CIELAB (Mahy 1994, memory); a line is thin, so several times that


def linear(colour):
    rgb = np.array(to_rgb(colour))
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def lab(colour, sight="all three"):
    """CIELAB as an eye with this sight has it."""
    x, y, z = np.cbrt(np.maximum(XYZ @ np.clip(SIGHT[sight] @ linear(colour), 0, 1), 0.008856))
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def contrast(ink, paper):
    """WCAG 2.1 contrast ratio."""
    light, dark = sorted((float([0.2126, 0.7152, 0.0722] @ linear(colour)) for colour in (ink, paper)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("sight", SIGHT)
def test_the_colours_of_two_curves_are_apart_for_every_kind_of_sight(sight):
    apart = [np.linalg.norm(lab(one.colour, sight) - lab(other.colour, sight)) for one, other in combinations(style.SERIES, 2)]
    assert min(apart) > 5 * JUST_NOTICED


def test_two_curves_differ_in_line_and_marker_as_well_for_those_who_see_or_print_no_colour():
    assert len({str(series.line) for series in style.SERIES}) == len({series.marker for series in style.SERIES}) == len(style.SERIES)


def test_the_graver_of_two_verdicts_stands_on_top_in_letters_as_large():
    """An entry that is right over a building that fails: whoever looks for ten seconds reads the FAIL."""
    for kind, other in (("attention", "wrong"), ("wrong", "attention")):
        told = Verdict(kind, "w", "one thing", also=(other, "another thing"))
        html = headline_html(told)
        assert 0 < html.index("FAIL") < html.index("CHECK")
        assert html.count("font-size:18px;line-height") == 2
        assert str(told).index("FAIL") < str(told).index("CHECK")


def test_what_is_out_is_told_by_its_mark_and_not_by_colour_alone():
    assert len({mark for mark, _ in style.STATE_MARKS.values()}) == len(style.STATE_MARKS)


def test_letters_stand_out_from_their_ground():
    """WCAG 2.1 asks for 4.5 for text and 3 for lines."""
    for ink in (style.INK, style.MUTED, style.WARNING):
        assert contrast(ink, style.PAPER) > 4.5
        assert contrast(ink, style.WINDOW) > 4.5
    for kind in KINDS.values():
        assert contrast(kind.ink, kind.paper) > 7
    for series in style.SERIES[:4]:
        assert contrast(series.colour, style.PAPER) > 3


@pytest.mark.parametrize("name", controls.LOOKS)
def test_what_is_read_and_what_is_moved_on_a_panel_stands_out_from_its_ground(name):
    """WCAG 2.1: 4.5 for text, 3 for what a control is known by."""
    assert contrast(*controls.LOOKS[name]) > (3 if name in ("track", "thumb", "edge", "focus") else 4.5)
    assert all(colour in controls.STYLE + panel.STYLE for colour in controls.LOOKS[name])


def test_no_letter_is_smaller_than_twelve_points():
    assert min(style.SMALL_PT, style.BODY_PT, style.TITLE_PT) >= 12


def test_an_axis_that_holds_a_moving_curve_changes_rarely():
    ends = {room_for([top, 25.0]) for top in np.linspace(62, 76, 33)}
    assert ends == {(0.0, 80.0)}


@pytest.mark.parametrize(
    ("values", "ends"), [([], (0.0, 1.2)), ([0.31], (0.0, 0.4)), ([-60.0, 40.0], (-80.0, 60.0)), ([8200.0], (0.0, 10000.0))]
)
def test_an_axis_holds_zero_and_all_values_and_ends_at_round_numbers(values, ends):
    assert room_for(values) == ends
