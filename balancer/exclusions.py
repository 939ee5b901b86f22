"""What a cook rules out: an allergen, alcohol, what is not vegan, what is not in the house."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from balancer.composition import Ingredient
from balancer.errors import BadInput
from balancer.safety_constants import ALLERGENS, EXTRA_ALLERGENS
from balancer.search import plain

_SEA = ("fish", "crustaceans", "molluscs")
#: What a cook says, and the allergens that are meant.
KINDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {name: (name,) for name in ALLERGENS}
    | {
        "dairy": ("milk",),
        "eggs": ("egg",),
        "fish": _SEA,
        "shellfish": ("crustaceans", "molluscs"),
        "nuts": ("tree nuts", "peanut"),
        "peanuts": ("peanut",),
        "gluten": ("wheat", "barley, rye and oats"),
        "soy": ("soybean",),
        "sulfites": ("sulphites",),
        "meat": (),
        "vegan": ("milk", "egg", *_SEA),
        "vegetarian": _SEA,
    }
)
ALCOHOL = "alcohol"
#: More ethanol than this is alcohol [g/100 g]; ripe fruit and vinegar may hold traces.
ALCOHOL_G = 0.5
_MEAT = re.compile(
    r"\b(beef|veal|pork|ham|bacon|lard|tallow|chicken|turkey|goose|duck|lamb|mutton|meat|meatballs"
    r"|sausage|frankfurters?|gelatins?|shortening, .*(?:beef|lard))\b"
)
_ANIMAL = re.compile(r"\b(honey|mayonnaise|eggnog|worcestershire|pesto)\b")
#: With "vegan", "vegetarian" and "meat" these go too, by their names.
_BY_NAME: Mapping[str, tuple[re.Pattern[str], ...]] = MappingProxyType(
    {"vegan": (_MEAT, _ANIMAL), "vegetarian": (_MEAT,), "meat": (_MEAT,)}
)


def allergens_of(food: Ingredient) -> tuple[str, ...]:
    """Allergens of a food: its list, or, for a food of the table, what its name gives away."""
    lent = () if food.kin is None else allergens_of(food.kin)
    if food.allergens or food.share is not None:
        return food.allergens + EXTRA_ALLERGENS.get(food.key, ()) + lent
    named = f"{food.group}: {food.name}".lower()
    return tuple(name for name, rule in ALLERGENS.items() if rule.pattern.search(named)) + lent


def kept_in(foods: Sequence[Ingredient], without: Iterable[str]) -> NDArray[np.bool_]:
    """Which foods are left when some are ruled out.

    Parameters
    ----------
    foods : sequence of Ingredient
    without : iterable of str
        Allergens, ``alcohol``, ``fish``, ``meat``, ``vegetarian`` or ``vegan`` (what is not, goes),
        shelves of the pantry, or names: a food goes when its name or a synonym holds all the words.

    Returns
    -------
    array of bool, shape (n_foods,)

    Raises
    ------
    BadInput
        If a name rules out nothing, because then it was not understood.
    """
    left = np.ones(len(foods), dtype=bool)
    for text in without:
        word = " ".join(text.casefold().split())
        if not word:
            continue
        word = word.removeprefix("no ").removeprefix("not ")
        gone = np.array([_is_ruled_out(food, word) for food in foods], dtype=bool)
        if not gone.any() and word not in KINDS and word != ALCOHOL:
            raise BadInput(
                f"{text.strip()[:60]!r} rules out nothing. Name an ingredient, an allergen, or one"
                f" of: {ALCOHOL}, fish, meat, vegetarian, vegan."
            )
        left &= ~gone
    return left


def _is_ruled_out(food: Ingredient, word: str) -> bool:
    if food.kin is not None and _is_ruled_out(food.kin, word):
        return True  # what the food it is a lot of, or like, may not be, it may not be either
    if word == ALCOHOL:
        return food["ethanol"] > ALCOHOL_G or food.group == "wine and spirit"
    if word in KINDS:
        named = food.name.lower()
        return any(a in KINDS[word] for a in allergens_of(food)) or any(
            pattern.search(named) for pattern in _BY_NAME.get(word, ())
        )
    wanted = set(plain(word).split())
    return (food.group.casefold() == word) or (
        bool(wanted)
        and any(wanted <= set(plain(name).split()) for name in (food.name, *food.synonyms))
    )
