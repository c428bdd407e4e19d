"""What is only read follows the units, reads without a kernel, and shows every text as text."""

from dataclasses import replace

import pytest

from helpers.teaching.derivation import Row, WorkedExample
from helpers.units.said import unit_of
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import Reading, SeniorCard, WorkedCard

pytestmark = pytest.mark.usefixtures("units_alone")


def example(last=50.0):
    given = (Row("Pressure <one side>", "", 25.0, "pressure"),)
    return WorkedExample("By hand", given, (Row("Double", "2 x 25", last, "pressure", 1),), 50.0, 0.5, "Table 7", "memory")


def test_a_reading_follows_the_units():
    reading = Reading(lambda: (f"<p>in {unit_of('pressure')}</p>", f"in {unit_of('pressure')}"))
    assert reading.widget.value == "<p>in Pa</p>"
    UNITS.system = "in. w.c."
    assert reading.widget.value == "<p>in in. w.c.</p>"
    assert reading._repr_mimebundle_()["text/plain"] == "in in. w.c."


def test_a_worked_card_shows_line_by_line_and_ends_on_the_published_figure():
    shown = WorkedCard(example())._repr_mimebundle_()
    assert shown["text/plain"].splitlines() == [
        "By hand",
        "Pressure <one side>: 25 Pa",
        "Double: 2 x 25 = 50.0 Pa",
        "AGREES, from memory, not verified: Published: 50.0 Pa (Table 7; memory), which is what comes out here.",
    ]
    assert "Pressure &lt;one side&gt;" in shown["text/html"]
    assert "PASS" not in shown["text/html"]  # nobody opened that table
    looked_up = WorkedCard(replace(example(), known="checked in public text"))
    assert "AGREES, checked in public text" in looked_up.widget.value
    assert "PASS" not in looked_up.widget.value  # a book says nothing of a building


def test_a_worked_card_that_misses_its_figure_says_so():
    assert "CHECK" in WorkedCard(example(55.0)).widget.value
    assert "PASS" not in WorkedCard(example(55.0)).widget.value


def test_a_worked_card_speaks_inches_after_the_switch():
    card = WorkedCard(example())
    UNITS.system = "in. w.c."
    assert ">Value, in. w.c.</th>" in card.widget.value
    assert ">0.10</td>" in card.widget.value


def test_the_card_for_the_senior_numbers_its_lines():
    card = SeniorCard(lambda: (f"Hold 25 Pa & more, in {unit_of('pressure')}.", "Measure."))
    shown = card._repr_mimebundle_()
    assert shown["text/plain"].splitlines() == ["Summary for the reviewing engineer", "1. Hold 25 Pa & more, in Pa.", "2. Measure."]
    assert ">Hold 25 Pa &amp; more, in Pa.</li>" in shown["text/html"]
    UNITS.system = "in. w.c."
    assert "in in. w.c." in card.widget.value
