# ruff: noqa: T201
"""Three published chutneys, boiled down, against what the law asks of a fruit chutney.

Recipes: ICAR e-course on fruit and vegetable processing, practical 23, table 23.1, per kilogram of
fruit pulp (published_recipes.csv, with the food that stands for each ingredient and what was
assumed). Limits: product_limits.csv. Acids of green mango: mean of eight varieties at harvest.

Left out: the pH, which is checked with the chemistry; losses of acetic acid in the boiling, so
that acidity is an upper end; the sugars of green mango, for which those of ripe fruit stand.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from balancer.catalogue import Catalogue
from balancer.composition import INDEX, SUGARS, Blend, matrix
from balancer.search import resolve

HERE = Path(__file__).parent
VINEGAR_G_PER_ML = 1.006
#: Grams of acetic acid as acid as one gram of each, by equivalent weights (AOAC 942.15 factors).
AS_ACETIC = {
    "citric": 60.05 / 64.04,
    "malic": 60.05 / 67.04,
    "tartaric": 60.05 / 75.04,
    "lactic": 60.05 / 90.08,
    "acetic": 1.0,
    "succinic": 60.05 / 59.04,
}
#: Recipe and property that do not keep the limit, and why.
DISAGREE: dict[tuple[str, str], str] = {
    ("mango chutney", "acidity as acetic"): "fruit at its sourest, no vinegar boiled off",
}


def _rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


RECIPES = sorted({r["recipe"] for r in _rows("published_recipes.csv")})
LIMITS = {r["property"]: (r["limit"], float(r["value"])) for r in _rows("product_limits.csv")}


def _boiled(catalogue: Catalogue, recipe: str) -> dict[str, float]:
    """Properties after boiling down to the least soluble solids [g per 100 g]."""
    rows = [r for r in _rows("published_recipes.csv") if r["recipe"] == recipe]
    foods = matrix([resolve(catalogue, r["food"]) for r in rows])
    for place, row in enumerate(rows):
        if row["citric_g_per_100g"]:
            citric = float(row["citric_g_per_100g"])
            foods[place, INDEX["water"]] -= citric - foods[place, INDEX["citric"]]
            foods[place, INDEX["citric"]] = citric
    grams = np.array(
        [
            float(r["amount"])
            * float(r["share"])
            * (VINEGAR_G_PER_ML if r["unit"] == "mL" else 1.0)
            for r in rows
        ]
    )
    solids = [INDEX[c] for c in (*SUGARS, *AS_ACETIC, "ash")]
    soluble_g = float(grams @ foods[:, solids].sum(axis=1)) / 100
    finished_g = soluble_g / (LIMITS["total soluble solids"][1] / 100)
    pot = Blend(foods, grams, float(grams.sum()) - finished_g).per_100g()
    return {
        "total soluble solids": float(pot[solids].sum()),
        "fruit": 100 * grams[0] / finished_g,
        "ash": float(pot[INDEX["ash"]]),
        "acidity as acetic": sum(float(pot[INDEX[a]]) * w for a, w in AS_ACETIC.items()),
    }


def test_mapping_covers_each_recipe(catalogue: Catalogue) -> None:
    rows = _rows("published_recipes.csv")
    assert len(RECIPES) == 3
    for recipe in RECIPES:
        mine = [r for r in rows if r["recipe"] == recipe]
        shares: dict[str, float] = {}
        for r in mine:
            shares[r["ingredient"]] = shares.get(r["ingredient"], 0.0) + float(r["share"])
            assert resolve(catalogue, r["food"]).name
        assert set(shares.values()) == {1.0}
        assert len(shares) == 10


@pytest.mark.parametrize("recipe", RECIPES)
def test_boiled_down(catalogue: Catalogue, recipe: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = _boiled(catalogue, recipe)
    with capsys.disabled():
        print(f"\n{recipe}, boiled down, g per 100 g")
        for name, value in found.items():
            kind, end = LIMITS[name]
            print(f"  {name:<22} {value:6.2f}   {kind} {end:g}")
    assert found["total soluble solids"] == pytest.approx(50.0, abs=0.5)
    off = {
        (recipe, name)
        for name, value in found.items()
        if name != "total soluble solids"
        and (value < LIMITS[name][1] if LIMITS[name][0] == "min" else value > LIMITS[name][1])
    }
    assert off == {key for key in DISAGREE if key[0] == recipe}
