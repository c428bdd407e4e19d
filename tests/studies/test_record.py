"""The design record as a whole: complete, consistent, in words, in both systems of units, quick."""

import re
from pathlib import Path

import numpy as np
import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, quickly_tuned, record_of, site_of
from drawn import layers

from helpers.formulas.uncertainty import wilson_interval
from helpers.model import found_once
from helpers.model.air.conditions import demo_weather, nearest_station, read_hours
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.tolerances import filled_in
from helpers.plots.plot import Band, Cells, Line, Plot
from helpers.record.design import Design
from helpers.record.sections.rule import _tried_said, rule_section, tried_instead
from helpers.record.sections.signals import injection_section, range_section, signal_section
from helpers.record.sections.time import low_demand_section, tuning_section, year_section
from helpers.record.settings.schedule import schedule_table, settings_schedule
from helpers.record.standing import Standing
from helpers.studies.cases import same_but_stair_air
from helpers.studies.commissioning.sheets import injection_missing
from helpers.studies.readings.words import PROVED
from helpers.studies.report import Record, Section, Written
from helpers.studies.status import SEVERITIES
from helpers.units.said import written_out

CLOSES = {"street": {"closer_force_n": 160.0, "force_limit_n": 200.0, "closing_share": 0.9}}  # else Larkfield's final exit door fails first


@pytest.fixture(scope="module")
def larkfield_record(larkfield_design):
    return larkfield_design.record()


@pytest.fixture(params=["larkfield_design", "northgate_design"])
def design(request):
    return request.getfixturevalue(request.param)


def test_the_record_goes_from_the_window_to_the_injection_table(larkfield_record):
    keys = [section.key for section in larkfield_record.sections]
    steady = ["site", "window", "doors", "rule", "failure", "open doors", "two sets", "flow", "fan", "range", "action", "signal",
              "injection"]  # fmt: skip
    assert keys == [*steady, "tuning", "low-demand", "placement", "year", "choices", "settings", "provenance"]
    assert all(section.verdict.endswith((".", "!")) for section in larkfield_record.sections)


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_the_record_lists_what_the_site_file_does_not_state(design, system):
    (table,) = (table for table in design.record(system).sections[0].tables if table.key == "not_stated")
    told = "\n".join(row[0] for row in table.rows)
    assert told.split("\n") == list(written_out(filled_in(design.site), system))
    assert "input scan: not stated; taken as" in told


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_every_figure_has_its_unit_reason_and_source(design, system):
    record = design.record(system)
    for section in record.sections:
        for figure in section.figures:
            assert figure.text
            assert "nan" not in figure.text
            assert figure.source
            assert figure.reason or figure.label == "Storeys"
            if figure.dimension == "pressure" and figure.value is not None:
                assert figure.text.endswith(" Pa" if system == "Pa" else "in. w.c.")


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_tables_are_rectangular_and_no_text_holds_the_other_systems_units(design, system):
    record = design.record(system)
    for table in [table for section in record.sections for table in section.tables]:
        assert {len(row) for row in table.rows} <= {len(table.columns)}
        assert len(table.states) in (0, len(table.rows))
        assert set(table.states) <= {*SEVERITIES, ""}
        assert not any("nan" in cell for row in table.rows for cell in row)
        if table.key == "window" and system != "Pa":  # no newtons, no pascals in a record in inches
            assert not any(re.search(r"\d (N|Pa)\b", cell) for row in table.rows for cell in row)
        if system == "in. w.c.":
            assert not any(cell.endswith((" Pa", " m³/s", " kW", " °C")) for row in table.rows for cell in row)


def test_the_systems_of_units_tell_the_same_figures(design):
    pascals, inches = (design.record(system) for system in ("Pa", "in. w.c."))
    for ours, theirs in zip(pascals.sections, inches.sections, strict=True):
        assert [figure.value for figure in ours.figures] == [figure.value for figure in theirs.figures]
        assert [finding.severity for finding in ours.findings] == [finding.severity for finding in theirs.findings]


