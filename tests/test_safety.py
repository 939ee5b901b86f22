"""Each caution fires where its rule holds and is silent on the other side of the boundary.

The source of each limit stands beside its check; published tables are in
``outside/test_safety_published.py``.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer import safety_constants as limits
from balancer.catalogue import Catalogue
from balancer.composition import INDEX, NAMES, OWN_SHELF, Blend, Evidence, Ingredient, matrix
from balancer.errors import BadInput
from balancer.safety import DEFER, Picture, allergens, cautions, needs_cold, sodium, wording
from balancer.safety_picture import scale_shu
from balancer.tables import read_rows

SOUR = (3.2, 3.1, 3.3)
UNKNOWN = math.nan


def food(
    name: str,
    group: str = "fruit",
    key: str = "T0001",
    allergens: tuple[str, ...] = (),
    curated: bool = True,
    **amounts: float,
) -> Ingredient:
    """An ingredient of which everything is known; what is not given is zero, water the rest."""
    values = np.zeros(len(NAMES))
    for component, amount in amounts.items():
        values[INDEX[component]] = amount
    if "water" not in amounts:
        solids = sum(a for c, a in amounts.items() if INDEX[c] < INDEX["sodium"] and a == a)
        values[INDEX["water"]] = 100.0 - solids
    nothing = np.full(len(NAMES), math.nan)
    return Ingredient(
        key=key,
        name=name,
        values=values,
        low=nothing,
        high=nothing.copy(),
        evidence=(Evidence.CHOSEN,) * len(NAMES),
        source=("CHOSEN",) * len(NAMES),
        group=group,
        share=(0.1, 0.2, 0.3) if curated else None,
        allergens=allergens,
    )


def pot(
    *parts: tuple[Ingredient, float],
    ph: tuple[float, float, float] | None = SOUR,
    water_activity: float | None = 0.97,
    serving_g: float | None = None,
) -> Picture:
    foods = tuple(i for i, _ in parts)
    blend = Blend(matrix(foods), np.array([g for _, g in parts]))
    return Picture(
        foods, blend.grams, blend.per_100g(), blend.mass_g, ph, water_activity, serving_g
    )


def rules(picture: Picture) -> list[str]:
    return [c.rule for c in cautions(picture)]


def sentence(picture: Picture, rule: str) -> str:
    return next(c.sentence for c in cautions(picture) if c.rule == rule)


#: Published pH of plums: source FDA_PH2007 of ``pantry_ph.csv``.
PLAIN = replace(food("plums", other_sugars=10.0), ph=(2.8, 4.3))


def with_plain(ingredient: Ingredient, **more: float | None) -> Picture:
    serving_g = more.get("serving_g")
    return pot((PLAIN, 90.0), (ingredient, 10.0), serving_g=serving_g)


# --- keeping ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ph", "water_activity", "fires"),
    [
        ((3.7, 3.6, 3.89), 0.97, False),
        ((3.7, 3.6, 3.9), 0.97, True),  # 4.2 less the guard of 0.3
        ((3.7, 3.6, 4.5), 0.97, True),  # the high end of the band counts, not its middle
        (None, 0.97, True),
        ((math.nan, math.nan, math.nan), 0.97, True),
        ((3.7, 3.6, 3.89), None, False),
        ((5.5, 5.2, 5.8), None, True),
        ((5.5, 5.2, 5.8), math.nan, True),
        (None, None, True),
        ((5.5, 5.2, 5.8), 0.82, False),  # 0.88 less the guard of 0.05
        ((5.5, 5.2, 5.8), 0.83, True),
        (None, 0.82, False),
        ((4.5, 4.4, 4.7), 0.85, False),  # pH 5.0 less the guard, water activity 0.90 less its own
        ((4.5, 4.4, 4.71), 0.85, True),
        ((4.2, 4.1, 4.3), 0.87, False),  # pH 4.6 less the guard, water activity 0.92 less its own
        ((4.2, 4.1, 4.3), 0.88, True),
    ],
)
def test_keep_refrigerated(
    ph: tuple[float, float, float] | None, water_activity: float | None, fires: bool
) -> None:
    """FDA Food Code, Table B, with guard bands of 0.3 pH and 0.05 (the guards are our own)."""
    picture = pot((PLAIN, 100.0), ph=ph, water_activity=water_activity)
    assert ("keep refrigerated" in rules(picture)) is fires


def test_what_is_unknown_is_said() -> None:
    picture = pot((PLAIN, 100.0), ph=None, water_activity=None)
    text = sentence(picture, "keep refrigerated")
    assert "pH is not known" in text
    assert "water activity unknown" in text
    known = sentence(pot((PLAIN, 100.0), ph=(4.4, 4.2, 4.61)), "keep refrigerated")
    assert "4.61" in known
    assert "0.97" in known


@pytest.mark.parametrize(
    ("ph", "words"),
    [
        ((3.2, 3.1, 3.3), "proves nothing"),
        ((4.2, 4.1, 4.3), "proves nothing"),  # 4.3 stands in the place of 4.6
        ((4.2, 4.1, 4.31), "not shown to stay"),
        ((4.9, 4.6, 5.2), "not shown to stay"),
        ((4.9, 4.61, 5.2), "low in acid"),
        ((6.9, 6.5, 7.1), "low in acid"),
        (None, "not shown to stay"),
    ],
)
def test_home_canning(ph: tuple[float, float, float] | None, words: str) -> None:
    """21 CFR 114.3: 4.6. USDA Complete Guide to Home Canning: tested recipes only."""
    picture = pot((PLAIN, 100.0), ph=ph)
    assert words in sentence(picture, "home canning")


@given(
    ph=st.floats(2.0, 8.0),
    more=st.floats(0.0, 3.0),
    aw=st.floats(0.3, 1.0),
    wetter=st.floats(0.0, 0.5),
)
def test_less_acid_or_wetter_never_frees_from_the_cold(
    ph: float, more: float, aw: float, wetter: float
) -> None:
    if needs_cold(ph, aw):
        assert needs_cold(ph + more, min(1.0, aw + wetter))
        assert needs_cold(None, aw)
        assert needs_cold(ph, None)


# --- oil ----------------------------------------------------------------------------------------

OIL = food("olive oil", "oil and fat", "04053", fat=100.0)
GARLIC = food("garlic", "allium", "11215", other_carbohydrate=33.0)
BASIL = food("basil", "fresh herb", "02044", fibre=8.0)


def oily(
    plant: Ingredient, oil_g: float, ph: tuple[float, float, float] | None = (5.8, 5.6, 6.0)
) -> Picture:
    return pot((plant, 10.0), (OIL, oil_g), (PLAIN, 90.0 - oil_g), ph=ph)


@pytest.mark.parametrize(
    "plant",
    [
        GARLIC,
        BASIL,
        food("red chili pepper", "chilli", "11819", capsaicinoids=30.0),
        food("red bell pepper", "vegetable", "11821"),
        food("Onions, raw", "Vegetables and Vegetable Products", "11282", curated=False),
        food("wild garlic", "fresh herb", water=UNKNOWN),
    ],
    ids=lambda i: i.name,
)
def test_fresh_plants_in_oil(plant: Ingredient) -> None:
    """Extension advice on garlic and herbs in oil; 10 % fat is a limit of our own."""
    assert "fresh plants in oil" in rules(oily(plant, 11.0))
    assert "fresh plants in oil" not in rules(oily(plant, 10.0))
    text = sentence(oily(plant, 11.0), "fresh plants in oil")
    assert plant.name in text
    assert "4 days at 4 °C" in text
    assert "never keep it at room temperature" in text


@pytest.mark.parametrize(
    ("ph", "fires"),
    [((3.7, 3.6, 3.89), False), ((3.7, 3.6, 3.9), True), (None, True)],
)
def test_oil_is_waived_only_by_acid_that_stands_clear_of_its_guard(
    ph: tuple[float, float, float] | None, fires: bool
) -> None:
    assert ("fresh plants in oil" in rules(oily(GARLIC, 60.0, ph))) is fires


@pytest.mark.parametrize(
    ("plant", "fires"),
    [
        (food("dried basil", "dried herb", fibre=90.0), False),
        (food("garlic powder", "allium", fibre=94.0), False),
        (food("ginger", "spice", fibre=70.0), True),
        (food("ginger", "spice", fibre=70.1), False),
        (food("chickpeas", "legume", fibre=40.0), True),
        # pH by source FDA_PH2007 of ``pantry_ph.csv``; 4.6 by 21 CFR 114.3
        (replace(food("plums"), ph=(2.8, 4.3)), False),
        (replace(food("avocado"), ph=(6.27, 6.58)), True),
        (food("a fruit of unknown pH"), True),
    ],
    ids=["herb", "powder", "30 %", "29.9 %", "legume", "acid fruit", "low-acid fruit", "unknown"],
)
def test_a_dry_plant_in_oil_is_not_a_fresh_one(plant: Ingredient, fires: bool) -> None:
    assert ("fresh plants in oil" in rules(oily(plant, 60.0))) is fires


def test_unknown_fat_counts_as_fat() -> None:
    dip = food("somebody's dip", "paste and ferment", fat=UNKNOWN)
    assert "fresh plants in oil" in rules(pot((GARLIC, 10.0), (dip, 40.0), (PLAIN, 50.0), ph=None))
    assert "fresh plants in oil" not in rules(
        pot((GARLIC, 10.0), (dip, 5.0), (PLAIN, 85.0), ph=None)
    )


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("roasted garlic puree", "fresh plants in oil"),
        ("my raw egg yolk", "raw egg"),
        ("raw tuna", "raw fish or shellfish"),
        ("raw kidney beans, sprouted", "raw beans"),
        ("habanero mash", "hot chillies"),
        ("habanero mash", "very hot sauce"),
        ("strong rum", "alcohol"),
    ],
)
def test_an_ingredient_of_the_kitchens_own_is_judged_by_its_name(name: str, rule: str) -> None:
    """What nobody measured never silences a rule."""
    own = food(name, OWN_SHELF, ethanol=UNKNOWN, capsaicinoids=UNKNOWN, water=UNKNOWN)
    assert rule in rules(pot((own, 30.0), (OIL, 60.0), ph=None))


def test_an_own_ingredient_that_is_dry_or_like_a_sour_fruit_is_no_low_acid_plant() -> None:
    dry = food("walnut dust", OWN_SHELF, fibre=95.0)
    plum = replace(food("our plums", OWN_SHELF), kin=PLAIN)
    for own in (dry, plum):
        assert "fresh plants in oil" not in rules(pot((own, 30.0), (OIL, 60.0), ph=None))


# --- single foods -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "yes", "no"),
    [
        # FDA, egg safety (recalled)
        (
            "raw egg",
            [
                food("eggs", "dairy and egg", "01123"),
                food("Egg, quail, whole, fresh, raw", "Dairy and Egg Products", "01140"),
            ],
            [
                food("Egg, yolk, raw, frozen, pasteurized", "Dairy and Egg Products", "01126"),
                food("Egg, whole, cooked, hard-boiled", "Dairy and Egg Products", "01129"),
                food("Eggplant, raw", "Vegetables and Vegetable Products", "11209x"),
                food("mayonnaise", "dairy and egg", "04025"),
            ],
        ),
        # CDC, infant botulism (recalled)
        (
            "honey and infants",
            [
                food("honey", "sweet", "19296"),
                food("Salad dressing, honey mustard, regular", "Fats and Oils", "04703"),
            ],
            [
                food("Melons, honeydew, raw", "Fruits and Fruit Juices", "09184"),
                food("maple syrup", "sweet", "19353"),
            ],
        ),
        # textbook knowledge (recalled)
        (
            "rhubarb leaves",
            [
                food("rhubarb", "fruit", "09307"),
                food("Rhubarb, frozen, uncooked", "Fruits and Fruit Juices", "09309"),
            ],
            [food("sorrel", "fresh herb", "11616")],
        ),
        # CDC, MMWR 1984;33:173 (recalled)
        (
            "raw elderberries",
            [food("elderberries", "fruit", "09088")],
            [food("blackcurrants", "fruit", "09083")],
        ),
        # FDA, Bad Bug Book, 2nd edition (recalled)
        (
            "raw beans",
            [
                food("Beans, kidney, red, mature seeds, raw", "Legumes and Legume Products"),
                food("Lentils, raw", "Legumes and Legume Products"),
            ],
            [
                food("Beans, kidney, red, mature seeds, canned", "Legumes and Legume Products"),
                food("Beans, snap, green, raw", "Vegetables and Vegetable Products"),
                food("canned white beans", "legume", "16051"),
            ],
        ),
        # FDA Food Code, cooking temperatures (recalled)
        (
            "raw fish or shellfish",
            [food("Mollusks, oyster, Pacific, raw", "Finfish and Shellfish Products")],
            [
                food("anchovies", "soy and fish sauce", "15002"),
                food("Fish, salmon, pink, canned", "Finfish and Shellfish Products"),
                food("Onions, raw", "Vegetables and Vegetable Products"),
            ],
        ),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)
def test_a_food_that_brings_its_own_caution(
    rule: str, yes: list[Ingredient], no: list[Ingredient]
) -> None:
    for ingredient in yes:
        assert rule in rules(with_plain(ingredient)), ingredient.name
        assert ingredient.name in sentence(with_plain(ingredient), rule)
    for ingredient in no:
        assert rule not in rules(with_plain(ingredient)), ingredient.name


def test_acid_does_not_waive_raw_egg() -> None:
    yolk = food("egg yolk", "dairy and egg", "01125")
    assert "raw egg" in rules(pot((yolk, 20.0), (PLAIN, 80.0), ph=(2.5, 2.4, 2.6)))


def test_what_weighs_nothing_says_nothing() -> None:
    picture = pot((PLAIN, 100.0), (food("honey", "sweet", "19296", ("milk",)), 0.0))
    assert rules(picture) == ["home canning"]
    assert allergens(picture) == ()


# --- heat ---------------------------------------------------------------------------------------


def chilli(shu: float, water: float = 0.0, group: str = "chilli") -> Ingredient:
    return food("a chilli", group, capsaicinoids=shu / 160.0, water=water)


@pytest.mark.parametrize(
    ("pod", "fires"),
    [
        (chilli(10000.0), False),
        (chilli(10016.0), True),
        (chilli(1000.0, water=90.0), False),  # 10,000 in the dry pod
        (chilli(1016.0, water=90.0), True),
        (chilli(1016.0, water=90.0, group="paste and ferment"), False),  # a sauce counts as eaten
        (chilli(10016.0, water=90.0, group="paste and ferment"), True),
        (chilli(UNKNOWN), True),
        (chilli(UNKNOWN, group="paste and ferment"), False),
        (food("Peppers, jalapeno, canned", "Vegetables", capsaicinoids=UNKNOWN), True),
        (food("Peppers, sweet, red, raw", "Vegetables", capsaicinoids=UNKNOWN), False),
        (food("banana pepper", "chilli", capsaicinoids=0.0, water=100.0), False),
    ],
)
def test_hot_chillies(pod: Ingredient, fires: bool) -> None:
    """Gloves above about 10,000 SHU on the scale of dry pods: common practice, no source."""
    assert ("hot chillies" in rules(pot((PLAIN, 99.9), (pod, 0.1)))) is fires


def test_the_high_end_of_a_chilli_counts() -> None:
    pod = chilli(5000.0)
    high = np.full(len(NAMES), math.nan)
    high[INDEX["capsaicinoids"]] = 15000.0 / 160.0
    assert scale_shu(pod) == pytest.approx(5000.0)
    assert scale_shu(replace(pod, high=high)) == pytest.approx(15000.0)


@pytest.mark.parametrize(("shu", "fires"), [(2499.0, False), (2500.0, True)])
def test_very_hot_sauce(shu: float, fires: bool) -> None:
    """A limit of our own, the foot of the trade class of whole hot chillies."""
    picture = pot((PLAIN, 50.0), (chilli(2.0 * shu), 50.0))
    assert ("very hot sauce" in rules(picture)) is fires
    if fires:
        assert "2,500 Scoville units" in sentence(picture, "very hot sauce")


# --- vinegar, salt, alcohol ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("vinegar", "fires"),
    [
        (food("distilled vinegar", "vinegar and acid", "02053", acetic=4.0), False),
        (food("distilled vinegar", "vinegar and acid", "02053", acetic=3.99), True),
        (food("distilled vinegar", "vinegar and acid", "02053", acetic=UNKNOWN), True),
        (food("Vinegar, palm", "Spices and Herbs", acetic=UNKNOWN, curated=False), True),
        (food("mustard in vinegar sauce", "mustard", acetic=1.0), False),
    ],
)
def test_weak_vinegar(vinegar: Ingredient, fires: bool) -> None:
    """FDA Compliance Policy Guide 525.825: 4 g in 100 mL (recalled)."""
    assert ("weak vinegar" in rules(with_plain(vinegar))) is fires


@pytest.mark.parametrize(
    ("sodium_mg", "serving_g", "fires"),
    [
        (459.0, None, False),
        (460.0, None, True),  # 20 % of 2300 mg in 100 g
        (459.0, 100.2, False),
        (459.0, 100.3, True),  # in a serving that is larger than 100 g
        (460.0, 30.0, True),  # in 100 g, where the serving is small
        (UNKNOWN, None, True),
    ],
)
def test_salt(sodium_mg: float, serving_g: float | None, fires: bool) -> None:
    """21 CFR 101.9(c)(9): 2300 mg; FDA label guide: 20 % or more is high (both recalled)."""
    salted = food("a salted thing", sodium=sodium_mg)
    picture = pot((salted, 100.0), serving_g=serving_g)
    assert ("salt" in rules(picture)) is fires


def test_salt_is_counted_for_the_serving() -> None:
    picture = pot((food("brine", sodium=2300.0), 100.0), serving_g=50.0)
    counted = sodium(picture)
    assert (counted.mg, counted.daily_share, counted.basis_g) == (1150.0, 0.5, 50.0)
    text = sentence(picture, "salt")
    assert "serving of 50 g brings 1150 mg" in text
    assert "(2.9 g of salt)" in text
    assert "50 % of the daily value of 2,300 mg" in text
    unknown = sentence(with_plain(food("a stranger", sodium=UNKNOWN)), "salt")
    assert "The sodium of a stranger is not known" in unknown


@pytest.mark.parametrize(
    ("drink", "fires"),
    [
        (food("cider", "fruit", ethanol=0.5), False),
        (food("cider", "fruit", ethanol=0.51), True),
        (food("sherry", "wine and spirit", ethanol=UNKNOWN), True),
        (food("Alcoholic beverage, wine, table", "Beverages", ethanol=UNKNOWN), True),
        (food("Beverages, Wine, non-alcoholic", "Beverages", ethanol=0.0), False),
        (food("red wine vinegar", "vinegar and acid", ethanol=UNKNOWN, acetic=6.0), False),
    ],
)
def test_alcohol(drink: Ingredient, fires: bool) -> None:
    """USDA retention factors: after 2.5 h of simmering 5 % is still there."""
    assert ("alcohol" in rules(with_plain(drink))) is fires


def test_alcohol_that_cooking_took_away_is_told_by_the_table_of_retention() -> None:
    """USDA Release 6: 5 % after 2.5 h; 40 g of alcohol in a sauce of 200 g leaves 1 g in 100 g."""
    brandy = food("brandy", "wine and spirit", ethanol=40.0)
    raw = pot((brandy, 100.0), (PLAIN, 100.0))
    cooked = raw.per_100g.copy()
    cooked[INDEX["ethanol"]] = 0.0
    assert "about 1.0 g" in sentence(replace(raw, per_100g=cooked), "alcohol")
    assert "about 20.0 g" in sentence(raw, "alcohol")


# --- allergens ----------------------------------------------------------------------------------


def test_allergens_name_their_carriers_once() -> None:
    butter = food("butter", "dairy and egg", allergens=("milk",))
    cream = food("cream", "dairy and egg", key="T2", allergens=("milk", "celery"))
    found = allergens(pot((butter, 10.0), (cream, 10.0), (butter, 5.0), (PLAIN, 50.0)))
    assert [(a.name, a.us_major, a.eu_annex_ii, a.carriers) for a in found] == [
        ("milk", True, True, ("butter", "cream")),
        ("celery", False, True, ("cream",)),
    ]
    text = sentence(pot((butter, 10.0), (cream, 10.0)), "allergens")
    assert "milk (butter, cream; US, EU); celery (cream; EU)" in text


def test_no_allergen_no_caution() -> None:
    assert "allergens" not in rules(pot((PLAIN, 100.0)))


def test_an_allergen_that_no_table_knows_is_still_named() -> None:
    picture = with_plain(food("buckwheat dip", "starch", allergens=("buckwheat",)))
    (only,) = allergens(picture)
    assert (only.name, only.us_major, only.eu_annex_ii) == ("buckwheat", False, False)
    assert "buckwheat (buckwheat dip; on neither list)" in sentence(picture, "allergens")


@pytest.mark.parametrize(
    ("name", "group", "expected"),
    [
        ("Milk, goat, fluid", "Dairy and Egg Products", {"milk"}),
        ("Egg, duck, whole, fresh, raw", "Dairy and Egg Products", {"egg"}),
        ("Eggnog", "Dairy and Egg Products", {"milk", "egg"}),
        ("Eggplant, cooked", "Vegetables and Vegetable Products", set()),
        ("Fish, cod, Atlantic, raw", "Finfish and Shellfish Products", {"fish"}),
        ("Crustaceans, shrimp, raw", "Finfish and Shellfish Products", {"crustaceans"}),
        ("Mollusks, mussel, blue, raw", "Finfish and Shellfish Products", {"molluscs"}),
        ("Mushrooms, oyster, raw", "Vegetables and Vegetable Products", set()),
        ("Squash, summer, scallop, raw", "Vegetables and Vegetable Products", set()),
        ("Nuts, coconut milk, raw", "Nut and Seed Products", set()),
        ("Nuts, pecans", "Nut and Seed Products", {"tree nuts"}),
        ("Waterchestnuts, chinese, (matai), raw", "Vegetables and Vegetable Products", set()),
        ("Peanut butter, chunky", "Legumes and Legume Products", {"peanut"}),
        ("Squash, winter, butternut, raw", "Vegetables and Vegetable Products", set()),
        ("Wheat flour, whole-grain", "Cereal Grains and Pasta", {"wheat"}),
        ("Rice, brown, long-grain, raw", "Cereal Grains and Pasta", set()),
        ("Rye flour, dark", "Cereal Grains and Pasta", {"barley, rye and oats"}),
        ("Tempeh", "Legumes and Legume Products", {"soybean"}),
        ("Lupins, mature seeds, raw", "Legumes and Legume Products", {"lupin"}),
        ("Celery flakes, dried", "Vegetables and Vegetable Products", {"celery"}),
        ("Seeds, sesame flour, low-fat", "Nut and Seed Products", {"sesame"}),
        ("Mustard greens, raw", "Vegetables and Vegetable Products", {"mustard"}),
        ("Apples, dried, sulfured, uncooked", "Fruits and Fruit Juices", {"sulphites"}),
    ],
)
def test_a_food_of_the_table_is_judged_by_its_name(
    name: str, group: str, expected: set[str]
) -> None:
    picture = pot((food(name, group, curated=False), 50.0), (PLAIN, 50.0))
    assert {a.name for a in allergens(picture)} == expected
    text = sentence(picture, "allergens")
    assert f"No list stands behind {name}, judged by name only." in text


def test_pine_nuts_count_as_tree_nuts() -> None:
    """US guidance names them (recalled); Annex II of (EU) No 1169/2011 does not."""
    (only,) = allergens(with_plain(food("pine nuts", "nut and seed", "12147")))
    assert only.name == "tree nuts"


def test_names_give_away_nearly_every_allergen_of_the_curated_pantry(catalogue: Catalogue) -> None:
    """The fallback, tried on the table's own names of foods whose allergens are listed."""
    named = {r["ndb"]: r for r in read_rows(catalogue.directory / "foods.csv")}
    listed = [
        (f"{row['group']}: {row['name']}".lower(), allergen)
        for ingredient in catalogue.pantry
        if (row := named.get(ingredient.key)) is not None
        for allergen in ingredient.allergens
    ]
    missed = [(n, a) for n, a in listed if not limits.ALLERGENS[a].pattern.search(n)]
    assert len(listed) > 100
    assert len(missed) <= 0.05 * len(listed), missed


