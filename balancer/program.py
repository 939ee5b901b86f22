"""From a problem to a labelled linear program: arrays only, no solver.

The unknowns are shares of the finished mass, ``x = q / M``, and, where the mass itself is free (a
yield in millilitres, or a pot that grows), ``s = M_ref / M`` (Charnes and Cooper 1962): in these
every level, limit, ratio and lock is linear. The columns that the solver sees are changes from
the draft, ``x = draft + more + far more - less``, so that staying near the draft costs no rows.

Stages, each with the optimum of the one before as a limit:

1. the weighted sum of deviations beyond the dead band [JND];
2. the largest weighted deviation [JND];
3. for a pot, the mass that is added;
4. the total relative change from the draft, or from what is in the pot.

An axis that nothing chosen can move is left out of the first two, so that it pulls at no other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.composition import VOLUME_WEIGHTS, FloatArray
from balancer.constants import DRAFT_FLOOR, PART_DENSITY, SOFT_MAXIMUM_COST, TIE_WEIGHT
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.requirements import (
    Requirement,
    aim_ends,
    draft_shares,
    ordered,
    reference_mass,
    requirements_of,
)
from balancer.taste import axis_matrix

#: Rows are scaled so that no coefficient is larger than this.
LARGEST_COEFFICIENT = 1e4
#: s, the reference mass per finished mass, where a volume sets the mass.
S_RANGE = (1e-2, 1e2)
#: Shares this near each other are equal.
ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Stage:
    """One stage of the program.

    Parameters
    ----------
    name : str
        What is minimised.
    cost : array, shape (n_columns,)
    keep_row, keep_column : int or None
        Where the optimum is kept for the stages that follow.
    """

    name: str
    cost: FloatArray
    keep_row: int | None = None
    keep_column: int | None = None


@dataclass(frozen=True, eq=False)
class Columns:
    """How columns stand for shares: ``x[place] += sign * y``, from ``draft``.

    Parameters
    ----------
    labels : tuple of str
    draft : array, shape (n,)
        Shares to stay near.
    place, sign : arrays, shape (n_columns,)
        Ingredient of each column and its direction; the column of s has sign 0.
    upper, cost : arrays, shape (n_columns,)
        Largest change [share], and what it costs in stage 3.
    s : int or None
        Column of s, None where the mass is fixed and s is 1.
    contradiction : bool
        Whether the limits of one ingredient leave no room for it.
    """

    labels: tuple[str, ...]
    draft: FloatArray
    place: NDArray[np.intp]
    sign: FloatArray
    upper: FloatArray
    cost: FloatArray
    s: int | None
    contradiction: bool


@dataclass(frozen=True, eq=False)
class Program:
    """The staged program of a problem, with the way back to grams.

    Parameters
    ----------
    problem : Problem
    lp : LinearProgram
        Rows and columns of all stages; its cost is that of stage 1.
    stages : tuple of Stage
    largest : int
        Column of the largest deviation.
    order : array of int
        ``uses[order[j]]`` stands at place j.
    requirements : tuple of Requirement
    row_of : tuple of (int or None)
        Row of each requirement, None where it became a bound.
    row_scale : array, shape (n_rows,)
        What each row was divided by.
    columns : Columns
    reference_g : float
        M_ref [g].
    levels : array, shape (n, n_axes)
        Level of each ingredient on its own [axis unit per 100 g], in program order.
    """

    problem: Problem
    lp: LinearProgram
    stages: tuple[Stage, ...]
    largest: int
    order: NDArray[np.intp]
    requirements: tuple[Requirement, ...]
    row_of: tuple[int | None, ...]
    row_scale: FloatArray
    columns: Columns
    reference_g: float
    levels: FloatArray

    def shares(self, y: FloatArray) -> FloatArray:
        """Shares of the finished mass in program order, shape (n,)."""
        c = self.columns
        moved = np.bincount(c.place, c.sign * y[: len(c.place)], minlength=len(c.draft))
        return np.maximum(c.draft + moved, 0.0)

    def mass_g(self, y: FloatArray) -> float:
        """Finished mass [g]."""
        return self.reference_g if self.columns.s is None else self.reference_g / y[self.columns.s]

    def grams(self, y: FloatArray) -> FloatArray:
        """Edible grams before loss in the cook's order, shape (n,)."""
        grams = np.empty(len(self.order))
        grams[self.order] = self.shares(y) * self.mass_g(y)
        return grams


