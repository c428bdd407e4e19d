"""Logs that somebody spoilt, by chance or on purpose: each is read or refused in one sentence, none in a traceback, none for long."""

import io
import random
import time
import zipfile

import numpy as np
import pytest
from openpyxl import Workbook
from trend_cases import FOLDER, READ

from helpers.pages.measured.trend_files import pointed_at
from helpers.studies.measured.trends.step_test import step_test
from helpers.studies.measured.trends.study import LoopStated, look_into
from helpers.studies.measured.trends.trend import MOST_NUMBER, Columns, read_trend, shape_of

CASES, MOST_S = 60, 15.0  # of the processor, on a slow machine
PIECES = (b"\x00", b"\xff\xfe", b'"', b"\n", b"\r", b";", b",", b"1e999", b"-", b"NaN", b"inf", b"=1+1", b"99/99/9999 99:99:99",
          b"\xe2\x80\xae", b"9" * 400, b"0x10", b"1_000", b"1,234.5", b"\xc3", b"<b>", b"\t", b"|", b"2026-02-30 10:00:00")  # fmt: skip
STATED = LoopStated(125.0, 60.0, 35.0, 8.0, (1.0, 2.0))


def spoilt(raw, rng):
    """The bytes with some cut out, doubled, moved or put in."""
    raw = bytearray(raw[: rng.choice((len(raw), 3000, 900))])
    for _ in range(rng.randint(1, 6)):
        at, end = sorted(rng.randrange(len(raw) + 1) for _ in range(2))
        end = min(end, at + rng.choice((1, 5, 200)))
        kind = rng.randrange(4)
        if kind == 0:
            del raw[at:end]
        elif kind == 1:
            raw[at:at] = raw[at:end] * rng.choice((1, 2, 20))
        else:
            raw[at : at + (kind == 2)] = rng.choice(PIECES)
    return bytes(raw)


def read_or_refused(path):
    """Whether a log was read, pointed at and looked into; a refusal must be one line."""
    begun, done, said = time.process_time(), False, "read"
    try:
        found = pointed_at(shape_of(path))
        columns = Columns(found["time"], (found.get("reading", "none"),), *(found.get(role) for role in ("output", "speed", "set_point")))
        study = look_into(read_trend(path, columns), STATED)
        assert study.head()
        assert all(isinstance(said, str) for said in (*study.sentences(), *study.not_used()))
        assert study.settings_table() is None or study.settings_table().rows
        done = True
    except ValueError as refusal:
        said = str(refusal)
    assert 0 < len(said) < 4000
    assert "\n" not in said
    assert time.process_time() - begun < MOST_S
    return done


@pytest.mark.parametrize("name", READ)
def test_a_spoilt_log_is_read_or_refused_in_a_sentence(tmp_path, name):
    rng, path = random.Random(name), tmp_path / name
    raw = (FOLDER / name).read_bytes()
    done = []
    for _ in range(CASES // 2):
        path.write_bytes(spoilt(raw, rng))
        done.append(read_or_refused(path))
    assert any(done)


def test_a_spoilt_spreadsheet_is_refused_in_a_sentence(tmp_path):
    book, held, rng, path = Workbook(), io.BytesIO(), random.Random(1), tmp_path / "log.xlsx"
    for row in [["Time (s)", "Speed (Hz)", "PDT-1 (Pa)"], *([k / 2, 25 + 5 * (k % 40 > 20), 40 + k % 7] for k in range(100))]:
        book.active.append(row)
    book.save(held)
    for case in range(CASES):
        if case % 2:
            path.write_bytes(spoilt(held.getvalue(), rng))
        else:  # within one of its parts, packed again
            with zipfile.ZipFile(io.BytesIO(held.getvalue())) as whole, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
                hit = rng.choice(whole.namelist())
                for part in whole.namelist():
                    made.writestr(part, spoilt(whole.read(part), rng) if part == hit else whole.read(part))
        read_or_refused(path)


def test_a_spreadsheet_that_unpacks_without_end_is_refused_before_it_does(tmp_path):
    with zipfile.ZipFile(tmp_path / "log.xlsx", "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/worksheets/sheet1.xml", b" " * 12_000_000)
    with pytest.raises(ValueError, match="must unpack to 10000000 bytes at the most"):
        shape_of(tmp_path / "log.xlsx")


def test_readings_that_are_all_alike_or_all_noise_give_a_result_and_what_no_instrument_says_is_refused(tmp_path):
    rng = np.random.default_rng(1)
    for speed, reading in ((np.full(200, 25.0), np.full(200, 40.0)), (rng.normal(25, 5, 200), rng.normal(40, 9, 200)),
                           (np.arange(200.0), np.full(200, 1e9)), (np.full(200, 1e-9), rng.normal(0, 1e-9, 200))):  # fmt: skip
        lines = [
            "Time (s),Speed (Hz),PDT-1 (Pa)",
            *(f"{k / 5},{a!r},{b!r}" for k, (a, b) in enumerate(zip(speed.tolist(), reading.tolist(), strict=True))),
        ]
        (tmp_path / "log.csv").write_text("\n".join(lines) + "\n")
        if reading.max() > MOST_NUMBER:
            with pytest.raises(ValueError, match="column 'PDT-1' must hold numbers in half of its rows, got 0 in 200"):
                read_trend(tmp_path / "log.csv", Columns("Time", "PDT-1", speed="Speed"))
            continue
        trend = read_trend(tmp_path / "log.csv", Columns("Time", "PDT-1", speed="Speed"))
        assert not step_test(trend).whole
        assert look_into(trend, STATED).head()
