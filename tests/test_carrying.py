"""A recipe with what it is made from, carried to another kitchen in its record."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from balancer.catalogue import default_catalogue
from balancer.errors import BadInput, NameTaken
from balancer.kitchen import Kitchen
from balancer.own import Own

MIX = {"ingredients": [{"name": "fennel seed", "locked_g": 30}, {"name": "salt", "locked_g": 70}]}
BASE = {
    "ingredients": [
        {"name": "plums", "locked_g": 300},
        {"name": "quay limes", "locked_g": 20},
        {"name": "mix", "recipe": "fish spice", "locked_g": 5},
    ]
}
DIP = {
    "ingredients": [
        {"name": "the base", "recipe": "plum base", "locked_g": 200},
        {"name": "honey", "locked_g": 10},
    ]
}


@pytest.fixture
def home(tmp_path: Path) -> Kitchen:
    kitchen = Kitchen(default_catalogue(), tmp_path / "home.db")
    kitchen.save_own(Own("quay limes", of="lime juice", ph=2.3, acidity_pct=7.0))
    kitchen.save_own(Own("unused syrup", brix=60.0))
    for name, request in (("fish spice", MIX), ("plum base", BASE), ("dip", DIP)):
        kitchen.save(name, kitchen.solve(request))
    return kitchen


@pytest.fixture
def away(tmp_path: Path) -> Kitchen:
    return Kitchen(default_catalogue(), tmp_path / "away.db")


def carried(home: Kitchen) -> str:
    content = home.export("dip", "json").content
    return content if isinstance(content, str) else content.decode()


def test_it_tastes_the_same_in_the_other_kitchen(home: Kitchen, away: Kitchen) -> None:
    text = carried(home)
    needs = json.loads(text)["needs"]
    assert set(needs["recipes"]) == {"plum base", "fish spice"}
    assert set(needs["ingredients"]) == {"quay limes"}
    record = away.brought(text).record
    assert record is not None
    said = away.keep_record(record)
    assert len(said) == 4
    assert away.saved("dip") == home.saved("dip")
    here, there = (k.solve(k.saved("dip")["request"]).solution.levels for k in (home, away))
    assert there == pytest.approx(here)
    assert "needs" not in away.saved("dip")


def test_nothing_here_is_changed(home: Kitchen, away: Kitchen) -> None:
    away.save("fish spice", away.solve({"ingredients": [{"name": "cumin", "locked_g": 9}]}))
    away.save_own(Own("quay limes", of="lime juice", ph=2.6, acidity_pct=5.0))
    before = away.saved("fish spice"), away.own("quay limes")
    record = away.brought(carried(home)).record
    assert record is not None
    said = " ".join(away.keep_record(record))
    assert "The sauce 'fish spice' is another one here" in said
    assert "The ingredient 'quay limes' is another one here" in said
    assert (away.saved("fish spice"), away.own("quay limes")) == before
    with pytest.raises(NameTaken):
        away.keep_record(record)


@pytest.mark.parametrize("needs", [[], {"recipes": [1]}, {"ingredients": {"x": 3}}, "all of it"])
def test_damaged_needs_keep_nothing(home: Kitchen, away: Kitchen, needs: object) -> None:
    document = {**json.loads(carried(home)), "needs": needs}
    record = away.brought(json.dumps(document)).record
    assert record is not None
    with pytest.raises(BadInput, match="cannot be read"):
        away.keep_record(record)
    assert not away.store.recipes()


def test_a_plain_recipe_carries_nothing(home: Kitchen) -> None:
    content = home.export("fish spice", "json").content
    text = content if isinstance(content, str) else content.decode()
    assert "needs" not in json.loads(text)


@pytest.mark.parametrize(
    "sauce", [{}, {"request": 5}, {"request": {"ingredients": [5]}, "answer": 3}]
)
def test_a_damaged_sauce_in_a_record_is_refused_before_anything_is_kept(
    home: Kitchen, away: Kitchen, sauce: object
) -> None:
    document = json.loads(carried(home))
    document["needs"]["recipes"]["fish spice"] = sauce
    record = away.brought(json.dumps(document)).record
    assert record is not None
    with pytest.raises(BadInput, match="damaged"):
        away.keep_record(record)
    assert not away.store.recipes()


def test_a_damaged_recipe_in_a_book_stands_in_the_way_of_no_other(home: Kitchen) -> None:
    revision = {"number": 1, "saved_at": "2026-05-01T10:00:00+00:00"}
    revision["document"] = {"request": {"ingredients": [5]}, "answer": 3}
    book = home.everything()
    book["recipes"] = [{"name": "wreck", "revisions": [revision], "rounds": []}]
    home.take_in(json.dumps(book))
    home.rename_recipe("dip", "pier dip")
    home.delete_recipe("pier dip")
    for use in (home.saved, home.recipe, home.as_made, home.levels_of):
        with pytest.raises(BadInput, match="damaged"):
            use("wreck")
