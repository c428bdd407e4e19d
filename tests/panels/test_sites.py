"""Every page's list of sites: the demo sites and the records' own, a broken one with its reason; the panels open them."""

import re

import pytest
from ipywidgets import HTML

from helpers.model.site.file import demo_sites, read_site
from helpers.pages import sensitivity
from helpers.pages.sites import AGAIN, OnSite, SiteChoice, Together, site_file, sites_offered

LARKFIELD = demo_sites()["Larkfield House"].read_text(encoding="utf-8")


@pytest.fixture
def records(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "records").mkdir()
    (tmp_path / "records" / "mine.toml").write_text(LARKFIELD.replace('"Larkfield House"', '"Mine"'), encoding="utf-8")
    return tmp_path / "records"


def test_own_files_are_listed_a_broken_one_with_its_reason_and_a_strategy_is_none(records):
    (records / "broken.toml").write_text(LARKFIELD.replace("2.9 m", "2.9 Pa"), encoding="utf-8")
    (records / "no.toml").write_text("name = ", encoding="utf-8")
    strategies = demo_sites()["Larkfield House"].parents[1] / "strategies"
    for file in strategies.glob("*.toml"):
        (records / file.name).write_bytes(file.read_bytes())
    (records / "garage.toml").write_bytes(demo_sites(None)["Orchard Garage"].read_bytes())
    own = [words for words in sites_offered() if "records/" in words]
    assert "Mine (records/mine.toml)" in own
    reason = r"records/broken\.toml: not readable, line \d+, \[\[storeys\]\] number 1, height: must be a length"
    assert any(re.match(reason, words) for words in own)
    assert any(words.startswith("records/no.toml: not readable, ") for words in own)
    assert len(own) == 3
    assert "Orchard Garage (records/garage.toml)" in sites_offered(None)


def test_a_site_file_that_says_what_site_it_is_for_is_no_strategy_and_is_told(records):
    (records / "said.toml").write_text('site = "Mine"\n' + LARKFIELD, encoding="utf-8")
    noted = LARKFIELD.replace('note = "', 'note = """\nsite = "x"\nkind = "strategy"\n"""\n# note = "', 1)
    (records / "within.toml").write_text(noted, encoding="utf-8")
    (records / "torn.toml").write_text('name = "Half a file\nsite = "x"\n', encoding="utf-8")
    (records / "torn_strategy.toml").write_text('kind = "strategy"\nname = "Half a file\n', encoding="utf-8")
    (records / "answers.toml").write_text('kind = "answers"\nsite = "Mine"\n', encoding="utf-8")
    own = [words for words in sites_offered() if "records/" in words]
    assert any(words.startswith("records/said.toml: not readable, ") for words in own)
    assert any(words.startswith("records/torn.toml: not readable, ") for words in own)
    assert "Larkfield House (records/within.toml)" in own
    assert len(own) == 4


def test_two_files_of_names_too_long_for_a_line_are_both_in_the_list(records):
    start = "b" * 70
    for end in ("north", "south"):
        (records / f"{start}_{end}.toml").write_text(LARKFIELD, encoding="utf-8")
    own = {words: path for words, path in sites_offered().items() if "bbb" in words}
    assert sorted(path.name for path in own.values()) == [f"{start}_north.toml", f"{start}_south.toml"]
    assert all(site_file(words) == path for words, path in own.items())


