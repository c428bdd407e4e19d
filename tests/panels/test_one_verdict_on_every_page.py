"""One state of one building gets one verdict on every page: lessons 02 and 06, the record's panel, the record and the review."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import design_of, review_of

from helpers.lessons.average_lowest_highest.lesson import panel as rules_panel
from helpers.lessons.leakage_and_fan_duty.lesson import panel as duty_panel
from helpers.lessons.page import cooling_of
from helpers.lessons.tuning_and_door_events.lesson import panel as tuning_panel
from helpers.model.plants.kinds import read_any_strategy
from helpers.pages.design import DesignPanel
from helpers.pages.review import demo_strategies
from helpers.pages.start import LEAST_PA, _judged
from helpers.record import summary
from helpers.record.review.study import review
from helpers.record.sections.failed_readings import failure_section
from helpers.record.settings.schedule import settings_schedule
from helpers.studies.cases import FIRST_MINUTE
from helpers.studies.commissioning.injection import injection_table
from helpers.studies.doors.columns import judged_name
from helpers.studies.doors.forces import PressureRow
from helpers.studies.readings.faults_by_rule import rule_bench
from helpers.studies.readings.words import against_said, briefly_said, out_said, sides_said
from helpers.studies.report import inside_text
from helpers.studies.status import SPARE_PA, word_of
from helpers.studies.tuning.trial import bench
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

SITES = ("Larkfield House", "Tannery Row")


@pytest.fixture(autouse=True)
def _alone(monkeypatch):
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")


@pytest.fixture(params=SITES)
def design(request):
    return design_of(request.param)


@pytest.fixture(scope="module")
def sound():
    return read_any_strategy(demo_strategies()["Larkfield Sound"])


def worst_shut(design):
    """Keys of the record's states with all doors shut in winter: as stated and in the first minute."""
    own, cases = design.own, design.cases
    return {case.stair: own.status(k) for k, case in enumerate(cases) if case.shut and case.weather == "winter"}


def test_the_site_files_set_point_in_winter_has_one_verdict_on_the_panel_of_the_record_and_in_the_record(design):
    panel = DesignPanel(design.site.name)
    states = worst_shut(design)
    shown = panel.panel.put(weather="winter")
    assert (shown.kind == "wrong") == ("wrong" in (states["as stated"], states[FIRST_MINUTE]))
    assert ("first minute" in shown.words.lower()) == (states["as stated"] != "wrong" == states[FIRST_MINUTE])


def test_in_winter_at_its_own_set_point_the_stair_of_the_lessons_is_nowhere_passed(larkfield_design, sound):
    """The record, its panel and the lessons look at the first minute and fail it; the lessons show one temperature, and name the other.

    After an hour the record has the final exit past what its closer shuts; so has lesson 02, in its panel with a colder stair and in the
    table of the stair's course.
    """
    assert worst_shut(larkfield_design) == {"as stated": "attention", FIRST_MINUTE: "wrong", "after an hour": "wrong"}
    assert DesignPanel("Larkfield House").panel.verdict.kind == "wrong"
    made = review_of("larkfield_sound")
    assert {one.key: one.severity for one in made.findings}["two temperatures"] == "wrong"
    colder = duty_panel().put(stair_c=5.0)
    assert colder.kind == "wrong"
    assert "worst final exit 0: " in colder.words
    duty_panel().put(stair_c=10.0)
    assert cooling_of("Larkfield House").last.state == "wrong"
    for panel, inside_pa in ((rules_panel(), 40.0), (duty_panel(), 38.0)):
        assert panel.put(set_point_pa=inside_pa).kind == "wrong"
        assert re.search("[iI]n the first minute, (the stair )?as warm as the rooms, FAIL: ", panel.verdict.words)
        assert "door 0" in panel.verdict.words.split("FAIL: ")[1]
        assert panel.put(set_point_pa=70.0).kind == "wrong"
        panel.put(set_point_pa=40.0)


