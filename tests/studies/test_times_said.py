"""A time or force after a door that was found with ramps which motor, resistor or wheel do not follow is told so beside the figure, by one
function, wherever it is told."""

import re
from dataclasses import fields, is_dataclass, replace

import pytest
from demo_designs import design_for, review_for, site_of

from helpers.lessons.tuning_and_door_events import lesson, questions
from helpers.lessons.tuning_and_door_events.judged import tuning_verdict
from helpers.model.plants.kinds import read_any_strategy
from helpers.model.site.file import SITES_FOLDER, demo_sites
from helpers.record.review.stair_bench import ReviewBench
from helpers.studies.status import one_line
from helpers.studies.tuning.door_tests import DoorTest
from helpers.studies.tuning.times_said import MARK, mark_of, not_followed_said
from helpers.studies.tuning.trial import bench
from helpers.units.said import written_out

# What tells a time or a force after a door, wherever it stands.
TELLS = re.compile(
    r"recovers in \d|does not recover within|there after|makes it \d|alone takes|ramp alone( would take)? \d|(?<!be )short for \d|"
    r"less than its minimum for|too heavy for \d|\d s above it|above its limit for|is allowed, and|Flow back \d|opens \d|shuts \d|"
    r"drive alone \d|a door event takes a reading|after a door takes \d|begins to shut"
)
OFFERED = re.compile(r"tried with \d[^;]*? down, .*?range of lags")  # ramps that motor and brake follow
UNRAMPED = (
    "fixed speed, no loop",
    "relief damper",
    "faster ramp",
)  # the ramp has no part in the first two, the last is one that is followed
QUICK = {"ramp_s": 0.6, "ramp_down_s": 0.6}


def texts(told):
    """Every text of a result, with the name of the row that it stands in."""
    if isinstance(told, str):
        yield "", told
    elif is_dataclass(told):
        for field in fields(told):
            if field.name != "pictures":
                yield from texts(getattr(told, field.name))
    elif isinstance(told, (tuple, list)) or hasattr(told, "in_system"):
        row = told[0] if len(told) and isinstance(told[0], str) else ""
        yield from ((row or name, text) for one in told for name, text in texts(one))


def sentences(told):
    """Sentences that tell a time or a force after a door with the ramps as entered."""
    for row, text in texts(told):
        if not row.startswith(UNRAMPED):
            for sentence in re.split(r"(?<=[\w)])[.?] (?=[A-Z])|\n", OFFERED.sub("", text)):
                if TELLS.search(sentence) and not re.search(r"\bdo not recover\b", sentence):
                    yield sentence


def marked(told):
    """(number of such sentences, those without the mark)."""
    found = list(sentences(written_out(told)))
    return len(found), [one for one in found if MARK not in one and "only with a ramp that" not in one]


def strategy(name="larkfield_sound"):
    return read_any_strategy(SITES_FOLDER.parent / "strategies" / f"{name}.toml")


@pytest.mark.parametrize("site", [*demo_sites(), "in 0.6 s"])
def test_the_record_marks_each_time_and_force_that_its_ramps_do_not_give(site):
    site = site_of("Tannery Row").with_changes(fan=QUICK) if site == "in 0.6 s" else site_of(site)
    record = design_for(site).record()
    keys = ("tuning", "choices", "failure", "settings")
    count, bare = marked([*map(record.section, keys), record.summary, record.findings, record.fails, list(map(one_line, record.findings))])
    assert count > 10
    if not_followed_said(site):
        assert bare == []
        assert not_followed_said(site) in written_out(record.section("tuning").verdict)
    else:
        assert len(bare) == count
        assert MARK not in " ".join(text for _, text in texts(written_out(record)))


@pytest.mark.parametrize("ramps", [{"ramp_s": 0.6, "ramp_down_s": 0.6}, {"ramp_s": 9.0, "ramp_down_s": 7.0}])
def test_the_review_marks_the_same(ramps):
    """The remedies are those of the record, tried with the site file's ramps, which this motor does not follow to the top."""
    site, entered = site_of("Larkfield House"), strategy().with_changes(loop=ramps | {"integral_time_s": 30.0})
    review = written_out(review_for(entered, site))
    own = [replace(one, remedy="", effects=()) for found in review.findings for one in (found, *found.effects)]
    count, bare = marked(own)
    assert count > 2
    assert bare == [] if mark_of(ReviewBench(entered, site).site) else len(bare) == count
    remedies = [one.remedy for found in review.findings for one in (found, *found.effects) if "door contacts" in one.remedy]
    assert remedies
    assert all(MARK in one and "with the site file's ramps" in one for one in remedies)


