"""Review and sheets as pages: cautions first, blanks to write in, room to sign; as HTML everywhere, as PDF where there is a browser."""

import html
import os
import re
import unicodedata
from html import unescape

import pytest
from demo_designs import review_of
from pypdf import PdfReader

from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import acceptance_page, in_records, injection_page, review_page, written_card
from helpers.plots import printer as pdf
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.proof import check_plan

needs_browser = pytest.mark.skipif(
    pdf.browser() is None and not os.environ.get("CI"), reason="no Chromium browser on this machine; CI installs one"
)


@pytest.fixture(scope="module")
def larkfield():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture(scope="module")
def found():
    return review_of("larkfield_as_found")


@pytest.fixture(scope="module")
def pages(larkfield, found):
    return {
        "review": review_page(found),
        "injection": injection_page(check_plan(larkfield.transmitters, "average"), larkfield.name),
        "acceptance": acceptance_page(acceptance_sheet(larkfield)),
    }


@pytest.mark.parametrize("name", ["review", "injection", "acceptance"])
def test_cautions_come_first_and_there_is_room_to_sign(pages, name):
    page = pages[name]
    assert page.index("Cautions") < page.index("<table")
    assert "authority having" in page
    assert 'class="signed"' in page
    assert not re.search(r"(src|href)=\"https?:", page)


def test_the_review_page_has_every_finding_and_what_was_clear(pages, found):
    plain = unescape(re.sub(r"<[^>]+>", "", pages["review"]))
    for finding in found.findings:
        assert finding.what in plain
        assert all(piece in plain for piece in re.split(r"; (?:\d+\. )?", finding.remedy.removeprefix("1. ")))  # a long one is a list
    assert all(title in plain for title in found.clear)


def test_the_sheets_have_a_row_for_each_display_and_storey(pages, larkfield):
    assert pages["injection"].count("<tr") >= 1 + 2 * 3
    assert pages["acceptance"].count("flat landing") == len(larkfield.storeys)


def test_a_name_with_signs_of_html_is_shown_and_not_obeyed(larkfield):
    page = injection_page(check_plan(larkfield.transmitters, "average"), "<script>alert(1)</script>")
    assert "<script>" not in page


def test_the_ending_of_the_path_decides(pages, tmp_path):
    assert pdf.write_page(pages["injection"], tmp_path / "a.html").read_text(encoding="utf-8") == pages["injection"]
    with pytest.raises(ValueError, match=r"must end in .html or .pdf"):
        pdf.write_page(pages["injection"], tmp_path / "a.doc")
    with pytest.raises(ValueError, match=r"a.html could not be written"):
        pdf.write_page(pages["injection"], tmp_path / "no" / "a.html")


@needs_browser
@pytest.mark.parametrize(("name", "most"), [("review", 8), ("injection", 2), ("acceptance", 4)])
def test_the_printed_page_says_what_the_page_says(pages, tmp_path, name, most):
    printed = PdfReader(pdf.write_page(pages[name], tmp_path / f"{name}.pdf", "Letter")).pages
    letters = unicodedata.normalize("NFKC", " ".join(page.extract_text() for page in printed))  # "fi" may be printed as one sign
    text = " ".join(letters.split())
    assert len(printed) <= most
    words = re.sub(r"<style>.*?</style>|<title>.*?</title>", "", pages[name], flags=re.DOTALL)
    for heading in re.findall(r"<h1>(.*?)</h1>|<th scope[^>]*>(.*?)</th>", words):
        assert html.unescape("".join(heading)) in text
    assert "authority having jurisdiction" in text


def test_names_of_files_are_plain(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = in_records("../Larkfield: House/", "review.html")
    assert path.as_posix() == "records/larkfield_house_review.html"
    assert written_card(path).text == "Written: records/larkfield_house_review.html"
