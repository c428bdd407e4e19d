"""What the README says of Tannery Row in figures is what its record and that of its variant have."""

import re
from pathlib import Path

from helpers.record.papers.quoted import Quoted
from helpers.studies.duty.relief_damper import relief_said
from helpers.units.said import written_out

README = " ".join((Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8").split())
SAID = re.search(r"\*Tannery Row\* is one whose three FAILs.*?longer than its file allows\.", README)[0]


def test_its_three_fails_have_its_one_relief_damper_for_a_cause(design_named):
    design = design_named("Tannery Row")
    fails = [one for one in design.record().findings if one.severity == "wrong"]
    assert len(fails) == 3
    assert all("relief damper" in written_out(f"{one.what} {one.figure}") for one in fails)
    assert [relief.count for relief in design.site.stair.reliefs] == [None]


def test_the_speeds_and_dampers_that_it_names_are_those_of_the_record(design_named):
    design, laid_down = design_named("Tannery Row"), design_named("all laid down")
    told = written_out(str([(one.what, one.figure, one.remedy) for one in design.record().findings]))
    least_bad, area, tried = re.search(
        r"fallback speed is then ([\d.]+) Hz; with the three dampers of ([\d.]+) m² that its record asks for in place of it doors were "
        r"tried at ([\d.]+) Hz", SAID).groups()  # fmt: skip
    assert f"the least bad: agreed fallback speed, {least_bad} Hz" in told
    assert f"3 dampers of {area}0 m² each" in told
    assert f"at a speed kept of {tried} Hz" in told
    assert "the variant with two fans has such three" in SAID  # its dampers are those of the stair on which all is laid down
    assert written_out(relief_said(*laid_down.site.stair.reliefs)).startswith(f"3 dampers of {area}0 m² each")
    fallback = re.search(r"such three, the fallback speed ([\d.]+) Hz", SAID)[1]
    assert written_out(Quoted(laid_down).setting("failure", "fallback speed").value).startswith(f"{fallback} Hz")
