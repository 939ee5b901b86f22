"""Crashes and full disks: whatever was reported as saved is in the book afterwards.

What these runs cannot show: a power cut, after which the disk itself may have lost what it said it
had written. SQLite's documentation claims that a file in WAL mode with synchronous FULL survives
that too; nothing here proves it.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from tally import Row, not_a_sentence
from writer import SHARED, checksum

from balancer.errors import BalancerError
from balancer.store import Store

HERE = Path(__file__).parent
FIXTURES = HERE.parent / "fixtures"
NOBODY = 65534
KINDS = ("profile", "recipe", "ingredient", "round")
#: Every third kill falls within this time after the start [s]; the others this soon after one of
#: the first savings [s], so that they hit the next ones.
LONGEST_START, LONGEST_AFTER, MOST_BEFORE = 0.4, 0.03, 25
BACKWARDS = """
import datetime, time
_real, _calls = datetime.datetime, [0]
class Backwards(_real):
    @classmethod
    def now(cls, tz=None):
        _calls[0] += 1
        return _real.now(tz) - datetime.timedelta(hours=_calls[0])
datetime.datetime = Backwards
_time = time.time
time.time = lambda: _time() - 3600.0 * _calls[0]
"""


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that any user of the machine may write to."""
    folder = Path(tempfile.mkdtemp(prefix="book-"))
    folder.chmod(0o777)
    try:
        yield folder
    finally:
        folder.chmod(0o777)
        shutil.rmtree(folder)


def started(book: Path, mark: str, *options: str, hook: Path | None = None) -> Any:
    """Start a writer; with a hook, a folder that Python looks into before anything else."""
    command = [sys.executable, str(HERE / "writer.py"), str(book), mark, *options]
    environment = {**os.environ}
    if hook is not None:
        environment["PYTHONPATH"] = os.pathsep.join(
            [str(hook), *filter(None, [environment.get("PYTHONPATH")])]
        )
    pipe = subprocess.PIPE
    # unbuffered, so that what is read line by line and what is left at the end are all of it
    return subprocess.Popen(command, bufsize=0, stdout=pipe, stderr=pipe, env=environment)


def reports(raw: bytes) -> list[list[Any]]:
    """What a writer reported; a line that was cut off was not reported."""
    return [json.loads(line) for line in raw.split(b"\n")[:-1] if line]


def ended(child: Any, *, kill: bool = True) -> list[list[Any]]:
    """Kill a writer, or wait for its end, and read what it reported; a traceback is a refusal."""
    if kill:
        child.send_signal(signal.SIGKILL)
    raw, errors = child.communicate()
    said = reports(raw)
    return [*said, ["refused", "", errors.decode()]] if b"Traceback" in errors else said


def first_line(child: Any) -> list[Any]:
    """Wait for the next report."""
    line: list[Any] = json.loads(child.stdout.readline())
    return line


def faults(book: Path, said: Iterable[Sequence[Any]]) -> list[str]:
    """What is missing of what was reported, and whether the file is whole."""
    found = []
    with closing(sqlite3.connect(book)) as connection:
        for pragma in ("integrity_check", "foreign_key_check"):
            answer = connection.execute(f"PRAGMA {pragma}").fetchall()
            if answer not in ([], [("ok",)]):
                found.append(f"{pragma} says {answer[:3]}")
    try:
        kept = Store(book).export_all()
    except BalancerError as error:
        return [*found, f"the next start was refused: {error}"]
    there: dict[tuple[str, str, int], int] = {}
    for kind in ("profile", "recipe", "ingredient"):
        for entry in kept[f"{kind}s"]:
            for one in entry["revisions"]:
                document = one["document"]["levels"] if kind == "profile" else one["document"]
                there[kind, entry["name"], one["number"]] = checksum(document)
            for one in entry.get("rounds", ()):
                there["round", entry["name"], one["number"]] = checksum(one["document"])
    for kind, name, number, check in (s for s in said if s[0] in KINDS):
        if there.get((kind, name, number)) != check:
            found.append(f"{kind} {name!r} {number} was reported and is not there")
    return found


def refusals(said: Iterable[Sequence[Any]]) -> tuple[int, list[str]]:
    """How many refusals there were, and those that are no sentence for a cook."""
    sentences = [s[2] for s in said if s[0] == "refused"]
    bad = {f"{why}: {text}" for text in sentences if (why := not_a_sentence(text))}
    return len(sentences), sorted(bad)


def saved(said: Iterable[Sequence[Any]]) -> int:
    """How many savings were reported."""
    return sum(s[0] in KINDS for s in said)


def new_book(book: Path) -> Path:
    """A book with the one recipe that the writers share."""
    Store(book).save_recipe(SHARED, {"on": 0})
    return book


def killed(folder: Path, times: int) -> Row:
    """SIGKILL at random moments, every tenth book one of version 1 that has to be migrated."""
    rng = random.Random(times)
    lost: list[str] = []
    total, said, book = 0, [], folder / "none.db"
    for run in range(times):
        if run % 10 == 0:
            book, said = folder / str(run) / "book.db", []
            book.parent.mkdir()
            if run % 20 == 10:
                shutil.copy(FIXTURES / "kitchen_book_v1.db", book)
            else:
                new_book(book)
        child = started(book, f"run {run}", "--seed", str(run))
        new = []
        if run % 3:
            new = [first_line(child) for _ in range(rng.randint(1, MOST_BEFORE))]
        time.sleep(rng.uniform(0.0, LONGEST_AFTER if run % 3 else LONGEST_START))
        new += ended(child)
        said += new
        total += saved(new)
        lost += [f"kill {run}: {text}" for text in [*faults(book, said), *refusals(new)[1]]]
        # the book that was migrated has no shared recipe yet: the next life goes on with it
        if not any(r.name == SHARED for r in Store(book).recipes()):
            new_book(book)
        lost += [f"kill {run}: {text} was left" for text in _leftovers(book.parent)]
    return Row(
        "SIGKILL at a random moment of saving, of starting or of migrating",
        f"{times} kills",
        tuple(lost),
        f"{total} savings reported",
    )


def _leftovers(folder: Path) -> list[str]:
    known = ("book.db", "book.db-wal", "book.db-shm")
    return [p.name for p in folder.iterdir() if p.name not in known and ".before-" not in p.name]


def backwards(folder: Path, savings: int) -> Row:
    """The clock of the machine jumps back by an hour at every reading."""
    hook = folder / "hook"
    hook.mkdir()
    (hook / "sitecustomize.py").write_text(BACKWARDS, encoding="utf-8")
    book = new_book(folder / "book.db")
    child = started(book, "late", "--savings", str(savings), hook=hook)
    said = ended(child, kill=False)
    lost = faults(book, said)
    store = Store(book)
    times = [r.saved_at for r in store.rounds(SHARED)]
    if len(times) < 2 or times != sorted(times, reverse=True):
        lost.append("the clock did not run backwards, so nothing was tried")
    for kind in KINDS[:3]:
        last: dict[str, int] = {}
        for s in said:
            if s[0] == kind:
                last[s[1]] = s[2]
        read: Callable[[str], Any] = getattr(store, kind)
        lost += [f"{kind} {n!r} reads as another" for n, r in last.items() if read(n).revision != r]
    lost += refusals(said)[1]
    return Row(
        "a clock that jumps back an hour at every reading",
        f"{saved(said)} savings",
        tuple(lost),
        "dates run backwards, numbers do not",
    )


def as_nobody() -> tuple[str, ...]:
    """Options that make file modes count for the writer."""
    return ("--as-user", str(NOBODY)) if os.geteuid() == 0 else ()
