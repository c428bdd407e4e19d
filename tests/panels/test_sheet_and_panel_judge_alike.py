"""The spreadsheet that is carried along passes nothing that the panel does not: both are filled in alike and asked."""

import re
from dataclasses import replace

import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of
from openpyxl.utils import get_column_letter
from spreadsheet import Book

from helpers import units
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.acceptance import AcceptancePanel
from helpers.pages.injection import InjectionPanel
from helpers.studies.commissioning.fields import DEFICIENCIES, OF_THE_DAY
from helpers.studies.commissioning.sheets import Page
from helpers.studies.commissioning.workbook import write_acceptance_sheet
from helpers.studies.duty.permissible_speed import Ceiling
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

LIGHT = {"street": {"opens": "against pressure", "closer_force_n": 40.0, "width_m": 0.9}, "flat landing": {"closer_force_n": 50.0}}
MILD = {"outdoor_c": 15.0, "stair_bottom_c": 19.0, "stair_middle_c": 19.0, "stair_top_c": 19.0, "floor_c": 21.0, "wind_speed_m_s": 1.0,
        "wind_from_deg": 200.0}  # fmt: skip


@pytest.fixture(autouse=True)
def shared_designs(monkeypatch):
    monkeypatch.setattr("helpers.pages.injection.Design", design_for)


