"""How often the 90 % intervals of a fitted building hold the truth, over drawn buildings and days; prints JSON.

`.venv/bin/python tests/bench/coverage_of_fit.py [--buildings 200] [--site "Larkfield House"]`
"""

import argparse
import json
import time

import numpy as np

from helpers.model.site.file import demo_sites, read_site
from helpers.studies.measured.drawn import drawn_readings
from helpers.studies.measured.fitted import fit_building


def coverage(site, seeds):
    """Shares of the truths inside, mean of log(found / true) and its spread by kind, and the seeds that were refused with the sentence."""
    inside, off, refused = {}, {}, {}
    for seed in seeds:
        try:
            readings, drawn = drawn_readings(site, seed)
            fitted = fit_building(readings)
        except ValueError as refusal:
            refused[seed] = str(refusal)
            continue
        for one in fitted.factors:
            true = drawn.factors[one.kind]
            inside.setdefault(one.kind, []).append(one.low <= true <= one.high)
            off.setdefault(one.kind, []).append(np.log(one.factor / true))
    return {
        "inside": {kind: round(float(np.mean(one)), 3) for kind, one in inside.items()},
        "all": round(float(np.mean(np.concatenate(list(inside.values())))), 3),
        "bias": {kind: round(float(np.expm1(np.mean(one))), 3) for kind, one in off.items()},
        "refused": refused,
    }


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--buildings", type=int, default=200)
    asked.add_argument("--site", default="Larkfield House")
    chosen = asked.parse_args()
    began = time.perf_counter()
    found = coverage(read_site(demo_sites()[chosen.site]), range(1000, 1000 + chosen.buildings))
    print(json.dumps(found | {"buildings": chosen.buildings, "seconds": round(time.perf_counter() - began, 1)}, indent=1))
