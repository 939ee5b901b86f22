"""A copy of a kitchen book beside it, made before its schema changes.

References
----------
.. [1] SQLite documentation: "SQLite Backup API".
"""

from __future__ import annotations

import filecmp
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import date
from itertools import count
from pathlib import Path


def keep_copy(path: Path, step: str) -> Path:
    """Copy a book as it was last committed; an earlier copy is never overwritten.

    Parameters
    ----------
    path : Path
        The book. Nobody may write to it meanwhile: the caller holds its write lock.
    step : str
        Four digits of the migration to come; they stand in the name of the copy, with the day.

    Returns
    -------
    Path
        The copy; the one that is there already if it holds the very same, so that a migration
        that is tried again and again fills no disk.

    Raises
    ------
    OSError, sqlite3.Error
        If it cannot be written. Nothing is left half-written under the name of a copy.
    """
    draft = path.with_name(f"{path.stem}.before-{step}.unfinished")
    draft.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(path)) as book, closing(sqlite3.connect(draft)) as copy:
            book.backup(copy)
        shutil.copymode(path, draft)
        for number in count(1):
            mark = "" if number == 1 else f".{number}"
            target = path.with_name(
                f"{path.stem}.before-{step}.{date.today().isoformat()}{mark}{path.suffix}"
            )
            if _claimed(target):
                os.replace(draft, target)
                return target
            if target.is_file() and filecmp.cmp(draft, target, shallow=False):
                return target
        raise AssertionError("numbers do not run out")
    finally:
        draft.unlink(missing_ok=True)


def _claimed(target: Path) -> bool:
    """Whether the name was free; it is taken from now on."""
    try:
        target.open("x").close()
    except FileExistsError:
        return False
    return True
