"""Plans of a class: they sum by the clock, nobody sits too long, what comes first is taught first; and the stories told in it hold."""

import math
from html import unescape

import pytest

from helpers.classroom import day as class_day
from helpers.classroom.day import LENGTHS, PORTIONS, afterwards, asked, blocks_of, clock_time, left_out, plan_table, taught, timetable
from helpers.lessons import LESSONS
from helpers.teaching.plan import lesson
from helpers.units.said import written_out

MOST_SEATED_MIN = 135
STAY_MIN = {"half a day": (180, 270), "a day": (420, 510), "two days": (420, 510)}  # of one day at the place
KEYS = [of.key for of in LESSONS]
SYSTEMS = ("Pa", "in. w.c.")


@pytest.mark.parametrize("length", LENGTHS)
@pytest.mark.parametrize(("start", "break_min", "lunch_min"), [("08:30", 15, 45), ("7.05", 0, 60)])
def test_a_plan_has_no_gap_and_its_clock_is_the_sum_of_its_parts(length, start, break_min, lunch_min):
    timed = timetable(length, start, break_min, lunch_min)
    for day, blocks in enumerate(blocks_of(length), 1):
        of_day = [one for one in timed if one.day == day]
        assert [one.block for one in of_day] == list(blocks)
        assert clock_time(of_day[0].begin) == clock_time(start)
        assert [one.end for one in of_day[:-1]] == [one.begin for one in of_day[1:]]
        chosen = {"Break": break_min, "Lunch": lunch_min}
        assert clock_time(of_day[-1].end) - clock_time(start) == sum(chosen.get(block.title, block.minutes) for block in blocks)


@pytest.mark.parametrize("length", LENGTHS)
def test_a_class_has_the_length_it_says(length):
    low, high = STAY_MIN[length]
    assert len(blocks_of(length)) == (2 if length == "two days" else 1)
    for blocks in blocks_of(length):
        assert low <= sum(block.minutes for block in blocks) <= high


@pytest.mark.parametrize("length", LENGTHS)
def test_nobody_sits_longer_than_a_class_bears(length):
    for blocks in blocks_of(length):
        seated = 0
        for block in blocks:
            seated = 0 if block.kind == "break" else seated + block.minutes
            assert seated <= MOST_SEATED_MIN


@pytest.mark.parametrize("length", LENGTHS)
def test_a_lessons_time_is_its_share_of_the_plans_minutes(length):
    lessons = [block for blocks in blocks_of(length) for block in blocks if block.kind == "lesson"]
    assert len(lessons) >= 4
    for block in lessons:
        share = PORTIONS[block.portion] * lesson(block.key).minutes
        assert share <= block.minutes < share + class_day.ROUND_MIN
        assert block.minutes % class_day.ROUND_MIN == 0


def test_two_days_teach_all_of_it_whole():
    lessons = [block for blocks in blocks_of("two days") for block in blocks if block.kind == "lesson"]
    planned = [of for of in LESSONS if of.name not in afterwards("two days")]
    assert [block.key for block in lessons] == [of.key for of in planned]
    assert sum(block.minutes for block in lessons) == sum(of.minutes for of in planned)


def test_what_a_plan_has_nothing_of_is_named_at_its_foot():
    assert afterwards("two days") == ("09b Tested in May, good in January?",)
    for length in LENGTHS:
        for told in written_out(plan_table(length)):
            assert all(name in unescape(told) for name in afterwards(length))


@pytest.mark.parametrize("length", LENGTHS)
def test_what_a_lesson_builds_on_comes_first_or_is_named(length):
    seen = set()
    for block in (block for blocks in blocks_of(length) for block in blocks if block.kind == "lesson"):
        for before in lesson(block.key).builds_on:
            assert before in seen or lesson(before).title in left_out(length, block.key)
        seen.add(block.key)


@pytest.mark.parametrize("length", LENGTHS)
def test_a_plan_has_the_bench_after_the_wrong_rule_and_the_table_after_the_sheets(length):
    kinds = [block.kind for blocks in blocks_of(length) for block in blocks]
    keys = [block.key for blocks in blocks_of(length) for block in blocks]
    assert keys.index("average_lowest_highest") < kinds.index("bench")
    assert kinds.index("sheets") < (kinds.index("table") if "table" in kinds else math.inf)
    assert set(taught(length)) <= {of.number for of in LESSONS if not of.part}
    assert len(taught(length)) >= 4


@pytest.mark.parametrize("length", LENGTHS)
def test_every_block_says_what_is_done_in_it(length):
    for block in (block for blocks in blocks_of(length) for block in blocks if block.kind != "break"):
        assert block.show or asked(block)
        if block.kind == "lesson":
            assert asked(block).endswith("?")


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("a week",), "length"),
        (("a day", "25:00"), "start"),
        (("a day", "soon"), "start"),
        (("a day", None), "start"),
        (("a day", "18:00"), "midnight"),
        (("a day", "08:30", -5), "break_min"),
        (("a day", "08:30", 15, 999), "lunch_min"),
        (("a day", "08:30", True), "break_min"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_with_its_reason(arguments, named):
    with pytest.raises(ValueError, match=named):
        timetable(*arguments)


# The stories


def test_every_lesson_has_its_story():
    assert [of.story.key for of in LESSONS] == KEYS
    with pytest.raises(ValueError, match="key"):
        LESSONS.of("roof_gardens")


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("key", KEYS)
def test_the_answer_a_room_gives_is_wrong_by_the_model(key, system):
    told = LESSONS.of(key).story
    compared = told.prediction.compare(told.typed_wrong(system), system)
    assert not compared.agree
    if told.prediction.options:
        assert told.wrong in told.prediction.options


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("key", KEYS)
def test_a_story_has_three_moves_and_fits_on_the_wall(key, system):
    told = LESSONS.of(key).story
    assert len(told.moves) == 3
    assert len(written_out(told.says(told.opening), system)) <= 80
    for number, move in enumerate(told.moves):
        assert move.changes.items() - told.state(number).items(), "a move that moves nothing"
        assert written_out(told.says(move.ask), system).endswith("?")
        assert len(written_out(told.says(move.ask), system)) <= 130
        assert len(written_out(told.says(move.see), system)) <= 190
        assert "w.c.." not in written_out(told.says(f"{move.see} {move.hand}."), system)
