"""How fast the missing ingredient is found: the exact ranking beside solving every food.

Run as ``python tests/bench/bench_suggest.py``. Brute force is measured twice in the same run: warm,
with the same solver kept warm and each food's column already made, so that only the bounds are
spared; and cold, with a full program built and solved for each food (timed on a sample of foods
and scaled up, as the table says). Medians over the sauces; a missed aim is printed as missed. The
table is read and stacked into arrays once, ahead of the clock; that time is printed by itself.
"""

from __future__ import annotations

import statistics
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent))

from bench_solve import first_stage, median_s, problem_of, raw_highs
from sauces import random_problem

from balancer.catalogue import default_catalogue
from balancer.composition import Ingredient
from balancer.pricing import Pricer, Ranking
from balancer.problem import Problem
from balancer.shelf import Shelf, shelf_of
from balancer.solve import solve
from balancer.suggest import missing
from balancer.wishes import Use

SAUCES, COUNT, COLD_SAMPLE = 7, 10, 60


def seconds(job: Callable[[], object]) -> float:
    """Time of one run [s]."""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def candidates(problem: Problem, foods: tuple[Ingredient, ...]) -> Shelf:
    """Foods that are not in the sauce."""
    have = {u.ingredient.key for u in problem.uses}
    shelf = shelf_of(foods)
    return shelf.only(np.array([f.key not in have for f in shelf.foods]))


def short_of_target(count: int) -> list[tuple[int, Problem]]:
    """Random sauces that miss their target and that at least ten foods of the pantry help."""
    found: list[tuple[int, Problem]] = []
    seed = 0
    while len(found) < count:
        problem = random_problem(seed, default_catalogue().pantry, spread=0.8)
        if solve(problem).sum_jnd > 0.5:
            pantry = candidates(problem, default_catalogue().pantry)
            if len(Pricer(problem, pantry).rank(COUNT).entries) == COUNT:
                found.append((seed, problem))
        seed += 1
    return found


def warm(problem: Problem, shelf: Shelf) -> float:
    """Every food solved one by one on the warm solver [s]; the bounds are not computed."""
    pricer = Pricer(problem, shelf)
    model = pricer.model
    start = time.perf_counter()
    for j in range(len(shelf.foods)):
        column = model.add_column(pricer.prices[j], 0.0, float(pricer.most[j]))
        model.optimum()
        model.set_column(column, 0.0, 0.0)
        if j % 200 == 199:  # a fresh model, before it grows long
            pricer = Pricer(problem, shelf)
            model = pricer.model
    return time.perf_counter() - start


def cold(problem: Problem, shelf: Shelf) -> float:
    """Every food solved as a full problem of its own [s], from a sample."""
    rng = np.random.default_rng(0)
    places = rng.choice(len(shelf.foods), COLD_SAMPLE, replace=False)
    start = time.perf_counter()
    for j in places:
        use = Use(shelf.foods[j], share_max=float(shelf.share[j]), label="the addition")
        solve(replace(problem, uses=(*problem.uses, use)))
    return (time.perf_counter() - start) / COLD_SAMPLE * len(shelf.foods)


def main() -> None:
    """Print the table."""
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    catalogue = default_catalogue()
    few = [catalogue.pantry[i] for i in np.random.default_rng(0).choice(379, 20, replace=False)]
    raw = raw_highs(first_stage(problem_of(few, 0)))
    reading = seconds(lambda: catalogue.everything)
    stacking = seconds(lambda: shelf_of(catalogue.everything))
    print(f"once: reading the table {1e3 * reading:.0f} ms, stacking it {1e3 * stacking:.0f} ms")
    sauces = short_of_target(SAUCES)
    for label, foods in (("whole table", catalogue.everything), ("pantry", catalogue.pantry)):
        rows: dict[str, list[float]] = {}
        solves = []
        for seed, problem in sauces:
            shelf = candidates(problem, foods)
            one = median_s(raw, 15)
            ranking: list[Ranking] = []
            ours = median_s(
                lambda p=problem, s=shelf, r=ranking: r.append(Pricer(p, s).rank(COUNT)), 5
            )
            certificate = ranking[-1].certificate
            one = 0.5 * (one + median_s(raw, 15))
            brute, full = warm(problem, shelf), cold(problem, shelf)
            for name, value in (
                ("ours", ours), ("raw", one), ("warm", brute / ours), ("cold", full / ours),
                ("ratio", ours / one),
            ):  # fmt: skip
                rows.setdefault(name, []).append(value)
            solves.append(certificate.exact_solves)
            print(
                f"  sauce {seed}: {certificate.candidates} foods, {certificate.exact_solves} solved"
                f" exactly, {certificate.share_solves} for the least share; {1e3 * ours:.1f} ms;"
                f" warm brute force {1e3 * brute:.0f} ms"
            )
        mid = {name: statistics.median(values) for name, values in rows.items()}
        print(f"{label}, best {COUNT}: {1e3 * mid['ours']:.1f} ms, median {SAUCES} sauces")
        print(f"  exact solves: median {statistics.median(solves):.0f}, largest {max(solves)}")
        aim = ""
        if label == "whole table":
            aim = " (at least 20: " + ("met" if mid["warm"] >= 20 else "MISSED") + ")"
        print(f"  warm brute force takes {mid['warm']:.0f} times as long{aim}")
        print(f"  cold brute force takes {mid['cold']:.0f} times as long")
        aim = ""
        if label == "pantry":
            aim = " (below 60: " + ("met" if mid["ratio"] < 60 else "MISSED") + ")"
        print(f"  as against one raw solve, {1e3 * mid['raw']:.2f} ms: {mid['ratio']:.0f}{aim}")
    problem = sauces[0][1]
    told = seconds(lambda: missing(problem, catalogue.pantry, pairs=False))
    pairs = seconds(lambda: missing(problem, catalogue.pantry))
    print(f"with ten described suggestions: {1e3 * told:.0f} ms; with pairs {1e3 * pairs:.0f} ms")


if __name__ == "__main__":
    main()
