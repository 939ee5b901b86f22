"""Random problems solved and checked by arithmetic that shares nothing with the program."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from arithmetic import faults
from sauces import random_problem
from scipy.optimize import linprog
from second_opinion import least_sum
from tally import Row

from balancer.answer import answer_from
from balancer.composition import Ingredient
from balancer.errors import BalancerError
from balancer.kitchen import Kitchen
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import build
from balancer.request import problem_from
from balancer.settle import settle
from balancer.solve import Solution, solve

#: Sums of deviations of two solvers agree within this share [1], and no finer than this [JND].
AGREE = 1e-6
LEAST_JND = 1.0
#: A random request names so many ingredients at most.
MOST_FOODS = 14
#: Of so many solutions one is written out as an answer and read against the request [1].
ANSWERED = 5


def random_request(seed: int, pantry: Sequence[Ingredient]) -> dict[str, Any]:
    """A request as a cook might write it, in reach or not, its limits in agreement or not."""
    rng = np.random.default_rng([seed, 8])
    n = int(rng.integers(2, MOST_FOODS + 1))
    names = [pantry[int(i)].name for i in rng.choice(len(pantry), n, replace=False)]
    batch = float(rng.choice([3.0, 80.0, 500.0, 20_000.0]))
    entries: list[dict[str, Any]] = []
    for name in names:
        entry: dict[str, Any] = {"name": name}
        usual = batch * float(rng.dirichlet(np.ones(n))[0])
        for key, odds, low, high in (
            ("draft_g", 0.4, 0.3, 2.0),
            ("min_g", 0.15, 0.0, 0.6),
            ("max_g", 0.25, 0.6, 4.0),
            ("locked_g", 0.05, 0.5, 1.0),
        ):
            if rng.random() < odds:
                entry[key] = float(f"{usual * rng.uniform(low, high):.5g}")
        if rng.random() < 0.08:
            entry["share_max"] = round(float(rng.uniform(0.05, 0.6)), 3)
        if rng.random() < 0.06:
            entry["yield"] = round(float(rng.uniform(0.4, 1.0)), 2)
        if rng.random() < 0.06:
            entry["goes_in"] = str(rng.choice(["start", "late", "raw"]))
        entries.append(entry)
    scale = {"sweet": 20, "sour": 2, "salt": 2, "volatile": 15, "umami": 60, "heat": 300}
    target: dict[str, Any] = {}
    for axis in rng.choice([*scale, "body", "fat"], int(rng.integers(1, 7)), replace=False):
        level = float(f"{scale.get(str(axis), 8) * rng.exponential():.4g}")
        band = {"low": level, "high": 1.3 * level, "weight": float(rng.choice([0.5, 1, 4]))}
        target[str(axis)] = band if rng.random() < 0.25 else level
    request: dict[str, Any] = {"ingredients": entries, "target": target}
    request["yield_ml" if rng.random() < 0.2 else "yield_g"] = batch
    if rng.random() < 0.3:
        request["water_lost_g"] = round(batch * float(rng.uniform(0.0, 0.8)), 2)
    if rng.random() < 0.2:
        request["dead_band_jnd"] = float(rng.choice([0.0, 0.5, 2.0]))
    limits = {
        "sodium_mg_per_100g_max": rng.uniform(50, 1500), "fat_g_per_100g_max": rng.uniform(0, 30),
        "ph_max": rng.uniform(3.0, 5.0), "acidity_pct_citric_min": rng.uniform(0, 2),
        "sugar_acid_max": rng.uniform(5, 60), "water_activity_max": rng.uniform(0.85, 0.99),
    }  # fmt: skip
    chosen = {k: float(f"{v:.4g}") for k, v in limits.items() if rng.random() < 0.08}
    if chosen:
        request["limits"] = chosen
    if n > 2 and rng.random() < 0.25:
        of, to = (str(x) for x in rng.choice(names, 2, replace=False))
        request["ratios"] = [
            {"of": of, "to": to, "low": 0.2, "high": float(rng.choice([0.5, 5.0]))}
        ]
    return request


def answer_faults(request: dict[str, Any], answer: dict[str, Any], problem: Problem) -> list[str]:
    """An answer against the request as it was written, both as plain documents."""
    found: list[str] = []
    grams = answer["quantities_g"]
    if not grams:
        return [] if answer["status"] == "infeasible" else ["no quantities, yet solved"]
    stays = {u.label: u.passes for u in problem.uses}
    batch = math.fsum(g * stays[name] for name, g in grams.items())
    near = 1e-5 * batch
    mass = batch - float(request.get("water_lost_g", 0.0))
    for entry in request["ingredients"]:
        name, g = entry["name"], grams[entry["name"]]
        low, high = entry.get("min_g", 0.0), entry.get("max_g", math.inf)
        if "locked_g" in entry:
            low = high = entry["locked_g"]
        most = entry.get("share_max", 1.0) * batch
        if not low - near <= g <= high + near or g * stays[name] > most + near:
            found.append(f"{name} is {g:g} g, outside {low:g} to {min(high, most):g} g")
    if "yield_g" in request and abs(mass - request["yield_g"]) > near:
        found.append(f"{mass:g} g instead of {request['yield_g']:g} g")
    for ratio in request.get("ratios", ()):
        of, to = grams[ratio["of"]], grams[ratio["to"]]
        if not ratio["low"] * to - near <= of <= ratio["high"] * to + near * ratio["high"]:
            found.append(f"{of:g} g of {ratio['of']} to {to:g} g of {ratio['to']}")
    limits, levels = request.get("limits", {}), answer["profile"]
    salt_most = limits.get("sodium_mg_per_100g_max", math.inf) * 58.443 / 22.990 / 1000.0
    for axis, most in (("salt", salt_most), ("fat", limits.get("fat_g_per_100g_max", math.inf))):
        if levels[axis]["reached"] > most * (1 + 3e-5) + 1e-4:
            found.append(f"{axis} is {levels[axis]['reached']:g}, over {most:g}")
    told = " ".join(answer["notes"])
    over = answer["ph"] is not None and answer["ph"]["high"] > limits.get("ph_max", 14.0) + 0.01
    if over and "ceiling" not in told:
        found.append(f"the pH may reach {answer['ph']['high']:g} without a word")
    return found


def solved(kitchen: Kitchen, seeds: Sequence[int], every: int) -> Row:
    """Random requests; each answer checked, a sample of the sums against another solver."""
    lost: list[str] = []
    ends: Counter[str] = Counter()
    compared, farthest = 0, 0.0
    for seed in seeds:
        request = random_request(seed, kitchen.catalogue.pantry)
        whole = seed % ANSWERED == 0
        try:
            settled = settle(problem_from(request, kitchen.catalogue))
            answer = answer_from(settled) if whole else None
        except BalancerError as error:
            ends["refused"] += 1
            if not str(error).endswith("."):
                lost.append(f"seed {seed}: {error}")
            continue
        solution = settled.solution
        ends[str(solution.status)] += 1
        wrong = faults(solution.problem, solution)
        if answer is not None:
            wrong += answer_faults(request, answer, solution.problem)
        lost += [f"seed {seed}: {text}" for text in wrong[:2]]
        if seed % every == 0:
            compared += 1
            off = off_optimum(solution)
            if off is None or off > AGREE:
                lost.append(f"seed {seed}: another solver finds {_found(off)}")
            farthest = max(farthest, off or 0.0)
    said = ", ".join(f"{number} {end}" for end, number in sorted(ends.items()))
    return Row(
        "random requests, each solution recomputed from the request",
        f"{len(seeds)} requests",
        tuple(lost),
        f"{said}; {compared} sums beside PuLP with CBC, farthest apart {farthest:.1e} of the sum",
    )


def _found(off: float | None) -> str:
    return "another status" if off is None else f"a sum that differs by {off:.1e}"


def off_optimum(solution: Solution) -> float | None:
    """How far the sum of deviations is from that of CBC, as a share; None if only one solved."""
    theirs = least_sum(solution.problem)
    if theirs is None or not solution.has_quantities:
        return 0.0 if theirs is None and not solution.has_quantities else None
    return abs(solution.sum_jnd - theirs) / max(LEAST_JND, theirs)


def two_methods(pantry: Sequence[Ingredient], seeds: Sequence[int]) -> Row:
    """Simplex and interior point on the exported model, and our own warm simplex beside them."""
    lost: list[str] = []
    farthest = {"simplex": 0.0, "interior point": 0.0}
    for seed in seeds:
        problem = random_problem(seed, pantry)
        lp = build(problem).lp
        solution = solve(problem)
        assert solution.first_stage is not None
        ours = solution.first_stage.value
        for name, method in (("simplex", "highs-ds"), ("interior point", "highs-ipm")):
            theirs = optimum(lp, method)
            off = math.inf if theirs is None else abs(ours - theirs) / max(LEAST_JND, theirs)
            farthest[name] = max(farthest[name], off)
            if off > AGREE:
                lost.append(f"seed {seed}: {name} finds {theirs}, ours is {ours:.8g}")
    import highspy
    import scipy

    version = highspy.Highs().version()  # type: ignore[no-untyped-call]
    return Row(
        "two methods and two builds of HiGHS on the first stage",
        f"{len(seeds)} problems",
        tuple(lost),
        f"largest difference of the sum: simplex {farthest['simplex']:.1e}, interior point"
        f" {farthest['interior point']:.1e} (HiGHS {version} here, that of SciPy"
        f" {scipy.__version__} there)",
    )


def optimum(lp: LinearProgram, method: str) -> float | None:
    """Least cost of a program by a method of SciPy; None if it does not solve it."""
    has_high, has_low = np.isfinite(lp.row_upper), np.isfinite(lp.row_lower)
    found = linprog(
        lp.cost,
        A_ub=np.vstack([lp.matrix[has_high], -lp.matrix[has_low]]),
        b_ub=np.concatenate([lp.row_upper[has_high], -lp.row_lower[has_low]]),
        bounds=list(zip(lp.lower, lp.upper, strict=True)),
        method=method,
    )
    return float(found.fun) if found.status == 0 else None
