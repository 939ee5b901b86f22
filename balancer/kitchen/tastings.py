"""The tasting loop of a saved sauce: rounds, spoons, comparisons, the way back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

import numpy as np

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, POT_GROWTH
from balancer.errors import BadInput, ChangedMeanwhile, NotSaved
from balancer.kitchen.book import Book
from balancer.ladder import Ladder
from balancer.loop import (
    Difference,
    Sauce,
    Tasting,
    answered,
    compared,
    course,
    learned,
    moved,
    one_round,
    round_of,
    spoons_for,
)
from balancer.palate import Palate
from balancer.request import Document
from balancer.rounds import Round

#: A sample of a ladder of spoons, and the step of a scale that doses it [g].
SPOON_G, SPOON_SCALE_G = 12.0, 0.01


class Tastings(Book):
    """Rounds of tasting, and what they taught."""

    def sauce(self, name: str) -> Sauce:
        """All that is kept of one sauce."""
        last = self.store.recipe(name)
        first = last if last.revision == 1 else self.store.recipe(name, 1)
        rounds = tuple(r.document for r in self.store.rounds(name))
        return Sauce(first.document, last.document, last.revision, rounds)

    def earlier(self, name: str) -> list[Sauce]:
        """The other sauces that were tasted, by the date of their last round.

        A damaged one is passed over: it teaches nothing, and must not end another's tasting.
        """
        kept = [
            (rounds[-1].saved_at, other)
            for other, rounds in self.store.all_rounds().items()
            if rounds and other != name
        ]
        found = []
        for _, other in sorted(kept):
            with suppress(BadInput):
                found.append(self.sauce(other))
        return found

    def taste(
        self,
        name: str,
        said: str,
        *,
        made_g: Mapping[str, float] | None = None,
        also: Sequence[str] = (),
        growth: float = POT_GROWTH.value,
        keep_plan: bool = True,
        **details: Any,
    ) -> Tasting:
        """Keep a round of a saved sauce, learn from all of them, and plan the next batch.

        Parameters
        ----------
        name : str
            Name of the saved recipe.
        said : str
            The cook's sentence; "the rest is right" may be added.
        made_g : mapping of str to float or None
            Weighed quantities where they differ from the plan, by the name in the request [g].
        also : sequence of str
            Further ingredients that may go in.
        growth : float
            Largest growth of the pot, as a fraction of its mass [1].
        keep_plan : bool
            Whether the next batch is kept as the next revision of the recipe.
        details : Any
            Further fields of a round: ratings, place, temperature_c, sample, notes, closeness.

        Raises
        ------
        BadInput
            If the round says nothing, or something that cannot be meant.
        NotSaved
            If no recipe of that name is saved.
        """
        sauce = self.sauce(name)
        tasted, document = round_of(self.catalogue, sauce, said, made_g, also, **details)
        palate = learned(sauce, self.earlier(name), [tasted])
        return self._keep_round(name, sauce, palate, document, also, growth, keep_plan)

    def _keep_round(
        self,
        name: str,
        sauce: Sauce,
        palate: Palate,
        document: Document,
        also: Sequence[str],
        growth: float,
        keep_plan: bool,
    ) -> Tasting:
        result = moved(self.catalogue, sauce, palate, document, also, growth)
        number = self.store.save_round(name, document).number
        revision = None
        if keep_plan and result.next_batch.solution.has_quantities:
            # the round is kept whatever another window saved meanwhile; then the plan is not
            with suppress(ChangedMeanwhile):
                revision = self.save(
                    name, result.next_batch, replace_it=True, expected_revision=sauce.revision
                )
        return Tasting(number, palate, result, revision)

    def course(self, name: str) -> tuple[Palate, ...]:
        """What was known after each round of a sauce, the first round first."""
        return course(self.sauce(name), self.earlier(name))

    def spoons(
        self, name: str, axis: str, *, spoon_g: float = SPOON_G, scale_g: float = SPOON_SCALE_G
    ) -> Ladder:
        """A ladder of spoons from the pot of the last round: what to taste to learn most."""
        return spoons_for(self.sauce(name), self.earlier(name), axis, spoon_g, scale_g)

    def answer_spoons(
        self,
        name: str,
        axis: str,
        order: Sequence[int],
        *,
        spoon_g: float = SPOON_G,
        scale_g: float = SPOON_SCALE_G,
        growth: float = POT_GROWTH.value,
        keep_plan: bool = True,
        ladder: Ladder | None = None,
    ) -> Tasting:
        """Keep the answer to a ladder of spoons, nearest sample first.

        The ladder is the one that was tasted, where the caller has it; else it is the one that
        :meth:`spoons` gives.
        """
        sauce, earlier = self.sauce(name), self.earlier(name)
        ladder = ladder or spoons_for(sauce, earlier, axis, spoon_g, scale_g)
        nearest = ", ".join(str(i) for i in order)
        document = answered(sauce, ladder, order, f"spoons on {axis}, nearest first: {nearest}")
        palate = learned(sauce, earlier, [Round.from_document(document["round"])])
        return self._keep_round(name, sauce, palate, document, (), growth, keep_plan)

    def levels_of(self, name: str, number: int | None = None) -> FloatArray:
        """Levels of a round of a sauce, of a recipe, or of a profile [axis unit per 100 g].

        Raises
        ------
        BadInput
            If there is no such round.
        NotSaved
            If neither a recipe nor a profile has that name.
        """
        if number is not None:
            tasted = one_round(self.sauce(name), number)
            return np.array(Round.from_document(tasted["round"]).made)
        try:
            profile = self.saved(name)["answer"]["profile"]
            levels = {axis: entry["reached"] for axis, entry in profile.items()}
        except NotSaved:
            levels = dict(self.store.profile(name).levels)
        return np.array([float(levels.get(axis, 0.0)) for axis in AXIS_NAMES])

    def compare(
        self, first: str, second: str, rounds: tuple[int | None, int | None] = (None, None)
    ) -> tuple[Difference, ...]:
        """Two sauces, rounds or profiles side by side, with their differences in JND."""
        return compared(self.levels_of(first, rounds[0]), self.levels_of(second, rounds[1]))

    def go_back(self, name: str, number: int) -> int:
        """Make what was tasted in a round the newest revision; nothing is overwritten.

        Returns
        -------
        int
            The new revision.
        """
        sauce = self.sauce(name)
        kept = one_round(sauce, number)
        document = self.store.recipe(name, int(kept["revision"])).document
        request = dict(document["request"])
        made = kept["made_g"]
        entries = [
            {**entry, "draft_g": made.get(entry["name"].strip(), entry.get("draft_g", 0.0))}
            for entry in request["ingredients"]
        ]
        again = {**request, "ingredients": entries}
        return self.save(name, self.solve(again), replace_it=True, expected_revision=sauce.revision)
