"""What a cook keeps: profiles and recipes by name, and the whole book at once.

Nothing is overwritten: saving again adds a revision, and every revision stays readable.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, TypeAlias

from balancer.errors import BadInput, NameTaken
from balancer.store import records
from balancer.store.checks import (
    LONGEST_NAME,
    Document,
    Kind,
    canonical,
    checked_name,
    profile_document,
    shortened,
)
from balancer.store.exchange import Entry, book_document, entries
from balancer.store.file import BookFile
from balancer.store.records import Row

Clash: TypeAlias = Literal["keep both", "add revisions", "skip"]
_CLASHES: tuple[Clash, ...] = ("keep both", "add revisions", "skip")


@dataclass(frozen=True)
class SavedProfile:
    """A profile as it is kept.

    Parameters
    ----------
    name : str
        Its name.
    levels : mapping of str to float
        Axis to level per 100 g of sauce [axis unit].
    note : str
        The cook's note.
    revision : int
        1 for the first saving.
    saved_at : str
        When, ISO 8601 in UTC.
    """

    name: str
    levels: Mapping[str, float]
    note: str
    revision: int
    saved_at: str


@dataclass(frozen=True)
class SavedRecipe:
    """A recipe as it is kept.

    Parameters
    ----------
    id : int
        Stays the same when the recipe is renamed; never used again.
    name : str
        Its name.
    revision : int
        1 for the first saving.
    saved_at : str
        When, ISO 8601 in UTC.
    document : mapping
        What was saved.
    """

    id: int
    name: str
    revision: int
    saved_at: str
    document: Document


@dataclass(frozen=True)
class Imported:
    """What an import brought in.

    Parameters
    ----------
    profiles, recipes : int
        Entries that were added or got new revisions [1].
    renamed : tuple of str
        Names under which entries were kept beside those of the same name.
    unchanged : int
        Entries passed over because they were there already, or were to be skipped [1].
    """

    profiles: int
    recipes: int
    renamed: tuple[str, ...]
    unchanged: int


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

    def __init__(self, path: Path | None = None, timeout_s: float = 5.0) -> None:
        self._file = BookFile(path, timeout_s)

    @property
    def path(self) -> Path:
        """The file of the book."""
        return self._file.path

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
        return _profile(self._save("profile", name, canonical(document, what), replace))

    def profile(self, name: str) -> SavedProfile:
        """Return the last revision of a profile; raise :class:`NotSaved` if there is none."""
        return _profile(self._load("profile", name, None))

    def profiles(self) -> tuple[SavedProfile, ...]:
        """Return the last revision of every profile, by name."""
        return tuple(_profile(row) for row in self._latest("profile"))

    def rename_profile(self, old: str, new: str) -> None:
        """Give a profile another name; its revisions stay with it."""
        self._rename("profile", old, new)

    def delete_profile(self, name: str) -> None:
        """Delete a profile and all its revisions."""
        self._delete("profile", name)

    # --- recipes --------------------------------------------------------------------------------
    def save_recipe(self, name: str, document: Document, *, replace: bool = False) -> SavedRecipe:
        """Keep a recipe; with ``replace``, as a new revision of the one of that name.

        Parameters
        ----------
        name : str
            See :func:`checked_name`.
        document : mapping
            Plain values that JSON can hold.
        replace : bool
            Whether a recipe of that name may get a new revision.

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
        """
        name = checked_name(name, "recipe")
        text = canonical(document, f"The recipe {shortened(name)!r}")
        return _recipe(self._save("recipe", name, text, replace))

    def recipe(self, name: str, revision: int | None = None) -> SavedRecipe:
        """Return a recipe, its last revision unless another is named."""
        return _recipe(self._load("recipe", name, revision))

    def recipes(self) -> tuple[SavedRecipe, ...]:
        """Return the last revision of every recipe, by name."""
        return tuple(_recipe(row) for row in self._latest("recipe"))

    def rename_recipe(self, old: str, new: str) -> None:
        """Give a recipe another name; its revisions stay with it."""
        self._rename("recipe", old, new)

    def delete_recipe(self, name: str) -> None:
        """Delete a recipe and all its revisions."""
        self._delete("recipe", name)

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
            here, "skip" leaves it out. An entry that is here already is passed over.

        Raises
        ------
        BadInput
            If the document is no kitchen book or an entry in it is damaged.
        """
        if on_clash not in _CLASHES:
            raise BadInput(
                f"{shortened(repr(on_clash))} is no way to settle a name in use."
                f" Choose one of: {', '.join(_CLASHES)}."
            )
        incoming = entries(document)
        added = {"profile": 0, "recipe": 0}
        renamed = []
        with self._file.transaction(write=True) as connection:
            here = {(e.kind, e.name): e for e in records.all_entries(connection)}
            for entry in incoming:
                name = _place(entry, here, on_clash)
                if name is None:
                    continue
                if name != entry.name:
                    renamed.append(name)
                here[entry.kind, name] = entry
                added[entry.kind] += 1
                for revision in entry.revisions:
                    records.insert(connection, entry.kind, name, revision.text, revision.saved_at)
        unchanged = len(incoming) - sum(added.values())
        return Imported(added["profile"], added["recipe"], tuple(renamed), unchanged)

    # --- common to both -------------------------------------------------------------------------
    def _save(self, kind: Kind, name: str, text: str, replace: bool) -> Row:
        with self._file.transaction(write=True) as connection:
            if not replace and records.entry_id(connection, kind, name) is not None:
                raise _taken(kind, name)
            now = datetime.now(UTC).isoformat(timespec="seconds")
            records.insert(connection, kind, name, text, now)
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
            id_ = records.row(connection, kind, old, None).id
            if new != old and records.entry_id(connection, kind, new) is not None:
                raise _taken(kind, new)
            connection.execute("UPDATE entry SET name = ? WHERE id = ?", (new, id_))

    def _delete(self, kind: Kind, name: str) -> None:
        name = checked_name(name, kind)
        with self._file.transaction(write=True) as connection:
            id_ = records.row(connection, kind, name, None).id
            connection.execute("DELETE FROM entry WHERE id = ?", (id_,))


def _profile(row: Row) -> SavedProfile:
    document = json.loads(row.document)
    return SavedProfile(row.name, document["levels"], document["note"], row.number, row.saved_at)


def _recipe(row: Row) -> SavedRecipe:
    return SavedRecipe(row.id, row.name, row.number, row.saved_at, json.loads(row.document))


def _place(entry: Entry, here: Mapping[tuple[Kind, str], Entry], on_clash: Clash) -> str | None:
    """Settle under which name an entry comes in; None where it is to be passed over."""
    texts = [revision.text for revision in entry.revisions]
    name, number = entry.name, 1
    while (old := here.get((entry.kind, name))) is not None:
        last = [revision.text for revision in old.revisions][-len(texts) :]
        if on_clash == "skip" or last == texts:
            return None
        if on_clash == "add revisions":
            return name
        number += 1
        mark = f" ({number})"
        name = entry.name[: LONGEST_NAME - len(mark)] + mark
    return name


def _taken(kind: Kind, name: str) -> NameTaken:
    return NameTaken(
        f"A {kind} is called {shortened(name)!r} already."
        " Choose another name, or ask to replace it: the earlier one is kept as a revision."
    )
