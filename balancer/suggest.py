"""The ingredient that is missing: which one brings a sauce nearest to its target, and how.

The ranking is exact for the linear program (see ``pricing``). A ceiling of pH and the other limits
on the water phase enter it as rows at the ionic strength of the sauce as it stands; each
suggestion is then solved in full, and says where the full model does not confirm the ceiling.
Pairs are a heuristic: the first comes from the ranking, the second is priced again beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from balancer.chemical_constants import TYPICAL_IONIC_STRENGTH
from balancer.composition import INDEX, NAMES, FloatArray, Ingredient
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput, NoSolution
from balancer.pricing import LEAST_GAIN_JND, Certificate, Pricer, Ranking
from balancer.problem import Problem
from balancer.settle import Settled, settle, with_rows
from balancer.shelf import Shelf, shelf_of
from balancer.strong_ions import corners, with_charge
from balancer.suggestion import Suggestion, described, new_use, widened
from balancer.taste import levels
from balancer.water_phase import Phase, phase_of
from balancer.wishes import WaterLimits

#: Acids that are solved in full where a sauce cannot keep its limits as it stands.
ACIDS_TRIED = 30
#: Sums that agree to this many decimal places [JND] are equal.
RANK_DIGITS = 4
#: Firsts that are tried for pairs, and pairs that are shown.
PAIR_FIRSTS, PAIRS_SHOWN = 3, 3


@dataclass(frozen=True, eq=False)
class Missing:
    """What may be missing in a sauce.

    Parameters
    ----------
    settled : Settled
        The sauce without any addition.
    base_jnd : float
        Its weighted deviations, summed [JND].
    suggestions : tuple of Suggestion
        Best first.
    pairs : tuple of Suggestion
        Pairs that do better than the best single one; a heuristic.
    certificate : Certificate
    breaks_limits : bool
        Whether the sauce without any addition cannot keep its limits on pH and acidity. It is then
        shown without them, and the suggestions are the best of the strongest acids, each solved in
        full, with no proof that nothing else does better.
    """

    settled: Settled
    base_jnd: float
    suggestions: tuple[Suggestion, ...]
    pairs: tuple[Suggestion, ...]
    certificate: Certificate
    breaks_limits: bool = False

    @property
    def is_reached(self) -> bool:
        """Whether the target is reached with what is chosen, so that nothing is missing."""
        return self.base_jnd <= LEAST_GAIN_JND and not self.breaks_limits


def missing(
    problem: Problem,
    foods: Sequence[Ingredient],
    *,
    count: int = 10,
    pairs: bool = True,
    family: str | None = None,
    progress: Callable[[int], None] | None = None,
) -> Missing:
    """Rank foods by how near they bring a sauce to its target, and describe the best.

    Parameters
    ----------
    problem : Problem
    foods : sequence of Ingredient
        Candidates; those in the sauce already are left out.
    count : int
        How many to describe.
    pairs : bool
        Whether to look for pairs too.
    family : str or None
        Only foods that surely bring aroma of this family.
    progress : callable or None
        Told the number of exact solves after each.

    Raises
    ------
    BadInput
        If no candidate is left, or no ingredient is free to give way.
    NoSolution
        If the limits of the problem contradict each other, those on pH and acidity left out.
    """
    if problem.all_locked:
        raise BadInput(
            "Every quantity is locked, so nothing can give way to an addition. Free at least one."
        )
    shelf = _candidates(problem, foods, family)
    settled = settle(problem)
    if not settled.solution.has_quantities:
        return _with_an_acid(problem, shelf, count, progress)
    if settled.solution.sum_jnd <= LEAST_GAIN_JND:
        nothing = Certificate(len(shelf.foods), 0, 0, math.nan, math.inf)
        return Missing(settled, settled.solution.sum_jnd, (), (), nothing)
    ranking = ranked(settled, problem, shelf, count, progress)
    found = [
        described(
            problem, settled, ranking.base_jnd, (shelf.foods[e.place],), (e.share,), e.sum_jnd
        )
        for e in ranking.entries
    ]
    suggestions = tuple(s for s in found if s is not None)
    two = _pairs(problem, settled, ranking, shelf) if pairs and suggestions else ()
    return Missing(settled, ranking.base_jnd, suggestions, two, ranking.certificate)


def _with_an_acid(
    problem: Problem, shelf: Shelf, count: int, progress: Callable[[int], None] | None
) -> Missing:
    """Acids that let a sauce keep its limits on the water phase, each solved in full."""
    loose = settle(replace(problem, water_limits=WaterLimits(), kept=None))
    if not loose.solution.has_quantities:
        raise NoSolution(
            "The limits contradict each other, so no ingredient can be ranked. Look at what to"
            " relax."
        )
    strength = levels(shelf.low)[:, AXIS_NAMES.index("sour")] * shelf.share
    order = [int(j) for j in np.argsort(-strength, kind="stable") if strength[j] > 0]
    base_jnd = loose.solution.sum_jnd
    found: list[Suggestion] = []
    for number, j in enumerate(order[:ACIDS_TRIED], 1):
        told = described(problem, loose, base_jnd, (shelf.foods[j],), None)
        if told is not None and told.settled.kept_ceilings:
            found.append(told)
        if progress is not None:
            progress(number)
    found.sort(key=lambda s: (round(s.after_jnd, RANK_DIGITS), sum(s.grams)))
    tried = min(len(order), ACIDS_TRIED)
    unproven = Certificate(len(shelf.foods), tried, 0, math.nan, 0.0)
    return Missing(loose, base_jnd, tuple(found[:count]), (), unproven, breaks_limits=True)


def _candidates(problem: Problem, foods: Sequence[Ingredient], family: str | None) -> Shelf:
    have = {use.ingredient.key for use in problem.uses}
    shelf = shelf_of(foods)
    wanted = np.array([f.key not in have for f in shelf.foods], dtype=bool)
    if family is not None:
        place = INDEX[f"oil_{family}"]
        wanted &= (shelf.low[:, place] > 0) | np.array([f.group == family for f in shelf.foods])
    if not wanted.any():
        raise BadInput(
            "No candidate is left: everything is excluded or in the sauce already."
            " Exclude less, or look through the whole table."
        )
    return shelf.only(wanted)


def ranked(
    settled: Settled,
    problem: Problem,
    shelf: Shelf,
    count: int,
    progress: Callable[[int], None] | None = None,
    wanted: NDArray[np.bool_] | None = None,
) -> Ranking:
    """Rank a shelf, or what a mask leaves of it; limits on the water phase become rows."""
    priced, extra = with_water_rows(settled, problem, shelf.foods)
    if wanted is not None:
        shelf = shelf.only(wanted)
        extra = {label: row[wanted] for label, row in extra.items()}
    return Pricer(priced, shelf, extra).rank(count, progress)


@lru_cache(maxsize=4)
def _phase(foods: tuple[Ingredient, ...]) -> Phase:
    """Foods as the water phase sees them, all at once."""
    ph = np.array([f.ph if f.ph else (np.nan, np.nan) for f in foods])
    values = np.stack([f.values for f in foods])
    low, high = np.stack([f.low for f in foods]), np.stack([f.high for f in foods])
    return Phase(with_charge(values, ph.mean(axis=1)), corners(values, low, high, ph), ())


def with_water_rows(
    settled: Settled, problem: Problem, foods: Sequence[Ingredient]
) -> tuple[Problem, dict[str, FloatArray]]:
    """The problem with its water phase as rows, and what each food adds to those rows.

    Foods go in off the heat, so that they keep their acid and their aroma.
    """
    kept = settled.solution.problem.kept
    plain = tuple(x for x in settled.solution.problem.limits if not x.per_use)
    base = replace(problem, kept=kept, limits=plain)
    wanted = problem.water_limits
    if (wanted.ph_max, wanted.acidity_min_pct, wanted.sugar_acid_min, wanted.sugar_acid_max) == (
        (None,) * 4
    ):
        return base, {}
    n = len(problem.uses)
    phase = phase_of([u.ingredient for u in problem.uses])
    if foods:
        more = _phase(tuple(foods))
        phase = Phase(
            np.concatenate([phase.middle, more.middle]),
            np.concatenate([phase.corner, more.corner]),
            phase.estimated,
        )
    wide = None if kept is None else np.vstack([kept, np.ones((len(foods), len(NAMES)))])
    found = settled.water_phase
    strength = (
        found.ph.ionic_strength
        if found is not None and found.ph is not None
        else TYPICAL_IONIC_STRENGTH.value
    )
    rows = with_rows(base, phase, wide, strength, 0.0).limits[len(plain) :]
    short = tuple(replace(r, per_use=r.per_use[:n]) for r in rows)
    extra = {r.label: np.array(r.per_use[n:]) for r in rows}
    return replace(base, limits=plain + short), extra


def _pairs(
    problem: Problem, settled: Settled, ranking: Ranking, shelf: Shelf
) -> tuple[Suggestion, ...]:
    """Two ingredients: a first from the ranking, the best seconds beside it."""
    best = ranking.entries[0].sum_jnd
    if best <= LEAST_GAIN_JND:
        return ()
    found: list[Suggestion] = []
    seen: set[frozenset[str]] = set()
    for entry in ranking.entries[:PAIR_FIRSTS]:
        first = shelf.foods[entry.place]
        most = float(shelf.share[entry.place])
        wide = widened(problem, settled, [new_use(problem, first, 0.0, most)])
        base = settle(wide)
        if not base.solution.has_quantities:
            continue
        others = np.arange(len(shelf.foods)) != entry.place
        if not others.any():
            continue
        rest = np.flatnonzero(others)
        for second in ranked(base, wide, shelf, PAIRS_SHOWN, wanted=others).entries:
            pair = (first, shelf.foods[rest[second.place]])
            keys = frozenset(f.key for f in pair)
            if keys in seen:
                continue
            seen.add(keys)
            told = described(problem, settled, ranking.base_jnd, pair, None)
            if told is not None and told.after_jnd < best - LEAST_GAIN_JND:
                found.append(told)
    found.sort(key=lambda s: (s.after_jnd, sum(s.grams)))
    return tuple(found[:PAIRS_SHOWN])
