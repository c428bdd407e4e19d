"""Standards as files: what each asks, what is blank, and what a wrong file is refused for."""

import pytest

from helpers.formulas import doors
from helpers.model.site.criteria import Criteria, criteria_for, criteria_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.field_types import CRITERIA_FOLDER, STANDARD_NAMES
from helpers.model.site.file import demo_sites, read_site, read_site_text
from helpers.units.said import written_out

EN_TEXT = (CRITERIA_FOLDER / "en12101_6_2005.toml").read_text(encoding="utf-8")


def read(text):
    return read_site_text(text, "mine.toml", kinds=(Criteria,))


@pytest.mark.parametrize("name", STANDARD_NAMES)
def test_every_standard_of_the_folder_reads_and_says_how_each_figure_is_known(name):
    found = criteria_of(name)
    for part in (found.least_doors_shut, found.most_doors_shut, found.least_exit_open, found.response, *found.forces):
        assert part.source
        assert part.blank == (part.known == "blank")


def test_a_us_site_is_asked_for_no_recovery_time_and_a_european_one_of_2005_for_three_seconds():
    assert criteria_of("nfpa92").response_s is None
    assert not criteria_of("nfpa92").response.blank
    assert criteria_of("en12101").response_s == 3.0
    assert "superseded in 2022" in criteria_of("en12101").standing


def test_the_name_that_older_site_files_use_is_the_edition_of_2005():
    assert criteria_of("en12101") == criteria_of("en12101_6_2005")


def test_the_us_has_three_forces_at_the_latch_stile_and_europe_one_at_the_handle():
    us, europe = criteria_of("nfpa92"), criteria_of("en12101")
    assert [(force.step, force.at, written_out(force.shown(), "in. w.c.")) for force in us.forces] == [
        ("release the latch", "latch stile", "15 lbf"),
        ("set in motion", "latch stile", "30 lbf"),
        ("open to the full width", "latch stile", "15 lbf"),
    ]
    assert [(force.at, force.limit) for force in europe.forces] == [("handle", 100.0)]
    assert us.motion_force.step == "set in motion"


def test_the_files_print_what_the_formulas_constants_are():
    us, europe = criteria_of("nfpa92"), criteria_of("en12101")
    latch, motion, width = (force.limit for force in us.forces)
    assert motion == pytest.approx(doors.FORCE_LIMITS_N["nfpa101_set_in_motion"], rel=1e-6)
    assert latch == width == pytest.approx(doors.FORCE_LIMITS_N["nfpa101_free_latch"], rel=1e-6)
    assert us.building_code_least.limit == pytest.approx(doors.STAIR_PRESSURES_PA["ibc_least"], rel=1e-6)
    assert us.building_code_most.limit == pytest.approx(doors.STAIR_PRESSURES_PA["ibc_most"], rel=1e-6)
    assert europe.least_pa == doors.STAIR_PRESSURES_PA["en12101_6_doors_shut"]
    assert europe.forces[0].limit == doors.FORCE_LIMITS_N["en12101_6"]


def test_the_edition_of_2022_is_all_blanks_and_names_them():
    found = criteria_of("en12101_13_2022")
    assert found.least_pa is None
    assert found.response_s is None
    assert found.response.blank
    assert "force to open the door" in found.blanks
    assert len(found.blanks) == 6
    assert found.least_doors_shut.shown() == "blank: fill in from the text"


def test_who_has_the_text_fills_a_blank_in():
    text = (CRITERIA_FOLDER / "en12101_13_2022.toml").read_text(encoding="utf-8")
    mine = text.replace('value = "blank"\nsource = "EN 12101-13:2022, text not at hand"\nknown = "blank"',
                        'value = "30 Pa"\nsource = "clause so and so"\nknown = "seen"', 1)  # fmt: skip
    assert read(mine).least_pa == 30.0
    assert len(read(mine).blanks) == 5


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            '[response]\nvalue = "3 s"\n',
            "[response]\n",
            'response] value: is missing; it must be a time above 0 s up to 100000 s, such as "3 s"',
        ),
        ("[least_doors_shut]", "[least]", "least_doors_shut]: is missing; every criteria file needs it"),
        ("[[forces]]", "[[force]]", "[[forces]]: is missing; every criteria file needs one at least"),
        ('value = "50 Pa"', 'value = "50 N"', "must be a pressure"),
        ('value = "50 Pa"', 'value = "-50 Pa"', "must be a pressure from 0 Pa to"),
        ('value = "50 Pa"', 'value = "blank"', "must be blank where the value is blank; got 'reviewed'"),
        ('value = "100 N"', 'value = "none at all"', 'or "none" where nothing is asked, or "blank" where the text is not at hand'),
        ('step = "open the door"', 'step = "push"', "must be one of 'release the latch'"),
        ('known = "memory"', 'known = "sure"', "must be one of 'seen', 'reviewed', 'memory', 'practice', 'blank'"),
        ('kind = "criteria"', 'kind = "stair"', "must be 'criteria'"),
    ],
)
def test_a_criteria_file_with_something_missing_or_wrong_is_refused_with_its_place(old, new, told):
    assert old in EN_TEXT
    with pytest.raises(SiteFileError) as refusal:
        read(EN_TEXT.replace(old, new))
    assert told in str(refusal.value)
    assert "mine.toml" in str(refusal.value)


def test_a_step_stated_twice_is_refused():
    force = EN_TEXT[EN_TEXT.index("[[forces]]") : EN_TEXT.index("[[open_door_speeds]]")]
    with pytest.raises(SiteFileError, match="must be stated once; 'open the door' is there twice"):
        read(EN_TEXT.replace(force, force + force))


