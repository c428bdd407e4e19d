"""A page as a file: HTML as it is, or PDF, printed by a browser that is on the machine.

A Chromium browser prints exactly what the page shows on a screen, and it is there on most machines; a pure-Python way would lay every page
out a second time, by other rules. Where there is none, one sentence says so, and the HTML page can be printed by hand.

To start a browser takes four times the processor that a page takes to print, so that many pages are printed by one, and in a process that
writes folder after folder (`keep_browser`) those of all folders. It is asked over two pipes, which nobody else can reach (public Chrome
DevTools Protocol: JSON, each message ended by a zero byte); where a system cannot hand pipes on (Windows), or the browser does not answer,
each page has a browser of its own.
"""

import base64
import json
import os
import selectors
import shutil
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from helpers import require
from helpers.model.files import write_whole

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")  # names on a search path
INSTALLED = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)  # where they stand without a search path
PAPERS = {"A4": "210mm 297mm", "Letter": "8.5in 11in"}
NO_SCRIPT = """<meta http-equiv="Content-Security-Policy" content="script-src 'none'">"""  # W3C, Content Security Policy (memory)
WITHIN_S = 60.0  # for a page, the start of the browser included
ENDS_WITHIN_S = 5.0  # then it is ended from outside
FREE_HANDLE = 5  # the first above the two that a browser reads and writes its messages at, 3 and 4
READ_BYTES = 1 << 20  # at a time


# What goes wrong with a browser that is asked over a pipe; a message that is none, or a page that is none, is a ValueError.
NO_ANSWER = (OSError, EOFError, LookupError, ValueError)


class PrintingError(ValueError):
    """There is no browser to print with, or it printed nothing."""


def browser():
    """Path of a browser that can print, or None."""
    found = (shutil.which(name) for name in BROWSERS)
    return next(filter(None, found), None) or next((path for path in INSTALLED if Path(path).is_file()), None)


def write_pdf(page_html, path, paper="A4"):
    """Print the text of an HTML page into a PDF file.

    page_html: of the record, the review or a sheet; path of the .pdf file, whose folder must be there; paper: one of PAPERS. Returns the
    path. Raises ValueError for another paper, PrintingError (a ValueError) where no browser is found or nothing was printed.
    """
    require.one_of(PAPERS, paper=paper)
    program, target = _asked_for(path)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_text(_sized(page_html, paper), encoding="utf-8")
        said = _printed(program, source, printed, folder)
        if not printed.is_file() or not printed.stat().st_size:
            raise PrintingError(f"PDF: {Path(program).name} printed nothing; {said or 'it gave no reason'}")
        return write_whole(target, printed.read_bytes())


class _LeftBrowser:
    """The browser of this process between one `Printer` and the next, where it is kept."""

    def __init__(self):
        self._asked, self._browser = False, None

    def ask(self):
        """Keep what is given from now on, and end it with the process."""
        if not self._asked:
            from multiprocessing.util import Finalize  # a worker of a pool ends by these alone; in a browser there is none

            self._asked = True
            Finalize(None, self._end, exitpriority=0)

    def take(self):
        """The one that is kept; None where there is none."""
        taken, self._browser = self._browser, None
        return taken

    def give(self, browser):
        """Keep it, or end it where none is to be kept."""
        if self._asked and self._browser is None:
            self._browser = browser
        else:
            browser.end()

    def _end(self):
        if (browser := self.take()) is not None:
            browser.end()


_LEFT = _LeftBrowser()


def keep_browser():
    """From now on a `Printer` of this process leaves its browser to the next one; it ends with the process. For a worker that writes folder
    after folder, one at a time."""
    _LEFT.ask()


