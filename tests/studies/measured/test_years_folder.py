"""Folders of years as people leave them: half-written files, links, other sites, far too many, two of one date; each has its sentence."""

import os
from datetime import date

import pytest
from demo_designs import site_of

from helpers.model.site.file import write_site
from helpers.model.test_day import READ_TWICE
from helpers.pages.measured.years import years_page
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.remarks import KIND_SAID
from helpers.studies.measured.years.folder import MOST_ENTRIES, MOST_FILES, read_years
from helpers.studies.measured.years.told import changes_said, years_told
from helpers.units.said import written_out

DAY = (DAYS_FOLDER / "tannery_row_years" / "2026-05-14.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def site():
    return site_of("Tannery Row")


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "a_good.toml").write_text(DAY, encoding="utf-8")
    return tmp_path


def left_out(years):
    return {file: why.partition("; such a file")[0] for file, why in written_out(years.left_out)}


def test_what_fit_wrote_beside_its_day_is_passed_over_without_a_word(site, folder):
    fitted = site.with_changes(leakage={"factors_from": "test day of 2026-05-14"})
    (folder / "z_fitted.toml").write_text(write_site(fitted), encoding="utf-8")
    years = read_years(site, folder)
    assert (len(years.fits), left_out(years)) == (1, {})
    assert changes_said(years).startswith("1 test: for a trend")
    (folder / "z_fitted.toml").write_text(write_site(site), encoding="utf-8")
    assert set(left_out(read_years(site, folder))) == {"z_fitted.toml"}


def test_a_day_after_today_is_named_and_is_not_the_last(site, folder):
    (folder / "far.toml").write_text(DAY.replace("2026-05-14", "2126-05-14"), encoding="utf-8")
    years = read_years(site, folder, today=date(2026, 5, 14))
    assert [day.date for day in years.days] == ["2026-05-14"]
    assert left_out(years)["far.toml"].startswith("date must not be after today, 2026-05-14")


