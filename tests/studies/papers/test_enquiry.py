"""The enquiry list: all that a file leaves out is asked, every question says why in the site's figures, answers are kept as told."""

import re
from datetime import date
from pathlib import Path

import pytest

from helpers.model.answers import AnswersFile, GivenAnswer, read_answers
from helpers.model.files import texts
from helpers.model.site import reserve, supply, tolerances
from helpers.model.site.errors import SiteFileError
from helpers.model.site.tolerances import filled_in, left_open
from helpers.record.board import state_of
from helpers.record.papers.enquiry import ANYBODY, NOTHING_TAKEN, answered_table, enquiry, questions_of
from helpers.record.papers.paper import Paper, Part, Stamp, paper_html
from helpers.record.papers.points import AGREED, RUNNING, contacts, points_of
from helpers.record.papers.quoted import NO_FIGURE, NO_SPEED, Quoted
from helpers.record.papers.states import states_of
from helpers.record.papers.told import NO_ANSWER, Teller

STAIRS = ("Larkfield House", "Northgate Tower", "Tannery Row", "all laid down")
FILE = """
kind = "answers"
name = "Answers of March"
invented = true
site = "Larkfield House"

[[answers]]
question = "transmitters.damping"
answer = "0.4 s, dial seen"
by = "controls contractor"
date = "2026-03-05"
"""


def answers_of(*keys, site="Larkfield House"):
    told = [GivenAnswer(question=key, answer="12 s, by letter", by="electrical engineer", date="2026-03-05") for key in keys]
    return AnswersFile(kind="answers", name="March", invented=True, site=site, answers=told)


@pytest.fixture(params=STAIRS)
def quoted(request, design_named):
    return Quoted(design_named(request.param))


def test_everything_that_the_file_leaves_open_is_asked_with_what_was_taken(quoted):
    asked = {one.key: one.taken for one in questions_of(quoted)}
    left = left_open(quoted.design.site)
    assert left
    assert all(sentence in asked[key] for key, sentence in left)
    assert filled_in(quoted.design.site) == tuple(sentence for _, sentence in left)


def test_every_open_line_of_the_schedule_has_words_of_its_own(quoted):
    assert ANYBODY not in {one.whom for one in questions_of(quoted)}


def test_an_open_line_without_words_is_asked_all_the_same(quoted, monkeypatch):
    monkeypatch.setattr(
        "helpers.record.papers.enquiry.texts",
        lambda name: {"questions": [one for one in texts(name)["questions"] if one["key"] != "fan/proof that the fan runs"]},
    )
    found = {one.key: one for one in questions_of(quoted)}["fan/proof that the fan runs"]
    assert (found.whom, found.matters) == (ANYBODY, "a command given is no proof")


def test_every_key_that_a_file_can_leave_open_has_its_question():
    source = "".join(Path(one.__file__).read_text(encoding="utf-8") for one in (tolerances, supply, reserve))
    keys = set(re.findall(r'yield\s*\(?\s*"([a-z]+\.[a-z_]+)"', source))
    parts = (("transmitters", tolerances._OF_TRANSMITTERS), ("control", tolerances._OF_CONTROL), ("design", tolerances._OF_DESIGN),
             ("stair", tolerances._OF_STAIR), ("doors", [tolerances._CLOSING]), ("fan", [tolerances._INERTIA, tolerances._DENSITY]),
             ("second_fan", tolerances._OF_SECOND_FAN), *(("standby", parts) for parts in tolerances._OF_STANDBY.values()))  # fmt: skip
    keys |= {part.key(section) for section, of in parts for part in of} | {"stair.heat_surface"}
    assert len(keys) > 25
    assert keys - {one["key"] for one in texts("enquiry")["questions"]} == set()


def test_why_it_matters_names_a_figure_or_setting_of_the_record_that_is_there(design_named):
    """Of the stair on which all is laid down: of a draft many are not."""
    quoted = Quoted(design_named("all laid down"))
    named = [re.findall(r"\{=([^/{}]+)/([^{}]+)\}", one["matters"]) for one in texts("enquiry")["questions"]]
    assert sum(map(len, named)) > 30
    assert not [place for places in named for place in places if quoted.figure(*place)[0][2] == NO_FIGURE]


