"""The ordered component axis, one ingredient on it, and the blend of many.

An ingredient is a vector per 100 g of edible portion over :data:`COMPONENTS`. Mixing is a matrix
product: a catalogue is one matrix, a batch is a row of grams, and everything the solver needs is
linear in that row. What is missing from a food table is NaN, never zero; :func:`filled` turns it
into a number by a named rule and marks it as assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from balancer.errors import BadInput

FloatArray: TypeAlias = NDArray[np.float64]


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
