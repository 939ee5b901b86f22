"""The component axis: unknown is not zero, mixing is a matrix product, labels are followed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sauces import ingredient

from balancer.catalogue import Catalogue
from balancer.composition import (
    ACIDS,
    COMPONENTS,
    INDEX,
    MASSES,
    NAMES,
    SUGARS,
    Blend,
    Evidence,
    Ingredient,
    Part,
    filled,
    matrix,
    specific_volume,
    taken_apart,
)
from balancer.constants import AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.strength import Strength, with_strength
from balancer.taste import levels

SUGAR = ingredient("1", name="sugar", sucrose=100.0)
WATER = ingredient("2", name="water", water=100.0)


def test_the_axis_is_ordered_and_unique() -> None:
    assert len(set(NAMES)) == len(NAMES) == len(COMPONENTS)
    assert [INDEX[n] for n in NAMES] == list(range(len(NAMES)))
    for axis in AXES:
        assert set(axis.weights) <= set(NAMES)


def test_missing_is_not_zero() -> None:
    values = np.full(len(NAMES), math.nan)
    values[INDEX["water"]] = 90.0
    food = Ingredient("x", "x", values, values, values, (None,) * len(NAMES), ("",) * len(NAMES))
    assert math.isnan(food["citric"])
    assert filled(food.values)[INDEX["citric"]] == 0.0
    assert math.isnan(food["citric"]), "filling must not change the table"
    with pytest.raises(ValueError, match="read-only"):
        food.values[0] = 1.0


@pytest.mark.parametrize("amount", [-1.0, math.inf])
def test_an_ingredient_refuses_what_no_food_holds(amount: float) -> None:
    with pytest.raises(BadInput, match=r"odd: fat is .* g per 100 g\. Give an amount"):
        ingredient("1", name="odd", fat=amount, water=0.0)


def test_only_the_charge_may_be_negative() -> None:
    assert ingredient("1", strong_ion_charge=-4.0)["strong_ion_charge"] == -4.0


@pytest.mark.parametrize(
    "name", ["black pepper", "flour", "cornstarch", "white pepper", "rice flour", "salt", "sugar"]
)
def test_not_sour(pantry: dict[str, Ingredient], name: str) -> None:
    """The residue of carbohydrate is no acid."""
    assert levels(matrix([pantry[name]]))[0, AXIS_NAMES.index("sour")] < 0.1


def test_sour_things_are_sour(pantry: dict[str, Ingredient]) -> None:
    for name in ("lemon juice", "distilled vinegar", "rhubarb", "tamarind pulp", "plums"):
        assert levels(matrix([pantry[name]]))[0, AXIS_NAMES.index("sour")] > 0.5


grams = st.lists(st.floats(0.01, 5000.0), min_size=3, max_size=3)


@given(q=grams, r=grams, share=st.floats(0.0, 1.0))
@settings(max_examples=60, deadline=None)
def test_mixing_is_linear(
    catalogue: Catalogue, q: list[float], r: list[float], share: float
) -> None:
    """Two pots poured together hold what both held; the lost water is gone and nothing else."""
    c = matrix([catalogue.pantry[i] for i in (10, 120, 300)])
    one, two = Blend(c, np.array(q)), Blend(c, np.array(r))
    both = Blend(c, np.array(q) + np.array(r))
    held = one.per_100g() * one.mass_g + two.per_100g() * two.mass_g
    np.testing.assert_allclose(both.per_100g() * both.mass_g, held, rtol=1e-9, atol=1e-9)
    water = float(both.per_100g()[INDEX["water"]] * both.mass_g / 100)
    lost = share * water * 0.99
    boiled = Blend(c, both.grams, lost)
    kept = boiled.per_100g() * boiled.mass_g / 100
    before = both.per_100g() * both.mass_g / 100
    before[INDEX["water"]] -= lost
    np.testing.assert_allclose(kept, before, rtol=1e-6, atol=1e-6)


def test_a_blend_of_one_is_that_ingredient(catalogue: Catalogue) -> None:
    c = matrix(catalogue.pantry[:1])
    np.testing.assert_allclose(Blend(c, np.array([37.0])).per_100g(), c[0], rtol=1e-12)


@pytest.mark.parametrize(
    ("q", "lost", "parts"),
    [
        ([-1.0, 5.0], 0.0, ["negative", "Give grams"]),
        ([math.nan, 5.0], 0.0, ["not a number", "Give grams"]),
        ([math.inf, 5.0], 0.0, ["not a number", "Give grams"]),
        ([0.0, 0.0], 0.0, ["0 g", "Put something in"]),
        ([50.0, 50.0], 60.0, ["60 g", "50 g", "Give a loss"]),
        ([50.0, 50.0], -1.0, ["-1 g", "Give a loss"]),
        ([50.0, 50.0], math.nan, ["nan g", "Give a loss"]),
    ],
)
def test_a_blend_refuses(q: list[float], lost: float, parts: list[str]) -> None:
    with pytest.raises(BadInput) as caught:
        Blend(matrix([SUGAR, WATER]), np.array(q), lost)
    for part in parts:
        assert part in str(caught.value)


def test_matrix_of_nothing() -> None:
    assert matrix([]).shape == (0, len(NAMES))


# --- strength of a bottle -------------------------------------------------------------------------
def _mass(food: Ingredient) -> float:
    return float(filled(food.values)[[INDEX[n] for n in MASSES]].sum())


def test_vinegar_by_its_label(pantry: dict[str, Ingredient]) -> None:
    vinegar = with_strength(pantry["rice vinegar"], Strength(acetic_pct=4.2))
    assert vinegar["acetic"] == 4.2
    assert _mass(vinegar) == pytest.approx(_mass(pantry["rice vinegar"]), abs=1e-9)
    assert vinegar.evidence[INDEX["acetic"]] is Evidence.MEASURED
    assert vinegar.source[INDEX["acetic"]] == "LABEL"
    assert vinegar.key == pantry["rice vinegar"].key
    assert pantry["rice vinegar"]["acetic"] != 4.2


def test_soy_sauce_by_its_label(pantry: dict[str, Ingredient]) -> None:
    """16 % salt is 16 / 2.5421 g of sodium, from the atomic masses 22.990 and 35.453 (IUPAC)."""
    soy = with_strength(pantry["soy sauce"], Strength(salt_pct=16.0))
    assert soy["sodium"] == pytest.approx(16.0 * 22.990 / 58.443 * 1000)
    assert soy["chloride"] == pytest.approx(16.0 * 35.453 / 58.443 * 1000)
    assert levels(matrix([soy]))[0, AXIS_NAMES.index("salt")] == pytest.approx(16.0)
    assert _mass(soy) == pytest.approx(_mass(pantry["soy sauce"]), abs=1e-9)


def test_syrup_by_its_label(pantry: dict[str, Ingredient]) -> None:
    honey = pantry["honey"]
    thin = with_strength(honey, Strength(brix=65.0))
    sugars = ["sucrose", "glucose", "fructose", "maltose", "galactose", "lactose", "other_sugars"]
    assert sum(np.nan_to_num(thin[s]) for s in sugars) == pytest.approx(65.0)
    assert thin["fructose"] / thin["glucose"] == pytest.approx(honey["fructose"] / honey["glucose"])


def test_nothing_stated_changes_nothing(pantry: dict[str, Ingredient]) -> None:
    same = with_strength(pantry["honey"], Strength())
    np.testing.assert_allclose(filled(same.values), filled(pantry["honey"].values))
    assert same.evidence == pantry["honey"].evidence


@pytest.mark.parametrize(
    ("strength", "parts"),
    [
        (Strength(acetic_pct=-1.0), ["acetic acid", "-1 g per 100 g", "Give a figure"]),
        (Strength(acetic_pct=math.nan), ["acetic acid", "nan g per 100 g", "Give a figure"]),
        (Strength(salt_pct=101.0), ["salt", "101 g per 100 g", "Give a figure"]),
        (Strength(acetic_pct=60.0, salt_pct=60.0), ["strength on the label", "Check the label"]),
        (Strength(brix=50.0), ["no sugars", "50 degrees Brix", "Leave brix out"]),
    ],
)
def test_labels_that_cannot_be(strength: Strength, parts: list[str]) -> None:
    plain = ingredient("1", name="bottle", acetic=5.0)
    with pytest.raises(BadInput) as caught:
        with_strength(plain, strength)
    assert "bottle" in str(caught.value)
    for part in parts:
        assert part in str(caught.value)


def test_volumes_of_the_parts_add_up() -> None:
    """100 g of water at 0.9957 g/mL, and a half and half mix."""
    both = specific_volume(matrix([WATER, SUGAR]))
    assert both[0] == pytest.approx(100 / 0.9957)
    mixed = specific_volume(Blend(matrix([WATER, SUGAR]), np.array([1.0, 1.0])).per_100g())
    assert mixed == pytest.approx(both.mean())


def test_density_of_each_part() -> None:
    """Choi & Okos 1986, densities [kg/m3] as polynomials of the temperature, here at 20 C."""
    t = 20.0
    density = {
        "water": 997.18 + 3.1439e-3 * t - 3.7574e-3 * t**2,
        "protein": 1329.9 - 0.51840 * t,
        "fat": 925.59 - 0.41757 * t,
        "starch": 1599.1 - 0.31046 * t,
        "other_carbohydrate": 1599.1 - 0.31046 * t,
        "fibre": 1311.5 - 0.36589 * t,
        "ash": 2423.8 - 0.28063 * t,
    }
    for name, kg_m3 in density.items():
        whole = np.zeros(len(NAMES))
        whole[INDEX[name]] = 100.0
        assert float(specific_volume(whole)) == pytest.approx(1e5 / kg_m3, rel=1e-3), name
    alcohol = np.zeros(len(NAMES))
    alcohol[INDEX["ethanol"]] = 100.0  # 0.789 g/mL at 20 C, handbook, from memory
    assert float(specific_volume(alcohol)) == pytest.approx(100 / 0.789, rel=1e-3)
    traces = np.zeros(len(NAMES))
    for name in ("sodium", "glutamate", "capsaicinoids", "oil_herb", "strong_ion_charge"):
        traces[INDEX[name]] = 100.0  # in mg, uL or meq: too little to take up room
    assert float(specific_volume(traces)) == 0.0


def test_what_is_weighed_and_in_which_unit() -> None:
    """Proximates and acids in grams, minerals in milligrams, as tables of food print them."""
    by_unit: dict[str, list[str]] = {}
    by_group: dict[str, list[str]] = {}
    for c in COMPONENTS:
        by_unit.setdefault(c.unit, []).append(c.name)
        by_group.setdefault(c.group, []).append(c.name)
    minerals = ["sodium", "potassium", "calcium", "magnesium", "phosphorus", "chloride"]
    oils = [f"oil_{kind}" for kind in
            ("herb", "warm_spice", "citrus", "allium", "mustard", "floral", "smoke")]  # fmt: skip
    sugars = ["sucrose", "glucose", "fructose", "lactose", "maltose", "galactose", "other_sugars"]
    acids = ["citric", "malic", "tartaric", "lactic", "acetic", "oxalic", "succinic", "quinic",
             "gluconic"]  # fmt: skip
    bulk = ["water", "protein", "fat", "starch", "fibre", "ash", "ethanol", "other_carbohydrate"]
    pungent = ["allium_sulphur", "isothiocyanates"]
    assert by_unit == {
        "g": [n for n in NAMES if n in {*bulk, *sugars, *acids}],
        "mg": [*minerals, "glutamate", "capsaicinoids", *pungent],
        "meq": ["strong_ion_charge"],
        "uL": oils,
    }
    assert by_group == {
        "bulk": bulk,
        "sugar": sugars,
        "acid": acids,
        "ion": [*minerals, "strong_ion_charge"],
        "savoury": ["glutamate"],
        "hot": ["capsaicinoids"],
        "aromatic": [*oils, *pungent],
    }
    assert list(SUGARS) == sugars
    assert list(ACIDS) == acids
    assert list(MASSES) == by_unit["g"]


def test_evidence_in_the_words_of_the_tables(catalogue: Catalogue) -> None:
    """Strongest first; every kind but the assumed stands in a curated table under its word."""
    words = ["measured", "table", "derived", "chosen", "memory", "assumed"]
    assert [e.value for e in Evidence] == words
    used = {e for food in catalogue.pantry for e in food.evidence if e is not None}
    assert Evidence.TABLE in used
    assert used <= set(Evidence)


def test_refusals_name_the_component_and_its_unit() -> None:
    with pytest.raises(BadInput, match=r"^odd: sodium is -3 mg per 100 g\."):
        ingredient("1", name="odd", sodium=-3.0)
    with pytest.raises(BadInput, match=r"strong_ion_charge is -inf meq"):
        ingredient("1", strong_ion_charge=-math.inf)
    with pytest.raises(BadInput, match=r"fat is -1 g"):
        ingredient("1", fat=-1.0, strong_ion_charge=-1.0, water=50.0)


def test_a_new_ingredient_says_nothing_of_itself() -> None:
    plain = ingredient("1", name="sugar", sucrose=100.0)
    assert (plain.group, plain.note, plain.synonyms, plain.allergens) == ("", "", (), ())
    assert (plain.share, plain.ph, plain.parts, plain.kin) == (None, None, (), None)
    assert math.isnan(plain.refuse)
    with pytest.raises(ValueError, match="read-only"):
        plain.low[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        plain.high[0] = 1.0


def test_a_saved_sauce_is_taken_apart() -> None:
    """100 g of base hold 60 g sugar and 50 g water before cooking; 30 g of it hold 18 and 15."""
    base = replace(SUGAR, key="base", parts=(Part(SUGAR, 60.0, ("base",)), Part(WATER, 50.0)))
    found = taken_apart([WATER, base, SUGAR], np.array([7.0, 30.0, 2.0]))
    assert [(p.ingredient.name, p.grams, p.path) for p in found] == [
        ("water", 7.0, ()),
        ("sugar", 18.0, ("base",)),
        ("water", 15.0, ()),
        ("sugar", 2.0, ()),
    ]
    assert all(p.entry is None for p in found)


def test_filling_keeps_what_is_not_finite_for_the_check() -> None:
    np.testing.assert_array_equal(
        filled(np.array([math.nan, math.inf, -math.inf])), [0.0, math.inf, -math.inf]
    )
    assert not np.isnan(matrix([replace(SUGAR, values=np.full(len(NAMES), math.nan))])).any()


def test_all_the_water_may_leave_but_not_the_sauce() -> None:
    """50 g of sugar and 50 g of water: boiled dry, sugar is left."""
    c, q = matrix([SUGAR, WATER]), np.array([50.0, 50.0])
    dry = Blend(c, q, 50.0)
    assert dry.mass_g == 50.0
    assert dry.per_100g()[INDEX["sucrose"]] == pytest.approx(100.0)
    assert dry.per_100g()[INDEX["water"]] == pytest.approx(0.0, abs=1e-9)
    # a rounding of the solver: a millionth of the batch, or a microgram
    for grams, room in ((q, 1e-4), (1e-3 * q, 1e-6)):
        assert Blend(c, grams, grams[1] + 0.9 * room).mass_g == pytest.approx(grams[0], rel=1e-4)
        with pytest.raises(BadInput, match="Give a loss"):
            Blend(c, grams, grams[1] + 1.1 * room)
    assert Blend(c, np.array([0.0, 0.5]), 0.0).mass_g == 0.5
    assert Blend(c, q).water_lost_g == 0.0
    with pytest.raises(BadInput, match="weighs 0 g"):
        Blend(c, np.array([0.0, 50.0]), 50.0)
