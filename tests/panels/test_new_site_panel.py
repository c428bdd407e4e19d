"""The guided page: every answer is checked as it is typed and stays, a demo building's is marked, files are opened and written."""

import re
import time
from pathlib import Path
from threading import Event, Thread

import pytest
from ipywidgets import HTML, Button, Dropdown

from helpers.model.site.entries import groups, sections
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.new_site.panel import DEFAULT_PATH, NewSitePanel
from helpers.pages.new_site.questions import LOOK
from helpers.pages.sites import AGAIN


@pytest.fixture
def panel(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return NewSitePanel()


def unfold(panel, more=False):
    for group in panel.groups:
        group.fold.button.value = True
        group.more.button.value = more
    return panel


def test_at_first_all_answers_are_the_demos_and_none_is_called_good(panel):
    assert panel.line.verdict.kind == "open"
    assert panel.line.verdict.head == "111 of 111 answers still demo"
    assert "Altitude" in panel.figures.value
    assert "Effusivity of walls" in panel.figures.value


def test_every_answer_has_an_entry_once_all_is_unfolded_and_none_before(panel):
    assert not any(section == "fan" for section, _, _ in panel.cells)
    unfold(panel, more=True)
    every = {(entry.section, item, entry.key) for _, asked, more in groups() for entry in (*asked, *more)
             for item in panel.form.tables(entry.section)}  # fmt: skip
    assert set(panel.cells) == every
    assert all(cell.tooltip for cell in panel.cells.values())
    for address in panel.form.stated():
        assert ("demo" in panel.cells[address]._dom_classes) == panel.form.is_demo(*address)
        assert panel.cells[address].value == panel.form.answer(*address)


def test_the_button_of_a_group_says_what_it_does_and_words_end_before_tag_and_arrow(panel):
    """One press claims every demo figure in view as read: its words say that, and nothing less."""
    unfold(panel)
    group = panel.groups[1]
    (mine,) = [one for one in group.fold.inside.children if getattr(one, "description", "").startswith("I have checked")]
    group.more.button.value = True
    every = int(re.search(r"all (\d+) in view", mine.description)[1])
    group.more.button.value = False
    seen, stay = map(int, re.findall(r"\d+", mine.description))
    assert seen + stay == every  # what is folded away is counted apart, and stays
    assert mine.description.endswith(f"take off their marks; {stay} under More stay")
    before = panel.line.verdict.head
    mine.click()
    assert mine.disabled
    assert mine.description == f"No mark in view; {stay} under More stay"
    group.more.button.value = True
    assert mine.description == f"I have checked all {stay} in view on site: take off their marks"
    assert panel.line.verdict.head != before
    assert ".cell.cell.demo :is(input, select) { font-style: italic; padding-right: 60px; }" in LOOK
    assert ".cell select { font-size: 13px; padding: 0 18px 0 2px; }" in LOOK


def test_no_transmitters_line_strikes_a_doors_letter_through(panel):
    drawn = panel.section.value
    assert 0 < drawn.rindex("stroke-dasharray") < drawn.index(">A</text>")


def test_a_wrong_answer_is_told_marked_and_stays_and_the_mark_of_the_demo_goes(panel):
    cell = panel.cells["storeys", 0, "height"]
    assert "demo" in cell._dom_classes
    cell.value = "three"
    assert panel.line.verdict.kind == "entry"
    assert "Storeys 0..13, Floor to floor: must be a length" in panel.line.verdict.words
    assert panel.line.verdict.words.endswith("The other 110 answers can be read.")
    assert "must be a length" in panel.groups[1].told.value
    assert panel.groups[1].fold.button.description.endswith("19 demo, 1 to mend")
    assert "refused" in cell._dom_classes
    assert cell.value == "three"
    cell.value = "12 ft"
    assert not {"demo", "refused"} & set(cell._dom_classes)
    assert panel.line.verdict.head.startswith("110 of 111")


def test_an_empty_entry_says_what_leaving_it_out_means(panel):
    cells = unfold(panel).cells
    assert cells["storeys", 1, "floor_area"].placeholder == "as beside: 310 m2"
    assert dict(cells["storeys", 1, "stair_door"].options)["as beside"] == ""  # "flat landing" would be cut off, and is read beside
    assert dict(cells["storeys", 1, "lobby"].options)["as beside: no"] == ""
    assert cells["transmitters", 0, "damping"].placeholder == "not known"
    assert cells["doors", "street", "minimum_dp"].placeholder == "none"
    assert list(dict(cells["standby", None, "source"].options)) == ["not known", "none", "generator", "second supply", "battery"]


def test_a_kind_of_door_that_is_added_can_be_chosen_and_an_undo_brings_everything_back(panel):
    unfold(panel)
    panel.do(lambda: panel.form.add("doors"))
    cell = panel.cells["storeys", 0, "stair_door"]
    assert isinstance(cell, Dropdown)
    assert "door 3" in dict(cell.options)
    cell.value = "door 3"
    panel.do(lambda: panel.form.remove("doors", "door 3"))
    assert "Stair door, kind: must be a door described" in panel.line.verdict.words
    for _ in range(3):
        panel.back_button.click()
    assert panel.form.text() == NewSitePanel().form.text()
    assert panel.back_button.disabled


def heads_of(panel, section):
    blocks = [block for group in panel.groups for made in group._blocks.values() for block in made if block.name == section]
    return [column.head for column in blocks[0].columns], blocks[0]


def test_a_press_on_add_straight_after_a_name_was_typed_finds_its_button_and_all_else_stays_as_it_is(panel):
    unfold(panel)
    heads, block = heads_of(panel, "doors")
    (add,) = [one for one in block._bands[0].children[0].children if isinstance(one, Button)]
    before = panel.cells
    heads[0].value = "landing"
    assert add.comm is not None  # a button that was closed hears no press
    add.click()
    assert list(panel.form.tables("doors")) == ["landing", "street", "door 3"]
    after = panel.cells
    assert all(
        after[section, "landing" if item == "flat landing" else item, key] is widget for (section, item, key), widget in before.items()
    )
    after["doors", "landing", "width"].value = "1 m"
    assert panel.form.answer("doors", "landing", "width") == "1 m"
    panel.back()
    panel.back()
    panel.back()
    assert [head.value for head in heads_of(panel, "doors")[0]] == ["flat landing", "street"]
    assert panel.back_button.disabled


def test_a_press_on_add_while_an_entry_is_worked_in_loses_neither_a_table_nor_the_entry(panel, monkeypatch):
    """An entry, a press on Add and another entry, each on a thread of its own, the second and third while the first is worked in."""
    unfold(panel)
    begun, stand = Event(), panel._stand

    def slowly(*cell):
        begun.set()
        time.sleep(0.002)  # some hundred cells: the others come meanwhile
        stand(*cell)

    monkeypatch.setattr(panel, "_stand", slowly)
    several = [
        Thread(target=setattr, args=(panel.cells["storeys", 0, "height"], "value", "3.1 m")),
        Thread(target=panel.do, args=(lambda: panel.form.add("doors"),)),
        Thread(target=setattr, args=(panel.cells["doors", "street", "width"], "value", "1.1 m")),
    ]
    for thread in several:
        thread.start()
        assert begun.wait(60)
    for thread in several:
        thread.join(60)
    assert panel.form.answer("storeys", 0, "height") == panel.cells["storeys", 0, "height"].value == "3.1 m"
    assert panel.form.answer("doors", "street", "width") == panel.cells["doors", "street", "width"].value == "1.1 m"
    heads, block = heads_of(panel, "doors")
    assert [column.item for column in block.columns] == list(panel.form.tables("doors")) == ["flat landing", "street", "door 3"]
    assert [len(band.children) - 1 for band in block._bands] == [len(heads)]
    assert all(column.box in block._bands[0].children and column.box.comm is not None for column in block.columns)


def test_a_fifth_column_stands_under_the_others_with_its_questions(panel):
    for _ in range(3):
        panel.do(lambda: panel.form.add("storeys"))
    bands = heads_of(panel, "storeys")[1]._bands
    assert [len(band.children) - 1 for band in bands] == [4, 1]
    questions = [[one.value for one in band.children[0].children if isinstance(one, HTML)] for band in bands]
    assert questions[0] == questions[1]
    assert panel.cells["storeys", 4, "levels"] in bands[1].children[1].children
    panel.do(lambda: panel.form.remove("storeys", 0))
    assert [len(band.children) - 1 for band in heads_of(panel, "storeys")[1]._bands] == [4]
    assert panel.cells["storeys", 0, "levels"].value == "0"


def test_a_file_that_is_half_readable_is_open_with_a_check_and_the_count_of_what_cannot_be_used(panel):
    Path("records").mkdir()
    text = panel.form.text().replace('"2.9 m"', '"three"').replace('"city"', '"moon"').replace('"suburban"', '"moon"')
    Path("records/half.toml").write_text(text)
    panel.open_path.text = "records/half.toml"
    panel.open()
    assert panel.opened.verdict.kind == "attention"
    assert panel.opened.verdict.words == "records/half.toml is open; 2 entries cannot be used: each is told beside, and in its group."


def test_no_list_says_a_word_twice_and_each_entry_says_what_is_meant(panel):
    unfold(panel, more=True)
    for address, cell in panel.cells.items():
        words = [one for one, _ in cell.options] if isinstance(cell, Dropdown) else []
        assert len(words) == len(set(words)), address
        assert sections()[address[0]].entries[address[2]].meant in cell.tooltip
    cell = panel.cells["leakage", None, "floor"]
    cell.value = "loose"
    assert panel.form.answer("leakage", None, "floor") == "loose"


def test_an_entry_that_was_copied_bears_its_mark_and_one_that_does_not_count_says_so(panel):
    unfold(panel)
    panel.cells["transmitters", 1, "reference"].value = "outdoors"
    panel.do(lambda: panel.form.add("transmitters"))
    assert "copied" in panel.cells["transmitters", 2, "reference"]._dom_classes
    group = next(group for group in panel.groups if group.title == "Transmitters")
    assert "1 copied" in group.fold.button.description
    panel.cells["temperatures", None, "stair"].value = "17 °C"
    group = next(group for group in panel.groups if group.title == "Weather")
    assert "does not count where Stair air is stated" in group.told.value


def test_figures_are_taken_over_as_ones_own_by_a_button(panel):
    group = panel.groups[1]
    mine = next(one for one in group.fold.inside.children if getattr(one, "description", "").startswith("I have checked"))
    mine.click()
    assert not panel.form.is_demo("storeys", 0, "height")
    assert "taken over from the demo" in group.fold.button.description  # never silently
    assert panel.form.is_demo("storeys", 0, "stair_outside_wall")  # under More, and so not seen
    for one in panel.form.stated():
        panel.form.accept(*one)
    panel.check()
    assert panel.line.verdict.kind == "note"


def test_the_section_grows_with_the_answers_and_is_told_in_words(panel):
    panel.cells["storeys", 0, "levels"].value = "-2..23"
    assert "26 storeys, from -2 to 23, 2 of them below the ground." in panel.words.value
    assert 'role="img"' in panel.section.value
    panel.cells["storeys", 0, "levels"].value = "many"
    assert "1 storeys, from 0 to 0." in panel.words.value
    panel.cells["storeys", 1, "levels"].value = ""
    assert "No storeys can be drawn yet" in panel.words.value


def test_the_file_is_written_opened_again_and_written_over_only_where_that_is_ticked(panel, tmp_path):
    panel.cells["site", None, "name"].value = "Quay Flats"
    panel.write()
    assert "Written: records/my_building.toml" in panel.done.verdict.words
    assert "Pages 11, 12, 13 and 15" in panel.done.verdict.words
    assert read_site(DEFAULT_PATH).name == "Quay Flats"
    panel.cells["site", None, "name"].value = "Quay House"
    assert panel.done.widget.value == ""
    panel.write()
    assert "is there already" in panel.done.verdict.words
    assert "my_building_2.toml" in panel.done.verdict.words
    panel.over.value = True
    panel.write()
    assert "The one before is kept as my_building_before.toml.old" in panel.done.verdict.words
    assert not panel.over.value
    assert read_site(DEFAULT_PATH).name == "Quay House"
    other = NewSitePanel()
    other.open_choice.value = "Quay House (records/my_building.toml)"
    other.open()
    assert other.form.text() == panel.form.text()
    assert other.path.text == DEFAULT_PATH
    assert other.line.verdict.head.startswith("110 of 111")


def test_a_file_that_is_no_site_yet_is_written_and_said_to_be_none(panel):
    panel.cells["storeys", 0, "height"].value = "three"
    panel.write()
    assert "It is no site yet: one entry cannot be used" in panel.done.verdict.words
    assert any(words.startswith("records/my_building.toml: not readable, line") for words in panel.open_choice.files)


def test_a_demo_site_is_opened_with_all_of_it_marked(panel):
    panel.open_choice.value = "Northgate Tower"
    panel.open()
    assert panel.line.verdict.head == "151 of 151 answers still demo"
    assert panel.cells["storeys", 0, "height"].value == "12.5 ft"
    panel.open_path.text = "nowhere.toml"
    panel.open()
    assert "is not there" in panel.opened.verdict.words
    assert panel.form.answer("site", None, "name") == "Northgate Tower"
    panel.back()
    assert panel.form.answer("site", None, "name") == "My building"


def test_no_other_folder_is_made_for_a_path_that_was_typed(panel, tmp_path):
    panel.path.text = "a/b/mine.toml"
    panel.write()
    assert list(tmp_path.iterdir()) == []


def test_without_a_kernel_the_questions_can_be_read(panel):
    made = panel._repr_mimebundle_()
    assert "Storeys 0..13, Floor to floor: 2.9 m (demo)" in made["text/plain"]
    assert "<svg" in made["text/html"]
    assert len(made["text/html"]) + len(made["text/plain"]) < 200_000
    assert list(demo_sites()) == [words for words in panel.open_choice.files if not words.startswith("records")]
    assert panel.open_choice.inner.options[-1] == AGAIN
    assert set(sections())


def test_standards_are_listed_by_their_titles_with_the_edition(panel):
    (cell,) = [cell for (section, _, key), cell in panel.cells.items() if (section, key) == ("site", "standard")]
    titles = {text: words for words, text in cell.options}
    assert titles["nfpa92"].startswith("NFPA 92")
    assert "2022" in titles["en12101_13_2022"]
    assert cell.value == "nfpa92"


def test_what_a_file_cannot_state_stands_over_its_questions(panel):
    """Two lift shafts apart are one table, and the page says so where they are asked for."""
    unfold(panel)
    block = next(block for group in panel.groups for made in group._blocks.values() for block in made if block.name == "lift")
    assert any("Two apart cannot be stated" in one.value for one in block.box.children if isinstance(one, HTML))
    assert sections()["lift"].kind == "one"