def test_the_summary_says_what_to_buy_set_and_check(larkfield, larkfield_design, larkfield_record):
    fan, full_speed, ajar, closers, taps, set_, failed, tune, check, verdict = larkfield_record.summary
    assert fan.startswith("No fan is to be chosen yet: first the set point")
    assert closers.startswith("FAIL with the fan off, whatever is set (NFPA 92): final exit")
    assert full_speed.startswith("FAIL at full speed: stair door 13 is too heavy to open")
    assert ajar.startswith("FAIL at the highest speed, do not enter: 50 Hz is beyond ")
    assert "A highest speed in smoke control: not laid down: first the set point" in ajar
    assert taps.startswith(
        "Transmitters: the range is not laid down: first the set point; for the file's it would be 2 of 0 to 125 Pa, 4-20 mA"
    )
    assert failed == "On a failed reading: not laid down: first the set point and a fan that is enough."
    assert tune == "Tuning: not laid down: first the set point, a fan that is enough and ramps that motor and brake can follow."
    good = larkfield_design.own.good[[case.shut for case in larkfield_design.cases]].all()
    rule = larkfield.control.rule
    assert set_.startswith(f"Set the {rule} reading to be held at " if good else f"FAIL: the {rule} reading held at ")
    assert check.startswith("Check the 14 steps of the injection table")
    assert "N at the handle" in check
    assert verdict.startswith("With doors shut")


def test_a_design_whose_open_doors_are_stated_and_held_says_buy():
    slower = read_site(demo_sites()["Tannery Row"]).with_changes(fan={"smoke_highest_speed_hz": 38.0})
    record = design_for(slower).record()
    assert record.summary[0].startswith("Buy a fan for ")
    assert "The fan stated holds every required case, but not with these margins" in record.summary[0]
    assert record.headline == "What to buy, set and check"


def test_cautions_defer_to_the_authority_and_forbid_the_low_demand_stop_in_the_fire_mode(larkfield_record):
    told = " ".join(larkfield_record.cautions)
    for words in ("authority having jurisdiction", "low-demand stop is never active in smoke control", "locked out", "outrank"):
        assert words in told


def test_the_way_from_hand_to_network_ends_at_the_fans_duty(design):
    assert design.own.state[0] == "held"
    assert design.ladder.rungs[-1].flow_m3_s == pytest.approx(design.duty.flow_m3_s[0], rel=0.02)


def test_findings_of_all_sections_come_the_gravest_first(larkfield_record):
    order = [SEVERITIES.index(finding.severity) for finding in larkfield_record.findings]
    assert order == sorted(order)
    told = sum(1 + len(finding.effects) for finding in larkfield_record.findings)
    assert told == sum(len(section.findings) for section in larkfield_record.sections)  # what follows from another is under it


def test_a_stair_that_can_be_held_teaches_that_rule_and_set_point_belong_together(larkfield_with_light_closers):
    design = design_for(larkfield_with_light_closers.with_changes(doors=CLOSES))
    shut = np.array([case.shut for case in design.cases])
    good = {result.rule: bool(result.good[shut].all()) for result in design.rules.results}
    assert good[design.site.control.rule]
    assert not all(good.values())


def test_a_set_point_that_suits_the_stair_as_stated_does_not_suit_its_first_minute(larkfield, larkfield_design):
    own = design_for(larkfield.with_changes(doors=CLOSES)).own
    good = {case.stair: own.good[place] for place, case in enumerate(own.cases) if case.shut and case.weather == "winter"}
    assert good == {"as stated": True, "first minute": False, "after an hour": True}
    assert "No set point keeps every door inside" in larkfield_design.section("rule").verdict


def test_a_rule_that_fails_says_which_rule_and_set_point_would_do(larkfield_with_light_closers):
    record = design_for(larkfield_with_light_closers, rule="lowest").record()
    wrong = [finding for finding in record.section("rule").findings if finding.severity == "wrong"]
    assert "no rule and set point found" in wrong[0].remedy  # where the doors are inside a final exit stays ajar: no figure to enter
    assert "does not keep every door inside its window" in record.summary[-1]
    higher = design_for(read_site(demo_sites()["Tannery Row"]).with_changes(control={"set_point_pa": 45.0}))
    wrong = [finding for finding in written_out(rule_section(higher)).findings if finding.severity == "wrong"]
    assert "works with" in wrong[0].remedy