def test_the_lowest_speed_that_the_doors_bear_comes_first_with_its_condition_and_the_fail(design_named):
    for name, lowest, others in (
        ("Tannery Row", "25.2 Hz", ("31.4 Hz", "46.0 Hz")),
        ("Larkfield House", "14.8 Hz", ("17.5 Hz", "24.2 Hz")),
    ):
        asked = {one.key: one.matters for one in questions_of(Quoted(design_named(name)))}
        told = asked["fan.smoke_highest_speed"].partition("the lowest first: ")[2]
        assert told.startswith(f"up to {lowest} a final exit, once opened, closes again with")
        assert [speed for speed in others if speed not in told] == []
        assert "FAIL: " in told
        assert "no fixed speed protects" in asked["fan/speed of the override"]
        assert " Hz" not in asked["fan/speed of the override"]  # half of the bounds reads like a speed to enter
        state = Quoted(design_named(name)).figure("fan", "Highest speed at which no door passes its limit")[1]
        assert state == "wrong"


def test_a_figure_of_a_fan_that_is_not_laid_down_says_so_where_it_is_quoted(design_named):
    for name, open_ in (("Larkfield House", True), ("all laid down", False)):
        asked = {one.key: one.matters for one in questions_of(Quoted(design_named(name)))}
        for key in ("open doors agreed", "feeder"):
            assert ("indicative, not laid down" in asked[key]) is open_
    table = Teller(Quoted(design_named("Larkfield House"))).part({"title": "One", "tables": ["failure/alarm limits"]}).tables[0]
    assert table.note.startswith("Not laid down: first the set point")


def test_what_the_sequence_sends_to_the_enquiry_list_is_asked_there(design_named):
    """Every "enquiry list: KEY" of states, points and alarms."""
    told = [str(texts("papers")), RUNNING, AGREED]
    keys = {key.rstrip("'") for text in told for key in re.findall(r"enquiry list(?: is answered)?: ([a-z' -]+)", text)}
    assert {"switch at the drive", "drive trip", "alarms at start"} <= keys
    assert keys - {one["key"] for one in texts("enquiry")["questions"] if one.get("always")} == set()


def test_questions_are_numbered_in_the_order_in_which_they_are_read(quoted):
    numbers = [row[0] for part in enquiry(quoted).parts for table in part.tables for row in table.rows]
    assert numbers == [f"Q{number}" for number in range(1, len(numbers) + 1)]


def test_an_answer_fills_its_cell_and_is_kept_as_an_assumption_of_the_report(design_named):
    design = design_named("Larkfield House")
    answered = Quoted(design, answers_of("transmitters.damping", "duration"))
    rows = {row[1]: row for part in enquiry(answered).parts for table in part.tables for row in table.rows}
    assert rows["duration"][-1] == "12 s, by letter (electrical engineer, 2026-03-05)"
    assert rows["intake"][-1] == ""
    teller = Teller(answered)
    teller.part({"title": "Assumptions", "annexed_answers": True})
    (kept,) = teller.annex[0].tables
    assert [row[1:] for row in kept.rows] == [("12 s, by letter", "electrical engineer", "2026-03-05")] * 2
    assert "No figure of the record follows" in kept.note
    assert Teller(Quoted(design)).part({"title": "Assumptions", "annexed_answers": True}).lines == (NO_ANSWER,)


def test_an_answer_stands_in_the_sequence_with_who_gave_it_and_when(design_named):
    quoted = Quoted(design_named("Larkfield House"), answers_of("fan/speed of the override", "drive trip", "proof does not come"))
    states = {state.key: state for state in states_of(quoted)}
    told = ', by electrical engineer, 2026-03-05: "12 s, by letter"'
    assert states["panel on"].speed.startswith(f"12 s, by letter (CHECK: {NO_SPEED}), as answered by electrical engineer")
    paper = Paper("one", 1, "One", "", (Part("All", (states["tripped"].reset,), states["smoke"].does),)).reworded(quoted.with_answers)
    assert f"only as agreed, as answered, enquiry list drive trip{told}" in paper.parts[0].lines[0]
    assert any(f"as answered, enquiry list proof does not come{told}" in step for step in paper.parts[0].steps)
    assert paper.reworded(quoted.with_answers) == paper
    proof = next(alarm for alarm in contacts(points_of(quoted)) if alarm.on == "fan run proof")
    assert quoted.with_answers(proof.waits) == f"as answered, enquiry list proof does not come{told}"  # no more to be agreed
    assert Quoted(design_named("Larkfield House")).with_answers("enquiry list: drive trip") == "enquiry list: drive trip"