class Printer:
    """Prints page after page with one browser, which is started for the first, or left by the printer before (`keep_browser`), and ended
    with the `with` block unless it is kept. paper: one of PAPERS."""

    def __init__(self, paper: str = "A4"):
        self.paper, self._browser, self._alone = require.one_of(PAPERS, paper=paper), None, not hasattr(os, "posix_spawn")

    def __enter__(self):
        return self

    def __exit__(self, *trouble):
        if self._browser is not None:
            _LEFT.give(self._browser)
            self._browser = None

    @property
    def running(self) -> int:
        """Number of the process of its browser; 0 where none runs."""
        return self._browser.pid if self._browser else 0

    def write(self, page_html: str, path: str | Path) -> Path:
        """As `write_pdf`; a browser that does not do as asked is ended, and this page and the next have one each."""
        if self._alone:
            return write_pdf(page_html, path, self.paper)
        program, target = _asked_for(path)
        try:
            self._browser = self._browser or _LEFT.take() or _AskedBrowser(program)
            printed = self._browser.printed(_sized(page_html, self.paper))
        except NO_ANSWER as trouble:
            if self._browser is not None:
                self._browser.end()
            self._browser, self._alone = None, True
            try:
                return write_pdf(page_html, path, self.paper)
            except PrintingError as alone:
                raise PrintingError(f"{alone}; asked over a pipe before: {trouble}") from None
        return write_whole(target, printed)  # a disk that is full is no fault of the browser's


def _asked_for(path):
    """(the browser, the path of the PDF). Raises PrintingError where one of the two cannot be."""
    program, target = browser(), Path(path)
    if program is None:
        raise PrintingError("PDF: no Chromium browser was found on this machine; open the HTML page in any browser and print it from there")
    if not target.parent.is_dir():
        raise PrintingError(f"PDF: the folder {target.parent.name} is not there")
    return program, target


def _sized(page_html, paper):
    """The page as it is printed: of this size, and without any script. Ours have none, and one that came in by a name runs nowhere."""
    page_html = page_html.replace("<head>", f"<head>{NO_SCRIPT}", 1)
    return page_html.replace("size: auto;", f"size: {PAPERS[paper]};").replace("size: landscape;", f"size: {paper} landscape;")


def _windowless(program, folder):
    """The beginning of a command: a browser without a window, with a profile of its own in a folder."""
    as_root = hasattr(os, "geteuid") and os.geteuid() == 0  # in a container, where its sandbox does not start
    return program, *(("--no-sandbox",) if as_root else ()), "--headless", "--disable-gpu", f"--user-data-dir={folder}/profile"


