"""The input data of a stair, as record and analysis print them: nothing that the file states is left out, what is taken has its source."""

import pytest
from demo_designs import site_of

from helpers import units
from helpers.model.site.entries import sections
from helpers.model.site.field_types import file_key
from helpers.record.sections.inputs import LEFT, inputs_table
from helpers.units.said import written_out

NAMES = ("Larkfield House", "Northgate Tower", "Tannery Row")


@pytest.mark.parametrize("name", NAMES)
def test_every_storey_stands_in_one_row_of_those_that_are_alike(name):
    site = site_of(name)
    rows = written_out(inputs_table(site)).rows
    storeys = [row[0] for row in rows if row[0].startswith("Storey")]
    told = " ".join(storeys)
    assert storeys
    assert str(site.storeys[0].level) in told
    assert str(site.storeys[-1].level) in told


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("system", units.SYSTEMS)
def test_what_the_file_states_of_stair_fan_and_leaks_is_printed_with_its_figure(name, system):
    site = site_of(name)
    rows = {row[0]: row for row in written_out(inputs_table(site), system).rows}
    looked_at = 0
    for part in (sections()[one] for one in ("stair", "fan", "leakage", "temperatures")):
        one, row = getattr(site, part.name), rows[part.title.partition(",")[0]]
        for field in one.model_fields_set:
            entry, value = part.entries.get(file_key(field)), getattr(one, field)
            if entry is None or entry.key in LEFT or not isinstance(value, float) or entry.dimension in ("", "ratio"):
                continue
            there = units.to_display(value, entry.dimension, system)
            shown = [float(text.split()[0]) for text in row[1].split(": ")[1:] if text.split()[0].lstrip("-").replace(".", "", 1).isdigit()]
            assert any(abs(number - there) <= max(2e-5 * max(abs(there), 1e-3), 0.5 * (abs(there) >= 9999.5)) for number in shown), (
                part.name,
                field,
            )
            looked_at += 1
    assert looked_at > 10


def test_what_is_not_stated_has_what_is_taken_and_its_source():
    rows = {row[0]: row for row in written_out(inputs_table(site_of("Larkfield House"))).rows}
    assert "closer, share given back: 0.5, 0.6, 0.67 (common practice, no source)" in rows["Door flat landing"][2]
    assert "share given back" in rows["Door street"][1]  # that one the file states
    assert "share given back" not in rows["Door street"][2]
    assert "from memory, not verified" in rows["Coefficients of the faces"][2]
