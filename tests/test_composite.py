"""Recipes inside recipes: expanded, in their own ratio, opened up."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.catalogue import Catalogue, default_catalogue
from balancer.composite import expand, opened
from balancer.composite_vector import as_ingredient
from balancer.composition import INDEX, Evidence, filled, matrix
from balancer.errors import BadInput, NotSaved
from balancer.outcome import outcome_of
from balancer.request import problem_from
from balancer.taste import levels as levels_of


def saved(quantities: dict[str, float], lost_g: float = 0.0, **more: Any) -> dict[str, Any]:
    """A saved recipe; a name that begins with @ is a recipe."""
    entries = [
        {"name": n.lstrip("@"), **({"recipe": n[1:]} if n.startswith("@") else {}), **more}
        for n in quantities
    ]
    grams = {n.lstrip("@"): g for n, g in quantities.items()}
    return {
        "request": {"ingredients": entries, "water_lost_g": lost_g},
        "answer": {"quantities_g": grams, "final_mass_g": sum(grams.values()) - lost_g},
    }


def shelf(**recipes: dict[str, Any]) -> Catalogue:
    """The tables with recipes beside them; an underscore in a name is a space."""
    kept = {name.replace("_", " "): document for name, document in recipes.items()}

    def load(name: str) -> dict[str, Any]:
        if name not in kept:
            raise NotSaved(f"No recipe {name!r} is saved. `balancer recipes` lists them.")
        return kept[name]

    return default_catalogue().stocked(recipes=load)


SPICE_MIX = saved({"fennel seed": 30.0, "cumin": 20.0, "salt": 50.0})


def test_base_ingredient_totals() -> None:
    sauce = saved({"@spice mix": 10.0, "fennel seed": 1.1, "tomatoes": 500.0})
    found = expand(sauce, shelf(spice_mix=SPICE_MIX))
    assert found.entering_more_than_once == (
        "fennel seed twice: 3.0 g in spice mix, 1.1 g on its own",
    )
    totals = {t.ingredient.name: t.grams for t in found.totals}
    expected = {"fennel seed": 4.1, "cumin": 2.0, "salt": 5.0, "tomatoes": 500.0}
    assert totals == pytest.approx(expected)


def test_depth_and_water() -> None:
    """Half of a reduced sauce brings half of what went into it, water that left included."""
    load = shelf(
        reduction=saved({"tomatoes": 800.0, "sugar": 200.0}, lost_g=400.0),
        middle=saved({"@reduction": 300.0, "salt": 10.0}),
    )
    found = expand(saved({"@middle": 155.0, "water": 45.0}), load)
    totals = {t.ingredient.name: t.grams for t in found.totals}
    assert totals == pytest.approx({"tomatoes": 200.0, "sugar": 50.0, "salt": 5.0, "water": 45.0})
    assert found.water_lost_g == pytest.approx(100.0)
    assert found.yield_g == pytest.approx(200.0)
    assert sum(totals.values()) - found.water_lost_g == pytest.approx(found.yield_g)
    assert {p.path for p in found.parts} == {("middle", "reduction"), ("middle",), ()}


def test_circles_are_refused_with_their_path() -> None:
    load = shelf(
        a=saved({"@b": 10.0, "salt": 1.0}),
        b=saved({"@c": 10.0}),
        c=saved({"@a": 10.0, "sugar": 1.0}),
        self_made=saved({"@self made": 1.0, "salt": 1.0}),
    )
    for start, path in (("a", "a > b > c > a"), ("self made", "self made > self made")):
        with pytest.raises(BadInput, match=path):
            expand(load.recipe(start), load, start)
        with pytest.raises(BadInput, match=path):
            as_ingredient(start, load)
    with pytest.raises(BadInput, match="b > c > a > b"):
        expand(saved({"@b": 5.0}), load)


def test_deep_and_wide() -> None:
    """Fifty recipes deep works; 150 deep, or two recipes more at each level, is refused."""
    deep = {f"r{i}": saved({f"@r{i + 1}": 10.0, "salt": 1.0}) for i in range(150)}
    deep["r150"] = saved({"sugar": 10.0})
    found = expand(deep["r100"], shelf(**deep))
    assert len(found.parts) == 51
    with pytest.raises(BadInput, match="deep"):
        expand(deep["r0"], shelf(**deep))
    wide = {
        f"w{i}": saved({f"@w{i + 1}": 10.0, f"@v{i + 1}": 10.0, "salt": 1.0}) for i in range(30)
    }
    wide |= {f"v{i}": saved({f"@w{i + 1}": 10.0}) for i in range(29)}
    wide |= {"w30": saved({"salt": 1.0}), "v29": saved({"salt": 1.0}), "v30": saved({"salt": 1.0})}
    with pytest.raises(BadInput, match="over 20000 parts"):
        expand(wide["w0"], shelf(**wide))


def test_fixed_ratio_is_the_blend_of_its_parts() -> None:
    load = shelf(spice_mix=SPICE_MIX, inner=saved({"@spice mix": 50.0, "plums": 50.0}))
    found = as_ingredient("inner", load)
    parts = expand(load.recipe("inner"), load).parts
    blend = np.array([p.grams for p in parts]) @ matrix([p.ingredient for p in parts]) / 100.0
    keep = np.arange(len(blend)) != INDEX["strong_ion_charge"]
    assert filled(found.values)[keep] == pytest.approx(blend[keep])
    assert found.note.startswith("The finished sauce")


def test_evidence_bands_and_allergens(catalogue: Catalogue) -> None:
    load = shelf(mix=saved({"soy sauce": 50.0, "tahini": 50.0, "lime juice": 20.0}))
    found = as_ingredient("mix", load)
    assert {"soybean", "wheat", "sesame"} <= set(found.allergens)
    lime = catalogue.by_key["09160"]
    assert not np.isnan(lime.high[INDEX["citric"]])
    for component in ("citric", "malic"):
        i = INDEX[component]
        assert found.low[i] <= found.values[i] <= found.high[i]
    unknown = next(
        i
        for i in range(len(found.values))
        if found.evidence[i] is Evidence.ASSUMED and i != INDEX["strong_ion_charge"]
    )
    assert not np.isnan(found.values[unknown])


def test_composite_in_a_sauce_is_the_sauce_made_of_its_parts(catalogue: Catalogue) -> None:
    """Levels of a cold sauce with the mix in it equal those with the mix written out."""
    load = shelf(spice_mix=SPICE_MIX)
    request = {
        "ingredients": [
            {"name": "spice mix", "recipe": "spice mix", "draft_g": 10.0},
            {"name": "fennel seed", "draft_g": 1.1},
            {"name": "tomatoes", "draft_g": 500.0},
        ],
        "target": {"salt": 1.0},
    }
    out = opened(request, load)
    drafts = {e["name"]: e["draft_g"] for e in out["ingredients"]}
    assert drafts == pytest.approx(
        {"fennel seed": 4.1, "cumin": 2.0, "salt": 5.0, "tomatoes": 500.0}
    )
    locked = [{"name": n, "locked_g": g} for n, g in drafts.items()]
    written_out = problem_from({"ingredients": locked}, catalogue)
    levels = outcome_of({}, written_out).solution.levels
    mix = as_ingredient("spice mix", load)
    used = {u.label: u.ingredient for u in written_out.uses}
    rows = matrix([mix, used["fennel seed"], used["tomatoes"]])
    made = levels_of(np.array([10.0, 1.1, 500.0]) @ rows / 511.1)
    assert made == pytest.approx(levels, rel=1e-5, abs=1e-7)


def test_reduced_composite_has_the_levels_of_its_own_solution(catalogue: Catalogue) -> None:
    """What the solver says of a simmered sauce is what it brings as an ingredient."""
    grams = {"tomatoes": 600.0, "cider vinegar": 80.0, "sugar": 60.0, "fennel seed": 4.0}
    request = {
        "ingredients": [{"name": n, "locked_g": g} for n, g in grams.items()],
        "water_lost_g": 200.0,
    }
    outcome = outcome_of(request, problem_from(request, catalogue))
    document = {"request": request, "answer": outcome.answer}
    found = as_ingredient("ketchup base", shelf(ketchup_base=document))
    assert levels_of(filled(found.values)) == pytest.approx(outcome.solution.levels, rel=1e-4)


def test_opening_up_needs_a_weight_and_keeps_strengths() -> None:
    strong = saved({"distilled vinegar": 100.0}, strength={"acetic_pct": 10.0})
    request = {"ingredients": [{"name": "sour base", "recipe": "strong", "locked_g": 50.0}]}
    (entry,) = opened(request, shelf(strong=strong))["ingredients"]
    assert entry == {
        "name": "distilled vinegar",
        "draft_g": 50.0,
        "strength": {"acetic_pct": 10.0},
    }
    without = {"ingredients": [{"name": "sour base", "recipe": "strong"}]}
    with pytest.raises(BadInput, match="Give draft_g"):
        opened(without, shelf(strong=strong))


@pytest.mark.parametrize(
    "document",
    [
        {},
        {"request": {"ingredients": []}, "answer": {"quantities_g": {}, "final_mass_g": 1}},
        {"request": {"ingredients": [{"name": "salt"}]}, "answer": {"quantities_g": {}}},
        {
            "request": {"ingredients": [{"name": "salt"}]},
            "answer": {"quantities_g": {"salt": -1.0}, "final_mass_g": 5},
        },
        {
            "request": {"ingredients": [{"name": "salt"}]},
            "answer": {"quantities_g": {"salt": 1.0}, "final_mass_g": 0},
        },
        {"request": None, "answer": 3},
    ],
)
def test_damaged_recipes(document: dict[str, Any]) -> None:
    with pytest.raises(BadInput, match="Solve it again"):
        expand(document, shelf())


def test_missing_recipe() -> None:
    with pytest.raises(NotSaved):
        expand(saved({"@nowhere": 1.0}), shelf())


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(0.5, 500.0), min_size=3, max_size=3),
    st.floats(0.1, 400.0),
    st.floats(0.5, 20.0),
)
def test_mass_is_conserved_and_scales(amounts: list[float], inner_g: float, scale: float) -> None:
    mix = saved(dict(zip(("plums", "sugar", "lime juice"), amounts, strict=True)))
    sauce = saved({"@mix": inner_g, "plums": 10.0})
    larger = saved({"@mix": inner_g * scale, "plums": 10.0 * scale})
    one, more = (expand(s, shelf(mix=mix)) for s in (sauce, larger))
    assert sum(p.grams for p in one.parts) == pytest.approx(inner_g + 10.0)
    assert [p.grams * scale for p in one.parts] == pytest.approx([p.grams for p in more.parts])
