"""The fault bench: cases from seeds, checks for minutes, a judgement, a good hand's way."""

import re
from itertools import permutations

import numpy as np
import pytest

from helpers.fault_bench import faulty_loop
from helpers.fault_bench.case import Visit, case_of, draw_case, proof, signs
from helpers.fault_bench.checks import BY_HAND_HZ, CHECKS, HAND_HZ, MINUTES
from helpers.fault_bench.diagnosis import CONCLUSIONS
from helpers.fault_bench.faults import CURES, FAULTS, LEVELS, PLAIN, faults_at, left_after
from helpers.fault_bench.faulty_loop import FAULTS as RIGGED
from helpers.fault_bench.faulty_loop import MODES
from helpers.fault_bench.judge import best_path, judge, left_of
from helpers.model.air.tower import Tower
from helpers.plots.plot import Line
from helpers.studies.cases import usual_cases
from helpers.studies.duty.full_speed import full_speed
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.readings.rules import allowed_pressures
from helpers.units.said import written_out

FIRE, EVERYDAY = MODES
SEED = 7
SINGLE = sorted({need for conclusion in CONCLUSIONS if len(conclusion.needs) == 1 for need in conclusion.needs}, key=str)
HARD = faults_at(LEVELS[1], EVERYDAY)


@pytest.fixture(scope="module")
def proofs():
    """For every fault in one seat of the everyday mode, and some in the fire mode: its case, what a proof costs, its looks, and the
    complaint, asked for while the loop is still kept."""
    chosen = {EVERYDAY: HARD, FIRE: faults_at(LEVELS[1], FIRE)[::4]}
    cases = {(mode, fault): case_of(fault, SEED, 2, mode) for mode, faults in chosen.items() for fault in faults}
    return {key: (case, *best_path(case.fault_key, SEED, 2, case.mode), words_of(case)) for key, case in cases.items()}


def visit_with(case, looks):
    visit = Visit(case)
    for check, place in sorted(looks, key=str):
        visit.take(check, place)
    return visit


def proof_of(case, looks):
    fault = next(fault for fault in FAULTS if fault.key == case.fault_key)
    return judge(visit_with(case, looks), fault.key, {check for check, _ in looks}, fault.cure)


# Told apart


def test_every_pair_of_faults_can_be_told_apart_for_less_than_the_minutes_of_the_hard_levels(proofs):
    """Whichever of the two is there: its proof leaves the other out, and costs what can be spent. For all pairs in many seats and both
    modes see the table's own test."""
    for (mode, fault), (case, minutes, looks, _) in proofs.items():
        assert minutes <= min(level.budget_min for level in LEVELS[1:]), fault
        assert [one.key for one in left_of(case, looks)] == [fault]
        for one, other in permutations([one.key for one in case.faults], 2):
            if one == fault:
                assert other not in left_after(looks, one, signs(case), mode, (one, other))


def test_no_single_look_gives_a_fault_away(proofs):
    """Neither the complaint, nor the trend, nor any one check at one place, each by itself."""
    for case, *_ in proofs.values():
        for look in SINGLE:
            assert len(left_of(case, {look}, trend=False)) > 1, (case.fault_key, look)
    complaints = {}
    for (mode, fault), (*_, words) in proofs.items():
        complaints.setdefault((mode, words), set()).add(fault)
    for (mode, words), faults in complaints.items():
        assert len(faults) > 1 or shared(words, mode, *faults), (faults, words)


def words_of(case):
    return re.sub(r"\d+", "", case.complaint())


def shared(words, mode, fault):
    """Whether another fault, in this seat or another, brings the same complaint."""
    others = [other for other in reversed(faults_at(LEVELS[1], mode)) if other != fault]
    return any(words_of(case_of(other, seed, 2, mode)) == words for seed in range(SEED, SEED + 3) for other in others)


@pytest.mark.parametrize("level", [2, 3])
def test_of_a_case_that_is_drawn_the_trend_leaves_more_than_one_fault_and_a_proof_fits_the_minutes(level):
    for seed in range(4):
        case = draw_case(seed, level)
        assert len(left_of(case, ())) > 1
        assert proof(case)[0] <= case.budget_min


