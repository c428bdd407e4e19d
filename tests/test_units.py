"""Quantities at the edges: spellings a person uses, refusals, the one switch, and the water column."""

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import units

PROPERTY = settings(max_examples=50, derandomize=True, deadline=None)

# Factors from outside, each with its source; pint is asked further down as an independent referee.
KNOWN = [
    ("0.10 inH2O", "pressure", 24.90889, "NIST SP 811 (2008) app. B.8, inch of water conventional 2.490889 E+02 Pa (seen)"),
    ("0.10 in. w.c.", "pressure", 24.90889, "as above"),
    ("0.10 in. w.g.", "pressure", 24.90889, "as above"),
    ("0.10 in.w.c.", "pressure", 24.90889, "as above"),
    ("10 mm w.c.", "pressure", 98.0665, "NIST SP 811 app. B.8, millimetre of water conventional 9.80665 Pa (memory)"),
    ("25 Pa", "pressure", 25, "SI"),
    ("0.025 kPa", "pressure", 25, "SI"),
    ("3.1 m", "length", 3.1, "SI"),
    ("10 ft", "length", 3.048, "NIST SP 811 app. B.8, exact (memory)"),
    ("3 in.", "length", 0.0762, "NIST SP 811 app. B.8, exact (memory)"),
    ("28 °F", "temperature", -20 / 9, "NIST SP 811 app. B.8, (t - 32)/1.8 (memory)"),
    ("-9 °C", "temperature", -9, "definition"),
    ("−9°C", "temperature", -9, "the typographic minus"),
    ("293.15 K", "temperature", 20, "definition of the degree Celsius"),
    ("133 N", "force", 133, "SI"),
    ("30 lbf", "force", 133.4467, "NIST SP 811 app. B.8, 4.448222 N (memory)"),
    ("8200 cfm", "flow", 3.869969, "NIST SP 811 app. B.8, 4.719474 E-04 m3/s (memory)"),
    ("4 m3/s", "flow", 4, "SI"),
    ("4 m³/s", "flow", 4, "SI"),
    ("4 m^3/s", "flow", 4, "SI"),
    ("3600 m3/h", "flow", 1, "SI"),
    ("500 L/s", "flow", 0.5, "SI"),
    ("0.26 ft2", "area", 0.02415479, "NIST SP 811 app. B.8, 9.290304 E-02 m2 (memory)"),
    ("0.26 sq ft", "area", 0.02415479, "as above"),
    ("10 mph", "speed", 4.4704, "NIST SP 811 app. B.8, exact (memory)"),
    ("200 fpm", "speed", 1.016, "NIST SP 811 app. B.8, 5.08 E-03 m/s (memory)"),
    ("50 Hz", "frequency", 50, "SI"),
    ("3 s", "time", 3, "SI"),
    ("1.5 min", "time", 90, "SI"),
    ("12 %", "ratio", 0.12, "definition"),
    ("0.12", "ratio", 0.12, "a ratio may do without unit"),
    ("1 %", "percent", 1, "kept in per cent"),
    ("5.5 kW", "power", 5500, "SI"),
    ("10 hp", "power", 7456.999, "NIST SP 811 app. B.8, 550 ft lbf/s, 7.456999 E+02 W (memory)"),
    ("270 deg", "angle", 270, "kept in degrees"),
    ("0.075 lb/ft3", "density", 1.201385, "NIST SP 811 app. B.8, 1.601846 E+01 kg/m3 (memory)"),
]


@pytest.mark.parametrize(("text", "dimension", "si", "source"), KNOWN)
def test_a_quantity_as_the_trade_writes_it_reads_as_si(text, dimension, si, source):
    assert units.parse(text, dimension) == pytest.approx(si, rel=5e-7), source


@pytest.mark.parametrize(
    ("text", "dimension", "wanted", "found"),
    [
        ("25 Pa", "length", "a length", "a pressure"),
        ("3.1 m", "pressure", "a pressure", "a length"),
        ("25", "pressure", "a pressure", "no unit"),
        ("25 quux", "pressure", "a pressure", "none of Pa, hPa"),
        ("30 lb", "force", "a force", "none of N, lbf"),
        ("1500 rpm", "frequency", "a frequency", "none of Hz"),
        ("twelve Pa", "pressure", "a pressure", "no number"),
        ("", "pressure", "a pressure", "no number"),
        ("nan Pa", "pressure", "a pressure", "no number"),
        ("inf Pa", "pressure", "a pressure", "no number"),
        ("1e999 Pa", "pressure", "a pressure", "beyond all numbers"),
        ("0,10 Pa", "pressure", "a pressure", "decimal point"),
        ("1 2 Pa", "pressure", "a pressure", "no number"),
        ("--3 Pa", "pressure", "a pressure", "no number"),
        (25.0, "pressure", "a pressure", "no text"),
        (None, "pressure", "a pressure", "no text"),
    ],
)
def test_a_wrong_quantity_is_refused_by_name_with_what_it_is_and_must_be(text, dimension, wanted, found):
    with pytest.raises(ValueError, match="set point must be") as refusal:
        units.parse(text, dimension, name="set point")
    assert wanted in str(refusal.value)
    assert found in str(refusal.value)


