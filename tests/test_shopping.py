"""From edible grams to what lies on the counter."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from balancer.catalogue import Catalogue
from balancer.cli.handing import shop
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.kitchen import Kitchen
from balancer.shopping import (
    Need,
    Pack,
    as_purchased,
    fruit_for_juice,
    needs_of,
    read_pack,
    shopping_list,
)

DATA = Path(__file__).parent.parent / "data"


def bought(catalogue: Catalogue, name: str, edible_g: float, **given: Any) -> Any:
    key = next(f.key for f in catalogue.pantry if f.name == name)
    needs = [Need("sauce", name, key, edible_g)]
    return shopping_list(catalogue, needs, {"sauce": 500.0}, **given).items[0]


@pytest.mark.parametrize(
    ("juice", "fruit", "juice_g", "whole_g"),
    [
        # USDA SR28: a lemon yields 48 g of juice; 58 g edible at 47 % refuse weigh 109.4 g
        ("lemon juice", "lemon", 48.0, 58 / 0.53),
        # a lime yields 44 g; 67 g edible at 16 % refuse
        ("lime juice", "lime", 44.0, 67 / 0.84),
        # a fruit yields 86 g
        ("orange juice", "orange", 86.0, None),
    ],
)
def test_juice_is_bought_as_fruit(
    catalogue: Catalogue, juice: str, fruit: str, juice_g: float, whole_g: float | None
) -> None:
    key = next(f.key for f in catalogue.pantry if f.name == juice)
    found = fruit_for_juice(catalogue, key)
    assert found is not None
    assert found[1:] == (fruit, juice_g)
    two = bought(catalogue, juice, 2 * juice_g)
    assert two.count == f"2 {fruit}s"
    assert bought(catalogue, juice, 2 * juice_g + 1).count == f"3 {fruit}s"
    assert bought(catalogue, juice, 1.0).count == f"1 {fruit}"
    if whole_g is not None:
        assert two.buy_g == pytest.approx(2 * whole_g)


def test_bottled_juice_is_not_pressed(catalogue: Catalogue) -> None:
    assert bought(catalogue, "bottled lemon juice", 96.0).count == ""


def test_refuse_as_printed(catalogue: Catalogue) -> None:
    """USDA SR28, refuse column of every pantry food: edible is purchased less refuse."""
    with (DATA / "foods.csv").open(encoding="utf-8", newline="") as file:
        refuse = {r["ndb"]: r["refuse_pct"] for r in csv.DictReader(file)}
    checked = 0
    for food in catalogue.pantry:
        printed = refuse.get(food.key, "")
        if printed and food.refuse * 100 == pytest.approx(float(printed)):
            purchased = as_purchased(100.0, food.refuse)
            assert purchased * (1 - float(printed) / 100) == pytest.approx(100.0)
            checked += float(printed) > 0
    assert checked >= 40


@pytest.mark.parametrize(
    ("name", "edible_g", "purchased_g", "count"),
    [
        ("plums", 380.0, 380 / 0.94, "6 whole"),  # 6 % refuse, one fruit 66 g
        ("walnuts", 110.0, 110.0, ""),  # bought shelled
        ("coconut meat", 200.0, 200 / 0.52, "1 medium"),  # 48 % refuse, one 397 g: bought whole
        ("garlic", 8.7, 10.0, "3 cloves"),  # 13 % refuse, a clove 3 g
        ("pineapple", 600.0, 600 / 0.51, "1 whole"),  # 49 % refuse, one fruit 905 g
    ],
)
def test_worked_examples(
    catalogue: Catalogue, name: str, edible_g: float, purchased_g: float, count: str
) -> None:
    """Figures of USDA SR28 worked by hand."""
    item = bought(catalogue, name, edible_g)
    assert item.purchased_g == pytest.approx(purchased_g)
    assert item.count == count
    assert item.buy_g >= purchased_g - 1e-9


def test_nuts_are_bought_shelled(catalogue: Catalogue) -> None:
    """USDA SR28 prints 55 % refuse for walnuts: 58.5 g eaten weigh 130 g with their shells on."""
    item = bought(catalogue, "walnuts", 58.5)
    assert item.sentence() == "walnuts: 58.5 g; shelled; in the shell 130 g"
    some = bought(catalogue, "walnuts", 58.5, have_g={"walnuts": 40.0})
    assert some.buy_g == pytest.approx(18.5)
    assert some.note == f"shelled; in the shell {18.5 / 0.45:.3g} g"
    assert bought(catalogue, "walnuts", 58.5, have_g={"walnuts": 60.0}).note == ""


def test_several_recipes_add_up(catalogue: Catalogue) -> None:
    needs = [
        Need("dip", "sugar", "19335", 100.0),
        Need("chutney", "white sugar", "19335", 130.0),
        Need("dip", "water", "14411", 400.0),
        Need("chutney", "garlic", "11215", 6.0),
    ]
    found = shopping_list(catalogue, needs, {"dip": 500.0, "chutney": 700.0})
    assert [i.name for i in found.items] == ["garlic", "sugar"], "tap water is not bought"
    sugar = found.items[1]
    assert sugar.buy_g == pytest.approx(230.0)
    assert sugar.recipes == ("dip", "chutney")
    assert set(found.by_aisle()) == {"allium", "sweet"}


def test_the_pantry_is_taken_off(catalogue: Catalogue) -> None:
    assert bought(catalogue, "sugar", 300.0, have_g={"Sugar": 120.0}).buy_g == pytest.approx(180.0)
    none = bought(catalogue, "sugar", 300.0, have_g={"sugar": 500.0})
    assert none.buy_g == 0.0
    assert "nothing to buy" in none.sentence()
    # stock is weighed as purchased: 94 g of plums are 100 g on the counter
    assert bought(catalogue, "plums", 94.0, have_g={"plums": 60.0}).buy_g == pytest.approx(40.0)


def test_packs_and_costs(catalogue: Catalogue) -> None:
    needs = [
        Need("dip", "plums", "09279", 940.0),
        Need("dip", "salt", "02047", 5.0),
        Need("jam", "plums", "09279", 470.0),
    ]
    found = shopping_list(
        catalogue, needs, {"dip": 1000.0, "jam": 400.0}, packs={"plums": Pack(3.0, 1000.0)}
    )
    plums = next(i for i in found.items if i.key == "09279")
    assert (plums.packs, plums.spent) == (2, 6.0)  # 1500 g as purchased
    assert found.used_by_recipe == pytest.approx({"dip": 3.0, "jam": 1.5})
    assert found.cost_per_serving("dip", 50.0) == pytest.approx(0.15)
    assert found.unpriced == ("salt",)
    text = " ".join(found.sentences(50.0))
    assert "Packs cost 6.00; what goes in costs 4.50." in text
    assert "0.150 a serving of 50 g" in text
    assert "No price for salt: the cost is at least this." in text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"have_g": {"tofu": 3.0}}, "'tofu' is in none of these recipes"),
        ({"have_g": {"plums": -3.0}}, "There is -3 g of plums"),
        ({"packs": {"tofu": Pack(1.0, 1.0)}}, "'tofu' is in none"),
    ],
)
def test_refusals(catalogue: Catalogue, given: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        bought(catalogue, "plums", 100.0, **given)


@pytest.mark.parametrize("text", ["", "3", "x/1000", "3/", "3/0", "-1/5", "nan/5", "3/inf"])
def test_bad_prices(text: str) -> None:
    with pytest.raises(BadInput):
        read_pack(text)


def test_no_quantities() -> None:
    with pytest.raises(BadInput, match="'dip' has no quantities"):
        needs_of("dip", {"quantities_g": {}})


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    place = Kitchen()
    for name, request in house_sauces().items():
        place.save(name, place.solve(request))
    one = [*sorted(house_sauces()), "--have", "salt=500", "--price", "plums=3.2/1000"]
    shown = CliRunner().invoke(shop, one, catch_exceptions=False).output
    assert "salt: nothing to buy, 500 g is there" in shown
    assert "plums:" in shown
    assert "1 pack, 3.20" in shown
    # twice the dip is two batches
    twice = CliRunner().invoke(shop, ["plum-ginger-dip"] * 2, catch_exceptions=False).output
    grams = place.saved("plum-ginger-dip")["answer"]["quantities_g"]["brown sugar"]
    assert f"brown sugar: {2 * grams:.0f} g" in twice
