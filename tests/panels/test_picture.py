"""The picture holder: quick, of one size, never worse than the last good image, readable without a kernel."""

import ast
import io
from pathlib import Path
from threading import Thread

import numpy as np
import pytest
from PIL import Image

from helpers.plots import picture as holder
from helpers.plots.layers import Lettering
from helpers.plots.picture import Drawing, Picture, quick_png, small_png

HELPERS = Path(holder.__file__).parents[1]
SHOWING = ("plots", "widgets", "lessons", "fault_bench", "pages", "classroom")


class Needle(Drawing):
    """A line from the corner to a place; `top` is the end of the axis."""

    height_px = 120

    def __init__(self):
        super().__init__()
        self.drawn = 0

    def frame(self, data):
        return data["top"]

    def draw(self, picture, data):
        self.drawn += 1
        if data.get("broken"):
            raise ValueError("no such needle")
        axes = picture.axes(self.box, (40, 10, 30, 10))
        axes.set(xlim=(0, 1), ylim=(0, data["top"]))
        self.line = picture.moving(axes.plot([], [])[0])
        self.words = picture.moving(axes.add_artist(Lettering(axes.transData)))

    def move(self, data):
        self.line.set_data([0, 1], [0, data["at"]])
        self.words.say(f"{data['at']:g} Pa", (0.2, 0.5 * data["top"]))

    def tell(self, data):
        return f"The needle stands at {data['at']:g} Pa."


def pixels(png):
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))


@pytest.fixture
def picture():
    return Picture(Needle(), width_px=300).show({"at": 1.0, "top": 10.0})


def test_a_moved_needle_gives_a_new_image_and_leaves_the_frame_alone(picture):
    before = picture.image.value
    picture.show({"at": 9.0, "top": 10.0})
    assert picture.image.value != before
    assert picture.drawings[0].drawn == 1


def test_other_axes_redraw_the_frame_and_keep_the_size_so_the_page_does_not_jump(picture):
    size = pixels(picture.image.value).shape
    picture.show({"at": 9.0, "top": 20.0})
    assert picture.drawings[0].drawn == 2
    assert pixels(picture.image.value).shape == size == (120, 300, 3)


def test_the_needle_back_where_it_was_gives_the_same_image(picture):
    before = picture.image.value
    picture.show({"at": 9.0, "top": 10.0}).show({"at": 1.0, "top": 10.0})
    assert picture.image.value == before


def test_a_moving_part_leaves_no_trace_where_it_was(picture):
    fresh = Picture(Needle(), width_px=300).show({"at": 5.0, "top": 10.0})
    picture.image  # noqa: B018 - the live image now exists and is drawn over
    picture.show({"at": 9.0, "top": 10.0}).show({"at": 5.0, "top": 10.0})
    assert picture.image.value == fresh.image.value


def test_data_that_cannot_be_drawn_leave_the_last_good_image(picture):
    before = picture.image.value
    with pytest.raises(ValueError, match="no such needle"):
        picture.show({"at": 2.0, "top": 30.0, "broken": True})
    assert picture.image.value == before
    picture.show({"at": 1.0, "top": 10.0})
    assert picture.image.value == before


def test_a_still_picture_carries_its_image_and_its_words_and_the_words_as_alternative_text(picture):
    data, metadata = picture._repr_mimebundle_()
    assert data["text/plain"] == "The needle stands at 1 Pa."
    assert metadata["image/png"] == {"alt": "The needle stands at 1 Pa.", "width": 300, "height": 120}
    assert pixels(data["image/png"]).shape == (120, 300, 3)


def test_an_exported_picture_is_twice_as_sharp_and_does_not_disturb_the_live_one(picture):
    before = picture.image.value
    assert pixels(picture.png(scale=2)).shape == (240, 600, 3)
    picture.show({"at": 1.0, "top": 10.0})
    assert picture.image.value == before


def test_a_picture_exported_before_it_was_shown_is_drawn_once_and_what_moves_later_is_seen(picture):
    exported = picture.png()
    drawn = []
    picture.canvas.draw = lambda: drawn.append("again")
    shown = pixels(picture.still()[0]["image/png"]).astype(float)
    assert picture.png() == exported
    assert not drawn
    del picture.canvas.draw
    afresh = Picture(Needle(), width_px=300).show({"at": 1.0, "top": 10.0})
    assert np.abs(shown - pixels(afresh.png(scale=1))).mean() < 5  # of 255: letters are a little softer, 3.2 on this small one
    picture.show({"at": 8.0, "top": 10.0})
    assert picture.png() != exported
    assert pixels(picture.png(scale=1)).shape == (120, 300, 3)


def test_pictures_drawn_from_several_threads_at_once_end_as_the_last_one_shown(picture):
    picture.image  # noqa: B018
    threads = [Thread(target=lambda at=at: [picture.show({"at": at, "top": 10.0}) for _ in range(5)]) for at in (2.0, 4.0, 6.0)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    picture.show({"at": 1.0, "top": 10.0})
    assert picture.image.value == Picture(Needle(), width_px=300).show({"at": 1.0, "top": 10.0}).image.value


def test_a_quick_png_holds_exactly_the_pixels_it_was_given():
    given = np.random.default_rng(4).integers(0, 256, (37, 53, 4), np.uint8)
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(quick_png(given)))), given)


def test_a_small_png_keeps_white_white_and_every_colour_close():
    given = np.full((60, 200, 4), 255, np.uint8)
    given[10:30, 20:180, :3] = np.linspace([11, 60, 111], [255, 255, 255], 160).astype(np.uint8)
    kept = pixels(small_png(given))
    assert (kept[40:] == 255).all()
    assert np.abs(kept.astype(int) - given[:, :, :3]).max() <= 16


def test_moving_words_lie_where_matplotlib_would_put_them():
    """Middle of the ink within a pixel and a half, for each of the nine ways to hang a word on a point."""
    for across in ("left", "center", "right"):
        for up, va in (("top", "top"), ("middle", "center"), ("bottom", "bottom")):
            ours, theirs = (
                ink(lambda axes, a=across, u=up: axes.add_artist(Lettering(axes.transAxes, "Spgå 40 Pa", (0.5, 0.5), a, u))),
                ink(lambda axes, a=across, v=va: axes.text(0.5, 0.5, "Spgå 40 Pa", ha=a, va=v, size=12)),
            )
            assert np.abs(np.subtract(ours, theirs)).max() <= 3.5, (across, up)


def ink(write):
    """Middle of what was written, in pixels."""
    frame = Picture(Needle(), width_px=300, height_px=120)
    axes = frame.figure.add_axes((0, 0, 1, 1))
    axes.axis("off")
    write(axes)
    frame.canvas.draw()
    rows, columns = np.nonzero(np.asarray(frame.canvas.buffer_rgba())[:, :, 0] < 128)
    return (columns.min() + columns.max()) / 2, (rows.min() + rows.max()) / 2


@pytest.mark.parametrize(
    "path", sorted(path for layer in SHOWING for path in (HELPERS / layer).rglob("*.py")), ids=lambda path: path.parent.name + path.stem
)
def test_no_panel_uses_pyplot(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    names += [f"{node.module}.{alias.name}" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names]
    assert not [name for name in names if "pyplot" in name or "pylab" in name]