@pytest.mark.parametrize(
    ("column", "pascals", "how"),
    [
        ("conventional", 249.08891, "1000 kg/m3 x 9.80665 m/s2 x 0.0254 m"),
        ("39.2 °F", 249.0820, "NIST SP 811 app. B.8, 2.49082 E+02 (seen)"),
        ("60 °F", 248.84, "NIST SP 811 app. B.8, 2.4884 E+02 (seen)"),
        ("20 °C", 248.642, "998.207 kg/m3 x 9.80665 m/s2 x 0.0254 m"),
    ],
)
def test_the_water_column_is_the_one_asked_for(column, pascals, how):
    assert units.parse("1 in. w.c.", "pressure", water_column=column) == pytest.approx(pascals, abs=0.0006), how
    assert units.to_display(pascals, "pressure", "in. w.c.", water_column=column) == pytest.approx(1, abs=3e-6)


# Each spelling in pint's words.
IN_PINT = {
    "pressure": {"Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "mbar": "millibar", "inH2O": "inH2O", "in. w.c.": "inH2O"}
    | {"in. w.g.": "inH2O", "i.w.c.": "inH2O", "mm w.c.": "mmH2O", "mmH2O": "mmH2O"},
    "length": {"m": "meter", "cm": "centimeter", "mm": "millimeter", "ft": "foot", "in.": "inch"},
    "area": {"m²": "meter**2", "cm²": "centimeter**2", "mm²": "millimeter**2", "ft²": "foot**2", "sq ft": "foot**2", "in²": "inch**2"},
    "temperature": {"°C": "degC", "C": "degC", "deg C": "degC", "°F": "degF", "F": "degF", "deg F": "degF", "K": "kelvin"},
    "force": {"N": "newton", "lbf": "pound_force"},
    "flow": {
        "m³/s": "meter**3/second",
        "m³/h": "meter**3/hour",
        "l/s": "liter/second",
        "cfm": "foot**3/minute",
        "ft³/min": "foot**3/minute",
    },
    "speed": {"m/s": "meter/second", "km/h": "kilometer/hour", "fpm": "foot/minute", "ft/min": "foot/minute", "mph": "mile/hour"}
    | {"kn": "knot"},
    "wind speed": {"m/s": "meter/second", "km/h": "kilometer/hour", "fpm": "foot/minute", "ft/min": "foot/minute", "mph": "mile/hour"}
    | {"kn": "knot"},
    "frequency": {"Hz": "hertz"},
    "time": {"s": "second", "ms": "millisecond", "min": "minute", "h": "hour"},
    "ratio": {"%": "percent", "": "dimensionless"},
    "percent": {"%": "percent"},
    "power": {"W": "watt", "kW": "kilowatt", "hp": "horsepower"},
    "angle": {"°": "degree", "deg": "degree"},
    "density": {"kg/m³": "kilogram/meter**3", "lb/ft³": "pound/foot**3"},
    "torque": {"N m": "newton*meter", "lbf ft": "pound_force*foot"},
    "inertia": {"kg m²": "kilogram*meter**2", "lb ft²": "pound*foot**2"},
    "concentration": {"ppm": "ppm"},
    "heat transfer": {"W/(m² K)": "watt/meter**2/kelvin", "Btu/(h ft² °F)": "Btu_it/hour/foot**2/delta_degF"},
    "effusivity": {"J/(m² K s^0.5)": "joule/meter**2/kelvin/second**0.5", "Btu/(ft² °F h^0.5)": "Btu_it/foot**2/delta_degF/hour**0.5"},
}


@pytest.mark.parametrize("dimension", units.DIMENSIONS)
def test_every_spelling_is_worth_what_pint_makes_of_it(dimension):
    quantity, spelled = pint.UnitRegistry().Quantity, IN_PINT[dimension]
    assert {units._key(spelling) for spelling in spelled} == set(units._KEYS[dimension])
    own = "dimensionless" if dimension == "ratio" else next(iter(spelled.values()))
    for spelling, name in spelled.items():
        rel = 2e-7 if "H2O" in name else 1e-14  # the water column is printed with seven digits
        for number in (1.0, -40.0, 1234.5):
            asked = quantity(number, name).to(own).magnitude
            assert units.parse(f"{number} {spelling}", dimension) == pytest.approx(asked, rel=rel, abs=1e-12), spelling


def test_the_water_column_at_60_degrees_agrees_with_pints_own():
    assert pint.UnitRegistry()("inH2O_60F").to("Pa").magnitude == pytest.approx(units.WATER_COLUMNS_PA["60 °F"], abs=5e-3)


def test_warmer_water_makes_a_lighter_column():
    columns = units.WATER_COLUMNS_PA
    assert columns["conventional"] > columns["39.2 °F"] > columns["60 °F"] > columns["20 °C"]


@pytest.mark.parametrize(
    ("dimension", "si", "in_pa", "in_wc"),
    [
        ("pressure", 24.9089, "25 Pa", "0.10 in. w.c."),
        ("pressure", -0.2, "0 Pa", "0.00 in. w.c."),
        ("flow", 3.87, "3.87 m³/s", "8200 cfm"),
        ("force", 133.4, "133 N", "30 lbf"),
        ("length", 3.048, "3.05 m", "10.00 ft"),
        ("area", 0.024155, "0.0242 m²", "0.260 ft²"),
        ("area", 0.0, "0 m²", "0 ft²"),
        ("area", 480.0, "480 m²", "5167 ft²"),
        ("temperature", -9.0, "-9 °C", "16 °F"),
        ("speed", 1.016, "1.02 m/s", "200 fpm"),
        ("wind speed", 4.0, "4.0 m/s", "9 mph"),
        ("power", 5500.0, "5.50 kW", "7.38 hp"),
        ("ratio", 0.12, "12 %", "12 %"),
        ("angle", 270.0, "270°", "270°"),
        ("frequency", 32.5, "32.5 Hz", "32.5 Hz"),
    ],
)
def test_one_switch_changes_every_figure(dimension, si, in_pa, in_wc):
    assert [units.show(si, dimension, system) for system in units.SYSTEMS] == [in_pa, in_wc]


def test_digits_may_be_chosen():
    assert units.show(12.45, "pressure", "in. w.c.", digits=3) == "0.050 in. w.c."


def test_sliders_get_plain_floats_and_pictures_arrays():
    assert type(units.to_display(25.0, "pressure", "in. w.c.")) is float
    np.testing.assert_allclose(units.to_display(np.array([0.0, 249.0889]), "pressure", "in. w.c."), [0.0, 1.0], atol=1e-12)


@PROPERTY
@given(
    value=st.floats(-1e4, 1e4),
    dimension=st.sampled_from(units.DIMENSIONS),
    system=st.sampled_from(units.SYSTEMS),
    column=st.sampled_from(list(units.WATER_COLUMNS_PA)),
)
def test_there_and_back_is_the_same_figure(value, dimension, system, column):
    there = units.to_display(value, dimension, system, column)
    assert units.from_display(there, dimension, system, column) == pytest.approx(value, abs=1e-9)


@PROPERTY
@given(value=st.floats(allow_nan=False, allow_infinity=False), dimension=st.sampled_from(units.DIMENSIONS))
def test_what_is_written_reads_as_exactly_the_same_float(value, dimension):
    assert units.parse(units.write(value, dimension), dimension) == value


@PROPERTY
@given(value=st.floats(-1e4, 1e4), dimension=st.sampled_from(units.DIMENSIONS), system=st.sampled_from(units.SYSTEMS))
def test_what_is_shown_can_be_typed_back(value, dimension, system):
    shown = units.show(value, dimension, system, digits=9)
    assert units.parse(shown, dimension) == pytest.approx(value, abs=1e-5)
    assert shown.endswith(units.unit_label(dimension, system))


@pytest.mark.parametrize(("system", "shown"), list(zip(units.SYSTEMS, ["m³/s", "cfm"], strict=True)))
def test_axes_are_labelled_in_the_chosen_system(system, shown):
    assert units.unit_label("flow", system) == shown


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: units.parse("25 Pa", "pressures"), "dimension must be one of pressure"),
        (lambda: units.show(25.0, "pressure", "bar"), "system must be one of Pa, in. w.c."),
        (lambda: units.show(25.0, "mass"), "dimension must be one of pressure"),
        (lambda: units.show(float("nan"), "pressure"), "finite"),
        (lambda: units.parse("1 inH2O", "pressure", water_column="50 °C"), "water_column must be one of conventional"),
        (lambda: units.to_display(1.0, "pressure", "in. w.c.", water_column="50 °C"), "water_column must be one of conventional"),
    ],
)
def test_a_name_that_is_not_known_is_refused_with_those_that_are(call, message):
    with pytest.raises(ValueError, match=message.replace(".", r"\.")):
        call()


def test_a_half_is_rounded_away_from_zero_whatever_dust_the_last_bits_hold():
    written = [units.show(value, "pressure", "Pa", 1) for value in (31.25, 93.75, 18.75, 18.7499999999999, -31.25, -0.04)]
    assert written == ["31.3 Pa", "93.8 Pa", "18.8 Pa", "18.8 Pa", "-31.3 Pa", "0.0 Pa"]


def test_the_largest_float_is_written_too():
    assert units.show(1e300, "pressure").endswith(" Pa")
