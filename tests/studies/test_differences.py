"""Somebody's list of settings against the schedule: each kind of line, each kind of file; what cannot be read is told with its place."""

import re
import zipfile

import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from helpers.model.files import FileTextError
from helpers.model.site.file import SITES_FOLDER
from helpers.record.sections.signed import design_schedule
from helpers.record.settings.differences import DANGEROUS, MISSING, NOT_ENTRIES, OTHER, SAME, as_list, differences, held_list
from helpers.record.settings.entered import EnteredLine, EnteredList, read_list
from helpers.record.settings.figures import differ, doubt, other_way_round, quantities
from helpers.record.settings.pages import differences_page, write_blank_list, write_differences_sheet
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def laid_down():
    return design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS))


def held(design, *lines):
    """What stands against each line, by (group, name): (kind, why)."""
    entered = EnteredList("list", tuple(EnteredLine(*line, "here") for line in lines), ())
    found = differences(design, entered)
    return {(one.ours.group, one.ours.name): (one.kind, one.why) for one in found.lines}, found


def test_a_record_against_itself_is_the_same_but_where_it_fails_or_is_open(laid_down):
    found = differences(laid_down, as_list(laid_down))
    assert not found.not_ours
    assert not found.count(MISSING)
    for line in found.lines:
        settled = not line.ours.value.startswith(("FAIL", "not laid down", "to be agreed", "to be read off", "not stated"))
        assert (line.kind == SAME) == settled, line


def test_a_failed_value_is_dangerous_and_never_same():
    design = design_of("Larkfield House")
    found = differences(design, as_list(design))
    failed = [line for line in found.lines if line.ours.value.startswith("FAIL")]
    assert len(failed) > 2
    assert all(line.kind == DANGEROUS for line in failed)
    first = [line for line in found.lines if line.ours.value.startswith("not laid down")]
    assert first
    assert all(line.kind == OTHER for line in first)


@pytest.mark.parametrize(
    ("group", "name", "value", "kind"),
    [
        ("loop", "set point", "0.14 in. w.c.", SAME), ("loop", "set point", "35", SAME), ("loop", "set point", "60 Pa", DANGEROUS),
        ("loop", "set point", "35 s", DANGEROUS), ("loop", "action", "Reverse", SAME), ("loop", "action", "direct", DANGEROUS),
        ("loop", "sample time", "100 ms", SAME), ("loop", "sample time", "2 s", DANGEROUS), ("loop", "sample time", "0.02 s", OTHER),
        ("loop", "derivative time", "off", SAME), ("loop", "derivative time", "1 s", DANGEROUS), ("PDT-1", "filter time", "0,5 s", SAME),
        ("PDT-1", "filter time", "3 s", DANGEROUS), ("PDT-1", "signal type", "0-10 V", DANGEROUS),
        ("PDT-1", "display at the high end of the signal", "0.40 in. w.c. at 20 mA", SAME),
        ("PDT-1", "display at the high end of the signal", "250 Pa at 20 mA", DANGEROUS),
        ("PDT-1", "lag of its tubes", "0.1 s", SAME), ("PDT-1", "lag of its tubes", "4 s", DANGEROUS),
        ("fan", "ramp up", "2 s between standstill and 50 Hz", DANGEROUS), ("fan", "lowest speed", "12 Hz", OTHER),
        ("low demand", "low-demand stop", "below 15 Hz for 60 s", DANGEROUS), ("low demand", "low-demand stop", "none", SAME),
        ("PDT-1", "signal failed", "3.6 / 21 mA", SAME), ("PDT-1", "signal failed", "3.6 mA or 24 mA", DANGEROUS),
        ("loop", "integral at the ends of the output", "growing there", DANGEROUS),
        ("loop", "integral at the ends of the output", "stops growing", SAME),
        ("fan", "manual override, fire alarm input", "the loop", DANGEROUS),
        ("loop", "set point", "35 Pa, 20 Pa at night", OTHER), ("loop", "sample time", "0.1 s, disabled", DANGEROUS),
        ("fan", "restart after the mains come back", "not automatic", DANGEROUS),
        ("PDT-1", "where it reads", "storey 4, high side the floor, low side the stair", DANGEROUS),
        ("PDT-1", "signal failed", "below 3.6 mA", DANGEROUS), ("PDT-1", "signal failed", "above 3.6 mA or below 21 mA", DANGEROUS),
        ("failure", "every reading failed", "stop the fan", DANGEROUS), ("failure", "on a failed reading", "fan off", DANGEROUS),
        ("fan", "ramp up", "6 s", OTHER),
        ("loop", "set point", "35.0 bananas", DANGEROUS), ("loop", "set point", "35.0k", DANGEROUS),
        ("loop", "set point", "35.0,000", DANGEROUS), ("loop", "set point", "0 kPa", DANGEROUS), ("loop", "set point", "3.5e1 Pa", SAME),
        ("loop", "set point", "35.0 Pascal", SAME), ("loop", "sample time", "0.1e6 s", DANGEROUS),
        ("loop", "sample time", "0.10 sec", SAME), ("PDT-1", "filter time", "0 h", OTHER),
        ("PDT-1", "filter time", "0.5e9 x", DANGEROUS), ("PDT-1", "filter time", "1e400", DANGEROUS),
        ("PDT-1", "lag of its tubes", "0.1 bananas", DANGEROUS), ("PDT-1", "signal failed", "below or above", DANGEROUS),
        ("fan", "ramp up", ".6 s between standstill and 50 Hz", DANGEROUS),
        ("combining", "which reading runs the loop", "Average", SAME), ("failure", "alarm on PDT-1", "off", DANGEROUS),
    ],
)  # fmt: skip
def test_each_line_is_of_its_kind(laid_down, group, name, value, kind):
    by_line, _ = held(laid_down, (group, name, value))
    assert by_line[group, name][0] == kind, by_line[group, name]


