"""Speed and output of a log give the drive's full speed; against another one than the site's no setting is judged."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.loop.run import settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.measured.trend_files import TrendPanel, log_told
from helpers.studies.measured.trends.study import LoopStated, full_speed_hz, look_into
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS
from tests.studies.measured.trend_cases import FOLDER, READ, log_of, own_log

BOTH = [name for name, columns in READ.items() if columns.output and columns.speed]
STATED = LoopStated(125.0, 60.0, 35.0, 8.0, (1.0, 2.0))


@pytest.mark.parametrize("name", BOTH)
def test_every_log_with_both_columns_tells_its_drive(name):
    # made by a fan of 60 Hz: data/trends/truth.toml
    assert full_speed_hz(own_log(name)) == pytest.approx(60.0, rel=0.01)


@pytest.mark.parametrize("name", BOTH)
def test_a_log_of_another_drive_is_check_in_the_headline_and_no_setting_is_judged(name):
    own, other = (look_into(own_log(name), replace(STATED, full_speed_hz=full)) for full in (60.0, 50.0))
    assert own.other_drive == ()
    assert other.other_drive == ("Full speed some 60 Hz by speed and output", "50 Hz")
    assert other.settings is None
    assert other.settings_table() is None
    assert "full speed some 60 hz, stated 50 hz: whose" in other.head().lower()
    assert len(other.head().split()) <= 12
    assert other.state == ("wrong" if other.hunts and other.hunting.cause != "outside" else "attention")
    assert not [what for what, *_ in other.tiles() if what.startswith(("As found", "Process gain"))]
    assert other.to_do().startswith("Do: settle whose drive")


@pytest.mark.parametrize(("site", "whose"), [("Larkfield House", True), ("Northgate Tower", False)])
def test_the_command_says_it_in_its_headline(site, whose, tmp_path):
    own = tmp_path / "ours.csv"  # somebody's own: of a log of the workbook the site is known
    own.write_bytes((FOLDER / "stair_steps_in_manual.csv").read_bytes())
    lines, _, act, _ = log_told(own, read_site(demo_sites()[site]))
    told = written_out(lines, "Pa")
    assert act or not whose
    headline = next(line for line in told if line.startswith(("CHECK", "FAIL", "PASS", "NOT YET")))
    assert ("stated 50 Hz: whose log is it?" in headline) == whose
    assert any("As found" in line for line in told) != whose


def test_a_log_of_the_workbook_is_refused_with_another_site_and_the_right_one_is_named():
    with pytest.raises(ValueError, match=r"is a log of Northgate Tower, full speed 60 Hz.* got Larkfield House, 50 Hz.*northgate_tower"):
        log_told(FOLDER / "stair_steps_in_manual.csv", read_site(demo_sites()["Larkfield House"]))
    assert "Northgate Tower" in (FOLDER / "README.md").read_text(encoding="utf-8")


def test_page_and_command_take_the_settings_as_found_from_one_place(monkeypatch):
    monkeypatch.setattr(UNITS, "_listeners", [])
    panel = TrendPanel("Stair Steps In Manual")
    lines, state, act, _ = log_told(FOLDER / "stair_steps_in_manual.csv", read_site(demo_sites()["Northgate Tower"]))
    own = settings_of(read_site(demo_sites()["Northgate Tower"]))
    entered = f"As found: {own.gain:.2g} %/%, {own.integral_s:.2g} s (by Northgate Tower's file)"
    assert (panel.panel.verdict.kind, panel.panel.verdict.head) == (state, panel.study.head())
    assert entered in lines
    assert not act
    assert "{}: {} ({})".format(*panel.panel.verdict.tiles[0]) == entered
    assert panel.panel.put(gain="2").tiles[0][2] == "as typed in"


def test_a_speed_beyond_the_stated_one_without_an_output_is_told_as_before():
    time = np.arange(0.0, 60.0, 0.2)
    study = look_into(log_of(time, 30 + 0 * time, speed=40 + 14 * (time > 30)), replace(STATED, full_speed_hz=50.0))
    assert study.other_drive == ("Speed runs to 54.0 Hz", "50 Hz")
    assert study.head() == "Speed runs to 54.0 Hz, stated 50 Hz: whose log is it?"


def test_a_ramp_that_lags_its_output_is_no_other_drive():
    time = np.arange(0.0, 120.0, 0.2)
    output = 50 + 20 * (np.floor(time / 20) % 2)
    speed = np.empty_like(time)
    at = 30.0
    for number, goal in enumerate(0.6 * output):
        at += np.clip(goal - at, -0.6, 0.6)
        speed[number] = at
    assert full_speed_hz(log_of(time, 30 + 0 * time, speed=speed, output=output)) == pytest.approx(60.0, rel=0.01)


def rewritten(folder, change):
    """The demo's step test with its lines written otherwise; change: of (heads, rows) as lists of cells to the same."""
    heads, *rows = [line.split(",") for line in (FOLDER / "stair_steps_in_manual.csv").read_text(encoding="utf-8").splitlines()]
    heads, rows = change(heads, rows)
    path = folder / "log.csv"
    path.write_text("\n".join(",".join(row) for row in (heads, *rows)) + "\n", encoding="utf-8")
    return path


def in_inches(rows, first):
    at = 3  # Time, output, speed, reading
    return [[*row[:at], f"{float(row[at]) / 249.09:.4f}", *row[at + 1 :]] if number >= first else row for number, row in enumerate(rows)]


def test_a_log_of_which_much_is_not_used_is_to_be_acted_on_and_says_of_what(tmp_path):
    """Its clock set back, by the same rows once more: 300 rows are left out. Newest first alone is an order, and leaves nothing out."""
    northgate = read_site(demo_sites()["Northgate Tower"])
    *_, act, unused = log_told(rewritten(tmp_path, lambda heads, rows: (heads, [*rows[:300], *rows[240:]])), northgate)
    assert act
    assert [one for one in unused if one.startswith("Time runs backwards at line 302")]
    *_, act, unused = log_told(rewritten(tmp_path, lambda heads, rows: (heads, rows[::-1])), northgate)
    assert (act, unused) == (False, ())


def test_a_unit_that_changes_half_way_is_named_by_its_line_and_no_gain_is_printed(tmp_path):
    northgate = read_site(demo_sites()["Northgate Tower"])
    lines, state, act, _ = log_told(rewritten(tmp_path, lambda heads, rows: (heads, in_inches(rows, 370))), northgate)
    assert (state, act) == ("attention", True)
    assert any(line.startswith("From line 372 on") and "another unit from there on" in line for line in lines)
    assert sum("| not found |" in line for line in lines) == 4
    assert not any("something else moved" in line for line in lines)


def test_pascals_under_a_heading_of_inches_are_beyond_the_span_and_refused(tmp_path):
    northgate = read_site(demo_sites()["Northgate Tower"])
    path = rewritten(tmp_path, lambda heads, rows: ([cell.replace("(Pa)", "(in. w.c.)") for cell in heads], rows))
    with pytest.raises(ValueError, match="beyond the span of PDT-1") as refusal:
        log_told(path, northgate)
    assert "unit?" in str(refusal.value)
