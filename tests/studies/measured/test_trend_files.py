"""A trend log is read as it was written, whatever the hand that wrote it; what is wrong in it is named by its line, the rest is used."""

import datetime
import re
import subprocess
import sys

import numpy as np
import pytest
from openpyxl import Workbook

from helpers.model.files import FileTextError
from helpers.studies.measured.trends import times
from helpers.studies.measured.trends.file_shape import unit_of_heading
from helpers.studies.measured.trends.trend import Columns, read_trend, shape_of

ROWS = 120
SECONDS = np.arange(ROWS) * 0.25
SPEED = np.where(SECONDS < 10, 25.0, 27.5)
READING = 40 + 3.3 * (SPEED - 25) + np.round(np.sin(7 * SECONDS), 2)
START = datetime.datetime(2026, 5, 14, 10, 0, 0)
COLUMNS = Columns("Time", "PDT-1", speed="Fan speed")


def stamps(form):
    """Times of the rows, written in a form of strftime with milliseconds for %f."""
    each = [START + datetime.timedelta(seconds=float(second)) for second in SECONDS]
    return [one.strftime(form.replace("%f", f"{one.microsecond // 1000:03d}")) for one in each]


def log(
    folder, times=None, separator=",", decimal=".", head="Time,Fan speed (Hz),PDT-1 (Pa)", name="log.csv", encoding="utf-8", change=None
):
    """A log of ROWS rows; change: done to the list of its lines before they are written."""
    times = stamps("%Y-%m-%d %H:%M:%S.%f") if times is None else times
    lines = [head.replace(",", separator)]
    lines += [separator.join([when, *(f"{value:.2f}".replace(".", decimal) for value in pair)])
              for when, *pair in zip(times, SPEED, READING, strict=True)]  # fmt: skip
    lines = lines if change is None else change(lines)
    path = folder / name
    path.write_bytes(("\n".join(lines) + "\n").encode(encoding))
    return path


def as_written(trend):
    """Whether all of the log's rows are there with their figures."""
    return (
        trend.rows == ROWS
        and np.allclose(trend.time_s, SECONDS, atol=1e-6)
        and np.allclose(trend.values["PDT-1"], READING, atol=0.006)
        and np.allclose(trend.values["Fan speed"], SPEED)
    )


FORMS = {
    "ISO with a T": (stamps("%Y-%m-%dT%H:%M:%S.%f"), "ISO"),
    "ISO in universal time": (stamps("%Y-%m-%d %H:%M:%S.%fZ"), "ISO"),
    "day first": (stamps("%d/%m/%Y %H:%M:%S.%f"), "day first"),
    "month first": (stamps("%m/%d/%Y %I:%M:%S.%f %p"), "month first"),
    "day first with points": (stamps("%d.%m.%Y %H:%M:%S.%f"), "day first"),
    "a clock alone": (stamps("%H:%M:%S.%f"), "clock"),
    "milliseconds": ([f"{1000 * second:.0f}" for second in SECONDS], "since start"),
    "seconds": ([f"{second:.2f}" for second in SECONDS], "since start"),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("separator", "decimal"), [(",", "."), (";", ","), ("\t", ","), ("|", ".")])
def test_times_separators_and_decimal_signs_are_read_as_written(tmp_path, form, separator, decimal):
    times, written = FORMS[form]
    if written == "since start":
        times = [time.replace(".", decimal) for time in times]
    unit = {"milliseconds": " (ms)", "seconds": " (s)"}.get(form, "")
    trend = read_trend(log(tmp_path, times, separator, decimal, f"Time{unit},Fan speed (Hz),PDT-1 (Pa)"), COLUMNS)
    assert as_written(trend)
    assert trend.written == written


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_letters_of_other_encodings_are_read(tmp_path, encoding):
    trend = read_trend(
        log(tmp_path, head="Time,Drehzahl Lüfter (Hz),PDT-1 (Pa)", encoding=encoding), Columns("Time", "PDT-1", speed="Drehzahl Lüfter")
    )
    assert trend.rows == ROWS


