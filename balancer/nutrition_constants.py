"""Energy factors and the rounding of nutrition labels.

Source keys resolve in ``data/sources.csv``; what is remembered says so.

References
----------
.. [1] US Code of Federal Regulations, title 21, section 101.9(c): energy by the general factors
   4, 4 and 9 kcal/g, and the rounding of each declaration (recalled).
.. [2] Regulation (EU) No 1169/2011: Annex I (salt is sodium times 2.5), Annex XIV (conversion
   factors of energy), Annex XV (order of the declaration) (recalled).
.. [3] European Commission, guidance on tolerances for nutrient values declared on a label,
   December 2012, section on rounding (recalled).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.constants import Coefficient

_US, _EU = "CFR101_9", "EU1169"


def _per_g(value: float, unit: str, source: str, what: str) -> Coefficient:
    return Coefficient(value, f"{unit}/g", source, "memory", (0.0, 40.0), f"energy of {what}")


#: Energy for the US label [kcal/g]; carbohydrate is total, by difference [1]_.
US_KCAL: Mapping[str, Coefficient] = MappingProxyType(
    {
        what: _per_g(value, "kcal", _US, what)
        for what, value in (("protein", 4.0), ("carbohydrate", 4.0), ("fat", 9.0), ("ethanol", 7.0))
    }
)
#: Energy for the EU label [kcal/g], [kJ/g]; carbohydrate is without fibre and acids [2]_.
EU_KCAL: Mapping[str, Coefficient] = MappingProxyType(
    {
        what: _per_g(value, "kcal", _EU, what)
        for what, value in (
            ("protein", 4.0),
            ("carbohydrate", 4.0),
            ("fat", 9.0),
            ("ethanol", 7.0),
            ("acids", 3.0),
            ("fibre", 2.0),
        )
    }
)
EU_KJ: Mapping[str, Coefficient] = MappingProxyType(
    {
        what: _per_g(value, "kJ", _EU, what)
        for what, value in (
            ("protein", 17.0),
            ("carbohydrate", 17.0),
            ("fat", 37.0),
            ("ethanol", 29.0),
            ("acids", 13.0),
            ("fibre", 8.0),
        )
    }
)
EU_SALT_PER_SODIUM = Coefficient(
    2.5, "g/g", _EU, "memory", (2.5, 2.55), "salt of the EU label, by definition"
)


@dataclass(frozen=True)
class Band:
    """How a label rounds amounts from a figure on.

    Parameters
    ----------
    at_least : float
        Smallest amount of the band.
    step : float
        Amounts are rounded to whole steps; 0 for an amount declared as zero.
    text : str
        What stands instead of a number; empty for the number.
    """

    at_least: float
    step: float
    text: str = ""


#: Rounding of the US label by unit or nutrient, from large to small amounts [1]_.
US_ROUNDING: Mapping[str, tuple[Band, ...]] = MappingProxyType(
    {
        "kcal": (Band(50.0, 10.0), Band(5.0, 5.0), Band(0.0, 0.0)),
        "fat": (Band(5.0, 1.0), Band(0.5, 0.5), Band(0.0, 0.0)),
        "sodium": (Band(140.0, 10.0), Band(5.0, 5.0), Band(0.0, 0.0)),
        "g": (Band(1.0, 1.0), Band(0.5, 1.0, "less than 1 g"), Band(0.0, 0.0)),
    }
)
#: Rounding of the EU label [3]_.
EU_ROUNDING: Mapping[str, tuple[Band, ...]] = MappingProxyType(
    {
        "kcal": (Band(0.0, 1.0),),
        "kJ": (Band(0.0, 1.0),),
        "g": (Band(10.0, 1.0), Band(0.5, 0.1), Band(0.0, 0.0, "< 0.5 g")),
        "salt": (Band(1.0, 0.1), Band(0.0125, 0.01), Band(0.0, 0.0, "< 0.01 g")),
    }
)
#: What a full label asks for besides, and the tables of this project do not hold.
US_NOT_IN_TABLES = (
    "saturated fat",
    "trans fat",
    "cholesterol",
    "added sugars",
    "vitamin D",
    "iron",
)
EU_NOT_IN_TABLES = ("saturates",)
