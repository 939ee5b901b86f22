"""Books of every version: opened and migrated, refused untouched, or left as they were."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from hard_crashes import FIXTURES
from tally import Row, not_a_sentence

from balancer.errors import StoreProblem
from balancer.store import Store, schema

OPENER = """
import resource, sys
from pathlib import Path
from balancer.errors import BalancerError
from balancer.store import Store
if len(sys.argv) > 2:
    hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), hard))
print("ready", flush=True)
try:
    print(len(Store(Path(sys.argv[1])).recipes()))
except BalancerError as error:
    print("refused", error)
"""
#: What a later program might have left behind, each alone enough to be newer.
NEWER = (
    ("PRAGMA user_version = 99",),
    ("INSERT INTO migration VALUES ('9999 photographs', '2041-05-01')",),
    (
        "CREATE TABLE photograph (entry_id INTEGER)",
        "INSERT INTO migration VALUES ('9999 photographs', '2041-05-01')",
        "PRAGMA user_version = 99",
    ),
)


def today() -> int:
    """The version of the schema that the program writes."""
    return len(schema.MIGRATIONS)


def fixture(version: int, folder: Path) -> Path:
    """A book as the program of that version wrote it."""
    folder.mkdir(parents=True, exist_ok=True)
    name = f"kitchen_book_v{version}.db"
    return Path(shutil.copy(FIXTURES / name, folder / "kitchen_book.db"))


def dumped(book: Path) -> list[str]:
    """All that a book holds, as statements."""
    with closing(sqlite3.connect(book)) as connection:
        return [*connection.iterdump()]


def contents(exported: dict[str, Any]) -> list[Any]:
    """Names, revisions and rounds of an export of any version, for comparison."""
    return [
        (section, e["name"], e["revisions"], e.get("rounds", []))
        for section in ("profiles", "recipes")
        for e in exported[section]
    ]


def every_version(folder: Path) -> Row:
    """Each older book opens, keeps its content, and is copied before it is changed."""
    lost = []
    versions = range(1, today())
    for version in versions:
        what = f"version {version}"
        if not (FIXTURES / f"kitchen_book_v{version}.db").is_file():
            lost.append(f"{what} has no fixture")
            continue
        book = fixture(version, folder / str(version))
        old = dumped(book)
        exported = json.loads((FIXTURES / f"kitchen_book_v{version}.json").read_text("utf-8"))
        store = Store(book)
        if contents(store.export_all()) != contents(exported):
            lost.append(f"{what} reads otherwise than it was written")
        copy = store.last_backup
        if copy is None or dumped(copy) != old:
            lost.append(f"{what} was migrated without a faithful copy")
        elif copy.name not in store.opened or not_a_sentence(store.opened):
            lost.append(f"{what}: the cook is told {store.opened!r}")
        store.save_recipe("new", {})
        with closing(sqlite3.connect(book)) as connection:
            if schema.pragma(connection, "user_version") != today():
                lost.append(f"{what} was not taken to today's version")
    newest = max((int(p.stem[14:]) for p in FIXTURES.glob("kitchen_book_v*.db")), default=0)
    if newest > today():
        lost.append(f"there is a fixture of version {newest}, which this program does not know")
    return Row(
        "a book of every earlier version",
        f"versions {', '.join(map(str, versions))}; today's is {today()}",
        tuple(lost),
        "content equal, copy equal, path of the copy told",
    )


def newer(folder: Path) -> Row:
    """A book of a later version is refused, and not one byte of it changes."""
    lost = []
    for i, statements in enumerate(NEWER):
        book = folder / str(i) / "kitchen_book.db"
        book.parent.mkdir(parents=True)
        Store(book).save_recipe("plum dip", {"n": 1})
        with closing(sqlite3.connect(book)) as connection, connection:
            for statement in statements:
                connection.execute(statement)
        before, files = book.read_bytes(), sorted(p.name for p in book.parent.iterdir())
        store = Store(book)
        for act in (store.recipes, store.export_all, lambda s=store: s.save_recipe("x", {})):
            try:
                act()
                lost.append(f"{statements[0]!r} was not refused")
            except StoreProblem as error:
                why = not_a_sentence(str(error))
                if why or "newer version" not in str(error):
                    lost.append(f"{statements[0]!r} is refused with {error}: {why}")
        if book.read_bytes() != before:
            lost.append(f"{statements[0]!r}: the file was changed")
        if sorted(p.name for p in book.parent.iterdir()) != files:
            lost.append(f"{statements[0]!r}: files were left beside it")
    return Row(
        "a book of a newer version",
        f"{len(NEWER)} kinds, {3 * len(NEWER)} attempts",
        tuple(lost),
        "bytes equal afterwards",
    )


def opened_by_child(book: Path, quota_bytes: int | None = None) -> str:
    """What another process says on opening a book, under a quota if one is given."""
    options = [] if quota_bytes is None else [str(quota_bytes)]
    command = [sys.executable, "-c", OPENER, str(book), *options]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.stdout.removeprefix("ready\n").strip() + done.stderr


def half_way(folder: Path, quotas_kb: Sequence[int], kills: int) -> Row:
    """Migrations that fail or are killed in the middle leave the old book, of every version."""
    lost: list[str] = []
    refused = early = 0
    for version in range(1, today()):
        bad, stopped, old = _half_way(folder / str(version), version, quotas_kb, kills)
        lost += [f"version {version}, {text}" for text in bad]
        refused, early = refused + stopped, early + old
    return Row(
        "a migration that fails half-way: quota, a step that cannot be taken, SIGKILL",
        f"{today() - 1} versions, each with {len(quotas_kb)} quotas, 1 step, {kills} kills",
        tuple(lost),
        f"{refused} refused by the quota, {early} killed before the change was complete",
    )


def _half_way(
    folder: Path, old_version: int, quotas_kb: Sequence[int], kills: int
) -> tuple[list[str], int, int]:
    lost = []
    refused = early = 0
    for size in quotas_kb:
        book = fixture(old_version, folder / f"quota {size}")
        old = dumped(book)
        said = opened_by_child(book, 1024 * size)
        if said.startswith("refused"):
            refused += 1
            why = not_a_sentence(said.removeprefix("refused "))
            lost += [f"quota of {size} kB: {why}: {said}"] if why else []
            if dumped(book) != old:
                lost.append(f"quota of {size} kB: the old state is gone")
        elif not said.isdigit():
            lost.append(f"quota of {size} kB: {said}")
        lost += _in_order(book, old, old_version, f"quota of {size} kB")
    if not refused:
        lost.append("no quota stopped the migration, so nothing was tried")
    # a step that cannot be taken, because something stands where it would build
    book = fixture(old_version, folder / "in the way")
    with closing(sqlite3.connect(book)) as connection, connection:
        built = re.findall(r"CREATE TABLE (\w+)", " ".join(schema.MIGRATIONS[-1][1]))
        connection.execute(f"CREATE VIEW {built[-1]} AS SELECT 1")
    old = dumped(book)
    said = opened_by_child(book)
    if not said.startswith("refused") or not_a_sentence(said.removeprefix("refused ")):
        lost.append(f"a step that cannot be taken: {said}")
    if dumped(book) != old:
        lost.append("a step that cannot be taken changed the book")
    for run in range(kills):
        book = fixture(old_version, folder / f"kill {run}")
        old = dumped(book)
        command = [sys.executable, "-c", OPENER, str(book)]
        child: subprocess.Popen[bytes] = subprocess.Popen(command, stdout=subprocess.PIPE)
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(0.0015 * (run % 60))
        child.kill()
        child.communicate()
        with closing(sqlite3.connect(book)) as connection:
            early += len(schema.applied(connection)) == old_version
        lost += _in_order(book, old, old_version, f"kill {run}")
    return lost, refused, early


def _in_order(book: Path, old: list[str], version: int, what: str) -> list[str]:
    """Whether the next start goes well, with a copy of the old state beside it."""
    with closing(sqlite3.connect(book)) as connection:
        was_old = len(schema.applied(connection)) < today()
        whole = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    found = [] if whole else [f"{what}: the file is damaged"]
    if was_old and dumped(book) != old:
        found.append(f"{what}: the book is neither old nor new")
    exported = json.loads((FIXTURES / f"kitchen_book_v{version}.json").read_text("utf-8"))
    try:
        if contents(Store(book).export_all()) != contents(exported):
            found.append(f"{what}: the content is another")
    except StoreProblem as error:
        found.append(f"{what}: the next start is refused: {error}")
    copies = [*book.parent.glob("*.before-*.db")]
    if not copies or any(dumped(copy) != old for copy in copies):
        found.append(f"{what}: no faithful copy of the old state")
    return found
