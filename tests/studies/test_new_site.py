"""A site file from some answers: it reads back, its comments explain every key, and what cannot be is told by the question."""

import contextlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site, read_site_text
from helpers.model.site.tolerances import boxes, filled_in
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.new_site import QUESTIONS, new_site_text, write_new_site


def test_the_usual_answers_are_the_demo_site():
    made = read_site_text(new_site_text({}))
    unknown = {"response_s": None}
    demo = read_site(demo_sites()["Larkfield House"]).with_changes(
        transmitters=[unknown, unknown], doors={"street": {"closing_share": None, "latch_force_n": None}}, control={"integral_stops": None}
    )
    assert made.storeys == demo.storeys
    assert made.doors == demo.doors
    assert made.transmitters == demo.transmitters
    assert made.control == demo.control
    assert not made.invented


def test_what_nobody_answered_of_the_loop_is_a_box_and_not_the_demo_sites_figure():
    made = read_site_text(new_site_text({}))
    known = boxes(made)
    assert not any(known[key].stated for key in known if key.startswith(("transmitters", "control", "fan", "design", "standby", "doors")))
    assert (made.fan.brake, made.fan.ramp_down_s, made.standby, made.design) == (None, None, None, None)
    assert any("Inertia of wheel and motor: not stated" in sentence for sentence in filled_in(made))


def test_a_house_of_three_storeys_comes_out_of_the_answers():
    made = read_site_text(new_site_text({"top": "2", "high_level": "2"}))
    assert len(made.storeys) == 3


def test_every_comment_of_the_demo_file_is_still_there():
    before = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    after = new_site_text({"name": "A" * 60, "height": "9.84 ft", "range_high": "0.5 in. w.c."})
    for line in before.splitlines():
        if "#" in line and not line.startswith("#"):
            assert line[line.index("#") :] in after


@pytest.mark.parametrize(
    ("answers", "look", "value"),
    [
        ({"top": "8", "high_level": "7"}, lambda site: len(site.storeys), 9),
        ({"top": "8", "high_level": "7"}, lambda site: site.supplies[0].level, 8),
        ({"height": "10 ft"}, lambda site: site.storeys[3].height_m, 3.048),
        ({"ground_height": "5 m"}, lambda site: site.storeys[0].height_m, 5.0),
        ({"closer_force": "18 lbf"}, lambda site: site.doors["flat landing"].closer_force_n, 80.068),
        ({"winter": "14 °F"}, lambda site: site.weather["winter"].outdoor_c, -10.0),
        ({"shut_off": "900 Pa", "most_flow": "10 m3/s"}, lambda site: (site.fan.pressures_pa[0], site.fan.flows_m3_s[-1]), (900.0, 10.0)),
        ({"signal": "2-10 V"}, lambda site: {tap.signal for tap in site.transmitters}, {"2-10 V"}),
        ({"standard": "en12101_6_2005"}, lambda site: site.standard, "en12101_6_2005"),
        ({"smoke": "no"}, lambda site: site.control.fire_mode, False),
        ({"lowest": "-2"}, lambda site: [storey.facade_m2[0] for storey in site.storeys[:3]], [0.0, 0.0, 74.5]),
        ({"vents": "1 ft2"}, lambda site: site.storeys[3].extra_leak_m2, 0.0929),
        (
            {"lobby": "yes", "low_side": "lobby"},
            lambda site: (site.storeys[4].lobby_door, site.transmitters[1].reference),
            ("flat landing", "lobby"),
        ),
        ({"lift_doors": "2"}, lambda site: (site.storeys[4].lift_door, site.lift.plan_area_m2), ("lift landing", 16.0)),
        (
            {"door_height": "7 ft", "door_gaps": "0.22 ft2"},
            lambda site: (site.doors["flat landing"].height_m, site.doors["flat landing"].leak_area_m2),
            (2.1336, 0.02043866),
        ),
        ({"closing_share": "60 %"}, lambda site: site.doors["street"].closing_share, 0.6),
        ({"open_doors": "5, 6", "open_exits": "0"}, lambda site: (site.design.open_doors, site.design.open_exits), ((5, 6), (0,))),
        ({"open_doors": "none"}, lambda site: (site.design.open_doors, site.design.open_exits), ((), ())),
        (
            {"air_enters": "0, 6, 13"},
            lambda site: [(one.level, round(one.share, 6)) for one in site.supplies],
            [(0, 0.333333), (6, 0.333333), (13, 0.333333)],
        ),
        ({"standby": "generator"}, lambda site: (site.standby.source, site.standby.start_s), ("generator", None)),
        ({"accuracy": "0.5 %"}, lambda site: {tap.accuracy_percent_span for tap in site.transmitters}, {0.5}),
        (
            {"response": "0.2 s", "damping": "0.4 s"},
            lambda site: [(tap.response_s, tap.damping_s) for tap in site.transmitters],
            [(0.2, 0.4), (0.2, 0.4)],
        ),
        ({"name": 'Haus "Am Ring" \\ 5'}, lambda site: site.name, 'Haus "Am Ring" \\ 5'),
    ],
)
def test_an_answer_is_in_the_site(answers, look, value):
    found = look(read_site_text(new_site_text(answers)))
    numbers = isinstance(value, float) or (isinstance(value, tuple) and all(isinstance(one, float) for one in value))
    assert found == (pytest.approx(value, rel=1e-4) if numbers else value)


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        ({"height": "3"}, "Floor to floor must be a length with its unit"),
        ({"winter": "-9 Pa"}, "Winter, outdoors must be a temperature"),
        ({"top": "many"}, "Topmost storey .*: must be a whole number"),
        ({"top": "0"}, "Topmost storey: must be 1 or more"),
        ({"rule": "loudest"}, "must be one of average, lowest, highest"),
        ({"lowest": "1"}, "Lowest storey: must be 0 or below"),
        (
            {"air_enters": "roof"},
            "Air enters the stair on storeys: must be storeys, each once, such as 13, or 0, 6, 13, or top; got 'roof'",
        ),
        ({"air_enters": "none"}, "Air enters the stair on storeys: must be storeys"),
        ({"air_enters": "13, 13"}, "each once"),
        ({"open_doors": "all"}, "Stair doors the design takes as open: must be storeys, each once, such as 6, 7 or none"),
        ({"open_doors": "77"}, r"line \d+, \[design\]"),
        ({"low_side": "lobby"}, "lobby"),
        ({"lift_doors": "two"}, "Lift doors on a storey: must be a whole number"),
        ({"smoke": "perhaps"}, "Fan serves smoke control: must be one of yes, no"),
        ({"damping": "little"}, "damping at the dial must be a time"),
        ({"name": " "}, "Name of the building: must not be empty"),
        ({"most_flow": "0 m3/s"}, "must be above zero"),
        ({"colour": "blue"}, "answers must be to"),
        ({"floor_area": "9,800 ft2"}, r"Floor area of a storey .*a comma is not read: write 9800, or 9\.800 with a decimal point"),
        ({"height": "2,9 m"}, "write a decimal point and no comma"),
        ({"top": "3"}, r"line \d+, \[\[transmitters\]\] number 2, level: must be a storey"),
        ({"set_point": "300 Pa"}, r"line \d+, \[control\] set_point: must lie in the range"),
    ],
)
def test_what_cannot_be_is_told_by_question_or_by_line(answers, sentence):
    with pytest.raises(ValueError, match=sentence):
        new_site_text(answers)


