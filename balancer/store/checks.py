"""Names, levels and documents, checked before they are kept."""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

from balancer.errors import BadInput
from balancer.plain import DEEPEST, LARGEST_TEXT, plain_json, too_deep

Document: TypeAlias = Mapping[str, Any]
Kind: TypeAlias = Literal["profile", "recipe", "ingredient"]

LONGEST_NAME = 120
LARGEST_LEVEL = 1e9
#: Joiners inside words and pictographs, the only invisible characters a name may hold.
_JOINERS = "\u200c\u200d"


def checked_name(name: str, kind: str = "recipe") -> str:
    """Return a name fit to be kept, or refuse it.

    Parameters
    ----------
    name : str
        Any printable characters; quotes, slashes and markup are kept as they are.
    kind : str
        What it names, for the sentence of a refusal.

    Returns
    -------
    str
        The name in Unicode normalisation form C, without spaces at its ends; special spaces have
        become plain ones.

    Raises
    ------
    BadInput
        If nothing is left, if it is over 120 characters, or if it holds a control character.

    Examples
    --------
    >>> checked_name("  Plum & ginger dip ")
    'Plum & ginger dip'
    """
    if not isinstance(name, str):
        raise BadInput(f"The name of a {kind} is {shortened(repr(name))}. Give it as text.")
    # What is far too long is not worth normalising.
    clean = unicodedata.normalize("NFC", name.strip()[: 10 * LONGEST_NAME])
    clean = "".join(" " if unicodedata.category(c) == "Zs" else c for c in clean).strip(" ")
    if not clean:
        raise BadInput(f"The name of the {kind} is empty. Give it one to {LONGEST_NAME} letters.")
    if len(clean) > LONGEST_NAME:
        raise BadInput(
            f"The name {shortened(clean)!r} of the {kind} has {len(name)} characters."
            f" Give it {LONGEST_NAME} or fewer."
        )
    for c in clean:
        if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c not in _JOINERS:
            raise BadInput(
                f"The name {shortened(clean)!r} of the {kind} holds the invisible character"
                f" U+{ord(c):04X}. Type the name again on one line."
            )
    return clean


def shortened(text: str, length: int = 60) -> str:
    """Cut a text that is too long to be shown whole.

    >>> shortened("x" * 100, 10)
    'xxxxxxx...'
    """
    return text if len(text) <= length else text[: length - 3] + "..."


def checked_levels(levels: Mapping[str, float], what: str = "The profile") -> dict[str, float]:
    """Return the levels of a profile as plain numbers, or refuse them.

    Parameters
    ----------
    levels : mapping of str to float
        Axis to level per 100 g of sauce [axis unit].
    what : str
        What they belong to, for the sentence of a refusal.

    Raises
    ------
    BadInput
        If there is none, or one is not a finite number of zero or more.
    """
    if not isinstance(levels, Mapping) or not levels:
        raise BadInput(f"{what} has no levels. Give at least one, such as sweet.")
    checked = {}
    for axis, level in levels.items():
        number = isinstance(level, int | float) and not isinstance(level, bool)
        if not isinstance(axis, str) or not number or not 0 <= level <= LARGEST_LEVEL:
            raise BadInput(
                f"{what}: {shortened(str(axis))!r} is {shortened(repr(level))}."
                f" Give a level from 0 to {LARGEST_LEVEL:g} per 100 g."
            )
        checked[axis] = float(level)
    return checked


def read_document(text: str | bytes, what: str = "The document") -> dict[str, Any]:
    """Read a JSON object from text that anyone may have written.

    Parameters
    ----------
    text : str or bytes
        JSON; bytes are taken as UTF-8, with or without a mark at the start.
    what : str
        What it is, for the sentence of a refusal.

    Returns
    -------
    dict
        The object; plain values only.

    Raises
    ------
    BadInput
        If it is over 50 MB, nested deeper than 100, not JSON, or not an object; or if it holds a
        number that is not finite, or gives a key twice in one object.

    Examples
    --------
    >>> read_document('{"yield_g": 500}')
    {'yield_g': 500}
    >>> read_document('{"yield_g": ', "The request")
    Traceback (most recent call last):
    balancer.errors.BadInput: The request is not JSON: Expecting value at line 1, column 13. \
Correct it there.
    """
    value = plain_json(text, what)
    if not isinstance(value, dict):
        raise BadInput(f"{what} is not a JSON object. It must begin with {{ and end with }}.")
    _check_plain(value, what)
    return value


def canonical(document: Document, what: str = "The document") -> str:
    """Write a document as JSON text that is the same for equal documents.

    Parameters
    ----------
    document : mapping
        Plain values: text, finite numbers, true, false, none, lists and mappings.
    what : str
        What it is, for the sentence of a refusal.

    Raises
    ------
    BadInput
        If it holds anything else, or is larger or deeper than :func:`read_document` takes.

    Examples
    --------
    >>> canonical({"b": 1, "a": [0.5]})
    '{"a":[0.5],"b":1}'
    """
    if not isinstance(document, Mapping):
        raise BadInput(f"{what} is {shortened(repr(document))}. Give a mapping.")
    plain = dict(document)
    _check_plain(plain, what)
    text = json.dumps(plain, sort_keys=True, allow_nan=False, separators=(",", ":"))
    if len(text) > LARGEST_TEXT:
        raise BadInput(
            f"{what} holds {len(text) / 1e6:.1f} MB of text, over {LARGEST_TEXT / 1e6:.0f} MB."
            " Leave something out."
        )
    return text


def profile_document(document: Document, what: str) -> dict[str, Any]:
    """Return the document of a profile, its levels and note checked."""
    if not isinstance(document, Mapping) or set(document) != {"levels", "note"}:
        raise BadInput(f"{what} does not have exactly levels and a note. Export it again.")
    if not isinstance(document["note"], str):
        raise BadInput(f"{what} has the note {shortened(repr(document['note']))}. Give it as text.")
    return {"levels": checked_levels(document["levels"], what), "note": document["note"]}


def _check_plain(document: Any, what: str) -> None:
    """Refuse what JSON cannot hold, and nesting that readers choke on; needs no recursion."""
    level = [document]
    for _ in range(DEEPEST):
        inner = []
        for value in level:
            if isinstance(value, dict):
                _check_keys(value, what)
            for item in value.values() if isinstance(value, dict) else value:
                if isinstance(item, dict | list | tuple):
                    inner.append(item)
                elif isinstance(item, float) and not math.isfinite(item):
                    raise BadInput(f"{what} holds the number {item}. Give finite numbers.")
                elif not (item is None or isinstance(item, str | int | float)):
                    kind = type(item).__name__
                    raise BadInput(f"{what} holds a {kind}. Give text, numbers and lists of them.")
        if not inner:
            return
        level = inner
    raise too_deep(what)


def _check_keys(mapping: dict[Any, Any], what: str) -> None:
    for key in mapping:
        if not isinstance(key, str):
            raise BadInput(f"{what} holds the key {shortened(repr(key))}. Use text for keys.")
