"""Own ingredients: kept by a kitchen, stocked beside the tables, and used like any other food."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from balancer.catalogue import Catalogue, default_catalogue
from balancer.chemistry import acidity
from balancer.composition import NAMES, OWN_SHELF, filled
from balancer.errors import BadInput, NameTaken, NotSaved, UnknownIngredient
from balancer.exclusions import kept_in
from balancer.inferring import inferred
from balancer.kitchen import Kitchen
from balancer.label import Label
from balancer.own import Own, own_key
from balancer.own_kept import Kept, measured, stock, uses
from balancer.packet_allergens import named_allergens
from balancer.parse import parse_draft
from balancer.request import schema, validate
from balancer.safety import cautions
from balancer.safety_picture import Picture, allergens, by_name_only
from balancer.search import find, resolve
from balancer.store import Store
from balancer.titration import titratable_acidity

LIME_JUICE = "09160"
LIMES = Own("my limes", of="lime juice", acidity_pct=7.0, ph=2.3)
PLUM_SAUCE = Label(
    "EU", per_g=100, fat_g=0.2, carbohydrate_g=38, sugars_g=36, protein_g=0.4, salt_g=1.5
)


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    return Kitchen(store_path=tmp_path / "book.db")


def _limeade(name: str = "my limes") -> dict[str, Any]:
    return {
        "yield_g": 500,
        "ingredients": [
            {"name": name, "draft_g": 60},
            {"name": "sugar", "draft_g": 60},
            {"name": "water"},
        ],
        "target": {"sour": 1.0, "sweet": 12.0},
    }


# --- one place for all searches -------------------------------------------------------------------
def test_a_kept_one_is_found_everywhere_and_at_once(kitchen: Kitchen) -> None:
    assert kitchen.own_ingredients() == ()
    before = kitchen.catalogue
    assert kitchen.catalogue is before
    assert not kitchen.store.path.exists(), "reading makes no book"
    with pytest.raises(UnknownIngredient):
        resolve(kitchen.catalogue, "my limes")
    kitchen.save_own(LIMES)
    found = resolve(kitchen.catalogue, "My lime")
    assert found.key == own_key("my limes") == "own-my-lime"
    assert kitchen.catalogue is kitchen.catalogue, "made anew only when something changed"
    assert kitchen.find("my lmies")[0].ingredient is found
    assert kitchen.catalogue.food(found.key) is found
    line = parse_draft("60 g my limes", kitchen.catalogue).lines[0]
    assert line.match is not None
    assert line.match.ingredient is found
    with pytest.raises(UnknownIngredient):
        resolve(default_catalogue(), "my limes")
    outcome = kitchen.solve(_limeade())
    assert outcome.answer["resolved"]["my limes"]["key"] == found.key
    kitchen.save("limeade", outcome)
    assert "my limes" in [line.name for line in kitchen.recipe("limeade").lines]
    assert b"my limes" in kitchen.export("limeade", "markdown").content


def test_a_change_by_another_program_is_seen(kitchen: Kitchen) -> None:
    other = Kitchen(store_path=kitchen.store.path)
    kitchen.save_own(LIMES)
    assert resolve(other.catalogue, "my limes").ph == (2.3, 2.3)
    kitchen.save_own(replace(LIMES, ph=2.5), replace_it=True)
    assert resolve(other.catalogue, "my limes").ph == (2.5, 2.5)
    assert find(other.catalogue, "my limes", 1)[0].ingredient.ph == (2.5, 2.5), "nothing stale"
    kitchen.rename_own("my limes", "limes of the quay")
    assert resolve(other.catalogue, "limes of the quay").key == "own-lime-of-the-quay"
    kitchen.delete_own("limes of the quay")
    with pytest.raises(UnknownIngredient):
        resolve(other.catalogue, "limes of the quay")


def test_a_lot_of_a_food_is_measured_bought_and_thrown_away_like_it(kitchen: Kitchen) -> None:
    kitchen.save_own(Own("my plums", of="plums", brix=14.0))
    kitchen.save_own(Own("plum sauce", PLUM_SAUCE, like="plums"))
    known = kitchen.catalogue
    plums, mine, sauce = (resolve(known, n) for n in ("plums", "my plums", "plum sauce"))
    assert known.measures(mine.key) == known.measures(plums.key) != ()
    assert mine.refuse == plums.refuse
    assert mine.group == plums.group
    assert sauce.group == OWN_SHELF
    assert known.measures(sauce.key) == (), "a cup of sauce weighs not what a cup of plums does"


# --- in place of the pantry's ---------------------------------------------------------------------
def test_for_good_it_answers_to_the_names_of_the_pantry(kitchen: Kitchen) -> None:
    table = default_catalogue().by_key[LIME_JUICE]
    kitchen.save_own(LIMES, takes_place=True)
    known = kitchen.catalogue
    mine = resolve(known, "lime juice")
    for name in ("my limes", "juice of lime", LIME_JUICE, "fresh lime juice"):
        assert resolve(known, name) is mine
    assert (mine.key, mine.name, mine.group) == (LIME_JUICE, table.name, table.group)
    assert float(acidity(filled(mine.values)).ph) == pytest.approx(2.3, abs=1e-6)
    assert float(titratable_acidity(filled(mine.values), "citric")) == pytest.approx(7.0, abs=1e-6)
    assert known.measures(LIME_JUICE) == default_catalogue().measures(LIME_JUICE)
    assert sum(i.key == LIME_JUICE for i in known.everything) == 1
    one, other = (k.solve(_limeade("lime juice")) for k in (kitchen, Kitchen(default_catalogue())))
    ours, theirs = (o.answer["quantities_g"]["lime juice"] for o in (one, other))
    assert ours != pytest.approx(theirs, rel=0.02), "the sauce is made with these limes"
    kitchen.delete_own("my limes")
    assert resolve(kitchen.catalogue, "lime juice").ph == table.ph


def test_it_may_even_be_called_the_same(kitchen: Kitchen) -> None:
    kitchen.save_own(replace(LIMES, name="lime juice"), takes_place=True)
    assert resolve(kitchen.catalogue, "lime juice").ph == (2.3, 2.3)
    kitchen.save_own(Own("my lemons", of="lemon juice", ph=2.4))
    kitchen.save_own(Own("cordial", of="lime juice", brix=40.0))
    assert "rest as in lime juice" in resolve(kitchen.catalogue, "cordial").note


def test_a_place_is_taken_once(kitchen: Kitchen) -> None:
    kitchen.save_own(LIMES, takes_place=True)
    with pytest.raises(BadInput, match="'my limes' takes the place of lime juice already"):
        kitchen.save_own(replace(LIMES, name="other limes"), takes_place=True)
    kitchen.duplicate_own("my limes", "other limes")
    assert not kitchen.own("other limes").takes_place
    kitchen.save_own(LIMES, replace_it=True)
    kitchen.save_own(replace(LIMES, name="other limes"), takes_place=True, replace_it=True)
    assert resolve(kitchen.catalogue, "other limes").key == LIME_JUICE


@pytest.mark.parametrize(
    ("own", "for_good", "says"),
    [
        (Own("syrup", brix=65.0), True, "only a lot of a pantry ingredient"),
        (Own("x", of="Candies, caramels", brix=80.0), True, "is a food of the table"),
        (Own("lime juice", of="limes", ph=2.3), False, "is a name of the pantry already"),
        (Own("lemon juice", of="lime juice", ph=2.3), True, "is a name of the pantry already"),
        (Own("Candies, caramels", brix=80.0), False, "a name of the food table already"),
        (Own("09160", brix=9.0), False, "looks like a food number"),
        (Own("辣椒酱", brix=9.0), False, "holds no Latin letter"),
        (Own("my limes 2", of="my limes", ph=2.4), False, "is one of your own ingredients"),
        (Own("my limes 2", like="MY LIMES", brix=9.0), False, "is one of your own ingredients"),
        (Own("My limes!", brix=9.0), False, "reads the same as your 'my limes'"),
        (Own("x", of="no such food", brix=9.0), False, "No ingredient is called"),
        (Own("brine", brix=5.0, salt_pct=20.0), False, "degrees Brix"),
    ],
)
def test_what_is_refused_is_not_kept(kitchen: Kitchen, own: Own, for_good: bool, says: str) -> None:
    kitchen.save_own(LIMES)
    with pytest.raises(BadInput, match=says):
        kitchen.save_own(own, takes_place=for_good)
    assert [i.name for i in kitchen.own_ingredients()] == ["my limes"]


# --- change, rename, delete -----------------------------------------------------------------------
def test_every_revision_stays(kitchen: Kitchen) -> None:
    kitchen.save_own(LIMES)
    with pytest.raises(NameTaken):
        kitchen.save_own(LIMES)
    kitchen.save_own(replace(LIMES, ph=2.6), replace_it=True)
    assert kitchen.own("my limes").own.ph == 2.6
    assert kitchen.own("my limes", 1) == Kept(LIMES)
    with pytest.raises(NotSaved, match="No ingredient is called 'limes of mine'"):
        kitchen.own("limes of mine")


def test_one_that_a_recipe_uses_cannot_go(kitchen: Kitchen) -> None:
    kitchen.save_own(LIMES)
    assert kitchen.used_by("my limes") == ()
    kitchen.save("limeade", kitchen.solve(_limeade("My Limes")))
    kitchen.save("tonic", kitchen.solve(_limeade("my lime")))
    assert kitchen.used_by("my limes") == ("limeade", "tonic")
    for act in (
        lambda: kitchen.delete_own("my limes"),
        lambda: kitchen.rename_own("my limes", "limes of the quay"),
        lambda: kitchen.save_own(LIMES, takes_place=True, replace_it=True),
    ):
        with pytest.raises(BadInput, match="the recipes 'limeade', 'tonic'"):
            act()
    assert resolve(kitchen.catalogue, "my limes").key == "own-my-lime"
    for name in ("limeade", "tonic"):  # only the last revision counts
        kitchen.save(name, kitchen.solve(_limeade("lime juice")), replace_it=True)
    kitchen.delete_own("my limes")
    old = kitchen.recipe("limeade", 1)
    assert "My Limes" in [line.name for line in old.lines], "an older revision is read all the same"
    assert old.unread == ("My Limes",), "and says whose allergens nobody looked up"


def test_one_in_a_place_goes_unless_its_own_name_is_used(kitchen: Kitchen) -> None:
    kitchen.save_own(LIMES, takes_place=True)
    kitchen.save("limeade", kitchen.solve(_limeade("lime juice")))
    assert kitchen.used_by("my limes") == ()
    kitchen.save("tonic", kitchen.solve(_limeade("my limes")))
    with pytest.raises(BadInput, match="'my limes' is used by the recipe 'tonic'"):
        kitchen.delete_own("my limes")
    kitchen.store.delete_recipe("tonic")
    kitchen.delete_own("my limes")
    assert kitchen.solve(_limeade("lime juice")).solution.has_quantities


@pytest.mark.parametrize(
    "document",
    [{}, [], {"request": 3}, {"request": {"ingredients": 3}}, {"request": {"ingredients": [3]}},
     {"answer": {"resolved": 3}}, {"answer": {"resolved": {"x": 3}}}],
)  # fmt: skip
def test_a_damaged_recipe_uses_nothing(document: Any) -> None:
    assert not uses(document, "my limes", "own-my-lime")


# --- what is damaged ------------------------------------------------------------------------------
def test_a_damaged_one_does_not_take_the_others_down(kitchen: Kitchen) -> None:
    kitchen.save_own(LIMES, takes_place=True)
    store = Store(kitchen.store.path)
    store.save_ingredient("bottle", {"brix": "sweet"})
    store.save_ingredient("lost", {"of": "a fruit of yesterday", "brix": 9.0})
    store.save_ingredient("my limes (2)", kitchen.own("my limes").to_document())
    store.save_ingredient("lime juice", {"brix": 9.0})
    known = kitchen.catalogue
    assert [i.key for i in known.own] == [LIME_JUICE, "own-my-lime-2"]
    told = kitchen.told
    assert "'bottle' is left out" in told
    assert "'lost' is left out: No ingredient is called" in told
    assert "'lime juice' is left out" in told
    assert "'my limes (2)' stands beside lime juice" in told
    troubles = {i.name: i.trouble for i in kitchen.own_ingredients()}
    assert "brix" in troubles["bottle"]
    assert troubles["my limes"] == ""
    kitchen.delete_own("bottle")
    kitchen.rename_own("my limes (2)", "second limes")
    assert kitchen.catalogue is not known
    assert "bottle" not in kitchen.told


def test_a_book_that_cannot_be_read_leaves_the_tables(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    path.write_text("not a database at all, only words " * 50, encoding="utf-8")
    kitchen = Kitchen(store_path=path)
    assert resolve(kitchen.catalogue, "lime juice").key == LIME_JUICE
    assert kitchen.catalogue is kitchen.catalogue
    assert "is not a database" in kitchen.told
    assert kitchen.told.startswith("Your own ingredients are left out.")
    path.unlink()


def test_an_old_book_is_stocked_too(tmp_path: Path) -> None:
    source = Path(__file__).parent / "fixtures" / "kitchen_book_v1.db"
    path = tmp_path / "kitchen_book.db"
    path.write_bytes(source.read_bytes())
    kitchen = Kitchen(store_path=path)
    kitchen.save_own(LIMES)
    assert resolve(kitchen.catalogue, "my limes").ph == (2.3, 2.3)
    assert "a copy of it" in kitchen.told


# --- documents ------------------------------------------------------------------------------------
def test_documents_go_round() -> None:
    for kept in (
        Kept(LIMES, True),
        Kept(Own("plum sauce", PLUM_SAUCE, like="plums", allergens=("soy",))),
        Kept(Own("syrup", brix=65.0, sugar="sucrose")),
    ):
        document = json.loads(json.dumps(kept.to_document()))
        assert "name" not in document
        assert Kept.from_document(kept.own.name, document) == kept
    for document, says in (
        ([], "a document"),
        ({"brix": 9, "takes_place": "yes"}, "Give true or false"),
        ({"brix": 9, "takes_place": True}, "only a lot"),
        ({"brix": 9, "name": "other"}, "another name"),
        ({}, "neither a label nor a reading"),
    ):
        with pytest.raises(BadInput, match=says):
            Kept.from_document("syrup", document)


def test_the_whole_book_carries_them(kitchen: Kitchen, tmp_path: Path) -> None:
    kitchen.save_own(LIMES, takes_place=True)
    other = Kitchen(store_path=tmp_path / "other.db")
    got = other.take_in(json.dumps(kitchen.everything()))
    assert got.ingredients == 1
    assert resolve(other.catalogue, "lime juice").ph == (2.3, 2.3)


# --- cautions follow the food that it is ----------------------------------------------------------
def test_cautions_of_the_food_it_is_like_are_given(catalogue: Catalogue) -> None:
    """A lot of garlic in oil is garlic in oil, whatever the cook calls it (FDA Food Code 2017,
    1-201.10: garlic-in-oil mixtures need time and temperature control)."""
    bulbs = inferred(Own("bulbs of the quay", of="garlic", brix=30.0), catalogue).ingredient
    paste = inferred(Own("jar", PLUM_SAUCE, like="garlic"), catalogue).ingredient
    garlic, oil = (resolve(catalogue, n) for n in ("garlic", "olive oil"))

    def rules(food: Any) -> set[str]:
        grams = np.array([10.0, 90.0])
        blend = (grams @ np.stack([filled(i.values) for i in (food, oil)])) / 100.0
        return {c.rule for c in cautions(Picture((food, oil), grams, blend, 100.0))}

    assert any("oil" in rule for rule in rules(garlic))
    assert rules(bulbs) >= rules(garlic)
    assert rules(paste) >= {rule for rule in rules(garlic) if "oil" in rule}


def test_allergens_by_the_words_of_a_packet(catalogue: Catalogue) -> None:
    assert named_allergens(["Soya", "GLUTEN", "Eggs", "milk", "prawns", "E 999"]) == (
        "soybean", "wheat", "barley, rye and oats", "egg", "milk", "crustaceans", "E 999",
    )  # fmt: skip
    bottle = inferred(Own("bottle", PLUM_SAUCE, allergens=("soya",)), catalogue).ingredient
    nutty = inferred(Own("jar", PLUM_SAUCE, like="walnuts"), catalogue).ingredient
    plain_one = inferred(Own("jar", PLUM_SAUCE, like="plums"), catalogue).ingredient
    found = allergens(Picture((bottle, nutty), np.array([50.0, 50.0]), np.zeros(len(NAMES)), 100.0))
    assert {a.name for a in found} == {"soybean", "tree nuts"}
    assert list(kept_in([bottle, nutty, plain_one], ["no soy"])) == [False, True, True]
    assert list(kept_in([bottle, nutty, plain_one], ["nuts"])) == [True, False, True]
    assert by_name_only(plain_one), "nobody read its packet"
    assert not by_name_only(bottle)


# --- for today ------------------------------------------------------------------------------------
def test_measured_today_changes_this_sauce_only(kitchen: Kitchen) -> None:
    request = _limeade("lime juice")
    usual = kitchen.solve(request).answer["quantities_g"]["lime juice"]
    request["ingredients"][0]["measured"] = {"acidity_pct": 3.0, "ph": 2.6}
    outcome = kitchen.solve(request)
    assert outcome.answer["resolved"]["lime juice"]["key"] == LIME_JUICE
    assert outcome.answer["quantities_g"]["lime juice"] > 1.5 * usual
    lime = outcome.problem.uses[0].ingredient
    assert float(titratable_acidity(filled(lime.values), "citric")) == pytest.approx(3.0, abs=1e-6)
    assert lime.note.startswith("As measured for this sauce.")
    assert kitchen.solve(_limeade("lime juice")).answer["quantities_g"]["lime juice"] == usual
    kitchen.save("limeade", outcome)
    assert kitchen.recipe("limeade").lines[0].key


def test_measured_keeps_what_was_not_read(catalogue: Catalogue) -> None:
    lime = catalogue.by_key[LIME_JUICE]
    found = measured(lime, {"salt_pct": 1.0}, catalogue)
    assert (found.key, found.name, found.synonyms, found.share) == (
        lime.key, lime.name, lime.synonyms, lime.share,
    )  # fmt: skip
    assert found["citric"] == lime["citric"]
    assert found["sodium"] == pytest.approx(1000.0 / 2.5421, rel=1e-3)
    table_food = catalogue.table[0]
    assert measured(table_food, {"salt_pct": 1.0}, catalogue).key == table_food.key


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ({}, "neither a label nor a reading"),
        ([], "neither a label nor a reading"),
        ({"name": "x", "ph": 3.0}, "the field 'name'"),
        ({"of": "limes", "ph": 3.0}, "the field 'of'"),
        ({"allergens": ["milk"], "ph": 3.0}, "the field 'allergens'"),
        ({"ph": 30.0}, "pH is 30"),
        ({"colour": "green"}, "unknown field"),
    ],
)
def test_measured_refuses(catalogue: Catalogue, document: Any, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        measured(catalogue.by_key[LIME_JUICE], document, catalogue)


def test_the_schema_knows_what_is_measured() -> None:
    request = _limeade("lime juice")
    request["ingredients"][0]["measured"] = {
        "ph": 2.4, "acidity_pct": 6.0, "brix": 9.0, "salt_pct": 0.0, "acid": "citric",
        "sugar": "glucose", "label": {"form": "EU", "per_g": 100},
    }  # fmt: skip
    validate(request)
    known = set(schema("request")["$defs"]["measured"]["properties"])
    assert known == set(Own.__dataclass_fields__) - {"name", "of", "like", "allergens"}
    for wrong in ({}, {"ph": "sour"}, {"colour": 1}, {"label": {}}, {"brix": -1}):
        request["ingredients"][0]["measured"] = wrong
        with pytest.raises(BadInput, match="measured"):
            validate(request)


def test_stock_by_name(catalogue: Catalogue) -> None:
    found = stock([("a jar", {"brix": 9.0}), ("A  Jar", {"brix": 10.0})], catalogue)
    assert len(found.ingredients) == 1
    assert "reads the same as your 'a jar'" in found.told[0]
