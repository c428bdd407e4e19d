"""Seconds of the folders of papers of all demo sites, HTML, PDF, XLSX and Markdown: `python tests/bench/papers_bench.py`, one JSON object.

    papers_cpu_s         by site: processor seconds, user and system, of one site in a process of its own, the browser that prints included
    papers_all_cpu_s     sum of these
    papers_folder_s      by the clock, of the command that writes them all, as many processes as there are processors
    papers_folder_cpu_s  its processor seconds
    papers_count, papers_printed   files of papers and PDFs that it wrote
    yardstick_s          processor seconds of a fixed piece of numpy and Python, least and most of before, between and after: on a machine
                         that others use, or a slow one, all else here grows with it

On Linux what a browser's own children took is counted too: they are left to this process, which waits for them. --repeats: the least of so
many; --sites: names of some site files alone, and no folder of all.
"""

import argparse
import ctypes
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from helpers.model.site.file import SITES_FOLDER

SUBREAPER = 36  # Linux: orphans of a process's children become its own


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print JSON (the only form there is)")
    parser.add_argument("--repeats", type=int, default=1)
    parser.add_argument("--sites", nargs="*", default=[], help="names of site files without their ending")
    chosen = parser.parse_args()
    print(json.dumps(papers_speed(chosen.repeats, chosen.sites), indent=1))


def papers_speed(repeats=1, names=()):
    """All figures, as a dictionary."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(SUBREAPER, 1, 0, 0, 0)
    files = [SITES_FOLDER / f"{name}.toml" for name in names] or sorted(SITES_FOLDER.glob("*.toml"))
    yard, by_site = [yardstick_s()], {}
    for file in files:
        by_site[file.stem] = round(min(_written([file])[0] for _ in range(repeats)), 2)
        yard.append(yardstick_s())
    results = {"papers_cpu_s": by_site, "papers_all_cpu_s": round(sum(by_site.values()), 2)}
    if not names:
        cpu, clock, papers, printed = min(_written([SITES_FOLDER]) for _ in range(repeats))
        results |= {"papers_folder_s": round(clock, 2), "papers_folder_cpu_s": round(cpu, 2)}
        results |= {"papers_count": papers, "papers_printed": printed}
    yard.append(yardstick_s())
    return results | {"yardstick_s": [round(min(yard), 3), round(max(yard), 3)]}


def yardstick_s():
    """Processor seconds of a fixed piece of work: arrays as the network has them, and small calls as the loop has them."""
    begun, numbers = time.process_time(), np.random.default_rng(0).random((80, 2000))
    for _ in range(60):
        numbers / np.sqrt(np.sqrt(numbers * numbers + 1e-4))
    for _ in range(3000):
        np.cumsum(np.arange(50.0))
    return time.process_time() - begun


def _written(named):
    """(processor seconds, seconds by the clock, papers, PDFs) of one command."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as out:
        cpu, begun = _children_s(), time.monotonic()
        done = subprocess.run(
            [sys.executable, "-m", "helpers", "papers", *map(str, named), "--out", out], capture_output=True, text=True, check=False
        )
        clock = time.monotonic() - begun
        assert done.returncode in (0, 3), done.stderr[-2000:]
        _wait_for_orphans()
        papers, printed = (len(list(Path(out).rglob(f"*.{ending}"))) for ending in ("html", "pdf"))
        assert papers == printed > 0, f"{papers} papers, {printed} printed: {done.stderr[-2000:]}"
        return _children_s() - cpu, clock, papers, printed


def _children_s():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _wait_for_orphans():
    try:
        while True:
            os.wait()
    except ChildProcessError:
        return


if __name__ == "__main__":
    main()
