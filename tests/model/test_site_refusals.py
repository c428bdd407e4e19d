"""A wrong site file gets one clear message: where, what was found, what is allowed; several mistakes together; never a traceback."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.site import file
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site, read_site_text

PROPERTY = settings(max_examples=50, derandomize=True, deadline=None)

TEXT = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
TABLES = TEXT[TEXT.index("[[storeys]]") :]


def refusal_of(text):
    """What is told about a text that must be refused."""
    with pytest.raises(SiteFileError) as caught:
        read_site_text(text, "house.toml")
    return str(caught.value)


def told_about(text):
    """What is told about a text that may be refused; anything but a refusal or a site fails the test."""
    try:
        read_site_text(text, "house.toml")
    except SiteFileError as refusal:
        return str(refusal)
    return ""


def with_slips(*slips):
    """Larkfield House with each right text replaced by a wrong one."""
    text = TEXT
    for right, wrong in slips:
        assert right in text, right
        text = text.replace(right, wrong, 1)
    return text


def line_number(text, part):
    return text[: text.index(part)].count("\n") + 1


SLIPS = [
    ('faces = ["0 deg", "90 deg", "180 deg", "270 deg"]', 'faces = "0"', "faces", "must be a list; got '0'"),
    # units and numbers
    ('height = "2.9 m"', "height = 2.9", "[[storeys]] number 1, height", "got 2.9, which has no unit"),
    ('height = "2.9 m"', 'height = "2.9"', "[[storeys]] number 1, height", "got '2.9', which has no unit"),
    (
        'height = "2.9 m"',
        'height = "2.9 Pa"',
        "[[storeys]] number 1, height",
        "must be a length above 0 m up to 1000 m, such as \"3.1 m\"; got '2.9 Pa', which is a pressure",
    ),
    ('height = "2.9 m"', 'height = "tall"', "[[storeys]] number 1, height", "got 'tall', which is no number with a unit"),
    ('height = "2.9 m"', 'height = "0 m"', "[[storeys]] number 1, height", "above 0 m"),
    ('height = "2.9 m"', "height = nan", "[[storeys]] number 1, height", "no finite number"),
    ('height = "2.9 m"', "height = true", "[[storeys]] number 1, height", "got true"),
    ('height = "2.9 m"', 'height = ["2.9 m"]', "[[storeys]] number 1, height", "must be a length"),
    ('set_point = "40 Pa"', 'set_point = "inf Pa"', "[control] set_point", "must be a pressure"),
    ("gain = 0.6", "gain = nan", "[control] gain", "no finite number"),
    ("gain = 0.6", 'gain = "strong"', "[control] gain", "got 'strong'"),
    ("share = 1 ", "share = 1.5 ", "[[supplies]] number 1, share", "from 0 to 1"),
    ("motor_poles = 4", "motor_poles = 5", "[fan] motor_poles", "multiple of 2"),
    ("motor_poles = 4", "motor_poles = 4.5", "[fan] motor_poles", "a whole number"),
    ("level = 7", 'level = "7"', "[stair.relief] level", "a whole number without quotation marks; got '7'"),
    ("invented = true ", 'invented = "true" ', "invented", "must be true or false"),
    ('name = "Larkfield House"', "name = 14", "name", "must be text in quotation marks; got 14"),
    ('name = "Larkfield House"', 'name = ""', "name", "must not be empty"),
    # what the formulas go no further than
    (
        "discharge_coefficient = 0.65",
        "discharge_coefficient = 0.05",
        "[leakage] discharge_coefficient",
        "must be a number from 0.1 to 1, such as 0.65; got 0.05",
    ),
    ('efficiency = "60 %"', 'efficiency = "0.6 %"', "[fan] efficiency", "must be a number from 0.01 to 1, such as 0.62; got '0.6 %'"),
    ('wind_reference_height = "10 m"', 'wind_reference_height = "0.5 m"', "wind_reference_height", "from 1 m to 270 m"),
    # temperatures
    ('outdoor = "-9 °C"', 'outdoor = "-300 °C"', "[weather.winter] outdoor", "below absolute zero (-273.15 °C)"),
    ('outdoor = "-9 °C"', 'outdoor = "264 °C"', "[weather.winter] outdoor", "is the unit right? 264 K would do"),
    ('floor = "21 °C"', 'floor = "70 °C"', "[temperatures] floor", "is the unit right? 70 °F would do"),
    ('floor = "21 °C"', 'floor = "21 K"', "[temperatures] floor", "is the unit right? 21 °F would do"),
    # areas and leaks
    ('facade = "206 m2"', 'facade = "-206 m2"', "[[storeys]] number 1, facade", "an area of 0 m2 or more"),
    (
        'facade = "206 m2"',
        'facade = ["1 m2", "2 m2", "3 m2"]',
        "[[storeys]] number 1, facade, value 4",
        "is missing; the list is too short",
    ),
    ('facade = "206 m2"', 'facade = ["1 m2", "1 m2", "1 m2", "1 m2", "1 m2"]', "[[storeys]] number 1, facade", "at most 4 values; got 5"),
    ('facade = "206 m2"', "facade = []", "[[storeys]] number 1, facade, value 1", "is missing"),
    ('area = "0.5 m2"', 'area = "-0.5 m2"', "[stair.relief] area", "above 0 m2"),
    ('plan_area = "15 m2"', 'plan_area = "0 m2"', "[stair] plan_area", "above 0 m2"),
    (
        'stair_outside_wall = "8 m2"',
        'stair_outside_wall = "80 m2"',
        "[[storeys]] number 1, stair_outside_wall",
        "no more than stair_wall, 50 m2; got 80 m2",
    ),
    # storeys
    ('levels = "0..13"', 'levels = "13..0"', "[[storeys]] number 1, levels", "must rise"),
    ('levels = "0..13"', 'levels = "ground"', "[[storeys]] number 1, levels", 'must be text such as "0..13" or "5"'),
    ('levels = "0..13"', "levels = 13", "[[storeys]] number 1, levels", 'must be text such as "0..13" or "5"; got 13'),
    ('levels = "0..13"', 'levels = "0..5000"', "[[storeys]] number 1, levels", "to 300 at the highest"),
    ('levels = "0..13" ', "", "[[storeys]] number 1, levels", "is missing"),
    ('levels = "0"  ', 'levels = "-2"  ', "[[storeys]]", "must run without gap; storey -1 is not there"),
    (
        'stair_door = "flat landing"',
        'stair_door = "flat"',
        "[[storeys]] number 1, stair_door",
        "must be a door described under [doors] ('flat landing', 'street'); got 'flat'",
    ),
    ("lobby = false", "lobby = true", "[[storeys]] number 1, lobby_door", "a storey with a lobby needs the door from lobby to floor"),
    ("lift_doors = 0", "lift_doors = 2", "[[storeys]] number 1, lift_door", "is missing; there are 2 lift doors"),
    ("lift_doors = 0", "lift_doors = 2", "[[storeys]] number 1, lift_doors", "must be 0 where the site has no [lift]; got 2"),
    ("lift_doors = 0", "lift_doors = -1", "[[storeys]] number 1, lift_doors", "must be 0 or more; got -1"),
    # doors
    ('closer_force = "70 N"', 'closer_farce = "70 N"', '[doors."flat landing"] closer_farce', "the nearest right key is closer_force"),
    ('closer_force = "70 N"', 'closer_force = "140 N"', '[doors."flat landing"] closer_force', "below the force limit, 133 N; got 140 N"),
    ('closer_force = "80 N"\n', "", "[doors.street]", "all or none; closer_force is missing"),
    (
        'handle_to_edge = "0.07 m"',
        'handle_to_edge = "0.7 m"',
        '[doors."flat landing"] handle_to_edge',
        "below half the leaf's width, 0.455 m; got 0.7 m",
    ),
    ('leak_area = "0.024 m2"', 'leak_area = "2.4 m2"', '[doors."flat landing"] leak_area', "below the open door's area"),
    (
        'opens = "with pressure"',
        'opens = "outwards"',
        "[doors.street] opens",
        "must be 'against pressure' or 'with pressure'; got 'outwards'",
    ),
    # names out of lists
    ('terrain = "suburban"', 'terrain = "forest"', "terrain", "must be one of 'city', 'suburban', 'open', 'water'; got 'forest'"),
    (
        'standard = "nfpa92"',
        'standard = "mine"',
        "standard",
        "must be one of 'en12101_13_2022', 'en12101_6_2005', 'nfpa92', 'en12101'; got 'mine'",
    ),
    ('edition = "nfpa92_2012"', 'edition = "1066"', "[leakage] edition", "must be one of 'ashrae_1999', 'nfpa92_2012'"),
    ('stair_wall = "average"', 'stair_wall = "leaky"', "[leakage] stair_wall", "must be one of"),
    (
        'stair_wall = "average"',
        'stair_wall = "very_loose"',
        "[leakage] stair_wall",
        "must be one of 'tight', 'average', 'loose' in edition nfpa92_2012",
    ),
    ('signal = "4-20 mA"', 'signal = "4-20"', "[[transmitters]] number 1, signal", "must be one of '0-10 V'"),
    ('rule = "average"', 'rule = "least"', "[control] rule", "must be one of 'average', 'lowest', 'highest'"),
    # fan, supplies, relief
    ('"580 Pa"', '"601 Pa"', "[fan] pressures", "must fall from value to value as the flow rises; got 600, 601, 555"),
    ('"2 m3/s", "3', '"3.5 m3/s", "3', "[fan] flows", "must rise from value to value"),
    ('flows = ["0 m3/s"', 'flows = ["1 m3/s"', "[fan] flows", "must begin with 0 m3/s"),
    ('flows = ["0 m3/s", ', "flows = [", "[fan] pressures", "as many values as flows, 6; got 7"),
    ("pressures = [", "pressures = [] # ", "[fan] pressures", "must hold at least 2 values; got 0"),
    ('lowest_speed = "10 Hz"', 'lowest_speed = "60 Hz"', "[fan] highest_speed", "above the lowest speed of 60 Hz; got 50 Hz"),
    ("level = 13 ", "level = 14 ", "[[supplies]] number 1, level", "must be a storey of this site, from 0 to 13; got 14"),
    ("share = 1 ", "share = 0.9 ", "[[supplies]]", "must have shares that sum to 1; they sum to 0.9"),
    ("level = 7 ", "level = 77 ", "[stair.relief] level", "must be a storey of this site, from 0 to 13; got 77"),
    ('full = "75 Pa"', 'full = "50 Pa"', "[stair.relief] full", "must be above opens, 55 Pa; got 50 Pa"),
    # weather, transmitters, loop
    ("[weather.mild]", "[weather.autumn]", "[weather.mild]", "winter, summer and mild must be described"),
    ("level = 12\n", "level = 40\n", "[[transmitters]] number 2, level", "must be a storey of this site, from 0 to 13; got 40"),
    (
        'range_high = "125 Pa"',
        'range_high = "-125 Pa"',
        "[[transmitters]] number 1, range_high",
        "must be above range_low, 0 Pa; got -125 Pa",
    ),
    ('"PDT-2"', "'PDT-1'", "[[transmitters]] number 2, name", "'PDT-1' is there more than once"),
    (
        'reference = "floor"',
        'reference = "lobby"',
        "[[transmitters]] number 1, reference",
        "must be 'floor' or 'outdoors' on storey 1, which has no lobby",
    ),
    (
        'set_point = "40 Pa"',
        'set_point = "130 Pa"',
        "[control] set_point",
        "must lie in the range of a transmitter (0 to 125 Pa); got 130 Pa",
    ),
    ('rule = "average"', 'rule = "middle"', "[control] rule", "fewer than three transmitters"),
    ('rule = "average"', 'rule = "weighted"', "[control] weights", "is missing"),
    ("gain = 0.6", "gain = 0.6\nweights = [0.5, 0.5]", "[control] weights", "the rule is 'average'"),
    ('rule = "average"', 'weights = [1]\nrule = "weighted"', "[control] weights", "one value for each of the 2 transmitters; got 1"),
    ('rule = "average"', 'weights = [0, 0]\nrule = "weighted"', "[control] weights", "must not all be zero"),
    # what a loop really has
    ('response = "0.1 s"', 'damping = "-1 s"', "[[transmitters]] number 1, damping", "must be a time from 0 s to 3600 s"),
    ('response = "0.1 s"', "damping = nan", "[[transmitters]] number 1, damping", "got nan, which is no finite number"),
    ('response = "0.1 s"', "damping = inf", "[[transmitters]] number 1, damping", "got inf, which is no finite number"),
    ('response = "0.1 s"', 'damping = ["0 s", "inf s", "2 s"]', "[[transmitters]] number 1, damping", "must be a time from 0 s to 3600 s"),
    (
        'response = "0.1 s"',
        'damping = ["0.4 s", "0.2 s", "1 s"]',
        "[[transmitters]] number 1, damping",
        "must not fall from low over likely to high; got 0.4 s, 0.2 s, 1 s",
    ),
    ('response = "0.1 s"', 'damping = ["0 s", "1 s"]', "[[transmitters]] number 1, damping", "low, likely, high; got a list of 2"),
    ('response = "0.1 s"', 'tube_bore = "4 mm"', "[[transmitters]] number 1, tube_length", "is missing; a tube_bore alone says nothing"),
    ('ramp = "6 s"', 'ramp = "0 s"', "[fan] ramp", "must be above 0 s where inertia is stated: no drive turns a wheel in no time"),
    ('ramp = "6 s"', "", "[fan] ramp", "is missing; it must be a time"),
    ('ramp_down = "6 s"', 'ramp_down = "0 s"', "[fan] ramp_down", "must be a time above 0 s"),
    (
        'inertia = "1.5 kg m2"',
        'inertia = "0 kg m2"',
        "[fan] inertia",
        'must be an inertia above 0 kg m2 up to 100000 kg m2, such as "1.5 kg m2"',
    ),
    ('inertia = "1.5 kg m2"', 'inertia = "1.5 kg"', "[fan] inertia", "whose unit is none of kg m2, lb ft2"),
    ('brake = "resistor"', 'brake = "shoe"', "[fan] brake", "must be 'none' or 'resistor'; got 'shoe'"),
    (
        'brake = "resistor"',
        'smoke_lowest_speed = "30 Hz"\nsmoke_highest_speed = "20 Hz"',
        "[fan] smoke_highest_speed",
        "must be above smoke_lowest_speed, 30 Hz; got 20 Hz",
    ),
    (
        'brake = "resistor"',
        'smoke_highest_speed = "60 Hz"',
        "[fan] smoke_highest_speed",
        "must be within what the drive does, from 10 Hz to 50 Hz; got 60 Hz",
    ),
    ('curve_density = "1.2 kg/m3"', 'curve_density = "12 kg/m3"', "[fan] curve_density", "must be a density from 0.3 kg/m3 to 3 kg/m3"),
    (
        'opens = "with pressure"',
        'opens = "both"',
        "[doors.street] opens",
        "must be one way, 'against pressure' or 'with pressure'; got 'both': a leaf that swings both ways",
    ),
    ('opens = "with pressure"', 'opens = ["against pressure", "with pressure"]', "[doors.street] opens", "must be one way"),
    ("closing_share = [0.5, 0.6, 0.67]", "closing_share = 1.5", "[doors.street] closing_share", "must be a number from 0 to 1"),
    (
        "closing_share = [0.5, 0.6, 0.67]",
        '[doors.lid]\nwidth = "1 m"\nheight = "1 m"\nleak_area = "0.01 m2"\nclosing_share = 0.5',
        "[doors.lid] closing_share",
        "belongs to a door with a closer; closer_force is missing",
    ),
    ('stair_wall = "50 m2"', 'exit_faces = "90 deg"\nstair_wall = "50 m2"', "exit_faces", "a final exit; storey 1 has none"),
    ('stair_wall = "50 m2"', 'drawing_name = "G"\nstair_wall = "50 m2"', "drawing_name", "'G' is there 14 times"),
    ('stair_wall = "50 m2"', 'drawing_name = ["G", "1"]\nstair_wall = "50 m2"', "drawing_name", "one for each of the group's 14 storeys"),
    ('friction_area = "2.6 m2"', 'friction_area = "2.6 m2"\nheat_surface = "0 m2"', "[stair] heat_surface", "must be an area above 0 m2"),
    ('source = "generator"', 'source = "none"', "[standby] source", "must be a source where detection and start and transfer is stated"),
    ('source = "generator"', 'source = "dynamo"', "[standby] source", "must be 'none', 'generator', 'second supply' or 'battery'"),
    ("open_doors = [6, 7]", "open_doors = [6, 70]", "[design] open_doors", "must be storeys that have a stair door (0, 1, 2"),
    ("open_doors = [6, 7]", "open_doors = [6, 6]", "[design] open_doors", "must name each storey once"),
    ("open_exits = [0]", "open_exits = [3]", "[design] open_exits", "must be storeys that have a final exit (0); storey 3 has none"),
    ('leakage_margin = "50 %"', 'leakage_margin = "-5 %"', "[design] leakage_margin", "must be a number from 0 to 10"),
    ('integral_stops = "ends"', 'integral_stops = "never"', "[control] integral_stops", "must be 'ends' or 'ends and ramp'; got 'never'"),
]


@pytest.mark.parametrize(("right", "wrong", "place", "sentence"), SLIPS)
def test_a_slip_is_told_with_file_table_key_and_what_is_allowed(right, wrong, place, sentence):
    told = [line for line in refusal_of(with_slips((right, wrong))).splitlines() if place in line]
    assert any(line.startswith("house.toml, ") and sentence in line for line in told), told


@pytest.mark.parametrize("without", [{"stair_door_count": 0}, {"stair_door": None, "stair_door_count": 0}, {"stair_door": None}])
def test_no_door_is_taken_as_open_on_a_storey_that_has_none(without):
    site = read_site(demo_sites()["Larkfield House"])
    storeys = [without if storey.level == 6 else {} for storey in site.storeys]
    with pytest.raises(SiteFileError, match=r"must be storeys that have a stair door .*; storey 6 has none"):
        site.with_changes(storeys=storeys)


def test_seven_further_relief_dampers_are_read():
    site = read_site(demo_sites()["Larkfield House"])
    first = site.stair.relief
    others = [dict(first) | {"level": level} for level in range(first.level - 7, first.level)]
    assert len(site.with_changes(stair={"more_reliefs": others}).stair.more_reliefs) == 7


ON_THEIR_LINE = [
    slip[:3] for slip in SLIPS if slip[1] and "missing" not in slip[3] and "needs" not in slip[3] and " " in slip[2].replace("number ", "")
]


@pytest.mark.parametrize(("right", "wrong", "place"), ON_THEIR_LINE)
def test_a_slip_is_told_with_the_line_it_stands_on(right, wrong, place):
    text = with_slips((right, wrong))
    first = line_number(text, wrong)
    last = first + wrong.count("\n") + 1  # two keys that disagree stand on neighbouring lines
    assert any(f"house.toml, line {number}, {place}" in refusal_of(text) for number in range(first, last + 1))


@pytest.mark.parametrize(
    ("right", "wrong", "line"),
    [
        ("share = 1 ", "share = 0.9 ", "[[supplies]]"),
        ('levels = "0"  ', 'levels = "-2"  ', "[[storeys]]"),
        ('closer_force = "80 N"\n', "", "[doors.street]"),
        ("lobby = false", "lobby = true", "[[storeys]]"),
    ],
)
def test_what_is_wrong_with_a_whole_table_is_told_with_the_line_of_its_head(right, wrong, line):
    text = with_slips((right, wrong))
    assert f"house.toml, line {line_number(text, line)}, [" in refusal_of(text)


def test_a_line_is_that_of_the_second_table_where_the_second_is_wrong():
    text = with_slips(("level = 12\n", "level = 40\n"))
    assert f"house.toml, line {line_number(text, 'level = 40')}, [[transmitters]] number 2, level" in refusal_of(text)


def test_mistakes_in_many_tables_are_told_in_one_go():
    text = with_slips(
        ('height = "2.9 m"', 'height = "2.9 Pa"'),
        ("level = 12\n", "level = 40\n"),
        ('"580 Pa"', '"700 Pa"'),
        ('outdoor = "31 °C"', 'outdoor = "290 °C"'),
        ('set_point = "40 Pa"', 'set_point = "400 Pa"'),
        ('closer_force = "70 N"', 'closer_farce = "70 N"'),
        ('stair_door = "flat landing"', 'stair_door = "flat"'),
        ("share = 1 ", "share = nan "),
        ('facade = "298 m2"', 'facade = "-298 m2"'),
    )
    told = refusal_of(text).splitlines()
    places = [
        "number 1, height",
        "number 1, stair_door",
        "number 2, facade",
        "closer_farce",
        "share",
        "pressures",
        "outdoor",
        "number 2, level",
        "set_point",
    ]
    assert [next((place for place in places if f"{place}:" in line), line) for line in told] == [
        place
        for place in places
        if place != "number 1, stair_door"  # the storeys are unreadable, so their doors cannot be looked up yet
    ]


def test_a_mistake_of_a_group_of_storeys_is_told_once_and_not_for_every_level():
    assert len(refusal_of(with_slips(('stair_wall = "50 m2"', 'stair_wall = "fifty"'))).splitlines()) == 1


def test_a_wrong_floor_temperature_is_not_told_again_for_the_spaces_that_follow_it():
    assert len(refusal_of(with_slips(('floor = "21 °C"', 'floor = "70 °C"'))).splitlines()) == 1


@pytest.mark.parametrize(
    ("wrong", "near"),
    [("hieght", "height"), ("height_m", "height"), ("Height", "height"), ("storey_height", "height"), ("stair_doors", "stair_door")],
)
def test_an_unknown_key_names_the_nearest_right_one(wrong, near):
    assert f"{wrong}: is not known here; the nearest right key is {near}" in refusal_of(with_slips((f"\n{near} =", f"\n{wrong} =")))


def test_an_unknown_table_names_the_nearest_right_one():
    told = refusal_of(with_slips(("[[transmitters]]", "[[transmitter]]")))
    assert "transmitter: is not known here; the nearest right key is transmitters" in told


def test_a_key_like_no_other_is_told_with_all_that_are_known():
    assert "qqq: is not known here; the keys are outdoor, wind_speed, wind_from, stair" in refusal_of(
        with_slips(('outdoor = "-9 °C"', 'qqq = 1\noutdoor = "-9 °C"'))
    )


def test_a_site_without_storeys_is_told_that_it_needs_one():
    text = TEXT[: TEXT.index("[[storeys]]")] + TABLES[TABLES.index("[doors.") :]
    assert "[[storeys]]: is missing; every site needs one at least" in refusal_of(text)


@pytest.mark.parametrize("table", ["supplies", "transmitters"])
def test_an_empty_list_of_tables_is_told_that_it_needs_one(table):
    first, last = TEXT.index(f"[[{table}]]"), TEXT.rindex(f"[[{table}]]")
    end = TEXT.index("\n[", last + 1)
    text = f"{table} = []\n{TEXT[:first]}{TEXT[end:]}"
    assert f"[[{table}]]: must hold at least 1 value; got 0" in refusal_of(text)


def test_a_table_where_a_list_of_tables_is_needed_is_told_about_the_brackets():
    text = TEXT.replace("[[storeys]]", "[storeys]", 1).replace("[[storeys]]", "[storeys.more]", 1)
    assert "[[storeys]]: must be tables headed [[storeys]], with two brackets on each side" in refusal_of(text)


@pytest.mark.parametrize(
    ("slip", "told"),
    [
        (
            ("[leakage]", "[[leakage]]"),
            "[leakage]: must be one table, its name in single brackets: there can be one only; got 1 in double brackets",
        ),
        (("[[supplies]]", "[supplies]"), "[[supplies]]: must be tables, each headed by the name in double brackets"),
        (("[stair.relief]", "[[stair.relief]]"), "[stair] relief: must be one table"),
        (("[fan]", "[[fan]]"), "[fan]: must be one table, its name in single brackets"),
        (("[doors.street]", "[[doors.street]]"), "[doors.street]: must be one table"),
    ],
)
def test_a_table_with_the_wrong_brackets_is_told(slip, told):
    assert told in refusal_of(with_slips(slip))


# Half at the top and half at the bottom, both on a riser.
RISER = TEXT.replace(
    "share = 1 ",
    'share = 0.5\noutlet_area = "0.4 m2"\noutlet_loss_coefficient = 2.5\n[[supplies]]\nlevel = 1\nshare = 0.5\noutlet_area = "0.3 m2"\n#',
    1,
).replace("\n[fan]", '\n[riser]\nfan_level = 13\nstorey_loss = "5 Pa"\nstorey_loss_flow = "2.5 m3/s"\n\n[fan]', 1)


def test_a_riser_with_its_outlets_is_read():
    site = read_site_text(RISER)
    assert [(supply.outlet_area_m2, supply.outlet_loss_coefficient) for supply in site.supplies] == [(0.4, 2.5), (0.3, None)]
    assert site.riser.fan_level == 13


@pytest.mark.parametrize(
    ("slip", "told"),
    [
        (("= 2.5", "= -2.5"), "[[supplies]] number 1, outlet_loss_coefficient: must be a number above 0 up to 1000, such as 2.4; got -2.5"),
        (("= 2.5", "= 0"), "outlet_loss_coefficient: must be a number above 0"),
        (('"0.3 m2"', '"0 m2"'), "[[supplies]] number 2, outlet_area: must be an area above 0 m2"),
        (
            ('outlet_area = "0.3 m2"\n', ""),
            "[[supplies]] number 2, outlet_area: is missing: with a [riser] every outlet states what it costs",
        ),
        (
            ('outlet_area = "0.4 m2"\n', ""),
            "[[supplies]] number 1, outlet_loss_coefficient: belongs to an outlet_area, which is missing: the area that it stands for",
        ),
        (("level = 1\nshare", "level = 14\nshare"), "[[supplies]] number 2, level: must be a storey of this site, from 0 to 13; got 14"),
        (
            ("level = 1\nshare = 0.5", "level = 1\nshare = 0"),
            "[[supplies]] number 2, outlet_area: must be left out where no air is supplied; share is 0 on storey 1",
        ),
        (("fan_level = 13\n", "fan_level = 15\n"), "[riser] fan_level: must be a storey of this site, from 0 to 13; got 15"),
        (("fan_level = 13\n", ""), "[riser] fan_level: is missing"),
        (('storey_loss = "5 Pa"', 'storey_loss = "-5 Pa"'), "[riser] storey_loss: must be a pressure above 0 Pa"),
        (('storey_loss = "5 Pa"', 'storey_loss = "5 m"'), "[riser] storey_loss: must be a pressure above 0 Pa"),
        (('storey_loss_flow = "2.5 m3/s"', 'storey_loss_flow = "0 m3/s"'), "[riser] storey_loss_flow: must be a flow above 0 m3/s"),
        (('storey_loss = "5 Pa"', 'storey_los = "5 Pa"'), "[riser] storey_los: is not known here; the nearest right key is storey_loss"),
    ],
)
def test_what_a_riser_cannot_be_is_refused_with_its_line(slip, told):
    assert slip[0] in RISER
    text = RISER.replace(*slip, 1)
    refusal = refusal_of(text)
    assert told in refusal
    assert re.search(r"line \d+", refusal)


def test_an_outlet_without_a_riser_is_told_and_a_riser_that_was_refused_is_not_called_missing():
    lone = RISER[: RISER.index("[riser]")] + RISER[RISER.index("\n[fan]") :]
    assert "[[supplies]] number 1, outlet_area: belongs to a [riser], which is missing" in refusal_of(lone)
    assert "which is missing" not in refusal_of(RISER.replace('storey_loss = "5 Pa"', 'storey_loss = "-5 Pa"', 1))


FURTHER = """

