"""What leaves the kitchen: measures, another size, a shopping list, nutrition.

Every use takes a request with its answer, saved or not. Nothing here is kept, written or shown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from balancer import scaling
from balancer.catalogue import Catalogue
from balancer.choices import FINER, Style
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.nutrition import Nutrition, nutrition_of
from balancer.outcome import Outcome, outcome_of
from balancer.recipe import Recipe
from balancer.request import Document, problem_from
from balancer.rounding import Rounded, rounded
from balancer.scaling import Scaled, scaled, scaled_request
from balancer.shopping import Need, Pack, ShoppingList, base_needs, shopping_list

#: Fields of an ingredient that say how much of it there may be.
_AMOUNTS = ("draft_g", "min_g", "max_g", "share_min", "share_max", "keep_share", "locked_g")


@dataclass(frozen=True)
class Size:
    """How much is wanted: one of five ways to say it.

    Parameters
    ----------
    yield_g : float or None
        Finished mass [g].
    servings, serving_g : float or None
        Number of servings [1], and the mass of one [g].
    jars, jar_ml : float or None
        Number of jars [1], and what one holds [mL].
    pan_ml : float or None
        What the pan holds to the brim [mL].
    stock_g : mapping of str to float
        What has to be used up, by the name in the request, edible mass [g].

    Raises
    ------
    BadInput
        If there is none or more than one, or a half of a pair is missing.
    """

    yield_g: float | None = None
    servings: float | None = None
    serving_g: float | None = None
    jars: float | None = None
    jar_ml: float | None = None
    pan_ml: float | None = None
    stock_g: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        ways = [v is not None for v in (self.yield_g, self.servings, self.jars, self.pan_ml)]
        if sum(ways) + bool(self.stock_g) != 1:
            raise BadInput(
                "Say one size: a finished mass, servings with their size, jars with their size, a"
                " pan, or what has to be used up."
            )
        if self.servings is not None and self.serving_g is None:
            raise BadInput("The size of a serving is missing. Give it in grams.")
        if self.jars is not None and self.jar_ml is None:
            raise BadInput("The size of a jar is missing. Give it in millilitres.")

    def factor(self, request: Document, answer: Document) -> tuple[float, tuple[str, ...]]:
        """New size over old [1], with what is left over in sentences.

        Raises
        ------
        BadInput
            If a size is not above zero, or names nothing in the sauce.
        """
        if self.yield_g is not None:
            return scaling.factor_to_yield(answer, self.yield_g), ()
        if self.servings is not None and self.serving_g is not None:
            return scaling.factor_to_servings(answer, self.servings, self.serving_g), ()
        if self.jars is not None and self.jar_ml is not None:
            return scaling.factor_to_jars(answer, self.jars, self.jar_ml), ()
        if self.pan_ml is not None:
            lost_g = scaling.water_lost_g(request, answer)
            return scaling.factor_to_pan(answer, self.pan_ml, lost_g), ()
        factor, scarce, left_g = scaling.factor_to_use_up(answer, self.stock_g)
        said = [f"All of the {scarce} goes in."]
        said += [f"{grams:.4g} g of {name} is left." for name, grams in left_g.items()]
        return factor, tuple(said)


@dataclass(frozen=True, eq=False)
class Resized:
    """A sauce at another size.

    Parameters
    ----------
    outcome : Outcome
        The request at that size, with its answer.
    scaled : Scaled
        The factor, and what does not scale.
    left : tuple of str
        What is used up and what is left over, as sentences.
    """

    outcome: Outcome
    scaled: Scaled
    left: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """How it grew, and what does not scale."""
        grown = f"{self.scaled.factor:.4g} times, {self.scaled.yield_g:.4g} g in all."
        return (*self.left, grown, *self.scaled.notes)


@dataclass(frozen=True)
class Batch:
    """A sauce to be bought for.

    Parameters
    ----------
    name : str
    document : mapping
        Its request and its answer.
    count : float
        How many batches [1].
    """

    name: str
    document: Document
    count: float = 1.0


def as_answered(catalogue: Catalogue, request: Document, answer: Document) -> Outcome:
    """A request solved so that its answer comes back: the answer is the draft.

    Raises
    ------
    BadInput
        If the answer has no quantities.
    """
    return _solved(catalogue, scaled_request(request, answer, 1.0))


def measured(
    catalogue: Catalogue, outcome: Outcome, style: Style = Style.METRIC, scale_g: float = 1.0
) -> Rounded:
    """Practical measures for the quantities of a sauce, chosen together.

    Parameters
    ----------
    catalogue : Catalogue
    outcome : Outcome
    style : Style
    scale_g : float
        Step of the scale [g].

    Raises
    ------
    BadInput
        If there are no quantities, or no kitchen scale has that step.
    """
    solution = outcome.solution
    if not solution.has_quantities:
        raise BadInput("There are no quantities to measure. Loosen a limit and solve again.")
    known = [catalogue.measures(r["key"]) for r in outcome.answer["resolved"].values()]
    return rounded(solution.problem, solution.grams, known, style, scale_g)


def as_measured(catalogue: Catalogue, outcome: Outcome, found: Rounded) -> Outcome:
    """The sauce as it comes out when it is made by measures: every quantity locked at them."""
    grams = {
        use.label: 0.0 if choice is None else choice.grams
        for use, choice in zip(found.problem.uses, found.chosen, strict=True)
    }
    document = outcome.document
    entries = [
        {k: v for k, v in entry.items() if k not in _AMOUNTS}
        | {"locked_g": float(f"{grams[entry['name'].strip()]:.9g}")}
        for entry in document["ingredients"]
    ]
    again = {k: v for k, v in document.items() if k != "yield_ml"}
    again |= {"ingredients": entries, "yield_g": float(f"{found.mass_g:.9g}")}
    return _solved(catalogue, again)


def with_measures(recipe: Recipe, found: Rounded, style: Style = Style.METRIC) -> Recipe:
    """A recipe whose lines say their measures as they were chosen; a metric kitchen has no cups."""
    said = {
        use.label: choice.text
        for use, choice in zip(found.problem.uses, found.chosen, strict=True)
        if choice is not None and (choice.kind in ("spoon", "item") or not _in_grams(choice.text))
    }
    lines = []
    for line in recipe.lines:
        beside = "" if style is Style.METRIC and " cup" in line.measure else line.measure
        lines.append(replace(line, measure=said.get(line.name, beside)))
    return replace(recipe, lines=tuple(lines))


def measuring_notes(found: Rounded) -> list[str]:
    """What a cook should know about the measures, as sentences."""
    fine = [
        use.label
        for use, choice in zip(found.problem.uses, found.chosen, strict=True)
        if choice is not None and FINER in choice.text
    ]
    said = [f"For {', '.join(fine)}, use a finer scale, or the measure beside it."] if fine else []
    return [*said, *found.notes()]


def rounding_words(found: Rounded) -> str:
    """How far the measures move the balance, in one sentence."""
    by = found.deviation_jnd
    most = max(range(len(by)), key=lambda i: abs(by[i]))
    if abs(by[most]) < 0.005:
        return "Measured like this, the sauce tastes as it was solved."
    way = "up" if by[most] > 0 else "down"
    felt = "less than a tongue can tell" if abs(by[most]) < 1.0 else "enough to be tasted"
    return (
        f"Measured like this, {AXIS_NAMES[most]} moves the most: {abs(by[most]):.2f} JND {way},"
        f" {felt}."
    )


def resized(catalogue: Catalogue, request: Document, answer: Document, size: Size) -> Resized:
    """A sauce at another size, in the same proportions.

    Raises
    ------
    BadInput
        If the size cannot be meant, or the answer has no quantities.
    """
    factor, left = size.factor(request, answer)
    found = scaled(request, answer, factor)
    return Resized(_solved(catalogue, scaled_request(request, answer, factor)), found, left)


def shopping(
    catalogue: Catalogue,
    batches: Sequence[Batch],
    *,
    have_g: Mapping[str, float] | None = None,
    packs: Mapping[str, Pack] | None = None,
) -> ShoppingList:
    """What to buy for several sauces, those that stand in them as ingredients included.

    Parameters
    ----------
    catalogue : Catalogue
    batches : sequence of Batch
    have_g : mapping of str to float or None
        What is in the pantry, as purchased [g].
    packs : mapping of str to Pack or None
        What is sold.

    Raises
    ------
    BadInput
        If there is no sauce, a number of batches is not above zero, or a name is in none of them.
    """
    if not batches:
        raise BadInput("There is nothing to buy for. Choose a sauce.")
    needs: list[Need] = []
    made_g: dict[str, float] = {}
    for batch in batches:
        if not (math.isfinite(batch.count) and batch.count > 0):
            raise BadInput(
                f"{batch.name[:60]!r} is wanted {batch.count:g} times. Give more than 0."
            )
        needs += base_needs(batch.name, batch.document, catalogue, batch.count)
        mass_g = float(batch.document["answer"]["final_mass_g"]) * batch.count
        made_g[batch.name] = made_g.get(batch.name, 0.0) + mass_g
    return shopping_list(catalogue, needs, made_g, have_g=have_g, packs=packs)


def nourished(outcome: Outcome) -> Nutrition:
    """Nutrition of a sauce, with what the tables do not know.

    Raises
    ------
    BadInput
        If there are no quantities.
    """
    solution = outcome.solution
    if not solution.has_quantities:
        raise BadInput("There are no quantities to count. Loosen a limit and solve again.")
    return nutrition_of(solution.problem, solution.grams)


def with_nutrition(recipe: Recipe, outcome: Outcome) -> Recipe:
    """A recipe with the panels of all labels, for the serving that its request names."""
    return replace(recipe, nutrition=nourished(outcome).panels(recipe.serving_g))


def _solved(catalogue: Catalogue, document: Document) -> Outcome:
    return outcome_of(document, problem_from(document, catalogue))


def _in_grams(text: str) -> bool:
    return text.split(" (")[0].endswith(" g")
