"""What is not linear, settled by solving again: steam, ceilings of pH and of water activity.

* Acetic acid and alcohol that leave with the steam depend on how much of the water leaves, which
  depends on the quantities: solved again with the share from the answer before.
* A ceiling of pH is exactly linear at a fixed ionic strength. The first solve takes a usual one,
  the next that of the answer; the full model confirms the high end of the band, and where it
  still lies over the ceiling, the row is drawn tighter by as much.
* Water activity is checked after the solve; where it is over its ceiling, the water in 100 g is
  limited, by bisection, to the most that keeps it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.chemical_constants import TYPICAL_IONIC_STRENGTH
from balancer.composition import INDEX, FloatArray, matrix
from balancer.constants import AXIS_NAMES
from balancer.cooking import cooked, kept_factors
from balancer.problem import Problem
from balancer.requirements import PH_UNIT, RATIO_UNIT, draft_shares, ordered, reference_mass
from balancer.solve import Solution, solve
from balancer.taste import axis_matrix
from balancer.water_phase import (
    Phase,
    WaterPhase,
    acidity_row,
    ceiling_row,
    phase_of,
    water_phase,
)
from balancer.wishes import Limit

MOST_SOLVES = 10
#: Share of the water left may move by this much before it is solved again [1].
STEAM_TOLERANCE = 1e-3
#: The band may lie over its ceiling by this much, far under the error of the model [pH].
PH_TOLERANCE = 2e-3
#: Steps of bisection for a ceiling of water activity: the moisture is found to 0.1 g in 100 g.
MOISTURE_STEPS = 10
ACTIVITY_TOLERANCE = 5e-4


@dataclass(frozen=True, eq=False)
class Settled:
    """A solution that holds for the finished sauce, and its water phase.

    Parameters
    ----------
    solution : Solution
        Its problem carries what cooking leaves, and the rows of the ceilings.
    water_phase : WaterPhase or None
        None where there are no quantities.
    kept_ceilings : bool
        Whether the full model confirms the ceilings of pH and water activity.
    """

    solution: Solution
    water_phase: WaterPhase | None
    kept_ceilings: bool


def settle(problem: Problem) -> Settled:
    """Solve a problem so that its target and ceilings hold for the finished sauce.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Settled
    """
    phase = phase_of([u.ingredient for u in problem.uses])
    settled = _settle(problem, phase)
    ceiling = problem.water_limits.water_activity_max
    if ceiling is None or not settled.solution.has_quantities or problem.all_locked:
        return settled
    found = settled.water_phase
    if found is None or not found.water_activity > ceiling + ACTIVITY_TOLERANCE:
        return settled
    low, high = 0.0, found.moisture_pct
    best: Settled | None = None
    for _ in range(MOISTURE_STEPS):
        most = 0.5 * (low + high)
        drier = Limit(f"water activity at most {ceiling:g}", "g water per 100 g", {"water": 1.0},
                      high=most)  # fmt: skip
        tried = _settle(replace(problem, limits=(*problem.limits, drier)), phase)
        reached = tried.water_phase
        if reached is None:  # so dry a sauce cannot be made of this
            low = most
        elif reached.water_activity > ceiling + ACTIVITY_TOLERANCE:
            high = most
        else:
            best, low = tried, most
    return best if best is not None else replace(settled, kept_ceilings=False)


def _settle(problem: Problem, phase: Phase) -> Settled:
    left = _water_left(problem, _first_grams(problem))
    strength, margin = TYPICAL_IONIC_STRENGTH.value, 0.0
    settled: Settled | None = None
    for _ in range(MOST_SOLVES):
        kept = _kept(problem, left)
        solution = solve(with_rows(problem, phase, kept, strength, margin))
        if not solution.has_quantities:
            return Settled(solution, None, False)
        found = water_phase(phase, solution.grams, problem.water_lost_g, kept)
        over = _over(problem, found)
        settled = Settled(solution, found, over <= PH_TOLERANCE)
        now = _water_left(problem, solution.grams)
        steam_moved = kept is not None and abs(now - left) > STEAM_TOLERANCE
        if problem.all_locked and not steam_moved:
            break
        if not steam_moved and over <= PH_TOLERANCE:
            break
        left = now
        if over > PH_TOLERANCE and found.ph is not None:
            if abs(found.ph.ionic_strength - strength) > 1e-3:
                strength = found.ph.ionic_strength
            else:
                margin += over
    assert settled is not None
    return settled


def _over(problem: Problem, found: WaterPhase) -> float:
    """How far the high end of the band lies over the ceiling [pH]; 0 where it does not."""
    if problem.water_limits.ph_max is None or found.ph is None:
        return 0.0
    return max(0.0, found.ph.high - problem.water_limits.ph_max)


def with_rows(
    problem: Problem, phase: Phase, kept: FloatArray | None, strength: float, margin: float
) -> Problem:
    """The problem with what cooking leaves, and a row for each limit on the water phase."""
    wanted, rows = problem.water_limits, list(problem.limits)
    if wanted.ph_max is not None:
        row, lost = ceiling_row(phase, kept, max(0.0, wanted.ph_max - margin), strength)
        label = f"pH at most {wanted.ph_max:g}"
        rows.append(Limit(label, PH_UNIT, {}, high=0.0, per_use=tuple(row), per_lost_water=lost))
    if (wanted.acidity_min_pct, wanted.sugar_acid_min, wanted.sugar_acid_max) != (None,) * 3:
        acid, lost = acidity_row(phase, kept)
        sweet = cooked(phase.middle, kept) @ axis_matrix()[:, AXIS_NAMES.index("sweet")]
        if wanted.acidity_min_pct is not None:
            least = wanted.acidity_min_pct
            label, unit = f"acidity at least {least:g}", "g citric acid per 100 g"
            rows.append(Limit(f"{label} {unit}", unit, {}, least, math.inf, tuple(acid), lost))
        for ratio, words, low, high in (
            (wanted.sugar_acid_min, "at least", 0.0, math.inf),
            (wanted.sugar_acid_max, "at most", -math.inf, 0.0),
        ):
            if ratio is not None:
                label = f"sugar to acid {words} {ratio:g}"
                per_use = tuple(sweet - ratio * acid)
                rows.append(Limit(label, RATIO_UNIT, {}, low, high, per_use, -ratio * lost))
    return replace(problem, kept=kept, limits=tuple(rows))


def _kept(problem: Problem, water_left: float) -> FloatArray | None:
    when = [u.goes_in for u in problem.uses]
    if all(w == "raw" for w in when):
        return None
    return kept_factors(when, water_left)


def _first_grams(problem: Problem) -> FloatArray:
    """Quantities before anything is solved: the draft."""
    order = ordered(problem)
    composition = matrix([u.ingredient for u in problem.uses])
    if problem.pot is not None:
        return np.array(problem.pot.grams)
    reference_g = reference_mass(problem, composition[order])
    grams = np.empty(len(order))
    grams[order] = draft_shares(problem, order, reference_g) * reference_g
    return grams


def _water_left(problem: Problem, grams: FloatArray) -> float:
    """Share of the water that is left after cooking [1]."""
    water = float(grams @ matrix([u.ingredient for u in problem.uses])[:, INDEX["water"]]) / 100.0
    return max(0.0, 1.0 - problem.water_lost_g / water) if water > 0 else 1.0
