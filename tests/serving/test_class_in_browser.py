"""A lesson as a learner of a class meets it: without Jupyter, behind a desk, and with a kernel that is killed in the middle."""

import asyncio
import os
import re
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import urlencode

import pytest
from chromium_or_reason import chromium_for_a_test
from class_bench import Learner, Server
from playwright.sync_api import expect

from helpers.teaching.record import LearnerRecord

NAME, LESSON = "Zoë <b>Ω</b>", "05_reverse_or_direct.ipynb"
PAGE_MS, TOLD_MS = 90_000, 30_000
HANDLE, PICTURE = ".pressure-loop-panel .noUi-handle", ".pressure-loop-panel img.widget-image"
FROM_ELSEWHERE = "() => performance.getEntriesByType('resource').map(one => one.name).filter(name => !name.startsWith(location.origin))"
GONE = "What you did is kept: load the page again."


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A class server with its warm parent."""
    if sys.platform != "linux":
        pytest.skip("kernels are born of a warm parent on Linux only")
    with Server(tmp_path_factory.mktemp("class"), 4) as server:
        asyncio.run(server.up())
        yield server


@pytest.fixture(scope="module")
def chromium():
    with chromium_for_a_test() as browser:
        yield browser


@pytest.mark.browser
def test_a_learner_works_without_jupyter_and_goes_on_after_the_kernel_was_killed(server, chromium):
    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
    take_desk(page, server)
    page.goto(f"{server.url}/voila/render/{LESSON}", timeout=PAGE_MS)
    panel_follows_its_slider(page)
    reads_as_a_page(page)
    keep_a_prediction(page)
    (folder,) = (server.folder / "desks").iterdir()
    assert [event.kind for event in LearnerRecord(folder).events()] == ["name", "predicted"]
    nobody_else_closes(page, server)
    for number in server.kernels():
        os.kill(number, signal.SIGKILL)
    expect(page.locator("#desk-bar")).to_contain_text(GONE, timeout=TOLD_MS)
    page.reload(timeout=PAGE_MS)
    expect(page.locator(".widget-html").filter(has_text="You said").first).to_be_visible(timeout=PAGE_MS)
    assert len(LearnerRecord(folder).events()) == 2


def take_desk(page, server):
    """Come in through the form, and land on the start page."""
    page.goto(server.url)
    for label, text in (("Your name", NAME), ("Your own word", "some word"), ("Word of the class", server.word)):
        page.get_by_label(label).fill(text)
    page.get_by_role("button", name="Take my desk").click(no_wait_after=True)
    page.wait_for_url(re.compile("voila/render/00_start_here"), timeout=PAGE_MS, wait_until="commit")


def panel_follows_its_slider(page):
    """The first slider moves, and the picture beside it changes."""
    handle, picture = page.locator(HANDLE).first, page.locator(PICTURE).first
    expect(picture).to_be_visible(timeout=PAGE_MS)
    before = picture.get_attribute("src")
    handle.scroll_into_view_if_needed()
    handle.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    expect(picture).not_to_have_attribute("src", before, timeout=TOLD_MS)


def reads_as_a_page(page):
    """No code, mathematics set, the neighbour a link away, the desk's bar there, and nothing asked of another server."""
    assert page.locator(".jp-InputArea-editor:visible, .highlight:visible").count() == 0
    assert page.locator("mjx-container, math").count() > 0
    assert page.locator('a[href="06_average_lowest_highest.ipynb"], a[href$="/voila/render/06_average_lowest_highest.ipynb"]').count() > 0
    expect(page.locator("#desk-bar")).to_contain_text(NAME)
    assert [name for name in page.evaluate(FROM_ELSEWHERE) if not name.startswith(("blob:", "data:"))] == []


def nobody_else_closes(page, server):
    """Whoever has the number of somebody's kernel cannot look at it, nor send it away; and the page's own kernel can be looked at."""
    number = page.evaluate("JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId")
    with ThreadPoolExecutor(1) as beside:  # this thread has the browser's loop
        codes = beside.submit(asyncio.run, tried_by_eve(server, number)).result()
    assert codes == [404, 403, 404]
    assert page.evaluate(f"fetch('/alive/{number}').then(answer => answer.status)") == 204


async def tried_by_eve(server, number):
    eve = Learner(server, "Eve")
    await eve.sit()
    ticket = {"_xsrf": eve.jar["_xsrf"]}
    looked = [(await eve.fetch(path))[0] for path in (f"/alive/{number}", f"/api/kernels/{number}")]
    return [*looked, (await eve.fetch(f"/voila/api/shutdown/{number}?{urlencode(ticket)}", ticket))[0]]


def keep_a_prediction(page):
    """The first question of the page is answered, and the comparison below shows the answer."""
    box = page.locator(".widget-vbox").filter(has=page.get_by_role("button", name="Keep my prediction")).first
    options = box.get_by_role("radio")
    options.first.check() if options.count() else box.get_by_role("textbox").fill("25")
    box.get_by_role("button", name="Keep my prediction").click()
    expect(page.locator(".widget-html").filter(has_text="You said").first).to_be_visible(timeout=TOLD_MS)
