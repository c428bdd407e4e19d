"""The panel of logs: each log opens with its verdict, one's own is pointed at once, what cannot be used is told and lost nowhere."""

import json
import re
import sys

import pytest
from trend_cases import FOLDER, READ

from helpers.model.site.file import demo_sites, read_site
from helpers.pages.measured import trend_files
from helpers.pages.measured.trend_files import TrendPanel, demo_logs, pointed_at
from helpers.plots.plot import Line
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.trends.trend import shape_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

ABOVE = f"made above the ceiling, {ceiling_of(read_site(demo_sites()[trend_files.DEMO_SITE])).hz:.1f} Hz: do not repeat"


@pytest.fixture
def records(tmp_path, monkeypatch):
    """A folder of records of the test's own."""
    monkeypatch.setattr(trend_files, "RECORDS", tmp_path)
    return tmp_path


@pytest.fixture
def panel(records, monkeypatch):
    """Opened alone with the unit switch."""
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")
    return TrendPanel()


OPENS = {
    "Stair Steps In Manual": ("open", "Margins kept, but the test ran above the ceiling: no proof"),
    "Stair Set Point Steps": ("open", "Margins kept, but the test ran above the ceiling: no proof"),
    "Stair Change Of Value": ("open", "Gain found; no delay and no lag from this log"),
    "Building Every Minute": ("open", "Gain found; no delay and no lag from this log"),
    "Stair Hunting": ("wrong", "It hunts, and this log cannot tell why"),
    "Stair Steps Door Moved": ("open", "No step test can be read from this log"),
}


def test_every_log_opens_with_its_verdict_in_both_systems(panel):
    assert set(OPENS) == set(demo_logs())
    for name, expected in OPENS.items():
        verdict = panel.panel.put(name=name)
        assert (verdict.kind, verdict.head) == expected
        UNITS.system = "in. w.c."
        assert " Pa" not in re.sub(r"\([^)]*\)", "", re.sub("<[^>]+>", " ", panel.below.value)).replace(" Pa)", "")
        UNITS.system = "Pa"


def test_headings_say_which_column_is_which():
    for name, columns in READ.items():
        found = pointed_at(shape_of(FOLDER / name))
        for role in ("output", "speed", "set_point"):
            given = getattr(columns, role)
            assert bool(found.get(role)) == bool(given), (name, role)
            assert (found.get(role) or "").startswith(given or ""), (name, role)


def test_settings_as_found_stand_in_a_tile_beside_all_that_the_step_test_gave(panel):
    verdict = panel.panel.put(name="Stair Steps In Manual")
    assert verdict.tiles[0] == ("As found", "0.5 %/%, 5 s", "by Northgate Tower's file")
    assert len(verdict.tiles) == 3
    worst, asked = panel.study.settings.as_found.worst, panel.study.settings.box.asked
    assert verdict.tiles[1] == ("Gain margin, worst", f"{worst.gain_margin:.1f} times", f"min. {asked.gain_margin:g}")
    assert worst.gain_margin > asked.gain_margin  # keeps its margins: with which, and which is asked for
    assert any(line.startswith("Process gain 0.94 %/%") for line in panel.study.sentences())
    step = panel.study.step
    assert verdict.tiles[2] == (
        "Delay, lag",
        f"{step.dead_time_s.value:.2g} s, {step.lag_s.value:.2g} s",
        ", ".join(f"{one.low:.2g} to {one.high:.2g}" for one in (step.dead_time_s, step.lag_s)),
    )
    assert [what for what, *_ in panel.panel.put(gain="none").tiles] == ["Process gain", "Delay", "Lag"]


def test_nobody_is_sent_to_manual_without_a_speed_and_without_word_that_the_stair_is_not_protected(panel):
    verdict = panel.panel.put(name="Stair Hunting")
    assert verdict.do == "Do: agree it, stair unprotected; manual at the record's safe speed, ten swings"
    assert "stair, which is not protected meanwhile" in verdict.words
    assert "not above the highest speed at which no door passes its limit" in verdict.words