def test_an_answer_is_no_pass_and_lays_nothing_down_that_the_record_has_not(design_named):
    quoted = Quoted(design_named("Larkfield House"), answers_of("fan/speed of the override"))
    assert quoted.row("fan", "speed of the override")[1] == "attention"
    assert state_of(quoted.stated("fan", "speed of the override")) == "open"
    assert quoted.row("fan", "override of the drive's own trips")[1] == "open"


def test_an_answer_changes_no_figure_of_the_record(design_named):
    design = design_named("Larkfield House")
    taken = [[one.taken for one in questions_of(Quoted(design, answers))] for answers in (None, answers_of("transmitters.damping"))]
    assert taken[0] == taken[1]
    assert NOTHING_TAKEN in taken[0]


def test_an_answer_to_what_the_file_says_by_now_says_so(design_named):
    table = answered_table(Quoted(design_named("Larkfield House"), answers_of("standby.source")))
    assert table.rows[0][0].endswith("(asked no more: the site file says it)")


def test_an_answer_to_a_question_that_nobody_asked_is_refused_with_those_that_are(design_named):
    with pytest.raises(ValueError, match=r"must be a key of the enquiry list \(alarms at start, .*climate, .*; got 'colour'"):
        questions_of(Quoted(design_named("Larkfield House"), answers_of("colour")))


def test_an_answer_is_text_whatever_it_holds(design_named):
    design = design_named("Larkfield House")
    told = "<script>alert(1)</script> {fan/ramp up}"
    bad = answers_of("duration").with_changes(answers=[{"answer": told}])
    page = paper_html(enquiry(Quoted(design, bad)), Stamp("Larkfield House", "0123", "Pa", (), ()))
    assert "<script>" not in page
    assert "{fan/ramp up}" in page


def test_a_file_of_answers_is_read_and_one_of_another_site_refused(tmp_path):
    path = tmp_path / "answers.toml"
    path.write_text(FILE, encoding="utf-8")
    assert read_answers(path, "Larkfield House").by_question()["transmitters.damping"].answer == "0.4 s, dial seen"
    with pytest.raises(ValueError, match="site of the file of answers must be 'Tannery Row', got 'Larkfield House'"):
        read_answers(path, "Tannery Row")


def test_an_answer_given_after_today_is_refused(tmp_path):
    path = tmp_path / "answers.toml"
    path.write_text(FILE, encoding="utf-8")
    with pytest.raises(ValueError, match=r"answers\.1\.date must not be after today, 2026-03-01 .*; got 2026-03-05"):
        read_answers(path, "Larkfield House", date(2026, 3, 1))
    assert read_answers(path, "Larkfield House", date(2026, 3, 5))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('date = "2026-03-05"', 'date = "5.3.2026"', r"line 11.*date: must be a date as year, month and day"),
        ('by = "controls contractor"', "", "by"),
        ("[[answers]]", '[[answers]]\ncolour = "red"', "colour"),
        (
            "[[answers]]",
            FILE[FILE.index("[[answers]]") :] + "\n[[answers]]",
            "must be answered once; 'transmitters.damping' is answered twice",
        ),
    ],
)
def test_a_mistake_in_it_is_told_with_its_line(tmp_path, before, after, said):
    path = tmp_path / "answers.toml"
    path.write_text(FILE.replace(before, after), encoding="utf-8")
    with pytest.raises(SiteFileError, match=said):
        read_answers(path, "Larkfield House")


def test_what_has_to_be_built_before_it_is_answered_has_one_interim_said_as_until_then(quoted):
    asked = {one.key: one.taken for one in questions_of(quoted)}
    built = ("fan stopped", "proof does not come", "waits and records", "alarms at start", "self-test limits", "output signals",
             "failure/return from the fallback", "controls' supply", "switch at the drive", "resets", "intake damper", "self-test",
             "transmitters' start-up", *["until a fallback"] * quoted.has({"only": "no way of falling back"}))  # fmt: skip
    for key in built:
        assert asked[key].count("ntil") >= 1, key
        assert "Until " in asked[key], key
    assert "a person resets it" in asked["failure/return from the fallback"]
    assert NOTHING_TAKEN not in [asked[key] for key in built]
