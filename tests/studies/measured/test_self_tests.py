"""The log of the weekly self-tests: weeks missed, what is out, this year beside the last, and lines that cannot be used."""

import re
from datetime import date, timedelta

import numpy as np
import pytest
from demo_designs import site_of

from helpers.studies.measured.years.drift import Drift
from helpers.studies.measured.years.self_tests import MOST_TOLD, read_self_tests
from helpers.studies.measured.years.told import OUT_NOW, due_said
from helpers.studies.measured.years.weekly import missed_said, self_tests_said, table_of
from helpers.studies.status import one_line

LAST = date(2026, 5, 14)  # a Thursday


def log(tmp_path, lines, name="self_tests.csv", until=LAST, head="date,what,result,note"):
    (tmp_path / name).write_text("\n".join([head, *lines]), encoding="utf-8")
    return read_self_tests([tmp_path / name], until)


def weekly(weeks=104, missed=(), out=(), what="fan", until=LAST):
    """A line for every week before a date, counted back from it."""
    return [f"{until - timedelta(weeks=ago)},{what},{'out' if ago in out else 'good'}," for ago in range(weeks, 0, -1) if ago not in missed]


def test_every_week_without_a_line_is_named_and_counted_in_its_year(tmp_path):
    found = log(tmp_path, weekly(missed=(3, 4, 5, 60)))
    assert [(week.isoformat(), weeks) for week, weeks in found.missed_runs] == [("2025-03-17", 1), ("2026-04-06", 3)]
    assert (found.missed_within(0), found.missed_within(1)) == (3, 1)
    assert missed_said(found) == "Missed: weeks 15 to 17 of 2026, week 12 of 2025."


def test_a_line_after_today_is_named_and_neither_ends_an_out_nor_counts_as_now(tmp_path):
    lines = [*weekly(weeks=8), "2026-05-07,PDT-1 zero at rest,out,", "2062-05-14,PDT-1 zero at rest,good,"]
    (tmp_path / "self_tests.csv").write_text("\n".join(["date,what,result,note", *lines]), encoding="utf-8")
    path = [tmp_path / "self_tests.csv"]
    found = read_self_tests(path, LAST, today=LAST)
    assert found.names_out("PDT-1")
    assert (found.until, found.missed) == (LAST, ())
    said = "date must not be after today, 2026-05-14 by this machine's clock; got 2062-05-14"
    assert found.left_out == (f"self_tests.csv, line 11: {said}",)
    assert not read_self_tests(path, LAST).names_out("PDT-1"), "without a clock it counts"
    assert read_self_tests(path, LAST, today=date(2062, 5, 13)).left_out == (), "somewhere it is tomorrow"


def test_weeks_between_the_last_line_and_the_test_day_are_missed_the_week_of_the_test_itself_is_not(tmp_path):
    found = log(tmp_path, weekly(weeks=10)[:-3])
    assert len(found.missed) == 3
    assert log(tmp_path, weekly(weeks=10)).missed == ()


def test_what_is_out_is_told_until_a_test_of_it_was_good(tmp_path):
    fan, tap = log(tmp_path, weekly(out=(30,)) + weekly(out=(1, 2, 40), what="PDT-1")).beside[::-1]
    assert (fan.what, fan.now, fan.out, fan.state) == ("fan", None, 1, "attention")  # more than none in the year before
    assert (tap.what, tap.state) == ("PDT-1", "wrong")
    assert tap.now == (date(2026, 4, 30), 2, "")
    assert (tap.out, tap.tested, tap.out_before, tap.tested_before) == (3, 51, 0, 52)


def test_a_year_as_good_as_the_last_is_a_pass(tmp_path):
    (one,) = log(tmp_path, weekly(out=(20, 70))).beside
    assert (one.out, one.out_before, one.state) == (1, 1, "good")
    assert self_tests_said(log(tmp_path, weekly())) == ""


