"""Coefficients of how sure a level is: what stands for a spread that nobody printed.

Each stands with unit, valid range, source key and evidence kind, like those of ``constants.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from balancer.constants import Coefficient

#: A range of lowest, usual and highest is taken as triangular: standard deviation of a side is the
#: side over the root of this. A range without a usual value is taken as even over its width.
TRIANGLE_DIVISOR = Coefficient(
    6.0, "1", "GUM2008", "memory", (6.0, 6.0), "square of half a width over variance, triangular"
)
EVEN_DIVISOR = Coefficient(
    12.0, "1", "GUM2008", "memory", (12.0, 12.0), "square of the width over variance, even"
)
COVERAGE = Coefficient(
    1.645, "1", "GUM2008", "memory", (1.64, 1.65), "half a 90 % band over the standard deviation"
)
SAMPLES_MIN = Coefficient(
    3.0, "1", "CHOSEN", "chosen", (2.0, 10.0), "samples under which a standard error is not used"
)
BORROWED_FACTOR = Coefficient(
    2.0, "1", "CHOSEN", "chosen", (1.0, 4.0), "how much wider a figure borrowed from a neighbour is"
)
LABEL_ERROR = Coefficient(
    0.03, "1", "CHOSEN", "chosen", (0.0, 0.2), "relative standard deviation of a label"
)
PH_SD_MIN = Coefficient(
    0.1, "1", "CHOSEN", "chosen", (0.0, 0.3), "least standard deviation of the pH of one lot"
)


def _table(value: float, name: str) -> Coefficient:
    return Coefficient(value, "1", "SR28", "derived", (0.0, 1.0), f"relative error of {name}")


def _chosen(value: float, name: str) -> Coefficient:
    return Coefficient(value, "1", "CHOSEN", "chosen", (0.0, 1.0), f"relative error of {name}")


#: Standard deviation of one lot, relative to the amount times what the amount leaves of 100 g.
#: From the table: the median over foods with three samples and more, the lowest quarter of amounts
#: left out. Chosen: near the middle of the ranges that are published for other foods.
RELATIVE_ERROR: Mapping[str, Coefficient] = MappingProxyType(
    {
        name: _table(value, name)
        for name, value in (
            ("water", 0.11),
            ("protein", 0.11),
            ("fat", 0.20),
            ("starch", 0.11),
            ("fibre", 0.15),
            ("ash", 0.13),
            ("ethanol", 0.08),
            ("sucrose", 0.19),
            ("glucose", 0.19),
            ("fructose", 0.14),
            ("lactose", 0.05),
            ("maltose", 0.51),
            ("galactose", 0.34),
            ("sodium", 0.29),
            ("potassium", 0.14),
            ("calcium", 0.19),
            ("magnesium", 0.14),
            ("phosphorus", 0.14),
        )
    }
    | {
        name: _chosen(value, name)
        for value, names in (
            (0.15, "citric malic tartaric lactic acetic oxalic succinic quinic gluconic"),
            (0.20, "other_sugars other_carbohydrate chloride"),
            (0.20, "glutamate"),
            (0.30, "capsaicinoids"),
            (0.25, "oil_herb oil_warm_spice oil_citrus oil_allium oil_mustard oil_floral"),
            (0.25, "oil_smoke allium_sulphur isothiocyanates"),
        )
        for name in names.split()
    }
)
