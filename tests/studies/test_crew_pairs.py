"""What is read twice of one leaf is compared, and one pair's gauges with the other's."""

import pytest

from helpers.model.site.file import demo_sites, read_site
from helpers.studies.commissioning.crew.blanks import leaves_of
from helpers.studies.commissioning.crew.day import typed_day
from helpers.studies.commissioning.crew.in_rounds import hardly_so, slip_in_a_round
from helpers.studies.commissioning.crew.leaves import pairs_line
from helpers.studies.commissioning.crew.lines import LEFT_UNPROVED, MEND, NOW, TUBES, TURN, ReportLine, to_do
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.rounds import MANUAL, crew_rounds
from helpers.units.said import written_out

FAR_OFF = 5.0  # Pa
OFF_N = 20.0


@pytest.fixture(scope="module")
def made():
    return procedure(crew_rounds(read_site(demo_sites()["Larkfield House"])), first="")


def round_of(made):
    return [one for one in made.rounds.rounds if one.mode == MANUAL][-1]  # where the fan adds most


def survey(made, upper=1.0):
    """Every leaf's forces and pressure at a steady speed, as its site file has them; upper: what the upper pair's gauge shows of it."""
    one, filled = round_of(made), {}
    bare = {leaf.key: leaf for leaf in typed_day(made, {}).leaves}
    for number, (key, row, _) in enumerate(leaves_of(made.rounds)):
        there = one.expected_pa[row.use, row.level]
        read = there * (upper if row.level >= 7 and row.use == "stair door" else 1.0)
        off = made.rounds.rounds[0].expected_pa[row.use, row.level]
        force = next(column for column in (f.criterion.step for f in row.forces) if "motion" in column or "set" in column)
        added = bare[key].lever_n_pa * (there - off) + 0.5 * (-1) ** number
        filled |= {("doors", key, f"off {force}"): OFF_N + 60, ("doors", key, f"on {force}"): OFF_N + 60 + added}
        filled |= {("doors", key, "same_pa"): read, ("pressures", (row.use, row.level), one.label): read}
        shown = off * (read / there)  # by the same gauge
        filled["pressures", (row.use, row.level), made.rounds.rounds[0].label] = shown
    return filled


def slips(made, filled):
    return {leaf.words: written_out(leaf.slips) for leaf in typed_day(made, filled).leaves if leaf.slips}


def test_a_leaf_whose_pressure_is_not_its_doors_in_the_round_is_told_with_both_cells(made):
    filled, one = survey(made), round_of(made)
    assert slips(made, filled) == {}
    key, row, words = next(leaf for leaf in leaves_of(made.rounds) if leaf[1].level == 9)
    filled["pressures", (row.use, row.level), one.label] += FAR_OFF
    ((name, (said,)),) = slips(made, filled).items()
    assert name == words
    assert said.endswith("which of the two is another door's, or of another minute? Read both again")
    filled["pressures", (row.use, row.level), one.label] -= FAR_OFF
    filled["doors", key, "same_pa"] /= 249.0889
    ((_, (said,)),) = slips(made, filled).items()
    assert said.endswith("in. w.c. typed as Pa? Read both again")


def test_what_all_leaves_have_beside_the_round_is_another_minute_and_no_slip(made):
    filled = survey(made)
    assert slips(made, {key: value + 2.0 if key[2] == "same_pa" else value for key, value in filled.items()}) == {}


@pytest.mark.parametrize(("upper", "state"), [(1.0, "good"), (0.96, "good"), (0.85, "attention")])
def test_a_pair_whose_gauges_read_other_than_the_others_is_check(made, upper, state):
    """Each leaf alone is too coarse to tell by its force gauge, or agrees; all of the pair together tell."""
    found = typed_day(made, survey(made, upper))
    assert {leaf.state for leaf in found.leaves if leaf.ratio is not None} <= {"good", ""}
    (line,) = pairs_line(made.rounds, found.filled, found.leaves)
    assert line.state == state
    assert ("hold both gauges at one door" in line.words) == (state == "attention")


