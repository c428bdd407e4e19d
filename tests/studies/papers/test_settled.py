"""A stair after the decisions that its record asks for, with every question answered: nothing fails, and its papers can be keyed in."""

import re

import pytest
from demo_designs import design_for, site_of

from helpers.model.answers import GivenAnswer, read_answers
from helpers.model.site.file import SITES_FOLDER, read_site
from helpers.record.board import state_of
from helpers.record.papers.beyond.answered import ASKED_BY, LISTED, NOTE, answers_listed, quote, with_answers, with_numbers
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.folder import Folder
from helpers.record.papers.paper import LEGEND
from helpers.record.papers.points import LISTED as LEGEND_OF_LISTS
from helpers.record.papers.points import points_judged
from helpers.record.papers.quoted import Quoted
from helpers.studies.signals.unlike_ranges import accuracy_pa
from helpers.units.said import written_out

VARIANTS = SITES_FOLDER.parent / "variants"
SITE, ANSWERS = VARIANTS / "tannery_row_settled.toml", VARIANTS / "tannery_row_settled_answers.toml"
DIFFERS = {  # from Tannery Row, each with its reason beside it in the file
    "name", "evacuation", "ceiling_height_m", "storeys.0.exit_faces_deg", "doors.street.closer_force_n",
    "doors.street.closing_share", "stair.heat_surface_m2", "stair.film_w_m2k", "stair.wall_effusivity", "stair.relief.area_m2",
    "stair.relief.count", "fan.ramp_s", "fan.ramp_down_s", "fan.brake_power_w", "fan.brake_short_power_w", "fan.brake_short_time_s",
    "fan.smoke_lowest_speed_hz", "fan.smoke_highest_speed_hz", "control.gain", "control.integral_time_s", "control.input_scan_s",
    "control.bus_delay_s", "standby.drive_s",
    *(f"transmitters.{at}.{key}" for at in (0, 1) for key in ("filter_s", "damping_s", "tube_length_m", "tube_bore_m")),
}  # fmt: skip


KEYED_IN = "sequence", "points", "alarms", "cause_and_effect"  # papers by which a programmer works
OPEN_WORDS = (
    "to be agreed",
    "NOT YET",
    "FAIL",
    "see the enquiry list",
    "enquiry list:",
    "not laid down",
    "until that is agreed",
    "until it is agreed",
)


@pytest.fixture(scope="module")
def papers(design, quoted):
    return {paper.key: paper for paper in Folder.of(design, quoted.answers).papers}


@pytest.fixture(scope="module")
def design():
    return design_for(read_site(SITE))


@pytest.fixture(scope="module")
def quoted(design):
    return Quoted(design, read_answers(ANSWERS, design.site.name))


def _flat(thing, at=""):
    """{place in the file: value} of nested mappings and lists."""
    if isinstance(thing, dict | list):
        pairs = thing.items() if isinstance(thing, dict) else enumerate(thing)
        return {place: value for key, one in pairs for place, value in _flat(one, f"{at}.{key}".lstrip(".")).items()}
    return {at: thing}


def test_it_is_tannery_row_but_for_what_was_decided():
    ours, first = (_flat(site.model_dump()) for site in (read_site(SITE), site_of("Tannery Row")))
    assert {place for place in ours | first if ours.get(place) != first.get(place)} == DIFFERS


def test_nothing_fails_and_what_a_loop_is_set_to_is_laid_down(design, quoted):
    assert [one.what for one in design.record().findings if one.severity == "wrong"] == []
    stated = Quoted(design)
    lines = {(line.group, line.name): state_of(line) for line in stated.lines}
    assert [place for place, state in lines.items() if state == "wrong"] == []
    laid = ("set point", "gain", "integral time"), ("highest speed in smoke control", "ramp up", "start speed, and least speed of the loop")
    assert {lines[group, name] for group, names in zip(("loop", "fan"), laid, strict=True) for name in names} <= {"good", "attention"}
    assert {lines["failure", name] for name in ("on a failed reading", "fallback speed", "alarm on PDT-1")} <= {"good", "attention"}
    asked = {"/".join(place) for place, state in lines.items() if state == "open" and place[0] != "sheet"}
    assert asked <= set(quoted.answers.by_question())  # what is open is a question, and answered


def test_every_question_is_answered_by_a_role_with_a_date(quoted):
    assert [one.key for one in questions_of(quoted) if one.answer is None] == []
    assert {one.key for one in questions_of(quoted)} == set(quoted.answers.by_question())


