"""What the study of failed readings says of a loop at rest, against the loop run in time with the fault in it."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.loop.events import TapFault
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.failures import KEPT, NOTHING, OWN
from helpers.studies.readings.fallback import fallback_study

WINTER = Case("winter, doors shut")
BROKEN_S, LENGTH_S = 5.0, 300.0


@pytest.fixture(scope="module")
def study():
    site = read_site(demo_sites()["Larkfield House"])
    return fallback_study(Tower(site), pressure_window(site))


def run(study, faults, start_hz=None, length_s=LENGTH_S, **settings):
    made = replace(settings_of(study.site), gain=0.6, integral_s=4.0, **settings)
    setup = Setup(length_s, faults=faults, settings=made, start_hz=start_hz)
    return run_loop(study.air.tower, conditions_of(study.site, [WINTER]), setup)


def rests_at(study, found, cell):
    """The worst door where the run ends has the study's pressure. Near full speed a hertz is worth little, and the loop creeps: 1 Pa."""
    air = study.air.tower.solve(conditions_of(study.site, [WINTER]), found.speed_hz[-1, 0])
    assert cell.column.use == "stair door"
    assert air.door_dp_pa[0, study.air.tower.storey(cell.column.level)] == pytest.approx(cell.dp_pa, abs=1.0)
    assert found.speed_hz[-1, 0] == pytest.approx(cell.speed_hz, abs=1.5)


@pytest.mark.parametrize("end", ["lowest", "highest"])
def test_with_every_wire_off_the_fan_is_at_the_fallback_speed_within_the_time_that_is_told(study, end):
    fan = study.site.fan
    start = dict(zip(("lowest", "highest"), study.air.limits_hz, strict=True))[end]
    both = tuple(TapFault(number, "open wire", 0.0) for number in range(2))
    found = run(study, both, start, 30.0, fallback="preset speed", preset_percent=100 * study.speed_hz / fan.highest_speed_hz)
    arrived = np.abs(found.speed_hz[:, 0] - study.speed_hz) < 0.1
    assert arrived[-1]
    first = found.time_s[np.flatnonzero(arrived)[0]]
    assert first <= study.reached_after_s + 0.5  # bands and filter see a wire off within a few samples
    assert first >= 0.5 * abs(start - study.speed_hz) * fan.ramp_s / fan.reference_speed_hz


@pytest.mark.parametrize(("lost", "left"), [(0, "PDT-2"), (1, "PDT-1")])
def test_the_loop_with_one_wire_off_rests_where_the_study_says(study, lost, left):
    name = study.site.transmitters[lost].tag
    for way, target in ((OWN, study.alone_pa[left]), (KEPT, study.site.control.set_point_pa)):
        found = run(study, (TapFault(lost, "open wire", BROKEN_S),), set_point_pa=target)
        rests_at(study, found, study.ways[way].every[f"{name} lost", WINTER.name])


def test_the_loop_with_a_tube_off_rests_where_the_study_says(study):
    found = run(study, (TapFault(0, "tube off", BROKEN_S),))
    cell = study.ways[NOTHING].every["tube off PDT-1 (storey 1): it reads no pressure", WINTER.name]
    rests_at(study, found, cell)
