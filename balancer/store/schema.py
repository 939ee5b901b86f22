"""The schema of a kitchen book, and the steps that lead to it.

A step is known by its name and never edited; a change of the schema is a step of its own.

References
----------
.. [1] SQLite documentation: "Pragma statements" (application_id, user_version).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime

#: "SAUC" in ASCII: marks a file as a kitchen book.
APPLICATION_ID = 0x53415543
#: Name and statements of each step from an empty file to today's schema; never edit, only add.
MIGRATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "0001 profiles and recipes with their revisions",
        (
            "CREATE TABLE entry (id INTEGER PRIMARY KEY AUTOINCREMENT,"
            " kind TEXT NOT NULL CHECK (kind IN ('profile', 'recipe')),"
            " name TEXT NOT NULL, UNIQUE (kind, name))",
            "CREATE TABLE revision (entry_id INTEGER NOT NULL REFERENCES entry (id)"
            " ON DELETE CASCADE, number INTEGER NOT NULL CHECK (number >= 1),"
            " document TEXT NOT NULL, saved_at TEXT NOT NULL, PRIMARY KEY (entry_id, number))",
        ),
    ),
    (
        "0002 rounds of tasting",
        (
            "CREATE TABLE tasting_round (entry_id INTEGER NOT NULL REFERENCES entry (id)"
            " ON DELETE CASCADE, number INTEGER NOT NULL CHECK (number >= 1),"
            " document TEXT NOT NULL, saved_at TEXT NOT NULL, PRIMARY KEY (entry_id, number))",
        ),
    ),
    (
        # A check cannot be altered, so the tables are built anew. The children go first: dropping
        # their parent would empty them. Numbers of deleted entries stay used.
        "0003 own ingredients",
        (
            "CREATE TABLE new_entry (id INTEGER PRIMARY KEY AUTOINCREMENT,"
            " kind TEXT NOT NULL CHECK (kind IN ('profile', 'recipe', 'ingredient')),"
            " name TEXT NOT NULL, UNIQUE (kind, name))",
            "INSERT INTO new_entry SELECT id, kind, name FROM entry",
            "DELETE FROM sqlite_sequence WHERE name = 'new_entry'",
            "INSERT INTO sqlite_sequence (name, seq)"
            " SELECT 'new_entry', seq FROM sqlite_sequence WHERE name = 'entry'",
            "CREATE TABLE new_revision (entry_id INTEGER NOT NULL REFERENCES new_entry (id)"
            " ON DELETE CASCADE, number INTEGER NOT NULL CHECK (number >= 1),"
            " document TEXT NOT NULL, saved_at TEXT NOT NULL, PRIMARY KEY (entry_id, number))",
            "INSERT INTO new_revision SELECT entry_id, number, document, saved_at FROM revision",
            "CREATE TABLE new_round (entry_id INTEGER NOT NULL REFERENCES new_entry (id)"
            " ON DELETE CASCADE, number INTEGER NOT NULL CHECK (number >= 1),"
            " document TEXT NOT NULL, saved_at TEXT NOT NULL, PRIMARY KEY (entry_id, number))",
            "INSERT INTO new_round SELECT entry_id, number, document, saved_at FROM tasting_round",
            "DROP TABLE tasting_round",
            "DROP TABLE revision",
            "DROP TABLE entry",
            "ALTER TABLE new_entry RENAME TO entry",
            "ALTER TABLE new_revision RENAME TO revision",
            "ALTER TABLE new_round RENAME TO tasting_round",
        ),
    ),
)


def pragma(connection: sqlite3.Connection, name: str) -> int | str:
    """Return the value of a pragma."""
    value: int | str = connection.execute(f"PRAGMA {name}").fetchone()[0]
    return value


def applied(connection: sqlite3.Connection) -> set[str]:
    """Return the names of the steps that a file has taken."""
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    if "migration" not in tables:
        return set()
    return {row[0] for row in connection.execute("SELECT name FROM migration")}


def is_ours(connection: sqlite3.Connection) -> bool:
    """Whether a file is a kitchen book, or holds nothing yet."""
    identity = pragma(connection, "application_id")
    empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    return identity == APPLICATION_ID or (empty and not identity)


def is_newer(connection: sqlite3.Connection) -> bool:
    """Whether a kitchen book has taken a step that this program does not know."""
    if applied(connection) - {name for name, _ in MIGRATIONS}:
        return True
    return int(pragma(connection, "user_version")) > len(MIGRATIONS)


def migrate(connection: sqlite3.Connection, before: Callable[[str], None]) -> None:
    """Take the schema to today's, all steps in one transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        In no transaction.
    before : callable
        Called with the four digits of the first step to come, before anything is changed, if the
        file has taken a step already; nobody else can write meanwhile. What it raises ends the
        migration.
    """
    if len(applied(connection)) == len(MIGRATIONS):
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another program may have taken the steps while this one waited for its turn.
        done = applied(connection)
        ahead = [step for step in MIGRATIONS if step[0] not in done]
        if done and ahead:
            before(ahead[0][0][:4])
        connection.execute(
            "CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY, applied_at TEXT NOT NULL)"
        )
        for name, statements in ahead:
            for statement in statements:
                connection.execute(statement)
            now = datetime.now(UTC).isoformat()
            connection.execute("INSERT INTO migration VALUES (?, ?)", (name, now))
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
