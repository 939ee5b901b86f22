"""The whole kitchen book as one document, written and read back."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from balancer.errors import BadInput
from balancer.store.checks import (
    Document,
    Kind,
    canonical,
    checked_name,
    profile_document,
    shortened,
)

FORMAT = "balancer kitchen book"
#: Version 1 had no rounds of tasting, version 2 no ingredients of the kitchen's own.
VERSION = 3
_READABLE = (1, 2, 3)
_SECTIONS: tuple[tuple[str, Kind], ...] = (
    ("profiles", "profile"),
    ("recipes", "recipe"),
    ("ingredients", "ingredient"),
)


@dataclass(frozen=True)
class Saving:
    """One revision of a profile, recipe or ingredient, or one round of tasting.

    Parameters
    ----------
    number : int
        1 for the first one of its entry.
    text : str
        The document as canonical JSON.
    saved_at : str
        When, ISO 8601 in UTC.
    """

    number: int
    text: str
    saved_at: str


@dataclass(frozen=True)
class Entry:
    """A profile, recipe or ingredient with all its revisions, a recipe with its rounds."""

    kind: Kind
    name: str
    revisions: tuple[Saving, ...]
    rounds: tuple[Saving, ...] = ()


def book_document(kept: tuple[Entry, ...]) -> dict[str, Any]:
    """Write entries as one document, the inverse of :func:`entries`."""
    book: dict[str, Any] = {"format": FORMAT, "version": VERSION}
    for section, kind in _SECTIONS:
        book[section] = [_record(entry) for entry in kept if entry.kind == kind]
    return book


def _record(entry: Entry) -> dict[str, Any]:
    record = {"name": entry.name, "revisions": _written(entry.revisions)}
    return record | ({"rounds": _written(entry.rounds)} if entry.kind == "recipe" else {})


def _written(savings: tuple[Saving, ...]) -> list[dict[str, Any]]:
    return [
        {"number": s.number, "saved_at": s.saved_at, "document": json.loads(s.text)}
        for s in savings
    ]


def entries(document: Document) -> tuple[Entry, ...]:
    """Read the entries of an exported book, each checked as if it were saved by hand.

    Parameters
    ----------
    document : mapping
        What :func:`book_document` wrote, perhaps long ago or elsewhere.

    Raises
    ------
    BadInput
        If it is no kitchen book, comes from a newer version, or an entry is damaged.
    """
    if not isinstance(document, Mapping) or document.get("format") != FORMAT:
        raise BadInput(
            f"The document is not a kitchen book: its format is not {FORMAT!r}."
            " Import a file that was written by an export."
        )
    version = document.get("version")
    if version not in _READABLE or isinstance(version, bool):
        raise BadInput(
            f"The kitchen book has version {shortened(repr(version))}; this program reads versions"
            f" {_READABLE[0]} to {_READABLE[-1]}. Update the program, or export the book again"
            " with this one."
        )
    unknown = sorted(set(document) - {"format", "version", *(s for s, _ in _SECTIONS)})
    if unknown:
        raise _damaged(f"a section {shortened(str(unknown[0]))!r} that is not known")
    found: list[Entry] = []
    for section, kind in _SECTIONS:
        for record in _list(document.get(section, []), section):
            found.append(_entry(record, kind, version))
    for (kind, name), number in Counter((entry.kind, entry.name) for entry in found).items():
        if number > 1:
            raise _damaged(f"the {kind} {shortened(name)!r} {number} times")
    return tuple(found)


def _entry(record: Any, kind: Kind, version: int) -> Entry:
    tasted = kind == "recipe" and version > 1
    names = {"name", "revisions"} | ({"rounds"} if tasted else set())
    record = _fields(record, names, f"a {kind}")
    name = checked_name(record["name"], kind)
    what = f"the {kind} {shortened(name)!r}"
    revisions = _savings(record["revisions"], f"revisions of {what}", kind)
    if not revisions:
        raise _damaged(f"{what} without a revision")
    rounds = _savings(record["rounds"], f"rounds of {what}", "round") if tasted else ()
    return Entry(kind, name, revisions, rounds)


def _savings(records: Any, what: str, kind: str) -> tuple[Saving, ...]:
    """Read revisions or rounds, numbered from 1."""
    savings = []
    for number, raw in enumerate(_list(records, what), start=1):
        fields = _fields(raw, {"number", "saved_at", "document"}, f"one of the {what}")
        if fields["number"] != number:
            raise _damaged(f"{what} that are out of order")
        document, which = fields["document"], f"Number {number} of the {what}"
        text = canonical(document, which)
        if kind == "profile":
            text = canonical(profile_document(document, which), which)
        savings.append(Saving(number, text, _moment(fields["saved_at"], which)))
    return tuple(savings)


def _fields(record: Any, names: set[str], what: str) -> Document:
    if not isinstance(record, Mapping) or set(record) != names:
        raise _damaged(f"{what} without exactly {', '.join(sorted(names))}")
    return record


def _list(value: Any, what: str) -> list[Any]:
    if not isinstance(value, list):
        raise _damaged(f"{what} that are not a list")
    return value


def _moment(text: Any, what: str) -> str:
    try:
        return datetime.fromisoformat(text).isoformat()
    except (TypeError, ValueError) as error:
        raise BadInput(
            f"{what} was saved at {shortened(repr(text))}, which is no date and time."
            " Export the book again."
        ) from error


def _damaged(what: str) -> BadInput:
    return BadInput(f"The kitchen book holds {what}. Export it again where it came from.")
