"""The review on its panel: what is typed over changes the findings, and what cannot be used is told and lost nowhere."""

import re
from html import unescape

import numpy as np
import pytest

from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites
from helpers.pages.review import (
    DEFAULT_STRATEGY,
    GROUPS,
    NO_STRATEGY,
    OF_FILE,
    OF_STRATEGY,
    STRATEGIES_FOLDER,
    ReviewPanel,
    demo_strategies,
    site_of,
)
from helpers.plots.markup import MOST_TILES, MOST_WORDS
from helpers.record.review.study import KINDS, final_exits_shown, review_profile
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS


@pytest.fixture(scope="module")
def one_panel():
    """Made once for all tests of the file, alone with the unit switch."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        yield ReviewPanel()


@pytest.fixture(scope="module")
def walked(one_panel):
    """Every strategy that comes with the workbook, opened once in each system of units: what the page shows then, by name and system.

    One strategy in both systems before the next one: the studies behind it are made once.
    """
    shown, systems = {}, ["Pa", "in. w.c."]
    for name in demo_strategies():
        one_panel.panel.put(file="", name=name)
        for system in systems:
            UNITS.system = system
            bundle = one_panel._repr_mimebundle_()
            names = (one_panel.review.strategy_name, one_panel.read.name, one_panel.strategy.name)
            shown[name, system] = (one_panel.panel.verdict, one_panel.review, names, bundle, one_panel.list.value)
        systems.reverse()
    UNITS.system = "Pa"
    return shown


@pytest.fixture
def opened(one_panel):
    """Opens a strategy that comes with the workbook as its file has it, whatever the test before has moved."""

    def opened(name):
        UNITS.system = "Pa"
        controls = one_panel.panel.controls
        moved = one_panel.strategy != one_panel.read or one_panel.panel.verdict.kind == "entry"
        if moved or (controls["name"].value, controls["file"].text) != (name, ""):
            one_panel.panel.put(file="", name=name)
        assert one_panel.strategy == one_panel.read == read_any_strategy(demo_strategies()[name])
        return one_panel

    return opened


@pytest.fixture
def panel(opened):
    return opened(DEFAULT_STRATEGY)


def test_the_verdict_counts_and_names_the_gravest(panel):
    assert panel.panel.verdict.kind == "wrong"
    review = panel.review
    assert len(review.keys) + len(review.clear) + len(review.unjudged) == len(KINDS)  # found, not found, could not be judged: all of them
    judged, left = len(review.keys) + len(review.clear), len(review.unjudged)
    assert left > 0
    assert f"of {judged} things that were judged; {left} more could not be judged." in panel.panel.verdict.words
    assert panel.review.findings[0].what in panel.panel.verdict.words


def test_the_headline_names_a_door_out_now_with_its_case_and_what_to_do_is_an_entry_that_clears_its_finding(panel):
    verdict = panel.panel.verdict
    assert re.fullmatch(r"[\d.]+ Pa short of 25 Pa at stair door 0", verdict.head)
    assert verdict.case == "wrong entry of PDT-2, winter, doors shut, first minute; it hides 2 more FAIL"
    assert verdict.do == "Ask: the designer first: with PDT-2 right, final exit 0 has 60 Pa, max. 35.4 Pa"  # it makes that door worse
    low, high = panel._made.bench.limits
    worst = np.maximum(low - panel._made.bench.resting.places, panel._made.bench.resting.places - high)[panel._made.bench.settled].max()
    assert float(verdict.head.split()[0]) == pytest.approx(worst, abs=0.6)
    before = panel.review
    panel.panel.controls["top_1"].value = 125.0
    assert "entered range" not in panel.review.keys
    show = {one.key for one in panel.review.findings if one.severity == "wrong"} - {*before.keys}
    assert panel.panel.verdict.case.partition(";")[1:] == ("", "")
    assert len(show) == before.hidden == 2  # as many as its case has said


def test_the_tiles_are_the_parts_of_the_one_count_over_the_list(walked):
    """Two totals of FAIL on one screen were read as a mistake of the page."""
    seen = 0
    for (name, _), (verdict, made, *_) in walked.items():
        fails = sum(one.severity == "wrong" for one in made.findings)
        if fails:
            seen += 1
            assert {limit for *_, limit in verdict.tiles} == {f"of {fails} FAIL"}, name
            assert sum(int(value) for _, value, _ in verdict.tiles) == fails, name
            parts = [len(found) for title, found in made.groups() if "Wrong" in title]
            assert [int(value) for _, value, _ in verdict.tiles] == parts, name
    assert seen >= 3


def test_a_wrong_entry_heads_the_list_of_what_an_entry_mends(panel):
    """What the headline asks to enter is the first line of its list, and nothing else that is wrong comes before it."""
    _, findings = panel.review.groups()[0]
    assert findings[0].key == "entered range"
    assert panel.review.findings[0] == findings[0]


def test_no_line_of_what_to_do_has_an_entry_made_in_automatic_or_without_approval(walked):
    """In automatic the fan follows an entry at once: as found, the mended range takes it some 6 Hz up."""
    entries = 0
    for (name, _), (verdict, made, *_) in walked.items():
        if verdict.do.startswith("Do: "):
            entries += 1
            approved = "approval first, " if made.bench.smoke_control else ""
            assert verdict.do.startswith(f"Do: {approved}fan in manual: "), name
    assert entries >= 2


def test_the_case_and_the_final_exit_of_the_headline_are_on_its_picture(walked):
    drawn = 0
    for (name, system), (verdict, made, *_) in walked.items():
        plot = written_out(review_profile(made.bench), system)
        if verdict.case and not verdict.head.startswith("Every place"):  # else it names what is to be looked at first
            case = re.sub(r"^wrong entry of .*?, (?=\w+, )", "", verdict.case.partition(";")[0])  # stands before the case
            assert plot.legend[0].text.startswith(case.replace(", doors shut", "")), name
        if "final exit" in verdict.head:
            drawn += 1
            squares = [line for axes in plot.axes for line in axes.layers if getattr(line, "label", "") == "exit"]
            exits = final_exits_shown(made.bench, _case_of(made, verdict))
            assert any(np.isclose(squares[0].x.max(), dp) for _, dp, most in exits if dp > most)
    assert drawn == 2


def _case_of(made, verdict):
    return [case.name for case in made.bench.cases].index(verdict.case.partition(";")[0])


def test_the_title_of_a_group_says_what_it_holds_and_how_many(panel):
    for title, findings in panel.review.groups():
        assert title.endswith(f": {len(findings)}")
        assert ("Wrong" in title) == all(one.severity == "wrong" for one in findings)
        assert ("now" in title) == all(one.severity == "wrong" and not one.possible for one in findings)


def test_what_is_out_now_stands_before_what_would_be_after_a_failure_and_nothing_is_lost(panel):
    groups = panel.review.groups()
    told = [one.what for _, found in groups for one in found]
    assert told
    assert sorted(told) == sorted(one.what for one in panel.review.findings if one.severity != "good")
    possible = [one.possible for _, found in groups for one in found if one.severity == "wrong"]
    assert possible == sorted(possible)
    assert {"Nothing is set for a failed reading"} <= {one.what for _, found in groups for one in found if one.possible}
    assert all(title in unescape(panel.list.value) for title, _ in groups)


def test_no_more_than_two_lines_are_drawn_one_for_each_end(panel):
    (plot,) = written_out((review_profile(panel._made.bench),))
    assert len([entry for entry in plot.legend if entry.pen]) <= 2


def test_every_demo_strategy_can_be_reviewed(walked):
    for (name, _), (_, made, names, _, listed) in walked.items():
        assert len({*names}) == 1, name
        assert all(finding.what.split(":")[0] in unescape(listed) for finding in made.findings[:3])


def test_page_13_opens_every_strategy_in_both_systems_of_units(walked):
    assert len(walked) == 2 * len(demo_strategies())
    for (name, system), (verdict, _, _, bundle, listed) in walked.items():
        assert verdict.kind != "entry", verdict.words
        assert 3 <= len(verdict.head.split()) <= MOST_WORDS
        assert len(verdict.tiles) <= MOST_TILES
        assert "data:image/png" in bundle["text/html"]
        if system != "Pa":
            assert " Pa" not in f"{bundle['text/plain']} {listed}", name


def test_nothing_that_fails_in_the_sound_strategies_is_the_strategys(walked):
    sound = [name for name in demo_strategies() if name.endswith("Sound")]
    assert sound
    for name in sound:
        assert [finding.what for finding in walked[name, "Pa"][1].of_strategy if finding.severity == "wrong"] == [], name


def test_the_right_entry_clears_the_findings_on_scaling(panel):
    assert {"entered range", "two scales"} <= set(panel.review.keys)
    panel.panel.controls["top_1"].value = 125.0
    assert not {"entered range", "two scales"} & set(panel.review.keys)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("gain", "much", "Gain: write a number"),
        ("gain", "0", "Gain: must be above 0"),
        ("integral_time_s", "4 Pa", "must be a time"),
        ("integral_time_s", "0 s", "Integral time: must be above zero"),
        ("file", "nowhere.toml", "nowhere.toml: is not there"),
    ],
)
def test_what_cannot_be_used_is_told_and_the_last_review_stays(panel, name, text, sentence):
    before = panel.review
    panel.panel.controls[name].text = text
    assert panel.panel.verdict.kind == "entry"
    assert sentence in panel.panel.verdict.words
    assert panel.panel.controls[name].text == text
    assert panel.review is before


def test_units_switch_over_in_the_findings_too(panel):
    UNITS.system = "in. w.c."
    assert "in. w.c." in panel.list.value
    assert " Pa" not in panel.list.value


@pytest.mark.parametrize(("site", "sentence"), [("../../etc/passwd", "without folders"), ("atlantis", "one of the demo sites")])
def test_a_site_is_looked_for_beside_the_strategy_and_nowhere_else(panel, site, sentence):
    with pytest.raises(ValueError, match=sentence):
        site_of(panel.read.model_copy(update={"site": site}), STRATEGIES_FOLDER / "x.toml")


def test_a_broken_site_beside_the_strategy_says_what_and_where(panel, tmp_path):
    (tmp_path / "larkfield_house.toml").write_text("name = 3", encoding="utf-8")
    with pytest.raises(SiteFileError, match=r"larkfield_house.toml, line 1, name: must be text"):
        site_of(panel.read, tmp_path / "mine.toml")


def test_without_a_kernel_the_page_has_picture_and_findings(panel):
    bundle = panel._repr_mimebundle_()
    assert "data:image/png" in bundle["text/html"]
    assert "Nothing is set for a failed reading" in bundle["text/plain"]
    assert "a loop without integral action" in panel.clear().text


def test_a_garage_has_a_set_point_in_ppm_and_no_entered_pressures(opened):
    panel = opened("Orchard Sound")
    controls = panel.panel.controls
    assert controls["set_point_ppm"].shown
    assert not controls["set_point_pa"].shown
    controls["set_point_ppm"].value = 60.0
    assert panel.strategy.set_point == 60.0
    assert panel.review.bench.dimension == "concentration"
    controls["action"].value = "reverse"
    assert "wrong action" in panel.review.keys


def test_storeys_of_the_picture_have_labels_that_do_not_touch(panel):
    (axes,) = panel.panel.picture.figure.axes
    ticks = axes.get_yticks()
    apart = abs(float(ticks[1] - ticks[0])) / abs(float(axes.get_ylim()[1] - axes.get_ylim()[0])) * axes.bbox.height
    assert apart >= 22.0
    assert "e+0" not in panel.panel.picture.words


def test_a_fan_at_its_lowest_speed_that_leaves_places_out_is_a_fail_of_the_building(opened):
    panel = opened("Quayside Sound")
    assert panel.panel.verdict.kind == "wrong"
    found = next(one for one in panel.review.found if one.key == "at lowest speed")
    assert (found.finding.severity, found.whose) == ("wrong", "the building")
    assert "where 0 Pa is asked for" in found.finding.figure


# From here on the sound strategy, whose studies are then made once.


def test_a_strategy_of_ones_own_beside_its_own_site(panel, tmp_path):
    text = (STRATEGIES_FOLDER / "larkfield_sound.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(text.replace("Larkfield House, as designed", "Mine"), encoding="utf-8")
    panel.panel.controls["file"].text = str(tmp_path / "mine.toml")
    assert panel.review.strategy_name == "Mine"


def test_what_was_looked_for_and_not_found_follows_the_chooser_and_the_entries(opened):
    panel = opened("Larkfield Sound")
    shown = panel.clear()
    assert panel.review.strategy_name in shown.widget.value
    assert "a wrong action" in shown.text or "action" in shown.text
    before = shown.widget.value
    panel.panel.put(action="direct")
    assert shown.widget.value != before
    panel.panel.put(name="Orchard Sound")
    assert panel.review.strategy_name in shown.widget.value
    lines = shown.text.splitlines()[1:]
    assert lines[: len(panel.review.clear)] == list(panel.review.clear)
    assert lines[-1] == ": ".join(panel.review.unjudged[-1])
    assert panel.review.unjudged[-1][1] in shown.widget.value


MOVES = [
    ("action", "direct", "wrong action"),
    ("gain", "12", "unstable"),
    ("integral_time_s", "none", "no integral"),
    ("rule", "lowest", "door too heavy"),
]


@pytest.mark.parametrize(("name", "value", "key"), MOVES)
def test_a_control_that_is_moved_changes_the_findings(opened, name, value, key):
    panel = opened("Larkfield Sound")
    assert key not in panel.review.keys
    control = panel.panel.controls[name]
    if hasattr(control, "text"):
        control.text = value
    else:
        control.value = value
    assert key in panel.review.keys


def test_a_strategy_that_is_not_there_is_not_called_a_site_file():
    with pytest.raises(SiteFileError, match=r"is not there; looked in .*; such a file is plain text"):
        read_any_strategy("nothing/there.toml")


def test_another_building_is_reviewed_by_its_own_file_and_never_by_the_strategy_of_the_one_before(opened):
    panel = opened(DEFAULT_STRATEGY)
    panel.panel.put(site="Tannery Row")
    site = read_any_site(demo_sites()["Tannery Row"])
    assert panel.read == panel.strategy
    assert panel.strategy.loop.set_point_pa == site.control.set_point_pa
    for one, tap in zip(panel.strategy.inputs, site.transmitters, strict=True):
        assert (one.name, *one.range) == (tap.name, tap.range_low_pa, tap.range_high_pa)
        assert one.entered_as_it_is
    verdict = panel.panel.verdict
    assert NO_STRATEGY in verdict.case
    assert "Larkfield" not in f"{verdict.do} {panel.review.strategy_name}"
    assert panel.panel.controls["name"].value == OF_FILE
    panel.panel.put(site=OF_STRATEGY)
    assert panel.read == read_any_strategy(demo_strategies()[DEFAULT_STRATEGY])
    assert NO_STRATEGY not in panel.panel.verdict.case
    assert panel.panel.controls["name"].value == DEFAULT_STRATEGY


def test_the_list_of_sites_stands_first_in_view():
    assert next(iter(GROUPS.values()))[0] == "site"
