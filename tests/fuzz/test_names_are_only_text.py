"""A name is text wherever it is shown: no element, no attribute and no formula arises from it. Pages are parsed, not opened."""

from collections import Counter
from copy import copy
from dataclasses import replace
from html.parser import HTMLParser

import openpyxl
import pytest
from demo_designs import review_of

from helpers.model.site.file import demo_sites, read_site
from helpers.pages.new_site.panel import NewSitePanel
from helpers.pages.printed import acceptance_page, injection_page, review_page, written_card
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import Verdict, cautions_html, findings_html, html_table, paragraphs_html
from helpers.plots.picture import picture_of
from helpers.record.page import plain_page
from helpers.record.review.study import review_profile
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.proof import check_plan
from helpers.studies.commissioning.sheets import write_injection_sheet
from helpers.studies.commissioning.workbook import write_acceptance_sheet
from helpers.units.said import written_out

PLAIN = "North wing"
PAYLOADS = (
    "<script>alert(1)</script>", "</title><script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "' onmouseover='alert(1)",
    "<svg/onload=alert(1)>",
    "javascript:alert(1)", "--><b>x</b><!--", "]]><b>x</b>", "</style><b>x</b>", "&lt;b&gt;", "&#60;b&#62;", "<b", "{{7*7}}",
    "\\u003cb\\u003e", "a\0<b>x</b>",
)  # fmt: skip
FORMULAS = (
    "=1+1",
    "=cmd|' /C calc'!A0",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    '=HYPERLINK("http://x")',
    "'=1",
    "a\0b\x01",
    "[x]:*?/\\",
    "x" * 40_000,
)


class _Seen(HTMLParser):
    """Counts elements and attributes; keeps what would run or lead elsewhere."""

    def __init__(self, page):
        super().__init__()
        self.counts, self.runs = Counter(), []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.counts.update([tag, *(f"{tag} {name}" for name, _ in attributes)])
        self.runs += [
            f"{tag} {name}" for name, value in attributes if name.startswith("on") or (value or "").lower().startswith("javascript:")
        ]

    def handle_comment(self, text):
        self.counts.update(["a remark"])


@pytest.fixture(scope="module")
def pages():
    """Pages by kind, each made of a name."""
    site = read_site(demo_sites()["Larkfield House"])
    plan, sheet, found = check_plan(site.transmitters, "average"), acceptance_sheet(site), review_of("larkfield_sound")

    def named(name):
        taps = tuple(tap.model_copy(update={"name": name}) for tap in plan.transmitters)
        rows = tuple(replace(row, door=name) for row in sheet.rows)
        line = VerdictLine()
        line.say(Verdict("entry", name), name)
        return {
            "title": plain_page(name, []),
            "injected signals": injection_page(replace(plan, transmitters=taps), name),
            "acceptance": acceptance_page(replace(sheet, site_name=name, weather=name, rows=rows)),
            "review": review_page(replace(found, strategy_name=name, site_name=name)),
            "link": written_card(f"{name}.html")._repr_mimebundle_()["text/html"],
            "verdict": line.widget.value,
            "pieces": html_table([name], [[name]], title=name) + paragraphs_html([name]) + cautions_html([name]) + findings_html([]),
        }

    return named


@pytest.fixture(scope="module")
def plain(pages):
    return {kind: _Seen(page).counts for kind, page in pages(PLAIN).items()}


@pytest.mark.parametrize("payload", PAYLOADS)
def test_no_element_and_no_attribute_arises_from_a_name(pages, plain, payload):
    for kind, page in pages(payload).items():
        seen = _Seen(page)
        assert seen.counts == plain[kind], kind
        assert seen.runs == [], kind


def test_a_name_that_is_put_in_as_it_stands_would_be_found(plain):
    assert _Seen(f"<h1>{PAYLOADS[0]}</h1>").counts != _Seen(f"<h1>{PLAIN}</h1>").counts
    assert _Seen('<a href="javascript:x">').runs == ["a href"]


def test_what_is_typed_into_the_new_site_panel_is_shown_as_text():
    panel = NewSitePanel()
    for group in panel.groups:
        group.fold.button.value = True
    wrong = "<img src=x onerror=alert(1)>"
    panel.cells["storeys", 0, "height"].value = wrong
    panel.do(lambda: panel.form.rename("doors", "flat landing", wrong))
    panel.cells["transmitters", 0, "name"].value = wrong
    shown = [panel.line, *panel.groups, panel.section, panel.words, panel.figures]
    html = "".join(getattr(getattr(one, "widget", getattr(one, "told", one)), "value", "") for one in shown)
    assert "img" not in _Seen(html + panel._repr_mimebundle_()["text/html"]).counts
    assert wrong in panel.form.mistakes()[0][1]


@pytest.mark.parametrize("name", ["$\\frac{$", "$x$ and $y$", "{$}", "\\", "%(x)s {0}", "\u202ename"])
def test_a_picture_shows_a_name_whatever_signs_are_in_it(name):
    plot = written_out(review_profile(review_of("larkfield_sound").bench))
    assert picture_of(replace(plot, axes=(replace(plot.axes[0], title=name),))).png(1)


@pytest.mark.parametrize("name", FORMULAS)
def test_no_formula_arises_from_a_name(name, tmp_path):
    site = read_site(demo_sites()["Larkfield House"])
    plan = check_plan(site.transmitters, "average")
    usual = _formulas(write_injection_sheet(plan, PLAIN, tmp_path / "usual.xlsx"))
    taps = tuple(tap.model_copy(update={"name": name}) for tap in plan.transmitters)
    path = write_injection_sheet(replace(plan, transmitters=taps), name, tmp_path / "named.xlsx")
    assert _formulas(path) == usual
    cells = [
        cell
        for row in openpyxl.load_workbook(path).active
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@"))
    ]
    assert all(cell.data_type == "f" or cell.quotePrefix for cell in cells)


def test_no_formula_arises_from_the_name_of_a_door(tmp_path):
    sheet = acceptance_sheet(read_site(demo_sites()["Larkfield House"]))
    named = replace(sheet, rows=tuple(replace(row, door="=1+1") for row in sheet.rows))
    assert _formulas(write_acceptance_sheet(named, tmp_path / "named.xlsx")) == _formulas(
        write_acceptance_sheet(sheet, tmp_path / "usual.xlsx")
    )


def _formulas(path):
    return [(cell.coordinate, cell.value) for row in openpyxl.load_workbook(path).active for cell in row if cell.data_type == "f"]


def test_a_long_name_leaves_room_for_what_is_judged_in_a_pictures_title():
    bench = copy(review_of("larkfield_sound").bench)
    bench.site = bench.site.model_copy(update={"name": "Hotel of the kite and the heron, north wing"})
    (title,) = {axes.title for axes in written_out(review_profile(bench)).axes if axes.title}
    assert title.startswith("Hotel of the kite a…, the strategy as it is, ")
    assert len(title) < 64  # as many letters as the picture is wide
