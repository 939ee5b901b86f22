"""Additions as a cook can weigh them: whole steps of the scale, and thinned what is too little.

What dissolves or mixes is thinned until it can be weighed. Of the rest a few steps are weighed as
they are; less than a step is a pinch, and left out where nobody would taste it.

Rounding one addition shifts what the others should be, so all are rounded together: with the
masses themselves as unknowns every level, limit and ratio is a linear row, and one small
mixed-integer program finds whole steps of the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balancer.composition import Blend, FloatArray, matrix
from balancer.constants import DEAD_BAND_JND
from balancer.errors import BadInput, NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.requirements import (
    Requirement,
    aim_ends,
    ordered,
    reference_mass,
    requirements_of,
)
from balancer.solve import Model
from balancer.taste import jnd, levels
from balancer.thinning import LEAST_STEPS, Thinned, thinned_for
from balancer.wishes import LARGEST_MASS_G, Pot, Use

#: An addition below this share of the pot is none.
TRACE = 1e-6
COARSEST_SCALE_G = 1000.0
ROUNDING_SECONDS = 5.0


@dataclass(frozen=True, eq=False)
class Weighed:
    """Additions in whole steps of the scale.

    Parameters
    ----------
    problem : Problem
        The pot, with what was thinned as further ingredients.
    added_g : array, shape (n_uses,)
        What stays in the pot of what the scale shows for each ingredient of that problem, or of
        the grams of a pinch [g].
    thinned : tuple of (Thinned or None), length n_uses
    of : tuple of int, length n_uses
        Place in the cook's list of what each addition is made from.
    pinches : frozenset of int
        Places of what goes in by the pinch, too little for the scale.
    """

    problem: Problem
    added_g: FloatArray
    thinned: tuple[Thinned | None, ...]
    of: tuple[int, ...]
    pinches: frozenset[int] = frozenset()

    @property
    def grams(self) -> FloatArray:
        """What is in the pot afterwards, shape (n_uses,) [g]."""
        assert self.problem.pot is not None
        return np.asarray(self.problem.pot.grams) + self.added_g


def checked_readability(readability_g: float) -> float:
    """Return the step of a scale [g]; raise :class:`BadInput` if no scale has it."""
    if not (math.isfinite(readability_g) and 0 < readability_g <= COARSEST_SCALE_G):
        raise BadInput(
            f"The scale reads in steps of {readability_g:g} g. Give its step: above zero, at most"
            f" {COARSEST_SCALE_G:g} g."
        )
    return float(readability_g)


def _tasted_jnd(problem: Problem, grams: FloatArray, place: int, added_g: float) -> float:
    """The farthest that an addition moves any axis of the pot it ends in [JND]."""
    composition = problem.composition()
    without = grams.copy()
    without[place] -= added_g
    after = levels(Blend(composition, grams, problem.water_lost_g).per_100g())
    before = levels(Blend(composition, without, problem.water_lost_g).per_100g())
    return float(np.max(np.abs(after - before) / jnd(after)))


def on_scale(problem: Problem, added_g: FloatArray, readability_g: float) -> Weighed:
    """Round additions to a scale, together, small ones thinned where they mix.

    The weighed quantities miss the aims as little as whole steps allow (the sum of misses beyond
    the tolerance is least, then the mass added) and keep the limits of the request.

    Parameters
    ----------
    problem : Problem
        With a pot.
    added_g : array, shape (n_uses,)
        Exact additions, in the cook's order [g].
    readability_g : float
        Step of the scale [g].

    Returns
    -------
    Weighed

    Raises
    ------
    BadInput
        If no scale has this step.
    """
    assert problem.pot is not None
    step = checked_readability(readability_g)
    least = TRACE * sum(problem.pot.grams)
    uses, of = list(problem.uses), list(range(len(added_g)))
    thinned: list[Thinned | None] = [None] * len(uses)
    columns: list[int] = []
    exact: list[float] = []
    pinches: set[int] = set()
    whole = np.asarray(problem.pot.grams) + added_g
    for i, grams in enumerate(added_g):
        if grams <= least:
            continue
        shown = float(grams) / problem.uses[i].passes
        if shown >= (LEAST_STEPS - 1e-9) * step:
            columns.append(i)
            exact.append(float(grams))
        elif (weaker := thinned_for(problem.uses[i], float(grams), step)) is not None:
            room = max(0.0, problem.uses[i].max_g - problem.pot.grams[i])
            columns.append(len(uses))
            exact.append(float(grams) / weaker.strength)
            room = min(room / weaker.strength, LARGEST_MASS_G) if math.isfinite(room) else room
            uses.append(Use(weaker.ingredient, max_g=room, label=weaker.ingredient.name))
            thinned.append(weaker)
            of.append(i)
        elif shown >= (1.0 - 1e-9) * step:  # a few steps, as it is
            columns.append(i)
            exact.append(float(grams))
        elif _tasted_jnd(problem, whole, i, float(grams)) > DEAD_BAND_JND.value:
            pinches.add(i)
            columns.append(i)
            exact.append(float(grams))
    extra = len(uses) - len(problem.uses)
    pot = Pot((*problem.pot.grams, *([0.0] * extra)), problem.pot.growth)
    limits = tuple(
        replace(limit, per_use=_with_thinned(limit.per_use, thinned, of))
        for limit in problem.limits
    )
    wider = replace(problem, uses=tuple(uses), pot=pot, limits=limits)
    out = np.zeros(len(uses))
    counted = np.array([c not in pinches for c in columns], dtype=bool)
    stays = step * np.array([uses[c].passes for c in columns])
    out[columns] = np.round(
        stays * _whole_steps(wider, columns, np.array(exact), stays, counted), 9
    )
    out[out <= least] = 0.0
    return Weighed(wider, out, tuple(thinned), tuple(of), frozenset(pinches))


def _with_thinned(
    per_use: tuple[float, ...], thinned: Sequence[Thinned | None], of: Sequence[int]
) -> tuple[float, ...]:
    """What each use adds to a limit, what is thinned behind: its share of it, the solvent none."""
    if not per_use:
        return per_use
    made = zip(thinned[len(per_use) :], of[len(per_use) :], strict=True)
    return (*per_use, *(per_use[i] * weaker.strength for weaker, i in made if weaker is not None))


def _whole_steps(
    problem: Problem,
    columns: list[int],
    exact: FloatArray,
    step: FloatArray,
    counted: NDArray[np.bool_],
) -> FloatArray:
    """Steps for the chosen columns, whole where they are counted, shape (n_columns,).

    ``step`` is what stays in the pot of one step of the scale, for each column [g].
    """
    if not columns:
        return np.zeros(0)
    assert problem.pot is not None
    in_pot = np.asarray(problem.pot.grams)
    room = np.array([max(0.0, problem.uses[c].max_g - in_pot[c]) for c in columns])
    growth = problem.pot.growth * (float(in_pot.sum()) - problem.water_lost_g)
    upper = np.minimum(room, growth) / step + 1e-9
    upper = np.where(counted, np.floor(upper), np.minimum(upper, 1.0))
    lower = np.minimum(np.minimum(float(LEAST_STEPS), np.floor(exact / step + 1e-9)), upper)
    lp, weights = _program(problem, columns, exact, step, lower, upper, counted)
    try:
        model = Model(lp, seconds=ROUNDING_SECONDS)
        best = model.optimum()
        if best is not None:
            keep = float(best.value)
            model.set_row(len(lp.rows) - 1, -math.inf, keep + 1e-7)
            model.set_cost(weights)
            best = model.optimum() or best
    except NoSolution:
        best = None
    if best is None:  # no whole steps keep every limit: less is safer than more
        least = np.where(counted, np.floor(exact / step + 1e-9), exact / step)
        return np.asarray(np.clip(least, 0.0, upper))
    found = best.y[: len(columns)]
    return np.asarray(np.where(counted, np.round(found), found))


def _program(
    problem: Problem,
    columns: list[int],
    exact: FloatArray,
    step: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    counted: NDArray[np.bool_],
) -> tuple[LinearProgram, FloatArray]:
    """Rows over the steps and the misses, and the cost of the second stage: mass added."""
    assert problem.pot is not None
    order = ordered(problem)
    composition = matrix([problem.uses[i].ingredient for i in order])
    start = reference_mass(problem, composition)
    finish = start + float(exact.sum())
    place = {int(i): j for j, i in enumerate(order)}
    at = np.array([place[c] for c in columns])
    in_pot = np.asarray(problem.pot.grams)[order]
    requirements = requirements_of(problem, order, composition, start)
    aims = [r for r in requirements if r.aim is not None]
    k, width = len(columns), len(columns) + 2 * len(aims)
    rows, low, high, names = [], [], [], []

    def add(name: str, row: FloatArray, floor: float, ceiling: float) -> None:
        size = max(float(np.abs(row).max(initial=0.0)), 1e-12)
        names.append(name)
        rows.append(row / size)
        low.append(floor / size)
        high.append(ceiling / size)

    def side(r: Requirement, end: float) -> tuple[FloatArray, float]:
        """Amount over an end times the mass: coefficients of the steps, and what is there."""
        values = np.zeros(len(order))
        values[r.places] = r.values
        row = np.zeros(width)
        row[:k] = step * (values[at] - end)
        return row, float(values @ in_pot) + r.per_s * start - end * start

    for r in requirements:
        if r.kind == "minimum":
            continue  # the pot is there already
        for which, end in (("under", r.low), ("over", r.high)):
            if not math.isfinite(end):
                continue
            row, there = side(r, end)
            if r.aim is not None:
                _, _, jnd_low, jnd_high = aim_ends(r.aim, problem.dead_band_jnd)
                under = which == "under"
                row[k + 2 * aims.index(r) + under] = finish * (jnd_low if under else -jnd_high)
            bounds = (-there, math.inf) if which == "under" else (-math.inf, -there)
            add(f"{r.label}: {which}", row, *bounds)
    mass = np.zeros(width)
    mass[:k] = step / finish
    add("growth", mass * finish, -math.inf, problem.pot.growth * start + 1e-9 * start)
    misses = np.zeros(width)
    for a, r in enumerate(aims):
        assert r.aim is not None
        misses[k + 2 * a : k + 2 * a + 2] = r.aim.weight
    names.append("sum of misses")
    rows.append(misses)
    low.append(-math.inf)
    high.append(math.inf)
    labels = [problem.uses[c].label for c in columns]
    labels += [f"{r.label} {w}" for r in aims for w in ("miss over", "miss under")]
    lp = LinearProgram(
        tuple(labels),
        tuple(names),
        np.array(rows),
        misses,
        np.concatenate([lower, np.zeros(2 * len(aims))]),
        np.concatenate([upper, np.full(2 * len(aims), math.inf)]),
        np.array(low),
        np.array(high),
        np.concatenate([counted, np.zeros(2 * len(aims), dtype=bool)]),
    )
    return lp, mass
