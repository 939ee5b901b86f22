"""Sauces for tests: ingredients made to measure, and random problems with fixed seeds."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from balancer.composition import INDEX, NAMES, Evidence, Ingredient, matrix
from balancer.constants import AXIS_NAMES
from balancer.problem import Problem
from balancer.taste import levels
from balancer.wishes import LARGEST_LEVEL, Aim, Limit, Ratio, Use


def ingredient(
    key: str,
    *,
    name: str = "",
    share: tuple[float, float, float] | None = None,
    **amounts: float,
) -> Ingredient:
    """An ingredient of which everything is known: what is not given is zero, water the rest."""
    values = np.zeros(len(NAMES))
    for component, amount in amounts.items():
        values[INDEX[component]] = amount
    if "water" not in amounts:
        solids = sum(a for c, a in amounts.items() if INDEX[c] < INDEX["sodium"])
        values[INDEX["water"]] = max(0.0, 100.0 - solids)
    nothing = np.full(len(NAMES), math.nan)
    return Ingredient(
        key=key,
        name=name or key,
        values=values,
        low=nothing,
        high=nothing.copy(),
        evidence=(Evidence.CHOSEN,) * len(NAMES),
        source=("CHOSEN",) * len(NAMES),
        share=share,
    )


def random_problem(
    seed: int,
    pantry: Sequence[Ingredient],
    least: int = 5,
    most: int = 25,
    *,
    spread: float | None = None,
) -> Problem:
    """A problem that a hidden sauce keeps the limits of, and whose target it may miss.

    Limits are drawn round the hidden sauce, so that they never contradict each other. Targets
    are its levels, in two thirds of the problems moved away from it.
    """
    rng = np.random.default_rng(seed)
    n = int(rng.integers(least, most + 1))
    chosen = [pantry[i] for i in rng.choice(len(pantry), n, replace=False)]
    composition = matrix(chosen)
    batch = float(rng.choice([80.0, 500.0, 2500.0]))
    q = rng.dirichlet(np.full(n, 0.6)) * batch
    water = float(q @ composition[:, INDEX["water"]]) / 100.0
    lost = round(float(rng.uniform(0.0, 0.6)) * water, 1) if rng.random() < 0.4 else 0.0
    finished = batch - lost
    hidden = q @ composition / finished
    uses = []
    for food, g in zip(chosen, q, strict=True):
        limits: dict[str, float] = {}
        kind = rng.random()
        if kind < 0.08:
            limits["locked_g"] = float(g)
        elif kind < 0.30:
            limits["min_g"] = float(g * rng.uniform(0.3, 1.0))
        elif kind < 0.52:
            limits["max_g"] = float(g * rng.uniform(1.0, 3.0))
        elif kind < 0.58:
            limits["share_max"] = float(min(1.0, g / batch * rng.uniform(1.0, 2.0)))
        elif kind < 0.64:
            limits["share_min"] = float(g / batch * rng.uniform(0.3, 1.0))
        if "locked_g" not in limits and rng.random() < 0.5:
            limits["draft_g"] = float(g * rng.uniform(0.5, 1.5))
        uses.append(Use(food, **limits))
    ratios: tuple[Ratio, ...] = ()
    if rng.random() < 0.4:
        of, to = (int(i) for i in rng.choice(n, 2, replace=False))
        if q[to] > 1e-3 * batch:
            ratio = float(q[of] / q[to])
            ratios = (Ratio(of, to, ratio * 0.6, ratio * 1.6),)
    limit: tuple[Limit, ...] = ()
    if rng.random() < 0.4:
        most_sodium = float(hidden[INDEX["sodium"]] * rng.uniform(1.0, 1.4)) + 1.0
        limit = (Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=most_sodium),)
    reached = levels(hidden)
    moved = spread if spread is not None else float(rng.choice([0.0, 0.8, 0.8]))
    aims = []
    for axis in rng.choice(AXIS_NAMES, int(rng.integers(2, 7)), replace=False):
        axis = str(axis)
        level = float(reached[AXIS_NAMES.index(axis)] * math.exp(rng.normal(0.0, 1.0) * moved))
        level = min(level, 0.8 * LARGEST_LEVEL[axis])
        wide = rng.random() < 0.25
        weight = float(rng.choice([1.0, 1.0, 1.0, 0.5, 3.0]))
        aims.append(Aim(axis, level, level * 1.2 if wide else level, weight))
    return Problem(
        uses=tuple(uses),
        aims=tuple(aims),
        yield_g=finished,
        water_lost_g=lost,
        limits=limit,
        ratios=ratios,
        dead_band_jnd=float(rng.choice([0.0, 0.25, 0.25, 1.0])),
    )
