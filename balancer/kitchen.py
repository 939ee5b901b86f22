"""The use cases: what a cook does, from opening the pantry to handing over a recipe.

The command line and the dashboard call this module and nothing below it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

from balancer.answer import levels_document
from balancer.catalogue import Catalogue, default_catalogue
from balancer.constants import POT_GROWTH
from balancer.errors import BadInput
from balancer.export import Page, export
from balancer.outcome import Outcome, outcome_of
from balancer.pot import READABILITY_G, Correction
from balancer.readings import Readings
from balancer.recipe import Measure, Recipe, from_document
from balancer.report import Report, data_report
from balancer.request import Document, problem_from
from balancer.search import Hit, find
from balancer.sitting import Nudge, correct_measured, correct_pot, how_to_add, nudge
from balancer.store import Imported, Store, read_document
from balancer.tasting import steps_from_words
from balancer.uncertainty import Spread, Statistics, read_statistics, spread

__all__ = ["Kitchen", "Nudge", "Outcome"]


class Kitchen:
    """Everything a cook can do, over one set of tables and one store.

    Parameters
    ----------
    catalogue : Catalogue or None
        None takes the project's own tables.
    store_path : Path or None
        File of the saved work; None takes the one in the user's data directory.
    """

    def __init__(self, catalogue: Catalogue | None = None, store_path: Path | None = None) -> None:
        self.catalogue = catalogue or default_catalogue()
        self._store_path = store_path

    @cached_property
    def store(self) -> Store:
        """The saved profiles and recipes."""
        return Store(self._store_path)

    @property
    def told(self) -> str:
        """A sentence on what opening the saved work did, such as a copy made; empty for nothing."""
        return self.store.opened if "store" in vars(self) else ""

    def find(self, text: str, limit: int = 10, *, table: bool = True) -> list[Hit]:
        """Ingredients whose names come nearest to a text."""
        return find(self.catalogue, text, limit, table=table)

    def solve(self, document: Document) -> Outcome:
        """Find quantities for a request.

        Raises
        ------
        BadInput
            If the request cannot be read or cannot be meant.
        """
        problem = problem_from(document, self.catalogue)
        return outcome_of(document, problem)

    def how_sure(self, outcome: Outcome) -> Spread | None:
        """How far one lot of each ingredient may take the levels and the pH of a sauce.

        None where there are no quantities.
        """
        solution = outcome.solution
        if not solution.has_quantities:
            return None
        problem = solution.problem
        return spread(
            [u.ingredient for u in problem.uses],
            solution.grams,
            problem.water_lost_g,
            self._statistics,
            problem.kept,
        )

    @cached_property
    def _statistics(self) -> Statistics:
        return read_statistics(self.catalogue.directory)

    def data_report(self) -> Report:
        """What the pantry rests on, ingredient by ingredient."""
        return data_report(self.catalogue)

    def nudge(
        self,
        document: Document,
        answer: Document,
        words: str | Mapping[str, float],
        *,
        made_g: Mapping[str, float] | None = None,
        also: Sequence[str] = (),
        growth: float = POT_GROWTH.value,
    ) -> Nudge:
        """Turn a tasting into additions to the pot and into the next batch.

        Axes that the words do not mention aim at the level at which they were tasted.

        Parameters
        ----------
        document, answer : mapping
            The request that was made, and its answer.
        words : str or mapping of str to float
            The cook's sentence, or axis to step [JND].
        made_g : mapping of str to float or None
            Weighed quantities where they differ from the plan, by the name in the request [g].
        also : sequence of str
            Further ingredients that may go into the pot and the next batch.
        growth : float
            Largest growth of the pot, as a fraction of its mass [1].

        Raises
        ------
        BadInput
            If the words cannot be read, or a weighed quantity names nothing in the sauce.
        """
        steps = steps_from_words(words) if isinstance(words, str) else dict(words)
        return nudge(
            self.catalogue, document, answer, steps, made_g=made_g, also=also, growth=growth
        )

    def how_to_add(self, found: Nudge, readability_g: float = READABILITY_G) -> Correction:
        """How to weigh and stage what a nudge adds; where it falls short, what else to do."""
        return how_to_add(found, readability_g)

    def correct(
        self,
        document: Document,
        answer: Document,
        *,
        made_g: Mapping[str, float] | None = None,
        also: Sequence[str] = (),
        growth: float = POT_GROWTH.value,
        readability_g: float = READABILITY_G,
    ) -> Correction:
        """What to do for a pot made off its recipe, so that it reaches the recipe's target."""
        return correct_pot(
            self.catalogue,
            document,
            answer,
            made_g=made_g,
            also=also,
            growth=growth,
            readability_g=readability_g,
        )

    def correct_measured(
        self,
        readings: Readings,
        target: Mapping[str, float],
        additions: Sequence[str],
        *,
        growth: float = POT_GROWTH.value,
        readability_g: float = READABILITY_G,
    ) -> Correction:
        """What to do for a pot of which only readings are known."""
        return correct_measured(
            self.catalogue,
            readings,
            target,
            additions,
            growth=growth,
            readability_g=readability_g,
        )

    # --- saved work ---------------------------------------------------------------------------

    def save(
        self,
        name: str,
        outcome: Outcome,
        *,
        replace_it: bool = False,
        expected_revision: int | None = None,
    ) -> int:
        """Save a request with its answer as a recipe; returns the number of its revision.

        Raises
        ------
        BadInput
            If the outcome has no quantities, or the name cannot be used.
        ChangedMeanwhile
            If ``expected_revision`` is given and another window saved in between.
        NameTaken
            If a recipe of that name is saved and ``replace_it`` is false; with it, the older
            revisions stay.
        """
        if not outcome.solution.has_quantities:
            raise BadInput(
                "There are no quantities to save, because the limits contradict each other."
                " Loosen one of them and solve again."
            )
        document = {"request": dict(outcome.document), "answer": outcome.answer}
        saved = self.store.save_recipe(
            name, document, replace=replace_it, expected_revision=expected_revision
        )
        return int(saved.revision)

    def save_profile(self, name: str, outcome: Outcome) -> None:
        """Save the levels that an outcome reaches as a profile."""
        levels = levels_document(outcome.solution.levels)
        self.store.save_profile(name, levels)

    def saved(self, name: str, revision: int | None = None) -> Document:
        """The saved document of a recipe: its request and its answer."""
        document: Document = self.store.recipe(name, revision).document
        return document

    def recipe(self, name: str, revision: int | None = None) -> Recipe:
        """A saved recipe, ready to be read or exported."""
        record = self.store.recipe(name, revision)
        return self.recipe_of(name, record.document, record.saved_at[:10], record.revision)

    def recipe_of(self, name: str, document: Document, date: str = "", revision: int = 1) -> Recipe:
        """A recipe from a request with its answer, whether or not it is saved."""
        keys = [r["key"] for r in document["answer"]["resolved"].values()]
        measures = {
            key: tuple(Measure(m.amount, m.measure, m.grams) for m in self.catalogue.measures(key))
            for key in keys
        }
        return from_document(name, document, measures, date=date, revision=revision)

    def export(self, name: str, kind: str) -> Page:
        """A saved recipe in one of the formats of :data:`balancer.export.FORMATS`.

        Raises
        ------
        BadInput
            If there is no such format.
        NotSaved
            If no recipe of that name is saved.
        """
        return export(self.recipe(name), kind)

    def everything(self) -> dict[str, Any]:
        """All saved work as one document."""
        return dict(self.store.export_all())

    def take_in(self, text: str) -> Imported:
        """Add the saved work of another kitchen; returns how much of each was added."""
        return self.store.import_all(read_document(text, "The kitchen book"))
