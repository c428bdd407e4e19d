"""Opens lessons of the site that build.py made in Chromium, as the browser tests open them in JupyterLab, and measures.

    .venv/bin/python tests/browser/in_browser/try_in_chromium.py FOLDER [NAME_OF_A_NOTEBOOK ...] [--screenshots FOLDER]

A plain file server on the loopback address serves it; nothing may be asked of any other address. A lesson is run, its first slider moved, a
prediction kept, an exercise answered; then the page is opened anew: what was kept must still be there. Prints JSON, a line a notebook.
"""

import argparse
import json
import sys
import threading
import time
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from jupyter_lab import DONE, ERRORS, READY, chromium_path, running_chromium
from playwright.sync_api import expect
from reader import HANDLE, LESSON_OF, move, pictures_at_rest, pictures_unlike, predict_and_compare, typed

from helpers.lessons import LESSONS
from helpers.teaching.questions import Measured, exercise_of, title_of
from helpers.teaching.seeds import seed_of

LOADED_MS, TOLD_MS = 400_000, 30_000


class Quiet(SimpleHTTPRequestHandler):
    """Serves files and says nothing."""

    def log_message(self, *_):
        """Nothing."""


@contextmanager
def served(folder):
    """The address of a plain file server on a free port."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=folder))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()


def opened_and_run(page, url, name):
    """Open a notebook and run all of it; seconds until the page stands, and until its Python is there and all is done."""
    begin = time.monotonic()
    page.goto(f"{url}/lab/index.html?path={name}&reset", wait_until="domcontentloaded")
    page.wait_for_selector(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell", timeout=LOADED_MS)
    took = {"page_s": time.monotonic() - begin}
    page.wait_for_function(READY, timeout=LOADED_MS)
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_function(DONE, polling=200, timeout=LOADED_MS)
    return {key: round(value, 1) for key, value in (took | {"done_s": time.monotonic() - begin}).items()}


def answer(page, key):
    """Answer the first exercise that asks for a figure, with the button: in this page's field the Enter key sends nothing."""
    makers = enumerate(LESSONS.of(key).makers, 1)
    number, make = next((one, make) for one, make in makers if isinstance(exercise_of(make, 0).answer, Measured))
    exercise = exercise_of(make, seed_of("", key, make.__name__, 0))
    box = page.locator(".widget-vbox").filter(has_text=f"{number}. {title_of(make)}.").last
    box.get_by_role("textbox").fill(typed(exercise, exercise.answer.value))
    box.get_by_role("button", name="Check").click()
    expect(box).to_contain_text("The way there", timeout=TOLD_MS)


def tried(browser, url, name, screenshots):
    """All that is measured of one notebook. Raises AssertionError where something is not as it should be."""
    context = browser.new_context(viewport={"width": 1400, "height": 1000})
    page, asked = context.new_page(), []
    context.on("request", lambda request: asked.append(request.url))
    took = opened_and_run(page, url, name)
    errors = page.evaluate(ERRORS)
    handles = page.locator(HANDLE)
    if handles.count():
        before, begin = pictures_at_rest(page), time.monotonic()
        move(handles.first, page)
        assert pictures_unlike(before, page) != before, "the first slider moved and no picture followed"
        took["five_steps_s"] = round(time.monotonic() - begin, 2)
    if screenshots:
        page.screenshot(path=Path(screenshots) / f"{Path(name).stem}.png")
    if name in LESSON_OF:
        predict_and_compare(page)
        answer(page, LESSON_OF[name])
        page.wait_for_timeout(2000)  # for the browser to write what was kept
        page.close()
        page = context.new_page()
        took["again"] = opened_and_run(page, url, name)
        expect(page.locator(".jp-OutputArea .widget-html").filter(has_text="You said").filter(visible=True).first).to_be_visible()
    outside = [one for one in asked if not one.startswith((url, "data:", "blob:"))]
    context.close()
    assert not errors, errors
    assert not outside, outside
    return took


def main():
    """Try the notebooks named, or the first lesson."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("folder", type=Path)
    asked.add_argument("names", nargs="*", default=["01_pressure_window.ipynb"])
    asked.add_argument("--screenshots")
    asked = asked.parse_args()
    with served(asked.folder / "site") as url, running_chromium(chromium_path()) as browser:
        for name in asked.names:
            print(json.dumps({"notebook": name} | tried(browser, url, name, asked.screenshots)), flush=True)


if __name__ == "__main__":
    main()