def test_choices_made_for_the_record_are_used_throughout(larkfield):
    tap = larkfield.transmitters[0].model_copy(update={"level": 3, "name": "PDT-3"})
    design = design_for(larkfield, set_point=35.0, rule="lowest", transmitters=[tap, larkfield.transmitters[1]], open_doors=[9])
    assert design.rules.set_point_pa == 35.0
    assert design.own.rule == design.injection.rule == "lowest"
    assert design.injection.transmitters[0].name == "PDT-3"
    assert design.cases[-1].open_doors == (9,)
    assert design.ladder.door_dp_pa == pytest.approx(design.own.door_dp_pa[0, 0])


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_pictures_hold_arrays_ready_to_draw(design, system):
    record, storeys = design.record(system), len(design.site.storeys)
    drawn = record.pictures()
    for result in design.rules.results:
        profile = drawn[f"profile {result.rule}"]
        heights, labels = profile.axes[0].y.ticks
        assert len(labels) == len(heights) == storeys
        assert (np.diff(heights) > 0).all()
        lines = [layer for layer in layers(profile) if isinstance(layer, Line) and len(layer.x) == storeys]
        for line, opened in zip(lines, layers(profile, "open"), strict=True):
            assert np.array_equal(np.isnan(line.x), np.isin(heights, opened.y))
    lines = [layer for layer in layers(drawn["fan"]) if isinstance(layer, Line)]
    assert all(np.isfinite(line.x).all() and np.isfinite(line.y).all() for line in lines)
    # Of the stair's air the hardest; and what is asked.
    points = len([line for line in lines if len(line.x) == 1]) - len(
        same_but_stair_air(design.cases)
    )  # of the stair's air the hardest; and what is asked
    assert points in (1, 2)
    assert "chosen" in [getattr(layer, "text", "") for layer in layers(drawn["range"])]
    assert list(drawn["signal 0"].axes[0].x.ticks[0]) == [4.0, 8.0, 12.0, 16.0, 20.0]
    assert "0 % is 4 and 0, 25 % is 8 and" in drawn["signal 0"].words


def test_duty_points_lie_on_the_drawn_curves(larkfield_design, larkfield_record):
    chart = larkfield_record.pictures()["fan"]
    place, lines = larkfield_design.duty.design, [layer for layer in layers(chart) if isinstance(layer, Line)]
    duty, system = (next(line for line in lines if line.label.startswith(name)) for name in ("duty, ", "duct and stair"))
    point = next(line for line in lines if line.label.startswith(f"{larkfield_design.duty.cases[place].name}, "))
    assert np.interp(point.x, duty.x, duty.y) == pytest.approx(point.y, rel=0.01)
    assert np.interp(point.x, system.x, system.y) == pytest.approx(point.y, rel=0.03)  # few points, and a curve between them


def test_pictures_in_inches_hold_the_same_pascals_and_are_written_out_in_inches(larkfield_design):
    pascals, inches = (larkfield_design.record(system).pictures()["range"] for system in ("Pa", "in. w.c."))
    highs = [[layer.x[1] for layer in layers(plot) if isinstance(layer, Band) and layer.over == "xy"] for plot in (pascals, inches)]
    assert highs[0] == highs[1]
    assert ("Pressure [Pa]" in pascals.words, "Pressure [in. w.c.]" in inches.words) == (True, True)
    assert [plot.axes[0].x.shown(249.0889, plot.system) for plot in (pascals, inches)] == pytest.approx([249.0889, 1.0])


def test_every_picture_is_a_plot_and_says_its_axes(larkfield_record):
    for picture in larkfield_record.pictures().values():
        assert isinstance(picture, Plot)
        assert picture.caption
        last = picture.axes[-1]
        of = (last.x, last.y, *(layer.axis for layer in last.layers if isinstance(layer, Cells)))
        assert any("[" in axis.text(picture.system) for axis in of)
        assert last.x.label
        assert last.y.label or last.y.ticks


def test_the_record_of_a_site_without_set_limits_is_still_a_record(stair, a_door):
    free = a_door(closer_force_n=None, handle_to_edge_m=None, force_limit_n=None, minimum_dp_pa=None)
    record = design_for(stair(standard="en12101_13_2022", doors={"stair": free})).record()  # of blanks: it bounds nothing either
    assert "nothing bounds the pressure" in record.section("window").verdict
    assert "the pressure and the door force on every storey" in record.summary[-2]
    assert "Not for this site: window must limit at least one door" in record.section("placement").verdict
    assert record.section("year").findings[0].severity == "attention"


def test_the_record_of_an_exhaust_fan_leaves_the_hand_method_out(stair):
    ends = {"range_low_pa": -125.0, "range_high_pa": 125.0}
    site = stair(fan={"effect": "exhaust"}, control={"set_point_pa": -10.0, "action": "direct"}, transmitters=[ends, ends])
    record = design_for(site).record()
    assert "not for this one" in record.section("flow").verdict
    assert record.section("flow").verdict.startswith("The hand method")  # nothing was found in it, so nothing is marked
    assert "do not enter. Direct acting" in record.section("action").verdict


