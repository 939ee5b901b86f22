"""What leaves the kitchen, from a request with its answer: nothing has to be saved first."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from balancer import handover
from balancer.catalogue import Catalogue
from balancer.choices import Style
from balancer.cli import main
from balancer.demo import house_sauces
from balancer.draft_lines import Kind
from balancer.errors import BadInput
from balancer.export import FORMATS, Options, export, read_record
from balancer.handover import Batch, Size
from balancer.kitchen import Kitchen
from balancer.nutrition import Order
from balancer.outcome import Outcome
from balancer.shopping import Pack
from balancer.taste import to_z

DIP = house_sauces()["plum-ginger-dip"]


@pytest.fixture(scope="module")
def kitchen(catalogue: Catalogue, tmp_path_factory: pytest.TempPathFactory) -> Kitchen:
    return Kitchen(catalogue, tmp_path_factory.mktemp("book") / "book.sqlite")


@pytest.fixture(scope="module", params=sorted(house_sauces()))
def outcome(kitchen: Kitchen, request: pytest.FixtureRequest) -> Outcome:
    return kitchen.solve(house_sauces()[request.param])


@pytest.fixture(scope="module")
def dip(kitchen: Kitchen) -> Outcome:
    return kitchen.solve(DIP)


# --- measures -----------------------------------------------------------------------------------
@pytest.mark.parametrize("style", list(Style))
def test_a_sauce_made_by_its_measures_is_as_it_was_told(
    kitchen: Kitchen, outcome: Outcome, style: Style
) -> None:
    """The rounded sauce, solved anew with every weight locked, has the levels that were told.

    Within what steam carries off: solving counts its acid again for the weights as they are.
    """
    found = handover.measured(kitchen.catalogue, outcome, style)
    made = handover.as_measured(kitchen.catalogue, outcome, found)
    for use, choice in zip(found.problem.uses, found.chosen, strict=True):
        weighed = 0.0 if choice is None else choice.grams
        assert made.answer["quantities_g"][use.label] == pytest.approx(weighed, rel=1e-5, abs=1e-4)
    assert made.answer["final_mass_g"] == pytest.approx(found.mass_g, rel=1e-5)
    assert to_z(made.solution.levels) == pytest.approx(to_z(found.levels), abs=0.02)
    moved = np.abs(to_z(found.levels) - to_z(found.wanted_levels))
    assert moved.max() < 0.5


def test_the_recipe_says_the_measures_that_were_chosen(kitchen: Kitchen, dip: Outcome) -> None:
    found = handover.measured(kitchen.catalogue, dip, Style.US)
    recipe = kitchen.measured_recipe("dip", dip, found, Style.US, serving_g=30.0)
    said = {u.label: c for u, c in zip(found.problem.uses, found.chosen, strict=True) if c}
    for line in recipe.lines:
        assert line.grams == pytest.approx(said[line.name].grams, abs=1e-4)
        if said[line.name].kind in ("spoon", "item"):
            assert line.measure == said[line.name].text
    assert [panel.order for panel in recipe.nutrition] == list(Order)
    assert all(row.per_serving for row in recipe.nutrition[0].rows)
    metric = kitchen.measured_recipe("dip", dip, handover.measured(kitchen.catalogue, dip))
    assert not [line.measure for line in metric.lines if "cup" in line.measure]
    for form in FORMATS:
        assert export(recipe, form, Options(nutrition="both")).content


def test_how_far_measures_move_the_balance_is_said_in_words(kitchen: Kitchen, dip: Outcome) -> None:
    found = kitchen.measures(dip.document, dip.answer, Style.WEIGHT, 1.0)
    said = handover.rounding_words(found)
    assert f"{found.largest_jnd:.2f} JND" in said
    assert "less than a tongue can tell" in said
    assert any("finer scale" in note for note in handover.measuring_notes(found))
    fine = kitchen.measures(dip.document, dip.answer, Style.WEIGHT, 0.1)
    assert fine.largest_jnd < found.largest_jnd
    with pytest.raises(BadInput, match=r"steps of 0\.2 g"):
        kitchen.measures(dip.document, dip.answer, Style.METRIC, 0.2)


# --- sizes --------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("size", "factor"),
    [
        (Size(yield_g=1500.0), 3.0),
        (Size(servings=40, serving_g=25.0), 2.0),
        (Size(stock_g={"Plums ": 174.0}), 0.5),
    ],
)
def test_every_way_to_a_size_keeps_the_proportions(
    kitchen: Kitchen, dip: Outcome, size: Size, factor: float
) -> None:
    found = kitchen.resized(dip.document, dip.answer, size)
    assert found.scaled.factor == pytest.approx(factor, rel=0.01)
    for name, grams in dip.answer["quantities_g"].items():
        assert found.outcome.answer["quantities_g"][name] == pytest.approx(
            grams * found.scaled.factor, rel=1e-3, abs=1e-3
        )
    assert found.outcome.answer["final_mass_g"] == pytest.approx(
        dip.answer["final_mass_g"] * found.scaled.factor, rel=1e-4
    )
    assert found.sentences


def test_jars_and_pans_go_by_volume(kitchen: Kitchen, dip: Outcome) -> None:
    jars = kitchen.resized(dip.document, dip.answer, Size(jars=6, jar_ml=150.0))
    assert jars.outcome.answer["final_volume_ml"] == pytest.approx(900.0, rel=1e-3)
    pan = kitchen.resized(dip.document, dip.answer, Size(pan_ml=3000.0))
    answer = pan.outcome.answer
    start_ml = answer["final_volume_ml"] + pan.scaled.water_lost_g
    assert start_ml == pytest.approx(2000.0, rel=1e-3)  # two thirds of the pan
    assert any("not proportional" in note for note in pan.sentences)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({}, "Say one size"),
        ({"yield_g": 1.0, "pan_ml": 2.0}, "Say one size"),
        ({"servings": 3.0}, "size of a serving is missing"),
        ({"jars": 3.0}, "size of a jar is missing"),
    ],
)
def test_a_size_is_said_one_way(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        Size(**fields)


@pytest.mark.parametrize(
    ("size", "says"),
    [
        (Size(yield_g=0.0), "yield is 0 g"),
        (Size(yield_g=float("nan")), "yield is nan"),
        (Size(servings=-2, serving_g=30.0), "number of servings is -2"),
        (Size(stock_g={"mace": 3.0}), "'mace' is not in this sauce"),
        (Size(yield_g=1e9), "times the old one"),
    ],
)
def test_a_size_that_cannot_be_meant_is_refused(
    kitchen: Kitchen, dip: Outcome, size: Size, says: str
) -> None:
    with pytest.raises(BadInput, match=says):
        kitchen.resized(dip.document, dip.answer, size)


# --- shopping and nutrition ---------------------------------------------------------------------
def test_shopping_adds_up_sauces_in_hand(kitchen: Kitchen, dip: Outcome) -> None:
    own = {"request": DIP, "answer": dip.answer}
    chutney = kitchen.solve(house_sauces()["pineapple-mustard-chutney"])
    other = {"request": dict(chutney.document), "answer": chutney.answer}
    packs = {"plums": Pack(3.2, 1000.0)}
    found = kitchen.shopping(
        [Batch("dip", own, 2.0), Batch("chutney", other)], have_g={"salt": 5.0}, packs=packs
    )
    salt = next(i for i in found.items if i.name == "salt")
    wanted = 2 * dip.answer["quantities_g"]["salt"] + chutney.answer["quantities_g"]["salt"]
    assert salt.edible_g == pytest.approx(wanted)
    assert salt.buy_g == pytest.approx(wanted - 5.0)
    assert found.made_g["dip"] == pytest.approx(1000.0, rel=1e-4)
    # SR28: 6 % of a plum is refuse
    plums = 2 * dip.answer["quantities_g"]["plums"] / 0.94
    assert found.used_by_recipe["dip"] == pytest.approx(plums * 3.2 / 1000.0, rel=1e-6)
    with pytest.raises(BadInput, match="nothing to buy for"):
        kitchen.shopping([])
    with pytest.raises(BadInput, match="wanted 0 times"):
        kitchen.shopping([Batch("dip", own, 0.0)])


def test_nutrition_is_of_the_answer_that_is_given(kitchen: Kitchen, dip: Outcome) -> None:
    found = kitchen.nutrition(dip.document, dip.answer)
    sodium_mg = dip.answer["profile"]["salt"]["reached"] / 2.5421 * 1000.0
    assert found.sodium_mg == pytest.approx(sodium_mg, rel=1e-4)
    assert [p.order for p in found.panels(30.0)] == [Order.US, Order.EU]


# --- brought in ---------------------------------------------------------------------------------
def test_our_record_comes_back_whole(kitchen: Kitchen, dip: Outcome) -> None:
    document = {"request": dict(DIP), "answer": dip.answer}
    written = export(kitchen.recipe_of("dip", document), "json").content
    found = kitchen.brought(written)
    assert found.record is not None
    assert found.name == "dip"
    assert found.request() == {**DIP, "name": "dip"}
    again = kitchen.solve(found.request("dip again"))
    assert again.answer["quantities_g"] == dip.answer["quantities_g"]


def test_a_page_comes_back_as_a_draft_and_says_what_it_could_not_read(
    kitchen: Kitchen, dip: Outcome
) -> None:
    document = {"request": dict(DIP), "answer": dip.answer}
    page = export(kitchen.recipe_of("dip", document), "html").content.decode()
    found = kitchen.brought(page)
    assert found.record is None
    assert found.draft is not None
    assert {line.kind for line in found.draft.lines} == {Kind.READ}
    grams = {e["name"]: e["draft_g"] for e in found.request()["ingredients"]}
    for name, wanted in dip.answer["quantities_g"].items():
        assert grams[name] == pytest.approx(wanted, abs=0.51)
    lines = ["400 g plums", "a handful of moonlight"]
    strange = json.dumps({"@type": "Recipe", "name": "x", "recipeIngredient": lines})
    found = kitchen.brought(strange)
    assert found.draft is not None
    assert any("moonlight" in sentence for sentence in found.draft.report())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no recipe as linked data"),
        ("[" * 100_000, "nested deeper"),
        ('{"format": "balancer recipe", "version": 99}', "of version 99"),
        ("<html><p>nothing</p></html>", "no recipe as linked data"),
        ("x" * 50_000_001, "50 MB"),
        (b"\xff\xfe", "not text in UTF-8"),
    ],
    ids=["empty", "deep", "later", "plain page", "large", "no text"],
)
def test_what_is_no_recipe_is_refused(kitchen: Kitchen, text: str | bytes, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        kitchen.brought(text)


# --- the commands are thin ----------------------------------------------------------------------
def test_commands_tell_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    place = Kitchen()
    place.save("dip", place.solve(DIP))
    place.taste("dip", "less sour", keep_plan=False)
    run = CliRunner()

    def call(*words: str) -> str:
        return run.invoke(main, list(words), catch_exceptions=False).output

    shown = call("export", "dip", "--as", "markdown", "--nutrition", "both", "--tasted-by", "Cook")
    assert "## Nutrition in the US form" in shown
    assert "## Nutrition in the EU form" in shown
    assert "round 1, by Cook." in shown
    assert "No pH is published for star anise" in shown
    assert "## Nutrition" not in call("export", "dip", "--nutrition", "none")
    out = tmp_path / "dip.json"
    call("export", "dip", "--as", "json", "--to", str(out), "--tasted-by", "Cook")
    assert read_record(out.read_bytes()).tasted.endswith("round 1, by Cook")
    assert "Kept as 'second', revision 1." in call("bring", str(out), "--save", "second")
    page = tmp_path / "page.html"
    call("export", "dip", "--as", "html", "--to", str(page))
    request = tmp_path / "request.json"
    assert "plums" in call("bring", str(page), "--to", str(request))
    assert json.loads(request.read_text("utf-8"))["name"] == "dip"
    assert "image" not in call("export", "dip", "--as", "jsonld")
    shown = call("export", "dip", "--as", "jsonld", "--image", "https://example.org/dip.jpg")
    assert json.loads(shown)["image"] == "https://example.org/dip.jpg"
    refused = run.invoke(main, ["export", "dip", "--nutrition", "uk"])
    assert refused.exit_code == 2
    assert "'uk'" in refused.output
