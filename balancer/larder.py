"""The kitchen's own ingredients: kept in its book, and stocked beside the tables.

The stocked catalogue is made anew only when an own ingredient has changed, by this program or by
another; whether one has is one short question to the book.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from balancer.catalogue import Catalogue
from balancer.errors import BadInput, NameTaken, StoreProblem, UnknownIngredient
from balancer.inferring import Inferred, inferred
from balancer.own import Own, own_key
from balancer.own_kept import (
    Kept,
    as_stocked,
    refuse_likeness,
    refuse_table_name,
    stock,
    uses,
)
from balancer.search import plain
from balancer.store import Store, checked_name


@dataclass(frozen=True)
class OwnIngredient:
    """An own ingredient as it is kept.

    Parameters
    ----------
    name : str
    revision : int
        1 for the first saving.
    saved_at : str
        When, ISO 8601 in UTC.
    kept : Kept or None
        None where the document is damaged.
    trouble : str
        Why it cannot be used; empty if it can.
    """

    name: str
    revision: int
    saved_at: str
    kept: Kept | None
    trouble: str = ""


class Larder:
    """Own ingredients over one set of tables and one book.

    Parameters
    ----------
    tables : Catalogue
        Without own ingredients.
    store : callable
        Gives the book.
    """

    def __init__(self, tables: Catalogue, store: Callable[[], Store]) -> None:
        self.tables = tables
        self._store = store
        self._stocked = tables.stocked(recipes=self._recipe)
        self._marks: tuple[Any, ...] = ()
        self._told: tuple[str, ...] = ()

    def _recipe(self, name: str) -> Mapping[str, Any]:
        return self._store().recipe(name).document

    @property
    def catalogue(self) -> Catalogue:
        """The tables, with the own ingredients as they are now and the saved recipes beside them.

        A book that cannot be read leaves the tables as they are; a sentence says so.
        """
        try:
            marks: tuple[Any, ...] = self._store().ingredient_marks()
            if marks != self._marks:
                self._restock()
                self._marks = marks
        except StoreProblem as error:
            if self._marks != (str(error),):
                self._stocked = self.tables.stocked(recipes=self._recipe)
                self._told = (f"Your own ingredients are left out. {error}",)
                self._marks = (str(error),)
        return self._stocked

    def _restock(self) -> None:
        kept = [(i.name, i.document) for i in self._store().ingredients()]
        found = stock(kept, self.tables)
        self._stocked = self.tables.stocked(found.ingredients, self._recipe)
        self._told = found.told

    @property
    def told(self) -> str:
        """Sentences on what was left out; empty for nothing."""
        return " ".join(self._told)

    # --- reading --------------------------------------------------------------------------------

    def all(self) -> tuple[OwnIngredient, ...]:
        """Every own ingredient, by name, those that cannot be used included."""
        found = []
        for saved in self._store().ingredients():
            kept, trouble = None, ""
            try:
                kept = Kept.from_document(saved.name, saved.document)
                as_stocked(kept, self.tables)
            except BadInput as error:
                trouble = str(error)
            found.append(OwnIngredient(saved.name, saved.revision, saved.saved_at, kept, trouble))
        return tuple(found)

    def kept(self, name: str, revision: int | None = None) -> Kept:
        """One own ingredient as it is kept.

        Raises
        ------
        NotSaved
            If there is none of that name.
        BadInput
            If its document is damaged.
        """
        saved = self._store().ingredient(name, revision)
        return Kept.from_document(saved.name, saved.document)

    def used_by(self, name: str) -> tuple[str, ...]:
        """Names of the saved recipes whose last revision uses an own ingredient.

        One that takes a place is used where its own name stands; where the pantry's name stands,
        the pantry's own ingredient is there without it.
        """
        saved = self._store().ingredient(name)
        return self._users(saved.name, bool(saved.document.get("takes_place")))

    def _users(self, name: str, takes_place: bool) -> tuple[str, ...]:
        key = "" if takes_place else own_key(name)
        return tuple(r.name for r in self._store().recipes() if uses(r.document, name, key))

    # --- changing -------------------------------------------------------------------------------

    def save(
        self,
        own: Own,
        *,
        takes_place: bool = False,
        replace_it: bool = False,
        expected_revision: int | None = None,
    ) -> Inferred:
        """Keep an own ingredient; with ``replace_it``, as a new revision of the one of that name.

        Raises
        ------
        BadInput
            If its figures contradict each other, its name cannot be used, or the place that it is
            to take is taken.
        ChangedMeanwhile
            If another revision than the expected one is the last.
        NameTaken
            If the name is in use and ``replace_it`` is false.
        """
        own = replace(own, name=checked_name(own.name, "ingredient"))
        kept = Kept(own, takes_place)
        others = {i.name: i for i in self.all()}
        before = others.pop(own.name, None)
        refuse_likeness(own.name, others)
        try:
            found = as_stocked(kept, self.tables)
        except UnknownIngredient as error:
            self._refuse_circle(own, error.name, [own.name, *others])
            raise
        refuse_table_name(kept, self.tables)
        if takes_place:
            self._refuse_place(found, others)
            if before is not None and before.kept is not None and not before.kept.takes_place:
                self._refuse_moving(own.name)
        self._store().save_ingredient(
            own.name,
            kept.to_document(),
            replace=replace_it,
            expected_revision=expected_revision,
        )
        return found

    def _refuse_circle(self, own: Own, base: str, names: list[str]) -> None:
        if any(plain(base) == plain(name) for name in names):
            raise BadInput(
                f"{own.name}: {base!r} is one of your own ingredients. Name the food of the pantry"
                " or of the table that it is a lot of, or like."
            )

    def _refuse_place(self, found: Inferred, others: Mapping[str, OwnIngredient]) -> None:
        for other in others.values():
            if other.kept is None or not other.kept.takes_place or other.trouble:
                continue
            if as_stocked(other.kept, self.tables).ingredient.key == found.ingredient.key:
                raise BadInput(
                    f"{other.name!r} takes the place of {found.ingredient.name} already. Let that"
                    " one stand beside the pantry first, or edit it."
                )

    def _refuse_moving(self, name: str) -> None:
        users = self._users(name, takes_place=False)
        if users:
            raise BadInput(
                f"{name!r} stands by itself in {_listed(users)}. Duplicate it under another name,"
                " and let the copy take the place for good."
            )

    def duplicate(self, name: str, new: str) -> Inferred:
        """Keep a copy under another name; it stands beside the pantry."""
        kept = self.kept(name)
        return self.save(replace(kept.own, name=new))

    def rename(self, old: str, new: str) -> None:
        """Give an own ingredient another name; refused while a recipe uses it by the old one."""
        kept = self.kept(old)
        new = checked_name(new, "ingredient")
        self._refuse_used(kept.own.name, "Duplicate it under the new name instead.")
        names = [i.name for i in self.all() if i.name != kept.own.name]
        if new in names:
            raise NameTaken(f"An ingredient is called {new!r} already. Choose another name.")
        refuse_likeness(new, names)
        again = replace(kept, own=replace(kept.own, name=new))
        as_stocked(again, self.tables)
        refuse_table_name(again, self.tables)
        self._store().rename_ingredient(kept.own.name, new)

    def delete(self, name: str) -> None:
        """Delete an own ingredient with its revisions; refused while a recipe uses it."""
        saved = self._store().ingredient(name)
        self._refuse_used(saved.name, "Take it out there, or replace it there, first.")
        self._store().delete_ingredient(saved.name)

    def _refuse_used(self, name: str, then: str) -> None:
        users = self.used_by(name)
        if users:
            raise BadInput(f"{name!r} is used by {_listed(users)}. {then}")

    def looked_at(self, own: Own) -> Inferred:
        """What would be kept, without keeping it."""
        return inferred(own, self.tables)


def _listed(names: tuple[str, ...]) -> str:
    shown = ", ".join(repr(n) for n in names[:5])
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return f"the recipe{'s' if len(names) > 1 else ''} {shown}{more}"
