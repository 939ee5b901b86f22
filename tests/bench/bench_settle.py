"""A sauce with a ceiling of pH against the same sauce without one, in one run.

    python tests/bench/bench_settle.py

Both are settled whole: the staged program, the full pH model with its band, and, with a ceiling,
what it takes to confirm it. Times are medians over random sauces whose ceiling binds.
"""

from __future__ import annotations

import statistics
import time
from dataclasses import replace

import numpy as np

from balancer.catalogue import Catalogue
from balancer.problem import Problem
from balancer.search import resolve
from balancer.settle import settle
from balancer.solve import solve
from balancer.wishes import Aim, Use, WaterLimits

SHELF = (
    ("cider vinegar", "distilled vinegar", "lemon juice", "lime juice"),
    ("sugar", "brown sugar", "honey"),
    ("plums", "tomatoes", "pineapple", "red bell pepper", "onion", "carrots"),
    ("salt", "soy sauce", "fish sauce"),
    ("ginger", "garlic", "mustard seed", "cumin"),
    ("water",),
)


def seconds(call, repeats=5):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    catalogue = Catalogue()
    free, held, staged = [], [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        uses = tuple(Use(resolve(catalogue, str(rng.choice(names)))) for names in SHELF)
        aims = tuple(
            Aim(axis, *(2 * [float(rng.uniform(*ends))]))
            for axis, ends in (("sweet", (2, 25)), ("sour", (0.2, 2)), ("salt", (0.3, 3)))
        )
        problem = Problem(uses, aims, yield_g=500.0)
        without = settle(problem)
        if without.water_phase is None or without.water_phase.ph is None:
            continue
        ceiling = without.water_phase.ph.high - 0.2
        limited = replace(problem, water_limits=WaterLimits(ph_max=ceiling))
        if not settle(limited).kept_ceilings:
            continue
        staged.append(seconds(lambda p=problem: solve(p)))
        free.append(seconds(lambda p=problem: settle(p)))
        held.append(seconds(lambda p=limited: settle(p)))
    ratio = [b / a for a, b in zip(free, held, strict=True)]
    print(f"{len(ratio)} sauces with a binding ceiling, 6 ingredients, median seconds:")
    print(f"  staged program alone      {statistics.median(staged):.4f}")
    print(f"  settled, no ceiling       {statistics.median(free):.4f}")
    print(f"  settled, with a ceiling   {statistics.median(held):.4f}")
    print(f"  ratio with / without      {statistics.median(ratio):.2f} (aim: at most 2)")


if __name__ == "__main__":
    main()
