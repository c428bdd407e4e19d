"""A page as a file: HTML as it is, or PDF, printed by a browser that is on the machine.

A Chromium browser prints exactly what the page shows on a screen, and it is there on most machines; a pure-Python way would lay every page
out a second time, by other rules. Where there is none, one sentence says so, and the HTML page can be printed by hand.
"""

import os
import shutil
import subprocess
import tempfile
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
WITHIN_S = 60.0


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
    program, target = browser(), Path(path)
    if program is None:
        raise PrintingError("PDF: no Chromium browser was found on this machine; open the HTML page in any browser and print it from there")
    if not target.parent.is_dir():
        raise PrintingError(f"PDF: the folder {target.parent.name} is not there")
    sized = page_html.replace("size: auto;", f"size: {PAPERS[paper]};").replace("size: landscape;", f"size: {paper} landscape;")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_text(sized, encoding="utf-8")
        said = _printed(program, source, printed, folder)
        if not printed.is_file() or not printed.stat().st_size:
            raise PrintingError(f"PDF: {Path(program).name} printed nothing; {said or 'it gave no reason'}")
        return write_whole(target, printed.read_bytes())


def _printed(program, source, printed, folder):
    """Run the browser without a window, with a profile of its own; returns the last line it said."""
    command = [program, "--headless", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={folder}/profile",
               f"--print-to-pdf={printed}", source.as_uri()]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.insert(1, "--no-sandbox")  # as root, in a container, its sandbox does not start
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
