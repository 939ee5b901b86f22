"""A saved sauce, looked through before anything is computed from it.

What is kept may come from an import that anyone wrote, so its shape is not taken for granted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput


def checked_sauce(document: Any) -> Mapping[str, Any]:
    """Return a saved request with its answer, or refuse it.

    Parameters
    ----------
    document : Any
        As it was read.

    Raises
    ------
    BadInput
        Names the first part that is missing or cannot be meant.

    Examples
    --------
    >>> checked_sauce({"request": {}})
    Traceback (most recent call last):
    balancer.errors.BadInput: The saved sauce is damaged: it has no list of ingredients. \
Solve it again and save it, or import it again.
    """
    return _refused(document, _of_sauce(document), "sauce", "Solve it again and save it")


def checked_round(document: Any) -> Mapping[str, Any]:
    """Return a saved round of tasting, or refuse it as :func:`checked_sauce` does."""
    return _refused(document, _of_round(document), "round", "Enter the tasting again")


def _refused(document: Any, faults: Iterator[str], what: str, step: str) -> Mapping[str, Any]:
    fault = next(faults, None)
    if fault is not None:
        raise BadInput(f"The saved {what} is damaged: it has {fault}. {step}, or import it again.")
    found: Mapping[str, Any] = document
    return found


def _of_sauce(document: Any) -> Iterator[str]:
    request, answer = _mapping(document, "request"), _mapping(document, "answer")
    entries = request.get("ingredients")
    if not isinstance(entries, list) or not entries:
        yield "no list of ingredients"
        return
    if not all(isinstance(_mapping(e).get("name"), str) for e in entries):
        yield "an ingredient without a name"
    if not all(isinstance(_mapping(e).get("recipe", ""), str) for e in entries):
        yield "a recipe without a name among its ingredients"
    for place in ("quantities_g", "profile", "resolved"):
        if not isinstance(answer.get(place), Mapping):
            yield f"no {place} in its answer"
    for food in _mapping(answer, "resolved").values():
        if not isinstance(_mapping(food).get("key"), str):
            yield "an ingredient without its food"
    for name, grams in _mapping(answer, "quantities_g").items():
        if not _is_amount(grams):
            yield f"{str(grams)[:40]!r} for the grams of {str(name)[:40]!r}"
    names = {e["name"].strip() for e in entries if isinstance(_mapping(e).get("name"), str)}
    if answer.get("quantities_g") and names - set(answer["quantities_g"]):
        yield f"no grams of {sorted(names - set(answer['quantities_g']))[0][:40]!r}"
    for axis in AXIS_NAMES:
        level = _mapping(_mapping(answer, "profile"), axis)
        target = level.get("target", "")
        ends = [target.get("low"), target.get("high")] if isinstance(target, Mapping) else [target]
        if target is not None and not all(map(_is_amount, ends)):
            yield f"{str(target)[:40]!r} for the target of {axis}"
        if target is None and not _is_amount(level.get("reached")):
            yield f"no level of {axis}"


def _of_round(document: Any) -> Iterator[str]:
    kept = _mapping(document)
    if not isinstance(kept.get("round"), Mapping):
        yield "nothing that was said"
    if not isinstance(kept.get("made_g"), Mapping) or not kept["made_g"]:
        yield "no weighed quantities"
    for name, grams in _mapping(kept, "made_g").items():
        if not _is_amount(grams):
            yield f"{str(grams)[:40]!r} for the grams of {str(name)[:40]!r}"
    for figure in ("pot_left_g", "pot_share", "revision"):
        if not _is_amount(kept.get(figure, 1)) or (figure != "pot_share" and figure not in kept):
            yield f"{str(kept.get(figure))[:40]!r} for its {figure}"


def _mapping(value: Any, key: str | None = None) -> Mapping[str, Any]:
    """A mapping, or its part under a key; an empty one where there is none."""
    found = value if key is None else _mapping(value).get(key)
    return found if isinstance(found, Mapping) else {}


def _is_amount(value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and 0 <= value <= 1e308 and math.isfinite(value)
