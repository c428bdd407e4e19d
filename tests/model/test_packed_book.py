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