def test_a_pressure_finer_than_a_gauge_shows_is_asked_after_with_the_fan_off_too(made):
    place, off = ("stair door", 3), made.rounds.rounds[0]
    for value, state in ((0.01, "attention"), (0.1, "good"), (0.0, "good")):
        found = typed_day(made, {("pressures", place, off.label): value})
        assert slip_in_a_round(made.rounds, found.filled, off, place)[0] == state
        assert bool([*hardly_so(made.rounds, found.filled)]) == (state == "attention")


def test_what_is_done_first_is_the_fan_left_unproved_and_the_tubes_before_any_deficiency():
    mended, left = (
        ReportLine("Steps", "38. Wires back", words="not done"),
        ReportLine("Told", "left", state="wrong", words=f"{LEFT_UNPROVED}: doors"),
    )
    assert to_do([mended]) == MEND
    assert to_do([mended, left]) == NOW
    assert to_do([ReportLine("Rounds", "stair door 4", words=f"-38.9 Pa is below 0; or {TUBES}"), mended]) == TURN
    assert to_do([]) == ""


def stiff(made, filled, levels, newtons=90.0):
    """A survey with some stair doors that bind once the fan is on."""
    found = dict(filled)
    for key, row, _ in leaves_of(made.rounds):
        force = next(column for column in (f.criterion.step for f in row.forces) if "motion" in column or "set" in column)
        if row.use == "stair door" and row.level in levels:
            found["doors", key, f"on {force}"] += newtons
    return found


@pytest.mark.parametrize(("upper", "state"), [(1.0, "good"), (0.85, "attention")])
def test_a_leaf_that_stands_out_hides_no_gauge_and_makes_none(made, upper, state):
    """One stiff closer of the lower pair is as far from the rest as a gauge that reads low: it is left out of the mean, and named."""
    found = typed_day(made, stiff(made, survey(made, upper), (5,)))
    (line,) = pairs_line(made.rounds, found.filled, found.leaves)
    assert line.state == state
    assert line.measured.endswith("without stair door 5, which stands out")


def test_where_half_of_a_pair_stands_out_none_is_left_out(made):
    found = typed_day(made, stiff(made, survey(made), range(7)))
    (line,) = pairs_line(made.rounds, found.filled, found.leaves)
    assert line.state == "attention"
    assert "without" not in line.measured


@pytest.mark.parametrize("way", [1, -1])
def test_forces_that_are_too_coarse_to_tell_the_pairs_apart_are_no_agreement(made, way):
    """By the scatter the means come out 1 % apart, or 20 %: neither says that the gauges agree."""
    filled = survey(made, 0.9)
    for number, (key, row, _) in enumerate(leaves_of(made.rounds)):
        force = next(column for column in (f.criterion.step for f in row.forces) if "motion" in column or "set" in column)
        filled["doors", key, f"on {force}"] += way * 9.0 * (-1) ** number
    found = typed_day(made, filled)
    (line,) = pairs_line(made.rounds, found.filled, found.leaves)
    assert (line.state, line.word) == ("", "")
    assert "apart, and these forces show no less than" in line.words


def test_two_doors_exchanged_in_a_round_by_little_more_than_two_gauges_differ_are_named_with_each_other(made):
    """2.6 Pa apart, where two gauges of 1 Pa differ by 1.4: quieter than a slip of the point, and no small thing at a door near its end."""
    filled, one = survey(made), round_of(made)
    doors = [(key, row) for key, row, _ in leaves_of(made.rounds) if row.level in (8, 11)]
    places = {key: (row.use, row.level) for key, row in doors if row.use == "stair door"}
    for (key, place), pa in zip(places.items(), (36.9, 39.5), strict=True):
        filled["doors", key, "same_pa"], filled["pressures", place, one.label] = pa, 76.4 - pa
    told = slips(made, filled)
    ends = {words: said[0].rpartition(": ")[2].partition("?")[0] for words, said in told.items()}
    assert ends == {"stair door 8": "exchanged with stair door 11", "stair door 11": "exchanged with stair door 8"}