def test_a_door_on_its_very_limit_is_out_or_in_alike_on_every_page(larkfield_design):
    """In the first minute of winter storey 2 stands at its least to a thousandth of a pascal: no page's own steps may turn that over."""
    own, cases, levels = larkfield_design.own, larkfield_design.cases, larkfield_design.tower.levels
    (place,) = (k for k, case in enumerate(cases) if case.shut and case.weather == "winter" and case.stair == FIRST_MINUTE)
    record = [level for level, low in zip(levels, own.low[place], strict=True) if low]
    site = larkfield_design.site
    (ruled,) = rule_bench().ruled(site.weather["winter"].outdoor_c, site.control.set_point_pa, rules=("average",), stair=FIRST_MINUTE)
    assert [level for level, low in zip(levels, ruled.out[0], strict=True) if low] == record == [0, 1]
    near = min(abs(own.door_dp_pa[place] - 25.0))
    assert near < 1e-3  # else this tries no edge
    panels = DesignPanel("Larkfield House").panel, rules_panel()
    assert all("too low on storey 0, 1." in written_out(panel.picture.words) for panel in panels)


@pytest.mark.parametrize(("room_pa", "key"), [(-0.1, "wrong"), (0.0, "attention"), (SPARE_PA - 0.1, "attention"), (SPARE_PA + 0.1, "good")])
def test_a_door_as_near_to_its_limit_has_one_status_in_the_record_its_forces_a_tile_and_on_the_first_page(room_pa, key, tannery_design):
    """On the limit is CHECK, and so is less room than SPARE_PA; lessons 02 and 06 and both panels have `RuleResult.status`."""
    own = tannery_design.own
    (place, *_) = (k for k, case in enumerate(own.cases) if case.shut and own.held.held[k])
    row = PressureRow("least", SimpleNamespace(blank=False, limit=LEAST_PA), LEAST_PA + room_pa, 0, "winter")
    told = {
        "record": replace(own, margin_pa=np.full_like(own.margin_pa, room_pa)).status(place),
        "forces": row.state,
        "first page": _judged(LEAST_PA + room_pa, 50.0, 100.0).kind,
    }
    assert set(told.values()) == {key}, told
    assert judged_name("Stair door 0", room_pa) == ("Stair door 0" if key == "good" else f"Stair door 0, {word_of(key)}")


def test_the_door_event_and_the_sites_own_tuning_have_one_verdict_in_lesson_record_and_review(larkfield_design, sound):
    study = larkfield_design.tuning
    heavy = "When the door shuts, another one is too heavy for a while"
    assert {one.what: one.severity for one in study.findings()}[heavy] == "wrong"
    assert all(state == "wrong" for state in study.candidate_table().states)  # of each the door is past its limit
    assert "Highest opening force" in study.candidate_table().columns
    assert study.verdict().startswith("With the fastest calm tuning another door is too heavy for")
    own = next(study.findings())
    assert (own.severity, own.what) == ("wrong", "The site's own tuning keeps too little margin in the range of lags")
    assert bench().study.own.status == study.own.status == "wrong"
    assert tuning_panel().verdict.kind == "wrong"
    control = larkfield_design.site.control
    same = sound.with_changes(loop={"gain": control.gain, "integral_time_s": control.integral_time_s})
    found = {one.key: one.finding.severity for one in review(same, larkfield_design.site).found}
    assert found["heavy after a door"] == found["robust tuning"] == "wrong"


def test_no_remedy_that_leaves_a_door_past_its_limit_is_only_to_be_looked_at(design):
    for remedy, state in zip(design.tuning.remedies, design.tuning.remedy_table().states, strict=True):
        if remedy.doors is None:  # not tried at all, or out before the door test: neither is for somebody to look at
            assert state == ("wrong" if remedy.fails else "open")
            continue
        past = not remedy.doors.light or (remedy.air is not None and not remedy.air.holds)
        assert not past or state == "wrong", remedy.name
    works = any(remedy.works for remedy in design.tuning.remedies)
    assert any("least bad" in row[2] for row in design.tuning.remedy_table().rows) != works


