"""Words and temperatures as people write them on a day's sheets: what is read, what is refused with the list, what somebody is asked about;
a reading that is inside its limit with too little room."""

import pytest

from helpers.model.site.file import demo_sites, read_site
from helpers.studies.commissioning.cell_values import _option
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.read_back import read_filled
from helpers.studies.commissioning.fields import Day, DoorMeasured
from helpers.studies.commissioning.judgement import DIRECTIONS, SHUTS, in_a_round, judged
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.status import SPARE_PA
from helpers.units.said import written_out
from tests.studies.test_crew import larkfield  # noqa: F401


@pytest.mark.parametrize(
    ("words", "options", "read"),
    [
        ("otherwise, the lamp is dark", SEEN, "otherwise"),
        ("Otherwise.", SEEN, "otherwise"),
        ("in", DIRECTIONS, "into the stair"),
        ("out", DIRECTIONS, "out of the stair"),
        ("into the stair, a little", DIRECTIONS, "into the stair"),
        ("n", SHUTS, "no"),
        ("no - drags", SHUTS, "no"),
        ("YES", SHUTS, "yes"),
    ],
)
def test_a_word_that_can_only_be_one_of_the_list_is_read(words, options, read):
    assert _option(words, options) == read


@pytest.mark.parametrize(
    ("words", "options"),
    [("yes, but it drags", SHUTS), ("as it must, nearly", SEEN), ("maybe", SHUTS), ("o", ("out", "other")), ("none of it", SHUTS)],
)
def test_a_yes_with_a_but_and_a_word_of_no_list_are_refused_with_the_list(words, options):
    with pytest.raises(ValueError, match=f"must be one of these words: {', '.join(options)}; got"):
        _option(words, options)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"floor_c": 2.2}, "floors 2.2 °C, the site file has 21 °C"),
        ({"stair_top_c": 1.9}, "stair, top 1.9 °C, outdoors and floors have 14 °C and 22 °C"),
        ({}, ""),
    ],
)
def test_a_temperature_that_can_hardly_be_is_asked_about_where_the_figures_are_made_for_it(changed, words):
    site = read_site(demo_sites()["Larkfield House"])
    day = Day(**({"outdoor_c": 14.0, "stair_bottom_c": 19.0, "stair_top_c": 19.0, "floor_c": 22.0} | changed))
    said = written_out(day.said(site, "winter"))
    assert (f"Ask before anything is done with it: {words}" in said) if words else ("Ask before" not in said)


def test_a_reading_with_too_little_room_to_its_limit_is_check_and_one_with_room_is_not(larkfield):  # noqa: F811
    sheet = larkfield.rounds.sheet
    row = next(row for row in sheet.rows if row.use == "stair door" and row.later_minute is None)
    least, most = sheet.ends(row)
    for value, said in ((least + SPARE_PA - 0.1, True), (most - SPARE_PA + 0.1, True), ((least + most) / 2, False)):
        told = [words for state, words in judged(sheet, row, DoorMeasured(shut_pa=value), True) if state == "attention"]
        assert bool(told) == said, value
        assert not said or any("of room" in one or "was expected" in one for one in written_out(told)), value
    for value, state in ((most - SPARE_PA + 0.1, "attention"), (most - SPARE_PA - 0.1, "good"), (most + 0.1, "wrong")):
        assert in_a_round(sheet, row, value, fan_held=False)[0] == state


def test_what_one_of_two_saw_otherwise_counts_until_they_agree_and_two_may_sign_one_step(larkfield, tmp_path):  # noqa: F811
    paths = [tmp_path / "one.xlsx", tmp_path / "other.xlsx"]
    for path, by, seen in zip(paths, ("AB", "CD"), (SEEN[1], SEEN[0]), strict=True):
        write_book(larkfield, path, filled={("steps", 2, "done"): seen, ("steps", 2, "initials"): by, ("steps", 3, "done"): SEEN[0]})
    found = read_filled(larkfield, paths)
    assert found.value("steps", 2, "done") == SEEN[1]
    assert found.value("steps", 3, "done") == SEEN[0]
    assert found.value("steps", 2, "initials") == "AB / CD"
    (conflict,) = found.conflicts
    assert "'as it must' is not used, 'otherwise' counts until the two agree" in conflict
    assert found.together == ()
    copied = tmp_path / "copied.xlsx"
    copied.write_bytes(paths[0].read_bytes())
    twice = read_filled(larkfield, [paths[0], copied])
    assert twice.mistakes == ("copied.xlsx: the same book as one.xlsx, read once",)