def test_lines_above_the_headings_and_a_row_of_units_are_no_values(tmp_path):
    def change(lines):
        return ["Exported by,nobody", "", "Time,Fan speed,PDT-1", ",Hz,Pa", *lines[1:]]

    trend = read_trend(log(tmp_path, change=change), COLUMNS)
    assert as_written(trend)
    assert trend.lines[0] == 5


def test_inches_of_water_become_pascals_and_per_cent_stay(tmp_path):
    trend = read_trend(log(tmp_path, head="Time,Fan speed [%],PDT-1 (in. w.c.)"), COLUMNS)
    assert trend.values["PDT-1"] == pytest.approx(READING * 249.0889, rel=1e-3)
    assert trend.dimensions == {"PDT-1": "pressure", "Fan speed": "percent"}


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("Druck in Pa", "Pa"),
        ("Speed_Hz", "Hz"),
        ("Output %", "%"),
        ("P (in. w.c.)", "in. w.c."),
        ("P in. w.c.", "in. w.c."),
        ("Pa", ""),
        ("Spa", ""),
    ],
)
def test_the_unit_is_what_the_heading_ends_in(heading, unit):
    assert unit_of_heading(heading) == unit


# --- input that is wrong: each its sentence


def refused(path, columns=COLUMNS, **how):
    """The sentence with which a log is refused."""
    with pytest.raises(ValueError, match=r".") as found:
        read_trend(path, columns, **how)
    said = str(found.value)
    assert "\n" not in said
    return said


def changed(line, text):
    """Writes another text into one line, counted from 1."""
    return lambda lines: [*lines[: line - 1], text, *lines[line:]]


def test_a_date_to_be_read_both_ways_is_a_question(tmp_path):
    times = [when.replace("14/05", "04/05") for when in stamps("%d/%m/%Y %H:%M:%S.%f")]
    said = refused(log(tmp_path, times))
    assert "day 4 of month 5, or day 5 of month 4?" in said
    assert read_trend(tmp_path / "log.csv", COLUMNS, time_format="day first").start.startswith("2026-05-04")
    assert read_trend(tmp_path / "log.csv", COLUMNS, time_format="month first").start.startswith("2026-04-05")


def test_dates_written_both_ways_are_refused(tmp_path):
    times = stamps("%d/%m/%Y %H:%M:%S.%f")
    assert "the same way" in refused(log(tmp_path, [*times[:60], *(when.replace("14/05", "05/14") for when in times[60:])]))


def test_a_reading_without_a_unit_is_refused_and_may_be_told(tmp_path):
    path = log(tmp_path, head="Time,Fan speed (Hz),PDT-1")
    assert "'PDT-1' must state its unit" in refused(path)
    assert as_written(read_trend(path, COLUMNS, units_of={"PDT-1": "Pa"}))


def test_numbers_as_times_must_have_a_unit(tmp_path):
    assert "must state the unit of its times" in refused(log(tmp_path, [f"{second:.2f}" for second in SECONDS]))


def test_units_mixed_in_one_column_are_refused_by_line(tmp_path):
    def change(lines):
        return [lines[0].replace(" (Pa)", ""), *(line + (" Pa" if k != 70 else " in. w.c.") for k, line in enumerate(lines[1:], start=2))]

    said = refused(log(tmp_path, change=change))
    assert "must have one unit, got 'Pa' (line 2) and 'in. w.c.' (line 70)" in said


def test_another_unit_in_a_cell_than_in_the_heading_is_refused(tmp_path):
    said = refused(log(tmp_path, change=changed(50, "2026-05-14 10:00:12.000,27.50,0.2 in. w.c.")))
    assert "'Pa' (the heading) and 'in. w.c.' (line 50)" in said


