"""What a paper adds to the words of a record: a case beside the design that would be FAIL in it, a set point close to an end that works."""

from helpers.record.papers.beyond.marks import NOT_REQUIRED, beside_failing, edge_said, marked_finding, marked_table
from helpers.studies.report import Finding, Table
from helpers.units.said import written_out


def test_a_case_that_is_marked_is_not_of_the_design_and_has_a_door_out_or_no_set_point_held(design_named):
    design = design_named("Tannery Row")
    own, names = design.own, beside_failing(design)
    assert names
    assert not names & {case.name for case in design.standing.required}
    assert all((case.name in names) == (not good and not required) for case, good, required in
               zip(own.cases, own.good, own.required, strict=True))  # fmt: skip


def test_every_case_that_is_check_since_nobody_requires_it_says_so_in_its_row_or_at_its_column(design_named, folder_of):
    names = beside_failing(design_named("Tannery Row"))
    (report,) = (paper for paper in folder_of("Tannery Row").papers if paper.key == "rational_analysis")
    tables = {table.key: table for part in report.parts for table in part.tables}
    for key in ("wind", "fan_needed", "duty"):
        table = tables[key]
        marked = {row[0] for row in table.rows if NOT_REQUIRED in row[0]}
        assert marked == {f"{name} ({NOT_REQUIRED})" for name in names}
        assert all(state == "attention" for state, row in zip(table.states, table.rows, strict=True) if row[0] in marked)
    heads = [column for column in tables["doors average"].columns if NOT_REQUIRED in column]
    assert heads == [f"winter, stair doors 2 and 3 open, final exit 0 open ({NOT_REQUIRED})"]
    assert any(NOT_REQUIRED in row[0] for row in tables["findings"].rows)


def test_what_fails_or_passes_is_left_as_it_is(design_named):
    design = design_named("Tannery Row")
    name = min(beside_failing(design))
    table = Table("wind", "T", ("Case", "Room"), ((name, "1"), (name, "2"), ("winter, doors shut", "3")), ("wrong", "good", "attention"))
    assert marked_table(table, design) == table
    found = Finding("wrong", f"{name}: one door out", "1", "why", "source")
    assert marked_finding(found, design) == found.what


def test_a_set_point_at_the_end_of_those_that_work_says_so_and_where_none_works_nothing_is_said(design_named):
    design = design_named("Tannery Row")
    said = written_out(edge_said(design))
    (tried,) = (one for one in design.set_points if one.rule == design.site.control.rule)
    low, high = design.standing.offered(tried, design.inner_cases)
    assert min(design.site.control.set_point_pa - low, high - design.site.control.set_point_pa) < 1.25
    assert said.startswith("CHECK: The set point lies less than a transmitter may be off from the upper end of those that work: 35 Pa")
    assert f"{low:.0f} to {high:.0f} Pa" in said
    assert written_out(edge_said(design_named("Larkfield House"))) == ""  # none works there: the record fails its set point
