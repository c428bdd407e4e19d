"""The concepts of a stair: each the site changed through its model, judged alike, ranked by criteria and fan power, nothing hidden."""

import numpy as np
import pytest
from demo_designs import site_of

from helpers.model.air.conditions import HOURS_OF_A_YEAR, conditions_of_hours, nearest_station
from helpers.model.air.fan import electric_power_w
from helpers.model.air.tower import Tower
from helpers.studies.duty.concept.airs import Concept, FirstLook, cases_asked, heated_air
from helpers.studies.duty.concept.concepts import TITLES, at_one_speed, concepts_of, supply_places, with_lobbies, with_points
from helpers.studies.duty.concept.judged import TEST_HOURS, heat_w, judge
from helpers.studies.duty.concept.study import PRICED, amounts, concept_study, parts_said
from helpers.studies.report import MOST_FAN_PA
from helpers.units.said import written_out

STILL = {name: {"outdoor_c": 21.0} for name in ("winter", "summer", "mild")}
CRITERIA = (
    "Doors shut", "Doors open", "Air through open doors", "Exits close again", "Full speed", "Loop holds", "One part failed", "Usual fan",
    "Height",
)  # fmt: skip


@pytest.fixture(scope="module")
def still(stair):
    """A stair in air of one temperature without wind, in a shaft without friction: every door sees one pressure."""
    return stair(4, weather=STILL, stair={"friction_area_m2": 500.0})


@pytest.fixture(scope="module")
def larkfield_concepts(larkfield):
    return concept_study(larkfield)


def as_it_is(site, **more):
    return Concept(**({"key": "modulated", "title": "as it is", "site": site, "moved": "", "searched": ""} | more))


def test_in_still_air_every_door_has_the_set_point_and_the_best_one_is_half_way(still):
    """By hand: least 25 Pa and most m Pa at every door leave most room at (25 + m) / 2, wherever the air enters."""
    look = FirstLook(still)
    middle = (look.window.least_pa + look.window.most_pa) / 2
    point, (past, unheld, _, less_room) = look.tuned()
    assert past == 0
    assert unheld == 0
    assert point == pytest.approx(middle, abs=1.5)
    assert -less_room == pytest.approx(min(point - 25, look.window.most_pa - point), abs=0.2)
    assert look.quick_room_pa() == pytest.approx(look.window.width_pa / 2, abs=0.5)
    found = judge(as_it_is(still.with_changes(control={"set_point_pa": point})), cases_asked(still), nearest_station(still))
    shut = [place for place, case in enumerate(found.cases) if case.shut]
    assert np.ptp(found.dp_pa[shut]) < 0.05
    assert found.dp_pa[shut] == pytest.approx(point, abs=0.1)


def test_a_set_point_that_no_speed_reaches_is_not_chosen_where_another_holds():
    """Tannery Row's relief damper keeps its loop from the upper end of its window: the fan would run at full speed for ever."""
    look = FirstLook(site_of("Tannery Row"))
    point, (past, unheld, *_) = look.tuned()
    assert past == 0
    assert unheld == 0
    assert look.held([46.0])[0][1] > 0
    assert point < 46


def test_a_set_point_that_the_stated_fan_holds_goes_before_one_with_more_room_that_it_does_not_hold_with_doors_open():
    """Tannery Row at 40 Pa: more room with all doors shut than at its own 35 Pa, and the fan at full speed with a door open."""
    look = FirstLook(site_of("Tannery Row"))
    own, not_held, chosen = (look.held([point])[0] for point in (35.0, 40.0, look.tuned()[0]))
    assert not_held[-1] < own[-1]  # less than nothing: more room
    assert not_held[2] > own[2] == chosen[2] == 0
    assert chosen[-1] <= own[-1]


def test_in_still_air_it_does_not_matter_where_the_air_enters(still):
    """Points at the bottom, at the top and everywhere take the same flow and leave the same room."""
    flows = []
    for levels in ((0,), (3,), (0, 3), (0, 1, 2, 3)):
        site = with_points(still, levels)
        found = judge(as_it_is(site), cases_asked(site), nearest_station(site))
        flows.append(found.price.shut_m3_s)
    assert flows == pytest.approx([flows[0]] * 4, rel=1e-3)


