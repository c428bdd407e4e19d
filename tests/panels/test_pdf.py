"""Pages printed to PDF by the browser of the machine; without one, a sentence."""

import os
import re
import signal
from concurrent.futures import ProcessPoolExecutor

import pypdf
import pytest

from helpers.plots import printer
from helpers.record.page import plain_page

PAGE = '<!DOCTYPE html><html lang="en"><head><style>@page { size: auto; margin: 14mm; }</style></head><body><h1>Door 7</h1></body></html>'
needs_browser = pytest.mark.skipif(
    printer.browser() is None and not os.environ.get("CI"), reason="no Chromium browser on this machine; CI installs one"
)


@needs_browser
@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_a_page_is_printed_on_the_paper_asked_for(tmp_path, paper, points):
    written = printer.write_pdf(PAGE, tmp_path / "page.pdf", paper).read_bytes()
    assert written.startswith(b"%PDF")
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", written)
    assert tuple(float(side) for side in box.groups()) == pytest.approx(points, abs=1.5)


@needs_browser
@pytest.mark.parametrize(("paper", "points"), [("A4", (842, 595)), ("Letter", (792, 612))])
def test_a_page_across_is_printed_on_the_paper_asked_for(tmp_path, paper, points):
    page = plain_page("Test day", ["<p>Door 7</p>"], across=True)
    written = printer.write_pdf(page, tmp_path / "page.pdf", paper).read_bytes()
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", written)
    assert boxes
    assert [tuple(float(side) for side in box) for box in boxes] == [pytest.approx(points, abs=1.5)] * len(boxes)


@needs_browser
def test_one_browser_prints_page_after_page_as_one_of_its_own_does(tmp_path, monkeypatch):
    pages = [PAGE, plain_page("Test day", ["<p>Door 8</p>"], across=True), PAGE.replace("Door 7", "Door 9 " + "and more " * 2000)]
    alone = [printer.write_pdf(page, tmp_path / f"alone_{i}.pdf") for i, page in enumerate(pages)]
    monkeypatch.setattr(printer, "write_pdf", None)  # nobody falls back to it
    with printer.Printer("A4") as one:
        together = [one.write(page, tmp_path / f"page_{i}.pdf") for i, page in enumerate(pages)]
        assert one.running
    assert not one.running
    for lonely, path in zip(alone, together, strict=True):
        sheets, others = pypdf.PdfReader(lonely).pages, pypdf.PdfReader(path).pages
        assert [(sheet.mediabox, sheet.extract_text()) for sheet in sheets] == [(sheet.mediabox, sheet.extract_text()) for sheet in others]


@needs_browser
def test_no_script_runs_in_a_page_that_is_printed(tmp_path):
    page = PAGE.replace("</body>", "<script>document.body.append('it ' + 'ran')</script></body>")
    with printer.Printer() as one:
        together = one.write(page, tmp_path / "together.pdf")
        assert one.running
    for path in (together, printer.write_pdf(page, tmp_path / "alone.pdf")):
        assert pypdf.PdfReader(path).pages[0].extract_text().split() == ["Door", "7"]


def _prints_twice(folder):
    """In a process of its own: the numbers of the browsers that two printers used."""
    printer.keep_browser()
    used = []
    for name in ("first", "second"):
        with printer.Printer() as one:
            one.write(PAGE.replace("Door 7", name), folder / f"{name}.pdf")
            used.append(one.running)
        assert not one.running
    return used


@needs_browser
def test_a_worker_that_keeps_its_browser_prints_all_with_one_and_ends_it_with_itself(tmp_path):
    with ProcessPoolExecutor(1) as pool:
        first, second = pool.submit(_prints_twice, tmp_path).result()
        assert first == second > 0
        os.kill(first, 0)  # it waits for more
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)
    for name in ("first", "second"):
        assert name in pypdf.PdfReader(tmp_path / f"{name}.pdf").pages[0].extract_text()


@needs_browser
def test_a_browser_that_ends_between_two_pages_leaves_each_page_one_of_its_own(tmp_path):
    with printer.Printer("Letter") as one:
        one.write(PAGE, tmp_path / "first.pdf")
        os.kill(one.running, signal.SIGKILL)
        assert one.write(PAGE, tmp_path / "second.pdf").read_bytes().startswith(b"%PDF")
        assert not one.running


@pytest.mark.skipif(not hasattr(os, "posix_spawn"), reason="here each page has a browser of its own")
def test_a_program_that_hears_nothing_is_ended_and_told(tmp_path, monkeypatch):
    program = tmp_path / "deaf"
    program.write_text("#!/bin/sh\nexit 0\n", encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setattr(printer, "browser", lambda: str(program))
    handles = set(os.listdir("/dev/fd"))
    with printer.Printer() as one, pytest.raises(printer.PrintingError, match="deaf printed nothing"):
        one.write(PAGE, tmp_path / "page.pdf")
    assert set(os.listdir("/dev/fd")) <= handles  # nothing is left open


def test_without_a_browser_one_sentence_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(printer, "browser", lambda: None)
    with pytest.raises(printer.PrintingError, match=r"no Chromium browser was found.*print it from there"):
        printer.write_pdf(PAGE, tmp_path / "page.pdf")


def test_a_browser_that_prints_nothing_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(printer, "browser", lambda: str(tmp_path / "gone"))
    with pytest.raises(printer.PrintingError, match="gone printed nothing; No such file"):
        printer.write_pdf(PAGE, tmp_path / "page.pdf")
    assert not (tmp_path / "page.pdf").exists()


@pytest.mark.parametrize(("path", "paper", "sentence"), [("page.pdf", "A5", "paper must be one of"), ("no/page.pdf", "A4", "folder no is")])
def test_wrong_input_gets_a_sentence(tmp_path, path, paper, sentence, monkeypatch):
    monkeypatch.setattr(printer, "browser", lambda: "chromium")
    with pytest.raises(ValueError, match=sentence):
        printer.write_pdf(PAGE, tmp_path / path, paper)
