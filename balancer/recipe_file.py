"""A recipe out of a file that a cook brings: our own record, or a saved page, read as a draft."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from balancer.catalogue import Catalogue
from balancer.errors import BadInput
from balancer.export import Foreign, Record, read_jsonld, read_record
from balancer.export.record import FORMAT
from balancer.pasted import Pasted, paste

#: A record says what it is within this many letters.
_HEAD = 200


@dataclass(frozen=True, eq=False)
class Brought:
    """What was found in a file: our own record, or the recipe of a saved page as a draft.

    Parameters
    ----------
    record : Record or None
    foreign : Foreign or None
        As the page tells it.
    draft : Pasted or None
        Its ingredient lines, read.
    """

    record: Record | None = None
    foreign: Foreign | None = None
    draft: Pasted | None = None

    @property
    def name(self) -> str:
        """What the recipe is called."""
        if self.record is not None:
            return self.record.name
        return "" if self.foreign is None else self.foreign.name

    def request(self, name: str = "") -> dict[str, Any]:
        """The request that it holds, or one that is made of its lines.

        Raises
        ------
        BadInput
            If no line of it brought an ingredient with its grams.
        """
        called = name or self.name
        if self.record is not None:
            return {**self.record.document["request"], "name": called}
        assert self.draft is not None
        return self.draft.request(called)


def brought(catalogue: Catalogue, text: str | bytes) -> Brought:
    """Read a file that a cook brings: our own JSON record, or a page with a recipe in it.

    Nothing in it is run, fetched or followed.

    Raises
    ------
    BadInput
        If it is neither, too large, or nested too deeply.
    """
    try:
        return Brought(record=read_record(text))
    except BadInput as error:
        ours = error
    try:
        foreign = read_jsonld(text)
    except BadInput:
        head = text[:_HEAD] if isinstance(text, str) else text[:_HEAD].decode(errors="replace")
        if FORMAT in head:
            raise ours from None
        raise
    return Brought(foreign=foreign, draft=paste(catalogue, "\n".join(foreign.ingredients)))
