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
        mark, number = "", 1
        while True:
            day = date.today().isoformat()
            target = path.with_name(f"{path.stem}.before-{step}.{day}{mark}{path.suffix}")
            if not os.path.lexists(target):
                draft.rename(target)
                return target
            if target.is_file() and filecmp.cmp(draft, target, shallow=False):
                return target
            number += 1
            mark = f".{number}"
    finally:
        draft.unlink(missing_ok=True)
