"""How the work grows with the food table: ``python tests/bench/bench_growth.py``.

The table is grown about a hundredfold, to 300,000 foods, by perturbing the real one: every copy has
its composition moved by some per cent with the sum of its parts kept, and another last word in its
name. It is written to a temporary directory and read like the real one. Each job is then timed on
both tables in one run; what takes longer than the ratio of the sizes grows worse than linearly and
is printed as missed, and the status is 1. First calls build what is kept for later ones. Times are
of the processor, medians where a job is run more than once. The solve has as many foods as a
request may name, the rest of the table stands behind them.

``--foods N`` grows to another size, ``--sauces N`` ranks for more sauces.
"""

from __future__ import annotations

import argparse
import csv
import gc
import json
import shutil
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent))

from bench_solve import problem_of
from bench_suggest import short_of_target

from balancer.catalogue import Catalogue
from balancer.errors import UnknownIngredient
from balancer.problem import Problem
from balancer.search import find, resolve
from balancer.shelf import shelf_of
from balancer.solve import solve
from balancer.suggest import missing
from balancer.tables import data_directory

ROOT = Path(__file__).parent.parent.parent
#: Columns of the table whose sum is the food, and those that are parts of carbohydrate [g].
BULK = ("water", "protein", "fat", "ash", "ethanol", "carbohydrate")
INSIDE = ("starch", "fibre", "sucrose", "glucose", "fructose", "lactose", "maltose", "galactose",
          "sugars")  # fmt: skip
MINERALS = ("sodium", "potassium", "calcium", "magnesium", "phosphorus")
#: Spread of the factor by which an amount moves, as a standard deviation of its logarithm.
SPREAD = 0.08
SEED = 1
QUERIES = ("plum", "tomatos, canned", "blak peper", "vinegar cider", "oil sesame", "soy")
#: Foods that a request may name.
MOST_NAMED = json.loads((ROOT / "balancer/schema/request.schema.json").read_text("utf-8"))[
    "properties"
]["ingredients"]["maxItems"]
PANTRY_NAME, TABLE_NAME, NO_NAME = "rice vinegar", "Cheese, brie", "dragon scales"

SOLVE = "check and solve a request of so many foods, at most 5,000"
Times = dict[str, list[float]]


