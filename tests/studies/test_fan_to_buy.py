"""The fan to buy: from what the stair asks for, whatever fan the file states; and a site that nothing can be bought for says so first."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, low_rise, site_of

from helpers.model.air.tower import Tower
from helpers.record.board import _fan, _motor, _with_stated_fan, board_of
from helpers.record.design import Design
from helpers.record.sections.time import placement_section
from helpers.record.standing import CHOSEN, FAN
from helpers.studies.cases import Case, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.fan_duty import Duty, fan_duty
from helpers.studies.duty.fan_needed import WRONG_WAY
from helpers.studies.readings.rules import compare_rules
from helpers.studies.report import NO_FAN_GIVES, BoardLine
from helpers.units.said import written_out

SYSTEMS = ("Pa", "in. w.c.")


def duty_of(site, cases=None):
    tower, window = Tower(site), pressure_window(site)
    return fan_duty(tower, window, compare_rules(tower, window, cases or usual_cases(site)), site.control.rule)


def with_fan(site, share=1.0, highest_hz=50.0):
    """The same building with a fan of so many times the flow, and another highest speed."""
    return site.with_changes(fan={"flows_m3_s": tuple(share * flow for flow in site.fan.flows_m3_s), "highest_speed_hz": highest_hz})


@pytest.fixture(scope="module")
def low():
    """For whole records, in which no count of storeys is asked for."""
    return low_rise()


@pytest.fixture(scope="module")
def as_filed(larkfield):
    return duty_of(larkfield).needed


def test_the_boards_fan_and_motor_have_the_status_of_the_sentences_beside_them(larkfield, as_filed):
    """A fan that is barred is not "the one stated", and a motor too small for the fan to buy is no PASS."""
    duty = replace(duty_of(larkfield), needed=as_filed, inside=True, motor_power_w=50e3)
    held = replace(as_filed, held_hz=np.full(len(as_filed.cases), 30.0), margin_hz=np.full(len(as_filed.cases), 40.0))
    kept = replace(duty, needed=held, state=np.full(len(duty.cases), "held"))
    barred = replace(kept, full=replace(kept.full, room_pa=np.full(len(kept.cases), -1.0), safe_hz=np.nan))
    assert barred.barred
    line = _fan(barred)
    assert (line.status, line.value) == ("wrong", "none to keep or buy yet")
    assert line.why.startswith("No fan is to be kept or bought yet")
    short = replace(kept, needed=replace(held, margin_hz=np.full(len(held.cases), 90.0)))
    assert _fan(short).status == "attention"
    for plate_w, status, words in ((50e3, "attention", "is for the fan stated"), (held.shaft_power_w / 2, "wrong", "is too small for it")):
        motor = replace(short, motor_power_w=plate_w, full_shaft_power_w=np.full(len(held.cases), 10.0))
        assert _motor(motor).status == status
        assert words in _motor(motor).why
        assert "the fan to buy takes" in _motor(motor).value
    assert _motor(kept).status == "open"  # as `barred`: none to keep or buy yet
    free = replace(kept, full=replace(kept.full, room_pa=np.full(len(kept.cases), np.inf)))
    assert (_fan(free).status, _motor(free).status) == ("good", "good")
    none_yet = _motor(kept, "first the set point")
    assert (none_yet.status, none_yet.why.startswith("No fan is chosen yet, first the set point")) == ("open", True)


def test_a_damper_that_opens_below_the_least_of_the_doors_comes_before_any_fan(larkfield):
    low = larkfield.with_changes(stair={"relief": {"opens_pa": 20.0, "full_pa": 30.0}})
    duty = duty_of(low, [Case("winter, doors shut", "winter")])
    first = next(iter(duty.findings()))
    assert (first.severity, first.what, first.key) == ("wrong", "The relief damper opens below the least that the doors ask for", "damper")
    assert written_out(first.figure) == "opens from 20 Pa, least 25 Pa"
    assert written_out(duty.said()).startswith("No fan is to be chosen yet: first the damper: one that opens well above 25 Pa")
    assert all(one.caused_by == "damper" for one in duty.findings() if one.severity == "wrong" and one.what.startswith("Not enough"))


def test_what_no_fan_can_give_names_what_comes_first_and_no_figure_to_buy_by(as_filed):
    """Transmitters beside the doors that the design opens: they move. A duct that takes most of the pressure: a larger duct."""
    count = len(as_filed.cases)
    huge = replace(as_filed, pressure_pa=np.full(count, 263814.0), duct_pa=np.full(count, 260000.0), beside=np.full(count, True))
    assert written_out(huge._asked()).startswith(
        "a pressure that is more than a usual fan gives: they end at 2500 Pa, above it air's density changes in them"
    )
    beyond = replace(as_filed, pressure_pa=np.full(count, 9435.0))  # no duct and no door to blame
    assert not beyond.usual
    told = [beyond._asked(), *(cell for row in beyond.table().rows for cell in row), beyond.short_text(beyond.worst)]
    assert not any("9435" in cell or "7862" in cell for cell in written_out(told))
    assert written_out(beyond._asked()).endswith("first several supply points; else another concept")
    assert "263814" not in written_out(huge.said()) + written_out(next(iter(huge.findings())).remedy)
    assert huge.first.startswith("move the transmitters")
    assert huge.said(inside=False).startswith("No fan is to be chosen yet: first move the transmitters")
    duct = replace(as_filed, pressure_pa=np.full(count, 1053.0), duct_pa=np.full(count, 1012.0))
    assert written_out(duct._asked()).endswith("first a larger duct: it takes 1012 Pa of that")
    assert not replace(duct, duct_pa=np.full(count, 200.0)).first
    taken = replace(huge, beside=np.full(count, False), duct_pa=np.full(count, 200000.0))
    assert taken.first == "a larger duct: it takes more than a usual fan gives"
    asked = SimpleNamespace(holds=False, damper_first=(), said=lambda: "")
    assert written_out(_fan(SimpleNamespace(needed=huge, **vars(asked))).value) == "no usual fan: first move the transmitters"
    assert written_out(_fan(SimpleNamespace(needed=duct, **vars(asked))).value).endswith("Pa: first a larger duct")


def test_the_ducts_share_is_that_of_the_square_law(larkfield, as_filed):
    fan = larkfield.fan
    square = fan.duct_loss_pa * (as_filed.flow_m3_s / fan.duct_loss_flow_m3_s) ** 2 * as_filed.density_ratio
    np.testing.assert_allclose(as_filed.duct_pa, square)
    assert (as_filed.duct_pa < as_filed.pressure_pa).all()


@pytest.mark.parametrize("share", [0.2, 0.4, 0.7, 1.0, 1.6, 3.0])
@pytest.mark.parametrize("highest_hz", [50.0, 60.0])
def test_a_weaker_fan_in_the_file_never_makes_the_fan_to_buy_smaller(larkfield, as_filed, share, highest_hz):
    needed = duty_of(with_fan(larkfield, share, highest_hz)).needed
    np.testing.assert_allclose(needed.flow_m3_s, as_filed.flow_m3_s, rtol=1e-5)
    np.testing.assert_allclose(needed.pressure_pa, as_filed.pressure_pa, rtol=1e-4)


@pytest.mark.parametrize("share", [0.2, 3.0])
def test_several_outlets_ask_for_the_same_fan_whatever_the_file_states(northgate, share):
    ours, other = duty_of(northgate).needed, duty_of(with_fan(northgate, share, northgate.fan.highest_speed_hz)).needed
    np.testing.assert_allclose(other.flow_m3_s, ours.flow_m3_s, rtol=1e-4)
    np.testing.assert_allclose(other.pressure_pa, ours.pressure_pa, rtol=1e-3)


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_fan_of_a_fifth_is_not_enough_and_nothing_is_bought(larkfield, system):
    record = design_for(with_fan(larkfield, 0.2)).record(system)
    told = " ".join([record.headline, *all_texts(record)])
    assert record.summary[0].startswith("No fan is to be chosen yet: first the set point")
    assert not re.search(r"\bbuy\b", told, re.IGNORECASE)
    assert any(finding.severity == "wrong" and finding.what.startswith("Not enough") for finding in record.section("fan").findings)


def test_what_the_stair_takes_is_what_a_strong_enough_fan_gives_at_the_set_point(larkfield):
    strong = duty_of(with_fan(larkfield, 3.0, 60.0))
    assert (strong.state == "held").all()
    np.testing.assert_allclose(strong.needed.taken_m3_s[: len(strong.cases)], strong.flow_m3_s, rtol=1e-4)


def test_margins_go_on_the_leaks_and_on_the_duct_and_not_on_the_open_doorway(larkfield, as_filed):
    shut = np.array([case.shut for case in as_filed.cases])
    np.testing.assert_allclose(as_filed.flow_m3_s[shut], 1.5 * 1.15 * as_filed.taken_m3_s[shut], rtol=1e-9)
    opened = ~shut
    assert (as_filed.flow_m3_s[opened] < 1.5 * 1.15 * as_filed.taken_m3_s[opened]).all()
    assert (as_filed.flow_m3_s[opened] > 1.15 * as_filed.taken_m3_s[opened]).all()
    assert "not verified" in as_filed.source


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_record_names_the_fan_it_was_computed_with_and_its_margin_to_every_case(larkfield_design, system):
    section = larkfield_design.section("fan", system)
    table = next(table for table in section.tables if table.key == "fan_needed")
    assert len(table.rows) == len(larkfield_design.duty.needed.cases)
    assert "the fan stated" in section.verdict.lower()
    assert all(row[-1] for row in table.rows)


def test_a_stair_that_no_fan_can_hold_is_told_so(larkfield):
    beside = larkfield.with_changes(transmitters=[{"level": 6}, {"level": 7}])  # both beside the doors that stand open
    needed = duty_of(beside, usual_cases(beside, open_doors=(6, 7))).needed
    assert not needed.reached.all() or needed.flow_m3_s.max() > 10


@pytest.fixture(scope="module", params=[500.0, 99.6])
def other_range(low, request):
    """A design whose file states another range than the one to buy."""
    return design_for(low.with_changes(transmitters=[{"range_high_pa": request.param}] * 2))


@pytest.mark.parametrize("system", SYSTEMS)
def test_one_transmitter_range_goes_through_the_whole_record(other_range, system):
    """As it would be typed in: summary, schedule, injection rows, gain, display."""
    bought, stated = other_range.range.chosen, other_range.range.stated
    record = other_range.record(system)
    assert {(tap.range_low_pa, tap.range_high_pa) for tap in other_range.built.transmitters} == {(bought.low_pa, bought.high_pa)}
    for row in other_range.injection.rows:
        for percent, value in zip(row.percents, row.readings_pa, strict=True):
            if value is not None and 0 <= percent <= 100:
                assert value == pytest.approx(bought.low_pa + percent / 100 * bought.span_pa)
    assert other_range.tuning.span_pa == bought.span_pa
    ends = [found for text in all_texts(record, leave_out=("ranges", "choices")) for found in ends_in(text)]
    assert ends
    for (low, high), text in ends:
        assert (low is None, high is None) != (True, True)
        assert low is None or low == pytest.approx(bought.low_pa, abs=0.6), text
        assert high is None or high in (pytest.approx(bought.high_pa, rel=0.006), pytest.approx(bought.span_pa, rel=0.006)), text
    if bought != stated:
        told = " ".join(record.section("settings").notes)
        assert written_out(stated.text(), system) in told
        assert ("in place of" in told) == other_range.standing.stands


def ends_in(text):
    """(low, high) [Pa] of every range, span and display's end that a text speaks of; None for an end that it does not name."""
    text = re.sub(
        r"file's own span of .*|range stated.*|from .*|[Ss]ite file states .*|ordering new ones .*", "", text
    )  # what the file states, told as such
    number, unit = r"(-?\d+(?:\.\d+)?)", r"(Pa|in\. w\.c\.)"
    scale = {"Pa": 1.0, "in. w.c.": 249.0889}
    for high, label in re.findall(rf"span of {number} {unit}", text) + re.findall(rf"{number} {unit} at 20 mA", text):
        yield (None, float(high) * scale[label]), text
    for low, label in re.findall(rf"{number} {unit} at 4 mA", text):
        yield (float(low) * scale[label], None), text
    if re.search(r"stands for|[Tt]ransmitter|[Rr]ange", text):
        for low, high, label in re.findall(rf"{number} to {number} {unit}", text):
            yield (float(low) * scale[label], float(high) * scale[label]), text


