"""Names that try to leave their folder, links that lead elsewhere, devices and pipes: nothing is written outside, nothing hangs."""

import errno
import os
import re
import sqlite3

import pytest

from helpers.model.air.conditions import read_hours
from helpers.model.files import FileTextError, named_path, safe_name, text_of, write_whole
from helpers.model.plants.kinds import read_any_strategy
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.form import SiteForm, write_new_site
from helpers.pages.measured import trend_files
from helpers.pages.printed import in_records
from helpers.pages.review import site_of
from helpers.plots.printer import write_page
from helpers.record.page import plain_page
from helpers.teaching.record import LearnerRecord, events_of
from helpers.teaching.store import FOLDER_VARIABLE, KeptFile, KeptFileError

NAMES = (
    "../../x", "..", ".", "/etc/passwd", "C:\\Windows\\x", "\\\\server\\share", "CON", "nul", "com1", "a\0b", "a\nb", "name.", "name ",
    "~root/x",
    "$(id)", "`id`", "; rm x", "| x", "%2e%2e%2f", "\u202excod.exe", "\u200b", "x" * 5000, "é" * 3000, "🔥" * 400, "", " ", "...", "-rf",
    "a:b", "*?<>|\"",
)  # fmt: skip


def tree_of(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


@pytest.fixture
def within(tmp_path, monkeypatch):
    """A folder to write into, in a folder that must stay as it is."""
    inner = tmp_path / "outer" / "chosen"
    inner.mkdir(parents=True)
    (tmp_path / "outer" / "kept.txt").write_text("as it was")
    monkeypatch.chdir(inner)
    return inner


@pytest.mark.parametrize("name", NAMES)
def test_a_name_becomes_one_plain_file_in_the_folder(name, within):
    path = write_page(plain_page(name, []), in_records(name, "review.html"))
    assert path.resolve().parent == within / "records"
    assert re.fullmatch(r"[\w-]+_review\.html", path.name)
    assert len(path.name.encode()) < 200
    assert tree_of(within.parent) == ["chosen", "chosen/records", f"chosen/records/{path.name}", "kept.txt"]


@pytest.mark.parametrize("name", ["CON", "nul", "Com1", "LPT9", "con."])
def test_a_name_that_one_system_keeps_for_a_device_is_changed(name):
    assert safe_name(name).lower() not in ("con", "nul", "com1", "lpt9")


@pytest.mark.parametrize("write", [lambda path: write_whole(path, "new"), lambda path: write_page("<p>new</p>", path)])
def test_a_link_in_the_folder_is_replaced_and_what_it_leads_to_stays(write, within):
    kept = within.parent / "kept.txt"
    link = within / "page.html"
    link.symlink_to(kept)
    write(link)
    assert kept.read_text() == "as it was"
    assert not link.is_symlink()
    assert "new" in link.read_text()
    assert tree_of(within) == ["page.html"]


def test_a_new_file_is_never_written_through_a_link(within):
    (within / "mine.toml").symlink_to(within.parent / "elsewhere.toml")
    with pytest.raises(ValueError, match="is there already"):
        write_new_site(SiteForm(), within / "mine.toml")
    (within / "mine.json").symlink_to(within.parent / "elsewhere.json")
    with pytest.raises(ValueError, match="cannot be written"):
        LearnerRecord(within / "record").export(within / "mine.json")
    assert not (within.parent / "elsewhere.toml").exists()
    assert not (within.parent / "elsewhere.json").exists()


def test_a_link_in_place_of_the_kept_file_is_refused(within):
    sqlite3.connect(within.parent / "other.sqlite").close()
    (within / "sheets.sqlite").symlink_to(within.parent / "other.sqlite")
    file = KeptFile("sheets.sqlite", "entries", "id INTEGER", within)
    with pytest.raises(KeptFileError, match="must be a plain file"):
        file.add("INSERT INTO entries VALUES (?)", [(1,)])
    assert (within.parent / "other.sqlite").stat().st_size == 0


def test_a_site_file_that_found_no_room_leaves_no_half_of_it_and_its_name_stays_free(within, monkeypatch):
    def no_room(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as full:
        full.setattr(os, "fsync", no_room)
        with pytest.raises(ValueError, match=r"mine\.toml: No space left on device"):
            write_new_site(SiteForm(), within / "mine.toml")
        with pytest.raises(ValueError, match="cannot be written: No space left on device"):
            LearnerRecord(within / "record").export(within / "mine.json")
    assert [name for name in tree_of(within) if not name.startswith("record")] == []
    path, _ = write_new_site(SiteForm(), within / "mine.toml")
    assert read_site(path).name


@pytest.mark.parametrize(
    ("folder", "why"),
    [("~nobody_of_this_name/x", "PRESSURE_LOOP_RECORDS must name a folder that can be written"), ("x" * 5000, "cannot be looked into")],
)
def test_a_folder_of_records_that_cannot_be_is_told_and_the_lesson_goes_on(folder, why, monkeypatch):
    monkeypatch.setenv(FOLDER_VARIABLE, folder)
    record = LearnerRecord()
    assert record.events() == []
    assert why in record.trouble
    record.name = "Ada"
    assert record.name == "Ada"
    assert "could not be" in record.trouble
    with pytest.raises(KeptFileError, match=why):
        KeptFile("sheets.sqlite", "entries", "id INTEGER").add("INSERT INTO entries VALUES (?)", [(1,)])


def test_a_log_that_is_gone_is_listed_last_and_told_when_it_is_chosen(within, monkeypatch):
    monkeypatch.setattr(trend_files, "RECORDS", within)
    (within / "dead.csv").symlink_to(within / "nowhere.csv")
    (within / "live.csv").write_text("a")
    named = trend_files.own_logs()
    assert [path.name for path in named.values()] == ["live.csv", "dead.csv"]
    with pytest.raises(FileTextError, match="is not there"):
        trend_files.shape_of(named[list(named)[1]])


@pytest.mark.parametrize("path", ["a\0b.toml", "no_such_folder/x.toml", "x" * 5000 + ".toml", "\ud800.toml", "~nobody_of_this_name/x.toml"])
def test_a_path_that_cannot_be_gets_a_sentence(path, within):
    with pytest.raises(ValueError, match=r"must|is in the folder of a user") as refusal:
        write_new_site(SiteForm(), path)
    assert "\n" not in str(refusal.value)
    assert type(refusal.value) in (ValueError, FileTextError)


@pytest.mark.parametrize("reader", [read_site, read_any_strategy, read_hours, events_of, lambda path: text_of(path, 1000)])
@pytest.mark.parametrize(
    "kind", ["pipe", "device", "folder", "link to a device", "link to nothing", "link to itself", "null", "endless name"]
)
def test_what_is_no_plain_file_is_refused_and_never_waited_for(reader, kind, within):
    path = within / "input.toml"
    if kind == "pipe":
        if not hasattr(os, "mkfifo"):
            pytest.skip("this system has no pipes with a name")
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "null":
        path = within / "a\0b"
    elif kind == "endless name":
        path = within / ("x" * 5000)
    elif "link" in kind:
        path.symlink_to({"link to a device": "/dev/zero", "link to nothing": "nowhere"}.get(kind, path))
    else:
        path = "/dev/zero"
        if not os.path.exists(path):
            pytest.skip("this system has no such device")
    with pytest.raises(ValueError, match=r"is |cannot be read|must be") as refusal:
        reader(path)
    assert str(refusal.value).isprintable()


def test_a_link_to_a_site_file_is_read_as_that_file(within):
    (within / "house.toml").symlink_to(demo_sites()["Larkfield House"])
    assert read_site(within / "house.toml").name == "Larkfield House"


@pytest.mark.parametrize("name", ["../../x", "/etc/passwd", "sub/larkfield_house", "..", "a\0b"])
def test_a_strategy_reaches_no_site_outside_its_folder(name, within):
    strategy = read_any_strategy(demo_sites()["Larkfield House"].parents[1] / "strategies" / "larkfield_sound.toml")
    (within.parent / "x.toml").write_text("never read")
    with pytest.raises(ValueError, match="site must be"):
        site_of(strategy.model_copy(update={"site": name}), within / "strategy.toml")


def test_the_folder_of_nobody_gets_a_sentence():
    with pytest.raises(FileTextError, match="a user who is not there"):
        named_path("~nobody_of_this_name/x.toml")


def test_a_refusal_with_a_strange_file_name_stays_one_printable_line(tmp_path):
    path = tmp_path / "a\u202eb\u200bc\nd.toml"
    path.write_text("[fan")
    with pytest.raises(SiteFileError) as refusal:
        read_site(path)
    assert str(refusal.value).isprintable()