def test_a_bare_number_that_agrees_says_in_which_unit_it_was_taken(laid_down):
    by_line, _ = held(laid_down, ("loop", "set point", "35"), ("loop", "sample time", "100 ms"))
    assert by_line["loop", "set point"] == (SAME, "35 (taken in Pa)")
    assert by_line["loop", "sample time"] == (SAME, "")


@pytest.mark.parametrize(
    ("theirs", "ours", "says"),
    [
        ("455 psi", "455 % of that span", "455 psi: its unit is not known"), ("0.22*10", "0.22 %", "not known"),
        ("35,000 Pa", "35.0 Pa", "two ways"), ("1.2.3", "1.2 s", "two ways"), ("1e400 s", "0.5 s", "beyond all numbers"),
        ("35.0 in", "35.0 Pa", "35.0 in: its unit is not known"), ("0,5 s", "0.5 s", ""),
        ("3.6 / 21 mA", "below 3.60 or above 21.00 mA", ""),
        ("0.22 of full speed", "0.22 % of full speed", ""), ("storey 4 high", "storey 4: high side the stair", ""),
        ("3.50 m3/s", "3.50 m³/s", ""), ("50 hertz, 10 sec", "50 Hz, 10 s", ""),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_taken_for_what_it_seems_is_told(theirs, ours, says):
    told = doubt(theirs, ours)
    assert says in told
    assert bool(told) == bool(says)


@pytest.mark.parametrize(
    ("theirs", "ours", "apart"),
    [
        ("0 kPa", "35.0 Pa", True), ("0 min", "0.82 s", True), ("1 s", "0.82 s", True), ("0.8 s", "0.82 s", False),
        ("0.14 in. w.c.", "35.0 Pa", False), ("0.22e3 %", "0.22 %", True), ("0 Pa", "0 Pa", False), ("1e400 s", "0.5 s", True),
    ],
)  # fmt: skip
def test_a_rough_figure_is_ours_only_within_a_twentieth_and_none_is_never_a_figure(theirs, ours, apart):
    assert differ(*quantities(ours), *quantities(theirs)) == apart


def test_a_gain_is_held_by_what_the_fan_does_for_a_pascal(laid_down):
    tuned = laid_down.tuned
    same, _ = held(laid_down, ("loop", "gain", f"{2 * tuned.gain:.4f} % of a span of 250 Pa"))
    assert same["loop", "gain"][0] == SAME
    band, _ = held(laid_down, ("loop", "proportional band", f"{100 / tuned.gain:.3g} %"))
    assert band["loop", "or proportional band"][0] == SAME
    assert ("loop", "gain") not in band, "one of the two ways is enough"


def test_the_record_itself_judges_a_gain_that_swings(laid_down):
    by_line, _ = held(laid_down, ("loop", "gain", f"{8 * laid_down.tuned.gain:.3g}"))
    kind, why = by_line["loop", "gain"]
    assert kind == DANGEROUS
    assert why.startswith("judged by the record")


def test_a_setting_that_stands_twice_and_a_stranger_are_told(laid_down):
    by_line, found = held(laid_down, ("loop", "action", "reverse"), ("loop", "action", "direct"), ("failure", "fall back speed", "30 Hz"))
    assert by_line["loop", "action"][0] == DANGEROUS
    assert "twice" in by_line["loop", "action"][1]
    assert [(one.line.name, one.near) for one in found.not_ours] == [("fall back speed", "failure / fallback speed")]


def test_every_line_that_is_not_given_is_missing(laid_down):
    _, found = held(laid_down, ("loop", "action", "reverse"))
    asked = [line for line in design_schedule(laid_down) if line.name not in NOT_ENTRIES]
    assert found.count(MISSING) == len(asked) - 1


FILES = {
    "a.csv": "What;Setting;Value\nloop;set point;0,14 in. w.c.\n;action;direct\n;gain;\n",
    "b.toml": '[loop]\n"set point" = "0.14 in. w.c."\naction = "direct"\ngain = ""\n',
    "c.md": "# loop\n- set point: 0.14 in. w.c.\n- action = direct\nwritten at night\n",
    "d.txt": "[loop]\nloop / set point: 0.14 in. w.c.\naction: direct\n???\n",
}


NOT_READ = {"c.md": ["c.md, line 4"], "d.txt": ["d.txt, line 4"]}  # a blank value is a missing setting, not a mistake


@pytest.mark.parametrize("name", FILES)
def test_every_kind_of_file_reads_alike_and_tells_what_it_cannot(name, tmp_path):
    (tmp_path / name).write_text(FILES[name], encoding="utf-8")
    found = read_list(tmp_path / name)
    assert [(line.group, line.name) for line in found.lines] == [("loop", "set point"), ("loop", "action")]
    assert quantities(found.lines[0].value)[0].value == pytest.approx(34.87, abs=0.01)
    assert [sentence.split(" has no setting")[0] for sentence in found.not_read] == NOT_READ.get(name, [])


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("a.csv", "1;2\n3;4\n", "row of heads"), ("a.toml", "= 3", "no TOML"), ("a.csv", "What;Setting;Value\n", "holds no line"),
        ("a.toml", f"[loop]\n{'a.' * 20_000}a = 1\n", "letters at the most.* in line 2"),
        ("a.toml", "[x]\na.b.c.d.e = 1\n", "keys of 4 parts"),
        ("a.csv", f'What,Setting,Value\nloop,set point,"{"a" * 140_000}"\n', "no table from line 2 on: field larger"),
        ("a.xlsx", "no book", "spreadsheet"), ("a.doc", "x", "its name must end in"), ("a.txt", "\n", "holds no line"),
    ],
)  # fmt: skip
def test_a_file_of_which_nothing_can_be_read_is_refused(name, content, says, tmp_path):
    (tmp_path / name).write_text(content, encoding="utf-8")
    with pytest.raises(FileTextError, match=says):
        read_list(tmp_path / name)


