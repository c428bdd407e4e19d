"""Each notebook as its reader meets it: opened in JupyterLab, run from top to bottom, its first slider moved."""

import time
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
NAMES = [path.relative_to(NOTEBOOKS).as_posix() for path in sorted(NOTEBOOKS.rglob("*.ipynb")) if ".ipynb_checkpoints" not in path.parts]
OPEN_MS, RUN_MS, PICTURE_S = 60_000, 120_000, 10
KEYS_A_MOVE = 5  # steps of the slider: a single one may be finer than a pixel

HANDLE = ".widget-slider .noUi-handle"
NOTEBOOK = "window.jupyterapp.shell.currentWidget"
READY = f"""() => {{
    const page = {NOTEBOOK};
    const kernel = page?.context?.isReady && page.sessionContext.isReady && page.sessionContext.session?.kernel;
    return kernel && kernel.connectionStatus === 'connected' && kernel.status === 'idle';
}}"""
# A kernel rests for a moment between two cells: it counts as done when it rests three times in a row and no cell waits.
DONE = f"""() => {{
    const waiting = [...document.querySelectorAll('.jp-InputPrompt')].some(prompt => prompt.textContent.includes('[*]'));
    const rests = {NOTEBOOK}.sessionContext.session?.kernel?.status === 'idle' && !waiting;
    window.rested = rests ? (window.rested || 0) + 1 : 0;
    return window.rested >= 3;
}}"""
# Errors of cells, and of widgets' callbacks, which show up in the page alone.
ERRORS = f"""() => {{
    const cells = [...{NOTEBOOK}.content.model.sharedModel.cells].flatMap(cell => cell.outputs || []);
    const failed = cells.filter(output => output.output_type === 'error').map(output => `${{output.ename}}: ${{output.evalue}}`);
    const kinds = ['error', 'stderr'].map(kind => `[data-mime-type="application/vnd.jupyter.${{kind}}"]`);
    const shown = document.querySelectorAll([...kinds, '.jupyter-widgets-error-widget'].join());
    return [...failed, ...[...shown].map(element => element.textContent.slice(0, 300))];
}}"""
# The pictures a reader sees, each by a digest of its bytes, in the order of the page; null while one is being replaced.
PICTURES = """async () => {
    const digest = async picture => {
        const bytes = await (await fetch(picture.src)).arrayBuffer();
        return [...new Uint8Array(await crypto.subtle.digest('SHA-256', bytes))].slice(0, 8).join('-');
    };
    const pictures = [...document.querySelectorAll('.jp-OutputArea img')];
    if (pictures.some(picture => !picture.complete)) return null;
    const seen = pictures.filter(picture => picture.naturalWidth > 100);
    const svgs = [...document.querySelectorAll('.jp-OutputArea .widget-html svg')].map(picture => picture.outerHTML);
    return Promise.all(seen.map(digest)).then(digests => [...digests, ...svgs], () => null);
}"""


@pytest.fixture
def page(chromium):
    """An empty page as wide as a laptop."""
    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
    yield page
    page.close()


@pytest.mark.browser
@pytest.mark.parametrize("name", NAMES)
def test_a_notebook_runs_and_its_picture_follows_the_slider(page, lab, name):
    open_and_run(page, lab, name)
    assert page.evaluate(ERRORS) == []
    handles = page.locator(HANDLE)
    if handles.count():
        before = pictures_at_rest(page)
        assert before, "a slider and no picture to follow it"
        move(handles.first, page)
        after = pictures_unlike(before, page)
        assert after != before, "the first slider moved and no picture followed"
        assert len(after) == len(before), "the first slider moved and a picture went away"
        page.wait_for_function(DONE, polling=100, timeout=RUN_MS)
        assert page.evaluate(ERRORS) == []


def open_and_run(page, lab, name):
    """Open this notebook with a fresh kernel, run all its cells and wait until the last is done."""
    lab.end_kernels()
    page.goto(f"{lab.url}/lab/tree/{name}?token={lab.token}&reset", wait_until="domcontentloaded")
    page.wait_for_selector(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell", timeout=OPEN_MS)
    page.wait_for_function(READY, timeout=OPEN_MS)
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_function(DONE, polling=100, timeout=RUN_MS)


def move(handle, page):
    """Move a slider by keyboard some steps up, or down where it stands at its upper end."""
    handle.scroll_into_view_if_needed()
    handle.focus()
    room = float(handle.get_attribute("aria-valuemax")) > float(handle.get_attribute("aria-valuenow"))
    for _ in range(KEYS_A_MOVE):
        page.keyboard.press("ArrowRight" if room else "ArrowLeft")


def pictures_at_rest(page):
    """The pictures once all of them are there: the same for half a second, or none when time is up."""
    end, last = time.monotonic() + PICTURE_S, None
    while (now := page.evaluate(PICTURES)) != last or not now:
        if time.monotonic() > end:
            return []
        last = now
        page.wait_for_timeout(500)
    return now


def pictures_unlike(before, page):
    """The pictures as soon as they differ from those before and none is being replaced, or what is there when time is up."""
    end = time.monotonic() + PICTURE_S
    while ((after := page.evaluate(PICTURES)) is None or after == before) and time.monotonic() < end:
        page.wait_for_timeout(50)
    return after or []
