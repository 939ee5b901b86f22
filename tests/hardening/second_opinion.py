"""The smallest sum of deviations, formulated a second time and solved by CBC through PuLP.

Written from the mathematics: shares of the finished mass ``x = q / M`` and ``t = M_ref / M``
(Charnes and Cooper 1962), in which a level is a plain sum whatever the mass turns out to be.
"""

from __future__ import annotations

import math
import warnings
from typing import Any

import numpy as np
from arithmetic import AXIS_ROWS, DENSITY, ML_PER_G, WATER, amounts, weights, zone

from balancer.problem import Problem


def least_sum(problem: Problem) -> float | None:
    """Smallest weighted sum of deviations beyond the dead band [JND]; None if infeasible."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", ".*PuLP 4.0.*", DeprecationWarning)
        import pulp

        return _solved(problem, pulp)


def _solved(problem: Problem, pulp: Any) -> float | None:
    rows, lost = amounts(problem), problem.water_lost_g
    ref = problem.yield_g or problem.yield_ml or sum(problem.pot.grams) - lost  # type: ignore[union-attr]
    model = pulp.LpProblem("sauce", pulp.LpMinimize)
    x = [pulp.LpVariable(f"x{i}", 0) for i in range(len(problem.uses))]
    ends = (1.0, 1.0) if problem.yield_g is not None else (1e-2, 1e2)
    if problem.pot is not None:
        ends = (1.0 / (1.0 + problem.pot.growth), 1.0)
    t = pulp.LpVariable("t", *ends)

    def total(values: Any) -> Any:
        return pulp.lpSum(v * float(w) for v, w in zip(x, values, strict=True))

    batch = 1.0 + t * (lost / ref)
    model += pulp.lpSum(x) == batch
    there = problem.pot.grams if problem.pot else [0.0] * len(x)
    for v, use, pot_g in zip(x, problem.uses, there, strict=True):
        low, high = max(use.min_g, pot_g), max(use.max_g, pot_g)
        if use.locked_g is not None and problem.pot is None:
            low, high = max(low, use.locked_g), min(high, use.locked_g)
        model += v >= t * (low / ref)
        if math.isfinite(high):
            model += v <= t * (high / ref)
        model += v >= use.share_min * batch
        model += v <= use.share_max * batch
    model += total(rows[:, WATER] / 100.0) >= t * (lost / ref)
    if problem.yield_ml is not None:
        need = (problem.yield_ml + lost / DENSITY["water"]) / ref
        model += total(rows @ ML_PER_G / 100.0) == t * need
    for r in problem.ratios:
        stays = problem.uses[r.of].passes / problem.uses[r.to].passes
        model += x[r.of] >= r.low * stays * x[r.to]
        if math.isfinite(r.high):
            model += x[r.of] <= r.high * stays * x[r.to]
    for limit in problem.limits:
        values = rows @ weights(dict(limit.weights)) + np.array(limit.per_use or 0.0)
        gone = 100.0 * limit.weights.get("water", 0.0) + limit.per_lost_water
        size = float(abs(values).max()) or 1.0
        value = total(values / size) - t * (lost * gone / ref / size)
        if math.isfinite(limit.high):
            model += value <= limit.high / size
        if math.isfinite(limit.low):
            model += value >= limit.low / size
    misses = []
    for a, aim in enumerate(problem.aims):
        low, high, at_low, at_high = zone(aim, problem.dead_band_jnd)
        level = total(rows @ AXIS_ROWS[aim.axis] / at_low)
        over, under = pulp.LpVariable(f"over{a}", 0), pulp.LpVariable(f"under{a}", 0)
        model += level - over * (at_high / at_low) <= high / at_low
        model += level + under >= low / at_low
        misses.append(aim.weight * (over + under))
    model += pulp.lpSum(misses)
    status = model.solve(pulp.PULP_CBC_CMD(msg=False, options=["primalTolerance 1e-9"]))
    return float(pulp.value(model.objective)) if pulp.LpStatus[status] == "Optimal" else None