def test_the_tables_agree_with_the_rules(catalogue: Catalogue) -> None:
    rows = {r["allergen"]: r for r in read_rows(catalogue.directory / "allergens.csv")}
    assert list(rows) == list(limits.ALLERGENS)
    for name, rule in limits.ALLERGENS.items():
        laws = (rows[name]["us_major"] == "1", rows[name]["eu_annex_ii"] == "1")
        assert laws == (rule.us_major, rule.eu_annex_ii), name
    assert set(limits.CITATIONS) <= set(catalogue.sources)


# --- all together -------------------------------------------------------------------------------

WORST = (
    (OIL, 40.0),
    (GARLIC, 10.0),
    (food("eggs", "dairy and egg", "01123", ("egg",)), 10.0),
    (food("honey", "sweet", "19296"), 5.0),
    (food("rhubarb", "fruit", "09307"), 5.0),
    (food("elderberries", "fruit", "09088"), 5.0),
    (food("Fish, cod, Atlantic, raw", "Finfish and Shellfish Products", curated=False), 5.0),
    (food("Beans, kidney, mature seeds, raw", "Legumes and Legume Products", curated=False), 5.0),
    (chilli(300000.0), 5.0),
    (food("rice vinegar", "vinegar and acid", "02053b", acetic=3.0), 5.0),
    (food("salt", "seasoning", "02047", sodium=38758.0), 4.0),
    (food("sake", "wine and spirit", "43479", ethanol=16.0), 5.0),
)


