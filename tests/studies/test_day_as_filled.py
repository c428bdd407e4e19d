"""The file of a test day written into the sheets, and read back: the same day, and a day that keeps to the ceiling of its site."""

import pytest

from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day
from helpers.pages.measured.fitted import fitted_panel
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import day_as_filled, read_day, weather_of
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import crew_rounds
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.readings import readings_of
from helpers.studies.measured.remarks import above_ceiling_said
from helpers.units.said import written_out

FIRST = "the set point"


@pytest.fixture(scope="module")
def northgate():
    return read_site(demo_sites()["Northgate Tower"])


@pytest.fixture(scope="module")
def day():
    return read_test_day(DAYS_FOLDER / "northgate_tower_may.toml")


@pytest.fixture(scope="module")
def steps(northgate, day):
    return procedure(crew_rounds(northgate, day=weather_of(day)), first=FIRST)


@pytest.fixture(scope="module")
def found(northgate, day, steps, tmp_path_factory):
    filled, left = day_as_filled(steps.rounds, day)
    assert not left
    path = write_book(steps, tmp_path_factory.mktemp("day") / "from_day.xlsx", filled=filled)
    return read_day(northgate, [path], first=FIRST)


def test_a_day_written_into_the_sheets_comes_back_as_it_was(found, day):
    assert not found.not_used
    back, by_speed = found.test_day, sorted(day.rounds, key=lambda one: one.speed_hz)
    assert (back.date, back.weather, back.gauges) == (day.date, day.weather, day.gauges)
    assert [vars(one) for one in back.rounds] == [vars(one) for one in by_speed]


def test_what_no_file_of_a_day_holds_stays_not_yet(found):
    report = day_report(found)
    assert report.verdict[0] == "open"
    assert report.count("good") < 20  # of hundreds


def test_the_days_that_come_with_the_workbook_keep_to_the_ceiling_of_their_sites(northgate, day, found):
    """Northgate's was once made at 37.7 Hz, where the day's ceiling is 25.1 Hz."""
    for name, file in (("Northgate Tower", day), ("Larkfield House", read_test_day(DAYS_FOLDER / "larkfield_house_may.toml"))):
        assert max(one.speed_hz for one in file.rounds) <= ceiling_of(read_site(demo_sites()[name])).hz + 0.05
    fan = next(line for line in day_report(found).lines if line.device == "fan, in the rounds")
    assert "above" not in fan.words


def test_a_round_above_the_ceiling_is_told_by_the_fit_with_its_speed_and_the_reason(northgate, day):
    rounds = [one.model_copy(update={"speed_hz": 37.7}) if number == 0 else one for number, one in enumerate(day.rounds)]
    (said,) = above_ceiling_said(readings_of(northgate, day.model_copy(update={"rounds": rounds})))
    assert written_out(said).startswith("Round 1 (37.7 Hz) was read above the day's ceiling of speed: 25.1 Hz in every weather")
    assert "walls that leak" in said  # under which condition
    assert not [*above_ceiling_said(readings_of(northgate, day))]


def test_a_day_of_another_site_is_refused_and_what_has_no_place_is_named(steps, day):
    with pytest.raises(ValueError, match="must be one of Northgate Tower; got one of Elsewhere"):
        day_as_filled(steps.rounds, day.model_copy(update={"site": "Elsewhere"}))
    more = day.model_copy(update={"rounds": [*day.rounds, day.rounds[0].model_copy(update={"open_doors": [17]})]})
    filled, left = day_as_filled(steps.rounds, more)
    assert len(left) == 1
    assert "with doors open" in left[0]
    assert ("fan", "speed", "steady speed 3") in filled


def test_a_panel_whose_answer_takes_its_time_says_at_once_that_what_it_shows_is_old(monkeypatch):
    panel = fitted_panel()
    said = []
    monkeypatch.setattr(panel.panel.line, "say", lambda verdict, *words: said.append(verdict))
    panel.panel.refresh("day")
    assert [one.kind for one in said][:1] == ["working"]
    assert "those of the last entry" in said[0].words
    assert said[-1].kind != "working"
    said.clear()
    panel.panel.refresh("set_point_pa")  # quick: no flicker
    assert [one.kind for one in said if one.kind == "working"] == []