def test_without_a_folder_of_records_there_are_the_demo_sites(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert sites_offered() == demo_sites()
    assert list(tmp_path.iterdir()) == []


def test_the_last_line_looks_for_files_written_since_and_what_is_chosen_stays(records):
    choice, told = SiteChoice("Site", "Tannery Row"), []
    choice.on_change(lambda: told.append(choice.value))
    (records / "later.toml").write_text(LARKFIELD, encoding="utf-8")
    assert "Larkfield House (records/later.toml)" not in choice.inner.options
    choice.value = AGAIN
    assert "Larkfield House (records/later.toml)" in choice.inner.options
    assert (choice.value, choice.path, told) == ("Tannery Row", demo_sites()["Tannery Row"], ["Tannery Row"])
    choice.value = "Larkfield House (records/later.toml)"
    (records / "later.toml").unlink()
    choice.look_again()
    assert choice.value == "Larkfield House"


def test_a_name_longer_than_its_list_stands_under_it_whole_and_as_text(records):
    name = "A long hotel on the quay, <b>phase 2</b>"
    (records / "long.toml").write_text(LARKFIELD.replace('"Larkfield House"', f'"{name}"'), encoding="utf-8")
    words = f"{name} (records/long.toml)"
    for row in (False, True):
        choice = SiteChoice("Site", "Larkfield House", row=row)
        assert choice._whole.layout.display == "none"
        choice.value = words
        assert (choice._whole.layout.display is None) is not row  # a row has room for it
        assert row or "&lt;b&gt;phase 2&lt;/b&gt; (records/long.toml)" in choice._whole.value


def test_a_site_goes_by_name_by_line_or_by_path(records):
    assert site_file("Tannery Row") == demo_sites()["Tannery Row"]
    assert read_site(site_file("records/mine.toml")).name == "Mine"
    with pytest.raises(ValueError, match=r"site must be one of Larkfield House, .*got 'Nowhere'"):
        site_file("Nowhere")


class Sheet:
    """Stands for a sheet of a site."""

    def __init__(self, path):
        self.site = read_site(path)
        self.sheet = type("Typed", (), {"box": HTML(self.site.name)})()

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/plain": self.site.name}


def test_a_sheet_is_that_of_the_site_over_it_and_stays_where_a_file_cannot_be_read(records):
    (records / "broken.toml").write_text("name = ", encoding="utf-8")
    sheet = OnSite(Sheet, "Larkfield House")
    sheet.site.value = "Mine (records/mine.toml)"
    assert sheet.panel.site.name == "Mine"
    broken = next(words for words in sheet.site.files if words.startswith("records/broken"))
    sheet.site.value = broken
    assert sheet.panel.site.name == "Mine"
    assert "is no valid TOML" in sheet.line.verdict.words
    assert "still that of Mine" in sheet.line.verdict.words
    assert sheet._repr_mimebundle_()["text/plain"] == "Mine"


def test_later_pickers_of_a_page_go_along_with_the_first_and_open_where_it_stands(records):
    page = Together()
    first, later = OnSite(Sheet, "Larkfield House", page), OnSite(Sheet, "Larkfield House", page, "later")
    (records / "new.toml").write_text(LARKFIELD.replace('"Larkfield House"', '"New"'), encoding="utf-8")
    first.site.look_again()
    first.site.value = "New (records/new.toml)"
    assert (first.panel.site.name, later.panel.site.name) == ("New", "New")
    assert OnSite(Sheet, "Larkfield House", page, "later").panel.site.name == "New"  # its cell run again
    later.site.value = "Tannery Row"
    assert first.panel.site.name == "New"  # only the first leads


def test_both_lists_of_doubts_speak_of_the_building_chosen_in_the_first(monkeypatch):
    monkeypatch.setattr(sensitivity, "_asked", lambda path: (read_site(path), None, None))
    monkeypatch.setattr(sensitivity, "_doubts", lambda site, *_: (site.name, site.name))
    monkeypatch.setattr(sensitivity, "_left_out", lambda site, *_: (site.name, site.name))
    first, later = sensitivity.doubts_card(), sensitivity.left_out_card()
    given = sensitivity.left_out_card(demo_sites()["Northgate Tower"])
    first.site.value = "Tannery Row"
    assert [card.widget.value for card in (first, later, given)] == ["Tannery Row", "Tannery Row", "Northgate Tower"]
    sensitivity.doubts_card(demo_sites()["Northgate Tower"])
    assert sensitivity.left_out_card().widget.value == "Northgate Tower"
    sensitivity.doubts_card()  # the page as it opens, for whoever asks next