def test_most_serious_first_and_every_rule_can_speak() -> None:
    found = cautions(pot(*WORST, ph=None, water_activity=None))
    assert [c.rule for c in found] == [
        "fresh plants in oil",
        "raw egg",
        "keep refrigerated",
        "home canning",
        "allergens",
        "honey and infants",
        "raw fish or shellfish",
        "raw beans",
        "raw elderberries",
        "rhubarb leaves",
        "hot chillies",
        "very hot sauce",
        "weak vinegar",
        "salt",
        "alcohol",
    ]
    for caution in found:
        assert caution.sentence.endswith(DEFER)
        assert caution.sentence.count(DEFER) == 1
        assert "{" not in caution.sentence
        assert "shelf" not in caution.sentence.lower()
        keys = [
            part.split("[")[1].rstrip("]") for part in caution.citation.split("; ") if "[" in part
        ]
        assert keys
        assert set(keys) <= set(limits.CITATIONS)


@given(order=st.permutations(range(len(WORST))), scale=st.floats(0.01, 1000.0))
@settings(max_examples=25)
def test_order_and_size_of_the_batch_do_not_matter(order: list[int], scale: float) -> None:
    mixed = pot(*[(WORST[i][0], WORST[i][1] * scale) for i in order], ph=None)
    assert rules(mixed) == rules(pot(*WORST, ph=None))


