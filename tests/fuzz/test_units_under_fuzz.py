"""A text is a quantity, or is refused in one clear sentence that names the field; what is written is read back as the same number."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.units import DIMENSIONS, SYSTEMS, UnitError, from_display, parse, show, to_display, write

NUMBERS = st.from_regex(r"[-+−]?[0-9]{0,4}[.,]?[0-9]{0,3}([eE][-+]?[0-9]{1,3})?", fullmatch=True)
UNITS = st.sampled_from(
    ["Pa", "in. w.c.", "in. w.g.", "mm H2O", "°F", "°", "m³/s", "CFM", "ft 2", "%", "", "Pa Pa", "furlong", "\0", "\u202ePa", "1 Pa"]
)
TEXTS = st.one_of(st.text(max_size=130), st.tuples(NUMBERS, st.sampled_from(["", " ", "\u00a0", "\t"]), UNITS).map("".join))


@settings(deadline=None)  # the units are loaded at the first one
@given(TEXTS, st.sampled_from(DIMENSIONS))
def test_a_text_is_a_quantity_or_is_refused_in_one_sentence(text, dimension):
    try:
        value = parse(text, dimension, "field")
    except UnitError as refusal:
        said = str(refusal)
        assert said.startswith("field must be ")
        assert said.isprintable()
        assert len(said) < 300
    else:
        assert math.isfinite(value)


@pytest.mark.parametrize("value", [None, 1, 1.5, b"1 Pa", [], {}, object(), float("nan")])
def test_what_is_no_text_is_refused_in_one_sentence(value):
    with pytest.raises(UnitError, match="field must be a pressure"):
        parse(value, "pressure", "field")


@settings(deadline=None)
@given(st.floats(-1e15, 1e15), st.sampled_from(DIMENSIONS))
def test_what_is_written_is_read_back_as_the_same_number(value, dimension):
    assert parse(write(value, dimension), dimension) == value


@settings(deadline=None)
@given(st.floats(-1e12, 1e12), st.sampled_from(DIMENSIONS), st.sampled_from(SYSTEMS))
def test_what_is_shown_comes_back(value, dimension, system):
    assert show(value, dimension, system).isprintable()
    assert from_display(to_display(value, dimension, system), dimension, system) == pytest.approx(value, rel=1e-12, abs=1e-9)
