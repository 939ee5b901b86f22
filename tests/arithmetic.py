"""Solutions checked by arithmetic of its own: plain sums over grams, no row of the program.

The axes are written out from their definitions, not imported, and so is what cooking leaves. The
whole test suite runs under :func:`watched`, so that no solution is returned unchecked.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray

import balancer.solve as solving
from balancer.composition import COMPONENTS, NAMES
from balancer.problem import Problem
from balancer.solve import Solution, Status
from balancer.wishes import Aim

Array = NDArray[np.float64]
#: A quantity may lie this share of the batch outside a limit, a figure this share of its size.
NEAR = 2e-5
#: Sums of deviations agree within this, and this share [JND].
NEAR_JND = 2e-5
OILS = ("herb", "warm_spice", "citrus", "allium", "mustard", "floral", "smoke")
SUGARS = {
    "sucrose": 1.0,
    "fructose": 1.2,
    "glucose": 0.7,
    "galactose": 0.6,
    "maltose": 0.4,
    "lactose": 0.2,
    "other_sugars": 0.95,
}
ACIDS = {
    "citric": 1.0,
    "malic": 1.25,
    "tartaric": 1.25,
    "lactic": 1.0,
    "acetic": 1.25,
    "succinic": 1.1,
    "gluconic": 0.4,
}
#: axis: (k, f, weights)
AXES: dict[str, tuple[float, float, dict[str, float]]] = {
    "sweet": (0.17, 0.4, SUGARS),
    "sour": (0.18, 0.02, ACIDS),
    "salt": (0.15, 0.06, {"sodium": 58.443 / 22.990 / 1000}),
    "volatile": (
        0.20,
        1.0,
        {f"oil_{o}": 1.0 for o in OILS} | {"allium_sulphur": 4.0, "isothiocyanates": 4.0},
    ),
    "umami": (0.21, 20.0, {"glutamate": 1.0}),
    "heat": (0.20, 10.0, {"capsaicinoids": 160.0}),
    "body": (0.26, 0.3, {"fibre": 1.0, "starch": 1.0}),
    "fat": (0.20, 0.5, {"fat": 1.0}),
}
WATER = NAMES.index("water")
IN_GRAMS = np.array([c.unit == "g" for c in COMPONENTS])
#: Density of the parts of a food [g/mL].
DENSITY = {
    "water": 0.9957, "protein": 1.3195, "fat": 0.9172, "fibre": 1.3042, "ash": 2.4182,
    "ethanol": 0.789, "starch": 1.5929, "other_carbohydrate": 1.5929,
}  # fmt: skip
ML_PER_G = np.array(
    [
        1.0 / DENSITY[c.name]
        if c.name in DENSITY
        else 1.0 / 1.5929
        if c.group == "sugar"
        else 1.0 / 1.55
        if c.group == "acid"
        else 0.0
        for c in COMPONENTS
    ]
)


def weights(named: dict[str, float]) -> Array:
    """A row over the component axis."""
    row = np.zeros(len(NAMES))
    for name, weight in named.items():
        row[NAMES.index(name)] = weight
    return row


AXIS_ROWS = {axis: weights(parts) for axis, (_, _, parts) in AXES.items()}


def amounts(problem: Problem) -> Array:
    """What 100 g of each ingredient bring to the finished sauce, unknown amounts zero."""
    raw = np.array([u.ingredient.values for u in problem.uses])
    raw = np.where(np.isnan(raw), 0.0, raw)
    if problem.kept is None:
        return raw
    left = raw * problem.kept
    left[:, WATER] += ((raw - left) * IN_GRAMS).sum(axis=1)
    return left


def zone(aim: Aim, dead_band: float) -> tuple[float, float, float, float]:
    """Ends within which an aim costs nothing, and a just-noticeable difference at either."""
    k, f, _ = AXES[aim.axis]
    at_low, at_high = f + k * aim.low, f + k * aim.high
    band = dead_band if aim.low == aim.high else 0.0
    return aim.low - band * at_low, aim.high + band * at_high, at_low, at_high


def misses(problem: Problem, levels: dict[str, float]) -> list[float]:
    """Weighted deviation of each aim beyond its zone [JND]."""
    found = []
    for aim in problem.aims:
        low, high, at_low, at_high = zone(aim, problem.dead_band_jnd)
        level = levels[aim.axis]
        found.append(aim.weight * max((low - level) / at_low, (level - high) / at_high, 0.0))
    return found


def levels_of(rows: Array, grams: Array, mass_g: float) -> dict[str, float]:
    """Level of each axis in 100 g of finished sauce."""
    return {axis: float(grams @ (rows @ row)) / mass_g for axis, row in AXIS_ROWS.items()}


def faults(problem: Problem, solution: Solution) -> list[str]:
    """Everything about a solution that does not follow from what was asked."""
    if not solution.has_quantities:
        return [] if solution.status is Status.INFEASIBLE else ["no quantities, yet solved"]
    grams = np.asarray(solution.grams, dtype=float)
    if not (np.isfinite(grams).all() and (grams >= 0).all()):
        return [f"quantities of {grams.min():g} to {grams.max():g} g"]
    rows = amounts(problem)
    total = math.fsum(grams)
    mass = total - problem.water_lost_g
    found = list(_mass(problem, grams, rows, total, mass))
    broken = list(_limits(problem, grams, rows, total, mass))
    if solution.broken:
        # locked quantities are reported with the limits that they do not keep
        if not problem.all_locked:
            found.append("limits are broken though quantities are free")
    else:
        found += broken
    found += _levels(problem, solution, levels_of(rows, grams, mass))
    return found


def _mass(problem: Problem, grams: Array, rows: Array, total: float, mass: float) -> Iterator[str]:
    """Mass and volume: what goes in comes out, less what is cooked away."""
    near = NEAR * total
    slack = 0.006 if problem.all_locked else 0.0
    if problem.yield_g is not None and abs(mass - problem.yield_g) > near + slack:
        yield f"{mass:.8g} g instead of {problem.yield_g:.8g} g"
    if problem.yield_ml is not None:
        ml = float(grams @ (rows @ ML_PER_G)) / 100.0 - problem.water_lost_g / DENSITY["water"]
        within = 0.0051 if problem.all_locked else NEAR
        if abs(ml - problem.yield_ml) > within * problem.yield_ml + near:
            yield f"{ml:.8g} mL instead of {problem.yield_ml:.8g} mL"
    if problem.pot is not None:
        there = np.array(problem.pot.grams)
        if (grams < there - near).any():
            yield "something was taken out of the pot"
        most = (there.sum() - problem.water_lost_g) * (1.0 + problem.pot.growth)
        if mass > most + near:
            yield f"the pot grows to {mass:.8g} g, over {most:.8g} g"


def _limits(
    problem: Problem, grams: Array, rows: Array, total: float, mass: float
) -> Iterator[str]:
    """Every limit of the cook, in grams or in the unit of the limit."""
    near = NEAR * total
    in_pot = problem.pot.grams if problem.pot else (0.0,) * len(grams)
    for use, g, there in zip(problem.uses, grams, in_pot, strict=True):
        locked = use.locked_g if problem.pot is None else None
        low = max(use.min_g, use.share_min * total, locked or 0.0)
        high = min(max(use.max_g, there), use.share_max * total)
        high = high if locked is None else min(high, locked)
        if not low - near <= g <= high + near:
            yield f"{use.label}: {g:.8g} g outside {low:.8g} to {high:.8g} g"
    brought = float(grams @ rows[:, WATER]) / 100.0
    if brought < problem.water_lost_g - near:
        yield f"{problem.water_lost_g:.8g} g of water lost of {brought:.8g} g"
    for r in problem.ratios:
        of, to = (grams[i] / problem.uses[i].passes for i in (r.of, r.to))
        size = near * max(1.0, r.low)
        if of < r.low * to - size or (math.isfinite(r.high) and of > r.high * to + size):
            yield f"a ratio of {of:.8g} g to {to:.8g} g outside {r.low:g} to {r.high:g}"
    for limit in problem.limits:
        per_100g = rows @ weights(dict(limit.weights))
        if limit.per_use:
            per_100g = per_100g + np.array(limit.per_use)
        gone = 100.0 * limit.weights.get("water", 0.0) + limit.per_lost_water
        value = (float(grams @ per_100g) - problem.water_lost_g * gone) / mass
        size = max(float(grams @ abs(per_100g)) / mass, 0.1 * float(abs(per_100g).max()))
        if not limit.low - NEAR * size <= value <= limit.high + NEAR * size:
            yield f"{limit.label}: {value:.8g} outside {limit.low:g} to {limit.high:g}"


def _levels(problem: Problem, solution: Solution, levels: dict[str, float]) -> Iterator[str]:
    """Levels, deviations and status as reported, against those of the grams."""
    for (axis, level), theirs in zip(levels.items(), solution.levels, strict=True):
        if abs(level - theirs) > 1e-9 + 1e-7 * abs(level):
            yield f"{axis} is {level:.8g}, reported as {theirs:.8g}"
    each = misses(problem, levels)
    for what, mine, theirs in (
        ("sum", math.fsum(each), solution.sum_jnd),
        ("largest", max(each, default=0.0), solution.largest_jnd),
    ):
        if not abs(mine - theirs) <= 1e-7 * (1.0 + abs(mine)):
            yield f"the {what} of deviations is {mine:.8g}, reported as {theirs:.8g}"
    for aim in problem.aims:
        k, f, _ = AXES[aim.axis]
        level = levels[aim.axis]
        end = min(max(level, aim.low), aim.high)
        off = (level - end) / (f + k * end)
        if abs(off - solution.deviation_jnd(aim.axis)) > 1e-7 * (1.0 + abs(off)):
            yield f"{aim.axis} is {off:.8g} JND off"
    reached = math.fsum(each) <= NEAR_JND * max(1, len(each))
    if solution.status is Status.ON_TARGET and not reached:
        yield f"on target, yet {math.fsum(each):g} JND off"
    if solution.status is Status.NEAREST and not each:
        yield "nearest to nothing"
    if solution.status is Status.REPORT and each:
        yield "a report, yet levels were asked for"


@contextmanager
def watched(seen: Callable[[Problem, Solution], None]) -> Iterator[None]:
    """Hand every solution to a function before whoever asked gets it, under any name in use."""
    original = solving.solve

    def solve(problem: Problem) -> Solution:
        solution = original(problem)
        seen(problem, solution)
        return solution

    def put(old: object, new: object) -> None:
        for module in [*sys.modules.values()]:
            names = vars(module) if hasattr(module, "__dict__") else {}
            if names.get("solve") is old:
                module.solve = new  # type: ignore[attr-defined]

    solve.__doc__ = original.__doc__
    put(original, solve)
    try:
        yield
    finally:
        put(solve, original)
