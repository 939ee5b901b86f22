"""What a cook keeps: profiles, recipes with their rounds of tasting, own ingredients, the book.

Nothing is overwritten: saving again adds a revision, and every revision and round stays readable.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from balancer.errors import BadInput
from balancer.store import records
from balancer.store.checks import (
    Document,
    Kind,
    canonical,
    checked_name,
    profile_document,
    shortened,
)
from balancer.store.exchange import book_document, entries
from balancer.store.file import BookFile
from balancer.store.merge import CLASHES, Clash, arrivals
from balancer.store.records import Row
from balancer.store.saved import (
    Imported,
    SavedIngredient,
    SavedProfile,
    SavedRecipe,
    SavedRound,
    ingredient_of,
    profile_of,
    recipe_of,
    round_of,
)


class Store:
    """A kitchen book.

    Parameters
    ----------
    path : Path, optional
        The file; its folder must exist. Without it, the book in :func:`data_home`, whose folder is
        made when something is first saved.
    timeout_s : float
        How long to wait for another program that is writing [s].
    """

    def __init__(self, path: Path | None = None, timeout_s: float = 20.0) -> None:
        self._file = BookFile(path, timeout_s)

    @property
    def path(self) -> Path:
        """The file of the book."""
        return self._file.path

    @property
    def last_backup(self) -> Path | None:
        """The copy that was made before this store changed the schema of an older book."""
        return self._file.last_backup

    @property
    def opened(self) -> str:
        """What the cook should be told of the opening, such as where a copy is; "" for nothing."""
        return self._file.opened

    # --- profiles -------------------------------------------------------------------------------
    def save_profile(
        self, name: str, levels: Mapping[str, float], note: str = "", *, replace: bool = False
    ) -> SavedProfile:
        """Keep a profile; with ``replace``, as a new revision of the one of that name.

        Raises
        ------
        BadInput
            If the name or a level cannot be kept.
        NameTaken
            If the name is in use and ``replace`` is false.
        StoreProblem
            If the book cannot be written; this holds for every method that saves.
        """
        name = checked_name(name, "profile")
        what = f"The profile {shortened(name)!r}"
        document = profile_document({"levels": levels, "note": note}, what)
        return profile_of(self._save("profile", name, canonical(document, what), replace))

    def profile(self, name: str) -> SavedProfile:
        """Return the last revision of a profile; raise :class:`NotSaved` if there is none."""
        return profile_of(self._load("profile", name, None))

    def profiles(self) -> tuple[SavedProfile, ...]:
        """Return the last revision of every profile, by name."""
        return tuple(profile_of(row) for row in self._latest("profile"))

    def rename_profile(self, old: str, new: str) -> None:
        """Give a profile another name; its revisions stay with it."""
        self._rename("profile", old, new)

    def delete_profile(self, name: str) -> None:
        """Delete a profile and all its revisions."""
        self._delete("profile", name)

    # --- recipes --------------------------------------------------------------------------------
    def save_recipe(
        self,
        name: str,
        document: Document,
        *,
        replace: bool = False,
        expected_revision: int | None = None,
    ) -> SavedRecipe:
        """Keep a recipe; with ``replace``, as a new revision of the one of that name.

        Parameters
        ----------
        name : str
            See :func:`checked_name`.
        document : mapping
            Plain values that JSON can hold.
        replace : bool
            Whether a recipe of that name may get a new revision.
        expected_revision : int, optional
            The revision that is to be the last one so far, 0 for a new recipe. If it is, the
            document becomes the next revision, whatever ``replace`` says.

        Returns
        -------
        SavedRecipe
            What is now on the disk, with its revision.

        Raises
        ------
        BadInput
            If the name or the document cannot be kept.
        NameTaken
            If the name is in use and ``replace`` is false.
        ChangedMeanwhile
            If another revision than the expected one is the last; nothing is saved then.
        """
        name = checked_name(name, "recipe")
        text = canonical(document, f"The recipe {shortened(name)!r}")
        return recipe_of(self._save("recipe", name, text, replace, expected_revision))

    def recipe(self, name: str, revision: int | None = None) -> SavedRecipe:
        """Return a recipe, its last revision unless another is named."""
        return recipe_of(self._load("recipe", name, revision))

    def recipes(self) -> tuple[SavedRecipe, ...]:
        """Return the last revision of every recipe, by name."""
        return tuple(recipe_of(row) for row in self._latest("recipe"))

    def rename_recipe(self, old: str, new: str) -> None:
        """Give a recipe another name; its revisions and rounds stay with it."""
        self._rename("recipe", old, new)

    def delete_recipe(self, name: str) -> None:
        """Delete a recipe with all its revisions and rounds."""
        self._delete("recipe", name)

    # --- ingredients of the kitchen's own -------------------------------------------------------
    def save_ingredient(
        self,
        name: str,
        document: Document,
        *,
        replace: bool = False,
        expected_revision: int | None = None,
    ) -> SavedIngredient:
        """Keep an ingredient of the kitchen's own; parameters and refusals as for a recipe."""
        name = checked_name(name, "ingredient")
        text = canonical(document, f"The ingredient {shortened(name)!r}")
        return ingredient_of(self._save("ingredient", name, text, replace, expected_revision))

    def ingredient(self, name: str, revision: int | None = None) -> SavedIngredient:
        """Return an ingredient, its last revision unless another is named."""
        return ingredient_of(self._load("ingredient", name, revision))

    def ingredients(self) -> tuple[SavedIngredient, ...]:
        """Return the last revision of every ingredient, by name."""
        return tuple(ingredient_of(row) for row in self._latest("ingredient"))

    def ingredient_marks(self) -> tuple[tuple[int, str, int, str], ...]:
        """Return what changes when any ingredient does, without reading their documents."""
        with self._file.transaction(write=False) as connection:
            return records.marks(connection, "ingredient")

    def rename_ingredient(self, old: str, new: str) -> None:
        """Give an ingredient another name; its revisions stay with it."""
        self._rename("ingredient", old, new)

    def delete_ingredient(self, name: str) -> None:
        """Delete an ingredient and all its revisions."""
        self._delete("ingredient", name)

    # --- rounds of tasting ----------------------------------------------------------------------
    def save_round(self, recipe_name: str, document: Document) -> SavedRound:
        """Keep a round of tasting beside those that its recipe has already.

        Parameters
        ----------
        recipe_name : str
            Name of the recipe that was tasted.
        document : mapping
            Plain values that JSON can hold.

        Returns
        -------
        SavedRound
            What is now on the disk, with a number of its own.

        Raises
        ------
        BadInput
            If the document cannot be kept.
        NotSaved
            If no recipe has that name.
        """
        name = checked_name(recipe_name, "recipe")
        text = canonical(document, f"The round of tasting of {shortened(name)!r}")
        now = _now()
        with self._file.transaction(write=True) as connection:
            number = records.insert_round(connection, name, text, now)
            id_ = records.known_id(connection, "recipe", name)
        return round_of(Row(id_, name, number, text, now))

    def rounds(self, recipe_name: str) -> tuple[SavedRound, ...]:
        """Return the rounds of a recipe by number, the oldest in this book first.

        Raises
        ------
        NotSaved
            If no recipe has that name.
        """
        name = checked_name(recipe_name, "recipe")
        with self._file.transaction(write=False) as connection:
            records.known_id(connection, "recipe", name)
            rows = records.rounds(connection, name)
        return tuple(round_of(row) for row in rows)

    def all_rounds(self) -> dict[str, tuple[SavedRound, ...]]:
        """Return the rounds of every recipe, by its name; none for one that was not tasted."""
        with self._file.transaction(write=False) as connection:
            names = [row.name for row in records.latest(connection, "recipe")]
            rows = records.rounds(connection)
        found: dict[str, list[SavedRound]] = {name: [] for name in names}
        for row in rows:
            found[row.name].append(round_of(row))
        return {name: tuple(rounds) for name, rounds in found.items()}

    # --- the whole book -------------------------------------------------------------------------
    def export_all(self) -> dict[str, Any]:
        """Return the whole book as one document that JSON can hold."""
        with self._file.transaction(write=False) as connection:
            return book_document(tuple(records.all_entries(connection)))

    def import_all(self, document: Document, on_clash: Clash = "keep both") -> Imported:
        """Bring in an exported book, all of it or nothing.

        Parameters
        ----------
        document : mapping
            What :meth:`export_all` returned, read back with :func:`read_document`.
        on_clash : str
            What to do with an entry whose name is in use for something else: "keep both" gives
            the one that comes in a number, "add revisions" adds its revisions on top of those
            here, and its rounds after those here. An entry that is here already, or begins with
            the last revisions here, gets only the revisions and rounds that are missing. "skip"
            leaves out every entry whose name is in use.

        Raises
        ------
        BadInput
            If the document is no kitchen book or an entry in it is damaged.
        """
        if on_clash not in CLASHES:
            raise BadInput(
                f"{shortened(repr(on_clash))} is no way to settle a name in use."
                f" Choose one of: {', '.join(CLASHES)}."
            )
        incoming = entries(document)
        added: dict[Kind, int] = {"profile": 0, "recipe": 0, "ingredient": 0}
        renamed, rounds = [], 0
        with self._file.transaction(write=True) as connection:
            here = {(e.kind, e.name): e for e in records.all_entries(connection)}
            for entry, new in arrivals(incoming, here, on_clash):
                if new.name != entry.name:
                    renamed.append(new.name)
                added[entry.kind] += 1
                rounds += len(new.rounds)
                for r in new.revisions:
                    records.insert(connection, new.kind, new.name, r.text, r.saved_at)
                for r in new.rounds:
                    records.insert_round(connection, new.name, r.text, r.saved_at)
        unchanged = len(incoming) - sum(added.values())
        return Imported(
            added["profile"],
            added["recipe"],
            tuple(renamed),
            unchanged,
            rounds,
            added["ingredient"],
        )

    # --- common to all --------------------------------------------------------------------------
    def _save(
        self, kind: Kind, name: str, text: str, replace: bool, expected: int | None = None
    ) -> Row:
        with self._file.transaction(write=True) as connection:
            last = records.last_number(connection, kind, name)
            if expected is not None and last != expected:
                raise records.changed(kind, name, last, expected)
            if expected is None and last and not replace:
                raise records.taken(kind, name)
            records.insert(connection, kind, name, text, _now())
            return records.row(connection, kind, name, None)

    def _load(self, kind: Kind, name: str, revision: int | None) -> Row:
        name = checked_name(name, kind)
        with self._file.transaction(write=False) as connection:
            return records.row(connection, kind, name, revision)

    def _latest(self, kind: Kind) -> list[Row]:
        with self._file.transaction(write=False) as connection:
            return records.latest(connection, kind)

    def _rename(self, kind: Kind, old: str, new: str) -> None:
        old, new = checked_name(old, kind), checked_name(new, kind)
        with self._file.transaction(write=True) as connection:
            id_ = records.known_id(connection, kind, old)
            if new != old and records.entry_id(connection, kind, new) is not None:
                raise records.taken(kind, new)
            connection.execute("UPDATE entry SET name = ? WHERE id = ?", (new, id_))

    def _delete(self, kind: Kind, name: str) -> None:
        name = checked_name(name, kind)
        with self._file.transaction(write=True) as connection:
            id_ = records.known_id(connection, kind, name)
            connection.execute("DELETE FROM entry WHERE id = ?", (id_,))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
