"""The search for measures that go together: exchanges first, then one mixed-integer program.

Measures are places in lists: ``pick[i]`` is the place of the measure of ingredient i.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES
from balancer.errors import NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.rounding_rows import errors_over, mass_rows
from balancer.solve import solve_linear

#: What a broken limit costs beside an error, per share of its size [JND].
BREAKING = 1e3


def exchanged(
    problem: Problem, grams: FloatArray, masses: Sequence[FloatArray], pick: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Better measures by changing one or two at a time for as long as that helps.

    A first answer in a few milliseconds: the program has only to beat it, and a cook who cannot
    wait has it in hand.

    Parameters
    ----------
    problem : Problem
    grams : array, shape (n,)
        Quantities that are wanted [g].
    masses : sequence of array
        What each measure puts into the pot, one array for each ingredient [g].
    pick : array of int, shape (n,)
        Measures to start from.
    """
    tilt, shift = errors_over(problem, grams)
    limits = mass_rows(problem, grams)
    sizes = [float(np.abs(row) @ grams) or 1.0 for _, row, _, _ in limits]
    rows = np.stack([row / size for (_, row, _, _), size in zip(limits, sizes, strict=True)], 1)
    low = np.array([lo / size for (_, _, lo, _), size in zip(limits, sizes, strict=True)])
    high = np.array([hi / size for (_, _, _, hi), size in zip(limits, sizes, strict=True)])

    def cost(errors: FloatArray, sums: FloatArray) -> FloatArray:
        over = np.maximum(np.maximum(low - sums, sums - high), 0.0).sum(-1)
        return np.asarray(np.abs(errors).max(-1) + BREAKING * over)

    of = np.concatenate([np.full(len(m), i) for i, m in enumerate(masses)])
    place = np.concatenate([np.arange(len(m)) for m in masses])
    mass = np.concatenate(list(masses))
    apart = of[:, None] != of[None, :]
    pick = pick.copy()
    while True:
        after = np.array([m[k] for m, k in zip(masses, pick, strict=True)])
        change = mass - after[of]
        errors, sums = after @ tilt + shift, after @ rows
        by_error, by_sum = change[:, None] * tilt[of], change[:, None] * rows[of]
        costs = cost(
            errors + by_error[:, None] + by_error[None, :], sums + by_sum[:, None] + by_sum[None, :]
        )
        costs[~apart] = math.inf
        np.fill_diagonal(costs, cost(errors + by_error, sums + by_sum))
        first, second = np.unravel_index(int(np.argmin(costs)), costs.shape)
        if not costs[first, second] < float(cost(errors, sums)) - 1e-9:
            return pick
        for move in (first, second):
            pick[of[move]] = place[move]


def together(
    problem: Problem,
    grams: FloatArray,
    masses: Sequence[FloatArray],
    *,
    most_jnd: float,
    fine_jnd: float,
    given_up: Sequence[str] = (),
    seconds: float,
) -> NDArray[np.intp] | None:
    """Measures whose largest error is least, by one mixed-integer program.

    Parameters
    ----------
    problem, grams, masses
        As for :func:`exchanged`.
    most_jnd : float
        An error over this is of no use [JND].
    fine_jnd : float
        An error under this is not chased [JND].
    given_up : sequence of str
        Labels of limits that need not be kept.
    seconds : float
        The best found by then is returned [s].

    Returns
    -------
    array of int, shape (n,), or None
        None where there are none, or none was found in time.
    """
    lp, starts = _program(problem, grams, masses, most_jnd, fine_jnd, given_up)
    try:
        found = solve_linear(lp, seconds=seconds)
    except NoSolution:  # out of time with nothing in hand
        return None
    if found is None:
        return None
    picks = [
        round(float(found.y[start]))
        if _in_steps(m)
        else int(np.argmax(found.y[start : start + len(m)]))
        for m, start in zip(masses, starts, strict=True)
    ]
    return np.array(picks, dtype=np.intp)


def _in_steps(masses: FloatArray) -> bool:
    """Whether a list goes up in equal steps, so that one whole number says which."""
    gaps = np.diff(masses)
    return len(gaps) == 0 or bool(np.ptp(gaps) <= 1e-9 * masses[-1] and gaps[0] > 0)


def _program(
    problem: Problem,
    grams: FloatArray,
    masses: Sequence[FloatArray],
    most_jnd: float,
    fine_jnd: float,
    given_up: Sequence[str],
) -> tuple[LinearProgram, list[int]]:
    """The program and the first column of each ingredient.

    A list in equal steps is one whole number; any other list is a yes or no for each measure.
    """
    columns: list[str] = []
    upper: list[float] = []
    weights: list[FloatArray] = []
    starts: list[int] = []
    base = np.zeros(len(masses))
    one_of: list[tuple[str, int, int]] = []
    for i, (use, own) in enumerate(zip(problem.uses, masses, strict=True)):
        starts.append(len(columns))
        if _in_steps(own):
            base[i] = own[0]
            weights.append(np.array([own[1] - own[0] if len(own) > 1 else 1.0]))
            columns.append(f"{use.label}: steps over the least")
            upper.append(float(len(own) - 1))
        else:
            weights.append(own)
            columns += [f"{use.label}: measure {k + 1}" for k in range(len(own))]
            upper += [1.0] * len(own)
            one_of.append((use.label, starts[-1], len(own)))
    width = len(columns) + 1
    labels: list[str] = []
    matrix: list[FloatArray] = []
    ends: list[tuple[float, float]] = []

    def add(label: str, row: FloatArray, low: float, high: float) -> None:
        labels.append(label)
        matrix.append(row)
        ends.append((low, high))

    def over_columns(row: FloatArray) -> FloatArray:
        wide = np.zeros(width)
        for value, own, start in zip(row, weights, starts, strict=True):
            wide[start : start + len(own)] = value * own
        return wide

    for label, row, low, high in mass_rows(problem, grams):
        if label not in given_up:
            wide, shift = over_columns(row), float(row @ base)
            scale = max(float(np.abs(wide).max()), 1e-12)
            add(label, wide / scale, (low - shift) / scale, (high - shift) / scale)
    for name, start, count in one_of:
        row = np.zeros(width)
        row[start : start + count] = 1.0
        add(f"{name}: one measure", row, 1.0, 1.0)
    tilt, shifts = errors_over(problem, grams)
    for name, row, axis_shift in zip(AXIS_NAMES, tilt.T, shifts, strict=True):
        if not np.any(row):
            continue
        constant = float(row @ base) + float(axis_shift)
        for side, sign in (("over", 1.0), ("under", -1.0)):
            wide = sign * over_columns(row)
            wide[-1] = -1.0
            add(f"{name} {side}", wide, -math.inf, -sign * constant)
    cost, lower = np.zeros(width), np.zeros(width)
    cost[-1], lower[-1] = 1.0, fine_jnd
    lp = LinearProgram(
        (*columns, "largest error"),
        tuple(labels),
        np.array(matrix),
        cost,
        lower,
        np.array([*upper, max(most_jnd, fine_jnd)]),
        np.array([e[0] for e in ends]),
        np.array([e[1] for e in ends]),
        np.array([True] * len(columns) + [False]),
    )
    return lp, starts
