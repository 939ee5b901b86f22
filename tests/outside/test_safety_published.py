"""The cautions against published limits, lists and heat classes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balancer.composition import INDEX, Blend, Ingredient, matrix
from balancer.constants import AXIS
from balancer.safety import Picture, allergens, cautions, needs_cold, sodium
from balancer.safety_constants import ALLERGENS
from balancer.safety_picture import scale_shu
from balancer.strength import Strength, with_strength

Pantry = dict[str, Ingredient]
ACID = (3.3, 3.2, 3.4)


def pot(
    pantry: Pantry,
    ph: tuple[float, float, float] | None = ACID,
    serving_g: float | None = None,
    **grams: float,
) -> Picture:
    foods = tuple(pantry[name.replace("_", " ")] for name in grams)
    blend = Blend(matrix(foods), np.array(list(grams.values())))
    return Picture(foods, blend.grams, blend.per_100g(), blend.mass_g, ph, 0.96, serving_g)


def rules(picture: Picture) -> list[str]:
    return [c.rule for c in cautions(picture)]


# --- US FDA Food Code 2022, 1-201.10(B), time/temperature control for safety food, Table B ------
# Read as reprinted in state codes. Rows by water activity, columns pH < 4.2, 4.2 to 4.6, > 4.6 to
# 5.0, > 5.0. True: not a TCS food; False: TCS, or the product must be assessed.

TABLE_B = [
    ((0.60, 0.80, 0.879), (True, True, True, True)),
    ((0.88, 0.89, 0.90), (True, True, True, False)),
    ((0.901, 0.91, 0.92), (True, True, False, False)),
    ((0.921, 0.95, 1.00), (True, False, False, False)),
]
COLUMNS = [(2.5, 4.0, 4.19), (4.2, 4.4, 4.6), (4.61, 4.8, 5.0), (5.01, 6.0, 9.0)]
CELLS = [
    (aw, ph, free)
    for activities, row in TABLE_B
    for column, free in zip(COLUMNS, row, strict=True)
    for aw in activities
    for ph in column
]


@pytest.mark.parametrize(("aw", "ph", "free"), CELLS)
def test_food_code_table_b(aw: float, ph: float, free: bool) -> None:
    """Measured figures, so no guard: the table cell by cell."""
    assert needs_cold(ph, aw, ph_guard=0.0, aw_guard=0.0) is not free


def test_the_guards_never_loosen_the_code() -> None:
    """With the guards for computed figures every cell that the code keeps cold stays cold."""
    loosened = [(aw, ph) for aw, ph, free in CELLS if not free and not needs_cold(ph, aw)]
    assert loosened == []


def test_guarded_limits_stand_for_the_published_ones() -> None:
    """21 CFR 114.3 has 4.6, the code 4.2; a computed pH may err by 0.3: 4.3 and 3.9 stand in."""
    assert needs_cold(3.9, 0.97)
    assert not needs_cold(3.89, 0.97)


# --- the law's lists ----------------------------------------------------------------------------

#: Food Allergen Labeling and Consumer Protection Act of 2004 (eight) and FASTER Act of 2021
#: (sesame), each with the entry of ours that covers it.
US_NINE = {
    "milk": {"milk"},
    "eggs": {"egg"},
    "fish": {"fish"},
    "Crustacean shellfish": {"crustaceans"},
    "tree nuts": {"tree nuts"},
    "peanuts": {"peanut"},
    "wheat": {"wheat"},
    "soybeans": {"soybean"},
    "sesame": {"sesame"},
}
#: Regulation (EU) No 1169/2011, Annex II, points 1 to 14.
EU_FOURTEEN = {
    "cereals containing gluten": {"wheat", "barley, rye and oats"},
    "crustaceans": {"crustaceans"},
    "eggs": {"egg"},
    "fish": {"fish"},
    "peanuts": {"peanut"},
    "soybeans": {"soybean"},
    "milk": {"milk"},
    "nuts": {"tree nuts"},
    "celery": {"celery"},
    "mustard": {"mustard"},
    "sesame seeds": {"sesame"},
    "sulphur dioxide and sulphites": {"sulphites"},
    "lupin": {"lupin"},
    "molluscs": {"molluscs"},
}


def test_the_nine_and_the_fourteen() -> None:
    assert len(US_NINE) == 9
    assert len(EU_FOURTEEN) == 14
    assert set().union(*US_NINE.values()) == {n for n, r in ALLERGENS.items() if r.us_major}
    assert set().union(*EU_FOURTEEN.values()) == {n for n, r in ALLERGENS.items() if r.eu_annex_ii}


@pytest.mark.parametrize(
    ("name", "us", "eu"),
    [
        ("yogurt", {"milk"}, {"milk"}),
        ("mayonnaise", {"egg"}, {"egg", "mustard"}),
        ("fish sauce", {"fish"}, {"fish"}),
        ("walnuts", {"tree nuts"}, {"tree nuts"}),
        ("peanut butter", {"peanut"}, {"peanut"}),
        ("soy sauce", {"soybean", "wheat"}, {"soybean", "wheat"}),
        ("tahini", {"sesame"}, {"sesame"}),
        ("malt vinegar", set(), {"barley, rye and oats"}),
        ("celery seed", set(), {"celery"}),
        ("mustard seed", set(), {"mustard"}),
        ("oyster sauce", {"wheat", "soybean"}, {"molluscs", "wheat", "soybean"}),
        ("red wine", set(), {"sulphites"}),
        ("plums", set(), set()),
    ],
)
def test_foods_that_the_lists_give_as_examples(
    pantry: Pantry, name: str, us: set[str], eu: set[str]
) -> None:
    """Examples of sauce ingredients under the two laws; soy sauce as shoyu, brewed with wheat."""
    found = allergens(pot(pantry, **{name.replace(" ", "_"): 50.0, "water": 50.0}))
    assert {a.name for a in found if a.us_major} == us
    assert {a.name for a in found if a.eu_annex_ii} == eu


# --- salt ---------------------------------------------------------------------------------------


def test_sodium_beside_the_daily_value(pantry: Pantry) -> None:
    """21 CFR 101.9(c)(9), 2300 mg (recalled); sodium chloride 58.443 over sodium 22.990.

    590 mg is 1.500 g of salt and 2300 mg is 5.85 g; a tablespoon of soy sauce of 5.6 % sodium,
    16 g, is 896 mg, 39 % of the daily value.
    """
    per_mg = AXIS["salt"].weights["sodium"]
    assert 590.0 * per_mg == pytest.approx(1.500, abs=5e-4)
    assert 2300.0 * per_mg == pytest.approx(5.85, abs=5e-3)
    picture = pot(pantry, serving_g=16.0, soy_sauce=500.0)
    values = picture.per_100g.copy()
    values[INDEX["sodium"]] = 5600.0
    counted = sodium(replace(picture, per_100g=values))
    assert counted.mg == pytest.approx(896.0)
    assert counted.daily_share == pytest.approx(0.39, abs=5e-3)
    assert "salt" in rules(picture)


# --- chillies -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "class_high_shu", "gloves"),
    [
        ("jalapeno", 5000, False),
        ("ancho chilli", 1500, False),
        ("pasilla chilli", 1500, False),
        ("serrano chilli", 15000, True),
        ("dried red chillies", 50000, True),
        ("bird's eye chilli", 100000, True),
        ("habanero", 300000, True),
    ],
)
def test_trade_classes_of_chillies(
    pantry: Pantry, name: str, class_high_shu: float, gloves: bool
) -> None:
    """Classes of dry pods (CHILE_SCALE) come back out of the composition as it is eaten.

    Gloves above about 10,000 SHU: common practice, no source.
    """
    assert scale_shu(pantry[name]) == pytest.approx(class_high_shu, rel=1e-3)
    found = rules(pot(pantry, **{name.replace(" ", "_"): 1.0, "plums": 99.0}))
    assert ("hot chillies" in found) is gloves


def test_sweet_peppers_and_bottled_sauces_need_no_gloves(pantry: Pantry) -> None:
    """Common practice, no source."""
    picture = pot(pantry, red_bell_pepper=30.0, roasted_red_pepper=30.0, paprika=2.0, hot_sauce=5.0)
    assert "hot chillies" not in rules(picture)


# --- vinegar ------------------------------------------------------------------------------------


def test_vinegar_of_four_per_cent(pantry: Pantry) -> None:
    """FDA Compliance Policy Guide 525.825: vinegar has at least 4 g in 100 mL (recalled)."""
    sold = [n for n in pantry if n.endswith("vinegar")]
    assert len(sold) >= 8
    for name in sold:
        assert "weak vinegar" not in rules(pot(pantry, **{name.replace(" ", "_"): 10.0})), name
        for acetic_pct, fires in ((3.0, True), (4.0, False), (5.0, False)):
            bottle = {name: with_strength(pantry[name], Strength(acetic_pct=acetic_pct))}
            picture = pot(bottle, **{name.replace(" ", "_"): 10.0})
            assert ("weak vinegar" in rules(picture)) is fires, (name, acetic_pct)


# --- whole sauces: what the advice was written for ----------------------------------------------


@pytest.mark.parametrize(
    ("grams", "ph", "must", "must_not"),
    [
        # garlic in oil and herbs in oil: extension advice; low-acid by 21 CFR 114.3
        (
            {"olive_oil": 80.0, "garlic": 20.0},
            None,
            {"fresh plants in oil", "keep refrigerated"},
            {"raw egg", "honey and infants"},
        ),
        (
            {"olive_oil": 50.0, "basil": 30.0, "parmesan": 10.0, "garlic": 3.0, "salt": 1.0},
            (5.5, 5.2, 5.8),
            {"fresh plants in oil", "keep refrigerated", "allergens"},
            {"hot chillies"},
        ),
        # an oil-rich dressing sharp with vinegar
        (
            {"olive_oil": 60.0, "white_wine_vinegar": 35.0, "shallots": 5.0},
            (2.9, 2.8, 3.1),
            {"home canning", "allergens"},
            {"fresh plants in oil", "keep refrigerated"},
        ),
        # fresh mayonnaise: advice on raw egg holds however sour it is
        (
            {"sunflower_oil": 75.0, "egg_yolk": 12.0, "lemon_juice": 12.0, "salt": 1.0},
            (3.5, 3.4, 3.6),
            {"raw egg", "allergens"},
            {"fresh plants in oil"},
        ),
        # plum and ginger dip with honey
        (
            {"plums": 80.0, "ginger": 4.0, "honey": 10.0, "cider_vinegar": 6.0},
            (3.2, 3.1, 3.4),
            {"honey and infants", "home canning"},
            {"keep refrigerated", "salt", "alcohol", "fresh plants in oil"},
        ),
        # roasted red pepper and walnut sauce
        (
            {"roasted_red_pepper": 60.0, "walnuts": 20.0, "olive_oil": 18.0, "garlic": 2.0},
            (4.9, 4.7, 5.1),
            {"keep refrigerated", "allergens", "fresh plants in oil", "home canning"},
            {"honey and infants"},
        ),
    ],
    ids=["garlic oil", "basil oil", "dressing", "egg and oil", "plum dip", "pepper and walnut"],
)
def test_whole_sauces(
    pantry: Pantry,
    grams: dict[str, float],
    ph: tuple[float, float, float] | None,
    must: set[str],
    must_not: set[str],
) -> None:
    found = set(rules(pot(pantry, ph=ph, **grams)))
    assert must <= found
    assert not (must_not & found)
