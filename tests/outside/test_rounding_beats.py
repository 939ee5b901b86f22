# ruff: noqa: T201
"""Joint rounding against rounding each quantity alone, the usual way, on 200 random recipes.

The baseline is what a cook does without help. Both choose from the same lists of measures and both
are judged by the same arithmetic: levels of the rounded masses, computed from the food table.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
import pytest

from balancer.catalogue import Catalogue
from balancer.choices import Style, by_weight, preferred
from balancer.constants import DEAD_BAND_JND
from balancer.measures import Measure
from balancer.problem import Problem
from balancer.rounding import FLOAT, round_alone, round_jointly, rounded
from balancer.wishes import Use

RECIPES = 200
#: Seconds for one program in this test; the library takes 0.5 s, see tests/bench/bench_rounding.py.
SECONDS = 0.01
COLUMNS = ("alone", "joint", "with the scale", "by weight, alone", "by weight, joint")


def random_recipe(catalogue: Catalogue, seed: int) -> tuple[Problem, np.ndarray]:
    """A sauce of pantry foods in shares a sauce may have: 15 of them, or 3 to 25 [g]."""
    rng = np.random.default_rng(seed)
    n = 15 if seed % 2 else int(rng.integers(3, 26))
    foods = [catalogue.pantry[i] for i in rng.choice(len(catalogue.pantry), n, replace=False)]
    shares = np.array([rng.triangular(*f.share) if f.share else 0.01 for f in foods])
    batch_g = float(rng.choice([250.0, 500.0, 1000.0]))
    grams = shares / shares.sum() * batch_g
    return Problem(uses=tuple(Use(f) for f in foods), yield_g=batch_g), grams


def known_measures(catalogue: Catalogue, key: str) -> list[Measure]:
    return list(catalogue.measures(key))


@dataclass(frozen=True)
class Trial:
    """One recipe: largest deviations [JND], time of the joint program [s], batches that are off."""

    ingredients: int
    style: Style
    largest_jnd: tuple[float, ...]
    seconds: float
    alone_off: bool
    joint_off: bool


def trial(catalogue: Catalogue, seed: int, seconds: float, *, every: bool = False) -> Trial:
    problem, grams = random_recipe(catalogue, seed)
    style = tuple(Style)[seed % 3]
    measures = [known_measures(catalogue, u.ingredient.key) for u in problem.uses]
    given = list(zip(grams, measures, strict=True))
    lists = [preferred(float(g), m, style) for g, m in given]
    alone = round_alone(problem, grams, lists)
    start = time.perf_counter()
    joint = round_jointly(problem, grams, lists, seconds=seconds)
    took = time.perf_counter() - start
    assert joint.broken or abs(joint.mass_g / problem.yield_g - 1.0) <= FLOAT + 1e-9
    assert len(joint.broken) <= len(alone.broken)
    # never worse where rounding alone keeps the batch
    assert alone.broken or joint.largest_jnd <= alone.largest_jnd + 1e-9, seed
    results = [alone.largest_jnd, joint.largest_jnd, np.nan, np.nan, np.nan]
    if every or seed % 4 == 0:
        full = joint
        if joint.largest_jnd > DEAD_BAND_JND.value or joint.broken:
            full = rounded(problem, grams, measures, style, seconds=seconds)
        assert alone.broken or full.largest_jnd <= alone.largest_jnd + 1e-9, seed
        results[2] = full.largest_jnd
    if every or seed % 4 == 1:
        scale = [by_weight(float(g), m, Style.METRIC) for g, m in given]
        weighed = round_alone(problem, grams, scale)
        together = round_jointly(problem, grams, scale, seconds=seconds)
        assert weighed.broken or together.largest_jnd <= weighed.largest_jnd + 1e-9, seed
        results[3:] = [weighed.largest_jnd, together.largest_jnd]
    return Trial(len(grams), style, tuple(results), took, bool(alone.broken), bool(joint.broken))


def table(trials: list[Trial]) -> str:
    """Median and 95th percentile of the largest deviation; the last columns of a quarter of all."""
    lines = [f"{'largest deviation [JND]':<24}" + "".join(f"{c:>18}" for c in COLUMNS)]
    lines[0] += f"{'joint, time [s]':>18}"
    lines.append(f"{'':<24}" + f"{'median   95 %':>18}" * (len(COLUMNS) + 1))
    groups = [("all", trials), ("15 ingredients", [t for t in trials if t.ingredients == 15])]
    groups += [(str(s), [t for t in trials if t.style is s]) for s in Style]
    for name, some in groups:
        text = f"{f'{name} ({len(some)})':<24}"
        for column in np.array([[*t.largest_jnd, t.seconds] for t in some]).T:
            median, high = np.nanpercentile(column, (50, 95))
            text += f"{median:>11.3f}{high:>7.3f}"
        lines.append(text)
    lines.append(
        f"batch off by more than 2 %: alone {sum(t.alone_off for t in trials)},"
        f" joint {sum(t.joint_off for t in trials)}"
    )
    return "\n".join(lines)


def test_rounding_together_beats_rounding_alone(
    catalogue: Catalogue, capsys: pytest.CaptureFixture[str]
) -> None:
    trials = [trial(catalogue, seed, SECONDS) for seed in range(RECIPES)]
    with capsys.disabled():
        print("\n" + table(trials))
    median, high = np.nanpercentile([t.largest_jnd for t in trials], (50, 95), axis=0)
    # under load the program may have no time at all: these hold for the exchanges alone
    assert median[1] < 0.75 * median[0]
    assert median[4] < 0.75 * median[3]
    assert high[2] < 0.75 * high[0]
