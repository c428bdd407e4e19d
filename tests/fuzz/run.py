"""The full run: so many argument sets for every public formula, so many spoilt files, and what came of them.

python tests/fuzz/run.py --cases 10000            all of it
python tests/fuzz/run.py --cases 10000 --only doors
"""

import argparse
import random
import sys
import tempfile
import warnings
import zlib
from pathlib import Path

import numpy as np
from argument_sets import BENEATH, FIELDS, Maker, public_functions
from judged import Tally, clear_list, judge, short, sound_model
from loops import CONDITIONS, loops_under_fuzz
from spoilt_files import SITES, STRATEGIES, harmful, spoilt

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.plants.kinds import SITE_KINDS, STRATEGY_KINDS, plant_of, read_any_site
from helpers.model.site.file import read_site, read_site_text, write_site

KINDS = (*SITE_KINDS, *STRATEGY_KINDS)

# They say so in their docstrings: NaN where there is no reading or frequency, inf where nothing limits; of_kind gives back anything.
# Their docstrings say where: no signal, no margin, a motor that gives no more than the air takes, a doorway that takes all the pressure.
NAN_IS_MEANT = {"combine", "margins", "number", "of_kind", "peak_sensitivity", "release_area", "shortest_run_up"}


def formulas_under_fuzz(cases, seed=1, only="", within=""):
    """Tally of each public formula, by "module.name"; only: part of that; within: one module."""
    tallies = {}
    for module, name, function in public_functions():
        key = f"{module}.{name}"
        if only in key and within in ("", module):
            tallies[key] = of_formula(module, name, function, cases, seed)
    return tallies


def of_formula(module, name, function, cases, seed):
    """Tally of one formula."""
    maker, tally = Maker(module, name, function, random.Random(f"{seed} {module}.{name}")), Tally()
    names = [*(p.name for p in maker.parameters), *FIELDS, *BENEATH.get(module, ())]
    for _ in range(cases):
        given = maker.one()
        judge(
            tally, lambda given=given: function(**given), lambda given=given: shown(name, given), names, nan_is_meant=name in NAN_IS_MEANT
        )
    return tally


def files_under_fuzz(folder, cases, seed=1, solve_each=10):
    """Tally of spoilt site and strategy files, by the file they were; every so many that can be read are solved as well."""
    rng, tallies, number = random.Random(seed), {}, 0
    sources = {path.stem: path.read_text(encoding="utf-8") for path in (*SITES, *SITES[:2], *STRATEGIES)}
    target = folder / "spoilt.toml"
    read_site(SITES[0])  # the units are loaded once, and not on the first file's time
    for _ in range(cases):
        name = rng.choice(list(sources))
        raw = spoilt(sources[name], rng)
        target.write_bytes(raw)
        tally = tallies.setdefault(name, Tally())
        site = judge_file(tally, target, raw)
        if site is not None:
            number += 1
            judge_site(tallies, name, site, raw, number % solve_each == 0)
    return tallies


def judge_file(tally, target, raw):
    """What is read from a spoilt file, or None where it was refused."""
    return judge(tally, lambda: read_site(target, KINDS), lambda: kept_for_looking(raw), clear=clear_list, sound=sound_model)


def judge_site(tallies, name, site, raw, solved):
    """A site that could be read is written and read again the same; its air is found or is said not to be."""
    again = tallies.setdefault(f"{name}, written and read again", Tally())
    judge(again, lambda: same(site), lambda: kept_for_looking(raw))
    if solved and not isinstance(site, STRATEGY_KINDS):
        judge(tallies.setdefault(f"{name}, solved", Tally()), lambda: air_of(site), lambda: kept_for_looking(raw), clear=clear_list)


def same(site):
    """Whether what is written of a site is read as the same site; raises where not."""
    if read_site_text(write_site(site), kinds=KINDS) != site:
        raise AssertionError("another site was read than was written")
    return True


def air_of(site):
    """Pressures of a site at its set point, doors shut and one open."""
    plant = plant_of(site)
    if isinstance(plant, Tower):
        conditions = [Conditions.of(site, "winter"), Conditions.of(site, "winter", open_doors=(site.storeys[0].level,))]
        held = plant.hold(Conditions.joined(conditions))
        return held.air.stair_pa, held.air.door_dp_pa, held.air.fan_flow_m3_s, held.air.speed_hz
    held = plant.hold(CONDITIONS[type(plant)].of(site))
    found = vars(held) | (vars(held.air) if hasattr(held, "air") else {})
    return tuple(value for value in found.values() if isinstance(value, np.ndarray) and value.dtype.kind == "f")


def kept_for_looking(raw):
    """The difference to what the file was is long: the spoilt file is kept, and its name told."""
    path = Path(tempfile.gettempdir()) / f"spoilt-{zlib.crc32(raw):08x}.toml"
    path.write_bytes(raw)
    return str(path)


def harmful_under_fuzz(folder):
    """Tally of each harmful file: refused in time, in clear sentences."""
    tallies, target = {}, folder / "harmful.toml"
    for name, raw in harmful().items():
        target.write_bytes(raw)
        judge_file(tallies.setdefault(name, Tally()), target, raw)
    return tallies


def shown(name, given):
    """A call as it could be typed."""
    return f"{name}({', '.join(f'{key}={short(value)}' for key, value in given.items())})"


def told(title, tallies):
    """Print counts and faults; returns the number of faults."""
    total = sum((tally.counts for tally in tallies.values()), start=type(next(iter(tallies.values())).counts)())
    longest = max(tallies.items(), key=lambda pair: pair[1].longest_s)
    print(f"{title}: {len(tallies)} kinds, {total.total()} cases: {total['result']} results, {total['refused']} refused, "
          f"{total['fault']} faults; the longest {longest[1].longest_s:.2f} s ({longest[0]})", flush=True)  # fmt: skip
    print("  fewest results:", ", ".join(f"{key} {tally.counts['result'] / tally.counts.total():.0%}" for key, tally in fewest(tallies)))
    for key, tally in tallies.items():
        for kind, call in tally.faults.items():
            print(f"  {key}: {kind}\n      {call:.300}")
    return total["fault"]


def fewest(tallies, number=6):
    """The kinds of which the fewest cases came to a result: a run of refusals alone would show little."""
    return sorted(tallies.items(), key=lambda pair: pair[1].counts["result"] / pair[1].counts.total())[:number]


def main():
    """Run all of it; the number of faults is the exit code."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--cases", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", default="", help="part of a formula's name, 'files' or 'loops'")
    given, faults = asked.parse_args(), 0
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder:
        if given.only in ("", "files"):
            faults += told("harmful files", harmful_under_fuzz(Path(folder)))
            faults += told("spoilt files", files_under_fuzz(Path(folder), given.cases, given.seed))
    if given.only in ("", "loops"):
        faults += told("loops", loops_under_fuzz(map(read_any_site, SITES), max(1, given.cases // len(SITES)), given.seed))
    if given.only not in ("files", "loops"):
        tallies = {}
        for module in dict.fromkeys(module for module, _, _ in public_functions()):
            if found := formulas_under_fuzz(given.cases, given.seed, given.only, module):
                told(module, found)
                tallies |= found
        faults += told("formulas", tallies)
    return faults


if __name__ == "__main__":
    sys.exit(min(main(), 1))