def test_no_remedy_that_rests_on_ramps_not_followed_reads_as_an_entry():
    site = site_of("Tannery Row").with_changes(fan=QUICK)
    findings = written_out(design_for(site).tuning.findings())
    assert not [one.remedy for one in findings if "0.6 s is left" in one.remedy]
    for one in findings:
        for told in re.split(r"; (?=door contacts|shorter filter|another set point)", one.remedy):
            if re.match(r"door contacts|shorter filter|another set point", told):
                assert "not to be entered [ramp too steep]" in told
        if one.remedy.startswith("gain"):
            raise AssertionError(one.remedy)
    bench = ReviewBench(strategy().with_changes(loop=QUICK), site_of("Larkfield House"))
    assert re.match("do not enter, .*ramps that motor and brake can follow", written_out(bench.proposed()))


def test_record_and_review_ask_the_same_of_the_ramp_down():
    """From the highest speed, the worst that the loop may come from."""
    site = site_of("Larkfield House").with_changes(fan={"brake": None, "ramp_down_s": 3.0})
    own = {"gain": site.control.gain, "integral_time_s": site.control.integral_time_s, "ramp_s": None, "ramp_down_s": None}
    own |= {"set_point_pa": site.control.set_point_pa, "rule": site.control.rule}
    told, asked = design_for(site).tuning.ramp_down, ReviewBench(strategy().with_changes(loop=own), site).ramp_down
    assert told.from_hz == asked.from_hz == site.fan.speed_limits_hz(site.control.fire_mode)[1]
    assert told.shortest_s.high == pytest.approx(asked.shortest_s.high, rel=1e-3)
    assert MARK in mark_of(site, told) or told.shortest_s.low < 3.0


def test_the_lessons_panel_marks_its_ramp():
    place = bench()
    for ramp_s, followed in ((2.0, False), (6.0, False), (9.0, True)):
        hot = replace(place.own_trial, gain=1.0, integral_s=0.5, ramp_s=ramp_s)  # a calm loop never asks for all of a ramp
        told = tuning_verdict(place, place.attempt(hot))
        assert len([*sentences(written_out(told))]) > 2  # the mark stands once over all of them, and on the tiles
        assert (MARK in written_out(told).words) is (MARK in str(written_out(told).tiles)) is not followed
        assert ("only with a ramp that this motor cannot follow" in written_out(told).words) is not followed
    assert lesson.senior_card()._repr_mimebundle_()["text/plain"].count(f"FAIL, {MARK}: ") == 1
    assert all(MARK not in written_out(ask().words) for ask in (questions._span, questions._force, questions._ramp))


def test_what_the_ramp_has_no_part_in_is_not_marked():
    remedies = {one.name: one.doors for one in design_for(site_of("Tannery Row").with_changes(fan=QUICK)).tuning.remedies}
    assert remedies["fixed speed, no loop"].mark == ""
    assert remedies["door contacts (feed-forward)"].mark == " [ramp too steep]"
    assert DoorTest.worse(remedies["fixed speed, no loop"], remedies["door contacts (feed-forward)"]).mark


def test_a_resistor_and_a_brake_that_nobody_stated_are_told_by_their_names():
    site = site_of("Tannery Row")
    small = site.with_changes(fan={"brake_power_w": 50.0, "brake_short_power_w": 200.0, "brake_short_time_s": 1.0})
    assert not_followed_said(small) == "only with a ramp that this brake resistor cannot take, 6 s down"
    bare = site.with_changes(fan={"brake": None, "ramp_down_s": 0.3})
    down = design_for(bare).tuning.ramp_down
    assert not_followed_said(bare, down) == "only with a ramp that no brake is stated for, 0.3 s down"


@pytest.mark.parametrize("ramps", [None, QUICK])
@pytest.mark.parametrize("name", sorted(demo_sites()))
def test_nothing_passes_that_was_found_with_a_ramp_that_is_not_followed(name, ramps):
    site = site_of(name) if ramps is None else site_of(name).with_changes(fan=ramps)
    section = written_out(design_for(site).section("tuning"))  # that alone: nothing of the rest of the record
    for finding in section.findings:
        if MARK in f"{finding.what} {finding.figure}" and "keeps its margins" not in finding.what:  # margins have no ramp in them
            assert finding.severity != "good", finding.what
