"""Fan laws, air power and motor speed against published figures."""

import pint
import pytest
from published import AMCA_210, ASHRAE_FUNDAMENTALS, DOE_FANS, MEMORY, SEEN, TEXT_BOOKS, Figure, names

from helpers.formulas import air, fan

UNITS = pint.get_application_registry()
TEACHING = TEXT_BOOKS.at("fan law teaching example")
SOURCEBOOK = DOE_FANS.at("fan laws")


def si(value, unit):
    """Value in SI base units."""
    return UNITS.Quantity(value, unit).to_base_units().magnitude


def cfm_inches_per_horsepower(water_kg_m3):
    power = fan.air_power_w(si(1, "foot^3/minute"), water_kg_m3 * air.GRAVITY_M_S2 * 0.0254)
    return si(1, "horsepower") / power


FIGURES = [
    # The figure is the motor size above the 9.8 hp that the law gives, so the half unit is that of a motor list.
    Figure("power for 25 % more air from 5 hp [hp]", lambda: fan.power_at_speed(5, 1250 / 1000), "10", TEACHING, SEEN),
    Figure("power at 80 % speed [%]", lambda: fan.power_at_speed(100, 0.8), "51.2", SOURCEBOOK, MEMORY),
    Figure("power at 50 % speed [%]", lambda: fan.power_at_speed(100, 0.5), "12.5", SOURCEBOOK, MEMORY),
    Figure(
        "air horsepower constant, water 62.3 lb/ft3",
        lambda: cfm_inches_per_horsepower(si(62.3, "lb/ft^3")),
        "6356",
        ASHRAE_FUNDAMENTALS.at("duct design", also="ACGIH"),
        MEMORY,
    ),
    Figure("air horsepower constant, water at 4 °C", lambda: cfm_inches_per_horsepower(1000.0), "6343.3", AMCA_210, MEMORY),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_fans_agree_with_the_published_figure(figure):
    figure.check()