def test_a_reading_cannot_be_in_hertz(tmp_path):
    assert "must be a pressure or per cent as readings" in refused(log(tmp_path, head="Time,Fan speed (Hz),PDT-1 (Hz)"))


def test_a_heading_that_is_not_there_is_told_with_those_that_are(tmp_path):
    said = refused(log(tmp_path), Columns("Time", "PDT-9", speed="Fan speed"))
    assert "'PDT-9' is not in the file; its headings are 'Time', 'Fan speed (Hz)', 'PDT-1 (Pa)'" in said


def test_time_that_runs_backwards_is_named_and_the_longest_stretch_used(tmp_path):
    times = stamps("%Y-%m-%d %H:%M:%S.%f")
    trend = read_trend(log(tmp_path, [*times[:100], *times[:20]]), COLUMNS)
    (said,) = [remark for remark in trend.remarks if "backwards" in remark]
    assert said == "Time runs backwards at line 102: the longest rising stretch, lines 2 to 101, is used; lines 102 to 121 are not."
    assert trend.rows == 100


def test_the_newest_row_first_is_put_in_order(tmp_path):
    trend = read_trend(log(tmp_path, change=lambda lines: [lines[0], *lines[:0:-1]]), COLUMNS)
    assert as_written(trend)
    assert "newest row stands first" in " ".join(trend.remarks)


@pytest.mark.filterwarnings("error")
def test_a_number_that_nothing_measures_is_named_and_not_used(tmp_path):
    def change(lines):
        lines[9] = lines[9].rsplit(",", 1)[0] + ",1e308"
        return lines

    trend = read_trend(log(tmp_path, change=change), COLUMNS)
    assert "1 cell of 'PDT-1' with a number beyond 1,000,000, which nothing here measures, not used: line 10." in trend.unused
    assert np.nanmax(np.abs(trend.values["PDT-1"])) < 1000


@pytest.mark.filterwarnings("error")
def test_a_time_since_the_start_of_more_years_than_there_were_is_none():
    found = times.from_numbers([0.0, 1.0, 1e308, -1e308, np.inf, 3.0], "s", "Seconds")
    assert np.array_equal(found.seconds, [0.0, 1.0, np.nan, np.nan, np.nan, 3.0], equal_nan=True)
    assert times.from_numbers([1.7e12, 1.7e12 + 500.0], "ms", "Stamp").seconds.tolist() == [0.0, 0.5]


def test_rows_that_are_wrong_are_named_and_the_others_used(tmp_path):
    def change(lines):
        lines[9] = lines[9].rsplit(",", 1)[0] + ",Fault"
        lines[19] = lines[19].replace(",", ",,", 1)
        lines[29] = "when?" + lines[29][lines[29].index(",") :]
        lines[39] = lines[38].split(",")[0] + ",27.50,50.00"
        return lines

    trend = read_trend(log(tmp_path, change=change), COLUMNS)
    said = " ".join(trend.remarks)
    assert "1 cell of 'PDT-1' without a number, such as 'Fault': line 10." in said
    assert "1 row with more or fewer cells than the 3 headings not used: line 20." in said
    assert "1 row without a time that can be read not used: line 30." in said
    assert "1 row with the time of the row before not used: line 40." in said
    assert trend.rows == ROWS - 3
    assert np.isnan(trend.values["PDT-1"]).sum() == 1


def test_a_shifted_row_never_gives_a_figure(tmp_path):
    def change(lines):
        return [*lines[:60], lines[60].replace("25.00", "25,00").replace("27.50", "27,50"), *lines[61:]]

    trend = read_trend(log(tmp_path, change=change), COLUMNS)
    assert "line 61" in " ".join(trend.remarks)
    assert trend.values["PDT-1"].min() > 30


