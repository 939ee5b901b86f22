"""Speed of the solve, as ratios in one run: `python tests/bench/bench_solve.py`.

References, each on the same numbers and in the same run: one raw HiGHS solve of stage 1 (model
built and run), PuLP with CBC and CVXPY solving stage 1 alone. Times are medians of repeated runs.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import highspy
import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from balancer.catalogue import default_catalogue
from balancer.composition import Ingredient, matrix
from balancer.constants import AXES
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import build
from balancer.solve import solve
from balancer.taste import levels
from balancer.wishes import LARGEST_LEVEL, Aim, Use

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "balancer" / "demo" / "plum-ginger-dip.json"


def median_s(job: Callable[[], object], repeats: int) -> float:
    """Median time of a job [s], one run ahead of the count."""
    job()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def problem_of(foods: Sequence[Ingredient], seed: int) -> Problem:
    """All eight axes aimed at levels near those of a random sauce, a draft for each ingredient."""
    rng = np.random.default_rng(seed)
    q = rng.dirichlet(np.full(len(foods), 0.5))
    hidden = levels(q @ matrix(foods)) * np.exp(rng.normal(0.0, 0.4, len(AXES)))
    aims = tuple(
        Aim(a.name, float(v), float(v))
        for a, v in zip(
            AXES, np.minimum(hidden, [LARGEST_LEVEL[a.name] for a in AXES]), strict=True
        )
    )
    uses = tuple(Use(f, max_g=max(20.0, 1500.0 * float(s))) for f, s in zip(foods, q, strict=True))
    return Problem(uses, aims, yield_g=500.0)


def first_stage(problem: Problem) -> LinearProgram:
    """Stage 1 alone: the rows and the column that serve only later stages are taken out."""
    program = build(problem)
    lp = program.lp
    rows = np.array([lp.matrix[i, program.largest] == 0 for i in range(len(lp.rows))])
    rows &= np.isfinite(lp.row_lower) | np.isfinite(lp.row_upper)
    columns = np.arange(len(lp.columns)) != program.largest
    return LinearProgram(
        tuple(np.array(lp.columns)[columns]),
        tuple(np.array(lp.rows)[rows]),
        lp.matrix[np.ix_(rows, columns)],
        lp.cost[columns],
        lp.lower[columns],
        lp.upper[columns],
        lp.row_lower[rows],
        lp.row_upper[rows],
    )


def raw_highs(lp: LinearProgram) -> Callable[[], float]:
    """Stage 1 handed to HiGHS as it stands, model built and run anew each time."""

    def run() -> float:
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(lp.columns), len(lp.rows)
        model.col_cost_, model.col_lower_, model.col_upper_ = lp.cost, lp.lower, lp.upper
        model.row_lower_, model.row_upper_ = lp.row_lower, lp.row_upper
        rows, columns = np.nonzero(lp.matrix)
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.searchsorted(rows, np.arange(len(lp.rows) + 1)).astype(np.int32)
        model.a_matrix_.index_ = columns.astype(np.int32)
        model.a_matrix_.value_ = lp.matrix[rows, columns]
        highs = highspy.Highs()
        highs.setOptionValue("output_flag", False)
        highs.passModel(model)
        highs.run()
        return float(highs.getInfo().objective_function_value)

    return run


def with_pulp(lp: LinearProgram) -> Callable[[], float]:
    """Stage 1 in PuLP, solved by CBC."""
    import pulp

    def run() -> float:
        model = pulp.LpProblem("stage", pulp.LpMinimize)
        y = [
            pulp.LpVariable(f"y{j}", low, None if np.isinf(high) else high)
            for j, (low, high) in enumerate(zip(lp.lower, lp.upper, strict=True))
        ]
        model += pulp.lpSum(c * v for c, v in zip(lp.cost, y, strict=True) if c)
        for row, low, high in zip(lp.matrix, lp.row_lower, lp.row_upper, strict=True):
            total = pulp.lpSum(float(row[j]) * y[j] for j in np.flatnonzero(row))
            if low == high:
                model += total == low
                continue
            if np.isfinite(low):
                model += total >= low
            if np.isfinite(high):
                model += total <= high
        model.solve(pulp.PULP_CBC_CMD(msg=False))
        return float(pulp.value(model.objective))

    return run


def with_cvxpy(lp: LinearProgram) -> Callable[[], float]:
    """Stage 1 in CVXPY, solved by HiGHS."""
    import cvxpy

    high, low = np.isfinite(lp.row_upper), np.isfinite(lp.row_lower)
    bounded = np.isfinite(lp.upper)

    def run() -> float:
        y = cvxpy.Variable(len(lp.columns))
        limits = [y >= lp.lower, y[bounded] <= lp.upper[bounded]]
        limits += [lp.matrix[high] @ y <= lp.row_upper[high]]
        limits += [lp.matrix[low] @ y >= lp.row_lower[low]]
        model = cvxpy.Problem(cvxpy.Minimize(lp.cost @ y), limits)
        model.solve(solver=cvxpy.HIGHS)
        return float(model.value)

    return run


def line(what: str, seconds: float, ratio: float, aim: str, met: bool) -> None:
    """One row of the table."""
    verdict = "" if not aim else "met" if met else "MISSED"
    print(f"{what:<52} {1e3 * seconds:9.2f} ms {ratio:8.2f}  {aim:<14} {verdict}".rstrip())


def small(count: int) -> None:
    """Three stages against the references, each the median over five problems."""
    pantry = default_catalogue().pantry
    totals: dict[str, list[float]] = {}
    for seed in range(5):
        rng = np.random.default_rng(seed)
        foods = [pantry[i] for i in rng.choice(len(pantry), count, replace=False)]
        problem = problem_of(foods, seed)
        lp = first_stage(problem)
        jobs = {"raw": raw_highs(lp), "pulp": with_pulp(lp), "cvxpy": with_cvxpy(lp)}
        values = [job() for job in jobs.values()]
        assert np.allclose(values, values[0], rtol=1e-5, atol=1e-4), values
        for name, job in jobs.items():
            totals.setdefault(name, []).append(median_s(job, 15 if name == "raw" else 5))
        totals.setdefault("ours", []).append(median_s(lambda p=problem: solve(p), 15))
        totals.setdefault("build", []).append(median_s(lambda p=problem: build(p), 15))
    time_of = {name: statistics.median(times) for name, times in totals.items()}
    ours, raw = time_of["ours"], time_of["raw"]
    print(f"\n{count} ingredients, 8 axes: raw HiGHS of stage 1 takes {1e3 * raw:.2f} ms")
    line(
        "  all stages, as against one raw HiGHS solve",
        ours,
        ours / raw,
        "at most 8",
        ours <= 8 * raw,
    )
    line("    of that, building the program", time_of["build"], time_of["build"] / raw, "", True)
    for name, label in (("pulp", "PuLP + CBC"), ("cvxpy", "CVXPY")):
        other = time_of[name]
        line(f"  stage 1 alone with {label}", other, ours / other, "below 1", ours < other)


def whole_table() -> None:
    """Everything in the tables at once, in turns with the raw solve of 20 ingredients."""
    foods = default_catalogue().everything
    held = problem_of(foods, 1)
    free = replace(held, uses=tuple(Use(food) for food in foods))
    rng = np.random.default_rng(0)
    few = [foods[i] for i in rng.choice(len(default_catalogue().pantry), 20, replace=False)]
    raw = raw_highs(first_stage(problem_of(few, 0)))
    print(f"\nthe whole table, {len(foods)} foods, beside 20 ingredients raw")
    for label, problem in (("no limits", free), ("a maximum for each food", held)):
        whole, building, ratios = [], [], []
        for _ in range(7):
            before = median_s(raw, 15)
            whole.append(median_s(partial(solve, problem), 1))
            building.append(median_s(partial(build, problem), 1))
            ratios.append(2 * whole[-1] / (before + median_s(raw, 15)))
        ratio, seconds = statistics.median(ratios), statistics.median(whole)
        line(f"  all stages, {label}", seconds, ratio, "below 100", ratio < 100)
        built = statistics.median(building)
        line("    of that, building the program", built, ratio * built / seconds, "", True)


def cold() -> None:
    """The command line from nothing, beside the import of two libraries."""
    ours = [sys.executable, "-m", "balancer", "solve", str(DEMO), "--json"]
    other = [sys.executable, "-c", "import scipy.optimize, pandas"]

    def job(command: list[str]) -> Callable[[], object]:
        return lambda: subprocess.run(command, check=True, capture_output=True, cwd=ROOT)

    one, two = median_s(job(ours), 7), median_s(job(other), 7)
    print(f"\nfrom cold: import scipy.optimize, pandas takes {1e3 * two:.0f} ms")
    line("  balancer solve", one, one / two, "at most 1.8", one <= 1.8 * two)


def main() -> None:
    """Print the table."""
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    print(f"{'':<52} {'median':>12} {'ratio':>8}  aim")
    small(20)
    small(60)
    whole_table()
    cold()


if __name__ == "__main__":
    main()
