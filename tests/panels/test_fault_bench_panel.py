"""The fault bench's page: a whole case through its controls, nothing lost, nothing given away, cautions first."""

import json
import re
from html import escape, unescape
from itertools import product

import pytest
from ipywidgets import Button, Checkbox, Dropdown, Text

from helpers.fault_bench import lesson as page
from helpers.fault_bench import tables
from helpers.fault_bench.case import case_of
from helpers.fault_bench.checks import BY_HAND_HZ, CHECKS, HAND_HZ, cautions, check_named, highest_safe_speed
from helpers.fault_bench.controls import arrival_rows, minutes_words
from helpers.fault_bench.faults import CURES, FAULTS
from helpers.fault_bench.faulty_loop import TAPS, site
from helpers.fault_bench.judge import signs_of_faults
from helpers.fault_bench.lesson import FaultBench
from helpers.fault_bench.record import BenchRecord, benched, cases_solved
from helpers.plots.picture import Picture
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.duty.permissible_speed import COUNTS, ceiling_of
from helpers.teaching.record import LearnerRecord
from helpers.widgets.controls import UNITS

NUMBER = 7  # of the case most tests play


@pytest.fixture(scope="module")
def one_bench(tmp_path_factory):
    """Made once for all tests: drawing is what takes the time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_switches", [])
        patch.setattr(UNITS, "_system", "Pa")
        yield FaultBench(LearnerRecord(tmp_path_factory.mktemp("first")))


def told(picture, *data):
    picture.words = " ".join(drawing.tell(one) for drawing, one in zip(picture.drawings, data, strict=True))
    return picture


@pytest.fixture
def record(tmp_path):
    return LearnerRecord(tmp_path / "own")


@pytest.fixture
def bench(one_bench, record, monkeypatch):
    """The bench with a record of its own, a case just opened. It was drawn once; from now on its picture is only told, in words."""
    monkeypatch.setattr(Picture, "show", told)
    monkeypatch.setattr(UNITS, "_listeners", [one_bench.refresh])
    UNITS.system, one_bench.kept = "Pa", BenchRecord(record)
    one_bench.open(1, NUMBER)
    return one_bench


def right_answer(case):
    fault = next(fault for fault in FAULTS if fault.key == case.fault_key)
    return fault.key, fault.cure


def choose(bench, check, place=None):
    """As a hand does: press, and once more where a caution is read first."""
    next(made for (key, at), made in bench.checks.buttons.items() if key == check and place in (at, None)).click()
    if bench.checks.chosen:
        bench.checks.take_button.click()


def play(bench, checks, fault, cure):
    for check in checks:
        choose(bench, check)
    bench.name_it.fault.value, bench.name_it.cure.value = fault, cure
    for tick in bench.name_it.ticks.values():
        tick.value = True
    bench.name_it.done_button.click()


def test_a_case_is_played_through_the_controls_from_the_complaint_to_the_good_hands_way(bench, record):
    bench.open(2, NUMBER)  # the trend alone proves nothing there
    fault, cure = right_answer(bench.case)
    choose(bench, "display")
    choose(bench, "gauge", "PDT-2")
    assert "PDT-2" in bench.log.value
    play(bench, (), fault, cure)
    assert bench.judgement.fault_right
    assert bench.judgement.cure_right
    assert f"{bench.judgement.score} of 100" in bench.judged.value
    assert all(words in bench.judged.value for words, _ in bench.judgement.reckoning)
    seen = [bench.replay.words]
    for _ in bench.replay.steps[1:]:
        bench.replay.next_button.click()
        seen.append(bench.replay.words)
    assert len(set(seen)) == len(bench.replay.steps) > 1
    assert "That is all" in bench.replay.told.value
    assert cases_solved(record.events()) == {2: 1}


def test_another_fault_than_the_one_that_is_there_is_wrong_and_counted_as_no_case_solved(bench, record):
    other = next(fault for fault in bench.case.faults if fault.key != bench.case.fault_key)
    play(bench, ("display",), other.key, other.cure)
    assert "NOT SO" in bench.judged.value
    assert cases_solved(record.events()) == {}
    (told,) = benched(record.events())
    assert (told.level, told.number, told.right, told.named) == (1, NUMBER, False, other.key)
    assert (told.score, told.minutes) == (bench.judgement.score, bench.visit.spent_min)


def test_the_first_judgement_counts_and_not_the_one_after_the_answer_was_told(bench, record):
    other = next(fault for fault in bench.case.faults if fault.key != bench.case.fault_key)
    play(bench, ("display",), other.key, other.cure)
    bench.cases.again_button.click()
    assert bench.judgement is None
    assert bench.visit.taken == []
    play(bench, ("display",), *right_answer(bench.case))
    assert bench.judgement.fault_right
    assert cases_solved(record.events()) == {}


def test_a_case_is_not_begun_anew_before_it_is_named(bench):
    choose(bench, "display")
    bench.cases.again_button.click()
    assert "not judged yet" in bench.cases.told.value
    assert len(bench.visit.taken) == 1


def test_a_check_that_the_minutes_do_not_reach_is_refused_in_a_sentence_and_nothing_is_lost(bench):
    bench.open(3, NUMBER)
    dearest = max(CHECKS, key=lambda check: check.minutes)
    while bench.visit.left_min >= dearest.minutes:
        choose(bench, dearest.key)
    before = list(bench.visit.taken)
    choose(bench, dearest.key)
    assert "NOT USED" in bench.checks.told.value
    assert f"{dearest.minutes:g}" in bench.checks.told.value
    assert bench.visit.taken == before
    assert bench.log.value.count("<tr") == len(before) + 1
    assert f"{bench.visit.left_min:g} minutes left" in bench.checks.minutes.value


def test_a_case_number_that_is_none_is_told_and_the_open_case_stays(bench):
    choose(bench, "display")
    for text in ("", "abc", "-3", "1.5", "10000", "7; drop", "٣"):
        bench.cases.number.value = text
        assert "Case number must be a whole number from 0 to 9999" in bench.cases.told.value
        bench.cases.told.value = ""
    assert bench.case.seed == NUMBER
    assert len(bench.visit.taken) == 1


def test_whatever_is_not_chosen_is_asked_for_in_a_sentence(bench):
    bench.name_it.done_button.click()
    assert "Choose a fault first." in bench.name_it.told.value
    bench.name_it.fault.value = "none"
    bench.name_it.done_button.click()
    assert "Choose a cure first." in bench.name_it.told.value
    assert bench.judgement is None


def test_a_judged_case_takes_no_more_checks(bench):
    play(bench, ("display",), *right_answer(bench.case))
    choose(bench, "record")
    assert "This case is judged" in bench.checks.told.value
    assert len(bench.visit.taken) == 1


def test_the_unit_switch_turns_every_figure_and_keeps_log_choice_and_ticks(bench):
    choose(bench, "display")
    choose(bench, "door")
    bench.name_it.ticks["door"].value = True
    bench.name_it.fault.value = "none"
    before, drawn = bench.log.value, bench.picture.words
    UNITS.system = "in. w.c."
    assert "in. w.c." in bench.log.value
    assert " Pa" not in bench.log.value + bench.arrival.value + bench.checks.told.value
    assert "lbf" in bench.arrival.value
    assert "in. w.c." in bench.picture.words
    assert bench.name_it.fault.value == "none"
    assert [tick.value for tick in bench.name_it.ticks.values()] == [False, True]
    UNITS.system = "Pa"
    assert (bench.log.value, bench.picture.words) == (before, drawn)


def test_a_page_opened_again_goes_on_where_the_case_was_left(bench, record):
    choose(bench, "display")
    choose(bench, "gauge", "PDT-2")
    again = FaultBench(LearnerRecord(record.path.parent))
    assert again.words == bench.words
    play(again, (), *right_answer(again.case))
    third = FaultBench(LearnerRecord(record.path.parent))
    assert third.judgement.score == again.judgement.score
    assert len(record.events()) == 1


def test_two_pages_on_one_case_lose_nothing(bench, record):
    other = FaultBench(LearnerRecord(record.path.parent))
    choose(bench, "display")
    choose(other, "record")
    choose(bench, "door")
    assert [seen.check.key for seen in bench.visit.taken] == ["display", "record", "door"]
    play(bench, (), *right_answer(bench.case))
    choose(other, "hand")
    assert "This case is judged" in other.checks.told.value
    assert other.judgement.score == bench.judgement.score
    assert len(record.events()) == 1


def test_where_nothing_can_be_kept_the_case_goes_on_and_says_so(bench, tmp_path):
    (tmp_path / "file").write_text("in the way")
    bench.kept = BenchRecord(LearnerRecord(tmp_path / "file"))
    bench.open(1, NUMBER)
    choose(bench, "display")
    choose(bench, "door")
    assert "could not be" in bench.checks.told.value
    assert len(bench.visit.taken) == 2
    play(bench, (), *right_answer(bench.case))
    assert bench.judgement.fault_right


def test_a_case_kept_under_the_earlier_tags_goes_on(bench, record):
    kept = BenchRecord(record)
    kept.took(1, NUMBER, kept.visit(1, NUMBER), "gauge", "PT-2")
    kept._keep({f"answer/1/{NUMBER}/0": '["offset", ["display of PT-2 against a gauge on its tubes"], "zero"]'})
    visit = kept.visit(1, NUMBER)
    assert visit.checks == (("gauge", "PDT-2"),)
    assert visit.answer[1] == ["display of PDT-2 against a gauge on its tubes"]


def test_what_was_kept_and_cannot_be_read_any_more_is_told(bench, record):
    kept = BenchRecord(record)
    kept.took(1, NUMBER, kept.visit(1, NUMBER), "tasting", None)
    bench.open(1, NUMBER)
    assert "Not all that was kept" in bench.cases.told.value
    assert bench.visit.taken == []


def test_the_first_cases_are_the_learners_own_and_a_level_comes_back_where_it_was_left(tmp_path):
    numbers = {}
    for name in ("Ada", "Bo", ""):
        record = LearnerRecord(tmp_path / f"of {name}")
        record.name = name
        kept = BenchRecord(record)
        numbers[name] = [kept.next_number(1)]
        kept.opened(1, numbers[name][0])
        numbers[name].append(kept.next_number(1))
        assert kept.last() == kept.last(1) == (1, numbers[name][0])
        assert kept.last(2) is None
    assert len({number for own in numbers.values() for number in own}) == 6


def test_a_level_is_chosen_and_a_new_case_opened_by_their_controls(bench):
    bench.cases.level.value = 2
    second = bench.case.seed
    assert bench.case.level.number == 2
    bench.cases.new_button.click()
    assert bench.case.level.number == 2
    assert bench.case.seed != second
    bench.checks.buttons["hand", None].click()
    bench.name_it.fault.value = "none"
    bench.cases.level.value = 1
    assert bench.case.seed == NUMBER
    assert bench.checks.chosen is None
    assert [field.label.startswith("(choose") for field in (bench.name_it.fault, bench.name_it.cure)] == [True] * 2


@pytest.mark.parametrize("level", [1, 2])
def test_only_cures_of_the_faults_that_can_be_chosen_are_offered(bench, level):
    bench.open(level, NUMBER)
    offered = [key for _, key in bench.name_it.cure.options if key]
    assert set(offered) == {fault.cure for fault in bench.case.faults}
    assert len(offered) == len(set(offered))
    assert bench.cases.number.value == str(NUMBER)


def test_a_caution_stands_on_the_page_before_the_check_is_taken(bench):
    careful = [check for check in CHECKS if check.caution]
    for check in careful:
        bench.checks.buttons[check.key, next(iter(check.places), None)].click()
        assert bench.checks.asked.layout.display is None
        assert all(escape(caution) in bench.checks.about.value for caution in check.cautions)
        assert f"{check.minutes:g} minute" in bench.checks.take_button.description
    assert bench.visit.taken == []
    choose(bench, "display")
    assert bench.checks.asked.layout.display == "none"
    assert [seen.check.key for seen in bench.visit.taken] == ["display"]


def test_each_caution_stands_once_under_the_table_of_checks_and_its_letter_in_each_row_it_belongs_to():
    words = tables.check_list().written[1].splitlines()
    rows = {line.split(" | ")[0]: line.split(" | ")[-1].split(", ") for line in words if " | " in line}
    notes = dict(line.split(": ", 1) for line in words if " | " not in line)
    for check in CHECKS:
        assert [notes[letter] for letter in rows[check.name] if letter] == list(check.cautions)


def test_a_check_that_shows_a_manual_speed_says_the_highest_one_of_this_building_in_its_row():
    """A row is read alone: a caution letters away does not stop a hand that copies 30 Hz out of it."""
    rows = [line for line in tables.check_list().written[1].splitlines() if " | " in line]
    shown = [row for row in rows if re.search(r"\d Hz", row)]
    by_loop = [row for row in shown if row.startswith("open a door and watch")]
    ceiling = ceiling_of(site())
    assert f"NOT RUN on this building: the fan goes towards 50 Hz, above the ceiling, {ceiling.hz:.1f} Hz" in by_loop[0]
    assert f"a force gauge at {ceiling.door}" in cautions()["full"]
    shown = [row for row in shown if row not in by_loop]
    assert {row.split(" | ")[0] for row in shown} == {"set the speed in manual", "look at the relief damper", "look at the fan's wheel"}
    assert all(f"Highest manual speed here: {highest_safe_speed()}; the bench shows" in row and "to copy" in row for row in shown)
    assert float(highest_safe_speed().partition(" Hz: above it final exit 0 may stay ajar")[0]) < HAND_HZ[0] < BY_HAND_HZ
    assert f"{NOT_RUN} without {ceiling_of(site()).keyed_said} in the drive" in cautions()["full"]  # of two ceilings the lower
    assert highest_safe_speed().endswith(f"Hz: never above, stair door 13 past its limit; {COUNTS}")


def test_the_caution_names_the_door_and_case_that_stop_a_manual_speed():
    """Both ceilings, each with door, walls and weather: of the function that sheets and procedure of a test day ask."""
    ceiling = ceiling_of(site())
    for told in (f"already above {ceiling.closes_hz:.1f} Hz final exit 0 may stay ajar", ceiling.closes_met,
                 f"above {ceiling.hz:.1f} Hz stair door 13 is past its limit", ceiling.met):  # fmt: skip
        assert told in cautions()["speed"]
    assert ("summer" in ceiling.closes_met, "winter" in ceiling.met, "stuck shut" in ceiling.met) == (True, True, True)
    assert "in manual nothing does" in cautions()["speed"]


def test_what_is_known_on_arrival_stands_apart_from_its_name(bench):
    assert "grid-template-columns:max-content 1fr;gap:0 12px" in bench.arrival.value


def _letters_of(text):
    """Letters and figures alone: lists have marks of their own where a sentence has semicolons."""
    return re.sub(r"[\W_]+", "", unescape(text))


def test_the_matrix_marks_what_the_list_of_signs_says():
    marks = tables.marks_of_faults()
    for sign in signs_of_faults():
        for fault, check in product(sign.faults, sign.checks):
            assert marks[fault][check] == tables.PROVES or len(sign.faults) > 1
    proofs = {(fault, check) for sign in signs_of_faults() if len(sign.faults) == 1 for fault in sign.faults for check in sign.checks}
    found = [(fault, check) for fault, checks in marks.items() for check, mark in checks.items() if mark == tables.PROVES]
    assert set(found) == proofs
    html, words = tables.look_alikes().written
    rows = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in html.partition("<tbody>")[2].partition("</tbody>")[0].split("</tr>")]
    cells = [[len(cell.split("; ")) * bool(cell) for cell in row[-2:]] for row in rows if row]
    dot, ring = map(sum, zip(*cells, strict=True))
    assert dot == len(found) > 0
    assert dot + ring == sum(map(len, marks.values()))
    hurts = {check.name for check in CHECKS if check.cautions}
    told = re.findall(r"([a-z][a-z' ]+?) ▲[A-Z]+", unescape(html))
    assert set(told) == hurts, "a check that can hurt has the letters of its cautions wherever it is named, no other has"
    shown = _letters_of(re.sub("<[^>]*>", "", html))
    assert all(_letters_of(caution) in shown for caution in cautions().values()), "whole, in lists as they may stand"
    assert all(f"\n{fault.name}: " in words for fault in marks)


def test_every_check_at_fan_live_parts_or_stair_has_a_caution():
    warned = {check.key for check in CHECKS if check.caution}
    assert {"hand", "inject", "swap", "raw", "pump", "door", "wheel"} <= warned


def shown(widgets):
    """All that the browser is sent of some widgets: what is in a list to choose from is left out."""
    states = [widget.get_state() for widget in widgets]
    return json.dumps([{k: v for k, v in state.items() if k != "_options_labels"} for state in states], default=str)


def parts(widget):
    """A widget with all within it."""
    yield widget
    for inner in (*getattr(widget, "children", ()), getattr(widget, "layout", None), getattr(widget, "style", None)):
        if inner is not None:
            yield from parts(inner)


@pytest.mark.parametrize("key", [fault.key for fault in FAULTS][::4])
def test_nothing_shown_before_the_judgement_names_what_is_hidden(bench, monkeypatch, key):
    mode = "everyday mode" if key == "stop_threshold" else "fire mode"
    monkeypatch.setattr(page, "draw_case", lambda number, level: case_of(key, number, level, mode))
    bench.open(2, NUMBER)
    choose(bench, "display")
    choose(bench, "loop page")
    hidden = next(fault for fault in FAULTS if fault.key == key)
    everything = (
        shown(parts(bench.box)) + "".join(json.dumps(bench._repr_mimebundle_()[kind]) for kind in ("text/plain", "text/html")) + bench.words
    )
    for given_away in (hidden.name, hidden.what, next(cure.name for cure in CURES if cure.key == hidden.cure)):
        assert given_away.lower() not in everything.lower()
    if "_" in key:
        assert key not in everything
    assert bench.judged.value == ""
    assert bench.way.children == ()


def test_the_search_for_what_is_hidden_would_find_it(bench):
    play(bench, ("display",), *right_answer(bench.case))
    fault = next(fault for fault in FAULTS if fault.key == bench.case.fault_key)
    assert fault.name in shown(parts(bench.box))


def test_every_control_has_a_name_that_is_read_out(bench):
    choose(bench, "gauge", "PDT-2")
    names = [widget.tooltip or widget.description for widget in parts(bench.box) if isinstance(widget, Button | Checkbox | Dropdown | Text)]
    assert len(names) == len(set(names)) > 10
    assert all(names)
    regions = [part.told.value for part in (bench.cases, bench.checks, bench.name_it)]
    assert any('role="status" aria-live="polite"' in told for told in regions)
    assert 'scope="col"' in bench.log.value
    assert re.search(r"<img [^>]*alt=\"Larkfield House", bench._repr_mimebundle_()["text/html"])


def test_each_button_says_what_it_takes_or_the_transmitters_one_name(bench):
    for (key, place), made in bench.checks.buttons.items():
        check = check_named(key)
        if place is None:
            assert made.description == f"Take: {check.minutes:g} min"
        elif place in TAPS:
            level = site().transmitters[TAPS.index(place)].level
            assert made.description == place
            assert f"{place}, storey {level}" in made.tooltip
        assert minutes_words(check.minutes) in made.tooltip
    where = dict(arrival_rows(bench.case, bench.visit))["Where"]
    assert "PDT-1, storey 1, on input 1; PDT-2, storey 12, on input 2" in where  # what the names and the inputs are
