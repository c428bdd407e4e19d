"""The bench's reasoning on a log: the hidden fault stays among those that fit, most others go, and the next check tells the rest apart."""

from dataclasses import replace

import numpy as np
import pytest
from trend_cases import log_of, own_log

from helpers.fault_bench.diagnosis import trend_facts
from helpers.fault_bench.faulty_loop import MODES, faults_of, seat_of, site
from helpers.fault_bench.found import fresh
from helpers.fault_bench.real_log import suspects_of
from helpers.studies.measured.trends.trend import Columns

ENDS_HZ = (site().fan.lowest_speed_hz, site().fan.highest_speed_hz)
SEATS = {key: 500 + number for number, key in enumerate(faults_of(MODES[0]))}  # none of those the table was made of


def log_of_bench(found):
    """The trend of a loop of the bench, as a log."""
    readings, time_s = found.recorded("displays"), found.recorded_s - found.recorded_s[0]
    log = log_of(time_s, readings[:, 0], found.recorded("speed_hz"))
    values = {"PDT-1": readings[:, 0], "PDT-2": readings[:, 1], "Speed": log.values["Speed"]}
    columns = Columns("Time", ("PDT-1", "PDT-2"), speed="Speed")
    return replace(log, values=values, columns=columns, dimensions=log.dimensions | {"PDT-2": "pressure"})


@pytest.fixture(scope="module")
def judged():
    """{fault: (what fits its log, the facts that the bench itself sees)} of a seat each."""
    made = {}
    for key, number in SEATS.items():
        found = fresh(seat_of(number, 1.0, MODES[0]), key)
        tops = [one.top_pa for one in found.rig.entered.inputs]
        made[key] = suspects_of(log_of_bench(found), tops, ENDS_HZ), trend_facts(found)
    return made


def test_the_hidden_fault_is_among_those_that_fit(judged):
    missed = [key for key, (found, _) in judged.items() if key not in [fault.key for fault in found.left]]
    assert len(missed) <= 0.05 * len(judged), missed  # a rare seat may look as none of the table's does


def test_a_log_is_read_as_the_bench_reads_its_own_trend(judged):
    assert np.mean([found.facts == facts for found, facts in judged.values()]) > 0.9


def test_what_a_log_shows_plainly_rules_most_faults_out(judged):
    for key in ("stuck", "tube_off", "action"):
        found = judged[key][0]
        assert len(found.left) <= len(SEATS) / 3
        assert {fault.key for fault in found.left} | {fault.key for fault in found.out} == set(SEATS)


def test_the_next_check_leaves_fewer_and_the_best_for_its_minutes_stands_first(judged):
    for found, _ in judged.values():
        worth = [(len(found.left) - one.left) / max(one.minutes, 0.5) for one in found.checks]
        assert worth == sorted(worth, reverse=True)
        assert all(one.left < len(found.left) for one in found.checks)
    assert any("gauge" in name for one in judged["tube_off"][0].checks for name in one.names)


def test_a_log_that_cannot_tell_says_why():
    alone = own_log("stair_steps_in_manual.csv")
    assert "name two readings" in suspects_of(alone, (125.0, 125.0), ENDS_HZ).refused
    still = log_of(np.arange(0.0, 200.0, 1.0), np.full(200, 40.0), np.full(200, 25.0))
    both = replace(still, values=still.values | {"PDT-2": np.full(200, 41.0)}, dimensions=still.dimensions | {"PDT-2": "pressure"},
                   columns=Columns("Time", ("PDT-1", "PDT-2"), speed="Speed"))  # fmt: skip
    assert "Nothing moves" in suspects_of(both, (125.0, 125.0), ENDS_HZ).refused
    with pytest.raises(ValueError, match="mode must be"):
        suspects_of(both, (125.0, 125.0), ENDS_HZ, mode="holiday")
