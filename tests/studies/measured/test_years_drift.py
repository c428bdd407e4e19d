"""Devices that drift and closers that stiffen or slacken: dates and years against lines drawn by hand, and what is refused."""

import numpy as np
import pytest
from demo_designs import site_of

from helpers.model.site.file import write_site
from helpers.model.test_day import DeviceFound, LeafForce, read_test_day
from helpers.pages.measured.years import band_html, changed_most, course_plot, first_due, years_page
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.drawn import DAYS_FOLDER, DEMO_CLOSERS, DEMO_ERRORS
from helpers.studies.measured.intervals import error_said
from helpers.studies.measured.years.drift import AHEAD_YEARS, Drift, device_courses, leaf_courses, leaf_limits
from helpers.studies.measured.years.folder import read_years
from helpers.studies.measured.years.told import (
    devices_said,
    due_said,
    leaves_said,
    month_said,
    reaches_said,
    trend_said,
    years_told,
)
from helpers.units.said import written_out

DEMO = DAYS_FOLDER / "tannery_row_years"


@pytest.fixture(scope="module")
def site():
    return site_of("Tannery Row")


@pytest.fixture(scope="module")
def day():
    return read_test_day(sorted(DEMO.glob("*.toml"))[0])


@pytest.fixture(scope="module")
def years(site):
    return read_years(site, DEMO)


def days_of(day, first, per_year, **more):
    """Test days on the same date of four years whose transmitter goes along a line, its errors exact."""
    return [
        day.model_copy(update={"date": f"{2021 + number}-05-12",
                               "devices": [DeviceFound(name="PDT-1", as_found_pa=first + per_year * number, reference_pa=0.2, **more)]})
        for number in range(4)
    ]  # fmt: skip


def test_a_transmitter_is_due_before_its_line_passes_its_accuracy(site, day):
    """0.2 Pa at first and 0.2 Pa a year against 1.25 Pa: past it 5.25 years after May 2021."""
    (course,) = device_courses(site, days_of(day, 0.2, 0.2))
    first, middle, latest = course.passes
    assert middle == pytest.approx(2021.36 + 5.25, abs=0.1)
    assert first < middle < latest
    assert course.line.slope == pytest.approx(0.2, abs=1e-3)
    assert reaches_said(course) == "2026-09; 2025-07 at the earliest"  # 1.03 Pa there, and 0.22 Pa that it may be off
    assert due_said(course) == "by 2025-07"
    assert course.state == "good"  # not before the next test, in May 2025


def test_what_was_set_back_is_put_back_before_the_line_is_drawn(site, day):
    """The same drift, set back to nothing in 2022: 0.4 Pa were taken off, so that its errors are 0.2, 0.4, 0.2 and 0.4 Pa."""
    days = days_of(day, 0.2, 0.2)
    for number, found, left in ((1, 0.4, 0.0), (2, 0.2, None), (3, 0.4, None)):
        device = DeviceFound(name="PDT-1", as_found_pa=found, as_left_pa=left, reference_pa=0.2)
        days[number] = days[number].model_copy(update={"devices": [device]})
    (course,) = device_courses(site, days)
    assert course.line.slope == pytest.approx(0.2, abs=1e-3)
    assert course.today == pytest.approx(0.4, abs=1e-3)
    assert course.passes[1] == pytest.approx(2024.36 + 0.85 / 0.2, abs=0.1)


def test_the_accuracy_of_the_day_counts_before_that_of_the_site_file_and_where_there_is_none_nothing_passes(site, day):
    stated = device_courses(site, days_of(day, 0.2, 0.2, accuracy_pa=0.5))[0]
    assert stated.most == 0.5
    assert stated.state == "wrong"  # 0.8 Pa at the last test
    assert devices_said([stated]) == "Check before the next test: PDT-1 now."
    other = [one.model_copy(update={"devices": [one.devices[0].model_copy(update={"name": "gauge 7"})]}) for one in days_of(day, 0.2, 0.2)]
    (course,) = device_courses(site, other)
    assert (course.limited, course.state) == (False, "open")


