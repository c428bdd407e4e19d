"""A campus on a cluster: the same papers as here, a lost worker's site begun again, a broken one named; what is refused before any work.

The cluster is one of two processes on this machine; the package is among what CI installs, so that nothing here is ever left out.
"""

import os
import sys
import time
from pathlib import Path

import distributed
import openpyxl
import pytest
from demo_designs import low_rise, site_of

from helpers.__main__ import main
from helpers.model.site.file import write_site
from helpers.plots import printer
from helpers.record.papers import cluster as cluster_of
from helpers.record.papers.cluster import MOST_BEGUN, on_cluster
from helpers.record.papers.folder import BEGUN, CONTENTS, begun, write_files
from helpers.record.papers.job import job_of


@pytest.fixture(scope="module")
def cluster():
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as made:
        yield made


@pytest.fixture(autouse=True)
def quick(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(printer, "browser", lambda: None)
    monkeypatch.setattr(cluster_of, "ASK_S", 0.2)


@pytest.fixture(scope="module")
def small():
    """A stair of three storeys: its record is worked out whole in seconds."""
    return low_rise("Tannery Row", 3)


def test_a_campus_has_the_same_papers_from_a_cluster_as_from_here_and_is_resumed(cluster, small, capsys):
    campus = Path("campus")
    campus.mkdir()
    (campus / "small.toml").write_text(write_site(small), encoding="utf-8")
    no_window = small.with_changes(name="No Window", doors={"flat landing": {"closer_force_n": 130.0}})
    (campus / "no_window.toml").write_text(write_site(no_window), encoding="utf-8")
    (campus / "broken.toml").write_text('name = "Broken"\n', encoding="utf-8")

    def without_a_printer():
        from helpers.plots import printer

        printer.browser = lambda: None

    with distributed.Client(cluster, set_as_default=False) as client:
        client.run(without_a_printer)
    asked = ["papers", str(campus), "--cluster", cluster.scheduler_address, "--out", "there"]
    assert main(asked) == 3
    said = capsys.readouterr()
    refused = {line.split(": ")[1]: line for line in said.err.splitlines() if line.startswith("not written: ")}
    assert set(refused) == {"broken.toml"}
    assert [line for line in said.out.splitlines() if line.startswith("small.toml: DRAFT") and line.endswith("of 2)")]
    assert {path.name for path in Path("there").iterdir()} == {"tannery_row_papers", "no_window_papers"}
    asking = {path.stem for path in Path("there/no_window_papers").glob("*.html")}
    assert asking == {"06_rational_analysis", "07_enquiry"}  # no pressure suits its doors

    here = job_of(campus / "small.toml", "here")
    here.write(str)
    there = Path("there") / here.folder.name
    assert {path.name for path in there.iterdir()} == {path.name for path in here.folder.iterdir()}
    for path in here.folder.iterdir():
        if path.suffix == ".xlsx":  # bears the moment in which it was written
            assert cells_of(path) == cells_of(there / path.name)
        else:
            assert path.read_bytes() == (there / path.name).read_bytes(), path.name

    before = {path.name: path.stat().st_mtime_ns for path in there.iterdir()}
    assert main([*asked, "--resume"]) == 3
    assert "small.toml: has its papers already, of the same figures. DRAFT" in capsys.readouterr().out
    assert {path.name: path.stat().st_mtime_ns for path in there.iterdir()} == before


def cells_of(path):
    return [(sheet.title, [[cell.value for cell in row] for row in sheet.iter_rows()]) for sheet in openpyxl.load_workbook(path)]


def test_a_lost_workers_site_is_begun_again_and_that_is_said(cluster, tmp_path):
    def lost_once(task):
        mark = task / "begun"
        if not mark.exists():
            mark.write_text(str(os.getpid()))
            time.sleep(1.0)
            os._exit(1)
        return mark.read_text(), os.getpid()

    remarks = []
    (done,) = on_cluster(lost_once, {"north": tmp_path}, cluster.scheduler_address, remarks.append)
    name, (first, second), why = done
    assert (name, why) == ("north", "")
    assert int(first) != second
    assert len(remarks) == 1
    assert remarks[0].startswith("north: its worker was lost; begun again on tcp://")
    assert remarks[0].endswith(f"2 of {MOST_BEGUN} at most")


def test_a_site_that_takes_every_worker_with_it_is_given_up_and_the_others_are_done(cluster, tmp_path):
    def lost(task):
        if task == "worse":
            with open(tmp_path / "runs", "a") as runs:
                runs.write("run\n")
            time.sleep(1.0)
            os._exit(1)
        return task.upper()

    found = {name: (made, why) for name, made, why in on_cluster(lost, {"a": "worse", "b": "well", "c": "well"}, cluster.scheduler_address)}
    assert found["b"] == found["c"] == ("WELL", "")
    made, why = found["a"]
    assert made is None
    assert why.startswith("its worker was lost, begun")
    assert (tmp_path / "runs").read_text().count("run") <= MOST_BEGUN + 1  # the last is stopped as soon as it is heard of


def test_what_breaks_at_a_worker_is_named_and_the_others_are_done(cluster):
    def inverse(task):
        return 1 / task

    found = {name: (made, why) for name, made, why in on_cluster(inverse, {"a": 0, "b": 4}, cluster.scheduler_address)}
    assert found == {"a": (None, "at its worker: ZeroDivisionError: division by zero"), "b": (0.25, "")}


def test_a_worker_of_another_release_is_refused(cluster, monkeypatch):
    monkeypatch.setattr(cluster_of, "__version__", "0.0.1")
    ((_, made, why),) = on_cluster(str, {"a": 1}, cluster.scheduler_address)
    assert made is None
    assert why.endswith("of the workbook, here is 0.0.1")


def test_a_cluster_without_workers_is_waited_for_and_then_given_up():
    remarks = []
    with distributed.LocalCluster(n_workers=0, processes=True, dashboard_address=None) as empty:
        found = list(on_cluster(str, {"a": 1}, empty.scheduler_address, remarks.append, without_worker_s=1.0))
    assert found == [("a", None, "the cluster had no worker for 1 s")]
    assert remarks == ["the cluster has no worker now: waiting for one"]


@pytest.fixture
def tannery():
    Path("tannery.toml").write_text(write_site(site_of("Tannery Row")), encoding="utf-8")
    return "tannery.toml"


def test_an_address_without_a_scheduler_is_refused_before_any_work(monkeypatch, capsys, tannery):
    monkeypatch.setattr(cluster_of, "ANSWER_S", 1.0)
    assert main(["papers", tannery, "--cluster", "tcp://127.0.0.1:9"]) == 2
    assert "no Dask scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err.splitlines()[-1]
    assert not Path("records").exists()


@pytest.mark.parametrize("address", ["x://y", "inproc://", "127.0.0.1:9", "inproc://127.0.0.1/1/2", "tcp://a:99999", "tcp://a b:9", ""])
def test_an_address_of_another_kind_is_refused_before_anybody_is_asked(address, monkeypatch):
    monkeypatch.setattr("distributed.Client", lambda *_, **__: pytest.fail("was asked"))
    with pytest.raises(ValueError, match="cluster must be the address of a Dask scheduler"):
        next(on_cluster(str, {"a": "b"}, address))


@pytest.mark.parametrize("name", ["../x.md", "05_schedules.md/../../x", "/tmp/x.md", "05_schedules.exe", "x\n05_rules.md", "05_rules.md\n"])
def test_what_a_worker_sends_under_another_name_is_not_written(name, tmp_path):
    with pytest.raises(ValueError, match="must be papers and their contents; got"):
        write_files({CONTENTS: b"x", name: b"x"}, tmp_path / "papers", str)
    assert not list(tmp_path.iterdir())


def test_without_the_package_one_sentence_says_what_is_missing(monkeypatch, capsys, tannery):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert main(["papers", tannery, "--cluster", "tcp://127.0.0.1:9"]) == 2
    assert "pip install distributed" in capsys.readouterr().err.splitlines()[-1]


def test_a_folder_without_site_files_and_a_folder_that_is_not_ours_are_refused_before_any_work(capsys, tannery):
    Path("empty").mkdir()
    assert main(["papers", "empty", "--cluster", "tcp://127.0.0.1:9"]) == 2
    assert capsys.readouterr().err == "empty must hold a site file at least, a .toml; it holds none.\n"
    Path("records/tannery_row_papers").mkdir(parents=True)
    Path("records/tannery_row_papers/letter.md").write_text("mine", encoding="utf-8")
    assert main(["papers", tannery, "--cluster", "tcp://127.0.0.1:9", "--resume"]) == 2
    assert "holds files that are no papers of ours" in capsys.readouterr().err
    assert [path.name for path in Path("records/tannery_row_papers").iterdir()] == ["letter.md"]


def test_papers_that_were_stopped_are_written_anew_and_those_of_other_figures_are_not(
    tmp_path, folder_of, monkeypatch, design_named, tannery
):
    monkeypatch.setattr("helpers.record.papers.job.design_of", lambda site, **choices: design_named("Tannery Row"))
    job = job_of(tannery, tmp_path)
    job.write(str)
    assert job.found() == folder_of("Tannery Row").stamp.state
    contents = job.folder / CONTENTS
    finished = contents.read_text(encoding="utf-8")
    contents.write_text(begun(finished), encoding="utf-8")
    assert job.found() == BEGUN
    with pytest.raises(ValueError, match="holds papers already"):
        job_of(tannery, tmp_path)
    assert job_of(tannery, tmp_path, resume=True) == job
    contents.write_text(finished.replace(folder_of("Tannery Row").stamp.digest, "0123456789abcdef"), encoding="utf-8")
    with pytest.raises(ValueError, match="holds papers already"):
        job_of(tannery, tmp_path, resume=True)
    contents.write_text(finished, encoding="utf-8")
    shown = job.folder / "05_schedules.md"
    paper = shown.read_text(encoding="utf-8")
    shown.write_text(paper.replace("FAIL", "PASS"), encoding="utf-8")
    assert job.found() == "", "another paper than was written"
    shown.write_text(paper, encoding="utf-8")
    assert job.found() == folder_of("Tannery Row").stamp.state
    contents.write_text("\n".join(finished.splitlines()[:-1]) + "\n", encoding="utf-8")
    assert job.found() == "", "a paper is not in the contents"
    contents.write_text(finished.replace(folder_of("Tannery Row").stamp.state, "The record fails in nothing."), encoding="utf-8")
    assert job.found() == "", "the record says another state than the contents"
    contents.write_text(finished, encoding="utf-8")
    (job.folder / "05_schedules.xlsx").unlink()
    assert job.found() == ""
