"""Two kinds of stair doors on one storey: the worst of both is judged and named, the wider one is the one that stands open."""

import pytest
from demo_designs import site_of

from helpers.formulas.doors import opening_force, pressure_tolerated
from helpers.model.air.tower import Tower
from helpers.model.site.file import read_site_text, write_site
from helpers.model.site.form import SiteForm
from helpers.plots.stair_section import stair_section
from helpers.record.papers.told import storeys_table
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.open import door_speed
from helpers.studies.doors.window import pressure_window

SERVICE = {"width_m": 1.2, "closer_force_n": 60.0, "force_limit_n": 100.0, "minimum_dp_pa": 30.0}


@pytest.fixture(scope="module")
def site():
    plain = site_of("Larkfield House")
    doors = {"service landing": dict(plain.doors["flat landing"]) | SERVICE}
    return plain.with_changes(doors=doors, storeys=[{"other_stair_doors": {"service landing": 2}} if at == 4 else {} for at in range(14)])


def test_the_file_and_the_form_keep_both_kinds(site):
    text = write_site(site)
    assert 'other_stair_doors = {"service landing" = 2}' in text
    assert read_site_text(text) == site
    form = SiteForm(text)
    item = next(item for item, table in form.tables("storeys").items() if "other_stair_doors" in table)
    assert form.answer("storeys", item, "other_stair_doors") == "service landing: 2"
    form.rename("doors", "service landing", "goods landing")
    form.put("storeys", item, "other_stair_doors", "goods landing: 3")
    assert read_site_text(form.text()).storeys[4].other_stair_doors == {"goods landing": 3}
    assert "Further stair doors, goods landing: 3, on 4." in stair_section(form)[1]
    form.put("storeys", item, "other_stair_doors", "goods landing")
    assert any("must be a table of kinds of doors with their number" in sentence for _, sentence in form.mistakes())


def test_the_storey_is_judged_at_the_worst_of_both_and_named(site):
    window, door = pressure_window(site), site.doors["service landing"]
    (there,) = [one for one in window.doors if one.use == "stair door" and 4 in one.levels]
    assert (there.door, there.levels, there.beside) == ("service landing", (4,), ("flat landing",))
    assert there.least_pa == 30.0
    assert there.most_pa == pytest.approx(float(pressure_tolerated(100.0, 1.2, 2.1, 60.0, 0.07)))
    assert "'flat landing', bears no less" in there.reason("most")
    assert site.hardest_stair_door(site.storeys[4]) == "service landing"
    assert window.most is there
    columns = DoorColumns(Tower(site), window)
    assert [column.text for column in columns.columns if column.level == 4] == ["stair door 4 (service landing)"]
    assert float(opening_force(there.most_pa, *door.leaf)) == pytest.approx(100.0)


def test_each_end_may_be_of_another_kind(site):
    easy = site.with_changes(doors={"flat landing": {"minimum_dp_pa": 35.0}})
    (there,) = [one for one in pressure_window(easy).doors if one.use == "stair door" and 4 in one.levels]
    assert (there.door, there.least_pa) == ("service landing", 35.0)
    assert "door 'flat landing' on the same storey" in there.reason("least")
    assert there.stated.least_pa == 35.0


def test_the_wider_of_both_stands_open(site):
    tower, case = Tower(site), Case("", "winter", open_doors=(4,))
    rows = conditions_of(site, [case])
    air = tower.hold(rows).air
    assert site.opening_stair_door(site.storeys[4]) == "service landing"
    dp = air.door_dp_pa[0, 4]
    density = 1.204 * 293.15 / (273.15 + (21 + float(rows.stair_c[0].mean())) / 2)
    assert door_speed(tower, air, rows, 0, 4) == pytest.approx(0.65 * (2 * dp / density) ** 0.5, rel=0.02)
    narrow = site.with_changes(doors={"service landing": {"width_m": 0.8}})
    assert narrow.opening_stair_door(narrow.storeys[4]) == "flat landing"


def test_the_drawing_notes_list_both(site):
    rows = {row[0]: row for row in storeys_table(type("Quoted", (), {"site": site})).rows}
    assert "flat landing and 2 x service landing" in rows["4"]
