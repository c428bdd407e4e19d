"""The site file's second pressurised shaft: it reads, is written and reads again, and each slip has its line and its sentence."""

import re

import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site_text, write_site

TEXT = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
LOOP_KEYS = ("set_point", "set_point_level", "set_point_over", "lowest_speed", "highest_speed")


def with_shaft(*slips, without=LOOP_KEYS):
    """Larkfield House with its commented second shaft put in, less some keys, each right text replaced by a wrong one."""
    before, told = TEXT.split("# [second_shaft]\n")
    told, after = told.split("\n[design]\n")
    lines = [line.removeprefix("#").strip() for line in told.splitlines()]
    lines = [line for line in lines if line.startswith("[") or " = " in line]
    block = "\n".join(line for line in ["[second_shaft]", *lines] if line.split(" =")[0] not in without)
    for right, wrong in slips:
        assert right in block, right
        block = block.replace(right, wrong, 1)
    return f"{before}{block}\n\n[design]\n{after}"


@pytest.mark.parametrize("without", [LOOP_KEYS, ("speed",)])
def test_the_example_in_the_demo_file_reads_solves_and_is_written_again(without):
    site = read_site_text(with_shaft(without=without))
    assert site.second_shaft.fan.way == ("own loop" if without == ("speed",) else "fixed speed")
    assert read_site_text(write_site(site)) == site
    assert Tower(site).hold(Conditions.of(site)).air.converged.all()


def test_a_file_without_the_table_has_none_and_is_written_without():
    site = read_site_text(TEXT)
    assert site.second_shaft is None
    assert "second_shaft" not in write_site(site)
    air = Tower(site).hold(Conditions.of(site)).air
    assert (air.shaft_pa, air.shaft_hz, air.shaft_loop) == (None, None, None)


SLIPS = [
    ('kind = "lift"', 'kind = "duct"', "[second_shaft] kind", "must be 'stair' or 'lift'"),
    ('\ndoor = "flat landing"', '\ndoor = "gate"', "[second_shaft] door", "must be a door described under [doors]"),
    ("levels = [0, 6, 13]", "levels = [0, 14]", "[second_shaft] levels", "must be storeys from 0 to 13; got 14"),
    ("levels = [0, 6, 13]", "levels = [0, 0]", "[second_shaft] levels", "must name each storey once"),
    ("open_doors = [0]", "open_doors = [5]", "[second_shaft] open_doors", "must be storeys on which it has a door, see levels; got 5"),
    ("exit_level = 0 ", "exit_level = 30 ", "[second_shaft] exit_level", "must be storeys from 0 to 13; got 30"),
    ('exit_door = "street"', "", "[second_shaft] exit_door", "is missing; a final exit is a kind of door on a level"),
    ("\nlevel = 13", "\nlevel = 40", "[second_shaft.fan] level", "must be storeys from 0 to 13; got 40"),
    ('\nspeed = "30 Hz"', "", "[second_shaft.fan] speed", "is missing; state fixed_flow, a curve with its speed"),
    ('reference_speed = "50 Hz"', "", "[second_shaft.fan] reference_speed", "is missing; a fan with a fixed speed needs it"),
    ('\nspeed = "30 Hz"', '\nfixed_flow = "1 m3/s"', "[second_shaft.fan] flows", "must be left out for a fan with a fixed flow"),
    ('"0 m3/s", "2 m3/s"', '"1 m3/s", "2 m3/s"', "[second_shaft.fan] flows", "must begin with 0 m3/s"),
    ('"400 Pa", "100 Pa"', '"400 Pa", "450 Pa"', "[second_shaft.fan] pressures", "must fall from value to value"),
    ('"400 Pa", "100 Pa"', '"400 Pa"', "[second_shaft.fan] pressures", "must hold as many values as flows, 3; got 2"),
    ('wall = "30 m2"', 'wall = "30 m"', "[second_shaft] wall", "got '30 m', which is a length"),
    ('wall = "30 m2"', "", "[second_shaft] wall", "is missing"),
]


@pytest.mark.parametrize(("right", "wrong", "place", "sentence"), SLIPS)
def test_each_slip_is_told_with_its_line(right, wrong, place, sentence):
    text = with_shaft((right, wrong))
    with pytest.raises(SiteFileError) as caught:
        read_site_text(text, "house.toml")
    told = next(line for line in str(caught.value).splitlines() if place in line)
    assert sentence in told
    assert re.match(r"house\.toml, line \d+, ", told)


def test_a_shaft_without_a_fan_and_a_loop_upside_down_are_refused():
    text = with_shaft()
    no_fan = text[: text.index("[second_shaft.fan]")] + text[text.index("\n[design]") :]
    with pytest.raises(SiteFileError, match=r"\[second_shaft\] fan: is missing; a shaft that is pressurised has a fan of its own"):
        read_site_text(no_fan)
    with pytest.raises(SiteFileError, match="must be above the lowest speed of 60 Hz"):
        read_site_text(with_shaft(('lowest_speed = "10 Hz"', 'lowest_speed = "60 Hz"'), without=("speed",)))
    with pytest.raises(SiteFileError, match="must be above 0 Pa, since this fan blows in"):
        read_site_text(with_shaft(('set_point = "25 Pa"', 'set_point = "-25 Pa"'), without=("speed",)))
