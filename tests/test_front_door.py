"""The front door: what a user imports first, choices as text, results that show themselves and are arrays beneath."""

import subprocess
import sys

import numpy as np
import pytest
from demo_designs import design_of, site_of

import helpers
from helpers import Design, demo, formulas, read_site
from helpers.model.site.file import demo_sites
from helpers.record.page import SectionFace
from helpers.studies.doors.window import pressure_window
from helpers.studies.report import Section, Table

SHOWN = ("window", "rules", "fallback", "duty", "range", "tuning", "placement", "year")


@pytest.fixture(scope="module")
def design():
    return design_of("Larkfield House")


def test_the_door_loads_nothing_that_draws_or_shows():
    """A formula or a figure on the command line must not wait for widgets; who draws loads what draws."""
    asked = "import sys; from helpers import Design, formulas; print(sorted({m.partition('.')[0] for m in sys.modules}))"
    loaded = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout
    assert "'pydantic'" in loaded  # the list is one of modules
    assert not [name for name in ("ipywidgets", "matplotlib", "PIL", "IPython", "sympy", "openpyxl", "pint") if f"'{name}'" in loaded]


def test_a_demo_is_the_site_of_its_file_and_another_name_is_told_which_there_are():
    assert demo() == demo("Larkfield House") == read_site(demo_sites()["Larkfield House"])
    with pytest.raises(ValueError, match=r"name must be one of Larkfield House, .*; got 'Larkfeld'"):
        demo("Larkfeld")


def test_what_the_door_does_not_have_is_an_attribute_error():
    with pytest.raises(AttributeError, match="has no attribute 'Panel'"):
        helpers.Panel  # noqa: B018


def test_every_formula_is_behind_the_door():
    assert formulas.doors.opening_force(75, 0.91, 2.10, closer_force_n=40) > formulas.doors.opening_force(50, 0.91, 2.10, closer_force_n=40)
    assert all(hasattr(formulas, name) for name in formulas.__all__)


@pytest.mark.parametrize(("set_point", "pascals"), [("0.16 in. w.c.", 0.16 * 249.0889), ("45 Pa", 45.0), (45, 45.0)])
def test_a_set_point_is_welcome_as_text_and_as_a_number(set_point, pascals):
    assert Design(site_of("Larkfield House"), set_point=set_point).site.control.set_point_pa == pytest.approx(pascals)


@pytest.mark.parametrize("set_point", ["45", "45 N", "forty", [45, 46], float("inf")])
def test_a_set_point_that_is_none_gets_one_sentence(set_point):
    with pytest.raises(ValueError, match="set_point must be"):
        Design(site_of("Larkfield House"), set_point=set_point)


def test_but_changes_one_choice_and_keeps_the_others(design):
    mine = design.but(rule="lowest", units="in. w.c.").but(set_point="45 Pa")
    assert (mine.site.control.rule, mine.site.control.set_point_pa, mine.units) == ("lowest", 45.0, "in. w.c.")
    assert design.site.control.set_point_pa == 40.0
    assert repr(mine) == f"Design of Larkfield House: rule lowest, set point 0.18 in. w.c., {len(design.cases)} cases"
    assert mine.but(set_point=None).site.control.set_point_pa == 40.0
    with pytest.raises(TypeError, match="set_point_pa"):
        design.but(set_point_pa=45)


def test_a_new_rule_drops_the_weights_of_the_old_one(design):
    weighted = design.but(rule="weighted", weights=[0.75, 0.25])
    assert weighted.site.control.weights == (0.75, 0.25)
    assert weighted.but(rule="lowest").site.control.weights is None
    assert weighted.but(set_point="45 Pa").site.control.weights == (0.75, 0.25)


def test_rules_are_a_mapping_by_rule_with_arrays_beneath(design):
    assert list(design.rules) == ["average", "lowest", "highest"]
    assert design.rules["lowest"].door_dp_pa.shape == (len(design.cases), len(design.site.storeys))
    assert dict(design.rules)["average"] is design.own
    assert "middle" not in design.rules
    with pytest.raises(KeyError, match="rule must be one of average, lowest, highest; got 'middle'"):
        design.rules["middle"]


@pytest.mark.parametrize("name", SHOWN)
def test_a_result_is_computed_once_and_shows_the_verdict_of_its_section(design, name):
    result = getattr(design, name)
    assert getattr(design, name) is result
    bundle = result._repr_mimebundle_()
    assert set(bundle) == {"text/html", "text/plain"}
    key = {"rules": "rule", "fallback": "failure", "duty": "fan"}.get(name, name)
    assert design.section(key).verdict in bundle["text/plain"]
    assert "<table" in bundle["text/html"]


def test_a_result_is_shown_in_the_units_of_its_design(design):
    shown = design.but(units="in. w.c.").window._repr_mimebundle_()
    assert "in. w.c." in shown["text/plain"]
    assert " Pa" not in shown["text/plain"]


def test_a_plot_is_asked_for_by_its_key(design):
    assert design.rules.plot("profile lowest").words.startswith("Lowest reading")
    assert design.rules.plot().words.startswith("Average reading")
    with pytest.raises(ValueError, match="key must be one of profile average"):
        design.rules.plot("profile")
    with pytest.raises(ValueError, match="there is no plot of it"):
        design.window.plot()


def test_a_result_without_a_design_is_written_as_python_writes_it():
    window = pressure_window(site_of("Larkfield House"))
    assert window._repr_mimebundle_() == {"text/plain": repr(window)}
    with pytest.raises(ValueError, match="only where a Design made it"):
        window.plot()
    assert window == design_of("Larkfield House").window  # a face is not what a result holds


def test_a_section_with_more_tables_than_one_names_the_others():
    tables = [Table(f"table {number}", f"Table {number}", ("A",), (("1",),)) for number in range(3)]
    shown = SectionFace(Section("k", "Title", "Words.", tables=tuple(tables))).bundle()
    assert "Table 0" in shown["text/html"]
    assert "Table 1" not in shown["text/html"]
    assert "In the record beside these: tables: table 1 and table 2." in shown["text/plain"]


def test_the_record_has_the_sections_of_the_design(design):
    assert [section.title for section in design.record().sections[:2]] == ["Building and cases", "Pressure window"]
    with pytest.raises(ValueError, match="key must be one of site, window"):
        design.section("cost")
    assert np.isfinite(design.window.least_pa)