def test_a_log_that_runs_past_the_stated_full_speed_is_told_with_both_figures_and_no_setting_is_taken_from_it(panel):
    verdict = panel.panel.put(name="Stair Hunting", full_hz="50 Hz")
    said = (
        "its full speed some 60 Hz by speed and output, the full speed stated is 50 Hz: another drive's log, a speed scaled in per cent, "
        "or another site's file"
    )  # made by a fan of 60 Hz: data/trends/truth.toml
    assert f"CHECK: {said}" in verdict.words
    assert verdict.head == "It hunts; full speed some 60 Hz, stated 50 Hz: whose?"
    assert verdict.do == "Do: settle whose drive this is and its full speed, then read it again"
    steps = panel.panel.put(name="Stair Steps In Manual", full_hz="35 Hz", gain="0.3", integral_s="4 s")
    assert (steps.kind, steps.head) == ("attention", "Full speed some 60 Hz, stated 35 Hz: whose log is it?")
    assert not steps.tiles or "gain" not in steps.tiles[0][0]
    assert "full speed stated" in panel.panel.put(full_hz="36 Hz").words
    assert "full speed stated" not in panel.panel.put(full_hz="60 Hz").words


def test_reading_fit_and_fan_are_told_apart_without_colour(panel):
    panel.panel.put(name="Stair Set Point Steps")
    plot = written_out(trend_files._picture(panel.study))
    lines = [line.pen.line for axes in plot.axes for line in axes.layers if isinstance(line, Line) and line.pen and line.label]
    assert len(set(lines)) == len(lines) >= 4


def test_a_lent_step_test_says_why_it_hunts(panel):
    verdict = panel.panel.put(name="Stair Hunting", lent="Stair Steps In Manual", **trend_files.HUNTED)
    assert verdict.head == "It hunts: the gain is too large for this loop"
    assert "swings by itself from 1.1 times its gain on" in verdict.words


def test_settings_that_let_swings_grow_are_fail_in_the_headline(panel):
    verdict = panel.panel.put(name="Stair Steps In Manual", **trend_files.HUNTED)
    assert (verdict.kind, verdict.head) == ("wrong", "Gain 2 %/%, 1.2 s: swings grow; gain margin 0.82, min. 2.5")


def test_settings_that_keep_their_margins_in_one_test_are_no_pass_and_go_to_the_record(panel):
    """A log knows one weather, one speed, doors as they stood: Larkfield's own tuning keeps every margin of a step at half speed and
    swings elsewhere."""
    verdict = panel.panel.put(gain="0.36", integral_s="0.81 s")
    assert (verdict.kind, written_out(verdict.do)) == ("open", f"Do: hold it against the record's pair, page 12; {ABOVE}")


def test_settings_that_have_more_of_every_margin_than_those_as_left_are_left(panel):
    verdict = panel.panel.put(name="Stair Steps In Manual")
    found, left = panel.study.settings.as_found, panel.study.settings.as_left
    assert found.worst.gain_margin > left.worst.gain_margin
    assert found.worst.phase_margin_deg > left.worst.phase_margin_deg
    assert found.worst.peak_sensitivity < left.worst.peak_sensitivity
    most = ceiling_of(read_site(demo_sites()[trend_files.DEMO_SITE])).hz
    assert panel.study.ran_hz > most  # the demo's steps were made faster than the building bears, and nobody is to repeat them
    assert written_out(verdict.do) == f"Do: leave the settings; {ABOVE}"
    assert f"ceiling of speed, {most:.1f} Hz: do not repeat it" in panel.below.value
    gained = found.integral_s / found.gain / (left.integral_s / left.gain)
    assert f"{gained:.1f} times as quickly" in verdict.words
    assert "less of every margin" in verdict.words
    quick = panel.panel.put(gain="0.45", integral_s="0.6 s")  # less of some margin than as left: nobody is told to leave it
    assert "leave the settings" not in quick.do
    assert "less of every margin" not in quick.words


def test_without_settings_as_found_those_to_try_in_the_record_stand_all_the_same(panel):
    verdict = panel.panel.put(gain="none")
    assert verdict.kind == "attention"
    assert verdict.do == "Do: try gain 0.36 %/%, integral 0.81 s in page 12's record first"
    assert "31 to 36 Hz" in panel.study.settings_table().title


