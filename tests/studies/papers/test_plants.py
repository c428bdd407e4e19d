"""Papers of a duct, a relief fan and a garage: every number stands in the record, what fails is marked, what is not written says so."""

import re
from functools import cache
from pathlib import Path

import pytest
from held_texts import record_numbers, strange

from helpers.__main__ import main
from helpers.model.answers import AnswersFile
from helpers.model.files import texts
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import SITES_FOLDER, demo_sites
from helpers.record.papers.folder import CONTENTS, Folder, lacking
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.papers import PlantQuoted, sequence
from helpers.studies.low_demand.duct_reset import reset_study
from helpers.units import SYSTEMS

RESET, DUCT, LAB, GARAGE = "Mill Street By Requests", "Mill Street Offices", "Quayside Lab", "Orchard Garage"


@pytest.fixture(autouse=True)
def _own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@cache
def design_of(name, units="Pa"):
    """The record of a plant; of the reset a shorter play of two demands, which takes a second."""
    site = read_any_site(demo_sites(None)[name])
    if name != RESET:
        return PlantDesign(site, units=units)
    made = PlantDesign(site.model_copy(update={"demand": {key: site.demand[key] for key in ("peak", "evening")}}), units=units)
    vars(made)["reset"] = reset_study(made.site, 1200.0)
    return made


@cache
def papers(name, units="Pa"):
    return {paper.key: paper for paper in Folder.of(design_of(name, units)).papers}


def unprinted(page, path, size="A4"):
    """In the place of `write_page`: the page itself, no browser that prints."""
    path.write_text(page, encoding="utf-8")
    return path


def words(paper):
    """All of a paper's texts in one."""
    return repr(paper)


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("name", [DUCT, LAB, GARAGE])
def test_every_number_of_every_paper_stands_in_the_record(name, units):
    known = record_numbers(design_of(name, units))
    assert {key: strange(paper, known) for key, paper in papers(name, units).items()} == {key: {} for key in papers(name, units)}
    pascals = re.search(r"\d Pa\b(?! \()", words(papers(name, units)))  # but for a plate that is sold in them: "500 Pa (2.00 in. w.c.)"
    assert (pascals is None) == (units != "Pa")


def test_a_reset_is_in_sequence_points_tuning_and_owners_page_with_its_numbers():
    made = papers(RESET)
    known = record_numbers(design_of(RESET))
    assert {key: strange(paper, known) for key, paper in made.items()} == {key: {} for key in made}
    state = next(part for part in made["sequence"].parts if part.title.startswith("Run, the set point reset"))
    told = " ".join(state.steps)
    assert all(figure in told for figure in ("90 Pa", "10 min", "2 min", "4 Pa", "20 Pa", "60 Pa", "230 Pa", "2 of 54 zones"))
    assert made["tuning"].parts[1].tables[0].rows[0][0] == "Lowest set point"
    names = [row[0] for row in made["points"].parts[0].tables[0].rows]
    assert {"requests", "damper position of each zone"} < set(names)
    assert names.count("set point") == 1
    assert "below the set point of the moment" in words(made["alarms"])
    assert "230 Pa" in words(made["owner"])


def test_a_plant_without_a_reset_says_so_in_one_sentence():
    for name in (DUCT, LAB, GARAGE):
        assert papers(name)["tuning"].parts[1].lines == ("Set point reset by requests: off, the set point stays.",)
        assert "requests" not in [row[0] for row in papers(name)["points"].parts[0].tables[0].rows]


@pytest.mark.parametrize("name", [RESET, LAB, GARAGE])
def test_what_a_stair_has_and_a_plant_has_not_says_so(name):
    left = next(part for part in papers(name)["sequence"].parts if part.title.startswith("Papers that a stair has"))
    assert [line.partition(":")[0] for line in left.lines] == [
        "Cause and effect matrix", "Rational analysis report", "Drawing notes by storey", "Procedure of a test day with doors and forces",
    ]  # fmt: skip


