"""The study of a duct's reset: who goes short, what it saves, and that each thing that breaks it is told. On a shorter play than usual."""

import re

import numpy as np
import pytest

from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import demo_sites
from helpers.studies.low_demand.duct_reset import reset_study
from helpers.studies.low_demand.reset_told import reset_section
from helpers.units.said import written_out

SITE = read_any_site(demo_sites("duct")["Mill Street By Requests"])
TWO = {"peak": SITE.demand["peak"], "evening": SITE.demand["evening"]}
LENGTH_S = 2400.0


def of(**changes):
    """The study of the site with two demands and some changes."""
    return reset_study(SITE.with_changes(**changes).model_copy(update={"demand": TWO}), LENGTH_S)


def control(**reset):
    return {"control": {"reset": reset}}


def finding(section, start):
    return next(one for one in written_out(section).findings if one.what.startswith(start))


@pytest.fixture(scope="module")
def sound():
    """The study as the site has it, and its section."""
    study = of()
    return study, reset_section(study)


def test_everybody_has_air_and_the_evening_takes_less_power(sound):
    study, section = sound
    assert study.sound.share.min() > 0.95
    assert (study.likely.power_w < study.fixed.power_w)[1]
    assert study.likely.power_w[1] < 0.7 * study.fixed.power_w[1]
    assert finding(section, "Air of the zones").severity == "good"
    assert "less in evening" in written_out(section).verdict


def test_the_share_that_is_saved_agrees_with_the_two_powers_beside_it(sound):
    said = re.search(r"(\d+) % less in \w+ \(([\d.]+) (k?)W for ([\d.]+) (k?)W\)", written_out(sound[1]).verdict)
    share, power, stays = int(said[1]), *(float(said[at]) * (1000 if said[at + 1] else 1) for at in (2, 4))
    assert share == pytest.approx(100 * (1 - power / stays), abs=1.0)  # of rounded figures


def test_what_breaks_it_is_told_with_its_price(sound):
    study, section = sound
    more = study.troubles["3 zones never stop asking, one more than ignored"]
    assert more.highest_pa.max() > study.likely.highest_pa.max() + 20
    assert finding(section, "If 3 zones never stop asking").severity == "attention"
    dead = finding(section, "If PDT-1 north reads zero")
    assert dead.severity == "attention"
    assert "live zero" in dead.remedy
    assert study.troubles["PDT-1 north reads zero"].speed_hz.tolist() == [50.0, 50.0]


def test_a_change_of_demand_is_worst_from_the_evening_to_the_peak(sound):
    study, _ = sound
    changes = study.changes
    assert (changes.before[int(changes.short_s.argmax())], changes.after[int(changes.short_s.argmax())]) == ("evening", "peak")
    assert changes.short_s.max() > study.fixed_changes.short_s.max() + 60


def test_the_low_demand_stop_is_judged_at_the_lowest_set_point(sound):
    study, section = sound
    assert study.idle.verdict == "right"
    assert study.idle.idle_hz < study.idle.idle_at_start_hz < 15.0 < study.idle.duty_hz
    assert finding(section, "Low-demand stop with the reset: right").severity == "good"
    # The threshold of the same offices without a reset stops the fan while the evening asks for air.
    early = of(control={"low_demand": {"stop_below_hz": 21.0}})
    assert early.idle.verdict == "cycles"
    stays = of(control={"low_demand": {"restart_deficit_pa": 100.0}})
    assert not stays.idle.restarts


def test_words_are_in_either_system(sound):
    _, section = sound
    for system, unit in (("Pa", " Pa"), ("in. w.c.", "in. w.c.")):
        told = written_out(section, system)
        words = " ".join([told.verdict, *(cell for table in told.tables for row in table.rows for cell in row)])
        assert unit in words
        assert ("Pa" in words) == (system == "Pa")


def test_a_weak_fan_fails_and_is_named():
    weak = of(fan={"pressures_pa": tuple(0.5 * p for p in SITE.fan.pressures_pa)})
    found = {one.what: one for one in written_out(reset_section(weak)).findings}
    assert found["The fan is at full speed under the reset"].severity == "wrong"
    assert "peak" in found["The fan is at full speed under the reset"].figure
    assert found["Air of the zones with the reset"].severity in ("wrong", "attention")


def test_a_highest_set_point_that_is_too_low_starves_a_zone_and_fails():
    low = of(**control(lowest_pa=30.0, start_pa=40.0, highest_pa=50.0))
    section = written_out(reset_section(low))
    assert finding(section, "Air of the zones").severity == "wrong"
    assert {"wrong"} <= set(section.tables[0].states)


def test_an_interval_shorter_than_the_fans_loop_fails_and_a_stroke_not_stated_is_looked_at():
    hasty = of(**control(interval_s=30.0), boxes={"stroke_s": None})
    assert hasty.strokes_s == (60.0, 120.0, 300.0)
    section = reset_section(hasty)
    assert finding(section, "The fan's loop settles within").severity == "wrong"
    assert finding(section, "An actuator's stroke").severity == "attention"
    # Slow dampers that are asked often overrun: the set point goes further to and fro than with a patient interval.
    swings = np.array([ended.swing_pa.max() for ended in hasty.by_interval().values()])
    assert swings[0] > swings[-1]


def test_a_site_without_a_reset_is_refused():
    with pytest.raises(ValueError, match=r"site must have a \[control.reset\]"):
        reset_study(read_any_site(demo_sites("duct")["Mill Street Offices"]))
