"""One suggestion: a sauce solved with an addition, and what that changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from balancer.composition import INDEX, Evidence, Ingredient
from balancer.constants import AXES
from balancer.problem import Problem
from balancer.settle import Settled, settle
from balancer.shelf import shelf_of
from balancer.taste import axis_matrix, levels
from balancer.wishes import Use

#: A suggestion is solved with its share held within this much of itself [1].
SHARE_ROOM = 1e-4
#: A move of less than this is not named [JND].
LEAST_MOVE_JND = 0.1
#: What falls back by less than this is not named [g per 100 g].
LEAST_FALL = 0.05


@dataclass(frozen=True, eq=False)
class Suggestion:
    """One ingredient, or a pair, that brings a sauce nearer to its target.

    Parameters
    ----------
    foods : tuple of Ingredient
        What is added: one, or two.
    grams : tuple of float
        How much of each [g].
    before_jnd, after_jnd : float
        Weighted deviations, summed, without it and with it; with it, at the worse end of what is
        assumed of it [JND].
    settled : Settled
        The sauce with it.
    changes_g : mapping of str to float
        What the rest of the sauce gains or gives up [g].
    nearer, further : mapping of str to float
        Axes that come nearer to their aim and that go further from it, by how much [JND].
    besides : mapping of str to float
        Axes without an aim that move, signed [JND].
    evidence : tuple of str
        What its part in each axis rests on, as sentences.
    in_pantry : bool
    """

    foods: tuple[Ingredient, ...]
    grams: tuple[float, ...]
    before_jnd: float
    after_jnd: float
    settled: Settled
    changes_g: Mapping[str, float]
    nearer: Mapping[str, float]
    further: Mapping[str, float]
    besides: Mapping[str, float]
    evidence: tuple[str, ...]
    in_pantry: bool

    @property
    def label(self) -> str:
        """What is added, by name."""
        return " and ".join(f.name for f in self.foods)

    def sentences(self) -> list[str]:
        """What to add, what falls back, what moves, what it costs, and what that rests on."""
        amount = " and ".join(
            f"{g:.3g} g {f.name}" for f, g in zip(self.foods, self.grams, strict=True)
        )
        found = [f"{amount}: {self.before_jnd:.2f} JND off becomes {self.after_jnd:.2f}."]
        falls = [f"{name} {g:+.3g} g" for name, g in self.changes_g.items()]
        if falls:
            found.append(f"In return: {', '.join(falls)}.")
        for what, moves, sign in (
            ("Nearer", self.nearer, ""), ("Costs", self.further, ""), ("Also", self.besides, "+"),
        ):  # fmt: skip
            if moves:
                said = ", ".join(f"{axis} {jnd:{sign}.1f} JND" for axis, jnd in moves.items())
                found.append(f"{what}: {said}.")
        found += self.evidence
        if not self.settled.kept_ceilings:
            found.append("The full model does not confirm the ceiling of pH or water activity.")
        return found


def widened(problem: Problem, settled: Settled, uses: Sequence[Use]) -> Problem:
    """The problem with further ingredients, the rest staying near what it is now."""
    old = problem.uses
    if problem.pot is None and settled.solution.has_quantities:
        now = settled.solution.grams
        old = tuple(
            u if u.locked_g is not None else replace(u, draft_g=float(g))
            for u, g in zip(old, now, strict=True)
        )
    pot = problem.pot
    if pot is not None:
        pot = replace(pot, grams=(*pot.grams, *[0.0] * len(uses)))
    return replace(problem, uses=(*old, *uses), pot=pot, kept=None)


def new_use(problem: Problem, food: Ingredient, low: float, high: float) -> Use:
    """A use of a food with a share of the batch, under a name that is not taken."""
    taken = {u.label for u in problem.uses}
    label = food.name if food.name not in taken else f"{food.name} ({food.key})"
    return Use(food, draft_g=0.0, share_min=low, share_max=min(1.0, high), label=label)


def described(
    problem: Problem,
    base: Settled,
    before_jnd: float,
    foods: tuple[Ingredient, ...],
    shares: tuple[float, ...] | None,
    after_jnd: float | None = None,
) -> Suggestion | None:
    """Solve a sauce with additions and say what they change; None where it cannot be made.

    Parameters
    ----------
    problem : Problem
    base : Settled
        The sauce without them.
    before_jnd : float
        Its summed deviations [JND].
    foods : tuple of Ingredient
    shares : tuple of float or None
        Share of the finished mass of each [1]; None leaves them free up to what is sensible.
    after_jnd : float or None
        Summed deviations by the ranking; None takes those of the solution.
    """
    shelf = shelf_of(foods)
    most = {f.key: float(s) for f, s in zip(shelf.foods, shelf.share, strict=True)}
    blend = base.solution.blend
    per_batch = blend.mass_g / (blend.mass_g + problem.water_lost_g)
    uses: list[Use] = []
    for k, food in enumerate(foods):
        low, high = 0.0, most[food.key]
        if shares is not None:
            share = shares[k] * per_batch
            low, high = share * (1 - SHARE_ROOM), share * (1 + SHARE_ROOM)
        uses.append(new_use(problem, food, low, high))
    settled = settle(widened(problem, base, uses))
    solution = settled.solution
    if not solution.has_quantities:
        return None
    n = len(problem.uses)
    grams = solution.grams
    change = grams[:n] - base.solution.grams
    least = LEAST_FALL * solution.blend.mass_g / 100.0
    moved = sorted(range(n), key=lambda i: -abs(change[i]))
    nearer, further, besides = _moves(problem, base, settled)
    rests: list[str] = []
    for food, g in zip(foods, grams[n:], strict=True):
        rests += _rests_on(problem, food, float(g) / solution.blend.mass_g)
    return Suggestion(
        foods,
        tuple(float(g) for g in grams[n:]),
        before_jnd,
        solution.sum_jnd if after_jnd is None else after_jnd,
        settled,
        {problem.uses[i].label: float(change[i]) for i in moved if abs(change[i]) >= least},
        nearer,
        further,
        besides,
        tuple(rests),
        all(f.share is not None for f in foods),
    )


def _moves(
    problem: Problem, before: Settled, after: Settled
) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    """Axes that come nearer, go further, or move without being asked for [JND]."""
    nearer: dict[str, float] = {}
    further: dict[str, float] = {}
    besides: dict[str, float] = {}
    for i, axis in enumerate(AXES):
        if problem.aim(axis.name) is None:
            old, new = float(before.solution.levels[i]), float(after.solution.levels[i])
            step = (new - old) / (axis.floor + axis.weber * old)
            if abs(step) >= LEAST_MOVE_JND:
                besides[axis.name] = step
            continue
        was = abs(before.solution.deviation_jnd(axis.name))
        step = was - abs(after.solution.deviation_jnd(axis.name))
        if abs(step) >= LEAST_MOVE_JND:
            (nearer if step > 0 else further)[axis.name] = abs(step)
    return nearer, further, besides


def _rests_on(problem: Problem, food: Ingredient, share: float) -> list[str]:
    """What a food's part in each axis rests on, weakest evidence first named."""
    shelf = shelf_of((food,))
    brings = levels(shelf.high[0]) * share
    sure = levels(shelf.low[0]) * share
    strength = list(Evidence)
    known: dict[str, list[str]] = {}
    assumed, unknown = [], []
    weights = axis_matrix()
    for i, axis in enumerate(AXES):
        aim = problem.aim(axis.name)
        jnd = axis.floor + axis.weber * (aim.middle if aim else 0.0)
        places = [INDEX[c] for c in axis.weights]
        kinds = [food.evidence[p] for p in places]
        if all(k is None for k in kinds):
            if aim is not None:
                unknown.append(axis.name)
            continue
        if (brings[i] - sure[i]) >= LEAST_MOVE_JND * jnd:
            assumed.append(f"{axis.name} ({sure[i] / jnd:.1f} of {brings[i] / jnd:.1f} JND sure)")
        if brings[i] < LEAST_MOVE_JND * jnd:
            continue
        parts = [p for p in places if shelf.high[0, p] * weights[p, i] > 0]
        weakest = max(parts, key=lambda p: strength.index(food.evidence[p] or Evidence.ASSUMED))
        kind = str(food.evidence[weakest])
        known.setdefault(f"{kind}, {food.source[weakest]}", []).append(axis.name)
    said = [f"{', '.join(axes)} ({what})" for what, axes in known.items()]
    found = [f"{food.name} rests on: {'; '.join(said)}."] if said else []
    if assumed:
        found.append(f"Assumed in part, and not counted in its favour: {', '.join(assumed)}.")
    if unknown:
        found.append(f"No table tells of its {', '.join(unknown)}: counted as none.")
    return found