# Drawing


def test_one_seed_gives_one_case_and_other_seats_have_other_numbers():
    one, again = draw_case(11, 2), draw_case(11, 2)
    assert one == again
    one, again = written_out((one.trend(), again.trend()))
    assert one.axes[0].layers[0].y.tolist() == again.axes[0].layers[0].y.tolist()
    seats = {case_of("none", seed, 1).seat for seed in range(6)}
    assert len({(seat.set_point_pa, seat.tops_pa, seat.outdoor_c, seat.rpm) for seat in seats}) == 6


def test_what_is_free_names_no_fault_and_no_cure():
    for seed in range(4):
        case = draw_case(seed, 2)
        trend = written_out(case.trend())
        said = " ".join((case.complaint(), written_out(case.door()), trend.caption, trend.title, case.site_name, case.mode)).lower()
        assert not [fault.name for fault in FAULTS if fault.name in said]
        assert "N" in written_out(case.door())
        assert "lbf" in written_out(case.door(), "in. w.c.")


def test_the_trend_has_the_set_point_of_the_sheet_once_that_was_fetched_and_not_before():
    case = draw_case(3, 1)
    visit, agreed = Visit(case), case.seat.set_point_pa

    def lines(plot):
        return [one for one in written_out(plot).axes[0].layers if isinstance(one, Line) and np.allclose(one.y, agreed)]

    assert not visit.has_sheet
    visit.take("record")
    assert visit.has_sheet
    assert len(lines(case.trend(visit.has_sheet))) == len(lines(case.trend())) + 1


def test_both_systems_of_units_say_the_same_case():
    case = draw_case(3, 2)
    shown = [written_out(Visit(case).take("display").lines(), system) for system in ("Pa", "in. w.c.")]
    assert [label for label, _ in shown[0]] == [label for label, _ in shown[1]]
    assert shown[0][0][1].endswith(" Pa")
    assert shown[1][0][1].endswith(" in. w.c.")


@pytest.mark.parametrize(("seed", "level"), [(-1, 1), (True, 1), ("x", 1), (1.5, 1), (1, 0), (1, 4), (1, "2")])
def test_a_seed_or_level_that_is_none_is_refused_in_a_sentence(seed, level):
    with pytest.raises(ValueError, match="must be"):
        draw_case(seed, level)


# Levels


def test_there_are_sixteen_faults_and_more_each_with_a_cure_and_with_what_the_loop_does():
    assert len(FAULTS) - 1 >= 16
    assert {fault.key for fault in FAULTS} == set(RIGGED)
    assert sorted(fault.cure for fault in FAULTS) == sorted(cure.key for cure in CURES)


def test_the_plain_level_has_plain_faults_and_all_the_time_the_others_have_all_and_less():
    assert set(faults_at(LEVELS[0], EVERYDAY)) == set(PLAIN) < set(HARD)
    assert [level.budget_min for level in LEVELS] == [None, 60.0, 45.0]
    assert LEVELS[2].rough > LEVELS[1].rough


def test_late_in_the_day_the_complaint_is_vague_and_signals_are_rougher():
    usual, late = (case_of("dead_counted", SEED, level, FIRE) for level in (2, 3))
    assert "hardly open" in usual.complaint()
    assert "open" not in late.complaint()
    scatter = [Visit(case_of("none", SEED, level, FIRE)).take("raw", "input 1").numbers["scatter"] for level in (2, 3)]
    assert scatter[1] > 1.5 * scatter[0]


def test_a_stop_for_low_demand_is_never_a_fault_of_the_fire_mode():
    assert "stop_threshold" not in faults_at(LEVELS[1], FIRE)
    with pytest.raises(ValueError, match="in the fire mode, got 'stop_threshold'"):
        case_of("stop_threshold", SEED, 2, FIRE)
    record = Visit(case_of("none", SEED, 2, FIRE)).take("record")
    assert record.numbers["stop_below_hz"] is None