def test_fewer_than_three_dates_are_no_drift(site, day):
    (two,) = device_courses(site, days_of(day, 0.2, 0.2)[:2])
    assert two.refused == "2 test days tell of it: for a drift there must be 3"
    assert two.state == "open"
    same = [one.model_copy(update={"date": "2021-05-12"}) for one in days_of(day, 0.2, 0.2)]
    assert device_courses(site, same)[0].refused.startswith("1 test day tells of it")
    with pytest.raises(ValueError, match="for a drift there must be 3"):
        assert two.line


def test_the_interval_of_a_drawn_drift_holds_nine_truths_of_ten():
    rng, at, held = np.random.default_rng(5), np.arange(2020.0, 2025.0), []
    for _ in range(400):
        course = Drift("PDT-1", "pressure", at, 0.1 * (at - 2020) + rng.normal(0, 0.15, 5), np.full(5, 0.15), -2.0, 2.0)
        held.append(abs(course.line.slope - 0.1) <= course.line.slope_half)
    assert 0.87 <= np.mean(held) <= 0.97


def test_a_test_off_the_line_is_named(site, day):
    days = days_of(day, 0.0, 0.0)
    days[2] = days[2].model_copy(update={"devices": [DeviceFound(name="PDT-1", as_found_pa=1.0, reference_pa=0.2)]})
    (course,) = device_courses(site, days)
    assert 2023 in map(int, course.strange)
    assert course.state == "attention"


def test_a_closer_that_stiffens_fails_its_limit_in_its_year_and_a_still_one_has_no_trend(site, day):
    days = [
        day.model_copy(update={"date": f"{2021 + number}-05-12", "leaves": [
            LeafForce(door="stair door", level=5, fan_off_n=50.0 + 4.0 * number), LeafForce(door="stair door", level=4, fan_off_n=45.0)]})
        for number in range(5)
    ]  # fmt: skip
    still, stiffer = leaf_courses(site, days, {("stair door", 5): (-np.inf, 80.0), ("stair door", 4): (-np.inf, 80.0)})
    assert (still.name, trend_said(still), still.state) == ("stair door 4", "no trend", "open")
    assert stiffer.passes[1] == pytest.approx(2021.36 + 7.5, abs=0.1)
    first, middle = map(month_said, stiffer.passes[:2])  # the months in which the picture's lines cross the limit
    assert trend_said(stiffer) == f"stiffens, fails its limit {middle}; {first} at the earliest"
    assert leaves_said([still, stiffer]) == f"Closers: stair door 5 {trend_said(stiffer)}."
    (past,) = leaf_courses(site, [one.model_copy(update={"leaves": [one.leaves[0]]}) for one in days], {("stair door", 5): (-np.inf, 60.0)})
    assert (written_out(trend_said(past)), past.state) == ("too heavy: 66.0 N, at most 60 N", "wrong")
    (weak,) = leaf_courses(site, [one.model_copy(update={"leaves": [one.leaves[0]]}) for one in days], {("stair door", 5): (70.0, 90.0)})
    assert (written_out(trend_said(weak)), weak.state) == ("too weak: 66.0 N, at least 70 N", "wrong")  # inside its most, and no PASS
    exits = [LeafForce(door="final exit", level=0, fan_off_n=120.0 - one.leaves[0].fan_off_n) for one in days]
    days = [one.model_copy(update={"leaves": [leaf]}) for one, leaf in zip(days, exits, strict=True)]
    (slacker,) = leaf_courses(site, days, {("final exit", 0): (40.0, np.inf)})
    assert trend_said(slacker).startswith("slackens, fails its limit 2028")


def test_a_leafs_most_is_the_limit_less_what_the_pressure_adds_and_a_pushed_leafs_least_what_shuts_it(site, years):
    """By hand: half of the leaf's area adds at the latch stile; a closer shuts a leaf as far as its share goes."""
    limits, door = leaf_limits(years.fits[-1]), site.doors["flat landing"]
    least, most = limits["stair door", 5]
    added = 133.4466 - most
    assert least == -np.inf
    assert 25.0 < added / (door.width_m * door.height_m / 2) < 60.0  # the pressure that adds so much [Pa]
    street = site.doors["street"]
    lever = street.width_m - street.handle_to_edge_m
    pushed = limits["final exit", 0][0] * street.width_m / lever  # at the handle
    assert 25.0 < 2 * street.closing_share * pushed * lever / (street.height_m * street.width_m**2) < 60.0


