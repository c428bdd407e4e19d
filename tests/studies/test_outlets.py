"""Outlets on a riser: shares by hand, which of them is told of, and that record and papers have what the branches cost."""

from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import design_for, site_of

from helpers.model.air.tower import Tower, ideal_fan
from helpers.model.files import texts
from helpers.model.site.tolerances import left_open
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.told import storeys_table
from helpers.record.sections.fan import fan_section
from helpers.studies.cases import Case, conditions_of, usual_cases
from helpers.studies.duty.fan_needed import fan_needed
from helpers.studies.duty.supply.outlets import FELT_PA, OFF, outlets_on_riser
from helpers.studies.report import Table
from helpers.units.said import written_out

RULE = "average"


def on_riser(site, area_m2, loss_pa=3.0, at_m3_s=6.0):
    riser = {"fan_level": site.supplies[-1].level, "storey_loss_pa": loss_pa, "storey_loss_flow_m3_s": at_m3_s}
    return site.with_changes(riser=riser, supplies=[{"outlet_area_m2": area_m2, "outlet_loss_coefficient": 2.4}] * len(site.supplies))


def shared(site):
    tower, cases = Tower(site), usual_cases(site)
    return outlets_on_riser(tower, cases, tower.hold(conditions_of(site, cases), rule=RULE), np.ones(len(cases), bool), RULE)


@pytest.fixture(scope="module")
def tannery():
    return site_of("Tannery Row")


def test_shares_are_those_of_the_air_and_across_is_what_drives_them(tannery):
    site = on_riser(tannery, 0.25)
    found, tower = shared(site), Tower(site)
    held = tower.hold(conditions_of(site, found.cases), rule=RULE)
    there = held.held
    assert found.held.tolist() == there.tolist()
    assert found.share[there].sum(axis=1) == pytest.approx(1.0, abs=1e-6)
    assert np.isnan(found.share[~there]).all()
    effective = 0.25 / 2.4**0.5
    mass = effective * np.sqrt(2 * np.abs(found.across_pa[there])) * np.sign(found.across_pa[there])
    assert found.share[there] == pytest.approx(mass / mass.sum(axis=1, keepdims=True), rel=5e-3)


def test_what_moves_a_door_is_the_difference_to_designed_shares(tannery):
    site = on_riser(tannery, 0.5)
    found = shared(site)
    both = [Tower(one).hold(conditions_of(tannery, found.cases), rule=RULE) for one in (site, tannery)]
    assert (both[0].held == both[1].held).all()
    apart = np.abs(both[0].air.door_dp_pa - both[1].air.door_dp_pa)[both[0].held].max()
    assert abs(found.most_moved[0]) == pytest.approx(apart, abs=1e-6)


def test_shares_far_off_that_no_door_feels_are_said_and_not_marked(tannery):
    """Tannery Row is six storeys on a wide stair: half the air may come in at either end."""
    found = shared(on_riser(tannery, 0.25))
    (finding,) = found.findings()
    assert abs(found.furthest[0]) > OFF
    assert abs(found.most_moved[0]) < FELT_PA
    assert (finding.severity, set(found.table().states)) == ("good", {"good"})
    assert "no door feels it" in finding.what


def test_costly_outlets_keep_to_their_shares(tannery):
    found = shared(on_riser(tannery, 0.06))
    (finding,) = found.findings()
    assert "keeps near to its designed share" in finding.what
    assert found.narrower is None


def test_a_tall_stair_feels_its_outlets_and_narrower_ones_are_tried(northgate):
    """Half the air at the bottom of forty storeys in winter: its doors are moved, and the remedy is told with what it did."""
    found = shared(on_riser(northgate, 0.3))
    (finding,) = found.findings()
    assert finding.severity == "attention"
    assert "attention" in found.table().states
    assert abs(found.narrower.furthest[0]) < abs(found.furthest[0])
    assert found.narrower.fan_pa > found.fan_pa
    assert f"{abs(100 * found.narrower.furthest[0]):.0f} % instead of {abs(100 * found.furthest[0]):.0f} %" in finding.remedy
    assert [one.label for one in found.figures()] == ["Riser and outlets cost", "Branches move a door by, at the most"]


def test_air_that_goes_back_into_the_riser_is_told(northgate):
    found = shared(on_riser(northgate, 1.2))
    (finding,) = found.findings()
    assert found.back
    assert finding.what == "Air goes from the stair back into the riser at an outlet"


