"""Nutrition of a sauce, summed from the food tables, in the order of US and EU labels.

Only what the tables hold is summed. What they do not know of an ingredient counts as nothing, is
told by name with its share of the batch, and makes the figure a lower bound.

References
----------
See :mod:`balancer.nutrition_constants`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from balancer.composition import ACIDS, INDEX, SUGARS, Blend, FloatArray, Ingredient, filled
from balancer.errors import BadInput
from balancer.nutrition_constants import (
    EU_KCAL,
    EU_KJ,
    EU_NOT_IN_TABLES,
    EU_ROUNDING,
    EU_SALT_PER_SODIUM,
    US_KCAL,
    US_NOT_IN_TABLES,
    US_ROUNDING,
    Band,
)
from balancer.problem import Problem

#: An unknown nutrient is named when the ingredient makes up this share of what goes in [1].
NAMED_FROM = 0.001
NOT_A_LABEL = (
    "Summed from food tables, not analysed: it is no label. Local law says what a label must show."
)
LARGEST_SERVING_G = 5000.0
_NUTRIENTS = ("protein", "fat", "carbohydrate", "sugars", "fibre", "acids", "ethanol", "sodium_mg")
_BY_DIFFERENCE = ("water", "protein", "fat", "ash")


class Order(StrEnum):
    """Whose label sets the order and the rounding."""

    US = "us"
    EU = "eu"


@dataclass(frozen=True)
class Row:
    """One row of a nutrition panel, rounded as its label asks.

    Parameters
    ----------
    name : str
        As on the panel.
    per_100g, per_serving : str
        With the unit; the second is empty without a serving.
    note : str
        What is not known.
    property_name : str
        Property of schema.org/NutritionInformation that it is; empty for none.
    """

    name: str
    per_100g: str
    per_serving: str = ""
    note: str = ""
    property_name: str = ""


@dataclass(frozen=True)
class Panel:
    """A nutrition panel.

    Parameters
    ----------
    order : Order
        Whose label sets the order and the rounding.
    rows : tuple of Row
    notes : tuple of str
        What it leaves out, in sentences.
    """

    order: Order
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()

    @property
    def form(self) -> str:
        """Whose form it is, in words."""
        return f"{self.order.upper()} form"

    @property
    def title(self) -> str:
        """What stands over it."""
        return f"Nutrition in the {self.form}"


@dataclass(frozen=True)
class Nutrition:
    """What 100 g of a finished sauce hold.

    Parameters
    ----------
    protein, fat, carbohydrate, sugars, fibre, acids, acetic, ethanol : float
        Grams in 100 g; carbohydrate is total, by difference, with fibre and all acids but acetic
        in it, since acetic acid leaves an oven with the water [g].
    sodium_mg : float
        [mg].
    gaps : mapping of str to tuple of str
        Nutrient to the ingredients of which the tables do not know it.
    gap_share : mapping of str to float
        Nutrient to the share of the batch that those make up [1].
    """

    protein: float
    fat: float
    carbohydrate: float
    sugars: float
    fibre: float
    acids: float
    acetic: float
    ethanol: float
    sodium_mg: float
    gaps: Mapping[str, tuple[str, ...]]
    gap_share: Mapping[str, float]

    @property
    def available_carbohydrate(self) -> float:
        """Carbohydrate of the EU label: without fibre and acids [g]."""
        return max(self.sugars, self.carbohydrate - self.fibre - (self.acids - self.acetic))

    @property
    def salt(self) -> float:
        """Salt of the EU label [g]."""
        return float(EU_SALT_PER_SODIUM) * self.sodium_mg / 1000.0

    @property
    def us_kcal(self) -> float:
        """Energy by the general factors 4, 4, 9 and 7 [kcal]."""
        return math.fsum(float(factor) * getattr(self, what) for what, factor in US_KCAL.items())

    @property
    def eu_kcal(self) -> float:
        """Energy by the factors of the EU label [kcal]."""
        return self._eu(EU_KCAL)

    @property
    def eu_kj(self) -> float:
        """Energy by the factors of the EU label [kJ]."""
        return self._eu(EU_KJ)

    def _eu(self, factors: Mapping[str, Any]) -> float:
        amounts = {what: getattr(self, what) for what in factors}
        amounts["carbohydrate"] = self.available_carbohydrate
        return math.fsum(float(factors[what]) * amounts[what] for what in factors)

    def sentences(self, order: Order = Order.US) -> list[str]:
        """What the figures leave out, in words."""
        missing = US_NOT_IN_TABLES if order is Order.US else EU_NOT_IN_TABLES
        found = [
            f"{what.removesuffix('_mg').capitalize()} is at least this: not known for"
            f" {', '.join(names)} ({100 * self.gap_share[what]:.2g} % of what goes in)."
            for what, names in self.gaps.items()
        ]
        found.append(f"The tables do not hold {', '.join(missing)}.")
        return [*found, NOT_A_LABEL]

    def panels(self, serving_g: float | None = None) -> tuple[Panel, ...]:
        """The panels of all labels; see :meth:`panel`."""
        return tuple(
            Panel(order, self.panel(order, serving_g), tuple(self.sentences(order)))
            for order in Order
        )

    def panel(self, order: Order = Order.US, serving_g: float | None = None) -> tuple[Row, ...]:
        """Rows of a nutrition panel.

        Parameters
        ----------
        order : Order
        serving_g : float, optional
            Size of a serving [g].

        Raises
        ------
        BadInput
            If the serving is not above zero, or larger than a pot.
        """
        if serving_g is not None and not 0 < serving_g <= LARGEST_SERVING_G:
            raise BadInput(
                f"The serving is {serving_g:g} g. Give more than zero, up to"
                f" {LARGEST_SERVING_G:g} g."
            )
        rows = self._us_rows() if order is Order.US else self._eu_rows()
        per_serving = None if serving_g is None else serving_g / 100.0
        return tuple(
            Row(
                name,
                _shown(amount, unit, bands),
                "" if per_serving is None else _shown(amount * per_serving, unit, bands),
                "at least" if self._has_gap(what) else "",
                property_name,
            )
            for name, what, amount, unit, bands, property_name in rows
        )

    def _has_gap(self, what: str) -> bool:
        parts = ("protein", "fat", "carbohydrate") if what == "energy" else (what,)
        return any(part in self.gaps for part in parts)

    def _us_rows(self) -> tuple[tuple[str, str, float, str, tuple[Band, ...], str], ...]:
        r = US_ROUNDING
        return (
            ("Calories", "energy", self.us_kcal, "kcal", r["kcal"], "calories"),
            ("Total Fat", "fat", self.fat, "g", r["fat"], "fatContent"),
            ("Sodium", "sodium_mg", self.sodium_mg, "mg", r["sodium"], "sodiumContent"),
            ("Total Carbohydrate", "carbohydrate", self.carbohydrate, "g", r["g"],
             "carbohydrateContent"),
            ("Dietary Fiber", "fibre", self.fibre, "g", r["g"], "fiberContent"),
            ("Total Sugars", "sugars", self.sugars, "g", r["g"], "sugarContent"),
            ("Protein", "protein", self.protein, "g", r["g"], "proteinContent"),
        )  # fmt: skip

    def _eu_rows(self) -> tuple[tuple[str, str, float, str, tuple[Band, ...], str], ...]:
        r = EU_ROUNDING
        return (
            ("Energy", "energy", self.eu_kj, "kJ", r["kJ"], ""),
            ("Energy", "energy", self.eu_kcal, "kcal", r["kcal"], "calories"),
            ("Fat", "fat", self.fat, "g", r["g"], "fatContent"),
            ("Carbohydrate", "carbohydrate", self.available_carbohydrate, "g", r["g"],
             "carbohydrateContent"),
            ("of which sugars", "sugars", self.sugars, "g", r["g"], "sugarContent"),
            ("Fibre", "fibre", self.fibre, "g", r["g"], "fiberContent"),
            ("Protein", "protein", self.protein, "g", r["g"], "proteinContent"),
            ("Salt", "sodium_mg", self.salt, "g", r["salt"], ""),
        )  # fmt: skip


def nutrition_of(problem: Problem, grams: FloatArray) -> Nutrition:
    """Nutrition of a settled sauce.

    Parameters
    ----------
    problem : Problem
        With what cooking leaves.
    grams : array, shape (n,)
        Quantities in the cook's order [g].

    Returns
    -------
    Nutrition

    Raises
    ------
    BadInput
        If the batch weighs nothing.
    """
    blend = Blend(problem.composition(), grams, problem.water_lost_g)
    per_100g = blend.per_100g()
    ingredients = [u.ingredient for u in problem.uses]
    carbohydrate = np.array([total_carbohydrate(i) for i in ingredients])
    acids = [INDEX[a] for a in ACIDS]
    gaps, shares = _gaps(problem, grams)
    return Nutrition(
        protein=float(per_100g[INDEX["protein"]]),
        fat=float(per_100g[INDEX["fat"]]),
        carbohydrate=float(grams @ carbohydrate) / blend.mass_g,
        sugars=float(per_100g[[INDEX[s] for s in SUGARS]].sum()),
        fibre=float(per_100g[INDEX["fibre"]]),
        acids=float(per_100g[acids].sum()),
        acetic=float(per_100g[INDEX["acetic"]]),
        ethanol=float(per_100g[INDEX["ethanol"]]),
        sodium_mg=float(per_100g[INDEX["sodium"]]),
        gaps=gaps,
        gap_share=shares,
    )


def total_carbohydrate(ingredient: Ingredient) -> float:
    """Total carbohydrate of an ingredient, by difference as labels ask [g per 100 g].

    Water, acetic acid, protein, fat, ash and alcohol are taken from 100 g; where water, protein,
    fat or ash is not known, sugars, starch, fibre and the other acids are summed.
    """
    values = filled(ingredient.values)
    rest = values[[INDEX[c] for c in (*_BY_DIFFERENCE, "ethanol", "acetic")]].sum()
    others = [a for a in ACIDS if a != "acetic"]
    parts = (*SUGARS, *others, "starch", "fibre", "other_carbohydrate")
    known = not any(math.isnan(ingredient[c]) for c in _BY_DIFFERENCE)
    summed = float(values[[INDEX[c] for c in parts]].sum())
    return max(0.0, 100.0 - float(rest)) if known else summed


def rounded_amount(amount: float, bands: Sequence[Band]) -> float | str:
    """Round an amount as a label does: the number, or the words that stand in its place.

    Examples
    --------
    >>> [rounded_amount(x, US_ROUNDING["kcal"]) for x in (3.0, 47.0, 52.0)]
    [0.0, 45.0, 50.0]
    >>> rounded_amount(0.7, US_ROUNDING["g"]), rounded_amount(0.034, EU_ROUNDING["salt"])
    ('less than 1 g', 0.03)
    """
    band = next(b for b in bands if amount >= b.at_least)
    if band.text:
        return band.text
    if band.step == 0:
        return 0.0
    return round(math.floor(amount / band.step + 0.5) * band.step, 6)


def _shown(amount: float, unit: str, bands: Sequence[Band]) -> str:
    found = rounded_amount(amount, bands)
    return found if isinstance(found, str) else f"{found:g} {unit}"


def _gaps(
    problem: Problem, grams: FloatArray
) -> tuple[dict[str, tuple[str, ...]], dict[str, float]]:
    """Nutrients that the tables do not know of an ingredient that counts."""
    columns: dict[str, tuple[str, ...]] = {
        "protein": ("protein",),
        "fat": ("fat",),
        "carbohydrate": ("other_carbohydrate",),
        "sugars": SUGARS,
        "fibre": ("fibre",),
        "sodium_mg": ("sodium",),
    }
    total = float(grams.sum())
    gaps, shares = {}, {}
    for what in _NUTRIENTS:
        unknown = [
            (use.label, float(g) / total)
            for use, g in zip(problem.uses, grams, strict=True)
            if what in columns
            and float(g) >= NAMED_FROM * total
            and all(math.isnan(use.ingredient[c]) for c in columns[what])
        ]
        if unknown:
            gaps[what] = tuple(name for name, _ in unknown)
            shares[what] = math.fsum(share for _, share in unknown)
    return gaps, shares
