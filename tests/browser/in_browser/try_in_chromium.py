"""Opens lessons of the site that build.py made in Chromium, as the browser tests open them in JupyterLab, and measures.

    .venv/bin/python tests/browser/in_browser/try_in_chromium.py FOLDER [NAME_OF_A_NOTEBOOK ...] [--all] [--screenshots FOLDER]

A plain file server on the loopback address serves it; nothing may be asked of any other address. A lesson is run, its first slider moved, a
prediction kept, an exercise answered; on page 14 a site of one's own is written; then the page is opened anew: what was kept must still be
there. At last the server is ended, and what was opened must run without it. Three notebooks where none is named. With --all every other
page of the workbook is run once as well: each cell ends without an error, a panel comes, the first slider moves a picture. Prints JSON, a
line a notebook, goes on after one that fails, and ends with those that did.
"""

import argparse
import json
import sys
import threading
import time
from contextlib import closing, contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from jupyter_lab import DONE, ERRORS, READY, chromium_path, running_chromium
from playwright.sync_api import Error, expect
from reader import HANDLE, LESSON_OF, PAGES, move, pictures_at_rest, pictures_unlike, predict_and_compare, typed

from helpers.lessons import LESSONS
from helpers.teaching.questions import Measured, exercise_of, title_of
from helpers.teaching.seeds import seed_of

LOADED_MS, TOLD_MS, KEPT_MS = 400_000, 30_000, 120_000
NAMES = ("01_pressure_window.ipynb", "14_your_own_site.ipynb", "03_transmitter_range.ipynb")
NO_PANEL = ("16_glossary.ipynb",)  # pages of words and pictures
LINE = "#without-a-server summary"
# Outputs come as the page goes: the first panel is timed without waiting for the last cell, and a page may have none.
PANEL_OR_DONE = f"""() => {{
    const panels = [...document.querySelectorAll('.jp-OutputArea .jupyter-widgets')];
    return panels.some(panel => panel.offsetParent) || ({DONE})();
}}"""
OWN_SITE, WRITTEN = "14_your_own_site.ipynb", "records/my_building.toml"


class Quiet(SimpleHTTPRequestHandler):
    """Serves files and says nothing."""

    def log_message(self, *_):
        """Nothing."""


@contextmanager
def served(folder):
    """(address of a plain file server on a free port, what ends it)."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=folder))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()

    def end():
        server.shutdown()
        server.server_close()

    yield f"http://127.0.0.1:{server.server_address[1]}", end
    end()


def opened_and_run(page, url, name):
    """Open a notebook and run all of it; seconds until the page stands, until the first of its panels does, None where none comes, and
    until all is done."""
    begin = time.monotonic()
    page.goto(f"{url}/lab/index.html?path={name}&reset", wait_until="domcontentloaded")
    page.wait_for_selector(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell", timeout=LOADED_MS)
    took = {"page_s": time.monotonic() - begin}
    page.wait_for_function(READY, timeout=LOADED_MS)
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_function(PANEL_OR_DONE, polling=200, timeout=LOADED_MS)
    panels = page.locator(".jp-OutputArea .jupyter-widgets").filter(visible=True).count()
    took["first_panel_s"] = time.monotonic() - begin if panels else None
    page.wait_for_function(DONE, polling=200, timeout=LOADED_MS)
    return {key: value and round(value, 1) for key, value in (took | {"done_s": time.monotonic() - begin}).items()}


def answer(page, key):
    """Answer the first exercise that asks for a figure, with the button: in this page's field the Enter key sends nothing."""
    makers = enumerate(LESSONS.of(key).makers, 1)
    number, make = next((one, make) for one, make in makers if isinstance(exercise_of(make, 0).answer, Measured))
    exercise = exercise_of(make, seed_of("", key, make.__name__, 0))
    box = page.locator(".widget-vbox").filter(has_text=f"{number}. {title_of(make)}.").last
    box.get_by_role("textbox").fill(typed(exercise, exercise.answer.value))
    box.get_by_role("button", name="Check").click()
    expect(box).to_contain_text("The way there", timeout=TOLD_MS)