def test_a_last_line_that_is_cut_off_is_not_used(tmp_path):
    path = log(tmp_path)
    path.write_bytes(path.read_bytes()[:-4])
    trend = read_trend(path, COLUMNS)
    assert trend.rows == ROWS - 1
    assert f"Line {ROWS + 1} has no end" in " ".join(trend.remarks)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"\x00\x01\x02" * 50, "a byte of zero"),
        (b"\xd0\xcf\x11\xe0" + b"x" * 100, "old kind, or one with a password"),
        (b"hello\nworld\n", "must hold a row of headings"),
        (b"Time (s);PDT-1 (Pa)\n" + b"a" * 140_000 + b";1\n", "must hold a row of headings"),
        (b"Time (s),Fan speed (Hz),PDT-1 (Pa)\n1,2,3\n2,2,3\n", "must hold 20 rows or more"),
        (b"Time (s);Fan speed (Hz);PDT-1 (Pa)\n1;2,5;3\n2;2.5;3\n", "the same decimal sign"),
        (b"Time (s);Fan speed (Hz);PDT-1 (Pa)\n1;2,500;3\n2;2,500;3\n", "above a thousand, or has it three decimals?"),
    ],
)
def test_what_is_no_log_is_refused_in_a_sentence(tmp_path, content, said):
    (tmp_path / "log.csv").write_bytes(content)
    assert said in refused(tmp_path / "log.csv")


def test_a_folder_and_a_file_that_is_not_there_are_refused(tmp_path):
    with pytest.raises(FileTextError, match="is a folder"):
        read_trend(tmp_path, COLUMNS)
    with pytest.raises(FileTextError, match="is not there"):
        read_trend(tmp_path / "none.csv", COLUMNS)
    (tmp_path / "log.xlsx").write_bytes(b"PK\x03\x04 and no more")
    assert "cannot be unpacked" in refused(tmp_path / "log.xlsx")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Columns("Time", (), speed="a"), "readings must name"),
        (lambda: Columns("Time", "a"), "output or speed must name"),
        (lambda: Columns("Time", "a", speed="a"), "must each have one job"),
    ],
)
def test_columns_that_cannot_be_are_refused(make, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        make()


def book(folder, formulas=()):
    """The log as a spreadsheet; formulas: rows in which the reading is one."""
    made = Workbook()
    made.active.append(["Time", "Fan speed (Hz)", "PDT-1 (Pa)"])
    for k, (second, speed, reading) in enumerate(zip(SECONDS, SPEED, READING, strict=True), start=2):
        made.active.append([START + datetime.timedelta(seconds=float(second)), speed, f"=B{k}*2" if k in formulas else reading])
    made.create_sheet("Notes")
    made.save(folder / "log.xlsx")
    return folder / "log.xlsx"


def test_a_spreadsheet_is_read_and_its_other_sheets_are_named(tmp_path):
    trend = read_trend(book(tmp_path), COLUMNS)
    assert as_written(trend)
    assert "1 more are not" in " ".join(trend.remarks)
    assert "has no sheet 'May'" in refused(tmp_path / "log.xlsx", sheet="May")


def test_formulas_in_place_of_values_are_refused_by_their_cell(tmp_path):
    trend = read_trend(book(tmp_path, formulas=(12, 13)), COLUMNS)
    assert "Cells C12, C13 hold formulas in place of values, not used: store the values." in trend.remarks
    assert np.isnan(trend.values["PDT-1"]).sum() == 2
    assert "must hold numbers in half of its rows" in refused(book(tmp_path, formulas=range(2, 100)))


def test_files_of_one_shape_have_one_key(tmp_path):
    one = shape_of(log(tmp_path)).key
    assert shape_of(log(tmp_path, change=lambda lines: lines[:40])).key == one
    assert shape_of(log(tmp_path, separator=";", decimal=",")).key != one
    assert shape_of(book(tmp_path)).key != one


def test_pandas_is_imported_when_a_log_is_read_and_no_sooner():
    code = "import sys, helpers, helpers.studies.measured.trends.trend; sys.exit('pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
