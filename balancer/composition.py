"""The ordered component axis, one ingredient on it, and the blend of many.

An ingredient is a vector per 100 g of edible portion over :data:`COMPONENTS`. Mixing is a matrix
product: a catalogue is one matrix, a batch is a row of grams, and everything the solver needs is
linear in that row. What is missing from a food table is NaN, never zero; :func:`filled` turns it
into a number by a named rule and marks it as assumed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from balancer.constants import PART_DENSITY
from balancer.errors import BadInput

FloatArray: TypeAlias = NDArray[np.float64]

#: Water may fall short of its loss by this share of the batch, as a solver's answer does.
WATER_TOLERANCE = 1e-6


class Evidence(StrEnum):
    """What a number rests on, strongest first."""

    MEASURED = "measured"
    TABLE = "table"
    DERIVED = "derived"
    CHOSEN = "chosen"
    MEMORY = "memory"
    ASSUMED = "assumed"


@dataclass(frozen=True)
class Component:
    """One place on the component axis.

    Parameters
    ----------
    name : str
        Identifier, used as a column label everywhere.
    unit : str
        Unit of the amount in 100 g of edible portion.
    group : str
        One of bulk, sugar, acid, ion, savoury, hot, aromatic.
    meaning : str
        What is counted.
    """

    name: str
    unit: str
    group: str
    meaning: str


COMPONENTS: tuple[Component, ...] = (
    Component("water", "g", "bulk", "water, acetic acid taken out"),
    Component("protein", "g", "bulk", "protein, nitrogen times the table's factor"),
    Component("fat", "g", "bulk", "total fat"),
    Component("starch", "g", "bulk", "starch"),
    Component("fibre", "g", "bulk", "total dietary fibre"),
    Component("ash", "g", "bulk", "ash"),
    Component("ethanol", "g", "bulk", "ethanol"),
    Component("sucrose", "g", "sugar", "sucrose"),
    Component("glucose", "g", "sugar", "glucose"),
    Component("fructose", "g", "sugar", "fructose"),
    Component("lactose", "g", "sugar", "lactose, lactic acid taken out"),
    Component("maltose", "g", "sugar", "maltose"),
    Component("galactose", "g", "sugar", "galactose"),
    Component("other_sugars", "g", "sugar", "sugars that the table counts but does not name"),
    Component("other_carbohydrate", "g", "bulk", "carbohydrate that no other component claims"),
    Component("citric", "g", "acid", "citric acid, free and as salt"),
    Component("malic", "g", "acid", "malic acid, free and as salt"),
    Component("tartaric", "g", "acid", "tartaric acid, free and as salt"),
    Component("lactic", "g", "acid", "lactic acid, free and as salt"),
    Component("acetic", "g", "acid", "acetic acid, free and as salt"),
    Component("oxalic", "g", "acid", "oxalic acid, free and as salt"),
    Component("succinic", "g", "acid", "succinic acid, free and as salt"),
    Component("quinic", "g", "acid", "quinic acid, free and as salt"),
    Component("gluconic", "g", "acid", "gluconic acid, free and as salt"),
    Component("sodium", "mg", "ion", "sodium"),
    Component("potassium", "mg", "ion", "potassium"),
    Component("calcium", "mg", "ion", "calcium"),
    Component("magnesium", "mg", "ion", "magnesium"),
    Component("phosphorus", "mg", "ion", "phosphorus"),
    Component("chloride", "mg", "ion", "chloride"),
    Component("strong_ion_charge", "meq", "ion", "strong cations less strong anions"),
    Component("glutamate", "mg", "savoury", "free glutamic acid"),
    Component("capsaicinoids", "mg", "hot", "capsaicin and its near relatives"),
    Component("oil_herb", "uL", "aromatic", "volatile oil of the herb family"),
    Component("oil_warm_spice", "uL", "aromatic", "volatile oil of the warm-spice family"),
    Component("oil_citrus", "uL", "aromatic", "volatile oil of the citrus family"),
    Component("oil_allium", "uL", "aromatic", "volatile oil of the allium family"),
    Component("oil_mustard", "uL", "aromatic", "volatile oil of the mustard family"),
    Component("oil_floral", "uL", "aromatic", "volatile oil of the floral family"),
    Component("oil_smoke", "uL", "aromatic", "volatile oil of the smoke family"),
    Component("allium_sulphur", "mg", "aromatic", "sulphur volatiles of cut alliums"),
    Component("isothiocyanates", "mg", "aromatic", "isothiocyanates of wetted mustard and its kin"),
)

NAMES: tuple[str, ...] = tuple(c.name for c in COMPONENTS)
INDEX = MappingProxyType({name: i for i, name in enumerate(NAMES)})
SUGARS: tuple[str, ...] = tuple(c.name for c in COMPONENTS if c.group == "sugar")
ACIDS: tuple[str, ...] = tuple(c.name for c in COMPONENTS if c.group == "acid")
MASSES: tuple[str, ...] = tuple(c.name for c in COMPONENTS if c.unit == "g")


#: Shelf of the kitchen's own ingredients that are no lot of a food of the tables.
OWN_SHELF = "own"


@dataclass(frozen=True, eq=False)
class Ingredient:
    """One ingredient on the component axis.

    Parameters
    ----------
    key : str
        Food number of the table, or a key of the pantry.
    name : str
        Plain kitchen name.
    values : array, shape (n_components,)
        Amount in 100 g of edible portion [unit of each component]; NaN where unknown.
    low, high : array, shape (n_components,)
        Ends of the published range, same units; NaN where none is known.
    evidence : tuple of (Evidence or None), length n_components
        What each number rests on; None where the number is unknown.
    source : tuple of str, length n_components
        Keys into ``data/sources.csv``, semicolon between several.
    group : str
        Shelf of the pantry or group of the table.
    synonyms : tuple of str
        Other names.
    share : tuple of float or None
        Usual share of a sauce (low, typical, high), fractions of the mass.
    allergens : tuple of str
        Names as in ``data/allergens.csv``.
    ph : tuple of float or None
        Published pH (low, high) [1].
    refuse : float
        Share of the food as purchased that is thrown away [1]; NaN where unknown.
    note : str
        What a cook should know about the row.
    parts : tuple of Part
        What a saved recipe is made from, where this is one; empty otherwise.
    kin : Ingredient or None
        The food that an ingredient of the kitchen's own is a lot of, or like. What is cautioned of
        that food is cautioned of this one too. One that is a lot of it stands on its shelf.

    Raises
    ------
    BadInput
        If an amount is negative or infinite.
    """

    key: str
    name: str
    values: FloatArray
    low: FloatArray
    high: FloatArray
    evidence: tuple[Evidence | None, ...]
    source: tuple[str, ...]
    group: str = ""
    synonyms: tuple[str, ...] = ()
    share: tuple[float, float, float] | None = None
    allergens: tuple[str, ...] = ()
    ph: tuple[float, float] | None = None
    refuse: float = float("nan")
    note: str = ""
    parts: tuple[Part, ...] = ()
    kin: Ingredient | None = None

    def __post_init__(self) -> None:
        for array in (self.values, self.low, self.high):
            array.setflags(write=False)
        bad = np.isinf(self.values) | (self.values < 0)
        if bool(bad.any()) and not self._only_charge(bad):
            i = int(np.argmax(bad))
            raise BadInput(
                f"{self.name}: {COMPONENTS[i].name} is {self.values[i]:g} {COMPONENTS[i].unit}"
                " per 100 g. Give an amount of zero or more."
            )

    def _only_charge(self, bad: NDArray[np.bool_]) -> bool:
        charge = INDEX["strong_ion_charge"]
        return bool(bad.sum() == 1 and bad[charge] and np.isfinite(self.values[charge]))

    def __getitem__(self, component: str) -> float:
        """Amount of one component in 100 g, NaN where unknown."""
        return float(self.values[INDEX[component]])

    def __repr__(self) -> str:
        known = sum(e is not None for e in self.evidence)
        return f"Ingredient({self.key!r}, {self.name!r}, {known} of {len(NAMES)} known)"


@dataclass(frozen=True, eq=False)
class Part:
    """A base ingredient where it enters.

    Parameters
    ----------
    ingredient : Ingredient
    grams : float
        Edible mass before cooking: of a sauce, or in 100 g of the finished recipe where it is a
        part of an ingredient [g].
    path : tuple of str
        Recipes it comes through, the outermost first; empty where it enters on its own.
    entry : mapping or None
        The entry of the request that names it.
    """

    ingredient: Ingredient
    grams: float
    path: tuple[str, ...] = ()
    entry: Mapping[str, Any] | None = None


def taken_apart(ingredients: Sequence[Ingredient], grams: FloatArray) -> tuple[Part, ...]:
    """The base ingredients of a sauce, those of saved recipes in it included.

    Parameters
    ----------
    ingredients : sequence of Ingredient, length n
    grams : array, shape (n,)
        [g].
    """
    found = []
    for ingredient, mass in zip(ingredients, grams, strict=True):
        if not ingredient.parts:
            found.append(Part(ingredient, float(mass)))
        for p in ingredient.parts:
            found.append(replace(p, grams=p.grams * float(mass) / 100.0))
    return tuple(found)


def filled(values: FloatArray) -> FloatArray:
    """Put unknown amounts at their lower bound, zero.

    The rule of the project for what a table does not say: an unknown acid, oil or pungent enters
    levels at its lower bound, so that it never makes an ingredient look better than it is known
    to be. Whoever shows a level built on such a number marks it as assumed.

    Parameters
    ----------
    values : array, shape (..., n_components)
        Amounts with NaN where unknown.

    Returns
    -------
    array, same shape
        The same amounts, without NaN.

    Examples
    --------
    >>> filled(np.array([1.0, np.nan]))
    array([1., 0.])
    """
    return np.nan_to_num(values, nan=0.0, posinf=np.inf, neginf=-np.inf)


def matrix(ingredients: Sequence[Ingredient]) -> FloatArray:
    """Stack ingredients into one matrix without NaN, shape (n_ingredients, n_components)."""
    if not ingredients:
        return np.zeros((0, len(NAMES)))
    return filled(np.array([i.values for i in ingredients]))


#: Component to the part whose density it takes, for :func:`specific_volume`.
_PART = MappingProxyType(
    {"water": "water", "protein": "protein", "fat": "fat", "fibre": "fibre", "ash": "ash"}
    | {"ethanol": "ethanol", "starch": "carbohydrate", "other_carbohydrate": "carbohydrate"}
    | dict.fromkeys(SUGARS, "carbohydrate")
    | dict.fromkeys(ACIDS, "acid")
)
VOLUME_WEIGHTS: FloatArray = np.array(
    [1.0 / PART_DENSITY[_PART[n]].value if n in _PART else 0.0 for n in NAMES]
)


def specific_volume(composition: FloatArray) -> FloatArray:
    """Volume of 100 g, by adding the volumes of the parts.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.

    Returns
    -------
    array, shape (...)
        Millilitres per 100 g at 20 degrees Celsius. Powders, leaves and foams hold air that the
        sum does not know of: for those a household measure is the better guide.

    References
    ----------
    Choi Y, Okos MR. Effects of temperature and composition on the thermal properties of foods.
    1986 (part densities, recalled).
    """
    return composition @ VOLUME_WEIGHTS


@dataclass(frozen=True, eq=False)
class Blend:
    """Weighed ingredients in one pot.

    Parameters
    ----------
    composition : array, shape (n_ingredients, n_components)
        Amounts per 100 g of each ingredient, without NaN.
    grams : array, shape (n_ingredients,)
        Edible grams before loss [g].
    water_lost_g : float
        Water cooked away [g].

    Raises
    ------
    BadInput
        If a quantity is negative or not finite, if more water is lost than went in, or if
        nothing is left.
    """

    composition: FloatArray
    grams: FloatArray
    water_lost_g: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.grams).all() and (self.grams >= 0).all()):
            raise BadInput("A quantity is negative or not a number. Give grams of zero or more.")
        water = float(self.grams @ self.composition[:, INDEX["water"]]) / 100.0
        room = WATER_TOLERANCE * max(1.0, float(self.grams.sum()))
        if not 0 <= self.water_lost_g <= water + room:
            raise BadInput(
                f"The water lost is {self.water_lost_g:g} g, but the batch brings {water:.4g} g"
                " of water. Give a loss between zero and that."
            )
        if self.mass_g <= 0:
            raise BadInput("The batch weighs 0 g. Put something in it.")

    @property
    def mass_g(self) -> float:
        """Finished mass [g]."""
        return float(self.grams.sum()) - self.water_lost_g

    def per_100g(self) -> FloatArray:
        """Composition of 100 g of the finished sauce, shape (n_components,)."""
        total = self.grams @ self.composition / 100.0
        total[INDEX["water"]] = max(0.0, total[INDEX["water"]] - self.water_lost_g)
        return np.asarray(total * (100.0 / self.mass_g))
