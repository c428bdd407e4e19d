"""One pair of numbers for one stair: record, summary, schedule, choices, lesson, panel and card name the same gain and integral time."""

import re
from pathlib import Path

import pytest
from demo_designs import design_for, site_of

from helpers.lessons.tuning_and_door_events import lesson, questions
from helpers.lessons.tuning_and_door_events.lesson import panel as tuning_panel
from helpers.model.plants.kinds import read_any_strategy
from helpers.record.board import board_of
from helpers.record.review.stair_bench import ReviewBench
from helpers.record.sections.signed import design_schedule
from helpers.record.standing import ACTION, FAN, RAMP, SET_POINT
from helpers.studies.tuning.candidate import TUNED, numbers_text
from helpers.studies.tuning.findings import ramp_findings, to_enter_text
from helpers.studies.tuning.process import process_gain
from helpers.studies.tuning.ramps_offered import pair_behind, ramps_borne_s
from helpers.studies.tuning.times_said import past_text
from helpers.studies.tuning.trial import bench
from helpers.units.said import with_unit, written_out

PAIR = re.compile(r"gain (?:of )?([\d.]+) %/%[^.]*? integral time (?:of )?([\d.]+) s")


@pytest.fixture(scope="module")
def design(larkfield_design):
    return larkfield_design


@pytest.fixture(scope="module")
def best(design):
    return design.tuning.recommended


def pairs(text):
    return [(float(gain), float(integral)) for gain, integral in PAIR.findall(text)]


def test_what_is_entered_is_what_was_tried(best):
    """Two digits are shown, and two digits are what margins and door tests were made with."""
    assert best.safe
    assert float(f"{best.gain:.2g}") == best.gain
    assert float(f"{best.integral_s:.2g}") == best.integral_s


def test_record_summary_schedule_and_choices_name_one_pair(tannery_design):
    """On the sound example: where a set point fails no tuning is laid down yet."""
    record, best = tannery_design.record(), tannery_design.tuning.recommended
    pair = (best.gain, best.integral_s)
    (summary,) = [line for line in record.summary if "Tune" in line]
    assert pairs(summary) == [pair]
    section = record.section("tuning")
    figures = {figure.label: figure.value for figure in section.figures}
    assert (figures["Gain"], figures["Integral time"]) == pair
    settings = {row[1]: row[2] for row in record.section("settings").tables[0].rows if row[0] == "loop"}
    assert (float(settings["gain"].split()[0]), float(settings["integral time"].split()[0])) == pair
    chosen = [pairs(row[1]) for row in record.section("choices").tables[0].rows if row[0] == "tuning"]
    assert chosen
    assert all(found == [pair] for found in chosen)


def test_verdict_figures_and_picture_of_the_tuning_section_name_one_pair(design, best):
    record, pair = design.record(), (best.gain, best.integral_s)
    section = record.section("tuning")
    assert pairs(section.verdict)[0] == pair
    figures = {figure.label: figure.value for figure in section.figures}
    assert (figures["Gain"], figures["Integral time"]) == pair
    assert f"gain {best.gain:.2g} %/%, integral time {best.integral_s:.2g} s" in record.pictures()["door event"].legend[1].text


def test_lesson_panel_predictions_and_card_name_the_pair_of_the_record(design, best):
    pair = (best.gain, best.integral_s)
    assert design.site.transmitters == bench().site.transmitters
    assert (bench().recommended.gain, bench().recommended.integral_s) == pair
    assert questions.tuned() == pair
    assert pairs(written_out(questions.span.ask())) == [pair]
    assert pairs(lesson.study()._repr_mimebundle_()["text/plain"])[0] == pair
    card = lesson.senior_card()._repr_mimebundle_()["text/plain"].splitlines()
    ramps = ramps_borne_s(design.site, design.tuning.ramp_down)
    slower = pair_behind(design.tuning, *ramps)[0]
    assert pairs(card[2]) == [pair, (slower.gain, slower.integral_s)]  # the second for the ramps that have to be set first
    (offered,) = {one for finding in design.tuning.findings() for one in re.findall(r"its own (gain [^,]+, [^,]+ s), not", finding.remedy)}
    assert pairs(offered) == [(slower.gain, slower.integral_s)]  # and the record's finding of the ramp names the same
    panel = tuning_panel()
    advice = panel.put(gain=bench().own.gain, integral_s=bench().own.integral_s, ramp_s=6.0, filter_s=0.5, span_pa=125.0).words
    assert pairs(advice.splitlines()[-1]) == [pair]


def test_one_largest_gain_is_on_every_page(design):
    study = design.tuning
    told = f"{study.found.largest:.2f} %/%"
    assert told in study.verdict()
    assert told in study.step_table().note
    assert told in lesson.step_test().verdict.words
    assert told in lesson.senior_card()._repr_mimebundle_()["text/plain"]
    figures = {figure.label: figure.text for figure in design.section("tuning").figures}
    assert figures["Building's largest gain"] == told
    assert process_gain(design.tower, design.cases, bench().own).largest == study.found.largest == bench().found.largest


