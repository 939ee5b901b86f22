"""The long form of what is tried to break the program: ``python tests/hardening/run.py``.

Prints a table in Markdown; ``--only`` runs what has a word in its name. About half an hour.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import hard_child  # noqa: E402
import hard_crashes  # noqa: E402
import hard_disk  # noqa: E402
import hard_extremes  # noqa: E402
import hard_hands  # noqa: E402
import hard_numbers  # noqa: E402
import hard_page  # noqa: E402
import hard_session  # noqa: E402
import hard_versions  # noqa: E402
from tally import HEAD, Row, went_wrong  # noqa: E402

from balancer.kitchen import Kitchen  # noqa: E402

DETAILS: list[str] = []


def _input() -> Row:
    row, lines = hard_child.bad_input(10_000)
    DETAILS.extend(lines)
    return row


def _full(folder: Path) -> Row:
    reason = hard_disk.may_mount(folder)
    if reason:
        return Row("a disk that fills up (tmpfs)", "not tried", (), reason)
    return hard_disk.full(folder, range(56, 660, 30))


def trials() -> Iterator[tuple[str, Callable[[Path], Row]]]:
    """Name and run of everything that is tried."""
    kitchen = Kitchen()
    pantry = kitchen.catalogue.pantry
    yield "crash kill", lambda folder: hard_crashes.killed(folder, 200)
    yield "crash clock", lambda folder: hard_crashes.backwards(folder, 1000)
    yield "crash full disk", _full
    yield "crash quota", lambda folder: hard_disk.quota(folder, range(40, 640, 30))
    yield "crash read-only", lambda _: hard_disk.read_only(20)
    yield "crash vanished", lambda _: hard_disk.vanished(20)
    yield from hard_session.rows(long=True).items()
    yield "hands", lambda folder: hard_hands.many_hands(folder, 60.0)
    yield "versions every", hard_versions.every_version
    yield "versions newer", hard_versions.newer
    yield "versions half-way", lambda f: hard_versions.half_way(f, range(8, 248, 12), 120)
    yield "input", lambda _: _input()
    yield "page", lambda _: hard_page.pages(300)
    yield "numbers random", lambda _: hard_numbers.solved(kitchen, range(5000), 25)
    yield "numbers methods", lambda _: hard_numbers.two_methods(pantry, range(200))
    yield "numbers extreme", lambda _: hard_extremes.extremes(kitchen.catalogue)


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main() -> int:
    """Run what was asked for; the status is 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="run what has this word in its name")
    only = parser.parse_args().only
    rows = []
    _say(HEAD)
    for name, trial in trials():
        if only not in name:
            continue
        begun = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            rows.append(trial(Path(folder)))
        _say(rows[-1].markdown())
        sys.stderr.write(f"{name}: {time.perf_counter() - begun:.0f} s\n")
    _say("\n".join(["", *went_wrong(rows), *(f"- {line}" for line in DETAILS)]))
    return int(any(row.lost for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
