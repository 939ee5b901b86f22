"""The use cases: what a cook does, from opening the pantry to handing over a recipe.

The command line and the dashboard call this module and nothing below it.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from balancer import handover, ideas
from balancer.answer import levels_document
from balancer.carrying import needs_of, take_in
from balancer.catalogue import Catalogue, default_catalogue
from balancer.choices import Style
from balancer.composite import Expansion, expand, opened, recipes_in
from balancer.composite_vector import as_ingredient
from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, POT_GROWTH
from balancer.errors import BadInput, ChangedMeanwhile, NotSaved
from balancer.export import Options, Page, Record, export
from balancer.export.record import NEEDS
from balancer.handover import Batch, Brought, Resized, Size
from balancer.idea import Lacking, OtherWays, StandIns, with_tried
from balancer.inferring import OWN_KEY, Inferred
from balancer.ladder import Ladder
from balancer.larder import Larder, OwnIngredient
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
from balancer.nutrition import Nutrition
from balancer.outcome import Outcome, outcome_of
from balancer.own import Own
from balancer.own_kept import Kept
from balancer.palate import Palate
from balancer.pasted import Pasted, paste
from balancer.pot import READABILITY_G, Correction
from balancer.readings import Readings
from balancer.recipe import Recipe, from_document
from balancer.report import Report, data_report
from balancer.request import Document, problem_from
from balancer.rounding import Rounded
from balancer.rounds import Round
from balancer.search import Hit, find, plain
from balancer.shopping import Pack, ShoppingList
from balancer.sitting import Nudge, correct_measured, correct_pot, how_to_add, nudge
from balancer.store import Imported, Store, read_document
from balancer.tasting import steps_from_words
from balancer.uncertainty import Spread, Statistics, read_statistics, spread

__all__ = ["Kitchen", "Nudge", "Outcome", "Tasting"]

#: A sample of a ladder of spoons, and the step of a scale that doses it [g].
SPOON_G, SPOON_SCALE_G = 12.0, 0.01


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

    # --- what is missing, other ways, a pasted draft --------------------------------------------

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
        """What a file holds: our own record or a page; see :func:`balancer.handover.brought`."""
        return handover.brought(self.catalogue, text)

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
        if recipes_in(outcome.document):
            expand(document, self.catalogue, name)  # refuses recipes that go round in a circle
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
        return self.recipe_of(
            name, record.document, record.saved_at[:10], record.revision, self.last_tasted(name)
        )

    def last_tasted(self, name: str) -> str:
        """When a saved recipe was tasted last, and in which round; empty if it never was."""
        rounds = self.store.rounds(name)
        return f"{rounds[-1].saved_at[:10]}, round {len(rounds)}" if rounds else ""

    def recipe_of(
        self, name: str, document: Document, date: str = "", revision: int = 1, tasted: str = ""
    ) -> Recipe:
        """A recipe from a request with its answer, whether or not it is saved."""
        keys = {label: r["key"] for label, r in document["answer"]["resolved"].items()}
        known = self.catalogue
        measures = {key: known.measures(key) for key in keys.values()}
        made = {e["name"].strip(): as_ingredient(e["recipe"], known)
                for e in document["request"]["ingredients"] if "recipe" in e}  # fmt: skip
        # an ingredient of one's own may be gone since an older revision
        gone = {k for k in keys.values() if k.startswith(OWN_KEY) and k not in known.by_key}
        foods = {key: made.get(label) or known.food(key)
                 for label, key in keys.items() if key not in gone}  # fmt: skip
        return from_document(
            name, document, measures, foods=foods, date=date, revision=revision, tasted=tasted
        )

    def export(self, name: str, kind: str, options: Options | None = None) -> Page:
        """A saved recipe in one of the formats of :data:`balancer.export.FORMATS`.

        Parameters
        ----------
        name : str
        kind : str
        options : Options or None
            Dates, paper, nutrition, taster and picture, for the formats that use them.

        Raises
        ------
        BadInput
            If there is no such format.
        NotSaved
            If no recipe of that name is saved.
        """
        recipe, options = self.recipe(name), options or Options()
        if options.nutrition != "none":
            request, answer = recipe.document["request"], recipe.document["answer"]
            outcome = handover.as_answered(self.catalogue, request, answer)
            recipe = handover.with_nutrition(recipe, outcome)
        if kind == "json":
            needs = needs_of(recipe.document, self.store, self._larder)
            document = {**recipe.document, NEEDS: needs} if needs else recipe.document
            recipe = replace(recipe, document=document)
        return export(recipe, kind, options)

    def keep_record(self, record: Record, name: str = "") -> tuple[str, ...]:
        """Keep a recipe that came in a record; see :func:`balancer.carrying.take_in`."""
        return take_in(record, name or record.name, self.store, self._larder)

    def recipes_like(self, text: str, limit: int = 3) -> list[str]:
        """Names of saved recipes that hold every word of a text."""
        words = plain(text).split()
        names = (r.name for r in self.store.recipes())
        return [n for n in names if words and all(w in plain(n) for w in words)][:limit]

    def used_in(self, name: str) -> tuple[str, ...]:
        """Names of the saved recipes in which a saved recipe stands as an ingredient."""
        return tuple(
            r.name for r in self.store.recipes()
            if name in recipes_in(r.document.get("request", {}))
        )  # fmt: skip

    def delete_recipe(self, name: str) -> None:
        """Delete a recipe with its revisions and rounds.

        Raises
        ------
        BadInput
            If another recipe uses it.
        NotSaved
            If there is none of that name.
        """
        self._refuse_if_used(name, "Take it out there, or open it up there, first.")
        self.store.delete_recipe(name)

    def rename_recipe(self, old: str, new: str) -> None:
        """Give a recipe another name; refused while another recipe uses it by the old one."""
        self._refuse_if_used(old, "Save it under the new name beside this one instead.")
        self.store.rename_recipe(old, new)

    def _refuse_if_used(self, name: str, then: str) -> None:
        users = self.used_in(name)
        if users:
            listed = ", ".join(repr(u) for u in users)
            raise BadInput(f"The recipe {name!r} is an ingredient of {listed}. {then}")

    def opened_up(self, document: Document, which: Container[str] | None = None) -> dict[str, Any]:
        """A request in which saved recipes are replaced by what they are made from, all free.

        Parameters
        ----------
        document : mapping
        which : container of str or None
            What the cook calls the recipes to be opened up; None opens up all of them.
        """
        return opened(document, self.catalogue, which)

    def as_made(self, name: str) -> dict[str, Any]:
        """The request of a saved recipe with its quantities as the draft.

        Where it asks for no yield or no levels, those that it has are asked for.
        """
        document = self.saved(name)
        request, answer = document["request"], document["answer"]
        made = answer["quantities_g"]
        entries = [{**e, "draft_g": made[e["name"].strip()]} for e in request["ingredients"]]
        found = {**request, "ingredients": entries}
        if "yield_g" not in request and "yield_ml" not in request:
            found["yield_g"] = answer["final_mass_g"]
        if not request.get("target"):
            found["target"] = {axis: row["reached"] for axis, row in answer["profile"].items()}
        return found

    def totals(self, name: str) -> Expansion:
        """A saved recipe in base ingredients, with the places where each enters."""
        return expand(self.saved(name), self.catalogue, name)

    def everything(self) -> dict[str, Any]:
        """All saved work as one document."""
        return dict(self.store.export_all())

    def take_in(self, text: str) -> Imported:
        """Add the saved work of another kitchen; returns how much of each was added."""
        return self.store.import_all(read_document(text, "The kitchen book"))

    # --- ingredients of the kitchen's own -----------------------------------------------------

    def own_ingredients(self) -> tuple[OwnIngredient, ...]:
        """Every own ingredient, by name."""
        return self._larder.all()

    def own(self, name: str, revision: int | None = None) -> Kept:
        """One own ingredient as it is kept; raises NotSaved if there is none of that name."""
        return self._larder.kept(name, revision)

    def infer(self, own: Own) -> Inferred:
        """The vector that follows from a label and readings, without keeping it."""
        return self._larder.looked_at(own)

    def save_own(
        self,
        own: Own,
        *,
        takes_place: bool = False,
        replace_it: bool = False,
        expected_revision: int | None = None,
    ) -> Inferred:
        """Keep an own ingredient; see :meth:`balancer.larder.Larder.save` for what is refused.

        Parameters
        ----------
        own : Own
        takes_place : bool
            Whether it stands for the pantry ingredient that it is a lot of, for good.
        replace_it : bool
            Whether one of that name gets a new revision.
        expected_revision : int, optional
            The revision that is to be the last one so far, 0 for a new ingredient.
        """
        return self._larder.save(
            own,
            takes_place=takes_place,
            replace_it=replace_it,
            expected_revision=expected_revision,
        )

    def duplicate_own(self, name: str, new: str) -> Inferred:
        """Keep a copy of an own ingredient under another name; it takes no place."""
        return self._larder.duplicate(name, new)

    def rename_own(self, old: str, new: str) -> None:
        """Give an own ingredient another name; refused while a recipe uses it."""
        self._larder.rename(old, new)

    def delete_own(self, name: str) -> None:
        """Delete an own ingredient; refused, naming the recipes, while one uses it."""
        self._larder.delete(name)

    def used_by(self, name: str) -> tuple[str, ...]:
        """Names of the saved recipes whose last revision uses an own ingredient."""
        return self._larder.used_by(name)

    # --- the tasting loop ---------------------------------------------------------------------

    def sauce(self, name: str) -> Sauce:
        """All that is kept of one sauce."""
        last = self.store.recipe(name)
        first = last if last.revision == 1 else self.store.recipe(name, 1)
        rounds = tuple(r.document for r in self.store.rounds(name))
        return Sauce(first.document, last.document, last.revision, rounds)

    def earlier(self, name: str) -> list[Sauce]:
        """The other sauces that were tasted, by the date of their last round."""
        kept = [
            (rounds[-1].saved_at, other)
            for other, rounds in self.store.all_rounds().items()
            if rounds and other != name
        ]
        return [self.sauce(other) for _, other in sorted(kept)]

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