def grow(source: Path, target: Path, foods: int) -> None:
    """Write tables with so many foods: the real ones, then perturbed copies of them."""
    shutil.copytree(source, target)
    with (source / "foods.csv").open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        columns, rows = list(reader.fieldnames or ()), list(reader)
    words = sorted({w.strip(",()").lower() for r in rows for w in r["name"].split() if len(w) > 3})
    rng = np.random.default_rng(SEED)
    with (target / "foods.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
        moved = (*BULK, *INSIDE, *MINERALS)
        for number in range(foods - len(rows)):
            row = dict(rows[number % len(rows)])
            factors = dict(zip(moved, np.exp(rng.normal(0.0, SPREAD, len(moved))), strict=True))
            for part in INSIDE:
                factors[part] = factors["carbohydrate"]
            amounts = {c: float(row[c]) * float(factors[c]) for c in moved if row[c]}
            was = sum(float(row[c]) for c in BULK if row[c])
            scale = was / (sum(amounts.get(c, 0.0) for c in BULK) or 1.0)
            for c, amount in amounts.items():
                row[c] = f"{amount * (1.0 if c in MINERALS else scale):.4g}"
            row["ndb"] = f"G{number:06d}"
            last = row["name"].split(" ")[:-1]
            row["name"] = " ".join([*last, f"{words[int(rng.integers(len(words)))]}{number}"])
            writer.writerow(row)


def seconds(job: Callable[[], object]) -> float:
    """Processor time of one run [s], which other work on the machine hardly moves."""
    gc.collect()
    start = time.process_time()
    job()
    return time.process_time() - start


def memory_mb() -> float:
    """Memory of this process that is in use now [MB]."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS"):
            return float(line.split()[1]) / 1024.0
    return float("nan")


def refused(catalogue: Catalogue) -> None:
    """A name that nothing has: the answer lists the nearest."""
    try:
        resolve(catalogue, NO_NAME)
    except UnknownIngredient:
        return
    raise AssertionError(f"{NO_NAME} was found")


def measured(directory: Path, sauces: list[Problem], later: int) -> tuple[Times, int, float]:
    """Times of every job on one table, its number of foods, and the memory it takes [MB]."""
    times: Times = {}

    def note(what: str, job: Callable[[], object], repeats: int = 1) -> None:
        times.setdefault(what, []).extend(seconds(job) for _ in range(repeats))

    gc.collect()
    before = memory_mb()
    catalogue = Catalogue(directory)
    note("read the table", lambda: catalogue.everything)
    memory = memory_mb() - before
    note("search, first call", lambda: find(catalogue, QUERIES[0]))
    for query in QUERIES:
        note("search, later calls", lambda q=query: find(catalogue, q), later)
    note("resolve, first call", lambda: resolve(catalogue, TABLE_NAME))
    note("resolve a pantry name", lambda: resolve(catalogue, PANTRY_NAME), 5 * later)
    note("resolve a table name", lambda: resolve(catalogue, TABLE_NAME), 5 * later)
    note("resolve a name that nothing has", lambda: refused(catalogue), later)
    note("stack the table for ranking", lambda: shelf_of(catalogue.everything))
    for problem in sauces:
        note("rank, the best 10", lambda p=problem: missing(p, catalogue.everything, pairs=False))
        note("rank, with pairs", lambda p=problem: missing(p, catalogue.everything))
    few = min(MOST_NAMED, len(catalogue.everything))
    chosen = np.random.default_rng(SEED).choice(len(catalogue.everything), few, replace=False)
    foods = [catalogue.everything[i] for i in chosen]
    note(SOLVE, lambda: solve(problem_of(foods, 0)), later)
    return times, len(catalogue.everything), memory


def merged(runs: list[Times]) -> Times:
    """Times of several runs together."""
    return {what: [t for run in runs for t in run[what]] for what in runs[0]}


def main() -> int:
    """Print the table; the status is 1 where something grows worse than linearly."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--foods", type=int, default=300_000)
    parser.add_argument("--sauces", type=int, default=5)
    given = parser.parse_args()
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    sauces = [problem for _, problem in short_of_target(given.sauces)]
    real = data_directory()
    runs = [measured(real, sauces, 5) for _ in range(3)]
    small, foods, memory = merged([run[0] for run in runs]), runs[0][1], runs[0][2]
    with tempfile.TemporaryDirectory() as folder:
        directory = Path(folder) / "data"
        print(f"writing {given.foods} foods took", end=" ")
        print(f"{seconds(lambda: grow(real, directory, given.foods)):.0f} s")
        large, grown, grown_memory = measured(directory, sauces, 2)
    size = grown / foods
    print(f"memory: {foods} foods {memory:.0f} MB, {grown} foods {grown_memory:.0f} MB\n")
    print(f"| what | {foods} foods [ms] | {grown} foods [ms] | times as long, at most {size:.0f} |")
    print("|---|---|---|---|")
    asked = min(MOST_NAMED, grown) / min(MOST_NAMED, foods)
    missed = []
    for what, few in small.items():
        one, many = statistics.median(few), statistics.median(large[what])
        most = asked if what == SOLVE else size
        late = many > most * one
        missed += [what] * late
        print(
            f"| {what} | {1e3 * one:.4g} | {1e3 * many:.4g} |"
            f" {many / one:.3g}{f', at most {asked:.3g}' if what == SOLVE else ''}"
            f"{' MISSED' if late else ''} |"
        )
    return int(bool(missed))


if __name__ == "__main__":
    raise SystemExit(main())
