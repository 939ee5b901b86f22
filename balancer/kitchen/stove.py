"""At the stove: finding foods, solving, nudging after a tasting, correcting a pot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path

from balancer.catalogue import Catalogue, default_catalogue
from balancer.constants import POT_GROWTH
from balancer.larder import Larder
from balancer.outcome import Outcome, outcome_of
from balancer.pot import READABILITY_G, Correction
from balancer.readings import Readings
from balancer.report import Report, data_report
from balancer.request import Document, problem_from
from balancer.search import Hit, find
from balancer.sitting import (
    Nudge,
    allergens_added,
    correct_measured,
    correct_pot,
    how_to_add,
    nudge,
)
from balancer.store import Store
from balancer.tasting import steps_from_words
from balancer.uncertainty import Spread, Statistics, read_statistics, spread


class Stove:
    """What needs the tables and nothing saved, but for the kitchen's own ingredients.

    Parameters
    ----------
    catalogue : Catalogue or None
        None takes the project's own tables.
    store_path : Path or None
        File of the saved work; None takes the one in the user's data directory.
    """

    def __init__(self, catalogue: Catalogue | None = None, store_path: Path | None = None) -> None:
        self._store_path = store_path
        self._larder = Larder(catalogue or default_catalogue(), lambda: self.store)

    @property
    def catalogue(self) -> Catalogue:
        """The tables with the kitchen's own ingredients as they are now, and its recipes."""
        return self._larder.catalogue

    @cached_property
    def store(self) -> Store:
        """The saved profiles and recipes."""
        return Store(self._store_path)

    @property
    def told(self) -> str:
        """Sentences on what opening the saved work did and could not do; empty for nothing."""
        opened = self.store.opened if "store" in vars(self) else ""
        return " ".join(text for text in (opened, self._larder.told) if text)

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

    def how_sure(self, outcome: Outcome, *, with_ph: bool = True) -> Spread | None:
        """How far one lot of each ingredient may take the levels and the pH of a sauce.

        None where there are no quantities. The pH takes most of the time and can be left out.
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
            with_ph=with_ph,
        )

    @cached_property
    def _statistics(self) -> Statistics:
        return read_statistics(self.catalogue.directory)

    def data_report(self) -> Report:
        """What the pantry of the tables rests on, ingredient by ingredient."""
        return data_report(self._larder.tables)

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

    def brings(self, found: Correction) -> str:
        """Say which allergens what corrects a pot brings; empty where none is known."""
        return allergens_added(found)

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
