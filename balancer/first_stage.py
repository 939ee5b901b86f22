"""Stage 1 over the shares themselves, with the coefficients of foods that may enter it.

Every row is one-sided or an equality, so that a food can enter each at the worse end of what is
assumed of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from balancer.composition import INDEX, NAMES, VOLUME_WEIGHTS, FloatArray
from balancer.constants import AXIS_NAMES
from balancer.errors import NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import s_range, volume_row
from balancer.requirements import (
    Requirement,
    aim_ends,
    ordered,
    reference_mass,
    requirements_of,
)
from balancer.shelf import Shelf
from balancer.taste import axis_matrix
from balancer.wishes import Limit


@dataclass
class _Rows:
    """One-sided rows: base coefficients, and how a food's composition enters."""

    width: int
    labels: list[str] = field(default_factory=list)
    matrix: list[FloatArray] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    foods: list[FloatArray] = field(default_factory=list)

    def add(self, label: str, row: FloatArray, low: float, high: float, foods: FloatArray) -> None:
        self.labels.append(label)
        self.matrix.append(row)
        self.low.append(low)
        self.high.append(high)
        self.foods.append(foods)


def reference_of(problem: Problem) -> float:
    """M_ref of a problem [g]."""
    return reference_mass(problem, problem.composition()[ordered(problem)])


def first_stage(
    problem: Problem, shelf: Shelf, extra: Mapping[str, FloatArray]
) -> tuple[LinearProgram, FloatArray, int]:
    """Stage 1 of a problem, and the coefficients of every food in its rows.

    Parameters
    ----------
    problem : Problem
    shelf : Shelf
    extra : mapping of str to array, shape (n_foods,)
        For a limit with amounts per use, by its label, the amount of each food.

    Returns
    -------
    tuple of LinearProgram, array of shape (n_foods, n_rows), and int
        The program, the foods' columns, and the row of the sum.
    """
    order = ordered(problem)
    composition = problem.composition()[order]
    reference_g = reference_mass(problem, composition)
    requirements = requirements_of(problem, order, composition, reference_g)
    aims = [r for r in requirements if r.aim is not None]
    n, free, m = len(order), problem.yield_g is None, len(shelf.foods)
    lost = problem.water_lost_g / reference_g
    first = n + int(free)
    width = first + 2 * len(aims)
    lower, upper, cost = np.zeros(width), np.full(width, math.inf), np.zeros(width)
    upper[:n] = 1.0 + lost * (s_range(problem)[1] if free else 1.0)
    if free:
        lower[n], upper[n] = s_range(problem)
    rows = _Rows(width)
    limits = {limit.label: limit for limit in problem.limits}

    def add(
        label: str, values: FloatArray, per_s: float, low: float, high: float, weights: FloatArray,
        more: FloatArray | float = 0.0, slack: tuple[int, float] | None = None, scale: float = 0.0,
    ) -> None:  # fmt: skip
        row = np.zeros(width)
        row[:n] = values
        shift = 0.0 if free else per_s
        if free:
            row[n] = per_s
        scale = scale or max(float(np.abs(row).max(initial=0.0)), 1e-9)
        if slack is not None:
            row[slack[0]] = slack[1] * scale
        rows.add(
            label, row / scale, (low - shift) / scale, (high - shift) / scale,
            (_worse(shelf, weights, low, high) + more) / scale,
        )  # fmt: skip

    nothing = np.zeros(len(NAMES))
    add("batch", np.ones(n), -lost, 1.0, 1.0, nothing, 1.0, scale=1.0)
    for r in requirements:
        if r.is_bound and not free:
            j = int(r.places[0])
            lower[j] = max(lower[j], r.low - r.per_s)
            upper[j] = min(upper[j], r.high - r.per_s)
            continue
        values = np.zeros(n)
        values[r.places] = r.values
        if r.aim is not None:
            k = first + 2 * aims.index(r)
            low, high, jnd_low, jnd_high = aim_ends(r.aim, problem.dead_band_jnd)
            weights = axis_matrix()[:, AXIS_NAMES.index(r.aim.axis)]
            cost[k : k + 2] = r.aim.weight
            add(f"{r.label}, over", values, 0.0, -math.inf, high, weights,
                slack=(k, -1.0), scale=jnd_high)  # fmt: skip
            add(f"{r.label}, under", values, 0.0, low, math.inf, weights,
                slack=(k + 1, 1.0), scale=jnd_low)  # fmt: skip
            continue
        weights, more = _entering(r, limits, extra)
        if r.low == r.high:
            add(r.label, values, r.per_s, r.low, r.high, weights, more)
            continue
        if math.isfinite(r.low):
            add(f"{r.label}, low", values, r.per_s, r.low, math.inf, weights, more)
        if math.isfinite(r.high):
            add(f"{r.label}, high", values, r.per_s, -math.inf, r.high, weights, more)
    if problem.yield_ml is not None:
        values, per_s = volume_row(problem, composition, reference_g)
        add("volume", values, per_s, 0.0, 0.0, VOLUME_WEIGHTS / 100.0)
    if free and lost > 0:
        add("share of the addition", np.zeros(n), -lost, -math.inf, 1.0, nothing,
            1.0 / shelf.share, scale=1.0)  # fmt: skip
    rows.add("sum of deviations", cost.copy(), -math.inf, math.inf, np.zeros(m))
    bad = lower > upper
    upper = np.where(bad & (lower <= upper + 1e-9), lower, upper)
    if (lower > upper).any():
        raise NoSolution(
            "The limits of one ingredient leave no room for it, so nothing can be ranked."
            " Look at what to relax."
        )
    labels = [f"share {j}" for j in range(n)] + (
        ["reference mass per finished mass"] if free else []
    )
    labels += [f"{r.label}: {side}" for r in aims for side in ("over", "under")]
    lp = LinearProgram(
        tuple(labels), tuple(rows.labels), np.array(rows.matrix), cost, lower, upper,
        np.array(rows.low), np.array(rows.high),
    )  # fmt: skip
    prices = np.array([np.broadcast_to(f, (m,)) for f in rows.foods]).T
    return lp, np.ascontiguousarray(prices), len(rows.labels) - 1


def _entering(
    requirement: Requirement, limits: Mapping[str, Limit], extra: Mapping[str, FloatArray]
) -> tuple[FloatArray, FloatArray | float]:
    """Weights over the composition with which a food enters a row, and what it adds besides."""
    weights = np.zeros(len(NAMES))
    if requirement.kind == "loss":
        weights[INDEX["water"]] = 0.01
    limit = limits.get(requirement.label) if requirement.kind == "limit" else None
    if limit is not None:
        return limit.vector(), extra.get(limit.label, 0.0)
    return weights, 0.0


def _worse(shelf: Shelf, weights: FloatArray, low: float, high: float) -> FloatArray:
    """The end of what each food may bring that keeps a row less easily, shape (n_foods,)."""
    more, less = np.maximum(weights, 0.0), np.minimum(weights, 0.0)
    if math.isfinite(low) and math.isfinite(high):
        return shelf.high @ weights
    if math.isfinite(high):
        return shelf.high @ more + shelf.low @ less
    return shelf.low @ more + shelf.high @ less
