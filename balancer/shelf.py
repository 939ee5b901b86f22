"""Foods that may be suggested, as arrays: what they surely bring, and what they may bring.

An assumed value never raises a rank. So a food is priced at the worse end of what is assumed of
it: where an axis or a limit asks for more, at the least it can hold; where less, at the most. What
no table says at all enters at zero, as everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from balancer.composition import INDEX, NAMES, OWN_SHELF, Evidence, FloatArray, Ingredient, matrix
from balancer.constants import SWEETNESS, Coefficient

#: Largest sensible share of a sauce for foods of the table, by the table's group; the pantry has
#: its own for every ingredient.
TABLE_SHARE: Mapping[str, Coefficient] = MappingProxyType(
    {
        group: Coefficient(share, "1", "CHOSEN", "chosen", (0.001, 0.9), f"largest share: {why}")
        for group, share, why in (
            ("Spices and Herbs", 0.02, "dried spices season, they do not fill"),
            ("Fats and Oils", 0.50, "a dressing is half oil"),
            ("Vegetables and Vegetable Products", 0.60, "the base of many sauces"),
            ("Fruits and Fruit Juices", 0.60, "the base of many sauces"),
            ("Soups, Sauces, and Gravies", 0.60, "a sauce may start from another"),
            ("Beverages", 0.60, "a sauce may start from juice or wine"),
            ("Dairy and Egg Products", 0.60, "yogurt and cream sauces"),
            ("Nut and Seed Products", 0.40, "ground nuts bind"),
            ("Sweets", 0.30, "chutneys hold a third of sugar"),
            ("Legumes and Legume Products", 0.40, "purees and ferments"),
            ("Cereal Grains and Pasta", 0.10, "thickens"),
            ("Finfish and Shellfish Products", 0.20, "flavours a sauce, is not its base"),
        )
    }
)
OTHER_SHARE = Coefficient(
    0.30, "1", "CHOSEN", "chosen", (0.001, 0.9), "largest share of a food of another group"
)
#: The least sweet sugar beside what unnamed sugars are counted as: that much is sure.
SURE_SWEETNESS = min(SWEETNESS.values()) / SWEETNESS["other_sugars"]


@dataclass(frozen=True, eq=False)
class Shelf:
    """Candidates as arrays.

    Parameters
    ----------
    foods : tuple of Ingredient
        In the order of food numbers.
    low, high : array, shape (n_foods, n_components)
        Ends of what 100 g bring; equal where nothing is assumed.
    share : array, shape (n_foods,)
        Largest sensible share of the batch [1].
    curated : array of bool, shape (n_foods,)
        Whether a food stands in the pantry.
    """

    foods: tuple[Ingredient, ...]
    low: FloatArray
    high: FloatArray
    share: FloatArray
    curated: NDArray[np.bool_]

    def only(self, wanted: NDArray[np.bool_]) -> Shelf:
        """The foods that a mask leaves."""
        foods = tuple(f for f, keep in zip(self.foods, wanted, strict=True) if keep)
        return Shelf(
            foods, self.low[wanted], self.high[wanted], self.share[wanted], self.curated[wanted]
        )


def largest_share(food: Ingredient) -> float:
    """Largest sensible share of a sauce [1]."""
    if food.share is not None:
        return food.share[2]
    return TABLE_SHARE.get(food.group, OTHER_SHARE).value


def shelf_of(foods: Sequence[Ingredient]) -> Shelf:
    """Stack foods; each set is worked out once."""
    return _shelf(tuple(foods))


@lru_cache(maxsize=8)
def _shelf(foods: tuple[Ingredient, ...]) -> Shelf:
    foods = tuple(sorted(foods, key=lambda f: f.key))
    value = matrix(foods)
    low, high = value.copy(), value.copy()
    assumed = np.nonzero(_assumed(foods))
    stated = value[assumed]
    least, most = (
        np.array([getattr(f, end) for f in foods]).reshape(value.shape)[assumed]
        for end in ("low", "high")
    )
    sure = np.where(assumed[1] == INDEX["other_sugars"], SURE_SWEETNESS * stated, 0.0)
    low[assumed] = np.minimum(stated, np.where(np.isnan(least), sure, least))
    high[assumed] = np.fmax(stated, most)
    return Shelf(
        foods,
        low,
        high,
        np.array([largest_share(f) for f in foods]),
        np.array([f.share is not None or f.group == OWN_SHELF for f in foods], dtype=bool),
    )


def _assumed(foods: Sequence[Ingredient]) -> NDArray[np.bool_]:
    """Where a value is assumed, shape (n_foods, n_components); few patterns serve many foods."""
    place: dict[tuple[Evidence | None, ...], int] = {}
    which = [place.setdefault(food.evidence, len(place)) for food in foods]
    patterns = [[kind is Evidence.ASSUMED for kind in evidence] for evidence in place]
    return np.array(patterns, dtype=bool).reshape(-1, len(NAMES))[which]
