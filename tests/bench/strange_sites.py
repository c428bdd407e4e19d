"""Record, sheets, test day, papers and review of strange but honest buildings drawn from seeds, and the invariants that hold on each.

`.venv/bin/python tests/bench/strange_sites.py [--sites 100] [--from 0] [--out sites.jsonl] [--storeys 80]`

Prints JSON. Record, review and what has to hold of them are made of every site; day's sheets, test day, papers and pages with their
pictures of one in FULL_EVERY (--full-every): the result says how many sites ran each part. With --out each site's line is written as it
is done, and a run that was stopped goes on where it was: sites that the file has are not done again. Held on a part of the sites alone: a
second run in another process and the file in the other system of units on every eighth, a slower sensor on every second. Seconds are of
the processor, and a machine that is slower than the one they were asked of is given as much more. Files go to a folder that is deleted;
nothing is printed as PDF. An invariant that fails is told with its seed: `--sites 1 --from SEED` shows it alone.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), *(str(HERE.parent / name) for name in ("bench", "house", "truth"))]

import numpy as np  # noqa: E402
import strange_invariants as held  # noqa: E402
from strange_buildings import in_inches, strange_sites  # noqa: E402

from helpers.model.site.file import read_site_text, write_site  # noqa: E402
from helpers.model.strategy import stated_by  # noqa: E402
from helpers.pages.printed import day_sheets, procedure_page, review_page  # noqa: E402
from helpers.record.design import Design  # noqa: E402
from helpers.record.page import page_html  # noqa: E402
from helpers.record.papers.folder import Folder, write_sheets  # noqa: E402
from helpers.record.papers.paper import paper_html, paper_markdown  # noqa: E402
from helpers.record.review.study import reviewed  # noqa: E402
from helpers.record.sections.signed import before_the_loop  # noqa: E402
from helpers.studies.commissioning.crew.book import write_book  # noqa: E402
from helpers.studies.commissioning.crew.procedure import procedure  # noqa: E402
from helpers.studies.commissioning.crew.rounds import crew_rounds  # noqa: E402
from helpers.studies.commissioning.injection import STEP_PARTS  # noqa: E402

MOST_S = 20.0  # of the processor, for any one part, on a machine that runs `paced` in PACE_S; one that is slower has more
PACE_S = 0.45  # of the processor, the least seen on a two-core machine beside other work; the same one took 0.86 at its slowest
FULL_EVERY = 5  # of so many sites one is sheets, test day, papers and pictures as well
FEW_DRAWN = 40  # conditions of the placement
NO_PAPER = "no paper is written of"  # begins the one refusal that a site may meet: no pressure suits its doors


def paced():
    """Seconds of the processor that a fixed loop of small array sums takes: what a busy or slower machine makes of the same work."""
    values, began = np.linspace(1.0, 2.0, 200), time.process_time()
    for _ in range(200_000):
        values = np.sqrt(values * values + 1e-9)
    return time.process_time() - began


class SiteRun:
    """What came of one site: seconds by part, invariants that failed with their words, and what the record came to."""

    def __init__(self, seed, text, slower=1.0):
        self.seed, self.text, self.slower = seed, text, slower
        self.seconds, self.failed, self.crashed = {}, [], False

    def part(self, name, make, most_s=MOST_S):
        """Make a part, count its time of the processor, keep what it raises. Returns it, or None."""
        began = time.process_time()
        try:
            return make()
        except Exception as trouble:  # whatever it is, it is a failure and is told with the last line of ours
            where = [f"{one.filename.rpartition('helpers/')[2]}:{one.lineno}" for one in traceback.extract_tb(trouble.__traceback__)]
            self.failed.append(("crash", f"{name}: {type(trouble).__name__}: {str(trouble)[:200]} at {' < '.join(where[:-5:-1])}"))
            self.crashed = True
            return None
        finally:
            self.seconds[name] = round(self.seconds.get(name, 0.0) + time.process_time() - began, 2)
            if self.seconds[name] > most_s * self.slower:
                self.failed.append(("time", f"{name} took {self.seconds[name]} s on a machine {self.slower:.1f} times slower"))

    def hold(self, invariant, *given):
        """Hold one of the invariants, and keep what does not."""
        found = self.part("invariants", lambda: list(invariant(*given)), 4 * MOST_S)
        self.failed += [(invariant.__name__, words) for words in found or ()]


def tried(seed, text, folder, metamorphic=True, full=True, slower=1.0):
    """The parts of one site and the invariants on them, as a `SiteRun`. folder: path to write files into; full: with sheets, test day,
    papers and pictures; slower: how many times the machine is, see `paced`."""
    run = SiteRun(seed, text, slower)
    site = run.part("read", lambda: read_site_text(text))
    if site is None:
        return run
    units = "in. w.c." if "in. w.c." in text else "Pa"
    design = Design(site, units=units, drawn=FEW_DRAWN)
    record = run.part("record", lambda: _whole(design.record()))
    if record is None:
        return run
    for invariant in (held.no_pass_past_a_limit, held.nothing_bought_with_an_unheld_case):
        run.hold(invariant, design, record)
    run.hold(held.no_sentence_put_together_wrongly, record)
    run.hold(held.both_systems_say_the_same, design)
    papers = _written(run, design, record, folder) if full else ()
    run.hold(held.one_number_everywhere, design, record, papers)
    made = run.part("review", lambda: _review(site, units))
    if made is not None:
        run.hold(held.review_passes_nothing_past, made)
    if metamorphic:
        _changed(run, site, design, record)
    return run


def _written(run, design, record, folder):
    """What is printed and carried: the page with its pictures, the day's sheets, the test day, the papers, which come back."""
    run.part("pictures", lambda: page_html(record))
    targets = [folder / name for name in ("i.xlsx", "i.html", "a.xlsx", "a.html")]
    run.part("sheets", lambda: list(day_sheets(design, targets)))
    run.part("test day", lambda: _day(design, folder))
    return run.part("papers", lambda: _papers(design, folder)) or ()


