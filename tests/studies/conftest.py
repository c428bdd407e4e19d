"""Sites for the studies' tests: the demo sites as they are, and a plain stair of round figures whose answers a hand calculation gives."""

import pytest
from demo_designs import site_of

from helpers.model.air.conditions import demo_weather, read_hours, stair_share
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Door, Leakage, Site, Storey, Transmitter
from helpers.studies.doors.window import pressure_window
from helpers.studies.placement.study import Chances, Drawn, draw, place_transmitters

FT, FT2, INWC = 0.3048, 0.3048**2, 249.0889


@pytest.fixture(scope="session")
def larkfield():
    return site_of("Larkfield House")


@pytest.fixture(scope="session")
def northgate():
    return site_of("Northgate Tower")


@pytest.fixture(scope="session")
def larkfield_with_light_closers(larkfield):
    """Larkfield House with closers of 53 N on its stair doors, and 47 Pa held.

    As stated, no set point suits the first minute of its winter: top and bottom door are then further apart than the window is wide.
    """
    return larkfield.with_changes(doors={"flat landing": {"closer_force_n": 53.0}}, control={"set_point_pa": 47.0})


def door(**changes):
    """Of 36 x 84 in. against the pressure, closer 8 lbf, limit 30 lbf, at least 25 Pa."""
    usual = {"width_m": 0.9144, "height_m": 2.1336, "leak_area_m2": 0.02, "closer_force_n": 35.586, "handle_to_edge_m": 0.0762}
    return Door(**{**usual, "force_limit_n": 133.4466, "minimum_dp_pa": 25.0, **changes})


def transmitter(name="PDT-1", level=0, **changes):
    usual = {"range_low_pa": 0.0, "range_high_pa": 125.0, "signal": "4-20 mA", "accuracy_percent_span": 1.0, "converter_bits": 12}
    return Transmitter(name=name, level=level, **{**usual, **changes})


@pytest.fixture(scope="session")
def a_door():
    return door


@pytest.fixture(scope="session")
def a_transmitter():
    return transmitter


@pytest.fixture(scope="session")
def stair():
    """Makes a plain site: storeys alike, one supply at the top, no wind, no altitude; `changes` go to Site.with_changes."""

    def made(count=6, **changes):
        level = {
            "height_m": 3.0, "floor_area_m2": 300.0, "facade_m2": (60.0, 40.0, 60.0, 40.0), "stair_wall_m2": 50.0, "stair_door": "stair",
        }  # fmt: skip
        fan = {
            "flows_m3_s": (0.0, 3.0, 6.0), "pressures_pa": (600.0, 500.0, 200.0), "reference_speed_hz": 50.0, "lowest_speed_hz": 5.0,
            "highest_speed_hz": 50.0, "duct_loss_pa": 100.0, "duct_loss_flow_m3_s": 4.0, "efficiency": 0.6, "motor_efficiency": 0.9,
            "drive_efficiency": 0.95, "motor_poles": 4, "motor_power_w": 5500.0, "ramp_s": 5.0,
        }  # fmt: skip
        site = Site(
            name="Plain Stair",
            invented=True,
            standard="nfpa92",
            sprinklers=True,
            building_code_adopted=False,  # what the doors state decides: their 25 Pa, and their force
            altitude_m=0.0,
            terrain="suburban",
            pressure_coefficients="en1991_tall",
            storeys=[Storey(level=number, **level) for number in range(count)],
            doors={"stair": door()},
            leakage=Leakage(edition="ashrae_1999"),
            stair={"plan_area_m2": 15.0, "friction_area_m2": 3.0},
            supplies=[{"level": count - 1, "share": 1.0}],
            fan=fan,
            temperatures={"floor_c": 21.0},
            weather={"winter": {"outdoor_c": -10.0}, "summer": {"outdoor_c": 31.0}, "mild": {"outdoor_c": 15.0}},
            transmitters=[transmitter("PDT-1", 0), transmitter("PDT-2", count - 1)],
            control={"rule": "average", "set_point_pa": 40.0, "gain": 0.6, "integral_time_s": 4.0, "sample_s": 0.1, "fire_mode": True},
        )
        return site.with_changes(**changes) if changes else site

    return made


@pytest.fixture(scope="session")
def twenty_storeys(stair):
    """The published stair of 20 storeys of 10.8 ft: 6030 ft2 of facade, 560 ft2 of stair wall and a gap of 0.26 ft2 on each; 14 and 70 °F.

    Source: ASHRAE Handbook, HVAC Applications, fire and smoke chapter, 1999 to 2007 (memory): 0.080 in. w.g. at the bottom take about
    8200 cfm.
    """
    storey = {"height_m": 10.8 * FT, "facade_m2": (1507.5 * FT2,) * 4, "stair_wall_m2": 560 * FT2}
    return stair(20).with_changes(
        storeys=[storey] * 20,
        doors={"stair": {"leak_area_m2": 0.26 * FT2}},
        temperatures={"floor_c": 21.111, "stair_c": 21.111},
        weather={"winter": {"outdoor_c": -10.0}},
    )


@pytest.fixture(scope="session")
def drawn_for():
    """Draws conditions for a site, always the same ones; `chances` go to Chances; without error: transmitters that read what is there.

    With the one air of the stair that the site's weathers say, unless stair_share is given: None for both ends.
    """
    hours = read_hours(demo_weather()["Greensboro"])

    def made(site, count=60, error=True, **chances):
        drawn = draw(site, hours, count, 5, Chances(**({"stair_share": stair_share(site)} | chances)))
        return drawn if error else Drawn(drawn.conditions, 0 * drawn.error_share, drawn.said)

    return made


@pytest.fixture(scope="session")
def placed(drawn_for):
    """Makes the placement study of a site under its sampled conditions; `more` goes to place_transmitters."""

    def made(site, drawn=None, choices=None, **more):
        return place_transmitters(Tower(site), pressure_window(site), drawn_for(site) if drawn is None else drawn, choices, **more)

    return made
