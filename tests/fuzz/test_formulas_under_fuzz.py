"""A formula gives a finite result or one clear sentence, whatever it is given: a small sample of run.py's full run, always the same."""

import pytest
from argument_sets import public_functions
from judged import Tally, judge, unclear
from run import of_formula

SETS = 24
FUNCTIONS = [(module, name, function) for module, name, function in public_functions() if module != "require"]


@pytest.mark.parametrize("module", sorted({module for module, _, _ in FUNCTIONS}))
def test_every_formula_gives_a_finite_result_or_a_clear_sentence(module):
    tallies = {name: of_formula(owner, name, function, SETS, seed=2) for owner, name, function in FUNCTIONS if owner == module}
    assert {name: tally.faults for name, tally in tallies.items() if tally.faults} == {}
    assert all(sum(tally.counts.values()) == SETS for tally in tallies.values())
    assert sum(tally.counts["result"] for tally in tallies.values()) > 0, "refusals alone show little"


@pytest.mark.parametrize(
    ("call", "fault"),
    [
        (lambda: float("nan"), "gave NaN or an infinite"),
        (lambda: [1.0, (2.0, float("inf"))], "gave NaN or an infinite"),
        (lambda: {}["key"], "KeyError: _key_"),
        (lambda: int("x"), "refusal names no argument"),
        (lambda: "\ud800".encode(), "UnicodeEncodeError"),
    ],
)
def test_the_judge_finds_each_kind_of_fault(call, fault):
    tally = Tally()
    judge(tally, call, lambda: "", ("area_m2",))
    (told,) = tally.faults
    assert fault.split("_")[0] in told


def test_the_judge_asks_of_a_refusal_what_it_must_say():
    assert unclear(ValueError("area_m2 must be above 0, got -1"), ["area_m2"]) == ""
    assert "names no argument" in unclear(ValueError("it must be above 0"), ["area_m2"])
    assert "what must be" in unclear(ValueError("area_m2 is wrong"), ["area_m2"])
    assert "no one sentence" in unclear(ValueError("area_m2 must be\nabove 0"), ["area_m2"])
