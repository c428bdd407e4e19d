"""The guided page: all answers are checked together as they are typed, and the file is written once."""

import pytest

from helpers.model.site.file import read_site
from helpers.pages.new_site import DEFAULT_PATH, NewSitePanel
from helpers.studies.new_site import NOT_ASKED, OPEN, QUESTIONS


@pytest.fixture
def panel():
    return NewSitePanel()


def test_the_usual_answers_make_a_site_and_what_was_not_asked_is_said(panel):
    assert str(panel.line.verdict).startswith("NOT YET")
    assert "relief damper" in panel.line.verdict.words


def test_a_wrong_answer_is_told_at_once_and_stays_as_typed(panel):
    panel.controls["height"].text = "three"
    assert panel.line.verdict.kind == "entry"
    assert "Floor to floor" in panel.line.verdict.words
    assert panel.answers["height"] == "three"
    panel.controls["height"].text = "3 m"
    assert panel.line.verdict.kind == "attention"


def test_an_answer_that_cannot_be_read_does_not_hide_the_state_of_the_others(panel):
    panel.controls["floor_area"].text = "9,800 ft2"
    panel.controls["winter"].text = "cold"
    assert "write 9800" in panel.line.verdict.words
    assert "Winter, outdoors must be" in panel.line.verdict.words
    assert panel.line.verdict.words.endswith(f"The other {len(QUESTIONS) - 2} answers can be read")
    panel.controls["floor_area"].text = "9800 ft2"
    assert panel.line.verdict.words.endswith(f"The other {len(QUESTIONS) - 1} answers can be read")


def test_the_file_is_written_and_opens(panel, tmp_path):
    panel.controls["name"].text = "Quay Flats"
    panel.controls["rule"].value = "lowest"
    panel.path.text = str(tmp_path / "quay.toml")
    panel.button.click()
    assert "Written: " in panel.line.verdict.words
    site = read_site(tmp_path / "quay.toml")
    assert (site.name, site.control.rule) == ("Quay Flats", "lowest")
    panel.button.click()
    assert "is there already" in panel.line.verdict.words


def test_without_a_kernel_the_questions_can_be_read(panel):
    assert "Floor to floor: 2.9 m" in panel._repr_mimebundle_()["text/plain"]


def test_a_desk_of_a_class_writes_its_site_file_where_the_page_proposes(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = NewSitePanel()
    panel.write()
    assert [path.name for path in (tmp_path / "records").iterdir()] == ["my_building.toml"]
    assert read_site(DEFAULT_PATH).name == "My building"


def test_no_other_folder_is_made_for_a_path_that_was_typed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = NewSitePanel()
    panel.path.text = "a/b/mine.toml"
    panel.write()
    assert list(tmp_path.iterdir()) == []


def test_what_nobody_knows_yet_is_named_until_it_is_answered_and_so_is_what_is_not_asked(panel):
    open_ones = [question for question in QUESTIONS if question.usual == OPEN]
    assert {question.key for question in open_ones} == {
        "sprinklers", "building_code", "ceiling", "airflow_class", "closing_share", "open_doors", "open_exits", "standby", "response",
        "damping",
    }  # fmt: skip
    for question in open_ones:
        assert question.asked in panel.line.verdict.words
    panel.controls["damping"].text = "0.3 s"
    panel.controls["standby"].value = "generator"
    unknown = panel.line.verdict.words.split("Not known yet")[1].split(". Not asked")[0]
    assert "damping" not in unknown
    assert "Standby" not in unknown
    assert "Final exits the design takes as open" in unknown
    assert all(kept in panel.line.verdict.words for kept in NOT_ASKED)