def test_a_stop_of_a_garage_without_leave_fails_where_it_is_programmed():
    made = papers(GARAGE)
    states = made["sequence"].parts[0].tables[0]
    marks = dict(zip((row[0] for row in states.rows), states.states, strict=True))
    assert marks["Stopped for low demand"] == "wrong"
    assert marks["Run, the loop holds its reading"] == "attention"  # set point low in the range
    assert "FAIL: on, do not enter" in words(made["owner"])
    assert "leave" in [row[1] for part in made["enquiry"].parts for table in part.tables for row in table.rows]
    ways = made["sequence"].parts[0].tables[1]
    assert "FAIL" in next(row for row in ways.rows if row[0] == "Stopped for low demand")[1]  # its start lets the gas past its most
    assert (
        lacking(made["sequence"]).fails == 9
    )  # the state, the way into it, its four ways out, what its rush comes to, and two other ways of a stop


def test_a_dead_wire_that_nobody_sees_heads_the_ducts_papers():
    stamp = Folder.of(design_of(DUCT)).stamp
    assert stamp.state.startswith("DRAFT")
    assert "cannot be told from no pressure" in stamp.fails[0]
    assert Folder.of(design_of(RESET)).stamp.fails == ()


def test_an_answer_stands_in_place_of_an_open_line():
    given = {"question": "fire alarm", "answer": "it stops", "by": "authority", "date": "2026-05-04"}
    file = {"kind": "answers", "name": "May", "invented": True, "site": "Orchard Garage", "answers": [given]}
    made = {paper.key: paper for paper in Folder.of(design_of(GARAGE), AnswersFile.model_validate(file)).papers}
    assert "it stops, as answered by authority, 2026-05-04" in words(made["schedules"])
    assert "it stops" in words(made["enquiry"])


def test_the_command_writes_a_plants_folder_and_leaves_it_the_second_time(capsys, monkeypatch):
    monkeypatch.setattr(
        "helpers.record.papers.folder.Printer.write", lambda self, page, path: path.write_text(page, encoding="utf-8") and path
    )
    file = str(SITES_FOLDER / "orchard_garage.toml")
    assert main(["papers", file]) == 3  # written, and a draft: its record fails in something
    folder = Path("records") / "orchard_garage_papers"
    assert {path.suffix for path in folder.iterdir()} == {".md", ".html", ".xlsx", ".pdf", ".toml"}
    assert "07_owner" in (folder / CONTENTS).read_text(encoding="utf-8")
    assert main(["papers", file]) == 2
    assert "holds papers already" in capsys.readouterr().err


def test_a_plants_record_from_the_command_line(capsys, monkeypatch):
    monkeypatch.setattr("helpers.plots.printer.write_page", unprinted)
    assert main(["record", str(SITES_FOLDER / "orchard_garage.toml"), "--rule", "average"]) == 3
    assert {path.name for path in Path("records").iterdir()} == {"orchard_garage_record.html", "orchard_garage_record.pdf"}
    said = capsys.readouterr().out
    assert "FAIL" in said  # the average hides the level with the queue
    assert "What the loop holds" in Path("records/orchard_garage_record.html").read_text(encoding="utf-8")


def test_a_lost_reading_starts_a_garages_fan_and_no_other_that_is_shut():
    ranks = papers(GARAGE)["sequence"].parts[0].steps
    order = ("a gas alarm", "a lost reading", "the schedule or the plant's off switch", "a stop for low demand")
    places = [next(place for place, step in enumerate(ranks) if step.startswith(words)) for words in order]
    assert places == sorted(places)
    for name in (DUCT, RESET, LAB):
        first, *others = papers(name)["sequence"].parts
        off, lost = (next(place for place, step in enumerate(first.steps) if step.startswith(words))
                     for words in ("the schedule or the plant's off switch", "a lost reading"))  # fmt: skip
        assert off < lost
        assert "while run is ordered" in first.steps[lost]
        state = next(part for part in others if part.title == "A reading lost")
        assert "Fan: run, while run is ordered" in state.lines[0]
        assert any("the fan stays off" in step for step in state.steps)


def test_a_duct_has_a_high_limit_of_its_own_in_every_paper_and_half_a_limit_says_so():
    made = papers(DUCT)
    assert [key for key in made if "high limit" in words(made[key]) or "high-limit switch" in words(made[key])] == [
        "sequence", "points", "alarms", "schedules", "tuning", "enquiry", "owner"]  # fmt: skip
    lost = next(table for part in made["sequence"].parts for table in part.tables if table.key == "lost")
    assert all("no upper limit is stated" in row[-1] for row in lost.rows if "has" not in row[-1])
    assert any("no upper limit is stated" in row[-1] for row in lost.rows)
    assert "high-limit" not in words(papers(GARAGE)["sequence"])


