"""A loop runs as asked or refuses in one clear sentence, whatever is set, fails or happens: a small sample of run.py's full run."""

import pytest
from loops import CONDITIONS, loops_under_fuzz
from run import air_of
from spoilt_files import SITES

from helpers.model.loop.events import TapFault
from helpers.model.loop.run import Setup
from helpers.model.plants.kinds import plant_of, read_any_site
from helpers.model.plants.pressure_plant import run_plant

RUNS = 40


@pytest.mark.parametrize("path", SITES, ids=lambda path: path.stem)
def test_a_loop_runs_as_asked_or_refuses_in_a_clear_sentence(path):
    (tally,) = loops_under_fuzz([read_any_site(path)], RUNS, seed=2).values()
    assert tally.faults == {}
    assert tally.counts["result"] > RUNS // 10
    assert tally.counts["refused"] > RUNS // 10


@pytest.mark.parametrize("path", SITES, ids=lambda path: path.stem)
def test_every_plants_air_is_asked_for(path):
    assert all(len(part) for part in air_of(read_any_site(path)))


def test_a_plant_takes_its_own_sample_time_where_nothing_else_is_said():
    garage = plant_of(read_any_site(next(path for path in SITES if path.stem == "orchard_garage")))
    run = run_plant(garage, CONDITIONS[type(garage)].of(garage.site), Setup(300.0))
    assert run.sample_s == garage.site.control.sample_s


@pytest.mark.parametrize("number", [1e9, 0.5, -1, None, "1"])
def test_a_fault_names_its_transmitter_by_a_whole_number(number):
    with pytest.raises(ValueError, match=r"transmitter must be (one whole|a) number"):
        TapFault(number, "stuck")