def test_a_set_point_beside_the_steps_asks_for_other_steps(panel):
    verdict = panel.panel.put(target_pa="20 Pa", gain="0.36", integral_s="1.6 s")
    assert written_out(verdict.do) == f"Do: make steps around the set point first; {ABOVE}"
    assert verdict.kind == "open"
    assert "is not among them" in verdict.words


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"file": "nowhere.csv"}, "nowhere.csv is not there"),
        ({"gain": "much"}, "Gain as found: write a number"),
        ({"integral_s": "4"}, "Integral time as found must be a time with its unit"),
        ({"units_of": "Pa"}, "write heading: unit"),
        ({"written": "clock"}, "must hold times"),
        ({"speed": "Output (%)"}, "must each have one job"),
    ],
)
def test_what_cannot_be_used_is_told_and_the_last_picture_stays(panel, typed, said):
    before = panel.panel.picture.image.value
    for name, value in typed.items():
        control = panel.panel.controls[name]
        if hasattr(control, "text"):
            control.text = value
        else:
            control.value = value
    assert panel.panel.verdict.kind == "entry"
    assert said in panel.panel.verdict.words
    assert panel.panel.picture.image.value == before


def test_an_own_log_is_pointed_at_once_for_all_of_its_shape(panel, records):
    text = (FOLDER / "stair_steps_in_manual.csv").read_text().replace("Fan speed (Hz)", "A (Hz)").replace("Output (%)", "B (Hz)")
    for name in ("monday.csv", "tuesday.csv"):
        (records / name).write_text(text)
    panel.panel.controls["file"].text = str(records / "monday.csv")
    assert panel.panel.controls["speed"].value == "B (Hz)"
    panel.panel.controls["speed"].value = "A (Hz)"
    kept = json.loads((records / trend_files.REMEMBERED).read_text())
    assert [of["speed"] for of in kept.values()] == ["A (Hz)"]
    again = TrendPanel()
    again.panel.controls["file"].text = str(records / "tuesday.csv")
    assert again.panel.controls["speed"].value == "A (Hz)"
    assert again.panel.verdict.tiles[0][2] == "by Northgate Tower's file"


@pytest.mark.parametrize("kept", ["", "[1, 2]", '{"x": 1}', "\x00", "[" * 5000])
def test_a_damaged_memory_is_none(records, kept):
    (records / trend_files.REMEMBERED).write_text(kept)
    assert trend_files._remembered() == {}


def test_nothing_is_kept_for_the_logs_that_come_with_the_page(panel, records):
    panel.panel.put(output="none")
    assert list(records.iterdir()) == []


def test_the_still_page_has_words_for_everything(panel):
    bundle = panel._repr_mimebundle_()
    assert "As found beside as left" in bundle["text/html"]
    assert "one lag and a delay" in bundle["text/plain"]
    assert written_out(bundle["text/plain"]) == bundle["text/plain"]


def test_a_second_transmitter_brings_the_fault_benchs_faults(panel, records):
    rows = ["Time (s),Speed (Hz),PDT-1 (Pa),PDT-2 (Pa)"]
    rows += [f"{second},{30 + 5 * (second % 60 > 30)},{35 + 8 * (second % 60 > 31)},41.0" for second in range(240)]
    (records / "two.csv").write_text("\n".join(rows) + "\n")
    panel.panel.controls["file"].text = str(records / "two.csv")
    assert "fault bench" not in panel.below.value
    panel.panel.put(second="PDT-2 (Pa)")
    assert "reading of PDT-2: flat" in panel.below.value
    assert "Check next" in panel.below.value


def test_without_pandas_the_page_says_so_and_breaks_nowhere(records, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    trend_files._read.cache_clear()  # what another test has read is no log of this page
    shown = TrendPanel()._repr_mimebundle_()
    assert "trend logs are read with pandas, which is not installed here" in shown["text/plain"]
    assert "not installed here" in shown["text/html"]