def test_an_unknown_standard_is_refused_by_the_site_file_and_names_those_there_are():
    text = demo_sites()["Larkfield House"].read_text(encoding="utf-8").replace('"nfpa92"  ', '"nfpa93"  ', 1)
    with pytest.raises(
        SiteFileError, match="standard: must be one of 'en12101_13_2022', 'en12101_6_2005', 'nfpa92', 'en12101'; got 'nfpa93'"
    ):
        read_site_text(text)
    with pytest.raises(ValueError, match="standard must be one of"):
        criteria_of("nfpa93")


def test_the_demo_sites_name_a_standard_that_reads():
    for path in demo_sites().values():
        assert criteria_of(read_site(path).standard).name


def test_a_class_of_system_is_asked_what_the_standard_asks_of_it_alone():
    europe = criteria_of("en12101")
    assert europe.by_class
    assert europe.of_class(None) == europe
    assert [one.limit for one in europe.of_class("C").open_door_speeds] == [0.75]
    assert europe.of_class("C").least_exit_open.limit == 10.0
    assert [one.limit for one in europe.of_class("B").open_door_speeds] == [2.0]
    assert europe.of_class("A").least_exit_open.limit is None
    assert not criteria_of("nfpa92").by_class
    assert criteria_of("nfpa92").of_class("B") == criteria_of("nfpa92")
    blank = criteria_of("en12101_13_2022").of_class("B")
    assert blank.least_exit_open.blank  # a blank stays one, whatever the class
    assert all(one.blank for one in blank.open_door_speeds)


INCH = 249.08891
FT = 0.3048


@pytest.mark.parametrize(
    ("sprinklers", "code", "ceiling_ft", "least_inch", "most_inch"),
    [
        (True, False, 40.0, 0.05, None),
        (True, True, 9.0, 0.10, 0.35),
        (False, False, 8.0, 0.10, None),
        (False, False, 9.0, 0.10, None),
        (False, False, 9.1, 0.14, None),
        (False, True, 15.0, 0.14, 0.35),
        (False, False, 21.0, 0.18, None),
        (False, False, 27.0, 0.22, None),
        (None, None, 9.0, 0.10, 0.35),
        (None, False, 15.0, 0.14, None),
        (True, None, 15.0, 0.10, 0.35),
    ],
)
def test_the_us_least_goes_by_sprinklers_ceiling_and_adopted_code_and_what_is_not_stated_by_the_higher(
    sprinklers, code, ceiling_ft, least_inch, most_inch
):
    found = criteria_of("nfpa92").of_building(sprinklers, code, ceiling_ft * FT)
    assert found.least_pa == pytest.approx(least_inch * INCH, rel=1e-5)
    assert found.most_doors_shut.limit == (None if most_inch is None else pytest.approx(most_inch * INCH, rel=1e-5))
    assert ("IBC" in found.least_doors_shut.source) == (least_inch == 0.10 and (code is not False) and sprinklers is True)
    assert not found.by_building_code


def test_a_european_standard_asks_the_same_whatever_the_building():
    europe = criteria_of("en12101")
    assert europe.of_building(None, None, 6.0) == europe


def test_a_blank_of_the_code_is_a_blank_where_it_is_adopted_and_nothing_where_it_is_not():
    text = (CRITERIA_FOLDER / "nfpa92.toml").read_text(encoding="utf-8")
    one = 'value = "0.10 in. w.c."\nsource = "IBC 909.20.5, stair over building, doors shut, with or without sprinklers"\nknown = "seen"'
    assert one in text
    blank = read(text.replace(one, 'value = "blank"\nsource = "not at hand"\nknown = "blank"'))
    assert "building code least" in blank.blanks
    assert blank.of_building(True, True, 2.6).least_doors_shut.blank
    assert blank.of_building(True, False, 2.6).least_pa == pytest.approx(0.05 * INCH, rel=1e-5)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('classes = "C, D, E"', 'classes = "C to E"', "classes: must name each class once by its letter, A, B, C, D, E or F"),
        ('classes = "C, D, E"', 'classes = "C, C, E"', "got 'C, C, E'"),
        ('classes = "B, F"', 'classes = "firefighting"', "got 'firefighting'"),
        ('classes = "B, F"', 'classes = ","', "got ','"),
        ('doors_shut_for = "C" ', 'doors_shut_for = "B, C" ', "doors_shut_for: must name classes that classes names too, 'C, D, E'; got B"),
    ],
)
def test_a_criteria_file_with_classes_names_each_of_them(old, new, told):
    """Else nothing is asked of a class that nobody could read, and its stair passes by it."""
    assert old in EN_TEXT
    with pytest.raises(ValueError, match=r"mine\.toml") as refusal:
        read(EN_TEXT.replace(old, new))
    assert told in str(refusal.value)
    assert read(EN_TEXT.replace('classes = "C, D, E"', 'classes = "C D,E"')).of_class("D").least_exit_open.limit == 10.0


def test_ceilings_that_do_not_rise_are_refused():
    text = (CRITERIA_FOLDER / "nfpa92.toml").read_text(encoding="utf-8")
    with pytest.raises(SiteFileError, match="must rise from row to row"):
        read(text.replace('up_to = "15 ft"', 'up_to = "9 ft"'))


def test_a_site_is_judged_by_what_its_file_states_of_the_building():
    larkfield = read_site(demo_sites()["Larkfield House"])
    assert criteria_for(larkfield).least_pa == pytest.approx(0.10 * INCH, rel=1e-5)
    assert criteria_for(larkfield.with_changes(ceiling_height_m=None)).least_pa == pytest.approx(
        0.14 * INCH, rel=1e-5
    )  # 4.2 m at the ground
    assert criteria_for(larkfield.with_changes(sprinklers=True, building_code_adopted=False)).least_pa == pytest.approx(
        0.05 * INCH, rel=1e-5
    )
