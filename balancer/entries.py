"""An entry of a request: the food that it names, and how the cook uses it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TypeAlias

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient
from balancer.own_kept import measured
from balancer.prepared import prepared
from balancer.search import resolve
from balancer.strength import Strength, with_strength
from balancer.wishes import Use

Entry: TypeAlias = Mapping[str, Any]

#: What an entry may say of how its food is treated before it counts, and of when it goes in.
TREATMENT = ("taken_out", "sieved", "yield", "yield_loses", "goes_in")
QUANTITIES = ("draft_g", "min_g", "max_g", "locked_g")
SHARES = ("share_min", "share_max")


def usual_stage(request: Mapping[str, Any]) -> str:
    """When things go in unless an entry says otherwise: at the start of what is cooked."""
    cooks = float(request.get("water_lost_g", 0.0) or 0.0) > 0 or "simmer" in request
    return "start" if cooks else "raw"


def food_of(entry: Entry, catalogue: Catalogue) -> Ingredient:
    """The food that an entry names, at the strength that it states, or as it was measured.

    Raises
    ------
    BadInput
        If the name means no food, or more than one, or what is stated of it cannot be.
    """
    ingredient = resolve(catalogue, entry["name"])
    if "strength" in entry:
        ingredient = with_strength(ingredient, Strength(**entry["strength"]))
    if "measured" in entry:
        ingredient = measured(ingredient, entry["measured"], catalogue)
    return ingredient


def use_of(entry: Entry, ingredient: Ingredient, stage: str) -> Use:
    """How the cook uses a food: its treatment, and the limits of its quantity.

    Parameters
    ----------
    entry : mapping
        As the request schema describes.
    ingredient : Ingredient
    stage : str
        When it goes in if the entry does not say.

    Raises
    ------
    BadInput
        If a figure cannot be, or nothing of the food stays in the pot.
    """
    numbers = {key: float(entry[key]) for key in (*QUANTITIES, *SHARES) if key in entry}
    ingredient, passes = prepared(
        ingredient,
        taken_out=entry.get("taken_out", False),
        sieved=entry.get("sieved"),
        left=float(entry.get("yield", 1.0)),
        water_only=entry.get("yield_loses", "water") == "water",
    )
    for key in QUANTITIES:
        if key in numbers:
            numbers[key] *= passes
    if "keep_share" in entry:
        least = float(entry["keep_share"]) * numbers.get("draft_g", 0.0)
        most = numbers.get("max_g", math.inf)
        numbers["min_g"] = max(numbers.get("min_g", 0.0), min(least, most))
    label = entry["name"].strip()
    return Use(
        ingredient, label=label, goes_in=entry.get("goes_in", stage), passes=passes, **numbers
    )