def build(problem: Problem) -> Program:
    """Turn a problem into its staged program.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Program
        Columns stand in the order of food numbers, whatever order the cook used.

    Raises
    ------
    BadInput
        If a coefficient is not a number.
    """
    order = ordered(problem)
    composition = problem.composition()[order]
    reference_g = reference_mass(problem, composition)
    requirements = requirements_of(problem, order, composition, reference_g)
    lost = problem.water_lost_g / reference_g
    columns = _columns(problem, order, requirements, reference_g)
    aims = [r for r in requirements if r.kind == "aim"]
    n_y = len(columns.labels)
    largest = n_y + 2 * len(aims)
    rows = _Rows(columns, largest + 1)

    rows.add("batch", np.ones(len(order)), -lost, 1.0, 1.0)
    row_of: list[int | None] = []
    weights = np.zeros(2 * len(aims))
    movable: list[int] = []
    for requirement in requirements:
        if requirement.is_bound and columns.s is None:
            row_of.append(None)
            continue
        values = np.zeros(len(order))
        values[requirement.places] = requirement.values
        deviations: dict[int, float] = {}
        scale = 1.0
        if requirement.aim is not None:
            a = aims.index(requirement)
            _, _, jnd_low, jnd_high = aim_ends(requirement.aim, problem.dead_band_jnd)
            deviations = {n_y + 2 * a: -jnd_high, n_y + 2 * a + 1: jnd_low}
            scale = 0.5 * (jnd_low + jnd_high)
            if np.any(values[columns.place[columns.upper > 0]] != 0):
                # an axis that nothing chosen can move costs the same whatever is done: left out
                weights[2 * a : 2 * a + 2] = requirement.aim.weight
                movable.append(a)
        row_of.append(len(rows.labels))
        rows.add(
            requirement.label,
            values,
            requirement.per_s,
            requirement.low,
            requirement.high,
            deviations,
            scale,
        )
    if problem.yield_ml is not None:
        rows.add("volume", *volume_row(problem, composition, reference_g), 0.0, 0.0)

    total_cost = np.zeros(largest + 1)
    total_cost[n_y:largest] = weights
    keep = len(rows.labels)
    rows.add_raw("sum of deviations", total_cost.copy(), -math.inf, math.inf)
    for a in movable:
        row = np.zeros(largest + 1)
        row[n_y + 2 * a : n_y + 2 * a + 2] = -weights[2 * a]
        row[largest] = 1.0
        rows.add_raw(f"{aims[a].label}, within the largest", row, 0.0, math.inf)
    near = np.zeros(largest + 1)
    near[:n_y] = columns.cost
    labels = [
        *columns.labels,
        *(f"{r.label}: {side}" for r in aims for side in ("over", "under")),
        "largest deviation",
    ]
    upper = np.full(largest + 1, math.inf)
    upper[:n_y] = columns.upper
    lower = np.zeros(largest + 1)
    if columns.s is not None:
        lower[columns.s] = s_range(problem)[0]
    lp = LinearProgram(
        tuple(labels),
        tuple(rows.labels),
        np.array(rows.matrix),
        total_cost,
        lower,
        upper,
        np.array(rows.low),
        np.array(rows.high),
    )
    stages = [
        Stage("sum of deviations", total_cost, keep_row=keep),
        Stage("largest deviation", _unit(largest + 1, largest), keep_column=largest),
    ]
    if problem.pot is not None and columns.s is not None:  # the largest s is the least mass
        stages.append(Stage("least added", -_unit(largest + 1, columns.s), keep_column=columns.s))
    stages.append(Stage("near what there is", near))
    return Program(
        problem=problem,
        lp=lp,
        stages=tuple(stages),
        largest=largest,
        order=order,
        requirements=requirements,
        row_of=tuple(row_of),
        row_scale=np.array(rows.scale),
        columns=columns,
        reference_g=reference_g,
        levels=composition @ axis_matrix(),
    )


def _unit(width: int, place: int) -> FloatArray:
    vector = np.zeros(width)
    vector[place] = 1.0
    return vector


def volume_row(
    problem: Problem, composition: FloatArray, reference_g: float
) -> tuple[FloatArray, float]:
    """Coefficients of the shares and of s in ``volume - yield_ml = 0``, per finished gram."""
    assert problem.yield_ml is not None
    lost_ml = problem.water_lost_g / PART_DENSITY["water"].value
    return composition @ VOLUME_WEIGHTS / 100.0, -(lost_ml + problem.yield_ml) / reference_g


