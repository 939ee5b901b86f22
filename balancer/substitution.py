"""An ingredient has run out: what takes its place, with the quantities solved again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from balancer.alternatives import restricted
from balancer.composition import Ingredient
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.problem import Problem
from balancer.settle import Settled, settle
from balancer.suggest import Missing, missing
from balancer.wishes import LARGEST_LEVEL, Aim

#: A pair is worth its trouble when it comes nearer than one ingredient by this much [JND].
PAIR_GAIN_JND = 0.25


@dataclass(frozen=True, eq=False)
class Substitution:
    """What can stand in for an ingredient.

    Parameters
    ----------
    gone : str
        The ingredient that ran out, in the cook's word.
    gone_g : float
        How much of it the sauce held [g].
    before : Settled
        The sauce with it.
    found : Missing
        The sauce without it, and the replacements; every axis aims at the level before.
    freed : tuple of str
        Names whose lock had to be opened, so that the profile can stay.
    """

    gone: str
    gone_g: float
    before: Settled
    found: Missing
    freed: tuple[str, ...]

    @property
    def takes_two(self) -> bool:
        """Whether two ingredients come nearer than the best single one by enough to matter."""
        if not self.found.pairs or not self.found.suggestions:
            return False
        one, two = self.found.suggestions[0], self.found.pairs[0]
        return two.after_jnd < one.after_jnd - PAIR_GAIN_JND


def instead(
    problem: Problem,
    name: str,
    foods: Sequence[Ingredient],
    *,
    count: int = 5,
    progress: Callable[[int], None] | None = None,
) -> Substitution:
    """Replace an ingredient so that the profile stays.

    Parameters
    ----------
    problem : Problem
    name : str
        Its name in the sauce, or its own name.
    foods : sequence of Ingredient
        What may take its place.
    count : int
        How many replacements to describe.
    progress : callable or None
        Told the number of exact solves after each.

    Raises
    ------
    BadInput
        If the sauce holds nothing of that name, or nothing else.
    NoSolution
        If the limits contradict each other, with the ingredient or without it.
    """
    wanted = name.strip().casefold()
    places = [
        i
        for i, u in enumerate(problem.uses)
        if wanted in (u.label.casefold(), u.ingredient.name.casefold())
    ]
    if not places:
        names = ", ".join(u.label for u in problem.uses)
        raise BadInput(f"The sauce holds no {name.strip()[:60]!r}. It holds: {names}.")
    if len(problem.uses) == 1 or problem.pot is not None:
        raise BadInput(
            "A substitution needs a sauce of two or more ingredients that is not in the pot yet."
            " For a pot, correct it instead."
        )
    gone = places[0]
    before = settle(problem)
    now = before.solution.levels
    aims = []
    for axis, level in zip(AXIS_NAMES, now, strict=True):
        old = problem.aim(axis)
        value = min(max(float(level), 0.0), LARGEST_LEVEL[axis])
        aims.append(Aim(axis, value, value, old.weight if old else 1.0))
    uses = tuple(
        replace(u, locked_g=None, draft_g=float(g))
        for u, g in zip(problem.uses, before.solution.grams, strict=True)
    )
    keep = [i for i in range(len(uses)) if i != gone]
    rest = restricted(replace(problem, uses=uses, aims=tuple(aims)), keep)
    key = problem.uses[gone].ingredient.key
    others = [f for f in foods if f.key != key]
    found = missing(rest, others, count=count, progress=progress)
    freed = tuple(problem.uses[i].label for i in keep if problem.uses[i].locked_g is not None)
    label = problem.uses[gone].label
    return Substitution(label, float(before.solution.grams[gone]), before, found, freed)