def test_a_gas_alarm_is_live_with_the_fan_in_every_state_and_orders_it_to_its_highest_speed():
    made = papers(GARAGE)
    alarms = made["alarms"].parts[0].tables[0]
    of_gas = [(row, state) for row, state in zip(alarms.rows, alarms.states, strict=True) if row[0] in ("CO-1", "CO-2", "CO-3")]
    assert len(of_gas) == 3
    for row, state in of_gas:
        assert row[3].startswith("always: fan stopped, off, in MANUAL, tripped, isolated or fallen back too")
        assert "orders the fan to 50 Hz" in row[4]
        assert row[5] == "alarm"
        assert state == "open"  # its wait and who resets it are to be agreed
    waits = {row[0]: row[3] for row in alarms.rows}
    assert (
        waits["difference of any two readings"]
        == waits["fan speed"]
        == "while the loop gives the speed, in AUTO; its wait begins anew with that"
    )
    assert "it starts nothing" not in words(made["sequence"])
    assert "it starts nothing" in words(papers(LAB)["sequence"])
    state = next(part for part in made["sequence"].parts if part.title == "Gas alarm")
    assert "Speed: 50 Hz" in state.lines[0]
    names = {row[0] for row in made["points"].parts[0].tables[0].rows}
    assert {"gas alarm", "gas alarm sounders and lights", "reset of a gas alarm"} <= names


def test_a_garages_wall_says_that_gas_kills_and_a_ducts_has_its_boxes():
    assert Folder.of(design_of(GARAGE)).stamp.caution.startswith("Life safety: gas kills without smell")
    owner = papers(GARAGE)["owner"]
    assert "gas kills without smell" in owner.parts[0].cautions[0]
    assert "that room's box" not in words(owner)
    assert "somebody goes short" not in words(owner)
    assert "that room's box" in words(papers(DUCT)["owner"])
    assert "high limit" not in words(papers(LAB)["sequence"]) + words(papers(GARAGE)["sequence"])
    assert "no air is moved" not in words(papers(LAB)["owner"])


@pytest.mark.parametrize("name", [DUCT, RESET, LAB, GARAGE])
def test_every_state_has_a_way_out_and_one_table_names_them(name):
    states, ways = papers(name)["sequence"].parts[0].tables
    titles = [row[0] for row in states.rows]
    assert list(dict.fromkeys(row[0] for row in ways.rows)) == titles
    assert {row[2] for row in ways.rows} <= {*titles, "the list of priorities, from the top"}


def test_a_state_without_a_way_out_is_refused(monkeypatch):
    told = texts("plant_papers")
    bare = [one | {"ends": []} if one["key"] == "manual" else one for one in told["states"]]
    monkeypatch.setattr("helpers.record.plants.papers.texts", lambda name: told | {"states": bare})
    with pytest.raises(ValueError, match="state must have a way out that leads to a state of this plant; got 'manual'"):
        sequence(PlantQuoted(design_of(LAB)))


@pytest.mark.parametrize("name", [DUCT, LAB, GARAGE])
def test_what_is_to_be_agreed_is_not_yet_in_points_and_alarms(name):
    for key in ("points", "alarms"):
        (table,) = papers(name)[key].parts[0].tables
        agreed = [state for row, state in zip(table.rows, table.states, strict=True) if any("to be agreed, see" in cell for cell in row)]
        assert agreed
        assert set(agreed) <= {"open", "attention", "wrong"}
    fails = {row[0]: row[6] for row in papers(name)["points"].parts[0].tables[0].rows}
    assert fails["fan run command"] == fails["speed command"]
    assert "dead controller; until then: " in fails["fan run command"]


def test_a_wire_that_breaks_unseen_has_one_verdict_in_state_table_and_alarm():
    made = papers(DUCT)
    first = made["sequence"].parts[0].tables[0]
    assert dict(zip((row[0] for row in first.rows), first.states, strict=True))["A reading lost"] == "wrong"
    alarms = made["alarms"].parts[0].tables[0]
    row, state = next((row, state) for row, state in zip(alarms.rows, alarms.states, strict=True) if row[0] == "PDT-1 north, signal failed")
    assert state == "wrong"
    assert row[2:4] == ("it never comes", "never")
    assert "the loop takes the fan to 50.0 Hz" in row[4]
    assert "wire" not in next(part for part in papers(RESET)["sequence"].parts if part.title == "A reading lost").steps[-2]