def test_a_wrong_reading_is_held_against_the_seconds_that_are_answered_and_signed_for(papers):
    parts = papers["sequence"].parts
    played = [(row, state) for part in parts for table in part.tables if table.key == "played differ"
              for row, state in zip(table.rows, table.states, strict=True) if "stuck at the top of its range" in row[0]]  # fmt: skip
    assert {state for _, state in played} == {"attention"}
    assert all('wrong reading, by authority, 2025-09-15: "90 s' in row[1] for row, _ in played)
    (signed,) = (table for part in parts for table in part.tables if table.key == "checks")
    assert {row[0] for row, _ in played} <= {row[1] for row in signed.rows}


def test_a_cut_speed_command_is_one_entry_of_the_drive(papers):
    said = [text for key in ("points", "schedules", "enquiry") for part in papers[key].parts for table in part.tables
            for row in table.rows for text in row]  # fmt: skip
    cut = {re.sub(r".*(below 3\.6 mA the drive [^,]*).*", r"\1", text) for text in said if "below 3.6 mA the drive" in text}
    assert cut == {"below 3.6 mA the drive runs on at 43.5 Hz while its run command stands"}
    assert any("A lost speed command is no trip: see output signals" in text for text in said)
    assert not any("loss of the speed command" in text for text in said)


@pytest.mark.parametrize("key", KEYED_IN)
def test_nothing_in_states_transitions_loop_points_and_alarms_fails_or_waits(papers, key):
    for part in papers[key].parts:
        rows = [
            (row, state) for table in part.tables for row, state in zip(table.rows, table.states or [""] * len(table.rows), strict=True)
        ]
        texts = [*part.lines, *part.steps, *(cell for row, _ in rows for cell in row)]
        said = [text for text in texts if text not in (LEGEND, LEGEND_OF_LISTS)]
        assert [text for word in OPEN_WORDS for text in said if word in text or word.capitalize() in text] == []
        assert not {"wrong", "open"} & {state for _, state in rows}


@pytest.mark.parametrize("key", KEYED_IN)
def test_each_answer_is_quoted_with_question_person_and_date_and_listed_once_to_be_signed(papers, key):
    tables = [table for part in papers[key].parts for table in part.tables]
    signed = next(table for table in tables if table.key == "answers quoted")
    assert NOTE in signed.note
    assert set(signed.states) == {"attention"}
    texts = [text for part in papers[key].parts for text in (*part.lines, *part.steps)]
    texts += [text for table in tables if table is not signed for text in (table.note, *(cell for row in table.rows for cell in row))]
    quoted = {found for text in texts for found in re.findall(LISTED, text)}
    assert quoted == {row[0] for row in signed.rows}
    assert len(quoted) > 3
    assert all(re.match(r"enquiry list Q\d+, .+, by [a-z ]+, 2025-\d\d-\d\d: ", one) for one in quoted)


def test_a_row_waits_as_long_as_its_question_has_no_answer(design, quoted):
    fewer = [one for one in quoted.answers.answers if one.question != "waits and records"]
    states = dict(zip(*_named(Quoted(design, quoted.answers.model_copy(update={"answers": fewer}))), strict=True))
    assert states["drive fault"] == "open"
    assert dict(zip(*_named(quoted), strict=True))["drive fault"] == ""


def _named(quoted):
    """Names of the points, and the keys of their status."""
    points, states = zip(*points_judged(quoted), strict=True)
    return [point.name for point in points], states


@pytest.mark.parametrize(
    ("asks", "told"),
    [
        ("to be agreed, see the enquiry list: resets", "as answered, {}"),
        ("our own choice; agree it, see the enquiry list: resets", "our own choice; as answered, {}"),
        ("at once, or after a wait to be agreed, see the enquiry list: resets", "as answered, {}"),
        ("A proposal, for authority and licensed designer to decide, see the enquiry list: resets. Then", "As answered, {}. Then"),
        ("what holds it is asked in the enquiry list: resets", "what holds it is as answered, {}"),
        ("to be agreed, see the enquiry list: resets; until then: nothing runs", "as answered, {}"),
        ("to be agreed, see the enquiry list: lamps; until then: dark", "to be agreed, see the enquiry list: lamps; until then: dark"),
    ],
)
def test_an_answer_takes_the_place_of_what_led_to_its_question_and_of_what_held_until_then(asks, told):
    answer = GivenAnswer(question="resets", answer='At the "panel".', by="authority", date="2025-09-15")
    quote = "enquiry list resets, by authority, 2025-09-15: \"At the 'panel'\""
    assert with_answers(asks, "enquiry", {"resets": answer}, lambda _: answer.answer) == told.format(quote)


def test_what_stands_against_an_answer_stands_behind_it_and_is_no_part_of_it():
    answer = GivenAnswer(question="until a fallback", answer="50 Hz", by="authority", date="2025-09-15")
    told = with_answers("see the enquiry list: until a fallback", "enquiry", {answer.question: answer}, lambda _: "FAIL: doors jam")
    assert told.endswith('2025-09-15: "50 Hz" (FAIL: doors jam)')