def test_a_stair_turned_upside_down_in_still_air_is_the_same_stair(stair):
    """Supply at the bottom or at the top of storeys all alike: pressures run the other way round, room and fan are the same."""
    ends = [stair(5, weather=STILL, supplies=[{"level": level}]) for level in (0, 4)]
    bottom, top = (judge(as_it_is(site), cases_asked(site), nearest_station(site)) for site in ends)
    shut = [place for place, case in enumerate(bottom.cases) if case.shut]
    assert bottom.dp_pa[shut][:, ::-1] == pytest.approx(top.dp_pa[shut], abs=0.02)
    assert bottom.price.shut_w == pytest.approx(top.price.shut_w, rel=1e-3)


def test_the_same_number_of_points_mirrored_leaves_the_same_room_in_still_air(stair):
    site = stair(5, weather=STILL)
    rooms = [FirstLook(with_points(site, levels), opened=False).quick_room_pa() for levels in ((0, 1), (3, 4))]
    assert rooms[0] == pytest.approx(rooms[1], abs=0.02)


@pytest.mark.parametrize("factor", [1.5, 3.0])
def test_more_leaks_never_take_a_smaller_fan(stair, factor):
    site = stair(4)
    leaky = site.with_changes(leakage={"stair_side_factor": factor, "facade_factor": factor})
    tight, loose = (judge(as_it_is(one), cases_asked(one), nearest_station(one)).price for one in (site, leaky))
    assert loose.flow_m3_s > tight.flow_m3_s
    assert loose.shut_m3_s > tight.shut_m3_s
    assert loose.shaft_w > tight.shaft_w


def test_a_lobby_never_takes_more_air_at_the_same_stair_pressure(stair):
    """Two doors one behind the other leak less than one: at the same speed the stair stands higher and the fan brings less."""
    site = stair(4)
    behind = with_lobbies(site)
    assert [storey.lobby for storey in behind.storeys] == [True] * 4
    plain, lobby = (Tower(one).solve(FirstLook(one, opened=False).conditions, 30.0) for one in (site, behind))
    assert (lobby.stair_pa >= plain.stair_pa - 1e-6).all()
    assert (lobby.fan_flow_m3_s <= plain.fan_flow_m3_s + 1e-9).all()


def test_a_relief_damper_before_lobbies_opens_at_twice_the_pressure(larkfield):
    changed, own = with_lobbies(larkfield).stair.relief, larkfield.stair.relief
    assert (changed.opens_pa, changed.full_pa) == (2 * own.opens_pa, 2 * own.full_pa)


def test_a_fan_at_one_speed_runs_at_that_speed_whatever_is_read(larkfield):
    site = at_one_speed(larkfield, 30.0)
    held = Tower(site).hold(FirstLook(site, opened=False).conditions, 5.0)
    assert held.air.speed_hz == pytest.approx(30.0, rel=1.1e-3)
    with pytest.raises(ValueError, match="speed_hz"):
        at_one_speed(larkfield, 0.0)


def test_heat_in_the_supply_moves_only_the_air_that_is_colder_than_the_rooms(larkfield):
    look = FirstLook(larkfield, opened=False)
    before, after = look.conditions, heated_air(look.conditions, 0.5)
    cold = before.outdoor_c < before.floor_c
    assert (after.stair_c[~cold] == before.stair_c[~cold]).all()
    floor = before.floor_c[0]
    assert after.stair_c[cold] - floor == pytest.approx((before.stair_c[cold] - floor) / 2)
    assert heated_air(before, 1.0).stair_c[cold] == pytest.approx(floor)


def test_the_heat_of_a_supply_is_its_weight_times_its_warming():
    class Cold:
        floor_c, outdoor_c = np.array([21.0, 21.0]), np.array([-9.0, 30.0])

    assert heat_w(np.array([2.0, 2.0]), np.array([1.0, 1.0]), Cold) == pytest.approx([1.2 * 2 * 1005 * 30, 0.0])


def test_the_height_is_judged_by_the_one_function_of_page_12(larkfield_concepts):
    """Two supply points are past the rule of one; where the doors' ends are apart it fails, as the record has it."""
    states = {one.concept.key: one.criteria[-1] for one in larkfield_concepts.judged}
    assert {one.title for one in states.values()} == {"Height"}
    assert states["modulated"].state == "wrong"
    assert written_out(states["modulated"].figure).startswith("38.4 m, NFPA 92's threshold 30.5 m; hand calculation 33.4 m (winter)")
    assert sorted({one.state for one in states.values()}) == ["attention", "good", "wrong"]