# Checks


def test_a_check_costs_its_minutes_and_one_too_dear_is_refused_in_a_sentence():
    visit = Visit(draw_case(1, 3))
    for _ in range(4):
        visit.take("inject", "input 1")
    assert visit.spent_min == 40
    assert visit.left_min == 5
    with pytest.raises(ValueError, match="takes 10 min and 5 min are left"):
        visit.take("inject", "input 1")
    assert visit.spent_min == 40
    assert len(visit.taken) == 4
    assert Visit(draw_case(1, 1)).left_min is None


@pytest.mark.parametrize(("check", "place"), [("gauge", None), ("gauge", "input 1"), ("display", "PDT-1"), ("x-ray", None)])
def test_a_check_or_place_that_is_none_is_refused(check, place):
    visit = Visit(draw_case(1, 1))
    with pytest.raises(ValueError, match="must be"):
        visit.take(check, place)
    assert visit.taken == []


def test_a_speed_in_manual_beyond_the_records_highest_safe_one_is_never_told_without_what_keeps_people_safe_at_it():
    """By the one function that the record asks: what the bench shows at them is past a door's force on its building."""
    site = faulty_loop.site()
    cases = usual_cases(site)
    full = full_speed(Tower(site), allowed_pressures(site), cases, np.full(len(cases), np.inf), site.control.set_point_pa)
    assert min(BY_HAND_HZ, HAND_HZ[1]) > full.safe_hz == pytest.approx(ceiling_of(site).lowest_hz)
    for check in CHECKS:
        if check.key in ("hand", "damper", "wheel", "door"):
            for words in ("stair cleared", "announced", "nobody in a door's swing", "one person at the drive", "force limit"):
                assert words in check.caution.lower(), (check.key, words)
        if check.key in ("hand", "damper", "wheel"):
            assert "in steps" in check.caution
            beyond = f"{BY_HAND_HZ:g} Hz, and {HAND_HZ[1]:g} Hz more so, is no speed to copy"
            stops = "Stop where a door is at its force limit, and in any case here: "
            told = check.caution.partition(f"{stops}{full.safe_hz:.1f} Hz in any weather; ")[2]
            assert beyond in told  # after the limit that makes it so
            assert "nobody at belt or wheel" in check.caution or check.key == "door"  # the fan is started or slowed by hand at all three


def test_what_turns_a_fan_opens_a_door_or_touches_a_wire_has_a_caution():
    for check in CHECKS:
        if check.key not in ("display", "record", "inputs page", "loop page", "drive page"):  # only read, at a screen or on paper
            assert check.caution.endswith(".")
    cautions = {check.key: check.caution for check in CHECKS}
    assert "lock out" in cautions["inject"]
    assert "not protected" in cautions["pump"]
    assert "burst" in cautions["pump"]
    assert "guards" in cautions["wheel"]
    assert "ladder" in cautions["nameplate"]
    assert "hold the speed in manual" in cautions["gauge"]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.key)
def test_every_check_says_in_words_what_was_seen(check):
    visit = Visit(case_of("filter_long", SEED, 2, EVERYDAY))
    for place in check.places or (None,):
        seen = visit.take(check.key, place) if visit.left_min >= check.minutes else None
        assert seen.words().startswith(check.name[0].upper())
        assert seen.words().endswith(".")
        assert "None" not in written_out(seen.words(), "in. w.c.")
        assert "nan" not in seen.words()
        assert (seen.trend() is not None) == (check.key == "door")


# Judgement


def test_a_proof_with_nothing_needless_earns_all(proofs):
    for case, minutes, looks, _ in list(proofs.values())[::6]:
        judged = proof_of(case, looks)
        if len({check for check, _ in looks}) == len(looks):
            assert (judged.fault_right, judged.cure_right, judged.evidence_right) == (True, True, True)
            assert judged.score == 100
            assert judged.needless == ()
            assert judged.spent_min == minutes == judged.replay_min


