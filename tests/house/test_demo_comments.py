"""The comments of the demo files promise nothing that record or review of the same file refuses: people copy files with their comments."""

import json
import re
from pathlib import Path

import pytest
from demo_designs import design_of, review_of

from helpers.model.site.file import SITES_FOLDER

FILES = sorted((*SITES_FOLDER.glob("*.toml"), *(SITES_FOLDER.parent / "strategies").glob("*.toml")))
PROMISES = ("found by the", "from the fallback study", "agreed with the authority", "the highest at which", "sound example",
            "up to here the", "closes again at every", "at the handle (30 lbf, NFPA 101)")  # fmt: skip
# Which findings of a review speak of which entries of a strategy.
OF_ENTRY = {"preset speed": ("preset_speed",), "override": ("speed",), "alarms silent": ("alarm_low", "alarm_high", "difference")}


def comment_of(text, key):
    """The comments behind all lines that set a key."""
    return [found or "" for found in re.findall(rf"^{key} *= *[^#\n]*(?:# *(.*))?$", text, re.MULTILINE)]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_comment_of_a_demo_file_promises_what_a_study_has_to_find(path):
    comments = " ".join(re.findall(r"#(.*)", path.read_text(encoding="utf-8")))
    assert [phrase for phrase in PROMISES if phrase in re.sub(r"\s+", " ", comments)] == []


def test_an_entry_of_the_demo_strategy_that_its_review_fails_says_so_beside_itself():
    text = (SITES_FOLDER.parent / "strategies" / "larkfield_sound.toml").read_text(encoding="utf-8")
    failing = {one.key for one in review_of("larkfield_sound").found if one.finding.severity == "wrong"}
    for finding, keys in OF_ENTRY.items():
        first = [comment_of(text, key)[0].startswith("FAIL") for key in keys if key != "alarm_high"]
        assert first == [finding in failing] * len(first), finding


@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row", "Northgate Tower"])
def test_a_highest_speed_of_a_demo_site_that_its_record_refuses_says_so_and_why_beside_itself(name):
    (path,) = [one for one in FILES if one.stem == name.lower().replace(" ", "_")]
    for told in comment_of(path.read_text(encoding="utf-8"), "smoke_highest_speed"):
        design = design_of(name)
        refused, full = design.standing.setting_against("fan", "highest speed in smoke control"), design.duty.full
        assert told.startswith("FAIL") == bool(refused)
        if refused:  # the reason is the one that the record gives, with its figure
            assert set(re.findall(r"[0-9.]+ Hz", told)) == {f"{full.stuck_hz:.1f} Hz"} <= set(re.findall(r"[0-9.]+ Hz", refused))
            assert "relief damper stuck shut" in told
            assert ("final exit" in told) == ("final exit" in refused)


@pytest.mark.parametrize("name", ["larkfield_as_found", "larkfield_sound", "northgate_handed_over"])
def test_a_set_point_of_a_demo_strategy_that_its_review_fails_says_so_beside_itself(name):
    (told,) = comment_of((SITES_FOLDER.parent / "strategies" / f"{name}.toml").read_text(encoding="utf-8"), "set_point")
    made = review_of(name)
    failing = {one.key for one in made.found if one.finding.severity == "wrong"} & {"set point fails", "infeasible", "two temperatures"}
    assert told.startswith("FAIL") == bool(failing)
    assert ("no set point suits its doors" in told) == ("infeasible" in failing)
    record = design_of(made.site_name).standing
    if (made.bench.set_point, made.bench.strategy.loop.rule) == (record.site.control.set_point_pa, record.rule):
        assert told.startswith("FAIL") != record.set_point_stands


def test_the_page_that_tells_to_copy_the_demo_strategy_says_that_its_figures_fail():
    page = json.loads((Path(SITES_FOLDER).parents[1] / "notebooks" / "13_strategy_review.ipynb").read_text(encoding="utf-8"))
    (cell,) = ["".join(one["source"]) for one in page["cells"] if "larkfield_sound.toml" in "".join(one["source"])]
    assert "not for its figures" in cell
    assert "FAIL" in cell