def test_without_a_riser_there_is_nothing_to_tell(tannery):
    tower, cases = Tower(tannery), usual_cases(tannery)
    assert outlets_on_riser(tower, cases, None, None, RULE) is None
    told = dict(left_open(tannery))
    assert "shares of the fan taken as fixed, 50 %, 50 %" in told["supplies.outlet_area"]
    orifices = tannery.with_changes(
        riser={"fan_level": 5, "storey_loss_pa": 3.0, "storey_loss_flow_m3_s": 2.0}, supplies=[{"outlet_area_m2": 0.2}] * 2
    )
    told = dict(left_open(orifices))
    assert "supplies.outlet_area" not in told
    assert "storey 5, 1: no loss coefficient stated; taken as an orifice of 0.65" in told["supplies.outlet_loss_coefficient"]
    assert not [key for key, _ in left_open(on_riser(tannery, 0.2)) if key.startswith("supplies")]


@pytest.fixture(scope="module")
def quoted(tannery):
    return Quoted(design_for(on_riser(tannery, 0.25)))


def test_the_record_says_what_riser_and_outlets_cost(quoted):
    section = written_out(fan_section(quoted.design), "Pa")
    cost = next(one for one in section.figures if one.label == "Riser and outlets cost")
    assert cost.value == pytest.approx(27, abs=6)
    asked = next(one for one in section.figures if one.label == "Fan pressure asked")
    assert "stair, outlets and riser, duct loss" in asked.reason
    assert "outlets" in [table.key for table in section.tables]
    assert "Outlets are far from their designed shares, and no door feels it" in [one.what for one in section.findings]


def test_drawings_and_sequence_name_the_riser(quoted):
    rows = {row[0]: row[6] for row in written_out(storeys_table(quoted), "Pa").rows}
    assert rows["5"] == "enters, outlet 0.250 m²"
    assert rows["1"] == "fan into the riser; enters, outlet 0.250 m²"
    for words in (texts("notes")["parts"], texts("papers")["rules"]):
        asked = [one for one in words if one.get("only") == "riser"]
        assert asked
        assert all(map(quoted.has, asked))
    assert any("fan/outlets" in part.get("if_any", ()) for part in texts("analysis")["parts"])


def test_margins_in_flow_cost_their_square_in_the_branches_too(tannery):
    """With twice the air of the closed doors' leaks: what the same stair would take through outlets and riser at that flow."""
    site = on_riser(tannery, 0.1)
    tower, cases = Tower(site), [Case("winter")]
    asked = {leak: fan_needed(tower, cases, RULE, 40.0, leakage_margin=leak, duct_leak_margin=0.0) for leak in (0.0, 1.0)}
    (plain, *_), (more, *_) = (one.pressure_pa for one in asked.values())
    held = ideal_fan(tower).hold(conditions_of(site, cases, ideal_fan(tower)), 40.0, rule=RULE).air
    flow, fan = float(held.fan_flow_m3_s[0]), site.fan
    stair = (held.supply_flow_m3_s * held.stair_pa[:, tower.branches.storeys]).sum() / flow
    branches = held.duct_pa[0, tower.branches.fan_storey] - stair
    duct = fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2 * held.supply_kg_s[0] / flow / 1.2
    assert branches > 20
    assert more - plain == pytest.approx(3 * (branches + duct), rel=1e-3)


class OfTheFan:
    """What the schedules ask of a record, each line told by its own name."""

    no_fan_to_buy = no_stated_fan = ""

    def __init__(self, site):
        self.site, self.design = site, SimpleNamespace(standing=SimpleNamespace(first=lambda *parts: ""))

    def figure(self, section, label, first=""):
        return (label, f"{section}: {label}", ""), ""

    def decided(self, what, label=""):
        return (what, what, ""), ""

    def row(self, group, name, label="", first=""):
        return (label or name, name, ""), ""

    def has(self, one):
        return False  # no line of the drive's besides

    def table(self, section, key):
        return Table(key, section, ("", ""), ())


def test_the_schedule_of_the_fan_quotes_what_the_riser_costs(tannery):
    plain, riser = (schedules(OfTheFan(site)).parts[0] for site in (tannery, on_riser(tannery, 0.25)))
    assert [table.key for table in plain.tables] == ["fan"]
    assert [table.key for table in riser.tables] == ["fan", "riser", "outlets"]
    assert riser.tables[1].rows[0][1] == "fan: Riser and outlets cost"
    assert any("duct loss is of intake and duct up to the riser" in line for line in riser.lines)