def test_what_the_record_says_of_the_fallback_every_page_says(larkfield_design, sound):
    """The least bad way is called so wherever it is proposed, with how far a door is out when leaks are as they may be."""
    study = larkfield_design.fallback
    assert not study.best.good
    out = written_out(out_said(study.best))
    assert f"{-min(study.best.worst.room_pa, study.best.box_room_pa):.1f} Pa" in out
    record = written_out(failure_section(larkfield_design)).verdict
    from helpers.lessons.average_lowest_highest import lesson

    card = written_out(lesson.senior_card().render())[1]
    told = written_out(review_of("larkfield_sound").bench.fallback_said())
    steps = written_out(" ".join(row.must for row in injection_table(larkfield_design.site.transmitters, "average", fallback=study).rows))
    assert out in steps
    assert out in told
    for words in (told, record):
        assert "least bad" in words
        assert out in words
    assert written_out(f"FAIL: no way of falling back holds every door. Least bad: {briefly_said(study)}") in card  # the rest: page 12
    assert len(next(line for line in card.splitlines() if "Least bad" in line).split()) <= 110
    assert "wherever a speed can" not in card
    off = next(one.finding for one in review_of("larkfield_sound").found if one.key == "tube off")
    worst = off.figure.split(" has ")[1].split(" at the handle")[0]
    assert f"{worst.replace(', ', ' and ')} at stair door 13 (first minute)" in card


def test_a_fan_at_full_speed_with_all_doors_shut_is_judged_and_the_entry_named_before_the_building(larkfield_design, sound):
    for rule, set_point in (("lowest", 40.0), ("average", 60.0)):
        made = review(
            sound.with_changes(loop={"rule": rule, "set_point_pa": set_point, "set_point_percent_span": None}), larkfield_design.site
        )
        first = made.findings[0]
        assert first.key == "set point fails"
        assert made.whose(first) == "the strategy"
        assert "at full speed" in first.figure
        assert "storey 13" in first.figure
        assert "First put right the entry: the set point does not suit" in made.verdict()
        assert "shut door is inside" not in " ".join(one.finding.figure for one in made.found)
        assert {one.key for one in first.effects} >= {"saturates", "door too heavy"}
        assert not any("no entry in the drive mends it" in effect.why for effect in first.effects)
        with_doors_open = [one for one in made.found if one.key == "saturates open"]
        assert [(one.whose, one.finding.severity) for one in with_doors_open] == [("the building", "wrong")]


def test_a_set_point_is_named_only_where_it_suits_every_weather_and_lessons_name_the_range_of_their_own(larkfield_design, sound):
    """Larkfield's final exit door would not close again in summer at any: the review names none, and lesson 06 the range of its winter."""
    made = review(sound.with_changes(loop={"rule": "lowest", "set_point_pa": 40.0, "set_point_percent_span": None}), larkfield_design.site)
    assert "no figure to enter" in made.findings[0].remedy
    assert not re.search(r"\d+ to \d+ Pa", made.findings[0].remedy)
    from helpers.lessons.average_lowest_highest.questions import kept_set_point
    from helpers.studies.readings.faults_by_rule import rule_bench

    here = written_out(inside_text(*rule_bench().set_points_pa(-9.0, rule="lowest")))
    assert here in written_out(kept_set_point.find()).words
    assert here in rules_panel().put(rule="lowest", set_point_pa=40.0).words
    rules_panel().put(rule="average")


def test_as_stated_is_not_told_as_inside_where_the_set_point_is_not_held(larkfield_design, sound):
    bench_ = review_of("larkfield_sound").bench
    from helpers.record.review.building import two_temperatures

    place = int(bench_.as_stated.argmax())
    state = bench_.held.state.copy()
    state[place] = "at full speed"
    bench_.__dict__["held"] = replace(bench_.held, state=state)
    (told,) = written_out(two_temperatures(bench_))
    assert "every shut door is inside" not in told.figure
    assert "the set point is not held" in told.figure


def test_both_sides_of_the_fallback_speed_stand_on_every_page(design):
    """Whole in the record's section, on the sheet of the day and in the review; in summary and schedule the figures alone."""
    study = design.fallback
    said = written_out(sides_said(study))
    assert "too low" in said
    assert "too high" in said
    assert "relief damper stuck open" in said
    assert said in written_out(failure_section(design)).verdict
    assert said in written_out(" ".join(row.must for row in injection_table(design.site.transmitters, "average", fallback=study).rows))
    lines = settings_schedule(design.built, design.tuned, fallback=study, full=design.duty.full)
    brief = written_out(briefly_said(study)) if study.best.good else said
    assert any(brief in written_out(line.why) for line in lines)
    assert said in written_out("; ".join(against_said(study, study.at_speed(study.speed_hz))))  # which the review tells of such a speed
    if design.standing.stands:
        assert any(brief in written_out(line()) for line in summary.lines(design))
