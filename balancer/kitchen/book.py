"""The kitchen book: saved recipes and profiles, a recipe inside a recipe, own ingredients."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace
from typing import Any

from balancer import handover
from balancer.answer import levels_document
from balancer.carrying import needs_of, take_in
from balancer.composite import Expansion, expand, opened, recipes_in
from balancer.composite_vector import as_ingredient
from balancer.errors import BadInput
from balancer.export import Options, Page, Record, export
from balancer.export.record import NEEDS
from balancer.inferring import Inferred
from balancer.intact import checked_sauce
from balancer.kitchen.stove import Stove
from balancer.larder import OwnIngredient
from balancer.outcome import Outcome
from balancer.own import OWN_KEY, Own
from balancer.own_kept import Kept
from balancer.recipe import Recipe, from_document
from balancer.request import Document
from balancer.search import plain
from balancer.store import Imported, read_document


class Book(Stove):
    """What is kept, handed over and taken in."""

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
        """The saved document of a recipe, its request and its answer; refused where damaged."""
        return checked_sauce(self.store.recipe(name, revision).document)

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
        checked_sauce(document)
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