def test_a_single_storey_with_one_transmitter_has_a_record(stair):
    site = stair(1).with_changes(transmitters=[{}])
    record = design_for(site).record()
    assert isinstance(record, Record)
    assert "prove its scaling" in record.section("injection").verdict


def test_a_signal_with_a_dead_zero_and_unlike_ranges_are_pointed_out(stair):
    site = stair(transmitters=[{"signal": "0-10 V"}, {"range_high_pa": 250.0}])
    told = " ".join(finding.what for finding in written_out(signal_section(design_for(site))).findings)
    assert "A dead wire cannot be told from no pressure: PDT-1" in told
    assert "different ranges" in told


def test_a_range_stated_that_is_only_the_least_bad_is_not_advised_against_itself(stair, a_door):
    site = stair(
        doors={"stair": a_door(minimum_dp_pa=80.0)}, control={"set_point_pa": 85.0}, transmitters=[{"accuracy_percent_span": 5.0}] * 2
    )
    design = design_for(site)
    assert design.range.chosen == design.range.stated
    (finding,) = written_out(range_section(design)).findings
    assert finding.severity == design.range.chosen.state == "wrong"
    assert re.fullmatch("the same range, accuracy of [0-9.]+ % of span or better", finding.remedy)
    assert finding.what == "No usual range suits; the one stated, 0 to 125 Pa, is the least bad"


def test_another_span_asks_for_another_gain(stair):
    site = stair(transmitters=[{"range_high_pa": 1000.0}] * 2)
    design = design_for(site)
    gain = next(figure for figure in written_out(signal_section(design)).figures if figure.label == "Gain for the range chosen")
    assert gain.value == pytest.approx(0.6 * design.range.chosen.span_pa / 1000.0)


def test_a_range_that_is_not_the_files_is_told_with_every_line_that_holds_for_it_alone_and_one_that_does_not_suit_is_fail():
    site = site_of("Tannery Row").with_changes(transmitters=[{"range_low_pa": 0.0, "range_high_pa": 1000.0}] * 2)
    design = quickly_tuned(site)
    (finding,) = written_out(range_section(design)).findings
    assert finding.severity == design.range.stated.state == "wrong"
    assert finding.what.endswith(f"schedule and sheets are for {written_out(design.range.chosen.text())}")
    told = f"only where a {written_out(design.range.chosen.text())} transmitter hangs: the site file states 0 to 1000 Pa"
    rows = written_out(settings_schedule(design.built, design.tuned, standing=design.standing))
    ends = {f"display at the {end} end of the signal" for end in ("low", "high")}
    form = {"error", "integral part, each sample", "output", "growth past an end", "integral part at a start", "one sample, worked out"}
    gains = {"gain", "or proportional band"} | form  # the loop as it is keyed in has the gain in it
    assert {line.name for line in rows if told in written_out(line.value)} == ends | gains
    assert any("plate of every transmitter" in line for line in injection_missing({}))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"set_point": 9000.0}, "set_point"),
        ({"set_point": "forty"}, "set_point must be a pressure with its unit"),
        ({"set_point": float("nan")}, "set_point must be a finite number"),
        ({"set_point": "45 N"}, "which is a force"),
        ({"rule": "least"}, "rule"),
        ({"rule": "middle"}, "fewer than three transmitters"),
        ({"rule": "weighted"}, "weights"),
        ({"weather": "autumn"}, "weather must be one of"),
        ({"open_doors": [99]}, "open_doors must be storeys with a stair door"),
        ({"units": "psi"}, "units must be one of"),
    ],
)
def test_a_choice_that_cannot_be_gets_one_sentence(larkfield, changes, words):
    with pytest.raises(ValueError, match=words):
        Design(larkfield, **changes)


def test_a_transmitter_on_a_storey_that_is_not_there_gets_one_sentence(larkfield):
    off = larkfield.transmitters[0].model_copy(update={"level": 99})
    with pytest.raises(ValueError, match="must be a storey of this site"):
        Design(larkfield, transmitters=[off])


def test_a_section_or_a_key_that_is_not_there_is_refused_by_name(larkfield_record):
    with pytest.raises(ValueError, match="key must be one of site, window"):
        larkfield_record.section("cost")