def test_a_line_that_cannot_be_used_is_named_with_its_number_and_the_rest_is_read(tmp_path):
    lines = [
        *weekly(3),
        "14.5.2026,fan,good,",
        "2026-05-14,fan,perhaps,",
        "2026-05-14,,good,",
        "2026-05-14",
        "",
        '"2026',
        "20260514,fan,good",
    ]
    found = log(tmp_path, lines)
    assert len(found.tests) == 3
    assert [sentence.split(":")[0] for sentence in found.left_out] == [f"self_tests.csv, line {one}" for one in (5, 6, 7, 8, 10, 11)]
    assert "date must be a date as year, month and day" in found.left_out[0]
    assert found.left_out[1].endswith("result must be good or out; got 'perhaps'")
    many = log(tmp_path, [*weekly(1), *["x"] * 50])
    assert len(many.left_out) == MOST_TOLD + 1
    assert many.left_out[-1] == "self_tests.csv: 30 more lines that cannot be used"


def test_semicolons_do_as_well_and_a_line_of_two_people_counts_once(tmp_path):
    head = "Date;What;Result"
    one = log(tmp_path, [line.replace(",", ";") for line in weekly(8)], head=head)
    assert len(one.tests) == 8
    log(tmp_path, weekly(10), name="other.csv")
    both = read_self_tests([tmp_path / "self_tests.csv", tmp_path / "other.csv"], LAST)
    assert len(both.tests) == 10


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "must have the columns date, what, result in its first line; date, what, result lacking"),
        ("date,what\n2026-05-14,fan", "result lacking"),
        ("date,what,result\n", "must hold one self-test at least that can be read; got none"),
        ("date,what,result\n" + "x" * 200_000, "must hold one self-test at least"),
    ],
)
def test_a_log_of_which_nothing_can_be_read_is_refused(tmp_path, text, words):
    (tmp_path / "self_tests.csv").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match="must") as refused:
        read_self_tests([tmp_path / "self_tests.csv"], LAST)
    assert words in str(refused.value)


def test_weeks_of_a_finding_add_up_however_many_there_are_room_for(tmp_path):
    for missed in ((3, 4, 5, 60), tuple(range(2, 40, 2)), tuple(range(20, 30)), (19, 20)):
        found = log(tmp_path, weekly(missed=missed))
        (finding,) = [one for one in table_of(found, site_of("Tannery Row"))[1] if one.severity == "attention"]
        line = one_line(finding)
        assert line == f"{finding.what}: {finding.figure}", "nothing is cut off"
        assert finding.what.startswith(f"{len(missed)} weeks")
        assert weeks_named(finding.figure) == len(missed), line


def weeks_named(text):
    """How many weeks a list names, its remainder among them."""
    count = sum(map(int, re.findall(r"(\d+) before", text)))
    for part in re.sub(r", \d+ before", "", text).split(", "):
        ends = [int(number) for number in re.findall(r"\b\d{1,2}\b", part)]
        over_new_year = 52 * (len(set(re.findall(r"of (\d{4})", part))) - 1)
        count += ends[-1] + over_new_year - ends[0] + 1
    return count


def test_a_transmitter_that_is_out_is_taken_out_by_the_record_and_told_and_is_due_now(tmp_path):
    site = site_of("Tannery Row")
    found = log(tmp_path, weekly(out=(1,), what="PDT-1 zero at rest") + weekly(out=(1,), what="relief damper moves"))
    first, second = [one for one in table_of(found, site)[1] if one.severity == "wrong"]
    for finding in (first, second):
        assert "the stair is impaired" in finding.remedy
        assert "only who is qualified opens the panel" in finding.remedy
    assert "take PDT-1 out of the combined reading as page 12's record has it" in first.remedy
    assert "combined reading" not in second.remedy
    assert found.names_out("PDT-1")
    assert not found.names_out("PDT")
    course = Drift("PDT-1", "pressure", np.arange(2020.0, 2024.0), np.zeros(4), np.full(4, 0.1), -1.0, 1.0)
    assert due_said(course, found) == OUT_NOW
    assert due_said(course) != OUT_NOW
