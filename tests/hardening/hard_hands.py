"""Many hands on one book: eight programs write at once, nothing is lost or overwritten unseen."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

from hard_crashes import ended, faults, new_book, refusals, saved, started
from tally import Row
from writer import SHARED, checksum

from balancer.store import Store

HANDS = 8


def many_hands(folder: Path, seconds: float, hands: int = HANDS) -> Row:
    """Processes that make recipes, revise, keep rounds, and save on top of each other's work.

    Each revision of the shared recipe says on which one it was made: if one had been saved over
    another that its writer had not seen, the chain would have a gap.
    """
    book = new_book(folder / "book.db")
    begun = time.perf_counter()
    children = [started(book, f"hand {i}", "--seconds", str(seconds)) for i in range(hands)]
    each = [ended(child, kill=False) for child in children]
    took = time.perf_counter() - begun
    said = [s for one in each for s in one]
    lost = faults(book, said)
    number, bad = refusals(said)
    lost += bad
    lost += sorted({s[2] for s in said if s[0] == "refused"})
    lost += [f"hand {i} saved nothing" for i, one in enumerate(each) if not saved(one)]
    store = Store(book)
    last = store.recipe(SHARED).revision
    reported = Counter(s[2] for s in said if s[0] == "recipe" and s[1] == SHARED)
    lost += [f"revision {n} was given {k} times" for n, k in reported.items() if k > 1]
    for revision in range(2, last + 1):
        document = store.recipe(SHARED, revision).document
        if document["on"] != revision - 1:
            lost.append(f"revision {revision} was saved on {document['on']} without a word")
        if revision not in reported:
            lost.append(f"revision {revision} ({checksum(document)}) is there and nobody said so")
    again = sum(s[0] == "changed meanwhile" for s in said)
    slowest = max(seconds, took)
    return Row(
        f"{hands} processes write one book at once",
        f"{seconds:g} s, {saved(said)} savings",
        tuple(lost),
        f"{last - 1} saved on top of each other's work, {again} told that it had changed, {number}"
        f" refused; the last of them ended after {slowest:.1f} s",
    )
