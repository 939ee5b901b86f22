"""Own ingredients: labels, readings, and mixes of the two."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from balancer.catalogue import Catalogue
from balancer.chemistry import acidity
from balancer.composition import ACIDS, INDEX, MASSES, NAMES, SUGARS, Evidence, Ingredient, filled
from balancer.errors import BadInput
from balancer.inferring import inferred
from balancer.label import Label
from balancer.own import Own
from balancer.readings import Readings
from balancer.specification import inferred_document, inferred_text
from balancer.titration import titratable_acidity

PLUM_SAUCE = Label(
    "EU", per_g=100, fat_g=0.2, carbohydrate_g=38, sugars_g=36, protein_g=0.4, fibre_g=1, salt_g=1.5
)


def _evidence(ingredient: Ingredient, component: str) -> Evidence | None:
    return ingredient.evidence[INDEX[component]]


def test_forms_agree(catalogue: Catalogue) -> None:
    """One sauce on a US and on an EU label: fibre is inside the US carbohydrate, salt is sodium."""
    us = Label(
        "US", per_g=20, fat_g=0.04, carbohydrate_g=7.8, sugars_g=7.2, protein_g=0.08, fibre_g=0.2,
        sodium_mg=120,
    )  # fmt: skip
    assert us.parts() == pytest.approx(PLUM_SAUCE.parts())
    one, other = (inferred(Own("sauce", x), catalogue).ingredient for x in (us, PLUM_SAUCE))
    assert filled(one.values) == pytest.approx(filled(other.values))


def test_parts_and_evidence(catalogue: Catalogue) -> None:
    found = inferred(Own("plum sauce", PLUM_SAUCE), catalogue).ingredient
    assert found["sodium"] == pytest.approx(600.0)
    assert found["other_sugars"] == pytest.approx(36.0)
    assert found["other_carbohydrate"] == pytest.approx(2.0)
    assert float(filled(found.values)[[INDEX[m] for m in MASSES]].sum()) == pytest.approx(100.0)
    assert _evidence(found, "fat") is Evidence.MEASURED
    assert _evidence(found, "water") is Evidence.DERIVED
    assert _evidence(found, "chloride") is Evidence.ASSUMED
    for unknown in ("citric", "glutamate", "capsaicinoids", "oil_herb", "strong_ion_charge"):
        assert math.isnan(found[unknown])
        assert _evidence(found, unknown) is None


def test_measured_ph_anchors(catalogue: Catalogue) -> None:
    """The model gives back the pH and the acidity that were read."""
    own = Own("plum sauce", PLUM_SAUCE, acidity_pct=1.2, ph=3.2)
    found = inferred(own, catalogue).ingredient
    assert found.ph == (3.2, 3.2)
    assert float(acidity(filled(found.values)).ph) == pytest.approx(3.2, abs=1e-6)
    assert float(titratable_acidity(filled(found.values), "citric")) == pytest.approx(1.2, abs=1e-6)
    assert found["citric"] > 1.2  # part of it is held as salt
    assert _evidence(found, "citric") is Evidence.MEASURED


def test_ph_alone_says_so(catalogue: Catalogue) -> None:
    found = inferred(Own("plum sauce", PLUM_SAUCE, ph=3.2), catalogue)
    assert found.ingredient.ph == (3.2, 3.2)
    assert all(math.isnan(found.ingredient[a]) for a in ACIDS)
    assert any("does not say how much acid" in n for n in found.notes)


def test_readings_alone_agree_with_a_pot_of_the_same_readings(catalogue: Catalogue) -> None:
    """Two ways to the same vector: an ingredient, and a pot, with the same readings."""
    own = inferred(Own("syrup", brix=24, acidity_pct=1.1, ph=3.3, salt_pct=1.6), catalogue)
    pot = Readings(500.0, brix=24, acidity_pct=1.1, ph=3.3, salt_pct=1.6).ingredient()
    for component in ("water", "citric", "other_sugars", "sodium", "strong_ion_charge"):
        assert own.ingredient[component] == pytest.approx(pot[component], rel=1e-3)


def test_my_limes_keep_what_was_not_measured(catalogue: Catalogue) -> None:
    base = catalogue.by_key["09160"]
    found = inferred(
        Own("my lime juice", of="lime juice", acidity_pct=7.0, ph=2.3), catalogue
    ).ingredient
    assert found["citric"] / found["malic"] == pytest.approx(base["citric"] / base["malic"])
    assert float(titratable_acidity(filled(found.values), "citric")) == pytest.approx(7.0, abs=1e-6)
    assert float(acidity(filled(found.values)).ph) == pytest.approx(2.3, abs=1e-6)
    for kept in ("potassium", "oil_citrus", "glucose"):
        i = INDEX[kept]
        assert found.evidence[i] == base.evidence[i]
        assert found[kept] == base[kept] or math.isnan(base[kept])
    assert found.share == base.share
    assert found.key != base.key


def test_what_a_like_food_lends_is_assumed(catalogue: Catalogue) -> None:
    found = inferred(Own("plum sauce", PLUM_SAUCE, like="plums"), catalogue).ingredient
    plums = catalogue.by_key["09279"]
    total = float(filled(found.values)[[INDEX[s] for s in SUGARS]].sum())
    assert total == pytest.approx(36.0)
    assert found["glucose"] / found["sucrose"] == pytest.approx(plums["glucose"] / plums["sucrose"])
    assert _evidence(found, "glucose") is Evidence.ASSUMED
    assert _evidence(found, "malic") is Evidence.ASSUMED
    assert not any(
        e is Evidence.TABLE or (e is Evidence.MEASURED and math.isnan(found.values[i]))
        for i, e in enumerate(found.evidence)
    )


def test_kind_of_sugar_given(catalogue: Catalogue) -> None:
    milk = Label("EU", per_ml=100, fat_g=3.7, carbohydrate_g=4.7, sugars_g=4.7, protein_g=3.4,
                 salt_g=0.1)  # fmt: skip
    own = Own("milk", milk, sugar="lactose", allergens=("milk",))
    found = inferred(own, catalogue)
    # whole milk weighs 1.03 g/mL (common practice, no source)
    assert found.ingredient["lactose"] == pytest.approx(4.7 / 1.03, rel=0.02)
    assert found.ingredient["other_sugars"] == 0.0
    assert found.ingredient.allergens == ("milk",)
    bare = inferred(Own("milk", milk, allergens=("milk",)), catalogue)
    assert any("lactose" in note for note in bare.notes)


def test_allergens_of_the_food_it_is_like_are_kept(catalogue: Catalogue) -> None:
    """On the safe side: what it is like may be what is in it."""
    found = inferred(Own("my soy sauce", PLUM_SAUCE, like="soy sauce"), catalogue).ingredient
    assert {"soybean", "wheat"} <= set(found.allergens)


def test_document_round_trip(catalogue: Catalogue) -> None:
    for own in (
        Own("plum sauce", PLUM_SAUCE, acidity_pct=1.2, ph=3.2, allergens=("sulphites",)),
        Own("my limes", of="limes", brix=9.0, acidity_pct=6.0),
        Own("syrup", brix=65.0, sugar="sucrose"),
    ):
        stored = json.dumps(own.to_document())
        back = Own.from_document(json.loads(stored))
        assert back == own
        first, second = (inferred(x, catalogue).ingredient for x in (own, back))
        assert filled(first.values) == pytest.approx(filled(second.values))


def test_energy_checks_the_rest(catalogue: Catalogue) -> None:
    """Factors 9, 4, 4 kcal/g (21 CFR 101.9(c)(1), recalled): 100 g of sugar are 400 kcal."""
    sugar = {"form": "EU", "per_g": 100, "carbohydrate_g": 100, "sugars_g": 100, "salt_g": 0}
    right = Label.from_document({**sugar, "energy_kcal": 400})
    wrong = Label.from_document({**sugar, "energy_kcal": 40})
    assert right.notes() == ()
    assert "parts make 400" in wrong.notes()[0]


def test_spirits(catalogue: Catalogue) -> None:
    """40 % by volume is 33.4 % by mass or so (OIML R 22, recalled: 33.30)."""
    spirit = inferred(Own("spirit", Label("EU", per_ml=100, alcohol_pct=40)), catalogue).ingredient
    assert spirit["ethanol"] == pytest.approx(33.3, rel=0.04)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({}, "no serving size"),
        ({"per_g": 0}, "serving size is 0 g"),
        ({"per_g": -15}, "serving size is -15 g"),
        ({"per_g": math.nan}, "serving size is nan"),
        ({"per_g": 100, "per_ml": 100}, "a serving in g and one in mL"),
        ({"per_g": 1e9}, "at most 5000 g"),
        ({"per_g": 100, "fat_g": -1}, "fat on the label is -1 g"),
        ({"per_g": 100, "sodium_mg": math.inf}, "sodium on the label is inf"),
        ({"per_g": 100, "fat_g": "much"}, "fat on the label is 'much'"),
        ({"per_g": 100, "fat_g": 60, "carbohydrate_g": 60}, "add up to 120 g in 100 g"),
        ({"per_g": 15, "carbohydrate_g": 30}, "add up to 200 g in 100 g"),
        ({"per_g": 100, "carbohydrate_g": 10, "sugars_g": 20}, "more than its carbohydrate of 10"),
        ({"per_g": 100, "sodium_mg": 100, "salt_g": 1}, "Keep one"),
        ({"per_g": 100, "form": "XX"}, "Use one of: US, EU"),
        ({"per_ml": 100, "fat_g": 150}, "more than 100 mL holds"),
        ({"per_g": 100, "sweetness": 3}, "unknown field 'sweetness'"),
    ],
)
def test_bad_labels(figures: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput) as refusal:
        Label.from_document(figures)
    assert words in str(refusal.value)


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ([], "a document"),
        ({"name": " ", "brix": 10}, "no name"),
        ({"name": "x" * 100, "brix": 10}, "100 letters"),
        ({"name": "syrup"}, "neither a label nor a reading"),
        ({"name": "syrup", "brix": 200}, "brix reading is 200"),
        ({"name": "syrup", "brix": "65"}, "brix reading is 65"),
        ({"name": "juice", "ph": 14}, "pH is 14"),
        ({"name": "juice", "acidity_pct": 3, "acid": "nitric"}, "No acid is called 'nitric'"),
        ({"name": "juice", "brix": 9, "of": "limes", "like": "lemons"}, "Keep one"),
        ({"name": "juice", "colour": "red"}, "unknown field 'colour'"),
        ({"name": "juice", "brix": 9, "allergens": "milk"}, "no list"),
        ({"name": "juice", "label": 3}, "Give its figures by name"),
    ],
)
def test_bad_documents(document: Any, words: str) -> None:
    with pytest.raises(BadInput) as refusal:
        Own.from_document(document)
    assert words in str(refusal.value)


def test_readings_that_contradict(catalogue: Catalogue) -> None:
    for own, words in (
        (Own("brine", brix=5, salt_pct=20), "reads 5 degrees Brix"),
        (Own("sauce", PLUM_SAUCE, acidity_pct=70), "add up to"),
        (Own("oil", Label("EU", per_g=100, fat_g=100), acidity_pct=0.1, ph=3), "too little"),
    ):
        with pytest.raises(BadInput, match=words):
            inferred(own, catalogue)
    odd = inferred(Own("sauce", PLUM_SAUCE, brix=10), catalogue)
    assert any("refractometer reads 10" in note for note in odd.notes)


def test_shown(catalogue: Catalogue) -> None:
    found = inferred(Own("plum sauce", PLUM_SAUCE, ph=3.2), catalogue)
    text = inferred_text(found)
    assert "copy them from the packet" in text
    assert "measured" in text
    document = inferred_document(found)
    json.dumps(document, allow_nan=False)
    assert set(document["per_100_g"]) <= set(NAMES)
    assert document["per_100_g"]["fat"]["evidence"] == "measured"