def test_the_head_says_who_answered_that_the_final_exit_is_left_out_and_what_it_does_all_the_same(design, quoted):
    stamp = Folder.of(design, quoted.answers).stamp
    assert stamp.fails == ()
    assert "NOT REQUIRED: would FAIL. With the exit open alone: stair door" in stamp.beyond
    assert 'Whether it counts: as answered, enquiry list Q10, final exit open, by authority, 2025-09-15: "' in stamp.beyond
    assert stamp.beyond.endswith("What that asks is not proved yet.")
    assert "0 NOT YET" in stamp.left


def test_a_door_past_its_limit_that_no_alarm_tells_is_a_fail_until_the_authority_has_signed_for_it(papers, design, quoted):
    stamp = Folder.of(design, quoted.answers).stamp
    assert stamp.state.startswith("FAIL in paper 06_rational_analysis until the authority has signed for it")
    assert "Besides, in what its design counts, the record fails in nothing." in stamp.state
    analysis = papers["rational_analysis"]
    (found,) = (table for part in analysis.parts for table in part.tables if table.key == "findings")
    (row,) = (row for row, state in zip(found.rows, found.states, strict=True) if state == "wrong")
    (blank,) = (one for part in analysis.parts for one in part.blanks if "How far past its limit a shut door may be" in one)
    number = blank.removeprefix("BLANK ").partition(".")[0]
    assert f"FAIL until the authority has signed blank {number}" in row[0]
    summary = analysis.parts[0].lines
    assert any(line.startswith("FAIL: No alarm limits") and number in line for line in summary)
    counts = [found.states.count(state) for state in ("wrong", "attention", "good")]
    said = f"Findings, each once: {counts[0]} FAIL, {counts[1]} CHECK, {counts[2]} PASS; "
    assert sum(said in line for line in summary) == 1
    assert f"{counts[1]} findings CHECK" in stamp.left


def test_a_door_opened_on_a_storey_that_the_design_does_not_name_is_followed_to_the_exit_in_one_line(papers, design):
    (line,) = (one for one in papers["rational_analysis"].parts[0].lines if "stair door 1 and 4 open" in one)
    fallen, full = design.fallback.speed_hz, design.duty.full
    assert line.index("rings with every reading right") < line.index(f"falls back to {fallen:.1f} Hz") < line.index("door shuts again")
    assert written_out(full.nearest_exit.brief) in line
    assert full.nearest_exit.room_pa < accuracy_pa(design.built.transmitters)
    assert "less to spare than that" in line
    assert line.startswith("CHECK: ")
    assert any("storeys 1 and 4 FAIL" in one for one in papers["rational_analysis"].parts[0].lines)


def test_where_people_stay_nobody_reads_beside_the_fan_that_all_leave(papers, design):
    (caution,) = (one for part in papers["owner"].parts for one in part.cautions if one.startswith("In a fire alarm"))
    assert design.site.evacuation == "defend in place"
    assert "the others stay, doors shut" in caution
    assert "leave, touch nothing" not in caution


def test_what_is_answered_of_the_check_list_of_fan_and_drive_no_longer_waits(papers, design, quoted):
    (bare,) = (table for table in design.section("fan").tables if table.key == "drive_checks")
    assert set(bare.states) == {"open"}
    for key in ("schedules", "rational_analysis"):
        (table,) = (table for part in papers[key].parts for table in part.tables if table.key == "drive_checks")
        for row, state in zip(table.rows, table.states, strict=True):
            if (asked := ASKED_BY.get(row[0])) is None:
                assert (row[0], state) == ("Standby power", "open")  # proved on site: no question is answered by it
                continue
            assert state == "attention"
            assert quoted.answers.by_question()[asked].by in row[-1]


def test_an_item_that_nobody_has_answered_still_waits(design):
    table = Quoted(design).table("fan", "drive_checks")
    assert set(table.states) == {"open"}
    assert {row[-1] for row in table.rows} == {""}


@pytest.mark.parametrize("by", ["fire service: station 3", 'the "north" station; by letter', "engineer"])
def test_no_answer_escapes_the_list_to_be_signed_by_how_its_giver_is_written(by):
    given = GivenAnswer(question="drive trip", answer='as it "was": so', by=by, date="2026-05-04")
    said = with_numbers(f"Restart: {quote(given.question, given, given.answer)}; besides nothing.", "enquiry", {"drive trip": "Q17"})
    (table,) = answers_listed([said])
    assert [row[0].partition(", by ")[0] for row in table.rows] == ["enquiry list Q17, drive trip"]
    assert table.rows[0][0].endswith("\"as it 'was': so\"")