def all_texts(record, leave_out=()):
    """Every text of a record."""
    yield from record.summary
    for section in record.sections:
        yield section.verdict
        yield from section.notes
        yield from (" ".join((one.label, one.text, one.reason)) for one in section.figures)
        yield from (" ".join((one.what, one.figure, one.why, one.remedy)) for one in section.findings)
        for table in section.tables:
            if table.key not in leave_out:
                yield from (" | ".join(row) for row in table.rows)


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_site_whose_doors_suit_no_pressure_says_so_first_and_recommends_nothing(larkfield, system):
    site = larkfield.with_changes(doors={"flat landing": {"minimum_dp_pa": 80.0}})
    assert not pressure_window(site).feasible
    record = design_for(site).record(system)
    assert record.summary[0].startswith("No pressure suits the doors")
    assert len(record.summary) == 2
    assert re.search("closer|leaf", record.summary[1])
    every = " ".join(all_texts(record))
    for word in (r"\bbuy\b", r"\bgain of\b", r"^set the", "works with"):
        assert not re.search(word, every, re.IGNORECASE), word
    assert record.findings[0].severity == "wrong"


def test_a_record_is_never_written_under_the_name_of_another_kind_of_file(larkfield_design, tmp_path):
    from helpers.pages.record.views import RecordView

    view = RecordView(larkfield_design)
    for name in ("x.xlsx", "x.txt", "x"):
        with pytest.raises(ValueError, match=r"must end in \.html or \.pdf"):
            view.export(tmp_path / name)
        assert not (tmp_path / name).exists()
    view.close()