[[stair.more_reliefs]]
level = 1
opens = "50 Pa"
full = "70 Pa"
area = "0.2 m2"
"""


@pytest.mark.parametrize(
    ("slip", "told"),
    [
        (("level = 1\n", "level = 99\n"), "[[stair.more_reliefs]] number 1, level: must be a storey of this site, from 0 to 13; got 99"),
        (
            ("level = 1\n", "level = 7\n"),
            "number 1, level: must be a storey without another relief damper (count: so many alike there)",
        ),
        (('full = "70 Pa"', 'full = "40 Pa"'), "[[stair.more_reliefs]] number 1, full: must be above opens, 50 Pa; got 40 Pa"),
        (('area = "0.2 m2"\n', ""), "[[stair.more_reliefs]] number 1, area: is missing"),
        (("[[stair", "[stair"), "[[stair.more_reliefs]]: must be tables, each headed by the name in double brackets"),
    ],
)
def test_a_further_relief_damper_is_refused_with_its_line(slip, told):
    assert told in refusal_of(TEXT + FURTHER.replace(*slip).replace("]]", "]" if slip[1] == "[stair" else "]]"))


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('{"side" = 1}', "must be doors described under [doors] ('flat landing', 'street'); got 'side'"),
        ('{"flat landing" = 1}', "must be other kinds than stair_door, of which stair_door_count says how many; got 'flat landing'"),
        (
            '{"street" = 1}',
            "they are judged as one at the worst of them; got 'flat landing' against pressure, without a latch and 'street'",
        ),
        ('{"street" = 0}', "must be a table of kinds of doors with their number, from 1 to 20"),
        ('{"street" = true}', "got 'street' = true"),
        ('"street"', "must be a table of kinds of doors with their number, from 1 to 20"),
    ],
)
def test_a_second_kind_of_stair_doors_is_refused_where_it_cannot_be(said, told):
    text = with_slips(("stair_door_count = 1 ", f"other_stair_doors = {said}\nstair_door_count = 1 "))
    assert told in refusal_of(text)


def test_a_second_kind_of_stair_doors_stands_beside_a_first():
    text = with_slips(("stair_door_count = 1 ", 'other_stair_doors = {"street" = 1}\nstair_door_count = 0 '))
    assert "other_stair_doors: belong beside a stair_door; storey 0 has none" in refusal_of(text)


def test_values_that_are_refused_are_not_told_as_missing_too():
    told = refusal_of(with_slips(('"0 m3/s", "2 m3/s", "3 m3/s", "4 m3/s", "5 m3/s", "6 m3/s", "7 m3/s"', "1, 2")))
    assert "[fan] flows, value 2: must be a flow" in told
    assert "must hold at least" not in told


def test_a_vent_belongs_to_a_lobby_and_its_bearing_to_a_vent():
    vent = with_slips(("lobby = false ", 'lobby_vent = "0.1 m2"\nlobby = false '))
    assert "lobby_vent: belongs to a storey with a lobby; storey 0 has none" in refusal_of(vent)
    faces = with_slips(("lobby = false ", 'lobby_vent_faces = "90 deg"\nlobby = false '))
    assert "lobby_vent_faces: belongs to a lobby_vent, which is missing" in refusal_of(faces)


def test_further_relief_dampers_stand_beside_a_first_and_are_not_too_many():
    first = TEXT[TEXT.index("[stair.relief]") : TEXT.index("# Air release of the fire floor")]
    assert "[[stair.more_reliefs]]: belong beside a [stair.relief]" in refusal_of(TEXT.replace(first, "") + FURTHER)
    many = "".join(FURTHER.replace("level = 1\n", f"level = {level}\n") for level in (0, 1, 2, 3, 4, 5, 6, 8))
    assert "[[stair.more_reliefs]]: must be 7 at the most; got 8" in refusal_of(TEXT + many)


def test_a_stair_without_any_leak_leaves_the_air_nowhere_to_go():
    text = TEXT.replace('leak_area = "0.024 m2"', 'leak_area = "0 m2"').replace('leak_area = "0.005 m2"', 'leak_area = "0 m2"')
    for wall in ('stair_wall = "50 m2"', 'stair_wall = "72 m2"', 'stair_outside_wall = "8 m2"', 'stair_outside_wall = "12 m2"'):
        text = text.replace(wall, f'{wall.split(" =")[0]} = "0 m2"')
    assert "leave the air nowhere to go" in refusal_of(text)


def test_a_low_demand_stop_in_the_fire_mode_is_refused():
    stop = '\n[control.low_demand]\nstop_below = "15 Hz"\nstop_after = "30 s"\nrestart_deficit = "10 Pa"\nrestart_after = "2 s"\n'
    assert "a fan in smoke control never stops for low demand" in refusal_of(TEXT + stop)
    assert read_site_text((TEXT + stop).replace("fire_mode = true", "fire_mode = false")).control.low_demand.restart_deficit_pa == 10.0


def test_an_empty_file_is_told_all_that_every_site_needs():
    told = refusal_of("")
    assert "name: is missing" in told
    assert "[fan]: is missing" in told
    assert "[control]: is missing" in told


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("name = \n", "house.toml, line 1: is no valid TOML at column 8: invalid value"),
        ('name = "open', "house.toml, line 1: is no valid TOML"),
        ("a = 1\n\x00", "house.toml, line 2: is no valid TOML"),
        ("[fan]\n[fan]\n", "house.toml, line 2: is no valid TOML"),
        ("a = 1\na = 2\n", "house.toml, line 2: is no valid TOML"),
        (f"a = {'[' * 2000}", "something in it is endlessly long or deep"),
        (f"a = {'[' * 5000}", "house.toml, line 1: must have lines of 3000 letters at the most, got one of 5004"),
        (f"a = {'9' * 5000}", "house.toml, line 1: must have lines of 3000 letters at the most, got one of 5004"),
    ],
)
def test_a_slip_in_the_writing_itself_is_told_with_its_line(text, sentence):
    assert sentence in refusal_of(text)


def test_files_that_are_no_site_files_are_told_apart(tmp_path):
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\xff\xfe\x00")
    for name, sentence in [("gone.toml", "is not there"), (".", "is a folder"), ("picture.toml", "is no text in UTF-8")]:
        with pytest.raises(SiteFileError, match=sentence):
            read_site(tmp_path / name)


def test_demo_sites_that_are_not_beside_the_package_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(file, "SITES_FOLDER", tmp_path)
    with pytest.raises(SiteFileError, match="holds no site files; the demo sites come with the repository"):
        demo_sites()


def test_a_notebook_shows_the_sentences_and_no_traceback():
    with pytest.raises(SiteFileError) as caught:
        read_site_text("", "house.toml")
    assert caught.value._render_traceback_() == [str(caught.value)]
    assert len(caught.value.mistakes) == len(str(caught.value).splitlines())


@PROPERTY
@given(data=st.data())
def test_a_spoilt_file_is_read_or_refused_but_never_ends_in_a_traceback(data):
    lines = TEXT.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        number = data.draw(st.integers(0, len(lines) - 1))
        key = lines[number].partition("=")[0]
        junk = data.draw(
            st.sampled_from(["", "true", "nan", "[]", "{}", '"x"', "-1", "1e400", '"9 Pa"', "[[1]]", "1979-05-27", '["1 m"]', '""'])
        )
        lines[number] = data.draw(st.sampled_from([f"{key}= {junk}", lines[number][1:], "", junk, f"[{key.strip()}]"]))
    told = told_about("\n".join(lines))
    assert all(line.startswith("house.toml") for line in told.splitlines())


@pytest.mark.parametrize(("count", "told"), [(8, False), (9, True), (20, True), (100, True)])
def test_a_stair_with_more_transmitters_than_can_be_played_through_is_refused_in_a_sentence(count, told):
    head, _, rest = TEXT.partition("[[transmitters]]")
    table = rest.split("[[transmitters]]")[0]
    more = "".join("[[transmitters]]" + re.sub(r'name *= *"[^"]*"', f'name = "X{number}"', table) for number in range(count - 2))
    text = head + more + "[[transmitters]]" + rest
    if told:
        with pytest.raises(SiteFileError, match=rf"\[\[transmitters\]\].*must be 8 at the most; got {count}"):
            read_site_text(text)
    else:
        assert len(read_site_text(text).transmitters) == count


@pytest.mark.parametrize("sign", ["\u202e", "\\u202e", "\\U0000202E", "\u2066", "\\u2069", "\\u0007", "\\u001B", "\\u0085", "\x85"])
def test_a_name_that_turns_or_breaks_a_line_is_refused_and_told_plainly(sign):
    told = refusal_of(TEXT.replace('name = "Larkfield House"', f'name = "Lark{sign}field"', 1))
    assert re.search(r"line \d+: must hold no sign that is not seen and breaks or turns a line; got \\+", told)
    assert told.isprintable()


@pytest.mark.parametrize("name", ["\u05de\u05e8\u200f Haus", "Haus \\u00e4", "C:\\\\building", "東京"])
def test_a_name_in_any_script_is_taken(name):
    assert read_site_text(TEXT.replace('name = "Larkfield House"', f'name = "{name}"', 1)).name
