"""What is not linear, settled by solving again: steam, ceilings of pH and of water activity.

* Acetic acid and alcohol that leave with the steam depend on how much of the water leaves, which
  depends on the quantities: solved again with the share from the answer before, then by bisection.
  Where the quantities jump at some share and none comes back to itself, that share is held: that
  the water left is just so much of what went in is one more row, so what is told is true.
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
from balancer.simmering import share_left
from balancer.solve import Solution, evaluated, solve
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

MOST_SOLVES = 30
#: So many take the share of water left as the answer before has it; then it is bisected.
FREE_SOLVES = 5
#: Tried one by one where the way there leads through limits that contradict each other [1].
SHARES_TRIED = tuple(k / 20.0 for k in range(21))
#: What stays of acid and alcohol may move by this much before it is solved again [1].
STEAM_TOLERANCE = 1e-4
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
    is_steady : bool
        Whether no quantities come nearer once the steam has had its part. Where not, the levels
        are true of these quantities all the same.
    """

    solution: Solution
    water_phase: WaterPhase | None
    kept_ceilings: bool
    is_steady: bool = True


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
    low, high, held, searched = 0.0, 1.0, False, False
    strength, margin = TYPICAL_IONIC_STRENGTH.value, 0.0
    grams: FloatArray | None = None
    for turn in range(MOST_SOLVES):
        kept = _kept(problem, left)
        asked = with_rows(problem, phase, kept, strength, margin)
        solution = _held(asked, left) if held else solve(asked)
        if not solution.has_quantities:
            share = None if searched else _best_share(problem, phase, strength, margin)
            if share is not None:
                left, held, searched = share, True, True
                continue
            plain = solve(asked) if held else solution
            if not plain.has_quantities:
                return Settled(plain, None, False)
            break
        grams = solution.grams
        found = water_phase(phase, grams, problem.water_lost_g, kept)
        over = _over(problem, found)
        now = _water_left(problem, grams)
        steam_moved = _apart(problem, now, left)
        if not steam_moved and (problem.all_locked or over <= PH_TOLERANCE):
            return Settled(solution, found, over <= PH_TOLERANCE, not searched)
        if over > PH_TOLERANCE and found.ph is not None:
            if abs(found.ph.ionic_strength - strength) > 1e-3:
                strength = found.ph.ionic_strength
            else:
                margin += over
        if held or not steam_moved:
            continue
        # from more water left than was taken to less, some share comes back to itself
        if now > left:
            low, high = left, high if high > left else 1.0
        else:
            low, high = low if low < left else 0.0, left
        free = turn < FREE_SOLVES and low <= now <= high
        left = now if free else 0.5 * (low + high)
        held = not _apart(problem, low, high)
    assert grams is not None
    kept = _kept(problem, _water_left(problem, grams))
    solution = evaluated(with_rows(problem, phase, kept, strength, margin), grams)
    found = water_phase(phase, grams, problem.water_lost_g, kept)
    return Settled(solution, found, _over(problem, found) <= PH_TOLERANCE, is_steady=False)


def _held(problem: Problem, left: float) -> Solution:
    """Quantities that leave just this share of their water, told without that row."""
    water = matrix([u.ingredient for u in problem.uses])[:, INDEX["water"]]
    row = Limit("water left", "g water per 100 g", {"water": 1.0}, 0.0, 0.0, tuple(-left * water))
    found = solve(replace(problem, limits=(*problem.limits, row)))
    return evaluated(problem, found.grams) if found.has_quantities else found


def _best_share(problem: Problem, phase: Phase, strength: float, margin: float) -> float | None:
    """Of some shares of water left, the one whose quantities come nearest; None if none has any."""
    if problem.water_lost_g <= 0 or _kept(problem, 1.0) is None:
        return None
    found = []
    for left in SHARES_TRIED:
        asked = with_rows(problem, phase, _kept(problem, left), strength, margin)
        solution = _held(asked, left)
        if solution.has_quantities:
            found.append((solution.sum_jnd, left))
    return min(found)[1] if found else None


def _apart(problem: Problem, left: float, other: float) -> bool:
    """Whether two shares of water left differ in what they leave of acid and alcohol."""
    a, b = _kept(problem, left), _kept(problem, other)
    return a is not None and b is not None and float(np.abs(a - b).max()) > STEAM_TOLERANCE


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
    raw = matrix([u.ingredient for u in problem.uses])
    return share_left(raw, grams, [u.goes_in for u in problem.uses], problem.water_lost_g)