def test_an_endless_key_is_refused_before_it_is_understood(tmp_path, monkeypatch):
    (tmp_path / "a.toml").write_text(f"{'a.' * 20_000}a = 1\n", encoding="utf-8")
    monkeypatch.setattr("tomllib.loads", lambda text: pytest.fail("was read as TOML"))
    with pytest.raises(FileTextError, match="lines of 3000 letters"):
        held_list(tmp_path / "a.toml")


def test_a_bare_carriage_return_ends_a_line_of_a_table(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"What,Setting,Value\rloop,set point,35 Pa\r")
    assert [line.value for line in read_list(tmp_path / "a.csv").lines] == ["35 Pa"]
    (tmp_path / "a.csv").write_bytes(b"What,Setting,Value\nloop,set\rpoint,1\n")
    with pytest.raises(FileTextError, match="holds no line"):
        read_list(tmp_path / "a.csv")


def test_nothing_of_a_toml_list_is_lost_without_a_word(tmp_path):
    (tmp_path / "a.toml").write_text(
        '[loop]\n"set point" = "35 Pa"\ngain = [9.0]\n"sample time" = 00:00:01\n[night.stop]\n"low-demand stop" = "on signal lost"\n'
        '[[transmitter]]\nname = "PDT-1"\n', encoding="utf-8",
    )  # fmt: skip
    found = read_list(tmp_path / "a.toml")
    assert [line.name for line in found.lines] == ["set point"]
    wanted = (
        "[loop] gain is a list",
        "[loop] sample time is a date or time",
        "[night] stop is a table",
        "[transmitter] transmitter is a list",
    )
    assert [said for said, one in zip(wanted, found.not_read, strict=True) if said in one] == list(wanted)