def test_the_file_of_answers_bears_the_number_of_the_list():
    made = Folder.of(design_of(GARAGE))
    assert made.answers_file == "06_enquiry_answers.toml"
    assert made.answers_file in words(papers(GARAGE)["enquiry"])
    assert papers(GARAGE)["enquiry"].number == 6


def test_what_the_order_ranks_is_a_point():
    names = {row[0] for row in papers(DUCT)["points"].parts[0].tables[0].rows}
    assert {"isolator closed", "mains at the drive", "drive tripped", "duct high-limit switch", "fire alarm", "drive in manual", "schedule",
            "call from the rooms or a clock", "reset of a lost reading"} <= names  # fmt: skip


def test_a_garages_stop_that_fails_fails_whole_in_every_way_out_and_is_for_information_alone():
    quoted = PlantQuoted(design_of(GARAGE))
    assert all("FAIL" in quoted.setting("low demand", name).value for name in ("low-demand stop", "stop below", "restart"))
    paper = sequence(quoted)
    (ways,) = (table for part in paper.parts for table in part.tables if table.key == "ways")
    marks = {row: mark for row, mark in zip(ways.rows, ways.states, strict=True)}
    of_stop = {row for row in marks if "Stopped for low demand" in (row[0], row[2])}
    assert of_stop
    assert {marks[row] for row in of_stop} == {"wrong"}
    assert {mark for row, mark in marks.items() if row[0] == "Gas alarm"} == {""}  # what is not optional stays to be entered
    (stop,) = (part for part in paper.parts if part.title == "Stopped for low demand")
    assert "for information, do not enter" in stop.lines[0]


def test_a_garage_in_manual_is_cleared_of_people_and_somebody_puts_it_to_auto():
    (page,) = (paper for paper in Folder.of(design_of(GARAGE)).papers if paper.key == "owner")
    (row,) = (row for part in page.parts for table in part.tables for row in table.rows if row[0] == "drive in MANUAL")
    assert "no gas alarm starts it" in row[1]
    assert all(words in row[2] for words in ("building manager", "people out", "AUTO"))


def test_without_the_mains_a_gas_alarm_is_counted_on_only_when_its_supply_is_agreed():
    made = papers(GARAGE)
    first = made["sequence"].parts[0].tables[0]
    assert dict(zip((row[0] for row in first.rows), first.states, strict=True))["Gas alarm"] == "open"
    trip = next(part for part in made["sequence"].parts if part.title.startswith("Drive tripped"))
    assert any("on a supply of its own alone: to be agreed, see the enquiry list" in step for step in trip.steps)
    assert "on a supply of its own alone" in words(made["owner"])
    (live,) = (row[3] for row in made["alarms"].parts[0].tables[0].rows if row[0] == "CO-1")
    assert live.endswith("without the mains on a supply of its own alone")
    given = {"question": "gas alarm", "answer": "batteries for a day", "by": "authority", "date": "2026-05-04"}
    file = {"kind": "answers", "name": "May", "invented": True, "site": "Orchard Garage", "answers": [given]}
    answered = {paper.key: paper for paper in Folder.of(design_of(GARAGE), AnswersFile.model_validate(file)).papers}
    trip = next(part for part in answered["sequence"].parts if part.title.startswith("Drive tripped"))
    assert any("batteries for a day" in step for step in trip.steps)


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        (GARAGE, ("test gas", "mains off", "garage empty")),
        (DUCT, ("against a gauge", "hand pump", "one wire off")),
        (LAB, ("against a gauge", "one wire off")),
    ],
)
def test_owners_yearly_rows_are_those_of_the_plant(name, asked):
    (table,) = (table for part in papers(name)["owner"].parts for table in part.tables if table.key == "tests")
    yearly = " ".join(row[1] for row in table.rows if "year" in row[0])
    assert all(one in yearly for one in asked)
    assert ("gauge" in yearly) != ("test gas" in yearly)
    assert "isolated and locked out" in yearly


@pytest.mark.parametrize("name", [DUCT, RESET, LAB, GARAGE])
def test_nobody_is_sent_to_a_plant_in_a_fire(name):
    told = texts("papers")["said"]["in a fire"]
    fire = next(part for part in papers(name)["sequence"].parts if part.title == "Fire alarm")
    assert any(told in step for step in fire.steps)
    assert told in words(papers(name)["owner"])