def test_the_demos_years_find_what_was_drawn_and_tell_it(years):
    devices = {one.name: one for one in years.devices}
    for name, (_, a_year) in DEMO_ERRORS.items():
        assert abs(devices[name].line.slope - a_year) <= devices[name].line.slope_half
    for leaf in years.leaves:
        use, level = leaf.name.rsplit(" ", 1)
        drawn = DEMO_CLOSERS.get((use, int(level)), (0.0, 0.0))[1]
        assert abs(leaf.line.slope - drawn) <= 1.6 * leaf.line.slope_half
        assert leaf.line.sure == (drawn != 0)
    section = written_out(years_told(years))
    assert {"devices", "leaves", "self-tests"} <= {table.key for table in section.tables}
    assert "Closers: final exit 0 slackens" in section.verdict
    assert all(one.passes[0] is None or one.passes[0] <= years.at[-1] + AHEAD_YEARS for one in years.leaves)


def test_files_of_before_still_read_and_two_errors_of_one_device_are_refused(day):
    from helpers.model.site.file import write_site
    from helpers.model.test_day import read_test_day_text

    text = write_site(day)
    old = text.split("[[devices]]")[0]
    assert read_test_day_text(old).devices == []
    twice = text.replace('name = "PDT-2"', 'name = "PDT-1"')
    with pytest.raises(ValueError, match="must stand once in a day, with one as found; 'PDT-1' is there twice"):
        read_test_day_text(twice)
    with pytest.raises(ValueError, match="stair door 0, leaf 1 is there twice"):
        read_test_day_text(text.replace("level = 1", "level = 0", 1))


def written_folder(folder, site, force_n, dates):
    """A folder with the first and the last demo day; one leaf of the last asks for a force [N] that is given."""
    for name in dates:
        text = (DEMO / f"{name}.toml").read_text(encoding="utf-8")
        last = read_test_day(DEMO / f"{name}.toml")
        if name == dates[-1]:
            leaves = [LeafForce(**vars(one) | {"fan_off_n": force_n if (one.door, one.level) == ("stair door", 2) else one.fan_off_n})
                      for one in last.leaves]  # fmt: skip
            text = write_site(last.model_copy(update={"leaves": leaves}))
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return read_years(site, folder)


def test_the_head_says_what_changed_how_much_against_which_limit_and_when(years):
    """The device and the leaf that are due first, and the leak that has surely changed most: what the tables have of them."""
    device, leaf = first_due(years.devices), first_due(years.leaves)
    tiles = written_out(changed_most(years))
    assert [what for what, *_ in tiles[:2]] == [f"{device.name}, error now", f"Closer of {leaf.name}"]
    assert "perhaps in 2026-06" in tiles[0][2]
    assert str(int(leaf.passes[0])) in tiles[1][2]
    assert tiles[2][1:] == ("+32 %", "since 2017")
    assert all(value in band_html(written_out(years_told(years)), "", tiles) for _, value, _ in tiles)


def test_a_device_is_drawn_as_it_is_set_today_so_that_its_last_test_and_its_limits_are_those_of_the_list(years):
    device = first_due(years.devices)
    assert device.shift  # it was set back, or nothing is looked at here
    drawn = {layer.label: layer for layer in written_out(course_plot(device, "")).axes[0].layers if getattr(layer, "label", "")}
    assert drawn["tests"].y[-1] == pytest.approx(device.last)
    assert "Limits: ±1.25 Pa" in written_out(course_plot(device, "")).words


DATES = ("2017-05-16", "2026-05-14")


