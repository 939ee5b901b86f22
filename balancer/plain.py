"""Text from anyone, read as plain values within bounds; nothing is run or fetched."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any, NoReturn

from balancer.errors import BadInput

#: More text than this is refused unread [letters or bytes].
LARGEST_TEXT = 50_000_000
#: No document has values inside values inside values deeper than this.
DEEPEST = 100
_LONGEST_SHOWN = 60


def plain_text(text: str | bytes, what: str) -> str:
    """Return text of a bearable size, without a mark at its start.

    Raises
    ------
    BadInput
        If it is too large, or bytes that are not UTF-8.
    """
    if len(text) > LARGEST_TEXT:
        raise BadInput(
            f"{what} holds {len(text) / 1e6:.1f} MB, over {LARGEST_TEXT / 1e6:.0f} MB. Give a"
            " smaller one, a page without its pictures."
        )
    try:
        plain = text.decode("utf-8") if isinstance(text, bytes) else text
    except UnicodeDecodeError as error:
        raise BadInput(
            f"{what} is not text in UTF-8 (byte {error.start}). Save it again as UTF-8."
        ) from None
    return plain.removeprefix("\ufeff")


def plain_json(text: str | bytes, what: str, *, lenient: bool = False) -> Any:
    """Read JSON.

    Parameters
    ----------
    text : str or bytes
        What was given; bytes are taken as UTF-8, with or without a mark at the start.
    what : str
        What it is, for the sentence of a refusal.
    lenient : bool
        Whether line breaks inside texts and keys that are given twice are let pass, as pages in the
        wild have them.

    Returns
    -------
    Any
        Plain values.

    Raises
    ------
    BadInput
        If it is too large, nested too deeply, not JSON, holds a number that is not finite, or gives
        a key twice in one object.

    Examples
    --------
    >>> plain_json('{"plums": [380, "g"]}', "The recipe")
    {'plums': [380, 'g']}
    """
    try:
        value = json.loads(
            plain_text(text, what),
            strict=not lenient,
            parse_constant=lambda constant: _refuse(constant, what),
            object_pairs_hook=None if lenient else lambda pairs: _object(pairs, what),
        )
    except RecursionError:
        raise too_deep(what) from None
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{what} is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
            " Correct it there."
        ) from None
    except ValueError:  # a whole number of thousands of digits
        raise BadInput(
            f"{what} holds a number that cannot be read: it has thousands of digits. Write it"
            " shorter."
        ) from None
    level = [value]
    for _ in range(DEEPEST):
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    if any(isinstance(inner, dict | list) for inner in level):
        raise too_deep(what)
    return value


def too_deep(what: str) -> BadInput:
    """The refusal of nesting that readers choke on."""
    return BadInput(f"{what} is nested deeper than {DEEPEST}. Give a flatter one.")


def _object(pairs: list[tuple[str, Any]], what: str) -> dict[str, Any]:
    """Refuse an object that gives a key twice: one of the two values would be lost silently."""
    found = dict(pairs)
    if len(found) < len(pairs):
        key, _ = Counter(key for key, _ in pairs).most_common(1)[0]
        shown = key if len(key) <= _LONGEST_SHOWN else key[: _LONGEST_SHOWN - 3] + "..."
        raise BadInput(
            f"{what} gives the key {shown!r} more than once in one object. Keep one of them."
        )
    return found


def _refuse(constant: str, what: str) -> NoReturn:
    raise BadInput(f"{what} holds {constant}, a number that is not finite. Correct it.")
