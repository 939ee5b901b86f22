"""The sauce in hand, written so that it fits the address of the page.

A reload, a closed tab, another window or another machine finds the same draft by the address
alone. Two windows never share a draft: each carries its own.
"""

from __future__ import annotations

import base64
import binascii
import json
import zlib
from collections.abc import Mapping
from typing import Any

from balancer.constants import AXIS
from balancer.dashboard.asking import Asked
from balancer.dashboard.details import Details
from balancer.dashboard.work import Round, Work
from balancer.errors import BadInput
from balancer.request import validate
from balancer.store import read_document

#: Most that an address may unfold to [bytes].
LARGEST_DRAFT = 1_000_000


def written(work: Work) -> str:
    """Write a sauce as letters that an address can hold.

    Examples
    --------
    >>> from balancer.dashboard.work import new_sauce
    >>> read(written(new_sauce("dip"))).name
    'dip'
    """
    kept: dict[str, Any] = {"sauce": dict(work.document)}
    if work.saved_name:
        kept["saved"] = [work.saved_name, work.revision]
    if work.made_g:
        kept["made_g"] = dict(work.made_g)
    if work.steps:
        kept["steps"] = dict(work.steps)
    if work.answered:
        kept["answered"] = dict(work.answered)
    details = work.details.as_document()
    if details:
        kept["details"] = details
    asked = work.asked.as_document()
    if asked:
        kept["asked"] = asked
    plain = Work({})
    for name in ("kept", "tasted", "added", "also", "growth_pct", "scale_g"):
        if getattr(work, name) != getattr(plain, name):
            kept[name] = getattr(work, name)
    if work.rounds:
        kept["rounds"] = [[r.said, r.then] for r in work.rounds]
    return packed(kept)


def packed(kept: Mapping[str, Any]) -> str:
    """Write plain values as letters that an address can hold."""
    text = json.dumps(kept, separators=(",", ":"), ensure_ascii=False)
    return base64.urlsafe_b64encode(zlib.compress(text.encode(), 9)).decode().rstrip("=")


def unpacked(letters: str) -> dict[str, Any]:
    """Read plain values back from an address.

    Raises
    ------
    BadInput
        If the letters are not what :func:`packed` makes.

    Examples
    --------
    >>> unpacked(packed({"brix": 24.0}))
    {'brix': 24.0}
    """
    try:
        bytes_ = base64.urlsafe_b64decode(letters + "=" * (-len(letters) % 4))
        unpacker = zlib.decompressobj()
        text = unpacker.decompress(bytes_, LARGEST_DRAFT)
        if unpacker.unconsumed_tail or not unpacker.eof:
            raise _damaged()
        found = dict(read_document(text, "The draft in the address"))
        packed(found)  # what no page could write is no draft
        return found
    except (binascii.Error, zlib.error, TypeError, ValueError) as error:
        raise _damaged() from error


def read(letters: str) -> Work:
    """Read a sauce back from an address.

    Raises
    ------
    BadInput
        If the letters are not what :func:`written` makes.
    """
    try:
        kept = unpacked(letters)
        document = kept["sauce"]
        validate(document)
        name, revision = kept.get("saved", ("", 0))
        work = Work(
            document=document,
            saved_name=str(name),
            revision=int(revision),
            made_g={str(k): float(v) for k, v in kept.get("made_g", {}).items()},
            steps={str(k): float(v) for k, v in kept.get("steps", {}).items()},
            rounds=tuple(Round(str(s), str(t)) for s, t in kept.get("rounds", ())),
            details=Details.from_document(kept.get("details", {})),
            kept=int(kept.get("kept", 0)),
            tasted=int(kept.get("tasted", 0)),
            answered={str(k): float(v) for k, v in kept.get("answered", {}).items()},
            added=bool(kept.get("added", False)),
            also=tuple(str(name) for name in kept.get("also", ())),
            growth_pct=float(kept.get("growth_pct", Work.growth_pct)),
            scale_g=float(kept.get("scale_g", Work.scale_g)),
            asked=Asked.from_document(kept.get("asked", {})),
        )
        if any(axis not in AXIS for axis in (*work.steps, *work.answered)):
            raise _damaged()
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise _damaged() from error
    return work


def _damaged() -> BadInput:
    return BadInput(
        "The draft in this page's address cannot be read; part of it may be missing."
        " Copy the whole address again, or begin from a saved sauce."
    )
