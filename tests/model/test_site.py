"""The site file: what a technician writes is what the model gets, and what is written reads back equal."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site, read_site_text, write_site
from helpers.model.site.schema import Site

PROPERTY = settings(max_examples=40, derandomize=True, deadline=None)

LARKFIELD = read_site(demo_sites()["Larkfield House"])
NORTHGATE = read_site(demo_sites()["Northgate Tower"])
TEXT = demo_sites()["Larkfield House"].read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "path"), demo_sites().items())
def test_demo_sites_are_found_by_the_name_they_bear(name, path):
    assert read_site(path).name == name
    assert read_site(path).invented


@pytest.mark.parametrize("site", [LARKFIELD, NORTHGATE], ids=lambda site: site.name)
def test_a_site_written_and_read_again_is_equal(site):
    assert read_site_text(write_site(site)) == site


def test_a_later_group_of_storeys_states_only_what_differs():
    ground, above = LARKFIELD.storeys[:2]
    assert [storey.level for storey in LARKFIELD.storeys] == list(range(14))
    assert (ground.height_m, above.height_m, LARKFIELD.storeys[13].height_m) == (4.2, 2.9, 2.9)
    assert (ground.final_exit_door, above.final_exit_door) == ("street", None)
    assert ground.stair_door == above.stair_door == "flat landing"


def test_basements_lie_below_the_ground_and_storeys_run_bottom_up():
    assert [storey.level for storey in NORTHGATE.storeys] == list(range(-2, 40))
    assert [storey.lobby for storey in NORTHGATE.storeys][:4] == [False, False, True, True]


def test_inch_units_and_si_read_as_the_same_building():
    assert NORTHGATE.doors["stair"].force_limit_n == pytest.approx(133.45, abs=0.005)
    assert NORTHGATE.doors["stair"].minimum_dp_pa == pytest.approx(12.45, abs=0.005)
    assert NORTHGATE.weather["winter"].outdoor_c == pytest.approx(-15.0)
    assert NORTHGATE.fan.motor_power_w == pytest.approx(14914, abs=0.5)


def test_one_facade_area_is_shared_evenly_by_four_faces():
    assert LARKFIELD.storeys[1].facade_m2 == (51.5,) * 4
    stated = read_site_text(TEXT.replace('facade = "206 m2"', 'facade = ["60 m2", "43 m2", "60 m2", "43 m2"]'))
    assert stated.storeys[1].facade_m2 == (60.0, 43.0, 60.0, 43.0)


def test_spaces_without_a_stated_temperature_are_as_warm_as_the_floors():
    assert (LARKFIELD.temperatures.stair_c, LARKFIELD.temperatures.lift_c, LARKFIELD.temperatures.lobby_c) == (18.0, 21.0, 21.0)


def test_an_open_doors_area_is_the_leafs_unless_stated():
    assert LARKFIELD.doors["flat landing"].flow_area_m2 == pytest.approx(0.91 * 2.10)
    assert LARKFIELD.doors["street"].flow_area_m2 == 2.0


def test_a_lift_landing_door_is_not_worked_by_hand():
    assert LARKFIELD.doors["street"].worked_by_hand
    assert not NORTHGATE.doors["lift landing"].worked_by_hand


def test_every_key_of_larkfield_house_has_a_note_where_it_first_stands():
    noted = {"note"}  # its note stands on the line above
    for line in TEXT.splitlines():
        key = line.partition("=")[0].strip()
        if "=" not in line or line.startswith("#"):
            continue
        noted |= {key} if "#" in line else set()
        assert key in noted, line


def test_panels_change_set_point_rule_and_storeys_of_transmitters():
    changed = LARKFIELD.with_changes(control={"set_point_pa": 30.0, "rule": "lowest"}, transmitters=[{"level": 2}, {"level": 11}])
    assert (changed.control.set_point_pa, changed.control.rule) == (30.0, "lowest")
    assert [transmitter.level for transmitter in changed.transmitters] == [2, 11]
    assert changed.control.gain == LARKFIELD.control.gain
    assert changed.transmitters[0].name == LARKFIELD.transmitters[0].name
    assert LARKFIELD.control.set_point_pa == 40.0


def test_panels_change_one_weather_and_leave_the_others():
    changed = LARKFIELD.with_changes(weather={"winter": {"outdoor_c": -20.0}})
    assert changed.weather["winter"].outdoor_c == -20.0
    assert changed.weather["winter"].wind_speed_m_s == LARKFIELD.weather["winter"].wind_speed_m_s
    assert changed.weather["summer"] == LARKFIELD.weather["summer"]


def test_a_shorter_list_takes_a_transmitter_away_and_a_longer_adds_one():
    assert len(LARKFIELD.with_changes(transmitters=[{}]).transmitters) == 1
    third = LARKFIELD.transmitters[0].model_copy(update={"name": "PDT-3", "level": 7})
    assert LARKFIELD.with_changes(transmitters=[{}, {}, third]).transmitters[2].level == 7


def test_a_change_that_no_file_could_state_is_refused_as_a_file_would_be():
    with pytest.raises(SiteFileError, match=r"\[\[transmitters\]\] number 2, level: must be a storey of this site, from 0 to 13; got 14"):
        LARKFIELD.with_changes(transmitters=[{}, {"level": 14}])


def test_a_site_cannot_be_altered_behind_its_checks():
    with pytest.raises(ValueError, match="frozen"):
        LARKFIELD.control.set_point_pa = 300.0


def test_a_file_saved_with_a_byte_order_mark_and_windows_lines_reads_the_same(tmp_path):
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_site(path) == LARKFIELD


def test_what_is_written_states_every_quantity_with_its_unit():
    data = tomllib.loads(write_site(NORTHGATE))
    quantities = [
        data["altitude"],
        *data["faces"],
        *data["fan"]["flows"],
        *data["weather"]["winter"].values(),
        data["control"]["set_point"],
    ]
    assert all(value[0] in "-0123456789" and " " in value for value in quantities)


def test_storeys_bear_the_names_of_the_drawings_beside_their_level():
    names = ", ".join(f'"{each}"' for each in ("ground", *range(2, 15)))
    site = read_site_text(TEXT.replace('levels = "0..13" ', f'levels = "0..13"\ndrawing_name = [{names}]\n# ', 1))
    assert [site.storeys[place].words for place in (0, 4)] == ["0 (drawings: ground)", "4 (drawings: 5)"]
    assert LARKFIELD.storeys[4].words == "4"
    written = write_site(site)
    assert read_site_text(written) == site
    assert written.count("[[storeys]]") == 2  # names alone make no more groups
    assert 'drawing_name = ["ground"]' in written


def test_a_final_exit_says_where_it_looks_to():
    assert read_site_text(TEXT.replace('extra_leak = "0.05 m2"', 'exit_faces = "90 deg"')).storeys[0].exit_faces_deg == 90.0


def test_a_loop_with_its_low_demand_stop_and_weights_reads_and_writes():
    loop = {
        "fire_mode": False,
        "rule": "weighted",
        "weights": (0.25, 0.75),
        "low_demand": {"stop_below_hz": 14.0, "stop_after_s": 30.0, "restart_deficit_pa": 8.0, "restart_after_s": 2.0},
    }
    site = LARKFIELD.with_changes(control=loop)
    assert site.control.low_demand.stop_below_hz == 14.0
    assert read_site_text(write_site(site)) == site


# ------------------------------------------------------------------------------------------------------- any site round-trips

# Signs that are not seen and turn a line round are refused in any site file.
SEEN = {
    "codec": "utf-8",
    "exclude_categories": ("Cc", "Cs"),
    "exclude_characters": "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
}
WORDS = st.text(st.characters(**SEEN), min_size=1, max_size=12)
TIGHT = st.sampled_from(["tight", "average", "loose"])


def figures(low, high):
    return st.floats(low, high, allow_subnormal=False)


@st.composite
def sites(draw):
    """Sites with odd names, odd figures, few or many storeys, with and without the optional parts."""
    bottom, count = draw(st.integers(-3, 0)), draw(st.integers(1, 7))
    levels, doors = range(bottom, bottom + count), draw(st.lists(WORDS, min_size=2, max_size=3, unique=True))
    fields = {name: getattr(LARKFIELD, name) for name in Site.model_fields}
    plain, tall = (_storey(draw, doors) for _ in range(2))
    exceptions = draw(st.sets(st.sampled_from(levels)))
    on_site = st.sampled_from(levels)
    named, words = draw(st.sets(on_site)), draw(st.text(st.characters(**SEEN), max_size=5))
    fields |= {
        "name": draw(WORDS),
        "note": draw(st.text(st.characters(**SEEN) | st.sampled_from("\n\t"), max_size=30)),
        "altitude_m": draw(figures(-500, 5000)),
        "faces_deg": tuple(draw(figures(0, 360)) for _ in range(4)),
        "storeys": [
            (tall if level in exceptions else plain) | {"level": level} | ({"drawing_name": f"{words}{level}"} if level in named else {})
            for level in levels
        ],
        "doors": {name: LARKFIELD.doors["street"].model_copy(update={"leak_area_m2": draw(figures(1e-9, 1))}) for name in doors},
        "weather": LARKFIELD.weather | {draw(WORDS): {"outdoor_c": draw(figures(-60, 60)), "wind_speed_m_s": draw(figures(0, 60))}},
        "temperatures": {"floor_c": draw(figures(-30, 50)), "stair_c": draw(figures(-30, 50))},
        "lift": draw(st.none() | st.fixed_dictionaries({"plan_area_m2": figures(1e-3, 99), "friction_area_m2": figures(1e-3, 99)})),
        "supplies": [{"level": draw(on_site), "share": 1.0}],
        "stair": LARKFIELD.stair.model_copy(update={"relief": None}),
        "design": draw(st.none() | st.builds(dict, leakage_margin=figures(0, 10), source=WORDS)),
        "transmitters": [
            LARKFIELD.transmitters[0].model_copy(update={"level": draw(on_site), "name": name, "filter_s": draw(figures(0, 1e9))})
            for name in draw(st.lists(WORDS, min_size=1, max_size=3, unique=True))
        ],
    }
    return Site.model_validate(fields)


def _storey(draw, doors):
    return {
        "height_m": draw(figures(1e-6, 1000)),
        "floor_area_m2": draw(figures(1e-6, 1e6)),
        "facade_m2": tuple(draw(figures(0, 1e6)) for _ in range(4)),
        "stair_wall_m2": draw(figures(1, 1e6)),
        "wall_tightness": draw(st.none() | TIGHT),
        "stair_door": draw(st.none() | st.sampled_from(doors)),
        "final_exit_door": draw(st.none() | st.sampled_from(doors)),
        "extra_leak_m2": draw(figures(0, 1e3)),
    }


@PROPERTY
@given(sites())
def test_any_site_written_and_read_again_is_equal(site):
    assert read_site_text(write_site(site)) == site
