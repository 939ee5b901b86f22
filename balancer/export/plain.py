"""Text from anyone, read as plain values within bounds; nothing is run or fetched."""

from __future__ import annotations

import json
from typing import Any, NoReturn

from balancer.errors import BadInput

#: More text than this is refused unread [letters or bytes].
LARGEST_TEXT = 50_000_000
#: No recipe has values inside values inside values deeper than this.
DEEPEST = 100


def plain_text(text: str | bytes, what: str) -> str:
    """Return text of a bearable size, without a mark at its start.

    Raises
    ------
    BadInput
        If it is too large, or bytes that are not UTF-8.
    """
    if len(text) >= LARGEST_TEXT:
        raise BadInput(
            f"{what} holds {len(text) / 1e6:.1f} MB, and {LARGEST_TEXT / 1e6:.0f} MB is too much"
            " for a recipe. Save the page alone, without its pictures."
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
        What was given.
    what : str
        What it is, for the sentence of a refusal.
    lenient : bool
        Whether line breaks inside texts are let pass, as pages in the wild have them.

    Returns
    -------
    Any
        Plain values.

    Raises
    ------
    BadInput
        If it is too large, nested too deeply, not JSON, or holds a number that is not finite.
    """
    deep = f"{what} nests brackets deeper than {DEEPEST}. No recipe does; check where it is from."
    try:
        value = json.loads(
            plain_text(text, what), strict=not lenient, parse_constant=lambda _: _refuse(what)
        )
    except RecursionError:
        raise BadInput(deep) from None
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{what} is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
            " Correct it there."
        ) from None
    except ValueError:  # a whole number of thousands of digits
        raise BadInput(f"{what} holds a number of thousands of digits. Write it shorter.") from None
    level, depth = [value], 0
    while level:
        depth += 1
        if depth > DEEPEST:
            raise BadInput(deep)
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return value


def _refuse(what: str) -> NoReturn:
    raise BadInput(f"{what} holds a number that is not finite. Correct it.")
