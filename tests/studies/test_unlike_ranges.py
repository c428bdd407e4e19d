"""Transmitters of unlike ranges: record, schedule, injection sheet and papers have for each its own range, and none has another's."""

import re

import pytest
from demo_designs import low_rise, quickly_tuned

from helpers.formulas.signals import to_signal, to_units
from helpers.pages import injection
from helpers.record.papers.points import points_list
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.sections.signals import range_section, signal_section
from helpers.record.sections.signed import design_schedule
from helpers.studies.signals.unlike_ranges import accuracy_pa, as_the_widest, gain_said
from helpers.units.said import written_out

ENDS = {"PDT-1": (-25.0, 100.0), "PDT-2": (-50.0, 200.0)}
PLATES = {"PDT-1": "-25 to 100 Pa", "PDT-2": "-50 to 200 Pa"}


@pytest.fixture(scope="module")
def design():
    return quickly_tuned(
        low_rise().with_changes(transmitters=[{"range_low_pa": low, "range_high_pa": high} for low, high in ENDS.values()])
    )


def test_every_step_of_the_injection_table_has_each_inputs_own_range(design):
    assert [(tap.range_low_pa, tap.range_high_pa) for tap in design.injection.transmitters] == [*ENDS.values()]
    for row in design.injection.rows:
        for tap, sent, shown in zip(design.injection.transmitters, row.signals, row.readings_pa, strict=True):
            if shown is not None:
                assert shown == pytest.approx(float(to_units(sent, tap.signal, *ENDS[tap.name])))


def test_the_sheet_of_the_day_shows_what_each_own_range_makes_of_a_signal(design, monkeypatch, tmp_path):
    monkeypatch.setattr(injection, "design_of", lambda same: design)
    panel, seen = injection.InjectionPanel(design.site, tmp_path), set()
    for cells in panel.sheet.rows.values():
        cells = [written_out(cell) for cell in cells if isinstance(cell, str)] if isinstance(cells, list) else []
        if len(cells) > 4 and (found := re.fullmatch(r"(.*) mA on (PDT-\d).*", cells[2])) and cells[0].isdigit():
            shown = float(cells[4].partition(" ±")[0].split()[0])
            assert shown == pytest.approx(float(to_units(float(found[1]), "4-20 mA", *ENDS[found[2]])), abs=0.1)
            seen.add(found[2])
    assert seen == set(ENDS)


def test_the_record_scales_the_set_point_by_each_own_range(design):
    section, target = written_out(signal_section(design)), design.site.control.set_point_pa
    told = {figure.label.partition(",")[0]: figure for figure in section.figures if "signal at the set point" in figure.label}
    for name, ends in ENDS.items():
        assert told[name].text == f"{float(to_signal(target, '4-20 mA', *ends)):.2f} mA"
        assert PLATES[name] in told[name].reason
        assert f"{name}: 4-20 mA for {PLATES[name]}" in section.verdict
    ranges = written_out(range_section(design))
    assert [name in one.what and PLATES[name] in one.what for name, one in zip(ENDS, ranges.findings, strict=True)] == [True, True]


def test_the_schedule_and_the_papers_have_each_own_displays_ends(design):
    lines = {(line.group, line.name): line.value for line in written_out(design_schedule(design))}
    papers = [repr(written_out(write(Quoted(design)))) for write in (points_list, schedules)]
    for name, (low, high) in ENDS.items():
        for end, value, sent in (("low", low, 4), ("high", high, 20)):
            assert lines[name, f"display at the {end} end of the signal"] == f"{value:.0f} Pa at {sent} mA"
    for name, other in (("PDT-1", "PDT-2"), ("PDT-2", "PDT-1")):
        assert not any(re.search(rf"{name} {PLATES[other]}", told) for told in papers)
    assert all(f"{ends[1]:.0f} Pa at 20 mA" in papers[1] for ends in ENDS.values())


def test_the_accuracy_of_the_combined_reading_is_no_better_than_the_widest_range_gives(design):
    assert accuracy_pa(design.site.transmitters) == pytest.approx(2.5)
    one = design.range
    assert as_the_widest(one, design.site).error.single_pa == pytest.approx(2.5 / 3**0.5)
    assert one.error == as_the_widest(one, design.site).error


def test_a_gain_says_whose_span_it_is_of(design):
    said = written_out(gain_said(design.site))
    assert "the span is PDT-1's" in said
    assert "2 times the gain on 250 Pa" in said
    assert gain_said(low_rise()) == ""
