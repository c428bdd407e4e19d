"""The papers of a stair with a second pressurised shaft: its tables, schedule lines and questions, and that others have none of them."""

import pytest
from demo_designs import FEW_DRAWN

from helpers.model.files import texts
from helpers.record.design import Design
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.told import Teller
from helpers.units.said import written_out

OF_THE_SITE = "built", "tower", "built_tower", "_sections"
LIFT = {
    "kind": "lift", "friction_area_m2": 4.0, "wall_m2": 30.0, "door": "flat landing", "most_dp_pa": 62.0,
    "fan": {"level": 1, "fixed_flow_m3_s": 1.0},
}  # fmt: skip


@pytest.fixture(scope="module")
def alone(design_named):
    """The stair on which all is laid down, and the keys of what is asked of it."""
    quoted = Quoted(design_named("all laid down"))
    return quoted, {question.key for question in questions_of(quoted)}


@pytest.fixture(scope="module")
def with_lift(alone):
    """The same with a lift shaft beside it: all studies and sections but those asked here are those of the stair alone."""
    design = alone[0].design
    copy = Design(design.site.with_changes(second_shaft=LIFT), drawn=FEW_DRAWN)
    vars(copy).update({name: value for name, value in vars(design).items() if name not in {*vars(copy), *OF_THE_SITE}})
    copy._sections = {
        key: section for key, section in design._sections.items() if "fan" not in (key, *key) and "settings" not in (key, *key)
    }
    return Quoted(copy)


def test_the_record_has_both_tables_and_the_analysis_quotes_them(with_lift):
    section = with_lift.design.section("fan")
    assert {"both_shafts", "shaft_doors"} <= {table.key for table in section.tables}
    assert any("doors of the lift shaft" in written_out(one.what) for one in section.findings)
    told = next(part for part in texts("analysis")["parts"] if part["title"].startswith("HVAC"))
    tables = {table.key for table in Teller(with_lift).part(told).tables}
    assert {"both_shafts", "shaft_doors"} <= tables


def test_the_fan_schedule_has_the_second_shaft_and_its_fan(with_lift):
    rows = {row[0]: row[1] for row in schedules(with_lift).parts[0].tables[0].rows}
    assert written_out(rows["Second pressurised shaft"]) == "the lift shaft, its air enters at storey 1"
    assert written_out(rows["Second shaft's fan"]) == "a fixed flow, 1.00 m³/s"


def test_what_the_file_leaves_out_of_it_is_asked_and_whether_there_is_one_is_not(with_lift):
    keys = {question.key for question in questions_of(with_lift)}
    assert {"second_shaft.fan.stuck_open_leak", "second_shaft.outdoor_share"} <= keys
    assert "other shafts" not in keys


def test_a_stair_alone_has_no_word_of_it_but_the_question(alone):
    one, keys = alone
    assert "other shafts" in keys
    assert not {key for key in keys if key.startswith("second_shaft")}
    assert not {"both_shafts", "shaft_doors"} & {table.key for table in one.design.section("fan").tables}
    assert "Second pressurised shaft" not in {row[0] for row in schedules(one).parts[0].tables[0].rows}
