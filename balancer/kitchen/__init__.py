"""The use cases: what a cook does, from opening the pantry to handing over a recipe.

The command line and the dashboard call this package and nothing below it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from balancer import handover, ideas
from balancer.choices import Style
from balancer.handover import Batch, Resized, Size
from balancer.idea import Lacking, OtherWays, StandIns, with_tried
from balancer.kitchen.tastings import Tastings
from balancer.loop import Tasting
from balancer.nutrition import Nutrition
from balancer.outcome import Outcome
from balancer.pasted import Pasted, paste
from balancer.recipe import Recipe
from balancer.recipe_file import Brought, brought
from balancer.request import Document
from balancer.rounding import Rounded
from balancer.shopping import Pack, ShoppingList
from balancer.sitting import Nudge

__all__ = ["Kitchen", "Nudge", "Outcome", "Tasting"]


class Kitchen(Tastings):
    """Everything a cook can do, over one set of tables and one store.

    Parameters
    ----------
    catalogue : balancer.catalogue.Catalogue or None
        None takes the project's own tables.
    store_path : pathlib.Path or None
        File of the saved work; None takes the one in the user's data directory.
    """

    def missing(self, document: Document, **asked: Any) -> Lacking:
        """What may be missing in a sauce; :func:`balancer.ideas.missing` says what can be asked."""
        return ideas.missing(self.catalogue, document, **asked)

    def other_ways(self, document: Document, **asked: Any) -> OtherWays:
        """Other formulas with the same balance; see :func:`balancer.ideas.other_ways`."""
        return ideas.other_ways(self.catalogue, document, **asked)

    def instead(self, document: Document, name: str, **asked: Any) -> StandIns:
        """What stands in for an ingredient that ran out; see :func:`balancer.ideas.instead`."""
        return ideas.instead(self.catalogue, document, name, **asked)

    def paste(self, text: str, **said: Any) -> Pasted:
        """A pasted draft in grams and ingredients; see :func:`balancer.pasted.paste`."""
        return paste(self.catalogue, text, **said)

    def keep_tried(self, name: str, tried: Sequence[str]) -> int:
        """Keep what was tried and rejected with a saved recipe, as its next revision.

        Returns
        -------
        int
            The new revision, or the present one where all of it is kept already.

        Raises
        ------
        BadInput
            If there are too many.
        ChangedMeanwhile
            If another window saved in between.
        NotSaved
            If no recipe of that name is saved.
        """
        record = self.store.recipe(name)
        request = record.document["request"]
        again = with_tried(request, tried)
        if again.get("tried", []) == request.get("tried", []):
            return int(record.revision)
        outcome = self.solve(again)
        return self.save(name, outcome, replace_it=True, expected_revision=record.revision)

    # --- measures, another size, shopping, nutrition ---------------------------------------------

    def measures(
        self,
        document: Document,
        answer: Document,
        style: Style = Style.METRIC,
        scale_g: float = 1.0,
    ) -> Rounded:
        """Practical measures for a request with its answer; see :mod:`balancer.handover`."""
        outcome = handover.as_answered(self.catalogue, document, answer)
        return handover.measured(self.catalogue, outcome, style, scale_g)

    def resized(self, document: Document, answer: Document, size: Size) -> Resized:
        """A request with its answer at another size; see :func:`balancer.handover.resized`."""
        return handover.resized(self.catalogue, document, answer, size)

    def shopping(
        self,
        batches: Sequence[Batch],
        *,
        have_g: Mapping[str, float] | None = None,
        packs: Mapping[str, Pack] | None = None,
    ) -> ShoppingList:
        """What to buy for several sauces; see :func:`balancer.handover.shopping`."""
        return handover.shopping(self.catalogue, batches, have_g=have_g, packs=packs)

    def nutrition(self, document: Document, answer: Document) -> Nutrition:
        """Nutrition of a request with its answer, with what the tables do not know."""
        return handover.nourished(handover.as_answered(self.catalogue, document, answer))

    def brought(self, text: str | bytes) -> Brought:
        """What a file holds: our own record or a page; see :func:`balancer.recipe_file.brought`."""
        return brought(self.catalogue, text)

    def measured_recipe(
        self,
        name: str,
        outcome: Outcome,
        found: Rounded,
        style: Style = Style.METRIC,
        *,
        revision: int = 1,
        tasted: str = "",
        serving_g: float | None = None,
    ) -> Recipe:
        """The recipe of a sauce as it is made by measures, with its nutrition.

        Parameters
        ----------
        name : str
        outcome : Outcome
        found : Rounded
            Its measures.
        style : Style
            In which they were chosen.
        revision : int
        tasted : str
            When it was tasted last.
        serving_g : float or None
            One serving; None takes the one that the request names [g].
        """
        made = handover.as_measured(self.catalogue, outcome, found)
        document = {"request": dict(outcome.document), "answer": made.answer}
        recipe = self.recipe_of(name, document, revision=revision, tasted=tasted)
        if serving_g is not None:
            recipe = replace(recipe, serving_g=serving_g)
        return handover.with_nutrition(handover.with_measures(recipe, found, style), made)
