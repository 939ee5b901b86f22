"""A pasted draft with what a cook mended in it, and the request it comes to."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from balancer.catalogue import Catalogue
from balancer.draft_lines import DraftLine, Kind
from balancer.parse import parse_draft, parse_line
from balancer.parse_names import EXACT
from balancer.parse_request import draft_report, draft_request, usual_most_g
from balancer.search import LONGEST_NAME

#: What became of a line that names something and brings no grams, though it should.
_NO_QUANTITY = (Kind.NO_WEIGHT, Kind.NOT_FOUND, Kind.NOT_READ)


@dataclass(frozen=True)
class Pasted:
    """A pasted draft, with what a cook mended in it.

    Parameters
    ----------
    lines : tuple of DraftLine
        Every line but those left out.
    left_out : tuple of int
        Numbers of lines that the cook leaves out.
    """

    lines: tuple[DraftLine, ...]
    left_out: tuple[int, ...] = ()

    def report(self) -> tuple[str, ...]:
        """Sentences on what is left open, added up or rough."""
        return draft_report(self.lines)

    @property
    def to_taste(self) -> tuple[DraftLine, ...]:
        """Lines that name an ingredient and leave its quantity to the taste."""
        return tuple(x for x in self.lines if x.kind is Kind.TO_TASTE and x.match is not None)

    @property
    def title(self) -> DraftLine | None:
        """A first line that is no ingredient but what the sauce is called; None without one."""
        first = self.lines[0] if self.lines else None
        if first is None or first.kind not in _NO_QUANTITY or any(map(str.isdigit, first.text)):
            return None
        alone = sum(x.number == first.number for x in self.lines) == 1
        exact = first.match is not None and first.match.sure >= EXACT
        return first if alone and not exact and len(self.lines) > 1 else None

    @property
    def open_lines(self) -> tuple[DraftLine, ...]:
        """Lines that have to be mended or left out before the draft is a sauce."""
        title = self.title
        return tuple(x for x in self.lines if x.kind in _NO_QUANTITY and x is not title)

    def request(
        self, name: str = "", *, locked: bool = False, with_to_taste: bool = False
    ) -> dict[str, Any]:
        """The draft as a request.

        Parameters
        ----------
        name : str
            Name of the sauce; empty takes the title of the draft.
        locked : bool
            Whether every quantity is locked, so that solving it reports the draft.
        with_to_taste : bool
            Whether what is added to taste goes in with its quantity left open.

        Raises
        ------
        BadInput
            If no line brought an ingredient with its grams.
        """
        if not name and self.title is not None:
            name = self.title.text.strip()[:LONGEST_NAME]
        request = draft_request(self.lines, name, locked=locked)
        read = {x.match.ingredient.key for x in self.lines if x.kind is Kind.READ and x.match}
        if with_to_taste:
            more = {x.match.ingredient.key: x.match.ingredient for x in self.to_taste if x.match}
            names = {entry["name"] for entry in request["ingredients"]}
            most = usual_most_g(self.lines)
            request["ingredients"] += [
                {"name": food.key if food.name in names else food.name}
                | ({"max_g": most[key]} if key in most else {})
                for key, food in more.items()
                if key not in read
            ]
        return request


def paste(
    catalogue: Catalogue,
    text: str,
    *,
    mended: Mapping[int, str] | None = None,
    taken_for: Mapping[tuple[int, int], str] | None = None,
    left_out: Collection[int] = (),
) -> Pasted:
    """Read a pasted draft, with what a cook said of its lines.

    Parameters
    ----------
    catalogue : Catalogue
    text : str
    mended : mapping of int to str or None
        Number of a line, and what it should read.
    taken_for : mapping of (int, int) to str or None
        Number of a line and which of its ingredients, from 0, and the food number it means.
    left_out : collection of int
        Numbers of lines that do not count.

    Raises
    ------
    BadInput
        If there is no line, or there are too many.
    """
    mended, taken_for = mended or {}, taken_for or {}
    read = parse_draft(text, catalogue).lines
    touched = {*mended, *(number for number, _ in taken_for)}
    again: dict[int, tuple[DraftLine, ...]] = {}
    for line in read:
        number = line.number
        if number in touched and number not in again:
            means = {place: key for (n, place), key in taken_for.items() if n == number}
            words = mended.get(number, line.text)
            again[number] = parse_line(words, catalogue, number, taken_for=means)
    lines: list[DraftLine] = []
    done: set[int] = set()
    for line in read:
        if line.number in again:
            if line.number not in done:
                lines += again[line.number]
            done.add(line.number)
        else:
            lines.append(line)
    out = {n for n in left_out if any(x.number == n for x in read)}
    return Pasted(tuple(x for x in lines if x.number not in out), tuple(sorted(out)))