def write_own_site(page):
    """Write the answers of page 14 as they stand, as a site of one's own."""
    page.get_by_role("button", name="Write the site file").click()
    expect(page.locator(".jp-OutputArea").filter(has_text=f"Written: {WRITTEN}").first).to_be_visible(timeout=TOLD_MS)


def own_site_is_there(page):
    """It stands in the list of sites."""
    expect(page.locator("option", has_text=WRITTEN).first).to_be_attached(timeout=TOLD_MS)


def tried(context, url, name, screenshots, again=True):
    """All that is measured of one notebook; again: what is kept on it is tried too. Raises AssertionError where something is not as it
    should be."""
    with closing(context.new_page()) as page:
        took = opened_and_run(page, url, name)
        sound(page)
        assert took["first_panel_s"] or name in NO_PANEL, "no panel came"
        handles = page.locator(HANDLE)
        if handles.count():
            before, begin = pictures_at_rest(page), time.monotonic()
            move(handles.first, page)
            assert pictures_unlike(before, page) != before, "the first slider moved and no picture followed"
            took["five_steps_s"] = round(time.monotonic() - begin, 2)
        if screenshots:
            page.screenshot(path=Path(screenshots) / f"{Path(name).stem}.png")
        keep = {OWN_SITE: write_own_site} | {lesson: partial(keep_lesson, key=key) for lesson, key in LESSON_OF.items()}
        again = again and name in keep
        if again:
            keep[name](page)
            page.wait_for_timeout(2000)  # for the browser to write what was kept
        sound(page)
    if again:
        with closing(context.new_page()) as page:
            took["again"] = opened_and_run(page, url, name)
            is_kept(page, name)
            sound(page)
    return took


def sound(page):
    """No cell and no widget of the page ended in an error."""
    errors = page.evaluate(ERRORS)
    assert not errors, errors


def keep_lesson(page, key):
    """Keep a prediction and answer an exercise."""
    predict_and_compare(page)
    answer(page, key)


def is_kept(page, name):
    """What was kept on an earlier visit is there."""
    if name == OWN_SITE:
        own_site_is_there(page)
    if name in LESSON_OF:
        expect(page.locator(".jp-OutputArea .widget-html").filter(has_text="You said").filter(visible=True).first).to_be_visible()


def tried_without_server(context, url, end, name):
    """The same without a server: the page opens, runs, and has what was kept."""
    page = context.new_page()
    page.goto(f"{url}/lab/index.html")
    expect(page.locator(LINE)).to_have_text("All of it is kept: it opens without the network.", timeout=KEPT_MS)
    page.close()
    end()
    page = context.new_page()
    took = opened_and_run(page, url, name)
    is_kept(page, name)
    expect(page.locator(LINE)).to_contain_text("Without the network", timeout=TOLD_MS)
    sound(page)
    return took


def main():
    """Try the notebooks named, or three, or all. Returns those that failed, each with its reason."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("names", nargs="*", default=NAMES)
    parser.add_argument("--all", action="store_true", help="run every other page once as well")
    parser.add_argument("--screenshots")
    chosen, failed = parser.parse_args(), {}
    with served(chosen.folder / "site") as (url, end), running_chromium(chromium_path()) as browser:
        context, asked = browser.new_context(viewport={"width": 1400, "height": 1000}), []
        context.on("request", lambda request: asked.append(request.url))
        also = [name for name in PAGES if chosen.all and name not in chosen.names]
        for name in (*chosen.names, *also):
            try:
                told = tried(context, url, name, chosen.screenshots, again=name not in also)
            except (AssertionError, Error) as trouble:
                told = failed[name] = {"failed": str(trouble)[:2000]}
            print(json.dumps({"notebook": name} | told), flush=True)
        took = tried_without_server(context, url, end, chosen.names[0])
        print(json.dumps({"notebook": chosen.names[0], "without_server": took}), flush=True)
        context.close()
        outside = [one for one in asked if not one.startswith((url, "data:", "blob:"))]
        assert not outside, outside
    return failed


if __name__ == "__main__":
    if failures := main():
        sys.exit(f"Failed: {', '.join(failures)}")
