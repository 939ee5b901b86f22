# ruff: noqa: T201
"""Sugars and honey against published tables of relative sweetness.

Sources of the columns (sucrose 1, by mass), each through a public reprint:

- Biester A, Wood MW, Wahlin CS. 1925.
- Sale JW, Skinner WW. 1922.
- Paul T. 1921.
- Gaman PM, Sherrington KB. The Science of Food. 1990.
- a handbook set at about ten per cent sugar, reprinted without attribution.

Honey: White JW and others, Composition of American honeys, 1962, the average; from memory.
"""

from __future__ import annotations

import math

import pytest
from sauces import ingredient

from balancer.catalogue import Catalogue
from balancer.composition import INDEX, SUGARS, filled, matrix
from balancer.constants import AXIS_NAMES, SWEETNESS
from balancer.taste import levels

#: sugar: (Biester 1925, handbook set, Sale 1922, Paul 1921, Gaman 1990); NaN where not printed.
PUBLISHED = {
    "sucrose": (1.0, 1.0, 1.0, 1.0, 1.0),
    "glucose": (0.743, 0.69, 0.5, 0.52, 0.75),
    "fructose": (1.733, 1.14, 1.5, 1.03, 1.7),
    "galactose": (math.nan, 0.63, math.nan, math.nan, 0.3),
    "maltose": (0.325, 0.46, 0.5, math.nan, 0.3),
    "lactose": (0.16, 0.39, math.nan, 0.28, 0.15),
}
SWEET = AXIS_NAMES.index("sweet")


def _sweet(**sugars: float) -> float:
    return float(levels(matrix([ingredient("1", **sugars)]))[0, SWEET])


@pytest.mark.parametrize("sugar", sorted(PUBLISHED))
def test_each_sugar_lies_inside_the_published_spread(sugar: str) -> None:
    printed = [v for v in PUBLISHED[sugar] if not math.isnan(v)]
    assert min(printed) <= SWEETNESS[sugar] <= max(printed)
    assert _sweet(**{sugar: 100.0}) == pytest.approx(100 * SWEETNESS[sugar])


def test_order_of_sweetness() -> None:
    """Every printed table has this order, where it names both; galactose apart."""
    order = ["fructose", "sucrose", "glucose", "maltose", "lactose"]
    values = [SWEETNESS[s] for s in order]
    assert values == sorted(values, reverse=True)


def test_invert_sugar() -> None:
    """10 g of sucrose give 10.526 g of hexoses (342.30 and 180.16 g/mol), still 10 g sweet.

    Published for invert sugar: 0.85 (Sale and Skinner) to 1.30 (Gaman and Sherrington).
    """
    hexoses = 10 * 2 * 180.156 / 342.297
    assert hexoses == pytest.approx(10.526, abs=1e-3)
    sweet = _sweet(glucose=hexoses / 2, fructose=hexoses / 2)
    assert sweet == pytest.approx(10.0, abs=0.01)
    assert 0.85 <= sweet / hexoses <= 1.30


def test_honey_by_hand() -> None:
    """1.31 + 0.70 * 31.28 + 1.20 * 38.19 + 0.40 * 7.31 = 71.958 g in 100 g."""
    sweet = _sweet(sucrose=1.31, glucose=31.28, fructose=38.19, maltose=7.31)
    assert sweet == pytest.approx(71.958, abs=1e-3)


def test_honey_of_the_food_table(catalogue: Catalogue, capsys: pytest.CaptureFixture[str]) -> None:
    """SR28's honey against the average of 1962, sugar by sugar and in all, within a tenth."""
    honey = catalogue.food("19296")
    white = {"sucrose": 1.31, "glucose": 31.28, "fructose": 38.19, "maltose": 7.31}
    with capsys.disabled():
        print("\nhoney, g in 100 g: table / average of 1962")
        for sugar, grams in white.items():
            print(f"  {sugar:<10} {honey[sugar]:6.2f} / {grams:5.2f}")
    sweet = float(levels(matrix([honey]))[0, SWEET])
    assert sweet == pytest.approx(71.958, rel=0.10)
    total = sum(float(filled(honey.values)[INDEX[sugar]]) for sugar in SUGARS)
    assert total == pytest.approx(82.12, abs=1.0), "SR28, NDB 19296, total sugars 82.12 g"


def test_table_sugar_is_the_unit(catalogue: Catalogue) -> None:
    for name, least in (("19335", 99.0), ("19336", 96.0)):
        sweet = float(levels(matrix([catalogue.food(name)]))[0, SWEET])
        assert least <= sweet <= 100.5