def test_a_guess_earns_less_than_half_and_a_wrong_name_next_to_nothing(proofs):
    case, _, looks, _ = proofs[EVERYDAY, "ref_in_stair"]
    guess = judge(Visit(case), "ref_in_stair", (), "lead_reference_out_of_stair")
    wrong = judge(visit_with(case, looks), "tube_off", {check for check, _ in looks}, "put_tube_on")
    assert guess.fault_right
    assert not guess.evidence_right
    assert guess.score < 50
    assert not wrong.fault_right
    assert not wrong.evidence_right
    assert wrong.score == 0
    assert proof_of(case, looks).score > guess.score > wrong.score


def test_where_the_trend_alone_leaves_nothing_else_it_is_the_proof_and_no_check_is_asked_for():
    case = case_of("tube_off", SEED, 1, FIRE)
    assert [fault.key for fault in left_of(case, ())] == ["tube_off"]
    judged = judge(Visit(case), "tube_off", (), "put_tube_on")
    assert judged.evidence_right
    assert (judged.score, judged.replay_min) == (100, 0)


def test_what_the_evidence_leaves_is_named_in_the_reckoning_a_jumping_signal_alone_does_not_part_a_bad_screen_from_the_wind():
    case = case_of("noise", SEED, 2, FIRE)
    judged = judge(visit_with(case, {("raw", f"input {case.seat.place + 1}")}), "noise", ("raw",), "screen")
    assert not judged.evidence_right
    assert "the evidence leaves as well: reference tube in the wind" in dict(judged.reckoning)
    assert judged.score < 50


def test_a_display_or_signal_at_an_end_of_its_range_is_said_to_be_there():
    wrong_rule = Visit(case_of("rule", 5, 2, EVERYDAY))  # the highest of two in place of the lowest: the fan stands
    seen = wrong_rule.take("display")
    assert seen.numbers["display_1_pa"] < 0 < seen.numbers["display_2_pa"]
    assert [line for line in seen.lines() if "range's" in line[1]] == [("PDT-1 stands", "at or below its range's start")]
    assert "range's start" in wrong_rule.take("raw", "input 1").words()
    assert "range's" not in wrong_rule.take("raw", "input 2").words()
    clipped = case_of("short_range", SEED, 2, EVERYDAY)
    assert "range's end" in Visit(clipped).take("raw", f"input {clipped.seat.place + 1}").words()


def test_needless_checks_are_named_and_cost_points(proofs):
    case, _, looks, _ = proofs[EVERYDAY, "action"]
    visit = visit_with(case, looks)
    visit.take("nameplate", "PDT-1")
    visit.take("nameplate", "PDT-1")
    judged = judge(visit, "action", {check for check, _ in looks}, "set_action")
    assert [seen.check.key for seen in judged.needless] == ["nameplate", "nameplate"]
    assert judged.evidence_right
    assert judged.score < proof_of(case, looks).score


def test_evidence_that_was_not_taken_and_names_that_are_none_are_refused():
    visit = Visit(case_of("none", SEED, 1, FIRE))
    for args in (("none", ["gauge"], "leave"), ("gremlin", [], "leave"), ("none", [], "pray"), ("belt_slips", [], "leave")):
        with pytest.raises(ValueError, match="must be"):
            judge(visit, *args)


def test_the_good_hands_way_ends_with_the_fault_alone_and_each_step_says_what_it_shows(proofs):
    for (_, fault), (case, minutes, *_) in list(proofs.items())[::7]:
        judged = judge(Visit(case), fault, (), "leave")
        left = [len(step.left) for step in judged.replay]
        assert left == sorted(left, reverse=True)
        assert [one.key for one in judged.replay[-1].left] == [fault]
        assert sum(step.minutes for step in judged.replay) == judged.replay_min == minutes
        assert all(step.words().endswith(".") for step in judged.replay)
        assert judged.replay[-1].told
        assert judged.fault.name in judged.replay[-1].words()


def test_prices_are_whole_minutes_of_every_check():
    assert set(MINUTES) == {need[0] for conclusion in CONCLUSIONS for need in conclusion.needs}
    assert all(minutes >= 1 for minutes in MINUTES.values())