def test_the_record_of_larkfield_solves_its_air_no_oftener_than_it_must(larkfield, monkeypatch):
    """What a slow machine does not change: an answer asked for anew under another name, or a study made twice, is air solved once more."""
    kept = found_once._Kept()  # nothing that other tests have found
    monkeypatch.setattr(found_once, "_KEPT", kept)
    Design(larkfield).record()
    assert 40 < len(kept._found) < 110  # 86 when this was written; the time it takes is the bench's, record_s
    assert kept.size < 5_000_000  # bytes of the pressures found: 3.8 million then


def test_a_study_that_takes_time_is_made_when_its_section_is_looked_at(larkfield, larkfield_design, monkeypatch):
    known = larkfield_design.tuning  # the same site's
    monkeypatch.setattr("helpers.record.design.tuning_study", lambda *given, **more: known)
    design = Design(larkfield)
    record = design.record()
    slow = {"tuning", "door_trend", "low_demand", "placement", "year"}
    assert not slow & set(vars(design))
    record.section("rule")
    assert not slow & set(vars(design))
    record.section("injection")  # nothing that stands before it is written for it
    assert not slow & set(vars(design))
    record.section("failure")  # its alarms leave room for the year and wait for the tuning's door event
    assert slow & set(vars(design)) == {"tuning", "year"}
    record.section("low-demand")
    assert slow & set(vars(design)) == {"tuning", "low_demand", "year"}


def figures_of(record, key):
    return {figure.label: figure.value for figure in record.section(key).figures}


def test_the_tuning_in_the_record_is_the_studys(larkfield_design, larkfield_record, tannery_design):
    study, figures = larkfield_design.tuning, figures_of(larkfield_record, "tuning")
    assert figures["Gain"] == study.recommended.gain
    assert figures["Integral time"] == study.recommended.integral_s
    assert figures["Door shuts, the proposed tuning"] == study.recommended.doors.shuts_s
    assert figures["Peak force at a handle"] == study.recommended.worst_doors.peak_force_n
    assert study.recommended.gain_margin == figures["Minimum gain margin"] >= 2.5
    verdict = larkfield_record.section("tuning").verdict
    assert verdict.startswith("Not to be entered, not laid down: first the set point")
    assert verdict.endswith(written_out(study.verdict()))
    assert "gain" not in larkfield_record.summary[-3]
    assert f"gain of {tannery_design.tuning.recommended.gain:.2g} %/%" in tannery_design.record().summary[-3]


def test_the_door_event_is_drawn_with_both_tunings_and_shows_the_peak_after_the_door_has_shut(larkfield_design, larkfield_record):
    trend, drawn = larkfield_design.door_trend, larkfield_record.pictures()["door event"]
    upper, lower = drawn.axes
    happens = [layer for layer in upper.layers if getattr(layer, "lane", "") == "rows"]
    assert [words.x for words in happens] == [trend.opens_s, trend.shuts_s]
    curves = ([layer for layer in axes.layers if isinstance(layer, Line) and len(layer.x) > 2] for axes in (upper, lower))
    for number, (pressure, speed) in enumerate(zip(*curves, strict=True)):
        np.testing.assert_allclose(pressure.y, trend.door_pa[:, number])
        np.testing.assert_allclose(speed.y, trend.speed_hz[:, number])
        assert trend.shuts_s < trend.time_s[pressure.y.argmax()] < trend.shuts_s + 5
    assert [words.text.split()[0] for words in upper.layers if getattr(words, "lane", "") == "right"] == ["least", "most"]
    own, proposed = (np.abs(trend.speed_hz[:, number] - trend.speed_hz[0, number]) for number in (0, 1))
    assert proposed[-1] < 0.2 < own[-1]  # the site's own has not come back when the other has


def test_low_demand_is_refused_in_the_fire_mode(design):
    section = design.section("low-demand")
    assert "is in smoke control: no low-demand stop" in section.verdict
    assert [figure.text for figure in section.figures] == ["never"]
    assert not section.tables


def test_a_site_held_for_comfort_gets_the_window_of_its_threshold(larkfield):
    design = Design(larkfield)  # no minimum pressure of a standard: the loop alone, which a design of these doors takes as in smoke control
    design.site = larkfield.with_changes(control={"fire_mode": False})
    section, study = written_out(low_demand_section(design)), design.low_demand
    figures = {figure.label: figure for figure in section.figures}
    assert figures["Fastest idling"].value == study.ends_hz[0]
    assert figures["Slowest duty"].value == study.ends_hz[1]
    assert figures["Threshold window"].text == (f"{study.window_hz[0]:.1f} to {study.window_hz[1]:.1f} Hz" if study.feasible else "none")
    assert section.tables[0].key == "low_demand"
    assert "invented" in section.notes[0]


