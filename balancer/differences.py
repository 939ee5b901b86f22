"""What another formula of the same balance gains, and what it costs."""

from __future__ import annotations

from balancer.constants import AXES
from balancer.exclusions import allergens_of
from balancer.settle import Settled

#: A share of the batch below this is none [1].
TRACE = 1e-6
#: A difference of taste is named from this on [JND].
LEAST_DIFFERENCE_JND = 0.5


def compared(now: Settled, other: Settled) -> tuple[list[str], list[str]]:
    """What another formula gains and what it costs beside the sauce as it is.

    Number of ingredients, allergens, heat, salt, sweetness and fat; there are no prices in the
    tables, so nothing is said of cost.
    """
    gains: list[str] = []
    costs: list[str] = []
    counts = [int((s.solution.grams > TRACE * s.solution.grams.sum()).sum()) for s in (now, other)]
    if counts[0] != counts[1]:
        (gains if counts[1] < counts[0] else costs).append(f"{counts[1]} items, not {counts[0]}")
    held = [_allergens(s) for s in (now, other)]
    gains += [f"no {name}" for name in sorted(held[0] - held[1])]
    costs += [f"brings {name}" for name in sorted(held[1] - held[0])]
    before, after = now.solution.levels, other.solution.levels
    for i, axis in enumerate(AXES):
        words = {"heat": "milder", "salt": "less salt", "sweet": "less sweet", "fat": "less fat"}
        step = (float(after[i]) - float(before[i])) / (axis.floor + axis.weber * float(before[i]))
        if axis.name in words and abs(step) >= LEAST_DIFFERENCE_JND:
            more = {"milder": "hotter"}.get(words[axis.name], f"more {axis.name}")
            if step < 0:
                gains.append(f"{words[axis.name]} by {-step:.1f} JND")
            else:
                costs.append(f"{more} by {step:.1f} JND")
    return gains, costs


def _allergens(settled: Settled) -> set[str]:
    solution = settled.solution
    return {
        name
        for use, g in zip(solution.problem.uses, solution.grams, strict=True)
        if g > TRACE * solution.grams.sum()
        for name in allergens_of(use.ingredient)
    }
