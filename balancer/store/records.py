"""The queries of a kitchen book: entries, each with its revisions."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from balancer.errors import NotSaved
from balancer.store.checks import Kind, shortened
from balancer.store.exchange import Entry, Revision


@dataclass(frozen=True)
class Row:
    """One revision with the entry it belongs to, as the tables hold them."""

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


def row(connection: sqlite3.Connection, kind: Kind, name: str, revision: int | None) -> Row:
    """Return a revision of an entry, the last one for None; raise NotSaved if there is none."""
    id_ = entry_id(connection, kind, name)
    if id_ is None:
        raise _not_saved(connection, kind, name)
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


def insert(connection: sqlite3.Connection, kind: Kind, name: str, text: str, when: str) -> None:
    """Add a revision to an entry, and the entry if there is none of that name."""
    connection.execute(
        "INSERT INTO entry (kind, name) VALUES (?, ?) ON CONFLICT DO NOTHING", (kind, name)
    )
    connection.execute(
        "INSERT INTO revision (entry_id, number, document, saved_at)"
        " SELECT :id, coalesce(max(number), 0) + 1, :text, :at FROM revision WHERE entry_id = :id",
        {"id": entry_id(connection, kind, name), "text": text, "at": when},
    )


def all_entries(connection: sqlite3.Connection) -> Iterator[Entry]:
    """Yield every entry with all its revisions."""
    listed = connection.execute("SELECT id, kind, name FROM entry ORDER BY kind, name").fetchall()
    for id_, kind, name in listed:
        rows = connection.execute(
            "SELECT number, document, saved_at FROM revision WHERE entry_id = ? ORDER BY number",
            (id_,),
        )
        yield Entry(kind, name, tuple(Revision(*row) for row in rows))


def _not_saved(connection: sqlite3.Connection, kind: Kind, name: str) -> NotSaved:
    import difflib

    rows = connection.execute("SELECT name FROM entry WHERE kind = ? ORDER BY name", (kind,))
    names = [row[0] for row in rows]
    near = difflib.get_close_matches(name, names, n=3, cutoff=0.4) or names[:3]
    hint = f" Nearest: {'; '.join(shortened(n) for n in near)}." if near else ""
    return NotSaved(f"No {kind} is called {shortened(name)!r}.{hint} List what is saved first.")
