"""The panel of the main job: what the sliders say is what the model is asked, and what the record is made of."""

import io
import re

import numpy as np
import pytest
from demo_designs import design_as_filed
from drawn import drawn
from PIL import Image

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.design import DesignPanel, levels_typed
from helpers.plots.charts import EXIT
from helpers.studies.cases import Case
from helpers.studies.readings.rules import allowed_pressures, compare_rules
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, Typed


@pytest.fixture(scope="module")
def one_desk():
    """Made once for all tests of the file, with what its controls hold as it opens."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        patch.setattr("helpers.pages.design.Design", design_as_filed)
        desk = DesignPanel()
        yield desk, held(desk)


@pytest.fixture
def desk(one_desk):
    """As it opens, whatever the test before has moved."""
    desk, opened = one_desk
    UNITS.system = "Pa"
    now = held(desk)
    if moved := {name: value for name, value in opened.items() if now[name] != value}:
        desk.panel.put(**moved)
    assert held(desk) == opened
    return desk


def held(desk):
    """What the controls hold, entries as they were typed."""
    return {name: control.text if isinstance(control, Typed) else control.value for name, control in controls(desk).items()}


def controls(desk):
    return desk.panel.controls


def test_at_first_everything_stands_as_in_the_site_file(desk):
    site = read_site(demo_sites()["Larkfield House"])
    assert desk.site.control == site.control
    assert desk.site.transmitters == site.transmitters
    assert desk.site.weather["winter"].outdoor_c == site.weather["winter"].outdoor_c


def test_the_verdict_is_that_of_the_model(desk):
    site = read_site(demo_sites()["Larkfield House"])
    result = compare_rules(Tower(site), allowed_pressures(site), [Case("now")], rules=(site.control.rule,)).results[0]
    assert written_out(result.case_text(0))[1:] in desk.panel.verdict.words


@pytest.mark.parametrize(
    ("name", "value", "asked"),
    [
        ("set_point_pa", 33.0, lambda site: site.control.set_point_pa),
        ("outdoor_c", -20.0, lambda site: site.weather["winter"].outdoor_c),
        ("wind_speed_m_s", 9.0, lambda site: site.weather["winter"].wind_speed_m_s),
        ("stair_c", 3.0, lambda site: site.weather["winter"].stair_c),
        ("tap_0", 5, lambda site: site.transmitters[0].level),
    ],
)
def test_every_slider_reaches_the_model_and_moves_the_picture(desk, name, value, asked):
    before = desk.panel.picture.image.value
    controls(desk)[name].value = value
    assert asked(desk.site) == value
    assert desk.panel.picture.image.value != before


def test_the_lowest_reading_gives_the_top_door_more_than_the_highest_in_winter(desk):
    tops = {}
    for rule in ("lowest", "highest"):
        controls(desk)["rule"].value = f"{rule} reading"
        tops[rule] = drawn(desk.panel.picture, "later")[0].get_xdata()[-1]
    assert tops["lowest"] > tops["highest"] + 5


def test_choosing_a_weather_sets_its_sliders(desk):
    controls(desk)["weather"].value = "summer"
    site = read_site(demo_sites()["Larkfield House"])
    assert controls(desk)["outdoor_c"].value == site.weather["summer"].outdoor_c
    assert controls(desk)["stair_c"].value == site.weather["summer"].stair_c


@pytest.mark.parametrize(
    ("levels", "kind"),
    [((6, 7), "wrong"), ((8, 9), "attention")],  # those that the design takes as open at once it has to hold
)
def test_open_doors_are_marked_and_judged_as_a_matter_for_the_local_code_unless_the_design_names_them(desk, levels, kind):
    named = desk.bench.site.design
    assert (levels == tuple(named.open_doors)) == (kind == "wrong")
    controls(desk)["set_point_pa"].value = 15.0  # too little: no door is too heavy
    controls(desk)["open_doors"].text = ", ".join(map(str, levels))
    controls(desk)["open_exit"].value = True
    assert desk.panel.verdict.kind == kind
    assert "doors outside" in desk.panel.verdict.words
    assert ("Not a case of the design: " in desk.panel.verdict.words) == (kind == "attention")
    assert len(drawn(desk.panel.picture, "open")[0].get_ydata()) == 2
    assert desk.record_view().design.cases[-1].open_doors == levels


def test_a_door_that_cannot_be_opened_fails_whatever_doors_are_open(desk):
    controls(desk)["open_doors"].text = "1"
    assert desk.panel.verdict.kind == "wrong"
    assert "86.3 Pa" in desk.panel.verdict.words
    assert "Not a case of the design, and FAIL all the same" in desk.panel.verdict.words


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        ("sixth", "write storeys as whole numbers"),
        ("6.5", "write storeys as whole numbers"),
        ("99", "storey 99 has none; stair doors are on storeys 0 to 13"),
        ("-1", "storey -1 has none"),
    ],
)
def test_a_storey_that_is_not_there_gets_its_sentence_and_the_record_keeps_the_last_good_entry(desk, entry, sentence):
    before = desk.panel.picture.image.value
    controls(desk)["open_doors"].text = entry
    assert desk.panel.verdict.kind == "entry"
    assert sentence in desk.panel.verdict.words
    assert (desk.panel.picture.image.value, controls(desk)["open_doors"].text) == (before, entry)
    assert "it would be 2 of " in desk.record_view().summary()._repr_mimebundle_()["text/plain"]


def test_levels_are_read_with_commas_blanks_or_semicolons_and_once_each():
    assert levels_typed(" 6, 7;7  8 ") == (6, 7, 8)
    assert levels_typed("") == ()


def test_a_site_file_that_is_not_there_or_wrong_is_told_and_changes_nothing(desk, tmp_path):
    controls(desk)["file"].text = str(tmp_path / "nowhere.toml")
    assert "nowhere.toml" in desk.panel.verdict.words
    assert desk.site.name == "Larkfield House"
    good = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(good.replace('altitude = "60 m"', 'altitude = "60 Pa"'), encoding="utf-8")
    controls(desk)["file"].text = str(tmp_path / "mine.toml")
    assert "altitude" in desk.panel.verdict.words
    assert "which is a pressure" in desk.panel.verdict.words


def test_a_site_file_of_ones_own_takes_the_bench(desk, tmp_path):
    good = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(good.replace('name = "Larkfield House"', 'name = "Mill House <b>"'), encoding="utf-8")
    controls(desk)["file"].text = str(tmp_path / "mine.toml")
    assert desk.site.name == "Mill House <b>"
    assert desk.panel.verdict.kind != "entry"


def test_the_picker_leads_back_from_a_file_of_ones_own_and_the_path_stays_typed(desk, tmp_path):
    good = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(good.replace('name = "Larkfield House"', 'name = "Mill House"'), encoding="utf-8")
    controls(desk)["file"].text = str(tmp_path / "mine.toml")
    controls(desk)["name"].value = "Northgate Tower"
    assert desk.site.name == "Northgate Tower"
    assert controls(desk)["file"].text == str(tmp_path / "mine.toml")


def test_a_weighted_site_can_be_tried_with_every_other_rule(desk, tmp_path):
    good = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    weighted = re.sub(r'^rule = "\w+".*$', 'rule = "weighted"\nweights = [0.3, 0.7]', good, flags=re.MULTILINE)
    (tmp_path / "mine.toml").write_text(weighted, encoding="utf-8")
    controls(desk)["file"].text = str(tmp_path / "mine.toml")
    kinds = {}
    for rule in ("weighted", "average", "lowest", "weighted"):
        controls(desk)["rule"].value = f"{rule} reading"
        kinds[rule] = desk.panel.verdict.kind, desk.site.control.rule
    assert {rule: used for rule, (_, used) in kinds.items()} == {rule: rule for rule in kinds}
    assert "entry" not in {kind for kind, _ in kinds.values()}


def test_another_site_brings_its_own_transmitters_rules_and_weather(desk):
    assert not controls(desk)["tap_2"].shown
    controls(desk)["name"].value = "Northgate Tower"
    assert desk.site.name == "Northgate Tower"
    assert (controls(desk)["tap_2"].shown, controls(desk)["tap_3"].shown) == (True, False)
    assert controls(desk)["tap_2"].value == 35
    assert "middle reading" in dict(controls(desk)["rule"].inner._options_full)


def test_the_unit_switch_turns_sliders_axes_verdict_and_record(desk):
    view = desk.record_view()
    window = view.verdict("window")
    UNITS.system = "in. w.c."
    assert controls(desk)["set_point_pa"].inner.description == "Set point [in. w.c.]"
    assert "[in. w.c.]" in desk.panel.picture.words
    assert "cfm" in desk.panel.verdict.words
    assert "in. w.c." in window.widget.value
    assert desk.site.control.set_point_pa == 40.0


@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower"])
def test_no_letter_of_the_panels_picture_is_cut_off_in_either_system(desk, name):
    controls(desk)["name"].value = name
    for system in SYSTEMS:
        UNITS.system = system
        pixels = np.asarray(Image.open(io.BytesIO(desk.panel.picture.image.value)).convert("L"))
        assert np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]]).min() > 200


def test_a_view_that_was_replaced_follows_the_switch_no_longer(desk):
    old = desk.record_view().verdict("window")
    before = old.widget.value
    desk.record_view()
    UNITS.system = "in. w.c."
    assert old.widget.value == before


def test_a_record_asked_for_again_is_studied_anew_only_after_a_move(desk):
    design = desk.record_view().design
    assert desk.record_view().design is design
    controls(desk)["set_point_pa"].value = 33.0
    moved = desk.record_view().design
    assert moved is not design
    assert moved.site.control.set_point_pa == 33.0
    controls(desk)["open_doors"].text = "6"
    assert desk.record_view().design.cases[-1].open_doors == (6,)


def test_a_stair_in_order_as_stated_is_not_passed_where_its_first_minute_is_out(desk):
    desk.panel.put(weather="winter", set_point_pa=40.0)
    verdict = desk.panel.verdict
    assert verdict.kind == "wrong"
    assert "In the first minute, the stair as warm as the rooms" in verdict.words
    reason, as_it_stands = verdict.words.split("As the sliders have it")
    assert reason.startswith("In the first minute")
    assert "outside, worst stair door 0" in reason
    assert "every shut door inside its window" in as_it_stands


def test_the_door_that_makes_the_verdict_has_its_cross(desk):
    desk.panel.put(weather="winter", set_point_pa=40.0)
    (crosses,) = drawn(desk.panel.picture, "out")
    assert len(drawn(desk.panel.picture, "open")) == 3  # one a profile
    assert len(crosses.get_xdata()) == 2  # of the first minute: as the sliders have it no door is out
    assert "first minute: set point controlled" in desk.panel.picture.words


def test_under_the_headline_of_one_case_stands_what_the_board_counts_in_all_of_them(desk):
    """One case 3 Pa short stands over a board of many FAIL: nobody may take the one for the worst."""
    desk.panel.put(weather="winter", set_point_pa=40.0)
    assert "all cases" not in desk.panel.verdict.case
    board = desk.record_board()
    failed = sum(finding.severity == "wrong" for finding in board.view.record.findings)
    assert failed > 5
    assert desk.panel.verdict.case.endswith(f"; record: {failed} FAIL")
    desk.panel.put(set_point_pa=41.0)
    assert "all cases" not in desk.panel.verdict.case
    board.refresh()
    assert re.search(r"; record: \d+ FAIL$", desk.panel.verdict.case)
    desk.board = None
    desk.panel.put(set_point_pa=40.0)


def test_each_tile_says_its_status_where_it_is_no_pass(desk):
    desk.panel.put(weather="winter", set_point_pa=40.0)
    assert [what for what, *_ in desk.panel.verdict.tiles] == ["Stair door 13, CHECK", "Stair door 0, FAIL", "Hand, door 13, CHECK"]


def test_a_cross_is_seen_through_the_final_exits_square():
    assert EXIT.face == "none"


def test_an_own_file_of_the_records_is_opened_from_the_list_and_a_broken_one_says_why(desk, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = demo_sites()["Tannery Row"].read_text(encoding="utf-8").replace('"Tannery Row"', '"Own row"')
    (tmp_path / "records").mkdir()
    (tmp_path / "records" / "row.toml").write_text(text, encoding="utf-8")
    (tmp_path / "records" / "bad.toml").write_text(text.replace('"2.9 m"', '"2.9"'), encoding="utf-8")
    sites = controls(desk)["name"]
    sites.look_again()
    sites.value = "Own row (records/row.toml)"
    assert desk.site.name == "Own row"
    sites.value = next(words for words in sites.files if words.startswith("records/bad.toml: not readable"))
    assert "height: must be a length" in desk.panel.verdict.words
    assert desk.site.name == "Own row"
