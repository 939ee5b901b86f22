"""The SQLite file of a kitchen book: where it is and how it is opened.

Each operation opens the file, does its work in one transaction and closes it, so that any number
of windows can share a book. What a transaction has left is on the disk.

References
----------
.. [1] SQLite documentation: "Write-Ahead Logging", "Pragma statements" (synchronous),
   "Result and Error Codes".
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

from balancer.errors import StoreProblem
from balancer.store.backup import keep_copy
from balancer.store.schema import is_newer, is_ours, migrate, pragma

FILE_NAME = "kitchen_book.db"

_IN_USE = "is in use by another program. Close that one and try again; nothing was changed"
#: What a result code of SQLite means to a cook, and the next step.
_NEXT_STEP: Mapping[int, str] = {
    sqlite3.SQLITE_BUSY: _IN_USE,
    sqlite3.SQLITE_LOCKED: _IN_USE,
    sqlite3.SQLITE_READONLY: "cannot be written to. Make the file and its folder writable, or set"
    " BALANCER_HOME to a folder that is",
    sqlite3.SQLITE_PERM: "may not be opened. Ask for the right to read and write it",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened or created. Make its folder writable, or set"
    " BALANCER_HOME to a folder that is",
    sqlite3.SQLITE_NOTADB: "is not a database. Move it elsewhere; a new one will be begun",
    sqlite3.SQLITE_CORRUPT: "is damaged. Put a copy of it aside, move it elsewhere, and import"
    " your last export",
    sqlite3.SQLITE_FULL: "has no room left on its disk. Free some space and save again; what"
    " was saved before is safe",
    sqlite3.SQLITE_IOERR: "cannot be read or written: the disk reports a fault or is full. Check"
    " the disk and try again",
}


def data_home() -> Path:
    """Return the folder of the kitchen book.

    It is the folder named by the environment variable BALANCER_HOME, else the user's data folder
    as the operating system has it. The folder need not exist.

    Raises
    ------
    StoreProblem
        If BALANCER_HOME begins with the home of a user who does not exist.
    """
    given = os.environ.get("BALANCER_HOME", "").strip()
    if given:
        try:
            return Path(given).expanduser().absolute()
        except RuntimeError as error:
            raise StoreProblem(
                f"BALANCER_HOME is {given!r}, and no user has that home. Set it to a full path."
            ) from error
    from platformdirs import user_data_path

    return user_data_path("balancer", appauthor=False)


class BookFile:
    """A kitchen book on the disk.

    Parameters
    ----------
    path : Path, optional
        The file; its folder must exist. Without it, the book in :func:`data_home`, whose folder is
        made when something is first saved.
    timeout_s : float
        How long to wait for another program that is writing [s].

    Attributes
    ----------
    last_backup : Path or None
        The copy that was made before this object changed the schema of the file.
    """

    def __init__(self, path: Path | None = None, timeout_s: float = 20.0) -> None:
        self.last_backup: Path | None = None
        self.path = Path(path) if path is not None else data_home() / FILE_NAME
        self._timeout_s = timeout_s
        self._at_home = path is None
        self._seen = False

    @contextmanager
    def transaction(self, *, write: bool) -> Iterator[sqlite3.Connection]:
        """Open the file for one transaction; commit at the end, roll back on any exception.

        Parameters
        ----------
        write : bool
            Whether it may write; a writer waits for its turn before it reads anything.

        Raises
        ------
        StoreProblem
            If the file cannot be opened, read or written, or is not a book this program knows.
        """
        try:
            with closing(self._open(write=write)) as connection:
                connection.execute("BEGIN IMMEDIATE" if write else "BEGIN")
                try:
                    yield connection
                    connection.execute("COMMIT")
                except BaseException:
                    if connection.in_transaction:
                        connection.execute("ROLLBACK")
                    raise
        except sqlite3.Error as error:
            raise self._problem(error) from error
        except OSError as error:
            reason = error.strerror or "the system gives no reason"
            raise StoreProblem(
                f"{self._shown} cannot be reached: {reason}. Check the folder,"
                " or set BALANCER_HOME to another one."
            ) from error

    def _open(self, *, write: bool) -> sqlite3.Connection:
        if self._seen and not self.path.exists():
            raise StoreProblem(
                f"{self._shown} is gone. Plug in the disk it was on, or move it back; to begin a"
                " new one, start the program again."
            )
        self._find_folder(write=write)
        # A book that nobody has written yet reads as an empty one and is not made by looking.
        where = self.path if write or self.path.exists() else ":memory:"
        until = time.monotonic() + self._timeout_s
        while True:
            connection = sqlite3.connect(where, timeout=self._timeout_s, isolation_level=None)
            try:
                self._prepare(connection)
            except BaseException as error:
                connection.close()
                if not _is_busy(error) or time.monotonic() > until:
                    raise
                time.sleep(0.02)
            else:
                self._seen = where != ":memory:"
                return connection

    def _find_folder(self, *, write: bool) -> None:
        folder = self.path.parent
        if folder.is_dir():
            return
        moved = bool(os.environ.get("BALANCER_HOME", "").strip())
        if not self._at_home or (moved and not folder.parent.is_dir()):
            missing = folder.parent if self._at_home else folder
            raise StoreProblem(
                f"The folder {_shown(missing)} does not exist. Make it, or plug in the disk it is"
                " on, or set BALANCER_HOME to another folder."
            )
        if write:
            folder.mkdir(parents=True, exist_ok=True)

    def _prepare(self, connection: sqlite3.Connection) -> None:
        """Check that the file is ours and not newer, before anything in it is touched."""

        if not is_ours(connection):
            raise StoreProblem(
                f"{self._shown} is a database of another program and was left as it is."
                " Move it elsewhere, or set BALANCER_HOME to another folder."
            )
        if is_newer(connection):
            raise StoreProblem(
                f"{self._shown} was written by a newer version of this program and was left as"
                " it is. Update the program to open it."
            )
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        if pragma(connection, "journal_mode") == "delete":
            connection.execute("PRAGMA journal_mode = WAL")
        migrate(connection, self._keep_copy)

    def _keep_copy(self, step: str) -> None:
        self.last_backup = keep_copy(self.path, step)

    @property
    def opened(self) -> str:
        """What happened when the file was opened that the cook should know; often nothing."""
        if self.last_backup is None:
            return ""
        return (
            f"{self._shown} was brought to the form that this version of the program keeps; a copy"
            f" of it as it was is {_shown(self.last_backup)}. Delete the copy when all is well."
        )

    @property
    def _shown(self) -> str:
        return f"The kitchen book {_shown(self.path)}"

    def _problem(self, error: sqlite3.Error) -> StoreProblem:
        next_step = _NEXT_STEP.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
        if next_step is None:
            next_step = f"cannot be used: {error}. Put a copy of it aside before trying again"
        return StoreProblem(f"{self._shown} {next_step}.")


def _is_busy(error: BaseException) -> bool:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _shown(path: Path) -> str:
    """Write a path with the home folder as a tilde."""
    try:
        return str(Path("~") / path.relative_to(Path.home()))
    except (ValueError, RuntimeError):
        return str(path)