def test_places_for_supplies_are_the_ends_and_the_quarters_each_once():
    assert supply_places(list(range(14))) == (0, 3, 6, 10, 13)
    assert supply_places([-1, 0]) == (-1, 0)
    assert supply_places([4]) == (4,)


def test_every_concept_is_judged_by_the_same_criteria_in_the_same_cases(larkfield_concepts, larkfield):
    study = larkfield_concepts
    assert {one.concept.key for one in study.judged} | {one.key for one in study.not_there} >= set(TITLES) - {"moved"}
    for one in study.judged:
        assert tuple(criterion.title for criterion in one.criteria) == CRITERIA
        assert one.cases == cases_asked(larkfield)
        assert {case.stair for case in one.cases} == {"first minute", "after an hour"}
        assert len(study.decide(one.concept.key)) >= 2
        assert "not tried" in written_out(one.concept.searched)


def test_the_rank_is_by_limits_passed_then_by_power(larkfield_concepts):
    """Of two that pass as many limits the larger fan never stands first, and a fan that nobody sells is a limit passed."""
    ranks = [(one.failed, one.price.shaft_w) for one in larkfield_concepts.judged]
    assert ranks == sorted(ranks)
    for one in larkfield_concepts.judged:
        states = {criterion.title: criterion.state for criterion in one.criteria}
        assert (states["Usual fan"] == "wrong") == (not one.price.pressure_pa <= MOST_FAN_PA)
    assert any(one.price.pressure_pa > MOST_FAN_PA for one in larkfield_concepts.judged)
    assert [one.failed for one in larkfield_concepts.judged] == sorted(one.failed for one in larkfield_concepts.judged)
    for one, state in zip(larkfield_concepts.judged, larkfield_concepts.table().states, strict=True):
        assert (state == "wrong") == (one.failed > 0)


def test_the_cases_are_those_that_the_record_chooses_the_fan_by():
    """Tannery Row's design takes one door as open: what two doors and the street door would take is no fan to buy."""
    site = site_of("Tannery Row")
    assert {(case.open_doors, case.open_exits) for case in cases_asked(site)} == {((), ()), ((2,), ())}


def test_no_door_out_stands_under_a_pass(larkfield_concepts):
    for one in larkfield_concepts.judged:
        shut = np.array([case.shut for case in one.cases])
        states = {criterion.title: criterion.state for criterion in one.criteria}
        assert (one.room_pa[shut].min() < 0) == (states["Doors shut"] == "wrong")
        assert (one.room_pa[~shut].min() < 0) == (states["Doors open"] == "wrong")


def test_the_concepts_are_the_site_changed_and_nothing_else(larkfield):
    """A building is the same under every concept: walls, doors, weather, fan curve; only what the concept names moves."""
    kept = ("weather", "leakage", "temperatures", "altitude_m", "terrain", "standard", "design", "transmitters")
    for one in concepts_of(larkfield):
        assert all(getattr(one.site, name) == getattr(larkfield, name) for name in kept)
        assert one.site.fan.flows_m3_s == larkfield.fan.flows_m3_s
        assert (one.site.supplies == larkfield.supplies) == (one.key not in ("points", "moved"))
        assert one.heated > 0 if one.key == "heated" else one.heated == 0


def test_what_fails_first_is_out_where_it_says_and_not_a_step_before(larkfield_concepts):
    seen = 0
    for one in larkfield_concepts.judged:
        for load in one.loads:
            assert len(load.steps) == len(load.room_pa) == len(load.worst)
            if load.first:
                assert load.room_pa[load.first] < 0 <= load.room_pa[load.first - 1] + 1e-3
                assert str(load.steps[load.first]) in str(load.text())
                seen += 1
    assert seen