def test_what_no_model_knows_of_drive_intake_and_power_is_on_a_check_list_that_is_not_yet_done(larkfield_design):
    table = next(table for table in larkfield_design.section("fan").tables if table.key == "drive_checks")
    told = " ".join(" ".join(row) for row in table.rows)
    for words in ("Override of the drive's trips", "counter", "Flying start", "intake", "Standby power", "Smoke detector in the supply"):
        assert words in told
    assert set(table.states) == {"open"}
    assert all(row[-1] == "" for row in table.rows)


def test_a_set_point_that_leaves_a_door_outside_is_never_told_to_be_set(larkfield):
    design = design_for(larkfield, set_point=20.0)
    (line,) = [line for line in design.record().summary if "reading held at 20 Pa" in line]
    assert line.startswith("FAIL: ")
    assert not any(line.startswith("Set the ") for line in design.record().summary)


def test_an_exhaust_fan_that_is_to_hold_more_than_nothing_is_told_which_way_it_moves_the_air(larkfield):
    site = larkfield.with_changes(fan={"effect": "exhaust"}, control={"action": "direct"}, stair={"relief": None})
    record = design_for(site).record()
    assert "no fan of any size holds the set point" in record.summary[0]
    assert "it moves the air the other way" in record.summary[0]
    assert "First a fan that moves the air the other way ([fan] effect in the site file)" in record.summary[0]
    stated = design_for(larkfield.with_changes(fan={"effect": "exhaust"}, stair={"relief": None}))
    (action,) = [one for one in stated.section("action").findings if one.severity == "wrong"]
    assert action.remedy.startswith("first a fan that moves the air the other way")  # with it the action stated holds
    assert action.caused_by == "fan"
    (finding,) = [one for one in record.section("fan").findings if one.what.startswith("Not enough")]
    assert finding.remedy == WRONG_WAY


