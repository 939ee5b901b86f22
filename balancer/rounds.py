"""One round of tasting: the sauce as made, and what the cook said of it.

A round is a record and nothing else; what it teaches is worked out in ``palate.py``. It keeps the
sauce as weighed, never the target that was aimed at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from balancer.composition import FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.just_about_right import Word
from balancer.palate_constants import LINE_LENGTH, MOST_SPOONS
from balancer.wishes import LARGEST_LEVEL

#: What a closeness score is given for, each from 0 (another dish) to 10 (the same).
CLOSENESS: tuple[str, ...] = ("taste", "aroma", "texture", "look")
LARGEST_CLOSENESS = 10.0


class Place(StrEnum):
    """Where the sauce was when it was tasted."""

    SPOON = "spoon"
    FOOD = "food"


class First(StrEnum):
    """Which of two samples was tasted first."""

    REFERENCE = "reference"
    OWN = "own"


def _checked_axis(axis: str, what: str) -> str:
    if axis not in AXIS:
        raise BadInput(f"{what} names the axis {axis[:40]!r}. Use one of: {', '.join(AXIS_NAMES)}.")
    return axis


def _checked_levels(levels: Sequence[float], what: str) -> tuple[float, ...]:
    values = tuple(float(v) for v in levels)
    if len(values) != len(AXIS_NAMES):
        raise BadInput(
            f"{what} has {len(values)} levels. Give one for each of: {', '.join(AXIS_NAMES)}."
        )
    for axis, value in zip(AXIS_NAMES, values, strict=True):
        if not 0 <= value <= LARGEST_LEVEL[axis]:
            raise BadInput(
                f"{what} has {axis} at {value:g} {AXIS[axis].unit_per_100g}. Give a level from 0 to"
                f" {LARGEST_LEVEL[axis]:g}."
            )
    return values


@dataclass(frozen=True)
class SideBySide:
    """The reference and the own sauce, marked on the same line for how strong each axis is.

    Parameters
    ----------
    reference, own : mapping of str to float
        Axis to mark, 0 (nothing) to 100 (the strongest of its kind) [points]; the same axes.
    first : First
        Which was tasted first.
    rinsed : bool
        Whether the mouth was rinsed between the two; if not, the first carries over.

    Raises
    ------
    BadInput
        If a mark lies off the line, or an axis is marked for one of the two only.
    """

    reference: Mapping[str, float]
    own: Mapping[str, float]
    first: First = First.REFERENCE
    rinsed: bool = True

    def __post_init__(self) -> None:
        if self.first not in tuple(First):
            raise BadInput(f"{self.first!r} was tasted first. Say reference or own.")
        object.__setattr__(self, "first", First(self.first))
        for name in ("reference", "own"):
            marks = {_checked_axis(a, "A rating"): float(v) for a, v in getattr(self, name).items()}
            for axis, mark in marks.items():
                if not 0 <= mark <= LINE_LENGTH.value:
                    raise BadInput(
                        f"The {name} sauce is rated {mark:g} on {axis}. Give a mark from 0 to"
                        f" {LINE_LENGTH.value:g}."
                    )
            object.__setattr__(self, name, MappingProxyType(marks))
        odd = sorted(set(self.reference) ^ set(self.own))
        if odd:
            raise BadInput(
                f"Only one of the two sauces is rated on {odd[0]}. Rate the reference and your own"
                " sauce on it, or neither."
            )


@dataclass(frozen=True)
class Spoons:
    """What the cook said of a ladder of spoons.

    Parameters
    ----------
    axis : str
        The axis that was varied.
    levels : tuple of tuple of float
        Levels of each sample as dosed, in the order of the ladder [axis unit per 100 g].
    order : tuple of int
        Samples from the nearest to the farthest, counted from 1; the nearest alone will do.

    Raises
    ------
    BadInput
        If there are fewer than two samples or more than four, or the order names none of them.

    Examples
    --------
    >>> low, high = (1.0,) * 8, (1.4,) * 8
    >>> Spoons("sour", (low, high), order=(2,)).order
    (2,)
    """

    axis: str
    levels: tuple[tuple[float, ...], ...]
    order: tuple[int, ...]

    def __post_init__(self) -> None:
        _checked_axis(self.axis, "A ladder of spoons")
        checked = tuple(
            _checked_levels(v, f"Sample {i} of the ladder") for i, v in enumerate(self.levels, 1)
        )
        object.__setattr__(self, "levels", checked)
        object.__setattr__(self, "order", tuple(int(i) for i in self.order))
        if not 2 <= len(checked) <= MOST_SPOONS:
            raise BadInput(
                f"The ladder has {len(checked)} samples. Taste 2 to {MOST_SPOONS} in one sitting."
            )
        if not self.order:
            raise BadInput("The ladder has no answer. Say which sample is nearest.")
        for i in self.order:
            if not 1 <= i <= len(checked):
                raise BadInput(
                    f"Sample {i} is named, but the ladder has samples 1 to {len(checked)}."
                    " Name one of them."
                )
            if self.order.count(i) > 1:
                raise BadInput(f"Sample {i} is named twice. Name each sample once.")


@dataclass(frozen=True)
class Round:
    """One tasting of one batch.

    Parameters
    ----------
    made : tuple of float
        Levels of the batch as made, in the order of ``AXES`` [axis unit per 100 g].
    words : mapping of str to Word
        Axis to what the cook wants of it; an axis that is not named is no evidence.
    rest_right : bool
        Whether the cook said that every axis without a word is right.
    ratings : SideBySide or None
        Marks of the reference and of this batch.
    spoons : Spoons or None
        Answer to a ladder of spoons taken from this batch.
    place : Place
    temperature_c : float or None
        Serving temperature [degrees Celsius]; None where it was not noted.
    sample : int
        Which sample of the sitting this was, counted from 1; the tongue tires.
    notes : str
        Free notes.
    closeness : mapping of str to float
        taste, aroma, texture, look to a score from 0 to 10.

    Raises
    ------
    BadInput
        If a figure cannot be meant, an axis is unknown, or the round says nothing at all.

    Examples
    --------
    >>> tasted = Round((12.0, 0.9, 1.2, 10.0, 40.0, 0.0, 2.0, 1.0), {"sour": Word.TOUCH_LESS})
    >>> Round.from_document(tasted.as_document()) == tasted
    True
    """

    made: tuple[float, ...]
    words: Mapping[str, Word] = field(default_factory=dict)
    rest_right: bool = False
    ratings: SideBySide | None = None
    spoons: Spoons | None = None
    place: Place = Place.SPOON
    temperature_c: float | None = None
    sample: int = 1
    notes: str = ""
    closeness: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "made", _checked_levels(self.made, "The batch as made"))
        words = {_checked_axis(a, "The tasting"): _word(a, w) for a, w in self.words.items()}
        object.__setattr__(self, "words", MappingProxyType(words))
        if self.place not in tuple(Place):
            raise BadInput(f"The sauce was tasted {str(self.place)[:40]!r}. Say spoon or food.")
        object.__setattr__(self, "place", Place(self.place))
        scores = {str(k): float(v) for k, v in self.closeness.items()}
        for what, score in scores.items():
            if what not in CLOSENESS:
                raise BadInput(
                    f"Closeness is scored for {what!r}. Score one of: {', '.join(CLOSENESS)}."
                )
            if not 0 <= score <= LARGEST_CLOSENESS:
                raise BadInput(
                    f"The closeness of {what} is {score:g}. Give a score from 0 to"
                    f" {LARGEST_CLOSENESS:g}."
                )
        object.__setattr__(self, "closeness", MappingProxyType(scores))
        if self.temperature_c is not None and not -30 <= self.temperature_c <= 120:
            raise BadInput(
                f"The serving temperature is {self.temperature_c:g} °C. Give one from -30 to 120."
            )
        if self.sample < 1:
            raise BadInput(f"The sample of the sitting is {self.sample}. Count from 1.")
        said = self.words or self.rest_right or self.spoons or (self.ratings and self.ratings.own)
        if not said:
            raise BadInput(
                "The round is empty. Say what at least one axis needs, rate it beside the"
                " reference, or say that all is right."
            )

    def as_document(self) -> dict[str, Any]:
        """The round as plain values, fit for JSON; the inverse of :meth:`from_document`."""
        out: dict[str, Any] = {
            "made": dict(zip(AXIS_NAMES, self.made, strict=True)),
            "words": {a: str(w) for a, w in self.words.items()},
            "rest_right": self.rest_right,
            "place": str(self.place),
            "temperature_c": self.temperature_c,
            "sample": self.sample,
            "notes": self.notes,
            "closeness": dict(self.closeness),
        }
        if self.ratings is not None:
            out["ratings"] = {
                "reference": dict(self.ratings.reference),
                "own": dict(self.ratings.own),
                "first": str(self.ratings.first),
                "rinsed": self.ratings.rinsed,
            }
        if self.spoons is not None:
            out["spoons"] = {
                "axis": self.spoons.axis,
                "levels": [dict(zip(AXIS_NAMES, v, strict=True)) for v in self.spoons.levels],
                "order": list(self.spoons.order),
            }
        return out

    @staticmethod
    def from_document(document: Mapping[str, Any]) -> Round:
        """A round from its plain values.

        Raises
        ------
        BadInput
            If a part is missing, is of the wrong kind or cannot be meant.
        """
        try:
            rest = {k: v for k, v in document.items() if k not in ("made", "ratings", "spoons")}
            rated, spooned = document.get("ratings"), document.get("spoons")
            return Round(
                made=_in_order(document["made"]),
                ratings=None if rated is None else SideBySide(**rated),
                spoons=None
                if spooned is None
                else Spoons(
                    spooned["axis"],
                    tuple(_in_order(v) for v in spooned["levels"]),
                    tuple(spooned["order"]),
                ),
                **rest,
            )
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
            raise BadInput(
                "A saved round cannot be read: a part of it is missing or of the wrong kind. Enter"
                " the tasting again."
            ) from error


def _word(axis: str, word: str) -> Word:
    try:
        return Word(word)
    except ValueError:
        raise BadInput(
            f"The word for {axis} is {str(word)[:40]!r}. Use one of: {', '.join(Word)}."
        ) from None


def _in_order(levels: Mapping[str, float]) -> tuple[float, ...]:
    for axis in levels:
        _checked_axis(axis, "A saved round")
    return tuple(float(levels[a]) for a in AXIS_NAMES)


def made_levels(levels: FloatArray) -> tuple[float, ...]:
    """Levels as a round keeps them, small negative noise of arithmetic cut off."""
    return tuple(max(float(v), 0.0) for v in levels)