def test_the_placement_in_the_record_says_how_many_conditions_and_how_sure_that_is(design):
    section, study = design.section("placement"), design.placement
    figures = {figure.label: figure for figure in section.figures}
    inside = figures["All doors inside"]
    assert inside.value == study.best.inside
    low, high = wilson_interval(round(study.best.inside * study.judged), study.judged, 0.95)
    assert inside.reason == f"of {design.drawn} sampled conditions; interval {100 * low:.1f} % to {100 * high:.1f} %"
    assert figures["The site's own choice"].value == study.share[study.number_of(study.question.own)]
    (drawn,) = section.pictures
    cells, frame, *_ = drawn.axes[0].layers
    np.testing.assert_allclose(cells.values, 100 * study.heat_map("average").share)
    assert cells.values[round(np.mean(frame.y[:4])), round(np.mean(frame.x[:4]))] == np.nanmax(cells.values)


def test_the_year_in_the_record_is_the_studys(design):
    section, study = design.section("year"), design.year
    figures = {figure.label: figure.value for figure in section.figures}
    assert figures["Hours inside"] == study.counts["inside"]
    assert figures["Room in the worst hour"] == study.room_pa.min()
    (drawn,) = section.pictures
    cells, frame, *_ = drawn.axes[0].layers
    assert cells.values.shape == (24, 365)
    assert cells.values[round(np.mean(frame.y[:4])), round(np.mean(frame.x[:4]))] == np.nanmin(cells.values)
    assert [name for name in drawn.axes[0].x.ticks[1] if name][:3] == ["Jan", "Feb", "Mar"]
    assert "nearest to the site's winter" in section.notes[0]


def test_the_weather_is_of_the_station_whose_cold_is_nearest_to_the_sites_winter(larkfield):
    away = {}
    for path in demo_weather().values():
        hours = read_hours(path)
        assert (hours.outdoor_c < hours.cold_c).mean() <= 0.01 <= (hours.outdoor_c <= hours.cold_c).mean()
        away[hours.name] = abs(hours.cold_c - larkfield.weather["winter"].outdoor_c)
    assert design_for(larkfield).hours.name == min(away, key=away.get)
    mild = larkfield.with_changes(weather={"winter": {"outdoor_c": 2.0}})
    assert nearest_station(mild).name == max(away, key=away.get)


def test_hours_outside_the_window_are_a_wrong_finding(larkfield):
    section = written_out(year_section(design_for(larkfield, set_point=32.0)))
    assert section.findings[0].severity == "wrong"
    assert "too little pressure" in section.findings[0].why


def test_a_site_whose_transmitters_see_nothing_of_the_fan_gets_no_tuning_and_a_reason(larkfield):
    section = written_out(tuning_section(Unanswering()))
    assert section.verdict == "Not for this site: cases must hold one in which the reading answers to the fan."


class Unanswering:
    """A design whose step tests give no answer."""

    site = site_of("Larkfield House")

    @property
    def tuning(self):
        raise ValueError("cases must hold one in which the reading answers to the fan")


@pytest.mark.parametrize(("system", "written"), [("Pa", "125 Pa"), ("in. w.c.", "0.50 in. w.c.")])
def test_a_transmitters_range_is_one_number_in_every_place(design, system, written):
    """Larkfield's ends at 125 Pa, Northgate's at 0.50 in. w.c.: the trade takes them for one."""
    entered = {row[1]: row[2] for row in written_out(schedule_table(settings_schedule(design.built)), system).rows}
    assert entered["display at the high end of the signal"] == f"{written} at 20 mA"
    assert entered["gain"].endswith(f"of a span of {written}")
    (stands,) = {figure.reason for figure in written_out(signal_section(design), system).figures if "stands for" in figure.reason}
    ranges = (written_out(one.text(), system) for one in (design.range.chosen, design.range.stated))
    assert all(text.endswith(f" to {written}") for text in (stands, *ranges))


def test_a_section_whose_writer_fails_is_no_end_of_the_record():
    def fails():
        raise IndexError("out of range")

    with pytest.raises(IndexError, match="out of range"):
        list(Written([lambda: "first", fails]))