def test_every_answer_that_cannot_be_read_is_told_at_once():
    with pytest.raises(ValueError, match=r"Floor area of a storey must be .*; Winter, outdoors must be "):
        new_site_text({"floor_area": "9,800 ft2", "winter": "cold"})


def test_a_file_is_never_written_over(tmp_path):
    path = write_new_site({}, tmp_path / "mine.toml")
    before = path.read_text(encoding="utf-8")
    with pytest.raises(ValueError, match="is there already and is left as it is"):
        write_new_site({"name": "Other"}, path)
    assert path.read_text(encoding="utf-8") == before
    assert read_site(path).name == "My building"


@pytest.mark.parametrize(("path", "sentence"), [("mine.txt", "must end in .toml"), ("no/mine.toml", "can be written")])
def test_a_path_that_cannot_be_gets_a_sentence(tmp_path, path, sentence):
    with pytest.raises(ValueError, match=sentence):
        write_new_site({}, tmp_path / path)


@given(st.sampled_from([question.key for question in QUESTIONS]), st.text(max_size=40))
@settings(max_examples=150, derandomize=True, deadline=None)
def test_whatever_is_typed_gives_a_site_or_a_sentence(key, text):
    made = None
    with contextlib.suppress(ValueError):  # a refusal is a sentence, and what is refused elsewhere is tested above
        made = new_site_text({key: text})
    if made is not None:
        read_site_text(made)


HOTEL = {
    "top": "11", "lowest": "-2", "high_level": "10", "lobby": "yes", "low_side": "lobby", "lift_doors": "2", "air_enters": "1, 5, 10",
    "open_doors": "5", "open_exits": "0", "damping": "0.2 s", "response": "0.1 s", "standby": "generator", "closing_share": "0.6",
    "most_flow": "14 m3/s", "shut_off": "900 Pa",
}  # fmt: skip


def test_a_hotel_with_basements_lobbies_lifts_and_three_inlets_is_a_site_that_is_solved_and_every_answer_is_in_it():
    """What was not asked for once: with one inlet at the top it got a fan of half the size."""
    text = new_site_text(HOTEL)
    site = read_site_text(text)
    assert [storey.level for storey in site.storeys] == list(range(-2, 12))
    tower = Tower(site)
    air = tower.hold(conditions_of(site, usual_cases(site)[:2])).air
    assert air.converged.all()
    assert np.isfinite(air.door_dp_pa).all()
    told = " ".join(filled_in(site))
    assert "damping: not stated" not in told
    assert "Doors that the design takes as open at once: not stated" not in told
    assert "Standby power: not stated" not in told


def test_each_question_is_on_the_list_of_what_is_asked_and_never_on_that_of_what_is_not():
    """Where the air enters, basements, lobbies, lifts, vents, door gaps and height, low side, accuracy, standard, smoke control, ..."""
    asked = {question.key for question in QUESTIONS}
    assert asked >= {
        "air_enters", "lowest", "lobby", "lift_doors", "vents", "door_gaps", "door_height", "low_side", "accuracy", "standard", "smoke",
        "damping", "response", "closing_share", "standby", "open_doors", "open_exits",
    }  # fmt: skip
    assert len(asked) == len(QUESTIONS)


def test_what_of_the_building_decides_the_least_pressure_is_asked_and_stays_open_until_answered():
    keys = ("sprinklers", "building_code_adopted", "ceiling_height_m", "airflow_class")
    left, answered = (
        read_site_text(new_site_text(answers))
        for answers in ({}, {"sprinklers": "yes", "building_code": "no", "ceiling": "9 ft", "airflow_class": "B"})
    )
    assert [getattr(left, key) for key in keys] == [None] * 4
    assert [getattr(answered, key) for key in keys] == [True, False, pytest.approx(2.7432), "B"]
    told = " ".join(filled_in(left))
    assert "Sprinklers: not stated" in told
    assert "not stated whether it is adopted" in told
