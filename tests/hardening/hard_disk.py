"""A disk that is full, read-only or gone: what was saved before stays, and the cook reads why."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from hard_crashes import (
    as_nobody,
    ended,
    faults,
    first_line,
    new_book,
    open_folder,
    refusals,
    saved,
    started,
)
from tally import Row, not_a_sentence
from writer import SHARED

from balancer.errors import BalancerError
from balancer.store import Store

#: A book that lives on starts with a few savings before anything is taken away from it.
FIRST = 6
#: The writer gives up after so many refusals: small savings may still fit after a large one.
TIRED = ("--refusals", "25", "--seconds", "60")


class NoMount(Exception):
    """This user may not mount a file system of its own."""


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[None]:
    """A tmpfs of its own over a folder."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k,mode=0777", "tmpfs", str(folder)]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    if made.returncode:
        raise NoMount(f"a tmpfs cannot be mounted here: {made.stderr.strip() or made.returncode}")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def may_mount(folder: Path) -> str:
    """Why no tmpfs can be mounted; empty where one can."""
    if sys.platform != "linux":
        return "a tmpfs needs Linux"
    try:
        with small_disk(folder, 64):
            return ""
    except (NoMount, OSError) as error:
        return str(error)


def goes_on(book: Path, said: list[list[Any]], what: str) -> list[str]:
    """What is missing, and whether the next saving succeeds without a repair."""
    found = [f"{what}: {text}" for text in faults(book, said)]
    try:
        Store(book).save_recipe("the next", {"n": 1})
    except BalancerError as error:
        found.append(f"{what}: the next saving was refused: {error}")
    return found


def read_while_full(book: Path) -> str:
    """What a cook reads who opens the book while the disk is full; empty where it opens."""
    try:
        Store(book).recipes()
    except BalancerError as error:
        return str(error)
    return ""


def full(folder: Path, sizes: Sequence[int]) -> Row:
    """A tmpfs fills up under the writer, gets more room, and the writer goes on."""
    lost: list[str] = []
    total = refused = unread = 0
    for size in sizes:
        disk = folder / f"disk {size}"
        disk.mkdir()
        with small_disk(disk, size):
            book = disk / "book.db"
            what = f"tmpfs of {size} kB"
            try:
                new_book(book)
            except BalancerError as error:
                lost += [f"{what}: {why}" for why in [not_a_sentence(str(error))] if why]
                refused += 1
                continue
            child = started(book, "full", "--seed", str(size), *TIRED)
            said = ended(child, kill=False)
            number, bad = refusals(said)
            if not number:
                lost.append(f"{what} did not fill up, so nothing was tried")
            lost += [f"{what}: {text}" for text in bad]
            text = read_while_full(book)
            unread += bool(text)
            lost += [f"{what}: {text}: {why}" for why in [not_a_sentence(text)] if text and why]
            subprocess.run(["mount", "-o", "remount,size=64m", str(disk)], check=True)
            lost += goes_on(book, said, what)
            total, refused = total + saved(said), refused + number
    return Row(
        "a disk that fills up (tmpfs), then has room again",
        f"{len(sizes)} sizes from {min(sizes)} to {max(sizes)} kB",
        tuple(lost),
        f"{total} savings reported, {refused} refused; {unread} of {len(sizes)} books could not be"
        " read while the disk was full",
    )


def quota(folder: Path, sizes: Sequence[int]) -> Row:
    """A quota on the size of a file (RLIMIT_FSIZE), which holds for any user."""
    lost: list[str] = []
    total = refused = 0
    for size in sizes:
        book = new_book(folder / f"{size}.db")
        options = ("--largest-file", str(1024 * size), "--seed", str(size), *TIRED)
        said = ended(started(book, "quota", *options), kill=False)
        number, bad = refusals(said)
        what = f"quota of {size} kB"
        if not number:
            lost.append(f"{what} was not reached, so nothing was tried")
        lost += [f"{what}: {text}" for text in bad]
        lost += goes_on(book, said, what)
        total, refused = total + saved(said), refused + number
    return Row(
        "a quota on the file (RLIMIT_FSIZE), then lifted",
        f"{len(sizes)} sizes from {min(sizes)} to {max(sizes)} kB",
        tuple(lost),
        f"{total} savings reported, {refused} refused",
    )


def _interrupted(book: Path, seed: int) -> tuple[Any, list[list[Any]]]:
    """A writer at work that has saved a few things already."""
    child = started(book, "there", "--seed", str(seed), "--pause", "0.005", *as_nobody())
    return child, [first_line(child) for _ in range(FIRST)]


def _until_refused(child: Any, least: int = 3) -> list[list[Any]]:
    said: list[list[Any]] = []
    until = time.monotonic() + 10.0
    while sum(s[0] == "refused" for s in said) < least and time.monotonic() < until:
        said.append(first_line(child))
    return said


def read_only(times: int) -> Row:
    """The folder, then the file too, may no longer be written to."""
    lost: list[str] = []
    total = refused = 0
    for run in range(times):
        with open_folder() as folder:
            book = new_book(folder / "book.db")
            book.chmod(0o666)
            child, said = _interrupted(book, run)
            folder.chmod(0o555)
            if run % 2:
                book.chmod(0o444)
            said += _until_refused(child)
            said += ended(child)
            number, bad = refusals(said)
            what = f"read-only {run}"
            lost += [f"{what}: {text}" for text in bad]
            if not number:
                lost.append(f"{what}: saving went on, so nothing was tried")
            folder.chmod(0o777)
            book.chmod(0o666)
            lost += goes_on(book, said, what)
            total, refused = total + saved(said), refused + number
    return Row(
        "a folder, or the file too, that becomes read-only",
        f"{times} times",
        tuple(lost),
        f"{total} savings reported, {refused} refused",
    )


def vanished(times: int) -> Row:
    """The folder is gone in the middle, as a stick pulled out, and comes back."""
    lost: list[str] = []
    total = refused = 0
    for run in range(times):
        with open_folder() as around:
            folder, away = around / "stick", around / "pulled out"
            folder.mkdir(mode=0o777)
            folder.chmod(0o777)
            book = new_book(folder / "book.db")
            book.chmod(0o666)
            child, said = _interrupted(book, run)
            os.rename(folder, away)
            said += _until_refused(child)
            if run % 2:
                # a mount point stays behind when what was mounted there is gone
                folder.mkdir(mode=0o777)
                folder.chmod(0o777)
                time.sleep(0.1)
            said_after = ended(child)
            number, bad = refusals([*said, *said_after])
            what = f"vanished {run}"
            lost += [f"{what}: {text}" for text in bad]
            if not number:
                lost.append(f"{what}: saving went on, so nothing was tried")
            if saved(said_after) and run % 2:
                lost.append(f"{what}: a second book was begun in the empty folder")
            if folder.exists():
                shutil.rmtree(folder)
            os.rename(away, folder)
            lost += goes_on(book, [*said, *(s for s in said_after if not run % 2)], what)
            names = [r.name for r in Store(book).recipes()]
            if SHARED not in names:
                lost.append(f"{what}: the book that came back is another")
            total, refused = total + saved(said), refused + number
    return Row(
        "a folder that vanishes and comes back, every other time leaving an empty one behind",
        f"{times} times",
        tuple(lost),
        f"{total} savings reported, {refused} refused",
    )