def _changed(run, site, design, record):
    """Invariants between a site and one that differs."""
    if not design.standing.window.feasible:
        return
    run.hold(held.weaker_fan_lowers_nothing, design.site)
    run.hold(held.more_leakage_lowers_no_duty, design.site)
    if run.seed % 2 == 0:
        run.hold(held.slower_sensor_quickens_nothing, design)
    if run.seed % 8 == 0:
        run.hold(_same_again, run.text, design.units, record)
        run.hold(_same_in_inches, site, design)


def _whole(record):
    """A record with everything in it written."""
    assert all([list(record.sections), list(record.summary), record.state_line])
    return record if record.board is None or record.fails is not None else None


def _day(design, folder):
    laid = {"wires": [row for row in design.injection.rows if row.part == STEP_PARTS[0]], "first": before_the_loop(design)}
    steps = procedure(crew_rounds(design.site, design.weather, out_of_mode=design.out_of_mode), **laid)
    write_book(steps, folder / "day.xlsx", design.units)
    return procedure_page(steps, design.units, design.fails())


def _papers(design, folder):
    try:
        made = Folder.of(design)
    except ValueError as refusal:
        if NO_PAPER in str(refusal) and not design.standing.window.feasible:
            return ()
        raise
    for paper in made.papers:
        assert all([paper_html(paper, made.stamp), paper_markdown(paper, made.stamp)])
        write_sheets(paper, made.stamp, folder / "paper.xlsx")
    return made.papers


def _review(site, units):
    made = reviewed(stated_by(site), site).in_system(units)
    assert review_page(made)
    return made


def _same_again(text, units, record):
    """The record of the same file, made in another process with other hashes, says the same."""
    code = (
        "import sys; from helpers.model.site.file import read_site_text; from helpers.record.design import Design\n"
        "import hashlib, strange_invariants as held\n"
        f"record = Design(read_site_text(sys.stdin.read()), units={units!r}, drawn={FEW_DRAWN}).record()\n"
        "print(hashlib.sha256(held.whole_text(record).encode()).hexdigest())"
    )
    where = {"PYTHONPATH": ":".join(sys.path[:4]), "PATH": os.environ["PATH"], "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", code], input=text, capture_output=True, text=True, env=where)
    if done.stdout.strip() != hashlib.sha256(held.whole_text(record).encode()).hexdigest():
        yield f"another run says something else: {done.stderr[-300:]}"


def _same_in_inches(site, design):
    """The same file with every figure in inches, feet and pounds has the same schedule and board."""
    other = Design(read_site_text(in_inches(write_site(site))), units=design.units, drawn=FEW_DRAWN)
    mine, theirs = (held.whole_text(one.record()).split("\n") for one in (design, other))
    for one, two in zip(mine, theirs, strict=False):
        if one != two and "site file" not in one:
            yield f"in inches: {one[:150]!r} becomes {two[:150]!r}"
            return


def bench(seeds, most_storeys=80, out=None, full_every=FULL_EVERY):
    """Run the drawn sites of these seeds. Returns what came of all, as plain data; out: path of a file of lines, see above."""
    done = {}
    if out is not None and out.exists():
        done = {line["seed"]: line for line in map(json.loads, out.read_text().splitlines())}
    for seed, text in strange_sites([seed for seed in seeds if seed not in done], most_storeys):
        with tempfile.TemporaryDirectory() as folder:
            run = tried(seed, text, Path(folder), full=seed % full_every == 0, slower=max(paced() / PACE_S, 1.0))
        done[seed] = {"seed": seed, "slower": round(run.slower, 2), "seconds": run.seconds, "failed": run.failed}
        if out is not None:
            with out.open("a") as lines:
                lines.write(json.dumps(done[seed]) + "\n")
        print(seed, sum(run.seconds.values()), *run.failed, file=sys.stderr, flush=True)
    lines = [done[seed] for seed in seeds if seed in done]
    seconds = {
        part: [line["seconds"][part] for line in lines if part in line["seconds"]]
        for part in {p for line in lines for p in line["seconds"]}
    }
    failed = Counter(name for line in lines for name in {name for name, _ in line["failed"]})
    return {
        "sites": len(lines), "sites that fail": sum(bool(line["failed"]) for line in lines), "failed, sites": dict(failed),
        "a part: sites that ran it, seconds (middle, most)": {
            part: (len(some), sorted(some)[len(some) // 2], max(some)) for part, some in seconds.items()
        },
        "seeds": {line["seed"]: line["failed"] for line in lines if line["failed"]},
    }  # fmt: skip


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--sites", type=int, default=100)
    asked.add_argument("--from", dest="first", type=int, default=0)
    asked.add_argument("--storeys", type=int, default=80)
    asked.add_argument("--full-every", type=int, default=FULL_EVERY)
    asked.add_argument("--out", type=Path)
    chosen = asked.parse_args()
    warnings.filterwarnings("error", category=RuntimeWarning, module="helpers")
    print(json.dumps(bench(range(chosen.first, chosen.first + chosen.sites), chosen.storeys, chosen.out, chosen.full_every), indent=1))
