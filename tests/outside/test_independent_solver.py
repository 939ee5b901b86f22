"""Two hundred random sauces, formulated a second time and solved by another open solver.

The second formulation is written from the mathematics alone, in grams: quantities q [g] with
their limits, the finished mass M = sum(q) - water lost, each level sum(q L) / M, and for each aim
two deviations beyond the dead band in just-noticeable differences of the target. It shares no code
with the program. Solver: CBC of the COIN-OR project, through PuLP.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pulp
import pytest
from sauces import random_problem

from balancer.catalogue import Catalogue
from balancer.problem import Problem
from balancer.solve import Status, solve
from balancer.taste import levels as axis_levels
from balancer.wishes import Aim, Ratio

#: PuLP announces new names for its parts; the names used here serve releases 2.8 to 3.
pytestmark = pytest.mark.filterwarnings("ignore:.*PuLP 4.0.*:DeprecationWarning")

#: axis: (k, f, weights), written out from the definitions of the axes, not imported.
SULPHUR_UL_PER_MG = 4.0
OILS = ("herb", "warm_spice", "citrus", "allium", "mustard", "floral", "smoke")
AXES: dict[str, tuple[float, float, dict[str, float]]] = {
    "sweet": (
        0.17,
        0.4,
        {
            "sucrose": 1.0,
            "fructose": 1.2,
            "glucose": 0.7,
            "galactose": 0.6,
            "maltose": 0.4,
            "lactose": 0.2,
            "other_sugars": 0.95,
        },
    ),
    "sour": (
        0.18,
        0.02,
        {
            "citric": 1.0,
            "malic": 1.25,
            "tartaric": 1.25,
            "lactic": 1.0,
            "acetic": 1.25,
            "succinic": 1.1,
            "gluconic": 0.4,
        },
    ),
    "salt": (0.15, 0.06, {"sodium": 58.443 / 22.990 / 1000}),
    "volatile": (
        0.20,
        1.0,
        {f"oil_{o}": 1.0 for o in OILS}
        | {"allium_sulphur": SULPHUR_UL_PER_MG, "isothiocyanates": SULPHUR_UL_PER_MG},
    ),
    "umami": (0.21, 20.0, {"glutamate": 1.0}),
    "heat": (0.20, 10.0, {"capsaicinoids": 160.0}),
    "body": (0.26, 0.3, {"fibre": 1.0, "starch": 1.0}),
    "fat": (0.20, 0.5, {"fat": 1.0}),
}


def _known(amount: float) -> float:
    return 0.0 if math.isnan(amount) else amount


def least_sum(problem: Problem) -> float:
    """Smallest weighted sum of deviations beyond the dead band [JND], by CBC."""
    assert problem.yield_g is not None
    finished = problem.yield_g
    batch = finished + problem.water_lost_g
    model = pulp.LpProblem("sauce", pulp.LpMinimize)
    q = []
    for i, use in enumerate(problem.uses):
        low = max(use.min_g, use.share_min * batch)
        high = min(use.max_g, use.share_max * batch)
        if use.locked_g is not None:
            low = high = use.locked_g
        q.append(pulp.LpVariable(f"q{i}", low, high))
    model += pulp.lpSum(q) == batch
    foods = [u.ingredient for u in problem.uses]
    water = pulp.lpSum(v * (_known(f["water"]) / 100) for v, f in zip(q, foods, strict=True))
    model += water >= problem.water_lost_g
    for r in problem.ratios:
        model += q[r.of] >= r.low * q[r.to]
        model += q[r.of] <= r.high * q[r.to]
    for limit in problem.limits:
        assert "water" not in limit.weights
        amounts = [sum(w * _known(f[c]) for c, w in limit.weights.items()) for f in foods]
        total = pulp.lpSum(v * (a / finished) for v, a in zip(q, amounts, strict=True))
        if math.isfinite(limit.high):
            model += total <= limit.high
        if math.isfinite(limit.low):
            model += total >= limit.low
    misses = []
    for a, aim in enumerate(problem.aims):
        weber, floor, weights = AXES[aim.axis]
        jnd_low, jnd_high = floor + weber * aim.low, floor + weber * aim.high
        band = problem.dead_band_jnd if aim.low == aim.high else 0.0
        alone = [sum(w * _known(f[c]) for c, w in weights.items()) for f in foods]
        level = pulp.lpSum(v * (x / finished / jnd_low) for v, x in zip(q, alone, strict=True))
        over, under = pulp.LpVariable(f"over{a}", 0), pulp.LpVariable(f"under{a}", 0)
        model += level - over * (jnd_high / jnd_low) <= aim.high / jnd_low + band * (
            jnd_high / jnd_low
        )
        model += level + under >= aim.low / jnd_low - band
        misses.append(aim.weight * (over + under))
    model += pulp.lpSum(misses)
    status = model.solve(pulp.PULP_CBC_CMD(msg=False, options=["primalTolerance 1e-9"]))
    assert pulp.LpStatus[status] == "Optimal"
    return float(pulp.value(model.objective))


#: Problems with a sum below this are compared to it [JND]: CBC prints eight digits.
LEAST_JND = 1.0


@pytest.mark.parametrize("block", range(10))
def test_sum_equals_an_independent_formulation(catalogue: Catalogue, block: int) -> None:
    for seed in range(20 * block, 20 * block + 20):
        problem = random_problem(seed, catalogue.pantry)
        solution = solve(problem)
        theirs = least_sum(problem)
        # later stages may give up a ten-millionth of it
        tolerance = 1e-6 * max(LEAST_JND, theirs)
        assert abs(solution.sum_jnd - theirs) <= tolerance, seed


def test_some_are_on_target_and_some_are_not(catalogue: Catalogue) -> None:
    """A comparison of zeros would prove little."""
    found = [solve(random_problem(seed, catalogue.pantry)).status for seed in range(200)]
    assert found.count(Status.NEAREST) >= 60
    assert found.count(Status.ON_TARGET) >= 60


def test_order_of_naming_gives_the_same_grams(catalogue: Catalogue) -> None:
    for seed in range(200):
        problem = random_problem(seed, catalogue.pantry)
        order = np.random.default_rng(seed).permutation(len(problem.uses))
        place = {int(old): new for new, old in enumerate(order)}
        turned = replace(
            problem,
            uses=tuple(problem.uses[i] for i in order),
            ratios=tuple(Ratio(place[r.of], place[r.to], r.low, r.high) for r in problem.ratios),
        )
        np.testing.assert_array_equal(solve(problem).grams[order], solve(turned).grams)


def test_an_axis_that_nothing_carries_changes_nothing(catalogue: Catalogue) -> None:
    """Every other level, in JND, is as if the axis had not been asked for."""
    tried = 0
    for seed in range(200):
        problem = random_problem(seed, catalogue.pantry)
        alone = axis_levels(problem.composition())
        asked = {a.axis for a in problem.aims}
        for column, (axis, (weber, floor, _)) in enumerate(AXES.items()):
            if axis in asked or alone[:, column].any():
                continue
            level = 10 * floor
            wish = replace(problem, aims=(*problem.aims, Aim(axis, level, level)))
            before, after = solve(problem), solve(wish)
            expected = before.sum_jnd + level / (floor + weber * level) - problem.dead_band_jnd
            assert after.sum_jnd == pytest.approx(expected, abs=1e-5)
            for aim in problem.aims:
                moved = after.deviation_jnd(aim.axis) - before.deviation_jnd(aim.axis)
                assert abs(moved) < 1e-5, (seed, axis, aim.axis)
            np.testing.assert_allclose(
                after.grams, before.grams, atol=1e-4 * before.grams.sum(), err_msg=str(seed)
            )
            tried += 1
    assert tried >= 40