def test_the_hours_taken_of_a_year_stand_for_all_of_it(larkfield, larkfield_concepts):
    hours, tower = nearest_station(larkfield), Tower(larkfield_concepts.of("modulated").concept.site)
    every = conditions_of_hours(tower.site, hours.rows(np.arange(0, HOURS_OF_A_YEAR, 7)))
    whole = electric_power_w(tower, tower.hold(every).air, every).mean()
    assert larkfield_concepts.of("modulated").price.mean_w == pytest.approx(whole, rel=0.02)
    assert larkfield_concepts.of("modulated").price.energy_kwh() == pytest.approx(whole * TEST_HOURS / 1000, rel=0.02)


def test_heat_is_dear_and_counted(larkfield_concepts):
    plain, heated = (larkfield_concepts.of(key).price for key in ("modulated", "heated"))
    assert heated.heater_w > 0 == plain.heater_w
    assert heated.mean_w > plain.mean_w


def test_own_unit_prices_are_added_and_none_is_invented(larkfield_concepts):
    study = larkfield_concepts
    assert set(study.priced({}).values()) == {0.0}
    points = study.of("points")
    assert study.priced({"supply outlet": 1000.0})["points"] == 1000.0 * dict(points.concept.parts)["supply outlets"]
    assert study.priced({"fan kW": 10.0})["modulated"] == pytest.approx(study.of("modulated").price.shaft_w / 100)
    assert set(amounts(points.price)) == set(PRICED)
    with pytest.raises(ValueError, match="unit_price"):
        study.priced({"gold": 1.0})
    assert parts_said(()) == "none"


def test_a_weak_fan_is_told_and_passes_nothing_that_it_does_not_hold(stair):
    weak = stair(6, fan={"flows_m3_s": (0.0, 0.05, 0.1), "pressures_pa": (30.0, 20.0, 5.0)})
    study = concept_study(weak)
    for one in study.judged:
        states = {criterion.title: criterion.state for criterion in one.criteria}
        assert states["Doors shut"] == "wrong"
        assert states["Loop holds"] in ("wrong", "")
        assert one.price.flow_m3_s > 0.1 or one.concept.fixed  # what the stair takes, whatever fan is stated


def test_an_exhaust_fan_is_refused_in_a_sentence(stair):
    with pytest.raises(ValueError, match=r'must have a fan that supplies.*got "exhaust"'):
        concept_study(stair(4, fan={"effect": "exhaust"}))


def test_one_storey_has_no_several_points_and_lobbies_that_are_there_are_not_added(stair):
    study = concept_study(stair(1))
    assert {one.key: "one storey" in one.why for one in study.not_there} == {"points": True}
    has = with_lobbies(stair(2))
    assert with_lobbies(has) is None
    gone = [one for one in concept_study(has).not_there if one.key == "lobbies"]
    assert [one.finding.severity for one in gone] == ["open"]
    assert "has a lobby already" in gone[0].why


def test_a_european_site_is_judged_by_its_own_least_and_speed(stair):
    study = concept_study(stair(4, standard="en12101_6_2005", airflow_class="C", control={"set_point_pa": 52.0}))
    for one in study.judged:
        least, _ = one.window
        assert (least >= 50).all()
        states = {criterion.title: criterion.state for criterion in one.criteria}
        assert states["Air through open doors"] != ""


@pytest.mark.parametrize("unit", ["Pa", "in. w.c."])
def test_all_of_it_can_be_written_in_both_systems(larkfield_concepts, unit):
    study = written_out((larkfield_concepts.table(), larkfield_concepts.verdict(), larkfield_concepts.criteria_table("points")), unit)
    other = " m³/s" if unit == "in. w.c." else " cfm"
    assert other not in str(study)


def test_sixty_storeys_are_solved_and_what_has_no_answer_is_no_pass(stair):
    tall = stair(60, transmitters=[{"level": 10}, {"level": 50}])
    look = FirstLook(with_points(tall, (0, 30, 59)), opened=False)
    assert np.isfinite(look.quick_room_pa())
    found = judge(as_it_is(tall), cases_asked(tall), nearest_station(tall))
    for criterion in found.criteria:
        assert criterion.state in ("wrong", "attention", "open", "good", "")
    assert {criterion.title: criterion.state for criterion in found.criteria}["Doors shut"] == "wrong"  # by far too high for one point


def test_a_key_that_is_not_there_is_refused(larkfield_concepts):
    with pytest.raises(ValueError, match="concept must be one of"):
        larkfield_concepts.of("magic")