def test_a_section_is_found_by_its_key_and_no_other_is_written_for_it_nor_for_a_key_that_is_not_there():
    def fails():
        raise AssertionError("was written")

    sections = Written([fails, lambda: Section("fan", "Fan and drive", "good"), fails], ("window", "fan", "year"))
    record = Record("a title", "a site", "Pa", (), sections, ())
    assert record.section("fan").verdict == "good"
    with pytest.raises(ValueError, match="key must be one of window, fan, year; got 'cost'"):
        record.section("cost")


def test_the_sections_of_a_record_bear_the_keys_by_which_they_are_found(larkfield_record):
    assert [section.key for section in larkfield_record.sections] == list(larkfield_record.sections.keys)


def test_a_stair_taller_than_the_hand_method_carries_is_a_finding_and_one_of_several_supplies_is_judged_by_its_air(
    larkfield, larkfield_record, northgate_design, tannery_design
):
    (told,) = [finding for finding in larkfield_record.section("window").findings if "taller than one supply" in finding.what]
    assert told.severity == "wrong"  # no set point holds its doors
    assert "38.4 m, NFPA 92's threshold 30.5 m; hand calculation 33.4 m (winter)" in told.figure
    assert "several supply points even out the shaft's friction, not its stack effect" in told.remedy
    # height on one point of injection is a matter of the building: in a design for mild weather it is as tall
    (mild,) = [one for one in design_for(larkfield, weather="mild").section("window").findings if "taller than" in one.what]
    assert "hand calculation 33.4 m (winter)" in mild.figure
    three, two = (design.record() for design in (northgate_design, tannery_design))
    for record in (three, two):
        assert not any("taller than one supply" in finding.what for finding in record.section("window").findings)
    (apart,) = [finding for finding in three.section("window").findings if "further apart than their window is wide" in finding.what]
    assert apart.what.endswith("with 3 supply points")
    assert "the lowest door has 5 Pa at storey 0" in apart.figure
    assert "the highest 97 Pa at storey -2" in apart.figure
    assert not any("further apart" in finding.what for finding in two.section("window").findings)


def test_doors_are_told_from_least_to_most_over_the_stairs_air_and_the_two_ends_stand_in_the_picture(larkfield_design, larkfield_record):
    section = larkfield_record.section("rule")
    doors = next(table for table in section.tables if table.key == "doors average")
    *_, bottom, street = doors.rows
    assert street[0] == "Final exit 0"
    assert bottom[1] == "22 to 31 too low"
    assert "as stated, first minute and after an hour" in doors.note
    labels = [entry.text.split(":")[0] for entry in section.pictures[0].legend]
    assert {"winter, doors shut, first minute", "winter, doors shut, after an hour"} <= set(labels)
    assert "stair cooling" in [picture.key for picture in section.pictures]
    assert any("The doors change while the fan runs" in finding.what for finding in section.findings)


def test_a_year_that_brings_no_door_outside_is_no_pass(larkfield_with_light_closers):
    design = design_for(larkfield_with_light_closers)
    design.hours = read_hours(demo_weather()["Greensboro"])
    section = written_out(year_section(design))
    assert all(finding.severity != "good" for finding in section.findings)


def test_a_range_is_no_pass_where_its_set_point_is_not_laid_down_or_it_hides_crossed_tubes(larkfield_record, larkfield_design):
    (found,) = larkfield_record.section("range").findings
    assert found.severity == "attention"
    assert "not laid down: first the set point" in found.why
    assert "a small negative end" in found.why
    with_light_end = larkfield_design.site.with_changes(transmitters=[{"range_low_pa": -25.0}] * 2)
    (kept,) = written_out(range_section(design_for(with_light_end))).findings
    assert (kept.severity, "negative end" in kept.why) == ("attention", False)  # its set point does not stand either
    (sound,) = written_out(range_section(design_for(read_site(demo_sites()["Tannery Row"])))).findings
    assert sound.severity == "good"


def test_the_steps_in_automatic_are_named_alike_in_caution_note_and_table(larkfield_record, larkfield_design):
    assert {row.fan for row in larkfield_design.injection.rows} == {"MANUAL"}  # its fallback is not laid down, so it is not proved
    assert "All of these steps are in MANUAL." in larkfield_record.section("injection").tables[0].note
    design = design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS))
    automatic = [str(number) for number, row in enumerate(design.injection.rows, 1) if row.fan == "AUTO"]
    assert automatic
    note = written_out(injection_section(design)).tables[0].note
    named = note.split("In AUTO: step")[1].split(",  all")[0].split(", all others")[0]
    assert re.findall("[0-9]+", named) == automatic
    assert "MANUAL at once" in note
    assert "test plug" in note
    (caution,) = (one for one in larkfield_record.cautions if "MANUAL" in one)
    assert "In AUTO are the steps alone that say so" in caution
    assert "building and alarm service told" in caution
    assert not any("Keep the fan in manual while" in one for one in larkfield_record.cautions)