@pytest.mark.parametrize(("row", "column", "says"), [(2500, 3, "below row 2001, in row 2500"), (2, 41, "right of column 40")])
def test_a_formula_and_what_stands_beyond_the_cells_looked_at_are_told(row, column, says, tmp_path):
    book = Workbook()
    for line in (("What", "Setting", "Value"), ("loop", "set point", "35 Pa"), ("loop", "gain", "=0.22*40")):
        book.active.append(line)
    book.active.cell(row, column, "on lost signal, at night")
    book.save(tmp_path / "a.xlsx")
    found = read_list(tmp_path / "a.xlsx")
    assert [line.name for line in found.lines] == ["set point"]
    assert [says in one for one in found.not_read] == [True, False]
    assert "row 3 holds a formula, not read" in found.not_read[1]


@pytest.mark.parametrize("far", ["A999999999999", "XFD1048576"])
def test_a_cell_in_a_row_beyond_all_sheets_is_told_and_not_walked_to(far, tmp_path):
    book, path = Workbook(), tmp_path / "a.xlsx"
    for line in (("What", "Setting", "Value"), ("loop", "set point", "35 Pa")):
        book.active.append(line)
    book.save(path)
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    row = f'<row r="{far.lstrip("AXFD")}"><c r="{far}"><v>1</v></c></row></sheetData>'
    parts["xl/worksheets/sheet1.xml"] = parts["xl/worksheets/sheet1.xml"].replace(b"</sheetData>", row.encode())
    with zipfile.ZipFile(path, "w") as packed:
        for name, raw in parts.items():
            packed.writestr(name, raw)
    walked, give = [0], ReadOnlyWorksheet.iter_rows

    def counted(sheet, **asked):
        for one in give(sheet, **asked):
            walked[0] += 1
            assert walked[0] < 100_000
            yield one

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ReadOnlyWorksheet, "iter_rows", counted)
        found = read_list(path)
    assert [line.name for line in found.lines] == ["set point"]
    assert "what stands below row 2001, as far down as row 20000 or further is not read" in found.not_read[0]


def test_what_stands_right_is_told_whatever_size_a_sheet_says_it_has(tmp_path):
    book, path = Workbook(), tmp_path / "a.xlsx"
    for line in (("What", "Setting", "Value"), ("loop", "set point", "35 Pa")):
        book.active.append(line)
    book.active.cell(2, 60, "on lost signal, at night")
    book.save(path)
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    parts["xl/worksheets/sheet1.xml"] = re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:C2"', parts["xl/worksheets/sheet1.xml"])
    with zipfile.ZipFile(path, "w") as packed:
        for name, raw in parts.items():
            packed.writestr(name, raw)
    assert "right of column 40" in read_list(path).not_read[0]


