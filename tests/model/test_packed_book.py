"""The door of spreadsheets from outside: small files that a reader would work on for minutes are refused by all three of our readers."""

import io
import zipfile

import pytest
from openpyxl import Workbook

from helpers.model.files import FileTextError
from helpers.model.packed_book import BookLimits, refuse_endless
from helpers.record.settings.entered import LIMITS, read_list
from helpers.studies.commissioning.filled_file import grids_of
from helpers.studies.measured.trends.trend import shape_of

READERS = read_list, shape_of, grids_of
SHEETS, SHEET = "xl/workbook.xml", "xl/worksheets/sheet1.xml"


def book(tmp_path, sheets=1, rows=3, **spoilt):
    """Path of a book; spoilt: {part: what becomes of its bytes}."""
    made, held = Workbook(), io.BytesIO()
    for number in range(sheets):
        sheet = made.active if not number else made.create_sheet()
        for row in [("What", "Setting", "Value"), *(("loop", "set point", 30 + k) for k in range(rows))]:
            sheet.append(row)
    made.save(held)
    with zipfile.ZipFile(held) as whole, zipfile.ZipFile(tmp_path / "a.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        for part in whole.namelist():
            packed.writestr(part, spoilt.get(part, lambda raw: raw)(whole.read(part)))
    return tmp_path / "a.xlsx"


def one_part_many_times(raw):
    """The one sheet, named again and again."""
    begin, end = raw.index(b"<sheet "), raw.index(b"</sheets>")
    return raw[:end] + raw[begin:end] * 2 + raw[end:]


def under(prefix):
    """A sheet that is named 200 times under a namespace's prefix of its own, as a reader reads it."""
    named = f'<{prefix}:sheet xmlns:{prefix}="http://schemas.openxmlformats.org/spreadsheetml/2006/main" name="a" sheetId="1"/>'
    return {SHEETS: lambda raw: raw.replace(b"</sheets>", named.encode() * 200 + b"</sheets>")}


SPOILT = {
    "names 3 sheets and has 1": {SHEETS: one_part_many_times},
    "sheets at the most": {SHEETS: lambda raw: raw.replace(b"</sheets>", b"<sheet/>" * 200 + b"</sheets>")},
    "must unpack to 10000000 bytes": {SHEET: lambda raw: raw + b" " * 11_000_000},
    "texts at the most": {SHEET: lambda raw: raw.replace(b"</sheetData>", b"<si/>" * 500_001 + b"</sheetData>")},
    "declares entities": {SHEET: lambda raw: b'<!DOCTYPE a [<!ENTITY b "c">]>' + raw},
    "other letters": {SHEET: lambda raw: raw.decode().encode("utf-16-le")},
    "other letters than UTF-8": {SHEET: lambda raw: raw.decode().encode("utf-16")},
}


@pytest.mark.parametrize("said", SPOILT)
@pytest.mark.parametrize("read", READERS)
def test_a_small_file_that_has_no_end_is_refused_before_its_cells_are_asked_for(read, said, tmp_path, monkeypatch):
    monkeypatch.setattr("openpyxl.reader.excel.ExcelReader.read", lambda reader: pytest.fail("was unpacked"))
    with pytest.raises(FileTextError, match=said):
        read(book(tmp_path, **SPOILT[said]))


@pytest.mark.parametrize("prefix", ["plain", "Tür", "a-b.c"])
@pytest.mark.parametrize("read", READERS)
def test_sheets_under_a_prefix_in_any_letters_are_counted(read, prefix, tmp_path, monkeypatch):
    monkeypatch.setattr("openpyxl.reader.excel.ExcelReader.read", lambda reader: pytest.fail("was unpacked"))
    with pytest.raises(FileTextError, match="sheets at the most"):
        read(book(tmp_path, **under(prefix)))


def test_every_limit_is_one_of_what_the_file_holds(tmp_path):
    raw = book(tmp_path, sheets=3, **{SHEET: lambda raw: raw + b"<si><t>a</t></si>" * 9}).read_bytes()
    found = BookLimits(unpacked=100_000, parts=20, sheets=3, texts=20, elements=2_000)
    refuse_endless("a.xlsx", raw, found)
    for less in ({"unpacked": 5}, {"parts": 5}, {"sheets": 2}, {"texts": 3}, {"elements": 50}):
        with pytest.raises(FileTextError, match="at the most, got"):
            refuse_endless("a.xlsx", raw, found._replace(**less))


def test_a_long_list_and_a_head_without_rows_pass_the_door(tmp_path):
    assert len(read_list(book(tmp_path, sheets=2, rows=900)).lines) == 1_800
    refuse_endless("a.xlsx", book(tmp_path, rows=20_000).read_bytes(), LIMITS)
    with pytest.raises(ValueError, match="must hold a row of headings"):
        shape_of(book(tmp_path, rows=1))


def styles_without_end(raw):
    """A hundred thousand looks of a cell: a reader made each of them, some minutes for a file of some kilobytes."""
    return raw.replace(b"</cellXfs>", b"<xf/>" * 100_000 + b"</cellXfs>")


def names_without_end(raw):
    return raw.replace(
        b"</workbook>", b"<definedNames>" + b'<definedName name="a">A1</definedName>' * 50_001 + b"</definedNames></workbook>"
    )


@pytest.mark.parametrize(("part", "spoil"), [("xl/styles.xml", styles_without_end), (SHEETS, names_without_end)])
@pytest.mark.parametrize("read", READERS)
def test_looks_and_names_without_end_are_refused_whatever_a_book_may_hold_in_cells(read, part, spoil, tmp_path, monkeypatch):
    monkeypatch.setattr("openpyxl.reader.excel.ExcelReader.read", lambda reader: pytest.fail("was unpacked"))
    with pytest.raises(FileTextError, match="must hold 100000 elements beside its cells at the most"):
        read(book(tmp_path, **{part: spoil}))


@pytest.mark.parametrize("read", READERS)
def test_a_workbook_under_another_name_is_counted_by_the_kind_that_the_book_says_it_is_of(read, tmp_path, monkeypatch):
    monkeypatch.setattr("openpyxl.reader.excel.ExcelReader.read", lambda reader: pytest.fail("was unpacked"))
    with zipfile.ZipFile(book(tmp_path)) as made:
        parts = {name: made.read(name) for name in made.namelist()}
    parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace(b"/xl/workbook.xml", b"/xl/worksheets/sheet9.xml")
    parts["xl/worksheets/sheet9.xml"] = names_without_end(parts.pop(SHEETS))
    with zipfile.ZipFile(tmp_path / "b.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        for name, raw in parts.items():
            packed.writestr(name, raw)
    with pytest.raises(FileTextError, match="elements beside its cells"):
        read(tmp_path / "b.xlsx")


@pytest.mark.parametrize("read", READERS)
def test_a_book_packed_in_another_way_or_without_its_parts_is_told_in_a_sentence(read, tmp_path):
    path = book(tmp_path)
    with zipfile.ZipFile(path) as made:
        parts = {name: made.read(name) for name in made.namelist()}
    for way in (zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2):
        with zipfile.ZipFile(path, "w", way) as packed:
            for name, raw in parts.items():
                packed.writestr(name, raw)
        with pytest.raises(FileTextError, match="is packed in another way than spreadsheets are"):
            read(path)
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("xl/workbook.xml", parts["xl/workbook.xml"])
    with pytest.raises(FileTextError, match="is no"):
        read(path)
