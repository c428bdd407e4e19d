"""Pages printed to PDF by the browser of the machine; without one, a sentence."""

import os
import re

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
