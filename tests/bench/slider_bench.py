"""From the press of a key on a slider to the new picture on the screen, in Chromium, the model's work included; milliseconds.

    slider_p50_ms, slider_p95_ms    first slider of the heaviest lesson that has room to be moved
    slider_lesson                   which lesson that is

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
from jupyter_lab import DONE, ERRORS, NO_CHROMIUM, chromium_path, open_and_run, running_chromium, running_lab

from helpers.teaching.plan import LESSONS

HEAVIEST = "leakage_and_fan_duty"  # a network solved for every move: about twice the kernel's time of the others
MOVES, TURN_AFTER, GAP_MS, MISS_MS = 60, 5, 60, 5000
HANDLE = ".widget-slider .noUi-handle"
# Notes when a key was pressed, and when a picture of the slider's own panel that was loaded after it has been painted.
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


def measure(lessons):
    """{"p50_ms", "p95_ms"} by the lesson's key; nothing where there is no Chromium. Raises RuntimeError where a picture does not follow."""
    path, found = chromium_path(), {}
    if path is None:
        print(f"sliders not measured: {NO_CHROMIUM}", file=sys.stderr)
        return found
    with tempfile.TemporaryDirectory() as folder, running_chromium(path) as chromium, running_lab(Path(folder)) as lab:
        for lesson in lessons:
            page = chromium.new_page(viewport={"width": 1400, "height": 1000})
            open_and_run(page, lab, lesson.notebook)
            times = _moves(page)
            if faults := page.evaluate(ERRORS):
                raise RuntimeError(f"{lesson.notebook}: {faults}")
            page.close()
            found[lesson.key] = {"p50_ms": round(statistics.median(times), 1), "p95_ms": round(sorted(times)[int(0.95 * len(times))], 1)}
    return found


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
    names = sys.argv[1:] or [""]
    chosen = [lesson for lesson in LESSONS if any(lesson.notebook.startswith(name) for name in names)]
    print(json.dumps(measure(chosen), indent=1))
