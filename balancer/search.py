"""From the words of a cook to an ingredient: exact names first, then the nearest.

Plain kitchen words mean the raw or ordinary form; the answer always says which food was meant.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from weakref import WeakKeyDictionary

import numpy as np

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.errors import BadInput, UnknownIngredient

#: A pantry name counts this much more than an equal name of the table [points of 100].
PANTRY_BONUS = 6.0
#: Below this score a name is not worth showing [points of 100].
LEAST_SCORE = 45.0
LONGEST_NAME = 120


@dataclass(frozen=True)
class Hit:
    """One ingredient that a search found.

    Parameters
    ----------
    ingredient : Ingredient
    matched : str
        The name or synonym that matched.
    score : float
        0 to 100, pantry bonus included.
    in_pantry : bool
        Whether it stands in the curated pantry.
    """

    ingredient: Ingredient
    matched: str
    score: float
    in_pantry: bool


def plain(text: str) -> str:
    """Fold case, accents, punctuation and plurals, so that like names look alike.

    Examples
    --------
    >>> plain("Plums, raw")
    'plum raw'
    >>> plain("Tomatoes") == plain("tomato")
    True
    """
    folded = text.casefold()
    if not folded.isascii():
        folded = unicodedata.normalize("NFKD", text).casefold()
        folded = "".join(c for c in folded if not unicodedata.combining(c))
    return " ".join(_singular(w) for w in re.findall(r"[a-z0-9]+", folded))


def _singular(word: str) -> str:
    if not word.endswith("s"):
        return word
    for ending, instead in (("ies", "y"), ("oes", "o"), ("shes", "sh"), ("ches", "ch")):
        if word.endswith(ending) and len(word) > len(ending) + 1:
            return word[: -len(ending)] + instead
    if not word.endswith(("ss", "us", "is")) and len(word) > 3:
        return word[:-1]
    return word


@dataclass(frozen=True, eq=False)
class _Names:
    """Names and synonyms of some ingredients, and where each folded text stands among them.

    ``first`` is the first place of a text, ``again`` has the others of the few that stand twice.
    """

    texts: tuple[str, ...]
    labels: tuple[str, ...]
    ingredients: tuple[Ingredient, ...]
    in_pantry: bool
    first: Mapping[str, int]
    again: Mapping[str, Sequence[int]]

    def exact(self, text: str) -> dict[str, Ingredient]:
        """Ingredients of just this folded text, by key."""
        if text not in self.first:
            return {}
        found = [self.ingredients[p] for p in (self.first[text], *self.again.get(text, ()))]
        return {ingredient.key: ingredient for ingredient in found}


#: Names of each catalogue's table.
_OF_TABLE: WeakKeyDictionary[Catalogue, _Names] = WeakKeyDictionary()


def _names(labelled: Iterable[tuple[str, Ingredient]], in_pantry: bool) -> _Names:
    pairs = tuple(labelled)
    labels = tuple(label for label, _ in pairs)
    texts = tuple(plain(label) for label in labels)
    first: dict[str, int] = {}
    again: dict[str, list[int]] = {}
    for place, text in enumerate(texts):
        if first.setdefault(text, place) != place:
            again.setdefault(text, []).append(place)
    return _Names(texts, labels, tuple(i for _, i in pairs), in_pantry, first, again)


@lru_cache(maxsize=8)
def _pantry_names(pantry: tuple[Ingredient, ...]) -> _Names:
    return _names(((label, i) for i in pantry for label in (i.name, *i.synonyms)), True)


@lru_cache(maxsize=2)
def _names_of_table(table: tuple[Ingredient, ...]) -> _Names:
    return _names(((i.name, i) for i in table), False)


def _names_of_pantry(catalogue: Catalogue) -> _Names:
    return _pantry_names(catalogue.pantry)


def _table_names(catalogue: Catalogue) -> _Names:
    """Names of the whole table; to look up so many foods takes a while, so once a catalogue."""
    found = _OF_TABLE.get(catalogue)
    if found is None:
        found = _OF_TABLE[catalogue] = _names_of_table(catalogue.table)
    return found


def resolve(catalogue: Catalogue, name: str) -> Ingredient:
    """The one ingredient that a name means.

    Names and synonyms of the pantry come first, then names of the table, then food numbers.

    Raises
    ------
    UnknownIngredient
        If nothing has that name; the error carries the nearest five.
    BadInput
        If the name is empty or too long, or means more than one food of the table.
    """
    text = name.strip()
    if not text:
        raise BadInput("An ingredient has no name. Write one, for example 'plums'.")
    if len(text) > LONGEST_NAME:
        raise BadInput(
            f"An ingredient name of {len(text)} letters starts with {text[:40]!r}."
            f" Use at most {LONGEST_NAME}."
        )
    number = re.fullmatch(r"(?:ndb\s*)?(\d{5}\w?|P\d{4})", text, flags=re.IGNORECASE)
    if number:
        wanted = number[1].casefold()
        for key, ingredient in catalogue.by_key.items():
            if key.casefold() == wanted:
                return ingredient
    for names_of in (_names_of_pantry, _table_names):
        matches = names_of(catalogue).exact(plain(text))
        if len(matches) == 1:
            return next(iter(matches.values()))
        if matches:
            same = [i for i in matches.values() if i.name.casefold() == text.casefold()]
            if len(same) == 1:
                return same[0]
            names = "; ".join(f"{i.name} ({i.key})" for i in matches.values())
            raise BadInput(f"{text!r} can mean {names}. Use one of these names or numbers.")
    if number:
        found = [i for i in catalogue.table if i.key == number[1]]
        if found:
            return found[0]
    raise UnknownIngredient(text, tuple(h.ingredient.name for h in find(catalogue, text, 5)))


def named(catalogue: Catalogue, name: str, *, table: bool = True) -> tuple[Ingredient, ...]:
    """Every ingredient of just this name or synonym; nothing is guessed."""
    folded = plain(name)
    found = _names_of_pantry(catalogue).exact(folded)
    if table:
        found |= _table_names(catalogue).exact(folded)
    return tuple(found.values())


def find(catalogue: Catalogue, text: str, limit: int = 10, *, table: bool = True) -> list[Hit]:
    """Ingredients whose names come nearest to a text, best first; typing errors are forgiven.

    Parameters
    ----------
    catalogue : Catalogue
    text : str
    limit : int
        Largest number of hits.
    table : bool
        Whether to search the whole food table as well as the pantry.
    """
    wanted = plain(text[:LONGEST_NAME])
    if not wanted:
        return []
    best: dict[str, Hit] = {}
    for names in (_names_of_pantry(catalogue), *((_table_names(catalogue),) if table else ())):
        _nearest(wanted, names, best)
    ranked = sorted(
        best.values(), key=lambda h: (-h.score, len(h.ingredient.name), h.ingredient.key)
    )
    return ranked[:limit]


def _nearest(wanted: str, names: _Names, best: dict[str, Hit]) -> None:
    """Add what is near enough to a folded text to the best hit of each ingredient."""
    from rapidfuzz import fuzz, process

    # the share of wanted words that a name holds, and how alike the two are as a whole
    held = process.cdist([wanted], names.texts, scorer=fuzz.token_set_ratio)[0]
    alike = process.cdist([wanted], names.texts, scorer=fuzz.token_sort_ratio)[0]
    scores = 0.5 * held.astype(float) + 0.5 * alike.astype(float)
    for place in np.flatnonzero(scores >= LEAST_SCORE - PANTRY_BONUS):
        ingredient = names.ingredients[place]
        score = float(scores[place]) + (PANTRY_BONUS if names.in_pantry else 0.0)
        if score < LEAST_SCORE:
            continue
        old = best.get(ingredient.key)
        if old is None or score > old.score:
            best[ingredient.key] = Hit(
                ingredient, names.labels[place], min(score, 100.0), names.in_pantry
            )