@pytest.mark.parametrize("dates", [DATES[1:], DATES, ("2017-05-16", "2022-05-28", "2026-05-14")])
def test_a_closer_past_its_limit_at_the_last_test_is_fail_however_few_tests_there_are(site, tmp_path, dates):
    """140 N with the fan off is past any force limit that is in print (133 N): no trend is needed to say so."""
    years = written_folder(tmp_path, site, 140.0, dates)
    section = written_out(years_told(years))
    (table,) = [one for one in section.tables if one.title.startswith("Closers")]
    state = next(state for row, state in zip(table.rows, table.states, strict=True) if row[0] == "stair door 2")
    assert state == "wrong"
    assert "stair door 2 too heavy: 140.0 N, at most " in section.verdict
    heavy = next(one for one in section.findings if one.what == "The closer of stair door 2 is too heavy")
    assert "the day's report holds it to the limit in that day's air alone" in heavy.why
    assert all(table.rows for table in section.tables)  # no head over nothing
    band = band_html(section, site.name)
    assert "FAIL" in band
    assert "PASS" not in band
    assert "140" in written_out(years_page(years))


def test_a_transmitter_that_is_out_in_its_self_test_is_first_checked_at_its_zero_and_every_check_in_view_is_counted(years):
    """A tenth of a pascal past the test's limit: the zero is looked at before a reading is taken out of the loop."""
    section = written_out(years_told(years))
    first = next(one for one in section.findings if one.what.startswith("Self-test failed: PDT-1"))
    steps = first.remedy.split("; ")
    assert "approves the mending in writing" in steps[0]
    assert "alarm service and fire service are told" in steps[1]
    assert "only who is qualified opens the panel" in steps[2], "before the work in it"
    own, found = ceiling_of(years.site), ceiling_of(years.fits[-1].site)
    assert found.by_hand_hz < own.by_hand_hz  # the last test's building bears less than its file, and counts
    assert f"one person stays at the drive, fan in MANUAL, to {found.by_hand_said}" in steps[3]
    assert "at PDT-1: its zero against a gauge" in steps[4]
    assert "still out: take PDT-1 out of the combined reading" in steps[5]
    assert "left in AUTOMATIC last of all" in steps[-2]
    assert "told again" in steps[-1]
    (building,) = (table for table in section.tables if table.key == "changes")
    sure = [row[0] for row, state in zip(building.rows, building.states, strict=True) if state == "attention"]
    assert sure
    assert all(any(one.what.startswith(name) for one in section.findings) for name in sure)


def test_one_test_that_is_inside_its_limits_is_not_yet_judged_and_no_pass(site, tmp_path):
    section = written_out(years_told(written_folder(tmp_path, site, 50.0, DATES[1:])))
    assert not [one for one in section.findings if one.severity == "wrong"]
    band = band_html(section, site.name)
    assert "PASS" not in band
    assert "NOT YET" in band


def test_two_tests_stand_side_by_side_with_the_change_and_no_trend(site, tmp_path):
    section = written_out(years_told(written_folder(tmp_path, site, 61.0, DATES)))
    (table,) = [one for one in section.tables if one.title == "The last test beside the first"]
    assert table.columns[1:3] == ("First, 2017-05-16", "Last, 2026-05-14")
    first = next(one.fan_off_n for one in read_test_day(DEMO / "2017-05-16.toml").leaves if (one.door, one.level) == ("stair door", 2))
    row = next(row for row in table.rows if row[0] == "stair door 2, fan off")
    assert row[1:] == (f"{first:g} N", "61 N", f"{61 - first:+g} N")
    assert "no trend" in table.note
    three = written_out(years_told(read_years(site, DEMO)))
    assert not [one for one in three.tables if one.title == table.title]  # there the trends stand


def test_an_accuracy_and_an_error_are_one_figure_in_tile_list_table_and_picture(years):
    """Read off the pages of a demonstration: 1.2, 1.3 and 1.25 Pa stood for one accuracy."""
    device, section = first_due(years.devices), years_told(years)
    error, accuracy = written_out(error_said(device.today, device.most))
    (tile,) = (one for one in written_out(changed_most(years)) if one[0].startswith(device.name))
    assert (tile[1], tile[2].split(",")[0]) == (error, f"max. {accuracy}") == ("1.04 Pa", "max. ±1.25 Pa")
    (row,) = (row for table in section.tables if table.key == "devices" for row in written_out(table).rows if row[0] == device.name)
    assert (row[2], row[3]) == (error, accuracy)
    assert f"error {error} now, accuracy {accuracy}" in [written_out(one.figure) for one in section.findings]
    assert accuracy in written_out(course_plot(device, "")).words
