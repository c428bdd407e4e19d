"""The sheets of the day: kept as typed, judged at once, there again; a wrong figure names its likely cause."""

import pytest

from helpers.model.site import demo_sites, read_site
from helpers.panels.commissioning_panel import AcceptancePanel, InjectionPanel
from helpers.panels.controls import UNITS
from helpers.studies.kept_entries import Entries


@pytest.fixture(scope="module")
def larkfield():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture(autouse=True)
def pascals():
    UNITS.system = "Pa"
    yield
    UNITS.system = "Pa"


def type_all(panel, read, when="as found"):
    for number, row in enumerate(read, 1):
        for place, value in enumerate(row, 1):
            panel.sheet.type(f"point {number} display {place} {when}", f"{value:.1f}")


@pytest.fixture
def panel(larkfield, tmp_path):
    return InjectionPanel(larkfield, tmp_path)


def test_an_empty_sheet_says_how_many_points_prove_it(panel):
    assert str(panel.sheet.line.verdict) == "NOT YET: Nothing has been read yet. 2 points prove all of it."


def test_right_displays_pass(panel):
    type_all(panel, panel.plan.shown_pa[0])
    assert str(panel.sheet.line.verdict) == "PASS: As found: All points pass: settings proved."


@pytest.mark.parametrize(
    "cause", ["the lowest reading runs the loop", "the displays are in per cent, not scaled", "only PT-2 high runs the loop"]
)
def test_a_wrong_display_names_its_likely_cause(panel, cause):
    number = [setting.name for setting in panel.plan.settings].index(cause)
    type_all(panel, panel.plan.shown_pa[number])
    assert panel.sheet.line.verdict.kind == "wrong"
    assert cause in panel.sheet.line.verdict.words


def test_what_was_left_counts_more_than_what_was_found(panel):
    type_all(panel, panel.plan.shown_pa[3])
    type_all(panel, panel.plan.shown_pa[0], "as left")
    assert str(panel.sheet.line.verdict).startswith("PASS: As left")


def test_what_was_typed_is_there_again_and_means_the_same_in_other_units(larkfield, panel, tmp_path):
    panel.sheet.type("point 1 display 2 as found", "125")
    panel.sheet.type("as found by, date", "Ada, Tuesday")
    UNITS.system = "in. w.c."
    assert panel.sheet.values()["point 1 display 2 as found"] == pytest.approx(125.0)
    again = InjectionPanel(larkfield, tmp_path)
    assert again.sheet.values()["point 1 display 2 as found"] == pytest.approx(125.0)
    assert again.sheet.values()["as found by, date"] == "Ada, Tuesday"


def test_every_key_that_was_pressed_is_kept(larkfield, panel, tmp_path):
    for text in ("1", "12", "125"):
        panel.sheet.type("point 1 display 2 as found", text)
    history = Entries(f"injection {larkfield.name}", tmp_path).history("point 1 display 2 as found")
    assert [text for text, _ in history] == ["1 Pa", "12 Pa", "125 Pa"]


def test_what_cannot_be_read_is_said_in_its_row_and_stays_as_typed(panel):
    panel.sheet.type("point 1 display 1 as found", "4 kg")
    assert "must be a pressure" in panel.sheet.verdicts[1, 0].value
    assert panel.sheet.fields["point 1 display 1 as found"][0].value == "4 kg"


def test_a_sheet_that_cannot_keep_says_so_and_still_judges(larkfield, tmp_path):
    (tmp_path / "file").write_text("x")
    panel = InjectionPanel(larkfield, tmp_path / "file")
    panel.sheet.type("point 1 display 1 as found", "6.25")
    assert "could not be kept" in panel.sheet.line.verdict.words
    assert "PASS" in panel.sheet.verdicts[1, 0].value


def test_the_floor_sheet_counts_what_is_not_in_order(larkfield, tmp_path):
    panel = AcceptancePanel(larkfield, folder=tmp_path)
    panel.sheet.type("4 shut_pa", "22")
    assert panel.sheet.line.verdict.words == "1 of 1 storeys measured are not in order."
    panel.sheet.type("4 shut_pa", "35")
    panel.sheet.type("5 direction", "none")
    assert panel.sheet.line.verdict.words == "2 of 14 storeys measured, 1 to look at."
    for row in panel.expected.rows:
        panel.sheet.type(f"{row.level} shut_pa", f"{row.shut_pa:.1f}")
        panel.sheet.type(f"{row.level} direction", "out of the stair")
    assert panel.sheet.line.verdict.kind == "good"


def test_without_a_kernel_the_page_has_the_sheet_with_blanks(panel):
    panel.sheet.type("point 1 display 1 as found", "0.3")
    shown = panel._repr_mimebundle_()
    assert "62.5 Pa ± 0.7 Pa" in shown["text/plain"]
    assert "0.3" not in shown["text/plain"]
    assert "<table" in shown["text/html"]


def test_the_sheets_are_written_and_the_link_says_where(panel, larkfield, tmp_path):
    card = panel.export(tmp_path / "injection.xlsx")
    assert (tmp_path / "injection.xlsx").stat().st_size > 4000
    assert "injection.xlsx" in card.text
    assert "acceptance.xlsx" in AcceptancePanel(larkfield, folder=tmp_path).export(tmp_path / "acceptance.xlsx").text
