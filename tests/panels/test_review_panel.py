"""The review on its panel: what is typed over changes the findings, and what cannot be used is told and lost nowhere."""

import pytest

from helpers.model.site import SiteFileError
from helpers.model.strategy import read_strategy
from helpers.panels.controls import UNITS
from helpers.panels.review_panel import DEFAULT_STRATEGY, STRATEGIES_FOLDER, ReviewPanel, demo_strategies, site_of


@pytest.fixture(scope="module")
def one_panel():
    """Made once for all tests of the file, alone with the unit switch."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        yield ReviewPanel()


@pytest.fixture
def opened(one_panel):
    """Opens a strategy that comes with the workbook as its file has it, whatever the test before has moved."""

    def opened(name):
        UNITS.system = "Pa"
        controls = one_panel.panel.controls
        moved = one_panel.strategy != one_panel.read or one_panel.panel.verdict.kind == "entry"
        if moved or (controls["name"].value, controls["file"].text) != (name, ""):
            one_panel.panel.put(file="", name=name)
        assert one_panel.strategy == one_panel.read == read_strategy(demo_strategies()[name])
        return one_panel

    return opened


@pytest.fixture
def panel(opened):
    return opened(DEFAULT_STRATEGY)


def test_the_verdict_counts_and_names_the_gravest(panel):
    assert panel.panel.verdict.kind == "wrong"
    assert f"of {len(panel.review.keys) + len(panel.review.clear)} things that were looked for" in panel.panel.verdict.words
    assert panel.review.findings[0].what in panel.panel.verdict.words


def test_every_demo_strategy_can_be_reviewed(panel):
    for name in demo_strategies():
        panel.panel.controls["name"].value = name
        assert panel.review.strategy_name == panel.read.name
        assert all(finding.what.split(":")[0] in panel.list.value.replace("&#x27;", "'") for finding in panel.review.findings[:3])


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


def test_the_right_entry_clears_the_findings_on_scaling(panel):
    assert {"entered range", "two scales"} <= set(panel.review.keys)
    panel.panel.controls["top_1"].value = 125.0
    assert not {"entered range", "two scales", "average hides"} & set(panel.review.keys)


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


def test_a_strategy_of_ones_own_beside_its_own_site(panel, tmp_path):
    text = (STRATEGIES_FOLDER / "larkfield_sound.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(text.replace("Larkfield House, as designed", "Mine"), encoding="utf-8")
    panel.panel.controls["file"].text = str(tmp_path / "mine.toml")
    assert panel.review.strategy_name == "Mine"


@pytest.mark.parametrize(("site", "sentence"), [("../../etc/passwd", "without folders"), ("atlantis", "one of the demo sites")])
def test_a_site_is_looked_for_beside_the_strategy_and_nowhere_else(panel, site, sentence):
    with pytest.raises(ValueError, match=sentence):
        site_of(panel.read.model_copy(update={"site": site}), STRATEGIES_FOLDER / "x.toml")


def test_a_broken_site_beside_the_strategy_says_what_and_where(panel, tmp_path):
    (tmp_path / "larkfield_house.toml").write_text("name = 3", encoding="utf-8")
    with pytest.raises(SiteFileError, match=r"larkfield_house.toml, line 1, name: must be text"):
        site_of(panel.read, tmp_path / "mine.toml")


def test_without_a_kernel_the_page_has_picture_and_findings(panel):
    bundle, _ = panel._repr_mimebundle_()
    assert "image/png" in bundle
    assert "Nothing is set for a failed reading" in bundle["text/plain"]
    assert "a loop without integral action" in panel.clear().text
