"""The ranked pairs of a stair or a campus from the command line: the same from processes here and from a cluster, a broken site named."""

import csv
import io
from pathlib import Path

import distributed
import pytest
from demo_designs import low_rise

from helpers.__main__ import main
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import SITES_FOLDER, write_site
from helpers.record.placed import HEADS, PlacementJob, placements


@pytest.fixture(autouse=True)
def here(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)


@pytest.fixture(scope="module")
def small():
    return low_rise("Tannery Row", 4)


def campus_of(site):
    campus = Path("campus")
    campus.mkdir()
    (campus / "one.toml").write_text(write_site(site), encoding="utf-8")
    (campus / "two.toml").write_text(write_site(site.with_changes(name="Second", control={"set_point_pa": 30.0})), encoding="utf-8")
    (campus / "broken.toml").write_text('name = "Broken"\n', encoding="utf-8")
    return str(campus)


def test_a_campus_has_the_same_numbers_from_a_cluster_as_from_here(small):
    campus = campus_of(small)
    own = {file: (found, why) for file, found, why in placements([campus], read_any_site, remark=str)}
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        there = {file: (found, why) for file, found, why in placements([campus], read_any_site, made.scheduler_address, str)}
    assert {file: None if found is None else found.csv() for file, (found, _) in own.items()} == {
        file: None if found is None else found.csv() for file, (found, _) in there.items()
    }
    assert sorted(Path(file).stem for file, (found, _) in own.items() if found is None) == ["broken"]
    assert len({found.csv() for found, _ in own.values() if found is not None}) == 2  # another set point, other numbers


def test_pairs_are_ranked_by_share_then_by_median_margin(small):
    rows = list(csv.reader(io.StringIO(PlacementJob(small).ranked().csv())))
    assert tuple(rows[0]) == HEADS
    share, margin = HEADS.index("all doors inside"), HEADS.index("median margin [Pa]")
    order = [(-float(row[share]), -float(row[margin])) for row in rows[1:]]
    assert order == sorted(order)
    assert len(order) > 5
    assert all(row[1] != row[2] for row in rows[1:])


def test_the_command_prints_the_best_and_writes_all_and_names_what_it_cannot(capsys, small):
    assert main(["placement", campus_of(small), "--out", "out"]) == 3
    said = capsys.readouterr()
    assert "not ranked: broken.toml" in said.err
    assert len([line for line in said.out.splitlines() if line.startswith("1. ")]) == 2
    assert len(list(Path("out").glob("*_placement.csv"))) == 2
    assert main(["placement", str(Path("campus") / "broken.toml")]) == 2


def test_another_plant_is_refused_in_a_sentence():
    with pytest.raises(ValueError, match=r"placement must be asked of a stair; .* is a duct"):
        PlacementJob(read_any_site(SITES_FOLDER / "mill_street_offices.toml")).ranked()
