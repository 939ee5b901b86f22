"""A draft in writing: grams and a name on each line."""

from __future__ import annotations

import re
from typing import Any

from balancer.dashboard.work import Work, as_it_is, begun, new_sauce, solved
from balancer.errors import BadInput
from balancer.kitchen import Kitchen

_LINE = re.compile(r"^\s*(?:[-*]\s+)?(\d+(?:[.,]\d+)?)\s*(kg|g)\s+(.+?)\s*$", re.IGNORECASE)
GRAMS_PER_KG = 1000.0
MOST_LINES = 200


def draft_from_lines(text: str) -> list[dict[str, Any]]:
    """Ingredients from lines such as ``380 g plums``.

    Raises
    ------
    BadInput
        Names the first line that cannot be read.

    Examples
    --------
    >>> draft_from_lines("380 g plums\\n1,5 kg tomatoes")
    [{'name': 'plums', 'draft_g': 380.0}, {'name': 'tomatoes', 'draft_g': 1500.0}]
    """
    entries = []
    for line in text.splitlines()[:MOST_LINES]:
        if not line.strip():
            continue
        found = _LINE.match(line)
        if not found:
            raise BadInput(
                f"{line.strip()[:60]!r} is not a quantity with a name. Write it as '380 g plums'."
            )
        grams = float(found[1].replace(",", ".")) * (
            GRAMS_PER_KG if found[2].lower() == "kg" else 1
        )
        entries.append({"name": found[3], "draft_g": grams})
    if not entries:
        raise BadInput("The draft is empty. Write one ingredient a line, as '380 g plums'.")
    return entries


def sauce_from_draft(kitchen: Kitchen, name: str, text: str) -> Work:
    """A sauce from a written draft; it aims at the levels that the draft has.

    Raises
    ------
    BadInput
        If a line cannot be read or names nothing known.
    """
    work = new_sauce(name)
    entries = draft_from_lines(text)
    document = {
        **work.document,
        "yield_g": sum(e["draft_g"] for e in entries),
        "ingredients": entries,
    }
    return begun(as_it_is(document, solved(kitchen, document)))