@pytest.fixture(autouse=True, scope="module")
def all_is_run():
    """As if every shut door bore full speed and the record had laid all of it down: what is NOT RUN has tests of its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("helpers.studies.commissioning.acceptance.ceiling_of", lambda site: Ceiling(99.0, 99.0, False, False, ""))
        patch.setattr("helpers.pages.acceptance.before_the_loop", lambda design: "")
        patch.setattr("helpers.pages.acceptance.design_of", lambda same: None)
        yield


@pytest.fixture(autouse=True)
def pascals():
    UNITS.system = "Pa"
    yield
    UNITS.system = "Pa"


@pytest.fixture(scope="module")
def light():
    """A stair whose doors are light, and inside their windows in every weather: on a mild day every one can pass."""
    return read_site(demo_sites()["Larkfield House"]).with_changes(doors=LIGHT, design=None, control={"set_point_pa": 48.0})


def as_it_should_be(panel):
    """What to type for a sheet that passes, by field: SI numbers and words."""
    found = {f"day {name}": value for name, value in MILD.items()}
    found |= {line: "done" for line in panel.expected.lines if not line.startswith("day ")}
    found |= {one.field: {"": "yes", "force": 80.0}.get(one.dimension, one.figure) for one in panel.expected.plant}
    for row in panel.expected.rows:
        limits = {force.field: force.limit_n for force in row.forces}
        doors = {"shut_pa": row.shut_pa, "minutes": 0.5, "later_pa": row.shut_pa, "later_minutes": 30.0, "off_n": row.off_n, "shuts": "yes",
                 "speed_m_s": 1.0, "open_pa": row.open_pa, "direction": "out of the stair"}  # fmt: skip
        doors |= {
            force.field: 30.0 if force.expected_n is None else min(force.expected_n, (limits[force.field] or 100.0) - 12.0)
            for force in row.forces
        }
        found |= {f"{row.key} {name}": value for name, value in doors.items() if name in row.asked}
    return found


def typed(panel, values):
    for name, value in values.items():
        dimension = panel.sheet.fields[name][1]
        kept = value if isinstance(value, str) or not dimension else units.to_display(value, dimension, UNITS.system)
        panel.sheet.type(name, str(kept))


def book_of(panel, path, filled=None):
    write_acceptance_sheet(panel.expected, path, UNITS.system, filled=panel._filled() if filled is None else filled)
    return Book(path)


@pytest.fixture
def unwritten(monkeypatch):
    """Sheets are not written into a file and read again, which takes most of the time; they are where no test asks for this."""
    monkeypatch.setattr(Page, "save", lambda page, path: page.book)


@pytest.fixture
def headed_as(monkeypatch):
    """Heads pages with what the record of a demo site fails: a record of the changed site takes most of the time and says no more here."""
    return lambda name: monkeypatch.setattr("helpers.pages.acceptance.design_of", lambda same: design_of(name))


def book_in_hand(panel, filled=None):
    """As book_of, of a sheet that is not written."""
    filled = panel._filled() if filled is None else filled
    return Book(None, write_acceptance_sheet(panel.expected, None, UNITS.system, filled=filled))


def verdict(book):
    return book[f"B{book.find('Verdict of the sheet')}"]


def doors(book):
    """Verdict of every door, in order."""
    head = book.find("Door")
    letter = next(get_column_letter(place) for place in range(1, 60) if book.page.cell(head, place).value == "Verdict")
    rows = range(head + 1, book.find("Fan"))
    return [book[f"{letter}{row}"] for row in rows if book.page[f"{letter}{row}"].value]


def panels_doors(panel):
    words = {"": "NOT YET", "open": "NOT YET", "attention": "CHECK", "wrong": "FAIL", "good": "PASS"}
    values = panel.sheet.values()
    return [words[panel.expected.judge(row.key, panel._measured(values, row.key))[0]] for row in panel.expected.rows]


WORDS = {"good": "PASS", "attention": "CHECK", "open": "NOT YET", "wrong": "FAIL", "entry": "NOT YET"}


@pytest.fixture(scope="module")
def whole(light, tmp_path_factory):
    """A sheet that is all as it should be."""
    UNITS.system = "Pa"
    panel = AcceptancePanel(light, folder=tmp_path_factory.mktemp("kept"))
    typed(panel, {f"day {name}": value for name, value in MILD.items()})
    typed(panel, as_it_should_be(panel))
    return panel


@pytest.fixture
def filled(whole):
    """The same, put back after what a test types into it."""
    before = {name: whole.sheet.fields[name][0].value for name in whole.sheet.fields}
    yield whole
    UNITS.system = "Pa"
    for name, text in before.items():
        if whole.sheet.fields[name][0].value != text:
            whole.sheet.type(name, text)


def test_a_sheet_that_is_all_as_it_should_be_passes_in_both_and_says_for_which_weather_only(filled, tmp_path):
    assert WORDS[filled.sheet.line.verdict.kind] in ("PASS", "CHECK"), filled.sheet.line.verdict
    book = book_of(filled, tmp_path / "a.xlsx")
    assert doors(book) == panels_doors(filled)
    assert verdict(book) == WORDS[filled.sheet.line.verdict.kind] == "PASS"
    told = filled.sheet.line.verdict.words
    assert "for the weather of the day only. Worst day (winter, doors shut, first minute)" in told
    assert any("Worst day (winter" in str(cell.value) for cell in book.page["A"])


CHANGES = {
    "smoke into the stair": ({"4 direction": "into the stair"}, "FAIL"),
    "no air at the gap": ({"4 direction": "none"}, "CHECK"),
    "the pressure turns round with the doors open": ({"4 open_pa": "-5"}, "FAIL"),
    "nothing measured in round 2": ({"4 open_pa": "", "4 direction": ""}, "NOT YET"),
    "fan off left out": ({"4 off_n": ""}, "NOT YET"),
    "fan off past the limit": ({"4 off_n": "140"}, "FAIL"),
    "two gauges that disagree": ({"4 motion_n": "40"}, "CHECK"),
    "smoke asked and not seen": ({"4 direction": ""}, "NOT YET"),
    "minutes left out": ({"4 minutes": ""}, "NOT YET"),
    "minutes that are words": ({"4 minutes": "soon"}, "NOT YET"),
    "the end door not measured again": ({"13 later_pa": "", "13 later_minutes": ""}, "NOT YET"),
    "the end door measured again too soon": ({"13 later_minutes": "2"}, "NOT YET"),
    "the end door too light later": ({"0 later_pa": "20"}, "FAIL"),
    "the end door first measured late": ({"0 minutes": "9"}, "CHECK"),
    "a reading just short": ({"4 shut_pa": "24.99"}, "FAIL"),
    "a reading on the limit": ({"4 shut_pa": "25"}, "CHECK"),
    "a force just past": ({"4 width_n": "66.73"}, "FAIL"),
    "a force on the limit": ({"4 width_n": "66.7233242289075"}, "CHECK"),
    "a door that stands ajar": ({"4 shuts": "no"}, "FAIL"),
    "nobody tried whether it shuts": ({"4 shuts": ""}, "NOT YET"),
    "air the wrong way through the open door": ({"6 speed_m_s": "-0.4"}, "FAIL"),
    "no speed measured": ({"6 speed_m_s": ""}, "NOT YET"),
    "a strange reading": ({"4 shut_pa": "75"}, "CHECK"),
    "a strange reading at a door that is not done": ({"4 shut_pa": "75", "4 direction": ""}, "NOT YET"),
    "a name that is a space": ({"name": "  "}, "NOT YET"),
    "the alarm service not told before": ({"alarm service told before start and before smoke is used: time, name": ""}, "NOT YET"),
    "the fan not read": ({"round 1: fan speed": " "}, "NOT YET"),
    "no instrument named": ({"instruments, certificates": ""}, "NOT YET"),
    "a temperature of the day left out": ({"day floor_c": ""}, "NOT YET"),
    "air that hardly goes out through the open door": ({"6 speed_m_s": "0.2"}, "CHECK"),
    "a wind left out": ({"day wind_speed_m_s": ""}, "NOT YET"),
    "a deficiency that is open": ({"deficiency 2": "closer of storey 4, Ada"}, "NOT YET"),
    "a deficiency tested again": ({"deficiency 2": "closer of storey 4", "deficiency 2 tested again, date": "3 May"}, "PASS"),
    "fail and incomplete": ({"4 shut_pa": "20", "4 direction": ""}, "FAIL"),
    "a damper that opens later than any tried": ({"relief damper opens at": "70"}, "FAIL"),
    "a damper that opens too soon": ({"relief damper opens at": "40"}, "CHECK"),
    "a damper that does not seat": ({"relief damper: blade seen to open and to seat": "no"}, "FAIL"),
    "a damper that nobody looked at": ({"relief damper: blade seen to open and to seat": ""}, "NOT YET"),
    "an override beyond what the doors bear": ({"fire service's panel at ON: fan speed": "55"}, "FAIL"),
    "an override in words": ({"fire service's panel at ON: fan speed": "full"}, "NOT YET"),
    "a force at the override past its limit": ({"fire service's panel at ON: most force at a door": "130"}, "FAIL"),
    "a fan that stays off": ({"mains back: the fan starts by itself": "no"}, "FAIL"),
    "a standby that comes late": ({"mains off: pressure on standby power": "90"}, "CHECK"),
    "the time from alarm to pressure not clocked": ({"alarm to pressure": ""}, "NOT YET"),
    "pressure late after the alarm": ({"alarm to pressure": "61"}, "CHECK"),
    "something that is no number": ({"4 shut_pa": "forty"}, "NOT YET"),
}  # fmt: skip


@pytest.mark.parametrize(("what", "system"), [(what, units.SYSTEMS[place % 2]) for place, what in enumerate(CHANGES)])
def test_the_spreadsheet_never_passes_what_the_panel_does_not(filled, unwritten, what, system):
    changes, word = CHANGES[what]
    if "motion_n" in str(changes):
        assert filled.expected.row(4).force_n > 60.0
    for name, text in changes.items():
        filled.sheet.type(name, text)
    UNITS.system = system
    book = book_in_hand(filled)
    assert doors(book) == panels_doors(filled)
    assert verdict(book) == WORDS[filled.sheet.line.verdict.kind] == word


def test_a_mild_day_passes_nothing_that_fails_in_winter_and_each_door_has_its_worst_figure_beside_it(headed_as, tmp_path):
    headed_as("Tannery Row")
    site = read_site(demo_sites()["Tannery Row"]).with_changes(control={"set_point_pa": 28.0})
    panel = AcceptancePanel(site, "mild", tmp_path)
    typed(panel, {f"day {name}": value for name, value in MILD.items()})
    typed(panel, as_it_should_be(panel))
    typed(panel, {f"{place} speed_m_s": 2.0 for place in panel.expected.open_doors})
    said = panel.sheet.line.verdict
    assert WORDS[said.kind] == "CHECK", said
    assert "0 FAIL" in said.words
    assert "storey 0, 22.6 Pa expected, at least 25 Pa" in said.words
    assert "FAIL in the record" in said.words
    assert "22.6 Pa FAIL (winter, first minute)" in panel.sheet.verdicts[0].value
    panel.export(tmp_path / "a.html")
    assert "22.6 Pa FAIL (winter, first minute)" in (tmp_path / "a.html").read_text(encoding="utf-8")
    book = book_of(panel, tmp_path / "a.xlsx")
    assert verdict(book) == "CHECK"
    column = next(cell.column_letter for cell in book.page[book.find("Door")] if cell.value == "Worst of all weathers, doors shut")
    assert "22.6 Pa FAIL" in book[f"{column}{book.find('Door') + 1}"]


@pytest.mark.parametrize(
    "bar", [{"before_loop": "the set point"}, {"speed_hz": (24.0, 50.0), "ceiling": Ceiling(30.0, 50.0, False, False, "")}]
)
def test_a_round_that_is_not_run_holds_the_panel_and_the_spreadsheet_at_not_yet(filled, bar, monkeypatch, tmp_path):
    assert WORDS[filled.sheet.line.verdict.kind] == "PASS"
    monkeypatch.setattr(filled, "expected", replace(filled.expected, **bar))
    said = filled._whole(filled.sheet.values())
    assert WORDS[said.kind] == verdict(book_of(filled, tmp_path / "barred.xlsx")) == "NOT YET"
    assert "NOT RUN while" in written_out(said.words)


def test_an_empty_sheet_and_one_on_paper_filled_in_a_spreadsheet_say_the_same(light, filled, tmp_path):
    empty = book_of(filled, tmp_path / "empty.xlsx", {})
    assert verdict(empty) == "NOT YET"
    full = book_of(filled, tmp_path / "full.xlsx")
    for row in full.page.iter_rows():
        for cell in row:
            if not cell.protection.locked and cell.value is not None:
                empty.type(cell.coordinate, cell.value)
    assert verdict(empty) == "PASS"
    empty.type(f"B{empty.find('outdoors')}", 9.0)  # another day than the figures are made for
    assert verdict(empty) == "NOT YET"  # what hangs on the weather cannot be judged by these figures


def test_older_forces_at_the_handle_hold_the_spreadsheet_back_as_they_do_the_panel(filled, tmp_path):
    filled.sheet.type("4 force_n", "140")
    assert verdict(book_of(filled, tmp_path / "a.xlsx")) == "FAIL" == WORDS[filled.sheet.line.verdict.kind]


@pytest.mark.parametrize("standard", ["en12101", "en12101_13_2022", "nfpa92"])
@pytest.mark.parametrize("name", sorted(demo_sites()))
def test_doors_that_read_as_expected_are_judged_alike_by_every_standard_in_every_building(name, standard, unwritten, tmp_path):
    site = read_site(demo_sites()[name]).with_changes(standard=standard)
    panel = AcceptancePanel(site, next(iter(site.weather)), tmp_path / "kept")
    values = {key: value for key, value in as_it_should_be(panel).items() if not key.startswith("day ")}
    measured = {row.key: panel._measured(values, row.key) for row in panel.expected.rows}
    words = {"open": "NOT YET", "attention": "CHECK", "wrong": "FAIL", "good": "PASS"}
    asked = [words[panel.expected.judge(key, one)[0]] for key, one in measured.items()]
    book = book_in_hand(panel, values)
    assert doors(book) == asked
    assert verdict(book) != "PASS"  # no day is stated


def test_no_formula_is_longer_than_a_spreadsheet_takes(filled, tmp_path):
    book = book_of(filled, tmp_path / "a.xlsx")
    assert max(len(str(cell.value)) for row in book.page.iter_rows() for cell in row if cell.data_type == "f") < 8192


def test_the_first_block_is_told_before_start_and_the_door_stays_in_view(filled, tmp_path):
    book = book_of(filled, tmp_path / "a.xlsx")
    blocks = [book.find(title) for title in ("Told before start", "Weather of the day", "Door", "Fan", "Deficiencies", "Given back")]
    assert blocks == sorted(blocks)
    assert book.page.freeze_panes == "B1"


@pytest.fixture(scope="module")
def injected_whole(tmp_path_factory):
    """A sheet of a site of which all is laid down, every signal read and right."""
    UNITS.system = "Pa"
    panel = InjectionPanel(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS), tmp_path_factory.mktemp("kept"))
    for number, row in enumerate(panel.plan.shown_pa[0], 1):
        for place, value in enumerate(row, 1):
            panel.sheet.type(f"point {number} display {place} as found", repr(float(value)))
    for number in range(1, len(panel.steps) + 1):
        panel.sheet.type(f"step {number} as found", "as it must")
    for line in [name for name in panel.sheet.fields if not re.match(r"point|step|as ", name)]:
        panel.sheet.type(line, "done")
    return panel


@pytest.fixture
def injected(injected_whole):
    """A sheet with every signal read and right, put back after what a test types into it."""
    before = {name: field[0].value for name, field in injected_whole.sheet.fields.items()}
    yield injected_whole
    for name, text in before.items():
        if injected_whole.sheet.fields[name][0].value != text:
            injected_whole.sheet.type(name, text)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({}, "PASS"),
        ({"point 1 display 1 as left": "as found"}, "NOT YET"),
        ({"step 2 as left": "as it must"}, "NOT YET"),
        ({"step 2 as found": "otherwise"}, "FAIL"),
        ({"point 1 display 1 as found": "70"}, "FAIL"),
        ({"point 1 display 1 as found": ""}, "NOT YET"),
        ({"name": " "}, "NOT YET"),
        ({"person at the manual switch: name": ""}, "NOT YET"),
        ({"calibrator, certificate": ""}, "NOT YET"),
    ],
)
def test_the_injection_spreadsheet_never_passes_what_the_panel_does_not(injected, tmp_path, changes, word):
    for name, text in changes.items():
        found = injected.sheet.fields[name.replace("left", "found")][0].value
        injected.sheet.type(name, found if text == "as found" else text)
    injected.export(tmp_path / "i.xlsx")
    assert verdict(Book(tmp_path / "i.xlsx")) == WORDS[injected.sheet.line.verdict.kind] == word


def test_every_injected_step_says_manual_or_auto_and_one_place_for_the_person(injected):
    told = [parts[1] for key, parts in injected.sheet.rows.items() if key[1] and not isinstance(parts, str)]  # the closing lines are texts
    assert set(told) == {"MANUAL", "AUTO"}
    assert [step.fan for step in injected.steps[:3]] == ["AUTO"] * 3
    caution = " ".join((*injected.before, injected.wire_off, injected.after))
    assert caution.count("One person") == 1
    assert "building, alarm service and fire service told; then left in AUTOMATIC with time, name and signature" in caution
    assert "no wire is moved in a live panel" in caution
    assert "Fan in manual" not in caution


def test_what_was_typed_is_in_the_page_too(filled, headed_as, tmp_path):
    headed_as("Larkfield House")
    filled.export(tmp_path / "a.html")
    text = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert f"{filled.expected.row(4).off_n:.1f} N" in text
    assert "PASS: 0 FAIL" in text
    assert text.count("deficiency ") == DEFICIENCIES
    assert all(label in text for label, _ in OF_THE_DAY.values())
