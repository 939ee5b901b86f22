"""The queries of a kitchen book: entries, each with its revisions and rounds."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from balancer.errors import ChangedMeanwhile, NameTaken, NotSaved
from balancer.store.checks import Kind, shortened
from balancer.store.exchange import Entry, Saving


@dataclass(frozen=True)
class Row:
    """One revision or round with the entry it belongs to, as the tables hold them."""

    id: int
    name: str
    number: int
    document: str
    saved_at: str


def entry_id(connection: sqlite3.Connection, kind: Kind, name: str) -> int | None:
    """Return the number by which an entry is known, None if there is no such entry."""
    query = "SELECT id FROM entry WHERE kind = ? AND name = ?"
    found = connection.execute(query, (kind, name)).fetchone()
    return None if found is None else int(found[0])


def known_id(connection: sqlite3.Connection, kind: Kind, name: str) -> int:
    """Return the number by which an entry is known; raise NotSaved if there is no such entry."""
    id_ = entry_id(connection, kind, name)
    if id_ is None:
        raise _not_saved(connection, kind, name)
    return id_


def last_number(connection: sqlite3.Connection, kind: Kind, name: str) -> int:
    """Return the number of the last revision of an entry, 0 if there is no such entry."""
    found = connection.execute(
        "SELECT coalesce(max(number), 0) FROM revision WHERE entry_id = ?",
        (entry_id(connection, kind, name),),
    ).fetchone()
    return int(found[0])


def row(connection: sqlite3.Connection, kind: Kind, name: str, revision: int | None) -> Row:
    """Return a revision of an entry, the last one for None; raise NotSaved if there is none."""
    id_ = known_id(connection, kind, name)
    found = connection.execute(
        "SELECT number, document, saved_at FROM revision WHERE entry_id = ?"
        " AND number = coalesce(?, (SELECT max(number) FROM revision WHERE entry_id = ?))",
        (id_, revision, id_),
    ).fetchone()
    if found is None:
        raise NotSaved(f"The {kind} {shortened(name)!r} has no revision {revision}. Leave it out.")
    return Row(id_, name, *found)


def latest(connection: sqlite3.Connection, kind: Kind) -> list[Row]:
    """Return the last revision of every entry of a kind, by name."""
    # Beside max() the other columns are those of the row that holds the maximum.
    found = connection.execute(
        "SELECT id, name, max(number), document, saved_at FROM entry"
        " JOIN revision ON entry_id = id WHERE kind = ? GROUP BY id ORDER BY name",
        (kind,),
    )
    return [Row(*row) for row in found]


def marks(connection: sqlite3.Connection, kind: Kind) -> tuple[tuple[int, str, int, str], ...]:
    """Return number, name, last revision and its date of every entry of a kind, by name."""
    found = connection.execute(
        "SELECT id, name, max(number), saved_at FROM entry"
        " JOIN revision ON entry_id = id WHERE kind = ? GROUP BY id ORDER BY name",
        (kind,),
    )
    return tuple(found.fetchall())


def rounds(connection: sqlite3.Connection, name: str | None = None) -> list[Row]:
    """Return the rounds of a recipe, of every recipe for None, by name and number."""
    found = connection.execute(
        "SELECT id, name, number, document, saved_at FROM entry JOIN tasting_round ON entry_id = id"
        " WHERE kind = 'recipe' AND name = coalesce(?, name) ORDER BY name, number",
        (name,),
    )
    return [Row(*row) for row in found]


def insert(connection: sqlite3.Connection, kind: Kind, name: str, text: str, when: str) -> None:
    """Add a revision to an entry, and the entry if there is none of that name."""
    connection.execute(
        "INSERT INTO entry (kind, name) VALUES (?, ?) ON CONFLICT DO NOTHING", (kind, name)
    )
    _add(connection, "revision", known_id(connection, kind, name), text, when)


def insert_round(connection: sqlite3.Connection, name: str, text: str, when: str) -> int:
    """Add a round to a recipe and return its number; raise NotSaved if there is no such recipe."""
    return _add(connection, "tasting_round", known_id(connection, "recipe", name), text, when)


def all_entries(connection: sqlite3.Connection) -> Iterator[Entry]:
    """Yield every entry with all its revisions and rounds."""
    listed = connection.execute("SELECT id, kind, name FROM entry ORDER BY kind, name").fetchall()
    for id_, kind, name in listed:
        revisions, tasted = (
            tuple(
                Saving(*row)
                for row in connection.execute(
                    f"SELECT number, document, saved_at FROM {table} WHERE entry_id = ?"
                    " ORDER BY number",
                    (id_,),
                )
            )
            for table in ("revision", "tasting_round")
        )
        yield Entry(kind, name, revisions, tasted)


def taken(kind: Kind, name: str) -> NameTaken:
    """Say that a name is in use."""
    return NameTaken(
        f"{'An' if kind == 'ingredient' else 'A'} {kind} is called {shortened(name)!r} already."
        " Choose another name, or ask to replace it: the earlier one is kept as a revision."
    )


def changed(kind: Kind, name: str, last: int, expected: int) -> ChangedMeanwhile:
    """Say that another revision is the last one."""
    if not last:
        return ChangedMeanwhile(
            f"The {kind} {shortened(name)!r}, of which you have revision {expected}, was deleted or"
            " renamed meanwhile. Save yours under another name; nothing was changed."
        )
    yours = f"you have revision {expected}" if expected else "yours was to be the first"
    return ChangedMeanwhile(
        f"The {kind} {shortened(name)!r} was saved meanwhile: its last revision is {last}, {yours}."
        " Open it again, or save yours under another name; nothing was changed."
    )


def _add(connection: sqlite3.Connection, table: str, id_: int, text: str, when: str) -> int:
    """Add a row under the next number of its entry and return that number."""
    query = f"SELECT coalesce(max(number), 0) + 1 FROM {table} WHERE entry_id = ?"
    number = int(connection.execute(query, (id_,)).fetchone()[0])
    connection.execute(
        f"INSERT INTO {table} (entry_id, number, document, saved_at) VALUES (?, ?, ?, ?)",
        (id_, number, text, when),
    )
    return number


def _not_saved(connection: sqlite3.Connection, kind: Kind, name: str) -> NotSaved:
    import difflib

    rows = connection.execute("SELECT name FROM entry WHERE kind = ? ORDER BY name", (kind,))
    names = [row[0] for row in rows]
    near = difflib.get_close_matches(name, names, n=3, cutoff=0.4) or names[:3]
    hint = f" Nearest: {'; '.join(shortened(n) for n in near)}." if near else ""
    return NotSaved(f"No {kind} is called {shortened(name)!r}.{hint} List what is saved first.")