def test_a_point_and_its_alarm_have_one_class_and_one_wait():
    for name, rings in ((GARAGE, "alarm; trouble where its signal fails"), (DUCT, "trouble where its signal fails; else supervisory")):
        rows = papers(name)["points"].parts[0].tables[0].rows
        assert {row[7] for row in rows if row[0] in [tap.name for tap in design_of(name).site.transmitters]} == {rings}
    (gas,) = (row for row in papers(GARAGE)["points"].parts[0].tables[0].rows if row[0] == "gas alarm")
    assert "60 s on end" in gas[8]
    alarms = {row[0]: row[1] for row in papers(GARAGE)["alarms"].parts[0].tables[0].rows}
    assert alarms["fan run proof"] == "stopped while run is commanded"
    assert not any(rings.startswith("not ") for rings in alarms.values())


def test_three_levels_of_gas_are_told_apart():
    (levels,) = (line for line in design_of(GARAGE).lines if line.name == "three levels of gas")
    assert levels.value == "25 ppm the set point, entered in the loop alone; 35 ppm the alarm, entered in the alarm alone"
    assert levels.why.startswith("30 ppm")
    assert levels.value in words(papers(GARAGE)["sequence"])


def test_what_a_programmer_had_to_guess_is_said():
    garage, reset = (words(papers(name)["sequence"]) for name in (GARAGE, RESET))
    for told in (garage, reset):
        assert "first order, with this time constant" in told  # which filter, where, and what it begins with
        assert "a reset does nothing while any signal is outside its band" in told.lower()
        assert "any other state sets it to zero" in told  # where the timers of a stop begin
        assert "While a call is there the fan is not stopped" in told
        assert "follows neither run nor speed command" in told  # the controller's outputs in MANUAL
    assert "every reading is below its limit and none is latched as lost" in garage
    assert "the first time when this state begins" in reset
    assert "it forgets where the set point stood" in reset
    assert "an alarm that somebody acts on" not in reset  # no point stands for it


@pytest.mark.parametrize(("name", "rings"), [(GARAGE, "at its highest"), (RESET, "at its highest"), (DUCT, "at its lowest or highest")])
def test_the_alarm_on_an_end_of_the_speed_leaves_out_an_end_at_which_the_loop_rests(name, rings):
    bench, (row,) = design_of(name).bench, [row for row in papers(name)["alarms"].parts[0].tables[0].rows if row[0] == "fan speed"]
    assert row[1] == f"the loop's output {rings} for 10 min on end"
    assert ("at lowest speed" in bench.held.state) == (name == GARAGE)
    assert ("night and nobody asks" in row[-1]) == (name == GARAGE)


def test_a_garages_papers_say_which_gas_alone_is_read_and_ask_for_the_others():
    made = papers(GARAGE)
    assert "What is read: carbon monoxide alone" in words(made["sequence"])
    assert "other gases" in [row[1] for part in made["enquiry"].parts for table in part.tables for row in table.rows]
    assert "other gases" not in words(papers(LAB)["enquiry"])


@pytest.mark.parametrize("name", [DUCT, RESET, LAB, GARAGE])
def test_a_point_with_a_class_of_alarm_has_its_row_in_the_alarm_list(name):
    made = papers(name)
    alarms = {row[0] for row in made["alarms"].parts[0].tables[0].rows}
    rung = {row[0] for row in made["points"].parts[0].tables[0].rows if row[7] != "none"}
    assert rung - alarms <= {"gas alarm"}  # which is that of each reading
    assert ("requests" in alarms) == (name == RESET)
    assert not any("{" in cell for row in made["alarms"].parts[0].tables[0].rows for cell in row)


def test_two_powers_at_one_set_point_differ_because_zones_throttle_and_both_tables_say_so():
    made = design_of(RESET)
    held = {case.name: power for case, power in zip(made.bench.cases, made.bench.held.power_w, strict=True)}
    assert all(power < held[name] for name, power in zip(made.reset.demands, made.reset.fixed.power_w, strict=True))
    tables = {table.key: table.note for part in papers(RESET)["sequence"].parts for table in part.tables}
    assert "the same set point takes less power there" in tables["held"]
    assert "less power than with the boxes as far open as the demand has them" in tables["demands"]
    plain = {table.key: table.note for part in papers(DUCT)["sequence"].parts for table in part.tables}
    assert "throttle" not in plain["held"]  # without a reset there is no second table
