"""A loop keyed in from the words of a paper alone gives the output of the model that the record was played on, at every sample."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from helpers.formulas.low_demand import LowDemandRule
from helpers.model.loop.controller import Controller, ControllerSettings
from helpers.model.plants.duct import Duct
from helpers.model.plants.garage import Garage
from helpers.model.plants.kinds import read_any_site
from helpers.model.plants.pressure_plant import DuctConditions, GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.file import demo_sites
from helpers.record.papers.folder import Folder
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.schedule import loop_form
from helpers.record.settings.loop_form import FORM, TAKEN_BACK, form_lines
from helpers.units.said import written_out

DUCT, LAB, GARAGE = "Mill Street Offices", "Quayside Lab", "Orchard Garage"
NEVER = LowDemandRule(0.0, 0.0, 0.0, 0.0)
NUMBER = r"(\d+(?:\.\d+)?)"


@cache
def design_of(name):
    return PlantDesign(read_any_site(demo_sites(None)[name]))


@cache
def entered(name):
    """{line of the tuning paper: its value}."""
    (paper,) = (paper for paper in Folder.of(design_of(name)).papers if paper.key == "tuning")
    return {row[0].lower(): row[1] for row in paper.parts[0].tables[0].rows}


def figures(words):
    return [float(number) for number in re.findall(NUMBER, words)]


class KeyedIn:
    """What a programmer makes of the lines; nothing of ours in it."""

    def __init__(self, lines, set_point):
        self.gain, self.set_point = figures(lines["gain"])[0], set_point
        asked = re.match(rf"100 x \((.+?) - (.+?)\) / {NUMBER}", lines["error"])
        self.way, self.span = (1 if asked[1] == "reading" else -1), float(asked[3])
        ends = re.search(rf"in % of {NUMBER} Hz, kept from {NUMBER} % .* to {NUMBER} %", lines["output"])
        self.top, self.least, self.most = map(float, ends.groups())
        sample, integral, unit = re.search(rf"error x {NUMBER} s / {NUMBER} (s|min)", lines["integral part, each sample"]).groups()
        self.share = float(sample) / (float(integral) * (60 if unit == "min" else 1))
        self.output, self.integral = self.least, None

    def sample(self, reading):
        error = self.way * 100 * (reading - self.set_point) / self.span
        if self.integral is None:  # the output of the sample before less gain x error, then as each sample
            self.integral = self.output - self.gain * error
        grown = self.integral + self.gain * error * self.share
        asked = self.gain * error + grown
        self.output = min(max(asked, self.least), self.most)
        if not ((asked > self.most and error > 0) or (asked < self.least and error < 0)):
            self.integral = grown
        return self.output


def runs():
    """(name of a site, set point, readings that the model's loop saw, outputs that it gave)."""
    garage = Garage(design_of(GARAGE).site)
    at_once = (
        Turn(3600.0, {"running": garage.site.traffic["rush"].running}),
        Turn(7200.0, {"running": garage.site.traffic["night"].running}),
    )
    run = run_plant(garage, GarageConditions.of(garage.site, "night"), setup_of(garage, 12_000.0, events=at_once, low_demand=NEVER))
    yield GARAGE, 25.0, run
    duct = Duct(design_of(DUCT).site)
    settings = replace(duct.settings(), gain=design_of(DUCT).strategy.loop.gain)
    shut = Turn(60.0, {"opening": np.zeros(len(duct.places))})
    run = run_plant(duct, DuctConditions.of(duct.site, "peak"), setup_of(duct, 120.0, settings=settings, events=(shut,), low_demand=NEVER))
    yield DUCT, 150.0, run


@pytest.mark.parametrize(("name", "set_point", "run"), list(runs()))
def test_the_form_keyed_in_from_the_paper_is_the_models_own_loop(name, set_point, run):
    lines = entered(name)
    assert f"{set_point:g} " in lines["set point"]
    keyed = KeyedIn(lines, set_point)
    outputs = [keyed.sample(reading) for reading in run.reading_pa[:, 0]]
    assert np.ptp(outputs) > 50  # it went to an end and back
    assert outputs == pytest.approx(run.output_percent[:, 0].tolist(), abs=1e-6)


@pytest.mark.parametrize("name", [DUCT, LAB, GARAGE])
def test_the_example_by_hand_follows_from_the_lines_beside_it(name):
    lines = entered(name)
    assert {line.lower() for line in FORM} < set(lines)
    keyed = KeyedIn(lines, 0.0)
    keyed.integral = 40.0
    output = keyed.sample(keyed.way * keyed.span / 100)
    said = re.search(rf"integral part {NUMBER} %, output {NUMBER} %, {NUMBER} Hz", lines["one sample, worked out"])
    assert [keyed.integral, output, output * keyed.top / 100] == pytest.approx([float(one) for one in said.groups()], rel=2e-3)


def stair_lines(folder_of, name, units="Pa"):
    """{line of the sequence's table of the loop: its value}, as the words of the schedule have them."""
    (paper,) = (paper for paper in folder_of(name, units).papers if paper.key == "sequence")
    (table,) = (table for table in paper.parts[0].tables if table.key == "loop")
    return {row[0].lower(): row[1] for row in table.rows}


@pytest.mark.parametrize("name", ["Tannery Row", "all laid down"])
def test_a_stairs_loop_keyed_in_from_the_sequence_is_the_models_own(folder_of, design_named, name):
    site, lines = design_named(name).site, stair_lines(folder_of, name)
    point = site.control.set_point_pa
    keyed = KeyedIn(lines, point)
    span = site.transmitters[0].range_high_pa - site.transmitters[0].range_low_pa
    integral, sample = figures(lines["integral time"])[0], site.control.sample_s
    settings = ControllerSettings(point, span, keyed.gain, integral, action=site.control.action)
    low, high = (100 * end / site.fan.highest_speed_hz for end in site.fan.speed_limits_hz(site.control.fire_mode))
    model = Controller(settings, sample, low, low, highest_percent=high)
    times = np.arange(0.0, 120.0, sample)
    readings = point - 0.6 * span * np.sin(times / 9.0) * np.exp(-times / 80.0)  # far enough for both ends, and back
    ours, theirs = np.array([(keyed.sample(reading), model.step(reading)) for reading in readings.tolist()]).T
    assert ours.min() == pytest.approx(low)
    assert ours.max() == pytest.approx(high)
    assert ours == pytest.approx(theirs, abs=1e-6)
    assert {line.lower() for line in FORM} | {TAKEN_BACK} < set(lines)
    assert figures(lines["output"])[1:] == pytest.approx(
        [low, figures(lines["output"])[2], high, site.fan.speed_limits_hz(True)[1]], rel=2e-3
    )


@pytest.mark.parametrize("name", ["Tannery Row", "all laid down"])
def test_the_stairs_example_follows_from_the_lines_beside_it(folder_of, name):
    lines = stair_lines(folder_of, name)
    keyed = KeyedIn(lines, figures(lines["set point"])[0])
    keyed.integral = 40.0
    said = re.search(rf"reading {NUMBER} Pa.*integral part {NUMBER} %, output {NUMBER} %, {NUMBER} Hz", lines["one sample, worked out"])
    output = keyed.sample(float(said[1]))
    assert [keyed.integral, output, output * keyed.top / 100] == pytest.approx([float(said[at]) for at in (2, 3, 4)], rel=2e-3)


def test_a_form_in_inches_has_no_pascals():
    said = " ".join(line.value for line in written_out(list(form_lines(loop_form(design_of(DUCT)))), "in. w.c."))
    assert "in. w.c." in said
    assert not re.search(r"\d Pa\b(?! \()", said)
