"""Ingredients of the kitchen's own as they are kept, stocked and measured anew.

One stands beside the pantry under its own name, or takes the place of the pantry ingredient that it
is a lot of: then it has that one's number and names, so that household measures, what is thrown
away, shopping and cautions stay as they were. It may be a lot of, or like, a food of the tables;
never of another own ingredient, so that nothing goes round in a circle.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.errors import BadInput, BalancerError
from balancer.inferring import Inferred, inferred
from balancer.own import LONGEST_OWN_NAME, Own
from balancer.search import named, plain

#: Fields of an own ingredient that readings for one sauce may not set: the entry says them.
NOT_MEASURED = ("name", "of", "like", "allergens")
_NUMBER = re.compile(r"(?:ndb\s*)?(\d{5}\w?|P\d{4})", re.IGNORECASE)


@dataclass(frozen=True)
class Kept:
    """An own ingredient as the kitchen keeps it.

    Parameters
    ----------
    own : Own
    takes_place : bool
        Whether it stands for the pantry ingredient that it is a lot of, for good.

    Raises
    ------
    BadInput
        If it is to take a place and is a lot of nothing.
    """

    own: Own
    takes_place: bool = False

    def __post_init__(self) -> None:
        if self.takes_place and not self.own.of:
            raise BadInput(
                f"{self.own.name}: only a lot of a pantry ingredient can take its place. Say which"
                " ingredient it is a lot of."
            )

    def to_document(self) -> dict[str, Any]:
        """A plain document to be stored; the name stands outside of it."""
        document = self.own.to_document()
        del document["name"]
        return document | ({"takes_place": True} if self.takes_place else {})

    @classmethod
    def from_document(cls, name: str, document: Any) -> Kept:
        """Read it back.

        Raises
        ------
        BadInput
            If a field is unknown or cannot be.
        """
        if not isinstance(document, Mapping):
            raise BadInput("An ingredient is a document with a label or readings.")
        fields = dict(document)
        takes_place = fields.pop("takes_place", False)
        if not isinstance(takes_place, bool):
            raise BadInput(f"takes_place is {str(takes_place)[:40]}. Give true or false.")
        if fields.get("name", name) != name:
            raise BadInput(f"The document of {name[:60]!r} has another name in it. Leave it out.")
        return cls(Own.from_document({**fields, "name": name}), takes_place)


@lru_cache(maxsize=256)
def as_stocked(kept: Kept, tables: Catalogue) -> Inferred:
    """The ingredient that a catalogue is stocked with; each is inferred once.

    Parameters
    ----------
    kept : Kept
    tables : Catalogue
        Without own ingredients.

    Raises
    ------
    UnknownIngredient
        If the food that it is a lot of, or like, is not in the tables.
    BadInput
        If its figures contradict each other, its name is one of the pantry's, or the place that
        it is to take is none.
    """
    own = kept.own
    found = inferred(own, tables)
    place = found.ingredient.kin if kept.takes_place else None
    _refuse_name(own.name, place, tables, table=False)
    if place is None:
        return found
    if place.key not in tables.by_key:
        raise BadInput(
            f"{own.name}: {place.name} is a food of the table. Only the place of an ingredient of"
            " the pantry can be taken; keep this one beside it."
        )
    names = (place.name, *place.synonyms)
    known = {plain(n) for n in names}
    ingredient = replace(
        found.ingredient,
        key=place.key,
        name=place.name,
        synonyms=(*(() if plain(own.name) in known else (own.name,)), *place.synonyms),
        note=f"{own.name}, in place of {place.name} of the tables. {found.ingredient.note}",
    )
    return Inferred(ingredient, found.notes)


def refuse_table_name(kept: Kept, tables: Catalogue) -> None:
    """Refuse the name of a food of the table, which recipes may use; the pantry's always are.

    Raises
    ------
    BadInput
        Says what else to do.
    """
    place = as_stocked(kept, tables).ingredient if kept.takes_place else None
    _refuse_name(kept.own.name, place, tables, table=True)


def _refuse_name(name: str, place: Ingredient | None, tables: Catalogue, *, table: bool) -> None:
    if not plain(name):
        raise BadInput(
            f"The name {name[:60]!r} holds no Latin letter, so it could not be found again. Add a"
            " word in Latin letters."
        )
    if _NUMBER.fullmatch(name.strip()):
        raise BadInput(f"{name!r} looks like a food number. Add a word to the name.")
    taken = [i for i in named(tables, name, table=table) if place is None or i.key != place.key]
    if taken:
        shelf = "pantry" if taken[0].key in tables.by_key else "food table"
        raise BadInput(
            f"{name!r} is a name of the {shelf} already, and recipes may use it."
            f" Call yours otherwise, for example 'my {name}'"
            + ("." if place else ". If it is a lot of that one, it can take its place for good.")
        )


@dataclass(frozen=True)
class Stock:
    """A catalogue stocked with what could be used, and sentences on what could not."""

    ingredients: tuple[Ingredient, ...]
    told: tuple[str, ...]


def stock(documents: Sequence[tuple[str, Any]], tables: Catalogue) -> Stock:
    """Infer the kept ingredients; a damaged one leaves the others as they are.

    Parameters
    ----------
    documents : sequence of (str, mapping)
        Name and document of each, by name.
    tables : Catalogue
        Without own ingredients.
    """
    found: dict[str, Ingredient] = {}
    names: dict[str, str] = {}
    told = []
    for name, document in documents:
        try:
            kept = Kept.from_document(name, document)
            refuse_likeness(name, names.values())
            ingredient = as_stocked(kept, tables).ingredient
            if ingredient.key in found:
                told.append(
                    f"Your ingredient {name!r} stands beside {ingredient.name} and does not take"
                    f" its place, because {names[ingredient.key]!r} has it."
                )
                ingredient = as_stocked(replace(kept, takes_place=False), tables).ingredient
        except BalancerError as error:
            told.append(f"Your ingredient {name[:60]!r} is left out: {error}")
            continue
        found[ingredient.key] = ingredient
        names[ingredient.key] = name
    return Stock(tuple(found.values()), tuple(told))


def refuse_likeness(name: str, others: Any) -> None:
    """Refuse a name that is looked up as another one is.

    Raises
    ------
    BadInput
        Names the other.
    """
    like = [other for other in others if plain(other) == plain(name)]
    if like:
        raise BadInput(
            f"The name {name[:60]!r} reads the same as your {like[0]!r}. Choose another name."
        )


def uses(document: Any, name: str, key: str) -> bool:
    """Whether a saved recipe uses an own ingredient: by its name, or by its number.

    Parameters
    ----------
    document : mapping
        Request and answer.
    name : str
        Name of the ingredient.
    key : str
        Its number; empty where only the name counts, as for one that takes a place: without it
        the pantry's own is there again.
    """
    request, answer = (_mapping(_mapping(document).get(part)) for part in ("request", "answer"))
    wanted = plain(name)
    entries = request.get("ingredients")
    for entry in entries if isinstance(entries, list) else ():
        said = _mapping(entry)
        if "recipe" not in said and plain(str(said.get("name", ""))) == wanted:
            return True
    resolved = _mapping(answer.get("resolved"))
    return bool(key) and any(_mapping(r).get("key") == key for r in resolved.values())


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def measured(ingredient: Ingredient, document: Any, catalogue: Catalogue) -> Ingredient:
    """A food as the lot in hand was measured, for one sauce only.

    Parameters
    ----------
    ingredient : Ingredient
        The food that the entry names.
    document : mapping
        An own ingredient without a name: a label, readings, or both.
    catalogue : Catalogue

    Returns
    -------
    Ingredient
        The same food, with what was measured in place of the table's figures.

    Raises
    ------
    BadInput
        If nothing was measured, or the figures contradict each other.
    """
    given = dict(_mapping(document))
    for field in NOT_MEASURED:
        if field in given:
            raise BadInput(
                f"{ingredient.name[:60]}: what was measured has the field {field!r}, but the entry"
                " says what it is. Leave it out, or keep it as an ingredient of your own."
            )
    own = Own.from_document({**given, "name": ingredient.name[:LONGEST_OWN_NAME]})
    found = inferred(own, catalogue, ingredient).ingredient
    return replace(
        found,
        key=ingredient.key,
        name=ingredient.name,
        synonyms=ingredient.synonyms,
        group=ingredient.group,
        kin=ingredient.kin,
        note=f"As measured for this sauce. {found.note}",
    )
