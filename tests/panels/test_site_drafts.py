"""What was typed for a site of one's own and is in no file yet: kept, offered, put aside, never lost by another page that is open."""

import time
from pathlib import Path
from unittest.mock import Mock

import pytest

from helpers.model.files import MOST_BYTES
from helpers.pages.new_site import draft
from helpers.pages.new_site.panel import DEFAULT_PATH, NewSitePanel
from helpers.pages.sites import SiteChoice


@pytest.fixture
def panel(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return NewSitePanel()


def test_what_was_typed_survives_a_closed_tab_and_is_offered_with_its_time_and_no_site_file_is_touched(panel):
    assert panel.draft.offer.layout.display == "none"
    panel.path.text = DEFAULT_PATH
    panel.write()
    written = Path(DEFAULT_PATH).read_bytes()
    panel.type("storeys", 0, "height", "3.1 m")
    panel.type("site", None, "name", "Kept House")
    panel.type("storeys", 0, "outer_wall", "much")
    again = NewSitePanel()
    assert again.draft.offer.layout.display is None
    assert time.strftime("%d %B %Y") in again.draft.told.value
    assert again.form.answer("site", None, "name") == "My building"
    again.draft.take_button.click()
    assert [again.form.answer(*one) for one in (("site", None, "name"), ("storeys", 0, "height"))] == ["Kept House", "3.1 m"]
    assert again.form.is_demo("storeys", 0, "height") is False
    assert again.draft.offer.layout.display == "none"
    assert Path(DEFAULT_PATH).read_bytes() == written
    assert not any("draft" in words for words in SiteChoice("Site", "Larkfield House").files)


def test_a_draft_that_nobody_took_up_goes_beside_the_next_one_and_is_never_lost(panel):
    panel.type("site", None, "name", "First")
    other = NewSitePanel()
    other.type("site", None, "name", "Second")
    folder = Path(DEFAULT_PATH).parent
    assert '"Second"' in (folder / "your_site.draft").read_text(encoding="utf-8")
    assert '"First"' in (folder / "your_site.draft.old").read_text(encoding="utf-8")
    other.path.text = DEFAULT_PATH
    other.write()
    assert not (folder / "your_site.draft").exists()
    assert NewSitePanel().draft.offer.layout.display == "none"


def test_two_pages_open_at_once_have_a_draft_each_and_write_over_neither(panel):
    other = NewSitePanel()
    panel.type("site", None, "name", "First")
    other.type("site", None, "name", "Second")
    panel.type("site", None, "note", "Typed on the first page.")
    folder = Path(DEFAULT_PATH).parent
    texts = {path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.draft")}
    assert sorted(texts) == ["your_site.draft", "your_site_2.draft"]
    assert '"First"' in texts["your_site.draft"]
    assert "Typed on the first page." in texts["your_site.draft"]
    assert '"Second"' in texts["your_site_2.draft"]
    assert "your_site_2.draft" in other.draft.kept.value
    other.path.text = DEFAULT_PATH
    other.write()
    assert [path.name for path in folder.glob("*.draft")] == ["your_site.draft"]


def test_a_draft_that_two_pages_take_up_is_the_draft_of_who_types_first(panel):
    panel.type("site", None, "name", "First")
    pages = [NewSitePanel(), NewSitePanel()]
    for page in pages:
        page.draft.take_button.click()
    for number, page in enumerate(pages):
        page.type("site", None, "note", f"Of page {number}.")
    folder = Path(DEFAULT_PATH).parent
    assert "Of page 0." in (folder / "your_site.draft").read_text(encoding="utf-8")
    assert "Of page 1." in (folder / "your_site_2.draft").read_text(encoding="utf-8")


def test_a_draft_that_another_page_types_on_stays_its_own_though_it_is_left_here(panel):
    panel.type("site", None, "name", "First")
    other = NewSitePanel()
    panel.type("site", None, "note", "Typed since.")
    other.draft.leave_button.click()
    lying = Path(DEFAULT_PATH).with_name("your_site.draft")
    assert "Typed since." in lying.read_text(encoding="utf-8")
    assert other.draft.offer.layout.display == "none"
    other.type("site", None, "name", "Second")
    assert "Typed since." in lying.read_text(encoding="utf-8")
    assert '"Second"' in lying.with_name("your_site_2.draft").read_text(encoding="utf-8")


def test_where_a_draft_that_is_left_lies_is_said(panel):
    panel.type("site", None, "name", "First")
    other = NewSitePanel()
    other.draft.leave_button.click()
    assert "your_site.draft.old" in other.draft.kept.value


def test_answers_longer_than_any_file_that_is_read_are_told_and_not_kept_as_what_nobody_could_take_up(panel):
    panel.type("site", None, "note", "kept")
    lying = Path(DEFAULT_PATH).with_name("your_site.draft")
    before = lying.read_bytes()
    panel.type("site", None, "note", "x" * MOST_BYTES)
    assert "could not be kept: the answers come to" in panel.draft.kept.value
    assert lying.read_bytes() == before
    panel.path.text = DEFAULT_PATH
    panel.write()
    assert "a site file has 300000 at the most" in panel.done.verdict.words
    assert not Path(DEFAULT_PATH).exists()


def test_a_draft_that_is_gone_or_cannot_be_put_aside_is_told_and_breaks_no_page(panel, monkeypatch):
    panel.type("site", None, "name", "First")
    gone, held = NewSitePanel(), NewSitePanel()
    monkeypatch.setattr(draft, "write_whole", Mock(side_effect=ValueError("the disk is <full>")))
    held.draft.leave_button.click()
    assert "The draft cannot be put aside: the disk is &lt;full&gt;" in held.draft.told.value
    assert Path(DEFAULT_PATH).with_name("your_site.draft").is_file()
    Path(DEFAULT_PATH).with_name("your_site.draft").unlink()
    gone.draft.leave_button.click()
    assert gone.draft.offer.layout.display == "none"


def test_a_draft_that_cannot_be_kept_is_told(panel):
    Path("records").write_text("a file where the folder should be")
    panel.type("site", None, "name", "Lost")
    assert "could not be kept" in panel.draft.kept.value
