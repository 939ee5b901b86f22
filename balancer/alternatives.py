"""Other ways to the same balance: few ingredients, within a JND of the target, truly different.

A switch says whether an ingredient is used. The formula with the least deviation (each ingredient
counting a little too) is found by a mixed-integer program; a cut then forbids every set that
differs from a known one in fewer than three ingredients, and the next best is found. A search that
runs into its time limit gives the best set it has seen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray, Ingredient
from balancer.constants import AXIS_NAMES, Coefficient
from balancer.differences import TRACE, compared
from balancer.errors import BadInput, NoSolution
from balancer.first_stage import first_stage, reference_of
from balancer.gap import held
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program, build
from balancer.requirements import aim_ends
from balancer.settle import Settled, settle
from balancer.shelf import Shelf, shelf_of
from balancer.solve import solve_linear
from balancer.suggest import with_water_rows
from balancer.suggestion import new_use, widened
from balancer.taste import levels
from balancer.wishes import Aim, Ratio

WITHIN_JND = Coefficient(
    1.0, "JND", "CHOSEN", "chosen", (0.25, 3.0), "another way is as good within this on each axis"
)
ITEM_JND = Coefficient(
    0.05, "JND", "CHOSEN", "chosen", (0.0, 1.0), "what one more ingredient counts"
)
#: Two ways differ in at least this many ingredients: one swap (two) is a substitution.
DIFFERENT = 3
WAYS = 5
#: An ingredient that is used makes up at least this share of the batch, or its usual least.
LEAST_USED = Coefficient(
    0.002, "1", "CHOSEN", "chosen", (1e-5, 0.05), "least share of what counts as used"
)
#: Carriers that are offered per axis, each from another shelf of the pantry.
CARRIERS_PER_AXIS = 4
SEARCH_SECONDS = 10.0
#: Farther off by less than this is not farther [JND].
NUMERIC_JND = 1e-6


@dataclass(frozen=True, eq=False)
class Way:
    """One formula with the balance that was asked for.

    Parameters
    ----------
    settled : Settled
    cost : float
        What the search minimised: deviation beyond the dead band plus the count of ingredients
        [JND].
    used : frozenset of str
        Keys of its ingredients.
    grams : mapping of str to float
        By name [g].
    gains, costs : tuple of str
        Beside the sauce as it is.
    """

    settled: Settled
    cost: float
    used: frozenset[str]
    grams: Mapping[str, float]
    gains: tuple[str, ...]
    costs: tuple[str, ...]


def carriers(problem: Problem, foods: Sequence[Ingredient]) -> tuple[Ingredient, ...]:
    """Foods worth offering: per axis asked for, the strongest of the shelves that carry it.

    Strength is the level that the largest sensible share brings, in JND, assumed parts left out.
    """
    have = {u.ingredient.key for u in problem.uses}
    shelf = shelf_of([f for f in foods if f.key not in have])
    found: dict[str, Ingredient] = {}
    strength = levels(shelf.low) * shelf.share[:, None]
    for i, axis in enumerate(AXIS_NAMES):
        aim = problem.aim(axis)
        if aim is None or aim.low <= 0:
            continue
        groups: set[str] = set()
        for j in np.argsort(-strength[:, i], kind="stable"):
            food = shelf.foods[j]
            if strength[j, i] <= 0 or len(groups) == CARRIERS_PER_AXIS:
                break
            if food.group not in groups:
                groups.add(food.group)
                found[food.key] = food
    return tuple(found.values())


def restricted(problem: Problem, keep: Sequence[int]) -> Problem:
    """The problem with some of its ingredients only; ratios to the others fall away."""
    place = {old: new for new, old in enumerate(keep)}
    ratios = tuple(
        Ratio(place[r.of], place[r.to], r.low, r.high)
        for r in problem.ratios
        if r.of in place and r.to in place
    )
    kept = None if problem.kept is None else problem.kept[list(keep)]
    uses = tuple(problem.uses[i] for i in keep)
    return replace(problem, uses=uses, ratios=ratios, kept=kept)


def other_ways(
    problem: Problem,
    foods: Sequence[Ingredient],
    *,
    most: int = 8,
    count: int = WAYS,
    progress: Callable[[int], None] | None = None,
) -> tuple[Settled, tuple[Way, ...]]:
    """Find formulas that differ from the sauce and from each other.

    Parameters
    ----------
    problem : Problem
        Its target is the balance; what is locked or has a minimum stays in.
    foods : sequence of Ingredient
        What may come in besides.
    most : int
        Largest number of ingredients.
    count : int
        Largest number of formulas.
    progress : callable or None
        Told the number of formulas after each.

    Returns
    -------
    tuple of Settled and tuple of Way
        The sauce as it is, and the other ways, best first; fewer where there are no more.

    Raises
    ------
    BadInput
        If the target is empty, everything is locked, or ``most`` is under what must stay in.
    """
    must = sum(u.min_g > 0 or u.share_min > 0 or bool(u.locked_g) for u in problem.uses)
    if not problem.aims or problem.all_locked or problem.pot is not None:
        raise BadInput(
            "Other ways need a target, free quantities and an empty pot. Give a request with a"
            " target and unlock what may change."
        )
    if not 1 <= most <= 60 or most < must:
        raise BadInput(
            f"At most {most} ingredients are asked for, but {max(must, 1)} must stay in. Give a"
            " larger number, up to 60, or take locks and minimums away."
        )
    now = settle(problem)
    if not now.solution.has_quantities:
        raise NoSolution(
            "The limits contradict each other, so there is no balance to keep. Look at what to"
            " relax."
        )
    problem = held(problem, now.solution.levels)
    have = {u.ingredient.key for u in problem.uses}
    shelf = shelf_of([f for f in foods if f.key not in have])
    wide = widened(
        problem,
        now,
        [new_use(problem, f, 0.0, float(s)) for f, s in zip(shelf.foods, shelf.share, strict=True)],
    )
    nothing: Shelf = shelf_of(())
    priced, _ = with_water_rows(settle(wide), wide, ())
    lp, _, _ = first_stage(priced, nothing, {})
    allowed = _allowed(problem, now)
    search = _Search(priced, build(priced), lp, most, allowed)
    known = [search.uses_of(now.solution.grams)]
    ways: list[Way] = []
    while len(ways) < count:
        found = search.next(known)
        if found is None:
            break
        used, cost = found
        known.append(used)
        way = _way(wide, now, search, used, cost)
        # the search holds what the steam takes along; settled, a set may come out farther off
        if way is not None and (_beyond(problem, way.settled) <= allowed + NUMERIC_JND).all():
            ways.append(way)
            if progress is not None:
                progress(len(ways))
    return now, tuple(ways)


def _allowed(problem: Problem, now: Settled) -> FloatArray:
    """Deviation beyond the dead band allowed on each aim [JND]: no worse than a JND, or than now.

    In the order of the rows: by axis.
    """
    bands = [problem.dead_band_jnd if aim.is_point else 0.0 for aim in _by_axis(problem)]
    return np.maximum(WITHIN_JND.value - np.array(bands), _beyond(problem, now))


def _beyond(problem: Problem, settled: Settled) -> FloatArray:
    """Deviation of a sauce beyond the dead band, for each aim by axis [JND]."""
    found = []
    for aim in _by_axis(problem):
        level = float(settled.solution.levels[AXIS_NAMES.index(aim.axis)])
        low, high, jnd_low, jnd_high = aim_ends(aim, problem.dead_band_jnd)
        found.append(max((low - level) / jnd_low, (level - high) / jnd_high, 0.0))
    return np.array(found)


def _by_axis(problem: Problem) -> list[Aim]:
    return sorted(problem.aims, key=lambda a: AXIS_NAMES.index(a.axis))


class _Search:
    """The mixed-integer program, to which cuts are added."""

    def __init__(
        self, problem: Problem, program: Program, lp: LinearProgram, most: int, allowed: FloatArray
    ) -> None:
        self.problem, self.program, self.lp, self.most = problem, program, lp, most
        self.n = len(program.order)
        self.upper = lp.upper.copy()
        first = self.n + int(problem.yield_g is None)
        for k, room in enumerate(allowed):
            self.upper[first + 2 * k : first + 2 * k + 2] = room
        lost = problem.water_lost_g / reference_of(problem)
        uses = [problem.uses[i] for i in program.order]
        self.least = (1.0 + lost) * np.array([least_used(u.ingredient) for u in uses])
        self.most_of = np.array([min(float(lp.upper[j]), 1.0 + lost) for j in range(self.n)])
        self.least = np.minimum(self.least, self.most_of)

    def uses_of(self, grams: FloatArray) -> NDArray[np.bool_]:
        """Which of the columns a formula uses; further ingredients are not used."""
        full = np.zeros(len(self.problem.uses))
        full[: len(grams)] = grams
        return np.asarray(full[self.program.order] > TRACE * full.sum())

    def next(self, known: Sequence[NDArray[np.bool_]]) -> tuple[NDArray[np.bool_], float] | None:
        """The best set that differs enough from all known ones, and its cost."""
        found = solve_linear(self.model(known), seconds=SEARCH_SECONDS)
        if found is None:
            return None
        return found.y[len(self.lp.columns) :] > 0.5, found.value

    def model(self, known: Sequence[NDArray[np.bool_]]) -> LinearProgram:
        """Stage 1 with a switch per ingredient and a cut per known set."""
        n, width = self.n, len(self.lp.columns)
        rows, low, high, labels = [], [], [], []

        def add(label: str, row: FloatArray, lower: float, upper: float) -> None:
            labels.append(label)
            rows.append(row)
            low.append(lower)
            high.append(upper)

        for j in range(n):
            for what, share, lower, upper in (
                ("at most", self.most_of[j], -math.inf, 0.0),
                ("at least", self.least[j], 0.0, math.inf),
            ):
                row = np.zeros(width + n)
                row[j], row[width + j] = 1.0, -share
                add(f"{what} if used {j}", row, lower, upper)
        row = np.zeros(width + n)
        row[width:] = 1.0
        add("number of ingredients", row, 1.0, float(self.most))
        for k, used in enumerate(known):
            row = np.zeros(width + n)
            row[width:] = np.where(used, -1.0, 1.0)
            add(f"unlike {k}", row, DIFFERENT - float(used.sum()), math.inf)
        lp = self.lp
        return LinearProgram(
            (*lp.columns, *(f"uses {j}" for j in range(n))),
            (*lp.rows, *labels),
            np.vstack([np.hstack([lp.matrix, np.zeros((len(lp.rows), n))]), np.array(rows)]),
            np.concatenate([lp.cost, np.full(n, ITEM_JND.value)]),
            np.concatenate([lp.lower, np.zeros(n)]),
            np.concatenate([self.upper, np.ones(n)]),
            np.concatenate([lp.row_lower, low]),
            np.concatenate([lp.row_upper, high]),
            np.concatenate([np.zeros(width, dtype=bool), np.ones(n, dtype=bool)]),
        )


def least_used(food: Ingredient) -> float:
    """Least share of the batch at which a food counts as used [1]."""
    return LEAST_USED.value if food.share is None else min(food.share[0], LEAST_USED.value)


def _way(
    wide: Problem,
    now: Settled,
    search: _Search,
    used: NDArray[np.bool_],
    cost: float,
) -> Way | None:
    keep = sorted(int(search.program.order[j]) for j in np.flatnonzero(used))
    part = restricted(wide, keep)
    uses = tuple(
        u
        if u.locked_g is not None
        else replace(u, share_min=max(u.share_min, min(least_used(u.ingredient), u.share_max)))
        for u in part.uses
    )
    settled = settle(replace(part, uses=uses))
    if not settled.solution.has_quantities:
        return None
    grams = {u.label: float(g) for u, g in zip(uses, settled.solution.grams, strict=True)}
    gains, costs = compared(now, settled)
    return Way(
        settled, cost, frozenset(u.ingredient.key for u in uses), grams, tuple(gains), tuple(costs)
    )
