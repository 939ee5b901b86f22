"""A pasted draft, line by line: what was read of each; nothing that was pasted is lost.

Every line comes back with what was read from it, how sure that is, and what else it might mean. A
line that was not understood comes back too, with a sentence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from balancer.parse_names import Match
from balancer.parse_weights import UNKNOWN, Weight

#: From here on a line is good, fair; below, poor [1]; chosen.
GOOD, FAIR = 0.7, 0.5


class Kind(StrEnum):
    """What became of a line."""

    READ = "read"
    TO_TASTE = "to taste"
    NO_WEIGHT = "no weight"
    NOT_FOUND = "not found"
    NOT_READ = "not read"
    HEADING = "heading"


@dataclass(frozen=True)
class DraftLine:
    """One line of a draft and what was read from it.

    Parameters
    ----------
    number : int
        Its number in the paste, from 1; a line that names two ingredients comes back twice.
    text : str
        As it was pasted.
    kind : Kind
    name : str
        The name as read, remarks left out.
    match : Match or None
    alternatives : tuple of Match
        What else it may mean, best first.
    weight : Weight
        Edible mass; NaN where unknown.
    note : str
        A sentence where the cook should look.
    """

    number: int
    text: str
    kind: Kind
    name: str = ""
    match: Match | None = None
    alternatives: tuple[Match, ...] = ()
    weight: Weight = UNKNOWN
    note: str = ""

    @property
    def confidence(self) -> float:
        """The weaker of name and weight, 0 to 1 [1]."""
        return min(self.match.sure, self.weight.trust) if self.match else 0.0

    @property
    def confidence_word(self) -> str:
        """Good, fair or poor."""
        sure = self.confidence
        return "good" if sure >= GOOD else "fair" if sure >= FAIR else "poor"


@dataclass(frozen=True)
class Draft:
    """A pasted draft.

    Parameters
    ----------
    lines : tuple of DraftLine
        Every line that is not blank, in order.
    """

    lines: tuple[DraftLine, ...]

    @property
    def open_lines(self) -> tuple[DraftLine, ...]:
        """Lines that name something and bring no grams."""
        return tuple(line for line in self.lines if line.kind not in (Kind.READ, Kind.HEADING))

    @property
    def total_g(self) -> float:
        """Mass of all that was read [g]."""
        return math.fsum(line.weight.grams for line in self.lines if line.kind is Kind.READ)
