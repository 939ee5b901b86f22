"""What a cook knows of an ingredient of their own: a label, readings, or any mix of the two.

The vector that follows from it is inferred in :mod:`balancer.inferring`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from balancer.composition import ACIDS, SUGARS
from balancer.errors import BadInput
from balancer.label import Label
from balancer.readings import PH_RANGE
from balancer.search import plain

LONGEST_OWN_NAME = 80
#: How the numbers of own ingredients begin; no food number does.
OWN_KEY = "own-"


@dataclass(frozen=True)
class Own:
    """What the cook knows of an ingredient.

    Parameters
    ----------
    name : str
    label : Label or None
    brix : float or None
        Reading of a refractometer [degrees Brix].
    acidity_pct : float or None
        Titratable acidity, as ``acid`` [g per 100 g].
    ph : float or None
        Of a strip or a meter [1].
    salt_pct : float or None
        Salt, by meter or strip [g per 100 g].
    acid, sugar : str
        The kind that all of it is taken for; empty shares it out as in the food named below.
    of : str
        The pantry ingredient that this is one lot of, as in "my limes".
    like : str
        A food it resembles; what it lends is assumed.
    allergens : tuple of str
        As the packet lists them; those of the food named above are added.

    Raises
    ------
    BadInput
        If a figure cannot be, or nothing is known.
    """

    name: str
    label: Label | None = None
    brix: float | None = None
    acidity_pct: float | None = None
    ph: float | None = None
    salt_pct: float | None = None
    acid: str = ""
    sugar: str = ""
    of: str = ""
    like: str = ""
    allergens: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise BadInput("The ingredient has no name. Write one, for example 'my limes'.")
        if any(unicodedata.category(letter) == "Cc" for letter in self.name):
            raise BadInput("The ingredient's name holds a control character. Type it again.")
        if len(self.name) > LONGEST_OWN_NAME:
            raise BadInput(
                f"The name has {len(self.name)} letters and starts with {self.name[:40]!r}."
                f" Use at most {LONGEST_OWN_NAME}."
            )
        for what, value, unit, least, most in (
            ("brix reading", self.brix, "degrees Brix", 0.0, 100.0),
            ("acidity", self.acidity_pct, "g per 100 g", 0.0, 100.0),
            ("salt", self.salt_pct, "g per 100 g", 0.0, 100.0),
            ("pH", self.ph, "", *PH_RANGE),
        ):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            if value is not None and not (number and least <= value <= most):
                raise BadInput(
                    f"{self.name}: the {what} is {str(value)[:40]} {unit}".rstrip()
                    + f". Give a figure from {least:g} to {most:g}."
                )
        for what, kind, known in (("acid", self.acid, ACIDS), ("sugar", self.sugar, SUGARS)):
            if kind and kind not in known:
                raise BadInput(
                    f"No {what} is called {str(kind)[:40]!r}. Use one of: {', '.join(known)}."
                )
        if self.of and self.like:
            raise BadInput(f"{self.name}: it is said to be of a food and like one. Keep one.")
        readings = (self.brix, self.acidity_pct, self.ph, self.salt_pct)
        if self.label is None and all(r is None for r in readings):
            raise BadInput(
                f"{self.name}: neither a label nor a reading is given. Give at least one."
            )

    def to_document(self) -> dict[str, Any]:
        """A plain document to be stored; what is unknown is left out."""
        found: dict[str, Any] = {"name": self.name}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name not in ("name", "label", "allergens") and value not in (None, ""):
                found[field.name] = value
        if self.label is not None:
            found["label"] = self.label.to_document()
        return found | ({"allergens": list(self.allergens)} if self.allergens else {})

    @classmethod
    def from_document(cls, document: Any) -> Own:
        """Read it back.

        Raises
        ------
        BadInput
            If a field is unknown or its figure cannot be.
        """
        if not isinstance(document, Mapping):
            raise BadInput("An ingredient is a document with a name and a label or readings.")
        known = [f.name for f in fields(cls)]
        for key in document:
            if key not in known:
                raise BadInput(
                    f"The ingredient has an unknown field {str(key)[:40]!r}."
                    f" Known: {', '.join(known)}."
                )
        given = {"name": "", **document}
        if given.get("label") is not None:
            given["label"] = Label.from_document(given["label"])
        allergens = given.get("allergens", ())
        if not isinstance(allergens, list | tuple) or not all(
            isinstance(a, str) for a in allergens
        ):
            raise BadInput("The allergens are no list of names. Write them as on the packet.")
        given["allergens"] = tuple(allergens)
        for field in ("acid", "sugar", "of", "like"):
            if not isinstance(given.get(field, ""), str):
                raise BadInput(f"{field} is {str(given[field])[:40]}. Give a name.")
        return cls(**given)


def own_key(name: str) -> str:
    """Number of an own ingredient, from its name.

    Examples
    --------
    >>> own_key("My limes")
    'own-my-lime'
    """
    return OWN_KEY + plain(name).replace(" ", "-")
