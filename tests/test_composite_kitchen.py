"""A saved sauce as an ingredient of another one, from the request to the shopping list."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from balancer.catalogue import default_catalogue
from balancer.errors import BadInput, NotSaved
from balancer.kitchen import Kitchen
from balancer.shopping import base_needs, shopping_list

MIX: dict[str, Any] = {
    "ingredients": [
        {"name": "fennel seed", "locked_g": 30.0},
        {"name": "mustard seed", "locked_g": 20.0},
        {"name": "salt", "locked_g": 50.0},
    ]
}
#: Garlic steeped in oil, with the cloves taken out: what stays is oil with a trace of garlic.
OIL: dict[str, Any] = {
    "ingredients": [
        {"name": "olive oil", "locked_g": 95.0},
        {"name": "garlic", "locked_g": 15.0, "taken_out": True},
    ]
}


def sauce(**more: Any) -> dict[str, Any]:
    return {
        "ingredients": [
            {"name": "plums", "draft_g": 400.0},
            {"name": "sugar", "draft_g": 60.0},
            {"name": "rice vinegar", "draft_g": 60.0},
            {"name": "fennel seed", "locked_g": 1.1},
            {"name": "the mix", "recipe": "spice mix", "draft_g": 10.0},
        ],
        "target": {"sour": 1.2, "sweet": 14.0, "salt": 1.0},
        "yield_g": 530.0,
        **more,
    }


@pytest.fixture
def kitchen(tmp_path: Path) -> Kitchen:
    place = Kitchen(default_catalogue(), tmp_path / "book.db")
    place.save("spice mix", place.solve(MIX))
    place.save("steeped oil", place.solve(OIL))
    return place


def test_solved_as_if_written_out(kitchen: Kitchen) -> None:
    """The levels are those of the same grams with the mix written out."""
    outcome = kitchen.solve(sauce())
    grams = dict(outcome.answer["quantities_g"])
    of_mix = grams.pop("the mix")
    assert of_mix > 0
    grams["fennel seed"] += 0.3 * of_mix
    grams |= {"mustard seed": 0.2 * of_mix, "salt": 0.5 * of_mix}
    locked = [{"name": n, "locked_g": g} for n, g in grams.items()]
    plain = kitchen.solve({"ingredients": locked})
    assert outcome.solution.levels == pytest.approx(plain.solution.levels, rel=1e-4, abs=1e-6)
    (told,) = [n for n in outcome.answer["notes"] if "fennel seed twice" in n]
    assert f"{0.3 * of_mix:.1f} g in spice mix, 1.1 g on its own" in told
    assert outcome.answer["resolved"]["the mix"]["key"] == "recipe-spice-mix"


def test_the_whole_loop_takes_it(kitchen: Kitchen) -> None:
    kitchen.save("dip", kitchen.solve(sauce()))
    tasting = kitchen.taste("dip", "a touch less sour, more salt", made_g={"the mix": 12.0})
    assert tasting.nudge.next_batch.answer["quantities_g"]["the mix"] > 12.0
    page = kitchen.export("dip", "markdown")
    text = page.content if isinstance(page.content, str) else page.content.decode()
    assert "the mix" in text
    assert "mustard" in text.casefold()  # an allergen of the European list, inside the mix


def test_cautions_see_through_it(kitchen: Kitchen) -> None:
    """Garlic in oil is a caution of the sauce that takes the oil, steeped or not."""
    raw = {
        "ingredients": [
            {"name": "olive oil", "locked_g": 90.0},
            {"name": "garlic", "locked_g": 10.0},
        ]
    }
    kitchen.save("garlic oil", kitchen.solve(raw))
    direct = kitchen.solve(raw).answer["cautions"]
    through = kitchen.solve(
        {"ingredients": [{"name": "base", "recipe": "garlic oil", "locked_g": 100.0}]}
    ).answer["cautions"]
    assert any("garlic" in c.casefold() for c in direct)
    # the band of pH is that of the oil by itself
    assert [re.sub(r"pH may reach [\d.]+", "", c) for c in through] == [
        re.sub(r"pH may reach [\d.]+", "", c) for c in direct
    ]


def test_its_ph_is_that_of_the_sauce_by_itself(kitchen: Kitchen) -> None:
    """Made alone, a saved sauce has the pH that it was saved with; sharper than either end."""
    sour = {
        "ingredients": [
            {"name": "plums", "locked_g": 300.0},
            {"name": "lime juice", "locked_g": 30.0},
            {"name": "sugar", "locked_g": 40.0},
        ],
        "water_lost_g": 60.0,
    }
    first = kitchen.solve(sour)
    kitchen.save("base", first)
    again = kitchen.solve({"ingredients": [{"name": "b", "recipe": "base", "locked_g": 200.0}]})
    for end in ("value", "low", "high"):
        assert again.answer["ph"][end] == pytest.approx(first.answer["ph"][end], abs=0.12), end
    assert again.answer["brix"] == pytest.approx(first.answer["brix"], abs=0.2)
    assert again.answer["acidity_pct_citric"] == pytest.approx(
        first.answer["acidity_pct_citric"], rel=0.01
    )


def test_steeped_parts_keep_their_treatment(kitchen: Kitchen) -> None:
    """What was taken out of the inner sauce is not in the outer one."""
    inner = kitchen.solve(OIL)
    outer = kitchen.solve(
        {"ingredients": [{"name": "oil", "recipe": "steeped oil", "locked_g": 50.0}]}
    )
    assert outer.solution.levels == pytest.approx(inner.solution.levels, rel=1e-4, abs=1e-6)
    opened = kitchen.opened_up(
        {"ingredients": [{"name": "oil", "recipe": "steeped oil", "locked_g": 50.0}]}
    )
    garlic = next(e for e in opened["ingredients"] if e["name"] == "garlic")
    assert garlic["taken_out"] is True
    made_g = inner.answer["final_mass_g"]
    assert garlic["draft_g"] == pytest.approx(15.0 * 50.0 / made_g, rel=1e-5)
    clash = {"ingredients": [*opened["ingredients"], {"name": "dip", "recipe": "garlic paste",
                                                       "draft_g": 5.0}]}  # fmt: skip
    paste = {"ingredients": [{"name": "garlic", "locked_g": 10.0}]}
    kitchen.save("garlic paste", kitchen.solve(paste))
    with pytest.raises(BadInput, match="treated differently"):
        kitchen.opened_up(clash)


def test_circles_are_refused_when_saving(kitchen: Kitchen) -> None:
    kitchen.save("dip", kitchen.solve(sauce()))
    round_about = {
        "ingredients": [
            {"name": "dip", "recipe": "dip", "locked_g": 5.0},
            {"name": "salt", "locked_g": 50.0},
        ]
    }
    outcome = kitchen.solve(round_about)
    with pytest.raises(BadInput, match="spice mix > dip > spice mix"):
        kitchen.save("spice mix", outcome, replace_it=True)
    assert kitchen.store.recipe("spice mix").revision == 1


def test_used_recipes_stay(kitchen: Kitchen) -> None:
    kitchen.save("dip", kitchen.solve(sauce()))
    for act in (
        lambda: kitchen.delete_recipe("spice mix"),
        lambda: kitchen.rename_recipe("spice mix", "house mix"),
    ):
        with pytest.raises(BadInput, match="'spice mix' is an ingredient of 'dip'"):
            act()
    kitchen.delete_recipe("dip")
    kitchen.rename_recipe("spice mix", "house mix")
    with pytest.raises(NotSaved):
        kitchen.solve(sauce())


def test_totals(kitchen: Kitchen) -> None:
    kitchen.save("dip", kitchen.solve(sauce()))
    found = kitchen.totals("dip")
    assert sum(p.grams for p in found.parts) == pytest.approx(530.0, rel=1e-5)
    assert any("fennel seed twice" in s for s in found.entering_more_than_once)


def test_a_recipe_has_no_strength(kitchen: Kitchen) -> None:
    entry = {"name": "mix", "recipe": "spice mix", "locked_g": 1.0, "strength": {"acetic_pct": 5}}
    with pytest.raises(BadInput, match="no label"):
        kitchen.solve({"ingredients": [entry]})


def test_shopping_sees_through_it(kitchen: Kitchen) -> None:
    """Fennel seed is one line: what the mix takes and what goes in by itself."""
    outcome = kitchen.solve(sauce())
    kitchen.save("dip", outcome)
    needs = base_needs("dip", kitchen.saved("dip"), kitchen.catalogue, 2.0)
    found = shopping_list(kitchen.catalogue, needs, {"dip": 1060.0})
    of_mix = outcome.answer["quantities_g"]["the mix"]
    edible = {i.name: i.edible_g for i in found.items}
    assert edible["fennel seed"] == pytest.approx(2 * (1.1 + 0.3 * of_mix), rel=1e-4)
    assert edible["salt"] == pytest.approx(2 * 0.5 * of_mix, rel=1e-4)
    assert "the mix" not in edible
