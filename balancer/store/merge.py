"""Settle where the entries of an imported book go, and what of them is new."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Literal, TypeAlias, get_args

from balancer.store.checks import LONGEST_NAME, Kind, canonical
from balancer.store.exchange import Entry, Saving

Clash: TypeAlias = Literal["keep both", "add revisions", "skip"]
CLASHES: tuple[Clash, ...] = get_args(Clash)


def arrivals(
    incoming: Sequence[Entry], here: Mapping[tuple[Kind, str], Entry], on_clash: Clash
) -> Iterator[tuple[Entry, Entry]]:
    """Yield each entry that brings something, with what it adds under the name it gets.

    Parameters
    ----------
    incoming : sequence of Entry
        Entries of the other book.
    here : mapping
        Kind and name to the entry of this book.
    on_clash : str
        As for :meth:`balancer.store.Store.import_all`.

    Yields
    ------
    entry : Entry
        As it stood in the other book.
    added : Entry
        Its name in this book, with the revisions and rounds to add.
    """
    now = dict(here)
    for entry in incoming:
        added = _added(entry, now, on_clash)
        if not added.revisions and not added.rounds:
            continue
        old = now.get((entry.kind, added.name), Entry(entry.kind, added.name, ()))
        now[entry.kind, added.name] = Entry(
            entry.kind, added.name, old.revisions + added.revisions, old.rounds + added.rounds
        )
        yield entry, added


def _added(entry: Entry, here: Mapping[tuple[Kind, str], Entry], on_clash: Clash) -> Entry:
    name, number = entry.name, 1
    while (old := here.get((entry.kind, name))) is not None:
        if on_clash == "skip":
            return Entry(entry.kind, name, ())
        revisions, before = _on_top(entry.revisions, old.revisions)
        if on_clash == "add revisions" or len(revisions) < len(entry.revisions):
            rounds = tuple(_of_later(tasted, before) for tasted in entry.rounds)
            return Entry(entry.kind, name, revisions, _not_in(rounds, old.rounds))
        number += 1
        mark = f" ({number})"
        name = entry.name[: LONGEST_NAME - len(mark)] + mark
    return Entry(entry.kind, name, entry.revisions, entry.rounds)


def _on_top(
    incoming: tuple[Saving, ...], here: tuple[Saving, ...]
) -> tuple[tuple[Saving, ...], int]:
    """Return the revisions that are not here yet, and how many here stand before the first."""
    new, old = [r.text for r in incoming], [r.text for r in here]
    for before in range(len(old)):
        if old[before : before + len(new)] == new:
            return (), before
    for shared in range(min(len(new), len(old)), 0, -1):
        if old[-shared:] == new[:shared]:
            return incoming[shared:], len(old) - shared
    return incoming, len(old)


def _of_later(tasted: Saving, before: int) -> Saving:
    """A round with the number that the revision it tasted has here."""
    document = json.loads(tasted.text)
    number = document.get("revision") if isinstance(document, dict) else None
    if not before or not isinstance(number, int) or isinstance(number, bool):
        return tasted
    text = canonical(document | {"revision": number + before}, "The round")
    return replace(tasted, text=text)


def _not_in(incoming: tuple[Saving, ...], here: tuple[Saving, ...]) -> tuple[Saving, ...]:
    """Return the rounds that are not here yet; of two that are the same, each counts."""
    known = Counter((r.text, r.saved_at) for r in here)
    new = []
    for one in incoming:
        known[one.text, one.saved_at] -= 1
        if known[one.text, one.saved_at] < 0:
            new.append(one)
    return tuple(new)
