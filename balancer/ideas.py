"""What is missing, other ways there, and what stands in for what ran out.

Each takes a request as a document and gives plain results; see :mod:`balancer.idea`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from typing import Any

import numpy as np

from balancer.alternatives import WAYS, Way, carriers
from balancer.alternatives import other_ways as find_ways
from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.errors import BadInput, BalancerError, NoSolution
from balancer.exclusions import KINDS, allergens_of, kept_in
from balancer.gap import Gap, asked, gap_from_text
from balancer.idea import DIGITS, Formula, Idea, Lacking, OtherWay, OtherWays, StandIns
from balancer.outcome import outcome_of
from balancer.prepared import unprepared_key
from balancer.problem import Problem
from balancer.request import Document, problem_from
from balancer.search import LONGEST_NAME, resolve
from balancer.settle import Settled, settle
from balancer.substitution import instead as find_instead
from balancer.suggest import Missing
from balancer.suggest import missing as find_missing
from balancer.suggestion import Suggestion
from balancer.tasting import steps_from_words

Progress = Callable[[int], None]


# --- the three uses -----------------------------------------------------------------------------


def missing(
    catalogue: Catalogue,
    document: Document,
    *,
    gap: str = "",
    without: Sequence[str] = (),
    tried: Sequence[str] = (),
    whole_table: bool = False,
    count: int = 10,
    progress: Progress | None = None,
) -> Lacking:
    """Rank what may be missing.

    Parameters
    ----------
    catalogue : Catalogue
    document : mapping
        The request; the names under its ``tried`` are left out too.
    gap : str
        What is lacking from how it tastes now; empty asks for the target of the request.
    without : sequence of str
        Allergens, kinds and names that are ruled out; commas between.
    tried : sequence of str
        Names tried and rejected.
    whole_table : bool
        Whether to look beyond the pantry.
    count : int
    progress : callable or None
        Told the number of exact solves.

    Raises
    ------
    BadInput
        If the gap or an exclusion cannot be read, or nothing is left to suggest.
    NoSolution
        If the limits contradict each other; the sentence says what would have to give.
    """
    problem = problem_from(document, catalogue)
    kept = tuple(document.get("tried", ()))
    foods = _pool(catalogue, problem, whole_table, without, tried, kept)
    wanted = gap_of(gap) if gap.strip() else Gap({})
    target: dict[str, Any] | None = None
    if wanted.steps:
        now = settle(problem).solution
        if not now.has_quantities:
            raise _contradiction(document, problem, "there is no sauce yet to measure a gap from")
        problem = asked(problem, now.levels, wanted)
        target = _target(problem)
    try:
        found = find_missing(problem, foods, count=count, family=wanted.family, progress=progress)
    except NoSolution:
        raise _contradiction(document, problem, "no ingredient can be ranked") from None
    place = _Place(catalogue, found.settled, target=target)
    return _lacking(place, found, tuple(dict.fromkeys((*kept, *tried))))


def other_ways(
    catalogue: Catalogue,
    document: Document,
    *,
    most: int = 8,
    without: Sequence[str] = (),
    count: int = WAYS,
    progress: Progress | None = None,
) -> OtherWays:
    """Other formulas with the balance of a request, of at most ``most`` ingredients.

    Raises
    ------
    BadInput
        If the target is empty, everything is locked, or an exclusion cannot be read.
    NoSolution
        If the limits contradict each other; the sentence says what would have to give.
    """
    problem = problem_from(document, catalogue)
    offered = carriers(problem, _pool(catalogue, problem, False, without, (), ()))
    try:
        now, ways = find_ways(problem, offered, most=most, count=count, progress=progress)
    except NoSolution:
        raise _contradiction(document, problem, "there is no balance to keep") from None
    place = _Place(catalogue, now)
    return OtherWays(_weighed(now), now.solution.sum_jnd, tuple(_way(place, way) for way in ways))


def instead(
    catalogue: Catalogue,
    document: Document,
    name: str,
    *,
    without: Sequence[str] = (),
    tried: Sequence[str] = (),
    whole_table: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> StandIns:
    """What takes the place of an ingredient, so that the profile stays.

    Raises
    ------
    BadInput
        If the sauce holds nothing of that name, or nothing is left to take its place.
    NoSolution
        If the limits contradict each other, with the ingredient or without it.
    """
    problem = problem_from(document, catalogue)
    foods = _pool(catalogue, problem, whole_table, without, tried, ())
    try:
        found = find_instead(problem, name, foods, count=count, progress=progress)
    except NoSolution:
        raise _contradiction(document, problem, "nothing can be replaced") from None
    lack = found.found
    place = _Place(catalogue, lack.settled, found.freed, before=found.before)
    return StandIns(
        found.gone,
        _weighed(found.before)[found.gone],
        found.freed,
        _lacking(place, lack, tuple(tried)),
        Formula(_weighed(lack.settled), freed=found.freed),
        found.takes_two,
    )


def gap_of(text: str) -> Gap:
    """Read a gap: axes with steps in JND, or a cook's sentence.

    Raises
    ------
    BadInput
        If it can be read neither way.

    Examples
    --------
    >>> gap_of("sour +2, family: citrus")
    Gap(steps={'sour': 2.0}, family='citrus')
    >>> gap_of("more sour, a touch thicker")
    Gap(steps={'sour': 2.0, 'body': 1.0}, family=None)
    """
    try:
        return gap_from_text(text)
    except BadInput:
        try:
            return Gap(dict(steps_from_words(text)))
        except BadInput:
            pass
        raise


# --- what may be suggested ----------------------------------------------------------------------


def _pool(
    catalogue: Catalogue,
    problem: Problem,
    whole_table: bool,
    without: Sequence[str],
    tried: Sequence[str],
    kept: Sequence[str],
) -> tuple[Ingredient, ...]:
    """Foods that may be suggested: not in the sauce, not ruled out, not tried."""
    everything = catalogue.everything
    keys: set[str] = {unprepared_key(u.ingredient.key) for u in problem.uses}
    keys |= {u.ingredient.key for u in problem.uses}
    names = {u.ingredient.name.casefold() for u in problem.uses}
    groups = {food.group.casefold() for food in everything}
    words = [part for text in without for part in _parts(text, groups)]
    for text in tried:
        key = _key_of(catalogue, text)
        if key:
            keys.add(key)
        else:
            words += _parts(text, groups)
    keys |= {_key_of(catalogue, text) for text in kept}
    left = kept_in(everything, words)
    left &= np.array(
        [f.key not in keys and f.name.casefold() not in names for f in everything], dtype=bool
    )
    if not whole_table:
        left[len(catalogue.pantry) :] = False
    if not left.any():
        raise BadInput("Everything is ruled out, so nothing can be suggested. Rule out less.")
    return tuple(f for f, keep in zip(everything, left, strict=True) if keep)


def _key_of(catalogue: Catalogue, name: str) -> str:
    try:
        return resolve(catalogue, name).key
    except BalancerError:
        return ""


def _parts(text: str, groups: Set[str]) -> list[str]:
    """Words between commas; an allergen or a shelf whose own name holds a comma stays whole."""
    whole = text.strip().casefold()
    if whole in KINDS or whole in groups:
        return [whole]
    return [part for part in whole.split(",") if part.strip()]


def _contradiction(document: Document, problem: Problem, so: str) -> NoSolution:
    give = outcome_of(document, problem).answer["relax"]
    told = " ".join(r["sentence"] for r in give)
    return NoSolution(
        f"The limits contradict each other, so {so}. "
        + (f"What would have to give first: {told}" if told else "Loosen one of them first.")
    )


# --- results in words and numbers ---------------------------------------------------------------


def _weighed(settled: Settled) -> dict[str, float]:
    """Quantities as weighed, before anything is taken out [g]."""
    solution = settled.solution
    return {
        u.label: float(g / u.passes)
        for u, g in zip(solution.problem.uses, solution.grams, strict=True)
    }


def _target(problem: Problem) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for aim in problem.aims:
        low, high = (float(f"{end:.{DIGITS}g}") for end in (aim.low, aim.high))
        if aim.weight == 1.0 and low == high:
            found[aim.axis] = low
        else:
            found[aim.axis] = {"low": low, "high": high, "weight": aim.weight}
    return found


class _Place:
    """What a suggestion is put beside: the sauce without it."""

    def __init__(
        self,
        catalogue: Catalogue,
        base: Settled,
        freed: tuple[str, ...] = (),
        *,
        target: Mapping[str, Any] | None = None,
        before: Settled | None = None,
    ) -> None:
        self.catalogue, self.freed, self.target = catalogue, freed, target
        uses = (before or base).solution.problem.uses
        self.labels = {u.label for u in uses}
        self.held = {a for u in uses for a in allergens_of(u.ingredient)}

    def written(self, food: Ingredient) -> str:
        """The name that means a food in a request and is not taken there."""
        means = _key_of(self.catalogue, food.name) == food.key
        short = len(food.name) <= LONGEST_NAME
        return food.name if means and short and food.name not in self.labels else food.key

    def idea(self, found: Suggestion) -> Idea:
        uses = found.settled.solution.problem.uses[-len(found.foods) :]
        names = tuple(self.written(f) for f in found.foods)
        added = {u.label: name for u, name in zip(uses, names, strict=True)}
        brings = {a for f in found.foods for a in allergens_of(f)} - self.held
        return Idea(
            names,
            tuple(f.name for f in found.foods),
            found.grams,
            found.before_jnd,
            found.after_jnd,
            dict(found.changes_g),
            dict(found.nearer),
            dict(found.further),
            dict(found.besides),
            tuple(sorted(brings)),
            found.evidence,
            found.in_pantry,
            found.settled.kept_ceilings,
            tuple(found.sentences()),
            Formula(_weighed(found.settled), added, self.freed, self.target),
        )


def _lacking(place: _Place, found: Missing, tried: tuple[str, ...]) -> Lacking:
    proof = "" if found.is_reached else found.certificate.sentence()
    if found.breaks_limits:
        proof = (
            "As it stands the sauce cannot keep its limits on pH or acidity. Shown are acids with"
            f" which it can: the {found.certificate.exact_solves} strongest were each solved with"
            " the limits, which proves nothing of the rest."
        )
    return Lacking(
        found.is_reached,
        found.base_jnd,
        _weighed(found.settled),
        tuple(place.idea(s) for s in found.suggestions),
        tuple(place.idea(s) for s in found.pairs),
        tried,
        proof,
        found.breaks_limits,
    )


def _way(place: _Place, way: Way) -> OtherWay:
    uses = way.settled.solution.problem.uses
    added = {u.label: place.written(u.ingredient) for u in uses if u.label not in place.labels}
    return OtherWay(
        Formula(_weighed(way.settled), added),
        way.settled.solution.sum_jnd,
        way.gains,
        way.costs,
        way.settled.kept_ceilings,
    )
