"""What a sauce may weigh, as rows over the masses: for measures chosen together.

With the masses themselves as unknowns every level, limit and ratio is linear. Limits of the
finished sauce and the rows of a pH ceiling are kept as they are; ratios and shares become
tolerances; the mass of the batch may float a little.
"""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.constants import AXES
from balancer.problem import Problem
from balancer.requirements import Requirement, ordered, reference_mass, requirements_of
from balancer.taste import axis_matrix, levels

#: The mass of the batch may float by this share [1].
FLOAT = 0.02
#: A ratio or a share that the cook gave may be missed by this share of itself [1].
TOLERANCE = 0.05
#: Share of a limit's size that counts as rounding of the numbers themselves [1].
NUMERIC = 1e-6

#: (label, row over the masses in the cook's order, low, high).
MassRow: TypeAlias = tuple[str, FloatArray, float, float]


def stays(problem: Problem) -> FloatArray:
    """Share of what is weighed that stays in the pot, shape (n,) [1]."""
    return np.array([use.passes for use in problem.uses])


def levels_of(problem: Problem, grams: FloatArray) -> FloatArray:
    """Levels of a sauce, shape (n_axes,) [axis unit per 100 g]."""
    mass = float(grams.sum()) - problem.water_lost_g
    return levels(grams @ problem.composition() / mass)


def jnd_at(level: FloatArray) -> FloatArray:
    """One just-noticeable difference at each level, shape (n_axes,) [axis unit]."""
    return np.array([a.floor + a.weber * x for a, x in zip(AXES, level, strict=True)])


def errors_over(problem: Problem, grams: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Errors of the levels as functions of the masses: ``q @ tilt + shift`` [JND].

    Exact where the mass stays; where it floats, the error is wrong by as large a share of itself.

    Parameters
    ----------
    problem : Problem
    grams : array, shape (n,)
        Quantities that are wanted [g].

    Returns
    -------
    tilt : array, shape (n, n_axes)
        [JND/g].
    shift : array, shape (n_axes,)
        [JND].
    """
    wanted = levels_of(problem, grams)
    scale = (float(grams.sum()) - problem.water_lost_g) * jnd_at(wanted)
    tilt = (problem.composition() @ axis_matrix() - wanted) / scale
    return tilt, wanted * problem.water_lost_g / scale


def mass_rows(problem: Problem, grams: FloatArray) -> list[MassRow]:
    """Rows over the masses in the cook's order, (label, row, low, high).

    A limit that the quantities break before rounding is not asked of them after it.
    """
    lost = problem.water_lost_g
    mass = float(grams.sum()) - lost
    order = ordered(problem)
    composition = problem.composition()[order]
    reference_g = mass if problem.pot is not None else reference_mass(problem, composition)
    batch_g = mass + lost
    rows = [("batch", np.ones(len(grams)), batch_g - FLOAT * mass, batch_g + FLOAT * mass)]
    for requirement in requirements_of(problem, order, composition, reference_g):
        if requirement.kind in ("aim", "lock", "pot"):
            continue
        for end, low, high in (
            (requirement.low, 0.0, math.inf),
            (requirement.high, -math.inf, 0.0),
        ):
            if math.isinf(end):
                continue
            row, constant = _over_mass(requirement, end, order, lost, reference_g, high == 0.0)
            size = NUMERIC * float(np.abs(row) @ grams)
            if low - size <= float(row @ grams) + constant <= high + size:
                rows.append((requirement.label, row, low - constant - size, high - constant + size))
    return _once(rows)


def _once(
    rows: list[MassRow],
) -> list[MassRow]:
    """The same rows, each under a label of its own."""
    seen: dict[str, int] = {}
    found = []
    for label, row, low, high in rows:
        seen[label] = seen.get(label, 0) + 1
        found.append((label if seen[label] == 1 else f"{label} ({seen[label]})", row, low, high))
    return found


def _over_mass(
    requirement: Requirement,
    end: float,
    order: NDArray[np.intp],
    lost: float,
    reference_g: float,
    is_most: bool,
) -> tuple[FloatArray, float]:
    """``values @ q + per_s * M_ref - end * (sum(q) - lost)``, as a row over q and a constant."""
    row = np.zeros(len(order))
    slack = TOLERANCE if is_most else -TOLERANCE
    values = requirement.values
    if requirement.kind == "ratio":  # of - bound * to, in the order of places
        values = np.array([values[0], values[1] * (1.0 + slack)])
    elif requirement.kind == "share":
        end *= 1.0 + slack
    row[order[requirement.places]] = values
    return row - end, requirement.per_s * reference_g + end * lost