def test_the_review_of_a_strategy_with_the_sites_own_lags_proposes_the_pair_of_the_record(larkfield, best):
    """One whose dials are slow, so that this pair is unsafe in its loop, gets figures of its own, and is told in what it differs."""
    sound = read_any_strategy(Path(__file__).parents[2] / "data" / "strategies" / "larkfield_sound.toml")
    own = {"gain": 1.07, "integral_time_s": 0.53, "ramp_s": None, "ramp_down_s": None}
    as_the_site = sound.with_changes(inputs=[{"damping_s": None}] * 2, loop=own)
    bench = ReviewBench(as_the_site, larkfield)
    assert pairs(written_out(bench.proposed())) == [(best.gain, best.integral_s)]
    assert bench.tuning.own.lacks
    assert "the record's pair, safe over the whole box of this loop too" in written_out(bench.proposed())
    slower = ReviewBench(sound.with_changes(inputs=[{"damping_s": 3.0}] * 2), larkfield)
    assert not slower.tried_pair(best.gain, best.integral_s).safe
    own_lags = written_out(slower.proposed())
    assert pairs(own_lags)[0] != (best.gain, best.integral_s)
    assert pairs(own_lags)[1] == (best.gain, best.integral_s)
    assert "not the record's pair" in own_lags
    assert "the strategy states a damping of 3 s, the site file none" in own_lags


def test_where_nothing_is_recommended_summary_section_and_schedule_say_so(larkfield):
    share = 0.2
    fan = {"flows_m3_s": tuple(share * flow for flow in larkfield.fan.flows_m3_s), "duct_loss_flow_m3_s": share * 5.0}
    record = design_for(larkfield.with_changes(fan=fan)).record()
    assert any(line.startswith("Tuning: not laid down") for line in record.summary)
    assert "No tuning is recommended." in record.section("tuning").verdict
    assert any("are not recommended" in note for note in record.section("settings").notes)


def test_record_its_walk_and_lesson_say_in_one_sentence_that_door_tests_do_not_count_the_air_that_fills(design):
    """With the site's own filling times; both of the walk's page and of the record's come from the section's verdict."""
    air = lesson.bench().study.box.air
    assert f"the shaft takes {air.shaft_s:.2g} s to fill and the storeys behind its doors {air.floors_s:.2g} s" in air.said()
    assert air.said() in lesson.study().render()[1]
    assert any(air.said() in line for line in lesson.page.lines())
    assert design.tuning.box.air.said() in design.section("tuning").verdict


def test_a_tuning_is_not_handed_out_as_better_than_the_ramp_that_it_rests_on():
    """A ramp that the lightest wheel of the box bears and the heaviest does not: CHECK, and so is each line that the tuning fills."""
    design = design_for(site_of("Tannery Row").with_changes(fan={"ramp_s": 5.0, "inertia_kg_m2": (0.3, 0.4, 0.5)}))
    doubt = "it rests on the ramps as entered, CHECK themselves: the ramp up is one that the motor may not follow to the top"
    lines = {(line.group, line.name): line for line in design_schedule(design)}
    assert all(lines[key].why.startswith(f"CHECK: {doubt}") for key in TUNED)
    (summary,) = [line for line in design.record().summary if "Tune the controller" in line]
    assert f"CHECK: {doubt}" in summary
    board = {line.what: line for line in board_of(design).set}
    assert {board[name].status for name in ("Gain", "Integral time", "Ramp up")} == {"attention"}
    assert doubt in to_enter_text(design.tuning, design.tuning.recommended)


def test_times_after_a_door_with_a_ramp_past_the_motors_short_torque_are_told_as_that_ramps_alone():
    design = design_for(site_of("Tannery Row").with_changes(fan={"ramp_s": 4.0}))
    assert "ramps that motor and brake can follow" in design.standing.first(SET_POINT, ACTION, FAN, RAMP)
    section = written_out(design.section("tuning"))
    only = "only with a ramp that this motor cannot follow, 4 s up"
    assert f"FAIL: every time and force after a door here holds {only}" in section.verdict
    assert all("[ramp too steep]" in one.text for one in section.figures if one.label.startswith(("Door ", "Time ", "Peak force")))
    assert any(one.severity == "wrong" and "ramp up" in one.what and "tried with" in one.remedy for one in section.findings)


def test_a_tuning_on_ramps_that_the_motor_follows_has_no_such_mark(tannery_design):
    assert not any("CHECK themselves" in line.why for line in design_schedule(tannery_design))


@pytest.mark.parametrize("changes", [{"ramp_s": 4.0}, {"ramp_down_s": 0.3}])
def test_a_ramp_told_as_a_remedy_was_tried_with_the_doors_and_tells_what_the_record_of_that_ramp_tells(changes):
    site = site_of("Tannery Row").with_changes(fan=changes)
    told = [one.remedy for one in design_for(site).tuning.findings() if re.search(r"\bramp (up|down) of\b", one.remedy)]
    assert told
    up_s, down_s = ramps_borne_s(site)
    other = site.with_changes(fan={"ramp_s": up_s, "ramp_down_s": down_s})
    assert not list(ramp_findings(other))
    assert list(ramp_findings(other.with_changes(fan={"ramp_s": up_s - 1.0, "ramp_down_s": down_s - 1.0})))
    best = design_for(other).tuning.recommended
    for one in told:
        assert "not tried" not in one
        assert numbers_text(best) in one
        assert with_unit(best.worst_doors.peak_force_n, "force") in one
        assert past_text(best.worst_doors.short_s) in one
        assert ("FAIL" in one) == (not best.worst_doors.brief or not best.worst_doors.light)


def test_of_a_plant_without_a_tuning_study_the_ramp_offered_says_so():
    told = [one.remedy for one in ramp_findings(site_of("Tannery Row").with_changes(fan={"ramp_s": 4.0})) if "ramp up of" in one.remedy]
    assert told
    assert all("no tuning study of this loop" in one for one in told)