def test_whatever_else_lies_there_is_named_and_the_good_day_counts(site, folder):
    files = {"half.toml": DAY[: len(DAY) // 2].encode(), "empty.toml": b"", "noise.toml": bytes(range(256)), "far.toml":
             DAY.replace("2026-05-14", "0001-01-01").encode(), "other.toml": (DAYS_FOLDER / "larkfield_house_may.toml").read_bytes(),
             "endless.toml": b"# x\n" * 100_000, "wild.toml": DAY.replace('"33.3 Pa"', '"19000 Pa"').encode(), "x.txt": b""}  # fmt: skip
    for name, content in files.items():
        (folder / name).write_bytes(content)
    (folder / "folder.toml").mkdir()
    years = read_years(site, folder)
    told = left_out(years)
    assert len(years.fits) == 2  # the good day, and the one with a slip without that reading
    assert [len(fit.slips) for fit in years.fits].count(1) == 1
    assert set(told) == (set(files) | {"folder.toml"}) - {"x.txt"}
    for name, words in {"half.toml": "line ", "empty.toml": "kind: must be 'test day'", "noise.toml": "is no text in UTF-8", "far.toml":
                        "from 1950 to 2199", "other.toml": "day must be one of 'Tannery Row'", "endless.toml": "bytes at the most",
                        "wild.toml": "is left out: 19000.0 Pa read where some", "folder.toml": "is a folder"}.items():  # fmt: skip
        assert words in told[name]


def test_a_link_is_followed_and_what_it_must_not_lead_to_is_named(site, folder):
    for name, to in {"loop.toml": "loop.toml", "gone.toml": "/nowhere/x.toml", "zero.toml": "/dev/zero", "same.toml": "a_good.toml",
                     "self_tests.csv": "/dev/zero"}.items():  # fmt: skip
        os.symlink(to, folder / name)
    os.mkfifo(folder / "pipe.toml")
    years = read_years(site, folder)
    told = left_out(years)
    assert len(years.fits) == 1  # the link to the same day says nothing new
    assert set(told) == {"loop.toml", "gone.toml", "zero.toml", "pipe.toml", "self_tests.csv"}
    assert "is no file but a device or a pipe" in told["self_tests.csv"]
    assert "Too many levels of symbolic links" in told["loop.toml"]


def test_two_tests_of_one_date_both_count_and_one_that_was_left_out_is_not_counted_among_them(site, folder):
    (folder / "again.toml").write_text(DAY.replace('"33.3 Pa"', '"33.9 Pa"'), encoding="utf-8")
    (folder / "wild.toml").write_text(DAY.replace("flow = ", "# flow = "), encoding="utf-8")  # pressures alone carry no fit
    years = read_years(site, folder)
    assert [file for file, _ in years.left_out] == ["wild.toml"]
    assert years.notes == ("two unlike tests of 2026-05-14: both are counted",)
    assert not years.changes  # one date makes no trend, however many tests it has
    tables = {one.key: one for one in written_out(years_told(years)).tables}
    assert "changes" not in tables  # an empty table is no line of years
    assert "there must be 3" in tables["devices"].rows[0][1]
    assert "2026-05-14" in written_out(years_page(years))


def test_what_does_not_fit_and_what_was_read_twice_is_named_and_a_doubted_day_is_no_year(site, folder):
    twice = DAY.replace('note = "', f'note = "{READ_TWICE}stair door 2, round 1. ', 1).replace('"33.3 Pa"', '"24 Pa"')
    (folder / "twice.toml").write_text(twice.replace("2026-05-14", "2025-05-14"), encoding="utf-8")
    head, first, *rest = DAY.split("[[rounds]]")
    halved = "".join(f'"{float(one[:-3]) / 2:.1f} Pa"' if one.endswith(" Pa") else one if place % 2 == 0 else f'"{one}"'
                     for place, one in enumerate(first.split('"')))  # fmt: skip
    (folder / "wrong.toml").write_text("[[rounds]]".join([head, halved, *rest]).replace("2026-05-14", "2024-05-14"), encoding="utf-8")
    years = read_years(site, folder)
    assert [fit.readings.day.date for fit in years.fits] == ["2025-05-14", "2026-05-14"]
    assert left_out(years)["wrong.toml"].startswith("The fit is not to be believed")
    assert any(note.startswith("twice.toml: does not fit, and counts little") for note in years.notes)
    assert any(note.startswith(f"twice.toml: {READ_TWICE}stair door 2, round 1") for note in years.notes)
    assert any(one.what.startswith("The test of 2025-05-14: ") and "not fit its building" in one.what for one in years_told(years).findings)


def test_a_days_figure_in_the_years_is_that_of_its_own_fit(site, folder):
    """One day, one number: the factor that `fit` tells, on `years` too."""
    (folder / "earlier.toml").write_text(DAY.replace("2026-05-14", "2025-05-14"), encoding="utf-8")
    years = read_years(site, folder)
    (table,) = (one for one in years_told(years).tables if one.key == "beside")
    shown = {row[0]: row[2] for row in table.rows}
    told = [one for one in years.fits[1].factors if shown.get(KIND_SAID[one.kind], "the day").startswith("the day") is False]
    assert len(told) > 2
    for one in told:
        assert shown[KIND_SAID[one.kind]] == f"{one.factor:.2f} x ({one.low:.2f} to {one.high:.2f})"


def test_folders_of_one_name_are_not_taken_for_each_other(site, tmp_path):
    for place, year in (("one", 2024), ("other", 2025)):
        (tmp_path / place / "may").mkdir(parents=True)
        (tmp_path / place / "may" / "day.toml").write_text(DAY.replace("2026", str(year)), encoding="utf-8")
    assert len(read_years(site, tmp_path / "one" / "may", tmp_path / "other" / "may").fits) == 2


def test_too_many_files_are_refused_before_any_is_read(site, folder):
    for number in range(MOST_FILES):
        (folder / f"{number}.toml").write_text("x", encoding="utf-8")
    with pytest.raises(ValueError, match=f"must hold {MOST_FILES} test days at the most, all folders together; got {MOST_FILES + 1} files"):
        read_years(site, folder)


def test_an_endless_folder_is_not_read_to_its_end(site, folder, monkeypatch):
    monkeypatch.setattr("helpers.studies.measured.years.folder.MOST_ENTRIES", 3)
    for number in range(5):
        (folder / f"{number}.txt").touch()
    assert MOST_ENTRIES > 1000
    with pytest.raises(ValueError, match="must hold 3 files at the most, got more"):
        read_years(site, folder)


@pytest.mark.parametrize("name", ["a_good.toml", "nowhere", "a\0b"])
def test_what_is_no_folder_is_refused(site, folder, name):
    with pytest.raises(ValueError, match="folder must be one with test days, got "):
        read_years(site, folder / name)


def test_words_of_a_log_are_words_on_the_page_and_a_thousand_names_are_refused(site, folder):
    log = folder / "self_tests.csv"
    log.write_text("date,what,result\n2026-05-04,<script>alert(1)</script>,out\n", encoding="utf-8")
    page = written_out(years_page(read_years(site, folder)))
    assert "&lt;script&gt;" in page
    assert "<script>alert" not in page
    log.write_text("date,what,result\n" + "".join(f"2026-05-04,thing {number},out\n" for number in range(1000)), encoding="utf-8")
    told = left_out(read_years(site, folder))
    assert told["self_tests.csv"] == "self_tests.csv must test 100 things at the most, named alike every week; got 1000 names"
