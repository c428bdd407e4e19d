"""From the press of a key on a slider to the new picture on the screen, in Chromium, the model's work included; milliseconds.

    slider_p50_ms, slider_p95_ms    first slider of the heaviest lesson that has room to be moved
    slider_lesson                   which lesson that is
    slider_vs_bare_p50, slider_vs_bare_p95   the worst ratio over BESIDE_BARE to a bare slider: without a model, with a one-colour picture
                                    of the same size, in the same browser and the same run
    slider_vs_bare                  the ratios of each page

    .venv/bin/python tests/bench/slider_bench.py          every lesson, one after the other
    .venv/bin/python tests/bench/slider_bench.py 05       only lessons whose name begins so

Where there is no Chromium nothing is measured, and a line says so.
"""

import json
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "browser"))  # run.py is called without pytest, which knows the folder by itself
import nbformat
from jupyter_lab import DONE, ERRORS, NO_CHROMIUM, chromium_path, open_and_run, running_chromium, running_lab

from helpers.teaching.plan import LESSONS

HEAVIEST = "leakage_and_fan_duty"  # a network solved for every move: about twice the kernel's time of the others
MOVES, TURN_AFTER, GAP_MS, MISS_MS = 60, 5, 60, 5000
HANDLE = ".widget-slider .noUi-handle"
# Notes when a key was pressed, and when a picture of the slider's own panel that was loaded after it has been painted.
BESIDE_BARE = "02_leakage_and_fan_duty.ipynb", "08_tuning_and_door_events.ipynb", "12_design_record.ipynb"
BARE = "bare_slider.ipynb"
# What the stock widgets and the browser take by themselves: a slider, and a picture that is written anew, in one colour, for every move.
BARE_CODE = """
from ipywidgets import FloatSlider, Image, VBox
import numpy as np
from helpers.plots.picture import PANEL_PX, quick_png

def one_colour(value):
    pixels = np.full((PANEL_PX["height_px"], PANEL_PX["width_px"], 4), 255, np.uint8)
    pixels[:, :, 0] = int(value) % 256
    return quick_png(pixels)

slider, image = FloatSlider(min=0, max=200, step=1, value=100), Image(value=one_colour(100), format="png")
slider.observe(lambda change: setattr(image, "value", one_colour(change["new"])), "value")
VBox([slider, image]).add_class("pressure-loop-panel")
"""
WATCH = """handle => {
    const panel = handle.closest('.pressure-loop-panel'), watch = window.watch = {pressed: null, painted: null};
    const painted = () => requestAnimationFrame(() => {
        const channel = new MessageChannel();
        channel.port1.onmessage = () => { if (watch.painted === null) watch.painted = performance.now(); };
        channel.port2.postMessage(0);
    });
    document.addEventListener('keydown', event => { watch.pressed = event.timeStamp; watch.painted = null; }, true);
    panel.addEventListener('load', event => { if (event.target.tagName === 'IMG' && watch.pressed !== null) painted(); }, true);
}"""
TOOK = "() => window.watch.painted === null ? null : window.watch.painted - window.watch.pressed"


def slider_speed():
    """Median and 95th percentile of the heaviest lesson."""
    lesson = next(lesson for lesson in LESSONS if lesson.key == HEAVIEST)
    measured = measure([lesson])
    return {"slider_lesson": HEAVIEST, **{f"slider_{name}": value for name, value in measured[HEAVIEST].items()}} if measured else {}


def slider_beside_bare():
    """Ratios of some pages' sliders to a bare one: of the medians and of the 95th percentiles, the worst page of each."""
    measured = measure_pages([BARE, *BESIDE_BARE, BARE])
    if not measured:
        return {}
    ratios = {
        name: {which: round(measured[name][which] / measured[BARE][which], 2) for which in ("p50_ms", "p95_ms")} for name in BESIDE_BARE
    }
    worst = {f"slider_vs_bare_{which}": max(one[f"{which}_ms"] for one in ratios.values()) for which in ("p50", "p95")}
    return worst | {"slider_vs_bare": ratios, "slider_bare_ms": measured[BARE]}


def measure(lessons):
    """{"p50_ms", "p95_ms"} by the lesson's key; nothing where there is no Chromium. Raises RuntimeError where a picture does not follow."""
    found = measure_pages([lesson.notebook for lesson in lessons])
    return {lesson.key: found[lesson.notebook] for lesson in lessons} if found else {}


def measure_pages(names):
    """The same by notebook; one that is named twice is measured twice, and all its moves count."""
    path, times = chromium_path(), {}
    if path is None:
        print(f"sliders not measured: {NO_CHROMIUM}", file=sys.stderr)
        return {}
    with tempfile.TemporaryDirectory() as folder, running_chromium(path) as chromium, running_lab(Path(folder)) as lab:
        bare = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(BARE_CODE)])
        bare.metadata.kernelspec = {"name": "python3", "display_name": "Python 3"}
        nbformat.write(bare, Path(folder) / "work" / "notebooks" / BARE)
        for name in names:
            page = chromium.new_page(viewport={"width": 1400, "height": 1000})
            open_and_run(page, lab, name)
            times.setdefault(name, []).extend(_moves(page))
            if faults := page.evaluate(ERRORS):
                raise RuntimeError(f"{name}: {faults}")
            page.close()
    return {
        name: {"p50_ms": round(statistics.median(every), 1), "p95_ms": round(sorted(every)[int(0.95 * len(every))], 1)}
        for name, every in times.items()
    }


def _moves(page):
    """Milliseconds of each of many single presses, each begun when the one before is on the screen and the kernel rests."""
    handle = next(handle for handle in page.locator(HANDLE).all() if handle.is_visible() and _range(handle) > TURN_AFTER)
    handle.scroll_into_view_if_needed()
    handle.focus()
    page.wait_for_function(DONE, polling=100)
    handle.evaluate(WATCH)
    low, high, now = (float(handle.get_attribute(f"aria-value{which}")) for which in ("min", "max", "now"))
    up = high - now > now - low
    times = []
    for move in range(MOVES):
        forward = (move // TURN_AFTER) % 2 == 0
        page.keyboard.press("ArrowRight" if forward == up else "ArrowLeft")
        times.append(page.wait_for_function(TOOK, polling=5, timeout=MISS_MS).json_value())
        page.wait_for_timeout(GAP_MS)
    return times


def _range(handle):
    return float(handle.get_attribute("aria-valuemax")) - float(handle.get_attribute("aria-valuemin"))


if __name__ == "__main__":
    if sys.argv[1:] == ["bare"]:
        sys.exit(print(json.dumps(slider_beside_bare(), indent=1)))
    names = sys.argv[1:] or [""]
    chosen = [lesson for lesson in LESSONS if any(lesson.notebook.startswith(name) for name in names)]
    print(json.dumps(measure(chosen), indent=1))
