"""Nutrition against hand sums from the printed food table, and the rounding of labels."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from balancer.catalogue import Catalogue
from balancer.cli.handing import nutrition
from balancer.composition import Ingredient
from balancer.cooking import kept_factors
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.kitchen import Kitchen
from balancer.nutrition import (
    Nutrition,
    Order,
    nutrition_of,
    rounded_amount,
    total_carbohydrate,
)
from balancer.nutrition_constants import EU_ROUNDING, US_ROUNDING
from balancer.problem import Problem
from balancer.wishes import Use

DATA = Path(__file__).parent.parent / "data"
BLENDS: tuple[dict[str, float], ...] = (
    {"plums": 380, "brown sugar": 70, "ginger": 18, "garlic": 5},
    {"red bell pepper": 300, "walnuts": 110, "olive oil": 60, "garlic": 4},
    {"pineapple": 600, "sugar": 130, "onions": 70, "raisins": 40, "mustard seed": 6},
    {"olive oil": 90, "honey": 20, "salt": 5},
    {"canned tomatoes": 400, "onions": 100, "garlic": 8, "olive oil": 30, "salt": 6},
    {"butter": 120, "eggs": 60, "salt": 2},
    {"apples": 300, "sugar": 60, "cinnamon": 1},
    {"peanuts": 100, "sesame seeds": 20, "honey": 15},
    {"carrots": 200, "onions": 50, "butter": 20, "salt": 3},
    {"mangoes": 250, "sugar": 30, "red chili pepper": 5, "salt": 2},
)


@pytest.fixture(scope="module")
def printed() -> dict[str, dict[str, str]]:
    with (DATA / "foods.csv").open(encoding="utf-8", newline="") as file:
        return {row["ndb"]: row for row in csv.DictReader(file)}


def sauce(pantry: Mapping[str, Ingredient], grams: dict[str, float], lost: float = 0.0) -> Problem:
    foods = tuple(Use(pantry[name]) for name in grams)
    return Problem(uses=foods, yield_g=sum(grams.values()) - lost, water_lost_g=lost)


@pytest.mark.parametrize("grams", BLENDS, ids=lambda b: next(iter(b)))
def test_blends_against_a_hand_sum(
    pantry: Mapping[str, Ingredient],
    printed: dict[str, dict[str, str]],
    grams: dict[str, float],
) -> None:
    """USDA SR28 rows as printed in data/foods.csv, times grams, over the mass of the blend.

    Carbohydrate may differ by 1 g/100 g: the table's is by difference before acetic acid is taken
    out of the water, and its parts are rounded.
    """
    found = nutrition_of(sauce(pantry, grams), np.array(list(grams.values())))
    mass = sum(grams.values())

    def by_hand(column: str) -> float:
        return sum(g * float(printed[pantry[n].key][column] or 0) for n, g in grams.items()) / mass

    assert found.protein == pytest.approx(by_hand("protein"), rel=2e-3, abs=0.01)
    assert found.fat == pytest.approx(by_hand("fat"), rel=2e-3, abs=0.01)
    assert found.fibre == pytest.approx(by_hand("fibre"), rel=5e-3, abs=0.02)
    assert found.sugars == pytest.approx(by_hand("sugars"), rel=0.01, abs=0.1)
    assert found.sodium_mg == pytest.approx(by_hand("sodium"), rel=2e-3, abs=0.1)
    assert found.carbohydrate == pytest.approx(by_hand("carbohydrate"), abs=1.0)
    by_factors = 4 * by_hand("protein") + 4 * by_hand("carbohydrate") + 9 * by_hand("fat")
    assert found.us_kcal == pytest.approx(by_factors, abs=4.0)


def test_carbohydrate_of_the_pantry_is_that_of_the_table(
    catalogue: Catalogue, printed: dict[str, dict[str, str]]
) -> None:
    off = []
    for food in catalogue.pantry:
        row = printed.get(food.key)
        if row and row["carbohydrate"] and not row["ethanol"].strip("0."):
            off.append((abs(total_carbohydrate(food) - float(row["carbohydrate"])), food.name))
    assert len(off) > 200
    near = [miss for miss, _ in off if miss <= 1.0]
    assert len(near) >= 0.97 * len(off), sorted(off)[-8:]


def test_reduction_concentrates(pantry: Mapping[str, Ingredient]) -> None:
    grams = {"plums": 400.0, "sugar": 100.0}
    masses = np.array(list(grams.values()))
    raw = nutrition_of(sauce(pantry, grams), masses)
    reduced = nutrition_of(sauce(pantry, grams, lost=250.0), masses)
    for what in ("protein", "sugars", "carbohydrate", "us_kcal", "eu_kj"):
        assert getattr(reduced, what) == pytest.approx(2 * getattr(raw, what), rel=1e-9), what


def test_what_leaves_with_the_steam_gives_no_energy(pantry: Mapping[str, Ingredient]) -> None:
    grams = {"red wine": 300.0, "sugar": 20.0}
    masses = np.array(list(grams.values()))
    problem = sauce(pantry, grams, lost=150.0)
    cooked = replace(problem, kept=kept_factors(["start", "start"], 0.4))
    assert nutrition_of(cooked, masses).ethanol < 0.5 * nutrition_of(problem, masses).ethanol
    assert nutrition_of(cooked, masses).us_kcal < nutrition_of(problem, masses).us_kcal


def test_energy_by_hand() -> None:
    """Regulation (EU) 1169/2011, Annex XIV (recalled): 17, 37, 17, 8, 13 and 29 kJ/g."""
    found = Nutrition(
        protein=2.0, fat=3.0, carbohydrate=20.0, sugars=12.0, fibre=4.0, acids=1.5, acetic=0.5,
        ethanol=1.0, sodium_mg=400.0, gaps={}, gap_share={},
    )  # fmt: skip
    assert found.available_carbohydrate == 15.0
    assert found.eu_kj == pytest.approx(17 * 2 + 37 * 3 + 17 * 15 + 8 * 4 + 13 * 1.5 + 29 * 1)
    assert found.eu_kcal == pytest.approx(4 * 2 + 9 * 3 + 4 * 15 + 2 * 4 + 3 * 1.5 + 7 * 1)
    assert found.us_kcal == pytest.approx(4 * 2 + 9 * 3 + 4 * 20 + 7 * 1)
    assert found.salt == pytest.approx(1.0)
    us = [row.name for row in found.panel(Order.US, 30.0)]
    assert us == ["Calories", "Total Fat", "Sodium", "Total Carbohydrate", "Dietary Fiber",
                  "Total Sugars", "Protein"]  # fmt: skip
    eu = {row.name: row for row in found.panel(Order.EU, 30.0)}
    assert list(eu) == ["Energy", "Fat", "Carbohydrate", "of which sugars", "Fibre", "Protein",
                        "Salt"]  # fmt: skip
    assert (eu["Salt"].per_100g, eu["Salt"].per_serving) == ("1 g", "0.3 g")
    assert eu["of which sugars"].per_100g == "12 g"
    assert eu["Fat"].per_serving == "0.9 g"


@pytest.mark.parametrize(
    ("unit", "amount", "shown"),
    [
        # 21 CFR 101.9(c)(1): under 5 as zero, to 50 in fives, over it in tens
        ("kcal", 4.9, 0), ("kcal", 7.4, 5), ("kcal", 47.6, 50), ("kcal", 114, 110),
        # 101.9(c)(2): under 0.5 as zero, under 5 in halves, over it in ones
        ("fat", 0.4, 0), ("fat", 0.8, 1), ("fat", 4.3, 4.5), ("fat", 5.6, 6),
        # 101.9(c)(4): under 5 as zero, to 140 in fives, over it in tens
        ("sodium", 4, 0), ("sodium", 137, 135), ("sodium", 563, 560),
        # 101.9(c)(6) and (7): under 0.5 as zero, under 1 in words, else in ones
        ("g", 0.3, 0), ("g", 0.6, "less than 1 g"), ("g", 24.5, 25),
    ],
)  # fmt: skip
def test_us_rounding(unit: str, amount: float, shown: float | str) -> None:
    """US Code of Federal Regulations, title 21, section 101.9(c), recalled."""
    assert rounded_amount(amount, US_ROUNDING[unit]) == shown


@pytest.mark.parametrize(
    ("unit", "amount", "shown"),
    [
        ("kJ", 1108.4, 1108), ("g", 12.6, 13), ("g", 9.84, 9.8), ("g", 0.4, "< 0.5 g"),
        ("salt", 1.14, 1.1), ("salt", 0.344, 0.34), ("salt", 0.01, "< 0.01 g"),
    ],
)  # fmt: skip
def test_eu_rounding(unit: str, amount: float, shown: float | str) -> None:
    """European Commission guidance on tolerances, December 2012, rounding, recalled."""
    assert rounded_amount(amount, EU_ROUNDING[unit]) == shown


def test_factors_cite_their_source(catalogue: Catalogue) -> None:
    from balancer import nutrition_constants as table

    factors = [*table.US_KCAL.values(), *table.EU_KCAL.values(), *table.EU_KJ.values()]
    assert {f.source for f in factors} <= set(catalogue.sources)


def test_gaps_are_told(pantry: Mapping[str, Ingredient]) -> None:
    unknown = next(f for f in pantry.values() if np.isnan(f["fibre"]))
    problem = Problem(uses=(Use(pantry["plums"]), Use(unknown)), yield_g=100.0)
    found = nutrition_of(problem, np.array([80.0, 20.0]))
    assert found.gaps["fibre"] == (unknown.name,)
    assert found.gap_share["fibre"] == pytest.approx(0.2)
    assert any(unknown.name in s and "20 %" in s for s in found.sentences())
    notes = {row.name: row.note for row in found.panel()}
    assert notes["Dietary Fiber"] == "at least"
    assert any("saturated fat" in s for s in found.sentences())
    assert any("saturates" in s for s in found.sentences(Order.EU))


@pytest.mark.parametrize("serving_g", [0.0, -3.0, float("nan"), 1e9])
def test_absurd_servings(pantry: Mapping[str, Ingredient], serving_g: float) -> None:
    found = nutrition_of(sauce(pantry, {"plums": 100.0}), np.array([100.0]))
    with pytest.raises(BadInput, match="The serving is"):
        found.panel(Order.US, serving_g)


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    place = Kitchen()
    place.save("dip", place.solve(house_sauces()["plum-ginger-dip"]))
    arguments = ["dip", "--serving-g", "30", "--order", "eu"]
    shown = CliRunner().invoke(nutrition, arguments, catch_exceptions=False).output
    assert "per serving of 30 g" in shown
    assert "Salt" in shown
    assert "it is no label" in shown