def test_on_page_12b_nobody_is_alone_at_full_speed_and_the_days_limit_is_no_highest_speed():
    text = Path("notebooks/12b_record_step_by_step.ipynb").read_text(encoding="utf-8")
    trial = text[text.index("1. Agree it with whoever") : text.index("## 7. Which transmitter to buy")]
    assert "Three people with radio" in trial
    assert "Never enter it as the highest speed" in trial
    assert trial.count("the building, the alarm service and the fire service") == 2
    injecting = text[text.index("Qualified people only, in this order") : text.index("A step proves something only")]
    assert "no wire is moved in a live panel" in injecting
    assert "MANUAL at once, and stop the test" in injecting


def test_no_remedy_is_told_that_the_same_page_refutes(larkfield_record):
    """On a site where no set point works, no damper tried holds, and a reading left out leaves another door short."""
    remedies = {one.what: one.remedy for key in ("year", "tuning", "failure") for one in larkfield_record.section(key).findings}
    (year,) = (remedy for what, remedy in remedies.items() if what.startswith("With doors shut the weather"))
    assert year.startswith("no rule and set point tried suits every case and the year; first final exit 0")
    (beside,) = (remedy for what, remedy in remedies.items() if what.startswith("A stair door open beside"))
    assert beside.startswith("no remedy tried helps")
    told = "; ".join(remedies.values()).replace(PROVED, "")  # the damper that is there is to be proved: that mends its sticking, no more
    for refuted in ("another set point", "relief damper", "lower set point while", "leave a reading"):
        assert refuted not in told


@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower", "Tannery Row"])
def test_one_list_of_what_fails_heads_the_page_and_the_schedule(name):
    """The most serious first, each with its figure, what follows from it counted under it."""
    system = "in. w.c." if name == "Northgate Tower" else "Pa"
    design, record = design_of(name), record_of(name, system)
    grave = [finding for finding in record.findings if finding.severity == "wrong"]
    assert len(record.fails) == len(grave)
    for line, finding in zip(record.fails, grave, strict=True):
        assert line.startswith("FAIL")
        assert finding.what.rstrip(".") in line
        assert finding.figure.split("; ")[0] in line
        assert (f"{len(finding.effects)} more" in line) == bool(finding.effects)
    assert written_out(design.fails(), system) == record.fails
    rows = [row[2] for row in record.section("settings").tables[0].rows if row[0] == "first"]
    assert rows == [row[2] for row in record.section("settings").tables[0].rows[: len(rows)]] == list(record.fails)


def test_where_no_set_point_suits_the_section_on_the_rule_says_what_was_tried_and_what_was_not():
    """Lighter closers widen the window of the tower's doors; on a sound site nothing is tried."""
    (note,) = [one for one in record_of("Northgate Tower").section("rule").notes if one.startswith("No rule and set point found")]
    ((what, tried, year),) = tried_instead(design_of("Northgate Tower"))  # its air comes in at three levels already
    assert what.startswith("closers of the stair doors at 50 %")
    assert f"{what}: no set point suits" in note
    assert tried.works() is None
    assert year is None
    assert tried.set_points_pa.max() > 1.2 * design_of("Northgate Tower").set_points[0].set_points_pa.max()  # the lighter ones bear more
    assert note.endswith("other leaves or closers of the final exits.")
    assert not any("Tried in this model" in one for one in record_of("Tannery Row").section("rule").notes)


def test_set_points_offered_that_a_typical_year_does_not_suit_say_so(monkeypatch):
    design = design_of("Tannery Row")
    assert design.standing.year_said == ""
    monkeypatch.setattr("helpers.record.standing.inside_all_year", lambda tower, window, hours, points, *rest: np.zeros(len(points), bool))
    barred = Standing(design)
    assert barred.others is not None
    assert barred.year_said == "; but a typical year brings a door out at each of them"
    (tried,) = (one for one in design.set_points if one.rule == "average")
    assert written_out(_tried_said(tried, tried.works())).endswith(" Pa suits, in a typical year too")
    assert written_out(_tried_said(tried, None)).endswith(" Pa suits; but a typical year brings a door out at each of them")