def test_the_blank_list_comes_back_filled_in_and_the_sheets_are_written(laid_down, tmp_path):
    path = write_blank_list(laid_down, tmp_path / "blank.xlsx")
    book = load_workbook(path)
    rows = {(row[0].value, row[1].value): row for row in book.active.iter_rows(max_col=3)}
    rows["loop", "set point"][2].value, rows["loop", "action"][2].value = "35 Pa", "direct"
    book.save(path)
    found = differences(laid_down, read_list(path))
    assert {line.ours.name: line.kind for line in found.lines if line.theirs} == {"set point": SAME, "action": DANGEROUS}
    sheet = load_workbook(write_differences_sheet(written_out(found), tmp_path / "found.xlsx")).active
    assert any(cell.value == DANGEROUS for row in sheet.iter_rows() for cell in row)
    for system in ("Pa", "in. w.c."):
        page = differences_page(written_out(found, system))
        assert found.list_name in page
        assert "direct" in page
        assert ("35.0 Pa" in page) == (system == "Pa")


def test_another_sites_file_is_held_by_its_own_record(laid_down, monkeypatch, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text((SITES_FOLDER / "tannery_row.toml").read_text(encoding="utf-8").replace('set_point = "35 Pa"', 'set_point = "30 Pa"'))
    monkeypatch.setattr("helpers.record.settings.differences.Design", lambda site: design_for(site))
    entered = held_list(other)
    assert entered.name == "record of Tannery Row"
    by_line = {line.ours.name: line for line in differences(laid_down, entered).lines}
    assert by_line["set point"].kind != SAME
    assert by_line["signal type"].kind == SAME


def test_a_stop_that_smoke_control_never_has_is_dangerous_in_whatever_line_it_stands(laid_down):
    lines = [
        ("failure", "all transmitters lost", "stop the fan"),
        ("fan", "night stop", "22:00 to 06:00"),
        ("fan", "night stop of the fan", "none"),
        ("fan", "sensors dead", "never stops"),
        ("fan", "colour of the panel", "grey"),
    ]
    _, found = held(laid_down, *lines)
    assert [bool(one.danger) for one in found.not_ours] == [True, True, False, False, False]
    assert found.count(DANGEROUS) == 2
    assert [row[0].partition(":")[0] for row in found.strangers().rows] == [DANGEROUS] * 2 + ["nobody"] * 3


def test_what_the_record_fails_is_not_mended_by_a_worse_value():
    """Tannery Row as it stands: its highest speed fails for its doors, and no way of falling back holds."""
    lines = [
        ("fan", "highest speed in smoke control", "50 Hz"),
        ("failure", "on a failed reading", "keep the speed"),
        ("loop", "integral time", "0.5 s"),
    ]
    by_line, _ = held(design_of("Tannery Row"), *lines)
    kinds = {name: kind for (_, name), (kind, _) in by_line.items()}
    assert kinds["highest speed in smoke control"] == kinds["on a failed reading"] == kinds["integral time"] == DANGEROUS
    assert "as entered" in by_line["loop", "integral time"][1]


def test_every_figure_that_differs_is_named(laid_down):
    ours = next(line for line in as_list(laid_down).lines if line.name == "alarm on PDT-1")
    low, high, *_ = quantities(ours.value)
    by_line, _ = held(
        laid_down, ("failure", "alarm on PDT-1", ours.value.replace(low.text.split()[0], "5.0", 1).replace(high.text.split()[0], "90.0", 1))
    )
    assert "5.0" in by_line["failure", "alarm on PDT-1"][1]
    assert "90.0" in by_line["failure", "alarm on PDT-1"][1]


@pytest.mark.parametrize(
    ("theirs", "turned"),
    [
        ("high side the stair", False),
        ("stair high, floor low", False),
        ("low side the floor, high side the stair", False),
        ("high side the floor, low side the stair", True),
        ("floor high", True),
    ],
)
def test_sides_that_change_places_are_seen_in_any_order_of_words(theirs, turned):
    assert other_way_round("storey 4: high side the stair, low side the floor", theirs) == turned