class _Rows:
    """Rows over the columns, collected one by one."""

    def __init__(self, columns: Columns, width: int) -> None:
        self.columns, self.width = columns, width
        self.labels: list[str] = []
        self.matrix: list[FloatArray] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.scale: list[float] = []

    def add(
        self,
        label: str,
        values: FloatArray,
        per_s: float,
        low: float,
        high: float,
        extra: dict[int, float] | None = None,
        scale: float = 1.0,
    ) -> None:
        """Add ``low <= values @ x + per_s * s + extra <= high``, divided by a scale."""
        c = self.columns
        row = np.zeros(self.width)
        row[: len(c.place)] = values[c.place] * c.sign
        shift = float(values @ c.draft)
        if c.s is None:
            shift += per_s
        else:
            row[c.s] = per_s
        for column, value in (extra or {}).items():
            row[column] = value
        scale = max(scale, float(np.abs(row).max(initial=0.0)) / LARGEST_COEFFICIENT)
        self.add_raw(label, row / scale, (low - shift) / scale, (high - shift) / scale, scale)

    def add_raw(
        self, label: str, row: FloatArray, low: float, high: float, scale: float = 1.0
    ) -> None:
        """Add a row over the columns as it stands."""
        self.labels.append(label)
        self.matrix.append(row)
        self.low.append(low)
        self.high.append(high)
        self.scale.append(scale)


def s_range(problem: Problem) -> tuple[float, float]:
    """Ends of s where the mass is free: a pot may grow by its cap; a volume fixes the mass."""
    return (1.0 / (1.0 + problem.pot.growth), 1.0) if problem.pot else S_RANGE


def _columns(
    problem: Problem,
    order: NDArray[np.intp],
    requirements: tuple[Requirement, ...],
    reference_g: float,
) -> Columns:
    """Columns more, far more and less around the draft, and s where the mass is free."""
    n = len(order)
    uses = [problem.uses[i] for i in order]
    free_mass = problem.yield_g is None
    batch = 1.0 + problem.water_lost_g / reference_g
    lower, upper = np.zeros(n), np.full(n, math.inf if free_mass else batch)
    if not free_mass:
        for r in requirements:
            if r.is_bound:
                j = int(r.places[0])
                lower[j] = max(lower[j], r.low - r.per_s)
                upper[j] = min(upper[j], r.high - r.per_s)
    contradiction = bool((lower > upper + ROUNDING).any())
    upper = np.maximum(upper, lower)
    soft = np.full(n, math.inf)
    if problem.pot is not None:
        draft = np.zeros(n)
        drafts = [u.draft_g or 0.0 for u in problem.uses]
        there = np.maximum(problem.pot.grams, drafts)[order] / reference_g
    else:
        draft = np.clip(draft_shares(problem, order, reference_g), lower, upper)
        for j, use in enumerate(uses):
            if use.draft_g is None and use.locked_g is None and use.ingredient.share:
                soft[j] = max(use.ingredient.share[2] * batch, draft[j])
        there = draft
    price = 1.0 / np.maximum(there, DRAFT_FLOOR.value)
    price = price * (1.0 + TIE_WEIGHT.value * np.arange(1, n + 1))
    everyone = np.arange(n)
    far, less = everyone[upper > soft], everyone[draft > lower]
    place = np.concatenate([everyone, far, less])
    sign = np.concatenate([np.ones(n), np.ones(len(far)), -np.ones(len(less))])
    room = np.concatenate(
        [np.minimum(upper, soft) - draft, upper[far] - soft[far], draft[less] - lower[less]]
    )
    cost = np.concatenate([price, SOFT_MAXIMUM_COST.value * price[far], price[less]])
    names = [u.label for u in uses]
    labels = [f"{x}: more" for x in names]
    labels += [f"{names[j]}: far more" for j in far] + [f"{names[j]}: less" for j in less]
    s = None
    if free_mass:
        s = len(labels)
        labels.append("reference mass per finished mass")
        place, sign = np.append(place, 0), np.append(sign, 0.0)
        room = np.append(room, s_range(problem)[1])
        cost = np.append(cost, 0.0)
    return Columns(tuple(labels), draft, place, sign, room, cost, s, contradiction)
