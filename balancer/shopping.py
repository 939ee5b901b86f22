"""What to buy for one sauce or several: from edible grams to what lies on the counter.

A recipe weighs the part that is eaten. What is bought weighs more, by the refuse that the food
table gives; juice is bought as whole fruit, by the yield of one fruit. Nuts and seeds are bought
shelled (common practice, no source), and what they weigh in the shell is told beside. What is in
the pantry is taken off, packs are whole packs, and what has no price is told and never counted as
free.

References
----------
.. [1] USDA National Nutrient Database for Standard Reference, Release 28: refuse in per cent of
   the food as purchased (file FOOD_DES); yields and household weights (file WEIGHT).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from balancer.catalogue import Catalogue
from balancer.choices import item_weights
from balancer.composite import expand
from balancer.composition import Ingredient
from balancer.errors import BadInput
from balancer.measures import count_text
from balancer.numerals import read_number
from balancer.shopping_items import Item, Need, Pack, ShoppingList, weight_said

__all__ = ["Item", "Need", "Pack", "ShoppingList", "as_purchased", "base_needs", "fruit_for_juice"]
__all__ += ["needs_of", "read_pack", "shopping_list"]

#: What comes out of a tap is on no list.
NOT_BOUGHT = ("water",)
#: What is sold shelled, unless the table counts it by the whole piece, as a coconut.
SHELLED = ("nut and seed",)
#: Items are counted up to this many; more are bought by weight.
MOST_COUNTED = 24
#: Less than this is not worth a line [g].
LEAST_G = 0.0005


def needs_of(recipe: str, answer: Mapping[str, Any], batches: float = 1.0) -> tuple[Need, ...]:
    """What a saved answer takes of each ingredient.

    Parameters
    ----------
    recipe : str
        Name of the recipe.
    answer : mapping
        The saved answer.
    batches : float
        How many batches [1].

    Raises
    ------
    BadInput
        If the answer has no quantities.

    Examples
    --------
    >>> saved = {"quantities_g": {"plums": 380.0}, "resolved": {"plums": {"key": "09279"}}}
    >>> needs_of("dip", saved, 2.0)[0].edible_g
    760.0
    """
    if not answer.get("quantities_g"):
        raise BadInput(f"{recipe!r} has no quantities. Solve it again and save the answer.")
    return tuple(
        Need(recipe, label, answer["resolved"][label]["key"], float(grams) * batches)
        for label, grams in answer["quantities_g"].items()
        if float(grams) * batches >= LEAST_G
    )


def base_needs(
    recipe: str, document: Mapping[str, Any], catalogue: Catalogue, batches: float = 1.0
) -> tuple[Need, ...]:
    """What a saved recipe takes in all, that of the recipes in it included.

    Parameters
    ----------
    recipe : str
        Name of the recipe.
    document : mapping
        Its request and its answer.
    catalogue : Catalogue
        Stocked with the saved recipes.
    batches : float
        How many batches [1].

    Raises
    ------
    BadInput
        If it, or a recipe in it, has no quantities.
    NotSaved
        If a recipe in it is missing.
    """
    answer = document["answer"]
    inside = {e["name"].strip() for e in document["request"]["ingredients"] if "recipe" in e}
    needs = [n for n in needs_of(recipe, answer, batches) if n.label not in inside]
    if inside:
        needs += [
            Need(recipe, str((p.entry or {})["name"]).strip(), p.ingredient.key, p.grams * batches)
            for p in expand(document, catalogue, recipe).parts
            if p.path
        ]
    return tuple(needs)


def shopping_list(
    catalogue: Catalogue,
    needs: Sequence[Need],
    made_g: Mapping[str, float],
    *,
    have_g: Mapping[str, float] | None = None,
    packs: Mapping[str, Pack] | None = None,
) -> ShoppingList:
    """What to buy for several recipes, added up.

    Parameters
    ----------
    catalogue : Catalogue
    needs : sequence of Need
    made_g : mapping of str to float
        Recipe to its finished mass [g].
    have_g : mapping of str to float, optional
        What is in the pantry, as purchased, by the name in a request or of the food [g].
    packs : mapping of str to Pack, optional
        What is sold, by the same names.

    Raises
    ------
    BadInput
        If a name in the pantry or among the prices is in none of the recipes.
    """
    by_key: dict[str, list[Need]] = {}
    for need in needs:
        by_key.setdefault(need.key, []).append(need)
    foods = {key: catalogue.food(key) for key in by_key}
    names = _names(by_key, foods)
    stock = {_key(n, names): _mass(g, n) for n, g in (have_g or {}).items()}
    sold = {_key(n, names): pack for n, pack in (packs or {}).items()}
    items = []
    used_by_recipe = dict.fromkeys(made_g, 0.0)
    unpriced = []
    for key, parts in by_key.items():
        food = foods[key]
        if food.group in NOT_BOUGHT:
            continue
        item = _item(catalogue, food, parts, stock.get(key, 0.0), sold.get(key))
        items.append(item)
        if item.used is None:
            unpriced.append(item.name)
            continue
        for need in parts:
            used_by_recipe[need.recipe] += item.used * need.edible_g / item.edible_g
    items.sort(key=lambda i: (i.aisle, i.name))
    return ShoppingList(tuple(items), dict(made_g), used_by_recipe, tuple(sorted(unpriced)))


def as_purchased(edible_g: float, refuse: float) -> float:
    """What an edible mass weighs as purchased [g], by reference [1]_.

    Parameters
    ----------
    edible_g : float
        [g].
    refuse : float
        Share of the food as purchased that is thrown away [1]; NaN counts as none.

    Examples
    --------
    >>> as_purchased(94.0, 0.06)
    100.0
    """
    return edible_g if math.isnan(refuse) else edible_g / (1.0 - refuse)


def fruit_for_juice(catalogue: Catalogue, key: str) -> tuple[Ingredient, str, float] | None:
    """The whole fruit that a juice is pressed from; None for what is not pressed.

    Returns
    -------
    Ingredient
        The fruit.
    str
        Its name in the singular.
    float
        Juice of one fruit, by the table's yield [g].

    Examples
    --------
    >>> from balancer.catalogue import default_catalogue
    >>> fruit_for_juice(default_catalogue(), "09152")[1:]
    ('lemon', 48.0)
    """
    for measure in catalogue.measures(key):
        word = measure.unit_text.removesuffix(" yields")
        if word == measure.unit_text or " " in word or "juice" not in catalogue.food(key).name:
            continue
        if word == "fruit":
            word = catalogue.food(key).name.removesuffix(" juice")
        for food in catalogue.pantry:
            if word in (food.name.removesuffix("s"), *food.synonyms) and "juice" not in food.name:
                return food, word, measure.grams / measure.amount
    return None


def read_pack(text: str) -> Pack:
    """Read a price such as ``1.35/1000``: so much for so many grams.

    Raises
    ------
    BadInput
        If it cannot be read.

    Examples
    --------
    >>> read_pack("1.35/1000")
    Pack(price=1.35, grams=1000.0)
    """
    price, _, grams = text.partition("/")
    try:
        cost, pack_g = read_number(price), read_number(grams.strip().removesuffix("g"))
    except BadInput as error:
        raise BadInput(
            f"{text[:40]!r} is not a price: {error} A price is written with the grams of the pack,"
            " as '1.35/1000'."
        ) from None
    return Pack(cost, pack_g)


def _item(
    catalogue: Catalogue, food: Ingredient, parts: Sequence[Need], have_g: float, pack: Pack | None
) -> Item:
    edible_g = math.fsum(need.edible_g for need in parts)
    fruit = fruit_for_juice(catalogue, food.key)
    note = "refuse is not known and counted as none" if math.isnan(food.refuse) else ""
    name, aisle, count = parts[0].label, food.group, ""
    if fruit is not None:
        whole, word, juice_g = fruit
        one_g = _whole_g(catalogue, whole)
        purchased_g = edible_g / juice_g * one_g
        buy_g = max(0.0, purchased_g - have_g)
        number = math.ceil(buy_g / one_g - 1e-9)
        count, buy_g = count_text(number, word), number * one_g
        note = f"one yields {juice_g:g} g"
    else:
        items = item_weights(catalogue.measures(food.key))
        shelled = food.group in SHELLED and food.refuse > 0 and not items
        purchased_g = edible_g if shelled else as_purchased(edible_g, food.refuse)
        buy_g = max(0.0, purchased_g - have_g)
        if shelled and buy_g > 0:
            note = f"shelled; in the shell {weight_said(as_purchased(buy_g, food.refuse))}"
        if items and buy_g > 0:
            word, weight = min(items, key=lambda i: i[0].split()[-1] in ("small", "large"))
            number = math.ceil(buy_g / as_purchased(weight, food.refuse) - 1e-9)
            count = count_text(number, word) if number <= MOST_COUNTED else ""
    count = count if buy_g > 0 else ""
    packs = spent = used = None
    if pack is not None:
        packs = math.ceil(buy_g / pack.grams - 1e-9)
        spent, used = packs * pack.price, purchased_g / pack.grams * pack.price
    recipes = tuple(dict.fromkeys(need.recipe for need in parts))
    return Item(
        name, food.key, aisle, edible_g, purchased_g, have_g, buy_g, count, packs, spent, used,
        recipes, note,
    )  # fmt: skip


def _whole_g(catalogue: Catalogue, fruit: Ingredient) -> float:
    """Weight of one whole fruit as purchased [g]: the smallest that the table weighs."""
    weights = [w for item, w in item_weights(catalogue.measures(fruit.key)) if item == "whole"]
    weights = weights or [w for _, w in item_weights(catalogue.measures(fruit.key))]
    return as_purchased(weights[0], fruit.refuse)


def _names(by_key: Mapping[str, Sequence[Need]], foods: Mapping[str, Ingredient]) -> dict[str, str]:
    """Every name that a cook may call something on the list by, to its key."""
    names = {foods[key].name.casefold(): key for key in by_key}
    for key, parts in by_key.items():
        names |= {need.label.casefold(): key for need in parts}
    return names


def _key(name: str, names: Mapping[str, str]) -> str:
    wanted = " ".join(name.split()).casefold()
    if wanted not in names:
        shown = name if len(name) <= 40 else name[:37] + "..."
        raise BadInput(
            f"{shown!r} is in none of these recipes. Use one of: {', '.join(sorted(names))}."
        )
    return names[wanted]


def _mass(grams: float, name: str) -> float:
    if not (math.isfinite(grams) and grams >= 0):
        raise BadInput(f"There is {grams:g} g of {name} in the pantry. Give zero or more.")
    return grams