class _AskedBrowser:
    """A browser that is told over a pipe what to print. Whatever goes wrong with it is one of `NO_ANSWER`."""

    def __init__(self, program):
        self._folder = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        (reads, self._to), (self._from, writes) = os.pipe(), os.pipe()
        taken, theirs = [reads, writes, os.open(os.devnull, os.O_WRONLY)], []
        for handle in tuple(taken):
            while handle < FREE_HANDLE:  # or one of them would be overwritten while the next is put in its place
                taken.append(handle := os.dup(handle))
            theirs.append(handle)
        becomes = [(os.POSIX_SPAWN_DUP2, theirs[i], handle) for i, handle in ((0, 3), (1, 4), (2, 1), (2, 2))]
        command = [*_windowless(program, self._folder.name), "--remote-debugging-pipe"]
        self.pid, self._numbered, self._heard, self._events = 0, 0, b"", []
        self._ready = selectors.DefaultSelector()
        self._ready.register(self._from, selectors.EVENT_READ)
        self._until = time.monotonic() + WITHIN_S
        try:
            try:
                self.pid = os.posix_spawn(program, command, os.environ, file_actions=becomes)
            finally:
                for handle in taken:  # it has its own now: once it ends, there is nothing more to hear
                    os.close(handle)
            target = self._ask("Target.createTarget", url="about:blank")["targetId"]
            self._session = {"sessionId": self._ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]}
            self._ask("Page.enable", self._session)
        except BaseException:
            self.end()
            raise

    def printed(self, page_html):
        """The bytes of a page as PDF."""
        self._until = time.monotonic() + WITHIN_S
        source = Path(self._folder.name) / f"page_{self._numbered}.html"
        try:
            source.write_text(page_html, encoding="utf-8")
            self._events.clear()
            said = self._ask("Page.navigate", self._session, url=source.as_uri())
            if wrong := said.get("errorText"):  # it shows a page that says so, which would print as well as any
                raise LookupError(f"the page could not be opened: {wrong}")
            while "Page.loadEventFired" not in self._events:
                self._events.append(self._next().get("method"))
            asked = {"printBackground": True, "preferCSSPageSize": True, "displayHeaderFooter": False}
            return base64.b64decode(self._ask("Page.printToPDF", self._session, **asked)["data"], validate=True)
        finally:
            source.unlink(missing_ok=True)  # one that prints the papers of a whole campus would keep them all

    def end(self):
        """End it, and clear its folder away."""
        with suppress(OSError):
            self._send("Browser.close", {}, {})
        os.close(self._to)
        self._ready.close()
        until = time.monotonic() + ENDS_WITHIN_S
        with suppress(ChildProcessError):  # it has ended, and who called has waited for it already
            while self.pid and os.waitpid(self.pid, os.WNOHANG) == (0, 0):
                if time.monotonic() > until:
                    os.kill(self.pid, 9)
                    until = float("inf")
                time.sleep(0.01)
        os.close(self._from)
        self._folder.cleanup()

    def _ask(self, method, session=None, **asked):
        """What it answers. Raises LookupError where it answers with an error."""
        number = self._send(method, session or {}, asked)
        while (said := self._next()).get("id") != number:
            self._events.append(said.get("method"))
        return said["result"]

    def _send(self, method, session, asked):
        self._numbered += 1
        os.write(self._to, json.dumps({"id": self._numbered, "method": method, "params": asked} | session).encode("utf-8") + b"\0")
        return self._numbered

    def _next(self):
        """Its next message. Raises EOFError where it has ended, TimeoutError (an OSError) where it says nothing in time, ValueError where
        what it says is no message."""
        parts = []
        while b"\0" not in self._heard:
            parts.append(self._heard)
            if not self._ready.select(max(self._until - time.monotonic(), 0.0)):
                raise TimeoutError(f"it was not done within {WITHIN_S:.0f} s")
            self._heard = os.read(self._from, READ_BYTES)
            if not self._heard:
                raise EOFError("it has ended")
        message, _, self._heard = self._heard.partition(b"\0")
        said = json.loads(b"".join([*parts, message]))
        if not isinstance(said, dict):
            raise ValueError(f"what it says is no message but {str(said)!r:.40}")
        return said


def _printed(program, source, printed, folder):
    """Run the browser without a window, with a profile of its own; returns the last line it said."""
    command = [*_windowless(program, folder), "--no-pdf-header-footer", f"--print-to-pdf={printed}", source.as_uri()]
    try:
        done = subprocess.run(command, capture_output=True, encoding="utf-8", errors="replace", timeout=WITHIN_S, check=False)
    except subprocess.TimeoutExpired:
        return f"it was not done within {WITHIN_S:.0f} s"
    except OSError as trouble:
        return trouble.strerror or str(trouble)
    return (done.stderr.strip().splitlines() or [""])[-1]


def page_path(path):
    """The path of a page. Raises ValueError for an ending that no page has."""
    if Path(path).suffix not in (".html", ".pdf"):
        raise ValueError(f"path must end in .html or .pdf, got {Path(path).name!r:.60}")
    return Path(path)


def write_page(page, path, paper="A4"):
    """Write the text of a page as HTML or PDF, by the ending of the path. Returns the path.

    Raises ValueError for another ending or a path that cannot be written, PrintingError, a ValueError, where nothing can print.
    """
    target = page_path(path)
    return write_pdf(page, target, paper) if target.suffix == ".pdf" else write_whole(target, page)
