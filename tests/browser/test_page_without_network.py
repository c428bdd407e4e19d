"""A folder of plain files that works without the network once it was opened, says when it is stale, and what it cannot do; the page in the
browser alone is made so (tests/browser/in_browser)."""

import os
import threading
import time
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest
from in_browser import offline
from playwright.sync_api import Error, expect

REGISTERS = "<script>navigator.serviceWorker.register('../service-worker.js')</script>"


class Quiet(SimpleHTTPRequestHandler):
    """Serves files and says nothing."""

    def log_message(self, *_):
        """Nothing."""


@contextmanager
def served(folder, port=0):
    """A plain file server; its address."""
    server = ThreadingHTTPServer(("127.0.0.1", port), partial(Quiet, directory=folder))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_address[1]
    server.shutdown()
    server.server_close()


def site_of(folder, words):
    """A site of two pages and a worker of its own, as a builder makes it, then made to keep."""
    for name, text in (
        ("lab/index.html", f"<html><head>{REGISTERS}</head><body><h1>{words}</h1><script src='../build/a.js?_=1'></script></body></html>"),
        ("notebooks/index.html", f"<html><head></head><body><h2>{words}</h2></body></html>"),
        ("build/a.js", "document.body.append('ran')"),
        ("files/never opened é.txt", words),
        (
            "service-worker.js",
            "self.addEventListener('fetch', (e) => e.request.url.includes('api/drive') && e.respondWith(new Response('own')));",
        ),
    ):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    build, made_s = offline.keep_offline(folder), time.time() - (60 if words.startswith("First") else 0)
    os.utime(folder / offline.WORKER, (made_s, made_s))  # a server tells by the time whether a file is new
    return build


@pytest.fixture
def opened(chromium):
    context = chromium.new_context()
    yield context.new_page()
    context.close()


def test_once_opened_it_works_without_the_network_also_what_nobody_has_looked_at(opened, tmp_path):
    site_of(tmp_path / "site", "First build")
    line = opened.locator("#without-a-server summary")
    with served(tmp_path / "site") as port:
        opened.goto(f"http://127.0.0.1:{port}/lab/index.html?a=b")
        expect(line).to_have_text("All of it is kept: it opens without the network.")
        assert opened.evaluate("fetch('../api/drive').then(a => a.text())") == "own"  # the kernels' own worker goes on
    opened.goto(f"http://127.0.0.1:{port}/lab/?path=another")
    expect(opened.locator("h1")).to_have_text("First build")
    expect(opened.locator("body")).to_contain_text("ran")
    expect(line).to_have_text("Without the network: as this browser keeps it.")
    opened.goto(f"http://127.0.0.1:{port}/notebooks/index.html")
    expect(opened.locator("h2")).to_have_text("First build")
    assert opened.evaluate("fetch('../files/never opened é.txt').then(a => a.text())") == "First build"
    with pytest.raises(Error, match="Failed to fetch"):
        opened.evaluate("fetch('../files/not there.txt')")


def test_a_newer_build_is_told_and_taken_whole_when_somebody_says_so(opened, tmp_path):
    first, second = (site_of(tmp_path / words, f"{words} build") for words in ("First", "Second"))
    assert first != second == site_of(tmp_path / "alike" / "Second", "Second build")
    line = opened.locator("#without-a-server summary")
    with served(tmp_path / "First") as port:
        opened.goto(f"http://127.0.0.1:{port}/lab/index.html")
        expect(line).to_contain_text("All of it is kept")
    with served(tmp_path / "Second", port):
        opened.goto(f"http://127.0.0.1:{port}/lab/index.html")
        expect(opened.locator("h1")).to_have_text("First build")
        expect(line).to_have_text("A newer build of this page lies on the server.")
        opened.locator("#without-a-server").evaluate("box => { box.open = true }")
        opened.get_by_role("button", name="Take the newer build").click()
        expect(opened.locator("h1")).to_have_text("Second build")
        expect(line).to_contain_text("All of it is kept")
    opened.goto(f"http://127.0.0.1:{port}/notebooks/")
    expect(opened.locator("h2")).to_have_text("Second build")
    assert opened.evaluate("caches.keys()") == [f"workbook-{second}"]


def test_it_says_what_it_cannot_do(opened, tmp_path):
    site_of(tmp_path / "site", "First build")
    with served(tmp_path / "site") as port:
        opened.goto(f"http://127.0.0.1:{port}/lab/index.html")
        opened.locator("#without-a-server summary").click()
        assert opened.locator("#without-a-server li").all_text_contents() == list(offline.CANNOT)