def test_a_pressure_that_no_usual_fan_gives_is_said_to_be_one(larkfield):
    narrow = larkfield.with_changes(fan={"duct_loss_pa": 3000.0})
    needed = duty_of(narrow).needed
    assert needed.pressure_pa.max() > 2500
    assert "a pressure that is more than a usual fan gives: they end at 2500 Pa" in written_out(needed.said())
    assert NO_FAN_GIVES not in written_out(duty_of(larkfield).needed.said())


@pytest.mark.parametrize(("effect", "sign"), [("supply", 1), ("exhaust", -1)])
def test_the_fan_to_buy_is_asked_for_in_standard_air_too_as_its_catalogue_has_it(larkfield, effect, sign):
    # By hand: the barometric formula gives 72.9 % of the pressure at sea level for 2600 m; a fan's pressure goes with the density.
    # An exhaust fan takes in the stair's air, between that of the rooms and outdoors.
    wide = [{"range_low_pa": -100.0}] * len(larkfield.transmitters)
    moved = {"fan": {"effect": effect}, "control": {"set_point_pa": sign * 40.0}, "transmitters": wide}
    high = larkfield.with_changes(altitude_m=2600.0, **moved)
    needed = duty_of(high).needed
    place = needed.steepest
    inlet_c = high.weather[needed.cases[place].weather].outdoor_c if sign > 0 else 18.0
    ratio = 0.729 * 1.204 / 1.2 * 293.15 / (273.15 + inlet_c)
    assert needed.standard_pa[place] == pytest.approx(needed.pressure_pa[place] / ratio, rel=0.02 if sign > 0 else 0.06)
    said = f"against {needed.standard_pa[place]:.0f} Pa on its catalogue curve at the highest speed that it runs at in smoke control ("
    assert f"{said}standard air, 1.2" in written_out(needed.duty_text())
    assert needed.pressure_pa[place] < needed.standard_pa[place]
    assert f"in the air of {needed.cases[place].name}, " in written_out(needed.duty_text())
    assert "lb/ft³" in written_out(needed.duty_text(), "in. w.c.")


def test_no_fan_is_bought_for_a_set_point_that_leaves_a_door_outside(low):
    site = low.with_changes(design={"open_exits": ()}, control={"set_point_pa": 25.0})
    record = design_for(site).record()
    assert record.summary[0].startswith("No fan is to be chosen yet: ")
    assert not any(re.search(r"\bbuy\b", text, re.IGNORECASE) for text in (record.headline, *all_texts(record)))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("share", [0.2, 3.0])