def test_a_plain_sauce_is_not_alarmed() -> None:
    """Sour, low in salt, nothing risky in it: only the word about jars is left."""
    assert rules(pot((PLAIN, 100.0))) == ["home canning"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"grams": np.array([1.0, 2.0])}, "1 ingredients, 2 quantities"),
        ({"grams": np.array([-1.0])}, "negative"),
        ({"grams": np.array([math.nan])}, "not a number"),
        ({"per_100g": np.zeros(3)}, "3 components"),
        ({"final_mass_g": 0.0}, "finished sauce weighs 0 g"),
        ({"final_mass_g": math.nan}, "finished sauce weighs nan g"),
        ({"serving_g": -5.0}, "serving weighs -5 g"),
        ({"ph": (4.0, 4.1, 4.2)}, "4 lies outside its band of 4.1 to 4.2"),
    ],
)
def test_bad_pictures_are_refused(change: dict[str, object], words: str) -> None:
    whole = {
        "ingredients": (PLAIN,),
        "grams": np.array([100.0]),
        "per_100g": np.zeros(len(NAMES)),
        "final_mass_g": 100.0,
    }
    with pytest.raises(BadInput, match=words):
        Picture(**(whole | change))  # type: ignore[arg-type]


def test_another_food_makes_another_caution_and_other_figures_do_not() -> None:
    """What the page may fold away beside the same caution, and what it must show."""
    walnuts = food("walnuts", "nut and seed", allergens=("tree nuts",))
    peanuts = food("peanuts", "nut and seed", key="T2", allergens=("peanut",))
    plain, more, also = (
        pot((PLAIN, 90.0), *parts)
        for parts in (((walnuts, 10.0),), ((walnuts, 20.0),), ((walnuts, 10.0), (peanuts, 1.0)))
    )
    said = [wording(sentence(picture, "allergens")) for picture in (plain, more, also)]
    assert said[0] == said[1]
    assert said[0] != said[2]
