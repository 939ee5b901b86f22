"""The parts of a shopping list: what is needed, what is sold, each line, and the whole."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from balancer.errors import BadInput

LARGEST_PRICE = 1e6
#: Masses closer than this share of themselves are said once [1].
SAME_SHARE = 0.005


@dataclass(frozen=True)
class Need:
    """What one recipe takes of one ingredient.

    Parameters
    ----------
    recipe, label, key : str
        Recipe, name in the request, food number.
    edible_g : float
        [g].
    """

    recipe: str
    label: str
    key: str
    edible_g: float


@dataclass(frozen=True)
class Pack:
    """What is sold at a price.

    Parameters
    ----------
    price : float
        In whatever money the cook counts in.
    grams : float
        As purchased [g].
    """

    price: float
    grams: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.price) and 0 <= self.price <= LARGEST_PRICE):
            raise BadInput(f"A price is {self.price:g}. Give one from 0 to {LARGEST_PRICE:g}.")
        if not (math.isfinite(self.grams) and self.grams > 0):
            raise BadInput(f"A pack holds {self.grams:g} g. Give more than zero.")


@dataclass(frozen=True)
class Item:
    """One line of a shopping list.

    Parameters
    ----------
    name, key, aisle : str
        What to buy.
    edible_g : float
        What the recipes take, all together [g].
    purchased_g : float
        What that weighs as purchased [g].
    have_g : float
        What of it is in the pantry [g].
    buy_g : float
        What is left to buy, as purchased [g].
    count : str
        The same as whole items; empty where it is bought by weight.
    packs : int or None
        Whole packs to buy; None without a price.
    spent, used : float or None
        What the packs cost, and the part of it that goes into the sauces.
    recipes : tuple of str
        Which recipes take it.
    note : str
        What is assumed.
    """

    name: str
    key: str
    aisle: str
    edible_g: float
    purchased_g: float
    have_g: float
    buy_g: float
    count: str
    packs: int | None
    spent: float | None
    used: float | None
    recipes: tuple[str, ...]
    note: str = ""

    def sentence(self) -> str:
        """The line as a cook reads it.

        The weight to buy, then what of it is eaten and what else is known.
        """
        if self.buy_g <= 0:
            return f"{self.name}: nothing to buy, {self.have_g:.4g} g is there"
        text = f"{self.name}: {weight_said(self.buy_g)}"
        if self.count:
            text = f"{self.name}: {self.count}, about {weight_said(self.buy_g)}"
        if abs(self.purchased_g - self.edible_g) > SAME_SHARE * self.edible_g:
            text += f" as purchased, for {weight_said(self.edible_g)} in the pot"
        if self.have_g > 0:
            text += f" ({weight_said(self.have_g)} is there)"
        if self.packs is not None:
            text += f"; {self.packs} pack{'s' if self.packs != 1 else ''}, {self.spent:.2f}"
        return text + (f"; {self.note}" if self.note else "")


@dataclass(frozen=True)
class ShoppingList:
    """Everything to buy, by aisle.

    Parameters
    ----------
    items : tuple of Item
        Sorted by aisle, then by name.
    made_g : mapping of str to float
        Recipe to its finished mass [g].
    used_by_recipe : mapping of str to float
        Recipe to the cost of what goes into it, as far as prices are known.
    unpriced : tuple of str
        What has no price, and is in no cost.
    """

    items: tuple[Item, ...]
    made_g: Mapping[str, float]
    used_by_recipe: Mapping[str, float]
    unpriced: tuple[str, ...] = field(default=())

    @property
    def spent(self) -> float:
        """What the whole packs cost."""
        return math.fsum(i.spent or 0.0 for i in self.items)

    @property
    def used(self) -> float:
        """Cost of what goes into the sauces."""
        return math.fsum(self.used_by_recipe.values())

    def cost_per_serving(self, recipe: str, serving_g: float) -> float:
        """Cost of what goes into one serving of a recipe.

        Parameters
        ----------
        recipe : str
        serving_g : float
            [g].

        Raises
        ------
        BadInput
            If the serving is not above zero.
        """
        if not (math.isfinite(serving_g) and serving_g > 0):
            raise BadInput(f"The serving is {serving_g:g} g. Give more than zero.")
        return self.used_by_recipe[recipe] * serving_g / self.made_g[recipe]

    def by_aisle(self) -> dict[str, tuple[Item, ...]]:
        """Aisle to its lines."""
        aisles = dict.fromkeys(i.aisle for i in self.items)
        return {a: tuple(i for i in self.items if i.aisle == a) for a in aisles}

    def sentences(self, serving_g: float | None = None) -> list[str]:
        """The list as lines of text, with costs where prices are given."""
        lines = []
        for aisle, items in self.by_aisle().items():
            lines.append(aisle.capitalize())
            lines += [f"  {item.sentence()}" for item in items]
        if len(self.unpriced) == len([i for i in self.items if i.edible_g > 0]):
            return lines
        lines.append(f"Packs cost {self.spent:.2f}; what goes in costs {self.used:.2f}.")
        for recipe, cost in self.used_by_recipe.items():
            if cost == 0:  # nothing in it has a price
                continue
            text = f"  {recipe}: {cost:.2f} a batch of {self.made_g[recipe]:.4g} g"
            if serving_g is not None:
                each = self.cost_per_serving(recipe, serving_g)
                text += f", {each:.3f} a serving of {serving_g:g} g"
            lines.append(text)
        if self.unpriced:
            lines.append(f"No price for {', '.join(self.unpriced)}: the cost is at least this.")
        return lines


def weight_said(grams: float) -> str:
    """A weight as a shopping list says it.

    >>> weight_said(58.46), weight_said(129.9)
    ('58.5 g', '130 g')
    """
    return f"{grams:.0f} g" if grams >= 100 else f"{grams:.3g} g"