def test_what_is_asked_reads_the_same_whatever_fan_the_file_states(larkfield, as_filed, share, system):
    assert written_out(duty_of(with_fan(larkfield, share, 60.0)).needed.duty_text(), system) == written_out(as_filed.duty_text(), system)


def test_a_share_of_nothing_against_nothing_is_a_fail(larkfield):
    design = Design(with_fan(larkfield, 0.05), drawn=20)
    assert design.placement.best.inside == 0
    (finding,) = written_out(placement_section(design)).findings
    assert finding.severity == "wrong"
    assert finding.what == "In the site's own weathers no place or rule tried keeps every door inside its window"


@pytest.mark.parametrize(("standard", "told"), [("nfpa92", "NFPA 92 4.4.2.1.5"), ("en12101_6_2005", "see what EN 12101-6 takes as open")])
def test_open_doors_that_the_file_does_not_state_are_asked_for_by_the_sites_own_standard(larkfield, standard, told):
    needed = duty_of(larkfield.with_changes(standard=standard, design={"open_doors": (), "open_exits": ()})).needed
    (finding,) = (one for one in needed.findings() if "does not state which doors" in one.what)
    assert told in finding.why
    assert ("NFPA" in finding.why) == (standard == "nfpa92")


def test_a_fan_that_moves_the_air_the_other_way_is_one_finding_and_no_case_is_told_by_itself(larkfield):
    exhaust = larkfield.with_changes(fan={"effect": "exhaust"}, control={"set_point_pa": 60.0, "action": "direct"})
    duty = duty_of(exhaust)
    told = [one for one in duty.findings() if one.severity == "wrong"]
    assert [one.key for one in told if one.caused_by != "fan"] == ["fan"]
    assert not any("slow enough" in one.what or "rest on one" in one.what for one in told)
    assert {duty.short_key(place) for place in range(len(duty.cases))} == {"fan"}


def test_cases_that_a_weak_fan_does_not_hold_are_one_finding_by_the_worst_of_them(larkfield):
    duty = duty_of(with_fan(larkfield, 0.3, 50.0))
    short = [one for one in duty.findings() if "cannot hold the set point" in one.what]
    lost = [place for place in range(len(duty.cases)) if duty.state[place] == "at full speed"]
    assert len(lost) > len(short) == len({one.key for one in short})
    worst = min(lost, key=lambda place: duty.reading_pa[place])
    assert any(duty.cases[worst].name in one.what for one in short)


@pytest.fixture(scope="module")
def small_fan():
    """A stair whose damper, highest speed and doors suit with the fan stated, and whose fan is too small for an open door."""
    return design_for(with_fan(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS), 0.4, site_of("Tannery Row").fan.highest_speed_hz))


def test_no_line_that_hangs_on_the_fan_passes_before_a_fan_is_chosen(small_fan):
    """With another fan the doors stand elsewhere: what the one stated does is no PASS of a stair whose fan is still to be bought."""
    board = written_out(board_of(small_fan), "Pa")
    lines = {line.what.partition(",")[0]: line for line in (*board.buy, *board.set, *board.check)}
    assert lines["Fan"].status == "wrong"
    for name in ("Highest speed", "Lowest", "Highest"):
        assert (lines[name].status, lines[name].value) == ("open", "not laid down"), name
    assert "not laid down: first a fan that is enough; with the fan stated 41 Pa" in lines["Highest"].why
    assert lines["Relief damper"].status in ("open", "wrong")


def test_with_a_fan_that_stands_the_same_lines_pass():
    board = board_of(design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)))
    lines = {line.what.partition(",")[0]: line.status for line in (*board.buy, *board.set, *board.check)}
    assert {lines[name] for name in ("Fan", "Relief damper", "Highest speed", "Lowest", "Highest")} == {"good"}


def test_a_fan_of_which_it_is_open_whether_it_is_kept_passes_no_line_either(monkeypatch):
    design, line = (
        design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)),
        BoardLine("good", "Relief damper", "one", "as stated"),
    )
    assert (design.standing.first(FAN, CHOSEN), _with_stated_fan(design, line)) == ("", line)
    monkeypatch.setattr(Duty, "fan_open", True)
    assert design.standing.first(FAN) == ""
    told = _with_stated_fan(design, line)
    assert (told.status, told.why) == ("open", "not laid down: first the choice of a fan; with the fan stated one; as stated")
    assert _with_stated_fan(design, replace(line, status="wrong")).status == "wrong"  # past a limit it stays
