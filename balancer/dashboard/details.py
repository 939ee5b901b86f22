"""What a cook says of a tasting besides less and more, until the round is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from math import isfinite
from typing import Any

from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.palate_constants import LINE_LENGTH
from balancer.rounds import First, Place, SideBySide


@dataclass(frozen=True)
class Details:
    """Where, how and beside what a sauce was tasted.

    Parameters
    ----------
    rest_right : bool
        Whether every axis that was not named is right.
    place : str
        "spoon" or "food".
    temperature_c : float or None
        Serving temperature [degrees Celsius].
    sample : int
        Which sample of this sitting.
    notes : str
    closeness : mapping of str to float
        taste, aroma, texture, look; 0 to 10.
    reference, own : mapping of str to float
        Marks on a line from 0 to 100, by axis [points].
    own_first, rinsed : bool
        Whether the own sauce was tasted first, and whether the mouth was rinsed in between.
    """

    rest_right: bool = False
    place: str = Place.SPOON.value
    temperature_c: float | None = None
    sample: int = 1
    notes: str = ""
    closeness: Mapping[str, float] = field(default_factory=dict)
    reference: Mapping[str, float] = field(default_factory=dict)
    own: Mapping[str, float] = field(default_factory=dict)
    own_first: bool = False
    rinsed: bool = True

    @property
    def rated(self) -> bool:
        """Whether anything is marked on the line."""
        return bool(self.reference or self.own)

    def for_round(self) -> dict[str, Any]:
        """The same as fields of a round.

        Raises
        ------
        BadInput
            If a mark lies off the line, or only one of the two sauces is marked.
        """
        order = First.OWN if self.own_first else First.REFERENCE
        return {
            "place": self.place,
            "temperature_c": self.temperature_c,
            "sample": self.sample,
            "notes": self.notes,
            "closeness": dict(self.closeness),
            "ratings": SideBySide(self.reference, self.own, order, rinsed=self.rinsed)
            if self.rated
            else None,
        }

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Details:
        """Read what :meth:`as_document` wrote; marks may still be missing.

        Raises
        ------
        TypeError, ValueError
            If it is something else.
        """
        plain, found = cls(), cls(**document)
        for name, first in vars(plain).items():
            if not _of_kind(getattr(found, name), first):
                raise ValueError(f"no details of a tasting: {name}")
        if not {*found.reference, *found.own} <= set(AXIS_NAMES):
            raise ValueError("no axis of a tasting")
        return replace(found, place=Place(found.place).value)

    def as_document(self) -> dict[str, Any]:
        """What differs from nothing said, as plain values."""
        plain = Details()
        found = {f.name: getattr(self, f.name) for f in fields(self)}
        return {
            name: dict(value) if isinstance(value, Mapping) else value
            for name, value in found.items()
            if value != getattr(plain, name)
        }


def _of_kind(value: object, first: object) -> bool:
    """Whether a value can stand where this one stands when nothing is said."""
    if isinstance(first, Mapping):
        return isinstance(value, Mapping) and all(_number(mark) for mark in value.values())
    if first is None:
        return value is None or _number(value)
    return type(value) is type(first) and (isinstance(value, str | bool) or _number(value))


def _number(value: object) -> bool:
    return isinstance(value, int | float) and type(value) is not bool and isfinite(value)


def with_mark(
    marks: Mapping[str, float], name: str, value: float | None, most: float, what: str
) -> dict[str, float]:
    """Marks or scores with one of them set, or taken away by None.

    Raises
    ------
    BadInput
        If it lies off the line.
    """
    if value is not None and not 0.0 <= value <= most:
        raise BadInput(f"{what} is {value:g}. Give a mark from 0 to {most:g}.")
    return {k: v for k, v in {**marks, name: value}.items() if v is not None}


def on_line(
    marks: Mapping[str, float], axis: str, value: float | None, whose: str
) -> dict[str, float]:
    """Marks on the line with one of them set."""
    return with_mark(marks, axis, value, LINE_LENGTH.value, f"The mark of {whose} on {axis}")
