"""What the first version wrote is read today, and says the same.

`first` was made by the code of that version (f27eaed6), of invented people and buildings: site files and strategies, two files of its
guided page, a learner's record with every exercise answered at seat 7, a case of the fault bench, both sheets filled in, and the export.
"""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from helpers.classroom.table import class_table
from helpers.fault_bench.record import BenchRecord
from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.acceptance import AcceptancePanel
from helpers.pages.injection import InjectionPanel
from helpers.teaching.record import LearnerRecord, read_export

FIRST = Path(__file__).parent / "first"
EXPORT = FIRST / "learner_export.json"
CODE, SEAT = "invented-class", 7


@pytest.fixture
def folder(tmp_path):
    """A learner's folder as the first version left it."""
    for name in ("learner.sqlite", "sheets.sqlite"):
        shutil.copy(FIRST / name, tmp_path / name)
    return tmp_path


@pytest.mark.parametrize("path", sorted((FIRST / "sites").glob("*.toml")), ids=lambda path: path.stem)
def test_its_site_files_read(path):
    assert read_any_site(path).name == path.stem.replace("_", " ").title()


@pytest.mark.parametrize("path", sorted((FIRST / "strategies").glob("*.toml")), ids=lambda path: path.stem)
def test_its_strategies_read(path):
    strategy = read_any_strategy(path)
    assert (FIRST / "sites" / f"{strategy.site}.toml").is_file()
    assert len(strategy.inputs) == 2


@pytest.mark.parametrize("path", sorted(FIRST.glob("guided_*.toml")), ids=lambda path: path.stem)
def test_what_its_guided_page_wrote_reads_with_the_answers_given_there(path):
    site = read_site(path)
    set_point, top = (40.0, 125.0) if path.stem == "guided_usual" else (0.16 * 249.08891, 0.5 * 249.08891)
    assert site.control.set_point_pa == pytest.approx(set_point, rel=1e-4)
    assert [one.range_high_pa for one in site.transmitters] == pytest.approx([top, top], rel=1e-4)


def test_its_record_is_gone_on_with(folder):
    with closing(sqlite3.connect(folder / "learner.sqlite")) as kept:
        rows = kept.execute("SELECT kind, lesson, item, text FROM events WHERE kind != 'seat' ORDER BY id").fetchall()
    record = LearnerRecord(folder)
    assert [(one.kind, one.lesson, one.item, one.text) for one in record.events()] == rows
    assert (record.name, record.seat.number, record.trouble) == ("Ada Example", SEAT, "")
    answered = {(lesson, item) for kind, lesson, item, _ in rows if kind == "answered"}
    assert len(answered) > 40
    assert all(record.turn(lesson, item) == 1 for lesson, item in answered)  # what was solved stays solved, the next has other numbers
    assert record.read(EXPORT) == 0  # its own export: nothing twice
    record.answered("pressure_window", "what_moves", 1, "Pa", "0", False)
    assert len(LearnerRecord(folder).events()) == len(rows) + 1


def test_its_signed_export_counts_in_a_class_of_today(tmp_path):
    shutil.copy(EXPORT, tmp_path)
    (row,) = class_table(tmp_path, CODE).rows
    sent = [one for one in json.loads(EXPORT.read_text(encoding="utf-8"))["events"] if one["kind"] == "answered"]
    assert (row.name, row.seat, len(row.answers)) == ("Ada Example", SEAT, len(sent))
    assert all(one.right and one.recorded for one in row.answers)
    assert len(read_export(EXPORT).events) > len(sent)


def test_its_case_at_the_fault_bench_is_there(folder):
    bench = BenchRecord(LearnerRecord(folder))
    level, number = bench.last()
    fault, evidence, cure = bench.visit(level, number).answer
    assert (level, number, fault, evidence, cure, bench.trouble) == (1, 3497, "noise", [], "screen", "")


@pytest.mark.parametrize("make", [InjectionPanel, AcceptancePanel], ids=["injection", "acceptance"])
def test_what_was_typed_into_its_sheets_stands_in_them(folder, make):
    panel = make(read_site(demo_sites()["Larkfield House"]), folder=folder)
    with closing(sqlite3.connect(folder / "sheets.sqlite")) as kept:
        typed = dict(kept.execute("SELECT field, text FROM entries WHERE sheet = ?", (panel.sheet.entries.sheet,)).fetchall())
    assert len(typed) > 10
    assert {name: panel.sheet.fields[name][0].value for name in typed} == typed
    assert panel.sheet.trouble == ""
